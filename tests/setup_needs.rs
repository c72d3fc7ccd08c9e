//! What a setup needs to stand at ride height: every length at once, whether it can be put together or not.
//!
//! Source: distances of the scene's own points, worked out in each test; nothing of the program's is asked for them.

use assert_cmd::cargo::cargo_bin_cmd;
use bindpoint::findings::Status;
use bindpoint::limits::{Lack, Need, When};
use bindpoint::scene::{Problem, Scene, scene_from_text};
use bindpoint::suspension::Side;
use bindpoint::sweep::{SweepOptions, status, sweep};
use bindpoint::truck::{MeshStore, Truck, assemble_setup};
use nalgebra::Vector3;
use small_scene::{Draft, ball};
use std::path::Path;

mod dice;
mod small_scene;

type V = Vector3<f64>;

fn built(scene: &Scene, setup: &str) -> Result<Truck, Problem> {
    assemble_setup(scene, Some(setup), &MeshStore::new(Path::new("scenes")))
}

fn with_changes(draft: &Draft, changes: &str) -> Scene {
    let mut draft = draft.clone();
    draft.more += &format!("setups: [(name: \"tried\", changes: [{changes}])],\n");
    draft.scene("small")
}

fn tried(draft: &Draft, changes: &str) -> Truck {
    built(&with_changes(draft, changes), "tried")
        .unwrap_or_else(|problem| panic!("{changes}: {problem:?}"))
}

fn refused(draft: &Draft, changes: &str) -> Problem {
    match built(&with_changes(draft, changes), "tried") {
        Err(problem) => problem,
        Ok(_) => panic!("{changes} was built"),
    }
}

/// A length as it is told: up to the next tenth of a millimetre.
fn tenth(mm: f64) -> String {
    format!("{:.1}", (mm * 10.0 - 1.0e-6).ceil() / 10.0)
}

/// A corner with little room in its inner joint, and a hose without slack.
fn draft() -> Draft {
    let mut draft = Draft::new();
    draft.plunge = [-24.0, 24.0];
    draft.joint_limits_deg = [26.0, 46.0];
    draft.more += "hoses: [(name: \"brake hose\", ends: ((on: frame, at: (-140, 560, 520)), (on: knuckle, at: (-60, 700, 520))), longest: 170)],\n";
    draft.part(
        "far",
        "frame",
        "once",
        &ball(&V::new(0.0, 0.0, 3000.0), 5.0),
    );
    draft.watch("halfshaft", "far", 1.0);
    draft
}

/// Both arms longer by `wider`: the knuckle and all on it stand that much further out, as they are.
fn wide(draft: &Draft, side: &str, sign: f64, wider: f64) -> String {
    let arm = |[_, _, ball]: &[V; 3], name: &str| {
        format!(
            "{name}(({side}ball_joint: ({:?}, {:?}, {:?})))",
            ball.x,
            sign * (ball.y + wider),
            ball.z
        )
    };
    format!(
        "{}, {}",
        arm(&draft.lower, "LowerArm"),
        arm(&draft.upper, "UpperArm")
    )
}

/// What 50 mm longer arms take, in the order told: halfshaft to its joint's end, halfshaft to where it stood, tie rod, hose.
fn needed(draft: &Draft, wider: f64) -> [f64; 4] {
    let out = V::new(0.0, wider, 0.0);
    let shaft = draft.outer_joint + out - draft.inner_joint;
    let was = (draft.outer_joint - draft.inner_joint).norm();
    // The spider on the flange's axis, along y, at the outboard end of its room.
    let to_end = V::new(shaft.x, shaft.y - draft.plunge[1], shaft.z).norm();
    let rod = (draft.rod[1] + out - draft.rod[0]).norm() - (draft.rod[1] - draft.rod[0]).norm();
    let hose = (V::new(-60.0, 700.0, 520.0) + out - V::new(-140.0, 560.0, 520.0)).norm() - 170.0;
    [to_end - was, shaft.norm() - was, rod, hose]
}

