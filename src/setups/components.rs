//! Components of both corners, changed alike: the other corner's own entries get the mirror image.

use super::apply::number;
use super::{Result, parts};
use crate::scene::{
    Arm, ArmChange, BallJoints, Change, ConeEntry, Damper, Halfshaft, InnerEndEntry, Knuckle,
    PinEntry, Point, Problem, Scene,
};
use crate::suspension::Body;
use nalgebra::{Isometry3, Rotation3, Translation3, UnitQuaternion, Vector3};

/// The mirror image of something drawn: left for right.
pub(super) trait Mirror {
    fn mirrored(&self) -> Self;
}

impl Mirror for Point {
    fn mirrored(&self) -> Self {
        Point(self.0, -self.1, self.2)
    }
}
impl Mirror for (Point, Point) {
    fn mirrored(&self) -> Self {
        (self.0.mirrored(), self.1.mirrored())
    }
}
impl Mirror for ConeEntry {
    fn mirrored(&self) -> Self {
        ConeEntry {
            stud_axis: self.stud_axis.as_ref().map(Mirror::mirrored),
            housing_axis: self.housing_axis.as_ref().map(Mirror::mirrored),
            ..*self
        }
    }
}
impl Mirror for PinEntry {
    fn mirrored(&self) -> Self {
        PinEntry {
            pin_axis: self.pin_axis.as_ref().map(Mirror::mirrored),
            ..*self
        }
    }
}
impl Mirror for InnerEndEntry {
    fn mirrored(&self) -> Self {
        InnerEndEntry {
            housing_axis: self.housing_axis.as_ref().map(Mirror::mirrored),
            ..*self
        }
    }
}

/// Sets a field where the change gives it.
pub(super) fn set<T: Mirror + Clone>(field: &mut T, new: &Option<T>, mirror: bool) {
    if let Some(new) = new {
        *field = if mirror { new.mirrored() } else { new.clone() };
    }
}

/// The same for a field that may be left out in the scene.
pub(super) fn set_some<T: Mirror + Clone>(field: &mut Option<T>, new: &Option<T>, mirror: bool) {
    if let Some(new) = new {
        *field = Some(if mirror { new.mirrored() } else { new.clone() });
    }
}

/// Runs a change on a component of the described corner, and on the other corner's where it has its own;
/// the change is told whether to mirror.
pub(super) trait EachSide {
    fn each_damper(&mut self, change: impl FnMut(&mut Damper, bool));
    fn each_arm(&mut self, upper: bool, change: impl FnMut(&mut Arm, bool));
    fn each_knuckle(&mut self, change: impl FnMut(&mut Knuckle, bool));
    fn each_halfshaft(&mut self, change: impl FnMut(&mut Halfshaft, bool));
    fn each_ball_joints(&mut self, change: impl FnMut(&mut BallJoints, bool));
}

fn both<T>(own: &mut T, other: &mut Option<T>, mut change: impl FnMut(&mut T, bool)) {
    change(own, false);
    if let Some(other) = other {
        change(other, true);
    }
}

impl EachSide for Scene {
    fn each_damper(&mut self, change: impl FnMut(&mut Damper, bool)) {
        both(&mut self.damper, &mut self.other_side.damper, change);
    }
    fn each_arm(&mut self, upper: bool, change: impl FnMut(&mut Arm, bool)) {
        if upper {
            both(&mut self.upper_arm, &mut self.other_side.upper_arm, change);
        } else {
            both(&mut self.lower_arm, &mut self.other_side.lower_arm, change);
        }
    }
    fn each_knuckle(&mut self, change: impl FnMut(&mut Knuckle, bool)) {
        both(&mut self.knuckle, &mut self.other_side.knuckle, change);
    }
    fn each_halfshaft(&mut self, change: impl FnMut(&mut Halfshaft, bool)) {
        both(&mut self.halfshaft, &mut self.other_side.halfshaft, change);
    }
    fn each_ball_joints(&mut self, change: impl FnMut(&mut BallJoints, bool)) {
        both(
            &mut self.ball_joints,
            &mut self.other_side.ball_joints,
            change,
        );
    }
}

