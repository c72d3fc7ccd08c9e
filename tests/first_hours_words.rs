//! What people with a truck of their own met in their first hour from the README alone, one test each: values that are unusual
//! and right, slips that were told in other words than the same slip elsewhere, labels and lists that said too little.
//!
//! Sources: the scenes' own numbers, inches of 25.4 mm; each test says what it asks and of what.

use assert_cmd::cargo::cargo_bin_cmd;
use bindpoint::compare::{compare, largest_tyre};
use bindpoint::findings::{DroopEnd, Status, SweepFindings, WeakerBy};
use bindpoint::ground::{ground_findings, running_clearance};
use bindpoint::output::{Datum, SweepText, Units, sweep_text};
use bindpoint::plausibility::{Unit, Unusual, implausible, judge, most_likely_wrong};
use bindpoint::scene::{FrontEnd, LengthUnit, Scene, field_reference, new_scene, scene_from_text};
use bindpoint::sweep::{
    SweepOptions, damper_findings, damper_status, position_findings, status, sweep,
};
use bindpoint::truck::{MeshStore, Truck, assemble_setup};
use nalgebra::Vector3;
use small_scene::{Draft, ball};
use std::path::Path;

mod dice;
mod small_scene;

type V = Vector3<f64>;

const FELLGATE: &str = include_str!("fellgate/fellgate.ron");

/// The truck in inches, with one text in place of another, as often as it stands there.
fn fellgate(was: &str, now: &str) -> String {
    assert!(FELLGATE.contains(was), "{was}");
    FELLGATE.replace(was, now)
}

fn read(text: &str) -> Scene {
    scene_from_text(text, Path::new("a.ron")).unwrap_or_else(|e| panic!("{e}\n{text}"))
}

/// Why a text can't be read: the message, and what to do.
fn refused(text: &str) -> String {
    match scene_from_text(text, Path::new("a.ron")) {
        Ok(_) => panic!("it reads: {text}"),
        Err(error) => {
            let help = miette::Diagnostic::help(&error).map(|h| h.to_string());
            format!("{error}; {}", help.unwrap_or_default())
        }
    }
}

fn built(scene: &Scene, setup: Option<&str>) -> Truck {
    assemble_setup(scene, setup, &MeshStore::new(Path::new(".")))
        .unwrap_or_else(|problem| panic!("{problem:?}"))
}

/// What a command prints of a scene, its words apart by one space; `{}` stands for the scene's path.
fn asked(text: &str, arguments: &[&str]) -> String {
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join("a.ron"), text).expect("written");
    let output = cargo_bin_cmd!("bindpoint")
        .args(arguments)
        .current_dir(folder.path())
        .env("NO_COLOR", "1")
        .output()
        .expect("bindpoint starts");
    let both = [&output.stdout, &output.stderr].map(|t| String::from_utf8_lossy(t).into_owned());
    let words = both.concat().replace('\u{2502}', " ");
    words.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// A corner with a bar on its lower arm, and a part on the frame far above it that is watched.
fn draft() -> Draft {
    let mut draft = Draft::new();
    let leg = "Capsule(from: (180, 335, 345), to: (20, 700, 292), radius: 14)";
    draft.part("lower arm front leg", "lower_arm", "each_side", leg);
    let far = ball(&V::new(300.0, 300.0, 900.0), 10.0);
    draft.part("frame bracket", "frame", "each_side", &far);
    draft.watch("lower arm front leg", "frame bracket", 3.0);
    draft
}

// ---------------------------------------------------------------- measured, and right

/// The wheels of the truck four inches further out, tyres with them: the scrub radius is out of every range.
fn wide() -> String {
    fellgate("(0, 34.0, 15.9)", "(0, 38.0, 15.9)")
}

fn with_measured(text: &str, fields: &str) -> String {
    text.replace(
        "    joined: ",
        &format!("    measured: [{fields}],\n    joined: "),
    )
}

#[test]
fn a_value_that_was_measured_and_is_right_is_neither_warned_of_nor_blamed() {
    let told = implausible(&read(&wide()));
    assert_eq!(told[0].path, "knuckle.wheel_centre", "{told:?}");
    let scene = read(&with_measured(&wide(), "\"knuckle.wheel_centre\""));
    let judged = judge(&scene);
    assert!(judged.implausible.is_empty(), "{:?}", judged.implausible);
    let said = judged.silenced_sentence().expect("it isn't lost");
    assert_eq!(
        said,
        "1 warning of unusual values is silenced by the scene's `measured`: `knuckle.wheel_centre`"
    );
    // Every answer says it, once.
    let truck = built(&scene, None);
    let lines = truck.warnings.iter().filter(|w| w.contains("silenced"));
    assert_eq!(lines.count(), 1, "{:?}", truck.warnings);
    assert_eq!(truck.further_warnings()[0], said);
}

#[test]
fn another_slip_is_still_told_beside_a_measured_value_and_at_its_own_field() {
    // x and y of the lower ball joint exchanged: the truck can't be put together.
    let slipped = wide().replace(
        "ball_joint: (0.4, 29.9, 11.4)",
        "ball_joint: (29.9, 0.4, 11.4)",
    );
    let scene = read(&with_measured(&slipped, "\"knuckle.wheel_centre\""));
    let told = implausible(&scene);
    assert_eq!(told[0].path, "lower_arm.ball_joint", "{told:?}");
    assert!(
        told.iter().all(|t| t.path != "knuckle.wheel_centre"),
        "{told:?}"
    );
    let blamed = most_likely_wrong(&scene, "rack.tie_rod_inner").expect("one is blamed");
    assert_eq!(blamed.path, "lower_arm.ball_joint");
}

