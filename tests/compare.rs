//! The comparison: its numbers are those of the sweeps, its words follow from its numbers.

use bindpoint::compare::{clearance_over_front_tyre, compare, largest_tyre};
use bindpoint::findings::{
    Comparison, ContactClass, Measure, MeasureGroup, Measured, Status, TravelDirection,
};
use bindpoint::ground::ground_findings;
use bindpoint::output::{Units, compare_text, ground_text};
use bindpoint::scene::{
    Change, Duty, Scene, Setup, Spacer, SpacerEffect, TravelAt, TravelShare, TyreSize, Wheels,
    scene_from_text,
};
use bindpoint::suspension::Side;
use bindpoint::sweep::{SweepOptions, position_findings, sweep};
use bindpoint::truck::{MeshStore, assemble_setup};
use std::path::PathBuf;

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("scenes")
}

fn scene(name: &str) -> Scene {
    let path = folder().join(format!("{name}.ron"));
    let text = std::fs::read_to_string(&path).expect("a demo scene");
    scene_from_text(&text, &path).expect("it reads")
}

fn compared(scene: &Scene, setups: &[&str]) -> Comparison {
    let setups: Vec<Option<String>> = setups
        .iter()
        .map(|s| (!s.is_empty()).then(|| (*s).to_owned()))
        .collect();
    let meshes = MeshStore::new(&folder());
    compare(scene, &setups, &meshes, false, &|_| {})
        .unwrap_or_else(|p| panic!("{p:?}"))
        .comparison
}

fn measure<'c>(comparison: &'c Comparison, key: &str, side: Side) -> &'c Measure {
    comparison
        .measures
        .iter()
        .find(|m| m.key == key && m.side == Some(side))
        .unwrap_or_else(|| panic!("no measure {key}"))
}

fn value(comparison: &Comparison, key: &str, column: usize) -> f64 {
    let measured: &Option<Measured> =
        &measure(comparison, key, comparison.leading_side).values[column];
    measured
        .as_ref()
        .unwrap_or_else(|| panic!("{key} in {column}"))
        .value
}

fn ride_height(up: f64) -> Change {
    Change::RideHeight {
        up,
        by: bindpoint::scene::RaisedBy::Preload,
    }
}

fn setup(name: &str, changes: Vec<Change>) -> Setup {
    Setup {
        name: name.to_owned(),
        on: None,
        changes,
    }
}

#[test]
fn its_numbers_are_those_of_the_sweep_and_the_pose() {
    let scene = scene("tarnwood");
    let names = ["", "differential spacers", "preload lift"];
    let comparison = compared(&scene, &names);
    let meshes = MeshStore::new(&folder());
    for (i, name) in names.iter().enumerate() {
        let chosen = (!name.is_empty()).then_some(*name);
        let truck = assemble_setup(&scene, chosen, &meshes).expect("it builds");
        let options = SweepOptions {
            rack_positions: 3,
            ..SweepOptions::default()
        };
        let found = sweep(&truck, &options, &|_, _| {});
        let side = comparison.leading_side;
        let corner = truck.corner(side).expect("built");
        let found = if found.worse.side == side {
            &found.worse
        } else {
            found.other.as_ref().expect("both sides")
        };
        let ride = corner.ride_height_mm;
        let straight = &found.free_travel[1];
        let at = |key: &str| value(&comparison, key, i);
        assert_eq!(at("free_droop_straight_mm"), straight.droop_mm + ride);
        assert_eq!(at("free_bump_straight_mm"), straight.bump_mm - ride);
        let pose = |travel: f64| {
            position_findings(
                &truck,
                corner,
                &corner.position(travel, 0.0).expect("reached"),
            )
        };
        assert_eq!(at("inner_joint_ride_deg"), pose(ride).inner_joint_deg);
        let droop = pose(-straight.droop_mm);
        assert_eq!(at("inner_joint_full_droop_deg"), droop.inner_joint_deg);
        assert_eq!(at("plunge_full_droop_mm"), droop.plunge_mm);
        assert_eq!(at("camber_ride_deg"), pose(ride).camber_deg);
        let ground = ground_findings(&truck, [0.0; 4]).expect("it stands");
        let lowest = ground.running_clearance_mm.expect("something hangs below");
        assert_eq!(at("running_clearance_mm"), lowest.value);
    }
}

