//! What a full revolution contains, exceeds and takes.

use super::{FACET_MM, REVOLVED_EXCESS_MM, Work, full_revolution, swept};
use crate::shapes::{ElementKind, Shape, ShapeError, Surface};
use nalgebra::{Rotation3, Unit, Vector3};
use std::collections::HashSet;
use std::sync::Arc;

/// Outward along y, a tenth of a degree of toe and one of camber, as a wheel has.
fn spindle() -> Vector3<f64> {
    Vector3::new(0.1_f64.to_radians(), 1.0, -1.0_f64.to_radians()).normalize()
}

fn centre() -> Vector3<f64> {
    Vector3::new(0.0, 815.0, 400.0)
}

fn tyre() -> Shape {
    Shape::Lathe {
        from: centre(),
        axis: Vector3::y(),
        profile: vec![
            [-120.0, 228.0],
            [120.0, 228.0],
            [132.0, 300.0],
            [128.0, 350.0],
            [116.0, 386.0],
            [96.0, 401.4],
            [-96.0, 401.4],
            [-116.0, 386.0],
            [-128.0, 350.0],
            [-132.0, 300.0],
        ],
    }
}

/// A cup with a mouth, its bore 37 mm in radius.
fn cup(axis: Vector3<f64>) -> Shape {
    Shape::Lathe {
        from: centre(),
        axis,
        profile: vec![
            [-60.0, 0.0],
            [-60.0, 46.0],
            [38.0, 46.0],
            [38.0, 37.0],
            [-45.0, 37.0],
            [-45.0, 0.0],
        ],
    }
}

/// A drawn wheel: `spokes` blades on a rim of `around` by `across` quads, some of them long and thin.
fn wheel(around: usize, across: usize, spokes: usize) -> Shape {
    let mut vertices = Vec::new();
    let mut triangles: Vec<[u32; 3]> = Vec::new();
    let outline = [
        [-110.0, 215.0],
        [110.0, 215.0],
        [110.0, 228.0],
        [-110.0, 228.0],
    ];
    // Closed rings of corners along the outline.
    let ring: Vec<[f64; 2]> = (0..4)
        .flat_map(|i| {
            let (a, b) = (outline[i], outline[(i + 1) % 4]);
            let n = if i % 2 == 0 { across } else { 1 };
            (0..n).map(move |k| {
                let t = k as f64 / n as f64;
                [a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t]
            })
        })
        .collect();
    let m = ring.len();
    for i in 0..around {
        let (sin, cos) = (std::f64::consts::TAU * i as f64 / around as f64).sin_cos();
        for [y, r] in &ring {
            vertices.push(centre() + Vector3::new(r * cos, *y, r * sin));
        }
    }
    for i in 0..around {
        for k in 0..m {
            let at = |i: usize, k: usize| ((i % around) * m + k % m) as u32;
            let [a, b, c, d] = [at(i, k), at(i, k + 1), at(i + 1, k), at(i + 1, k + 1)];
            triangles.push([a, b, c]);
            triangles.push([b, d, c]);
        }
    }
    for s in 0..spokes {
        let turn = Rotation3::from_axis_angle(&Vector3::y_axis(), s as f64);
        let first = vertices.len() as u32;
        for i in 0..8 {
            let sign = |bit: usize| if i & bit == 0 { -1.0 } else { 1.0 };
            let corner = Vector3::new(
                130.0 + 90.0 * sign(1),
                60.0 + 15.0 * sign(2),
                20.0 * sign(4),
            );
            vertices.push(centre() + turn * corner);
        }
        for [a, b, c, d] in [
            [0, 4, 6, 2],
            [1, 3, 7, 5],
            [0, 1, 5, 4],
            [2, 6, 7, 3],
            [0, 2, 3, 1],
            [4, 5, 7, 6],
        ] {
            triangles.push([a, b, c].map(|i| first + i));
            triangles.push([a, c, d].map(|i| first + i));
        }
    }
    Shape::Mesh {
        vertices: Arc::new(vertices),
        triangles: Arc::new(triangles),
    }
}

