//! How long a damper or strap may be, and how short the damper may be crushed, before anything else stops
//! the wheel at any steering angle, with a margin in wheel travel.
//!
//! The idea in five lines. Give every position the length that the damper would have a margin of travel
//! before it. The longest safe damper is the least of these lengths over all positions that some other stop
//! forbids, each reached from the measured position. The rectangle of arm angle and rack is searched cell by
//! cell, least length first: a cell is done when every other stop is proved kept over it, or when the length
//! on its near edge, enclosed along the edge, lies beyond the best witness. So the answer holds between the
//! rack positions too. Crushing is the same search with the sign turned.

use super::line::{BRACKET_MM, TRAVEL_TOLERANCE_MM};
use super::queue::{BestFirst, Waiting};
use super::rate_atlas::{Cell, NodeId};
use super::reached_locks::steering_stops;
use super::stop_order::{Met, stops_on_line};
use super::stops::{Guard, OpenStop, Proof, StopKind};
use crate::findings::TravelDirection;
use crate::limits::Span;
use crate::numbers::{Enclosure, Interval};
use crate::truck::Corner;
use rayon::prelude::*;

/// A position that some stop forbids.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Forbidden {
    /// The stop.
    pub stop: StopKind,
    /// Arm angle.
    pub alpha: f64,
    /// Rack, mm.
    pub rack_mm: f64,
    /// Wheel travel, mm.
    pub travel_mm: f64,
    /// The length a margin before it, mm.
    pub length_mm: f64,
}

/// The length up to which the margin is kept.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum SafeLength {
    /// Nothing else stops the wheel up to this length; how far was looked.
    Unlimited {
        /// The length that the search reached.
        searched_mm: f64,
    },
    /// Proved safe up to one length, with a position that forbids another at most the tolerance further.
    Limited {
        /// Proved: with this length the margin is kept at every steering angle.
        safe_mm: f64,
        /// What forbids more.
        by: Forbidden,
    },
    /// No length is safe: at one rack position the stop is past its limit at the measured height already.
    Never {
        /// The stop, where.
        by: Forbidden,
    },
    /// Proved safe up to a length; beyond it, it could not be decided.
    Undecided {
        /// Proved, if anything is.
        safe_mm: Option<f64>,
        /// The nearest position known to be forbidden.
        by: Option<Forbidden>,
    },
}

impl SafeLength {
    /// The length that is proved to keep the margin.
    pub fn proved_mm(&self) -> Option<f64> {
        match self {
            SafeLength::Unlimited { searched_mm } => Some(*searched_mm),
            SafeLength::Limited { safe_mm, .. } => Some(*safe_mm),
            SafeLength::Undecided { safe_mm, .. } => *safe_mm,
            SafeLength::Never { .. } => None,
        }
    }
}

/// Cells looked at before giving up: tests solve the demo scenes without coming to it.
const MOST_CELLS: usize = 100_000;
/// A stop met this near the measured height may be past its limit there already, mm.
const AT_START_MM: f64 = 1.0;
/// Rack positions at which witnesses are looked for first.
const FIRST_RACKS: i32 = 8;
/// Pieces along the rack in which the rectangle's outer edge is enclosed.
const EDGE_PIECES: usize = 64;
/// Edges tried inward of a cell, a patch apart.
const INWARD_EDGES: i32 = 24;

/// The search in one direction: `outward` lengths grow from the measured position on.
struct Search<'g> {
    guard: &'g Guard<'g>,
    span: &'g Span,
    rates: &'g LengthRates,
    /// Steering stops: beyond one there is no position to keep a margin to.
    steering: Vec<StopKind>,
    /// Travel's sign outward.
    sign: f64,
    margin_mm: f64,
}

