//! The clearance map of a part in the window: what is asked for, its making off the main thread, and the colours of what
//! was found.
//!
//! While the map is on, it is asked for anew whenever the truck shown changes, by a part that is moved or by anything
//! else; what is under way for an older truck is stopped. A map's colours are shown only with the truck and the choice
//! that it was made for, and not on a part that a hand holds: where nothing is known, no colour says otherwise. To be soon
//! there, free travels are kept between maps ([`KnownTravels`]), since moving the part doesn't change them; and colours,
//! which are those of corners, come as soon as corners are found, before faces and patches.

use super::background::{Desk, Hurry, Wake, cores, pool, run_in, start_worker};
use super::document::Document;
use super::making_progress::Progress;
use super::motion::MotionSet;
use super::part_colours::{ColouredParts, PartColours};
use super::placing::Placing;
use super::shown::{Page, Shown};
use super::suspension::PartChoice;
use crate::findings::ClearanceFindings;
use crate::kinematics::wheel_angles;
use crate::output::clearance_colours::{colour_within, legend};
use crate::output::{Units, signed_degrees};
use crate::space::{
    ClearanceError, ClearanceMap, ClearanceOptions, KnownTravels, MapCorners, MoverName, PartMesh,
    Spot, clearance_findings, clearance_map_again,
};
use crate::suspension::{Body, Side};
use crate::truck::{Truck, touches};
use bevy::prelude::*;
use nalgebra::{Isometry3, Vector3};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex, PoisonError};

/// What a person asks for.
#[derive(Clone, Debug, PartialEq)]
pub struct MapChoice {
    /// Whether the map is shown, and kept up with the truck.
    pub on: bool,
    /// The part, by name.
    pub part: Option<String>,
    /// The gap that must remain to everything, mm; none: what the scene asks for each pair.
    pub required_mm: Option<f64>,
    /// Gaps from here on aren't told apart, mm.
    pub cutoff_mm: f64,
}

impl Default for MapChoice {
    fn default() -> Self {
        let usual = ClearanceOptions::usual("");
        MapChoice {
            on: false,
            part: None,
            required_mm: usual.required_mm,
            cutoff_mm: usual.cutoff_mm,
        }
    }
}

/// What a map belongs to.
#[derive(Clone, Debug, PartialEq)]
pub struct Asked {
    /// The document's generation.
    pub generation: u64,
    /// Part and lengths.
    pub options: ClearanceOptions,
}

/// A map that was made.
#[derive(Debug)]
pub struct MadeMap {
    /// What it was made of.
    pub asked: Asked,
    /// The side of the corner that was looked at.
    pub side: Side,
    /// The map, in the coordinates of the part's body.
    pub map: ClearanceMap,
    /// The same in numbers.
    pub findings: ClearanceFindings,
    painted: Painted,
}

/// Triangles with the colours of their corners.
#[derive(Debug)]
struct Painted {
    /// Faces that are drawn, by number: those with an area.
    drawn: Vec<u32>,
    triangles: Vec<[Vector3<f64>; 3]>,
    colours: Vec<[[u8; 3]; 3]>,
}

impl Painted {
    fn new(mesh: &PartMesh, at_point: &[Spot], cutoff_mm: f64) -> Painted {
        let mut drawn = Vec::with_capacity(mesh.triangles.len());
        let (mut triangles, mut colours) = (Vec::new(), Vec::new());
        for (face, corners) in mesh.triangles.iter().enumerate() {
            if mesh.area_normal(face).norm() > 0.0 {
                drawn.push(face as u32);
                triangles.push(mesh.corners(face));
                colours.push(corners.map(|i| colour_within(cutoff_mm, &at_point[i as usize])));
            }
        }
        Painted {
            drawn,
            triangles,
            colours,
        }
    }

    fn colours(&self, cutoff_mm: f64, units: Units) -> PartColours {
        PartColours {
            triangles: self.triangles.clone(),
            colours: self.colours.clone(),
            legend: legend(cutoff_mm, units),
        }
    }
}

