//! The questions that `peers.py` asks coal, FCL and MuJoCo too, answered here on one thread.
//!
//! ```text
//! cargo build --release --no-default-features --example peer_answers
//! ```
//!
//! * `positions SCENE COUNT OUT.csv`: every body's pose at positions all over the free travel, in the order of a sweep
//!   (back and forth along the rack), and how long COUNT positions take.
//! * `distances A B POSES.csv BODY OUT.csv`: least distances of two mesh files, the second moved by a body's poses.
//! * `map SCENE FOLDER`: the free-travel map, how long it takes, and what it is of: every watched pair with its gap, and
//!   the rectangle.
//! * `cover SCENE`: how many distance queries a search for a contact asks, against the fewest that prove as much.
//!
//! Each prints one line of JSON. Times leave out the start of the program and the reading of files.

use bindpoint::clearance::{PairWalk, Relative};
use bindpoint::findings::TravelDirection;
use bindpoint::output::stl::{PartTriangles, write_parts};
use bindpoint::shapes::{Shape, Surface, read_mesh};
use bindpoint::suspension::Motion;
use bindpoint::sweep::free_travel::Region;
use bindpoint::sweep::line::{Crossing, Line, TRAVEL_TOLERANCE_MM, first_crossing};
use bindpoint::sweep::rate_atlas::Atlas;
use bindpoint::sweep::stop_order::stops_on_line;
use bindpoint::sweep::stops::{Guard, Proof, StopKind, stop_name};
use bindpoint::truck::{Corner, load};
use nalgebra::{Matrix3, Vector3};
use serde_json::json;
use std::fmt::Write;
use std::hint::black_box;
use std::path::Path;
use std::sync::Arc;
use std::time::Instant;

const BODIES: [(&str, Motion); 7] = [
    ("frame", Motion::Frame),
    ("lower_arm", Motion::LowerArm),
    ("upper_arm", Motion::UpperArm),
    ("knuckle", Motion::Knuckle),
    ("tie_rod", Motion::TieRod),
    ("halfshaft", Motion::Halfshaft),
    ("damper_lower", Motion::DamperLower),
];

type Failure = Box<dyn std::error::Error + Send + Sync>;

fn main() -> Result<(), Failure> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    // Everything below runs on this thread and one worker that it waits for.
    let one = rayon::ThreadPoolBuilder::new().num_threads(1).build()?;
    let answer = one.install(|| match words.as_slice() {
        ["positions", scene, count, out] => positions(scene, count.parse()?, out),
        ["distances", a, b, poses, body, out] => distances([a, b], poses, body, out),
        ["map", scene, folder] => map(scene, folder),
        ["cover", scene] => cover(scene),
        _ => Err("see the head of answers.rs".into()),
    })?;
    println!("{answer}");
    Ok(())
}

fn corner(scene: &str) -> Result<Corner, Failure> {
    let truck = load(Path::new(scene))?;
    truck.corners.into_iter().next().ok_or("no corner".into())
}

/// Arm angle and rack of `count` free positions, evenly over the free travel, back and forth along the rack.
fn spread(region: &Region, [alpha, rack]: [[f64; 2]; 2], count: usize) -> Vec<(f64, f64)> {
    // Of a grid fine enough; every so manyth free place of it.
    let side = (4.0 * count as f64).sqrt().ceil() as usize;
    let at = |[from, to]: [f64; 2], i: usize| from + (to - from) * (i as f64 + 0.5) / side as f64;
    let mut free = Vec::new();
    for i in 0..side {
        for j in 0..side {
            let j = if i % 2 == 0 { j } else { side - 1 - j };
            let place = (at(alpha, i), at(rack, j));
            if region.is_free_at(place.0, place.1) {
                free.push(place);
            }
        }
    }
    let step = free.len() as f64 / count as f64;
    (0..count)
        .filter_map(|i| free.get((i as f64 * step) as usize).copied())
        .collect()
}

