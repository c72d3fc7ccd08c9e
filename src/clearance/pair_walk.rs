//! Both trees of a pair walked at once: exact gaps, and proofs over cells.
//!
//! The idea in five lines. Two nodes whose boxes are further apart than what matters are skipped; else
//! the larger is opened. For an exact gap, what matters is the best distance so far, warm-started
//! from the last closest elements. For a proof, it is the level asked for plus how far the moving
//! node can travel over the cell, which is a threshold question and far cheaper. At a pair of elements
//! the proof weighs every moving corner's displacement along the parting plane's normal.
//!
//! Sources: E. Larsen et al., TR99-018, UNC 1999 (walk of both trees); M. Tang, Y. J. Kim,
//! D. Manocha, "C2A: Controlled conservative advancement", ICRA 2009 (motion bounds per node).

use super::distance::{closest_elements, slab_width};
use crate::kinematics::CellField;
use crate::shapes::{ElementKind, Node, Surface};
use nalgebra::{Matrix3, Vector3};

/// The moving shape's frame seen from the fixed one's: `fixed = rotation * moving + offset`.
#[derive(Clone, Copy, Debug)]
pub struct Relative {
    /// Rotation.
    pub rotation: Matrix3<f64>,
    /// Offset, mm.
    pub offset: Vector3<f64>,
}

impl Relative {
    /// A moving point in the fixed frame.
    #[inline]
    pub fn point(&self, p: &Vector3<f64>) -> Vector3<f64> {
        self.rotation * p + self.offset
    }
}

/// A gap with its points, in the fixed shape's frame.
#[derive(Clone, Copy, Debug)]
pub struct Gap {
    /// Between the rounded solids, facet errors taken off, never below zero, mm.
    pub gap_mm: f64,
    /// Between the elements, before rounding and facet error are taken off, mm.
    pub core_mm: f64,
    /// Nearest element point of the fixed shape.
    pub fixed_point: Vector3<f64>,
    /// Nearest element point of the moving shape.
    pub moving_point: Vector3<f64>,
    /// The two elements.
    pub elements: (u32, u32),
}

/// What could be shown about a cell.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum CellProof {
    /// Over the whole cell the gap stays at or above the level.
    Above,
    /// Over the whole cell one pair of points stays below it.
    Below,
    /// Neither; the elements that stood in the way.
    Open(u32, u32),
}

/// Allowance for rounding in positions and distances, mm: positions are good to about 1e-11 mm at a
/// metre from the origin and distances to a few times that.
const ROUNDING_MM: f64 = 1.0e-9;

/// Nodes opened and element pairs weighed in one proof before it is given up as open, which is always
/// sound: the cell is split and asked again. Without it a large cell opens every pair of facets that
/// lies within its motion. The allowance is this over the greatest displacement in millimetres, since
/// small cells come near an answer.
const STEPS_PER_MM: f64 = 20_000.0;
/// Bounds of that allowance.
const STEPS: [f64; 2] = [400.0, 20_000.0];
/// Cells smaller than this (radians, mm) are proved without that limit, so that a bracket at the
/// tolerance never ends for want of work.
const UNLIMITED_HALF: [f64; 2] = [2.0e-5, 1.0e-2];

/// A fixed and a moving surface.
#[derive(Clone, Copy, Debug)]
pub struct PairWalk<'a> {
    /// The surface whose frame distances are taken in.
    pub fixed: &'a Surface,
    /// The surface that moves in it.
    pub moving: &'a Surface,
}

/// Two nodes' boxes: a lower bound of their distance, and the unit normal of a slab that parts them
/// (fixed frame) with its width.
struct Boxes {
    apart: f64,
    normal: Vector3<f64>,
    width: f64,
}

#[inline]
fn boxes(fixed: &Node, moving: &Node, relative: &Relative, absolute: &Matrix3<f64>) -> Boxes {
    let between = relative.point(&moving.bounds.middle) - fixed.bounds.middle;
    let by_balls = between.norm() - fixed.radius - moving.radius;
    let mut gap =
        (between.abs() - fixed.bounds.half - absolute * moving.bounds.half).sup(&Vector3::zeros());
    let width = gap.norm();
    // The same in the moving frame.
    let turned = relative.rotation.tr_mul(&between);
    let mut inner_gap = (turned.abs() - moving.bounds.half - absolute.tr_mul(&fixed.bounds.half))
        .sup(&Vector3::zeros());
    let inner = inner_gap.norm();
    let (normal, width) = if inner > width {
        for i in 0..3 {
            inner_gap[i] = inner_gap[i].copysign(turned[i]);
        }
        (relative.rotation * inner_gap / inner, inner)
    } else {
        for i in 0..3 {
            gap[i] = gap[i].copysign(between[i]);
        }
        (if width > 0.0 { gap / width } else { gap }, width)
    };
    Boxes {
        apart: width.max(by_balls) - ROUNDING_MM,
        normal,
        width: width - ROUNDING_MM,
    }
}

