//! Parts replaced, added, taken off and moved.

use super::components::{DrawnOut, SinceMeasured};
use super::move_shape::{mirror_shape, mirrored, move_shape};
use super::{Result, listed, one_side, part_names};
use crate::scene::{
    CameWith, Change, Fitted, HangsFrom, Joined, PartEntry, Place, Point, Problem, Scene,
    ShapeEntry, Watch, did_you_mean,
};
use crate::suspension::{Body, Side};
use nalgebra::{Isometry3, Rotation3, Translation3, UnitQuaternion, Vector3};

/// The part that is there without being written.
const IMPLIED: &str = "halfshaft";
/// Parts that may be there without being written.
pub(super) const IMPLIED_NAMES: [&str; 2] = [IMPLIED, "front driveshaft"];

fn unknown(scene: &Scene, name: &str, path: &str) -> Problem {
    Problem::at(
        format!("{path}.name"),
        format!("no part is named `{name}`"),
        match scene.underbody.iter().any(|part| part.name == name) {
            true => {
                "it is in `underbody`, which setups don't change: put it into `parts`, on the frame"
                    .to_owned()
            }
            false => the_parts(scene, name),
        },
    )
}

/// What a misspelt part may be, and all that there are.
fn the_parts(scene: &Scene, name: &str) -> String {
    format!(
        "{}the parts are: {}",
        did_you_mean(name, part_names(scene)),
        listed(part_names(scene))
    )
}

/// Fits parts that come with a component: they replace those of their names, in their place, or are added.
pub(super) fn fit(scene: &mut Scene, parts: &[PartEntry]) {
    let is_new = |name: &str| parts.iter().any(|p| p.name == name);
    scene.other_side.parts.retain(|p| !is_new(&p.name));
    let mut fitted: Vec<PartEntry> = Vec::new();
    for old in std::mem::take(&mut scene.parts) {
        if !is_new(&old.name) {
            fitted.push(old);
        } else if !fitted.iter().any(|p| p.name == old.name) {
            fitted.extend(parts.iter().filter(|p| p.name == old.name).cloned());
        }
    }
    for part in parts {
        if !fitted.contains(part) {
            fitted.push(part.clone());
        }
    }
    scene.parts = fitted;
}

/// Another shape for a part, drawn on the truck as measured: each part of the name has it where the changes before have taken
/// its own body on its own side. The other corner's own one of that name makes way for the mirror image.
pub(super) fn replace(
    scene: &mut Scene,
    name: &str,
    shape: &ShapeEntry,
    side: Option<Side>,
    measured: &Scene,
    path: &str,
) -> Result<()> {
    let placed = |scene: &Scene, shape: &ShapeEntry, on: Body, is_others: bool| {
        let mut shape = shape.clone();
        let since = SinceMeasured {
            measured,
            now: scene,
            path,
        };
        since.place(&mut shape, on, is_others).map(|()| shape)
    };
    let described = scene.side;
    if let Some(side) = side {
        let is_others = side != described;
        if name == IMPLIED && !part_names(scene).any(|n| n == name) {
            let shape = placed(scene, shape, Body::Halfshaft, is_others)?;
            scene.parts.push(implied(&shape, Some(side)));
            return Ok(());
        }
        let old = one_side::part_of(scene, name, side, path)?;
        let shape = placed(scene, shape, old.on, is_others)?;
        let new = one_side::replaced(old, &shape, side);
        fit(scene, &[new]);
        return Ok(());
    }
    if !part_names(scene).any(|n| n == name) {
        if name != IMPLIED {
            return Err(unknown(scene, name, path));
        }
        let shape = placed(scene, shape, Body::Halfshaft, false)?;
        scene.parts.push(implied(&shape, None));
        return Ok(());
    }
    let main = scene.parts.iter().any(|p| p.name == name);
    let on_other = |p: &PartEntry| p.name == name && drawn_on_other(p, described);
    if main {
        // The other corner's own one makes way for the mirror image.
        scene.other_side.parts.retain(|p| p.name != name);
    }
    // A shaft that is drawn on one side alone is implied on the other, and replaced there too.
    let is_drawn_on = |side: Side| {
        let own = |p: &PartEntry| p.name == name && p.fitted.is_on(side);
        let is_others = |p: &PartEntry| p.name == name && side != described;
        scene.parts.iter().any(own) || scene.other_side.parts.iter().any(is_others)
    };
    let sides = [Side::Left, Side::Right].into_iter();
    let missing = sides
        .filter(|_| name == IMPLIED)
        .find(|side| !is_drawn_on(*side));
    if missing.is_some() {
        scene.parts.push(implied(shape, missing));
    }
    let mut mirror = shape.clone();
    if !main || scene.parts.iter().any(on_other) {
        mirror_shape(&mut mirror, &format!("{path}.shape"))?;
    }
    let drawn = |part: &PartEntry, is_others: bool| {
        let shape = if is_others { &mirror } else { shape };
        placed(scene, shape, part.on, is_others)
    };
    let named = |parts: &[PartEntry], is_others: &dyn Fn(&PartEntry) -> bool| {
        let own = parts.iter().filter(|p| p.name == name);
        own.map(|p| drawn(p, is_others(p)))
            .collect::<Result<Vec<ShapeEntry>>>()
    };
    let own: Vec<ShapeEntry> = named(&scene.parts, &|p| drawn_on_other(p, described))?;
    let others: Vec<ShapeEntry> = named(&scene.other_side.parts, &|_| true)?;
    for (parts, shapes) in [
        (&mut scene.parts, own),
        (&mut scene.other_side.parts, others),
    ] {
        let own = parts.iter_mut().filter(|p| p.name == name);
        own.zip(shapes).for_each(|(part, shape)| part.shape = shape);
    }
    Ok(())
}

