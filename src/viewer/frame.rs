//! Vehicle coordinates and the renderer's: the one place where they meet.
//!
//! Vehicle (ISO 8855): x forward, y left, z up, millimetres. Renderer: x right, y up, z rearward, metres.
//! Everything that moves with the truck hangs below one root entity that carries this change.

use crate::suspension::Placement;
use bevy::prelude::*;
use nalgebra::{Matrix3, Vector3};

/// Metres in a millimetre.
pub const METRE_PER_MM: f32 = 1.0e-3;

/// The root's transform: world (renderer) from vehicle millimetres.
pub fn world_from_vehicle() -> Transform {
    Transform {
        translation: Vec3::ZERO,
        rotation: rotation(),
        scale: Vec3::splat(METRE_PER_MM),
    }
}

fn rotation() -> Quat {
    Quat::from_mat3(&Mat3::from_cols(Vec3::NEG_Z, Vec3::NEG_X, Vec3::Y))
}

/// A vehicle point, mm, in the renderer's world.
pub fn world(point: &Vector3<f64>) -> Vec3 {
    world_from_vehicle().transform_point(vec3(point))
}

/// A vehicle direction in the renderer's world.
pub fn world_direction(direction: &Vector3<f64>) -> Vec3 {
    rotation() * vec3(direction)
}

/// A world point in vehicle millimetres.
pub fn vehicle(point: Vec3) -> Vector3<f64> {
    let p = rotation().inverse() * (point / METRE_PER_MM);
    Vector3::new(p.x.into(), p.y.into(), p.z.into())
}

/// A vector as the renderer stores it.
pub fn vec3(v: &Vector3<f64>) -> Vec3 {
    Vec3::new(v.x as f32, v.y as f32, v.z as f32)
}

/// Three numbers from the findings as a vector.
pub fn vector(p: [f64; 3]) -> Vector3<f64> {
    Vector3::from(p)
}

/// A body's placement as a transform below the root, for meshes in body coordinates.
pub fn transform(placement: &Placement<f64>) -> Transform {
    let r: &Matrix3<f64> = &placement.rotation;
    let columns = [0, 1, 2].map(|i| vec3(&r.column(i).into_owned()));
    Transform {
        translation: vec3(&placement.offset()),
        rotation: Quat::from_mat3(&Mat3::from_cols(columns[0], columns[1], columns[2])),
        scale: Vec3::ONE,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn forward_left_and_up_go_where_the_renderer_expects_them() {
        let at = |x, y, z| world(&Vector3::new(x, y, z));
        assert!((at(1000.0, 0.0, 0.0) - Vec3::NEG_Z).length() < 1.0e-6);
        assert!((at(0.0, 1000.0, 0.0) - Vec3::NEG_X).length() < 1.0e-6);
        assert!((at(0.0, 0.0, 1000.0) - Vec3::Y).length() < 1.0e-6);
        let p = Vector3::new(12.5, -700.0, 431.0);
        assert!((vehicle(world(&p)) - p).norm() < 1.0e-3);
    }
}
