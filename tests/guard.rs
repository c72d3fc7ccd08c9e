//! The guard: what it calls free is free, and what it brackets is there.
//!
//! Brute force walks 50 times finer than the tolerance of the coarse steps with distances of another
//! origin (parry's GJK on the same convex shapes), so a shared distance bug can't hide a miss.

use bindpoint::findings::TravelDirection;
use bindpoint::kinematics::CellField;
use bindpoint::scene::{Fitted, PartEntry, Point, ShapeEntry, Watch};
use bindpoint::shapes::Shape;
use bindpoint::suspension::{Body, Motion};
use bindpoint::sweep::free_travel::Region;
use bindpoint::sweep::line::{Crossing, Line, TRAVEL_TOLERANCE_MM, first_crossing};
use bindpoint::sweep::rate_atlas::{Atlas, Cell, CellRates};
use bindpoint::sweep::stop_order::stops_on_line;
use bindpoint::sweep::stops::{Guard, StopKind};
use bindpoint::truck::{Corner, TOUCH_MM, assemble, load};
use dice::Dice;
use nalgebra::{Matrix3, Vector3};
use random_suspension::{base, random_corner};
use std::path::Path;

mod dice;
mod random_suspension;

#[derive(Default)]
struct Tally {
    searches: usize,
    contacts: usize,
    missed: usize,
    witness_wrong: usize,
}

/// Guarded first crossings against brute force on random scenes.
fn tally(scenes: usize, bound_factor: f64) -> Tally {
    let mut dice = Dice::new(0x5EED_0001);
    let mut out = Tally::default();
    let mut built = 0;
    while built < scenes {
        let Some(random) = random_corner(&mut dice, 5, None) else {
            continue;
        };
        let corner = &random.corner;
        built += 1;
        let atlas = Atlas::build(corner);
        let guard = Guard::new(corner, &atlas, bound_factor);
        let rack_mm = dice.between(-40.0, 40.0);
        for (number, pair) in corner.pairs.iter().enumerate() {
            if random.oracles[pair.a].is_none() || random.oracles[pair.b].is_none() {
                continue;
            }
            for end in atlas.domain.alpha {
                let line = Line::AlongTravel { rack_mm };
                let found = first_crossing(&guard, line, StopKind::Contact(number), 0.0, end);
                out.searches += 1;
                let (free_to, stopped_at) = match found {
                    Crossing::Clear => (end, None),
                    Crossing::Stopped {
                        free_to,
                        stopped_at,
                        graze,
                    } => (free_to, (!graze).then_some(stopped_at)),
                    Crossing::Undecided { free_to } => (free_to, None),
                };
                // Beyond the end of reach there is nothing to be kept.
                let reach = first_crossing(&guard, line, StopKind::EndOfReach, 0.0, end);
                let free_to = match reach {
                    Crossing::Stopped { free_to: last, .. }
                    | Crossing::Undecided { free_to: last } => {
                        if last.abs() < free_to.abs() {
                            last
                        } else {
                            free_to
                        }
                    }
                    Crossing::Clear => free_to,
                };
                let linkage = |alpha: f64| corner.positioner.place(alpha, rack_mm).linkage;
                let apart = |alpha| {
                    let gap = random.gap_mm(number, &linkage(alpha));
                    gap.unwrap_or(f64::NAN)
                };
                // Up to `free_to` nothing may touch (a pair that touches already at this rack position
                // stops where it starts). 400 steps over at most 200 mm of travel: half a
                // millimetre, 1/50 of the 25 mm that a sampling sweep would step.
                let steps = 400;
                let missed = (0..=steps)
                    .map(|i| free_to * f64::from(i) / f64::from(steps))
                    .any(|alpha| free_to != 0.0 && apart(alpha) <= 0.0);
                out.missed += usize::from(missed);
                if let Some(alpha) = stopped_at {
                    out.contacts += 1;
                    let allowed = 2.0 * TOUCH_MM + 1.0e-4;
                    let wrong = random.is_apart(number, &linkage(alpha), allowed);
                    out.witness_wrong += usize::from(wrong);
                }
            }
        }
    }
    out
}

