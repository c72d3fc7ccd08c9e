//! The inner joint's plunge: its two ends, and the angle it allows at each plunge.
//!
//! Joint makers publish the allowed field as a convex polygon of plunge against angle, standing on angle
//! zero: a joint may always be straight. So it is what lies between its two outermost plunges and below every
//! upper edge, a straight line of allowed angle against plunge. The outermost plunges are ends of the plunge
//! like those that the scene gives, in millimetres; where both are given the narrower one ends it. The upper
//! edges are the limit on the angle.
//!
//! An edge is kept while cos(shaft angle) stays above cos(allowed angle), which is smooth where the angle is
//! not. Cosine tells angles apart from 0 to half a turn only. Below that, where an edge's line allows less
//! than no angle, nothing is kept: a piece of its own says so. Above it, where the line of a steep edge has
//! long passed every angle that a joint can have, both angles are halved until they are told apart.

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

/// What is wrong with a plunge polygon.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum PolygonError {
    /// Fewer than three corners that differ, or all on one line.
    #[error("these corners do not make a field: they have no room between them")]
    NoRoom,
    /// Some corner lies on the wrong side of an edge.
    #[error("these corners do not make a convex field")]
    NotConvex,
    /// A lower edge lies above angle zero: the joint would have to be bent.
    #[error(
        "at plunge {plunge_mm:.2} mm the field begins at {:.1} deg and leaves out angle zero: no joint has to be bent",
        angle.to_degrees()
    )]
    Bent {
        /// Where it begins highest, mm.
        plunge_mm: f64,
        /// The least angle there, radians.
        angle: f64,
    },
}

/// Corners nearer to each other than this are one, mm of plunge and radians: below what anything is measured to.
const SAME_CORNER: (f64, f64) = (1.0e-6, 1.0e-8);
/// A corner this share of the polygon's size beyond an edge is rounding; the field is what lies inside every edge.
const CONVEX_SLACK: f64 = 1.0e-9;
/// A steeper edge, radians per mm, is a wall at its inner end: less than 2e-6 mm of plunge is lost from the top of the
/// field, and its line can still be computed.
const STEEPEST: f64 = 1.0e6;

/// A convex field of plunge (mm) against angle (radians) that stands on angle zero.
#[derive(Clone, Debug, PartialEq)]
pub struct PlungePolygon {
    /// Furthest inboard and outboard, mm.
    ends_mm: [f64; 2],
    /// Upper edges: the end with the lower angle, and the slope in radians per mm.
    upper: Vec<((f64, f64), f64)>,
}

impl PlungePolygon {
    /// From its corners (plunge mm, angle rad), in order around the field either way.
    ///
    /// # Errors
    /// [`PolygonError`] for corners that make no such field.
    pub fn from_corners(corners: &[(f64, f64)]) -> Result<PlungePolygon, PolygonError> {
        let is_same = |a: &(f64, f64), b: &(f64, f64)| {
            (a.0 - b.0).abs() <= SAME_CORNER.0 && (a.1 - b.1).abs() <= SAME_CORNER.1
        };
        let mut ring: Vec<(f64, f64)> = Vec::with_capacity(corners.len());
        for corner in corners {
            if ring.last().is_none_or(|last| !is_same(last, corner)) {
                ring.push(*corner);
            }
        }
        while ring.len() > 1 && is_same(&ring[0], &ring[ring.len() - 1]) {
            ring.pop();
        }
        let span = |of: fn(&(f64, f64)) -> f64| {
            let least = ring.iter().map(of).fold(f64::INFINITY, f64::min);
            let most = ring.iter().map(of).fold(f64::NEG_INFINITY, f64::max);
            [least, most]
        };
        let (plunges, angles) = (span(|c| c.0), span(|c| c.1));
        let size = (plunges[1] - plunges[0], angles[1] - angles[0]);
        let area: f64 = edges(&ring).map(|(a, b)| a.0 * b.1 - b.0 * a.1).sum();
        let has_room = area.abs() > CONVEX_SLACK * size.0 * size.1;
        if ring.len() < 3 || !has_room {
            return Err(PolygonError::NoRoom);
        }
        // Counter-clockwise in (plunge, angle), so that the field lies to the left of every edge.
        if area < 0.0 {
            ring.reverse();
        }
        let scaled = |from: &(f64, f64), to: &(f64, f64)| {
            ((to.0 - from.0) / size.0, (to.1 - from.1) / size.1)
        };
        for (a, b) in edges(&ring) {
            let along = scaled(&a, &b);
            let beyond = ring.iter().any(|c| {
                let to = scaled(&a, c);
                let left = along.0 * to.1 - along.1 * to.0;
                left < -CONVEX_SLACK * along.0.hypot(along.1)
            });
            if beyond {
                return Err(PolygonError::NotConvex);
            }
        }
        let mut ends_mm = plunges;
        let mut upper = Vec::new();
        let mut bent: Option<(f64, f64)> = None;
        for (a, b) in edges(&ring) {
            let (run, rise) = (b.0 - a.0, b.1 - a.1);
            if rise.abs() > STEEPEST * run.abs() {
                // Outboard walls run up, inboard ones down.
                if rise > 0.0 {
                    ends_mm[1] = ends_mm[1].min(a.0).min(b.0);
                } else {
                    ends_mm[0] = ends_mm[0].max(a.0).max(b.0);
                }
            } else if run < 0.0 {
                let lower = if a.1 < b.1 { a } else { b };
                upper.push((lower, rise / run));
            } else {
                let higher = if a.1 > b.1 { a } else { b };
                if higher.1 > 0.0 && bent.is_none_or(|(_, angle)| angle < higher.1) {
                    bent = Some(higher);
                }
            }
        }
        if let Some((plunge_mm, angle)) = bent {
            return Err(PolygonError::Bent { plunge_mm, angle });
        }
        if upper.is_empty() || ends_mm[0] >= ends_mm[1] {
            return Err(PolygonError::NoRoom);
        }
        Ok(PlungePolygon { ends_mm, upper })
    }

