//! How far from the measured position each pair is clear at every rack position: proved once, then
//! asked no more.
//!
//! The idea in five lines. Most watched pairs stay far apart over most of the rectangle, which is cut into strips of arm
//! angle. Outward from the measured position all pairs together are proved to keep their required gap over a run of strips
//! at every rack position: what a cell is like is worked out once for all of them. Those that can't be proved over a run of
//! two are looked at strip by strip, in ever smaller cells. Stop order, map and first contact then look at a pair only beyond
//! its last proved strip.
//!
//! Guarantee: up to the stated arm angle the gap is kept at every rack position that the linkage reaches. Not guaranteed:
//! that it is kept no further.

use super::rate_atlas::{Cell, NodeId};
use super::stops::{CellState, Guard, Proof};
use crate::clearance::Clear;
use rayon::prelude::*;

/// Strips to each side of the measured position; as many as the atlas has patches there, times four.
const STRIPS: usize = 16;
/// Strips that all pairs are asked about at once. Longer runs take fewer proofs, and each of them more work.
const RUN: usize = 2;
/// Cells of one strip over which a pair may stay open before it is left to the real search.
const MOST_OPEN: usize = 24;
/// Cells of one strip over which a pair is asked in all. Next to the end of reach they are as small as the atlas's smallest
/// patches.
const MOST_CELLS: usize = 100;

/// For each pair, the arm angles (droop, bump) up to which its gap is proved to stay above both the
/// required gap and touching at every rack position.
pub fn clear_to(guard: &Guard) -> Vec<[f64; 2]> {
    let corner = guard.corner;
    let Cell { alpha, rack } = guard.atlas.domain;
    let question = |pair: usize| {
        let level_mm = level_mm(guard, pair);
        let rectangle = [alpha, rack];
        corner.clear_question(
            &corner.pairs[pair],
            level_mm,
            rectangle,
            guard.bound_factor(),
        )
    };
    let pairs = 0..corner.pairs.len();
    let known: Vec<Option<Clear>> = pairs
        .map(|pair| corner.proved_clear.of(&question(pair)))
        .collect();
    let new: Vec<usize> = (0..known.len()).filter(|i| known[*i].is_none()).collect();
    let [droop, bump] = alpha.map(|end| clear_toward(guard, end, &new));
    let each = droop.into_iter().zip(bump).zip(known).enumerate();
    each.map(|(pair, ((droop, bump), known))| match known {
        Some(clear) => {
            guard.count_queries(pair, clear.queries);
            clear.to
        }
        None => {
            let clear = Clear {
                to: [droop, bump],
                queries: guard.queries_of(pair),
            };
            corner.proved_clear.keep(&question(pair), clear);
            clear.to
        }
    })
    .collect()
}

/// The same of some pairs in one direction.
fn clear_toward(guard: &Guard, end: f64, pairs: &[usize]) -> Vec<f64> {
    let mut strips = Strips {
        guard,
        end,
        clear_to: vec![end; guard.corner.pairs.len()],
    };
    let new = |pair: &usize| Candidate {
        pair: *pair,
        warm: None,
        open: 0,
        cells: 0,
    };
    let mut left: Vec<Candidate> = pairs.iter().map(new).collect();
    for from in (0..STRIPS).step_by(RUN) {
        left = strips.prove([from, from + RUN], left);
    }
    strips.clear_to
}

/// A pair that is clear so far.
#[derive(Clone, Copy)]
struct Candidate {
    pair: usize,
    /// The elements last in the way.
    warm: Option<(u32, u32)>,
    /// Cells of the strip at hand over which it stayed open.
    open: usize,
    /// Cells of the strip at hand over which it was asked.
    cells: usize,
}

/// The strips of one direction.
struct Strips<'g> {
    guard: &'g Guard<'g>,
    /// Arm angle at which the last one ends.
    end: f64,
    /// For each pair, the arm angle up to which it is proved clear, unless found otherwise.
    clear_to: Vec<f64>,
}

impl Strips<'_> {
    fn at(&self, strip: usize) -> f64 {
        self.end * strip as f64 / STRIPS as f64
    }

    /// Those of `candidates`, clear before a run of strips (from, to), that are clear over it too.
    fn prove(&mut self, [from, to]: [usize; 2], candidates: Vec<Candidate>) -> Vec<Candidate> {
        if candidates.is_empty() {
            return candidates;
        }
        let ends = [self.at(from), self.at(to)];
        let alpha = [ends[0].min(ends[1]), ends[0].max(ends[1])];
        let is_one = to - from == 1;
        let (mut clear, open) = prove_over(self.guard, alpha, is_one, candidates);
        if is_one {
            for candidate in open {
                self.clear_to[candidate.pair] = ends[0];
            }
            return clear;
        }
        let middle = (from + to) / 2;
        let nearer = self.prove([from, middle], open);
        clear.extend(self.prove([middle, to], nearer));
        clear
    }
}

