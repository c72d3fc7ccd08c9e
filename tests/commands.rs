//! The commands as a person at a terminal meets them: exit statuses, what is printed and written, and what
//! is said of every wrong input.
//!
//! Source: README.md (commands, meanings of the figures, exit statuses), `bindpoint --help`, and the demo
//! scenes in `scenes/`. Bad scenes are `scenes/tarnwood.ron` with a few words changed. Positions that
//! `sweep` names are asked again of `pose`, and parts that `export` writes are read back here.

use assert_cmd::cargo::cargo_bin_cmd;
use nalgebra::{Point3, distance};
use serde_json::Value;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::sync::OnceLock;
use tempfile::TempDir;

/// Scene, exit status of its sweep, first word of the verdict, corners that its findings show.
const SCENES: [(&str, i32, &str, &[&str]); 3] = [
    ("tarnwood", 0, "CLEAR", &["left", "right"]),
    ("hollin", 1, "FOUND", &["right", "left"]),
    ("crake", 1, "FOUND", &["right"]),
];

/// What a stop may miss its limit by at the ends of its bracket: 0.01 mm of travel moves nothing further.
const AT_THE_STOP: f64 = 0.02;
/// A contact is called below this gap in mm, for the rounding of the distance itself.
const TOUCHING_MM: f64 = 0.002;

// ---------------------------------------------------------------- running it

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn scene(name: &str) -> String {
    let path = root().join("scenes").join(format!("{name}.ron"));
    path.display().to_string()
}

fn bindpoint<S: AsRef<std::ffi::OsStr>>(arguments: &[S]) -> Output {
    let output = cargo_bin_cmd!("bindpoint")
        .args(arguments)
        .env("NO_COLOR", "1")
        .output()
        .expect("bindpoint starts");
    let stderr = String::from_utf8_lossy(&output.stderr);
    assert!(!stderr.contains("panicked"), "{stderr}");
    output
}

fn status(output: &Output) -> i32 {
    output.status.code().expect("it ended by itself")
}

fn stdout(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).expect("printed text is UTF-8")
}

/// Text without the frame and line breaks that an error is set in, in small letters.
fn plain(text: &str) -> String {
    let bare: String = text
        .chars()
        .map(|c| if "│|".contains(c) { ' ' } else { c })
        .collect();
    bare.split_whitespace()
        .collect::<Vec<_>>()
        .join(" ")
        .to_lowercase()
}

fn expect_status(arguments: &[&str], expected: i32) -> Output {
    let output = bindpoint(arguments);
    let stderr = String::from_utf8_lossy(&output.stderr);
    assert_eq!(status(&output), expected, "{arguments:?}: {stderr}");
    output
}

/// Runs something wrong: exit status 2, nothing on standard output, these words in the message.
fn refused(arguments: &[&str], words: &[&str]) -> String {
    let output = expect_status(arguments, 2);
    assert_eq!(stdout(&output), "", "{arguments:?}");
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    for word in words {
        let word = word.to_lowercase();
        assert!(plain(&said).contains(&word), "no `{word}` in:\n{said}");
    }
    said
}

// ---------------------------------------------------------------- reading what it says

/// The findings of a demo scene as JSON; each is swept once for all tests.
fn findings(name: &str) -> &'static Value {
    static SWEPT: [OnceLock<Value>; 3] = [const { OnceLock::new() }; 3];
    let (index, expected) = SCENES
        .iter()
        .enumerate()
        .find_map(|(i, s)| (s.0 == name).then_some((i, s.1)))
        .expect("a demo scene");
    SWEPT[index].get_or_init(|| {
        let output = expect_status(&["sweep", &scene(name), "--json", "-"], expected);
        serde_json::from_str(&stdout(&output)).expect("standard output is JSON alone")
    })
}

/// Every corner that was found out about: its side and findings.
fn corners(name: &str) -> Vec<(String, &'static Value)> {
    let first = findings(name);
    [Some(first), first.get("other")]
        .into_iter()
        .flatten()
        .filter(|c| c.is_object())
        .map(|c| (text(c, "side").to_owned(), c))
        .collect()
}

fn get<'a>(value: &'a Value, key: &str) -> &'a Value {
    value
        .get(key)
        .unwrap_or_else(|| panic!("no `{key}` in {value}"))
}

fn number(value: &Value, key: &str) -> f64 {
    let number = get(value, key).as_f64();
    number.unwrap_or_else(|| panic!("`{key}` is not a number in {value}"))
}

fn text<'a>(value: &'a Value, key: &str) -> &'a str {
    let text = get(value, key).as_str();
    text.unwrap_or_else(|| panic!("`{key}` is not text in {value}"))
}

/// What stops a wheel, as it is printed.
fn stop_name(value: &Value, key: &str) -> String {
    let stop = get(value, key);
    match text(stop, "kind") {
        "end_of_reach" => "end of reach".to_owned(),
        "limit" => match get(stop, "id") {
            Value::String(id) => id.replace('_', " "),
            id => format!("hose {}", text(id, "hose")),
        },
        kind => format!("{kind} {} - {}", text(stop, "a"), text(stop, "b")),
    }
}

fn list<'a>(value: &'a Value, key: &str) -> &'a [Value] {
    let list = get(value, key).as_array();
    list.unwrap_or_else(|| panic!("`{key}` is not a list in {value}"))
}

fn point(value: &Value, key: &str) -> Point3<f64> {
    let xyz: Vec<f64> = list(value, key).iter().filter_map(Value::as_f64).collect();
    assert_eq!(xyz.len(), 3, "`{key}` is a point in {value}");
    Point3::new(xyz[0], xyz[1], xyz[2])
}

/// One position as JSON, with its exit status.
fn pose(name: &str, side: &str, travel_mm: f64, rack_mm: f64) -> (i32, Value) {
    let output = bindpoint(&[
        "pose",
        &scene(name),
        &format!("--travel={travel_mm:?}mm"),
        &format!("--rack={rack_mm:?}mm"),
        "--side",
        side,
        "--json",
        "-",
    ]);
    let stderr = String::from_utf8_lossy(&output.stderr);
    assert!(
        status(&output) < 2,
        "{name} {travel_mm} {rack_mm}: {stderr}"
    );
    let json = serde_json::from_str(&stdout(&output)).expect("standard output is JSON alone");
    (status(&output), json)
}

fn gap<'a>(position: &'a Value, a: &str, b: &str) -> &'a Value {
    list(position, "gaps")
        .iter()
        .find(|g| {
            let names = (text(g, "a"), text(g, "b"));
            names == (a, b) || names == (b, a)
        })
        .unwrap_or_else(|| panic!("pose knows no pair {a} - {b}"))
}

/// How much room a stop that `sweep` names has left at a position.
fn margin(position: &Value, stop: &str) -> f64 {
    if let Some((a, b)) = stop
        .strip_prefix("contact ")
        .and_then(|s| s.split_once(" - "))
    {
        return number(gap(position, a, b), "gap_mm");
    }
    if let Some((a, b)) = stop.strip_prefix("gap ").and_then(|s| s.split_once(" - ")) {
        let gap = gap(position, a, b);
        return number(gap, "gap_mm") - number(gap, "required_mm");
    }
    let stops = list(position, "stops");
    let found = stops.iter().find(|s| text(s, "name") == stop);
    number(
        found.unwrap_or_else(|| panic!("pose knows no {stop}")),
        "margin",
    )
}

// ---------------------------------------------------------------- sweep

#[test]
fn sweep_answers_by_its_exit_status_and_its_verdict() {
    for (name, expected, verdict, _) in SCENES {
        let output = expect_status(&["sweep", &scene(name)], expected);
        let said = stdout(&output);
        assert!(said.contains(&format!(": {verdict}. ")), "{said}");
        for part in [
            "Straight ahead: free droop ",
            "Full left (rack -",
            "Full right (rack +",
            "First metal contact, maker's stops off: ",
            "Free travel by rack position",
            "tightest gaps in the free travel",
            "each stop is bracketed to 0.0",
            "Springs store energy that kills",
        ] {
            assert!(said.contains(part), "{name}: no `{part}` in:\n{said}");
        }
        assert_eq!(String::from_utf8_lossy(&output.stderr), "", "{name}");
    }
}

