//! The truck on the ground: angles by their closed forms, clearances by what a change gives and takes.
//!
//! Sources: definitions of 49 CFR 523.2; closed forms for one point at height h, d ahead of an axle with loaded radius
//! r, atan2(h - r, d) + asin(r / sqrt(d^2 + (h - r)^2)), derived from them, and the values derived from those.

mod table;

use bindpoint::findings::{DriveFindings, GroundFindings};
use bindpoint::ground::{
    Course, DriveError, Springing, Suspension, Vehicle, VehicleError, WheelSuspension, drive,
    ground_findings,
};
use bindpoint::output::{Units, drive_text};
use bindpoint::scene::{
    CarriedBy, Change, ObstacleShape, Point, Rear, Scene, ShapeEntry, Underbody, Wheels,
    scene_from_text,
};
use bindpoint::truck::{MeshStore, Truck, WheelSpring, assemble, assemble_setup};
use std::path::PathBuf;
use table::Table;

fn drive_over(truck: &Truck, name: &str) -> Result<DriveFindings, DriveError> {
    drive(&Course::new(truck, name, 1.0, Suspension::usual(truck))?)
}

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("scenes")
}

fn scene(name: &str) -> Scene {
    let path = folder().join(format!("{name}.ron"));
    let text = std::fs::read_to_string(&path).expect("a demo scene");
    scene_from_text(&text, &path).expect("it reads")
}

/// Tarnwood's wheels at loaded radius `r` and wheelbase `l`, standing on z = 0, with nothing but one small ball.
fn one_point(r: f64, l: f64, point: Point) -> GroundFindings {
    let mut scene = scene("tarnwood");
    scene.parts.clear();
    scene.watch.clear();
    scene.joined.clear();
    scene.setups.clear();
    scene.obstacles.clear();
    scene.knuckle.wheel_centre = Point(0.0, 815.0, r);
    scene.knuckle.loaded_radius = r;
    scene.rear = Some(Rear {
        wheelbase: l,
        half_track: 815.0,
        wheel_centre_z: r,
        loaded_radius: r,
        tyre_width: 265.0,
        travel: None,
    });
    scene.wheel_springs = None;
    scene.underbody = vec![Underbody {
        name: "point".to_owned(),
        on: CarriedBy::Frame,
        shape: ShapeEntry::Ball {
            centre: point,
            radius: BALL_MM,
        },
        both_sides: false,
    }];
    let truck = assemble(&scene, &folder()).unwrap_or_else(|p| panic!("{p:?}"));
    ground_findings(&truck, [0.0; 4]).expect("it stands")
}

/// Small enough for a point: it moves an angle by less than its radius over a distance of half a metre.
const BALL_MM: f64 = 1.0e-4;

#[test]
fn approach_and_departure_of_one_point_follow_their_closed_form() {
    // r = 400, d = 900, h = 500: 32.55426 degrees (derived).
    let ahead = one_point(400.0, 2_900.0, Point(900.0, 0.0, 500.0));
    let found = ahead.approach_deg.expect("a point ahead");
    assert_eq!(found.part, "point");
    assert!((found.value - 32.55426).abs() < 5.0e-5, "{}", found.value);
    let behind = one_point(400.0, 2_900.0, Point(-3_800.0, 0.0, 500.0));
    let found = behind.departure_deg.expect("a point behind");
    assert!((found.value - 32.55426).abs() < 5.0e-5, "{}", found.value);
}

#[test]
fn breakover_of_a_middle_point_follows_the_tangent_definition() {
    // r = 15.5 in; c / L = 12/100 gives 28.02 degrees, 15/120 gives 28.99 (derived); the popular formula from the
    // contact points would read 26.99 and 28.07.
    for (c, l, degrees) in [(12.0, 100.0, 28.02), (15.0, 120.0, 28.99)] {
        let (c, l, r) = (c * 25.4, l * 25.4, 15.5 * 25.4);
        let found = one_point(r, l, Point(-0.5 * l, 0.0, c));
        let found = found.breakover_deg.expect("a point between");
        assert!((found.value - degrees).abs() < 0.0051, "{}", found.value);
    }
}

