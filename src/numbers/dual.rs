//! Forward-mode derivatives: a value with its two partial derivatives, by arm angle and by rack.
//!
//! Each operation applies the chain rule, so derivatives are exact up to rounding, without step size
//! (R. E. Wengert, "A simple automatic derivative evaluation program", Comm. ACM 7(8), 1964).

use super::Real;
use num_traits::{One, Zero};
use std::ops::{Add, AddAssign, Div, Mul, MulAssign, Neg, Sub, SubAssign};

/// A value and its partial derivatives with the lower arm's angle (per radian) and with the rack
/// (per millimetre).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dual {
    /// The value.
    pub value: f64,
    /// Partial derivatives: `[by arm angle, by rack]`.
    pub rate: [f64; 2],
}

impl Dual {
    /// The variable number `index` (0 arm angle, 1 rack) at `value`.
    pub fn variable(value: f64, index: usize) -> Self {
        let mut rate = [0.0; 2];
        rate[index] = 1.0;
        Dual { value, rate }
    }

    #[inline]
    fn chain(self, value: f64, slope: f64) -> Self {
        Dual {
            value,
            rate: [self.rate[0] * slope, self.rate[1] * slope],
        }
    }
}

impl Add for Dual {
    type Output = Dual;
    #[inline]
    fn add(self, o: Dual) -> Dual {
        Dual {
            value: self.value + o.value,
            rate: [self.rate[0] + o.rate[0], self.rate[1] + o.rate[1]],
        }
    }
}
impl Sub for Dual {
    type Output = Dual;
    #[inline]
    fn sub(self, o: Dual) -> Dual {
        Dual {
            value: self.value - o.value,
            rate: [self.rate[0] - o.rate[0], self.rate[1] - o.rate[1]],
        }
    }
}
#[expect(clippy::suspicious_arithmetic_impl, reason = "the product rule")]
impl Mul for Dual {
    type Output = Dual;
    #[inline]
    fn mul(self, o: Dual) -> Dual {
        let rate = |i: usize| self.rate[i] * o.value + self.value * o.rate[i];
        Dual {
            value: self.value * o.value,
            rate: [rate(0), rate(1)],
        }
    }
}
#[expect(clippy::suspicious_arithmetic_impl, reason = "the quotient rule")]
impl Div for Dual {
    type Output = Dual;
    #[inline]
    fn div(self, o: Dual) -> Dual {
        let value = self.value / o.value;
        let rate = |i: usize| (self.rate[i] - value * o.rate[i]) / o.value;
        Dual {
            value,
            rate: [rate(0), rate(1)],
        }
    }
}
impl Neg for Dual {
    type Output = Dual;
    #[inline]
    fn neg(self) -> Dual {
        self.chain(-self.value, -1.0)
    }
}
impl AddAssign for Dual {
    #[inline]
    fn add_assign(&mut self, o: Dual) {
        *self = *self + o;
    }
}
impl SubAssign for Dual {
    #[inline]
    fn sub_assign(&mut self, o: Dual) {
        *self = *self - o;
    }
}
impl MulAssign for Dual {
    #[inline]
    fn mul_assign(&mut self, o: Dual) {
        *self = *self * o;
    }
}
impl Zero for Dual {
    fn zero() -> Self {
        Dual::constant(0.0)
    }
    fn is_zero(&self) -> bool {
        *self == Self::zero()
    }
}
impl One for Dual {
    fn one() -> Self {
        Dual::constant(1.0)
    }
}
impl Real for Dual {
    #[inline]
    fn constant(value: f64) -> Self {
        Dual {
            value,
            rate: [0.0; 2],
        }
    }
    #[inline]
    fn scale(self, factor: f64) -> Self {
        self.chain(self.value * factor, factor)
    }
    #[inline]
    fn square(self) -> Self {
        self.chain(self.value * self.value, 2.0 * self.value)
    }
    #[inline]
    fn sqrt(self) -> Self {
        let root = self.value.sqrt();
        self.chain(root, 0.5 / root)
    }
    #[inline]
    fn sin_cos(self) -> (Self, Self) {
        let (sin, cos) = self.value.sin_cos();
        (self.chain(sin, cos), self.chain(cos, -sin))
    }
}
