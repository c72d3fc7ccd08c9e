//! The inner joint's field of plunge against angle: what is kept is what lies inside the polygon and between the plunge's
//! ends, for polygons of any convex form, narrower or wider than the ends.
//!
//! The reference asks whether a point lies in the polygon by counting how often a ray from it crosses the boundary, on
//! the corners as drawn: no half planes, no cosines.

mod dice;

use bindpoint::findings::{Status, StopId};
use bindpoint::limits::{Limit, PlungePolygon, PolygonError};
use bindpoint::numbers::Enclosure;
use bindpoint::scene::{Scene, scene_from_text};
use bindpoint::suspension::Linkage;
use bindpoint::sweep::{SweepOptions, status, sweep};
use bindpoint::truck::{Corner, assemble};
use dice::Dice;
use std::path::Path;

/// Corners as a scene gives them: plunge mm, angle deg.
type Ring = Vec<(f64, f64)>;

fn scene(name: &str) -> Scene {
    let path = Path::new("scenes").join(format!("{name}.ron"));
    let text = std::fs::read_to_string(&path).expect("a demo scene");
    scene_from_text(&text, &path).expect("it reads")
}

/// Tarnwood with another field, and nothing that could touch.
fn bare(polygon: &Ring, ends: [f64; 2]) -> Scene {
    let mut s = scene("tarnwood");
    s.parts.clear();
    s.joined.clear();
    s.watch.clear();
    s.setups.clear();
    s.underbody.clear();
    s.tyre = None;
    with_field(&mut s, polygon, ends);
    s
}

fn with_field(s: &mut Scene, polygon: &Ring, ends: [f64; 2]) {
    s.halfshaft.plunge_polygon = polygon.clone();
    (s.halfshaft.plunge.inner, s.halfshaft.plunge.outer) = (ends[0], ends[1]);
}

fn plunge_limits(corner: &Corner) -> Vec<&Limit> {
    let named = |l: &&Limit| l.name().starts_with("plunge");
    corner.limits.iter().filter(named).collect()
}

/// Whether a point lies inside a ring, by the crossings of a ray that leaves it toward greater plunge.
fn is_inside(ring: &Ring, (plunge, deg): (f64, f64)) -> bool {
    let mut inside = false;
    for i in 0..ring.len() {
        let (a, b) = (ring[i], ring[(i + 1) % ring.len()]);
        if (a.1 > deg) != (b.1 > deg) {
            let crosses = a.0 + (b.0 - a.0) * (deg - a.1) / (b.1 - a.1);
            inside ^= crosses > plunge;
        }
    }
    inside
}

/// Distance of a point from a ring's boundary, degrees and mm alike.
fn from_boundary(ring: &Ring, (p, d): (f64, f64)) -> f64 {
    let mut least = f64::INFINITY;
    for i in 0..ring.len() {
        let (a, b) = (ring[i], ring[(i + 1) % ring.len()]);
        let (u, v) = (b.0 - a.0, b.1 - a.1);
        let along = (((p - a.0) * u + (d - a.1) * v) / (u * u + v * v)).clamp(0.0, 1.0);
        least = least.min((p - a.0 - along * u).hypot(d - a.1 - along * v));
    }
    least
}

/// A random convex field on angle zero: walls upright or slanted inward, steep or flat, a triangle or many corners,
/// listed from any corner either way round.
fn random_field(dice: &mut Dice) -> Ring {
    let (low, high) = (-dice.between(0.5, 45.0), dice.between(0.5, 45.0));
    let top = dice.between(8.0, 45.0);
    // Corners from outboard to inboard, each slope greater than the one before.
    let mut above: Ring = Vec::new();
    if dice.below(2) == 0 {
        above.push((high, dice.between(0.1, top)));
    }
    for _ in 0..1 + dice.below(5) {
        // Some next to a wall: steep edges.
        let p = match dice.below(4) {
            0 => high - 10.0_f64.powf(dice.between(-4.0, 0.0)) * (high - low),
            1 => low + 10.0_f64.powf(dice.between(-4.0, 0.0)) * (high - low),
            _ => dice.between(low, high),
        };
        above.push((p, dice.between(0.1, top)));
    }
    if dice.below(2) == 0 {
        above.push((low, dice.between(0.1, top)));
    }
    above.push((high, 0.0));
    above.push((low, 0.0));
    above.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.total_cmp(&b.1)));
    let mut ring: Ring = Vec::new();
    for c in above {
        while let [.., a, b] = ring[..] {
            let turn = (b.0 - a.0) * (c.1 - b.1) - (b.1 - a.1) * (c.0 - b.0);
            if turn > 1.0e-6 {
                break;
            }
            ring.pop();
        }
        ring.push(c);
    }
    if ring.last() != Some(&(low, 0.0)) {
        ring.push((low, 0.0));
    }
    let n = ring.len();
    ring.rotate_left(dice.below(n));
    if dice.below(2) == 0 {
        ring.reverse();
    }
    ring
}

