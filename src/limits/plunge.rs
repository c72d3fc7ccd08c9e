//! The inner joint's plunge: its two ends, and the angle it allows at each plunge.
//!
//! Joint makers publish the allowed field as a polygon of plunge against angle. Its upper edges are
//! straight lines angle = offset + slope * plunge; the field is convex, so the allowed angle is the
//! least of them. An edge is kept while cos(shaft angle) stays above cos(offset + slope * plunge).

use super::{Reading, Unit, at_least, at_most};
use crate::numbers::Real;
use crate::suspension::Linkage;

/// One end of the plunge, mm, outboard positive.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum PlungeEnd {
    /// The spider may go no further inboard than this.
    Inner(f64),
    /// The spider may go no further outboard than this.
    Outer(f64),
}

impl PlungeEnd {
    pub(super) fn reserve<S: Real>(&self, linkage: &Linkage<S>) -> S {
        match self {
            PlungeEnd::Inner(end) => linkage.plunge_mm - S::constant(*end),
            PlungeEnd::Outer(end) => S::constant(*end) - linkage.plunge_mm,
        }
    }

    pub(super) fn reading(&self, linkage: &Linkage<f64>) -> Reading {
        match self {
            PlungeEnd::Inner(end) => at_least(linkage.plunge_mm, *end, Unit::Millimetre),
            PlungeEnd::Outer(end) => at_most(linkage.plunge_mm, *end, Unit::Millimetre),
        }
    }
}

/// Upper edges of the plunge polygon.
#[derive(Clone, Debug, PartialEq)]
pub struct PlungeAngle {
    /// Each edge as (offset in radians, slope in radians per mm of plunge).
    edges: Vec<(f64, f64)>,
}

impl PlungeAngle {
    /// From corners (plunge mm, angle rad) of a convex polygon: its upper edges. `None` if the
    /// corners make no convex field above angle zero.
    pub fn from_polygon(corners: &[(f64, f64)]) -> Option<PlungeAngle> {
        let n = corners.len();
        if n < 3 {
            return None;
        }
        let turn = |i: usize| {
            let (a, b, c) = (corners[i], corners[(i + 1) % n], corners[(i + 2) % n]);
            (b.0 - a.0) * (c.1 - b.1) - (b.1 - a.1) * (c.0 - b.0)
        };
        let area: f64 = (0..n)
            .map(|i| {
                let (a, b) = (corners[i], corners[(i + 1) % n]);
                a.0 * b.1 - b.0 * a.1
            })
            .sum();
        if area == 0.0 || (0..n).any(|i| turn(i) * area.signum() < -1.0e-12) {
            return None;
        }
        let mut edges = Vec::new();
        for i in 0..n {
            let (a, b) = (corners[i], corners[(i + 1) % n]);
            // Counter-clockwise in (plunge, angle), upper edges run toward smaller plunge.
            let run = (b.0 - a.0) * area.signum();
            if run < -1.0e-9 {
                let slope = (b.1 - a.1) / (b.0 - a.0);
                edges.push((a.1 - slope * a.0, slope));
            }
        }
        (!edges.is_empty()).then_some(PlungeAngle { edges })
    }

    pub(super) fn pieces(&self) -> usize {
        self.edges.len()
    }

    pub(super) fn reserve<S: Real>(&self, piece: usize, linkage: &Linkage<S>) -> S {
        let (offset, slope) = self.edges[piece];
        let allowed = S::constant(offset) + linkage.plunge_mm.scale(slope);
        linkage.inner_cos - allowed.sin_cos().1
    }

    /// The allowed angle at a plunge, radians.
    pub fn allowed(&self, plunge_mm: f64) -> f64 {
        self.edges
            .iter()
            .map(|(offset, slope)| offset + slope * plunge_mm)
            .fold(f64::INFINITY, f64::min)
            .max(0.0)
    }

    pub(super) fn reading(&self, linkage: &Linkage<f64>) -> Reading {
        let angle = linkage.inner_cos.clamp(-1.0, 1.0).acos();
        let allowed = self.allowed(linkage.plunge_mm);
        at_most(angle.to_degrees(), allowed.to_degrees(), Unit::Degree)
    }
}
