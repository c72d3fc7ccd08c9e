//! The pose at a given wheel travel and rack position.
//!
//! The idea in five lines. The linkage is closed-form in the lower arm's angle, so only one unknown
//! is left: the angle at which the wheel centre has the wanted height. Newton's method finds it from
//! a table made at straight ahead; the derivative comes from dual numbers. The table also records how
//! far the arm can turn while the linkage reaches and the wheel keeps rising. Outside that range, and
//! whenever Newton strays, the answer is found by walking from the measured position and bisecting,
//! so the as-built branch is kept and the end of reach is found, never jumped over.

use super::enclosed_linkage::{EnclosedLinkage, EnclosedLinkages};
use crate::numbers::Dual;
use crate::suspension::{Linkage, Mechanism, ReachLimit};
use std::sync::Arc;

/// The linkage at one position.
#[derive(Clone, Debug)]
pub struct Position {
    /// Wheel travel from the measured position, mm, bump positive.
    pub travel_mm: f64,
    /// Rack shift from straight ahead, mm, toward +y positive.
    pub rack_mm: f64,
    /// Lower arm's turn from the measured position, radians, bump positive.
    pub alpha: f64,
    /// Every body.
    pub linkage: Linkage<f64>,
}

/// The wheel can't go there.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error(
    "the suspension cannot reach travel {wanted_mm:.2} mm at rack {rack_mm:.2} mm: \
     the {} ends at travel {reached_mm:.2} mm", limit.name()
)]
pub struct ReachError {
    /// What gives out.
    pub limit: ReachLimit,
    /// The travel asked for.
    pub wanted_mm: f64,
    /// The rack position.
    pub rack_mm: f64,
    /// The last travel reached on the way there.
    pub reached_mm: f64,
}

/// Accepted error of the wheel centre's height, mm. The guard allows for it (see
/// [`crate::sweep`]); a step below it is lost in rounding at vehicle coordinates of a metre.
pub const HEIGHT_TOLERANCE_MM: f64 = 1.0e-10;
/// Step of the walk from the measured position, radians (half a degree).
const WALK_STEP: f64 = 0.5 * std::f64::consts::PI / 180.0;
/// The walk ends here: an arm that has turned by 85 degrees is past any use.
const WALK_END: f64 = 85.0 * std::f64::consts::PI / 180.0;

/// The lower arm's turn at which the damper has a length, nearest to the measured position; none where the linkage doesn't
/// reach it.
pub fn arm_at_damper_length(linkage: &Mechanism, length_mm: f64, rack_mm: f64) -> Option<f64> {
    let excess = |alpha: f64| {
        let linkage = linkage.solve(alpha, rack_mm);
        let reached = linkage.out_of_reach().is_none();
        reached.then_some(linkage.damper_mm - length_mm)
    };
    let here = excess(0.0)?;
    // Longer in droop, shorter in bump, as far as a damper is any use.
    let sign = if here < 0.0 { -1.0 } else { 1.0 };
    let mut near = 0.0;
    loop {
        let far = near + sign * WALK_STEP;
        if far.abs() > WALK_END {
            return None;
        }
        if excess(far)? * here <= 0.0 {
            let (mut a, mut b) = (near, far);
            for _ in 0..60 {
                let middle = 0.5 * (a + b);
                if excess(middle)? * here > 0.0 {
                    a = middle;
                } else {
                    b = middle;
                }
            }
            return Some(b);
        }
        near = far;
    }
}

/// Finds positions by travel. Holds the linkage and its start table.
#[derive(Clone, Debug)]
pub struct Positioner {
    /// The linkage.
    pub linkage: Mechanism,
    /// Start values: arm angle and its first two derivatives with travel and rack, at straight ahead,
    /// evenly spaced in travel.
    table: Vec<Start>,
    table_first_mm: f64,
    table_step_mm: f64,
    /// The linkage over rectangles of positions, as far as it was asked for; clones share it.
    enclosed: Arc<EnclosedLinkages>,
}

#[derive(Clone, Copy, Debug)]
struct Start {
    alpha: f64,
    by_travel: f64,
    by_rack: f64,
}

impl Positioner {
    /// The linkage over a rectangle of arm angle (radians) and rack (mm) about a centre, remembered.
    pub fn enclosed_over(&self, centre: (f64, f64), half: [f64; 2]) -> Arc<EnclosedLinkage> {
        self.enclosed.over(&self.linkage, centre, half)
    }