#[test]
fn a_flat_belly_breaks_over_between_its_corners() {
    let mut scene = scene("tarnwood");
    scene.underbody = vec![Underbody {
        name: "belly".to_owned(),
        on: CarriedBy::Frame,
        shape: ShapeEntry::Box {
            centre: Point(-1_450.0, 0.0, 300.0),
            size: Point(1_200.0, 600.0, 100.0),
            turned_deg: None,
        },
        both_sides: false,
    }];
    let truck = assemble(&scene, &folder()).expect("it builds");
    let found = ground_findings(&truck, [0.0; 4]).expect("it stands");
    let touching = found.breakover_deg.expect("a belly");
    assert_eq!(touching.part, "belly");
    // Midway between equal wheels the two lines are flattest: c = 250 - 13, L = 2900, r = 387.
    assert!((touching.point_mm[0] + 1_450.0).abs() < 1.0, "{touching:?}");
    let (half, rise, r) = (1_450.0_f64, 237.0_f64 - 387.0, 387.0_f64);
    let one = rise.atan2(half) + (r / half.hypot(rise)).asin();
    assert!((touching.value - 2.0 * one.to_degrees()).abs() < 1.0e-3);
}

#[test]
fn setups_carry_over_to_the_ground() {
    let mut scene = scene("tarnwood");
    let tyres = scene.setups.iter().find(|s| s.name == "285 tyres");
    let mut front = tyres.expect("a setup").clone();
    front.name = "front tyres".to_owned();
    for change in &mut front.changes {
        if let Change::Tyre { wheels, .. } = change {
            *wheels = Wheels::Front;
        }
    }
    scene.setups.push(front);
    let meshes = MeshStore::new(&folder());
    let at = |setup: Option<&str>| {
        let truck = assemble_setup(&scene, setup, &meshes).expect("it builds");
        ground_findings(&truck, [0.0; 4]).expect("it stands")
    };
    let (plain, tyres) = (at(None), at(Some("front tyres")));
    let skid = |f: &GroundFindings| {
        let part = f
            .parts
            .iter()
            .find(|p| p.part == "skid plate")
            .expect("a plate");
        part.clearance_mm
    };
    // Bigger front tyres alone lift the front by half of their diameter's gain; the plate hangs near the front axle
    // and is lifted by its share along the wheelbase.
    let gain = skid(&tyres) - skid(&plain);
    assert!((12.0..14.0).contains(&gain), "{gain}");
    assert!(tyres.pitch_deg > plain.pitch_deg + 0.1);
    // All four lift it by half of what the diameter gains, 28 mm, without tilting it.
    let all = at(Some("285 tyres"));
    assert!((skid(&all) - skid(&plain) - 14.0).abs() < 1.0e-6);
    assert!((all.pitch_deg - plain.pitch_deg).abs() < 1.0e-6);
    assert!(skid(&at(Some("differential spacers"))) < skid(&plain) - 20.0);
    let lowered = skid(&plain) - skid(&at(Some("low skid plate")));
    assert!((lowered - 60.0).abs() < 1.0e-9, "{lowered}");
}

#[test]
fn wheel_travel_moves_the_body_over_the_wheels() {
    let truck = assemble(&scene("tarnwood"), &folder()).expect("it builds");
    let level = ground_findings(&truck, [0.0; 4]).expect("it stands");
    let squat = ground_findings(&truck, [0.0, 0.0, 40.0, 40.0]).expect("it stands");
    // The rear wheels 40 mm up in their arches: nose up by 40 over the wheelbase.
    let pitch = (40.0_f64 / 2_900.0).asin().to_degrees();
    assert!((squat.pitch_deg - level.pitch_deg - pitch).abs() < 1.0e-3);
    let lean = ground_findings(&truck, [20.0, -20.0, 20.0, -20.0]).expect("it stands");
    assert!(lean.roll_deg < -1.0, "{}", lean.roll_deg);
}

