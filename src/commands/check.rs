//! `bindpoint check`: what a scene holds, and whether it can be swept.

use bindpoint::clearance::Part;
use bindpoint::findings::{Requirement, Status};
use bindpoint::limits::Limit;
use bindpoint::output::verdict_words;
use bindpoint::output::{Units, table, text_width, warnings_text, wrap};
use bindpoint::scene::{Scene, SceneError, read_scene};
use bindpoint::shapes::ElementKind;
use bindpoint::suspension::drawn_part;
use bindpoint::sweep::obligations_at;
use bindpoint::truck::{Corner, MeshStore, Truck, assemble_setup};
use miette::{Report, Result};
use std::fmt::Write as _;
use std::path::Path;

#[derive(Debug, clap::Args)]
#[command(after_help = AFTER)]
pub(super) struct Arguments {
    #[command(flatten)]
    scene: super::SceneArguments,
    /// Unit of printed lengths [default: the scene's].
    #[arg(long, value_enum)]
    units: Option<super::UnitsArgument>,
}

const AFTER: &str =
    "Exit status: 0 usable; 1 parts overlap, or a setup can't be built; 2 the scene can't be used.";

pub(super) fn run(arguments: &Arguments) -> Result<Status> {
    let path = &arguments.scene.scene;
    let (scene, text) = read_scene(path).map_err(Report::new)?;
    let meshes = MeshStore::new(path.parent().unwrap_or(Path::new(".")));
    let progress = super::progress::Progress::new("parts put together");
    let truck = assemble_setup(&scene, arguments.scene.setup.as_deref(), &meshes)
        .map(|truck| truck.located(&text))
        .map_err(|problem| Report::new(SceneError::from_problem(&problem, path, &text)))?;
    let units = super::units(arguments.units, truck.scene_unit);
    let overlaps: usize = truck
        .corners
        .iter()
        .map(|c| overlaps_as_measured(c).len())
        .sum();
    let mut text = page(&truck, units, overlaps);
    // Without a setup asked for, every setup of the scene is tried.
    let broken = match arguments.scene.setup {
        None => setups_that_fail(&scene, &meshes),
        Some(_) => Vec::new(),
    };
    progress.finish();
    if !broken.is_empty() {
        text.push_str("\nSetups that can't be built\n");
        for (name, why) in &broken {
            let _ = writeln!(
                text,
                "- {}",
                wrap(
                    &format!("{name}: {}", units.reworded(why)),
                    text_width() - 2,
                    "  "
                )
            );
        }
    }
    if arguments.scene.setup.is_none() {
        let past = setups_past_a_stop(&scene, &meshes, units);
        if !past.is_empty() {
            text.push_str("\nSetups that stand past a stop at ride height\n");
            for line in &past {
                let _ = writeln!(text, "- {}", wrap(line, text_width() - 2, "  "));
            }
        }
    }
    let idle = bindpoint::plausibility::needlessly_measured(&scene);
    if !idle.is_empty() {
        let note = format!(
            "`measured` names `{}`, of which nothing would be warned: it can be left out there.",
            idle.join("`, `")
        );
        let _ = writeln!(text, "\n{}", wrap(&note, text_width(), "  "));
    }
    super::print_warned(&truck, &[], units, &text)?;
    Ok(if overlaps == 0 && broken.is_empty() {
        Status::Clear
    } else {
        Status::Found
    })
}

/// Each setup that can be built and whose ride height, straight ahead, is past a limit: `sweep` says more.
fn setups_past_a_stop(scene: &Scene, meshes: &MeshStore, units: Units) -> Vec<String> {
    let mut out = Vec::new();
    for setup in &scene.setups {
        let Ok(truck) = assemble_setup(scene, Some(&setup.name), meshes) else {
            continue;
        };
        for corner in &truck.corners {
            let Ok(at) = corner.position(corner.ride_height_mm, 0.0) else {
                continue;
            };
            let past = |l: &&Limit| l.reading(&at.linkage).margin < 0.0;
            let names: Vec<String> = corner.limits.iter().filter(past).map(Limit::name).collect();
            if !names.is_empty() {
                out.push(format!(
                    "{}, {}: at its ride height, {} from the measured position, it is past {}",
                    setup.name,
                    corner.side.name(),
                    units.signed(corner.ride_height_mm),
                    names.join(", ")
                ));
            }
        }
    }
    out
}

/// Name of each setup that can't be built, and what is wrong with it.
fn setups_that_fail(scene: &Scene, meshes: &MeshStore) -> Vec<(String, String)> {
    scene
        .setups
        .iter()
        .filter_map(|setup| {
            let problem = assemble_setup(scene, Some(&setup.name), meshes).err()?;
            Some((
                setup.name.clone(),
                format!("{} ({})", problem.what, problem.help),
            ))
        })
        .collect()
}

