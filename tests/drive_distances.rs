//! Distances between parts of the demo trucks and what they are driven over, against coal's, every row.
//!
//! `drive_distances_coal.csv` tells a range that holds the true distance between a part and an obstacle as it is
//! defined: cylinders, ellipsoids, boxes, wedges. The drive's own obstacles are facets. What these miss is told as
//! facet error and taken off, so a gap may come out too small by it, and never too large.

mod table;

use bindpoint::ground::{Course, Stance, Suspension};
use bindpoint::scene::scene_from_text;
use bindpoint::truck::assemble;
use std::collections::BTreeMap;
use std::path::PathBuf;
use table::{Row, Table};

/// Rounding at coordinates of 60 m over some hundred operations stays below 1e-8 mm; two decades of room.
const EXACT_MM: f64 = 1.0e-6;

/// Every row's course, by scene and obstacle.
fn courses(table: &Table) -> BTreeMap<(String, String), Course> {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("scenes");
    let mut trucks = BTreeMap::new();
    let mut courses = BTreeMap::new();
    for row in table.rows() {
        let (name, obstacle) = (row.text("scene"), row.text("obstacle"));
        let truck = trucks.entry(name.to_owned()).or_insert_with(|| {
            let path = folder.join(format!("{name}.ron"));
            let text = std::fs::read_to_string(&path).expect("a demo scene");
            let scene = scene_from_text(&text, &path).expect("it reads");
            assemble(&scene, &folder).unwrap_or_else(|p| panic!("{name}: {p:?}"))
        });
        courses
            .entry((name.to_owned(), obstacle.to_owned()))
            .or_insert_with(|| {
                // Held: the wheels at ride height.
                Course::new(truck, obstacle, 1.0, Suspension::Held)
                    .unwrap_or_else(|e| panic!("{name} {obstacle}: {e}"))
            });
    }
    courses
}

/// The truck at a row's attitude.
fn stance(course: &Course, row: &Row) -> Stance {
    let (pitch, roll) = (row.number("in_pitch_rad"), row.number("in_roll_rad"));
    let at = |position| {
        Stance::at(&course.vehicle, position, pitch, roll)
            .unwrap_or_else(|e| panic!("{}: {e}", row.place()))
    };
    // The table places the front wheels' middle as measured; where that was off ride height, the stance's own point
    // is another.
    let aside = course.vehicle.front() - row.vector("in_point");
    let turn = at(row.vector("in_at")).rotation();
    at(row.vector("in_at") + turn * aside)
}

/// What an obstacle's facets may miss at most, mm: each its own aim, and walls that lean by a micron.
fn most_missed_mm(obstacle: &str) -> f64 {
    match obstacle {
        "boulder" => 0.1,
        "ledge" | "ledge, left wheel" | "log" | "hump" => 0.02 + 1.0e-3,
        "kerb" | "ditch" => 1.0e-3,
        "ramp" | "side slope" => 0.0,
        other => panic!("{other} has no aim"),
    }
}

#[test]
fn drive_gaps_match_coal_and_are_never_too_large() {
    let table = Table::read("drive_distances_coal.csv", 1_386);
    let courses = courses(&table);
    let (mut apart, mut overlapping) = (0, 0);
    // By obstacle: over the range and under it at most, and over it if the facets' error weren't taken off.
    let mut worst: BTreeMap<&str, [f64; 3]> = BTreeMap::new();
    for row in table.rows() {
        let course = &courses[&(
            row.text("scene").to_owned(),
            row.text("obstacle").to_owned(),
        )];
        let part = course
            .vehicle
            .parts
            .iter()
            .position(|p| p.name == row.text("part"))
            .unwrap_or_else(|| panic!("{}: no such part", row.place()));
        let solid = course
            .terrain
            .solids
            .iter()
            .position(|s| s.0 == row.text("against"))
            .unwrap_or_else(|| panic!("{}: no such solid", row.place()));
        let gap = course.gap(&stance(course, &row), part, solid, f64::INFINITY, None);

        let (own, fixed) = (
            &course.vehicle.parts[part].surface,
            &course.terrain.solids[solid].1,
        );
        let aim = most_missed_mm(row.text("obstacle"));
        assert!(
            fixed.facet_error_mm <= aim * 1.01,
            "{}: facets miss {}",
            row.place(),
            fixed.facet_error_mm
        );
        // The obstacle's error counts twice: taken off, and where a hollow's facets stand outside the true surface or
        // a wall leans outward. A part's round surface bulges everywhere: once.
        let below = 2.0 * fixed.facet_error_mm + own.facet_error_mm;
        let (low, high) = (row.number("out_low_mm"), row.number("out_high_mm"));
        assert!(
            gap.gap_mm <= high + EXACT_MM && gap.gap_mm >= low - below - EXACT_MM,
            "{} {} over {}: gap {}, true {low} to {high}, facets {below}",
            row.place(),
            row.text("part"),
            row.text("obstacle"),
            gap.gap_mm
        );
        if high == 0.0 {
            overlapping += 1;
            continue;
        }
        apart += 1;
        let worst = worst.entry(row.text("obstacle")).or_default();
        let plain = gap.core_mm - own.radius_mm - own.facet_error_mm;
        for (most, here) in
            worst
                .iter_mut()
                .zip([gap.gap_mm - high, low - gap.gap_mm, plain - high])
        {
            *most = most.max(here);
        }
    }
    println!("{apart} apart, {overlapping} overlapping");
    for (obstacle, [over, under, plain]) in worst {
        println!(
            "{obstacle}: over by {over:.2e}, under by {under:.2e}; over without the facets' error {plain:.2e} mm"
        );
    }
    assert_eq!((apart, overlapping), (1_071, 315));
}