fn positions(scene: &str, count: usize, out: &str) -> Result<serde_json::Value, Failure> {
    let corner = corner(scene)?;
    let atlas = Atlas::build(&corner);
    let guard = Guard::new(&corner, &atlas, 1.0);
    let region = Region::map(&guard);
    let places = spread(&region, [atlas.domain.alpha, atlas.domain.rack], count);
    let mut text = "body,travel_mm,rack_mm,r11,r12,r13,r21,r22,r23,r31,r32,r33,x,y,z\n".to_owned();
    let mut travels = Vec::new();
    for (alpha, rack) in &places {
        let position = corner.positioner.place(*alpha, *rack);
        travels.push((position.travel_mm, *rack));
        for (name, motion) in BODIES {
            let place = position.linkage.placement(motion);
            let r = place.rotation;
            let p = place.anchor - r * place.anchor_in_body;
            write!(text, "{name},{:.17e},{rack:.17e}", position.travel_mm)?;
            for value in r.transpose().iter().chain(p.iter()) {
                write!(text, ",{value:.17e}")?;
            }
            text.push('\n');
        }
    }
    std::fs::write(out, text)?;
    let started = Instant::now();
    for (travel_mm, rack_mm) in &travels {
        black_box(corner.position(*travel_mm, *rack_mm).is_ok());
    }
    let seconds = started.elapsed().as_secs_f64();
    Ok(json!({ "positions": travels.len(), "seconds": seconds }))
}

fn surface(file: &str) -> Result<Surface, Failure> {
    let mesh = read_mesh(Path::new(file), Some(1.0))?;
    let shape = Shape::Mesh {
        vertices: Arc::new(mesh.vertices),
        triangles: Arc::new(mesh.triangles),
    };
    Ok(shape.surface(None)?)
}

fn distances(
    meshes: [&str; 2],
    poses: &str,
    body: &str,
    out: &str,
) -> Result<serde_json::Value, Failure> {
    let [fixed, moving] = [surface(meshes[0])?, surface(meshes[1])?];
    let mut relatives = Vec::new();
    for row in csv::Reader::from_path(poses)?.records() {
        let row = row?;
        if &row[0] != body {
            continue;
        }
        let number = |i: usize| row[i].parse::<f64>();
        let mut values = [0.0; 12];
        for (i, value) in values.iter_mut().enumerate() {
            *value = number(3 + i)?;
        }
        let rotation = Matrix3::from_row_slice(&values[..9]);
        let offset = Vector3::from_row_slice(&values[9..]);
        // Both meshes' own frames in vehicle coordinates at rest.
        relatives.push(Relative {
            rotation: fixed.rotation.tr_mul(&(rotation * moving.rotation)),
            offset: fixed
                .rotation
                .tr_mul(&(rotation * moving.origin + offset - fixed.origin)),
        });
    }
    let walk = PairWalk {
        fixed: &fixed,
        moving: &moving,
    };
    let ask = |warm: bool| {
        let mut last = None;
        let mut gaps = Vec::with_capacity(relatives.len());
        let started = Instant::now();
        for relative in &relatives {
            let gap = walk.gap(relative, 0.0, f64::INFINITY, last);
            last = warm.then_some(gap.elements);
            gaps.push(gap.core_mm);
        }
        (started.elapsed().as_secs_f64(), gaps)
    };
    let (cold, _) = ask(false);
    let (warm, gaps) = ask(true);
    let lines: Vec<String> = gaps.iter().map(|g| format!("{g:.17e}")).collect();
    std::fs::write(out, lines.join("\n") + "\n")?;
    Ok(json!({
        "queries": gaps.len(), "seconds": warm, "seconds_without_warm_start": cold,
        "triangles": [fixed.elements.len(), moving.elements.len()],
    }))
}

