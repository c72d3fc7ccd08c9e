//! An upper control arm that holds the knuckle's upper ball joint.
//!
//! The upper ball joint lies on the arm's circle and on the sphere of the knuckle's length about the lower one: circle meets
//! sphere, two points, the as-built one kept. The tie rod's outer end lies on its circle about the kingpin axis and on the
//! sphere of the rod's length about its inner end: the same question again.

use super::bodies::Placement;
use super::circle::{Circle, about_axis, circle_meets_sphere, measured_branch};
use super::hardpoints::{
    ArmPoints, HardpointError, Hardpoints, LEAST_LENGTH_MM, OwnPoints, ReachLimit,
};
use super::mechanism::{Held, HeldAt, TieRodEnd};
use crate::numbers::{Real, dot_plain, lift};
use nalgebra::{Matrix3, Vector3};

/// The upper arm with the knuckle that it holds.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct UpperArm {
    circle: Circle,
    branch: f64,
    knuckle_length: f64,
    /// Unit vector from the lower to the upper ball joint in the knuckle's drawing.
    kingpin: Vector3<f64>,
    /// Foot of the tie-rod end on the kingpin axis, from the knuckle's lower ball joint.
    steer_offset: f64,
    steer_spoke: Vector3<f64>,
    steer_radius: f64,
    steer_branch: f64,
}

impl UpperArm {
    pub fn new(h: &Hardpoints, arm: &ArmPoints, own: &OwnPoints) -> Result<Self, HardpointError> {
        let circle = Circle::about(arm.front, arm.rear, arm.ball);
        let [knuckle_lower, knuckle_upper] = own.knuckle;
        let knuckle_length = (knuckle_upper - knuckle_lower).norm();
        let kingpin = (knuckle_upper - knuckle_lower) / knuckle_length;
        let steer = Circle::about(knuckle_lower, knuckle_upper, h.tie_rod_outer);
        if steer.radius < LEAST_LENGTH_MM {
            return Err(HardpointError::InLine {
                point: "knuckle.tie_rod_outer",
                a: "lower_arm.ball_joint",
                b: "upper_arm.ball_joint",
            });
        }
        Ok(UpperArm {
            branch: measured_branch(&circle, &h.lower_ball)
                .ok_or(HardpointError::DeadPoint("upper arm"))?,
            steer_branch: measured_branch(&steer, &h.tie_rod_inner)
                .ok_or(HardpointError::DeadPoint("tie rod"))?,
            circle,
            knuckle_length,
            steer_offset: (steer.centre - knuckle_lower).dot(&kingpin),
            steer_spoke: steer.spoke / steer.radius,
            steer_radius: steer.radius,
            kingpin,
        })
    }

    /// The kingpin axis with the knuckle not yet steered: as drawn, and where the arms hold it.
    pub fn kingpin_at(
        h: &Hardpoints,
        arm: &ArmPoints,
        own: &OwnPoints,
    ) -> Result<[Vector3<f64>; 2], ReachLimit> {
        let [knuckle_lower, knuckle_upper] = own.knuckle;
        let circle = Circle::about(arm.front, arm.rear, arm.ball);
        let length = (knuckle_upper - knuckle_lower).norm();
        let across = circle.axis.cross(&(circle.centre - h.lower_ball));
        let branch = circle.spoke.dot(&across).signum();
        let (spoke, reserve) = circle_meets_sphere(
            &circle.centre,
            &circle.axis,
            circle.radius,
            &h.lower_ball,
            length,
            branch,
        );
        if reserve.is_nan() || reserve <= 0.0 {
            return Err(ReachLimit::UpperArm);
        }
        Ok([
            (knuckle_upper - knuckle_lower) / length,
            (circle.centre + spoke - h.lower_ball) / length,
        ])
    }

    /// The knuckle where both arms and the tie rod hold it.
    #[inline]
    pub fn hold<S: Real>(&self, lower_ball: &Vector3<S>, rod: &TieRodEnd<S>) -> Held<S> {
        let (spoke, reserve) = circle_meets_sphere(
            &lift(&self.circle.centre),
            &lift(&self.circle.axis),
            self.circle.radius,
            lower_ball,
            self.knuckle_length,
            self.branch,
        );
        let upper_ball = lift(&self.circle.centre) + spoke;
        let kingpin = (upper_ball - lower_ball).map(|c: S| c.scale(1.0 / self.knuckle_length));

        let steer_centre = lower_ball + kingpin.map(|c: S| c.scale(self.steer_offset));
        let (steer_spoke, steer_reserve) = circle_meets_sphere(
            &steer_centre,
            &kingpin,
            self.steer_radius,
            &rod.inner,
            rod.length_mm,
            self.steer_branch,
        );
        let unit_spoke = steer_spoke.map(|c: S| c.scale(1.0 / self.steer_radius));
        let side = kingpin.cross(&unit_spoke);
        let side_measured = self.kingpin.cross(&self.steer_spoke);
        // Columns (kingpin, spoke, side) now, from the same columns as measured.
        let knuckle_rotation = Matrix3::from_fn(|i, j| {
            kingpin[i].scale(self.kingpin[j])
                + unit_spoke[i].scale(self.steer_spoke[j])
                + side[i].scale(side_measured[j])
        });
        Held {
            kingpin_top: upper_ball,
            kingpin,
            knuckle_rotation,
            tie_rod_outer: steer_centre + steer_spoke,
            at: HeldAt::Arm { spoke },
            upper_reserve: (ReachLimit::UpperArm, reserve),
            steer_reserve,
        }
    }

    /// The arm's placement with its ball joint at the end of `spoke`, and the cosine and sine of its turn from the measured
    /// position: the spoke in the circle's own basis.
    #[inline]
    pub fn placement<S: Real>(&self, spoke: &Vector3<S>) -> (Placement<S>, (S, S)) {
        let inverse = 1.0 / (self.circle.radius * self.circle.radius);
        let cos = dot_plain(spoke, &self.circle.spoke).scale(inverse);
        let sin = dot_plain(spoke, &self.circle.axis.cross(&self.circle.spoke)).scale(inverse);
        let arm = Placement {
            rotation: about_axis(&self.circle.axis, sin, cos),
            anchor_in_body: self.circle.centre,
            anchor: lift(&self.circle.centre),
        };
        (arm, (cos, sin))
    }
}
