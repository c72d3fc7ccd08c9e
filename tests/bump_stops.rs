//! Where the bump stop sits decides what moves it; a longer damper gains stroke; what isn't known isn't zero.

use bindpoint::compare::compare;
use bindpoint::findings::{Status, StopId};
use bindpoint::kinematics::Position;
use bindpoint::limits::{Limit, Reading};
use bindpoint::output::{Datum, SweepText, Units, csv::write_sweep, damper_text, sweep_text};
use bindpoint::scene::{
    BumpStop, BumpStopOn, Change, End, Hung, Point, Problem, Scene, Setup, Spacer, SpacerEffect,
    scene_from_text,
};
use bindpoint::suspension::{Body, Side};
use bindpoint::sweep::{SweepOptions, damper_findings, damper_status, status, sweep};
use bindpoint::truck::{Corner, MeshStore, Truck, assemble_setup};
use std::path::Path;

fn scene(name: &str) -> Scene {
    let path = Path::new("scenes").join(format!("{name}.ron"));
    let text = std::fs::read_to_string(&path).expect("a demo scene");
    scene_from_text(&text, &path).expect("it reads")
}

fn built(scene: &Scene, changes: Vec<Change>) -> Result<Truck, Problem> {
    let mut scene = scene.clone();
    scene.setups.push(Setup {
        name: "tried".to_owned(),
        on: None,
        changes,
    });
    assemble_setup(&scene, Some("tried"), &MeshStore::new(Path::new("scenes")))
}

fn spacer(thickness: f64, adds: SpacerEffect) -> Change {
    Change::DamperSpacer(
        Spacer {
            name: "tried".to_owned(),
            thickness,
            adds,
        }
        .into(),
    )
}

fn damper(longer: Option<f64>, body_gains: Option<f64>, lengths: [Option<f64>; 2]) -> Change {
    Change::Damper {
        side: None,
        longer,
        body_gains,
        extended: lengths[0],
        compressed: lengths[1],
        upper_mount: None,
        lower_mount: None,
        upper_eye: None,
        lower_eye: None,
        parts: Vec::new(),
    }
}

fn longer(mm: f64) -> Change {
    damper(Some(mm), None, [None, None])
}

fn stop(on: Option<BumpStopOn>, ends: Option<(End, End)>, contact: f64, crushed: f64) -> BumpStop {
    BumpStop {
        contact,
        crushed,
        on,
        ends,
        measured_between: None,
    }
}

/// A pad on the lower arm below a plate on the frame.
fn pad(contact: f64, crushed: f64) -> BumpStop {
    let end = |on: Body, at: Point| End { on, at };
    let plate = end(Body::Frame, Point(60.0, 520.0, 520.0));
    let rubber = end(Body::LowerArm, Point(60.0, 560.0, 330.0));
    stop(None, Some((plate, rubber)), contact, crushed)
}

fn limit(corner: &Corner, name: &str) -> Reading {
    let measured = corner.positioner.place(0.0, 0.0);
    let limits = corner.limits.iter().chain(&corner.bump_contact);
    let found: Option<&Limit> = limits.into_iter().find(|l| l.name() == name);
    found.expect(name).reading(&measured.linkage)
}

/// Damper extended and compressed, bump stop touched and crushed, as limits.
fn lengths(truck: &Truck) -> [f64; 4] {
    let names = [
        "damper extended",
        "damper compressed",
        "bump stop touched",
        "bump stop crushed",
    ];
    names.map(|name| limit(&truck.corners[0], name).limit)
}

fn near(what: &str, got: f64, expected: f64, tolerance: f64) {
    assert!(
        (got - expected).abs() <= tolerance,
        "{what}: {got}, expected {expected} +- {tolerance}"
    );
}

/// Sums of a few decimal numbers below a thousand.
const ROUNDING: f64 = 1.0e-9;

fn lengths_are(what: &str, truck: &Truck, expected: [f64; 4]) {
    for (got, expected) in lengths(truck).into_iter().zip(expected) {
        near(what, got, expected, ROUNDING);
    }
}

