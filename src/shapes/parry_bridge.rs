//! The one place where parry is called and its vectors are converted.
//!
//! parry builds convex hulls here and measures how deep convex parts overlap as drawn. The guard's
//! distances are our own (see [`crate::clearance`]).

use nalgebra::Vector3;
use parry3d::math::{Pose, Vector};
use parry3d::query;
use parry3d::shape::ConvexPolyhedron;
use parry3d::transformation::try_convex_hull;

fn to_parry(v: &Vector3<f64>) -> Vector {
    Vector::new(v.x, v.y, v.z)
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
