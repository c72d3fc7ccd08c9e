//! parry3d as the second pair of eyes: it agrees where we are right, says so where we aren't, and its own slips neither
//! give a false alarm nor hide a difference.
//!
//! Closed forms are the oracle for single pairs; for the demos it is that two ways agree. Random numbers come from a
//! fixed seed, so a failure repeats.

use bindpoint::clearance::{PairWalk, Relative, second_gap};
use bindpoint::findings::{
    ContactClass, NotAskedWhy, Reported, SaidOfGap, Status, TravelDirection, Undecided,
};
use bindpoint::output::{Datum, SweepText, Units, sweep_text};
use bindpoint::shapes::{ParryGap, ParrySolid, Shape, Surface};
use bindpoint::sweep::first_contact::first_touch;
use bindpoint::sweep::free_travel::Region;
use bindpoint::sweep::rate_atlas::Atlas;
use bindpoint::sweep::second_look::{ALLOWED_MM, Effort, Row, sweep_rows};
use bindpoint::sweep::stop_order::{LineStops, stops_on_line};
use bindpoint::sweep::stops::Guard;
use bindpoint::sweep::tightest_gaps::tightest_gaps;
use bindpoint::sweep::{
    SweepOptions, corner_status, position_findings, second_look, status, sweep, sweep_corner,
};
use bindpoint::truck::{Corner, Truck, load};
use nalgebra::{Matrix3, Rotation3, Unit, Vector3};
use std::path::Path;
use std::sync::Arc;

const DEMOS: [&str; 3] = ["crake", "tarnwood", "hollin"];

fn truck(name: &str) -> Truck {
    load(Path::new(&format!("scenes/{name}.ron"))).unwrap_or_else(|e| panic!("{name}: {e}"))
}

/// Numbers without a pattern, the same in every run.
struct Random(u64);

impl Random {
    fn next(&mut self, low: f64, high: f64) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        low + (high - low) * (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }
    fn whole(&mut self, below: usize) -> usize {
        (self.next(0.0, below as f64) as usize).min(below - 1)
    }
    fn vector(&mut self, size: f64) -> Vector3<f64> {
        Vector3::new(
            self.next(-size, size),
            self.next(-size, size),
            self.next(-size, size),
        )
    }
    fn turn(&mut self) -> Matrix3<f64> {
        let axis = Unit::new_normalize(self.vector(1.0) + Vector3::new(1.0e-3, 0.0, 0.0));
        Rotation3::from_axis_angle(&axis, self.next(-3.1, 3.1)).into_inner()
    }
}

fn solid(shape: &Shape) -> (ParrySolid, Surface) {
    let surface = shape
        .surface(None)
        .unwrap_or_else(|e| panic!("{shape:?}: {e}"));
    let solid = ParrySolid::of(shape, &surface, false).expect("parry has it");
    (solid, surface)
}

/// parry's gap of two shapes drawn where they stand.
fn gap(a: &Shape, b: &Shape, greatest_mm: f64) -> ParryGap {
    let (here, none) = (Matrix3::identity(), Vector3::zeros());
    solid(a).0.gap_to(&solid(b).0, &here, &none, greatest_mm)
}

/// Bounds hold a distance, and are one number.
#[track_caller]
fn holds(what: &str, gap: &ParryGap, true_mm: f64) {
    let near = 1.0e-9 * (1.0 + true_mm);
    assert!(
        gap.lower_mm <= true_mm + near && true_mm - near <= gap.upper_mm,
        "{what}: {gap:?}, truly {true_mm}"
    );
    assert!(
        gap.upper_mm - gap.lower_mm <= 1.0e-3,
        "{what}: {gap:?} isn't settled, truly {true_mm}"
    );
}

fn ball(centre: Vector3<f64>, radius: f64) -> Shape {
    Shape::Ball { centre, radius }
}

fn cylinder(from: Vector3<f64>, to: Vector3<f64>, radius: f64) -> Shape {
    Shape::Cone {
        from,
        to,
        radius_from: radius,
        radius_to: radius,
    }
}

