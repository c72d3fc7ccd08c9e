//! The first touch of metal over all rack positions: the headline.
//!
//! The idea in five lines. Each rack position's first touch is a witness, and the least travel among
//! them a first guess; a short search between rack positions improves it. What remains is a proof: no
//! watched pair touches at any rack position at less travel than the guess minus the tolerance. The
//! rectangle is searched cell by cell, least travel first; a cell is done when every pair is proved
//! apart over it or when all of it lies beyond the guess. A touch found on the way is a better guess,
//! and the search goes on with that. So the answer holds between the rack positions too.

use super::line::{BRACKET_MM, Crossing, Line, TRAVEL_TOLERANCE_MM, first_crossing};
use super::near_reach::ReachedPoses;
use super::queue::{BestFirst, Waiting};
use super::rate_atlas::{Cell, CellRates, NodeId};
use super::stop_order::LineStops;
use super::stops::{CellState, Guard, OpenStop, StopKind};
use crate::findings::{ContactClass, TravelDirection};
use crate::numbers::Interval;
use crate::truck::Corner;
use std::collections::VecDeque;

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
    /// The first touch; everything at less travel than `proved_mm` (in size) is free of contacts of its class
    /// at every rack.
    Touch {
        /// Where.
        witness: Witness,
        /// Proved free up to this travel, mm, signed.
        proved_mm: f64,
    },
    /// Proved free only up to `proved_mm`: the work limit was reached, or a strip next to the end of reach can't be proved.
    Undecided {
        /// The best witness, if any.
        witness: Option<Witness>,
        /// Proved free up to this travel, mm, signed.
        proved_mm: f64,
    },
}

/// Cells looked at before giving up: tests sweep the demo scenes without coming to it.
const MOST_CELLS: usize = 300_000;

/// Next to the end of reach cells are split down to this, mm, with the wheel this far from the lower arm's pivots.
const STRIP_CELL_MM: f64 = 0.5;
const ARM_MM: f64 = 500.0;

/// How far a better touch is looked for between rack positions, as a share of the way to the one at hand.
const IMPROVED_WITHIN: f64 = 1.05;

/// Steps of the search for it: a hundredth of the way between two rack positions is left.
const GOLDEN_STEPS: usize = 10;

/// Edges tried inward of a cell that can't be enclosed.
const INWARD_EDGES: i32 = 32;

/// The search in one direction. Travels are in size here: outward is positive.
struct Search<'g> {
    guard: &'g Guard<'g>,
    /// Travel's sign outward.
    sign: f64,
    /// Nobody asks for more travel than this, mm.
    limit_mm: f64,
    best: Option<Witness>,
}

/// What the linkage alone tells about a cell without rates.
enum NearReach {
    /// Of no interest: on the other side of the measured height.
    OtherSide,
    /// No less travel than this in it, mm.
    AtLeast(f64),
}

/// What was found out about a cell.
struct Weighed {
    /// No less travel than this in it, mm.
    least_mm: f64,
    open: Vec<OpenStop>,
    /// Which way to split it: 0 along the arm's angle, 1 along the rack.
    axis: usize,
    /// Travel at its centre, mm, signed; `None` where its rates aren't known.
    travel_mm: Option<f64>,
}

