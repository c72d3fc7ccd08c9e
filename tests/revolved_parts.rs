//! Parts that turn, roll or follow their own side's points, in whole scenes.
//!
//! Sources: common practice, no source (a steered wheel's toe, rods that roll in their joints, unequal shafts);
//! otherwise the same scene with the part drawn out.

use bindpoint::clearance::WatchedPair;
use bindpoint::findings::SweepFindings;
use bindpoint::output::{Datum, SweepText, Units, sweep_text};
use bindpoint::scene::{
    Arm, Change, Fitted, HangsFrom, PartEntry, Point, Problem, Roll, Scene, Setup, ShapeEntry,
    Spindle, Watch, scene_from_text,
};
use bindpoint::shapes::ElementKind;
use bindpoint::suspension::{Body, Side};
use bindpoint::sweep::{SweepOptions, sweep};
use bindpoint::truck::{Corner, MeshStore, Truck, assemble_setup};
use nalgebra::Vector3;
use std::path::PathBuf;

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("scenes")
}

fn text(name: &str) -> String {
    std::fs::read_to_string(folder().join(format!("{name}.ron"))).expect("a demo scene")
}

fn scene(name: &str) -> Scene {
    let path = folder().join(format!("{name}.ron"));
    scene_from_text(&text(name), &path).unwrap_or_else(|e| panic!("{name}: {e}"))
}

fn attempt(scene: &Scene, setup: Option<&str>) -> Result<Truck, Problem> {
    assemble_setup(scene, setup, &MeshStore::new(&folder()))
}

fn built(scene: &Scene) -> Truck {
    attempt(scene, None).unwrap_or_else(|p| panic!("{p:?}"))
}

fn refused(scene: &Scene, setup: Option<&str>) -> Problem {
    match attempt(scene, setup) {
        Err(problem) => problem,
        Ok(_) => panic!("it was built"),
    }
}

fn part<'c>(corner: &'c Corner, name: &str) -> &'c bindpoint::clearance::Part {
    let found = corner.parts.iter().find(|p| p.name == name);
    found.unwrap_or_else(|| panic!("no {name}"))
}

fn entry<'s>(scene: &'s mut Scene, name: &str) -> &'s mut PartEntry {
    let found = scene.parts.iter_mut().find(|p| p.name == name);
    found.unwrap_or_else(|| panic!("no {name}"))
}

fn added(name: &str, on: Body, shape: ShapeEntry) -> PartEntry {
    PartEntry {
        name: name.to_owned(),
        on,
        shape,
        fitted: Fitted::EachSide,
        hangs_from: HangsFrom::Body,
    }
}

/// Leaves out where the lathes of these parts stand.
fn on_their_bodies(scene: &mut Scene, names: &[&str]) {
    for name in names {
        match &mut entry(scene, name).shape {
            ShapeEntry::Lathe { from, axis, .. } => (*from, *axis) = (None, None),
            other => panic!("{other:?}"),
        }
    }
}

/// Every watched pair's gap at some positions, by name.
fn gaps(corner: &Corner) -> Vec<(String, Vec<f64>)> {
    let at: Vec<_> = [(0.0, 0.0), (-60.0, 30.0), (40.0, -50.0)]
        .iter()
        .filter_map(|(travel, rack)| corner.position(*travel, *rack).ok())
        .collect();
    assert_eq!(at.len(), 3);
    let mut out: Vec<_> = corner
        .pairs
        .iter()
        .map(|pair| {
            let gap =
                |p: &bindpoint::kinematics::Position| corner.gap(pair, &p.linkage, None).gap_mm;
            // The order of the parts doesn't matter.
            let mut names = [pair.a, pair.b].map(|i| corner.parts[i].name.as_str());
            names.sort_unstable();
            (names.join(" - "), at.iter().map(gap).collect())
        })
        .collect();
    out.sort_by(|a: &(String, Vec<f64>), b| a.0.cmp(&b.0));
    out
}

fn largest_difference(a: &Corner, b: &Corner) -> f64 {
    let (a, b) = (gaps(a), gaps(b));
    let names = |of: &[(String, Vec<f64>)]| of.iter().map(|g| g.0.clone()).collect::<Vec<_>>();
    assert_eq!(names(&a), names(&b));
    assert!(!a.is_empty());
    let pairs = a.iter().zip(&b).flat_map(|(a, b)| a.1.iter().zip(&b.1));
    pairs.map(|(x, y)| (x - y).abs()).fold(0.0, f64::max)
}

