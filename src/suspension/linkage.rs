//! A corner's linkage in one pose: every body's placement and the lengths that come with it.

use super::bodies::{BootRing, CoilSlice, HeldByTwo, Motion, Placement, TwoPointLink};
use super::circle::{unit, without_twist};
use super::hardpoints::ReachLimit;
use crate::numbers::{Enclosure, Range, Real};
use nalgebra::Vector3;
use std::sync::Arc;

/// What two bodies hold; none where there are none, which costs nothing to hand on.
pub(super) type Links = Option<Arc<[HeldByTwo]>>;

/// Every body's placement and the lengths that come with it, for one arm angle and rack position.
#[derive(Clone, Debug)]
pub struct Linkage<S: Real> {
    /// Rack.
    pub rack: Placement<S>,
    /// Lower arm.
    pub lower_arm: Placement<S>,
    /// Upper arm; at rest where a strut holds the knuckle, and then nothing is on it.
    pub upper_arm: Placement<S>,
    /// Knuckle, anchored at the lower ball joint.
    pub knuckle: Placement<S>,
    /// Tie rod, anchored at its outer end.
    pub tie_rod: Placement<S>,
    /// Damper half at the frame.
    pub damper_upper: Placement<S>,
    /// Damper half at the foot.
    pub damper_lower: Placement<S>,
    /// Halfshaft, anchored at the outer joint.
    pub halfshaft: Placement<S>,
    /// Lower ball joint.
    pub lower_ball: Vector3<S>,
    /// The kingpin axis's upper end: the upper ball joint, or a strut's top mount.
    pub kingpin_top: Vector3<S>,
    /// Tie rod's outer end.
    pub tie_rod_outer: Vector3<S>,
    /// Tie rod's inner end.
    pub tie_rod_inner: Vector3<S>,
    /// Wheel centre.
    pub wheel_centre: Vector3<S>,
    /// Outer joint's centre.
    pub outer_joint: Vector3<S>,
    /// The inner joint's spider.
    pub inner_joint: Vector3<S>,
    /// Unit vector along the kingpin axis, upward: from the lower ball joint to `kingpin_top`.
    pub kingpin: Vector3<S>,
    /// Unit vector from inner to outer tie-rod end.
    pub tie_rod_direction: Vector3<S>,
    /// Unit vector from spider to outer joint.
    pub shaft_direction: Vector3<S>,
    /// Unit vector from upper to lower damper eye.
    pub damper_direction: Vector3<S>,
    /// Damper length, eye to eye.
    pub damper_mm: S,
    /// Spider's slide along the flange axis, outboard positive.
    pub plunge_mm: S,
    /// Cosine of the inner joint's angle.
    pub inner_cos: S,
    /// Cosine of the outer joint's angle.
    pub outer_cos: S,
    /// Cosine and sine of the upper arm's turn from the measured position; of no turn on a strut.
    pub upper_turn: (S, S),
    /// What is under each root: at or below zero, the linkage can't reach.
    pub(super) reserve: [(ReachLimit, S); 3],
    pub(super) links: Links,
}

impl<S: Real> Linkage<S> {
    /// The placement that parts on `motion` follow.
    pub fn placement(&self, motion: Motion) -> Placement<S> {
        match motion {
            Motion::Frame => Placement::identity(),
            Motion::Rack => self.rack,
            Motion::LowerArm => self.lower_arm,
            Motion::UpperArm => self.upper_arm,
            Motion::Knuckle => self.knuckle,
            Motion::TieRod => self.tie_rod,
            Motion::DamperUpper => self.damper_upper,
            Motion::DamperLower => self.damper_lower,
            Motion::Halfshaft => self.halfshaft,
            Motion::Link(number) => self.held_by_two(usize::from(number)),
        }
    }

    /// Where a link's two ends are; none for a number that no link has.
    pub fn link_ends(&self, number: usize) -> Option<[Vector3<S>; 2]> {
        match self.holders(number)? {
            (HeldByTwo::Link(_), ends) => Some(ends),
            (HeldByTwo::Ring(_) | HeldByTwo::Coil(_), _) => None,
        }
    }

