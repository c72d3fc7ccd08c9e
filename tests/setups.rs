//! Setups: changes made on a scene do what they say, and nothing else.
//!
//! Sources: common practice, no source (marked so); ISO metric tyre marking (diameter = 25.4 rim + 2 width
//! aspect / 100); otherwise the scene without the change.

use bindpoint::compare::clearance_over_front_tyre;
use bindpoint::scene::{
    ArmChange, Change, Fitted, HangsFrom, PartEntry, Point, Problem, RaisedBy, Scene, Setup,
    ShapeEntry, Spacer, SpacerEffect, TyreSize, Wheels, scene_from_text,
};
use bindpoint::setups::{setup_names, with_setup};
use bindpoint::suspension::{Body, Side};
use bindpoint::sweep::{SweepOptions, sweep};
use bindpoint::truck::{Corner, MeshStore, Truck, assemble_setup};
use std::path::PathBuf;

const SCENES: [&str; 3] = ["tarnwood", "hollin", "crake"];

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("scenes")
}

fn scene(name: &str) -> Scene {
    let path = folder().join(format!("{name}.ron"));
    let text = std::fs::read_to_string(&path).expect("a demo scene");
    scene_from_text(&text, &path).unwrap_or_else(|e| panic!("{name}: {e}"))
}

fn meshes() -> MeshStore {
    MeshStore::new(&folder())
}

fn built(scene: &Scene, setup: Option<&str>) -> Truck {
    assemble_setup(scene, setup, &meshes()).unwrap_or_else(|p| panic!("{setup:?}: {p:?}"))
}

/// The scene with one more setup, `tried`, of these changes.
fn with_changes(name: &str, changes: Vec<Change>) -> Scene {
    let mut scene = scene(name);
    scene.setups.push(Setup {
        name: "tried".to_owned(),
        on: None,
        changes,
    });
    scene
}

fn tried(name: &str, changes: Vec<Change>) -> Truck {
    built(&with_changes(name, changes), Some("tried"))
}

fn refused(scene: &Scene, setup: &str) -> Problem {
    match assemble_setup(scene, Some(setup), &meshes()) {
        Err(problem) => problem,
        Ok(_) => panic!("{setup} was built"),
    }
}

fn longer_damper(mm: f64) -> Change {
    Change::Damper {
        side: None,
        longer: Some(mm),
        body_gains: None,
        extended: None,
        compressed: None,
        upper_mount: None,
        lower_mount: None,
        upper_eye: None,
        lower_eye: None,
        parts: Vec::new(),
    }
}

fn full_droop(corner: &Corner) -> f64 {
    let limit = |name: &str| corner.limits.iter().find(|l| l.name() == name);
    let measured = corner.positioner.place(0.0, 0.0);
    let extended = limit("damper extended")
        .map(|l| l.reading(&measured.linkage).limit)
        .expect("a damper");
    corner
        .positioner
        .travel_at_damper_length(extended, 0.0)
        .expect("the damper hangs somewhere")
}

fn inner_deg(corner: &Corner, travel_mm: f64) -> f64 {
    let position = corner.position(travel_mm, 0.0).expect("within reach");
    position.linkage.inner_cos.acos().to_degrees()
}

fn near(what: &str, got: f64, expected: f64, tolerance: f64) {
    assert!(
        (got - expected).abs() <= tolerance,
        "{what}: {got}, expected {expected} +- {tolerance}"
    );
}

/// A part's corner points, vehicle coordinates at the measured position.
fn vertices(corner: &Corner, part: &str) -> Vec<nalgebra::Vector3<f64>> {
    let part = corner.parts.iter().find(|p| p.name == part).expect(part);
    (0..part.surface.vertices.len())
        .map(|i| part.surface.vertex_in_body(i))
        .collect()
}

#[test]
fn an_empty_setup_changes_nothing() {
    for name in SCENES {
        let scene = with_changes(name, Vec::new());
        let (plain, empty) = (built(&scene, None), built(&scene, Some("tried")));
        let options = SweepOptions {
            rack_positions: 3,
            ..SweepOptions::default()
        };
        let quiet = |_: &str, _: f64| {};
        let mut a = sweep(&plain, &options, &quiet);
        let mut b = sweep(&empty, &options, &quiet);
        assert_eq!(b.truck, format!("{} (tried)", a.truck));
        a.truck.clear();
        b.truck.clear();
        // How many questions were asked may differ between runs on several threads; the answers not.
        for found in [&mut a, &mut b] {
            found.worse.guard.distance_queries = 0;
            if let Some(other) = &mut found.other {
                other.guard.distance_queries = 0;
            }
        }
        assert_eq!(a, b, "{name}");
    }
}

