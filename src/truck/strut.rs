//! What a truck with struts can't have: what belongs to an upper arm, or to a damper that is only a damper.
//!
//! Reads: a [`Scene`]. Produces: the first [`Problem`]. Asked once, before a corner is built, so that nothing behind it meets an
//! upper arm that isn't there.

use crate::scene::{Foot, Problem, Scene, SpacerEffect};
use serde_json::Value;

type Result<T> = std::result::Result<T, Problem>;

/// Fields that name a body.
const NAMES_A_BODY: [&str; 2] = ["on", "lower_mount_on"];
/// A body as such a field has it, and how a point's name begins that is on it.
const UPPER_ARM: &str = "upper_arm";

/// Refuses what only an upper arm, or a damper beside it, can have: in the described corner's scene, and in the other one's
/// where a setup changed one side.
///
/// # Errors
/// [`Problem`] at the entry.
pub(super) fn check(scene: &Scene) -> Result<()> {
    check_side(scene)?;
    scene.other_corner.as_deref().map_or(Ok(()), check_side)
}

fn check_side(scene: &Scene) -> Result<()> {
    if scene.damper.lower_mount_on != Foot::Strut {
        return Ok(());
    }
    let other = scene.other_side.damper.iter();
    let dampers = [("damper", &scene.damper)].into_iter();
    for (path, damper) in dampers.chain(other.map(|d| ("other_side.damper", d))) {
        if damper.lower_mount_on != Foot::Strut {
            return Err(Problem::at(
                format!("{path}.lower_mount_on"),
                "one side has a strut and the other has none",
                "say `strut` on both, or on neither",
            ));
        }
        let lengthens = |adds| adds == SpacerEffect::TotalLength;
        if let Some(i) = damper.spacers.iter().position(|s| lengthens(s.adds)) {
            return Err(Problem::at(
                format!("{path}.spacers[{i}].adds"),
                "no spacer makes a strut longer: over its top mount it lowers the mount, under its spring it adds preload",
                "say `DropBrackets(by: .., of: [damper])` in a setup for one over the mount, `preload_only` for one under \
                 the spring",
            ));
        }
    }
    let other = scene.other_side.ball_joints.iter();
    let joints = [("ball_joints", &scene.ball_joints)].into_iter();
    for (path, joints) in joints.chain(other.map(|j| ("other_side.ball_joints", j))) {
        let eyes = [
            ("damper_upper", joints.damper_upper.is_some()),
            ("damper_lower", joints.damper_lower.is_some()),
        ];
        if let Some((field, _)) = eyes.into_iter().find(|(_, is_given)| *is_given) {
            return Err(Problem::at(
                format!("{path}.{field}"),
                "a strut has no eyes on bolts",
                "how far it may lean in the body is `top_mount: (half_angle_deg: ..)`",
            ));
        }
    }
    // Setups are asked when they are fitted.
    let Ok(Value::Object(mut all)) = serde_json::to_value(scene) else {
        return Ok(());
    };
    all.remove("setups");
    match all
        .iter()
        .find_map(|(field, value)| named(field, field, value))
    {
        Some(path) => Err(Problem::at(
            path,
            "this names the upper arm, and where a strut holds the knuckle there is none",
            "the strut's tube and what is on it are on `knuckle`, its rod on `damper_upper`; the points of the strut are \
             `damper.upper_mount` and `damper.lower_mount`",
        )),
        None => Ok(()),
    }
}

/// The entry of the scene, or of a list of it, in which an upper arm is named.
fn named(path: &str, field: &str, value: &Value) -> Option<String> {
    let is_point =
        |text: &str| (text.strip_prefix(UPPER_ARM)).is_some_and(|rest| rest.starts_with('.'));
    match value {
        Value::String(text) => {
            let names = NAMES_A_BODY.contains(&field) && text == UPPER_ARM;
            (names || is_point(text)).then(|| path.to_owned())
        }
        Value::Array(entries) if path.contains('[') => {
            entries.iter().find_map(|entry| named(path, field, entry))
        }
        Value::Array(entries) => (entries.iter().enumerate())
            .find_map(|(i, entry)| named(&format!("{path}[{i}]"), field, entry)),
        Value::Object(fields) => fields
            .iter()
            .find_map(|(field, value)| named(path, field, value)),
        Value::Null | Value::Bool(_) | Value::Number(_) => None,
    }
}
