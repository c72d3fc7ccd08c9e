//! What a corner's sprung parts clear over the ground under its own tyre: said where no rear axle is given.
//!
//! Running clearance itself is [`crate::ground::running_clearance`]: it takes the whole truck, which stands on four
//! wheels.

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

/// The lowest point of this corner's sprung parts at ride height, over level ground under its own tyre: an upright
/// circle of the static loaded radius, as everywhere else that tyres stand on the ground. No pitch, nothing of the rest
/// of the truck: not running clearance. Sprung is what [`Body::is_sprung`](crate::suspension::Body::is_sprung) says.
/// None where no part is sprung or ride height can't be reached.
pub fn clearance_over_front_tyre(corner: &Corner) -> Option<LowestPoint> {
    let ride = corner.position(corner.ride_height_mm, 0.0).ok()?;
    let ground_mm = ride.linkage.wheel_centre.z - corner.loaded_radius_mm;
    let mut lowest: Option<LowestPoint> = None;
    for part in &corner.parts {
        if !part.body.is_sprung() {
            continue;
        }
        let surface = &part.surface;
        let placement = ride.linkage.placement(part.body.motion());
        for i in 0..surface.vertices.len() {
            let p = placement.point(&surface.vertex_in_body(i));
            let clearance_mm = p.z - surface.reach_mm() - ground_mm;
            if lowest
                .as_ref()
                .is_none_or(|l| clearance_mm < l.clearance_mm)
            {
                lowest = Some(LowestPoint {
                    clearance_mm,
                    part: part.name.clone(),
                    point_mm: [p.x, p.y, p.z - surface.reach_mm()],
                });
            }
        }
    }
    lowest
}
