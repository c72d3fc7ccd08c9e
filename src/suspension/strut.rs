//! A strut that holds the knuckle's upper end.
//!
//! The idea in five lines. The strut's lower tube is one body with the knuckle; its axis slides and turns in the top mount, a
//! fixed point. The lower ball joint stands at a fixed distance p from that axis, so from the distance D between both follows
//! how far the axis has slid: s = sqrt(D^2 - p^2). The kingpin axis runs from the ball joint to the top mount; in the knuckle's
//! drawing it leans with s. The tie rod's outer end lies on its circle about that axis, whose middle and radius follow s, and
//! on the sphere of the rod's length about its inner end: circle meets sphere, the as-built point kept. No iteration.
//!
//! Guarantee: as [`super::Mechanism::solve`]. Assumed: the tube doesn't bend, and the top mount is a point: its rubber gives
//! nothing.
//! Source of the geometry: any text on spatial linkages, for example J. Angeles, "Fundamentals of Robotic Mechanical Systems",
//! Springer 2014, chapter 9; the closed form is derived in [`Strut::hold`].

use super::circle::{Circle, circle_about_moving_axis_meets_sphere, measured_branch};
use super::hardpoints::{HardpointError, Hardpoints, LEAST_LENGTH_MM, OwnPoints, ReachLimit};
use super::mechanism::{Held, HeldAt, TieRodEnd};
use crate::numbers::{Real, length_squared, lift};
use nalgebra::{Matrix3, Vector3};

/// The strut with the knuckle that it is bolted to.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Strut {
    slide: Slide,
    /// From the lower ball joint to the tie rod's outer end, in the knuckle's drawing.
    rod_end: Vector3<f64>,
    steer_branch: f64,
}

/// How the strut's axis slides in the top mount.
#[derive(Clone, Debug, PartialEq)]
struct Slide {
    /// The top mount, vehicle coordinates.
    top: Vector3<f64>,
    /// The strut's axis in the knuckle's drawing, unit, from the lower eye to the upper one.
    axis: Vector3<f64>,
    /// From the lower ball joint to its foot on the axis, in the knuckle's drawing.
    to_axis: Vector3<f64>,
    /// Where the lower eye is along the axis, from that foot.
    lower_eye: f64,
    /// Where the top mount is along the axis as drawn, from that foot.
    drawn_mm: f64,
}

impl Slide {
    fn new(h: &Hardpoints, own: &OwnPoints) -> Slide {
        let [upper_eye, lower_eye] = own.damper;
        let axis = (upper_eye - lower_eye).normalize();
        let [ball, drawn_top] = own.knuckle;
        let along = (ball - lower_eye).dot(&axis);
        let foot = lower_eye + axis * along;
        Slide {
            top: h.damper_upper,
            axis,
            to_axis: foot - ball,
            lower_eye: -along,
            drawn_mm: (drawn_top - foot).dot(&axis),
        }
    }

    /// How the kingpin axis stands for a place of the lower ball joint, and what is under the root.
    #[inline]
    fn lean<S: Real>(&self, lower_ball: &Vector3<S>) -> (Lean<S>, S) {
        let between = lift::<S>(&self.top) - lower_ball;
        let squared = length_squared(&between);
        let inverse = S::one() / squared.sqrt();
        let reserve = squared - S::constant(self.to_axis.norm_squared());
        let slide = reserve.sqrt().scale(self.drawn_mm.signum());
        let drawn = Vector3::from_fn(|i, _| {
            (S::constant(self.to_axis[i]) + slide.scale(self.axis[i])) * inverse
        });
        let lean = Lean {
            slide,
            inverse,
            drawn,
            kingpin: between * inverse,
        };
        (lean, reserve)
    }
}

