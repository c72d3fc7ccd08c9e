//! The keep-out solid: it holds every position, exceeds them by no more than it says, and is closed.
//!
//! Sources: volume of a tube about an arc (Pappus and Guldin) with round ends, derived; dense random positions of the
//! linkage; distances of the solid's corners to the parts, position by position.

mod table;

use bindpoint::scene::{Fitted, HangsFrom, PartEntry, Point, Scene, ShapeEntry, scene_from_text};
use bindpoint::shapes::{ElementKind, Surface};
use bindpoint::space::{KeepOut, KeepOutError, KeepOutOptions, NearestPlace, PoseTree, keep_out};
use bindpoint::suspension::{Body, Motion};
use bindpoint::sweep::free_travel::Region;
use bindpoint::sweep::rate_atlas::Atlas;
use bindpoint::sweep::stops::Guard;
use bindpoint::truck::{Corner, assemble};
use nalgebra::{Matrix3, Vector3};
use std::collections::HashMap;
use std::path::PathBuf;
use table::Table;

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("scenes")
}

fn corner(name: &str, change: impl FnOnce(&mut Scene)) -> Corner {
    let path = folder().join(format!("{name}.ron"));
    let text = std::fs::read_to_string(&path).expect("a demo scene");
    let mut scene = scene_from_text(&text, &path).expect("it reads");
    change(&mut scene);
    let truck = assemble(&scene, &folder()).unwrap_or_else(|p| panic!("{p:?}"));
    truck.corners.into_iter().next().expect("a corner")
}

fn region(corner: &Corner) -> Region {
    let atlas = Atlas::build(corner);
    Region::map(&Guard::new(corner, &atlas, 1.0))
}

fn part(corner: &Corner, name: &str) -> usize {
    let found = corner.parts.iter().position(|p| p.name == name);
    found.unwrap_or_else(|| panic!("no part `{name}`"))
}

/// A fixed sequence of numbers from zero to one.
fn dice(mut seed: u64) -> impl FnMut() -> f64 {
    move || {
        seed ^= seed << 13;
        seed ^= seed >> 7;
        seed ^= seed << 17;
        (seed >> 11) as f64 / (1_u64 << 53) as f64
    }
}

fn positions(region: &Region, count: usize, seed: u64) -> Vec<(f64, f64)> {
    let mut unit = dice(seed);
    let high = region.size().map(|n| n - 1);
    let ends = [
        region.cell([[0, 1], [0, 1]]),
        region.cell([[high[0], high[0] + 1], [high[1], high[1] + 1]]),
    ];
    let mut out = Vec::new();
    while out.len() < count {
        let mix = |a: f64, b: f64, t: f64| a + (b - a) * t;
        let alpha = mix(ends[0].alpha[0], ends[1].alpha[1], unit());
        let rack = mix(ends[0].rack[0], ends[1].rack[1], unit());
        if region.is_free_at(alpha, rack) {
            out.push((alpha, rack));
        }
    }
    out
}

fn as_surface(solid: &KeepOut) -> Surface {
    Surface::new(
        Matrix3::identity(),
        Vector3::zeros(),
        solid.vertices.clone(),
        solid.triangles.clone(),
        ElementKind::Triangle,
        true,
    )
}

/// Every edge is run along once each way: closed, manifold, oriented.
fn assert_watertight(solid: &KeepOut) {
    let mut edges: HashMap<(u32, u32), i32> = HashMap::new();
    for [a, b, c] in &solid.triangles {
        for (x, y) in [(a, b), (b, c), (c, a)] {
            assert_ne!(x, y);
            *edges.entry((*x, *y)).or_default() += 1;
        }
    }
    assert!(!edges.is_empty());
    for ((a, b), count) in &edges {
        assert_eq!(*count, 1, "edge {a}-{b}");
        assert_eq!(edges.get(&(*b, *a)), Some(&1), "edge {a}-{b} has no twin");
    }
}

/// Where a part's measured point stands at a position, seen from a body.
fn seen_from(
    corner: &Corner,
    on: Motion,
    moving: Motion,
    at: (f64, f64),
    p: &Vector3<f64>,
) -> Vector3<f64> {
    let linkage = corner.positioner.place(at.0, at.1).linkage;
    let place = linkage.placement(moving).point(p);
    linkage.placement(on).point_in_body(&place)
}

