//! Common parts drawn by few numbers, against the same parts drawn out.
//!
//! Source: the same scene with the part drawn by coordinates; closed forms otherwise. Facets of a shape drawn twice are the
//! same numbers put together in another order: rounding at a metre is what differs.

mod dice;
mod small_scene;

use bindpoint::clearance::Part;
use bindpoint::scene::{Problem, Scene, field_reference, scene_from_text};
use bindpoint::setups::{resized, tyre_measures};
use bindpoint::suspension::{Body, Side};
use bindpoint::truck::{Corner, MeshStore, Truck, assemble_setup};
use nalgebra::Vector3;
use small_scene::{Draft, point};
use std::path::Path;

type V = Vector3<f64>;

/// Rounding of coordinates of a metre, mm.
const ROUNDING_MM: f64 = 1.0e-9;

fn attempt(scene: &Scene, setup: Option<&str>) -> Result<Truck, Problem> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenes");
    assemble_setup(scene, setup, &MeshStore::new(&folder))
}

fn built(scene: &Scene, setup: Option<&str>) -> Truck {
    attempt(scene, setup).unwrap_or_else(|p| panic!("{p:?}"))
}

fn refused(draft: &Draft) -> Problem {
    match attempt(&draft.scene("refused"), None) {
        Err(problem) => problem,
        Ok(_) => panic!("it was built"),
    }
}

fn part<'c>(corner: &'c Corner, name: &str) -> &'c Part {
    let found = corner.parts.iter().find(|p| p.name == name);
    found.unwrap_or_else(|| panic!("no {name}"))
}

/// A bar's two ends and its radius.
fn bar(corner: &Corner, name: &str) -> ([V; 2], f64) {
    let surface = &part(corner, name).surface;
    assert_eq!(surface.vertices.len(), 2, "{name} is no bar");
    let ends = [0, 1].map(|i| surface.vertex_in_body(i));
    (ends, surface.radius_mm)
}

fn assert_ends(corner: &Corner, name: &str, expected: [V; 2]) {
    let (ends, _) = bar(corner, name);
    let off = |a: [V; 2]| (ends[0] - a[0]).norm().max((ends[1] - a[1]).norm());
    let [a, b] = expected;
    let off = off([a, b]).min(off([b, a]));
    assert!(off < ROUNDING_MM, "{name}: {ends:?}, expected {expected:?}");
}

fn assert_same_surface(a: &Part, b: &Part) {
    assert_eq!(
        a.surface.vertices.len(),
        b.surface.vertices.len(),
        "{} {}",
        a.name,
        b.name
    );
    assert!(
        a.surface.lies_on(&b.surface, ROUNDING_MM),
        "{} is not {}",
        a.name,
        b.name
    );
    assert!((a.surface.radius_mm - b.surface.radius_mm).abs() < ROUNDING_MM);
    assert!((a.surface.facet_error_mm - b.surface.facet_error_mm).abs() < ROUNDING_MM);
}

