//! A setup's changes, one after the other.

use super::components::{self, EachSide, Mirror};
use super::{Result, listed, one_side, part_names, parts, tyre_size};
use crate::scene::{
    BumpStopOn, Change, Damper, End, Hose, Hung, LeftRight, PartEntry, Problem, Scene, Setup,
    Strap, Wheels, did_you_mean,
};
use crate::suspension::Side;

/// The names of a scene's setups, in its order.
pub fn setup_names(scene: &Scene) -> Vec<&str> {
    scene.setups.iter().map(|s| s.name.as_str()).collect()
}

/// The scene with a setup's changes made, and those of the setups that it is made on. Its name says so. For
/// [`AS_MEASURED`] the scene as it is.
///
/// # Errors
/// [`Problem`] for a name that no setup has, setups that are made on each other in a circle, and a change that
/// can't be made.
pub fn with_setup(scene: &Scene, name: &str) -> Result<Scene> {
    if name == AS_MEASURED {
        return Ok(scene.clone());
    }
    let mut chain = Vec::new();
    let mut wanted = Some((name, "setups".to_owned()));
    while let Some((name, path)) = wanted {
        let i = find(scene, name, &path)?;
        if chain.contains(&i) {
            return Err(Problem::at(
                path,
                format!("`{name}` is made on itself, by way of other setups"),
                "let one of them be made on the truck as measured: leave out its `on`",
            ));
        }
        chain.push(i);
        let on = scene.setups[i].on.as_deref();
        wanted = on.map(|on| (on, format!("setups[{i}].on")));
    }
    let changes: Vec<(String, &Change)> = (chain.into_iter().rev())
        .flat_map(|i| {
            let all = scene.setups[i].changes.iter().enumerate();
            all.map(move |(j, change)| (format!("setups[{i}].changes[{j}]"), change))
        })
        .collect();
    if changes.iter().all(|(_, change)| change.side().is_none()) {
        return made(scene, name, &changes, None);
    }
    let of = |side: Side| made(scene, name, &changes, Some(side));
    let (mut described, other) = (of(scene.side)?, of(scene.side.opposite())?);
    if other != described {
        described.other_corner = Some(Box::new(other));
    }
    Ok(described)
}

/// The scene with the changes that hold for a corner, or for both where none is named.
fn made(
    scene: &Scene,
    name: &str,
    changes: &[(String, &Change)],
    side: Option<Side>,
) -> Result<Scene> {
    let mut changed = scene.clone();
    changed.name = format!("{} ({name})", scene.name);
    components::note_bump_stops(&mut changed);
    let mut before: Vec<&Change> = Vec::new();
    // Parts and hoses that one-sided changes have brought to the other corner, or taken off this one.
    let mut absent: Vec<&str> = Vec::new();
    for (path, change) in changes {
        let is_elsewhere = |side| change.side().is_some_and(|own| own != side);
        if side.is_some_and(is_elsewhere) {
            absent.extend(change.parts().iter().map(|part| part.name.as_str()));
            absent.extend(named(change));
            // What reaches over from there is watched here too.
            match change {
                Change::AddPart {
                    part,
                    watch,
                    joined,
                    side,
                } => parts::bring(&mut changed, part, *side, watch, joined),
                Change::RemovePart { name, side } => parts::forget(&mut changed, name, *side),
                _ => {}
            }
            continue;
        }
        // What one side alone has is changed there alone.
        let is_absent = |name: &&str| absent.contains(name) && !is_there(&changed, name);
        let is_left_out = !may_be_new(change) && named(change).filter(is_absent).is_some();
        if change.side().is_none() && is_left_out {
            continue;
        }
        if let (Some(_), Change::RemovePart { name, .. }) = (change.side(), change) {
            absent.push(name);
        }
        components::check_order(change, &before, path)?;
        before.push(change);
        let change = one_side::parts_on_their_side(change, path)?;
        let change = components::as_fitted(&change, scene, &changed, path)?;
        let change = one_side::in_described(change, scene.side);
        parts::note_drawn_before(&mut changed, &change);
        make(&mut changed, &change, scene, path)?;
    }
    Ok(changed)
}

/// The part or hose that a change names as being there.
fn named(change: &Change) -> Option<&str> {
    match change {
        Change::ReplacePart { name, .. }
        | Change::RemovePart { name, .. }
        | Change::MovePart { name, .. }
        | Change::Hose { name, .. } => Some(name),
        _ => None,
    }
}

