//! What is printed errs to the safe side and never says otherwise than the findings: gaps, travels and angles left round
//! down, needed ones up; locks are named by the way the wheel steers; what touches does so by one rule.

mod dice;

use bindpoint::findings::{DamperFindings, SweepFindings, TightGap};
use bindpoint::kinematics::wheel_angles;
use bindpoint::output::{
    Datum, PoseText, SweepText, Units, damper_text, degrees_against, degrees_at_least,
    degrees_at_most, pose_text, signed_degrees_free_to, sweep_text,
};
use bindpoint::scene::{Scene, scene_from_text};
use bindpoint::suspension::{Lock, Side, Steered};
use bindpoint::sweep::{SweepOptions, position_findings, status, sweep};
use bindpoint::truck::{TOUCH_MM, Truck, assemble, load, touches};
use dice::Dice;
use std::path::Path;

const UNITS: [Units; 3] = [Units::Mm, Units::Inch, Units::Sixteenths];
/// What a number may miss a printed digit by and still be it, mm or degrees: the calculation's own rounding.
const ROUNDING: f64 = 1.01e-7;

/// One printed digit, mm.
fn digit_mm(units: Units) -> f64 {
    match units {
        Units::Mm => 0.1,
        Units::Inch => 0.254,
        Units::Sixteenths => 25.4 / 16.0,
    }
}

/// Random lengths, many of them next to a printed digit.
fn lengths(dice: &mut Dice, units: Units) -> f64 {
    let any = dice.between(-300.0, 300.0);
    let digit = digit_mm(units);
    let near = [1.0e-9, 1.0e-6, 1.0e-3, 0.02];
    match dice.below(3) {
        0 => any,
        1 => (any / digit).round() * digit,
        _ => (any / digit).round() * digit + dice.between(-1.0, 1.0) * near[dice.below(4)],
    }
}

#[test]
fn printed_lengths_read_back_are_never_on_the_unsafe_side() {
    let mut dice = Dice::new(9);
    for units in UNITS {
        let digit = digit_mm(units) + ROUNDING;
        let read = |text: &str| units.typed(text).unwrap_or_else(|| panic!("{text}"));
        for _ in 0..20_000 {
            let mm = lengths(&mut dice, units);
            let (most, least) = (read(&units.at_most(mm)), read(&units.at_least(mm)));
            assert!(most <= mm + ROUNDING && mm - most < digit, "{mm} {most}");
            assert!(least >= mm - ROUNDING && least - mm < digit, "{mm} {least}");
            assert_eq!(read(&units.signed_at_most(mm)), most);
            assert_eq!(read(&units.signed_at_least(mm)), least);
            // Free to there, going that way: never further out.
            let (down, up) = (
                units.signed_free_to(mm, -1.0),
                units.signed_free_to(mm, 1.0),
            );
            assert!(read(&down) >= mm - ROUNDING && read(&up) <= mm + ROUNDING);
            let nearest = read(&units.length(mm));
            assert!((nearest - mm).abs() <= 0.5 * digit);
            let said = units.at_most_with_unit(mm);
            assert_eq!(read(&said), most, "{said}");
            assert_eq!(read(&units.at_least_with_unit(mm)), least);
        }
    }
}

#[test]
fn printed_angles_read_back_are_never_on_the_unsafe_side() {
    let mut dice = Dice::new(10);
    let read = |text: String| text.parse::<f64>().expect("a number");
    for _ in 0..20_000 {
        let deg = lengths(&mut dice, Units::Mm);
        assert!(read(degrees_at_most(deg)) <= deg + ROUNDING);
        assert!(read(degrees_at_least(deg)) >= deg - ROUNDING);
        let free = read(signed_degrees_free_to(deg));
        assert!(free.abs() <= deg.abs() + ROUNDING);
    }
}