#[test]
fn sweep_json_has_its_keys() {
    for (name, _, verdict, sides) in SCENES {
        let shown: Vec<String> = corners(name).into_iter().map(|(side, _)| side).collect();
        assert_eq!(shown, sides, "{name}");
        for (side, corner) in corners(name) {
            let orders = list(corner, "stop_order");
            assert_eq!(orders.len(), 2 * 9, "nine racks, droop and bump");
            for order in orders {
                let direction = text(order, "direction");
                assert!(["droop", "bump"].contains(&direction), "{direction}");
                number(order, "rack_mm");
                let mut last = 0.0;
                for stop in list(order, "stops") {
                    stop_name(stop, "stop");
                    let travel = number(stop, "travel_mm").abs();
                    assert!(travel >= last - 0.011, "{name} {side}: stops out of order");
                    last = travel;
                }
            }
            let rows = list(corner, "free_travel");
            assert_eq!(rows.len(), 9);
            for row in rows {
                for key in ["rack_mm", "toe_deg", "steer_deg"] {
                    assert!(number(row, key).is_finite());
                }
                assert!(number(row, "droop_mm") >= 0.0 && number(row, "bump_mm") >= 0.0);
                stop_name(row, "droop_stop");
                stop_name(row, "bump_stop");
                let (toe, steer) = (number(row, "toe_deg"), number(row, "steer_deg"));
                let sign = if side == "left" { -1.0 } else { 1.0 };
                assert!((toe - sign * steer).abs() < 1e-9, "toe is the steer inward");
            }
            assert!(get(corner, "first_contact").is_object());
            let gaps = list(corner, "tightest_gaps");
            assert!(gaps.len() > 20);
            for g in gaps {
                let room = number(g, "gap_mm");
                assert!(
                    number(g, "at_least_mm") <= room,
                    "{name}: proved past found"
                );
            }
            let guard = get(corner, "guard");
            assert_eq!(number(guard, "travel_tolerance_mm"), 0.01);
            assert!((0.0..0.05).contains(&number(guard, "undecided_share")));
            assert!(number(guard, "distance_queries") > 1000.0);
            let bind = get(corner, "bind_before_intended").as_bool();
            assert_eq!(bind, Some(verdict == "FOUND"), "{name} {side}");
        }
        assert!(!list(findings(name), "cautions").is_empty());
    }
}

#[test]
fn sweep_json_in_a_file_is_what_it_prints() {
    let folder = TempDir::new().expect("temporary folder");
    let path = folder.path().join("crake.json");
    let path = path.display().to_string();
    let arguments = ["sweep", &scene("crake"), "--json", &path, "--threads", "1"];
    let output = expect_status(&arguments, 1);
    assert!(stdout(&output).contains("FOUND"), "the text is printed too");
    let written = std::fs::read_to_string(&path).expect("the file was written");
    let written: Value = serde_json::from_str(&written).expect("JSON");
    assert_eq!(&written, findings("crake"), "one thread finds the same");
}

#[test]
fn sweep_csv_is_the_json_in_tables() {
    let folder = TempDir::new().expect("temporary folder");
    let out = folder.path().join("made");
    let out_text = out.display().to_string();
    expect_status(&["sweep", &scene("tarnwood"), "--csv", &out_text], 0);
    let mut tables = BTreeMap::new();
    for name in [
        "stop_order",
        "free_travel",
        "tightest_gaps",
        "first_contact",
        "limits",
        "map",
    ] {
        let mut reader = csv::Reader::from_path(out.join(format!("{name}.csv"))).expect(name);
        let rows: Vec<BTreeMap<String, String>> = reader
            .deserialize()
            .collect::<Result<_, _>>()
            .expect("every row has as many columns as the head");
        assert!(!rows.is_empty(), "{name}");
        tables.insert(name, rows);
    }
    let both = corners("tarnwood");
    let rows: Vec<_> = both
        .iter()
        .flat_map(|(side, c)| list(c, "free_travel").iter().map(move |r| (side, r)))
        .collect();
    assert_eq!(tables["free_travel"].len(), rows.len());
    for ((side, row), cells) in rows.into_iter().zip(&tables["free_travel"]) {
        assert_eq!(&cells["side"], side);
        for key in ["rack_mm", "steer_deg", "droop_mm", "bump_mm"] {
            let cell: f64 = cells[key].parse().expect("a number");
            assert!((cell - number(row, key)).abs() < 1e-4, "{key}");
        }
        assert_eq!(cells["droop_stop"], stop_name(row, "droop_stop"));
    }
    let pairs: usize = both
        .iter()
        .map(|(_, c)| list(c, "tightest_gaps").len())
        .sum();
    assert_eq!(tables["tightest_gaps"].len(), pairs);
}

#[test]
fn sweep_units_and_datum() {
    let printed = |arguments: &[&str]| {
        let mut all = vec!["sweep"];
        all.extend(arguments);
        stdout(&bindpoint(&all))
    };
    let tarnwood = scene("tarnwood");
    let droop = list(findings("tarnwood"), "free_travel")[4]["droop_mm"]
        .as_f64()
        .expect("straight ahead is the fifth of nine");
    // What is free is printed no greater than it is.
    let down = |value: f64, digits: f64| (value * digits).floor() / digits;
    let inches = down(droop / 25.4, 100.0);
    let sixteenths = (droop / 25.4 * 16.0).floor();
    let ride_droop = down(droop + 20.0, 10.0);
    let droop = down(droop, 10.0);
    assert!(printed(&[&tarnwood]).contains(&format!("Straight ahead: free droop {droop:.1} to ")));
    let said = printed(&[&tarnwood, "--units", "inch"]);
    assert!(said.contains(&format!("Straight ahead: free droop {inches:.2} to ")));
    let said = printed(&[&tarnwood, "--units", "sixteenths"]);
    assert_eq!(sixteenths, 50.0, "3 1/8");
    assert!(
        said.contains("Straight ahead: free droop 3 1/8 to "),
        "{said}"
    );

    // Ride height 20 mm above the measured position: 20 mm more droop is free from there.
    let raised = Edited::of(&[("ride_height: 0", "ride_height: 20")]);
    let measured = printed(&[&raised.path, "--datum", "measured"]);
    assert!(measured.contains(&format!("Straight ahead: free droop {droop:.1} to ")));
    let from_ride = printed(&[&raised.path, "--datum", "ride"]);
    assert!(from_ride.contains(&format!("Straight ahead: free droop {ride_droop:.1} to ")));
    assert_eq!(
        measured,
        printed(&[&raised.path]),
        "the measured position is the default, as for `pose`"
    );
}

#[test]
fn sweep_lists_as_many_racks_as_asked() {
    let output = bindpoint(&["sweep", &scene("crake"), "--racks", "3", "--json", "-"]);
    let json: Value = serde_json::from_str(&stdout(&output)).expect("JSON");
    let racks: Vec<f64> = list(&json, "free_travel")
        .iter()
        .map(|r| number(r, "rack_mm"))
        .collect();
    assert_eq!(racks, [-64.008, 0.0, 64.008]);
}

/// `pose` agrees with each of the first stops: kept at the near end of its bracket, reached at the far one.
#[test]
fn sweep_stops_are_where_pose_finds_them() {
    for (name, _, _, sides) in SCENES {
        let (side, corner) = corners(name).remove(0);
        assert_eq!(side, sides[0]);
        let orders = list(corner, "stop_order");
        for order in orders {
            let rack = number(order, "rack_mm");
            let is_listed_first = orders[0]["rack_mm"] == order["rack_mm"];
            if !is_listed_first && rack != 0.0 {
                continue;
            }
            for stop in list(order, "stops").iter().take(2) {
                let what = stop_name(stop, "stop");
                let what = what.as_str();
                let ends = list(stop, "travel_interval_mm");
                let ends: Vec<f64> = ends.iter().filter_map(Value::as_f64).collect();
                assert!(
                    (ends[1] - ends[0]).abs() <= 0.01,
                    "{name}: {what} at {ends:?}"
                );
                let kept = margin(&pose(name, &side, ends[0], rack).1, what);
                let past = margin(&pose(name, &side, ends[1], rack).1, what);
                assert!(
                    (-1e-6..AT_THE_STOP).contains(&kept),
                    "{name} {what}: {kept}"
                );
                assert!(
                    (-AT_THE_STOP..TOUCHING_MM).contains(&past),
                    "{name} {what}: {past}"
                );
            }
        }
    }
}

