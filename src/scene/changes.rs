//! The scene file's setups: named lists of changes on the truck as measured. [`super::field_reference`]
//! prints these pages for `bindpoint schema`.

use super::length::length_and_angle_pairs;
use super::length::{length, no_length, optional_degrees, optional_length};
use super::types::{
    BumpStop, BumpStopOn, ConeEntry, End, InnerEndEntry, Joined, LeftRight, PartEntry, PinEntry,
    Plunge, Point, Scene, ShapeEntry, Spacer, SpacerEffect, Spindle, TyreSize, Watch,
};
use crate::suspension::{Body, Side};
use serde::{Deserialize, Serialize};

/// A named setup: what is changed on the truck as measured. Changes are made in the order of the list;
/// points and shapes are drawn as everywhere else, on the truck as measured.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Setup {
    /// Its name.
    pub name: String,
    /// Another setup that this one is made on top of. Default: the truck as measured.
    #[serde(default)]
    pub on: Option<String>,
    /// The changes.
    pub changes: Vec<Change>,
}

/// One change. It holds for both sides: the other corner gets its mirror image. Those that have a field `side` take
/// `side: left` or `side: right` and then hold for that corner alone: their points and shapes are that side's own, in
/// vehicle coordinates, and the other corner keeps what it has.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum Change {
    /// The body stands higher or lower on its springs; the damper and what stops it stay.
    RideHeight {
        /// Higher by this much wheel travel; below zero for lower.
        #[serde(deserialize_with = "length")]
        up: f64,
        /// How: `preload`, `torsion_bar` or `spring`.
        by: RaisedBy,
    },
    /// Another damper, or another length: `longer`, or both `extended` and `compressed`. A bump stop on its rod keeps
    /// its distance from the compressed length. Of a strut `upper_mount` alone moves the top mount, and the strut's axis stays
    /// where it is in the knuckle; with `lower_mount` it is another strut, even where that is where it was: its axis is the line
    /// through the points given, on the truck as measured, and a later `upper_mount` alone moves the top mount of that one.
    Damper {
        /// `left` or `right`: that corner alone. Default: both.
        #[serde(default)]
        side: Option<Side>,
        /// Extended length grows by this.
        #[serde(default)]
        #[serde(deserialize_with = "optional_length")]
        longer: Option<f64>,
        /// How much of it the body gains, and with it the compressed length; the rest is rod. Default: half, as with
        /// the same ends, where body and rod share the growth. All of it makes it a spacer.
        #[serde(default)]
        #[serde(deserialize_with = "optional_length")]
        body_gains: Option<f64>,
        /// Extended length, spacers not counted; goes with `compressed`.
        #[serde(default)]
        #[serde(deserialize_with = "optional_length")]
        extended: Option<f64>,
        /// Compressed length, spacers not counted.
        #[serde(default)]
        #[serde(deserialize_with = "optional_length")]
        compressed: Option<f64>,
        /// Eye on the frame.
        #[serde(default)]
        upper_mount: Option<Point>,
        /// Eye at the lower end.
        #[serde(default)]
        lower_mount: Option<Point>,
        /// Upper eye's pin.
        #[serde(default)]
        upper_eye: Option<PinEntry>,
        /// Lower eye's pin.
        #[serde(default)]
        lower_eye: Option<PinEntry>,
        /// Parts that come with it, drawn at its own eyes: they replace those of the same name, or are added.
        #[serde(default)]
        parts: Vec<PartEntry>,
    },
    /// A spacer on the damper or its spring. The spring holds the same load at the same length, so the damper
    /// stands longer at ride height by the spacer's thickness, whichever kind it is.
    DamperSpacer(SpacerChange),
    /// Another bump stop.
    BumpStop(BumpStopChange),
    /// Another limit strap, or other brackets for it: what is left out stays. On a truck without one it is a new strap, and
    /// then needs `ends` and `length`.
    Strap {
        /// `left` or `right`: that corner alone. Default: both.
        #[serde(default)]
        side: Option<Side>,
        /// Its length; give this or `longer`.
        #[serde(default)]
        #[serde(deserialize_with = "optional_length")]
        length: Option<f64>,
        /// How much longer than the one before.
        #[serde(default)]
        #[serde(deserialize_with = "optional_length")]
        longer: Option<f64>,
        /// Its two ends, drawn on the truck as measured.
        #[serde(default)]
        ends: Option<(End, End)>,
    },
    /// Another upper control arm. What is left out stays.
    UpperArm(ArmChange),
    /// Another lower control arm. What is left out stays.
    LowerArm(ArmChange),
    /// Another knuckle. What is left out stays. Parts on the wheel, the outer joint housing and the tie rod follow.
    Knuckle {
        /// `left` or `right`: that corner alone. Default: both.
        #[serde(default)]
        side: Option<Side>,
        /// Lower and upper ball joint in the knuckle; give both or none.
        #[serde(default)]
        ball_joints: Option<(Point, Point)>,
        /// Wheel centre.
        #[serde(default)]
        wheel_centre: Option<Point>,
        /// Spindle.
        #[serde(default)]
        spindle: Option<Spindle>,
        /// Tie rod's end on the knuckle; the rod's length is set anew, as by `TieRodEnd(outer: ..)`.
        #[serde(default)]
        tie_rod_outer: Option<Point>,
        /// Outer joint's centre in the knuckle.
        #[serde(default)]
        outer_joint: Option<Point>,
        /// Steering stop.
        #[serde(default)]
        #[serde(deserialize_with = "no_length")]
        steering_stop_deg: Option<LeftRight>,
        /// Parts that come with it: they replace those of the same name, or are added.
        #[serde(default)]
        parts: Vec<PartEntry>,
    },
    /// Another tie-rod end. What is left out stays; the rod's parts follow.
    TieRodEnd {
        /// `left` or `right`: that corner alone. Default: both.
        #[serde(default)]
        side: Option<Side>,
        /// Its centre on the knuckle; the rod's length is set so that the toe at the measured position stays, on a truck
        /// without `DropBrackets`. What these take of the toe isn't made up: the answer says which `longer` does.
        #[serde(default)]
        outer: Option<Point>,
        /// The outer end's pin.
        #[serde(default)]
        outer_end: Option<PinEntry>,
        /// How much longer the rod is, besides: its sleeve turned out, or another rod. The toe goes where that takes it;
        /// parts on the rod nearer to its inner end go with that end, and bars are drawn out.
        #[serde(default)]
        #[serde(deserialize_with = "optional_length")]
        longer: Option<f64>,
        /// The inner end's cone.
        #[serde(default)]
        inner_end: Option<InnerEndEntry>,
        /// Parts that come with it: they replace those of the same name, or are added.
        #[serde(default)]
        parts: Vec<PartEntry>,
    },
    /// Another halfshaft. What is left out stays. Hub and differential hold the joints where they are, so a longer shaft
    /// stands further inboard in its inner joint; the joint's room, `plunge`, stays with the differential and still
    /// counts from where the measured shaft stood.
    Halfshaft {
        /// `left` or `right`: that corner alone. Default: both.
        #[serde(default)]
        side: Option<Side>,
        /// Its length between both joints' centres; give this or `longer`.
        #[serde(default)]
        #[serde(deserialize_with = "optional_length")]
        length: Option<f64>,
        /// How much longer than the one before. Parts on the shaft nearer to its inner joint go with that, and bars are
        /// drawn out.
        #[serde(default)]
        #[serde(deserialize_with = "optional_length")]
        longer: Option<f64>,
        /// Ends of another inner joint's plunge, zero where the measured shaft stood when the truck was measured.
        #[serde(default)]
        plunge: Option<Plunge>,
        /// Another inner joint's field of plunge and angle, likewise. Default: the old one stays, and where it is narrower
        /// than `plunge` it ends the plunge.
        #[serde(default)]
        #[serde(deserialize_with = "length_and_angle_pairs")]
        plunge_polygon: Vec<(f64, f64)>,
        /// Shaft diameter.
        #[serde(default)]
        #[serde(deserialize_with = "optional_length")]
        diameter: Option<f64>,
        /// Greatest angle of the inner joint.
        #[serde(default)]
        #[serde(deserialize_with = "optional_degrees")]
        inner_limit_deg: Option<f64>,
        /// Greatest angle of the outer joint.
        #[serde(default)]
        #[serde(deserialize_with = "optional_degrees")]
        outer_limit_deg: Option<f64>,
        /// Track pitch radius of a tripod inner joint.
        #[serde(default)]
        #[serde(deserialize_with = "optional_length")]
        track_pitch_radius: Option<f64>,
        /// Pitch radius of the outer joint's balls.
        #[serde(default)]
        #[serde(deserialize_with = "optional_length")]
        ball_pitch_radius: Option<f64>,
        /// Parts that come with it: they replace those of the same name, or are added. On the shaft they are drawn from
        /// the outer joint on toward the inner one as measured, in the shaft's own length.
        #[serde(default)]
        parts: Vec<PartEntry>,
    },
    /// Another hose, wire or breather, or another route: what is left out stays. Of a name that isn't there it is a new
    /// one, and then needs `ends` and `longest`.
    Hose {
        /// `left` or `right`: that corner alone. Default: both.
        #[serde(default)]
        side: Option<Side>,
        /// Its name.
        name: String,
        /// The longest straight distance between its ends that it allows; give this or `longer`.
        #[serde(default)]
        #[serde(deserialize_with = "optional_length")]
        longest: Option<f64>,
        /// How much longer than the one before.
        #[serde(default)]
        #[serde(deserialize_with = "optional_length")]
        longer: Option<f64>,
        /// Its two ends.
        #[serde(default)]
        ends: Option<(End, End)>,
    },
    /// Another rack. What is left out stays.
    Rack {
        /// `left` or `right`: that corner alone. Default: both.
        #[serde(default)]
        side: Option<Side>,
        /// Tie rod's end on the rack, straight ahead; the rod's length is set so that the toe at the measured position
        /// stays, and the rod's parts follow.
        #[serde(default)]
        tie_rod_inner: Option<Point>,
        /// Rack travel to each lock. It is one rack: not with `side`.
        #[serde(default)]
        travel: Option<LeftRight>,
        /// Parts that come with it: they replace those of the same name, or are added.
        #[serde(default)]
        parts: Vec<PartEntry>,
    },
    /// A limiter on the rack: spacers that take some of its travel. The one on the rack's right end takes from the travel
    /// to the left, and the other way round; each wheel steers that much less at that lock.
    RackLimiter {
        /// Taken off the travel toward the truck's left. Default 0.
        #[serde(default)]
        #[serde(deserialize_with = "length")]
        left: f64,
        /// Taken off the travel toward the truck's right. Default 0.
        #[serde(default)]
        #[serde(deserialize_with = "length")]
        right: f64,
    },
    /// Drop brackets: what hangs from the frame goes down by one number, each as it stands, with the parts and hose ends
    /// that it carries; the wheel goes down with it, so the body stands that much higher. Travel counts from the wheel's
    /// lowered place where the lower arm is among them. A wheel's parts and the rods keep their lengths: where the rack
    /// doesn't go down with the arms the toe goes, and the answer says which `TieRodEnd(longer: ..)` brings it back. The
    /// front driveshaft's pinion goes down with the differential.
    DropBrackets {
        /// By how much, added to what is there.
        #[serde(deserialize_with = "length")]
        by: f64,
        /// What goes down: `lower_arm`, `upper_arm`, `rack`, `differential` and `damper` (its eye on the frame). Default:
        /// all five.
        #[serde(default)]
        of: Option<Vec<Hung>>,
        /// Parts on the frame that go down as well, by name: crossmembers, mounts, skid plates. Ends of hoses and straps
        /// on the frame stay, and so does a bump stop on it.
        #[serde(default)]
        frame_parts: Vec<String>,
        /// Parts that come with it, as the brackets themselves, drawn where they are bolted on: they replace those of the
        /// same name, or are added.
        #[serde(default)]
        parts: Vec<PartEntry>,
    },
    /// Spacers between the frame's brackets and the differential's front ears. The housing turns about its
    /// rear mount, and what it carries follows.
    DifferentialSpacers {
        /// Thickness, added to what is there.
        #[serde(deserialize_with = "length")]
        thickness: f64,
    },
    /// The whole differential lowered at all its mounts.
    DifferentialDrop {
        /// By how much, added to what is there.
        #[serde(deserialize_with = "length")]
        by: f64,
    },
    /// Other tyres on all four wheels. The `tyre` part follows: its tread and sidewalls are scaled from the old size to the
    /// new. The rear's loaded radius gains half of what the diameter gains, and its width changes as much.
    Tyre {
        /// Its size: `Code("285/70R17")` or `Measured(diameter: .., width: .., rim_diameter: ..)`.
        size: TyreSize,
        /// Static loaded radius in front. Default: the old one and half of what the diameter gains.
        #[serde(default)]
        #[serde(deserialize_with = "optional_length")]
        loaded_radius: Option<f64>,
        /// Which wheels get them. Default: `all`.
        #[serde(default)]
        wheels: Wheels,
    },
    /// Other wheels: everything on the wheel moves along the spindle.
    WheelOffset {
        /// `left` or `right`: that corner alone. Default: both.
        #[serde(default)]
        side: Option<Side>,
        /// How far the wheel moves outboard: the old offset less the new one, or a hub spacer's thickness.
        #[serde(deserialize_with = "length")]
        outboard: f64,
    },
    /// A part in another shape, drawn for the described side: where the part is fitted on the other side alone, its mirror image
    /// is put there.
    ReplacePart {
        /// `left` or `right`: that corner alone. Default: both.
        #[serde(default)]
        side: Option<Side>,
        /// The part's name.
        name: String,
        /// Its new shape.
        shape: ShapeEntry,
    },
    /// A part that wasn't there.
    AddPart {
        /// `left` or `right`: that corner alone. Default: both.
        #[serde(default)]
        side: Option<Side>,
        /// The part.
        part: PartEntry,
        /// Pairs to watch besides those of the scene. For pairs of this part the last entry counts, as always; other pairs
        /// keep what the scene asks of them, or are asked for more.
        #[serde(default)]
        watch: Vec<Watch>,
        /// Pairs left out besides those of the scene.
        #[serde(default)]
        joined: Vec<Joined>,
    },
    /// A part taken off.
    RemovePart {
        /// `left` or `right`: that corner alone. Default: both.
        #[serde(default)]
        side: Option<Side>,
        /// Its name.
        name: String,
    },
    /// A part moved: turned about a point, then shifted.
    MovePart {
        /// `left` or `right`: that corner alone. Default: both.
        #[serde(default)]
        side: Option<Side>,
        /// Its name.
        name: String,
        /// Shifted by this.
        #[serde(default)]
        by: Option<Point>,
        /// Turned about x, then y, then z, degrees.
        #[serde(default)]
        #[serde(deserialize_with = "no_length")]
        turned_deg: Option<Point>,
        /// The point that it is turned about. Needed with `turned_deg`.
        #[serde(default)]
        about: Option<Point>,
    },
}

