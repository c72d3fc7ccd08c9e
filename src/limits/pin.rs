//! A rod end on its stud, or a damper eye on its pin.
//!
//! The rod may roll about its own length without anything noticing, so only the angle between pin and
//! rod counts: it may differ from a square angle (or another rest angle) by the half angle.

use super::{Reading, Unit, at_most};
use crate::numbers::Real;
use crate::suspension::{Linkage, Motion};
use nalgebra::Vector3;

/// Which rod.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Rod {
    /// The tie rod.
    TieRod,
    /// The damper.
    Damper,
}

/// A pin limit.
#[derive(Clone, Debug, PartialEq)]
pub struct Pin {
    /// The body that carries the pin or stud.
    pub carrier: Motion,
    /// The pin's axis on it, unit, body coordinates.
    pub pin_axis: Vector3<f64>,
    /// The rod.
    pub rod: Rod,
    /// Angle between pin and rod at rest, radians.
    pub rest: f64,
    /// Greatest difference from it, radians.
    pub half_angle: f64,
}

impl Pin {
    fn cos<S: Real>(&self, linkage: &Linkage<S>) -> S {
        let pin = linkage.placement(self.carrier).direction(&self.pin_axis);
        match self.rod {
            Rod::TieRod => pin.dot(&linkage.tie_rod_direction),
            Rod::Damper => pin.dot(&linkage.damper_direction),
        }
    }

    pub(super) fn reserve<S: Real>(&self, linkage: &Linkage<S>) -> S {
        // cos(rest + half) <= cos <= cos(rest - half), as one parabola: positive between its roots.
        let cos = self.cos(linkage);
        let low = S::constant(
            (self.rest + self.half_angle)
                .min(std::f64::consts::PI)
                .cos(),
        );
        let high = S::constant((self.rest - self.half_angle).max(0.0).cos());
        (cos - low) * (high - cos)
    }

    pub(super) fn reading(&self, linkage: &Linkage<f64>) -> Reading {
        let angle = self.cos(linkage).clamp(-1.0, 1.0).acos();
        let lean = (angle - self.rest).abs();
        at_most(
            lean.to_degrees(),
            self.half_angle.to_degrees(),
            Unit::Degree,
        )
    }
}