    /// What is held by two bodies, and where they hold it: a link's ends, the middles of a boot's circles on housing and
    /// shaft, a spring's seats, upper first.
    pub fn holders(&self, number: usize) -> Option<(&HeldByTwo, [Vector3<S>; 2])> {
        let held = self.links.as_ref()?.get(number)?;
        let ends = match held {
            HeldByTwo::Link(link) => self.ends_of(link),
            HeldByTwo::Ring(ring) => {
                [&ring.from, &ring.to].map(|end| self.placement(end.0).point(&end.1))
            }
            HeldByTwo::Coil(slice) => self.seats_of(slice),
        };
        Some((held, ends))
    }

    fn ends_of(&self, link: &TwoPointLink) -> [Vector3<S>; 2] {
        let end = |(motion, point): &(Motion, Vector3<f64>)| self.placement(*motion).point(point);
        [end(&link.from), end(&link.to)]
    }

    fn seats_of(&self, slice: &CoilSlice) -> [Vector3<S>; 2] {
        let [upper, lower] = &slice.seats;
        [
            self.damper_upper.point(upper),
            self.damper_lower.point(lower),
        ]
    }

    fn held_by_two(&self, number: usize) -> Placement<S> {
        let links = self.links.as_deref().unwrap_or_default();
        match links.get(number) {
            Some(HeldByTwo::Link(link)) => self.link(link),
            Some(HeldByTwo::Ring(ring)) => self.ring(ring),
            Some(HeldByTwo::Coil(slice)) => self.coil(slice),
            // Bodies are made of these, so that there is one for each number.
            None => Placement::identity(),
        }
    }

    fn link(&self, link: &TwoPointLink) -> Placement<S> {
        let [from, to] = self.ends_of(link);
        Placement {
            rotation: without_twist(&link.direction, &unit(to - from)),
            anchor_in_body: link.drawn_from,
            anchor: from,
        }
    }

    fn ring(&self, ring: &BootRing) -> Placement<S> {
        let [from, to] = [&ring.from, &ring.to].map(|end| self.placement(end.0));
        let (a, b) = (from.point(&ring.from.1), to.point(&ring.to.1));
        let axis = from.direction(&ring.from.2) + to.direction(&ring.to.2);
        Placement {
            rotation: without_twist(&ring.direction, &unit(axis)),
            anchor_in_body: ring.drawn_at,
            anchor: a.map(|c: S| c.scale(1.0 - ring.share)) + b.map(|c: S| c.scale(ring.share)),
        }
    }
}

impl<S: Real> Linkage<S> {
    fn coil(&self, slice: &CoilSlice) -> Placement<S> {
        let [upper, lower] = self.seats_of(slice);
        Placement {
            // Both halves are turned alike.
            rotation: self.damper_upper.rotation,
            anchor_in_body: slice.drawn_at,
            anchor: upper.map(|c: S| c.scale(1.0 - slice.share))
                + lower.map(|c: S| c.scale(slice.share)),
        }
    }
}

impl Linkage<Enclosure> {
    /// Whether the whole rectangle is proved within reach, with the wheel rising with the arm.
    pub fn is_within_reach(&self) -> bool {
        self.reserve.iter().all(|(_, r)| r.range.lo > 0.0) && self.wheel_centre.z.rate[0].lo > 0.0
    }

    /// Whether the whole rectangle is proved out of reach, or past the dead point where the wheel stops
    /// rising with the arm.
    pub fn is_beyond_reach(&self) -> bool {
        self.reserve.iter().any(|(_, r)| r.range.hi < 0.0) || self.wheel_centre.z.rate[0].hi < 0.0
    }
}

impl Linkage<Range> {
    /// Whether the whole rectangle is proved out of reach.
    pub fn is_beyond_reach(&self) -> bool {
        self.reserve.iter().any(|(_, r)| r.0.hi < 0.0)
    }
}

impl Linkage<f64> {
    /// The first part of the linkage that can't reach, if any.
    pub fn out_of_reach(&self) -> Option<ReachLimit> {
        // A NaN reserve is out of reach too, hence the negated comparison's spelling.
        self.reserve
            .iter()
            .find(|(_, r)| r.is_nan() || *r <= 0.0)
            .map(|(which, _)| *which)
    }
}
