//! Points that a scene gives twice: a suspension point, and a drawn part that begins at it.
//!
//! A bar is drawn from a bushing, a housing about a joint. Where a part's end lies beside the point by just one slip (the
//! other two numbers the same, two numbers exchanged, another sign or unit), one of the two was written wrong.

use super::corner::{CornerNumbers, Key, V};
use crate::scene::{Fitted, Foot, Place, Point, Scene, ShapeEntry};
use crate::suspension::Body;

/// An end of a drawn part: where it is written, and its numbers.
#[derive(Clone)]
pub(super) struct End {
    pub path: String,
    pub raw: [f64; 3],
}

/// A part with the points that its body has.
#[derive(Clone)]
pub(super) struct DrawnPart {
    pub name: String,
    pub ends: Vec<End>,
    keys: &'static [Key],
    /// Whether it is on one of the damper's halves.
    is_damper: bool,
    /// Whether it is the damper's tube or spring, thick enough to stand on the line between its eyes.
    is_tube: bool,
}

/// A point and a part's end that differ by one slip.
pub(super) struct Mismatch {
    pub key: Key,
    pub part: usize,
    pub end: usize,
}

/// A part's end this near a point is drawn at it, mm: bushings have widths, rod ends lengths.
const AT_POINT_MM: f64 = 40.0;
/// And on the damper: a fork's leg stands this far beside the eye.
const BESIDE_EYE_MM: f64 = 75.0;
/// Two numbers this near are the same number, mm: both were copied from one measure.
const SAME_MM: f64 = 0.3;
/// Two parts' ends whose middle is this near a point stand on both sides of it, mm.
const BOTH_SIDES_MM: f64 = 6.0;
/// Bars on the damper thicker than this are its tube or spring, not a fork's leg, mm.
const TUBE_RADIUS_MM: f64 = 18.0;

fn numbers(p: &Point) -> [f64; 3] {
    [p.0, p.1, p.2]
}

impl DrawnPart {
    /// The parts of the described corner that move with its points.
    pub(super) fn all(scene: &Scene) -> Vec<DrawnPart> {
        let scale = scene.units.in_mm();
        let parts = scene.parts.iter().enumerate();
        parts
            .filter(|(_, part)| part.fitted == Fitted::EachSide)
            .filter_map(|(i, part)| {
                let keys = keys(part.on, scene.damper.lower_mount_on)?;
                let end = |field: &str, p: &Point| End {
                    path: format!("parts[{i}].shape.{field}"),
                    raw: numbers(p),
                };
                let (ends, radius) = match &part.shape {
                    ShapeEntry::Ball { centre, radius } => (vec![end("centre", centre)], *radius),
                    ShapeEntry::Capsule { from, to, radius }
                    | ShapeEntry::Cylinder { from, to, radius } => {
                        (vec![end("from", from), end("to", to)], *radius)
                    }
                    ShapeEntry::Cone {
                        from,
                        to,
                        radius_from,
                        ..
                    } => (vec![end("from", from), end("to", to)], *radius_from),
                    ShapeEntry::Lathe {
                        from: Some(from), ..
                    } => (vec![end("from", from)], 0.0),
                    // Where an end is named there is no second number to compare.
                    ShapeEntry::Bar {
                        from: Some(Place::At(from)),
                        to: Some(Place::At(to)),
                        diameter,
                        ..
                    } => (vec![end("from", from), end("to", to)], 0.5 * diameter),
                    ShapeEntry::Bar { .. }
                    | ShapeEntry::Cup { .. }
                    | ShapeEntry::Tyre { .. }
                    | ShapeEntry::Link { .. }
                    | ShapeEntry::Spring { .. }
                    | ShapeEntry::Boot { .. }
                    | ShapeEntry::Lathe { from: None, .. }
                    | ShapeEntry::Box { .. }
                    | ShapeEntry::Hull { .. }
                    | ShapeEntry::Mesh { .. } => return None,
                };
                let is_damper = matches!(part.on, Body::DamperUpper | Body::DamperLower);
                Some(DrawnPart {
                    name: part.name.clone(),
                    is_damper,
                    is_tube: is_damper && ends.len() == 2 && radius * scale >= TUBE_RADIUS_MM,
                    ends,
                    keys,
                })
            })
            .collect()
    }

    fn places(&self, corner: &CornerNumbers) -> Vec<V> {
        let at = |e: &End| corner.place(e.raw, false);
        let mut out: Vec<V> = self.ends.iter().map(at).collect();
        if let [a, b] = out[..] {
            out.push((a + b) * 0.5);
        }
        out
    }
}