fn map(scene: &str, folder: &str) -> Result<serde_json::Value, Failure> {
    let corner = corner(scene)?;
    let started = Instant::now();
    let atlas = Atlas::build(&corner);
    let guard = Guard::new(&corner, &atlas, 1.0);
    let region = Region::map(&guard);
    let seconds = started.elapsed().as_secs_f64();
    let found = region.findings(&corner, false);
    let parts: Vec<PartTriangles> = corner
        .parts
        .iter()
        .map(|part| PartTriangles {
            name: part.name.clone(),
            triangles: part.surface.triangles_in_body(),
        })
        .collect();
    let files =
        write_parts(Path::new(folder), &parts).map_err(|(path, e)| format!("{path:?}: {e}"))?;
    let body = |i: usize| {
        let motion = corner.parts[i].body.motion();
        BODIES.iter().find(|b| b.1 == motion).map(|b| b.0)
    };
    let pairs: Vec<_> = corner
        .pairs
        .iter()
        .filter_map(|pair| {
            Some(json!({
                "a": files[pair.a], "b": files[pair.b], "on_a": body(pair.a)?, "on_b": body(pair.b)?,
                "required_mm": pair.required_mm,
            }))
        })
        .collect();
    let travel = |alpha: f64| corner.positioner.place(alpha, 0.0).travel_mm;
    Ok(json!({
        "seconds": seconds, "pairs": pairs, "distance_queries": guard.distance_queries(),
        "travel_mm": atlas.domain.alpha.map(travel), "rack_mm": atlas.domain.rack,
        "free_share": found.shares.free, "undecided_share": found.shares.undecided,
    }))
}

/// The fewest cells with which the same proof shows that a contact keeps clear from `start` to `end`: each as long as it
/// can be proved, one after another, which is the least number since a part of a proved cell is proved too.
fn fewest(guard: &Guard, line: Line, stop: StopKind, start: f64, end: f64) -> Option<u64> {
    // The measured position bounds what rates are known over.
    if start * end < 0.0 {
        let parts = [(start, 0.0), (0.0, end)];
        let counts = parts.map(|(from, to)| fewest(guard, line, stop, from, to));
        return Some(counts[0]? + counts[1]?);
    }
    let is_free = |near: f64, far: f64| {
        let cell = line.cell(near, far);
        let root = guard.atlas.quarter(&cell);
        let (_, proof) = guard.on_cell(root, &cell, |state| guard.prove(stop, state, None));
        proof == Some(Proof::Free)
    };
    let mut cells = 0;
    let mut near = start;
    while near != end {
        cells += 1;
        if cells > 10_000 {
            return None;
        }
        if is_free(near, end) {
            break;
        }
        // Longest that is proved, to a thousandth of its length.
        let (mut good, mut bad) = (near, end);
        while (bad - good).abs() > 1.0e-3 * (bad - near).abs() {
            let middle = 0.5 * (good + bad);
            if middle == good || middle == bad {
                break;
            }
            if is_free(near, middle) {
                good = middle;
            } else {
                bad = middle;
            }
        }
        if good == near {
            return None;
        }
        near = good;
    }
    Some(cells)
}

fn cover(scene: &str) -> Result<serde_json::Value, Failure> {
    let corner = corner(scene)?;
    let atlas = Atlas::build(&corner);
    let guard = Guard::new(&corner, &atlas, 1.0);
    let (mut asked, mut least, mut searches) = (0, 0, 0);
    let mut ratios = Vec::new();
    for step in 0..=8 {
        let [from, to] = atlas.domain.rack;
        let rack_mm = from + (to - from) * f64::from(step) / 8.0;
        let line = Line::AlongTravel { rack_mm };
        for direction in TravelDirection::BOTH {
            let found = stops_on_line(&guard, rack_mm, direction);
            for pair in 0..corner.pairs.len() {
                let stop = StopKind::Contact(pair);
                let before = guard.distance_queries();
                let crossing = first_crossing(&guard, line, stop, found.start, found.searched_to);
                let queries = guard.distance_queries() - before;
                let free_to = match crossing {
                    Crossing::Clear => found.searched_to,
                    Crossing::Stopped { free_to, .. } | Crossing::Undecided { free_to } => free_to,
                };
                if free_to == found.start || queries == 0 {
                    continue;
                }
                let Some(cells) = fewest(&guard, line, stop, found.start, free_to) else {
                    continue;
                };
                searches += 1;
                asked += queries;
                least += cells;
                ratios.push((queries as f64 / cells as f64, stop_name(&corner, stop)));
            }
        }
    }
    ratios.sort_by(|a, b| a.0.total_cmp(&b.0));
    let median = ratios.get(ratios.len() / 2).map(|r| r.0);
    let worst: Vec<_> = ratios.iter().rev().take(3).collect();
    Ok(json!({
        "searches": searches, "queries": asked, "fewest": least,
        "ratio": asked as f64 / least as f64, "median_ratio": median, "worst": worst,
        "tolerance_mm": TRAVEL_TOLERANCE_MM,
    }))
}
