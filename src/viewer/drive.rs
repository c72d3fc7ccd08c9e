//! The truck on the ground: what it stands on or drives over, where it is on its way, and play.
//!
//! Plain logic. All that takes time is in a [`Setting`], which [`super::drive_worker`] makes off the main thread and a
//! picture makes before it is drawn. How the truck stands at a place of it is cheap: it is found anew in every frame.

use super::document::Document;
use super::motion::MotionSet;
use crate::findings::{DriveFindings, DriveRow, GroundFindings};
use crate::ground::{
    Course, DriveError, Stance, Suspension, Vehicle, drive, ground_findings, on_level_ground,
};
use crate::truck::{TOUCH_MM, Truck};
use bevy::prelude::*;
use nalgebra::Vector3;
use std::sync::Arc;

/// What the picture shows.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Subject {
    /// A front corner and its suspension.
    #[default]
    Suspension,
    /// The whole truck on level ground.
    LevelGround,
    /// The whole truck over the obstacle of that name.
    Over(String),
}

impl Subject {
    /// As shown.
    pub fn name(&self) -> &str {
        match self {
            Subject::Suspension => "suspension",
            Subject::LevelGround => "truck on level ground",
            Subject::Over(name) => name,
        }
    }

    /// The obstacle's name, if there is one.
    pub fn obstacle(&self) -> Option<&str> {
        match self {
            Subject::Over(name) => Some(name),
            Subject::Suspension | Subject::LevelGround => None,
        }
    }
}

/// Places along a drive at which it is noted how far the wheels have rolled.
const ROLLED_ROWS: usize = 500;

/// How far each wheel has rolled along a drive.
///
/// A rigid wheel that doesn't slip turns about the point where it touches, a radius from its centre: its centre's way,
/// up and down steps as well, is what it has rolled.
#[derive(Clone, Debug)]
struct Rolled {
    ends_mm: [f64; 2],
    rows: Vec<[f64; 4]>,
}

impl Rolled {
    fn along(course: &Course) -> Rolled {
        let ends_mm = course.ends();
        let mut rows = vec![[0.0; 4]];
        let mut last: Option<Stance> = None;
        for i in 0..=ROLLED_ROWS {
            let x = ends_mm[0] + (ends_mm[1] - ends_mm[0]) * i as f64 / ROLLED_ROWS as f64;
            // Where it can't stand nothing rolls.
            let here = course.stand(x, last.as_ref());
            if i > 0 {
                let mut row = rows[i - 1];
                if let (Some(last), Some(here)) = (&last, &here) {
                    for (wheel, rolled) in row.iter_mut().enumerate() {
                        let [a, b] = [last, here]
                            .map(|s| s.point(&course.vehicle, &s.posture.wheels[wheel]));
                        *rolled += (b - a).norm();
                    }
                }
                rows.push(row);
            }
            last = here.or(last);
        }
        Rolled { ends_mm, rows }
    }

    fn at(&self, x: f64) -> [f64; 4] {
        let [start, end] = self.ends_mm;
        let place = ((x - start) / (end - start)).clamp(0.0, 1.0) * ROLLED_ROWS as f64;
        let low = (place.floor() as usize).min(ROLLED_ROWS - 1);
        let share = place - low as f64;
        let (a, b) = (self.rows[low], self.rows[low + 1]);
        [0, 1, 2, 3].map(|i| a[i] + (b[i] - a[i]) * share)
    }
}

/// A truck with what it stands on or drives over: all that is found once.
pub struct Setting {
    /// The truck at ride height, and how it stands on level ground with its front axle's middle at zero.
    pub level: (Vehicle, Stance),
    /// What it clears there.
    pub angles: GroundFindings,
    /// The drive, if there is an obstacle.
    pub course: Option<Course>,
    rolled: Option<Rolled>,
}

