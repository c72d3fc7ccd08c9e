//! Joints as a person reads them: the angle as an arc with its limit, the cone with the stud in it, the
//! plunge range with the spider in it.

use super::document::Document;
use super::drive::suspension_is_shown;
use super::frame;
use super::labels::{Label, Labels};
use super::look::{Look, OverLines};
use super::motion::Motion;
use super::palette::{self, GapState};
use super::part_colours::ColouredParts;
use super::shown::Shown;
use super::suspension::PartChoice;
use crate::limits::{Cone, HalfshaftJoint, Limit, LimitKind, Pin, PlungeEnd, Reading, Rod};
use crate::output::{Units, degrees, degrees_against};
use crate::suspension::{Linkage, Motion as Carried};
use crate::truck::Corner;
use bevy::prelude::*;
use nalgebra::{Unit, UnitQuaternion, Vector3};

/// Draws the joints.
pub struct JointsPlugin;

impl Plugin for JointsPlugin {
    fn build(&self, app: &mut App) {
        app.add_systems(
            Update,
            draw.after(super::motion::MotionSet)
                .run_if(suspension_is_shown),
        );
    }
}

/// Length of an arc's arms, mm.
const ARM_MM: f64 = 95.0;
/// Length of a cone's side, mm.
const CONE_MM: f64 = 60.0;
/// Lines along a cone's side.
const CONE_LINES: usize = 12;
/// Steps of an arc.
const ARC_STEPS: usize = 24;
/// Share of a limit from which it is pointed out.
const NEAR: f64 = 0.9;

fn draw(
    document: Res<Document>,
    motion: Res<Motion>,
    look: Res<Look>,
    choice: Res<PartChoice>,
    coloured: Res<ColouredParts>,
    shown: Res<Shown>,
    mut gizmos: Gizmos<OverLines>,
    mut labels: ResMut<Labels>,
) {
    // A part shown alone, or in its map's colours, is looked at for itself.
    if !look.joints || !choice.isolated.is_empty() || !coloured.0.is_empty() {
        return;
    }
    let corner = document.corner();
    let linkage = &motion.position().linkage;
    let mut pen = Pen {
        gizmos: &mut gizmos,
        labels: &mut labels.0,
        units: shown.units,
    };
    let mut plunge: [Option<f64>; 2] = [None; 2];
    for limit in &corner.limits {
        let reading = limit.reading(linkage);
        match &limit.kind {
            LimitKind::JointAngle(joint) => {
                pen.joint(corner, linkage, limit, joint.joint, &reading)
            }
            LimitKind::Cone(cone) => pen.cone(linkage, limit, cone, &reading),
            LimitKind::Pin(pin) => pen.pin(linkage, limit, pin, &reading),
            LimitKind::PlungeEnd(PlungeEnd::Inner(end)) => plunge[0] = Some(*end),
            LimitKind::PlungeEnd(PlungeEnd::Outer(end)) => plunge[1] = Some(*end),
            LimitKind::Length(_)
            | LimitKind::PlungeAngle(_)
            | LimitKind::ArmAngle(_)
            | LimitKind::SteeringStop(_)
            | LimitKind::BootSide(_) => {}
        }
    }
    if let [Some(inner), Some(outer)] = plunge {
        pen.plunge(corner, linkage, [inner, outer]);
    }
}

struct Pen<'a, 'w, 's> {
    gizmos: &'a mut Gizmos<'w, 's, OverLines>,
    labels: &'a mut Vec<Label>,
    units: Units,
}

/// Colour of a limit's state.
fn rgb(reading: &Reading) -> [u8; 3] {
    if reading.margin <= 0.0 {
        GapState::Touching.rgb()
    } else if is_near(reading) {
        [230, 159, 0]
    } else {
        [0, 90, 150]
    }
}

