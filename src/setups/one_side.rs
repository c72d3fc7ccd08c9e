//! Changes that hold for one corner.
//!
//! A setup with such changes is made twice, once for each corner, with the changes that hold for it: everything that
//! follows a change follows it there as it does when both change, and nothing can be left behind on the other corner. The
//! two results are one scene: the described corner's, which carries the other's ([`Scene::of_side`]).
//!
//! A one-sided change gives points of its own side. The scene's machinery takes the described side's and mirrors them, so
//! what is given for the other side is mirrored first; parts are fitted on that side alone, as they are drawn.

use super::Result;
use super::components::Mirror;
use crate::scene::{Change, Fitted, PartEntry, Point, Problem, Scene, ShapeEntry};
use crate::suspension::{Body, Side};

/// The same change with its parts fitted on its side alone.
///
/// # Errors
/// [`Problem`] for a part that is said to be fitted elsewhere, and for a point that lies on the other side.
pub(super) fn parts_on_their_side(change: &Change, path: &str) -> Result<Change> {
    let mut change = change.clone();
    let Some(side) = change.side() else {
        return Ok(change);
    };
    check_points(&change, side, path)?;
    let own = Fitted::on(side);
    let is_one = matches!(change, Change::AddPart { .. });
    for (i, part) in change.parts_mut().iter_mut().enumerate() {
        if part.fitted != Fitted::EachSide && part.fitted != own {
            let part_path = if is_one {
                format!("{path}.part")
            } else {
                format!("{path}.parts[{i}]")
            };
            return Err(Problem::at(
                format!("{part_path}.fitted"),
                format!(
                    "this change is for the {} side, and `{}` is fitted elsewhere",
                    side.name(),
                    part.name
                ),
                "leave out `fitted`, or `side`",
            ));
        }
        part.fitted = own;
    }
    Ok(change)
}

