//! The keep-out solid: which moving parts it is made of, its making off the main thread, and what there is of it.
//!
//! A person chooses parts, margin and resolution and asks for the solid; the making tells its share done and can be
//! stopped. The solid stays as made while the scene changes: it then says that it is outdated. Every stop of the
//! truck counts, those switched off in the list too: a bracket must not meet what moves once they are bolted on again.

use super::background::{Desk, Hurry, Wake, cores, pool, run_in, start_worker};
use super::document::Document;
use super::making_progress::Progress;
use super::motion::MotionSet;
use super::surface_mesh;
use crate::output::solid::{SolidFormat, write_solid};
use crate::space::{KeepOut, KeepOutError, KeepOutOptions, PoseTree, keep_out};
use crate::suspension::{Body, Side};
use crate::sweep::free_travel::Region;
use crate::truck::{Corner, Truck};
use bevy::prelude::*;
use std::collections::BTreeSet;
use std::path::Path;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex, PoisonError};

/// Resolution of a solid in a picture or the window where none was asked for, mm. Three times as coarse as in a file for
/// CAD, where things are measured off it: a ninth of the triangles, so that it is soon there and light to draw.
pub const DRAWN_KEEP_OUT_RESOLUTION_MM: f64 = 6.0;

/// What a solid is made of, and how.
#[derive(Clone, Debug, PartialEq)]
pub struct KeepOutChoice {
    /// The moving parts, by name.
    pub parts: BTreeSet<String>,
    /// The body that it is seen from, and moves with.
    pub on: Body,
    /// Margin and resolution.
    pub options: KeepOutOptions,
}

impl Default for KeepOutChoice {
    fn default() -> Self {
        KeepOutChoice {
            parts: BTreeSet::new(),
            on: Body::Frame,
            options: KeepOutOptions {
                margin_mm: 0.0,
                resolution_mm: DRAWN_KEEP_OUT_RESOLUTION_MM,
            },
        }
    }
}

/// A solid that was made.
#[derive(Debug)]
pub struct MadeSolid {
    /// What it was made of.
    pub choice: KeepOutChoice,
    /// The side of its corner.
    pub side: Side,
    /// The document's generation it belongs to.
    pub generation: u64,
    /// The solid, in the coordinates of the body it is seen from.
    pub solid: KeepOut,
    /// Its triangles, ready to be drawn.
    pub mesh: Mesh,
}

impl MadeSolid {
    /// Makes one. `progress` is told the share done and answers whether to go on.
    ///
    /// # Errors
    /// As [`keep_out`].
    pub fn make(
        corner: &Corner,
        generation: u64,
        choice: &KeepOutChoice,
        progress: &(dyn Fn(f64) -> bool + Sync),
    ) -> Result<MadeSolid, KeepOutError> {
        let movers: Vec<usize> = moving_parts(corner, choice.on)
            .filter(|i| choice.parts.contains(&corner.parts[*i].name))
            .collect();
        if movers.is_empty() {
            return Err(KeepOutError::NoParts);
        }
        let go_on = |share| {
            let on = progress(share);
            if on {
                Ok(())
            } else {
                Err(KeepOutError::Cancelled)
            }
        };
        go_on(0.0)?;
        let region = Region::of(corner, &[]);
        go_on(0.0)?;
        let trees = PoseTree::by_motion(corner, &region, choice.on.motion(), movers);
        let solid = keep_out(&trees, choice.options, progress)?;
        let corners = |t: &[u32; 3]| t.map(|i| solid.vertices[i as usize]);
        let triangles: Vec<_> = solid.triangles.iter().map(corners).collect();
        let mesh = surface_mesh::mesh(&triangles);
        Ok(MadeSolid {
            choice: choice.clone(),
            side: corner.side,
            generation,
            solid,
            mesh,
        })
    }

    /// Writes it for CAD, by the file's ending.
    ///
    /// # Errors
    /// What is wrong with the name, or what the file system says.
    pub fn save(&self, path: &Path) -> Result<(), String> {
        let format = SolidFormat::of(path).map_err(|e| e.to_string())?;
        let KeepOut {
            vertices,
            triangles,
            ..
        } = &self.solid;
        write_solid(path, format, "keep-out", vertices, triangles)
            .map_err(|error| format!("cannot write {}: {error}", path.display()))
    }
}

/// Numbers of the corner's parts that aren't on a body: those that move as seen from there, and those that rest or turn on
/// the spot beside it.
pub fn moving_parts(corner: &Corner, on: Body) -> impl Iterator<Item = usize> {
    let is_other = move |i: &usize| corner.parts[*i].body != on;
    (0..corner.parts.len()).filter(is_other)
}

/// A making under way.
#[derive(Debug)]
struct Making {
    number: u64,
    progress: Arc<Progress>,
    /// Until the worker has it.
    job: Option<Job>,
}

