//! A part's clearance map: how near everything that moves comes to it.

use crate::suspension::{Body, Side};
use serde::Serialize;

/// How near something comes, to what, and when.
#[derive(Clone, Debug, PartialEq, Serialize)]
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
}

/// One moving part's least gap to the mapped part.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MoverGap {
    /// The moving part.
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
#[derive(Clone, Debug, PartialEq, Serialize)]
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
    /// How far the surface must recede for the required gap; zero where none is missing. Where the parts go into each
    /// other this is the deepest that was found.
    pub cut_mm: f64,
    /// Whether the cut may be deeper, since how deep the parts go into each other can't be known.
    pub cut_is_at_least: bool,
    /// Every part that comes too near in it, or near.
    pub against: Vec<String>,
    /// Length of the trim outline, mm.
    pub outline_mm: f64,
}

/// A part that was not looked at.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LeftOut {
    /// Its name.
    pub part: String,
    /// Which side's.
    pub side: Side,
    /// Why.
    pub why: String,
}

/// A clearance map in numbers; the map itself is a file of its own.
#[derive(Clone, Debug, PartialEq, Serialize)]
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
    /// Every part that moves as seen from this one, nearest first.
    pub movers: Vec<MoverGap>,
    /// Regions that something comes near to, tightest first.
    pub patches: Vec<TightPatch>,
    /// Near regions that aren't listed.
    pub patches_not_listed: usize,
    /// Parts that were not looked at.
    pub left_out: Vec<LeftOut>,
    /// Cells of the travel, as small as they get, that could not be proved: nothing is known of them.
    pub unproved_cells: usize,
    /// What a person should know about this map.
    pub notes: Vec<String>,
    /// Cautions.
    pub cautions: Vec<&'static str>,
}
