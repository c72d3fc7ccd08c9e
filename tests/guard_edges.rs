//! Hits planted where a sweep is weakest: beside the end of reach, at the locks, on the other side of the
//! measured height, on the other corner, inside another part. None may be called free.
//!
//! Each hit is a ball on the knuckle and an equal one on the frame that meet at one place only, so the
//! true gap there is known by construction: minus two radii.

use bindpoint::findings::{CornerFindings, TravelDirection};
use bindpoint::scene::{
    Fitted, LeftRight, MeshUnit, PartEntry, Plunge, Point, Scene, Search, ShapeEntry, Watch,
    scene_from_text,
};
use bindpoint::shapes::write_stl;
use bindpoint::suspension::{Body, Side};
use bindpoint::sweep::{SweepOptions, sweep_corner};
use bindpoint::truck::{Corner, Truck, assemble};
use nalgebra::Vector3;
use std::path::Path;

const RADIUS: f64 = 1.0;

/// The demo truck with nothing in the way and wide limits, so that it runs to its end of reach.
fn loose() -> Scene {
    let path = Path::new("scenes/tarnwood.ron");
    let text = std::fs::read_to_string(path).expect("demo scene");
    let mut s = scene_from_text(&text, path).expect("demo scene reads");
    s.parts.clear();
    s.watch.clear();
    s.joined.clear();
    s.underbody.clear();
    s.hoses.clear();
    s.ball_joints = Default::default();
    s.damper.extended = 2000.0;
    s.damper.compressed = 1.0;
    s.damper.bump_stop = None;
    s.halfshaft.plunge = Plunge {
        inner: -400.0,
        outer: 400.0,
    };
    s.halfshaft.plunge_polygon.clear();
    s.halfshaft.inner_limit_deg = 79.9;
    s.halfshaft.outer_limit_deg = 79.9;
    s.search = Some(Search {
        droop: 400.0,
        bump: 300.0,
    });
    s
}

fn build(s: &Scene) -> Truck {
    assemble(s, Path::new("scenes")).expect("scene")
}

fn corner(s: &Scene) -> Corner {
    build(s).corners.remove(0)
}

fn sweep(c: &Corner) -> CornerFindings {
    sweep_corner(c, &SweepOptions::default(), &|_, _| {})
}

/// A knuckle ball and a frame ball that meet at one travel and rack. Returns where the frame ball is.
fn plant(s: &mut Scene, n: usize, travel: f64, rack: f64) {
    let mut bare = s.clone();
    bare.parts.clear();
    bare.watch.clear();
    let own = Vector3::new(-340.0, 815.0, 400.0);
    let at = corner(&bare)
        .position(travel, rack)
        .expect("within reach")
        .linkage
        .knuckle
        .point(&own);
    for (name, on, p) in [("k", Body::Knuckle, own), ("f", Body::Frame, at)] {
        s.parts.push(PartEntry {
            name: format!("{name}{n}"),
            on,
            shape: ShapeEntry::Ball {
                centre: Point(p.x, p.y, p.z),
                radius: RADIUS,
            },
            fitted: Fitted::EachSide,
            hangs_from: Default::default(),
        });
    }
    s.watch.push(Watch {
        a: format!("k{n}"),
        b: format!("f{n}"),
        gap: 0.0,
        came_with: None,
    });
}

/// Nothing that was found may call the planted position free.
fn assert_not_called_free(f: &CornerFindings, travel: f64, rack: f64) {
    let direction = usize::from(travel > 0.0);
    let way = TravelDirection::BOTH[direction];
    let size = travel.abs();
    let record = f.first_contacts.iter().find(|c| c.direction == way);
    match (record, f.no_contact_to_mm[direction]) {
        (Some(c), _) => assert!(
            c.travel_interval_mm[0].abs() <= size,
            "proved free to {:?}, but it touches at {travel}",
            c.travel_interval_mm
        ),
        (None, Some(to)) => assert!(to.abs() <= size, "no contact to {to}, hit at {travel}"),
        (None, None) => assert!(
            !f.undecided.is_empty(),
            "neither found, searched nor undecided"
        ),
    }
    for row in f
        .free_travel
        .iter()
        .filter(|r| (r.rack_mm - rack).abs() < 1.0e-9)
    {
        let free = [row.droop_mm, row.bump_mm][direction];
        assert!(
            free <= size,
            "free travel {free} at rack {rack}, hit at {travel}"
        );
    }
}

#[test]
fn a_hit_just_before_the_end_of_reach_is_not_called_free() {
    let mut s = loose();
    plant(&mut s, 0, -252.0, -37.5);
    assert_not_called_free(&sweep(&corner(&s)), -252.0, -37.5);
}

#[test]
fn a_hit_between_rack_lines_beyond_the_shortest_line_is_not_called_free() {
    let mut s = loose();
    plant(&mut s, 0, -240.0, -46.9);
    assert_not_called_free(&sweep(&corner(&s)), -240.0, -46.9);
}

#[test]
fn a_hit_at_the_lock_counts_though_another_comes_first_straight_ahead() {
    let mut s = loose();
    plant(&mut s, 0, 299.5, 0.0);
    plant(&mut s, 1, 297.0, -75.0);
    let f = sweep(&corner(&s));
    assert_not_called_free(&f, 299.5, 0.0);
    assert_not_called_free(&f, 297.0, -75.0);
}