/// A cuboid's twelve triangles, turned inside out where asked.
fn box_mesh(middle: Vector3<f64>, half: Vector3<f64>, inside_out: bool) -> Shape {
    let corner = |i: usize| {
        let sign = |bit: usize| if i & bit == 0 { -1.0 } else { 1.0 };
        middle + half.component_mul(&Vector3::new(sign(1), sign(2), sign(4)))
    };
    let quads: [[u32; 4]; 6] = [
        [0, 4, 6, 2],
        [1, 3, 7, 5],
        [0, 1, 5, 4],
        [2, 6, 7, 3],
        [0, 2, 3, 1],
        [4, 5, 7, 6],
    ];
    let triangles = quads
        .iter()
        .flat_map(|q| [[q[0], q[1], q[2]], [q[0], q[2], q[3]]])
        .map(|[a, b, c]| if inside_out { [a, c, b] } else { [a, b, c] });
    Shape::Mesh {
        vertices: Arc::new((0..8).map(corner).collect()),
        triangles: Arc::new(triangles.collect()),
    }
}

#[test]
fn the_second_gap_matches_closed_forms() {
    let mut random = Random(1);
    for _ in 0..2_000 {
        let (p, q) = (random.vector(300.0), random.vector(300.0));
        let (r, s) = (random.next(1.0, 40.0), random.next(1.0, 40.0));
        let apart = (q - p).norm();
        let between = (apart - r - s).max(0.0);
        holds(
            "two balls",
            &gap(&ball(p, r), &ball(q, s), f64::INFINITY),
            between,
        );

        // A ball off the side of a cylinder, beyond its end, and off its rim.
        let axis = random.turn() * Vector3::z();
        let side = axis.cross(&random.vector(1.0)).normalize();
        let bar = cylinder(p, p + axis * 100.0, r);
        let (along, off) = (random.next(-80.0, 180.0), r + random.next(-0.9 * r, 90.0));
        let outside = Vector3::new(
            (off - r).max(0.0),
            (along - 100.0).max(-along).max(0.0),
            0.0,
        );
        let pin = ball(p + axis * along + side * off, 0.25);
        let room = (outside.norm() - 0.25).max(0.0);
        holds("ball and cylinder", &gap(&bar, &pin, f64::INFINITY), room);
        holds("cylinder and ball", &gap(&pin, &bar, f64::INFINITY), room);

        // A ball against a frustum's side, by the two lines in the plane of both.
        let (wide, narrow, height) = (40.0, 15.0, 70.0);
        let frustum = Shape::Cone {
            from: p,
            to: p + axis * height,
            radius_from: wide,
            radius_to: narrow,
        };
        let slant = Vector3::new(narrow - wide, height, 0.0).normalize();
        let square = Vector3::new(slant.y, -slant.x, 0.0);
        let at = random.next(0.2, 0.8);
        let away = random.next(0.5, 50.0);
        let foot = Vector3::new(wide + (narrow - wide) * at, height * at, 0.0) + square * away;
        let pin = ball(p + side * foot.x + axis * foot.y, 0.25);
        holds(
            "ball and frustum",
            &gap(&frustum, &pin, f64::INFINITY),
            away - 0.25,
        );
        // And a cone's tip, drawn from either end.
        let cone = |from, to, radius_from, radius_to| Shape::Cone {
            from,
            to,
            radius_from,
            radius_to,
        };
        let tip = p + axis * height;
        let pin = ball(tip + axis * away, 0.25);
        for cone in [cone(p, tip, wide, 0.0), cone(tip, p, 0.0, wide)] {
            holds(
                "ball and tip",
                &gap(&cone, &pin, f64::INFINITY),
                away - 0.25,
            );
        }
    }
}

