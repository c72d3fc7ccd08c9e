//! How four springs share the weight of a truck whose wheels stand on uneven ground.
//!
//! The idea in five lines. Four wheel loads have to balance the weight and its two moments: three equations, so all
//! balanced loads are `load at ride height + s * twist`, with one unknown s and `twist` known from where the wheels
//! are. Each spring's travel rises with its load, level where it stands on a stop. So the twist of the four travels
//! rises with s, in straight pieces between the loads at which a wheel lifts or comes to a stop, and the
//! ground's own twist picks s: no iteration, one answer, continuous, and its range over a range of twists is
//! read off at both ends.
//!
//! Assumed: weight stays where it is on level ground, no anti-roll bar, no friction, stops don't give, and a wheel
//! that has lifted hangs at full droop. Derived from statics; no source beyond it.

use crate::truck::WheelSpring;

/// A wheel's spring between its stops.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WheelSuspension {
    /// Load and rate.
    pub spring: WheelSpring,
    /// Travel from ride height at full droop (below zero) and on the bump stop (above zero), mm.
    pub travel_mm: [f64; 2],
}

impl WheelSuspension {
    /// Travel under a load, mm.
    fn travel(&self, load_n: f64) -> f64 {
        let free = (load_n - self.spring.load_n) / self.spring.rate_n_per_mm;
        free.clamp(self.travel_mm[0], self.travel_mm[1])
    }

    /// Loads at which it leaves full droop and comes to the bump stop, N.
    fn bends(&self) -> [f64; 2] {
        self.travel_mm
            .map(|t| self.spring.load_n + self.spring.rate_n_per_mm * t)
    }
}

/// Four springs on wheels in known places.
#[derive(Clone, Debug, PartialEq)]
pub struct Springing {
    wheels: [WheelSuspension; 4],
    twist: [f64; 4],
    /// Shares of `twist` with the twist of the travels there, rising in both.
    pieces: Vec<[f64; 2]>,
    /// The wheel that lifts at either end.
    lifts: [usize; 2],
}

impl Springing {
    /// `twist`: what four loads can change by without weight or moment; neither all zero.
    pub fn new(wheels: [WheelSuspension; 4], twist: [f64; 4]) -> Springing {
        let share = |i: usize, load: f64| (load - wheels[i].spring.load_n) / twist[i];
        // Where the first wheel lifts, either way.
        let mut ends = [f64::NEG_INFINITY, f64::INFINITY];
        let mut lifts = [0, 0];
        let turning = (0..4).filter(|i| twist[*i] != 0.0);
        for i in turning.clone() {
            let s = share(i, 0.0);
            if s < 0.0 && s > ends[0] {
                (ends[0], lifts[0]) = (s, i);
            }
            if s > 0.0 && s < ends[1] {
                (ends[1], lifts[1]) = (s, i);
            }
        }
        let mut shares: Vec<f64> = turning
            .flat_map(|i| wheels[i].bends().map(|load| share(i, load)))
            .filter(|s| ends[0] < *s && *s < ends[1])
            .chain(ends)
            .collect();
        shares.sort_by(f64::total_cmp);
        let mut this = Springing {
            wheels,
            twist,
            pieces: Vec::new(),
            lifts,
        };
        this.pieces = shares
            .into_iter()
            .map(|s| {
                let travel = this.travel_at(s);
                [s, (0..4).map(|i| twist[i] * travel[i]).sum()]
            })
            .collect();
        this
    }

    fn travel_at(&self, s: f64) -> [f64; 4] {
        [0, 1, 2, 3].map(|i| {
            let wheel = &self.wheels[i];
            wheel.travel(wheel.spring.load_n + s * self.twist[i])
        })
    }

    /// Travels, mm, at which the ground's twist (the same sum over its heights) is met. A wheel that has lifted is
    /// given the travel at which it would touch: below full droop.
    pub fn reach(&self, ground_twist: f64) -> [f64; 4] {
        let (first, last) = (self.pieces[0], self.pieces[self.pieces.len() - 1]);
        for (end, lifted) in [(first, self.lifts[0]), (last, self.lifts[1])] {
            let beyond = ground_twist - end[1];
            if (end == first && beyond <= 0.0) || (end == last && beyond >= 0.0) {
                let mut travel = self.travel_at(end[0]);
                travel[lifted] += beyond / self.twist[lifted];
                return travel;
            }
        }
        let after = self.pieces.partition_point(|p| p[1] <= ground_twist);
        let after = after.clamp(1, self.pieces.len() - 1);
        let ([s0, t0], [s1, t1]) = (self.pieces[after - 1], self.pieces[after]);
        self.travel_at(s0 + (s1 - s0) * (ground_twist - t0) / (t1 - t0).max(f64::MIN_POSITIVE))
    }

