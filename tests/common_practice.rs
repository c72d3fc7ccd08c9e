//! The trade's rules of thumb on the demo truck's left corner.
//!
//! Source: common practice, no source (rules of the trade without a published source, marked so below),
//! and an invented geometry whose values were derived and printed rounded.
//! The scene `scenes/tarnwood.ron` has that geometry with the tie rod for nearly no bump steer; the
//! derived table was made with the other tie rod, so it is checked on both.

use bindpoint::clearance::WatchedPair;
use bindpoint::kinematics::{Position, Positioner, wheel_angles};
use bindpoint::suspension::{Mechanism, Side};
use bindpoint::truck::{Corner, Truck, load};
use nalgebra::Vector3;
use std::path::PathBuf;

fn tarnwood() -> Truck {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("scenes/tarnwood.ron");
    load(&path).unwrap_or_else(|e| panic!("{e}"))
}

fn left(truck: &Truck) -> &Corner {
    truck
        .corner(Side::Left)
        .expect("Tarnwood's left corner is the described one")
}

fn at(corner: &Corner, travel_mm: f64, rack_mm: f64) -> Position {
    corner
        .position(travel_mm, rack_mm)
        .unwrap_or_else(|e| panic!("{e}"))
}

fn inner_deg(position: &Position) -> f64 {
    position.linkage.inner_cos.acos().to_degrees()
}

fn outer_deg(position: &Position) -> f64 {
    position.linkage.outer_cos.acos().to_degrees()
}

/// The travel between two at which a condition changes; it must hold at `from` and not at `to`.
fn travel_where(from: f64, to: f64, mut holds: impl FnMut(f64) -> bool) -> f64 {
    assert!(holds(from), "holds at {from}");
    assert!(!holds(to), "doesn't hold at {to}");
    let (mut yes, mut no) = (from, to);
    for _ in 0..60 {
        let middle = 0.5 * (yes + no);
        if holds(middle) {
            yes = middle
        } else {
            no = middle
        }
    }
    0.5 * (yes + no)
}

fn near(what: &str, got: f64, expected: f64, tolerance: f64) {
    assert!(
        (got - expected).abs() <= tolerance,
        "{what}: {got}, expected {expected} +- {tolerance}"
    );
}

/// Wheel travel, inner joint deg, plunge, damper: section 8's table.
const DERIVED: [[f64; 4]; 4] = [
    [-80.0, 11.8, -3.6, 517.05],
    [-127.2, 17.6, -8.9, 542.45],
    [-146.0, 20.0, -11.9, 552.8],
    [-161.3, 22.0, -14.9, 561.2],
];

/// The corner with the tie rod that section 8's table was made with.
fn section_8_linkage(corner: &Corner) -> Mechanism {
    let mut h = corner.positioner.linkage.hardpoints.clone();
    h.tie_rod_outer = Vector3::new(-140.0, 705.0, 372.0);
    h.tie_rod_inner = Vector3::new(-135.0, 330.0, 395.0);
    Mechanism::new(h).expect("section 8's corner")
}

/// With the tie rod it was made with, the table must hold to the last digit printed: half a unit, and
/// what half a unit of travel (0.05 mm, where it has a decimal) makes of the rest: 0.007 deg, 0.01 mm of
/// plunge and 0.03 mm of damper. The row at -80 is exact in travel.
#[test]
fn derived_table_holds_to_its_printed_digits() {
    let truck = tarnwood();
    let positioner = Positioner::new(section_8_linkage(left(&truck)));
    for [travel, inner, plunge, damper] in DERIVED {
        let p = positioner
            .position(travel, 0.0)
            .unwrap_or_else(|e| panic!("{e}"));
        near(
            &format!("inner joint at {travel}"),
            inner_deg(&p),
            inner,
            0.05 + 0.007,
        );
        near(
            &format!("plunge at {travel}"),
            p.linkage.plunge_mm,
            plunge,
            0.05 + 0.01,
        );
        // Two rows print two decimals, two one; they agree with the travel's decimal, not better.
        near(
            &format!("damper at {travel}"),
            p.linkage.damper_mm,
            damper,
            0.05 + 0.03,
        );
    }
}