const OPTIONS: KeepOutOptions = KeepOutOptions {
    margin_mm: 3.0,
    resolution_mm: 4.0,
};

/// A ball on the lower arm and no other part.
fn with_ball_alone(scene: &mut Scene, radius: f64) {
    scene.parts.clear();
    scene.watch.clear();
    scene.joined.clear();
    scene.setups.clear();
    scene.parts.push(PartEntry {
        name: "ball".to_owned(),
        on: Body::LowerArm,
        shape: ShapeEntry::Ball {
            centre: Point(8.0, 722.0, 290.0),
            radius,
        },
        fitted: Fitted::default(),
        hangs_from: HangsFrom::default(),
    });
}

#[test]
fn a_ball_on_the_lower_arm_sweeps_a_tube_about_an_arc() {
    let corner = corner("tarnwood", |scene| with_ball_alone(scene, 30.0));
    let region = region(&corner);
    let tree = PoseTree::by_motion(&corner, &region, Motion::Frame, [part(&corner, "ball")]);
    let solid = keep_out(&tree, OPTIONS, &|_| true).expect("a solid");
    assert_watertight(&solid);
    assert_eq!((solid.pieces, solid.unproved_cells), (1, 0));
    // Arc of the ball's centre about the arm's pivots, over the arm angles that the free travel has.
    let hard = &corner.positioner.linkage.hardpoints;
    let axis = (hard.lower_rear - hard.lower_front).normalize();
    let arm = Vector3::new(8.0, 722.0, 290.0) - hard.lower_front;
    let radius = (arm - axis * arm.dot(&axis)).norm();
    let free: Vec<f64> = positions(&region, 20_000, 7).iter().map(|p| p.0).collect();
    let turned = free.iter().copied().fold(f64::NEG_INFINITY, f64::max)
        - free.iter().copied().fold(f64::INFINITY, f64::min);
    let tube = |r: f64| {
        let pi = std::f64::consts::PI;
        pi * r * r * radius * turned + 4.0 / 3.0 * pi * r.powi(3)
    };
    let r = 30.0 + OPTIONS.margin_mm;
    assert!(
        solid.volume_mm3 > tube(r),
        "{} {}",
        solid.volume_mm3,
        tube(r)
    );
    // The thin cells on the free region's edge count as free: up to half a degree more of the arm.
    let excess = r + solid.most_excess_mm;
    assert!(
        solid.volume_mm3 < tube(excess) * 1.02,
        "{} {}",
        solid.volume_mm3,
        tube(excess)
    );
    assert!(solid.most_excess_mm <= 4.0 * OPTIONS.resolution_mm);
}

#[test]
fn every_position_lies_inside_and_nothing_reaches_further_than_it_says() {
    for (on, name) in [
        (Body::Frame, "halfshaft"),
        (Body::Frame, "tyre"),
        (Body::Frame, "knuckle"),
        (Body::Knuckle, "tie rod"),
        (Body::LowerArm, "halfshaft"),
    ] {
        let corner = corner("tarnwood", |_| {});
        let region = region(&corner);
        let number = part(&corner, name);
        let tree = PoseTree::by_motion(&corner, &region, on.motion(), [number]);
        let options = KeepOutOptions {
            resolution_mm: if name == "tyre" { 16.0 } else { 6.0 },
            ..OPTIONS
        };
        let solid = keep_out(&tree, options, &|_| true).expect("a solid");
        assert_watertight(&solid);
        let surface = as_surface(&solid);
        let outside = corners_outside(&surface, &corner, &region, on, number);
        assert_eq!(outside, 0, "{name} from {on:?}");
        // No corner of the solid is further from every position than is told. Positions on a fine grid come within
        // a little of the nearest one.
        let least = distances_of_corners(&solid, 60, &corner, &region, on, number);
        let nearest = least.iter().copied().fold(f64::INFINITY, f64::min);
        let furthest = least.iter().copied().fold(0.0, f64::max);
        // Corners of the solid are found to single precision.
        let margin = options.margin_mm - 1.0e-3;
        assert!(nearest >= margin, "{name} from {on:?}: {nearest}");
        let told = options.margin_mm + solid.most_excess_mm;
        // Random positions leave gaps of a few millimetres of motion; squares too thin to decide count as free.
        assert!(
            furthest < told + 6.0,
            "{name} from {on:?}: {furthest} against {told}"
        );
    }
}

