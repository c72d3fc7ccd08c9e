//! Solids of revolution: a closed outline turned about an axis.
//!
//! Facets are inscribed: corners lie on the true circles, so between corners the true surface stands
//! at most r (1 - cos(pi / n)) off. That error is kept below a named tolerance by choosing n, and the
//! gaps subtract it, so a facetted cup never reports more room than the true one has.

use super::ShapeError;
use super::surface::{Element, ElementKind, Round, Surface};
use nalgebra::{Matrix3, Rotation3, Vector3};

/// Facet error aimed at for lathe shapes, mm: a tenth of the travel tolerance, for joint housings.
const LATHE_ERROR_MM: f64 = 1.0e-3;
/// Radius above which it grows by `LATHE_ERROR_SHARE` of the rest: a tyre needs no such facets.
const FINE_RADIUS_MM: f64 = 60.0;
/// See `FINE_RADIUS_MM`.
const LATHE_ERROR_SHARE: f64 = 1.0e-4;
/// Facet error of plain cylinders and cones, mm.
pub(super) const CONE_ERROR_MM: f64 = 0.02;
/// Facet error of exported balls and capsules, mm.
const EXPORT_FACET_MM: f64 = 0.02;

pub(super) fn segments_for(radius: f64, error: f64) -> usize {
    let n = std::f64::consts::PI / (1.0 - (error / radius).min(0.5)).acos();
    (n.ceil() as usize).clamp(12, 2048)
}

/// A rotation whose third column points along `direction`.
pub(super) fn frame_along(direction: &Vector3<f64>) -> Matrix3<f64> {
    let axis = direction.normalize();
    match Rotation3::rotation_between(&Vector3::z(), &axis) {
        Some(rotation) => rotation.into_inner(),
        // Straight down: half a turn about x.
        None => Matrix3::from_diagonal(&Vector3::new(1.0, -1.0, -1.0)),
    }
}

/// Turns `profile`, corners (along, radius), about the line from `from` along `axis`; with a facet
/// error of one's own choosing, or by the rule above.
pub(super) fn lathe(
    from: Vector3<f64>,
    axis: Vector3<f64>,
    profile: &[[f64; 2]],
    error_mm: Option<f64>,
) -> Result<Surface, ShapeError> {
    if axis.norm() <= 0.0 {
        return Err(ShapeError::NoLength);
    }
    let area: f64 = profile
        .iter()
        .zip(profile.iter().cycle().skip(1))
        .map(|(a, b)| a[0] * b[1] - b[0] * a[1])
        .sum();
    let good = |c: &[f64; 2]| c[0].is_finite() && c[1].is_finite() && c[1] >= 0.0;
    if profile.len() < 3 || !profile.iter().all(good) || area == 0.0 {
        return Err(ShapeError::BadProfile);
    }
    if crosses_itself(profile) {
        return Err(ShapeError::CrossingProfile);
    }
    let widest = profile.iter().map(|c| c[1]).fold(0.0, f64::max);
    if widest <= 0.0 {
        return Err(ShapeError::BadProfile);
    }
    let error =
        error_mm.unwrap_or(LATHE_ERROR_MM + LATHE_ERROR_SHARE * (widest - FINE_RADIUS_MM).max(0.0));
    let n = segments_for(widest, error);
    // Counter-clockwise outlines in (along, radius) give outward normals with this winding.
    let corners: Vec<[f64; 2]> = if area > 0.0 {
        profile.to_vec()
    } else {
        profile.iter().rev().copied().collect()
    };
    let (vertices, elements) = turn_outline(&corners, n);
    let facet_error = widest * (1.0 - (std::f64::consts::PI / n as f64).cos());
    Ok(Surface::new(
        frame_along(&axis),
        from,
        vertices,
        elements,
        ElementKind::Triangle,
        true,
    )
    .facetted(facet_error)
    .rounded(Some(Round {
        outline: corners,
        error_mm: 0.0,
    })))
}

