//! What a setup changes, against references of other origin, every row of every table: the housing on
//! spacers, the front driveshaft's fluctuation, corners put together from parts that were not drawn together.
//!
//! * `housing_scipy.csv`: rigid motions searched by scipy.optimize.least_squares, no singular values.
//! * `cardan_scipy.csv`: crosses moved in space, their pins kept perpendicular by scipy.optimize.brentq.
//! * `refitted_scipy.csv`: rigid-body and distance constraints by scipy.optimize.least_squares.

mod table;

use bindpoint::driveline::{FLUCTUATION_LIMIT, FrontDriveshaft};
use bindpoint::scene::ShaftJoint;
use bindpoint::suspension::{
    ArmPoints, DamperFoot, Hardpoints, Linkage, Mechanism, MountFit, OwnPoints, UpperLink,
};
use nalgebra::{Matrix3, Point3, Rotation3, Unit, Vector3};
use table::{Row, Table};

/// The upper arm's points.
fn upper_arm(h: &Hardpoints) -> ArmPoints {
    *h.upper_arm().unwrap_or_else(|| panic!("no upper arm"))
}

fn near(row: &Row, what: &str, got: f64, expected: f64, tolerance: f64) {
    let miss = (got - expected).abs();
    // Written so that NaN fails.
    assert!(
        miss <= tolerance,
        "{}: {what} is {got}, expected {expected}: off by {miss:e}, allowed {tolerance:e}",
        row.place()
    );
}

fn near_vector(row: &Row, what: &str, got: &Vector3<f64>, tolerance: f64) {
    let expected = row.vector(&format!("out_{what}"));
    near(row, what, (got - expected).norm(), 0.0, tolerance);
}

/// The matrix whose rows are the columns `NAME_r1` to `NAME_r3`.
fn matrix(row: &Row, name: &str) -> Matrix3<f64> {
    Matrix3::from_rows(&["r1", "r2", "r3"].map(|r| row.vector(&format!("{name}{r}")).transpose()))
}

/// Angle between two directions, well conditioned at every size.
fn angle_deg(a: &Vector3<f64>, b: &Vector3<f64>) -> f64 {
    a.cross(b).norm().atan2(a.dot(b)).to_degrees()
}

// ---- The housing on spacers ----

const HOUSING_ROWS: usize = 217;
/// Elements of the rotation. Our singular values stop at 1e-15 of the largest; the spread of the ears, down to
/// 0.017 (the table's head), makes less than 1e-13 of it. A decade of room.
const HOUSING_ROTATION: f64 = 1.0e-12;
/// That over arms and carried points of less than 1000 mm.
const HOUSING_POINT_MM: f64 = 1.0e-9;
/// The rotation's, in degrees and with room for an angle that is taken from a quaternion near no turn, where
/// half a dozen operations more round at 1e-16 of one.
const HOUSING_TURNED_DEG: f64 = 1.0e-9;

/// The vectors `NAME_1` to `NAME_count`.
fn vectors(row: &Row, name: &str, count: &str) -> Vec<Vector3<f64>> {
    (1..=row.number(count) as usize)
        .map(|i| row.vector(&format!("{name}_{i}")))
        .collect()
}

fn compare_housing(row: &Row) {
    let pivots = vectors(row, "in_pivot", "pivots");
    let mounts = vectors(row, "in_mount", "mounts");
    let wanted = vectors(row, "in_wanted", "mounts");
    let fit = MountFit::about(&pivots, &mounts, &wanted)
        .unwrap_or_else(|| panic!("{}: no fit", row.place()));
    let at = |p: &Vector3<f64>| (fit.motion * Point3::from(*p)).coords;
    let rotation = fit.motion.rotation.to_rotation_matrix().into_inner();
    let miss = (rotation - matrix(row, "out_")).abs().max();
    near(row, "rotation", miss, 0.0, HOUSING_ROTATION);
    for i in [1, 2] {
        let moved = at(&row.vector(&format!("in_point_{i}")));
        near_vector(row, &format!("point_{i}"), &moved, HOUSING_POINT_MM);
    }
    for pivot in &pivots {
        near(
            row,
            "pivot",
            (at(pivot) - pivot).norm(),
            0.0,
            HOUSING_POINT_MM,
        );
    }
    assert_eq!(fit.misses_mm.len(), mounts.len(), "{}", row.place());
    for (i, miss) in fit.misses_mm.iter().enumerate() {
        let expected = row.number(&format!("out_miss_{}_mm", i + 1));
        near(row, "miss", *miss, expected, HOUSING_POINT_MM);
    }
    let turned = fit.motion.rotation.angle().to_degrees();
    near(
        row,
        "turned",
        turned,
        row.number("out_turned_deg"),
        HOUSING_TURNED_DEG,
    );
}