#[test]
fn the_order_of_independent_changes_does_not_matter() {
    let changes = vec![
        longer_damper(20.0),
        Change::UpperArm(ArmChange {
            ball_joint: Some(Point(-30.0, 664.0, 684.0)),
            ..ArmChange::default()
        }),
        Change::DifferentialSpacers { thickness: 15.0 },
        Change::DifferentialDrop { by: 10.0 },
        Change::Tyre {
            size: TyreSize::Code("285/70R17".to_owned()),
            loaded_radius: None,
            wheels: Wheels::All,
        },
        Change::RideHeight {
            up: 12.5,
            by: RaisedBy::Preload,
        },
        Change::MovePart {
            side: None,
            name: "frame rail".to_owned(),
            by: Some(Point(0.0, -3.0, 0.0)),
            turned_deg: None,
            about: None,
        },
    ];
    let scene_of = |changes: Vec<Change>| {
        let scene = with_changes("tarnwood", changes);
        let mut made = with_setup(&scene, "tried").expect("it can be made");
        // What was asked for is in another order, of course.
        made.setups.clear();
        made
    };
    let first = scene_of(changes.clone());
    for turn in 1..changes.len() {
        let mut other = changes.clone();
        other.rotate_left(turn);
        if turn % 2 == 1 {
            other.reverse();
        }
        assert_eq!(scene_of(other), first, "rotated by {turn}");
    }
}

/// Common practice, no source: on a mid-size truck a 1 in longer damper takes the inner joint at full droop from
/// about 12 to about 17 degrees.
#[test]
fn an_inch_longer_damper_takes_full_droop_from_about_12_to_about_17_degrees() {
    let scene = scene("tarnwood");
    let angle = |setup: Option<&str>| {
        let truck = built(&scene, setup);
        let corner = &truck.corners[0];
        inner_deg(corner, full_droop(corner))
    };
    near("factory", angle(Some("factory")), 12.0, 1.0);
    near("an inch longer", angle(Some("long damper")), 17.0, 1.0);
}

/// Common practice, no source: preload trades droop for bump and leaves the full-droop joint angle alone.
#[test]
fn raising_by_preload_leaves_the_full_droop_angle_alone() {
    let scene = scene("tarnwood");
    let (plain, raised) = (built(&scene, None), built(&scene, Some("preload lift")));
    let (plain, raised) = (&plain.corners[0], &raised.corners[0]);
    assert_eq!(full_droop(plain), full_droop(raised));
    assert_eq!(
        inner_deg(plain, full_droop(plain)),
        inner_deg(raised, full_droop(raised))
    );
    near(
        "ride height",
        raised.ride_height_mm,
        plain.ride_height_mm - 30.0,
        1.0e-9,
    );
}

/// Common practice, no source: 1 in spacers under the front mounts lower the inner joint by 0.3 to 0.4 in and a
/// skid plate bolted to the same mounts by the whole inch; derived for this geometry: 4.34 degrees, 8.98 mm down,
/// 2.99 mm along x, the pinion's joint up by 10.7 mm.
#[test]
fn inch_spacers_turn_the_differential_about_its_rear_mount() {
    let plain = built(&scene("tarnwood"), None);
    let truck = tried(
        "tarnwood",
        vec![Change::DifferentialSpacers { thickness: 25.4 }],
    );
    near("turn", truck.housing.turned_deg(), 4.34, 0.005);
    near("oil level", truck.housing.tilt_deg(), 4.34, 0.005);
    assert_eq!(truck.corners.len(), 2);
    for corner in &truck.corners {
        let drop = corner.inner_joint_drop_mm();
        assert!((0.3..=0.4).contains(&(drop / 25.4)), "{drop}");
        near("inner joint down", drop, 8.98, 0.005);
        let linkage = &corner.positioner.linkage;
        let along = (linkage.hardpoints.inner_joint - linkage.own.halfshaft[0]).x;
        near("inner joint along x", along.abs(), 2.99, 0.005);
    }
    let pinion = |truck: &Truck| truck.front_driveshaft.as_ref().expect("a shaft").pinion.z;
    near("pinion up", pinion(&truck) - pinion(&plain), 10.7, 0.2);
    // The plate goes down by the whole spacer at the ears, stays at its rear bolts, and in proportion between:
    // a turn of a = atan(25.4 / 420) about them, whose rise and run differ from that by less than a^2.
    let plates = [&plain, &truck].map(|t| vertices(&t.corners[0], "skid plate"));
    let mut at_the_ears = 0;
    for (before, after) in plates[0].iter().zip(&plates[1]) {
        let lever = (before.x + 205.0) / 420.0;
        near("plate", before.z - after.z, 25.4 * lever, 0.3);
        if (before.x - 215.0).abs() < 20.0 {
            at_the_ears += 1;
        }
    }
    assert!(at_the_ears > 0);
}

