//! A quantity over a whole rectangle of arm angle and rack: where it is, and how fast it can change.
//!
//! The idea in five lines. An enclosure carries the value and both derivatives at the rectangle's
//! centre, and ranges that hold the value, both derivatives and the three second derivatives over all
//! of it. Every operation computes the ranges of value and derivatives twice: by interval arithmetic
//! from the operands, and by the mean value theorem from the centre and the next derivative up. It
//! keeps what both allow. Interval arithmetic alone loses sharpness with every repeated variable; the
//! mean value form wins it back to second order, so derivative ranges stay close to the truth.
//!
//! Guarantee: if an input enclosure holds its quantity over the rectangle, so does every result.
//! Rates are per *half-size* of the rectangle (the variables run from -1 to 1), so the greatest change
//! from the centre is at most `rate[0].magnitude() + rate[1].magnitude()`.
//! Source: A. Neumaier, "Interval Methods for Systems of Equations", Cambridge 1990, section 2.3
//! (mean value form); L. B. Rall, "Automatic Differentiation", LNCS 120, 1981. Carrying the meet of
//! both forms through every operation, for value and derivatives, is our choice.

use super::{Interval, Real};
use num_traits::{One, Zero};
use std::ops::{Add, AddAssign, Div, Mul, MulAssign, Neg, Sub, SubAssign};

/// Value and derivatives at the centre, and ranges over the rectangle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Enclosure {
    /// Value at the centre, enclosed against rounding.
    pub centre: Interval,
    /// Derivatives at the centre, per half-size.
    pub centre_rate: [Interval; 2],
    /// Every value over the rectangle.
    pub range: Interval,
    /// Derivatives over the rectangle, per half-size: `[by arm angle, by rack]`.
    pub rate: [Interval; 2],
    /// Second derivatives over the rectangle: by arm angle twice, by both, by rack twice.
    pub bend: [Interval; 3],
}

/// The two variables of each second derivative.
const PAIRS: [(usize, usize); 3] = [(0, 0), (0, 1), (1, 1)];

const ZERO: Interval = Interval::point(0.0);

fn swing(a: Interval, b: Interval) -> Interval {
    let size = a.magnitude() + b.magnitude();
    Interval {
        lo: -size,
        hi: size,
    }
}

impl Enclosure {
    /// The variable number `index` (0 arm angle, 1 rack), from `centre - half` to `centre + half`.
    pub fn variable(centre: f64, half: f64, index: usize) -> Self {
        let mut rate = [ZERO; 2];
        rate[index] = Interval::point(half);
        Enclosure {
            centre: Interval::point(centre),
            centre_rate: rate,
            range: Interval::point(centre)
                + Interval {
                    lo: -half,
                    hi: half,
                },
            rate,
            bend: [ZERO; 3],
        }
    }

    /// Keeps what interval arithmetic and the mean value theorem both allow.
    #[inline]
    fn tightened(mut self) -> Self {
        for i in 0..2 {
            let form = self.centre_rate[i] + swing(self.bend[i], self.bend[i + 1]);
            self.rate[i] = self.rate[i].meet(form);
        }
        self.range = self
            .range
            .meet(self.centre + swing(self.rate[0], self.rate[1]));
        self
    }

    /// Applies a function given by its value, slope and curvature at the centre and over the range.
    #[inline]
    fn chain(self, value: [Interval; 2], slope: [Interval; 2], curvature: Interval) -> Self {
        let bend = |k: usize| {
            let (i, j) = PAIRS[k];
            slope[1] * self.bend[k] + curvature * (self.rate[i] * self.rate[j])
        };
        Enclosure {
            centre: value[0],
            centre_rate: self.centre_rate.map(|r| r * slope[0]),
            range: value[1],
            rate: self.rate.map(|r| r * slope[1]),
            bend: [bend(0), bend(1), bend(2)],
        }
        .tightened()
    }
}

