//! Parts drawn for one side of the truck and mirrored, on the other side's own points.
//!
//! `other_side` may give a component points of its own: a shorter halfshaft has its inner joint further out. A part
//! that was drawn for the described side belongs to a body, and goes rigidly where that body's points are on its own
//! side. Where no rigid motion brings the points together (another arm), the part has to be drawn: a warning says so.

use super::assemble::{CornerSource, Fitting, drawn_points};
use super::parts::mirrored_ends;
use crate::scene::{Fitted, NamedPoint, Problem, Scene};
use crate::suspension::{ArmPoints, Body, Hardpoints, MountFit, OwnPoints, Side, UpperLink};
use nalgebra::{Isometry3, Rotation3, Translation3, UnitQuaternion, Vector3};

type Result<T> = std::result::Result<T, Problem>;

/// Bodies whose points differ by no more than this have the same shape, mm: what a bolt has play in its hole.
const SAME_SHAPE_MM: f64 = 0.1;

/// A corner's points where the parts on each body are drawn: the differential not yet lowered.
pub(super) struct SidePoints {
    points: Hardpoints,
    own: OwnPoints,
    /// How far drop brackets have lowered the pivots on the frame.
    lowered: Lowered,
}

/// How far what hangs from the frame was lowered.
#[derive(Clone, Copy)]
struct Lowered {
    lower_arm: Vector3<f64>,
    upper_arm: Vector3<f64>,
    rack: Vector3<f64>,
    damper_upper: Vector3<f64>,
}

impl SidePoints {
    /// Of a corner.
    pub fn of(fitting: &Fitting) -> Result<SidePoints> {
        let (points, own) = drawn_points(fitting)?;
        let lowered = |body| fitting.source.lowered(body);
        Ok(SidePoints {
            points,
            own,
            lowered: Lowered {
                lower_arm: lowered(Body::LowerArm)?,
                upper_arm: lowered(Body::UpperArm)?,
                rack: lowered(Body::Rack)?,
                damper_upper: lowered(Body::DamperUpper)?,
            },
        })
    }

    /// Of the described corner of the same truck.
    pub fn described(scene: &Scene, fitting: &Fitting) -> Result<SidePoints> {
        SidePoints::of_side(scene, fitting, scene.side)
    }

    /// Of one corner of the same truck.
    pub fn of_side(scene: &Scene, fitting: &Fitting, side: Side) -> Result<SidePoints> {
        let measured = fitting.measured.as_ref();
        SidePoints::of(&Fitting {
            source: CornerSource::of(scene, side),
            measured: measured.map(|(m, _)| (*m, CornerSource::of(m, side))),
            housing: fitting.housing,
            across: fitting.across,
        })
    }

    /// The same on the other side of the truck: y to -y.
    pub fn mirrored(&self) -> SidePoints {
        let flip = |v: Vector3<f64>| Vector3::new(v.x, -v.y, v.z);
        let p = &self.points;
        let own = &self.own;
        SidePoints {
            lowered: self.lowered,
            points: Hardpoints {
                lower_front: flip(p.lower_front),
                lower_rear: flip(p.lower_rear),
                lower_ball: flip(p.lower_ball),
                upper: match p.upper {
                    UpperLink::Arm(arm) => UpperLink::Arm(arm.map(flip)),
                    UpperLink::Strut => UpperLink::Strut,
                },
                tie_rod_inner: flip(p.tie_rod_inner),
                tie_rod_outer: flip(p.tie_rod_outer),
                wheel_centre: flip(p.wheel_centre),
                spindle_axis: flip(p.spindle_axis),
                damper_upper: flip(p.damper_upper),
                damper_lower: flip(p.damper_lower),
                damper_foot: p.damper_foot,
                outer_joint: flip(p.outer_joint),
                outer_axis: flip(p.outer_axis),
                inner_joint: flip(p.inner_joint),
                flange_axis: flip(p.flange_axis),
            },
            own: OwnPoints {
                knuckle: own.knuckle.map(flip),
                tie_rod: own.tie_rod.map(flip),
                halfshaft: own.halfshaft.map(flip),
                damper: own.damper.map(flip),
                measured_damper_axis: flip(own.measured_damper_axis),
                wheel_height_mm: own.wheel_height_mm,
            },
        }
    }

