//! The first touch of metal over all rack positions: the headline.
//!
//! The idea in five lines. Each rack position's first touch is a witness, and the least travel among
//! them a first guess; a short search between rack positions improves it. What remains is a proof: no
//! watched pair touches at any rack position at less travel than the guess minus the tolerance. The
//! rectangle is searched cell by cell, least travel first; a cell is done when every pair is proved
//! apart over it or when all of it lies beyond the guess. A touch found on the way is a better guess,
//! and the search goes on with that. So the answer holds between the rack positions too.

use super::line::{Crossing, Line, TRAVEL_TOLERANCE_MM, first_crossing};
use super::queue::Waiting;
use super::rate_atlas::{Cell, CellRates};
use super::stop_order::LineStops;
use super::stops::{Guard, Proof, StopKind};
use crate::findings::TravelDirection;
use std::collections::BinaryHeap;

/// A touching position.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Witness {
    /// The pair's number.
    pub pair: usize,
    /// Arm angle.
    pub alpha: f64,
    /// Rack, mm.
    pub rack_mm: f64,
    /// Wheel travel, mm.
    pub travel_mm: f64,
}

/// How the search ended.
#[derive(Clone, Debug, PartialEq)]
pub enum FirstTouch {
    /// Nothing touches at any rack position up to this travel, mm, signed.
    Clear {
        /// How far that was looked for.
        searched_mm: f64,
    },
    /// The first touch; everything at less travel than `proved_mm` (in size) is free at every rack.
    Touch {
        /// Where.
        witness: Witness,
        /// Proved free up to this travel, mm, signed.
        proved_mm: f64,
    },
    /// Work limit: proved free only up to `proved_mm`.
    Undecided {
        /// The best witness, if any.
        witness: Option<Witness>,
        /// Proved free up to this travel, mm, signed.
        proved_mm: f64,
    },
}

/// A proved travel this close before the witness brackets it, mm: the tolerance, and rounding.
const BRACKET_MM: f64 = TRAVEL_TOLERANCE_MM * 1.001;
/// Cells looked at before giving up: tests sweep the demo scenes without coming to it.
const MOST_CELLS: usize = 300_000;

/// Edges tried inward of a cell that can't be enclosed.
const INWARD_EDGES: i32 = 32;

