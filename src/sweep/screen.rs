//! How far from the measured position each pair is clear at every rack position: proved once, then
//! asked no more.
//!
//! Most watched pairs stay far apart over most of the rectangle. It is cut into strips of arm angle; strip
//! by strip, outward from the measured position, a pair is proved to keep its required gap at every rack
//! position. Stop order, map and first contact then look at it only beyond the last proved strip.

use super::rate_atlas::{Cell, NodeId};
use super::stops::{Guard, Proof};
use rayon::prelude::*;

/// Strips to each side of the measured position; as many as the atlas has patches there, times four.
const STRIPS: usize = 16;
/// Cells spent on one strip before the pair is left to the real search.
const MOST_CELLS: usize = 24;
/// Cells spent on all strips of a direction together: one to each side of straight ahead.
const WHOLE_CELLS: usize = 2;

/// For each pair, the arm angles (droop, bump) up to which its gap is proved to stay above both the
/// required gap and touching at every rack position.
pub fn clear_to(guard: &Guard) -> Vec<[f64; 2]> {
    let domain = guard.atlas.domain.alpha;
    (0..guard.corner.pairs.len())
        .into_par_iter()
        .map(|pair| domain.map(|end| clear_toward(guard, pair, end)))
        .collect()
}

fn clear_toward(guard: &Guard, pair: usize, end: f64) -> f64 {
    let at = |strip: usize| end * strip as f64 / STRIPS as f64;
    let mut warm = None;
    // Far pairs, such as an arm and a bumper, are clear in one go.
    if strip_is_clear(
        guard,
        pair,
        [end.min(0.0), end.max(0.0)],
        &mut warm,
        WHOLE_CELLS,
    ) {
        return end;
    }
    for strip in 0..STRIPS {
        let ends = [at(strip), at(strip + 1)];
        let alpha = [ends[0].min(ends[1]), ends[0].max(ends[1])];
        if !strip_is_clear(guard, pair, alpha, &mut warm, MOST_CELLS) {
            return at(strip);
        }
    }
    end
}

fn strip_is_clear(
    guard: &Guard,
    pair: usize,
    alpha: [f64; 2],
    warm: &mut Option<(u32, u32)>,
    most_cells: usize,
) -> bool {
    let level = guard.corner.pairs[pair]
        .required_mm
        .max(crate::truck::TOUCH_MM);
    let rack = guard.atlas.domain.rack;
    let mut stack: Vec<(Cell, NodeId)> = [[rack[0], 0.0], [0.0, rack[1]]]
        .into_iter()
        .map(|rack| Cell { alpha, rack })
        .map(|cell| (cell, guard.atlas.quarter(&cell)))
        .collect();
    let mut cells = 0;
    while let Some((cell, node)) = stack.pop() {
        cells += 1;
        if cells > most_cells {
            return false;
        }
        let (node, seen) = guard.on_cell(node, &cell, |state| {
            let along = state.rates.travel[0].magnitude() * state.half[0];
            (
                guard.prove_pair(pair, level, state, *warm),
                usize::from(state.half[1] > along),
            )
        });
        match seen {
            Some((Proof::Free, _)) => {}
            Some((Proof::Open(elements), axis)) => {
                *warm = elements.or(*warm);
                stack.extend(cell.halves(axis).map(|c| (c, node)));
            }
            None if guard.atlas.is_beyond_reach(guard.corner, node, &cell) => {}
            None => stack.extend(cell.halves(1).map(|c| (c, node))),
            Some((Proof::Stopped, _)) => return false,
        }
    }
    true
}
