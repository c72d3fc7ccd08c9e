//! What a bump stop beside the damper remembers of the damper that it came to. No file says it, so it is no page of the
//! schema.

use super::types::{Brackets, Damper, Foot, Point};

/// A damper's eyes, as the damper that is there gives them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DamperEyes {
    /// The eye on the frame, as drawn.
    pub upper: Point,
    /// How far brackets have lowered that eye.
    pub lowered: f64,
    /// The lower eye, as drawn on its body.
    pub lower: Point,
    /// The body that carries it.
    pub lower_on: Foot,
}

impl DamperEyes {
    /// Those of a damper under some brackets.
    pub fn of(damper: &Damper, brackets: &Brackets) -> DamperEyes {
        DamperEyes {
            upper: damper.upper_mount,
            lowered: brackets.damper,
            lower: damper.lower_mount,
            lower_on: damper.lower_mount_on,
        }
    }
}