/// Bars between all kinds of ends, beside the capsules that they are.
fn with_bars() -> Draft {
    let mut d = Draft::new();
    for (name, on, named, ends) in [
        (
            "arm",
            "lower_arm",
            ["lower_arm.front_pivot", "lower_arm.ball_joint"],
            [d.lower[0], d.lower[2]],
        ),
        (
            "rear leg",
            "upper_arm",
            ["upper_arm.rear_pivot", "upper_arm.ball_joint"],
            [d.upper[1], d.upper[2]],
        ),
        (
            "across",
            "lower_arm",
            ["lower_arm.rear_pivot", "damper.lower_mount"],
            [d.lower[1], d.damper[1]],
        ),
        (
            "upright",
            "knuckle",
            ["knuckle.tie_rod_outer", "knuckle.wheel_centre"],
            [d.rod[1], d.wheel_centre],
        ),
        (
            "kingpin",
            "knuckle",
            ["lower_arm.ball_joint", "upper_arm.ball_joint"],
            [d.lower[2], d.upper[2]],
        ),
        (
            "rod",
            "tie_rod",
            ["rack.tie_rod_inner", "knuckle.tie_rod_outer"],
            [d.rod[0], d.rod[1]],
        ),
        (
            "body",
            "damper_lower",
            ["damper.lower_mount", "damper.upper_mount"],
            [d.damper[1], d.damper[0]],
        ),
        (
            "shaft",
            "halfshaft",
            ["halfshaft.inner_joint", "halfshaft.outer_joint"],
            [d.inner_joint, d.outer_joint],
        ),
        (
            "mount",
            "frame",
            ["upper_arm.front_pivot", "lower_arm.front_pivot"],
            [d.upper[0], d.lower[0]],
        ),
    ] {
        let shape = format!(
            "Bar(from: \"{}\", to: \"{}\", diameter: 24)",
            named[0], named[1]
        );
        d.part(name, on, "each_side", &shape);
        let [from, to] = ends.map(|p| point(&p));
        let drawn = format!("Capsule(from: {from}, to: {to}, radius: 12)");
        d.part(&format!("drawn {name}"), on, "each_side", &drawn);
    }
    d.watch("*", "*", 0.0);
    d
}

const BARS: [&str; 9] = [
    "arm", "rear leg", "across", "upright", "kingpin", "rod", "body", "shaft", "mount",
];

#[test]
fn a_bar_between_named_points_is_the_capsule_between_them() {
    let truck = built(&with_bars().scene("bars"), None);
    for name in BARS {
        let corner = &truck.corners[0];
        assert_same_surface(part(corner, name), part(corner, &format!("drawn {name}")));
    }
    assert_eq!(bar(&truck.corners[0], "arm").1, 12.0);
}

#[test]
fn both_sides_have_the_same_bars_mirrored() {
    let mut draft = with_bars();
    // Unlike sides, so that both corners are built.
    draft.part(
        "lump",
        "frame",
        "right",
        "Ball(centre: (400, -300, 900), radius: 20)",
    );
    let truck = built(&draft.scene("bars"), None);
    assert_eq!(truck.corners.len(), 2);
    for corner in &truck.corners {
        for name in BARS {
            assert_same_surface(part(corner, name), part(corner, &format!("drawn {name}")));
        }
    }
    let (left, _) = bar(&truck.corners[0], "arm");
    assert_ends(
        &truck.corners[1],
        "arm",
        left.map(|p| V::new(p.x, -p.y, p.z)),
    );
}

#[test]
fn a_bar_falls_short_of_its_ends_by_what_is_said() {
    let mut draft = Draft::new();
    let [from, _, to] = draft.lower;
    draft.part(
        "leg",
        "lower_arm",
        "each_side",
        "Bar(from: \"lower_arm.front_pivot\", to: \"lower_arm.ball_joint\", diameter: 34, short_from: 20, short_to: 41)",
    );
    draft.watch("*", "*", 0.0);
    let truck = built(&draft.scene("short"), None);
    let along = (to - from).normalize();
    assert_ends(
        &truck.corners[0],
        "leg",
        [from + along * 20.0, to - along * 41.0],
    );
    assert_eq!(bar(&truck.corners[0], "leg").1, 17.0);
}

#[test]
fn a_bar_on_a_rod_runs_between_the_rods_ends_when_they_are_left_out() {
    let mut draft = Draft::new();
    for on in ["tie_rod", "damper_upper", "damper_lower", "halfshaft"] {
        draft.part(
            &format!("bar {on}"),
            on,
            "each_side",
            "Bar(diameter: 20, short_to: 5)",
        );
    }
    draft.watch("*", "*", 0.0);
    let truck = built(&draft.scene("rods"), None);
    for (name, [from, to]) in [
        ("bar tie_rod", draft.rod),
        ("bar damper_upper", draft.damper),
        ("bar damper_lower", draft.damper),
        ("bar halfshaft", [draft.inner_joint, draft.outer_joint]),
    ] {
        let along = (to - from).normalize();
        assert_ends(&truck.corners[0], name, [from, to - along * 5.0]);
    }
}