/// How many of a thousand corners of a part at random positions of the free travel lie outside the solid.
fn corners_outside(
    solid: &Surface,
    corner: &Corner,
    region: &Region,
    on: Body,
    number: usize,
) -> usize {
    let moving = &corner.parts[number];
    let mut unit = dice(11);
    let mut outside = 0;
    for at in positions(region, 250, 5) {
        for _ in 0..4 {
            let i = (unit() * moving.surface.vertices.len() as f64) as usize;
            let own = moving.surface.vertex_in_body(i);
            let p = seen_from(corner, on.motion(), moving.body.motion(), at, &own);
            outside += usize::from(solid.winding(&p) <= 0.99);
        }
    }
    outside
}

/// Least distances of some of a solid's corners to a part at 6,000 positions of the free travel.
fn distances_of_corners(
    solid: &KeepOut,
    count: usize,
    corner: &Corner,
    region: &Region,
    on: Body,
    number: usize,
) -> Vec<f64> {
    let moving = &corner.parts[number];
    let dense = positions(region, 6_000, 3);
    let corners = (0..count).map(|k| solid.vertices[k * solid.vertices.len() / count]);
    corners
        .map(|p| {
            let to = |at: &(f64, f64)| {
                let linkage = corner.positioner.place(at.0, at.1).linkage;
                let seen = linkage.placement(on.motion()).point(&p);
                let own = linkage.placement(moving.body.motion()).point_in_body(&seen);
                NearestPlace::find(&moving.surface, &own, f64::INFINITY).distance_mm
            };
            dense.iter().map(to).fold(f64::INFINITY, f64::min)
        })
        .collect()
}

/// A check that can't fail proves nothing: with a tenth of the motion bound the solid keeps less than the margin. A small
/// ball, so that cells are halved far below the size that they are bounded from.
#[test]
fn too_small_a_motion_bound_is_caught() {
    let corner = corner("tarnwood", |scene| with_ball_alone(scene, 8.0));
    let region = region(&corner);
    let ball = part(&corner, "ball");
    let options = KeepOutOptions {
        margin_mm: 0.0,
        resolution_mm: 0.5,
    };
    let too_near = |factor| {
        let motion = Body::Frame.motion();
        let tree = PoseTree::with_bound_factor(&corner, &region, motion, [ball], factor);
        let solid = keep_out(&[tree], options, &|_| true).expect("a solid");
        let least = distances_of_corners(&solid, 300, &corner, &region, Body::Frame, ball);
        least.iter().filter(|mm| **mm < -1.0e-3).count()
    };
    assert_eq!(too_near(1.0), 0);
    assert!(
        too_near(0.1) > 0,
        "a wrong bound can't be told from a right one"
    );
}

#[test]
fn the_same_solid_comes_from_any_number_of_threads() {
    let corner = corner("tarnwood", |_| {});
    let region = region(&corner);
    let solids: Vec<KeepOut> = [1, 3]
        .into_iter()
        .map(|threads| {
            let pool = rayon::ThreadPoolBuilder::new()
                .num_threads(threads)
                .build()
                .expect("threads");
            let tree = PoseTree::by_motion(
                &corner,
                &region,
                Motion::Frame,
                [part(&corner, "halfshaft")],
            );
            pool.install(|| keep_out(&tree, OPTIONS, &|_| true))
                .expect("a solid")
        })
        .collect();
    assert_eq!(solids[0].vertices, solids[1].vertices);
    assert_eq!(solids[0].triangles, solids[1].triangles);
}

