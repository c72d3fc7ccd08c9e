//! Parts that two bodies hold: links between them, and coil springs between both halves of the damper.
//!
//! Source: the same part drawn on a body that moves alike (tie rod, damper halves); closed forms otherwise.

mod dice;
mod small_scene;

use bindpoint::clearance::Part;
use bindpoint::findings::SweepFindings;
use bindpoint::kinematics::Position;
use bindpoint::limits::LimitId;
use bindpoint::scene::{Problem, Scene, field_reference};
use bindpoint::suspension::{Body, Side};
use bindpoint::sweep::{SweepOptions, sweep};
use bindpoint::truck::{Corner, MeshStore, Truck, assemble_setup};
use nalgebra::Vector3;
use small_scene::{Draft, point};
use std::path::Path;

type V = Vector3<f64>;

/// Rounding of coordinates of a metre through a few hundred operations, mm.
const ROUNDING_MM: f64 = 1.0e-8;

fn attempt(scene: &Scene, setup: Option<&str>) -> Result<Truck, Problem> {
    assemble_setup(scene, setup, &MeshStore::new(Path::new(".")))
}

fn built(scene: &Scene, setup: Option<&str>) -> Truck {
    attempt(scene, setup).unwrap_or_else(|p| panic!("{p:?}"))
}

fn part<'c>(corner: &'c Corner, name: &str) -> &'c Part {
    let found = corner.parts.iter().find(|p| p.name == name);
    found.unwrap_or_else(|| panic!("no {name}"))
}

fn positions(corner: &Corner) -> Vec<Position> {
    let mut out = Vec::new();
    for travel in [-110.0, -60.0, -10.0, 0.0, 35.0, 80.0] {
        for rack in [-50.0, 0.0, 45.0] {
            out.extend(corner.position(travel, rack).ok());
        }
    }
    assert!(out.len() > 12);
    out
}

/// Every gap between `name` and the rest at some positions.
fn gaps(corner: &Corner, name: &str) -> Vec<f64> {
    let mut out = Vec::new();
    for at in positions(corner) {
        for pair in &corner.pairs {
            let names = [pair.a, pair.b].map(|i| corner.parts[i].name.as_str());
            if names.contains(&name) {
                out.push(corner.gap(pair, &at.linkage, None).gap_mm);
            }
        }
    }
    assert!(!out.is_empty());
    out
}

fn swept(truck: &Truck) -> SweepFindings {
    let options = SweepOptions {
        rack_positions: 3,
        ..SweepOptions::default()
    };
    sweep(truck, &options, &|_, _| {})
}

/// A corner whose part `it` runs past a bracket on the frame and one on the knuckle.
fn with_it(on: &str, shape: &str) -> Draft {
    let mut draft = Draft::new();
    draft.part("it", on, "each_side", shape);
    draft.part(
        "bracket",
        "frame",
        "each_side",
        "Box(centre: (70, 500, 480), size: (30, 40, 60))",
    );
    draft.part(
        "ear",
        "knuckle",
        "each_side",
        "Ball(centre: (-60, 640, 470), radius: 15)",
    );
    draft.watch("it", "*", 3.0);
    draft.part(
        "post",
        "frame",
        "each_side",
        "Capsule(from: (-190, 480, 420), to: (-190, 520, 420), radius: 8)",
    );
    draft
}

#[test]
fn a_link_is_the_rod_or_damper_half_that_hangs_alike() {
    let d = Draft::new();
    let named = |from: &str, to: &str, on: &str| {
        format!("Link(from: \"{from}\", to: (on: {on}, at: \"{to}\"), diameter: 24)")
    };
    let drawn = |[from, to]: [V; 2]| {
        format!(
            "Capsule(from: {}, to: {}, radius: 12)",
            point(&from),
            point(&to)
        )
    };
    let [upper, lower] = d.damper;
    let [inner, outer] = d.rod;
    for (link_on, link, rod_on, rod) in [
        (
            "lower_arm",
            named("damper.lower_mount", "damper.upper_mount", "frame"),
            "damper_lower",
            drawn([lower, upper]),
        ),
        (
            "frame",
            named("damper.upper_mount", "damper.lower_mount", "lower_arm"),
            "damper_upper",
            drawn([upper, lower]),
        ),
        (
            "knuckle",
            named("knuckle.tie_rod_outer", "rack.tie_rod_inner", "rack"),
            "tie_rod",
            drawn([outer, inner]),
        ),
    ] {
        let link = built(&with_it(link_on, &link).scene("link"), None);
        let rod = built(&with_it(rod_on, &rod).scene("link"), None);
        let (a, b) = (gaps(&link.corners[0], "it"), gaps(&rod.corners[0], "it"));
        assert_eq!(a.len(), b.len());
        for (a, b) in a.iter().zip(&b) {
            assert!((a - b).abs() < ROUNDING_MM, "{link_on}: {a} {b}");
        }
        // What is proved between the positions is the same too.
        let (a, b) = (swept(&link), swept(&rod));
        let (a, b) = (&a.worse, &b.worse);
        assert_eq!(a.tightest_gaps.len(), b.tightest_gaps.len());
        for (a, b) in a.tightest_gaps.iter().zip(&b.tightest_gaps) {
            assert_eq!((&a.a, &a.b), (&b.a, &b.b));
            assert!((a.gap_mm - b.gap_mm).abs() < 1.0e-3, "{a:?} {b:?}");
        }
        assert_eq!(a.map.shares, b.map.shares);
    }
}