#[test]
fn a_bar_follows_the_points_of_another_arm_and_stays_where_its_body_keeps_them() {
    let mut draft = with_bars();
    draft.more =
        "setups: [(name: \"longer arm\", changes: [UpperArm((ball_joint: (-26, 661, 684)))])],"
            .to_owned();
    let scene = draft.scene("arm");
    let truck = built(&scene, Some("longer arm"));
    let corner = &truck.corners[0];
    assert_ends(
        corner,
        "rear leg",
        [draft.upper[1], V::new(-26.0, 661.0, 684.0)],
    );
    // The knuckle is the same piece of metal as before.
    assert_ends(corner, "kingpin", [draft.lower[2], draft.upper[2]]);
    assert_ends(corner, "drawn rear leg", [draft.upper[1], draft.upper[2]]);
    // It meets the joint at any position.
    let at = corner.position(-40.0, 20.0).expect("reached").linkage;
    let placed = at.placement(Body::UpperArm.motion());
    let nearest = bar(corner, "rear leg")
        .0
        .map(|p| (placed.point(&p) - at.kingpin_top).norm());
    assert!(nearest[0].min(nearest[1]) < ROUNDING_MM, "{nearest:?}");
}

#[test]
fn a_bar_follows_a_tie_rod_end_and_a_wheel_offset() {
    let mut draft = with_bars();
    draft.more = "setups: [(name: \"end\", changes: [TieRodEnd(outer: (-140, 684, 380))]),
        (name: \"offset\", changes: [WheelOffset(outboard: 20)])],"
        .to_owned();
    let scene = draft.scene("ends");
    let truck = built(&scene, Some("end"));
    let end = V::new(-140.0, 684.0, 380.0);
    assert_ends(&truck.corners[0], "rod", [draft.rod[0], end]);
    assert_ends(&truck.corners[0], "upright", [end, draft.wheel_centre]);
    let truck = built(&scene, Some("offset"));
    let out = draft.wheel_centre + V::new(0.0, 20.0, 0.0);
    assert_ends(&truck.corners[0], "upright", [draft.rod[1], out]);
}

#[test]
fn the_other_sides_bars_are_drawn_from_its_own_points() {
    let mut draft = with_bars();
    draft.more = "other_side: (
        upper_arm: (front_pivot: (95, -440, 655), rear_pivot: (-125, -445, 640), ball_joint: (-24, -664, 680)),
        halfshaft: (outer_joint: (0, -700, 400), inner_joint: (0, -290, 415), diameter: 28, inner_limit_deg: 60,
            outer_limit_deg: 75, plunge: (inner: -150, outer: 150)),
    ),"
    .to_owned();
    let truck = built(&draft.scene("sides"), None);
    let right = truck.corner(Side::Right).expect("both sides differ");
    let ball = V::new(-24.0, -664.0, 680.0);
    assert_ends(right, "rear leg", [V::new(-125.0, -445.0, 640.0), ball]);
    assert_ends(right, "kingpin", [V::new(8.0, -722.0, 290.0), ball]);
    assert_ends(
        right,
        "shaft",
        [V::new(0.0, -290.0, 415.0), V::new(0.0, -700.0, 400.0)],
    );
    // Parts drawn by coordinates can only be put near; bars are right, and nobody is warned of them.
    let warned = |name: &str| {
        truck
            .warnings
            .iter()
            .any(|w| w.contains(&format!("`{name}`")))
    };
    assert!(
        warned("drawn shaft") && warned("drawn rear leg"),
        "{:?}",
        truck.warnings
    );
    assert!(
        !warned("shaft") && !warned("rear leg"),
        "{:?}",
        truck.warnings
    );
}

