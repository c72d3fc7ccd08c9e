//! The parts of one corner and the pairs that are watched.

use super::TOUCH_MM;
use super::assemble::{Fitting, Reader};
use super::corner::{Corner, JoinedPair, Overlap};
use super::housing::Housing;
use super::mesh_store::{MeshPlace, MeshStore};
use crate::clearance::{Drawn, Part, WatchedPair};
use crate::scene::{Fitted, PartEntry, Point, Problem, Scene, ShapeEntry};
use crate::shapes::{Shape, Surface, hull_overlap_mm};
use crate::suspension::{Body, DoubleWishbone, Motion, MountFit, Side};
use nalgebra::{Isometry3, Vector3};
use rayon::prelude::*;
use std::sync::Arc;
use wildmatch::WildMatch;

type Result<T> = std::result::Result<T, Problem>;

/// Most triangles of a corner's parts together: three mesh files of the most that one may have. Each takes
/// some hundred bytes with its place in a tree.
const MOST_FACETS: usize = 24_000_000;

/// Every part of one corner.
pub(super) fn parts(
    scene: &Scene,
    fitting: &Fitting,
    linkage: &DoubleWishbone,
    meshes: &MeshStore,
) -> Result<Vec<Part>> {
    let source = &fitting.source;
    let scale = source.reader.scale;
    let mirrored_side = source.side != scene.side;
    let as_drawn = Reader {
        scale,
        mirrored: false,
    };
    let mut chosen: Vec<(&PartEntry, Reader, String)> = Vec::new();
    for (i, entry) in scene.parts.iter().enumerate() {
        let path = format!("parts[{i}]");
        let reader = match entry.fitted {
            Fitted::EachSide => source.reader,
            Fitted::Once => as_drawn,
            Fitted::Left if source.side == Side::Left => as_drawn,
            Fitted::Right if source.side == Side::Right => as_drawn,
            Fitted::Left | Fitted::Right => continue,
        };
        if chosen.iter().any(|(e, _, _)| e.name == entry.name) {
            return Err(Problem::at(
                format!("{path}.name"),
                format!("a second part named `{}`", entry.name),
                "give each part a name of its own",
            ));
        }
        chosen.push((entry, reader, path));
    }
    if mirrored_side {
        for (i, entry) in scene.other_side.parts.iter().enumerate() {
            let path = format!("other_side.parts[{i}]");
            chosen.retain(|(e, _, _)| e.name != entry.name);
            chosen.push((entry, as_drawn, path));
        }
    }
    let mut out = Vec::new();
    let mut facets = 0;
    for (entry, reader, path) in chosen {
        let shape_path = format!("{path}.shape");
        let drawn = shape(&entry.shape, reader, &shape_path, meshes)?;
        let motion = fitting.housing.motion_of(entry, reader, &path)?;
        let shape = if motion == Isometry3::identity() {
            drawn
        } else {
            drawn.moved(&motion)
        };
        let spin = spin(entry.on, linkage);
        // A mesh that doesn't turn is the same surface on both corners and in every setup.
        let surface = match spin {
            None => meshes.surface(&shape),
            Some(_) => shape.surface(spin).map(Arc::new),
        };
        let surface = surface.map_err(|e| {
            Problem::at(
                &shape_path,
                e.to_string(),
                "check the shape's sizes and points",
            )
        })?;
        facets += surface.elements.len();
        if facets > MOST_FACETS {
            return Err(Problem::at(
                shape_path,
                format!(
                    "with this part the corner has {facets} triangles, more than the {MOST_FACETS} that are taken"
                ),
                "thin the meshes out, or leave out what can't come near the suspension",
            ));
        }
        out.push(part(&entry.name, entry.on, &shape, surface, spin));
    }
    if !out.iter().any(|p| p.name == "halfshaft") {
        let path = format!("{}.diameter", source.halfshaft.path);
        let diameter = source
            .halfshaft
            .reader
            .positive(source.halfshaft.entry.diameter, &path)?;
        let [from, to] = linkage.own.halfshaft;
        out.push(bar(
            "halfshaft",
            Body::Halfshaft,
            [from, to],
            diameter,
            linkage,
            path,
        )?);
    }
    if let Some(diameter) = scene.front_driveshaft.and_then(|s| s.diameter) {
        let path = "front_driveshaft.diameter".to_owned();
        let diameter = as_drawn.positive(diameter, &path)?;
        if let Some(shaft) = super::assemble::front_driveshaft(scene, fitting.housing)? {
            let ends = [shaft.transfer_case, shaft.pinion];
            let name = "front driveshaft";
            out.push(bar(name, Body::Frame, ends, diameter, linkage, path)?);
        }
    }
    Ok(out)
}