/// A box as drawn, as a hull and as a mesh, against a capsule in any position: three of parry's shapes, our distance.
#[test]
fn boxes_hulls_and_meshes_agree_with_our_distances() {
    let mut random = Random(2);
    for _ in 0..1_500 {
        let half = Vector3::new(
            random.next(5.0, 80.0),
            random.next(5.0, 80.0),
            random.next(0.5, 8.0),
        );
        let middle = random.vector(50.0);
        let mesh = box_mesh(middle, half, false);
        let Shape::Mesh { vertices, .. } = &mesh else {
            unreachable!("a mesh")
        };
        let drawn = Shape::Box {
            centre: middle,
            size: half * 2.0,
            turned: Vector3::zeros(),
        };
        let hull = Shape::Hull {
            points: vertices.to_vec(),
        };
        let from = random.vector(150.0);
        let bar = Shape::Capsule {
            from,
            to: from + random.vector(200.0),
            radius: random.next(0.5, 20.0),
        };
        let other = box_mesh(random.vector(150.0), Vector3::new(30.0, 2.0, 60.0), false);
        let relative = Relative {
            rotation: random.turn(),
            offset: random.vector(120.0),
        };
        for second in [&bar, &other, &ball(from, 4.0)] {
            let (second, moving) = solid(second);
            for first in [&drawn, &hull, &mesh] {
                let (first, fixed) = solid(first);
                let walk = PairWalk {
                    fixed: &fixed,
                    moving: &moving,
                };
                let inner = Relative {
                    rotation: fixed.rotation.tr_mul(&relative.rotation) * moving.rotation,
                    offset: fixed.rotation.tr_mul(
                        &(relative.offset + relative.rotation * moving.origin - fixed.origin),
                    ),
                };
                let ours = walk.gap(&inner, 0.0, f64::INFINITY, None).gap_mm;
                let ours = if walk.contains(&inner) { 0.0 } else { ours };
                let (turn, offset) = (&relative.rotation, &relative.offset);
                let endless = first.gap_to(&second, turn, offset, f64::INFINITY);
                holds(
                    &format!("any distance {first:?} {second:?} {relative:?}"),
                    &endless,
                    ours,
                );
                // Looking no further than just beyond it finds the same; looking less far finds that it is more.
                holds(
                    "near",
                    &first.gap_to(&second, turn, offset, ours + 0.01),
                    ours,
                );
                if ours > 1.0 {
                    let less = first.gap_to(&second, turn, offset, ours - 0.5);
                    assert!(less.lower_mm >= ours - 0.5 - 1.0e-9, "{less:?} {ours}");
                }
            }
        }
    }
}

/// Hulls of points that lie almost in one face: parry's hull, which our surface is made of, drops some of them.
#[test]
fn hulls_of_nearly_flat_faces_lie_where_their_points_do() {
    let mut random = Random(6);
    let mut largest: f64 = 0.0;
    for round in 0..1_000 {
        let noise = [0.0, 1.0e-9, 1.0e-6, 1.0e-4, 1.0e-2][round % 5];
        let mut points = Vec::new();
        for _ in 0..60 {
            let mut p = random
                .vector(1.0)
                .component_mul(&Vector3::new(90.0, 60.0, 20.0));
            let side = random.whole(3);
            p[side] = [90.0_f64, 60.0, 20.0][side].copysign(p[side]);
            points.push(p + random.vector(noise));
        }
        let hull = Shape::Hull { points };
        let (theirs, fixed) = solid(&hull);
        let pin = ball(random.vector(1.0).normalize() * 200.0, 1.0);
        let (pin, moving) = solid(&pin);
        let walk = PairWalk {
            fixed: &fixed,
            moving: &moving,
        };
        let here = Relative {
            rotation: Matrix3::identity(),
            offset: moving.origin - fixed.origin,
        };
        let ours = walk.gap(&here, 0.0, f64::INFINITY, None).gap_mm;
        let found = theirs.gap_to(&pin, &Matrix3::identity(), &Vector3::zeros(), f64::INFINITY);
        assert!(found.upper_mm - found.lower_mm <= 1.0e-3, "{found:?}");
        largest = largest
            .max(ours - found.upper_mm)
            .max(found.lower_mm - ours);
    }
    println!("hulls of nearly flat faces differ by up to {largest:e} mm");
    assert!(largest <= ALLOWED_MM, "{largest:e}");
}