#[test]
fn longer_arms_need_halfshafts_tie_rods_and_hoses_told_in_one_message() {
    let draft = draft();
    let problem = refused(&draft, &wide(&draft, "", 1.0, 50.0));
    let [to_end, as_before, rod, hose] = needed(&draft, 50.0).map(tenth);
    for said in [
        format!(
            "each halfshaft {to_end} mm longer ({as_before} mm longer to stand in it where it stood)"
        ),
        format!("each tie rod {rod} mm longer"),
        format!("each brake hose {hose} mm longer"),
    ] {
        assert!(problem.what.contains(&said), "{said}: {}", problem.what);
    }
    assert_eq!(problem.path, "setups[0]");
}

#[test]
fn with_what_it_needs_the_setup_goes_together_and_needs_nothing() {
    let draft = draft();
    let [to_end, as_before, rod, hose] = needed(&draft, 50.0);
    let with = |shaft: f64, rod: f64, hose: f64| {
        format!(
            "{}, Halfshaft(longer: {shaft:?}), TieRodEnd(longer: {rod:?}), Hose(name: \"brake hose\", longer: {hose:?})",
            wide(&draft, "", 1.0, 50.0)
        )
    };
    let truck = tried(&draft, &with(as_before, rod, hose + 0.001));
    assert_eq!(truck.needs.all, Vec::new());
    let linkage = truck.corners[0].positioner.place(0.0, 0.0).linkage;
    assert!(
        linkage.plunge_mm.abs() < 1.0e-6,
        "it stands where it stood: {}",
        linkage.plunge_mm
    );
    assert!(
        tried(&draft, &with(to_end + 0.001, rod, hose + 0.001))
            .needs
            .all
            .is_empty()
    );
    // A hundredth less of any is not enough.
    for (shaft, hose) in [(to_end - 0.01, hose + 0.001), (as_before, hose - 0.01)] {
        let problem = refused(&draft, &with(shaft, rod, hose));
        assert!(problem.what.contains("it needs each"), "{}", problem.what);
    }
}

#[test]
fn one_sides_needs_are_told_for_that_side() {
    let draft = draft();
    let [_, _, rod, _] = needed(&draft, 50.0).map(tenth);
    for (side, sign) in [("left", 1.0), ("right", -1.0)] {
        let changes = wide(&draft, &format!("side: {side}, "), sign, 50.0);
        let problem = refused(&draft, &changes);
        assert!(
            problem
                .what
                .contains(&format!("{side} tie rod {rod} mm longer")),
            "{}",
            problem.what
        );
        assert!(
            problem.what.contains(&format!("{side} halfshaft")),
            "{}",
            problem.what
        );
        let other = if side == "left" { "right " } else { "left " };
        let list = problem.what.split_once("needs ").expect("a list").1;
        let list = list.split_once("; as it is").expect("its end").0;
        assert!(!list.contains(other) && !list.contains("each"), "{list}");
    }
}

/// Uneven shafts need what each of them needs: the rods and hoses are alike.
#[test]
fn uneven_halfshafts_need_lengths_of_their_own() {
    let mut draft = draft();
    draft.more += "other_side: (halfshaft: (outer_joint: (0, -700, 400), inner_joint: (0, -285, 420), diameter: 28,
        inner_limit_deg: 26, outer_limit_deg: 46, plunge: (inner: -24, outer: 20))),\n";
    let problem = refused(&draft, &wide(&draft, "", 1.0, 50.0));
    let [left, ..] = needed(&draft, 50.0);
    let shaft = V::new(0.0, 700.0 - 285.0, -20.0);
    let right = V::new(0.0, shaft.y + 50.0 - 20.0, shaft.z).norm() - shaft.norm();
    for said in [
        format!("left halfshaft {} mm longer", tenth(left)),
        format!("right halfshaft {} mm longer", tenth(right)),
        "each tie rod".to_owned(),
    ] {
        assert!(problem.what.contains(&said), "{said}: {}", problem.what);
    }
}