/// An anti-roll bar's link from the lower arm up to the frame.
fn sway_bar(fitted: &str) -> Draft {
    let mut draft = Draft::new();
    draft.part(
        "sway bar link",
        "lower_arm",
        fitted,
        "Link(from: (110, 620, 330), to: (on: frame, at: (140, 580, 560)), diameter: 18, short_to: 12)",
    );
    draft.watch("*", "*", 0.0);
    draft
}

#[test]
fn a_link_hangs_on_one_end_and_points_at_the_other_at_every_position() {
    let truck = built(&sway_bar("each_side").scene("sway"), None);
    let corner = &truck.corners[0];
    let (from, to) = (V::new(110.0, 620.0, 330.0), V::new(140.0, 580.0, 560.0));
    let link = part(corner, "sway bar link");
    assert_eq!(link.body, Body::Link(0));
    for at in positions(corner) {
        let placed = at.linkage.placement(link.body.motion());
        let hangs = at.linkage.placement(Body::LowerArm.motion()).point(&from);
        assert!((placed.point(&from) - hangs).norm() < ROUNDING_MM);
        let aim = (to - hangs).normalize();
        let way = (placed.point(&to) - hangs).normalize();
        assert!((aim - way).norm() < ROUNDING_MM);
        // Its bar is rigid: it ends as short of its own length as is said.
        let ends = [0, 1].map(|i| placed.point(&link.surface.vertex_in_body(i)));
        let length = (ends[1] - ends[0]).norm();
        assert!(
            (length - ((to - from).norm() - 12.0)).abs() < ROUNDING_MM,
            "{length}"
        );
    }
    let told: Vec<_> = truck
        .warnings
        .iter()
        .filter(|w| w.contains("`sway bar link`"))
        .collect();
    assert_eq!(told.len(), 1, "{:?}", truck.warnings);
    // At the search's lower end the arm's end has gone down: further apart; up: nearer. Locks turn the arm a little too.
    let apart = |travel: f64| {
        [-60.0, 0.0, 60.0].map(|rack| {
            let at = corner.position(travel, rack).expect("reached").linkage;
            let hangs = at.placement(Body::LowerArm.motion()).point(&from);
            (hangs - to).norm() - (to - from).norm()
        })
    };
    let nearer = apart(120.0).into_iter().fold(0.0, f64::min);
    let further = apart(-140.0).into_iter().fold(0.0, f64::max);
    let expected = format!(
        "come {:.0} mm nearer and go {further:.0} mm further apart",
        -nearer
    );
    assert!(
        told[0].contains(&expected),
        "{}, expected {expected}",
        told[0]
    );
}

