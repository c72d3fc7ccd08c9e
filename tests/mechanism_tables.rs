//! Positions against three solutions of other origin, every row of every table.
//!
//! * `suspensions_scipy.csv`: constraint equations solved by scipy.optimize.root, no closed form.
//! * `struts_scipy.csv`: the same of struts.
//! * `mechanism_mujoco.csv`, `struts_mujoco.csv`: hinges, slides and connect constraints closed by MuJoCo's Jacobian.
//! * `planar_double_wishbone.csv`: D. Park, MathGroup [mg64453], 17 Feb 2006, a published table of a
//!   planar linkage, here put into space with parallel arm axes and random rigid transforms.

mod dice;
mod table;

use bindpoint::kinematics::{Position, Positioner, wheel_angles};
use bindpoint::suspension::{ArmPoints, DamperFoot, Hardpoints, Mechanism, Side, UpperLink};
use dice::Dice;
use nalgebra::{Matrix3, Rotation3, Unit, Vector3};
use table::{Row, Table};

/// The upper arm's points.
fn upper_arm(h: &Hardpoints) -> ArmPoints {
    *h.upper_arm().unwrap_or_else(|| panic!("no upper arm"))
}

fn hardpoints(row: &Row) -> Hardpoints {
    let point = |name: &str| row.vector(&format!("in_{name}"));
    Hardpoints {
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
        damper_foot: DamperFoot::LowerArm,
        outer_joint: point("outer_joint"),
        outer_axis: point("spindle"),
        inner_joint: point("inner_joint"),
        flange_axis: point("flange"),
    }
}

/// A corner on a strut.
fn strut(row: &Row) -> Hardpoints {
    let point = |name: &str| row.vector(&format!("in_{name}"));
    Hardpoints {
        lower_front: point("lower_front"),
        lower_rear: point("lower_rear"),
        lower_ball: point("lower_ball"),
        upper: UpperLink::Strut,
        tie_rod_inner: point("tie_rod_inner"),
        tie_rod_outer: point("tie_rod_outer"),
        wheel_centre: point("wheel_centre"),
        spindle_axis: point("spindle"),
        damper_upper: point("damper_upper"),
        damper_lower: point("damper_lower"),
        damper_foot: DamperFoot::Knuckle,
        outer_joint: point("outer_joint"),
        outer_axis: point("spindle"),
        inner_joint: point("inner_joint"),
        flange_axis: point("flange"),
    }
}

fn positioner(row: &Row) -> Positioner {
    let linkage =
        Mechanism::new(hardpoints(row)).unwrap_or_else(|e| panic!("{}: {e}", row.place()));
    Positioner::new(linkage)
}

/// What two methods may differ by.
struct Tolerances {
    length_mm: f64,
    direction: f64,
    angle_deg: f64,
}

/// An angle that the table's maker took by acos has lost half its digits near zero (head of both
/// tables): below one degree allow for it.
const BY_ACOS_NEAR_ZERO_DEG: f64 = 1.0e-6;

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

/// Angle between two directions, well conditioned at every size.
fn angle_deg(a: &Vector3<f64>, b: &Vector3<f64>) -> f64 {
    a.cross(b).norm().atan2(a.dot(b)).to_degrees()
}

fn compare(row: &Row, design: &Mechanism, position: &Position, allowed: &Tolerances) {
    let l = &position.linkage;
    let h = &design.hardpoints;
    let mm = allowed.length_mm;
    near_vector(row, "lower_ball", &l.lower_ball, mm);
    // Of a strut the table has the top mount, which stays where it is.
    match h.upper {
        UpperLink::Arm(_) => near_vector(row, "upper_ball", &l.kingpin_top, mm),
        UpperLink::Strut => assert_eq!(l.kingpin_top, h.damper_upper),
    }
    near_vector(row, "tie_rod_outer", &l.tie_rod_outer, mm);
    near_vector(row, "wheel_centre", &l.wheel_centre, mm);
    near_vector(row, "outer_joint", &l.outer_joint, mm);
    near_vector(row, "inner_joint", &l.inner_joint, mm);
    // The damper's eye by three ways: arm, damper half, length along the damper's direction.
    let foot = match h.damper_foot {
        DamperFoot::LowerArm => &l.lower_arm,
        DamperFoot::UpperArm => &l.upper_arm,
        DamperFoot::Knuckle => &l.knuckle,
    };
    near_vector(row, "damper_lower", &foot.point(&h.damper_lower), mm);
    near_vector(
        row,
        "damper_lower",
        &l.damper_lower.point(&h.damper_lower),
        mm,
    );
    near_vector(
        row,
        "damper_lower",
        &(h.damper_upper + l.damper_direction * l.damper_mm),
        mm,
    );
    near(
        row,
        "damper length",
        l.damper_mm,
        row.number("out_damper_mm"),
        mm,
    );
    near(row, "plunge", l.plunge_mm, row.number("out_plunge_mm"), mm);
    let spindle = l.knuckle.direction(&h.spindle_axis);
    near_vector(row, "spindle", &spindle, allowed.direction);

    for (what, expected, axis, cos) in [
        (
            "inner joint",
            row.number("out_inner_joint_deg"),
            h.flange_axis,
            l.inner_cos,
        ),
        (
            "outer joint",
            row.number("out_outer_joint_deg"),
            spindle,
            l.outer_cos,
        ),
    ] {
        let tolerance = if expected < 1.0 {
            BY_ACOS_NEAR_ZERO_DEG
        } else {
            allowed.angle_deg
        };
        near(
            row,
            what,
            angle_deg(&l.shaft_direction, &axis),
            expected,
            tolerance,
        );
        near(
            row,
            what,
            cos,
            expected.to_radians().cos(),
            tolerance.to_radians(),
        );
    }

    let angles = wheel_angles(design, position, Side::Left, 387.0);
    for (what, got) in [
        ("camber", angles.camber_deg),
        ("steer", angles.steer_deg),
        ("caster", angles.caster_deg),
        ("kingpin_inclination", angles.kingpin_inclination_deg),
    ] {
        let expected = row.number(&format!("out_{what}_deg"));
        near(row, what, got, expected, allowed.angle_deg);
    }
    near(row, "toe", angles.toe_deg, -angles.steer_deg, 0.0);
}