/// A rod so short that the knuckle can't be held at all is told like any other.
#[test]
fn a_tie_rod_that_cannot_reach_is_told_by_its_length() {
    let mut draft = draft();
    (draft.plunge, draft.joint_limits_deg) = ([-400.0, 400.0], [60.0, 60.0]);
    let wider = 190.0;
    let problem = refused(&draft, &wide(&draft, "", 1.0, wider));
    let rod = needed(&draft, wider)[2];
    assert!(
        problem
            .what
            .contains(&format!("each tie rod {} mm longer", tenth(rod))),
        "{}",
        problem.what
    );
}

/// A drop bracket without a differential drop, and a damper that stays on the frame.
#[test]
fn drop_brackets_need_what_stays_up_to_be_longer() {
    let mut draft = draft();
    draft.more = draft.more.replace("longest: 170", "longest: 160");
    draft.damper_more = "strap: (ends: ((on: frame, at: (60, 480, 600)), (on: lower_arm, at: (60, 600, 330))), length: 310)".to_owned();
    let by = 60.0;
    let problem = refused(
        &draft,
        &format!("DropBrackets(by: {by:?}, of: [lower_arm, upper_arm, rack])"),
    );
    let down = V::new(0.0, 0.0, -by);
    let strap = (V::new(60.0, 600.0, 330.0) + down - V::new(60.0, 480.0, 600.0)).norm() - 310.0;
    let hose = (V::new(-60.0, 700.0, 520.0) + down - V::new(-140.0, 560.0, 520.0)).norm() - 160.0;
    let damper = (draft.damper[1] + down - draft.damper[0]).norm() - draft.extended;
    for said in [
        format!("each limit strap {} mm longer", tenth(strap)),
        format!("each brake hose {} mm longer", tenth(hose)),
        format!("each damper {} mm longer pulled out", tenth(damper)),
    ] {
        assert!(problem.what.contains(&said), "{said}: {}", problem.what);
    }
    assert!(
        !problem.what.contains("halfshaft "),
        "it has room: {}",
        problem.what
    );
}

/// Lifted by preload past its extended length: the truck goes together, and at ride height it is past a limit.
#[test]
fn a_setup_past_a_limit_at_ride_height_is_found_with_what_it_needs() {
    let mut draft = draft();
    draft.extended = 495.0;
    draft.more = draft.more.replace("longest: 170", "longest: 400");
    let changes = "RideHeight(up: 60, by: preload)";
    let truck = tried(&draft, changes);
    let corner = &truck.corners[0];
    // The eyes' distance at ride height, from where the pose has them.
    let linkage = corner.position(-60.0, 0.0).expect("within reach").linkage;
    let foot = linkage.lower_arm.point(&draft.damper[1]);
    let short = (foot - draft.damper[0]).norm() - 495.0;
    assert!(short > 1.0, "{short}");
    let [left, right] = [Side::Left, Side::Right].map(|side| Need {
        side: Some(side),
        of: "damper".to_owned(),
        lack: Lack::Length {
            by_mm: short,
            as_before_mm: None,
            when: When::PulledOut,
        },
    });
    for wanted in [left, right] {
        let found = truck
            .needs
            .all
            .iter()
            .find(|need| need.side == wanted.side && need.of == "damper")
            .expect("it is told");
        match (found.lack, wanted.lack) {
            (Lack::Length { by_mm: a, .. }, Lack::Length { by_mm: b, .. }) => {
                assert!((a - b).abs() < 1.0e-6, "{a} {b}")
            }
            other => panic!("{other:?}"),
        }
    }
    let said = format!(
        "to stand at ride height this setup needs: each damper {} mm longer pulled out",
        tenth(short)
    );
    assert!(
        truck.warnings.iter().any(|w| w.starts_with(&said)),
        "{:?}",
        truck.warnings
    );
    let options = SweepOptions {
        rack_positions: 3,
        ..SweepOptions::default()
    };
    let found = sweep(&truck, &options, &|_, _| {});
    assert!(!found.worse.past_at_ride_height.is_empty());
    assert_eq!(status(&found), Status::Found);
    assert!(found.warnings.iter().any(|w| w.starts_with(&said)));
}

