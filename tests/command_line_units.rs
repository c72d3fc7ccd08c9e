//! Lengths on the command line and in scenes: in the scene's unit unless another is typed, told back, and in messages too.
//!
//! Expected numbers are worked out here: an inch is 25.4 mm, exactly. A position's travel is found to 1e-10 mm
//! (`HEIGHT_TOLERANCE_MM`); everything else differs by roundings, which are far less.

use assert_cmd::cargo::cargo_bin_cmd;
use bindpoint::scene::{Scene, scene_from_text};
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::Output;
use tempfile::tempdir;

/// `HEIGHT_TOLERANCE_MM` and its rounding.
const TOLERANCE_MM: f64 = 1.01e-10;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn scene(name: &str) -> String {
    let path = root().join(format!("scenes/{name}.ron"));
    path.display().to_string()
}

fn bindpoint(arguments: &[&str]) -> Output {
    let output = cargo_bin_cmd!("bindpoint")
        .args(arguments)
        .env("NO_COLOR", "1")
        .env("COLUMNS", "200")
        .output()
        .expect("bindpoint starts");
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(!said.contains("panicked"), "{said}");
    output
}

/// What is printed, on one line; it must have been worked out.
fn printed(arguments: &[&str]) -> String {
    let output = bindpoint(arguments);
    let failed = words(&output.stderr);
    // One of the trucks binds, so that some answers are not fully checked.
    assert!(!output.stdout.is_empty(), "{arguments:?}: {failed}");
    words(&output.stdout)
}

fn refused(arguments: &[&str]) -> String {
    let output = bindpoint(arguments);
    assert_eq!(output.status.code(), Some(2), "{arguments:?}");
    assert!(output.stdout.is_empty(), "{arguments:?}");
    words(&output.stderr)
}

fn json(arguments: &[&str]) -> Value {
    let output = bindpoint(&[arguments, &["--json", "-"]].concat());
    serde_json::from_slice(&output.stdout).expect("JSON alone")
}

