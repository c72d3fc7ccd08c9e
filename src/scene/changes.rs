//! The scene file's setups: named lists of changes on the truck as measured. [`super::field_reference`]
//! prints these pages for `bindpoint schema`.

use super::length::{length, no_length, optional_length};
use super::types::{
    BumpStop, ConeEntry, InnerEndEntry, Joined, LeftRight, PartEntry, PinEntry, Point, ShapeEntry,
    Spacer, Spindle, TyreSize, Watch,
};
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

/// One change. It holds for both sides: the other corner gets its mirror image.
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
    /// its distance from the compressed length.
    Damper {
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
    DamperSpacer(Spacer),
    /// Another bump stop.
    BumpStop(BumpStop),
    /// Another limit strap between the same ends: its length, or how much longer.
    Strap {
        /// Its length.
        #[serde(default)]
        #[serde(deserialize_with = "optional_length")]
        length: Option<f64>,
        /// How much longer than the one before.
        #[serde(default)]
        #[serde(deserialize_with = "optional_length")]
        longer: Option<f64>,
    },
    /// Another upper control arm. What is left out stays.
    UpperArm(ArmChange),
    /// Another lower control arm. What is left out stays.
    LowerArm(ArmChange),
    /// Another knuckle. What is left out stays. Parts on the wheel, the outer joint housing and the tie rod follow.
    Knuckle {
        /// Lower and upper ball joint in the knuckle; give both or none.
        #[serde(default)]
        ball_joints: Option<(Point, Point)>,
        /// Wheel centre.
        #[serde(default)]
        wheel_centre: Option<Point>,
        /// Spindle.
        #[serde(default)]
        spindle: Option<Spindle>,
        /// Tie rod's end on the knuckle; the rod's length is set anew.
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
        /// Its centre on the knuckle; the rod's length is set so that the toe at the measured position stays.
        #[serde(default)]
        outer: Option<Point>,
        /// The outer end's pin.
        #[serde(default)]
        outer_end: Option<PinEntry>,
        /// The inner end's cone.
        #[serde(default)]
        inner_end: Option<InnerEndEntry>,
        /// Parts that come with it: they replace those of the same name, or are added.
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
    /// Other tyres. The `tyre` part follows: its tread and sidewalls are scaled from the old size to the new.
    Tyre {
        /// Its size: `Code("285/70R17")` or `Measured(diameter: .., width: .., rim_diameter: ..)`.
        size: TyreSize,
        /// Static loaded radius. Default: the old one and half of what the diameter gains.
        #[serde(default)]
        #[serde(deserialize_with = "optional_length")]
        loaded_radius: Option<f64>,
    },
    /// Other wheels: everything on the wheel moves along the spindle.
    WheelOffset {
        /// How far the wheel moves outboard: the old offset less the new one, or a hub spacer's thickness.
        #[serde(deserialize_with = "length")]
        outboard: f64,
    },
    /// A part in another shape.
    ReplacePart {
        /// The part's name.
        name: String,
        /// Its new shape.
        shape: ShapeEntry,
    },
    /// A part that wasn't there.
    AddPart {
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
        /// Its name.
        name: String,
    },
    /// A part moved: turned about a point, then shifted.
    MovePart {
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
    /// The parts that come with it.
    pub fn parts(&self) -> &[PartEntry] {
        match self {
            Change::Damper { parts, .. }
            | Change::Knuckle { parts, .. }
            | Change::TieRodEnd { parts, .. } => parts,
            Change::UpperArm(arm) | Change::LowerArm(arm) => &arm.parts,
            Change::AddPart { part, .. } => std::slice::from_ref(part),
            Change::RideHeight { .. }
            | Change::DamperSpacer(_)
            | Change::BumpStop(_)
            | Change::Strap { .. }
            | Change::DifferentialSpacers { .. }
            | Change::DifferentialDrop { .. }
            | Change::Tyre { .. }
            | Change::WheelOffset { .. }
            | Change::ReplacePart { .. }
            | Change::RemovePart { .. }
            | Change::MovePart { .. } => &[],
        }
    }

    /// The shape that it gives a part that is there already.
    pub fn new_shape(&self) -> Option<&ShapeEntry> {
        match self {
            Change::ReplacePart { shape, .. } => Some(shape),
            _ => None,
        }
    }
}

/// Another control arm, drawn beside the old one: in its place at the measured position, before the knuckle
/// is brought to it.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ArmChange {
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
    pub droop_stop_deg: Option<f64>,
    /// The ball joint's cone.
    #[serde(default)]
    pub cone: Option<ConeEntry>,
    /// Parts that come with it: they replace those of the same name, or are added.
    #[serde(default)]
    pub parts: Vec<PartEntry>,
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