#[test]
fn better_and_worse_follow_from_the_numbers() {
    let mut scene = scene("tarnwood");
    let spacer = Spacer {
        name: "top spacer".to_owned(),
        thickness: 25.4,
        adds: SpacerEffect::TotalLength,
    };
    scene.setups.push(setup(
        "inch spacer",
        vec![Change::DamperSpacer(spacer.into())],
    ));
    let columns = ["", "factory", "long damper", "preload lift", "inch spacer"];
    let comparison = compared(&scene, &columns);
    let [_, factory, damper, lift, spacer] = &comparison.columns[..] else {
        panic!("five columns");
    };
    assert!(factory.better.is_empty() && factory.worse.is_empty());
    assert!(factory.no_longer_fits.is_empty());
    let says = |list: &[String], what: &str| list.iter().any(|text| text.starts_with(what));
    assert!(says(
        &damper.better,
        "free droop, straight ahead: 80.1 mm -> 127.4 mm"
    ));
    assert!(says(
        &damper.worse,
        "inner joint at full droop: 11.8 deg -> 17.6 deg"
    ));
    // A spacer on top moves the closed body too, past the bump stop on the frame; a longer damper closes by half of its
    // growth longer, 0.3 mm short of that.
    let bottoms = "the damper body bottoms before the bump stop is crushed";
    assert!(spacer.no_longer_fits.iter().any(|t| t == bottoms));
    assert!(!damper.no_longer_fits.iter().any(|t| t == bottoms));
    assert!(says(&lift.better, "free bump, straight ahead"));
    assert!(says(&lift.worse, "free droop, straight ahead"));
    assert!(!says(&lift.worse, "inner joint at full droop"));
    assert_eq!(lift.verdict, Some(Status::Clear));
}

#[test]
fn both_sides_are_measured_and_the_worse_leads() {
    let comparison = compared(&scene("hollin"), &["", "shorter strap"]);
    assert!(comparison.sides_differ);
    let leading = comparison.leading_side;
    for side in [leading, leading.opposite()] {
        let droop = measure(&comparison, "free_droop_straight_mm", side);
        assert!(droop.values.iter().all(Option::is_some));
    }
    // Both inner joints sit elsewhere, so their angles differ.
    let angle = |side| measure(&comparison, "inner_joint_full_droop_deg", side).values[0].clone();
    assert_ne!(angle(leading), angle(leading.opposite()));
}

#[test]
fn a_setup_that_cannot_be_built_is_a_column_that_says_why() {
    let mut scene = scene("crake");
    let stubby = Change::Damper {
        side: None,
        longer: Some(-8.0),
        body_gains: None,
        extended: None,
        compressed: None,
        upper_mount: None,
        lower_mount: None,
        upper_eye: None,
        lower_eye: None,
        parts: Vec::new(),
    };
    scene.setups.push(setup("stubby", vec![stubby]));
    let comparison = compared(&scene, &["", "stubby"]);
    let column = &comparison.columns[1];
    let why = column.cannot_be_built.as_deref().expect("it can't");
    assert!(why.contains("past its limit"), "{why}");
    assert_eq!(column.verdict, None);
    assert!(comparison.measures.iter().all(|m| m.values[1].is_none()));
}