impl Change {
    /// Its kind, as written in a scene.
    pub fn name(&self) -> &'static str {
        match self {
            Change::RideHeight { .. } => "RideHeight",
            Change::Damper { .. } => "Damper",
            Change::DamperSpacer(_) => "DamperSpacer",
            Change::BumpStop(_) => "BumpStop",
            Change::Strap { .. } => "Strap",
            Change::UpperArm(_) => "UpperArm",
            Change::LowerArm(_) => "LowerArm",
            Change::Knuckle { .. } => "Knuckle",
            Change::TieRodEnd { .. } => "TieRodEnd",
            Change::Halfshaft { .. } => "Halfshaft",
            Change::Hose { .. } => "Hose",
            Change::Rack { .. } => "Rack",
            Change::RackLimiter { .. } => "RackLimiter",
            Change::DropBrackets { .. } => "DropBrackets",
            Change::DifferentialSpacers { .. } => "DifferentialSpacers",
            Change::DifferentialDrop { .. } => "DifferentialDrop",
            Change::Tyre { .. } => "Tyre",
            Change::WheelOffset { .. } => "WheelOffset",
            Change::ReplacePart { .. } => "ReplacePart",
            Change::AddPart { .. } => "AddPart",
            Change::RemovePart { .. } => "RemovePart",
            Change::MovePart { .. } => "MovePart",
        }
    }

    /// The parts that come with it.
    pub fn parts(&self) -> &[PartEntry] {
        match self {
            Change::Damper { parts, .. }
            | Change::Knuckle { parts, .. }
            | Change::TieRodEnd { parts, .. }
            | Change::Halfshaft { parts, .. }
            | Change::Rack { parts, .. }
            | Change::DropBrackets { parts, .. } => parts,
            Change::UpperArm(arm) | Change::LowerArm(arm) => &arm.parts,
            Change::AddPart { part, .. } => std::slice::from_ref(part),
            Change::RideHeight { .. }
            | Change::DamperSpacer(_)
            | Change::BumpStop(_)
            | Change::Strap { .. }
            | Change::Hose { .. }
            | Change::RackLimiter { .. }
            | Change::DifferentialSpacers { .. }
            | Change::DifferentialDrop { .. }
            | Change::Tyre { .. }
            | Change::WheelOffset { .. }
            | Change::ReplacePart { .. }
            | Change::RemovePart { .. }
            | Change::MovePart { .. } => &[],
        }
    }

    /// The bodies that it makes other ones: what is drawn on them and not brought anew shows the old one.
    pub fn other_bodies(&self) -> &'static [Body] {
        match self {
            Change::Damper { .. } => &[Body::DamperUpper, Body::DamperLower],
            Change::UpperArm(_) => &[Body::UpperArm],
            Change::LowerArm(_) => &[Body::LowerArm],
            Change::Knuckle { .. } => &[Body::Knuckle, Body::TieRod],
            Change::TieRodEnd { .. } => &[Body::TieRod],
            Change::Rack { .. } => &[Body::Rack, Body::TieRod],
            Change::Halfshaft { .. } => &[Body::Halfshaft],
            Change::RideHeight { .. }
            | Change::DamperSpacer(_)
            | Change::BumpStop(_)
            | Change::Strap { .. }
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
            | Change::MovePart { .. } => &[],
        }
    }

    /// The same, to be changed.
    pub(crate) fn parts_mut(&mut self) -> &mut [PartEntry] {
        match self {
            Change::Damper { parts, .. }
            | Change::Knuckle { parts, .. }
            | Change::TieRodEnd { parts, .. }
            | Change::Halfshaft { parts, .. }
            | Change::Rack { parts, .. }
            | Change::DropBrackets { parts, .. } => parts,
            Change::UpperArm(arm) | Change::LowerArm(arm) => &mut arm.parts,
            Change::AddPart { part, .. } => std::slice::from_mut(part),
            Change::RideHeight { .. }
            | Change::DamperSpacer(_)
            | Change::BumpStop(_)
            | Change::Strap { .. }
            | Change::Hose { .. }
            | Change::RackLimiter { .. }
            | Change::DifferentialSpacers { .. }
            | Change::DifferentialDrop { .. }
            | Change::Tyre { .. }
            | Change::WheelOffset { .. }
            | Change::ReplacePart { .. }
            | Change::RemovePart { .. }
            | Change::MovePart { .. } => &mut [],
        }
    }

    /// The shape that it gives a part that is there already.
    pub fn new_shape(&self) -> Option<&ShapeEntry> {
        match self {
            Change::ReplacePart { shape, .. } => Some(shape),
            _ => None,
        }
    }

    /// The corner that it holds for, where it isn't both.
    pub fn side(&self) -> Option<Side> {
        match self {
            Change::Damper { side, .. }
            | Change::Strap { side, .. }
            | Change::Knuckle { side, .. }
            | Change::TieRodEnd { side, .. }
            | Change::Halfshaft { side, .. }
            | Change::Hose { side, .. }
            | Change::Rack { side, .. }
            | Change::WheelOffset { side, .. }
            | Change::ReplacePart { side, .. }
            | Change::AddPart { side, .. }
            | Change::RemovePart { side, .. }
            | Change::MovePart { side, .. } => *side,
            Change::DamperSpacer(spacer) => spacer.side,
            Change::BumpStop(stop) => stop.side,
            Change::UpperArm(arm) | Change::LowerArm(arm) => arm.side,
            Change::RideHeight { .. }
            | Change::RackLimiter { .. }
            | Change::DropBrackets { .. }
            | Change::DifferentialSpacers { .. }
            | Change::DifferentialDrop { .. }
            | Change::Tyre { .. } => None,
        }
    }
}