fn page(truck: &Truck, units: Units, overlaps: usize) -> String {
    let mut out = String::new();
    let watched = truck
        .corners
        .iter()
        .any(|c| c.watches_something() || overlaps > 0);
    let verdict = match overlaps {
        0 if !watched => "usable, but no pair is watched".to_owned(),
        0 => "usable, nothing overlaps".to_owned(),
        1 => "1 pair overlaps and would not be swept".to_owned(),
        n => format!("{n} pairs overlap and would not be swept"),
    };
    let _ = writeln!(
        out,
        "{}: {verdict}. Scene in {}, lengths below in {}.",
        truck.name,
        Units::of_scene(truck.scene_unit).long_name(),
        units.long_name()
    );
    let mut first: Option<(&str, String)> = None;
    for corner in &truck.corners {
        corner_head(&mut out, corner, units);
        let body = corner_body(corner, units);
        match &first {
            Some((side, same)) if *same == body => {
                let _ = writeln!(out, "Limits, parts and pairs as on the {side} corner.");
            }
            _ => out.push_str(&body),
        }
        first.get_or_insert((corner.side.name(), body));
    }
    meshes(&mut out, truck, units);
    if !truck.setups.is_empty() {
        let text = format!("Setups: {}.", truck.setups.join("; "));
        let _ = writeln!(out, "\n{}", wrap(&text, text_width(), "  "));
    }
    // What is implausible stands above all else already.
    out.push_str(&warnings_text(truck.further_warnings(), units));
    out
}

/// What the scene's mesh files are, what was mended in them and what can't be known.
fn meshes(out: &mut String, truck: &Truck, units: Units) {
    if truck.meshes.is_empty() {
        return;
    }
    let (volume_name, volume_mm3) = match units {
        Units::Mm => ("volume, cm3", 1000.0),
        Units::Inch | Units::Sixteenths => ("volume, cu in", units.in_mm().powi(3)),
    };
    let mut t = table(&[
        ("mesh file", false),
        ("triangles", true),
        ("pieces", true),
        ("open edges", true),
        ("size", true),
        (volume_name, true),
    ]);
    for (file, report) in &truck.meshes {
        let volume = match report.volume_mm3 {
            Some(mm3) => format!("{:.1}", mm3 / volume_mm3),
            None => "unknown".to_owned(),
        };
        t.add_row([
            file.clone(),
            report.triangles.to_string(),
            report.pieces.to_string(),
            report.open_edges.to_string(),
            report.size_mm.map(|mm| units.length(mm)).join(" x "),
            volume,
        ]);
    }
    let _ = writeln!(out, "\n{}", t.trim_fmt());
    for (file, report) in &truck.meshes {
        for remark in report.remarks() {
            let text = format!("{file}: {remark}");
            let _ = writeln!(out, "- {}", wrap(&text, text_width() - 2, "  "));
        }
    }
    for (file, misses_mm) in &truck.hole_misses_mm {
        let each: Vec<String> = misses_mm.iter().map(|mm| units.at_least(*mm)).collect();
        let text = format!(
            "{file}: placed by its holes, which miss their places by {} {}",
            each.join(", "),
            units.name()
        );
        let _ = writeln!(out, "- {}", wrap(&text, text_width() - 2, "  "));
    }
}

fn corner_head(out: &mut String, corner: &Corner, units: Units) {
    let [right, left] = corner.rack_mm;
    let [droop, bump] = corner.search_mm;
    let head = format!(
        "{} corner: rack {} to {} (left +), ride height {} from the measured position (bump +), searched \
         to droop {} and bump {} from there. {} limits, {} parts, {} watched pairs that move; with {} at rest, {} left out by name, {} of one body and {} \
         that overlap they are the {} that `sweep` counts.",
        corner.side.name(),
        units.signed(right),
        units.signed(left),
        units.signed(corner.ride_height_mm),
        units.at_most(droop),
        units.at_most(bump),
        corner.limits.len(),
        corner.parts.len(),
        corner.pairs.len(),
        corner.pair_count.resting,
        corner.pair_count.joined,
        corner.pair_count.one_body,
        corner.pair_count.overlapping,
        corner.pair_count.matched,
    );
    let _ = writeln!(out, "\n{}", wrap(&head, text_width(), "  "));
}