/// One computation: the same figure to the last digit in every demo and every setup of it, as compared and as `ground`
/// has it. The corner's own parts over the front tyre alone read 290 in `crake.ron` with its bracket off, where the sump
/// hangs at 238.
#[test]
fn running_clearance_is_that_of_ground_in_every_demo_and_setup() {
    let meshes = MeshStore::new(&folder());
    for name in ["crake", "tarnwood", "hollin"] {
        let scene = scene(name);
        let comparison = compared(&scene, &[]);
        let leading = comparison.leading_side;
        let text = compare_text(&comparison, Units::Mm);
        for (i, column) in comparison.columns.iter().enumerate() {
            let setup = scene.setups.iter().find(|s| s.name == column.name);
            let truck = assemble_setup(&scene, setup.map(|s| s.name.as_str()), &meshes);
            let Ok(truck) = truck else {
                assert!(column.cannot_be_built.is_some(), "{name} {}", column.name);
                continue;
            };
            let ground = ground_findings(&truck, [0.0; 4]).expect("it stands");
            let page = ground_text(&ground, &[], Units::Mm);
            let there = ground.running_clearance_mm.expect("something hangs below");
            for side in [leading, leading.opposite()] {
                let rows = comparison.measures.iter();
                let row = rows
                    .filter(|m| m.key == "running_clearance_mm")
                    .find(|m| m.side == Some(side));
                let Some(row) = row else {
                    assert!(side != leading && !comparison.sides_differ);
                    continue;
                };
                let here = row.values[i].as_ref().expect("a figure");
                let place = format!("{name}, {}", column.name);
                assert_eq!(here.value, there.value, "{place}");
                assert_eq!(here.by.as_ref(), Some(&there.part), "{place}");
            }
            // And as it is printed: the figure in `ground`'s row stands in `compare`'s.
            let figure = |page: &str, word: usize| -> String {
                let row = page
                    .lines()
                    .find(|l| l.starts_with("running clearance, mm"))
                    .expect("a row");
                let words: Vec<&str> = row["running clearance, mm".len()..]
                    .split_whitespace()
                    .collect();
                words[word].trim_end_matches(['+', '!', '~']).to_owned()
            };
            // Columns beyond the first page stand in a later table.
            if i <= 7 {
                assert_eq!(
                    figure(&text, i),
                    figure(&page, 0),
                    "{name}, {}",
                    column.name
                );
            }
        }
        if name == "crake" {
            let off = comparison
                .columns
                .iter()
                .position(|c| c.name == "bracket off");
            let mm = value(&comparison, "running_clearance_mm", off.expect("a setup"));
            assert!((237.5..238.5).contains(&mm), "{mm}");
        }
    }
}

/// Without a rear axle the truck doesn't stand on anything: the simpler figure has its own name and is explained.
#[test]
fn without_a_rear_axle_no_figure_is_called_running_clearance() {
    let mut scene = scene("crake");
    scene.rear = None;
    scene.wheel_springs = None;
    scene.underbody.clear();
    scene.obstacles.clear();
    let comparison = compared(&scene, &["", "bracket off"]);
    let named = |key: &str| comparison.measures.iter().find(|m| m.key == key);
    assert!(named("running_clearance_mm").is_none());
    let row = named("clearance_over_front_tyre_mm").expect("the simpler figure");
    assert!(row.label.contains("front tyre"), "{}", row.label);
    let truck = assemble_setup(&scene, None, &MeshStore::new(&folder())).expect("it builds");
    let lowest = clearance_over_front_tyre(&truck.corners[0]).expect("something hangs below");
    assert_eq!(
        row.values[0].as_ref().expect("a figure").value,
        lowest.clearance_mm
    );
    let says = |w: &String| w.contains("no rear axle") && w.contains("running clearance");
    assert!(
        comparison.warnings.iter().any(says),
        "{:?}",
        comparison.warnings
    );
}

