//! Lengths of setups: each by itself against what is usual, and points of other parts against those as measured.
//!
//! What a change's number does to the truck shows elsewhere: wheels a yard out, a damper that can't be reached. So the number
//! is looked at where it stands, before anything is made of it, and blamed where the setup can't be put together.

use super::{Implausible, Slip, Unit, Unusual, scale, short, written};
use crate::scene::{Arm, ArmChange, Change, Plunge, Point, Scene, TyreSize};

/// What is usual of a length in a change, mm from and to, and why.
struct Usual {
    range_mm: [f64; 2],
    reason: &'static str,
}

const fn usual(low: f64, high: f64, reason: &'static str) -> Usual {
    Usual {
        range_mm: [low, high],
        reason,
    }
}

const RIDE: Usual = usual(-180.0, 180.0, "lifts of up to 100, lowered by up to 80");
const GROWS: Usual = usual(
    -200.0,
    300.0,
    "dampers, straps and rods differ by up to 150",
);
const EYE_TO_EYE: Usual = usual(150.0, 1200.0, "dampers are 250 to 900 from eye to eye");
const SPACER: Usual = usual(0.0, 110.0, "up to 75");
const STOP: Usual = usual(5.0, 1100.0, "no longer than a damper");
const STRAP: Usual = usual(60.0, 1200.0, "200 to 600");
const SHAFT: Usual = usual(150.0, 1300.0, "300 to 900");
const SHAFT_DIAMETER: Usual = usual(17.0, 48.0, "22 to 38");
const PITCH_RADIUS: Usual = usual(13.0, 50.0, "20 to 38");
const PLUNGE: Usual = usual(-90.0, 90.0, "15 to 30 each way");
const HOSE: Usual = usual(60.0, 2500.0, "150 to 1000");
const HOSE_GROWS: Usual = usual(-400.0, 800.0, "up to 300");
const RACK: Usual = usual(20.0, 140.0, "60 to 95 to each side");
const LIMITER: Usual = usual(0.0, 90.0, "3 to 25");
const DROP: Usual = usual(-60.0, 260.0, "25 to 150");
const TYRE_DIAMETER: Usual = usual(540.0, 1170.0, "24 to 44 inches");
const TYRE_WIDTH: Usual = usual(130.0, 500.0, "185 to 400");
const RIM: Usual = usual(300.0, 680.0, "14 to 24 inches");
const LOADED: Usual = usual(250.0, 580.0, "tyres of 24 to 44 inches");
const OFFSET: Usual = usual(-120.0, 180.0, "wheels and hub spacers, up to 100");
/// Between a point of another part and the one as measured: kits move pivots and ball joints by up to 150 mm.
const MOVED: Usual = usual(0.0, 350.0, "kits move points by up to 150");

