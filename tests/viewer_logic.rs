//! What the window does, without a window: moving, playing, stepping, switching off, editing, saving,
//! reloading, choosing a setup and comparing it, driving over an obstacle. Bevy's minimal plugins run the same systems that the window
//! runs.
//!
//! Expected figures come from the library calls that the command line prints; the outline is checked against
//! the map's own area by the shoelace formula (C. F. Gauss's area formula, any handbook of geometry).
#![cfg(feature = "viewer")]

use bevy::prelude::*;
use bindpoint::findings::{MapState, TravelDirection};
use bindpoint::output::Units;
use bindpoint::shapes::SAME_PLACE_MM;
use bindpoint::space::{PlayPath, play_path};
use bindpoint::sweep::rate_atlas::Atlas;
use bindpoint::sweep::stops::Guard;
use bindpoint::sweep::{
    SweepOptions, along_travel, free_map, position_findings, remaining_gap, stops_at, sweep_corner,
};
use bindpoint::truck::Truck;
use bindpoint::viewer::background::{BackgroundPlugin, Found, SwitchedOff};
use bindpoint::viewer::controls::{play_or_pause, step_to_stop};
use bindpoint::viewer::document::{Document, SaveError};
use bindpoint::viewer::drive::{Drive, DrivePlugin, Subject};
use bindpoint::viewer::drive_worker::DriveWorkerPlugin;
use bindpoint::viewer::ghost::{Ghost, GhostOf, GhostPlace, GhostPlugin};
use bindpoint::viewer::motion::{Motion, MotionPlugin};
use bindpoint::viewer::palette::GapState;
use bindpoint::viewer::travel_map::{Span, edge_runs};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

fn scene(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("scenes")
        .join(format!("{name}.ron"))
}

fn load(name: &str) -> Truck {
    bindpoint::truck::load(&scene(name)).expect("a demo scene loads")
}

/// A scene in a folder of its own, so that it may be changed.
fn own_copy(name: &str) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("scene.ron");
    // Meshes stay where they are.
    let assets = format!("\"{}/assets/", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(scene(name)).expect("a demo scene");
    std::fs::write(&path, text.replace("\"../assets/", &assets)).expect("written");
    (folder, path)
}

fn app(path: &Path) -> App {
    let document = Document::open(path).expect("the scene opens");
    let mut app = App::new();
    app.add_plugins(MinimalPlugins)
        .insert_resource(Motion::new(document.corner()))
        .insert_resource(document)
        .add_plugins((MotionPlugin, GhostPlugin, BackgroundPlugin));
    app
}

/// Runs frames until something holds. Generous: these machines are shared.
fn run_until(app: &mut App, what: &str, holds: impl Fn(&World) -> bool) {
    let end = Instant::now() + Duration::from_secs(120);
    while !holds(app.world()) {
        assert!(Instant::now() < end, "waited too long for {what}");
        app.update();
        std::thread::sleep(Duration::from_millis(2));
    }
}

fn has_map(world: &World) -> bool {
    let found = world.resource::<Found>();
    found.map.is_some() && found.stops.is_some() && found.position.is_some()
}

#[test]
fn what_the_window_shows_is_what_the_command_line_finds() {
    let truck = load("crake");
    let corner = &truck.corners[0];
    let mut app = app(&scene("crake"));
    run_until(&mut app, "the sweep", |w| {
        w.resource::<Found>().sweep.is_some() && has_map(w)
    });
    let found = app.world().resource::<Found>();
    let swept = sweep_corner(corner, &SweepOptions::default(), &|_, _| ());
    assert_eq!(found.sweep.as_deref(), Some(&swept));
    let atlas = Atlas::build(corner);
    let guard = Guard::new(corner, &atlas, 1.0);
    assert_eq!(found.map.as_deref(), Some(&free_map(&guard)));
    assert_eq!(found.stops.as_ref(), Some(&stops_at(&guard, 0.0)));
    let position = corner.position(0.0, 0.0).expect("the measured position");
    assert_eq!(
        found.position.as_ref(),
        Some(&position_findings(&truck, corner, &position))
    );
}

#[test]
fn gaps_and_stops_follow_to_a_new_position() {
    let truck = load("crake");
    let corner = &truck.corners[0];
    let mut app = app(&scene("crake"));
    run_until(&mut app, "the map", has_map);
    let (travel, rack) = (-31.5, 17.25);
    app.world_mut()
        .resource_scope(|world, mut motion: Mut<Motion>| {
            motion.go_to(world.resource::<Document>().corner(), travel, rack);
        });
    run_until(&mut app, "the new position", |w| {
        let found = w.resource::<Found>();
        found.position.as_ref().is_some_and(|p| p.rack_mm == rack)
            && found.stops.as_ref().is_some_and(|s| s[0].rack_mm == rack)
            && found.curves.as_ref().is_some_and(|c| c.0 == rack)
    });
    let found = app.world().resource::<Found>();
    let position = corner.position(travel, rack).expect("reached");
    assert_eq!(
        found.position.as_ref(),
        Some(&position_findings(&truck, corner, &position))
    );
    let atlas = Atlas::build(corner);
    let guard = Guard::new(corner, &atlas, 1.0);
    assert_eq!(found.stops.as_ref(), Some(&stops_at(&guard, rack)));
}