/// The table's head: 1e-8 mm, 1e-9 and 1e-8 deg. Its own residual is 3.4e-13 mm over a least singular
/// value of 0.068; our wheel height is good to 1e-10 mm, which a steering arm of 100 mm can magnify
/// tenfold.
#[test]
fn positions_match_scipys_solution_of_the_constraints() {
    let table = Table::read("suspensions_scipy.csv", 482);
    let allowed = Tolerances {
        length_mm: 1.0e-8,
        direction: 1.0e-9,
        angle_deg: 1.0e-8,
    };
    for row in table.rows() {
        let positioner = positioner(&row);
        let position = positioner
            .position(row.number("in_travel_mm"), row.number("in_rack_mm"))
            .unwrap_or_else(|e| panic!("{}: {e}", row.place()));
        compare(&row, &positioner.linkage, &position, &allowed);
    }
}

/// As above; the largest residual and the least singular value of this table are alike.
#[test]
fn strut_positions_match_scipys_solution_of_the_constraints() {
    let table = Table::read("struts_scipy.csv", 852);
    let allowed = Tolerances {
        length_mm: 1.0e-8,
        direction: 1.0e-9,
        angle_deg: 1.0e-8,
    };
    for row in table.rows() {
        let design = Mechanism::new(strut(&row)).unwrap_or_else(|e| panic!("{}: {e}", row.place()));
        let positioner = Positioner::new(design);
        let position = positioner
            .position(row.number("in_travel_mm"), row.number("in_rack_mm"))
            .unwrap_or_else(|e| panic!("{}: {e}", row.place()));
        compare(&row, &positioner.linkage, &position, &allowed);
        let h = &positioner.linkage.hardpoints;
        let leans = angle_deg(
            &(h.damper_upper - h.damper_lower),
            &-position.linkage.damper_direction,
        );
        let expected = row.number("out_top_mount_deg");
        near(&row, "top mount", leans, expected, allowed.angle_deg);
    }
}

/// The table's head: 1e-7 mm, 1e-10 and 1e-8 deg. MuJoCo closes its loops to 1e-12 mm, in metres, and
/// our height's 1e-10 mm over arms of 100 mm and more turns nothing by more than a few 1e-12.
#[test]
fn positions_match_mujocos_mechanism() {
    let table = Table::read("mechanism_mujoco.csv", 144);
    let allowed = Tolerances {
        length_mm: 1.0e-7,
        direction: 1.0e-10,
        angle_deg: 1.0e-8,
    };
    let mut drives = [0, 0];
    for row in table.rows() {
        let positioner = positioner(&row);
        let design = &positioner.linkage;
        let h = &design.hardpoints;
        let rack_mm = row.number("in_rack_mm");
        let position = positioner
            .position(row.number("in_travel_mm"), rack_mm)
            .unwrap_or_else(|e| panic!("{}: {e}", row.place()));
        compare(&row, design, &position, &allowed);

        compare_knuckle(&row, &position, &allowed);

        // The arms' turns, right-handed about the axis from rear to front pivot.
        for (what, placement, front, rear) in [
            (
                "lower_arm",
                &position.linkage.lower_arm,
                h.lower_front,
                h.lower_rear,
            ),
            (
                "upper_arm",
                &position.linkage.upper_arm,
                upper_arm(h).front,
                upper_arm(h).rear,
            ),
        ] {
            let turn = row.number(&format!("out_{what}_deg")).to_radians();
            let axis = Unit::new_normalize(front - rear);
            let expected = Rotation3::from_axis_angle(&axis, turn).into_inner();
            let miss = (placement.rotation - expected).abs().max();
            near(&row, what, miss, 0.0, allowed.direction);
        }

        // Where MuJoCo was driven by the arm, ask by the arm as well.
        let by_arm = row.text("drive") == "lower_arm";
        drives[usize::from(by_arm)] += 1;
        let alpha = row.number("out_lower_arm_deg").to_radians();
        near(&row, "arm angle", position.alpha, alpha, 1.0e-9);
        if by_arm {
            let placed = positioner.place(alpha, rack_mm);
            compare(&row, design, &placed, &allowed);
            near(
                &row,
                "travel",
                placed.travel_mm,
                row.number("in_travel_mm"),
                1.0e-7,
            );
        }
    }
    assert!(
        drives[0] > 0 && drives[1] > 0,
        "both kinds of drive: {drives:?}"
    );
}

