//! What the verdict must not lose: pairs at rest to each other, what lies in the thin cells along an edge, the body around
//! the tyre, the measured position itself; and that everything that is asked is counted once, in text and JSON alike.
//!
//! Source: README.md (verdict, exit statuses) and the scene format. Places come from `independent_pose`, gaps by
//! construction.

use assert_cmd::cargo::cargo_bin_cmd;
use bindpoint::findings::{
    ContactClass, CornerFindings, Outcome, Requirement, Status, StopId, SweepFindings,
};
use bindpoint::scene::{Scene, read_scene};
use bindpoint::suspension::{Body, Motion, Side};
use bindpoint::sweep::{SweepOptions, status, sweep};
use bindpoint::truck::{Corner, MeshStore, Truck, assemble_setup};
use dice::Dice;
use independent_pose::Pose;
use nalgebra::{Rotation3, Vector3};
use one_answer::{contradictions, text_of};
use serde_json::Value;
use small_scene::{Draft, ball, cuboid};
use std::path::Path;
use verdict_oracle::Oracle;

mod dice;
mod independent_pose;
mod one_answer;
mod small_scene;
mod verdict_oracle;

type V = Vector3<f64>;

/// Numbers of rack positions that are listed.
const RACKS: [usize; 5] = [3, 5, 9, 17, 33];

fn truck_of(scene: &Scene, setup: Option<&str>) -> Truck {
    match assemble_setup(scene, setup, &MeshStore::new(Path::new("scenes"))) {
        Ok(truck) => truck,
        Err(problem) => panic!("{problem:?}"),
    }
}

fn swept(truck: &Truck, rack_positions: usize) -> SweepFindings {
    let options = SweepOptions {
        rack_positions,
        ..SweepOptions::default()
    };
    sweep(truck, &options, &|_, _| {})
}

fn verdict_of(draft: &Draft) -> SweepFindings {
    let found = swept(&truck_of(&draft.scene("small"), None), 5);
    assert_eq!(contradictions(&found), Vec::<String>::new());
    found
}

/// Runs the program on a scene: exit status and what it prints.
fn run(command: &str, scene: &Path, more: &[&str]) -> (i32, String) {
    let output = cargo_bin_cmd!("bindpoint")
        .arg(command)
        .arg(scene)
        .args(more)
        .env("NO_COLOR", "1")
        .output()
        .expect("bindpoint starts");
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(!said.contains("panicked"), "{said}");
    let text = String::from_utf8(output.stdout).expect("text");
    (
        output.status.code().expect("it ends by itself"),
        text + &said,
    )
}

/// A file with the scene in it, gone with the folder.
fn written(draft: &Draft) -> (tempfile::TempDir, std::path::PathBuf) {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("scene.ron");
    std::fs::write(&path, draft.text("small")).expect("written");
    (folder, path)
}

/// What is violated, by its two parts.
fn violated_pairs(corner: &CornerFindings) -> Vec<[String; 2]> {
    let pair = |stop: &StopId| match stop {
        StopId::Gap { a, b } | StopId::Contact { a, b } => {
            let mut pair = [a.clone(), b.clone()];
            pair.sort();
            Some(pair)
        }
        StopId::EndOfReach | StopId::Limit { .. } => None,
    };
    let violations = corner.verdict.violations();
    violations.filter_map(|(_, stop, _)| pair(stop)).collect()
}

fn named(pairs: &[[String; 2]], a: &str, b: &str) -> bool {
    pairs
        .iter()
        .any(|[x, y]| (x == a && y == b) || (x == b && y == a))
}

// ---------------------------------------------------------------- parts of one motion

/// A tyre 760 mm in diameter and 240 mm wide, hollow, on a rim.
fn with_wheel(draft: &mut Draft) {
    let lathe =
        |profile: &str| format!("Lathe(from: (0, 815, 400), axis: (0, 1, 0), profile: {profile})");
    let tyre = "[(-120, 200), (120, 200), (120, 380), (-120, 380)]";
    let rim = "[(-110, 180), (110, 180), (110, 195), (-110, 195)]";
    draft.part("tyre", "wheel", "each_side", &lathe(tyre));
    draft.part("rim", "wheel", "each_side", &lathe(rim));
    draft.watch("tyre", "*", 8.0);
    draft.watch("rim", "*", 5.0);
    draft.more += "tyre: (size: Measured(diameter: 760, width: 240, rim_diameter: 400)),\n";
}

fn knuckle_box(draft: &mut Draft, name: &str, centre: V, size: f64) {
    let shape = cuboid(&centre, &V::from_element(size), &Rotation3::identity());
    draft.part(name, "knuckle", "each_side", &shape);
}

/// A knuckle that clears tyre and rim: 20 mm inboard of the tyre's inner face, 25 mm within the rim.
fn with_a_good_knuckle(draft: &mut Draft) {
    knuckle_box(draft, "knuckle", V::new(0.0, 660.0, 690.0), 30.0);
    knuckle_box(draft, "caliper", V::new(0.0, 765.0, 535.0), 40.0);
}