#[test]
fn a_measured_number_of_a_part_or_a_setup_is_silenced_by_its_own_path_alone() {
    let text = fellgate("diameter: 1.31,", "diameter: 3.31,");
    let paths = |scene: &Scene| -> Vec<String> {
        let told = implausible(scene);
        told.into_iter().map(|t| t.path).collect()
    };
    let [one, other] = ["halfshaft.diameter", "other_side.halfshaft.diameter"];
    assert_eq!(paths(&read(&text)), [one, other]);
    let scene = read(&with_measured(&text, "\"halfshaft.diameter\""));
    assert_eq!(paths(&scene), [other]);
    let scene = read(&with_measured(
        &text,
        "\"halfshaft.diameter\", \"other_side.halfshaft.diameter\"",
    ));
    assert_eq!(paths(&scene), [""; 0]);
    let said = judge(&scene).silenced_sentence().expect("two");
    assert!(
        said.starts_with("2 warnings of unusual values are silenced"),
        "{said}"
    );
    // A setup's own number; a group in brackets of its own is named as its warning names it.
    let spacer = "DamperSpacer((name: \"s\", thickness: 25.4, adds: total_length))";
    let (before, rest) = FELLGATE.split_once("    setups: [").expect("setups");
    let (_, after) = rest.split_once("\n    ],\n").expect("their end");
    let text = format!("{before}    setups: [(name: \"tried\", changes: [{spacer}])],\n{after}");
    let path = "setups[0].changes[0].thickness";
    assert_eq!(paths(&read(&text)), [path]);
    let text = with_measured(&text, &format!("{path:?}"));
    assert_eq!(paths(&read(&text)), [""; 0]);
    // And where the setup can't be built it isn't blamed.
    if let Err(problem) =
        assemble_setup(&read(&text), Some("tried"), &MeshStore::new(Path::new(".")))
    {
        assert!(!problem.what.contains("looks wrong"), "{problem:?}");
    }
}

#[test]
fn a_measured_field_that_isnt_there_is_asked_back_and_check_and_schema_tell_of_it() {
    let said = refused(&with_measured(&wide(), "\"knuckle.wheel_center\""));
    assert!(said.contains("measured[0]"), "{said}");
    let question = "did you mean `knuckle.wheel_centre`";
    assert!(said.contains(question), "{said}");
    assert!(field_reference().contains("measured*: Fields that look unusual"));
    // A warning says how to say that it is right, and `check` that it was said.
    let mut draft = draft();
    draft.joint_limits_deg = [26.0, 46.0];
    draft.plunge = [-30.0, 30.0];
    draft.more += "ride_height: 170,\n";
    let said = asked(&draft.text("small"), &["check", "a.ron"]);
    assert!(said.contains("`measured: [\"ride_height\"]`"), "{said}");
    draft.more += "measured: [\"ride_height\"],\n";
    let said = asked(&draft.text("small"), &["check", "a.ron"]);
    assert!(!said.contains("Check the scene"), "{said}");
    let line = "1 warning of unusual values is silenced by the scene's `measured`: `ride_height`";
    assert!(said.contains(line), "{said}");
    // What silences nothing is told, so that it doesn't stay behind when numbers change.
    draft.more = "ride_height: 0, measured: [\"ride_height\"],\n".to_owned();
    let said = asked(&draft.text("small"), &["check", "a.ron"]);
    assert!(
        said.contains("`measured` names `ride_height`, of which nothing would be warned"),
        "{said}"
    );
}

// ---------------------------------------------------------------- slips in other words

#[test]
fn a_decimal_comma_is_told_in_every_bracket_of_numbers() {
    let size = "size: (70, 3.0, 6.0)";
    let obstacle = |across: &str| {
        let now = format!(
            "obstacles: [(name: \"l\", shape: Ledge(height: 10), across: ({across}))],\n    setups: ["
        );
        fellgate("    setups: [", &now)
    };
    for (text, comma, meant) in [
        (fellgate(size, "size: (70, 3,0, 6.0)"), "3,0", "3.0"),
        (fellgate(size, "size: (70, 3,0, \"6 1/2\")"), "3,0", "3.0"),
        (fellgate(size, "size: [70, 3,0, 6.0]"), "3,0", "3.0"),
        (
            fellgate(size, "size: (70, /* wall, thick */ 3,0, 6)"),
            "3,0",
            "3.0",
        ),
        (obstacle("0, 31,625"), "31,625", "31.625"),
        (obstacle("-31,625, \"31 5/8\""), "-31,625", "-31.625"),
        (
            fellgate("profile: [(-4.5, 9.3)", "profile: [(-4,5, \"9 5/16\")"),
            "-4,5",
            "-4.5",
        ),
        (
            fellgate(
                "axis: (0, 1, 0), profile: [(-4.5",
                "axis: (0, 0,9, \"1/8\"), profile: [(-4.5",
            ),
            "0,9",
            "0.9",
        ),
    ] {
        let said = refused(&text);
        assert!(said.contains(&format!("`{comma}`")), "{comma}: {said}");
        let help = format!("write decimals with a point: {meant}");
        assert!(said.contains(&help), "{comma}: {said}");
    }
    // With a blank behind the comma too many numbers are all that can be said.
    let said = refused(&fellgate(size, "size: (70, 3, 0, 6)"));
    assert!(
        said.contains("4 numbers in one bracket are too many"),
        "{said}"
    );
    assert!(said.contains("decimals with a point"), "{said}");
}

#[test]
fn millimetres_in_an_inch_scene_are_asked_after_wherever_the_reverse_is() {
    // Far out of the corner, so that nothing can be put together: 803.3 mm are 31.63 in.
    for (was, now, path) in [
        (
            "outer_joint: (0, 29.1, 15.9)",
            "outer_joint: (0, 803.3, 15.9)",
            "halfshaft.outer_joint",
        ),
        (
            "lower_mount: (-2.9, 22.9, 12.2)",
            "lower_mount: (-2.9, 803.3, 12.2)",
            "damper.lower_mount",
        ),
    ] {
        let scene = read(&fellgate(was, now));
        let problem = match assemble_setup(&scene, None, &MeshStore::new(Path::new("."))) {
            Err(problem) => problem,
            Ok(_) => panic!("{now}: it was built"),
        };
        assert_eq!(problem.path, path, "{problem:?}");
        let help = LengthUnit::Inch.reworded(&problem.help);
        let question = "is y in millimetres? ";
        assert!(help.starts_with(question), "{help}");
        assert!(help.contains("31.6"), "{help}");
    }
    // A hose's end, a part's end, a differential's bolt.
    for (was, now, path, meant) in [
        (
            "(-2.6, 27.5, 20.5)",
            "(-2.6, 698.5, 20.5)",
            "hoses[0].ends[1].at",
            "(-2.6, 27.5, 20.5)",
        ),
        (
            "to: (1.3, 28.2, 11.6)",
            "to: (1.3, 716.28, 11.6)",
            "parts[1].shape.to",
            "(1.3, 28.2, 11.6)",
        ),
        (
            "rear_mounts: [(-6.0, 1.5, 20.0)]",
            "rear_mounts: [(-152.4, 38.1, 508)]",
            "differential.rear_mounts[0]",
            "(-6, 1.5, 20)",
        ),
        (
            "front_mounts: [(8.5, 7.5, 20.5)",
            "front_mounts: [(8.5, 190.5, 20.5)",
            "differential.front_mounts[0]",
            "(8.5, 7.5, 20.5)",
        ),
    ] {
        let told = implausible(&read(&fellgate(was, now)));
        let of_it = told
            .iter()
            .find(|t| t.path == path)
            .unwrap_or_else(|| panic!("{told:?}"));
        let of = if now.starts_with("rear") { "it" } else { "y" };
        let help = format!("is {of} in millimetres? {meant} would be usual");
        assert_eq!(of_it.help(), help, "{path}");
    }
    // One number of a setup's point.
    let (before, rest) = FELLGATE.split_once("    setups: [").expect("setups");
    let (_, after) = rest.split_once("\n    ],\n").expect("their end");
    let change = "Knuckle(wheel_centre: (0, 889, 15.9))";
    let text = format!("{before}    setups: [(name: \"tried\", changes: [{change}])],\n{after}");
    let told = implausible(&read(&text));
    assert_eq!(
        told[0].help(),
        "is y in millimetres? (0, 35, 15.9) would be usual"
    );
}