/// Another arm's points and stop.
pub(super) fn arm(own: &mut Arm, new: &ArmChange, mirror: bool) {
    set(&mut own.front_pivot, &new.front_pivot, mirror);
    set(&mut own.rear_pivot, &new.rear_pivot, mirror);
    set(&mut own.ball_joint, &new.ball_joint, mirror);
    own.droop_stop_deg = new.droop_stop_deg.or(own.droop_stop_deg);
}

fn vector(p: &Point) -> Vector3<f64> {
    Vector3::new(p.0, p.1, p.2)
}

/// Another knuckle: wheel and outer joint housing follow it.
pub(super) fn knuckle(scene: &mut Scene, change: &Change, path: &str) -> Result<()> {
    let Change::Knuckle {
        ball_joints,
        wheel_centre,
        spindle,
        tie_rod_outer,
        outer_joint,
        steering_stop_deg,
        parts: own,
    } = change
    else {
        return Ok(());
    };
    let old_centre = vector(&scene.knuckle.wheel_centre);
    let old_spindle = spindle_direction(scene, "knuckle.spindle")?;
    let old_joint = vector(&scene.halfshaft.outer_joint);
    scene.each_knuckle(|knuckle, mirror| {
        set_some(&mut knuckle.ball_joints, ball_joints, mirror);
        set(&mut knuckle.wheel_centre, wheel_centre, mirror);
        set(&mut knuckle.tie_rod_outer, tie_rod_outer, mirror);
        if let Some(spindle) = spindle {
            knuckle.spindle = match spindle {
                crate::scene::Spindle::Axis(axis) if mirror => {
                    crate::scene::Spindle::Axis(axis.mirrored())
                }
                same => *same,
            };
        }
        knuckle.steering_stop_deg = steering_stop_deg.or(knuckle.steering_stop_deg);
    });
    scene.each_halfshaft(|shaft, mirror| set(&mut shaft.outer_joint, outer_joint, mirror));
    let new_spindle = spindle_direction(scene, &format!("{path}.spindle"))?;
    let turn =
        Rotation3::rotation_between(&old_spindle, &new_spindle).unwrap_or_else(Rotation3::identity);
    let new_centre = vector(&scene.knuckle.wheel_centre);
    let follow = Isometry3::from_parts(
        Translation3::from(new_centre - turn * old_centre),
        UnitQuaternion::from_rotation_matrix(&turn),
    );
    parts::move_bodies(scene, &[Body::Wheel], &follow);
    let slide = vector(&scene.halfshaft.outer_joint) - old_joint;
    parts::move_bodies(
        scene,
        &[Body::OuterJointHousing],
        &Isometry3::from_parts(Translation3::from(slide), UnitQuaternion::identity()),
    );
    parts::fit(scene, own);
    Ok(())
}

/// The wheel with everything on it, moved outboard along the spindle.
pub(super) fn move_wheel_out(scene: &mut Scene, outboard: f64, path: &str) -> Result<()> {
    let slide = spindle_direction(scene, "knuckle.spindle")? * number(outboard, path, "outboard")?;
    scene.each_knuckle(|knuckle, mirror| {
        let c = &mut knuckle.wheel_centre;
        let y = if mirror { -slide.y } else { slide.y };
        *c = Point(c.0 + slide.x, c.1 + y, c.2 + slide.z);
    });
    let follow = Isometry3::from_parts(Translation3::from(slide), UnitQuaternion::identity());
    parts::move_bodies(scene, &[Body::Wheel], &follow);
    Ok(())
}

/// The described corner's spindle, a unit vector outboard.
fn spindle_direction(scene: &Scene, path: &str) -> Result<Vector3<f64>> {
    let direction = Vector3::from(scene.knuckle.spindle.direction(scene.side));
    direction
        .try_normalize(1.0e-9)
        .filter(|d| d.iter().all(|c| c.is_finite()))
        .ok_or_else(|| {
            Problem::at(
                path,
                "a direction of length zero",
                "give a direction (x, y, z)",
            )
        })
}
