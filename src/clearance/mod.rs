//! Gaps between parts: exact where they are reported, certified where the guard relies on them.
//!
//! One walk serves every pair of surfaces. Elements are points, segments or triangles, so all
//! distances are closed forms (`distance.rs`); both trees are walked at once with a cutoff
//! ([`PairWalk`]). A lower bound is never taken from the closest points found: it is the width of a
//! slab between two parallel planes that part the elements, checked corner by corner. Should a
//! distance formula ever fail, the slab is narrower and the cell is split; a gap is never invented.
//!
//! Reads: surfaces and their relative placement. Produces: gaps with points; proofs that a gap stays
//! above a level over a cell. Next: [`crate::sweep`].

mod cell_proof;
mod distance;
mod overlap;
mod pair_walk;
mod proved_clear;
mod second_look;
mod watched_pair;

pub use cell_proof::{CellProof, GapOverCell, Trend};
pub use distance::{Closest, closest_elements, closest_segments, slab_width};
pub use overlap::is_inside;
pub use pair_walk::{Gap, PairWalk, Relative};
pub use proved_clear::{Clear, ClearQuestion, ProvedClear};
pub use second_look::{Drawn, SecondGap, second_gap};
pub use watched_pair::{Part, WatchedPair, placement};
