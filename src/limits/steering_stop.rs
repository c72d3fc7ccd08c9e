//! The steering stop at the knuckle: how far the wheel may be steered to one side.

use super::{Reading, Unit, at_least, at_most};
use crate::numbers::Real;
use crate::suspension::{Linkage, Motion};
use nalgebra::Vector3;

/// A steering-stop limit.
#[derive(Clone, Debug, PartialEq)]
pub struct SteeringStop {
    /// Spindle axis in the knuckle, unit, outboard.
    pub spindle: Vector3<f64>,
    /// +1 where outboard is +y.
    pub outboard: f64,
    /// The wheel's steer allowed, radians: to the left if positive, to the right if negative.
    pub limit: f64,
}

impl SteeringStop {
    /// The wheel's heading, horizontal, (forward, left), not normalised.
    fn heading<S: Real>(&self, linkage: &Linkage<S>) -> (S, S) {
        let spindle = linkage.placement(Motion::Knuckle).direction(&self.spindle);
        // spindle x up, outboard: forward.
        (
            spindle.y.scale(self.outboard),
            -spindle.x.scale(self.outboard),
        )
    }

    pub(super) fn reserve<S: Real>(&self, linkage: &Linkage<S>) -> S {
        let (forward, left) = self.heading(linkage);
        let past = left.scale(self.limit.cos()) - forward.scale(self.limit.sin());
        if self.limit > 0.0 { -past } else { past }
    }

    pub(super) fn reading(&self, linkage: &Linkage<f64>) -> Reading {
        let (forward, left) = self.heading(linkage);
        let value = left.atan2(forward).to_degrees();
        let limit = self.limit.to_degrees();
        if self.limit > 0.0 {
            at_most(value, limit, Unit::Degree)
        } else {
            at_least(value, limit, Unit::Degree)
        }
    }
}