/// The points on a body; none where it has none of its own.
fn keys(body: Body, foot: Foot) -> Option<&'static [Key]> {
    use Key as K;
    Some(match body {
        Body::LowerArm if foot == Foot::LowerArm => {
            &[K::LowerFront, K::LowerRear, K::LowerBall, K::DamperLower]
        }
        Body::LowerArm => &[K::LowerFront, K::LowerRear, K::LowerBall],
        Body::UpperArm if foot == Foot::UpperArm => {
            &[K::UpperFront, K::UpperRear, K::UpperBall, K::DamperLower]
        }
        Body::UpperArm => &[K::UpperFront, K::UpperRear, K::UpperBall],
        Body::Knuckle if foot == Foot::Strut => &[K::LowerBall, K::RodOuter, K::DamperLower],
        // Not the wheel centre and the outer joint: uprights pass above and below them.
        Body::Knuckle => &[K::LowerBall, K::UpperBall, K::RodOuter],
        Body::TieRod => &[K::RodInner, K::RodOuter],
        Body::DamperUpper | Body::DamperLower => &[K::DamperUpper, K::DamperLower],
        Body::Halfshaft => &[K::InnerJoint, K::OuterJoint],
        Body::InnerJointHousing => &[K::InnerJoint],
        Body::OuterJointHousing => &[K::OuterJoint],
        Body::Wheel => &[K::Wheel],
        Body::Frame | Body::Differential | Body::Rack | Body::FrontDriveshaft | Body::Link(_) => {
            return None;
        }
    })
}

/// Every point and end that differ by one slip.
pub(super) fn mismatches(corner: &CornerNumbers, parts: &[DrawnPart]) -> Vec<Mismatch> {
    let points =
        Key::ALL.map(|k| corner.place(corner.raw[k as usize], corner.is_other[k as usize]));
    // A fork's legs and the plates of a bracket stand on both sides of their point.
    let all: Vec<Vec<V>> = parts.iter().map(|p| p.places(corner)).collect();
    let has_twin = |part: usize, place: &V, point: &V| {
        let others = all.iter().enumerate().filter(|(i, _)| *i != part);
        let mut others = others.flat_map(|(_, places)| places);
        others.any(|other| ((other + place) * 0.5 - point).norm() <= BOTH_SIDES_MM)
    };
    let mut out = Vec::new();
    for (p, part) in parts.iter().enumerate() {
        let places = part.places(corner);
        let at_point_mm = if part.is_damper {
            BESIDE_EYE_MM
        } else {
            AT_POINT_MM
        };
        let is_near = |a: &V, b: &V| (a - b).norm() <= at_point_mm;
        let is_free = |place: &V| {
            !part
                .keys
                .iter()
                .any(|k| is_near(place, &points[*k as usize]))
        };
        if places.len() == 3 && !is_free(&places[2]) {
            continue;
        }
        for key in part.keys {
            let point = points[*key as usize];
            if corner.is_other[*key as usize] || places.iter().any(|place| is_near(place, &point)) {
                continue;
            }
            for (e, end) in part.ends.iter().enumerate() {
                if is_free(&places[e])
                    && !has_twin(p, &places[e], &point)
                    && is_one_slip(corner.raw[*key as usize], end.raw, corner.scale)
                {
                    out.push(Mismatch {
                        key: *key,
                        part: p,
                        end: e,
                    });
                }
            }
        }
    }
    out
}

/// Whether two points that are apart have the same numbers but for one slip.
fn is_one_slip(a: [f64; 3], b: [f64; 3], scale: f64) -> bool {
    let same = |a: f64, b: f64| (a - b).abs() * scale <= SAME_MM;
    let all = |c: [f64; 3]| (0..3).all(|i| same(c[i], b[i]));
    let [x, y, z] = a;
    let is_one_number = (0..3).filter(|i| same(a[*i], b[*i])).count() == 2;
    let exchanged = [[y, x, z], [z, y, x], [x, z, y]];
    is_one_number
        || exchanged.into_iter().any(all)
        || [25.4, 1.0 / 25.4].iter().any(|k| all(a.map(|c| c * k)))
}

/// How many parts' ends lie on a point that their body has: the more, the surer is the point.
pub(super) fn coincidences(corner: &CornerNumbers, parts: &[DrawnPart]) -> usize {
    let mut count = 0;
    for part in parts {
        for place in part.places(corner) {
            let on = |k: &&Key| {
                let i = **k as usize;
                (corner.place(corner.raw[i], corner.is_other[i]) - place).norm() <= SAME_MM
            };
            count += part.keys.iter().filter(on).count();
        }
    }
    count
}

/// How far a tube or spring may stand off the line between the damper's eyes, mm: brackets and bends take a little.
const OFF_LINE_MM: f64 = 35.0;

/// The damper's parts that stand off the line between its eyes: how far, mm.
pub(super) fn off_the_damper(corner: &CornerNumbers, parts: &[DrawnPart]) -> Vec<(usize, f64)> {
    let at = |k: Key| corner.place(corner.raw[k as usize], corner.is_other[k as usize]);
    let (top, foot) = (at(Key::DamperUpper), at(Key::DamperLower));
    let along = (top - foot).normalize();
    let is_other = corner.is_other[Key::DamperUpper as usize];
    let tubes = parts
        .iter()
        .enumerate()
        .filter(|(_, p)| p.is_tube && !is_other);
    tubes
        .filter_map(|(i, part)| {
            let off = |e: &End| {
                let d = corner.place(e.raw, false) - foot;
                (d - along * d.dot(&along)).norm()
            };
            let worst = part.ends.iter().map(off).fold(0.0, f64::max);
            (worst.is_nan() || worst > OFF_LINE_MM).then_some((i, worst))
        })
        .collect()
}
