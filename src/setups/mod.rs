//! Setups: named changes made on a scene.
//!
//! A setup is applied to what a person wrote, not to what was built from it: the result is another scene,
//! which is then assembled, swept, shown and exported like any other. Every point and shape in a change is
//! drawn on the truck as measured; bringing parts together that were not drawn together (another arm, a
//! lowered differential) is the linkage's work, see [`crate::suspension::OwnPoints`].
//!
//! Reads: a [`Scene`]. Produces: a [`Scene`], or a [`Problem`] at the change that
//! can't be made. Next: [`crate::truck`], which is given both, since the spring and the parts that stay
//! remember the truck as measured.

mod apply;
mod components;
mod move_shape;
mod one_side;
mod parts;
mod tyre_size;

pub use apply::{AS_MEASURED, body_gains, setup_names, setups_with_part, with_setup};
pub use tyre_size::{
    TyreMeasures, check_drawn_tyre, fitted_measures, resized, tyre_measures, tyre_outline,
};

use crate::scene::{Problem, Scene};

/// What a change can't do, at its place in the file.
type Result<T> = std::result::Result<T, Problem>;

/// Names as a message lists them.
fn listed<'a>(names: impl Iterator<Item = &'a str>) -> String {
    let mut names: Vec<&str> = names.collect();
    names.sort_unstable();
    names.dedup();
    if names.is_empty() {
        "none".to_owned()
    } else {
        // Names may hold commas of their own.
        format!("`{}`", names.join("`, `"))
    }
}

/// Every part's name in a scene, both sides.
fn part_names(scene: &Scene) -> impl Iterator<Item = &str> {
    scene
        .parts
        .iter()
        .chain(&scene.other_side.parts)
        .map(|part| part.name.as_str())
}