#[test]
fn every_demo_scene_stands_and_drives() {
    for name in ["tarnwood", "hollin", "crake"] {
        let scene = scene(name);
        let truck = assemble(&scene, &folder()).unwrap_or_else(|p| panic!("{name}: {p:?}"));
        let ground = ground_findings(&truck, [0.0; 4]).expect(name);
        assert!(
            ground.running_clearance_mm.is_some_and(|t| t.value > 100.0),
            "{name}"
        );
        for obstacle in &scene.obstacles {
            let found = drive_over(&truck, &obstacle.name)
                .unwrap_or_else(|e| panic!("{name} {}: {e}", obstacle.name));
            assert!(
                found.undecided.is_empty(),
                "{name} {}: {:?}",
                obstacle.name,
                found.undecided
            );
            assert!(
                found
                    .contacts
                    .windows(2)
                    .all(|w| w[0].driven_mm <= w[1].driven_mm)
            );
        }
    }
}

#[test]
fn a_lowered_skid_plate_hits_a_ledge_that_the_tyres_climb() {
    let scene = scene("tarnwood");
    let meshes = MeshStore::new(&folder());
    let over = |setup: Option<&str>, obstacle: &str| {
        let truck = assemble_setup(&scene, setup, &meshes).expect("it builds");
        drive_over(&truck, obstacle).expect("a drive")
    };
    for ledge in ["ledge", "ledge, left wheel"] {
        assert!(over(None, ledge).contacts.is_empty(), "{ledge}");
    }
    let found = over(Some("low skid plate"), "ledge");
    let first = &found.contacts[0];
    assert_eq!(
        (first.part.as_str(), first.against.as_str()),
        ("skid plate", "ledge")
    );
    assert!(!first.tyre_climbing);
    let log = over(None, "log");
    assert!(!log.contacts.is_empty() && log.contacts[0].tyre_climbing);
}

#[test]
fn trucks_that_cannot_stand_are_refused_at_their_place() {
    let refused = |change: &dyn Fn(&mut Scene)| {
        let mut scene = scene("tarnwood");
        change(&mut scene);
        match assemble(&scene, &folder()) {
            Err(problem) => problem,
            Ok(_) => panic!("it was built"),
        }
    };
    let short = refused(&|s| s.rear.as_mut().expect("a rear axle").wheelbase = 700.0);
    assert_eq!(short.path, "rear.wheelbase");
    let zero = refused(&|s| {
        s.obstacles[2].shape = bindpoint::scene::ObstacleShape::Log { diameter: 0.0 };
    });
    assert_eq!(zero.path, "obstacles[2].shape.diameter");
    let steep = refused(&|s| s.rear.as_mut().expect("a rear axle").wheel_centre_z = 2_000.0);
    assert_eq!(steep.path, "rear.wheel_centre_z");
    let none = refused(&|s| s.rear = None);
    assert_eq!(none.path, "underbody");
}

/// `load_sharing_scipy.csv`: a convex quadratic programme, least potential energy, by scipy.optimize.
#[test]
fn four_springs_share_the_weight_as_the_least_energy_has_them() {
    const ROWS: usize = 240;
    // The table's own rows meet their constraints within 1e-9 mm; travel follows ground one to one.
    const MM: f64 = 1.0e-6;
    let table = Table::read("load_sharing_scipy.csv", ROWS);
    let mut hanging = 0;
    for row in table.rows() {
        let of = |name: &str| row.number(name);
        let wheel = |end: &str| WheelSuspension {
            spring: WheelSpring {
                load_n: of(&format!("in_{end}_load")),
                rate_n_per_mm: of(&format!("in_{end}_rate")),
            },
            travel_mm: [
                of(&format!("in_{end}_droop")),
                of(&format!("in_{end}_bump")),
            ],
        };
        let (front, rear) = (wheel("front"), wheel("rear"));
        // Loads on the four that change neither weight nor moments: moved across each axle, the other way at the
        // other.
        let (a, b) = (
            1.0 / of("in_front_half_track"),
            1.0 / of("in_rear_half_track"),
        );
        let twist = [a, -a, -b, b].map(|t| t / a.max(b));
        let springing = Springing::new([front, front, rear, rear], twist);
        let wheels = ["fl", "fr", "rl", "rr"];
        let ground = wheels.map(|w| of(&format!("in_ground_{w}")));
        let reach = springing.reach((0..4).map(|i| twist[i] * ground[i]).sum());
        let travel = springing.held(reach);
        for (i, name) in wheels.into_iter().enumerate() {
            let miss = travel[i] - of(&format!("out_travel_{name}"));
            assert!(miss.abs() < MM, "{} {name}: {miss}", row.place());
            let hang = of(&format!("out_hang_{name}"));
            hanging += usize::from(hang > 1.0);
            let miss = (travel[i] - reach[i]) - hang;
            assert!(miss.abs() < MM, "{} {name}: {miss}", row.place());
        }
    }
    assert!(hanging > 20, "{hanging}");
}

