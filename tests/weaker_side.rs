//! Which side leads, and that neither is left out: the weaker one by margin too, and both where the body is uneven.

use bindpoint::findings::{ContactClass, Status, StopId, WeakerBy};
use bindpoint::output::{Datum, SweepText, Units, sweep_text};
use bindpoint::scene::{CarriedBy, Point, Scene, ShapeEntry, Underbody, scene_from_text};
use bindpoint::suspension::Side;
use bindpoint::sweep::{SweepOptions, status, sweep};
use bindpoint::truck::{MeshStore, Truck, assemble, assemble_setup};
use std::path::Path;

fn demo(name: &str) -> Scene {
    let path = format!("scenes/{name}.ron");
    let text = std::fs::read_to_string(&path).expect("a demo scene");
    let mut scene = scene_from_text(&text, Path::new(&path)).expect("it reads");
    scene.setups.clear();
    // Metal is asked after elsewhere: without drawn parts the sweep is quick.
    scene.parts.retain(|part| part.name == "tyre");
    scene.underbody.clear();
    scene.joined.clear();
    scene.watch.truncate(1);
    scene.watch[0].a = "tyre".to_owned();
    scene.watch[0].b = "halfshaft".to_owned();
    scene
}

fn built(scene: &Scene) -> Truck {
    assemble(scene, Path::new("scenes")).unwrap_or_else(|p| panic!("{p:?}"))
}

/// The described side's halfshaft on the other side, with another outer joint.
fn with_outer_limit(scene: &mut Scene, outer_limit_deg: f64) {
    let mut shaft = scene.halfshaft.clone();
    let across = |p: &Point| Point(p.0, -p.1, p.2);
    shaft.outer_joint = across(&shaft.outer_joint);
    shaft.inner_joint = across(&shaft.inner_joint);
    shaft.outer_limit_deg = outer_limit_deg;
    scene.other_side.halfshaft = Some(shaft);
}

#[test]
fn a_side_with_less_left_of_a_joints_angle_leads_though_both_travel_alike() {
    let mut scene = demo("tarnwood");
    let least = |scene: &Scene| {
        let found = sweep(&built(scene), &SweepOptions::default(), &|_, _| {});
        let states = found.worse.extremes.iter().flat_map(|e| &e.stops);
        let own = states.filter(|s| s.name == "outer joint angle");
        own.map(|s| s.margin).fold(f64::INFINITY, f64::min)
    };
    let margin = least(&scene);
    assert!(margin > 1.0, "{margin}");
    // The right side's joint is left with a fifth of a degree.
    let limit = scene.halfshaft.outer_limit_deg - margin + 0.2;
    with_outer_limit(&mut scene, limit);
    let found = sweep(&built(&scene), &SweepOptions::default(), &|_, _| {});
    assert_eq!(status(&found), Status::Clear, "{:?}", found.worse.undecided);
    assert_eq!(found.worse.side, Side::Right);
    let other = found.other.as_ref().expect("both sides were built");
    let droops =
        [&found.worse, other].map(|c| c.free_travel[0].droop_mm.max(c.free_travel[8].droop_mm));
    assert!((droops[0] - droops[1]).abs() < 0.05, "{droops:?}");
    let Some(WeakerBy::Margin {
        limit,
        weaker,
        other,
        ..
    }) = &found.weaker_by
    else {
        panic!("{:?}", found.weaker_by);
    };
    assert_eq!(limit, "outer joint angle");
    assert!(
        (weaker - 0.2).abs() < 0.02 && *other > 1.0,
        "{weaker} {other}"
    );
    let text = sweep_text(
        &found,
        &SweepText {
            units: Units::Mm,
            datum: Datum::Measured,
            status: Status::Clear,
            tables_of: None,
            wrap_leading_lines: false,
        },
    );
    let first = text.lines().next().expect("a line");
    assert!(
        first.starts_with("RIGHT side is weaker: travels alike, outer joint angle has 0."),
        "{first}"
    );
    assert!(!first.contains("alike, right"), "{first}");
}

#[test]
fn a_side_that_bumps_less_leads() {
    let mut scene = demo("tarnwood");
    let mut damper = scene.damper.clone();
    let across = |p: &Point| Point(p.0, -p.1, p.2);
    damper.upper_mount = across(&damper.upper_mount);
    damper.lower_mount = across(&damper.lower_mount);
    if let Some(stop) = &mut damper.bump_stop {
        stop.crushed += 4.0;
    }
    scene.other_side.damper = Some(damper);
    let found = sweep(&built(&scene), &SweepOptions::default(), &|_, _| {});
    assert_eq!(found.worse.side, Side::Right);
    assert!(
        matches!(found.weaker_by, Some(WeakerBy::Bump { weaker_mm, other_mm }) if weaker_mm + 1.0 < other_mm),
        "{:?}",
        found.weaker_by
    );
}