impl Search<'_> {
    fn corner(&self) -> &Corner {
        self.guard.corner
    }

    /// Length that grows outward: in droop the length itself, in bump what is left of it.
    fn outward(&self, length_mm: f64) -> f64 {
        -self.sign * length_mm
    }

    /// The arm angle a margin of travel before a position.
    fn before(&self, alpha: f64, rack_mm: f64) -> Option<f64> {
        if self.margin_mm == 0.0 {
            return Some(alpha);
        }
        let here = self.corner().positioner.place(alpha, rack_mm);
        let travel_mm = here.travel_mm - self.sign * self.margin_mm;
        let position = self.corner().position(travel_mm, rack_mm).ok()?;
        Some(position.alpha)
    }

    /// The length at an arm angle and rack.
    fn length_at(&self, alpha: f64, rack_mm: f64) -> f64 {
        self.span
            .length(&self.corner().positioner.place(alpha, rack_mm).linkage)
    }

    /// Proved: the length on the rectangle's outer edge, over every rack position: no answer goes further.
    fn searched(&self) -> Option<f64> {
        let domain = self.guard.atlas.domain;
        let end = domain.alpha[usize::from(self.sign > 0.0)];
        let [low, high] = domain.rack;
        let at = |i: usize| low + (high - low) * i as f64 / EDGE_PIECES as f64;
        (0..EDGE_PIECES)
            .map(|i| {
                self.least(&Cell {
                    alpha: [end, end],
                    rack: [at(i), at(i + 1)],
                })
            })
            .try_fold(f64::INFINITY, |least, piece| Some(least.min(piece?)))
    }

    /// Whether the length at a cell's near edge seems to lie beyond a goal: a guess that saves work, nothing is
    /// concluded from it.
    fn is_beyond(&self, cell: &Cell, goal: f64) -> bool {
        let near = cell.alpha[usize::from(self.sign < 0.0)];
        let (_, middle) = cell.centre();
        self.before(near, middle)
            .is_some_and(|at| self.outward(self.length_at(at, middle)) >= goal)
    }

    /// Proved: the whole cell lies on the other side of the measured height. Asked of the half of the arm's
    /// angle that leads there; within reach the wheel rises with the arm, so the edge toward zero tells.
    fn is_other_side(&self, cell: &Cell) -> bool {
        let toward_zero = cell.alpha[usize::from(self.sign > 0.0)];
        if self.sign * toward_zero > 0.0 {
            return false;
        }
        let (_, middle) = cell.centre();
        let half = 0.5 * (cell.rack[1] - cell.rack[0]) * (1.0 + 1.0e-12);
        let step = self.sign * self.rates.step();
        (0..INWARD_EDGES)
            .map(|i| toward_zero + step * f64::from(i))
            .take_while(|edge| self.sign * edge <= 0.0)
            .find_map(|edge| Some((edge, self.rates.over([edge, edge], cell.rack)?)))
            .is_some_and(|(edge, rates)| {
                let travel = self.corner().positioner.place(edge, middle).travel_mm;
                self.sign * travel + rates.travel[1].magnitude() * half < 0.0
            })
    }

    /// Proved: on the way out the wheel has this length a margin before it comes to the cell, at every rack
    /// position of the cell. So a damper that ends at it keeps the margin to everything inside, however the length
    /// goes on from there: that the cell's near edge, or any edge before it, is looked at alone is enough. None
    /// where nothing could be enclosed.
    fn least(&self, cell: &Cell) -> Option<f64> {
        let near = cell.alpha[usize::from(self.sign < 0.0)];
        // Next to the end of reach nothing is enclosed: an edge further in will do.
        let step = self.sign * self.rates.step();
        (0..INWARD_EDGES)
            .map(|i| near - step * f64::from(i))
            .take_while(|edge| self.sign * edge >= 0.0 || *edge == near)
            .find_map(|edge| self.least_on_edge(edge, cell))
    }

    /// The same for one edge.
    ///
    /// Let b(r) be the arm angle a margin before the cell's near edge at rack r. Along the edge
    /// d/dr L(b(r), r) = L_r + L_b (T_r(edge) - T_r(b)) / T_b, and b leaves its place at the middle at a rate of
    /// at most (|T_r(edge)| + |T_r(b)|) / T_b: so where that keeps it inside the box whose rates are used, it
    /// is inside, since it would have to be on the box's edge first.
    fn least_on_edge(&self, near: f64, cell: &Cell) -> Option<f64> {
        let (_, middle) = cell.centre();
        let half = 0.5 * (cell.rack[1] - cell.rack[0]) * (1.0 + 1.0e-12);
        let edge = self.rates.over([near, near], cell.rack)?;
        let at = self.before(near, middle)?;
        let mut reach = 1.0e-9;
        let held = (0..4).find_map(|_| {
            let box_rates = self.rates.over([at - reach, at + reach], cell.rack)?;
            let sideways = edge.travel[1].magnitude() + box_rates.travel[1].magnitude();
            let needed = sideways * half / box_rates.travel[0].lo;
            if needed.is_finite() && needed < reach {
                return Some(box_rates);
            }
            reach = 1.5 * needed + 1.0e-9;
            None
        })?;
        let slide = (edge.travel[1] - held.travel[1]) / held.travel[0];
        let along = held.length[1] + held.length[0] * slide;
        let value = self.outward(self.length_at(at, middle));
        let least = value - along.magnitude() * half;
        least.is_finite().then_some(least)
    }
}

