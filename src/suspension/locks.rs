//! Which end of the rack's travel is full left: by how the wheel steers there, never by the rack's sign.
//!
//! A rack behind the axle steers left going one way, a rack ahead of it going the other. Everything that
//! names a lock asks here.

use super::{Mechanism, Side};
use crate::numbers::{Dual, Real as _};
use serde::{Deserialize, Serialize};

/// A lock, by the way that the wheels head there.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Lock {
    /// Steered left as far as it goes.
    Left,
    /// Steered right as far as it goes.
    Right,
}

impl Lock {
    /// Left, right.
    pub const BOTH: [Lock; 2] = [Lock::Left, Lock::Right];

    /// As printed.
    pub fn name(self) -> &'static str {
        match self {
            Lock::Left => "full left",
            Lock::Right => "full right",
        }
    }
}

/// Where a rack position is between the locks.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Steered {
    /// The rack is where it was measured.
    Straight,
    /// At a lock.
    Full(Lock),
    /// Between straight ahead and a lock.
    Toward(Lock),
}

impl Steered {
    /// As printed.
    pub fn name(self) -> &'static str {
        match self {
            Steered::Straight => "straight ahead",
            Steered::Full(lock) => lock.name(),
            Steered::Toward(Lock::Left) => "steered left",
            Steered::Toward(Lock::Right) => "steered right",
        }
    }
}

/// Rack positions of both locks.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Locks {
    /// Rack at full left, mm, toward +y positive.
    pub left_mm: f64,
    /// Rack at full right, mm, toward +y positive.
    pub right_mm: f64,
}

/// Rack positions closer than this are one, mm; what is printed has one decimal.
const SAME_RACK_MM: f64 = 0.05;

impl Locks {
    /// Names the locks of a corner, which are at `rack_mm` (toward -y, toward +y). Told by how the wheel turns as the
    /// rack leaves straight ahead, so that static toe counts for nothing and a lock need not be reached.
    pub fn of(design: &Mechanism, side: Side, rack_mm: [f64; 2]) -> Locks {
        let [low, high] = rack_mm;
        let moved = design.solve(Dual::constant(0.0), Dual::variable(0.0, 1));
        let spindle = moved.knuckle.direction(&design.hardpoints.spindle_axis);
        // Forward in the wheel plane, seen from above: the spindle turned a quarter.
        let outboard = side.outboard();
        let (ahead, left) = (spindle.y.scale(outboard), spindle.x.scale(-outboard));
        let turns_left = left.rate[1] * ahead.value - ahead.rate[1] * left.value;
        if turns_left > 0.0 {
            Locks {
                left_mm: high,
                right_mm: low,
            }
        } else {
            Locks {
                left_mm: low,
                right_mm: high,
            }
        }
    }

    /// Where the rack is at a lock, mm.
    pub fn rack_mm(self, lock: Lock) -> f64 {
        match lock {
            Lock::Left => self.left_mm,
            Lock::Right => self.right_mm,
        }
    }

    /// Where a rack position is between the locks.
    pub fn at(self, rack_mm: f64) -> Steered {
        let is_at = |lock: &Lock| (self.rack_mm(*lock) - rack_mm).abs() <= SAME_RACK_MM;
        if rack_mm.abs() <= SAME_RACK_MM {
            Steered::Straight
        } else if let Some(lock) = Lock::BOTH.into_iter().find(is_at) {
            Steered::Full(lock)
        } else if rack_mm * self.left_mm > 0.0 {
            Steered::Toward(Lock::Left)
        } else {
            Steered::Toward(Lock::Right)
        }
    }

    /// The locks of the mirror image: its rack goes the other way, and so does its wheel.
    #[must_use]
    pub fn mirrored(self) -> Locks {
        Locks {
            left_mm: -self.right_mm,
            right_mm: -self.left_mm,
        }
    }

    /// Whether a rack position is so near to another that what is marked at the one is looked at from the other: within
    /// [`NEAR_SHARE`] of the way from lock to lock.
    pub fn are_near(self, rack_mm: f64, other_mm: f64) -> bool {
        let whole = (self.left_mm - self.right_mm).abs();
        (rack_mm - other_mm).abs() <= NEAR_SHARE * whole
    }
}

/// Share of the rack's way from lock to lock within which a contact's mark stands: a quarter, so that what belongs to a
/// lock is not shown straight ahead.
pub const NEAR_SHARE: f64 = 0.25;
