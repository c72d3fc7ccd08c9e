//! Trucks made off the main thread: the one shown from a changed text or another setup, the ghost beside it,
//! and then the ghost's free travel.
//!
//! The truck shown and its ghost come from one job, so that they change in the same frame: an edit never
//! shows for a moment as a difference between the two.

use super::background::{Desk, Hurry, SETTLE, Wake, cores, pool, run_in, start_worker};
use super::document::{Document, Made, Wanted, make_truck};
use super::ghost::{Ghost, GhostOf, map_of};
use super::motion::MotionSet;
use crate::findings::FreeMap;
use crate::truck::Truck;
use bevy::prelude::*;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex, PoisonError};

/// Which trucks to make from a text.
struct Job {
    from: Wanted,
    /// Whether the one shown is still to come.
    shown: bool,
    ghost: Option<GhostOf>,
}

/// A truck, or why there is none.
type Answer = Result<Made, String>;

/// What was made of a job: the text's two revisions, the truck shown, the ghost.
struct Trucks {
    revision: u64,
    text_revision: u64,
    shown: Option<Answer>,
    ghost: Option<(GhostOf, Answer)>,
}

/// A map to make: the ghost's generation, its truck, the corner's number.
type MapJob = (u64, Arc<Truck>, usize);
/// The same with its map.
type MapMade = (u64, usize, FreeMap);

#[derive(Resource)]
struct Workers {
    desk: Desk<Job>,
    trucks: Mutex<Receiver<Trucks>>,
    /// What is being waited for: the revision, and the ghost with the text's.
    asked: Option<(u64, Option<(u64, GhostOf)>)>,
    map_desk: Desk<MapJob>,
    maps: Mutex<Receiver<MapMade>>,
    map_asked: Option<(u64, usize)>,
}

/// Makes trucks.
pub struct TruckWorkerPlugin;

impl Plugin for TruckWorkerPlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<Ghost>()
            .add_systems(Startup, start)
            .add_systems(
                Update,
                (exchange_trucks, exchange_maps).chain().before(MotionSet),
            );
    }
}

fn start(mut commands: Commands, wake: Res<Wake>, mut document: ResMut<Document>) {
    document.make_in_background();
    let (sender, trucks) = channel();
    let desk = Desk::default();
    let (own, waker) = (desk.clone(), wake.clone());
    start_worker("truck", move || make_trucks(&own, &sender, &waker));
    let (sender, maps) = channel();
    let map_desk = Desk::default();
    let (own, waker) = (map_desk.clone(), wake.clone());
    start_worker("ghost map", move || make_maps(&own, &sender, &waker));
    commands.insert_resource(Workers {
        desk,
        trucks: Mutex::new(trucks),
        asked: None,
        map_desk,
        maps: Mutex::new(maps),
        map_asked: None,
    });
}

fn make_trucks(desk: &Desk<Job>, sender: &Sender<Trucks>, wake: &Wake) {
    loop {
        let Job { from, shown, ghost } = desk.take();
        let make = |setup: Option<&str>| make_truck(&from.text, &from.path, setup);
        let made = Trucks {
            revision: from.revision,
            text_revision: from.text_revision,
            shown: shown.then(|| make(from.setup.as_deref())),
            ghost: ghost.map(|of| {
                let made = make(of.setup());
                (of, made)
            }),
        };
        if sender.send(made).is_err() {
            return;
        }
        (wake.0)();
    }
}

fn exchange_trucks(
    mut document: ResMut<Document>,
    mut ghost: ResMut<Ghost>,
    mut workers: ResMut<Workers>,
) {
    let (shown, other) = (document.is_waiting(), ghost.is_waiting(&document));
    if shown || other {
        let wanted_ghost = ghost.of().filter(|_| other).cloned();
        let asked = (
            document.revision(),
            wanted_ghost
                .clone()
                .map(|of| (document.text_revision(), of)),
        );
        if workers.asked.as_ref() != Some(&asked) {
            // All that is still to come: a job that wasn't begun is replaced by this one.
            workers.desk.put(Job {
                from: document.wanted(),
                shown,
                ghost: wanted_ghost,
            });
            workers.asked = Some(asked);
        }
    } else {
        workers.asked = None;
    }
    let receiver = workers
        .trucks
        .lock()
        .unwrap_or_else(PoisonError::into_inner);
    let made: Vec<Trucks> = receiver.try_iter().collect();
    for trucks in made {
        if let Some(truck) = trucks.shown {
            document.receive(trucks.revision, truck);
        }
        if let Some((of, truck)) = trucks.ghost {
            ghost.receive(trucks.text_revision, &of, truck);
        }
    }
}

fn make_maps(desk: &Desk<MapJob>, sender: &Sender<MapMade>, wake: &Wake) {
    let pool = pool(cores() / 2, Hurry::No);
    loop {
        let (generation, truck, corner) = desk.take();
        // The shown truck's own map goes first, and while a value is dragged a newer job comes every frame.
        std::thread::sleep(SETTLE);
        if !desk.is_empty() {
            continue;
        }
        let map = run_in(&pool, || map_of(&truck.corners[corner]));
        if sender.send((generation, corner, map)).is_err() {
            return;
        }
        (wake.0)();
    }
}

fn exchange_maps(document: Res<Document>, mut ghost: ResMut<Ghost>, mut workers: ResMut<Workers>) {
    let corner = ghost.corner_on(document.corner().side);
    if let (Some(truck), Some((corner, _))) = (ghost.truck(), corner) {
        let asked = (ghost.generation(), corner);
        if workers.map_asked != Some(asked) {
            workers.map_desk.put((asked.0, Arc::clone(truck), asked.1));
            workers.map_asked = Some(asked);
        }
    }
    let receiver = workers.maps.lock().unwrap_or_else(PoisonError::into_inner);
    let made: Vec<MapMade> = receiver.try_iter().collect();
    for (generation, corner, map) in made {
        if workers.map_asked == Some((generation, corner)) && generation == ghost.generation() {
            ghost.take_map(Arc::new(map));
        }
    }
}