/// Of more triangles than this slivers are sampled along their edges only.
const MANY: usize = 100;
/// Lower than this a triangle is a sliver, mm: rolled by a sixtieth of a turn, its edges pass over its inside.
const SLIVER_MM: f64 = 12.0;

/// Points of a surface's solid skin, close together, body coordinates: of a ball or bar, those of its facets pushed
/// out onto it.
fn skin(surface: &Surface, apart_mm: f64) -> Vec<Vector3<f64>> {
    let mut out = Vec::new();
    let place = |v: Vector3<f64>| surface.origin + surface.rotation * v;
    match surface.kind {
        ElementKind::Triangle => {
            for e in 0..surface.elements.len() {
                let [a, b, c] = surface.corners(e);
                let longest = (b - a).norm().max((c - a).norm()).max((c - b).norm());
                let n = (longest / apart_mm).ceil().max(1.0) as usize;
                // Many triangles are slivers: their edges speak for them.
                let height = (b - a).cross(&(c - a)).norm() / longest;
                let inner = surface.elements.len() <= MANY || height > SLIVER_MM;
                for i in 0..=n {
                    let rows = (0..=n - i).filter(|j| inner || i == 0 || *j == 0 || *j == n - i);
                    for j in rows {
                        let (u, v) = (i as f64 / n as f64, j as f64 / n as f64);
                        out.push(place(a + (b - a) * u + (c - a) * v));
                    }
                }
            }
        }
        ElementKind::Point | ElementKind::Segment => {
            let [a, b, _] = surface.corners(0);
            let n = ((b - a).norm() / apart_mm).ceil().max(1.0) as usize;
            let turns = (std::f64::consts::TAU * surface.radius_mm / apart_mm).ceil() as usize;
            for i in 0..=n {
                let middle = a.lerp(&b, i as f64 / n as f64);
                // On the ends a half ball, between them rings: along the segment's own z axis.
                let tilts = if i == 0 || i == n { turns } else { 1 };
                for k in 0..tilts {
                    let share = k as f64 / tilts as f64;
                    let tilt =
                        share * std::f64::consts::FRAC_PI_2 * if i == 0 { -1.0 } else { 1.0 };
                    let tilt = if a == b {
                        2.0 * tilt + std::f64::consts::FRAC_PI_2
                    } else {
                        tilt
                    };
                    for j in 0..turns {
                        let (sin, cos) =
                            (std::f64::consts::TAU * j as f64 / turns as f64).sin_cos();
                        let way = Vector3::new(cos * tilt.cos(), sin * tilt.cos(), tilt.sin());
                        out.push(place(middle + way * surface.radius_mm));
                    }
                }
            }
        }
    }
    out
}

/// Points of a round shape's true surface, which stands off its facets: rings between an outline's corners.
fn true_rings(shape: &Shape) -> Vec<Vector3<f64>> {
    let (from, axis, outline) = match shape {
        Shape::Lathe {
            from,
            axis,
            profile,
        } => (*from, axis.normalize(), profile.clone()),
        Shape::Cone {
            from,
            to,
            radius_from,
            radius_to,
        } => {
            let length = (to - from).norm();
            let outline = vec![[0.0, *radius_from], [length, *radius_to]];
            (*from, (to - from).normalize(), outline)
        }
        _ => return Vec::new(),
    };
    let across = axis.cross(&Vector3::x()).normalize();
    let third = axis.cross(&across);
    let mut out = Vec::new();
    for (i, a) in outline.iter().enumerate() {
        let b = outline[(i + 1) % outline.len()];
        for k in 0..40 {
            let t = k as f64 / 40.0;
            let [along, radius] = [a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t];
            for j in 0..720 {
                // An angle that no facet's corner has.
                let (sin, cos) = (0.0087 * j as f64 + 0.001).sin_cos();
                out.push(from + axis * along + (across * cos + third * sin) * radius);
            }
        }
    }
    out
}

