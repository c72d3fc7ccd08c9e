//! A point on a part in words that a tape can follow: its distances from two points of what the part belongs to.
//!
//! Both ends of a distance are taken where they are at one position of the truck, so that it doesn't matter in which drawing
//! a part or a point was given: a setup lowers pivots that parts stay drawn with.

use crate::suspension::{Body, HeldByTwo, Linkage};
use crate::truck::Corner;
use nalgebra::Vector3;

/// Distances of a point (vehicle coordinates) on a part from two marks, with the truck at one position.
pub fn tape(corner: &Corner, linkage: &Linkage<f64>, part: usize, point: &Vector3<f64>) -> String {
    let [(a, p), (b, q)] = marks(corner, linkage, corner.parts[part].body);
    format!(
        "{:.0} mm from the {a}, {:.0} mm from the {b}",
        (point - p).norm(),
        (point - q).norm()
    )
}

/// Two named points that a tape reaches near what is on a body, vehicle coordinates.
fn marks(corner: &Corner, linkage: &Linkage<f64>, body: Body) -> [(&'static str, Vector3<f64>); 2] {
    let h = &corner.positioner.linkage.hardpoints;
    let inner = ("inner joint", linkage.inner_joint);
    let cup = ("inner joint", h.inner_joint);
    let lower_ball = ("lower ball joint", linkage.lower_ball);
    let lower_front = ("lower front pivot", h.lower_front);
    let strut = ("top mount", h.damper_upper);
    let eyes = [
        ("damper upper eye", h.damper_upper),
        ("damper lower eye", linkage.damper_lower.anchor),
    ];
    let (top, pivot) = match h.upper_arm() {
        Some(arm) => (
            ("upper ball joint", linkage.kingpin_top),
            ("upper front pivot", arm.front),
        ),
        None => (strut, strut),
    };
    match body {
        Body::Halfshaft => [inner, ("outer joint", linkage.outer_joint)],
        Body::LowerArm => [lower_ball, lower_front],
        Body::UpperArm => [top, pivot],
        Body::Knuckle | Body::OuterJointHousing | Body::Wheel => [
            ("wheel centre", linkage.wheel_centre),
            // The top mount is no point of the knuckle.
            h.upper_arm().map_or(lower_ball, |_| top),
        ],
        Body::TieRod => [
            ("tie rod outer end", linkage.tie_rod_outer),
            ("tie rod inner end", linkage.tie_rod_inner),
        ],
        Body::Rack => [("tie rod inner end", linkage.tie_rod_inner), cup],
        Body::DamperUpper | Body::DamperLower => eyes,
        Body::InnerJointHousing | Body::Differential | Body::FrontDriveshaft => [cup, lower_front],
        Body::Frame => [lower_front, pivot],
        Body::Link(number) => match linkage.holders(usize::from(number)) {
            Some((HeldByTwo::Link(_), [a, b])) => {
                [("link's first end", a), ("link's second end", b)]
            }
            Some((HeldByTwo::Ring(_), [a, b])) => [
                ("middle of the boot's end on the housing", a),
                ("middle of its end on the shaft", b),
            ],
            Some((HeldByTwo::Coil(_), [a, b])) => {
                [("upper spring seat", a), ("lower spring seat", b)]
            }
            None => [lower_front, pivot],
        },
    }
}