impl Setting {
    /// Puts a truck on level ground, or before the obstacle of that name. The suspension does what is usual where
    /// nothing is said.
    ///
    /// # Errors
    /// [`DriveError`].
    pub fn make(
        truck: &Truck,
        over: Option<&str>,
        suspension: Option<Suspension>,
    ) -> Result<Setting, DriveError> {
        let angles = ground_findings(truck, [0.0; 4])?;
        let vehicle = Vehicle::held(truck, [0.0; 4])?;
        let stance = on_level_ground(&vehicle).ok_or(DriveError::CannotStand)?;
        let suspension = suspension.unwrap_or(Suspension::usual(truck));
        let course = over
            .map(|name| Course::new(truck, name, 1.0, suspension))
            .transpose()?;
        Ok(Setting {
            level: (vehicle, stance),
            angles,
            rolled: course.as_ref().map(Rolled::along),
            course,
        })
    }

    /// The truck.
    pub fn vehicle(&self) -> &Vehicle {
        self.course.as_ref().map_or(&self.level.0, |c| &c.vehicle)
    }

    /// Where the front axle's middle can be, mm from the obstacle's front; zero on level ground.
    pub fn ends(&self) -> [f64; 2] {
        self.course.as_ref().map_or([0.0; 2], Course::ends)
    }

    /// How far each wheel has rolled when the front axle's middle is at `x`, mm.
    pub fn rolled_mm(&self, x: f64) -> [f64; 4] {
        self.rolled.as_ref().map_or([0.0; 4], |r| r.at(x))
    }

    /// The least and the greatest corner of truck and obstacle on level ground, the front axle's middle at zero.
    pub fn bounds_mm(&self) -> [Vector3<f64>; 2] {
        let (vehicle, stance) = &self.level;
        let mut low = Vector3::repeat(f64::INFINITY);
        let mut high = -low;
        for part in &vehicle.parts {
            let (rotation, offset) = stance.place(vehicle, part.carrier);
            let reach = Vector3::repeat(part.surface.reach_mm());
            for i in 0..part.surface.vertices.len() {
                let p = rotation * part.surface.vertex_in_body(i) + offset;
                low = low.inf(&(p - reach));
                high = high.sup(&(p + reach));
            }
        }
        for i in 0..4 {
            let centre = stance.point(vehicle, &stance.posture.wheels[i]);
            let r = vehicle.radii[i];
            let half = Vector3::new(r, 0.5 * vehicle.widths[i], r);
            low = low.inf(&(centre - half));
            high = high.sup(&(centre + half));
        }
        if let Some(course) = &self.course {
            // On a side slope one side stands higher, the other lower.
            let lean = low.y.abs().max(high.y.abs()) * course.terrain.side_slope.sin().abs();
            low.z -= lean;
            high.z += lean;
            // A ditch is part of the picture, and a truck on a ledge stands higher.
            let heights = course.terrain.profile.iter().map(|p| p[1]);
            let boulder = course.terrain.boulder.map(|[_, half]| half.z);
            low.z = heights.clone().fold(low.z, f64::min);
            high.z += heights.chain(boulder).fold(0.0, f64::max);
        }
        [low, high]
    }
}

/// What a setting is to be made from.
#[derive(Clone, Debug, PartialEq)]
pub struct WantedSetting {
    generation: u64,
    /// The obstacle; none for level ground.
    pub over: Option<String>,
    /// What the suspension is to do; none: what is usual.
    pub suspension: Option<Suspension>,
}

/// What the truck stands on, where it is, and whether it drives.
#[derive(Resource)]
pub struct Drive {
    subject: Subject,
    suspension: Option<Suspension>,
    setting: Option<Arc<Setting>>,
    found: Option<Arc<DriveFindings>>,
    problem: Option<DriveError>,
    /// What setting and findings were made from.
    made_from: Option<WantedSetting>,
    found_from: Option<WantedSetting>,
    front_axle_mm: f64,
    stance: Option<Stance>,
    touching: Vec<String>,
    answers: u64,
    /// Whether it drives by itself.
    pub playing: bool,
    /// How fast, mm a second.
    pub speed_mm_s: f64,
    /// Whether it starts again at the end.
    pub repeat: bool,
}

