//! A scene that asks for too much is refused by name: what, where, how much, and what to do.
//!
//! Source: the limits in `scene::contents`, `scene::read`, `truck`; scenes are `scenes/crake.ron` with
//! something added.

use bindpoint::scene::SceneError;
use bindpoint::truck::load_setup;
use miette::Diagnostic;
use std::time::{Duration, Instant};

/// Nothing that is refused may take longer, however large; it takes a tenth of that on an idle machine.
const LONGEST: Duration = Duration::from_secs(20);

fn crake() -> String {
    let path = format!("{}/scenes/crake.ron", env!("CARGO_MANIFEST_DIR"));
    std::fs::read_to_string(path).expect("a demo scene")
}

/// The demo scene with something at the start of one of its lists.
fn with(list: &str, added: &str) -> String {
    let head = format!("\n    {list}: [");
    let text = crake();
    assert_eq!(text.matches(&head).count(), 1, "{list}");
    text.replace(&head, &format!("{head}{added}"))
}

fn part(shape: &str) -> String {
    with(
        "parts",
        &format!("(name: \"new\", on: frame, shape: {shape}),"),
    )
}

/// The demo scene under another name.
fn named(name: &str) -> String {
    crake().replace("name: \"Crake Mini\"", &format!("name: \"{name}\""))
}

fn loaded(text: &str, setup: Option<&str>) -> Result<(), SceneError> {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("scene.ron");
    std::fs::write(&path, text).expect("written");
    load_setup(&path, setup).map(|_| ())
}

/// Refused in time, with these words, by a message that fits on a screen.
fn refused(text: &str, setup: Option<&str>, words: &[&str]) {
    let started = Instant::now();
    let error = loaded(text, setup).expect_err(words[0]);
    assert!(started.elapsed() < LONGEST, "{:?}", started.elapsed());
    let help = error.help().map(|h| h.to_string()).unwrap_or_default();
    assert!(!help.is_empty(), "{error}: nothing to do");
    for word in words {
        assert!(error.to_string().contains(word), "{error}: no {word}");
    }
    let shown = format!("{:?}", miette::Report::new(error));
    assert!(shown.len() < 8_000, "{} bytes are shown", shown.len());
}

#[test]
fn the_demo_scene_is_within_every_limit() {
    loaded(&crake(), None).expect("it reads");
}

#[test]
fn a_file_that_is_too_long() {
    let text = crake() + &" ".repeat(4 * 1024 * 1024);
    refused(&text, None, &["more than the 4194304 bytes"]);
}

#[cfg(unix)]
#[test]
fn a_file_without_an_end() {
    let error = load_setup(std::path::Path::new("/dev/zero"), None).expect_err("no end");
    assert!(error.to_string().contains("a pipe or a device"), "{error}");
}

#[test]
fn too_many_parts_wherever_they_stand() {
    let balls = |n: usize| -> String {
        let ball =
            |i| format!("(name: \"p{i}\", on: frame, shape: Ball(centre: (0, 0, 0), radius: 1)),");
        (0..n).map(ball).collect()
    };
    let words = ["parts", "more than the 1000 that are taken"];
    refused(&with("parts", &balls(1001)), None, &words);
    refused(&with("parts", &balls(20_000)), None, &words);
    let setup = format!(
        "(name: \"a\", changes: [UpperArm((parts: [{}]))]),",
        balls(1001)
    );
    refused(&with("setups", &setup), None, &words);
}

#[test]
fn too_many_entries_of_other_lists() {
    let many = |entry: &str| entry.repeat(501);
    for (list, entry) in [
        ("watch", "(a: \"tyre\", b: \"tie rod\", gap: 0.1),"),
        ("setups", "(name: \"a\", changes: []),"),
        ("obstacles", "(name: \"a\", shape: Log(diameter: 4)),"),
    ] {
        let words = [list, "more than the 500 that are taken"];
        refused(&with(list, &many(entry)), None, &words);
    }
    let joined = many("(a: \"tyre\", b: \"tie rod\", why: \"so\"),");
    let text = crake().replacen(
        "    units:",
        &format!("    joined: [{joined}],\n    units:"),
        1,
    );
    refused(&text, None, &["joined: 501 entries"]);
    let changes = format!(
        "(name: \"a\", changes: [{}]),",
        many("RideHeight(up: 0, by: spring),")
    );
    let words = ["setups[0].changes: 501 entries, more than the 500 that are taken"];
    refused(&with("setups", &changes), None, &words);
}