/// At both ends of the free travel and within it, `pose` finds every limit kept and nothing touching.
#[test]
fn free_travel_is_free_by_pose() {
    for (name, ..) in SCENES {
        for (side, corner) in corners(name) {
            let rows = list(corner, "free_travel");
            for row in [&rows[0], &rows[4], &rows[8]] {
                let rack = number(row, "rack_mm");
                let (droop, bump) = (number(row, "droop_mm"), number(row, "bump_mm"));
                if droop + bump < 0.01 {
                    continue;
                }
                for share in [0.0, 0.4, 1.0] {
                    let travel = share * (droop + bump) - droop;
                    let (_, position) = pose(name, &side, travel, rack);
                    for stop in list(&position, "stops") {
                        let room = number(stop, "margin");
                        assert!(room > -1e-6, "{name} {side} {travel} {rack}: {stop}");
                    }
                    for g in list(&position, "gaps") {
                        assert!(number(g, "gap_mm") > 0.0, "{name} {travel} {rack}: {g}");
                    }
                }
            }
        }
    }
}

/// At Crake's right lock the outer joint is past its angle at ride height: nothing is free there.
#[test]
fn a_lock_that_binds_at_ride_height_has_no_free_travel() {
    let row = &list(findings("crake"), "free_travel")[8];
    let rack = number(row, "rack_mm");
    assert_eq!(rack, 64.008);
    let (code, position) = pose("crake", "right", 0.0, rack);
    assert_eq!(code, 1);
    assert!(margin(&position, "outer joint angle") < -0.5);
    assert!(number(row, "droop_mm") < 0.01, "{row}");
    assert!(number(row, "bump_mm") < 0.01, "{row}");
    assert_eq!(stop_name(row, "droop_stop"), "outer joint angle");
}

#[test]
fn first_contact_touches_at_that_pose_and_nowhere_before() {
    for (name, ..) in SCENES {
        for (side, corner) in corners(name) {
            let contact = get(corner, "first_contact");
            let (a, b) = (text(contact, "a"), text(contact, "b"));
            let rack = number(contact, "rack_mm");
            let travel = number(contact, "travel_mm");
            let (_, position) = pose(name, &side, travel, rack);
            let found = gap(&position, a, b);
            assert!(
                number(found, "gap_mm") < AT_THE_STOP,
                "{name} {side}: {found}"
            );
            let least = list(&position, "gaps")
                .iter()
                .map(|g| number(g, "gap_mm"))
                .fold(f64::INFINITY, f64::min);
            assert_eq!(least, number(found, "gap_mm"), "the first is the least");
            let spread = distance(&point(contact, "point_mm"), &point(found, "point_a_mm"));
            assert!(spread < 0.1, "{name}: {spread} mm between the points");
            for key in [
                "steer_deg",
                "inner_joint_deg",
                "outer_joint_deg",
                "plunge_mm",
            ] {
                assert!(
                    (number(contact, key) - number(&position, key)).abs() < 0.01,
                    "{key}"
                );
            }
            let (_, before) = pose(name, &side, travel + 1.0, rack);
            assert!(number(gap(&before, a, b), "gap_mm") > 0.0, "{name} {side}");
        }
    }
}

#[test]
fn tightest_gaps_are_there_by_pose() {
    for (name, ..) in SCENES {
        let (side, corner) = corners(name).remove(0);
        for tight in list(corner, "tightest_gaps").iter().take(3) {
            let (travel, rack) = (number(tight, "travel_mm"), number(tight, "rack_mm"));
            let (_, position) = pose(name, &side, travel, rack);
            let found = gap(&position, text(tight, "a"), text(tight, "b"));
            let off = number(found, "gap_mm") - number(tight, "gap_mm");
            assert!(off.abs() < 1e-3, "{name}: {tight} against {found}");
            let off = number(found, "required_mm") - number(tight, "required_mm");
            assert_eq!(off, 0.0);
        }
    }
}

// ---------------------------------------------------------------- pose

#[test]
fn pose_json_has_its_keys() {
    for (name, _, _, sides) in SCENES {
        let (code, position) = pose(name, sides[0], 0.0, 0.0);
        assert_eq!(code, 0, "{name} is clear as measured");
        assert_eq!(text(&position, "side"), sides[0]);
        for key in [
            "travel_mm",
            "rack_mm",
            "camber_deg",
            "toe_deg",
            "steer_deg",
            "caster_deg",
            "kingpin_inclination_deg",
            "inner_joint_deg",
            "outer_joint_deg",
            "plunge_mm",
            "damper_mm",
        ] {
            assert!(number(&position, key).is_finite(), "{key}");
        }
        assert!(number(&position, "travel_mm").abs() < 1e-6);
        let points = get(&position, "points_mm");
        for key in [
            "lower_ball_joint",
            "upper_ball_joint",
            "tie_rod_outer",
            "wheel_centre",
            "outer_joint",
            "inner_joint",
        ] {
            let outboard = point(points, key).y;
            let sign = if sides[0] == "left" { 1.0 } else { -1.0 };
            assert!(sign * outboard > 100.0, "{name} {key}: y {outboard}");
        }
        for stop in list(&position, "stops") {
            text(stop, "name");
            assert!(["mm", "deg"].contains(&text(stop, "unit")), "{stop}");
            let room = (number(stop, "limit") - number(stop, "value")).abs();
            let margin = number(stop, "margin");
            // A field's margin is to its nearest edge, which may be another than the printed limit.
            assert!(margin <= room + 1e-6, "{stop}");
        }
        for g in list(&position, "gaps") {
            let apart = distance(&point(g, "point_a_mm"), &point(g, "point_b_mm"));
            // The shaft's orbit is taken off its gaps, not added to its surface.
            let orbit = number(&position, "orbit_mm");
            let found = number(g, "gap_mm");
            // Facet errors are taken off gaps: 0.02 mm for a plain cylinder, 0.035 for the tyre.
            assert!((apart - found).abs() < 0.06 + orbit, "{g}");
            text(g, "a");
            text(g, "b");
        }
    }
}

#[test]
fn pose_at_the_measured_position_is_what_was_measured() {
    let (_, position) = pose("tarnwood", "left", 0.0, 0.0);
    let points = get(&position, "points_mm");
    for (key, expected) in [
        ("lower_ball_joint", Point3::new(8.0, 722.0, 290.0)),
        ("upper_ball_joint", Point3::new(-22.0, 668.0, 682.0)),
        ("tie_rod_outer", Point3::new(-140.0, 685.0, 372.0)),
        ("wheel_centre", Point3::new(0.0, 815.0, 400.0)),
        ("outer_joint", Point3::new(0.0, 700.0, 400.0)),
        ("inner_joint", Point3::new(0.0, 235.0, 420.0)),
    ] {
        assert!(distance(&point(points, key), &expected) < 1e-6, "{key}");
    }
    // Eye to eye: (10, 560, 325) to (-20, 470, 790).
    let damper = (30.0_f64.powi(2) + 90.0_f64.powi(2) + 465.0_f64.powi(2)).sqrt();
    assert!((number(&position, "damper_mm") - damper).abs() < 1e-6);
    // Kingpin: top (-22, 668, 682) over bottom (8, 722, 290).
    let caster = (30.0_f64 / 392.0).atan().to_degrees();
    let inclination = (54.0_f64 / 392.0).atan().to_degrees();
    assert!((number(&position, "caster_deg") - caster).abs() < 1e-6);
    assert!((number(&position, "kingpin_inclination_deg") - inclination).abs() < 1e-6);
}

