//! Components of both corners, changed alike: the other corner's own entries get the mirror image.

use super::apply::number;
use super::move_shape::{draw_out, move_shape};
use super::{Result, parts};
use crate::scene::{
    Arm, ArmChange, BallJoints, BumpStop, Change, ConeEntry, Damper, DamperEyes, End, Foot,
    Halfshaft, InnerEndEntry, Knuckle, LeftRight, NamedPoint, PartEntry, PinEntry, Place, Point,
    Problem, Scene, ShapeEntry, Spindle,
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
impl Mirror for LeftRight {
    fn mirrored(&self) -> Self {
        LeftRight {
            left: self.right,
            right: self.left,
        }
    }
}
impl Mirror for Spindle {
    fn mirrored(&self) -> Self {
        match self {
            Spindle::Axis(axis) => Spindle::Axis(axis.mirrored()),
            // Toe-in and top-outward are the same on both sides.
            same => *same,
        }
    }
}
impl Mirror for (Point, Point) {
    fn mirrored(&self) -> Self {
        (self.0.mirrored(), self.1.mirrored())
    }
}
impl Mirror for (End, End) {
    fn mirrored(&self) -> Self {
        let one = |end: &End| End {
            at: end.at.mirrored(),
            ..*end
        };
        (one(&self.0), one(&self.1))
    }
}
impl Mirror for BumpStop {
    fn mirrored(&self) -> Self {
        BumpStop {
            ends: self.ends.as_ref().map(Mirror::mirrored),
            ..*self
        }
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
            // Where a strut holds the knuckle there is none; the change is refused before.
            if let Some(own) = &mut self.upper_arm {
                both(own, &mut self.other_side.upper_arm, change);
            }
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

/// Notes the damper's eyes that are there with each bump stop that doesn't know those that it was measured between yet: it
/// has just come, or was there before anything was changed.
pub(super) fn note_bump_stops(scene: &mut Scene) {
    let brackets = scene.brackets;
    scene.each_damper(|damper, _| {
        let eyes = DamperEyes::of(damper, &brackets);
        if let Some(stop) = &mut damper.bump_stop {
            stop.measured_between.get_or_insert(eyes);
        }
    });
}

/// A damper's eyes elsewhere. Of a strut a lower one makes it another, whose axis keeps the eyes that it came with.
pub(super) fn move_eyes(
    damper: &mut Damper,
    upper: &Option<Point>,
    lower: &Option<Point>,
    mirror: bool,
) {
    set(&mut damper.upper_mount, upper, mirror);
    set(&mut damper.lower_mount, lower, mirror);
    if lower.is_some() && damper.lower_mount_on == Foot::Strut {
        damper.brought_strut = Some((damper.upper_mount, damper.lower_mount));
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

/// One side's wheel centre, spindle (unit, outboard), outer joint and tie rod (inner and outer end), in that side's
/// own place.
struct Places {
    centre: Vector3<f64>,
    spindle: Vector3<f64>,
    outer_joint: Vector3<f64>,
    tie_rod: [Vector3<f64>; 2],
}

/// The places of the described corner, and of the other one by its own components or the mirror image.
fn places(scene: &Scene, other: bool, path: &str) -> Result<Places> {
    let flip = |p: &Point, own: bool| {
        let v = vector(p);
        if other && !own {
            Vector3::new(v.x, -v.y, v.z)
        } else {
            v
        }
    };
    let o = &scene.other_side;
    let side = if other {
        scene.side.opposite()
    } else {
        scene.side
    };
    let own_knuckle = o.knuckle.as_ref().filter(|_| other);
    let knuckle = own_knuckle.unwrap_or(&scene.knuckle);
    let own = own_knuckle.is_some();
    let own_shaft = o.halfshaft.as_ref().filter(|_| other);
    let shaft = own_shaft.unwrap_or(&scene.halfshaft);
    let own_rack = o.tie_rod_inner.as_ref().filter(|_| other);
    let rack = own_rack.unwrap_or(&scene.rack.tie_rod_inner);
    let axis = if own || !other {
        Vector3::from(knuckle.spindle.direction(side))
    } else {
        Vector3::from(knuckle.spindle.mirrored().direction(side))
    };
    let spindle = axis
        .try_normalize(1.0e-9)
        .filter(|d| d.iter().all(|c| c.is_finite()))
        .ok_or_else(|| {
            Problem::at(
                path,
                "a direction of length zero",
                "give a direction (x, y, z)",
            )
        })?;
    Ok(Places {
        centre: flip(&knuckle.wheel_centre, own),
        spindle,
        outer_joint: flip(&shaft.outer_joint, own_shaft.is_some()),
        tie_rod: [
            flip(rack, own_rack.is_some()),
            flip(&knuckle.tie_rod_outer, own),
        ],
    })
}

fn both_places(scene: &Scene, path: &str) -> Result<[Places; 2]> {
    Ok([places(scene, false, path)?, places(scene, true, path)?])
}

/// The motion that takes one point and direction to another.
fn follow(
    from: &Vector3<f64>,
    from_axis: &Vector3<f64>,
    to: &Vector3<f64>,
    to_axis: &Vector3<f64>,
) -> Isometry3<f64> {
    if from == to && from_axis == to_axis {
        return Isometry3::identity();
    }
    let turn = Rotation3::rotation_between(from_axis, to_axis).unwrap_or_else(Rotation3::identity);
    Isometry3::from_parts(
        Translation3::from(to - turn * from),
        UnitQuaternion::from_rotation_matrix(&turn),
    )
}

/// Parts on the wheel, the outer joint's housing and the tie rod go where their joints have gone.
fn parts_follow(scene: &mut Scene, before: &[Places; 2], path: &str) -> Result<()> {
    let after = both_places(scene, path)?;
    let [own, other] = [0, 1].map(|i| Motions::between(&before[i], &after[i]));
    for body in [Body::Wheel, Body::OuterJointHousing, Body::TieRod] {
        parts::move_body(scene, body, &own.of(body), &other.of(body));
    }
    move_ends(scene, &own.tie_rod, &other.tie_rod);
    let longer = scene.rack.tie_rod_longer;
    let rods = [0, 1].map(|i| DrawnOut::of_tie_rod((&before[i], longer), (&after[i], longer)));
    draw_out_tie_rods(scene, &rods);
    Ok(())
}

/// What is drawn on the tie rods, and ends of hoses and straps there, drawn out with them.
fn draw_out_tie_rods(scene: &mut Scene, rods: &[DrawnOut; 2]) {
    parts::draw_out_on(scene, Body::TieRod, rods);
    let pull = |ends: &mut (End, End), rod: &DrawnOut| {
        for end in [&mut ends.0, &mut ends.1] {
            if end.on == Body::TieRod {
                let mut ball = ShapeEntry::Ball {
                    centre: end.at,
                    radius: 0.0,
                };
                rod.draw_out(&mut ball);
                if let ShapeEntry::Ball { centre, .. } = ball {
                    end.at = centre;
                }
            }
        }
    };
    each_end(scene, &rods[0], &rods[1], pull);
}

/// Ends of hoses and straps on the tie rod go with it.
fn move_ends(scene: &mut Scene, own: &Isometry3<f64>, other: &Isometry3<f64>) {
    each_end(scene, own, other, |ends, motion| {
        for end in [&mut ends.0, &mut ends.1] {
            if end.on == Body::TieRod {
                end.at = moved(&end.at, motion);
            }
        }
    });
}

fn moved(p: &Point, motion: &Isometry3<f64>) -> Point {
    let p = motion.rotation * vector(p) + motion.translation.vector;
    Point(p.x, p.y, p.z)
}

/// Runs a change on both ends of every hose and strap, with what goes with its side.
fn each_end<T>(scene: &mut Scene, own: &T, other: &T, follow: impl Fn(&mut (End, End), &T)) {
    let straps = |damper: &mut Damper, with: &T| {
        if let Some(strap) = &mut damper.strap {
            follow(&mut strap.ends, with);
        }
    };
    scene
        .hoses
        .iter_mut()
        .for_each(|hose| follow(&mut hose.ends, own));
    straps(&mut scene.damper, own);
    let o = &mut scene.other_side;
    o.hoses
        .iter_mut()
        .flatten()
        .for_each(|hose| follow(&mut hose.ends, other));
    o.damper.iter_mut().for_each(|damper| straps(damper, other));
}

/// Another knuckle: wheel, outer joint housing and tie rod follow it.
pub(super) fn knuckle(scene: &mut Scene, change: &Change, path: &str) -> Result<()> {
    let Change::Knuckle {
        ball_joints,
        wheel_centre,
        spindle,
        tie_rod_outer,
        outer_joint,
        steering_stop_deg,
        parts: own,
        side: _,
    } = change
    else {
        return Ok(());
    };
    let before = both_places(scene, "knuckle.spindle")?;
    scene.each_knuckle(|knuckle, mirror| {
        set_some(&mut knuckle.ball_joints, ball_joints, mirror);
        set(&mut knuckle.wheel_centre, wheel_centre, mirror);
        set(&mut knuckle.tie_rod_outer, tie_rod_outer, mirror);
        set(&mut knuckle.spindle, spindle, mirror);
        set_some(&mut knuckle.steering_stop_deg, steering_stop_deg, mirror);
    });
    scene.each_halfshaft(|shaft, mirror| set(&mut shaft.outer_joint, outer_joint, mirror));
    parts_follow(scene, &before, &format!("{path}.spindle"))?;
    parts::fit(scene, own);
    Ok(())
}

/// Another tie-rod end: the rod follows it.
pub(super) fn tie_rod_end(scene: &mut Scene, outer: &Option<Point>, path: &str) -> Result<()> {
    let before = both_places(scene, "knuckle.spindle")?;
    scene.each_knuckle(|knuckle, mirror| set(&mut knuckle.tie_rod_outer, outer, mirror));
    parts_follow(scene, &before, path)
}

/// Another end of the rod on the rack: the rod follows it.
pub(super) fn rack_end(scene: &mut Scene, inner: &Option<Point>, path: &str) -> Result<()> {
    let before = both_places(scene, "knuckle.spindle")?;
    set(&mut scene.rack.tie_rod_inner, inner, false);
    if let Some(other) = &mut scene.other_side.tie_rod_inner {
        set(other, inner, true);
    }
    parts_follow(scene, &before, path)
}

/// A rod that was made longer at its inner end.
pub(super) struct DrawnOut {
    /// Inner and outer end as drawn before.
    ends: [Vector3<f64>; 2],
    /// Where the inner end has gone from there.
    shift: Vector3<f64>,
}

impl DrawnOut {
    /// A tie rod that stood between some places, and stands between others now: its drawing has gone along with its outer end
    /// and is as long as it was. With each, how much longer the rod is than from end to end.
    fn of_tie_rod(before: (&Places, f64), now: (&Places, f64)) -> DrawnOut {
        let length = |(places, longer): (&Places, f64)| {
            let [inner, outer] = places.tie_rod;
            (inner - outer).norm() + longer
        };
        let [inner, outer] = now.0.tie_rod;
        let distance = (inner - outer).norm();
        DrawnOut::between(
            [inner, outer],
            length(before) - distance,
            length(now) - distance,
        )
    }

    /// A rod from `inner` to `outer`, longer than that by `from` before and by `to` now.
    fn between([inner, outer]: [Vector3<f64>; 2], from: f64, to: f64) -> DrawnOut {
        let along = (inner - outer)
            .try_normalize(f64::MIN_POSITIVE)
            .unwrap_or_else(Vector3::zeros);
        DrawnOut {
            ends: [inner + along * from, outer],
            shift: along * (to - from),
        }
    }

    pub(super) fn draw_out(&self, shape: &mut ShapeEntry) {
        if self.shift != Vector3::zeros() {
            draw_out(shape, self.ends, &self.shift);
        }
    }
}

/// A tie rod made longer: what is drawn on it goes along.
pub(super) fn longer_tie_rod(scene: &mut Scene, longer: f64, path: &str) -> Result<()> {
    let places = both_places(scene, path)?;
    let from = scene.rack.tie_rod_longer;
    scene.rack.tie_rod_longer += longer;
    let to = scene.rack.tie_rod_longer;
    let rods = places.map(|p| DrawnOut::of_tie_rod((&p, from), (&p, to)));
    draw_out_tie_rods(scene, &rods);
    Ok(())
}

/// The measured shaft's ends on one side, in that side's own place.
fn shaft_ends(scene: &Scene, is_others: bool) -> [Vector3<f64>; 2] {
    let own = scene.other_side.halfshaft.as_ref().filter(|_| is_others);
    let shaft = own.unwrap_or(&scene.halfshaft);
    let flips = is_others && own.is_none();
    [shaft.inner_joint, shaft.outer_joint].map(|p| {
        let p = if flips { p.mirrored() } else { p };
        vector(&p)
    })
}

/// One side's shaft.
fn shaft(scene: &Scene, is_others: bool) -> &Halfshaft {
    let own = scene.other_side.halfshaft.as_ref().filter(|_| is_others);
    own.unwrap_or(&scene.halfshaft)
}

/// How much longer one side's shaft is than the measured one.
fn shaft_longer(scene: &Scene, is_others: bool) -> f64 {
    shaft(scene, is_others).longer
}

/// Another halfshaft: its length counts from the measured one's.
pub(super) fn halfshaft(
    scene: &mut Scene,
    change: &Change,
    measured: &Scene,
    path: &str,
) -> Result<()> {
    let Change::Halfshaft {
        side: _,
        length,
        longer,
        plunge,
        plunge_polygon,
        diameter,
        inner_limit_deg,
        outer_limit_deg,
        track_pitch_radius,
        ball_pitch_radius,
        parts: own,
    } = change
    else {
        return Ok(());
    };
    if length.is_some() && longer.is_some() {
        return Err(Problem::at(
            format!("{path}.longer"),
            "both `longer` and a length of its own",
            "say how much longer, or give the length",
        ));
    }
    let longer = number(longer.unwrap_or(0.0), path, "longer")?;
    if let Some(length) = length
        && !(length.is_finite() && *length > 0.0)
    {
        return Err(Problem::at(
            format!("{path}.length"),
            format!("{length} is no length of a shaft"),
            "give the length between both joints' centres, above zero",
        ));
    }
    let as_measured = [false, true].map(|is_others| {
        let [inner, outer] = shaft_ends(measured, is_others);
        (outer - inner).norm()
    });
    let from = [false, true].map(|is_others| shaft_longer(scene, is_others));
    if let Some(diameter) = diameter {
        let fitted = [false, true].map(|is_others| shaft(scene, is_others).diameter);
        parts::thicken_shafts(scene, &fitted, *diameter);
    }
    scene.each_halfshaft(|shaft, mirror| {
        let is_others = usize::from(mirror);
        shaft.longer = match length {
            Some(length) => length - as_measured[is_others],
            None => shaft.longer + longer,
        };
        shaft.plunge = plunge.unwrap_or(shaft.plunge);
        if !plunge_polygon.is_empty() {
            shaft.plunge_polygon.clone_from(plunge_polygon);
        }
        shaft.diameter = diameter.unwrap_or(shaft.diameter);
        shaft.inner_limit_deg = inner_limit_deg.unwrap_or(shaft.inner_limit_deg);
        shaft.outer_limit_deg = outer_limit_deg.unwrap_or(shaft.outer_limit_deg);
        shaft.track_pitch_radius = track_pitch_radius.or(shaft.track_pitch_radius);
        shaft.ball_pitch_radius = ball_pitch_radius.or(shaft.ball_pitch_radius);
    });
    let rods = [0, 1].map(|i| {
        let ends = shaft_ends(measured, i == 1);
        DrawnOut::between(ends, from[i], shaft_longer(scene, i == 1))
    });
    parts::draw_out_on(scene, Body::Halfshaft, &rods);
    parts::fit(scene, own);
    Ok(())
}

/// The wheel with everything on it, moved outboard along each side's own spindle.
pub(super) fn move_wheel_out(scene: &mut Scene, outboard: f64, path: &str) -> Result<()> {
    number(outboard, path, "outboard")?;
    let before = both_places(scene, "knuckle.spindle")?;
    let slides = [&before[0], &before[1]].map(|p| p.spindle * outboard);
    scene.each_knuckle(|knuckle, mirror| {
        let (c, slide) = (&mut knuckle.wheel_centre, slides[usize::from(mirror)]);
        *c = Point(c.0 + slide.x, c.1 + slide.y, c.2 + slide.z);
    });
    parts_follow(scene, &before, path)
}

/// One side's damper, and whether it is drawn for the other side.
fn damper_of(scene: &Scene, is_others: bool) -> (&Damper, bool) {
    let own = scene.other_side.damper.as_ref().filter(|_| is_others);
    let flips = is_others && own.is_none();
    (own.unwrap_or(&scene.damper), flips)
}

/// Parts that come with a damper of other eyes, drawn between those: brought back to where they belong between the eyes
/// that its halves are placed from, those as measured, or of a strut that a setup has brought those that it came with.
/// `changed` has the new eyes.
pub(super) fn damper_parts(own: &[PartEntry], measured: &Scene, changed: &Scene) -> Vec<PartEntry> {
    own.iter()
        .map(|part| {
            let is_others = parts::drawn_on_other(part, measured.side);
            let (was, flips) = damper_of(measured, is_others);
            let (is, _) = damper_of(changed, is_others);
            let place = |p: Point| vector(&if flips { p.mirrored() } else { p });
            let (upper, lower) = is
                .brought_strut
                .unwrap_or((was.upper_mount, was.lower_mount));
            let (upper, lower) = (place(upper), place(lower));
            let (new_upper, new_lower) = (place(is.upper_mount), place(is.lower_mount));
            let back = |from: &Vector3<f64>, to: &Vector3<f64>| {
                follow(from, &(new_lower - new_upper), to, &(lower - upper))
            };
            let mut part = part.clone();
            let is_strut = was.lower_mount_on == Foot::Strut;
            if !is_strut && matches!(part.on, Body::DamperUpper | Body::DamperLower) {
                // As long as this damper is from eye to eye, not as the one before.
                between_eyes(&mut part.shape, is.upper_mount, is.lower_mount, flips);
            }
            match part.on {
                Body::Knuckle if is_strut => {
                    move_shape(&mut part.shape, &back(&new_lower, &lower));
                }
                Body::DamperUpper => move_shape(&mut part.shape, &back(&new_upper, &upper)),
                Body::DamperLower => move_shape(&mut part.shape, &back(&new_lower, &lower)),
                _ => {}
            }
            part
        })
        .collect()
}

/// A bar from eye to eye, or to one of them, by where the eyes are.
fn between_eyes(shape: &mut ShapeEntry, upper: Point, lower: Point, flips: bool) {
    let ShapeEntry::Bar { from, to, .. } = shape else {
        return;
    };
    let at = |p: Point| Place::At(if flips { p.mirrored() } else { p });
    for (end, own) in [
        (from, NamedPoint::DamperUpperMount),
        (to, NamedPoint::DamperLowerMount),
    ] {
        *end = match end.unwrap_or(Place::Named(own)) {
            Place::Named(NamedPoint::DamperUpperMount) => Some(at(upper)),
            Place::Named(NamedPoint::DamperLowerMount) => Some(at(lower)),
            other => Some(other),
        };
    }
}

/// A change whose parts, drawn on the truck as measured, are where the changes before it have taken their bodies.
pub(super) fn as_fitted(
    change: &Change,
    measured: &Scene,
    now: &Scene,
    path: &str,
) -> Result<Change> {
    let since = SinceMeasured {
        measured,
        now,
        path,
    };
    // Parts that come with a rod are drawn in its own length.
    let own_rod = match change {
        Change::TieRodEnd {
            longer: Some(_), ..
        } => Some(Body::TieRod),
        Change::Halfshaft { .. } => Some(Body::Halfshaft),
        _ => None,
    };
    let fit = |part: &mut PartEntry| -> Result<()> {
        let is_others = parts::drawn_on_other(part, now.side);
        if own_rod == Some(part.on) {
            move_shape(&mut part.shape, &since.motion(part.on, is_others)?);
            return Ok(());
        }
        since.place(&mut part.shape, part.on, is_others)
    };
    // One side's own, or the described side's, the other one's its mirror image.
    let is_others = change.side().is_some_and(|side| side != now.side);
    let mut change = change.clone();
    match &mut change {
        Change::Hose {
            ends: Some(ends), ..
        }
        | Change::Strap {
            ends: Some(ends), ..
        } => {
            for end in [&mut ends.0, &mut ends.1] {
                let mut ball = ShapeEntry::Ball {
                    centre: end.at,
                    radius: 0.0,
                };
                since.place(&mut ball, end.on, is_others)?;
                if let ShapeEntry::Ball { centre, .. } = ball {
                    end.at = centre;
                }
            }
        }
        Change::AddPart { .. }
        | Change::Damper { .. }
        | Change::Knuckle { .. }
        | Change::TieRodEnd { .. }
        | Change::UpperArm(_)
        | Change::LowerArm(_)
        | Change::Halfshaft { .. }
        | Change::Rack { .. }
        | Change::DropBrackets { .. } => change.parts_mut().iter_mut().try_for_each(fit)?,
        // Each part of the name stands on a body of its own: placed where it is found.
        Change::ReplacePart { .. }
        | Change::MovePart { .. }
        | Change::Hose { ends: None, .. }
        | Change::RideHeight { .. }
        | Change::DamperSpacer(_)
        | Change::BumpStop(_)
        | Change::Strap { ends: None, .. }
        | Change::RackLimiter { .. }
        | Change::DifferentialSpacers { .. }
        | Change::DifferentialDrop { .. }
        | Change::Tyre { .. }
        | Change::WheelOffset { .. }
        | Change::RemovePart { .. } => {}
    }
    Ok(change)
}

/// Where the changes made so far have taken what is drawn on the truck as measured.
pub(super) struct SinceMeasured<'s> {
    pub measured: &'s Scene,
    pub now: &'s Scene,
    /// The change that is made.
    pub path: &'s str,
}

impl SinceMeasured<'_> {
    /// Takes a shape along with its body, drawn out with it where that is a rod.
    pub(super) fn place(&self, shape: &mut ShapeEntry, body: Body, is_others: bool) -> Result<()> {
        move_shape(shape, &self.motion(body, is_others)?);
        if let Some(rod) = drawn_out(body, is_others, self.measured, self.now, self.path)? {
            rod.draw_out(shape);
        }
        Ok(())
    }

    /// How far a body has gone that follows a joint of its own: the wheel, the outer joint's housing, the tie rod.
    pub(super) fn motion(&self, body: Body, is_others: bool) -> Result<Isometry3<f64>> {
        let of = |scene: &Scene| places(scene, is_others, self.path);
        let (before, after) = (of(self.measured)?, of(self.now)?);
        Ok(Motions::between(&before, &after).of(body))
    }
}

/// How far earlier changes have drawn out the rod that a body is.
fn drawn_out(
    body: Body,
    is_others: bool,
    measured: &Scene,
    now: &Scene,
    path: &str,
) -> Result<Option<DrawnOut>> {
    Ok(match body {
        Body::TieRod => {
            let of = |scene: &Scene| places(scene, is_others, path);
            let longer = |scene: &Scene| scene.rack.tie_rod_longer;
            Some(DrawnOut::of_tie_rod(
                (&of(measured)?, longer(measured)),
                (&of(now)?, longer(now)),
            ))
        }
        Body::Halfshaft => {
            let [from, to] = [measured, now].map(|scene| shaft_longer(scene, is_others));
            Some(DrawnOut::between(shaft_ends(measured, is_others), from, to))
        }
        _ => None,
    })
}

/// A knuckle gives where the wheel stands in it, a rack how far it goes: that would undo an offset of the wheel or a
/// limiter made before.
pub(super) fn check_order(change: &Change, before: &[&Change], path: &str) -> Result<()> {
    let gives_wheel = matches!(change, Change::Knuckle { wheel_centre, spindle, .. }
        if wheel_centre.is_some() || spindle.is_some());
    let is_offset = |c: &&&Change| matches!(c, Change::WheelOffset { .. });
    if gives_wheel && before.iter().find(is_offset).is_some() {
        return Err(Problem::at(
            path,
            "this knuckle says where the wheel stands, and an offset of the wheel comes before it",
            "put the `WheelOffset` after the knuckle: it counts from where the wheel stands then",
        ));
    }
    let gives_travel = matches!(
        change,
        Change::Rack {
            travel: Some(_),
            ..
        }
    );
    let is_limiter = |c: &&&Change| matches!(c, Change::RackLimiter { .. });
    if gives_travel && before.iter().find(is_limiter).is_some() {
        return Err(Problem::at(
            path,
            "this rack says how far it travels, and a limiter on it comes before it",
            "put the `RackLimiter` after the rack: it takes from the travel that is there then",
        ));
    }
    Ok(())
}

/// The motions of bodies that follow joints which a change has moved.
struct Motions {
    wheel: Isometry3<f64>,
    outer_joint: Isometry3<f64>,
    tie_rod: Isometry3<f64>,
}

impl Motions {
    fn between(a: &Places, b: &Places) -> Motions {
        let x = Vector3::x();
        let rod = |p: &Places| p.tie_rod[1] - p.tie_rod[0];
        Motions {
            wheel: follow(&a.centre, &a.spindle, &b.centre, &b.spindle),
            outer_joint: follow(&a.outer_joint, &x, &b.outer_joint, &x),
            tie_rod: follow(&a.tie_rod[1], &rod(a), &b.tie_rod[1], &rod(b)),
        }
    }

    fn of(&self, body: Body) -> Isometry3<f64> {
        match body {
            Body::Wheel => self.wheel,
            Body::OuterJointHousing => self.outer_joint,
            Body::TieRod => self.tie_rod,
            _ => Isometry3::identity(),
        }
    }
}