/// What is asked for and what there is.
#[derive(Resource, Debug)]
pub struct KeepOutSolid {
    /// What a person chose.
    pub choice: KeepOutChoice,
    /// Whether the solid is drawn.
    pub shown: bool,
    made: Option<Arc<MadeSolid>>,
    making: Option<Making>,
    problem: Option<String>,
    answers: u64,
    makings: u64,
}

impl Default for KeepOutSolid {
    fn default() -> Self {
        KeepOutSolid {
            choice: KeepOutChoice::default(),
            shown: true,
            made: None,
            making: None,
            problem: None,
            answers: 0,
            makings: 0,
        }
    }
}

impl KeepOutSolid {
    /// With a solid that is there already.
    pub fn with(made: MadeSolid) -> Self {
        KeepOutSolid {
            choice: made.choice.clone(),
            made: Some(Arc::new(made)),
            ..KeepOutSolid::default()
        }
    }

    /// Begins to make the solid that is chosen; one under way is stopped.
    pub fn make(&mut self, document: &Document) {
        self.stop();
        self.problem = None;
        self.makings += 1;
        let progress = Arc::new(Progress::default());
        self.making = Some(Making {
            number: self.makings,
            progress: Arc::clone(&progress),
            job: Some(Job {
                number: self.makings,
                truck: Arc::clone(document.truck()),
                corner: document.corner_number(),
                generation: document.generation(),
                choice: self.choice.clone(),
                progress,
            }),
        });
    }

    /// Stops what is under way; what was made before stays.
    pub fn stop(&mut self) {
        if let Some(making) = self.making.take() {
            making.progress.stop();
        }
    }

    /// The share done of what is under way.
    pub fn progress(&self) -> Option<f64> {
        Some(self.making.as_ref()?.progress.share())
    }

    /// The solid last made.
    pub fn made(&self) -> Option<&Arc<MadeSolid>> {
        self.made.as_ref()
    }

    /// Whether the scene has changed since the solid was made.
    pub fn is_outdated(&self, document: &Document) -> bool {
        self.made
            .as_ref()
            .is_some_and(|made| made.generation != document.generation())
    }

    /// Why there is no solid of what was asked for.
    pub fn problem(&self) -> Option<&str> {
        self.problem.as_deref()
    }

    /// Grows with every answer.
    pub fn answers(&self) -> u64 {
        self.answers
    }

    fn receive(&mut self, number: u64, made: Result<MadeSolid, KeepOutError>) {
        if self.making.as_ref().is_none_or(|m| m.number != number) {
            return;
        }
        self.making = None;
        self.answers += 1;
        match made {
            Ok(made) => {
                self.made = Some(Arc::new(made));
                self.shown = true;
            }
            Err(error) => self.problem = Some(error.to_string()),
        }
    }
}

#[derive(Debug)]
struct Job {
    number: u64,
    truck: Arc<Truck>,
    corner: usize,
    generation: u64,
    choice: KeepOutChoice,
    progress: Arc<Progress>,
}

type Answer = (u64, Result<MadeSolid, KeepOutError>);

#[derive(Resource)]
struct Worker {
    desk: Desk<Job>,
    answers: Mutex<Receiver<Answer>>,
}

/// Makes solids off the main thread.
pub struct KeepOutWorkerPlugin;

impl Plugin for KeepOutWorkerPlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<Wake>()
            .init_resource::<KeepOutSolid>()
            .add_systems(Startup, start)
            .add_systems(Update, exchange.after(MotionSet));
    }
}

fn start(mut commands: Commands, wake: Res<Wake>) {
    let (sender, answers) = channel();
    let desk = Desk::default();
    let (own, waker) = (desk.clone(), wake.clone());
    start_worker("keep-out", move || make_solids(&own, &sender, &waker));
    commands.insert_resource(Worker {
        desk,
        answers: Mutex::new(answers),
    });
}

fn make_solids(desk: &Desk<Job>, sender: &Sender<Answer>, wake: &Wake) {
    let pool = pool(cores() / 2, Hurry::Yes);
    loop {
        let job = desk.take();
        let progress = job.progress.teller(wake);
        let corner = &job.truck.corners[job.corner];
        let work = || MadeSolid::make(corner, job.generation, &job.choice, &progress);
        let made = run_in(&pool, work);
        if sender.send((job.number, made)).is_err() {
            return;
        }
        (wake.0)();
    }
}

fn exchange(mut keep_out: ResMut<KeepOutSolid>, worker: Res<Worker>) {
    // A look alone is no change.
    let waits = keep_out.making.as_ref().is_some_and(|m| m.job.is_some());
    if waits && let Some(job) = keep_out.making.as_mut().and_then(|m| m.job.take()) {
        worker.desk.put(job);
    }
    let receiver = worker
        .answers
        .lock()
        .unwrap_or_else(PoisonError::into_inner);
    for (number, made) in receiver.try_iter() {
        keep_out.receive(number, made);
    }
}
