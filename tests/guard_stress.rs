//! The guard against brute force on as many random suspensions as one has patience for: not part of the default run.
//!
//! ```text
//! GUARD_SUSPENSIONS=100000 cargo test --release --no-default-features --test guard_stress -- --ignored --nocapture
//! ```
//!
//! Each suspension is random (joints moved by up to 25 mm each way) and carries five pairs of random parts: balls,
//! capsules, boxes, hulls, and meshes of two pieces that run into each other. At one rack position, droop and bump, every
//! limit and contact is looked for at 400 positions, half a millimetre of travel or less apart (1/50 of the 25 mm of a
//! coarse sweep's step), by parry's distances and the limits' own readings. The sweep must have stopped there or before;
//! where it says it stopped there must be something; its stops must come in order. In random cells of the free-travel
//! map that are called free nothing may touch or be past its limit, in those called stopped the named stop must be: every sixty-fourth suspension is asked for its
//! map.

use bindpoint::findings::{MapState, TravelDirection};
use bindpoint::sweep::free_travel::Region;
use bindpoint::sweep::rate_atlas::Atlas;
use bindpoint::sweep::stop_order::stops_on_line;
use bindpoint::sweep::stops::{Guard, StopKind, stop_name};
use bindpoint::truck::TOUCH_MM;
use dice::Dice;
use random_suspension::{Random, random_corner};
use rayon::prelude::*;
use std::ops::AddAssign;
use std::time::Instant;

mod dice;
mod random_suspension;

#[derive(Clone, Copy, Debug, Default)]
struct Tally {
    suspensions: usize,
    lines: usize,
    stops_found: usize,
    positions: usize,
    cells: usize,
    undecided: usize,
    missed: usize,
    wrong: usize,
}

impl AddAssign for Tally {
    fn add_assign(&mut self, o: Tally) {
        self.suspensions += o.suspensions;
        self.lines += o.lines;
        self.stops_found += o.stops_found;
        self.positions += o.positions;
        self.cells += o.cells;
        self.undecided += o.undecided;
        self.missed += o.missed;
        self.wrong += o.wrong;
    }
}

/// Positions looked at along a line.
const STEPS: i32 = 400;
/// One suspension in so many gets its free-travel map too: it takes longer than all the rest.
const MAPPED: u64 = 64;
/// Cells of the map looked at, and positions in each.
const CELLS: usize = 24;
const IN_A_CELL: usize = 4;
/// How far apart a touching pair may seem: both touch tolerances, and what parry's capsules are off by.
const ALLOWED_MM: f64 = 2.0 * TOUCH_MM + 1.0e-4;
/// Limits are kept or violated to rounding of their readings.
const ROUNDING: f64 = 1.0e-9;

/// Whether a stop is violated by measures that the sweep has no part in; `None` where they can't say.
fn is_violated(random: &Random, stop: StopKind, alpha: f64, rack_mm: f64) -> Option<bool> {
    let linkage = random.corner.positioner.place(alpha, rack_mm).linkage;
    match stop {
        StopKind::Limit(n) => Some(random.corner.limits[n].reading(&linkage).margin < -ROUNDING),
        StopKind::Contact(n) => Some(random.gap_mm(n, &linkage)? <= 0.0),
        _ => None,
    }
}

/// Whether a stop that the sweep says is violated is shown to be kept.
fn is_refuted(random: &Random, stop: StopKind, alpha: f64, rack_mm: f64) -> bool {
    let linkage = random.corner.positioner.place(alpha, rack_mm).linkage;
    match stop {
        StopKind::Limit(n) => random.corner.limits[n].reading(&linkage).margin > ROUNDING,
        StopKind::Contact(n) => random.is_apart(n, &linkage, ALLOWED_MM),
        _ => false,
    }
}

