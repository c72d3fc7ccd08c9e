//! What a sweep found.

use super::{ContactClass, StopId, Undecided, Verdict};
use crate::limits::{Needs, Unit};
use crate::suspension::{Locks, Side, Steered, drawn_part};
use serde::{Deserialize, Serialize};
use std::borrow::Cow;

/// Down or up.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum TravelDirection {
    /// Wheel down.
    Droop,
    /// Wheel up.
    Bump,
}

impl TravelDirection {
    /// Down, up.
    pub const BOTH: [TravelDirection; 2] = [TravelDirection::Droop, TravelDirection::Bump];

    /// As printed.
    pub fn name(self) -> &'static str {
        match self {
            TravelDirection::Droop => "droop",
            TravelDirection::Bump => "bump",
        }
    }

    /// Travel's sign outward: bump is positive.
    pub fn sign(self) -> f64 {
        match self {
            TravelDirection::Droop => -1.0,
            TravelDirection::Bump => 1.0,
        }
    }
}

/// One stop, found as if the others were absent.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct StopFound {
    /// Which.
    pub stop: StopId,
    /// Wheel travel up to which it is proved kept, bump positive.
    pub travel_mm: f64,
    /// Proved kept at the first, violated at the second, which is no nearer; for a graze, within the tolerance between
    /// both, with no violation seen. Both alike where it is violated from the measured height on.
    pub travel_interval_mm: [f64; 2],
    /// Whether a maker means the wheel to stop here.
    pub intended: bool,
    /// Whether the wheel can't pass; false for a gap below the required one.
    pub blocks: bool,
    /// Reached within the tolerance without a witness that it is crossed.
    pub graze: bool,
}

/// All stops in one direction at one rack position, nearest first.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct StopOrder {
    /// Rack, toward +y positive.
    pub rack_mm: f64,
    /// Which way.
    pub direction: TravelDirection,
    /// The stops met before the search ends.
    pub stops: Vec<StopFound>,
    /// Where the search ended, bump positive.
    pub searched_to_mm: f64,
    /// Stops that could not be decided, with the travel up to which they are kept.
    pub undecided: Vec<(StopId, f64)>,
}

/// Free travel at one rack position.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FreeTravel {
    /// Rack, toward +y positive.
    pub rack_mm: f64,
    /// Toe there at the measured height, toe-in positive; none where the linkage can't be there.
    pub toe_deg: Option<f64>,
    /// Steer there at the measured height, left positive; none likewise.
    pub steer_deg: Option<f64>,
    /// Free droop from the measured position, a positive amount.
    pub droop_mm: f64,
    /// Free bump from the measured position, a positive amount.
    pub bump_mm: f64,
    /// What stops droop.
    pub droop_stop: Option<StopId>,
    /// What stops bump.
    pub bump_stop: Option<StopId>,
    /// Whether a maker means both.
    pub intended: [bool; 2],
}

/// Where the wheel stands in its free travel.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum TravelEnd {
    /// At ride height.
    #[serde(rename = "ride height")]
    RideHeight,
    /// As far down as it is free.
    #[serde(rename = "full droop")]
    FullDroop,
    /// As far up as it is free.
    #[serde(rename = "full bump")]
    FullBump,
}

impl TravelEnd {
    /// As printed.
    pub fn name(self) -> &'static str {
        match self {
            TravelEnd::RideHeight => "ride height",
            TravelEnd::FullDroop => "full droop",
            TravelEnd::FullBump => "full bump",
        }
    }
}

/// Free steering at one arm position: from straight ahead to each side.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FreeSteer {
    /// Where.
    pub at: TravelEnd,
    /// Wheel travel there, straight ahead.
    pub travel_mm: f64,
    /// Rack reached toward -y and +y.
    pub rack_mm: [f64; 2],
    /// Wheel steer there, left positive.
    pub steer_deg: [f64; 2],
    /// What stops it on each side; the rack's lock if nothing.
    pub stops: [Option<StopId>; 2],
}

