//! The one list of pairs: every two parts that the scene watches, and what becomes of each.
//!
//! The idea in five lines. Each two parts of a corner that an entry of `watch` names are put into exactly one place: parts
//! of one body are one rigid assembly; a pair that `joined` names is left out by that name; a pair whose bodies don't move
//! against each other is checked here, once, a turning part as the full revolution that it sweeps; a pair that overlaps as
//! measured is an overlap; every other is swept. Wheel parts meet the frame's and the body's whether an entry names them
//! or not. [`PairCount`] holds the sum, and every command draws on this one list.

use super::TOUCH_MM;
use super::assemble::{CornerSource, Fitting, Reader};
use super::corner::{Corner, JoinedPair, Overlap, PairCount, RESTING_ROOM_MM, RestingPair};
use super::housing::Housing;
use super::mesh_store::MeshStore;
use super::parts::parts;
use crate::clearance::{Part, WatchedPair};
use crate::scene::{Brackets, CameWith, Joined, Problem, Scene, Watch, did_you_mean};
use crate::shapes::hull_overlap_mm;
use crate::suspension::{Body, Linkage, Motion, Side};
use nalgebra::Vector3;
use rayon::prelude::*;
use wildmatch::WildMatch;

type Result<T> = std::result::Result<T, Problem>;

fn matches(a: &str, b: &str, x: &str, y: &str) -> bool {
    let (a, b) = (WildMatch::new(a), WildMatch::new(b));
    (a.matches(x) && b.matches(y)) || (a.matches(y) && b.matches(x))
}

/// Whether an entry names a part of one side by its side and not its twin: then the corners aren't watched alike.
pub(super) fn tells_sides_apart(scene: &Scene) -> bool {
    let watched = scene.watch.iter().flat_map(|w| [&w.a, &w.b]);
    let joined = scene.joined.iter().flat_map(|j| [&j.a, &j.b]);
    let parts = scene.parts.iter().map(|part| &part.name);
    let names: Vec<&String> = parts
        .chain(scene.underbody.iter().map(|u| &u.name))
        .collect();
    watched.chain(joined).any(|pattern| {
        let pattern = WildMatch::new(pattern);
        let named = |side: Side, name: &str| pattern.matches(&format!("{} {name}", side.name()));
        names
            .iter()
            .any(|name| named(Side::Left, name) != named(Side::Right, name))
    })
}

/// Where a pair of parts goes.
enum Kind {
    /// Nobody asks.
    NotWatched,
    /// Parts of one body: one rigid assembly.
    OneBody,
    /// Left out by an entry of `joined`, with its reason.
    Joined(String),
    /// The bodies don't move against each other.
    Resting(Asked),
    /// To be swept.
    Moving(Asked),
}

/// What is asked of a pair.
#[derive(Clone, Copy)]
struct Asked {
    /// The gap that must remain, mm.
    required_mm: f64,
    /// Whether an entry of `watch` names it.
    is_named: bool,
}

fn kind(scene: &Scene, scale: f64, corner: &Corner, x: &Part, y: &Part) -> Kind {
    let asked = match watched_gap(&scene.watch, x, y) {
        Some(gap) => Asked {
            required_mm: gap * scale,
            is_named: true,
        },
        None if is_wheel_against_frame(x, y) || is_tyre_against_another(scene, x, y) => Asked {
            required_mm: 0.0,
            is_named: false,
        },
        None => return Kind::NotWatched,
    };
    if x.body == y.body || is_one_part(x, y) {
        return Kind::OneBody;
    }
    let joint = scene
        .joined
        .iter()
        .find(|j| is_joined(j, corner.side, x, y));
    if let Some(joint) = joint {
        return Kind::Joined(joint.why.clone());
    }
    if moves_as(corner, x.body) == moves_as(corner, y.body) {
        Kind::Resting(asked)
    } else {
        Kind::Moving(asked)
    }
}

/// What a body moves with: a strut's tube is one with the knuckle, though drawn as the damper's lower half.
fn moves_as(corner: &Corner, body: Body) -> Motion {
    if corner.positioner.linkage.hardpoints.is_tube(body) {
        Motion::Knuckle
    } else {
        body.motion()
    }
}

/// A scene's entries of `watch` with their gaps in mm.
pub(super) fn in_mm(scene: &Scene, scale: f64) -> Vec<Watch> {
    let entry = |entry: &Watch| Watch {
        gap: entry.gap * scale,
        ..entry.clone()
    };
    scene.watch.iter().map(entry).collect()
}

/// The greatest gap that entries in mm ask for; at least that at which parts touch.
pub(super) fn greatest_gap_mm(watch: &[Watch]) -> f64 {
    watch.iter().map(|entry| entry.gap).fold(TOUCH_MM, f64::max)
}