/// (along, radius) of points about an axis.
fn images(points: &[Vector3<f64>], point: Vector3<f64>, axis: Vector3<f64>) -> Vec<[f64; 2]> {
    points
        .iter()
        .map(|p| {
            let d = p - point;
            let along = d.dot(&axis);
            [along, (d - axis * along).norm()]
        })
        .collect()
}

/// How often outlines wind about a point of the half plane, left-handed ones counted as holes.
fn winds(outlines: &[Vec<[f64; 2]>], [x, r]: [f64; 2]) -> i32 {
    let mut count = 0;
    for outline in outlines {
        for (i, a) in outline.iter().enumerate() {
            let b = outline[(i + 1) % outline.len()];
            let left = (b[0] - a[0]) * (r - a[1]) - (b[1] - a[1]) * (x - a[0]);
            if a[1] <= r && b[1] > r && left > 0.0 {
                count += 1;
            }
            if a[1] > r && b[1] <= r && left < 0.0 {
                count -= 1;
            }
        }
    }
    count
}

/// Shapes that no wheel's axis goes straight through, with the axis each turns about.
fn cases() -> Vec<(&'static str, Shape, Vector3<f64>, Vector3<f64>)> {
    let tilted = |x: f64, z: f64| Vector3::new(x, 1.0, z).normalize();
    let high = centre() + Vector3::new(0.0, 0.0, 100.0);
    vec![
        ("tyre with toe and camber", tyre(), centre(), spindle()),
        ("tyre 100 mm off", tyre(), high, spindle()),
        (
            "cup tilted by 3 degrees",
            cup(tilted(0.03, 0.04)),
            centre(),
            Vector3::y(),
        ),
        (
            "bar across",
            Shape::Capsule {
                from: centre() + Vector3::new(40.0, -30.0, 10.0),
                to: centre() + Vector3::new(-60.0, 50.0, 25.0),
                radius: 11.0,
            },
            centre(),
            spindle(),
        ),
        (
            "ball over the axis",
            Shape::Ball {
                centre: centre() + Vector3::new(4.0, 3.0, 5.0),
                radius: 20.0,
            },
            centre(),
            spindle(),
        ),
        (
            "cone aslant",
            Shape::Cone {
                from: centre() + Vector3::new(30.0, 0.0, 10.0),
                to: centre() + Vector3::new(35.0, 90.0, -20.0),
                radius_from: 30.0,
                radius_to: 8.0,
            },
            centre(),
            spindle(),
        ),
        (
            "ear",
            Shape::Box {
                centre: centre() + Vector3::new(0.0, -20.0, 58.0),
                size: Vector3::new(16.0, 18.0, 14.0),
                turned: Vector3::new(0.2, 0.1, 0.3),
            },
            centre(),
            Vector3::y(),
        ),
        (
            "plate that the axis pierces",
            Shape::Box {
                centre: centre() + Vector3::new(5.0, 10.0, -3.0),
                size: Vector3::new(60.0, 4.0, 35.0),
                turned: Vector3::new(0.4, 0.0, 0.2),
            },
            centre(),
            spindle(),
        ),
        ("drawn wheel", wheel(60, 1, 5), centre(), spindle()),
    ]
}