#[test]
fn a_total_length_spacer_moves_a_stop_on_the_rod_and_leaves_one_on_the_frame() {
    for (on, moved) in [
        (Some(BumpStopOn::Rod), 12.0),
        (Some(BumpStopOn::Frame), 0.0),
        // What is left out looks at the most bump.
        (None, 0.0),
    ] {
        let mut s = scene("tarnwood");
        s.damper.bump_stop = Some(stop(on, None, 440.0, 428.0));
        let spaced = built(&s, vec![spacer(12.0, SpacerEffect::TotalLength)]).expect("built");
        lengths_are(
            "spaced",
            &spaced,
            [529.05, 427.0, 440.0 + moved, 428.0 + moved],
        );
        let preloaded = built(&s, vec![spacer(12.0, SpacerEffect::PreloadOnly)]).expect("built");
        lengths_are("preloaded", &preloaded, [517.05, 415.0, 440.0, 428.0]);
    }
    // Spacers of the scene itself count alike: hollin's stop is on the rod, below a spacer of 12 mm.
    let hollin = built(&scene("hollin"), Vec::new()).expect("built");
    lengths_are("hollin", &hollin, [676.0, 482.0, 530.0, 508.0]);
}

#[test]
fn a_longer_damper_gains_stroke_and_takes_a_stop_on_its_rod_along() {
    for (on, moved) in [(BumpStopOn::Rod, 1.0), (BumpStopOn::Frame, 0.0)] {
        let mut s = scene("tarnwood");
        s.damper.bump_stop = Some(stop(Some(on), None, 440.0, 428.0));
        let tried = |change: Change| built(&s, vec![change]).expect("built");
        let at = |extended: f64, closed: f64| {
            let moved = moved * (closed - 415.0);
            [extended, closed, 440.0 + moved, 428.0 + moved]
        };
        // Extended = dead + 2 strokes, compressed = dead + 1 stroke.
        lengths_are("an inch", &tried(longer(25.4)), at(542.45, 427.7));
        lengths_are("shorter", &tried(longer(-10.0)), at(507.05, 410.0));
        let by_body = |mm| damper(Some(20.0), Some(mm), [None, None]);
        lengths_are("a spacer", &tried(by_body(20.0)), at(537.05, 435.0));
        lengths_are("rod alone", &tried(by_body(0.0)), at(537.05, 415.0));
        let own = damper(None, None, [Some(530.0), Some(420.0)]);
        lengths_are("its own", &tried(own), at(530.0, 420.0));
    }
}

#[test]
fn a_dampers_lengths_that_say_too_little_or_too_much_are_refused() {
    let refused = |change: Change| match built(&scene("tarnwood"), vec![change]) {
        Err(problem) => problem,
        Ok(_) => panic!("it was built"),
    };
    let half = refused(damper(None, None, [Some(530.0), None]));
    assert!(half.what.contains("only one of"), "{half:?}");
    let half = refused(damper(None, None, [None, Some(420.0)]));
    assert!(half.help.contains("give both"), "{half:?}");
    let both = refused(damper(Some(10.0), None, [None, Some(420.0)]));
    assert!(both.path.ends_with("longer"), "{both:?}");
    let gains = refused(damper(None, Some(10.0), [None, None]));
    assert!(gains.path.ends_with("body_gains"), "{gains:?}");
    let endless = refused(damper(Some(10.0), Some(f64::NAN), [None, None]));
    assert!(endless.path.ends_with("body_gains"), "{endless:?}");
}

#[test]
fn a_bump_stop_that_makes_no_sense_is_refused_where_it_stands() {
    let refused = |stop: BumpStop| {
        let mut s = scene("tarnwood");
        s.damper.bump_stop = Some(stop);
        match built(&s, Vec::new()) {
            Err(problem) => problem,
            Ok(_) => panic!("it was built"),
        }
    };
    let both = BumpStop {
        on: Some(BumpStopOn::Rod),
        ..pad(165.0, 150.0)
    };
    assert!(refused(both).what.contains("both `on` and `ends`"));
    let turned = refused(pad(150.0, 165.0));
    assert!(turned.what.contains("not above full crush"), "{turned:?}");
    assert!(turned.help.contains("between its ends"), "{turned:?}");
    let mut steered = pad(165.0, 150.0);
    if let Some((_, rubber)) = &mut steered.ends {
        rubber.on = Body::Knuckle;
    }
    assert!(refused(steered).what.contains("end on knuckle"));
    // Crushed further than the measured position already.
    let crushed = refused(pad(230.0, 220.0));
    assert!(crushed.what.contains("bump stop crushed is already past"));
}

