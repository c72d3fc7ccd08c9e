//! A steering stop at the knuckle is the lock: what the wheel can do is told where the stop leaves it, not beyond.

use bindpoint::compare::compare;
use bindpoint::scene::{LeftRight, Scene, scene_from_text};
use bindpoint::suspension::{Lock, Side, Steered};
use bindpoint::sweep::{SweepOptions, sweep};
use bindpoint::truck::{MeshStore, assemble};
use std::path::Path;

/// A demo whose rack would steer the wheels past 30 degrees, with stops that end it at 20 to the left and 24 to the right.
fn stopped() -> Scene {
    let path = Path::new("scenes/tarnwood.ron");
    let text = std::fs::read_to_string(path).expect("a demo scene");
    let mut scene = scene_from_text(&text, path).expect("it reads");
    scene.setups.truncate(2);
    scene.knuckle.steering_stop_deg = Some(LeftRight {
        left: 20.0,
        right: 24.0,
    });
    scene
}

#[test]
fn the_locks_that_are_listed_are_those_that_the_stop_leaves() {
    let truck = assemble(&stopped(), Path::new("scenes")).expect("it can be built");
    let found = sweep(&truck, &SweepOptions::default(), &|_, _| {});
    for corner in std::iter::once(&found.worse).chain(&found.other) {
        let ends = [corner.free_travel.first(), corner.free_travel.last()];
        for row in ends.map(|row| row.expect("rows are listed")) {
            let Steered::Full(lock) = corner.locks.at(row.rack_mm) else {
                panic!("the last rows are the locks: {}", row.rack_mm);
            };
            let steered = row.steer_deg.expect("the linkage reaches it");
            // The other side's knuckle is the mirror image: its stop to the right is this side's to the left.
            let outer_deg = match corner.side {
                Side::Left => [20.0, 24.0],
                Side::Right => [24.0, 20.0],
            };
            let (stop_deg, steer_deg) = match lock {
                Lock::Left => (outer_deg[0], steered),
                Lock::Right => (outer_deg[1], -steered),
            };
            // Steer changes by some tenths with the height: the stop is met at another height first.
            assert!(
                stop_deg - 1.0 < steer_deg && steer_deg <= stop_deg,
                "{lock:?}: {steer_deg} of {stop_deg}"
            );
            for (free_mm, stop) in [
                (row.droop_mm, &row.droop_stop),
                (row.bump_mm, &row.bump_stop),
            ] {
                let name = stop.as_ref().expect("something ends it").name();
                assert!(
                    free_mm > 20.0 && !name.contains("steering"),
                    "{free_mm} {name}"
                );
            }
        }
    }
}

/// Worst-lock rows read 0.0 at a rack position that the stop keeps the wheel from, and the steer itself had no row.
#[test]
fn setups_are_compared_at_the_locks_that_are_reached_and_by_the_steer_that_is_left() {
    let store = MeshStore::new(Path::new("scenes"));
    let found = compare(&stopped(), &[], &store, false, &|_| {}).expect("it can be built");
    let value = |key: &str| {
        let mut rows = found.comparison.measures.iter();
        let row = rows
            .find(|m| m.key == key)
            .unwrap_or_else(|| panic!("no {key}"));
        let first = row.values[0].clone();
        first.expect("the first column has it")
    };
    for key in ["free_droop_worst_lock_mm", "free_bump_worst_lock_mm"] {
        assert!(value(key).value > 20.0, "{key}");
    }
    for (key, stop_deg, by) in [
        ("free_steer_left_deg", 20.0, "steering stop left"),
        ("free_steer_right_deg", 24.0, "steering stop right"),
    ] {
        let row = value(key);
        assert!((row.value - stop_deg).abs() < 0.1, "{key} {}", row.value);
        assert_eq!(row.by.as_deref(), Some(by));
    }
}