// ---------------------------------------------------------------- check

#[test]
fn an_overlap_comes_with_the_entry_that_says_it_is_meant() {
    let mut draft = draft();
    let ball_at = ball(&V::new(100.0, 500.0, 320.0), 20.0);
    draft.part("bracket \"a\"", "frame", "each_side", &ball_at);
    // A quote in a name is written with a backslash.
    draft.parts[2] = draft.parts[2].replace("\"bracket \"a\"\"", "\"bracket \\\"a\\\"\"");
    draft
        .watch
        .push("(a: \"bracket*\", b: \"*\", gap: 3),".to_owned());
    let said = asked(&draft.text("small"), &["check", "a.ron"]);
    assert!(said.contains("Overlap as measured"), "{said}");
    let start = said.find("(a: ").expect("an entry to write");
    let end = start + said[start..].find("),").expect("its end") + 2;
    let entry = said[start..end].to_owned();
    assert!(entry.ends_with("why: \"..\"),"), "{entry}");
    // Pasted as it stands it does what it says.
    draft.more += &format!("joined: [{entry}],\n");
    let said = asked(&draft.text("small"), &["check", "a.ron"]);
    assert!(said.contains("usable, nothing overlaps"), "{entry}: {said}");
}

#[test]
fn pairs_left_out_by_name_are_one_line_in_every_command() {
    let mut draft = draft();
    for i in 0..6 {
        let at = ball(&V::new(300.0 + 20.0 * f64::from(i), 300.0, 900.0), 5.0);
        draft.part(&format!("clip {i}"), "frame", "each_side", &at);
    }
    draft
        .watch
        .push("(a: \"lower arm front leg\", b: \"clip*\", gap: 3),".to_owned());
    draft.more += "joined: [(a: \"lower arm front leg\", b: \"clip*\", why: \"cut away\")],\n";
    let text = draft.text("small");
    let said = asked(&text, &["damper", "a.ron"]);
    let head = "6 pairs are left out by name, not checked: ";
    assert!(said.contains(head), "{said}");
    assert_eq!(said.matches("left out by name").count(), 1, "{said}");
    assert!(said.contains("clip 5: cut away"), "{said}");
    let said = asked(&text, &["check", "a.ron"]);
    assert_eq!(said.matches("cut away").count(), 1, "{said}");
}

// ---------------------------------------------------------------- one rule for numbers

fn page(found: &SweepFindings, units: Units) -> String {
    let style = SweepText {
        units,
        datum: Datum::Measured,
        status: status(found),
        tables_of: None,
        wrap_leading_lines: false,
    };
    sweep_text(found, &style)
}

#[test]
fn a_lock_reads_the_same_everywhere_in_an_answer() {
    let mut draft = draft();
    // 2.4370 in: 2.44 to the nearest, 2.43 rounded down.
    draft.locks = [61.9, 61.9];
    let truck = built(&draft.scene("small"), None);
    let found = sweep(&truck, &SweepOptions::default(), &|_, _| {});
    let text = page(&found, Units::Inch);
    assert!(text.contains("Full left (rack -2.44"), "{text}");
    assert!(text.contains("+2.44") && !text.contains("2.43"), "{text}");
}

#[test]
fn sides_that_read_alike_in_the_printed_unit_are_not_told_apart() {
    let mut draft = draft();
    let once = ball(&V::new(300.0, 0.0, 900.0), 10.0);
    draft.part("only one", "frame", "once", &once);
    draft.watch("lower arm front leg", "only one", 3.0);
    let truck = built(&draft.scene("small"), None);
    let mut found = sweep(&truck, &SweepOptions::default(), &|_, _| {});
    assert!(found.other.is_some());
    // A fifth of a millimetre reads 3.14 in both; in millimetres it can be told.
    found.weaker_by = Some(WeakerBy::Droop {
        weaker_mm: 79.9,
        other_mm: 80.0,
    });
    let first = |units| {
        page(&found, units)
            .lines()
            .next()
            .map(str::to_owned)
            .unwrap_or_default()
    };
    assert!(first(Units::Inch).starts_with("Both sides are alike to the last digit"));
    assert!(
        first(Units::Mm).contains("side is weaker: droops 79.9 at least"),
        "{}",
        first(Units::Mm)
    );
}

// ---------------------------------------------------------------- answers

#[test]
fn a_new_scenes_wheel_stands_as_high_as_its_loaded_radius() {
    for unit in [LengthUnit::Mm, LengthUnit::Inch] {
        let text = new_scene("a", unit, FrontEnd::Arms);
        let scene = read(&text);
        assert_eq!(scene.knuckle.wheel_centre.2, scene.knuckle.loaded_radius);
        assert!(text.contains("the wheel centre's z"), "{text}");
    }
}

/// A truck with a round bar under its middle, and one before its front wheels.
fn with_bars() -> Truck {
    let mut draft = draft();
    draft.more += "rear: (wheelbase: 2900, half_track: 815, wheel_centre_z: 400, loaded_radius: 387, tyre_width: 265),\n\
        underbody: [(name: \"cross tube\", on: frame, shape: Capsule(from: (-1450, -300, 260), to: (-1450, 300, 260), radius: 40)),\n\
        (name: \"bumper tube\", on: frame, shape: Capsule(from: (800, -300, 500), to: (800, 300, 500), radius: 50))],\n";
    built(&draft.scene("small"), None)
}