/// Rates of wheel travel and of a length, by arm angle (mm per radian) and by rack (mm per mm).
#[derive(Clone, Copy)]
struct Rates {
    travel: [Interval; 2],
    length: [Interval; 2],
}

impl Rates {
    fn hull(self, o: Rates) -> Rates {
        Rates {
            travel: [0, 1].map(|i| self.travel[i].hull(o.travel[i])),
            length: [0, 1].map(|i| self.length[i].hull(o.length[i])),
        }
    }
}

/// Patches of the rectangle along the arm's angle and along the rack. More of them bound rates more tightly and
/// cost one enclosure of the linkage each.
const PATCHES: [usize; 2] = [32, 16];

/// Rates enclosed once, patch by patch, over the rectangle.
pub struct LengthRates {
    domain: Cell,
    patches: Vec<Option<Rates>>,
}

impl LengthRates {
    /// Encloses the rates of a length over the guard's rectangle.
    pub fn enclose(corner: &Corner, domain: &Cell, span: &Span) -> LengthRates {
        let [n, m] = PATCHES;
        let at = |ends: [f64; 2], i: usize, n: usize| {
            ends[0] + (ends[1] - ends[0]) * i as f64 / n as f64
        };
        let patches = (0..n * m)
            .into_par_iter()
            .map(|k| {
                let (i, j) = (k / m, k % m);
                let cell = Cell {
                    alpha: [at(domain.alpha, i, n), at(domain.alpha, i + 1, n)],
                    rack: [at(domain.rack, j, m), at(domain.rack, j + 1, m)],
                };
                let ((a, r), half) = (cell.centre(), cell.half());
                let linkage = corner.positioner.linkage.solve(
                    Enclosure::variable(a, half[0], 0),
                    Enclosure::variable(r, half[1], 1),
                );
                if !linkage.is_within_reach() {
                    return None;
                }
                let length = span.length(&linkage);
                let rates = |e: &Enclosure| [0, 1].map(|i| e.rate[i].scale(1.0 / half[i]));
                let rates = Rates {
                    travel: rates(&linkage.wheel_centre.z),
                    length: rates(&length),
                };
                let mut all = rates.travel.iter().chain(&rates.length);
                all.all(|i| i.is_bounded()).then_some(rates)
            })
            .collect();
        LengthRates {
            domain: *domain,
            patches,
        }
    }

    /// Arm angle across one patch.
    fn step(&self) -> f64 {
        (self.domain.alpha[1] - self.domain.alpha[0]) / PATCHES[0] as f64
    }

    /// Rates over a box; none where it leaves the rectangle or part of it couldn't be enclosed.
    fn over(&self, alpha: [f64; 2], rack: [f64; 2]) -> Option<Rates> {
        let numbers = |box_ends: [f64; 2], ends: [f64; 2], n: usize| -> Option<[usize; 2]> {
            let share = |v: f64| (v - ends[0]) / (ends[1] - ends[0]) * n as f64;
            let (low, high) = (share(box_ends[0]), share(box_ends[1]));
            // A box on a patch's edge takes the patches on both sides.
            const SLACK: f64 = 1.0e-9;
            if low < -SLACK || high > n as f64 + SLACK {
                return None;
            }
            let number = |v: f64| (v.max(0.0) as usize).min(n - 1);
            Some([number(low - SLACK), number(high + SLACK)])
        };
        let [n, m] = PATCHES;
        let rows = numbers(alpha, self.domain.alpha, n)?;
        let columns = numbers(rack, self.domain.rack, m)?;
        let mut hull: Option<Rates> = None;
        for i in rows[0]..=rows[1] {
            for j in columns[0]..=columns[1] {
                let rates = self.patches[i * m + j]?;
                hull = Some(hull.map_or(rates, |h| h.hull(rates)));
            }
        }
        hull
    }
}