/// A placed linkage with another plunge and angle: only the limits of the plunge are asked.
fn placed_at(linkage: &Linkage<f64>, plunge_mm: f64, deg: f64) -> Linkage<f64> {
    let mut out = linkage.clone();
    out.plunge_mm = plunge_mm;
    out.inner_cos = deg.to_radians().cos();
    out
}

/// Positions are left out where rounding decides: the angle comes from a cosine, whose last digit is worth 1e-8 deg
/// near a thousandth of a degree, and an edge of a thousand degrees per mm makes that of a plunge's 1e-14.
const ROUNDING: f64 = 1.0e-6;

#[test]
fn exactly_what_lies_inside_polygon_and_ends_is_kept() {
    let mut dice = Dice::new(20_261_127);
    let tarnwood = assemble(&bare(&Vec::new(), [-60.0, 60.0]), Path::new("scenes")).expect("built");
    let measured = tarnwood.corners[0].positioner.place(0.0, 0.0).linkage;
    let measured_deg = measured.inner_cos.acos().to_degrees();
    let (mut built, mut refused, mut kept, mut past) = (0, 0, 0, 0);
    let mut narrower = [0, 0];
    while built < 400 {
        let ring = random_field(&mut dice);
        let ends = [-dice.between(0.5, 50.0), dice.between(0.5, 50.0)];
        let holds = is_inside(&ring, (0.0, measured_deg));
        let near = from_boundary(&ring, (0.0, measured_deg)) < ROUNDING;
        match assemble(&bare(&ring, ends), Path::new("scenes")) {
            Err(problem) => {
                assert!(!holds || near, "{ring:?} {ends:?}: {problem:?}");
                assert!(
                    problem.what.contains("already past its limit"),
                    "{problem:?}"
                );
                assert!(problem.path.starts_with("halfshaft.plunge"), "{problem:?}");
                refused += 1;
            }
            Ok(truck) => {
                assert!(holds || near, "{ring:?} {ends:?} was built");
                built += 1;
                let least = ring.iter().map(|c| c.0).fold(f64::INFINITY, f64::min);
                narrower[usize::from(least > ends[0])] += 1;
                let limits = plunge_limits(&truck.corners[0]);
                assert_eq!(limits.len(), 3);
                for _ in 0..300 {
                    let place = match dice.below(3) {
                        0 => (dice.between(-150.0, 150.0), dice.between(0.001, 89.0)),
                        1 => (dice.between(-50.0, 50.0), dice.between(0.001, 45.0)),
                        // Next to an edge.
                        _ => {
                            let i = dice.below(ring.len());
                            let (a, b) = (ring[i], ring[(i + 1) % ring.len()]);
                            let share = dice.between(-0.2, 1.2);
                            let off = 10.0_f64.powf(dice.between(-5.0, 0.0));
                            (
                                a.0 + share * (b.0 - a.0) + dice.between(-off, off),
                                (a.1 + share * (b.1 - a.1) + dice.between(-off, off)).max(0.001),
                            )
                        }
                    };
                    let from_ends = (place.0 - ends[0]).abs().min((place.0 - ends[1]).abs());
                    if from_boundary(&ring, place).min(from_ends) < ROUNDING {
                        continue;
                    }
                    let allowed = is_inside(&ring, place) && ends[0] < place.0 && place.0 < ends[1];
                    let linkage = placed_at(&measured, place.0, place.1);
                    let reserves = limits
                        .iter()
                        .flat_map(|l| (0..l.pieces()).map(|i| l.reserve(i, &linkage)));
                    let keeps = reserves.into_iter().all(|r| r > 0.0);
                    assert_eq!(keeps, allowed, "{ring:?} {ends:?} at {place:?}");
                    let margin = limits.iter().map(|l| l.reading(&linkage).margin);
                    let left = margin.fold(f64::INFINITY, f64::min);
                    assert_eq!(
                        left > 0.0,
                        allowed,
                        "{ring:?} {ends:?} at {place:?}: {left}"
                    );
                    // Each limit by itself too: its reading has the sign of its reserves.
                    for limit in &limits {
                        let own = (0..limit.pieces()).all(|i| limit.reserve(i, &linkage) > 0.0);
                        let margin = limit.reading(&linkage).margin;
                        // Past the other limits a steep edge may be asked beyond where cosines tell angles apart.
                        if allowed || own {
                            assert_eq!(margin > 0.0, own, "{} {ring:?} at {place:?}", limit.name());
                        }
                    }
                    if allowed { kept += 1 } else { past += 1 }
                }
            }
        }
    }
    assert!(
        refused > 10 && kept > 10_000 && past > 10_000,
        "{refused} {kept} {past}"
    );
    assert!(narrower.iter().all(|n| *n > 50), "{narrower:?}");
}