/// Why a change of this name doesn't take `side`.
pub(super) fn why_both_sides(change: &str) -> Option<&'static str> {
    match change {
        "Tyre" => Some(
            "a tyre's size holds for both sides: two sizes on one axle are a mistake; a part of one wheel can be changed \
             with `ReplacePart(side: ..)`",
        ),
        "RideHeight" => Some(
            "ride height is the whole truck's; a spacer or another damper on one side takes `side`: `DamperSpacer((side: ..))`",
        ),
        "DifferentialSpacers" | "DifferentialDrop" => {
            Some("there is one differential: leave out `side`")
        }
        "DropBrackets" => Some(
            "drop brackets lower both sides: leave out `side`; one arm's pivots alone are changed with `LowerArm((side: ..))`",
        ),
        "RackLimiter" => Some(
            "there is one rack: say with `left` and `right` how much of its travel to each lock is taken",
        ),
        _ => None,
    }
}

impl Scene {
    /// The scene that a corner is put together from: another one where a setup's changes hold for one side only.
    pub fn of_side(&self, side: Side) -> &Scene {
        match &self.other_corner {
            Some(other) if side != self.side => other,
            _ => self,
        }
    }
}

/// What hangs from the frame on brackets.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Hung {
    /// Lower control arm.
    LowerArm,
    /// Upper control arm.
    UpperArm,
    /// Steering rack.
    Rack,
    /// Front differential, at all its mounts.
    Differential,
    /// The damper's eye on the frame.
    Damper,
}