/// The toe of a corner at ride height, degrees, from the spindle's direction there.
fn toe_deg(truck: &Truck, side: Side) -> f64 {
    let corner = truck.corner(side).unwrap_or(&truck.corners[0]);
    let position = corner.position(corner.ride_height_mm, 0.0);
    let linkage = position.expect("it stands").linkage;
    let spindle = linkage
        .knuckle
        .direction(&corner.positioner.linkage.hardpoints.spindle_axis);
    let outboard = corner.side.outboard();
    (spindle.x * outboard)
        .atan2(spindle.y * outboard)
        .to_degrees()
}

/// Arms, damper and differential on brackets, the rack where it was: the rod, which keeps its length, pulls the wheel round.
/// `TieRodEnd(outer)` sets its length on the truck as measured, so that the same is told with it. The length that is told is
/// the one that brings the toe back, and then nothing more is needed.
#[test]
fn a_rack_left_up_needs_the_tie_rod_length_that_keeps_the_static_toe() {
    let mut draft = draft();
    draft.more = draft.more.replace("longest: 170", "longest: 400");
    draft.more += "differential: (front_mounts: [(100, 100, 500), (100, -100, 500)], rear_mounts: [(-100, 0, 500)]),\n";
    let before = toe_deg(&tried(&draft, ""), Side::Left);
    let brackets = "DropBrackets(by: 20, of: [lower_arm, upper_arm, damper, differential])";
    for end in ["", ", TieRodEnd(outer: (-140, 683, 377))"] {
        let changes = format!("{brackets}{end}");
        let truck = tried(&draft, &changes);
        let off = toe_deg(&truck, Side::Left) - before;
        // The printed tenth of a degree, and the finest that a shop sets.
        assert!(off.abs() > 0.1, "{changes}: {off}");
        let needed: Vec<f64> = (truck.needs.all.iter())
            .filter_map(|need| match need.lack {
                Lack::Length {
                    by_mm,
                    when: When::ToKeepToe,
                    ..
                } => Some(by_mm),
                _ => None,
            })
            .collect();
        let [left, right] = needed[..] else {
            panic!("{changes}: {:?}", truck.needs);
        };
        assert!((left - right).abs() < 1.0e-9, "{left} {right}");
        let said = format!(
            "each tie rod {} mm {} to keep the static toe",
            tenth(left.abs()),
            if left < 0.0 { "shorter" } else { "longer" }
        );
        let told = truck.warnings.iter().any(|w| w.contains(&said));
        assert!(told, "{said}: {:?}", truck.warnings);
        let end = match end {
            "" => format!(", TieRodEnd(longer: {left:?})"),
            _ => end.replace("377))", &format!("377), longer: {left:?})")),
        };
        let mended = tried(&draft, &format!("{brackets}{end}"));
        assert_eq!(mended.needs.all, Vec::new(), "{end}");
        // The rod's length was found to a toe of 1e-8 radians.
        let off = toe_deg(&mended, Side::Left) - before;
        assert!(off.abs() < 1.0e-5, "{end}: {off}");
    }
    // All five together take the rod along.
    let whole = tried(&draft, "DropBrackets(by: 20)");
    assert_eq!(whole.needs.all, Vec::new());
    assert!((toe_deg(&whole, Side::Left) - before).abs() < 1.0e-9);
}