/// Enclosures over cells hold what is at every position inside them: that is what the proofs stand on.
#[test]
fn reserves_over_a_cell_enclose_those_of_every_position_in_it() {
    let mut dice = Dice::new(3);
    let mut asked = 0;
    while asked < 2000 {
        let ring = random_field(&mut dice);
        let Ok(truck) = assemble(&bare(&ring, [-60.0, 60.0]), Path::new("scenes")) else {
            continue;
        };
        let corner = &truck.corners[0];
        let limits = plunge_limits(corner);
        for _ in 0..20 {
            let half = [dice.between(1.0e-4, 0.03), dice.between(0.01, 8.0)];
            let (alpha, rack) = (dice.between(-0.35, 0.25), dice.between(-60.0, 60.0));
            let over = corner.positioner.linkage.solve(
                Enclosure::variable(alpha, half[0], 0),
                Enclosure::variable(rack, half[1], 1),
            );
            if !over.is_within_reach() {
                continue;
            }
            for _ in 0..5 {
                let a = alpha + half[0] * dice.between(-1.0, 1.0);
                let r = rack + half[1] * dice.between(-1.0, 1.0);
                let at = corner.positioner.place(a, r).linkage;
                for limit in &limits {
                    for piece in 0..limit.pieces() {
                        let (all, one) = (limit.reserve(piece, &over), limit.reserve(piece, &at));
                        // Rounding of the plain number itself.
                        let slack = 1.0e-9 * (1.0 + one.abs());
                        assert!(
                            all.range.lo - slack <= one && one <= all.range.hi + slack,
                            "{} piece {piece} of {ring:?}: {one} outside {:?}",
                            limit.name(),
                            all.range
                        );
                        asked += 1;
                    }
                }
            }
        }
    }
}

/// Sweeps Tarnwood with another field; what stops its droop straight ahead and the status. At every listed end of the free
/// travel the position is inside polygon and ends.
fn swept(polygon: &Ring, ends: [f64; 2]) -> (String, Status) {
    let mut s = scene("tarnwood");
    with_field(&mut s, polygon, ends);
    let truck = assemble(&s, Path::new("scenes")).expect("built");
    let options = SweepOptions {
        rack_positions: 5,
        ..SweepOptions::default()
    };
    let found = sweep(&truck, &options, &|_, _| {});
    let corner = truck.corner(found.worse.side).expect("built");
    for row in &found.worse.free_travel {
        for travel in [-row.droop_mm, row.bump_mm] {
            let linkage = corner.position(travel, row.rack_mm).expect("free").linkage;
            let deg = linkage.inner_cos.acos().to_degrees();
            let p = linkage.plunge_mm;
            // The end of the free travel is found to 0.01 mm of travel; a linkage gives less than that in plunge.
            let inside = is_inside(polygon, (p, deg)) && ends[0] < p && p < ends[1];
            assert!(
                inside || from_boundary(polygon, (p, deg)).min((p - ends[0]).abs()) < 0.02,
                "free at plunge {p}, {deg} deg: travel {travel}, rack {}",
                row.rack_mm
            );
        }
    }
    let middle = &found.worse.free_travel[2];
    (
        middle
            .droop_stop
            .as_ref()
            .map(StopId::name)
            .unwrap_or_default(),
        status(&found),
    )
}

/// The polygon's walls end the plunge at -3 mm; its ends alone would let it go on to -5.93 and further.
#[test]
fn a_polygon_narrower_than_the_ends_stops_the_plunge() {
    let narrow = vec![(-3.0, 0.0), (3.0, 0.0), (3.0, 26.0), (-3.0, 26.0)];
    let (stop, status) = swept(&narrow, [-26.0, 24.0]);
    assert_eq!((stop.as_str(), status), ("plunge in", Status::Found));
}

