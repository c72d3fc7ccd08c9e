//! Room for a bracket in the window, without a window: the keep-out solid made and stopped, a part loaded, and placed
//! by numbers and by hand.
//!
//! Expected solids come from the library's own call; where a part stands, from rigid motions worked out here.
#![cfg(feature = "viewer")]

use bevy::prelude::*;
use bindpoint::scene::MeshUnit;
use bindpoint::shapes::read_mesh;
use bindpoint::space::{KeepOutOptions, PoseTree, keep_out};
use bindpoint::suspension::Body;
use bindpoint::sweep::free_travel::Region;
use bindpoint::sweep::rate_atlas::Atlas;
use bindpoint::sweep::stops::Guard;
use bindpoint::viewer::document::Document;
use bindpoint::viewer::keep_out::{KeepOutSolid, KeepOutWorkerPlugin, moving_parts};
use bindpoint::viewer::motion::{Motion, MotionPlugin};
use bindpoint::viewer::part_loading::{Offer, PartLoading, PartLoadingPlugin};
use bindpoint::viewer::placing::{Handle, Placing, Sight};
use bindpoint::viewer::shown::{Page, Shown};
use bindpoint::viewer::suspension::PartChoice;
use nalgebra::{Isometry3, Point3, UnitQuaternion, Vector3};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

fn scene(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("scenes")
        .join(format!("{name}.ron"))
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

fn app(path: &Path) -> App {
    let document = Document::open(path).expect("the scene opens");
    let mut app = App::new();
    app.add_plugins(MinimalPlugins)
        .insert_resource(Motion::new(document.corner()))
        .insert_resource(Shown {
            units: bindpoint::output::Units::Mm,
            page: Page::Stops,
            note: None,
        })
        .insert_resource(document)
        .add_plugins((MotionPlugin, KeepOutWorkerPlugin, PartLoadingPlugin));
    app
}

fn make(app: &mut App) {
    app.world_mut()
        .resource_scope(|world, mut solid: Mut<KeepOutSolid>| {
            solid.make(world.resource::<Document>());
        });
}

#[test]
fn the_solid_is_the_librarys_and_a_making_can_be_stopped() {
    let mut app = app(&scene("tarnwood"));
    let coarse = KeepOutOptions {
        margin_mm: 4.0,
        resolution_mm: 8.0,
    };
    // Nothing chosen makes no solid.
    make(&mut app);
    run_until(&mut app, "an answer", |w| {
        w.resource::<KeepOutSolid>().problem().is_some()
    });
    let mut solid = app.world_mut().resource_mut::<KeepOutSolid>();
    solid.choice.parts.insert("halfshaft".to_owned());
    solid.choice.options = coarse;
    make(&mut app);
    run_until(&mut app, "the solid", |w| {
        w.resource::<KeepOutSolid>().made().is_some()
    });
    let document = app.world().resource::<Document>();
    let corner = document.corner();
    let atlas = Atlas::build(corner);
    let region = Region::map(&Guard::new(corner, &atlas, 1.0));
    let shaft = corner.parts.iter().position(|p| p.name == "halfshaft");
    let trees = PoseTree::by_motion(corner, &region, Body::Frame.motion(), shaft);
    let expected = keep_out(&trees, coarse, &|_| true).expect("a solid");
    let solid = app.world().resource::<KeepOutSolid>();
    let made = solid.made().expect("made").clone();
    assert_eq!(made.solid.vertices, expected.vertices);
    assert_eq!(made.solid.triangles, expected.triangles);
    assert_eq!((solid.progress(), solid.problem()), (None, None));
    assert!(!solid.is_outdated(document));
    // It is saved as it is.
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("solid.stl");
    made.save(&file).expect("saved");
    let saved = read_mesh(&file, Some(1.0)).expect("an STL").report;
    assert_eq!(saved.triangles_read, expected.triangles.len());
    assert!(saved.inside_known);
    assert!(made.save(&folder.path().join("solid.obj.png")).is_err());

    // One that would take minutes is stopped; the last stays, and the next is made.
    let mut solid = app.world_mut().resource_mut::<KeepOutSolid>();
    solid.choice.options.resolution_mm = 0.6;
    make(&mut app);
    run_until(&mut app, "progress", |w| {
        w.resource::<KeepOutSolid>().progress() > Some(0.0)
    });
    let mut solid = app.world_mut().resource_mut::<KeepOutSolid>();
    solid.stop();
    assert_eq!(solid.progress(), None);
    solid.choice.options = coarse;
    solid.choice.on = Body::Knuckle;
    assert_eq!(solid.made().expect("the last").choice.on, Body::Frame);
    make(&mut app);
    run_until(&mut app, "the solid seen from the knuckle", |w| {
        let made = w.resource::<KeepOutSolid>().made();
        made.is_some_and(|made| made.choice.on == Body::Knuckle)
    });
    // A change leaves it, and says so.
    let mut document = app.world_mut().resource_mut::<Document>();
    document.change_number("halfshaft.diameter", 31.0);
    let (solid, document) = (
        app.world().resource::<KeepOutSolid>(),
        app.world().resource::<Document>(),
    );
    assert!(solid.made().is_some() && solid.is_outdated(document));
    let moves = |on: Body, name: &str| {
        let corner = document.corner();
        moving_parts(corner, on).any(|i| corner.parts[i].name == name)
    };
    assert!(moves(Body::Frame, "knuckle") && !moves(Body::Knuckle, "knuckle"));
    assert!(!moves(Body::Frame, "frame rail") && moves(Body::Knuckle, "frame rail"));
}

/// A box as text STL.
fn write_box(file: &Path, size: [f64; 3]) {
    let [x, y, z] = size;
    let at = |i: usize| {
        let on = |bit: usize, length: f64| if i & bit == 0 { 0.0 } else { length };
        format!("vertex {} {} {}", on(1, x), on(2, y), on(4, z))
    };
    let quads = [
        [0, 2, 3, 1],
        [4, 5, 7, 6],
        [0, 1, 5, 4],
        [2, 6, 7, 3],
        [0, 4, 6, 2],
        [1, 3, 7, 5],
    ];
    let facets: String = quads
        .iter()
        .flat_map(|[a, b, c, d]| [[a, b, c], [a, c, d]])
        .map(|t| {
            let corners = t.map(|i| at(*i)).join("\n");
            format!("facet normal 0 0 0\nouter loop\n{corners}\nendloop\nendfacet\n")
        })
        .collect();
    std::fs::write(file, format!("solid box\n{facets}endsolid box\n")).expect("written");
}

/// A demo scene in a folder of its own, with what it names; its meshes are beside it.
fn own_copy(name: &str) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("scene.ron");
    let text = std::fs::read_to_string(scene(name)).expect("read");
    let assets = Path::new(env!("CARGO_MANIFEST_DIR")).join("assets");
    let text = text.replace("../assets", &assets.display().to_string());
    std::fs::write(&path, text).expect("written");
    (folder, path)
}

