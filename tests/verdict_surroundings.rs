//! What stands around the verdict: parts that setups move, the search's own ends, both sides of the truck, and what an end on
//! a turning body hides. Each was CLEAR, or "kept", where something was violated.
//!
//! Source: README.md (verdict, exit statuses) and the scene format; places and gaps by construction, worked out in each test.

use assert_cmd::cargo::cargo_bin_cmd;
use bindpoint::clearance::{Part, placement};
use bindpoint::findings::{Status, StopId, SweepFindings, Undecided};
use bindpoint::scene::{Problem, Scene};
use bindpoint::suspension::Side;
use bindpoint::sweep::{SweepOptions, status, sweep};
use bindpoint::truck::{Corner, MeshStore, Truck, assemble_setup};
use nalgebra::{Rotation3, Vector3};
use small_scene::{Draft, ball, cuboid};
use std::path::{Path, PathBuf};

mod dice;
mod small_scene;

type V = Vector3<f64>;

fn built(scene: &Scene, setup: Option<&str>) -> Result<Truck, Problem> {
    assemble_setup(scene, setup, &MeshStore::new(Path::new("scenes")))
}

fn truck(draft: &Draft, setup: Option<&str>) -> Truck {
    built(&draft.scene("small"), setup).unwrap_or_else(|problem| panic!("{problem:?}"))
}

fn refused(draft: &Draft) -> Problem {
    match built(&draft.scene("small"), None) {
        Err(problem) => problem,
        Ok(_) => panic!("it was built"),
    }
}

fn swept(truck: &Truck, without: &[StopId]) -> SweepFindings {
    let options = SweepOptions {
        rack_positions: 3,
        without: without.to_vec(),
        ..SweepOptions::default()
    };
    sweep(truck, &options, &|_, _| {})
}

fn verdict(draft: &Draft, setup: Option<&str>) -> Status {
    status(&swept(&truck(draft, setup), &[]))
}

fn part<'c>(corner: &'c Corner, name: &str) -> &'c Part {
    let mut parts = corner.parts.iter();
    parts
        .find(|p| p.name == name)
        .unwrap_or_else(|| panic!("{name} is drawn"))
}

/// A truck with stops at both ends of its travel and something harmless that is watched.
fn with_stops() -> Draft {
    let mut draft = Draft::new();
    (draft.extended, draft.compressed) = (500.0, 440.0);
    draft.damper_more = "bump_stop: (contact: 452, crushed: 448)".to_owned();
    draft.part(
        "far",
        "frame",
        "once",
        &ball(&V::new(0.0, 0.0, 3000.0), 5.0),
    );
    draft.watch("halfshaft", "far", 1.0);
    draft
}

fn setup(draft: &mut Draft, name: &str, changes: &str) {
    draft.more += &format!("setups: [(name: \"{name}\", changes: [{changes}])],\n");
}

// ---------------------------------------------------------------- parts where setups take them

/// A tube drawn between the new eyes stands between them, not turned once more.
#[test]
fn parts_of_another_damper_stand_where_they_are_drawn_between_its_eyes() {
    let mut draft = with_stops();
    let (upper, lower) = (V::new(-20.0, 470.0, 790.0), V::new(60.0, 600.0, 320.0));
    let at = |share: f64| upper + (lower - upper) * share;
    let point = |p: V| format!("({:?}, {:?}, {:?})", p.x, p.y, p.z);
    let tube = |name: &str, on: &str, from: f64, to: f64| {
        let (from, to) = (point(at(from)), point(at(to)));
        format!("(name: \"{name}\", on: {on}, shape: Capsule(from: {from}, to: {to}, radius: 20))")
    };
    let parts = [
        tube("rod", "damper_upper", 0.1, 0.4),
        tube("body", "damper_lower", 0.5, 0.9),
    ];
    let lower_mount = point(lower);
    setup(
        &mut draft,
        "moved foot",
        &format!(
            "Damper(longer: 0, lower_mount: {lower_mount}, parts: [{}])",
            parts.join(", ")
        ),
    );
    let truck = truck(&draft, Some("moved foot"));
    let corner = &truck.corners[0];
    let linkage = corner.positioner.place(0.0, 0.0).linkage;
    for (name, ends) in [("rod", [0.1, 0.4]), ("body", [0.5, 0.9])] {
        let part = part(corner, name);
        let there = placement(part, &linkage);
        for (vertex, end) in part.surface.vertices.iter().zip(ends) {
            let stands = there.origin + there.rotation * vertex;
            assert!(
                (stands - at(end)).norm() < 1.0e-6,
                "{name}: {stands} {}",
                at(end)
            );
        }
    }
}

