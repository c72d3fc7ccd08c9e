//! The first crossing of a stop along a line, outward from the measured position, bracketed.
//!
//! The idea in five lines. The line is one cell. If the stop can't be proved kept over a cell, the cell
//! is halved and the nearer half is looked at first; so everything nearer than the cell at hand is
//! always proved free. At the tolerance, the far end is examined: violated there, the crossing is
//! bracketed between a proved and a witnessed position. Not violated, halving goes on a little, and a
//! witness is looked for within the tolerance ahead; without one it is a graze, reported as a stop and
//! marked so.
//! Source of the scheme: F. Schwarzer, M. Saha, J.-C. Latombe, IEEE Trans. Robotics 21(3), 2005,
//! adaptive bisection; nearest half first, and the bracket, are ours.

use super::rate_atlas::{Cell, CellRates, NodeId};
use super::stops::{Guard, Proof, StopKind};

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
    /// Kept all the way.
    Clear,
    /// Kept up to `free_to`, not at `stopped_at`, at most the tolerance further.
    Stopped {
        /// Proved kept from the start to here.
        free_to: f64,
        /// Violated here; for a graze, merely not provable.
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
    if violated(start, None) {
        return Crossing::Stopped {
            free_to: start,
            stopped_at: start,
            graze: false,
        };
    }
    let mut warm = None;
    let mut cells = 0;
    // One cell per patch that the line crosses, the nearest last: inside a patch rates are at hand.
    let axis = usize::from(matches!(line, Line::AlongRack { .. }));
    let mut stack: Vec<(f64, f64, NodeId)> = Vec::new();
    let mut near = start;
    for far in guard.atlas.breaks(|place| line.at(place), axis, start, end) {
        let node = guard.atlas.quarter(&line.cell(near, far));
        stack.push((near, far, node));
        near = far;
    }
    stack.reverse();
    while let Some((near, far, node)) = stack.pop() {
        cells += 1;
        if cells > MOST_CELLS {
            return Crossing::Undecided { free_to: near };
        }
        let cell = line.cell(near, far);
        let node = guard.atlas.descend(node, &cell);
        let reach_alone = stop == StopKind::EndOfReach && !guard.atlas.has_patch(node);
        let (node, proved) = if reach_alone {
            // Near the end of reach: only the linkage itself is asked, which is cheap.
            let within = CellRates::is_within_reach(guard.corner, &cell);
            (node, within.then_some((Proof::Free, 0.0)))
        } else {
            guard.on_cell(node, &cell, |state| {
                let length = match line {
                    Line::AlongTravel { .. } => state.rates.travel[0].magnitude(),
                    Line::AlongRack { .. } => 1.0,
                } * (far - near).abs();
                (guard.prove(stop, state, warm), length)
            })
        };
        let (proof, length) = proved.unwrap_or((Proof::Open(None), UNKNOWN_LENGTH));
        match proof {
            Proof::Free => continue,
            Proof::Stopped => {}
            Proof::Open(elements) => warm = elements.or(warm),
        }
        let middle = 0.5 * (near + far);
        let splits = middle != near && middle != far;
        // Where no rates are known, the end of reach is near; its length is taken by the angle.
        let length = if length.is_finite() {
            length
        } else {
            unknown_length(guard, line, near, far)
        };
        if length <= TRAVEL_TOLERANCE_MM || !splits {
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
        stack.push((middle, far, node));
        stack.push((near, middle, node));
    }
    Crossing::Clear
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