/// Wheel travel, straight ahead, at which something falls to zero in bump.
fn bump_where(corner: &Corner, left: impl Fn(&Position) -> f64) -> f64 {
    let left = |travel: f64| left(&corner.position(travel, 0.0).expect("within reach"));
    let (mut low, mut high) = (0.0, 130.0);
    assert!(left(low) > 0.0 && left(high) < 0.0);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if left(middle) > 0.0 {
            low = middle
        } else {
            high = middle
        }
    }
    low
}

/// Where a pad's two ends are this far apart: points carried by the placements, nothing of the limits.
fn pad_travel(corner: &Corner, distance_mm: f64) -> f64 {
    let (a, b) = pad(165.0, 150.0).ends.expect("a pad");
    let y = corner.side.outboard();
    let v = |p: Point| nalgebra::Vector3::new(p.0, p.1 * y, p.2);
    bump_where(corner, |p| {
        (p.linkage.lower_arm.point(&v(b.at)) - v(a.at)).norm() - distance_mm
    })
}

#[test]
fn a_pad_of_its_own_ends_the_bump_whatever_the_damper_does() {
    let mut s = scene("tarnwood");
    s.damper.bump_stop = Some(pad(165.0, 150.0));
    let options = SweepOptions {
        rack_positions: 3,
        ..SweepOptions::default()
    };
    for (changes, body_first) in [
        (vec![], false),
        (vec![longer(10.0)], false),
        (vec![spacer(6.0, SpacerEffect::TotalLength)], false),
        (vec![damper(None, None, [Some(530.0), Some(455.0)])], true),
    ] {
        let truck = built(&s, changes).expect("built");
        let corner = truck.corner(Side::Left).expect("the described one");
        let (touched, crushed) = (pad_travel(corner, 165.0), pad_travel(corner, 150.0));
        let found = sweep(&truck, &options, &|_, _| {});
        let corners = std::iter::once(&found.worse).chain(&found.other);
        for found in corners {
            let straight = &found.free_travel[1];
            // The search brackets travel within 0.01 mm.
            if body_first {
                assert_eq!(
                    straight.bump_stop.as_ref().map(StopId::name).as_deref(),
                    Some("damper compressed")
                );
                assert!(straight.bump_mm < crushed - 0.01);
            } else {
                assert_eq!(
                    straight.bump_stop.as_ref().map(StopId::name).as_deref(),
                    Some("bump stop crushed")
                );
                near("bump", straight.bump_mm, crushed, 0.0101);
                let told = found.bump_stop_touched_mm.expect("touched");
                near("touched", told, touched, 1.0e-6);
            }
        }
        let damper = damper_findings(&truck, 0.0);
        let crush = &damper.worse.crush;
        let pad = crush.pad.as_ref().expect("a pad");
        assert_eq!(pad.fitted_mm, Some(150.0));
        let at = corner.position(crushed, 0.0).expect("within reach");
        let told = crush.bump_stop_crushed_mm.expect("crushed");
        near("damper when crushed", told, at.linkage.damper_mm, 1.0e-6);
        let spare = crush.spare_mm.expect("crushed");
        assert_eq!(spare < 0.0, body_first, "{spare}");
        assert!(
            damper.worse.undecided.is_empty(),
            "{:?}",
            damper.worse.undecided
        );
        assert_eq!(damper_status(&damper) == Status::Found, body_first);
        let text = damper_text(&damper, Units::Mm, damper_status(&damper));
        assert!(text.contains("bump stop crushed, at least, mm"), "{text}");
    }
}