impl Hung {
    /// Everything.
    pub const ALL: [Hung; 5] = [
        Hung::LowerArm,
        Hung::UpperArm,
        Hung::Rack,
        Hung::Differential,
        Hung::Damper,
    ];
}

/// A spacer that is put in.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SpacerChange {
    /// `left` or `right`: that corner alone. Default: both.
    #[serde(default)]
    pub side: Option<Side>,
    /// Its name.
    pub name: String,
    /// Its thickness.
    #[serde(deserialize_with = "length")]
    pub thickness: f64,
    /// `total_length` (moves extended and compressed length) or `preload_only`.
    pub adds: SpacerEffect,
}

impl SpacerChange {
    /// The spacer itself.
    pub fn spacer(&self) -> Spacer {
        Spacer {
            name: self.name.clone(),
            thickness: self.thickness,
            adds: self.adds,
        }
    }
}

impl From<Spacer> for SpacerChange {
    fn from(spacer: Spacer) -> SpacerChange {
        SpacerChange {
            side: None,
            name: spacer.name,
            thickness: spacer.thickness,
            adds: spacer.adds,
        }
    }
}

/// A bump stop that is put in: two lengths, and where they are measured, as in the scene's.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BumpStopChange {
    /// `left` or `right`: that corner alone. Default: both.
    #[serde(default)]
    pub side: Option<Side>,
    /// Length at which it is touched.
    #[serde(deserialize_with = "length")]
    pub contact: f64,
    /// Length at which it is fully crushed: the motion ends here.
    #[serde(deserialize_with = "length")]
    pub crushed: f64,
    /// What it sits on, both lengths being the damper's: `rod` or `frame`. Default `frame`.
    #[serde(default)]
    pub on: Option<BumpStopOn>,
    /// For a pad away from the damper: its two ends, on the frame and on an arm.
    #[serde(default)]
    pub ends: Option<(End, End)>,
}