/// The other tie rod steers the wheel by up to 3 deg less in droop. The wheel centre lies 110 mm outboard
/// of the kingpin, leaning 4 deg back, so its height differs by 110 sin(3 deg) tan(4 deg) = 0.4 mm: 0.06
/// deg at the inner joint, 0.2 mm of damper, 0.1 mm of plunge, on top of the printed digits.
#[test]
fn tarnwood_stays_close_to_the_derived_table() {
    let truck = tarnwood();
    let corner = left(&truck);
    for [travel, inner, plunge, damper] in DERIVED {
        let p = at(corner, travel, 0.0);
        near(
            &format!("inner joint at {travel}"),
            inner_deg(&p),
            inner,
            0.06 + 0.05,
        );
        near(
            &format!("plunge at {travel}"),
            p.linkage.plunge_mm,
            plunge,
            0.1 + 0.05,
        );
        near(
            &format!("damper at {travel}"),
            p.linkage.damper_mm,
            damper,
            0.2 + 0.08,
        );
    }
}

/// Common practice, no source: near 12 deg at factory full droop, about 17 one inch longer; "near" and
/// "about" are taken as within a degree. Section 8's travels, printed without decimals or with one, at
/// these dampers: half a unit and the 0.4 mm of the other tie rod.
#[test]
fn damper_length_sets_full_droop_and_the_inner_joint_angle() {
    let truck = tarnwood();
    let corner = left(&truck);
    for (damper, practice_deg, travel) in [
        (517.05, Some(12.0), -80.0),
        (542.45, Some(17.0), -127.2),
        (552.8, None, -146.0),
        (561.2, None, -161.3),
    ] {
        let droop = travel_where(0.0, -200.0, |t| {
            at(corner, t, 0.0).linkage.damper_mm < damper
        });
        near(
            &format!("travel at damper {damper}"),
            droop,
            travel,
            0.5 + 0.4,
        );
        if let Some(angle) = practice_deg {
            near(
                &format!("inner joint at damper {damper}"),
                inner_deg(&at(corner, droop, 0.0)),
                angle,
                1.0,
            );
        }
    }
    // The same from the scene's own limit, one inch apart.
    let extended = corner
        .limits
        .iter()
        .find(|l| l.name() == "damper extended")
        .expect("the limit");
    let reading = extended.reading(&at(corner, 0.0, 0.0).linkage);
    near("factory damper", reading.limit, 517.05, 1.0e-9);
    near("one inch longer", reading.limit + 25.4, 542.45, 1.0e-9);
}

/// Section 8: bump stop touches at damper 440 (+65), crushed 428 (+88): half a unit, and 0.4 mm as above.
#[test]
fn bump_stop_touches_and_crushes_where_section_8_says() {
    let truck = tarnwood();
    let corner = left(&truck);
    for (damper, travel) in [(440.0, 65.0), (428.0, 88.0)] {
        let bump = travel_where(0.0, 130.0, |t| {
            at(corner, t, 0.0).linkage.damper_mm > damper
        });
        near(
            &format!("travel at damper {damper}"),
            bump,
            travel,
            0.5 + 0.4,
        );
    }
}

/// Common practice: damper off, the factory upper ball joint binds near 20; section 8: where the inner
/// joint reads 20.0, the stud having swung about 32 deg from ride.
#[test]
fn factory_upper_ball_joint_binds_near_twenty_degrees_at_the_inner_joint() {
    let truck = tarnwood();
    let corner = left(&truck);
    let limit = corner
        .limits
        .iter()
        .find(|l| l.name() == "upper ball joint")
        .expect("the limit");
    let bind = travel_where(0.0, -200.0, |t| {
        limit.reading(&at(corner, t, 0.0).linkage).margin > 0.0
    });
    let p = at(corner, bind, 0.0);
    // Printed to 0.1, the other tie rod's 0.06.
    near(
        "inner joint where it binds",
        inner_deg(&p),
        20.0,
        0.05 + 0.06,
    );
    // The kingpin seen from the upper arm, against where it stood at ride ("about").
    let design = &corner.positioner.linkage.hardpoints;
    let at_ride = (design.kingpin_top() - design.lower_ball).normalize();
    let now = p.linkage.upper_arm.rotation.transpose() * p.linkage.kingpin;
    near(
        "stud's swing",
        now.dot(&at_ride).acos().to_degrees(),
        32.0,
        0.5,
    );
}

fn pair<'c>(corner: &'c Corner, name: &str) -> &'c WatchedPair {
    let found = corner.pairs.iter().find(|p| corner.pair_name(p) == name);
    found.unwrap_or_else(|| panic!("{name} is watched"))
}

