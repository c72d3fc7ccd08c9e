//! What is usual in the trade: one table.
//!
//! The ranges are wide: from compact to full-size trucks, factory and lifted. A value outside is not wrong by itself, it is
//! worth a look. All are common practice without a published source, but where a row says otherwise; each gives its reason.

use super::corner::Key::{
    self, DamperLower, DamperUpper, InnerJoint, LowerBall, LowerFront, LowerRear, OuterJoint,
    RodInner, RodOuter, UpperBall, UpperFront, UpperRear, Wheel,
};
use super::corner::{Points, V};
use crate::scene::Foot;

/// What a value is counted in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// Millimetres.
    Mm,
    /// Degrees.
    Deg,
    /// A plain ratio.
    Ratio,
    /// 1 where it can be, 0 where it can't.
    YesNo,
}

/// Which front ends a row is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum About {
    Any,
    UpperArm,
    Strut,
}

/// One row: something that follows from a corner's points.
pub(super) struct Row {
    /// As printed.
    pub name: &'static str,
    pub unit: Unit,
    /// What is usual, from and to.
    pub range: [f64; 2],
    /// Why it lies there.
    pub reason: &'static str,
    /// The points that it follows from.
    pub of: &'static [Key],
    about: About,
    value: fn(&Points) -> Option<f64>,
}

impl Row {
    /// Its value; none where it doesn't apply.
    pub(super) fn value(&self, p: &Points) -> Option<f64> {
        let is_strut = p.foot == Foot::Strut;
        match self.about {
            About::UpperArm if is_strut => None,
            About::Strut if !is_strut => None,
            _ => (self.value)(p),
        }
    }

    /// The points that it follows from on a front end: a strut has its top mount for the upper ball joint, and no pivots.
    pub(super) fn points(&self, p: &Points) -> Vec<Key> {
        let of = self.of.iter().copied();
        if p.foot != Foot::Strut {
            return of.collect();
        }
        let of = of.filter(|key| !matches!(key, UpperFront | UpperRear));
        of.map(|key| if key == UpperBall { DamperUpper } else { key })
            .collect()
    }
}

fn angle_deg(opposite: f64, adjacent: f64) -> f64 {
    opposite.atan2(adjacent).to_degrees()
}

fn known(mm: f64) -> Option<f64> {
    (!mm.is_nan()).then_some(mm)
}

/// Distance of a point from the line through two others.
fn from_line(p: V, a: V, b: V) -> f64 {
    let along = (b - a).normalize();
    ((p - a) - along * (p - a).dot(&along)).norm()
}

/// An arm's reach, from its pivot axis to its ball joint, seen from ahead.
fn reach(p: &Points, front: Key, rear: Key, ball: Key) -> f64 {
    from_line(p.at(ball), p.at(front), p.at(rear))
}

/// Where along an arm's base its ball joint stands: 0 at the rear pivot, 1 at the front one.
fn share_of_base(p: &Points, front: Key, rear: Key, ball: Key) -> f64 {
    (p.at(ball).x - p.at(rear).x) / (p.at(front).x - p.at(rear).x)
}

/// How far an arm slopes down to its ball joint, seen from ahead.
fn slope_deg(p: &Points, front: Key, rear: Key, ball: Key) -> f64 {
    let middle = (p.at(front) + p.at(rear)) * 0.5;
    angle_deg(middle.z - p.at(ball).z, p.at(ball).y - middle.y)
}

/// Where the kingpin axis meets the ground, from the tyre's contact: inboard and ahead.
fn kingpin_at_ground(p: &Points) -> Option<[f64; 2]> {
    let (low, high) = (p.at(LowerBall), p.at(UpperBall));
    let along = (p.at(Wheel).z - p.loaded_mm - low.z) / (high.z - low.z);
    let hit = low + (high - low) * along;
    let camber = (-p.spindle.z).asin();
    let contact_y = p.at(Wheel).y - p.loaded_mm * camber.sin();
    hit.y
        .is_finite()
        .then(|| [contact_y - hit.y, hit.x - p.at(Wheel).x])
}

