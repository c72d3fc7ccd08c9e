//! Setups side by side.

use super::{Status, Undecided};
use crate::limits::Needs;
use crate::suspension::Side;
use serde::{Deserialize, Serialize};
use std::borrow::Cow;

/// What a measure is measured in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Quantity {
    /// Millimetres.
    Mm,
    /// Degrees.
    Deg,
    /// A plain number.
    Ratio,
    /// Percent.
    Percent,
    /// Millimetres a second.
    MmPerSecond,
}

/// Which way a measure is better.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Better {
    /// More is better.
    More,
    /// Less is better.
    Less,
    /// Nearer to zero is better.
    NearZero,
    /// Neither: it is what it is.
    Neither,
}

/// A measure's value in one setup.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Measured {
    /// The number.
    pub value: f64,
    /// Where the number is the least that was found, and the true one may be less: what is proved not to be gone
    /// below.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub at_least: Option<f64>,
    /// What goes with it: the stop, the pair that touches.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
}

/// The headings of a comparison.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum MeasureGroup {
    /// How far the wheel travels and steers.
    #[serde(rename = "free travel from ride height")]
    Travel,
    /// What lies lowest.
    #[serde(rename = "clearance")]
    Clearance,
    /// Joint angles and plunge.
    #[serde(rename = "halfshaft")]
    Halfshaft,
    /// What is left of each limit.
    #[serde(rename = "margin left at the ends of the free travel")]
    Margins,
    /// The least gap of each pair.
    #[serde(rename = "least gap over the free travel")]
    Gaps,
    /// Camber, caster, toe and what goes with them.
    #[serde(rename = "alignment at ride height")]
    Alignment,
    /// How these change over the travel.
    #[serde(rename = "alignment change over the free travel")]
    AlignmentChange,
    /// The differential's tilt and the front driveshaft's joints.
    #[serde(rename = "differential and front driveshaft")]
    Differential,
    /// Wear of the joints, as ratios.
    #[serde(rename = "wear index against the first column")]
    Wear,
    /// How fast the joints slide.
    #[serde(rename = "sliding speed")]
    SlidingSpeed,
}

impl MeasureGroup {
    /// As printed.
    pub fn name(self) -> &'static str {
        match self {
            MeasureGroup::Travel => "free travel from ride height",
            MeasureGroup::Clearance => "clearance",
            MeasureGroup::Halfshaft => "halfshaft",
            MeasureGroup::Margins => "margin left at the ends of the free travel",
            MeasureGroup::Gaps => "least gap over the free travel",
            MeasureGroup::Alignment => "alignment at ride height",
            MeasureGroup::AlignmentChange => "alignment change over the free travel",
            MeasureGroup::Differential => "differential and front driveshaft",
            MeasureGroup::Wear => "wear index against the first column",
            MeasureGroup::SlidingSpeed => "sliding speed",
        }
    }
}

/// One measure in every setup.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Measure {
    /// Its name in files.
    pub key: String,
    /// The heading that it stands under.
    pub group: MeasureGroup,
    /// Its name as printed.
    pub label: String,
    /// What it is measured in.
    pub quantity: Quantity,
    /// Which way it is better.
    pub better: Better,
    /// The corner; none for the whole truck.
    pub side: Option<Side>,
    /// Whether it is kept out of the printed table.
    pub detail: bool,
    /// Its value in every column; none where the setup can't be built or has no such thing.
    pub values: Vec<Option<Measured>>,
}

/// What a column of the comparison is.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SetupColumn {
    /// The setup's name; the first is the one that the others are compared with.
    pub name: String,
    /// Its changes in words.
    pub changes: Vec<String>,
    /// Why it can't be built, if it can't.
    pub cannot_be_built: Option<String>,
    /// What its parts lack to stand at ride height, and at which; of one that can't be built as far as that can be worked out.
    /// `warnings` or `cannot_be_built` says the same in words.
    pub needs: Needs,
    /// `clear`, `found` or `not_checked`, as a sweep's exit status; none where it can't be built.
    pub verdict: Option<Status>,
    /// What is better than in the first column, in words.
    pub better: Vec<String>,
    /// What is worse.
    pub worse: Vec<String>,
    /// What fitted in the first column and doesn't any more.
    pub no_longer_fits: Vec<String>,
    /// What could not be decided, by side.
    pub undecided: Vec<(Side, Undecided)>,
}

/// Setups side by side.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Comparison {
    /// The truck.
    pub truck: String,
    /// The side that leads: the worse one in the first column.
    pub leading_side: Side,
    /// Whether both corners were built: they differ.
    pub sides_differ: bool,
    /// The columns.
    pub columns: Vec<SetupColumn>,
    /// The measures.
    pub measures: Vec<Measure>,
    /// The wear index's model and limits, and what zero torque leaves to wear.
    pub wear_notes: Vec<String>,
    /// What a person should know before trusting the result.
    pub warnings: Vec<String>,
    /// Cautions.
    pub cautions: Vec<Cow<'static, str>>,
}
