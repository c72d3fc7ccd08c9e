//! The clearance map in the window, without a window: asked for, kept up with the truck, read off; and drawn off screen.
//!
//! Expected maps come from the library's own calls on the truck that is shown; `tests/clearance_map.rs` checks those
//! against closed forms and brute force.
#![cfg(feature = "viewer")]

mod pixels;

use assert_cmd::cargo::cargo_bin_cmd;
use bevy::prelude::*;
use bindpoint::output::Units;
use bindpoint::output::clearance_colours::{TOUCHING, colour};
use bindpoint::space::{
    ClearanceMap, ClearanceOptions, KnownTravels, clearance_map, clearance_map_again,
};
use bindpoint::truck::Truck;
use bindpoint::viewer::background::{BackgroundPlugin, Found};
use bindpoint::viewer::clearance_map::{ClearanceMapPlugin, ClearanceWorkerPlugin, ShownMap};
use bindpoint::viewer::clearance_probe::go_to_patch;
use bindpoint::viewer::document::{Document, make_truck};
use bindpoint::viewer::framing::{Framing, View};
use bindpoint::viewer::motion::{Motion, MotionPlugin};
use bindpoint::viewer::part_colours::{ColouredParts, PartColours};
use bindpoint::viewer::picture::find_backends;
use bindpoint::viewer::placing::{Handle, Placing, Sight};
use bindpoint::viewer::shown::{Page, Shown};
use bindpoint::viewer::suspension::PartChoice;
use nalgebra::Vector3;
use pixels::pixel_of;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};
use tempfile::TempDir;

type V = Vector3<f64>;

/// A plate as text STL, `n` x `n` squares on either face: 4 n (n + 2) triangles.
fn write_plate(file: &Path, size: [f64; 3], n: usize) {
    let mut out = String::from("solid plate\n");
    let at = |i: usize, j: usize, top: bool| {
        let share = |i: usize| i as f64 / n as f64;
        let z = if top { size[2] } else { 0.0 };
        [size[0] * share(i), size[1] * share(j), z]
    };
    let mut square = |corners: [[f64; 3]; 4]| {
        for t in [[0, 1, 2], [0, 2, 3]] {
            out.push_str("facet normal 0 0 0\nouter loop\n");
            for [x, y, z] in t.map(|k| corners[k]) {
                out.push_str(&format!("vertex {x} {y} {z}\n"));
            }
            out.push_str("endloop\nendfacet\n");
        }
    };
    for i in 0..n {
        for j in 0..n {
            let ring = [[i, j], [i + 1, j], [i + 1, j + 1], [i, j + 1]];
            square(ring.map(|[i, j]| at(i, j, true)));
            let [a, b, c, d] = ring.map(|[i, j]| at(i, j, false));
            square([a, d, c, b]);
        }
        let sides = [
            [[i, 0], [i + 1, 0]],
            [[i + 1, n], [i, n]],
            [[0, i + 1], [0, i]],
            [[n, i], [n, i + 1]],
        ];
        for [[a, b], [c, d]] in sides {
            square([
                at(a, b, false),
                at(c, d, false),
                at(c, d, true),
                at(a, b, true),
            ]);
        }
    }
    std::fs::write(file, out + "endsolid plate\n").expect("written");
}

/// A demo scene with a plate on the frame, in a folder of its own.
fn planted(n: usize) -> (TempDir, PathBuf) {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(root.join("scenes/tarnwood.ron")).expect("a demo scene");
    let folder = tempfile::tempdir().expect("a folder");
    write_plate(&folder.path().join("plate.stl"), [160.0, 90.0, 6.0], n);
    let plate = r#"        (name: "plate", on: frame, shape: Mesh(file: "plate.stl", unit: mm, at: (-80, 450, 330))),"#;
    let assets = format!("\"{}/assets/", root.display());
    let text = text.replace("\"../assets/", &assets).replacen(
        "    parts: [\n",
        &format!("    parts: [\n{plate}\n"),
        1,
    );
    let path = folder.path().join("scene.ron");
    std::fs::write(&path, text).expect("written");
    (folder, path)
}