impl Strut {
    pub fn new(h: &Hardpoints, own: &OwnPoints) -> Result<Self, HardpointError> {
        let [ball, drawn_top] = own.knuckle;
        let steer = Circle::about(ball, drawn_top, h.tie_rod_outer);
        if steer.radius < LEAST_LENGTH_MM {
            return Err(HardpointError::InLine {
                point: "knuckle.tie_rod_outer",
                a: "lower_arm.ball_joint",
                b: "damper.upper_mount",
            });
        }
        let slide = Slide::new(h, own);
        if slide.drawn_mm.abs() < LEAST_LENGTH_MM {
            return Err(HardpointError::DeadPoint("strut"));
        }
        Ok(Strut {
            slide,
            rod_end: h.tie_rod_outer - ball,
            steer_branch: measured_branch(&steer, &h.tie_rod_inner)
                .ok_or(HardpointError::DeadPoint("tie rod"))?,
        })
    }

    /// The strut's axis in the knuckle's drawing, unit, from the lower eye to the upper one.
    pub fn axis(&self) -> &Vector3<f64> {
        &self.slide.axis
    }

    /// The kingpin axis with the knuckle not yet steered: as drawn, and where arm and top mount hold it.
    pub fn kingpin_at(h: &Hardpoints, own: &OwnPoints) -> Result<[Vector3<f64>; 2], ReachLimit> {
        let (lean, reserve) = Slide::new(h, own).lean(&h.lower_ball);
        if reserve.is_nan() || reserve <= 0.0 {
            return Err(ReachLimit::Strut);
        }
        Ok([lean.drawn, lean.kingpin])
    }

    /// The knuckle where the lower arm, the top mount and the tie rod hold it.
    ///
    /// In the knuckle's drawing, from the ball joint: the axis passes p and runs along u, the top mount is at p + s u, so the
    /// kingpin axis is k = (p + s u)/D there. With w to the tie rod's outer end its foot on k is a = w . k and its distance
    /// from k is r, r^2 = w^2 - a^2. On the truck k is known too; the rod's end is a k + q, q at right angles to k with
    /// q^2 = r^2, and where it is on its sphere is the question of [`super::circle`]. From k, q and k x q in both, the
    /// rotation follows.
    #[inline]
    pub fn hold<S: Real>(&self, lower_ball: &Vector3<S>, rod: &TieRodEnd<S>) -> Held<S> {
        let (lean, reserve) = self.slide.lean(lower_ball);
        let Lean {
            slide,
            inverse,
            drawn,
            kingpin,
        } = lean;
        let w = &self.rod_end;
        let foot = (S::constant(w.dot(&self.slide.to_axis)) + slide.scale(w.dot(&self.slide.axis)))
            * inverse;
        let radius_squared = S::constant(w.norm_squared()) - foot.square();
        let centre = lower_ball + kingpin * foot;
        let (spoke, steer_reserve) = circle_about_moving_axis_meets_sphere(
            &centre,
            &kingpin,
            radius_squared,
            &rod.inner,
            rod.length_mm,
            self.steer_branch,
        );
        let spoke_drawn = Vector3::from_fn(|i, _| S::constant(w[i]) - drawn[i] * foot);
        let (side, side_drawn) = (kingpin.cross(&spoke), drawn.cross(&spoke_drawn));
        let over = S::one() / radius_squared;
        let (scaled_spoke, scaled_side) = (spoke * over, side * over);
        let knuckle_rotation = Matrix3::from_fn(|i, j| {
            kingpin[i] * drawn[j]
                + scaled_spoke[i] * spoke_drawn[j]
                + scaled_side[i] * side_drawn[j]
        });
        Held {
            kingpin_top: lift(&self.slide.top),
            kingpin,
            knuckle_rotation,
            tie_rod_outer: centre + spoke,
            at: HeldAt::Strut {
                damper_mm: slide - S::constant(self.slide.lower_eye),
            },
            upper_reserve: (ReachLimit::Strut, reserve),
            steer_reserve,
        }
    }
}

/// How the kingpin axis stands.
struct Lean<S: Real> {
    /// From the ball joint's foot on the strut's axis to the top mount.
    slide: S,
    /// One over the distance from the ball joint to the top mount.
    inverse: S,
    /// The axis in the knuckle's drawing, unit.
    drawn: Vector3<S>,
    /// The same in vehicle coordinates.
    kingpin: Vector3<S>,
}
