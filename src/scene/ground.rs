//! The scene file's fields for the whole truck on the ground: rear axle, underbody, obstacles.
//! [`super::field_reference`] prints these pages for `bindpoint schema`.

use super::length::{droop_and_bump, length, length_pairs, optional_length, optional_two_lengths};
use super::types::{MeshUnit, Point, ShapeEntry};
use serde::{Deserialize, Serialize};

/// The rear axle and its tyres.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Rear {
    /// Wheelbase: from front to rear wheel centres along x, as measured.
    #[serde(deserialize_with = "length")]
    pub wheelbase: f64,
    /// From the truck's middle to a rear wheel's centre.
    #[serde(deserialize_with = "length")]
    pub half_track: f64,
    /// Height of the rear wheel centres, truck as measured.
    #[serde(deserialize_with = "length")]
    pub wheel_centre_z: f64,
    /// The rear tyres' static loaded radius.
    #[serde(deserialize_with = "length")]
    pub loaded_radius: f64,
    /// The rear tyres' section width.
    #[serde(deserialize_with = "length")]
    pub tyre_width: f64,
    /// How far a rear wheel goes down and up from ride height, both positive: `(droop, bump)`. Needed where
    /// `wheel_springs` are given.
    #[serde(default)]
    #[serde(deserialize_with = "droop_and_bump")]
    pub travel: Option<(f64, f64)>,
}

/// What the springs do at the wheels: with it the suspension follows the ground on a drive.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WheelSprings {
    /// Each front wheel.
    pub front: WheelSpring,
    /// Each rear wheel.
    pub rear: WheelSpring,
}

/// One wheel's spring. Forces in newtons where the scene's lengths are millimetres, in pounds where they are inches.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WheelSpring {
    /// Load on the wheel at ride height on level ground.
    pub load: f64,
    /// Wheel rate: load gained for a length of wheel travel.
    pub rate: f64,
}

/// What carries an underbody part.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CarriedBy {
    /// The frame: sprung.
    #[default]
    Frame,
    /// The rear axle: unsprung.
    RearAxle,
}

/// A part under or around the truck: a bumper, a slider, the rear axle's housing. The ground can meet it; what the frame
/// carries of it the wheels can, and each moving part that `watch` names. Parts of the front corners and on the differential and the frame count as well.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Underbody {
    /// Its name.
    pub name: String,
    /// What carries it: `frame` (default) or `rear_axle`.
    #[serde(default)]
    pub on: CarriedBy,
    /// Its shape, in vehicle coordinates at the measured position.
    pub shape: ShapeEntry,
    /// Whether the other side has its mirror image. Default: it is drawn once, as it is.
    #[serde(default)]
    pub both_sides: bool,
}

/// Something to drive over.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Obstacle {
    /// Its name.
    pub name: String,
    /// Its shape.
    pub shape: ObstacleShape,
    /// Where it lies across the track, from and to, left positive. Default: all the way. Not for a ditch, a
    /// boulder, a mesh or a side slope.
    #[serde(default)]
    #[serde(deserialize_with = "optional_two_lengths")]
    pub across: Option<(f64, f64)>,
    /// Distance from the front axle to its front at the start: no less than the truck reaches ahead of that axle. Default:
    /// far enough for nothing to touch.
    #[serde(default)]
    #[serde(deserialize_with = "optional_length")]
    pub ahead: Option<f64>,
}

/// An obstacle's shape. Forward is along the drive; its front is where it begins.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum ObstacleShape {
    /// A step up; the ground stays up behind it.
    Ledge {
        /// Its height.
        #[serde(deserialize_with = "length")]
        height: f64,
        /// Radius of its edge. Default 0: sharp.
        #[serde(default)]
        #[serde(deserialize_with = "length")]
        edge_radius: f64,
    },
    /// A slope up to a height; the ground stays up behind it.
    Ramp {
        /// Its height.
        #[serde(deserialize_with = "length")]
        height: f64,
        /// Its length, level.
        #[serde(deserialize_with = "length")]
        length: f64,
    },
    /// A rounded rise and fall, one wave of a cosine.
    Hump {
        /// Its height.
        #[serde(deserialize_with = "length")]
        height: f64,
        /// Its length.
        #[serde(deserialize_with = "length")]
        length: f64,
    },
    /// A log lying square across the track.
    Log {
        /// Its diameter.
        #[serde(deserialize_with = "length")]
        diameter: f64,
    },
    /// An ellipsoid lying on the ground, half of it above.
    Boulder {
        /// Length along the track, width across it, height above the ground.
        size: Point,
        /// Its middle across the track, left positive. Default 0.
        #[serde(default)]
        #[serde(deserialize_with = "length")]
        middle_y: f64,
    },
    /// A boulder from an STL, OBJ, PLY, 3MF or glTF file: its lowest point is set on the ground unless `sunk`.
    Mesh {
        /// The file, relative to the scene file.
        file: String,
        /// The file's unit, as for a part's mesh.
        #[serde(default)]
        unit: Option<MeshUnit>,
        /// Its middle across the track, left positive. Default 0.
        #[serde(default)]
        #[serde(deserialize_with = "length")]
        middle_y: f64,
        /// How deep its lowest point lies below the ground. Default 0.
        #[serde(default)]
        #[serde(deserialize_with = "length")]
        sunk: f64,
    },
    /// A ditch across the track with upright walls.
    Ditch {
        /// Its depth.
        #[serde(deserialize_with = "length")]
        depth: f64,
        /// From edge to edge along the track.
        #[serde(deserialize_with = "length")]
        width: f64,
    },
    /// Ground that slopes to one side all along.
    SideSlope {
        /// Its angle, degrees, the left side higher positive.
        deg: f64,
    },
    /// A height profile: (distance, height) from its front on, distances rising; the ground goes on level at the
    /// last height.
    Profile {
        /// The corners.
        #[serde(deserialize_with = "length_pairs")]
        points: Vec<(f64, f64)>,
    },
}