/// What a longer sweep finds is never less than what the comparison calls proved, and no mark stands where the two
/// leave open which is larger.
#[test]
fn least_gaps_carry_what_is_proved_and_marks_rest_on_it() {
    let scene = scene("hollin");
    let setups = ["", "shorter strap", "skid plate off"];
    let comparison = compared(&scene, &setups);
    let meshes = MeshStore::new(&folder());
    let options = SweepOptions {
        rack_positions: 13,
        ..SweepOptions::default()
    };
    let gaps = |side: Side| {
        let rows = comparison
            .measures
            .iter()
            .filter(move |m| m.side == Some(side));
        rows.filter(|m| m.group == MeasureGroup::Gaps)
    };
    let mut below = 0;
    for (i, name) in setups.iter().enumerate().take(2) {
        let chosen = (!name.is_empty()).then_some(*name);
        let truck = assemble_setup(&scene, chosen, &meshes).expect("it builds");
        let found = sweep(&truck, &options, &|_, _| {});
        for corner in std::iter::once(&found.worse).chain(&found.other) {
            for gap in &corner.tightest_gaps {
                let label = format!("{} - {}", gap.a, gap.b);
                let row = gaps(corner.side)
                    .find(|m| m.label == label)
                    .expect("compared");
                let here = row.values[i].as_ref().expect("a gap");
                let proved = here.at_least.expect("a least gap carries what is proved");
                assert!(proved <= here.value, "{label}: {here:?}");
                assert!(
                    gap.gap_mm >= proved - 1.0e-9,
                    "{label}: {here:?}, {}",
                    gap.gap_mm
                );
                below += usize::from(gap.gap_mm < here.value - 1.0);
            }
        }
    }
    // Upper estimates they are: the longer sweep comes below some by millimetres.
    assert!(below > 0);
    // With the skid plate off nothing that moves is any nearer to or further from anything.
    let text = compare_text(&comparison, Units::Mm);
    assert!(text.contains("  proved"), "{text}");
    let says = comparison.columns[2]
        .better
        .iter()
        .chain(&comparison.columns[2].worse);
    assert!(
        says.clone().all(|s| !s.starts_with("gap ")),
        "{:?}",
        says.collect::<Vec<_>>()
    );
    // A sentence stands only where the ranges are apart.
    for column in [1, 2] {
        let head = &comparison.columns[column];
        for (list, more) in [(&head.better, true), (&head.worse, false)] {
            for sentence in list.iter().filter_map(|s| s.strip_prefix("gap ")) {
                let row = gaps(comparison.leading_side)
                    .find(|m| sentence.starts_with(&format!("{}: ", m.label)))
                    .expect("its row");
                let [a, b] = [0, column].map(|i| row.values[i].as_ref().expect("a gap"));
                let (low, high) = if more { (a, b) } else { (b, a) };
                assert!(low.value < high.at_least.expect("proved"), "{sentence}");
            }
        }
    }
}

/// The index is load times sliding: none without load, more with more angle, the same ratio at any load.
#[test]
fn wear_is_zero_at_zero_torque_and_grows_with_the_angle() {
    let mut scene = scene("crake");
    scene.setups.clear();
    for up in [0.5, 1.0, 1.5] {
        scene
            .setups
            .push(setup(&format!("up {up}"), vec![ride_height(up)]));
    }
    let duty = |name: &str, torque_share: f64| Duty {
        name: name.to_owned(),
        speed_kmh: 50.0,
        torque_share,
        travel: vec![TravelShare {
            at: TravelAt::FromRide(0.0),
            share: 1.0,
        }],
        steer: Vec::new(),
    };
    scene.duties = vec![duty("none", 0.0), duty("some", 0.2), duty("more", 0.8)];
    let comparison = compared(&scene, &["", "up 0.5", "up 1", "up 1.5"]);
    for joint in ["outer", "inner"] {
        let at = |duty: &str, i: usize| value(&comparison, &format!("wear_{joint}_{duty}"), i);
        for i in 0..4 {
            assert_eq!(at("none", i), 0.0);
            assert!((at("some", i) - at("more", i)).abs() < 1.0e-12);
        }
        assert_eq!(at("some", 0), 1.0);
        let angle = |i| value(&comparison, &format!("{joint}_joint_ride_deg"), i);
        for i in 1..4 {
            assert!(angle(i) > angle(i - 1), "{joint}");
            assert!(at("some", i) > at("some", i - 1), "{joint}");
        }
    }
    let notes = comparison.wear_notes.join(" ");
    assert!(
        notes.contains("no life") && notes.contains("boots"),
        "{notes}"
    );
}

