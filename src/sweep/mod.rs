//! The sweep: what stops the wheel, in what order, and where metal touches first, with proof.
//!
//! * [`first_contact`]: the first touch over all rack positions, the answer to "what hits first?".
//! * [`stop_order`]: every stop at one rack position, each as if the others were absent.
//! * [`free_travel`]: the free region of travel and rack.
//! * [`tightest_gaps`]: the least gap of each pair over it, proved for the tightest; [`mod@remaining_gap`]: the least gap of all pairs,
//!   sampled over it, to colour the map.
//! * [`safe_length`]: how long a damper or strap may be at any steering angle, how short it may be crushed.
//! * [`mod@second_look`]: what is reported of pairs, asked again of parry3d.
//! * [`mod@along_travel`]: angles, lengths and gaps against travel, for curves.
//! * [`mod@line`]: the guarded search that brackets one crossing; [`stops`]: what is proved over a cell;
//!   [`rate_atlas`]: the proved rates behind it all.
//!
//! Guarantee: every "free" is proved for the rigid parts as described, between samples too, within
//! the stated tolerances; rates come from enclosures over whole cells, never from samples. One thing is sized from samples:
//! the room that a boot is drawn as, from positions all over the travel and a millimetre more (and how far a coil spring
//! reaches where the damper is longer than its own `extended`). Not covered:
//! bushing give, frame flex, wear, and the shape between a real part and its drawing.
//!
//! Reads: a [`Corner`](crate::truck::Corner). Produces: [`findings`](crate::findings). Next: [`crate::output`].

pub mod along_travel;
mod damper_length;
pub mod first_contact;
pub mod free_travel;
pub mod line;
mod near_reach;
mod own_side;
mod queue;
pub mod rate_atlas;
mod reached_locks;
pub mod remaining_gap;
mod report;
pub mod safe_length;
mod screen;
pub mod second_look;
pub mod stop_order;
pub mod stops;
mod tape;
pub mod tightest_gaps;
mod verdict;
mod weaker_side;

pub use along_travel::along_travel;
pub use damper_length::{damper_findings, damper_status};
pub use own_side::first_across;
pub use remaining_gap::remaining_gap;
pub use report::{
    SweepOptions, corner_status, free_map, position_findings, position_without_gaps, status,
    stops_at, sweep, sweep_corner,
};
pub use second_look::second_look;
pub use stops::removable_stops;
pub use tape::tape;
pub use verdict::{
    MappedTravel, Reached, first_unkept, mapped, obligations_at, own_side, search_ends,
    standing_obligations,
};