/// What is needed depends on the height at which the truck stands, which a kit's spacer sets.
#[test]
fn needs_say_the_ride_height_and_that_nothing_in_the_setup_sets_it() {
    let draft = draft();
    let longer = wide(&draft, "", 1.0, 50.0);
    let problem = refused(&draft, &longer);
    let missing = "this setup has neither `DamperSpacer` nor `RideHeight`";
    let at = "worked out with the wheels at travel +0.0 mm from the measured position (bump +)";
    for said in [at, missing] {
        assert!(problem.what.contains(said), "{said}: {}", problem.what);
    }
    for lift in [
        "RideHeight(up: 40, by: preload)",
        "DamperSpacer((name: \"s\", thickness: 20, adds: total_length))",
    ] {
        let problem = refused(&draft, &format!("{longer}, {lift}"));
        assert!(!problem.what.contains(missing), "{}", problem.what);
        assert!(!problem.what.contains("+0.0 mm from"), "{}", problem.what);
        let is_told = problem
            .what
            .contains("worked out with the wheels at travel -");
        assert!(is_told, "{}", problem.what);
    }
}

/// Findings carry values; words are made of them on the way out.
#[test]
fn needs_are_values_in_the_json() {
    let mut draft = draft();
    draft.extended = 495.0;
    draft.more = draft.more.replace("longest: 170", "longest: 400");
    let truck = tried(&draft, "RideHeight(up: 60, by: preload)");
    let options = SweepOptions {
        rack_positions: 3,
        ..SweepOptions::default()
    };
    let found = sweep(&truck, &options, &|_, _| {});
    let json = serde_json::to_value(&found).expect("it is written");
    let needs = &json["needs"];
    let first = &needs["all"][0];
    assert_eq!(first["of"], "damper", "{needs}");
    assert_eq!(first["lack"], "length", "{needs}");
    assert_eq!(first["when"], "pulled_out", "{needs}");
    assert!(
        first["by_mm"].as_f64().is_some_and(|mm| mm > 1.0),
        "{needs}"
    );
    let height = &needs["ride_heights"][0];
    assert_eq!(height["is_set_by_setup"], true, "{needs}");
    let travel = height["travel_mm"].as_f64().expect("it stands");
    assert!((travel + 60.0).abs() < 1.0e-6, "{travel}");
}

/// The shaft's angle is one that no length mends.
#[test]
fn a_joint_past_its_angle_is_told_with_the_angle_that_it_needs() {
    let mut draft = draft();
    draft.plunge = [-200.0, 200.0];
    draft.joint_limits_deg = [10.0, 75.0];
    draft.more += "differential: (front_mounts: [(100, 100, 500), (100, -100, 500)], rear_mounts: [(-100, 0, 500)]),\n";
    let problem = refused(&draft, "DifferentialDrop(by: -120)");
    assert!(
        problem.what.contains("inner joint that takes"),
        "{}",
        problem.what
    );
}

#[test]
fn arms_that_cannot_meet_the_knuckle_say_how_long_it_would_have_to_be() {
    let draft = draft();
    let upper = V::new(-22.0, 450.0, 682.0);
    let problem = refused(&draft, "UpperArm((ball_joint: (-22, 450, 682)))");
    // The furthest place of the upper ball joint from the lower one, on the circle about the pivots, by a fine walk.
    let [front, rear, _] = draft.upper;
    let axis = nalgebra::Unit::new_normalize(rear - front);
    let lower = draft.lower[2];
    let away: Vec<f64> = (0..360_000)
        .map(|i| {
            let turn =
                nalgebra::Rotation3::from_axis_angle(&axis, (f64::from(i) / 1000.0).to_radians());
            (front + turn * (upper - front) - lower).norm()
        })
        .collect();
    let knuckle = (draft.upper[2] - lower).norm();
    let far = away.iter().copied().fold(0.0, f64::max);
    let near = away.iter().copied().fold(f64::INFINITY, f64::min);
    let (by, way) = if knuckle < near {
        (near - knuckle, "longer")
    } else {
        (knuckle - far, "shorter")
    };
    let said = format!(
        "each knuckle {} mm {way} between its ball joints",
        tenth(by)
    );
    assert!(problem.what.contains(&said), "{said}: {}", problem.what);
}

