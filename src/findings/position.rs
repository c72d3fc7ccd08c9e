//! One position, everything about it.

use super::Obligation;
use crate::limits::Unit;
use crate::suspension::Side;
use serde::{Deserialize, Serialize};
use std::borrow::Cow;
use std::collections::BTreeMap;

/// A limit's state.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LimitState {
    /// Its name.
    pub name: String,
    /// What is.
    pub value: f64,
    /// What is allowed.
    pub limit: f64,
    /// What these are counted in.
    pub unit: Unit,
    /// What is left; below zero when exceeded.
    pub margin: f64,
    /// Whether a maker means the wheel to stop here.
    pub intended: bool,
}

/// A watched pair's gap.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct GapFound {
    /// First part.
    pub a: String,
    /// Second part.
    pub b: String,
    /// The gap; zero where they touch or overlap.
    pub gap_mm: f64,
    /// The gap that must remain.
    pub required_mm: f64,
    /// Nearest point of the first part, vehicle coordinates.
    pub point_a_mm: [f64; 3],
    /// Nearest point of the second part, vehicle coordinates.
    pub point_b_mm: [f64; 3],
    /// Unit vector from the first to the second; zeros where they touch.
    pub normal: [f64; 3],
}

/// Everything about one position.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PositionFindings {
    /// The truck.
    pub truck: String,
    /// What the truck that was built wants said.
    pub warnings: Vec<String>,
    /// The corner.
    pub side: Side,
    /// Wheel travel from the measured position, bump positive.
    pub travel_mm: f64,
    /// Rack, toward +y positive.
    pub rack_mm: f64,
    /// Hardpoints as moved, vehicle coordinates.
    pub points_mm: BTreeMap<Cow<'static, str>, [f64; 3]>,
    /// Inclination of the wheel plane, top outward positive.
    pub camber_deg: f64,
    /// The same as seen from the front.
    pub camber_front_view_deg: f64,
    /// Toe-in positive.
    pub toe_deg: f64,
    /// Left positive.
    pub steer_deg: f64,
    /// Top rearward positive.
    pub caster_deg: f64,
    /// Top inward positive.
    pub kingpin_inclination_deg: f64,
    /// Kingpin axis inboard of the tyre's contact centre positive.
    pub scrub_radius_mm: f64,
    /// Kingpin axis ahead of it positive.
    pub caster_trail_mm: f64,
    /// Damper travel over wheel travel at this rack position.
    pub motion_ratio: f64,
    /// Change of toe with wheel travel.
    pub bump_steer_deg_per_mm: f64,
    /// Inner joint's angle.
    pub inner_joint_deg: f64,
    /// Outer joint's angle.
    pub outer_joint_deg: f64,
    /// Plunge, outboard positive.
    pub plunge_mm: f64,
    /// Damper length, eye to eye.
    pub damper_mm: f64,
    /// How much the tripod's orbit widens the halfshaft's swept radius.
    pub orbit_mm: f64,
    /// Every limit.
    pub stops: Vec<LimitState>,
    /// Every watched pair.
    pub gaps: Vec<GapFound>,
    /// What is the same at every position, and whether the side's own parts stand on their side here.
    pub standing: Vec<Obligation>,
    /// The same gaps asked again of parry3d.
    pub second_look: super::SecondLook,
}
