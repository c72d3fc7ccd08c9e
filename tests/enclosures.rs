//! Intervals and enclosures hold what they promise to hold.
//!
//! * `interval_inari.csv`: operations by the crate inari (IEEE 1788), which rounds outward once; ours
//!   must hold all of its result.
//! * The whole linkage over random rectangles: every number, its rates and its second derivatives at
//!   random inner points, from plain and dual numbers, must lie inside; and the ranges must not be
//!   much wider than the truth, else a sweep would only split and never prove.

mod dice;
mod table;

use bindpoint::numbers::{Dual, Enclosure, Interval, Real};
use bindpoint::suspension::{
    ArmPoints, BootRing, DamperFoot, Hardpoints, HeldByTwo, Linkage, Mechanism, Motion,
    TwoPointLink, UpperLink,
};
use dice::Dice;
use nalgebra::Vector3;
use table::Table;

fn holds(outer: Interval, lo: f64, hi: f64) -> bool {
    outer.lo <= lo && hi <= outer.hi
}

#[test]
fn interval_operations_hold_inaris_results() {
    let table = Table::read("interval_inari.csv", 1796);
    let mut counts = std::collections::BTreeMap::new();
    for row in table.rows() {
        let n = |column: &str| row.number(column);
        let a = Interval {
            lo: n("a_lo"),
            hi: n("a_hi"),
        };
        let b = Interval {
            lo: n("b_lo"),
            hi: n("b_hi"),
        };
        let op = row.text("op");
        let ours = match op {
            "add" => a + b,
            "sub" => a - b,
            "mul" => a * b,
            "div" => a / b,
            "square" => a.square(),
            "sqrt" => a.sqrt(),
            "sin" => a.sin_cos().0,
            "cos" => a.sin_cos().1,
            other => panic!("{}: {other}", row.place()),
        };
        *counts.entry(op).or_insert(0) += 1;
        let (lo, hi) = (n("out_lo"), n("out_hi"));
        assert!(
            holds(ours, lo, hi),
            "{}: {op} {ours:?} lacks {lo:e} {hi:e}",
            row.place()
        );
        // And not much more: each operation moves its ends by a few units in the last place, a
        // division twice. Sine and cosine are only promised to hold.
        if !matches!(op, "sin" | "cos") {
            let size = lo.abs().max(hi.abs());
            let excess = (lo - ours.lo).max(ours.hi - hi);
            assert!(
                excess <= 4.0 * f64::EPSILON * size + 1.0e-299,
                "{}: {op} {excess:e}",
                row.place()
            );
        }
        // Scaling by a number is multiplying by a point.
        if op == "mul" && b.lo == b.hi {
            assert!(holds(a.scale(b.lo), lo, hi), "{}: scale", row.place());
        }
    }
    assert_eq!(counts.len(), 8, "{counts:?}");
}

#[test]
fn what_cannot_be_bounded_is_everything_and_never_nan() {
    let everything = Interval::EVERYTHING;
    let around_zero = Interval { lo: -1.0, hi: 2.0 };
    let one = Interval::point(1.0);
    let huge = Interval::point(f64::MAX);
    for (what, result) in [
        ("division by an interval that holds zero", one / around_zero),
        ("division by zero", one / Interval::point(0.0)),
        (
            "division by an interval that ends at zero",
            one / Interval { lo: 0.0, hi: 1.0 },
        ),
        ("root below zero", around_zero.sqrt()),
        ("root of zero", Interval::point(0.0).sqrt()),
        ("everything plus one", everything + one),
        ("everything less everything", everything - everything),
        ("everything times a sign change", everything * around_zero),
        (
            "infinity times zero's neighbourhood",
            Interval {
                lo: 0.0,
                hi: f64::INFINITY,
            } * around_zero,
        ),
        ("NaN", Interval::point(f64::NAN) + one),
    ] {
        assert_eq!(result, everything, "{what}");
    }
    for (what, result) in [
        ("sum", huge + huge),
        ("product", huge * huge),
        ("square", huge.square()),
        ("scale", huge.scale(2.0)),
    ] {
        assert!(
            result.hi == f64::INFINITY && !result.lo.is_nan(),
            "overflow of a {what}: {result:?}"
        );
    }
    assert_eq!(everything * Interval::point(0.0), Interval::point(0.0));
    let (sin, cos) = everything.sin_cos();
    assert!(holds(sin, -1.0, 1.0) && holds(cos, -1.0, 1.0));
}

