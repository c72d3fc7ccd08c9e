//! The bodies of one corner, and how a body is placed.

use crate::numbers::{Real, lift, turn};
use nalgebra::{Matrix3, Vector3};
use serde::{Deserialize, Serialize};

/// A side of the truck. Left is +y (ISO 8855).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Side {
    /// The +y side.
    Left,
    /// The -y side.
    Right,
}

impl Side {
    /// The other side.
    pub fn opposite(self) -> Side {
        match self {
            Side::Left => Side::Right,
            Side::Right => Side::Left,
        }
    }
    /// +1 where outboard is +y, -1 where it is -y.
    pub fn outboard(self) -> f64 {
        match self {
            Side::Left => 1.0,
            Side::Right => -1.0,
        }
    }
    /// As printed.
    pub fn name(self) -> &'static str {
        match self {
            Side::Left => "left",
            Side::Right => "right",
        }
    }
}

/// A body that carries parts. Several bodies may share one [`Motion`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Body {
    /// The frame and everything bolted to it.
    Frame,
    /// The front differential.
    Differential,
    /// The steering rack; slides along +y.
    Rack,
    /// The lower control arm.
    LowerArm,
    /// The upper control arm.
    UpperArm,
    /// The knuckle.
    Knuckle,
    /// The tie rod.
    TieRod,
    /// The damper's half at the upper eye.
    DamperUpper,
    /// The damper's half at the lower eye.
    DamperLower,
    /// The halfshaft; turns about its own axis.
    Halfshaft,
    /// The inner joint's housing; turns about the output flange's axis.
    InnerJointHousing,
    /// The outer joint's housing; turns about the outer joint's axis in the knuckle.
    OuterJointHousing,
    /// Wheel and tyre; turn about the spindle.
    Wheel,
    /// The front driveshaft, from the transfer case to the pinion; turns about the line through its joints.
    FrontDriveshaft,
    /// A link, or a boot's or a coil spring's slice, between two other bodies, by its number on the corner. No scene names it: it is made of a
    /// part's two ends.
    #[serde(skip)]
    Link(u8),
}

/// By name; of a link its number says nothing to a reader.
impl Serialize for Body {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        // Formats that number their variants are used nowhere.
        serializer.serialize_unit_variant("Body", 0, self.name())
    }
}

impl Body {
    /// As written in a scene file and printed.
    pub fn name(self) -> &'static str {
        match self {
            Body::Frame => "frame",
            Body::Differential => "differential",
            Body::Rack => "rack",
            Body::LowerArm => "lower_arm",
            Body::UpperArm => "upper_arm",
            Body::Knuckle => "knuckle",
            Body::TieRod => "tie_rod",
            Body::DamperUpper => "damper_upper",
            Body::DamperLower => "damper_lower",
            Body::Halfshaft => "halfshaft",
            Body::InnerJointHousing => "inner_joint_housing",
            Body::OuterJointHousing => "outer_joint_housing",
            Body::Wheel => "wheel",
            Body::FrontDriveshaft => "front_driveshaft",
            Body::Link(_) => "link",
        }
    }

    /// Whether the springs carry all of it: what stands still in the frame, what the frame holds at its own height (the
    /// rack), and the damper's upper half. Arms, rods, shafts and links are carried at one end only and count as unsprung.
    pub fn is_sprung(self) -> bool {
        match self {
            Body::Frame
            | Body::Differential
            | Body::Rack
            | Body::DamperUpper
            | Body::InnerJointHousing
            | Body::FrontDriveshaft => true,
            Body::LowerArm
            | Body::UpperArm
            | Body::Knuckle
            | Body::TieRod
            | Body::DamperLower
            | Body::Halfshaft
            | Body::OuterJointHousing
            | Body::Wheel
            | Body::Link(_) => false,
        }
    }

    /// The motion the body follows, its turning about its own axis left out.
    pub fn motion(self) -> Motion {
        match self {
            Body::Frame | Body::Differential | Body::InnerJointHousing | Body::FrontDriveshaft => {
                Motion::Frame
            }
            Body::Rack => Motion::Rack,
            Body::LowerArm => Motion::LowerArm,
            Body::UpperArm => Motion::UpperArm,
            Body::Knuckle | Body::OuterJointHousing | Body::Wheel => Motion::Knuckle,
            Body::TieRod => Motion::TieRod,
            Body::DamperUpper => Motion::DamperUpper,
            Body::DamperLower => Motion::DamperLower,
            Body::Halfshaft => Motion::Halfshaft,
            Body::Link(number) => Motion::Link(number),
        }
    }

    /// Whether parts on this body turn with shaft or wheel, and so are checked as the full
    /// revolution they sweep.
    pub fn spins(self) -> bool {
        matches!(
            self,
            Body::Halfshaft
                | Body::InnerJointHousing
                | Body::OuterJointHousing
                | Body::Wheel
                | Body::FrontDriveshaft
        )
    }

    /// Whether the truck has one of it for both sides.
    pub fn is_both_sides(self) -> bool {
        matches!(
            self,
            Body::Frame | Body::Differential | Body::Rack | Body::FrontDriveshaft
        )
    }

    /// Whether the front differential carries the body.
    pub fn is_on_differential(self) -> bool {
        matches!(self, Body::Differential | Body::InnerJointHousing)
    }

    /// Whether the part may roll about its own length without the suspension knowing: its joints at
    /// both ends leave that turn free.
    pub fn rolls(self) -> bool {
        matches!(
            self,
            Body::TieRod | Body::DamperUpper | Body::DamperLower | Body::Link(_)
        )
    }
}