/// Whether a printed gap reads as short of a printed required one.
fn reads_short(there: &str, needed: &str, read: &dyn Fn(&str) -> f64) -> bool {
    match there {
        "as required" => false,
        _ if there.starts_with("just below") => true,
        _ => read(there) < read(needed) - 1.0e-9,
    }
}

#[test]
fn a_gap_prints_as_short_of_what_is_required_only_where_it_is() {
    let mut dice = Dice::new(11);
    for units in UNITS {
        let read = |text: &str| units.typed(text).unwrap_or_else(|| panic!("{text}"));
        for _ in 0..20_000 {
            let needed = lengths(&mut dice, units).abs();
            let off = [0.0, 1.0e-9, 1.0e-6, 1.0e-3, 0.3, 5.0][dice.below(6)];
            let there = needed + off * dice.between(-1.0, 1.0);
            let proved = there - off * dice.between(0.0, 0.5);
            let ([gap, low], required) = units.against([there, proved], needed);
            for (value, text) in [(there, &gap), (proved, &low)] {
                assert_eq!(
                    reads_short(text, &required, &read),
                    value < needed,
                    "{value} of {needed}: {text} of {required}"
                );
            }
            assert!(read(&required) >= needed - ROUNDING);
        }
    }
    let read = |text: &str| text.parse::<f64>().expect("a number");
    for _ in 0..20_000 {
        let needed = lengths(&mut dice, Units::Mm);
        let there = needed + dice.between(-0.2, 0.2);
        let ([gap], required) = degrees_against([there], needed);
        assert_eq!(reads_short(&gap, &required, &read), there < needed);
    }
}

fn demo(name: &str) -> Truck {
    load(Path::new(&format!("scenes/{name}.ron"))).expect("demo scene")
}

fn swept(name: &str) -> SweepFindings {
    let options = SweepOptions {
        rack_positions: 3,
        ..SweepOptions::default()
    };
    sweep(&demo(name), &options, &|_, _| {})
}

fn page(findings: &SweepFindings, units: Units) -> String {
    sweep_text(
        findings,
        &SweepText {
            units,
            datum: Datum::Measured,
            status: status(findings),
            tables_of: None,
            wrap_leading_lines: false,
        },
    )
}

/// The cells of a table's row, read off the column heads' ends: numbers stand under them.
fn row<'t>(page: &'t str, begins: &str) -> Vec<&'t str> {
    let line = page
        .lines()
        .find(|l| l.starts_with(begins))
        .unwrap_or_else(|| panic!("no row `{begins}` in\n{page}"));
    let cells = line[begins.len()..].split("  ").map(str::trim);
    cells.filter(|cell| !cell.is_empty()).collect()
}

#[test]
fn a_gap_proved_at_three_millimetres_is_no_eighth_of_an_inch() {
    let mut findings = swept("crake");
    let gap = |gap_mm, at_least_mm| TightGap {
        a: "planted".to_owned(),
        b: "rod".to_owned(),
        gap_mm,
        at_least_mm,
        required_mm: 25.4 / 8.0,
        travel_mm: 0.0,
        rack_mm: 0.0,
        point_a_mm: [0.0; 3],
        point_b_mm: [0.0; 3],
    };
    findings.worse.tightest_gaps = vec![gap(3.16, 3.02)];
    let said = page(&findings, Units::Sixteenths);
    let cells = row(&said, "planted - rod");
    assert_eq!(&cells[..3], ["1/16", "1/16", "1/8"], "{said}");
    assert!(said.contains("TOO SMALL"));
    // Found at an eighth and a little more, proved at an eighth.
    findings.worse.tightest_gaps = vec![gap(0.16 * 25.4, 25.4 / 8.0)];
    let said = page(&findings, Units::Sixteenths);
    assert_eq!(&row(&said, "planted - rod")[..3], ["1/8", "1/8", "1/8"]);
    assert!(!said.contains("TOO SMALL"));
}