#[test]
fn pose_of_the_other_side_is_the_mirror_image() {
    let (_, left) = pose("tarnwood", "left", -40.0, 30.0);
    let (_, right) = pose("tarnwood", "right", -40.0, -30.0);
    for key in [
        "camber_deg",
        "toe_deg",
        "caster_deg",
        "damper_mm",
        "plunge_mm",
    ] {
        assert!(
            (number(&left, key) - number(&right, key)).abs() < 1e-6,
            "{key}"
        );
    }
    let turned = number(&left, "steer_deg") + number(&right, "steer_deg");
    assert!(turned.abs() < 1e-6, "{turned}");
    let centre = |p: &Value| point(get(p, "points_mm"), "wheel_centre");
    assert!((centre(&left).y + centre(&right).y).abs() < 1e-6);
    assert!((centre(&left).z - centre(&right).z).abs() < 1e-6);
    let (_, crake) = pose("crake", "left", 0.0, 0.0);
    assert!(
        centre(&crake).y > 0.0,
        "the other side of a mirrored truck is shown"
    );
}

#[test]
fn pose_takes_inches_when_they_are_typed() {
    let arguments = |units: &str, travel: &str, rack: &str| {
        let position = expect_status(
            &[
                "pose",
                &scene("tarnwood"),
                "--units",
                units,
                "--travel",
                travel,
                "--rack",
                rack,
            ],
            0,
        );
        stdout(&position)
    };
    let said = arguments("inch", "-2in", "1.5in");
    assert!(said.contains("travel -2.00 from"), "{said}");
    assert!(said.contains("rack +1.50."), "{said}");
    let said = arguments("sixteenths", "-2 1/16in", "1-1/2 in");
    assert!(said.contains("travel -2 1/16 from"), "{said}");
    let said = arguments("mm", "-50.8", "38.1");
    assert!(said.contains("travel -50.8 from"), "{said}");
}

#[test]
fn pose_answers_by_its_exit_status() {
    let said = |name: &str, travel: &str, rack: &str, expected: i32| {
        let arguments = ["pose", &scene(name), "--travel", travel, "--rack", rack];
        stdout(&expect_status(&arguments, expected))
    };
    assert!(said("tarnwood", "0", "0", 0).contains("CLEAR."));
    let bound = said("tarnwood", "-160", "-75", 1);
    assert!(bound.contains("past its limit: damper extended"), "{bound}");
    assert!(bound.contains("EXCEEDED"), "{bound}");
    let close = said("hollin", "-150", "84", 1);
    assert!(
        close.contains("gap too small: lower arm front leg - knuckle"),
        "{close}"
    );
    assert!(close.contains("TOO SMALL"), "{close}");
    let touching = said("hollin", "-160", "84", 1);
    assert!(
        touching.contains("touching: lower arm front leg - knuckle"),
        "{touching}"
    );
    assert!(said("crake", "0", "0", 0).contains("CLEAR."));
}

// ---------------------------------------------------------------- export

/// A part as written: the corners of its triangles, three by three.
struct Written(Vec<Point3<f64>>);