fn contacts_of(scene_name: &str, setup: Option<&str>, over: &str) -> DriveFindings {
    let meshes = MeshStore::new(&folder());
    let truck = assemble_setup(&scene(scene_name), setup, &meshes).expect("it builds");
    let found = drive_over(&truck, over).expect("a drive");
    assert!(found.undecided.is_empty(), "{:?}", found.undecided);
    found
}

#[test]
fn the_demo_obstacles_show_what_they_are_for() {
    // A lowered skid plate meets the ledge that the tyres climb; unlowered it clears.
    assert!(contacts_of("tarnwood", None, "ledge").contacts.is_empty());
    let low = contacts_of("tarnwood", Some("low skid plate"), "ledge");
    assert_eq!(low.contacts[0].part, "skid plate");
    // Met by one wheel only: the truck rolls.
    let one = contacts_of("tarnwood", None, "ledge, left wheel");
    assert!(one.curve.iter().any(|row| row.roll_deg > 3.0));
    // A log under the breakover: met between the axles.
    let log = &contacts_of("tarnwood", None, "log").contacts[0];
    assert!(
        (-2_900.0..0.0).contains(&log.point_on_part_mm[0]),
        "{log:?}"
    );
    // A boulder that meets the differential housing once the tyres climb its flanks.
    let boulder = contacts_of("hollin", Some("skid plate off"), "boulder");
    let first = &boulder.contacts[0];
    assert_eq!(first.part, "differential housing");
    assert!(first.tyre_climbing);
}

#[test]
fn a_rear_axle_leans_with_its_wheels() {
    let truck = assemble(&scene("tarnwood"), &folder()).expect("it builds");
    let vehicle = Vehicle::held(&truck, [0.0, 0.0, 60.0, -40.0]).expect("it stands");
    let posture = vehicle.posture([0.0, 0.0, 60.0, -40.0]).expect("it stands");
    let [.., left, right] = posture.wheels;
    // Apart by a track, 100 mm of it upright; each wheel where its travel says.
    assert!(((left - right).norm() - 1_630.0).abs() < 1.0e-9);
    assert!((left.z - 460.0).abs() < 1.0e-9 && (right.z - 360.0).abs() < 1.0e-9);
    assert_eq!(
        Vehicle::held(&truck, [0.0, 0.0, 1_300.0, -1_300.0]).map(|_| ()),
        Err(VehicleError::AxleTooTilted(2_600.0))
    );
}

#[test]
fn springs_that_make_no_sense_are_named() {
    let problem = |change: &dyn Fn(&mut Scene)| {
        let mut scene = scene("tarnwood");
        change(&mut scene);
        let found = assemble(&scene, &folder())
            .map(|_| ())
            .expect_err("a mistake");
        format!("{found:?}")
    };
    let no_travel = problem(&|s| s.rear.as_mut().expect("it has one").travel = None);
    assert!(no_travel.contains("rear.travel"), "{no_travel}");
    let no_rate = problem(&|s| s.wheel_springs.as_mut().expect("it has them").front.rate = 0.0);
    assert!(no_rate.contains("wheel_springs.front.rate"), "{no_rate}");
    let no_rear = problem(&|s| {
        s.rear = None;
        s.underbody.clear();
        s.obstacles.clear();
    });
    assert!(no_rear.contains("wheel_springs"), "{no_rear}");
}