/// The longest length of `span` in droop, or the shortest in bump, that stays `margin_mm` of wheel travel
/// short of every stop that `guard` asks for. Take off the guard what the length itself is (the damper's own
/// end, the strap), see [`Guard::without`]. `rates` are the length's own over the guard's rectangle.
pub fn safe_length(
    guard: &Guard,
    span: &Span,
    rates: &LengthRates,
    direction: TravelDirection,
    margin_mm: f64,
) -> SafeLength {
    let sign = direction.sign();
    let search = Search {
        guard,
        span,
        rates,
        steering: steering_stops(guard),
        sign,
        margin_mm,
    };
    let mut best = search.first_forbidden(direction);
    let Some(searched) = search.searched() else {
        // A margin larger than the travel there is, or nothing enclosed.
        return SafeLength::Undecided {
            safe_mm: None,
            by: best,
        };
    };
    let goal = |best: &Option<Forbidden>| {
        let witness = best.map_or(f64::INFINITY, |b| {
            search.outward(b.length_mm) - TRAVEL_TOLERANCE_MM
        });
        witness.min(searched)
    };
    let asked = guard.stops.iter().filter(|s| !search.steering.contains(s));
    let open: Vec<OpenStop> = asked.map(|s| (*s, None)).collect();
    let mut queue = BestFirst::over(guard.atlas, f64::NEG_INFINITY, &open);
    // Least length of what stayed unproved: next to the end of reach, or at single positions.
    let mut strip = f64::INFINITY;
    let mut cells = 0;
    while let Some(waiting) = queue.next() {
        if waiting.least >= goal(&best) {
            break;
        }
        cells += 1;
        if cells > MOST_CELLS {
            let proved = waiting.least.min(strip);
            return SafeLength::Undecided {
                safe_mm: proved.is_finite().then_some(search.outward(proved)),
                by: best,
            };
        }
        let cell = waiting.cell;
        if search.is_other_side(&cell) {
            continue;
        }
        // The dearer question second: most cells are either well within what is safe or well beyond.
        let mut least = waiting.least;
        let bound = |least: f64| search.least(&cell).map_or(least, |l| l.max(least));
        let beyond = search.is_beyond(&cell, goal(&best));
        if beyond {
            least = bound(least);
            if least >= goal(&best) {
                continue;
            }
        }
        let below = guard.atlas.descend(waiting.node, &cell);
        if guard.atlas.is_unproved_leaf(below) {
            if !guard.atlas.is_beyond_reach(below, &cell) {
                strip = strip.min(bound(least));
            }
            continue;
        }
        let (node, Some((open, axis))) = search.weigh(&waiting, below, &mut best) else {
            continue;
        };
        if !beyond {
            least = bound(least);
        }
        if !queue.split(least, &cell, axis, node, &open) {
            strip = strip.min(least);
        }
    }
    search.finish(best, goal(&best).min(strip))
}