#[test]
fn a_knuckle_that_clears_tyre_and_rim_is_clear() {
    let mut draft = Draft::new();
    with_wheel(&mut draft);
    with_a_good_knuckle(&mut draft);
    let found = verdict_of(&draft);
    assert_eq!(status(&found), Status::Clear, "{:#?}", found.worse.verdict);
    let resting = &found.worse.resting_gaps;
    let gap = |a: &str, b: &str| {
        let is = |x: &str, y: &str| (x == a && y == b) || (x == b && y == a);
        resting.iter().find(|g| is(&g.a, &g.b)).map(|g| g.gap_mm)
    };
    // The tyre's inner face stands at y 695, the knuckle's outer one at 675.
    let between = gap("knuckle", "tyre").expect("checked");
    assert!(between <= 20.0 && between > 19.9, "{between}");
    // The caliper's outer corners: 155 mm up and 20 mm aside, within the rim's 180.
    let between = gap("caliper", "rim").expect("checked");
    let true_gap = 180.0 - 155.0_f64.hypot(20.0);
    assert!(between <= true_gap && between > true_gap - 0.1, "{between}");
}

#[test]
fn a_knuckle_inside_the_tyre_and_a_caliper_through_the_rim_are_found_at_rest() {
    let cases = [
        ("knuckle", V::new(0.0, 715.0, 690.0), 30.0, "tyre"),
        ("caliper", V::new(0.0, 765.0, 575.0), 40.0, "rim"),
    ];
    for (name, centre, size, wheel) in cases {
        let mut draft = Draft::new();
        with_wheel(&mut draft);
        knuckle_box(&mut draft, name, centre, size);
        let found = verdict_of(&draft);
        assert_eq!(status(&found), Status::Found, "{name}");
        assert!(named(&violated_pairs(&found.worse), name, wheel), "{name}");
        let text = text_of(&found);
        assert!(text.contains("don't move against each other"), "{text}");
        let (folder, path) = written(&draft);
        let (code, text) = run("sweep", &path, &[]);
        assert_eq!(code, 1, "{text}");
        assert!(text.contains("FOUND"), "{text}");
        let (code, text) = run("check", &path, &[]);
        assert_eq!(code, 1, "{text}");
        assert!(!text.contains("nothing overlaps"), "{text}");
        let both = text.contains(&format!("{name} - {wheel}"))
            || text.contains(&format!("{wheel} - {name}"));
        assert!(both, "{text}");
        drop(folder);
    }
}