fn drop_file(app: &mut App, file: &Path) {
    app.world_mut().write_message(FileDragAndDrop::DroppedFile {
        window: Entity::PLACEHOLDER,
        path_buf: file.to_owned(),
    });
    // The second frame looks for what the first began.
    app.update();
    run_until(app, "the file read", |w| {
        !w.resource::<PartLoading>().is_reading()
    });
}

#[test]
fn a_dropped_part_keeps_the_scenes_comments_and_can_be_taken_back() {
    let (folder, path) = own_copy("tarnwood");
    let mut app = app(&path);
    let file = folder.path().join("brake_tab.stl");
    write_box(&file, [2.0, 1.5, 0.25]);
    drop_file(&mut app, &file);
    assert_eq!(app.world().resource::<Shown>().page, Page::Room);
    let mut loading = app.world_mut().resource_mut::<PartLoading>();
    let offer = loading.offer.as_mut().expect("an offer");
    assert_eq!(
        (offer.name.as_str(), offer.unit),
        ("brake tab", Some(MeshUnit::Inch))
    );
    let off = (0..3).map(|k| (offer.size[k] - [2.0, 1.5, 0.25][k]).abs());
    assert!(off.fold(0.0, f64::max) < 1.0e-6 && offer.triangles == 12);
    offer.on = Body::LowerArm;
    let mut choice = PartChoice::default();
    let mut loading = app
        .world_mut()
        .remove_resource::<PartLoading>()
        .expect("it is there");
    let mut document = app.world_mut().resource_mut::<Document>();
    let before = document.text().to_owned();
    loading.add(&mut document, &mut choice);
    assert_eq!(document.problem(), None);
    assert_eq!(choice.picked.as_deref(), Some("brake tab"));
    let parts = &document.corner().parts;
    let part = parts
        .iter()
        .find(|p| p.name == "brake tab")
        .expect("a part");
    assert_eq!(part.body, Body::LowerArm);
    let reach = part.surface.vertices.iter().map(|v| v.norm());
    assert!(reach.fold(0.0, f64::max) > 25.0, "inches are told from mm");
    // Every line of before is there still, and one more.
    let after = document.text().to_owned();
    let mut rest = after.lines();
    assert!(before.lines().all(|line| rest.any(|l| l == line)));
    assert_eq!(after.lines().count(), before.lines().count() + 1);
    assert!(
        after.contains("file: \"brake_tab.stl\""),
        "named as seen from the scene"
    );
    document.undo();
    assert_eq!(document.text(), before);
    document.redo();
    assert_eq!(document.text(), after);
    let saved = folder.path().join("with_tab.ron");
    document.save_as(&saved, false).expect("saved");
    bindpoint::truck::load(&saved).expect("a scene like any other");
}

