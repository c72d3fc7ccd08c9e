//! The suspension in motion: key frames of every body along the play paths, for both wheels or one.
//!
//! The idea in five lines. A motion is a round of legs in (rack, share), where share 0 is a wheel's full droop at that
//! rack position and 1 its full bump, from its own free-travel map: so both wheels move at once, each within its own
//! limits, and the rack is one. Along a leg time runs as a cosine, slow at both ends. Key frames are set wherever the
//! path bends; between two of them each body's pose is compared with the straight line in place and turn that a viewer
//! will draw, and the interval is halved until no point of a part is off by more than was asked.
//!
//! Full droop and full bump are read from the map at [`STEPS`] steps to each lock and joined by straight lines, so the
//! motion follows the edge of the free travel without the map's small stairs. The edge is the first one met from the
//! measured height: past an overhang the motion goes straight on. Where only one corner was built, the other is its
//! mirror image, with the rack the other way. Nothing spins: parts that turn with shaft or wheel are what they sweep.

use super::play_path::{PlayPath, free_travel_at};
use crate::findings::FreeMap;
use crate::kinematics::{Position, ReachError};
use crate::shapes::{Surface, in_same_place};
use crate::suspension::{Body, Lock, Motion, Placement, Side};
use crate::truck::{Corner, Truck};
use nalgebra::{Isometry3, Rotation3, Translation3, UnitQuaternion, Vector3};
use std::sync::Arc;

/// What to animate.
#[derive(Clone, Debug)]
pub struct AnimationOptions {
    /// One wheel, or both.
    pub side: Option<Side>,
    /// Along which paths.
    pub paths: Vec<PlayPath>,
    /// How long each takes; none: by its length.
    pub seconds: Option<f64>,
    /// No point of a part may be off by more than this between key frames, mm.
    pub miss_mm: f64,
}

/// The suspension in motion.
#[derive(Clone, Debug)]
pub struct Animation {
    /// The truck's name.
    pub truck: String,
    /// What is drawn; what is at rest comes first.
    pub bodies: Vec<DrawnBody>,
    /// The motions, in the order asked for.
    pub clips: Vec<Clip>,
    /// How far the rack goes toward steering right and left, mm, toward +y positive.
    pub racks_mm: [f64; 2],
    /// Whether that is short of a lock, to the right and to the left: no wheel is free further out at the measured
    /// height.
    pub short_of_lock: [bool; 2],
}

/// Parts that move as one.
#[derive(Clone, Debug)]
pub struct DrawnBody {
    /// Its side; none for what both sides share.
    pub side: Option<Side>,
    /// How it moves.
    pub motion: Motion,
    /// The body's point that [`Stand`]s place, body coordinates as measured, mm.
    pub origin: Vector3<f64>,
    /// Where it stands at ride height, straight ahead.
    pub rest: Stand,
    /// What it carries.
    pub parts: Vec<DrawnPart>,
}

/// A part of a [`DrawnBody`].
#[derive(Clone, Debug)]
pub struct DrawnPart {
    /// Its name in the scene.
    pub name: String,
    /// Its side, where the other side has another one of the name.
    pub side: Option<Side>,
    /// The body that the scene puts it on.
    pub body: Body,
    /// Its surface, body coordinates as measured.
    pub surface: Arc<Surface>,
}

/// Where a body stands: its origin in vehicle coordinates, mm, and how it is turned from the measured position.
pub type Stand = Isometry3<f64>;

/// One motion, from a place back to the same place.
#[derive(Clone, Debug)]
pub struct Clip {
    /// Along which path.
    pub path: PlayPath,
    /// Times of the key frames, rising from zero, seconds.
    pub seconds: Vec<f64>,
    /// Wheel travel of each drawn wheel at each key frame, mm from the measured position, and the rack.
    pub travel_mm: Vec<Vec<f64>>,
    /// Rack at each key frame, mm, toward +y positive.
    pub rack_mm: Vec<f64>,
    /// Where each body stands at each key frame, by body, then by key frame. Turns of neighbours lie on one side of the
    /// sphere of quaternions.
    pub stands: Vec<Vec<Stand>>,
    /// The most that a point of a part was off between key frames, in the middle and halfway to it, mm.
    pub miss_mm: f64,
}

