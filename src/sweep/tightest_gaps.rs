//! The least gap of each watched pair over the free region, found and proved.
//!
//! Branch and bound: over each block of the map that touches the free region, "does the gap stay above
//! the best so far less the tolerance?" is a threshold question; blocks that pass are dropped, others
//! are halved and their middle is measured. What remains at the end is the least gap within the
//! tolerance, with the position where it was measured.

use super::free_travel::Region;
use super::rate_atlas::NodeId;
use super::stops::{Guard, Proof};
use crate::clearance::Gap;
use crate::findings::TightGap;
use crate::kinematics::Position;
use rayon::prelude::*;

/// The least gap is proved to within this, mm.
const GAP_TOLERANCE_MM: f64 = 0.05;
/// Far pairs hold flat minima that nobody asks for: their tolerance grows to this share of the gap.
const GAP_TOLERANCE_SHARE: f64 = 0.05;
/// Blocks looked at per pair before the proof is given up and the bound left at what is proved.
const MOST_BLOCKS: usize = 4_000;
/// Positions of the coarse look along each axis.
const COARSE: usize = 10;

/// The tightest pairs whose least gap is bounded one by one; others too, unless proved clear everywhere.
const PROVED_PAIRS: usize = 12;

struct Best {
    gap: Gap,
    position: Position,
}

/// Least gaps of all pairs, tightest first.
pub fn tightest_gaps(guard: &Guard, region: &Region) -> Vec<TightGap> {
    let pairs = &guard.corner.pairs;
    let mut looks: Vec<(usize, Best)> = (0..pairs.len())
        .into_par_iter()
        .map(|pair| (pair, coarse_look(guard, region, pair)))
        .collect();
    looks.sort_by(|a, b| {
        let room = |x: &(usize, Best)| x.1.gap.gap_mm - pairs[x.0].required_mm;
        room(a).total_cmp(&room(b)).then(a.0.cmp(&b.0))
    });
    // Far pairs that are proved clear everywhere are listed as measured, with that as the bound.
    let mut out: Vec<TightGap> = looks
        .into_par_iter()
        .enumerate()
        .map(|(rank, (pair, best))| {
            if rank >= PROVED_PAIRS && guard.always_clear[pair] {
                found(guard, pair, best, pairs[pair].required_mm)
            } else {
                tightest_gap(guard, region, pair, best)
            }
        })
        .collect();
    out.sort_by(|a, b| {
        (a.gap_mm - a.required_mm)
            .total_cmp(&(b.gap_mm - b.required_mm))
            .then_with(|| (&a.a, &a.b).cmp(&(&b.a, &b.b)))
    });
    out
}

/// The least gap on a coarse grid of free positions and at the measured one.
fn coarse_look(guard: &Guard, region: &Region, pair: usize) -> Best {
    let corner = guard.corner;
    let measured = corner.positioner.place(0.0, 0.0);
    let gap = corner.gap(&corner.pairs[pair], &measured.linkage, None);
    let mut best = Best { gap, position: measured };
    let size = region.size();
    for i in 0..COARSE {
        for j in 0..COARSE {
            let at = [i, j].map(|k| (2 * k + 1) as f64 / (2 * COARSE) as f64);
            let square = [(at[0] * size[0] as f64) as usize, (at[1] * size[1] as f64) as usize];
            let block = [[square[0], square[0] + 1], [square[1], square[1] + 1]];
            if region.touches_free(block) {
                let (alpha, rack) = region.cell(block).centre();
                look(guard, pair, &mut best, alpha, rack);
            }
        }
    }
    best
}

/// Measures the gap at a position, no further than to see that it is no less than the best.
fn look(guard: &Guard, pair: usize, best: &mut Best, alpha: f64, rack: f64) {
    let corner = guard.corner;
    let watched = &corner.pairs[pair];
    let position = corner.positioner.place(alpha, rack);
    let swell = corner.swell_mm(watched, &position.linkage);
    let relative = watched.relative(&corner.parts, &position.linkage);
    let warm = Some(best.gap.elements);
    let gap = watched.walk(&corner.parts).gap(&relative, swell, best.gap.gap_mm, warm);
    if gap.gap_mm < best.gap.gap_mm {
        *best = Best { gap, position };
    }
}

fn tightest_gap(guard: &Guard, region: &Region, pair: usize, mut best: Best) -> TightGap {
    let size = region.size();
    let middle = size.map(|n| n / 2);
    let mut stack: Vec<([[usize; 2]; 2], Option<NodeId>)> = Vec::new();
    for i in [[0, middle[0]], [middle[0], size[0]]] {
        for j in [[0, middle[1]], [middle[1], size[1]]] {
            stack.push(([i, j], None));
        }
    }
    let tolerance = |gap: f64| GAP_TOLERANCE_MM.max(GAP_TOLERANCE_SHARE * gap);
    let mut blocks = 0;
    let mut proved = true;
    while let Some((block, node)) = stack.pop() {
        if !region.touches_free(block) {
            continue;
        }
        blocks += 1;
        if blocks > MOST_BLOCKS {
            proved = false;
            break;
        }
        let cell = region.cell(block);
        let from = node.unwrap_or_else(|| guard.atlas.quarter(&cell));
        let (alpha, rack) = cell.centre();
        let level = best.gap.gap_mm - tolerance(best.gap.gap_mm);
        if level <= 0.0 {
            // Nothing lower can be told apart from touching.
            break;
        }
        let warm = Some(best.gap.elements);
        let (node, proof) =
            guard.on_cell(from, &cell, |state| guard.prove_pair(pair, level, state, warm));
        if proof == Some(Proof::Free) {
            continue;
        }
        let width = block.map(|[a, b]| b - a);
        let inside = [
            [(block[0][0] + block[0][1]) / 2, (block[0][0] + block[0][1]) / 2 + 1],
            [(block[1][0] + block[1][1]) / 2, (block[1][0] + block[1][1]) / 2 + 1],
        ];
        if region.touches_free(inside) {
            look(guard, pair, &mut best, alpha, rack);
        }
        if width == [1, 1] {
            // A single square: its gap differs from its middle's by less than the square's motion.
            continue;
        }
        let axis = usize::from(width[1] * 2 > width[0]);
        let axis = if width[axis] == 1 { 1 - axis } else { axis };
        let split = (block[axis][0] + block[axis][1]) / 2;
        for half in 0..2 {
            let mut part = block;
            part[axis][1 - half] = split;
            stack.push((part, Some(node)));
        }
    }
    let at_least = if proved { best.gap.gap_mm - tolerance(best.gap.gap_mm) } else { 0.0 };
    found(guard, pair, best, at_least)
}

fn found(guard: &Guard, pair: usize, best: Best, at_least: f64) -> TightGap {
    let corner = guard.corner;
    let watched = &corner.pairs[pair];
    let linkage = &best.position.linkage;
    let swell = corner.swell_mm(watched, linkage);
    let [a, b] = watched.points(&corner.parts, linkage, &best.gap, swell);
    let gap_mm = best.gap.gap_mm;
    TightGap {
        a: corner.parts[watched.a].name.clone(),
        b: corner.parts[watched.b].name.clone(),
        gap_mm,
        at_least_mm: at_least.max(0.0),
        required_mm: watched.required_mm,
        travel_mm: best.position.travel_mm,
        rack_mm: best.position.rack_mm,
        point_a_mm: a.into(),
        point_b_mm: b.into(),
    }
}