/// An angle and what is allowed: readings, with more digits where an exceeded limit would read as just reached.
fn of_limit(reading: &Reading) -> String {
    let [is, most] = [reading.value, reading.limit].map(degrees);
    if reading.margin < 0.0 && is == most {
        let ([most], is) = degrees_against([reading.limit], reading.value);
        format!("{is} of {most}\u{b0}")
    } else {
        format!("{is} of {most}\u{b0}")
    }
}

fn is_near(reading: &Reading) -> bool {
    reading.value.abs() >= NEAR * reading.limit.abs()
}

impl Pen<'_, '_, '_> {
    fn line(&mut self, from: Vector3<f64>, to: Vector3<f64>, rgb: [u8; 3]) {
        self.gizmos
            .line(frame::world(&from), frame::world(&to), palette::color(rgb));
    }

    fn strip(&mut self, points: impl Iterator<Item = Vector3<f64>>, rgb: [u8; 3]) {
        self.gizmos
            .linestrip(points.map(|p| frame::world(&p)), palette::color(rgb));
    }

    fn label(&mut self, at: Vector3<f64>, text: String, reading: &Reading) {
        self.labels.push(Label {
            at: frame::world(&at),
            text,
            rgb: rgb(reading),
            weight: 3 + u8::from(is_near(reading)) * 3,
        });
    }

    /// The angle between `axis` and `rod`, both unit, at `at`; a tick at the limit.
    fn arc(
        &mut self,
        at: Vector3<f64>,
        axis: Vector3<f64>,
        rod: Vector3<f64>,
        limit_rad: f64,
        reading: &Reading,
    ) {
        let colour = rgb(reading);
        self.line(at, at + axis * ARM_MM, palette::INK);
        let about = Unit::try_new(axis.cross(&rod), 1.0e-9)
            .unwrap_or_else(|| Unit::new_normalize(crate::limits::square_to(&axis, &Vector3::x())));
        let turned = |angle: f64| UnitQuaternion::from_axis_angle(&about, angle) * axis;
        let angle = axis.dot(&rod).clamp(-1.0, 1.0).acos();
        let radius = 0.85 * ARM_MM;
        let steps = |to: f64| (0..=ARC_STEPS).map(move |i| to * i as f64 / ARC_STEPS as f64);
        self.strip(steps(angle).map(|a| at + turned(a) * radius), colour);
        self.strip(
            steps(limit_rad).map(|a| at + turned(a) * (0.92 * radius)),
            [130, 130, 130],
        );
        let limit = turned(limit_rad);
        self.line(
            at + limit * (0.75 * radius),
            at + limit * (1.15 * radius),
            palette::BIND,
        );
        self.line(at, at + rod * ARM_MM, colour);
    }

    fn joint(
        &mut self,
        corner: &Corner,
        linkage: &Linkage<f64>,
        limit: &Limit,
        joint: HalfshaftJoint,
        reading: &Reading,
    ) {
        let h = &corner.positioner.linkage.hardpoints;
        let (at, axis) = match joint {
            HalfshaftJoint::Inner => (linkage.inner_joint, h.flange_axis),
            HalfshaftJoint::Outer => (
                linkage.outer_joint,
                linkage.knuckle.direction(&h.outer_axis),
            ),
        };
        // Away from the joint, the shaft of the outer one lies inboard: both arms are drawn there.
        let (axis, rod) = match joint {
            HalfshaftJoint::Inner => (axis, linkage.shaft_direction),
            HalfshaftJoint::Outer => (-axis, -linkage.shaft_direction),
        };
        self.arc(at, axis, rod, reading.limit.to_radians(), reading);
        let text = format!("{} {}", limit.name(), of_limit(reading));
        self.label(at + (axis + rod).normalize() * ARM_MM, text, reading);
    }

    fn cone(&mut self, linkage: &Linkage<f64>, limit: &Limit, cone: &Cone, reading: &Reading) {
        let at = match (cone.housing, cone.stud) {
            (Carried::UpperArm, _) | (_, Carried::UpperArm) => linkage.kingpin_top,
            (Carried::Frame, Carried::Knuckle) => linkage.kingpin_top,
            (Carried::LowerArm, _) | (_, Carried::LowerArm) => linkage.lower_ball,
            _ => linkage.tie_rod_inner,
        };
        let housing = linkage.placement(cone.housing);
        let axis = housing.direction(&cone.axis);
        let along = housing.direction(&cone.along);
        let across = axis.cross(&along);
        let stud = linkage.placement(cone.stud).direction(&cone.stud_axis);
        let colour = rgb(reading);
        // The rim: tan of the half angle along and across, at one length of side.
        let rim = |turn: f64| {
            let (s, c) = turn.sin_cos();
            let out =
                along * (c * cone.half_angles[0].tan()) + across * (s * cone.half_angles[1].tan());
            at + (axis + out).normalize() * CONE_MM
        };
        let full = std::f64::consts::TAU;
        self.strip(
            (0..=48).map(|i| rim(full * f64::from(i) / 48.0)),
            [110, 110, 110],
        );
        for i in 0..CONE_LINES {
            let side = rim(full * i as f64 / CONE_LINES as f64);
            self.gizmos.line(
                frame::world(&at),
                frame::world(&side),
                palette::color([110, 110, 110]).with_alpha(0.35),
            );
        }
        self.line(at, at + stud * (1.25 * CONE_MM), colour);
        let text = format!("{} {}", limit.name(), of_limit(reading));
        self.label(at + stud * (1.25 * CONE_MM), text, reading);
    }

    fn pin(&mut self, linkage: &Linkage<f64>, limit: &Limit, pin: &Pin, reading: &Reading) {
        let (at, rod) = match (pin.rod, pin.carrier) {
            (Rod::TieRod, _) => (linkage.tie_rod_outer, -linkage.tie_rod_direction),
            (Rod::Damper, Carried::Frame) => {
                (linkage.damper_upper.anchor, linkage.damper_direction)
            }
            (Rod::Damper, _) => (linkage.damper_lower.anchor, -linkage.damper_direction),
        };
        let axis = linkage.placement(pin.carrier).direction(&pin.pin_axis);
        self.line(
            at - axis * (0.25 * ARM_MM),
            at + axis * (0.25 * ARM_MM),
            [110, 110, 110],
        );
        // Far from its limit a pin is one line; near it, it is read out.
        if is_near(reading) {
            self.line(at, at + rod * (0.5 * ARM_MM), rgb(reading));
            let text = format!("{} {}", limit.name(), of_limit(reading));
            self.label(at, text, reading);
        }
    }

    fn plunge(&mut self, corner: &Corner, linkage: &Linkage<f64>, ends: [f64; 2]) {
        let h = &corner.positioner.linkage.hardpoints;
        let axis = h.flange_axis;
        // Beside the joint, so that it isn't lost in the housing: below it.
        let below = -Vector3::z() * (0.75 * ARM_MM);
        let place = |plunge: f64| h.inner_joint + axis * plunge + below;
        let [inner, outer] = ends;
        let now = linkage.plunge_mm;
        let margin = (now - inner).min(outer - now);
        let half = 0.5 * (outer - inner);
        let reading = Reading {
            value: half - margin,
            limit: half,
            margin,
            unit: crate::limits::Unit::Millimetre,
        };
        let colour = rgb(&reading);
        let tick = Vector3::z() * 9.0;
        self.line(place(inner), place(outer), [110, 110, 110]);
        for end in ends {
            self.line(place(end) - tick, place(end) + tick, palette::BIND);
        }
        self.line(place(now) - tick, place(now) + tick, colour);
        self.line(place(now), linkage.inner_joint, [150, 150, 150]);
        let spider = frame::world(&linkage.inner_joint);
        self.gizmos
            .sphere(spider, 0.007, palette::color(colour))
            .resolution(12);
        let text = format!(
            "plunge {} ({} to {}) {}",
            self.units.signed(now),
            self.units.signed(inner),
            self.units.signed(outer),
            self.units.name()
        );
        self.label(place(now), text, &reading);
    }
}
