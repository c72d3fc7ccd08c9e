//! The points of one corner as a scene writes them, and what follows from them.
//!
//! Reads: a [`Scene`]. Produces: [`Points`], in millimetres with y outboard, and how the wheel moves near the measured
//! position. Next: [`super::ranges`], which says what is usual.

use crate::scene::{Arm, Foot, Point, Scene};
use crate::suspension::{ArmPoints, DamperFoot, Hardpoints, Linkage, Mechanism, Side, UpperLink};
use nalgebra::Vector3;

pub(super) type V = Vector3<f64>;

/// A point of a corner.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Key {
    LowerFront,
    LowerRear,
    LowerBall,
    UpperFront,
    UpperRear,
    UpperBall,
    Wheel,
    RodOuter,
    RodInner,
    DamperUpper,
    DamperLower,
    OuterJoint,
    InnerJoint,
}

/// How many points a corner has.
pub(super) const KEY_COUNT: usize = 13;

impl Key {
    pub(super) const ALL: [Key; KEY_COUNT] = [
        Key::LowerFront,
        Key::LowerRear,
        Key::LowerBall,
        Key::UpperFront,
        Key::UpperRear,
        Key::UpperBall,
        Key::Wheel,
        Key::RodOuter,
        Key::RodInner,
        Key::DamperUpper,
        Key::DamperLower,
        Key::OuterJoint,
        Key::InnerJoint,
    ];

    /// The component that holds it, its name in there, and the component's name in `other_side`.
    fn field(self) -> (&'static str, &'static str) {
        match self {
            Key::LowerFront => ("lower_arm", ".front_pivot"),
            Key::LowerRear => ("lower_arm", ".rear_pivot"),
            Key::LowerBall => ("lower_arm", ".ball_joint"),
            Key::UpperFront => ("upper_arm", ".front_pivot"),
            Key::UpperRear => ("upper_arm", ".rear_pivot"),
            Key::UpperBall => ("upper_arm", ".ball_joint"),
            Key::Wheel => ("knuckle", ".wheel_centre"),
            Key::RodOuter => ("knuckle", ".tie_rod_outer"),
            Key::RodInner => ("tie_rod_inner", ""),
            Key::DamperUpper => ("damper", ".upper_mount"),
            Key::DamperLower => ("damper", ".lower_mount"),
            Key::OuterJoint => ("halfshaft", ".outer_joint"),
            Key::InnerJoint => ("halfshaft", ".inner_joint"),
        }
    }
}

/// One corner's numbers as written.
#[derive(Clone)]
pub(super) struct CornerNumbers {
    /// Points as written, in the scene's unit.
    pub raw: [[f64; 3]; KEY_COUNT],
    /// Whether each is written for the other side.
    pub is_other: [bool; KEY_COUNT],
    /// Millimetres in the scene's unit.
    pub scale: f64,
    /// Outboard of the described corner: +1 or -1.
    outboard: f64,
    spindle: V,
    loaded_mm: f64,
    foot: Foot,
    rack_mm: f64,
    /// Compressed and extended length of the damper with what its spacers add, mm; not numbers where they aren't to be judged
    /// by.
    damper_mm: [f64; 2],
}