    /// Prepares the start table.
    pub fn new(linkage: Mechanism) -> Self {
        let mut this = Positioner {
            linkage,
            table: Vec::new(),
            table_first_mm: 0.0,
            table_step_mm: 1.0,
            enclosed: Arc::default(),
        };
        let (low, _) = this.walk(0.0, 0.0, -1.0, f64::NEG_INFINITY);
        let (high, _) = this.walk(0.0, 0.0, 1.0, f64::INFINITY);
        let (low_mm, high_mm) = (this.travel(low, 0.0), this.travel(high, 0.0));
        const ROWS: usize = 128;
        let step = (high_mm - low_mm) / (ROWS - 1) as f64;
        let mut table = Vec::with_capacity(ROWS);
        for i in 0..ROWS {
            let target = low_mm + step * i as f64;
            let alpha = this.bisect(low, high, 0.0, target);
            let rate = this.rates(alpha, 0.0);
            let by_travel = 1.0 / rate.rate[0];
            table.push(Start {
                alpha,
                by_travel,
                by_rack: -rate.rate[1] * by_travel,
            });
        }
        this.table = table;
        this.table_first_mm = low_mm;
        this.table_step_mm = step;
        this
    }

    #[inline]
    fn travel(&self, alpha: f64, rack_mm: f64) -> f64 {
        self.linkage.travel_mm(alpha, rack_mm)
    }

    /// Travel with its derivatives by arm angle and by rack.
    #[inline]
    pub fn rates(&self, alpha: f64, rack_mm: f64) -> Dual {
        self.linkage
            .travel_mm(Dual::variable(alpha, 0), Dual::variable(rack_mm, 1))
    }

    /// Places every body for an arm angle and a rack position.
    #[inline]
    pub fn place(&self, alpha: f64, rack_mm: f64) -> Position {
        let linkage = self.linkage.solve(alpha, rack_mm);
        let travel_mm = linkage.wheel_centre.z - self.linkage.own.wheel_height_mm;
        Position {
            travel_mm,
            rack_mm,
            alpha,
            linkage,
        }
    }

    /// The wheel travel at which the damper has a length, nearest to the measured position; none where the
    /// linkage doesn't reach it.
    pub fn travel_at_damper_length(&self, length_mm: f64, rack_mm: f64) -> Option<f64> {
        let arm = arm_at_damper_length(&self.linkage, length_mm, rack_mm)?;
        Some(self.travel(arm, rack_mm))
    }

    /// Walks from an arm angle that is reached in direction `sign` while the linkage reaches and the wheel
    /// keeps rising with the arm, until `target_mm` is passed. Returns the last good angle and what
    /// ended the walk.
    fn walk(
        &self,
        start: f64,
        rack_mm: f64,
        sign: f64,
        target_mm: f64,
    ) -> (f64, Option<ReachLimit>) {
        let mut good = start;
        let mut step = WALK_STEP;
        loop {
            let next = good + sign * step;
            if next.abs() > WALK_END {
                return (good, Some(ReachLimit::WheelHeight));
            }
            let rate = self.rates(next, rack_mm);
            let limit = if rate.value.is_nan() {
                self.linkage
                    .solve(next, rack_mm)
                    .out_of_reach()
                    .or(Some(ReachLimit::UpperArm))
            } else if rate.rate[0].is_nan() || rate.rate[0] <= 0.0 {
                Some(ReachLimit::WheelHeight)
            } else {
                // The halfshaft isn't part of the wheel's height; ask for it too.
                self.linkage.solve(next, rack_mm).out_of_reach()
            };
            match limit {
                None => {
                    good = next;
                    if (rate.value - target_mm) * sign >= 0.0 {
                        return (good, None);
                    }
                }
                Some(limit) if step < 1.0e-9 => return (good, Some(limit)),
                Some(_) => step *= 0.25,
            }
        }
    }

    fn bisect(&self, mut low: f64, mut high: f64, rack_mm: f64, target_mm: f64) -> f64 {
        for _ in 0..200 {
            let middle = 0.5 * (low + high);
            if middle <= low || middle >= high {
                break;
            }
            if self.travel(middle, rack_mm) < target_mm {
                low = middle
            } else {
                high = middle
            }
        }
        0.5 * (low + high)
    }

    /// The pose at a wheel travel (mm, bump positive) and rack position (mm, toward +y positive).
    ///
    /// # Errors
    /// [`ReachError`] where the linkage can't take the wheel there.
    pub fn position(&self, travel_mm: f64, rack_mm: f64) -> Result<Position, ReachError> {
        if let Some(alpha) = self.newton(travel_mm, rack_mm) {
            let position = self.place(alpha, rack_mm);
            if position.linkage.out_of_reach().is_none() {
                return Ok(position);
            }
        }
        self.position_by_walk(travel_mm, rack_mm)
    }