impl Written {
    /// Reads a binary STL: 80 bytes, a count, then 50 bytes a triangle (normal, three corners, two spare).
    fn read(path: &Path) -> Written {
        let bytes = std::fs::read(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
        let count = u32::from_le_bytes(bytes[80..84].try_into().expect("four bytes"));
        assert_eq!(bytes.len(), 84 + 50 * count as usize, "{}", path.display());
        let coordinates = bytes[84..].chunks(50).flat_map(|triangle| {
            triangle[12..48]
                .chunks(4)
                .map(|b| f64::from(f32::from_le_bytes(b.try_into().expect("four bytes"))))
        });
        let coordinates: Vec<f64> = coordinates.collect();
        let points = coordinates
            .chunks(3)
            .map(|c| Point3::new(c[0], c[1], c[2]))
            .collect();
        Written(points)
    }

    fn bounds(&self) -> (Point3<f64>, Point3<f64>) {
        let (mut low, mut high) = (self.0[0], self.0[0]);
        for p in &self.0 {
            low = low.inf(p);
            high = high.sup(p);
        }
        (low, high)
    }

    fn middle(&self) -> Point3<f64> {
        let (low, high) = self.bounds();
        nalgebra::center(&low, &high)
    }

    /// The distance from a point to the nearest corner.
    fn nearest(&self, from: &Point3<f64>) -> f64 {
        let distances = self.0.iter().map(|p| distance(p, from));
        distances.fold(f64::INFINITY, f64::min)
    }

    /// The volume that the triangles close, positive when they face outward.
    fn volume(&self) -> f64 {
        let six: f64 = self
            .0
            .chunks(3)
            .map(|t| t[0].coords.dot(&t[1].coords.cross(&t[2].coords)))
            .sum();
        six / 6.0
    }
}

fn export(
    name: &str,
    travel: &str,
    rack: &str,
    more: &[&str],
) -> (TempDir, BTreeMap<String, Written>, String) {
    let folder = TempDir::new().expect("temporary folder");
    let out = folder.path().join("parts");
    let out_text = out.display().to_string();
    let scene = scene(name);
    let mut arguments = vec![
        "export", &scene, "--travel", travel, "--rack", rack, "--out", &out_text,
    ];
    arguments.extend(more);
    let output = expect_status(&arguments, 0);
    let parts = std::fs::read_dir(&out)
        .expect("the folder was made")
        .map(|entry| {
            let path = entry.expect("an entry").path();
            assert_eq!(path.extension().and_then(|e| e.to_str()), Some("stl"));
            let stem = path.file_stem().and_then(|s| s.to_str()).expect("a name");
            (stem.to_owned(), Written::read(&path))
        })
        .collect();
    (folder, parts, stdout(&output))
}

fn near_point(what: &str, got: &Point3<f64>, expected: [f64; 3], tolerance: f64) {
    let off = distance(got, &Point3::from(expected));
    assert!(off <= tolerance, "{what}: {got}, expected {expected:?}");
}

#[test]
fn export_as_measured_is_the_scene() {
    let (_folder, parts, said) = export("tarnwood", "0", "0", &["--side", "left"]);
    assert_eq!(parts.len(), 36, "one file a part: {:?}", parts.keys());
    assert!(said.contains("36 parts of Tarnwood 4"), "{said}");
    for (name, part) in &parts {
        assert!(part.volume() > 0.0, "{name} faces outward");
    }
    let (low, high) = parts["frame_rail"].bounds();
    near_point("rail", &low, [-750.0, 349.0, 505.0], 1e-3);
    near_point("rail", &high, [750.0, 415.0, 615.0], 1e-3);
    for (part, asset) in [
        ("knuckle", "coarse_knuckle"),
        ("skid_plate", "tarnwood_skid_plate"),
        ("differential_housing", "tarnwood_differential_housing"),
    ] {
        let drawn = Written::read(&root().join("assets").join(format!("{asset}.stl")));
        let ((low, high), (l, h)) = (parts[part].bounds(), drawn.bounds());
        assert!(
            distance(&low, &l) < 1e-3 && distance(&high, &h) < 1e-3,
            "{part}"
        );
    }
    let (low, high) = parts["tyre"].bounds();
    near_point("tyre", &low, [-401.4, 683.0, -1.4], 0.5);
    near_point("tyre", &high, [401.4, 947.0, 801.4], 0.5);
}

#[test]
fn export_moves_parts_with_what_carries_them() {
    let (travel, rack) = (-60.0, 50.0);
    for side in ["left", "right"] {
        let (_folder, parts, _) = export("tarnwood", "-60", "50", &["--side", side]);
        let (_, position) = pose("tarnwood", side, travel, rack);
        let points = get(&position, "points_mm");
        let off = distance(&parts["tyre"].middle(), &point(points, "wheel_centre"));
        assert!(off < 1.0, "tyre {off} mm off the wheel centre");
        // Round ends are centred on the points: their surface is a radius away.
        let sign = if side == "left" { 1.0 } else { -1.0 };
        for (part, centre, radius) in [
            ("tie_rod", point(points, "tie_rod_inner"), 9.0),
            (
                "lower_arm_rear_leg",
                Point3::new(-190.0, sign * 335.0, 335.0),
                17.0,
            ),
            (
                "upper_arm_front_leg",
                Point3::new(95.0, sign * 440.0, 655.0),
                13.0,
            ),
        ] {
            let nearest = parts[part].nearest(&centre);
            assert!((nearest - radius).abs() < 0.1, "{side} {part}: {nearest}");
        }
        // The shaft runs from joint to joint.
        let shaft = parts["halfshaft"].bounds();
        let span = (shaft.1.y - shaft.0.y).abs();
        let joints = point(points, "outer_joint").y - point(points, "inner_joint").y;
        assert!(
            // Round ends reach the shaft's radius beyond both joints.
            (span - joints.abs() - 28.0).abs() < 1.0,
            "{span} against {joints}"
        );
        // What `pose` calls the nearest points lie on what was written.
        let (a, b) = ("upper arm front leg", "spring");
        let g = gap(&position, a, b);
        let nearest = list(&position, "gaps")
            .iter()
            .find(|x| *x == g)
            .expect("the pair");
        let (on_a, on_b) = (point(nearest, "point_a_mm"), point(nearest, "point_b_mm"));
        let apart = distance(&on_a, &on_b);
        assert!((apart - number(g, "gap_mm")).abs() < 0.06);
    }
}

#[test]
fn export_writes_both_corners_unless_they_mirror() {
    let (_folder, both, _) = export("tarnwood", "10", "-20", &[]);
    // Sixteen of the truck's body, at the same place on both corners.
    assert_eq!(both.len(), 2 * 20 - 3 + 16, "three parts are fitted once");
    let (left, right) = (&both["left_tyre"], &both["right_tyre"]);
    assert!(left.middle().y > 0.0 && right.middle().y < 0.0);
    assert!(both.contains_key("skid_plate"));

    let (_folder, one, said) = export("crake", "0", "0", &[]);
    // Eleven of the truck's body.
    assert_eq!(one.len(), 9 + 11);
    assert!(said.contains("mirror image"), "{said}");
    // Crake is drawn in inches and written in mm.
    near_point("tyre", &one["tyre"].middle(), [0.0, -668.3, 327.9], 1.0);
}

// ---------------------------------------------------------------- check, schema, help

#[test]
fn check_says_what_a_scene_holds() {
    for (name, holds) in [
        ("tarnwood", "15 limits, 36 parts, 378 watched pairs"),
        ("hollin", "20 limits, 37 parts, 428 watched pairs"),
        ("crake", "10 limits, 20 parts, 98 watched pairs"),
    ] {
        for units in ["mm", "inch", "sixteenths"] {
            let output = expect_status(&["check", &scene(name), "--units", units], 0);
            let said = stdout(&output);
            assert!(said.contains("usable, nothing overlaps"), "{said}");
            assert!(
                plain(&said).contains(holds),
                "{name}: no `{holds}` in:\n{said}"
            );
        }
    }
}

#[test]
fn check_and_sweep_name_parts_that_overlap_as_measured() {
    let scene = Edited::of(&[(
        "(a: \"damper body\", b: \"spring\", why: \"the spring surrounds the damper\"),",
        "",
    )]);
    for command in ["check", "sweep"] {
        let output = expect_status(&[command, &scene.path], 1);
        let said = plain(&stdout(&output));
        assert!(
            said.contains("damper body and spring already overlap as measured"),
            "{said}"
        );
    }
}

/// Every field that a demo scene uses is in `schema`.
#[test]
fn schema_names_every_field() {
    let schema = stdout(&expect_status(&["schema"], 0));
    let listed: Vec<&str> = schema
        .lines()
        .filter_map(|l| l.trim().split_once(':'))
        .map(|(name, _)| name.trim_end_matches('*'))
        .collect();
    for (name, ..) in SCENES {
        let text = std::fs::read_to_string(scene(name)).expect("demo scene");
        for line in text.lines() {
            let code = line.split("//").next().unwrap_or_default();
            let quoted_out: String = code.split('"').step_by(2).collect();
            for (end, _) in quoted_out.match_indices(':') {
                let field = quoted_out[..end]
                    .rsplit(|c: char| !(c.is_alphanumeric() || c == '_'))
                    .next()
                    .unwrap_or_default();
                assert!(listed.contains(&field), "schema doesn't explain `{field}`");
            }
        }
    }
}

#[test]
fn help_names_every_command_and_the_exit_statuses() {
    let said = stdout(&expect_status(&["--help"], 0));
    for command in ["sweep", "pose", "export", "check", "schema"] {
        assert!(said.contains(&format!("  {command} ")), "{said}");
        let help = stdout(&expect_status(&[command, "--help"], 0));
        assert!(
            help.contains(&format!("Usage: bindpoint {command}")),
            "{help}"
        );
    }
    assert!(said.contains("Exit status: 0 clear; 1 a bind"), "{said}");
    // No command at all: the help, as an error.
    let output = expect_status(&[], 2);
    assert!(String::from_utf8_lossy(&output.stderr).contains("Usage: bindpoint"));
}

/// `bindpoint ... | head` ends quietly, with the answer's status.
#[test]
fn a_closed_pipe_is_quiet() {
    let tarnwood = scene("tarnwood");
    let crake = scene("crake");
    for (arguments, expected) in [
        (vec!["schema"], 0),
        (vec!["check", &tarnwood], 0),
        (vec!["pose", &tarnwood, "--travel", "0", "--rack", "0"], 0),
        (vec!["sweep", &crake], 1),
        (vec!["sweep", &crake, "--json", "-"], 1),
    ] {
        let mut child = Command::new(assert_cmd::cargo::cargo_bin!("bindpoint"))
            .args(&arguments)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("bindpoint starts");
        drop(child.stdout.take());
        let output = child.wait_with_output().expect("it ends");
        assert_eq!(String::from_utf8_lossy(&output.stderr), "", "{arguments:?}");
        assert_eq!(status(&output), expected, "{arguments:?}");
    }
}

// ---------------------------------------------------------------- wrong arguments

#[test]
fn scene_files_that_cannot_be_read() {
    let folder = TempDir::new().expect("temporary folder");
    let folder_text = folder.path().display().to_string();
    let missing = folder.path().join("none.ron").display().to_string();
    let position = ["--travel", "0", "--rack", "0"];
    for command in ["sweep", "check", "pose", "export"] {
        let mut arguments = vec![command, &missing];
        if ["pose", "export"].contains(&command) {
            arguments.extend(position);
        }
        if command == "export" {
            arguments.extend(["--out", &folder_text]);
        }
        refused(
            &arguments,
            &["cannot open", "none.ron", "path of a scene file"],
        );
    }
    refused(
        &["check", &folder_text],
        &["cannot read", "plain UTF-8 text"],
    );
    let binary = folder.path().join("binary.ron");
    std::fs::write(&binary, [0xff, 0xfe, 0x00, 0x80]).expect("written");
    refused(
        &["check", &binary.display().to_string()],
        &["binary.ron", "UTF-8"],
    );
}

#[test]
fn positions_that_do_not_exist() {
    let tarnwood = scene("tarnwood");
    let folder = TempDir::new().expect("temporary folder");
    let out = folder.path().display().to_string();
    let pose = |travel: &str, rack: &str, words: &[&str]| {
        refused(
            &["pose", &tarnwood, "--travel", travel, "--rack", rack],
            words,
        );
        let export = [
            "export", &tarnwood, "--travel", travel, "--rack", rack, "--out", &out,
        ];
        refused(&export, words);
    };
    pose(
        "0",
        "80",
        &["rack +80", "beyond the locks", "-75.0 and +75.0"],
    );
    pose("0", "-75.5", &["beyond the locks", "straight ahead"]);
    pose(
        "900",
        "0",
        &[
            "cannot reach travel 900",
            "travel counts from the measured position",
        ],
    );
    pose("-900", "0", &["cannot reach travel -900"]);
    pose("NaN", "0", &["--travel", "not a finite number"]);
    pose("0", "inf", &["--rack", "not a finite number"]);
    pose("abc", "0", &["--travel", "plain number, such as"]);
    pose("1,5", "0", &["--travel", "plain number, such as"]);
    assert_eq!(
        std::fs::read_dir(folder.path()).expect("folder").count(),
        0,
        "nothing written"
    );
}

#[test]
fn options_that_do_not_exist() {
    let tarnwood = scene("tarnwood");
    let sweep = |option: &str, value: &str, words: &[&str]| {
        refused(&["sweep", &tarnwood, option, value], words);
    };
    sweep("--units", "feet", &["mm, inch, sixteenths"]);
    sweep("--datum", "floor", &["measured, ride"]);
    sweep("--racks", "4", &["odd number"]);
    sweep("--racks", "1", &["odd number"]);
    sweep("--threads", "0", &["--threads"]);
    refused(&["sweep"], &["<scene>"]);
    refused(&["swoop", &tarnwood], &["unrecognized subcommand"]);
}

#[test]
fn places_that_cannot_be_written() {
    let folder = TempDir::new().expect("temporary folder");
    let file = folder.path().join("file");
    std::fs::write(&file, "in the way").expect("written");
    let below = file.join("below").display().to_string();
    let crake = scene("crake");
    refused(
        &["sweep", &crake, "--json", &below],
        &["cannot write", "check that the folder"],
    );
    refused(
        &["sweep", &crake, "--csv", &below],
        &["cannot write", "check that the folder"],
    );
    let export = [
        "export", &crake, "--travel", "0", "--rack", "0", "--out", &below,
    ];
    refused(&export, &["cannot write", "check that the folder"]);
    let left = [
        "export", &crake, "--side", "left", "--travel", "0", "--rack", "0", "--out", &below,
    ];
    refused(&left, &["mirror image", "mirror it in your CAD"]);
}

// ---------------------------------------------------------------- wrong scenes

/// Tarnwood with some words changed, in a folder of its own.
struct Edited {
    folder: TempDir,
    path: String,
    text: String,
}

impl Edited {
    fn of(edits: &[(&str, &str)]) -> Edited {
        let folder = TempDir::new().expect("temporary folder");
        let assets = root()
            .join("assets")
            .display()
            .to_string()
            .replace('\\', "/");
        let here = folder.path().display().to_string().replace('\\', "/");
        let mut text = std::fs::read_to_string(scene("tarnwood")).expect("demo scene");
        for (from, to) in edits {
            assert!(text.contains(from), "Tarnwood has no `{from}`");
            text = text.replacen(from, to, 1);
        }
        let text = text.replace("../assets", &assets).replace("HERE", &here);
        let path = folder.path().join("bad.ron");
        std::fs::write(&path, &text).expect("written");
        let path = path.display().to_string();
        Edited { folder, path, text }
    }

