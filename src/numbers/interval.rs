//! Closed intervals of `f64`, rounded outward: the true result always lies inside.
//!
//! Each operation computes its end points to nearest and then moves them outward by at least one
//! unit in the last place, which covers the half unit that rounding to nearest may lose. What cannot
//! be bounded (division by an interval that holds zero, the root of one that dips below zero, an
//! overflow) becomes [`Interval::EVERYTHING`]; it is never dropped and never NaN.
//! Source: R. E. Moore, R. B. Kearfott, M. J. Cloud, "Introduction to Interval Analysis", SIAM 2009,
//! chapters 2 and 5. Tests compare with the crate `inari` (IEEE 1788).

use std::ops::{Add, Div, Mul, Neg, Sub};

/// A closed interval `[lo, hi]`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    /// Lower end.
    pub lo: f64,
    /// Upper end.
    pub hi: f64,
}

/// A little more than one unit in the last place, relative: at least `2^-52`.
const ULP: f64 = 2.3e-16;
/// Covers results so small that the relative step above vanishes.
const TINY: f64 = 1.0e-300;

/// The lesser of two numbers that aren't NaN. [`f64::min`] looks for NaN first, which takes five instructions for one.
#[inline]
fn lesser(a: f64, b: f64) -> f64 {
    if a < b { a } else { b }
}

/// The greater of two numbers that aren't NaN.
#[inline]
fn greater(a: f64, b: f64) -> f64 {
    if a > b { a } else { b }
}

impl Interval {
    /// All real numbers: "nothing is known".
    pub const EVERYTHING: Interval = Interval {
        lo: f64::NEG_INFINITY,
        hi: f64::INFINITY,
    };

    /// The interval that holds one number.
    #[inline]
    pub const fn point(value: f64) -> Self {
        Interval {
            lo: value,
            hi: value,
        }
    }

    /// The interval between two ends, in either order.
    #[inline]
    pub fn between(a: f64, b: f64) -> Self {
        Interval {
            lo: lesser(a, b),
            hi: greater(a, b),
        }
    }

    #[inline]
    fn outward(lo: f64, hi: f64) -> Self {
        let out = Interval {
            lo: lo - (lo.abs() * ULP + TINY),
            hi: hi + (hi.abs() * ULP + TINY),
        };
        // A NaN end compares false with everything, so this also catches NaN.
        if out.lo <= out.hi {
            out
        } else {
            Interval::EVERYTHING
        }
    }

    /// False for an unbounded interval.
    #[inline]
    pub fn is_bounded(self) -> bool {
        self.lo.is_finite() && self.hi.is_finite()
    }

    /// The greatest absolute value in the interval.
    #[inline]
    pub fn magnitude(self) -> f64 {
        greater(self.lo.abs(), self.hi.abs())
    }

    /// Half of the width, rounded up.
    #[inline]
    pub fn half_width(self) -> f64 {
        (0.5 * (self.hi - self.lo)) * (1.0 + 2.0 * ULP)
    }

    /// A point near the middle.
    #[inline]
    pub fn middle(self) -> f64 {
        0.5 * (self.lo + self.hi)
    }

    /// Whether `value` lies inside.
    #[inline]
    pub fn contains(self, value: f64) -> bool {
        self.lo <= value && value <= self.hi
    }

    /// The smallest interval that holds both.
    #[inline]
    pub fn hull(self, o: Interval) -> Interval {
        Interval {
            lo: lesser(self.lo, o.lo),
            hi: greater(self.hi, o.hi),
        }
    }

    /// What both enclosures of the same quantity allow. Two enclosures of one number always meet;
    /// should rounding ever part them, the first is kept.
    #[inline]
    pub fn meet(self, o: Interval) -> Interval {
        let out = Interval {
            lo: greater(self.lo, o.lo),
            hi: lesser(self.hi, o.hi),
        };
        if out.lo <= out.hi { out } else { self }
    }