impl BumpStopChange {
    /// The bump stop itself.
    pub fn stop(&self) -> BumpStop {
        BumpStop {
            contact: self.contact,
            crushed: self.crushed,
            on: self.on,
            ends: self.ends,
            measured_between: None,
        }
    }
}

impl From<BumpStop> for BumpStopChange {
    fn from(stop: BumpStop) -> BumpStopChange {
        BumpStopChange {
            side: None,
            contact: stop.contact,
            crushed: stop.crushed,
            on: stop.on,
            ends: stop.ends,
        }
    }
}

/// Another control arm, drawn beside the old one: in its place at the measured position, before the knuckle
/// is brought to it.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ArmChange {
    /// `left` or `right`: that corner alone. Default: both.
    #[serde(default)]
    pub side: Option<Side>,
    /// Centre of the front bushing at the frame.
    #[serde(default)]
    pub front_pivot: Option<Point>,
    /// Centre of the rear bushing at the frame.
    #[serde(default)]
    pub rear_pivot: Option<Point>,
    /// Centre of the ball joint.
    #[serde(default)]
    pub ball_joint: Option<Point>,
    /// Droop stop on the arm, degrees.
    #[serde(default)]
    #[serde(deserialize_with = "optional_degrees")]
    pub droop_stop_deg: Option<f64>,
    /// The ball joint's cone.
    #[serde(default)]
    pub cone: Option<ConeEntry>,
    /// Parts that come with it: they replace those of the same name, or are added.
    #[serde(default)]
    pub parts: Vec<PartEntry>,
}

