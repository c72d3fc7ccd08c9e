//! The halfshaft joints' angles: shaft against output flange, shaft against knuckle.

use super::{Reading, Unit, at_most};
use crate::numbers::Real;
use crate::suspension::Linkage;

/// Which of the two joints.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum HalfshaftJoint {
    /// The plunging joint at the differential.
    Inner,
    /// The fixed joint in the knuckle.
    Outer,
}

/// A joint's greatest angle.
#[derive(Clone, Debug, PartialEq)]
pub struct JointAngle {
    /// Which joint.
    pub joint: HalfshaftJoint,
    /// Greatest angle, radians, below a quarter turn.
    pub limit: f64,
}

impl JointAngle {
    fn cos<S: Real>(&self, linkage: &Linkage<S>) -> S {
        match self.joint {
            HalfshaftJoint::Inner => linkage.inner_cos,
            HalfshaftJoint::Outer => linkage.outer_cos,
        }
    }

    pub(super) fn reserve<S: Real>(&self, linkage: &Linkage<S>) -> S {
        self.cos(linkage) - S::constant(self.limit.cos())
    }

    pub(super) fn reading(&self, linkage: &Linkage<f64>) -> Reading {
        let angle = self.cos(linkage).clamp(-1.0, 1.0).acos();
        at_most(angle.to_degrees(), self.limit.to_degrees(), Unit::Degree)
    }
}
