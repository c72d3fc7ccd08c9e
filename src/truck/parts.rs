//! The parts of one corner: the scene's own, the shafts between joints, and the truck's body on the frame.

use super::TOUCH_MM;
use super::assemble::{CornerSource, Fitting, Reader, drawn_points};
use super::boots::slices;
use super::common_parts::{Drawing, bar as bar_shape, common_part};
use super::corner::RollHeld;
use super::housing::Housing;
use super::links::links;
use super::mesh_store::{MeshPlace, MeshStore};
use super::own_side::{SidePoints, follow};
use super::springs;
use super::whole::body_parts;
use crate::clearance::{Drawn, Part};
use crate::scene::{
    Arm, CarriedBy, Damper, End, Fitted, Foot, Hose, PartEntry, Place, Point, Problem, Roll, Scene,
    ShapeEntry, SpacerEffect,
};
use crate::shapes::{Shape, Surface, in_place_within};
use crate::suspension::{Body, Mechanism, MountFit, Placement, Side};
use nalgebra::{Isometry3, UnitQuaternion, Vector3};
use std::sync::Arc;

type Result<T> = std::result::Result<T, Problem>;

/// Most triangles of a corner's parts together: three mesh files of the most that one may have. Each takes
/// some hundred bytes with its place in a tree.
const MOST_FACETS: usize = 24_000_000;