/// The implied shaft in a shape, on one side alone or on both.
fn implied(shape: &ShapeEntry, side: Option<Side>) -> PartEntry {
    PartEntry {
        name: IMPLIED.to_owned(),
        on: Body::Halfshaft,
        shape: shape.clone(),
        fitted: side.map_or(Fitted::EachSide, Fitted::on),
        hangs_from: HangsFrom::Body,
    }
}

/// Whether a part is drawn on the side that the scene doesn't describe.
pub(super) fn drawn_on_other(part: &PartEntry, described: Side) -> bool {
    !part.fitted.is_on(described)
}

pub(super) fn add(
    scene: &mut Scene,
    part: &PartEntry,
    side: Option<Side>,
    watch: &[Watch],
    joined: &[Joined],
    path: &str,
) -> Result<()> {
    if part_names(scene).any(|n| n == part.name) || part.name == IMPLIED {
        return Err(Problem::at(
            format!("{path}.part.name"),
            format!("there is a part named `{}` already", part.name),
            "give it a name of its own, or use ReplacePart",
        ));
    }
    scene.parts.push(part.clone());
    let lists = [
        (
            "watch",
            watch.iter().map(|w| [&w.a, &w.b]).collect::<Vec<_>>(),
        ),
        ("joined", joined.iter().map(|j| [&j.a, &j.b]).collect()),
    ];
    for (list, entries) in lists {
        for (i, names) in entries.iter().enumerate() {
            for pattern in names {
                let known = part_names(scene).chain(IMPLIED_NAMES);
                let pattern_of = wildmatch::WildMatch::new(pattern);
                if !known.into_iter().any(|name| pattern_of.matches(name)) {
                    return Err(Problem::at(
                        format!("{path}.{list}[{i}]"),
                        format!("no part matches `{pattern}`"),
                        format!("the parts are: {}", listed(part_names(scene))),
                    ));
                }
            }
        }
    }
    bring(scene, part, side, watch, joined);
    Ok(())
}

/// Notes the parts on a body that a change makes another, before it is made: those that it brings, replaces or adds are
/// drawn for it. What was drawn on the truck as measured is known without.
pub(super) fn note_drawn_before(scene: &mut Scene, change: &Change) {
    let bodies = change.other_bodies();
    let all = scene.parts.iter().chain(&scene.other_side.parts);
    let on_it = all.filter(|part| part.drawn_on().any(|body| bodies.contains(&body)));
    let names: Vec<String> = on_it.map(|part| part.name.clone()).collect();
    for name in names {
        if !scene.drawn_before.contains(&name) {
            scene.drawn_before.push(name);
        }
    }
    let brought = change.parts().iter().map(|part| part.name.as_str());
    let replaced = match change {
        Change::ReplacePart { name, .. } => Some(name.as_str()),
        _ => None,
    };
    let drawn_anew: Vec<&str> = brought.chain(replaced).collect();
    let stays = |name: &String| !drawn_anew.contains(&name.as_str());
    scene.drawn_before.retain(stays);
    scene.drawn_before.sort_unstable();
}

/// Takes the entries of `watch` and `joined` that an added part brings, of the side that it was added to.
pub(super) fn bring(
    scene: &mut Scene,
    part: &PartEntry,
    side: Option<Side>,
    watch: &[Watch],
    joined: &[Joined],
) {
    let came_with = Some(CameWith {
        part: part.name.clone(),
        side,
    });
    scene.watch.extend(watch.iter().map(|entry| Watch {
        came_with: came_with.clone(),
        ..entry.clone()
    }));
    scene.joined.extend(joined.iter().map(|entry| Joined {
        came_with: came_with.clone(),
        ..entry.clone()
    }));
}