#[test]
fn links_are_on_both_sides_on_one_or_on_what_both_have() {
    let mirrored = |p: V| V::new(p.x, -p.y, p.z);
    let from = V::new(110.0, 620.0, 330.0);
    let mut draft = sway_bar("each_side");
    draft.part(
        "lump",
        "frame",
        "right",
        "Ball(centre: (400, -300, 900), radius: 20)",
    );
    let truck = built(&draft.scene("sway"), None);
    let right = truck.corner(Side::Right).expect("both sides differ");
    let link = part(right, "sway bar link");
    let at = right.position(-40.0, 10.0).expect("reached").linkage;
    let hangs = at.placement(Body::LowerArm.motion()).point(&mirrored(from));
    let placed = at.placement(link.body.motion()).point(&mirrored(from));
    assert!((placed - hangs).norm() < ROUNDING_MM);
    // On the right alone it is drawn in the right's own coordinates.
    let mut draft = Draft::new();
    let shape = "Link(from: (110, -620, 330), to: (on: frame, at: (140, -580, 560)), diameter: 18)";
    draft.part("one", "lower_arm", "right", shape);
    draft.watch("*", "*", 0.0);
    let truck = built(&draft.scene("one"), None);
    let has = |side: Side| {
        let corner = truck.corner(side).expect("both sides differ");
        corner.parts.iter().any(|p| p.name == "one")
    };
    assert!(has(Side::Right) && !has(Side::Left));
    // A steering damper between frame and rack is there once, and moves alike on both corners.
    let mut draft = Draft::new();
    let shape = "Link(from: (-160, -250, 430), to: (on: rack, at: (-150, 150, 410)), diameter: 40)";
    draft.part("steering damper", "frame", "once", shape);
    draft.part(
        "lump",
        "frame",
        "right",
        "Ball(centre: (400, -300, 900), radius: 20)",
    );
    draft.watch("*", "*", 0.0);
    let truck = built(&draft.scene("once"), None);
    let middle = |corner: &Corner| {
        let at = corner.position(20.0, 30.0).expect("reached").linkage;
        let link = part(corner, "steering damper");
        at.placement(link.body.motion())
            .point(&V::new(-150.0, 150.0, 410.0))
    };
    assert!((middle(&truck.corners[0]) - middle(&truck.corners[1])).norm() < ROUNDING_MM);
    let moved = middle(&truck.corners[0]) - V::new(-150.0, 150.0, 410.0);
    // It swings a little as the rack takes its far end along: nowhere near thirty millimetres along itself.
    assert!(moved.norm() < 3.0 && moved.norm() > 0.01, "{moved:?}");
}