/// Every part of one corner.
pub(super) fn parts(
    scene: &Scene,
    fitting: &Fitting,
    linkage: &Mechanism,
    meshes: &MeshStore,
) -> Result<Vec<Part>> {
    let source = &fitting.source;
    let mirrored_side = source.side != scene.side;
    let as_drawn = Reader {
        mirrored: false,
        ..source.reader
    };
    let front_driveshaft = super::assemble::front_driveshaft(scene, fitting.housing)?;
    let own = SidePoints::of(fitting)?;
    let opposite = SidePoints::of_side(fitting.across, fitting, source.side.opposite())?;
    // Where the described side's drawing has the points of the side that it is mirrored to: this one, or the other.
    let mirrored_from = |scene: &Scene| -> Result<SidePoints> {
        Ok(SidePoints::of_side(scene, fitting, scene.side)?.mirrored())
    };
    let described = if mirrored_side {
        mirrored_from(scene)?
    } else {
        mirrored_from(fitting.across)?
    };
    let held = roll_held(scene, source)?;
    let mut out: Vec<Part> = Vec::new();
    let mut facets = 0;
    // Two parts of different sides come nearer than this to each other only where one of them does to the middle plane.
    let margin_mm = super::watch::greatest_gap_mm(&super::watch::in_mm(scene, source.reader.scale));
    // Whether a moving part of this side may meet what lies on the other one.
    let mut reaches_over = false;
    let links = links(scene, fitting)?;
    let boots = slices(scene, fitting, linkage)?;
    let coils = springs::slices(scene, fitting, linkage)?;
    let drawn = [
        entries(scene, source.side)?,
        entries(fitting.across, source.side.opposite())?,
    ];
    // A shaft that nobody draws is there all the same.
    let sides_with = |name: &str| {
        drawn
            .each_ref()
            .map(|own| own.iter().any(|c| c.entry.name == name))
    };
    for (chosen, is_other_sides) in entries_of_both(&drawn) {
        let Chosen {
            entry,
            reader,
            path,
        } = chosen;
        let (reader, shape_path) = (*reader, format!("{path}.shape"));
        let pieces: Vec<Piece> = match &entry.shape {
            // The other side's link moves with the other side's wheel.
            ShapeEntry::Link { .. } if is_other_sides => continue,
            ShapeEntry::Link { .. } => links
                .iter()
                .enumerate()
                .filter(|(_, link)| link.name == entry.name)
                .map(|(i, link)| {
                    let [from, along] = [link.hangs.drawn_from, link.hangs.direction];
                    Piece {
                        name: entry.name.clone(),
                        // Their number is bounded where they are made.
                        body: Body::Link(i as u8),
                        shape: link.shape.clone(),
                        spin: Some((from, along)),
                    }
                })
                .collect(),
            ShapeEntry::Boot { .. } => boots
                .iter()
                .enumerate()
                .filter(|(_, slice)| slice.boot == entry.name)
                .map(|(i, slice)| Piece {
                    name: slice.name(),
                    // Counted on from the links; both numbers are bounded where they are made.
                    body: Body::Link((links.len() + i) as u8),
                    shape: slice.shape.clone(),
                    spin: Some((slice.hangs.drawn_at, slice.hangs.direction)),
                })
                .collect(),
            ShapeEntry::Spring { .. } => {
                // Counted on from the boots, likewise.
                let (mut next, mut pieces) = (links.len() + boots.len(), Vec::new());
                for slice in &coils {
                    let body = match &slice.held {
                        springs::Held::BySeat(body) => *body,
                        springs::Held::ByBoth(_) => {
                            next += 1;
                            Body::Link((next - 1) as u8)
                        }
                    };
                    if slice.spring == entry.name {
                        pieces.push(Piece {
                            name: slice.name(),
                            body,
                            shape: slice.shape.clone(),
                            spin: spin(Body::DamperUpper, linkage, &held),
                        });
                    }
                }
                pieces
            }
            _ => {
                // Drawn for the described side and mirrored, a part goes with its body's points of its own side: on the
                // described corner only the other side's parts are mirrored.
                let own_side = if reader.mirrored {
                    let its_own = if is_other_sides { &opposite } else { &own };
                    follow(&described, its_own, entry.on).motion
                } else {
                    Isometry3::identity()
                };
                // What is there once was drawn on the described side's points.
                let is_once = entry.fitted == Fitted::Once || entry.on == Body::FrontDriveshaft;
                let points = match is_other_sides || (is_once && mirrored_side) {
                    true => &opposite,
                    false => &own,
                };
                let drawing = Drawing {
                    scene,
                    body: entry.on,
                    reader,
                    own_side: &own_side,
                    points,
                    path: &shape_path,
                };
                let drawn = match (&entry.shape, common_part(&entry.shape, &drawing)?) {
                    (_, Some(common)) => common,
                    (
                        ShapeEntry::Lathe {
                            from,
                            axis,
                            profile,
                        },
                        None,
                    ) if from.is_none() || axis.is_none() => {
                        let ends = (from.as_ref(), axis.as_ref());
                        lathe_on_body(
                            ends,
                            profile,
                            entry.on,
                            reader,
                            &own_side,
                            &own,
                            &shape_path,
                        )?
                    }
                    (other, None) => moved(shape(other, reader, &shape_path, meshes)?, &own_side),
                };
                let shape = moved(drawn, &fitting.housing.motion_of(entry, reader, path)?);
                let shape = moved(shape, &spaced_down(entry.on, fitting, &own));
                let lowered = source.lowered_drawing(entry.on)?;
                let shape = moved(
                    shape,
                    &Isometry3::from_parts(lowered.into(), UnitQuaternion::identity()),
                );
                let motion = with_driveshaft(entry, &shape, scene, fitting)?;
                let shape = moved(shape, &motion);
                let spin = match (entry.on, &front_driveshaft) {
                    (Body::FrontDriveshaft, None) => {
                        return Err(Problem::at(
                            format!("{path}.on"),
                            "the scene has no front driveshaft",
                            "add `front_driveshaft: (..)` with its joints and axes, or put the part on another body",
                        ));
                    }
                    (Body::FrontDriveshaft, Some(shaft)) => {
                        Some((shaft.transfer_case, shaft.pinion - shaft.transfer_case))
                    }
                    _ => spin(entry.on, linkage, &held),
                };
                vec![Piece {
                    name: entry.name.clone(),
                    body: entry.on,
                    shape,
                    spin,
                }]
            }
        };
        for piece in pieces {
            let Piece {
                name,
                body,
                shape,
                spin,
            } = piece;
            if name != entry.name && drawn[0].iter().any(|c| c.entry.name == name) {
                return Err(Problem::at(
                    format!("{path}.name"),
                    format!("a piece of this part is called `{name}`, as another part is"),
                    "give that part another name",
                ));
            }
            // A mesh is the same surface on both corners and in every setup, as long as it turns about the same axis.
            let surface = meshes.surface(&shape, spin).map_err(|e| {
                Problem::at(
                    &shape_path,
                    e.to_string(),
                    "check the shape's sizes and points",
                )
            })?;
            let drawn = part(&name, (body, source.side), &shape, surface, spin);
            let is_inner_boot = matches!(entry.shape, ShapeEntry::Boot { .. })
                && entry.on == Body::InnerJointHousing;
            let mut part = Part {
                entry_name: entry.name.clone(),
                side: if is_other_sides {
                    source.side.opposite()
                } else {
                    source.side
                },
                has_twin: entry.on == Body::Halfshaft || sides_with(&entry.name) == [true; 2],
                orbits: drawn.orbits || is_inner_boot,
                ..drawn
            };
            let is_own = !is_other_sides && !part.body.is_both_sides();
            reaches_over |= is_own && part.reach_onto_mm(source.side.opposite()) >= -margin_mm;
            if is_other_sides {
                // The rack takes what it carries along, and the front driveshaft is one for both sides.
                let comes_mm = part.reach_onto_mm(source.side)
                    + if part.body == Body::Rack {
                        rack_travel_mm(scene, source)
                    } else {
                        0.0
                    };
                let is_shared = part.body == Body::FrontDriveshaft;
                if !is_shared && !reaches_over && comes_mm < -margin_mm {
                    continue;
                }
                // Alike on both sides, as a straight cross member is, it is there already.
                if let Some(own) = out.iter().find(|p| p.name == entry.name) {
                    let at_rest = Placement::identity();
                    let (here, there) = ((&*part.surface, &at_rest), (&*own.surface, &at_rest));
                    if in_place_within(here, there, TOUCH_MM) {
                        continue;
                    }
                    part.name = format!("{} {}", source.side.opposite().name(), entry.name);
                    if out.iter().any(|p| p.name == part.name) {
                        return Err(Problem::at(
                            format!("{path}.name"),
                            format!(
                                "a part named `{}` reaches over from the other side, and this side has one of that name",
                                part.name
                            ),
                            "give each part a name of its own",
                        ));
                    }
                }
            }
            facets += part.surface.elements.len();
            check_facets(facets, &shape_path)?;
            out.push(part);
        }
    }
    let is_shaft = |p: &&Part| p.name == "halfshaft";
    if let Some(part) = out.iter().find(is_shaft)
        && part.body != Body::Halfshaft
    {
        return Err(Problem::at(
            "parts",
            format!("a part named `halfshaft` is on the {}", part.body.name()),
            "the name belongs to the shaft between both joints: give this part another",
        ));
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
            (Body::Halfshaft, source.side),
            [from, to],
            diameter,
            linkage,
            path,
        )?);
    }
    if let Some(diameter) = scene.front_driveshaft.and_then(|s| s.diameter) {
        let path = "front_driveshaft.diameter".to_owned();
        let diameter = as_drawn.positive(diameter, &path)?;
        if let Some(shaft) = &front_driveshaft {
            let ends = [shaft.transfer_case, shaft.pinion];
            let name = "front driveshaft";
            if out.iter().any(|part| part.name == name) {
                return Err(Problem::at(
                    path,
                    format!(
                        "with a diameter the shaft is drawn by itself, and a part is named `{name}`"
                    ),
                    "leave out the diameter, or give the part another name",
                ));
            }
            out.push(bar(
                name,
                (Body::FrontDriveshaft, source.side),
                ends,
                diameter,
                linkage,
                path,
            )?);
        }
    }
    // What the frame carries around the wheels: a tyre must clear the fender as well as the arm.
    for (i, body_part) in body_parts(scene, meshes)? {
        if body_part.on != CarriedBy::Frame {
            continue;
        }
        if out.iter().any(|part| part.name == body_part.name) {
            return Err(Problem::at(
                format!("underbody[{i}].name"),
                format!("a second part named `{}`", body_part.name),
                "give each part a name of its own, in `parts` and `underbody` together",
            ));
        }
        facets += body_part.surface.elements.len();
        check_facets(facets, &format!("underbody[{i}].shape"))?;
        out.push(Part {
            entry_name: body_part.name.clone(),
            name: body_part.name,
            body: Body::Frame,
            surface: body_part.surface,
            revolved: false,
            orbits: false,
            side: source.side,
            has_twin: false,
            is_bodywork: true,
            drawn: Drawn::new(body_part.shape),
        });
    }
    Ok(out)
}