#[test]
fn a_file_that_is_no_mesh_is_told_and_changes_nothing() {
    let (folder, path) = own_copy("crake");
    let mut app = app(&path);
    let before = app.world().resource::<Document>().text().to_owned();
    let text = folder.path().join("notes.txt");
    std::fs::write(&text, "a bracket").expect("written");
    let garbage = folder.path().join("garbage.stl");
    std::fs::write(&garbage, [7_u8; 300]).expect("written");
    let empty = folder.path().join("empty.stl");
    std::fs::write(&empty, "").expect("written");
    for file in [text, garbage, empty, folder.path().join("missing.stl")] {
        drop_file(&mut app, &file);
        let loading = app.world().resource::<PartLoading>();
        let problem = loading.problem().expect("a problem");
        assert!(problem.contains(&*file.file_name().expect("named").to_string_lossy()));
        assert_eq!(loading.offer, None);
    }
    assert_eq!(app.world().resource::<Document>().text(), before);
    // A part in the wrong unit is told like any mistake in the scene.
    let huge = folder.path().join("huge.stl");
    write_box(&huge, [900.0, 20.0, 20.0]);
    let mut loading = PartLoading::default();
    let offer = Offer::read(&huge).expect("a mesh");
    assert_eq!(offer.unit, Some(MeshUnit::Mm));
    loading.offer = Some(Offer {
        unit: Some(MeshUnit::Inch),
        ..offer
    });
    let mut document = app.world_mut().resource_mut::<Document>();
    loading.add(&mut document, &mut PartChoice::default());
    let problem = document.problem().expect("a problem");
    assert!(problem.contains("unit"), "{problem}");
    document.undo();
    assert_eq!(
        (document.problem(), document.text()),
        (None, before.as_str())
    );
}

/// Where a part's corners are, body coordinates, mm.
fn corners(document: &Document, name: &str) -> Vec<Vector3<f64>> {
    let parts = &document.corner().parts;
    let part = parts.iter().find(|p| p.name == name).expect("a part");
    let surface = &part.surface;
    (0..surface.vertices.len())
        .map(|v| surface.vertex_in_body(v))
        .collect()
}

fn middle(corners: &[Vector3<f64>]) -> Vector3<f64> {
    let (low, high) = corners
        .iter()
        .fold((corners[0], corners[0]), |(l, h), c| (l.inf(c), h.sup(c)));
    (low + high) * 0.5
}

/// Straight at a point, along a direction.
fn looking_at(point: Vector3<f64>, along: Vector3<f64>) -> Sight {
    Sight {
        from: point - along * 700.0,
        along,
    }
}

/// Drags a handle of a part from one line of sight to another, by way of a third.
fn drag(document: &mut Document, name: &str, handle: Handle, sights: [Sight; 2]) -> Isometry3<f64> {
    let at = middle(&corners(document, name));
    let mut placing = Placing::default();
    placing.look_at(document);
    placing.take(name, at, handle, &sights[0]);
    placing.drag(&looking_at(at, Vector3::new(0.3, 0.5, -0.8)));
    placing.drag(&sights[1]);
    let motion = placing.motion_of(name).expect("held");
    placing.let_go(document);
    motion
}

fn moved_by(before: &[Vector3<f64>], after: &[Vector3<f64>], motion: &Isometry3<f64>) -> f64 {
    before
        .iter()
        .zip(after)
        .map(|(b, a)| (motion * Point3::from(*b) - Point3::from(*a)).norm())
        .fold(0.0, f64::max)
}