impl Clip {
    /// As listed in a viewer.
    pub fn name(&self) -> &'static str {
        clip_name(self.path)
    }
}

/// A path's whole name.
fn clip_name(path: PlayPath) -> &'static str {
    match path {
        PlayPath::DroopStraight => "bump and droop, straight ahead",
        PlayPath::DroopLeftLock => "bump and droop, left lock",
        PlayPath::DroopRightLock => "bump and droop, right lock",
        PlayPath::LocksAtFullDroop => "lock to lock at full droop",
        PlayPath::AroundTheLimit => "around the limit",
    }
}

/// Why there is no motion.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum AnimationError {
    /// A duration or a miss that is not above zero, or not a number.
    #[error("{0} must be above zero")]
    NotPositive(&'static str),
    /// The measured position isn't free.
    #[error("the {} wheel isn't free where it was measured, straight ahead: nothing can move", .0.name())]
    NotFree(Side),
    /// Both locks are one place.
    #[error("the wheels can't be steered at the measured height: nothing moves from lock to lock")]
    NoSteering,
    /// The linkage doesn't go where the map has it free.
    #[error(transparent)]
    Unreached(#[from] ReachError),
}

/// Places along the way from straight ahead to a lock at which full droop and full bump are read.
const STEPS: usize = 32;

/// Mean speed of the wheel or the rack where no duration is given, mm a second.
const SPEED_MM_S: f64 = 80.0;
/// Intervals that an even leg starts with: enough that no motion happens to be straight where it is looked at first.
const FIRST_INTERVALS: usize = 8;
/// Halvings of an interval. A smooth motion needs a handful; what is left is stated.
const MOST_HALVINGS: u32 = 12;
/// Where an interval is compared with the exact pose, as shares of it.
const LOOKED_AT: [f64; 3] = [0.25, 0.5, 0.75];
/// Share of the miss that may be seen there: the worst place may lie between.
const MISS_SHARE: f64 = 0.8;
/// How far inside its end the linkage is asked where the joined limits reach past it, mm.
const INSIDE_MM: f64 = 1.0e-3;

/// One wheel: the corner that was built for it or for its mirror image.
struct Wheel<'a> {
    corner: &'a Corner,
    side: Side,
    mirrored: bool,
    map: &'a FreeMap,
}

impl Wheel<'_> {
    fn own_rack(&self, rack_mm: f64) -> f64 {
        if self.mirrored { -rack_mm } else { rack_mm }
    }

    fn ends(&self, rack_mm: f64) -> Option<[f64; 2]> {
        free_travel_at(self.map, self.own_rack(rack_mm))
    }

    fn position(&self, travel_mm: f64, rack_mm: f64) -> Result<Position, ReachError> {
        let rack = self.own_rack(rack_mm);
        self.corner.position(travel_mm, rack).or_else(|error| {
            let short = error.reached_mm - INSIDE_MM * (travel_mm - error.reached_mm).signum();
            self.corner.position(short, rack)
        })
    }

    fn placement(&self, position: &Position, motion: Motion) -> Placement<f64> {
        let own = position.linkage.placement(motion);
        if self.mirrored { own.mirrored() } else { own }
    }
}

/// What the wheels share: rack positions, right to left, with each wheel's full droop and bump there.
struct Limits {
    racks_mm: Vec<f64>,
    ends_mm: Vec<Vec<[f64; 2]>>,
}

