//! Parts replaced, added, taken off and moved.

use super::move_shape::{mirrored, move_shape};
use super::{Result, listed, part_names};
use crate::scene::{
    Fitted, HangsFrom, Joined, PartEntry, Point, Problem, Scene, ShapeEntry, Watch,
};
use crate::suspension::Body;
use nalgebra::{Isometry3, Rotation3, Translation3, UnitQuaternion, Vector3};

/// The part that is there without being written.
const IMPLIED: &str = "halfshaft";

fn unknown(scene: &Scene, name: &str, path: &str) -> Problem {
    Problem::at(
        format!("{path}.name"),
        format!("no part is named `{name}`"),
        format!("the parts are: {}", listed(part_names(scene))),
    )
}

/// Fits parts that come with a component: each replaces those of its name, or is added.
pub(super) fn fit(scene: &mut Scene, parts: &[PartEntry]) {
    for part in parts {
        scene.other_side.parts.retain(|p| p.name != part.name);
        match scene.parts.iter().position(|p| p.name == part.name) {
            Some(i) => {
                scene.parts[i] = part.clone();
                let mut first = true;
                // A left and a right one make way for the new one.
                scene
                    .parts
                    .retain(|p| p.name != part.name || std::mem::take(&mut first));
            }
            None => scene.parts.push(part.clone()),
        }
    }
}

/// Another shape for a part; the other corner's own one of that name makes way for the mirror image.
pub(super) fn replace(scene: &mut Scene, name: &str, shape: &ShapeEntry, path: &str) -> Result<()> {
    if !part_names(scene).any(|n| n == name) {
        if name != IMPLIED {
            return Err(unknown(scene, name, path));
        }
        scene.parts.push(PartEntry {
            name: name.to_owned(),
            on: Body::Halfshaft,
            shape: shape.clone(),
            fitted: Fitted::EachSide,
            hangs_from: HangsFrom::Body,
        });
        return Ok(());
    }
    scene.other_side.parts.retain(|p| p.name != name);
    for part in scene.parts.iter_mut().filter(|p| p.name == name) {
        part.shape = shape.clone();
    }
    Ok(())
}

pub(super) fn add(
    scene: &mut Scene,
    part: &PartEntry,
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
    scene.watch.extend_from_slice(watch);
    scene.joined.extend_from_slice(joined);
    Ok(())
}

pub(super) fn remove(scene: &mut Scene, name: &str, path: &str) -> Result<()> {
    if !part_names(scene).any(|n| n == name) {
        return Err(unknown(scene, name, path));
    }
    scene.parts.retain(|p| p.name != name);
    scene.other_side.parts.retain(|p| p.name != name);
    Ok(())
}

pub(super) fn shift(
    scene: &mut Scene,
    name: &str,
    by: Option<Point>,
    turned_deg: Option<Point>,
    about: Option<Point>,
    path: &str,
) -> Result<()> {
    if !part_names(scene).any(|n| n == name) {
        return Err(unknown(scene, name, path));
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
    move_parts(scene, &motion, |part| part.name == name);
    Ok(())
}

/// Moves every part on some bodies; the other corner's own ones by the mirrored motion.
pub(super) fn move_bodies(scene: &mut Scene, bodies: &[Body], motion: &Isometry3<f64>) {
    if *motion != Isometry3::identity() {
        move_parts(scene, motion, |part| bodies.contains(&part.on));
    }
}

fn move_parts(scene: &mut Scene, motion: &Isometry3<f64>, which: impl Fn(&PartEntry) -> bool) {
    let other = mirrored(motion);
    let described = scene.side;
    for part in scene.parts.iter_mut().filter(|p| which(p)) {
        let drawn_on_other = match part.fitted {
            Fitted::EachSide | Fitted::Once => false,
            Fitted::Left => described == crate::suspension::Side::Right,
            Fitted::Right => described == crate::suspension::Side::Left,
        };
        move_shape(
            &mut part.shape,
            if drawn_on_other { &other } else { motion },
        );
    }
    for part in scene.other_side.parts.iter_mut().filter(|p| which(p)) {
        move_shape(&mut part.shape, &other);
    }
}