#[test]
fn what_makes_no_solid_is_told() {
    let corner = corner("tarnwood", |_| {});
    let region = region(&corner);
    let shaft = part(&corner, "halfshaft");
    let tree = || PoseTree::by_motion(&corner, &region, Motion::Frame, [shaft]);
    let made = |options| keep_out(&tree(), options, &|_| true).map(|_| ());
    let with = |margin_mm, resolution_mm| KeepOutOptions {
        margin_mm,
        resolution_mm,
    };
    assert!(matches!(
        made(with(-1.0, 2.0)),
        Err(KeepOutError::BadOption("the margin", _))
    ));
    assert!(matches!(
        made(with(0.0, 0.0)),
        Err(KeepOutError::BadOption("the resolution", _))
    ));
    assert!(matches!(
        made(with(0.0, f64::NAN)),
        Err(KeepOutError::BadOption(..))
    ));
    assert!(matches!(
        made(with(0.0, 1.0e-4)),
        Err(KeepOutError::TooFine { .. })
    ));
    let nothing = PoseTree::by_motion(&corner, &region, Motion::Frame, []);
    assert_eq!(
        keep_out(&nothing, OPTIONS, &|_| true).map(|_| ()),
        Err(KeepOutError::NoParts)
    );
    assert_eq!(
        keep_out(&tree(), OPTIONS, &|_| false).map(|_| ()),
        Err(KeepOutError::Cancelled)
    );
}

/// A damper that is as long extended as compressed lets the wheel go nowhere, which is another matter than motion that
/// can't be bounded.
#[test]
fn no_free_travel_is_told() {
    let corner = corner("tarnwood", |scene| {
        let damper = &mut scene.damper;
        let [a, b] = [damper.upper_mount, damper.lower_mount];
        let length = (a.0 - b.0).hypot(a.1 - b.1).hypot(a.2 - b.2);
        (damper.extended, damper.compressed) = (length + 1.0e-3, length - 1.0e-3);
        damper.bump_stop = None;
    });
    let region = region(&corner);
    let shaft = part(&corner, "halfshaft");
    let tree = PoseTree::by_motion(&corner, &region, Motion::Frame, [shaft]);
    assert_eq!(
        keep_out(&tree, OPTIONS, &|_| true).map(|_| ()),
        Err(KeepOutError::NoFreeTravel)
    );
}

/// `keep_out_solids.csv`: trimesh found every one watertight, manifold3d an oriented manifold. What is made here is what
/// they read: as many triangles, the same volume but for single precision in the file.
#[test]
fn solids_are_those_that_other_readers_found_closed() {
    const ROWS: usize = 8;
    // Corners are rounded to 2^-24 of a coordinate below 2 m: 6e-5 mm over the surface of a solid that is nowhere
    // thinner than 20 mm.
    const SHARE: f64 = 1.0e-5;
    let table = Table::read("keep_out_solids.csv", ROWS);
    for row in table.rows() {
        let corner = corner(row.text("scene"), |_| {});
        let on = match row.text("on") {
            "frame" => Motion::Frame,
            "knuckle" => Motion::Knuckle,
            other => panic!("{other}"),
        };
        let patterns: Vec<wildmatch::WildMatch> = row
            .text("parts")
            .split(',')
            .map(wildmatch::WildMatch::new)
            .collect();
        let parts = patterns.iter().flat_map(|pattern| {
            let named = corner.parts.iter().enumerate();
            named
                .filter(|(_, p)| pattern.matches(&p.name))
                .map(|(i, _)| i)
        });
        let region = region(&corner);
        let tree = PoseTree::by_motion(&corner, &region, on, parts);
        let options = KeepOutOptions {
            margin_mm: row.number("in_margin"),
            resolution_mm: row.number("in_resolution"),
        };
        let solid = keep_out(&tree, options, &|_| true).expect("a solid");
        let place = row.place();
        assert_eq!(
            solid.triangles.len() as f64,
            row.number("out_triangles"),
            "{place}"
        );
        assert_eq!(solid.pieces as f64, row.number("out_pieces"), "{place}");
        for reader in ["out_trimesh_volume", "out_manifold3d_volume"] {
            let share = solid.volume_mm3 / row.number(reader) - 1.0;
            assert!(share.abs() < SHARE, "{place}: {share:e}");
        }
    }
}