/// What the rim equation leaves between shaft and mouth, mm: the mouth's rim (radius 37.5, 38 outboard of
/// the spider's measured place along the flange) is m cos a - d sin a from the shaft's axis, less the
/// shaft's radius with its orbit.
fn rim_room_mm(corner: &Corner, p: &Position) -> f64 {
    let a = p.linkage.inner_cos.acos();
    let depth = 38.0 - p.linkage.plunge_mm;
    37.5 * a.cos() - depth * a.sin() - 14.0 - corner.orbit_mm(&p.linkage)
}

/// Section 8: the shaft touches the housing's mouth at 21.98 deg straight ahead and 22.2 at both locks
/// (common practice: near 22, with room left at the outer joint). By the rim equation alone, with the tie
/// rod that section 8's table was made with: half a unit of the last digit.
#[test]
fn rim_equation_gives_section_8s_contact_angles() {
    let truck = tarnwood();
    let mut corner = left(&truck).clone();
    corner.positioner = Positioner::new(section_8_linkage(&corner));
    for (rack, angle, printed) in [(0.0, 21.98, 0.005), (75.0, 22.2, 0.05), (-75.0, 22.2, 0.05)] {
        let contact = travel_where(0.0, -190.0, |t| {
            rim_room_mm(&corner, &at(&corner, t, rack)) > 0.0
        });
        let p = at(&corner, contact, rack);
        near(
            &format!("inner joint at contact, rack {rack}"),
            inner_deg(&p),
            angle,
            printed,
        );
        assert!(
            outer_deg(&p) < 46.0,
            "the outer joint has room left: {}",
            outer_deg(&p)
        );
    }
}

/// The walk over the parts' surfaces finds the contact that the rim equation gives. Facets take off at
/// most their error, twice in a bore, and the equation's room falls by some 50 mm a radian: 0.005 deg. The
/// scene's tie rod steers up to 3 deg otherwise than section 8's, which moves its angle at the locks by
/// 0.12.
#[test]
fn shaft_meets_the_housings_mouth_where_the_rim_equation_says() {
    let truck = tarnwood();
    let corner = left(&truck);
    let mouth = pair(corner, "inner joint housing - halfshaft");
    let walk = mouth.walk(&corner.parts);
    let facets = walk.fixed.facet_error_mm + walk.moving.facet_error_mm;
    assert!(facets > 0.0 && facets < 2.0e-3, "{facets}");
    for (rack, angle, tolerance) in [
        (0.0, 21.98, 0.005 + 0.005),
        (75.0, 22.2, 0.05 + 0.12),
        (-75.0, 22.2, 0.05 + 0.12),
    ] {
        let contact = travel_where(0.0, -190.0, |t| {
            corner.gap(mouth, &at(corner, t, rack).linkage, None).gap_mm > 0.0
        });
        let p = at(corner, contact, rack);
        near(
            &format!("inner joint at contact, rack {rack}"),
            inner_deg(&p),
            angle,
            tolerance,
        );
        let room = rim_room_mm(corner, &p);
        assert!(
            (-1.0e-6..=2.0 * facets + 1.0e-6).contains(&room),
            "rack {rack}: {room}"
        );
        assert!(
            outer_deg(&p) < 46.0,
            "the outer joint has room left: {}",
            outer_deg(&p)
        );
    }
}

/// Section 3's formula, values derived there for R = 25: e = 0.1928, 0.4410, 0.8022, 1.4075 mm, printed to
/// four decimals.
#[test]
fn tripod_orbit_has_the_derived_radius() {
    let truck = tarnwood();
    let corner = left(&truck);
    near(
        "half the track pitch radius",
        corner.orbit_factor_mm,
        12.5,
        0.0,
    );
    for (angle, orbit) in [
        (10.0, 0.1928),
        (15.0, 0.4410),
        (20.0, 0.8022),
        (26.0, 1.4075),
    ] {
        let travel = travel_where(-20.0, -210.0, |t| inner_deg(&at(corner, t, 0.0)) < angle);
        let p = at(corner, travel, 0.0);
        near(
            &format!("orbit at {angle}"),
            corner.orbit_mm(&p.linkage),
            orbit,
            5.0e-5 + 1.0e-8,
        );
    }
    // Only the shaft's pairs are widened by it.
    let p = at(corner, -146.0, 0.0);
    for pair in &corner.pairs {
        let name = corner.pair_name(pair);
        let swell = corner.swell_mm(pair, &p.linkage);
        let expected = if name.contains("halfshaft") {
            corner.orbit_mm(&p.linkage)
        } else {
            0.0
        };
        near(&name, swell, expected, 0.0);
    }
}

