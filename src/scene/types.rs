//! The scene file's fields. [`super::field_reference`] prints these pages for `bindpoint schema`, so
//! each field is documented here and nowhere else.

use super::changes::{Duty, Setup};
use super::damper_eyes::DamperEyes;
use super::ground::{Obstacle, Rear, Underbody, WheelSprings};
use super::length::{
    degrees, length, length_and_angle_pairs, length_pairs, mesh_holes, no_length, optional_degrees,
    optional_length,
};
use super::named_point::Place;
use crate::suspension::{Body, Side, TyreSector};
use serde::{Deserialize, Serialize};

/// A point or direction: `(x, y, z)`. A length is a number in the scene's unit, such as `12.5`, or a text with a fraction
/// or a unit of its own: `"3 1/2"`, `"3-1/2"`, `"1 7/16 in"`, `"90 mm"`.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Point(
    #[serde(deserialize_with = "length")] pub f64,
    #[serde(deserialize_with = "length")] pub f64,
    #[serde(deserialize_with = "length")] pub f64,
);

/// The unit of every length in the file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LengthUnit {
    /// Millimetres.
    Mm,
    /// Inches of 25.4 mm.
    Inch,
}

impl LengthUnit {
    /// Millimetres in one unit.
    pub fn in_mm(self) -> f64 {
        match self {
            LengthUnit::Mm => 1.0,
            LengthUnit::Inch => 25.4,
        }
    }
    /// Newtons in the unit of force that goes with it: newtons with millimetres, pounds with inches.
    pub fn force_in_newtons(self) -> f64 {
        match self {
            LengthUnit::Mm => 1.0,
            LengthUnit::Inch => 4.448_221_615_260_5,
        }
    }
    /// As written.
    pub fn name(self) -> &'static str {
        match self {
            LengthUnit::Mm => "mm",
            LengthUnit::Inch => "inch",
        }
    }
}

/// The unit of a mesh file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum MeshUnit {
    /// Millimetres.
    Mm,
    /// Centimetres.
    Cm,
    /// Metres.
    M,
    /// Inches of 25.4 mm.
    Inch,
    /// Feet of 304.8 mm.
    Foot,
}

impl MeshUnit {
    /// Every unit, the most used first.
    pub const ALL: [MeshUnit; 5] = [
        MeshUnit::Mm,
        MeshUnit::Inch,
        MeshUnit::Cm,
        MeshUnit::M,
        MeshUnit::Foot,
    ];

    /// As written.
    pub fn name(self) -> &'static str {
        match self {
            MeshUnit::Mm => "mm",
            MeshUnit::Cm => "cm",
            MeshUnit::M => "m",
            MeshUnit::Inch => "inch",
            MeshUnit::Foot => "foot",
        }
    }

    /// Millimetres in one unit.
    pub fn in_mm(self) -> f64 {
        match self {
            MeshUnit::Mm => 1.0,
            MeshUnit::Cm => 10.0,
            MeshUnit::M => 1000.0,
            MeshUnit::Inch => 25.4,
            MeshUnit::Foot => 304.8,
        }
    }
}

/// One truck's front suspension.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Scene {
    /// The format that the file is written in, a number. Default 1, which is the only one so far.
    #[serde(default)]
    pub format: Option<u32>,
    /// The truck's name, as printed.
    pub name: String,
    /// Unit of every length in this file: `mm` or `inch`. Angles are in degrees.
    pub units: LengthUnit,
    /// The corner that the numbers describe: `left` (+y) or `right` (-y).
    pub side: Side,
    /// Wheel travel at ride height, from the measured position, bump positive. Default 0: measured
    /// at ride height.
    #[serde(default)]
    #[serde(deserialize_with = "length")]
    pub ride_height: f64,
    /// How far the sweep looks, as wheel travel from the measured position. Default 300 mm of droop
    /// and 250 mm of bump.
    #[serde(default)]
    pub search: Option<Search>,
    /// Lower control arm.
    pub lower_arm: Arm,
    /// Upper control arm. Left out only where a strut holds the knuckle: `damper` with `lower_mount_on: strut`.
    #[serde(default)]
    pub upper_arm: Option<Arm>,
    /// Knuckle and wheel.
    pub knuckle: Knuckle,
    /// Rack and tie rod.
    pub rack: Rack,
    /// Damper and what belongs to it.
    pub damper: Damper,
    /// Halfshaft and its joints.
    pub halfshaft: Halfshaft,
    /// Ball-joint cones and pins; those left out don't limit anything.
    #[serde(default)]
    pub ball_joints: BallJoints,
    /// Hoses, wires and breathers.
    #[serde(default)]
    pub hoses: Vec<Hose>,
    /// Parts for collision. The halfshaft itself is added by its diameter, named `halfshaft`, unless a
    /// part has that name.
    #[serde(default)]
    pub parts: Vec<PartEntry>,
    /// Which pairs of parts are watched, and the gap each must keep.
    pub watch: Vec<Watch>,
    /// Pairs left out because they are joined by design.
    #[serde(default)]
    pub joined: Vec<Joined>,
    /// Fields that look unusual and were measured again and are right, each by the name that its warning begins with, such as
    /// `["knuckle.wheel_centre"]`: what is unusual about them is then neither warned of nor blamed for anything else. Answers
    /// say how many warnings that silences.
    #[serde(default)]
    pub measured: Vec<String>,
    /// What differs on the other corner. Left out: its mirror image.
    #[serde(default)]
    pub other_side: OtherSide,
    // What the other corner is put together from, where a setup's changes hold for one side only: a whole scene, of which
    // that corner alone is read. No file says it.
    #[doc(hidden)]
    #[serde(default, skip)]
    pub other_corner: Option<Box<Scene>>,
    // Parts that an earlier change of the setup drew, on a body that a later one made another. No file says it.
    #[doc(hidden)]
    #[serde(default, skip)]
    pub drawn_before: Vec<String>,
    /// How far drop brackets have lowered what hangs from the frame since the truck was measured.
    #[serde(default)]
    pub brackets: Brackets,
    /// The tyre fitted; needed to fit another by its size.
    #[serde(default)]
    pub tyre: Option<Tyre>,
    /// How the front differential hangs in the frame; needed to lower it.
    #[serde(default)]
    pub differential: Option<Differential>,
    /// The shaft from the transfer case to the pinion.
    #[serde(default)]
    pub front_driveshaft: Option<FrontDriveshaft>,
    /// The rear axle; needed to put the truck on the ground.
    #[serde(default)]
    pub rear: Option<Rear>,
    /// What the springs do at the wheels: with it the suspension follows the ground on a drive.
    #[serde(default)]
    pub wheel_springs: Option<WheelSprings>,
    /// The truck's body, and what hangs under it: the ground can meet it, and the wheels, and what `watch` names.
    #[serde(default)]
    pub underbody: Vec<Underbody>,
    /// Things to drive over.
    #[serde(default)]
    pub obstacles: Vec<Obstacle>,
    /// Setups: named lists of changes.
    #[serde(default)]
    pub setups: Vec<Setup>,
    /// Duties at which wear is compared, besides the three that are built in.
    #[serde(default)]
    pub duties: Vec<Duty>,
}