fn one(seed: u64, folder: &std::path::Path) -> Tally {
    let mut out = Tally::default();
    let mut dice = Dice::new(seed);
    let Some(random) = random_corner(&mut dice, 5, Some(folder)) else {
        return out;
    };
    out.suspensions = 1;
    let corner = &random.corner;
    let atlas = Atlas::build(corner);
    let guard = Guard::new(corner, &atlas, 1.0);
    let rack_mm = dice.between(-40.0, 40.0);
    let limits = (0..corner.limits.len()).map(StopKind::Limit);
    let stops: Vec<StopKind> = limits
        .chain((0..corner.pairs.len()).map(StopKind::Contact))
        .collect();
    let mut fail = |what: &str, stop: StopKind, alpha: f64, rack: f64, missed: bool| {
        let linkage = corner.positioner.place(alpha, rack).linkage;
        let gaps = match stop {
            StopKind::Contact(n) => {
                let pair = &corner.pairs[n];
                let [a, b] = [pair.a, pair.b].map(|part| &corner.parts[part]);
                format!(
                    "gap {:e}, by parry {:?}; {:?} of {} elements on the {}, {:?} of {} on the {}",
                    corner.gap(pair, &linkage, None).gap_mm,
                    random.gap_mm(n, &linkage),
                    a.surface.kind,
                    a.surface.elements.len(),
                    a.body.name(),
                    b.surface.kind,
                    b.surface.elements.len(),
                    b.body.name(),
                )
            }
            _ => String::new(),
        };
        println!(
            "seed {seed}: {what} {} at arm {alpha}, rack {rack}: {gaps}",
            stop_name(corner, stop)
        );
        out.missed += usize::from(missed);
        out.wrong += usize::from(!missed);
    };
    for direction in TravelDirection::BOTH {
        let line = stops_on_line(&guard, rack_mm, direction);
        let ahead = |alpha: f64| (alpha - line.start).abs();
        out.lines += 1;
        out.stops_found += line.met.len();
        out.undecided += line.undecided.len();
        let sorted = line.met.is_sorted_by_key(|m| ahead(m.free_to));
        if !sorted && let Some(m) = line.met.first() {
            fail("out of order from", m.stop, m.free_to, rack_mm, false);
        }
        for stop in &stops {
            let met = line.met.iter().find(|m| m.stop == *stop);
            let open = line.undecided.iter().find(|u| u.0 == *stop);
            // Up to here the sweep says that it is kept.
            let kept_to = met.map_or(open.map_or(line.searched_to, |u| u.1), |m| m.free_to);
            if kept_to != line.start {
                for i in 0..=STEPS {
                    let share = f64::from(i) / f64::from(STEPS);
                    let alpha = line.start + (kept_to - line.start) * share;
                    out.positions += 1;
                    if is_violated(&random, *stop, alpha, rack_mm) == Some(true) {
                        fail("missed", *stop, alpha, rack_mm, true);
                        break;
                    }
                }
            }
            if let Some(m) = met.filter(|m| !m.graze)
                && is_refuted(&random, *stop, m.stopped_at, rack_mm)
            {
                fail("nothing at", *stop, m.stopped_at, rack_mm, false);
            }
        }
    }
    if !seed.is_multiple_of(MAPPED) {
        return out;
    }
    let map = Region::map(&guard).findings(corner, true);
    let cells = &map.cells;
    for _ in 0..CELLS.min(cells.len()) {
        let cell = &cells[dice.below(cells.len())];
        out.cells += 1;
        for _ in 0..IN_A_CELL {
            let alpha = dice.between(cell.arm_deg[0], cell.arm_deg[1]).to_radians();
            let rack = dice.between(cell.rack_mm[0], cell.rack_mm[1]);
            match cell.state {
                MapState::Free | MapState::CutOff => {
                    for stop in &stops {
                        if is_violated(&random, *stop, alpha, rack) == Some(true) {
                            fail("called free, but for", *stop, alpha, rack, true);
                        }
                    }
                }
                MapState::Stopped => {
                    let named = cell.stop.map(|n| map.stops[n].name());
                    for stop in &stops {
                        let is_it = named == Some(stop_name(corner, *stop));
                        if is_it && is_refuted(&random, *stop, alpha, rack) {
                            fail("called stopped, but not by", *stop, alpha, rack, false);
                        }
                    }
                }
                MapState::Undecided => {}
            }
        }
    }
    out
}

#[test]
#[ignore = "runs for as long as it is told to"]
fn nothing_is_missed_on_any_number_of_random_suspensions() {
    let number = |name: &str, default| {
        let said = std::env::var(name).ok();
        said.map_or(default, |v| v.parse().expect("a whole number"))
    };
    let (wanted, first) = (
        number("GUARD_SUSPENSIONS", 1_000),
        number("GUARD_FIRST_SEED", 1) as u64,
    );
    let started = Instant::now();
    let mut total = Tally::default();
    const BATCH: u64 = 96;
    let mut seed = first;
    while total.suspensions < wanted {
        let tallies: Vec<Tally> = (seed..seed + BATCH)
            .into_par_iter()
            .map_init(
                || tempfile::tempdir().expect("a folder"),
                |folder, seed| one(seed, folder.path()),
            )
            .collect();
        for tally in tallies {
            total += tally;
        }
        seed += BATCH;
        println!(
            "{:.0} s, next seed {seed}: {total:?}",
            started.elapsed().as_secs_f64()
        );
    }
    assert!(total.stops_found > total.suspensions, "{total:?}");
    assert_eq!((total.missed, total.wrong), (0, 0), "{total:?}");
}

/// Suspensions that once showed a miss: a ball wholly inside a mesh at a rack position where a line began, and brackets
/// that overlap told out of order.
#[test]
fn the_suspensions_that_once_showed_a_miss_show_none() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut total = Tally::default();
    for seed in [22254, 42167, 44749, 45784, 55762, 56283] {
        total += one(seed, folder.path());
    }
    assert_eq!(total.suspensions, 6, "{total:?}");
    assert_eq!((total.missed, total.wrong), (0, 0), "{total:?}");
}