/// Common practice, no source: an arm-type drop lowers the inner joint by more than an inch; derived for this
/// geometry: dropped by 32 with the inch longer damper, plunge at full droop goes to -17.8.
#[test]
fn an_arm_type_drop_lowers_the_whole_unit_and_costs_plunge() {
    let truck = built(&scene("tarnwood"), Some("differential drop"));
    assert_eq!(truck.housing.turned_deg(), 0.0);
    for corner in &truck.corners {
        let drop = corner.inner_joint_drop_mm();
        assert!(drop > 25.4, "{drop}");
        let position = corner
            .position(full_droop(corner), 0.0)
            .expect("within reach");
        near("plunge", position.linkage.plunge_mm, -17.8, 0.06);
    }
}

/// Half of a diameter gain becomes clearance; common practice, no source: about half an inch from 32 to 33 in.
#[test]
fn half_of_a_tyres_diameter_gain_becomes_clearance() {
    let clearance = |truck: &Truck| {
        clearance_over_front_tyre(&truck.corners[0])
            .expect("something hangs under the frame")
            .clearance_mm
    };
    let plain = clearance(&built(&scene("tarnwood"), None));
    let scene = scene("tarnwood");
    let bigger = clearance(&built(&scene, Some("285 tyres")));
    near("265/70R17 to 285/70R17", bigger - plain, 14.0, 1.0e-9);
    assert!((0.4..0.6).contains(&((bigger - plain) / 25.4)));
}

#[test]
fn a_tyre_part_takes_the_new_sizes_radius_and_width() {
    let scene = scene("tarnwood");
    let fitted = with_setup(&scene, "285 tyres").expect("it can be fitted");
    let outline = |scene: &Scene| {
        let tyre = scene
            .parts
            .iter()
            .find(|p| p.name == "tyre")
            .expect("a tyre");
        match &tyre.shape {
            ShapeEntry::Lathe { profile, .. } => profile.clone(),
            other => panic!("{other:?}"),
        }
    };
    let greatest = |profile: &[(f64, f64)], of: fn(&(f64, f64)) -> f64| {
        profile.iter().map(of).fold(f64::NEG_INFINITY, f64::max)
    };
    let (before, after) = (outline(&scene), outline(&fitted));
    near("radius", greatest(&after, |p| p.1), 830.8 / 2.0, 0.05);
    let wider = greatest(&after, |p| p.0) / greatest(&before, |p| p.0);
    near("width", wider, 285.0 / 265.0, 1.0e-9);
}

#[test]
fn a_damper_spacer_raises_the_body_and_only_a_top_spacer_moves_full_droop() {
    let spacer = |adds| {
        Change::DamperSpacer(
            Spacer {
                name: "tried".to_owned(),
                thickness: 10.0,
                adds,
            }
            .into(),
        )
    };
    let plain = built(&scene("tarnwood"), None);
    let plain = &plain.corners[0];
    let damper = |corner: &Corner| {
        let ride = corner.position(corner.ride_height_mm, 0.0);
        ride.expect("ride height").linkage.damper_mm
    };
    for (adds, droops) in [
        (SpacerEffect::PreloadOnly, false),
        (SpacerEffect::TotalLength, true),
    ] {
        let truck = tried("tarnwood", vec![spacer(adds)]);
        let corner = &truck.corners[0];
        // Newton's and the bisection's own tolerances are a thousand times smaller.
        near(
            "damper at ride",
            damper(corner) - damper(plain),
            10.0,
            1.0e-6,
        );
        assert!(corner.ride_height_mm < plain.ride_height_mm - 15.0);
        assert_eq!(full_droop(corner) < full_droop(plain) - 1.0, droops);
    }
}

