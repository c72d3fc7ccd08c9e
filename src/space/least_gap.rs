//! The least gap of a small fixed surface, a point or one triangle, to everything that moves, over all positions.
//!
//! The idea in five lines. Every cell of positions says where a moving part stands in its middle and how far it can be
//! from there. A part proved to keep away over a whole cell is done with there; else the gap in the middle is measured,
//! which may be the least so far, and the cell is halved. What is left unproved shrinks to nothing around the least gap.
//! Neighbours share the work: for a ball around many surfaces, cells and parts that can't be the least for any of them
//! are sifted out first, and each surface starts from its neighbour's answer.
//!
//! What is least is the *room*: the gap less what must remain to that part. A gap below zero counts as zero, and so does
//! that of a place inside a closed part.
//!
//! Why it is a proof: a position is dropped only where room stays above the least found, less the tolerance, by one of
//! two bounds. Either the distance less the way of the surface's corners, seen from the moving part, is more than that;
//! or a plane that turns with the moving part parts them by more than the corners move along its normal. Both hold for
//! a triangle as a whole, since the way of any of its points is a mean of its corners'. The second bound needs fewer
//! cells, since where a gap is least its parts pass each other sideways.
//!
//! Sources: as [`crate::clearance`]'s walk; branch and bound over cells as [`crate::sweep`]'s tightest gaps. The bound
//! seen from the moving part is ours.

use super::nearest::{holds, signed_distance_mm};
use super::poses::{PoseNode, PoseTree};
use crate::clearance::{Closest, closest_elements, slab_width};
use crate::shapes::{ElementKind, Surface};
use crate::suspension::Side;
use nalgebra::{Matrix3, Vector3};
use std::cmp::Ordering;
use std::collections::BinaryHeap;

type V = Vector3<f64>;

/// One corner in one setup, as the mapped part meets it.
pub struct Stage<'a> {
    /// The setup; none: as measured.
    pub setup: Option<String>,
    /// Which side moves.
    pub side: Side,
    /// Every position.
    pub tree: PoseTree<'a>,
    /// What must remain to each mover, mm.
    pub required_mm: Vec<f64>,
    /// The tree's coordinates from the map's: `rotation * p + offset`. A mirrored corner's is a reflection.
    pub rotation: Matrix3<f64>,
    /// See `rotation`.
    pub offset: V,
}

impl Stage<'_> {
    /// Whether the side that moves is the mirror image of the corner asked.
    pub fn is_mirrored(&self) -> bool {
        self.side != self.tree.corner.side
    }

    pub(super) fn surface(&self, mover: u16) -> &Surface {
        let part = self.tree.movers[usize::from(mover)].part;
        &self.tree.corner.parts[part].surface
    }
}

/// A mover over a cell of positions.
#[derive(Clone, Copy, Debug)]
pub struct Candidate<'n> {
    /// The cell.
    pub node: &'n PoseNode,
    /// Number of the stage.
    pub stage: u16,
    /// Number among its tree's movers.
    pub mover: u16,
}

/// The least room found.
#[derive(Clone, Copy, Debug)]
pub struct Found<'n> {
    /// The gap, not below zero, mm.
    pub gap_mm: f64,
    /// The gap less what must remain, mm.
    pub room_mm: f64,
    /// To what, in the middle of which cell.
    pub at: Candidate<'n>,
}

/// A point, or a triangle, in the map's coordinates.
#[derive(Clone, Copy, Debug)]
pub struct Target {
    corners: [V; 3],
    kind: ElementKind,
}

impl Target {
    /// One point.
    pub fn point(p: V) -> Target {
        Target {
            corners: [p; 3],
            kind: ElementKind::Point,
        }
    }

    /// One triangle.
    pub fn triangle(corners: [V; 3]) -> Target {
        Target {
            corners,
            kind: ElementKind::Triangle,
        }
    }
}

/// Everything that moves near a part.
pub struct Movers<'a> {
    /// Corners and setups.
    pub stages: Vec<Stage<'a>>,
    /// A least gap is found to within this, mm.
    pub tolerance_mm: f64,
    /// Gaps from here on aren't told apart, mm.
    pub cutoff_mm: f64,
    /// The mapped part's true surface may lie this far beyond its triangles, mm.
    pub part_error_mm: f64,
}

