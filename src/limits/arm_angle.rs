//! A stop on an arm: how far the arm may turn down (or up) from its measured place.

use super::{Reading, Unit, angle_deg, at_least, at_most};
use crate::numbers::{Real, turn};
use crate::suspension::{Linkage, Motion};
use nalgebra::Vector3;

/// Which arm.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WhichArm {
    /// The lower control arm.
    Lower,
    /// The upper control arm.
    Upper,
}

/// An arm-angle limit.
#[derive(Clone, Debug, PartialEq)]
pub struct ArmAngle {
    /// Which arm.
    pub arm: WhichArm,
    /// The arm's pivot axis, unit, turned so that a positive turn lifts the ball joint.
    pub axis: Vector3<f64>,
    /// The allowed turn, radians: the furthest down if negative, the furthest up if positive.
    pub limit: f64,
}

impl ArmAngle {
    /// Cosine and sine of the arm's turn, bump positive.
    fn turned<S: Real>(&self, linkage: &Linkage<S>) -> (S, S) {
        let motion = match self.arm {
            WhichArm::Lower => Motion::LowerArm,
            WhichArm::Upper => Motion::UpperArm,
        };
        let rotation = linkage.placement(motion).rotation;
        // A direction square to the axis, before and after.
        let spoke = super::cone::square_to(&self.axis, &Vector3::y());
        let side = self.axis.cross(&spoke);
        let moved = turn(&rotation, &spoke);
        let part = |d: &Vector3<f64>| crate::numbers::dot_plain(&moved, d);
        (part(&spoke), part(&side))
    }

    pub(super) fn reserve<S: Real>(&self, linkage: &Linkage<S>) -> S {
        // sin(turn - limit) has the sign of the difference for any useful angle.
        let (cos, sin) = self.turned(linkage);
        let past = sin.scale(self.limit.cos()) - cos.scale(self.limit.sin());
        if self.limit < 0.0 { past } else { -past }
    }

    pub(super) fn reading(&self, linkage: &Linkage<f64>) -> Reading {
        let (cos, sin) = self.turned(linkage);
        let value = angle_deg(cos, sin);
        let limit = self.limit.to_degrees();
        if self.limit < 0.0 {
            at_least(value, limit, Unit::Degree)
        } else {
            at_most(value, limit, Unit::Degree)
        }
    }
}
