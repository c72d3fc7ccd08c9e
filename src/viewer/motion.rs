//! Moving the suspension: where it is, where it plays along, how fast.
//!
//! Plain logic; what is dragged, clicked and typed comes from [`super::controls`] and
//! [`super::travel_map`].

use super::document::Document;
use crate::findings::{StopFound, StopOrder, TravelDirection};
use crate::kinematics::{Position, ReachError};
use crate::truck::Corner;
use bevy::prelude::*;

use crate::space::{PlayPath, play_path};

/// How far along a line of (rack, travel) corners its nearest place to a point is; zero where the point is
/// not near it.
fn nearest_mm(corners: &[[f64; 2]], point: [f64; 2]) -> f64 {
    const NEAR_MM: f64 = 2.0;
    let mut best = (NEAR_MM, 0.0);
    let mut before = 0.0;
    for pair in corners.windows(2) {
        let [from, to] = [pair[0], pair[1]];
        let length = play_path::length_mm(pair);
        if length > 0.0 {
            let along = [0, 1].map(|k| (to[k] - from[k]) / length);
            let reach = (0..2).map(|k| (point[k] - from[k]) * along[k]).sum::<f64>();
            let reach = reach.clamp(0.0, length);
            let off = play_path::length_mm(&[point, [0, 1].map(|k| from[k] + along[k] * reach)]);
            if off < best.0 {
                best = (off, before + reach);
            }
        }
        before += length;
    }
    best.1
}

/// Playing along a path.
#[derive(Clone, Debug)]
pub struct Play {
    /// Which.
    pub path: PlayPath,
    /// Its corners, (rack, travel), mm.
    pub corners: Vec<[f64; 2]>,
    /// How far along, mm.
    pub at_mm: f64,
    /// Whether on the way back.
    pub back: bool,
}

/// Where the suspension is and whether it plays.
#[derive(Resource, Debug)]
pub struct Motion {
    travel_mm: f64,
    rack_mm: f64,
    position: Position,
    unreached: Option<ReachError>,
    generation: u64,
    /// What plays.
    pub play: Option<Play>,
    /// The path that the play button starts.
    pub chosen: PlayPath,
    /// Speed along the path, mm of travel or rack a second.
    pub speed_mm_s: f64,
    /// Whether it starts again at the end.
    pub repeat: bool,
}

/// Speed that a person can follow: a hundred millimetres of travel in a second and a quarter.
const SPEED_MM_S: f64 = 80.0;

impl Motion {
    /// At the measured position.
    pub fn new(corner: &Corner) -> Motion {
        Motion {
            travel_mm: 0.0,
            rack_mm: 0.0,
            position: corner.positioner.place(0.0, 0.0),
            unreached: None,
            generation: 0,
            play: None,
            chosen: PlayPath::AroundTheLimit,
            speed_mm_s: SPEED_MM_S,
            repeat: true,
        }
    }

    /// The position shown.
    pub fn position(&self) -> &Position {
        &self.position
    }

    /// Travel shown, mm.
    pub fn travel_mm(&self) -> f64 {
        self.travel_mm
    }

    /// Rack shown, mm.
    pub fn rack_mm(&self) -> f64 {
        self.rack_mm
    }

    /// Why it didn't go where it was last sent, if it didn't.
    pub fn unreached(&self) -> Option<&ReachError> {
        self.unreached.as_ref()
    }

    /// Goes to a travel and rack position, held within the locks. Where the linkage can't go, it goes as
    /// far as it does and says so.
    pub fn go_to(&mut self, corner: &Corner, travel_mm: f64, rack_mm: f64) {
        let rack_mm = rack_mm.clamp(corner.rack_mm[0], corner.rack_mm[1]);
        match corner.position(travel_mm, rack_mm) {
            Ok(position) => {
                self.unreached = None;
                (self.travel_mm, self.rack_mm) = (travel_mm, rack_mm);
                self.position = position;
            }
            Err(error) => {
                // A hair short of the end, where the pose still exists.
                let short = error.reached_mm - 1.0e-3 * (travel_mm - error.reached_mm).signum();
                if let Ok(position) = corner.position(short, rack_mm) {
                    (self.travel_mm, self.rack_mm) = (short, rack_mm);
                    self.position = position;
                } else {
                    // Nothing of it can be reached: shown where it was measured, and said so.
                    (self.travel_mm, self.rack_mm) = (0.0, 0.0);
                    self.position = corner.positioner.place(0.0, 0.0);
                }
                self.unreached = Some(error);
            }
        }
    }

