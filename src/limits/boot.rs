//! A joint's boot, between its cup and the shaft: how far it is stretched along the outer side of the bend, and folded
//! along the inner one.
//!
//! In the plane of the bend, with `a` the joint's axis toward the shaft and `w` the shaft's direction, angle `t` between
//! them: the cup's rim stands at `c a` with radius R, the shaft's ring at `p a + s w` with radius r (p the plunge). With
//! k = p - c the side's length squared is A + 2 (k s - R r) cos t +- 2 (k r + R s) sin t, A = k^2 + s^2 + R^2 + r^2: the
//! sum on the outer side, the difference on the inner one. It is the greatest all round, since between both sides the
//! square is convex in the cosine of the place on the rim. The sine has no derivative at zero, so that a limit L is kept
//! while X = +-(L^2 - A - 2 (k s - R r) cos t) and X^2 - 4 (k r + R s)^2 sin^2 t are above zero: two smooth pieces.

use super::{HalfshaftJoint, Reading, Unit, at_least, at_most};
use crate::numbers::Real;
use crate::suspension::Linkage;

/// A boot's limit.
#[derive(Clone, Debug, PartialEq)]
pub struct BootSide {
    /// The joint that it covers.
    pub joint: HalfshaftJoint,
    /// Where the cup's rim stands from the joint's centre toward the shaft, mm.
    pub cup_at_mm: f64,
    /// The rim's radius, mm.
    pub cup_radius_mm: f64,
    /// Where the ring on the shaft stands from the joint's centre, mm.
    pub shaft_at_mm: f64,
    /// The ring's radius, mm.
    pub shaft_radius_mm: f64,
    /// The length of a side, mm.
    pub limit_mm: f64,
    /// Whether the outer side may be no longer; else the inner side may be no shorter.
    pub is_stretch: bool,
}

impl BootSide {
    /// A + 2 (k s - R r) cos t, k r + R s and cos t.
    fn terms<S: Real>(&self, linkage: &Linkage<S>) -> (S, S, S) {
        let (plunge, cos) = match self.joint {
            HalfshaftJoint::Inner => (linkage.plunge_mm, linkage.inner_cos),
            HalfshaftJoint::Outer => (S::constant(0.0), linkage.outer_cos),
        };
        let (big, small, s) = (self.cup_radius_mm, self.shaft_radius_mm, self.shaft_at_mm);
        let k = plunge - S::constant(self.cup_at_mm);
        let a = k.square() + S::constant(s * s + big * big + small * small);
        let even = a + ((k.scale(s) - S::constant(big * small)) * cos).scale(2.0);
        (even, k.scale(small) + S::constant(big * s), cos)
    }

    pub(super) fn reserve<S: Real>(&self, piece: usize, linkage: &Linkage<S>) -> S {
        let (even, across, cos) = self.terms(linkage);
        let sign = if self.is_stretch { 1.0 } else { -1.0 };
        let room = (S::constant(self.limit_mm * self.limit_mm) - even).scale(sign);
        let sin_squared = S::one() - cos.square();
        match piece {
            0 => room,
            _ => room.square() - (across.square() * sin_squared).scale(4.0),
        }
    }

    pub(super) fn reading(&self, linkage: &Linkage<f64>) -> Reading {
        let (even, across, cos) = self.terms(linkage);
        let odd = 2.0 * across.abs() * (1.0 - cos * cos).max(0.0).sqrt();
        let side = |squared: f64| squared.max(0.0).sqrt();
        match self.is_stretch {
            true => at_most(side(even + odd), self.limit_mm, Unit::Millimetre),
            false => at_least(side(even - odd), self.limit_mm, Unit::Millimetre),
        }
    }
}