#[test]
fn a_housing_on_spacers_goes_where_a_least_squares_search_puts_it() {
    let table = Table::read("housing_scipy.csv", HOUSING_ROWS);
    let mut families = std::collections::BTreeMap::new();
    for row in table.rows().filter(|row| row.text("family") != "in line") {
        compare_housing(&row);
        *families.entry(row.text("family")).or_insert(0) += 1;
    }
    assert_eq!(families.len(), 7, "{families:?}");
}

/// Ears on one line with a ball pivot, at different distances from it: the nearest place weighs each ear by
/// its arm, and the turn about the line is the least.
#[test]
fn ears_in_line_with_the_pivot_are_weighed_by_their_arms() {
    let table = Table::read("housing_scipy.csv", HOUSING_ROWS);
    let rows: Vec<_> = table
        .rows()
        .filter(|row| row.text("family") == "in line")
        .collect();
    assert_eq!(rows.len(), 12);
    for row in &rows {
        compare_housing(row);
    }
}

/// The invented truck with a one-inch spacer, by figures worked out by hand: 4.34 deg, inner joint 8.98 down
/// and 2.99 along x, a pinion 260 behind the axle up by 10.7, all to the last digit given.
#[test]
fn a_one_inch_spacer_turns_the_invented_trucks_housing_by_4_34_degrees() {
    let table = Table::read("housing_scipy.csv", HOUSING_ROWS);
    let row = table.rows().next().expect("a first row");
    assert_eq!(row.text("family"), "invented truck");
    near(&row, "turned", row.number("out_turned_deg"), 4.34, 0.005);
    let inner = row.vector("out_point_1") - row.vector("in_point_1");
    near(&row, "inner joint down", -inner.z, 8.98, 0.005);
    near(&row, "inner joint along x", inner.x.abs(), 2.99, 0.005);
    let pinion = row.vector("out_point_2") - row.vector("in_point_2");
    near(&row, "pinion up", pinion.z, 10.7, 0.05);
}

// ---- The front driveshaft ----

const CARDAN_ROWS: usize = 64;
/// A fluctuation: the table's angles are good to 1e-15 rad, its terms up to the 128th and their sum make
/// 1e-12 of it (its own check by differences: 3e-13). Ours is a handful of operations on numbers near 1.
const FLUCTUATION: f64 = 1.0e-11;
/// A joint's angle: an arc tangent of rounded unit vectors on both sides.
const JOINT_DEG: f64 = 1.0e-12;

fn driveshaft(row: &Row) -> FrontDriveshaft {
    let joint = |column: &str| match row.text(column) {
        "cardan" => ShaftJoint::Cardan,
        "double_cardan" => ShaftJoint::DoubleCardan,
        other => panic!("{}: joint {other}", row.place()),
    };
    let (transfer_case, pinion) = (row.vector("in_transfer_case"), row.vector("in_pinion"));
    FrontDriveshaft {
        transfer_case,
        transfer_case_axis: row.vector("in_transfer_case_axis"),
        pinion,
        pinion_axis: row.vector("in_pinion_axis"),
        joints: [joint("joint_at_transfer_case"), joint("joint_at_pinion")],
        phase: row.number("in_phase_deg").to_radians(),
        joint_limit: 1.0,
        fluctuation_limit: FLUCTUATION_LIMIT,
        length_as_measured_mm: (pinion - transfer_case).norm(),
    }
}