/// A part of its own that an entry makes.
struct Piece {
    name: String,
    body: Body,
    shape: Shape,
    spin: Spin,
}

/// An entry of the scene with how its numbers are read.
pub(super) struct Chosen<'s> {
    pub entry: &'s PartEntry,
    pub reader: Reader,
    pub path: String,
}

/// The entries of one side's parts.
pub(super) fn entries(scene: &Scene, side: Side) -> Result<Vec<Chosen<'_>>> {
    let scale = scene.units.in_mm();
    let mirrored_side = side != scene.side;
    let as_drawn = Reader {
        scale,
        mirrored: false,
    };
    let mirrored = Reader {
        scale,
        mirrored: mirrored_side,
    };
    let mut chosen: Vec<Chosen> = Vec::new();
    for (i, entry) in scene.parts.iter().enumerate() {
        let path = format!("parts[{i}]");
        let reader = match entry.fitted {
            // There is one front driveshaft.
            _ if entry.on == Body::FrontDriveshaft => as_drawn,
            Fitted::EachSide => mirrored,
            Fitted::Once => as_drawn,
            Fitted::Left | Fitted::Right if entry.fitted.is_on(side) => as_drawn,
            Fitted::Left | Fitted::Right => continue,
        };
        if chosen.iter().any(|c| c.entry.name == entry.name) {
            return Err(Problem::at(
                format!("{path}.name"),
                format!("a second part named `{}`", entry.name),
                "give each part a name of its own",
            ));
        }
        chosen.push(Chosen {
            entry,
            reader,
            path,
        });
    }
    if !mirrored_side {
        return Ok(chosen);
    }
    for (i, entry) in scene.other_side.parts.iter().enumerate() {
        let path = format!("other_side.parts[{i}]");
        let earlier = &scene.other_side.parts[..i];
        if earlier.iter().any(|e| e.name == entry.name) {
            return Err(Problem::at(
                format!("{path}.name"),
                format!("a second part named `{}` on the other side", entry.name),
                "give each part a name of its own",
            ));
        }
        if entry.fitted != Fitted::EachSide {
            return Err(Problem::at(
                format!("{path}.fitted"),
                "parts of `other_side` are fitted on the other side",
                "leave `fitted` out, or put the part into `parts`",
            ));
        }
        let is_once = |c: &&Chosen| c.entry.name == entry.name && c.entry.fitted == Fitted::Once;
        if let Some(once) = chosen.iter().find(is_once) {
            return Err(Problem::at(
                format!("{path}.name"),
                format!(
                    "`{}` is fitted once, in `{}`, and this is a second one",
                    entry.name, once.path
                ),
                "give this part a name of its own, or leave out `fitted: once` there",
            ));
        }
        chosen.retain(|c| c.entry.name != entry.name);
        chosen.push(Chosen {
            entry,
            reader: as_drawn,
            path,
        });
    }
    Ok(chosen)
}

