//! A corner's points as measured, and what makes no suspension of them.

use super::bodies::Body;
use nalgebra::Vector3;

/// Which body carries the damper's lower eye.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DamperFoot {
    /// The lower control arm.
    LowerArm,
    /// The upper control arm.
    UpperArm,
    /// The knuckle.
    Knuckle,
}

/// A control arm's points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ArmPoints {
    /// Front frame pivot.
    pub front: Vector3<f64>,
    /// Rear frame pivot.
    pub rear: Vector3<f64>,
    /// Ball joint's centre.
    pub ball: Vector3<f64>,
}

impl ArmPoints {
    /// Each point changed alike.
    #[must_use]
    pub fn map(self, f: impl Fn(Vector3<f64>) -> Vector3<f64>) -> ArmPoints {
        ArmPoints {
            front: f(self.front),
            rear: f(self.rear),
            ball: f(self.ball),
        }
    }
}

/// What holds the knuckle's upper end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum UpperLink {
    /// An upper control arm, with its ball joint.
    Arm(ArmPoints),
    /// The damper itself, as a strut: its lower tube is one body with the knuckle, and its axis, the line through both
    /// eyes, slides and turns in the upper one, the top mount.
    Strut,
}

/// One corner's points and axes: vehicle coordinates at the measured position, millimetres.
#[derive(Clone, Debug, PartialEq)]
pub struct Hardpoints {
    /// Lower arm, front frame pivot.
    pub lower_front: Vector3<f64>,
    /// Lower arm, rear frame pivot.
    pub lower_rear: Vector3<f64>,
    /// Lower ball joint's centre.
    pub lower_ball: Vector3<f64>,
    /// What holds the knuckle's upper end.
    pub upper: UpperLink,
    /// Tie rod's end on the rack.
    pub tie_rod_inner: Vector3<f64>,
    /// Tie rod's end on the knuckle.
    pub tie_rod_outer: Vector3<f64>,
    /// Wheel centre.
    pub wheel_centre: Vector3<f64>,
    /// Spindle axis, unit, pointing outboard.
    pub spindle_axis: Vector3<f64>,
    /// Damper's eye on the frame.
    pub damper_upper: Vector3<f64>,
    /// Damper's eye on `damper_foot`.
    pub damper_lower: Vector3<f64>,
    /// The body that carries the lower eye.
    pub damper_foot: DamperFoot,
    /// Outer joint's centre, in the knuckle.
    pub outer_joint: Vector3<f64>,
    /// Outer joint's axis in the knuckle, unit, outboard.
    pub outer_axis: Vector3<f64>,
    /// Inner joint's centre (the spider's) on the differential.
    pub inner_joint: Vector3<f64>,
    /// Output flange's axis, unit, outboard.
    pub flange_axis: Vector3<f64>,
}

/// Joint points as the part on the joint's other side has them, each in its part's own drawing: vehicle
/// coordinates at the measured position, millimetres.
///
/// With every part as measured they are the hardpoints themselves. With another arm, another knuckle or a
/// lowered differential the drawings no longer meet: the lengths between these points stay the part's own,
/// and [`Mechanism::solve`](super::Mechanism::solve) brings the joints together.
#[derive(Clone, Debug, PartialEq)]
pub struct OwnPoints {
    /// Lower ball joint, and upper ball joint or the strut's upper eye, in the knuckle's drawing.
    pub knuckle: [Vector3<f64>; 2],
    /// Inner and outer end in the tie rod's drawing.
    pub tie_rod: [Vector3<f64>; 2],
    /// Inner and outer joint's centre in the halfshaft's drawing.
    pub halfshaft: [Vector3<f64>; 2],
    /// Upper and lower eye in the damper's drawing; a strut's is the knuckle's too.
    pub damper: [Vector3<f64>; 2],
    /// The unit axis of the damper on the truck as measured, from its lower eye to its upper one: a strut's top mount sits
    /// square to it unless the scene says otherwise, whatever is fitted to it.
    pub measured_damper_axis: Vector3<f64>,
    /// Height of the wheel centre at zero travel.
    pub wheel_height_mm: f64,
}

