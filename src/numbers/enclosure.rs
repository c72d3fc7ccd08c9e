//! A quantity over a whole rectangle of arm angle and rack: where it is, and how fast it can change.
//!
//! The idea in five lines. An enclosure carries the value at the rectangle's centre, a range that
//! holds every value over the rectangle, and a range that holds each partial derivative over it.
//! Every operation computes the range twice, once by interval arithmetic from the operands' ranges
//! and once by the mean value theorem (centre value plus derivative times half-size), and keeps what
//! both allow. Interval arithmetic alone loses sharpness with every repeated variable; the mean value
//! form wins it back to second order, so derivative ranges stay close to the truth.
//!
//! Guarantee: if an input enclosure holds its quantity over the rectangle, so does every result.
//! Rates are per *half-size* of the rectangle (the variables run from -1 to 1), so the greatest change
//! from the centre is at most `rate[0].magnitude() + rate[1].magnitude()`.
//! Source: A. Neumaier, "Interval Methods for Systems of Equations", Cambridge 1990, section 2.3
//! (mean value form); L. B. Rall, "Automatic Differentiation", LNCS 120, 1981. Carrying the meet of
//! both forms through every operation, instead of applying the form once at the end, is our choice.

use super::{Interval, Real};
use num_traits::{One, Zero};
use std::ops::{Add, AddAssign, Div, Mul, MulAssign, Neg, Sub, SubAssign};

/// Value at the centre, range over the rectangle, and ranges of both derivatives over it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Enclosure {
    /// Value at the centre, enclosed against rounding.
    pub centre: Interval,
    /// Every value over the rectangle.
    pub range: Interval,
    /// Derivatives over the rectangle, per half-size: `[by arm angle, by rack]`.
    pub rate: [Interval; 2],
}

impl Enclosure {
    /// The variable number `index` (0 arm angle, 1 rack), from `centre - half` to `centre + half`.
    pub fn variable(centre: f64, half: f64, index: usize) -> Self {
        let mut rate = [Interval::point(0.0); 2];
        rate[index] = Interval::point(half);
        Enclosure {
            centre: Interval::point(centre),
            range: Interval::point(centre) + Interval { lo: -half, hi: half },
            rate,
        }
    }

    #[inline]
    fn tightened(centre: Interval, range: Interval, rate: [Interval; 2]) -> Self {
        let swing = rate[0].magnitude() + rate[1].magnitude();
        let swing = Interval { lo: -swing, hi: swing };
        Enclosure { centre, range: range.meet(centre + swing), rate }
    }
}

impl Add for Enclosure {
    type Output = Enclosure;
    #[inline]
    fn add(self, o: Enclosure) -> Enclosure {
        Enclosure::tightened(
            self.centre + o.centre,
            self.range + o.range,
            [self.rate[0] + o.rate[0], self.rate[1] + o.rate[1]],
        )
    }
}
impl Sub for Enclosure {
    type Output = Enclosure;
    #[inline]
    fn sub(self, o: Enclosure) -> Enclosure {
        Enclosure::tightened(
            self.centre - o.centre,
            self.range - o.range,
            [self.rate[0] - o.rate[0], self.rate[1] - o.rate[1]],
        )
    }
}
impl Neg for Enclosure {
    type Output = Enclosure;
    #[inline]
    fn neg(self) -> Enclosure {
        Enclosure {
            centre: -self.centre,
            range: -self.range,
            rate: [-self.rate[0], -self.rate[1]],
        }
    }
}
impl Mul for Enclosure {
    type Output = Enclosure;
    #[inline]
    fn mul(self, o: Enclosure) -> Enclosure {
        let rate = |i: usize| self.rate[i] * o.range + self.range * o.rate[i];
        Enclosure::tightened(self.centre * o.centre, self.range * o.range, [rate(0), rate(1)])
    }
}
impl Div for Enclosure {
    type Output = Enclosure;
    #[inline]
    fn div(self, o: Enclosure) -> Enclosure {
        let range = self.range / o.range;
        let rate = |i: usize| (self.rate[i] - range * o.rate[i]) / o.range;
        Enclosure::tightened(self.centre / o.centre, range, [rate(0), rate(1)])
    }
}
impl AddAssign for Enclosure {
    #[inline]
    fn add_assign(&mut self, o: Enclosure) {
        *self = *self + o;
    }
}
impl SubAssign for Enclosure {
    #[inline]
    fn sub_assign(&mut self, o: Enclosure) {
        *self = *self - o;
    }
}
impl MulAssign for Enclosure {
    #[inline]
    fn mul_assign(&mut self, o: Enclosure) {
        *self = *self * o;
    }
}
impl Zero for Enclosure {
    fn zero() -> Self {
        Enclosure::constant(0.0)
    }
    fn is_zero(&self) -> bool {
        *self == Self::zero()
    }
}
impl One for Enclosure {
    fn one() -> Self {
        Enclosure::constant(1.0)
    }
}
impl Real for Enclosure {
    #[inline]
    fn constant(value: f64) -> Self {
        let point = Interval::point(value);
        Enclosure { centre: point, range: point, rate: [Interval::point(0.0); 2] }
    }
    #[inline]
    fn scale(self, factor: f64) -> Self {
        Enclosure {
            centre: self.centre.scale(factor),
            range: self.range.scale(factor),
            rate: [self.rate[0].scale(factor), self.rate[1].scale(factor)],
        }
    }
    #[inline]
    fn square(self) -> Self {
        let slope = self.range.scale(2.0);
        Enclosure::tightened(
            self.centre.square(),
            self.range.square(),
            [self.rate[0] * slope, self.rate[1] * slope],
        )
    }
    #[inline]
    fn sqrt(self) -> Self {
        let range = self.range.sqrt();
        let slope = Interval::point(0.5) / range;
        Enclosure::tightened(
            self.centre.sqrt(),
            range,
            [self.rate[0] * slope, self.rate[1] * slope],
        )
    }
    #[inline]
    fn sin_cos(self) -> (Self, Self) {
        let (sin, cos) = self.range.sin_cos();
        let (sin_centre, cos_centre) = self.centre.sin_cos();
        let minus = -sin;
        (
            Enclosure::tightened(sin_centre, sin, [self.rate[0] * cos, self.rate[1] * cos]),
            Enclosure::tightened(cos_centre, cos, [self.rate[0] * minus, self.rate[1] * minus]),
        )
    }
}