/// How far the rack goes to either side at most, mm.
fn rack_travel_mm(scene: &Scene, source: &CornerSource) -> f64 {
    let travel = &scene.rack.travel;
    travel.left.max(travel.right) * source.reader.scale
}

/// The entries of a corner's own parts, then those of the other side's on what both sides share, such as the frame or the
/// rack: one of these may reach across the truck's middle.
fn entries_of_both<'d, 's>(
    [own, others]: &'d [Vec<Chosen<'s>>; 2],
) -> impl Iterator<Item = (&'d Chosen<'s>, bool)> {
    let others = others
        .iter()
        .filter(|c| c.entry.on.is_both_sides() && c.entry.fitted != Fitted::Once);
    own.iter()
        .map(|c| (c, false))
        .chain(others.map(|c| (c, true)))
}

/// Where a lowered differential takes what is drawn on the front driveshaft: with the joint that is nearer.
fn with_driveshaft(
    entry: &PartEntry,
    shape: &Shape,
    scene: &Scene,
    fitting: &Fitting,
) -> Result<Isometry3<f64>> {
    if entry.on != Body::FrontDriveshaft {
        return Ok(Isometry3::identity());
    }
    let ends = |housing: &Housing| -> Result<Option<[Vector3<f64>; 2]>> {
        let shaft = super::assemble::front_driveshaft(scene, housing)?;
        Ok(shaft.map(|s| [s.transfer_case, s.pinion]))
    };
    let (Some(drawn), Some(fitted)) = (ends(&Housing::as_measured())?, ends(fitting.housing)?)
    else {
        return Ok(Isometry3::identity());
    };
    let Ok(surface) = shape.surface(None) else {
        return Ok(Isometry3::identity());
    };
    let middle = surface.origin + surface.rotation * surface.bounds().middle;
    let near = |i: usize| (middle - drawn[i]).norm();
    let end = usize::from(near(1) < near(0));
    let along = |ends: [Vector3<f64>; 2]| ends[1] - ends[0];
    Ok(super::own_side::onto_axis(
        (drawn[end], along(drawn)),
        (fitted[end], along(fitted)),
    ))
}

/// Where a setup's spacers on the damper put a part on the damper's upper half, which is drawn on the truck as measured:
/// nearer to the lower eye by what they add to the length.
fn spaced_down(body: Body, fitting: &Fitting, own: &SidePoints) -> Isometry3<f64> {
    if body != Body::DamperUpper {
        return Isometry3::identity();
    }
    let down = own.along_damper() * spaced_mm(fitting);
    Isometry3::from_parts(down.into(), UnitQuaternion::identity())
}

/// What a setup's spacers have added to the damper's length since the truck was measured, mm.
pub(super) fn spaced_mm(fitting: &Fitting) -> f64 {
    let of_length =
        |source: &CornerSource| source.spacers_mm(|adds| adds == SpacerEffect::TotalLength);
    let measured = fitting.measured.as_ref();
    measured.map_or(0.0, |(_, measured)| {
        of_length(&fitting.source) - of_length(measured)
    })
}

/// Whether a corner's parts are few enough triangles together.
fn check_facets(facets: usize, path: &str) -> Result<()> {
    if facets > MOST_FACETS {
        return Err(Problem::at(
            path,
            format!(
                "with this part the corner has {facets} triangles, more than the {MOST_FACETS} that are taken"
            ),
            "thin the meshes out, or leave out what can't come near the suspension",
        ));
    }
    Ok(())
}

/// The names of the scene's parts that something holds for, in a sentence; none where it holds for no part.
fn listed_parts(scene: &Scene, which: impl Fn(&PartEntry) -> bool) -> Option<String> {
    let all = scene.parts.iter().chain(&scene.other_side.parts);
    let mut names: Vec<String> = all
        .filter(|part| which(part))
        .map(|part| format!("`{}`", part.name))
        .collect();
    names.dedup();
    (!names.is_empty()).then(|| names.join(", "))
}

/// A warning of parts that a change leaves as they were drawn.
fn drawn_as_before(change: &str, drawn: &str) -> String {
    format!(
        "{change}, and {drawn} is drawn as before: draw the new one in the change's `parts`, or gaps to it are those of the \
         old one"
    )
}

