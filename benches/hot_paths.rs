//! The hot paths: positions a second, gaps, and the whole sweep.
//! Run with `cargo bench`; the first figure times 1,000 positions, all bodies' poses included.

use bindpoint::scene::{scene_from_text, with_number};
use bindpoint::sweep::rate_atlas::Atlas;
use bindpoint::sweep::stops::Guard;
use bindpoint::sweep::{SweepOptions, free_map, stops_at, sweep};
use bindpoint::truck::{assemble, load};
use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use std::hint::black_box;
use std::path::Path;

fn hot_paths(c: &mut Criterion) {
    let truck = load(Path::new("scenes/tarnwood.ron")).expect("demo scene");
    let corner = &truck.corners[0];
    let mut group = c.benchmark_group("position");
    group.throughput(Throughput::Elements(1000));
    group.bench_function("by travel and rack", |b| {
        b.iter(|| {
            for i in 0..1000 {
                let travel = -150.0 + 0.23 * f64::from(i);
                let rack = -70.0 + 0.14 * f64::from((i * 7) % 1000);
                black_box(corner.position(travel, rack).is_ok());
            }
        });
    });
    group.finish();
    let position = corner.position(-60.0, 30.0).expect("within reach");
    c.bench_function("all watched gaps at one position", |b| {
        b.iter(|| {
            for pair in &corner.pairs {
                black_box(corner.gap(pair, &position.linkage, None).gap_mm);
            }
        });
    });
    let mut group = c.benchmark_group("sweep");
    group.sample_size(10);
    group.bench_function("mid-size scene, both sides", |b| {
        b.iter(|| black_box(sweep(&truck, &SweepOptions::default(), &|_, _| {})));
    });
    group.finish();
    // What the viewer does between a dragged number and the new map and stop list, on a scene of primitives.
    let path = Path::new("scenes/crake.ron");
    let text = std::fs::read_to_string(path).expect("demo scene");
    let mut group = c.benchmark_group("viewer");
    group.sample_size(20);
    group.bench_function("edit to map and stop list, scene of primitives", |b| {
        b.iter(|| {
            let text = with_number(&text, "damper.extended", 17.2).expect("a number");
            let scene = scene_from_text(&text, path).expect("a scene");
            let truck = assemble(&scene, Path::new("scenes")).expect("a truck");
            let corner = &truck.corners[0];
            let atlas = Atlas::build(corner);
            let guard = Guard::new(corner, &atlas, 1.0);
            black_box((stops_at(&guard, 0.0), free_map(&guard)));
        });
    });
    group.finish();
}

criterion_group!(benches, hot_paths);
criterion_main!(benches);