/// The tyre as fitted when the truck was measured.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Tyre {
    /// Its size: `Code("265/70R17")` or `Measured(diameter: .., width: .., rim_diameter: ..)`.
    pub size: TyreSize,
    /// The part that is the tyre, on the wheel: a lathe about the spindle. Default `tyre`.
    #[serde(default = "tyre_part")]
    pub part: String,
    /// Directions from the tyre in which the truck has nothing, such as `[outboard]` where no fender's edge or flare reaches
    /// beside it: a tyre search then doesn't ask for anything drawn there, and says that the scene says so.
    #[serde(default)]
    pub nothing_there: Vec<TyreSector>,
}

fn tyre_part() -> String {
    "tyre".to_owned()
}

/// A tyre's size.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum TyreSize {
    /// As on the sidewall: `265/70R17`, or in inches `33x12.50R17`.
    Code(String),
    /// By its measures, unloaded.
    Measured {
        /// Outer diameter.
        #[serde(deserialize_with = "length")]
        diameter: f64,
        /// Section width.
        #[serde(deserialize_with = "length")]
        width: f64,
        /// Rim diameter.
        #[serde(deserialize_with = "length")]
        rim_diameter: f64,
    },
}

/// How the front differential hangs in the frame.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Differential {
    /// Bolt centres of the front ears: one or two.
    pub front_mounts: Vec<Point>,
    /// Bolt centres of the rear mounts: one, or two that it turns about as a hinge.
    pub rear_mounts: Vec<Point>,
    /// Spacers between the frame's brackets and the front ears, put in since the truck was measured.
    /// Default 0.
    #[serde(default)]
    #[serde(deserialize_with = "length")]
    pub front_spacer: f64,
    /// How far the whole unit has been lowered since the truck was measured. Default 0.
    #[serde(default)]
    #[serde(deserialize_with = "length")]
    pub drop: f64,
}

/// How far drop brackets have lowered what hangs from the frame since the truck was measured; points and parts stay drawn
/// where they were measured. The differential has a `drop` of its own.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Brackets {
    /// Both pivots of the lower arm. Travel counts from the wheel's place as measured, lowered by this. Default 0.
    #[serde(default)]
    #[serde(deserialize_with = "length")]
    pub lower_arm: f64,
    /// Both pivots of the upper arm. Default 0.
    #[serde(default)]
    #[serde(deserialize_with = "length")]
    pub upper_arm: f64,
    /// The rack. Default 0.
    #[serde(default)]
    #[serde(deserialize_with = "length")]
    pub rack: f64,
    /// The damper's eye on the frame. Default 0.
    #[serde(default)]
    #[serde(deserialize_with = "length")]
    pub damper: f64,
}

/// The front driveshaft: from the transfer case to the pinion.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FrontDriveshaft {
    /// Centre of the joint at the transfer case.
    pub transfer_case: Point,
    /// Output shaft's axis at the transfer case, toward the shaft.
    #[serde(deserialize_with = "no_length")]
    pub transfer_case_axis: Point,
    /// Centre of the joint at the pinion.
    pub pinion: Point,
    /// Pinion's axis, from the shaft into the differential.
    #[serde(deserialize_with = "no_length")]
    pub pinion_axis: Point,
    /// Joint at the transfer case: `cardan`, `double_cardan` or `constant_velocity`.
    pub joint_at_transfer_case: ShaftJoint,
    /// Joint at the pinion, likewise.
    pub joint_at_pinion: ShaftJoint,
    /// Angle between the shaft's two yokes, degrees: 0 where both forks lie in one plane. Positive: the
    /// pinion's yoke turned on, right-handed along the shaft toward the pinion.
    #[serde(default)]
    #[serde(deserialize_with = "degrees")]
    pub phase_deg: f64,
    /// Greatest angle of each joint, degrees.
    #[serde(deserialize_with = "degrees")]
    pub joint_limit_deg: f64,
    /// Greatest speed fluctuation, (fastest - slowest) / mean. Default 0.0027 (a maker's driveline limit,
    /// second-hand: about 3 degrees of one Cardan joint).
    #[serde(default)]
    pub fluctuation_limit: Option<f64>,
    /// Shaft diameter: adds the part `front driveshaft`, watched like any other.
    #[serde(default)]
    #[serde(deserialize_with = "optional_length")]
    pub diameter: Option<f64>,
}

