//! Where a quantity is over the reachable part of a rectangle of arm angle and rack: interval arithmetic alone.
//!
//! Next to the end of reach a root runs out. Its derivatives have no bound there, so no [`super::Enclosure`] holds, but its
//! values do: at each position that the linkage reaches, what is under the root is zero or more. So the root of an interval
//! that dips below zero is taken of its upper part.
//!
//! Guarantee: at every position of the rectangle at which no root is of less than zero, each result holds the quantity's
//! value. Of positions out of reach nothing is said. A quantity that comes twice in a formula is counted as two, so ranges
//! are wider than the truth, by an amount that shrinks with the rectangle.

use super::{Interval, Real};
use num_traits::{One, Zero};
use std::ops::{Add, AddAssign, Div, Mul, MulAssign, Neg, Sub, SubAssign};

/// Every value over the reachable part of a rectangle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Range(pub Interval);

impl Add for Range {
    type Output = Range;
    #[inline]
    fn add(self, o: Range) -> Range {
        Range(self.0 + o.0)
    }
}
impl Sub for Range {
    type Output = Range;
    #[inline]
    fn sub(self, o: Range) -> Range {
        Range(self.0 - o.0)
    }
}
impl Mul for Range {
    type Output = Range;
    #[inline]
    fn mul(self, o: Range) -> Range {
        Range(self.0 * o.0)
    }
}
impl Div for Range {
    type Output = Range;
    #[inline]
    fn div(self, o: Range) -> Range {
        Range(self.0 / o.0)
    }
}
impl Neg for Range {
    type Output = Range;
    #[inline]
    fn neg(self) -> Range {
        Range(-self.0)
    }
}
impl AddAssign for Range {
    #[inline]
    fn add_assign(&mut self, o: Range) {
        *self = *self + o;
    }
}
impl SubAssign for Range {
    #[inline]
    fn sub_assign(&mut self, o: Range) {
        *self = *self - o;
    }
}
impl MulAssign for Range {
    #[inline]
    fn mul_assign(&mut self, o: Range) {
        *self = *self * o;
    }
}
impl Zero for Range {
    fn zero() -> Self {
        Range::constant(0.0)
    }
    fn is_zero(&self) -> bool {
        *self == Self::zero()
    }
}
impl One for Range {
    fn one() -> Self {
        Range::constant(1.0)
    }
}
impl Real for Range {
    #[inline]
    fn constant(value: f64) -> Self {
        Range(Interval::point(value))
    }
    #[inline]
    fn scale(self, factor: f64) -> Self {
        Range(self.0.scale(factor))
    }
    #[inline]
    fn square(self) -> Self {
        Range(self.0.square())
    }
    #[inline]
    fn sqrt(self) -> Self {
        Range(self.0.sqrt_of_reached())
    }
    #[inline]
    fn sin_cos(self) -> (Self, Self) {
        let (sin, cos) = self.0.sin_cos();
        (Range(sin), Range(cos))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_root_is_taken_of_what_is_not_below_zero() {
        let root = |lo, hi| Range(Interval { lo, hi }).sqrt().0;
        let dips = root(-3.0, 4.0);
        assert!(dips.lo == 0.0 && dips.hi >= 2.0 && dips.hi < 2.0 + 1.0e-14);
        let whole = root(4.0, 9.0);
        assert!(whole.lo <= 2.0 && whole.hi >= 3.0 && whole.lo > 1.99 && whole.hi < 3.01);
        // Where nothing is reached, nothing is known.
        assert_eq!(root(-4.0, -1.0), Interval::EVERYTHING);
        assert_eq!(root(f64::NEG_INFINITY, f64::INFINITY).lo, 0.0);
    }
}