/// The other side's own damper gets the mirror image of a setup's pad: both sides touch at the same travel.
#[test]
fn a_setups_pad_is_mirrored_to_the_other_sides_own_damper() {
    let mut s = scene("tarnwood");
    let mut own = s.damper.clone();
    for mount in [&mut own.upper_mount, &mut own.lower_mount] {
        mount.1 = -mount.1;
    }
    s.other_side.damper = Some(own);
    let truck = built(&s, vec![Change::BumpStop(pad(165.0, 150.0).into())]).expect("built");
    let [left, right] = [Side::Left, Side::Right].map(|side| {
        let corner = truck.corner(side).expect("both are built");
        limit(corner, "bump stop crushed").value
    });
    near("both sides", left, right, ROUNDING);
}

#[test]
fn the_body_to_order_is_the_safe_length_less_the_spacers_that_add_to_it() {
    for (name, spacers) in [("tarnwood", 0.0), ("hollin", 12.0)] {
        let truck = built(&scene(name), Vec::new()).expect("built");
        let found = damper_findings(&truck, 10.0);
        let corner = &found.worse;
        let (safe, fitted) = (
            corner.damper.safe_mm.expect("safe"),
            corner.damper.fitted_mm.expect("fitted"),
        );
        let body = corner.body.expect("a body");
        near("spacers", body.spacers_mm, spacers, ROUNDING);
        near("body", body.extended_mm, safe - spacers, ROUNDING);
        // Half of what it is longer than the one fitted.
        let closed = corner.crush.closed_mm - spacers + 0.5 * (safe - fitted);
        near("closed", body.closed_mm, closed, ROUNDING);
        let text = damper_text(&found, Units::Mm, damper_status(&found));
        let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
        let length = Units::Mm.at_most(safe - spacers);
        let says = format!("To order: a body of at most {length} mm extended by itself");
        assert!(words.contains(&says), "{says}: {text}");
        assert_eq!(
            words.contains("since spacers add 12"),
            spacers > 0.0,
            "{text}"
        );
        let json = serde_json::to_value(&found).expect("JSON");
        assert_eq!(json["worse"]["body"]["extended_mm"], safe - spacers);
    }
    // Where no damper is safe, there is none to order.
    let crake = built(&scene("crake"), Vec::new()).expect("built");
    assert_eq!(damper_findings(&crake, 10.0).worse.body, None);
}

#[test]
fn a_setups_words_say_how_the_growth_is_shared_and_where_the_stop_sits() {
    let mut s = scene("crake");
    let setups = [
        ("shared", longer(0.5)),
        ("shorter", longer(-0.5)),
        ("body", damper(Some(0.5), Some(0.5), [None, None])),
        (
            "rod",
            Change::BumpStop(stop(Some(BumpStopOn::Rod), None, 14.0, 13.5).into()),
        ),
    ];
    s.setups = setups
        .into_iter()
        .map(|(name, change)| Setup {
            name: name.to_owned(),
            on: None,
            changes: vec![change],
        })
        .collect();
    let names: Vec<Option<String>> = s.setups.iter().map(|s| Some(s.name.clone())).collect();
    let meshes = MeshStore::new(Path::new("scenes"));
    let comparison = compare(&s, &names, &meshes, false, &|_| {}).expect("compared");
    let words: Vec<&str> = comparison
        .comparison
        .columns
        .iter()
        .map(|c| c.changes[0].as_str())
        .collect();
    assert_eq!(
        words,
        [
            "damper 0.5 inch longer, closed 0.25 inch longer (body and rod share the difference)",
            "damper 0.5 inch shorter, closed 0.25 inch shorter (body and rod share the difference)",
            "damper 0.5 inch longer, closed 0.5 inch longer (what its body gains)",
            "bump stop on the damper's rod touched at 14 and crushed at 13.5 inch",
        ]
    );
}