impl Limits {
    /// As far toward both locks as every wheel is free at the measured height.
    fn find(wheels: &[Wheel]) -> Result<(Limits, [bool; 2]), AnimationError> {
        let ends_at = |rack: f64| -> Option<Vec<[f64; 2]>> {
            wheels.iter().map(|wheel| wheel.ends(rack)).collect()
        };
        if let Some(stuck) = wheels.iter().find(|wheel| wheel.ends(0.0).is_none()) {
            return Err(AnimationError::NotFree(stuck.side));
        }
        let first = &wheels[0];
        let locks = first.corner.locks();
        let locks = if first.mirrored {
            locks.mirrored()
        } else {
            locks
        };
        let [left, right] = Lock::BOTH.map(|lock| locks.rack_mm(lock));
        let walk = |lock: f64| {
            (1..=STEPS)
                .map(move |i| lock * i as f64 / STEPS as f64)
                .map_while(|rack| Some((rack, ends_at(rack)?)))
                .collect::<Vec<_>>()
        };
        let (to_right, to_left) = (walk(right), walk(left));
        let short = [to_right.len() < STEPS, to_left.len() < STEPS];
        let middle = ends_at(0.0).map(|ends| (0.0, ends));
        let all = to_right.into_iter().rev().chain(middle).chain(to_left);
        let (racks_mm, ends_mm) = all.unzip();
        Ok((Limits { racks_mm, ends_mm }, short))
    }

    fn right_mm(&self) -> f64 {
        self.racks_mm[0]
    }

    fn left_mm(&self) -> f64 {
        self.racks_mm[self.racks_mm.len() - 1]
    }

    /// A wheel's travel at a rack position and share.
    fn travel_mm(&self, wheel: usize, [rack_mm, share]: [f64; 2]) -> f64 {
        let toward = (self.left_mm() - self.right_mm()).signum();
        let past = |rack: &f64| (rack - rack_mm) * toward >= 0.0;
        let last = self.racks_mm.len() - 1;
        let above = self.racks_mm.iter().position(past).unwrap_or(last);
        let below = above.saturating_sub(1);
        let span = self.racks_mm[above] - self.racks_mm[below];
        let part = if span == 0.0 {
            0.0
        } else {
            (rack_mm - self.racks_mm[below]) / span
        };
        let [droop, bump] = [0, 1].map(|end| {
            let [a, b] = [below, above].map(|i| self.ends_mm[i][wheel][end]);
            a + (b - a) * part
        });
        droop + (bump - droop) * share
    }

    /// Corners of a path, (rack, share), back to the first.
    fn corners(&self, path: PlayPath) -> Vec<[f64; 2]> {
        let (right, left) = (self.right_mm(), self.left_mm());
        let up_and_down = |rack: f64| vec![[rack, 1.0], [rack, 0.0], [rack, 1.0]];
        match path {
            PlayPath::DroopStraight => up_and_down(0.0),
            PlayPath::DroopLeftLock => up_and_down(left),
            PlayPath::DroopRightLock => up_and_down(right),
            PlayPath::LocksAtFullDroop => vec![[right, 0.0], [left, 0.0], [right, 0.0]],
            PlayPath::AroundTheLimit => vec![
                [right, 0.0],
                [left, 0.0],
                [left, 1.0],
                [right, 1.0],
                [right, 0.0],
            ],
        }
    }

    /// Places along a leg where the joined limits bend, as shares of it.
    fn bends(&self, from: [f64; 2], to: [f64; 2]) -> Vec<f64> {
        let way = to[0] - from[0];
        if way == 0.0 {
            return Vec::new();
        }
        let shares = self.racks_mm.iter().map(|rack| (rack - from[0]) / way);
        let mut out: Vec<f64> = shares.filter(|s| *s > 0.0 && *s < 1.0).collect();
        out.sort_by(f64::total_cmp);
        out
    }
}

/// A body that is drawn, and how it is placed.
struct Carried {
    wheel: usize,
    body: DrawnBody,
    /// Corners of boxes around its parts, from its origin, body coordinates.
    extremes: Vec<Vector3<f64>>,
}

/// Everything at one moment.
struct Frame {
    travel_mm: Vec<f64>,
    rack_mm: f64,
    stands: Vec<Stand>,
}

