//! `clearance` and `keepout` ask of parts that share a motion: an inner joint housing turns on the spot beside the frame, a
//! wheel beside the knuckle. Parts of one body are one rigid assembly and are never asked.
//!
//! Source: depths and gaps that the parts are drawn to, worked out here from circles.

use assert_cmd::cargo::cargo_bin_cmd;
use bindpoint::findings::WhyLeftOut;
use bindpoint::space::{
    ClearanceMap, ClearanceOptions, KeepOutOptions, PoseTree, clearance_map, keep_out,
};
use bindpoint::suspension::{Body, Motion, Side};
use bindpoint::sweep::free_travel::Region;
use bindpoint::truck::{JoinedPair, Truck, load};
use std::path::{Path, PathBuf};
use tempfile::{TempDir, tempdir};

const TOLERANCE_MM: f64 = 0.1;

fn planted(parts: &str) -> (TempDir, PathBuf) {
    let root = PathBuf::from(env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(root.join("scenes/tarnwood.ron")).expect("a demo scene");
    let assets = format!("\"{}/assets/", root.display());
    let text = text.replace("\"../assets/", &assets).replacen(
        "    parts: [\n",
        &format!("    parts: [\n{parts}\n"),
        1,
    );
    let folder = tempdir().expect("a folder");
    let path = folder.path().join("planted.ron");
    std::fs::write(&path, text).expect("written");
    (folder, path)
}

fn truck(parts: &str) -> Truck {
    let (_folder, path) = planted(parts);
    load(&path).expect("a scene")
}

fn mapped(truck: Truck, part: &str, against: &[&str]) -> ClearanceMap {
    let options = ClearanceOptions {
        against: against.iter().map(|s| (*s).to_owned()).collect(),
        ..ClearanceOptions::usual(part)
    };
    clearance_map(&[truck], &options, &|_, _| true).expect("a map")
}

fn run(arguments: &[&str]) -> (i32, String, String) {
    let output = cargo_bin_cmd!("bindpoint")
        .args(arguments)
        .env("NO_COLOR", "1")
        .output()
        .expect("bindpoint starts");
    let text = |bytes: &[u8]| {
        let text = String::from_utf8_lossy(bytes);
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let said = text(&output.stderr);
    assert!(!said.contains("panicked"), "{said}");
    (
        output.status.code().unwrap_or(-1),
        text(&output.stdout),
        said,
    )
}

fn written(path: &Path) -> String {
    path.display().to_string()
}

/// A tab over the inner joint housing, whose outside runs round y at z = 420 with a radius of 46: its underside lies that
/// much below the housing's top.
fn tab(depth_mm: f64) -> String {
    let (size, top) = (16.0, 420.0 + 46.0);
    let z = top - depth_mm + size / 2.0;
    format!(
        r#"(name: "tab", on: frame, fitted: left, shape: Box(centre: (0, 225, {z}), size: ({size}, {size}, {size}))),"#
    )
}

#[test]
fn a_tab_inside_the_turning_inner_joint_housing_is_touched() {
    let map = mapped(truck(&tab(2.0)), "tab", &["inner joint housing"]);
    let patch = map.patches.first().expect("a patch");
    assert!(patch.violated && patch.touched && !patch.cut_is_at_least);
    let under = patch
        .sides
        .iter()
        .find(|s| s.out.z < -0.99)
        .expect("its underside");
    // What must remain is nothing but the tolerance.
    assert!(
        (2.0..2.0 + 3.0 * TOLERANCE_MM).contains(&under.cut_mm),
        "{}",
        under.cut_mm
    );
    let mover = &map.movers[map.tightest.expect("near").spot.to.expect("a mover") as usize];
    assert_eq!(
        (mover.part.as_str(), mover.at_rest),
        ("inner joint housing", true)
    );
    let (_folder, path) = planted(&tab(2.0));
    let (code, said, _) = run(&["clearance", &written(&path), "--part", "tab"]);
    assert_eq!(code, 1, "{said}");
    assert!(
        said.contains("TOUCHED") && !said.contains("is kept"),
        "{said}"
    );
    assert!(
        said.contains("touches the inner joint housing (left side)"),
        "{said}"
    );
    assert!(said.contains("at every position"), "{said}");
    // A tab just outside is that far away, and clear.
    let map = mapped(truck(&tab(-2.0)), "tab", &["inner joint housing"]);
    let gap = map.tightest.expect("near").spot.gap_mm;
    assert!((2.0 - TOLERANCE_MM..2.0 + 1.0e-6).contains(&gap), "{gap}");
    assert!(!map.patches.iter().any(|p| p.violated));
}

/// Between parts at rest to each other the gap that the scene watches must remain, as between moving ones.
#[test]
fn a_tab_nearer_to_the_turning_housing_than_the_scene_allows_is_too_near() {
    let watched_at = |gap_mm: f64| {
        let (folder, path) = planted(&tab(-2.0));
        let text = std::fs::read_to_string(&path).expect("written");
        let entry = format!(r#"(a: "tab", b: "inner joint housing", gap: {gap_mm}),"#);
        let text = text.replacen("    watch: [", &format!("    watch: [ {entry}"), 1);
        std::fs::write(&path, text).expect("written");
        let truck = load(&path).expect("a scene");
        drop(folder);
        let map = mapped(truck, "tab", &["inner joint housing"]);
        map.patches.iter().any(|p| p.violated)
    };
    // It stands 2 mm off.
    assert!(!watched_at(1.0));
    assert!(watched_at(3.0));
}

/// A cube of 4 mm wholly inside the housing's wall of 8.5 mm, where no face of one meets a face of the other.
#[test]
fn a_part_wholly_inside_a_turning_one_is_touched_all_over() {
    let bead = r#"(name: "bead", on: frame, fitted: left, shape: Box(centre: (0, 225, 461.7), size: (4, 4, 4))),"#;
    let map = mapped(truck(bead), "bead", &["inner joint housing"]);
    assert!(
        map.at_point
            .iter()
            .all(|s| s.to.is_some() && s.gap_mm <= 0.0)
    );
    assert!(
        map.at_face
            .iter()
            .all(|s| s.to.is_some() && s.gap_mm <= 0.0)
    );
    assert!(map.patches.iter().any(|p| p.violated && p.touched));
}

/// A block that holds a turning part whole shows it on no face: it is not called clear.
#[test]
fn a_part_that_holds_a_turning_one_is_undecided() {
    let block = r#"(name: "block", on: frame, fitted: left, shape: Box(centre: (0, 224, 420), size: (200, 200, 200))),"#;
    let (_folder, path) = planted(block);
    let (code, said, _) = run(&[
        "clearance",
        &written(&path),
        "--part",
        "block",
        "--against",
        "* joint housing",
    ]);
    assert_eq!(code, 2, "{said}");
    assert!(!said.contains("is kept"), "{said}");
    assert!(
        said.contains("inner joint housing") && said.contains("overlap"),
        "{said}"
    );
}

/// A caliper bracket on the knuckle reaches 9.8 mm into the rim, whose bore is 206.75 mm there.
#[test]
fn a_bracket_on_the_knuckle_inside_the_rim_is_touched() {
    // The bore tapers from 208 to 204 over 182 mm; the bracket's outer edges lie 10 mm off the middle.
    let y = 760.0;
    let bore = 208.0 - 4.0 * (y - 815.0 + 112.0) / 182.0;
    let top = 400.0 + ((bore + 9.8_f64).powi(2) - 100.0).sqrt();
    let bracket = format!(
        r#"(name: "caliper bracket", on: knuckle, shape: Box(centre: (0, {y}, {}), size: (20, 20, 30))),"#,
        top - 15.0
    );
    let map = mapped(truck(&bracket), "caliper bracket", &["rim", "tyre"]);
    let patch = map.patches.first().expect("a patch");
    assert!(patch.violated && patch.touched && !patch.cut_is_at_least);
    assert!(map.movers.iter().all(|m| m.at_rest && m.side == Side::Left));
    // Its top goes back by less than the bracket is deep in, since the rim is round.
    let upper = patch
        .sides
        .iter()
        .find(|s| s.out.z > 0.99)
        .expect("its top")
        .cut_mm;
    let middle_of_top = (bore + 0.11).powi(2) - 100.0;
    let taper = 4.0 / 182.0 * 10.0;
    assert!(
        upper >= top - 400.0 - middle_of_top.sqrt() - taper,
        "{upper}"
    );
    // Ten millimetres into the rim, which the scene wants five away.
    assert!(upper < 9.8 + 5.0 + 1.0, "{upper}");
    let (_folder, path) = planted(&bracket);
    let (code, said, _) = run(&["clearance", &written(&path), "--part", "caliper bracket"]);
    assert_eq!(code, 1, "{said}");
    assert!(said.contains("touches the rim"), "{said}");
}

/// Every part of every corner is looked at or left out with its reason, none both.
#[test]
fn no_part_is_dropped_without_a_word() {
    for part in [
        "tab",
        "knuckle",
        "lower arm front leg",
        "differential housing",
        "inner joint housing",
    ] {
        let truck = truck(&tab(-2.0));
        let owner = truck.corners[0].clone();
        let others: Vec<(String, Side, Body)> = truck
            .corners
            .iter()
            .flat_map(|c| c.parts.iter().map(|p| (p.name.clone(), c.side, p.body)))
            .collect();
        let body = owner
            .parts
            .iter()
            .find(|p| p.name == part)
            .expect("a part")
            .body;
        // Only who is asked matters here: a coarse map is soon there.
        let coarse = ClearanceOptions {
            cutoff_mm: 2.0,
            tolerance_mm: 1.0,
            resolution_mm: 100.0,
            ..ClearanceOptions::usual(part)
        };
        let map = clearance_map(&[truck], &coarse, &|_, _| true).expect("a map");
        for (name, side, on) in others {
            if body.motion() != Motion::Frame && side != owner.side {
                continue;
            }
            let asked = map
                .movers
                .iter()
                .filter(|m| m.part == name && m.side == side)
                .count();
            let left = map
                .left_out
                .iter()
                .filter(|l| l.part == name && l.side == side);
            let reasons: Vec<&WhyLeftOut> = left.map(|l| &l.why).collect();
            let is_one = on == body
                && (side == owner.side || body == Body::Frame || body == Body::Differential);
            let is_itself = name == part && is_one;
            let expected = usize::from(!is_itself);
            assert_eq!(
                asked + reasons.len(),
                expected,
                "{part}: {name} {side:?} {reasons:?}"
            );
            assert_eq!(
                reasons.contains(&&WhyLeftOut::SameBody),
                is_one && !is_itself,
                "{part}: {name}"
            );
        }
    }
}

#[test]
fn a_resting_pair_that_the_scene_joins_is_left_out_by_name() {
    let mut joined = truck(&tab(2.0));
    for corner in &mut joined.corners {
        corner.joined.push(JoinedPair {
            a: "inner joint housing".to_owned(),
            b: "tab".to_owned(),
            why: "a seal".to_owned(),
        });
    }
    let map = mapped(joined, "tab", &["inner joint housing", "halfshaft"]);
    assert!(map.movers.iter().all(|m| m.part == "halfshaft"));
    let seal = WhyLeftOut::Joined("a seal".to_owned());
    assert!(
        map.left_out
            .iter()
            .any(|l| l.part == "inner joint housing" && l.why == seal)
    );
}

/// A moving part that a bracket overlaps as drawn isn't looked at: then nothing says that every gap is kept.
#[test]
fn what_overlaps_as_drawn_is_not_called_kept() {
    let collar = r#"(name: "collar", on: frame, fitted: left, shape: Box(centre: (-137, 500, 386), size: (30, 10, 30))),"#;
    let (_folder, path) = planted(collar);
    let scene = written(&path);
    let (code, said, _) = run(&[
        "clearance",
        &scene,
        "--part",
        "collar",
        "--against",
        "tie rod,rim",
    ]);
    assert_eq!(code, 2, "{said}");
    assert!(
        said.contains("UNDECIDED") && !said.contains("is kept"),
        "{said}"
    );
    assert!(said.contains("tie rod (left)"), "{said}");
}

/// What hangs over one wheel and only that wheel's parts come near: mapped as a bracket is, with an outline.
#[test]
fn a_fender_that_only_the_wheel_comes_near_is_mapped_with_an_outline() {
    let fender = r#"(name: "fender", on: frame, fitted: left, shape: Box(centre: (0, 815, 860), size: (120, 120, 4))),"#;
    let (folder, path) = planted(fender);
    let trim = written(&folder.path().join("trim.svg"));
    let (code, said, _) = run(&[
        "clearance",
        &written(&path),
        "--part",
        "fender",
        "--gap",
        "10",
        "--trim",
        &trim,
    ]);
    assert_eq!(code, 1, "{said}");
    assert!(said.contains("the tyre (left side)"), "{said}");
    let drawn = std::fs::read_to_string(&trim).expect("an SVG");
    assert!(drawn.contains("class=\"trim\""));
    let map = mapped(truck(fender), "fender", &[]);
    let near: Vec<&str> = map
        .movers
        .iter()
        .zip(&map.nearest)
        .filter(|(_, n)| n.is_some())
        .map(|(m, _)| m.part.as_str())
        .collect();
    assert!(near.contains(&"tyre"), "{near:?}");
    assert!(
        map.movers
            .iter()
            .any(|m| m.part == "tyre" && m.side == Side::Right)
    );
}

/// The solid for a bracket on the frame holds the inner joint housing, which turns on the spot beside it.
#[test]
fn a_keep_out_solid_holds_what_turns_beside_the_frame() {
    let truck = load(&PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("scenes/tarnwood.ron"))
        .expect("a scene");
    let corner = &truck.corners[0];
    let number = corner
        .parts
        .iter()
        .position(|p| p.name == "inner joint housing")
        .expect("a housing");
    let region = Region::of(corner, &[]);
    let trees = PoseTree::by_motion(corner, &region, Motion::Frame, [number]);
    assert!(trees[0].is_at_rest());
    let options = KeepOutOptions {
        margin_mm: 2.0,
        resolution_mm: 1.0,
    };
    let solid = keep_out(&trees, options, &|_| true).expect("a solid");
    assert_eq!((solid.pieces, solid.unproved_cells), (1, 0));
    // A cup: grown by the margin it is at most the cylinder about it, and at least its own walls and floor.
    let pi = std::f64::consts::PI;
    let walls = pi * (46.0_f64.powi(2) - 37.5_f64.powi(2)) * 83.0 + pi * 46.0_f64.powi(2) * 15.0;
    let grown = 2.0 + solid.most_excess_mm;
    let around = pi * (46.0 + grown).powi(2) * (98.0 + 2.0 * grown);
    assert!(
        solid.volume_mm3 > walls && solid.volume_mm3 < around,
        "{}",
        solid.volume_mm3
    );
    for v in &solid.vertices {
        let r = v.x.hypot(v.z - 420.0);
        assert!(r <= 46.0 + grown + 1.0e-3 && (v.y - 224.0).abs() <= 49.0 + grown + 1.0e-3);
    }
}

#[test]
fn keepout_never_drops_a_named_part_without_a_word() {
    let scene = written(&PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("scenes/tarnwood.ron"));
    let folder = tempdir().expect("a folder");
    let out = written(&folder.path().join("solid.stl"));
    let made = |more: &[&str]| {
        let arguments = [
            &["keepout", &scene, "--out", &out, "--resolution", "40"],
            more,
        ]
        .concat();
        run(&arguments)
    };
    let (code, said, _) = made(&["--parts", "*shaft,*housing"]);
    assert_eq!(code, 0, "{said}");
    assert!(
        said.contains("halfshaft") && said.contains("inner joint housing"),
        "{said}"
    );
    assert!(!said.contains("Not in the solid"), "{said}");
    // What the pattern names on the bracket's own body is told.
    let (code, said, _) = made(&["--parts", "halfshaft,*r*"]);
    assert_eq!(code, 0, "{said}");
    assert!(said.contains("Not in the solid"), "{said}");
    assert!(
        said.contains("frame rail, crossmember, ") && said.contains(": on the frame itself"),
        "{said}"
    );
    // Nothing said: everything that isn't on the frame.
    let (code, said, _) = made(&[]);
    assert_eq!(code, 0, "{said}");
    for name in [
        "inner joint housing",
        "differential housing",
        "tyre",
        "tie rod",
    ] {
        assert!(said.contains(name), "{name}: {said}");
    }
    assert!(!said.contains("frame rail"), "{said}");
    for pattern in ["frame rail", "*rail"] {
        let (code, _, said) = made(&["--parts", pattern]);
        assert_eq!(code, 2);
        let said: Vec<&str> = said.split(['│', ' ']).filter(|w| !w.is_empty()).collect();
        assert!(
            said.join(" ").contains("is on that body itself"),
            "{said:?}"
        );
    }
}