/// An invented left corner with a tie rod for nearly no bump steer, every point off by up to `spread_mm`.
fn corner(dice: &mut Dice, spread_mm: f64) -> Mechanism {
    let mut v = |x, y, z| Vector3::new(x, y, z) + dice.vector(1.0) * spread_mm;
    let hardpoints = wishbones(&mut v);
    with_links(hardpoints, &mut v)
}

/// The same on a strut, its kingpin axis where the other one's is.
fn strut(dice: &mut Dice, spread_mm: f64) -> Mechanism {
    let mut v = |x, y, z| Vector3::new(x, y, z) + dice.vector(1.0) * spread_mm;
    let hardpoints = Hardpoints {
        upper: UpperLink::Strut,
        damper_upper: v(-55.0, 596.0, 1010.0),
        damper_lower: v(-20.0, 652.0, 470.0),
        damper_foot: DamperFoot::Knuckle,
        ..wishbones(&mut v)
    };
    with_links(hardpoints, &mut v)
}

/// Each kind of front end.
const KINDS: [fn(&mut Dice, f64) -> Mechanism; 2] = [corner, strut];

fn wishbones(v: &mut impl FnMut(f64, f64, f64) -> Vector3<f64>) -> Hardpoints {
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
        spindle_axis: Vector3::y(),
        damper_upper: v(-20.0, 470.0, 790.0),
        damper_lower: v(10.0, 560.0, 325.0),
        damper_foot: DamperFoot::LowerArm,
        outer_joint: v(0.0, 700.0, 400.0),
        outer_axis: Vector3::y(),
        inner_joint: v(0.0, 235.0, 420.0),
        flange_axis: Vector3::y(),
    }
}

fn with_links(
    hardpoints: Hardpoints,
    v: &mut impl FnMut(f64, f64, f64) -> Vector3<f64>,
) -> Mechanism {
    let links = [
        (
            Motion::LowerArm,
            v(110.0, 600.0, 330.0),
            Motion::Frame,
            v(150.0, 560.0, 540.0),
        ),
        (
            Motion::Rack,
            v(-130.0, 200.0, 420.0),
            Motion::Knuckle,
            v(-90.0, 690.0, 480.0),
        ),
    ];
    let links = links.map(|(on, from, other, to)| {
        HeldByTwo::Link(TwoPointLink {
            from: (on, from),
            to: (other, to),
            drawn_from: from,
            direction: (to - from).normalize(),
            length_mm: (to - from).norm(),
        })
    });
    let (cup, ring) = (v(0.0, 660.0, 400.0), v(0.0, 590.0, 403.0));
    let (axis, way) = (Vector3::y() * -30.0, (ring - cup).normalize() * 8.0);
    let ring = HeldByTwo::Ring(BootRing {
        from: (Motion::Knuckle, cup, axis),
        to: (Motion::Halfshaft, ring, way),
        share: 0.4,
        drawn_at: cup + (ring - cup) * 0.4,
        direction: (axis + way).normalize(),
    });
    let linkage = Mechanism::new(hardpoints).expect("a suspension");
    linkage.with_links(links.into_iter().chain([ring]).collect())
}

const MOTIONS: [Motion; 11] = [
    Motion::Link(2),
    Motion::Link(0),
    Motion::Link(1),
    Motion::Rack,
    Motion::LowerArm,
    Motion::UpperArm,
    Motion::Knuckle,
    Motion::TieRod,
    Motion::DamperUpper,
    Motion::DamperLower,
    Motion::Halfshaft,
];

