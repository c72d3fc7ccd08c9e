//! Whole random trucks, as strangers bring them: each answers, and with bounded work.
mod dice;
mod random_trucks;

use bindpoint::sweep::{SweepOptions, sweep};
use bindpoint::truck::{MeshStore, assemble_setup};
use random_trucks::random_truck;
use std::time::Instant;

#[test]
fn a_first_look() {
    let folder = tempfile::tempdir().expect("a folder");
    let n: u64 = std::env::var("N").ok().and_then(|s| s.parse().ok()).unwrap_or(5);
    let first: u64 = std::env::var("FIRST").ok().and_then(|s| s.parse().ok()).unwrap_or(0);
    for seed in first..first + n {
        let start = Instant::now();
        let truck = random_truck(seed, folder.path());
        let drawn = start.elapsed();
        if std::env::var("SHOW").is_ok() { println!("{}", truck.text); }
        let start = Instant::now();
        let built = assemble_setup(&truck.scene(), None, &MeshStore::new(folder.path())).expect("builds");
        let check = start.elapsed();
        let start = Instant::now();
        if std::env::var("SWEEP").is_ok() {
            let found = sweep(&built, &SweepOptions::default(), &|_, _| {});
            println!("sweep {:?} queries {}", start.elapsed(), found.worse.guard.distance_queries);
        }
        println!("{seed}: drawn {drawn:?} check {check:?} parts {} warnings {:?}", built.corners[0].parts.len(), built.warnings);
    }
}
