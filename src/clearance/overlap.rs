//! Whether two parts still overlap however a cell moves them: a point of one, deep inside the other.
//!
//! A point that lies inside a closed surface, further from it than the point can move over a cell,
//! stays inside over the whole cell, so the parts overlap throughout. Candidates are corners of either
//! part; the winding number decides inside or outside, never the nearest facet's side.

use super::distance::closest_elements;
use super::pair_walk::{PairWalk, Relative};
use crate::kinematics::CellField;
use crate::shapes::{ElementKind, Surface};
use nalgebra::Vector3;

/// Corners of a part tried as deep points.
const MOST_CORNERS: usize = 40;
/// Corners in the other part's box from which those are taken.
const MOST_LOOKED_AT: usize = 2000;
/// The winding number of a point inside lies near one; half-way is the divide.
const INSIDE: f64 = 0.5;

/// Share of the way to the nearest element that is taken as free of them: rounding.
const FREE_SHARE: f64 = 1.0 - 1.0e-9;

/// How far a point (shape frame) is from the nearest element of a surface.
fn depth(surface: &Surface, point: &Vector3<f64>) -> f64 {
    nearest(surface, point, f64::INFINITY, f64::NEG_INFINITY)
}

/// Whether a point (shape frame) is further than a distance from every element of a surface.
fn is_further_than(surface: &Surface, point: &Vector3<f64>, distance_mm: f64) -> bool {
    nearest(surface, point, distance_mm.next_up(), distance_mm) > distance_mm
}

/// How far a point (shape frame) is from the nearest element of a surface; no less than `within_mm` where all are further.
/// The first that is no further than `enough_mm` will do.
fn nearest(surface: &Surface, point: &Vector3<f64>, within_mm: f64, enough_mm: f64) -> f64 {
    let nodes = &surface.tree.nodes;
    let mut best = within_mm;
    let away = |n: u32| {
        let b = &nodes[n as usize].bounds;
        ((point - b.middle).abs() - b.half)
            .sup(&Vector3::zeros())
            .norm()
    };
    let mut stack = vec![(away(0), 0)];
    while let Some((bound, n)) = stack.pop() {
        if bound >= best {
            continue;
        }
        let node = &nodes[n as usize];
        if node.count > 0 {
            for e in node.first..node.first + node.count {
                let corners = surface.corners(e as usize);
                let pair =
                    closest_elements(ElementKind::Point, &[*point; 3], surface.kind, &corners);
                best = best.min(pair.distance);
                if best <= enough_mm {
                    return best;
                }
            }
        } else {
            let [x, y] = [node.first, node.first + 1].map(|c| (away(c), c));
            if x.0 < y.0 {
                stack.extend([y, x])
            } else {
                stack.extend([x, y])
            }
        }
    }
    best
}

/// Whether a point (shape frame) lies inside a surface: it winds about the point by more than a half,
/// whichever way its facets are turned, and with small holes too.
pub fn is_inside(surface: &Surface, point: &Vector3<f64>) -> bool {
    let bounds = surface.bounds();
    surface.kind == ElementKind::Triangle
        && ((point - bounds.middle).abs() - bounds.half).max() <= 0.0
        && surface.winding(point).abs() > INSIDE
}

/// The same of a ball that no element reaches into, of a closed surface; what comes out is kept with the surface.
fn is_ball_inside(surface: &Surface, centre: &Vector3<f64>, radius_mm: f64) -> bool {
    surface
        .sides
        .is_inside(centre, radius_mm)
        .unwrap_or_else(|| {
            let is_inside = is_inside(surface, centre);
            surface
                .sides
                .keep(*centre, depth(surface, centre) * FREE_SHARE, is_inside);
            is_inside
        })
}

/// Corners of a surface that lie in another's box, a sample of them evenly through the tree. `local` takes a corner to the
/// other's frame.
fn sample(
    surface: &Surface,
    other: &Surface,
    local: impl Fn(&Vector3<f64>) -> Vector3<f64>,
) -> Vec<Vector3<f64>> {
    let within = other.bounds();
    let is_within = |p: &Vector3<f64>, reach: f64| {
        ((local(p) - within.middle).abs() - within.half).max() <= reach
    };
    let mut out: Vec<Vector3<f64>> = Vec::new();
    let mut stack = vec![0_u32];
    while let Some(n) = stack.pop() {
        let node = &surface.tree.nodes[n as usize];
        if out.len() >= MOST_LOOKED_AT || !is_within(&node.bounds.middle, node.radius) {
            continue;
        }
        if node.count == 0 {
            stack.extend([node.first, node.first + 1]);
            continue;
        }
        for e in node.first..node.first + node.count {
            let corner = surface.corners(e as usize)[0];
            if is_within(&corner, 0.0) {
                out.push(corner);
            }
        }
    }
    let step = out.len().div_ceil(MOST_CORNERS).max(1);
    out.into_iter().step_by(step).collect()
}

impl PairWalk<'_> {
    /// Whether the two parts are proved to overlap over a whole cell. `false` says nothing.
    pub fn overlaps_throughout(&self, relative: &Relative, field: &CellField) -> bool {
        let in_body = |p: &Vector3<f64>| self.moving.origin + self.moving.rotation * p;
        // Corners of the moving part in the fixed one, then the other way round. Seen from the moving
        // part, a fixed corner strays as far as the moving point at the same place strays from it.
        let moving_in_fixed = || {
            let corners = sample(self.moving, self.fixed, |p| relative.point(p));
            corners
                .into_iter()
                .map(|p| (relative.point(&p), in_body(&p)))
        };
        let fixed_in_moving = || {
            let corners = sample(self.fixed, self.moving, |p| relative.back(p));
            corners.into_iter().map(|p| {
                let local = relative.back(&p);
                (local, in_body(&local))
            })
        };
        let stays = |surface: &Surface, (local, in_body): (Vector3<f64>, Vector3<f64>)| {
            let bounds = surface.bounds();
            if ((local - bounds.middle).abs() - bounds.half).max() > 0.0 {
                return false;
            }
            let facets = self.fixed.facet_error_mm + self.moving.facet_error_mm;
            let moves = field.displacement(&in_body) + facets + 1.0e-6;
            is_further_than(surface, &local, moves) && is_ball_inside(surface, &local, moves)
        };
        let f = self.fixed.closed && self.fixed.kind == ElementKind::Triangle;
        let m = self.moving.closed && self.moving.kind == ElementKind::Triangle;
        (f && moving_in_fixed().any(|c| stays(self.fixed, c)))
            || (m && fixed_in_moving().any(|c| stays(self.moving, c)))
    }

    /// Whether two elements cross at this placement.
    pub fn elements_cross(&self, relative: &Relative, elements: (u32, u32)) -> bool {
        let a = self.fixed.corners(elements.0 as usize);
        let b = self
            .moving
            .corners(elements.1 as usize)
            .map(|p| relative.point(&p));
        closest_elements(self.fixed.kind, &a, self.moving.kind, &b).distance == 0.0
    }

    /// Whether one part lies wholly inside the other: surfaces apart, but no room.
    pub fn contains(&self, relative: &Relative) -> bool {
        let corner = |s: &Surface, piece: u32| s.vertices[piece as usize];
        self.moving
            .pieces
            .iter()
            .any(|p| is_inside(self.fixed, &relative.point(&corner(self.moving, *p))))
            || self.fixed.pieces.iter().any(|p| {
                let local = relative
                    .rotation
                    .tr_mul(&(corner(self.fixed, *p) - relative.offset));
                is_inside(self.moving, &local)
            })
    }
}