/// Whether a part was there before the setup's last change of its body: on the truck as measured, or by an earlier change.
fn was_drawn_before(scene: &Scene, measured: &Scene, part: &PartEntry) -> bool {
    measured.parts.contains(part)
        || measured.other_side.parts.contains(part)
        || scene.drawn_before.contains(&part.name)
}

/// Whether a part of a name was, however it was drawn.
fn is_named_before(scene: &Scene, measured: &Scene, name: &String) -> bool {
    let mut all = measured.parts.iter().chain(&measured.other_side.parts);
    all.any(|part| part.name == *name) || scene.drawn_before.contains(name)
}

/// Where a setup changes the damper and the parts drawn on it stay as they were, a sentence each.
pub(super) fn damper_warnings(scene: &Scene, fitting: &Fitting) -> Vec<String> {
    let Some((before, measured)) = &fitting.measured else {
        return Vec::new();
    };
    let stays = |part: &PartEntry| {
        let on_damper = matches!(part.on, Body::DamperUpper | Body::DamperLower);
        on_damper && was_drawn_before(scene, before, part)
    };
    let drawn =
        |which: &dyn Fn(&PartEntry) -> bool| listed_parts(scene, |part| stays(part) && which(part));
    let mut out = Vec::new();
    let lengths =
        |source: &CornerSource| (source.damper.entry.extended, source.damper.entry.compressed);
    if lengths(&fitting.source) != lengths(measured)
        && let Some(drawn) = drawn(&|_| true)
    {
        out.push(drawn_as_before("the damper is another", &drawn));
        if fitting.source.damper.entry.lower_mount_on == Foot::Strut {
            out.push(
                "the strut is another, and what is drawn of its tube on `knuckle` is drawn as before: draw the new one in the \
                 change's `parts`, or gaps to it are those of the old one"
                    .to_owned(),
            );
        }
    }
    let preload =
        |source: &CornerSource| source.spacers_mm(|adds| adds == SpacerEffect::PreloadOnly);
    let seat_mm = preload(&fitting.source) - preload(measured);
    // A spring between its seats is the room of coil and spacer together.
    let is_fixed = |part: &PartEntry| !matches!(part.shape, ShapeEntry::Spring { .. });
    if seat_mm != 0.0
        && let Some(drawn) = drawn(&is_fixed)
    {
        out.push(format!(
            "a spacer moves the spring's seat by {seat_mm:.1} mm, and {drawn} is drawn as before: gaps to a spring may be \
             that much less"
        ));
    }
    out
}

/// Where a setup fits another arm or knuckle and parts drawn on the old one stay as they were, a sentence each.
pub(super) fn arm_warnings(scene: &Scene, fitting: &Fitting) -> Vec<String> {
    let Some((before, measured)) = &fitting.measured else {
        return Vec::new();
    };
    let fitted = &fitting.source;
    let arm = |is: &Arm, was: &Arm| {
        (is.front_pivot, is.rear_pivot, is.ball_joint)
            != (was.front_pivot, was.rear_pivot, was.ball_joint)
    };
    let (is, was) = (fitted.knuckle.entry, measured.knuckle.entry);
    let outer_joint = |source: &CornerSource| source.halfshaft.entry.outer_joint;
    // A wheel or a spacer of another offset moves the wheel along its axis, and nothing of the knuckle.
    let is_moved_off_axis = {
        let [now, before] =
            [is.wheel_centre, was.wheel_centre].map(|p| Vector3::new(p.0, p.1, p.2));
        let axis = Vector3::from(was.spindle.direction(scene.side)).normalize();
        (now - before).cross(&axis).norm() * fitted.reader.scale > TOUCH_MM
    };
    let is_another_knuckle = is_moved_off_axis
        || (
        is.tie_rod_outer,
        &is.ball_joints,
        is.spindle,
    ) != (
        was.tie_rod_outer,
        &was.ball_joints,
        was.spindle,
    ) || outer_joint(fitted) != outer_joint(measured)
        // A strut's tube is on it.
        || fitted.damper.entry.brought_strut.is_some();
    let components = [
        (
            Body::LowerArm,
            arm(fitted.lower_arm.entry, measured.lower_arm.entry),
        ),
        (
            Body::UpperArm,
            (fitted.upper_arm.iter().zip(&measured.upper_arm))
                .any(|(is, was)| arm(is.entry, was.entry)),
        ),
        (Body::Knuckle, is_another_knuckle),
        (
            Body::Rack,
            *fitted.tie_rod_inner.entry != *measured.tie_rod_inner.entry,
        ),
    ];
    let mut out = Vec::new();
    for (body, _) in components.into_iter().filter(|(_, is_another)| *is_another) {
        let was_there = |part: &PartEntry| was_drawn_before(scene, before, part);
        // A bar between named points goes with these.
        let follows = |part: &PartEntry| {
            matches!(
                part.shape,
                ShapeEntry::Bar {
                    from: Some(Place::Named(_)),
                    to: Some(Place::Named(_)),
                    ..
                }
            )
        };
        let is_on_it = |part: &PartEntry| part.drawn_on().any(|on| on == body);
        let stays = |part: &PartEntry| is_on_it(part) && was_there(part) && !follows(part);
        if let Some(drawn) = listed_parts(scene, stays) {
            let name = body.name().replace('_', " ");
            out.push(drawn_as_before(&format!("the {name} is another"), &drawn));
        }
        let kept: Vec<String> = ends(scene)
            .filter(|(of, end)| end.on == body && ends(before).any(|was| was == (of.clone(), *end)))
            .map(|(of, _)| of)
            .collect();
        if !kept.is_empty() {
            let name = body.name().replace('_', " ");
            out.push(format!(
                "the {name} is another, and the end of {} on it is where it was on the old one: say where it is now, or its \
                 length is that of the old one",
                kept.join(", ")
            ));
        }
    }
    out
}