#[test]
fn a_duty_that_says_nothing_is_refused_at_its_place() {
    let mut scene = scene("crake");
    let good = Duty {
        name: "some".to_owned(),
        speed_kmh: 50.0,
        torque_share: 0.2,
        travel: Vec::new(),
        steer: Vec::new(),
    };
    scene.duties = vec![good];
    let meshes = MeshStore::new(&folder());
    let problem = compare(&scene, &[None], &meshes, false, &|_| {}).expect_err("no travel");
    assert_eq!(problem.path, "duties[0].travel");
}

/// The tyre that clears is proved by the sweep itself, and the next one up is refuted by it.
#[test]
fn the_largest_tyre_clears_and_one_step_more_does_not() {
    let mut scene = scene("tarnwood");
    let meshes = MeshStore::new(&folder());
    // Wider ones stand out into the fender's lip at any diameter.
    let width_mm = 265.0;
    let found = largest_tyre(&scene, None, Some(width_mm), &meshes).expect("a tyre is fitted");
    let clears = found.clears_diameter_mm.expect("some tyre clears");
    let refuted = found.not_proved_diameter_mm.expect("some tyre doesn't");
    assert!(refuted > clears && refuted - clears <= 0.5);
    assert!(!found.limits.is_empty());
    let tyre = |diameter: f64| {
        setup(
            &format!("{diameter}"),
            vec![Change::Tyre {
                size: TyreSize::Measured {
                    diameter,
                    width: width_mm,
                    rim_diameter: 17.0 * 25.4,
                },
                loaded_radius: None,
                wheels: Wheels::All,
            }],
        )
    };
    scene.setups = vec![tyre(clears), tyre(refuted)];
    for (diameter, fits) in [(clears, true), (refuted, false)] {
        let truck = assemble_setup(&scene, Some(&format!("{diameter}")), &meshes).expect("built");
        let found = sweep(&truck, &SweepOptions::default(), &|_, _| {});
        let corners = std::iter::once(&found.worse).chain(&found.other);
        let mut short = corners
            .flat_map(|c| &c.tightest_gaps)
            .filter(|g| (g.a == "tyre" || g.b == "tyre") && g.gap_mm < g.required_mm - 0.05);
        let first = short.next();
        if fits {
            assert_eq!(first, None);
        } else {
            // Found missing, or within the gap's tolerance of it.
            let near = std::iter::once(&found.worse)
                .chain(&found.other)
                .flat_map(|c| &c.tightest_gaps)
                .any(|g| (g.a == "tyre" || g.b == "tyre") && g.gap_mm - g.required_mm < 0.5);
            assert!(first.is_some() || near);
        }
    }
}

#[test]
fn two_runs_say_the_same_to_the_last_digit() {
    let scene = scene("crake");
    let runs = [0, 1].map(|_| serde_json::to_string(&compared(&scene, &[])).expect("JSON"));
    assert_eq!(runs[0], runs[1]);
}

#[test]
fn a_tyre_that_nothing_is_watched_against_is_not_called_clear() {
    let mut scene = scene("crake");
    scene.watch.retain(|w| w.a != "tyre");
    for watch in &mut scene.watch {
        if watch.a == "*" && watch.b == "*" {
            watch.a = "lower arm*".to_owned();
            watch.b = "frame rail".to_owned();
        }
    }
    let problem =
        largest_tyre(&scene, None, None, &MeshStore::new(&folder())).expect_err("nothing is known");
    assert_eq!(problem.path, "watch");
}

#[test]
fn wear_has_no_ratio_where_the_first_column_cannot_do_the_duty() {
    let mut scene = scene("crake");
    scene.duties = vec![Duty {
        name: "deep".to_owned(),
        speed_kmh: 20.0,
        torque_share: 1.0,
        travel: vec![TravelShare {
            at: TravelAt::FromRide(-9.5),
            share: 1.0,
        }],
        steer: Vec::new(),
    }];
    scene.setups = vec![setup("lowered", vec![ride_height(-2.0)])];
    let comparison = compared(&scene, &["", "lowered"]);
    let deep: Vec<_> = comparison
        .measures
        .iter()
        .filter(|m| m.key == "wear_outer_deep")
        .collect();
    for measure in deep {
        assert!(measure.values.iter().flatten().all(|v| v.value.is_finite()));
        assert!(measure.values[0].is_some() || measure.values[1].is_none());
    }
}