/// Every number of every placement, every point, every length and cosine.
fn outputs<S: Real>(linkage: &Linkage<S>) -> Vec<S> {
    let mut out = Vec::with_capacity(160);
    for motion in MOTIONS {
        let placement = linkage.placement(motion);
        out.extend(placement.anchor.iter().copied());
        out.extend(placement.rotation.iter().copied());
    }
    for v in [
        linkage.lower_ball,
        linkage.kingpin_top,
        linkage.tie_rod_outer,
        linkage.wheel_centre,
        linkage.outer_joint,
        linkage.inner_joint,
        linkage.kingpin,
        linkage.tie_rod_direction,
        linkage.shaft_direction,
        linkage.damper_direction,
    ] {
        out.extend(v.iter().copied());
    }
    out.extend([
        linkage.damper_mm,
        linkage.plunge_mm,
        linkage.inner_cos,
        linkage.outer_cos,
        linkage.upper_turn.0,
        linkage.upper_turn.1,
    ]);
    out
}

/// Plain numbers carry rounding of their own, a few hundred operations at coordinates of 1000 mm; what
/// an enclosure promises to hold is the exact value.
fn inside(range: Interval, value: f64, size: f64) -> bool {
    let rounding = 1.0e-12 * (size + value.abs());
    value >= range.lo - rounding && value <= range.hi + rounding
}

/// A rectangle within useful travel (lower arm -20 to 13 deg, rack +-75 mm), from a tenth of the
/// smallest cells a sweep asks to larger than its first ones.
fn rectangle(dice: &mut Dice) -> ([f64; 2], [f64; 2]) {
    let centre = [dice.between(-0.35, 0.23), dice.between(-70.0, 70.0)];
    let size = 10_f64.powf(dice.between(-4.0, 0.0));
    let half = [
        size * dice.between(0.0, 0.08),
        size * dice.between(0.0, 10.0),
    ];
    (centre, half)
}

fn enclose(design: &Mechanism, centre: [f64; 2], half: [f64; 2]) -> Linkage<Enclosure> {
    design.solve(
        Enclosure::variable(centre[0], half[0], 0),
        Enclosure::variable(centre[1], half[1], 1),
    )
}

#[test]
fn enclosures_of_the_linkage_hold_every_inner_point() {
    let mut dice = Dice::new(1981);
    let (mut checked, mut unbounded, mut rectangles) = (0_u64, 0_u64, 0_u64);
    for (_, kind) in (0..60).zip(KINDS.into_iter().cycle()) {
        let design = kind(&mut dice, 10.0);
        for _ in 0..10 {
            let (centre, half) = rectangle(&mut dice);
            let enclosed = outputs(&enclose(&design, centre, half));
            rectangles += 1;
            unbounded += u64::from(enclosed.iter().any(|e| !e.range.is_bounded()));
            for inner in 0..10 {
                // Corners too: extremes are often there.
                let at = |dice: &mut Dice| match inner {
                    0 | 1 => [-1.0, 1.0][dice.below(2)],
                    _ => dice.between(-1.0, 1.0),
                };
                let [u, v] = [at(&mut dice), at(&mut dice)];
                let (alpha, rack) = (centre[0] + u * half[0], centre[1] + v * half[1]);
                let exact =
                    outputs(&design.solve(Dual::variable(alpha, 0), Dual::variable(rack, 1)));
                for (i, (e, d)) in enclosed.iter().zip(&exact).enumerate() {
                    if d.value.is_nan() {
                        // Out of reach: then nothing may be claimed.
                        assert!(!e.range.is_bounded(), "number {i} is claimed out of reach");
                        continue;
                    }
                    assert!(
                        inside(e.range, d.value, 1.0),
                        "number {i} at {alpha} {rack}: {} not in {:?}",
                        d.value,
                        e.range
                    );
                    for (k, half) in half.iter().enumerate() {
                        // Per half-size.
                        let rate = d.rate[k] * half;
                        assert!(
                            inside(e.rate[k], rate, half * (1.0 + d.rate[k].abs())),
                            "number {i}, rate {k} at {alpha} {rack}: {rate} not in {:?}",
                            e.rate[k]
                        );
                    }
                    checked += 1;
                }
            }
            // The centre's own numbers.
            let at =
                outputs(&design.solve(Dual::variable(centre[0], 0), Dual::variable(centre[1], 1)));
            for (i, (e, d)) in enclosed.iter().zip(&at).enumerate() {
                if d.value.is_nan() {
                    continue;
                }
                assert!(
                    inside(e.centre, d.value, 1.0),
                    "number {i}: {} {:?}",
                    d.value,
                    e.centre
                );
                for (k, half) in half.iter().enumerate() {
                    let rate = d.rate[k] * half;
                    let size = half * (1.0 + d.rate[k].abs());
                    assert!(
                        inside(e.centre_rate[k], rate, size),
                        "number {i}, centre rate {k}"
                    );
                }
            }
        }
    }
    println!("{checked} numbers in {rectangles} rectangles, {unbounded} of them not bounded");
    assert!(checked >= 500_000, "{checked}");
    // None was when this was written: within useful travel an enclosure must say something.
    assert!(
        unbounded * 100 <= rectangles,
        "{unbounded} of {rectangles} rectangles are not bounded"
    );
}