/// Finds the first touch of one kind in one direction. `lines` are the stops found at single rack positions.
pub fn first_touch(
    guard: &Guard,
    class: ContactClass,
    direction: TravelDirection,
    lines: &[&LineStops],
) -> FirstTouch {
    let mut search = Search::start(guard, class, direction, lines);
    let contacts: Vec<OpenStop> = (0..guard.corner.pairs.len())
        .filter(|pair| guard.class_of(*pair) == class && !guard.always_clear(*pair))
        .map(|pair| (StopKind::Contact(pair), None))
        .collect();
    let mut queue = BestFirst::over(guard.atlas, 0.0, &contacts);
    let mut cells = 0;
    // Least travel of cells too small to go on with and still unproved: next to the end of reach, or single positions.
    let mut strip_mm = f64::INFINITY;
    while let Some(mut waiting) = queue.next() {
        if waiting.least >= search.goal_mm() {
            break;
        }
        cells += 1;
        if cells > MOST_CELLS {
            return FirstTouch::Undecided {
                witness: search.best,
                proved_mm: search.sign * waiting.least,
            };
        }
        let cell = waiting.cell;
        let below = guard.atlas.descend(waiting.node, &cell);
        if !guard.atlas.has_patch(below) {
            match search.near_reach(&cell) {
                NearReach::OtherSide => continue,
                NearReach::AtLeast(least_mm) => waiting.least = waiting.least.max(least_mm),
            }
            if waiting.least >= search.goal_mm() {
                continue;
            }
            if guard.atlas.is_unproved_leaf(below) {
                // The smallest patch, and still not enclosed: next to the end of reach, or past it.
                let poses = ReachedPoses::over(guard.corner, &cell);
                let open = poses.still_open(guard, &waiting.open);
                if poses.are_none() || open.is_empty() {
                    continue;
                }
                let half = cell.half();
                let is_large = half[0] * ARM_MM > STRIP_CELL_MM || half[1] > STRIP_CELL_MM;
                let axis = cell.longer_axis();
                if is_large && queue.split(waiting.least, &cell, axis, below, &open) {
                    continue;
                } else if !guard.atlas.is_beyond_reach(below, &cell) {
                    strip_mm = strip_mm.min(waiting.least);
                }
                continue;
            }
        }
        let (node, Some(weighed)) = search.weigh(&waiting) else {
            continue;
        };
        search.look_for_touch(&cell, &weighed);
        let least_mm = weighed.least_mm;
        if !weighed.open.is_empty()
            && !queue.split(least_mm, &cell, weighed.axis, node, &weighed.open)
        {
            strip_mm = strip_mm.min(least_mm);
        }
    }
    search.finish(strip_mm)
}

impl<'g> Search<'g> {
    /// With what the rack lines know: how far each was searched, and its first touch.
    fn start(
        guard: &'g Guard<'g>,
        class: ContactClass,
        direction: TravelDirection,
        lines: &[&LineStops],
    ) -> Self {
        let sign = direction.sign();
        let mut search = Search {
            guard,
            sign,
            // Search no further than every rack line of this direction reaches, nor than the rectangle does.
            limit_mm: far_edge_mm(guard, sign),
            best: None,
        };
        let travel = |alpha, rack| guard.corner.positioner.place(alpha, rack).travel_mm;
        for line in lines {
            if line.direction == direction {
                let reached_mm = travel(line.searched_to, line.rack_mm).abs();
                search.limit_mm = search.limit_mm.min(reached_mm);
            }
            // The first touch of each line; a line of the other direction may begin on this side.
            let touch = line.met.iter().find_map(|m| match m.stop {
                StopKind::Contact(pair) if guard.class_of(pair) == class => {
                    Some((pair, m.stopped_at))
                }
                _ => None,
            });
            if let Some((pair, alpha)) = touch {
                search.offer(Witness {
                    pair,
                    alpha,
                    rack_mm: line.rack_mm,
                    travel_mm: travel(alpha, line.rack_mm),
                });
            }
        }
        if let Some(witness) = search.best {
            search.offer(improve(guard, witness, lines, sign));
        }
        search
    }

    /// A touching position. Only those on this side of the measured height count.
    fn offer(&mut self, witness: Witness) {
        let ahead = self.sign * witness.travel_mm;
        if ahead > 0.0 && self.best.is_none_or(|b| ahead < self.sign * b.travel_mm) {
            self.best = Some(witness);
        }
    }

    /// Travel up to which everything is to be proved free, mm.
    fn goal_mm(&self) -> f64 {
        match self.best {
            Some(w) => (self.sign * w.travel_mm - TRAVEL_TOLERANCE_MM).clamp(0.0, self.limit_mm),
            None => self.limit_mm,
        }
    }