/// Bars across each other, their middles on one line square to both: parry's search alone is led astray by the symmetry
/// and may report hundreds of millimetres where they nearly touch.
#[test]
fn aligned_skew_cylinders_are_neither_a_false_alarm_nor_hidden() {
    use parry3d::math::{Pose, Rotation, Vector};
    use parry3d::query::distance;
    use parry3d::shape::Cylinder;
    let mut random = Random(3);
    let (mut asked, mut astray) = ([0; 4], [0; 4]);
    for round in 0..200_000 {
        let kind = round % 4;
        let [half, other_half] = [0, 1].map(|_| 5.0 + random.whole(40) as f64 * 5.0);
        let [r, s] = [0, 1].map(|_| 1.0 + random.whole(30) as f64);
        let room = [0.012, 0.5, 3.0, 40.0][random.whole(4)];
        // The common perpendicular is z and meets both bars within their lengths.
        let turn = match kind {
            0 => 90.0,
            1 => 15.0 * (1 + random.whole(11)) as f64,
            _ => random.next(5.0, 175.0),
        };
        let along = match kind {
            0 | 3 => [0, 1].map(|_| (random.next(-0.9, 0.9) * half.min(other_half)).round()),
            _ => [0.0; 2],
        };
        let (sin, cos) = f64::to_radians(turn).sin_cos();
        let axis = Vector3::new(cos, sin, 0.0);
        let at = Vector3::x() * along[0] - axis * along[1] + Vector3::z() * (r + s + room);
        let lying = |axis: Vector3<f64>| {
            Rotation::from_rotation_arc(Vector::Y, Vector::new(axis.x, axis.y, axis.z))
        };
        let raw = distance(
            &Pose::from_parts(Vector::ZERO, lying(Vector3::x())),
            &Cylinder::new(half, r),
            &Pose::from_parts(Vector::new(at.x, at.y, at.z), lying(axis)),
            &Cylinder::new(other_half, s),
        )
        .expect("parry has cylinders");
        let is_astray = (raw.distance - room).abs() > 1.0e-3;
        astray[kind] += u32::from(is_astray);
        // Every one that parry alone gets wrong, and a share of the rest.
        if is_astray || random.whole(20) == 0 {
            asked[kind] += 1;
            let bar = |middle: Vector3<f64>, axis: Vector3<f64>, half: f64, radius: f64| {
                cylinder(middle - axis * half, middle + axis * half, radius)
            };
            let a = bar(Vector3::zeros(), Vector3::x(), half, r);
            let b = bar(at, axis, other_half, s);
            let endless = gap(&a, &b, f64::INFINITY);
            holds("skew cylinders", &endless, room);
            holds("skew cylinders, near", &gap(&a, &b, room + 0.01), room);
        }
    }
    println!("{astray:?} of 50000 each wrong by parry's search alone, {asked:?} asked");
    assert!(asked.iter().all(|n| *n > 2_000), "{asked:?}");
}

/// Triangles that give a search trouble: slivers, without area, far from the origin, almost in one plane.
#[test]
fn where_parrys_search_does_not_converge_its_bounds_still_hold() {
    let mut random = Random(4);
    for round in 0..4_000 {
        let far = [0.0, 2_000.0][round % 2];
        let triangle = |random: &mut Random| -> Shape {
            let a = random.vector(40.0) + Vector3::new(far, -far, far);
            let b = a + random.vector(400.0);
            let thin = [0.0, 1.0e-12, 1.0e-9, 1.0e-6, 1.0, 100.0][random.whole(6)];
            let c = a.lerp(&b, random.next(-0.2, 1.2)) + random.vector(thin);
            Shape::Mesh {
                vertices: Arc::new(vec![a, b, c]),
                triangles: Arc::new(vec![[0, 1, 2]]),
            }
        };
        let (a, b) = (triangle(&mut random), triangle(&mut random));
        let ((_, fixed), (_, moving)) = (solid(&a), solid(&b));
        let walk = PairWalk {
            fixed: &fixed,
            moving: &moving,
        };
        let relative = Relative {
            rotation: Matrix3::identity(),
            offset: moving.origin - fixed.origin,
        };
        let ours = walk.gap(&relative, 0.0, f64::INFINITY, None).gap_mm;
        holds("slivers", &gap(&a, &b, f64::INFINITY), ours);
    }
}

