//! Room for a bracket: the space that moving parts take, over the whole free travel.
//!
//! * [`PoseTree`]: every position of the free travel at once, with proved motion bounds.
//! * [`keep_out`]: the solid that moving parts sweep, grown by a margin, watertight.
//! * [`PlayPath`]: the paths that the suspension is played along.
//! * [`animate`]: key frames of every body along them, both wheels moving.
//! * [`clearance_map`]: how near everything comes to each corner and face of a part, with
//!   [`trim_marks()`] where too near.
//!
//! Reads: a [`Corner`](crate::truck::Corner) and its free [`Region`](crate::sweep::free_travel::Region). Produces:
//! findings and meshes. Next: [`crate::output`].

mod animation;
mod clearance_map;
mod keep_out;
mod least_gap;
mod marching;
mod nearest;
mod part_mesh;
mod patches;
pub mod play_path;
mod poses;
mod stages;
mod too_near;
mod trim_marks;

pub use animation::{
    Animation, AnimationError, AnimationOptions, Clip, DrawnBody, DrawnPart, Stand, animate,
};
pub use clearance_map::{
    ClearanceMap, MapCorners, Place, Spot, clearance_map, clearance_map_again,
    clearance_map_with_bound_factor,
};
pub use keep_out::{KeepOut, KeepOutError, KeepOutOptions, SEEN_FROM, keep_out};
pub use nearest::NearestPlace;
pub use part_mesh::{Edge, PartMesh, TreeMesh};
pub use patches::{Patch, clearance_findings};
pub use play_path::PlayPath;
pub use poses::{Mover, Pose, PoseNode, PoseTree};
pub use stages::{ClearanceError, ClearanceOptions, KnownTravels, MoverName};
pub use too_near::PatchSide;
pub use trim_marks::{Outline, Sheet, TrimMark, trim_marks};