/// Animates a truck. `maps` are the free-travel maps of its corners, with their outlines.
///
/// # Errors
/// [`AnimationError`].
pub fn animate(
    truck: &Truck,
    maps: &[FreeMap],
    options: &AnimationOptions,
) -> Result<Animation, AnimationError> {
    let positive = |value: f64| value.is_finite() && value > 0.0;
    if options.seconds.is_some_and(|s| !positive(s)) {
        return Err(AnimationError::NotPositive("an animation's duration"));
    }
    if !positive(options.miss_mm) {
        return Err(AnimationError::NotPositive("the miss between key frames"));
    }
    let sides = match options.side {
        Some(side) => vec![side],
        None => vec![Side::Left, Side::Right],
    };
    let wheels: Vec<Wheel> = sides
        .into_iter()
        .map(|side| {
            let own = truck.corners.iter().position(|c| c.side == side);
            let number = own.unwrap_or(0);
            Wheel {
                corner: &truck.corners[number],
                side,
                mirrored: own.is_none(),
                map: &maps[number],
            }
        })
        .collect();
    let (limits, short_of_lock) = Limits::find(&wheels)?;
    let film = Film::new(wheels, limits)?;
    let clips = options
        .paths
        .iter()
        .map(|path| film.clip(*path, options))
        .collect::<Result<Vec<Clip>, AnimationError>>()?;
    Ok(Animation {
        truck: truck.name.clone(),
        racks_mm: [film.limits.right_mm(), film.limits.left_mm()],
        short_of_lock,
        bodies: film.carried.into_iter().map(|c| c.body).collect(),
        clips,
    })
}

/// What is filmed.
struct Film<'a> {
    wheels: Vec<Wheel<'a>>,
    limits: Limits,
    carried: Vec<Carried>,
}