#[test]
fn a_part_wholly_inside_another_has_no_room() {
    let half = Vector3::new(100.0, 80.0, 60.0);
    for inside_out in [false, true] {
        let shell = box_mesh(Vector3::new(500.0, 20.0, -30.0), half, inside_out);
        let inside = Vector3::new(510.0, 0.0, -20.0);
        let small = box_mesh(inside, Vector3::new(3.0, 4.0, 5.0), false);
        let bar = cylinder(inside, inside + Vector3::x() * 5.0, 2.0);
        for part in [&ball(inside, 2.0), &bar, &small] {
            for found in [gap(&shell, part, f64::INFINITY), gap(part, &shell, 1.0)] {
                assert_eq!((found.lower_mm, found.upper_mm), (0.0, 0.0), "{part:?}");
            }
        }
        let outside = ball(Vector3::new(500.0, 20.0, 40.0), 2.0);
        holds("outside", &gap(&shell, &outside, f64::INFINITY), 8.0);
    }
    // A small hole doesn't let the inside out.
    let Shape::Mesh {
        vertices,
        triangles,
    } = box_mesh(Vector3::zeros(), half, false)
    else {
        unreachable!("a mesh")
    };
    let holed = Shape::Mesh {
        vertices,
        triangles: Arc::new(triangles[1..].to_vec()),
    };
    assert_eq!(
        gap(&holed, &ball(Vector3::new(5.0, 3.0, 2.0), 2.0), 5.0).upper_mm,
        0.0
    );
}

/// Every watched pair of the demos at positions all over the rectangle of travel and rack, beyond the stops too, where
/// parts touch and overlap.
#[test]
fn both_ways_agree_over_the_demos() {
    let mut random = Random(5);
    for name in DEMOS {
        let truck = truck(name);
        for corner in &truck.corners {
            let (mut asked, mut touching) = (0, 0);
            for _ in 0..60 {
                let travel = random.next(-corner.search_mm[0], corner.search_mm[1]);
                let rack = random.next(corner.rack_mm[0], corner.rack_mm[1]);
                let Ok(position) = corner.position(travel, rack) else {
                    continue;
                };
                let found = position_findings(&truck, corner, &position);
                let look = &found.second_look;
                // Containment alone: `pose` measures surfaces, and beyond a contact one part may hold another.
                let apart: Vec<_> = look
                    .disagreements
                    .iter()
                    .filter(|d| d.theirs_mm.1 != Some(0.0))
                    .collect();
                assert!(apart.is_empty(), "{name} at {travel}, {rack}: {apart:?}");
                assert!(look.left_out.is_empty(), "{name}: {:?}", look.left_out);
                assert_eq!(look.asked, corner.pairs.len() as u64);
                asked += look.asked;
                touching += found.gaps.iter().filter(|g| g.gap_mm == 0.0).count();
            }
            println!("{name}: {asked} gaps, {touching} of them touching");
            assert!(asked > 500 && touching > 5, "{name}: {asked}, {touching}");
        }
    }
}

fn is_shaft_housing_or_skid(name: &str) -> bool {
    ["shaft", "joint", "skid"].iter().any(|w| name.contains(w))
}