/// Whether what a change names need not be there: a hose with ends of its own.
fn may_be_new(change: &Change) -> bool {
    matches!(change, Change::Hose { ends: Some(_), .. })
}

fn is_there(scene: &Scene, name: &str) -> bool {
    let mut names = part_names(scene).chain(parts::IMPLIED_NAMES);
    names.any(|n| n == name) || hoses_of(scene, None).any(|hose| hose.name == name)
}

pub use crate::scene::AS_MEASURED;

fn find(scene: &Scene, name: &str, path: &str) -> Result<usize> {
    if name.trim().is_empty() || name == AS_MEASURED {
        return Err(Problem::at(
            path,
            format!("`{name}` is no name for a setup"),
            format!("`{AS_MEASURED}` stands for the truck without any; name setups otherwise"),
        ));
    }
    let same = |s: &&Setup| s.name == name;
    match scene.setups.iter().filter(same).count() {
        1 => {}
        0 => {
            return Err(Problem::at(
                path,
                format!("no setup is named `{name}`"),
                format!(
                    "{}the setups are: {}",
                    nearest_setups(scene, name),
                    listed(setup_names(scene).into_iter())
                ),
            ));
        }
        _ => {
            return Err(Problem::at(
                path,
                format!("two setups are named `{name}`"),
                "give each setup a name of its own",
            ));
        }
    }
    scene
        .setups
        .iter()
        .position(|s| s.name == name)
        .ok_or_else(|| unreachable!("it was counted"))
}

/// The setups whose names are most like a misspelt one, as a question; nothing when none is like it.
fn nearest_setups(scene: &Scene, name: &str) -> String {
    did_you_mean(name, setup_names(scene).into_iter().chain([AS_MEASURED]))
}

/// The setups that have a part of this name (or pattern's match) which the truck as measured doesn't have.
pub fn setups_with_part<'s>(scene: &'s Scene, pattern: &str) -> Vec<&'s str> {
    let wanted = wildmatch::WildMatch::new(pattern);
    let has = |scene: &Scene| part_names(scene).any(|name| wanted.matches(name));
    if has(scene) {
        return Vec::new();
    }
    let with_it = |name: &&str| with_setup(scene, name).is_ok_and(|fitted| has(&fitted));
    setup_names(scene).into_iter().filter(with_it).collect()
}

