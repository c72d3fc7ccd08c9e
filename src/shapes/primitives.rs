//! Ball, capsule, cone, box, hull and mesh as surfaces.

use super::ShapeError;
use super::lathe::{CONE_ERROR_MM, frame_along, lathe};
use super::mesh_edges::Edges;
use super::surface::{ElementKind, Surface};
use nalgebra::{Matrix3, Rotation3, Vector3};

type Made = Result<Surface, ShapeError>;

fn positive(value: f64, name: &'static str) -> Result<f64, ShapeError> {
    if value.is_finite() && value > 0.0 {
        Ok(value)
    } else {
        Err(ShapeError::NotPositive(name))
    }
}

pub(super) fn ball(centre: Vector3<f64>, radius: f64) -> Made {
    let radius = positive(radius, "radius")?;
    let points = vec![Vector3::zeros()];
    let elements = vec![[0, 0, 0]];
    Ok(Surface::new(
        Matrix3::identity(),
        centre,
        points,
        elements,
        ElementKind::Point,
        true,
    )
    .thickened(radius))
}

pub(super) fn capsule(from: Vector3<f64>, to: Vector3<f64>, radius: f64) -> Made {
    let radius = positive(radius, "radius")?;
    let length = (to - from).norm();
    if length <= 0.0 {
        return Err(ShapeError::NoLength);
    }
    let points = vec![Vector3::zeros(), Vector3::new(0.0, 0.0, length)];
    let elements = vec![[0, 1, 1]];
    Ok(Surface::new(
        frame_along(&(to - from)),
        from,
        points,
        elements,
        ElementKind::Segment,
        true,
    )
    .thickened(radius))
}

pub(super) fn cone(
    from: Vector3<f64>,
    to: Vector3<f64>,
    r0: f64,
    r1: f64,
    facet_error_mm: Option<f64>,
) -> Made {
    let length = (to - from).norm();
    if length <= 0.0 {
        return Err(ShapeError::NoLength);
    }
    if !(r0 >= 0.0 && r1 >= 0.0) {
        return Err(ShapeError::NotPositive("radius"));
    }
    positive(r0.max(r1), "radius")?;
    let profile = [[0.0, 0.0], [length, 0.0], [length, r1], [0.0, r0]];
    lathe(
        from,
        to - from,
        &profile,
        facet_error_mm.or(Some(CONE_ERROR_MM)),
    )
}

pub(super) fn cuboid(centre: Vector3<f64>, size: Vector3<f64>, turned: Vector3<f64>) -> Made {
    for length in size.iter() {
        positive(*length, "box size")?;
    }
    let rotation = Rotation3::from_euler_angles(turned.x, turned.y, turned.z).into_inner();
    let h = size * 0.5;
    let vertices: Vec<Vector3<f64>> = (0..8)
        .map(|i| {
            let sign = |bit: usize| if i & bit == 0 { -1.0 } else { 1.0 };
            Vector3::new(h.x * sign(1), h.y * sign(2), h.z * sign(4))
        })
        .collect();
    let quads = [
        [0, 4, 6, 2],
        [1, 3, 7, 5],
        [0, 1, 5, 4],
        [2, 6, 7, 3],
        [0, 2, 3, 1],
        [4, 5, 7, 6],
    ];
    let elements = quads
        .iter()
        .flat_map(|q| [[q[0], q[1], q[2]], [q[0], q[2], q[3]]])
        .collect();
    Ok(Surface::new(
        rotation,
        centre,
        vertices,
        elements,
        ElementKind::Triangle,
        true,
    ))
}

/// A hull thinner than this share of its extent counts as flat.
const FLAT_HULL: f64 = 1.0e-6;

pub(super) fn hull(points: &[Vector3<f64>]) -> Made {
    if points.len() < 4 {
        return Err(ShapeError::FlatHull);
    }
    // Does some point leave the plane of the best triangle? parry's hull gives no reason when not.
    let first = points[0];
    let far = |from: &dyn Fn(&Vector3<f64>) -> f64| {
        points
            .iter()
            .max_by(|a, b| from(a).total_cmp(&from(b)))
            .copied()
            .unwrap_or(first)
    };
    let second = far(&|p| (p - first).norm());
    let extent = (second - first).norm();
    let along = (second - first) / extent.max(f64::MIN_POSITIVE);
    let third = far(&|p| (p - first).cross(&along).norm());
    let normal = along.cross(&(third - first));
    let fourth = far(&|p| (p - first).dot(&normal).abs());
    let height = (fourth - first).dot(&normal).abs() / normal.norm().max(f64::MIN_POSITIVE);
    if !(extent > 0.0 && normal.norm() > FLAT_HULL * extent * extent && height > FLAT_HULL * extent)
    {
        return Err(ShapeError::FlatHull);
    }
    let (vertices, triangles) =
        super::parry_bridge::convex_hull(points).ok_or(ShapeError::FlatHull)?;
    mesh(&vertices, &triangles)
}

pub(super) fn mesh(vertices: &[Vector3<f64>], triangles: &[[u32; 3]]) -> Made {
    if triangles.is_empty() {
        return Err(ShapeError::EmptyMesh);
    }
    // Centred, so that coordinates in the shape frame stay small.
    let bounds = super::Bounds::of(triangles.iter().flatten().map(|i| vertices[*i as usize]));
    let local = vertices.iter().map(|v| v - bounds.middle).collect();
    let closed = Edges::of(triangles).closed();
    Ok(Surface::new(
        Matrix3::identity(),
        bounds.middle,
        local,
        triangles.to_vec(),
        ElementKind::Triangle,
        closed,
    ))
}