/// A driveshaft's joint.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ShaftJoint {
    /// One cross.
    Cardan,
    /// Two crosses with a centring yoke that halves the angle.
    DoubleCardan,
    /// Constant velocity.
    ConstantVelocity,
}

/// How a part that is bolted to the frame follows when the front differential is lowered.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum HangsFrom {
    /// It doesn't.
    #[default]
    Body,
    /// Bolted under the differential's front mounts: its front goes down with them, straight below them at the
    /// height of its rear bolts.
    DifferentialMounts {
        /// Its rear bolts, which stay: one, or two that it turns about. Left out: it goes down level.
        #[serde(default)]
        rear_bolts: Vec<Point>,
    },
}

/// How far the sweep looks.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Search {
    /// Wheel travel downward, above zero.
    #[serde(deserialize_with = "length")]
    pub droop: f64,
    /// Wheel travel upward, above zero.
    #[serde(deserialize_with = "length")]
    pub bump: f64,
}

/// A control arm.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Arm {
    /// Centre of the front bushing at the frame.
    pub front_pivot: Point,
    /// Centre of the rear bushing at the frame.
    pub rear_pivot: Point,
    /// Centre of the ball joint.
    pub ball_joint: Point,
    /// A droop stop on the arm: how far it may turn down from its measured place, degrees.
    #[serde(default)]
    #[serde(deserialize_with = "optional_degrees")]
    pub droop_stop_deg: Option<f64>,
}

/// The wheel's axis.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum Spindle {
    /// By its direction, outboard.
    #[serde(deserialize_with = "no_length")]
    Axis(Point),
    /// By the alignment at the measured position: toe-in and top-outward camber positive.
    Static {
        /// Toe, degrees, toe-in positive.
        #[serde(deserialize_with = "degrees")]
        toe_deg: f64,
        /// Camber of the wheel plane, degrees, positive with the top outward.
        #[serde(deserialize_with = "degrees")]
        camber_deg: f64,
    },
}

impl Spindle {
    /// Its direction for a wheel on `side`, outboard, of any length.
    pub fn direction(&self, side: Side) -> [f64; 3] {
        match *self {
            Spindle::Axis(Point(x, y, z)) => [x, y, z],
            Spindle::Static {
                toe_deg,
                camber_deg,
            } => {
                let outboard = side.outboard();
                // Heading left-positive; toe-in turns a left wheel right.
                let heading = -toe_deg.to_radians() * outboard;
                let camber = camber_deg.to_radians();
                [
                    -heading.sin() * camber.cos() * outboard,
                    heading.cos() * camber.cos() * outboard,
                    -camber.sin(),
                ]
            }
        }
    }
}

/// The knuckle with its wheel.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Knuckle {
    /// Wheel centre.
    pub wheel_centre: Point,
    /// Spindle: `Axis((x, y, z))` or `Static(toe_deg: .., camber_deg: ..)`.
    pub spindle: Spindle,
    /// Tie rod's end on the knuckle.
    pub tie_rod_outer: Point,
    /// The tyre's static loaded radius: wheel centre to ground.
    #[serde(deserialize_with = "length")]
    pub loaded_radius: f64,
    /// Steering stop: how far the wheel may be steered to each side.
    #[serde(default)]
    #[serde(deserialize_with = "no_length")]
    pub steering_stop_deg: Option<LeftRight>,
    /// Lower and upper ball joint in the knuckle, where they are not drawn in the arms' place. Default: the
    /// arms' ball joints.
    #[serde(default)]
    pub ball_joints: Option<(Point, Point)>,
}

/// A value to the left and one to the right, both above zero.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LeftRight {
    /// Toward the truck's left.
    #[serde(deserialize_with = "length")]
    pub left: f64,
    /// Toward the truck's right.
    #[serde(deserialize_with = "length")]
    pub right: f64,
}

/// Whether a rod may roll about the line through its two ends, which the suspension doesn't see.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum Roll {
    /// It may: parts on it that aren't round about that line are checked as the room of every roll.
    #[default]
    Free,
    /// It may not, and what holds it, in words: `HeldBy("bushed eyes at both ends")`. Its parts are checked as they
    /// are drawn, and the reason is printed beside the verdict.
    HeldBy(String),
}

/// The steering rack.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Rack {
    /// Tie rod's end on the rack, straight ahead.
    pub tie_rod_inner: Point,
    /// Rack travel to each lock: `left` is how far the rack itself slides toward +y, `right` toward -y. A rack behind the axle
    /// that slides left steers right.
    pub travel: LeftRight,
    // How much longer each tie rod is than when the truck was measured. Setups say it, and draw the rod out; no file does.
    #[doc(hidden)]
    #[serde(default, skip)]
    pub tie_rod_longer: f64,
    /// Whether the tie rods may roll about the line through their ends: `Free` (default) or
    /// `HeldBy("what holds them")`.
    #[serde(default)]
    pub roll: Roll,
}