#[test]
fn parts_keep_their_lengths_with_another_arm_knuckle_and_differential() {
    let truck = tried(
        "tarnwood",
        vec![
            Change::UpperArm(ArmChange {
                ball_joint: Some(Point(-30.0, 660.0, 685.0)),
                rear_pivot: Some(Point(-120.0, 446.0, 641.0)),
                ..ArmChange::default()
            }),
            Change::Knuckle {
                side: None,
                ball_joints: Some((Point(8.0, 722.0, 290.0), Point(-24.0, 670.0, 690.0))),
                wheel_centre: Some(Point(0.0, 820.0, 405.0)),
                spindle: None,
                tie_rod_outer: None,
                outer_joint: Some(Point(0.0, 702.0, 402.0)),
                steering_stop_deg: None,
                parts: Vec::new(),
            },
            Change::DifferentialSpacers { thickness: 20.0 },
        ],
    );
    let plain = built(&scene("tarnwood"), None);
    let measured = &plain.corners[0].positioner.linkage.hardpoints;
    let rod = (measured.tie_rod_outer - measured.tie_rod_inner).norm();
    let shaft = (measured.outer_joint - measured.inner_joint).norm();
    for corner in &truck.corners {
        let h = &corner.positioner.linkage.hardpoints;
        let upper = h.upper_arm().unwrap_or_else(|| panic!("no upper arm"));
        let arm = |p: nalgebra::Vector3<f64>| [(p - upper.front).norm(), (p - upper.rear).norm()];
        let arm_length = arm(upper.ball);
        let knuckle = (nalgebra::Vector3::new(8.0, 722.0, 290.0)
            - nalgebra::Vector3::new(-24.0, 670.0, 690.0))
        .norm();
        for travel_mm in [-90.0, -30.0, 0.0, 40.0] {
            for rack_mm in [-60.0, 0.0, 60.0] {
                let p = corner.position(travel_mm, rack_mm).expect("within reach");
                let l = &p.linkage;
                near("travel", p.travel_mm, travel_mm, 1.0e-9);
                near(
                    "knuckle",
                    (l.kingpin_top - l.lower_ball).norm(),
                    knuckle,
                    1.0e-9,
                );
                for (now, drawn) in arm(l.kingpin_top).iter().zip(arm_length) {
                    near("arm", *now, drawn, 1.0e-9);
                }
                near(
                    "rod",
                    (l.tie_rod_outer - l.tie_rod_inner).norm(),
                    rod,
                    1.0e-9,
                );
                near(
                    "shaft",
                    (l.outer_joint - l.inner_joint).norm(),
                    shaft,
                    1.0e-9,
                );
                let off = l.inner_joint - h.inner_joint;
                near(
                    "on the flange's axis",
                    off.cross(&h.flange_axis).norm(),
                    0.0,
                    1.0e-9,
                );
                // The wheel centre and the outer joint keep their places in the knuckle.
                let apart = (l.wheel_centre - l.outer_joint).norm();
                near(
                    "knuckle's own",
                    apart,
                    (118.0_f64.powi(2) + 9.0).sqrt(),
                    1.0e-9,
                );
            }
        }
    }
}

#[test]
fn a_longer_upper_arm_tilts_the_wheel_outward_and_leaves_travel_where_it_was() {
    use bindpoint::kinematics::wheel_angles;
    let camber = |truck: &Truck| {
        let corner = &truck.corners[0];
        let ride = corner.position(corner.ride_height_mm, 0.0).expect("ride");
        let radius = corner.loaded_radius_mm;
        wheel_angles(&corner.positioner.linkage, &ride, corner.side, radius).camber_deg
    };
    let longer = tried(
        "tarnwood",
        vec![Change::UpperArm(ArmChange {
            // 6 mm further out along the arm.
            ball_joint: Some(Point(-22.0, 674.0, 682.6)),
            ..ArmChange::default()
        })],
    );
    let tilt = camber(&longer) - camber(&built(&scene("tarnwood"), None));
    // By the knuckle's length of 396 mm: 6 mm at its top are 0.87 degrees.
    near("camber", tilt, (6.0_f64 / 396.0).atan().to_degrees(), 0.06);
}

#[test]
fn wheels_set_further_out_take_their_parts_along() {
    let plain = built(&scene("tarnwood"), None);
    let truck = tried(
        "tarnwood",
        vec![Change::WheelOffset {
            side: None,
            outboard: 25.0,
        }],
    );
    for (before, after) in plain.corners.iter().zip(&truck.corners) {
        let out = 25.0 * after.side.outboard();
        let centre = |c: &Corner| c.positioner.linkage.hardpoints.wheel_centre.y;
        near("wheel centre", centre(after) - centre(before), out, 1.0e-9);
        for (a, b) in before.parts.iter().zip(&after.parts) {
            let moved = b.surface.origin - a.surface.origin;
            let expected = if b.body == Body::Wheel { out } else { 0.0 };
            near(&b.name, moved.y, expected, 1.0e-9);
            assert_eq!(a.revolved, b.revolved, "{}", a.name);
        }
    }
}

