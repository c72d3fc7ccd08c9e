//! The limits of one corner, from its scene entries.

use super::assemble::{CornerSource, Fitting, Reader, Source, angle};
use super::corner::RollHeld;
use super::housing::Housing;
use super::own_side::{SidePoints, follow};
use super::springs::CoilBind;
use crate::kinematics::Positioner;
use crate::limits::{
    ArmAngle, Bound, Cone, HalfshaftJoint, JointAngle, Length, Limit, LimitId, LimitKind, Pin,
    PlungeEnd, PlungePolygon, PolygonError, Rod, Span, SteeringStop, WhichArm, square_to,
};
use crate::scene::{
    Arm, BumpStop, BumpStopOn, ConeEntry, DamperEyes, End, Foot, Halfshaft, HousingOn, LeftRight,
    PinEntry, Problem, Scene, SpacerEffect, TopMountEntry,
};
use crate::suspension::{ArmPoints, Body, DamperFoot, Hardpoints, Mechanism, Motion, OwnPoints};
use nalgebra::{Rotation3, Unit, Vector3};

type Result<T> = std::result::Result<T, Problem>;

struct Builder<'a> {
    source: &'a CornerSource<'a>,
    /// The same before a setup's changes.
    measured: Option<&'a CornerSource<'a>>,
    housing: &'a Housing,
    h: &'a Hardpoints,
    own: &'a OwnPoints,
    out: Vec<Limit>,
    bump_contact: Option<Limit>,
    damper_spacers_mm: f64,
    /// What a setup's spacers have added to that.
    spaced_mm: f64,
    /// Where the mirrored drawing of the described side has this side's points.
    described: SidePoints,
    /// And where this side has them.
    points: SidePoints,
    /// Rods that can't roll.
    held: Vec<RollHeld>,
}

/// An end this near to the line that its body rolls about stays where it is, mm: a tape reads no finer.
const ON_AXIS_MM: f64 = 1.0;

/// The limits of a corner, and what belongs to its damper.
pub(super) struct CornerLimits {
    /// Every limit.
    pub limits: Vec<Limit>,
    /// Kept while the bump stop isn't touched.
    pub bump_contact: Option<Limit>,
    /// Whether the bump stop sits on the damper's rod.
    pub bump_stop_on_rod: bool,
    /// What spacers add to the damper's length, mm.
    pub damper_spacers_mm: f64,
}

/// Builds every limit.
pub(super) fn all(
    scene: &Scene,
    fitting: &Fitting,
    linkage: &Mechanism,
    held: Vec<RollHeld>,
    coil_binds: &[CoilBind],
    boots: &[(Limit, String)],
) -> Result<CornerLimits> {
    let mut builder = Builder {
        source: &fitting.source,
        measured: fitting.measured.as_ref().map(|(_, source)| source),
        housing: fitting.housing,
        h: &linkage.hardpoints,
        own: &linkage.own,
        out: Vec::new(),
        bump_contact: None,
        damper_spacers_mm: 0.0,
        spaced_mm: super::parts::spaced_mm(fitting),
        described: SidePoints::described(scene, fitting)?.mirrored(),
        points: SidePoints::of(fitting)?,
        held,
    };
    builder.damper()?;
    builder.arms()?;
    builder.halfshaft()?;
    builder.ball_joints()?;
    builder.hoses()?;
    builder.steering_stop()?;
    for bind in coil_binds {
        let kind = LimitKind::Length(Length {
            span: Span::Damper,
            bound: Bound::AtLeast(bind.damper_mm),
        });
        builder.add(LimitId::CoilBind(bind.spring.clone()), false, kind);
    }
    builder
        .out
        .extend(boots.iter().map(|(limit, _)| limit.clone()));
    Ok(CornerLimits {
        limits: builder.out,
        bump_contact: builder.bump_contact,
        bump_stop_on_rod: (builder.source.damper.entry.bump_stop)
            .is_some_and(|stop| stop.on == Some(BumpStopOn::Rod)),
        damper_spacers_mm: builder.damper_spacers_mm,
    })
}

