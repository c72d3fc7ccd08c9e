//! Wheel and steering-axis angles, with the signs of ISO 8855 and the trade.

use super::Position;
use crate::suspension::{Mechanism, Side};
use nalgebra::Vector3;

/// Angles of one wheel at one position. Degrees and millimetres: this is an edge type.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WheelAngles {
    /// Inclination of the wheel plane to the vertical, positive with the top outward.
    pub camber_deg: f64,
    /// The same seen from the front: differs once steered (tan front = tan camber / cos steer).
    pub camber_front_view_deg: f64,
    /// Toe-in positive.
    pub toe_deg: f64,
    /// Heading of the wheel plane seen from above, left positive.
    pub steer_deg: f64,
    /// Side view of the kingpin axis, positive with its top rearward.
    pub caster_deg: f64,
    /// Front view of the kingpin axis, positive with its top inward.
    pub kingpin_inclination_deg: f64,
    /// Kingpin axis to tyre contact centre at the ground, across the wheel plane; positive when the
    /// axis meets the ground inboard.
    pub scrub_radius_mm: f64,
    /// The same along the wheel plane; positive when the axis meets the ground ahead.
    pub caster_trail_mm: f64,
}

/// Computes the angles. `loaded_radius_mm` is the tyre's static loaded radius; it places the ground.
///
/// Signs: ISO 8855:2011 for axes, camber, toe and steer; caster, kingpin inclination, scrub radius and
/// caster trail as the trade uses them (from memory).
pub fn wheel_angles(
    design: &Mechanism,
    position: &Position,
    side: Side,
    loaded_radius_mm: f64,
) -> WheelAngles {
    let outboard = side.outboard();
    let linkage = &position.linkage;
    let spindle = linkage.knuckle.direction(&design.hardpoints.spindle_axis);
    let up = Vector3::z();
    // Horizontal, in the wheel plane, forward.
    let forward = (spindle.cross(&up) * outboard).normalize();
    let steer = forward.y.atan2(forward.x);
    let camber = (-spindle.z).clamp(-1.0, 1.0).asin();
    let kingpin = linkage.kingpin;

    let down = (-up + spindle * spindle.dot(&up)).normalize();
    let contact = linkage.wheel_centre + down * loaded_radius_mm;
    let along = (contact.z - linkage.lower_ball.z) / kingpin.z;
    let from_contact = linkage.lower_ball + kingpin * along - contact;
    let inboard = -Vector3::new(spindle.x, spindle.y, 0.0).normalize();
    WheelAngles {
        camber_deg: camber.to_degrees(),
        camber_front_view_deg: (-spindle.z)
            .atan2((spindle.y * outboard).abs())
            .to_degrees(),
        toe_deg: -steer.to_degrees() * outboard,
        steer_deg: steer.to_degrees(),
        caster_deg: (-kingpin.x).atan2(kingpin.z).to_degrees(),
        kingpin_inclination_deg: (-kingpin.y * outboard).atan2(kingpin.z).to_degrees(),
        scrub_radius_mm: from_contact.dot(&inboard),
        caster_trail_mm: from_contact.dot(&forward),
    }
}

#[cfg(test)]
mod tests {
    /// Trade value (derived): 2 degrees inclined and steered 35 reads 2.441 from the front.
    #[test]
    fn front_view_camber_follows_its_closed_form() {
        let (camber, steer) = (2.0_f64.to_radians(), 35.0_f64.to_radians());
        // A wheel plane inclined by `camber` and headed by `steer`: its spindle.
        let spindle = (
            -steer.sin() * camber.cos(),
            steer.cos() * camber.cos(),
            -camber.sin(),
        );
        let front = (-spindle.2).atan2(spindle.1).to_degrees();
        assert!((front - 2.441).abs() < 5.0e-4, "{front}");
    }
}