/// At the lock the wheel stands higher or lower than measured with the arm unmoved; travel's sign, not the
/// arm's, says whether it is droop.
#[test]
fn a_hit_in_droop_with_the_arm_turned_up_counts_as_droop() {
    let mut s = loose();
    plant(&mut s, 0, -50.0, 0.0);
    plant(&mut s, 1, -3.0, -75.0);
    let c = corner(&s);
    let alpha = c.position(-3.0, -75.0).expect("within reach").alpha;
    assert!(alpha > 0.0, "the case needs the arm turned up: {alpha}");
    let f = sweep(&c);
    assert_not_called_free(&f, -3.0, -75.0);
    let droop = f
        .first_contacts
        .iter()
        .find(|c| c.direction == TravelDirection::Droop)
        .expect("a contact in droop");
    assert!(
        droop.travel_mm < 0.0 && droop.travel_mm > -10.0,
        "{}",
        droop.travel_mm
    );
}

#[test]
fn uneven_locks_make_both_corners_count() {
    let mut s = loose();
    s.rack.travel = LeftRight {
        left: 75.0,
        right: 40.0,
    };
    plant(&mut s, 0, -15.0, 38.0);
    let truck = build(&s);
    assert!(truck.corner(Side::Left).is_some() && truck.corner(Side::Right).is_some());
}

/// Seven rack positions of a lock whose thirds don't add up again in floating point.
#[test]
fn every_listed_rack_position_lies_within_the_locks() {
    let mut s = loose();
    let lock = 2.34 * 25.4;
    s.rack.travel = LeftRight {
        left: lock,
        right: lock,
    };
    plant(&mut s, 0, -100.0, 0.0);
    let c = corner(&s);
    let options = SweepOptions {
        rack_positions: 7,
        ..Default::default()
    };
    let f = sweep_corner(&c, &options, &|_, _| {});
    for row in &f.free_travel {
        assert!(row.rack_mm.abs() <= lock);
        assert!(
            row.bump_mm > 100.0,
            "rack {}: bump {}",
            row.rack_mm,
            row.bump_mm
        );
    }
}

fn cube(middle: Vector3<f64>, size: f64) -> Vec<[Vector3<f64>; 3]> {
    let corner = |i: usize| {
        let sign = |bit: usize| if i & bit == 0 { -0.5 } else { 0.5 };
        middle + Vector3::new(sign(1), sign(2), sign(4)) * size
    };
    [
        [0, 4, 6, 2],
        [1, 3, 7, 5],
        [0, 1, 5, 4],
        [2, 6, 7, 3],
        [0, 2, 3, 1],
        [4, 5, 7, 6],
    ]
    .iter()
    .flat_map(|q| [[q[0], q[1], q[2]], [q[0], q[2], q[3]]])
    .map(|t| t.map(corner))
    .collect()
}

/// Overlaps found with a cube on the knuckle that sits inside a large one on the frame.
fn overlaps(outer: &[[Vector3<f64>; 3]], inner: &[[Vector3<f64>; 3]]) -> usize {
    let folder = tempfile::tempdir().expect("a folder");
    let mut s = loose();
    for (name, on, triangles) in [
        ("outer", Body::Frame, outer),
        ("inner", Body::Knuckle, inner),
    ] {
        write_stl(
            &folder.path().join(format!("{name}.stl")),
            triangles.iter().copied(),
        )
        .expect("written");
        s.parts.push(PartEntry {
            name: name.into(),
            on,
            shape: ShapeEntry::Mesh {
                file: format!("{name}.stl"),
                unit: Some(MeshUnit::Mm),
                at: None,
                turned_deg: None,
                holes: None,
            },
            fitted: Fitted::EachSide,
            hangs_from: Default::default(),
        });
    }
    s.watch.push(Watch {
        a: "outer".into(),
        b: "inner".into(),
        gap: 0.0,
        came_with: None,
    });
    let truck = assemble(&s, folder.path()).expect("scene");
    truck.corners[0].overlaps.len()
}

#[test]
fn a_part_inside_another_is_an_overlap_however_the_mesh_is_made() {
    let middle = Vector3::new(0.0, 760.0, 400.0);
    let (outer, inner) = (cube(middle, 1400.0), cube(middle, 10.0));
    assert_eq!(overlaps(&outer, &inner), 1, "plain");
    let inside_out: Vec<_> = outer.iter().map(|t| [t[0], t[2], t[1]]).collect();
    assert_eq!(overlaps(&inside_out, &inner), 1, "facets turned inside out");
    assert_eq!(overlaps(&outer[..11], &inner), 1, "one facet missing");
    let mut two = cube(middle + Vector3::new(3000.0, 0.0, 0.0), 10.0);
    two.extend(&inner);
    assert_eq!(overlaps(&outer, &two), 1, "two shells, the first outside");
}

/// Cells beside the end of reach have no travel to their name and must not swell the shares.
#[test]
fn shares_count_no_area_beyond_the_end_of_reach() {
    let mut s = loose();
    plant(&mut s, 0, -100.0, 0.0);
    let shares = sweep(&corner(&s)).map.shares;
    assert!(shares.undecided < 0.05, "{shares:?}");
}