#[test]
fn a_driveshaft_fluctuates_as_its_crosses_do_when_moved_in_space() {
    let table = Table::read("cardan_scipy.csv", CARDAN_ROWS);
    for row in table.rows() {
        let shaft = driveshaft(&row);
        let expected = row.number("out_fluctuation");
        near(
            &row,
            "fluctuation",
            shaft.fluctuation(),
            expected,
            FLUCTUATION,
        );
        let [first, last] = shaft.joint_angles().map(f64::to_degrees);
        let expected = row.number("out_joint_at_transfer_case_deg");
        near(
            &row,
            "joint at the transfer case",
            first,
            expected,
            JOINT_DEG,
        );
        let expected = row.number("out_joint_at_pinion_deg");
        near(&row, "joint at the pinion", last, expected, JOINT_DEG);
    }
}

/// The table tells the senses apart: with the phase turned left-handed, every shaft in space whose joints both
/// bend and whose phase is neither 0 nor half a turn gives another number than its crosses do.
#[test]
fn a_phase_turned_the_wrong_way_would_be_noticed() {
    let table = Table::read("cardan_scipy.csv", CARDAN_ROWS);
    let mut told = 0;
    for row in table.rows().filter(|row| row.text("family") == "in space") {
        let mut shaft = driveshaft(&row);
        shaft.phase = -shaft.phase;
        let off = (shaft.fluctuation() - row.number("out_fluctuation")).abs();
        assert!(off > 1.0e3 * FLUCTUATION, "{}: {off:e}", row.place());
        told += 1;
    }
    assert_eq!(told, 30);
}

// ---- Corners put together from parts that were not drawn together ----

const REFITTED_ROWS: usize = 156;
/// Points and lengths: the table's residual of 3e-13 mm over its least singular value (see its head), and our
/// own rounding of coordinates near 1000 mm through two roots.
const REFITTED_MM: f64 = 1.0e-9;
/// That over the knuckle's shortest arm, about 100 mm.
const REFITTED_DIRECTION: f64 = 1.0e-11;
/// The same as an angle; all joint angles of the table are above one degree, so that an arc cosine loses less
/// than two digits.
const REFITTED_DEG: f64 = 1.0e-9;

fn refitted(row: &Row) -> Mechanism {
    let point = |name: &str| row.vector(&format!("in_{name}"));
    let own = |name: &str| row.vector(&format!("in_own_{name}"));
    let hardpoints = Hardpoints {
        lower_front: point("lower_front"),
        lower_rear: point("lower_rear"),
        lower_ball: point("lower_ball"),
        upper: UpperLink::Arm(ArmPoints {
            front: point("upper_front"),
            rear: point("upper_rear"),
            ball: point("upper_ball"),
        }),
        tie_rod_inner: point("tie_rod_inner"),
        tie_rod_outer: point("tie_rod_outer"),
        wheel_centre: point("wheel_centre"),
        spindle_axis: point("spindle"),
        damper_upper: point("damper_upper"),
        damper_lower: point("damper_lower"),
        damper_foot: match row.text("damper_foot") {
            "lower_arm" => DamperFoot::LowerArm,
            "upper_arm" => DamperFoot::UpperArm,
            "knuckle" => DamperFoot::Knuckle,
            other => panic!("{}: damper foot {other}", row.place()),
        },
        outer_joint: point("outer_joint"),
        outer_axis: point("outer_axis"),
        inner_joint: point("inner_joint"),
        flange_axis: point("flange"),
    };
    let own = OwnPoints {
        knuckle: [own("knuckle_lower"), own("knuckle_upper")],
        tie_rod: [own("tie_rod_inner"), own("tie_rod_outer")],
        halfshaft: [own("halfshaft_inner"), own("halfshaft_outer")],
        damper: [own("damper_upper"), own("damper_lower")],
        measured_damper_axis: (own("damper_upper") - own("damper_lower")).normalize(),
        wheel_height_mm: row.number("in_wheel_height_mm"),
    };
    Mechanism::refitted(hardpoints, own).unwrap_or_else(|e| panic!("{}: {e}", row.place()))
}