/// A demo truck, with its arms longer and its front brackets drawn.
#[test]
fn the_demo_trucks_need_what_their_points_say() {
    let path = Path::new("scenes/tarnwood.ron");
    let text = std::fs::read_to_string(path).expect("a demo scene");
    let wide = "LowerArm((ball_joint: (8, 762, 290))), UpperArm((ball_joint: (-22, 708, 682)))";
    let text = text.replacen(
        "    setups: [",
        &format!("    setups: [(name: \"tried\", changes: [{wide}]),"),
        1,
    );
    let scene = scene_from_text(&text, path).expect("it is read");
    let problem = match built(&scene, "tried") {
        Err(problem) => problem,
        Ok(_) => panic!("it was built"),
    };
    let out = V::new(0.0, 40.0, 0.0);
    let rod = V::new(-140.0, 685.0, 372.0) - V::new(-135.0, 366.0, 396.0);
    let said = format!(
        "each tie rod {} mm longer",
        tenth((rod + out).norm() - rod.norm())
    );
    assert!(problem.what.contains(&said), "{said}: {}", problem.what);
    let shaft = V::new(0.0, 700.0 - 235.0, -20.0);
    // Plunge 24 outboard, where the polygon takes 15 degrees; the shaft stands at less than 3.
    let to_end = (shaft + out - V::new(0.0, 24.0, 0.0)).norm() - shaft.norm();
    let said = format!("each halfshaft {} mm longer", tenth(to_end));
    assert!(problem.what.contains(&said), "{said}: {}", problem.what);
}

// ---------------------------------------------------------------- the full-size truck in inches

/// The appendix without its tyre, which takes no part in this and much time to draw, and with one more setup.
fn fellgate(changes: &str) -> String {
    let text = include_str!("fellgate/fellgate.ron");
    let line = "    watch: [(a: \"*\", b: \"*\", gap: 0.12), (a: \"halfshaft\", b: \"inner cup\", gap: 0)],";
    let is_tyres = |line: &&str| {
        ["name: \"tyre\"", "275/70R18", "\"305s\""]
            .iter()
            .any(|tyre| line.contains(tyre))
    };
    let text: Vec<&str> = text
        .lines()
        .filter(|line| !is_tyres(line))
        .map(|l| {
            if l.trim_start().starts_with("watch:") {
                line
            } else {
                l
            }
        })
        .collect();
    text.join("\n").replacen(
        "    setups: [",
        &format!("    setups: [(name: \"tried\", changes: [{changes}]),"),
        1,
    )
}

fn fellgate_scene(changes: &str) -> Scene {
    scene_from_text(&fellgate(changes), Path::new("fellgate.ron"))
        .unwrap_or_else(|e| panic!("{changes}: {e:?}"))
}

const INCH: f64 = 25.4;

