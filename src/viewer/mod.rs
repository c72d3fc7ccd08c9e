//! The window: see the suspension move, see where it binds; and the same as pictures without a window.
//!
//! A thin client: every number comes from the library's calls that the command line uses. Each plugin is
//! one file, named by what a person sees.
//!
//! * [`document`]: the scene, undo, saving, reloading. [`motion`]: where the suspension is, and play.
//!   [`background`]: sweep, map and gaps off the main thread.
//! * In the picture: [`suspension`] (parts and their colours), [`tyre`], [`joints`], [`contacts`],
//!   [`section`], [`part_material`], [`surface_mesh`],
//!   [`labels`]; [`look`] and [`framing`] hold cameras and light.
//! * Around it: [`controls`] (bars and keys), [`left_panel`] with [`stop_list`], [`parts_list`] and
//!   [`editor`]; [`travel_map`] with [`curves`]; [`panels`] hands out the room.
//! * [`picture`]: pictures off screen. [`reload`]: the file watched. [`trace`]: state for tests.
//!
//! Reads: a scene file. Produces: a window, or PNG files. Nothing else in the library knows of it.

#![allow(
    clippy::too_many_arguments,
    clippy::type_complexity,
    reason = "a system's arguments are what it reads and writes"
)]

pub mod background;
pub mod contacts;
pub mod controls;
pub mod curves;
pub mod document;
pub mod editor;
pub mod frame;
pub mod framing;
pub mod joints;
pub mod labels;
pub mod left_panel;
pub mod look;
pub mod motion;
pub mod palette;
pub mod panels;
pub mod part_material;
pub mod parts_list;
pub mod picture;
pub mod reload;
pub mod section;
pub mod shown;
pub mod stop_list;
pub mod surface_mesh;
pub mod suspension;
pub mod trace;
pub mod travel_map;
pub mod tyre;
mod window;

pub use window::{ViewError, WindowOptions, open};