#[test]
fn a_lowered_differential_and_another_arm_take_a_links_ends_along() {
    let mut draft = Draft::new();
    draft.part(
        "stay",
        "differential",
        "each_side",
        "Link(from: (60, 120, 380), to: (on: lower_arm, at: \"lower_arm.ball_joint\"), diameter: 18, short_to: 60)",
    );
    draft.watch("*", "*", 0.0);
    draft.more = "differential: (front_mounts: [(190, 150, 520)], rear_mounts: [(-150, 40, 500)]),
        setups: [(name: \"lower\", changes: [DifferentialDrop(by: 15)]),
            (name: \"arm\", changes: [LowerArm((ball_joint: (9, 724, 289)))])],"
        .to_owned();
    let scene = draft.scene("stay");
    for (setup, from, to) in [
        (
            "lower",
            V::new(60.0, 120.0, 365.0),
            V::new(8.0, 722.0, 290.0),
        ),
        ("arm", V::new(60.0, 120.0, 380.0), V::new(9.0, 724.0, 289.0)),
    ] {
        let truck = built(&scene, Some(setup));
        let corner = &truck.corners[0];
        let at = corner.positioner.place(0.0, 0.0).linkage;
        let placed = at.placement(part(corner, "stay").body.motion());
        assert!((placed.anchor - from).norm() < ROUNDING_MM, "{setup}");
        let way = placed.direction(
            &corner
                .parts
                .iter()
                .find(|p| p.name == "stay")
                .map(|p| {
                    let s = &p.surface;
                    (s.vertex_in_body(1) - s.vertex_in_body(0)).normalize()
                })
                .expect("a stay"),
        );
        let aim = (to - from).normalize();
        assert!(
            (way - aim).norm().min((way + aim).norm()) < ROUNDING_MM,
            "{setup}"
        );
    }
}

#[test]
fn a_link_that_can_not_hang_is_refused_where_it_stands() {
    for (on, fitted, shape, at, words) in [
        (
            "lower_arm",
            "each_side",
            "Link(from: (1, 400, 300), to: (on: lower_arm, at: (1, 500, 300)), diameter: 9)",
            "shape.to.on",
            "never swings",
        ),
        (
            "frame",
            "each_side",
            "Link(from: (1, 400, 300), to: (on: differential, at: (1, 500, 300)), diameter: 9)",
            "shape.to.on",
            "never swings",
        ),
        (
            "wheel",
            "each_side",
            "Link(from: (1, 700, 300), to: (on: frame, at: (1, 500, 300)), diameter: 9)",
            ".on",
            "turns or may roll",
        ),
        (
            "frame",
            "each_side",
            "Link(from: (1, 400, 300), to: (on: tie_rod, at: (1, 500, 300)), diameter: 9)",
            "shape.to.on",
            "turns or may roll",
        ),
        (
            "lower_arm",
            "once",
            "Link(from: (1, 600, 300), to: (on: frame, at: (1, 500, 300)), diameter: 9)",
            ".fitted",
            "fitted once",
        ),
        (
            "lower_arm",
            "each_side",
            "Link(from: (1, 600, 300), to: (on: frame, at: (1, 600, 300)), diameter: 9)",
            "shape",
            "within 0.00 mm",
        ),
    ] {
        let mut draft = Draft::new();
        draft.part("tried", on, fitted, shape);
        draft.watch("tried", "*", 0.0);
        let problem = attempt(&draft.scene("refused"), None)
            .err()
            .unwrap_or_else(|| panic!("{shape}"));
        assert!(
            problem.path.starts_with("parts[0]") && problem.path.ends_with(at),
            "{shape}: {problem:?}"
        );
        assert!(problem.what.contains(words), "{shape}: {problem:?}");
    }
}

const SPRING: &str =
    "Spring(upper_seat: 40, lower_seat: 150, wire: 12, mean_diameter: 100, turns: 9)";

/// A damper's spring beside a ball on the frame.
fn with_spring(ball: V, radius: f64) -> Draft {
    let mut draft = Draft::new();
    draft.part("spring", "damper_upper", "each_side", SPRING);
    let ball = format!("Ball(centre: {}, radius: {radius})", point(&ball));
    draft.part("ball", "frame", "each_side", &ball);
    draft.watch("ball", "spring", 2.0);
    draft
}

/// How far a point is from the tube between the seats, closed form.
fn from_tube(corner: &Corner, at: &Position, p: &V) -> f64 {
    let h = &corner.positioner.linkage.hardpoints;
    let along = at.linkage.damper_direction;
    let top = h.damper_upper + along * 40.0;
    let length = at.linkage.damper_mm - 190.0;
    let x = (p - top).dot(&along);
    let r = (p - top - along * x).norm();
    let axial = (-x).max(x - length).max(0.0);
    let radial = (44.0 - r).max(r - 56.0).max(0.0);
    axial.hypot(radial)
}

#[test]
fn a_spring_is_the_tube_between_its_seats_at_every_length_of_the_damper() {
    let axis = |share: f64| {
        let [upper, lower] = Draft::new().damper;
        upper + (lower - upper) * share
    };
    // Beside the top, the middle where both halves meet, and the bottom; above the top seat and below the lower one.
    for (share, aside) in [
        (0.15, 90.0),
        (0.35, 85.0),
        (0.5, 90.0),
        (0.62, 90.0),
        (0.02, 30.0),
        (0.85, 40.0),
    ] {
        let ball = axis(share) + V::new(aside, 0.0, 0.0);
        let truck = built(&with_spring(ball, 5.0).scene("spring"), None);
        let corner = &truck.corners[0];
        let error = part(corner, "spring").surface.facet_error_mm + ROUNDING_MM;
        assert!(error < 0.2, "{error}");
        for at in positions(corner) {
            let gaps = corner
                .pairs
                .iter()
                .map(|pair| corner.gap(pair, &at.linkage, None).gap_mm);
            let least = gaps.fold(f64::INFINITY, f64::min);
            let exact = from_tube(corner, &at, &ball) - 5.0;
            if exact < 0.5 {
                continue;
            }
            // Never more than there is, and less by no more than facets take off on both sides of the round.
            assert!(
                least <= exact + ROUNDING_MM,
                "{share} {}: {least} {exact}",
                at.travel_mm
            );
            assert!(
                least >= exact - 2.0 * error,
                "{share} {}: {least} {exact}",
                at.travel_mm
            );
        }
    }
}

/// Where each slice of a spring reaches along the damper at a position, from its upper seat: mm.
fn slices_along(corner: &Corner, at: &Position) -> Vec<[f64; 2]> {
    let along = at.linkage.damper_direction;
    let seat = corner.positioner.linkage.hardpoints.damper_upper + along * 40.0;
    let reach = |part: &Part| {
        let placed = at.linkage.placement(part.body.motion());
        let places = (0..part.surface.vertices.len())
            .map(|i| (placed.point(&part.surface.vertex_in_body(i)) - seat).dot(&along));
        let (least, most) = places.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), x| {
            (a.min(x), b.max(x))
        });
        [least, most]
    };
    let slices = corner.parts.iter().filter(|p| p.entry_name == "spring");
    let mut out: Vec<[f64; 2]> = slices.map(reach).collect();
    out.sort_by(|a, b| a[0].total_cmp(&b[0]));
    out
}

#[test]
fn a_springs_slices_cover_it_and_pass_no_seat_however_far_is_looked() {
    // Over the seats' ends a plate on the frame, as a tower's: what the coil's room comes to there is the seat's own.
    let [upper, lower] = Draft::new().damper;
    let along = (lower - upper).normalize();
    let plate = upper + along * 10.0;
    for strut in [false, true] {
        let mut told: Vec<f64> = Vec::new();
        for droop in [20.0, 60.0, 110.0, 140.0, 160.0] {
            let mut draft = with_spring(plate, 5.0);
            draft.search = [droop, 120.0];
            if strut {
                draft.on_strut();
            }
            // The coil is pushed together to less than half of its greatest length.
            let shortest = 300.0;
            draft.compressed = shortest;
            let truck = built(&draft.scene("spring"), None);
            let corner = &truck.corners[0];
            let mut looked_at = 0;
            for step in 0..=60 {
                for rack in [-60.0, -25.0, 0.0, 60.0] {
                    let travel = -droop + (droop + 120.0) * f64::from(step) / 60.0;
                    let Ok(at) = corner.position(travel, rack) else {
                        continue;
                    };
                    let mm = at.linkage.damper_mm;
                    if mm < shortest {
                        continue;
                    }
                    looked_at += 1;
                    let slices = slices_along(corner, &at);
                    let between = mm - 190.0;
                    assert!(slices[0][0] > -ROUNDING_MM, "{slices:?}");
                    let end = slices.iter().fold(0.0, |end: f64, s| {
                        assert!(s[0] <= end + ROUNDING_MM, "a hole at {mm}: {slices:?}");
                        end.max(s[1])
                    });
                    assert!((end - between).abs() < ROUNDING_MM, "{end} {between}");
                }
            }
            assert!(looked_at > 60, "{looked_at}");
            if strut {
                continue;
            }
            // The tower's gap is the coil's own at every length that is looked at, whatever is searched.
            let gaps = [0.0, 60.0, 110.0].map(|travel| {
                let at = corner.position(travel, 0.0).expect("reached").linkage;
                let all = corner.pairs.iter().map(|p| corner.gap(p, &at, None).gap_mm);
                all.fold(f64::INFINITY, f64::min)
            });
            told = if told.is_empty() { gaps.to_vec() } else { told };
            for (a, b) in told.iter().zip(gaps) {
                assert!((a - b).abs() < ROUNDING_MM, "{droop}: {told:?} {gaps:?}");
            }
        }
    }
}

#[test]
fn a_springs_slices_are_one_part_to_the_scene() {
    let mut draft = Draft::new();
    draft.part("spring", "damper_upper", "each_side", SPRING);
    draft.part(
        "body",
        "damper_lower",
        "each_side",
        "Bar(from: \"damper.lower_mount\", to: \"damper.upper_mount\", short_to: 200, diameter: 60)",
    );
    draft.part(
        "seat",
        "damper_lower",
        "each_side",
        "Cylinder(from: (0.5, 530, 470), to: (0.4, 529, 475), radius: 60)",
    );
    draft.watch("*", "*", 0.0);
    draft.more = "joined: [(a: \"spring\", b: \"seat\", why: \"it stands on it\")],".to_owned();
    let truck = built(&draft.scene("halves"), None);
    let corner = &truck.corners[0];
    let names = |a: &str, b: &str| {
        let is = |pair: [&str; 2]| pair == [a, b] || pair == [b, a];
        let pair = |p: &bindpoint::clearance::WatchedPair| {
            is([p.a, p.b].map(|i| corner.parts[i].name.as_str()))
        };
        corner.pairs.iter().any(pair)
    };
    // Not against each other, and not against what it is joined to, whichever slice that touches.
    assert!(!names("spring", "spring, slice 2"));
    assert!(!names("spring", "seat") && !names("spring, slice 2", "seat"));
    assert_eq!(corner.joined.len(), 1, "{:?}", corner.joined);
    // Every slice is watched against the rest.
    assert!(names("spring", "halfshaft") && names("spring, slice 2", "halfshaft"));
    // The body stands in it with its own clearance: 44 mm less 30 mm.
    let at = corner.position(0.0, 0.0).expect("reached").linkage;
    let pair = corner.pairs.iter().find(|p| {
        let names = [p.a, p.b].map(|i| corner.parts[i].name.as_str());
        names.contains(&"spring") && names.contains(&"body")
    });
    let gap = corner.gap(pair.expect("watched"), &at, None).gap_mm;
    assert!((13.0..14.01).contains(&gap), "{gap}");
}

#[test]
fn coil_bind_is_a_bind_at_turns_times_wire_and_spacers_bring_it_nearer() {
    let mut draft = with_spring(V::new(0.0, 0.0, 2000.0), 5.0);
    draft.more = "setups: [(name: \"preload\", changes: [DamperSpacer((name: \"ring\", thickness: 10, adds: preload_only))]),
        (name: \"top\", changes: [DamperSpacer((name: \"plate\", thickness: 10, adds: total_length))])],"
        .to_owned();
    // Nothing else ends the bump before: the damper closes at 250.
    draft.compressed = 250.0;
    draft.search = [60.0, 180.0];
    let scene = draft.scene("bind");
    let id = LimitId::CoilBind("spring".to_owned());
    assert_eq!(id.name(), "coil bind spring");
    let bind_mm = 190.0 + 9.0 * 12.0;
    for (setup, at_mm) in [
        (None, bind_mm),
        (Some("preload"), bind_mm + 10.0),
        (Some("top"), bind_mm + 10.0),
    ] {
        let truck = built(&scene, setup);
        let corner = &truck.corners[0];
        let limit = corner.limits.iter().find(|l| l.id == id).expect("it binds");
        assert!(!limit.intended);
        let reading = limit.reading(&corner.position(0.0, 0.0).expect("reached").linkage);
        assert!(
            (reading.limit - at_mm).abs() < 1.0e-9,
            "{setup:?}: {reading:?}"
        );
        assert!(
            !truck
                .warnings
                .iter()
                .any(|w| w.contains("moves the spring's seat"))
        );
    }
    // Bound at 440 as measured, it would bind 30 mm before.
    let mut draft = with_spring(V::new(0.0, 0.0, 2000.0), 5.0);
    draft.parts[0] = draft.parts[0].replace("turns: 9", "turns: 24");
    draft.compressed = 400.0;
    let problem = match attempt(&draft.scene("bound"), None) {
        Err(problem) => problem,
        Ok(truck) => {
            // 190 + 288 = 478 lies above the length as measured only where that is shorter.
            let at = truck.corners[0]
                .position(0.0, 0.0)
                .expect("reached")
                .linkage;
            assert!(at.damper_mm < 478.0, "{}", at.damper_mm);
            panic!("it was built");
        }
    };
    assert_eq!(problem.path, "parts[0].shape");
    assert!(problem.what.contains("coil bind spring"), "{problem:?}");
}

#[test]
fn a_sweep_ends_bump_at_coil_bind() {
    let mut draft = with_spring(V::new(0.0, 0.0, 2000.0), 5.0);
    draft.compressed = 300.0;
    draft.parts[0] = draft.parts[0].replace("turns: 9", "turns: 20");
    draft.search = [60.0, 110.0];
    let truck = built(&draft.scene("sweep"), None);
    let found = swept(&truck);
    let free = &found.worse.free_travel[1];
    let stop = format!("{:?}", free.bump_stop);
    assert!(stop.contains("CoilBind"), "{stop}");
    // There the damper is as long as the seats' rest and the solid spring.
    let corner = &truck.corners[0];
    let at = corner.position(free.bump_mm, 0.0).expect("reached").linkage;
    // A stop is found to within a hundredth.
    assert!(
        (at.damper_mm - (190.0 + 240.0)).abs() < 0.02,
        "{}",
        at.damper_mm
    );
}

#[test]
fn a_spring_that_can_not_be_is_refused_where_it_stands() {
    for (on, shape, at, words) in [
        (
            "lower_arm",
            SPRING.to_owned(),
            ".on",
            "a coil spring around the damper",
        ),
        (
            "damper_upper",
            SPRING.replace("wire: 12", "wire: 120"),
            ".mean_diameter",
            "can't be wound",
        ),
        (
            "damper_upper",
            SPRING.replace("turns: 9", "turns: 0"),
            ".turns",
            "no number of turns",
        ),
        (
            "damper_upper",
            SPRING.replace("lower_seat: 150", "lower_seat: 450"),
            ".upper_seat",
            "from the eyes together",
        ),
    ] {
        let mut draft = Draft::new();
        draft.part("tried", on, "each_side", &shape);
        draft.watch("tried", "*", 0.0);
        let problem = attempt(&draft.scene("refused"), None)
            .err()
            .unwrap_or_else(|| panic!("{shape}"));
        assert!(problem.path.ends_with(at), "{shape}: {problem:?}");
        assert!(problem.what.contains(words), "{shape}: {problem:?}");
    }
}

#[test]
fn the_schema_tells_of_links_and_springs() {
    let pages = field_reference();
    for field in [
        "Link: ",
        "LinkEnd: ",
        "Spring: ",
        "turns: ",
        "mean_diameter: ",
        "upper_seat: ",
    ] {
        assert!(
            pages.lines().any(|l| l.trim_start().starts_with(field)),
            "{field}"
        );
    }
}

const BOOT: &str = "Boot(cup_at: 30, cup_diameter: 84, shaft_at: 120, shaft_diameter: 34)";

/// A boot's two circles at a position: middle, axis toward the shaft, radius.
fn circles(corner: &Corner, at: &Position, outer: bool) -> [(V, V, f64); 2] {
    let h = &corner.positioner.linkage.hardpoints;
    let l = &at.linkage;
    let (joint, centre, axis, way) = if outer {
        let axis = -l.placement(Body::Knuckle.motion()).direction(&h.outer_axis);
        (l.outer_joint, l.outer_joint, axis, -l.shaft_direction)
    } else {
        (
            h.inner_joint,
            l.inner_joint,
            h.flange_axis,
            l.shaft_direction,
        )
    };
    [
        (joint + axis * 30.0, axis, 42.0),
        (centre + way * 120.0, way, 17.0),
    ]
}

/// A boot's material along one generator: its ends.
fn generator([(c, a, big), (q, w, small)]: &[(V, V, f64); 2], angle: f64) -> [V; 2] {
    let turn = nalgebra::Rotation3::rotation_between(a, w).expect("less than a half turn");
    let across = a.cross(&V::x()).normalize();
    let spoke = nalgebra::Rotation3::from_axis_angle(&nalgebra::Unit::new_normalize(*a), angle);
    let e = spoke * across;
    [c + e * *big, q + turn * e * *small]
}

/// Each joint's boot, with more fields.
fn with_boot(outer: bool, more: &str) -> Draft {
    let mut draft = Draft::new();
    let on = if outer {
        "outer_joint_housing"
    } else {
        "inner_joint_housing"
    };
    draft.part(
        "boot",
        on,
        "each_side",
        &BOOT.replace("34)", &format!("34, {more})")),
    );
    draft.part(
        "bracket",
        "frame",
        "each_side",
        "Ball(centre: (70, 300, 480), radius: 5)",
    );
    draft.watch("boot", "bracket", 1.0);
    draft
}

#[test]
fn a_boots_slices_hold_its_material_at_every_position_and_little_more() {
    for outer in [false, true] {
        let truck = built(&with_boot(outer, "").scene("boot"), None);
        let corner = &truck.corners[0];
        let slices: Vec<&Part> = corner
            .parts
            .iter()
            .filter(|p| p.entry_name == "boot")
            .collect();
        assert_eq!(slices.len(), 6);
        // Each slice's axis, ends and radius in its own drawing.
        let rests = corner.positioner.place(0.0, 0.0).linkage;
        let drawn: Vec<(V, V, [f64; 2], f64)> = slices
            .iter()
            .map(|slice| {
                let placed = rests.placement(slice.body.motion());
                let surface = &slice.surface;
                let points: Vec<V> = (0..surface.vertices.len())
                    .map(|i| surface.vertex_in_body(i))
                    .collect();
                let from = placed.anchor_in_body;
                // A cylinder's axis: through the middles of its two ends.
                let axis = surface.rotation * V::z();
                let along = points.iter().map(|p| (p - from).dot(&axis));
                let ends = along.fold([f64::INFINITY, f64::NEG_INFINITY], |[lo, hi], x| {
                    [lo.min(x), hi.max(x)]
                });
                let off = |p: &V| ((p - from) - axis * (p - from).dot(&axis)).norm();
                let radius = points.iter().map(off).fold(0.0, f64::max);
                (from, axis, ends, radius)
            })
            .collect();
        for at in positions(corner) {
            let circles = circles(corner, &at, outer);
            for k in 0..40 {
                let [p, q] = generator(&circles, k as f64 * 0.157);
                for step in 0..=30 {
                    let x = p + (q - p) * (step as f64 / 30.0);
                    let holds =
                        slices
                            .iter()
                            .zip(&drawn)
                            .any(|(slice, (from, axis, ends, radius))| {
                                let placed = at.linkage.placement(slice.body.motion());
                                let own = placed.point_in_body(&x) - from;
                                let along = own.dot(axis);
                                // Corners of facets stand on the round or outside.
                                along >= ends[0] - ROUNDING_MM
                                    && along <= ends[1] + ROUNDING_MM
                                    && (own - axis * along).norm()
                                        <= radius + slice.surface.facet_error_mm
                            });
                    assert!(holds, "{outer} {} {k} {step}", at.travel_mm);
                }
            }
        }
        // Wider than its material by what is added for what isn't looked at (1.4 mm), and by what its edges shift against
        // its middle: half a slice of at most 120 mm of boot, however it is bent.
        for (i, (.., radius)) in drawn.iter().enumerate() {
            let own = 42.0 - 25.0 * i as f64 / 6.0;
            assert!(
                *radius < own + 1.4 + 120.0 / 12.0,
                "{outer} {i}: {radius}, {own}"
            );
        }
    }
}

#[test]
fn a_boots_side_is_read_as_it_is_and_ends_the_travel_at_its_limits() {
    for outer in [false, true] {
        let truck = built(
            &with_boot(outer, "longest: 400, shortest: 1").scene("boot"),
            None,
        );
        let corner = &truck.corners[0];
        let limit = |id: &LimitId| corner.limits.iter().find(|l| l.id == *id).expect("a limit");
        let stretched = limit(&LimitId::BootStretched("boot".to_owned()));
        let folded = limit(&LimitId::BootFolded("boot".to_owned()));
        assert!(!stretched.intended && !folded.intended);
        assert_eq!(stretched.name(), "stretched boot boot");
        for at in positions(corner) {
            let circles = circles(corner, &at, outer);
            // In the plane of the bend, and all round: a step of a thousandth of a turn misses the greatest by a
            // hundred-thousandth of it.
            let sides = (0..1000).map(|k| {
                let [p, q] = generator(&circles, k as f64 * std::f64::consts::TAU / 1000.0);
                (q - p).norm()
            });
            let (least, most) = sides.fold((f64::INFINITY, 0.0_f64), |(lo, hi), side| {
                (lo.min(side), hi.max(side))
            });
            let read = [stretched, folded].map(|l| l.reading(&at.linkage));
            assert!(
                (read[0].value - most).abs() < 2.0e-3,
                "{most} {:?}",
                read[0]
            );
            assert!(
                (read[1].value - least).abs() < 2.0e-3,
                "{least} {:?}",
                read[1]
            );
            // Kept while both pieces are above zero, and not where one isn't.
            for (limit, reading) in [(stretched, read[0]), (folded, read[1])] {
                let kept = (0..limit.pieces()).all(|k| limit.reserve(k, &at.linkage) > 0.0);
                assert_eq!(kept, reading.margin > 0.0);
            }
        }
    }
    // Bent and pulled out in droop, the inner boot is stretched; the limit is taken from a position on the way.
    let plain = built(&with_boot(false, "longest: 400").scene("boot"), None);
    let id = LimitId::BootStretched("boot".to_owned());
    let side = |corner: &Corner, travel: f64| {
        let at = corner.position(travel, 0.0).expect("reached").linkage;
        let limit = corner.limits.iter().find(|l| l.id == id).expect("a limit");
        limit.reading(&at).value
    };
    let longest = side(&plain.corners[0], -70.0);
    assert!(longest > side(&plain.corners[0], 0.0) + 1.0);
    let mut draft = with_boot(false, &format!("longest: {longest:?}"));
    draft.extended = 700.0;
    draft.locks = [5.0, 5.0];
    let truck = built(&draft.scene("boot"), None);
    let found = swept(&truck);
    let free = &found.worse.free_travel[1];
    assert!(
        format!("{:?}", free.droop_stop).contains("BootStretched"),
        "{free:?}"
    );
    // A stop is found to within a hundredth.
    assert!((free.droop_mm - 70.0).abs() < 0.05, "{}", free.droop_mm);
    // Too short as measured.
    let short = attempt(&with_boot(false, "longest: 60").scene("boot"), None);
    let problem = short.expect_err("it is longer as measured");
    assert_eq!(problem.path, "parts[0].shape.longest");
}

#[test]
fn a_boot_is_one_part_to_the_scene_and_refused_where_it_can_not_be() {
    let mut draft = with_boot(false, "");
    draft.watch("*", "*", 0.0);
    draft.more =
        "joined: [(a: \"boot\", b: \"halfshaft\", why: \"it is clamped there\")],".to_owned();
    let truck = built(&draft.scene("boot"), None);
    let corner = &truck.corners[0];
    let is_of = |i: usize, name: &str| corner.parts[i].entry_name == name;
    for pair in &corner.pairs {
        assert!(!(is_of(pair.a, "boot") && is_of(pair.b, "boot")));
        let with_shaft = is_of(pair.a, "halfshaft") || is_of(pair.b, "halfshaft");
        assert!(!(with_shaft && (is_of(pair.a, "boot") || is_of(pair.b, "boot"))));
    }
    assert!(corner.overlaps.is_empty(), "{:?}", corner.overlaps);
    for (on, shape, at, words) in [
        (
            "knuckle",
            BOOT.to_owned(),
            ".on",
            "a joint's boot on the knuckle",
        ),
        (
            "inner_joint_housing",
            BOOT.replace("shaft_at: 120", "shaft_at: 20"),
            ".shaft_at",
            "ends on the shaft",
        ),
        (
            "inner_joint_housing",
            BOOT.replace("cup_diameter: 84", "cup_diameter: 0"),
            ".cup_diameter",
            "above zero",
        ),
    ] {
        let mut draft = Draft::new();
        draft.part("tried", on, "each_side", &shape);
        let problem = attempt(&draft.scene("refused"), None).expect_err(&shape);
        assert!(problem.path.ends_with(at), "{shape}: {problem:?}");
        assert!(problem.what.contains(words), "{shape}: {problem:?}");
    }
    let pages = field_reference();
    for field in ["Boot: ", "cup_at: ", "longest*: ", "shortest*: "] {
        assert!(
            pages.lines().any(|l| l.trim_start().starts_with(field)),
            "{field}"
        );
    }
}
