//! A part's clearance map: how near everything that moves comes to it.

use super::OpenEnd;
use crate::suspension::{Body, Side};
use serde::{Deserialize, Serialize};
use std::borrow::Cow;

/// How near something comes, to what, and when.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TightSpot {
    /// The part that comes near.
    pub to: String,
    /// Which side's suspension moves it.
    pub side: Side,
    /// In which setup; none: as measured.
    pub setup: Option<String>,
    /// The gap; zero where they touch or overlap. The true least gap is no lower than this by more than the tolerance.
    pub gap_mm: f64,
    /// What must remain.
    pub required_mm: f64,
    /// The point of the mapped part, vehicle coordinates as measured.
    pub at_mm: [f64; 3],
    /// Wheel travel there, from the measured position, bump positive.
    pub travel_mm: f64,
    /// Rack there, toward +y positive.
    pub rack_mm: f64,
    /// That wheel's steer there, left positive.
    pub steer_deg: f64,
    /// Whether both parts rest against each other (one may turn on the spot): the gap is the same at every position, and
    /// travel, rack and steer are those of the measured one.
    pub at_rest: bool,
}

/// One other part's least gap to the mapped part.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct MoverGap {
    /// The other part.
    pub part: String,
    /// Which side's suspension moves it.
    pub side: Side,
    /// In which setup; none: as measured.
    pub setup: Option<String>,
    /// What must remain.
    pub required_mm: f64,
    /// Where it comes nearest; none: it stays at least the cutoff away.
    pub nearest: Option<TightSpot>,
}

/// A connected region of the mapped part that something comes near to.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TightPatch {
    /// Whether a required gap is missing in it; else it is only near.
    pub violated: bool,
    /// Whether it is touched.
    pub touched: bool,
    /// Its area: where a required gap is missing, else where something comes near.
    pub area_mm2: f64,
    /// The middle of that area, vehicle coordinates as measured.
    pub middle_mm: [f64; 3],
    /// Where there is least room.
    pub tightest: TightSpot,
    /// How far the surface must recede for the required gap: whichever of the patch's sides goes back by this much, square
    /// to itself, nothing of the part is too near any more. A bound that is enough. Sides of which nothing would be left are
    /// not counted, unless all are such. Zero where no gap is missing.
    pub cut_mm: f64,
    /// Whether the cut may have to be deeper: where the part, or what goes into it, has no inside that is known.
    pub cut_is_at_least: bool,
    /// Every part that comes too near in it, or near.
    pub against: Vec<String>,
    /// Length of the trim outline, mm.
    pub outline_mm: f64,
}

/// Where to cut from one side of a patch: as on its sheet in the drawings, and where that sheet lies.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TrimSheet {
    /// Number of the patch, from one.
    pub patch: usize,
    /// Numbers of the patches of which nothing is too near any more after this cut: its own, and others that show the same
    /// material.
    pub clears: Vec<usize>,
    /// The sheet's middle, vehicle coordinates as measured.
    pub origin_mm: [f64; 3],
    /// To the right as seen from outside the part.
    pub right: [f64; 3],
    /// Upward on the sheet.
    pub up: [f64; 3],
    /// Out of the part, square to the sheet.
    pub out: [f64; 3],
    /// How deep to cut, square to the sheet and from it.
    pub depth_mm: f64,
    /// Whether it may have to be deeper.
    pub depth_is_at_least: bool,
    /// Whether the cut goes through all of the part below this side, and ends in the air.
    pub is_through: bool,
    /// The outlines reach no further than this beyond what has to go.
    pub most_excess_mm: f64,
    /// Closed outlines: right and up from the middle.
    pub outlines_mm: Vec<Vec<[f64; 2]>>,
}

/// Why a part was not looked at.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WhyLeftOut {
    /// Both are on one body, which is rigid.
    SameBody,
    /// The scene says that they are joined, and why.
    Joined(String),
    /// They overlap as drawn and the scene doesn't say that they are joined: nothing is known of their gap.
    OverlapsAsDrawn,
}

