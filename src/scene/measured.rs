//! Fields that a scene says were measured and are right: each has to be one of the scene's.
//!
//! Reads: a [`Scene`] and its text. Produces: a [`Problem`] at a name that no field has. Next: [`crate::plausibility`], which
//! neither warns of these fields nor blames them.

use super::did_you_mean;
use super::locate::Places;
use super::read::Problem;
use super::types::Scene;

/// Whether every entry of `measured` is a field that the text has.
///
/// # Errors
/// [`Problem`] at the first that isn't.
pub(super) fn check(scene: &Scene, text: &str) -> Result<(), Problem> {
    if scene.measured.is_empty() {
        return Ok(());
    }
    let places = Places::of(text);
    let known: Vec<String> = places
        .in_order()
        .into_iter()
        .filter(|(path, _)| !path.is_empty() && !path.starts_with("measured"))
        // A change's group stands in brackets of its own, which warnings don't count.
        .map(|(path, _)| path.replace("][0].", "]."))
        .collect();
    let mut all = scene.measured.iter().enumerate();
    let Some((i, name)) = all.find(|(_, name)| known.iter().all(|path| path != *name)) else {
        return Ok(());
    };
    // Not the numbers of each point: warnings name the point.
    let whole = known.iter().filter(|path| !path.ends_with(']'));
    let question = did_you_mean(name, whole.map(String::as_str));
    Err(Problem::at(
        format!("measured[{i}]"),
        format!("the scene writes no field `{name}`"),
        format!(
            "{question}name it as its warning does, such as `knuckle.wheel_centre` or `parts[3].shape.radius`"
        ),
    ))
}