/// The gap that a pair is to be proved to stay above, mm.
fn level_mm(guard: &Guard, pair: usize) -> f64 {
    guard.corner.pairs[pair]
        .required_mm
        .max(crate::truck::TOUCH_MM)
}

/// What was shown of the pairs over one cell.
enum Shown {
    /// What was shown of each, and the axis to split along.
    Each(Vec<Proof>, usize),
    /// No position of the cell is reached.
    Unreached,
    /// Rates aren't known: split along this axis.
    Unknown(usize),
}

/// Which of the candidates are proved clear over a range of arm angles at every rack position, and which aren't. Both halves
/// of the rack are asked as they are, or, where it `may_split`, in ever smaller cells.
fn prove_over(
    guard: &Guard,
    alpha: [f64; 2],
    may_split: bool,
    mut candidates: Vec<Candidate>,
) -> (Vec<Candidate>, Vec<Candidate>) {
    for candidate in &mut candidates {
        (candidate.open, candidate.cells) = (0, 0);
    }
    let rack = guard.atlas.domain.rack;
    let everyone: Vec<usize> = (0..candidates.len()).collect();
    let mut work: Vec<(Cell, NodeId, Vec<usize>)> = [[rack[0], 0.0], [0.0, rack[1]]]
        .into_iter()
        .map(|rack| Cell { alpha, rack })
        .map(|cell| (cell, guard.atlas.quarter(&cell), everyone.clone()))
        .collect();
    let most_open = if may_split { MOST_OPEN } else { 0 };
    while let Some((cell, node, mut asked)) = work.pop() {
        // What comes out for a pair doesn't hang on which others are asked: each has an allowance of its own.
        asked.retain(|i| {
            let candidate = &mut candidates[*i];
            candidate.cells += 1;
            if candidate.cells > MOST_CELLS {
                candidate.open = usize::MAX;
            }
            candidate.open <= most_open
        });
        if asked.is_empty() {
            continue;
        }
        let node = guard.atlas.descend(node, &cell);
        let axis = match look(guard, node, &cell, &candidates, &asked) {
            Shown::Unreached => continue,
            Shown::Each(each, axis) => {
                for (i, proof) in asked.iter().zip(&each) {
                    let candidate = &mut candidates[*i];
                    match proof {
                        Proof::Free => {}
                        Proof::Stopped => candidate.open = usize::MAX,
                        Proof::Open(elements) => {
                            candidate.open += 1;
                            candidate.warm = elements.or(candidate.warm);
                        }
                    }
                }
                let mut proofs = each.iter();
                asked.retain(|_| proofs.next() != Some(&Proof::Free));
                axis
            }
            Shown::Unknown(axis) if may_split => axis,
            Shown::Unknown(_) => {
                for i in &asked {
                    candidates[*i].open = usize::MAX;
                }
                continue;
            }
        };
        let halves = cell.halves(axis);
        work.extend(halves.map(|half| (half, node, asked.clone())));
    }
    candidates
        .into_iter()
        .partition(|candidate| candidate.open <= most_open)
}

/// What can be shown of some of the candidates over a cell.
fn look(
    guard: &Guard,
    node: NodeId,
    cell: &Cell,
    candidates: &[Candidate],
    asked: &[usize],
) -> Shown {
    let each = |ask: &(dyn Fn(&Candidate, f64) -> Proof + Sync)| {
        let ask = |i: &usize| ask(&candidates[*i], level_mm(guard, candidates[*i].pair));
        asked.par_iter().map(ask).collect::<Vec<_>>()
    };
    if let Some(poses) = guard.reached_poses(node, cell) {
        if poses.are_none() {
            return Shown::Unreached;
        }
        let keep = |c: &Candidate, level_mm| match poses.keep_gap(guard, c.pair, level_mm, c.warm) {
            (true, _) => Proof::Free,
            (false, elements) => Proof::Open(elements),
        };
        return Shown::Each(each(&keep), cell.longer_axis());
    }
    let (node, seen) = guard.on_cell(node, cell, |state: &CellState| {
        let along = state.rates.travel[0].magnitude() * state.half[0];
        let prove = |c: &Candidate, level_mm| guard.prove_pair(c.pair, level_mm, state, c.warm);
        Shown::Each(each(&prove), usize::from(state.half[1] > along))
    });
    match seen {
        Some(shown) => shown,
        None if guard.atlas.is_beyond_reach(node, cell) => Shown::Unreached,
        None => Shown::Unknown(cell.longer_axis()),
    }
}