/// A speed at which a person can follow: the whole truck passes in ten seconds.
const SPEED_MM_S: f64 = 500.0;
/// Slowest and fastest, mm a second.
pub const SPEEDS_MM_S: std::ops::RangeInclusive<f64> = 20.0..=3_000.0;
/// A stance this near, mm along the track, is one to settle from.
const NEAR_MM: f64 = 100.0;

impl Default for Drive {
    fn default() -> Self {
        Drive {
            subject: Subject::Suspension,
            suspension: None,
            setting: None,
            found: None,
            problem: None,
            made_from: None,
            found_from: None,
            front_axle_mm: 0.0,
            stance: None,
            touching: Vec::new(),
            answers: 0,
            playing: false,
            speed_mm_s: SPEED_MM_S,
            repeat: true,
        }
    }
}

impl Drive {
    /// Of a subject, with the suspension doing what is said, or what is usual.
    pub fn new(subject: Subject, suspension: Option<Suspension>) -> Drive {
        Drive {
            subject,
            suspension,
            ..Drive::default()
        }
    }

    /// What the picture shows.
    pub fn subject(&self) -> &Subject {
        &self.subject
    }

    /// Whether that is the suspension of a corner rather than the whole truck.
    pub fn shows_suspension(&self) -> bool {
        self.subject == Subject::Suspension
    }

    /// What the suspension is to do on the drive; none: what is usual.
    pub fn suspension(&self) -> Option<Suspension> {
        self.suspension
    }

    /// Shows something else.
    pub fn choose(&mut self, subject: Subject) {
        if self.subject != subject {
            *self = Drive {
                subject,
                suspension: self.suspension,
                answers: self.answers + 1,
                speed_mm_s: self.speed_mm_s,
                repeat: self.repeat,
                ..Drive::default()
            };
        }
    }

    /// Holds the suspension, lets it follow, or does what is usual.
    pub fn choose_suspension(&mut self, suspension: Option<Suspension>) {
        self.suspension = suspension;
    }

    /// What setting is to be made for a truck; none where the suspension is shown.
    pub fn wanted(&self, document: &Document) -> Option<WantedSetting> {
        (!self.shows_suspension()).then(|| WantedSetting {
            generation: document.generation(),
            over: self.subject.obstacle().map(str::to_owned),
            suspension: self.suspension,
        })
    }

    /// Whether an answer is still to come.
    pub fn is_waiting(&self, document: &Document) -> bool {
        let wanted = self.wanted(document);
        let driven = self.subject.obstacle().is_none() || self.found_from == wanted;
        wanted.is_some() && (self.made_from != wanted || (self.problem.is_none() && !driven))
    }

    /// Whether what was found is still another truck's, or another way of driving.
    pub fn is_outdated(&self, document: &Document) -> bool {
        self.found_from != self.wanted(document)
    }

    /// Takes a setting. The truck stays where it is, or is put at the start.
    pub fn receive_setting(&mut self, from: WantedSetting, made: Result<Arc<Setting>, DriveError>) {
        self.answers += 1;
        self.made_from = Some(from);
        match made {
            Ok(setting) => {
                let place = self.setting.as_ref().map(|_| self.front_axle_mm);
                let start = setting.ends()[0];
                self.problem = None;
                self.setting = Some(setting);
                self.stance = None;
                self.go_to(place.unwrap_or(start));
            }
            Err(problem) => {
                self.problem = Some(problem);
                self.playing = false;
            }
        }
    }

