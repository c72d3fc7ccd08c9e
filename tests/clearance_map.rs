//! `clearance`: the least gap of every corner and face of a part, its tight patches and trim marks.
//!
//! Source: closed forms (a ball on an arm runs on a circle), brute force at random positions with the pair walk that other
//! tests check against foreign libraries, and demo scenes with a bracket planted in the way. Marked where a number was
//! only read off.

use assert_cmd::cargo::cargo_bin_cmd;
use bindpoint::clearance::{PairWalk, Relative, placement};
use bindpoint::findings::StopId;
use bindpoint::shapes::{ElementKind, Surface};
use bindpoint::space::{
    ClearanceError, ClearanceMap, ClearanceOptions, Spot, TrimMark, clearance_map,
    clearance_map_with_bound_factor, trim_marks,
};
use bindpoint::suspension::{Body, Side};
use bindpoint::sweep::free_travel::Region;
use bindpoint::sweep::rate_atlas::Atlas;
use bindpoint::sweep::removable_stops;
use bindpoint::sweep::stops::Guard;
use bindpoint::truck::{Corner, Truck, load, load_setup};
use nalgebra::{Matrix3, Vector3};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use tempfile::{TempDir, tempdir};

#[path = "dice/mod.rs"]
mod dice;

type V = Vector3<f64>;

const TOLERANCE_MM: f64 = 0.1;