#[test]
fn shapes_of_too_many_points() {
    let hull = format!("Hull(points: [{}])", "(1, 2, 3), ".repeat(10_001));
    refused(
        &part(&hull),
        None,
        &["parts[0].shape.points", "10001", "10000"],
    );
    let lathe = format!(
        "Lathe(from: (0, 0, 0), axis: (0, 1, 0), profile: [{}])",
        "(1, 2), ".repeat(501)
    );
    refused(
        &part(&lathe),
        None,
        &["parts[0].shape.profile", "501", "500"],
    );
    let setup = format!("(name: \"a\", changes: [ReplacePart(name: \"tyre\", shape: {hull})]),");
    let words = ["setups[0].changes[0].shape.points", "10001"];
    refused(&with("setups", &setup), None, &words);
    let heights: String = (0..10_001).map(|i| format!("({i}, 1), ")).collect();
    let obstacle = format!("(name: \"a\", shape: Profile(points: [{heights}])),");
    refused(
        &with("obstacles", &obstacle),
        None,
        &["obstacles[0].shape.points", "10001"],
    );
}

#[test]
fn names_that_no_line_holds_and_that_a_terminal_would_obey() {
    let text = named(&"x".repeat(101));
    refused(&text, None, &["name: 101 characters", "100"]);
    let text = named(&"x".repeat(3_000_000));
    refused(&text, None, &["name: 3000000 characters"]);
    let text = named("Crake\\u{1b}[31m");
    refused(&text, None, &["control character"]);
}

#[test]
fn lengths_that_no_truck_has() {
    for length in ["1e300", "-1e300", "1e8"] {
        let ball = format!("Ball(centre: (0, {length}, 0), radius: 1)");
        refused(&part(&ball), None, &["parts[0].shape.centre", "1000 m"]);
    }
    let radius = "Cylinder(from: (0, 0, 0), to: (1, 0, 0), radius: 1e300)";
    refused(&part(radius), None, &["parts[0].shape.radius", "1000 m"]);
    for length in ["NaN", "inf"] {
        let ball = format!("Ball(centre: (0, 0, 0), radius: {length})");
        refused(&part(&ball), None, &["not a finite number"]);
    }
    let text = crake().replace("search: (droop: 7", "search: (droop: 1e300");
    refused(&text, None, &["search.droop", "1000 m"]);
    refused(
        &with("watch", "(a: \"*\", b: \"*\", gap: 1e300),"),
        None,
        &["watch[0].gap", "1000 m"],
    );
}

#[test]
fn turning_parts_that_would_sweep_the_whole_road() {
    for shape in [
        "Box(centre: (0, 0, 0), size: (3000, 3000, 3000))",
        "Capsule(from: (0, 0, 0), to: (30000, 0, 0), radius: 1)",
    ] {
        let text = with(
            "parts",
            &format!("(name: \"new\", on: wheel, shape: {shape}),"),
        );
        refused(
            &text,
            None,
            &["parts[0].shape", "turns with its shaft or wheel"],
        );
    }
}

#[test]
fn brackets_and_comments_inside_each_other() {
    for (open, words) in [
        ("(", "1:2: a field's name is expected here"),
        ("[", "1:1: "),
    ] {
        refused(&open.repeat(1_000_000), None, &[words]);
    }
    refused(&"/*".repeat(1_000_000), None, &["block comment"]);
    let some = format!(
        "ride_height: {}0{}, units:",
        "Some(".repeat(10_000),
        ")".repeat(10_000)
    );
    refused(
        &crake().replacen("units:", &some, 1),
        None,
        &["Expected a plain number"],
    );
}

