//! How far pairs of parts are proved clear, remembered: setups of one truck share most of their pairs, and so do the sizes
//! that a tyre search asks.
//!
//! Guarantee: an answer is given back for the same question only: the same two surfaces on the same two motions of the same
//! mechanism, the same level, the same rectangle of positions. One memory belongs to one mechanism.

use crate::shapes::Surface;
use crate::suspension::Motion;
use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

/// What is asked about a pair.
#[derive(Clone, Copy, Debug)]
pub struct ClearQuestion<'q> {
    /// The surfaces, body coordinates: fixed, moving.
    pub surfaces: [&'q Arc<Surface>; 2],
    /// The motions of their bodies, in the same order.
    pub motions: [Motion; 2],
    /// The gap to be kept, mm.
    pub level_mm: f64,
    /// Where one of them widens with the tripod's orbit, half the orbit's track radius, mm.
    pub orbit_factor_mm: Option<f64>,
    /// The rectangle of positions: arm angle (radians), rack (mm).
    pub rectangle: [[f64; 2]; 2],
    /// What motion bounds are multiplied by.
    pub bound_factor: f64,
}

/// Everything of a question but its surfaces.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
struct Key {
    motions: [Motion; 2],
    orbits: bool,
    numbers: [u64; 7],
}

/// How far a pair is proved clear.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Clear {
    /// Up to these arm angles, in droop and in bump, radians.
    pub to: [f64; 2],
    /// Distance queries that it took.
    pub queries: u64,
}

/// Two surfaces, and what is proved of them.
type Known = ([Arc<Surface>; 2], Clear);

/// What was proved so far about one mechanism.
#[derive(Debug, Default)]
pub struct ProvedClear(Mutex<HashMap<Key, Vec<Known>>>);

/// Answers kept; with more it is begun anew: a part that is dragged in the window asks a new question with every step.
const MOST_KEPT: usize = 8192;

impl ClearQuestion<'_> {
    fn key(&self) -> Key {
        let [[a, b], [c, d]] = self.rectangle;
        let orbit = self.orbit_factor_mm.unwrap_or_default();
        Key {
            motions: self.motions,
            orbits: self.orbit_factor_mm.is_some(),
            numbers: [a, b, c, d, self.level_mm, orbit, self.bound_factor].map(f64::to_bits),
        }
    }
}

impl ProvedClear {
    /// The answer to a question that was asked before.
    pub fn of(&self, question: &ClearQuestion) -> Option<Clear> {
        let all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let of_key = all.get(&question.key())?;
        let is_it = |known: &&Known| {
            let both = known.0.iter().zip(question.surfaces);
            both.into_iter()
                .all(|(a, b)| Arc::ptr_eq(a, b) || a.is_same_solid(b))
        };
        of_key.iter().find(is_it).map(|(_, clear)| *clear)
    }

    /// Keeps an answer.
    pub fn keep(&self, question: &ClearQuestion, clear: Clear) {
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if all.values().map(Vec::len).sum::<usize>() >= MOST_KEPT {
            all.clear();
        }
        let surfaces = question.surfaces.map(Arc::clone);
        all.entry(question.key())
            .or_default()
            .push((surfaces, clear));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shapes::{ElementKind, Surface};
    use nalgebra::{Matrix3, Vector3};

    fn ball(y: f64, radius_mm: f64) -> Arc<Surface> {
        let place = Vector3::new(0.0, y, 0.0);
        let surface = Surface::new(
            Matrix3::identity(),
            Vector3::zeros(),
            vec![place],
            vec![[0, 0, 0]],
            ElementKind::Point,
            true,
        );
        Arc::new(surface.thickened(radius_mm))
    }

    #[test]
    fn an_answer_is_given_back_for_the_same_question_only() {
        let (a, b) = (ball(500.0, 10.0), ball(600.0, 5.0));
        let question = ClearQuestion {
            surfaces: [&a, &b],
            motions: [Motion::Frame, Motion::Knuckle],
            level_mm: 3.0,
            orbit_factor_mm: None,
            rectangle: [[-0.3, 0.2], [-60.0, 60.0]],
            bound_factor: 1.0,
        };
        let memory = ProvedClear::default();
        assert_eq!(memory.of(&question), None);
        let clear = Clear {
            to: [-0.3, 0.1],
            queries: 7,
        };
        memory.keep(&question, clear);
        assert_eq!(memory.of(&question), Some(clear));
        // The same surface built again is the same question.
        let (again, moved, larger) = (ball(600.0, 5.0), ball(600.000001, 5.0), ball(600.0, 5.1));
        let with = |b| ClearQuestion {
            surfaces: [&a, b],
            ..question
        };
        assert_eq!(memory.of(&with(&again)), Some(clear));
        assert_eq!(memory.of(&with(&moved)), None);
        assert_eq!(memory.of(&with(&larger)), None);
        let others = [
            ClearQuestion {
                surfaces: [&b, &a],
                ..question
            },
            ClearQuestion {
                motions: [Motion::Frame, Motion::LowerArm],
                ..question
            },
            ClearQuestion {
                level_mm: 3.1,
                ..question
            },
            ClearQuestion {
                orbit_factor_mm: Some(0.0),
                ..question
            },
            ClearQuestion {
                rectangle: [[-0.3, 0.2], [-60.0, 61.0]],
                ..question
            },
            ClearQuestion {
                bound_factor: 0.5,
                ..question
            },
        ];
        for other in others {
            assert_eq!(memory.of(&other), None, "{other:?}");
        }
    }
}
