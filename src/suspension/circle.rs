//! Where a circle meets a sphere, and the turns that linkages are made of.

use crate::numbers::{Real, dot_plain, length_squared};
use nalgebra::{Matrix3, Vector3};

/// A circle that a hardpoint runs on, fixed in some body.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Circle {
    pub centre: Vector3<f64>,
    pub axis: Vector3<f64>,
    /// From centre to point as measured.
    pub spoke: Vector3<f64>,
    pub radius: f64,
}

impl Circle {
    pub fn about(from: Vector3<f64>, to: Vector3<f64>, point: Vector3<f64>) -> Circle {
        let axis = (to - from).normalize();
        let centre = from + axis * (point - from).dot(&axis);
        let spoke = point - centre;
        Circle {
            centre,
            axis,
            spoke,
            radius: spoke.norm(),
        }
    }
}

/// A vector's direction.
#[inline]
pub(super) fn unit<S: Real>(v: Vector3<S>) -> Vector3<S> {
    v * (S::one() / length_squared(&v).sqrt())
}

/// As measured, the sine of the angle between a spoke and its dead point must exceed this.
pub(super) const DEAD_POINT_SINE: f64 = 1.0e-3;

/// The sign that the measured point takes in [`circle_meets_sphere`]'s root; none at a dead point.
pub(super) fn measured_branch(circle: &Circle, sphere_centre: &Vector3<f64>) -> Option<f64> {
    let across = circle.axis.cross(&(circle.centre - sphere_centre));
    let sine = circle.spoke.dot(&across) / (circle.radius * across.norm());
    (sine.abs() > DEAD_POINT_SINE).then(|| sine.signum())
}

/// Where a circle meets a sphere, as the spoke from the circle's centre.
///
/// With `d` from sphere centre to circle centre, `m` its part across the circle's axis `a`, circle
/// radius r and sphere radius R, the spoke q must obey q.a = 0, q.q = r^2 and (d + q)^2 = R^2, so
/// q.m = c = (R^2 - d^2 - r^2)/2. Writing q in the basis m, a x m (same length, at right angles):
/// q = (c m +- sqrt(m^2 r^2 - c^2) a x m) / m^2. Returns the spoke and what is under the root.
#[inline]
pub(super) fn circle_meets_sphere<S: Real>(
    centre: &Vector3<S>,
    axis: &Vector3<S>,
    radius: f64,
    sphere_centre: &Vector3<S>,
    sphere_radius: f64,
    branch: f64,
) -> (Vector3<S>, S) {
    let seen = Seen::of(centre, axis, sphere_centre);
    let fixed = S::constant(sphere_radius * sphere_radius - radius * radius);
    let c = (fixed - seen.squared).scale(0.5);
    let reserve = seen.across_squared.scale(radius * radius) - c.square();
    (seen.spoke(c, reserve, branch), reserve)
}

/// The same for a circle whose radius isn't fixed, about an axis that moves: [`circle_meets_sphere`] with r^2 given.
#[inline]
pub(super) fn circle_about_moving_axis_meets_sphere<S: Real>(
    centre: &Vector3<S>,
    axis: &Vector3<S>,
    radius_squared: S,
    sphere_centre: &Vector3<S>,
    sphere_radius: f64,
    branch: f64,
) -> (Vector3<S>, S) {
    let seen = Seen::of(centre, axis, sphere_centre);
    let fixed = S::constant(sphere_radius * sphere_radius) - radius_squared;
    let c = (fixed - seen.squared).scale(0.5);
    let reserve = seen.across_squared * radius_squared - c.square();
    (seen.spoke(c, reserve, branch), reserve)
}

/// A circle's centre as seen from a sphere's, with the names of [`circle_meets_sphere`].
struct Seen<S: Real> {
    /// d^2.
    squared: S,
    /// m.
    across: Vector3<S>,
    /// m^2.
    across_squared: S,
    /// a x d, which is a x m.
    square_to_both: Vector3<S>,
}

impl<S: Real> Seen<S> {
    #[inline]
    fn of(centre: &Vector3<S>, axis: &Vector3<S>, sphere_centre: &Vector3<S>) -> Self {
        let d = centre - sphere_centre;
        let across = d - axis * d.dot(axis);
        Seen {
            squared: length_squared(&d),
            across_squared: length_squared(&across),
            across,
            square_to_both: axis.cross(&d),
        }
    }

    /// q, from c and what is under the root.
    #[inline]
    fn spoke(&self, c: S, reserve: S, branch: f64) -> Vector3<S> {
        let inverse = S::one() / self.across_squared;
        self.across * (c * inverse) + self.square_to_both * (reserve.sqrt().scale(branch) * inverse)
    }
}

/// Rotation by an angle about a fixed unit axis (Rodrigues).
#[inline]
pub(super) fn about_axis<S: Real>(axis: &Vector3<f64>, sin: S, cos: S) -> Matrix3<S> {
    let versine = S::one() - cos;
    let a = axis;
    let d = |i: usize| cos + versine.scale(a[i] * a[i]);
    let o = |i: usize, j: usize, k: f64| versine.scale(a[i] * a[j]) + sin.scale(k);
    Matrix3::new(
        d(0),
        o(0, 1, -a.z),
        o(0, 2, a.y),
        o(1, 0, a.z),
        d(1),
        o(1, 2, -a.x),
        o(2, 0, -a.y),
        o(2, 1, a.x),
        d(2),
    )
}

/// The rotation without twist that takes one unit vector to another less than 180 degrees away.
#[inline]
pub(super) fn without_twist<S: Real>(from: &Vector3<f64>, to: &Vector3<S>) -> Matrix3<S> {
    let f = from;
    let v = Vector3::new(
        to.z.scale(f.y) - to.y.scale(f.z),
        to.x.scale(f.z) - to.z.scale(f.x),
        to.y.scale(f.x) - to.x.scale(f.y),
    );
    let c = dot_plain(to, f);
    let k = S::one() / (S::one() + c);
    let kx = v.x * k;
    let ky = v.y * k;
    let kz = v.z * k;
    let (xy, xz, yz) = (kx * v.y, kx * v.z, ky * v.z);
    Matrix3::new(
        c + kx * v.x,
        xy - v.z,
        xz + v.y,
        xy + v.z,
        c + ky * v.y,
        yz - v.x,
        xz - v.y,
        yz + v.x,
        c + kz * v.z,
    )
}