/// A round shaft between two joint centres.
fn bar(
    name: &str,
    body: Body,
    [from, to]: [Vector3<f64>; 2],
    diameter_mm: f64,
    linkage: &DoubleWishbone,
    path: String,
) -> Result<Part> {
    let shape = Shape::Capsule {
        from,
        to,
        radius: 0.5 * diameter_mm,
    };
    let spin = spin(body, linkage);
    let surface = shape
        .surface(spin)
        .map_err(|e| Problem::at(path, e.to_string(), "check the shaft's diameter"))?;
    Ok(part(name, body, &shape, Arc::new(surface), spin))
}

/// A point and a direction of the axis that a part turns about with its body.
type Spin = Option<(Vector3<f64>, Vector3<f64>)>;

fn spin(body: Body, linkage: &DoubleWishbone) -> Spin {
    let h = &linkage.hardpoints;
    let [shaft_inner, shaft_outer] = linkage.own.halfshaft;
    match body {
        Body::Halfshaft => Some((shaft_inner, shaft_outer - shaft_inner)),
        Body::InnerJointHousing => Some((h.inner_joint, h.flange_axis)),
        Body::OuterJointHousing => Some((h.outer_joint, h.outer_axis)),
        Body::Wheel => Some((h.wheel_centre, h.spindle_axis)),
        _ => None,
    }
}

fn part(name: &str, body: Body, shape: &Shape, surface: Arc<Surface>, spin: Spin) -> Part {
    Part {
        name: name.to_owned(),
        body,
        surface,
        revolved: spin.is_some_and(|(p, a)| !shape.is_round_about(&p, &a)),
        drawn: Drawn::new(shape.clone()),
    }
}