#[test]
fn first_contact_is_never_later_than_brute_force_finds() {
    let t = tally(600, 1.0);
    println!(
        "{} searches, {} contacts, {} missed, {} wrong",
        t.searches, t.contacts, t.missed, t.witness_wrong
    );
    assert!(
        t.searches > 3500 && t.contacts > 300,
        "{} {}",
        t.searches,
        t.contacts
    );
    assert_eq!(t.missed, 0, "missed contacts");
    assert_eq!(t.witness_wrong, 0, "witnesses that do not touch");
}

/// A guard that can't fail proves nothing: with the motion bound halved the same suite must miss.
#[test]
fn halving_the_motion_bound_makes_the_suite_fail() {
    let t = tally(120, 0.5);
    println!("{} missed of {}", t.missed, t.searches);
    assert!(
        t.missed > 0,
        "the suite can't tell a wrong bound from a right one"
    );
}

/// Displacement over bound, on a million random positions in random cells: never above one.
#[test]
fn no_point_moves_further_than_its_bound_in_a_million_random_steps() {
    let truck = load(Path::new("scenes/tarnwood.ron")).expect("demo scene");
    let corner = &truck.corners[0];
    let atlas = Atlas::build(corner);
    let guard = Guard::new(corner, &atlas, 1.0);
    let mut dice = Dice::new(0x5EED_0002);
    let domain = atlas.domain;
    let mut steps = 0_u64;
    let mut greatest: f64 = 0.0;
    let mut sum = 0.0;
    while steps < 1_000_000 {
        // A cell anywhere in one quarter, from large to tiny.
        let size = 10.0_f64.powf(dice.between(-5.0, -0.7));
        let side = |dice: &mut Dice, ends: [f64; 2]| {
            let end = ends[dice.below(2)];
            let width = end.abs() * size;
            let from = dice.between(0.0, 1.0) * (end.abs() - width);
            let (a, b) = (from * end.signum(), (from + width) * end.signum());
            [a.min(b), a.max(b)]
        };
        let cell = Cell {
            alpha: side(&mut dice, domain.alpha),
            rack: side(&mut dice, domain.rack),
        };
        let Some(rates) = CellRates::enclose(corner, &cell) else {
            continue;
        };
        let (alpha, rack) = cell.centre();
        let half = cell.half();
        let duals = corner.positioner.linkage.solve(
            bindpoint::numbers::Dual::variable(alpha, 0),
            bindpoint::numbers::Dual::variable(rack, 1),
        );
        for _ in 0..5 {
            let pair = &corner.pairs[(dice.between(0.0, 1.0) * corner.pairs.len() as f64) as usize];
            let key = &corner.fields[pair.field];
            let field = CellField::new(
                rates.field(pair.field, key),
                &duals.placement(key.fixed),
                &duals.placement(key.moving),
                half,
            );
            let (_, moving) = pair.roles();
            let surface = &corner.parts[moving].surface;
            let vertex = (dice.between(0.0, 1.0) * surface.vertices.len() as f64) as usize;
            let point = surface.vertex_in_body(vertex);
            let seen = |alpha: f64, rack: f64| {
                let linkage = corner.positioner.place(alpha, rack).linkage;
                let f = linkage.placement(key.fixed);
                f.point_in_body(&linkage.placement(key.moving).point(&point))
            };
            let at_centre = seen(alpha, rack);
            let bound = field.displacement(&point);
            let n = Vector3::new(
                dice.between(0.0, 1.0) - 0.5,
                dice.between(0.0, 1.0) - 0.5,
                dice.between(0.0, 1.0) - 0.5,
            )
            .normalize();
            let along = field.displacement_along(&point, &n);
            for k in 0..20 {
                // Corners of the cell are where the most happens.
                let place = |dice: &mut Dice| match k {
                    0..8 => [-1.0, 1.0][dice.below(2)],
                    _ => dice.between(-1.0, 1.0),
                };
                let (u, v) = (place(&mut dice), place(&mut dice));
                let moved = seen(alpha + u * half[0], rack + v * half[1]) - at_centre;
                // 1e-9 mm: rounding of positions, as the guard allows for.
                assert!(moved.norm() <= bound + 1.0e-9, "{} > {bound}", moved.norm());
                assert!(moved.dot(&n).abs() <= along + 1.0e-9, "along a normal");
                if bound > 1.0e-6 {
                    greatest = greatest.max(moved.norm() / bound);
                    sum += moved.norm() / bound;
                }
                steps += 1;
            }
        }
    }
    println!(
        "greatest displacement over bound {greatest:.6}, mean {:.3}",
        sum / steps as f64
    );
    assert!(
        greatest > 0.95,
        "the bound should be nearly reached: {greatest}"
    );
    assert!(guard.distance_queries() > 0);
}