    /// Square.
    #[inline]
    pub fn square(self) -> Interval {
        let (a, b) = (self.lo * self.lo, self.hi * self.hi);
        let hi = a.max(b);
        let lo = if self.lo <= 0.0 && self.hi >= 0.0 {
            0.0
        } else {
            a.min(b)
        };
        let out = Interval::outward(lo, hi);
        Interval {
            lo: out.lo.max(0.0),
            hi: out.hi,
        }
    }

    /// Square root; [`Interval::EVERYTHING`] if any part lies at or below zero.
    #[inline]
    pub fn sqrt(self) -> Interval {
        if self.lo > 0.0 {
            Interval::outward(self.lo.sqrt(), self.hi.sqrt())
        } else {
            Interval::EVERYTHING
        }
    }

    /// Square root of the part that isn't below zero; [`Interval::EVERYTHING`] where there is none.
    #[inline]
    pub fn sqrt_of_reached(self) -> Interval {
        if self.hi >= 0.0 {
            let out = Interval::outward(self.lo.max(0.0).sqrt(), self.hi.sqrt());
            Interval {
                lo: out.lo.max(0.0),
                hi: out.hi,
            }
        } else {
            Interval::EVERYTHING
        }
    }

    /// Sine and cosine. Enclosed by the value at the middle and the greatest slope, 1; good for the
    /// small angles used here, never wrong for others.
    pub fn sin_cos(self) -> (Interval, Interval) {
        if !self.is_bounded() {
            let unit = Interval { lo: -1.0, hi: 1.0 };
            return (unit, unit);
        }
        let middle = self.middle();
        // The library sine is within one unit in the last place; four are allowed for.
        let slack = 4.0 * ULP * (1.0 + middle.abs());
        let reach = (self.hi - middle).max(middle - self.lo) + slack;
        let (sin, cos) = middle.sin_cos();
        let unit = Interval { lo: -1.0, hi: 1.0 };
        let around = |v: f64| Interval::outward(v - reach, v + reach).meet(unit);
        (around(sin), around(cos))
    }

    /// Twice as much; exact, so nothing is rounded.
    #[inline]
    pub fn twice(self) -> Interval {
        Interval {
            lo: self.lo + self.lo,
            hi: self.hi + self.hi,
        }
    }

    /// Multiplies by a plain number.
    #[inline]
    pub fn scale(self, factor: f64) -> Interval {
        if factor == 0.0 {
            return Interval::point(0.0);
        }
        let (a, b) = (self.lo * factor, self.hi * factor);
        Interval::outward(lesser(a, b), greater(a, b))
    }
}

impl Add for Interval {
    type Output = Interval;
    #[inline]
    fn add(self, o: Interval) -> Interval {
        Interval::outward(self.lo + o.lo, self.hi + o.hi)
    }
}
impl Sub for Interval {
    type Output = Interval;
    #[inline]
    fn sub(self, o: Interval) -> Interval {
        Interval::outward(self.lo - o.hi, self.hi - o.lo)
    }
}
impl Neg for Interval {
    type Output = Interval;
    #[inline]
    fn neg(self) -> Interval {
        Interval {
            lo: -self.hi,
            hi: -self.lo,
        }
    }
}
impl Mul for Interval {
    type Output = Interval;
    #[inline]
    fn mul(self, o: Interval) -> Interval {
        let (a, b, c, d) = (
            self.lo * o.lo,
            self.lo * o.hi,
            self.hi * o.lo,
            self.hi * o.hi,
        );
        // `f64::min` skips NaN (zero times infinity), so unbounded factors are settled first.
        if (a + b + c + d).is_finite() {
            Interval::outward(
                lesser(lesser(a, b), lesser(c, d)),
                greater(greater(a, b), greater(c, d)),
            )
        } else if self == Interval::point(0.0) || o == Interval::point(0.0) {
            Interval::point(0.0)
        } else {
            Interval::EVERYTHING
        }
    }
}
impl Div for Interval {
    type Output = Interval;
    #[inline]
    fn div(self, o: Interval) -> Interval {
        if o.lo <= 0.0 && o.hi >= 0.0 || !o.is_bounded() {
            return Interval::EVERYTHING;
        }
        self * Interval::outward(1.0 / o.hi, 1.0 / o.lo)
    }
}
