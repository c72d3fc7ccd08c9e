//! A distance that may not grow, or shrink, past a limit: damper extended and compressed, bump stop,
//! strap, hose. Measured straight between the two points.

use super::{Reading, Unit, at_least, at_most};
use crate::numbers::{Real, length_squared};
use crate::suspension::{Linkage, Motion};
use nalgebra::Vector3;

/// What is measured.
#[derive(Clone, Debug, PartialEq)]
pub enum Span {
    /// The damper, eye to eye.
    Damper,
    /// Two points on two bodies, body coordinates.
    Between((Motion, Vector3<f64>), (Motion, Vector3<f64>)),
}

/// Which way the limit holds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Bound {
    /// No longer than this, mm.
    AtMost(f64),
    /// No shorter than this, mm.
    AtLeast(f64),
}

/// A length limit.
#[derive(Clone, Debug, PartialEq)]
pub struct Length {
    /// What is measured.
    pub span: Span,
    /// What it may be.
    pub bound: Bound,
}

impl Span {
    /// The distance, straight, mm.
    pub fn length<S: Real>(&self, linkage: &Linkage<S>) -> S {
        match self {
            Span::Damper => linkage.damper_mm,
            Span::Between((a, p), (b, q)) => {
                let ends = linkage.placement(*a).point(p) - linkage.placement(*b).point(q);
                length_squared(&ends).sqrt()
            }
        }
    }
}

impl Length {
    pub(super) fn reserve<S: Real>(&self, linkage: &Linkage<S>) -> S {
        let length = self.span.length(linkage);
        match self.bound {
            Bound::AtMost(limit) => S::constant(limit) - length,
            Bound::AtLeast(limit) => length - S::constant(limit),
        }
    }

    pub(super) fn reading(&self, linkage: &Linkage<f64>) -> Reading {
        let length = self.span.length(linkage);
        match self.bound {
            Bound::AtMost(limit) => at_most(length, limit, Unit::Millimetre),
            Bound::AtLeast(limit) => at_least(length, limit, Unit::Millimetre),
        }
    }
}