    #[inline]
    fn newton(&self, travel_mm: f64, rack_mm: f64) -> Option<f64> {
        let place = (travel_mm - self.table_first_mm) / self.table_step_mm;
        let last = self.table.len() - 2;
        if !(place >= 0.0 && place <= (last + 1) as f64) {
            return None;
        }
        let row = (place as usize).min(last);
        let (a, b) = (self.table[row], self.table[row + 1]);
        let t = place - row as f64;
        // Cubic Hermite between two rows, then the first-order step to the rack position.
        let (t2, t3) = (t * t, t * t * t);
        let h = self.table_step_mm;
        let mut alpha = a.alpha * (2.0 * t3 - 3.0 * t2 + 1.0)
            + a.by_travel * h * (t3 - 2.0 * t2 + t)
            + b.alpha * (3.0 * t2 - 2.0 * t3)
            + b.by_travel * h * (t3 - t2);
        alpha += (a.by_rack + (b.by_rack - a.by_rack) * t) * rack_mm;
        let mut slope = 1.0 / (a.by_travel + (b.by_travel - a.by_travel) * t);
        let mut previous = f64::INFINITY;
        for round in 0..12 {
            // The table's slope is good enough near straight ahead; away from it take the true one.
            let miss = if round == 1 {
                let rate = self.rates(alpha, rack_mm);
                slope = rate.rate[0];
                rate.value - travel_mm
            } else {
                self.travel(alpha, rack_mm) - travel_mm
            };
            // Also refuses NaN.
            if !(slope > 0.0 && miss.abs() < 50.0) {
                return None;
            }
            if miss.abs() <= HEIGHT_TOLERANCE_MM {
                return Some(alpha);
            }
            if round > 3 && miss.abs() >= previous {
                // Rounding has the last word; good to a few units of it, or not at all.
                return (miss.abs() <= 10.0 * HEIGHT_TOLERANCE_MM).then_some(alpha);
            }
            previous = miss.abs();
            alpha -= miss / slope;
        }
        None
    }

    /// The arm angle at a rack position with the wheel at its measured height, steered there from straight ahead, so that
    /// the branch as built is kept. Else what gives out on the way.
    fn steered_to(&self, rack_mm: f64) -> Result<f64, ReachLimit> {
        /// Steps to begin with; they halve where the height is lost.
        const STEPS: f64 = 64.0;
        /// Steps below this share of the way end the search.
        const LEAST_SHARE: f64 = 1.0e-9;
        let (mut alpha, mut share, mut step) = (0.0, 0.0, 1.0 / STEPS);
        while share < 1.0 {
            let next = f64::min(share + step, 1.0);
            let here = self.rates(alpha, share * rack_mm);
            let guess = alpha - here.rate[1] / here.rate[0] * (next - share) * rack_mm;
            if let Some(found) = self.level(guess, next * rack_mm) {
                (alpha, share) = (found, next);
            } else if step > LEAST_SHARE {
                step *= 0.5;
            } else {
                // Where the guess itself is reached, what holds it back is what the rack pulls at.
                let limit = self.linkage.solve(guess, next * rack_mm).out_of_reach();
                return Err(limit.unwrap_or(ReachLimit::TieRod));
            }
        }
        Ok(alpha)
    }

    /// The arm angle near a guess at which the wheel has its measured height, where the linkage reaches it.
    fn level(&self, guess: f64, rack_mm: f64) -> Option<f64> {
        let mut alpha = guess;
        for _ in 0..12 {
            let rate = self.rates(alpha, rack_mm);
            // Also refuses NaN.
            if !(rate.rate[0] > 0.0 && rate.value.abs() < 50.0) {
                return None;
            }
            if rate.value.abs() <= 10.0 * HEIGHT_TOLERANCE_MM {
                let reached = self.linkage.solve(alpha, rack_mm).out_of_reach();
                return reached.is_none().then_some(alpha);
            }
            alpha -= rate.value / rate.rate[0];
        }
        None
    }

    fn position_by_walk(&self, travel_mm: f64, rack_mm: f64) -> Result<Position, ReachError> {
        // From the arm as measured; where the rack takes the linkage out of reach with the arm unmoved, from where the
        // wheel keeps its measured height.
        let start = if self.travel(0.0, rack_mm).is_nan() {
            self.steered_to(rack_mm).map_err(|limit| ReachError {
                limit,
                wanted_mm: travel_mm,
                rack_mm,
                reached_mm: 0.0,
            })?
        } else {
            0.0
        };
        let here = self.travel(start, rack_mm);
        let sign = if travel_mm >= here { 1.0 } else { -1.0 };
        let (end, limit) = self.walk(start, rack_mm, sign, travel_mm);
        if let Some(limit) = limit {
            let reached_mm = self.travel(end, rack_mm);
            return Err(ReachError {
                limit,
                wanted_mm: travel_mm,
                rack_mm,
                reached_mm,
            });
        }
        let alpha = self.bisect(end.min(start), end.max(start), rack_mm, travel_mm);
        Ok(self.place(alpha, rack_mm))
    }
}
