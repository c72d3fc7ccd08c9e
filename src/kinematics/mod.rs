//! From wheel travel and rack position to the pose of every body, with wheel angles and motion bounds.
//!
//! Reads: a [`Mechanism`](crate::suspension::Mechanism). Produces: [`Position`]s by travel,
//! [`WheelAngles`], exact derivatives, and the proved [`RateField`] of one shape seen from another.
//! Next: [`crate::limits`].

mod enclosed_linkage;
mod motion_bound;
mod position;
mod wheel_angles;

pub use enclosed_linkage::{EnclosedLinkage, EnclosedLinkages};
pub use motion_bound::{
    AlongNormal, CellField, LEAST_HALF, RateField, RelativeBend, ShapePlacement, bending,
};
pub use position::{HEIGHT_TOLERANCE_MM, Position, Positioner, ReachError, arm_at_damper_length};
pub use wheel_angles::{WheelAngles, wheel_angles};