/// A ledge of 384 mm: the skid plate meets it first, and further on, where a tyre stands on its edge, the drive is undecided.
/// What was found is said first, and no row is printed of what lies beyond.
#[test]
fn a_contact_is_found_though_what_lies_beyond_it_is_undecided_and_no_row_is_printed_beyond() {
    let truck = assemble(&scene("tarnwood"), &folder()).expect("a demo");
    let course = Course::new(&truck, "ledge", 1.6, Suspension::usual(&truck)).expect("a course");
    let found = drive(&course).expect("it drives");
    assert!(!found.contacts.is_empty() && !found.undecided.is_empty());
    let end = found.curve.last().expect("rows").front_axle_mm;
    assert!(
        found.decided_to_mm < end,
        "{} of {end}",
        found.decided_to_mm
    );
    let text = drive_text(&found, &[], Units::Mm);
    let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
    let head = "FOUND. skid plate hits first. What lies further on stayed undecided";
    assert!(words.contains(head), "{text}");
    let rows = text
        .lines()
        .skip_while(|line| !line.starts_with("front axle  least"));
    let places = rows
        .skip(2)
        .map_while(|line| line.split_whitespace().next()?.parse::<f64>().ok());
    let places: Vec<f64> = places.collect();
    assert!(places.len() > 3, "{text}");
    assert!(
        places.iter().all(|at| *at <= found.decided_to_mm),
        "{places:?}"
    );
}

/// Where the truck begins its way must not decide how near it comes: a tyre that begins to climb changes the clearance at once.
#[test]
fn the_least_clearance_of_a_drive_hangs_little_on_where_the_truck_begins() {
    let mut scene = scene("tarnwood");
    let mut least = |ahead: f64| {
        scene.obstacles[0].ahead = Some(ahead);
        let truck = assemble(&scene, &folder()).expect("it stands");
        let found = drive_over(&truck, "ledge").expect("it drives");
        let rows = found.curve.iter().map(|row| row.clearance_mm);
        rows.fold(f64::INFINITY, f64::min)
    };
    let all: Vec<f64> = (0..6).map(|i| least(1500.0 + 7.0 * f64::from(i))).collect();
    let [low, high] = [f64::min, f64::max].map(|f| all.iter().copied().reduce(f).expect("some"));
    // Steps of 20 mm alone leave 4 mm between these.
    assert!(high - low < 0.3, "{all:?}");
}

/// A closed prism: an outline in (x, z), counter-clockwise seen from the right, from one place across the track to another.
fn prism(outline: &[[f64; 2]], across: [f64; 2]) -> Vec<[[f64; 3]; 3]> {
    let at = |i: usize, side: usize| {
        let [x, z] = outline[i % outline.len()];
        [x, across[side], z]
    };
    let mut out = Vec::new();
    for i in 0..outline.len() {
        let [a, b, c, d] = [at(i, 0), at(i + 1, 0), at(i + 1, 1), at(i, 1)];
        out.extend([[a, b, c], [a, c, d]]);
    }
    for i in 1..outline.len() - 1 {
        out.push([at(0, 0), at(i + 1, 0), at(i, 0)]);
        out.push([at(0, 1), at(i, 1), at(i + 1, 1)]);
    }
    out
}

