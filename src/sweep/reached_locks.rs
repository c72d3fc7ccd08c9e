//! How far the rack goes to each side before a steering stop at the knuckle ends it.
//!
//! The idea in five lines. Where the rack's own end is reached at ride height, that is the lock. A stop at the knuckle may end
//! the steering there earlier, and the wheel's height has a little to do with where. So over the heights that the wheel
//! travels straight ahead, and somewhat beyond, the rack position is looked for at which the stop is met; the least of them
//! is the lock that is listed: there the wheel droops and bumps as far as something else lets it.
//!
//! Not guaranteed: that the stop is kept at every height there. It only says which rack positions are listed; what is free at
//! them is proved as anywhere.

use super::stop_order::LineStops;
use super::stops::{Guard, StopKind, is_intended, stop_id};
use crate::limits::LimitId;

/// Heights looked at: what bends between two of them is far less than [`BACK_OFF_MM`].
const HEIGHTS: usize = 33;
/// How far past the straight-ahead travel to either end, as a share of it: at a lock the wheel may go further.
const BEYOND: f64 = 0.1;
/// Rack that is left to the stop at the listed lock, mm.
const BACK_OFF_MM: f64 = 0.05;
/// Halvings of a rack travel: down to a ten-thousandth of a millimetre.
const HALVINGS: usize = 21;

/// The guard's steering stops that are meant to end the steering.
pub(super) fn steering_stops(guard: &Guard) -> Vec<StopKind> {
    let is_steering = |stop: &StopKind| {
        let id = stop_id(guard.corner, *stop);
        let ids = [LimitId::SteeringStopLeft, LimitId::SteeringStopRight];
        is_intended(guard.corner, *stop) && ids.iter().any(|limit| id.is_limit(limit))
    };
    guard.stops.iter().copied().filter(is_steering).collect()
}

/// The rack at both locks (toward -y, toward +y), mm, by the steering stops and the rack's own travel; `straight` is how far
/// the wheel droops and bumps straight ahead.
pub(super) fn reached_locks_mm(guard: &Guard, straight: &[LineStops; 2]) -> [f64; 2] {
    let stops = steering_stops(guard);
    let locks = guard.corner.rack_mm;
    if stops.is_empty() {
        return locks;
    }
    let is_met = |alpha, rack| {
        let mut stops = stops.iter();
        stops.any(|s| guard.violated_at(*s, alpha, rack, None))
    };
    let ride_mm = guard.corner.ride_height_mm;
    let is_reached = |lock: f64| {
        let there = guard.corner.position(ride_mm, lock);
        there.is_ok_and(|there| !is_met(there.alpha, lock))
    };
    let [droop, bump] = straight.each_ref().map(LineStops::free_to);
    let beyond = BEYOND * (bump - droop);
    let domain = guard.atlas.domain.alpha;
    let [low, high] = [droop - beyond, bump + beyond].map(|a| a.clamp(domain[0], domain[1]));
    let heights = (0..HEIGHTS).map(|i| low + (high - low) * i as f64 / (HEIGHTS - 1) as f64);
    locks.map(|lock| {
        if is_reached(lock) {
            return lock;
        }
        let reached = heights.clone().map(|alpha| {
            if !is_met(alpha, lock) {
                return lock.abs();
            }
            let (mut kept, mut met) = (0.0, lock);
            for _ in 0..HALVINGS {
                let middle = 0.5 * (kept + met);
                if is_met(alpha, middle) {
                    met = middle;
                } else {
                    kept = middle;
                }
            }
            (kept.abs() - BACK_OFF_MM).max(0.0)
        });
        reached.fold(lock.abs(), f64::min) * lock.signum()
    })
}