impl Add for Enclosure {
    type Output = Enclosure;
    #[inline]
    fn add(self, o: Enclosure) -> Enclosure {
        Enclosure {
            centre: self.centre + o.centre,
            centre_rate: [
                self.centre_rate[0] + o.centre_rate[0],
                self.centre_rate[1] + o.centre_rate[1],
            ],
            range: self.range + o.range,
            rate: [self.rate[0] + o.rate[0], self.rate[1] + o.rate[1]],
            bend: [
                self.bend[0] + o.bend[0],
                self.bend[1] + o.bend[1],
                self.bend[2] + o.bend[2],
            ],
        }
        .tightened()
    }
}
impl Neg for Enclosure {
    type Output = Enclosure;
    #[inline]
    fn neg(self) -> Enclosure {
        Enclosure {
            centre: -self.centre,
            centre_rate: self.centre_rate.map(|r| -r),
            range: -self.range,
            rate: self.rate.map(|r| -r),
            bend: self.bend.map(|b| -b),
        }
    }
}
impl Sub for Enclosure {
    type Output = Enclosure;
    #[inline]
    fn sub(self, o: Enclosure) -> Enclosure {
        self + -o
    }
}
impl Mul for Enclosure {
    type Output = Enclosure;
    #[inline]
    fn mul(self, o: Enclosure) -> Enclosure {
        let centre_rate =
            |i: usize| self.centre_rate[i] * o.centre + self.centre * o.centre_rate[i];
        let rate = |i: usize| self.rate[i] * o.range + self.range * o.rate[i];
        let bend = |k: usize| {
            let (i, j) = PAIRS[k];
            let cross = if i == j {
                (self.rate[i] * o.rate[i]).twice()
            } else {
                self.rate[i] * o.rate[j] + self.rate[j] * o.rate[i]
            };
            self.bend[k] * o.range + self.range * o.bend[k] + cross
        };
        Enclosure {
            centre: self.centre * o.centre,
            centre_rate: [centre_rate(0), centre_rate(1)],
            range: self.range * o.range,
            rate: [rate(0), rate(1)],
            bend: [bend(0), bend(1), bend(2)],
        }
        .tightened()
    }
}
impl Div for Enclosure {
    type Output = Enclosure;
    #[inline]
    fn div(self, o: Enclosure) -> Enclosure {
        // One over the divisor: slope -1/x^2, curvature 2/x^3.
        let one = Interval::point(1.0);
        let (at_centre, over_range) = (one / o.centre, one / o.range);
        let square = over_range.square();
        let inverse = o.chain(
            [at_centre, over_range],
            [-at_centre.square(), -square],
            (square * over_range).twice(),
        );
        self * inverse
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
        Enclosure {
            centre: point,
            centre_rate: [ZERO; 2],
            range: point,
            rate: [ZERO; 2],
            bend: [ZERO; 3],
        }
    }
    #[inline]
    fn scale(self, factor: f64) -> Self {
        Enclosure {
            centre: self.centre.scale(factor),
            centre_rate: self.centre_rate.map(|r| r.scale(factor)),
            range: self.range.scale(factor),
            rate: self.rate.map(|r| r.scale(factor)),
            bend: self.bend.map(|b| b.scale(factor)),
        }
    }
    #[inline]
    fn square(self) -> Self {
        self.chain(
            [self.centre.square(), self.range.square()],
            [self.centre.twice(), self.range.twice()],
            Interval::point(2.0),
        )
    }
    #[inline]
    fn sqrt(self) -> Self {
        // Slope 1/(2 sqrt x), curvature -1/(4 x sqrt x).
        let (at_centre, over_range) = (self.centre.sqrt(), self.range.sqrt());
        let half = Interval::point(0.5);
        let slope = half / over_range;
        self.chain(
            [at_centre, over_range],
            [half / at_centre, slope],
            -(slope / self.range).scale(0.5),
        )
    }
    #[inline]
    fn sin_cos(self) -> (Self, Self) {
        let (sin, cos) = self.range.sin_cos();
        let (sin_centre, cos_centre) = self.centre.sin_cos();
        (
            self.chain([sin_centre, sin], [cos_centre, cos], -sin),
            self.chain([cos_centre, cos], [-sin_centre, -sin], -cos),
        )
    }
}
