//! The truck on the ground: what it clears, and what hits first when it is driven at something.
//!
//! * [`ground_findings`]: running clearance, approach, breakover and departure angle on the real shapes.
//! * [`Course`]: the truck on its way over an obstacle, and how it stands anywhere along it.
//! * [`drive`]: what touches, guarded; [`sizes_driven`]: the same over sizes of the obstacle, smallest first.
//!
//! Reads: a [`Truck`](crate::truck::Truck) with its rear axle. Produces: findings. Next:
//! [`crate::output`].

mod angles;
mod course;
mod drive;
mod mesh_outline;
mod sideways;
mod springing;
mod stance;
mod terrain;
mod travel_bound;
mod tyre_path;
mod vehicle;
mod wheel_parts;

pub use angles::{ground_findings, on_level_ground, running_clearance};
pub use course::{Course, DriveError, Suspension};
pub use drive::{drive, sizes_driven};
pub use springing::{Springing, WheelSuspension};
pub use stance::{Stance, StanceBounds};
pub use terrain::Terrain;
pub use tyre_path::TyrePath;
pub use vehicle::{Carrier, Posture, Vehicle, VehicleError, VehiclePart};