/// Builds every limit and checks that each is kept at the measured position.
pub(super) fn limits(
    scene: &Scene,
    fitting: &Fitting,
    positioner: &Positioner,
    held: Vec<RollHeld>,
    coil_binds: &[CoilBind],
    boots: &[(Limit, String)],
) -> Result<CornerLimits> {
    let source = &fitting.source;
    let built = all(scene, fitting, &positioner.linkage, held, coil_binds, boots)?;
    let measured = positioner.place(0.0, 0.0);
    for limit in &built.limits {
        let reading = limit.reading(&measured.linkage);
        if reading.margin < 0.0 {
            let bind = coil_binds
                .iter()
                .find(|bind| limit.id == LimitId::CoilBind(bind.spring.clone()))
                .map(|bind| &bind.path);
            let boot = boots
                .iter()
                .find(|(boot, _)| boot.id == limit.id)
                .map(|(_, path)| path);
            let path = bind
                .or(boot)
                .map_or_else(|| path_of(&limit.id, source), String::clone);
            // As likely as an end is off, its length is short.
            let is_held_at_both_ends = super::assemble::is_length_of_ends(&path);
            return Err(Problem::at(
                path,
                format!(
                    "{} is already past its limit as measured: {:.2} {unit}, limit {:.2} {unit}",
                    limit.name(),
                    reading.value,
                    reading.limit,
                    unit = reading.unit.name()
                ),
                match fitting.measured {
                    None if is_held_at_both_ends => {
                        "is its length too short? If not, one of its ends is wrong"
                    }
                    None => {
                        "one of the points or this limit is wrong, or the limit is the wrong way round"
                    }
                    Some(_) => "with this change the truck can't stand as it was measured",
                },
            ));
        }
    }
    Ok(built)
}

/// Ends of the plunge as the scene gives them, mm.
pub(super) fn plunge_ends(shaft: &Source<Halfshaft>) -> Result<[f64; 2]> {
    let (plunge, r, path) = (shaft.entry.plunge, shaft.reader, &shaft.path);
    let inner = r.length(plunge.inner, &format!("{path}.plunge.inner"))?;
    let outer = r.length(plunge.outer, &format!("{path}.plunge.outer"))?;
    if inner >= outer {
        return Err(Problem::at(
            format!("{path}.plunge"),
            format!(
                "inner end {} is not below outer end {}",
                plunge.inner, plunge.outer
            ),
            "plunge is positive outboard: inner is the furthest inboard, a negative number",
        ));
    }
    Ok([inner, outer])
}

/// The plunge polygon, where the scene gives one.
pub(super) fn plunge_polygon(shaft: &Source<Halfshaft>) -> Result<Option<PlungePolygon>> {
    let path = format!("{}.plunge_polygon", shaft.path);
    if shaft.entry.plunge_polygon.is_empty() {
        return Ok(None);
    }
    let mut corners = Vec::new();
    for (plunge, deg) in &shaft.entry.plunge_polygon {
        let angle = if *deg == 0.0 {
            0.0
        } else {
            angle(*deg, 0.0, 80.0, &path)?
        };
        corners.push((shaft.reader.length(*plunge, &path)?, angle));
    }
    let polygon = PlungePolygon::from_corners(&corners).map_err(|error| {
        let help = match error {
            PolygonError::NoRoom | PolygonError::NotConvex => {
                "list (plunge, angle) corners in order around the field, as joint makers print it"
            }
            PolygonError::Bent { .. } => {
                "list the corners at angle zero too: a plunging joint may be straight wherever it may be bent"
            }
        };
        Problem::at(&path, error.to_string(), help)
    })?;
    Ok(Some(polygon))
}

/// Ends of the plunge and of its polygon nearer to each other than this are the same, mm: they were written down
/// once each.
const SAME_END_MM: f64 = 1.0e-6;

/// What a person should know where the plunge's ends and its polygon disagree.
pub(super) fn plunge_warnings(source: &CornerSource) -> Result<Vec<String>> {
    let shaft = &source.halfshaft;
    let Some(polygon) = plunge_polygon(shaft)? else {
        return Ok(Vec::new());
    };
    let given = plunge_ends(shaft)?;
    let mut out = Vec::new();
    // Outward is down for the inner end.
    for (i, (way, sign)) in [("inboard", -1.0), ("outboard", 1.0)]
        .into_iter()
        .enumerate()
    {
        let (end, of_polygon) = (given[i], polygon.ends_mm()[i]);
        let further = sign * (of_polygon - end);
        if further.abs() <= SAME_END_MM {
            continue;
        }
        let path = &shaft.path;
        out.push(if further < 0.0 {
            format!(
                "{path}: {way} the plunge polygon ends at {of_polygon:.2} mm, short of the plunge's own end at \
                 {end:.2} mm, so the polygon ends the plunge there"
            )
        } else {
            format!(
                "{path}: {way} the plunge ends at {end:.2} mm, short of its polygon, which goes on to \
                 {of_polygon:.2} mm, so the plunge's own end ends it there"
            )
        });
    }
    Ok(out)
}