#[test]
fn stepping_goes_from_stop_to_stop_as_the_sweep_orders_them() {
    let mut app = app(&scene("tarnwood"));
    run_until(&mut app, "the map", has_map);
    let orders = app
        .world()
        .resource::<Found>()
        .stops
        .clone()
        .expect("stops");
    let step = |app: &mut App, direction| {
        app.world_mut()
            .resource_scope(|world, mut motion: Mut<Motion>| {
                let (document, found) = (world.resource::<Document>(), world.resource::<Found>());
                step_to_stop(&mut motion, document, found, direction);
            });
        app.world().resource::<Motion>().travel_mm()
    };
    let mut expected: Vec<f64> = orders[0].stops.iter().map(|s| s.travel_mm).collect();
    expected.dedup_by(|a, b| (*a - *b).abs() < 0.02);
    assert!(expected.len() >= 3, "tarnwood has stops to step through");
    for travel in &expected[..3] {
        let reached = step(&mut app, TravelDirection::Droop);
        assert!((reached - travel).abs() < 0.02, "{reached} for {travel}");
    }
    let back = step(&mut app, TravelDirection::Bump);
    assert!((back - expected[1]).abs() < 0.02);
}

#[test]
fn a_stop_switched_off_shows_the_next() {
    let mut app = app(&scene("tarnwood"));
    run_until(&mut app, "the map", has_map);
    let (first, second, free_before) = {
        let found = app.world().resource::<Found>();
        let stops = &found.stops.as_ref().expect("stops")[0].stops;
        let blocking: Vec<_> = stops.iter().filter(|s| s.blocks).collect();
        let free = found.map.as_ref().expect("a map").shares.free;
        (blocking[0].clone(), blocking[1].clone(), free)
    };
    assert_eq!(first.stop.name(), "damper extended");
    app.world_mut().resource_mut::<SwitchedOff>().0.insert(
        first.stop.clone(),
        (TravelDirection::Droop, first.travel_mm),
    );
    run_until(&mut app, "the map without the damper", |w| {
        let found = w.resource::<Found>();
        found
            .map
            .as_ref()
            .is_some_and(|m| m.shares.free > free_before)
    });
    let found = app.world().resource::<Found>();
    let now = &found.stops.as_ref().expect("stops")[0].stops;
    assert!(now.iter().all(|s| s.stop != first.stop));
    let next = now.iter().find(|s| s.blocks).expect("another stop");
    assert_eq!(next.stop, second.stop);
    assert_eq!(next.travel_interval_mm, second.travel_interval_mm);
}

#[test]
fn play_stays_within_the_free_travel_and_comes_round() {
    for name in ["crake", "hollin"] {
        let truck = load(name);
        let corner = &truck.corners[0];
        let atlas = Atlas::build(corner);
        let guard = Guard::new(corner, &atlas, 1.0);
        let map = free_map(&guard);
        for path in PlayPath::ALL {
            let corners = path.corners(corner, &map);
            assert!(corners.len() >= 2, "{name}: {}", path.name());
            let mut motion = Motion::new(corner);
            motion.repeat = false;
            motion.speed_mm_s = 100.0;
            motion.start(path, corners.clone());
            let seconds = play_path::length_mm(&corners) / motion.speed_mm_s;
            let joined_at = motion.play.as_ref().map_or(0.0, |play| play.at_mm);
            let mut steps = 0;
            while motion.play.is_some() {
                motion.tick(corner, 0.05);
                steps += 1;
                assert!(steps < 10_000, "{name}: {} never ends", path.name());
                assert!(motion.unreached().is_none(), "{name}: {}", path.name());
                // Nothing that blocks is violated: the path runs along proved cells.
                let linkage = &motion.position().linkage;
                for limit in &corner.limits {
                    let reading = limit.reading(linkage);
                    assert!(
                        reading.margin > -1.0e-6,
                        "{name}, {}: {} by {} at {} / {}",
                        path.name(),
                        limit.name(),
                        reading.margin,
                        motion.travel_mm(),
                        motion.rack_mm()
                    );
                }
                // Nor does anything touch.
                for pair in &corner.pairs {
                    let gap = corner.gap(pair, linkage, None).gap_mm;
                    assert!(gap > 0.0, "{name}: {} touches", corner.pair_name(pair));
                }
            }
            // A path that returns is played twice, one that goes round once, from where it was joined.
            let rounds = if path == PlayPath::AroundTheLimit {
                1.0
            } else {
                2.0
            };
            let expected = rounds * seconds / 0.05 - joined_at / (motion.speed_mm_s * 0.05);
            assert!(
                (f64::from(steps) - expected).abs() <= 3.0,
                "{name}, {}: {steps} steps, not {expected}",
                path.name()
            );
        }
    }
}

#[test]
fn play_reaches_the_full_droop_that_the_sweep_states() {
    let truck = load("hollin");
    let corner = &truck.corners[0];
    let swept = sweep_corner(
        corner,
        &SweepOptions {
            rack_positions: 3,
            with_map_cells: true,
            ..SweepOptions::default()
        },
        &|_, _| (),
    );
    for free in &swept.free_travel {
        let [droop, bump] =
            play_path::free_travel_at(&swept.map, free.rack_mm).expect("free at both locks");
        // The outline runs along cells that are proved free. It is short of the stop by thin cells, at most
        // two in travel and, where the edge slopes, two in rack.
        let cell = 2.0 * (swept.map.cell_mm[0] + swept.map.cell_mm[1]);
        assert!(-droop <= free.droop_mm + 1.0e-6 && -droop >= free.droop_mm - cell);
        assert!(bump <= free.bump_mm + 1.0e-6 && bump >= free.bump_mm - cell);
    }
    // Steered left is left, on whichever side of the axle the tie rod is.
    let left = PlayPath::DroopLeftLock.corners(corner, &swept.map);
    let position = corner.position(0.0, left[0][0]).expect("reached");
    assert!(position_findings(&truck, corner, &position).steer_deg > 5.0);
}

