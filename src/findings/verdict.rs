//! The verdict of one corner, derived from what was asked of it.
//!
//! Everything that must hold is listed as a [`Requirement`] with its [`Outcome`]; the [`Status`] follows from the list and
//! from nothing else. So nothing that was asked can be lost on the way to the answer: what isn't proved is not clear.

use super::{ContactClass, Disagreement, Status, StopId, TravelDirection};
use crate::limits::LimitId;
use crate::suspension::Side;
use serde::{Deserialize, Serialize};

/// Something that has to hold over every position reachable from the measured one: connected with it, rack from lock to
/// lock, up to the intended stops.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Requirement {
    /// Two parts keep the gap that must remain; with a gap of zero they don't touch.
    Gap {
        /// First part.
        a: String,
        /// Second part.
        b: String,
        /// What must remain.
        required_mm: f64,
        /// Whether the two don't move against each other, so that they are asked once.
        at_rest: bool,
    },
    /// A limit that isn't meant as a stop, such as a joint's angle, isn't met.
    Limit {
        /// Which.
        id: LimitId,
    },
    /// Arms, tie rod and halfshaft reach every position.
    Reach,
    /// An intended stop ends the travel, at every rack position, before the search does.
    IntendedStop {
        /// Which way.
        direction: TravelDirection,
    },
    /// The bump stop is crushed before the damper's body closes, so that it and not the body takes the blow.
    BumpStopFirst,
    /// Ride height is one of the positions, straight ahead and at both locks.
    RideHeight,
    /// parry3d confirms the reported gaps, contacts and bracket ends.
    SecondLook,
    /// Every part of one side alone stays as far from the truck's middle as the greatest gap that is required.
    OwnSide,
    /// At least one pair is watched.
    SomethingWatched,
}

/// A position of the corner.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Place {
    /// Wheel travel, bump positive; nothing where the linkage doesn't reach.
    pub travel_mm: Option<f64>,
    /// Rack, toward +y positive.
    pub rack_mm: f64,
}

/// Where the free travel ends at nothing that is meant to end it: what lies beyond wasn't looked at.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct OpenEnd {
    /// Which corner.
    pub side: Side,
    /// What ended it.
    #[serde(flatten)]
    pub by: EndedBy,
    /// Where; nothing where it ends at every position.
    pub at: Option<Place>,
}

/// What ends a free travel without being meant to.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "ended_by", rename_all = "snake_case")]
pub enum EndedBy {
    /// The search: the wheel may go further.
    Search {
        /// Which way.
        direction: TravelDirection,
    },
    /// Nothing, but ride height lies past a stop: the truck doesn't stand as the scene says.
    RideHeight {
        /// The stop that is past.
        stop: StopId,
    },
    /// A bind or a contact that comes before an intended stop, or may do so: once it is mended the wheel goes further.
    Stop {
        /// Which.
        stop: StopId,
    },
}

/// How a requirement ended.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "outcome", rename_all = "snake_case")]
pub enum Outcome {
    /// It holds at every reachable position.
    Proved,
    /// It doesn't hold at a reachable position.
    Violated {
        /// What is violated there.
        stop: StopId,
        /// Where; nothing for parts that overlap as drawn, and for what is the same at every position.
        at: Option<Place>,
    },
    /// Neither could be shown.
    Undecided {
        /// Why not.
        why: Undecided,
    },
    /// It wasn't asked, as somebody wanted.
    Excluded {
        /// Who.
        by: Exclusion,
    },
}

/// By what a requirement is left out.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "by", rename_all = "snake_case")]
pub enum Exclusion {
    /// An entry of the scene's `joined`.
    Joined {
        /// The reason that it gives.
        why: String,
    },
    /// A stop taken off by its name when the sweep was asked for.
    TakenOff,
}

/// Why something could not be decided.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "why", rename_all = "snake_case")]
pub enum Undecided {
    /// Within the finest cells, or those that the work limit allows, it is neither shown to be kept nor seen to be violated.
    NotSettled {
        /// What.
        stop: StopId,
        /// Where.
        at: Place,
    },
    /// It is violated at a position of which it isn't known whether the wheel gets there.
    NotShownReachable {
        /// What.
        stop: StopId,
        /// Where.
        at: Place,
    },
    /// On the line of one rack position it is kept up to here and unknown beyond: the work limit was reached, or what was
    /// proved ends here.
    WorkLimit {
        /// What.
        stop: StopId,
        /// Kept up to here.
        at: Place,
    },
    /// The search ended before any intended stop was met.
    SearchEnded {
        /// Which way.
        direction: TravelDirection,
        /// Where.
        at: Place,
    },
    /// The search for the first contact ended before all was decided: at its work limit, or at a strip next to the end of
    /// reach that couldn't be proved.
    FirstContact {
        /// Which way.
        direction: TravelDirection,
        /// Of what kind.
        class: ContactClass,
        /// Nothing touches up to this travel at any rack position.
        proved_to_mm: f64,
        /// Where something was seen to touch beyond that, if it was: what lies between isn't known.
        touches_at_mm: Option<f64>,
    },
    /// A part of one side may come nearer to the truck's middle than the greatest required gap, or across it: the other
    /// side's moving parts aren't looked at there.
    AcrossMiddle {
        /// The part.
        part: String,
    },
    /// No pair of parts is watched.
    NothingWatched,
    /// parry3d contradicts a reported gap, contact or bracket end.
    SecondLook {
        /// Which, and what both say.
        by: Disagreement,
    },
    /// Two of the program's own searches contradict each other: a defect of the program.
    Contradiction {
        /// About what.
        stop: StopId,
        /// Where.
        at: Place,
    },
}