    /// The axis that a body turns about with shaft or wheel: its centre and its direction, outboard.
    pub fn axis(&self, body: Body) -> Option<(Vector3<f64>, Vector3<f64>)> {
        let p = &self.points;
        match body {
            Body::Wheel => Some((p.wheel_centre, p.spindle_axis)),
            Body::OuterJointHousing => Some((p.outer_joint, p.outer_axis)),
            Body::InnerJointHousing => Some((p.inner_joint, p.flange_axis)),
            Body::Halfshaft => {
                let [inner, outer] = self.own.halfshaft;
                Some((inner, outer - inner))
            }
            Body::Frame
            | Body::Differential
            | Body::Rack
            | Body::LowerArm
            | Body::UpperArm
            | Body::Knuckle
            | Body::TieRod
            | Body::DamperUpper
            | Body::DamperLower
            | Body::FrontDriveshaft
            | Body::Link(_) => None,
        }
    }

    /// A rod's own two ends, inner or upper one first.
    pub fn ends(&self, body: Body) -> Option<[Vector3<f64>; 2]> {
        match body {
            Body::TieRod => Some(self.own.tie_rod),
            Body::Halfshaft => Some(self.own.halfshaft),
            Body::DamperUpper | Body::DamperLower => Some(self.own.damper),
            Body::Frame
            | Body::Differential
            | Body::Rack
            | Body::LowerArm
            | Body::UpperArm
            | Body::Knuckle
            | Body::InnerJointHousing
            | Body::OuterJointHousing
            | Body::Wheel
            | Body::FrontDriveshaft
            | Body::Link(_) => None,
        }
    }

    /// A point by its name, where a body's own drawing has it: with another arm the knuckle keeps its own ball joints, and
    /// a rod its own ends. What drop brackets lower on the frame is lowered in the frame's drawing; other bodies go down as
    /// a whole.
    pub fn place(&self, name: NamedPoint, body: Body) -> Vector3<f64> {
        let on_frame = match name {
            _ if body != Body::Frame => Vector3::zeros(),
            NamedPoint::LowerArmFrontPivot | NamedPoint::LowerArmRearPivot => {
                self.lowered.lower_arm
            }
            NamedPoint::UpperArmFrontPivot | NamedPoint::UpperArmRearPivot => {
                self.lowered.upper_arm
            }
            NamedPoint::TieRodInner => self.lowered.rack,
            NamedPoint::DamperUpperMount => self.lowered.damper_upper,
            _ => Vector3::zeros(),
        };
        self.drawn_place(name, body) + on_frame
    }