/// Ends of hoses, straps and bump stops as one side's entries give them, with what each is the end of.
fn ends_of<'s>(
    hoses: &'s [Hose],
    damper: Option<&'s Damper>,
) -> impl Iterator<Item = (String, End)> + use<'s> {
    let hoses = hoses.iter().flat_map(|hose| {
        let name = format!("the hose `{}`", hose.name);
        [hose.ends.0, hose.ends.1].map(|end| (name.clone(), end))
    });
    let of_damper = damper.into_iter().flat_map(|damper| {
        let strap = damper.strap.iter();
        let strap = strap.map(|strap| ("the limit strap", strap.ends));
        let pad = damper.bump_stop.iter();
        let pad = pad.filter_map(|stop| Some(("the bump stop", stop.ends?)));
        strap
            .chain(pad)
            .flat_map(|(name, (a, b))| [a, b].map(|end| (name.to_owned(), end)))
    });
    hoses.chain(of_damper)
}

/// Those of both sides.
fn ends(scene: &Scene) -> impl Iterator<Item = (String, End)> {
    let other = &scene.other_side;
    ends_of(&scene.hoses, Some(&scene.damper)).chain(ends_of(
        other.hoses.as_deref().unwrap_or_default(),
        other.damper.as_ref(),
    ))
}

/// Those that the other corner takes over mirrored.
pub(super) fn mirrored_ends(scene: &Scene) -> impl Iterator<Item = (String, End)> {
    let other = &scene.other_side;
    let hoses: &[Hose] = match &other.hoses {
        None => &scene.hoses,
        Some(_) => &[],
    };
    ends_of(hoses, other.damper.is_none().then_some(&scene.damper))
}

/// Where a setup makes a rod longer or thicker and a part on it can't be drawn so, a sentence each.
///
/// # Errors
/// The first [`Problem`](crate::scene::Problem) of the corner's points.
pub(super) fn rod_warnings(scene: &Scene, fitting: &Fitting) -> Result<Vec<String>> {
    let Some((before, measured)) = &fitting.measured else {
        return Ok(Vec::new());
    };
    let (_, is) = drawn_points(fitting)?;
    let (_, was) = drawn_points(&Fitting {
        source: measured.clone(),
        measured: None,
        housing: fitting.housing,
        across: fitting.across,
    })?;
    let longer_mm = |is: [Vector3<f64>; 2], was: [Vector3<f64>; 2]| {
        let mm = (is[1] - is[0]).norm() - (was[1] - was[0]).norm();
        // Less is what rounding leaves of equal lengths.
        if mm.abs() > 1.0e-6 { mm } else { 0.0 }
    };
    let rods = [
        (Body::TieRod, "tie rod", longer_mm(is.tie_rod, was.tie_rod)),
        (
            Body::Halfshaft,
            "halfshaft",
            longer_mm(is.halfshaft, was.halfshaft),
        ),
    ];
    let was_there = |name: &String| is_named_before(scene, before, name);
    let mut out = Vec::new();
    for (body, rod, longer_mm) in rods.into_iter().filter(|(_, _, mm)| *mm != 0.0) {
        let is_stiff = |part: &PartEntry| {
            let is_stiff = matches!(part.shape, ShapeEntry::Box { .. } | ShapeEntry::Mesh { .. });
            part.on == body && is_stiff && was_there(&part.name)
        };
        if let Some(drawn) = listed_parts(scene, is_stiff) {
            let (by_mm, other) = if longer_mm < 0.0 {
                (-longer_mm, "shorter")
            } else {
                (longer_mm, "longer")
            };
            let change = format!("the {rod} is {by_mm:.1} mm {other}");
            out.push(drawn_as_before(&change, &drawn));
        }
    }
    let [is, was] = [&fitting.source, measured].map(|source| source.halfshaft.entry.diameter);
    // The shaft itself is drawn in its new diameter where it is a round bar of the old one.
    let stays = |part: &PartEntry| {
        let is_new = match part.shape {
            ShapeEntry::Bar { diameter, .. } => diameter == is,
            ShapeEntry::Capsule { radius, .. } | ShapeEntry::Cylinder { radius, .. } => {
                2.0 * radius == is
            }
            _ => false,
        };
        part.on == Body::Halfshaft && was_there(&part.name) && !is_new
    };
    if is != was
        && let Some(drawn) = listed_parts(scene, stays)
    {
        out.push(drawn_as_before(
            "the halfshaft has another diameter",
            &drawn,
        ));
    }
    Ok(out)
}

