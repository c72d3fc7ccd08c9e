//! Everything that takes time, off the main thread: the picture never waits for a sweep.
//!
//! Workers, each with a desk that holds one job, the newest: *position* measures every gap of the position
//! shown; *map* proves the free region, the stops at the present rack position, then curves and remaining
//! gaps; *sweep* runs the whole sweep that the command line runs. Answers carry the generation they belong
//! to, so that late ones are dropped. Trucks themselves are made by [`super::truck_worker`].

use super::document::Document;
use super::motion::Motion;
use super::truck_worker::TruckWorkerPlugin;
use crate::findings::{
    CornerFindings, CurveRow, FreeMap, PositionFindings, RemainingGap, StopId, StopOrder,
    TravelDirection,
};
use crate::sweep::rate_atlas::Atlas;
use crate::sweep::stops::Guard;
use crate::sweep::{
    SweepOptions, along_travel, free_map, position_findings, remaining_gap, stops_at, sweep_corner,
};
use crate::truck::{Corner, Truck};
use bevy::prelude::*;
use std::collections::BTreeMap;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Condvar, Mutex, PoisonError};
use std::time::{Duration, Instant};

/// What was found so far about the scene as it stands.
#[derive(Resource, Default, Debug)]
pub struct Found {
    /// Everything about a position, with the position's travel and rack.
    pub position: Option<PositionFindings>,
    /// Stops at a rack position: droop, bump.
    pub stops: Option<[StopOrder; 2]>,
    /// The map.
    pub map: Option<Arc<FreeMap>>,
    /// Least gaps over it.
    pub remaining: Option<Arc<RemainingGap>>,
    /// Curves at a rack position.
    pub curves: Option<(f64, Vec<CurveRow>)>,
    /// The whole sweep.
    pub sweep: Option<Arc<CornerFindings>>,
    /// Whether the sweep is under way.
    pub sweeping: bool,
    /// Whether map and stops are still the last truck's.
    pub outdated: bool,
    /// Grows with every answer.
    pub answers: u64,
    key: Key,
}

/// Stops taken off, by name ("damper unbolted"), each with the order it stood in and the wheel travel at which
/// it stood then: its row stays there.
#[derive(Resource, Default, Debug, Clone, PartialEq)]
pub struct SwitchedOff(pub BTreeMap<StopId, (TravelDirection, f64)>);

/// What an answer belongs to.
#[derive(Clone, Default, Debug, PartialEq)]
struct Key {
    generation: u64,
    without: Vec<StopId>,
}

struct Job {
    key: Key,
    truck: Arc<Truck>,
    corner: usize,
    travel_mm: f64,
    rack_mm: f64,
}

impl Job {
    fn corner(&self) -> &Corner {
        &self.truck.corners[self.corner]
    }
}

enum Answer {
    Position(Box<PositionFindings>),
    Stops([StopOrder; 2]),
    Map(Arc<FreeMap>),
    Remaining(Arc<RemainingGap>),
    Curves(f64, Vec<CurveRow>),
    Sweep(Arc<CornerFindings>),
}

/// A place for one job: the newest replaces what was not begun.
pub(super) struct Desk<J>(Arc<(Mutex<Option<J>>, Condvar)>);

impl<J> Clone for Desk<J> {
    fn clone(&self) -> Self {
        Desk(Arc::clone(&self.0))
    }
}

impl<J> Default for Desk<J> {
    fn default() -> Self {
        Desk(Arc::new((Mutex::new(None), Condvar::new())))
    }
}

impl<J> Desk<J> {
    pub(super) fn put(&self, job: J) {
        *self.0.0.lock().unwrap_or_else(PoisonError::into_inner) = Some(job);
        self.0.1.notify_one();
    }

    pub(super) fn take(&self) -> J {
        let mut slot = self.0.0.lock().unwrap_or_else(PoisonError::into_inner);
        loop {
            if let Some(job) = slot.take() {
                return job;
            }
            slot = self.0.1.wait(slot).unwrap_or_else(PoisonError::into_inner);
        }
    }

    pub(super) fn is_empty(&self) -> bool {
        let slot = self.0.0.lock().unwrap_or_else(PoisonError::into_inner);
        slot.is_none()
    }
}

/// Tells the window that an answer is there. Does nothing without a window.
#[derive(Resource, Clone)]
pub struct Wake(pub Arc<dyn Fn() + Send + Sync>);

impl Default for Wake {
    fn default() -> Self {
        Wake(Arc::new(|| ()))
    }
}

/// The workers' desks and their answers.
#[derive(Resource)]
struct Workers {
    position: Desk<Job>,
    map: Desk<Job>,
    sweep: Desk<Job>,
    answers: Mutex<Receiver<(Key, Answer)>>,
    asked: Option<(Key, f64, f64)>,
}

#[derive(Clone)]
struct Outbox {
    sender: Sender<(Key, Answer)>,
    wake: Wake,
}

impl Outbox {
    /// False once nobody listens any more.
    fn send(&self, key: &Key, answer: Answer) -> bool {
        let sent = self.sender.send((key.clone(), answer)).is_ok();
        (self.wake.0)();
        sent
    }
}

