//! Points of the suspension that a shape may name instead of giving coordinates.
//!
//! The idea: a bar that is drawn from `lower_arm.ball_joint` goes where that point goes, with another arm, on the other
//! side, after a slip is mended. The names are the scene's own fields, so that there is nothing to learn.
//!
//! Reads: text. Produces: a [`Place`]. Next: [`crate::truck`], which knows where each side has its points.

use super::types::Point;
use serde::de::value::SeqAccessDeserializer;
use serde::de::{Deserialize, Deserializer, Error, SeqAccess, Visitor};
use serde::ser::{Serialize, Serializer};
use std::fmt;

/// A point of the suspension, by the field that holds it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NamedPoint {
    /// Lower arm's front bushing.
    LowerArmFrontPivot,
    /// Lower arm's rear bushing.
    LowerArmRearPivot,
    /// Lower ball joint.
    LowerArmBallJoint,
    /// Upper arm's front bushing.
    UpperArmFrontPivot,
    /// Upper arm's rear bushing.
    UpperArmRearPivot,
    /// Upper ball joint.
    UpperArmBallJoint,
    /// Wheel centre.
    WheelCentre,
    /// Tie rod's end on the knuckle.
    TieRodOuter,
    /// Tie rod's end on the rack.
    TieRodInner,
    /// Damper's eye on the frame.
    DamperUpperMount,
    /// Damper's lower eye.
    DamperLowerMount,
    /// Outer joint's centre.
    OuterJoint,
    /// Inner joint's centre.
    InnerJoint,
}

impl NamedPoint {
    /// Every one, in the order of a scene's fields.
    pub const ALL: [NamedPoint; 13] = [
        NamedPoint::LowerArmFrontPivot,
        NamedPoint::LowerArmRearPivot,
        NamedPoint::LowerArmBallJoint,
        NamedPoint::UpperArmFrontPivot,
        NamedPoint::UpperArmRearPivot,
        NamedPoint::UpperArmBallJoint,
        NamedPoint::WheelCentre,
        NamedPoint::TieRodOuter,
        NamedPoint::TieRodInner,
        NamedPoint::DamperUpperMount,
        NamedPoint::DamperLowerMount,
        NamedPoint::OuterJoint,
        NamedPoint::InnerJoint,
    ];

    /// The field that holds it, as written.
    pub fn name(self) -> &'static str {
        match self {
            NamedPoint::LowerArmFrontPivot => "lower_arm.front_pivot",
            NamedPoint::LowerArmRearPivot => "lower_arm.rear_pivot",
            NamedPoint::LowerArmBallJoint => "lower_arm.ball_joint",
            NamedPoint::UpperArmFrontPivot => "upper_arm.front_pivot",
            NamedPoint::UpperArmRearPivot => "upper_arm.rear_pivot",
            NamedPoint::UpperArmBallJoint => "upper_arm.ball_joint",
            NamedPoint::WheelCentre => "knuckle.wheel_centre",
            NamedPoint::TieRodOuter => "knuckle.tie_rod_outer",
            NamedPoint::TieRodInner => "rack.tie_rod_inner",
            NamedPoint::DamperUpperMount => "damper.upper_mount",
            NamedPoint::DamperLowerMount => "damper.lower_mount",
            NamedPoint::OuterJoint => "halfshaft.outer_joint",
            NamedPoint::InnerJoint => "halfshaft.inner_joint",
        }
    }

    /// The point of a name; else what to say of it, with the names that are most like it.
    fn of(written: &str) -> Result<NamedPoint, String> {
        let wanted = written.trim();
        if let Some(found) = NamedPoint::ALL.into_iter().find(|p| p.name() == wanted) {
            return Ok(found);
        }
        let last = |name: &str| name.rsplit('.').next().unwrap_or(name).to_owned();
        let mut known: Vec<(f64, &str)> = NamedPoint::ALL
            .into_iter()
            .map(|p| {
                // Either the whole is nearly right, or the field's own name without its group is.
                let whole = strsim::jaro_winkler(wanted, p.name());
                let own = strsim::jaro_winkler(&last(wanted), &last(p.name()));
                (whole.max(own), p.name())
            })
            .collect();
        known.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(b.1)));
        let near = known.iter().filter(|(alike, _)| *alike >= ALIKE);
        let near: Vec<String> = near
            .take(NEAREST)
            .map(|(_, name)| format!("`{name}`"))
            .collect();
        let help = if near.is_empty() {
            let all = NamedPoint::ALL.map(|p| format!("`{}`", p.name()));
            format!("the names are {}", all.join(", "))
        } else {
            format!("did you mean {}?", near.join(" or "))
        };
        Err(format!(
            "no point is named `{wanted}`: give (x, y, z), or the name of one of the scene's points; {help}"
        ))
    }
}

/// Names told as the nearest: more are no help.
const NEAREST: usize = 3;
/// How alike a misspelt name and the meant one are, of 1, by Jaro and Winkler's measure: two slips in a name of this length.
const ALIKE: f64 = 0.85;

/// Where something is: by its coordinates, or at a point of the suspension.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Place {
    /// Coordinates.
    At(Point),
    /// A point of the suspension, and wherever that goes.
    Named(NamedPoint),
}

impl Serialize for Place {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self {
            Place::At(point) => point.serialize(serializer),
            Place::Named(point) => serializer.serialize_str(point.name()),
        }
    }
}

impl<'de> Deserialize<'de> for Place {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Place, D::Error> {
        struct Reader;
        impl<'de> Visitor<'de> for Reader {
            type Value = Place;
            fn expecting(&self, f: &mut fmt::Formatter) -> fmt::Result {
                f.write_str(
                    "a point (x, y, z), or the name of one, such as \"lower_arm.ball_joint\"",
                )
            }
            fn visit_str<E: Error>(self, text: &str) -> Result<Place, E> {
                NamedPoint::of(text).map(Place::Named).map_err(E::custom)
            }
            fn visit_seq<A: SeqAccess<'de>>(self, seq: A) -> Result<Place, A::Error> {
                Point::deserialize(SeqAccessDeserializer::new(seq)).map(Place::At)
            }
        }
        deserializer.deserialize_any(Reader)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_and_points_are_read_and_written_alike() {
        for point in NamedPoint::ALL {
            let text = format!("{:?}", point.name());
            let place: Place = ron::from_str(&text).expect("a name");
            assert_eq!(place, Place::Named(point));
            assert_eq!(ron::to_string(&place).expect("text"), text);
        }
        let place: Place = ron::from_str("(1, -2.5, \"3 1/2\")").expect("a point");
        assert_eq!(place, Place::At(Point(1.0, -2.5, 3.5)));
    }

    #[test]
    fn a_misspelt_point_is_answered_by_the_nearest_names() {
        for (written, meant) in [
            ("lower_arm.ball_jont", "`lower_arm.ball_joint`"),
            ("lower arm.ball_joint", "`lower_arm.ball_joint`"),
            ("knuckle.tie_rod_outr", "`knuckle.tie_rod_outer`"),
            ("wheel_centre", "`knuckle.wheel_centre`"),
            ("rack.inner_joint", "`halfshaft.inner_joint`"),
        ] {
            let why = NamedPoint::of(written).expect_err(written);
            let asked = why.split("did you mean ").nth(1).expect("a question");
            assert!(asked.starts_with(meant), "{written}: {why}");
        }
        let why = NamedPoint::of("zzz").expect_err("no such point");
        assert!(
            why.contains("the names are `lower_arm.front_pivot`"),
            "{why}"
        );
    }
}