impl<'a> Film<'a> {
    fn new(wheels: Vec<Wheel<'a>>, limits: Limits) -> Result<Film<'a>, AnimationError> {
        let mut film = Film {
            wheels,
            limits,
            carried: Vec::new(),
        };
        let mut rest = Vec::new();
        for (i, wheel) in film.wheels.iter().enumerate() {
            let [droop, bump] = [0.0, 1.0].map(|share| film.limits.travel_mm(i, [0.0, share]));
            rest.push(wheel.position(wheel.corner.ride_height_mm.clamp(droop, bump), 0.0)?);
        }
        for (i, wheel) in film.wheels.iter().enumerate() {
            for part in &wheel.corner.parts {
                let surface = if wheel.mirrored {
                    Arc::new(part.surface.mirrored())
                } else {
                    Arc::clone(&part.surface)
                };
                let motion = part.body.motion();
                let shared = matches!(motion, Motion::Frame | Motion::Rack);
                let side = (!shared && film.wheels.len() > 1).then_some(wheel.side);
                let known = film
                    .carried
                    .iter()
                    .position(|c| c.body.motion == motion && c.body.side == side);
                let number = known.unwrap_or_else(|| {
                    let placement = wheel.placement(&rest[i], motion);
                    film.carried.push(Carried {
                        wheel: i,
                        body: DrawnBody {
                            side,
                            motion,
                            origin: placement.anchor_in_body,
                            rest: stand(&placement, &placement.anchor_in_body),
                            parts: Vec::new(),
                        },
                        extremes: Vec::new(),
                    });
                    film.carried.len() - 1
                });
                let carried = &mut film.carried[number];
                let mut own_side = side;
                if shared {
                    // Drawn once where both corners have it in one place; else told apart by side.
                    let at = Placement::identity();
                    let twin = carried.body.parts.iter_mut().find(|p| p.name == part.name);
                    if let Some(twin) = twin {
                        if in_same_place(&twin.surface, &at, &surface, &at) {
                            continue;
                        }
                        twin.side = Some(film.wheels[0].side);
                        own_side = Some(wheel.side);
                    }
                }
                carried
                    .extremes
                    .extend(box_corners(&surface).map(|c| c - carried.body.origin));
                carried.body.parts.push(DrawnPart {
                    name: part.name.clone(),
                    side: own_side,
                    body: part.body,
                    surface,
                });
            }
        }
        film.carried.sort_by_key(|c| c.body.motion);
        Ok(film)
    }

    fn frame(&self, place: [f64; 2]) -> Result<Frame, AnimationError> {
        let rack_mm = place[0];
        let mut positions = Vec::with_capacity(self.wheels.len());
        for (i, wheel) in self.wheels.iter().enumerate() {
            positions.push(wheel.position(self.limits.travel_mm(i, place), rack_mm)?);
        }
        let stands = self.carried.iter().map(|c| {
            let placement = self.wheels[c.wheel].placement(&positions[c.wheel], c.body.motion);
            stand(&placement, &c.body.origin)
        });
        Ok(Frame {
            stands: stands.collect(),
            travel_mm: positions.iter().map(|p| p.travel_mm).collect(),
            rack_mm,
        })
    }

    /// The most that a point of a part is off where a viewer draws the straight way between two frames, mm.
    fn miss_mm(&self, from: &Frame, to: &Frame, share: f64, exact: &Frame) -> f64 {
        let mut worst = 0.0_f64;
        for (i, carried) in self.carried.iter().enumerate() {
            let drawn = between(&from.stands[i], &to.stands[i], share);
            // The difference of two rigid motions bends no line, so that its length is greatest at a corner of a box.
            for corner in &carried.extremes {
                let off = drawn.transform_point(&(*corner).into())
                    - exact.stands[i].transform_point(&(*corner).into());
                worst = worst.max(off.norm());
            }
        }
        worst
    }

    fn clip(&self, path: PlayPath, options: &AnimationOptions) -> Result<Clip, AnimationError> {
        let corners = self.limits.corners(path);
        let legs: Vec<Leg> = corners
            .windows(2)
            .map(|w| Leg {
                from: w[0],
                to: w[1],
            })
            .collect();
        let lengths: Vec<f64> = legs.iter().map(|leg| self.length_mm(leg)).collect();
        let total: f64 = lengths.iter().sum();
        if total == 0.0 {
            return Err(AnimationError::NoSteering);
        }
        let seconds = options.seconds.unwrap_or(total / SPEED_MM_S);
        let mut keys: Vec<(f64, Frame)> = vec![(0.0, self.frame(corners[0])?)];
        let mut miss_mm = 0.0_f64;
        let mut start = 0.0;
        for (leg, length) in legs.iter().zip(lengths) {
            let lasts = seconds * length / total;
            if lasts == 0.0 {
                continue;
            }
            // Times of the bends, and an even share of the rest.
            let mut times: Vec<f64> = self.limits.bends(leg.from, leg.to);
            for time in &mut times {
                *time = (1.0 - 2.0 * *time).acos() / std::f64::consts::PI;
            }
            if times.is_empty() {
                times = (1..FIRST_INTERVALS)
                    .map(|i| i as f64 / FIRST_INTERVALS as f64)
                    .collect();
            }
            times.push(1.0);
            let mut low = 0.0;
            for high in times {
                let mut stack = vec![(high, self.frame(leg.at(high))?, 0)];
                while let Some((high, frame, halvings)) = stack.pop() {
                    let before = &keys[keys.len() - 1].1;
                    let mut seen = 0.0_f64;
                    let mut middle = None;
                    for share in LOOKED_AT {
                        let exact = self.frame(leg.at(low + (high - low) * share))?;
                        seen = seen.max(self.miss_mm(before, &frame, share, &exact));
                        if share == 0.5 {
                            middle = Some(exact);
                        }
                    }
                    match middle {
                        Some(middle)
                            if seen > MISS_SHARE * options.miss_mm && halvings < MOST_HALVINGS =>
                        {
                            stack.push((high, frame, halvings + 1));
                            stack.push((0.5 * (low + high), middle, halvings + 1));
                        }
                        _ => {
                            miss_mm = miss_mm.max(seen);
                            keys.push((start + lasts * high, frame));
                            low = high;
                        }
                    }
                }
            }
            start += lasts;
        }
        Ok(self.collect(path, keys, miss_mm))
    }

    fn collect(&self, path: PlayPath, keys: Vec<(f64, Frame)>, miss_mm: f64) -> Clip {
        let mut clip = Clip {
            path,
            seconds: Vec::with_capacity(keys.len()),
            travel_mm: vec![Vec::with_capacity(keys.len()); self.wheels.len()],
            rack_mm: Vec::with_capacity(keys.len()),
            stands: vec![Vec::with_capacity(keys.len()); self.carried.len()],
            miss_mm,
        };
        for (time, frame) in keys {
            clip.seconds.push(time);
            clip.rack_mm.push(frame.rack_mm);
            for (list, travel) in clip.travel_mm.iter_mut().zip(frame.travel_mm) {
                list.push(travel);
            }
            for (list, mut stand) in clip.stands.iter_mut().zip(frame.stands) {
                // The two quaternions of one turn: the one on the side of the last.
                let flips = |last: &Stand| last.rotation.coords.dot(&stand.rotation.coords) < 0.0;
                if list.last().is_some_and(flips) {
                    stand.rotation = UnitQuaternion::new_unchecked(-stand.rotation.into_inner());
                }
                list.push(stand);
            }
        }
        clip
    }

    /// How far the first wheel and the rack go along a leg, mm; rack and travel count alike.
    fn length_mm(&self, leg: &Leg) -> f64 {
        let mut shares = self.limits.bends(leg.from, leg.to);
        shares.insert(0, 0.0);
        shares.push(1.0);
        let places: Vec<[f64; 2]> = shares
            .into_iter()
            .map(|share| {
                let place = leg.part(share);
                [place[0], self.limits.travel_mm(0, place)]
            })
            .collect();
        super::play_path::length_mm(&places)
    }
}

/// From one corner of a path to the next, (rack, share).
struct Leg {
    from: [f64; 2],
    to: [f64; 2],
}

impl Leg {
    fn part(&self, share: f64) -> [f64; 2] {
        [0, 1].map(|k| self.from[k] + (self.to[k] - self.from[k]) * share)
    }