    /// Takes the pose anew after the truck changed.
    pub fn refresh(&mut self, document: &Document) {
        if self.generation != document.generation() {
            self.generation = document.generation();
            let (travel, rack) = (self.travel_mm, self.rack_mm);
            let corner = document.corner();
            self.position = corner.positioner.place(0.0, 0.0);
            self.go_to(corner, travel, rack);
        }
    }

    /// Starts to play along `corners`: from the nearest place on them, so that a pause goes on.
    pub fn start(&mut self, path: PlayPath, corners: Vec<[f64; 2]>) {
        if corners.len() < 2 {
            return;
        }
        let at_mm = nearest_mm(&corners, [self.rack_mm, self.travel_mm]);
        self.play = Some(Play {
            path,
            corners,
            at_mm,
            back: false,
        });
    }

    /// Plays on along another truck's corners of the same path.
    pub fn replace_corners(&mut self, corners: Vec<[f64; 2]>) {
        if let Some(play) = &mut self.play {
            if corners.len() < 2 {
                self.play = None;
            } else {
                play.at_mm = nearest_mm(&corners, [self.rack_mm, self.travel_mm]);
                play.corners = corners;
            }
        }
    }

    /// Moves on by `seconds` of play.
    pub fn tick(&mut self, corner: &Corner, seconds: f64) {
        let Some(play) = &mut self.play else {
            return;
        };
        let total = play_path::length_mm(&play.corners);
        let step = self.speed_mm_s * seconds;
        play.at_mm += if play.back { -step } else { step };
        let mut ended = false;
        if play.path.returns() {
            if play.at_mm >= total {
                play.at_mm = total;
                play.back = true;
            } else if play.at_mm <= 0.0 && play.back {
                play.at_mm = 0.0;
                play.back = false;
                ended = !self.repeat;
            }
        } else if play.at_mm >= total {
            ended = !self.repeat;
            play.at_mm = if ended {
                total
            } else {
                play.at_mm % total.max(1.0e-9)
            };
        }
        if let Some([rack, travel]) = play_path::along(&play.corners, play.at_mm) {
            self.go_to(corner, travel, rack);
        }
        if ended {
            self.play = None;
        }
    }
}

/// The next stop from `travel_mm` in a direction, from the orders at this rack position.
pub fn next_stop(
    orders: &[StopOrder],
    travel_mm: f64,
    direction: TravelDirection,
) -> Option<&StopFound> {
    // Stops this close to the present travel are the one just gone to.
    const SAME_MM: f64 = 0.02;
    let all = orders.iter().flat_map(|order| &order.stops);
    match direction {
        TravelDirection::Bump => all
            .filter(|s| s.travel_mm > travel_mm + SAME_MM)
            .min_by(|a, b| a.travel_mm.total_cmp(&b.travel_mm)),
        TravelDirection::Droop => all
            .filter(|s| s.travel_mm < travel_mm - SAME_MM)
            .max_by(|a, b| a.travel_mm.total_cmp(&b.travel_mm)),
    }
}

/// The pose is up to date after this.
#[derive(SystemSet, Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct MotionSet;

/// Keeps the pose up with document and play.
pub struct MotionPlugin;

impl Plugin for MotionPlugin {
    fn build(&self, app: &mut App) {
        app.add_systems(Update, advance.in_set(MotionSet));
    }
}

/// Longest step of play in one frame, seconds: after a pause the suspension goes on, it doesn't jump.
const LONGEST_STEP_S: f64 = 0.1;

fn advance(document: Res<Document>, mut motion: ResMut<Motion>, time: Res<Time<Real>>) {
    if motion.generation != document.generation() {
        motion.refresh(&document);
    }
    if motion.play.is_some() {
        motion.tick(document.corner(), time.delta_secs_f64().min(LONGEST_STEP_S));
    }
}