fn swept(truck: &Truck) -> SweepFindings {
    let options = SweepOptions {
        rack_positions: 3,
        ..SweepOptions::default()
    };
    sweep(truck, &options, &|_, _| {})
}

/// Any toe or camber sent tyre and rim through squares piece by piece: no answer in minutes.
#[test]
fn static_toe_camber_and_a_wheel_centre_too_high_are_built_at_once() {
    for (toe_deg, camber_deg, higher) in [
        (0.1, 0.0, 0.0),
        (0.0, -0.5, 0.0),
        (0.3, 1.0, 0.0),
        (0.0, 0.0, 100.0),
    ] {
        let mut scene = scene("tarnwood");
        scene.knuckle.spindle = Spindle::Static {
            toe_deg,
            camber_deg,
        };
        scene.knuckle.wheel_centre.2 += higher;
        let truck = built(&scene);
        let corner = &truck.corners[0];
        for name in ["tyre", "rim"] {
            let part = part(corner, name);
            assert!(part.revolved && part.surface.closed, "{name}");
            // Few corners, so few facets: what comes after costs no more than for a lathe on its axis.
            let facets = part.surface.elements.len();
            assert!(facets < 60_000, "{name}: {facets} facets");
        }
    }
}

#[test]
fn a_lathe_without_a_place_of_its_own_turns_about_its_bodys_axis() {
    let names = ["inner joint housing", "outer joint housing", "tyre", "rim"];
    let drawn = scene("tarnwood");
    let mut bare = drawn.clone();
    on_their_bodies(&mut bare, &names);
    let (drawn, bare_truck) = (built(&drawn), built(&bare));
    for (a, b) in drawn.corners.iter().zip(&bare_truck.corners) {
        for name in names {
            let (a, b) = (part(a, name), part(b, name));
            assert!(!b.revolved);
            assert_eq!(a.surface.elements.len(), b.surface.elements.len(), "{name}");
            assert!(
                (a.surface.origin - b.surface.origin).norm() < 1.0e-9,
                "{name}"
            );
            let z = Vector3::z();
            assert!((a.surface.rotation * z - b.surface.rotation * z).norm() < 1.0e-12);
        }
    }
    // With toe the wheel is still round about its spindle, on both sides.
    bare.knuckle.spindle = Spindle::Static {
        toe_deg: 1.0,
        camber_deg: -0.5,
    };
    for corner in &built(&bare).corners {
        for name in ["tyre", "rim", "outer joint housing"] {
            let part = part(corner, name);
            assert!(!part.revolved, "{name}");
            let out = part.surface.rotation * Vector3::z();
            let spindle = corner.positioner.linkage.hardpoints.spindle_axis;
            assert!((out - spindle).norm() < 1.0e-12, "{name}");
        }
    }
    // A shaft drawn by its outline, from its inner joint.
    let mut scene = scene("tarnwood");
    let profile = vec![(0.0, 0.0), (465.0, 0.0), (465.0, 14.0), (0.0, 14.0)];
    scene.parts.push(added(
        "halfshaft",
        Body::Halfshaft,
        ShapeEntry::Lathe {
            from: None,
            axis: None,
            profile,
        },
    ));
    for corner in &built(&scene).corners {
        let shaft = part(corner, "halfshaft");
        let [inner, outer] = corner.positioner.linkage.own.halfshaft;
        assert!(!shaft.revolved && (shaft.surface.origin - inner).norm() < 1.0e-9);
        let along = shaft.surface.rotation * Vector3::z();
        assert!((along - (outer - inner).normalize()).norm() < 1.0e-12);
    }
}

#[test]
fn a_scene_file_may_leave_out_a_lathes_place_and_the_schema_says_so() {
    let text = text("tarnwood").replacen(
        "                from: (0, 815, 400),\n                axis: (0, 1, 0),\n",
        "",
        2,
    );
    let path = folder().join("tarnwood.ron");
    let read = scene_from_text(&text, &path).unwrap_or_else(|e| panic!("{e}"));
    let mut bare = scene("tarnwood");
    on_their_bodies(&mut bare, &["tyre", "rim"]);
    assert_eq!(read.parts, bare.parts);
    let schema = bindpoint::scene::field_reference();
    for line in [
        "from*: The axis starts here",
        "axis*: Direction of the axis",
        "roll*: Whether the tie rods",
    ] {
        assert!(schema.contains(line), "{line}");
    }
}