pub(super) fn remove(scene: &mut Scene, name: &str, side: Option<Side>, path: &str) -> Result<()> {
    if let Some(side) = side {
        one_side::part_of(scene, name, side, path)?;
    }
    if !part_names(scene).any(|n| n == name) {
        return Err(unknown(scene, name, path));
    }
    scene.parts.retain(|p| p.name != name);
    scene.other_side.parts.retain(|p| p.name != name);
    scene.drawn_before.retain(|drawn| drawn != name);
    forget(scene, name, side);
    Ok(())
}

/// Drops what a part that goes was joined to, and the entries that came with it: another part of its name, added later, has
/// its own.
pub(super) fn forget(scene: &mut Scene, name: &str, side: Option<Side>) {
    let goes = |with: &Option<CameWith>| {
        let own = with.as_ref().filter(|with| with.part == name);
        own.is_some_and(|with| side.is_none() || with.side == side)
    };
    scene.watch.retain(|entry| !goes(&entry.came_with));
    scene.joined.retain(|entry| {
        let is_by_name = entry.came_with.is_none() && (entry.a == name || entry.b == name);
        let stays_by_name = !is_by_name || side.is_some();
        stays_by_name && !goes(&entry.came_with)
    });
}

pub(super) fn shift(
    scene: &mut Scene,
    name: &str,
    by: Option<Point>,
    turned_deg: Option<Point>,
    about: Option<Point>,
    measured: &Scene,
    path: &str,
) -> Result<()> {
    if !part_names(scene).any(|n| n == name) {
        return Err(unknown(scene, name, path));
    }
    let on_its_body = |p: &&PartEntry| p.name == name && p.shape.follows_points();
    let mut all = scene.parts.iter().chain(&scene.other_side.parts);
    if let Some(part) = all.find(on_its_body) {
        let (what, help) = match part.shape {
            ShapeEntry::Lathe { .. } => (
                "is a lathe about its body's own axis, and goes where its body goes",
                "give its shape both `from` and `axis` to move it by itself",
            ),
            ShapeEntry::Bar { .. } | ShapeEntry::Link { .. } => (
                "is drawn from named points, and goes where they go",
                "give its shape both ends by coordinates to move it by itself",
            ),
            _ => (
                "is drawn about its body's own axis, and goes where its body goes",
                "draw it as a Lathe with `from` and `axis` to move it by itself",
            ),
        };
        return Err(Problem::at(
            format!("{path}.name"),
            format!("`{name}` {what}"),
            help,
        ));
    }
    let finite = |p: Option<Point>, field: &str| -> Result<Vector3<f64>> {
        let v = p.map_or(Vector3::zeros(), |p| Vector3::new(p.0, p.1, p.2));
        for c in v.iter() {
            super::apply::number(*c, path, field)?;
        }
        Ok(v)
    };
    if turned_deg.is_some() && about.is_none() {
        return Err(Problem::at(
            format!("{path}.turned_deg"),
            "a turn needs the point that it is about",
            "add `about: (x, y, z)`",
        ));
    }
    let (by, turn) = (finite(by, "by")?, finite(turned_deg, "turned_deg")?);
    let about = finite(about, "about")?;
    let turn = turn.map(f64::to_radians);
    let turn = Rotation3::from_euler_angles(turn.x, turn.y, turn.z);
    let motion = Isometry3::from_parts(
        Translation3::from(about - turn * about + by),
        UnitQuaternion::from_rotation_matrix(&turn),
    );
    // The move is drawn on the truck as measured: each part makes it where its own body is now.
    let there = |body: Body, is_others: bool| -> Result<Isometry3<f64>> {
        let since = SinceMeasured {
            measured,
            now: scene,
            path,
        };
        let gone = since.motion(body, is_others)?;
        let own = if is_others { mirrored(&motion) } else { motion };
        Ok(gone * own * gone.inverse())
    };
    let all = scene.parts.iter().chain(&scene.other_side.parts);
    let bodies: Vec<Body> = all.filter(|p| p.name == name).map(|p| p.on).collect();
    let moves: Vec<(Body, [Isometry3<f64>; 2])> = bodies
        .into_iter()
        .map(|on| Ok((on, [there(on, false)?, there(on, true)?])))
        .collect::<Result<_>>()?;
    for (i, (body, [own, other])) in moves.iter().enumerate() {
        if !moves[..i].iter().any(|(done, _)| done == body) {
            move_parts(scene, own, other, |part| {
                part.name == name && part.on == *body
            });
        }
    }
    Ok(())
}