    fn drawn_place(&self, name: NamedPoint, body: Body) -> Vector3<f64> {
        let (p, own) = (&self.points, &self.own);
        let in_knuckle = matches!(body, Body::Knuckle | Body::Wheel | Body::OuterJointHousing);
        // A strut's tube is one body with the knuckle.
        let is_strut = p.upper == UpperLink::Strut;
        let in_damper =
            matches!(body, Body::DamperUpper | Body::DamperLower) || is_strut && in_knuckle;
        match name {
            NamedPoint::LowerArmFrontPivot => p.lower_front,
            NamedPoint::LowerArmRearPivot => p.lower_rear,
            NamedPoint::LowerArmBallJoint if in_knuckle => own.knuckle[0],
            NamedPoint::LowerArmBallJoint => p.lower_ball,
            NamedPoint::UpperArmBallJoint if in_knuckle => own.knuckle[1],
            NamedPoint::UpperArmFrontPivot
            | NamedPoint::UpperArmRearPivot
            | NamedPoint::UpperArmBallJoint => match (p.upper_arm(), name) {
                (Some(arm), NamedPoint::UpperArmFrontPivot) => arm.front,
                (Some(arm), NamedPoint::UpperArmRearPivot) => arm.rear,
                // A strut's scene names no upper arm's point: it is refused.
                _ => p.kingpin_top(),
            },
            NamedPoint::WheelCentre => p.wheel_centre,
            NamedPoint::TieRodOuter if body == Body::TieRod => own.tie_rod[1],
            NamedPoint::TieRodOuter => p.tie_rod_outer,
            NamedPoint::TieRodInner if body == Body::TieRod => own.tie_rod[0],
            NamedPoint::TieRodInner => p.tie_rod_inner,
            NamedPoint::DamperUpperMount if in_damper => own.damper[0],
            NamedPoint::DamperUpperMount => p.damper_upper,
            NamedPoint::DamperLowerMount if in_damper => own.damper[1],
            NamedPoint::DamperLowerMount => p.damper_lower,
            NamedPoint::OuterJoint if body == Body::Halfshaft => own.halfshaft[1],
            NamedPoint::OuterJoint => p.outer_joint,
            NamedPoint::InnerJoint if body == Body::Halfshaft => own.halfshaft[0],
            NamedPoint::InnerJoint => p.inner_joint,
        }
    }

    /// The unit direction from the damper's upper eye to its lower one.
    pub fn along_damper(&self) -> Vector3<f64> {
        let [upper, lower] = self.own.damper;
        (lower - upper).normalize()
    }

    fn held_by(&self, body: Body) -> HeldBy {
        let (p, own) = (&self.points, &self.own);
        let rod = |[from, to]: [Vector3<f64>; 2]| HeldBy::Ends([from, to]);
        match body {
            // A link's ends are held by their own bodies.
            Body::Frame | Body::Differential | Body::FrontDriveshaft | Body::Link(_) => {
                HeldBy::Frame
            }
            Body::Rack => HeldBy::Point(p.tie_rod_inner),
            Body::LowerArm => HeldBy::Points(vec![p.lower_front, p.lower_rear, p.lower_ball]),
            Body::UpperArm => match p.upper_arm() {
                Some(ArmPoints { front, rear, ball }) => HeldBy::Points(vec![*front, *rear, *ball]),
                None => HeldBy::Frame,
            },
            Body::Knuckle => {
                let [ball, top] = own.knuckle;
                let mut points = vec![ball, top, p.tie_rod_outer];
                // A strut's axis is the knuckle's too.
                if p.upper == UpperLink::Strut {
                    points.push(own.damper[1]);
                }
                HeldBy::Points(points)
            }
            Body::TieRod => rod(own.tie_rod),
            Body::Halfshaft => rod(own.halfshaft),
            Body::DamperUpper => {
                let [upper, lower] = own.damper;
                HeldBy::Axis(upper, lower - upper)
            }
            Body::DamperLower => {
                let [upper, lower] = own.damper;
                HeldBy::Axis(lower, lower - upper)
            }
            Body::InnerJointHousing => HeldBy::Axis(p.inner_joint, p.flange_axis),
            Body::OuterJointHousing => HeldBy::Axis(p.outer_joint, p.outer_axis),
            Body::Wheel => HeldBy::Axis(p.wheel_centre, p.spindle_axis),
        }
    }
}

/// What says where a body is.
enum HeldBy {
    /// It belongs to no side.
    Frame,
    /// One point; it doesn't turn.
    Point(Vector3<f64>),
    /// A point and a direction.
    Axis(Vector3<f64>, Vector3<f64>),
    /// A rod's inner and outer end.
    Ends([Vector3<f64>; 2]),
    /// Three points or more.
    Points(Vec<Vector3<f64>>),
}

/// Where the points of one side's body put a part that was drawn for the other's.
pub(super) struct Followed {
    /// The motion, vehicle coordinates; the nearest one where none fits.
    pub motion: Isometry3<f64>,
    /// How far the points stay apart, mm.
    pub apart_mm: f64,
}

