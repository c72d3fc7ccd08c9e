//! The first crossing of a stop along a line, outward from the measured position, bracketed.
//!
//! The idea in five lines. The line is one cell, cut where the atlas has a break. If the stop can't be proved kept over a cell, the cell is cut where
//! the trend of what stood in the way says that it is met, else halved, and the nearest piece is looked at first; so
//! everything nearer than the piece at hand is always proved free. At the tolerance, the far end is examined: violated
//! there, the crossing is bracketed between a proved and a witnessed position. Not violated, cutting goes on a little,
//! and a witness is looked for within the tolerance ahead; without one it is a graze, reported as a stop, marked so.
//!
//! Source of the scheme: F. Schwarzer, M. Saha, J.-C. Latombe, IEEE Trans. Robotics 21(3), 2005, adaptive bisection;
//! nearest piece first, the foretold cuts, and the bracket, are ours. A cut only says where to look: what is called free
//! is proved by the piece's own bound, wherever it was cut.

use super::rate_atlas::{Cell, CellRates, NodeId};
use super::stops::{Guard, Proof, StopKind};
use crate::clearance::Trend;
use crate::kinematics::LEAST_HALF;

/// A line through the rectangle: arm angle varies at a rack position, or rack at an arm angle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Line {
    /// Wheel travel at this rack position, mm.
    AlongTravel {
        /// The rack position.
        rack_mm: f64,
    },
    /// Steering at this lower-arm angle, radians.
    AlongRack {
        /// The arm angle.
        alpha: f64,
    },
}

impl Line {
    /// The stretch between two places on the line, as a cell without width.
    pub fn cell(self, a: f64, b: f64) -> Cell {
        let ends = [a.min(b), a.max(b)];
        match self {
            Line::AlongTravel { rack_mm } => Cell {
                alpha: ends,
                rack: [rack_mm, rack_mm],
            },
            Line::AlongRack { alpha } => Cell {
                alpha: [alpha, alpha],
                rack: ends,
            },
        }
    }

    /// The variable that varies: 0 arm angle, 1 rack.
    pub fn axis(self) -> usize {
        usize::from(matches!(self, Line::AlongRack { .. }))
    }

    /// The point (arm angle, rack) at a place on the line.
    pub fn at(self, place: f64) -> (f64, f64) {
        match self {
            Line::AlongTravel { rack_mm } => (place, rack_mm),
            Line::AlongRack { alpha } => (alpha, place),
        }
    }
}

/// How a search along a line ended. Places are arm angles or rack positions, as the line varies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Crossing {
    /// Kept all the way, at every place that the linkage reaches.
    Clear,
    /// Kept up to `free_to`, not at `stopped_at`.
    Stopped {
        /// Proved kept from the start to here.
        free_to: f64,
        /// Violated here; for a graze, merely not provable. At most the tolerance beyond `free_to`, but for an end of
        /// reach so stretched that nothing nearer can be enclosed.
        stopped_at: f64,
        /// Comes within the tolerance without a witness that it crosses.
        graze: bool,
    },
    /// The work limit was reached: kept up to here, unknown beyond.
    Undecided {
        /// Proved kept from the start to here.
        free_to: f64,
    },
}

/// Tolerance of a bracket: wheel travel, and rack travel, mm.
pub const TRAVEL_TOLERANCE_MM: f64 = 0.01;
/// What is proved this close before a witness brackets it, mm: the tolerance, and rounding.
pub(super) const BRACKET_MM: f64 = TRAVEL_TOLERANCE_MM * 1.001;
/// A cell this share of the tolerance that still can't be proved is a graze.
const GRAZE_SHARE: f64 = 1.0 / 32.0;
/// Cells looked at on one line before giving up as undecided: tests sweep the demo scenes without
/// coming to it.
const MOST_CELLS: usize = 20_000;
/// Rates are known at first over large patches; a cell whose length in travel isn't known yet is taken
/// as longer than any tolerance.
const UNKNOWN_LENGTH: f64 = f64::INFINITY;