/// Section 8: rack plus and minus 75: the wheel steers 31 and 35 deg (printed without decimals); section
/// 2: a rack behind the axle that moves toward +y steers right.
#[test]
fn rack_ends_steer_thirty_one_and_thirty_five_degrees() {
    let truck = tarnwood();
    let corner = left(&truck);
    assert_eq!(corner.rack_mm, [-75.0, 75.0]);
    for (rack, steer) in [(75.0, -31.0), (-75.0, 35.0)] {
        let p = at(corner, 0.0, rack);
        let angles = wheel_angles(
            &corner.positioner.linkage,
            &p,
            Side::Left,
            corner.loaded_radius_mm,
        );
        near(
            &format!("steer at rack {rack}"),
            angles.steer_deg,
            steer,
            0.5,
        );
        // Toe-in positive: a left wheel that heads right toes in.
        near("toe", angles.toe_deg, -angles.steer_deg, 0.0);
    }
}

/// "Nearly no bump steer": within a degree over the factory's travel.
#[test]
fn tarnwood_has_nearly_no_bump_steer() {
    let truck = tarnwood();
    let corner = left(&truck);
    for step in -8..=8 {
        let p = at(corner, f64::from(step) * 10.0, 0.0);
        let angles = wheel_angles(&corner.positioner.linkage, &p, Side::Left, 387.0);
        near("bump steer", angles.steer_deg, 0.0, 0.5);
    }
}

/// Section 2: motion ratio, damper over wheel, here about 0.53: half a unit of the last digit.
#[test]
fn motion_ratio_is_about_0_53() {
    let truck = tarnwood();
    let corner = left(&truck);
    let [down, up] = [-1.0, 1.0].map(|t| at(corner, t, 0.0).linkage.damper_mm);
    near(
        "motion ratio at ride height",
        (down - up) / 2.0,
        0.53,
        0.005,
    );
}

/// Section 2 (derived): 2 deg inclined and steered 35 deg reads 2.441 deg from the front.
#[test]
fn front_view_camber_of_an_inclined_and_steered_wheel() {
    let truck = tarnwood();
    for (side, outboard) in [(Side::Left, 1.0), (Side::Right, -1.0)] {
        let mut h = left(&truck).positioner.linkage.hardpoints.clone();
        let (camber, steer) = (2.0_f64.to_radians(), 35.0_f64.to_radians());
        // Heading left by `steer`, top outward by `camber`: the spindle points outboard and down.
        h.spindle_axis = Vector3::new(
            -steer.sin() * camber.cos() * outboard,
            steer.cos() * camber.cos() * outboard,
            -camber.sin(),
        );
        let positioner = Positioner::new(Mechanism::new(h).expect("a suspension"));
        let p = positioner.position(0.0, 0.0).expect("as measured");
        let angles = wheel_angles(&positioner.linkage, &p, side, 387.0);
        near("camber", angles.camber_deg, 2.0, 1.0e-9);
        near("steer", angles.steer_deg, 35.0, 1.0e-9);
        near("front view", angles.camber_front_view_deg, 2.441, 5.0e-4);
    }
}

/// Signs by section 2 on the demo corner: kingpin's top is rearward (caster positive) and inward
/// (inclination positive); the axis meets the ground ahead of the contact centre (trail positive). The
/// angles are those of the two ball joints, (30, 54) over 392 mm.
#[test]
fn caster_and_kingpin_inclination_have_the_trades_signs() {
    let truck = tarnwood();
    let corner = left(&truck);
    let p = at(corner, 0.0, 0.0);
    let a = wheel_angles(
        &corner.positioner.linkage,
        &p,
        Side::Left,
        corner.loaded_radius_mm,
    );
    near(
        "caster",
        a.caster_deg,
        (30.0_f64 / 392.0).atan().to_degrees(),
        1.0e-9,
    );
    near(
        "inclination",
        a.kingpin_inclination_deg,
        (54.0_f64 / 392.0).atan().to_degrees(),
        1.0e-9,
    );
    // Down from the lower ball joint (8, 722, 290) to the ground at 400 - 387 = 13.
    let drop = (290.0 - 13.0) / 392.0;
    near(
        "scrub radius",
        a.scrub_radius_mm,
        815.0 - (722.0 + 54.0 * drop),
        1.0e-9,
    );
    near("caster trail", a.caster_trail_mm, 8.0 + 30.0 * drop, 1.0e-9);
}