/// A demo scene with more parts and pairs watched, in a folder of its own.
fn planted(scene: &str, parts: &str, watch: &str) -> (TempDir, PathBuf) {
    let root = PathBuf::from(env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(root.join("scenes").join(scene)).expect("a demo scene");
    let assets = format!("\"{}/assets/", root.display());
    let text = text
        .replace("\"../assets/", &assets)
        .replacen("    parts: [\n", &format!("    parts: [\n{parts}\n"), 1)
        .replacen("    watch: [\n", &format!("    watch: [\n{watch}\n"), 1);
    let folder = tempdir().expect("a folder");
    let path = folder.path().join("planted.ron");
    std::fs::write(&path, text).expect("written");
    (folder, path)
}

fn options(part: &str) -> ClearanceOptions {
    ClearanceOptions {
        part: part.to_owned(),
        side: None,
        required_mm: None,
        against: Vec::new(),
        with_overlaps: false,
        cutoff_mm: 50.0,
        tolerance_mm: TOLERANCE_MM,
        resolution_mm: 5.0,
    }
}

fn mapped(trucks: &[Truck], options: &ClearanceOptions) -> ClearanceMap {
    clearance_map(trucks, options, &|_, _| true).expect("a map")
}

/// The free travel without a part's own stops, through the public doors.
fn free_without(corner: &Corner, part: &str) -> Region {
    let own: Vec<StopId> = removable_stops(corner)
        .into_iter()
        .filter(|s| s.pair().is_some_and(|(a, b)| a == part || b == part))
        .collect();
    let atlas = Atlas::build(corner);
    let guard = Guard::new(corner, &atlas, 1.0).without(&own);
    Region::map(&guard)
}

/// One triangle, or one point, as a surface in the frame's coordinates.
fn small(corners: &[V]) -> Surface {
    let kind = if corners.len() == 1 {
        ElementKind::Point
    } else {
        ElementKind::Triangle
    };
    let last = corners.len() as u32 - 1;
    let element = [0, 1.min(last), 2.min(last)];
    let none = V::zeros();
    Surface::new(
        Matrix3::identity(),
        none,
        corners.to_vec(),
        vec![element],
        kind,
        false,
    )
}

/// The gap of a small surface on the frame to a part of a corner at a position.
fn gap_at(corner: &Corner, part: usize, fixed: &Surface, alpha: f64, rack: f64) -> f64 {
    let position = corner.positioner.place(alpha, rack);
    let p = placement(&corner.parts[part], &position.linkage);
    let relative = Relative {
        rotation: p.rotation,
        offset: p.origin,
    };
    let shaft = corner.parts[part].body == Body::Halfshaft;
    let swell = if shaft {
        corner.orbit_mm(&position.linkage)
    } else {
        0.0
    };
    let walk = PairWalk {
        fixed,
        moving: &corner.parts[part].surface,
    };
    walk.gap(&relative, swell, f64::INFINITY, None).gap_mm
}

/// Movers of one side, as the map numbers them and as the corner does.
fn numbers(map: &ClearanceMap, corner: &Corner) -> Vec<(u32, usize)> {
    let own = map.movers.iter().enumerate();
    own.filter(|(_, m)| m.side == corner.side)
        .map(|(n, m)| {
            let part = corner.parts.iter().position(|p| p.name == m.part);
            (n as u32, part.expect("a part of the corner"))
        })
        .collect()
}

const WING: &str = r#"
    (name: "wing", on: frame, fitted: left, shape: Box(centre: (-120, 558, 299), size: (20, 50, 6))),
"#;

const GUARD: &str = r#"
    (name: "guard", on: frame, fitted: left, shape: Hull(points: [
        (-45, 420, 300), (40, 415, 305), (45, 590, 312), (-40, 590, 310),
        (-45, 420, 306), (40, 415, 311), (45, 590, 318), (-40, 590, 316)])),
"#;

/// At thousands of random positions of the free travel no face or corner has less room than reported, less the
/// tolerance; and the reported gap is there, at the reported travel and rack.
#[test]
fn brute_force_finds_no_lower_gap_and_the_reported_one_is_there() {
    let mut rng = dice::Dice::new(7);
    let mut tried = 0;
    let mut seen = 0;
    let mut closest = f64::INFINITY;
    for (part, drawn) in [("wing", WING), ("guard", GUARD)] {
        let (_folder, path) = planted("tarnwood.ron", drawn, "");
        let trucks = [load(&path).expect("a scene")];
        let map = mapped(&trucks, &options(part));
        assert_eq!(map.unproved_cells, 0);
        let corner = trucks[0].corner(Side::Left).expect("both built");
        let region = free_without(corner, part);
        let own = numbers(&map, corner);
        let whole = region.cell([[0, region.size()[0]], [0, region.size()[1]]]);
        let small_at = |i: usize| -> (Surface, Spot) {
            let faces = map.mesh.triangles.len();
            if i < faces {
                (small(&map.mesh.corners(i)), map.at_face[i])
            } else {
                (
                    small(&[map.mesh.points[i - faces]]),
                    map.at_point[i - faces],
                )
            }
        };
        let count = map.mesh.triangles.len() + map.mesh.points.len();
        for _ in 0..4_000 {
            let i = rng.below(count);
            let (fixed, spot) = small_at(i);
            let alpha = rng.between(whole.alpha[0], whole.alpha[1]);
            let rack = rng.between(whole.rack[0], whole.rack[1]);
            if !region.is_free_at(alpha, rack) {
                continue;
            }
            for (n, number) in &own {
                let gap = gap_at(corner, *number, &fixed, alpha, rack);
                let required = map.movers[*n as usize].required_mm.max(TOLERANCE_MM);
                if spot.to.is_some() {
                    let room = (gap - required) - spot.room_mm;
                    assert!(room >= -TOLERANCE_MM - 1.0e-6, "{part} {i}: {room}");
                    closest = closest.min(room);
                } else {
                    assert!(gap >= map.options.cutoff_mm - TOLERANCE_MM - 1.0e-6);
                }
                tried += 1;
            }
        }
        for i in (0..count).step_by(7) {
            let (fixed, spot) = small_at(i);
            let Some(to) = spot.to else {
                continue;
            };
            let (_, number) = own.iter().find(|(n, _)| *n == to).expect("the left side's");
            let position = corner
                .position(spot.travel_mm, spot.rack_mm)
                .expect("within reach");
            let gap = gap_at(corner, *number, &fixed, position.alpha, spot.rack_mm);
            // The least found may be another facet's than the nearest, by less than the tolerance.
            let over = spot.gap_mm - gap;
            assert!(
                (-1.0e-5..=TOLERANCE_MM).contains(&over),
                "{gap} {}",
                spot.gap_mm
            );
            seen += 1;
        }
    }
    assert!(tried > 20_000 && seen > 300, "{tried} {seen}");
    // The bound is not idle: some random position comes near the reported least.
    assert!(closest < 2.0, "{closest}");
    println!(
        "{tried} gaps at random positions, {seen} reported ones found again; nearest {closest:.4} mm"
    );
}

/// A ball on the lower arm above a plate on the frame.
const KNOB_AND_PLATE: &str = r#"
    (name: "knob", on: lower_arm, shape: Ball(centre: (60, 600, 220), radius: 11)),
    (name: "plate", on: frame, fitted: left, shape: Box(centre: (75, 585, 190), size: (110, 120, 8), turned_deg: (10, 5, 0))),
"#;

/// The least gap of a point to that ball: it runs on an arc about the arm's pivots, so this is the distance to the arc less
/// the radius.
fn gap_to_knob(corner: &Corner) -> impl Fn(&V) -> f64 + use<> {
    let knob = V::new(60.0, 600.0, 220.0);
    let radius = 11.0;
    let region = free_without(corner, "plate");
    let size = region.size();
    let covered = region.covered();
    let rows: Vec<usize> = (0..size[0])
        .filter(|i| (0..size[1]).any(|j| covered[i * size[1] + j]))
        .collect();
    let (first, last) = (rows[0], rows[rows.len() - 1]);
    let [low, high] = region.cell([[first, last + 1], [0, 1]]).alpha;
    let h = &corner.positioner.linkage.hardpoints;
    // The angle's sense: bump lifts the ball joint.
    let mut axis = (h.lower_front - h.lower_rear).normalize();
    if axis.cross(&(h.lower_ball - h.lower_rear)).z < 0.0 {
        axis = -axis;
    }
    let middle = h.lower_rear + axis * axis.dot(&(knob - h.lower_rear));
    let out = (knob - middle).normalize();
    let ahead = axis.cross(&out);
    let arm = (knob - middle).norm();
    move |p: &V| {
        let d = p - middle;
        let angle = d.dot(&ahead).atan2(d.dot(&out)).clamp(low, high);
        let nearest = middle + (out * angle.cos() + ahead * angle.sin()) * arm;
        ((p - nearest).norm() - radius).max(0.0)
    }
}

/// A check that can't fail proves nothing: with a tenth of the motion bound the map tells gaps that are too wide.
#[test]
fn too_small_a_motion_bound_is_caught() {
    let (_folder, path) = planted("tarnwood.ron", KNOB_AND_PLATE, "");
    let truck = load(&path).expect("a scene");
    let exact = gap_to_knob(truck.corner(Side::Left).expect("both built"));
    let mut asked = options("plate");
    asked.against = vec!["knob".to_owned()];
    asked.tolerance_mm = 0.01;
    let trucks = [truck];
    let too_wide = |factor| {
        let map = clearance_map_with_bound_factor(&trucks, &asked, factor).expect("a map");
        let points = map.mesh.points.iter().zip(&map.at_point);
        points
            .filter(|(p, spot)| {
                spot.gap_mm > exact(p).min(asked.cutoff_mm) + asked.tolerance_mm + 1.0e-6
            })
            .count()
    };
    assert_eq!(too_wide(1.0), 0);
    assert!(
        too_wide(0.1) > 0,
        "a wrong bound can't be told from a right one"
    );
}

#[test]
fn a_ball_on_an_arm_sweeps_a_piece_of_a_torus() {
    let (_folder, path) = planted("tarnwood.ron", KNOB_AND_PLATE, "");
    let truck = load(&path).expect("a scene");
    let exact = gap_to_knob(truck.corner(Side::Left).expect("both built"));
    let mut asked = options("plate");
    asked.against = vec!["knob".to_owned()];
    let trucks = [truck];
    let map = mapped(&trucks, &asked);
    let mut compared = 0;
    for (p, spot) in map.mesh.points.iter().zip(&map.at_point) {
        let exact = exact(p);
        if spot.to.is_none() {
            assert!(exact >= asked.cutoff_mm - TOLERANCE_MM, "{exact}");
            continue;
        }
        let over = spot.gap_mm - exact;
        assert!(
            (-1.0e-6..=TOLERANCE_MM + 1.0e-6).contains(&over),
            "{p:?}: {over}"
        );
        compared += 1;
    }
    assert!(compared > 200, "{compared}");
    for (t, spot) in map
        .at_face
        .iter()
        .enumerate()
        .filter(|(_, s)| s.to.is_some())
    {
        let corners = map.mesh.corners(t);
        // Sampled all over the face: never lower than reported by more than the tolerance.
        for i in 0..=6 {
            for j in 0..=6 - i {
                let (u, v) = (f64::from(i) / 6.0, f64::from(j) / 6.0);
                let p = corners[0] * (1.0 - u - v) + corners[1] * u + corners[2] * v;
                assert!(exact(&p) >= spot.gap_mm - TOLERANCE_MM - 1.0e-6);
            }
        }
    }
    // Each sheet's outlines go round all of the plate that is too near, not only round what its faces show of it, and reach
    // no further than they say.
    let marks = trim_marks(&map);
    assert!(marks.len() >= 2, "{}", marks.len());
    let mut rng = dice::Dice::new(11);
    let corners = &map.mesh.points;
    let too_near: Vec<V> = (0..60_000)
        .map(|_| {
            let [p, q] = [(); 2].map(|()| corners[rng.below(corners.len())]);
            p + (q - p) * rng.between(0.0, 1.0)
        })
        .filter(|p| exact(p) < TOLERANCE_MM - 1.0e-6)
        .collect();
    assert!(too_near.len() > 500, "{}", too_near.len());
    for mark in &marks {
        let lowest = mark.sheet.origin.dot(&mark.sheet.out) - mark.depth_mm;
        for p in &too_near {
            assert!(is_cut(mark, p), "{p:?} is left");
            assert!(p.dot(&mark.sheet.out) >= lowest - 1.0e-9);
        }
        for p in mark.outlines.iter().flat_map(|o| &o.points) {
            let [x, y] = mark.sheet.flat(p);
            let off = too_near.iter().map(|q| {
                let [u, v] = mark.sheet.flat(q);
                (u - x).hypot(v - y)
            });
            let off = off.fold(f64::INFINITY, f64::min);
            // Random places lie a little apart.
            assert!(
                off < mark.most_excess_mm + 1.5,
                "{off} {}",
                mark.most_excess_mm
            );
        }
    }
    // The arc goes through the plate: its violated area is that of the torus' cut, as sampled.
    let violated = map.patches.iter().filter(|p| p.violated);
    let area: f64 = violated.map(|p| p.area_mm2).sum();
    let mut sampled = 0.0;
    for t in 0..map.mesh.triangles.len() {
        let corners = map.mesh.corners(t);
        let share = map.mesh.area_normal(t).norm() / 100.0;
        for i in 0..10 {
            for j in 0..10 {
                let (mut u, mut v) = ((f64::from(i) + 0.5) / 10.0, (f64::from(j) + 0.5) / 10.0);
                if u + v > 1.0 {
                    (u, v) = (1.0 - u, 1.0 - v);
                }
                let p = corners[0] * (1.0 - u - v) + corners[1] * u + corners[2] * v;
                sampled += if exact(&p) < TOLERANCE_MM { share } else { 0.0 };
            }
        }
    }
    assert!(
        sampled > 100.0 && (area - sampled).abs() < 0.03 * sampled,
        "{area} {sampled}"
    );
}

/// A ball that passes whole through a block's upper face leaves nothing of it above where it ends: the cut isn't what a
/// corner of the block can be inside the ball, which is no more than its radius.
#[test]
fn the_cut_reaches_as_deep_as_what_passes_through() {
    let parts = r#"
        (name: "knob", on: lower_arm, shape: Ball(centre: (60, 600, 220), radius: 30)),
        (name: "plate", on: frame, fitted: left, shape: Box(centre: (60, 600, 180), size: (60, 60, 40))),
    "#;
    let (_folder, path) = planted("tarnwood.ron", parts, "");
    let trucks = [load(&path).expect("a scene")];
    let mut asked = options("plate");
    asked.against = vec!["knob".to_owned()];
    asked.with_overlaps = true;
    asked.required_mm = Some(4.0);
    let map = mapped(&trucks, &asked);
    let patch = map.patches.first().expect("a patch");
    assert!(patch.violated && patch.touched && !patch.cut_is_at_least);
    let upper = patch.sides.iter().find(|s| s.out.z > 0.99);
    let upper = upper.expect("the upper face is met").cut_mm;
    assert!((39.9..=40.0 + 1.0e-9).contains(&upper), "{upper}");
    // Through all of it, whichever way it is looked at: nothing of the block may stay on any side that is met.
    assert!(patch.sides.iter().all(|s| s.cut_mm <= 60.0 + 1.0e-9));
    assert!(patch.cut_mm >= upper, "{} {upper}", patch.cut_mm);
}

/// A mapped box after one of its sides went back.
fn box_part(low: V, high: V) -> String {
    let (c, s) = ((low + high) / 2.0, high - low);
    format!(
        r#"(name: "plate", on: frame, fitted: left, shape: Box(centre: ({}, {}, {}), size: ({}, {}, {}))),"#,
        c.x, c.y, c.z, s.x, s.y, s.z
    )
}

fn map_of_box(low: V, high: V, more: &str, against: &str, gap_mm: f64) -> ClearanceMap {
    let parts = format!("{more}{}", box_part(low, high));
    let (_folder, path) = planted("tarnwood.ron", &parts, "");
    let trucks = [load(&path).expect("a scene")];
    let mut asked = options("plate");
    asked.against = vec![against.to_owned()];
    asked.required_mm = Some(gap_mm);
    mapped(&trucks, &asked)
}

/// The tie rod's axis passes the forward edge of a plate by more than its radius. When that edge goes back by the reported
/// cut the plate is clear; by less it is not. What a corner of the plate can be inside the rod, its radius and the gap that
/// must remain, is not enough by far.
#[test]
fn an_edge_that_goes_back_by_the_reported_cut_is_clear() {
    let (gap, radius) = (5.0, 9.0);
    let (low, high) = (V::new(-200.0, 540.0, 325.0), V::new(-122.0, 580.0, 331.0));
    let map = map_of_box(low, high, "", "tie rod", gap);
    let patch = map.patches.first().expect("a patch");
    assert!(patch.violated && patch.touched && !patch.cut_is_at_least);
    let edge = patch.sides.iter().find(|s| s.out.x > 0.99);
    let edge = edge.expect("the forward edge is met").cut_mm;
    assert!(edge > gap + radius + 5.0, "{edge}");
    // The rod runs through from end to end and from face to face: those sides would take all of the plate.
    assert_eq!(patch.cut_mm, edge);
    let after = |by: f64| {
        let back = V::new(high.x - by, high.y, high.z);
        let map = map_of_box(low, back, "", "tie rod", gap);
        let violated = map.patches.iter().any(|p| p.violated);
        assert_eq!(map.unproved_cells, 0);
        violated
    };
    assert!(!after(patch.cut_mm));
    assert!(!after(edge));
    // Not much is cut in vain: the map's tolerance, and cubes of a sixteenth.
    assert!(after(edge - 0.5), "{edge}");
    assert!(after(gap + radius));
}

/// A ball of 22 mm runs edgewise into a plate 24 mm thick, midway between its faces, and must keep 3 mm away: each face is
/// too near over sqrt(14^2 - 12^2) = 7.2 mm to either side of its way, the middle over 14 mm. The sheets show the middle.
#[test]
fn sheets_of_a_thick_plate_show_its_middle() {
    let knob = r#"(name: "knob", on: lower_arm, shape: Ball(centre: (60, 600, 220), radius: 11)),"#;
    let (low, high) = (V::new(48.0, 540.0, 150.0), V::new(72.0, 660.0, 190.0));
    let map = map_of_box(low, high, knob, "knob", 3.0);
    let marks = trim_marks(&map);
    let faces: Vec<_> = marks
        .iter()
        .filter(|m| m.sheet.out.x.abs() > 0.99)
        .collect();
    assert!(faces.len() >= 2, "{}", faces.len());
    let exact = {
        let (_folder, path) = planted(
            "tarnwood.ron",
            &format!("{knob}{}", box_part(low, high)),
            "",
        );
        gap_to_knob(
            load(&path)
                .expect("a scene")
                .corner(Side::Left)
                .expect("both built"),
        )
    };
    for mark in faces {
        let mut middle_only = 0;
        for i in 0..=120 {
            for j in 0..=40 {
                let at = |x| V::new(x, 540.0 + f64::from(i), 150.0 + f64::from(j));
                let (middle, face) = (exact(&at(60.0)) < 3.0, exact(&at(48.0)) < 3.0);
                if middle {
                    assert!(is_cut(mark, &at(60.0)));
                }
                middle_only += usize::from(middle && !face);
            }
        }
        assert!(middle_only > 100, "{middle_only}");
    }
}

/// Whether a place goes with a cut along a sheet's outlines.
fn is_cut(mark: &TrimMark, p: &V) -> bool {
    let [x, y] = mark.sheet.flat(p);
    let mut inside = false;
    for outline in &mark.outlines {
        assert!(outline.closed);
        let flat: Vec<[f64; 2]> = outline.points.iter().map(|p| mark.sheet.flat(p)).collect();
        for (i, a) in flat.iter().enumerate() {
            let b = flat[(i + 1) % flat.len()];
            if (a[1] > y) != (b[1] > y) && x < a[0] + (y - a[1]) / (b[1] - a[1]) * (b[0] - a[0]) {
                inside = !inside;
            }
        }
    }
    inside
}

/// A wing below the tie rod is met near full droop at one lock only; at the other, and in bump, it is clear. The outline
/// is where brute force over that corner of the travel says.
#[test]
fn a_wing_met_near_full_droop_at_one_lock_gets_its_outline() {
    let (_folder, path) = planted("tarnwood.ron", WING, "");
    let trucks = [load(&path).expect("a scene")];
    let mut asked = options("wing");
    asked.required_mm = Some(5.0);
    asked.against = vec!["tie rod".to_owned()];
    let map = mapped(&trucks, &asked);
    let patch = map.patches.first().expect("a patch");
    assert!(patch.violated, "{:?}", patch.tightest);
    let spot = patch.tightest.spot;
    assert!(spot.travel_mm < -75.0 && spot.rack_mm < -40.0, "{spot:?}");
    assert!(patch.tightest.steer_deg > 20.0, "{:?}", patch.tightest);
    assert!(patch.touched && patch.cut_mm > 5.0 && !patch.cut_is_at_least);
    let corner = trucks[0].corner(Side::Left).expect("both built");
    let region = free_without(corner, "wing");
    let rod = corner.parts.iter().position(|p| p.name == "tie rod");
    let rod = rod.expect("a tie rod");
    // Least gap by a dense grid over the whole free travel.
    let whole = region.cell([[0, region.size()[0]], [0, region.size()[1]]]);
    let mut free = Vec::new();
    for i in 0..=600 {
        for j in 0..=120 {
            let [a, r] = [(i, 600, whole.alpha), (j, 120, whole.rack)]
                .map(|(k, n, e)| e[0] + (e[1] - e[0]) * f64::from(k) / f64::from(n));
            if region.is_free_at(a, r) {
                free.push((a, r));
            }
        }
    }
    let brute = |p: &V, racks: [f64; 2]| {
        let fixed = small(&[*p]);
        let gaps = free
            .iter()
            .filter(|(_, r)| (racks[0]..=racks[1]).contains(r))
            .map(|(a, r)| gap_at(corner, rod, &fixed, *a, *r));
        gaps.fold(f64::INFINITY, f64::min)
    };
    // At the other lock it is clear.
    for p in map.mesh.points.iter().step_by(9) {
        assert!(brute(p, [50.0, 75.0]) > 5.0);
    }
    let marks = trim_marks(&map);
    let points: Vec<&V> = marks
        .iter()
        .flat_map(|m| &m.outlines)
        .flat_map(|o| &o.points)
        .collect();
    assert!(points.len() > 8, "{}", points.len());
    // What grid positions come too near to is cut, on every sheet. Where an outline crosses the wing it is no further out
    // than it says; the map counts squares on the free travel's edge as reached, which the grid doesn't: a millimetre.
    for (n, p) in map.mesh.points.iter().enumerate() {
        if n % 17 == 0 && brute(p, whole.rack) < 4.9 {
            assert!(marks.iter().all(|m| is_cut(m, p)), "{p:?} is left");
        }
    }
    // Of the thin way's sheets: somewhere below an outline something comes that near.
    for mark in marks.iter().filter(|m| m.sheet.out.z.abs() > 0.99) {
        let points: Vec<&V> = mark.outlines.iter().flat_map(|o| &o.points).collect();
        for p in points.iter().step_by(points.len().div_ceil(6)) {
            let gap = (0..=4)
                .map(|i| brute(&(*p - mark.sheet.out * (1.5 * f64::from(i))), whole.rack))
                .fold(f64::INFINITY, f64::min);
            assert!(gap < 5.0 + mark.most_excess_mm + 1.5, "{p:?}: {gap}");
        }
    }
    for mark in &marks {
        assert!(
            mark.off_plane_mm < 0.01,
            "a box's sides are flat: {}",
            mark.off_plane_mm
        );
        for edge in &mark.part_edges {
            assert!(edge.closed && (12.0..145.0).contains(&edge.length_mm()));
        }
    }
}

/// Where one corner is built for both, a part is mapped against the mirror image too: a copy on the other side has the
/// mirrored map.
#[test]
fn the_other_side_of_a_mirrored_truck_is_mapped_too() {
    let own = r#"(name: "tab", on: frame, shape: Box(centre: (-4.8, -15, 8.9), size: (1.4, 1.6, 0.25))),"#;
    let across =
        r#"(name: "tab", on: frame, shape: Box(centre: (-4.8, 15, 8.9), size: (1.4, 1.6, 0.25))),"#;
    let tight = [own, across].map(|part| {
        let (_folder, path) = planted("crake.ron", part, "");
        let trucks = [load(&path).expect("a scene")];
        assert_eq!(trucks[0].corners.len(), 1);
        let map = mapped(&trucks, &options("tab"));
        assert_eq!(map.sides, [Side::Left, Side::Right]);
        let place = map.tightest.expect("something comes near");
        let mover = &map.movers[place.spot.to.expect("a mover") as usize];
        (place, mover.clone())
    });
    let [(own, by), (across, by_other)] = tight;
    assert_eq!(by.part, by_other.part);
    assert_eq!([by.side, by_other.side], [Side::Right, Side::Left]);
    assert!((own.spot.gap_mm - across.spot.gap_mm).abs() < TOLERANCE_MM);
    assert!(own.at.y < 0.0 && across.at.y > 0.0);
}

/// A part on an arm is mapped against the frame and the other bodies, in its own coordinates.
#[test]
fn a_part_on_an_arm_meets_the_frame() {
    let parts =
        r#"(name: "tab", on: lower_arm, shape: Box(centre: (60, 470, 345), size: (20, 20, 12))),"#;
    let (_folder, path) = planted("tarnwood.ron", parts, "");
    let trucks = [load(&path).expect("a scene")];
    let map = mapped(&trucks, &options("tab"));
    assert_eq!(map.sides, [Side::Left]);
    let on_frame = map.movers.iter().any(|m| m.part == "frame rail");
    assert!(on_frame && map.movers.iter().all(|m| !m.part.starts_with("lower arm")));
    // At the measured position the tab's gaps are no lower than the map's.
    let corner = trucks[0].corner(Side::Left).expect("both built");
    let by_name = |name: &str| corner.parts.iter().position(|p| p.name == name);
    for (mover, place) in map.movers.iter().zip(&map.nearest) {
        let number = by_name(&mover.part).expect("a part");
        let tab = by_name("tab").expect("the tab");
        let walk = PairWalk {
            fixed: &corner.parts[tab].surface,
            moving: &corner.parts[number].surface,
        };
        let here = corner.positioner.place(0.0, 0.0).linkage;
        let [f, m] = [tab, number].map(|i| placement(&corner.parts[i], &here));
        let relative = Relative {
            rotation: f.rotation.tr_mul(&m.rotation),
            offset: f.rotation.tr_mul(&(m.origin - f.origin)),
        };
        let gap = walk.gap(&relative, 0.0, f64::INFINITY, None).gap_mm;
        let least = place.as_ref().map_or(50.0, |p| p.spot.gap_mm);
        assert!(gap >= least - TOLERANCE_MM, "{}: {gap} {least}", mover.part);
    }
}

/// A watched part that collides would stop the wheel: its own stops are left out, so the map sees past them.
#[test]
fn the_parts_own_stops_do_not_shorten_the_travel() {
    let watch = r#"(a: "wing", b: "*", gap: 2),"#;
    let (_folder, path) = planted("tarnwood.ron", WING, watch);
    let (_other, plain) = planted("tarnwood.ron", WING, "");
    let [watched, plain] = [path, plain].map(|path| {
        let trucks = [load(&path).expect("a scene")];
        let mut asked = options("wing");
        asked.required_mm = Some(2.0);
        mapped(&trucks, &asked)
    });
    let least = |map: &ClearanceMap| -> Vec<(String, f64)> {
        let both = map.movers.iter().zip(&map.nearest);
        let mut out: Vec<(String, f64)> = both
            .filter_map(|(m, p)| {
                let place = p.as_ref()?;
                Some((format!("{} {:?}", m.part, m.side), place.spot.gap_mm))
            })
            .collect();
        out.sort_by(|a, b| a.0.cmp(&b.0));
        out
    };
    let (a, b) = (least(&watched), least(&plain));
    assert_eq!(a.len(), b.len());
    for ((name, x), (_, y)) in a.iter().zip(&b) {
        assert!((x - y).abs() <= TOLERANCE_MM, "{name}: {x} {y}");
    }
}

/// Over several setups the map holds the least of all, and says in which.
#[test]
fn a_map_over_setups_is_the_least_of_each() {
    let (_folder, path) = planted("tarnwood.ron", WING, "");
    let names = [
        None,
        Some("long damper, lift arm"),
        Some("differential spacers"),
    ];
    let trucks: Vec<Truck> = names
        .iter()
        .map(|n| load_setup(&path, *n).expect("a setup"))
        .collect();
    let mut asked = options("wing");
    asked.against = vec!["tie rod".to_owned(), "lower arm*".to_owned()];
    let all = mapped(&trucks, &asked);
    let least = |map: &ClearanceMap| map.tightest.expect("near").spot.room_mm;
    let single: Vec<f64> = trucks
        .iter()
        .map(|t| least(&mapped(std::slice::from_ref(t), &asked)))
        .collect();
    let lowest = single.iter().copied().fold(f64::INFINITY, f64::min);
    assert!(
        (least(&all) - lowest).abs() <= TOLERANCE_MM,
        "{single:?} {}",
        least(&all)
    );
    assert_eq!(all.setups.len(), 3);
    // A skid plate that goes down with the differential is the same part elsewhere.
    let skid = mapped(&trucks, &options("skid plate"));
    assert!(
        skid.movers
            .iter()
            .any(|m| m.setup.as_deref() == Some("differential spacers"))
    );
}

#[test]
fn any_number_of_threads_gives_the_same_map() {
    let (_folder, path) = planted("tarnwood.ron", WING, "");
    let trucks = [load(&path).expect("a scene")];
    let maps = [1, 3].map(|threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
        pool.expect("threads")
            .install(|| mapped(&trucks, &options("wing")))
    });
    assert_eq!(maps[0].mesh.triangles, maps[1].mesh.triangles);
    assert_eq!(maps[0].at_point, maps[1].at_point);
    assert_eq!(maps[0].at_face, maps[1].at_face);
    assert_eq!(maps[0].line, maps[1].line);
}