/// The colours of a map whose faces are still being asked.
#[derive(Debug)]
struct EarlyMap {
    asked: Asked,
    painted: Painted,
}

/// What is known of one place of the mapped part.
#[derive(Clone, Debug, PartialEq)]
pub struct Probed {
    /// The place, in the coordinates of the part's body, mm.
    pub at: Vector3<f64>,
    /// The least gap there: that of the whole face.
    pub spot: Spot,
    /// What comes that near; none: nothing within the cutoff.
    pub to: Option<MoverName>,
    /// That wheel's steer, left positive, degrees; none where that position can't be set.
    pub steer_deg: Option<f64>,
}

impl MadeMap {
    /// Makes the map of a part of a truck whose corner on `side` is looked at. `early` is told the corners once they are
    /// found.
    ///
    /// # Errors
    /// As [`clearance_map_again`].
    pub fn make(
        truck: &Truck,
        side: Side,
        asked: &Asked,
        known: &KnownTravels,
        early: &(dyn Fn(MapCorners) + Sync),
        progress: &(dyn Fn(f64) -> bool + Sync),
    ) -> Result<MadeMap, ClearanceError> {
        let trucks = std::slice::from_ref(truck);
        let tell = |_: &str, share| progress(share);
        let map = clearance_map_again(trucks, &asked.options, known, early, &tell)?;
        let findings = clearance_findings(&truck.name, &map, &[]);
        let painted = Painted::new(&map.mesh, &map.at_point, map.options.cutoff_mm);
        Ok(MadeMap {
            asked: asked.clone(),
            side,
            map,
            findings,
            painted,
        })
    }

    /// What the part is drawn in.
    pub fn colours(&self, units: Units) -> PartColours {
        self.painted.colours(self.map.options.cutoff_mm, units)
    }

    /// What is known at a place of a drawn triangle, by the triangle's number among those of [`MadeMap::colours`].
    pub fn probe(&self, truck: &Truck, triangle: usize, at: Vector3<f64>) -> Option<Probed> {
        let face = *self.painted.drawn.get(triangle)?;
        let spot = self.map.at_face[face as usize];
        let to = spot.to.map(|to| self.map.movers[to as usize].clone());
        let steer_deg = to.as_ref().and_then(|to| steer_deg(truck, to.side, &spot));
        Some(Probed {
            at,
            spot,
            to,
            steer_deg,
        })
    }
}

/// How far a side's wheel is steered where something comes near, degrees. Where one corner is built for both sides the
/// other one's steer is that of the mirror image.
fn steer_deg(truck: &Truck, side: Side, spot: &Spot) -> Option<f64> {
    let (corner, mirror) = match truck.corner(side) {
        Some(corner) => (corner, 1.0),
        None => (truck.corners.first()?, -1.0),
    };
    let position = corner.position(spot.travel_mm, mirror * spot.rack_mm);
    let angles = wheel_angles(
        &corner.positioner.linkage,
        &position.ok()?,
        corner.side,
        corner.loaded_radius_mm,
    );
    Some(mirror * angles.steer_deg)
}

impl Probed {
    /// In two or three lines.
    pub fn words(&self, made: &MadeMap, units: Units) -> Vec<String> {
        let Some(to) = &self.to else {
            let within = units.at_most_with_unit(made.map.options.cutoff_mm);
            let proved = if made.map.unproved_cells == 0 {
                String::new()
            } else {
                format!(
                    ", UNDECIDED in {} cells of the travel",
                    made.map.unproved_cells
                )
            };
            return vec![format!("nothing comes within {within}{proved}")];
        };
        let spot = &self.spot;
        let name = format!("the {} ({} side)", to.part, to.side.name());
        let ([there], required) = units.against([spot.gap_mm], to.required_mm);
        let mut out = vec![if touches(spot.gap_mm) {
            format!("touched by {name}")
        } else {
            format!("{there} {} from {name}", units.name())
        }];
        out.push(position_words(
            spot.travel_mm,
            spot.rack_mm,
            self.steer_deg,
            units,
        ));
        if spot.room_mm < 0.0 {
            let least = if spot.cut_is_at_least {
                "at least "
            } else {
                ""
            };
            out.push(format!(
                "required {required} {}: cut back {least}{} {}",
                units.name(),
                units.at_least(spot.cut_mm),
                units.name()
            ));
        }
        out
    }
}