#[test]
fn the_outline_encloses_the_free_area_and_names_what_bounds_it() {
    for name in ["crake", "tarnwood", "hollin"] {
        let truck = load(name);
        for corner in &truck.corners {
            let atlas = Atlas::build(corner);
            let guard = Guard::new(corner, &atlas, 1.0);
            let map = free_map(&guard);
            // In arm angle and rack cells are true rectangles; so is the outline made of their sides.
            let area: f64 = map
                .cells
                .iter()
                .filter(|c| c.state == MapState::Free)
                .map(|c| (c.rack_mm[1] - c.rack_mm[0]) * (c.travel_mm[1] - c.travel_mm[0]))
                .sum();
            let n = map.outline.len();
            assert!(n >= 4);
            let enclosed: f64 = (0..n)
                .map(|i| {
                    let (a, b) = (&map.outline[i], &map.outline[(i + 1) % n]);
                    0.5 * (a.rack_mm * b.travel_mm - b.rack_mm * a.travel_mm)
                })
                .sum();
            // Cells measure their height at their middle rack: second order in their width.
            assert!(
                (enclosed - area).abs() < 2.0e-3 * area,
                "{name} {}: outline {enclosed}, cells {area}",
                corner.side.name()
            );
            let edge: Vec<String> = map.edge.iter().map(|e| e.stop.name()).collect();
            for run in edge_runs(corner, &map) {
                assert!(
                    edge.contains(&run.name)
                        || ["rack lock", "end of the search"].contains(&run.name.as_str()),
                    "{name}: {} is on the outline alone",
                    run.name
                );
            }
        }
    }
}

#[test]
fn colours_and_curves_hold_the_figures_that_pose_prints() {
    let truck = load("crake");
    let corner = &truck.corners[0];
    let atlas = Atlas::build(corner);
    let guard = Guard::new(corner, &atlas, 1.0);
    let map = free_map(&guard);
    let gaps = remaining_gap(corner, &map, [9, 11]);
    let least = |travel: f64, rack: f64| {
        let position = corner.position(travel, rack).expect("reached");
        let found = position_findings(&truck, corner, &position);
        found
            .gaps
            .iter()
            .map(|g| g.gap_mm)
            .fold(f64::INFINITY, f64::min)
    };
    let mut seen = 0;
    for (i, travel) in gaps.travel_mm.iter().enumerate() {
        for (j, rack) in gaps.rack_mm.iter().enumerate() {
            if let Some(gap) = gaps.gap_mm[i * gaps.rack_mm.len() + j] {
                assert!((gap - least(*travel, *rack)).abs() < 1.0e-9);
                seen += 1;
            }
        }
    }
    assert!(seen > 50, "most samples are free");
    let rows = along_travel(corner, 12.0, [-50.0, 40.0], 19);
    assert_eq!(rows.len(), 19);
    for row in rows {
        let position = corner.position(row.travel_mm, 12.0).expect("reached");
        let found = position_findings(&truck, corner, &position);
        assert_eq!(row.camber_deg, found.camber_deg);
        assert_eq!(row.toe_deg, found.toe_deg);
        assert_eq!(row.caster_deg, found.caster_deg);
        assert_eq!(row.plunge_mm, found.plunge_mm);
        assert_eq!(row.damper_mm, found.damper_mm);
        assert!((row.inner_joint_deg - found.inner_joint_deg).abs() < 1.0e-12);
        assert!((row.outer_joint_deg - found.outer_joint_deg).abs() < 1.0e-12);
        let gap = row.least_gap_mm.expect("pairs are watched");
        assert!((gap - least(row.travel_mm, 12.0)).abs() < 1.0e-9);
    }
}

#[test]
fn the_map_follows_an_edit_and_undo_brings_it_back() {
    let (_folder, path) = own_copy("crake");
    let mut app = app(&path);
    run_until(&mut app, "the map", has_map);
    let map = |app: &App| app.world().resource::<Found>().map.clone().expect("a map");
    let before = map(&app);
    let text = app.world().resource::<Document>().text().to_owned();
    // A joint that takes less angle steers less.
    app.world_mut()
        .resource_mut::<Document>()
        .change_number("halfshaft.outer_limit_deg", 20.0);
    run_until(&mut app, "the map of the lesser joint", |w| {
        let now = w.resource::<Found>().map.clone();
        now.is_some_and(|m| m.shares.free < 0.9 * before.shares.free)
    });
    assert!(app.world().resource::<Document>().is_unsaved());
    app.world_mut().resource_mut::<Document>().undo();
    assert_eq!(app.world().resource::<Document>().text(), text);
    run_until(&mut app, "the first map again", |w| {
        w.resource::<Found>().map.as_deref() == Some(&*before)
    });
    app.world_mut().resource_mut::<Document>().redo();
    assert_ne!(app.world().resource::<Document>().text(), text);
}

#[test]
fn a_drag_is_one_step_of_undo() {
    let (_folder, path) = own_copy("crake");
    let mut document = Document::open(&path).expect("opens");
    let start = document.text().to_owned();
    for step in 1..=5 {
        document.change_number("damper.extended", 17.0 + 0.01 * f64::from(step));
    }
    document.end_change();
    document.change_number("damper.extended", 17.2);
    document.undo();
    assert!(document.text().contains("extended: 17.05"));
    document.undo();
    assert_eq!(document.text(), start);
    assert_eq!(document.can_undo_redo(), [false, true]);
}