    /// `line:column` of the `¦` in a passage of the edited text, both from 1.
    fn place(&self, passage: &str) -> String {
        let (before, after) = passage.split_once('¦').expect("a ¦ in the passage");
        let here = self.folder.path().display().to_string().replace('\\', "/");
        let wanted = format!("{before}{after}").replace("HERE", &here);
        let start = self.text.find(&wanted);
        let at = start.unwrap_or_else(|| panic!("no `{wanted}`")) + before.len();
        let line = self.text[..at].matches('\n').count() + 1;
        let column = self.text[..at]
            .chars()
            .rev()
            .take_while(|c| *c != '\n')
            .count()
            + 1;
        format!("{line}:{column}")
    }

    /// Neither command takes it; both say why, and where: file, line and column.
    fn is_refused(&self, passage: &str, words: &[&str]) {
        let place = format!("bad.ron:{}", self.place(passage));
        for command in ["check", "sweep"] {
            let said = refused(&[command, &self.path], words);
            assert!(said.contains(&place), "not at {place}:\n{said}");
            assert!(said.contains("help:"), "no help in:\n{said}");
        }
    }
}

fn refuses(from: &str, to: &str, at: &str, words: &[&str]) {
    Edited::of(&[(from, to)]).is_refused(at, words);
}

#[test]
fn fields_that_are_missing_or_unknown() {
    refuses(
        "        ball_joint: (8, 722, 290),\n",
        "",
        "335),\n    ¦),\n    upper_arm",
        &["missing field", "`ball_joint`"],
    );
    refuses(
        "    units: mm,\n",
        "",
        "\"skid plate\")]),\n    ],\n¦)",
        &["missing field", "`units`"],
    );
    refuses(
        "loaded_radius: 387",
        "loaded_radius: 387, offset: 5",
        "¦offset: 5",
        &["`offset`", "`loaded_radius`"],
    );
    refuses(
        "rear_pivot: (-190",
        "rear_pivto: (-190",
        "¦rear_pivto",
        &["`rear_pivto`", "`rear_pivot`"],
    );
    refuses(
        "ball_joints: (",
        "balljoints: (",
        "¦balljoints",
        &["`balljoints`", "`ball_joints`"],
    );
    refuses(
        "side: left,",
        "side: left,\n    side: left,",
        "left,\n    ¦side",
        &["duplicate", "`side`"],
    );
}

#[test]
fn values_of_the_wrong_type() {
    refuses(
        "diameter: 28",
        "diameter: \"wide\"",
        "diameter: \"¦wide\"",
        &["`wide` is no length", "expected a plain number"],
    );
    refuses(
        "units: mm",
        "units: cm",
        "units: ¦cm",
        &["`cm`", "`mm`", "`inch`"],
    );
    refuses(
        "on: tie_rod",
        "on: tierod",
        "on: ¦tierod",
        &["`tierod`", "`tie_rod`", "`frame`"],
    );
    refuses(
        "Box(centre",
        "Bocks(centre",
        "¦Bocks(",
        &["`bocks`", "`box`", "`lathe`"],
    );
    refuses(
        "(0, 815, 400),\n        spindle",
        "(0, 815),\n        spindle",
        "(0, 815¦)",
        &["3", "2"],
    );
    refuses(
        "    side: left,",
        "    side: left",
        "left\n    ¦ride_height",
        &["comma"],
    );
    let text = "\"skid plate\")]),\n    ],\n)\n";
    refuses(
        text,
        "\"skid plate\")]),\n    ]\n",
        "\"skid plate\")]),\n    ]¦",
        &["unexpected end"],
    );
}

#[test]
fn lengths_in_the_wrong_unit() {
    refuses(
        "wheel_centre: (0, 815, 400)",
        "wheel_centre: (0, 20375, 10000)",
        "wheel_centre: ¦(0, 20375",
        &[
            "knuckle.wheel_centre",
            "20375",
            "expected 250 to 1500 mm",
            "`units`",
        ],
    );
    refuses(
        "units: mm,\n    side",
        "units: inch,\n    side",
        "units: ¦inch",
        &[
            "knuckle.wheel_centre",
            "815.00 in",
            "expected 9.84 to 59.06 in",
            "is `units` right?",
        ],
    );
    refuses(
        "upper_mount: (-20, 470, 790)",
        "upper_mount: (-20, 470, 79000)",
        "upper_mount: ¦(-20, 470, 79000)",
        &[
            "damper.upper_mount",
            "from the wheel centre",
            "expected at most 1500 mm",
        ],
    );
}

#[test]
fn points_that_make_no_mechanism() {
    refuses(
        "ball_joint: (8, 722, 290)",
        "ball_joint: (-190, 335, 335)",
        "ball_joint: ¦(-190, 335, 335)",
        &[
            "lower_arm.ball_joint",
            "line through",
            "can't lie on one line",
        ],
    );
    refuses(
        "ball_joint: (8, 722, 290)",
        "ball_joint: (-5, 335, 340)",
        "ball_joint: ¦(-5, 335, 340)",
        &["lower_arm.ball_joint", "line through"],
    );
    refuses(
        "rear_pivot: (-125, 445, 640)",
        "rear_pivot: (95, 440, 655)",
        "rear_pivot: ¦(95, 440, 655)",
        &[
            "upper_arm.front_pivot",
            "upper_arm.rear_pivot",
            "0.000 mm apart",
            "measure both points again",
        ],
    );
    refuses(
        "upper_mount: (-20, 470, 790)",
        "upper_mount: (10, 560, 325)",
        "upper_mount: ¦(10, 560, 325)",
        &["damper.upper_mount", "damper.lower_mount", "apart"],
    );
    refuses(
        "tie_rod_outer: (-140, 685, 372)",
        "tie_rod_outer: (-7, 695, 486)",
        "tie_rod_outer: ¦(-7, 695, 486)",
        &["knuckle.tie_rod_outer", "lies on the line through"],
    );
    refuses(
        "travel: (left: 75, right: 75)",
        "travel: (left: 160, right: 160)",
        "right: ¦160",
        &["rack.travel.right", "tie rod cannot follow the rack"],
    );
}

#[test]
fn numbers_that_are_none() {
    for word in ["NaN", "inf", "-inf"] {
        let point = format!("ball_joint: (8, {word}, 290)");
        let at = format!("ball_joint: ¦(8, {word}");
        refuses(
            "ball_joint: (8, 722, 290)",
            &point,
            &at,
            &["lower_arm.ball_joint", "finite number"],
        );
    }
    refuses(
        "diameter: 28",
        "diameter: NaN",
        "diameter: ¦NaN",
        &["halfshaft.diameter"],
    );
}

#[test]
fn axes_that_point_the_wrong_way() {
    let spindle = "Static(toe_deg: 0, camber_deg: 0)";
    refuses(
        spindle,
        "Axis((0, -1, 0))",
        "spindle: ¦Axis",
        &[
            "knuckle.spindle",
            "does not point outboard",
            "out through the wheel",
        ],
    );
    refuses(
        spindle,
        "Axis((0, 0, 0))",
        "spindle: ¦Axis",
        &["knuckle.spindle", "length zero"],
    );
    refuses(
        spindle,
        "Static(toe_deg: 120, camber_deg: 0)",
        "spindle: ¦Static",
        &["knuckle.spindle", "between -45 and 45 degrees"],
    );
    refuses(
        "diameter: 28",
        "diameter: 28, flange_axis: (0, -1, 0)",
        "flange_axis: ¦(0, -1, 0)",
        &["halfshaft.flange_axis", "pointing outboard"],
    );
}

#[test]
fn limits_the_wrong_way_round() {
    Edited::of(&[
        ("extended: 517.05", "extended: 415"),
        ("compressed: 415", "compressed: 517.05"),
    ])
    .is_refused(
        "extended: ¦415",
        &[
            "damper.extended",
            "415 is not above compressed length 517.05",
            "swap them?",
        ],
    );
    refuses(
        "(contact: 440, crushed: 428)",
        "(contact: 428, crushed: 440)",
        "bump_stop: ¦(contact: 428",
        &[
            "damper.bump_stop",
            "contact at 428 is not above full crush at 440",
        ],
    );
    refuses(
        "plunge: (inner: -26, outer: 24)",
        "plunge: (inner: 24, outer: -26)",
        "plunge: (inner: ¦24",
        &[
            "halfshaft.plunge",
            "inner end 24 is not below outer end -26",
            "positive outboard",
        ],
    );
    refuses(
        "(left: 75, right",
        "(left: -75, right",
        "(left: ¦-75",
        &["rack.travel.left", "not above zero"],
    );
    refuses(
        "droop: 220",
        "droop: -220",
        "droop: ¦-220",
        &["search.droop", "not above zero"],
    );
    refuses(
        "outer_limit_deg: 46",
        "outer_limit_deg: 460",
        "outer_limit_deg: ¦460",
        &["halfshaft.outer_limit_deg", "between 0 and 80 degrees"],
    );
    refuses(
        "(24, 15), (17, 26)",
        "(10, 5), (17, 26)",
        "plunge_polygon: ¦[",
        &["halfshaft.plunge_polygon", "convex"],
    );
    refuses(
        "(a: \"tyre\", b: \"*\", gap: 8)",
        "(a: \"tyre\", b: \"*\", gap: -8)",
        "gap: ¦-8",
        &["watch[10].gap", "zero or more"],
    );
}

#[test]
fn limits_already_passed_as_measured() {
    refuses(
        "extended: 517.05",
        "extended: 450",
        "extended: ¦450",
        &[
            "damper.extended",
            "already past its limit as measured",
            "474.58 mm, limit 450.00 mm",
        ],
    );
    refuses(
        "inner_limit_deg: 26",
        "inner_limit_deg: 2",
        "inner_limit_deg: ¦2",
        &[
            "inner joint angle is already past its limit",
            "2.46 deg, limit 2.00 deg",
        ],
    );
    refuses(
        "longest: 390",
        "longest: 100",
        "longest: ¦100",
        &["hose brake is already past its limit", "limit 100.00 mm"],
    );
    refuses(
        "ride_height: 0",
        "ride_height: 500",
        "ride_height: ¦500",
        &[
            "cannot reach 500",
            "wheel travel from the measured position",
        ],
    );
}

#[test]
fn names_that_match_nothing() {
    refuses(
        "(a: \"tyre\", b: \"*\", gap: 8)",
        "(a: \"tire\", b: \"*\", gap: 8)",
        "¦(a: \"tire\"",
        &[
            "watch[10]",
            "no pair of parts matches `tire` and `*`",
            "the parts are:",
            "tyre",
        ],
    );
    refuses(
        "a: \"damper body\", b: \"spring\"",
        "a: \"damper tube\", b: \"spring\"",
        "¦(a: \"damper tube\"",
        &["joined[0]", "`damper tube` and `spring`", "damper body"],
    );
    refuses(
        "name: \"tie rod\"",
        "name: \"knuckle\"",
        "name: ¦\"knuckle\", on: tie_rod",
        &["parts[8].name", "a second part named `knuckle`"],
    );
}

#[test]
fn shapes_that_are_none() {
    refuses(
        "radius: 17",
        "radius: -17",
        "radius: ¦-17",
        &["parts[2].shape.radius", "not above zero"],
    );
    refuses(
        "to: (26, 681, 296)",
        "to: (180, 335, 345)",
        "shape: ¦Capsule(from: (180",
        &["parts[2].shape", "both ends are at the same point"],
    );
    refuses(
        "size: (1500, 66, 110)",
        "size: (1500, 0, 110)",
        "size: ¦(1500, 0",
        &["size", "not above zero"],
    );
    refuses(
        "Box(centre: (0, 382, 560), size: (1500, 66, 110))",
        "Hull(points: [(0, 300, 500), (9, 300, 500), (0, 310, 500), (9, 310, 500)])",
        "shape: ¦Hull",
        &["lie in one plane"],
    );
    refuses(
        "profile: [(-60, 0), (-60, 46)",
        "profile: [(-60, -5), (-60, 46)",
        "shape: ¦Lathe(\n                from: (0, 235, 420)",
        &["lathe profile", "radii of at least zero"],
    );
}

/// One triangle's 50 bytes.
fn triangle(corners: [[f32; 3]; 3]) -> Vec<u8> {
    let mut bytes = Vec::new();
    for number in [0.0, 0.0, 1.0]
        .into_iter()
        .chain(corners.into_iter().flatten())
    {
        bytes.extend(f32::to_le_bytes(number));
    }
    bytes.extend([0, 0]);
    bytes
}

fn stl(promised: u32, triangles: &[[[f32; 3]; 3]]) -> Vec<u8> {
    let mut bytes = vec![0; 80];
    bytes.extend(promised.to_le_bytes());
    bytes.extend(triangles.iter().flat_map(|t| triangle(*t)));
    bytes
}

#[test]
fn meshes_that_cannot_be_used() {
    let file = "../assets/tarnwood_skid_plate.stl";
    let one = [[0.0, 0.0, 0.0], [100.0, 0.0, 0.0], [0.0, 100.0, 0.0]];
    let mut not_finite = one;
    not_finite[1][2] = f32::NAN;
    type Case<'a> = (&'a str, Option<Vec<u8>>, &'a [&'a str]);
    let made: [Case; 6] = [
        ("none.stl", None, &["none.stl", "cannot open the mesh file"]),
        (
            "nothing.stl",
            Some(Vec::new()),
            &["nothing.stl", "not a readable stl file"],
        ),
        (
            "empty.stl",
            Some(stl(0, &[])),
            &["empty.stl", "no triangles"],
        ),
        (
            "nan.stl",
            Some(stl(1, &[not_finite])),
            &["nan.stl", "triangle 1", "not a number"],
        ),
        (
            "short.stl",
            Some(stl(5, &[one])),
            &["short.stl", "promises 5 triangles", "134 bytes"],
        ),
        (
            "words.stl",
            Some("a letter\n".repeat(99).into()),
            &["words.stl", "not a readable stl file"],
        ),
    ];
    for (name, bytes, words) in made {
        let scene = Edited::of(&[(file, &format!("HERE/{name}"))]);
        if let Some(bytes) = bytes {
            std::fs::write(scene.folder.path().join(name), bytes).expect("written");
        }
        let mut all = vec!["parts[18].shape.file", "STL"];
        all.extend(words);
        scene.is_refused(&format!("file: ¦\"HERE/{name}"), &all);
    }
    let inch = Edited::of(&[(
        "tarnwood_skid_plate.stl\", unit: mm",
        "tarnwood_skid_plate.stl\", unit: inch",
    )]);
    let assets = root()
        .join("assets")
        .display()
        .to_string()
        .replace('\\', "/");
    inch.is_refused(
        &format!("file: ¦\"{assets}/tarnwood_skid_plate.stl\""),
        &[
            "16747.50 mm across",
            "expected 5 to 6000 mm",
            "is the mesh's `unit` right?",
        ],
    );
}