/// Makes a change. `measured` is the scene without any: what parts are drawn on.
fn make(scene: &mut Scene, change: &Change, measured: &Scene, path: &str) -> Result<()> {
    match change {
        Change::RideHeight { up, by: _ } => scene.ride_height -= number(*up, path, "up")?,
        Change::Damper {
            longer,
            body_gains,
            extended,
            compressed,
            upper_mount,
            lower_mount,
            upper_eye,
            lower_eye,
            parts: own,
            side: _,
        } => {
            let change = length_change(*longer, *body_gains, *extended, *compressed, path)?;
            scene.each_damper(|damper, mirror| {
                change.make(damper);
                components::move_eyes(damper, upper_mount, lower_mount, mirror);
            });
            scene.each_ball_joints(|joints, mirror| {
                components::set_some(&mut joints.damper_upper, upper_eye, mirror);
                components::set_some(&mut joints.damper_lower, lower_eye, mirror);
            });
            let own = components::damper_parts(own, measured, scene);
            parts::fit(scene, &own);
        }
        Change::DamperSpacer(spacer) => {
            number(spacer.thickness, path, "thickness")?;
            scene.each_damper(|damper, _| damper.spacers.push(spacer.spacer()));
        }
        Change::BumpStop(stop) => {
            scene.each_damper(|damper, mirror| {
                components::set_some(&mut damper.bump_stop, &Some(stop.stop()), mirror);
            });
            components::note_bump_stops(scene);
        }
        Change::Strap {
            length,
            longer,
            ends,
            side,
        } => strap(scene, *length, *longer, *ends, *side, path)?,
        Change::UpperArm(arm) => {
            if scene.upper_arm.is_none() {
                return Err(Problem::at(
                    path,
                    "a strut holds the knuckle: there is no upper arm to change",
                    "another strut is `Damper(..)`, another top mount `Damper(upper_mount: ..)`",
                ));
            }
            scene.each_arm(true, |own, mirror| components::arm(own, arm, mirror));
            scene.each_ball_joints(|joints, mirror| {
                components::set_some(&mut joints.upper, &arm.cone, mirror);
            });
            parts::fit(scene, &arm.parts);
        }
        Change::LowerArm(arm) => {
            scene.each_arm(false, |own, mirror| components::arm(own, arm, mirror));
            scene.each_ball_joints(|joints, mirror| {
                components::set_some(&mut joints.lower, &arm.cone, mirror);
            });
            parts::fit(scene, &arm.parts);
        }
        Change::Knuckle { .. } => components::knuckle(scene, change, path)?,
        Change::TieRodEnd {
            outer,
            longer,
            outer_end,
            inner_end,
            parts: own,
            side: _,
        } => {
            components::tie_rod_end(scene, outer, path)?;
            if let Some(longer) = longer {
                components::longer_tie_rod(scene, number(*longer, path, "longer")?, path)?;
            }
            scene.each_ball_joints(|joints, mirror| {
                components::set_some(&mut joints.tie_rod_outer, outer_end, mirror);
                components::set_some(&mut joints.tie_rod_inner, inner_end, mirror);
            });
            parts::fit(scene, own);
        }
        Change::Halfshaft { .. } => components::halfshaft(scene, change, measured, path)?,
        Change::Hose {
            name,
            longest,
            longer,
            ends,
            side,
        } => {
            let new = Hose {
                name: name.clone(),
                longest: longest.unwrap_or(f64::NAN),
                ends: match ends {
                    Some(ends) => *ends,
                    None => return changed_hose(scene, change, *side, path),
                },
            };
            let is_known = hoses_of(scene, *side).any(|hose| hose.name == *name);
            if is_known || longer.is_some() || longest.is_none() {
                return changed_hose(scene, change, *side, path);
            }
            number(new.longest, path, "longest")?;
            if let Some(others) = &mut scene.other_side.hoses {
                let ends = new.ends.mirrored();
                others.push(Hose {
                    ends,
                    ..new.clone()
                });
            }
            scene.hoses.push(new);
        }
        Change::Rack {
            side,
            tie_rod_inner,
            travel,
            parts: own,
        } => {
            if side.is_some() && travel.is_some() {
                return Err(Problem::at(
                    format!("{path}.travel"),
                    "there is one rack: its travel holds for both sides",
                    "give the travel in a change without `side`; `left` and `right` are the two locks",
                ));
            }
            components::rack_end(scene, tie_rod_inner, path)?;
            if let Some(travel) = travel {
                scene.rack.travel = *travel;
            }
            parts::fit(scene, own);
        }
        Change::RackLimiter { left, right } => limit_rack(scene, [*left, *right], path)?,
        Change::DropBrackets {
            by,
            of,
            frame_parts,
            parts: own,
        } => drop_brackets(scene, *by, of.as_deref(), frame_parts, own, path)?,
        Change::DifferentialSpacers { thickness } => {
            differential(scene, path)?.front_spacer += number(*thickness, path, "thickness")?;
        }
        Change::DifferentialDrop { by } => {
            differential(scene, path)?.drop += number(*by, path, "by")?;
        }
        Change::Tyre {
            size,
            loaded_radius,
            wheels,
        } => {
            if *wheels == Wheels::All {
                tyre_size::fit_rear(scene, size, path)?;
            }
            tyre_size::fit(scene, size, *loaded_radius, path)?;
        }
        Change::WheelOffset { outboard, side: _ } => {
            let outboard = number(*outboard, path, "outboard")?;
            components::move_wheel_out(scene, outboard, path)?;
        }
        Change::ReplacePart { name, shape, side } => {
            parts::replace(scene, name, shape, *side, measured, path)?;
        }
        Change::AddPart {
            part,
            watch,
            joined,
            side,
        } => parts::add(scene, part, *side, watch, joined, path)?,
        Change::RemovePart { name, side } => parts::remove(scene, name, *side, path)?,
        Change::MovePart {
            name,
            by,
            turned_deg,
            about,
            side,
        } => {
            if let Some(side) = side {
                one_side::part_of(scene, name, *side, path)?;
            }
            parts::shift(scene, name, *by, *turned_deg, *about, measured, path)?;
        }
    }
    Ok(())
}

/// The hoses that a change of a corner, or of both, may name.
fn hoses_of(scene: &Scene, side: Option<Side>) -> impl Iterator<Item = &Hose> {
    let others = scene.other_side.hoses.as_ref();
    let is_described = |wanted: Side| wanted == scene.side;
    let own = side.is_none_or(is_described) || others.is_none();
    let theirs = !side.is_some_and(is_described);
    let own = scene.hoses.iter().filter(move |_| own);
    own.chain(others.into_iter().flatten().filter(move |_| theirs))
}