/// The first touch of one kind, the maker's stops taken off.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FirstContact {
    /// Of metal, or of the tyre or rim.
    pub class: ContactClass,
    /// Droop or bump.
    pub direction: TravelDirection,
    /// First part.
    pub a: String,
    /// Second part.
    pub b: String,
    /// Wheel travel of the witness, bump positive.
    pub travel_mm: f64,
    /// At every rack position nothing touches before the first; it is touched at the second.
    pub travel_interval_mm: [f64; 2],
    /// Rack of the witness.
    pub rack_mm: f64,
    /// Wheel steer there, left positive.
    pub steer_deg: f64,
    /// Inner joint's angle there.
    pub inner_joint_deg: f64,
    /// Outer joint's angle there.
    pub outer_joint_deg: f64,
    /// Plunge there.
    pub plunge_mm: f64,
    /// Contact point, vehicle coordinates.
    pub point_mm: [f64; 3],
    /// The same on the first part, as measured: mark it there with the truck at the measured position.
    pub point_on_a_mm: [f64; 3],
    /// The same on the second part.
    pub point_on_b_mm: [f64; 3],
    /// In words for a tape: distances to two hardpoints, first part.
    pub tape_a: String,
    /// The same, second part.
    pub tape_b: String,
    /// Unit normal from the first part to the second.
    pub normal: [f64; 3],
    /// Stops that come before it at this rack position, nearest first.
    pub stops_before: Vec<StopId>,
    /// Whether one of them is a maker's.
    pub intended_stop_before: bool,
}

/// A limit's state at an end of the free travel.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Extreme {
    /// Which end.
    pub at: TravelEnd,
    /// Rack there.
    pub rack_mm: f64,
    /// Wheel travel there.
    pub travel_mm: f64,
    /// Every limit there.
    pub stops: Vec<super::LimitState>,
}

/// Least gap of a watched pair over the free region.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TightGap {
    /// First part.
    pub a: String,
    /// Second part.
    pub b: String,
    /// Least gap found.
    pub gap_mm: f64,
    /// Proved: nowhere in the free region is it smaller than this.
    pub at_least_mm: f64,
    /// The gap that must remain.
    pub required_mm: f64,
    /// Where: wheel travel, bump positive.
    pub travel_mm: f64,
    /// Where: rack.
    pub rack_mm: f64,
    /// Nearest point of the first part, vehicle coordinates.
    pub point_a_mm: [f64; 3],
    /// Nearest point of the second part.
    pub point_b_mm: [f64; 3],
}

impl TightGap {
    /// The gaps between parts as they were drawn: of a spring's or a boot's slices the tightest, proved as far as all of them are.
    pub fn between_drawn_parts(gaps: &[TightGap]) -> Vec<TightGap> {
        let mut out: Vec<TightGap> = Vec::new();
        for gap in gaps {
            let of_parts = TightGap {
                a: drawn_part(&gap.a).to_owned(),
                b: drawn_part(&gap.b).to_owned(),
                ..gap.clone()
            };
            let is_same = |known: &&mut TightGap| {
                let pair = [&known.a, &known.b];
                let is_required = known.required_mm == gap.required_mm;
                is_required
                    && (pair == [&of_parts.a, &of_parts.b] || pair == [&of_parts.b, &of_parts.a])
            };
            match out.iter_mut().find(is_same) {
                // They come tightest first.
                Some(known) => known.at_least_mm = known.at_least_mm.min(gap.at_least_mm),
                None => out.push(of_parts),
            }
        }
        out
    }
}

/// A watched pair whose parts don't move against each other, a turning one as the full revolution that it sweeps.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RestingGap {
    /// First part.
    pub a: String,
    /// Second part.
    pub b: String,
    /// The gap; zero where they touch or overlap.
    pub gap_mm: f64,
    /// How deep they overlap, where it can be known.
    pub depth_mm: Option<f64>,
    /// The gap that must remain.
    pub required_mm: f64,
    /// Whether it does.
    pub kept: bool,
    /// Nearest point of the first part, vehicle coordinates as measured.
    pub point_a_mm: [f64; 3],
    /// Nearest point of the second part.
    pub point_b_mm: [f64; 3],
}

/// A stop that ride height itself is past.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PastAtRideHeight {
    /// The stop.
    pub stop: StopId,
    /// Rack there: zero straight ahead, or a lock.
    pub rack_mm: f64,
    /// How the wheel is steered there.
    pub steered: Steered,
}