/// A length in a change: its field, the value as written, and what is usual.
type Field = (&'static str, f64, &'static Usual);
/// A point in a change: its field, as written, and the one as measured.
type Moved = (&'static str, Point, Point);

/// Everything unusual in the setups that a setup is made of; of every setup where none is named.
pub(crate) fn of_setups(scene: &Scene, setup: Option<&str>) -> Vec<Implausible> {
    let mut wanted: Vec<usize> = Vec::new();
    let mut next = setup;
    while let Some(i) = next.and_then(|name| scene.setups.iter().position(|s| s.name == name)) {
        // Setups that are made on each other in a circle are refused elsewhere.
        if wanted.contains(&i) {
            break;
        }
        wanted.push(i);
        next = scene.setups[i].on.as_deref();
    }
    let is_wanted = |i: &usize| setup.is_none() || wanted.contains(i);
    let mut out = Vec::new();
    for i in (0..scene.setups.len()).filter(is_wanted) {
        let setup = &scene.setups[i];
        for (j, change) in setup.changes.iter().enumerate() {
            let path = format!("setups[{i}].changes[{j}]");
            let of = format!("of `{}` in the setup `{}`", change.name(), setup.name);
            let lengths = lengths(change).into_iter();
            out.extend(lengths.filter_map(|field| of_length(scene, &path, &of, &field)));
            let points = points(change, scene).into_iter();
            out.extend(points.filter_map(|moved| of_point(scene, &path, &of, &moved)));
        }
    }
    out
}

/// The factor that takes a number written in the other unit into the scene's, and its slip.
fn other_unit(scene: &Scene) -> (f64, Slip) {
    let is_mm = scale(scene.units) == 1.0;
    let slip = Slip::Unit {
        axis: None,
        in_inches: is_mm,
    };
    (if is_mm { 25.4 } else { 1.0 / 25.4 }, slip)
}

fn of_length(scene: &Scene, path: &str, of: &str, field: &Field) -> Option<Implausible> {
    let (name, raw, usual) = field;
    let [low, high] = usual.range_mm;
    let is_usual = |raw: f64| (low..=high).contains(&(raw * scale(scene.units)));
    // What is no number at all is refused where it is used.
    if !raw.is_finite() || is_usual(*raw) {
        return None;
    }
    let (factor, slip) = other_unit(scene);
    let tries = [(slip, factor * raw), (Slip::NumberSign, -raw)];
    let likely = tries.into_iter().find(|(_, meant)| is_usual(*meant));
    Some(Implausible {
        path: format!("{path}.{name}"),
        line: None,
        written: short(*raw),
        shows: vec![Unusual {
            name: format!("`{name}` {of}"),
            unit: Unit::Mm,
            value: raw * scale(scene.units),
            range: usual.range_mm,
            reason: usual.reason,
        }],
        is_whole: likely.is_some(),
        alternative: None,
        likely: likely.map(|(slip, meant)| (slip, short(meant))),
    })
}

fn of_point(scene: &Scene, path: &str, of: &str, moved: &Moved) -> Option<Implausible> {
    let (name, point, before) = moved;
    // A change for one side has that side's own points.
    let apart_mm = |p: [f64; 3]| {
        let d = [
            p[0] - before.0,
            p[1].abs() - before.1.abs(),
            p[2] - before.2,
        ];
        scale(scene.units) * d.iter().map(|d| d * d).sum::<f64>().sqrt()
    };
    let raw = [point.0, point.1, point.2];
    let is_usual = |p: [f64; 3]| apart_mm(p) <= MOVED.range_mm[1];
    if raw.iter().any(|c| !c.is_finite()) || is_usual(raw) {
        return None;
    }
    let likely = super::mends::in_other_unit(raw, scale(scene.units))
        .into_iter()
        .filter(|(_, meant)| is_usual(*meant))
        .min_by(|(_, a), (_, b)| apart_mm(*a).total_cmp(&apart_mm(*b)))
        .map(|(slip, meant)| (slip, written(meant)));
    Some(Implausible {
        path: format!("{path}.{name}"),
        line: None,
        written: written(raw),
        shows: vec![Unusual {
            name: format!("the distance of `{name}` {of} from where it was measured"),
            unit: Unit::Mm,
            value: apart_mm(raw),
            range: MOVED.range_mm,
            reason: MOVED.reason,
        }],
        is_whole: likely.is_some(),
        alternative: None,
        likely,
    })
}

/// Every length in a change that is one number.
fn lengths(change: &Change) -> Vec<Field> {
    let given = |fields: &[(&'static str, Option<f64>, &'static Usual)]| -> Vec<Field> {
        let known = fields.iter();
        known
            .filter_map(|(f, raw, u)| Some((*f, (*raw)?, *u)))
            .collect()
    };
    let plunge = |p: &Option<Plunge>| p.map_or([None; 2], |p| [Some(p.inner), Some(p.outer)]);
    match change {
        Change::RideHeight { up, by: _ } => vec![("up", *up, &RIDE)],
        Change::Damper {
            longer,
            body_gains,
            extended,
            compressed,
            ..
        } => given(&[
            ("longer", *longer, &GROWS),
            ("body_gains", *body_gains, &GROWS),
            ("extended", *extended, &EYE_TO_EYE),
            ("compressed", *compressed, &EYE_TO_EYE),
        ]),
        Change::DamperSpacer(spacer) => vec![("thickness", spacer.thickness, &SPACER)],
        Change::BumpStop(stop) => {
            vec![
                ("contact", stop.contact, &STOP),
                ("crushed", stop.crushed, &STOP),
            ]
        }
        Change::Strap { length, longer, .. } => {
            given(&[("length", *length, &STRAP), ("longer", *longer, &GROWS)])
        }
        Change::TieRodEnd { longer, .. } => given(&[("longer", *longer, &GROWS)]),
        Change::Halfshaft {
            length,
            longer,
            plunge: ends,
            diameter,
            track_pitch_radius,
            ball_pitch_radius,
            ..
        } => {
            let [inner, outer] = plunge(ends);
            given(&[
                ("length", *length, &SHAFT),
                ("longer", *longer, &GROWS),
                ("plunge.inner", inner, &PLUNGE),
                ("plunge.outer", outer, &PLUNGE),
                ("diameter", *diameter, &SHAFT_DIAMETER),
                ("track_pitch_radius", *track_pitch_radius, &PITCH_RADIUS),
                ("ball_pitch_radius", *ball_pitch_radius, &PITCH_RADIUS),
            ])
        }
        Change::Hose {
            longest, longer, ..
        } => given(&[
            ("longest", *longest, &HOSE),
            ("longer", *longer, &HOSE_GROWS),
        ]),
        Change::Rack { travel, .. } => given(&[
            ("travel.left", travel.map(|t| t.left), &RACK),
            ("travel.right", travel.map(|t| t.right), &RACK),
        ]),
        Change::RackLimiter { left, right } => {
            vec![("left", *left, &LIMITER), ("right", *right, &LIMITER)]
        }
        Change::DropBrackets { by, .. } => vec![("by", *by, &DROP)],
        Change::DifferentialSpacers { thickness } => vec![("thickness", *thickness, &DROP)],
        Change::DifferentialDrop { by } => vec![("by", *by, &DROP)],
        Change::Tyre {
            size,
            loaded_radius,
            wheels: _,
        } => {
            let mut out = given(&[("loaded_radius", *loaded_radius, &LOADED)]);
            if let TyreSize::Measured {
                diameter,
                width,
                rim_diameter,
            } = size
            {
                out.extend([
                    ("size.diameter", *diameter, &TYRE_DIAMETER),
                    ("size.width", *width, &TYRE_WIDTH),
                    ("size.rim_diameter", *rim_diameter, &RIM),
                ]);
            }
            out
        }
        Change::WheelOffset { outboard, .. } => vec![("outboard", *outboard, &OFFSET)],
        Change::UpperArm(_)
        | Change::LowerArm(_)
        | Change::Knuckle { .. }
        | Change::ReplacePart { .. }
        | Change::AddPart { .. }
        | Change::RemovePart { .. }
        | Change::MovePart { .. } => Vec::new(),
    }
}

/// Every point of the suspension in a change, beside the measured one.
fn points(change: &Change, scene: &Scene) -> Vec<Moved> {
    let given = |fields: &[(&'static str, Option<Point>, Point)]| -> Vec<Moved> {
        let known = fields.iter();
        known
            .filter_map(|(f, p, before)| Some((*f, (*p)?, *before)))
            .collect()
    };
    let arm = |arm: &ArmChange, before: [Point; 3]| {
        let [front, rear, ball] = before;
        given(&[
            ("front_pivot", arm.front_pivot, front),
            ("rear_pivot", arm.rear_pivot, rear),
            ("ball_joint", arm.ball_joint, ball),
        ])
    };
    let points = |arm: &Arm| [arm.front_pivot, arm.rear_pivot, arm.ball_joint];
    let lower = points(&scene.lower_arm);
    // A strut's knuckle has its upper end in the top mount.
    let upper = scene
        .upper_arm
        .as_ref()
        .map_or([scene.damper.upper_mount; 3], points);
    let rod_outer = scene.knuckle.tie_rod_outer;
    match change {
        Change::UpperArm(own) => arm(own, upper),
        Change::LowerArm(own) => arm(own, lower),
        Change::Knuckle {
            ball_joints,
            wheel_centre,
            tie_rod_outer,
            outer_joint,
            ..
        } => given(&[
            ("ball_joints", ball_joints.map(|(low, _)| low), lower[2]),
            ("ball_joints", ball_joints.map(|(_, high)| high), upper[2]),
            ("wheel_centre", *wheel_centre, scene.knuckle.wheel_centre),
            ("tie_rod_outer", *tie_rod_outer, rod_outer),
            ("outer_joint", *outer_joint, scene.halfshaft.outer_joint),
        ]),
        Change::TieRodEnd { outer, .. } => given(&[("outer", *outer, rod_outer)]),
        Change::Rack { tie_rod_inner, .. } => {
            given(&[("tie_rod_inner", *tie_rod_inner, scene.rack.tie_rod_inner)])
        }
        Change::Damper {
            upper_mount,
            lower_mount,
            ..
        } => given(&[
            ("upper_mount", *upper_mount, scene.damper.upper_mount),
            ("lower_mount", *lower_mount, scene.damper.lower_mount),
        ]),
        Change::RideHeight { .. }
        | Change::DamperSpacer(_)
        | Change::BumpStop(_)
        | Change::Strap { .. }
        | Change::Halfshaft { .. }
        | Change::Hose { .. }
        | Change::RackLimiter { .. }
        | Change::DropBrackets { .. }
        | Change::DifferentialSpacers { .. }
        | Change::DifferentialDrop { .. }
        | Change::Tyre { .. }
        | Change::WheelOffset { .. }
        | Change::ReplacePart { .. }
        | Change::AddPart { .. }
        | Change::RemovePart { .. }
        | Change::MovePart { .. } => Vec::new(),
    }
}
