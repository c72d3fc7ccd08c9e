//! Slips in a scene are refused or warned of, at the field that is wrong, and good trucks are not.
//!
//! Measured on random trucks (`random_trucks`) with slips made at random (`slip`); `SLIP_TRUCKS=1000 cargo test --test slips --
//! --nocapture` measures more of them and prints each kind's rates, `SLIP_SHOW=1` what was missed or told at another field.

mod dice;
mod random_trucks;
mod slip;

use assert_cmd::cargo::cargo_bin_cmd;
use bindpoint::plausibility::{Implausible, implausible, most_likely_wrong};
use bindpoint::scene::{Scene, scene_from_text};
use bindpoint::truck::{MeshStore, assemble_setup};
use dice::Dice;
use random_trucks::random_truck;
use slip::Slip;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Trucks that slips are made in.
const TRUCKS: u64 = 60;
/// Good trucks that are looked at.
const GOOD_TRUCKS: u64 = 200;
/// Slips that move a point by more than this count, mm.
const COUNTS_MM: f64 = 60.0;

fn count(or: u64) -> u64 {
    std::env::var("SLIP_TRUCKS")
        .ok()
        .and_then(|s| s.parse().ok())
        .unwrap_or(or)
}

fn demo(name: &str) -> (PathBuf, String) {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(format!("scenes/{name}.ron"));
    let text = std::fs::read_to_string(&path).expect("a demo scene");
    (path, text)
}

fn found_in(text: &str) -> Vec<Implausible> {
    implausible(&scene_from_text(text, Path::new("a.ron")).expect("a scene"))
}

/// The field at which a text is refused, or warned of first.
fn told(text: &str, folder: &Path, with_parts: bool) -> Option<String> {
    let mut scene = match scene_from_text(text, Path::new("a.ron")) {
        Ok(scene) => scene,
        Err(error) => return Some(error.to_string()),
    };
    if !with_parts {
        scene.parts.clear();
    }
    // Whether its points go together doesn't hang on what is drawn, which takes long where a slip has put it askew.
    let bare = Scene {
        parts: Vec::new(),
        underbody: Vec::new(),
        watch: Vec::new(),
        joined: Vec::new(),
        ..scene.clone()
    };
    match assemble_setup(&bare, None, &MeshStore::new(folder)) {
        Err(problem) => {
            Some(most_likely_wrong(&scene, &problem.path).map_or(problem.path, |found| found.path))
        }
        Ok(_) => implausible(&scene).first().map(|i| i.path.clone()),
    }
}

/// How many slips were made, how many refused or warned of, and how many at the right field.
#[derive(Clone, Copy, Default)]
struct Rate {
    made: usize,
    told: usize,
    right: usize,
}

impl Rate {
    fn add(&mut self, slip: &Slip, told: Option<&str>) {
        self.made += 1;
        self.told += usize::from(told.is_some());
        let is_right = |path: &str| slip.fields.iter().any(|f| path.starts_with(f.as_str()));
        self.right += usize::from(told.is_some_and(is_right));
    }
    fn told_share(self) -> f64 {
        self.told as f64 / self.made as f64
    }
    fn right_share(self) -> f64 {
        self.right as f64 / self.made as f64
    }
}

