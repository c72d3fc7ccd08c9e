//! Whole random trucks, as strangers bring them: each answers, by a bounded count of work, and says why where it can't.
//!
//! ```text
//! ANY_TRUCKS=1000 cargo test --release --no-default-features --test any_truck -- --ignored --nocapture
//! ```
//!
//! times each `check` (goal: under 1 s) and `sweep` (under 5 s) on a quiet machine and prints the slowest with their seeds;
//! `ANY_FIRST_SEED=n ANY_TRUCKS=1` asks one again, with `ANY_SHOW=1` its scene. `ANY_GOALS=1` fails where a goal is missed.

mod dice;
mod random_trucks;

use bindpoint::findings::{CornerFindings, Status, SweepFindings, Undecided};
use bindpoint::sweep::{SweepOptions, corner_status, sweep};
use bindpoint::truck::{MeshStore, Truck, assemble_setup};
use random_trucks::{RandomTruck, random_truck};
use std::path::Path;
use std::time::{Duration, Instant};

/// Trucks in every `cargo test`.
const TRUCKS: u64 = 60;
/// Distance queries for one corner, at most. Random trucks take 17,000 to 90,000; a truck that hangs takes millions.
const MOST_QUERIES: u64 = 400_000;
/// Cells of one corner's map, at most: the map's edges are lines, and halving follows them.
const MOST_CELLS: usize = 400_000;
/// Elements of one corner's parts, at most: few dozen parts, a turned one with some hundred facets or frusta.
const MOST_ELEMENTS: usize = 60_000;

/// Goals on two quiet cores.
const CHECK_GOAL: Duration = Duration::from_secs(1);
const SWEEP_GOAL: Duration = Duration::from_secs(5);

fn number(name: &str, or: u64) -> u64 {
    std::env::var(name)
        .ok()
        .and_then(|s| s.parse().ok())
        .unwrap_or(or)
}

/// What `bindpoint check` does: the truck as measured, and every setup.
fn check(truck: &RandomTruck, folder: &Path) -> Truck {
    let (scene, meshes) = (truck.scene(), MeshStore::new(folder));
    for setup in &scene.setups {
        assemble_setup(&scene, Some(&setup.name), &meshes).unwrap_or_else(|p| {
            panic!(
                "seed {}: setup {}: {}: {}",
                truck.seed, setup.name, p.path, p.what
            )
        });
    }
    assemble_setup(&scene, None, &meshes)
        .unwrap_or_else(|p| panic!("seed {}: {}: {}", truck.seed, p.path, p.what))
}

fn corners(found: &SweepFindings) -> impl Iterator<Item = &CornerFindings> {
    std::iter::once(&found.worse).chain(&found.other)
}

/// Whether the answer names what it doesn't know.
fn names_what_is_undecided(corner: &CornerFindings) -> bool {
    corner_status(corner) != Status::NotChecked || !corner.undecided.is_empty()
}

/// Whether the verdict wants for work. The search for a first contact goes on beyond every stop that is meant to end the
/// travel, to where the linkage ends, and may stay open there: the verdict doesn't hang on it.
fn ended_at_a_work_limit(corner: &CornerFindings) -> bool {
    let is_limit = |u: &Undecided| matches!(u, Undecided::WorkLimit { .. });
    corner.verdict.undecided().any(is_limit)
}

#[test]
fn sixty_random_trucks_answer_by_a_bounded_count_of_work() {
    let folder = tempfile::tempdir().expect("a folder");
    let options = SweepOptions {
        with_map_cells: true,
        ..SweepOptions::default()
    };
    for seed in 0..TRUCKS {
        let built = check(&random_truck(seed, folder.path()), folder.path());
        for corner in &built.corners {
            let elements: usize = corner.parts.iter().map(|p| p.surface.elements.len()).sum();
            assert!(
                elements <= MOST_ELEMENTS,
                "seed {seed}: {elements} elements"
            );
            assert_eq!(corner.overlaps, [], "seed {seed}: a good truck");
        }
        let found = sweep(&built, &options, &|_, _| {});
        for corner in corners(&found) {
            let queries = corner.guard.distance_queries;
            assert!(queries <= MOST_QUERIES, "seed {seed}: {queries} queries");
            let cells = corner.map.cells.len();
            assert!(cells <= MOST_CELLS, "seed {seed}: {cells} cells");
            assert!(
                names_what_is_undecided(corner),
                "seed {seed}: undecided without a reason"
            );
            assert!(
                !ended_at_a_work_limit(corner),
                "seed {seed}: {:?}",
                corner.undecided
            );
        }
    }
}