/// The points that a change gives of a corner's components: none of them crosses the truck's middle.
fn points(change: &Change) -> Vec<(&'static str, Point)> {
    let given = |fields: &[(&'static str, Option<Point>)]| -> Vec<(&'static str, Point)> {
        let each = fields.iter();
        each.filter_map(|(name, p)| p.map(|p| (*name, p))).collect()
    };
    match change {
        Change::Damper {
            upper_mount,
            lower_mount,
            ..
        } => given(&[("upper_mount", *upper_mount), ("lower_mount", *lower_mount)]),
        Change::UpperArm(arm) | Change::LowerArm(arm) => given(&[
            ("front_pivot", arm.front_pivot),
            ("rear_pivot", arm.rear_pivot),
            ("ball_joint", arm.ball_joint),
        ]),
        Change::Knuckle {
            ball_joints,
            wheel_centre,
            tie_rod_outer,
            outer_joint,
            ..
        } => given(&[
            ("ball_joints", ball_joints.map(|pair| pair.0)),
            ("ball_joints", ball_joints.map(|pair| pair.1)),
            ("wheel_centre", *wheel_centre),
            ("tie_rod_outer", *tie_rod_outer),
            ("outer_joint", *outer_joint),
        ]),
        Change::TieRodEnd { outer, .. } => given(&[("outer", *outer)]),
        Change::Rack { tie_rod_inner, .. } => given(&[("tie_rod_inner", *tie_rod_inner)]),
        Change::RideHeight { .. }
        | Change::DamperSpacer(_)
        | Change::BumpStop(_)
        | Change::Strap { .. }
        | Change::Halfshaft { .. }
        | Change::Hose { .. }
        | Change::RackLimiter { .. }
        | Change::DropBrackets { .. }
        | Change::DifferentialSpacers { .. }
        | Change::DifferentialDrop { .. }
        | Change::Tyre { .. }
        | Change::WheelOffset { .. }
        | Change::ReplacePart { .. }
        | Change::AddPart { .. }
        | Change::RemovePart { .. }
        | Change::MovePart { .. } => Vec::new(),
    }
}

fn check_points(change: &Change, side: Side, path: &str) -> Result<()> {
    let is_across = |p: &Point| p.1 * side.outboard() < 0.0;
    match points(change).iter().find(|(_, p)| is_across(p)) {
        None => Ok(()),
        Some((field, p)) => Err(Problem::at(
            format!("{path}.{field}"),
            format!(
                "this change is for the {} side, and its point at y = {} lies on the {} one",
                side.name(),
                p.1,
                side.opposite().name()
            ),
            "a one-sided change gives its own side's points: left is +y, right is -y",
        )),
    }
}

/// A one-sided change with its components' points as the described side would have them.
pub(super) fn in_described(mut change: Change, described: Side) -> Change {
    if change.side().is_none_or(|side| side == described) {
        return change;
    }
    fn flip<T: Mirror>(given: &mut Option<T>) {
        *given = given.as_ref().map(Mirror::mirrored);
    }
    match &mut change {
        Change::Damper {
            upper_mount,
            lower_mount,
            upper_eye,
            lower_eye,
            ..
        } => {
            flip(upper_mount);
            flip(lower_mount);
            flip(upper_eye);
            flip(lower_eye);
        }
        Change::BumpStop(stop) => flip(&mut stop.ends),
        Change::UpperArm(arm) | Change::LowerArm(arm) => {
            flip(&mut arm.front_pivot);
            flip(&mut arm.rear_pivot);
            flip(&mut arm.ball_joint);
            flip(&mut arm.cone);
        }
        Change::Knuckle {
            ball_joints,
            wheel_centre,
            spindle,
            tie_rod_outer,
            outer_joint,
            steering_stop_deg,
            ..
        } => {
            flip(ball_joints);
            flip(wheel_centre);
            flip(tie_rod_outer);
            flip(outer_joint);
            flip(spindle);
            flip(steering_stop_deg);
        }
        Change::TieRodEnd {
            outer,
            outer_end,
            inner_end,
            ..
        } => {
            flip(outer);
            flip(outer_end);
            flip(inner_end);
        }
        Change::Hose { ends, .. } | Change::Strap { ends, .. } => flip(ends),
        Change::Rack { tie_rod_inner, .. } => flip(tie_rod_inner),
        Change::MovePart {
            by,
            turned_deg,
            about,
            ..
        } => {
            flip(by);
            flip(about);
            // Mirrored in y, turns about x and z change sense.
            *turned_deg = turned_deg.map(|turn| Point(-turn.0, turn.1, -turn.2));
        }
        // No points, or parts that are fitted on their side as they are drawn.
        Change::RideHeight { .. }
        | Change::DamperSpacer(_)
        | Change::Halfshaft { .. }
        | Change::RackLimiter { .. }
        | Change::DropBrackets { .. }
        | Change::DifferentialSpacers { .. }
        | Change::DifferentialDrop { .. }
        | Change::Tyre { .. }
        | Change::WheelOffset { .. }
        | Change::ReplacePart { .. }
        | Change::AddPart { .. }
        | Change::RemovePart { .. } => {}
    }
    change
}

/// The part of a name that a corner has of its own: one side of it can be changed alone.
pub(super) fn part_of<'s>(
    scene: &'s Scene,
    name: &str,
    side: Side,
    path: &str,
) -> Result<&'s PartEntry> {
    let others = scene.other_side.parts.iter();
    let redrawn = others.filter(|_| side != scene.side);
    let is_here = |part: &&PartEntry| part.name == name && part.fitted.is_on(side);
    let found = redrawn.chain(&scene.parts).find(is_here).ok_or_else(|| {
        Problem::at(
            format!("{path}.name"),
            format!("no part on the {} side is named `{name}`", side.name()),
            "leave out `side`, or name a part that this side has",
        )
    })?;
    if found.fitted == Fitted::Once || found.on == Body::FrontDriveshaft {
        return Err(Problem::at(
            format!("{path}.side"),
            format!("there is one `{name}`, seen by both sides"),
            "leave out `side`",
        ));
    }
    Ok(found)
}

/// The same part in another shape, on one side alone, as drawn.
pub(super) fn replaced(part: &PartEntry, shape: &ShapeEntry, side: Side) -> PartEntry {
    PartEntry {
        shape: shape.clone(),
        fitted: Fitted::on(side),
        ..part.clone()
    }
}