#[test]
fn sides_that_differ_keep_their_own_numbers() {
    let scene = scene("hollin");
    let truck = built(&scene, Some("differential spacers"));
    let drops: Vec<f64> = truck
        .corners
        .iter()
        .map(Corner::inner_joint_drop_mm)
        .collect();
    // The mounts are symmetric: both joints go down alike though they sit at other distances.
    near("both sides", drops[0], drops[1], 1.0e-9);
    let shaft = |side: Side| {
        let corner = truck.corner(side).expect("both were built");
        let l = corner.position(0.0, 0.0).expect("within reach").linkage;
        (l.outer_joint - l.inner_joint).norm()
    };
    assert!(shaft(Side::Right) < shaft(Side::Left) - 10.0);
}

#[test]
fn parts_are_replaced_added_taken_off_and_moved() {
    let brace = PartEntry {
        name: "brace".to_owned(),
        on: Body::Frame,
        shape: ShapeEntry::Capsule {
            from: Point(-60.0, 0.0, 250.0),
            to: Point(-60.0, 300.0, 250.0),
            radius: 12.0,
        },
        fitted: Fitted::EachSide,
        hangs_from: HangsFrom::Body,
    };
    let truck = tried(
        "crake",
        vec![
            Change::RemovePart {
                side: None,
                name: "sway bar bracket".to_owned(),
            },
            Change::ReplacePart {
                side: None,
                name: "halfshaft".to_owned(),
                shape: ShapeEntry::Capsule {
                    from: Point(0.0, -7.59, 13.56),
                    to: Point(0.0, -22.6, 12.91),
                    radius: 0.7,
                },
            },
            Change::MovePart {
                side: None,
                name: "frame rail".to_owned(),
                by: Some(Point(0.0, 0.5, 0.0)),
                turned_deg: None,
                about: None,
            },
        ],
    );
    let corner = &truck.corners[0];
    assert!(corner.parts.iter().all(|p| p.name != "sway bar bracket"));
    let part = |name: &str| corner.parts.iter().find(|p| p.name == name).expect(name);
    near(
        "shaft",
        part("halfshaft").surface.radius_mm,
        0.7 * 25.4,
        1.0e-9,
    );
    near(
        "rail",
        part("frame rail").surface.origin.y,
        (-12.33 + 0.5) * 25.4,
        1.0e-6,
    );
    let truck = tried(
        "tarnwood",
        vec![Change::AddPart {
            side: None,
            part: brace,
            watch: Vec::new(),
            joined: Vec::new(),
        }],
    );
    let corner = &truck.corners[1];
    let brace = corner
        .parts
        .iter()
        .find(|p| p.name == "brace")
        .expect("it was added");
    // On the other corner it is the mirror image, and it is watched like any other.
    let ends: Vec<f64> = (0..brace.surface.vertices.len())
        .map(|i| brace.surface.vertex_in_body(i).y)
        .collect();
    assert!(ends.iter().all(|y| *y <= 1.0e-9), "{ends:?}");
    assert!(
        corner
            .pairs
            .iter()
            .any(|p| corner.parts[p.b].name == "brace")
    );
}

/// Lowered by 32 mm the housing's nose meets the crossmember unless that goes down too.
#[test]
fn parts_at_rest_that_a_setup_brings_together_are_told() {
    let alone = tried("tarnwood", vec![Change::DifferentialDrop { by: 32.0 }]);
    for corner in &alone.corners {
        let overlap = corner.overlaps.first().expect("they meet");
        let both = [overlap.a.as_str(), overlap.b.as_str()];
        assert!(both.contains(&"crossmember") && both.contains(&"differential housing"));
    }
    let with_crossmember = built(&scene("tarnwood"), Some("differential drop"));
    assert!(
        with_crossmember
            .corners
            .iter()
            .all(|c| c.overlaps.is_empty())
    );
    // As measured nothing was wrong, and turning alone doesn't reach it.
    assert!(
        built(&scene("tarnwood"), None).corners[0]
            .overlaps
            .is_empty()
    );
}