#[test]
fn setups_made_on_each_other_in_a_circle_or_on_nothing() {
    let circle = "(name: \"u\", on: \"v\", changes: []), (name: \"v\", on: \"u\", changes: []),";
    refused(&with("setups", circle), Some("u"), &["made on itself"]);
    let own = "(name: \"u\", on: \"u\", changes: []),";
    refused(&with("setups", own), Some("u"), &["made on itself"]);
    let chain: String = (0..480)
        .map(|i| format!("(name: \"s{i}\", on: \"s{}\", changes: []),", i + 1))
        .collect();
    refused(
        &with("setups", &chain),
        Some("s0"),
        &["no setup is named `s480`"],
    );
}

#[test]
fn obstacles_that_nobody_drives_over() {
    use bindpoint::ground::{Course, Suspension};
    for (shape, scale) in [
        ("Log(diameter: 1000)", 1.0),
        ("Boulder(size: (100, 100, 100))", 10.0),
        ("Ramp(height: 1, length: 10000)", 1.0),
        ("Ledge(height: 60)", 20.0),
        ("Profile(points: [(0, 0), (10, 1000)])", 1.0),
    ] {
        let text = with("obstacles", &format!("(name: \"new\", shape: {shape}),"));
        let scene = bindpoint::scene::scene_from_text(&text, std::path::Path::new("scene.ron"));
        let scene = scene.expect("it reads");
        let truck = bindpoint::truck::assemble(&scene, std::path::Path::new(".")).expect("built");
        let refused = Course::new(&truck, "new", scale, Suspension::Held);
        let error = refused.err().expect(shape).to_string();
        assert!(error.contains("larger than"), "{shape}: {error}");
    }
    let far = "(name: \"new\", shape: Log(diameter: 4), ahead: 2000),";
    refused(
        &with("obstacles", far),
        None,
        &["obstacles[0].ahead", "50 m"],
    );
}

#[test]
fn numbers_on_the_command_line_that_are_out_of_all_reason() {
    let scene = format!("{}/scenes/crake.ron", env!("CARGO_MANIFEST_DIR"));
    let folder = tempfile::tempdir().expect("a folder");
    let solid = folder.path().join("room.stl").display().to_string();
    let keep_out = ["keepout", &scene, "--parts", "tyre", "--out", &solid];
    let map = ["clearance", &scene, "--part", "sway bar bracket"];
    for (command, number, words) in [
        (&keep_out[..], ["--resolution", "1e-9"], "million cubes"),
        (&keep_out, ["--resolution", "0.02mm"], "is likely to do"),
        (&keep_out, ["--resolution", "1e5"], "no more than 3.94 in"),
        (&keep_out, ["--resolution", "1e300"], "no more than 1000000"),
        (&keep_out, ["--margin", "1e300"], "no more than 1000000"),
        (&map, ["--tolerance", "1e-300"], "at least 0.00004 in"),
        (&map, ["--cutoff", "1e300"], "no more than 1000000"),
    ] {
        let mut run = std::process::Command::new(assert_cmd::cargo::cargo_bin!("bindpoint"));
        let started = Instant::now();
        let output = run.args(command).args(number).env("NO_COLOR", "1").output();
        let output = output.expect("it starts");
        assert!(started.elapsed() < LONGEST, "{number:?}");
        let said = String::from_utf8_lossy(&output.stderr).replace('│', " ");
        let said: Vec<&str> = said.split_whitespace().collect();
        assert_eq!(output.status.code(), Some(2), "{number:?}: {said:?}");
        assert!(said.join(" ").contains(words), "{number:?}: {said:?}");
    }
    assert_eq!(std::fs::read_dir(folder.path()).expect("there").count(), 0);
}

#[test]
fn a_mesh_file_that_is_too_long() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("long.stl");
    let file = std::fs::File::create(&path).expect("made");
    // Without content it takes no room on most disks.
    file.set_len(1024 * 1024 * 1024 + 1).expect("sized");
    let error = bindpoint::shapes::read_mesh(&path, Some(1.0)).expect_err("too long");
    assert!(
        error.to_string().contains("more than 1073741824 bytes"),
        "{error}"
    );
    assert!(
        error.help().contains("thin the mesh out"),
        "{}",
        error.help()
    );
}