/// Parts of the rim test: mouth radius, and a facet error for the cup. Travel at the contact itself, found within the
/// sweep's bracket; the rest at the bracket's far end.
fn rim_contact(mouth: f64, facet_error_mm: Option<f64>) -> (f64, f64, f64, f64) {
    let mut scene = base();
    scene.parts.retain(|p| p.name == "inner joint housing");
    scene.joined.clear();
    scene.watch = vec![Watch {
        a: "halfshaft".into(),
        b: "inner joint housing".into(),
        gap: 0.0,
        came_with: None,
    }];
    let profile = vec![
        (-60.0, 0.0),
        (-60.0, 46.0),
        (38.0, 46.0),
        (38.0, mouth),
        (-45.0, mouth),
        (-45.0, 0.0),
    ];
    let (from, axis) = (Point(0.0, 235.0, 420.0), Point(0.0, 1.0, 0.0));
    scene.parts[0].shape = ShapeEntry::Lathe {
        from: Some(from),
        axis: Some(axis),
        profile: profile.clone(),
    };
    let truck = assemble(&scene, Path::new("scenes")).expect("rim scene");
    let mut corner = truck.corners.into_iter().next().expect("a corner");
    if let Some(error) = facet_error_mm {
        let shape = Shape::Lathe {
            from: Vector3::new(0.0, 235.0, 420.0),
            axis: Vector3::y(),
            profile: profile.iter().map(|(a, r)| [*a, *r]).collect(),
        };
        let fine = shape.surface_within(None, Some(error)).expect("fine cup");
        let cup = corner
            .parts
            .iter_mut()
            .find(|p| p.name == "inner joint housing")
            .expect("cup");
        assert!(
            fine.elements.len() > 3 * cup.surface.elements.len(),
            "four times the facets"
        );
        cup.surface = std::sync::Arc::new(fine);
    }
    let atlas = Atlas::build(&corner);
    let guard = Guard::new(&corner, &atlas, 1.0);
    let line = stops_on_line(&guard, 0.0, TravelDirection::Droop);
    let met = line
        .met
        .iter()
        .find(|m| m.stop == StopKind::Contact(0))
        .expect("shaft meets mouth");
    let position = corner.positioner.place(met.stopped_at, 0.0);
    let l = &position.linkage;
    let angle = l.inner_cos.acos();
    let orbit = 12.5 * (1.0 / angle.cos() - 1.0);
    let (mut kept, mut violated) = (met.free_to, met.stopped_at);
    for _ in 0..40 {
        let middle = 0.5 * (kept + violated);
        if guard.violated_at(met.stop, middle, 0.0, None) {
            violated = middle;
        } else {
            kept = middle;
        }
    }
    let travel_mm = corner.positioner.place(violated, 0.0).travel_mm;
    (travel_mm, angle, 14.0 + orbit, 38.0 - l.plunge_mm)
}

/// Where the shaft meets the mouth's sharp edge: rho = m cos a - d sin a, with rho the shaft's swept
/// radius (orbit included), m the mouth's radius, d its distance outboard of the spider and a the
/// joint's angle. Derived: the edge circle's nearest point lies in the plane of shaft and flange axis.
#[test]
fn the_shaft_meets_the_mouth_where_the_rim_equation_says() {
    for mouth in [34.0, 37.5, 40.0] {
        let (travel, a, rho, d) = rim_contact(mouth, None);
        let gap = mouth * a.cos() - d * a.sin() - rho;
        // The bracket: 0.01 mm of travel at 0.13 mm of gap a mm; facets: 0.001 mm; touch: 0.001 mm.
        assert!(
            (-0.002..0.0045).contains(&gap),
            "mouth {mouth}: gap {gap} at travel {travel}"
        );
    }
    let (_, a, _, _) = rim_contact(37.5, None);
    // Derived value for this geometry: 21.98 deg straight ahead.
    assert!((a.to_degrees() - 21.98).abs() < 0.01, "{}", a.to_degrees());
}