/// The body that carries the damper's lower eye.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Foot {
    /// The lower control arm.
    LowerArm,
    /// The upper control arm.
    UpperArm,
    /// The knuckle.
    Knuckle,
    /// The knuckle, whose upper end the damper holds: a strut. Its lower tube is one body with the knuckle (draw it `on:
    /// knuckle`), and the line through both mounts is its axis, which slides and turns in the top mount.
    Strut,
}

/// The damper with its stops.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Damper {
    /// Eye on the frame; a strut's top mount, where its axis turns.
    pub upper_mount: Point,
    /// Eye at the lower end; a strut has none: give a point of its axis, such as the tube's lower end, from which its lengths
    /// are measured.
    pub lower_mount: Point,
    // The axis of a strut that a setup has brought: the mounts that it was given with, upper and lower one, on the truck as
    // measured. None is the strut as measured. No file says it.
    #[doc(hidden)]
    #[serde(default, skip)]
    pub brought_strut: Option<(Point, Point)>,
    /// The body that carries the lower eye: `lower_arm`, `upper_arm` or `knuckle`; `strut` where the damper holds the
    /// knuckle's upper end in place of an upper arm.
    pub lower_mount_on: Foot,
    /// The body's extended length, eye to eye, spacers not counted.
    #[serde(deserialize_with = "length")]
    pub extended: f64,
    /// The body's compressed length, eye to eye, spacers not counted.
    #[serde(deserialize_with = "length")]
    pub compressed: f64,
    /// Spacers, each saying what it adds to.
    #[serde(default)]
    pub spacers: Vec<Spacer>,
    /// Bump stop: on the damper's rod, beside the damper, or a pad with two ends of its own.
    #[serde(default)]
    pub bump_stop: Option<BumpStop>,
    /// Limit strap.
    #[serde(default)]
    pub strap: Option<Strap>,
    /// Whether the damper's halves may roll about the line through its eyes: `Free` (default) or
    /// `HeldBy("what holds them")`. Held, the upper half keeps its place against the frame, the lower one against what
    /// carries its eye, however far that is steered; a strut's tube is always one body with the knuckle.
    #[serde(default)]
    pub roll: Roll,
}

/// A spacer on the damper or its spring.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Spacer {
    /// Its name.
    pub name: String,
    /// Its thickness.
    #[serde(deserialize_with = "length")]
    pub thickness: f64,
    /// `total_length` (moves extended and compressed length) or `preload_only`.
    pub adds: SpacerEffect,
}

/// What a spacer adds to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SpacerEffect {
    /// Extended and compressed length.
    TotalLength,
    /// Spring preload: ride height, not full droop.
    PreloadOnly,
}

/// A bump stop: two lengths, and where they are measured. `on` says it by the damper's length, `ends` by two points
/// of its own; give one or none.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BumpStop {
    /// Length at which it is touched.
    #[serde(deserialize_with = "length")]
    pub contact: f64,
    /// Length at which it is fully crushed: the motion ends here.
    #[serde(deserialize_with = "length")]
    pub crushed: f64,
    /// What it sits on, both lengths being the damper's: `rod` or `frame`. Default `frame`: no spacer and no other
    /// damper moves it, so that nothing shortens the bump that is looked at unless the scene says so.
    #[serde(default)]
    pub on: Option<BumpStopOn>,
    /// For a pad away from the damper: its two ends, on the frame and on an arm. Both lengths are then the distance
    /// between these, whatever the damper does.
    #[serde(default)]
    pub ends: Option<(End, End)>,
    // The damper's eyes that its lengths were measured between: those that were there when it came. Setups note them before
    // they move an eye; no file says them.
    #[doc(hidden)]
    #[serde(default, skip)]
    pub measured_between: Option<DamperEyes>,
}

/// What a bump stop sits on that is measured by the damper's length.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum BumpStopOn {
    /// The damper's rod: both lengths are without spacers, as the body's are. It moves with `total_length` spacers, and
    /// with another damper by what that is longer closed.
    Rod,
    /// The frame or an arm, beside the damper: both lengths are mount to mount, and it stays where it is. The mounts are those
    /// that are there when it comes: of a setup's stop, where the changes before it have taken them.
    Frame,
}

/// A limit strap between two points.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Strap {
    /// Its two ends.
    pub ends: (End, End),
    /// Length pulled tight.
    #[serde(deserialize_with = "length")]
    pub length: f64,
}

/// A point on a body.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct End {
    /// The body.
    pub on: Body,
    /// The point.
    pub at: Point,
}