// ---------------------------------------------------------------- open bugs

#[test]

fn a_search_that_ends_before_the_stops_is_not_clear() {
    let scene = Edited::of(&[("droop: 220, bump: 140", "droop: 20, bump: 20")]);
    let output = bindpoint(&["sweep", &scene.path]);
    let said = stdout(&output);
    assert!(
        !said.contains("The maker's stops come first everywhere"),
        "{said}"
    );
    assert_eq!(
        status(&output),
        2,
        "what lies beyond the search is not known"
    );
}

#[test]

fn a_scene_that_watches_nothing_says_so() {
    let mut scene = Edited::of(&[]);
    let start = scene.text.find("    watch: [").expect("Tarnwood watches");
    let end = scene.text.find("    tyre: (size").expect("Tarnwood's tyre");
    scene.text.replace_range(start..end, "    watch: [],\n");
    std::fs::write(&scene.path, &scene.text).expect("written");
    for command in ["check", "sweep"] {
        let said = plain(&stdout(&bindpoint(&[command, &scene.path])));
        assert!(said.contains("no pair is watched"), "{said}");
        assert!(!said.contains("every required gap kept"), "{said}");
        assert!(!said.contains("nothing overlaps"), "{said}");
    }
}

#[test]

fn clear_means_that_every_gap_is_proved() {
    for (_, corner) in corners("tarnwood") {
        for g in list(corner, "tightest_gaps") {
            assert!(number(g, "at_least_mm") >= number(g, "required_mm"), "{g}");
        }
    }
}

