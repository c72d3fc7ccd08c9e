//! A damper that a setup brings is the same damper as in a scene of its own: as long, and held by its own eyes.
//!
//! Found by a reviewer, whose closed-form kinematics and segment distances gave the gaps of both scenes: a bar of the new
//! damper was drawn as long as the old one (5.99 mm of room, 38.9 printed), and its lower half was held by where the old one's
//! eyes were.

use assert_cmd::cargo::cargo_bin_cmd;
use bindpoint::scene::scene_from_text;
use bindpoint::sweep::{SweepOptions, sweep};
use bindpoint::truck::{MeshStore, assemble_setup};
use std::path::Path;

/// A corner with a damper, parts, watch and setups.
fn scene(damper: &str, parts: &str, more: &str) -> String {
    format!(
        "(name: \"Corner\", units: mm, side: left, search: (droop: 140, bump: 120),
        lower_arm: (front_pivot: (180, 335, 345), rear_pivot: (-190, 335, 335), ball_joint: (8, 722, 290)),
        upper_arm: (front_pivot: (95, 440, 655), rear_pivot: (-125, 445, 640), ball_joint: (-22, 668, 682)),
        knuckle: (wheel_centre: (0, 815, 400), spindle: Static(toe_deg: 0, camber_deg: 0), tie_rod_outer: (-140, 685, 372),
            loaded_radius: 387),
        rack: (tie_rod_inner: (-135, 366, 396), travel: (left: 60, right: 60)),
        damper: ({damper}),
        halfshaft: (outer_joint: (0, 700, 400), inner_joint: (0, 235, 420), diameter: 28, inner_limit_deg: 40,
            outer_limit_deg: 60, plunge: (inner: -60, outer: 60)),
        parts: [{parts}],
        {more})"
    )
}

/// The least gap to the post in a setup, or as measured.
fn least_mm(text: &str, setup: Option<&str>) -> f64 {
    let scene = scene_from_text(text, Path::new("a.ron")).unwrap_or_else(|e| panic!("{e}"));
    let store = MeshStore::new(Path::new("."));
    let truck = assemble_setup(&scene, setup, &store).unwrap_or_else(|p| panic!("{p:?}"));
    let found = sweep(&truck, &SweepOptions::default(), &|_, _| {}).worse;
    let gaps = found.tightest_gaps.iter();
    let gaps = gaps.filter(|g| g.a == "post" || g.b == "post");
    gaps.map(|g| g.gap_mm).fold(f64::INFINITY, f64::min)
}

#[test]
fn a_bar_of_a_damper_that_a_setup_brings_is_as_long_as_that_damper() {
    let post =
        "(name: \"post\", on: frame, shape: Ball(centre: (47.6, 545.6, 411.9), radius: 10)),";
    let bars = [
        "Bar(diameter: 60, short_to: 150)",
        "Bar(from: \"damper.upper_mount\", to: \"damper.lower_mount\", diameter: 60, short_to: 150)",
    ];
    for bar in bars {
        let body = format!("(name: \"body\", on: damper_upper, shape: {bar})");
        let watch = "watch: [(a: \"post\", b: \"body\", gap: 10)],";
        let new = "lower_mount: (10, 575, 265), extended: 590, compressed: 490";
        let own = scene(
            &format!("upper_mount: (-20, 470, 790), {new}, lower_mount_on: lower_arm"),
            &format!("{post} {body}"),
            watch,
        );
        let with_setup = scene(
            "upper_mount: (-20, 470, 790), lower_mount: (10, 560, 325), lower_mount_on: lower_arm, extended: 500, \
             compressed: 440",
            post,
            &format!(
                "{watch} setups: [(name: \"new\", changes: [Damper({new}, parts: [{body}])])],"
            ),
        );
        let [own, setup] = [least_mm(&own, None), least_mm(&with_setup, Some("new"))];
        assert!(own < 6.0 && (own - setup).abs() < 0.02, "{own} {setup}");
    }
}

#[test]
fn a_damper_that_a_setup_brings_is_held_as_the_same_one_in_a_scene_of_its_own() {
    let post =
        "(name: \"post\", on: frame, shape: Ball(centre: (-91.6, 582.31, 653.78), radius: 8)),";
    let tab = "(name: \"tab\", on: damper_lower, shape: Ball(centre: (-90, 600, 720), radius: 10))";
    let watch = "watch: [(a: \"post\", b: \"tab\", gap: 2.75)],";
    let rest = "lower_mount_on: upper_arm, extended: 323.737, compressed: 238.504, roll: HeldBy(\"bushed eyes\")";
    let own = scene(
        &format!("upper_mount: (-20, 470, 900), lower_mount: (10, 600, 660), {rest}"),
        &format!("{post} {tab}"),
        watch,
    );
    let with_setup = scene(
        &format!("upper_mount: (-20, 470, 900), lower_mount: (-30, 600, 660), {rest}"),
        post,
        &format!(
            "{watch} setups: [(name: \"new\", changes: [Damper(lower_mount: (10, 600, 660), extended: 323.737, compressed: \
             238.504, parts: [{tab}])])],"
        ),
    );
    let [own, setup] = [least_mm(&own, None), least_mm(&with_setup, Some("new"))];
    assert!(own < 2.0 && (own - setup).abs() < 0.02, "{own} {setup}");
}

/// A bracket on a rod that may roll goes round with it: the solid of one roll was called the room of every position.
#[test]
fn no_solid_is_seen_from_a_body_that_may_roll_or_turns() {
    let text = scene(
        "upper_mount: (-20, 470, 790), lower_mount: (10, 560, 325), lower_mount_on: lower_arm, extended: 500, compressed: \
         440, roll: HeldBy(\"bushed eyes\")",
        "(name: \"post\", on: frame, shape: Ball(centre: (0, 464.88, 349.06), radius: 8))",
        "watch: [(a: \"post\", b: \"*\", gap: 0)],",
    );
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join("a.ron"), text).expect("written");
    let keepout = |on: &str| {
        let output = cargo_bin_cmd!("bindpoint")
            .args([
                "keepout",
                "a.ron",
                "--on",
                on,
                "--parts",
                "post",
                "--resolution",
                "8",
                "--out",
                "k.stl",
            ])
            .current_dir(folder.path())
            .env("NO_COLOR", "1")
            .output()
            .expect("bindpoint starts");
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        (output.status.code(), said)
    };
    let (code, said) = keepout("tie_rod");
    assert_eq!(code, Some(2), "{said}");
    assert!(
        said.contains("may roll") && said.contains("HeldBy"),
        "{said}"
    );
    let (code, said) = keepout("halfshaft");
    assert_eq!(code, Some(2), "{said}");
    // Held, it has one roll.
    let (code, said) = keepout("damper_upper");
    assert_eq!(code, Some(0), "{said}");
}