/// Whether two sides of a closed outline that don't share a corner cross.
pub(super) fn crosses_itself(profile: &[[f64; 2]]) -> bool {
    let n = profile.len();
    let turn = |a: [f64; 2], b: [f64; 2], c: [f64; 2]| {
        (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
    };
    (0..n).any(|i| {
        let (a, b) = (profile[i], profile[(i + 1) % n]);
        (i + 2..n).filter(|j| (j + 1) % n != i).any(|j| {
            let (c, d) = (profile[j], profile[(j + 1) % n]);
            turn(a, b, c) * turn(a, b, d) < 0.0 && turn(c, d, a) * turn(c, d, b) < 0.0
        })
    })
}

pub(super) fn turn_outline(corners: &[[f64; 2]], n: usize) -> (Vec<Vector3<f64>>, Vec<Element>) {
    let mut vertices = Vec::new();
    // First vertex of each ring; a corner on the axis is one vertex.
    let mut rings = Vec::with_capacity(corners.len());
    for [along, radius] in corners {
        rings.push((vertices.len() as u32, *radius > 0.0));
        if *radius > 0.0 {
            for i in 0..n {
                let angle = 2.0 * std::f64::consts::PI * i as f64 / n as f64;
                let (sin, cos) = angle.sin_cos();
                vertices.push(Vector3::new(radius * cos, radius * sin, *along));
            }
        } else {
            vertices.push(Vector3::new(0.0, 0.0, *along));
        }
    }
    let mut elements = Vec::new();
    for (k, (start, ring)) in rings.iter().enumerate() {
        let (next, next_ring) = rings[(k + 1) % rings.len()];
        let at = |first: u32, ring: bool, i: usize| first + if ring { (i % n) as u32 } else { 0 };
        let flat = corners[k][0] == corners[(k + 1) % corners.len()][0];
        if flat && *ring != next_ring {
            // A flat end: cut into large middle triangles and small ones at the rim, which the tree
            // can tell apart, instead of a fan that all meets in the middle.
            let rim = if *ring { *start } else { next };
            cut_disc(rim, 0, n, n, *ring, &mut elements);
            continue;
        }
        for i in 0..n {
            let a = at(*start, *ring, i);
            let b = at(*start, *ring, i + 1);
            let c = at(next, next_ring, i);
            let d = at(next, next_ring, i + 1);
            if *ring {
                elements.push([a, c, b]);
            }
            if next_ring {
                elements.push([b, c, d]);
            }
        }
    }
    (vertices, elements)
}

/// Triangles of the polygon with corners `rim + from .. rim + to`, by halving.
fn cut_disc(rim: u32, from: usize, to: usize, n: usize, outward: bool, out: &mut Vec<Element>) {
    if to - from < 2 {
        return;
    }
    let middle = (from + to) / 2;
    let corner = |i: usize| rim + (i % n) as u32;
    let (a, b, c) = (corner(from), corner(middle), corner(to));
    if to - from < n {
        out.push(if outward { [a, c, b] } else { [a, b, c] });
    }
    cut_disc(rim, from, middle, n, outward, out);
    cut_disc(rim, middle, to, n, outward, out);
}

/// Triangles of a capsule (or ball, where both ends meet), for export.
pub(super) fn capsule_triangles(
    from: Vector3<f64>,
    to: Vector3<f64>,
    radius: f64,
) -> Vec<[Vector3<f64>; 3]> {
    let length = (to - from).norm();
    let n = segments_for(radius, EXPORT_FACET_MM).min(256);
    let quarter = n.div_ceil(4).max(3);
    let mut corners = Vec::new();
    let arc = |middle: f64, first: f64| {
        (0..=quarter).map(move |i| {
            let angle = (first + 90.0 * i as f64 / quarter as f64).to_radians();
            [
                middle + radius * angle.cos(),
                (radius * angle.sin()).max(0.0),
            ]
        })
    };
    corners.extend(arc(length, 0.0));
    corners.extend(arc(0.0, 90.0));
    corners.dedup_by(|a, b| (a[0] - b[0]).abs() + (a[1] - b[1]).abs() < 1.0e-9);
    for corner in &mut corners {
        if corner[1] < 1.0e-9 {
            corner[1] = 0.0;
        }
    }
    let axis = if length > 0.0 {
        to - from
    } else {
        Vector3::z()
    };
    let rotation = frame_along(&axis);
    let (vertices, elements) = turn_outline(&corners, n);
    elements
        .iter()
        .map(|e| e.map(|i| from + rotation * vertices[i as usize]))
        .collect()
}