#[test]
fn a_sweep_of_the_demos_asks_everything_again_and_differs_nowhere() {
    for name in DEMOS {
        let truck = truck(name);
        let found = sweep(&truck, &SweepOptions::default(), &|_, _| {});
        for corner in std::iter::once(&found.worse).chain(&found.other) {
            let look = &corner.second_look;
            assert!(look.asked > 20, "{name}: {look:?}");
            assert!(look.disagreements.is_empty(), "{name}: {look:?}");
            assert!(look.largest_difference_mm <= ALLOWED_MM, "{name}: {look:?}");
            // Everything takes less than its tenth here.
            assert_eq!(look.left_out, [], "{name}");
        }
        let style = SweepText {
            units: Units::Mm,
            datum: Datum::Measured,
            status: status(&found),
            tables_of: None,
            wrap_leading_lines: false,
        };
        let text = sweep_text(&found, &style)
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ");
        let line = format!(
            "{} gaps asked again of parry3d",
            found.worse.second_look.asked
        );
        assert!(text.contains(&line), "{name}: {text}");
    }
}

/// What `pose` says of a corner at some positions, as rows.
fn rows(truck: &Truck, corner: &Corner, positions: &[(f64, f64)]) -> Vec<Row> {
    let mut rows = Vec::new();
    for (travel, rack) in positions {
        let position = corner.position(*travel, *rack).expect("reached");
        let found = position_findings(truck, corner, &position);
        rows.extend(found.gaps.iter().enumerate().map(|(pair, gap)| Row {
            pair,
            alpha: position.alpha,
            rack_mm: position.rack_mm,
            said: SaidOfGap::Is(gap.gap_mm),
            reported: Reported::Gap,
        }));
    }
    rows
}

#[test]
fn a_gap_that_is_off_by_a_hundredth_of_a_millimetre_is_caught() {
    for name in DEMOS {
        let truck = truck(name);
        let corner = &truck.corners[0];
        let right = rows(&truck, corner, &[(0.0, 0.0), (8.0, 12.0), (-20.0, -10.0)]);
        let look = second_look(corner, &right, Effort::Everything);
        assert_eq!(look.disagreements, [], "{name}");
        let mut planted = 0;
        for row in &right {
            let SaidOfGap::Is(mm) = row.said else {
                unreachable!("pose says what a gap is")
            };
            let pair = &corner.pairs[row.pair];
            let linkage = corner.positioner.place(row.alpha, row.rack_mm).linkage;
            let swell = corner.swell_mm(pair, &linkage);
            let (a, b) = (&corner.parts[pair.a], &corner.parts[pair.b]);
            let theirs = second_gap(a, b, &linkage, swell, f64::INFINITY).expect("parry has both");
            // A facetted cylinder is known to its facets only.
            let off = 0.01 + theirs.facets_mm;
            for wrong in [mm + off, mm - off] {
                if wrong < 0.0 {
                    continue;
                }
                planted += 1;
                for said in [
                    SaidOfGap::Is(wrong),
                    // A bracket's end on the wrong side of its level.
                    if wrong > mm {
                        SaidOfGap::NoLessThan(wrong)
                    } else {
                        SaidOfGap::NoMoreThan(wrong)
                    },
                ] {
                    let look = second_look(corner, &[Row { said, ..*row }], Effort::Everything);
                    let [caught] = &look.disagreements[..] else {
                        panic!(
                            "{name}: {said:?} instead of {mm} of {} - {}",
                            a.name, b.name
                        )
                    };
                    assert!(
                        caught.difference_mm >= 0.01 - 2.0e-4
                            && caught.difference_mm <= off + 2.0e-4,
                        "{name}: {caught:?}"
                    );
                    assert_eq!(look.largest_difference_mm, caught.difference_mm);
                }
            }
        }
        assert!(planted > 100, "{name}: {planted}");
        let nothing = Row {
            said: SaidOfGap::Is(f64::NAN),
            ..right[0]
        };
        let look = second_look(corner, &[nothing], Effort::Everything);
        assert_eq!(
            look.disagreements.len(),
            1,
            "what is no number doesn't agree"
        );
    }
}

