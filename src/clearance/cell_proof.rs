//! Proofs over a cell of positions: a pair's gap stays above a level, or stays below it.
//!
//! The idea in five lines. At the cell's centre the distance is known, and no point moves further over
//! the cell than its motion bound. So both trees are walked as for a gap, but a pair of nodes is done as
//! soon as its boxes are further apart than the level and the moving node's displacement: a threshold
//! question, far cheaper than the gap itself. At a pair of elements the proof weighs every moving
//! corner's displacement along the parting plane's normal.
//!
//! Source: M. Tang, Y. J. Kim, D. Manocha, "C2A: Controlled conservative advancement for continuous
//! collision detection", ICRA 2009 (motion bounds per node).

use super::distance::closest_elements;
use super::pair_walk::{PairWalk, ROUNDING_MM, Relative, boxes, opened};
use crate::kinematics::{AlongNormal, CellField};
use crate::shapes::Node;
use nalgebra::{Matrix3, Vector3};
use std::cell::RefCell;

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

/// How what is left of a stop changes over a cell, to first order: mm for gaps and lengths, cosines for
/// angles. It says where to look next; nothing is proved by it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Trend {
    /// What is left at the centre beyond the level asked for; negative where less.
    pub room: f64,
    /// How much it grows from the centre to the cell's upper end: along the arm's angle, along the rack.
    pub growth: [f64; 2],
    /// What may come on top of that growth, or be taken off it.
    pub bend: f64,
}

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

/// A pair's gap over one cell.
pub struct GapOverCell<'a> {
    pair: PairWalk<'a>,
    relative: &'a Relative,
    field: &'a CellField,
    /// Elements further apart than this keep the level, mm.
    needed_mm: f64,
    /// Elements closer than this break it, mm.
    enough_mm: f64,
    /// What parted the last pair of elements: neighbours are parted by much the same plane.
    last: RefCell<Option<Normal>>,
}

/// A direction along which the moving shape may keep off the fixed one, with all that many points or boxes are asked.
struct Normal {
    /// Which of the directions tried over the cell it is.
    number: u32,
    /// Unit, from the fixed to the moving shape, fixed shape's frame.
    fixed: Vector3<f64>,
    /// The same in the moving shape's frame at the cell's centre.
    moving: Vector3<f64>,
    /// The moving frame's origin along it, mm.
    offset: f64,
    displacement: AlongNormal,
}

impl<'a> PairWalk<'a> {
    /// The gap over a cell, against `level_mm`.
    ///
    /// `relative` is the placement at the cell's centre, `field` bounds displacements over the whole
    /// cell, `swell_mm` is the least and greatest widening over it.
    pub fn over_cell(
        self,
        relative: &'a Relative,
        field: &'a CellField,
        level_mm: f64,
        swell_mm: (f64, f64),
    ) -> GapOverCell<'a> {
        let (fixed, moving) = (self.fixed, self.moving);
        GapOverCell {
            pair: self,
            relative,
            field,
            needed_mm: level_mm + self.reach_mm() + swell_mm.1 + ROUNDING_MM,
            // Facets may stand off the true surface, so their error counts the other way.
            enough_mm: level_mm + fixed.radius_mm + moving.radius_mm + swell_mm.0
                - fixed.facet_error_mm
                - moving.facet_error_mm
                - ROUNDING_MM,
            last: RefCell::new(None),
        }
    }
}

