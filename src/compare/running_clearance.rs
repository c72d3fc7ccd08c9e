//! Ground to the lowest point of what the springs carry.

use crate::suspension::{Body, Motion};
use crate::truck::Corner;

/// The lowest point over the ground.
#[derive(Clone, Debug, PartialEq)]
pub struct LowestPoint {
    /// Its height over the ground, mm.
    pub clearance_mm: f64,
    /// The part that it is on.
    pub part: String,
    /// The point, vehicle coordinates, mm.
    pub point_mm: [f64; 3],
}

/// Running clearance at ride height, by the ground under this corner's tyre at its static loaded radius: the
/// distance from the ground to the lowest point of the vehicle except unsprung weight (49 CFR 523.2). Sprung is
/// what is at rest in the frame; arms, knuckle, halfshaft, tie rod and damper are not. None where no part is
/// sprung or ride height can't be reached.
pub fn running_clearance(corner: &Corner) -> Option<LowestPoint> {
    let ride = corner.position(corner.ride_height_mm, 0.0).ok()?;
    let design = &corner.positioner.linkage;
    let spindle = ride
        .linkage
        .knuckle
        .direction(&design.hardpoints.spindle_axis);
    // Down in the wheel's plane, which camber leans.
    let down = (spindle * spindle.z - nalgebra::Vector3::z()).normalize();
    let ground_mm = ride.linkage.wheel_centre.z + down.z * corner.loaded_radius_mm;
    let mut lowest: Option<LowestPoint> = None;
    for part in &corner.parts {
        if part.body.motion() != Motion::Frame || part.body == Body::Wheel {
            continue;
        }
        let surface = &part.surface;
        // Facets of round shapes may lie inside the true surface by the facet error.
        let out_mm = surface.radius_mm + surface.facet_error_mm;
        for i in 0..surface.vertices.len() {
            let p = surface.vertex_in_body(i);
            let clearance_mm = p.z - out_mm - ground_mm;
            if lowest
                .as_ref()
                .is_none_or(|l| clearance_mm < l.clearance_mm)
            {
                lowest = Some(LowestPoint {
                    clearance_mm,
                    part: part.name.clone(),
                    point_mm: [p.x, p.y, p.z - out_mm],
                });
            }
        }
    }
    lowest
}