#[test]
fn what_cannot_be_changed_is_told_at_its_place() {
    let part = |name: &str| Change::RemovePart {
        side: None,
        name: name.to_owned(),
    };
    let problem = refused(&with_changes("tarnwood", vec![part("fender")]), "tried");
    assert_eq!(problem.path, "setups[10].changes[0].name");
    assert!(problem.help.contains("in `underbody`"), "{}", problem.help);
    let problem = refused(&with_changes("tarnwood", vec![part("fendr")]), "tried");
    assert!(problem.help.contains("skid plate"), "{}", problem.help);

    let problem = refused(&scene("tarnwood"), "factry");
    assert_eq!(problem.path, "setups");
    assert!(problem.help.contains("factory"), "{}", problem.help);

    let mut circle = with_changes("tarnwood", Vec::new());
    circle.setups[10].on = Some("tried".to_owned());
    assert!(refused(&circle, "tried").what.contains("made on itself"));

    let mut twice = with_changes("tarnwood", Vec::new());
    twice.setups[10].name = "factory".to_owned();
    assert!(refused(&twice, "factory").what.contains("two setups"));

    let spacers = vec![Change::DifferentialSpacers { thickness: 10.0 }];
    let problem = refused(&with_changes("crake", spacers), "tried");
    assert!(problem.help.contains("front_mounts"), "{}", problem.help);

    let size = |code: &str| Change::Tyre {
        size: TyreSize::Code(code.to_owned()),
        loaded_radius: None,
        wheels: Wheels::All,
    };
    let problem = refused(&with_changes("tarnwood", vec![size("big")]), "tried");
    assert_eq!(problem.path, "setups[10].changes[0].size");

    // An arm that can't reach the knuckle, and a housing turned further than its ears can follow.
    let arm = Change::UpperArm(ArmChange {
        ball_joint: Some(Point(-22.0, 450.0, 682.0)),
        ..ArmChange::default()
    });
    let problem = refused(&with_changes("tarnwood", vec![arm]), "tried");
    assert!(problem.what.contains("tried"), "{}", problem.what);
    let thick = vec![Change::DifferentialSpacers { thickness: 90.0 }];
    let problem = refused(&with_changes("tarnwood", thick), "tried");
    assert!(problem.what.contains("misses its hole"), "{}", problem.what);

    let short = refused(
        &with_changes("tarnwood", vec![longer_damper(-60.0)]),
        "tried",
    );
    assert!(short.what.contains("past its limit"), "{}", short.what);
    assert!(short.help.contains("this change"), "{}", short.help);
}

#[test]
fn every_demo_setup_can_be_built_and_is_named_in_its_scene() {
    for name in SCENES {
        let scene = scene(name);
        assert!(setup_names(&scene).len() >= 5, "{name}");
        for setup in setup_names(&scene) {
            let truck = built(&scene, Some(setup));
            assert_eq!(truck.setup.as_deref(), Some(setup));
            // None of them moves what a shaft, rod or hose holds on to.
            assert_eq!(truck.needs.all, Vec::new(), "{name}: {setup}");
        }
    }
}

fn ball(name: &str, y: f64, fitted: Fitted) -> PartEntry {
    PartEntry {
        name: name.to_owned(),
        on: Body::Frame,
        shape: ShapeEntry::Ball {
            centre: Point(300.0, y, 560.0),
            radius: 40.0,
        },
        fitted,
        hangs_from: HangsFrom::Body,
    }
}

fn heights_y(truck: &Truck, name: &str) -> Vec<Option<f64>> {
    [Side::Left, Side::Right]
        .map(|side| {
            let corner = truck.corner(side)?;
            let part = corner.parts.iter().find(|p| p.name == name)?;
            Some(part.surface.vertex_in_body(0).y)
        })
        .into()
}

#[test]
fn parts_fitted_left_and_right_stay_on_their_sides() {
    let mut scene = with_changes(
        "tarnwood",
        vec![Change::ReplacePart {
            side: None,
            name: "reservoir".to_owned(),
            shape: ShapeEntry::Ball {
                centre: Point(300.0, 700.0, 560.0),
                radius: 60.0,
            },
        }],
    );
    for (y, fitted) in [(500.0, Fitted::Left), (-500.0, Fitted::Right)] {
        scene.parts.push(ball("reservoir", y, fitted));
    }
    let truck = built(&scene, Some("tried"));
    assert_eq!(heights_y(&truck, "reservoir"), [Some(700.0), Some(-700.0)]);
    // The same for two that come with a component.
    let mut damper = longer_damper(5.0);
    if let Change::Damper { parts, .. } = &mut damper {
        parts.push(ball("can", 500.0, Fitted::Left));
        parts.push(ball("can", -500.0, Fitted::Right));
    }
    let truck = tried("tarnwood", vec![damper]);
    assert_eq!(heights_y(&truck, "can"), [Some(500.0), Some(-500.0)]);
}

