//! The one place where parry is called and its vectors are converted.
//!
//! parry builds convex hulls here, measures how deep convex parts overlap as drawn, and answers for a
//! second time what is reported: [`ParrySolid`] holds a part in parry's own shapes, and its `gap_to` asks
//! parry how far two of them are apart. The guard's distances are our own (see [`crate::clearance`]).

mod convex;
mod meshes;
mod solid;

pub use solid::{ParryGap, ParrySolid};

use nalgebra::{Matrix3, Vector3};
use parry3d::math::{Matrix, Pose, Rotation, Vector};
use parry3d::query;
use parry3d::shape::ConvexPolyhedron;
use parry3d::transformation::try_convex_hull;

fn to_parry(v: &Vector3<f64>) -> Vector {
    Vector::new(v.x, v.y, v.z)
}

fn to_pose(rotation: &Matrix3<f64>, offset: &Vector3<f64>) -> Pose {
    let column = |i: usize| to_parry(&rotation.column(i).into_owned());
    let turn = Rotation::from_mat3(&Matrix::from_cols(column(0), column(1), column(2)));
    Pose::from_parts(to_parry(offset), turn.normalize())
}

/// Corners, and corner numbers of each triangle.
pub type TriangleList = (Vec<Vector3<f64>>, Vec<[u32; 3]>);

/// Corners and triangles of the convex hull; `None` where parry finds none.
pub fn convex_hull(points: &[Vector3<f64>]) -> Option<TriangleList> {
    let points: Vec<Vector> = points.iter().map(to_parry).collect();
    let (vertices, triangles) = try_convex_hull(&points).ok()?;
    Some((
        vertices
            .iter()
            .map(|v| Vector3::new(v.x, v.y, v.z))
            .collect(),
        triangles,
    ))
}

/// How deep the convex hulls of two point sets overlap, mm; `None` where they don't or where it
/// can't be known.
pub fn hull_overlap_mm(a: &[Vector3<f64>], b: &[Vector3<f64>]) -> Option<f64> {
    let hull = |points: &[Vector3<f64>]| {
        ConvexPolyhedron::from_convex_hull(&points.iter().map(to_parry).collect::<Vec<_>>())
    };
    let here = Pose::IDENTITY;
    let contact = query::contact(&here, &hull(a)?, &here, &hull(b)?, 0.0).ok()??;
    (contact.dist < 0.0).then_some(-contact.dist)
}