/// Size of the grid on which remaining gaps are sampled.
pub(super) const GAP_GRID: [usize; 2] = [41, 41];
/// A change that stays this long is swept.
pub(super) const SETTLE: Duration = Duration::from_millis(150);
/// While the rack moves, curves are made no more often than this: eyes don't follow them faster.
const CURVES_APART: Duration = Duration::from_millis(100);
/// Rows of the curves.
pub(super) const CURVE_ROWS: usize = 121;

pub(super) fn cores() -> usize {
    std::thread::available_parallelism().map_or(1, std::num::NonZero::get)
}

/// Lets the picture go first wherever both want a core. A system that knows no priorities, or grants none,
/// shares them evenly.
fn step_back() {
    let _ = thread_priority::set_current_thread_priority(thread_priority::ThreadPriority::Min);
}

/// Whether a person waits for it: for gaps and map, not for the whole sweep.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Hurry {
    Yes,
    No,
}

/// A pool of its own for a worker, so that none waits for another and the picture keeps some cores.
pub(super) fn pool(threads: usize, hurry: Hurry) -> Option<rayon::ThreadPool> {
    let threads = threads.max(1);
    rayon::ThreadPoolBuilder::new()
        .num_threads(threads)
        .start_handler(move |_| {
            if hurry == Hurry::No {
                step_back();
            }
        })
        .build()
        .map_err(|error| warn!("no {threads} threads of its own for a worker: {error}"))
        .ok()
}

/// Works in a pool, or where it stands if there is none.
pub(super) fn run_in<R: Send>(
    pool: &Option<rayon::ThreadPool>,
    work: impl FnOnce() -> R + Send,
) -> R {
    match pool {
        Some(pool) => pool.install(work),
        None => work(),
    }
}

fn answer_positions(desk: &Desk<Job>, out: &Outbox) {
    let pool = pool(cores() / 2, Hurry::Yes);
    loop {
        let job = desk.take();
        let corner = job.corner();
        let Ok(position) = corner.position(job.travel_mm, job.rack_mm) else {
            continue;
        };
        let work = || position_findings(&job.truck, corner, &position);
        let found = run_in(&pool, work);
        if !out.send(&job.key, Answer::Position(Box::new(found))) {
            return;
        }
    }
}

/// Cores left to the picture while a map is made, where there are more than these.
const SPARED_CORES: usize = 2;

fn answer_maps(desk: &Desk<Job>, out: &Outbox) {
    let cores = cores();
    let threads = if cores > 2 * SPARED_CORES {
        cores - SPARED_CORES
    } else {
        cores
    };
    run_in(&pool(threads, Hurry::Yes), || make_maps(desk, out));
}

fn make_maps(desk: &Desk<Job>, out: &Outbox) {
    let mut job = desk.take();
    loop {
        // One truck: its rates are enclosed once, then each rack position is asked.
        let truck = Arc::clone(&job.truck);
        let corner = &truck.corners[job.corner];
        let atlas = Atlas::build(corner);
        let guard = Guard::new(corner, &atlas, 1.0).without(&job.key.without);
        let key = job.key.clone();
        if !out.send(&key, Answer::Stops(stops_at(&guard, job.rack_mm))) {
            return;
        }
        let map = Arc::new(free_map(&guard));
        out.send(&key, Answer::Map(Arc::clone(&map)));
        // What only colours and curves can wait until nothing newer does.
        let mut coloured = false;
        let mut curved_at = None;
        let mut curved_when: Option<Instant> = None;
        loop {
            if desk.is_empty() {
                let due = curved_when.is_none_or(|when| when.elapsed() >= CURVES_APART);
                if curved_at != Some(job.rack_mm) && !due {
                    std::thread::sleep(CURVES_APART / 10);
                    continue;
                }
                if curved_at != Some(job.rack_mm) {
                    let range = travel_range(corner, &map);
                    let rows = along_travel(corner, job.rack_mm, range, CURVE_ROWS);
                    out.send(&key, Answer::Curves(job.rack_mm, rows));
                    curved_at = Some(job.rack_mm);
                    curved_when = Some(Instant::now());
                    continue;
                }
                if !coloured {
                    let gaps = remaining_gap(corner, &map, GAP_GRID);
                    out.send(&key, Answer::Remaining(Arc::new(gaps)));
                    coloured = true;
                    continue;
                }
            }
            let next = desk.take();
            let same = next.key == key;
            let moved = next.rack_mm != job.rack_mm;
            job = next;
            if !same {
                break;
            }
            if moved && !out.send(&key, Answer::Stops(stops_at(&guard, job.rack_mm))) {
                return;
            }
        }
    }
}

/// Travel that curves cover: the map's, with a little room.
fn travel_range(corner: &Corner, map: &FreeMap) -> [f64; 2] {
    const ROOM: f64 = 0.15;
    let (low, high) = map
        .outline
        .iter()
        .fold((0.0_f64, 0.0_f64), |(low, high), p| {
            (low.min(p.travel_mm), high.max(p.travel_mm))
        });
    let room = ROOM * (high - low);
    [
        (low - room).max(-corner.search_mm[0]),
        (high + room).min(corner.search_mm[1]),
    ]
}

