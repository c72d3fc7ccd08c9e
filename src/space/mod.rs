//! Room for a bracket: the space that moving parts take, over the whole free travel.
//!
//! * [`PoseTree`]: every position of the free travel at once, with proved motion bounds.
//! * [`keep_out`]: the solid that moving parts sweep, grown by a margin, watertight.
//!
//! Reads: a [`Corner`](crate::truck::Corner) and its free [`Region`](crate::sweep::free_travel::Region). Produces:
//! findings and meshes. Next room: [`crate::output`].

mod keep_out;
mod marching;
mod nearest;
mod poses;

pub use keep_out::{KeepOut, KeepOutError, KeepOutOptions, SEEN_FROM, keep_out};
pub use nearest::{Nearest, nearest};
pub use poses::{Mover, Pose, PoseNode, PoseTree};