/// A reviewer's false CLEAR: a ramp lifts one side's wheels, which carry them outward, into a post that the drive had them
/// pass, each tyre being kept at its place across the track at ride height.
#[test]
fn a_post_that_a_tyre_may_reach_sideways_is_not_passed_for_certain() {
    let text = std::fs::read_to_string(folder().join("crake.ron")).expect("a demo scene");
    let clears = |gap_mm: f64, with_ramp: bool| {
        let place = tempfile::tempdir().expect("a folder");
        let mut scene = scene_from_text(&text, &place.path().join("a.ron")).expect("it reads");
        // Right corner described, inches: the right tyres' outer side at ride height, mm.
        let outer_mm = 25.4 * scene.knuckle.wheel_centre.1 - 0.5 * tyre_width_mm(&scene);
        let ramp = [[0.0, 0.0], [3000.0, 0.0], [2400.0, 100.0], [600.0, 100.0]];
        let post = [
            [1200.0, 0.0],
            [1400.0, 0.0],
            [1400.0, 600.0],
            [1200.0, 600.0],
        ];
        let mut triangles = prism(&post, [outer_mm - gap_mm - 150.0, outer_mm - gap_mm]);
        if with_ramp {
            // Its side lies well within the tyre's width and beyond, but for the post.
            triangles.extend(prism(&ramp, [outer_mm - gap_mm, outer_mm + 400.0]));
        }
        let solid = triangles.iter().map(|t| {
            let corners = t.map(|[x, y, z]| format!("vertex {x} {y} {z}"));
            format!(
                "facet normal 0 0 0\nouter loop\n{}\nendloop\nendfacet\n",
                corners.join("\n")
            )
        });
        let stl = format!("solid a\n{}endsolid a\n", solid.collect::<String>());
        std::fs::write(place.path().join("ramp.stl"), stl).expect("written");
        let ys = triangles.iter().flatten().map(|p| p[1]);
        let [low, high] = ys.fold([f64::INFINITY, f64::NEG_INFINITY], |e, y| {
            [e[0].min(y), e[1].max(y)]
        });
        scene.obstacles = vec![bindpoint::scene::Obstacle {
            name: "ramp and post".to_owned(),
            shape: ObstacleShape::Mesh {
                file: "ramp.stl".to_owned(),
                unit: Some(bindpoint::scene::MeshUnit::Mm),
                middle_y: 0.5 * (low + high) / 25.4,
                sunk: 0.0,
            },
            across: None,
            ahead: None,
        }];
        let truck = assemble(&scene, place.path()).unwrap_or_else(|p| panic!("{p:?}"));
        let found = drive_over(&truck, "ramp and post").expect("it drives");
        let is_clear = found.contacts.is_empty()
            && found.tyres_stop_at_mm.is_none()
            && found.undecided.is_empty();
        (is_clear, found)
    };
    let (is_clear, found) = clears(0.6, true);
    assert!(!is_clear, "{:?}", found.undecided);
    assert!(
        found
            .undecided
            .iter()
            .any(|why| why.contains("across the track"))
            || !found.contacts.is_empty(),
        "{found:?}"
    );
    let (is_clear, found) = clears(120.0, false);
    assert!(is_clear, "{:?} {:?}", found.undecided, found.contacts);
}

fn tyre_width_mm(scene: &Scene) -> f64 {
    bindpoint::setups::fitted_measures(scene)
        .expect("a tyre")
        .width_mm
}

/// A truck on struts with few parts, in setups that move one or both front wheels.
fn with_moved_wheels() -> Scene {
    let mut scene = scene("whinchat");
    let text = "[(name: \"spacer left\", changes: [WheelOffset(side: left, outboard: 20)]), \
                (name: \"back\", changes: [Knuckle(wheel_centre: (-25, 790, 350))])]";
    let moved = std::fs::read_to_string(folder().join("whinchat.ron")).expect("a demo scene");
    let (head, _) = moved.split_once("    setups: [").expect("it has setups");
    let text = format!("{head}    setups: {text},\n)\n");
    let read = scene_from_text(&text, &folder().join("a.ron")).expect("it reads");
    scene.setups = read.setups;
    scene.parts.retain(|part| part.name == "tyre");
    scene
        .watch
        .retain(|watch| watch.a == "*" && watch.b == "*" || watch.a == "tyre");
    scene.joined.clear();
    scene.rear = Some(Rear {
        wheelbase: 2600.0,
        half_track: 790.0,
        wheel_centre_z: 350.0,
        loaded_radius: 345.0,
        tyre_width: 225.0,
        travel: None,
    });
    scene.wheel_springs = None;
    scene.underbody = vec![Underbody {
        name: "tail".to_owned(),
        on: CarriedBy::Frame,
        shape: ShapeEntry::Box {
            centre: Point(-3200.0, 350.0, 286.0),
            size: Point(200.0, 100.0, 100.0),
            turned_deg: None,
        },
        both_sides: false,
    }];
    scene.obstacles = vec![bindpoint::scene::Obstacle {
        name: "post".to_owned(),
        shape: ObstacleShape::Log { diameter: 260.0 },
        across: Some((395.0, 500.0)),
        ahead: None,
    }];
    scene
}