    /// Takes what was found on the drive over it.
    pub fn receive_findings(
        &mut self,
        from: WantedSetting,
        found: Result<Arc<DriveFindings>, DriveError>,
    ) {
        self.answers += 1;
        self.found_from = Some(from);
        match found {
            Ok(found) => {
                self.found = Some(found);
                self.go_to(self.front_axle_mm);
            }
            Err(problem) => {
                self.found = None;
                self.problem = Some(problem);
            }
        }
    }

    /// Grows with every answer and every choice.
    pub fn answers(&self) -> u64 {
        self.answers
    }

    /// The setting, once it is made.
    pub fn setting(&self) -> Option<&Arc<Setting>> {
        self.setting.as_ref()
    }

    /// What the drive found, once it did.
    pub fn found(&self) -> Option<&Arc<DriveFindings>> {
        self.found.as_ref()
    }

    /// Why there is none.
    pub fn problem(&self) -> Option<&DriveError> {
        self.problem.as_ref()
    }

    /// Start and end of the way.
    pub fn ends(&self) -> [f64; 2] {
        match (&self.found, &self.setting) {
            (Some(found), _) => found.from_to_mm,
            (None, Some(setting)) => setting.ends(),
            (None, None) => [0.0; 2],
        }
    }

    /// Where the front axle's middle is, mm from the obstacle's front.
    pub fn front_axle_mm(&self) -> f64 {
        self.front_axle_mm
    }

    /// How the truck stands.
    pub fn stance(&self) -> Option<&Stance> {
        self.stance.as_ref()
    }

    /// Parts of the drive's contacts that touch where the truck is now.
    pub fn touching(&self) -> &[String] {
        &self.touching
    }

    /// Goes to a place along the way. Where the truck can't stand it stays where it is.
    pub fn go_to(&mut self, front_axle_mm: f64) {
        let [start, end] = self.ends();
        let x = front_axle_mm.clamp(start, end.max(start));
        let Some(setting) = &self.setting else {
            return;
        };
        let stance = match &setting.course {
            Some(course) => {
                let near = (x - self.front_axle_mm).abs() < NEAR_MM;
                course.stand(x, self.stance.as_ref().filter(|_| near))
            }
            None => Some(setting.level.1.clone()),
        };
        if let Some(stance) = stance {
            self.touching = touching(setting, self.found.as_deref(), &stance);
            self.stance = Some(stance);
            self.front_axle_mm = x;
        }
    }

    /// A point of the ground as it is drawn: the truck stays in the picture, the ground passes below it.
    pub fn seen(&self, on_ground: &Vector3<f64>) -> Vector3<f64> {
        on_ground - Vector3::new(self.front_axle_mm, 0.0, 0.0)
    }

    /// How far each wheel has turned since the start, radians: rolled distance over radius.
    pub fn wheel_turn(&self) -> [f64; 4] {
        let Some(setting) = &self.setting else {
            return [0.0; 4];
        };
        let rolled = setting.rolled_mm(self.front_axle_mm);
        let radii = setting.vehicle().radii;
        [0, 1, 2, 3].map(|i| rolled[i] / radii[i])
    }

    /// The row of the clearance curve nearest to where the truck is.
    pub fn row_here(&self) -> Option<&DriveRow> {
        let off = |row: &DriveRow| (row.front_axle_mm - self.front_axle_mm).abs();
        let rows = &self.found.as_ref()?.curve;
        rows.iter().min_by(|a, b| off(a).total_cmp(&off(b)))
    }

    /// The row of the least clearance.
    pub fn tightest(&self) -> Option<&DriveRow> {
        let rows = &self.found.as_ref()?.curve;
        rows.iter()
            .min_by(|a, b| a.clearance_mm.total_cmp(&b.clearance_mm))
    }

    /// Where a picture shows most: at the first contact, or where the clearance is least.
    pub fn telling_place_mm(&self) -> f64 {
        let found = self.found.as_ref();
        let contact = found.and_then(|f| f.contacts.first());
        match (contact, self.tightest()) {
            (Some(contact), _) => contact.front_axle_mm[1],
            (None, Some(row)) => row.front_axle_mm,
            (None, None) => self.front_axle_mm,
        }
    }

