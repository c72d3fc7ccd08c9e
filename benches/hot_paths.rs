//! The hot paths: positions a second, gaps of each kind of pair, a first contact, the whole sweep, a keep-out solid, a
//! clearance map and a drive.
//! Run with `cargo bench`; the first figure times 1,000 positions, all bodies' poses included.

use bindpoint::findings::TravelDirection;
use bindpoint::ground::{Course, Suspension, drive};
use bindpoint::scene::{scene_from_text, with_number};
use bindpoint::space::{KeepOutOptions, PoseTree, keep_out};
use bindpoint::suspension::Body;
use bindpoint::sweep::free_travel::Region;
use bindpoint::sweep::rate_atlas::Atlas;
use bindpoint::sweep::stop_order::stops_on_line;
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
    let mut group = c.benchmark_group("gap at one position");
    let mut kinds = std::collections::BTreeSet::new();
    for pair in &corner.pairs {
        let kind = |part: usize| {
            let surface = &corner.parts[part].surface;
            format!("{:?}", surface.kind).to_lowercase()
        };
        let name = format!("{} to {}", kind(pair.a), kind(pair.b));
        if kinds.insert(name.clone()) {
            group.bench_function(name, |b| {
                b.iter(|| black_box(corner.gap(pair, &position.linkage, None).gap_mm));
            });
        }
    }
    group.finish();
    let atlas = Atlas::build(corner);
    let guard = Guard::new(corner, &atlas, 1.0);
    let mut group = c.benchmark_group("first contact");
    group.sample_size(10);
    group.bench_function("in droop, straight ahead, every stop", |b| {
        b.iter(|| black_box(stops_on_line(&guard, 0.0, TravelDirection::Droop).met.len()));
    });
    group.finish();
    let region = Region::map(&guard);
    let parts = |names: &[&str]| -> Vec<usize> {
        let parts = corner.parts.iter().enumerate();
        let named = parts.filter(|(_, p)| names.iter().any(|n| p.name.starts_with(n)));
        named.map(|(i, _)| i).collect()
    };
    let mut group = c.benchmark_group("keep-out solid");
    group.sample_size(10);
    for (name, parts) in [
        ("halfshaft", parts(&["halfshaft"])),
        (
            "halfshaft, arms and tyre",
            parts(&["halfshaft", "lower arm", "upper arm", "tyre"]),
        ),
    ] {
        group.bench_function(format!("{name} at 2 mm"), |b| {
            b.iter(|| {
                let motion = Body::Frame.motion();
                let trees = PoseTree::by_motion(corner, &region, motion, parts.iter().copied());
                let options = KeepOutOptions {
                    margin_mm: 5.0,
                    resolution_mm: 2.0,
                };
                let solid = keep_out(&trees, options, &|_| true).expect("a solid");
                black_box(solid.triangles.len())
            });
        });
    }
    group.finish();
    let mut group = c.benchmark_group("drive");
    group.sample_size(10);
    group.bench_function("over the ledge, suspension following", |b| {
        let course = Course::new(&truck, "ledge", 1.0, Suspension::Follows).expect("a course");
        b.iter(|| black_box(drive(&course)));
    });
    group.finish();
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