/// The halfshaft.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Halfshaft {
    /// Centre of the outer joint, in the knuckle.
    pub outer_joint: Point,
    /// Outer joint's axis in the knuckle, outboard. Default: the spindle.
    #[serde(default)]
    #[serde(deserialize_with = "no_length")]
    pub outer_axis: Option<Point>,
    /// Centre of the inner joint (its spider) at the measured position.
    pub inner_joint: Point,
    /// Output flange's axis, outboard. Default: straight out, along y.
    #[serde(default)]
    #[serde(deserialize_with = "no_length")]
    pub flange_axis: Option<Point>,
    // How much longer the shaft is than the one that was there when the truck was measured. Setups say it, and draw the
    // shaft out; no file does.
    #[doc(hidden)]
    #[serde(default, skip)]
    pub longer: f64,
    /// Shaft diameter.
    #[serde(deserialize_with = "length")]
    pub diameter: f64,
    /// Greatest angle of the inner joint.
    #[serde(deserialize_with = "degrees")]
    pub inner_limit_deg: f64,
    /// Greatest angle of the outer joint.
    #[serde(deserialize_with = "degrees")]
    pub outer_limit_deg: f64,
    /// Ends of the plunge, outboard positive, zero where measured.
    pub plunge: Plunge,
    /// The inner joint's allowed field: corners (plunge, angle in degrees) of a convex polygon that stands on angle
    /// zero. Where it is narrower than `plunge`, it ends the plunge.
    #[serde(default)]
    #[serde(deserialize_with = "length_and_angle_pairs")]
    pub plunge_polygon: Vec<(f64, f64)>,
    /// Track pitch radius of a tripod inner joint: its orbit widens the shaft's swept radius.
    #[serde(default)]
    #[serde(deserialize_with = "optional_length")]
    pub track_pitch_radius: Option<f64>,
    /// Pitch radius of the outer joint's balls: for sliding speeds in mm/s; ratios do without.
    #[serde(default)]
    #[serde(deserialize_with = "optional_length")]
    pub ball_pitch_radius: Option<f64>,
}

/// Ends of the plunge.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Plunge {
    /// Furthest inboard, below `outer`.
    #[serde(deserialize_with = "length")]
    pub inner: f64,
    /// Furthest outboard.
    #[serde(deserialize_with = "length")]
    pub outer: f64,
}

/// Ball joints, rod ends and eyes.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BallJoints {
    /// Upper ball joint.
    #[serde(default)]
    pub upper: Option<ConeEntry>,
    /// A strut's top mount.
    #[serde(default)]
    pub top_mount: Option<TopMountEntry>,
    /// Lower ball joint.
    #[serde(default)]
    pub lower: Option<ConeEntry>,
    /// Tie rod's outer end: stud on the knuckle, housing on the rod.
    #[serde(default)]
    pub tie_rod_outer: Option<PinEntry>,
    /// Tie rod's inner end: housing on the rack, stud along the rod.
    #[serde(default)]
    pub tie_rod_inner: Option<InnerEndEntry>,
    /// Damper's upper eye on its bolt.
    #[serde(default)]
    pub damper_upper: Option<PinEntry>,
    /// Damper's lower eye on its bolt.
    #[serde(default)]
    pub damper_lower: Option<PinEntry>,
}

/// What carries a ball joint's housing.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum HousingOn {
    /// The control arm; the stud is in the knuckle.
    #[default]
    Arm,
    /// The knuckle; the stud is in the arm.
    Knuckle,
}

/// How far a strut's axis may lean in its top mount.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TopMountEntry {
    /// Half angle.
    #[serde(deserialize_with = "degrees")]
    pub half_angle_deg: f64,
    /// The mount's own axis. Default: the strut's axis as measured.
    #[serde(default)]
    pub axis: Option<Point>,
}

/// A ball joint's cone.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ConeEntry {
    /// Half angle; for an oval cone, the one along the arm.
    #[serde(deserialize_with = "degrees")]
    pub half_angle_deg: f64,
    /// Half angle across the arm, for an oval cone.
    #[serde(default)]
    #[serde(deserialize_with = "optional_degrees")]
    pub across_half_angle_deg: Option<f64>,
    /// How far the housing leans so that the arm may droop further: the cone's axis is turned this far
    /// about the arm's pivot axis from the stud as measured. Default 0.
    #[serde(default)]
    #[serde(deserialize_with = "degrees")]
    pub preset_deg: f64,
    /// What carries the housing: `arm` (default) or `knuckle`.
    #[serde(default)]
    pub housing_on: HousingOn,
    /// The stud's axis. Default: the line through both ball joints.
    #[serde(default)]
    #[serde(deserialize_with = "no_length")]
    pub stud_axis: Option<Point>,
    /// The cone's axis as measured, instead of `preset_deg`.
    #[serde(default)]
    #[serde(deserialize_with = "no_length")]
    pub housing_axis: Option<Point>,
}

/// A rod end on its stud, or an eye on its bolt: only the angle between pin and rod counts, since the
/// rod may roll.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PinEntry {
    /// How far the angle between pin and rod may differ from `rest_deg`.
    #[serde(deserialize_with = "degrees")]
    pub half_angle_deg: f64,
    /// The pin's axis. Default: the line through both ball joints for a tie rod, fore and aft for a
    /// damper.
    #[serde(default)]
    #[serde(deserialize_with = "no_length")]
    pub pin_axis: Option<Point>,
    /// Angle between pin and rod at rest. Default 90.
    #[serde(default)]
    #[serde(deserialize_with = "optional_degrees")]
    pub rest_deg: Option<f64>,
}

/// The tie rod's inner end.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct InnerEndEntry {
    /// Half angle of its cone.
    #[serde(deserialize_with = "degrees")]
    pub half_angle_deg: f64,
    /// The cone's axis. Default: along the rack, outboard.
    #[serde(default)]
    #[serde(deserialize_with = "no_length")]
    pub housing_axis: Option<Point>,
}

/// A hose, wire or breather.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Hose {
    /// Its name.
    pub name: String,
    /// Its two ends.
    pub ends: (End, End),
    /// The longest straight distance between them that it allows.
    #[serde(deserialize_with = "length")]
    pub longest: f64,
}

/// Which corners a part belongs to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Fitted {
    /// On each side, the other one mirrored.
    #[default]
    EachSide,
    /// Once, as drawn, seen by both corners (a differential housing, a skid plate).
    Once,
    /// On the left corner only, as drawn.
    Left,
    /// On the right corner only, as drawn.
    Right,
}