/// The scene field that ends the plunge, by the limit.
fn plunge_path(id: &LimitId, source: &CornerSource) -> String {
    let shaft = &source.halfshaft;
    let own = shaft.entry.plunge;
    let narrower = shaft.entry.plunge_polygon.iter().map(|c| c.0);
    let is_polygons = !shaft.entry.plunge_polygon.is_empty()
        && match id {
            LimitId::PlungeIn => narrower.fold(f64::INFINITY, f64::min) > own.inner,
            _ => narrower.fold(f64::NEG_INFINITY, f64::max) < own.outer,
        };
    let field = if is_polygons {
        "plunge_polygon"
    } else {
        "plunge"
    };
    format!("{}.{field}", shaft.path)
}

/// The scene field that a limit comes from.
fn path_of(id: &LimitId, source: &CornerSource) -> String {
    let (damper, shaft) = (&source.damper.path, &source.halfshaft.path);
    match id {
        LimitId::DamperExtended => format!("{damper}.extended"),
        LimitId::DamperCompressed => format!("{damper}.compressed"),
        LimitId::BumpStopTouched | LimitId::BumpStopCrushed => format!("{damper}.bump_stop"),
        LimitId::LimitStrap => format!("{damper}.strap"),
        LimitId::InnerJointAngle => format!("{shaft}.inner_limit_deg"),
        LimitId::OuterJointAngle => format!("{shaft}.outer_limit_deg"),
        LimitId::PlungeField => format!("{shaft}.plunge_polygon"),
        LimitId::PlungeIn | LimitId::PlungeOut => plunge_path(id, source),
        LimitId::UpperBallJoint => format!("{}.upper", source.ball_joints.path),
        LimitId::TopMount => format!("{}.top_mount", source.ball_joints.path),
        LimitId::LowerBallJoint => format!("{}.lower", source.ball_joints.path),
        LimitId::TieRodOuterEnd => format!("{}.tie_rod_outer", source.ball_joints.path),
        LimitId::TieRodInnerEnd => format!("{}.tie_rod_inner", source.ball_joints.path),
        LimitId::DamperUpperEye => format!("{}.damper_upper", source.ball_joints.path),
        LimitId::DamperLowerEye => format!("{}.damper_lower", source.ball_joints.path),
        LimitId::LowerArmDroopStop => source.lower_arm.path.clone(),
        LimitId::UpperArmDroopStop => "upper_arm".to_owned(),
        LimitId::SteeringStopLeft | LimitId::SteeringStopRight => source.knuckle.path.clone(),
        LimitId::FrontDriveshaftCaseJoint | LimitId::FrontDriveshaftPinionJoint => {
            "front_driveshaft.joint_limit_deg".to_owned()
        }
        LimitId::FrontDriveshaftFluctuation => "front_driveshaft.fluctuation_limit".to_owned(),
        LimitId::Hose(_) => source.hoses.path.clone(),
        LimitId::CoilBind(_) | LimitId::BootStretched(_) | LimitId::BootFolded(_) => {
            "parts".to_owned()
        }
    }
}

/// An arm's pivot axis, turned so that a positive turn lifts the ball joint.
fn lifting_axis(front: &Vector3<f64>, rear: &Vector3<f64>, ball: &Vector3<f64>) -> Vector3<f64> {
    let axis = (rear - front).normalize();
    axis * axis.cross(&(ball - front)).z.signum()
}