fn compare_knuckle(row: &Row, design: &Mechanism, l: &Linkage<f64>) {
    let h = &design.hardpoints;
    let miss = (l.knuckle.rotation - matrix(row, "out_knuckle_"))
        .abs()
        .max();
    near(row, "knuckle rotation", miss, 0.0, REFITTED_DIRECTION);
    for (what, by_length, by_body) in [
        ("lower_ball", l.lower_ball, design.own.knuckle[0]),
        ("upper_ball", l.kingpin_top, design.own.knuckle[1]),
        ("tie_rod_outer", l.tie_rod_outer, h.tie_rod_outer),
        ("wheel_centre", l.wheel_centre, h.wheel_centre),
        ("outer_joint", l.outer_joint, h.outer_joint),
    ] {
        near_vector(row, what, &by_length, REFITTED_MM);
        near_vector(row, what, &l.knuckle.point(&by_body), REFITTED_MM);
    }
}

/// Every other part meets the joints that the table has, by its own drawing.
fn compare_other_bodies(row: &Row, design: &Mechanism, l: &Linkage<f64>) {
    let (h, own) = (&design.hardpoints, &design.own);
    near_vector(row, "inner_joint", &l.inner_joint, REFITTED_MM);
    for (what, got) in [
        ("lower_ball", l.lower_arm.point(&h.lower_ball)),
        ("upper_ball", l.upper_arm.point(&upper_arm(h).ball)),
        ("tie_rod_outer", l.tie_rod.point(&own.tie_rod[1])),
        ("outer_joint", l.halfshaft.point(&own.halfshaft[1])),
        ("inner_joint", l.halfshaft.point(&own.halfshaft[0])),
        ("damper_lower", l.damper_lower.point(&own.damper[1])),
        (
            "damper_lower",
            h.damper_upper + l.damper_direction * l.damper_mm,
        ),
    ] {
        near_vector(row, what, &got, REFITTED_MM);
    }
    let rack_end = h.tie_rod_inner + Vector3::y() * row.number("in_rack_mm");
    let rod_end = l.tie_rod.point(&own.tie_rod[0]);
    near(
        row,
        "tie rod inner",
        (rod_end - rack_end).norm(),
        0.0,
        REFITTED_MM,
    );
    let axis = Unit::new_normalize(upper_arm(h).rear - upper_arm(h).front);
    let turn = row.number("out_upper_arm_deg").to_radians();
    let expected = Rotation3::from_axis_angle(&axis, turn).into_inner();
    let miss = (l.upper_arm.rotation - expected).abs().max();
    near(row, "upper arm", miss, 0.0, REFITTED_DIRECTION);
}

fn compare_numbers(row: &Row, design: &Mechanism, l: &Linkage<f64>) {
    let h = &design.hardpoints;
    let expected = row.number("out_damper_mm");
    near(row, "damper", l.damper_mm, expected, REFITTED_MM);
    let expected = row.number("out_plunge_mm");
    near(row, "plunge", l.plunge_mm, expected, REFITTED_MM);
    for (what, axis, cos) in [
        ("inner_joint", h.flange_axis, l.inner_cos),
        (
            "outer_joint",
            l.knuckle.direction(&h.outer_axis),
            l.outer_cos,
        ),
    ] {
        let expected = row.number(&format!("out_{what}_deg"));
        let got = angle_deg(&l.shaft_direction, &axis);
        near(row, what, got, expected, REFITTED_DEG);
        near(row, what, cos.acos().to_degrees(), expected, REFITTED_DEG);
    }
}

#[test]
fn corners_of_parts_not_drawn_together_meet_as_their_constraints_say() {
    let table = Table::read("refitted_scipy.csv", REFITTED_ROWS);
    let mut families = std::collections::BTreeMap::new();
    for row in table.rows() {
        let design = refitted(&row);
        let (alpha, rack_mm) = (row.number("in_lower_arm_rad"), row.number("in_rack_mm"));
        let linkage = design.solve(alpha, rack_mm);
        assert_eq!(linkage.out_of_reach(), None, "{}", row.place());
        compare_knuckle(&row, &design, &linkage);
        compare_other_bodies(&row, &design, &linkage);
        compare_numbers(&row, &design, &linkage);
        let travel_mm = design.travel_mm(alpha, rack_mm);
        let expected = row.number("out_travel_mm");
        near(&row, "travel", travel_mm, expected, REFITTED_MM);
        *families.entry(row.text("family")).or_insert(0) += 1;
    }
    assert_eq!(families.len(), 6, "{families:?}");
}