#[test]
fn a_mistake_shows_its_message_and_keeps_the_last_good_truck() {
    let (_folder, path) = own_copy("crake");
    let mut document = Document::open(&path).expect("opens");
    let (good, generation) = (document.truck().clone(), document.generation());
    let text = std::fs::read_to_string(&path).expect("read");
    std::fs::write(&path, text.replace("lower_arm: (", "lower_arm: ((")).expect("written");
    assert!(document.reload(), "something is new");
    let problem = document.problem().expect("a message");
    assert!(problem.starts_with("line "), "{problem}");
    assert!(std::sync::Arc::ptr_eq(&good, document.truck()));
    assert_eq!(document.generation(), generation);
    // Put right in the editor, all is well again.
    std::fs::write(&path, &text).expect("written");
    assert!(document.reload());
    assert_eq!(document.problem(), None);
    // A value that makes no suspension is told the same way.
    document.change_number("halfshaft.diameter", -1.0);
    assert!(
        document
            .problem()
            .is_some_and(|p| p.contains("halfshaft.diameter"))
    );
    document.undo();
    assert_eq!(document.problem(), None);
}

#[test]
fn the_file_changed_elsewhere_is_taken_and_can_be_taken_back() {
    let (_folder, path) = own_copy("crake");
    let mut document = Document::open(&path).expect("opens");
    let text = std::fs::read_to_string(&path).expect("read");
    assert!(!document.reload(), "nothing is new yet");
    let changed = text.replace("diameter: ", "diameter: 1");
    assert_ne!(changed, text);
    std::fs::write(&path, &changed).expect("written");
    assert!(document.reload());
    assert_eq!(document.text(), changed);
    assert!(!document.is_unsaved());
    document.undo();
    assert_eq!(document.text(), text);
    assert!(document.is_unsaved());
}

#[test]
fn saving_never_overwrites_unasked_and_keeps_comments() {
    let (folder, path) = own_copy("crake");
    let original = std::fs::read_to_string(&path).expect("read");
    let mut document = Document::open(&path).expect("opens");
    document.change_number("damper.extended", 17.125);
    assert!(matches!(
        document.save_as(&path, false),
        Err(SaveError::Exists(_))
    ));
    assert_eq!(std::fs::read_to_string(&path).expect("read"), original);
    let new = folder.path().join("longer");
    document.save_as(&new, false).expect("saved");
    let saved = std::fs::read_to_string(folder.path().join("longer.ron")).expect("read");
    let differing: Vec<_> = original
        .lines()
        .zip(saved.lines())
        .filter(|(a, b)| a != b)
        .collect();
    assert_eq!(differing.len(), 1, "{differing:?}");
    assert!(differing[0].1.contains("17.125"));
    assert!(!document.is_unsaved());
    assert_eq!(document.file_name(), "longer.ron");
    document.save_as(&path, true).expect("replaced when asked");
    assert_eq!(std::fs::read_to_string(&path).expect("read"), saved);
    let gone = folder.path().join("no such folder").join("x.ron");
    assert!(matches!(
        document.save_as(&gone, false),
        Err(SaveError::System { .. })
    ));
}

#[test]
fn a_scene_is_not_saved_where_its_meshes_would_be_lost() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut document = Document::open(&scene("tarnwood")).expect("opens");
    let error = document.save_as(&folder.path().join("moved.ron"), false);
    assert!(matches!(error, Err(SaveError::Unusable(_))), "{error:?}");
    assert_eq!(std::fs::read_dir(folder.path()).expect("listed").count(), 0);
}

#[test]
fn the_end_of_reach_is_said_and_the_picture_stays_whole() {
    let truck = load("crake");
    let corner = &truck.corners[0];
    let mut motion = Motion::new(corner);
    motion.go_to(corner, -900.0, 0.0);
    let error = *motion.unreached().expect("nothing droops so far");
    assert!((motion.travel_mm() - error.reached_mm).abs() < 0.01);
    assert!(motion.position().linkage.out_of_reach().is_none());
    motion.go_to(corner, 0.0, 1.0e6);
    assert_eq!(motion.rack_mm(), corner.rack_mm[1], "held at the lock");
    assert!(motion.unreached().is_none());
}

#[test]
fn play_pauses_and_goes_on() {
    let mut app = app(&scene("crake"));
    run_until(&mut app, "the map", has_map);
    let toggle = |app: &mut App| {
        app.world_mut()
            .resource_scope(|world, mut motion: Mut<Motion>| {
                let (document, found) = (world.resource::<Document>(), world.resource::<Found>());
                play_or_pause(&mut motion, document, found);
            });
    };
    toggle(&mut app);
    let start = app.world().resource::<Motion>().travel_mm();
    run_until(&mut app, "motion", |w| {
        let motion = w.resource::<Motion>();
        motion.rack_mm() != 0.0 && motion.travel_mm() != start
    });
    toggle(&mut app);
    let held = app.world().resource::<Motion>().travel_mm();
    for _ in 0..5 {
        app.update();
    }
    assert_eq!(app.world().resource::<Motion>().travel_mm(), held);
}