#[test]
fn a_wide_kit_on_the_full_size_truck_says_all_it_needs_in_inches() {
    // 2 in wider arms; the spider's room is an inch each way, and the right shaft is shorter.
    let wide =
        "LowerArm((ball_joint: (0.4, 31.9, 11.4))), UpperArm((ball_joint: (-0.9, 29.4, 26.9)))";
    let scene = fellgate_scene(wide);
    let problem = match built(&scene, "tried") {
        Err(problem) => problem,
        Ok(_) => panic!("it was built"),
    };
    let rod = V::new(5.75 - 5.5, 29.6 - 13.0, 13.6 - 14.5);
    let out = V::new(0.0, 2.0, 0.0);
    let shaft = |inner_y: f64| V::new(0.0, 29.1 - inner_y, 15.9 - 16.6);
    let to_end = |inner_y: f64| {
        (shaft(inner_y) + V::new(0.0, 2.0 - 1.0, 0.0)).norm() - shaft(inner_y).norm()
    };
    let hose = V::new(-2.6 + 3.0, 27.5 + 2.0 - 18.5, 20.5 - 24.0).norm() - 15.5;
    assert!(hose < 0.0, "the hose has slack");
    // So nearly straight that both shafts' needs are the same tenth.
    assert_eq!(tenth(to_end(8.6) * INCH), tenth(to_end(10.9) * INCH));
    for said in [
        format!(
            "each tie rod {} mm longer",
            tenth(((rod + out).norm() - rod.norm()) * INCH)
        ),
        format!("each halfshaft {} mm longer", tenth(to_end(8.6) * INCH)),
    ] {
        assert!(problem.what.contains(&said), "{said}: {}", problem.what);
    }
    assert!(!problem.what.contains("hose"), "{}", problem.what);
    // As a person sees it, in inches.
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("fellgate.ron");
    std::fs::write(&path, fellgate(wide)).expect("written");
    let output = cargo_bin_cmd!("bindpoint")
        .args(["check", &path.display().to_string(), "--setup", "tried"])
        .env("NO_COLOR", "1")
        .output()
        .expect("bindpoint starts");
    let said: String = String::from_utf8_lossy(&output.stderr)
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ");
    assert_eq!(output.status.code(), Some(2), "{said}");
    assert!(
        said.contains("in longer") && !said.contains("mm longer"),
        "{said}"
    );
}

/// With the lengths that it asked for, the wide kit stands; a 4 in drop bracket lowers it whole.
#[test]
fn the_full_size_truck_goes_together_with_what_it_needs() {
    let wide = "LowerArm((ball_joint: (0.4, 31.9, 11.4))), UpperArm((ball_joint: (-0.9, 29.4, 26.9))), \
         Halfshaft(longer: 2), TieRodEnd(longer: 2)";
    let truck = built(&fellgate_scene(wide), "tried").unwrap_or_else(|p| panic!("{p:?}"));
    assert!(truck.needs.all.is_empty(), "{:?}", truck.needs);
    let plain = built(&fellgate_scene(""), "tried").unwrap_or_else(|p| panic!("{p:?}"));
    let drop = "DropBrackets(by: 4, frame_parts: []), Hose(name: \"brake hose\", longest: 20), Strap(length: 18)";
    let dropped = built(&fellgate_scene(drop), "tried").unwrap_or_else(|p| panic!("{p:?}"));
    assert!(dropped.needs.all.is_empty(), "{:?}", dropped.needs);
    for side in [Side::Left, Side::Right] {
        let [a, b] = [&plain, &dropped].map(|t| {
            let corner = t.corner(side).expect("uneven shafts");
            corner
                .position(corner.ride_height_mm, 0.0)
                .expect("it stands")
                .linkage
        });
        assert!((a.wheel_centre.z - b.wheel_centre.z - 4.0 * INCH).abs() < 1.0e-6);
        assert!((a.plunge_mm - b.plunge_mm).abs() < 1.0e-6);
    }
    // Without the longer hose and strap they are what is missing, by the distance of their ends.
    let problem = match built(&fellgate_scene("DropBrackets(by: 4)"), "tried") {
        Err(problem) => problem,
        Ok(_) => panic!("it was built"),
    };
    let hose = V::new(-2.6 + 3.0, 27.5 - 18.5, 20.5 - 4.0 - 24.0).norm() - 15.5;
    let strap = V::new(0.0, 23.5 - 17.0, 13.2 - 4.0 - 22.0).norm() - 14.0;
    assert!(hose < 0.0 && strap > 0.0);
    let said = format!(
        "it needs each limit strap {} mm longer, worked out with the wheels at travel +0.0 mm",
        tenth(strap * INCH)
    );
    assert!(problem.what.contains(&said), "{said}: {}", problem.what);
}