/// A triangle's upright side ends the plunge; past where a slanted one meets angle zero no angle is allowed, though the
/// cosine of a negative one looks like that of a positive one.
#[test]
fn a_triangle_stops_the_wheel_where_it_allows_no_more() {
    let upright = vec![(-3.0, 0.0), (24.0, 0.0), (-3.0, 26.0)];
    let (stop, status) = swept(&upright, [-26.0, 24.0]);
    assert_eq!((stop.as_str(), status), ("plunge in", Status::Found));
    let slanted = vec![(-4.0, 0.0), (4.0, 0.0), (0.0, 26.0)];
    let (stop, status) = swept(&slanted, [-26.0, 24.0]);
    assert_eq!((stop.as_str(), status), ("plunge field", Status::Found));
}

#[test]
fn ends_narrower_than_the_polygon_stop_the_plunge() {
    let wide = vec![(-40.0, 0.0), (40.0, 0.0), (40.0, 26.0), (-40.0, 26.0)];
    let (stop, status) = swept(&wide, [-3.0, 24.0]);
    assert_eq!((stop.as_str(), status), ("plunge in", Status::Found));
}

#[test]
fn a_field_as_wide_as_its_ends_leaves_the_demo_truck_as_it_was() {
    let own = scene("tarnwood").halfshaft.plunge_polygon;
    let (stop, _) = swept(&own, [-26.0, 24.0]);
    assert_eq!(stop, "damper extended");
}

#[test]
fn where_polygon_and_ends_disagree_the_warnings_say_which_ends_the_plunge() {
    let built =
        |polygon: &Ring, ends| assemble(&bare(polygon, ends), Path::new("scenes")).expect("built");
    let warned = |polygon: &Ring, ends| -> Vec<String> {
        let mut warnings = built(polygon, ends).warnings;
        warnings.retain(|w| w.contains("polygon"));
        warnings
    };
    let field = |low: f64, high: f64| vec![(low, 0.0), (high, 0.0), (high, 26.0), (low, 26.0)];
    let both = warned(&field(-3.0, 40.0), [-26.0, 24.0]);
    assert_eq!(both.len(), 2, "{both:?}");
    assert!(
        both[0].contains("inboard the plunge polygon ends at -3.00 mm"),
        "{both:?}"
    );
    assert!(both[0].contains("the polygon ends the plunge"), "{both:?}");
    assert!(
        both[1].contains("outboard the plunge ends at 24.00 mm"),
        "{both:?}"
    );
    assert!(both[1].contains("the plunge's own end ends it"), "{both:?}");
    assert!(warned(&field(-26.0, 24.0), [-26.0, 24.0]).is_empty());
    // A field that doesn't hold the truck as measured is refused, at the polygon.
    let Err(problem) = assemble(&bare(&field(3.0, 9.0), [-26.0, 24.0]), Path::new("scenes")) else {
        panic!("it was built");
    };
    assert_eq!(problem.path, "halfshaft.plunge_polygon");
    assert!(
        problem.what.contains("plunge in is already past"),
        "{problem:?}"
    );
}

#[test]
fn corners_that_make_no_field_are_refused_with_what_is_wrong() {
    let field = |corners: &[(f64, f64)]| {
        let corners: Vec<(f64, f64)> = corners.iter().map(|(p, d)| (*p, d.to_radians())).collect();
        PlungePolygon::from_corners(&corners).expect_err("no field")
    };
    let flat = [(-5.0, 0.0), (5.0, 0.0), (5.0, 0.0), (0.0, 0.0)];
    assert_eq!(field(&flat), PolygonError::NoRoom);
    assert_eq!(field(&[(0.0, 0.0), (3.0, 4.0)]), PolygonError::NoRoom);
    let dented = [
        (-5.0, 0.0),
        (5.0, 0.0),
        (5.0, 20.0),
        (0.0, 10.0),
        (-5.0, 20.0),
    ];
    assert_eq!(field(&dented), PolygonError::NotConvex);
    // Every turn of a five-pointed star is to the same side.
    let point = |i: usize| {
        let turn = std::f64::consts::TAU * (2 * i) as f64 / 5.0;
        (10.0 * turn.cos(), 20.0 + 10.0 * turn.sin())
    };
    assert_eq!(field(&[0, 1, 2, 3, 4].map(point)), PolygonError::NotConvex);
    // The base left out, slanted or floating: the joint would have to be bent.
    for bent in [
        vec![(-26.0, 15.0), (-17.0, 26.0), (17.0, 26.0), (24.0, 15.0)],
        vec![(-26.0, 0.0), (24.0, 5.0), (24.0, 15.0), (-26.0, 15.0)],
        vec![(-10.0, 10.0), (0.0, 0.0), (10.0, 10.0)],
    ] {
        assert!(
            matches!(field(&bent), PolygonError::Bent { .. }),
            "{bent:?}"
        );
    }
}