    /// Greatest change of each wheel's reach from that at `middle` where the ground's twist is within `by` of it, mm.
    pub fn swing(&self, middle: f64, by: f64) -> [f64; 4] {
        let (at, ends) = (
            self.reach(middle),
            [self.reach(middle - by), self.reach(middle + by)],
        );
        // Each wheel's reach rises or falls all the way.
        [0, 1, 2, 3].map(|i| {
            let change = |e: &[f64; 4]| (e[i] - at[i]).abs();
            change(&ends[0]).max(change(&ends[1]))
        })
    }

    /// How much each wheel's reach gains for the ground's twist, on every straight piece within `by` of `middle`.
    pub fn slopes(&self, middle: f64, by: f64) -> Vec<[f64; 4]> {
        let lifted = |i: usize| {
            let mut slope = [0.0; 4];
            slope[i] = 1.0 / self.twist[i];
            slope
        };
        let (low, high) = (middle - by, middle + by);
        let last = self.pieces.len() - 1;
        let mut out = Vec::new();
        if low <= self.pieces[0][1] {
            out.push(lifted(self.lifts[0]));
        }
        for ends in self.pieces.windows(2) {
            let ([s0, t0], [s1, t1]) = (ends[0], ends[1]);
            if t1 > t0 && low <= t1 && t0 <= high {
                let (a, b) = (self.travel_at(s0), self.travel_at(s1));
                out.push([0, 1, 2, 3].map(|i| (b[i] - a[i]) / (t1 - t0)));
            }
        }
        if high >= self.pieces[last][1] {
            out.push(lifted(self.lifts[1]));
        }
        out
    }

    /// The travel that a wheel has where it would reach to `reach_mm`: no lower than full droop.
    pub fn held(&self, reach_mm: [f64; 4]) -> [f64; 4] {
        [0, 1, 2, 3].map(|i| reach_mm[i].max(self.wheels[i].travel_mm[0]))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn springing() -> Springing {
        let wheel = |load_n, rate_n_per_mm| WheelSuspension {
            spring: WheelSpring {
                load_n,
                rate_n_per_mm,
            },
            travel_mm: [-90.0, 70.0],
        };
        let (front, rear) = (wheel(6_000.0, 40.0), wheel(5_000.0, 30.0));
        Springing::new([front, front, rear, rear], [1.0, -1.0, -1.0, 1.0])
    }

    /// Derived: while no wheel lifts or stops, the twist is shared as the four springs are soft.
    #[test]
    fn a_small_twist_is_shared_by_softness() {
        let s = springing();
        let soft: f64 = 2.0 / 40.0 + 2.0 / 30.0;
        for twist in [-40.0, 7.0, 55.0] {
            let force = twist / soft;
            let expected = [force / 40.0, -force / 40.0, -force / 30.0, force / 30.0];
            for (found, expected) in s.reach(twist).iter().zip(expected) {
                assert!((found - expected).abs() < 1.0e-9, "{found} {expected}");
            }
        }
    }

    /// Forces at every twist: no wheel pulls at the ground, and all four balance weight and moments.
    #[test]
    fn every_answer_meets_the_twist_within_the_stops() {
        let s = springing();
        let mut last = s.reach(-600.0);
        for i in -600..=600 {
            let reach = s.reach(f64::from(i));
            let twist = reach[0] - reach[1] - reach[2] + reach[3];
            assert!((twist - f64::from(i)).abs() < 1.0e-9);
            assert!(reach.iter().all(|t| *t <= 70.0 + 1.0e-9));
            // It goes steadily, each wheel one way.
            for k in 0..4 {
                assert!((reach[k] - last[k]).abs() <= 1.0 + 1.0e-9);
                let sign = s.twist[k];
                assert!(sign * (reach[k] - last[k]) >= -1.0e-9);
            }
            last = reach;
        }
        // Far twisted, one wheel hangs and the three others carry.
        let far = s.reach(600.0);
        assert_eq!(far.iter().filter(|t| **t < -90.0).count(), 1);
        assert_eq!(s.held(far).iter().filter(|t| **t == -90.0).count(), 2);
    }

    #[test]
    fn the_swing_holds_every_reach_between() {
        let s = springing();
        for middle in [-420.0, -100.0, 0.0, 33.0, 270.0, 310.0] {
            for by in [1.0, 40.0, 300.0] {
                let (at, swing) = (s.reach(middle), s.swing(middle, by));
                for j in -20..=20 {
                    let there = s.reach(middle + by * f64::from(j) / 20.0);
                    for k in 0..4 {
                        assert!((there[k] - at[k]).abs() <= swing[k] + 1.0e-9);
                    }
                }
            }
        }
    }
}