    /// Near the end of reach rates are dear. The wheel moves outward with the arm, so the least travel of the cell
    /// is on its near edge, and may lie beyond the goal already.
    fn near_reach(&self, cell: &Cell) -> NearReach {
        let sign = self.sign;
        let outward = |range: Interval| if sign < 0.0 { -range.hi } else { range.lo };
        // Next to the end of reach that edge itself can't be enclosed; one nearer to the start bounds it too.
        let toward_start = |from: f64| {
            (0..INWARD_EDGES)
                .map(move |i| from * (1.0 - f64::from(i) / f64::from(INWARD_EDGES)))
                .map(|alpha| Cell {
                    alpha: [alpha, alpha],
                    rack: cell.rack,
                })
                .map(|edge| CellRates::travel_range(self.guard.corner, &edge))
                .find(|range| range.is_bounded())
        };
        let [near, far] = if sign < 0.0 {
            [cell.alpha[1], cell.alpha[0]]
        } else {
            cell.alpha
        };
        if sign * near >= 0.0 {
            return NearReach::AtLeast(toward_start(near).map_or(f64::NEG_INFINITY, outward));
        }
        // On the other half of the arm's angle: the whole cell may lie on the other side.
        let most = toward_start(far).map(|range| if sign < 0.0 { -range.lo } else { range.hi });
        if sign * far <= 0.0 && most.is_some_and(|most| most < 0.0) {
            NearReach::OtherSide
        } else {
            NearReach::AtLeast(f64::NEG_INFINITY)
        }
    }

    /// What can be proved over a cell; nothing where it is of no more interest.
    fn weigh(&self, waiting: &Waiting<OpenStop>) -> (NodeId, Option<Weighed>) {
        let (guard, sign, cell) = (self.guard, self.sign, &waiting.cell);
        let node = guard.atlas.descend(waiting.node, cell);
        let (node, seen) = guard.on_cell(node, cell, |state| {
            let swing = state.swing(&state.duals.wheel_centre.z, &state.rates.travel_bend);
            let travel_mm = state.position.travel_mm;
            let least_mm = (sign * travel_mm - swing).max(waiting.least);
            if least_mm >= self.goal_mm() || sign * travel_mm + swing < 0.0 {
                return None;
            }
            let open = guard.still_open(cell, state, &waiting.open);
            let axis = self.axis(state, &open);
            Some(Weighed {
                least_mm,
                open,
                axis,
                travel_mm: Some(travel_mm),
            })
        });
        // No rates yet: part of the cell is unproved. Split on, down to the patches.
        let unknown = || {
            Some(Weighed {
                least_mm: waiting.least,
                open: waiting.open.clone(),
                axis: cell.longer_axis(),
                travel_mm: None,
            })
        };
        (node, seen.unwrap_or_else(unknown))
    }

    /// The axis to split is the one along which more changes: an open pair's motion, or the travel that the
    /// cell's order in the queue hangs on (an arm against the frame doesn't feel the rack, but the wheel's height
    /// does).
    fn axis(&self, state: &CellState, open: &[OpenStop]) -> usize {
        let height = &state.duals.wheel_centre.z;
        let [arm_bend, _, rack_bend] = state.rates.travel_bend;
        let bends = [arm_bend, rack_bend].map(|bend| 0.5 * bend);
        let mut cost =
            [0, 1].map(|i| (height.rate[i].abs() + bends[i] * state.half[i]) * state.half[i]);
        for pair in open.iter().filter_map(|(stop, _)| stop.pair()) {
            let shares = self.guard.motion_shares(pair, state);
            for (cost, share) in cost.iter_mut().zip(shares) {
                *cost = cost.max(share);
            }
        }
        usize::from(cost[1] > cost[0])
    }

    /// Looks whether something touches at the cell's centre.
    fn look_for_touch(&mut self, cell: &Cell, weighed: &Weighed) {
        let Some(travel_mm) = weighed.travel_mm else {
            return;
        };
        let (alpha, rack_mm) = cell.centre();
        let ahead = self.sign * travel_mm;
        if ahead <= 0.0 || ahead >= self.goal_mm() {
            return;
        }
        for (stop, warm) in &weighed.open {
            // The two elements in the way are asked alone: where others touch, those stand in the way of smaller cells.
            if let (Some(pair), Some(elements)) = (stop.pair(), *warm)
                && self.guard.elements_touch_at(pair, elements, alpha, rack_mm)
            {
                self.offer(Witness {
                    pair,
                    alpha,
                    rack_mm,
                    travel_mm,
                });
            }
        }
    }

    /// The answer, once no cell nearer than the goal is open but for a strip next to the end of reach.
    fn finish(self, strip_mm: f64) -> FirstTouch {
        let proved_mm = self.sign * self.goal_mm().min(strip_mm);
        match self.best {
            // Proved up to the witness: neither the rectangle's edge nor an unproved strip comes before.
            Some(witness) if self.sign * (witness.travel_mm - proved_mm) <= BRACKET_MM => {
                FirstTouch::Touch { witness, proved_mm }
            }
            Some(_) => FirstTouch::Undecided {
                witness: self.best,
                proved_mm,
            },
            None => FirstTouch::Clear {
                searched_mm: proved_mm,
            },
        }
    }
}