#[test]
fn states_are_told_apart_by_lightness_too() {
    // Relative luminance and contrast ratio as the Web Content Accessibility Guidelines 2.2 define them;
    // 1.4 is our own floor between neighbours, for colours that are told apart by hue besides.
    let luminance = |rgb: [u8; 3]| {
        let [r, g, b] = rgb.map(|c| {
            let c = f64::from(c) / 255.0;
            if c <= 0.04045 {
                c / 12.92
            } else {
                ((c + 0.055) / 1.055).powf(2.4)
            }
        });
        0.2126 * r + 0.7152 * g + 0.0722 * b
    };
    let contrast = |a: GapState, b: GapState| {
        let (a, b) = (luminance(a.rgb()), luminance(b.rgb()));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    };
    assert!(contrast(GapState::Clear, GapState::UnderGap) > 2.0);
    assert!(contrast(GapState::UnderGap, GapState::Touching) > 2.0);
    assert_ne!(GapState::Clear.rgb(), GapState::Touching.rgb());
}

#[test]
fn the_map_picture_covers_what_its_cells_cover() {
    let truck = load("hollin");
    let corner = &truck.corners[0];
    let atlas = Atlas::build(corner);
    let map = free_map(&Guard::new(corner, &atlas, 1.0));
    let span = Span::of(&map);
    assert_eq!(span.rack_mm, corner.rack_mm);
    let picture = bindpoint::viewer::travel_map::image(&map, None, span, 1.0);
    let [width, height] = picture.size;
    let plain = bevy_egui_free(&picture, width, height);
    // Pixels of free cells against the map's own share: a pixel is cut by at most its own border.
    assert!(
        (plain - map.shares.free).abs() < 0.04,
        "{plain} of the picture is free, {} of the map",
        map.shares.free
    );
}

/// Share of the picture in the colours of free cells (plain, hatched, or the line between).
fn bevy_egui_free(picture: &bevy_egui::egui::ColorImage, width: usize, height: usize) -> f64 {
    let [r, g, b] = bindpoint::viewer::palette::GAP_LINE;
    let free = picture
        .pixels
        .iter()
        .filter(|p| {
            let rgb = [p.r(), p.g(), p.b()];
            rgb == [196, 205, 214] || rgb == [r, g, b]
        })
        .count();
    free as f64 / (width * height) as f64
}

fn load_setup(name: &str, setup: &str) -> Truck {
    bindpoint::truck::load_setup(&scene(name), Some(setup)).expect("the setup can be built")
}

fn map_of(truck: &Truck) -> bindpoint::findings::FreeMap {
    let corner = &truck.corners[0];
    let atlas = Atlas::build(corner);
    free_map(&Guard::new(corner, &atlas, 1.0))
}

#[test]
fn choosing_a_setup_changes_truck_and_map_and_leaves_the_wheel_where_it_is() {
    let mut app = app(&scene("tarnwood"));
    run_until(&mut app, "the map", has_map);
    let measured = app.world().resource::<Found>().map.clone().expect("a map");
    let (travel, rack) = (-31.5, 17.25);
    app.world_mut()
        .resource_scope(|world, mut motion: Mut<Motion>| {
            motion.go_to(world.resource::<Document>().corner(), travel, rack);
        });
    app.world_mut()
        .resource_mut::<Document>()
        .choose_setup(Some("long damper, lift arm"));
    run_until(&mut app, "the setup's truck and its map", |w| {
        let document = w.resource::<Document>();
        let found = w.resource::<Found>();
        document.truck().setup.as_deref() == Some("long damper, lift arm")
            && !found.outdated
            && found.map.as_deref() != Some(&*measured)
    });
    let lifted = map_of(&load_setup("tarnwood", "long damper, lift arm"));
    assert_eq!(
        app.world().resource::<Found>().map.as_deref(),
        Some(&lifted)
    );
    let motion = app.world().resource::<Motion>();
    assert_eq!((motion.travel_mm(), motion.rack_mm()), (travel, rack));
    // An edit and its undo are made on the same setup.
    let generation = app.world().resource::<Document>().generation();
    app.world_mut()
        .resource_mut::<Document>()
        .change_number("rack.travel.left", 70.0);
    app.world_mut().resource_mut::<Document>().undo();
    run_until(&mut app, "the truck of the text taken back", |w| {
        let document = w.resource::<Document>();
        !document.is_waiting() && document.generation() > generation
    });
    let document = app.world().resource::<Document>();
    assert_eq!(
        document.truck().setup.as_deref(),
        Some("long damper, lift arm")
    );
    assert!(
        !document.is_unsaved(),
        "a setup is chosen, the text stays as it is"
    );
    app.world_mut()
        .resource_mut::<Document>()
        .choose_setup(None);
    run_until(&mut app, "the map as measured", |w| {
        w.resource::<Found>().map.as_deref() == Some(&*measured)
    });
}

/// Names of the ghost's parts that differ, sorted.
fn differing(ghost: &Ghost) -> Vec<String> {
    let mut names: Vec<String> = ghost.differing().map(|p| p.name.clone()).collect();
    names.sort();
    names
}

