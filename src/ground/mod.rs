//! The truck on the ground: what it clears, and what hits first when it is driven at something.
//!
//! * [`ground_findings`]: running clearance, approach, breakover and departure angle on the real shapes.
//! * [`drive`]: over an obstacle, guarded; [`largest_clear`]: the largest such obstacle that clears.
//!
//! Reads: a [`Truck`](crate::truck::Truck) with its rear axle. Produces: findings. Next room:
//! [`crate::output`].

mod angles;
mod drive;
mod stance;
mod terrain;
mod tyre_path;
mod vehicle;

pub use angles::ground_findings;
pub use drive::{DriveError, drive, largest_clear};
pub use stance::{Stance, StanceBounds};
pub use terrain::Terrain;
pub use tyre_path::TyrePath;
pub use vehicle::{Vehicle, VehicleError, VehiclePart};
