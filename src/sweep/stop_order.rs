//! Every stop's travel at one rack position, each as if the others were absent, in order.

use super::line::{Crossing, Line, STRETCHED_MM, end_of_reach, first_crossing};
use super::near_reach::ReachedPoses;
use super::rate_atlas::Cell;
use super::stops::{Guard, OpenStop, StopKind, is_intended, stop_id};
use crate::findings::{StopFound, StopOrder, TravelDirection};
use rayon::prelude::*;

/// A stop with its crossing, before names are put to it.
#[derive(Clone, Copy, Debug)]
pub struct Met {
    /// The stop.
    pub stop: StopKind,
    /// Arm angle up to which it is proved kept.
    pub free_to: f64,
    /// Arm angle at which it is violated.
    pub stopped_at: f64,
    /// See [`Crossing::Stopped`].
    pub graze: bool,
}

/// All stops of one direction at one rack position, in terms of the arm's angle.
pub struct LineStops {
    /// Rack, mm.
    pub rack_mm: f64,
    /// Which way.
    pub direction: TravelDirection,
    /// Arm angle at which the wheel has its measured height: where the search began.
    pub start: f64,
    /// Stops met, nearest first.
    pub met: Vec<Met>,
    /// Arm angle at which the search ended.
    pub searched_to: f64,
    /// Stops that stayed undecided, with the angle they are kept to.
    pub undecided: Vec<(StopKind, f64)>,
}

impl LineStops {
    /// The first stop that the wheel can't pass.
    pub fn first_blocking(&self) -> Option<&Met> {
        self.met.iter().find(|m| m.stop.blocks())
    }

    /// How far an arm angle lies ahead of the start.
    fn ahead(&self, alpha: f64) -> f64 {
        (alpha - self.start).abs()
    }

    /// Stops met before an arm angle.
    pub fn met_before(&self, alpha: f64) -> impl Iterator<Item = &Met> {
        self.met
            .iter()
            .filter(move |m| self.ahead(m.stopped_at) < self.ahead(alpha))
    }

    /// Arm angle up to which the wheel is proved free to go: the least of what each blocking stop allows
    /// and of what was searched at all.
    pub fn free_to(&self) -> f64 {
        let stopped = self
            .met
            .iter()
            .filter(|m| m.stop.blocks())
            .map(|m| m.free_to);
        let unknown = self
            .undecided
            .iter()
            .filter(|(s, _)| s.blocks())
            .map(|(_, a)| *a);
        let nearer = |a, b| if self.ahead(b) < self.ahead(a) { b } else { a };
        stopped.chain(unknown).fold(self.searched_to, nearer)
    }
}

/// Arm angles closer than this are one, radians: a millionth of a millimetre of travel.
const SAME_ANGLE: f64 = 1.0e-9;

/// Finds all stops at one rack position in one direction.
pub fn stops_on_line(guard: &Guard, rack_mm: f64, direction: TravelDirection) -> LineStops {
    let line = Line::AlongTravel { rack_mm };
    let domain = guard.atlas.domain.alpha;
    let end = match direction {
        TravelDirection::Droop => domain[0],
        TravelDirection::Bump => domain[1],
    };
    // Away from straight ahead the wheel stands higher or lower with the arm unmoved; travel counts from
    // its measured height.
    let start = guard.corner.position(0.0, rack_mm).map_or(0.0, |p| p.alpha);
    // Straight ahead it is the measured position itself, up to the rounding of the search for it.
    let start = if start.abs() < SAME_ANGLE { 0.0 } else { start };
    let outward = (end - start).signum();
    let mut met = Vec::new();
    let mut undecided = Vec::new();
    let mut searched_to = end;
    match first_crossing(guard, line, StopKind::EndOfReach, start, end) {
        Crossing::Clear => {}
        Crossing::Stopped {
            free_to,
            stopped_at,
            graze,
        } => {
            met.push(Met {
                stop: StopKind::EndOfReach,
                free_to,
                stopped_at,
                graze,
            });
            searched_to = free_to;
        }
        Crossing::Undecided { free_to } => {
            undecided.push((StopKind::EndOfReach, free_to));
            searched_to = free_to;
        }
    }
    // The last few millimetres before the end of reach are too near to it for patches, and looked at only where nothing
    // that is meant to end the travel comes before them; else the order says how far it goes.
    let proved_to = guard.atlas.proved_to(rack_mm, start, end);
    let is_near_reach = (searched_to - proved_to) * outward > 0.0;
    let reach_end = searched_to;
    if is_near_reach {
        searched_to = proved_to;
    }
    // A pair's contact can't come before its required gap is missing, so both are found in one go.
    let firsts: Vec<StopKind> = guard
        .stops
        .iter()
        .copied()
        .filter(|stop| match stop {
            StopKind::EndOfReach => false,
            StopKind::Contact(i) => !guard.stops.contains(&StopKind::Tight(*i)),
            StopKind::Limit(_) | StopKind::Tight(_) => true,
        })
        .collect();
    let found: Vec<Vec<(StopKind, Crossing)>> = firsts
        .par_iter()
        .map(|stop| {
            // Up to here the pair is proved clear at every rack position.
            let clear = match stop {
                StopKind::Tight(i) | StopKind::Contact(i) => {
                    let [low, high] = guard.clear_to[*i];
                    let within = low <= start && start <= high;
                    if !within {
                        start
                    } else if end > 0.0 {
                        high
                    } else {
                        low
                    }
                }
                StopKind::EndOfReach | StopKind::Limit(_) => start,
            };
            if (clear - searched_to) * outward >= 0.0 {
                return vec![(*stop, Crossing::Clear)];
            }
            let crossing = first_crossing(guard, line, *stop, clear, searched_to);
            let mut out = vec![(*stop, crossing)];
            let from = match crossing {
                Crossing::Clear => return out,
                Crossing::Stopped { free_to, .. } | Crossing::Undecided { free_to } => free_to,
            };
            if let StopKind::Tight(i) = stop {
                let contact = StopKind::Contact(*i);
                out.push((
                    contact,
                    first_crossing(guard, line, contact, from, searched_to),
                ));
            }
            out
        })
        .collect();
    let mut found: Vec<(StopKind, Crossing)> = found.into_iter().flatten().collect();
    let is_met = |crossing: &Crossing| *crossing != Crossing::Clear;
    let ends_before = |(stop, crossing): &(StopKind, Crossing)| {
        is_intended(guard.corner, *stop) && is_met(crossing)
    };
    if is_near_reach && !found.iter().any(ends_before) {
        searched_to = reach_end;
        // Each is followed to the end where it isn't met yet and isn't proved kept with all the others.
        let mut open = open_near_reach(guard, &line.cell(proved_to, reach_end));
        open.retain(|stop| !found.iter().any(|(s, c)| s == stop && is_met(c)));
        let further: Vec<(StopKind, Crossing)> = open
            .into_par_iter()
            .map(|stop| {
                let crossing = first_crossing(guard, line, stop, proved_to, reach_end);
                (stop, crossing)
            })
            .collect();
        found.extend(further);
    }
    for (stop, crossing) in found {
        match crossing {
            Crossing::Clear => {}
            Crossing::Stopped {
                free_to,
                stopped_at,
                graze,
            } => {
                met.push(Met {
                    stop,
                    free_to,
                    stopped_at,
                    graze,
                });
            }
            Crossing::Undecided { free_to } => undecided.push((stop, free_to)),
        }
    }
    met.sort_by(|a, b| {
        // By what is proved, which is what is told; brackets that overlap have no order of their own.
        let ahead = |m: &Met| [m.free_to, m.stopped_at].map(|place| (place - start).abs());
        let ([a, b], [c, d]) = (ahead(a), ahead(b));
        a.total_cmp(&c).then(b.total_cmp(&d))
    });
    LineStops {
        rack_mm,
        direction,
        start,
        met,
        searched_to,
        undecided,
    }
}