#[test]
fn the_room_of_every_roll_holds_the_part_at_every_roll_angle() {
    for (name, shape, point, axis) in cases() {
        let drawn = shape.surface(None).expect("a shape");
        let (outlines, _) = swept(&drawn, &point, &axis).expect("it turns");
        let mut points = skin(&drawn, 4.0);
        points.extend(true_rings(&shape));
        assert!(points.len() > 100, "{name}: points to ask about");
        for image in images(&points, point, axis) {
            assert!(winds(&outlines, image) > 0, "{name}: {image:?} is left out");
        }
        // In space as well, at any angle: within the facets, but for the error that gaps subtract.
        let solid = full_revolution(&drawn, point, axis).expect("it turns");
        assert!(solid.closed);
        let unit = Unit::new_normalize(axis);
        for (i, p) in points.iter().enumerate().step_by(points.len() / 40 + 1) {
            let turn = Rotation3::from_axis_angle(&unit, 0.7 * i as f64);
            let rolled = point + turn * (p - point);
            // Toward the outline's inside by the facet error: a little along every way inward will do.
            let inside = (0..26).any(|k| {
                let way = Vector3::new(
                    (k % 3) as f64 - 1.0,
                    (k / 3 % 3) as f64 - 1.0,
                    (k / 9) as f64 - 1.0,
                );
                let near = rolled + way.normalize() * 2.0 * solid.facet_error_mm;
                let own = solid.rotation.tr_mul(&(near - solid.origin));
                way != Vector3::zeros() && solid.winding(&own) > 0.5
            });
            assert!(inside, "{name}: {rolled:?} is outside the facets");
        }
    }
}

#[test]
fn the_room_of_every_roll_exceeds_the_part_by_less_than_stated() {
    // Points of the skin this close, mm; half a cell's diagonal and the drawn facets' error come on top.
    const CELL_MM: f64 = 0.1;
    for (name, shape, point, axis) in cases() {
        // A wheel's facets sampled that finely are too many: a segment of it sweeps the same room.
        let drawn = match &shape {
            Shape::Lathe { .. } => shape.surface_within(None, Some(0.05)),
            other => other.surface(None),
        }
        .expect("a shape");
        let drawn_error = drawn.facet_error_mm;
        let (outlines, _) = swept(&drawn, &point, &axis).expect("it turns");
        let apart = if drawn.elements.len() > MANY {
            0.2
        } else {
            0.1
        };
        let cell = |v: f64| (v / CELL_MM).floor() as i64;
        let marked: HashSet<[i64; 2]> = images(&skin(&drawn, apart), point, axis)
            .into_iter()
            .map(|p| p.map(cell))
            .collect();
        let allowed = REVOLVED_EXCESS_MM - 2.0 * FACET_MM;
        let slack = 1.5 * CELL_MM + 0.6 * apart + drawn_error;
        let reach = ((allowed + slack) / CELL_MM).ceil() as i64;
        let mut worst: f64 = 0.0;
        for outline in &outlines {
            for (i, a) in outline.iter().enumerate() {
                let b = outline[(i + 1) % outline.len()];
                if a[1] == 0.0 && b[1] == 0.0 {
                    continue;
                }
                let n = ((b[0] - a[0]).hypot(b[1] - a[1]) / 1.0).ceil() as usize;
                for k in 0..=n {
                    let t = k as f64 / n.max(1) as f64;
                    let p = [a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t];
                    let mut nearest = f64::INFINITY;
                    for dx in -reach..=reach {
                        for dr in -reach..=reach {
                            let c = [cell(p[0]) + dx, cell(p[1]) + dr];
                            if marked.contains(&c) {
                                let [x, r] = c.map(|v| (v as f64 + 0.5) * CELL_MM);
                                nearest = nearest.min((x - p[0]).hypot(r - p[1]));
                            }
                        }
                    }
                    worst = worst.max(nearest);
                }
            }
        }
        assert!(worst <= allowed + slack, "{name}: stands off by {worst} mm");
        println!(
            "{name}: at most {worst:.3} mm off, {} corners",
            outlines.iter().map(Vec::len).sum::<usize>()
        );
    }
}