/// A hose that is there in another length or on another route.
fn changed_hose(scene: &mut Scene, change: &Change, side: Option<Side>, path: &str) -> Result<()> {
    let Change::Hose {
        name,
        longest,
        longer,
        ends,
        ..
    } = change
    else {
        return Ok(());
    };
    if !hoses_of(scene, side).any(|hose| hose.name == *name) {
        return Err(Problem::at(
            format!("{path}.name"),
            match side {
                None => format!("no hose is named `{name}`"),
                Some(side) => format!("no hose on the {} side is named `{name}`", side.name()),
            },
            format!(
                "the hoses are: {}; a new one is given with both `ends` and `longest`",
                listed(hoses_of(scene, side).map(|hose| hose.name.as_str()))
            ),
        ));
    }
    if longest.is_some() && longer.is_some() {
        return Err(Problem::at(
            format!("{path}.longer"),
            "both `longer` and a length of its own",
            "say how much longer, or give `longest`",
        ));
    }
    let longer = number(longer.unwrap_or(0.0), path, "longer")?;
    let make = |hose: &mut Hose, mirror: bool| {
        if hose.name == *name {
            hose.longest = longest.unwrap_or(hose.longest) + longer;
            components::set(&mut hose.ends, ends, mirror);
        }
    };
    scene.hoses.iter_mut().for_each(|hose| make(hose, false));
    let others = scene.other_side.hoses.iter_mut().flatten();
    others.for_each(|hose| make(hose, true));
    Ok(())
}

/// Spacers on the rack: what they take of its travel to the left and to the right.
fn limit_rack(scene: &mut Scene, taken: [f64; 2], path: &str) -> Result<()> {
    for (taken, name) in taken.into_iter().zip(["left", "right"]) {
        if number(taken, path, name)? < 0.0 {
            return Err(Problem::at(
                format!("{path}.{name}"),
                "a limiter only takes from the rack's travel",
                "give another rack's travel with `Rack(travel: (left: .., right: ..))`",
            ));
        }
    }
    let LeftRight { left, right } = scene.rack.travel;
    let [left, right] = [left - taken[0], right - taken[1]];
    if left <= 0.0 || right <= 0.0 {
        let name = if left <= 0.0 { "left" } else { "right" };
        return Err(Problem::at(
            format!("{path}.{name}"),
            format!("this takes all of the rack's travel to the {name}"),
            "give the spacer's thickness",
        ));
    }
    scene.rack.travel = LeftRight { left, right };
    Ok(())
}

/// What hangs from the frame, lowered.
fn drop_brackets(
    scene: &mut Scene,
    by: f64,
    of: Option<&[Hung]>,
    frame_parts: &[String],
    own: &[PartEntry],
    path: &str,
) -> Result<()> {
    let by = number(by, path, "by")?;
    let of = of.unwrap_or(&Hung::ALL);
    for (i, hung) in of.iter().enumerate() {
        if of[..i].contains(hung) {
            return Err(Problem::at(
                format!("{path}.of[{i}]"),
                "this is named twice",
                "name each once: it goes down by `by`",
            ));
        }
        match hung {
            Hung::LowerArm => scene.brackets.lower_arm += by,
            Hung::UpperArm => scene.brackets.upper_arm += by,
            Hung::Rack => scene.brackets.rack += by,
            Hung::Damper => scene.brackets.damper += by,
            Hung::Differential => {
                let problem = |p: Problem| Problem {
                    help: format!("{}, or leave the differential out of `of`", p.help),
                    ..p
                };
                differential(scene, path).map_err(problem)?.drop += by;
            }
        }
    }
    let with_differential = of.contains(&Hung::Differential);
    for (i, name) in frame_parts.iter().enumerate() {
        let path = format!("{path}.frame_parts[{i}]");
        parts::lower(scene, name, by, with_differential, &path)?;
    }
    parts::fit(scene, own);
    Ok(())
}

/// How a damper's own lengths change.
enum LengthChange {
    /// They stay.
    None,
    /// Extended and compressed length are these.
    To(f64, f64),
    /// They grow by so much.
    By(f64, f64),
}

/// Share of a damper's growth that its body gains where nothing else is said. With the same ends a damper of stroke
/// s is dead + 2 s long extended and dead + s compressed: what grows is the stroke, in body and rod alike.
const BODY_SHARE: f64 = 0.5;