/// Travel, rack and steer in a line.
pub fn position_words(
    travel_mm: f64,
    rack_mm: f64,
    steer_deg: Option<f64>,
    units: Units,
) -> String {
    let steer = steer_deg.map_or(String::new(), |deg| {
        format!(", steer {}\u{b0}", signed_degrees(deg))
    });
    format!(
        "at travel {}, rack {} {}{steer}",
        units.signed(travel_mm),
        units.signed(rack_mm),
        units.name()
    )
}

/// A map under way.
struct Making {
    progress: Arc<Progress>,
    number: u64,
    /// Until the worker has it.
    job: Option<Job>,
}

/// A place of the map that a person went to.
#[derive(Clone, Debug, PartialEq)]
pub struct Marked {
    /// The place, in the coordinates of the part's body, mm.
    pub at: Vector3<f64>,
    /// What is said of it.
    pub text: String,
}

/// What is asked for and what there is.
#[derive(Resource, Default)]
pub struct ShownMap {
    /// What a person chose.
    pub choice: MapChoice,
    /// The place gone to, while its map is shown.
    pub marked: Option<Marked>,
    /// What is under the pointer, if that is the map.
    pub probed: Option<Probed>,
    asked: Option<Asked>,
    making: Option<Making>,
    early: Option<Arc<EarlyMap>>,
    made: Option<Arc<MadeMap>>,
    problem: Option<String>,
    answers: u64,
    makings: u64,
}

impl ShownMap {
    /// With a map that is there already.
    pub fn with(made: MadeMap) -> Self {
        let options = &made.asked.options;
        ShownMap {
            choice: MapChoice {
                on: true,
                part: Some(options.part.clone()),
                required_mm: options.required_mm,
                cutoff_mm: options.cutoff_mm,
            },
            asked: Some(made.asked.clone()),
            made: Some(Arc::new(made)),
            ..ShownMap::default()
        }
    }

    /// The map that the choice and the truck shown call for; none: it is off, or there is no such part.
    fn wanted(&self, document: &Document) -> Option<Asked> {
        let choice = &self.choice;
        let name = choice.part.as_ref().filter(|_| choice.on)?;
        let corner = document.corner();
        corner.parts.iter().find(|p| p.name == *name)?;
        Some(Asked {
            generation: document.generation(),
            options: ClearanceOptions {
                side: Some(corner.side),
                required_mm: choice.required_mm,
                cutoff_mm: choice.cutoff_mm,
                ..ClearanceOptions::usual(name)
            },
        })
    }

    /// Whether what was asked holds for the truck shown, for what is chosen, and for where the part is.
    fn holds(&self, asked: &Asked, document: &Document, placing: &Placing) -> bool {
        let moved = placing.motion_of(&asked.options.part);
        let stands = moved.is_none_or(|motion| motion == Isometry3::identity());
        stands && self.wanted(document).as_ref() == Some(asked)
    }

    /// The map, if it holds for the truck shown, for what is chosen, and for where the part is.
    pub fn current(&self, document: &Document, placing: &Placing) -> Option<&Arc<MadeMap>> {
        let made = self.made.as_ref()?;
        self.holds(&made.asked, document, placing).then_some(made)
    }