/// Where the plate's numbers are in the text.
const SHAPE: &str = "parts[0].shape";

fn app(path: &Path) -> App {
    let document = Document::open(path).expect("the scene opens");
    let mut app = App::new();
    app.add_plugins(MinimalPlugins)
        .insert_resource(Motion::new(document.corner()))
        .insert_resource(Shown {
            units: Units::Mm,
            page: Page::Room,
            note: None,
        })
        .insert_resource(document)
        .add_plugins((MotionPlugin, ClearanceMapPlugin, ClearanceWorkerPlugin));
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

/// Whether the whole map is there: colours come before it.
fn whole(world: &World) -> bool {
    let map = world.resource::<ShownMap>();
    let found = map.current(world.resource::<Document>(), world.resource::<Placing>());
    found.is_some_and(|made| coloured(world, &made.map.part).is_some())
}

fn coloured(world: &World, part: &str) -> Option<Arc<PartColours>> {
    world.resource::<ColouredParts>().0.get(part).cloned()
}

fn choose(app: &mut App, change: impl FnOnce(&mut ShownMap)) {
    change(&mut app.world_mut().resource_mut::<ShownMap>());
}

fn options(document: &Document, part: &str) -> ClearanceOptions {
    ClearanceOptions {
        side: Some(document.corner().side),
        ..ClearanceOptions::usual(part)
    }
}

fn mapped(truck: &Truck, options: &ClearanceOptions) -> ClearanceMap {
    clearance_map(std::slice::from_ref(truck), options, &|_, _| true).expect("a map")
}

fn assert_same(a: &ClearanceMap, b: &ClearanceMap) {
    assert_eq!(a.mesh.points, b.mesh.points);
    assert_eq!(a.mesh.triangles, b.mesh.triangles);
    assert_eq!(a.at_point, b.at_point);
    assert_eq!(a.at_face, b.at_face);
    assert_eq!(a.movers, b.movers);
    assert_eq!(a.tightest, b.tightest);
}

#[test]
fn the_picked_part_is_coloured_as_the_library_maps_it_and_reads_off_the_same() {
    let (_folder, path) = planted(8);
    let mut app = app(&path);
    app.update();
    assert!(coloured(app.world(), "plate").is_none(), "off at first");
    app.world_mut().resource_mut::<PartChoice>().picked = Some("plate".to_owned());
    choose(&mut app, |map| map.choice.on = true);
    run_until(&mut app, "the colours", |w| coloured(w, "plate").is_some());
    let early = coloured(app.world(), "plate").expect("colours");
    run_until(&mut app, "the whole map", whole);
    let late = coloured(app.world(), "plate").expect("colours");
    assert_eq!(*early, *late, "colours are final from the first");
    let world = app.world();
    let document = world.resource::<Document>();
    let expected = mapped(document.truck(), &options(document, "plate"));
    assert!(
        expected.patches.iter().any(|p| p.touched),
        "it is in the way"
    );
    let map = world.resource::<ShownMap>();
    let made = map
        .current(document, world.resource::<Placing>())
        .expect("it holds");
    assert_same(&made.map, &expected);
    assert_eq!((map.progress(), map.problem()), (None, None));

    let shown = coloured(world, "plate").expect("colours");
    assert_eq!(shown.triangles.len(), expected.mesh.triangles.len());
    let mut told = 0;
    for (face, triangle) in shown.triangles.iter().enumerate() {
        assert_eq!(*triangle, expected.mesh.corners(face));
        let corners = expected.mesh.triangles[face];
        let rgb = corners.map(|i| colour(&expected, &expected.at_point[i as usize]));
        assert_eq!(shown.colours[face], rgb);
        let middle = (triangle[0] + triangle[1] + triangle[2]) / 3.0;
        let probed = made.probe(document.truck(), face, middle).expect("a face");
        assert_eq!(probed.spot, expected.at_face[face]);
        let to = probed.spot.to.map(|to| &expected.movers[to as usize]);
        assert_eq!(probed.to.as_ref(), to);
        told += usize::from(to.is_some());
    }
    assert!(told > 100, "{told} faces have something near");
    assert!(
        made.probe(document.truck(), shown.triangles.len(), V::zeros())
            .is_none()
    );
    // The steer that is told is the patches' own, which the library finds from the pose itself.
    for patch in &expected.patches {
        let place = patch.tightest;
        let at_face = expected.at_face[patch.tightest_face as usize];
        let probed = made
            .probe(document.truck(), patch.tightest_face as usize, place.at)
            .expect("a face");
        if at_face.travel_mm == place.spot.travel_mm && at_face.to == place.spot.to {
            let off = probed.steer_deg.expect("a steer") - place.steer_deg;
            assert!(off.abs() < 1.0e-6, "{off}");
        }
        let words = probed.words(made, Units::Mm).join("; ");
        let name = &expected.movers[at_face.to.expect("near") as usize].part;
        assert!(words.contains(name) && words.contains("travel"), "{words}");
        assert_eq!(words.contains("touched by"), at_face.gap_mm <= 0.0);
    }

    // A click on a patch takes the suspension there; the place is marked until the truck changes.
    let patch = made.findings.patches[0].clone();
    let world = app.world_mut();
    world.resource_scope(|world, mut map: Mut<ShownMap>| {
        world.resource_scope(|world, mut motion: Mut<Motion>| {
            world.resource_scope(|world, mut shown: Mut<Shown>| {
                let document = world.resource::<Document>();
                go_to_patch(&patch, document, &mut map, &mut motion, &mut shown);
            });
        });
    });
    let motion = app.world().resource::<Motion>();
    assert!((motion.travel_mm() - patch.tightest.travel_mm).abs() < 1.0e-6);
    assert!((motion.rack_mm() - patch.tightest.rack_mm).abs() < 1.0e-6);
    let marked = app.world().resource::<ShownMap>().marked.clone();
    assert_eq!(marked.expect("marked").at, V::from(patch.tightest.at_mm));
    choose(&mut app, |map| map.choice.required_mm = Some(7.0));
    app.update();
    assert!(coloured(app.world(), "plate").is_none(), "another question");
    assert_eq!(app.world().resource::<ShownMap>().marked, None);
    run_until(&mut app, "the other map", whole);
    choose(&mut app, |map| map.choice.on = false);
    app.update();
    assert!(coloured(app.world(), "plate").is_none());
}

#[test]
fn colours_vanish_while_a_hand_holds_the_part_and_come_back_for_where_it_was_let_go() {
    let (_folder, path) = planted(8);
    let mut app = app(&path);
    choose(&mut app, |map| {
        map.choice.part = Some("plate".to_owned());
        map.choice.on = true;
    });
    run_until(&mut app, "the map", whole);
    let before = app
        .world()
        .resource::<ShownMap>()
        .made()
        .expect("made")
        .clone();
    let middle = V::new(0.0, 495.0, 333.0);
    let sight = |y: f64| Sight {
        from: middle + V::new(0.0, y, 500.0),
        along: -V::z(),
    };
    let world = app.world_mut();
    world.resource_scope(|world, mut placing: Mut<Placing>| {
        placing.look_at(world.resource::<Document>());
        placing.take("plate", middle, Handle::Arrow(1), &sight(0.0));
    });
    app.update();
    assert!(coloured(app.world(), "plate").is_some(), "held, not moved");
    app.world_mut()
        .resource_mut::<Placing>()
        .drag(&sight(-60.0));
    for _ in 0..3 {
        app.update();
        assert!(coloured(app.world(), "plate").is_none(), "moved by hand");
        assert_eq!(
            app.world().resource::<ShownMap>().progress(),
            None,
            "nothing is asked yet"
        );
    }
    let world = app.world_mut();
    world.resource_scope(|world, mut placing: Mut<Placing>| {
        let mut document = world.resource_mut::<Document>();
        placing.let_go(&mut document);
        placing.settle(&document);
    });
    run_until(&mut app, "the new map", whole);
    let world = app.world();
    let document = world.resource::<Document>();
    assert!(document.text().contains("390"), "{}", document.text());
    let made = world.resource::<ShownMap>().made().expect("made");
    assert_same(
        &made.map,
        &mapped(document.truck(), &options(document, "plate")),
    );
    assert_ne!(made.map.at_point, before.map.at_point);

    // Any other change of the truck asks anew too; a part that has gone has no map.
    let mut document = app.world_mut().resource_mut::<Document>();
    document.change_number("damper.extended", 530.0);
    assert_eq!(document.problem(), None);
    app.update();
    assert!(coloured(app.world(), "plate").is_none());
    run_until(&mut app, "the longer damper's map", whole);
    let document = app.world().resource::<Document>();
    let made = app.world().resource::<ShownMap>().made().expect("made");
    assert_same(
        &made.map,
        &mapped(document.truck(), &options(document, "plate")),
    );
    choose(&mut app, |map| {
        map.choice.part = Some("no such part".to_owned())
    });
    app.update();
    let map = app.world().resource::<ShownMap>();
    assert!(map.progress().is_none());
    assert!(app.world().resource::<ColouredParts>().0.is_empty());
}

#[test]
fn a_newer_question_takes_the_place_of_an_older_one() {
    let (_folder, path) = planted(30);
    let mut app = app(&path);
    choose(&mut app, |map| {
        map.choice.part = Some("plate".to_owned());
        map.choice.on = true;
    });
    for gap in 1..=6 {
        choose(&mut app, |map| {
            map.choice.required_mm = Some(f64::from(gap))
        });
        app.update();
        assert!(app.world().resource::<ShownMap>().progress().is_some());
    }
    run_until(&mut app, "the map", whole);
    let map = app.world().resource::<ShownMap>();
    assert!(map.answers() <= 2, "older ones are stopped, or dropped");
    let made = map.made().expect("made");
    assert_eq!(made.map.options.required_mm, Some(6.0));
    // A part that nothing moves against is told, and has no colour.
    choose(&mut app, |map| {
        map.choice.required_mm = Some(60.0);
        map.choice.cutoff_mm = 50.0;
    });
    run_until(&mut app, "a problem", |w| {
        w.resource::<ShownMap>().problem().is_some()
    });
    app.update();
    assert!(app.world().resource::<ColouredParts>().0.is_empty());
}

/// Free travels of earlier maps are used again where the part alone has moved, and nowhere else: whatever is changed, the
/// map is the one found from nothing.
#[test]
fn a_map_made_again_is_the_map_made_anew_whatever_has_changed() {
    let (_folder, path) = planted(4);
    let text = std::fs::read_to_string(&path).expect("read");
    let known = KnownTravels::default();
    let swap = |from: &str, to: &str| {
        assert!(text.contains(from), "{from}");
        text.replacen(from, to, 1)
    };
    let texts = [
        text.clone(),
        swap("at: (-80, 450, 330)", "at: (-80, 400, 300)"),
        swap(
            "at: (-80, 450, 330)",
            "at: (60, 380, 420), turned_deg: (0, 20, 0)",
        ),
        swap("        (a: \"tie rod\", b: \"*\", gap: 3),\n", ""),
        swap(
            "(a: \"halfshaft\", b: \"*\", gap: 3)",
            "(a: \"halfshaft\", b: \"*\", gap: 9)",
        ),
        swap(
            "to: (26, 681, 296), radius: 17",
            "to: (26, 681, 296), radius: 40",
        ),
        swap("rack: (", "rack: ( "),
        text.clone(),
    ];
    let mut tightest = Vec::new();
    for (n, text) in texts.iter().enumerate() {
        let truck = make_truck(text, &path, None).expect("a truck").truck;
        let asked = ClearanceOptions::usual("plate");
        let trucks = std::slice::from_ref(&truck);
        let again =
            clearance_map_again(trucks, &asked, &known, &|_| (), &|_, _| true).expect("a map");
        assert_same(&again, &mapped(&truck, &asked));
        tightest.push(again.tightest.map(|t| (n, t.spot.room_mm)));
    }
    // A setup and another part: other travels again.
    let setup = make_truck(&text, &path, Some("long damper"))
        .expect("a setup")
        .truck;
    for part in ["plate", "crossmember"] {
        let asked = ClearanceOptions::usual(part);
        let trucks = std::slice::from_ref(&setup);
        let again =
            clearance_map_again(trucks, &asked, &known, &|_| (), &|_, _| true).expect("a map");
        assert_same(&again, &mapped(&setup, &asked));
    }
}

const SIZE: [u32; 2] = [640, 360];

fn picture(scene: &Path, arguments: &[&str]) -> image::RgbaImage {
    let folder = tempfile::tempdir().expect("a folder");
    let out = folder.path().join("picture.png");
    let output = cargo_bin_cmd!("bindpoint")
        .arg("picture")
        .arg(scene)
        .args(["--only", "plate", "--view", "top", "--size", "640x360"])
        .args(["--no-labels", "--no-joints", "--no-marks", "--no-ground"])
        .args(arguments)
        .arg("--out")
        .arg(&out)
        .env("NO_COLOR", "1")
        .output()
        .expect("bindpoint starts");
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{said}");
    image::open(&out).expect("a PNG").to_rgba8()
}

#[test]
fn a_picture_shows_the_maps_colours_where_the_map_has_them() {
    if find_backends().is_err() {
        let needed = std::env::var_os("BINDPOINT_NEEDS_SCREEN").is_some();
        assert!(
            !needed,
            "no Vulkan driver, and the environment asks for one"
        );
        eprintln!("skipped: no Vulkan driver (install mesa-vulkan-drivers)");
        return;
    }
    let (_folder, path) = planted(16);
    let image = picture(&path, &["--clearance", "plate", "--gap", "5"]);
    let plain = picture(&path, &[]);
    let truck = bindpoint::truck::load(&path).expect("a scene");
    let asked = ClearanceOptions {
        required_mm: Some(5.0),
        ..ClearanceOptions::usual("plate")
    };
    let map = mapped(&truck, &asked);
    let aspect = f64::from(SIZE[0]) / f64::from(SIZE[1]);
    let framing = Framing::fit(&truck.corners[0], View::Top, aspect);
    let hue = |rgb: [u8; 3]| {
        let [r, g, b] = rgb.map(f64::from);
        let most = r.max(g).max(b).max(1.0);
        [r / most, g / most, b / most]
    };
    let (mut seen, mut touched) = (0, 0);
    for face in 0..map.mesh.triangles.len() {
        let corners = map.mesh.corners(face);
        let up = map.mesh.area_normal(face).normalize().z > 0.99;
        let own = map.mesh.triangles[face].map(|i| colour(&map, &map.at_point[i as usize]));
        // One colour all round, so that the pixel isn't a mixture.
        if !up || own[0] != own[1] || own[1] != own[2] {
            continue;
        }
        let middle = (corners[0] + corners[1] + corners[2]) / 3.0;
        let [x, y] = pixel_of(&framing, &middle, SIZE).map(|v| v as u32);
        let pixel = image.get_pixel(x, y).0;
        let [drawn, expected] = [hue([pixel[0], pixel[1], pixel[2]]), hue(own[0])];
        let off = (0..3)
            .map(|k| (drawn[k] - expected[k]).abs())
            .fold(0.0, f64::max);
        // Edge pixels mix with their neighbours; most are inside.
        seen += 1;
        if own[0] == TOUCHING && off < 0.08 {
            touched += 1;
            assert_ne!(plain.get_pixel(x, y).0, pixel);
        }
    }
    let all = (0..map.mesh.triangles.len())
        .filter(|t| map.mesh.area_normal(*t).normalize().z > 0.99)
        .filter(|t| {
            map.mesh.triangles[*t]
                .iter()
                .all(|i| map.at_point[*i as usize].gap_mm <= 0.0)
        })
        .count();
    assert!(all > 20 && seen >= all, "{all} faces are touched");
    assert!(touched * 10 >= all * 7, "{touched} of {all} are drawn so");
}

/// Processor time of this process, seconds.
fn processor_s() -> f64 {
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    let after = stat.rsplit(')').next().unwrap_or_default();
    let fields: Vec<&str> = after.split_whitespace().collect();
    let ticks = |i: usize| {
        fields
            .get(i)
            .and_then(|f| f.parse::<f64>().ok())
            .unwrap_or(0.0)
    };
    (ticks(11) + ticks(12)) / 100.0
}

/// Printed, not judged: other work on the machine counts in it. Run alone with `--ignored --nocapture`.
#[test]
#[ignore = "a measurement"]
fn how_long_a_plate_of_ten_thousand_triangles_waits_for_its_map_after_a_move() {
    let (_folder, path) = planted(49);
    let places = [
        [-80.0, 400.0, 300.0],
        [-80.0, 450.0, 330.0],
        [60.0, 380.0, 420.0],
        [-80.0, 300.0, 250.0],
        [-70.0, 440.0, 335.0],
    ];
    // The library's calls alone.
    let text = std::fs::read_to_string(&path).expect("read");
    let known = KnownTravels::default();
    for at in places {
        let text = bindpoint::scene::with_placement(&text, SHAPE, at, [0.0; 3]).expect("placed");
        let (start, used) = (Instant::now(), processor_s());
        let truck = make_truck(&text, &path, None).expect("a truck").truck;
        let made = start.elapsed();
        let trucks = std::slice::from_ref(&truck);
        let asked = ClearanceOptions::usual("plate");
        let map =
            clearance_map_again(trucks, &asked, &known, &|_| (), &|_, _| true).expect("a map");
        println!(
            "library, plate at {at:?}: truck {:.3} s, with its map {:.3} s, {:.2} s of processor; {} faces drawn, least room {:?}",
            made.as_secs_f64(),
            start.elapsed().as_secs_f64(),
            processor_s() - used,
            map.faces_drawn,
            map.tightest.map(|t| t.spot.room_mm),
        );
    }
    // In the window's workers, the sweep and the travel map of every new truck beside it.
    let mut app = app(&path);
    app.add_plugins(BackgroundPlugin);
    choose(&mut app, |map| {
        map.choice.part = Some("plate".to_owned());
        map.choice.on = true;
    });
    run_until(&mut app, "the first map", whole);
    for at in places {
        run_until(&mut app, "the sweep", |w| {
            let found = w.resource::<Found>();
            found.sweep.is_some() && found.remaining.is_some()
        });
        let (start, used) = (Instant::now(), processor_s());
        let generation = app.world().resource::<Document>().generation();
        app.world_mut()
            .resource_mut::<Document>()
            .place(SHAPE, at, [0.0; 3]);
        run_until(&mut app, "the map", |w| {
            w.resource::<Document>().generation() > generation && coloured(w, "plate").is_some()
        });
        let (shown, until_shown) = (start.elapsed(), processor_s() - used);
        run_until(&mut app, "the whole map", whole);
        println!(
            "window's workers, plate at {at:?}: {:.3} s from numbers to colours, {until_shown:.2} s of processor with sweep and travel map; {:.3} s to probe and patches",
            shown.as_secs_f64(),
            start.elapsed().as_secs_f64(),
        );
    }
}