/// Where the front driveshaft slides, the differential lowered, and what is drawn on it doesn't.
///
/// # Errors
/// The driveshaft's numbers.
pub(super) fn driveshaft_warning(scene: &Scene, fitting: &Fitting) -> Result<Option<String>> {
    let Some(shaft) = super::assemble::front_driveshaft(scene, fitting.housing)? else {
        return Ok(None);
    };
    let longer_mm = (shaft.pinion - shaft.transfer_case).norm() - shaft.length_as_measured_mm;
    // A tape reads no less.
    if longer_mm.abs() <= 0.05 {
        return Ok(None);
    }
    // A part that a setup brings is drawn for the shaft as it then is.
    let was_there = |name: &String| {
        let before = fitting.measured.as_ref();
        before.is_none_or(|(before, _)| is_named_before(scene, before, name))
    };
    let is_drawn = |part: &PartEntry| part.on == Body::FrontDriveshaft && was_there(&part.name);
    let change = format!("the front driveshaft slides {:.1} mm", longer_mm.abs());
    Ok(listed_parts(scene, is_drawn).map(|drawn| drawn_as_before(&change, &drawn)))
}

/// A round shaft between two joint centres.
fn bar(
    name: &str,
    (body, side): (Body, Side),
    [from, to]: [Vector3<f64>; 2],
    diameter_mm: f64,
    linkage: &Mechanism,
    path: String,
) -> Result<Part> {
    let shape = Shape::Capsule {
        from,
        to,
        radius: 0.5 * diameter_mm,
    };
    let spin = spin(body, linkage, &[]);
    let surface = shape
        .surface(spin)
        .map_err(|e| Problem::at(path, e.to_string(), "check the shaft's diameter"))?;
    Ok(part(name, (body, side), &shape, Arc::new(surface), spin))
}

/// A point and a direction of the axis that a part turns about with its body.
type Spin = Option<(Vector3<f64>, Vector3<f64>)>;

fn spin(body: Body, linkage: &Mechanism, held: &[RollHeld]) -> Spin {
    let h = &linkage.hardpoints;
    let own = &linkage.own;
    let [shaft_inner, shaft_outer] = own.halfshaft;
    let along = |[from, to]: [Vector3<f64>; 2]| Some((from, to - from));
    match body {
        _ if held.iter().any(|h| h.bodies.contains(&body)) => None,
        _ if h.is_tube(body) => None,
        Body::TieRod => along(own.tie_rod),
        Body::DamperUpper | Body::DamperLower => along(own.damper),
        Body::Halfshaft => Some((shaft_inner, shaft_outer - shaft_inner)),
        Body::InnerJointHousing => Some((h.inner_joint, h.flange_axis)),
        Body::OuterJointHousing => Some((h.outer_joint, h.outer_axis)),
        Body::Wheel => Some((h.wheel_centre, h.spindle_axis)),
        Body::Frame
        | Body::Differential
        | Body::Rack
        | Body::LowerArm
        | Body::UpperArm
        | Body::Knuckle
        // Of the front driveshaft and of links the linkage's own points tell nothing.
        | Body::FrontDriveshaft
        | Body::Link(_) => None,
    }
}

/// The rods of a corner that the scene says can't roll.
///
/// # Errors
/// A reason that says nothing.
pub(super) fn roll_held(scene: &Scene, source: &CornerSource) -> Result<Vec<RollHeld>> {
    const TIE_ROD: &[Body] = &[Body::TieRod];
    const DAMPER: &[Body] = &[Body::DamperUpper, Body::DamperLower];
    let damper = &source.damper;
    let rods = [
        ("tie rod", TIE_ROD, &scene.rack.roll, "rack.roll".to_owned()),
        (
            "damper",
            DAMPER,
            &damper.entry.roll,
            format!("{}.roll", damper.path),
        ),
    ];
    let mut out = Vec::new();
    for (name, bodies, roll, path) in rods {
        match roll {
            Roll::Free => {}
            Roll::HeldBy(why) if why.trim().is_empty() => {
                return Err(Problem::at(
                    path,
                    format!("nothing is said of what holds the {name}"),
                    "name it, as in HeldBy(\"bushed eyes at both ends\"), or leave `roll` out",
                ));
            }
            Roll::HeldBy(why) => out.push(RollHeld {
                name,
                bodies,
                why: why.clone(),
            }),
        }
    }
    Ok(out)
}