#[test]
fn a_part_that_only_the_other_side_has_is_replaced_there() {
    let mut scene = with_changes(
        "hollin",
        vec![Change::ReplacePart {
            side: None,
            name: "lamp".to_owned(),
            shape: ShapeEntry::Ball {
                centre: Point(300.0, 620.0, 560.0),
                radius: 30.0,
            },
        }],
    );
    scene
        .other_side
        .parts
        .push(ball("lamp", -500.0, Fitted::EachSide));
    let truck = built(&scene, Some("tried"));
    assert_eq!(heights_y(&truck, "lamp"), [None, Some(-620.0)]);
}

#[test]
fn a_steering_stop_is_mirrored_into_the_other_sides_own_knuckle() {
    use bindpoint::scene::LeftRight;
    let change = Change::Knuckle {
        side: None,
        ball_joints: None,
        wheel_centre: None,
        spindle: None,
        tie_rod_outer: None,
        outer_joint: None,
        steering_stop_deg: Some(LeftRight {
            left: 30.0,
            right: 36.0,
        }),
        parts: Vec::new(),
    };
    let plain = with_changes("tarnwood", vec![change]);
    let mut own = plain.clone();
    let mut knuckle = own.knuckle;
    for p in [&mut knuckle.wheel_centre, &mut knuckle.tie_rod_outer] {
        p.1 = -p.1;
    }
    own.other_side.knuckle = Some(knuckle);
    let stops = |scene: &Scene| {
        let truck = built(scene, Some("tried"));
        let corner = truck.corner(Side::Right).expect("both were built").clone();
        let measured = corner.positioner.place(0.0, 0.0);
        let limits = corner.limits.iter();
        limits
            .filter(|l| l.name().starts_with("steering stop"))
            .map(|l| (l.name(), l.reading(&measured.linkage).limit))
            .collect::<Vec<_>>()
    };
    assert_eq!(stops(&plain), stops(&own));
    assert!(!stops(&plain).is_empty());
}

#[test]
fn a_ride_height_outside_the_free_travel_is_found() {
    for up in [100.0, -100.0] {
        let truck = tried(
            "tarnwood",
            vec![Change::RideHeight {
                up,
                by: RaisedBy::Preload,
            }],
        );
        let options = SweepOptions {
            rack_positions: 3,
            ..SweepOptions::default()
        };
        let found = sweep(&truck, &options, &|_, _| {});
        assert!(!found.worse.past_at_ride_height.is_empty(), "{up}");
        assert_eq!(
            bindpoint::sweep::status(&found),
            bindpoint::findings::Status::Found
        );
    }
}

#[test]
fn a_setup_without_changes_keeps_the_ride_height_of_parts_not_drawn_together() {
    let mut scene = with_changes("tarnwood", Vec::new());
    scene.knuckle.ball_joints = Some((Point(8.0, 722.0, 290.0), Point(-22.0, 668.0, 692.0)));
    let (plain, empty) = (built(&scene, None), built(&scene, Some("tried")));
    assert_eq!(
        plain.corners[0].ride_height_mm,
        empty.corners[0].ride_height_mm
    );
}

#[test]
fn a_watch_of_an_added_part_must_name_something() {
    use bindpoint::scene::Watch;
    let watch = |a: &str| Change::AddPart {
        side: None,
        part: ball("brace", 500.0, Fitted::EachSide),
        watch: vec![Watch {
            a: a.to_owned(),
            b: "tyre".to_owned(),
            gap: 2.0,
            came_with: None,
        }],
        joined: Vec::new(),
    };
    tried("tarnwood", vec![watch("brace")]);
    let problem = refused(&with_changes("tarnwood", vec![watch("brase")]), "tried");
    assert_eq!(problem.path, "setups[10].changes[0].watch[0]");
}

#[test]
fn what_is_welded_on_by_design_is_no_overlap() {
    use bindpoint::scene::Joined;
    let gusset = |joined: Vec<Joined>| Change::AddPart {
        side: None,
        part: PartEntry {
            shape: ShapeEntry::Box {
                centre: Point(400.0, 382.0, 620.0),
                size: Point(60.0, 40.0, 20.0),
                turned_deg: None,
            },
            ..ball("gusset", 382.0, Fitted::EachSide)
        },
        watch: Vec::new(),
        joined,
    };
    let loose = tried("tarnwood", vec![gusset(Vec::new())]);
    assert!(!loose.corners[0].overlaps.is_empty());
    let welded = tried(
        "tarnwood",
        vec![gusset(vec![Joined {
            a: "gusset".to_owned(),
            b: "frame rail".to_owned(),
            why: "welded on".to_owned(),
            came_with: None,
        }])],
    );
    assert!(welded.corners[0].overlaps.is_empty());
}

