//! What must hold of the linkage at any position, whatever the hardpoints.
//!
//! Source of the checks: rigid bodies keep their lengths; mirroring left to right and moving the whole
//! truck change no angle and no length; derivatives against differences; the
//! geometry that is varied is invented. Runs the same cases every time.

use bindpoint::kinematics::{Position, Positioner, ReachError, WheelAngles, wheel_angles};
use bindpoint::numbers::{Dual, Real};
use bindpoint::suspension::{
    ArmPoints, DamperFoot, Hardpoints, Linkage, Mechanism, Motion, Placement, ReachLimit, Side,
    UpperLink,
};
use nalgebra::{Matrix3, Vector3};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;

type V = Vector3<f64>;

const LOADED_RADIUS_MM: f64 = 387.0;

fn config(cases: u32) -> ProptestConfig {
    ProptestConfig {
        cases,
        rng_seed: RngSeed::Fixed(8855),
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

/// An invented left corner with a tie rod for nearly no bump steer.
fn invented_corner() -> Hardpoints {
    let v = V::new;
    Hardpoints {
        lower_front: v(180.0, 335.0, 345.0),
        lower_rear: v(-190.0, 335.0, 335.0),
        lower_ball: v(8.0, 722.0, 290.0),
        upper: UpperLink::Arm(ArmPoints {
            front: v(95.0, 440.0, 655.0),
            rear: v(-125.0, 445.0, 640.0),
            ball: v(-22.0, 668.0, 682.0),
        }),
        tie_rod_inner: v(-135.0, 366.0, 396.0),
        tie_rod_outer: v(-140.0, 685.0, 372.0),
        wheel_centre: v(0.0, 815.0, 400.0),
        spindle_axis: v(0.0, 1.0, 0.0),
        damper_upper: v(-20.0, 470.0, 790.0),
        damper_lower: v(10.0, 560.0, 325.0),
        damper_foot: DamperFoot::LowerArm,
        outer_joint: v(0.0, 700.0, 400.0),
        outer_axis: v(0.0, 1.0, 0.0),
        inner_joint: v(0.0, 235.0, 420.0),
        flange_axis: v(0.0, 1.0, 0.0),
    }
}

/// Applies a map to every point and another to every direction.
fn mapped(h: &Hardpoints, point: impl Fn(&V) -> V, axis: impl Fn(&V) -> V) -> Hardpoints {
    Hardpoints {
        lower_front: point(&h.lower_front),
        lower_rear: point(&h.lower_rear),
        lower_ball: point(&h.lower_ball),
        upper: match h.upper {
            UpperLink::Arm(arm) => UpperLink::Arm(arm.map(|p| point(&p))),
            UpperLink::Strut => UpperLink::Strut,
        },
        tie_rod_inner: point(&h.tie_rod_inner),
        tie_rod_outer: point(&h.tie_rod_outer),
        wheel_centre: point(&h.wheel_centre),
        spindle_axis: axis(&h.spindle_axis),
        damper_upper: point(&h.damper_upper),
        damper_lower: point(&h.damper_lower),
        damper_foot: h.damper_foot,
        outer_joint: point(&h.outer_joint),
        outer_axis: axis(&h.outer_axis),
        inner_joint: point(&h.inner_joint),
        flange_axis: axis(&h.flange_axis),
    }
}

/// The same on a strut.
fn on_a_strut() -> Hardpoints {
    Hardpoints {
        upper: UpperLink::Strut,
        damper_upper: V::new(-55.0, 596.0, 1010.0),
        damper_lower: V::new(-20.0, 652.0, 470.0),
        damper_foot: DamperFoot::Knuckle,
        ..invented_corner()
    }
}

/// The number of the front end on a strut, after the three bodies that may carry a damper.
const STRUT: usize = 3;

/// Every point off by up to 10 mm, every axis by up to 0.08 a component (5 deg and more), and each
/// body that may carry the damper; a quarter are on struts. At 20 mm many steering arms reach their dead point within the rack's
/// travel; at 10 mm a few do, near both locks.
fn hardpoints() -> impl Strategy<Value = Hardpoints> {
    let shift = proptest::array::uniform3(-1.0_f64..1.0);
    (proptest::collection::vec(shift, 17), 0..4_usize).prop_map(|(shifts, foot)| {
        let next = std::cell::Cell::new(0);
        let take = || {
            let i = next.get();
            next.set(i + 1);
            V::from(shifts[i])
        };
        let base = if foot == STRUT {
            on_a_strut()
        } else {
            invented_corner()
        };
        let mut h = mapped(
            &base,
            |p| p + take() * 10.0,
            |a| (a + take() * 0.08).normalize(),
        );
        h.damper_foot = [
            DamperFoot::LowerArm,
            DamperFoot::UpperArm,
            DamperFoot::Knuckle,
            DamperFoot::Knuckle,
        ][foot];
        h
    })
}

fn positioner(h: Hardpoints) -> Positioner {
    Positioner::new(Mechanism::new(h).expect("these hardpoints make a suspension"))
}

const MOTIONS: [Motion; 9] = [
    Motion::Frame,
    Motion::Rack,
    Motion::LowerArm,
    Motion::UpperArm,
    Motion::Knuckle,
    Motion::TieRod,
    Motion::DamperUpper,
    Motion::DamperLower,
    Motion::Halfshaft,
];

/// Every number that the linkage gives, with its name.
fn outputs<S: Real>(linkage: &Linkage<S>) -> Vec<(String, S)> {
    let mut out = Vec::new();
    for motion in MOTIONS {
        let Placement {
            rotation, anchor, ..
        } = linkage.placement(motion);
        for i in 0..3 {
            out.push((format!("{motion:?} anchor {i}"), anchor[i]));
            for j in 0..3 {
                out.push((format!("{motion:?} rotation {i} {j}"), rotation[(i, j)]));
            }
        }
    }
    for (name, v) in [
        ("lower ball", linkage.lower_ball),
        ("upper ball", linkage.kingpin_top),
        ("tie rod outer", linkage.tie_rod_outer),
        ("tie rod inner", linkage.tie_rod_inner),
        ("wheel centre", linkage.wheel_centre),
        ("outer joint", linkage.outer_joint),
        ("inner joint", linkage.inner_joint),
        ("kingpin", linkage.kingpin),
        ("tie rod direction", linkage.tie_rod_direction),
        ("shaft direction", linkage.shaft_direction),
        ("damper direction", linkage.damper_direction),
    ] {
        for i in 0..3 {
            out.push((format!("{name} {i}"), v[i]));
        }
    }
    for (name, s) in [
        ("damper length", linkage.damper_mm),
        ("plunge", linkage.plunge_mm),
        ("inner cos", linkage.inner_cos),
        ("outer cos", linkage.outer_cos),
        ("upper turn cos", linkage.upper_turn.0),
        ("upper turn sin", linkage.upper_turn.1),
    ] {
        out.push((name.to_owned(), s));
    }
    out
}

/// Closed forms at coordinates of 1000 mm (1e-13 mm) a few hundred operations deep, and roots whose
/// argument is far from zero at these travels.
const LENGTH_MM: f64 = 1.0e-9;

proptest! {
    #![proptest_config(config(2000))]

    /// Distances within a body and lengths of rods hold; rotations are rotations; the spider stays on
    /// the flange axis.
    #[test]
    fn rigid_bodies_keep_their_lengths(
        h in hardpoints(),
        travel in -130.0..90.0_f64,
        rack in -70.0..70.0_f64,
    ) {
        let positioner = positioner(h.clone());
        let position = positioner.position(travel, rack);
        // Few end before (a tie rod's dead point near a lock): the error must be a true one.
        if let Err(error) = &position {
            prop_assert!(rack.abs() > 50.0 && error.reached_mm.is_finite(), "{error}");
            return Ok(());
        }
        let l = position.unwrap().linkage;
        let eye = match h.damper_foot {
            DamperFoot::LowerArm => l.lower_arm.point(&h.damper_lower),
            DamperFoot::UpperArm => l.upper_arm.point(&h.damper_lower),
            DamperFoot::Knuckle => l.knuckle.point(&h.damper_lower),
        };
        // The damper's lower half doesn't twist against what carries its eye; a strut's tube is one body with the knuckle.
        let carrier = match h.damper_foot {
            DamperFoot::LowerArm => &l.lower_arm,
            DamperFoot::UpperArm => &l.upper_arm,
            DamperFoot::Knuckle => &l.knuckle,
        };
        let against = carrier.rotation.transpose() * l.damper_lower.rotation;
        let turn = nalgebra::Rotation3::from_matrix_unchecked(against).scaled_axis();
        let drawn = (h.damper_lower - h.damper_upper).normalize();
        prop_assert!(turn.dot(&drawn).abs() < 1.0e-9, "twisted by {:e}", turn.dot(&drawn));
        if h.upper_arm().is_none() {
            prop_assert!(turn.norm() < 1.0e-9, "the tube turns by {:e}", turn.norm());
        }
        let moved_rack = h.tie_rod_inner + V::y() * rack;
        let arm = h.upper_arm().copied();
        let upper: Vec<(V, V)> = arm.iter().flat_map(|arm| {
            [(arm.front, arm.front), (arm.rear, arm.rear), (arm.ball, l.kingpin_top)]
        }).collect();
        // A strut's axis passes the top mount wherever the knuckle is.
        let on_knuckle = match arm {
            Some(arm) => (arm.ball, l.kingpin_top),
            None => {
                let mount = l.knuckle.point_in_body(&h.damper_upper);
                let axis = (h.damper_upper - h.damper_lower).normalize();
                let beside = (mount - h.damper_lower).cross(&axis).norm();
                prop_assert!(beside <= LENGTH_MM, "the top mount is {beside:e} off the axis");
                prop_assert!((l.damper_mm - (mount - h.damper_lower).norm()).abs() <= LENGTH_MM);
                (h.lower_ball, l.lower_ball)
            }
        };
        let bodies: [&[(V, V)]; 5] = [
            &[(h.lower_front, h.lower_front), (h.lower_rear, h.lower_rear), (h.lower_ball, l.lower_ball)],
            &upper,
            &[
                (h.lower_ball, l.lower_ball),
                on_knuckle,
                (h.tie_rod_outer, l.tie_rod_outer),
                (h.wheel_centre, l.wheel_centre),
                (h.outer_joint, l.outer_joint),
            ],
            &[(h.tie_rod_inner, l.tie_rod_inner), (h.tie_rod_outer, l.tie_rod_outer)],
            &[(h.inner_joint, l.inner_joint), (h.outer_joint, l.outer_joint)],
        ];
        for (b, body) in bodies.iter().enumerate() {
            for (i, (p, moved_p)) in body.iter().enumerate() {
                for (q, moved_q) in &body[..i] {
                    let change = (moved_p - moved_q).norm() - (p - q).norm();
                    prop_assert!(change.abs() <= LENGTH_MM, "body {b}: a length changed by {change:e}");
                }
            }
        }
        prop_assert_eq!(l.tie_rod_inner, moved_rack);
        // The body's placement takes its points where the linkage says that they are.
        for (placement, body_point, place) in [
            (&l.lower_arm, h.lower_ball, l.lower_ball),
            (&l.lower_arm, h.lower_front, h.lower_front),
            (&l.knuckle, on_knuckle.0, on_knuckle.1),
            (&l.knuckle, h.tie_rod_outer, l.tie_rod_outer),
            (&l.tie_rod, h.tie_rod_inner, l.tie_rod_inner),
            (&l.tie_rod, h.tie_rod_outer, l.tie_rod_outer),
            (&l.rack, h.tie_rod_inner, l.tie_rod_inner),
            (&l.halfshaft, h.inner_joint, l.inner_joint),
            (&l.halfshaft, h.outer_joint, l.outer_joint),
            (&l.damper_upper, h.damper_upper, h.damper_upper),
            (&l.damper_lower, h.damper_lower, eye),
        ] {
            let miss = (placement.point(&body_point) - place).norm();
            prop_assert!(miss <= LENGTH_MM, "{body_point:?} off by {miss:e}");
            let back = (placement.point_in_body(&place) - body_point).norm();
            prop_assert!(back <= LENGTH_MM, "{body_point:?} back off by {back:e}");
        }
        for (body_point, place) in upper {
            prop_assert!((l.upper_arm.point(&body_point) - place).norm() <= LENGTH_MM);
        }
        for motion in MOTIONS {
            let r = l.placement(motion).rotation;
            let skew = (r * r.transpose() - Matrix3::identity()).abs().max();
            prop_assert!(skew <= 1.0e-12 && r.determinant() > 0.0, "{motion:?}: {skew:e}");
        }
        // Spider on the flange's axis, plunge along it, and the halves of the damper in line.
        let slide = l.inner_joint - h.inner_joint;
        prop_assert!((slide - h.flange_axis * l.plunge_mm).norm() <= LENGTH_MM);
        prop_assert!((eye - h.damper_upper - l.damper_direction * l.damper_mm).norm() <= LENGTH_MM);
        let shaft = (l.outer_joint - l.inner_joint).normalize();
        prop_assert!((l.inner_cos - shaft.dot(&h.flange_axis)).abs() <= 1.0e-12);
        prop_assert!((l.outer_cos - shaft.dot(&l.knuckle.direction(&h.outer_axis))).abs() <= 1.0e-12);
    }

    /// The travel asked for is the travel that comes out, and asking for what an arm angle gave gives
    /// the arm angle back.
    #[test]
    fn asking_by_travel_inverts_placing_by_arm_angle(
        h in hardpoints(),
        alpha in -0.35..0.22_f64,
        rack in -70.0..70.0_f64,
    ) {
        let positioner = positioner(h);
        let placed = positioner.place(alpha, rack);
        prop_assert!(placed.linkage.out_of_reach().is_none());
        let asked = positioner.position(placed.travel_mm, rack);
        prop_assert!(asked.is_ok(), "{:?}", asked.err());
        let asked = asked.unwrap();
        prop_assert!((asked.travel_mm - placed.travel_mm).abs() <= 1.0e-9);
        // 1e-9 mm of height over the arm's least lever here, some 200 mm.
        prop_assert!((asked.alpha - alpha).abs() <= 1.0e-11, "{} {alpha}", asked.alpha);
        prop_assert_eq!(asked.rack_mm, rack);
    }
}

/// Least step of the walk (radians) times the longest arm: what the end of reach is known to, mm.
const END_MM: f64 = 1.0e-3;

proptest! {
    #![proptest_config(config(300))]

    /// Past the end of reach there is an error that says where the end is; just before it there is a
    /// position; nowhere is there a NaN.
    #[test]
    fn the_end_of_reach_is_found_and_never_passed(
        h in hardpoints(),
        down in any::<bool>(),
        rack in -110.0..110.0_f64,
    ) {
        let positioner = positioner(h);
        let sign = if down { -1.0 } else { 1.0 };
        let start = positioner.place(0.0, rack);
        prop_assume!(start.linkage.out_of_reach().is_none());
        let error = positioner.position(sign * 3000.0, rack);
        prop_assert!(error.is_err());
        let error = error.unwrap_err();
        prop_assert_eq!(error.wanted_mm, sign * 3000.0);
        prop_assert_eq!(error.rack_mm, rack);
        prop_assert!(error.reached_mm.is_finite() && error.reached_mm.abs() < 1500.0, "{error}");

        // Inside: right up to the end, with no NaN.
        let length = error.reached_mm - start.travel_mm;
        prop_assert!(length * sign >= 0.0, "{error}, started at {}", start.travel_mm);
        for share in [0.25, 0.5, 0.75, 0.95, 0.999] {
            let travel = start.travel_mm + length * share;
            let position = positioner.position(travel, rack);
            prop_assert!(position.is_ok(), "{travel}: {:?}", position.err());
            let position = position.unwrap();
            prop_assert!((position.travel_mm - travel).abs() <= 1.0e-9);
            for (name, value) in outputs(&position.linkage) {
                prop_assert!(value.is_finite(), "{name} at {travel}");
            }
        }
        let inside = positioner.position(error.reached_mm - sign * END_MM, rack);
        prop_assert!(inside.is_ok(), "{error}: {:?}", inside.err());

        // Just outside: the same end, whichever target was asked for.
        let outside = positioner.position(error.reached_mm + sign * END_MM, rack);
        prop_assert!(outside.is_err(), "{error}");
        let outside = outside.unwrap_err();
        prop_assert!((outside.reached_mm - error.reached_mm).abs() <= END_MM);
        prop_assert_eq!(outside.limit, error.limit);
        // Further out the same again, or, where the tie rod's dead point cuts the travel in two at
        // this rack, the far part, which steering after lifting does reach: a true pose of the as-built
        // branch, in one piece.
        for beyond in [1.0, 20.0, 100.0] {
            match positioner.position(error.reached_mm + sign * beyond, rack) {
                Err(outside) => {
                    prop_assert!((outside.reached_mm - error.reached_mm).abs() <= END_MM);
                    prop_assert_eq!(outside.limit, error.limit);
                }
                Ok(far) => {
                    let travel = error.reached_mm + sign * beyond;
                    prop_assert!((far.travel_mm - travel).abs() <= 1.0e-9);
                    prop_assert!(far.linkage.out_of_reach().is_none());
                    prop_assert!(positioner.rates(far.alpha, rack).rate[0] > 0.0);
                    // Beyond the rack travel of any truck of this size, ours has 75 mm.
                    prop_assert!(rack.abs() > 80.0, "{error}: {beyond} beyond, at {}", far.alpha);
                }
            }
        }
    }

    /// Where an arm angle can't be reached at all, the linkage says so; plain numbers are NaN exactly
    /// where it does.
    #[test]
    fn out_of_reach_is_named_exactly_where_numbers_end(
        h in hardpoints(),
        alpha in -1.5..1.5_f64,
        rack in -400.0..400.0_f64,
    ) {
        let linkage = positioner(h).place(alpha, rack).linkage;
        let broken = outputs(&linkage).iter().any(|(_, value)| value.is_nan());
        match linkage.out_of_reach() {
            None => prop_assert!(!broken),
            Some(limit) => {
                prop_assert!(broken, "{limit:?} but every number is one");
                prop_assert!(limit != ReachLimit::WheelHeight);
            }
        }
    }

    /// Dual numbers against the five-point difference of every number of the linkage. Steps of 1e-3
    /// rad and 0.1 mm, both about a thousandth of what bends the motion: truncation is 1e-12 / 30 of a
    /// fifth derivative, rounding 1e-15 of the size over the step.
    #[test]
    fn dual_numbers_give_the_derivatives(
        h in hardpoints(),
        alpha in -0.35..0.22_f64,
        rack in -50.0..50.0_f64,
    ) {
        let design = Mechanism::new(h).expect("a suspension");
        let exact = outputs(&design.solve(Dual::variable(alpha, 0), Dual::variable(rack, 1)));
        let plain = outputs(&design.solve(alpha, rack));
        for (variable, step) in [(0, 1.0e-3), (1, 0.1)] {
            let at = |k: f64| {
                let d = [k * step * f64::from(variable == 0), k * step * f64::from(variable == 1)];
                outputs(&design.solve(alpha + d[0], rack + d[1]))
            };
            let [a, b, c, d] = [-2.0, -1.0, 1.0, 2.0].map(at);
            for i in 0..exact.len() {
                let (name, dual) = &exact[i];
                prop_assert!((dual.value - plain[i].1).abs() <= 1.0e-10, "{name}");
                let slope = (a[i].1 - 8.0 * b[i].1 + 8.0 * c[i].1 - d[i].1) / (12.0 * step);
                let rate = dual.rate[variable as usize];
                // Rounding of this entry's own size over the step, and a share of the rate.
                let allowed = 1.0e-12 * (1.0 + dual.value.abs()) / step + 1.0e-8 * (1.0 + rate.abs());
                prop_assert!(
                    (slope - rate).abs() <= allowed,
                    "{name} by {variable}: {rate}, difference {slope}, allowed {allowed:e}"
                );
            }
        }
    }

    /// Left and right are mirror images: points mirror; camber, toe, caster and the rest stay; steer
    /// changes its sign.
    #[test]
    fn mirrored_hardpoints_give_the_mirrored_position(
        h in hardpoints(),
        travel in -130.0..90.0_f64,
        rack in -70.0..70.0_f64,
    ) {
        let flip = |v: &V| V::new(v.x, -v.y, v.z);
        let left = positioner(h.clone());
        let right = positioner(mapped(&h, flip, flip));
        let (l, r) = (left.position(travel, rack), right.position(travel, -rack));
        let (Ok(l), Ok(r)) = (&l, &r) else { return same_end(&l, &r) };
        // Both heights are good to 1e-10 mm; a steering arm can magnify it tenfold.
        let near = |what: &str, a: f64, b: f64| -> Result<(), TestCaseError> {
            prop_assert!((a - b).abs() <= 1.0e-8, "{what}: {a} and {b}");
            Ok(())
        };
        for (what, a, b) in points(&l.linkage, &r.linkage) {
            near(what, (flip(&a) - b).norm(), 0.0)?;
        }
        near("damper", l.linkage.damper_mm, r.linkage.damper_mm)?;
        near("plunge", l.linkage.plunge_mm, r.linkage.plunge_mm)?;
        near("inner joint", l.linkage.inner_cos, r.linkage.inner_cos)?;
        near("outer joint", l.linkage.outer_cos, r.linkage.outer_cos)?;
        near("arm", l.alpha, r.alpha)?;
        let a = wheel_angles(&left.linkage, l, Side::Left, LOADED_RADIUS_MM);
        let b = wheel_angles(&right.linkage, r, Side::Right, LOADED_RADIUS_MM);
        near("steer", a.steer_deg, -b.steer_deg)?;
        near_angles(&a, &WheelAngles { steer_deg: -b.steer_deg, ..b })?;
    }

    /// The whole truck drawn elsewhere: nothing but the points' coordinates changes.
    #[test]
    fn moving_the_whole_truck_changes_no_angle_and_no_length(
        h in hardpoints(),
        shift in proptest::array::uniform3(-800.0..800.0_f64),
        travel in -130.0..90.0_f64,
        rack in -70.0..70.0_f64,
    ) {
        let shift = V::from(shift);
        let here = positioner(h.clone());
        let there = positioner(mapped(&h, |p| p + shift, |a| *a));
        let (a, b) = (here.position(travel, rack), there.position(travel, rack));
        let (Ok(a), Ok(b)) = (&a, &b) else { return same_end(&a, &b) };
        for (what, p, q) in points(&a.linkage, &b.linkage) {
            prop_assert!((p + shift - q).norm() <= 1.0e-8, "{what}");
        }
        for motion in MOTIONS {
            let turned = a.linkage.placement(motion).rotation - b.linkage.placement(motion).rotation;
            prop_assert!(turned.abs().max() <= 1.0e-10, "{motion:?}");
        }
        prop_assert!((a.linkage.damper_mm - b.linkage.damper_mm).abs() <= 1.0e-8);
        prop_assert!((a.linkage.plunge_mm - b.linkage.plunge_mm).abs() <= 1.0e-8);
        near_angles(
            &wheel_angles(&here.linkage, a, Side::Left, LOADED_RADIUS_MM),
            &wheel_angles(&there.linkage, b, Side::Left, LOADED_RADIUS_MM),
        )?;
    }

    /// As measured, nothing has moved.
    #[test]
    fn the_measured_position_is_zero(h in hardpoints()) {
        let positioner = positioner(h.clone());
        let position = positioner.position(0.0, 0.0);
        prop_assert!(position.is_ok());
        let position = position.unwrap();
        let l = &position.linkage;
        // The height's tolerance, 1e-10 mm, times what a steering arm can make of it.
        for (what, value) in [
            ("travel", position.travel_mm),
            ("arm", position.alpha),
            ("plunge", l.plunge_mm),
            ("upper arm", l.upper_turn.1),
            ("damper", l.damper_mm - (h.damper_lower - h.damper_upper).norm()),
        ] {
            prop_assert!(value.abs() <= 1.0e-9, "{what}: {value}");
        }
        for motion in MOTIONS {
            let p = l.placement(motion);
            prop_assert!((p.rotation - Matrix3::identity()).abs().max() <= 1.0e-11, "{motion:?}");
            prop_assert!(p.offset().norm() <= 1.0e-8, "{motion:?}: {}", p.offset());
        }
        // Toe and camber are the spindle's own.
        let angles = wheel_angles(&positioner.linkage, &position, Side::Left, LOADED_RADIUS_MM);
        let s = h.spindle_axis;
        let steer = (-s.x).atan2(s.y).to_degrees();
        prop_assert!((angles.steer_deg - steer).abs() <= 1.0e-9, "{} {steer}", angles.steer_deg);
        prop_assert!((angles.toe_deg + steer).abs() <= 1.0e-9);
        prop_assert!((angles.camber_deg + s.z.asin().to_degrees()).abs() <= 1.0e-9);
    }
}

/// Two trucks that must behave alike: neither reaches, and both end at the same travel.
fn same_end(
    a: &Result<Position, ReachError>,
    b: &Result<Position, ReachError>,
) -> Result<(), TestCaseError> {
    let (Err(a), Err(b)) = (a, b) else {
        prop_assert!(
            false,
            "one reaches, the other doesn't: {:?} {:?}",
            a.as_ref().err(),
            b.as_ref().err()
        );
        return Ok(());
    };
    prop_assert_eq!(a.limit, b.limit);
    prop_assert!((a.reached_mm - b.reached_mm).abs() <= END_MM, "{a}; {b}");
    Ok(())
}

/// The same points of two linkages.
fn points(a: &Linkage<f64>, b: &Linkage<f64>) -> [(&'static str, V, V); 7] {
    [
        ("lower ball", a.lower_ball, b.lower_ball),
        ("upper ball", a.kingpin_top, b.kingpin_top),
        ("tie rod outer", a.tie_rod_outer, b.tie_rod_outer),
        ("tie rod inner", a.tie_rod_inner, b.tie_rod_inner),
        ("wheel centre", a.wheel_centre, b.wheel_centre),
        ("outer joint", a.outer_joint, b.outer_joint),
        ("inner joint", a.inner_joint, b.inner_joint),
    ]
}

/// Heights good to 1e-10 mm over a steering arm of 100 mm turn the wheel by 1e-10 degrees; ground
/// points lie 400 mm from the joints.
fn near_angles(a: &WheelAngles, b: &WheelAngles) -> Result<(), TestCaseError> {
    for (what, x, y) in [
        ("camber", a.camber_deg, b.camber_deg),
        (
            "front-view camber",
            a.camber_front_view_deg,
            b.camber_front_view_deg,
        ),
        ("toe", a.toe_deg, b.toe_deg),
        ("steer", a.steer_deg, b.steer_deg),
        ("caster", a.caster_deg, b.caster_deg),
        (
            "kingpin inclination",
            a.kingpin_inclination_deg,
            b.kingpin_inclination_deg,
        ),
        ("scrub radius", a.scrub_radius_mm, b.scrub_radius_mm),
        ("caster trail", a.caster_trail_mm, b.caster_trail_mm),
    ] {
        prop_assert!((x - y).abs() <= 1.0e-8, "{what}: {x} and {y}");
    }
    Ok(())
}

proptest! {
    #![proptest_config(config(300))]

    /// A rack position at which even the measured arm angle is out of the tie rod's reach is an error
    /// like any other, with a number in it.
    #[test]
    fn a_rack_too_far_is_an_error_without_nan(
        h in hardpoints(),
        travel in -130.0..90.0_f64,
        rack in 150.0..600.0_f64,
        left in any::<bool>(),
    ) {
        let positioner = positioner(h);
        let rack = if left { rack } else { -rack };
        match positioner.position(travel, rack) {
            Ok(position) => {
                prop_assert!((position.travel_mm - travel).abs() <= 1.0e-9);
                prop_assert!(position.linkage.out_of_reach().is_none());
            }
            Err(error) => {
                prop_assert!(!error.reached_mm.is_nan(), "{error}");
            }
        }
    }
}