impl Fitted {
    /// On one side alone.
    pub fn on(side: Side) -> Fitted {
        match side {
            Side::Left => Fitted::Left,
            Side::Right => Fitted::Right,
        }
    }

    /// Whether a side has the part.
    pub fn is_on(self, side: Side) -> bool {
        match self {
            Fitted::EachSide | Fitted::Once => true,
            Fitted::Left | Fitted::Right => self == Fitted::on(side),
        }
    }
}

/// A part for collision.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PartEntry {
    /// Its name; unique on its corner.
    pub name: String,
    /// The body that carries it: `frame`, `differential`, `rack`, `lower_arm`, `upper_arm`, `knuckle`,
    /// `tie_rod`, `damper_upper`, `damper_lower`, `halfshaft`, `inner_joint_housing`,
    /// `outer_joint_housing`, `wheel` or `front_driveshaft`. Parts on the last five turn with shaft or wheel, those on a
    /// tie rod or damper may roll about the line through its ends (see `roll`): one that isn't round
    /// about that axis is checked as the full revolution it sweeps.
    pub on: Body,
    /// Its shape, in vehicle coordinates at the measured position, on the truck as measured: a setup's spacers push parts
    /// on `damper_upper` down by what they add to the damper's length.
    pub shape: ShapeEntry,
    /// `each_side` (default), `once`, `left` or `right`. What the frame or the differential carries on one side and what
    /// reaches across the truck's middle is met by the other side's suspension too.
    #[serde(default)]
    pub fitted: Fitted,
    /// How a part on the frame follows a lowered differential: `Body` (default: it stays) or
    /// `DifferentialMounts(rear_bolts: [..])`.
    #[serde(default)]
    pub hangs_from: HangsFrom,
}