fn corner_body(corner: &Corner, units: Units) -> String {
    let mut out = String::new();
    let limits: Vec<String> = corner.limits.iter().map(Limit::name).collect();
    let _ = writeln!(
        out,
        "{}",
        wrap(
            &format!("Limits: {}.", limits.join(", ")),
            text_width(),
            "  "
        )
    );

    let mut t = table(&[
        ("body", false),
        ("part", false),
        ("made of", false),
        ("watched against", true),
        ("notes", false),
    ]);
    let mut order: Vec<usize> = (0..corner.parts.len()).collect();
    order.sort_by_key(|i| corner.parts[*i].body);
    for i in order {
        let part = &corner.parts[i];
        // Of the slices of a spring or a boot the first, called as it is drawn, stands for all.
        let drawn = drawn_part(&part.name);
        if drawn != part.name && corner.parts.iter().any(|p| p.name == drawn) {
            continue;
        }
        let is_of_it = |p: &&Part| p.name == part.name || drawn_part(&p.name) == part.name;
        let slices: Vec<&Part> = corner.parts.iter().filter(is_of_it).collect();
        let count: usize = slices.iter().map(|p| p.surface.elements.len()).sum();
        let made_of = match part.surface.kind {
            ElementKind::Point => "ball".to_owned(),
            ElementKind::Segment => "round bar".to_owned(),
            ElementKind::Triangle if slices.len() > 1 => {
                format!("{count} triangles, {} slices", slices.len())
            }
            ElementKind::Triangle => format!("{count} triangles"),
        };
        let all = corner
            .pairs
            .iter()
            .chain(corner.resting.iter().map(|r| &r.pair));
        let watched = all.filter(|p| p.a == i || p.b == i).count();
        let mut notes = Vec::new();
        if part.revolved {
            notes.push(if part.body.rolls() {
                "may roll: checked as the space of every roll"
            } else {
                "turns: checked as the space it sweeps"
            });
        }
        if part.surface.kind == ElementKind::Triangle && !part.surface.closed {
            notes.push("open surface: its inside is unknown");
        }
        if watched == 0 {
            notes.push("watched against nothing");
        }
        t.add_row([
            part.body.name().to_owned(),
            part.name.clone(),
            made_of,
            watched.to_string(),
            notes.join("; "),
        ]);
    }
    let _ = writeln!(out, "\n{}", t.trim_fmt());
    if !corner.joined.is_empty() {
        out.push_str("\nLeft out by name\n");
        let pairs = corner
            .joined
            .iter()
            .map(|joined| [&*joined.a, &joined.b, &joined.why]);
        for text in verdict_words::by_reason(pairs) {
            let _ = writeln!(out, "- {}", wrap(&text, text_width() - 2, "  "));
        }
    }
    if !corner.roll_held.is_empty() {
        out.push_str("\nNot checked at other roll angles\n");
        for held in &corner.roll_held {
            let text = format!("{}, held by {}", held.name, held.why);
            let _ = writeln!(out, "- {}", wrap(&text, text_width() - 2, "  "));
        }
    }
    let measured = corner.positioner.place(0.0, 0.0).linkage;
    let mut across = obligations_at(corner, &measured);
    across.retain(|o| o.requirement == Requirement::OwnSide);
    for text in verdict_words::standing(&across, units, 0.0) {
        let text = format!("NOT CHECKED {text}");
        let _ = writeln!(out, "\n{}", wrap(&text, text_width(), "  "));
    }
    let overlaps = overlaps_as_measured(corner);
    if !overlaps.is_empty() {
        out.push_str("\nOverlap as measured\n");
        let mut entries = Vec::new();
        for (a, b, depth_mm) in overlaps {
            let depth = match depth_mm {
                Some(depth) => format!(", about {} deep", units.at_least_with_unit(depth)),
                None => String::new(),
            };
            let _ = writeln!(out, "- {a} - {b}{depth}");
            entries.push(format!("    (a: {a:?}, b: {b:?}, why: \"..\"),"));
        }
        let text = "What cuts into another part so is drawn wrong, or won't fit: mend it. Only a pair that is meant to touch, \
                    bolted or pressed together, is named in `joined` with the reason, and never checked then. The entries for \
                    those that are meant:";
        let _ = writeln!(out, "{}", wrap(text, text_width(), ""));
        for entry in entries {
            let _ = writeln!(out, "{entry}");
        }
    }
    out
}

/// Overlaps between parts as they were drawn: of a spring's or a boot's slices the deepest.
fn overlaps_as_measured(corner: &Corner) -> Vec<(&str, &str, Option<f64>)> {
    let name = |part: usize| corner.parts[part].name.as_str();
    let moving = corner.overlaps.iter();
    let moving = moving.map(|o| (o.a.as_str(), o.b.as_str(), o.depth_mm));
    let at_rest = corner.resting.iter().filter(|r| r.is_overlap);
    let at_rest = at_rest.map(|r| (name(r.pair.a), name(r.pair.b), r.depth_mm));
    let mut out: Vec<(&str, &str, Option<f64>)> = Vec::new();
    for (a, b, depth_mm) in moving.chain(at_rest) {
        let (a, b) = (drawn_part(a), drawn_part(b));
        let depth = |mm: Option<f64>| mm.unwrap_or(0.0);
        match out.iter_mut().find(|known| (known.0, known.1) == (a, b)) {
            Some(known) if depth(known.2) < depth(depth_mm) => known.2 = depth_mm,
            Some(_) => {}
            None => out.push((a, b, depth_mm)),
        }
    }
    out
}