#[test]
fn a_part_added_after_the_wheel_was_moved_out_goes_with_it() {
    let disc = "AddPart(part: (name: \"disc\", on: wheel, shape: Cylinder(from: (0, 755, 400), to: (0, 775, 400), radius: 150)))";
    let stands = |changes: &str| {
        let mut draft = with_stops();
        setup(&mut draft, "moved", changes);
        let truck = truck(&draft, Some("moved"));
        let surface = &part(&truck.corners[0], "disc").surface;
        let corners = (0..surface.vertices.len()).map(|i| surface.vertex_in_body(i));
        corners.sum::<V>() / surface.vertices.len() as f64
    };
    let before = stands(&format!("{disc}, WheelOffset(outboard: -40)"));
    let after = stands(&format!("WheelOffset(outboard: -40), {disc}"));
    assert!((before - after).norm() < 1.0e-9, "{before} {after}");
    assert!((after.y - (765.0 - 40.0)).abs() < 1.0e-6, "{after}");
}

#[test]
fn a_drawn_rim_takes_another_rims_size() {
    let mut draft = with_stops();
    let lathe =
        |profile: &str| format!("Lathe(from: (0, 815, 400), axis: (0, 1, 0), profile: {profile})");
    draft.part(
        "tyre",
        "wheel",
        "each_side",
        &lathe("[(-120, 230), (120, 230), (120, 400), (-120, 400)]"),
    );
    draft.part(
        "rim",
        "wheel",
        "each_side",
        &lathe("[(-112, 208), (112, 208), (112, 228), (-112, 228)]"),
    );
    draft.more += "tyre: (size: Code(\"265/70R17\")),\n";
    setup(&mut draft, "r16", "Tyre(size: Code(\"265/75R16\"))");
    let inside = |name: Option<&str>| {
        let truck = truck(&draft, name);
        let surface = part(&truck.corners[0], "rim").surface.clone();
        let radius = |i: usize| {
            let p = surface.vertex_in_body(i);
            (p.x).hypot(p.z - 400.0)
        };
        (0..surface.vertices.len())
            .map(radius)
            .fold(f64::INFINITY, f64::min)
    };
    let share = inside(Some("r16")) / inside(None);
    assert!((share - 16.0 / 17.0).abs() < 1.0e-6, "{share}");
}

#[test]
fn a_part_on_the_front_driveshaft_goes_down_with_the_pinion_and_is_met_on_both_sides() {
    let mut draft = with_stops();
    draft.more += "front_driveshaft: (transfer_case: (-900, 30, 450), transfer_case_axis: (1, 0, 0), pinion: (-250, 30, 450),
        pinion_axis: (1, 0, 0), joint_at_transfer_case: cardan, joint_at_pinion: cardan, joint_limit_deg: 20),
        differential: (front_mounts: [(100, 100, 500), (100, -100, 500)], rear_mounts: [(-100, 0, 500)]),\n";
    draft.part(
        "tube",
        "front_driveshaft",
        "left",
        "Capsule(from: (-880, 30, 450), to: (-270, 30, 450), radius: 20)",
    );
    setup(&mut draft, "drop", "DifferentialDrop(by: 32)");
    let truck = truck(&draft, Some("drop"));
    assert_eq!(truck.corners.len(), 2, "it lies unevenly");
    for corner in &truck.corners {
        let tube = &part(corner, "tube").surface;
        let pinion_end = (0..tube.vertices.len())
            .map(|i| tube.vertex_in_body(i))
            .max_by(|a, b| a.x.total_cmp(&b.x))
            .expect("two ends");
        assert!((pinion_end.z - (450.0 - 32.0)).abs() < 2.0, "{pinion_end}");
    }
}

/// The scene's own differential stands lower than it was drawn: what that brings together is found as in a setup.
#[test]
fn a_differential_that_the_scene_itself_lowers_meets_the_cross_member() {
    for (drop, expected) in [(0.0, Status::Clear), (32.0, Status::Found)] {
        let mut draft = with_stops();
        let at = |z: f64| {
            cuboid(
                &V::new(0.0, 0.0, z),
                &V::new(100.0, 100.0, 40.0),
                &Rotation3::identity(),
            )
        };
        draft.part("housing", "differential", "once", &at(450.0));
        draft.part("cross member", "frame", "once", &at(390.0));
        draft.more += &format!(
            "differential: (front_mounts: [(100, 100, 500), (100, -100, 500)], rear_mounts: [(-100, 0, 500)], drop: {drop:?}),\n"
        );
        assert_eq!(verdict(&draft, None), expected, "{drop}");
    }
}