/// Finds the first touch in one direction. `lines` are the stops found at single rack positions.
pub fn first_touch(guard: &Guard, direction: TravelDirection, lines: &[&LineStops]) -> FirstTouch {
    let corner = guard.corner;
    let sign = match direction {
        TravelDirection::Droop => -1.0,
        TravelDirection::Bump => 1.0,
    };
    let travel = |alpha: f64, rack: f64| corner.positioner.place(alpha, rack).travel_mm;
    let mut best: Option<Witness> = None;
    // Only touches on this side of the measured height count.
    let offer = |witness: Witness, best: &mut Option<Witness>| {
        let ahead = sign * witness.travel_mm;
        if ahead > 0.0 && best.is_none_or(|b| ahead < sign * b.travel_mm) {
            *best = Some(witness);
        }
    };
    let domain = guard.atlas.domain;
    // Search no further than every rack line of this direction reaches, nor than the rectangle does.
    let mut limit_mm = far_edge_mm(guard, sign);
    for line in lines {
        if line.direction == direction {
            limit_mm = limit_mm.min(travel(line.searched_to, line.rack_mm).abs());
        }
        // The first touch of each line; a line of the other direction may begin on this side.
        let touch = line.met.iter().find_map(|m| match m.stop {
            StopKind::Contact(pair) => Some((pair, m.stopped_at)),
            _ => None,
        });
        if let Some((pair, alpha)) = touch {
            let (rack_mm, travel_mm) = (line.rack_mm, travel(alpha, line.rack_mm));
            offer(
                Witness {
                    pair,
                    alpha,
                    rack_mm,
                    travel_mm,
                },
                &mut best,
            );
        }
    }
    if let Some(witness) = best {
        offer(improve(guard, witness, lines, sign), &mut best);
    }

    let pairs: Vec<_> = (0..corner.pairs.len())
        .filter(|i| !guard.always_clear(*i))
        .map(|i| (i, None))
        .collect();
    let mut heap = BinaryHeap::new();
    let mut number = 0;
    // Both halves of the arm's angle: away from straight ahead the measured height isn't at its zero.
    for alpha in [[domain.alpha[0], 0.0], [0.0, domain.alpha[1]]] {
        for rack in [[domain.rack[0], 0.0], [0.0, domain.rack[1]]] {
            let cell = Cell { alpha, rack };
            let node = guard.atlas.quarter(&cell);
            number += 1;
            heap.push(Waiting {
                least: 0.0,
                number,
                cell,
                node,
                open: pairs.clone(),
            });
        }
    }
    let goal = |best: &Option<Witness>| match best {
        Some(w) => (sign * w.travel_mm - TRAVEL_TOLERANCE_MM).clamp(0.0, limit_mm),
        None => limit_mm,
    };
    let mut cells = 0;
    // Least travel of cells too small to go on with and still unproved: next to the end of reach.
    let mut strip_mm = f64::INFINITY;
    while let Some(waiting) = heap.pop() {
        if waiting.least >= goal(&best) {
            break;
        }
        cells += 1;
        if cells > MOST_CELLS {
            return FirstTouch::Undecided {
                witness: best,
                proved_mm: sign * waiting.least,
            };
        }
        let cell = waiting.cell;
        let below = guard.atlas.descend(waiting.node, &cell);
        let mut waiting = waiting;
        if !guard.atlas.has_patch(below) {
            // Near the end of reach rates are dear. The wheel moves outward with the arm, so the least
            // travel of the cell is on its near edge, and may lie beyond the goal already.
            let near = if sign < 0.0 {
                cell.alpha[1]
            } else {
                cell.alpha[0]
            };
            // Next to the end of reach that edge itself can't be enclosed; one nearer to the start bounds it too.
            let toward_start = |from: f64| {
                (0..INWARD_EDGES)
                    .map(move |i| from * (1.0 - f64::from(i) / f64::from(INWARD_EDGES)))
                    .map(|alpha| Cell {
                        alpha: [alpha, alpha],
                        rack: cell.rack,
                    })
                    .map(|edge| CellRates::travel_range(corner, &edge))
                    .find(|range| range.is_bounded())
            };
            if sign * near < 0.0 {
                // On the other half of the arm's angle: the whole cell may lie on the other side.
                let far = cell.alpha[usize::from(sign > 0.0)];
                let ahead = toward_start(far).map(|r| if sign < 0.0 { -r.lo } else { r.hi });
                if sign * far <= 0.0 && ahead.is_some_and(|ahead| ahead < 0.0) {
                    continue;
                }
            }
            let bound = if sign * near >= 0.0 {
                toward_start(near)
            } else {
                None
            };
            let least = bound.map_or(f64::NEG_INFINITY, |range| {
                if sign < 0.0 { -range.hi } else { range.lo }
            });
            waiting.least = waiting.least.max(least);
            if waiting.least >= goal(&best) {
                continue;
            }
            if guard.atlas.is_unproved_leaf(below) {
                // The smallest patch, and still not enclosed: next to the end of reach, or past it.
                if !guard.atlas.is_beyond_reach(corner, below, &cell) {
                    strip_mm = strip_mm.min(waiting.least);
                }
                continue;
            }
        }
        let (node, seen) = guard.on_cell(waiting.node, &cell, |state| {
            let swing = state.swing(&state.duals.wheel_centre.z, &state.rates.travel_bend);
            let least_mm = (sign * state.position.travel_mm - swing).max(waiting.least);
            let other_side = sign * state.position.travel_mm + swing < 0.0;
            if least_mm >= goal(&best) || other_side {
                return None;
            }
            // The axis to split is the one along which more changes: the pair's motion, or the travel
            // that the cell's order in the queue hangs on (an arm against the frame doesn't feel the
            // rack, but the wheel's height does).
            let height = &state.duals.wheel_centre.z;
            let mut axis_cost = [0, 1].map(|i| height.rate[i].abs() * state.half[i]);
            let mut open = Vec::new();
            for (pair, warm) in &waiting.open {
                let stop = StopKind::Contact(*pair);
                if guard.is_screened(stop, cell.alpha) {
                    continue;
                }
                match guard.prove(stop, state, *warm) {
                    Proof::Free => {}
                    Proof::Stopped => open.push((*pair, *warm)),
                    Proof::Open(elements) => open.push((*pair, elements)),
                }
            }
            for (pair, _) in &open {
                let (_, moving) = corner.pairs[*pair].roles();
                let surface = &corner.parts[moving].surface;
                let middle = surface.origin + surface.rotation * surface.bounds().middle;
                let field = guard.cell_field(&corner.pairs[*pair], state);
                for (cost, share) in axis_cost.iter_mut().zip(field.shares(&middle)) {
                    *cost = cost.max(share);
                }
            }
            let axis = usize::from(axis_cost[1] > axis_cost[0]);
            Some((least_mm, open, axis, state.position.travel_mm))
        });
        let (least_mm, open, axis) = match seen {
            Some(None) => continue,
            Some(Some((least_mm, open, axis, travel_mm))) => {
                let (alpha, rack_mm) = cell.centre();
                if sign * travel_mm > 0.0 && sign * travel_mm < goal(&best) {
                    for (pair, warm) in &open {
                        let stop = StopKind::Contact(*pair);
                        if guard.violated_at(stop, alpha, rack_mm, *warm) {
                            offer(
                                Witness {
                                    pair: *pair,
                                    alpha,
                                    rack_mm,
                                    travel_mm,
                                },
                                &mut best,
                            );
                        }
                    }
                }
                (least_mm, open, axis)
            }
            // No rates yet: part of the cell is unproved. Split on, down to the patches.
            None => {
                let half = cell.half();
                let axis = usize::from(half[0] * 500.0 < half[1]);
                (waiting.least, waiting.open.clone(), axis)
            }
        };
        if open.is_empty() {
            continue;
        }
        for part in cell.halves(axis) {
            number += 1;
            heap.push(Waiting {
                least: least_mm,
                number,
                cell: part,
                node,
                open: open.clone(),
            });
        }
    }
    let proved_mm = sign * goal(&best).min(strip_mm);
    match best {
        // Proved up to the witness: neither the rectangle's edge nor an unproved strip comes before.
        Some(witness) if sign * witness.travel_mm - sign * proved_mm <= BRACKET_MM => {
            FirstTouch::Touch { witness, proved_mm }
        }
        Some(_) => FirstTouch::Undecided {
            witness: best,
            proved_mm,
        },
        None => FirstTouch::Clear {
            searched_mm: proved_mm,
        },
    }
}