/// Lowers a part that is bolted to the frame.
pub(super) fn lower(
    scene: &mut Scene,
    name: &str,
    by: f64,
    with_differential: bool,
    path: &str,
) -> Result<()> {
    let all = || {
        let all = scene.parts.iter().chain(&scene.other_side.parts);
        all.filter(|part| part.name == name)
    };
    let goes_already = |part: &PartEntry| with_differential && part.hangs_from != HangsFrom::Body;
    // Each side may have one of the name: all of them would be lowered.
    let carried = all().find(|part| part.on != Body::Frame || goes_already(part));
    let Some(part) = carried.or_else(|| all().next()) else {
        return Err(Problem {
            path: path.to_owned(),
            ..unknown(scene, name, path)
        });
    };
    if part.on != Body::Frame || goes_already(part) {
        let carrier = if goes_already(part) {
            "differential's mounts"
        } else {
            part.on.name()
        };
        return Err(Problem::at(
            path,
            format!("`{name}` goes where the {carrier} takes it"),
            "name parts that are bolted to the frame itself",
        ));
    }
    // Ends that are named or on other bodies go where these go.
    let is_held = |shape: &ShapeEntry| match shape {
        ShapeEntry::Link { .. } => true,
        ShapeEntry::Bar { from, to, .. } => {
            let is_named = |end: &Option<Place>| !matches!(end, Some(Place::At(_)));
            is_named(from) || is_named(to)
        }
        _ => false,
    };
    let mut own = scene.parts.iter().chain(&scene.other_side.parts);
    if own.any(|part| part.name == name && is_held(&part.shape)) {
        return Err(Problem::at(
            path,
            format!("`{name}` goes where the points that it is drawn between go"),
            "leave it out here, or draw it by coordinates",
        ));
    }
    let down = Isometry3::translation(0.0, 0.0, -by);
    move_parts(scene, &down, &down, |part| part.name == name);
    Ok(())
}

/// Draws out parts on a rod that was made longer at its inner end, the described corner's and the other's own ones:
/// each by the rod's ends and its inner end's shift.
pub(super) fn draw_out_on(scene: &mut Scene, body: Body, rods: &[DrawnOut; 2]) {
    let described = scene.side;
    let parts = scene.parts.iter_mut().filter(|part| part.on == body);
    for part in parts {
        let rod = &rods[usize::from(drawn_on_other(part, described))];
        rod.draw_out(&mut part.shape);
    }
    let parts = scene.other_side.parts.iter_mut();
    for part in parts.filter(|part| part.on == body) {
        rods[1].draw_out(&mut part.shape);
    }
}

/// Draws the shaft itself in another diameter: round bars on the halfshaft that are as thick as the one fitted before, the
/// described corner's and the other's.
pub(super) fn thicken_shafts(scene: &mut Scene, fitted: &[f64; 2], diameter: f64) {
    let described = scene.side;
    let thicken = |part: &mut PartEntry, fitted: f64| match &mut part.shape {
        ShapeEntry::Bar { diameter: own, .. } if *own == fitted => *own = diameter,
        ShapeEntry::Capsule { radius, .. } | ShapeEntry::Cylinder { radius, .. }
            if 2.0 * *radius == fitted =>
        {
            *radius = 0.5 * diameter;
        }
        _ => {}
    };
    let own = scene.parts.iter_mut();
    for part in own.filter(|part| part.on == Body::Halfshaft) {
        let fitted = fitted[usize::from(drawn_on_other(part, described))];
        thicken(part, fitted);
    }
    let others = scene.other_side.parts.iter_mut();
    for part in others.filter(|part| part.on == Body::Halfshaft) {
        thicken(part, fitted[1]);
    }
}

/// Moves every part on a body: the described corner's by one motion, the other corner's own ones by another.
pub(super) fn move_body(
    scene: &mut Scene,
    body: Body,
    motion: &Isometry3<f64>,
    other: &Isometry3<f64>,
) {
    if *motion != Isometry3::identity() || *other != Isometry3::identity() {
        move_parts(scene, motion, other, |part| part.on == body);
    }
}

fn move_parts(
    scene: &mut Scene,
    motion: &Isometry3<f64>,
    other: &Isometry3<f64>,
    which: impl Fn(&PartEntry) -> bool,
) {
    let described = scene.side;
    for part in scene.parts.iter_mut().filter(|p| which(p)) {
        let on_other = drawn_on_other(part, described);
        move_shape(&mut part.shape, if on_other { other } else { motion });
    }
    for part in scene.other_side.parts.iter_mut().filter(|p| which(p)) {
        move_shape(&mut part.shape, other);
    }
}
