//! Changes of one side, and changes of halfshaft, hoses, rack and brackets: what they move, and what they leave alone.
//!
//! Sources: the scene without the change, and the same change made on both sides; lengths and places by arithmetic on the
//! scene's own points, worked out in each test.

use bindpoint::limits::Limit;
use bindpoint::scene::{Problem, Scene, field_reference, scene_from_text};
use bindpoint::setups::with_setup;
use bindpoint::suspension::{Hardpoints, Side};
use bindpoint::truck::{Corner, MeshStore, Truck, assemble_setup};
use nalgebra::Vector3;
use small_scene::{Draft, ball, capsule, point};
use std::path::Path;

mod dice;
mod small_scene;

type V = Vector3<f64>;

fn built(scene: &Scene, setup: Option<&str>) -> Result<Truck, Problem> {
    assemble_setup(scene, setup, &MeshStore::new(Path::new("scenes")))
}

/// A truck with parts on most bodies, a hose, a strap and a differential.
fn draft() -> Draft {
    let mut draft = Draft::new();
    let v = V::new;
    (draft.extended, draft.compressed) = (530.0, 400.0);
    draft.damper_more = "bump_stop: (contact: 452, crushed: 448), \
         strap: (ends: ((on: frame, at: (60, 480, 600)), (on: lower_arm, at: (60, 600, 330))), length: 330)"
        .to_owned();
    for (name, on, from, to) in [
        (
            "leg",
            "lower_arm",
            v(180.0, 335.0, 345.0),
            v(26.0, 681.0, 296.0),
        ),
        (
            "upper leg",
            "upper_arm",
            v(95.0, 440.0, 655.0),
            v(-4.0, 633.0, 678.0),
        ),
        (
            "rod",
            "tie_rod",
            v(-135.0, 366.0, 396.0),
            v(-139.5, 653.0, 374.4),
        ),
        (
            "tube",
            "halfshaft",
            v(0.0, 300.0, 417.2),
            v(0.0, 640.0, 402.6),
        ),
        ("disc", "wheel", v(0.0, 755.0, 400.0), v(0.0, 775.0, 400.0)),
        (
            "bracket",
            "frame",
            v(300.0, 400.0, 700.0),
            v(300.0, 460.0, 700.0),
        ),
        (
            "rack bar",
            "rack",
            v(-135.0, 200.0, 396.0),
            v(-135.0, 340.0, 396.0),
        ),
    ] {
        draft.part(name, on, "each_side", &capsule(&from, &to, 9.0));
    }
    let plate = ball(&v(200.0, 0.0, 250.0), 30.0);
    draft.part("skid plate", "frame", "once", &plate);
    draft.watch("halfshaft", "skid plate", 1.0);
    draft.more += "differential: (front_mounts: [(100, 100, 500), (100, -100, 500)], rear_mounts: [(-100, 0, 500)]),\n";
    draft.more += "hoses: [(name: \"brake hose\", ends: ((on: frame, at: (-140, 560, 520)), (on: knuckle, at: (-60, 700, 520))), longest: 260)],\n";
    draft
}