impl Hardpoints {
    /// The upper end of the kingpin axis: the upper ball joint, or a strut's top mount.
    pub fn kingpin_top(&self) -> Vector3<f64> {
        match &self.upper {
            UpperLink::Arm(arm) => arm.ball,
            UpperLink::Strut => self.damper_upper,
        }
    }

    /// Whether a body is a strut's tube, which is one body with the knuckle and can't roll.
    pub fn is_tube(&self, body: Body) -> bool {
        body == Body::DamperLower && self.upper == UpperLink::Strut
    }

    /// The upper control arm's points; none on a strut.
    pub fn upper_arm(&self) -> Option<&ArmPoints> {
        match &self.upper {
            UpperLink::Arm(arm) => Some(arm),
            UpperLink::Strut => None,
        }
    }
}

impl OwnPoints {
    /// Every part as measured.
    pub fn as_measured(h: &Hardpoints) -> OwnPoints {
        OwnPoints {
            knuckle: [h.lower_ball, h.kingpin_top()],
            tie_rod: [h.tie_rod_inner, h.tie_rod_outer],
            halfshaft: [h.inner_joint, h.outer_joint],
            damper: [h.damper_upper, h.damper_lower],
            measured_damper_axis: (h.damper_upper - h.damper_lower).normalize(),
            wheel_height_mm: h.wheel_centre.z,
        }
    }
}

/// Hardpoints that make no suspension. Points are named as in [`Hardpoints`].
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum HardpointError {
    /// Two points that must be apart are not.
    #[error("{a} and {b} are {distance_mm:.3} mm apart")]
    TooClose {
        /// One point.
        a: &'static str,
        /// The other.
        b: &'static str,
        /// Their distance.
        distance_mm: f64,
    },
    /// A ball joint lies on its arm's pivot line, or a rod end on the axis that it turns about.
    #[error("{point} lies on the line through {a} and {b}")]
    InLine {
        /// The point.
        point: &'static str,
        /// One end of the line.
        a: &'static str,
        /// Its other end.
        b: &'static str,
    },
    /// The linkage as measured has no freedom to move: it stands at a dead point.
    #[error("as measured the {0} stands at a dead point: it could go either way")]
    DeadPoint(&'static str),
    /// The lower arm points straight up or down, so travel doesn't turn it.
    #[error("turning the lower arm does not lift its ball joint")]
    ArmUpright,
    /// With the lower arm as measured, the parts can't be put together.
    #[error("at the measured position the {} cannot be put together", .0.name())]
    Apart(ReachLimit),
}

/// The part of the linkage that can't reach.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ReachLimit {
    /// The upper ball joint can't be both on its arm and on the knuckle.
    UpperArm,
    /// The top mount is nearer to the lower ball joint than the strut's axis ever comes.
    Strut,
    /// The tie rod is too short or too long for its end to stay on the knuckle.
    TieRod,
    /// The halfshaft is too short for its spider to stay on the flange's axis.
    Halfshaft,
    /// The wheel's height can't be changed any further by turning the arm.
    WheelHeight,
}

impl ReachLimit {
    /// As printed.
    pub fn name(self) -> &'static str {
        match self {
            ReachLimit::UpperArm => "upper arm and knuckle",
            ReachLimit::Strut => "strut and knuckle",
            ReachLimit::TieRod => "tie rod",
            ReachLimit::Halfshaft => "halfshaft",
            ReachLimit::WheelHeight => "wheel height",
        }
    }
}

/// The least distance, mm, between two hardpoints that a suspension can be made of. Below it,
/// directions between them are noise of the measurement.
pub(super) const LEAST_LENGTH_MM: f64 = 1.0;