#[test]
fn a_contact_that_is_none_is_caught() {
    let truck = truck("tarnwood");
    let corner = &truck.corners[0];
    for row in rows(&truck, corner, &[(0.0, 0.0)]) {
        let SaidOfGap::Is(mm) = row.said else {
            unreachable!("pose says what a gap is")
        };
        let touch = Row {
            said: SaidOfGap::NoMoreThan(1.0e-3),
            reported: Reported::FirstContact,
            ..row
        };
        let look = second_look(corner, &[touch], Effort::Everything);
        assert_eq!(
            look.disagreements.len(),
            usize::from(mm > 0.05),
            "{mm}: {look:?}"
        );
    }
}

/// The same corner with one part's surface moved, its drawing left: what a wrong frame or tree would do.
fn with_surface_moved(corner: &Corner, part: &str, by: Vector3<f64>) -> Corner {
    let mut corner = corner.clone();
    let moved = corner
        .parts
        .iter_mut()
        .find(|p| p.name == part)
        .expect("a part");
    let mut surface = Surface::clone(&moved.surface);
    surface.origin += by;
    moved.surface = Arc::new(surface);
    corner
}

#[test]
fn a_surface_that_stands_off_its_drawing_is_caught_and_makes_the_sweep_undecided() {
    let truck = truck("crake");
    let right = &truck.corners[0];
    let wrong = with_surface_moved(right, "lower arm", Vector3::new(0.0, 0.01, 0.0));
    let found = sweep_corner(&wrong, &SweepOptions::default(), &|_, _| {});
    let named = |a: &str, b: &str| a == "lower arm" || b == "lower arm";
    let look = &found.second_look;
    assert!(!look.disagreements.is_empty(), "{look:?}");
    for d in &look.disagreements {
        assert!(named(&d.a, &d.b), "{d:?}");
        assert!(d.difference_mm <= 0.0101, "{d:?}");
    }
    assert_eq!(corner_status(&found), Status::NotChecked);
    let told: Vec<_> = found
        .undecided
        .iter()
        .filter(|u| matches!(u, Undecided::SecondLook { .. }))
        .collect();
    assert_eq!(
        told.len(),
        look.disagreements.len(),
        "{:?}",
        found.undecided
    );
    // Side by side with the same sweep of the drawing as it is.
    let found = sweep_corner(right, &SweepOptions::default(), &|_, _| {});
    assert!(found.second_look.disagreements.is_empty());
    assert!(
        !found
            .undecided
            .iter()
            .any(|u| matches!(u, Undecided::SecondLook { .. }))
    );

    let at = wrong.position(0.0, 0.0).expect("measured");
    let found = position_findings(&truck, &wrong, &at);
    assert!(
        found
            .second_look
            .disagreements
            .iter()
            .all(|d| named(&d.a, &d.b))
    );
    assert!(found.second_look.disagreements.len() > 3);
}

#[test]
fn what_is_left_out_is_counted_and_the_same_with_any_number_of_threads() {
    let truck = truck("tarnwood");
    let corner = &truck.corners[0];
    let all = rows(&truck, corner, &[(0.0, 0.0), (5.0, -5.0)]);
    let in_pool = |threads: usize, effort: Effort| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
        pool.expect("threads")
            .install(|| second_look(corner, &all, effort))
    };
    for effort in [Effort::UpTo(0), Effort::UpTo(40_000), Effort::Everything] {
        let look = in_pool(1, effort);
        assert_eq!(look, in_pool(3, effort));
        assert_eq!(look.asked + look.left_out_count(), all.len() as u64);
        for left in &look.left_out {
            assert_eq!(left.why, NotAskedWhy::TooMuchWork);
            assert!(!is_shaft_housing_or_skid(&left.a) && !is_shaft_housing_or_skid(&left.b));
        }
        assert_eq!(look.left_out.is_empty(), effort == Effort::Everything);
    }
    // No work left at all: shafts, housings, ball joints and skid plates are asked all the same.
    let none = in_pool(1, Effort::UpTo(0));
    let always = all.iter().filter(|row| {
        let pair = &corner.pairs[row.pair];
        [pair.a, pair.b]
            .iter()
            .any(|i| is_shaft_housing_or_skid(&corner.parts[*i].name))
    });
    assert_eq!(none.asked, always.count() as u64);
    assert!(none.asked > 100);
    // A row told twice is asked once.
    let twice: Vec<Row> = all.iter().chain(&all).copied().collect();
    assert_eq!(
        second_look(corner, &twice, Effort::Everything),
        second_look(corner, &all, Effort::Everything)
    );
}