/// The motion of a body's parts from where `drawn`, already mirrored, has its points to where `own` does.
pub(super) fn follow(drawn: &SidePoints, own: &SidePoints, body: Body) -> Followed {
    let exactly = |motion| Followed {
        motion,
        apart_mm: 0.0,
    };
    match (drawn.held_by(body), own.held_by(body)) {
        (HeldBy::Point(from), HeldBy::Point(to)) => exactly(Isometry3::from_parts(
            Translation3::from(to - from),
            UnitQuaternion::identity(),
        )),
        (HeldBy::Axis(from, from_axis), HeldBy::Axis(to, to_axis)) => {
            exactly(onto_axis((from, from_axis), (to, to_axis)))
        }
        // A rod hangs on its outer end, as its placement does.
        (HeldBy::Ends(from), HeldBy::Ends(to)) => Followed {
            motion: onto_axis((from[1], from[1] - from[0]), (to[1], to[1] - to[0])),
            apart_mm: ((from[1] - from[0]).norm() - (to[1] - to[0]).norm()).abs(),
        },
        (HeldBy::Points(from), HeldBy::Points(to)) if from == to => exactly(Isometry3::identity()),
        (HeldBy::Points(from), HeldBy::Points(to)) => match MountFit::onto(&from, &to) {
            Some(fit) => Followed {
                motion: fit.motion,
                apart_mm: fit.misses_mm.into_iter().fold(0.0, f64::max),
            },
            // Three points on one line make no arm and no knuckle: the linkage is refused for it.
            None => Followed {
                motion: Isometry3::identity(),
                apart_mm: f64::INFINITY,
            },
        },
        // A body is held by the same kind of points on both sides.
        _ => exactly(Isometry3::identity()),
    }
}

/// Takes a point and a direction to another without twist.
pub(super) fn onto_axis(
    (from, from_axis): (Vector3<f64>, Vector3<f64>),
    (to, to_axis): (Vector3<f64>, Vector3<f64>),
) -> Isometry3<f64> {
    let turn = if from_axis == to_axis {
        Rotation3::identity()
    } else {
        Rotation3::rotation_between(&from_axis, &to_axis).unwrap_or_else(Rotation3::identity)
    };
    Isometry3::from_parts(
        Translation3::from(to - turn * from),
        UnitQuaternion::from_rotation_matrix(&turn),
    )
}

/// Parts of a mirrored corner that were drawn for a body of another shape, a sentence each.
pub(super) fn warnings(scene: &Scene, fitting: &Fitting) -> Result<Vec<String>> {
    let side = fitting.source.side;
    if side == scene.side {
        return Ok(Vec::new());
    }
    let described = SidePoints::described(scene, fitting)?.mirrored();
    let own = SidePoints::of(fitting)?;
    let redrawn = |name: &str| scene.other_side.parts.iter().any(|p| p.name == name);
    let mut out = Vec::new();
    for part in &scene.parts {
        // Drawn from this side's own points, a part needs no other drawing.
        if part.fitted != Fitted::EachSide || redrawn(&part.name) || part.shape.is_without_points()
        {
            continue;
        }
        for body in part.drawn_on() {
            let apart_mm = follow(&described, &own, body).apart_mm;
            if apart_mm > SAME_SHAPE_MM {
                out.push(format!(
                    "{}: `{}` is drawn for the {} side's {}, whose points lie {apart_mm:.1} mm otherwise here: it stands \
                     in the nearest place; draw this side's own in `other_side.parts`",
                    side.name(),
                    part.name,
                    scene.side.name(),
                    body.name(),
                ));
            }
        }
    }
    for (of, end) in mirrored_ends(scene) {
        let apart_mm = follow(&described, &own, end.on).apart_mm;
        if apart_mm > SAME_SHAPE_MM {
            out.push(format!(
                "{}: the end of {of} is given for the {} side's {}, whose points lie {apart_mm:.1} mm otherwise here: it \
                 stands in the nearest place; give this side's own in `other_side`",
                side.name(),
                scene.side.name(),
                end.on.name(),
            ));
        }
    }
    Ok(out)
}
