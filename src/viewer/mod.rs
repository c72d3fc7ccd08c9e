//! The window: see the suspension move, see where it binds; and the same as pictures without a window.
//!
//! A thin client: every number comes from the library's calls that the command line uses. Each plugin is
//! one file, named by what a person sees.
//!
//! * [`document`]: the scene, its setup, undo, saving, reloading. [`motion`]: where the suspension is, and
//!   play. [`background`]: sweep, map and gaps off the main thread; [`truck_worker`]: trucks.
//!   [`ghost`]: another setup to compare with (mirrored where only its other side is built).
//! * In the picture: [`suspension`] (parts and their colours), [`ghost_parts`], [`tyre`], [`joints`],
//!   [`contacts`], [`section`], [`part_material`], [`surface_mesh`],
//!   [`labels`]; [`look`] and [`framing`] hold cameras and light.
//! * Around it: [`controls`] (bars and keys), [`left_panel`] with [`setup_choice`], [`stop_list`],
//!   [`parts_list`] and [`editor`]; [`travel_map`] with [`curves`]; [`panels`] hands out the window.
//! * The whole truck on the ground: [`drive`] is the state, [`drive_worker`] finds it off the main thread,
//!   [`whole_truck`] and [`ground_mesh`] draw it, [`drive_marks`] marks contacts and angles, [`drive_panel`] has the
//!   clearance curve and the controls, [`drive_words`] the sentence over the picture.
//! * Room for a bracket: [`room_page`] is the page; [`keep_out`] makes the keep-out solid off the main thread and
//!   [`keep_out_body`] draws it; [`part_loading`] adds a mesh to the scene, [`placing`] moves it, [`part_handles`]
//!   are the arrows and rings to do so by hand. [`part_colours`] draws a part in colours found for its corners.
//! * How near everything comes to a part: [`clearance_map`] finds the map off the main thread and keeps it up with the
//!   truck, [`clearance_list`] is its section on the page, [`clearance_probe`] reads it off under the [pointer](mod@pointer).
//! * [`picture`]: pictures off screen. [`file_dialog`]: the system's. [`reload`]: the file watched. [`trace`]: state for tests.
//!
//! Reads: a scene file. Produces: a window, or PNG files. Nothing else in the library knows of it.

#![allow(
    clippy::too_many_arguments,
    clippy::type_complexity,
    reason = "a system's arguments are what it reads and writes"
)]

pub mod background;
pub mod clearance_list;
pub mod clearance_map;
pub mod clearance_probe;
pub mod contacts;
pub mod controls;
pub mod curves;
pub mod document;
pub mod drive;
pub mod drive_marks;
pub mod drive_panel;
pub mod drive_words;
pub mod drive_worker;
pub mod editor;
pub mod file_dialog;
pub mod frame;
pub mod framing;
pub mod ghost;
pub mod ghost_parts;
pub mod ground_mesh;
pub mod joints;
pub mod keep_out;
pub mod keep_out_body;
pub mod labels;
pub mod left_panel;
pub mod look;
mod making_progress;
pub mod motion;
pub mod palette;
pub mod panels;
pub mod part_colours;
pub mod part_handles;
pub mod part_loading;
pub mod part_material;
pub mod parts_list;
pub mod picture;
pub mod placing;
pub mod pointer;
pub mod reload;
pub mod room_page;
pub mod section;
pub mod setup_choice;
pub mod shown;
pub mod stop_list;
pub mod surface_mesh;
pub mod suspension;
pub mod trace;
pub mod travel_map;
pub mod truck_worker;
pub mod tyre;
pub mod whole_truck;
mod window;

pub use window::{ViewError, WindowOptions, open};