#[test]
fn four_times_the_facets_moves_the_mouth_contact_by_less_than_the_tolerance() {
    let (coarse, ..) = rim_contact(37.5, None);
    // Facet error falls with the square of their number.
    let (fine, ..) = rim_contact(37.5, Some(1.0e-3 / 16.0));
    assert!(
        (coarse - fine).abs() < TRAVEL_TOLERANCE_MM,
        "{coarse} against {fine}"
    );
}

fn with_part(name: &str, on: Body, shape: ShapeEntry, against: &str) -> Corner {
    let mut scene = base();
    scene.parts.retain(|p| p.name == against);
    scene.joined.clear();
    scene.hoses.clear();
    scene.parts.push(PartEntry {
        name: name.into(),
        on,
        shape,
        fitted: Fitted::EachSide,
        hangs_from: Default::default(),
    });
    scene.watch = vec![Watch {
        a: name.into(),
        b: against.into(),
        gap: 0.0,
        came_with: None,
    }];
    let truck = assemble(&scene, Path::new("scenes")).expect("scene");
    truck.corners.into_iter().next().expect("a corner")
}

/// A fin 0.2 mm thick in the path of the tie rod: passed within 0.3 mm of travel, so that a sweep in
/// steps of a millimetre sees nothing.
#[test]
fn a_thin_fin_between_samples_is_found() {
    let fin = ShapeEntry::Box {
        centre: Point(-139.0, 600.0, 330.0),
        size: Point(40.0, 30.0, 0.2),
        turned_deg: None,
    };
    let corner = with_part("fin", Body::Frame, fin, "tie rod");
    let atlas = Atlas::build(&corner);
    let guard = Guard::new(&corner, &atlas, 1.0);
    let line = stops_on_line(&guard, 0.0, TravelDirection::Droop);
    let met = line
        .met
        .iter()
        .find(|m| matches!(m.stop, StopKind::Contact(_)))
        .expect("the fin");
    let position = corner.positioner.place(met.stopped_at, 0.0);
    let gap = corner.gap(&corner.pairs[0], &position.linkage, None);
    assert!(gap.gap_mm <= TOUCH_MM, "{}", gap.gap_mm);
    // It is hit from above: the rod's underside is just at the fin's upper face.
    assert!(
        position.travel_mm < -10.0 && position.travel_mm > -70.0,
        "{}",
        position.travel_mm
    );
}

