//! What came of asking every reported gap again of parry3d.

use serde::{Deserialize, Serialize};

/// Reported gaps, contacts and bracket ends held against parry3d's own distances.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct SecondLook {
    /// Reported numbers that were asked again and answered.
    pub asked: u64,
    /// The largest difference of a gap, facet errors taken off, mm.
    pub largest_difference_mm: f64,
    /// Where both differ by more than is allowed for: undecided.
    pub disagreements: Vec<Disagreement>,
    /// What has no second answer, and why.
    pub left_out: Vec<NotAskedAgain>,
}

impl SecondLook {
    /// Reported numbers without a second answer.
    pub fn left_out_count(&self) -> u64 {
        self.left_out.iter().map(|l| l.count).sum()
    }
}

/// Where a number was reported.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Reported {
    /// The witness of a first contact.
    FirstContact,
    /// A pair's stop: the end of its bracket at which the stop is met.
    StopMet,
    /// The end of a pair's bracket up to which it is proved kept.
    StopKept,
    /// A pair's least gap over the free region.
    TightestGap,
    /// The gap of a pair at rest to each other.
    AtRest,
    /// A gap at one position.
    Gap,
}

impl Reported {
    /// As printed.
    pub fn name(self) -> &'static str {
        match self {
            Reported::FirstContact => "first contact",
            Reported::StopMet => "stop met",
            Reported::StopKept => "stop not yet met",
            Reported::TightestGap => "tightest gap",
            Reported::AtRest => "gap at rest",
            Reported::Gap => "gap",
        }
    }
}

/// What is said of a gap.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SaidOfGap {
    /// It is this, mm.
    Is(f64),
    /// It is no more than this, mm: a contact, or a required gap that is missing.
    NoMoreThan(f64),
    /// It is no less than this, mm.
    NoLessThan(f64),
}

/// A reported number that parry3d contradicts.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Disagreement {
    /// First part.
    pub a: String,
    /// Second part.
    pub b: String,
    /// Where it was reported.
    pub reported: Reported,
    /// Wheel travel, bump positive.
    pub travel_mm: f64,
    /// Rack.
    pub rack_mm: f64,
    /// What we say of the gap.
    pub ours: SaidOfGap,
    /// What parry3d says: no less than the first and no more than the second, where it found one.
    pub theirs_mm: (f64, Option<f64>),
    /// By how much they differ at least.
    pub difference_mm: f64,
}

/// Why a reported number has no second answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum NotAskedWhy {
    /// It would take more than its share of the sweep.
    TooMuchWork,
    /// parry3d's search didn't settle: what it says doesn't contradict, and doesn't confirm.
    NotSettled,
    /// The linkage doesn't reach the position exactly.
    OutOfReach,
    /// parry3d can't hold a part.
    NoShape,
}

impl NotAskedWhy {
    /// As printed.
    pub fn name(self) -> &'static str {
        match self {
            NotAskedWhy::TooMuchWork => "more work than a tenth of the sweep",
            NotAskedWhy::NotSettled => "parry3d's search did not settle",
            NotAskedWhy::OutOfReach => "at the end of reach",
            NotAskedWhy::NoShape => "parry3d has no such shape",
        }
    }
}

/// Reported numbers of a pair that have no second answer.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct NotAskedAgain {
    /// First part.
    pub a: String,
    /// Second part.
    pub b: String,
    /// Why.
    pub why: NotAskedWhy,
    /// How many.
    pub count: u64,
}
