//! A pair's gap asked again of parry3d, on parry's own shapes: a second way to the same number.
//!
//! What is shared with the guard's own way: where the bodies stand, a lathe's facets and what a turning part sweeps.
//! What isn't: the shapes of all else, the trees, the walks, the distances and what is inside what. Roundings, facet
//! errors and the tripod's orbit are taken off as the guard takes them off, so the numbers can be compared:
//! where parry has the true round shape and the guard its facets, ours may be less by the facet error, never more.

use super::watched_pair::Part;
use crate::shapes::{ParrySolid, Shape, Surface};
use crate::suspension::Linkage;
use std::sync::{Arc, OnceLock};

/// A part's shape as drawn, and what parry makes of it the first time that it is asked: a sweep that doesn't ask
/// doesn't pay, and copies of the part share it.
#[derive(Clone, Debug)]
pub struct Drawn {
    shape: Shape,
    solid: Arc<OnceLock<Option<ParrySolid>>>,
}

impl Drawn {
    /// Of a shape, body coordinates.
    pub fn new(shape: Shape) -> Drawn {
        Drawn {
            shape,
            solid: Arc::default(),
        }
    }

    fn solid(&self, surface: &Surface, revolved: bool) -> Option<&ParrySolid> {
        self.solid
            .get_or_init(|| ParrySolid::of(&self.shape, surface, revolved))
            .as_ref()
    }
}

/// A gap by parry, to be held against ours.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SecondGap {
    /// Certified: no less than this, mm; zero where the parts meet, or one holds the other.
    pub lower_mm: f64,
    /// No more than this, mm; without limit where nothing was found within the greatest distance.
    pub upper_mm: f64,
    /// Ours may be less by so much: the error of facets that parry doesn't share, mm.
    pub facets_mm: f64,
    /// What it took, in tests of two boxes.
    pub work: u64,
}

/// The gap of two parts at a pose, less `swell_mm` (the tripod orbit's widening of a shaft), asked of parry up to
/// `greatest_mm`. `None` for a part that parry can't hold.
pub fn second_gap(
    a: &Part,
    b: &Part,
    linkage: &Linkage<f64>,
    swell_mm: f64,
    greatest_mm: f64,
) -> Option<SecondGap> {
    let (own, other) = (a.solid()?, b.solid()?);
    // Facets that parry shares err as ours do; those that it doesn't make ours less.
    let (shared, unshared) = [(a, own), (b, other)].iter().fold((0.0, 0.0), |sum, of| {
        let error = of.0.surface.facet_error_mm;
        if of.1.has_our_facets() {
            (sum.0 + error, sum.1)
        } else {
            (sum.0, sum.1 + error)
        }
    });
    let [p, q] = [a, b].map(|part| linkage.placement(part.body.motion()));
    let rotation = p.rotation.tr_mul(&q.rotation);
    let offset = p
        .rotation
        .tr_mul(&(q.anchor - q.rotation * q.anchor_in_body - p.anchor))
        + p.anchor_in_body;
    let off = shared + swell_mm;
    let gap = own.gap_to(other, &rotation, &offset, greatest_mm + off);
    Some(SecondGap {
        lower_mm: (gap.lower_mm - off).max(0.0),
        upper_mm: (gap.upper_mm - off).max(0.0),
        facets_mm: unshared,
        work: gap.work,
    })
}

impl Part {
    fn solid(&self) -> Option<&ParrySolid> {
        self.drawn.solid(&self.surface, self.revolved)
    }

    /// What making parry's solid of it takes, in tests of two boxes.
    pub fn making_work(&self) -> u64 {
        ParrySolid::making_work(&self.drawn.shape, &self.surface, self.revolved)
    }
}