/// A boot at the outer joint has slices a few centimetres long between two bodies that both go with the wheel: bounds of their
/// motion over large pieces of the travel are loose by any factor, and no resolution was coarse enough.
#[test]
fn the_room_of_an_outer_joints_boot_is_a_solid() {
    let boot = "(name: \"boot\", on: outer_joint_housing, shape: Boot(cup_at: 45, cup_diameter: 60, shaft_at: 90, \
                shaft_diameter: 30)),";
    let path = folder().join("whinchat.ron");
    let text = std::fs::read_to_string(&path).expect("a demo scene");
    let text = text.replacen("    parts: [", &format!("    parts: [\n        {boot}"), 1);
    let scene = scene_from_text(&text, &path).expect("it reads");
    let truck = assemble(&scene, &folder()).unwrap_or_else(|p| panic!("{p:?}"));
    let corner = &truck.corners[0];
    let free = region(corner);
    let slices = (0..corner.parts.len()).filter(|i| corner.parts[*i].entry_name == "boot");
    let slices: Vec<usize> = slices.collect();
    assert!(slices.len() > 3, "{}", slices.len());
    let trees: Vec<PoseTree> = (slices.iter())
        .flat_map(|slice| PoseTree::by_motion(corner, &free, Motion::Frame, [*slice]))
        .collect();
    let solid = keep_out(&trees, OPTIONS, &|_| true).expect("a solid");
    assert_watertight(&solid);
    // It holds the slices' middles at positions of the free travel.
    let low_high = |axis: usize| {
        let all = solid.vertices.iter().map(|v| v[axis]);
        all.fold([f64::INFINITY, f64::NEG_INFINITY], |e, v| {
            [e[0].min(v), e[1].max(v)]
        })
    };
    for (alpha, rack) in positions(&free, 200, 3) {
        let linkage = corner.positioner.place(alpha, rack).linkage;
        for slice in &slices {
            let part = &corner.parts[*slice];
            let surface = &part.surface;
            let middle = surface.origin + surface.rotation * surface.bounds().middle;
            let at = linkage.placement(part.body.motion()).point(&middle);
            for axis in 0..3 {
                let [low, high] = low_high(axis);
                assert!(
                    low < at[axis] && at[axis] < high,
                    "{at} outside {low} {high}"
                );
            }
        }
    }
}

/// Found by a reviewer: seen from an arm on drop brackets the solid hung where the arm hangs, not where it was drawn. A
/// suspension lowered as a whole keeps its solid.
#[test]
fn a_solid_seen_from_an_arm_on_drop_brackets_lies_where_the_arm_was_drawn() {
    let text = std::fs::read_to_string(folder().join("whinchat.ron")).expect("a demo scene");
    let (head, _) = text.split_once("    setups: [").expect("it has setups");
    let place = tempfile::tempdir().expect("a folder");
    let scene = place.path().join("lowered.ron");
    let lowered =
        "(name: \"lowered\", changes: [DropBrackets(by: 25, of: [lower_arm, rack, damper])])";
    std::fs::write(&scene, format!("{head}    setups: [{lowered}],\n)\n")).expect("written");
    let box_of = |setup: Option<&str>| -> [[f64; 3]; 2] {
        let out = place.path().join("solid.stl");
        let mut command = assert_cmd::cargo::cargo_bin_cmd!("bindpoint");
        command.args([
            "keepout",
            scene.to_str().expect("plain"),
            "--on",
            "lower_arm",
        ]);
        command.args(["--parts", "tie rod", "--resolution", "4mm", "--out"]);
        command.arg(&out);
        if let Some(setup) = setup {
            command.args(["--setup", setup]);
        }
        let output = command.output().expect("it runs");
        let said = String::from_utf8_lossy(&output.stderr);
        assert!(
            output
                .status
                .code()
                .is_some_and(|code| code != 2 || out.exists()),
            "{said}"
        );
        let bytes = std::fs::read(&out).unwrap_or_else(|e| panic!("{e}: {said}"));
        std::fs::remove_file(&out).expect("removed");
        let mut ends = [[f64::INFINITY; 3], [f64::NEG_INFINITY; 3]];
        for facet in bytes[84..].chunks_exact(50) {
            for corner in facet[12..48].chunks_exact(12) {
                for (axis, number) in corner.chunks_exact(4).enumerate() {
                    let value = f64::from(f32::from_le_bytes([
                        number[0], number[1], number[2], number[3],
                    ]));
                    ends[0][axis] = ends[0][axis].min(value);
                    ends[1][axis] = ends[1][axis].max(value);
                }
            }
        }
        ends
    };
    let [measured, lowered] = [box_of(None), box_of(Some("lowered"))];
    for end in 0..2 {
        for axis in 0..3 {
            let off = (measured[end][axis] - lowered[end][axis]).abs();
            // The halfshaft's end stays, and free travel with it, by some millimetres; the brackets are 25 mm.
            assert!(off < 12.0, "{measured:?} {lowered:?}");
        }
    }
}