macro_rules! row {
    ($name:literal, $unit:ident, $low:literal to $high:literal, [$($key:ident),*], $reason:literal, $value:expr) => {
        row!(Any, $name, $unit, $low to $high, [$($key),*], $reason, $value)
    };
    ($about:ident, $name:literal, $unit:ident, $low:literal to $high:literal, [$($key:ident),*], $reason:literal, $value:expr) => {
        Row {
            name: $name,
            unit: Unit::$unit,
            range: [$low, $high],
            reason: $reason,
            of: &[$($key),*],
            about: About::$about,
            value: $value,
        }
    };
}

/// Every row.
pub(super) const ROWS: &[Row] = &[
    // The wheel and the knuckle.
    row!("the wheel centre from the truck's middle", Mm, 560.0 to 1080.0, [Wheel],
        "tracks run from 1,200 mm (compact) to 2,100 mm (widened full-size)", |p| Some(p.at(Wheel).y)),
    row!("kingpin inclination", Deg, 3.0 to 18.0, [LowerBall, UpperBall],
    "road and off-road front ends have 6 to 14", |p| {
        let k = p.at(UpperBall) - p.at(LowerBall);
        Some(angle_deg(-k.y, k.z))
    }),
    row!("caster", Deg, -2.0 to 12.0, [LowerBall, UpperBall],
    "factory 1 to 6, lifted and aligned for the highway up to 10", |p| {
        let k = p.at(UpperBall) - p.at(LowerBall);
        Some(angle_deg(-k.x, k.z))
    }),
    row!(UpperArm, "the distance between the ball joints", Mm, 165.0 to 520.0, [LowerBall, UpperBall],
        "short knuckles stand inside the wheel (180 mm up), tall ones above the tyre (450 mm)",
        |p| Some((p.at(UpperBall) - p.at(LowerBall)).norm())),
    row!("the scrub radius", Mm, -50.0 to 135.0, [LowerBall, UpperBall, Wheel],
        "factory -10 to 60; wheels with less offset add up to 70", |p| Some(kingpin_at_ground(p)?[0])),
    row!("the caster trail", Mm, -40.0 to 95.0, [LowerBall, UpperBall, Wheel],
        "caster of -2 to 10 degrees at a loaded radius of 320 to 500 mm", |p| Some(kingpin_at_ground(p)?[1])),
    row!("the lower ball joint below the wheel centre", Mm, 25.0 to 190.0, [LowerBall, Wheel],
        "it stands inside the rim, below the outer joint: 80 to 150", |p| Some(p.at(Wheel).z - p.at(LowerBall).z)),
    row!(UpperArm, "the upper ball joint above the wheel centre", Mm, 35.0 to 390.0, [UpperBall, Wheel],
        "inside the rim (80 up) or just above the tyre (350)", |p| Some(p.at(UpperBall).z - p.at(Wheel).z)),
    row!("the lower ball joint inboard of the wheel centre", Mm, 20.0 to 190.0, [LowerBall, Wheel],
        "it stands within the rim or just inboard of it", |p| Some(p.at(Wheel).y - p.at(LowerBall).y)),
    row!(UpperArm, "the upper ball joint inboard of the wheel centre", Mm, 35.0 to 260.0, [UpperBall, Wheel],
        "inclination takes it inboard of the lower one, beside the tyre where it stands above the rim",
        |p| Some(p.at(Wheel).y - p.at(UpperBall).y)),
    row!("the lower ball joint ahead of the wheel centre", Mm, -55.0 to 55.0, [LowerBall, Wheel],
        "caster and trail put it within 30 of the axle's line", |p| Some(p.at(LowerBall).x - p.at(Wheel).x)),
    row!(UpperArm, "the upper ball joint ahead of the wheel centre", Mm, -85.0 to 45.0, [UpperBall, Wheel],
        "caster leans it back", |p| Some(p.at(UpperBall).x - p.at(Wheel).x)),
    // A strut.
    row!(Strut, "the top mount above the lower ball joint", Mm, 380.0 to 900.0, [LowerBall, UpperBall],
        "above the tyre: 450 to 750", |p| Some(p.at(UpperBall).z - p.at(LowerBall).z)),
    row!(Strut, "the top mount inboard of the wheel centre", Mm, 70.0 to 360.0, [UpperBall, Wheel],
        "over the tyre's inner side, inclined by 8 to 16 degrees", |p| Some(p.at(Wheel).y - p.at(UpperBall).y)),
    row!(Strut, "the top mount ahead of the wheel centre", Mm, -130.0 to 60.0, [UpperBall, Wheel],
        "caster leans it back", |p| Some(p.at(UpperBall).x - p.at(Wheel).x)),
    row!(Strut, "the strut's axis from the lower ball joint", Mm, 0.0 to 120.0, [DamperUpper, DamperLower, LowerBall],
        "the tube is clamped to the knuckle beside the ball joint's axis or above it",
        |p| Some(from_line(p.at(LowerBall), p.at(DamperUpper), p.at(DamperLower)))),
    row!(Strut, "the strut's change of length for the wheel's", Ratio, 0.75 to 1.08,
        [DamperUpper, DamperLower, LowerFront, LowerRear, LowerBall],
        "nearly one: it stands on the knuckle", |p| Some(p.motion?.motion_ratio)),
    row!(Strut, "the tie rod's outer end above the lower ball joint", Mm, -25.0 to 380.0, [RodOuter, LowerBall],
        "on the knuckle, or on an arm of the strut's tube below its spring seat",
        |p| Some(p.at(RodOuter).z - p.at(LowerBall).z)),
    // The lower arm.
    row!("the lower arm's reach", Mm, 230.0 to 560.0, [LowerFront, LowerRear, LowerBall],
        "compact 280, full-size 450; long-travel kits add 100", |p| Some(reach(p, LowerFront, LowerRear, LowerBall))),
    row!("the lower arm's front pivot ahead of its rear one", Mm, 130.0 to 580.0, [LowerFront, LowerRear],
        "the base is about as wide as the arm is long", |p| Some(p.at(LowerFront).x - p.at(LowerRear).x)),
    row!("where the lower ball joint stands along the arm's base, rear pivot 0, front pivot 1", Ratio, 0.15 to 0.88,
        [LowerFront, LowerRear, LowerBall],
        "between the legs, seldom close to one", |p| Some(share_of_base(p, LowerFront, LowerRear, LowerBall))),
    row!("the lower arm's pivot axis in plan view", Deg, -12.0 to 12.0, [LowerFront, LowerRear],
    "nearly fore and aft; swept arms a few degrees", |p| {
        let d = p.at(LowerFront) - p.at(LowerRear);
        Some(angle_deg(d.y, d.x))
    }),
    row!("the lower arm's pivot axis in side view", Deg, -9.0 to 10.0, [LowerFront, LowerRear],
    "anti-dive takes a few degrees", |p| {
        let d = p.at(LowerFront) - p.at(LowerRear);
        Some(angle_deg(d.z, d.x))
    }),
    row!("the lower arm's slope down to its ball joint", Deg, -8.0 to 19.0, [LowerFront, LowerRear, LowerBall],
        "at ride height 0 to 12, lifted up to 18", |p| Some(slope_deg(p, LowerFront, LowerRear, LowerBall))),
    row!("the lower arm's pivots from the truck's middle, of the wheel's", Ratio, 0.2 to 0.58,
        [LowerFront, LowerRear, Wheel],
        "beside the differential: a third to a half of the way out",
        |p| Some(0.5 * (p.at(LowerFront).y + p.at(LowerRear).y) / p.at(Wheel).y)),
    // The upper arm.
    row!(UpperArm, "the upper arm's reach", Mm, 120.0 to 400.0, [UpperFront, UpperRear, UpperBall],
        "half to four fifths of the lower arm's", |p| Some(reach(p, UpperFront, UpperRear, UpperBall))),
    row!(UpperArm, "the upper arm's reach of the lower arm's", Ratio, 0.36 to 0.98,
        [UpperFront, UpperRear, UpperBall, LowerFront, LowerRear, LowerBall],
        "shorter, so that the tyre leans in as it rises",
        |p| Some(reach(p, UpperFront, UpperRear, UpperBall) / reach(p, LowerFront, LowerRear, LowerBall))),
    row!(UpperArm, "the upper arm's front pivot ahead of its rear one", Mm, 110.0 to 430.0, [UpperFront, UpperRear],
        "its legs pass the damper on both sides", |p| Some(p.at(UpperFront).x - p.at(UpperRear).x)),
    row!(UpperArm, "where the upper ball joint stands along the arm's base, rear pivot 0, front pivot 1", Ratio, 0.15 to 0.85,
        [UpperFront, UpperRear, UpperBall],
        "between the legs, seldom close to one", |p| Some(share_of_base(p, UpperFront, UpperRear, UpperBall))),
    row!(UpperArm, "the upper arm's pivot axis in plan view", Deg, -14.0 to 14.0, [UpperFront, UpperRear],
    "nearly fore and aft", |p| {
        let d = p.at(UpperFront) - p.at(UpperRear);
        Some(angle_deg(d.y, d.x))
    }),
    row!(UpperArm, "the upper arm's pivot axis in side view", Deg, -8.0 to 15.0, [UpperFront, UpperRear],
    "anti-dive: its rear pivot is the lower one by up to 8 degrees", |p| {
        let d = p.at(UpperFront) - p.at(UpperRear);
        Some(angle_deg(d.z, d.x))
    }),
    row!(UpperArm, "the upper arm's slope up to its ball joint", Deg, -14.0 to 24.0, [UpperFront, UpperRear, UpperBall],
        "level to 15 degrees up at ride height; lifted it slopes down", |p| Some(-slope_deg(p, UpperFront, UpperRear, UpperBall))),
    row!(UpperArm, "the upper arm's pivots outboard of the lower arm's", Mm, -30.0 to 240.0,
        [UpperFront, UpperRear, LowerFront, LowerRear],
        "on the frame's outside, the lower ones below or inside it",
        |p| Some(0.5 * (p.at(UpperFront) + p.at(UpperRear) - p.at(LowerFront) - p.at(LowerRear)).y)),
    row!(UpperArm, "the upper arm's pivots above the lower arm's", Mm, 80.0 to 460.0,
        [UpperFront, UpperRear, LowerFront, LowerRear],
        "about as far as the ball joints are apart",
        |p| Some(0.5 * (p.at(UpperFront) + p.at(UpperRear) - p.at(LowerFront) - p.at(LowerRear)).z)),
    // Steering.
    row!("the steering arm's length", Mm, 80.0 to 215.0, [LowerBall, UpperBall, RodOuter],
        "110 to 180 from the kingpin axis: with a rack of 60 to 90 mm it steers 30 degrees",
        |p| Some(from_line(p.at(RodOuter), p.at(LowerBall), p.at(UpperBall)))),
    row!("the tie rod's outer end outboard of the lower ball joint", Mm, -110.0 to 75.0, [RodOuter, LowerBall],
        "Ackermann takes it inboard behind the axle, outboard ahead of it", |p| Some(p.at(RodOuter).y - p.at(LowerBall).y)),
    row!(UpperArm, "the tie rod's outer end above the lower ball joint", Mm, -25.0 to 170.0, [RodOuter, LowerBall],
        "between lower ball joint and wheel centre, seldom above", |p| Some(p.at(RodOuter).z - p.at(LowerBall).z)),
    row!("the tie rod's length", Mm, 190.0 to 520.0, [RodOuter, RodInner],
        "about as long as the arms at its height", |p| Some((p.at(RodOuter) - p.at(RodInner)).norm())),
    row!("the tie rod's sweep in plan view", Deg, -11.0 to 11.0, [RodOuter, RodInner],
    "the rack lies beside the steering arm's end", |p| {
        let d = p.at(RodOuter) - p.at(RodInner);
        Some(angle_deg(d.x, d.y))
    }),
    row!("the tie rod's slope seen from ahead", Deg, -12.0 to 17.0, [RodOuter, RodInner],
    "as the lower arm's, or it would steer in bump", |p| {
        let d = p.at(RodInner) - p.at(RodOuter);
        Some(angle_deg(d.z, -d.y))
    }),
    row!("the tie rod's inner end from the truck's middle, of the wheel's", Ratio, 0.24 to 0.62, [RodInner, Wheel],
        "between the pivots of the arms, and never past the middle", |p| Some(p.at(RodInner).y / p.at(Wheel).y)),
    row!("bump steer within 25 mm up and down", Deg, 0.0 to 0.75,
        [LowerFront, LowerRear, LowerBall, UpperFront, UpperRear, UpperBall, RodOuter, RodInner],
        "factory below 0.1, badly lifted 0.5", |p| Some(p.motion?.bump_steer_deg)),
    row!("camber change within 25 mm up and down", Deg, 0.0 to 2.0,
        [LowerFront, LowerRear, LowerBall, UpperFront, UpperRear, UpperBall],
        "about 1 degree an inch at most", |p| Some(p.motion?.camber_gain_deg)),
    row!("the lesser angle steered at full lock", Deg, 16.0 to 48.0, [LowerBall, UpperBall, RodOuter, RodInner],
        "28 to 38 degrees", |p| Some(p.motion?.lock_deg[0])),
    row!("the greater angle steered at full lock", Deg, 18.0 to 58.0, [LowerBall, UpperBall, RodOuter, RodInner],
        "28 to 42 degrees", |p| Some(p.motion?.lock_deg[1])),
    // Damper.
    row!("the damper's measured length above its compressed length", Mm, -5.0 to 320.0, [DamperUpper, DamperLower],
        "it was measured as it stands, so it can't be shorter than closed",
        |p| known(p.damper_mm[0]).map(|mm| (p.at(DamperUpper) - p.at(DamperLower)).norm() - mm)),
    row!("the damper's extended length above its measured length", Mm, -5.0 to 320.0, [DamperUpper, DamperLower],
        "it was measured as it stands, so it can't be longer than extended",
        |p| known(p.damper_mm[1]).map(|mm| mm - (p.at(DamperUpper) - p.at(DamperLower)).norm())),
    row!("the damper's lean fore and aft", Deg, -19.0 to 19.0, [DamperUpper, DamperLower],
    "seldom more than 15 degrees from upright, seen from the side", |p| {
        let d = p.at(DamperUpper) - p.at(DamperLower);
        Some(angle_deg(-d.x, d.z))
    }),
    row!("the damper's lean inboard", Deg, -3.0 to 32.0, [DamperUpper, DamperLower],
    "5 to 20 degrees, its top inboard", |p| {
        let d = p.at(DamperUpper) - p.at(DamperLower);
        Some(angle_deg(-d.y, d.z))
    }),
    row!(UpperArm, "the damper's change of length for the wheel's", Ratio, 0.25 to 0.98,
        [DamperUpper, DamperLower, LowerFront, LowerRear, LowerBall],
        "0.4 to 0.75 on an arm", |p| Some(p.motion?.motion_ratio)),
    row!(UpperArm, "the damper's lower eye along the arm, pivots 0, ball joint 1", Ratio, 0.25 to 1.05,
    [DamperLower, LowerFront, LowerRear, LowerBall],
    "half to three quarters of the way out", |p| {
        let inner = match p.foot {
            Foot::LowerArm => (LowerFront, LowerRear, LowerBall),
            Foot::UpperArm => (UpperFront, UpperRear, UpperBall),
            Foot::Knuckle | Foot::Strut => return None,
        };
        let middle = 0.5 * (p.at(inner.0).y + p.at(inner.1).y);
        Some((p.at(DamperLower).y - middle) / (p.at(inner.2).y - middle))
    }),
    row!(UpperArm, "the damper's lower eye above the arm", Mm, -65.0 to 95.0, [DamperLower, LowerFront, LowerRear, LowerBall],
    "in a bracket on the arm or through it", |p| {
        let (f, r, b) = match p.foot {
            Foot::LowerArm => (LowerFront, LowerRear, LowerBall),
            Foot::UpperArm => (UpperFront, UpperRear, UpperBall),
            Foot::Knuckle | Foot::Strut => return None,
        };
        let normal = (p.at(f) - p.at(r)).cross(&(p.at(b) - p.at(r))).normalize();
        Some((p.at(DamperLower) - p.at(b)).dot(&(normal * normal.z.signum())))
    }),
    row!(UpperArm, "the damper's lower eye ahead of the wheel centre", Mm, -150.0 to 150.0, [DamperLower, Wheel],
        "over the halfshaft with a fork, or beside it", |p| Some(p.at(DamperLower).x - p.at(Wheel).x)),
    row!("the damper's upper eye ahead of the wheel centre", Mm, -170.0 to 160.0, [DamperUpper, Wheel],
        "above its lower eye", |p| Some(p.at(DamperUpper).x - p.at(Wheel).x)),
    row!(UpperArm, "the damper's upper eye above the upper arm's pivots", Mm, -60.0 to 330.0, [DamperUpper, UpperFront, UpperRear],
        "on a tower above the arm, or a little below it",
        |p| Some(p.at(DamperUpper).z - 0.5 * (p.at(UpperFront) + p.at(UpperRear)).z)),
    // Halfshaft.
    row!("the outer joint from the spindle's line", Mm, 0.0 to 22.0, [OuterJoint, Wheel],
        "the joint turns the wheel: its centre is on the wheel's axis",
        |p| Some(from_line(p.at(OuterJoint), p.at(Wheel), p.at(Wheel) + p.spindle))),
    row!("the outer joint inboard of the wheel centre", Mm, 35.0 to 220.0, [OuterJoint, Wheel],
        "within the hub: 70 to 160", |p| Some((p.at(Wheel) - p.at(OuterJoint)).dot(&p.spindle))),
    row!("the outer joint from the kingpin axis", Mm, 0.0 to 58.0, [OuterJoint, LowerBall, UpperBall],
        "it stands on the axis that the wheel steers about, or the shaft would plunge as it steers",
        |p| Some(from_line(p.at(OuterJoint), p.at(LowerBall), p.at(UpperBall)))),
    row!("the halfshaft's length", Mm, 230.0 to 680.0, [OuterJoint, InnerJoint],
        "compact 350, full-size 600", |p| Some((p.at(OuterJoint) - p.at(InnerJoint)).norm())),
    row!("the inner joint's angle as measured", Deg, 0.0 to 14.0, [OuterJoint, InnerJoint],
    "at ride height 0 to 6, lifted up to 12", |p| {
        let d = p.at(OuterJoint) - p.at(InnerJoint);
        Some(angle_deg(d.xz().norm(), d.y))
    }),
    row!("the inner joint ahead of the outer joint", Mm, -55.0 to 55.0, [OuterJoint, InnerJoint],
        "the shaft lies nearly straight across", |p| Some(p.at(InnerJoint).x - p.at(OuterJoint).x)),
    row!("the inner joint above the outer joint", Mm, -50.0 to 95.0, [OuterJoint, InnerJoint],
        "the differential stands a little above the wheels", |p| Some(p.at(InnerJoint).z - p.at(OuterJoint).z)),
    row!("the inner joint from the truck's middle, of the wheel's", Ratio, 0.1 to 0.44, [InnerJoint, Wheel],
        "beside the differential, inboard of the lower arm's pivots or nearly", |p| Some(p.at(InnerJoint).y / p.at(Wheel).y)),
    row!("plunge within 25 mm up and down", Mm, 0.0 to 6.0,
        [LowerFront, LowerRear, LowerBall, OuterJoint, InnerJoint],
        "1 to 3 near ride height", |p| Some(p.motion?.plunge_mm)),
    row!("that the parts are put together, move an inch and steer", YesNo, 1.0 to 1.0,
        [LowerFront, LowerRear, LowerBall, UpperFront, UpperRear, UpperBall, RodOuter, RodInner, OuterJoint, InnerJoint],
        "a truck that was measured stands, moves an inch and steers",
        |p| Some(if p.motion.is_some() { 1.0 } else { 0.0 })),
];