fn moved(shape: Shape, motion: &Isometry3<f64>) -> Shape {
    if *motion == Isometry3::identity() {
        shape
    } else {
        shape.moved(motion)
    }
}

/// A lathe that leaves out where it begins, or its axis: what is left out is its body's own, on its own side. What is
/// given moves by `own_side`.
fn lathe_on_body(
    (from, axis): (Option<&Point>, Option<&Point>),
    profile: &[(f64, f64)],
    body: Body,
    r: Reader,
    own_side: &Isometry3<f64>,
    own: &SidePoints,
    path: &str,
) -> Result<Shape> {
    let Some((centre, direction)) = own.axis(body) else {
        let (field, other) = match from {
            None => ("from", "where its axis begins"),
            Some(_) => ("axis", "the direction of its axis"),
        };
        return Err(Problem::at(
            format!("{path}.{field}"),
            format!("this lathe on the {} doesn't say {other}", body.name()),
            NO_OWN_AXIS,
        ));
    };
    let from = match from {
        Some(p) => {
            let p = r.point(p, &format!("{path}.from"))?;
            own_side.rotation * p + own_side.translation.vector
        }
        None => centre,
    };
    let axis = match axis {
        Some(d) => own_side.rotation * r.direction(d, &format!("{path}.axis"))?,
        None => direction,
    };
    Ok(Shape::Lathe {
        from,
        axis,
        profile: outline(profile, r, path)?,
    })
}

/// What to do where a lathe leaves out what only turning bodies have.
const NO_OWN_AXIS: &str = "give both `from` (x, y, z) and `axis` (x, y, z): they may be left out on wheel, halfshaft, \
    inner_joint_housing and outer_joint_housing only, which have an axis of their own";

fn outline(profile: &[(f64, f64)], r: Reader, path: &str) -> Result<Vec<[f64; 2]>> {
    let field = format!("{path}.profile");
    profile
        .iter()
        .map(|(along, radius)| Ok([r.length(*along, &field)?, r.length(*radius, &field)?]))
        .collect()
}

fn part(
    name: &str,
    (body, side): (Body, Side),
    shape: &Shape,
    surface: Arc<Surface>,
    spin: Spin,
) -> Part {
    Part {
        name: name.to_owned(),
        entry_name: name.to_owned(),
        side,
        has_twin: true,
        body,
        surface,
        revolved: spin.is_some_and(|(p, a)| !shape.is_round_about(&p, &a)),
        orbits: body == Body::Halfshaft,
        is_bodywork: false,
        drawn: Drawn::new(shape.turning(spin)),
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
            let given = |p: &Option<Point>, field: &str| {
                let what = format!("this lathe gives no `{field}`");
                p.ok_or_else(|| Problem::at(at(field), what, NO_OWN_AXIS))
            };
            Shape::Lathe {
                from: r.point(&given(from, "from")?, &at("from"))?,
                axis: r.direction(&given(axis, "axis")?, &at("axis"))?,
                profile: outline(profile, r, path)?,
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
        ShapeEntry::Bar {
            from: Some(Place::At(from)),
            to: Some(Place::At(to)),
            diameter,
            short_from,
            short_to,
        } => {
            let (from, to) = bar(from, to)?;
            bar_shape([from, to], *diameter, [*short_from, *short_to], r, path)?
        }
        ShapeEntry::Bar { from, .. } => {
            let is_from = !matches!(from, Some(Place::At(_)));
            return Err(Problem::at(
                at(if is_from { "from" } else { "to" }),
                "this bar belongs to no corner, whose points it could be drawn from",
                "give both ends as points (x, y, z)",
            ));
        }
        ShapeEntry::Cup { .. }
        | ShapeEntry::Tyre { .. }
        | ShapeEntry::Link { .. }
        | ShapeEntry::Boot { .. }
        | ShapeEntry::Spring { .. } => {
            return Err(Problem::at(
                path,
                "cups, tyres, links, springs and boots are drawn on a corner's own bodies, and this belongs to no corner",
                "draw it as a Lathe with `from` and `axis`, or put it into `parts`",
            ));
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
    let fit = MountFit::onto(&from, &to).ok_or_else(|| {
        Problem::at(
            path,
            "these pairs don't settle where the part goes",
            "give three pairs or more that don't lie on one line",
        )
    })?;
    let worst_mm = fit.misses_mm.iter().copied().fold(0.0, f64::max);
    if worst_mm > MOST_HOLE_MISS_MM {
        return Err(Problem::at(
            path,
            format!("however the part is put, a hole misses its place by {worst_mm:.1} mm"),
            "one of these points is mistyped, or the file has another unit",
        ));
    }
    Ok(fit)
}

/// A part whose holes miss their places by more than this can't be bolted up, mm: a slotted hole's play, and what a tape gets
/// wrong (common practice, no source).
const MOST_HOLE_MISS_MM: f64 = 5.0;