/// Rates by class and kind of slip.
fn rates(trucks: u64) -> BTreeMap<String, Rate> {
    let folder = tempfile::tempdir().expect("a folder");
    let mut out: BTreeMap<String, Rate> = BTreeMap::new();
    for seed in 0..trucks {
        let truck = random_truck(seed, folder.path());
        let mut dice = Dice::new(seed ^ 0x51_1b5);
        let (points, drawn) = (slip::points(&truck.text), slip::part_points(&truck.text));
        let mut slips: Vec<(&str, Slip)> = Vec::new();
        for kind in slip::OF_POINTS {
            for (class, all) in [
                ("suspension points", &points),
                ("points of drawn parts", &drawn),
            ] {
                let made = slip::of_point(&truck.text, truck.unit_mm, all, kind, &mut dice);
                slips.extend(made.map(|s| (class, s)));
            }
        }
        for kind in slip::OF_NUMBERS {
            let made = slip::of_number(&truck.text, truck.unit_mm, kind, &mut dice);
            slips.extend(made.map(|s| ("other numbers", s)));
        }
        let is_point = |(class, slip): &&(&str, Slip)| {
            *class == "suspension points" && slip.moved_mm.is_some_and(|mm| mm > COUNTS_MM)
        };
        // Parts that are drawn from the points say where these are; without any, the points stand alone.
        for (_, slip) in slips.iter().filter(is_point) {
            let told = told(&slip.text, folder.path(), false);
            let rate = out.entry("suspension points, no part drawn".to_owned());
            rate.or_default().add(slip, told.as_deref());
        }
        for (class, slip) in slips {
            let size = match slip.moved_mm {
                Some(mm) if mm <= COUNTS_MM => ", small",
                _ => "",
            };
            let told = told(&slip.text, folder.path(), true);
            if std::env::var("SLIP_SHOW").is_ok() {
                let is_right = told
                    .as_ref()
                    .is_some_and(|t| slip.fields.iter().any(|f| t.starts_with(f.as_str())));
                if !is_right {
                    println!(
                        "seed {seed}, {class}: {:?} in {:?} by {:?} mm: {told:?}",
                        slip.kind, slip.fields, slip.moved_mm
                    );
                }
            }
            for key in [
                format!("{class}{size}"),
                format!("{class}{size}: {:?}", slip.kind),
            ] {
                out.entry(key).or_default().add(&slip, told.as_deref());
            }
        }
    }
    out
}

/// Measured on the first 60 trucks when this was written: see the printed table. The floors are the project's goals: 90 % told
/// and 80 % at the right field.
#[test]
fn slips_are_told_and_at_the_right_field() {
    let rates = rates(count(TRUCKS));
    for (name, rate) in &rates {
        println!(
            "{name}: {} made, {:.1} % told, {:.1} % at the right field",
            rate.made,
            100.0 * rate.told_share(),
            100.0 * rate.right_share()
        );
    }
    let points = rates["suspension points"];
    assert!(points.made >= 300, "{}", points.made);
    assert!(points.told_share() >= 0.9, "{}", points.told_share());
    assert!(points.right_share() >= 0.8, "{}", points.right_share());
    let numbers = rates["other numbers"];
    assert!(numbers.told_share() >= 0.9 && numbers.right_share() >= 0.8);
}

#[test]
fn good_trucks_are_not_warned_of() {
    for name in ["tarnwood", "hollin", "crake"] {
        assert_eq!(found_in(&demo(name).1), [], "{name}");
    }
    let folder = tempfile::tempdir().expect("a folder");
    let trucks = count(GOOD_TRUCKS);
    let mut warned = 0;
    for seed in 0..trucks {
        let found = found_in(&random_truck(seed, folder.path()).text);
        if let Some(first) = found.first() {
            println!("seed {seed}: {first}");
            warned += 1;
        }
    }
    println!("{warned} of {trucks} good trucks warned of");
    assert!(warned * 100 <= trucks, "{warned} of {trucks}");
}

