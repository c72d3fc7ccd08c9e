//! What was found: plain values that command line, files and viewer read.
//!
//! These types are the edge. Lengths are millimetres and angles degrees, and the names say so; they
//! serialise as the JSON output. Nothing here computes.

mod clearance;
mod compare;
mod damper;
mod ground;
mod position;
mod second_look;
mod stop;
mod sweep;
mod tyre;
mod verdict;

use serde::{Deserialize, Serialize};
use std::borrow::Cow;

pub use clearance::{
    AcrossMiddle, ClearanceFindings, LeftOut, MoverGap, TightPatch, TightSpot, TrimSheet,
    WhyLeftOut,
};
pub use compare::{Better, Comparison, Measure, MeasureGroup, Measured, Quantity, SetupColumn};
pub use damper::{
    BodyAgainstStop, BodyToOrder, CornerDamper, Crush, DamperFindings, DroopEnd, Gain, LengthFound,
};
pub use ground::{
    DriveContact, DriveFindings, DriveRow, GroundFindings, PartClearance, SizeDriven, SizeOutcome,
    SizesDriven, Threshold, Touching, WheelPastStop,
};
pub use position::{GapFound, LimitState, PositionFindings};
pub use second_look::{Disagreement, NotAskedAgain, NotAskedWhy, Reported, SaidOfGap, SecondLook};
pub use stop::{ContactClass, StopId};
pub use sweep::{
    AreaShares, BlockedSteering, CornerFindings, CurveRow, EdgeStop, Extreme, FirstContact,
    FreeMap, FreeSteer, FreeTravel, GuardReport, MapCell, MapState, OutlinePoint, PastAtRideHeight,
    RemainingGap, RestingGap, StopFound, StopOrder, SweepFindings, TightGap, TravelDirection,
    TravelEnd, WeakerBy,
};
pub use tyre::{NothingDrawn, TyrePlace, TyreSteer, TyreSurroundings, TyreTravel};
pub use verdict::{
    EndedBy, Exclusion, Obligation, OpenEnd, Outcome, PairSums, Place, Requirement, Undecided,
    Verdict, status_of,
};

/// Status of a command: 0 clear, 1 something stops or touches that shouldn't, 2 could not check.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[repr(u8)]
pub enum Status {
    /// The maker's stops come first everywhere, with every required gap kept.
    Clear = 0,
    /// A bind, a contact or a missing gap comes before the maker's stops.
    Found = 1,
    /// Bad input, or something stayed undecided.
    NotChecked = 2,
}

/// Cautions shown with every result, as findings hold them.
pub fn cautions() -> Vec<Cow<'static, str>> {
    CAUTIONS.map(Cow::Borrowed).to_vec()
}

/// Cautions shown with every result.
pub const CAUTIONS: [&str; 4] = [
    "Rigid parts only: bushings, frame flex and wear move parts by millimetres; keep a margin.",
    "A computed clearance is not a road test: cycle the suspension by hand, springs out, through \
     full travel and both locks before driving.",
    "Springs store energy that kills: use the maker's compressor; support the frame on stands, never \
     work under a truck held by a jack.",
    "Steering, brake hoses and ride height may need inspection where the truck is registered: local \
     rules and a licensed professional come first.",
];