/// The knuckle's rotation matrix, which MuJoCo's tables have row by row.
fn compare_knuckle(row: &Row, position: &Position, allowed: &Tolerances) {
    let knuckle = Matrix3::from_rows(
        &["r1", "r2", "r3"].map(|r| row.vector(&format!("out_knuckle_{r}")).transpose()),
    );
    let miss = (position.linkage.knuckle.rotation - knuckle).abs().max();
    near(row, "knuckle rotation", miss, 0.0, allowed.direction);
}

/// Tolerances as above.
#[test]
fn strut_positions_match_mujocos_mechanism() {
    let table = Table::read("struts_mujoco.csv", 283);
    let allowed = Tolerances {
        length_mm: 1.0e-7,
        direction: 1.0e-10,
        angle_deg: 1.0e-8,
    };
    let mut by_arm = 0;
    for row in table.rows() {
        let design = Mechanism::new(strut(&row)).unwrap_or_else(|e| panic!("{}: {e}", row.place()));
        let positioner = Positioner::new(design);
        let h = &positioner.linkage.hardpoints;
        let rack_mm = row.number("in_rack_mm");
        let position = positioner
            .position(row.number("in_travel_mm"), rack_mm)
            .unwrap_or_else(|e| panic!("{}: {e}", row.place()));
        compare(&row, &positioner.linkage, &position, &allowed);
        compare_knuckle(&row, &position, &allowed);
        let slid = position.linkage.damper_mm - (h.damper_upper - h.damper_lower).norm();
        near(
            &row,
            "slide",
            slid,
            row.number("out_slid_mm"),
            allowed.length_mm,
        );
        let alpha = row.number("out_lower_arm_deg").to_radians();
        // Right-handed about the axis from rear to front pivot: up for a left arm, as ours is.
        near(&row, "arm angle", position.alpha, alpha, 1.0e-9);
        if row.text("drive") == "lower_arm" {
            by_arm += 1;
            compare(
                &row,
                &positioner.linkage,
                &positioner.place(alpha, rack_mm),
                &allowed,
            );
        }
    }
    assert!(by_arm > 0 && by_arm < 283, "both kinds of drive: {by_arm}");
}

/// Lengths of the published linkage are unitless; this makes them a truck's millimetres.
const PLANAR_SCALE_MM: f64 = 30.0;

/// Places for the planar linkage: random rotations and offsets. The linkage calls the arm's turn
/// positive when it lifts the ball joint, so a rotation in which the arm's turn doesn't lift it at all
/// is left out.
fn rigid_transforms() -> Vec<(Matrix3<f64>, Vector3<f64>)> {
    let mut dice = Dice::new(64453);
    let mut transforms = Vec::new();
    while transforms.len() < 8 {
        let rotation = dice.rotation(std::f64::consts::PI);
        let offset = dice.vector(900.0);
        // At a = 0 the ball joint moves along +v of the plane.
        if (rotation * Vector3::y()).z.abs() > 0.1 {
            transforms.push((rotation, offset));
        }
    }
    transforms
}

/// Where the upper joint is on either branch at a = 0, published units: as built (13, 7), and its
/// mirror image in the line from the upper pivot to the lower joint.
fn upper_joint_as_built(branch: &str) -> [f64; 2] {
    match branch {
        "as_built" => [13.0, 7.0],
        "other" => {
            // Mirror (13, 7) - (5, 7) = (8, 0) in the direction (8, -7) of that line.
            let (dx, dy) = (8.0, -7.0);
            let along = 2.0 * 8.0 * dx / (dx * dx + dy * dy);
            [5.0 + along * dx - 8.0, 7.0 + along * dy]
        }
        other => panic!("branch {other}"),
    }
}

