//! What can be proved over a cell next to the end of reach, where no rates are known.
//!
//! The idea in five lines. Where a root of the linkage runs out, poses change without bound against the arm's angle, so the
//! cell has no rates. But ranges of every pose over its reachable part are known ([`Range`]), and narrow as the cell does. A
//! limit whose reserve has a range above zero is kept. Of a pair the relative placement in the middle of its range stands
//! for the cell, and no point of the moving part is further from its place there than the range is wide. That is a field of
//! displacements like any other, so the walk of both parts' trees decides as it does elsewhere.
//!
//! Guarantee: *kept* holds at every position of the cell that the linkage reaches; *beyond reach* says that there is none.
//! Not guaranteed: that anything is decided; bounds shrink with the root of the cell's size only.

use super::rate_atlas::Cell;
use super::stops::{Guard, OpenStop, StopKind};
use crate::clearance::{Part, Relative};
use crate::kinematics::{CellField, ShapePlacement};
use crate::numbers::{Interval, Range, Real};
use crate::suspension::{Linkage, Placement};
use crate::truck::{Corner, FieldKey};
use nalgebra::{Matrix3, Vector3};
use std::sync::OnceLock;

/// Every pose over the reachable part of a cell.
pub struct ReachedPoses {
    linkage: Linkage<Range>,
    half: [f64; 2],
    /// Of each of the corner's fields, once it was asked for.
    fields: Vec<OnceLock<Option<AboutMiddle>>>,
}

/// Where one body stands in another, in the middle of its range.
#[derive(Clone)]
struct AboutMiddle {
    body: Placement<f64>,
    field: CellField,
}

/// Rounding allowance on a limit's reserve (mm, or cosine).
const RESERVE_SLACK: f64 = 1.0e-9;

impl ReachedPoses {
    /// Of a corner over a cell.
    pub fn over(corner: &Corner, cell: &Cell) -> ReachedPoses {
        let [alpha, rack] =
            [cell.alpha, cell.rack].map(|[from, to]| Range(Interval::between(from, to)));
        ReachedPoses {
            linkage: corner.positioner.linkage.solve(alpha, rack),
            half: cell.half(),
            fields: corner.fields.iter().map(|_| OnceLock::new()).collect(),
        }
    }

    /// Whether no position of the cell is reached.
    pub fn are_none(&self) -> bool {
        self.linkage.is_beyond_reach()
    }

    /// A limit that is proved past at every position of the cell that is reached.
    pub(super) fn past(&self, guard: &Guard, open: &[OpenStop]) -> Option<StopKind> {
        let is_past = |stop: StopKind| {
            let StopKind::Limit(i) = stop else {
                return false;
            };
            let limit = &guard.corner.limits[i];
            let is_below = |piece| limit.reserve(piece, &self.linkage).0.hi < -RESERVE_SLACK;
            (0..limit.pieces()).any(is_below)
        };
        open.iter().map(|(stop, _)| *stop).find(|s| is_past(*s))
    }

    /// Whether a stop is proved kept at every position of the cell that is reached.
    pub(super) fn keep(
        &self,
        guard: &Guard,
        stop: StopKind,
        warm: Option<(u32, u32)>,
    ) -> (bool, Option<(u32, u32)>) {
        match stop {
            StopKind::EndOfReach => (false, None),
            StopKind::Limit(i) => {
                let limit = &guard.corner.limits[i];
                let is_kept = |piece| limit.reserve(piece, &self.linkage).0.lo > RESERVE_SLACK;
                ((0..limit.pieces()).all(is_kept), None)
            }
            StopKind::Tight(pair) | StopKind::Contact(pair) => {
                self.keep_gap(guard, pair, guard.level_mm(stop, pair), warm)
            }
        }
    }

    /// The stops among `open` that aren't proved kept.
    pub(super) fn still_open(&self, guard: &Guard, open: &[OpenStop]) -> Vec<OpenStop> {
        // A pair that keeps its required gap doesn't touch.
        let mut kept_gap = None;
        let open = open.iter().filter_map(|(stop, warm)| {
            let follows = matches!(stop, StopKind::Contact(pair) if kept_gap == Some(*pair));
            let (is_kept, elements) = match follows {
                true => (true, None),
                false => self.keep(guard, *stop, *warm),
            };
            if is_kept {
                kept_gap = stop.pair().or(kept_gap);
            }
            (!is_kept).then_some((*stop, elements.or(*warm)))
        });
        open.collect()
    }