#[test]

fn a_printed_lock_can_be_asked_for() {
    let arguments = ["--units", "inch", "--travel", "0", "--rack", "3.31"];
    let mut all = vec!["pose".to_owned(), scene("hollin")];
    all.extend(arguments.map(str::to_owned));
    assert_eq!(status(&bindpoint(&all)), 0);
}

#[test]

fn travels_from_the_json_can_be_asked_for() {
    let arguments = [
        "pose",
        &scene("tarnwood"),
        "--travel",
        "-1.77351466845721e-11",
        "--rack",
        "0",
    ];
    expect_status(&arguments, 0);
    let sixteenths = [
        "pose",
        &scene("tarnwood"),
        "--travel",
        "-3 1/8",
        "--rack",
        "0",
    ];
    expect_status(&sixteenths, 0);
}

#[test]

fn an_outline_that_crosses_itself_is_refused() {
    refuses(
        "(-60, 0), (-60, 46), (38, 46)",
        "(-60, 0), (38, 46), (-60, 46)",
        "shape: ¦Lathe(\n                from: (0, 235, 420)",
        &["parts[0].shape", "crosses itself"],
    );
}

#[test]

fn a_byte_order_mark_does_no_harm() {
    let scene = Edited::of(&[("// Tarnwood 4", "\u{feff}// Tarnwood 4")]);
    expect_status(&["check", &scene.path], 0);
}

#[test]

fn the_wrong_side_is_called_that() {
    refuses(
        "side: left",
        "side: right",
        "wheel_centre: ¦(0, 815, 400)",
        &["`side`"],
    );
}

#[test]

fn schema_spells_words_as_a_scene_must() {
    let schema = stdout(&expect_status(&["schema"], 0));
    for word in [
        "mm",
        "inch",
        "lower_arm",
        "total_length",
        "preload_only",
        "each_side",
        "once",
    ] {
        let line = format!("\n    {word}: ");
        assert!(schema.contains(&line), "schema doesn't list `{word}`");
    }
}

#[test]
fn a_stop_taken_off_leaves_the_next_as_first() {
    let json = |more: &[&str], status_expected: Option<i32>| -> Value {
        let scene = scene("tarnwood");
        let mut arguments = vec!["sweep", &scene, "--racks", "3", "--json", "-"];
        arguments.extend_from_slice(more);
        let output = bindpoint(&arguments);
        if let Some(expected) = status_expected {
            assert_eq!(status(&output), expected);
        }
        serde_json::from_str(&stdout(&output)).expect("JSON")
    };
    let blocking = |found: &Value| -> Vec<(String, f64)> {
        let order = list(found, "stop_order")
            .iter()
            .find(|o| number(o, "rack_mm") == 0.0 && text(o, "direction") == "droop")
            .expect("straight ahead, droop");
        list(order, "stops")
            .iter()
            .filter(|s| s["blocks"] == true)
            .map(|s| (stop_name(s, "stop"), number(s, "travel_mm")))
            .collect()
    };
    let all = json(&[], Some(0));
    let before = blocking(&all);
    assert_eq!(before[0].0, "damper extended");
    let off = json(&["--without", "damper extended"], Some(1));
    assert_eq!(
        blocking(&off),
        before[1..],
        "the others are where they were"
    );
    let free = |found: &Value| number(&found["map"]["shares"], "free");
    assert!(free(&off) > free(&all), "the wheel goes further");
    let warnings = off["warnings"].to_string();
    assert!(warnings.contains("taken off, as if unbolted: damper extended"));
}

#[test]
fn a_stop_that_isnt_there_can_not_be_taken_off() {
    let output = expect_status(
        &["sweep", &scene("tarnwood"), "--without", "damper exended"],
        2,
    );
    let said = plain(&String::from_utf8_lossy(&output.stderr));
    assert!(said.contains("no stop is named `damper exended`"), "{said}");
    assert!(said.contains("did you mean `damper"), "{said}");
    let reach = expect_status(
        &["sweep", &scene("tarnwood"), "--without", "end of reach"],
        2,
    );
    assert!(plain(&String::from_utf8_lossy(&reach.stderr)).contains("no stop is named"));
}

#[test]
fn a_position_without_travel_and_rack_is_the_measured_one() {
    let said = |more: &[&str]| {
        let output = cargo_bin_cmd!("bindpoint")
            .args(["pose", "scenes/crake.ron"])
            .args(more)
            .env("NO_COLOR", "1")
            .output();
        String::from_utf8(output.expect("bindpoint runs").stdout).expect("text")
    };
    assert_eq!(said(&[]), said(&["--travel", "0", "--rack", "0"]));
}