/// A distinct rigid motion. Spinning is left out (see [`Body::spins`]); tie rod, damper halves and
/// halfshaft follow the rotation without twist from their measured direction.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Motion {
    /// At rest in vehicle coordinates.
    Frame,
    /// Slides with the rack.
    Rack,
    /// Turns about the lower arm's pivots.
    LowerArm,
    /// Turns about the upper arm's pivots.
    UpperArm,
    /// Follows the knuckle.
    Knuckle,
    /// Follows the tie rod's two ends.
    TieRod,
    /// Upper eye fixed, points at the lower eye.
    DamperUpper,
    /// Lower eye on its body, points at the upper eye.
    DamperLower,
    /// Follows both halfshaft joint centres.
    Halfshaft,
    /// Held by two other bodies: a [`HeldByTwo`], by its number.
    Link(u8),
}

/// What two other bodies hold.
#[derive(Clone, Debug, PartialEq)]
pub enum HeldByTwo {
    /// A straight link.
    Link(TwoPointLink),
    /// A slice of a boot.
    Ring(BootRing),
    /// A slice of a coil spring.
    Coil(CoilSlice),
}

/// A slice of a coil spring between both halves of the damper: it stands between both seats by its share, and is turned as
/// both halves are.
#[derive(Clone, Debug, PartialEq)]
pub struct CoilSlice {
    /// Where the upper seat is on the damper's upper half, and the lower one on its lower half, each in its own drawing.
    pub seats: [Vector3<f64>; 2],
    /// Its share of the way from the upper seat to the lower.
    pub share: f64,
    /// The point at that share in its own drawing.
    pub drawn_at: Vector3<f64>,
}

/// A slice of a boot between a housing and a shaft: it stands between both circles by its share, and its axis between both
/// axes, each by what its own circle weighs there.
#[derive(Clone, Debug, PartialEq)]
pub struct BootRing {
    /// The circle on the housing: what carries it, its middle and its axis times its weight, in that body's coordinates.
    pub from: (Motion, Vector3<f64>, Vector3<f64>),
    /// The circle on the shaft, likewise.
    pub to: (Motion, Vector3<f64>, Vector3<f64>),
    /// Its share of the way from the first circle to the second.
    pub share: f64,
    /// Its middle in its own drawing.
    pub drawn_at: Vector3<f64>,
    /// Its unit axis in its own drawing.
    pub direction: Vector3<f64>,
}

/// A straight link between two bodies: it hangs on its first end and points at its second, without twist.
#[derive(Clone, Debug, PartialEq)]
pub struct TwoPointLink {
    /// The first end: what carries it, and where in that body's coordinates.
    pub from: (Motion, Vector3<f64>),
    /// The second end, likewise. Neither is carried by a link.
    pub to: (Motion, Vector3<f64>),
    /// The first end in the link's own drawing.
    pub drawn_from: Vector3<f64>,
    /// The unit direction to the second end in the link's own drawing.
    pub direction: Vector3<f64>,
    /// Its length in its own drawing, which it keeps.
    pub length_mm: f64,
}

/// Where a body is: `vehicle = anchor + rotation * (body - anchor_in_body)`, millimetres.
///
/// The anchor keeps enclosures sharp: rates of the rotation act on distances from a point of the
/// body, not from the vehicle's origin.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Placement<S: Real> {
    /// Rotation, vehicle from body; the identity at the measured position.
    pub rotation: Matrix3<S>,
    /// A point of the body, body coordinates.
    pub anchor_in_body: Vector3<f64>,
    /// The same point, vehicle coordinates.
    pub anchor: Vector3<S>,
}

impl<S: Real> Placement<S> {
    /// At rest.
    pub fn identity() -> Self {
        Placement {
            rotation: Matrix3::identity(),
            anchor_in_body: Vector3::zeros(),
            anchor: lift(&Vector3::zeros()),
        }
    }

    /// A body point in vehicle coordinates.
    #[inline]
    pub fn point(&self, point_in_body: &Vector3<f64>) -> Vector3<S> {
        self.anchor + turn(&self.rotation, &(point_in_body - self.anchor_in_body))
    }

    /// A body direction in vehicle coordinates.
    #[inline]
    pub fn direction(&self, direction_in_body: &Vector3<f64>) -> Vector3<S> {
        turn(&self.rotation, direction_in_body)
    }
}

impl Placement<f64> {
    /// A vehicle point in body coordinates.
    pub fn point_in_body(&self, point: &Vector3<f64>) -> Vector3<f64> {
        self.rotation.transpose() * (point - self.anchor) + self.anchor_in_body
    }

    /// Where the body's twin on the other side of the truck stands when this one stands here: y to -y.
    pub fn mirrored(&self) -> Self {
        // Mirrored twice, a turn is a turn again.
        let flip = Matrix3::from_diagonal(&Vector3::new(1.0, -1.0, 1.0));
        Placement {
            rotation: flip * self.rotation * flip,
            anchor_in_body: flip * self.anchor_in_body,
            anchor: flip * self.anchor,
        }
    }

    /// The plain offset `t` of `vehicle = rotation * body + t`.
    pub fn offset(&self) -> Vector3<f64> {
        self.anchor - self.rotation * self.anchor_in_body
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A clearance map of a link had no JSON.
    #[test]
    fn every_body_is_written_by_its_name_and_all_but_links_are_read_again() {
        assert_eq!(
            serde_json::to_string(&Body::Link(3)).expect("text"),
            "\"link\""
        );
        for body in [
            Body::Frame,
            Body::LowerArm,
            Body::DamperLower,
            Body::Wheel,
            Body::FrontDriveshaft,
        ] {
            let text = ron::to_string(&body).expect("text");
            assert_eq!(text, body.name());
            assert_eq!(ron::from_str::<Body>(&text), Ok(body));
        }
    }
}