    /// What there is to paint with now.
    fn paint(&self, document: &Document, placing: &Placing) -> Option<Paint> {
        if let Some(made) = self.current(document, placing) {
            return Some(Paint::Made(Arc::clone(made)));
        }
        let early = self.early.as_ref()?;
        let holds = self.holds(&early.asked, document, placing);
        holds.then(|| Paint::Early(Arc::clone(early)))
    }

    /// The part to map and what its colours mean, while the map is on: also before its colours are there.
    pub fn legend(
        &self,
        document: &Document,
        units: Units,
    ) -> Option<(String, Vec<([u8; 3], String)>)> {
        let options = self.wanted(document)?.options;
        Some((options.part, legend(options.cutoff_mm, units)))
    }

    /// The map last made, whether or not it still holds.
    pub fn made(&self) -> Option<&Arc<MadeMap>> {
        self.made.as_ref()
    }

    /// The share done of what is under way.
    pub fn progress(&self) -> Option<f64> {
        Some(self.making.as_ref()?.progress.share())
    }

    /// Why there is no map of what is asked for.
    pub fn problem(&self) -> Option<&str> {
        self.problem.as_deref()
    }

    /// Grows with every answer.
    pub fn answers(&self) -> u64 {
        self.answers
    }

    /// Asks for what is wanted now, and stops what isn't any more.
    fn ask(&mut self, document: &Document) {
        let wanted = self.wanted(document);
        if self.asked == wanted {
            return;
        }
        if let Some(making) = self.making.take() {
            making.progress.stop();
        }
        (self.problem, self.marked, self.early) = (None, None, None);
        self.asked.clone_from(&wanted);
        self.makings += 1;
        let number = self.makings;
        self.making = wanted.map(|asked| {
            let progress = Arc::new(Progress::default());
            Making {
                progress: Arc::clone(&progress),
                number,
                job: Some(Job {
                    number,
                    truck: Arc::clone(document.truck()),
                    side: document.corner().side,
                    asked,
                    progress,
                }),
            }
        });
    }

    fn receive(&mut self, number: u64, answer: Answer) {
        if self.making.as_ref().is_none_or(|m| m.number != number) {
            return;
        }
        self.answers += 1;
        let made = match answer {
            Answer::Early(early) => {
                self.early = Some(Arc::new(early));
                return;
            }
            Answer::Made(made) => *made,
        };
        (self.making, self.early) = (None, None);
        match made {
            Ok(made) => self.made = Some(Arc::new(made)),
            Err(error) => self.problem = Some(error.to_string()),
        }
    }
}

/// What a part is painted with.
enum Paint {
    Early(Arc<EarlyMap>),
    Made(Arc<MadeMap>),
}

impl Paint {
    fn is(&self, other: &Paint) -> bool {
        match (self, other) {
            (Paint::Early(a), Paint::Early(b)) => Arc::ptr_eq(a, b),
            (Paint::Made(a), Paint::Made(b)) => Arc::ptr_eq(a, b),
            _ => false,
        }
    }

    fn options(&self) -> &ClearanceOptions {
        match self {
            Paint::Early(early) => &early.asked.options,
            Paint::Made(made) => &made.asked.options,
        }
    }

    fn colours(&self, units: Units) -> PartColours {
        let painted = match self {
            Paint::Early(early) => &early.painted,
            Paint::Made(made) => &made.painted,
        };
        painted.colours(self.options().cutoff_mm, units)
    }
}

struct Job {
    number: u64,
    truck: Arc<Truck>,
    side: Side,
    asked: Asked,
    progress: Arc<Progress>,
}

enum Answer {
    Early(EarlyMap),
    Made(Box<Result<MadeMap, ClearanceError>>),
}

#[derive(Resource)]
struct Worker {
    desk: Desk<Job>,
    answers: Mutex<Receiver<(u64, Answer)>>,
}

/// Colours are up to date after this.
#[derive(SystemSet, Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct MapColoured;

/// Colours the mapped part.
pub struct ClearanceMapPlugin;