    /// Its outermost plunges, inboard and outboard, mm.
    pub fn ends_mm(&self) -> [f64; 2] {
        self.ends_mm
    }

    /// The limit on the angle that its upper edges make. It is the field itself between the polygon's outermost
    /// plunges; `other_ends_mm` are the plunge's other ends, so that it is exact up to those too.
    pub fn angle_limit(&self, other_ends_mm: [f64; 2]) -> PlungeAngle {
        let range = [
            self.ends_mm[0].min(other_ends_mm[0]),
            self.ends_mm[1].max(other_ends_mm[1]),
        ];
        let edges = self.upper.iter().map(|(at, slope)| {
            let edge = UpperEdge {
                at: *at,
                slope: *slope,
                halvings: 0,
            };
            let greatest = edge.allowed(range[0]).max(edge.allowed(range[1]));
            let halvings = (greatest / std::f64::consts::PI).log2().ceil().max(0.0);
            UpperEdge {
                halvings: halvings as i32,
                ..edge
            }
        });
        let ends = |rises: bool| {
            let edges = self.upper.iter();
            edges
                .filter(move |(_, slope)| (*slope > 0.0) == rises && *slope != 0.0)
                .map(|((plunge, angle), slope)| plunge - angle / slope)
        };
        PlungeAngle {
            edges: edges.collect(),
            none_mm: [
                ends(true).fold(f64::NEG_INFINITY, f64::max),
                ends(false).fold(f64::INFINITY, f64::min),
            ],
        }
    }
}

/// The edges of a ring of corners.
fn edges(ring: &[(f64, f64)]) -> impl Iterator<Item = ((f64, f64), (f64, f64))> + '_ {
    (0..ring.len()).map(|i| (ring[i], ring[(i + 1) % ring.len()]))
}

/// An upper edge of the polygon.
#[derive(Clone, Copy, Debug, PartialEq)]
struct UpperEdge {
    /// A corner on it: plunge mm, angle rad.
    at: (f64, f64),
    /// Radians per mm of plunge.
    slope: f64,
    /// How often both angles are halved before their cosines are compared.
    halvings: i32,
}

impl UpperEdge {
    /// The angle on its line, radians; below zero past the plunge at which it allows none.
    fn allowed<S: Real>(&self, plunge_mm: S) -> S {
        (plunge_mm - S::constant(self.at.0)).scale(self.slope) + S::constant(self.at.1)
    }

    /// Above zero exactly while the angle is below the line, where the line allows an angle at all.
    fn reserve<S: Real>(&self, linkage: &Linkage<S>) -> S {
        let allowed = self.allowed(linkage.plunge_mm);
        if self.halvings == 0 {
            return linkage.inner_cos - allowed.sin_cos().1;
        }
        // One less the cosine, of half the angle each time, without losing digits: with v = 1 - cos a,
        // 1 - cos (a/2) = 1 - sqrt(1 - v/2) = (v/2) / (1 + sqrt(1 - v/2)).
        let mut versine = S::one() - linkage.inner_cos;
        for _ in 0..self.halvings {
            let half = versine.scale(0.5);
            versine = half / (S::one() + (S::one() - half).sqrt());
        }
        let sin = allowed.scale(0.5_f64.powi(self.halvings + 1)).sin_cos().0;
        // Each halving makes it four times smaller; a steep line makes rounding of the plunge larger.
        let size = 4.0_f64.powi(self.halvings) / self.slope.abs().max(1.0);
        (sin.square().scale(2.0) - versine).scale(size)
    }
}

/// The inner joint's angle against plunge: the upper edges of the plunge polygon.
#[derive(Clone, Debug, PartialEq)]
pub struct PlungeAngle {
    edges: Vec<UpperEdge>,
    /// Plunges, inboard and outboard, past which some edge's line allows no angle; infinite where none falls that way.
    none_mm: [f64; 2],
}

impl PlungeAngle {
    /// The plunges past which no angle is allowed.
    fn ends(&self) -> impl Iterator<Item = PlungeEnd> {
        let [inner, outer] = self.none_mm;
        let inner = inner.is_finite().then_some(PlungeEnd::Inner(inner));
        let outer = outer.is_finite().then_some(PlungeEnd::Outer(outer));
        inner.into_iter().chain(outer)
    }

    pub(super) fn pieces(&self) -> usize {
        self.edges.len() + self.ends().count()
    }

    pub(super) fn reserve<S: Real>(&self, piece: usize, linkage: &Linkage<S>) -> S {
        let end = |i: usize| self.ends().nth(i).map(|end| end.reserve(linkage));
        match self.edges.get(piece) {
            Some(edge) => edge.reserve(linkage),
            // Beyond the last piece there is none that could be violated.
            None => end(piece - self.edges.len()).unwrap_or_else(S::one),
        }
    }

    /// The allowed angle at a plunge, radians; below zero where none is.
    pub fn allowed(&self, plunge_mm: f64) -> f64 {
        let edges = self.edges.iter();
        edges
            .map(|edge| edge.allowed(plunge_mm))
            .fold(f64::INFINITY, f64::min)
    }

    pub(super) fn reading(&self, linkage: &Linkage<f64>) -> Reading {
        let angle = linkage.inner_cos.clamp(-1.0, 1.0).acos();
        let allowed = self.allowed(linkage.plunge_mm);
        at_most(angle.to_degrees(), allowed.to_degrees(), Unit::Degree)
    }
}
