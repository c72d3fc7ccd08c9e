//! A ball joint's cone: how far the stud may lean from the housing's axis, round or oval.
//!
//! The oval cone is elliptic: with the stud's components (x along, y across, z on the housing's axis),
//! (x / tan a)^2 + (y / tan b)^2 < z^2.

use super::{Reading, Unit, at_most};
use crate::numbers::Real;
use crate::suspension::{Linkage, Motion};
use nalgebra::Vector3;

/// A cone limit.
#[derive(Clone, Debug, PartialEq)]
pub struct Cone {
    /// The body that carries the housing.
    pub housing: Motion,
    /// The cone's axis on it, unit, body coordinates.
    pub axis: Vector3<f64>,
    /// Direction of the first half angle, square to the axis, unit.
    pub along: Vector3<f64>,
    /// The body that carries the stud.
    pub stud: Motion,
    /// The stud's axis, unit, body coordinates, pointing with the cone's axis.
    pub stud_axis: Vector3<f64>,
    /// Half angles along and across, radians; equal for a round cone.
    pub half_angles: [f64; 2],
}

impl Cone {
    /// Stud components along, across and on the housing's axis.
    fn components<S: Real>(&self, linkage: &Linkage<S>) -> [S; 3] {
        // Both axes in vehicle coordinates; then the stud against the housing's three directions.
        let housing = linkage.placement(self.housing);
        let stud = linkage.placement(self.stud).direction(&self.stud_axis);
        let across = self.axis.cross(&self.along);
        [self.along, across, self.axis].map(|d| stud.dot(&housing.direction(&d)))
    }

    pub(super) fn reserve<S: Real>(&self, linkage: &Linkage<S>) -> S {
        let [a, b] = self.half_angles;
        if a == b {
            let housing = linkage.placement(self.housing).direction(&self.axis);
            let stud = linkage.placement(self.stud).direction(&self.stud_axis);
            return stud.dot(&housing) - S::constant(a.cos());
        }
        // Positive inside the cone and inside its mirror image behind the housing, which a stud could
        // only reach by passing through the negative region first.
        let [x, y, z] = self.components(linkage);
        z.square() - x.scale(1.0 / a.tan()).square() - y.scale(1.0 / b.tan()).square()
    }

    pub(super) fn reading(&self, linkage: &Linkage<f64>) -> Reading {
        let [x, y, z] = self.components(linkage);
        let lean = x.hypot(y);
        let [a, b] = self.half_angles;
        let limit = if lean > 0.0 && a != b {
            // tan(limit) in the stud's own direction of lean.
            1.0 / (x / lean / a.tan()).hypot(y / lean / b.tan())
        } else {
            a.tan()
        };
        at_most(
            lean.atan2(z).to_degrees(),
            limit.atan().to_degrees(),
            Unit::Degree,
        )
    }
}

/// A direction square to `axis`, as near to `wish` as can be.
pub fn square_to(axis: &Vector3<f64>, wish: &Vector3<f64>) -> Vector3<f64> {
    let flat = wish - axis * axis.dot(wish);
    if flat.norm() > 1.0e-6 {
        return flat.normalize();
    }
    let mut other = Vector3::zeros();
    other[axis.iamin()] = 1.0;
    (other - axis * axis.dot(&other)).normalize()
}