#[test]
fn offsets_and_other_tyres_ask_again_of_parts_at_rest() {
    let mut draft = Draft::new();
    with_wheel(&mut draft);
    with_a_good_knuckle(&mut draft);
    draft.more += "setups: [
        (name: \"a little in\", changes: [WheelOffset(outboard: -11)]),
        (name: \"further in\", changes: [WheelOffset(outboard: -14)]),
        (name: \"wide\", changes: [Tyre(size: Measured(diameter: 760, width: 270, rim_diameter: 400))]),
    ],";
    let scene = draft.scene("small");
    // 20 mm stand between tyre and knuckle, 8 are required.
    for (setup, expected) in [
        (None, Status::Clear),
        (Some("a little in"), Status::Clear),
        (Some("further in"), Status::Found),
        (Some("wide"), Status::Found),
    ] {
        let found = swept(&truck_of(&scene, setup), 5);
        assert_eq!(contradictions(&found), Vec::<String>::new());
        assert_eq!(
            status(&found),
            expected,
            "{setup:?}: {:#?}",
            found.worse.verdict
        );
        let is_listed = named(&violated_pairs(&found.worse), "tyre", "knuckle");
        assert_eq!(is_listed, expected == Status::Found, "{setup:?}");
    }
}

#[test]
fn the_largest_tyre_stops_at_a_knuckle_that_reaches_over_it() {
    let mut draft = Draft::new();
    with_wheel(&mut draft);
    // Its lower face 20 mm above the tread; 8 must remain.
    knuckle_box(&mut draft, "knuckle", V::new(0.0, 815.0, 810.0), 20.0);
    let (_folder, path) = written(&draft);
    let (code, text) = run("tyre", &path, &["--json", "-"]);
    assert!(code < 2, "{text}");
    let json: Value = serde_json::from_str(&text).expect("JSON alone");
    let clears = json["clears_diameter_mm"]
        .as_f64()
        .expect("some tyre clears");
    let most = 760.0 + 2.0 * 12.0;
    assert!(clears <= most && clears > most - 1.0, "{clears}");
    assert!(json["limits"].to_string().contains("knuckle"), "{json}");
}

#[test]
fn resting_pairs_of_every_two_bodies_that_share_a_motion_are_asked() {
    let bodies = [
        ("frame", "differential"),
        ("frame", "inner_joint_housing"),
        ("differential", "inner_joint_housing"),
        ("knuckle", "outer_joint_housing"),
        ("knuckle", "wheel"),
        ("outer_joint_housing", "wheel"),
    ];
    for (a, b) in bodies {
        let axis = match b {
            "inner_joint_housing" => V::new(0.0, 235.0, 420.0),
            "outer_joint_housing" => V::new(0.0, 700.0, 400.0),
            "wheel" => V::new(0.0, 815.0, 400.0),
            _ => V::new(0.0, 150.0, 420.0),
        };
        for (gap, expected) in [
            // A revolution may exceed its part by half a millimetre.
            (5.6, Status::Clear),
            (4.8, Status::Found),
            (-1.0, Status::Found),
        ] {
            let mut draft = Draft::new();
            draft.part("one", b, "each_side", &ball(&axis, 30.0));
            let middle = axis + V::new(30.0 + gap + 10.0, 0.0, 0.0);
            draft.part("two", a, "each_side", &ball(&middle, 10.0));
            draft.watch("one", "two", 5.0);
            let found = verdict_of(&draft);
            assert_eq!(
                status(&found),
                expected,
                "{a} {b} {gap}: {:?}",
                found.worse.resting_gaps
            );
        }
    }
}

/// Two parts of the frame that a setup brings together: named by nobody, named, or of two bodies.
#[test]
fn parts_at_rest_that_a_setup_brings_together_are_counted() {
    for (watched, other) in [(false, "frame"), (true, "frame"), (false, "differential")] {
        let mut draft = Draft::new();
        let at = V::new(100.0, 100.0, 500.0);
        draft.part("bracket", "frame", "each_side", &ball(&at, 20.0));
        let beside = at + V::new(60.0, 0.0, 0.0);
        draft.part("housing", other, "each_side", &ball(&beside, 20.0));
        draft.watch("halfshaft", "bracket", 1.0);
        if watched {
            draft.watch("*", "bracket", 1.0);
        }
        draft.more +=
            "setups: [(name: \"moved\", changes: [MovePart(name: \"bracket\", by: (30, 0, 0))])],";
        let scene = draft.scene("small");
        for (setup, expected) in [(None, Status::Clear), (Some("moved"), Status::Found)] {
            let found = swept(&truck_of(&scene, setup), 3);
            assert_eq!(
                contradictions(&found),
                Vec::<String>::new(),
                "{watched} {other}"
            );
            assert_eq!(status(&found), expected, "{watched} {other}");
        }
    }
}

// ---------------------------------------------------------------- sums

/// Whether a name is matched by a pattern of letters, `*` and `?`.
fn is_match(pattern: &[u8], name: &[u8]) -> bool {
    match (pattern, name) {
        ([], []) => true,
        ([b'*', rest @ ..], _) => {
            is_match(rest, name) || (!name.is_empty() && is_match(pattern, &name[1..]))
        }
        ([p, rest @ ..], [n, others @ ..]) => (*p == b'?' || p == n) && is_match(rest, others),
        _ => false,
    }
}

/// Every pair of parts, put where the scene's text says that it goes, against the verdict's requirements and sums.
fn assert_all_pairs_are_counted(scene: &Scene, corner: &Corner, found: &CornerFindings) {
    let matches = |a: &str, b: &str, x: &str, y: &str| {
        let m = |p: &str, n: &str| is_match(p.as_bytes(), n.as_bytes());
        (m(a, x) && m(b, y)) || (m(a, y) && m(b, x))
    };
    let (mut matched, mut one_body, mut excluded, mut resting, mut moving) = (0, 0, 0, 0, 0);
    for (i, x) in corner.parts.iter().enumerate() {
        for y in &corner.parts[i + 1..] {
            let entry = scene
                .watch
                .iter()
                .rev()
                .find(|w| matches(&w.a, &w.b, &x.name, &y.name));
            let wheel_and_frame = (x.body == Body::Wheel && y.body.motion() == Motion::Frame)
                || (y.body == Body::Wheel && x.body.motion() == Motion::Frame);
            let own: Vec<_> = found
                .verdict
                .obligations
                .iter()
                .filter(|o| match &o.requirement {
                    Requirement::Gap { a, b, .. } => {
                        (*a == x.name && *b == y.name) || (*a == y.name && *b == x.name)
                    }
                    _ => false,
                })
                .collect();
            if entry.is_none() && !wheel_and_frame {
                assert!(own.is_empty(), "{} {}", x.name, y.name);
                continue;
            }
            matched += 1;
            if x.body == y.body {
                one_body += 1;
                assert!(own.is_empty(), "{} {}", x.name, y.name);
                continue;
            }
            assert_eq!(own.len(), 1, "{} {}", x.name, y.name);
            let Requirement::Gap {
                required_mm,
                at_rest,
                ..
            } = &own[0].requirement
            else {
                panic!("a gap");
            };
            let is_joined = scene
                .joined
                .iter()
                .any(|j| matches(&j.a, &j.b, &x.name, &y.name));
            let is_excluded = matches!(own[0].outcome, Outcome::Excluded { .. });
            assert_eq!(is_joined, is_excluded, "{} {}", x.name, y.name);
            if is_joined {
                excluded += 1;
                continue;
            }
            let wanted = entry.map_or(0.0, |e| e.gap * scene.units.in_mm());
            assert_eq!(*required_mm, wanted, "{} {}", x.name, y.name);
            assert_eq!(
                *at_rest,
                x.body.motion() == y.body.motion(),
                "{} {}",
                x.name,
                y.name
            );
            if *at_rest {
                resting += 1;
            } else {
                moving += 1;
            }
        }
    }
    let sums = &found.verdict.pairs;
    assert!(sums.add_up(), "{sums:?}");
    let counted = [
        sums.matched,
        sums.one_body,
        sums.excluded,
        sums.resting_checked,
    ];
    assert_eq!(counted, [matched, one_body, excluded, resting], "{sums:?}");
    let swept = sums.moving_proved + sums.moving_violated + sums.moving_undecided;
    assert_eq!(swept, moving, "{sums:?}");
    // Each limit that isn't meant as a stop, and the rest, once.
    let count = |is: &dyn Fn(&Requirement) -> bool| {
        let all = found.verdict.obligations.iter();
        all.filter(|o| is(&o.requirement)).count()
    };
    for limit in &corner.limits {
        let own = count(&|r| matches!(r, Requirement::Limit { id } if *id == limit.id));
        assert_eq!(own, usize::from(!limit.intended), "{:?}", limit.id);
    }
    assert_eq!(count(&|r| matches!(r, Requirement::Reach)), 1);
    assert_eq!(count(&|r| matches!(r, Requirement::RideHeight)), 1);
    assert_eq!(count(&|r| matches!(r, Requirement::SomethingWatched)), 1);
    assert_eq!(count(&|r| matches!(r, Requirement::SecondLook)), 1);
    assert_eq!(count(&|r| matches!(r, Requirement::IntendedStop { .. })), 2);
}

fn assert_counted(scene: &Scene, truck: &Truck, found: &SweepFindings) {
    assert_eq!(contradictions(found), Vec::<String>::new());
    for corner in std::iter::once(&found.worse).chain(&found.other) {
        let built = truck.corner(corner.side).expect("a corner");
        assert_all_pairs_are_counted(scene, built, corner);
        let sums = &corner.verdict.pairs;
        let text = text_of(found)
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ");
        let words = format!(
            "Pairs: {} watched = {} moving and proved",
            sums.matched, sums.moving_proved
        );
        assert!(
            corner.side != found.worse.side || text.contains(&words),
            "{words}\n{text}"
        );
    }
}

/// And the answer of each demo contradicts itself nowhere.
#[test]
fn every_watched_pair_of_the_demos_is_counted_once() {
    for name in ["tarnwood", "hollin", "crake"] {
        let path = Path::new("scenes").join(format!("{name}.ron"));
        let (scene, _) = read_scene(&path).expect("a demo scene");
        let truck = truck_of(&scene, None);
        let found = swept(&truck, 3);
        assert_counted(&scene, &truck, &found);
    }
}

#[test]
fn every_watched_pair_of_random_scenes_is_counted_once() {
    let bodies = [
        "frame",
        "differential",
        "rack",
        "lower_arm",
        "upper_arm",
        "knuckle",
        "tie_rod",
        "halfshaft",
        "damper_lower",
        "inner_joint_housing",
        "outer_joint_housing",
        "wheel",
    ];
    let mut counted = 0;
    for seed in 0..8 {
        let mut dice = Dice::new(seed);
        let mut draft = Draft::random(&mut dice, 10.0);
        for n in 0..10 {
            let middle = V::new(
                dice.between(-200.0, 200.0),
                dice.between(300.0, 800.0),
                dice.between(250.0, 700.0),
            );
            let body = bodies[dice.below(bodies.len())];
            let name = format!("{}{n}", ["a", "b"][dice.below(2)]);
            draft.part(
                &name,
                body,
                "each_side",
                &ball(&middle, dice.between(1.0, 30.0)),
            );
        }
        for _ in 0..5 {
            let patterns = ["a*", "b*", "*", "halfshaft", "?3", "*4", "b?"];
            let [a, b] = [0, 1].map(|_| patterns[dice.below(patterns.len())]);
            draft.watch(a, b, [0.0, 2.0, 5.0][dice.below(3)]);
        }
        draft.watch("halfshaft", "*", 1.0);
        draft.more = "joined: [(a: \"halfshaft\", b: \"*5\", why: \"a test\")],".into();
        let scene = draft.scene("random");
        // A pattern may match parts of one body alone, which is refused.
        let Ok(truck) = assemble_setup(&scene, None, &MeshStore::new(Path::new("."))) else {
            continue;
        };
        let found = swept(&truck, 3);
        assert_counted(&scene, &truck, &found);
        counted += 1;
    }
    assert!(counted >= 4, "{counted}");
}

/// What a reader of the JSON alone counts is what the library counts.
#[test]
fn the_json_carries_every_requirement_and_the_sums() {
    let mut draft = Draft::new();
    with_wheel(&mut draft);
    with_a_good_knuckle(&mut draft);
    draft.part(
        "bracket",
        "frame",
        "each_side",
        &ball(&V::new(-300.0, 500.0, 400.0), 5.0),
    );
    let found = verdict_of(&draft);
    let (_folder, path) = written(&draft);
    let (code, text) = run("sweep", &path, &["--json", "-", "--racks", "5"]);
    assert_eq!(code, status(&found) as i32);
    let json: Value = serde_json::from_str(&text).expect("JSON alone");
    let expected = serde_json::to_value(&found).expect("JSON");
    assert_eq!(json["verdict"], expected["verdict"]);
    let list = json["verdict"]["obligations"].as_array().expect("a list");
    let kinds = [
        "gap",
        "limit",
        "reach",
        "intended_stop",
        "ride_height",
        "second_look",
        "own_side",
        "something_watched",
    ];
    for one in list {
        let kind = one["kind"].as_str().expect("a kind");
        assert!(kinds.contains(&kind), "{one}");
        assert!(one["outcome"].is_string(), "{one}");
    }
    for kind in kinds {
        assert!(list.iter().any(|o| o["kind"] == kind), "no {kind}");
    }
}

// ---------------------------------------------------------------- thin cells along an edge

/// What a pair planted at a place is made of.
struct Planted {
    radii: [f64; 2],
    /// The gap at the place.
    gap_mm: f64,
    required_mm: f64,
    /// From the knuckle's ball to the frame's, given how the first moves with travel and with rack.
    away: fn(V, V) -> V,
}

/// Adds a ball on the knuckle and one on the frame that are so far apart at a travel and rack.
fn plant(draft: &mut Draft, oracle: &mut Oracle, n: usize, at: (f64, f64), pair: &Planted) {
    let own = V::new(-150.0, 720.0, 450.0);
    let mut seen = |t: f64, r: f64| {
        let pose: Pose = oracle.solver.pose(t, r).expect("within reach");
        pose.point(Body::Knuckle, &own)
    };
    let place = seen(at.0, at.1);
    let (by_travel, by_rack) = (
        seen(at.0 + 0.01, at.1) - place,
        seen(at.0, at.1 + 0.01) - place,
    );
    let away = (pair.away)(by_travel, by_rack).normalize();
    let [own_radius, other_radius] = pair.radii;
    let other = place + away * (own_radius + pair.gap_mm + other_radius);
    draft.part(
        &format!("k{n}"),
        "knuckle",
        "each_side",
        &ball(&own, own_radius),
    );
    draft.part(
        &format!("f{n}"),
        "frame",
        "each_side",
        &ball(&other, other_radius),
    );
    draft.watch(&format!("k{n}"), &format!("f{n}"), pair.required_mm);
}

/// A lens of missing gap that begins 0.31 mm of travel before the damper's stop and is some millimetres of rack wide.
#[test]
fn a_missing_gap_beside_a_stop_is_found_with_any_number_of_rack_positions() {
    for (sign, rack) in [(-1.0, 22.3), (-1.0, -47.1), (1.0, 11.7), (1.0, 58.9)] {
        let mut draft = Draft::new();
        let mut oracle = Oracle::of(&draft.scene("bare"), Side::Left);
        let stop = oracle.stop_travel(rack, sign).expect("a stop");
        let pair = Planted {
            radii: [5.0, 5.0],
            gap_mm: 2.69,
            required_mm: 3.0,
            away: if sign < 0.0 { |t, _| -t } else { |t, _| t },
        };
        plant(
            &mut draft,
            &mut oracle,
            0,
            (stop - sign * 1.0e-3, rack),
            &pair,
        );
        let truck = truck_of(&draft.scene("lens"), None);
        for racks in RACKS {
            let found = swept(&truck, racks);
            assert_eq!(contradictions(&found), Vec::<String>::new());
            assert_eq!(
                status(&found),
                Status::Found,
                "{sign} {rack}, {racks} rack positions"
            );
            assert!(named(&violated_pairs(&found.worse), "k0", "f0"));
        }
    }
}

/// Behind the stop the same lens does no harm, though it comes as near as a third of a millimetre to what is allowed.
#[test]
fn a_missing_gap_behind_a_stop_is_clear_with_any_number_of_rack_positions() {
    let planted = |gap_mm: f64| {
        let mut draft = Draft::new();
        let mut oracle = Oracle::of(&draft.scene("bare"), Side::Left);
        let stop = oracle.stop_travel(22.3, -1.0).expect("a stop");
        let pair = Planted {
            radii: [5.0, 5.0],
            gap_mm,
            required_mm: 3.0,
            away: |t, _| -t,
        };
        plant(&mut draft, &mut oracle, 0, (stop, 22.3), &pair);
        // The least gap along the whole edge.
        let mut oracle = Oracle::of(&draft.scene("lens"), Side::Left);
        let own = oracle.pairs[0].clone();
        let mut least = f64::INFINITY;
        for i in -300..=300 {
            let rack = 0.2 * f64::from(i);
            let stop = oracle.stop_travel(rack, -1.0).expect("a stop");
            let pose = oracle.solver.pose(stop, rack).expect("within reach");
            least = least.min(oracle.gap(&own, &pose));
        }
        (draft, least)
    };
    // Further off until the least along the edge is just more than is required.
    let mut gap_mm = 3.0;
    let (draft, _) = (0..20)
        .map(|_| {
            let (draft, least) = planted(gap_mm);
            gap_mm += 3.1 - least;
            (draft, least)
        })
        .find(|(_, least)| (3.01..3.34).contains(least))
        .expect("it goes so far off");
    let truck = truck_of(&draft.scene("lens"), None);
    for racks in RACKS {
        let found = swept(&truck, racks);
        assert_eq!(contradictions(&found), Vec::<String>::new());
        let verdict = &found.worse.verdict;
        assert_eq!(status(&found), Status::Clear, "{racks}: {verdict:#?}");
    }
}

/// Islands of contact smaller than a square of the map, within its thin squares.
#[test]
fn two_small_balls_that_meet_before_a_stop_are_never_clear() {
    for (sign, rack, before_mm) in [
        (-1.0, 22.3, 0.05),
        (-1.0, -31.9, 0.3),
        (1.0, 7.3, 0.1),
        (1.0, 59.95, 0.05),
        (-1.0, 10.0, 20.0),
    ] {
        let mut draft = Draft::new();
        let mut oracle = Oracle::of(&draft.scene("bare"), Side::Left);
        let stop = oracle.stop_travel(rack, sign).expect("a stop");
        let pair = Planted {
            radii: [0.02, 0.02],
            gap_mm: -0.04,
            required_mm: 0.0,
            away: |t, _| t,
        };
        plant(
            &mut draft,
            &mut oracle,
            0,
            (stop - sign * before_mm, rack),
            &pair,
        );
        let truck = truck_of(&draft.scene("island"), None);
        for racks in RACKS {
            let found = swept(&truck, racks);
            assert_eq!(contradictions(&found), Vec::<String>::new());
            assert_ne!(
                status(&found),
                Status::Clear,
                "{sign} {rack} {before_mm}, {racks} rack positions"
            );
            let text = text_of(&found);
            let none_before = text.contains("NO maker's stop comes before it");
            assert!(!none_before || status(&found) == Status::Found, "{text}");
        }
    }
}

// ---------------------------------------------------------------- the measured position

/// Four frame balls around one on the knuckle: above, below, on both sides along the rack.
fn caged(gap_mm: f64, required_mm: f64) -> Draft {
    let mut draft = Draft::new();
    let mut oracle = Oracle::of(&draft.scene("bare"), Side::Left);
    let ways: [fn(V, V) -> V; 4] = [|t, _| t, |t, _| -t, |_, r| r, |_, r| -r];
    for (n, away) in ways.into_iter().enumerate() {
        let pair = Planted {
            radii: [6.0, 60.0],
            gap_mm,
            required_mm,
            away,
        };
        plant(&mut draft, &mut oracle, n, (0.0, 0.0), &pair);
    }
    draft
}

#[test]
fn a_measured_position_with_contacts_a_hair_away_on_all_sides_is_never_clear() {
    for gap_mm in [0.3, 0.1, 0.01] {
        let found = verdict_of(&caged(gap_mm, 0.0));
        assert_ne!(status(&found), Status::Clear, "{gap_mm}");
        let seen = violated_pairs(&found.worse);
        assert!(!seen.is_empty(), "{gap_mm}: {:#?}", found.worse.verdict);
    }
}

#[test]
fn a_measured_position_with_gaps_a_hair_too_small_on_all_sides_is_never_clear() {
    for gap_mm in [3.2, 3.01, 2.99] {
        let found = verdict_of(&caged(gap_mm, 3.0));
        assert_eq!(status(&found), Status::Found, "{gap_mm}");
    }
}

#[test]
fn a_measured_position_with_limits_a_hair_away_on_all_sides_is_never_clear() {
    let mut draft = Draft::new();
    // Plunge goes in and out with travel, the outer joint bends either way with the rack.
    draft.plunge = [-0.02, 0.02];
    draft.part(
        "far",
        "frame",
        "each_side",
        &ball(&V::new(0.0, 0.0, 3000.0), 1.0),
    );
    draft.watch("halfshaft", "far", 0.0);
    let found = verdict_of(&draft);
    assert_ne!(status(&found), Status::Clear, "{:#?}", found.worse.verdict);
}

// ---------------------------------------------------------------- the body around the tyre

/// A truck whose cab has its front lower corner behind the wheel.
fn with_cab(corner_x: f64, corner_z: f64) -> Draft {
    let mut draft = Draft::new();
    with_wheel(&mut draft);
    draft.watch.clear();
    draft.part(
        "far",
        "frame",
        "each_side",
        &ball(&V::new(0.0, 0.0, 3000.0), 1.0),
    );
    draft.watch("halfshaft", "far", 0.0);
    let points: Vec<String> = [corner_x, -1500.0]
        .iter()
        .flat_map(|x| [corner_z, 1300.0].map(|z| (x, z)))
        .flat_map(|(x, z)| [900.0, -900.0].map(|y| format!("({x:?}, {y:?}, {z:?})")))
        .collect();
    draft.more += &format!(
        "underbody: [(name: \"cab\", shape: Hull(points: [{}]))],\n",
        points.join(", ")
    );
    draft
}

#[test]
fn a_cab_corner_in_the_tyres_sweep_is_a_tyre_rub_that_nobody_needs_to_name() {
    // 17 mm from the tread as measured.
    let found = verdict_of(&with_cab(-390.0, 470.0));
    assert_eq!(status(&found), Status::Found);
    let corner = &found.worse;
    assert!(named(&violated_pairs(corner), "tyre", "cab"));
    let rub = corner.first_tyre_rub.as_ref().expect("a rub");
    assert_eq!(rub.class, ContactClass::TyreRub);
    assert!(
        named(&[[rub.a.clone(), rub.b.clone()]], "tyre", "cab"),
        "{rub:?}"
    );
    assert_eq!(corner.first_contact, None, "no metal touches");
    let metal = corner
        .first_contacts
        .iter()
        .filter(|c| c.class == ContactClass::Metal);
    assert_eq!(metal.count(), 0);
    let json = serde_json::to_value(&found).expect("JSON");
    assert_eq!(json["first_tyre_rub"]["class"], "tyre_rub");
    assert_eq!(json["first_contact"], Value::Null);
    let text = text_of(&found).to_lowercase();
    assert!(text.contains("tyre rub"), "{text}");
    assert!(
        text.contains("first metal contact, maker's stops off: none"),
        "{text}"
    );
    // Far enough away it is clear.
    assert_eq!(status(&verdict_of(&with_cab(-520.0, 500.0))), Status::Clear);
}

#[test]
fn the_largest_tyre_stops_at_the_cab() {
    let mut draft = with_cab(-450.0, 560.0);
    draft.watch("tyre", "far", 0.0);
    let (_folder, path) = written(&draft);
    let (code, text) = run("tyre", &path, &["--json", "-"]);
    assert!(code < 2, "{text}");
    let json: Value = serde_json::from_str(&text).expect("JSON alone");
    let clears = json["clears_diameter_mm"]
        .as_f64()
        .expect("some tyre clears");
    // The corner stands 478 mm from the wheel centre as measured; nothing that passes it is larger.
    let corner_mm = 450.0_f64.hypot(160.0);
    assert!(clears >= 760.0 && clears < 2.0 * corner_mm, "{clears}");
    assert!(json["limits"].to_string().contains("cab"), "{json}");
}

// ---------------------------------------------------------------- what the frame carries besides

/// A front driveshaft 50 mm thick along the truck, 30 mm to the left of its middle, with its joints straight but for the
/// pinion's.
/// Its fluctuation, a limit of its own, is let be as large as it likes.
fn with_driveshaft(draft: &mut Draft, pinion_rises_by: f64, joint_limit_deg: f64) {
    draft.more += &format!(
        "front_driveshaft: (transfer_case: (-900, 30, 450), transfer_case_axis: (1, 0, 0), pinion: (-250, 30, 450),
         pinion_axis: (1, 0, {pinion_rises_by}), joint_at_transfer_case: cardan, joint_at_pinion: cardan,
         joint_limit_deg: {joint_limit_deg}, fluctuation_limit: 0.5, diameter: 50),\n"
    );
}

#[test]
fn the_front_driveshaft_meets_what_the_frame_carries() {
    for (gap_mm, expected) in [(6.0, Status::Clear), (-2.0, Status::Found)] {
        let mut draft = Draft::new();
        with_driveshaft(&mut draft, 0.0, 20.0);
        let mount = ball(&V::new(-600.0, 30.0, 450.0 - 25.0 - gap_mm - 10.0), 10.0);
        draft.part("gearbox mount", "frame", "once", &mount);
        draft.watch("front driveshaft", "*", 5.0);
        let found = verdict_of(&draft);
        let corners = [Some(&found.worse), found.other.as_ref()];
        for corner in corners.into_iter().flatten() {
            let pairs = violated_pairs(corner);
            let is_met = named(&pairs, "front driveshaft", "gearbox mount");
            assert_eq!(is_met, gap_mm < 5.0, "{gap_mm}: {pairs:?}");
        }
        assert_eq!(status(&found), expected, "{gap_mm}");
    }
}

#[test]
fn what_is_drawn_on_the_front_driveshaft_turns_with_it() {
    let mut draft = Draft::new();
    with_driveshaft(&mut draft, 0.0, 20.0);
    // A yoke's ear 60 mm above the shaft's axis comes round to where a line runs 60 mm below it.
    let ear = ball(&V::new(-800.0, 30.0, 510.0), 8.0);
    draft.part("yoke", "front_driveshaft", "each_side", &ear);
    let line = ball(&V::new(-800.0, 30.0, 390.0), 4.0);
    draft.part("line", "frame", "once", &line);
    draft.watch("yoke", "line", 0.0);
    let found = verdict_of(&draft);
    assert!(named(&violated_pairs(&found.worse), "yoke", "line"));
    let mut without = Draft::new();
    without.part("yoke", "front_driveshaft", "each_side", &ear);
    let scene = without.scene("no shaft");
    let refused = assemble_setup(&scene, None, &MeshStore::new(Path::new("scenes")));
    let problem = refused.expect_err("there is no shaft");
    assert_eq!(problem.path, "parts[0].on");
}

#[test]
fn the_front_driveshafts_joints_are_part_of_the_verdict() {
    for (limit_deg, expected) in [(12.0, Status::Clear), (11.0, Status::Found)] {
        let mut draft = Draft::new();
        // atan 0.2 is 11.31 degrees.
        with_driveshaft(&mut draft, 0.2, limit_deg);
        draft.part(
            "far",
            "frame",
            "once",
            &ball(&V::new(0.0, 0.0, 3000.0), 5.0),
        );
        draft.watch("halfshaft", "far", 1.0);
        let found = verdict_of(&draft);
        assert_eq!(status(&found), expected, "{limit_deg}");
        let past: Vec<String> = found
            .worse
            .verdict
            .violations()
            .map(|(_, stop, _)| stop.name())
            .collect();
        if expected == Status::Found {
            assert_eq!(past, ["front driveshaft joint at the pinion"]);
            let text = text_of(&found);
            assert!(
                text.contains("front driveshaft joint at the pinion: at every position"),
                "{text}"
            );
        }
    }
}

/// What one side's frame carries and reaches over the middle meets the other side's suspension.
#[test]
fn a_frame_part_that_reaches_across_is_met_by_the_other_sides_corner() {
    // The right halfshaft runs from y -235 to -700 at z 400 to 420; fitted to the left side, drawn about the right shaft.
    let about_right_shaft = ball(&V::new(0.0, -450.0, 410.0), 20.0);
    for (fitted, name_right) in [("left", "brace"), ("each_side", "left brace")] {
        let mut draft = Draft::new();
        draft.part("brace", "frame", fitted, &about_right_shaft);
        draft.watch("halfshaft", "brace", 3.0);
        let found = verdict_of(&draft);
        assert_eq!(status(&found), Status::Found, "{fitted}");
        let right = [Some(&found.worse), found.other.as_ref()];
        let mut right = right
            .into_iter()
            .flatten()
            .filter(|c| c.side == Side::Right || fitted == "each_side");
        let met = right.any(|c| {
            named(&violated_pairs(c), "halfshaft", name_right)
                || named(&violated_pairs(c), "halfshaft", "right brace")
        });
        assert!(met, "{fitted}");
    }
    // A cross member that is its own mirror image is there once.
    let mut draft = Draft::new();
    let member = "Box(centre: (300, 0, 300), size: (60, 500, 60))";
    draft.part("cross member", "frame", "each_side", member);
    draft.watch("halfshaft", "cross member", 3.0);
    let truck = truck_of(&draft.scene("even"), None);
    let count = |c: &Corner| {
        c.parts
            .iter()
            .filter(|p| p.entry_name == "cross member")
            .count()
    };
    assert!(truck.corners.iter().all(|c| count(c) == 1));
}

#[test]
fn spacers_on_the_damper_push_down_what_is_drawn_on_its_upper_half() {
    let mut draft = Draft::new();
    draft.part(
        "perch",
        "damper_upper",
        "each_side",
        &ball(&V::new(0.0, 500.0, 650.0), 20.0),
    );
    draft.watch("perch", "*", 1.0);
    let setup = |name: &str, adds: &str| {
        format!(
            "(name: \"{name}\", changes: [DamperSpacer((name: \"{name}\", thickness: 20, adds: {adds}))]),"
        )
    };
    draft.more += &format!(
        "setups: [{} {} (name: \"longer\", changes: [Damper(longer: 15)])],\n",
        setup("on top", "total_length"),
        setup("on the spring", "preload_only")
    );
    let scene = draft.scene("spaced");
    let perch = |setup: Option<&str>| {
        let truck = truck_of(&scene, setup);
        let part = truck.corners[0].parts.iter().find(|p| p.name == "perch");
        part.expect("drawn").surface.vertex_in_body(0)
    };
    let along = (draft.damper[1] - draft.damper[0]).normalize();
    let moved = perch(Some("on top")) - perch(None);
    assert!((moved - 20.0 * along).norm() < 1.0e-9, "{moved}");
    assert_eq!(perch(Some("on the spring")), perch(None));
    let warned = |setup: &str| truck_of(&scene, Some(setup)).warnings.join("\n");
    assert!(
        warned("on the spring")
            .contains("spring's seat by 20.0 mm, and `perch` is drawn as before")
    );
    assert!(warned("longer").contains("the damper is another, and `perch` is drawn as before"));
    assert!(!warned("on top").contains("as before"));
}