/// Shares of the swept rectangle's area (travel times rack).
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct AreaShares {
    /// Proved free and connected to the measured position.
    pub free: f64,
    /// Proved free but cut off from it.
    pub cut_off: f64,
    /// Proved stopped.
    pub stopped: f64,
    /// Neither: cells thinner than the tolerance along the edges.
    pub undecided: f64,
}

/// State of a map cell.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum MapState {
    /// Free and connected.
    Free,
    /// Free, cut off.
    CutOff,
    /// Stopped.
    Stopped,
    /// Neither proved.
    Undecided,
}

/// A cell of the free-travel map.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct MapCell {
    /// Rack from, to.
    pub rack_mm: [f64; 2],
    /// Wheel travel at the cell's middle rack, from, to.
    pub travel_mm: [f64; 2],
    /// Lower-arm angle from, to: the cell's true sides.
    pub arm_deg: [f64; 2],
    /// Its state.
    pub state: MapState,
    /// The stop that is violated or could not be excluded, by number in `stops`.
    pub stop: Option<usize>,
    /// Whether every required gap is proved kept.
    pub gaps_kept: bool,
}

/// A stop on the free region's edge.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct EdgeStop {
    /// Which.
    pub stop: StopId,
    /// Whether a maker means it.
    pub intended: bool,
    /// Travel range over which it bounds the free region.
    pub travel_mm: [f64; 2],
    /// Rack range.
    pub rack_mm: [f64; 2],
}

/// A corner of the free region's outline.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct OutlinePoint {
    /// Rack, toward +y positive.
    pub rack_mm: f64,
    /// Wheel travel, bump positive.
    pub travel_mm: f64,
    /// What lies across the edge from here to the next corner, by number in `stops`; nothing at a
    /// rack lock and where the search ends.
    pub stop: Option<usize>,
}

/// The free-travel map.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FreeMap {
    /// Every stop, by the numbers that cells and outline give.
    pub stops: Vec<StopId>,
    /// The cells.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub cells: Vec<MapCell>,
    /// The free region's outline as a closed line, anticlockwise with rack across and travel up, along
    /// the cells' sides. Given with the cells.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub outline: Vec<OutlinePoint>,
    /// Thinnest cell: travel and rack.
    pub cell_mm: [f64; 2],
    /// Area shares.
    pub shares: AreaShares,
    /// What bounds the free region.
    pub edge: Vec<EdgeStop>,
    /// Rack positions at which steering at some travel is blocked though both neighbours are free.
    pub blocked_steering: Vec<BlockedSteering>,
    /// Whether some required gap is missing inside the free region.
    pub gap_missing: bool,
}

/// Steering that is blocked between two free stretches at one travel.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BlockedSteering {
    /// Travel at which.
    pub travel_mm: f64,
    /// Blocked from, to.
    pub rack_mm: [f64; 2],
    /// By what.
    pub stop: StopId,
}

/// How the result was guarded.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct GuardReport {
    /// Width of every bracket.
    pub travel_tolerance_mm: f64,
    /// Share of the map's area that stayed undecided.
    pub undecided_share: f64,
    /// Distance queries made.
    pub distance_queries: u64,
}

/// One corner.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CornerFindings {
    /// Which.
    pub side: Side,
    /// Travel at ride height, from the measured position.
    pub ride_height_mm: f64,
    /// The rack at full left and full right, by the way the wheel steers there.
    pub locks: Locks,
    /// Wheel travel at which the bump stop is first touched, straight ahead; the motion goes on until
    /// it is crushed.
    pub bump_stop_touched_mm: Option<f64>,
    /// Stops in order.
    pub stop_order: Vec<StopOrder>,
    /// Free travel by rack position.
    pub free_travel: Vec<FreeTravel>,
    /// Free steering.
    pub free_steer: Vec<FreeSteer>,
    /// The first metal contact at the least travel over all rack positions, either way.
    pub first_contact: Option<FirstContact>,
    /// The first rub of tyre or rim, likewise.
    pub first_tyre_rub: Option<FirstContact>,
    /// The first contacts of each kind in droop and in bump.
    pub first_contacts: Vec<FirstContact>,
    /// Travel in droop and in bump up to which no metal touches at any rack position, where no contact
    /// was found.
    pub no_contact_to_mm: [Option<f64>; 2],
    /// The same for tyre and rim.
    pub no_tyre_rub_to_mm: [Option<f64>; 2],
    /// Pairs that don't move against each other, least room first.
    pub resting_gaps: Vec<RestingGap>,
    /// Limits at full droop and full bump.
    pub extremes: Vec<Extreme>,
    /// Least gaps, tightest first.
    pub tightest_gaps: Vec<TightGap>,
    /// The map.
    pub map: FreeMap,
    /// The guard.
    pub guard: GuardReport,
    /// Everything that was asked, each with how it ended. The exit status follows from it.
    pub verdict: Verdict,
    /// What could not be decided, and why.
    pub undecided: Vec<Undecided>,
    /// What is reported of pairs, asked again of parry3d.
    pub second_look: super::SecondLook,
    /// Pairs left out by name, with the reason.
    pub joined: Vec<[String; 3]>,
    /// Rods whose parts aren't checked at other roll angles, with what the scene says holds them.
    pub roll_held: Vec<[String; 2]>,
    /// Pairs that overlap as measured and were not swept.
    pub overlaps: Vec<[String; 2]>,
    /// What ride height itself is past, straight ahead and at the locks: the wheel can't stand there.
    pub past_at_ride_height: Vec<PastAtRideHeight>,
    /// Whether a bind, contact or missing gap comes before the maker's stops.
    pub bind_before_intended: bool,
}

