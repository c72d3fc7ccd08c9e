//! How far from the measured position each pair is clear at every rack position: proved once, then
//! asked no more.
//!
//! Most watched pairs stay far apart over most of the rectangle. It is cut into strips of arm angle; strip
//! by strip, outward from the measured position, a pair is proved to keep its required gap at every rack
//! position. Stop order, map and first contact then look at it only beyond the last proved strip.

use super::rate_atlas::{Cell, NodeId};
use super::stops::{CellState, Guard, Proof};
use rayon::prelude::*;

/// Strips to each side of the measured position; as many as the atlas has patches there, times four.
const STRIPS: usize = 16;
/// Cells spent on one strip before the pair is left to the real search.
const MOST_CELLS: usize = 24;

/// For each pair, the arm angles (droop, bump) up to which its gap is proved to stay above both the
/// required gap and touching at every rack position.
pub fn clear_to(guard: &Guard) -> Vec<[f64; 2]> {
    let [droop, bump] = guard.atlas.domain.alpha.map(|end| clear_toward(guard, end));
    droop.into_iter().zip(bump).map(|(d, b)| [d, b]).collect()
}

/// A pair that is clear so far.
struct Candidate {
    pair: usize,
    /// The elements last in the way.
    warm: Option<(u32, u32)>,
}

/// The same in one direction. The strips are taken outward, all pairs together: what a strip's two halves are like is worked
/// out once, and most pairs are proved clear over both at once. Only the others are looked at each by itself.
fn clear_toward(guard: &Guard, end: f64) -> Vec<f64> {
    let at = |strip: usize| end * strip as f64 / STRIPS as f64;
    let count = guard.corner.pairs.len();
    let mut out = vec![end; count];
    let new = |pair| Candidate { pair, warm: None };
    let mut clear: Vec<Candidate> = (0..count).map(new).collect();
    for strip in 0..STRIPS {
        let ends = [at(strip), at(strip + 1)];
        let alpha = [ends[0].min(ends[1]), ends[0].max(ends[1])];
        let rack = guard.atlas.domain.rack;
        let halves = [[rack[0], 0.0], [0.0, rack[1]]].map(|rack| {
            let cell = Cell { alpha, rack };
            let look = |state: &CellState| -> Vec<bool> {
                let is_free = |c: &Candidate| {
                    let level = level_mm(guard, c.pair);
                    guard.prove_pair(c.pair, level, state, c.warm) == Proof::Free
                };
                clear.par_iter().map(is_free).collect()
            };
            let (_, seen) = guard.on_cell(guard.atlas.quarter(&cell), &cell, look);
            seen.unwrap_or_else(|| vec![false; clear.len()])
        });
        clear = clear
            .into_par_iter()
            .enumerate()
            .filter_map(|(i, mut c)| {
                let at_once = halves.iter().all(|half| half[i]);
                (at_once || strip_is_clear(guard, c.pair, alpha, &mut c.warm)).then_some(c)
            })
            .collect();
        let is_left = |pair: usize| clear.binary_search_by_key(&pair, |c| c.pair).is_ok();
        for (pair, reached) in out.iter_mut().enumerate() {
            if *reached == end && !is_left(pair) {
                *reached = at(strip);
            }
        }
    }
    out
}

/// The gap that a pair is to be proved to stay above, mm.
fn level_mm(guard: &Guard, pair: usize) -> f64 {
    guard.corner.pairs[pair]
        .required_mm
        .max(crate::truck::TOUCH_MM)
}

fn strip_is_clear(
    guard: &Guard,
    pair: usize,
    alpha: [f64; 2],
    warm: &mut Option<(u32, u32)>,
) -> bool {
    let level = level_mm(guard, pair);
    let rack = guard.atlas.domain.rack;
    let mut stack: Vec<(Cell, NodeId)> = [[rack[0], 0.0], [0.0, rack[1]]]
        .into_iter()
        .map(|rack| Cell { alpha, rack })
        .map(|cell| (cell, guard.atlas.quarter(&cell)))
        .collect();
    let mut cells = 0;
    while let Some((cell, node)) = stack.pop() {
        cells += 1;
        if cells > MOST_CELLS {
            return false;
        }
        let node = guard.atlas.descend(node, &cell);
        if let Some(poses) = guard.reached_poses(node, &cell) {
            let (is_kept, elements) = poses.keep_gap(guard, pair, level, *warm);
            if !poses.are_none() && !is_kept {
                *warm = elements.or(*warm);
                stack.extend(cell.halves(cell.longer_axis()).map(|c| (c, node)));
            }
            continue;
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