impl CornerNumbers {
    /// The described corner, or the other one with what is written for it.
    pub(super) fn of(scene: &Scene, of_other: bool) -> CornerNumbers {
        let o = if of_other {
            scene.other_side.clone()
        } else {
            Default::default()
        };
        let lower = (
            o.lower_arm.unwrap_or(scene.lower_arm),
            o.lower_arm.is_some(),
        );
        let is_strut = scene.damper.lower_mount_on == Foot::Strut;
        let (own, other) = (scene.upper_arm, o.upper_arm);
        let knuckle = (o.knuckle.unwrap_or(scene.knuckle), o.knuckle.is_some());
        let rod = o.tie_rod_inner;
        let damper = (
            o.damper.as_ref().unwrap_or(&scene.damper),
            o.damper.is_some(),
        );
        let shaft = (
            o.halfshaft.as_ref().unwrap_or(&scene.halfshaft),
            o.halfshaft.is_some(),
        );
        // A strut's top mount is the kingpin axis's upper end; of an arm there is nothing to judge.
        let mount = (damper.0.upper_mount, damper.1);
        let upper = |point: fn(&Arm) -> Point| match other.as_ref().or(own.as_ref()) {
            Some(arm) if !is_strut => (point(arm), other.is_some()),
            _ => mount,
        };
        let written = |key: Key| match key {
            Key::LowerFront => (lower.0.front_pivot, lower.1),
            Key::LowerRear => (lower.0.rear_pivot, lower.1),
            Key::LowerBall => (lower.0.ball_joint, lower.1),
            Key::UpperFront => upper(|arm| arm.front_pivot),
            Key::UpperRear => upper(|arm| arm.rear_pivot),
            Key::UpperBall => upper(|arm| arm.ball_joint),
            Key::Wheel => (knuckle.0.wheel_centre, knuckle.1),
            Key::RodOuter => (knuckle.0.tie_rod_outer, knuckle.1),
            Key::RodInner => (rod.unwrap_or(scene.rack.tie_rod_inner), rod.is_some()),
            Key::DamperUpper => (damper.0.upper_mount, damper.1),
            Key::DamperLower => (damper.0.lower_mount, damper.1),
            Key::OuterJoint => (shaft.0.outer_joint, shaft.1),
            Key::InnerJoint => (shaft.0.inner_joint, shaft.1),
        };
        let scale = scene.units.in_mm();
        let side = if knuckle.1 {
            scene.side.opposite()
        } else {
            scene.side
        };
        let [x, y, z] = knuckle.0.spindle.direction(side);
        let spacers: f64 = (damper.0.spacers.iter())
            .filter(|s| s.adds == crate::scene::SpacerEffect::TotalLength)
            .map(|s| s.thickness)
            .sum();
        CornerNumbers {
            raw: Key::ALL.map(|key| {
                let p = written(key).0;
                [p.0, p.1, p.2]
            }),
            is_other: Key::ALL.map(|key| written(key).1),
            scale,
            outboard: scene.side.outboard(),
            spindle: V::new(x, y * side.outboard(), z).normalize(),
            loaded_mm: knuckle.0.loaded_radius * scale,
            foot: damper.0.lower_mount_on,
            rack_mm: scale * scene.rack.travel.left.min(scene.rack.travel.right),
            damper_mm: [damper.0.compressed, damper.0.extended].map(|l| (l + spacers) * scale),
        }
    }

    /// The same with another loaded radius.
    pub(super) fn with_loaded_mm(self, loaded_mm: f64) -> CornerNumbers {
        CornerNumbers { loaded_mm, ..self }
    }

    /// The same with the wheel straight ahead and upright, where its toe or camber is wrong.
    pub(super) fn with_plain_spindle(self) -> CornerNumbers {
        CornerNumbers {
            spindle: V::new(0.0, 1.0, 0.0),
            ..self
        }
    }

    /// The same without the damper's lengths, where these are wrong.
    pub(super) fn without_damper_lengths(self) -> CornerNumbers {
        CornerNumbers {
            damper_mm: [f64::NAN; 2],
            ..self
        }
    }

    /// Whether this front end has a point of its own by that name.
    pub(super) fn has(&self, key: Key) -> bool {
        let of_upper_arm = matches!(key, Key::UpperFront | Key::UpperRear | Key::UpperBall);
        !of_upper_arm || self.foot != Foot::Strut
    }

    /// Where a point is written.
    pub(super) fn path(&self, key: Key) -> String {
        let (component, field) = key.field();
        if self.is_other[key as usize] {
            return format!("other_side.{component}{field}");
        }
        match key {
            Key::RodInner => "rack.tie_rod_inner".to_owned(),
            _ => format!("{component}{field}"),
        }
    }

    /// A point in mm, y outboard.
    pub(super) fn place(&self, raw: [f64; 3], is_other: bool) -> V {
        let side = if is_other {
            -self.outboard
        } else {
            self.outboard
        };
        V::new(raw[0], side * raw[1], raw[2]) * self.scale
    }

    /// The points in mm, y outboard; how they move is asked with [`CornerNumbers::moved`].
    pub(super) fn points(&self) -> Points {
        let at = Key::ALL.map(|k| self.place(self.raw[k as usize], self.is_other[k as usize]));
        Points {
            at,
            spindle: self.spindle,
            loaded_mm: self.loaded_mm,
            foot: self.foot,
            damper_mm: self.damper_mm,
            motion: None,
        }
    }

    /// The same with how the wheel moves: what takes longest.
    pub(super) fn moved(&self, points: Points) -> Points {
        let motion = Motion::of(&points, self.rack_mm);
        Points { motion, ..points }
    }
}

/// One corner's points in mm, vehicle axes with y outboard.
pub(super) struct Points {
    at: [V; KEY_COUNT],
    pub spindle: V,
    pub loaded_mm: f64,
    pub foot: Foot,
    pub damper_mm: [f64; 2],
    /// How it moves; none where the parts can't be put together or can't follow 25 mm or the rack.
    pub motion: Option<Motion>,
}

impl Points {
    /// A point; of a strut its top mount where the upper ball joint is asked for.
    pub(super) fn at(&self, key: Key) -> V {
        let is_strut = self.foot == Foot::Strut;
        let key = match key {
            Key::UpperFront | Key::UpperRear | Key::UpperBall if is_strut => Key::DamperUpper,
            key => key,
        };
        self.at[key as usize]
    }
}

