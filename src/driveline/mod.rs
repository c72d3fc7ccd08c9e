//! Joints that carry torque: the front driveshaft's angles and speed fluctuation, and how fast the halfshaft's
//! joints slide.
//!
//! * [`FrontDriveshaft`]: joint angles, fluctuation of the pair, from two points and two axes.
//! * [`Sliding`]: sliding speeds in a fixed ball joint and a tripod, and the wear index made of them.
//!
//! Reads: points, axes and angles. Produces: plain numbers. Next: [`crate::truck`] places the shaft,
//! the comparison of setups asks for the rest.

mod front_driveshaft;
mod wear;

pub use front_driveshaft::{FLUCTUATION_LIMIT, FrontDriveshaft};
pub use wear::{HalfshaftJointKind, Sliding};