/// A reviewer's false CLEAR: with one front wheel further out the middle between both isn't the truck's, and the parts were
/// carried past what stands beside their place.
#[test]
fn parts_keep_their_place_across_the_track_where_the_front_wheels_arent_mirror_images() {
    let scene = with_moved_wheels();
    let meshes = MeshStore::new(&folder());
    for setup in [None, Some("spacer left")] {
        let truck = assemble_setup(&scene, setup, &meshes).unwrap_or_else(|p| panic!("{p:?}"));
        let course = Course::new(&truck, "post", 1.0, Suspension::Held).expect("a course");
        let stance = course.stand(-3000.0, None).expect("level ground");
        let point = nalgebra::Vector3::new(-500.0, 350.0, 400.0);
        let there = stance.point(&course.vehicle, &point);
        assert!((there.y - point.y).abs() < 1.0e-6, "{setup:?}: {there}");
    }
}

/// A reviewer's false CLEAR: a knuckle that carries its wheel back took the rear axle along.
#[test]
fn a_setup_in_front_leaves_the_rear_axle_where_it_was_measured() {
    let scene = with_moved_wheels();
    let meshes = MeshStore::new(&folder());
    let rear_x = |setup: Option<&str>| {
        let truck = assemble_setup(&scene, setup, &meshes).unwrap_or_else(|p| panic!("{p:?}"));
        let vehicle = Vehicle::held(&truck, [0.0; 4]).expect("it stands");
        let wheels = vehicle.posture([0.0; 4]).expect("at ride height").wheels;
        [wheels[0].x, wheels[2].x]
    };
    let [measured, back] = [rear_x(None), rear_x(Some("back"))];
    assert!(
        (back[0] - measured[0] + 25.0).abs() < 0.5,
        "{measured:?} {back:?}"
    );
    assert!(
        (back[1] - measured[1]).abs() < 1.0e-9,
        "{measured:?} {back:?}"
    );
    assert!((measured[1] + 2600.0).abs() < 1.0e-9, "{measured:?}");
}

/// A reviewer's false CLEAR: over a long profile the wheels were looked at every half metre, and a ridge between two such places
/// moved a tyre unseen.
#[test]
fn what_a_tyre_moves_sideways_is_looked_at_as_closely_on_a_long_way() {
    let mut scene = scene("crake");
    let side = scene.knuckle.wheel_centre.1.signum();
    let inner = side * (scene.knuckle.wheel_centre.1.abs() - 0.5 * tyre_width_mm(&scene) / 25.4);
    // A ridge under the other wheel that ends just inside this one's tyre.
    let gap = 1.0 / 25.4;
    let ends = [-side * 40.0, inner - side * gap];
    let across = (ends[0].min(ends[1]), ends[0].max(ends[1]));
    let mut told = |length: f64| {
        scene.obstacles = vec![bindpoint::scene::Obstacle {
            name: "ridge".to_owned(),
            shape: ObstacleShape::Profile {
                points: vec![(0.0, 0.0), (2.0, 3.0), (4.0, 0.0), (length, 0.0)],
            },
            across: Some(across),
            ahead: None,
        }];
        let truck = assemble(&scene, &folder()).unwrap_or_else(|p| panic!("{p:?}"));
        let found = drive_over(&truck, "ridge").expect("it drives");
        !found.undecided.is_empty() || !found.contacts.is_empty()
    };
    assert!(told(10.0));
    assert!(told(1500.0));
}