#[test]
fn a_round_part_is_met_on_its_surface_not_in_its_middle() {
    let truck = with_bars();
    let found = ground_findings(&truck, [0.0; 4]).expect("it stands");
    let lowest = found.running_clearance_mm.expect("a sprung part");
    assert_eq!(lowest.part, "cross tube");
    // It stands level: straight below its middle.
    assert!((lowest.point_mm[2] - 220.0).abs() < 1.0e-6, "{lowest:?}");
    assert!((lowest.point_mm[0] + 1450.0).abs() < 1.0e-6, "{lowest:?}");
    let again = running_clearance(&truck)
        .expect("it stands")
        .expect("the same");
    assert_eq!(again.point_mm, lowest.point_mm);
    // The line from the tyre's arc touches the bumper where it is square to the line, 50 mm from its middle.
    let approach = found.approach_deg.expect("a bumper");
    assert_eq!(approach.part, "bumper tube");
    let [x, _, z] = approach.point_mm;
    let off = [x - 800.0, z - 500.0];
    let (sin, cos) = approach.value.to_radians().sin_cos();
    assert!(
        (off[0] - 50.0 * sin).abs() < 1.0e-6 && (off[1] + 50.0 * cos).abs() < 1.0e-6,
        "{off:?}"
    );
    // The line through that point and the arc: it is the loaded radius from the hub's middle.
    let from_hub = (x * sin - (z - 400.0) * cos).abs();
    assert!((from_hub - 387.0).abs() < 1.0e-6, "{from_hub}");
    // Between equal wheels the breakover's lines meet the tube symmetrically: at its lowest.
    let breakover = found.breakover_deg.expect("a tube");
    assert!(
        (breakover.point_mm[2] - 220.0).abs() < 1.0e-3,
        "{breakover:?}"
    );
}

/// A small truck with a tyre that is watched.
fn with_tyre(more: &str) -> String {
    let mut draft = draft();
    draft.part(
        "tyre",
        "wheel",
        "each_side",
        "Lathe(from: (0, 815, 400), axis: (0, 1, 0), profile: [(-110, 230), (110, 230), (110, 401), (-110, 401)])",
    );
    draft.watch("tyre", "frame bracket", 8.0);
    draft.more += "tyre: (size: Measured(diameter: 802, width: 265, rim_diameter: 432)),\n";
    draft.more += more;
    draft.text("small")
}

#[test]
fn the_sizes_that_a_tyre_search_looked_at_are_listed() {
    let text = with_tyre("");
    let found =
        largest_tyre(&read(&text), None, None, &MeshStore::new(Path::new("."))).expect("a tyre");
    assert!(
        found
            .sizes
            .windows(2)
            .all(|w| w[0].diameter_mm < w[1].diameter_mm)
    );
    let fits = found.clears_diameter_mm.expect("it clears");
    assert!(
        found
            .sizes
            .iter()
            .any(|size| size.diameter_mm == fits && size.clears)
    );
    assert!(found.sizes.iter().any(|size| size.diameter_mm == 802.0));
    let said = asked(&text, &["tyre", "a.ron"]);
    assert!(
        said.contains("Looked at, in mm of diameter: 802.0, 814.7"),
        "{said}"
    );
    // In sixteenths a size that clears is told no larger than it is: 802 mm is 31.575 in, and 31 5/8 reads larger.
    let said = asked(&text, &["tyre", "a.ron", "--units", "sixteenths"]);
    assert!(
        said.contains("Looked at, in inches of diameter: 31 9/16, 32 1/16"),
        "{said}"
    );
    // One that isn't proved to is told no smaller.
    let wall = "parts: [\n        (name: \"wall\", on: frame, shape: Box(centre: (440, 815, 400), size: (20, 400, 400))),";
    let walled = text.replacen("parts: [", wall, 1);
    let said = asked(&walled, &["tyre", "a.ron", "--units", "sixteenths"]);
    let (_, listed) = said
        .split_once("Looked at, in inches of diameter: ")
        .expect("a list");
    let (clear, rest) = listed
        .split_once(" clear; ")
        .unwrap_or_else(|| panic!("some clear: {said}"));
    let (not, _) = rest.split_once(" aren't proved").expect("some don't");
    let last = |list: &str| list.rsplit(", ").next().map(str::to_owned);
    let first = |list: &str| list.split(", ").next().map(str::to_owned);
    assert_ne!(last(clear), first(not), "{said}");
}

#[test]
fn a_tyre_search_blames_a_setups_own_number_as_check_does() {
    let text = with_tyre("setups: [(name: \"wide\", changes: [WheelOffset(outboard: 800)])],\n");
    let scene = read(&text);
    let store = MeshStore::new(Path::new("."));
    let of_check = assemble_setup(&scene, Some("wide"), &store).expect_err("it can't be");
    let of_tyre = largest_tyre(&scene, Some("wide"), None, &store).expect_err("it can't be");
    assert_eq!(of_tyre.path, of_check.path);
    assert!(of_check.path.starts_with("setups[0]"), "{of_check:?}");
}

#[test]
fn a_solid_of_one_corner_says_how_to_get_the_others() {
    let keepout = [
        "keepout",
        "a.ron",
        "--parts",
        "halfshaft",
        "--resolution",
        "10",
        "--out",
        "a.stl",
    ];
    let mut draft = draft();
    let said = asked(&draft.text("small"), &keepout);
    assert!(
        said.contains("The right corner's is its mirror image, y to -y."),
        "{said}"
    );
    draft.more += "other_side: (tie_rod_inner: (-135, -370, 396)),\n";
    let said = asked(&draft.text("small"), &keepout);
    let hint = "This is the left corner's alone. The right one differs: `--side right` writes it.";
    assert!(said.contains(hint), "{said}");
    let with_side = [&keepout[..], &["--side", "right"]].concat();
    let said = asked(&draft.text("small"), &with_side);
    assert!(!said.contains("corner's alone"), "{said}");
}

#[test]
fn a_comparison_has_what_each_setup_needs_as_values() {
    let mut draft = draft();
    draft.plunge = [-24.0, 24.0];
    draft.joint_limits_deg = [26.0, 46.0];
    // Drop brackets lower the hub: shafts that stay are too short for it.
    draft.more += "setups: [(name: \"dropped\", changes: [DropBrackets(by: 120, of: [lower_arm, upper_arm, damper])])],\n";
    let scene = draft.scene("small");
    let columns = [None, Some("dropped".to_owned())];
    let store = MeshStore::new(Path::new("."));
    let found = compare(&scene, &columns, &store, false, &|_| {}).expect("as measured it stands");
    let [measured, dropped] = &found.comparison.columns[..] else {
        panic!("two columns")
    };
    assert!(measured.needs.all.is_empty());
    assert!(!dropped.needs.all.is_empty(), "{dropped:?}");
    let json = serde_json::to_value(&found.comparison).expect("JSON");
    assert!(json["columns"][1]["needs"]["all"][0].is_object(), "{json}");
}