#[test]
fn a_bore_stays_a_bore_and_a_wheels_outline_has_few_corners() {
    let drawn = cup(Vector3::new(0.01, 1.0, 0.0))
        .surface(None)
        .expect("a cup");
    let (outlines, _) = swept(&drawn, &centre(), &Vector3::y()).expect("it turns");
    assert_eq!(outlines.len(), 1);
    // Tilted by 0.01 the mouth comes in by 0.4 mm at most, the excess on top: 36 mm are free, up to the floor.
    for (along, radius, solid) in [
        (36.0, 36.0, false),
        (-43.0, 35.9, false),
        (0.0, 0.5, false),
        (-50.0, 0.5, true),
        (0.0, 45.0, true),
    ] {
        assert_eq!(
            winds(&outlines, [along, radius]) > 0,
            solid,
            "{along} {radius}"
        );
    }
    let drawn = tyre().surface(None).expect("a tyre");
    let solid = full_revolution(&drawn, centre(), spindle()).expect("it turns");
    let corners = solid.round.as_ref().map_or(usize::MAX, |r| r.outline.len());
    assert!(corners <= 100, "{corners} corners");
    assert!(solid.elements.len() <= 60_000, "{}", solid.elements.len());
}

/// Pieces and marked columns follow the number of elements: each takes few pieces whatever its area, and a column
/// where it has one.
#[test]
fn a_revolution_costs_what_its_elements_cost_and_not_what_their_area_does() {
    let work = |shape: &Shape| -> (usize, Work) {
        let drawn = shape.surface(None).expect("a shape");
        let work = swept(&drawn, &centre(), &spindle()).expect("it turns").1;
        (drawn.elements.len(), work)
    };
    let cube = |size: f64| Shape::Box {
        centre: centre() + Vector3::new(size, 0.0, 0.0),
        size: Vector3::repeat(size),
        turned: Vector3::new(0.3, 0.2, 0.1),
    };
    // Ten thousand times the area: so many more squares would have to be looked at. Pieces grow as the root of the
    // length, by the bend of a radius along a line (its chords, 300 mm at 1.4 mm for 150 mm from the axis); columns
    // with the length.
    let (n, small) = work(&cube(3.0));
    let (_, large) = work(&cube(300.0));
    assert_eq!(n, 12);
    assert!(large.pieces <= 400 * n as u64, "{large:?}");
    assert!(large.columns <= 130 * small.columns, "{small:?} {large:?}");
    let (n, of_tyre) = work(&tyre());
    assert!(of_tyre.pieces <= 8 * n as u64, "{n}: {of_tyre:?}");
    // A wheel drawn finer has proportionally more elements to look at, and no more than that.
    let (n_coarse, coarse) = work(&wheel(100, 20, 5));
    let (n_fine, fine) = work(&wheel(400, 20, 5));
    assert!(n_fine > 3 * n_coarse && n_fine < 5 * n_coarse);
    for (n, work) in [(n_coarse, coarse), (n_fine, fine)] {
        assert!(work.pieces <= 10 * n as u64, "{n}: {work:?}");
        // A facet of the rim is 11 mm long, at eight columns a millimetre, and many give the same bands.
        assert!(work.columns <= 100 * n as u64, "{n}: {work:?}");
    }
    // Long slivers round a rim, 220 mm each: their bands are the same again and again.
    let (n, slivers) = work(&wheel(6_000, 1, 5));
    assert!(n > 48_000);
    assert!(slivers.columns <= 200 * n as u64, "{slivers:?}");
}

#[test]
fn what_is_larger_than_any_wheel_is_refused_before_it_takes_memory() {
    for size in [9.0e3, 1.0e5, 1.0e15, f64::NAN] {
        let huge = Shape::Mesh {
            vertices: Arc::new(vec![
                Vector3::zeros(),
                Vector3::new(size, 0.0, 0.0),
                Vector3::new(0.0, size, 0.0),
            ]),
            triangles: Arc::new(vec![[0, 1, 2]]),
        };
        let drawn = huge.surface(None).expect("a mesh");
        let refused = full_revolution(&drawn, Vector3::zeros(), spindle()).err();
        assert_eq!(refused, Some(ShapeError::TooLargeToTurn), "{size}");
    }
}

