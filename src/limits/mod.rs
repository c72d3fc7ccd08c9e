//! Everything that stops the wheel besides metal: lengths, joint angles, plunge, cones, arm and steer
//! angles.
//!
//! Each limit does two things. [`Limit::reading`] says what a person wants to know at one position:
//! value, limit, unit, margin. [`Limit::reserve`] gives the sweep a smooth number that is above zero
//! exactly while the limit is kept, over any [`Real`], so that its rate can be enclosed: angles
//! appear as cosines, because the angle itself has no derivative at zero.
//!
//! Reads: a placed [`Linkage`]. Produces: readings and reserves. Next: [`crate::clearance`] for
//! gaps, then [`crate::sweep`].

mod arm_angle;
mod boot;
mod cone;
mod joint_angle;
mod length;
mod limit_id;
mod need;
mod pin;
mod plunge;
mod steering_stop;

pub use arm_angle::{ArmAngle, WhichArm};
pub use boot::BootSide;
pub use cone::{Cone, square_to};
pub use joint_angle::{HalfshaftJoint, JointAngle};
pub use length::{Bound, Length, Span};
pub use limit_id::LimitId;
pub use need::{Lack, Need, Needs, RideHeight, When};
pub use pin::{Pin, Rod};
pub use plunge::{PlungeAngle, PlungeEnd, PlungePolygon, PolygonError};
pub use steering_stop::SteeringStop;

use crate::numbers::Real;
use crate::suspension::Linkage;
use serde::{Deserialize, Serialize};

/// What a limit is measured in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Unit {
    /// Millimetres.
    #[serde(rename = "mm")]
    Millimetre,
    /// Degrees.
    #[serde(rename = "deg")]
    Degree,
}

impl Unit {
    /// As written in files.
    pub fn name(self) -> &'static str {
        match self {
            Unit::Millimetre => "mm",
            Unit::Degree => "deg",
        }
    }
}

/// A limit's state at one position: an edge type, in its own unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// What is.
    pub value: f64,
    /// What is allowed.
    pub limit: f64,
    /// What is left; below zero when exceeded.
    pub margin: f64,
    /// The unit of all three.
    pub unit: Unit,
}

/// A limit of one corner.
#[derive(Clone, Debug, PartialEq)]
pub struct Limit {
    /// Which.
    pub id: LimitId,
    /// Whether a maker means the wheel to stop here (damper, bump stop, strap) or it is a bind.
    pub intended: bool,
    /// What is limited.
    pub kind: LimitKind,
}

/// The kinds of limit, one file each.
#[derive(Clone, Debug, PartialEq)]
pub enum LimitKind {
    /// A distance between two points, from above or below.
    Length(Length),
    /// Inner or outer joint's angle.
    JointAngle(JointAngle),
    /// An end of the inner joint's plunge.
    PlungeEnd(PlungeEnd),
    /// Inner joint's angle against plunge.
    PlungeAngle(PlungeAngle),
    /// A ball joint's cone.
    Cone(Cone),
    /// A rod end or damper eye on its pin.
    Pin(Pin),
    /// An arm's own angle stop.
    ArmAngle(ArmAngle),
    /// The steering stop at the knuckle.
    SteeringStop(SteeringStop),
    /// A boot's stretched or folded side.
    BootSide(BootSide),
}

impl Limit {
    /// As printed, for example `damper extended`.
    pub fn name(&self) -> String {
        self.id.name()
    }

    /// How many smooth pieces the reserve has: the limit is kept while all are above zero.
    pub fn pieces(&self) -> usize {
        match &self.kind {
            LimitKind::PlungeAngle(limit) => limit.pieces(),
            LimitKind::BootSide(_) => 2,
            _ => 1,
        }
    }

    /// Reserve of one piece: above zero while kept, zero at the limit.
    pub fn reserve<S: Real>(&self, piece: usize, linkage: &Linkage<S>) -> S {
        match &self.kind {
            LimitKind::Length(limit) => limit.reserve(linkage),
            LimitKind::JointAngle(limit) => limit.reserve(linkage),
            LimitKind::PlungeEnd(limit) => limit.reserve(linkage),
            LimitKind::PlungeAngle(limit) => limit.reserve(piece, linkage),
            LimitKind::Cone(limit) => limit.reserve(linkage),
            LimitKind::Pin(limit) => limit.reserve(linkage),
            LimitKind::ArmAngle(limit) => limit.reserve(linkage),
            LimitKind::SteeringStop(limit) => limit.reserve(linkage),
            LimitKind::BootSide(limit) => limit.reserve(piece, linkage),
        }
    }

    /// Value, limit and margin as a person reads them.
    pub fn reading(&self, linkage: &Linkage<f64>) -> Reading {
        match &self.kind {
            LimitKind::Length(limit) => limit.reading(linkage),
            LimitKind::JointAngle(limit) => limit.reading(linkage),
            LimitKind::PlungeEnd(limit) => limit.reading(linkage),
            LimitKind::PlungeAngle(limit) => limit.reading(linkage),
            LimitKind::Cone(limit) => limit.reading(linkage),
            LimitKind::Pin(limit) => limit.reading(linkage),
            LimitKind::ArmAngle(limit) => limit.reading(linkage),
            LimitKind::SteeringStop(limit) => limit.reading(linkage),
            LimitKind::BootSide(limit) => limit.reading(linkage),
        }
    }
}

/// A reading bounded from above.
fn at_most(value: f64, limit: f64, unit: Unit) -> Reading {
    Reading {
        value,
        limit,
        margin: limit - value,
        unit,
    }
}

/// A reading bounded from below.
fn at_least(value: f64, limit: f64, unit: Unit) -> Reading {
    Reading {
        value,
        limit,
        margin: value - limit,
        unit,
    }
}

/// The angle whose cosine and sine are known up to a common factor, degrees.
fn angle_deg(cos: f64, sin: f64) -> f64 {
    sin.atan2(cos).to_degrees()
}