impl PairWalk<'_> {
    /// What rounding and facets take off the elements' distance, mm.
    pub fn reach_mm(&self) -> f64 {
        self.fixed.reach_mm() + self.moving.reach_mm()
    }

    #[inline]
    fn moved(&self, element: usize, relative: &Relative) -> [Vector3<f64>; 3] {
        self.moving.corners(element).map(|p| relative.point(&p))
    }

    /// The exact gap, less `swell_mm` (the tripod orbit's widening of a shaft). `warm` names two
    /// elements to start from. Gaps above `cutoff_mm` may be answered by any pair above it.
    pub fn gap(
        &self,
        relative: &Relative,
        swell_mm: f64,
        cutoff_mm: f64,
        warm: Option<(u32, u32)>,
    ) -> Gap {
        let (fk, mk) = (self.fixed.kind, self.moving.kind);
        let start = warm.unwrap_or((0, 0));
        let first = closest_elements(
            fk,
            &self.fixed.corners(start.0 as usize),
            mk,
            &self.moved(start.1 as usize, relative),
        );
        let mut best = (first, start);
        let off = self.reach_mm() + swell_mm;
        let cutoff = cutoff_mm + off;
        let absolute = relative.rotation.abs();
        let nodes = (&self.fixed.tree.nodes, &self.moving.tree.nodes);
        let apart = |f: u32, m: u32| {
            boxes(
                &nodes.0[f as usize],
                &nodes.1[m as usize],
                relative,
                &absolute,
            )
            .apart
        };
        let mut stack: Vec<(f64, u32, u32)> = Vec::with_capacity(64);
        stack.push((apart(0, 0), 0, 0));
        while let Some((bound, f, m)) = stack.pop() {
            if bound >= best.0.distance.min(cutoff) {
                continue;
            }
            let (fixed, moving) = (&nodes.0[f as usize], &nodes.1[m as usize]);
            if fixed.count > 0 && moving.count > 0 {
                for j in moving.first..moving.first + moving.count {
                    let b = self.moved(j as usize, relative);
                    for i in fixed.first..fixed.first + fixed.count {
                        let a = self.fixed.corners(i as usize);
                        // Parted by more than the best along its own line: can't be closer.
                        let n = (best.0.b - best.0.a) / best.0.distance.max(f64::MIN_POSITIVE);
                        if slab_width(&a, &b, &n) > best.0.distance {
                            continue;
                        }
                        let pair = closest_elements(fk, &a, mk, &b);
                        // Ties go to the lower element numbers, so the answer doesn't depend on
                        // where the walk started.
                        let closer = pair.distance < best.0.distance
                            || (pair.distance == best.0.distance && (i, j) < best.1);
                        if closer {
                            best = (pair, (i, j));
                        }
                    }
                }
                continue;
            }
            let children =
                if moving.count > 0 || (fixed.count == 0 && fixed.radius >= moving.radius) {
                    [(fixed.first, m), (fixed.first + 1, m)]
                } else {
                    [(f, moving.first), (f, moving.first + 1)]
                };
            let [x, y] = children.map(|(f, m)| (apart(f, m), f, m));
            // Nearer child on top.
            if x.0 < y.0 {
                stack.extend([y, x])
            } else {
                stack.extend([x, y])
            }
        }
        let (pair, elements) = best;
        Gap {
            gap_mm: (pair.distance - off).max(0.0),
            core_mm: pair.distance,
            fixed_point: pair.a,
            moving_point: pair.b,
            elements,
        }
    }

    /// Tries to show that over a cell the gap stays above `level_mm`, or that it stays below.
    ///
    /// `relative` is the placement at the cell's centre, `field` bounds displacements over the whole
    /// cell, `swell_mm` the least and greatest widening over the cell, and `warm` the
    /// elements that stood in the way last time.
    pub fn prove(
        &self,
        relative: &Relative,
        field: &CellField,
        level_mm: f64,
        swell_mm: (f64, f64),
        warm: Option<(u32, u32)>,
    ) -> CellProof {
        let (fk, mk) = (self.fixed.kind, self.moving.kind);
        let needed = level_mm + self.reach_mm() + swell_mm.1 + ROUNDING_MM;
        // Below: facets may stand off the true surface, so their error counts the other way.
        let enough = level_mm + self.fixed.radius_mm + self.moving.radius_mm + swell_mm.0
            - self.fixed.facet_error_mm
            - self.moving.facet_error_mm
            - ROUNDING_MM;
        let corners_used = |kind: ElementKind| match kind {
            ElementKind::Point => 1,
            ElementKind::Segment => 2,
            ElementKind::Triangle => 3,
        };
        // The field speaks in body frames.
        let (turn_f, turn_m) = (&self.fixed.rotation, &self.moving.rotation);
        let in_body = |p: &Vector3<f64>| self.moving.origin + turn_m * p;
        let (fixed_used, moving_used) = (corners_used(fk), corners_used(mk));
        // Neighbouring elements are parted by much the same plane: the last normal is tried first.
        let mut last = Vector3::zeros();
        // None when this pair of elements is proved above the level.
        let mut stands = |i: u32, j: u32| -> Option<CellProof> {
            let a = self.fixed.corners(i as usize);
            let own = self.moving.corners(j as usize);
            let b = own.map(|p| relative.point(&p));
            let parted = |n: &Vector3<f64>| {
                let (a, b) = (&a[..fixed_used], &b[..moving_used]);
                if slab_width(a, b, n) <= needed {
                    return false;
                }
                let behind = a.iter().map(|p| n.dot(p)).fold(f64::NEG_INFINITY, f64::max);
                let n_body = turn_f * n;
                own.iter().zip(b).all(|(p, q)| {
                    let along = field.displacement_along(&in_body(p), &n_body);
                    n.dot(q) - behind - along > needed
                })
            };
            if parted(&last) {
                return None;
            }
            let pair = closest_elements(fk, &a, mk, &b);
            if pair.distance > 0.0 {
                let n = (pair.b - pair.a) / pair.distance;
                last = n;
                if parted(&n) {
                    return None;
                }
            }
            let touch = relative.rotation.tr_mul(&(pair.b - relative.offset));
            if pair.distance + field.displacement(&in_body(&touch)) < enough {
                Some(CellProof::Below)
            } else {
                Some(CellProof::Open(i, j))
            }
        };
        if let Some((i, j)) = warm
            && let Some(stop) = stands(i, j)
        {
            return stop;
        }
        let absolute = relative.rotation.abs();
        let nodes = (&self.fixed.tree.nodes, &self.moving.tree.nodes);
        let root = &nodes.1[0];
        let farthest = field.displacement_of_ball(&in_body(&root.bounds.middle), root.radius);
        let mut stack: Vec<(f64, u32, u32)> = Vec::with_capacity(64);
        let thin = field.half[0] < UNLIMITED_HALF[0] && field.half[1] < UNLIMITED_HALF[1];
        let allowance = (STEPS_PER_MM / farthest.max(1.0e-3)).clamp(STEPS[0], STEPS[1]);
        let mut steps_left = if thin { usize::MAX } else { allowance as usize };
        // How far apart two nodes are beyond what must be kept; `None` when they are proved apart over
        // the cell, by any motion or along the slab's normal.
        let short_of = |f: u32, m: u32| -> Option<f64> {
            let (fixed, moving) = (&nodes.0[f as usize], &nodes.1[m as usize]);
            let b = boxes(fixed, moving, relative, &absolute);
            let room = b.apart - needed;
            if room > farthest {
                return None;
            }
            if room > 0.0 {
                let middle = in_body(&moving.bounds.middle);
                if room > field.displacement_of_ball(&middle, moving.radius) {
                    return None;
                }
                let n = turn_f * b.normal;
                let along = field.displacement_of_ball_along(&middle, moving.radius, &n);
                if b.width - needed > along {
                    return None;
                }
            }
            Some(room)
        };
        if let Some(room) = short_of(0, 0) {
            stack.push((room, 0, 0));
        }
        while let Some((_, f, m)) = stack.pop() {
            let (fixed, moving) = (&nodes.0[f as usize], &nodes.1[m as usize]);
            if fixed.count > 0 && moving.count > 0 {
                steps_left = steps_left.saturating_sub((fixed.count * moving.count) as usize);
                for j in moving.first..moving.first + moving.count {
                    for i in fixed.first..fixed.first + fixed.count {
                        if let Some(stop) = stands(i, j) {
                            return stop;
                        }
                    }
                }
                continue;
            }
            if steps_left == 0 {
                return CellProof::Open(
                    fixed.first_element(nodes.0),
                    moving.first_element(nodes.1),
                );
            }
            steps_left = steps_left.saturating_sub(1);
            let children =
                if moving.count > 0 || (fixed.count == 0 && fixed.radius >= moving.radius) {
                    [(fixed.first, m), (fixed.first + 1, m)]
                } else {
                    [(f, moving.first), (f, moving.first + 1)]
                };
            let [x, y] = children.map(|(f, m)| short_of(f, m).map(|room| (room, f, m)));
            // Nearer child on top: what stands in the way is found soon.
            match (x, y) {
                (Some(x), Some(y)) if x.0 < y.0 => stack.extend([y, x]),
                (Some(x), Some(y)) => stack.extend([x, y]),
                (Some(one), None) | (None, Some(one)) => stack.push(one),
                (None, None) => {}
            }
        }
        CellProof::Above
    }
}