/// The other side with points of its own.
fn uneven() -> Draft {
    let mut draft = draft();
    draft.more += "other_side: (
        lower_arm: (front_pivot: (181, -336, 344), rear_pivot: (-191, -334, 336), ball_joint: (9, -723, 291)),
        halfshaft: (outer_joint: (0, -700, 400), inner_joint: (0, -285, 418), diameter: 28, inner_limit_deg: 60,
            outer_limit_deg: 75, plunge: (inner: -150, outer: 150)),
        parts: [(name: \"bracket\", on: frame, shape: Ball(centre: (310, -420, 705), radius: 20))],
        hoses: [(name: \"brake hose\", ends: ((on: frame, at: (-141, -561, 522)), (on: knuckle, at: (-60, -700, 520))), longest: 261)],
    ),\n";
    draft
}

fn with_changes(draft: &Draft, changes: &str) -> Scene {
    let mut draft = draft.clone();
    draft.more += &format!("setups: [(name: \"tried\", changes: [{changes}])],\n");
    draft.scene("small")
}

fn tried(draft: &Draft, changes: &str) -> Truck {
    let scene = with_changes(draft, changes);
    built(&scene, Some("tried")).unwrap_or_else(|problem| panic!("{changes}: {problem:?}"))
}

fn refused(draft: &Draft, changes: &str) -> Problem {
    match built(&with_changes(draft, changes), Some("tried")) {
        Err(problem) => problem,
        Ok(_) => panic!("{changes} was built"),
    }
}

/// The change as written for both sides, for the described left one, and for the right one: there `Y` in front of a y (or of
/// a turn about x or z) is a minus sign.
fn forms(change: &str) -> [String; 3] {
    [("", ""), ("side: left, ", ""), ("side: right, ", "-")]
        .map(|(side, sign)| change.replace("SIDE", side).replace('Y', sign))
}

const CHANGES: [&str; 20] = [
    "Damper(SIDElonger: 10)",
    "Damper(SIDElonger: 0, upper_mount: (-20, Y480, 795), lower_eye: (half_angle_deg: 40, pin_axis: (1, Y0.1, 0)))",
    "DamperSpacer((SIDEname: \"top\", thickness: 6, adds: total_length))",
    "BumpStop((SIDEcontact: 455, crushed: 447))",
    "BumpStop((SIDEcontact: 120, crushed: 90, ends: ((on: frame, at: (0, Y600, 450)), (on: lower_arm, at: (0, Y600, 300)))))",
    "Strap(SIDElonger: 15)",
    "UpperArm((SIDEball_joint: (-22, Y671, 684), cone: (half_angle_deg: 40, stud_axis: (0, Y0.1, 1))))",
    "LowerArm((SIDEball_joint: (8, Y724, 289), parts: [(name: \"leg\", on: lower_arm, shape: Ball(centre: (0, Y500, 310), radius: 30))]))",
    "Knuckle(SIDEwheel_centre: (0, Y820, 405), outer_joint: (0, Y702, 401), tie_rod_outer: (-142, Y684, 372), steering_stop_deg: (left: 33, right: 33))",
    "TieRodEnd(SIDEouter: (-142, Y687, 374))",
    "TieRodEnd(SIDElonger: 4)",
    "Halfshaft(SIDElonger: 12, diameter: 30, plunge: (inner: -40, outer: 30), inner_limit_deg: 55)",
    "Hose(SIDEname: \"brake hose\", longer: 20, ends: ((on: frame, at: (-145, Y565, 530)), (on: knuckle, at: (-60, Y700, 520))))",
    "Hose(SIDEname: \"breather\", longest: 460, ends: ((on: frame, at: (0, Y300, 700)), (on: lower_arm, at: (0, Y500, 320))))",
    "Rack(SIDEtie_rod_inner: (-134, Y370, 394))",
    "WheelOffset(SIDEoutboard: 20), AddPart(SIDEpart: (name: \"mark\", on: wheel, shape: Ball(centre: (100, Y800, 500), radius: 9)))",
    "ReplacePart(SIDEname: \"bracket\", shape: Ball(centre: (290, Y440, 690), radius: 25))",
    "AddPart(SIDEpart: (name: \"post\", on: frame, shape: Box(centre: (300, Y700, 800), size: (20, 30, 40), turned_deg: (Y20, 5, Y30))))",
    "RemovePart(SIDEname: \"upper leg\")",
    "MovePart(SIDEname: \"bracket\", by: (5, Y7, -9), turned_deg: (Y10, 20, Y30), about: (300, Y400, 700))",
];

/// Everything that makes a corner, so that two can be compared.
fn corner(truck: &Truck, side: Side) -> &Corner {
    truck.corner(side).expect("both sides are built")
}

/// Facets of a shape drawn for its own side and of a mirrored one round differently by no more, mm.
const SAME_MM: f64 = 1.0e-6;

fn assert_alike(what: &str, a: &Corner, b: &Corner) {
    let (x, y) = (&a.positioner.linkage, &b.positioner.linkage);
    let apart = |p: &V, q: &V| assert!((p - q).norm() < SAME_MM, "{what}: {p} {q}");
    let points = |c: &Corner| {
        let h = &c.positioner.linkage.hardpoints;
        let upper = h.upper_arm().unwrap_or_else(|| panic!("no upper arm"));
        [
            h.lower_front,
            h.lower_rear,
            h.lower_ball,
            upper.front,
            upper.rear,
            upper.ball,
            h.tie_rod_inner,
            h.tie_rod_outer,
            h.wheel_centre,
            h.spindle_axis,
            h.damper_upper,
            h.damper_lower,
            h.outer_joint,
            h.inner_joint,
        ]
    };
    for (p, q) in points(a).iter().zip(&points(b)) {
        apart(p, q);
    }
    for (p, q) in [
        (x.own.knuckle, y.own.knuckle),
        (x.own.tie_rod, y.own.tie_rod),
        (x.own.halfshaft, y.own.halfshaft),
        (x.own.damper, y.own.damper),
    ] {
        apart(&p[0], &q[0]);
        apart(&p[1], &q[1]);
    }
    assert!(
        (a.ride_height_mm - b.ride_height_mm).abs() < SAME_MM,
        "{what}"
    );
    // Limits at a place off the middle, so that every direction in them counts.
    let read = |c: &Corner| -> Vec<(String, [f64; 2])> {
        let there = c.positioner.place(0.04, 0.0).linkage;
        let one = |l: &Limit| {
            let reading = l.reading(&there);
            (l.name(), [reading.value, reading.limit])
        };
        c.limits.iter().chain(&c.bump_contact).map(one).collect()
    };
    for ((name, p), (other, q)) in read(a).iter().zip(&read(b)) {
        assert_eq!(name, other, "{what}");
        assert!(
            (p[0] - q[0]).abs().max((p[1] - q[1]).abs()) < SAME_MM,
            "{what}: {name} {p:?} {q:?}"
        );
    }
    assert_eq!(a.limits.len(), b.limits.len(), "{what}");
    let names = |c: &Corner| {
        let mut names: Vec<String> = c.parts.iter().map(|p| p.name.clone()).collect();
        names.sort_unstable();
        names
    };
    assert_eq!(names(a), names(b), "{what}");
    for part in &a.parts {
        let [p, q] = [a, b].map(|c| boxed(c, &part.name));
        apart(&p[0], &q[0]);
        apart(&p[1], &q[1]);
    }
    let watched = |c: &Corner| {
        let mut all: Vec<(String, String, u64)> =
            (c.pairs.iter().chain(c.resting.iter().map(|r| &r.pair)))
                .map(|pair| {
                    let mut names = [&c.parts[pair.a].name, &c.parts[pair.b].name];
                    names.sort_unstable();
                    (
                        names[0].clone(),
                        names[1].clone(),
                        pair.required_mm.to_bits(),
                    )
                })
                .collect();
        all.sort_unstable();
        all
    };
    assert_eq!(watched(a), watched(b), "{what}");
}

/// The least and greatest coordinates of a part, its rounding taken in.
fn boxed(corner: &Corner, name: &str) -> [V; 2] {
    let part = corner
        .parts
        .iter()
        .find(|p| p.name == name)
        .unwrap_or_else(|| panic!("{name} is drawn"));
    let all = (0..part.surface.vertices.len()).map(|i| part.surface.vertex_in_body(i));
    let far = V::from_element(f64::INFINITY);
    let [least, most] = all.fold([far, -far], |[l, m], p| [l.inf(&p), m.sup(&p)]);
    let round = V::from_element(part.surface.radius_mm);
    [least - round, most + round]
}

/// On its own side a change is what it is for both; on the other nothing is changed, whichever side is described and whether
/// the other one has points of its own.
#[test]
fn a_change_of_one_side_is_the_same_there_and_nothing_on_the_other() {
    for (draft, which) in [(draft(), "even"), (uneven(), "uneven")] {
        let plain = tried(&draft, "");
        for change in CHANGES {
            let [both, left, right] = forms(change);
            let [both, on_left, on_right] = [&both, &left, &right].map(|c| tried(&draft, c));
            for (truck, text, changed) in [
                (&on_left, &left, Side::Left),
                (&on_right, &right, Side::Right),
            ] {
                let what = format!("{which}: {text}");
                assert_alike(
                    &what,
                    corner(truck, changed.opposite()),
                    corner(&plain, changed.opposite()),
                );
                // A part drawn for the left arm goes with the right one's own points; drawn for the right, it is there as drawn.
                if which == "even" || changed == Side::Left || !change.contains("parts: [") {
                    assert_alike(&what, corner(truck, changed), corner(&both, changed));
                }
            }
        }
    }
}

/// The same for both sides, once for each, is the change for both.
#[test]
fn a_change_for_the_left_and_the_same_for_the_right_make_an_even_truck() {
    for change in CHANGES {
        let [both, left, right] = forms(change);
        let both = tried(&draft(), &both);
        let each = tried(&draft(), &format!("{left}, {right}"));
        for side in [Side::Left, Side::Right] {
            assert_alike(change, corner(&each, side), corner(&both, side));
        }
    }
}

/// In inches, the right side described.
#[test]
fn one_sided_changes_hold_in_inches_and_with_the_right_side_described() {
    let text = std::fs::read_to_string("scenes/crake.ron").expect("a demo scene");
    let scene = |changes: &str| {
        let setup = format!("    setups: [(name: \"tried\", changes: [{changes}]),");
        let text = text.replacen("    setups: [", &setup, 1);
        // On one side alone, so that both corners are built.
        let tag = "    parts: [(name: \"tag\", on: frame, fitted: left, shape: Ball(centre: (60, 20, 40), radius: 1)),";
        let text = text.replacen("    parts: [", tag, 1);
        scene_from_text(&text, Path::new("crake.ron"))
            .unwrap_or_else(|e| panic!("{changes}: {e:?}"))
    };
    let truck = |changes: &str| {
        built(&scene(changes), Some("tried")).unwrap_or_else(|p| panic!("{changes}: {p:?}"))
    };
    let plain = truck("");
    // Here `Y` is a minus sign on the described side.
    for change in [
        "Damper(SIDElonger: \"1/4\")",
        "LowerArm((SIDEball_joint: (0.26, Y23.35, 9.36)))",
        "Halfshaft(SIDElonger: 0.3)",
        "TieRodEnd(SIDElonger: \"3 mm\")",
    ] {
        for (side, sign, changed) in [
            ("side: left, ", "", Side::Left),
            ("side: right, ", "-", Side::Right),
        ] {
            let text = change.replace("SIDE", side).replace('Y', sign);
            let one = truck(&text);
            let both = truck(&change.replace("SIDE", "").replace('Y', "-"));
            assert_alike(&text, corner(&one, changed), corner(&both, changed));
            assert_alike(
                &text,
                corner(&one, changed.opposite()),
                corner(&plain, changed.opposite()),
            );
        }
    }
}

#[test]
fn what_both_sides_share_refuses_a_side_and_says_why() {
    for (change, why) in [
        (
            "Tyre(side: left, size: Code(\"285/70R17\"))",
            "two sizes on one axle",
        ),
        (
            "RideHeight(side: left, up: 10, by: preload)",
            "DamperSpacer((side: ..))",
        ),
        ("DifferentialDrop(side: left, by: 10)", "one differential"),
        ("DropBrackets(side: left, by: 10)", "both sides"),
        ("RackLimiter(side: left, left: 10)", "one rack"),
    ] {
        let mut draft = draft();
        draft.more += &format!("setups: [(name: \"tried\", changes: [{change}])],\n");
        let error =
            scene_from_text(&draft.text("small"), Path::new("small.ron")).expect_err(change);
        let help = miette::Diagnostic::help(&error)
            .map(|help| help.to_string())
            .unwrap_or_default();
        assert!(help.contains(why), "{change}: {help}");
    }
    let problem = refused(&draft(), "Rack(side: left, travel: (left: 50, right: 50))");
    assert_eq!(problem.path, "setups[0].changes[0].travel");
    for change in [
        "MovePart(side: left, name: \"skid plate\", by: (0, 0, 1))",
        "RemovePart(side: right, name: \"skid plate\")",
    ] {
        let problem = refused(&draft(), change);
        assert!(problem.what.contains("one `skid plate`"), "{problem:?}");
    }
    let problem = refused(
        &draft(),
        "AddPart(side: left, part: (name: \"x\", on: frame, fitted: once, shape: Ball(centre: (0, 0, 900), radius: 5)))",
    );
    assert_eq!(problem.path, "setups[0].changes[0].part.fitted");
}

/// What one side alone has, or has no more, is changed where it is.
#[test]
fn changes_of_both_sides_reach_what_one_side_has() {
    let post = "AddPart(side: left, part: (name: \"post\", on: frame, shape: Ball(centre: (300, 700, 800), radius: 20)))";
    let truck = tried(
        &draft(),
        &format!("{post}, MovePart(name: \"post\", by: (0, 0, 5))"),
    );
    assert!((boxed(corner(&truck, Side::Left), "post")[0].z - 785.0).abs() < 1.0e-9);
    assert!(
        corner(&truck, Side::Right)
            .parts
            .iter()
            .all(|part| part.name != "post")
    );
    let truck = tried(
        &draft(),
        "RemovePart(side: right, name: \"bracket\"), MovePart(name: \"bracket\", by: (0, 0, 5))",
    );
    let plain = tried(&draft(), "");
    let raised = boxed(corner(&truck, Side::Left), "bracket")[0]
        - boxed(corner(&plain, Side::Left), "bracket")[0];
    assert!((raised.z - 5.0).abs() < 1.0e-9);
    assert!(
        corner(&truck, Side::Right)
            .parts
            .iter()
            .all(|part| part.name != "bracket")
    );
    let hose = "Hose(side: right, name: \"breather\", longest: 460, ends: ((on: frame, at: (0, -300, 700)), (on: lower_arm, at: (0, -500, 320))))";
    let truck = tried(
        &draft(),
        &format!("{hose}, Hose(name: \"breather\", longer: 10)"),
    );
    let limits = |side: Side| {
        corner(&truck, side)
            .limits
            .iter()
            .filter(|l| l.name() == "hose breather")
            .count()
    };
    assert_eq!([limits(Side::Left), limits(Side::Right)], [0, 1]);
    // A name that nobody has stays an error.
    assert!(
        refused(
            &draft(),
            &format!("{post}, MovePart(name: \"pots\", by: (0, 0, 5))")
        )
        .what
        .contains("no part is named `pots`")
    );
}

#[test]
fn a_strap_that_a_side_lacks_is_not_changed_there() {
    let mut uneven = draft();
    uneven.more += "other_side: (damper: (upper_mount: (-20, -470, 790), lower_mount: (10, -560, 325), lower_mount_on: lower_arm,
        extended: 530, compressed: 400)),\n";
    let problem = refused(&uneven, "Strap(side: right, longer: 5)");
    assert!(problem.what.contains("no limit strap"), "{problem:?}");
    tried(&uneven, "Strap(side: left, longer: 5)");
    tried(&uneven, "Strap(longer: 5)");
}

#[test]
fn a_one_sided_change_gives_its_own_sides_points() {
    let problem = refused(
        &draft(),
        "LowerArm((side: right, ball_joint: (8, 724, 289)))",
    );
    assert_eq!(problem.path, "setups[0].changes[0].ball_joint");
    assert!(problem.what.contains("lies on the left one"), "{problem:?}");
    let mut one_side = draft();
    one_side.part(
        "lamp",
        "frame",
        "left",
        &ball(&V::new(400.0, 600.0, 700.0), 20.0),
    );
    let problem = refused(&one_side, "RemovePart(side: right, name: \"lamp\")");
    assert!(
        problem.what.contains("no part on the right side"),
        "{problem:?}"
    );
}

/// A bar that comes to the left frame rail and reaches over to the right side is met there, with its own gap.
#[test]
fn what_one_side_adds_and_reaches_over_is_watched_on_the_other() {
    let bar = "AddPart(side: left, part: (name: \"bar\", on: frame, shape: Capsule(from: (-100, 300, 500), to: (-100, -450, 500), radius: 15)),
        watch: [(a: \"bar\", b: \"rod\", gap: 7)])";
    let truck = tried(&draft(), bar);
    let right = corner(&truck, Side::Right);
    let pair = right.pairs.iter().find(|pair| {
        let names = [&right.parts[pair.a].name, &right.parts[pair.b].name];
        names.iter().any(|n| *n == "bar") && names.iter().any(|n| *n == "rod")
    });
    assert_eq!(pair.expect("it is watched").required_mm, 7.0);
}

#[test]
fn a_larger_tyre_is_fitted_on_both_corners_of_a_one_sided_setup() {
    let mut draft = draft();
    let lathe = "Lathe(from: (0, 815, 400), axis: (0, 1, 0), profile: [(-120, 228), (120, 228), (125, 401.4), (-125, 401.4)])";
    draft.part("tyre", "wheel", "each_side", lathe);
    draft.more += "tyre: (size: Code(\"265/70R17\")),\n";
    let scene = with_changes(&draft, "Strap(side: left, longer: 5)");
    let fitted = with_setup(&scene, "tried").expect("it can be made");
    let larger = bindpoint::setups::resized(&fitted, 850.0, 265.0).expect("a larger tyre");
    let truck = bindpoint::truck::refit(&scene, &larger, &MeshStore::new(Path::new("scenes")))
        .expect("built");
    for side in [Side::Left, Side::Right] {
        let [least, most] = boxed(corner(&truck, side), "tyre");
        // Drawn 0.4 mm smaller than its size says.
        assert!(
            (most.z - least.z - 850.0).abs() < 1.0,
            "{side:?}: {}",
            most.z - least.z
        );
    }
}

// ---------------------------------------------------------------- halfshaft, hoses, rack

/// Where the spider of a shaft `longer` than measured stands: Pythagoras from the outer joint to the flange's axis, along y.
fn spider_y(draft: &Draft, longer: f64) -> f64 {
    let w = draft.outer_joint - draft.inner_joint;
    let length = w.norm() + longer;
    w.y - (length * length - w.x * w.x - w.z * w.z).sqrt()
}

#[test]
fn a_longer_halfshaft_stands_that_much_further_inboard_and_keeps_its_joints_room() {
    let draft = draft();
    let length = (draft.outer_joint - draft.inner_joint).norm() + 26.2;
    for change in [
        "Halfshaft(longer: 26.2)".to_owned(),
        format!("Halfshaft(length: {length:?})"),
        "Halfshaft(longer: 20), Halfshaft(longer: 6.2)".to_owned(),
    ] {
        let truck = tried(&draft, &change);
        for side in [Side::Left, Side::Right] {
            let corner = corner(&truck, side);
            let linkage = corner.positioner.place(0.0, 0.0).linkage;
            assert!(
                (linkage.plunge_mm - spider_y(&draft, 26.2)).abs() < 1.0e-9,
                "{change}"
            );
            assert!((linkage.outer_joint - linkage.inner_joint).norm() - length < 1.0e-9);
            assert_eq!(corner.inner_joint_drop_mm(), 0.0, "the differential stays");
            let ends = ["plunge in", "plunge out"].map(|name| {
                let limit = corner.limits.iter().find(|l| l.name() == name).expect(name);
                limit.reading(&linkage).limit
            });
            assert_eq!(ends, draft.plunge);
            // The bar between the joints is as long as the shaft, and a tube drawn from near the inner joint is drawn out.
            let [least, most] = boxed(corner, "halfshaft");
            let bar = (most - least).norm();
            assert!(bar > length, "{bar}");
            let [before, after] = [&tried(&draft, ""), &truck].map(|t| {
                let [least, most] = boxed(self::corner(t, side), "tube");
                most.y - least.y
            });
            let run = (draft.outer_joint - draft.inner_joint).normalize().y;
            assert!(
                (after - before - 26.2 * run).abs() < 1.0e-6,
                "{before} {after}"
            );
        }
    }
    let problem = refused(&draft, "Halfshaft(longer: -470)");
    assert!(problem.what.contains("nothing is left"), "{problem:?}");
    assert!(
        refused(&draft, "Halfshaft(longer: 5, length: 470)")
            .what
            .contains("both")
    );
}

#[test]
fn a_shaft_that_comes_with_its_parts_takes_them_as_drawn() {
    let draft = draft();
    // In its own length: 20 mm beyond the measured inner joint.
    let along = (draft.inner_joint - draft.outer_joint).normalize();
    let inner = point(&(draft.inner_joint + along * 20.0));
    let change = format!(
        "Halfshaft(longer: 20, parts: [(name: \"tube\", on: halfshaft, shape: Ball(centre: {inner}, radius: 30))])"
    );
    let truck = tried(&draft, &change);
    let left = corner(&truck, Side::Left);
    let [least, most] = boxed(left, "tube");
    let middle = (least + most) * 0.5;
    assert!((middle - left.positioner.linkage.own.halfshaft[0]).norm() < 1.0e-6);
}

#[test]
fn a_mesh_on_a_longer_rod_is_told_of() {
    let mut draft = draft();
    draft.part(
        "collar",
        "halfshaft",
        "each_side",
        "Box(centre: (0, 400, 412), size: (40, 60, 40))",
    );
    let truck = tried(&draft, "Halfshaft(longer: 10)");
    assert!(
        truck
            .warnings
            .iter()
            .any(|w| w.contains("`collar` is drawn as before")),
        "{:?}",
        truck.warnings
    );
}

#[test]
fn a_longer_tie_rod_takes_its_bar_and_its_hose_along() {
    let mut draft = draft();
    draft.more = draft.more.replace(
        "(on: knuckle, at: (-60, 700, 520))), longest: 260",
        "(on: tie_rod, at: (-135.5, 380, 394.9))), longest: 260",
    );
    let plain = tried(&draft, "");
    let truck = tried(&draft, "TieRodEnd(longer: 6)");
    let rod = |t: &Truck| {
        let l = corner(t, Side::Left).positioner.place(0.0, 0.0).linkage;
        (l.tie_rod_outer - l.tie_rod_inner).norm()
    };
    assert!((rod(&truck) - rod(&plain) - 6.0).abs() < 1.0e-9);
    let long = |t: &Truck| {
        let [least, most] = boxed(corner(t, Side::Left), "rod");
        (most - least).y
    };
    let along = (draft.rod[1] - draft.rod[0]).normalize();
    assert!((long(&truck) - long(&plain) - 6.0 * along.y).abs() < 1.0e-6);
    let hose = |t: &Truck| {
        let c = corner(t, Side::Left);
        // In the rod's own drawing, so that steering it does is left out.
        let limit = c
            .limits
            .iter()
            .find(|l| l.name() == "hose brake hose")
            .expect("it is there");
        format!("{:?}", limit.kind)
    };
    let end = V::new(-135.5, 380.0, 394.9) - along * 6.0;
    assert!(
        hose(&truck).contains(&format!("{:.3}", end.y)[..6]),
        "{} {end}",
        hose(&truck)
    );
}

#[test]
fn a_hose_drawn_after_another_tie_rod_end_stands_where_its_rod_is() {
    let mut draft = draft();
    draft.more = draft.more.replace("longest: 260", "longest: 900");
    let hose = "Hose(name: \"brake hose\", ends: ((on: frame, at: (-140, 560, 520)), (on: tie_rod, at: (-140, 685, 372))))";
    let reads = |changes: &str| {
        let truck = tried(&draft, changes);
        let left = corner(&truck, Side::Left);
        let limit = left
            .limits
            .iter()
            .find(|l| l.name() == "hose brake hose")
            .expect("it is there");
        limit
            .reading(&left.positioner.place(0.0, 0.0).linkage)
            .value
    };
    let end = "TieRodEnd(outer: (-140, 685, 342))";
    assert!((reads(&format!("{hose}, {end}")) - reads(&format!("{end}, {hose}"))).abs() < 1.0e-9);
    let problem = refused(&draft, "Hose(name: \"brake\", longer: 5)");
    assert!(problem.help.contains("`brake hose`"), "{problem:?}");
}

#[test]
fn a_limiter_on_the_rack_takes_from_the_locks() {
    let draft = draft();
    let locks = |changes: &str| corner(&tried(&draft, changes), Side::Left).rack_mm;
    assert_eq!(locks(""), [-60.0, 60.0]);
    assert_eq!(locks("RackLimiter(left: 6)"), [-60.0, 54.0]);
    assert_eq!(
        locks("RackLimiter(left: 6, right: 4), RackLimiter(right: 1)"),
        [-55.0, 54.0]
    );
    assert_eq!(
        locks("Rack(travel: (left: 50, right: 40)), RackLimiter(left: 6)"),
        [-40.0, 44.0]
    );
    let problem = refused(
        &draft,
        "RackLimiter(left: 6), Rack(travel: (left: 50, right: 40))",
    );
    assert!(
        problem.what.contains("a limiter on it comes before it"),
        "{problem:?}"
    );
    assert!(
        refused(&draft, "RackLimiter(right: 60)")
            .what
            .contains("all of the rack's travel")
    );
    assert!(
        refused(&draft, "RackLimiter(right: -2)")
            .help
            .contains("Rack(travel")
    );
}

// ---------------------------------------------------------------- drop brackets

/// Everything lowered together is the same suspension, lower: each limit reads as before, each wheel stands lower by the
/// brackets, and what stays on the frame stays.
#[test]
fn drop_brackets_lower_the_whole_suspension_as_it_stands() {
    let mut draft = draft();
    // Its upper end stays on the frame: a hose is what drop brackets pull at.
    draft.more = draft.more.replace("longest: 260", "longest: 900");
    let plain = tried(&draft, "");
    let truck = tried(
        &draft,
        "DropBrackets(by: 40, frame_parts: [\"skid plate\"]), Strap(longer: 60)",
    );
    let down = V::new(0.0, 0.0, -40.0);
    for side in [Side::Left, Side::Right] {
        let (before, after) = (corner(&plain, side), corner(&truck, side));
        assert!((after.ride_height_mm - before.ride_height_mm).abs() < 1.0e-6);
        for (travel_mm, rack_mm) in [(-60.0, 0.0), (0.0, 30.0), (50.0, -50.0)] {
            let [a, b] = [before, after].map(|c| {
                c.position(travel_mm, rack_mm)
                    .expect("within reach")
                    .linkage
            });
            assert!((b.wheel_centre - a.wheel_centre - down).norm() < 1.0e-6);
            assert!((b.inner_joint - a.inner_joint - down).norm() < 1.0e-6);
            assert!((b.plunge_mm - a.plunge_mm).abs() < 1.0e-6);
            assert!((b.damper_mm - a.damper_mm).abs() < 1.0e-6);
            for (x, y) in before.limits.iter().zip(&after.limits) {
                let from_frame = x.name().starts_with("hose")
                    || ["limit strap", "bump stop crushed"].contains(&x.name().as_str());
                let miss = (x.reading(&a).value - y.reading(&b).value).abs();
                assert_eq!(miss > 1.0e-6, from_frame, "{}: {miss}", x.name());
            }
        }
        for name in ["leg", "upper leg", "rack bar", "skid plate"] {
            assert!(
                (boxed(after, name)[0] - boxed(before, name)[0] - down).norm() < 1.0e-6,
                "{name}"
            );
        }
        assert_eq!(boxed(after, "bracket"), boxed(before, "bracket"));
        // Straight from the frame's end to the one on the arm, both as drawn, 40 mm lower.
        let strap = after
            .limits
            .iter()
            .find(|l| l.name() == "limit strap")
            .expect("a strap");
        let span = V::new(0.0, 600.0 - 480.0, 330.0 - 40.0 - 600.0).norm();
        let reads = strap
            .reading(&after.positioner.place(0.0, 0.0).linkage)
            .value;
        assert!((reads - span).abs() < 1.0e-9, "{reads} {span}");
    }
}

#[test]
fn drop_brackets_lower_what_they_are_said_to() {
    let draft = draft();
    let truck = tried(
        &draft,
        "DropBrackets(by: 15, of: [lower_arm, rack]), DropBrackets(by: 5, of: [rack])",
    );
    let plain = tried(&draft, "");
    let [h, was] =
        [&truck, &plain].map(|t| corner(t, Side::Left).positioner.linkage.hardpoints.clone());
    let fell = |now: &V, was: &V| was.z - now.z;
    let front = |h: &Hardpoints| h.upper_arm().map(|arm| arm.front).unwrap_or_default();
    assert_eq!(fell(&h.lower_front, &was.lower_front), 15.0);
    assert_eq!(
        fell(&h.damper_lower, &was.damper_lower),
        15.0,
        "it sits on the lower arm"
    );
    assert_eq!(fell(&h.tie_rod_inner, &was.tie_rod_inner), 20.0);
    assert_eq!(fell(&front(&h), &front(&was)), 0.0);
    assert_eq!(fell(&h.damper_upper, &was.damper_upper), 0.0);
    assert_eq!(fell(&h.inner_joint, &was.inner_joint), 0.0);
    // The rods keep their lengths.
    for (own, before) in [
        (corner(&truck, Side::Left), corner(&plain, Side::Left)),
        (corner(&truck, Side::Right), corner(&plain, Side::Right)),
    ] {
        assert_eq!(
            own.positioner.linkage.own.tie_rod,
            before.positioner.linkage.own.tie_rod
        );
    }
    let problem = refused(&draft, "DropBrackets(by: 15, frame_parts: [\"leg\"])");
    assert_eq!(problem.path, "setups[0].changes[0].frame_parts[0]");
    let problem = refused(&draft, "DropBrackets(by: 15, of: [rack, rack])");
    assert!(problem.what.contains("twice"), "{problem:?}");
    let mut without = draft.clone();
    without.more = without
        .more
        .split_once("differential")
        .map(|(a, b)| a.to_owned() + b.split_once('\n').expect("a line").1)
        .expect("a differential");
    let problem = refused(&without, "DropBrackets(by: 15)");
    assert!(
        problem.help.contains("leave the differential out"),
        "{problem:?}"
    );
}

#[test]
fn the_order_of_new_changes_does_not_matter() {
    let changes = [
        "DropBrackets(by: 12)",
        "Halfshaft(longer: 8)",
        "TieRodEnd(longer: 3)",
        "LowerArm((ball_joint: (8, 724, 289)))",
        "AddPart(part: (name: \"mark\", on: tie_rod, shape: Ball(centre: (-135.5, 380, 394.9), radius: 12)))",
        "AddPart(part: (name: \"cuff\", on: halfshaft, shape: Ball(centre: (0, 250, 419.4), radius: 22)))",
        "Strap(side: left, longer: 40)",
    ];
    let mut draft = draft();
    draft.more = draft.more.replace("longest: 260", "longest: 900");
    draft.damper_more = draft.damper_more.replace("length: 330", "length: 360");
    let first = tried(&draft, &changes.join(", "));
    for turn in 1..changes.len() {
        let mut other = changes;
        other.rotate_left(turn);
        if turn % 2 == 1 {
            other.reverse();
        }
        let truck = tried(&draft, &other.join(", "));
        for side in [Side::Left, Side::Right] {
            assert_alike(
                &format!("rotated by {turn}"),
                corner(&truck, side),
                corner(&first, side),
            );
        }
    }
}

#[test]
fn the_schema_tells_of_every_new_change() {
    let schema = field_reference();
    for word in [
        "side*: `left` or `right`",
        "Halfshaft: ",
        "Hose: ",
        "Rack: ",
        "RackLimiter: ",
        "DropBrackets: ",
        "SpacerChange: ",
        "BumpStopChange: ",
        "frame_parts*",
        "brackets*",
        "differential: Front differential",
    ] {
        assert!(schema.contains(word), "{word}");
    }
    for hidden in ["other_corner", "tie_rod_longer"] {
        assert!(!schema.contains(hidden), "no file says it: {hidden}");
    }
}