/// Second derivatives inside, by five-point differences of the dual numbers' rates. The difference is
/// good to rounding, 1e-12 of the rate over the step, and to the fourth power of the step.
#[test]
fn enclosures_of_the_linkage_hold_second_derivatives() {
    let mut dice = Dice::new(2979);
    let mut checked = 0_u64;
    for (_, kind) in (0..40).zip(KINDS.into_iter().cycle()) {
        let design = kind(&mut dice, 10.0);
        for _ in 0..5 {
            let (centre, half) = rectangle(&mut dice);
            // Away from the tie rod's dead point, where differences are poor.
            let centre = [centre[0], centre[1] * 0.6];
            let enclosed = outputs(&enclose(&design, centre, half));
            for _ in 0..2 {
                let x = [0, 1].map(|k| centre[k] + dice.between(-1.0, 1.0) * half[k]);
                let rates = |d: [f64; 2]| {
                    outputs(&design.solve(
                        Dual::variable(x[0] + d[0], 0),
                        Dual::variable(x[1] + d[1], 1),
                    ))
                };
                // By arm angle twice, by both, by rack twice: which rate, along which variable.
                for (bend, (rate, along)) in [(0, 0), (0, 1), (1, 1)].into_iter().enumerate() {
                    let step = [1.0e-3, 0.1][along];
                    let at = |k: f64| {
                        let mut d = [0.0; 2];
                        d[along] = k * step;
                        rates(d)
                    };
                    let [a, b, c, d] = [-2.0, -1.0, 1.0, 2.0].map(at);
                    for (i, e) in enclosed.iter().enumerate() {
                        let r = |o: &[Dual]| o[i].rate[rate];
                        let second = (r(&a) - 8.0 * r(&b) + 8.0 * r(&c) - r(&d)) / (12.0 * step);
                        if second.is_nan() {
                            continue;
                        }
                        let size = half[rate] * half[along];
                        let slack = size
                            * (1.0e-12 * (1.0 + r(&b).abs()) / step
                                + 1.0e-7 * (1.0 + second.abs()));
                        let value = second * size;
                        assert!(
                            value >= e.bend[bend].lo - slack && value <= e.bend[bend].hi + slack,
                            "number {i}, bend {bend}: {value} not in {:?}",
                            e.bend[bend]
                        );
                        checked += 1;
                    }
                }
            }
        }
    }
    println!("{checked} second derivatives");
    assert!(checked >= 100_000, "{checked}");
}