pub(super) fn shape(
    entry: &ShapeEntry,
    r: Reader,
    path: &str,
    meshes: &MeshStore,
) -> Result<Shape> {
    let at = |field: &str| format!("{path}.{field}");
    let bar = |from: &Point, to: &Point| -> Result<(Vector3<f64>, Vector3<f64>)> {
        Ok((r.point(from, &at("from"))?, r.point(to, &at("to"))?))
    };
    let turned = |deg: &Option<Point>| -> Result<Vector3<f64>> {
        let Some(Point(x, y, z)) = deg else {
            return Ok(Vector3::zeros());
        };
        for c in [x, y, z] {
            Reader::finite(*c, &at("turned_deg"))?;
        }
        // Mirrored in y, turns about x and z change sense.
        let sense = if r.mirrored { -1.0 } else { 1.0 };
        Ok(Vector3::new(x * sense, *y, z * sense).map(f64::to_radians))
    };
    Ok(match entry {
        ShapeEntry::Ball { centre, radius } => Shape::Ball {
            centre: r.point(centre, &at("centre"))?,
            radius: r.positive(*radius, &at("radius"))?,
        },
        ShapeEntry::Capsule { from, to, radius } => {
            let (from, to) = bar(from, to)?;
            Shape::Capsule {
                from,
                to,
                radius: r.positive(*radius, &at("radius"))?,
            }
        }
        ShapeEntry::Cylinder { from, to, radius } => {
            let (from, to) = bar(from, to)?;
            let radius = r.positive(*radius, &at("radius"))?;
            Shape::Cone {
                from,
                to,
                radius_from: radius,
                radius_to: radius,
            }
        }
        ShapeEntry::Cone {
            from,
            to,
            radius_from,
            radius_to,
        } => {
            let (from, to) = bar(from, to)?;
            Shape::Cone {
                from,
                to,
                radius_from: r.length(*radius_from, &at("radius_from"))?,
                radius_to: r.length(*radius_to, &at("radius_to"))?,
            }
        }
        ShapeEntry::Box {
            centre,
            size,
            turned_deg,
        } => {
            let Point(x, y, z) = size;
            Shape::Box {
                centre: r.point(centre, &at("centre"))?,
                size: Vector3::new(
                    r.positive(*x, &at("size"))?,
                    r.positive(*y, &at("size"))?,
                    r.positive(*z, &at("size"))?,
                ),
                turned: turned(turned_deg)?,
            }
        }
        ShapeEntry::Hull { points } => {
            let mut out = Vec::new();
            for (i, p) in points.iter().enumerate() {
                out.push(r.point(p, &format!("{path}.points[{i}]"))?);
            }
            Shape::Hull { points: out }
        }
        ShapeEntry::Lathe {
            from,
            axis,
            profile,
        } => {
            let mut corners = Vec::new();
            for (along, radius) in profile {
                let field = at("profile");
                corners.push([r.length(*along, &field)?, r.length(*radius, &field)?]);
            }
            Shape::Lathe {
                from: r.point(from, &at("from"))?,
                axis: r.direction(axis, &at("axis"))?,
                profile: corners,
            }
        }
        ShapeEntry::Mesh {
            file,
            unit,
            at: place,
            turned_deg,
            holes,
        } => {
            let as_drawn = Reader {
                scale: r.scale,
                mirrored: false,
            };
            let at_mm = match place {
                Some(p) => as_drawn.point(p, &at("at"))?,
                None => Vector3::zeros(),
            };
            let Point(x, y, z) = turned_deg.unwrap_or(Point(0.0, 0.0, 0.0));
            let mut turned = Vector3::new(x, y, z);
            for angle in turned.iter_mut() {
                *angle = Reader::finite(*angle, &at("turned_deg"))?.to_radians();
            }
            let mut place = MeshPlace {
                at_mm,
                turned,
                mirrored: r.mirrored,
            };
            if let Some(holes) = holes {
                if place.at_mm != Vector3::zeros() || place.turned != Vector3::zeros() {
                    return Err(Problem::at(
                        at("holes"),
                        "the mesh is placed twice",
                        "give `holes`, or `at` and `turned_deg`, not both",
                    ));
                }
                let unit_mm = meshes.unit_mm(file, *unit, &at("file"))?;
                let fit = onto_holes(holes, unit_mm, as_drawn, &at("holes"))?;
                meshes.keep_misses(file, &fit.misses_mm);
                place.at_mm = fit.motion.translation.vector;
                let turn = fit.motion.rotation.to_rotation_matrix();
                let (about_x, about_y, about_z) = turn.euler_angles();
                place.turned = Vector3::new(about_x, about_y, about_z);
            }
            meshes.placed(file, *unit, &place, &at("file"))?
        }
    })
}

/// The motion that brings points of a file onto where they go.
fn onto_holes(
    holes: &[(Point, Point)],
    unit_mm: f64,
    reader: Reader,
    path: &str,
) -> Result<MountFit> {
    let (mut from, mut to) = (Vec::new(), Vec::new());
    for (i, (own, goes)) in holes.iter().enumerate() {
        let place = format!("{path}[{i}]");
        let own = Vector3::new(own.0, own.1, own.2).map(|v| v * unit_mm);
        if !own.iter().all(|v| v.is_finite()) {
            return Err(Problem::at(
                place,
                "a point of the file is not a finite number",
                "give it as the file has it",
            ));
        }
        from.push(own);
        to.push(reader.point(goes, &place)?);
    }
    MountFit::onto(&from, &to).ok_or_else(|| {
        Problem::at(
            path,
            "these pairs don't settle where the part goes",
            "give three pairs or more that don't lie on one line",
        )
    })
}

fn matches(a: &str, b: &str, x: &str, y: &str) -> bool {
    let (a, b) = (WildMatch::new(a), WildMatch::new(b));
    (a.matches(x) && b.matches(y)) || (a.matches(y) && b.matches(x))
}