#[test]
fn a_bar_fitted_once_or_on_one_side_is_drawn_from_that_sides_points() {
    let mut draft = Draft::new();
    let named = "Bar(from: \"upper_arm.front_pivot\", to: (0, 0, 900), diameter: 40)";
    draft.part("once", "frame", "once", named);
    draft.part(
        "right",
        "lower_arm",
        "right",
        "Bar(from: \"lower_arm.front_pivot\", to: (8, -600, 290), diameter: 40)",
    );
    draft.part("each", "frame", "each_side", named);
    draft.more =
        "other_side: (upper_arm: (front_pivot: (97, -441, 657), rear_pivot: (-125, -445, 640),
        ball_joint: (-22, -668, 682))),"
            .to_owned();
    draft.watch("*", "*", 0.0);
    let truck = built(&draft.scene("once"), None);
    let end = V::new(0.0, 0.0, 900.0);
    let other = V::new(97.0, -441.0, 657.0);
    for corner in &truck.corners {
        assert_ends(corner, "once", [draft.upper[0], end]);
    }
    let (left, right) = (&truck.corners[0], &truck.corners[1]);
    assert_ends(right, "each", [other, end]);
    // It reaches to the middle, so that each corner has the other one's too, from that side's points.
    assert_ends(left, "right each", [other, end]);
    assert_ends(right, "left each", [draft.upper[0], end]);
    assert!(left.parts.iter().all(|p| p.name != "right"));
    assert_ends(
        right,
        "right",
        [V::new(180.0, -335.0, 345.0), V::new(8.0, -600.0, 290.0)],
    );
}

/// The demo in inches, of the right side, with something at the start of its parts.
fn inches(parts: &str) -> Scene {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenes/crake.ron");
    let text = std::fs::read_to_string(&path).expect("a demo scene");
    let text = text.replace("\n    parts: [", &format!("\n    parts: [{parts}"));
    scene_from_text(&text, &path).unwrap_or_else(|e| panic!("{e}"))
}