#[test]
fn a_lathe_without_a_place_on_another_body_is_told_what_to_give() {
    let bodies = [
        Body::Frame,
        Body::Differential,
        Body::Rack,
        Body::LowerArm,
        Body::UpperArm,
        Body::Knuckle,
        Body::TieRod,
        Body::DamperUpper,
        Body::DamperLower,
    ];
    for body in bodies {
        for (from, axis, field) in [
            (None, Some(Point(0.0, 1.0, 0.0)), "from"),
            (Some(Point(0.0, 900.0, 400.0)), None, "axis"),
        ] {
            let mut scene = scene("tarnwood");
            let profile = vec![(0.0, 0.0), (5.0, 0.0), (5.0, 9.0)];
            let shape = ShapeEntry::Lathe {
                from,
                axis,
                profile,
            };
            scene.parts.push(added("washer", body, shape));
            let problem = refused(&scene, None);
            let path = format!("parts[{}].shape.{field}", scene.parts.len() - 1);
            assert_eq!(problem.path, path);
            assert!(problem.what.contains(body.name()), "{problem:?}");
            assert!(problem.help.contains("give both `from`"), "{problem:?}");
        }
    }
}

#[test]
fn setups_change_a_tyre_that_leaves_out_its_place_as_they_do_a_drawn_one() {
    let drawn = scene("hollin");
    let mut bare = drawn.clone();
    on_their_bodies(&mut bare, &["tyre"]);
    for setup in ["37 in tyres", "hub spacers"] {
        let built = |scene: &Scene| {
            attempt(scene, Some(setup)).unwrap_or_else(|p| panic!("{setup}: {p:?}"))
        };
        let (drawn, bare) = (built(&drawn), built(&bare));
        for (a, b) in drawn.corners.iter().zip(&bare.corners) {
            let (a, b) = (part(a, "tyre"), part(b, "tyre"));
            assert!(!a.revolved && !b.revolved);
            assert!(
                (a.surface.origin - b.surface.origin).norm() < 1.0e-9,
                "{setup}"
            );
            assert_eq!(a.surface.round, b.surface.round, "{setup}");
        }
    }
    bare.setups.push(Setup {
        name: "moved".to_owned(),
        on: None,
        changes: vec![Change::MovePart {
            side: None,
            name: "tyre".to_owned(),
            by: Some(Point(0.0, 10.0, 0.0)),
            turned_deg: None,
            about: None,
        }],
    });
    let problem = refused(&bare, Some("moved"));
    assert!(
        problem.what.contains("goes where its body goes"),
        "{problem:?}"
    );
    assert!(problem.help.contains("`from` and `axis`"), "{problem:?}");
}

/// A steering-damper bracket 40 mm in front of the tie rod, and a stop 40 mm behind and above it.
fn with_arm_on_the_rod() -> Scene {
    let mut scene = scene("crake");
    scene.setups.clear();
    scene.parts.retain(|p| p.name != "sway bar bracket");
    // Half way along the rod, inches.
    let middle = Vector3::new(-4.44, -16.96, 12.395);
    let at = |x: f64| Point(middle.x + x, middle.y, middle.z);
    let arm = ShapeEntry::Capsule {
        from: at(0.0),
        to: at(40.0 / 25.4),
        radius: 0.2,
    };
    // It clears the rolled arm's end by 3 mm as measured; in bump the rod rises toward it.
    let away = (40.0 + 5.08 + 10.0 + 3.0) / 25.4 / 2.0_f64.sqrt();
    let stop = ShapeEntry::Ball {
        centre: Point(middle.x - away, middle.y, middle.z + away),
        radius: 10.0 / 25.4,
    };
    scene.parts.push(added("rod arm", Body::TieRod, arm));
    scene.parts.push(added("stop", Body::Frame, stop));
    scene.watch = vec![Watch {
        a: "rod arm".to_owned(),
        b: "stop".to_owned(),
        gap: 0.0,
        came_with: None,
    }];
    scene
}

/// The pair that the scene watches, among those that wheels make with the body by themselves.
fn watched(corner: &Corner) -> &WatchedPair {
    let mut pairs = corner.pairs.iter();
    pairs.find(|pair| pair.is_named).expect("it is watched")
}