impl Search<'_> {
    /// Takes a forbidden position for the best where it allows less length. Only those on this side of the
    /// measured height count.
    fn offer(&self, best: &mut Option<Forbidden>, stop: StopKind, alpha: f64, rack_mm: f64) {
        let travel_mm = self.corner().positioner.place(alpha, rack_mm).travel_mm;
        if travel_mm.is_nan() || self.sign * travel_mm <= 0.0 {
            return;
        }
        let Some(before) = self.before(alpha, rack_mm) else {
            return;
        };
        let length_mm = self.length_at(before, rack_mm);
        let outward = self.outward(length_mm);
        if best.is_none_or(|b: Forbidden| outward < self.outward(b.length_mm)) {
            *best = Some(Forbidden {
                stop,
                alpha,
                rack_mm,
                travel_mm,
                length_mm,
            });
        }
    }

    /// Whether the wheel is steered beyond a steering stop.
    fn is_steered_beyond(&self, alpha: f64, rack_mm: f64) -> bool {
        let mut stops = self.steering.iter();
        stops.any(|stop| self.guard.violated_at(*stop, alpha, rack_mm, None))
    }

    /// The nearest of the first stops at a few rack positions.
    fn first_forbidden(&self, direction: TravelDirection) -> Option<Forbidden> {
        let mut best = None;
        for i in -FIRST_RACKS / 2..=FIRST_RACKS / 2 {
            let share = f64::from(i) / f64::from(FIRST_RACKS / 2);
            let rack_mm = share.abs() * self.guard.atlas.domain.rack[usize::from(share > 0.0)];
            let line = stops_on_line(self.guard, rack_mm, direction);
            let is_asked = |met: &&Met| {
                !self.steering.contains(&met.stop)
                    && !self.is_steered_beyond(met.stopped_at, rack_mm)
            };
            if let Some(met) = line.met.iter().find(is_asked) {
                // Past the end of reach there is no length; the last position before it has one.
                let alpha = if met.stop == StopKind::EndOfReach {
                    met.free_to
                } else {
                    met.stopped_at
                };
                self.offer(&mut best, met.stop, alpha, rack_mm);
            }
        }
        best
    }

    /// The stops that aren't proved kept over a cell, and the axis to split it along; nothing where the cell is of
    /// no more interest. A stop met at its centre is offered.
    fn weigh(
        &self,
        waiting: &Waiting<OpenStop>,
        node: NodeId,
        best: &mut Option<Forbidden>,
    ) -> (NodeId, Option<(Vec<OpenStop>, usize)>) {
        let (guard, cell) = (self.guard, &waiting.cell);
        let node = guard.atlas.descend(node, cell);
        let mut left = &waiting.open;
        let near_reach;
        if let Some(poses) = guard.reached_poses(node, cell) {
            near_reach = poses.still_open(guard, left);
            left = &near_reach;
            if poses.are_none() || left.is_empty() {
                return (node, None);
            }
        }
        let (node, seen) = guard.on_cell(node, cell, |state| {
            let swing = state.swing(&state.duals.wheel_centre.z, &state.rates.travel_bend);
            if self.sign * state.position.travel_mm + swing < 0.0 {
                return None;
            }
            let is_beyond = |stop: &StopKind| guard.prove(*stop, state, None) == Proof::Stopped;
            if self.steering.iter().any(is_beyond) {
                return None;
            }
            let open = guard.still_open(cell, state, left);
            let along = state.duals.wheel_centre.z.rate[0].abs() * state.half[0];
            (!open.is_empty()).then(|| (open, usize::from(state.half[1] > along)))
        });
        let Some(weighed) = seen else {
            // Part of the cell is unproved: split on, down to the patches.
            let beyond = guard.atlas.is_beyond_reach(node, cell);
            let goes_on = !beyond && !left.is_empty();
            return (node, goes_on.then(|| (left.clone(), cell.longer_axis())));
        };
        if let Some((open, _)) = &weighed {
            let (alpha, rack_mm) = cell.centre();
            let forbidden = open
                .iter()
                .find(|(stop, warm)| guard.violated_at(*stop, alpha, rack_mm, *warm));
            if let Some((stop, _)) = forbidden
                && !self.is_steered_beyond(alpha, rack_mm)
            {
                self.offer(best, *stop, alpha, rack_mm);
            }
        }
        (node, weighed)
    }

    /// The answer: up to `proved` (outward) nothing forbids the length.
    fn finish(&self, best: Option<Forbidden>, proved: f64) -> SafeLength {
        let safe_mm = self.outward(proved);
        match best {
            Some(by) if self.is_never_safe(&by) => SafeLength::Never { by },
            Some(by) if self.outward(by.length_mm) - proved <= BRACKET_MM => {
                SafeLength::Limited { safe_mm, by }
            }
            None if proved.is_finite() => SafeLength::Unlimited {
                searched_mm: safe_mm,
            },
            by => SafeLength::Undecided {
                safe_mm: proved.is_finite().then_some(safe_mm),
                by,
            },
        }
    }

    /// Whether a stop is past its limit at the measured height already.
    fn is_never_safe(&self, by: &Forbidden) -> bool {
        by.travel_mm.abs() < AT_START_MM
            && self
                .corner()
                .position(0.0, by.rack_mm)
                .is_ok_and(|p| self.guard.violated_at(by.stop, p.alpha, by.rack_mm, None))
    }
}