// ---------------------------------------------------------------- the search's own ends

fn run(arguments: &[&str]) -> (i32, String) {
    let output = cargo_bin_cmd!("bindpoint")
        .args(arguments)
        .env("NO_COLOR", "1")
        .output()
        .expect("bindpoint starts");
    let text = |bytes: &[u8]| {
        String::from_utf8_lossy(bytes)
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ")
    };
    let said = text(&output.stdout) + &text(&output.stderr);
    assert!(!said.contains("panicked"), "{said}");
    (output.status.code().expect("it ends by itself"), said)
}

fn written(draft: &Draft) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("scene.ron");
    std::fs::write(&path, draft.text("small")).expect("written");
    (folder, path)
}

#[test]
fn every_command_says_where_the_search_ended_before_a_stop() {
    let draft = |bump: f64| {
        let mut draft = with_stops();
        draft.search = [140.0, bump];
        let lathe = "Lathe(from: (0, 815, 400), axis: (0, 1, 0), profile: [(-120, 228), (120, 228), (125, 401.4), (-125, 401.4)])";
        draft.part("tyre", "wheel", "each_side", lathe);
        draft.part(
            "tower",
            "frame",
            "each_side",
            &cuboid(
                &V::new(0.0, 800.0, 950.0),
                &V::new(200.0, 200.0, 20.0),
                &Rotation3::identity(),
            ),
        );
        draft.watch("tyre", "*", 2.0);
        draft.more += "tyre: (size: Code(\"265/70R17\")),\n";
        draft
    };
    for (bump, ended) in [(120.0, false), (20.0, true)] {
        let (folder, path) = written(&draft(bump));
        let scene = path.display().to_string();
        let solid = folder.path().join("solid.stl").display().to_string();
        let questions: [&[&str]; 4] = [
            &["sweep", &scene],
            &["tyre", &scene],
            &["clearance", &scene, "--part", "tower", "--gap", "1"],
            &[
                "keepout",
                &scene,
                "--parts",
                "halfshaft",
                "--out",
                &solid,
                "--resolution",
                "20",
            ],
        ];
        for question in questions {
            let (code, said) = run(question);
            assert_eq!(
                said.contains("the search ended in bump"),
                ended,
                "{question:?}: {said}"
            );
            assert_eq!(code == 2, ended, "{question:?}: {said}");
        }
    }
}

/// A stop of the other direction, taken off, excuses nothing.
#[test]
fn a_bump_stop_taken_off_says_nothing_of_droop() {
    let mut draft = with_stops();
    draft.extended = 2000.0;
    let truck = truck(&draft, None);
    let bump_stop = StopId::Limit {
        id: bindpoint::limits::LimitId::BumpStopCrushed,
    };
    let found = swept(&truck, &[bump_stop]);
    assert_eq!(status(&found), Status::NotChecked);
    let droop = |why: &Undecided| matches!(why, Undecided::SearchEnded { direction, .. } if direction.name() == "droop");
    assert!(
        found.worse.undecided.iter().any(droop),
        "{:?}",
        found.worse.undecided
    );
}

// ---------------------------------------------------------------- both sides

#[test]
fn what_reaches_across_the_middle_is_undecided_and_meets_the_other_sides_frame() {
    // The left lower arm has a leg that ends 100 mm beyond the middle.
    let leg = "Capsule(from: (-190, 335, 335), to: (-190, -100, 335), radius: 17)";
    let mut draft = with_stops();
    draft.part("leg", "lower_arm", "each_side", leg);
    draft.watch("leg", "*", 1.0);
    assert_eq!(verdict(&draft, None), Status::NotChecked);
    let post = cuboid(
        &V::new(-190.0, -80.0, 335.0),
        &V::from_element(30.0),
        &Rotation3::identity(),
    );
    draft.part("post", "frame", "right", &post);
    let found = swept(&truck(&draft, None), &[]);
    assert_eq!(status(&found), Status::Found);
    // The rack is one for both sides: the left one's bar is met by the right arm.
    let mut draft = with_stops();
    let bar = "Capsule(from: (-150, 300, 330), to: (-150, -450, 330), radius: 15)";
    draft.part("bar", "rack", "left", bar);
    draft.part(
        "right leg",
        "lower_arm",
        "right",
        "Capsule(from: (-190, -335, 335), to: (8, -700, 295), radius: 17)",
    );
    draft.watch("bar", "right leg", 1.0);
    assert_eq!(verdict(&draft, None), Status::Found);
    let truck = truck(&draft, None);
    let right = truck.corner(Side::Right).expect("both sides are built");
    assert!(right.parts.iter().any(|p| p.name == "bar"));
}