/// With nothing of a body around the wheels but a bumper; a fender above takes that direction off the list.
#[test]
fn the_tyre_is_not_known_where_nothing_is_drawn_around_it() {
    use bindpoint::suspension::TyreSector;
    let mut scene = scene("crake");
    scene.underbody.retain(|part| part.name.contains("bumper"));
    let meshes = MeshStore::new(&folder());
    let bare = largest_tyre(&scene, None, None, &meshes).expect("a tyre is fitted");
    let bare = bare.surroundings.expect("looked around");
    // Inches: twice the tyre's radius at least.
    assert!(bare.within_mm >= 25.2 * 25.4);
    assert_eq!(bare.places.len(), 6);
    let listed = |s: &bindpoint::findings::TyreSurroundings, sector: TyreSector| {
        let mut all = s.nothing_drawn.iter().filter(|n| n.sector == sector);
        all.next().map(|n| n.at.len())
    };
    for sector in [
        TyreSector::AboveAhead,
        TyreSector::Above,
        TyreSector::AboveBehind,
        TyreSector::Behind,
        TyreSector::Outboard,
    ] {
        // At a lock the tyre's front turns in below the frame rail.
        assert!(
            listed(&bare, sector).is_some_and(|places| places >= 4),
            "{sector:?}"
        );
    }
    assert_eq!(listed(&bare, TyreSector::Inboard), None);
    let above = bare
        .nothing_drawn
        .iter()
        .find(|n| n.sector == TyreSector::Above);
    assert!(above.expect("listed").draw.contains("fender"));
    let fender = bindpoint::scene::PartEntry {
        name: "fender".to_owned(),
        shape: bindpoint::scene::ShapeEntry::Box {
            centre: bindpoint::scene::Point(0.0, -26.31, 33.0),
            size: bindpoint::scene::Point(20.0, 12.0, 0.5),
            turned_deg: None,
        },
        ..scene.parts[6].clone()
    };
    assert_eq!(scene.parts[6].name, "frame rail");
    scene.parts.push(fender);
    let drawn = largest_tyre(&scene, None, None, &meshes).expect("a tyre is fitted");
    let drawn = drawn.surroundings.expect("looked around");
    assert_eq!(listed(&drawn, TyreSector::Above), None);
    assert!(listed(&drawn, TyreSector::Behind).is_some());
}

/// A rub of the tyre is a row of its own: it hid the metal contact that comes before it.
#[test]
fn first_metal_contacts_and_first_tyre_rubs_are_rows_apart() {
    let scene = scene("tarnwood");
    let truck = assemble_setup(&scene, None, &MeshStore::new(&folder())).expect("a demo truck");
    let found = sweep(&truck, &SweepOptions::default(), &|_, _| {});
    let comparison = compared(&scene, &[""]);
    let ride_mm = found.worse.ride_height_mm;
    for contact in &found.worse.first_contacts {
        let key = match (contact.class, contact.direction) {
            (ContactClass::Metal, TravelDirection::Droop) => "first_contact_droop_mm",
            (ContactClass::Metal, TravelDirection::Bump) => "first_contact_bump_mm",
            (ContactClass::TyreRub, TravelDirection::Droop) => "first_tyre_rub_droop_mm",
            (ContactClass::TyreRub, TravelDirection::Bump) => "first_tyre_rub_bump_mm",
        };
        let wanted = contact.direction.sign() * (contact.travel_mm - ride_mm);
        // Both are within a bracket of the first.
        let there = measure(&comparison, key, found.worse.side).values[0].as_ref();
        let there = there.expect("it is met").value;
        assert!((there - wanted).abs() < 0.03, "{key}: {there} {wanted}");
    }
    let classes = |class| found.worse.first_contacts.iter().any(|c| c.class == class);
    assert!(classes(ContactClass::Metal) && classes(ContactClass::TyreRub));
}