fn run(arguments: &[&str]) -> (i32, String, String) {
    let output = cargo_bin_cmd!("bindpoint")
        .args(arguments)
        .env("NO_COLOR", "1")
        .output()
        .expect("bindpoint starts");
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    let said = text(&output.stderr);
    assert!(!said.contains("panicked"), "{said}");
    (
        output.status.code().unwrap_or(-1),
        text(&output.stdout),
        said,
    )
}

fn written(path: &Path) -> String {
    path.display().to_string()
}

/// Every file is read back: the map with as many corners and faces as the findings say, the outlines as long.
#[test]
fn files_are_read_back() {
    let (folder, scene) = planted("tarnwood.ron", WING, "");
    let at = |name: &str| written(&folder.path().join(name));
    let (scene, ply, glb) = (written(&scene), at("map.ply"), at("map.glb"));
    let (dxf, svg, trim, json) = (at("trim.dxf"), at("trim.svg"), at("trim.glb"), at("f.json"));
    let arguments = [
        "clearance",
        &scene,
        "--part",
        "wing",
        "--gap",
        "5",
        "--out",
        &ply,
        "--trim",
        &dxf,
        "--trim",
        &svg,
        "--trim",
        &trim,
        "--json",
        &json,
    ];
    let (code, said, _) = run(&arguments);
    assert_eq!(code, 1, "{said}");
    assert!(said.contains("more than 0.1 mm"), "{said}");
    let (code, _, _) = run(&[
        "clearance",
        &scene,
        "--part",
        "wing",
        "--gap",
        "5",
        "--out",
        &glb,
    ]);
    assert_eq!(code, 1);
    let found: serde_json::Value =
        serde_json::from_str(&std::fs::read_to_string(&json).expect("json")).expect("JSON");
    let count = |key: &str| found[key].as_u64().expect("a number") as usize;
    let (vertices, faces) = (count("vertices"), count("faces"));

    // PLY: the head's counts and the file's length agree.
    let bytes = std::fs::read(&ply).expect("ply");
    let end = b"end_header\n";
    let body = bytes
        .windows(end.len())
        .position(|w| w == end)
        .expect("a head")
        + end.len();
    let head = String::from_utf8_lossy(&bytes[..body]);
    assert!(head.starts_with("ply\nformat binary_little_endian 1.0\n"));
    assert!(head.contains(&format!("element vertex {vertices}\n")));
    assert!(head.contains(&format!("element face {faces}\n")));
    let spot = 3 + 4 * 4 + 4;
    assert_eq!(
        bytes.len() - body,
        vertices * (12 + spot) + faces * (13 + spot)
    );

    // glTF: as the crate `gltf` reads it.
    let read = |path: &str| gltf::Gltf::open(path).expect("glTF");
    let map = read(&glb);
    let blob = map.blob.clone().expect("a binary chunk");
    let mesh = map.meshes().next().expect("a mesh");
    assert_eq!(mesh.name(), Some("wing"));
    let primitive = mesh.primitives().next().expect("a primitive");
    let reader = primitive.reader(|_| Some(&blob));
    let points: Vec<[f32; 3]> = reader.read_positions().expect("positions").collect();
    // Corners are repeated where creases give them several normals.
    let places: BTreeSet<[u32; 3]> = points.iter().map(|p| p.map(f32::to_bits)).collect();
    assert_eq!(places.len(), vertices);
    // y to x, z to y, x to z, in metres: the wing's box.
    assert!(points.iter().all(|[y, z, x]| {
        (0.532..0.584).contains(y) && (0.295..0.303).contains(z) && (-0.131..-0.109).contains(x)
    }));
    let indices: Vec<u32> = reader.read_indices().expect("indices").into_u32().collect();
    assert_eq!(indices.len(), 3 * faces);
    assert!(reader.read_colors(0).is_some());
    let marks = read(&trim);
    assert!(marks.nodes().count() > 0);

    // DXF: pairs of lines; each polyline of the outline has its corners.
    let text = std::fs::read_to_string(&dxf).expect("dxf");
    let lines: Vec<&str> = text.lines().collect();
    let pairs: Vec<(i32, &str)> = lines
        .chunks(2)
        .map(|p| (p[0].trim().parse().expect("a group code"), p[1]))
        .collect();
    assert_eq!(pairs.last(), Some(&(0, "EOF")));
    let starts = |name: &str| pairs.iter().filter(|p| **p == (0, name)).count();
    assert_eq!(starts("POLYLINE"), starts("SEQEND"));
    assert!(starts("POLYLINE") >= 2 && starts("VERTEX") > 10);
    let mut length = 0.0;
    let mut last: Option<[f64; 2]> = None;
    for at in 0..pairs.len() {
        match pairs[at] {
            (0, "POLYLINE") => last = None,
            (0, "VERTEX") if pairs[at + 1].1 == "TRIM" => {
                let number = |n: usize| pairs[at + n].1.parse::<f64>().expect("a number");
                let p = [number(2), number(3)];
                if let Some(before) = last {
                    length += (p[0] - before[0]).hypot(p[1] - before[1]);
                }
                last = Some(p);
            }
            _ => {}
        }
    }
    let outlines = found["patches"].as_array().expect("patches");
    let told: f64 = outlines
        .iter()
        .filter_map(|p| p["outline_mm"].as_f64())
        .sum();
    // Closed outlines have one piece more than is summed here.
    assert!(
        length > 0.5 * told && length <= told + 0.1,
        "{length} {told}"
    );

    // SVG: full size in mm, with its bar.
    let text = std::fs::read_to_string(&svg).expect("svg");
    assert!(text.contains("scale-bar") && text.contains("mm\" viewBox"));
    let names: BTreeSet<&str> = ["class=\"trim\"", "class=\"part-edge\""].into();
    assert!(names.iter().all(|n| text.contains(n)));
}

