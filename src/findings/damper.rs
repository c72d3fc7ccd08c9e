//! How long a damper may be.

use super::{Obligation, StopId};
use crate::suspension::Side;
use serde::{Deserialize, Serialize};
use std::borrow::Cow;

/// A length that keeps the margin at every steering angle, with what forbids more.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LengthFound {
    /// Proved safe: with this length the margin is kept at every steering angle between the locks. None where no
    /// length is, or none could be shown to be.
    pub safe_mm: Option<f64>,
    /// With this length it is not, at the position below. None where nothing else stops the wheel as far as was
    /// looked.
    pub refuted_mm: Option<f64>,
    /// What stops the wheel there.
    pub stop: Option<StopId>,
    /// Wheel travel at which it does, bump positive.
    pub travel_mm: Option<f64>,
    /// At this rack position.
    pub rack_mm: Option<f64>,
    /// Wheel steer there, left positive.
    pub steer_deg: Option<f64>,
    /// What is fitted.
    pub fitted_mm: Option<f64>,
    /// How much longer what is fitted could be (for the crushed length: shorter); below zero where it is beyond
    /// what is safe.
    pub spare_mm: Option<f64>,
}

/// What changing the part in the way would give.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Gain {
    /// Stops taken away to get here, one after the other.
    pub without: Vec<StopId>,
    /// The length that is then safe; none where none is yet.
    pub safe_mm: Option<f64>,
    /// How much longer that is than before, where a length was safe before.
    pub longer_mm: Option<f64>,
    /// How much further the wheel droops straight ahead.
    pub travel_mm: Option<f64>,
    /// What then stops it.
    pub next_stop: Option<StopId>,
}

/// The damper crushed in bump.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Crush {
    /// The damper's length at which the bump stop is fully crushed; with a stop that has two ends of its own, the least
    /// over the rack positions that were looked at.
    pub bump_stop_crushed_mm: Option<f64>,
    /// Length of the damper fully closed, spacers on top included.
    pub closed_mm: f64,
    /// Room left in the body when the bump stop is crushed; below zero the body bottoms first.
    pub spare_mm: Option<f64>,
    /// The shortest length that keeps the margin in bump before anything else stops the wheel: the bump stop
    /// must be crushed at no less.
    pub shortest: LengthFound,
    /// For a bump stop with two ends of its own the same as a distance between these.
    pub pad: Option<LengthFound>,
}

/// The body to order for the longest safe damper, spacers taken off.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct BodyToOrder {
    /// Total length of the spacers fitted, which the body is shorter by.
    pub spacers_mm: f64,
    /// The body's own length extended, at most.
    pub extended_mm: f64,
    /// Its own length closed, if body and rod share what it is longer than the one fitted.
    pub closed_mm: f64,
    /// How it closes against the bump stop; none without one, or where that isn't crushed as far as was looked.
    pub bump_stop: Option<BodyAgainstStop>,
}

/// How a body to order closes against the bump stop, which stays where it is unless it sits on the rod.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct BodyAgainstStop {
    /// Room left in that body when the bump stop is crushed; below zero the body bottoms first.
    pub spare_mm: f64,
    /// The body's own length closed that leaves just none.
    pub closed_at_most_mm: f64,
    /// The longest body of that kind, extended by itself, that doesn't bottom first.
    pub extended_at_most_mm: f64,
}

impl BodyToOrder {
    /// Whether it would bottom before the bump stop is crushed.
    pub fn bottoms_first(&self) -> bool {
        self.bump_stop.is_some_and(|against| against.spare_mm < 0.0)
    }
}

/// One corner.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CornerDamper {
    /// Which.
    pub side: Side,
    /// The damper's total length extended: body and spacers.
    pub damper: LengthFound,
    /// The body alone, where a length is safe.
    pub body: Option<BodyToOrder>,
    /// Wheel travel straight ahead at which the longest safe damper is extended, bump positive.
    pub droop_at_safe_mm: Option<f64>,
    /// What the next parts in the way are, and what changing them would give.
    pub gains: Vec<Gain>,
    /// The limit strap, where there is one.
    pub strap: Option<LengthFound>,
    /// The damper crushed.
    pub crush: Crush,
    /// What could not be decided.
    pub undecided: Vec<String>,
    /// What is the same at every position, and whether the side's own parts stay on their side.
    pub standing: Vec<Obligation>,
}

/// What ends the droop before anything else does, with the margin kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DroopEnd {
    /// The damper extended, and the limit strap where there is one.
    Either,
    /// The damper alone: the strap is longer than it may be by itself.
    Damper,
    /// The limit strap alone: the damper is longer than it may be by itself.
    Strap,
    /// Neither.
    Neither,
}

impl CornerDamper {
    /// Which of damper and strap ends the droop in time. The wheel goes no further than the first of them lets it.
    pub fn ends_droop(&self) -> DroopEnd {
        let is_kept = |length: &LengthFound| length.spare_mm.is_some_and(|spare| spare >= 0.0);
        let damper = is_kept(&self.damper);
        match self.strap.as_ref().map(is_kept) {
            None | Some(true) if damper => DroopEnd::Either,
            Some(false) if damper => DroopEnd::Damper,
            Some(true) => DroopEnd::Strap,
            None | Some(false) => DroopEnd::Neither,
        }
    }
}

/// The whole truck: the side that allows less leads.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct DamperFindings {
    /// The truck.
    pub truck: String,
    /// Margin asked for, as wheel travel.
    pub margin_mm: f64,
    /// Width of every bracket.
    pub tolerance_mm: f64,
    /// The side that allows less.
    pub worse: CornerDamper,
    /// The other where it was built.
    pub other: Option<CornerDamper>,
    /// What a person should know before trusting the result.
    pub warnings: Vec<String>,
    /// Cautions.
    pub cautions: Vec<Cow<'static, str>>,
}