#[test]
fn warnings_of_every_answers_json_hold_what_is_implausible_and_texts_say_it_once() {
    let mut text = with_tyre(
        "ride_height: 170,\nrear: (wheelbase: 2900, half_track: 815, wheel_centre_z: 400, loaded_radius: 387, tyre_width: 265),\n",
    );
    text = text.replace(
        "search: (droop: 140.0, bump: 120.0)",
        "search: (droop: 300, bump: 200)",
    );
    text = text.replace("ride_height: 170,", "ride_height: 170,\nsetups: [(name: \"spacer\", changes: [DamperSpacer((name: \"s\", thickness: 5, adds: total_length))])],");
    let scene = read(&text);
    let told: Vec<String> = implausible(&scene)
        .iter()
        .map(ToString::to_string)
        .collect();
    assert!(
        told[0].starts_with("ride_height 170 looks wrong"),
        "{told:?}"
    );
    let truck = built(&scene, None);
    let position = truck.corners[0].positioner.place(0.0, 0.0);
    let all = [
        (
            "sweep",
            sweep(&truck, &SweepOptions::default(), &|_, _| {}).warnings,
        ),
        ("damper", damper_findings(&truck, 0.0).warnings),
        (
            "pose",
            position_findings(&truck, &truck.corners[0], &position).warnings,
        ),
    ];
    for (of, warnings) in all {
        assert_eq!(warnings.first(), told.first(), "{of}");
    }
    for arguments in [
        &["sweep", "a.ron"][..],
        &["damper", "a.ron"],
        &["compare", "a.ron"],
        &["tyre", "a.ron"],
    ] {
        let said = asked(&text, arguments);
        let count = said.matches("ride_height 170 looks wrong").count();
        assert_eq!(count, 1, "{arguments:?}: {said}");
    }
    for arguments in [
        &["compare", "a.ron", "--json", "-"][..],
        &["tyre", "a.ron", "--json", "-"],
    ] {
        let said = asked(&text, arguments);
        // With its line, though the truck was made without the text.
        assert!(
            said.contains(", ride_height 170 looks wrong"),
            "{arguments:?}: {said}"
        );
    }
}

// ---------------------------------------------------------------- Ctrl-C

#[cfg(unix)]
#[test]
fn ctrl_c_ends_a_comparison_with_130_and_writes_nothing() {
    use std::process::{Command, Stdio};
    let folder = tempfile::tempdir().expect("a folder");
    let out = folder.path().join("a.json");
    let mut run = Command::new(env!("CARGO_BIN_EXE_bindpoint"))
        .args(["compare", "scenes/hollin.ron", "--json"])
        .arg(&out)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .expect("it starts");
    // Once it minds: SIGINT is the second bit.
    let minds = || {
        let status = std::fs::read_to_string(format!("/proc/{}/status", run.id())).ok()?;
        let caught = status
            .lines()
            .find_map(|line| line.strip_prefix("SigCgt:"))?;
        let bits = u64::from_str_radix(caught.trim(), 16).ok()?;
        Some(bits & 0b10 != 0)
    };
    while minds() == Some(false) {
        std::thread::sleep(std::time::Duration::from_millis(2));
    }
    let sent = Command::new("kill")
        .args(["-INT", &run.id().to_string()])
        .status();
    assert!(sent.expect("kill is there").success());
    assert_eq!(run.wait().expect("it ends").code(), Some(130));
    let left = std::fs::read_dir(folder.path()).expect("a folder").count();
    assert_eq!(left, 0, "nothing is left");
}

// ---------------------------------------------------------------- the second 36 minutes

#[test]
fn a_damper_that_reaches_past_the_search_is_undecided_and_says_to_widen_it() {
    let mut draft = draft();
    // The search ends in droop before the damper does.
    draft.search = [12.0, 60.0];
    draft.extended = 560.0;
    let truck = built(&read(&draft.text("short")), None);
    let found = damper_findings(&truck, 0.0);
    let damper = &found.worse.damper;
    assert!(damper.stop.is_none() && damper.safe_mm.expect("searched") < 560.0);
    assert_eq!(damper.spare_mm, None);
    assert!(found.worse.body.is_none());
    assert_eq!(damper_status(&found), Status::NotChecked);
    let said = asked(&draft.text("short"), &["damper", "a.ron"]);
    assert!(said.contains("widen `search`"), "{said}");
    assert!(said.contains("as far as was looked"), "{said}");
}

/// A tyre whose bulge meets a ball on the knuckle, 6 mm off where 8 are asked for: on a larger tyre the bulge sits further out.
fn with_bulge() -> String {
    let mut draft = draft();
    draft.part(
        "tyre",
        "wheel",
        "each_side",
        "Lathe(from: (0, 815, 400), axis: (0, 1, 0), profile: [(-110, 230), (-135, 310), (-110, 401), (110, 401), (135, 310), (110, 230)])",
    );
    // At 290 mm off the axle the face is 128.75 mm from the wheel's centre.
    let ball = ball(&V::new(0.0, 815.0 - 128.75 - 6.0 - 5.0, 690.0), 5.0);
    draft.part("upright", "knuckle", "each_side", &ball);
    draft.watch("tyre", "upright", 8.0);
    draft.more += "tyre: (size: Measured(diameter: 802, width: 270, rim_diameter: 432)),\n";
    draft.text("bulge")
}

#[test]
fn a_tyre_search_asks_larger_sizes_too_where_the_fitted_one_fails() {
    let text = with_bulge();
    let found =
        largest_tyre(&read(&text), None, None, &MeshStore::new(Path::new("."))).expect("a tyre");
    assert!(!found.fitted_clears());
    let clears = found.clears_diameter_mm.expect("a larger one clears");
    assert!(clears > 802.0, "{found:?}");
    let said = asked(&text, &["tyre", "a.ron"]);
    assert!(
        said.contains("The fitted diameter isn't proved to clear"),
        "{said}"
    );
    assert!(said.contains("Looked at, in mm of diameter"), "{said}");
}