    /// The place at a share of the leg's time: slow at both ends.
    fn at(&self, time: f64) -> [f64; 2] {
        self.part(0.5 * (1.0 - (std::f64::consts::PI * time).cos()))
    }
}

/// Where a body stands, by a point of it.
fn stand(placement: &Placement<f64>, origin: &Vector3<f64>) -> Stand {
    let turn = Rotation3::from_matrix_unchecked(placement.rotation);
    Isometry3::from_parts(
        Translation3::from(placement.point(origin)),
        UnitQuaternion::from_rotation_matrix(&turn),
    )
}

/// What a viewer draws between two key frames: places on the straight line, turns on the shortest way.
fn between(from: &Stand, to: &Stand, share: f64) -> Stand {
    let place = from.translation.vector.lerp(&to.translation.vector, share);
    let turn = from.rotation.try_slerp(&to.rotation, share, 1.0e-9);
    Isometry3::from_parts(place.into(), turn.unwrap_or(from.rotation))
}

/// Corners of a box around a surface, its rounding included, body coordinates.
fn box_corners(surface: &Surface) -> impl Iterator<Item = Vector3<f64>> {
    let bounds = surface.bounds();
    let half = bounds.half.add_scalar(surface.radius_mm);
    (0..8).map(move |i| {
        let sign = |k: usize| if i >> k & 1 == 0 { -1.0 } else { 1.0 };
        let off = Vector3::new(sign(0), sign(1), sign(2)).component_mul(&half);
        surface.origin + surface.rotation * (bounds.middle + off)
    })
}
