//! What the truck clears, and what hits first.

use serde::{Deserialize, Serialize};
use std::borrow::Cow;

/// An angle or clearance with the point that sets it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Touching {
    /// Degrees for angles, mm for clearances.
    pub value: f64,
    /// The part.
    pub part: String,
    /// Its point, vehicle coordinates.
    pub point_mm: [f64; 3],
}

/// Lowest point of a part.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PartClearance {
    /// The part.
    pub part: String,
    /// Ground to its lowest point.
    pub clearance_mm: f64,
    /// Whether the springs carry it.
    pub sprung: bool,
}

/// A threshold of 49 CFR 523.5(b)(2) with whether it is met.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Threshold {
    /// What is measured.
    pub name: Cow<'static, str>,
    /// What must be reached: degrees or mm.
    pub at_least: f64,
    /// What is.
    pub value: Option<f64>,
    /// Whether it is met.
    pub met: bool,
}

/// A wheel held where the suspension can't have it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct WheelPastStop {
    /// Which: `front left`, `front right`, `rear left`, `rear right`.
    pub wheel: Cow<'static, str>,
    /// What it is past.
    pub stop: String,
}

/// The truck standing on level ground.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct GroundFindings {
    /// The truck.
    pub truck: String,
    /// Wheel travel from ride height: front left, front right, rear left, rear right.
    pub travel_mm: [f64; 4],
    /// Pitch, nose up positive.
    pub pitch_deg: f64,
    /// Roll, left side up positive.
    pub roll_deg: f64,
    /// Ground to the lowest point of what the springs carry.
    pub running_clearance_mm: Option<Touching>,
    /// Ground to the lowest point of the axles' differentials.
    pub axle_clearance_mm: Option<Touching>,
    /// Approach angle.
    pub approach_deg: Option<Touching>,
    /// Breakover angle, by lines tangent to both loaded-radius arcs.
    pub breakover_deg: Option<Touching>,
    /// Departure angle.
    pub departure_deg: Option<Touching>,
    /// Every part, lowest first.
    pub parts: Vec<PartClearance>,
    /// The five thresholds.
    pub thresholds: Vec<Threshold>,
    /// Whether four of the five are met.
    pub four_of_five: bool,
    /// Wheels that are past a stop where they are held: the truck can't stand so.
    pub past_stops: Vec<WheelPastStop>,
    /// What the truck that was built wants said.
    pub warnings: Vec<String>,
    /// Cautions.
    pub cautions: Vec<Cow<'static, str>>,
}

/// A contact on a drive.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct DriveContact {
    /// The part.
    pub part: String,
    /// What it meets: the obstacle, or the ground.
    pub against: String,
    /// Front axle's middle from the obstacle's front, forward positive: nothing of this part touches before the
    /// first, it touches at the second.
    pub front_axle_mm: [f64; 2],
    /// Driven from the start.
    pub driven_mm: f64,
    /// The point on the part, vehicle coordinates as measured for sprung parts.
    pub point_on_part_mm: [f64; 3],
    /// The same point on the ground: from the obstacle's front, left, up.
    pub point_on_ground_mm: [f64; 3],
    /// Pitch there, nose up positive.
    pub pitch_deg: f64,
    /// Roll there, left side up positive.
    pub roll_deg: f64,
    /// Travel of the four wheels there from ride height: front left, front right, rear left, rear right.
    pub wheel_travel_mm: [f64; 4],
    /// Whether a tyre is off the level ground there.
    pub tyre_climbing: bool,
    /// Whether one is there, or has been on the way.
    pub tyre_climbed: bool,
    /// How deep the part would go if the truck drove on, sampled; none where it can't be told.
    pub depth_mm: Option<f64>,
}

/// A row of the clearance curve.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct DriveRow {
    /// Front axle's middle from the obstacle's front.
    pub front_axle_mm: f64,
    /// Least clearance of anything but treads.
    pub clearance_mm: f64,
    /// The part that has it.
    pub part: String,
    /// Pitch, nose up positive.
    pub pitch_deg: f64,
    /// Roll, left side up positive.
    pub roll_deg: f64,
    /// Travel of the four wheels from ride height: front left, front right, rear left, rear right.
    pub wheel_travel_mm: [f64; 4],
}

/// How the drive over one size of an obstacle ended.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "outcome")]
pub enum SizeOutcome {
    /// Proved: nothing but treads touches.
    Clears,
    /// A part touches.
    Touches {
        /// The part.
        part: String,
        /// What it meets: the obstacle, or the ground.
        against: String,
    },
    /// The tyres meet a wall that they can't climb.
    TyresStop,
    /// It could not be decided.
    Undecided {
        /// Why.
        why: String,
    },
}

/// One size of an obstacle, driven over.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SizeDriven {
    /// Its size against the scene's, 1 as written.
    pub scale: f64,
    /// How the drive ended.
    #[serde(flatten)]
    pub outcome: SizeOutcome,
}

/// An obstacle driven over in many sizes. Each size that is listed is a drive of its own; nothing is known of sizes
/// between them: a larger obstacle may clear where a smaller one is hit, since it lifts the truck sooner.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SizesDriven {
    /// Every size driven, smallest first.
    pub driven: Vec<SizeDriven>,
    /// The largest size up to which every one driven clears; none where the smallest doesn't.
    pub clears_to: Option<f64>,
    /// The smallest size driven that doesn't clear; none where all do.
    pub first_not: Option<f64>,
}

/// A drive over an obstacle.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct DriveFindings {
    /// The truck.
    pub truck: String,
    /// The setup it was driven in; none: as measured.
    pub setup: Option<String>,
    /// The obstacle.
    pub obstacle: String,
    /// Whether the suspension followed the ground; else it was held at ride height.
    pub suspension_follows: bool,
    /// Its size against the scene's, 1 as written.
    pub scale: f64,
    /// Front axle's middle at start and end, from the obstacle's front.
    pub from_to_mm: [f64; 2],
    /// Front axle's middle up to which every contact is known: the end, unless something stayed undecided.
    pub decided_to_mm: f64,
    /// Contacts in order.
    pub contacts: Vec<DriveContact>,
    /// Where the tyres can't go on: higher than their centre.
    pub tyres_stop_at_mm: Option<f64>,
    /// Least clearance along the drive, sampled.
    pub curve: Vec<DriveRow>,
    /// Greatest height that a wheel hangs over the ground or, with the suspension held, is pressed into it, sampled.
    pub wheel_off_ground_mm: f64,
    /// What could not be decided.
    pub undecided: Vec<String>,
    /// The same obstacle in other sizes, where that was asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sizes: Option<SizesDriven>,
    /// Cautions and what is assumed.
    pub notes: Vec<Cow<'static, str>>,
    /// What the truck that was built wants said.
    pub warnings: Vec<String>,
}