#[test]
fn bars_cups_and_tyres_are_drawn_in_inches_too() {
    let scene = inches(
        "(name: \"new arm\", on: lower_arm, shape: Bar(from: \"lower_arm.front_pivot\", to: (0.84, -21.99, 9.56),
            diameter: \"1 3/16\", short_from: \"25.4 mm\")),
        (name: \"new tyre\", on: wheel, shape: Tyre(tread_width: 6.25)),
        (name: \"new cup\", on: inner_joint_housing, shape: Cup(bore: 2.5, outside: 3, depth: 2.5, mouth: 1)),",
    );
    let truck = built(&scene, None);
    let corner = &truck.corners[0];
    let h = &corner.positioner.linkage.hardpoints;
    let to = V::new(0.84, -21.99, 9.56) * 25.4;
    let along = (to - h.lower_front).normalize();
    assert_ends(corner, "new arm", [h.lower_front + along * 25.4, to]);
    assert!((bar(corner, "new arm").1 - 0.5 * 1.1875 * 25.4).abs() < ROUNDING_MM);
    let [_, most] = extent(part(corner, "new cup"), &h.inner_joint, &h.flange_axis);
    assert!((most - 25.4).abs() < ROUNDING_MM, "{most}");
    let measures = bindpoint::setups::fitted_measures(&scene).expect("a tyre");
    let [least, most] = extent(part(corner, "new tyre"), &h.wheel_centre, &h.spindle_axis);
    assert!(
        (most - 0.5 * measures.width_mm).abs() < ROUNDING_MM && (most + least).abs() < ROUNDING_MM
    );
}

/// How far a part reaches along an axis from a point.
fn extent(part: &Part, from: &V, axis: &V) -> [f64; 2] {
    let surface = &part.surface;
    let along = (0..surface.vertices.len()).map(|i| (surface.vertex_in_body(i) - from).dot(axis));
    along.fold([f64::INFINITY, f64::NEG_INFINITY], |[lo, hi], a| {
        [lo.min(a), hi.max(a)]
    })
}

#[test]
fn a_misspelt_point_is_refused_at_its_line_with_the_nearest_names() {
    let mut draft = Draft::new();
    draft.part(
        "leg",
        "lower_arm",
        "each_side",
        "Bar(from: \"lower_arm.frnt_pivot\", to: (1, 2, 3), diameter: 20)",
    );
    let text = draft.text("misspelt");
    let error = scene_from_text(&text, Path::new("misspelt.ron")).expect_err("no such point");
    let shown = format!("{:?}", miette::Report::new(error));
    let line = text
        .lines()
        .position(|l| l.contains("frnt_pivot"))
        .expect("its line")
        + 1;
    for words in [
        "did you mean",
        "lower_arm.front_pivot",
        &format!("misspelt.ron:{line}:"),
    ] {
        // Wrapped to the screen's width.
        let flat: String = shown.split_whitespace().collect();
        let words: String = words.split_whitespace().collect();
        assert!(flat.contains(&words), "no {words} in {shown}");
    }
}

#[test]
fn a_bar_or_cup_that_can_not_be_made_is_refused_where_it_stands() {
    for (on, shape, at, words) in [
        (
            "lower_arm",
            "Bar(to: (1, 2, 3), diameter: 9)",
            ".from",
            "doesn't say its `from` end",
        ),
        (
            "lower_arm",
            "Bar(from: \"lower_arm.ball_joint\", to: \"lower_arm.ball_joint\", diameter: 9)",
            "shape",
            "nothing is left",
        ),
        (
            "tie_rod",
            "Bar(diameter: 9, short_from: 200, short_to: 200)",
            "shape",
            "nothing is left",
        ),
        ("tie_rod", "Bar(diameter: 0)", ".diameter", "above zero"),
        (
            "tie_rod",
            "Bar(diameter: 9, short_to: -1)",
            ".short_to",
            "below zero",
        ),
        (
            "knuckle",
            "Cup(bore: 70, outside: 90, depth: 60, mouth: 30)",
            "shape",
            "a cup on the knuckle",
        ),
        (
            "inner_joint_housing",
            "Cup(bore: 90, outside: 90, depth: 60, mouth: 30)",
            ".bore",
            "doesn't fit",
        ),
        ("knuckle", "Tyre()", "shape", "a tyre on the knuckle"),
        ("wheel", "Tyre()", "shape", "doesn't say which tyre"),
    ] {
        let mut draft = Draft::new();
        draft.part("tried", on, "each_side", shape);
        let problem = refused(&draft);
        assert!(
            problem.path.starts_with("parts[0].shape") && problem.path.ends_with(at),
            "{shape}: {problem:?}"
        );
        assert!(problem.what.contains(words), "{shape}: {problem:?}");
    }
    let mut draft = Draft::new();
    draft.more = "underbody: [(name: \"stay\", shape: Bar(from: \"lower_arm.ball_joint\", to: (1, 2, 3), diameter: 9))],"
        .to_owned();
    let problem = refused(&draft);
    assert!(problem.what.contains("belongs to no corner"), "{problem:?}");
}

#[test]
fn a_joint_cup_is_the_lathe_that_was_drawn_for_it() {
    let mut draft = Draft::new();
    draft.shaft_more = "flange_axis: (0, 1, 0.05), outer_axis: (0.02, 1, 0),".to_owned();
    draft.part(
        "inner",
        "inner_joint_housing",
        "each_side",
        "Cup(bore: 75, outside: 92, depth: 83, mouth: 38, bottom: 15)",
    );
    draft.part(
        "drawn inner",
        "inner_joint_housing",
        "each_side",
        "Lathe(profile: [(-60, 0), (-60, 46), (38, 46), (38, 37.5), (-45, 37.5), (-45, 0)])",
    );
    draft.part(
        "outer",
        "outer_joint_housing",
        "each_side",
        "Cup(bore: 79, outside: 92, depth: 43, mouth: 18)",
    );
    // Toward the shaft is inboard here, and the bottom is as thick as the wall.
    draft.part(
        "drawn outer",
        "outer_joint_housing",
        "each_side",
        "Lathe(axis: (-0.02, -1, 0), profile: [(-31.5, 0), (-31.5, 46), (18, 46), (18, 39.5), (-25, 39.5), (-25, 0)])",
    );
    draft.part(
        "lump",
        "frame",
        "right",
        "Ball(centre: (400, -300, 900), radius: 20)",
    );
    draft.watch("*", "*", 0.0);
    let truck = built(&draft.scene("cups"), None);
    assert_eq!(truck.corners.len(), 2);
    for corner in &truck.corners {
        for name in ["inner", "outer"] {
            assert_same_surface(part(corner, name), part(corner, &format!("drawn {name}")));
        }
        // It is open: the shaft in its mouth doesn't touch it.
        assert!(
            corner
                .overlaps
                .iter()
                .all(|o| o.a != "halfshaft" && o.b != "halfshaft")
        );
    }
}

/// A tyre by its size beside the same outline drawn out.
fn with_tyre(options: &str, profile: &str) -> Draft {
    let mut draft = Draft::new();
    draft.alignment_deg = [0.2, -0.5];
    draft.part("tyre", "wheel", "each_side", &format!("Tyre({options})"));
    draft.part(
        "drawn",
        "wheel",
        "each_side",
        &format!("Lathe(profile: {profile})"),
    );
    draft.watch("tyre", "halfshaft", 0.0);
    draft
}

/// The outline that the documentation describes, from a size.
fn outline(code: &str, tread: Option<f64>, drop: Option<f64>) -> String {
    let size = tyre_measures(code).expect("a size");
    let (w, h) = (
        size.width_mm,
        0.5 * (size.diameter_mm - size.rim_diameter_mm),
    );
    let (rim, most) = (0.5 * size.rim_diameter_mm, 0.5 * size.diameter_mm);
    let half = [
        (0.42 * w, rim),
        (0.5 * w, rim + 0.3 * h),
        (0.5 * w, most - drop.unwrap_or(0.2 * h)),
        (0.5 * tread.unwrap_or(0.8 * w), most),
    ];
    let mut all: Vec<String> = half
        .iter()
        .map(|(a, r)| format!("({a:?}, {r:?})"))
        .collect();
    all.extend(half.iter().rev().map(|(a, r)| format!("({:?}, {r:?})", -a)));
    format!("[{}]", all.join(", "))
}

#[test]
fn a_tyre_is_drawn_from_its_size_and_another_size_scales_it_as_the_drawn_one() {
    for (options, tread, drop) in [
        ("", None, None),
        (
            "tread_width: 220, shoulder_drop: 25",
            Some(220.0),
            Some(25.0),
        ),
    ] {
        let mut draft = with_tyre(options, &outline("265/70R17", tread, drop));
        draft.more = "tyre: (size: Code(\"265/70R17\")),".to_owned();
        let scene = draft.scene("tyre");
        let truck = built(&scene, None);
        let corner = &truck.corners[0];
        assert_same_surface(part(corner, "tyre"), part(corner, "drawn"));
        // The same with the drawn one called the tyre: what a change of size makes of it.
        let mut drawn = scene.clone();
        drawn.parts[0].name = "by size".to_owned();
        drawn.parts[1].name = "tyre".to_owned();
        let larger = |scene: &Scene| {
            let fitted = resized(scene, 860.0, 300.0).expect("a larger tyre");
            built(&fitted, None)
        };
        let (by_size, by_outline) = (larger(&scene), larger(&drawn_alone(&drawn)));
        assert_same_surface(
            part(&by_size.corners[0], "tyre"),
            part(&by_outline.corners[0], "tyre"),
        );
        let axis = by_size.corners[0]
            .positioner
            .linkage
            .hardpoints
            .spindle_axis;
        let centre = by_size.corners[0]
            .positioner
            .linkage
            .hardpoints
            .wheel_centre;
        let [_, most] = extent(part(&by_size.corners[0], "tyre"), &centre, &axis);
        assert!((most - 150.0).abs() < ROUNDING_MM, "{most}");
    }
}

/// Only the drawn tyre left.
fn drawn_alone(scene: &Scene) -> Scene {
    let mut scene = scene.clone();
    scene.parts.retain(|p| p.name != "by size");
    scene.watch[0].a = "tyre".to_owned();
    scene
}

#[test]
fn a_setups_tyre_on_another_rim_redraws_the_tyre_by_its_size() {
    let mut draft = Draft::new();
    draft.part("tyre", "wheel", "each_side", "Tyre()");
    draft.watch("tyre", "halfshaft", 0.0);
    draft.more = "tyre: (size: Code(\"265/70R17\")),
        setups: [(name: \"bigger\", changes: [Tyre(size: Code(\"35x12.50R18\"))])],"
        .to_owned();
    let scene = draft.scene("rims");
    let truck = built(&scene, Some("bigger"));
    let h = &truck.corners[0].positioner.linkage.hardpoints;
    let surface = &part(&truck.corners[0], "tyre").surface;
    let radius = |i: usize| {
        let arm = surface.vertex_in_body(i) - h.wheel_centre;
        (arm - h.spindle_axis * arm.dot(&h.spindle_axis)).norm()
    };
    let radii = (0..surface.vertices.len()).map(radius);
    let [least, most] = radii.fold([f64::INFINITY, 0.0], |[lo, hi]: [f64; 2], r| {
        [lo.min(r), hi.max(r)]
    });
    // Corners of a facetted circle lie on it, or outside by no more than the facets' error.
    let error = surface.facet_error_mm + ROUNDING_MM;
    assert!((most - 0.5 * 35.0 * 25.4).abs() <= error, "{most}");
    assert!((least - 0.5 * 18.0 * 25.4).abs() <= error, "{least}");
}

#[test]
fn parts_drawn_from_points_are_moved_by_their_points_alone() {
    for (on, shape) in [
        (
            "lower_arm",
            "Bar(from: \"lower_arm.front_pivot\", to: (8, 600, 290), diameter: 20)",
        ),
        (
            "inner_joint_housing",
            "Cup(bore: 70, outside: 90, depth: 60, mouth: 30)",
        ),
    ] {
        let mut draft = Draft::new();
        draft.part("it", on, "each_side", shape);
        draft.watch("*", "*", 0.0);
        draft.more =
            "setups: [(name: \"moved\", changes: [MovePart(name: \"it\", by: (1, 0, 0))])],"
                .to_owned();
        let problem = attempt(&draft.scene("moved"), Some("moved")).expect_err("it can't be moved");
        assert!(problem.path.ends_with("changes[0].name"), "{problem:?}");
    }
    // By coordinates alone a bar moves like any other part.
    let mut draft = Draft::new();
    draft.part(
        "it",
        "lower_arm",
        "each_side",
        "Bar(from: (8, 500, 290), to: (8, 600, 290), diameter: 20)",
    );
    draft.watch("*", "*", 0.0);
    draft.more =
        "setups: [(name: \"moved\", changes: [MovePart(name: \"it\", by: (1, 0, 3))])],".to_owned();
    let truck = built(&draft.scene("moved"), Some("moved"));
    let by = V::new(1.0, 0.0, 3.0);
    assert_ends(
        &truck.corners[0],
        "it",
        [
            V::new(8.0, 500.0, 290.0) + by,
            V::new(8.0, 600.0, 290.0) + by,
        ],
    );
}

#[test]
fn the_schema_tells_of_every_named_point_and_common_part() {
    let pages = field_reference();
    for name in bindpoint::scene::NamedPoint::ALL {
        let own = name.name().replace("upper_arm.", "lower_arm.");
        assert!(pages.contains(&format!("`\"{own}\"`")), "{own}");
    }
    for field in [
        "Bar: ",
        "short_from*: ",
        "Cup: ",
        "bottom*: ",
        "Tyre: ",
        "tread_width*: ",
    ] {
        assert!(
            pages.lines().any(|l| l.trim_start().starts_with(field)),
            "{field}"
        );
    }
}