/// Looked at in the middle of a cell.
enum Look {
    /// The gap stays above the level over the whole cell.
    Above,
    /// It isn't shown to: gap in the middle, and the least that it can be over the cell (both below zero where rounded
    /// parts overlap).
    Open { gap_mm: f64, at_least_mm: f64 },
    /// Nothing is known of so large a cell.
    Unbounded,
}

/// A target as one mover sees it in the middle of a cell: in the mover's shape frame.
struct Seen<'s> {
    surface: &'s Surface,
    corners: [V; 3],
    used: usize,
    kind: ElementKind,
    middle: V,
    half: V,
}

impl<'s> Seen<'s> {
    /// From the target's corners in the mover's body.
    #[inline]
    fn new(surface: &'s Surface, target: &Target, in_body: &[V; 3]) -> Seen<'s> {
        let corners = in_body.map(|p| surface.rotation.tr_mul(&(p - surface.origin)));
        let low = corners[0].inf(&corners[1]).inf(&corners[2]);
        let high = corners[0].sup(&corners[1]).sup(&corners[2]);
        Seen {
            surface,
            corners,
            used: target.kind.corners(),
            kind: target.kind,
            middle: 0.5 * (low + high),
            half: 0.5 * (high - low),
        }
    }

    /// From a node's box to the target's: nearest point's direction, not normalised.
    #[inline]
    fn way_from(&self, node: u32) -> V {
        let bounds = &self.surface.tree.nodes[node as usize].bounds;
        let between = self.middle - bounds.middle;
        (between.abs() - bounds.half - self.half)
            .sup(&V::zeros())
            .zip_map(&between, f64::copysign)
    }

    /// Least distance to the mover's elements, walked near first; `skip` answers whether a node, parted from the target
    /// by a way, or an element, with its distance and the direction to the target, needs no look.
    #[inline]
    fn nearest(&self, mut skip: impl FnMut(Parted, f64) -> bool) -> Closest {
        let nodes = &self.surface.tree.nodes;
        let mut closest = Closest {
            distance: f64::INFINITY,
            a: self.middle,
            b: self.middle,
        };
        let mut stack = [(0.0, 0_u32); 96];
        let first = self.way_from(0);
        if skip(Parted::Node(first), closest.distance) {
            return closest;
        }
        stack[0] = (first.norm(), 0);
        let mut top = 1;
        while top > 0 {
            top -= 1;
            let (bound, n) = stack[top];
            if bound >= closest.distance {
                continue;
            }
            let node = &nodes[n as usize];
            if node.count > 0 {
                for i in node.first..node.first + node.count {
                    let element = self.surface.corners(i as usize);
                    let pair =
                        closest_elements(self.kind, &self.corners, self.surface.kind, &element);
                    if pair.distance < closest.distance
                        && !skip(Parted::Element(&element, pair.a - pair.b), closest.distance)
                    {
                        closest = pair;
                    }
                }
                continue;
            }
            let [mut x, mut y] = [node.first, node.first + 1].map(|c| {
                let way = self.way_from(c);
                let apart = way.norm();
                let best = closest.distance;
                (apart < best && !skip(Parted::Node(way), best)).then_some((apart, c))
            });
            if let (Some(a), Some(b)) = (x, y)
                && a.0 < b.0
            {
                (x, y) = (y, x);
            }
            for child in [x, y].into_iter().flatten() {
                stack[top] = child;
                top += 1;
            }
        }
        closest
    }
}

enum Parted<'e> {
    /// The way from the node's box to the target's box.
    Node(V),
    /// The element's corners and the way from it to the target.
    Element(&'e [V; 3], V),
}

/// Allowance for rounding in positions and distances, mm: as in [`crate::clearance`].
const ROUNDING_MM: f64 = 1.0e-9;
/// Cells in which a ball's candidates move by less than this aren't halved for it, mm: surfaces inside halve them on.
const FINE_ENOUGH_MM: f64 = 3.0;
/// Cells looked at for how deep a part goes in: what is found is a least depth, so the search may end anywhere.
const DEPTH_LOOKS: usize = 250;

impl<'a> Movers<'a> {
    /// Every mover in every cell at the top of its tree.
    pub fn roots(&self) -> Vec<Candidate<'_>> {
        let mut out = Vec::new();
        for (s, stage) in self.stages.iter().enumerate() {
            for mover in 0..stage.tree.movers.len() as u16 {
                out.extend(stage.tree.roots.iter().map(|node| Candidate {
                    node,
                    stage: s as u16,
                    mover,
                }));
            }
        }
        out
    }