/// Its facets' error reaches over more columns than a short piece has itself: cutting that on had no end.
#[test]
fn a_disc_with_coarse_facets_is_turned_too() {
    let disc = Shape::Lathe {
        from: centre(),
        axis: Vector3::y(),
        profile: vec![[-5.0, 0.0], [5.0, 0.0], [5.0, 3000.0], [-5.0, 3000.0]],
    };
    let drawn = disc.surface(None).expect("a disc");
    assert!(drawn.facet_error_mm > 2.0 * super::STEP_MM);
    let (outlines, _) = swept(&drawn, &centre(), &spindle()).expect("it turns");
    for image in images(&true_rings(&disc), centre(), spindle()) {
        assert!(winds(&outlines, image) > 0, "{image:?} is left out");
    }
}

/// A rod drawn between points in whole millimetres stays a round bar, wider by what it strays and no more.
#[test]
fn a_rod_drawn_nearly_on_its_axis_stays_a_rod() {
    let (inner, outer) = (
        Vector3::new(-135.0, 366.0, 396.0),
        Vector3::new(-140.0, 685.0, 372.0),
    );
    let rod = Shape::Capsule {
        from: inner,
        to: Vector3::new(-139.6, 655.0, 374.0),
        radius: 9.0,
    };
    let axis = outer - inner;
    assert!(rod.is_round_about(&inner, &axis));
    let surface = rod.surface(Some((inner, axis))).expect("a rod");
    assert_eq!(surface.kind, ElementKind::Segment);
    let strays = {
        let d = Vector3::new(-139.6, 655.0, 374.0) - inner;
        d.cross(&axis.normalize()).norm()
    };
    assert!(
        strays > 0.2 && (surface.radius_mm - 9.0 - strays).abs() < 1.0e-9,
        "{strays}"
    );
    // A large flat wheel tilted a little strays by what its rim does, not by what its middle does.
    let disc = Shape::Lathe {
        from: centre(),
        axis: Vector3::new(0.002, 1.0, 0.0),
        profile: vec![[-5.0, 0.0], [5.0, 0.0], [5.0, 400.0], [-5.0, 400.0]],
    };
    assert!(
        !disc.is_round_about(&centre(), &Vector3::y()),
        "0.8 mm of wobble"
    );
    let nearly = Shape::Lathe {
        from: centre(),
        axis: Vector3::new(0.0005, 1.0, 0.0),
        profile: vec![[-5.0, 0.0], [5.0, 0.0], [5.0, 400.0], [-5.0, 400.0]],
    };
    let room = nearly
        .surface(Some((centre(), Vector3::y())))
        .expect("a disc");
    let error = room.round.as_ref().map_or(0.0, |r| r.error_mm);
    assert!((0.2..0.21).contains(&error), "{error}");
}

/// Not a gate: prints how long a drawn wheel takes. `cargo test --release .. -- --ignored --nocapture`.
#[test]
#[ignore = "prints times"]
fn times_of_drawn_wheels() {
    for (around, across) in [(620, 19), (6_200, 1), (2_800, 88), (100, 2_500)] {
        let drawn = wheel(around, across, 5).surface(None).expect("a wheel");
        for axis in [Vector3::y(), spindle()] {
            let start = std::time::Instant::now();
            let (outlines, work) = swept(&drawn, &centre(), &axis).expect("it turns");
            let marked = start.elapsed();
            let solid = full_revolution(&drawn, centre(), axis).expect("it turns");
            println!(
                "{} triangles: {:.3} s, {} corners, {} facets, {work:?}, whole {:.3} s",
                drawn.elements.len(),
                marked.as_secs_f64(),
                outlines.iter().map(Vec::len).sum::<usize>(),
                solid.elements.len(),
                (start.elapsed() - marked).as_secs_f64()
            );
        }
    }
    let drawn = tyre().surface(None).expect("a tyre");
    let start = std::time::Instant::now();
    let solid = full_revolution(&drawn, centre(), spindle()).expect("it turns");
    println!(
        "tyre: {:.4} s, {} facets",
        start.elapsed().as_secs_f64(),
        solid.elements.len()
    );
}