#[test]
fn a_part_fitted_once_is_not_replaced_by_a_namesake_of_the_other_side() {
    let mut draft = with_stops();
    let skid = ball(&V::new(0.0, 0.0, 200.0), 20.0);
    draft.part("skid", "frame", "once", &skid);
    draft.more += &format!("other_side: (parts: [(name: \"skid\", on: frame, shape: {skid})]),\n");
    let problem = refused(&draft);
    assert_eq!(problem.path, "other_side.parts[0].name");
    assert!(problem.what.contains("fitted once"), "{problem:?}");
}

#[test]
fn joined_says_nothing_of_the_other_sides_namesake_that_reaches_over() {
    let mut draft = with_stops();
    // Its mirror image hits this side's halfshaft.
    let brace = ball(&V::new(0.0, -450.0, 410.0), 20.0);
    draft.part("brace", "frame", "each_side", &brace);
    draft.watch("halfshaft", "brace", 3.0);
    draft.more +=
        "joined: [(a: \"halfshaft\", b: \"brace\", why: \"far apart on their own side\")],\n";
    assert_eq!(verdict(&draft, None), Status::Found);
}

// ---------------------------------------------------------------- ends that turn, tyres drawn small

#[test]
fn a_hose_doesnt_end_on_what_turns_or_rolls() {
    let hose = |on: &str, at: &str| {
        let mut draft = with_stops();
        draft.more += &format!(
            "hoses: [(name: \"hose\", ends: ((on: frame, at: (0, 400, 700)), (on: {on}, at: {at})), longest: 600)],\n"
        );
        draft
    };
    let problem = refused(&hose("wheel", "(0, 800, 600)"));
    assert_eq!(problem.path, "hoses[0].ends[1].on");
    let problem = refused(&hose("damper_lower", "(40, 560, 425)"));
    assert!(problem.help.contains("HeldBy"), "{problem:?}");
    // On the line that it rolls about an end stays where it is; on a damper that is held too.
    assert_eq!(
        verdict(&hose("damper_lower", "(10, 560, 325)"), None),
        Status::Clear
    );
    let mut held = hose("damper_lower", "(40, 560, 425)");
    held.damper_more += ", roll: HeldBy(\"bushed eyes at both ends\")";
    assert_eq!(verdict(&held, None), Status::Clear);
}

#[test]
fn a_tyre_drawn_smaller_than_its_size_is_not_scaled_from_that() {
    let mut draft = with_stops();
    let lathe = "Lathe(from: (0, 815, 400), axis: (0, 1, 0), profile: [(-120, 228), (120, 228), (125, 360), (-125, 360)])";
    draft.part("tyre", "wheel", "each_side", lathe);
    draft.watch("tyre", "*", 2.0);
    draft.more += "tyre: (size: Code(\"265/70R17\")),\n";
    let (_folder, path) = written(&draft);
    let (code, said) = run(&["tyre", &path.display().to_string()]);
    assert_eq!(code, 2, "{said}");
    assert!(said.contains("the tyre is drawn 720 mm"), "{said}");
}

/// A post on the knuckle, beside the tyre, that no entry of `watch` names.
#[test]
fn a_wider_tyre_is_asked_against_the_knuckle_unnamed() {
    let mut draft = with_stops();
    let lathe = "Lathe(from: (0, 815, 400), axis: (0, 1, 0), profile: [(-120, 228), (120, 228), (125, 401.4), (-125, 401.4)])";
    draft.part("tyre", "wheel", "each_side", lathe);
    draft.part(
        "post",
        "knuckle",
        "each_side",
        &cuboid(
            &V::new(0.0, 670.0, 760.0),
            &V::new(40.0, 20.0, 60.0),
            &Rotation3::identity(),
        ),
    );
    draft.watch("tyre", "far", 2.0);
    draft.more += "tyre: (size: Code(\"265/70R17\")),\n";
    let (_folder, path) = written(&draft);
    let (code, said) = run(&["tyre", &path.display().to_string(), "--width", "340"]);
    assert_eq!(code, 1, "{said}");
}

// ---------------------------------------------------------------- chains of setups, and the other side's own eyes