/// By what one side is weaker than the other. Of each: the weaker side's and the other's.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "by", rename_all = "snake_case")]
pub enum WeakerBy {
    /// Something binds, touches or is too near, or stayed undecided.
    Verdict,
    /// Least free droop over the rack positions, from each side's own ride height.
    Droop {
        /// The weaker side's.
        weaker_mm: f64,
        /// The other's.
        other_mm: f64,
    },
    /// Least free bump over the rack positions, from each side's own ride height.
    Bump {
        /// The weaker side's.
        weaker_mm: f64,
        /// The other's.
        other_mm: f64,
    },
    /// Steer from end to end at ride height.
    Steer {
        /// The weaker side's.
        weaker_deg: f64,
        /// The other's.
        other_deg: f64,
    },
    /// What is least left of a limit that isn't meant as a stop, at the ends of the free travel.
    Margin {
        /// The limit.
        limit: String,
        /// What both are counted in.
        unit: Unit,
        /// The weaker side's.
        weaker: f64,
        /// The other's.
        other: f64,
    },
    /// What is least left of a gap beyond the required one.
    Gap {
        /// The weaker side's two parts.
        pair: [String; 2],
        /// The weaker side's.
        weaker_mm: f64,
        /// The other's.
        other_mm: f64,
    },
}

/// The whole truck: the worse side's findings lead.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SweepFindings {
    /// The truck.
    pub truck: String,
    /// The worse side.
    #[serde(flatten)]
    pub worse: CornerFindings,
    /// The other side where it differs.
    pub other: Option<CornerFindings>,
    /// By what the worse side is worse; nothing where both are alike.
    pub weaker_by: Option<WeakerBy>,
    /// What the setup lacks to stand at ride height, and at which; `warnings` says the same in words.
    pub needs: Needs,
    /// What a person should know before trusting the result.
    pub warnings: Vec<String>,
    /// Shown with every result.
    pub cautions: Vec<Cow<'static, str>>,
}

/// Least gap of all watched pairs, sampled on an even grid of rack and travel: for colouring a map, not
/// proved between samples.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RemainingGap {
    /// Rack of each column.
    pub rack_mm: Vec<f64>,
    /// Wheel travel of each row.
    pub travel_mm: Vec<f64>,
    /// Row by row; nothing where the position isn't free.
    pub gap_mm: Vec<Option<f64>>,
}

/// One position of the curves against travel.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CurveRow {
    /// Wheel travel, bump positive.
    pub travel_mm: f64,
    /// Inner joint's angle.
    pub inner_joint_deg: f64,
    /// Outer joint's angle.
    pub outer_joint_deg: f64,
    /// Plunge, outboard positive.
    pub plunge_mm: f64,
    /// Top outward positive.
    pub camber_deg: f64,
    /// Toe-in positive.
    pub toe_deg: f64,
    /// Top rearward positive.
    pub caster_deg: f64,
    /// Damper length, eye to eye.
    pub damper_mm: f64,
    /// Least gap of all watched pairs; nothing where no pair is watched.
    pub least_gap_mm: Option<f64>,
}
