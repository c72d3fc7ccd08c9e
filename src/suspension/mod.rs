//! What the suspension is made of: hardpoints, the bodies they belong to, and the linkage formulas.
//!
//! Reads: hardpoints in vehicle coordinates at the measured position. Produces: a
//! [`Mechanism`] whose [`solve`](Mechanism::solve) places every body for a lower-arm angle
//! and a rack position. Next: [`crate::kinematics`], which asks by wheel travel instead.
//!
//! Body coordinates *are* vehicle coordinates at the measured position, for every body. So a point
//! that a person measured on a part is that part's own coordinate, and every placement is the
//! identity when the truck stands as it was measured, with the parts that it was measured with:
//! [`OwnPoints`] is for parts that were not.

mod bodies;
mod circle;
mod hardpoints;
mod linkage;
mod locks;
mod mechanism;
mod mount_fit;
mod slice_name;
mod strut;
mod tyre_sector;
mod upper_arm;

pub use bodies::{Body, BootRing, CoilSlice, HeldByTwo, Motion, Placement, Side, TwoPointLink};
pub use hardpoints::{
    ArmPoints, DamperFoot, HardpointError, Hardpoints, OwnPoints, ReachLimit, UpperLink,
};
pub use linkage::Linkage;
pub use locks::{Lock, Locks, NEAR_SHARE, Steered};
pub use mechanism::Mechanism;
pub use mount_fit::MountFit;
pub use slice_name::{drawn_part, slice_name};
pub use tyre_sector::TyreSector;