/// Width of an interval.
fn width(i: Interval) -> f64 {
    i.hi - i.lo
}

/// Over one degree by two millimetres, a cell of a sweep's middle levels, the ranges of heights,
/// lengths and their rates are close to their true spans, sampled on a grid with both ends. A rate hardly
/// changes over such a cell, so what its range is wider by is compared with the rate's own size, which is
/// what a motion bound grows by. Measured 1.009 and 0.7 %; allowed twice that and a little.
#[test]
fn enclosures_are_sharp_over_a_degree_by_two_millimetres() {
    let mut dice = Dice::new(2);
    let half = [0.5_f64.to_radians(), 1.0];
    let mut widest = [0.0_f64; 3];
    for (_, kind) in (0..40).zip(KINDS.into_iter().cycle()) {
        let design = kind(&mut dice, 10.0);
        let centre = [dice.between(-0.3, 0.2), dice.between(-50.0, 50.0)];
        let enclosed = enclose(&design, centre, half);
        let quantities = |l: &Linkage<Enclosure>| [l.wheel_centre.z, l.damper_mm, l.kingpin_top.z];
        let plain = |l: &Linkage<Dual>| [l.wheel_centre.z, l.damper_mm, l.kingpin_top.z];
        let everything = Interval::EVERYTHING;
        let nothing = Interval {
            lo: everything.hi,
            hi: everything.lo,
        };
        let mut spans = [[nothing; 2]; 3];
        for i in 0..=10 {
            for j in 0..=10 {
                let at = |k: usize, n: i32| centre[k] + half[k] * (f64::from(n) / 5.0 - 1.0);
                let l = design.solve(Dual::variable(at(0, i), 0), Dual::variable(at(1, j), 1));
                for (span, d) in spans.iter_mut().zip(plain(&l)) {
                    span[0] = span[0].hull(Interval::point(d.value));
                    span[1] = span[1].hull(Interval::point(d.rate[0] * half[0]));
                }
            }
        }
        for (e, [value, rate]) in quantities(&enclosed).into_iter().zip(spans) {
            widest[0] = widest[0].max(width(e.range) / width(value));
            widest[1] = widest[1].max((width(e.rate[0]) - width(rate)) / rate.magnitude());
            widest[2] = widest[2].max(width(e.rate[0]) / width(rate));
        }
    }
    println!(
        "range over true span {:.5}; rate wider than its span by {:.5} of the rate, {:.3} times the span",
        widest[0], widest[1], widest[2]
    );
    assert!(
        widest[0] <= 1.02,
        "a range is {} times its true span",
        widest[0]
    );
    assert!(
        widest[1] <= 0.02,
        "a rate's range exceeds its span by {} of the rate",
        widest[1]
    );
}

/// Halving a rectangle must take the excess of a range down by four and more: second order.
#[test]
fn enclosures_close_in_to_second_order() {
    let design = corner(&mut Dice::new(3), 0.0);
    let excess = |share: f64| {
        let half = [0.04 * share, 8.0 * share];
        let l = enclose(&design, [-0.1, 20.0], half);
        // The wheel's height and the damper rise with the arm: extremes are at two corners.
        let ends = [-1.0, 1.0].map(|u| {
            [-1.0, 1.0].map(|v| {
                design
                    .solve(-0.1 + u * half[0], 20.0 + v * half[1])
                    .wheel_centre
                    .z
            })
        });
        let low = ends.iter().flatten().copied().fold(f64::INFINITY, f64::min);
        let high = ends
            .iter()
            .flatten()
            .copied()
            .fold(f64::NEG_INFINITY, f64::max);
        width(l.wheel_centre.z.range) - (high - low)
    };
    let values = [1.0, 0.5, 0.25, 0.125].map(excess);
    println!("{values:?}");
    for pair in values.windows(2) {
        assert!(pair[1] >= 0.0 && pair[1] <= pair[0] / 3.5, "{values:?}");
    }
}