#[test]
fn pairs_at_rest_that_overlap_count_as_violated() {
    let mut draft = draft();
    let at = V::new(0.0, 0.0, 900.0);
    draft.part("cup", "frame", "once", &ball(&at, 20.0));
    draft.part("tube", "differential", "once", &ball(&at, 30.0));
    draft.watch("cup", "tube", 1.0);
    let truck = built(&read(&draft.text("rest")), None);
    let found = sweep(&truck, &SweepOptions::default(), &|_, _| {});
    assert_eq!(status(&found), Status::Found);
    assert_eq!(found.worse.verdict.pairs.resting_violated, 1);
    assert!(found.worse.verdict.pairs.add_up());
    let said = page(&found, Units::Mm);
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        said.contains("1 at rest and checked once, 1 of them violated"),
        "{said}"
    );
}

#[test]
fn an_unusual_value_is_printed_apart_from_the_ranges_end_in_both_units() {
    let unusual = Unusual {
        name: "it".to_owned(),
        unit: Unit::Mm,
        // 0.656 inches, where the range begins at 0.669.
        value: 16.67,
        range: [17.0, 48.0],
        reason: "",
    };
    let said = unusual.to_string();
    assert_eq!(said, "it is 16.7 mm where 17.0 mm to 48.0 mm is usual");
    let said = LengthUnit::Inch.reworded(&said);
    assert_eq!(said, "it is 0.66 in where 0.67 in to 1.89 in is usual");
    let far = Unusual {
        value: 10.0,
        ..unusual
    };
    assert_eq!(far.to_string(), "it is 10 mm where 17 mm to 48 mm is usual");
}

#[test]
fn an_angle_may_be_a_fraction_in_quotes_and_a_bare_fraction_is_told() {
    let text = draft().text("toe");
    assert!(text.contains("toe_deg: 0.0"));
    let scene = read(&text.replace("toe_deg: 0.0", "toe_deg: \"1/16\""));
    assert_eq!(
        scene,
        read(&text.replace("toe_deg: 0.0", "toe_deg: 0.0625"))
    );
    let said = refused(&text.replace("toe_deg: 0.0", "toe_deg: 1/16"));
    assert!(said.contains("in quotes: `\"1/16\"`"), "{said}");
    let said = refused(&text.replace("toe_deg: 0.0", "toe_deg: \"6 mm\""));
    assert!(said.contains("is no angle"), "{said}");
}

#[test]
fn marks_for_inches_and_bare_fractions_are_told_with_what_to_write() {
    for (was, now, says) in [
        (
            "extended: 520.0",
            "extended: \"25 1/8\"\"",
            "`\"25 1/8 in\"`",
        ),
        ("extended: 520.0", "extended: 18.5\"", "`\"18.5 in\"`"),
        (
            "extended: 520.0",
            "extended: 6 3/4",
            "in quotes: `\"6 3/4\"`",
        ),
    ] {
        let text = draft().text("marks");
        assert!(text.contains(was));
        let said = refused(&text.replace(was, now));
        assert!(said.contains(says), "{now}: {said}");
    }
}

#[test]
fn words_that_cant_stand_somewhere_are_asked_back_in_plain_english() {
    for (was, now, asks) in [
        ("on: lower_arm", "on: lowerarm", "did you mean `lower_arm`"),
        ("units: mm", "units: inches", "did you mean `inch`"),
        ("shape: Capsule", "shape: capsule", "did you mean `Capsule`"),
        ("radius: 14", "radus: 14", "did you mean `radius`"),
    ] {
        let text = draft().text("words");
        assert!(text.contains(was), "{was}");
        let said = refused(&text.replacen(was, now, 1));
        assert!(said.contains(asks), "{said}");
        assert!(
            !said.contains("variant") && !said.contains("enum"),
            "{said}"
        );
        assert!(!said.contains("struct"), "{said}");
    }
    let text = draft()
        .text("open")
        .replacen("radius: 14)", "radius: 14", 1);
    let said = refused(&text);
    assert!(said.contains("isn't closed"), "{said}");
}

#[test]
fn a_hose_or_a_strap_that_is_too_short_suspects_its_length() {
    let mut draft = draft();
    draft.damper_more =
        "strap: (ends: ((on: frame, at: (-60, 480, 700)), (on: lower_arm, at: (0, 600, 300))), length: 300)"
            .to_owned();
    let said = asked(&draft.text("strap"), &["check", "a.ron"]);
    assert!(said.contains("is already past its limit"), "{said}");
    assert!(said.contains("too short"), "{said}");
}

#[test]
fn a_racks_travel_from_lock_to_lock_is_asked_after() {
    let mut draft = draft();
    draft.locks = [170.0, 170.0];
    let said = asked(&draft.text("locks"), &["check", "a.ron"]);
    assert!(said.contains("cannot follow the rack"), "{said}");
    assert!(said.contains("half of it meant?"), "{said}");
}

#[test]
fn a_link_that_gives_is_named_in_measured_and_then_told_in_one_short_sentence() {
    let link = "Link(from: (40, 630, 600), to: (on: frame, at: (60, 610, 300)), diameter: 12)";
    let mut draft = draft();
    draft.part("bar link", "knuckle", "each_side", link);
    let said = asked(&draft.text("link"), &["check", "a.ron"]);
    let name = format!("parts[{}].shape", draft.parts.len() - 1);
    assert!(said.contains(&format!("measured: [\"{name}\"]")), "{said}");
    draft.more += &format!("measured: [\"{name}\"],\n");
    let said = asked(&draft.text("link"), &["check", "a.ron"]);
    assert!(!said.contains("it hangs on its"), "{said}");
    assert!(
        said.contains("as the scene's `measured` says: `bar link`"),
        "{said}"
    );
}

#[test]
fn a_gap_in_millimetres_in_an_inch_scene_is_asked_after() {
    let said = asked(&fellgate("gap: 0.12", "gap: 3"), &["check", "a.ron"]);
    assert!(said.contains("is it in millimetres?"), "{said}");
}

#[test]
fn another_wheels_offset_is_no_other_knuckle() {
    let with = |change: &str| {
        let mut draft = draft();
        let ear = ball(&V::new(-60.0, 640.0, 470.0), 15.0);
        draft.part("ear", "knuckle", "each_side", &ear);
        draft.more += &format!("setups: [(name: \"s\", changes: [{change}])],\n");
        built(&read(&draft.text("offset")), Some("s")).warnings
    };
    let of_knuckle =
        |warnings: &[String]| warnings.iter().any(|w| w.contains("knuckle is another"));
    assert!(!of_knuckle(&with("WheelOffset(outboard: 25)")));
}

#[test]
fn a_build_without_the_window_says_so() {
    if cfg!(feature = "viewer") {
        return;
    }
    for command in ["picture", "view"] {
        let said = asked(&draft().text("none"), &[command, "a.ron", "--out", "a.png"]);
        assert!(said.contains("this build has no window"), "{said}");
    }
}

