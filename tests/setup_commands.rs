//! `--setup`, `compare`, `damper` and `tyre` as a person at a terminal meets them.
//!
//! Source: README.md, `bindpoint --help`, the demo scenes. What one command says is asked again of another.

use assert_cmd::cargo::cargo_bin_cmd;
use serde_json::Value;
use std::path::PathBuf;
use std::process::Output;
use tempfile::tempdir;

fn scene(name: &str) -> String {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("scenes");
    path.join(format!("{name}.ron")).display().to_string()
}

fn bindpoint(arguments: &[&str], expected: i32) -> Output {
    let output = cargo_bin_cmd!("bindpoint")
        .args(arguments)
        .env("NO_COLOR", "1")
        .output()
        .expect("bindpoint starts");
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(!said.contains("panicked"), "{said}");
    assert_eq!(
        output.status.code(),
        Some(expected),
        "{arguments:?}: {said}"
    );
    output
}

fn printed(arguments: &[&str], expected: i32) -> String {
    String::from_utf8(bindpoint(arguments, expected).stdout).expect("UTF-8")
}

fn json(arguments: &[&str], expected: i32) -> Value {
    serde_json::from_str(&printed(arguments, expected)).expect("JSON")
}

/// Words of a text, whatever the line breaks and frames.
fn words(text: &str) -> String {
    let bare: String = text
        .chars()
        .map(|c| if "│|×".contains(c) { ' ' } else { c })
        .collect();
    bare.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn every_command_takes_a_setup() {
    let tarnwood = scene("tarnwood");
    let setup = ["--setup", "long damper, lift arm"];
    let said = printed(&["sweep", &tarnwood, setup[0], setup[1]], 1);
    assert!(said.contains("free droop 127.4"), "{said}");
    assert!(
        said.contains("Tarnwood 4 (long damper, lift arm)"),
        "{said}"
    );
    let pose = json(
        &[
            "pose", &tarnwood, setup[0], setup[1], "--travel", "-127", "--rack", "0", "--json", "-",
        ],
        0,
    );
    assert_eq!(pose["truck"], "Tarnwood 4 (long damper, lift arm)");
    // As measured the damper is long past its end there.
    let plain = ["pose", &tarnwood, "--travel", "-127", "--rack", "0"];
    assert!(printed(&plain, 1).contains("damper extended"));
    let said = printed(&["check", &tarnwood, setup[0], setup[1]], 0);
    assert!(said.contains("Setups: factory; long damper;"), "{said}");
    let folder = tempdir().expect("a folder");
    let out = folder.path().display().to_string();
    let arguments = |setup: &'static str| {
        [
            "export", &tarnwood, "--setup", setup, "--travel", "0", "--rack", "0", "--out", &out,
        ]
        .map(str::to_owned)
    };
    let mut heights = Vec::new();
    for setup in ["factory", "differential drop"] {
        let arguments = arguments(setup);
        let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
        bindpoint(&arguments, 0);
        let file = folder.path().join("differential_housing.stl");
        let bytes = std::fs::read(file).expect("written");
        // The first corner's z of the first triangle of a binary STL.
        let z: [u8; 4] = bytes[84 + 12 + 8..84 + 12 + 12]
            .try_into()
            .expect("four bytes");
        heights.push(f32::from_le_bytes(z));
    }
    assert!(
        (heights[0] - heights[1] - 32.0).abs() < 1.0e-3,
        "{heights:?}"
    );
}

#[test]
fn a_setup_that_is_not_there_lists_those_that_are() {
    for command in ["sweep", "check", "damper", "tyre"] {
        let output = bindpoint(&[command, &scene("tarnwood"), "--setup", "factry"], 2);
        let said = words(&String::from_utf8_lossy(&output.stderr));
        assert!(said.contains("no setup is named `factry`"), "{said}");
        assert!(said.contains("`factory`"), "{said}");
        assert!(output.stdout.is_empty());
    }
    let output = bindpoint(&["compare", &scene("tarnwood"), "factry"], 2);
    assert!(String::from_utf8_lossy(&output.stderr).contains("factry"));
}