/// Fills the corner's pairs, joined pairs and overlaps.
pub(super) fn watch(scene: &Scene, scale: f64, corner: &mut Corner) -> Result<()> {
    for (i, entry) in scene.watch.iter().enumerate() {
        if !(entry.gap.is_finite() && entry.gap >= 0.0) {
            return Err(Problem::at(
                format!("watch[{i}].gap"),
                format!("{} is not a gap", entry.gap),
                "give the room that must remain, zero or more",
            ));
        }
        let reader = Reader {
            scale,
            mirrored: false,
        };
        reader.length(entry.gap, &format!("watch[{i}].gap"))?;
    }
    let mut candidates = Vec::new();
    for a in 0..corner.parts.len() {
        for b in a + 1..corner.parts.len() {
            let (x, y) = (&corner.parts[a], &corner.parts[b]);
            let Some(entry) = scene
                .watch
                .iter()
                .rev()
                .find(|w| matches(&w.a, &w.b, &x.name, &y.name))
            else {
                continue;
            };
            if x.body.motion() == y.body.motion() {
                continue;
            }
            if let Some(joint) = scene
                .joined
                .iter()
                .find(|j| matches(&j.a, &j.b, &x.name, &y.name))
            {
                corner.joined.push(JoinedPair {
                    a: x.name.clone(),
                    b: y.name.clone(),
                    why: joint.why.clone(),
                });
                continue;
            }
            let tripod = corner.orbit_factor_mm > 0.0;
            candidates.push(WatchedPair::new(
                &corner.parts,
                a,
                b,
                entry.gap * scale,
                tripod,
            ));
        }
    }
    let measured = corner.positioner.place(0.0, 0.0);
    let as_drawn: Vec<Option<f64>> = candidates
        .par_iter()
        .map(|pair| {
            // Whether it touches is all that is asked: what lies further apart is not measured out.
            let relative = pair.relative(&corner.parts, &measured.linkage);
            let swell = corner.swell_mm(pair, &measured.linkage);
            let walk = pair.walk(&corner.parts);
            let gap = walk.gap(&relative, swell, TOUCH_MM, None);
            // Surfaces that don't meet can still hold one part inside the other; later containment
            // would have to pass through a contact first.
            let overlaps = gap.gap_mm <= TOUCH_MM || walk.contains(&relative);
            overlaps.then_some(gap.core_mm)
        })
        .collect();
    for (mut pair, overlap) in candidates.into_iter().zip(as_drawn) {
        if let Some(core_mm) = overlap {
            let (x, y) = (&corner.parts[pair.a], &corner.parts[pair.b]);
            corner.overlaps.push(Overlap {
                a: x.name.clone(),
                b: y.name.clone(),
                depth_mm: overlap_depth(x, y, core_mm),
            });
            continue;
        }
        let key = corner.field_key(&pair);
        let known = corner.fields.iter().position(|f| *f == key);
        pair.field = known.unwrap_or_else(|| {
            corner.fields.push(key);
            corner.fields.len() - 1
        });
        corner.pairs.push(pair);
    }
    Ok(())
}