#[test]
fn check_says_how_its_pairs_sum_to_those_of_a_sweep() {
    let truck = built(&read(&draft().text("sum")), None);
    let matched = truck.corners[0].pair_count.matched;
    let said = asked(&draft().text("sum"), &["check", "a.ron"]);
    assert!(
        said.contains(&format!("they are the {matched} that `sweep` counts")),
        "{said}"
    );
}

#[test]
fn a_direction_in_which_the_truck_has_nothing_is_named_in_the_scene_and_in_the_answer() {
    let store = MeshStore::new(Path::new("."));
    let of = |text: &str| {
        let found = largest_tyre(&read(text), None, None, &store).expect("a tyre");
        found.surroundings.expect("a tyre is drawn")
    };
    let text = with_tyre("");
    let unknown = of(&text).nothing_drawn;
    assert!(!unknown.is_empty());
    let all = "nothing_there: [ahead, above_ahead, above, above_behind, behind, inboard, outboard]";
    let named = text.replacen("tyre: (", &format!("tyre: ({all}, "), 1);
    assert_ne!(named, text);
    let found = of(&named);
    assert!(found.nothing_drawn.is_empty());
    assert_eq!(found.nothing_there, unknown);
    let said = asked(&named, &["tyre", "a.ron"]);
    assert!(
        said.contains("as the scene's `tyre.nothing_there` says: "),
        "{said}"
    );
    assert!(!said.contains("NOT KNOWN in some directions"), "{said}");
}

/// The stranger's lift of 6 in by preload on a truck with 4.3 in of droop.
#[test]
fn a_check_tells_of_setups_that_stand_past_a_stop() {
    let text = fellgate(
        "[RideHeight(up: 2.0, by: preload)]",
        "[RideHeight(up: 9.0, by: preload)]",
    );
    let said = asked(&text, &["check", "a.ron"]);
    assert!(
        said.contains("Setups that stand past a stop at ride height"),
        "{said}"
    );
    assert!(
        said.contains("preload 2 in, left: at its ride height"),
        "{said}"
    );
    let as_it_was = asked(FELLGATE, &["check", "a.ron"]);
    assert!(
        !as_it_was.contains("preload 2 in, left: at its ride height"),
        "{as_it_was}"
    );
}

#[test]
fn an_entry_of_a_list_is_told_with_its_name() {
    let mut draft = draft();
    draft.part(
        "odd bar",
        "frame",
        "once",
        "Capsule(from: (0, 0, 900), to: (0, 0, 950), radius: -3)",
    );
    let said = asked(&draft.text("named"), &["check", "a.ron"]);
    assert!(said.contains("`parts[2]` is `odd bar`"), "{said}");
}

// ---------------------------------------------------------------- blamed where it is wrong

const COIL: &str =
    "shape: Cylinder(from: (-3.02, 21.8, 19.2), to: (-3.19, 20.2, 29.7), radius: 2.1)";
const SPRING: &str =
    "shape: Spring(upper_seat: 2.5, lower_seat: 7, wire: 0.56, mean_diameter: 4, turns: 8)";
const REAR: &str = "rear: (wheelbase: 141, half_track: 34, wheel_centre_z: 15.9, loaded_radius: 15.9, \
                    tyre_width: 10.9, travel: (4, 4)),\n    tyre: (size:";

#[test]
fn what_cannot_be_put_together_is_told_at_the_number_that_is_wrong_and_not_at_what_follows_from_it()
{
    let sprung = fellgate(COIL, SPRING);
    built(&read(&sprung), None);
    let rear = fellgate("tyre: (size:", REAR);
    built(&read(&rear), None);
    let on_one_side = fellgate(
        "outer_joint: (0, -29.1, 15.9)",
        "outer_joint: (0, 29.1, 15.9)",
    );
    let cases = [
        // A spacer's thickness in millimetres: its damper was past its compressed length.
        (
            fellgate(
                "top spacer\", thickness: 1.0",
                "top spacer\", thickness: 50",
            ),
            "damper.spacers[0].thickness",
            "is it in millimetres?",
        ),
        // A damper's length in millimetres: its spring had too few turns.
        (
            sprung.replace("extended: 20.1", "extended: 510"),
            "damper.extended",
            "is it in millimetres?",
        ),
        // An eye too low: its spring's seats were too far from the eyes.
        (
            sprung.replace(
                "upper_mount: (-3.2, 20.0, 31.0)",
                "upper_mount: (-3.2, 20.0, 15.0)",
            ),
            "damper.upper_mount",
            "wrong",
        ),
        // The front tyres' radius in millimetres: the wheelbase was too short for them.
        (
            rear.replacen("loaded_radius: 15.9", "loaded_radius: 403", 1),
            "knuckle.loaded_radius",
            "is it in millimetres?",
        ),
        // The other side's shaft on this side: an axis that nobody wrote pointed the wrong way.
        (
            on_one_side.replace(
                "inner_joint: (0, -10.9, 16.6)",
                "inner_joint: (0, 10.9, 16.6)",
            ),
            "other_side.halfshaft.outer_joint",
            "negative on the right",
        ),
    ];
    for (text, path, help) in cases {
        let scene = read(&text);
        let Err(problem) = assemble_setup(&scene, None, &MeshStore::new(Path::new("."))) else {
            panic!("{path}: it can be put together");
        };
        assert_eq!(problem.path, path, "{problem:?}");
        assert!(problem.help.contains(help), "{problem:?}");
    }
}

#[test]
fn a_camber_that_no_wheel_has_is_blamed_by_itself() {
    let text = fellgate("camber_deg: 0.0", "camber_deg: -25");
    let told: Vec<String> = (implausible(&read(&text)).into_iter())
        .map(|t| t.path)
        .collect();
    assert_eq!(told, ["knuckle.spindle.camber_deg"]);
}

#[test]
fn a_length_typed_in_whole_inches_is_told_in_whole_inches() {
    let told = implausible(&read(&fellgate("loaded_radius: 15.9", "loaded_radius: 33")));
    let said = LengthUnit::Inch.reworded(&told[0].to_string());
    assert!(said.contains("is 33.00 in where"), "{said}");
}

