//! Pairs that never come near: proved once over the whole rectangle, then asked no more.
//!
//! Most watched pairs stay far apart. One that keeps its required gap over the whole rectangle of arm
//! angle and rack can't be a stop anywhere, so the stop order, the map and the first contact skip it.

use super::rate_atlas::{Cell, NodeId};
use super::stops::{Guard, Proof};
use rayon::prelude::*;

/// Cells spent on one pair before it is left to the real search.
const MOST_CELLS: usize = 400;

/// For each pair, whether its gap is proved to stay above both the required gap and touching, at every
/// position of the rectangle.
pub fn always_clear(guard: &Guard) -> Vec<bool> {
    (0..guard.corner.pairs.len()).into_par_iter().map(|pair| is_always_clear(guard, pair)).collect()
}

fn is_always_clear(guard: &Guard, pair: usize) -> bool {
    let level = guard.corner.pairs[pair].required_mm.max(crate::truck::TOUCH_MM);
    let domain = guard.atlas.domain;
    let mut stack: Vec<(Cell, NodeId)> = Vec::new();
    for alpha in [[domain.alpha[0], 0.0], [0.0, domain.alpha[1]]] {
        for rack in [[domain.rack[0], 0.0], [0.0, domain.rack[1]]] {
            let cell = Cell { alpha, rack };
            stack.push((cell, guard.atlas.quarter(&cell)));
        }
    }
    let mut cells = 0;
    let mut warm = None;
    while let Some((cell, node)) = stack.pop() {
        cells += 1;
        if cells > MOST_CELLS {
            return false;
        }
        let (node, proof) = guard.on_cell(node, &cell, |state| {
            let share = state.rates.travel[0].magnitude() * state.half[0];
            (guard.prove_pair(pair, level, state, warm), usize::from(state.half[1] > share))
        });
        match proof {
            Some((Proof::Free, _)) => continue,
            Some((Proof::Stopped, _)) => return false,
            Some((Proof::Open(elements), axis)) => {
                warm = elements.or(warm);
                stack.extend(cell.halves(axis).map(|c| (c, node)));
            }
            None => stack.extend(cell.halves(0).map(|c| (c, node))),
        }
    }
    true
}