/// One slip in Tarnwood: what stands there, what is written instead, where it is told and what is asked.
const SLIPS: &[(&str, &str, &str, &str)] = &[
    (
        "ball_joint: (8, 722, 290)",
        "ball_joint: (722, 8, 290)",
        "lower_arm.ball_joint",
        "x and y exchanged",
    ),
    (
        "ball_joint: (-22, 668, 682)",
        "ball_joint: (-0.866, 26.3, 26.85)",
        "upper_arm.ball_joint",
        "in inches",
    ),
    (
        "front_pivot: (95, 440, 655)",
        "front_pivot: (95, 340, 655)",
        "upper_arm.front_pivot",
        "y off by -100",
    ),
    (
        "front_pivot: (180, 335, 345),\n        rear_pivot: (-190, 335, 335)",
        "front_pivot: (-190, 335, 335),\n        rear_pivot: (180, 335, 345)",
        "lower_arm.front_pivot",
        "exchanged with lower_arm.rear_pivot",
    ),
    (
        "ball_joint: (8, 722, 290)",
        "ball_joint: (-22, 668, 682)",
        "lower_arm.ball_joint",
        "",
    ),
    (
        "tie_rod_inner: (-135, 366, 396)",
        "tie_rod_inner: (-135, -366, 396)",
        "rack.tie_rod_inner",
        "y the wrong sign",
    ),
    (
        "tie_rod_outer: (-140, 685, 372)",
        "tie_rod_outer: (140, 685, 372)",
        "knuckle.tie_rod_outer",
        "x the wrong sign",
    ),
    (
        "wheel_centre: (0, 815, 400)",
        "wheel_centre: (0, 815, 500)",
        "knuckle.wheel_centre",
        "z off by 100",
    ),
    (
        "upper_mount: (-20, 470, 790)",
        "upper_mount: (-20, 790, 470)",
        "damper.upper_mount",
        "y and z exchanged",
    ),
    (
        "inner_joint: (0, 235, 420)",
        "inner_joint: (0, 235, 520)",
        "halfshaft.inner_joint",
        "z off by 100",
    ),
    (
        "loaded_radius: 387",
        "loaded_radius: 787",
        "knuckle.loaded_radius",
        "",
    ),
    (
        "loaded_radius: 387",
        "loaded_radius: 774",
        "knuckle.loaded_radius",
        "diameter where the radius",
    ),
    (
        "inner_limit_deg: 26",
        "inner_limit_deg: 0.4538",
        "halfshaft.inner_limit_deg",
        "radians",
    ),
    (
        "extended: 517.05",
        "extended: 20.356",
        "damper.extended",
        "in inches",
    ),
    (
        "(a: \"rim\", b: \"*\", gap: 5)",
        "(a: \"rim\", b: \"*\", gap: 762)",
        "watch[9].gap",
        "",
    ),
    (
        "at: (-60, 700, 540)",
        "at: (-60, 540, 700)",
        "hoses[0].ends[1].at",
        "",
    ),
    ("longest: 390", "longest: 39", "hoses[0].longest", ""),
];

#[test]
fn each_slip_of_the_list_is_told_at_its_field() {
    let (path, text) = demo("tarnwood");
    let folder = path.parent().expect("a folder");
    for (right, wrong, field, question) in SLIPS {
        assert!(text.contains(right), "{right}");
        let slipped = text.replacen(right, wrong, 1);
        let line = 1 + slipped[..slipped.find(wrong).expect("just written")]
            .matches('\n')
            .count();
        let scene = scene_from_text(&slipped, &path).expect("it reads");
        let said = match assemble_setup(&scene, None, &MeshStore::new(folder)) {
            Err(problem) => format!("{}: {} ({})", problem.path, problem.what, problem.help),
            Ok(truck) => {
                let truck = truck.located(&slipped);
                let first = truck.implausible.first().map(|i| (i.path.clone(), i.line));
                assert_eq!(
                    first.as_ref().and_then(|f| f.1),
                    Some(line),
                    "{wrong}: {first:?}"
                );
                format!("{}: {}", first.expect("a warning").0, truck.warnings[0])
            }
        };
        assert!(said.starts_with(&format!("{field}:")), "{wrong}: {said}");
        assert!(said.contains(question), "{wrong}: {said}");
    }
}

#[test]
fn a_whole_scene_in_the_other_unit_is_told_at_its_unit() {
    let (path, text) = demo("tarnwood");
    let slipped = text.replacen("units: mm", "units: inch", 1);
    let scene = scene_from_text(&slipped, &path).expect("it reads");
    let found = implausible(&scene);
    assert_eq!(found[0].path, "units", "{found:?}");
}

#[test]
fn every_answer_begins_with_what_is_implausible() {
    let (_, text) = demo("crake");
    // In a scene in inches: 762 mm.
    let slipped = text.replacen("gap: 0.1)", "gap: 30)", 1);
    assert_ne!(slipped, text);
    let line = 1 + slipped[..slipped.find("gap: 30)").expect("written")]
        .matches('\n')
        .count();
    let folder = tempfile::tempdir().expect("a folder");
    let copy = folder.path().join("crake.ron");
    std::fs::write(&copy, &slipped).expect("written");
    let copy = copy.display().to_string();
    for arguments in [
        vec!["check", &copy],
        vec!["pose", &copy, "--travel", "0", "--rack", "0"],
        vec!["sweep", &copy, "--racks", "3"],
    ] {
        let output = cargo_bin_cmd!("bindpoint")
            .args(&arguments)
            .env("NO_COLOR", "1")
            .output();
        let said = output.expect("bindpoint starts").stdout;
        let said = String::from_utf8_lossy(&said);
        let head = said.lines().next().unwrap_or_default();
        assert!(
            head.starts_with(&format!("Check the scene: line {line}, watch[0].gap")),
            "{said}"
        );
    }
}