/// Names of the parts of `other` with a point away from its place in `shown`, by walking all their points.
fn parts_elsewhere(shown: &Truck, other: &Truck, travel: f64, rack: f64) -> Vec<String> {
    let placed = |truck: &Truck| -> Vec<(String, Vec<nalgebra::Vector3<f64>>)> {
        let corner = &truck.corners[0];
        let position = corner.position(travel, rack).expect("reached");
        let parts = corner.parts.iter();
        parts
            .map(|part| {
                let at = position.linkage.placement(part.body.motion());
                let triangles = part.surface.triangles_in_body();
                let points = triangles.iter().flatten().map(|p| at.point(p)).collect();
                (part.name.clone(), points)
            })
            .collect()
    };
    let own = placed(shown);
    let mut names: Vec<String> = placed(other)
        .into_iter()
        .filter(|(name, points)| {
            let twin = own
                .iter()
                .find(|(n, p)| n == name && p.len() == points.len());
            twin.is_none_or(|(_, there)| {
                let mut pairs = points.iter().zip(there);
                pairs.any(|(a, b)| (a - b).norm() > SAME_PLACE_MM)
            })
        })
        .map(|(name, _)| name)
        .collect();
    names.sort();
    names
}

#[test]
fn a_ghost_differs_only_where_parts_differ() {
    let path = scene("tarnwood");
    for (setup, of) in [
        (Some("differential spacers"), "as-measured"),
        (Some("differential drop"), "differential spacers"),
        (None, "285 tyres"),
        (None, "long damper"),
        (None, "factory"),
    ] {
        let document = Document::open_setup(&path, setup).expect("opens");
        let of = GhostOf::typed(of);
        let mut ghost = Ghost::open(&document, Some(of.clone())).expect("can be built");
        let other = bindpoint::truck::load_setup(&path, of.setup()).expect("loads");
        let mut motion = Motion::new(document.corner());
        for (travel, rack) in [(0.0, 0.0), (-60.0, 45.0), (30.0, -75.0)] {
            motion.go_to(document.corner(), travel, rack);
            ghost.stand(&document, &motion);
            assert!(matches!(ghost.place(), GhostPlace::Here(_)));
            let expected = parts_elsewhere(document.truck(), &other, travel, rack);
            assert_eq!(differing(&ghost), expected, "{setup:?} against {of:?}");
            let has = |name: &str| expected.iter().any(|n| n == name);
            match of.name() {
                "long damper" | "factory" => assert!(expected.is_empty()),
                "285 tyres" => assert_eq!(expected, ["tyre"]),
                _ => {
                    assert!(has("differential housing") && has("halfshaft"));
                    assert!(!has("frame rail") && !has("tyre") && !has("lower arm front leg"));
                }
            }
        }
        // What no part shows, the map does.
        ghost.find_map(document.corner().side);
        let expected: Vec<[f64; 2]> = map_of(&other)
            .outline
            .iter()
            .map(|p| [p.rack_mm, p.travel_mm])
            .collect();
        let outline = ghost.outline(document.corner().side);
        assert_eq!(outline[..outline.len() - 1], expected);
        assert_eq!(outline.last(), outline.first(), "a closed line");
    }
}

#[test]
fn a_ghost_goes_where_the_truck_goes_and_changes_with_it_in_the_same_frame() {
    let mut app = app(&scene("tarnwood"));
    app.world_mut()
        .resource_mut::<Ghost>()
        .choose(Some(GhostOf::typed("differential drop")));
    run_until(&mut app, "the ghost and its outline", |w| {
        let ghost = w.resource::<Ghost>();
        matches!(ghost.place(), GhostPlace::Here(_))
            && !ghost
                .outline(w.resource::<Document>().corner().side)
                .is_empty()
    });
    let (travel, rack) = (-48.0, -30.0);
    app.world_mut()
        .resource_scope(|world, mut motion: Mut<Motion>| {
            motion.go_to(world.resource::<Document>().corner(), travel, rack);
        });
    app.update();
    let dropped = load_setup("tarnwood", "differential drop");
    let at = dropped.corners[0].position(travel, rack).expect("reached");
    let ghost = app.world().resource::<Ghost>();
    assert!(!differing(ghost).is_empty());
    for part in ghost.parts() {
        assert_eq!(part.placement, at.linkage.placement(part.body.motion()));
    }
    // Compared with itself nothing differs, in no frame of an edit that moves every part.
    app.world_mut()
        .resource_mut::<Ghost>()
        .choose(Some(GhostOf::AsMeasured));
    run_until(&mut app, "the other ghost", |w| {
        matches!(w.resource::<Ghost>().place(), GhostPlace::Here(_))
    });
    let generation = app.world().resource::<Document>().generation();
    for step in 1..=4 {
        let z = 290.0 + f64::from(step);
        app.world_mut()
            .resource_mut::<Document>()
            .change_number("lower_arm.ball_joint[2]", z);
        for _ in 0..3 {
            app.update();
            assert_eq!(differing(app.world().resource::<Ghost>()), [""; 0]);
        }
    }
    run_until(&mut app, "the edit", |w| {
        assert_eq!(differing(w.resource::<Ghost>()), [""; 0]);
        let document = w.resource::<Document>();
        !document.is_waiting() && document.generation() > generation
    });
}

#[test]
fn a_name_that_no_setup_has_is_refused() {
    let path = scene("tarnwood");
    let error = Document::open_setup(&path, Some("longer damper")).expect_err("no such setup");
    assert!(error.to_string().contains("`longer damper`"), "{error}");
    let document = Document::open(&path).expect("opens");
    let error = Ghost::open(&document, Some(GhostOf::typed("longer damper"))).expect_err("neither");
    assert!(error.to_string().contains("`longer damper`"), "{error}");
}

