//! Four kinds of number for one set of formulas: plain, with derivatives, enclosed, and ranges alone.
//!
//! The linkage is written once, over [`Real`]. Fed with `f64` it gives positions; with [`Dual`] it
//! gives positions and their exact first derivatives; with [`Enclosure`] it gives ranges that are
//! *proved* to hold over a whole rectangle of arm angle and rack travel; with [`Range`] the same of values alone, next to the
//! end of reach too, where derivatives have no bound. So the motion bound that
//! guards the sweep is computed from the same formulas as the positions, and cannot drift from them.
//!
//! Reads: nothing. Produces: number types. Next: [`crate::suspension`].

mod dual;
mod enclosure;
mod interval;
mod range;
mod toward;

pub use dual::Dual;
pub use enclosure::Enclosure;
pub use interval::Interval;
pub use range::Range;
pub use toward::{NO_NUMBER, Toward, decimals};

use nalgebra::{ClosedAddAssign, ClosedMulAssign, ClosedSubAssign, Matrix3, Scalar, Vector3};
use num_traits::{One, Zero};
use std::ops::{Div, Neg};

/// What the linkage formulas need of a number.
pub trait Real:
    Scalar
    + Copy
    + Zero
    + One
    + ClosedAddAssign
    + ClosedSubAssign
    + ClosedMulAssign
    + Neg<Output = Self>
    + Div<Output = Self>
{
    /// A number that doesn't depend on arm angle or rack.
    fn constant(value: f64) -> Self;
    /// Multiplies by a plain number.
    fn scale(self, factor: f64) -> Self;
    /// Square; tighter than `self * self` for enclosures.
    fn square(self) -> Self;
    /// Square root. Below zero: NaN for plain numbers, everything for enclosures.
    fn sqrt(self) -> Self;
    /// Sine and cosine of an angle in radians.
    fn sin_cos(self) -> (Self, Self);
}

impl Real for f64 {
    #[inline]
    fn constant(value: f64) -> Self {
        value
    }
    #[inline]
    fn scale(self, factor: f64) -> Self {
        self * factor
    }
    #[inline]
    fn square(self) -> Self {
        self * self
    }
    #[inline]
    fn sqrt(self) -> Self {
        f64::sqrt(self)
    }
    #[inline]
    fn sin_cos(self) -> (Self, Self) {
        f64::sin_cos(self)
    }
}

/// A plain vector as a vector of `S`.
#[inline]
pub fn lift<S: Real>(v: &Vector3<f64>) -> Vector3<S> {
    v.map(S::constant)
}

/// `matrix * vector` for a plain vector: nine scalings instead of nine products.
#[inline]
pub fn turn<S: Real>(matrix: &Matrix3<S>, v: &Vector3<f64>) -> Vector3<S> {
    Vector3::new(
        matrix[(0, 0)].scale(v.x) + matrix[(0, 1)].scale(v.y) + matrix[(0, 2)].scale(v.z),
        matrix[(1, 0)].scale(v.x) + matrix[(1, 1)].scale(v.y) + matrix[(1, 2)].scale(v.z),
        matrix[(2, 0)].scale(v.x) + matrix[(2, 1)].scale(v.y) + matrix[(2, 2)].scale(v.z),
    )
}

/// Scalar product with a plain vector.
#[inline]
pub fn dot_plain<S: Real>(a: &Vector3<S>, b: &Vector3<f64>) -> S {
    a.x.scale(b.x) + a.y.scale(b.y) + a.z.scale(b.z)
}

/// Squared length.
#[inline]
pub fn length_squared<S: Real>(v: &Vector3<S>) -> S {
    v.x.square() + v.y.square() + v.z.square()
}
