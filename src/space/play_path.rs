//! The paths that the suspension is played along, by travel and rack.
//!
//! Reads: a corner and its free-travel map. Produces: lines of (rack, travel). The window plays along them, pictures are
//! drawn along them; an animation of both wheels takes its legs from the same places (see [`super::animate`]).

use crate::findings::FreeMap;
use crate::suspension::Lock;
use crate::truck::Corner;

/// A path to play along.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum PlayPath {
    /// Bump to droop and back, straight ahead.
    DroopStraight,
    /// The same with the wheel steered left to the lock.
    DroopLeftLock,
    /// The same with the wheel steered right to the lock.
    DroopRightLock,
    /// Lock to lock at full droop.
    LocksAtFullDroop,
    /// Along the whole edge of the free travel.
    AroundTheLimit,
}

impl PlayPath {
    /// Every path.
    pub const ALL: [PlayPath; 5] = [
        PlayPath::DroopStraight,
        PlayPath::DroopLeftLock,
        PlayPath::DroopRightLock,
        PlayPath::LocksAtFullDroop,
        PlayPath::AroundTheLimit,
    ];

    /// As shown.
    pub fn name(self) -> &'static str {
        match self {
            PlayPath::DroopStraight => "droop, straight ahead",
            PlayPath::DroopLeftLock => "droop, left lock",
            PlayPath::DroopRightLock => "droop, right lock",
            PlayPath::LocksAtFullDroop => "lock to lock at full droop",
            PlayPath::AroundTheLimit => "around the limit",
        }
    }

    /// Its corners as (rack, travel), mm, from the free-travel map's outline. Empty without one.
    pub fn corners(self, corner: &Corner, map: &FreeMap) -> Vec<[f64; 2]> {
        let [low, high] = corner.rack_mm;
        let [left, right] = Lock::BOTH.map(|lock| corner.locks().rack_mm(lock));
        // A lock that can't be reached at the measured height: as far toward it as the wheel steers there.
        let [left, right] = [left, right].map(|lock| {
            (0..=RACKS)
                .map(|i| lock * (1.0 - i as f64 / RACKS as f64))
                .find(|rack| free_travel_at(map, *rack).is_some())
                .unwrap_or(0.0)
        });
        let up_and_down = |rack: f64| {
            free_travel_at(map, rack).map_or(Vec::new(), |[droop, bump]| {
                vec![[rack, bump], [rack, droop]]
            })
        };
        match self {
            PlayPath::DroopStraight => up_and_down(0.0),
            PlayPath::DroopLeftLock => up_and_down(left),
            PlayPath::DroopRightLock => up_and_down(right),
            PlayPath::LocksAtFullDroop => (0..=RACKS)
                .map(|i| right + (left - right) * i as f64 / RACKS as f64)
                .filter_map(|rack| free_travel_at(map, rack).map(|[droop, _]| [rack, droop]))
                .collect(),
            PlayPath::AroundTheLimit => {
                let mut around: Vec<[f64; 2]> = map
                    .outline
                    .iter()
                    .map(|p| [p.rack_mm.clamp(low, high), p.travel_mm])
                    .collect();
                around.extend(around.first().copied());
                around
            }
        }
    }

    /// Whether it comes back the way it went rather than round.
    pub fn returns(self) -> bool {
        self != PlayPath::AroundTheLimit
    }
}

/// Which way the rack goes to steer left: 1 toward +y, -1 toward -y. It depends on where the tie rod is, ahead
/// of the axle or behind it.
pub fn rack_to_left(corner: &Corner) -> f64 {
    corner.locks().left_mm.signum()
}

/// Steps of the way from lock to lock at full droop.
const RACKS: usize = 64;

/// The free travel at a rack position, droop (below zero) and bump, from the outline: the nearest
/// crossings below and above the measured height.
pub fn free_travel_at(map: &FreeMap, rack_mm: f64) -> Option<[f64; 2]> {
    // A hair inside, so that a lock cuts the outline instead of running along its side.
    const INSIDE_MM: f64 = 1.0e-3;
    let rack = rack_mm - INSIDE_MM * rack_mm.signum();
    let next = map.outline.iter().cycle().skip(1);
    let (mut droop, mut bump) = (f64::NEG_INFINITY, f64::INFINITY);
    let mut above = 0;
    for (a, b) in map.outline.iter().zip(next) {
        if (a.rack_mm > rack) == (b.rack_mm > rack) {
            continue;
        }
        let share = (rack - a.rack_mm) / (b.rack_mm - a.rack_mm);
        let travel = a.travel_mm + (b.travel_mm - a.travel_mm) * share;
        if travel <= 0.0 {
            droop = droop.max(travel);
        }
        if travel >= 0.0 {
            bump = bump.min(travel);
            above += 1;
        }
    }
    // The measured height is inside where the outline is crossed an odd number of times above it.
    (above % 2 == 1 && droop.is_finite() && bump.is_finite()).then_some([droop, bump])
}

/// A place along a line of (rack, travel) corners, `at_mm` from its start; rack and travel count alike.
pub fn along(corners: &[[f64; 2]], at_mm: f64) -> Option<[f64; 2]> {
    let mut left = at_mm.max(0.0);
    for pair in corners.windows(2) {
        let [from, to] = [pair[0], pair[1]];
        let length = distance(from, to);
        if left <= length {
            let share = if length > 0.0 { left / length } else { 0.0 };
            return Some([0, 1].map(|k| from[k] + (to[k] - from[k]) * share));
        }
        left -= length;
    }
    corners.last().copied()
}

/// Length of a line of (rack, travel) corners.
pub fn length_mm(corners: &[[f64; 2]]) -> f64 {
    corners.windows(2).map(|p| distance(p[0], p[1])).sum()
}

fn distance(a: [f64; 2], b: [f64; 2]) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}