impl std::fmt::Display for WhyLeftOut {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            WhyLeftOut::SameBody => f.write_str("both are on one body"),
            WhyLeftOut::Joined(why) => write!(f, "joined in the scene: {why}"),
            WhyLeftOut::OverlapsAsDrawn => f.write_str("they overlap as drawn"),
        }
    }
}

/// A part that was not looked at.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LeftOut {
    /// Its name.
    pub part: String,
    /// Which side's.
    pub side: Side,
    /// Why.
    pub why: WhyLeftOut,
}

/// A clearance map in numbers; the map itself is a file of its own.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ClearanceFindings {
    /// The truck.
    pub truck: String,
    /// The mapped part.
    pub part: String,
    /// The body that carries it.
    pub on: Body,
    /// Setups over which it was mapped; empty: as measured only.
    pub setups: Vec<String>,
    /// Which sides' suspensions were looked at.
    pub sides: Vec<Side>,
    /// Faces of the part as drawn.
    pub faces_drawn: usize,
    /// Faces of the map: those drawn, split where something comes near.
    pub faces: usize,
    /// Corners of the map.
    pub vertices: usize,
    /// The true least gap at a corner or face is no lower than reported by more than this.
    pub tolerance_mm: f64,
    /// Gaps from here on aren't told apart.
    pub cutoff_mm: f64,
    /// The least room of all; none: nothing comes nearer than the cutoff.
    pub tightest: Option<TightSpot>,
    /// Every part that was looked at, nearest first.
    pub movers: Vec<MoverGap>,
    /// Regions that something comes near to, tightest first.
    pub patches: Vec<TightPatch>,
    /// Near regions that aren't listed.
    pub patches_not_listed: usize,
    /// Where to cut, sheet by sheet: after a cut along all outlines of any one sheet of a patch nothing of that patch is too
    /// near any more.
    pub sheets: Vec<TrimSheet>,
    /// Parts that were not looked at.
    pub left_out: Vec<LeftOut>,
    /// Cells of the travel, as small as they get, that could not be proved: nothing is known of them.
    pub unproved_cells: usize,
    /// Where the free travel that was looked at ends because the search did.
    pub open_ends: Vec<OpenEnd>,
    /// Parts of one side that come to the truck's middle: what the other side moves there was not looked at.
    pub across_middle: Vec<AcrossMiddle>,
    /// What a person should know about this map.
    pub notes: Vec<String>,
    /// What the trucks that were built want said.
    pub warnings: Vec<String>,
    /// Cautions.
    pub cautions: Vec<Cow<'static, str>>,
}

/// A part of one side that comes nearer to the truck's middle than the greatest gap that is asked, or across it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct AcrossMiddle {
    /// The part.
    pub part: String,
    /// Whose it is.
    pub side: Side,
    /// In which setup; none: as measured.
    pub setup: Option<String>,
}

impl ClearanceFindings {
    /// Parts whose gap is no less than required as found, and may be within the tolerance. What stands still against the mapped
    /// part is measured, not searched for.
    pub fn within_tolerance(&self) -> impl Iterator<Item = &MoverGap> {
        self.movers.iter().filter(|mover| {
            mover.nearest.as_ref().is_some_and(|spot| {
                let is_found = spot.gap_mm < mover.required_mm.max(self.tolerance_mm);
                !spot.at_rest && !is_found && spot.gap_mm - self.tolerance_mm < mover.required_mm
            })
        })
    }

    /// Whether some gap could be neither shown to be kept nor found to be missing.
    pub fn is_undecided(&self) -> bool {
        let overlaps = |l: &LeftOut| l.why == WhyLeftOut::OverlapsAsDrawn;
        self.unproved_cells > 0
            || !self.open_ends.is_empty()
            || !self.across_middle.is_empty()
            || self.within_tolerance().next().is_some()
            || self.left_out.iter().any(overlaps)
    }
}