/// A damper whose length is below its shortest one only about the middle of the droop: its stop is
/// crossed twice. The first crossing counts, and what lies beyond the second is free but cut off.
#[test]
fn a_stop_that_is_crossed_twice_counts_at_its_first_crossing() {
    let mut scene = base();
    scene.parts.retain(|p| p.name == "frame rail");
    scene.joined.clear();
    scene.watch = vec![Watch {
        a: "halfshaft".into(),
        b: "frame rail".into(),
        gap: 0.0,
        came_with: None,
    }];
    scene.ball_joints = Default::default();
    // The frame eye stands outboard, level with the middle of the droop: the wheel passes it closest
    // there. A short rack keeps the closest pass below the limit at every rack position.
    scene.rack.travel = bindpoint::scene::LeftRight {
        left: 5.0,
        right: 5.0,
    };
    scene.damper.extended = 900.0;
    scene.damper.compressed = 100.0;
    scene.damper.bump_stop = None;
    scene.halfshaft.plunge = bindpoint::scene::Plunge {
        inner: -200.0,
        outer: 200.0,
    };
    scene.halfshaft.plunge_polygon.clear();
    scene.halfshaft.inner_limit_deg = 79.0;
    scene.halfshaft.outer_limit_deg = 79.0;
    scene.hoses.clear();
    scene.damper.lower_mount_on = bindpoint::scene::Foot::Knuckle;
    scene.damper.lower_mount = Point(0.0, 815.0, 400.0);
    scene.damper.upper_mount = Point(0.0, 1100.0, 320.0);
    scene.damper.compressed = 295.0;
    let truck = assemble(&scene, Path::new("scenes")).expect("scene");
    let corner = &truck.corners[0];
    let atlas = Atlas::build(corner);
    let guard = Guard::new(corner, &atlas, 1.0);
    let stop = corner
        .limits
        .iter()
        .position(|l| l.name() == "damper compressed")
        .expect("limit");
    let margin = |alpha: f64| {
        corner.limits[stop]
            .reading(&corner.positioner.place(alpha, 0.0).linkage)
            .margin
    };
    // Sign changes of its margin by brute force.
    let end = atlas.domain.alpha[0];
    let at = |i: i32| end * f64::from(i) / 4000.0;
    let changes: Vec<f64> = (0..4000)
        .filter(|i| margin(at(*i)) * margin(at(i + 1)) < 0.0)
        .map(at)
        .collect();
    let lengths: Vec<f64> = (0..=8).map(|i| margin(at(i * 500))).collect();
    assert!(
        changes.len() >= 2,
        "the stop must be crossed twice: {changes:?}, {lengths:?}"
    );
    let line = Line::AlongTravel { rack_mm: 0.0 };
    match first_crossing(&guard, line, StopKind::Limit(stop), 0.0, end) {
        Crossing::Stopped {
            free_to,
            stopped_at,
            graze,
        } => {
            assert!(!graze);
            let step = (end / 4000.0).abs();
            assert!(
                (free_to - changes[0]).abs() <= step,
                "{free_to} against {}",
                changes[0]
            );
            assert!(margin(free_to) >= 0.0 && margin(stopped_at) <= 0.0);
        }
        other => panic!("{other:?}"),
    }
    let shares = Region::map(&guard).findings(corner, false).shares;
    assert!(shares.cut_off > 0.01, "free but cut off: {shares:?}");
}

/// Every bracket is at most the tolerance wide, and the map's shares add up.
#[test]
fn brackets_are_no_wider_than_the_stated_tolerance() {
    let truck = load(Path::new("scenes/tarnwood.ron")).expect("demo scene");
    let findings = bindpoint::sweep::sweep(&truck, &Default::default(), &|_, _| {});
    let mut seen = 0;
    for order in &findings.worse.stop_order {
        for stop in &order.stops {
            let [free, stopped] = stop.travel_interval_mm;
            assert!(
                (stopped - free).abs() <= TRAVEL_TOLERANCE_MM * 1.0001,
                "{stop:?}"
            );
            seen += 1;
        }
    }
    assert!(seen > 50);
    let s = findings.worse.map.shares;
    assert!((s.free + s.cut_off + s.stopped + s.undecided - 1.0).abs() < 1.0e-9);
    let contact = findings.worse.first_contact.expect("a first contact");
    let [free, touched] = contact.travel_interval_mm;
    assert!((touched - free).abs() <= TRAVEL_TOLERANCE_MM * 1.0001);
}

/// The same bits with one thread and with several.
#[test]
fn results_do_not_depend_on_the_number_of_threads() {
    let truck = load(Path::new("scenes/tarnwood.ron")).expect("demo scene");
    let run = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .expect("pool");
        pool.install(|| {
            let findings = bindpoint::sweep::sweep(&truck, &Default::default(), &|_, _| {});
            serde_json::to_string(&findings).expect("json")
        })
    };
    assert!(run(1) == run(3), "findings differ between thread counts");
}

/// The measured position itself moves nothing.
#[test]
fn every_body_stands_still_at_the_measured_position() {
    let truck = load(Path::new("scenes/tarnwood.ron")).expect("demo scene");
    let corner = &truck.corners[0];
    let linkage = corner.positioner.place(0.0, 0.0).linkage;
    for motion in [
        Motion::LowerArm,
        Motion::UpperArm,
        Motion::Knuckle,
        Motion::TieRod,
    ] {
        let p = linkage.placement(motion);
        assert!(
            (p.rotation - Matrix3::identity()).norm() < 1.0e-12,
            "{motion:?}"
        );
        assert!((p.anchor - p.anchor_in_body).norm() < 1.0e-9, "{motion:?}");
    }
}
