//! Which side of a closed surface some balls lie on, kept so that it needn't be worked out again.
//!
//! Whether a surface winds about a point takes a sum over all its facets. But it is the same throughout a ball that no facet
//! reaches into, and throughout two such balls that overlap. So of each point that was asked about the ball up to the
//! nearest facet is kept, with its side; a later point whose own free ball overlaps one of them is on that side.
//!
//! Guarantee: for a closed surface the answer is the one that the sum would give, whatever was asked before.

use nalgebra::Vector3;
use std::sync::{PoisonError, RwLock};

/// Balls kept for one surface; beyond that many, new ones are worked out each time.
const MOST_BALLS: usize = 1024;

/// A ball that no facet reaches into.
#[derive(Clone, Copy, Debug)]
struct FreeBall {
    centre: Vector3<f64>,
    radius_mm: f64,
    is_inside: bool,
}

/// What is known so far of one surface. A copy of a surface knows nothing yet.
#[derive(Debug, Default)]
pub struct KnownSides(RwLock<Vec<FreeBall>>);

impl Clone for KnownSides {
    fn clone(&self) -> Self {
        KnownSides::default()
    }
}

impl KnownSides {
    /// Whether a free ball lies inside; none where no known ball overlaps it.
    pub fn is_inside(&self, centre: &Vector3<f64>, radius_mm: f64) -> Option<bool> {
        let known = self.0.read().unwrap_or_else(PoisonError::into_inner);
        let overlaps = |ball: &&FreeBall| {
            let reach = ball.radius_mm + radius_mm;
            (ball.centre - centre).norm_squared() < reach * reach
        };
        known.iter().find(overlaps).map(|ball| ball.is_inside)
    }

    /// Keeps what was found of a free ball.
    pub fn keep(&self, centre: Vector3<f64>, radius_mm: f64, is_inside: bool) {
        let mut known = self.0.write().unwrap_or_else(PoisonError::into_inner);
        if known.len() < MOST_BALLS {
            known.push(FreeBall {
                centre,
                radius_mm,
                is_inside,
            });
        }
    }
}