/// Finds the first crossing of `stop` from `start` to `end` along `line`.
pub fn first_crossing(guard: &Guard, line: Line, stop: StopKind, start: f64, end: f64) -> Crossing {
    if start == end {
        return Crossing::Clear;
    }
    let violated = |place: f64, warm| {
        let (alpha, rack) = line.at(place);
        guard.violated_at(stop, alpha, rack, warm)
    };
    let at_start = Crossing::Stopped {
        free_to: start,
        stopped_at: start,
        graze: false,
    };
    // One part wholly inside the other: surfaces apart, but no room. On from here their surfaces would have to
    // cross first, so asking at the start is enough.
    if guard.is_inside_at(stop, line.at(start)) {
        return at_start;
    }
    let mut warm = None;
    let mut cells = 0;
    let mut is_start_kept = false;
    let mut stack = first_pieces(guard, line, start, end);
    while let Some(Piece {
        near,
        far,
        node,
        foretold,
    }) = stack.pop()
    {
        cells += 1;
        if cells > MOST_CELLS {
            return Crossing::Undecided { free_to: near };
        }
        let cell = line.cell(near, far);
        let node = guard.atlas.descend(node, &cell);
        if stop != StopKind::EndOfReach
            && let Some(poses) = guard.reached_poses(node, &cell)
        {
            // Out of reach there is nothing to be kept.
            let (is_kept, elements) = poses.keep(guard, stop, warm);
            if is_kept || poses.are_none() {
                is_start_kept |= is_kept;
                continue;
            }
            warm = elements.or(warm);
        }
        let reach_alone = stop == StopKind::EndOfReach && !guard.atlas.has_patch(node);
        let (node, seen) = if reach_alone {
            // Near the end of reach: only the linkage itself is asked, which is cheap.
            let within = CellRates::is_within_reach(guard.corner, &cell);
            (node, within.then_some((Proof::Free, 0.0, None)))
        } else {
            guard.on_cell(node, &cell, |state| {
                let length = match line {
                    Line::AlongTravel { .. } => state.rates.travel[0].magnitude(),
                    Line::AlongRack { .. } => 1.0,
                } * (far - near).abs();
                let proof = guard.prove(stop, state, warm);
                let trend = match proof {
                    Proof::Open(elements) => guard.trend(stop, state, elements),
                    Proof::Free | Proof::Stopped => None,
                };
                (proof, length, trend)
            })
        };
        let (proof, length, trend) = seen.unwrap_or((Proof::Open(None), UNKNOWN_LENGTH, None));
        match proof {
            Proof::Free => {
                is_start_kept = true;
                continue;
            }
            Proof::Stopped => {}
            Proof::Open(elements) => warm = elements.or(warm),
        }
        let middle = 0.5 * (near + far);
        let splits = middle != near && middle != far;
        // Where no rates are known, the end of reach is near.
        let near_reach = reach_alone.then(|| NearReach::of(guard, line, near, far));
        let length = match &near_reach {
            Some(there) => there.length_mm,
            None if length.is_finite() => length,
            None => unknown_length(guard, line, near, far),
        };
        let last = length <= TRAVEL_TOLERANCE_MM || !splits;
        let narrow =
            near_reach.is_some() && (!splits || (far - near).abs() <= NARROWEST[line.axis()]);
        // All before this piece is proved; the start, where nothing is before it, is asked by itself.
        if (last || narrow || proof == Proof::Stopped) && !is_start_kept {
            if violated(start, warm) {
                return at_start;
            }
            is_start_kept = true;
        }
        if let Some(there) = &near_reach {
            if let Some(beyond) = there.beyond.filter(|_| last || narrow) {
                return Crossing::Stopped {
                    free_to: near,
                    stopped_at: beyond,
                    graze: false,
                };
            }
            if narrow {
                return past_what_is_proved(guard, line, near, far, end);
            }
        } else if last {
            if violated(far, warm) {
                return Crossing::Stopped {
                    free_to: near,
                    stopped_at: far,
                    graze: false,
                };
            }
            if length <= TRAVEL_TOLERANCE_MM * GRAZE_SHARE || !splits {
                // The bound fails a little before the crossing itself; look for a witness ahead,
                // within the tolerance.
                let ahead = (far - near) * (TRAVEL_TOLERANCE_MM / length.max(f64::MIN_POSITIVE));
                let witness = [0.0625, 0.125, 0.25, 0.5, 1.0]
                    .map(|share| near + ahead * share)
                    .into_iter()
                    .filter(|place| (place - near).abs() <= (end - near).abs())
                    .find(|place| violated(*place, warm));
                return Crossing::Stopped {
                    free_to: near,
                    stopped_at: witness.unwrap_or(far),
                    graze: witness.is_none(),
                };
            }
        }
        // A cell that was foretold to be free and isn't: the trend misleads here.
        let outward = (far - near).signum();
        let cuts = trend
            .filter(|_| !foretold)
            .and_then(|trend| cuts(&trend, line.axis(), outward, TRAVEL_TOLERANCE_MM / length));
        let ends = match cuts {
            Some(shares) => {
                let [free_to, met] = shares.map(|share| place_between(near, far, share));
                [near, free_to, met, far]
            }
            None => [near, middle, far, far],
        };
        let is_foretold = cuts.is_some();
        for (i, pair) in ends.windows(2).enumerate().rev() {
            if pair[0] != pair[1] {
                stack.push(Piece {
                    near: pair[0],
                    far: pair[1],
                    node,
                    foretold: is_foretold && i == 0,
                });
            }
        }
    }
    Crossing::Clear
}