/// One requirement and how it ended.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Obligation {
    /// What must hold.
    #[serde(flatten)]
    pub requirement: Requirement,
    /// How it ended.
    #[serde(flatten)]
    pub outcome: Outcome,
}

/// What became of the pairs that are watched: `matched` is the sum of all the others.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct PairSums {
    /// Named by an entry of `watch`, a wheel's part against the frame's or the body's, or brought together by a setup.
    pub matched: usize,
    /// Moving pairs proved to keep their gap.
    pub moving_proved: usize,
    /// Moving pairs that don't.
    pub moving_violated: usize,
    /// Moving pairs of which neither could be shown.
    pub moving_undecided: usize,
    /// Pairs on bodies that don't move against each other, checked once.
    pub resting_checked: usize,
    /// Those of them that don't keep their gap: they are counted in `resting_checked` too.
    pub resting_violated: usize,
    /// Pairs left out by name.
    pub excluded: usize,
    /// Pairs of parts of one body, which is one rigid assembly.
    pub one_body: usize,
}

impl PairSums {
    /// Counts the requirements of pairs.
    pub fn of(obligations: &[Obligation], matched: usize, one_body: usize) -> PairSums {
        let mut sums = PairSums {
            matched,
            one_body,
            ..PairSums::default()
        };
        for obligation in obligations {
            let Requirement::Gap { at_rest, .. } = obligation.requirement else {
                continue;
            };
            if at_rest && matches!(obligation.outcome, Outcome::Violated { .. }) {
                sums.resting_violated += 1;
            }
            let count = match (&obligation.outcome, at_rest) {
                (Outcome::Excluded { .. }, _) => &mut sums.excluded,
                (_, true) => &mut sums.resting_checked,
                (Outcome::Proved, false) => &mut sums.moving_proved,
                (Outcome::Violated { .. }, false) => &mut sums.moving_violated,
                (Outcome::Undecided { .. }, false) => &mut sums.moving_undecided,
            };
            *count += 1;
        }
        sums
    }

    /// Whether nothing was lost.
    pub fn add_up(&self) -> bool {
        self.matched
            == self.moving_proved
                + self.moving_violated
                + self.moving_undecided
                + self.resting_checked
                + self.excluded
                + self.one_body
    }
}

/// Everything that was asked of one corner.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Verdict {
    /// Each requirement once.
    pub obligations: Vec<Obligation>,
    /// What became of the pairs that are watched.
    pub pairs: PairSums,
}

/// Clear if all of it is proved or left out by name; found if anything is violated; else not checked.
pub fn status_of(obligations: &[Obligation]) -> Status {
    let mut status = Status::Clear;
    for obligation in obligations {
        match obligation.outcome {
            Outcome::Violated { .. } => return Status::Found,
            Outcome::Undecided { .. } => status = Status::NotChecked,
            Outcome::Proved | Outcome::Excluded { .. } => {}
        }
    }
    status
}

impl Verdict {
    /// Clear if all is proved or left out by name; found if anything is violated; else not checked. Not checked too where
    /// the pairs don't add up, and where two ways to one number contradict each other: then no answer can be trusted.
    pub fn status(&self) -> Status {
        let is_at_odds = |why: &Undecided| {
            matches!(
                why,
                Undecided::SecondLook { .. } | Undecided::Contradiction { .. }
            )
        };
        if self.undecided().any(is_at_odds) {
            return Status::NotChecked;
        }
        let mut status = if self.pairs.add_up() {
            Status::Clear
        } else {
            Status::NotChecked
        };
        match status_of(&self.obligations) {
            Status::Clear => {}
            worse => status = worse,
        }
        status
    }

    /// Whether anything is violated.
    pub fn is_violated(&self) -> bool {
        self.violations().next().is_some()
    }

    /// What is violated, with where.
    pub fn violations(&self) -> impl Iterator<Item = (&Requirement, &StopId, Option<Place>)> {
        self.obligations.iter().filter_map(|o| match &o.outcome {
            Outcome::Violated { stop, at } => Some((&o.requirement, stop, *at)),
            _ => None,
        })
    }

    /// What is undecided, with why.
    pub fn undecided(&self) -> impl Iterator<Item = &Undecided> {
        self.obligations.iter().filter_map(|o| match &o.outcome {
            Outcome::Undecided { why } => Some(why),
            _ => None,
        })
    }
}