/// Words of a text, whatever the line breaks and frames.
fn words(text: &[u8]) -> String {
    let bare = String::from_utf8_lossy(text).replace(['│', '|', '×'], " ");
    bare.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn is(found: &Value, mm: f64, what: &str) {
    let found = found.as_f64().unwrap_or_else(|| panic!("{what}: {found}"));
    assert!(
        (found - mm).abs() <= TOLERANCE_MM,
        "{what}: {found}, not {mm}"
    );
}

#[test]
fn a_position_is_the_same_however_it_is_typed() {
    let (inches, millimetres) = (scene("crake"), scene("tarnwood"));
    for (path, travel, mm) in [
        (&inches, "-0.5", -12.7),
        (&inches, "-.5in", -12.7),
        (&inches, "-1/2", -12.7),
        (&inches, "-1/2\"", -12.7),
        (&inches, "-12.7mm", -12.7),
        (&inches, "1 1/8", 28.575),
        (&inches, "1-1/8in", 28.575),
        (&inches, "28.575 mm", 28.575),
        (&millimetres, "-12.7", -12.7),
        (&millimetres, "-12.7mm", -12.7),
        (&millimetres, "-1/2in", -12.7),
        (&millimetres, "-0.5 in", -12.7),
    ] {
        let found = json(&["pose", path, "--travel", travel, "--rack", "0.25in"]);
        is(&found["travel_mm"], mm, travel);
        is(&found["rack_mm"], 6.35, travel);
        // What --units prints in changes nothing of what is asked.
        let arguments = [
            "pose", path, "--travel", travel, "--rack", "0.25in", "--units",
        ];
        for units in ["mm", "inch", "sixteenths"] {
            let again = json(&[&arguments[..], &[units]].concat());
            is(&again["travel_mm"], mm, travel);
        }
    }
}

#[test]
fn every_commands_lengths_are_the_scenes_unless_typed() {
    let crake = scene("crake");
    for (margin, mm) in [("0.5", 12.7), ("1/2", 12.7), ("10mm", 10.0)] {
        is(
            &json(&["damper", &crake, "--margin", margin])["margin_mm"],
            mm,
            margin,
        );
    }
    for (width, mm) in [("8 1/2", 215.9), ("8.5\"", 215.9), ("215mm", 215.0)] {
        is(
            &json(&["tyre", &crake, "--width", width])["width_mm"],
            mm,
            width,
        );
    }
    let travel = ["--travel", "0,-1/2,-12.7mm,0.25"];
    let found = json(&["ground", &crake, travel[0], travel[1]]);
    for (i, mm) in [0.0, -12.7, -12.7, 6.35].into_iter().enumerate() {
        is(&found["travel_mm"][i], mm, "ground");
    }
    let part = [
        "clearance",
        &crake,
        "--part",
        "sway bar bracket",
        "--resolution",
        "1",
    ];
    for (gap, mm) in [("1/8", 3.175), ("3mm", 3.0)] {
        let found = json(
            &[
                &part[..],
                &["--gap", gap, "--tolerance", "0.1mm", "--cutoff", "1"],
            ]
            .concat(),
        );
        is(&found["tightest"]["required_mm"], mm, gap);
        is(&found["cutoff_mm"], 25.4, "cutoff");
        is(&found["tolerance_mm"], 0.1, "tolerance");
    }
    // The same solid and the same parts to the last bit, typed one way or the other.
    let folder = tempdir().expect("a folder");
    let bytes = |name: &str, margin: &str, resolution: &str| {
        let out = folder.path().join(name).display().to_string();
        let solid = ["keepout", &crake, "--parts", "tie rod", "--out", &out];
        printed(
            &[
                &solid[..],
                &["--margin", margin, "--resolution", resolution],
            ]
            .concat(),
        );
        std::fs::read(out).expect("written")
    };
    assert!(bytes("a.stl", "1/4", "1/2") == bytes("b.stl", "0.25in", "12.7mm"));
    let exported = |name: &str, travel: &str| {
        let out = folder.path().join(name);
        let text = out.display().to_string();
        printed(&[
            "export", &crake, "--travel", travel, "--rack", "0", "--out", &text,
        ]);
        std::fs::read(out.join("tie_rod.stl"))
    };
    let [a, b] = [("p", "-1/2"), ("q", "-0.5in")].map(|(n, t)| exported(n, t).expect("a tie rod"));
    assert!(a == b);
}

#[test]
fn each_answer_tells_what_was_asked_and_what_was_typed_where_that_differs() {
    let (crake, tarnwood) = (scene("crake"), scene("tarnwood"));
    let folder = tempdir().expect("a folder");
    let out = folder.path().join("x").display().to_string();
    let solid = folder.path().join("x.stl").display().to_string();
    let cases: [(&[&str], &str); 10] = [
        (
            &["pose", &crake, "--travel", "-0.5", "--rack", "0"],
            "Asked: travel -0.5 in, rack 0 in.",
        ),
        (
            &["pose", &crake, "--travel", "-1/2", "--rack", "5mm"],
            "Asked: travel -0.5 in (typed -1/2), rack 0.1969 in (typed 5mm).",
        ),
        (
            &[
                "pose", &tarnwood, "--travel", "-3.5in", "--rack", "0", "--units", "inch",
            ],
            "Asked: travel -88.9 mm (typed -3.5in), rack 0 mm.",
        ),
        (
            &[
                "export", &crake, "--travel", "-12.7mm", "--rack", "0", "--out", &out,
            ],
            "Asked: travel -0.5 in (typed -12.7mm), rack 0 in.",
        ),
        (
            &["damper", &crake, "--margin", "10mm"],
            "Asked: margin 0.3937 in (typed 10mm).",
        ),
        (
            &["tyre", &crake, "--width", "8 1/2"],
            "Asked: width 8.5 in (typed 8 1/2).",
        ),
        (
            &["ground", &crake, "--travel", "0,0,-1/2,-0.5"],
            "Asked: travel front left 0 in, front right 0 in, rear left -0.5 in (typed -1/2), rear right -0.5 in.",
        ),
        (
            &[
                "keepout",
                &crake,
                "--parts",
                "tie rod",
                "--out",
                &solid,
                "--resolution",
                "12mm",
            ],
            "Asked: resolution 0.4724 in (typed 12mm).",
        ),
        (
            &[
                "clearance",
                &crake,
                "--part",
                "sway bar bracket",
                "--resolution",
                "1",
                "--gap",
                "3mm",
            ],
            "Asked: gap 0.1181 in (typed 3mm), resolution 1 in.",
        ),
        (&["damper", &crake], ""),
    ];
    for (arguments, asked) in cases {
        let said = printed(arguments);
        if asked.is_empty() {
            assert!(!said.contains("Asked"), "{said}");
        } else {
            assert!(said.starts_with(asked), "{arguments:?}: {said}");
        }
    }
}

#[test]
fn what_is_no_length_is_refused_and_says_what_to_type() {
    let crake = scene("crake");
    for (travel, said) in [
        ("abc", "plain number, such as -80 or 12.5"),
        ("3,5", "with a point"),
        ("3ft", "`ft` is no unit"),
        ("1/0", "below the line"),
        ("nan", "not a finite number"),
        ("1e9", "no more than 1000000"),
    ] {
        let text = refused(&["pose", &crake, "--travel", travel, "--rack", "0"]);
        assert!(
            text.contains("--travel") && text.contains(said),
            "{travel}: {text}"
        );
    }
    let text = refused(&["ground", &crake, "--travel", "0,0,1"]);
    assert!(text.contains("four lengths"), "{text}");
    // A length below zero is a length: what it can't be is said.
    let part = [
        "clearance",
        &crake,
        "--part",
        "sway bar bracket",
        "--gap",
        "-3",
    ];
    assert!(refused(&part).contains("a gap can't be below zero"));
    let text = refused(&["damper", &crake, "--margin", "-3"]);
    assert!(text.contains("-3 in is not a margin"), "{text}");
    let text = refused(&["tyre", &crake, "--width", "275"]);
    assert!(
        text.contains("no tyre is 275 in wide") && text.contains("285mm"),
        "{text}"
    );
}

#[test]
fn messages_speak_the_scenes_unit() {
    let crake = scene("crake");
    let text = refused(&["pose", &crake, "--travel", "-40", "--rack", "0"]);
    assert!(
        text.contains("cannot reach travel -40.000 in at rack 0.000 in"),
        "{text}"
    );
    assert!(!text.contains(" mm"), "{text}");
    // The unit that is printed, where one is asked for.
    let text = refused(&[
        "pose", &crake, "--travel", "-40", "--rack", "0", "--units", "mm",
    ]);
    assert!(text.contains("cannot reach travel -1016.00 mm"), "{text}");
    let folder = tempdir().expect("a folder");
    let out = folder.path().join("x").display().to_string();
    let text = refused(&[
        "export", &crake, "--travel", "-40", "--rack", "0", "--out", &out,
    ]);
    assert!(text.contains("cannot reach travel -40.000 in"), "{text}");
    let text = refused(&[
        "export", &crake, "--travel", "0", "--rack", "9", "--out", &out,
    ]);
    assert!(
        text.contains("rack +9.00 is beyond the locks, which are at -2.52 and +2.52 in"),
        "{text}"
    );
    let text = refused(&["ground", &crake, "--travel", "-40,0,0,0"]);
    assert!(
        text.contains("front wheel cannot reach travel -40") && text.contains(" in"),
        "{text}"
    );
    assert!(!text.contains(" mm"), "{text}");
    let path = folder.path().join("changed.ron");
    let changed = |from: &str, to: &str| {
        let text = std::fs::read_to_string(scene("crake")).expect("a scene");
        assert!(text.contains(from), "{from}");
        std::fs::write(&path, text.replacen(from, to, 1)).expect("written");
        path.display().to_string()
    };
    // The search ends in inches, as it was given.
    let short = changed(
        "search: (droop: 7, bump: 4)",
        "search: (droop: 1/2, bump: 4)",
    )
    .replace("1/2", "0.5");
    let text = std::fs::read_to_string(&path)
        .expect("written")
        .replace("droop: 1/2", "droop: \"1/2\"");
    std::fs::write(&path, text).expect("written");
    let said = words(&bindpoint(&["sweep", &short]).stdout);
    assert!(
        said.contains("the search ended in droop at travel -0.50"),
        "{said}"
    );
    for (from, to, told) in [
        (
            "wheel_centre: (0, -26.31",
            "wheel_centre: (0, -226.31",
            "stands at y = -226.31 in",
        ),
        (
            "ball_joint: (0.26, -23.31, 9.36)",
            "ball_joint: (0.26, -23.31, 93.6)",
            "in from the wheel centre",
        ),
        ("extended: 17.43", "extended: 14.43", "limit 14.930 in"),
    ] {
        let text = refused(&["check", &changed(from, to)]);
        assert!(text.contains(told), "{text}");
        assert!(!text.contains(" mm"), "{text}");
    }
}

/// The command line has no other way to take a length than in the scene's unit.
#[test]
fn no_command_takes_a_plain_number_for_a_length() {
    let folder = root().join("src/commands");
    let mut lengths = 0;
    for entry in std::fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        let text = std::fs::read_to_string(&path).expect("a source");
        let Some((_, after)) = text.split_once("struct Arguments {\n") else {
            continue;
        };
        let own = after.split("\n}\n").next().expect("a start");
        for line in own
            .lines()
            .map(str::trim)
            .filter(|l| !l.starts_with(['/', '#']))
        {
            let Some((name, of)) = line.trim_end_matches(',').split_once(": ") else {
                continue;
            };
            // A scale and a duration are no lengths.
            let is_plain = of.contains("f64") || of.contains("f32");
            assert!(
                !is_plain || ["scale", "seconds"].contains(&name),
                "{}: {line}",
                path.display()
            );
            lengths += usize::from(of.contains("LengthArgument") || of.contains("FourTravels"));
        }
    }
    assert!(lengths >= 15, "{lengths}");
    for command in [
        "pose",
        "export",
        "damper",
        "tyre",
        "ground",
        "keepout",
        "clearance",
    ] {
        let help = words(&bindpoint(&[command, "--help"]).stdout);
        assert!(
            help.contains("in the scene's unit, or as typed"),
            "{command}: {help}"
        );
        assert!(
            !help.contains("decimal inches") && !help.contains("[default: mm]"),
            "{command}: {help}"
        );
    }
}