/// The place at a share of the way from `near` to `far`. Rounding must not put it beyond `far`, where the piece's node has
/// no rates any more: what is proved everywhere would be a graze.
fn place_between(near: f64, far: f64, share: f64) -> f64 {
    (near + (far - near) * share).clamp(near.min(far), near.max(far))
}

/// A stretch of a line still to be proved.
struct Piece {
    near: f64,
    far: f64,
    /// A node of the atlas that holds it.
    node: NodeId,
    /// Cut off in the belief that it is free.
    foretold: bool,
}

/// A piece so narrow can't be enclosed any closer.
const NARROWEST: [f64; 2] = LEAST_HALF;
/// What the wheel may still travel beyond the last place that is seen to be reached, mm: where the linkage comes to be
/// stretched, travel grows with the root of the angle that is left, and the angle's last bit is up to so much.
pub(super) const STRETCHED_MM: f64 = 1.0e-5;

/// A piece of a line next to the end of reach, where no rates are known.
struct NearReach {
    /// How far the wheel, or the rack, goes in it before the end of reach, mm.
    length_mm: f64,
    /// The first place beyond the end of reach, where the piece holds one.
    beyond: Option<f64>,
}

impl NearReach {
    fn of(guard: &Guard, line: Line, near: f64, far: f64) -> NearReach {
        let ends = end_of_reach(guard, line, near, far);
        let last = ends.map_or(far, |[last, _]| last);
        let length_mm = match line {
            Line::AlongRack { .. } => (last - near).abs(),
            // By the travel itself: beside the end it grows without bound against the angle, or turns back.
            Line::AlongTravel { rack_mm } => {
                let travel = |alpha| guard.corner.positioner.place(alpha, rack_mm).travel_mm;
                (travel(last) - travel(near)).abs() + STRETCHED_MM
            }
        };
        NearReach {
            length_mm,
            beyond: ends.map(|[_, beyond]| beyond),
        }
    }
}

/// Between a place within reach and one beyond it: the last that is seen to be reached and the first that isn't, next to
/// each other. `None` where `far` is within reach too.
pub(super) fn end_of_reach(guard: &Guard, line: Line, near: f64, far: f64) -> Option<[f64; 2]> {
    let is_beyond = |place: f64| {
        let (alpha, rack_mm) = line.at(place);
        guard.violated_at(StopKind::EndOfReach, alpha, rack_mm, None)
    };
    if !is_beyond(far) {
        return None;
    }
    let (mut reached, mut beyond) = (near, far);
    loop {
        let middle = 0.5 * (reached + beyond);
        if middle == reached || middle == beyond {
            return Some([reached, beyond]);
        }
        if is_beyond(middle) {
            beyond = middle;
        } else {
            reached = middle;
        }
    }
}

/// The end of reach where proof gives out before it: proved up to `near`, looked for from `far` on, in steps that double.
fn past_what_is_proved(guard: &Guard, line: Line, near: f64, far: f64, end: f64) -> Crossing {
    let outward = (end - near).signum();
    let mut step = (far - near).abs().max(NARROWEST[line.axis()]);
    let mut place = far;
    loop {
        let next = place + outward * step;
        let next = if (end - next) * outward > 0.0 {
            next
        } else {
            end
        };
        match end_of_reach(guard, line, place, next) {
            Some([_, beyond]) => {
                return Crossing::Stopped {
                    free_to: near,
                    stopped_at: beyond,
                    graze: false,
                };
            }
            None if next == end => return Crossing::Undecided { free_to: near },
            None => (place, step) = (next, 2.0 * step),
        }
    }
}

/// The line in as few pieces as rates are at hand for, nearest last.
fn first_pieces(guard: &Guard, line: Line, start: f64, end: f64) -> Vec<Piece> {
    let mut pieces = Vec::new();
    let mut near = start;
    for far in guard
        .atlas
        .breaks(|place| line.at(place), line.axis(), start, end)
    {
        pieces.push(Piece {
            near,
            far,
            node: guard.atlas.quarter(&line.cell(near, far)),
            foretold: false,
        });
        near = far;
    }
    pieces.reverse();
    pieces
}