    /// Whether a pair's gap is proved above a level at every position of the cell that is reached; else the elements in the
    /// way.
    pub(super) fn keep_gap(
        &self,
        guard: &Guard,
        pair: usize,
        level_mm: f64,
        warm: Option<(u32, u32)>,
    ) -> (bool, Option<(u32, u32)>) {
        let corner = guard.corner;
        let watched = &corner.pairs[pair];
        let about = self.fields[watched.field]
            .get_or_init(|| self.about_middle(&corner.fields[watched.field], guard.bound_factor()));
        let Some(AboutMiddle { body, field }) = about else {
            return (false, None);
        };
        let (fixed, moving) = watched.roles();
        let relative = relative_on_bodies(&corner.parts[fixed], &corner.parts[moving], body);
        let swell_mm = if watched.orbits {
            corner.orbit_mm(&self.linkage).0
        } else {
            Interval::point(0.0)
        };
        if !swell_mm.is_bounded() {
            return (false, None);
        }
        let swell_mm = (swell_mm.lo.max(0.0), swell_mm.hi.max(0.0));
        let walk = watched.walk(&corner.parts);
        guard.is_gap_above(
            pair,
            &walk.over_cell(&relative, field, level_mm, swell_mm),
            warm,
        )
    }

    /// The relative placement of two bodies in the middle of its range, with how far points may be from there.
    fn about_middle(&self, key: &FieldKey, bound_factor: f64) -> Option<AboutMiddle> {
        let [f, m] = [key.fixed, key.moving].map(|motion| self.linkage.placement(motion));
        // The moving body's reference point and turn, seen from the fixed body.
        let between = moving_from(&f, &m, &key.reference);
        let turn = f.rotation.transpose() * m.rotation;
        let all_bounded = between.iter().chain(turn.iter()).all(|r| r.0.is_bounded());
        if !all_bounded {
            return None;
        }
        let rotation = nearest_rotation(&turn.map(|r| r.0.middle()))?;
        let place = between.map(|r| r.0.middle());
        let off = |range: Interval, middle: f64| {
            ((range - Interval::point(middle)).magnitude()) * bound_factor
        };
        let turn_bound = turn.zip_map(&rotation, |r, middle| off(r.0, middle));
        let slide_bound = between.zip_map(&place, |r, middle| off(r.0, middle));
        let body = Placement {
            rotation,
            anchor_in_body: key.reference,
            anchor: place + f.anchor_in_body,
        };
        let field = CellField::within(key.reference, self.half, slide_bound, turn_bound);
        Some(AboutMiddle { body, field })
    }
}

/// A point of the moving body, seen from the fixed one's anchor in the fixed body's directions.
fn moving_from<S: Real>(
    fixed: &Placement<S>,
    moving: &Placement<S>,
    point: &Vector3<f64>,
) -> Vector3<S> {
    fixed.rotation.transpose() * (moving.point(point) - fixed.anchor)
}

/// The rotation nearest to a matrix: of its singular value decomposition without the values.
fn nearest_rotation(matrix: &Matrix3<f64>) -> Option<Matrix3<f64>> {
    let svd = matrix.svd(true, true);
    let rotation = svd.u? * svd.v_t?;
    (rotation.determinant() > 0.0).then_some(rotation)
}

/// Where the moving part's shape stands in the fixed one's frame, by the moving body's placement in the fixed body.
fn relative_on_bodies(fixed: &Part, moving: &Part, body: &Placement<f64>) -> Relative {
    let shape = |part: &Part, on: &Placement<f64>| {
        ShapePlacement::on_body(on, &part.surface.rotation, &part.surface.origin)
    };
    let f = shape(fixed, &Placement::identity());
    let m = shape(moving, body);
    Relative {
        rotation: f.rotation.tr_mul(&m.rotation),
        offset: f.rotation.tr_mul(&(m.origin - f.origin)),
    }
}
