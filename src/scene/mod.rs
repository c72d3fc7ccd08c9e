//! What a person writes: the scene file.
//!
//! A scene is one RON file that reads like the truck. Lengths are in the unit it names, angles in
//! degrees, points in vehicle coordinates (x forward, y left, z up) at the measured position. One
//! corner is described; the other is its mirror image unless something is overridden.
//!
//! Reads: text. Produces: a [`Scene`] and, for anything wrong, a [`SceneError`] that knows its line
//! and column. Next: [`crate::truck`], which turns it into corners.

mod changes;
mod contents;
mod damper_eyes;
mod edit;
mod format;
mod ground;
mod length;
mod locate;
mod measured;
mod missing;
mod named_point;
mod nearest;
mod new_scene;
mod read;
mod reference;
mod slips;
mod types;

pub use changes::*;
pub use contents::{AS_MEASURED, mesh_files};
pub use damper_eyes::DamperEyes;
pub use edit::{
    NewPart, NumberField, number_fields, string_fields, with_number, with_part, with_placement,
};
pub use format::FORMAT;
pub use ground::*;
pub use length::{MOST_WRITTEN, NoLength, WrittenLength, reworded};
pub use locate::place_of;
pub use named_point::{NamedPoint, Place};
pub use nearest::did_you_mean;
pub use new_scene::{FrontEnd, new_scene};
pub use read::{Problem, SceneError, read_scene, scene_from_text};
pub use reference::field_reference;
pub use types::*;