/// A tyre with a wheel moved in, and a change after it that brings a disc on the wheel: both ways round it stands alike.
#[test]
fn parts_that_come_with_a_change_after_the_wheel_was_moved_go_with_it() {
    let disc = "(name: \"disc\", on: wheel, shape: Cylinder(from: (0, 755, 400), to: (0, 775, 400), radius: 150))";
    let stands = |changes: &str| {
        let mut draft = with_stops();
        setup(&mut draft, "moved", changes);
        let truck = truck(&draft, Some("moved"));
        let surface = &part(&truck.corners[0], "disc").surface;
        let corners = (0..surface.vertices.len()).map(|i| surface.vertex_in_body(i));
        corners.sum::<V>() / surface.vertices.len() as f64
    };
    for change in [
        format!("LowerArm((parts: [{disc}]))"),
        format!("TieRodEnd(parts: [{disc}])"),
    ] {
        let before = stands(&format!("{change}, WheelOffset(outboard: -40)"));
        let after = stands(&format!("WheelOffset(outboard: -40), {change}"));
        assert!(
            (before - after).norm() < 1.0e-9,
            "{change}: {before} {after}"
        );
    }
    let mut draft = with_stops();
    setup(
        &mut draft,
        "undone",
        "WheelOffset(outboard: -35), Knuckle(wheel_centre: (0, 815, 420))",
    );
    let problem =
        built(&draft.scene("small"), Some("undone")).expect_err("the offset would be lost");
    assert!(
        problem
            .what
            .contains("an offset of the wheel comes before it"),
        "{problem:?}"
    );
}

/// What a change brings again unchanged is there once.
#[test]
fn a_part_given_again_as_it_is_stays_one() {
    let mut draft = with_stops();
    let leg = "Capsule(from: (-190, 335, 335), to: (-14, 678, 295), radius: 17)";
    draft.part("leg", "lower_arm", "each_side", leg);
    setup(
        &mut draft,
        "same",
        &format!(
            "LowerArm((parts: [(name: \"leg\", on: lower_arm, fitted: each_side, shape: {leg})]))"
        ),
    );
    let truck = truck(&draft, Some("same"));
    let legs = truck.corners[0].parts.iter().filter(|p| p.name == "leg");
    assert_eq!(legs.count(), 1);
}

#[test]
fn a_hoses_end_on_the_tie_rod_goes_with_another_tie_rod_end() {
    let mut draft = with_stops();
    draft.more += "hoses: [(name: \"hose\", ends: ((on: frame, at: (-140, 685, 500)), (on: tie_rod, at: (-140, 685, 372))), longest: 400)],\n";
    setup(&mut draft, "end", "TieRodEnd(outer: (-140, 685, 342))");
    let length = |setup: Option<&str>| {
        let truck = truck(&draft, setup);
        let corner = &truck.corners[0];
        let linkage = corner.positioner.place(0.0, 0.0).linkage;
        let hose = corner
            .limits
            .iter()
            .find(|l| l.name().starts_with("hose"))
            .expect("it is there");
        hose.reading(&linkage).value
    };
    // The rod's end stands 128 mm below the frame's, and 30 mm lower with the other one.
    assert!((length(None) - 128.0).abs() < 1.0e-6);
    assert!((length(Some("end")) - 158.0).abs() < 1.0e-6);
}

/// Nothing crosses the middle as measured, but the rods do at one lock.
#[test]
fn what_steering_takes_to_the_middle_is_undecided() {
    for (from_middle, expected) in [(300.0, Status::Clear), (40.0, Status::NotChecked)] {
        let mut draft = with_stops();
        let foot = ball(&V::new(-135.0, from_middle, 396.0), 10.0);
        draft.part("damper foot", "tie_rod", "each_side", &foot);
        draft.watch("damper foot", "far", 2.0);
        assert_eq!(verdict(&draft, None), expected, "{from_middle}");
    }
}

#[test]
fn a_mesh_whose_holes_miss_their_places_is_refused() {
    let folder = tempfile::tempdir().expect("a folder");
    let mesh = folder.path().join("plate.obj");
    let corners = "v 0 0 0\nv 100 0 0\nv 0 100 0\nv 0 0 10\n";
    std::fs::write(
        &mesh,
        format!("{corners}f 1 3 2\nf 1 2 4\nf 2 3 4\nf 3 1 4\n"),
    )
    .expect("written");
    let with_hole = |x: f64| {
        let mut draft = with_stops();
        draft.part(
            "plate",
            "frame",
            "once",
            &format!(
                "Mesh(file: \"{}\", unit: mm, holes: [((0, 0, 0), (0, 0, 900)), ((100, 0, 0), ({x:?}, 0, 900)), ((0, 100, 0), (0, 100, 900))])",
                mesh.display()
            ),
        );
        built(&draft.scene("small"), None)
    };
    assert!(with_hole(101.0).is_ok());
    let problem = with_hole(140.0).expect_err("a hole misses");
    assert!(
        problem.what.contains("a hole misses its place by"),
        "{problem:?}"
    );
}