#[test]
fn every_gap_row_of_the_demos_says_what_its_findings_say() {
    for name in ["crake", "tarnwood", "hollin", "whinchat"] {
        let findings = swept(name);
        for units in UNITS {
            let said = page(&findings, units);
            for gap in findings.worse.tightest_gaps.iter().take(8) {
                let begins = format!("{} - {}", gap.a, gap.b);
                // A name broken over two lines has its numbers on the first.
                let Some(line) = said.lines().find(|l| l.starts_with(&begins)) else {
                    continue;
                };
                assert_eq!(
                    line.contains("TOO SMALL"),
                    gap.gap_mm < gap.required_mm,
                    "{line}"
                );
                let cells = row(&said, &begins);
                let read = |text: &str| units.typed(text).unwrap_or_else(|| panic!("{line}"));
                assert_eq!(
                    reads_short(cells[0], cells[2], &read),
                    gap.gap_mm < gap.required_mm,
                    "{line}"
                );
                assert_eq!(
                    reads_short(cells[1], cells[2], &read),
                    gap.at_least_mm < gap.required_mm,
                    "{line}"
                );
            }
            for free in &findings.worse.free_travel {
                let printed = units.at_most(free.droop_mm);
                assert!(units.typed(&printed).expect("a length") <= free.droop_mm + ROUNDING);
                assert!(said.contains(&printed), "{printed}");
            }
        }
    }
}

#[test]
fn a_dampers_spare_length_prints_no_longer_than_it_is() {
    let truck = demo("tarnwood");
    let mut found: DamperFindings = bindpoint::sweep::damper_findings(&truck, 5.0);
    found.worse.damper.spare_mm = Some(24.254);
    let said = damper_text(&found, Units::Mm, bindpoint::sweep::damper_status(&found));
    assert!(said.contains("+24.2 "), "{said}");
    assert!(!said.contains("+24.3"), "{said}");
}

fn scene(name: &str) -> Scene {
    let path = format!("scenes/{name}.ron");
    let text = std::fs::read_to_string(&path).expect("demo scene");
    scene_from_text(&text, Path::new(&path)).expect("demo scene reads")
}

/// Both corners of a suspension without parts, its tie rod on the one or the other side of the kingpin axis.
fn bare(other_side_of_the_axle: bool) -> Truck {
    let mut s = scene("tarnwood");
    s.parts.clear();
    s.watch.clear();
    s.joined.clear();
    s.hoses.clear();
    s.ball_joints = Default::default();
    s.setups.clear();
    if other_side_of_the_axle {
        let about = s.lower_arm.ball_joint.0;
        for point in [&mut s.knuckle.tie_rod_outer, &mut s.rack.tie_rod_inner] {
            point.0 = 2.0 * about - point.0;
        }
    }
    // Uneven locks: both corners are built.
    s.rack.travel.left = 30.0;
    s.rack.travel.right = 25.0;
    assemble(&s, Path::new("scenes")).expect("scene")
}

#[test]
fn locks_are_named_by_steer_with_the_rack_ahead_of_the_axle_and_behind_it_on_both_sides() {
    let mut to_left = Vec::new();
    for other in [false, true] {
        let truck = bare(other);
        assert_eq!(truck.corners.len(), 2);
        for side in [Side::Left, Side::Right] {
            let corner = truck.corner(side).expect("both are built");
            let steer = |rack_mm: f64| {
                let position = corner.position(0.0, rack_mm).expect("a lock");
                let linkage = &corner.positioner.linkage;
                wheel_angles(linkage, &position, corner.side, corner.loaded_radius_mm).steer_deg
            };
            let locks = corner.locks();
            assert!(steer(locks.left_mm) > 5.0 && steer(locks.right_mm) < -5.0);
            assert_eq!(locks.at(locks.left_mm), Steered::Full(Lock::Left));
            assert_eq!(locks.at(locks.right_mm), Steered::Full(Lock::Right));
            assert_eq!(locks.at(0.0), Steered::Straight);
            assert_eq!(locks.at(0.5 * locks.left_mm), Steered::Toward(Lock::Left));
            assert_eq!(locks.mirrored().mirrored(), locks);
            assert!(!locks.are_near(locks.left_mm, locks.right_mm));
            assert!(!locks.are_near(0.0, locks.right_mm));
            assert!(locks.are_near(0.9 * locks.right_mm, locks.right_mm));
            to_left.push(locks.left_mm.signum());
        }
    }
    assert_eq!(to_left[0], to_left[1], "the rack is one part");
    assert_eq!(to_left[0], -to_left[2], "ahead and behind differ");
}