    /// What must remain to a candidate's mover, mm.
    pub fn required_mm(&self, c: Candidate) -> f64 {
        self.stages[usize::from(c.stage)].required_mm[usize::from(c.mover)]
    }

    /// Cells as small as they get that couldn't be proved.
    pub fn unproved(&self) -> usize {
        self.stages.iter().map(|s| s.tree.unproved()).sum()
    }

    fn halves<'n>(&'n self, c: Candidate<'n>) -> impl Iterator<Item = Candidate<'n>> {
        let halves = self.stages[usize::from(c.stage)].tree.halves(c.node);
        halves.iter().map(move |node| Candidate { node, ..c })
    }

    /// Gap in the middle of a cell and what it is made of, unless it is shown to stay above `level_mm` over all of it.
    /// With `ball` above zero the target is a point amid a ball, and the least is that of any point in it.
    fn look(&self, c: Candidate, target: &Target, ball: f64, level_mm: f64) -> Look {
        let stage = &self.stages[usize::from(c.stage)];
        let Some(poses) = &c.node.poses else {
            return Look::Unbounded;
        };
        let pose = &poses[usize::from(c.mover)];
        let surface = stage.surface(c.mover);
        let used = target.kind.corners();
        let in_body = target
            .corners
            .map(|p| pose.in_mover(&(stage.rotation * p + stage.offset)));
        let off = in_body[..used]
            .iter()
            .map(|p| pose.field.displacement_of_ball(p, ball))
            .fold(0.0, f64::max);
        let seen = Seen::new(surface, target, &in_body);
        let reach = surface.reach_mm() + self.part_error_mm;
        let needed = level_mm + reach + pose.most_swell_mm + ball + ROUNDING_MM;
        let turn = pose.rotation * surface.rotation;
        // A slab square to the unit n (mover's shape frame) holds over the whole cell.
        let stays_parted = |n: &V, width: f64| {
            let n = turn * n;
            width > needed
                && in_body[..used].iter().all(|p| {
                    let moves = pose.field.displacement(p);
                    let along = pose.field.displacement_of_resting_along(p, moves, &n);
                    width - along > needed
                })
        };
        let mut open = false;
        let closest = seen.nearest(|parted, best| match parted {
            Parted::Node(way) => {
                let apart = way.norm();
                if apart - off > needed {
                    return true;
                }
                // Once something stands in the way only the distance in the middle is left to find.
                let lost = open && (!c.node.is_middle_covered || apart >= best);
                lost || (!open
                    && ball == 0.0
                    && apart > needed
                    && stays_parted(&(way / apart), apart))
            }
            Parted::Element(element, way) => {
                let apart = way.norm();
                if apart - off > needed {
                    return true;
                }
                let n = way / apart.max(f64::MIN_POSITIVE);
                let element = &element[..surface.kind.corners()];
                let kept = !open
                    && ball == 0.0
                    && apart > needed
                    && stays_parted(&n, slab_width(element, &seen.corners[..seen.used], &n));
                open |= !kept;
                kept
            }
        });
        if !open {
            // All of its surface keeps away from the target over the whole cell: from within, or from without.
            return if self.holds(c, &seen) {
                Look::Open {
                    gap_mm: -ball,
                    at_least_mm: -ball,
                }
            } else {
                Look::Above
            };
        }
        let core = if closest.distance > 0.0 && self.holds(c, &seen) {
            -closest.distance
        } else {
            closest.distance
        };
        // Where the walk was cut short because the middle doesn't count, the distance is only an upper bound of the least.
        Look::Open {
            gap_mm: core - reach - pose.swell_mm,
            at_least_mm: if c.node.is_middle_covered {
                core - off - ball - reach - pose.most_swell_mm
            } else {
                f64::NEG_INFINITY
            },
        }
    }