#[test]
fn compare_prints_base_first_and_writes_what_it_prints() {
    let folder = tempdir().expect("a folder");
    let file = |name: &str| folder.path().join(name).display().to_string();
    let (csv, svg, png, out) = (file("c.csv"), file("c.svg"), file("c.png"), file("c.json"));
    let tarnwood = scene("tarnwood");
    let base = [
        "compare",
        &tarnwood,
        "factory",
        "long damper",
        "preload lift",
    ];
    let mut arguments = base.to_vec();
    arguments.extend(["--csv", &csv, "--picture", &svg, "--json", &out]);
    let said = printed(&arguments, 1);
    assert!(
        said.starts_with("Tarnwood 4: 2 setups compared with A, factory."),
        "{said}"
    );
    for text in [
        "C preload lift: body 30 mm higher by preload. CLEAR.",
        "free droop, straight ahead, mm",
        "80.1  127.4+   50.1!",
        "no longer fits: gap lower arm rear leg - tie rod",
        "Cautions",
    ] {
        assert!(said.contains(text), "{text}: {said}");
    }
    let text = std::fs::read_to_string(&out).expect("written");
    let found: Value = serde_json::from_str(&text).expect("JSON");
    let names: Vec<&str> = found["columns"]
        .as_array()
        .expect("columns")
        .iter()
        .map(|c| c["name"].as_str().expect("a name"))
        .collect();
    assert_eq!(names, ["factory", "long damper", "preload lift"]);
    // The table of the CSV holds the JSON's measures, row by row.
    let mut reader = csv::Reader::from_path(&csv).expect("written");
    let rows: Vec<csv::StringRecord> = reader.records().map(|r| r.expect("a row")).collect();
    let measures = found["measures"].as_array().expect("measures");
    assert_eq!(rows.len(), measures.len());
    for (row, measure) in rows.iter().zip(measures) {
        assert_eq!(&row[0], measure["key"].as_str().expect("a key"));
        for (i, value) in measure["values"]
            .as_array()
            .expect("values")
            .iter()
            .enumerate()
        {
            match value["value"].as_f64() {
                Some(value) => {
                    let printed: f64 = row[4 + 3 * i].parse().expect("a number");
                    assert!((printed - value).abs() <= 0.5e-4 + 1.0e-12, "{row:?}");
                }
                None => assert_eq!(&row[4 + 3 * i], ""),
            }
        }
    }
    let drawn = std::fs::read_to_string(&svg).expect("drawn");
    assert!(drawn.starts_with("<svg") && drawn.contains("preload lift"));
    let mut arguments = base.to_vec();
    arguments.extend(["--picture", &png]);
    bindpoint(&arguments, 1);
    let picture = image::open(&png).expect("a PNG").to_rgb8();
    assert!(picture.width() > 1000);
    // Each panel shows the first map's sand and its own dark line.
    let count = |c: [u8; 3]| picture.pixels().filter(|p| p.0 == c).count();
    assert!(count([226, 221, 205]) > 10_000 && count([0, 92, 112]) > 500);
    let bad = file("c.bmp");
    let mut arguments = base.to_vec();
    arguments.extend(["--picture", &bad]);
    let output = bindpoint(&arguments, 2);
    assert!(words(&String::from_utf8_lossy(&output.stderr)).contains(".svg or .png"));
}

#[test]
fn compare_counts_inches_where_the_scene_does_and_says_when_there_is_nothing_to_compare() {
    let said = printed(&["compare", &scene("crake"), "bracket off"], 1);
    assert!(said.contains("lengths in inches"), "{said}");
    assert!(
        said.contains("B bracket off: sway bar bracket taken off."),
        "{said}"
    );
    let text = std::fs::read_to_string(scene("crake")).expect("a scene");
    let start = text.find("    setups: [").expect("setups");
    let folder = tempdir().expect("a folder");
    let bare = folder.path().join("bare.ron");
    std::fs::write(&bare, format!("{})\n", &text[..start])).expect("written");
    let output = bindpoint(&["compare", &bare.display().to_string()], 2);
    let said = words(&String::from_utf8_lossy(&output.stderr));
    assert!(said.contains("no setups"), "{said}");
}