/// Its own table says so: the outer joint is past its limit at full right.
#[test]
fn crake_binds_at_full_right_in_every_line() {
    let findings = swept("crake");
    let said = page(&findings, Units::Inch).replace('\n', " ");
    assert!(said.contains("outer joint angle full right"), "{said}");
    assert!(!said.contains("outer joint angle full left"), "{said}");
    let locks = findings.worse.locks;
    for free in &findings.worse.free_travel {
        match locks.at(free.rack_mm) {
            Steered::Full(Lock::Left) => assert!(free.steer_deg.is_some_and(|d| d > 0.0)),
            Steered::Full(Lock::Right) => assert!(free.steer_deg.is_some_and(|d| d < 0.0)),
            Steered::Straight | Steered::Toward(_) => {}
        }
    }
}

/// What touches at full left isn't the first contact, which happens at full right and is marked there only.
#[test]
fn hollins_first_contact_is_not_looked_at_from_the_other_lock() {
    let findings = swept("hollin");
    let locks = findings.worse.locks;
    let contacts = &findings.worse.first_contacts;
    assert!(!contacts.is_empty());
    for contact in contacts {
        let Steered::Full(lock) = locks.at(contact.rack_mm) else {
            continue;
        };
        let other = match lock {
            Lock::Left => locks.right_mm,
            Lock::Right => locks.left_mm,
        };
        assert!(locks.are_near(contact.rack_mm, locks.rack_mm(lock)));
        assert!(!locks.are_near(contact.rack_mm, other));
        assert!(!locks.are_near(contact.rack_mm, 0.0));
    }
}

#[test]
fn a_position_says_touches_by_the_rule_of_the_sweep() {
    assert!(touches(0.0) && touches(TOUCH_MM) && !touches(2.0 * TOUCH_MM));
    let truck = demo("tarnwood");
    let corner = &truck.corners[0];
    let position = corner.position(0.0, 0.0).expect("as measured");
    let mut findings = position_findings(&truck, corner, &position);
    let style = |units| PoseText {
        units,
        ride_height_mm: 0.0,
        status: bindpoint::findings::Status::Found,
        notes: Vec::new(),
    };
    findings.gaps.truncate(1);
    findings.gaps[0].required_mm = 0.0;
    for (gap_mm, says) in [(0.5 * TOUCH_MM, true), (0.06, false)] {
        findings.gaps[0].gap_mm = gap_mm;
        for units in UNITS {
            let said = pose_text(&findings, &style(units));
            assert_eq!(said.contains("TOUCHES"), says, "{said}");
            assert_eq!(said.contains("touching: "), says, "{said}");
        }
    }
    // A limit exceeded by less than is printed does not read as just reached.
    findings.stops.truncate(1);
    let stop = &mut findings.stops[0];
    (stop.value, stop.limit, stop.margin) = (25.02, 25.0, -0.02);
    let said = pose_text(&findings, &style(Units::Mm));
    let cells = row(
        &said,
        &format!(
            "{}, {}",
            findings.stops[0].name,
            findings.stops[0].unit.name()
        ),
    );
    assert_ne!(cells[0], cells[1], "{said}");
    assert_eq!(cells[2], "-0.1", "{said}");
    assert_eq!(cells[3], "EXCEEDED", "{said}");
}