/// A spacer on top of the left damper lifts the truck there by about twice its thickness, which is droop that the left wheel
/// no longer has from where it stands, though its damper reaches as far down as the right one's.
#[test]
fn a_side_that_stands_higher_on_a_spacer_leads_by_the_droop_left_from_its_own_ride_height() {
    let text = std::fs::read_to_string("scenes/tarnwood.ron").expect("a demo scene");
    let spacer = "setups: [(name: \"left spacer\", changes: [DamperSpacer((side: left, name: \"puck\", thickness: 12, \
                  adds: total_length))]),";
    let text = text.replacen("setups: [", spacer, 1);
    let scene = scene_from_text(&text, Path::new("scenes/t.ron")).expect("it reads");
    let meshes = MeshStore::new(Path::new("scenes"));
    let truck = assemble_setup(&scene, Some("left spacer"), &meshes).expect("it can be built");
    let found = sweep(&truck, &SweepOptions::default(), &|_, _| {});
    let [worse, other] = [Some(&found.worse), found.other.as_ref()].map(|c| c.expect("two sides"));
    assert_eq!((worse.side, other.ride_height_mm), (Side::Left, 0.0));
    assert!(worse.ride_height_mm < -12.0, "{}", worse.ride_height_mm);
    let page = |datum, tables_of| {
        let style = SweepText {
            units: Units::Mm,
            datum,
            status: status(&found),
            tables_of,
            wrap_leading_lines: false,
        };
        sweep_text(&found, &style)
    };
    let measured = page(Datum::Measured, None);
    let first = measured.lines().next().expect("a line");
    let ride = format!("{:+.1}", worse.ride_height_mm);
    let from = format!("from the measured position (ride height: left {ride}, right 0.0)");
    assert!(
        first.starts_with("LEFT side is weaker: ") && first.contains(&from),
        "{first}"
    );
    assert!(!first.contains("as measured"), "{first}");
    let up = format!("{:+.1}", -worse.ride_height_mm);
    let from = format!("from ride height (measured position: left {up}, right 0.0)");
    assert!(page(Datum::RideHeight, None).contains(&from), "{from}");
    // Either side's tables can be had.
    let told = "The tables are the right corner's; `--side left` prints the other's.";
    assert!(page(Datum::Measured, Some(Side::Right)).contains(told));
    assert!(measured.contains("The tables are the left corner's; `--side right` prints"));
}

/// A battery box on the side that the scene doesn't describe stands in that side's tyre. The corner that is described is
/// clear, and only one is built where both are mirror images: the box must make them differ.
#[test]
fn a_part_of_the_body_on_the_other_side_is_met_by_that_sides_tyre() {
    let scene = demo("crake");
    assert_eq!(
        built(&scene).corners.len(),
        1,
        "the case needs an even truck"
    );
    let plain = sweep(&built(&scene), &SweepOptions::default(), &|_, _| {});
    let own = scene.knuckle.wheel_centre;
    for (both_ways, y) in [(false, -own.1), (false, own.1)] {
        let mut uneven = scene.clone();
        uneven.underbody.push(Underbody {
            name: "battery box".to_owned(),
            on: CarriedBy::Frame,
            // Just ahead of the tyre as measured: steered, the tyre turns into it.
            shape: ShapeEntry::Box {
                centre: Point(own.0 + 14.5, y * 0.8, own.2 + 2.0),
                size: Point(2.0, 4.0, 6.0),
                turned_deg: None,
            },
            both_sides: both_ways,
        });
        let truck = built(&uneven);
        assert_eq!(truck.corners.len(), 2);
        let found = sweep(&truck, &SweepOptions::default(), &|_, _| {});
        let corners = std::iter::once(&found.worse).chain(&found.other);
        let rubs: Vec<Side> = corners
            .filter(|c| {
                let mut hits = c
                    .verdict
                    .violations()
                    .filter_map(|(_, stop, _)| stop.pair());
                hits.any(|(a, b)| [a, b].contains(&"battery box"))
            })
            .map(|c| c.side)
            .collect();
        let side = if y > 0.0 { Side::Left } else { Side::Right };
        assert_eq!(rubs, [side], "box at y = {y}");
        assert_eq!(found.worse.side, side);
        let rub = found.worse.first_tyre_rub.as_ref().expect("a rub");
        assert_eq!(rub.class, ContactClass::TyreRub);
        assert_ne!(status(&found), Status::Clear);
        let is_metal = |c: &bindpoint::findings::FirstContact| c.class == ContactClass::Metal;
        let metal = found.worse.first_contacts.iter().filter(|c| is_metal(c));
        assert!(
            metal
                .clone()
                .all(|c| c.b != "battery box" && c.a != "battery box")
        );
    }
    let named = plain
        .worse
        .verdict
        .violations()
        .map(|(_, stop, _)| stop.clone());
    let named: Vec<StopId> = named.collect();
    assert!(named.iter().all(|s| s.pair().is_none()), "{named:?}");
}
