//! A scene made into corners: linkage, limits, parts and watched pairs, ready to be asked.
//!
//! Reads: a [`Scene`](crate::scene::Scene). Produces: a [`Truck`] of one or two [`Corner`]s. Units,
//! mirroring and defaults end here: from here on everything is millimetres and radians (degrees where a name ends in `_deg`) in vehicle
//! coordinates. Next: [`crate::sweep`].

mod assemble;
mod boots;
mod common_parts;
mod corner;
mod housing;
mod limits;
mod links;
mod mesh_store;
mod needs;
mod own_side;
mod parts;
mod springs;
mod strut;
mod watch;
mod whole;

pub use assemble::{assemble, assemble_setup, load, load_setup, refit};
pub(crate) use assemble::{blamed_in_setup, needs_of_setup};
pub use corner::{
    Corner, FieldKey, JoinedPair, Overlap, PairCount, RestingPair, RollHeld, Standing,
    StandingLimit, Truck,
};
pub use housing::Housing;
pub use mesh_store::MeshStore;
pub use whole::{TruckObstacle, UnderbodyPart, WheelSpring, WholeTruck};

/// Parts this close touch, mm. A tenth of the travel tolerance, far above rounding.
pub const TOUCH_MM: f64 = 1.0e-3;

/// Whether parts with this gap touch: the one rule, in proofs and in print. A gap has the error of facets taken
/// off already, so it is never more than what is there.
pub fn touches(gap_mm: f64) -> bool {
    gap_mm <= TOUCH_MM
}