/// A part's shape.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum ShapeEntry {
    /// A ball.
    Ball {
        /// Its centre.
        centre: Point,
        /// Its radius.
        #[serde(deserialize_with = "length")]
        radius: f64,
    },
    /// A round bar with round ends that reach `radius` beyond both points.
    Capsule {
        /// One end of the axis.
        from: Point,
        /// The other.
        to: Point,
        /// Its radius.
        #[serde(deserialize_with = "length")]
        radius: f64,
    },
    /// A round bar with flat ends.
    Cylinder {
        /// Middle of one end.
        from: Point,
        /// Middle of the other.
        to: Point,
        /// Its radius.
        #[serde(deserialize_with = "length")]
        radius: f64,
    },
    /// A cone or a frustum.
    Cone {
        /// Middle of one end.
        from: Point,
        /// Middle of the other.
        to: Point,
        /// Radius at `from`.
        #[serde(deserialize_with = "length")]
        radius_from: f64,
        /// Radius at `to`; zero for a point.
        #[serde(deserialize_with = "length")]
        radius_to: f64,
    },
    /// A box.
    Box {
        /// Its middle.
        centre: Point,
        /// Edge lengths along x, y, z before turning.
        size: Point,
        /// Turned about x, then y, then z, degrees.
        #[serde(default)]
        #[serde(deserialize_with = "no_length")]
        turned_deg: Option<Point>,
    },
    /// The convex hull of four or more points.
    Hull {
        /// The points.
        points: Vec<Point>,
    },
    /// A solid of revolution, hollow where its outline is: a closed outline turned about an axis. On `wheel`,
    /// `halfshaft` and the joint housings `from` and `axis` may be left out: it then turns about its body's own axis
    /// and goes where that goes.
    Lathe {
        /// The axis starts here: `along` is zero. Default: the body's own centre, which is the wheel centre, the centre
        /// of the housing's joint, or the shaft's inner joint.
        #[serde(default)]
        from: Option<Point>,
        /// Direction of the axis. Default: the body's own axis, outboard, which is the spindle, the joint's axis, or
        /// the line from the shaft's inner to its outer joint.
        #[serde(default)]
        #[serde(deserialize_with = "no_length")]
        axis: Option<Point>,
        /// The outline's corners (along, radius), in order all the way round.
        #[serde(deserialize_with = "length_pairs")]
        profile: Vec<(f64, f64)>,
    },
    /// Triangles from an STL, OBJ, PLY, 3MF or glTF file.
    Mesh {
        /// The file, relative to the scene file.
        file: String,
        /// The file's unit: `mm`, `cm`, `m`, `inch` or `foot`. Default: what the file says; a 3MF names its
        /// unit and glTF is in metres. STL, OBJ and PLY say none, so that it must be given for them.
        #[serde(default)]
        unit: Option<MeshUnit>,
        /// Where the file's origin goes. Default: the vehicle's origin.
        #[serde(default)]
        at: Option<Point>,
        /// Turned about x, then y, then z, degrees, before it is placed. A file's axes are taken as they stand: glTF has y up,
        /// and one with z forward stands right when turned (90, 0, 90).
        #[serde(default)]
        #[serde(deserialize_with = "no_length")]
        turned_deg: Option<Point>,
        /// Instead of `at` and `turned_deg`: three or more pairs of a point in the file, its own unit and axes, and
        /// where it goes, vehicle coordinates: "these holes go on these bolts". Least squares; `check` shows what each
        /// misses by.
        #[serde(default)]
        #[serde(deserialize_with = "mesh_holes")]
        holes: Option<Vec<(Point, Point)>>,
    },
    /// A round bar between two points, by its diameter: an arm's leg, a tie rod. Its ends are round and reach half the
    /// diameter further. Each end is a point `(x, y, z)`, or a point of the suspension by the name of its field, which
    /// the bar then follows in every setup and on the other side: `"lower_arm.front_pivot"`, `"lower_arm.rear_pivot"`,
    /// `"lower_arm.ball_joint"`, the same of `upper_arm`, `"knuckle.wheel_centre"`, `"knuckle.tie_rod_outer"`,
    /// `"rack.tie_rod_inner"`, `"damper.upper_mount"`, `"damper.lower_mount"`, `"halfshaft.outer_joint"`,
    /// `"halfshaft.inner_joint"`.
    Bar {
        /// One end. Default on `tie_rod`, `halfshaft`, `damper_upper` and `damper_lower`: the body's own inner or upper
        /// end.
        #[serde(default)]
        from: Option<Place>,
        /// The other. Default on the same bodies: the outer or lower end.
        #[serde(default)]
        to: Option<Place>,
        /// Its diameter.
        #[serde(deserialize_with = "length")]
        diameter: f64,
        /// How far short of `from` the bar's axis begins: half a ball joint's housing, say. Default 0.
        #[serde(default)]
        #[serde(deserialize_with = "length")]
        short_from: f64,
        /// How far short of `to` it ends. Default 0.
        #[serde(default)]
        #[serde(deserialize_with = "length")]
        short_to: f64,
    },
    /// A joint's cup, on `inner_joint_housing` or `outer_joint_housing`: round about the joint's own axis, closed behind,
    /// open toward the shaft.
    Cup {
        /// Diameter of its bore.
        #[serde(deserialize_with = "length")]
        bore: f64,
        /// Diameter outside.
        #[serde(deserialize_with = "length")]
        outside: f64,
        /// Depth of the bore, from its mouth to its bottom.
        #[serde(deserialize_with = "length")]
        depth: f64,
        /// How far the mouth lies from the joint's centre, toward the shaft; below zero where the joint stands out of the
        /// cup.
        #[serde(deserialize_with = "length")]
        mouth: f64,
        /// Thickness of its bottom. Default: as thick as its wall.
        #[serde(default)]
        #[serde(deserialize_with = "optional_length")]
        bottom: Option<f64>,
    },
    /// The tyre by the scene's `tyre.size`, on `wheel`: about the spindle, its middle at the wheel centre. Its outline
    /// holds what tyres of a size differ in: the whole section width from three tenths of the section height to where
    /// the shoulder begins. Another size draws another tyre.
    Tyre {
        /// How wide the tread is at the full diameter. Default: 0.8 of the section width.
        #[serde(default)]
        #[serde(deserialize_with = "optional_length")]
        tread_width: Option<f64>,
        /// How far below the tread, in radius, the shoulder begins. Default: 0.2 of the section height.
        #[serde(default)]
        #[serde(deserialize_with = "optional_length")]
        shoulder_drop: Option<f64>,
    },
    /// A round link that hangs between two bodies, such as an anti-roll bar's: one end on the part's own body (`on`), the
    /// other on another. At every position it hangs on `from` and points at `to`; it keeps the length that it has where
    /// measured, and `check` says what its ends come nearer or go further apart. Both bodies are of `frame`,
    /// `differential`, `rack`, `lower_arm`, `upper_arm` and `knuckle`.
    Link {
        /// Its end on the part's own body: a point, or the name of one as for a Bar.
        from: Place,
        /// Its other end: `(on: frame, at: (x, y, z))`.
        to: LinkEnd,
        /// Its diameter.
        #[serde(deserialize_with = "length")]
        diameter: f64,
        /// How far short of `from` the bar's axis begins. Default 0.
        #[serde(default)]
        #[serde(deserialize_with = "length")]
        short_from: f64,
        /// How far short of `to` it ends. Default 0.
        #[serde(default)]
        #[serde(deserialize_with = "length")]
        short_to: f64,
    },
    /// A coil spring around the damper, on `damper_upper` or `damper_lower`: it stands between its seats, one on each
    /// half, at every length of the damper. It is checked as the room of its coil, a tube from seat to seat: in slices
    /// that overlap the more the shorter the damper is, and never pass a seat from `compressed` to `extended` and beyond, as far
    /// as is looked. How far that is (`search`) changes their number, not the room. Where the
    /// seats come as near as its solid height, turns times wire, it binds: a stop, `coil bind` and its name.
    Spring {
        /// From the centre of the damper's upper eye down to where the coil begins, along the damper, as measured.
        #[serde(deserialize_with = "length")]
        upper_seat: f64,
        /// From the centre of the damper's lower eye up to where the coil ends, likewise.
        #[serde(deserialize_with = "length")]
        lower_seat: f64,
        /// Diameter of the wire.
        #[serde(deserialize_with = "length")]
        wire: f64,
        /// Mean diameter of the coil, from wire centre to wire centre.
        #[serde(deserialize_with = "length")]
        mean_diameter: f64,
        /// All its turns, those that lie on the seats too.
        turns: f64,
    },
    /// A joint's boot, on `inner_joint_housing` or `outer_joint_housing`: from a circle on the cup to one on the shaft. It
    /// is checked as the room between both, in slices that move with their share of both motions, each as wide as its larger
    /// end and a little more for the bend. It touches cup and shaft: name these in `joined`.
    Boot {
        /// How far its large end lies from the joint's centre, toward the shaft.
        #[serde(deserialize_with = "length")]
        cup_at: f64,
        /// Diameter outside at its large end.
        #[serde(deserialize_with = "length")]
        cup_diameter: f64,
        /// How far its small end lies from the joint's centre, along the shaft.
        #[serde(deserialize_with = "length")]
        shaft_at: f64,
        /// Diameter outside at its small end.
        #[serde(deserialize_with = "length")]
        shaft_diameter: f64,
        /// The longest that its side may be, from end to end straight: along the outer side of the bend it is stretched
        /// tight there, a stop. Default: no limit.
        #[serde(default)]
        #[serde(deserialize_with = "optional_length")]
        longest: Option<f64>,
        /// The shortest that its side may be: along the inner side of the bend it is folded flat there, a stop. Default:
        /// no limit.
        #[serde(default)]
        #[serde(deserialize_with = "optional_length")]
        shortest: Option<f64>,
    },
}