/// How much longer a damper's body gets, and with it the compressed length, where the whole gets longer.
pub fn body_gains(longer: f64, stated: Option<f64>) -> f64 {
    stated.unwrap_or(BODY_SHARE * longer)
}

impl LengthChange {
    fn make(&self, damper: &mut Damper) {
        let closed = damper.compressed;
        match self {
            LengthChange::None => {}
            LengthChange::To(extended, compressed) => {
                (damper.extended, damper.compressed) = (*extended, *compressed);
            }
            LengthChange::By(extended, compressed) => {
                damper.extended += extended;
                damper.compressed += compressed;
            }
        }
        // The rubber sits against the rod's end: from there the closed body is as far as before.
        let on_rod = damper
            .bump_stop
            .as_mut()
            .filter(|stop| stop.on == Some(BumpStopOn::Rod));
        if let Some(stop) = on_rod {
            let moved = damper.compressed - closed;
            stop.contact += moved;
            stop.crushed += moved;
        }
    }
}

/// What a change says of a damper's lengths.
fn length_change(
    longer: Option<f64>,
    gains: Option<f64>,
    extended: Option<f64>,
    compressed: Option<f64>,
    path: &str,
) -> Result<LengthChange> {
    match (longer, extended, compressed) {
        (Some(_), Some(_), _) | (Some(_), _, Some(_)) => Err(Problem::at(
            format!("{path}.longer"),
            "both `longer` and a length of its own",
            "say how much longer, or give the lengths",
        )),
        (Some(longer), None, None) => {
            let longer = number(longer, path, "longer")?;
            let gains = number(body_gains(longer, gains), path, "body_gains")?;
            Ok(LengthChange::By(longer, gains))
        }
        (None, ..) if gains.is_some() => Err(Problem::at(
            format!("{path}.body_gains"),
            "`body_gains` is a share of `longer`, which isn't given",
            "say how much longer the damper is, or leave it out",
        )),
        (None, Some(extended), Some(compressed)) => Ok(LengthChange::To(extended, compressed)),
        (None, None, None) => Ok(LengthChange::None),
        (None, Some(_), None) | (None, None, Some(_)) => Err(Problem::at(
            path,
            "a damper of another length, but only one of `extended` and `compressed`",
            "give both, or say with `longer` how much longer it is",
        )),
    }
}

/// A plain number in a change.
pub(super) fn number(value: f64, path: &str, field: &str) -> Result<f64> {
    if value.is_finite() {
        Ok(value)
    } else {
        Err(Problem::at(
            format!("{path}.{field}"),
            "this is not a finite number",
            "write a plain number",
        ))
    }
}

/// Another strap, or the one that is there with another length or other ends.
fn strap(
    scene: &mut Scene,
    length: Option<f64>,
    longer: Option<f64>,
    ends: Option<(End, End)>,
    side: Option<Side>,
    path: &str,
) -> Result<()> {
    if length.is_some() && longer.is_some() {
        return Err(Problem::at(
            format!("{path}.longer"),
            "both `longer` and a length of its own",
            "say how much longer, or give the length",
        ));
    }
    let longer = number(longer.unwrap_or(0.0), path, "longer")?;
    let described = scene.side;
    let has_own = scene.other_side.damper.is_some();
    let mut fitted = false;
    scene.each_damper(|damper, mirror| {
        // As drawn for the damper that has it.
        let ends = ends.map(|ends| if mirror { ends.mirrored() } else { ends });
        let strap = match (&damper.strap, ends, length) {
            (Some(strap), ..) => Strap {
                length: length.unwrap_or(strap.length) + longer,
                ends: ends.unwrap_or(strap.ends),
            },
            (None, Some(ends), Some(length)) => Strap { ends, length },
            (None, ..) => return,
        };
        damper.strap = Some(strap);
        // The other corner's own damper may have none.
        fitted |= side.is_none_or(|side| mirror == (has_own && side != described));
    });
    if fitted {
        Ok(())
    } else {
        Err(Problem::at(
            path,
            "this truck has no limit strap",
            "a new one takes both `ends` and `length`: `Strap(ends: ((on: frame, at: ..), (on: lower_arm, at: ..)), length: ..)`",
        ))
    }
}

fn differential<'s>(
    scene: &'s mut Scene,
    path: &str,
) -> Result<&'s mut crate::scene::Differential> {
    scene.differential.as_mut().ok_or_else(|| {
        Problem::at(
            path,
            "the scene doesn't say how the differential hangs in the frame",
            "add `differential: (front_mounts: [..], rear_mounts: [..])` to the scene",
        )
    })
}
