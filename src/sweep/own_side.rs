//! Whether the parts of one corner stay on their own side of the truck.
//!
//! The idea in five lines. A corner is swept by itself: what the other side moves isn't in it. Where every part of this side
//! alone keeps as far from the truck's middle plane as the greatest gap that is required, and the other side's parts do the
//! same, no two of them come too near. So each part's box is put, by ranges of every pose, over cells of travel and rack that
//! hold a position that the wheel may be in; they are halved until all of it stays away, or a position is met at which it
//! doesn't.
//!
//! Guarantee: where none is reported every part keeps the distance at every position that the wheel can reach from the
//! measured one. Not guaranteed: that one that is reported meets anything, and anything of the others then: the first one
//! across ends the search.

use super::free_travel::Region;
use super::rate_atlas::Cell;
use crate::numbers::{Interval, Range, Real};
use crate::suspension::{Linkage, Motion, Placement};
use crate::truck::Corner;
use nalgebra::Vector3;

/// Cells looked at before a part counts as reaching across.
const MOST_CELLS: usize = 20_000;

/// The corners of a part's box, body coordinates, and how far its solid reaches beyond them.
struct Boxed {
    part: usize,
    motion: Motion,
    corners: [Vector3<f64>; 8],
    reach_mm: f64,
}

impl Boxed {
    fn of(corner: &Corner, part: usize) -> Boxed {
        let p = &corner.parts[part];
        let bounds = p.surface.bounds();
        let corners = std::array::from_fn(|i| {
            let sign = |k: usize| if i >> k & 1 == 0 { -1.0 } else { 1.0 };
            let half = Vector3::new(sign(0), sign(1), sign(2)).component_mul(&bounds.half);
            p.surface.origin + p.surface.rotation * (bounds.middle + half)
        });
        Boxed {
            part,
            motion: p.body.motion(),
            corners,
            reach_mm: p.surface.reach_mm(),
        }
    }
}

/// Numbers of the parts that this side has alone; parts of what both sides share meet the other side by name.
fn own_parts(corner: &Corner) -> impl Iterator<Item = usize> {
    let is_own = |part: &usize| !corner.parts[*part].body.is_both_sides();
    (0..corner.parts.len()).filter(is_own)
}

/// The first part of this side alone that, with the wheel at a position, stands nearer to the truck's middle than a margin.
pub fn first_across_at(corner: &Corner, linkage: &Linkage<f64>, margin_mm: f64) -> Option<usize> {
    own_parts(corner).find(|part| {
        let p = &corner.parts[*part];
        let placed = linkage.placement(p.body.motion());
        let nearest = (0..p.surface.vertices.len())
            .map(|i| placed.point(&p.surface.vertex_in_body(i)).y * corner.side.outboard())
            .fold(f64::INFINITY, f64::min);
        nearest - p.surface.reach_mm() < margin_mm
    })
}

/// The first part of this side alone that may come nearer to the truck's middle than a margin, anywhere among the squares
/// that the wheel may be in. The margin is the greatest gap that is required, so that a part that keeps it needs none of the
/// other side to do more than stay there.
pub fn first_across(corner: &Corner, region: &Region, margin_mm: f64) -> Option<usize> {
    let reachable = region.covered_squares(&region.covered());
    first_across_where(corner, &region.domain(), margin_mm, |cell| {
        reachable.any_in(cell)
    })
}

/// The same over all that is searched, whatever stops the wheel before.
pub fn first_across_anywhere(corner: &Corner, domain: &Cell, margin_mm: f64) -> Option<usize> {
    first_across_where(corner, domain, margin_mm, |_| true)
}

fn first_across_where(
    corner: &Corner,
    domain: &Cell,
    margin_mm: f64,
    is_reachable: impl Fn(&Cell) -> bool,
) -> Option<usize> {
    let outboard = corner.side.outboard();
    let mut own = Vec::new();
    for part in own_parts(corner) {
        let p = &corner.parts[part];
        if p.body.motion() == Motion::Frame {
            let nearest = (0..p.surface.vertices.len())
                .map(|i| p.surface.vertex_in_body(i).y * outboard)
                .fold(f64::INFINITY, f64::min);
            if nearest - p.surface.reach_mm() < margin_mm {
                return Some(part);
            }
            continue;
        }
        own.push(Boxed::of(corner, part));
    }
    let mut work = vec![(*domain, (0..own.len()).collect::<Vec<usize>>())];
    let mut cells = 0;
    while let Some((cell, open)) = work.pop() {
        cells += 1;
        let range = |[from, to]: [f64; 2]| Range(Interval::between(from, to));
        let poses = corner
            .positioner
            .linkage
            .solve(range(cell.alpha), range(cell.rack));
        if poses.is_beyond_reach() {
            continue;
        }
        let stays_away = |boxed: &Boxed| {
            let placed = placed_inboard(corner, &poses, boxed.motion);
            boxed.corners.iter().all(|p| {
                let y = placed.point(p).y.scale(outboard).0;
                y.lo - boxed.reach_mm >= margin_mm
            })
        };
        let open: Vec<usize> = open.into_iter().filter(|i| !stays_away(&own[*i])).collect();
        let Some(first) = open.first() else {
            continue;
        };
        if !is_reachable(&cell) {
            continue;
        }
        if cells >= MOST_CELLS {
            return Some(own[*first].part);
        }
        let (alpha, rack) = cell.centre();
        let is_centre_reachable = is_reachable(&Cell {
            alpha: [alpha; 2],
            rack: [rack; 2],
        });
        let across = open
            .iter()
            .find(|i| is_centre_reachable && comes_near(corner, &cell, &own[**i], margin_mm));
        if let Some(across) = across {
            return Some(own[*across].part);
        }
        work.extend(
            cell.halves(cell.longer_axis())
                .map(|half| (half, open.clone())),
        );
    }
    None
}

/// A body's placement by the point of it that is nearest to the truck's middle: ranges widen with the distance from there.
fn placed_inboard(corner: &Corner, poses: &Linkage<Range>, motion: Motion) -> Placement<Range> {
    let placed = poses.placement(motion);
    let own = &corner.positioner.linkage.own;
    let (inner, outer) = match motion {
        Motion::TieRod => ((own.tie_rod[0], poses.tie_rod_inner), own.tie_rod[1]),
        Motion::Halfshaft => ((own.halfshaft[0], poses.inner_joint), own.halfshaft[1]),
        _ => return placed,
    };
    // Hung on its outer end, the rod has its inner one where the linkage does.
    let is_hung_there = (placed.anchor_in_body - outer).norm() <= SAME_POINT_MM;
    if !is_hung_there {
        return placed;
    }
    Placement {
        anchor_in_body: inner.0,
        anchor: inner.1,
        ..placed
    }
}

/// Points this near are one, mm: rounding.
const SAME_POINT_MM: f64 = 1.0e-9;

/// Whether a corner of a part's box comes too near in the middle of a cell.
fn comes_near(corner: &Corner, cell: &Cell, boxed: &Boxed, margin_mm: f64) -> bool {
    let (alpha, rack_mm) = cell.centre();
    let linkage = corner.positioner.place(alpha, rack_mm).linkage;
    if linkage.out_of_reach().is_some() {
        return false;
    }
    let placed = linkage.placement(boxed.motion);
    let nearest = boxed
        .corners
        .iter()
        .map(|p| placed.point(p).y * corner.side.outboard());
    nearest.fold(f64::INFINITY, f64::min) - boxed.reach_mm < margin_mm
}
