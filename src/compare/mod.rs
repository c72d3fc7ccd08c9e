//! Setups side by side: what a part buys and what it costs.
//!
//! Every setup is built and swept like any truck; then the same questions are asked of each, and the answers
//! are laid beside those of the first column.
//!
//! * [`compare`]: the whole comparison. * [`largest_tyre`]: the largest tyre that clears.
//!
//! Reads: a [`Scene`](crate::scene::Scene) and names of its setups. Produces:
//! [`Comparison`](crate::findings::Comparison). Next: [`crate::output`].

mod columns;
mod duties;
mod largest_tyre;
mod measures;
mod running_clearance;
mod tyre_surroundings;
mod words;

pub use columns::{Compared, SweptSetup, compare};
pub use largest_tyre::{LargestTyre, TyreLimit, TyreTried, largest_tyre};
pub use running_clearance::{LowestPoint, clearance_over_front_tyre};
pub use words::better_and_worse;
pub(crate) use words::{Verdict, decimals_of, judged, prints_alike, toward};