/// What 25 mm of travel and the locks do.
#[derive(Clone, Copy, Debug)]
pub(super) struct Motion {
    /// Greatest change of toe within 25 mm up and down, degrees.
    pub bump_steer_deg: f64,
    /// Greatest change of camber in that, degrees.
    pub camber_gain_deg: f64,
    /// Greatest plunge in that, mm.
    pub plunge_mm: f64,
    /// Change of the damper's length for a millimetre of travel.
    pub motion_ratio: f64,
    /// The lesser of the angles steered at the two locks, and the greater, degrees.
    pub lock_deg: [f64; 2],
}

/// How far up and down the wheel is moved, mm: an inch, the travel by which the trade states bump steer.
const TRAVEL_MM: f64 = 25.0;
/// Secant steps to that travel; the second is within a hundredth of a millimetre already.
const STEPS: usize = 4;

impl Motion {
    fn of(p: &Points, rack_mm: f64) -> Option<Motion> {
        let h = Hardpoints {
            lower_front: p.at(Key::LowerFront),
            lower_rear: p.at(Key::LowerRear),
            lower_ball: p.at(Key::LowerBall),
            upper: if p.foot == Foot::Strut {
                UpperLink::Strut
            } else {
                UpperLink::Arm(ArmPoints {
                    front: p.at(Key::UpperFront),
                    rear: p.at(Key::UpperRear),
                    ball: p.at(Key::UpperBall),
                })
            },
            tie_rod_inner: p.at(Key::RodInner),
            tie_rod_outer: p.at(Key::RodOuter),
            wheel_centre: p.at(Key::Wheel),
            spindle_axis: p.spindle,
            damper_upper: p.at(Key::DamperUpper),
            damper_lower: p.at(Key::DamperLower),
            damper_foot: match p.foot {
                Foot::LowerArm => DamperFoot::LowerArm,
                Foot::UpperArm => DamperFoot::UpperArm,
                Foot::Knuckle | Foot::Strut => DamperFoot::Knuckle,
            },
            outer_joint: p.at(Key::OuterJoint),
            outer_axis: p.spindle,
            inner_joint: p.at(Key::InnerJoint),
            flange_axis: V::y() * Side::Left.outboard(),
        };
        let linkage = Mechanism::new(h).ok()?;
        let solve = |alpha: f64, rack: f64| {
            let pose = linkage.solve(alpha, rack);
            pose.out_of_reach().is_none().then_some(pose)
        };
        let angles = |pose: &Linkage<f64>| {
            let s = pose.knuckle.direction(&p.spindle);
            [
                (-s.x).atan2(s.y).to_degrees(),
                (-s.z).clamp(-1.0, 1.0).asin().to_degrees(),
            ]
        };
        let here = solve(0.0, 0.0)?;
        let [toe, camber] = angles(&here);
        let z = here.wheel_centre.z;
        let arm = (p.at(Key::LowerBall) - p.at(Key::LowerFront))
            .norm()
            .max(1.0);
        let mut out = Motion {
            bump_steer_deg: 0.0,
            camber_gain_deg: 0.0,
            plunge_mm: 0.0,
            motion_ratio: 0.0,
            lock_deg: [0.0; 2],
        };
        let mut lengths = [0.0; 2];
        for (i, wanted) in [-TRAVEL_MM, TRAVEL_MM].into_iter().enumerate() {
            let (mut before, mut alpha) = ((0.0, 0.0), wanted / arm);
            let mut pose = solve(alpha, 0.0)?;
            for _ in 0..STEPS {
                let travel = pose.wheel_centre.z - z;
                let rise = (travel - before.1) / (alpha - before.0);
                if !rise.is_finite() || rise.abs() < 1.0 {
                    break;
                }
                before = (alpha, travel);
                alpha += (wanted - travel) / rise;
                pose = solve(alpha, 0.0)?;
            }
            let [t, c] = angles(&pose);
            out.bump_steer_deg = out.bump_steer_deg.max((t - toe).abs());
            out.camber_gain_deg = out.camber_gain_deg.max((c - camber).abs());
            out.plunge_mm = out.plunge_mm.max(pose.plunge_mm.abs());
            lengths[i] = pose.damper_mm;
        }
        out.motion_ratio = (lengths[0] - lengths[1]) / (2.0 * TRAVEL_MM);
        let locks = [-rack_mm, rack_mm]
            .map(|rack| solve(0.0, rack).map_or(f64::NAN, |pose| (angles(&pose)[0] - toe).abs()));
        out.lock_deg = if locks.iter().any(|l| l.is_nan()) {
            [f64::NAN; 2]
        } else {
            [locks[0].min(locks[1]), locks[0].max(locks[1])]
        };
        Some(out)
    }
}