/// Halvings of what lies next to the end of reach on a line.
const NEAR_REACH_DEPTH: u32 = 8;

/// The stops that aren't proved kept over a stretch of a line next to the end of reach.
fn open_near_reach(guard: &Guard, stretch: &Cell) -> Vec<StopKind> {
    let all = guard.stops.iter().filter(|s| **s != StopKind::EndOfReach);
    let mut work = vec![(*stretch, 0, all.map(|s| (*s, None)).collect())];
    let mut out: Vec<StopKind> = Vec::new();
    while let Some((cell, depth, open)) = work.pop() {
        let open: Vec<OpenStop> = open;
        let poses = ReachedPoses::over(guard.corner, &cell);
        if poses.are_none() {
            continue;
        }
        let mut left = poses.still_open(guard, &open);
        left.retain(|(stop, _)| !out.contains(stop));
        if left.is_empty() {
            continue;
        }
        if depth == NEAR_REACH_DEPTH {
            out.extend(left.iter().map(|(stop, _)| *stop));
        } else {
            let halves = cell.halves(0);
            work.extend(halves.map(|half| (half, depth + 1, left.clone())));
        }
    }
    out
}

/// A travel that the wheel can't have. Past the end of reach there is none, or it turns back: the least further out than
/// the last that is reached.
fn beyond_reach_mm(guard: &Guard, line: &LineStops, met: &Met) -> f64 {
    let rack_mm = line.rack_mm;
    let travel = |alpha: f64| guard.corner.positioner.place(alpha, rack_mm).travel_mm;
    let along = Line::AlongTravel { rack_mm };
    match end_of_reach(guard, along, met.free_to, met.stopped_at) {
        Some([last, _]) if met.free_to != met.stopped_at => {
            travel(last) + line.direction.sign() * STRETCHED_MM
        }
        _ => travel(met.free_to),
    }
}

/// Puts names and travels to a line's stops.
pub fn named(guard: &Guard, line: &LineStops) -> StopOrder {
    let corner = guard.corner;
    let travel = |alpha: f64| corner.positioner.place(alpha, line.rack_mm).travel_mm;
    let reached = travel(line.searched_to);
    let stops = line
        .met
        .iter()
        .map(|m| {
            let free = travel(m.free_to);
            let stopped = match m.stop {
                StopKind::EndOfReach => beyond_reach_mm(guard, line, m),
                StopKind::Limit(_) | StopKind::Tight(_) | StopKind::Contact(_) => {
                    travel(m.stopped_at)
                }
            };
            StopFound {
                stop: stop_id(corner, m.stop),
                travel_mm: free,
                travel_interval_mm: [free, stopped],
                intended: is_intended(corner, m.stop),
                blocks: m.stop.blocks(),
                graze: m.graze,
            }
        })
        .collect();
    StopOrder {
        rack_mm: line.rack_mm,
        direction: line.direction,
        stops,
        searched_to_mm: reached,
        undecided: line
            .undecided
            .iter()
            .map(|(stop, alpha)| (stop_id(corner, *stop), travel(*alpha)))
            .collect(),
    }
}