/// A link's other end.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LinkEnd {
    /// The body that carries it.
    pub on: Body,
    /// The point, or the name of one.
    pub at: Place,
}

impl PartEntry {
    /// Bodies in whose drawings some of it is given: its own, and that of a link's other end where this is written as
    /// coordinates.
    pub fn drawn_on(&self) -> impl Iterator<Item = Body> {
        let far_end = match &self.shape {
            ShapeEntry::Link { to, .. } if matches!(to.at, Place::At(_)) => Some(to.on),
            _ => None,
        };
        [self.on].into_iter().chain(far_end)
    }
}

impl ShapeEntry {
    /// Whether some of the shape is drawn from its body's or the suspension's own points, so that it can't be moved by
    /// itself.
    pub fn follows_points(&self) -> bool {
        let is_coordinates = |end: &Option<Place>| matches!(end, Some(Place::At(_)));
        match self {
            ShapeEntry::Ball { .. }
            | ShapeEntry::Capsule { .. }
            | ShapeEntry::Cylinder { .. }
            | ShapeEntry::Cone { .. }
            | ShapeEntry::Box { .. }
            | ShapeEntry::Hull { .. }
            | ShapeEntry::Mesh { .. } => false,
            ShapeEntry::Lathe { from, axis, .. } => from.is_none() || axis.is_none(),
            ShapeEntry::Bar { from, to, .. } => !is_coordinates(from) || !is_coordinates(to),
            ShapeEntry::Link { from, to, .. } => {
                !is_coordinates(&Some(*from)) || !is_coordinates(&Some(to.at))
            }
            ShapeEntry::Cup { .. }
            | ShapeEntry::Tyre { .. }
            | ShapeEntry::Spring { .. }
            | ShapeEntry::Boot { .. } => true,
        }
    }

    /// Whether a common part gives no coordinates at all: each side draws it from its own points.
    pub fn is_without_points(&self) -> bool {
        let is_coordinates = |end: &Option<Place>| matches!(end, Some(Place::At(_)));
        match self {
            ShapeEntry::Bar { from, to, .. } => !is_coordinates(from) && !is_coordinates(to),
            ShapeEntry::Link { from, to, .. } => {
                !is_coordinates(&Some(*from)) && !is_coordinates(&Some(to.at))
            }
            ShapeEntry::Cup { .. }
            | ShapeEntry::Tyre { .. }
            | ShapeEntry::Spring { .. }
            | ShapeEntry::Boot { .. } => true,
            _ => false,
        }
    }
}

/// Pairs to watch.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Watch {
    /// First part's name; `*` and `?` stand for any letters and any letter.
    pub a: String,
    /// Second part's name, likewise.
    pub b: String,
    /// The gap that must remain. Zero: contact alone counts. A later entry that names the same pair
    /// replaces it.
    #[serde(deserialize_with = "length")]
    pub gap: f64,
    // The part that an `AddPart` brought this entry with: pairs without that part keep what they had, or get more. No file
    // says it.
    #[doc(hidden)]
    #[serde(default, skip)]
    pub came_with: Option<CameWith>,
}

/// The added part that an entry of `watch` or `joined` came with.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CameWith {
    /// Its name.
    pub part: String,
    /// The side that it was added to; none where it was added to both.
    pub side: Option<Side>,
}

/// A pair that is joined by design and so left out.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Joined {
    /// First part's name; wildcards allowed.
    pub a: String,
    /// Second part's name.
    pub b: String,
    /// Why, as printed.
    pub why: String,
    // As in `Watch`.
    #[doc(hidden)]
    #[serde(default, skip)]
    pub came_with: Option<CameWith>,
}

/// What differs on the other corner: whole components, in vehicle coordinates of that side.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OtherSide {
    /// Lower control arm.
    #[serde(default)]
    pub lower_arm: Option<Arm>,
    /// Upper control arm.
    #[serde(default)]
    pub upper_arm: Option<Arm>,
    /// Knuckle.
    #[serde(default)]
    pub knuckle: Option<Knuckle>,
    /// Tie rod's end on the rack.
    #[serde(default)]
    pub tie_rod_inner: Option<Point>,
    /// Damper.
    #[serde(default)]
    pub damper: Option<Damper>,
    /// Halfshaft.
    #[serde(default)]
    pub halfshaft: Option<Halfshaft>,
    /// Ball joints.
    #[serde(default)]
    pub ball_joints: Option<BallJoints>,
    /// Hoses.
    #[serde(default)]
    pub hoses: Option<Vec<Hose>>,
    /// Parts that replace the mirrored ones of the same name, or are added.
    #[serde(default)]
    pub parts: Vec<PartEntry>,
}