/// A steer that isn't known is printed as `-`, left empty in CSV and null in JSON; never as straight ahead.
#[test]
fn a_steer_that_is_not_known_is_not_zero() {
    let truck = built(&scene("crake"), Vec::new()).expect("built");
    let options = SweepOptions {
        rack_positions: 3,
        ..SweepOptions::default()
    };
    let mut found = sweep(&truck, &options, &|_, _| {});
    for row in &found.worse.free_travel {
        assert!(row.steer_deg.is_some() && row.toe_deg.is_some());
    }
    let row = &mut found.worse.free_travel[0];
    (row.steer_deg, row.toe_deg) = (None, None);
    let style = SweepText {
        units: Units::Mm,
        datum: Datum::Measured,
        status: status(&found),
        tables_of: None,
        wrap_leading_lines: false,
    };
    let text = sweep_text(&found, &style);
    assert!(text.contains("steer -)"), "{text}");
    let json = serde_json::to_value(&found).expect("JSON");
    let row = &json["worse"]["free_travel"][0];
    assert!(row["steer_deg"].is_null() && row["toe_deg"].is_null());
    let folder = tempfile::tempdir().expect("a folder");
    write_sweep(folder.path(), &found).expect("written");
    let csv = std::fs::read_to_string(folder.path().join("free_travel.csv")).expect("read");
    let first = csv.lines().nth(1).expect("a row");
    let fields: Vec<&str> = first.split(',').collect();
    assert_eq!(fields[2..4], ["", ""], "{first}");
}

/// A stop on the frame is measured between the eyes that are there when it comes, lowered by brackets or not: what moves them
/// by a hair later moves what it reads by no more.
#[test]
fn a_stop_on_the_frame_reads_the_same_before_and_after_an_eye_moves_by_a_hair() {
    let hair = Change::Damper {
        side: None,
        longer: None,
        body_gains: None,
        extended: None,
        compressed: None,
        upper_mount: Some(Point(-20.0, 470.0, 790.001)),
        lower_mount: None,
        upper_eye: None,
        lower_eye: None,
        parts: Vec::new(),
    };
    let down = |by: f64, of: Hung| Change::DropBrackets {
        by,
        of: Some(vec![of]),
        frame_parts: Vec::new(),
        parts: Vec::new(),
    };
    let mut s = scene("tarnwood");
    s.damper.bump_stop = Some(stop(None, None, 440.0, 428.0));
    s.damper.extended += 40.0;
    let mut other = s.clone();
    let mut arm = other.lower_arm;
    for point in [
        &mut arm.front_pivot,
        &mut arm.rear_pivot,
        &mut arm.ball_joint,
    ] {
        point.1 = -point.1;
    }
    arm.ball_joint.2 += 25.0;
    other.other_side.lower_arm = Some(arm);
    let lowered = |damper: f64| {
        let mut s = s.clone();
        s.brackets.damper = damper;
        s
    };
    let brought = || Change::BumpStop(stop(None, None, 435.0, 425.0).into());
    let reads = |scene: &Scene, changes: Vec<Change>| {
        let truck = built(scene, changes).expect("built");
        truck
            .corners
            .iter()
            .map(|c| limit(c, "bump stop crushed").value)
            .collect::<Vec<f64>>()
    };
    for (what, scene, first) in [
        ("another arm on the other side", other, vec![]),
        ("an eye that the scene lowers", lowered(20.0), vec![]),
        ("an eye that the scene raises", lowered(-20.0), vec![]),
        (
            "a stop after lowered eyes",
            s.clone(),
            vec![down(15.0, Hung::Damper), brought()],
        ),
        (
            "a stop before lowered eyes",
            s.clone(),
            vec![brought(), down(15.0, Hung::Damper)],
        ),
    ] {
        let before = reads(&scene, first.clone());
        for change in [
            hair.clone(),
            down(0.001, Hung::Rack),
            down(0.001, Hung::Damper),
        ] {
            let mut changes = first.clone();
            changes.push(change);
            let after = reads(&scene, changes);
            for (a, b) in before.iter().zip(&after) {
                near(what, *b, *a, 0.0011);
            }
        }
    }
    // What comes before its eyes go down stays where it was, what comes after is measured between them.
    let eyes = |changes| reads(&s, changes)[0];
    let stays = eyes(vec![brought(), down(15.0, Hung::Damper)]);
    let goes = eyes(vec![down(15.0, Hung::Damper), brought()]);
    near("stays", stays, eyes(vec![brought()]), ROUNDING);
    assert!(stays - goes > 10.0, "{stays} {goes}");
}