/// A published value was printed with six significant digits, trailing zeros dropped: it is off by
/// at most half a unit of the sixth, 5e-4 deg for 100 deg and more.
fn printed_to_deg(value: f64) -> f64 {
    if value == 0.0 {
        1.0e-9
    } else {
        0.5 * 10_f64.powf(value.log10().floor() - 5.0) + 1.0e-9
    }
}

#[test]
fn planar_linkage_in_space_gives_the_published_angles() {
    let table = Table::read("planar_double_wishbone.csv", 38);
    let mut checked = 0;
    for (rotation, offset) in rigid_transforms() {
        // Plane coordinates (u, v) and w out of the plane, published units.
        let place =
            |u: f64, v: f64, w: f64| offset + rotation * Vector3::new(u, v, w) * PLANAR_SCALE_MM;
        let out_of_plane: Vector3<f64> = rotation * Vector3::z();
        let design = |branch: &str| {
            let [u, v] = upper_joint_as_built(branch);
            // Along the kingpin and square to it, both in the plane.
            let k = Vector3::new(u - 13.0, v, 0.0).normalize();
            let across = Vector3::new(k.y, -k.x, 0.0);
            let tie_rod_outer = Vector3::new(13.0, 0.0, 4.0);
            let tie_rod_inner = tie_rod_outer + across * 10.0;
            Mechanism::new(Hardpoints {
                lower_front: place(0.0, 0.0, 6.0),
                lower_rear: place(0.0, 0.0, -5.0),
                lower_ball: place(13.0, 0.0, 0.0),
                upper: UpperLink::Arm(ArmPoints {
                    front: place(5.0, 7.0, 3.0),
                    rear: place(5.0, 7.0, -4.0),
                    ball: place(u, v, 0.0),
                }),
                tie_rod_inner: offset + rotation * tie_rod_inner * PLANAR_SCALE_MM,
                tie_rod_outer: offset + rotation * tie_rod_outer * PLANAR_SCALE_MM,
                wheel_centre: place(16.0, 3.0, 0.0),
                spindle_axis: out_of_plane,
                damper_upper: place(6.0, 15.0, 1.0),
                damper_lower: place(8.0, 1.0, 1.0),
                damper_foot: DamperFoot::LowerArm,
                outer_joint: place(13.0, 3.0, 0.0),
                outer_axis: out_of_plane,
                inner_joint: place(13.0, 3.0, -15.0),
                flange_axis: out_of_plane,
            })
            .unwrap_or_else(|e| panic!("{branch}: {e}"))
        };
        let designs = [("as_built", design("as_built")), ("other", design("other"))];
        // Turning by +a about w lifts the ball joint in some places and lowers it in others.
        let lifts = (rotation * Vector3::y()).z.signum();
        for row in table.rows() {
            let (_, design) = designs
                .iter()
                .find(|(branch, _)| *branch == row.text("branch"))
                .expect("a branch of the table");
            let a = row.number("a_deg");
            let linkage = design.solve(lifts * a.to_radians(), 0.0);
            let in_plane = |p: &Vector3<f64>| rotation.transpose() * (p - offset) / PLANAR_SCALE_MM;
            let lower = in_plane(&linkage.lower_ball);
            let lower_expected =
                Vector3::new(a.to_radians().cos(), a.to_radians().sin(), 0.0) * 13.0;
            near(
                &row,
                "lower joint",
                (lower - lower_expected).norm(),
                0.0,
                1.0e-12,
            );

            let upper = in_plane(&linkage.kingpin_top);
            near(&row, "out of plane", upper.z, 0.0, 1.0e-12);
            near(
                &row,
                "joints' distance",
                (upper - lower).norm(),
                {
                    let [u, v] = upper_joint_as_built(row.text("branch"));
                    (u - 13.0).hypot(v)
                },
                1.0e-12,
            );

            let expected = row.number("b_deg");
            let b = (upper.y - 7.0).atan2(upper.x - 5.0).to_degrees();
            let turn = |from: f64, to: f64| (from - to + 540.0).rem_euclid(360.0) - 180.0;
            near(&row, "b", turn(b, expected), 0.0, printed_to_deg(expected));

            // The same from the arm's own turn, counted from where the branch stood at a = 0. The
            // arm's axis runs from front to rear pivot here, that is along -w.
            let [u, v] = upper_joint_as_built(row.text("branch"));
            let start = (v - 7.0).atan2(u - 5.0).to_degrees();
            let (cos, sin) = linkage.upper_turn;
            let b = start - sin.atan2(cos).to_degrees();
            near(
                &row,
                "b by the arm's turn",
                turn(b, expected),
                0.0,
                printed_to_deg(expected),
            );
            checked += 1;
        }
    }
    assert_eq!(checked, 8 * 38);
}