/// Parts at rest in the frame that a setup brings together: they don't move against each other, so no sweep
/// would tell, but they can't both be bolted on. Overlaps that were there as measured are as drawn.
pub(super) fn fixed_overlaps(
    fitted: &Scene,
    fitting: &Fitting,
    corner: &mut Corner,
    meshes: &MeshStore,
) -> Result<()> {
    let Some((scene, source)) = &fitting.measured else {
        return Ok(());
    };
    let housing = Housing::of(scene)?;
    let before = Fitting {
        source: source.clone(),
        measured: None,
        housing: &housing,
    };
    let measured = parts(scene, &before, &before.linkage()?, meshes)?;
    let at_rest = |part: &Part| part.body.motion() == Motion::Frame;
    // Where each part was: none for a new one.
    let was: Vec<Option<usize>> = corner
        .parts
        .iter()
        .map(|part| measured.iter().position(|m| m.name == part.name))
        .collect();
    let moved: Vec<bool> = corner
        .parts
        .iter()
        .zip(&was)
        .map(|(part, was)| {
            at_rest(part)
                && was.is_none_or(|was| !part.surface.lies_on(&measured[was].surface, TOUCH_MM))
        })
        .collect();
    let touch = |all: &[Part], a: usize, b: usize, linkage: &crate::suspension::Linkage<f64>| {
        let pair = WatchedPair::new(all, a, b, 0.0, false);
        let relative = pair.relative(all, linkage);
        let walk = pair.walk(all);
        walk.gap(&relative, 0.0, TOUCH_MM, None).gap_mm <= TOUCH_MM || walk.contains(&relative)
    };
    let here = corner.positioner.place(0.0, 0.0).linkage;
    for a in 0..corner.parts.len() {
        for b in a + 1..corner.parts.len() {
            let (x, y) = (&corner.parts[a], &corner.parts[b]);
            let apart_by_design = at_rest(x)
                && at_rest(y)
                && (moved[a] || moved[b])
                && !(x.body.is_on_differential() && y.body.is_on_differential())
                && !fitted
                    .joined
                    .iter()
                    .any(|j| matches(&j.a, &j.b, &x.name, &y.name));
            if !apart_by_design || !touch(&corner.parts, a, b, &here) {
                continue;
            }
            if let (Some(a), Some(b)) = (was[a], was[b])
                && touch(&measured, a.min(b), a.max(b), &here)
            {
                continue;
            }
            corner.overlaps.push(Overlap {
                a: x.name.clone(),
                b: y.name.clone(),
                depth_mm: None,
            });
        }
    }
    Ok(())
}

/// Overlap depth where it can be known: exact for rounded shapes whose cores are apart; for others by
/// parry where both are convex enough for their hulls to speak for them (boxes and hulls).
fn overlap_depth(x: &Part, y: &Part, core_mm: f64) -> Option<f64> {
    let radii = x.surface.radius_mm + y.surface.radius_mm;
    if core_mm > 0.0 && radii > core_mm {
        return Some(radii - core_mm);
    }
    let corners = |part: &Part| -> Vec<Vector3<f64>> {
        (0..part.surface.vertices.len())
            .map(|i| part.surface.vertex_in_body(i))
            .collect()
    };
    let small = |part: &Part| part.surface.radius_mm == 0.0 && part.surface.vertices.len() <= 64;
    if small(x) && small(y) {
        hull_overlap_mm(&corners(x), &corners(y))
    } else {
        None
    }
}

/// Every watch and every joined entry must match something on some corner.
pub(super) fn check_patterns(scene: &Scene, corners: &[Corner]) -> Result<()> {
    let matched = |a: &str, b: &str, moving: bool| {
        corners.iter().any(|c| {
            (0..c.parts.len()).any(|i| {
                (i + 1..c.parts.len()).any(|j| {
                    let (x, y) = (&c.parts[i], &c.parts[j]);
                    matches(a, b, &x.name, &y.name)
                        && (!moving || x.body.motion() != y.body.motion())
                })
            })
        })
    };
    let known = || {
        let mut names: Vec<&str> = corners
            .iter()
            .flat_map(|c| &c.parts)
            .map(|p| p.name.as_str())
            .collect();
        names.sort_unstable();
        names.dedup();
        names.join(", ")
    };
    let lists = [
        (
            "watch",
            scene.watch.iter().map(|w| (&w.a, &w.b)).collect::<Vec<_>>(),
        ),
        (
            "joined",
            scene.joined.iter().map(|j| (&j.a, &j.b)).collect(),
        ),
    ];
    for (list, entries) in lists {
        for (i, (a, b)) in entries.iter().enumerate() {
            if !matched(a, b, false) {
                return Err(Problem::at(
                    format!("{list}[{i}]"),
                    format!("no pair of parts matches `{a}` and `{b}`"),
                    format!("the parts are: {}", known()),
                ));
            }
            if !matched(a, b, true) {
                return Err(Problem::at(
                    format!("{list}[{i}]"),
                    format!("`{a}` and `{b}` never move against each other"),
                    "both are on the same body, or turn together: check which body each part is on",
                ));
            }
        }
    }
    Ok(())
}