#[test]
fn the_longest_damper_clears_when_it_is_fitted_and_not_when_it_is_longer() {
    let tarnwood = scene("tarnwood");
    let found = json(&["damper", &tarnwood, "--margin", "10", "--json", "-"], 0);
    let number = |key: &str| found["worse"]["damper"][key].as_f64().expect("a number");
    let (safe, refuted) = (number("safe_mm"), number("refuted_mm"));
    assert!(safe > number("fitted_mm") && refuted - safe <= 0.0101);
    let text = std::fs::read_to_string(&tarnwood).expect("a scene");
    let folder = tempdir().expect("a folder");
    let assets = folder.path().join("assets");
    std::fs::create_dir(&assets).expect("made");
    for entry in
        std::fs::read_dir(PathBuf::from(&tarnwood).with_file_name("../assets")).expect("assets")
    {
        let entry = entry.expect("an entry").path();
        if entry.extension().is_some_and(|e| e == "stl") {
            std::fs::copy(&entry, assets.join(entry.file_name().expect("a name"))).expect("copied");
        }
    }
    std::fs::create_dir(folder.path().join("scenes")).expect("made");
    let path = folder.path().join("scenes/longer.ron");
    for (length, status) in [(safe, 0), (refuted + 0.01, 1)] {
        let changed = text.replace("extended: 517.05", &format!("extended: {length}"));
        std::fs::write(&path, changed).expect("written");
        let path = path.display().to_string();
        let said = printed(&["damper", &path, "--margin", "10"], status);
        let verdict = if status == 0 { "CLEAR" } else { "FOUND" };
        assert!(said.contains(verdict), "{said}");
    }
    let output = bindpoint(&["damper", &tarnwood, "--margin=-3"], 2);
    assert!(String::from_utf8_lossy(&output.stderr).contains("margin"));
    let inch = printed(
        &[
            "damper",
            &scene("crake"),
            "--margin",
            "0.5",
            "--units",
            "inch",
        ],
        1,
    );
    assert!(inch.contains("Margin 0.50 in"), "{inch}");
}

#[test]
fn the_largest_tyre_is_told_with_what_it_meets() {
    // The truck binds, so that its free travel isn't all that it will have once that is mended.
    let said = printed(&["tyre", &scene("crake")], 2);
    assert!(said.contains("NOT FULLY CHECKED"), "{said}");
    assert!(
        said.contains("the largest tyre 8.40 in wide that clears"),
        "{said}"
    );
    assert!(said.contains("comes to"), "{said}");
    let plain = printed(&["tyre", &scene("crake"), "--setup", "as-measured"], 2);
    assert_eq!(plain, said);
    let output = bindpoint(&["tyre", &scene("crake"), "--width", "9000"], 2);
    assert!(String::from_utf8_lossy(&output.stderr).contains("wide"));
}

#[test]
fn schema_lists_setups_and_every_change() {
    let said = printed(&["schema"], 0);
    for word in [
        "setups*:",
        "Setup:",
        "DifferentialSpacers:",
        "Tyre:",
        "RideHeight:",
        "MovePart:",
        "duties*:",
        "front_driveshaft*:",
        "hangs_from*:",
    ] {
        assert!(said.contains(word), "{word}: {said}");
    }
}

#[test]
fn ground_and_drive_answer_by_their_exit_status() {
    let tarnwood = scene("tarnwood");
    let said = printed(&["ground", &tarnwood, "--all-setups"], 0);
    for text in [
        "MEETS the thresholds",
        "approach angle, deg",
        "285 tyres",
        "rear axle housing",
    ] {
        assert!(said.contains(text), "{text}: {said}");
    }
    let crake = json(
        &[
            "ground",
            &scene("crake"),
            "--travel",
            "0,0,-20mm,-20mm",
            "--json",
            "-",
        ],
        0,
    );
    assert!(crake["pitch_deg"].as_f64().expect("a number") < 0.0);
    let clear = printed(&["drive", &tarnwood, "--over", "ledge"], 0);
    assert!(
        clear.contains("CLEAR. Nothing but the treads touches it."),
        "{clear}"
    );
    let low = [
        "drive",
        &tarnwood,
        "--setup",
        "low skid plate",
        "--over",
        "ledge",
    ];
    let said = words(&printed(&low, 1));
    assert!(
        said.contains("First contact: skid plate meets ledge"),
        "{said}"
    );
    let every = printed(
        &["drive", &scene("crake"), "--over", "kerb", "--all-setups"],
        0,
    );
    assert!(
        every.contains("short damper") && every.contains("hits first"),
        "{every}"
    );
    let output = bindpoint(&["drive", &tarnwood, "--over", "curb"], 2);
    assert!(words(&String::from_utf8_lossy(&output.stderr)).contains("`ledge`"));
    let output = bindpoint(&["drive", &tarnwood, "--over", "ledge", "--scale", "0"], 2);
    assert!(words(&String::from_utf8_lossy(&output.stderr)).contains("makes no obstacle"));
}