/// Processor time of this process so far, all threads; none where the system doesn't tell.
fn processor_time() -> Option<Duration> {
    let stat = std::fs::read_to_string("/proc/self/stat").ok()?;
    let after_name = stat.rsplit_once(')')?.1;
    let mut fields = after_name.split_whitespace().skip(11);
    let user: u64 = fields.next()?.parse().ok()?;
    let system: u64 = fields.next()?.parse().ok()?;
    // Linux counts in hundredths of a second.
    Some(Duration::from_millis(10 * (user + system)))
}

struct Timed {
    seed: u64,
    /// By the clock.
    wall: Duration,
    /// Of the processor, all threads.
    processor: Duration,
    what: String,
}

fn timed<T>(seed: u64, work: impl FnOnce() -> T, what: impl FnOnce(&T) -> String) -> (T, Timed) {
    let (clock, before) = (Instant::now(), processor_time());
    let result = work();
    let wall = clock.elapsed();
    let spent = before.zip(processor_time()).map(|(a, b)| b - a);
    let timed = Timed {
        seed,
        wall,
        processor: spent.unwrap_or(wall),
        what: what(&result),
    };
    (result, timed)
}

#[test]
#[ignore = "a measurement: see the head of this file"]
fn a_thousand_random_trucks_are_timed() {
    let folder = tempfile::tempdir().expect("a folder");
    let (first, count) = (number("ANY_FIRST_SEED", 0), number("ANY_TRUCKS", 1000));
    let (mut checks, mut sweeps) = (Vec::new(), Vec::new());
    let mut at_limit = 0;
    for seed in first..first + count {
        let truck = random_truck(seed, folder.path());
        if std::env::var("ANY_SHOW").is_ok() {
            println!("{}", truck.text);
        }
        let (built, time) = timed(
            seed,
            || check(&truck, folder.path()),
            |t| {
                let parts: usize = t.corners.iter().map(|c| c.parts.len()).sum();
                format!("{} setups, {} parts", t.setups.len(), parts)
            },
        );
        checks.push(time);
        let options = SweepOptions::default();
        let (found, time) = timed(
            seed,
            || sweep(&built, &options, &|_, _| {}),
            |f| {
                let queries: Vec<u64> = corners(f).map(|c| c.guard.distance_queries).collect();
                format!(
                    "{queries:?} queries, {:?}",
                    corners(f).map(corner_status).collect::<Vec<_>>()
                )
            },
        );
        sweeps.push(time);
        for corner in corners(&found) {
            assert!(
                names_what_is_undecided(corner),
                "seed {seed}: undecided without a reason"
            );
            at_limit += usize::from(ended_at_a_work_limit(corner));
        }
        if std::env::var("ANY_EACH").is_ok()
            && let (Some(c), Some(s)) = (checks.last(), sweeps.last())
        {
            println!(
                "{seed}: check {:.2?} of {:.2?}, sweep {:.2?} of {:.2?}, {}",
                c.processor, c.wall, s.processor, s.wall, s.what
            );
        }
    }
    println!("{count} trucks, {at_limit} corners ended at a work limit");
    for (name, times, goal) in [
        ("check", &mut checks, CHECK_GOAL),
        ("sweep", &mut sweeps, SWEEP_GOAL),
    ] {
        times.sort_by_key(|t| std::cmp::Reverse(t.wall));
        let late = times.iter().filter(|t| t.wall > goal).count();
        let median = times[times.len() / 2].wall;
        println!("{name}: {late} over {goal:?}, median {median:.2?}; the slowest:");
        for t in times.iter().take(10) {
            println!(
                "  seed {}: {:.2?} ({:.2?} of processor), {}",
                t.seed, t.wall, t.processor, t.what
            );
        }
        assert!(
            std::env::var("ANY_GOALS").is_err() || late == 0,
            "{name}: {late} over {goal:?}"
        );
    }
}