/// The gap that `watch` asks of two parts, by the names of their entries, in the list's unit. The last entry that names it
/// counts; one that came with an added part takes nothing from pairs of other parts.
pub(super) fn watched_gap(watch: &[Watch], x: &Part, y: &Part) -> Option<f64> {
    let named = |w: &&Watch| {
        matches(&w.a, &w.b, watched_name(x), watched_name(y)) && is_about(&w.came_with, x, y)
    };
    let is_of_others = |w: &Watch| {
        let with = w.came_with.as_ref();
        with.is_some_and(|with| !is_added(with, x) && !is_added(with, y))
    };
    let entries = watch.iter().filter(named);
    entries.fold(None, |before, entry| match before {
        Some(gap) if is_of_others(entry) => Some(entry.gap.max(gap)),
        _ => Some(entry.gap),
    })
}

/// Whether a part is the added one: of its name, on the side that it was added to.
fn is_added(with: &CameWith, part: &Part) -> bool {
    part.entry_name == with.part && with.side.is_none_or(|side| side == part.side)
}

/// Whether an entry that came with a part is about a pair. Of a pair with a part of that name on the other side it says
/// nothing: what is asked of one side's part isn't asked of its namesake.
fn is_about(with: &Option<CameWith>, x: &Part, y: &Part) -> bool {
    with.as_ref().is_none_or(|with| {
        let is_namesake = |part: &Part| part.entry_name == with.part;
        let any_is_added = is_added(with, x) || is_added(with, y);
        any_is_added || !(is_namesake(x) || is_namesake(y))
    })
}

/// Two slices of one coil spring or of one boot: together they are its room.
fn is_one_part(x: &Part, y: &Part) -> bool {
    x.may_be_a_piece() && y.may_be_a_piece() && x.entry_name == y.entry_name
}

/// The name that an entry of `watch` knows a part by: its entry's, so that all pieces of a spring and the other side's part
/// of the same name are watched too.
fn watched_name(part: &Part) -> &str {
    &part.entry_name
}

/// The name that an entry of `joined` knows a part by, and the one that it has with its side before it. The pieces of a
/// spring or a boot are one part to who wrote it.
fn joined_name(part: &Part) -> &str {
    if part.may_be_a_piece() {
        &part.entry_name
    } else {
        &part.name
    }
}

/// Whether an entry of `joined` leaves a pair out, on the corner of a side. What is joined on each side by itself need not be
/// across the middle: there the other side's part is named with its side, unless neither of the two has a twin.
fn is_joined(entry: &Joined, own: Side, x: &Part, y: &Part) -> bool {
    names_joined(&entry.a, &entry.b, own, x, y) && is_about(&entry.came_with, x, y)
}

fn names_joined(a: &str, b: &str, own: Side, x: &Part, y: &Part) -> bool {
    if x.side == y.side && matches(a, b, &x.entry_name, &y.entry_name) {
        return true;
    }
    let is_ambiguous = x.side != y.side && (x.has_twin || y.has_twin);
    let of_its_side = |part: &Part| format!("{} {}", part.side.name(), part.entry_name);
    let name = |part: &Part| {
        if is_ambiguous && part.side != own {
            of_its_side(part)
        } else {
            joined_name(part).to_owned()
        }
    };
    matches(a, b, &name(x), &name(y))
}

/// Tyre and rim against what the frame carries, the truck's body included: a rub there is asked after even where
/// `watch` doesn't name it.
fn is_wheel_against_frame(x: &Part, y: &Part) -> bool {
    let at_rest = |part: &Part| part.body.motion() == Motion::Frame;
    (x.body == Body::Wheel && at_rest(y)) || (y.body == Body::Wheel && at_rest(x))
}

/// The tyre against all else, the knuckle beside it and the arms: rubber touches nothing but the rim.
fn is_tyre_against_another(scene: &Scene, x: &Part, y: &Part) -> bool {
    let Some(tyre) = &scene.tyre else {
        return false;
    };
    let is_tyre = |part: &Part| part.body == Body::Wheel && part.entry_name == tyre.part;
    let is_beside = |part: &Part| part.body != Body::Wheel;
    (is_tyre(x) && is_beside(y)) || (is_tyre(y) && is_beside(x))
}

