//! Answers that a stranger with a truck of their own got wrong or didn't understand, one test each.
//!
//! Sources: the scenes' own numbers; each test says what it asks and of what.

use bindpoint::compare::better_and_worse;
use bindpoint::findings::{Better, Measure, Measured, Quantity};
use bindpoint::ground::{Course, Suspension, drive};
use bindpoint::limits::LimitId;
use bindpoint::output::{Units, drive_text};
use bindpoint::scene::{Scene, scene_from_text};
use bindpoint::suspension::Side;
use bindpoint::truck::{MeshStore, Truck, assemble_setup};
use nalgebra::Vector3;
use small_scene::{Draft, ball};
use std::io::Read;
use std::path::Path;
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

mod dice;
mod small_scene;

type V = Vector3<f64>;

fn program() -> Command {
    Command::new(env!("CARGO_BIN_EXE_bindpoint"))
}

fn said(output: &Output) -> String {
    let both = [&output.stdout, &output.stderr].map(|t| String::from_utf8_lossy(t).into_owned());
    let words = both.concat().replace('\u{2502}', " ");
    words.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn asked(arguments: &[&str]) -> (i32, String) {
    let output = program().args(arguments).output().expect("it runs");
    (output.status.code().unwrap_or(-1), said(&output))
}

/// A scene of few parts in a folder of its own.
fn written(draft: &Draft) -> (tempfile::TempDir, String) {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("small.ron");
    std::fs::write(&path, draft.text("small")).expect("written");
    let path = path.to_str().expect("plain").to_owned();
    (folder, path)
}

/// A corner with a bar on its lower arm, and a part on the frame to be watched.
fn draft() -> Draft {
    let mut draft = Draft::new();
    let leg = "Capsule(from: (180, 335, 345), to: (20, 700, 292), radius: 14)";
    draft.part("lower arm front leg", "lower_arm", "each_side", leg);
    draft.part(
        "frame bracket",
        "frame",
        "each_side",
        &ball(&V::new(300.0, 300.0, 900.0), 10.0),
    );
    draft.watch("lower arm front leg", "frame bracket", 3.0);
    draft
}

#[test]
fn a_misspelt_part_in_watch_and_joined_is_asked_back_with_the_nearest_name() {
    let good = draft();
    for (list, entry) in [
        (
            "watch",
            "(a: \"lower arm frnt leg\", b: \"frame bracket\", gap: 3)",
        ),
        (
            "joined",
            "(a: \"frame bracket\", b: \"lower arm frnt leg\", why: \"welded\")",
        ),
    ] {
        let mut draft = good.clone();
        match list {
            "watch" => draft.watch.push(format!("{entry},")),
            _ => draft.more += &format!("joined: [{entry}],\n"),
        }
        let scene = draft.scene("small");
        let store = MeshStore::new(Path::new("."));
        let problem = match assemble_setup(&scene, None, &store) {
            Err(problem) => problem,
            Ok(_) => panic!("{list}: it was built"),
        };
        let question = "`lower arm frnt leg`: did you mean `lower arm front leg`? ";
        assert!(problem.help.starts_with(question), "{list}: {problem:?}");
    }
}

#[test]
fn a_part_that_comes_with_a_setup_is_asked_for_with_the_command_to_run() {
    let mut draft = draft();
    draft.more += "setups: [(name: \"skid plate\", changes: [AddPart(part: (name: \"low plate\", on: frame, \
        shape: Ball(centre: (300, 300, 850), radius: 10)))])],\n";
    let (_folder, path) = written(&draft);
    for (command, option) in [("clearance", "--part"), ("keepout", "--parts")] {
        let out = format!("{path}.stl");
        let mut arguments = vec![command, &path, option, "low plate"];
        if command == "keepout" {
            arguments.extend(["--margin", "5", "--out", &out]);
        }
        let (status, said) = asked(&arguments);
        assert_eq!(status, 2, "{said}");
        // The path may be broken by the terminal's width.
        let wanted = format!("{option} \"low plate\" --setup \"skid plate\"");
        let closed = said.replace(' ', "");
        assert!(
            said.contains("it comes with the setup `skid plate`"),
            "{said}"
        );
        assert!(
            closed.contains(&wanted.replace(' ', "")),
            "{wanted}: {said}"
        );
    }
    // A plain slip is asked back.
    let (_, said) = asked(&["clearance", &path, "--part", "frame braket"]);
    assert!(said.contains("did you mean `frame bracket`?"), "{said}");
}

/// One value of a measure in two columns.
fn measure(values: [f64; 2]) -> Measure {
    let value = |value| Measured {
        value,
        at_least: None,
        by: None,
    };
    Measure {
        key: "droop".to_owned(),
        group: bindpoint::findings::MeasureGroup::Travel,
        label: "free droop".to_owned(),
        quantity: Quantity::Mm,
        better: Better::More,
        side: Some(Side::Left),
        detail: false,
        values: values.map(|v| Some(value(v))).to_vec(),
    }
}

/// 100.2 and 100.1 mm are 3.944 and 3.940 in: 3.94 both, and so no change to who reads inches.
#[test]
fn a_change_that_reads_the_same_in_the_printed_unit_is_not_told() {
    let told = |values, units: Units| {
        let length = |mm: f64, toward| format!("{} {}", units.toward(mm, toward), units.name());
        let [better, worse] = better_and_worse(&[measure(values)], 1, Side::Left, &length);
        assert!(better.is_empty());
        worse
    };
    assert!(told([100.2, 100.1], Units::Inch).is_empty());
    assert_eq!(
        told([100.2, 100.1], Units::Mm),
        ["free droop: 100.2 mm -> 100.1 mm"]
    );
    assert_eq!(
        told([100.2, 99.0], Units::Inch),
        ["free droop: 3.94 in -> 3.89 in"]
    );
}

/// 2.82 mm are 0.1110 in: what has to go is never printed less than it is, and alike everywhere.
#[test]
fn an_overlaps_depth_is_rounded_up_in_every_unit() {
    let warning =
        "left: a and b already overlap as measured, about 2.820 mm deep; this pair is not swept";
    for (units, depth) in [
        (Units::Mm, "about 2.9 mm deep"),
        (Units::Inch, "about 0.12 in deep"),
    ] {
        let said = units.reworded(warning);
        assert!(said.contains(depth), "{said}");
        let elsewhere = format!("about {} deep", units.at_least_with_unit(2.82));
        assert_eq!(elsewhere, depth);
    }
}

#[test]
fn check_tells_an_overlaps_depth_alike_in_its_list_and_its_warnings() {
    let mut draft = draft();
    // Two balls in one another by 22.82 mm.
    draft.part(
        "ball",
        "knuckle",
        "each_side",
        &ball(&V::new(300.0, 300.0, 907.18), 10.0 + 20.0),
    );
    draft.watch("ball", "frame bracket", 3.0);
    let (_folder, path) = written(&draft);
    for units in ["mm", "inch"] {
        let (_, said) = asked(&["check", &path, "--units", units]);
        let depths: Vec<&str> = said
            .match_indices(" deep")
            .filter_map(|(at, _)| said[..at].rsplit_once("about ").map(|(_, depth)| depth))
            .collect();
        assert!(depths.len() >= 2, "{said}");
        assert!(depths.iter().all(|depth| *depth == depths[0]), "{depths:?}");
    }
}

// ---------------------------------------------------------------- straps

fn with_changes(draft: &Draft, changes: &str) -> Scene {
    let mut draft = draft.clone();
    draft.more += &format!("setups: [(name: \"tried\", changes: [{changes}])],\n");
    draft.scene("small")
}

fn tried(draft: &Draft, changes: &str) -> Truck {
    let store = MeshStore::new(Path::new("."));
    assemble_setup(&with_changes(draft, changes), Some("tried"), &store)
        .unwrap_or_else(|problem| panic!("{changes}: {problem:?}"))
}

/// What a corner's strap reads at the measured position, and its length; none without.
fn strap(truck: &Truck, side: Side) -> Option<[f64; 2]> {
    let corner = truck.corner(side).unwrap_or(&truck.corners[0]);
    let limit = corner.limits.iter().find(|l| l.id == LimitId::LimitStrap)?;
    let reading = limit.reading(&corner.positioner.place(0.0, 0.0).linkage);
    Some([reading.value, reading.limit])
}

/// The distance of two points is what a strap between them reads.
#[test]
fn a_setup_gives_a_strap_other_ends_or_puts_one_in() {
    let bare = draft();
    let mut fitted = bare.clone();
    fitted.damper_more =
        "strap: (ends: ((on: frame, at: (60, 480, 600)), (on: lower_arm, at: (60, 600, 330))), length: 330)".to_owned();
    let [top, foot] = [V::new(80.0, 470.0, 640.0), V::new(70.0, 610.0, 325.0)];
    let ends = |sign: f64| {
        format!(
            "ends: ((on: frame, at: (80, {}, 640)), (on: lower_arm, at: (70, {}, 325)))",
            sign * 470.0,
            sign * 610.0
        )
    };
    let span = (top - foot).norm();
    let is = |found: Option<[f64; 2]>, length: f64| {
        let [reads, limit] = found.expect("a strap");
        assert!((reads - span).abs() < 1.0e-9, "{reads} {span}");
        assert_eq!(limit, length);
    };
    // Other ends, and both corners have them; with them another length too.
    let moved = tried(&fitted, &format!("Strap({}, length: 370)", ends(1.0)));
    for side in [Side::Left, Side::Right] {
        is(strap(&moved, side), 370.0);
    }
    is(
        strap(
            &tried(&fitted, &format!("Strap({}, longer: 40)", ends(1.0))),
            Side::Left,
        ),
        370.0,
    );
    // One where there was none, on one side alone and drawn there.
    let right = tried(
        &bare,
        &format!("Strap(side: right, {}, length: 380)", ends(-1.0)),
    );
    is(strap(&right, Side::Right), 380.0);
    assert_eq!(strap(&right, Side::Left), None);
    // Without either there is nothing to be put in, and a length isn't said twice.
    let store = MeshStore::new(Path::new("."));
    for (draft, changes, wanted) in [
        (
            &bare,
            "Strap(length: 380)".to_owned(),
            "a new one takes both `ends` and `length`",
        ),
        (
            &bare,
            format!("Strap({})", ends(1.0)),
            "a new one takes both `ends` and `length`",
        ),
        (
            &fitted,
            "Strap(length: 380, longer: 5)".to_owned(),
            "say how much longer, or give the length",
        ),
    ] {
        match assemble_setup(&with_changes(draft, &changes), Some("tried"), &store) {
            Err(problem) => assert!(problem.help.contains(wanted), "{changes}: {problem:?}"),
            Ok(_) => panic!("{changes} was built"),
        }
    }
}

// ---------------------------------------------------------------- words

/// A margin that what is fitted doesn't keep needs a shorter damper.
#[test]
fn a_damper_that_has_to_be_shorter_is_not_called_longer() {
    let scene = "scenes/tarnwood.ron";
    let (_, said) = asked(&["damper", scene, "--margin", "80"]);
    assert!(
        said.contains("share what it is shorter than the one fitted"),
        "{said}"
    );
    let (_, said) = asked(&["damper", scene, "--margin", "10"]);
    assert!(
        said.contains("share what it is longer than the one fitted"),
        "{said}"
    );
}

/// What is unknown is called so, with the reason, in table and sentence.
#[test]
fn a_contact_of_unknown_depth_says_what_is_unknown() {
    let path = Path::new("scenes/tarnwood.ron");
    let truck = bindpoint::truck::load_setup(path, Some("low skid plate")).expect("it is built");
    let course = Course::new(&truck, "ledge", 1.0, Suspension::Held).expect("it stands");
    let mut found = drive(&course).expect("it is driven");
    let text = drive_text(&found, &[], Units::Mm);
    assert!(!text.contains("unknown"), "{text}");
    assert!(!found.contacts.is_empty());
    found.contacts[0].depth_mm = None;
    let text = drive_text(&found, &[], Units::Mm);
    let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
    for said in [
        "How deep it would go is unknown.",
        "Depth unknown: they touch, but no corner of the part as drawn",
    ] {
        assert!(words.contains(said), "{said}: {text}");
    }
    assert!(!words.contains(" ? "), "{text}");
}

#[test]
fn the_schema_says_how_each_thing_is_written() {
    let (_, said) = asked(&["schema"]);
    for line in [
        "DamperSpacer((name: .., thickness: .., adds: .., ..)), see SpacerChange]",
        "[UpperArm((..)), see ArmChange]",
        "[RideHeight(up: .., by: ..)]",
        "[Code(\"..\")]",
        "each saying what it adds to. [a list: [Spacer, ..]]",
        "Static loaded radius in front. Default: the old one and half of what the diameter gains. [a length]",
        "Half angle; for an oval cone, the one along the arm. [a number]",
    ] {
        assert!(said.contains(line), "{line}");
    }
    // What the schema writes is read: a kind that holds a group with both its brackets.
    let read = |change: &str| {
        let mut draft = draft();
        draft.more += &format!("setups: [(name: \"a\", changes: [{change}])],\n");
        scene_from_text(&draft.text("small"), Path::new("small.ron"))
    };
    let spacer = "name: \"s\", thickness: 20, adds: total_length";
    assert!(read(&format!("DamperSpacer(({spacer}))")).is_ok());
    assert!(read(&format!("DamperSpacer({spacer})")).is_err());
}

// ---------------------------------------------------------------- progress and Ctrl-C

/// A command with work for seconds in a program without optimisation, and the file that it writes.
fn long_run(folder: &Path) -> (Vec<String>, std::path::PathBuf) {
    let out = folder.join("swept.stl");
    let arguments = [
        "keepout",
        "scenes/tarnwood.ron",
        "--parts",
        "tyre",
        "--margin",
        "1",
        "--resolution",
        "2",
        "--out",
    ];
    let mut arguments: Vec<String> = arguments.map(str::to_owned).to_vec();
    arguments.push(out.display().to_string());
    (arguments, out)
}

/// Whether a program has an answer to Ctrl-C by now, as the system has it; where that can't be asked it is given the time.
#[cfg(unix)]
fn minds_ctrl_c(id: u32) -> bool {
    let Ok(status) = std::fs::read_to_string(format!("/proc/{id}/status")) else {
        std::thread::sleep(Duration::from_secs(1));
        return true;
    };
    let caught = status.lines().find_map(|line| line.strip_prefix("SigCgt:"));
    let caught = caught.and_then(|bits| u64::from_str_radix(bits.trim(), 16).ok());
    // SIGINT is the second of them.
    caught.is_some_and(|bits| bits & 0b10 != 0)
}

#[cfg(unix)]
#[test]
fn ctrl_c_ends_a_long_command_with_130_and_leaves_the_old_file() {
    let folder = tempfile::tempdir().expect("a folder");
    let (arguments, out) = long_run(folder.path());
    let names = || -> Vec<String> {
        let entries = std::fs::read_dir(folder.path()).expect("a folder");
        let name = |entry: std::io::Result<std::fs::DirEntry>| entry.expect("readable").file_name();
        entries
            .map(|e| name(e).to_string_lossy().into_owned())
            .collect()
    };
    // As soon as it minds, and in the middle of a write.
    for while_writing in [false, true] {
        std::fs::write(&out, "old").expect("written");
        let mut run = program()
            .args(&arguments)
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("it starts");
        let is_time = || minds_ctrl_c(run.id()) && (!while_writing || names().len() > 1);
        while !is_time() {
            std::thread::sleep(Duration::from_millis(2));
        }
        let sent = Command::new("kill")
            .args(["-INT", &run.id().to_string()])
            .status();
        assert!(sent.expect("kill is there").success());
        let status = run.wait().expect("it ends").code();
        assert_eq!(status, Some(130), "while writing: {while_writing}");
        assert_eq!(std::fs::read(&out).expect("there"), b"old");
        assert_eq!(names(), ["swept.stl"], "nothing else is left");
    }
}

/// On a terminal each command that may take seconds shows what it does. `script` lends a terminal; without it this is skipped.
#[cfg(unix)]
#[test]
fn a_long_command_shows_progress_on_a_terminal() {
    if Command::new("script").arg("--version").output().is_err() {
        eprintln!("skipped: needs `script`");
        return;
    }
    let program = env!("CARGO_BIN_EXE_bindpoint");
    for (arguments, step) in [
        ("tyre scenes/tarnwood.ron", "tyres tried"),
        ("damper scenes/tarnwood.ron", "damper lengths tried"),
        (
            "drive scenes/tarnwood.ron --over ledge --largest",
            "driven over",
        ),
        ("compare scenes/tarnwood.ron", "setups swept"),
        ("sweep scenes/hollin.ron", "%"),
    ] {
        let mut run = Command::new("script");
        let command = format!("exec {program} {arguments}");
        run.args(["-qfec", &command, "/dev/null"]);
        let mut shown = run
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .spawn()
            .expect("script starts");
        let mut screen = shown.stdout.take().expect("its screen");
        let (mut said, mut piece) = (String::new(), [0; 4096]);
        let started = Instant::now();
        // Read until it shows or ends.
        while !said.contains(step) {
            match screen.read(&mut piece) {
                Ok(0) | Err(_) => break,
                Ok(n) => said += &String::from_utf8_lossy(&piece[..n]),
            }
        }
        // Its terminal goes with it, and so does the program.
        let _ = shown.kill();
        let _ = shown.wait();
        // What is done by then needs none.
        let is_short = started.elapsed() < Duration::from_secs(1);
        assert!(is_short || said.contains(step), "{arguments}: {said}");
    }
}
