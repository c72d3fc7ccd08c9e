//! The linkage enclosed over rectangles of arm angle and rack, remembered: trucks whose setups change a limit, a part or the
//! ride height move alike, and their rates are worked out once.
//!
//! Guarantee: what is remembered is what would be worked out again, to the last bit; who asks first makes no difference.

use super::motion_bound::{LEAST_HALF, RelativeBend};
use crate::numbers::Enclosure;
use crate::suspension::{Linkage, Mechanism, Motion};
use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError, RwLock};

/// The linkage over one rectangle.
#[derive(Debug)]
pub struct EnclosedLinkage {
    /// Every body, with first and second derivatives.
    pub linkage: Linkage<Enclosure>,
    /// The half-sizes that it was enclosed for: radians, mm.
    pub half: [f64; 2],
    /// How each two bodies move against each other, of those asked so far.
    between: RwLock<Vec<(TwoMotions, Arc<RelativeBend>)>>,
}

/// The motion seen from, and the one that is seen.
type TwoMotions = (Motion, Motion);

impl EnclosedLinkage {
    /// Over the rectangle about a centre (radians, mm).
    pub fn over(mechanism: &Mechanism, centre: (f64, f64), half: [f64; 2]) -> EnclosedLinkage {
        let half = [0, 1].map(|i| f64::max(half[i], LEAST_HALF[i]));
        let linkage = mechanism.solve(
            Enclosure::variable(centre.0, half[0], 0),
            Enclosure::variable(centre.1, half[1], 1),
        );
        EnclosedLinkage {
            linkage,
            half,
            between: RwLock::default(),
        }
    }

    /// How one motion bends as seen from another: every pair of parts on the same two bodies shares it.
    pub fn between(&self, fixed: Motion, moving: Motion) -> Arc<RelativeBend> {
        let of = (fixed, moving);
        let known = |all: &[(TwoMotions, Arc<RelativeBend>)]| {
            let found = all.iter().find(|(motions, _)| *motions == of);
            found.map(|(_, bend)| Arc::clone(bend))
        };
        let read = self.between.read().unwrap_or_else(PoisonError::into_inner);
        if let Some(bend) = known(&read) {
            return bend;
        }
        drop(read);
        let [f, m] = [fixed, moving].map(|motion| self.linkage.placement(motion));
        let bend = Arc::new(RelativeBend::between(&f, &m, fixed == Motion::Frame));
        let mut all = self.between.write().unwrap_or_else(PoisonError::into_inner);
        // Another thread may have been first.
        known(&all).unwrap_or_else(|| {
            all.push((of, Arc::clone(&bend)));
            bend
        })
    }
}

/// A mechanism's enclosures so far, by the bits of their rectangles: centre and half-sizes.
#[derive(Debug, Default)]
pub struct EnclosedLinkages(Mutex<HashMap<[u64; 4], Arc<EnclosedLinkage>>>);

impl EnclosedLinkages {
    /// Over the rectangle about a centre (radians, mm), worked out where it wasn't before. `mechanism` is the same each
    /// time.
    pub fn over(
        &self,
        mechanism: &Mechanism,
        centre: (f64, f64),
        half: [f64; 2],
    ) -> Arc<EnclosedLinkage> {
        let key = [centre.0, centre.1, half[0], half[1]].map(f64::to_bits);
        let held = || self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(known) = held().get(&key) {
            return Arc::clone(known);
        }
        let new = Arc::new(EnclosedLinkage::over(mechanism, centre, half));
        Arc::clone(held().entry(key).or_insert(new))
    }
}