/// Fills the corner's pairs: swept, resting, joined, overlapping.
pub(super) fn watch(scene: &Scene, scale: f64, corner: &mut Corner) -> Result<()> {
    check_gaps(scene, scale)?;
    let mut count = PairCount::default();
    let (mut moving, mut resting) = (Vec::new(), Vec::new());
    let tripod = corner.orbit_factor_mm > 0.0;
    for a in 0..corner.parts.len() {
        for b in a + 1..corner.parts.len() {
            let (x, y) = (&corner.parts[a], &corner.parts[b]);
            let pair = |asked: Asked| WatchedPair {
                is_named: asked.is_named,
                ..WatchedPair::new(&corner.parts, a, b, asked.required_mm, tripod)
            };
            match kind(scene, scale, corner, x, y) {
                Kind::NotWatched => continue,
                Kind::OneBody => count.one_body += 1,
                Kind::Joined(why) => {
                    count.joined += 1;
                    corner.joined.push(JoinedPair {
                        a: x.name.clone(),
                        b: y.name.clone(),
                        why,
                    });
                }
                Kind::Resting(asked) => resting.push(pair(asked)),
                Kind::Moving(asked) => moving.push(pair(asked)),
            }
            count.matched += 1;
        }
    }
    let linkage = corner.positioner.place(0.0, 0.0).linkage;
    let resting: Vec<RestingPair> = resting
        .into_par_iter()
        .map(|pair| at_rest(corner, pair, &linkage))
        .collect();
    let touching: Vec<Option<f64>> = moving
        .par_iter()
        .map(|pair| touches(corner, pair, &linkage))
        .collect();
    count.resting = resting.len();
    corner.resting = resting;
    for (mut pair, overlap) in moving.into_iter().zip(touching) {
        if let Some(core_mm) = overlap {
            let (x, y) = (&corner.parts[pair.a], &corner.parts[pair.b]);
            corner.overlaps.push(Overlap {
                a: x.name.clone(),
                b: y.name.clone(),
                depth_mm: overlap_depth(x, y, core_mm),
                required_mm: pair.required_mm,
            });
            count.overlapping += 1;
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
    count.moving = corner.pairs.len();
    corner.pair_count = count;
    Ok(())
}

/// Names of parts in the scene's list that no entry of `watch` names with any other part.
pub(super) fn unwatched(corners: &[Corner]) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    for corner in corners {
        for (i, part) in corner.parts.iter().enumerate() {
            let is_named =
                |(j, other): (usize, &Part)| i != j && corner.watched_gap_mm(part, other).is_some();
            let mut others = corner.parts.iter().enumerate();
            if !part.is_bodywork && !others.any(is_named) && !out.contains(&part.entry_name) {
                out.push(part.entry_name.clone());
            }
        }
    }
    out
}

fn check_gaps(scene: &Scene, scale: f64) -> Result<()> {
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
    Ok(())
}

/// The elements' distance of a pair that touches, or of which one part holds the other; none where it does neither.
fn touches(corner: &Corner, pair: &WatchedPair, linkage: &Linkage<f64>) -> Option<f64> {
    // Whether it touches is all that is asked: what lies further apart is not measured out.
    let relative = pair.relative(&corner.parts, linkage);
    let swell = corner.swell_mm(pair, linkage);
    let walk = pair.walk(&corner.parts);
    let gap = walk.gap(&relative, swell, TOUCH_MM, None);
    // Surfaces that don't meet can still hold one part inside the other; later containment
    // would have to pass through a contact first.
    let overlaps = gap.gap_mm <= TOUCH_MM || walk.contains(&relative);
    overlaps.then_some(gap.core_mm)
}

/// A pair whose bodies don't move against each other, measured once.
fn at_rest(corner: &Corner, pair: WatchedPair, linkage: &Linkage<f64>) -> RestingPair {
    let (x, y) = (&corner.parts[pair.a], &corner.parts[pair.b]);
    let relative = pair.relative(&corner.parts, linkage);
    let walk = pair.walk(&corner.parts);
    let gap = walk.gap(&relative, 0.0, pair.required_mm + RESTING_ROOM_MM, None);
    let is_overlap = gap.gap_mm <= TOUCH_MM || walk.contains(&relative);
    RestingPair {
        gap_mm: if is_overlap {
            0.0
        } else {
            gap.gap_mm.min(pair.required_mm + RESTING_ROOM_MM)
        },
        depth_mm: is_overlap
            .then(|| overlap_depth(x, y, gap.core_mm))
            .flatten(),
        points_mm: pair.points(&corner.parts, linkage, &gap, 0.0),
        is_overlap,
        pair,
    }
}

/// The scene with the differential and what hangs on brackets where it was drawn, if it stands lower.
fn as_drawn(scene: &Scene) -> Option<Scene> {
    let brackets = Brackets::default();
    let is_lowered =
        (scene.differential.as_ref()).is_some_and(|d| d.front_spacer != 0.0 || d.drop != 0.0);
    (is_lowered || scene.brackets != brackets).then(|| {
        let mut drawn = scene.clone();
        drawn.brackets = brackets;
        if let Some(differential) = &mut drawn.differential {
            (differential.front_spacer, differential.drop) = (0.0, 0.0);
        }
        drawn
    })
}

/// Parts at rest in the frame that a setup brings together: they don't move against each other, so no sweep
/// would tell, but they can't both be bolted on. Overlaps that were there as measured are as drawn.
pub(super) fn fixed_overlaps(
    fitted: &Scene,
    fitting: &Fitting,
    corner: &mut Corner,
    meshes: &MeshStore,
) -> Result<()> {
    // A scene whose own differential stands on spacers was drawn without them.
    let drawn = as_drawn(fitted);
    let (scene, source) = match (&fitting.measured, &drawn) {
        (Some((scene, source)), _) => (*scene, source.clone()),
        (None, Some(drawn)) => (drawn, CornerSource::of(drawn, fitting.source.side)),
        (None, None) => return Ok(()),
    };
    let housing = Housing::of(scene)?;
    let before = Fitting {
        source,
        measured: None,
        housing: &housing,
        across: scene,
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
            let is_watched = corner
                .resting
                .iter()
                .any(|r| (r.pair.a, r.pair.b) == (a, b));
            let apart_by_design = !is_watched
                && at_rest(x)
                && at_rest(y)
                && (moved[a] || moved[b])
                && !(x.body.is_on_differential() && y.body.is_on_differential())
                && !fitted
                    .joined
                    .iter()
                    .any(|j| is_joined(j, corner.side, x, y));
            if !apart_by_design || !touch(&corner.parts, a, b, &here) {
                continue;
            }
            if let (Some(a), Some(b)) = (was[a], was[b])
                && touch(&measured, a.min(b), a.max(b), &here)
            {
                let names = [x.name.clone(), y.name.clone()];
                corner.overlapped_before.push(names);
                continue;
            }
            // A pair of one body that an entry of `watch` names is counted already.
            if matches!(kind(fitted, 1.0, corner, x, y), Kind::OneBody) {
                corner.pair_count.one_body -= 1;
            } else {
                corner.pair_count.matched += 1;
            }
            corner.pair_count.overlapping += 1;
            corner.overlaps.push(Overlap {
                a: x.name.clone(),
                b: y.name.clone(),
                depth_mm: None,
                required_mm: 0.0,
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
    type NameOf = fn(&Part) -> &str;
    type Names = fn(&str, &str, Side, &Part, &Part) -> bool;
    let names_watched: Names = |a, b, _, x, y| matches(a, b, watched_name(x), watched_name(y));
    let matched = |names: Names, a: &str, b: &str, of_two_bodies: bool| {
        corners.iter().any(|c| {
            (0..c.parts.len()).any(|i| {
                (i + 1..c.parts.len()).any(|j| {
                    let (x, y) = (&c.parts[i], &c.parts[j]);
                    names(a, b, c.side, x, y) && (!of_two_bodies || x.body != y.body)
                })
            })
        })
    };
    let known = |name: NameOf| {
        let mut names: Vec<&str> = corners.iter().flat_map(|c| &c.parts).map(name).collect();
        names.sort_unstable();
        names.dedup();
        names.join(", ")
    };
    let names_of = |name: NameOf| {
        let parts = corners.iter().flat_map(|c| &c.parts);
        parts.map(name)
    };
    // Of the two, what matches nothing by itself is likely misspelt.
    let meant = |name: NameOf, pattern: &str| {
        let matcher = WildMatch::new(pattern);
        if names_of(name).any(|name| matcher.matches(name)) {
            return String::new();
        }
        match did_you_mean(pattern, names_of(name)) {
            none if none.is_empty() => format!("no part is named `{pattern}`; "),
            question => format!("`{pattern}`: {question}"),
        }
    };
    let lists: [(&str, NameOf, Names, Vec<_>); 2] = [
        (
            "watch",
            watched_name,
            names_watched,
            scene.watch.iter().map(|w| (&w.a, &w.b)).collect::<Vec<_>>(),
        ),
        (
            "joined",
            joined_name,
            names_joined,
            scene.joined.iter().map(|j| (&j.a, &j.b)).collect(),
        ),
    ];
    for (list, name, names, entries) in lists {
        for (i, (a, b)) in entries.iter().enumerate() {
            if !matched(names, a, b, false) {
                return Err(Problem::at(
                    format!("{list}[{i}]"),
                    format!("no pair of parts matches `{a}` and `{b}`"),
                    format!(
                        "{}{}the parts are: {}",
                        meant(name, a),
                        meant(name, b),
                        known(name)
                    ),
                ));
            }
            if !matched(names, a, b, true) {
                return Err(Problem::at(
                    format!("{list}[{i}]"),
                    format!("`{a}` and `{b}` are parts of one body"),
                    "parts of one body are one rigid assembly and never asked about each other: take this entry out, or put one of \
                     them on the body that it moves with",
                ));
            }
        }
    }
    Ok(())
}