impl Plugin for ClearanceMapPlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<ShownMap>()
            .init_resource::<ColouredParts>()
            .init_resource::<Placing>()
            .add_systems(Update, paint.in_set(MapColoured).after(MotionSet));
    }
}

/// Makes maps off the main thread.
pub struct ClearanceWorkerPlugin;

impl Plugin for ClearanceWorkerPlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<Wake>()
            .init_resource::<ShownMap>()
            .init_resource::<PartChoice>()
            .add_systems(Startup, start)
            .add_systems(
                Update,
                (follow_pick, exchange)
                    .chain()
                    .after(MotionSet)
                    .before(MapColoured),
            );
    }
}

fn start(mut commands: Commands, wake: Res<Wake>) {
    let (sender, answers) = channel();
    let desk = Desk::default();
    let (own, waker) = (desk.clone(), wake.clone());
    start_worker("clearance map", move || make_maps(&own, &sender, &waker));
    commands.insert_resource(Worker {
        desk,
        answers: Mutex::new(answers),
    });
}

fn make_maps(desk: &Desk<Job>, sender: &Sender<(u64, Answer)>, wake: &Wake) {
    // A person who has just let go of a part waits for it: every core.
    let pool = pool(cores(), Hurry::Yes);
    let known = KnownTravels::default();
    loop {
        let job = desk.take();
        let progress = job.progress.teller(wake);
        let early = |corners: MapCorners| {
            let cutoff_mm = job.asked.options.cutoff_mm;
            let early = EarlyMap {
                asked: job.asked.clone(),
                painted: Painted::new(&corners.mesh, &corners.at_point, cutoff_mm),
            };
            // Nobody listens any more: the whole map's sender ends it.
            let _ = sender.send((job.number, Answer::Early(early)));
            (wake.0)();
        };
        let work = || MadeMap::make(&job.truck, job.side, &job.asked, &known, &early, &progress);
        let made = Answer::Made(Box::new(run_in(&pool, work)));
        if sender.send((job.number, made)).is_err() {
            return;
        }
        (wake.0)();
    }
}

/// The part that is picked or has just been loaded, while the page Room is open, is the one to map.
fn follow_pick(
    choice: Res<PartChoice>,
    shown: Res<Shown>,
    mut map: ResMut<ShownMap>,
    mut last: Local<Option<String>>,
) {
    if shown.page == Page::Room && *last != choice.picked {
        last.clone_from(&choice.picked);
        if choice.picked.is_some() && map.choice.part != choice.picked {
            map.choice.part.clone_from(&choice.picked);
        }
    }
}

fn exchange(document: Res<Document>, mut map: ResMut<ShownMap>, worker: Res<Worker>) {
    map.ask(&document);
    if let Some(job) = map.making.as_mut().and_then(|m| m.job.take()) {
        worker.desk.put(job);
    }
    let receiver = worker
        .answers
        .lock()
        .unwrap_or_else(PoisonError::into_inner);
    for (number, answer) in receiver.try_iter() {
        map.receive(number, answer);
    }
}

/// Gives the part its colours while they hold, and takes them off.
fn paint(
    map: Res<ShownMap>,
    document: Res<Document>,
    placing: Res<Placing>,
    shown: Res<Shown>,
    mut coloured: ResMut<ColouredParts>,
    mut painted: Local<Option<(Paint, Units)>>,
) {
    let current = map.paint(&document, &placing);
    let same = match (&*painted, &current) {
        (Some((paint, units)), Some(now)) => paint.is(now) && *units == shown.units,
        (None, None) => true,
        _ => false,
    };
    if same {
        return;
    }
    if let Some((paint, _)) = painted.take() {
        coloured.0.remove(&paint.options().part);
    }
    *painted = current.map(|paint| {
        let colours = Arc::new(paint.colours(shown.units));
        coloured.0.insert(paint.options().part.clone(), colours);
        (paint, shown.units)
    });
}

/// The body that carries the mapped part.
pub(super) fn body(made: &MadeMap) -> Body {
    made.map.on
}