#[test]
fn a_rods_arm_that_may_roll_into_a_part_is_a_contact_unless_its_roll_is_held() {
    let free = with_arm_on_the_rod();
    let truck = built(&free);
    let corner = &truck.corners[0];
    assert!(part(corner, "rod arm").revolved && corner.roll_held.is_empty());
    let measured = corner.positioner.place(0.0, 0.0).linkage;
    let gap_mm = corner.gap(watched(corner), &measured, None).gap_mm;
    // Three millimetres, less what a revolution may exceed by.
    assert!((2.4..=3.0).contains(&gap_mm), "{gap_mm}");
    let found = swept(&truck);
    assert!(
        found.worse.first_contact.is_some(),
        "the arm rolls into the stop"
    );

    let mut held = free.clone();
    held.rack.roll = Roll::HeldBy("a flat on its outer stud".to_owned());
    let truck = built(&held);
    let corner = &truck.corners[0];
    assert!(!part(corner, "rod arm").revolved);
    let gap_mm = corner.gap(watched(corner), &measured, None).gap_mm;
    assert!(gap_mm > 35.0, "{gap_mm}");
    let found = swept(&truck);
    assert!(found.worse.first_contact.is_none());
    // What is left unchecked is said.
    let expected = ["tie rod".to_owned(), "a flat on its outer stud".to_owned()];
    assert_eq!(found.worse.roll_held, [expected]);
    let style = SweepText {
        units: Units::Mm,
        datum: Datum::Measured,
        status: bindpoint::sweep::status(&found),
        tables_of: None,
        wrap_leading_lines: false,
    };
    let page = sweep_text(&found, &style);
    assert!(page.contains("Not checked at other roll angles"), "{page}");
    assert!(
        page.contains("tie rod, held by a flat on its outer stud"),
        "{page}"
    );

    let mut nothing = free;
    nothing.rack.roll = Roll::HeldBy(" ".to_owned());
    assert_eq!(refused(&nothing, None).path, "rack.roll");
}

#[test]
fn a_dampers_halves_roll_each_side_as_its_own_damper_says() {
    let mut scene = scene("hollin");
    scene.damper.roll = Roll::Free;
    let mut own = scene.damper.clone();
    for p in [&mut own.upper_mount, &mut own.lower_mount] {
        p.1 = -p.1;
    }
    if let Some(strap) = &mut own.strap {
        strap.ends.0.at.1 *= -1.0;
        strap.ends.1.at.1 *= -1.0;
    }
    own.roll = Roll::HeldBy("bushed eyes at both ends".to_owned());
    scene.other_side.damper = Some(own);
    let truck = built(&scene);
    let [left, right] = &truck.corners[..] else {
        panic!("two corners")
    };
    let fork = "damper fork front";
    assert!(part(left, fork).revolved && left.roll_held.is_empty());
    assert!(!part(right, fork).revolved);
    assert_eq!(
        right.roll_held[0].bodies,
        [Body::DamperUpper, Body::DamperLower]
    );
    // Drawn round about the line through its eyes but for rounded points: round still, and tight.
    for name in ["damper body", "spring"] {
        assert!(!part(left, name).revolved, "{name}");
        assert!(part(left, name).surface.facet_error_mm < 0.45, "{name}");
    }
}

#[test]
fn rods_drawn_between_rounded_points_stay_round_bars_in_the_demos() {
    for name in ["tarnwood", "hollin", "crake", "whinchat"] {
        for corner in &built(&scene(name)).corners {
            let rod = part(corner, "tie rod");
            assert_eq!(rod.surface.kind, ElementKind::Segment, "{name}");
        }
    }
}

/// The worse side showed the larger gap: the mirrored housing stayed where the first side's joint is.
#[test]
fn a_mirrored_joint_housing_stands_at_its_own_sides_joint() {
    let redrawn = scene("hollin");
    let mut mirrored = redrawn.clone();
    mirrored.other_side.parts.clear();
    let (redrawn, mirrored) = (built(&redrawn), built(&mirrored));
    assert!(
        mirrored
            .warnings
            .iter()
            .all(|w| !w.contains("other_side.parts"))
    );
    for (a, b) in redrawn.corners.iter().zip(&mirrored.corners) {
        // The same but for rounding.
        let difference = largest_difference(a, b);
        assert!(difference < 1.0e-9, "{}: {difference}", a.side.name());
        assert_eq!(a.overlaps, b.overlaps);
    }
    // The ear that turns with the housing goes with it.
    let corner = mirrored.corner(Side::Right).expect("a right corner");
    let ear = &part(corner, "inner joint clamp ear").surface;
    let bounds = ear.bounds();
    let middle = ear.origin + ear.rotation * bounds.middle;
    assert!((middle.y + 277.0).abs() < 0.3, "{middle:?}");
}