fn answer_sweeps(desk: &Desk<Job>, out: &Outbox) {
    let pool = pool(cores() / 2, Hurry::No);
    loop {
        let job = desk.take();
        // While a value is dragged a newer job comes every frame: only one that stays is worth a sweep.
        std::thread::sleep(SETTLE);
        if !desk.is_empty() {
            continue;
        }
        let options = SweepOptions {
            with_map_cells: false,
            without: job.key.without.clone(),
            ..SweepOptions::default()
        };
        let work = || sweep_corner(job.corner(), &options, &|_, _| ());
        let found = run_in(&pool, work);
        if !out.send(&job.key, Answer::Sweep(Arc::new(found))) {
            return;
        }
    }
}

/// Starts the workers, asks them for what changed and takes their answers.
pub struct BackgroundPlugin;

impl Plugin for BackgroundPlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<Found>()
            .init_resource::<SwitchedOff>()
            .init_resource::<Wake>()
            .add_plugins(TruckWorkerPlugin)
            .add_systems(Startup, start)
            .add_systems(
                Update,
                (take_answers, ask).chain().after(super::motion::MotionSet),
            );
    }
}

/// A worker that fails at one job, through a mistake of ours, goes on with the next: the window must not wait
/// for ever. What it failed at is on standard error.
fn keep_working(work: impl Fn()) {
    while std::panic::catch_unwind(std::panic::AssertUnwindSafe(&work)).is_err() {}
}

/// Starts a worker; says so where the system grants no thread.
pub(super) fn start_worker(name: &str, work: impl Fn() + Send + 'static) {
    let spawned = std::thread::Builder::new()
        .name(name.to_owned())
        .spawn(move || keep_working(work));
    if let Err(error) = spawned {
        error!("cannot start the {name} worker: {error}");
    }
}

fn start(mut commands: Commands, wake: Res<Wake>) {
    let (sender, answers) = channel();
    let out = Outbox {
        sender,
        wake: wake.clone(),
    };
    let desks = [(); 3].map(|()| Desk::default());
    let work: [(&str, fn(&Desk<Job>, &Outbox)); 3] = [
        ("position", answer_positions),
        ("map", answer_maps),
        ("sweep", answer_sweeps),
    ];
    for ((name, work), desk) in work.into_iter().zip(&desks) {
        let (desk, out) = (desk.clone(), out.clone());
        start_worker(name, move || work(&desk, &out));
    }
    let [position, map, sweep] = desks;
    commands.insert_resource(Workers {
        position,
        map,
        sweep,
        answers: Mutex::new(answers),
        asked: None,
    });
}

fn ask(
    document: Res<Document>,
    motion: Res<Motion>,
    off: Res<SwitchedOff>,
    mut workers: ResMut<Workers>,
    mut found: ResMut<Found>,
) {
    let key = Key {
        generation: document.generation(),
        without: off.0.keys().cloned().collect(),
    };
    let (travel_mm, rack_mm) = (motion.travel_mm(), motion.rack_mm());
    if workers.asked.as_ref() == Some(&(key.clone(), travel_mm, rack_mm)) {
        return;
    }
    let asked = workers.asked.take();
    let job = || Job {
        key: key.clone(),
        truck: Arc::clone(document.truck()),
        corner: document.corner_number(),
        travel_mm,
        rack_mm,
    };
    workers.position.put(job());
    let anew = asked.as_ref().is_none_or(|(k, _, _)| *k != key);
    if anew || asked.is_none_or(|(_, _, rack)| rack != rack_mm) {
        workers.map.put(job());
    }
    if anew {
        found.key = key.clone();
        found.sweeping = true;
        found.outdated = true;
        // A first contact of another truck would mislead.
        found.sweep = None;
        workers.sweep.put(job());
    }
    workers.asked = Some((key, travel_mm, rack_mm));
}

fn take_answers(
    workers: Res<Workers>,
    mut found: ResMut<Found>,
    mut motion: ResMut<Motion>,
    document: Res<Document>,
) {
    let receiver = workers
        .answers
        .lock()
        .unwrap_or_else(PoisonError::into_inner);
    while let Ok((key, answer)) = receiver.try_recv() {
        // An older truck's position may still be shown until its own comes; its map would mislead.
        if key != found.key {
            continue;
        }
        found.answers += 1;
        match answer {
            Answer::Position(position) => found.position = Some(*position),
            Answer::Stops(stops) => found.stops = Some(stops),
            Answer::Map(map) => {
                found.outdated = false;
                // What plays goes on round the new limit.
                if let Some(path) = motion.play.as_ref().map(|play| play.path) {
                    motion.replace_corners(path.corners(document.corner(), &map));
                }
                found.map = Some(map);
                found.remaining = None;
            }
            Answer::Remaining(gaps) => found.remaining = Some(gaps),
            Answer::Curves(rack, rows) => found.curves = Some((rack, rows)),
            Answer::Sweep(sweep) => {
                found.sweep = Some(sweep);
                found.sweeping = false;
            }
        }
    }
}