fn read(text: &str) -> Scene {
    scene_from_text(text, Path::new("typed.ron")).unwrap_or_else(|e| panic!("{e:?}"))
}

#[test]
fn scenes_take_fractions_and_units_wherever_a_length_stands() {
    let text = std::fs::read_to_string(scene("crake")).expect("a scene");
    let plain = read(&text);
    for (number, written, value) in [
        // A point's, a field's, an outline's, an optional one's, a pair's, a change's.
        (
            "front_pivot: (5.81,",
            "front_pivot: (\"5 13/16\",",
            "front_pivot: (5.8125,",
        ),
        (
            "extended: 17.43",
            "extended: \"17-7/16 in\"",
            "extended: 17.4375",
        ),
        ("(-1.9, 1.5)", "(\"-1 7/8\", \"50.8 mm\")", "(-1.875, 2)"),
        (
            "search: (droop: 7,",
            "search: (droop: \"7in\",",
            "search: (droop: 7,",
        ),
        (
            "travel: (4, 3.5)",
            "travel: (\"4\", \"3 1/2\")",
            "travel: (4, 3.5)",
        ),
        (
            "travel: (4, 3.5)",
            "travel: (droop: 4, bump: \"3 1/2\")",
            "travel: (4, 3.5)",
        ),
        (
            "Damper(longer: -1.5)",
            "Damper(longer: \"-1 1/2\")",
            "Damper(longer: -1.5)",
        ),
        (
            "RideHeight(up: -0.75,",
            "RideHeight(up: \"-3/4\",",
            "RideHeight(up: -0.75,",
        ),
        ("gap: 0.3)", "gap: \"5/16\")", "gap: 0.3125)"),
        ("diameter: 1,", "diameter: \"25.4mm\",", "diameter: 1,"),
    ] {
        assert!(text.contains(number), "{number}");
        let [found, expected] = [written, value].map(|by| read(&text.replacen(number, by, 1)));
        assert_eq!(found, expected, "{written}");
        assert_eq!(found == plain, number == value, "{written}");
    }
}

#[test]
fn a_unit_of_length_where_no_length_stands_is_refused_in_its_place() {
    let text = std::fs::read_to_string(scene("crake")).expect("a scene");
    for (from, to, said) in [
        (
            "turned_deg: (8, 0, 0)",
            "turned_deg: (\"8 mm\", 0, 0)",
            "names a unit of length",
        ),
        (
            "Axis((0, -1, 0))",
            "Axis((0, \"-1 in\", 0))",
            "names a unit of length",
        ),
        (
            "loaded_radius: 12.27,\n",
            "loaded_radius: \"12,27\",\n",
            "with a point",
        ),
        (
            "loaded_radius: 12.27,\n",
            "loaded_radius: \"1 ft\",\n",
            "`ft` is no unit",
        ),
    ] {
        assert!(text.contains(from), "{from}");
        let changed = text.replacen(from, to, 1);
        let error = scene_from_text(&changed, Path::new("typed.ron")).expect_err(to);
        assert!(error.to_string().contains(said), "{error}");
        let at = changed.find(to).expect("it is there");
        let line = changed[..at].matches('\n').count() + 1;
        assert_eq!(
            error.line_and_column().map(|(l, _)| l),
            Some(line),
            "{error:?}"
        );
    }
}