/// Crake with setups of our own.
fn crake_with(setups: &str) -> (tempfile::TempDir, PathBuf) {
    let (folder, path) = own_copy("crake");
    let text = std::fs::read_to_string(&path).expect("read");
    // Its own setups stand at the end of the file.
    let end = text.find("\n    setups: [").or(text.rfind("\n)"));
    let end = end.expect("a scene ends with a bracket");
    let with = format!("{}\n    setups: [{setups}],\n)\n", &text[..end]);
    std::fs::write(&path, with).expect("written");
    (folder, path)
}

#[test]
fn a_setup_that_a_reload_has_lost_gives_way_to_the_truck_as_measured() {
    let (_folder, path) = crake_with("(name: \"long\", changes: [Damper(longer: 0.5)])");
    let mut document = Document::open_setup(&path, Some("long")).expect("opens");
    let of = GhostOf::typed("long");
    let mut ghost = Ghost::open(&document, Some(of.clone())).expect("can be built");
    let text = std::fs::read_to_string(&path).expect("read");
    // First another number: the setup stays.
    std::fs::write(&path, text.replace("longer: 0.5", "longer: 0.75")).expect("written");
    assert!(document.reload());
    assert_eq!(document.setup(), Some("long"));
    assert_eq!(document.truck().setup.as_deref(), Some("long"));
    assert_eq!(document.take_notice(), None);
    std::fs::write(&path, text.replace("\"long\"", "\"longer\"")).expect("written");
    assert!(document.reload());
    assert_eq!(document.setup(), None);
    assert_eq!(document.truck().setup, None);
    assert_eq!(document.setups(), ["longer"]);
    assert_eq!(document.problem(), None);
    let notice = document.take_notice().expect("it is told");
    assert!(notice.contains("`long`") && notice.contains("as measured"));
    assert_eq!(document.take_notice(), None, "once");
    // Nothing is compared with it any more either.
    assert!(ghost.is_waiting(&document));
    let made = bindpoint::viewer::document::make_truck(document.text(), &path, of.setup());
    ghost.receive(document.text_revision(), &of, made);
    assert_eq!(ghost.of(), None);
    assert!(ghost.take_notice().is_some_and(|n| n.contains("`long`")));
}

#[test]
fn a_ghost_that_cannot_go_there_is_hidden_and_says_so() {
    // A shorter arm runs out of reach elsewhere in the travel.
    let (_folder, path) = crake_with(
        "(name: \"short arm\", changes: [UpperArm((ball_joint: (-0.71, -20.2, 22.0)))])",
    );
    let open = |setup: Option<&str>, of: GhostOf| {
        let document = Document::open_setup(&path, setup).expect("opens");
        let ghost = Ghost::open(&document, Some(of)).expect("can be built");
        (document, ghost)
    };
    // One of the two goes further down than the other: seen from that one, the other is hidden.
    let mut hidden = 0;
    for (setup, of) in [
        (None, GhostOf::typed("short arm")),
        (Some("short arm"), GhostOf::AsMeasured),
    ] {
        let (document, mut ghost) = open(setup, of.clone());
        let mut motion = Motion::new(document.corner());
        motion.go_to(document.corner(), -900.0, 0.0);
        ghost.stand(&document, &motion);
        let words = ghost.words(Units::Mm).expect("said");
        let other = bindpoint::truck::load_setup(&path, of.setup()).expect("loads");
        let reaches = other.corners[0].position(motion.travel_mm(), 0.0).is_ok();
        if reaches {
            assert!(matches!(ghost.place(), GhostPlace::Here(_)), "{words}");
            assert!(!differing(&ghost).is_empty());
        } else {
            hidden += 1;
            assert!(
                matches!(ghost.place(), GhostPlace::OutOfReach(_)),
                "{words}"
            );
            assert_eq!(ghost.differing().count(), 0);
            assert!(words.contains("can't go here"), "{words}");
        }
    }
    assert_eq!(hidden, 1);
}

#[test]
fn the_other_side_of_a_truck_built_once_is_compared_by_its_mirror_image() {
    let (_folder, path) = crake_with(
        "(name: \"bracket\", changes: [AddPart(part: (name: \"skid\", on: frame, fitted: once, \
         shape: Box(centre: (0, 0, 8), size: (10, 6, 0.5))))])",
    );
    let mut document = Document::open_setup(&path, Some("bracket")).expect("opens");
    let mut ghost = Ghost::open(&document, Some(GhostOf::AsMeasured)).expect("can be built");
    assert_eq!(ghost.truck().map(|t| t.corners.len()), Some(1));
    assert_eq!(document.truck().corners.len(), 2);
    document.look_at_corner(1);
    let corner = document.corner();
    let mut motion = Motion::new(corner);
    motion.go_to(corner, -20.0, 25.0);
    ghost.stand(&document, &motion);
    assert!(matches!(ghost.place(), GhostPlace::Here(_)));
    // Its one part more is in the truck shown, not in the ghost.
    assert_eq!(differing(&ghost), [""; 0]);
    // The free travel is the mirror image too: rack positions change their sign.
    ghost.find_map(corner.side);
    let outline = ghost.outline(corner.side);
    let other = &ghost.truck().expect("a truck").corners[0];
    let direct = ghost.outline(other.side);
    assert!(outline.len() > 4);
    for (a, b) in outline.iter().zip(&direct) {
        assert_eq!([-a[0], a[1]], *b);
    }
}

/// The same without the suspension's workers, before an obstacle.
fn before_obstacle(path: &Path, over: &str) -> App {
    let document = Document::open(path).expect("the scene opens");
    let mut app = App::new();
    app.add_plugins(MinimalPlugins)
        .insert_resource(Motion::new(document.corner()))
        .insert_resource(document)
        .add_plugins((MotionPlugin, DrivePlugin, DriveWorkerPlugin));
    let mut drive = app.world_mut().resource_mut::<Drive>();
    drive.choose(Subject::Over(over.to_owned()));
    app
}

