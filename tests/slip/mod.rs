//! Slips that people make in a scene's numbers, made at random in good scenes.

// Each test file uses its own part of this module.
#![allow(dead_code)]

use super::dice::Dice;
use bindpoint::scene::{number_fields, with_number};
use nalgebra::Vector3;

/// What was done.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// Two of a point's numbers exchanged.
    Exchanged,
    /// Another sign of x or y.
    Sign,
    /// A point in the other unit.
    PointInOtherUnit,
    /// One number in the other unit.
    NumberInOtherUnit,
    /// A number off by 100 mm.
    Hundred,
    /// A number off by an inch.
    Inch,
    /// A wrong digit: 10 inches, or 200 mm.
    Digit,
    /// A decimal point misplaced.
    DecimalPoint,
    /// Two points exchanged.
    Points,
    /// An angle in radians.
    Radians,
    /// A diameter for a radius, or the other way round.
    Half,
    /// A length that is no point in the other unit.
    LengthInOtherUnit,
}

/// Slips in points.
pub const OF_POINTS: [Kind; 9] = [
    Kind::Exchanged,
    Kind::Sign,
    Kind::PointInOtherUnit,
    Kind::NumberInOtherUnit,
    Kind::Hundred,
    Kind::Inch,
    Kind::Digit,
    Kind::DecimalPoint,
    Kind::Points,
];
/// Slips in other numbers.
pub const OF_NUMBERS: [Kind; 3] = [Kind::Radians, Kind::Half, Kind::LengthInOtherUnit];

/// A scene with a slip.
#[derive(Debug)]
pub struct Slip {
    /// What was done.
    pub kind: Kind,
    /// Where; two fields where they were exchanged.
    pub fields: Vec<String>,
    /// By how much a point was moved, mm; none for other numbers.
    pub moved_mm: Option<f64>,
    /// The scene's text.
    pub text: String,
}

/// The points of a scene's suspension, and of what is tied to it by two ends: path and numbers.
pub fn points(text: &str) -> Vec<(String, Vector3<f64>)> {
    let is_suspension = |path: &str| {
        let own = path.strip_prefix("other_side.").unwrap_or(path);
        [
            "lower_arm.",
            "upper_arm.",
            "knuckle.",
            "rack.",
            "damper.",
            "halfshaft.",
            "hoses[",
        ]
        .iter()
        .any(|start| own.starts_with(start))
            && !own.contains("spindle")
            && !own.contains("plunge_polygon")
    };
    by_threes(text)
        .into_iter()
        .filter(|(path, _)| is_suspension(path))
        .collect()
}

/// The points that drawn parts are made of.
pub fn part_points(text: &str) -> Vec<(String, Vector3<f64>)> {
    let ends = [".from", ".to", ".centre"];
    by_threes(text)
        .into_iter()
        .filter(|(path, _)| {
            path.starts_with("parts[") && ends.iter().any(|end| path.ends_with(end))
        })
        .collect()
}

fn by_threes(text: &str) -> Vec<(String, Vector3<f64>)> {
    let fields = number_fields(text);
    fields
        .windows(3)
        .filter_map(|w| {
            let stem = w[0].path.strip_suffix("[0]")?;
            let is_point = (1..3).all(|i| w[i].path == format!("{stem}[{i}]"));
            is_point.then(|| {
                (
                    stem.to_owned(),
                    Vector3::new(w[0].value, w[1].value, w[2].value),
                )
            })
        })
        .collect()
}

fn with_point(text: &str, path: &str, p: Vector3<f64>) -> String {
    (0..3).fold(text.to_owned(), |text, i| {
        with_number(&text, &format!("{path}[{i}]"), p[i]).expect("a point's number")
    })
}

/// A slip of a kind in one of `points`; none where it would change nothing.
pub fn of_point(
    text: &str,
    unit_mm: f64,
    points: &[(String, Vector3<f64>)],
    kind: Kind,
    dice: &mut Dice,
) -> Option<Slip> {
    let (path, p) = &points[dice.below(points.len())];
    let axis = dice.below(3);
    let sign = [1.0, -1.0][dice.below(2)];
    let other_unit = if unit_mm == 1.0 { 1.0 / 25.4 } else { 25.4 };
    let rounded = |v: f64| (v * 1000.0).round() / 1000.0;
    let mut q = *p;
    let mut fields = vec![path.clone()];
    match kind {
        Kind::Exchanged => q.swap((axis, 0), ((axis + 1) % 3, 0)),
        Kind::Sign => q[axis.min(1)] *= -1.0,
        Kind::PointInOtherUnit => q = q.map(|c| rounded(c * other_unit)),
        Kind::NumberInOtherUnit => q[axis] = rounded(q[axis] * other_unit),
        Kind::Hundred => q[axis] += sign * rounded(100.0 / unit_mm),
        Kind::Inch => q[axis] += sign * rounded(25.4 / unit_mm),
        Kind::Digit => q[axis] += sign * if unit_mm == 1.0 { 200.0 } else { 10.0 },
        Kind::DecimalPoint => q[axis] = rounded(q[axis] * [10.0, 0.1][dice.below(2)]),
        Kind::Points => {
            let (other, there) = &points[dice.below(points.len())];
            q = *there;
            fields.push(other.clone());
        }
        Kind::Radians | Kind::Half | Kind::LengthInOtherUnit => return None,
    }
    let moved = (q - p).norm() * unit_mm;
    if moved < 1.0 {
        return None;
    }
    let mut slipped = with_point(text, path, q);
    if let Some(other) = fields.get(1) {
        slipped = with_point(&slipped, other, *p);
    }
    Some(Slip {
        kind,
        fields,
        moved_mm: Some(moved),
        text: slipped,
    })
}

/// A slip of a kind in a number that is no point; none where the scene has none for it.
pub fn of_number(text: &str, unit_mm: f64, kind: Kind, dice: &mut Dice) -> Option<Slip> {
    let fits = |path: &str| {
        let ends =
            |all: &[&str]| all.iter().any(|end| path.ends_with(end)) && !path.starts_with("setups");
        match kind {
            Kind::Radians => ends(&[
                "half_angle_deg",
                "inner_limit_deg",
                "outer_limit_deg",
                "steering_stop_deg.left",
            ]),
            Kind::Half => ends(&[
                "knuckle.loaded_radius",
                "halfshaft.diameter",
                "track_pitch_radius",
            ]),
            _ => {
                ends(&[
                    "knuckle.loaded_radius",
                    "halfshaft.diameter",
                    "damper.extended",
                    "damper.compressed",
                    "rear.wheelbase",
                    "longest",
                    "strap.length",
                ]) || path.starts_with("watch[") && unit_mm == 1.0
            }
        }
    };
    let fields: Vec<_> = number_fields(text)
        .into_iter()
        .filter(|f| fits(&f.path) && f.value != 0.0)
        .collect();
    if fields.is_empty() {
        return None;
    }
    let field = &fields[dice.below(fields.len())];
    let other_unit = if unit_mm == 1.0 { 1.0 / 25.4 } else { 25.4 };
    let value = match kind {
        Kind::Radians => field.value.to_radians(),
        // A diameter is measured, a radius asked for, and the other way round.
        Kind::Half if field.path.ends_with("diameter") => 0.5 * field.value,
        Kind::Half => 2.0 * field.value,
        // A gap of 30 inches in a list of millimetres.
        _ if field.path.starts_with("watch[") => field.value * 25.4 * 5.0,
        _ => field.value * other_unit,
    };
    Some(Slip {
        kind,
        fields: vec![field.path.clone()],
        moved_mm: None,
        text: with_number(text, &field.path, value)?,
    })
}