#[test]
fn a_drag_writes_what_typing_writes_and_the_part_goes_where_the_hand_had_it() {
    let (folder, path) = own_copy("tarnwood");
    let file = folder.path().join("tab.stl");
    write_box(&file, [60.0, 40.0, 6.0]);
    let mut document = Document::open(&path).expect("opens");
    let mut loading = PartLoading::default();
    loading.offer = Some(Offer::read(&file).expect("a mesh"));
    loading.add(&mut document, &mut PartChoice::default());
    let mut placing = Placing::default();
    placing.look_at(&document);
    let shape = placing.part("tab").expect("a mesh part").shape.clone();
    let mut typed = Document::open(&path).expect("opens");
    loading.offer = Some(Offer::read(&file).expect("a mesh"));
    loading.add(&mut typed, &mut PartChoice::default());
    assert_eq!(typed.text(), document.text());

    // An arrow: along y, seen from above and a little behind.
    let before = corners(&document, "tab");
    let at = middle(&before);
    let slant = Vector3::new(0.2, 0.1, -0.9).normalize();
    let sights = [0.0, 123.44].map(|y| looking_at(at + Vector3::new(0.0, 30.0 + y, 0.0), slant));
    let undone = document.text().to_owned();
    let motion = drag(&mut document, "tab", Handle::Arrow(1), sights);
    assert!((motion.translation.vector - Vector3::new(0.0, 123.4, 0.0)).norm() < 1.0e-9);
    assert!(moved_by(&before, &corners(&document, "tab"), &motion) < 1.0e-9);
    typed.change_number(&format!("{shape}.at[1]"), 123.4);
    assert_eq!(typed.text(), document.text());
    document.undo();
    assert_eq!(document.text(), undone, "a drag is one step");
    document.redo();

    // A ring: a quarter and a bit about z, seen from above; the middle stays.
    let before = corners(&document, "tab");
    let at = middle(&before);
    let down = -Vector3::z();
    let on_ring = |deg: f64| {
        let (sin, cos) = deg.to_radians().sin_cos();
        looking_at(at + Vector3::new(50.0 * cos, 50.0 * sin, 0.0), down)
    };
    let motion = drag(
        &mut document,
        "tab",
        Handle::Ring(2),
        [on_ring(170.0), on_ring(-69.98)],
    );
    let after = corners(&document, "tab");
    assert!((middle(&after) - at).norm() < 1.0e-3);
    assert!(moved_by(&before, &after, &motion) < 1.0e-2);
    let turn = UnitQuaternion::from_axis_angle(&Vector3::z_axis(), 120.0_f64.to_radians());
    assert!(motion.rotation.angle_to(&turn) < 1.0e-9);
    let goes = at - turn * (at - Vector3::new(0.0, 123.4, 0.0));
    for (field, value) in [
        ("at[0]", goes.x),
        ("at[1]", goes.y),
        ("at[2]", goes.z),
        ("turned_deg[2]", 120.0),
    ] {
        let value = (value * 1.0e4).round() / 1.0e4;
        typed.change_number(&format!("{shape}.{field}"), value);
    }
    assert_eq!(typed.text(), document.text());

    // A part whose text has no place gets one; a ring seen from its edge can't be held.
    let before = corners(&document, "crossmember");
    let at = middle(&before);
    let sights = [0.0, 20.0].map(|x| looking_at(at + Vector3::new(x, 0.0, 0.0), down));
    let motion = drag(&mut document, "crossmember", Handle::Arrow(0), sights);
    assert!(
        document
            .text()
            .contains("tarnwood_crossmember.stl\", unit: mm, at: (20, 0, 0))")
    );
    assert!(moved_by(&before, &corners(&document, "crossmember"), &motion) < 1.0e-9);
    placing.look_at(&document);
    placing.take("crossmember", at, Handle::Ring(0), &sights[0]);
    assert_eq!(placing.held(), None);
}

#[test]
fn a_part_on_the_mirrored_side_goes_where_the_hand_has_it_too() {
    // Its two sides differ: both are built.
    let (folder, path) = own_copy("hollin");
    let file = folder.path().join("tab.stl");
    write_box(&file, [3.0, 2.0, 0.25]);
    let mut document = Document::open(&path).expect("opens");
    let mut loading = PartLoading::default();
    loading.offer = Some(Offer::read(&file).expect("a mesh"));
    loading.add(&mut document, &mut PartChoice::default());
    assert_eq!(document.truck().corners.len(), 2);
    document.look_at_corner(1);
    for (handle, sights) in [
        (Handle::Arrow(1), [[0.0, 0.0, 0.0], [0.0, 90.0, 0.0]]),
        (Handle::Ring(2), [[40.0, 0.0, 0.0], [30.0, 20.0, 0.0]]),
        (Handle::Ring(1), [[40.0, 0.0, 0.0], [30.0, 0.0, 20.0]]),
        (Handle::Ring(0), [[0.0, 40.0, 0.0], [0.0, 20.0, 30.0]]),
    ] {
        let before = corners(&document, "tab");
        let at = middle(&before);
        let along = Vector3::new(0.4, 0.5, -0.7).normalize();
        let sights = sights.map(|p| looking_at(at + Vector3::from(p), along));
        let motion = drag(&mut document, "tab", handle, sights);
        let off = moved_by(&before, &corners(&document, "tab"), &motion);
        // Numbers are written to a tenth of a thousandth of an inch and of a degree.
        assert!(off < 0.02, "{handle:?}: {off}");
    }
}