/// Which wheels get other tyres.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Wheels {
    /// All four.
    #[default]
    All,
    /// The front ones alone.
    Front,
}

/// How the body is raised or lowered.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum RaisedBy {
    /// Spring preload.
    Preload,
    /// The torsion bar's adjuster.
    TorsionBar,
    /// A spacer on the spring or another spring.
    Spring,
}

impl RaisedBy {
    /// As printed.
    pub fn name(self) -> &'static str {
        match self {
            RaisedBy::Preload => "preload",
            RaisedBy::TorsionBar => "torsion bar",
            RaisedBy::Spring => "spring",
        }
    }
}

/// A use of the truck at which the joints' wear is compared.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Duty {
    /// Its name.
    pub name: String,
    /// Road speed, km/h.
    pub speed_kmh: f64,
    /// This halfshaft's pull at the tyre, as a share of some full pull of your choice: 0 where it carries
    /// none.
    pub torque_share: f64,
    /// Where the wheel is, and for what share of the time.
    pub travel: Vec<TravelShare>,
    /// Where the rack is, and for what share of the time: (rack as a share of the lock, -1 full right to 1
    /// full left; share of the time). Default: straight ahead.
    #[serde(default)]
    pub steer: Vec<(f64, f64)>,
}

/// A wheel travel and the share of the time spent there.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TravelShare {
    /// Where: `FromRide(-20)` or `OfDroop(0.8)`.
    pub at: TravelAt,
    /// Share of the time.
    pub share: f64,
}

/// A wheel travel.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub enum TravelAt {
    /// From ride height, bump positive, as a length.
    #[serde(deserialize_with = "length")]
    FromRide(f64),
    /// Share of the free droop from ride height straight ahead: 0 at ride height, 1 at full droop.
    OfDroop(f64),
}