/// Where no gap is missing the drawings say so, at a size that can be opened; no length is told as minus nothing.
#[test]
fn with_nothing_to_cut_the_sheets_say_so() {
    let (folder, scene) = planted("tarnwood.ron", WING, "");
    let at = |name: &str| written(&folder.path().join(name));
    let (scene, svg, dxf, json) = (
        written(&scene),
        at("none.svg"),
        at("none.dxf"),
        at("f.json"),
    );
    let (code, said, _) = run(&[
        "clearance",
        &scene,
        "--part",
        "wing",
        "--against",
        "lower arm rear leg",
        "--gap",
        "1",
        "--trim",
        &svg,
        "--trim",
        &dxf,
        "--json",
        &json,
    ]);
    assert_eq!(code, 0, "{said}");
    for path in [&svg, &dxf] {
        let text = std::fs::read_to_string(path).expect("written");
        assert!(text.contains("nothing to cut"), "{path}");
    }
    let text = std::fs::read_to_string(&svg).expect("svg");
    let height = text.split("height=\"").nth(1).expect("a height");
    let height: f64 = height
        .split("mm")
        .next()
        .and_then(|h| h.parse().ok())
        .expect("mm");
    assert!(height > 20.0, "{height}");
    let text = std::fs::read_to_string(&json).expect("json");
    assert!(
        text.contains("\"outline_mm\": 0.0") && !text.contains("-0.0,"),
        "{text}"
    );
}