impl GapOverCell<'_> {
    /// A point of the moving surface's frame in its body's, which the field speaks in.
    #[inline]
    fn in_body(&self, p: &Vector3<f64>) -> Vector3<f64> {
        self.pair.moving.origin + self.pair.moving.rotation * p
    }

    /// What one pair of elements, fixed and moving, says about the cell; nothing where it keeps the level.
    #[inline]
    pub fn by_elements(&self, i: u32, j: u32) -> Option<CellProof> {
        let PairWalk { fixed, moving } = self.pair;
        let a = fixed.corners(i as usize);
        let own = moving.corners(j as usize);
        let (ends, points) = (&a[..fixed.kind.corners()], &own[..moving.kind.corners()]);
        let is_parted_by_last = self
            .last
            .borrow()
            .as_ref()
            .is_some_and(|n| self.parts_elements(ends, points, n));
        if is_parted_by_last {
            return None;
        }
        let b = own.map(|p| self.relative.point(&p));
        let closest = closest_elements(fixed.kind, &a, moving.kind, &b);
        if closest.distance > 0.0 {
            let n = self.normal((closest.b - closest.a) / closest.distance);
            let parts = self.parts_elements(ends, points, &n);
            self.last.replace(Some(n));
            if parts {
                return None;
            }
        }
        let touch = self.in_body(&self.relative.back(&closest.b));
        if closest.distance + self.field.displacement(&touch) < self.enough_mm {
            return Some(CellProof::Below);
        }
        Some(CellProof::Open(i, j))
    }

    /// How the room between two elements, fixed and moving, changes over the cell; nothing where they cross. Asked
    /// along lines only: the cells of a map, far more of them, don't pay for it in [`Self::by_elements`].
    pub fn trend(&self, i: u32, j: u32) -> Option<Trend> {
        let PairWalk { fixed, moving } = self.pair;
        let b = moving.corners(j as usize).map(|p| self.relative.point(&p));
        let closest = closest_elements(fixed.kind, &fixed.corners(i as usize), moving.kind, &b);
        let n = (closest.distance > 0.0).then(|| (closest.b - closest.a) / closest.distance)?;
        let touch = self.relative.back(&closest.b);
        let (growth, bend) = self
            .field
            .growth_along(&self.in_body(&touch), &(fixed.rotation * n));
        Some(Trend {
            room: closest.distance - self.needed_mm,
            growth,
            bend,
        })
    }

    /// How far apart two nodes are beyond what must be kept; `None` when they are proved apart over the
    /// cell, by any motion or along a normal. `farthest_mm` bounds every displacement.
    #[inline]
    fn short_of(&self, f: u32, m: u32, absolute: &Matrix3<f64>, farthest_mm: f64) -> Option<f64> {
        let fixed = &self.pair.fixed.tree.nodes[f as usize];
        let moving = &self.pair.moving.tree.nodes[m as usize];
        let last = self.last.borrow();
        if last
            .as_ref()
            .is_some_and(|n| self.parts_nodes(fixed, moving, n))
        {
            return None;
        }
        drop(last);
        let b = boxes(fixed, moving, self.relative, absolute);
        let room = b.apart - self.needed_mm;
        if room > farthest_mm {
            return None;
        }
        if room > 0.0 {
            let middle = self.in_body(&moving.bounds.middle);
            if room > self.field.displacement_of_ball(&middle, moving.radius) {
                return None;
            }
            if b.width > self.needed_mm && self.parts_nodes(fixed, moving, &self.normal(b.normal)) {
                return None;
            }
        }
        Some(room)
    }

    /// A direction (fixed shape's frame), ready to be asked.
    #[inline]
    fn normal(&self, n: Vector3<f64>) -> Normal {
        let PairWalk { fixed, moving } = self.pair;
        let last = self.last.borrow();
        Normal {
            number: last.as_ref().map_or(1, |last| last.number.wrapping_add(1)),
            moving: self.relative.rotation.tr_mul(&n),
            offset: self.relative.offset.dot(&n),
            displacement: self
                .field
                .along(&(fixed.rotation * n), &moving.rotation, &moving.origin),
            fixed: n,
        }
    }

    /// Whether two elements are proved to keep the level over the cell along a direction; of the fixed one its corners, of
    /// the moving one those in its own frame.
    #[inline]
    fn parts_elements(&self, fixed: &[Vector3<f64>], moving: &[Vector3<f64>], n: &Normal) -> bool {
        let ahead = |p: &Vector3<f64>| n.moving.dot(p) + n.offset;
        let behind = fixed
            .iter()
            .map(|p| n.fixed.dot(p))
            .fold(f64::NEG_INFINITY, f64::max);
        let least = self.needed_mm + behind + ROUNDING_MM;
        moving.iter().all(|p| ahead(p) > least)
            && moving
                .iter()
                .all(|p| ahead(p) - n.displacement.displacement(p) > least)
    }

    /// Whether two nodes are proved to keep the level over the cell along a direction.
    #[inline]
    fn parts_nodes(&self, fixed: &Node, moving: &Node, n: &Normal) -> bool {
        let [_, behind] = fixed.extent_along(&n.fixed);
        let middle = &moving.bounds.middle;
        let room = n.moving.dot(middle) + n.offset - behind - self.needed_mm - ROUNDING_MM;
        if room <= 0.0 {
            return false;
        }
        let half = &moving.bounds.half;
        let along = n.moving.component_mul(half);
        let displacement = &n.displacement;
        room > displacement.advance_of_box_against(middle, half, &along)
    }

    /// What both trees say about the cell.
    pub fn by_trees(&self) -> CellProof {
        let absolute = self.relative.rotation.abs();
        let nodes = (&self.pair.fixed.tree.nodes, &self.pair.moving.tree.nodes);
        let root = &nodes.1[0];
        let middle = self.in_body(&root.bounds.middle);
        let farthest_mm = self.field.displacement_of_ball(&middle, root.radius);
        // Room, nodes, and the number of the direction that they were last tried with.
        let mut stack: Vec<(f64, u32, u32, u32)> = Vec::with_capacity(64);
        let half = self.field.half;
        let thin = half[0] < UNLIMITED_HALF[0] && half[1] < UNLIMITED_HALF[1];
        let allowance = (STEPS_PER_MM / farthest_mm.max(1.0e-3)).clamp(STEPS[0], STEPS[1]);
        let mut steps_left = if thin { usize::MAX } else { allowance as usize };
        let last_number = || self.last.borrow().as_ref().map_or(0, |n| n.number);
        let short_of = |f, m| {
            let room = self.short_of(f, m, &absolute, farthest_mm)?;
            Some((room, f, m, last_number()))
        };
        stack.extend(short_of(0, 0));
        while let Some((_, f, m, tried)) = stack.pop() {
            let (fixed, moving) = (&nodes.0[f as usize], &nodes.1[m as usize]);
            let is_parted = |n: &Normal| n.number != tried && self.parts_nodes(fixed, moving, n);
            if self.last.borrow().as_ref().is_some_and(is_parted) {
                continue;
            }
            if fixed.count > 0 && moving.count > 0 {
                steps_left = steps_left.saturating_sub((fixed.count * moving.count) as usize);
                for j in moving.first..moving.first + moving.count {
                    for i in fixed.first..fixed.first + fixed.count {
                        if let Some(stop) = self.by_elements(i, j) {
                            return stop;
                        }
                    }
                }
                continue;
            }
            if steps_left == 0 {
                let [i, j] = [fixed.first_element(nodes.0), moving.first_element(nodes.1)];
                return CellProof::Open(i, j);
            }
            steps_left = steps_left.saturating_sub(1);
            let [x, y] = opened((f, fixed), (m, moving)).map(|(f, m)| short_of(f, m));
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