    /// Whether it is known what lies inside a candidate's mover.
    pub fn has_inside(&self, c: Candidate) -> bool {
        let surface = self.stages[usize::from(c.stage)].surface(c.mover);
        surface.kind != ElementKind::Triangle || surface.round.is_some() || surface.closed
    }

    /// Whether a mover's solid holds a target that its surface doesn't meet.
    fn holds(&self, c: Candidate, seen: &Seen) -> bool {
        let surface = self.stages[usize::from(c.stage)].surface(c.mover);
        let bounds = surface.bounds();
        let own = &seen.corners[0];
        surface.kind == ElementKind::Triangle
            && ((own - bounds.middle).abs() - bounds.half).max() <= 0.0
            && holds(surface, own) == Some(true)
    }

    /// What is shown to be no nearer than this is beyond the cutoff: a gap of just the cutoff must end somewhere.
    fn far_mm(&self) -> f64 {
        self.cutoff_mm - self.tolerance_mm
    }

    /// The gap that matters for one mover when room above `room_mm` doesn't; none where no gap can be lower.
    fn level(&self, c: Candidate, room_mm: f64) -> Option<f64> {
        let level = (room_mm + self.required_mm(c)).min(self.far_mm());
        (level > 0.0).then_some(level)
    }

    /// The least room of a target to the candidates, within the tolerance; none where every gap is at least the cutoff.
    /// `start` is a candidate to look at first.
    pub fn least<'n>(
        &'n self,
        target: &Target,
        candidates: &[Candidate<'n>],
        best: Option<Found<'n>>,
        start: Option<Candidate<'n>>,
    ) -> Option<Found<'n>> {
        let mut best = best;
        let level = |best: &Option<Found>| {
            best.as_ref()
                .map_or(f64::INFINITY, |b| b.room_mm - self.tolerance_mm)
        };
        let better = |best: &mut Option<Found<'n>>, c: Candidate<'n>, gap_mm: f64| {
            let gap_mm = gap_mm.max(0.0);
            let room_mm = gap_mm - self.required_mm(c);
            if gap_mm < self.cutoff_mm && best.as_ref().is_none_or(|b| room_mm < b.room_mm) {
                *best = Some(Found {
                    gap_mm,
                    room_mm,
                    at: c,
                });
            }
        };
        if let Some(c) = start
            && c.node.is_middle_covered
            && let Some(level_mm) = self.level(c, level(&best))
            && let Look::Open { gap_mm, .. } = self.look(c, target, 0.0, level_mm)
        {
            better(&mut best, c, gap_mm);
        }
        // The least room that each may have; candidates come most promising first.
        let mut stack: Vec<(f64, Candidate)> = candidates
            .iter()
            .rev()
            .map(|c| (f64::NEG_INFINITY, *c))
            .collect();
        while let Some((bound, c)) = stack.pop() {
            let room_mm = level(&best);
            if bound >= room_mm {
                continue;
            }
            let Some(level_mm) = self.level(c, room_mm) else {
                continue;
            };
            let bound = match self.look(c, target, 0.0, level_mm) {
                Look::Above => continue,
                Look::Unbounded => f64::NEG_INFINITY,
                Look::Open {
                    gap_mm,
                    at_least_mm,
                } => {
                    if c.node.is_middle_covered {
                        better(&mut best, c, gap_mm);
                    }
                    at_least_mm - self.required_mm(c)
                }
            };
            stack.extend(self.halves(c).map(|half| (bound, half)));
        }
        best
    }

    /// Nearest points in the middle of a cell: of the target, and of the mover's surface, in the map's coordinates.
    pub fn nearest_points(&self, c: Candidate, target: &Target) -> Option<[V; 2]> {
        let stage = &self.stages[usize::from(c.stage)];
        let pose = &c.node.poses.as_ref()?[usize::from(c.mover)];
        let surface = stage.surface(c.mover);
        let in_body = target
            .corners
            .map(|p| pose.in_mover(&(stage.rotation * p + stage.offset)));
        let closest = Seen::new(surface, target, &in_body).nearest(|_, _| false);
        let out = (closest.a - closest.b)
            .try_normalize(0.0)
            .unwrap_or_default();
        let on_mover = closest.b + out * surface.radius_mm.min(closest.distance);
        Some([closest.a, on_mover].map(|p| {
            let in_body = surface.rotation * p + surface.origin;
            let there = pose.rotation * in_body + pose.offset;
            stage.rotation.tr_mul(&(there - stage.offset))
        }))
    }

    /// Whether a mover comes nearer than the cutoff to a ball, as far as cells about as coarse as the ball can tell.
    pub fn comes_near(&self, root: Candidate, middle: &V, radius: f64) -> bool {
        let target = Target::point(*middle);
        let mut stack = vec![root];
        while let Some(c) = stack.pop() {
            if matches!(self.look(c, &target, radius, self.far_mm()), Look::Above) {
                continue;
            }
            if self.strays(c, middle, radius) <= radius.max(FINE_ENOUGH_MM) {
                return true;
            }
            stack.extend(self.halves(c));
        }
        false
    }

    /// The candidates that can be the least for some point of a ball, in cells about as coarse as the ball; most promising
    /// first, with the least room of the first. Room above `most_mm` doesn't matter.
    pub fn sift<'n>(
        &'n self,
        middle: &V,
        radius: f64,
        candidates: &[Candidate<'n>],
        most_mm: f64,
    ) -> (f64, Vec<Candidate<'n>>) {
        let (_, least, kept) = self.sifted(middle, radius, candidates, most_mm);
        (least, kept)
    }

    /// The candidates that can come nearer to some point of a ball than they must, most promising first; and whether some
    /// do so to all of it. None where nothing can.
    pub fn too_near<'n>(
        &'n self,
        middle: &V,
        radius: f64,
        candidates: &[Candidate<'n>],
    ) -> Option<(bool, Vec<Candidate<'n>>)> {
        let (most, _, kept) = self.sifted(middle, radius, candidates, 0.0);
        if most < 0.0 {
            return Some((true, kept));
        }
        let settled = radius > FINE_ENOUGH_MM || self.comes_too_near(middle, radius, &kept);
        (settled && !kept.is_empty()).then_some((false, kept))
    }

    /// Whether some candidate comes nearer to some point of a ball than it must, in cells as small as that takes. Where that
    /// can't be told in cells over which nothing moves by more than the tolerance the answer is yes.
    fn comes_too_near(&self, middle: &V, radius: f64, candidates: &[Candidate]) -> bool {
        let target = Target::point(*middle);
        let mut stack: Vec<Candidate> = candidates.iter().rev().copied().collect();
        while let Some(c) = stack.pop() {
            let level_mm = self.required_mm(c).min(self.far_mm());
            match self.look(c, &target, radius, level_mm) {
                Look::Above => continue,
                Look::Open { gap_mm, .. }
                    if c.node.is_middle_covered && gap_mm - radius <= level_mm =>
                {
                    return true;
                }
                Look::Open { .. } | Look::Unbounded => {}
            }
            if self.strays(c, middle, radius) <= self.tolerance_mm {
                return true;
            }
            stack.extend(self.halves(c));
        }
        false
    }

    /// As [`Movers::sift`], with the room that no point of the ball has more of, as far as was found.
    fn sifted<'n>(
        &'n self,
        middle: &V,
        radius: f64,
        candidates: &[Candidate<'n>],
        most_mm: f64,
    ) -> (f64, f64, Vec<Candidate<'n>>) {
        let target = Target::point(*middle);
        // No point of the ball has more room than this.
        let mut most = most_mm;
        let mut kept: Vec<(f64, Candidate)> = Vec::new();
        let mut stack: Vec<Candidate> = candidates.iter().rev().copied().collect();
        while let Some(c) = stack.pop() {
            let required = self.required_mm(c);
            let level_mm = (most + required).min(self.far_mm());
            if level_mm < 0.0 {
                // Not even touching it would be the least.
                continue;
            }
            match self.look(c, &target, radius, level_mm) {
                Look::Above => {}
                Look::Unbounded => stack.extend(self.halves(c)),
                Look::Open {
                    gap_mm,
                    at_least_mm,
                } => {
                    if c.node.is_middle_covered {
                        most = most.min((gap_mm + radius).max(0.0) - required);
                    }
                    let coarse = self.strays(c, middle, radius) > radius.max(FINE_ENOUGH_MM);
                    if coarse {
                        let first = stack.len();
                        stack.extend(self.halves(c));
                        stack[first..].reverse();
                    } else {
                        kept.push((at_least_mm.max(0.0) - required, c));
                    }
                }
            }
        }
        kept.retain(|(room, _)| *room <= most);
        kept.sort_by(|a, b| a.0.total_cmp(&b.0));
        let least = kept.first().map_or(f64::INFINITY, |k| k.0);
        (most, least, kept.into_iter().map(|k| k.1).collect())
    }

    /// How far a ball's points can stray over a cell as seen from the mover, mm.
    fn strays(&self, c: Candidate, middle: &V, radius: f64) -> f64 {
        let stage = &self.stages[usize::from(c.stage)];
        c.node.poses.as_ref().map_or(f64::INFINITY, |poses| {
            let pose = &poses[usize::from(c.mover)];
            let own = pose.in_mover(&(stage.rotation * middle + stage.offset));
            pose.field.displacement_of_ball(&own, radius)
        })
    }

    /// How far at least the surface must recede at a point that touches, mm, and where it is deepest: what must remain and
    /// the depth that is gone into, since a point gains no more room than it moves. The deepest that is found; none where
    /// depth can't be known.
    pub fn cut_mm<'n>(
        &'n self,
        point: &V,
        touching: Candidate<'n>,
        candidates: &[Candidate<'n>],
    ) -> Option<(f64, Candidate<'n>)> {
        // (cut in the middle, the most over the cell)
        let weigh = |c: Candidate| -> Option<(f64, f64)> {
            let stage = &self.stages[usize::from(c.stage)];
            let pose = &c.node.poses.as_ref()?[usize::from(c.mover)];
            let own = pose.in_mover(&(stage.rotation * point + stage.offset));
            let required = self.required_mm(c);
            let far = required + self.cutoff_mm;
            let distance = signed_distance_mm(stage.surface(c.mover), &own, far)?.min(far);
            let cut = required - distance + self.part_error_mm + pose.swell_mm;
            Some((cut, cut + pose.field.displacement(&own)))
        };
        let mut deepest = (weigh(touching)?.0, touching);
        let mut heap = BinaryHeap::new();
        let mut order = 0_u32;
        let mut offer = |of: Candidate<'n>, deepest: &mut (f64, _), heap: &mut BinaryHeap<_>| {
            if let Some((cut, most)) = weigh(of) {
                if of.node.is_middle_covered && cut > deepest.0 {
                    *deepest = (cut, of);
                }
                order += 1;
                heap.push(Offer { most, order, of });
            }
        };
        for c in candidates {
            offer(*c, &mut deepest, &mut heap);
        }
        for _ in 0..DEPTH_LOOKS {
            let Some(next) = heap.pop() else {
                break;
            };
            if next.most <= deepest.0 + self.tolerance_mm {
                break;
            }
            for half in self.halves(next.of) {
                offer(half, &mut deepest, &mut heap);
            }
        }
        Some(deepest)
    }
}

/// A cell by the most that it can show; ties by when it was met, so that the search is the same each time.
struct Offer<'n> {
    most: f64,
    order: u32,
    of: Candidate<'n>,
}

impl PartialEq for Offer<'_> {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other).is_eq()
    }
}
impl Eq for Offer<'_> {}
impl PartialOrd for Offer<'_> {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
impl Ord for Offer<'_> {
    fn cmp(&self, other: &Self) -> Ordering {
        let by_most = self.most.total_cmp(&other.most);
        by_most.then(other.order.cmp(&self.order))
    }
}
