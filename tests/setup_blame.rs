//! A setup's number with a slip in it is told at the setup, not at the part of the truck where it shows.
//!
//! Source: inches of 25.4 mm; the slips are a person's who types a catalogue's millimetres into a scene in inches, or the
//! other way round.

use assert_cmd::cargo::cargo_bin_cmd;
use bindpoint::plausibility::implausible;
use bindpoint::scene::{Scene, scene_from_text};
use bindpoint::truck::{MeshStore, assemble_setup};
use std::path::Path;

/// The truck in inches without its setups, with one that is tried.
fn fellgate(changes: &str) -> String {
    let text = include_str!("fellgate/fellgate.ron");
    let (before, rest) = text.split_once("    setups: [").expect("setups");
    let (_, after) = rest.split_once("\n    ],\n").expect("their end");
    format!("{before}    setups: [(name: \"tried\", changes: [{changes}])],\n{after}")
}

fn read(text: &str) -> Scene {
    scene_from_text(text, Path::new("fellgate.ron")).unwrap_or_else(|e| panic!("{e}"))
}

/// Each change with millimetres in it, the field that is wrong, its value and what was meant, in inches.
const IN_MM: [(&str, &str, &str, &str); 7] = [
    ("WheelOffset(outboard: 31.75)", "outboard", "31.75", "1.25"),
    ("DifferentialDrop(by: 101.6)", "by", "101.6", "4"),
    ("DropBrackets(by: 101.6)", "by", "101.6", "4"),
    ("RideHeight(up: 50.8, by: preload)", "up", "50.8", "2"),
    (
        "DamperSpacer((name: \"s\", thickness: 25.4, adds: total_length))",
        "thickness",
        "25.4",
        "1",
    ),
    ("Halfshaft(longer: 25.4)", "longer", "25.4", "1"),
    (
        "LowerArm((ball_joint: (10.16, 784.86, 289.56)))",
        "ball_joint",
        "(10.16, 784.86, 289.56)",
        "(0.4, 30.9, 11.4)",
    ),
];

#[test]
fn millimetres_in_a_setup_of_an_inch_scene_are_told_at_the_setups_own_number() {
    for (changes, field, written, meant) in IN_MM {
        let scene = read(&fellgate(changes));
        let problem = match assemble_setup(&scene, Some("tried"), &MeshStore::new(Path::new("."))) {
            Err(problem) => Some(problem),
            Ok(truck) => {
                // What can be built says so all the same.
                let said = &truck.implausible;
                assert!(
                    said.iter().any(|i| i.path.ends_with(field)),
                    "{changes}: {said:?}"
                );
                None
            }
        };
        if let Some(problem) = problem {
            assert!(
                problem.path.starts_with("setups[0].changes[0]"),
                "{changes}: {problem:?}"
            );
            for said in [written, "setup `tried`", field] {
                assert!(
                    problem.what.contains(said),
                    "{changes}: {said}: {problem:?}"
                );
            }
            let help = format!("is it in millimetres? {meant} would be usual");
            assert!(problem.help.starts_with(&help), "{changes}: {problem:?}");
        }
        // `check` and every answer's first lines say it too, whether or not the setup is asked for.
        let found = implausible(&scene);
        let own: Vec<_> = found
            .iter()
            .filter(|i| i.path.starts_with("setups"))
            .collect();
        assert_eq!(own.len(), 1, "{changes}: {own:?}");
        assert_eq!(own[0].written, written, "{changes}");
        assert!(
            own[0].help().contains(meant),
            "{changes}: {}",
            own[0].help()
        );
    }
}

#[test]
fn the_same_numbers_in_inches_are_usual() {
    for (changes, _, written, meant) in IN_MM {
        let scene = read(&fellgate(&changes.replace(written, meant)));
        let found = implausible(&scene);
        let own: Vec<_> = found
            .iter()
            .filter(|i| i.path.starts_with("setups"))
            .collect();
        assert!(own.is_empty(), "{changes}: {own:?}");
    }
}

/// The demo trucks' own setups are usual.
#[test]
fn no_setup_of_a_demo_truck_is_warned_of() {
    for name in ["tarnwood", "crake", "hollin"] {
        let path = format!("scenes/{name}.ron");
        let text = std::fs::read_to_string(&path).expect("a demo scene");
        let scene = scene_from_text(&text, Path::new(&path)).expect("it is read");
        let found = implausible(&scene);
        assert!(
            found.iter().all(|i| !i.path.starts_with("setups")),
            "{name}: {found:?}"
        );
    }
}

#[test]
fn the_command_names_setup_change_and_value_with_the_line() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("fell.ron");
    let text = fellgate("WheelOffset(outboard: 31.75)");
    let line = 1 + text
        .lines()
        .position(|l| l.contains("WheelOffset"))
        .expect("its line");
    std::fs::write(&path, &text).expect("written");
    let output = cargo_bin_cmd!("bindpoint")
        .arg("sweep")
        .arg(&path)
        .args(["--setup", "tried"])
        .output()
        .expect("it runs");
    let said = [output.stdout, output.stderr].map(|t| String::from_utf8_lossy(&t).into_owned());
    let said = said
        .concat()
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ")
        .replace("│ ", "");
    for wanted in [
        "31.75",
        "`outboard`",
        "WheelOffset",
        "`tried`",
        "1.25 would be usual",
    ] {
        assert!(said.contains(wanted), "{wanted}: {said}");
    }
    assert!(
        said.contains(&format!("fell.ron:{line}:")) || said.contains(&format!("line {line}")),
        "{said}"
    );
}