fn driven(world: &World) -> bool {
    !world
        .resource::<Drive>()
        .is_waiting(world.resource::<Document>())
}

fn driven_by_the_library(truck: &Truck, over: &str) -> bindpoint::findings::DriveFindings {
    use bindpoint::ground::{Course, Suspension, drive};
    let course = Course::new(truck, over, 1.0, Suspension::usual(truck)).expect("stands");
    drive(&course).expect("drives")
}

#[test]
fn choosing_an_obstacle_finds_its_contacts_and_curve_and_a_setup_drives_anew() {
    let mut app = before_obstacle(&scene("crake"), "wall");
    run_until(&mut app, "the drive", driven);
    let expected = driven_by_the_library(&load("crake"), "wall");
    let drive = app.world().resource::<Drive>();
    assert_eq!(drive.found().map(AsRef::as_ref), Some(&expected));
    // It begins where the drive does, and stepping goes from contact to contact.
    assert_eq!(drive.front_axle_mm(), expected.from_to_mm[0]);
    assert!(drive.touching().is_empty());
    let first = &expected.contacts[0];
    let mut drive = app.world_mut().resource_mut::<Drive>();
    drive.step_to_contact(true);
    assert_eq!(drive.front_axle_mm(), first.front_axle_mm[1]);
    assert!(drive.touching().contains(&first.part));

    // Another setup: what was found of the last one is out of date until its own comes.
    app.world_mut()
        .resource_mut::<Document>()
        .choose_setup(Some("27 in tyres"));
    let world = app.world();
    assert!(
        world
            .resource::<Drive>()
            .is_outdated(world.resource::<Document>())
    );
    run_until(&mut app, "the drive with other tyres", driven);
    let truck = bindpoint::truck::load_setup(&scene("crake"), Some("27 in tyres"));
    let anew = driven_by_the_library(&truck.expect("loads"), "wall");
    assert_ne!(anew, expected);
    let drive = app.world().resource::<Drive>();
    assert_eq!(drive.found().map(AsRef::as_ref), Some(&anew));

    // Back to the suspension nothing of it stays.
    let mut drive = app.world_mut().resource_mut::<Drive>();
    drive.choose(Subject::Suspension);
    assert!(drive.setting().is_none() && drive.found().is_none());
    app.update();
    assert!(app.world().resource::<Drive>().setting().is_none());
}

#[test]
fn a_drive_plays_forward_and_its_wheels_turn_by_what_they_roll() {
    let mut app = before_obstacle(&scene("crake"), "log");
    run_until(&mut app, "the drive", driven);
    let mut drive = app.world_mut().resource_mut::<Drive>();
    let [start, end] = drive.ends();
    let setting = std::sync::Arc::clone(drive.setting().expect("a setting"));
    let course = setting.course.as_ref().expect("a drive");
    let radii = course.vehicle.radii;

    // On level ground a wheel rolls as far as the truck goes.
    drive.go_to(start + 60.0);
    for (turn, radius) in drive.wheel_turn().iter().zip(radii) {
        assert!((turn - 60.0 / radius).abs() < 1.0e-9, "{turn}");
    }
    drive.go_to(start);
    drive.repeat = false;
    drive.speed_mm_s = 900.0;
    drive.play_or_pause();
    let mut last = (start, [0.0; 4]);
    let mut steps = 0;
    while drive.playing {
        drive.tick(0.02);
        let now = (drive.front_axle_mm(), drive.wheel_turn());
        assert!(now.0 > last.0, "{} after {}", now.0, last.0);
        assert!((now.0 - last.0 - 18.0).abs() < 1.0e-6 || now.0 == end);
        for i in 0..4 {
            assert!(now.1[i] > last.1[i], "wheel {i} turns on");
        }
        // Drawn where the library has it.
        let there = course.stand(now.0, None).expect("stands");
        let stance = drive.stance().expect("stands");
        assert!((stance.position - there.position).norm() < 1.0e-6);
        assert!((stance.pitch - there.pitch).abs() < 1.0e-9);
        last = now;
        steps += 1;
        assert!(steps < 10_000, "it never ends");
    }
    assert_eq!(last.0, end);

    // Over the log a wheel's centre goes further than the truck: summed here in steps of a millimetre.
    let mut way = [0.0; 4];
    let mut before: Option<[nalgebra::Vector3<f64>; 4]> = None;
    let mut x = start;
    while x <= end {
        let stance = course.stand(x, None).expect("stands");
        let now = stance
            .posture
            .wheels
            .map(|w| stance.point(&course.vehicle, &w));
        if let Some(before) = before {
            for i in 0..4 {
                way[i] += (now[i] - before[i]).norm();
            }
        }
        before = Some(now);
        x += 1.0;
    }
    for i in 0..4 {
        let rolled = last.1[i] * radii[i];
        assert!(rolled > end - start + 20.0, "wheel {i} rolled {rolled}");
        // Both are sums of chords; the coarser one is a little shorter.
        assert!(
            (rolled - way[i]).abs() < 0.01 * way[i],
            "{rolled} of {}",
            way[i]
        );
    }

    // Started again from the end it begins anew.
    drive.play_or_pause();
    assert_eq!(drive.front_axle_mm(), start);
}