#[test]
fn what_cannot_be_mapped_is_told() {
    let (_folder, scene) = planted("tarnwood.ron", WING, "");
    let scene = written(&scene);
    let crake = written(&PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("scenes/crake.ron"));
    let cases: [(&[&str], &str); 9] = [
        (&["--part", "wings"], "no part is named `wings`"),
        (
            &["--part", "wing", "--against", "frame*"],
            "names no part that may come near it",
        ),
        (&["--part", "wing", "--out", "map.obj"], ".ply or .glb"),
        (
            &["--part", "wing", "--trim", "map.ply"],
            ".dxf or .svg or .glb",
        ),
        (
            &["--part", "wing", "--tolerance", "0"],
            "the tolerance must be above zero",
        ),
        (&["--part", "wing", "--gap=-1"], "a gap can't be below zero"),
        (
            &["--part", "wing", "--gap", "60"],
            "the cutoff must be more than the required gap",
        ),
        (&["--part", "wing", "--setup", "none such"], "none such"),
        (
            &["--part", "wing", "--out", "/nowhere/at/all.ply"],
            "cannot write",
        ),
    ];
    for (arguments, words) in cases {
        let all = [&["clearance", &scene][..], arguments].concat();
        let (code, _, said) = run(&all);
        assert_eq!(code, 2, "{arguments:?}");
        let plain: Vec<&str> = said
            .split(['│', ' ', '\n'])
            .filter(|w| !w.is_empty())
            .collect();
        let plain = plain.join(" ");
        assert!(plain.contains(words), "{arguments:?}: {plain}");
    }
    let (code, _, said) = run(&[
        "clearance",
        &crake,
        "--part",
        "frame rail",
        "--side",
        "left",
    ]);
    assert_eq!(code, 2);
    assert!(said.contains("mirror image"), "{said}");
    let cancelled = clearance_map(
        &[load(Path::new(&scene)).expect("a scene")],
        &options("wing"),
        &|_, share| share < 0.3,
    );
    assert_eq!(cancelled.err(), Some(ClearanceError::Cancelled));
}