/// Pieces of the far edge along the rack at first.
const EDGE_PIECES: usize = 32;
/// Pieces of the far edge looked at in all: where reach ends on it, halves meet that end ever closer.
const MOST_EDGE_PIECES: usize = 512;
/// Halvings of the way inward from a piece of the far edge that can't be enclosed.
const INWARD_HALVINGS: i32 = 20;

/// Travel, in size, that every position on the far edge of the rectangle lies beyond: what lies outside the rectangle was
/// not looked at.
fn far_edge_mm(guard: &Guard, sign: f64) -> f64 {
    let domain = guard.atlas.domain;
    let alpha = domain.alpha[usize::from(sign > 0.0)];
    least_on_edge_mm(guard.corner, alpha, domain.rack, sign)
}

/// Travel, in size, that every position within reach on an edge of constant arm angle lies beyond.
///
/// A piece of the edge that can't be enclosed may be left out only where it is proved out of reach: then the end of
/// reach comes before it. One on which reach ends has positions on it, and with them contacts beyond it, at less travel
/// than the rest of the edge. It is halved; what is left in the end counts with the travel of the nearest angle inward
/// that can be enclosed, since the wheel moves outward with the arm.
fn least_on_edge_mm(corner: &Corner, alpha: f64, [low, high]: [f64; 2], sign: f64) -> f64 {
    let edge = |alpha: f64, rack: [f64; 2]| Cell {
        alpha: [alpha, alpha],
        rack,
    };
    let least = |cell: &Cell| {
        let range = CellRates::travel_range(corner, cell);
        let outward = if sign < 0.0 { -range.hi } else { range.lo };
        range.is_bounded().then_some(outward)
    };
    let inward = |rack: [f64; 2]| {
        let angles = (0..=INWARD_HALVINGS).rev().map(|k| 1.0 - 0.5_f64.powi(k));
        let mut bounds = angles.filter_map(|share| least(&edge(alpha * share, rack)));
        bounds.next().unwrap_or(0.0).max(0.0)
    };
    let at = |i: usize| low + (high - low) * i as f64 / EDGE_PIECES as f64;
    let mut pieces: VecDeque<[f64; 2]> = (0..EDGE_PIECES).map(|i| [at(i), at(i + 1)]).collect();
    let mut looked_at = 0;
    let mut out = f64::INFINITY;
    while let Some(rack) = pieces.pop_front() {
        looked_at += 1;
        let cell = edge(alpha, rack);
        let middle = 0.5 * (rack[0] + rack[1]);
        let splits = rack[0] < middle && middle < rack[1];
        if let Some(bound) = least(&cell) {
            out = out.min(bound);
            continue;
        }
        if CellRates::is_beyond_reach(corner, &cell) {
            // No position on it.
            continue;
        }
        if splits && looked_at + pieces.len() < MOST_EDGE_PIECES {
            pieces.extend([[rack[0], middle], [middle, rack[1]]]);
        } else {
            out = out.min(inward(rack));
        }
    }
    out
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
    // Nobody asks for more travel than the witness has; its arm angle differs a little from rack to rack.
    let ahead = clear + (from.alpha - clear) * IMPROVED_WITHIN;
    let end = if sign < 0.0 {
        ahead.max(end)
    } else {
        ahead.min(end)
    };
    let at = |rack_mm: f64| -> Option<Witness> {
        let line = Line::AlongTravel { rack_mm };
        // Past the end of reach the linkage may have poses again, to which no wheel gets.
        let end = match first_crossing(guard, line, StopKind::EndOfReach, clear, end) {
            Crossing::Clear => end,
            Crossing::Stopped { free_to, .. } | Crossing::Undecided { free_to } => free_to,
        };
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
    if (end - clear) * sign <= 0.0 {
        return from;
    }
    const GOLDEN: f64 = 0.618_033_988_749_895;
    let mut best = from;
    let mut weigh = |rack_mm: f64| -> f64 {
        let Some(witness) = at(rack_mm) else {
            return f64::INFINITY;
        };
        if witness.travel_mm.abs() < best.travel_mm.abs() {
            best = witness;
        }
        witness.travel_mm.abs()
    };
    let (mut a, mut b) = (low, high);
    let (mut x, mut y) = (b - GOLDEN * (b - a), a + GOLDEN * (b - a));
    let (mut at_x, mut at_y) = (weigh(x), weigh(y));
    for _ in 1..GOLDEN_STEPS {
        if at_x < at_y {
            (b, y, at_y) = (y, x, at_x);
            x = b - GOLDEN * (b - a);
            at_x = weigh(x);
        } else {
            (a, x, at_x) = (x, y, at_y);
            y = a + GOLDEN * (b - a);
            at_y = weigh(y);
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scene::scene_from_text;
    use crate::truck::assemble;
    use std::path::Path;

    /// Angles at which the edge is laid, over the span in which reach ends, and racks looked at on each.
    const EDGES: usize = 24;
    const RACKS: usize = 6_000;

    /// Where reach ends on the far edge, pieces of it can't be enclosed though positions on them are within reach. Leaving
    /// those pieces out rests on no proof, though on the demos' edges no position has less travel than the rest of them.
    /// What the edge promises instead is held against positions here, each solved for itself.
    #[test]
    fn no_position_on_the_far_edge_has_less_travel_than_is_promised() {
        let mut ends_on_edge = 0;
        for (name, sign) in [
            ("crake", -1.0),
            ("crake", 1.0),
            ("tarnwood", -1.0),
            ("tarnwood", 1.0),
            ("hollin", -1.0),
            ("hollin", 1.0),
        ] {
            let path = format!("scenes/{name}.ron");
            let text = std::fs::read_to_string(&path).expect("a demo scene");
            let mut scene = scene_from_text(&text, Path::new(&path)).expect("it reads");
            scene.setups.clear();
            let truck = assemble(&scene, Path::new("scenes")).unwrap_or_else(|p| panic!("{p:?}"));
            let corner = &truck.corners[0];
            let racks = |i: usize| {
                let [low, high] = corner.rack_mm;
                low + (high - low) * i as f64 / RACKS as f64
            };
            let reaches = |alpha: f64, rack_mm: f64| {
                let position = corner.positioner.place(alpha, rack_mm);
                let rises = corner.positioner.rates(alpha, rack_mm).rate[0] > 0.0;
                let reached = position.linkage.out_of_reach().is_none() && rises;
                reached.then_some(sign * position.travel_mm)
            };
            // How far the arm goes at each of some racks.
            let ends: Vec<f64> = (0..=RACKS)
                .step_by(RACKS / 40)
                .map(|i| {
                    let (mut inside, mut outside) = (0.0, sign * 3.0);
                    for _ in 0..50 {
                        let middle = 0.5 * (inside + outside);
                        if reaches(middle, racks(i)).is_some() {
                            inside = middle;
                        } else {
                            outside = middle;
                        }
                    }
                    inside
                })
                .collect();
            let nearest = ends.iter().map(|a| a.abs()).fold(f64::INFINITY, f64::min);
            let furthest = ends.iter().map(|a| a.abs()).fold(0.0, f64::max);
            for i in 1..EDGES {
                let alpha = sign * (nearest + (furthest - nearest) * i as f64 / EDGES as f64);
                let promised = least_on_edge_mm(corner, alpha, corner.rack_mm, sign);
                let travels: Vec<f64> = (0..=RACKS)
                    .filter_map(|i| reaches(alpha, racks(i)))
                    .collect();
                let least = travels.iter().copied().fold(f64::INFINITY, f64::min);
                assert!(
                    promised <= least + 1.0e-9,
                    "{name} {alpha}: {promised} {least}"
                );
                if travels.is_empty() || travels.len() > RACKS {
                    continue;
                }
                ends_on_edge += 1;
                // Not given away either. What is left of the edge where reach ends is bounded from further inward, by no
                // more than twice what the end of reach moves over so short a piece: here below a twentieth.
                assert!(
                    promised > 0.95 * least,
                    "{name} {alpha}: {promised} {least}"
                );
            }
        }
        assert!(
            ends_on_edge > 100,
            "{ends_on_edge} edges on which reach ends"
        );
    }
}