impl Builder<'_> {
    fn add(&mut self, id: LimitId, intended: bool, kind: LimitKind) {
        self.out.push(Limit { id, intended, kind });
    }

    /// The line through both ball joints in the knuckle's drawing.
    fn kingpin(&self) -> Vector3<f64> {
        (self.own.knuckle[1] - self.own.knuckle[0]).normalize()
    }

    fn damper_length(&mut self, id: LimitId, bound: Bound) {
        self.add(
            id,
            true,
            LimitKind::Length(Length {
                span: Span::Damper,
                bound,
            }),
        );
    }

    fn damper(&mut self) -> Result<()> {
        let source = self.source;
        let (d, r, path) = (
            source.damper.entry,
            source.damper.reader,
            &source.damper.path,
        );
        let mut added = 0.0;
        for (i, spacer) in d.spacers.iter().enumerate() {
            let thickness =
                r.positive(spacer.thickness, &format!("{path}.spacers[{i}].thickness"))?;
            if spacer.adds == SpacerEffect::TotalLength {
                added += thickness;
            }
        }
        self.damper_spacers_mm = added;
        let extended = r.positive(d.extended, &format!("{path}.extended"))? + added;
        let compressed = r.positive(d.compressed, &format!("{path}.compressed"))? + added;
        if extended <= compressed {
            return Err(Problem::at(
                format!("{path}.extended"),
                format!(
                    "extended length {} is not above compressed length {}",
                    d.extended, d.compressed
                ),
                "extended is the damper pulled out, compressed pushed in: swap them?",
            ));
        }
        self.damper_length(LimitId::DamperExtended, Bound::AtMost(extended));
        self.damper_length(LimitId::DamperCompressed, Bound::AtLeast(compressed));
        if let Some(stop) = &d.bump_stop {
            self.bump_stop(stop, added)?;
        }
        if let Some(strap) = &d.strap {
            let ends = self.ends(&strap.ends, r, &format!("{path}.strap.ends"))?;
            let length = r.positive(strap.length, &format!("{path}.strap.length"))?;
            let kind = LimitKind::Length(Length {
                span: ends,
                bound: Bound::AtMost(length),
            });
            self.add(LimitId::LimitStrap, true, kind);
        }
        Ok(())
    }

    /// A bump stop; `spacers_mm` is what spacers add to the damper's length.
    fn bump_stop(&mut self, stop: &BumpStop, spacers_mm: f64) -> Result<()> {
        let source = self.source;
        let (r, path) = (
            source.damper.reader,
            format!("{}.bump_stop", source.damper.path),
        );
        let contact = r.positive(stop.contact, &format!("{path}.contact"))?;
        let crushed = r.positive(stop.crushed, &format!("{path}.crushed"))?;
        if contact <= crushed {
            return Err(Problem::at(
                path,
                format!(
                    "contact at {} is not above full crush at {}",
                    stop.contact, stop.crushed
                ),
                match stop.ends {
                    None => {
                        "both are mount-to-mount lengths: the stop is touched first, at the longer one"
                    }
                    Some(_) => {
                        "both are distances between its ends: the stop is touched first, at the longer one"
                    }
                },
            ));
        }
        let (span, moved_mm) = match (&stop.ends, stop.on) {
            (Some(_), Some(_)) => {
                return Err(Problem::at(
                    format!("{path}.on"),
                    "both `on` and `ends`",
                    "a stop with two ends of its own has nothing to do with the damper: leave out `on`, or the ends",
                ));
            }
            (Some(ends), None) => (self.pad(ends, r, &format!("{path}.ends"))?, 0.0),
            (None, Some(BumpStopOn::Rod)) => (Span::Damper, spacers_mm),
            (None, Some(BumpStopOn::Frame) | None) => (self.on_frame(stop, &path)?, 0.0),
        };
        let kept_to = |mm: f64| {
            LimitKind::Length(Length {
                span: span.clone(),
                bound: Bound::AtLeast(mm + moved_mm),
            })
        };
        self.bump_contact = Some(Limit {
            id: LimitId::BumpStopTouched,
            intended: true,
            kind: kept_to(contact),
        });
        self.add(LimitId::BumpStopCrushed, true, kept_to(crushed));
        Ok(())
    }

    /// Where a bump stop on the frame is measured: between the damper's eyes that were there when it came, where these stood
    /// then, on the bodies that carried them. Eyes that a setup moves later, or that brackets lower, don't take it along.
    fn on_frame(&self, stop: &BumpStop, path: &str) -> Result<Span> {
        let own = &self.source.damper;
        let now = DamperEyes::of(own.entry, &self.source.brackets);
        let as_measured = || {
            let was = self.measured?;
            Some(DamperEyes::of(was.damper.entry, &was.brackets))
        };
        let eyes = stop.measured_between.or_else(as_measured).unwrap_or(now);
        if eyes == now {
            return Ok(Span::Damper);
        }
        let (motion, body) = match eyes.lower_on {
            Foot::LowerArm => (Motion::LowerArm, Body::LowerArm),
            Foot::UpperArm => (Motion::UpperArm, Body::UpperArm),
            Foot::Knuckle | Foot::Strut => (Motion::Knuckle, Body::Knuckle),
        };
        let r = own.reader;
        let lowered = Vector3::new(0.0, 0.0, -r.length(eyes.lowered, path)?);
        // As the damper's own eyes are, each where its own side has it.
        let upper = r.point(&eyes.upper, path)? + lowered;
        let lower = r.point(&eyes.lower, path)? + self.source.lowered(body)?;
        Ok(Span::Between((Motion::Frame, upper), (motion, lower)))
    }

    /// The two ends of a bump stop away from the damper.
    fn pad(&self, ends: &(End, End), reader: Reader, path: &str) -> Result<Span> {
        for (i, end) in [ends.0, ends.1].iter().enumerate() {
            match end.on {
                Body::Frame | Body::LowerArm | Body::UpperArm => {}
                Body::Differential
                | Body::Rack
                | Body::Knuckle
                | Body::TieRod
                | Body::DamperUpper
                | Body::DamperLower
                | Body::Halfshaft
                | Body::InnerJointHousing
                | Body::OuterJointHousing
                | Body::Wheel
                | Body::FrontDriveshaft
                | Body::Link(_) => {
                    return Err(Problem::at(
                        format!("{path}[{i}].on"),
                        format!("a bump stop's end on {}", end.on.name()),
                        "its ends are on `frame`, `lower_arm` or `upper_arm`, so that steering doesn't move it",
                    ));
                }
            }
        }
        self.ends(ends, reader, path)
    }

    /// An end on what turns, or may roll, goes round with it: how far it reaches isn't known.
    fn check_end(&self, end: &End, point: &Vector3<f64>, path: &str) -> Result<()> {
        let on_axis = |[from, to]: [Vector3<f64>; 2]| {
            let along = (to - from).normalize();
            (point - from).cross(&along).norm() <= ON_AXIS_MM
        };
        let rod = match end.on {
            Body::TieRod => self.own.tie_rod,
            Body::DamperUpper | Body::DamperLower => self.own.damper,
            Body::Frame
            | Body::Differential
            | Body::Rack
            | Body::LowerArm
            | Body::UpperArm
            | Body::Knuckle => return Ok(()),
            Body::Halfshaft
            | Body::InnerJointHousing
            | Body::OuterJointHousing
            | Body::Wheel
            | Body::FrontDriveshaft
            | Body::Link(_) => {
                return Err(Problem::at(
                    path,
                    format!("an end on the {}, which turns", end.on.name()),
                    "an end there would be wound up: put it on the knuckle, an arm, the frame or the differential",
                ));
            }
        };
        let is_held =
            self.h.is_tube(end.on) || self.held.iter().any(|held| held.bodies.contains(&end.on));
        if is_held || on_axis(rod) {
            return Ok(());
        }
        Err(Problem::at(
            path,
            format!(
                "an end on the {}, which may roll about its own line",
                end.on.name()
            ),
            "say what holds it, as in roll: HeldBy(\"bushed eyes at both ends\"), or put the end on another body",
        ))
    }

    /// What a setup's spacers move the damper's upper half by.
    fn spaced_down(&self) -> Vector3<f64> {
        let [upper, lower] = self.own.damper;
        (lower - upper).normalize() * self.spaced_mm
    }

    fn ends(&self, ends: &(End, End), reader: Reader, path: &str) -> Result<Span> {
        let one = |end: &End, i: usize| -> Result<(Motion, Vector3<f64>)> {
            let mut point = reader.point(&end.at, &format!("{path}[{i}].at"))?;
            if reader.mirrored {
                // As a part on that body does, it goes with its own side's points.
                let motion = follow(&self.described, &self.points, end.on).motion;
                point = motion.rotation * point + motion.translation.vector;
            }
            if end.on.is_on_differential() {
                point = self.housing.point(&point);
            }
            self.check_end(end, &point, &format!("{path}[{i}].on"))?;
            point += self.source.lowered_drawing(end.on)?;
            if end.on == Body::DamperUpper {
                point += self.spaced_down();
            }
            Ok((end.on.motion(), point))
        };
        let (a, b) = (one(&ends.0, 0)?, one(&ends.1, 1)?);
        if a.0 == b.0 {
            return Err(Problem::at(
                path,
                "both ends are on bodies that move together, so the distance never changes",
                "check which body each end is on",
            ));
        }
        Ok(Span::Between(a, b))
    }

    fn arms(&mut self) -> Result<()> {
        let h = self.h;
        let source = self.source;
        let lower = (
            &source.lower_arm,
            LimitId::LowerArmDroopStop,
            WhichArm::Lower,
            [&h.lower_front, &h.lower_rear, &h.lower_ball],
        );
        let upper = (source.upper_arm.iter().zip(h.upper_arm())).map(|(source, arm)| {
            (
                source,
                LimitId::UpperArmDroopStop,
                WhichArm::Upper,
                [&arm.front, &arm.rear, &arm.ball],
            )
        });
        for (arm, id, which, points) in [lower].into_iter().chain(upper) {
            let entry: &Arm = arm.entry;
            if let Some(deg) = entry.droop_stop_deg {
                let limit = -angle(deg, 0.0, 80.0, &format!("{}.droop_stop_deg", arm.path))?;
                let axis = lifting_axis(points[0], points[1], points[2]);
                self.add(
                    id,
                    true,
                    LimitKind::ArmAngle(ArmAngle {
                        arm: which,
                        axis,
                        limit,
                    }),
                );
            }
        }
        Ok(())
    }

    fn halfshaft(&mut self) -> Result<()> {
        let source = self.source;
        let (s, path) = (source.halfshaft.entry, &source.halfshaft.path);
        for (joint, deg, id, field) in [
            (
                HalfshaftJoint::Inner,
                s.inner_limit_deg,
                LimitId::InnerJointAngle,
                "inner_limit_deg",
            ),
            (
                HalfshaftJoint::Outer,
                s.outer_limit_deg,
                LimitId::OuterJointAngle,
                "outer_limit_deg",
            ),
        ] {
            let limit = angle(deg, 0.0, 80.0, &format!("{path}.{field}"))?;
            self.add(
                id,
                false,
                LimitKind::JointAngle(JointAngle { joint, limit }),
            );
        }
        let given = plunge_ends(&source.halfshaft)?;
        let polygon = plunge_polygon(&source.halfshaft)?;
        let ends = polygon.as_ref().map_or(given, |polygon| {
            let [inner, outer] = polygon.ends_mm();
            [given[0].max(inner), given[1].min(outer)]
        });
        self.add(
            LimitId::PlungeIn,
            false,
            LimitKind::PlungeEnd(PlungeEnd::Inner(ends[0])),
        );
        self.add(
            LimitId::PlungeOut,
            false,
            LimitKind::PlungeEnd(PlungeEnd::Outer(ends[1])),
        );
        if let Some(polygon) = polygon {
            let field = polygon.angle_limit(given);
            self.add(LimitId::PlungeField, false, LimitKind::PlungeAngle(field));
        }
        Ok(())
    }

    /// The ball joint of an arm that moves as `arm` does.
    fn cone(
        &mut self,
        entry: &ConeEntry,
        id: LimitId,
        field: &str,
        arm: Motion,
        points: ArmPoints,
    ) -> Result<()> {
        let source = self.source;
        let r = source.ball_joints.reader;
        let path = format!("{}.{field}", source.ball_joints.path);
        let arm_axis = lifting_axis(&points.front, &points.rear, &points.ball);
        let half = angle(
            entry.half_angle_deg,
            0.0,
            80.0,
            &format!("{path}.half_angle_deg"),
        )?;
        let across = match entry.across_half_angle_deg {
            Some(deg) => angle(deg, 0.0, 80.0, &format!("{path}.across_half_angle_deg"))?,
            None => half,
        };
        let preset = angle(entry.preset_deg, -60.0, 60.0, &format!("{path}.preset_deg"))?;
        let stud_axis = match &entry.stud_axis {
            Some(axis) => r.direction(axis, &format!("{path}.stud_axis"))?,
            None => self.kingpin(),
        };
        let (housing, stud) = match entry.housing_on {
            HousingOn::Arm => (arm, Motion::Knuckle),
            HousingOn::Knuckle => (Motion::Knuckle, arm),
        };
        let axis = match &entry.housing_axis {
            Some(axis) => {
                let axis = r.direction(axis, &format!("{path}.housing_axis"))?;
                // An axis has no sense of its own; take the one the stud points with.
                if axis.dot(&stud_axis) < 0.0 {
                    -axis
                } else {
                    axis
                }
            }
            // In droop the arm turns down while the stud keeps its direction: seen from the arm, the
            // stud leans the other way, toward bump. A housing on the knuckle leans the other way.
            None => {
                let lean = if entry.housing_on == HousingOn::Arm {
                    preset
                } else {
                    -preset
                };
                Rotation3::from_axis_angle(&Unit::new_normalize(arm_axis), lean) * stud_axis
            }
        };
        let middle = (points.front + points.rear) * 0.5;
        let along = square_to(&axis, &(points.ball - middle));
        let half_angles = [half, across];
        let kind = LimitKind::Cone(Cone {
            housing,
            axis,
            along,
            stud,
            stud_axis,
            half_angles,
        });
        self.add(id, false, kind);
        Ok(())
    }

    fn pin(
        &mut self,
        entry: &PinEntry,
        id: LimitId,
        field: &str,
        carrier: Motion,
        rod: Rod,
        default_axis: Vector3<f64>,
    ) -> Result<()> {
        let source = self.source;
        let path = format!("{}.{field}", source.ball_joints.path);
        let pin_axis = match &entry.pin_axis {
            Some(axis) => source
                .ball_joints
                .reader
                .direction(axis, &format!("{path}.pin_axis"))?,
            None => default_axis,
        };
        let half = format!("{path}.half_angle_deg");
        let half_angle = angle(entry.half_angle_deg, 0.0, 80.0, &half)?;
        let rest = match entry.rest_deg {
            Some(deg) => angle(deg, 10.0, 170.0, &format!("{path}.rest_deg"))?,
            None => std::f64::consts::FRAC_PI_2,
        };
        let kind = LimitKind::Pin(Pin {
            carrier,
            pin_axis,
            rod,
            rest,
            half_angle,
        });
        self.add(id, false, kind);
        Ok(())
    }

    fn ball_joints(&mut self) -> Result<()> {
        let entry = self.source.ball_joints.entry;
        let h = self.h;
        let kingpin = self.kingpin();
        self.upper_end()?;
        if let Some(cone) = &entry.lower {
            let points = ArmPoints {
                front: h.lower_front,
                rear: h.lower_rear,
                ball: h.lower_ball,
            };
            self.cone(
                cone,
                LimitId::LowerBallJoint,
                "lower",
                Motion::LowerArm,
                points,
            )?;
        }
        if let Some(pin) = &entry.tie_rod_outer {
            let field = "tie_rod_outer";
            self.pin(
                pin,
                LimitId::TieRodOuterEnd,
                field,
                Motion::Knuckle,
                Rod::TieRod,
                kingpin,
            )?;
        }
        if let Some(inner) = &entry.tie_rod_inner {
            let path = format!("{}.tie_rod_inner", self.source.ball_joints.path);
            let half = angle(
                inner.half_angle_deg,
                0.0,
                80.0,
                &format!("{path}.half_angle_deg"),
            )?;
            let axis = match &inner.housing_axis {
                Some(axis) => self
                    .source
                    .ball_joints
                    .reader
                    .direction(axis, &format!("{path}.housing_axis"))?,
                None => Vector3::new(0.0, self.source.side.outboard(), 0.0),
            };
            let cone = Cone {
                housing: Motion::Rack,
                axis,
                along: square_to(&axis, &Vector3::z()),
                stud: Motion::TieRod,
                stud_axis: (self.own.tie_rod[1] - self.own.tie_rod[0]).normalize(),
                half_angles: [half, half],
            };
            self.add(LimitId::TieRodInnerEnd, false, LimitKind::Cone(cone));
        }
        if let Some(pin) = &entry.damper_upper {
            let axis = Vector3::x();
            self.pin(
                pin,
                LimitId::DamperUpperEye,
                "damper_upper",
                Motion::Frame,
                Rod::Damper,
                axis,
            )?;
        }
        if let Some(pin) = &entry.damper_lower {
            let foot = match h.damper_foot {
                DamperFoot::LowerArm => Motion::LowerArm,
                DamperFoot::UpperArm => Motion::UpperArm,
                DamperFoot::Knuckle => Motion::Knuckle,
            };
            let axis = Vector3::x();
            self.pin(
                pin,
                LimitId::DamperLowerEye,
                "damper_lower",
                foot,
                Rod::Damper,
                axis,
            )?;
        }
        Ok(())
    }

    /// The joint at the knuckle's upper end: a ball joint on an upper arm, a strut's top mount.
    fn upper_end(&mut self) -> Result<()> {
        let joints = &self.source.ball_joints;
        let (upper, top_mount) = (&joints.entry.upper, &joints.entry.top_mount);
        match (self.h.upper_arm().copied(), upper, top_mount) {
            (Some(arm), Some(cone), None) => {
                let id = LimitId::UpperBallJoint;
                self.cone(cone, id, "upper", Motion::UpperArm, arm)
            }
            (None, None, Some(mount)) => self.top_mount(mount),
            (_, None, None) => Ok(()),
            (Some(_), _, Some(_)) => Err(Problem::at(
                format!("{}.top_mount", joints.path),
                "this truck has no strut, so it has no top mount",
                "an upper arm's ball joint is `upper`; a damper's eye on the frame is `damper_upper`",
            )),
            (None, Some(_), _) => Err(Problem::at(
                format!("{}.upper", joints.path),
                "a strut holds the knuckle: there is no upper ball joint",
                "how far the strut may lean in the body is `top_mount: (half_angle_deg: ..)`",
            )),
        }
    }

    fn top_mount(&mut self, entry: &TopMountEntry) -> Result<()> {
        let joints = &self.source.ball_joints;
        let path = format!("{}.top_mount", joints.path);
        let half = format!("{path}.half_angle_deg");
        let half_angle = angle(entry.half_angle_deg, 0.0, 80.0, &half)?;
        let [upper, lower] = self.own.damper;
        let stud_axis = (upper - lower).normalize();
        let axis = match &entry.axis {
            Some(axis) => {
                let axis = joints.reader.direction(axis, &format!("{path}.axis"))?;
                // An axis has no sense of its own; take the one the strut points with.
                axis * axis.dot(&stud_axis).signum()
            }
            None => self.own.measured_damper_axis,
        };
        let cone = Cone {
            housing: Motion::Frame,
            axis,
            along: square_to(&axis, &Vector3::y()),
            stud: Motion::Knuckle,
            stud_axis,
            half_angles: [half_angle, half_angle],
        };
        self.add(LimitId::TopMount, false, LimitKind::Cone(cone));
        Ok(())
    }

    fn hoses(&mut self) -> Result<()> {
        let source = self.source;
        let r = source.hoses.reader;
        for (i, hose) in source.hoses.entry.iter().enumerate() {
            let path = format!("{}[{i}]", source.hoses.path);
            let span = self.ends(&hose.ends, r, &format!("{path}.ends"))?;
            let longest = r.positive(hose.longest, &format!("{path}.longest"))?;
            let kind = LimitKind::Length(Length {
                span,
                bound: Bound::AtMost(longest),
            });
            self.add(LimitId::Hose(hose.name.clone()), false, kind);
        }
        Ok(())
    }

    fn steering_stop(&mut self) -> Result<()> {
        let k = &self.source.knuckle;
        let Some(stop) = k.entry.steering_stop_deg else {
            return Ok(());
        };
        let path = format!("{}.steering_stop_deg", k.path);
        // A mirrored corner steers the other way.
        let stop = if k.reader.mirrored {
            LeftRight {
                left: stop.right,
                right: stop.left,
            }
        } else {
            stop
        };
        let left = angle(stop.left, 0.0, 80.0, &path)?;
        let right = angle(stop.right, 0.0, 80.0, &path)?;
        for (id, limit) in [
            (LimitId::SteeringStopLeft, left),
            (LimitId::SteeringStopRight, -right),
        ] {
            let kind = LimitKind::SteeringStop(SteeringStop {
                spindle: self.h.spindle_axis,
                outboard: self.source.side.outboard(),
                limit,
            });
            self.add(id, true, kind);
        }
        Ok(())
    }
}