#[test]
fn another_tie_rod_end_takes_the_rod_along() {
    let scene = scene("crake");
    let truck = built(&scene, Some("raised tie-rod end"));
    let corner = &truck.corners[0];
    let linkage = corner.positioner.place(0.0, 0.0).linkage;
    let rod = corner
        .parts
        .iter()
        .find(|p| p.name == "tie rod")
        .expect("a rod");
    let placement = linkage.placement(rod.body.motion());
    // The drawn bar lies along the rod: its ends are off the line through both joints by what they were as drawn.
    let line = (linkage.tie_rod_outer - linkage.tie_rod_inner).normalize();
    for i in 0..rod.surface.vertices.len() {
        let p = placement.point(&rod.surface.vertex_in_body(i)) - linkage.tie_rod_inner;
        let off = (p - line * line.dot(&p)).norm();
        assert!(off < 0.5, "{off}");
    }
}

/// Points and shapes are drawn on the truck as measured, so where a part is put doesn't hang on whether its body was moved
/// before or after: on each side that body's own motion counts, whatever the part of the name on the other side is on.
#[test]
fn a_part_is_put_on_its_own_body_before_and_after_that_is_moved() {
    let tabs = r#"parts: [
        (name: "tab", on: wheel, fitted: left, shape: Ball(centre: (0, 850, 400), radius: 20)),
        (name: "tab", on: frame, fitted: right, shape: Ball(centre: (-100, -560, 620), radius: 15)),"#;
    let knuckle = "Knuckle(spindle: Static(toe_deg: 4, camber_deg: 2)), WheelOffset(outboard: 60)";
    let longer = "Halfshaft(longer: 12)";
    let first = [
        (
            knuckle,
            r#"ReplacePart(side: right, name: "tab", shape: Ball(centre: (-90, -550, 640), radius: 15))"#,
            "tab",
        ),
        (
            knuckle,
            r#"ReplacePart(name: "tab", shape: Ball(centre: (-10, 840, 420), radius: 15))"#,
            "tab",
        ),
        (
            knuckle,
            r#"MovePart(name: "tab", by: (0, 0, 5), turned_deg: (0, 0, 20), about: (40, 800, 400))"#,
            "tab",
        ),
        (
            knuckle,
            r#"MovePart(side: right, name: "tab", turned_deg: (0, 0, 20), about: (40, -800, 400))"#,
            "tab",
        ),
        (
            longer,
            r#"ReplacePart(name: "halfshaft", shape: Capsule(from: (0, 235, 420), to: (0, 700, 400), radius: 16))"#,
            "halfshaft",
        ),
        (
            longer,
            r#"ReplacePart(side: right, name: "halfshaft", shape: Capsule(from: (0, -235, 420), to: (0, -700, 400), radius: 16))"#,
            "halfshaft",
        ),
    ];
    let path = folder().join("tarnwood.ron");
    let text = std::fs::read_to_string(&path).expect("a demo scene");
    for (moved, put, name) in first {
        let setups = format!(
            "setups: [(name: \"before\", changes: [{put}, {moved}]), (name: \"after\", changes: [{moved}, {put}]),"
        );
        let text = text.replacen("parts: [", tabs, 1);
        let text = text.replacen("setups: [", &setups, 1);
        let scene = scene_from_text(&text, &path).unwrap_or_else(|e| panic!("{put}: {e}"));
        let centres = |setup: &str| -> Vec<[f64; 3]> {
            let fitted = with_setup(&scene, setup).expect("it is made");
            let sides = [Some(&fitted), fitted.other_corner.as_deref()];
            let parts = sides.into_iter().flatten().flat_map(|scene| &scene.parts);
            let own = parts.filter(|part| part.name == name);
            own.flat_map(|part| match &part.shape {
                ShapeEntry::Ball { centre, .. } => vec![[centre.0, centre.1, centre.2]],
                ShapeEntry::Capsule { from, to, .. } => {
                    vec![[from.0, from.1, from.2], [to.0, to.1, to.2]]
                }
                other => panic!("{other:?}"),
            })
            .collect()
        };
        let (before, after) = (centres("before"), centres("after"));
        assert_eq!(before.len(), after.len());
        assert!(!before.is_empty());
        for (b, a) in before.iter().flatten().zip(after.iter().flatten()) {
            near(put, *a, *b, 1.0e-9);
        }
    }
}