/// The share of a cell by which a foretold cut keeps off the place where it would just be proved.
const CUT_SHORT: f64 = 1.0 / 16.0;
/// Cuts nearer to a cell's ends than this share of it gain less than halving does.
const LEAST_CUT: f64 = 1.0 / 8.0;

/// Where a trend says that a cell should be cut, as shares of it from its near end: up to where the same
/// trend could be proved to be kept, and as far beyond the place where the stop is met, so that the
/// middle piece holds it. `None` where it doesn't say, or halving does as well.
///
/// With the room r at the centre, its loss c toward the far end and its bending b, a piece from the near end
/// with the share s has the room r + c (1 - s) at its own centre and the bound c s + b s^2; the stop is met at
/// the share (1 + r/c) / 2.
fn cuts(trend: &Trend, axis: usize, outward: f64, tolerance: f64) -> Option<[f64; 2]> {
    let (r, b) = (trend.room, trend.bend);
    let c = -trend.growth[axis] * outward;
    let met = 0.5 * (1.0 + r / c);
    if !(c > 0.0 && met > 0.0 && met < 1.0) {
        return None;
    }
    let near_room = r + c;
    let proved = near_room / (c + (c * c + b * near_room).sqrt());
    let free_to = (proved * (1.0 - CUT_SHORT)).min(met - 0.45 * tolerance);
    let beyond = (2.0 * met - free_to).min(1.0);
    (free_to > LEAST_CUT).then_some([free_to, beyond])
}

/// Length of a cell whose rates can't be enclosed: by its two ends where both are reached, else too
/// long to stop at, until the arm's own radius makes it short.
fn unknown_length(guard: &Guard, line: Line, near: f64, far: f64) -> f64 {
    match line {
        Line::AlongRack { .. } => (far - near).abs(),
        Line::AlongTravel { .. } => {
            let h = &guard.corner.positioner.linkage.hardpoints;
            // No wheel point is further from the arm's pivots than this, and near a dead point the
            // wheel moves less than the arm's end.
            let radius = (h.wheel_centre - h.lower_front).norm();
            let length = radius * (far - near).abs();
            if length > 0.0 { length } else { UNKNOWN_LENGTH }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Room 6 at the centre, lost at 10 to the far end: gone at 0.6 of the half-length beyond the centre.
    const APPROACHING: Trend = Trend {
        room: 6.0,
        growth: [-10.0, 0.0],
        bend: 0.0,
    };

    #[test]
    fn a_cut_ends_where_the_trend_could_still_be_proved_and_frames_the_crossing() {
        let [free_to, beyond] = cuts(&APPROACHING, 0, 1.0, 1.0e-3).expect("a crossing is foretold");
        let met = 0.8;
        assert!(free_to < met && met < beyond && beyond < 1.0);
        assert!((free_to + beyond - 2.0 * met).abs() < 1.0e-12);
        // With bending the nearest piece is shorter: room at its centre against its own bound.
        let bent = Trend {
            bend: 3.0,
            ..APPROACHING
        };
        let [share, _] = cuts(&bent, 0, 1.0, 1.0e-3).expect("a crossing is foretold");
        let room = bent.room + 10.0 * (1.0 - share);
        assert!(share < free_to && room > 10.0 * share + 3.0 * share * share);
    }

    #[test]
    fn no_cut_lies_beyond_the_piece_that_is_cut() {
        let (near, far) = (-0.1549, -0.4676124781509388);
        assert!(
            near + (far - near) < far,
            "rounding doesn't reach beyond here"
        );
        assert_eq!(place_between(near, far, 1.0), far);
        assert_eq!(place_between(-near, -far, 1.0), -far);
        assert_eq!(place_between(near, far, 0.0), near);
    }

    #[test]
    fn nothing_is_foretold_where_the_stop_recedes_or_lies_outside() {
        assert_eq!(cuts(&APPROACHING, 0, -1.0, 1.0e-3), None);
        let far_off = Trend {
            room: 11.0,
            ..APPROACHING
        };
        let behind = Trend {
            room: -11.0,
            ..APPROACHING
        };
        assert_eq!(cuts(&far_off, 0, 1.0, 1.0e-3), None);
        assert_eq!(cuts(&behind, 0, 1.0, 1.0e-3), None);
        assert_eq!(cuts(&APPROACHING, 1, 1.0, 1.0e-3), None);
    }
}