    /// Drives on, from the start again at the end; or stops.
    pub fn play_or_pause(&mut self) {
        self.playing = !self.playing && self.setting.as_ref().is_some_and(|s| s.course.is_some());
        if self.playing && self.front_axle_mm >= self.ends()[1] {
            self.go_to(self.ends()[0]);
        }
    }

    /// Goes to the next contact, or back to the last one.
    pub fn step_to_contact(&mut self, forward: bool) {
        // Contacts this close are the one just gone to.
        const SAME_MM: f64 = 0.02;
        self.playing = false;
        let here = self.front_axle_mm;
        let places = self.found.iter().flat_map(|f| &f.contacts);
        let places = places.map(|c| c.front_axle_mm[1]);
        let next = if forward {
            places
                .filter(|x| *x > here + SAME_MM)
                .min_by(f64::total_cmp)
        } else {
            places
                .filter(|x| *x < here - SAME_MM)
                .max_by(f64::total_cmp)
        };
        if let Some(x) = next {
            self.go_to(x);
        }
    }

    /// Drives on by `seconds`.
    pub fn tick(&mut self, seconds: f64) {
        if !self.playing {
            return;
        }
        let [start, end] = self.ends();
        let x = self.front_axle_mm + self.speed_mm_s * seconds;
        if x < end {
            self.go_to(x);
        } else if self.repeat {
            self.go_to(start);
        } else {
            self.go_to(end);
            self.playing = false;
        }
    }
}

/// Names of the parts among the drive's contacts that touch at a stance.
fn touching(setting: &Setting, found: Option<&DriveFindings>, stance: &Stance) -> Vec<String> {
    let (Some(course), Some(found)) = (&setting.course, found) else {
        return Vec::new();
    };
    // A contact is known to a hundredth of a millimetre.
    const REACH_MM: f64 = TOUCH_MM + 0.02;
    let touches = |name: &str| {
        let part = course.vehicle.parts.iter().position(|p| p.name == name);
        part.is_some_and(|part| {
            (0..course.terrain.solids.len())
                .any(|solid| course.gap(stance, part, solid, REACH_MM, None).gap_mm <= REACH_MM)
        })
    };
    let names = found.contacts.iter().map(|c| &c.part);
    names.filter(|name| touches(name)).cloned().collect()
}

/// Whether the suspension of a corner is shown: for systems that draw it.
pub fn suspension_is_shown(drive: Res<Drive>) -> bool {
    drive.shows_suspension()
}

/// Whether the whole truck is shown.
pub fn truck_is_shown(drive: Res<Drive>) -> bool {
    !drive.shows_suspension()
}

/// Keeps the truck up with play.
pub struct DrivePlugin;

impl Plugin for DrivePlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<Drive>()
            .add_systems(Update, advance.after(MotionSet));
    }
}

/// Longest step of play in one frame, seconds: after a pause the truck goes on, it doesn't jump.
const LONGEST_STEP_S: f64 = 0.1;

fn advance(mut drive: ResMut<Drive>, time: Res<Time<Real>>) {
    if drive.playing {
        drive.tick(time.delta_secs_f64().min(LONGEST_STEP_S));
    }
}

/// Makes the setting and drives where it stands: for a picture.
///
/// # Errors
/// [`DriveError`].
pub fn drive_now(state: &mut Drive, document: &Document) -> Result<(), DriveError> {
    let Some(wanted) = state.wanted(document) else {
        return Ok(());
    };
    let over = wanted.over.as_deref();
    let setting = Arc::new(Setting::make(document.truck(), over, wanted.suspension)?);
    let found = setting.course.as_ref().map(drive).transpose()?;
    state.receive_setting(wanted.clone(), Ok(setting));
    if let Some(found) = found {
        state.receive_findings(wanted, Ok(Arc::new(found)));
    }
    Ok(())
}