#[test]
fn a_setup_that_cannot_be_built_is_left_out_of_a_table_of_all_and_named() {
    let rear = fellgate("tyre: (size:", REAR);
    let text = rear.replace(
        "    setups: [",
        "    setups: [\n        (name: \"no shaft\", changes: [DifferentialDrop(by: 11)]),",
    );
    for command in ["ground", "drive"] {
        let mut arguments = vec![command, "a.ron", "--all-setups"];
        if command == "drive" {
            arguments.extend(["--over", "ledge", "--suspension", "hold"]);
        }
        let text = text.replace(
            "    tyre: (size:",
            "    obstacles: [(name: \"ledge\", shape: Ledge(height: 6))],\n    tyre: (size:",
        );
        let said = asked(&text, &arguments);
        assert!(
            said.contains("no shaft is left out, it can't be built"),
            "{command}: {said}"
        );
        assert!(said.contains("long coilover"), "{command}: {said}");
    }
}

// ---------------------------------------------------------------- the fifth stranger

/// What `check` would say of a truck with one number in another's place.
fn slipped(was: &str, now: &str) -> Vec<String> {
    let all = implausible(&read(&fellgate(was, now)));
    all.iter().map(ToString::to_string).collect()
}

#[test]
fn a_part_drawn_streets_away_is_told_though_nothing_moves_with_it() {
    let said = slipped(
        "Box(centre: (0, 15.5, 21.5)",
        "Box(centre: (0, 15.5, 546.1)",
    );
    assert_eq!(said.len(), 1, "{said:?}");
    assert!(said[0].contains("its distance from the truck"), "{said:?}");
    assert!(
        said[0].contains("is z in millimetres? (0, 15.5, 21.5) would be usual"),
        "{said:?}"
    );
}

#[test]
fn what_cannot_be_worked_out_is_no_number() {
    let said = slipped(
        "tie_rod_outer: (5.75, 29.6, 13.6)",
        "tie_rod_outer: (5.75, 25.6, 13.6)",
    );
    assert!(said.iter().all(|s| !s.contains("NaN")), "{said:?}");
}

#[test]
fn where_two_points_explain_the_same_both_are_named() {
    // Either end of the tie rod may have the wrong sign: the other one's mend makes the truck as usual.
    let mut draft = draft();
    draft.rod[1].x = -draft.rod[1].x;
    let all = implausible(&read(&draft.text("slipped")));
    let said: Vec<String> = all.iter().map(ToString::to_string).collect();
    let both = ["knuckle.tie_rod_outer", "rack.tie_rod_inner"];
    assert!(
        said.iter()
            .any(|s| both.iter().all(|path| s.contains(path))),
        "{said:?}"
    );
    // A rear pivot four inches off turns the arm's axis as a front one would.
    let said = slipped(
        "rear_pivot: (-5.25, 18.0, 25.25)",
        "rear_pivot: (-5.25, 14.0, 25.25)",
    );
    assert!(
        said.iter().any(|s| s.contains("upper_arm.rear_pivot")),
        "{said:?}"
    );
}

#[test]
fn a_tyre_that_stands_higher_loaded_than_its_size_is_refused() {
    let text = fellgate("loaded_radius: 15.9", "loaded_radius: 31.8");
    let scene = read(&text);
    let problem = bindpoint::truck::assemble(&scene, Path::new(".")).expect_err("it can't");
    assert_eq!(problem.path, "knuckle.loaded_radius", "{problem:?}");
    assert!(problem.what.contains("without load"), "{problem:?}");
    // The rear one isn't blamed for it.
    let said: Vec<String> = implausible(&scene)
        .iter()
        .map(ToString::to_string)
        .collect();
    assert!(
        said.iter().all(|s| !s.contains("rear.loaded_radius")),
        "{said:?}"
    );
}

#[test]
fn a_bracket_too_many_is_told_as_one() {
    let mut draft = draft();
    draft.more += "setups: [(name: \"a\", changes: [AddPart((name: \"b\", on: frame, shape: Ball(centre: (0, 0, 0), radius: 1)))])],\n";
    let said = refused(&draft.text("doubled"));
    assert!(said.contains("not another bracket"), "{said}");
    assert!(said.contains("AddPart(part: (..))"), "{said}");
}

#[test]
fn a_strap_that_stays_slack_is_no_fault_of_the_damper() {
    let strapped = |extended: f64, length: f64| {
        let mut draft = draft();
        draft.joint_limits_deg = [12.0, 75.0];
        draft.extended = extended;
        draft.damper_more = format!(
            "strap: (ends: ((on: frame, at: (90, 430, 600)), (on: lower_arm, at: (90, 620, 320))), length: {length:?}), "
        );
        damper_findings(&built(&read(&draft.text("strapped")), None), 0.0)
    };
    let safe = strapped(draft().extended, 2000.0);
    let safe_mm = safe.worse.damper.safe_mm.expect("a length is safe");
    // The damper ends the droop in time, the strap would let it go on.
    let damper = strapped(safe_mm - 5.0, 2000.0);
    assert!(
        damper
            .worse
            .strap
            .as_ref()
            .and_then(|s| s.spare_mm)
            .is_some_and(|s| s < 0.0)
    );
    assert_eq!(damper.worse.ends_droop(), DroopEnd::Damper);
    assert_eq!(damper_status(&damper), Status::Clear);
    // The strap alone does, where it is short enough.
    let strap_mm = safe
        .worse
        .strap
        .as_ref()
        .and_then(|s| s.safe_mm)
        .expect("a strap is safe");
    let strap = strapped(safe_mm + 5.0, strap_mm - 5.0);
    assert_eq!(strap.worse.ends_droop(), DroopEnd::Strap);
    assert_eq!(damper_status(&strap), Status::Clear);
    // Neither does.
    let neither = strapped(safe_mm + 5.0, strap_mm + 5.0);
    assert_eq!(neither.worse.ends_droop(), DroopEnd::Neither);
    assert_eq!(damper_status(&neither), Status::Found);
}

#[test]
fn where_no_tyre_clears_what_the_fitted_one_meets_is_told() {
    // A block in the knuckle 4 mm beside the tread's edge, where 8 are asked for: no diameter mends that.
    let mut text = with_tyre("");
    let block =
        "(name: \"block\", on: knuckle, shape: Box(centre: (0, 658.5, 400), size: (20, 40, 500))),";
    text = text.replacen("parts: [", &format!("parts: [{block}"), 1);
    text = text.replacen(
        "watch: [",
        "watch: [(a: \"tyre\", b: \"block\", gap: 8.0),",
        1,
    );
    let found =
        largest_tyre(&read(&text), None, None, &MeshStore::new(Path::new("."))).expect("asked");
    assert_eq!(found.clears_diameter_mm, None);
    assert_eq!(found.limits_diameter_mm, Some(found.fitted_diameter_mm));
    assert!(
        found.limits.iter().all(|l| l.stop.starts_with("gap ")),
        "{:?}",
        found.limits
    );
}