/// Travel, in size, that every position on the far edge of the rectangle lies beyond, as far as that can
/// be enclosed; where it can't, the end of reach comes before the edge.
fn far_edge_mm(guard: &Guard, sign: f64) -> f64 {
    const PIECES: usize = 32;
    let domain = guard.atlas.domain;
    let alpha = domain.alpha[usize::from(sign > 0.0)];
    let [low, high] = domain.rack;
    let at = |i: usize| low + (high - low) * i as f64 / PIECES as f64;
    (0..PIECES)
        .map(|i| Cell {
            alpha: [alpha, alpha],
            rack: [at(i), at(i + 1)],
        })
        .map(|cell| CellRates::travel_range(guard.corner, &cell))
        .filter(|range| range.is_bounded())
        .map(|range| if sign < 0.0 { -range.hi } else { range.lo })
        .fold(f64::INFINITY, f64::min)
}

/// Slides the witness along the rack to a lesser travel: golden-section search between the
/// neighbouring rack lines on that pair's guarded first crossing.
fn improve(guard: &Guard, from: Witness, lines: &[&LineStops], sign: f64) -> Witness {
    let corner = guard.corner;
    let racks = || lines.iter().map(|l| l.rack_mm);
    let low = racks()
        .filter(|r| *r < from.rack_mm)
        .fold(f64::NAN, f64::max);
    let high = racks()
        .filter(|r| *r > from.rack_mm)
        .fold(f64::NAN, f64::min);
    let low = if low.is_nan() { from.rack_mm } else { low };
    let high = if high.is_nan() { from.rack_mm } else { high };
    let domain = guard.atlas.domain.alpha;
    let end = if sign < 0.0 { domain[0] } else { domain[1] };
    let clear = guard.clear_to[from.pair][usize::from(sign > 0.0)];
    let at = |rack_mm: f64| -> Option<Witness> {
        let line = Line::AlongTravel { rack_mm };
        match first_crossing(guard, line, StopKind::Contact(from.pair), clear, end) {
            Crossing::Stopped { stopped_at, .. } => {
                let travel_mm = corner.positioner.place(stopped_at, rack_mm).travel_mm;
                Some(Witness {
                    pair: from.pair,
                    alpha: stopped_at,
                    rack_mm,
                    travel_mm,
                })
            }
            _ => None,
        }
    };
    const GOLDEN: f64 = 0.618_033_988_749_895;
    let (mut a, mut b) = (low, high);
    let mut best = from;
    for _ in 0..10 {
        let (x, y) = (b - GOLDEN * (b - a), a + GOLDEN * (b - a));
        let (fx, fy) = (at(x), at(y));
        let size = |w: &Option<Witness>| w.map_or(f64::INFINITY, |w| w.travel_mm.abs());
        for w in [fx, fy].into_iter().flatten() {
            if w.travel_mm.abs() < best.travel_mm.abs() {
                best = w;
            }
        }
        if size(&fx) < size(&fy) { b = y } else { a = x }
    }
    best
}