/// The other side's own components, each the mirror image but for what `change` does to it.
fn mirror(p: &Point) -> Point {
    Point(p.0, -p.1, p.2)
}

#[test]
fn every_mirrored_part_goes_where_its_own_sides_points_are() {
    // The other side's whole corner stands 12 mm further out and 5 mm higher: every part has to.
    let shift = |p: &Point| Point(p.0, -p.1 - 12.0, p.2 + 5.0);
    let mut scene = scene("tarnwood");
    let arm = |arm: &Arm| Arm {
        front_pivot: shift(&arm.front_pivot),
        rear_pivot: shift(&arm.rear_pivot),
        ball_joint: shift(&arm.ball_joint),
        ..*arm
    };
    let mut knuckle = scene.knuckle;
    for p in [&mut knuckle.wheel_centre, &mut knuckle.tie_rod_outer] {
        *p = shift(p);
    }
    let mut damper = scene.damper.clone();
    for p in [&mut damper.upper_mount, &mut damper.lower_mount] {
        *p = shift(p);
    }
    let mut halfshaft = scene.halfshaft.clone();
    for p in [&mut halfshaft.inner_joint, &mut halfshaft.outer_joint] {
        *p = shift(p);
    }
    let o = &mut scene.other_side;
    o.lower_arm = Some(arm(&scene.lower_arm));
    o.upper_arm = scene.upper_arm.as_ref().map(arm);
    o.knuckle = Some(knuckle);
    o.damper = Some(damper);
    o.halfshaft = Some(halfshaft);
    o.tie_rod_inner = Some(shift(&scene.rack.tie_rod_inner));
    let truck = built(&scene);
    assert!(
        truck
            .warnings
            .iter()
            .all(|w| !w.contains("other_side.parts")),
        "{:?}",
        truck.warnings
    );
    let [left, right] = &truck.corners[..] else {
        panic!("two corners")
    };
    let mut compared = 0;
    for a in &left.parts {
        // Bodywork is drawn for the truck.
        if a.is_bodywork {
            continue;
        }
        let moves = !matches!(a.body, Body::Frame | Body::Differential);
        let b = part(right, &a.name);
        if scene
            .parts
            .iter()
            .any(|p| p.name == a.name && p.fitted == Fitted::Once)
        {
            continue;
        }
        let middle = |p: &bindpoint::clearance::Part| {
            p.surface.origin + p.surface.rotation * p.surface.bounds().middle
        };
        let (a_at, b_at) = (middle(a), middle(b));
        let (out, up) = if moves { (12.0, 5.0) } else { (0.0, 0.0) };
        let wanted = Vector3::new(a_at.x, -a_at.y - out, a_at.z + up);
        assert!(
            (b_at - wanted).norm() < 0.01,
            "{}: {b_at:?} {wanted:?}",
            a.name
        );
        compared += usize::from(moves);
    }
    assert!(compared >= 14, "{compared}");
}

#[test]
fn a_part_of_another_arms_shape_is_warned_of_until_it_is_drawn() {
    let mut scene = scene("tarnwood");
    let own = scene.upper_arm.expect("the demo has an upper arm");
    let mut arm = Arm {
        front_pivot: mirror(&own.front_pivot),
        rear_pivot: mirror(&own.rear_pivot),
        ball_joint: mirror(&own.ball_joint),
        ..own
    };
    arm.front_pivot.0 += 20.0;
    scene.other_side.upper_arm = Some(arm);
    let own = |truck: &Truck| -> Vec<String> {
        let all = truck.warnings.iter();
        all.filter(|w| w.contains("other_side.parts"))
            .cloned()
            .collect()
    };
    let found = own(&built(&scene));
    let legs = [
        "upper arm front leg",
        "upper arm rear leg",
        "upper ball joint housing",
    ];
    assert_eq!(found.len(), legs.len(), "{found:?}");
    for (warning, leg) in found.iter().zip(legs) {
        assert!(
            warning.starts_with("right: ") && warning.contains(leg),
            "{warning}"
        );
    }
    for leg in legs {
        let mut drawn = entry(&mut scene, leg).clone();
        drawn.shape = ShapeEntry::Ball {
            centre: Point(100.0, -500.0, 660.0),
            radius: 5.0,
        };
        scene.other_side.parts.push(drawn);
    }
    assert_eq!(own(&built(&scene)), Vec::<String>::new());
}