/// Processor time of this thread, seconds: the wall's clock is no measure beside other work.
fn thread_seconds() -> f64 {
    let text = std::fs::read_to_string("/proc/thread-self/schedstat").expect("Linux");
    let nanoseconds = text
        .split_whitespace()
        .next()
        .and_then(|n| n.parse::<f64>().ok());
    nanoseconds.expect("a number") * 1.0e-9
}

/// Shares of the sweep on one thread: `cargo test --test second_look -- --ignored --nocapture`.
#[test]
#[ignore = "measures time"]
fn share_of_the_sweep() {
    const ROUNDS: u32 = 20;
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(1)
        .build()
        .expect("a thread");
    for name in DEMOS {
        let truck = truck(name);
        let corner = &truck.corners[0];
        pool.install(|| {
            let begin = thread_seconds();
            let atlas = Atlas::build(corner);
            let guard = Guard::new(corner, &atlas, 1.0);
            let lines: Vec<[LineStops; 2]> = (-4..=4)
                .map(|i| {
                    let lock = corner.rack_mm[usize::from(i > 0)].abs();
                    let rack = lock * f64::from(i) / 4.0;
                    TravelDirection::BOTH.map(|way| stops_on_line(&guard, rack, way))
                })
                .collect();
            let region = Region::map(&guard);
            let all: Vec<&LineStops> = lines.iter().flatten().collect();
            let touches = ContactClass::BOTH.map(|class| {
                TravelDirection::BOTH.map(|way| first_touch(&guard, class, way, &all))
            });
            let ends: Vec<(f64, f64)> = all.iter().map(|l| (l.free_to(), l.rack_mm)).collect();
            let tightest = tightest_gaps(&guard, &region, &ends);
            let searched = thread_seconds();
            let rows = sweep_rows(&guard, &lines, &touches, &tightest);
            let queries = guard.distance_queries();
            let by_level = |effort: Effort| {
                let begin = thread_seconds();
                let mut look = second_look(corner, &rows, effort);
                for _ in 1..ROUNDS {
                    look = second_look(corner, &rows, effort);
                }
                ((thread_seconds() - begin) / f64::from(ROUNDS), look)
            };
            let share = 100.0 / (searched - begin);
            let begin = thread_seconds();
            second_look(corner, &rows, Effort::Everything);
            let first = thread_seconds() - begin;
            println!(
                "{name}: search {:.1} ms, {queries} queries, {} rows; first look with parts made {:.2} ms ({:.1} %)",
                1.0e5 / share,
                rows.len(),
                1.0e3 * first,
                share * first
            );
            let mut most = 1;
            while second_look(corner, &rows, Effort::UpTo(most)).left_out_count() > 0 {
                most += most / 16 + 1;
            }
            println!("    nothing left out from {most} on: {:.1} a query", most as f64 / queries as f64);
            for effort in [Effort::UpTo(0), Effort::Everything, Effort::Everything] {
                let (seconds, look) = by_level(effort);
                println!(
                    "    {effort:?}: {} asked, {} left out, {:.2} ms ({:.1} %)",
                    look.asked,
                    look.left_out_count(),
                    1.0e3 * seconds,
                    share * seconds
                );
            }
        });
    }
}
