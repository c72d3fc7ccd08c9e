//! Who moves near a part: both sides, every setup, and what is left out.
//!
//! A part on the frame or the rack meets the parts of both corners; one on an arm or the knuckle meets what its own corner has
//! on other bodies: the two sides' own parts keep to their sides of the truck, and where one doesn't the answer says so. Parts of one body are one rigid assembly and never asked. Parts
//! of two bodies that share a motion (frame, differential and inner joint housing; knuckle, wheel and outer joint housing)
//! are asked where they rest against each other; one that turns is the whole revolution that it sweeps. Where one corner is built for both, the other is its
//! mirror image: the part is mirrored instead. The free travel is the truck's *without this part's own stops*: a bracket
//! that is in the way must be told where, and not shorten the travel unseen.

use super::least_gap::{Movers, Stage};
use super::poses::PoseTree;
use crate::clearance::{PairWalk, Part, Relative, is_inside, placement};
use crate::findings::{AcrossMiddle, LeftOut, OpenEnd, StopId, WhyLeftOut};
use crate::shapes::{Surface, joined_alike};
use crate::suspension::{Body, Motion, Side};
use crate::sweep::stops::{StopKind, stop_id};
use crate::sweep::{MappedTravel, first_across, mapped};
use crate::truck::{Corner, TOUCH_MM, Truck};
use nalgebra::{Matrix3, Vector3};
use std::sync::{Arc, Mutex, PoisonError};
use wildmatch::WildMatch;

type V = Vector3<f64>;

/// What to map.
#[derive(Clone, Debug, PartialEq)]
pub struct ClearanceOptions {
    /// The part's name.
    pub part: String,
    /// Which corner's, where both have one of that name.
    pub side: Option<Side>,
    /// The gap that must remain to everything, mm; none: what the scene asks for each pair, nothing where it asks none.
    pub required_mm: Option<f64>,
    /// Names of the moving parts to look at, `*` for anything; empty: all.
    pub against: Vec<String>,
    /// Whether pairs that overlap as drawn are looked at too.
    pub with_overlaps: bool,
    /// Gaps from here on aren't told apart, mm.
    pub cutoff_mm: f64,
    /// Least gaps are found to within this, mm.
    pub tolerance_mm: f64,
    /// Longer edges are split where something comes near, mm.
    pub resolution_mm: f64,
}

/// Gaps beyond this aren't told apart where nothing else was asked for, mm.
pub const MAP_CUTOFF_MM: f64 = 50.0;
/// Least gaps are found to within this where nothing else was asked for, mm.
pub const MAP_TOLERANCE_MM: f64 = 0.1;
/// Longer edges of a mapped part are split where something comes near, where nothing else was asked for, mm.
pub const MAP_RESOLUTION_MM: f64 = 5.0;

impl ClearanceOptions {
    /// A part against everything that moves, with the gaps that the scene asks for.
    pub fn usual(part: &str) -> ClearanceOptions {
        ClearanceOptions {
            part: part.to_owned(),
            side: None,
            required_mm: None,
            against: Vec::new(),
            with_overlaps: false,
            cutoff_mm: MAP_CUTOFF_MM,
            tolerance_mm: MAP_TOLERANCE_MM,
            resolution_mm: MAP_RESOLUTION_MM,
        }
    }
}

/// Why there is no map.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ClearanceError {
    /// No truck has such a part.
    #[error("no part is named `{0}`")]
    NoPart(String, Vec<String>),
    /// The other side's copy is a mirror image.
    #[error("the {0} corner is the mirror image of the {1} one, which is the only one built")]
    NotBuilt(&'static str, &'static str),
    /// A spring or a boot is drawn in pieces on several bodies.
    #[error("`{0}` is drawn in pieces that move against each other, and a map is of one")]
    InPieces(String, Vec<String>),
    /// A pattern that names nothing on another body than the part.
    #[error("`{0}` names no part that may come near it: none that it matches is on another body")]
    NoMover(String, Vec<String>),
    /// All of it is left out.
    #[error("nothing is left to look at: {0}")]
    NothingMoves(String),
    /// A size out of range.
    #[error("{0} must be {1}")]
    BadOption(&'static str, String),
    /// A setup changes the part's shape.
    #[error("in the setup `{0}` the part has another shape: map it by itself")]
    OtherShape(String),
    /// Stops leave the wheel no way to move: a map over nothing would call every gap kept.
    #[error(
        "the {side} corner has no free travel in {setup}: stops leave the wheel no way to move from where the truck was \
         measured"
    )]
    NoFreeTravel {
        /// The corner's side.
        side: &'static str,
        /// The setup.
        setup: String,
    },
    /// The map doesn't fit.
    #[error("at a resolution of {0} mm the map needs more than {1} million faces")]
    TooFine(f64, usize),
    /// Stopped from outside.
    #[error("stopped")]
    Cancelled,
}

/// A part of one stage.
#[derive(Clone, Debug, PartialEq)]
pub struct MoverName {
    /// Its name.
    pub part: String,
    /// Which side moves it.
    pub side: Side,
    /// The setup.
    pub setup: Option<String>,
    /// What must remain, mm: as asked.
    pub required_mm: f64,
    /// Whether it rests against the mapped part (it may turn on the spot).
    pub at_rest: bool,
}

/// Free travels that were found for earlier maps, to be used again while only the mapped part moves: its own stops are
/// left out of the travel, so where it stands doesn't change it. What else a travel comes from is compared, number by
/// number; any difference has it found anew.
#[derive(Default)]
pub struct KnownTravels(Mutex<Vec<Known>>);

/// A corner with a part whose stops were left out, and the free travel then.
struct Known {
    corner: Corner,
    part: String,
    travel: Arc<MappedTravel>,
}

/// Travels kept: two sides with a setup or two, and those of the part that was mapped before.
const MOST_KNOWN: usize = 8;

impl KnownTravels {
    fn find(&self, corner: &Corner, part: &str) -> Option<Arc<MappedTravel>> {
        let known = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let same = |k: &&Known| k.part == part && stops_alike(&k.corner, corner, part);
        known.iter().find(same).map(|k| Arc::clone(&k.travel))
    }

    /// The free travel without a part's stops and its open ends, known or found anew.
    fn travel(&self, corner: &Corner, part: &str) -> Arc<MappedTravel> {
        self.find(corner, part).unwrap_or_else(|| {
            let travel = Arc::new(mapped(corner, &stops_of(corner, part)));
            self.keep(corner, part, &travel);
            travel
        })
    }

    fn keep(&self, corner: &Corner, part: &str, travel: &Arc<MappedTravel>) {
        let mut known = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if known.len() == MOST_KNOWN {
            known.remove(0);
        }
        known.push(Known {
            corner: corner.clone(),
            part: part.to_owned(),
            travel: Arc::clone(travel),
        });
    }
}

/// Whether two corners have the same linkage, limits and watched pairs, those of one part left out. Then their wheels are
/// stopped at the same places by the same things.
fn stops_alike(a: &Corner, b: &Corner, part: &str) -> bool {
    let pairs = |corner: &Corner| {
        let own = |i: usize| corner.parts[i].name == part;
        let others = corner.pairs.iter();
        let others: Vec<usize> = others
            .enumerate()
            .filter(|(_, pair)| !own(pair.a) && !own(pair.b))
            .map(|(i, _)| i)
            .collect();
        others
    };
    let pair_alike = |i: usize, j: usize| {
        let (p, q) = (&a.pairs[i], &b.pairs[j]);
        (p.required_mm, p.a_is_fixed, p.orbits) == (q.required_mm, q.a_is_fixed, q.orbits)
            && part_alike(&a.parts[p.a], &b.parts[q.a])
            && part_alike(&a.parts[p.b], &b.parts[q.b])
    };
    let (of_a, of_b) = (pairs(a), pairs(b));
    a.side == b.side
        && a.positioner.linkage == b.positioner.linkage
        && a.limits == b.limits
        && a.ride_height_mm == b.ride_height_mm
        && a.rack_mm == b.rack_mm
        && a.search_mm == b.search_mm
        && a.loaded_radius_mm == b.loaded_radius_mm
        && a.orbit_factor_mm == b.orbit_factor_mm
        && of_a.len() == of_b.len()
        && of_a.iter().zip(&of_b).all(|(i, j)| pair_alike(*i, *j))
}

fn part_alike(a: &Part, b: &Part) -> bool {
    let (s, t) = (&a.surface, &b.surface);
    a.name == b.name
        && a.body == b.body
        && (Arc::ptr_eq(s, t)
            || ((s.kind, s.closed, s.radius_mm, s.facet_error_mm)
                == (t.kind, t.closed, t.radius_mm, t.facet_error_mm)
                && s.origin == t.origin
                && s.rotation == t.rotation
                && s.round == t.round
                && s.elements == t.elements
                && s.vertices == t.vertices))
}

/// One built corner in one setup, with its free travel.
pub(super) struct Travel<'a> {
    setup: Option<String>,
    corner: &'a Corner,
    /// The free travel without the mapped part's own stops, and where it ends at nothing that is meant to end it.
    free: Arc<MappedTravel>,
}

impl Travel<'_> {
    /// Wheel travel over one square of the free travel's map: on its edge a square counts as reached whole.
    fn edge_mm(&self) -> f64 {
        let n = self.free.region.size()[0];
        let travel = |alpha: f64| self.corner.positioner.place(alpha, 0.0).travel_mm;
        let over = |i: usize| {
            let [low, high] = self.free.region.cell([[i, i + 1], [0, 1]]).alpha;
            travel(high) - travel(low)
        };
        // Squares are even in arm angle on either side of the measured position, where the wheel rises fastest.
        over(n / 2 - 1).max(over(n / 2))
    }
}

/// A stage to be: parts that share one motion in one travel, and how the map's coordinates become its own. Cells are then
/// halved as that motion needs it: an arm never moves with the rack.
pub(super) struct Plan {
    travel: usize,
    side: Side,
    rotation: Matrix3<f64>,
    offset: V,
    /// (part's number in the corner, what must remain as asked).
    pub(super) movers: Vec<(usize, f64)>,
}

/// What of a corner is asked as it stands on one side, and how the map's coordinates become its own.
struct Asked {
    side: Side,
    rotation: Matrix3<f64>,
    offset: V,
    movers: Vec<(usize, f64)>,
}

/// The mapped part and everything that may come near it.
pub(super) struct Scenery<'a> {
    pub(super) surface: &'a Surface,
    pub(super) body: crate::suspension::Body,
    pub(super) is_revolved: bool,
    pub(super) travels: Vec<Travel<'a>>,
    pub(super) plans: Vec<Plan>,
    pub(super) left_out: Vec<LeftOut>,
    /// Parts of one side that come to the truck's middle, where what the other side moves isn't looked at.
    pub(super) across_middle: Vec<AcrossMiddle>,
    pub(super) notes: Vec<String>,
    pub(super) warnings: Vec<String>,
    /// Test hook, as [`PoseTree::with_bound_factor`]. One, except where a test shows that a smaller bound is caught.
    pub(super) bound_factor: f64,
}

/// Whether what a body carries meets the suspension of both sides: it stands still, or is one for both.
fn meets_both_sides(body: Body) -> bool {
    body.motion() == Motion::Frame || body.is_both_sides()
}

/// The mapped part's name among a corner's as it stands on a side: on the other side than its own a part of that name is
/// another one, unless it is drawn once, and the mapped part has its side before its name.
fn name_seen_from(corner: &Corner, side: Side, mapped: &Part, owner: Side) -> String {
    let own = part_number(corner, &mapped.name).map(|n| &corner.parts[n].surface);
    let is_another = side != owner
        && own.is_some_and(|own| {
            let is_one = if side == corner.side {
                own.lies_on(&mapped.surface, TOUCH_MM)
            } else {
                own.mirrored().lies_on(&mapped.surface, TOUCH_MM)
            };
            !is_one
        });
    if is_another {
        // A corner that stands for both sides calls what reaches over from its other side by that side.
        format!("{} {}", corner.side.opposite().name(), mapped.name)
    } else {
        mapped.name.clone()
    }
}

fn part_number(corner: &Corner, name: &str) -> Option<usize> {
    corner.parts.iter().position(|p| p.name == name)
}

/// The corner whose copy of the part is mapped.
fn own_corner<'a>(
    truck: &'a Truck,
    options: &ClearanceOptions,
) -> Result<Option<&'a Corner>, ClearanceError> {
    let has = |c: &&Corner| part_number(c, &options.part).is_some();
    let Some(side) = options.side else {
        return Ok(truck.corners.iter().find(has));
    };
    match truck.corner(side) {
        Some(corner) => Ok(Some(corner).filter(has)),
        None => Err(ClearanceError::NotBuilt(
            side.name(),
            side.opposite().name(),
        )),
    }
}

/// The rigid motion that takes one surface's corners to another's of the same shape, to within a micrometre; none where
/// there is none. Source: W. Kabsch, "A solution for the best rotation to relate two sets of vectors", Acta Cryst. A32,
/// 1976, 922.
fn rigid_motion(from: &Surface, to: &Surface) -> Option<(Matrix3<f64>, V)> {
    let count = from.vertices.len();
    let is_drawn_alike = (from.kind, from.closed, from.radius_mm, from.facet_error_mm)
        == (to.kind, to.closed, to.radius_mm, to.facet_error_mm);
    if count != to.vertices.len() || !is_drawn_alike || !joined_alike(from, to) {
        return None;
    }
    let middle = |s: &Surface| (0..count).map(|i| s.vertex_in_body(i)).sum::<V>() / count as f64;
    let (a, b) = (middle(from), middle(to));
    let mut spread = Matrix3::zeros();
    for i in 0..count {
        spread += (from.vertex_in_body(i) - a) * (to.vertex_in_body(i) - b).transpose();
    }
    let svd = spread.svd(true, true);
    let (u, v) = (svd.u?, svd.v_t?.transpose());
    let turn = (v * u.transpose()).determinant().signum();
    let rotation = v * Matrix3::from_diagonal(&V::new(1.0, 1.0, turn)) * u.transpose();
    let offset = b - rotation * a;
    let off = |i: usize| (rotation * from.vertex_in_body(i) + offset - to.vertex_in_body(i)).norm();
    (0..count)
        .all(|i| off(i) < 1.0e-3)
        .then_some((rotation, offset))
}

impl<'a> Scenery<'a> {
    /// Finds the part in every truck (the same one in its setups) and everything that moves against it.
    pub(super) fn new(
        trucks: &'a [Truck],
        options: &ClearanceOptions,
        known: &KnownTravels,
        progress: &(dyn Fn(&str, f64) -> bool + Sync),
    ) -> Result<Scenery<'a>, ClearanceError> {
        let mut owners = Vec::new();
        for truck in trucks {
            owners.push(own_corner(truck, options)?);
        }
        let Some(first) = owners.iter().flatten().next().copied() else {
            let names = trucks
                .iter()
                .flat_map(|t| &t.corners)
                .flat_map(|c| &c.parts);
            let mut names: Vec<String> = names.map(|p| p.name.clone()).collect();
            names.sort_unstable();
            names.dedup();
            return Err(ClearanceError::NoPart(options.part.clone(), names));
        };
        let number = part_number(first, &options.part).unwrap_or(0);
        let part = &first.parts[number];
        let is_piece = |p: &&Part| p.may_be_a_piece() && p.entry_name == part.entry_name;
        let pieces: Vec<String> = first
            .parts
            .iter()
            .filter(is_piece)
            .map(|p| p.name.clone())
            .collect();
        if pieces.len() > 1 && options.part == part.entry_name {
            return Err(ClearanceError::InPieces(options.part.clone(), pieces));
        }
        let mut scenery = Scenery {
            surface: &part.surface,
            body: part.body,
            is_revolved: part.revolved,
            travels: Vec::new(),
            plans: Vec::new(),
            left_out: Vec::new(),
            across_middle: Vec::new(),
            notes: Vec::new(),
            warnings: Vec::new(),
            bound_factor: 1.0,
        };
        let is_shared = meets_both_sides(part.body);
        for (t, (truck, owner)) in trucks.iter().zip(&owners).enumerate() {
            let named = truck
                .setup
                .clone()
                .unwrap_or_else(|| "as measured".to_owned());
            let Some(owner) = *owner else {
                scenery.notes.push(format!(
                    "{named}: the part isn't fitted, so nothing is asked."
                ));
                continue;
            };
            // What is implausible is the scene's, whatever the setup.
            for (i, warning) in truck.warnings.iter().enumerate() {
                let text = match trucks.len() {
                    _ if i < truck.implausible.len() => warning.clone(),
                    1 => warning.clone(),
                    _ => format!("{named}: {warning}"),
                };
                if !scenery.warnings.contains(&text) {
                    scenery.warnings.push(text);
                }
            }
            let own = &owner.parts[part_number(owner, &options.part).unwrap_or(0)];
            let (rotation, offset) = if own.surface.lies_on(&part.surface, 1.0e-6) {
                (Matrix3::identity(), V::zeros())
            } else {
                rigid_motion(&part.surface, &own.surface)
                    .ok_or_else(|| ClearanceError::OtherShape(named.clone()))?
            };
            if own.body.motion() != part.body.motion() {
                return Err(ClearanceError::OtherShape(named));
            }
            for corner in &truck.corners {
                if !is_shared {
                    scenery.look_across(truck, corner, options, known);
                }
                if !is_shared && corner.side != owner.side {
                    continue;
                }
                let share = t as f64 / trucks.len() as f64;
                if !progress("free travel", share) {
                    return Err(ClearanceError::Cancelled);
                }
                scenery.add(truck, corner, owner, (rotation, offset), options, known);
            }
        }
        scenery.check(options)?;
        if !options.against.is_empty() {
            scenery.notes.push(format!(
                "Only parts that match `{}` were looked at, and nothing is said of any other.",
                options.against.join("`, `")
            ));
        }
        scenery.notes.push(format!(
            "Positions up to {:.1} mm of wheel travel beyond what is proved free count as reached.",
            scenery
                .travels
                .iter()
                .map(Travel::edge_mm)
                .fold(0.0, f64::max)
        ));
        Ok(scenery)
    }

    /// Looks whether a corner's own parts keep to their side of the truck, where the other side isn't asked.
    fn look_across(
        &mut self,
        truck: &Truck,
        corner: &'a Corner,
        options: &ClearanceOptions,
        known: &KnownTravels,
    ) {
        let travel = known.travel(corner, &options.part);
        let asked_mm = options.required_mm.unwrap_or(0.0);
        let margin_mm = corner.greatest_gap_mm().max(asked_mm);
        if let Some(part) = first_across(corner, &travel.region, margin_mm) {
            self.across_middle.push(AcrossMiddle {
                part: corner.parts[part].name.clone(),
                side: corner.side,
                setup: truck.setup.clone(),
            });
        }
    }

    fn add(
        &mut self,
        truck: &Truck,
        corner: &'a Corner,
        owner: &Corner,
        (rotation, offset): (Matrix3<f64>, V),
        options: &ClearanceOptions,
        known: &KnownTravels,
    ) {
        let is_shared = meets_both_sides(self.body);
        let mapped = part_number(owner, &options.part).map(|n| &owner.parts[n]);
        let mut across = vec![(corner.side, rotation, offset)];
        let flip = Matrix3::from_diagonal(&V::new(1.0, -1.0, 1.0));
        if is_shared && truck.corners.len() == 1 {
            across.push((corner.side.opposite(), flip * rotation, flip * offset));
        }
        let asked: Vec<Asked> = across
            .into_iter()
            .map(|(side, rotation, offset)| {
                let movers = self.movers(corner, owner, side, options);
                Asked {
                    side,
                    rotation,
                    offset,
                    movers,
                }
            })
            .collect();
        for one in asked {
            // The mapped part's own stops are left out, by the name that it has on this side.
            let seen = mapped.map(|own| name_seen_from(corner, one.side, own, owner.side));
            let travel = self.travels.len();
            let own = seen.as_deref().unwrap_or(&options.part);
            self.travels.push(Travel {
                setup: truck.setup.clone(),
                corner,
                free: known.travel(corner, own),
            });
            let motion_of = |i: usize| corner.parts[i].body.motion();
            let mut motions: Vec<Motion> = one.movers.iter().map(|(i, _)| motion_of(*i)).collect();
            motions.sort_unstable();
            motions.dedup();
            for motion in motions {
                let own = one.movers.iter().copied();
                self.plans.push(Plan {
                    travel,
                    side: one.side,
                    rotation: one.rotation,
                    offset: one.offset,
                    movers: own.filter(|(i, _)| motion_of(*i) == motion).collect(),
                });
            }
        }
    }

    /// The corner's parts on other bodies than the mapped one, as they stand on a side, with the gap that must remain. The
    /// owner's copy of the part is what is mapped.
    fn movers(
        &mut self,
        corner: &Corner,
        owner: &Corner,
        side: Side,
        options: &ClearanceOptions,
    ) -> Vec<(usize, f64)> {
        let mapped = part_number(owner, &options.part).map(|n| &owner.parts[n]);
        let same_side = side == owner.side;
        let seen = mapped.map(|own| name_seen_from(corner, side, own, owner.side));
        let seen = seen.as_deref();
        let patterns: Vec<WildMatch> = options.against.iter().map(|p| WildMatch::new(p)).collect();
        let chosen =
            |part: &Part| patterns.is_empty() || patterns.iter().any(|p| part.is_named_by(p));
        let mut movers = Vec::new();
        for (i, other) in corner.parts.iter().enumerate() {
            let is_itself = other.name == options.part && other.body == self.body;
            if !chosen(other) || (is_itself && self.is_one_body(other.body, same_side)) {
                continue;
            }
            let names = |a: &str, b: &str| {
                let (a, b) = (Some(a), Some(b));
                let other = Some(other.name.as_str());
                seen.is_some() && ((a, b) == (seen, other) || (b, a) == (seen, other))
            };
            let joined = corner.joined.iter().find(|j| names(&j.a, &j.b));
            let rests = other.body.motion() == self.body.motion();
            let overlaps = || {
                let is_told = same_side && corner.overlaps.iter().any(|o| names(&o.a, &o.b));
                match mapped.and_then(|own| overlap_as_drawn(own, corner, i, side)) {
                    // What cuts into a part that turns on the spot beside it is met at every position: it is shown.
                    Some(Overlap::Crosses) if rests => !(other.body.spins() || self.body.spins()),
                    Some(Overlap::Crosses | Overlap::IsHeld) => true,
                    None => !rests && is_told,
                }
            };
            let why = if self.is_one_body(other.body, same_side) {
                Some(WhyLeftOut::SameBody)
            } else if let Some(joined) = joined {
                Some(WhyLeftOut::Joined(joined.why.clone()))
            } else if !options.with_overlaps && overlaps() {
                Some(WhyLeftOut::OverlapsAsDrawn)
            } else {
                None
            };
            if let Some(why) = why {
                let out = LeftOut {
                    part: other.name.clone(),
                    side,
                    why,
                };
                if !self.left_out.contains(&out) {
                    self.left_out.push(out);
                }
                continue;
            }
            let asked_mm = mapped.and_then(|own| corner.watched_gap_mm(own, other));
            let in_scene = asked_mm.unwrap_or(0.0);
            movers.push((i, options.required_mm.unwrap_or(in_scene)));
        }
        movers
    }

    /// Whether a part on a body is rigidly one with the mapped part. The two sides share some bodies, and have each its own of
    /// all others.
    fn is_one_body(&self, body: Body, same_side: bool) -> bool {
        body == self.body && (same_side || body.is_both_sides())
    }

    /// The greatest gap that must remain to any mover, mm.
    pub(super) fn greatest_required_mm(&self) -> f64 {
        let movers = self.plans.iter().flat_map(|plan| &plan.movers);
        movers.map(|(_, mm)| *mm).fold(0.0, f64::max)
    }

    fn check(&self, options: &ClearanceOptions) -> Result<(), ClearanceError> {
        let all = || {
            let corners = self.travels.iter().map(|t| t.corner);
            let parts = corners.flat_map(|c| &c.parts);
            let mut names: Vec<String> = parts
                .filter(|p| p.body != self.body)
                .flat_map(|p| [p.name.clone(), p.entry_name.clone()])
                .collect();
            names.sort_unstable();
            names.dedup();
            names
        };
        for pattern in &options.against {
            let matcher = WildMatch::new(pattern);
            let names = all();
            if !names.iter().any(|n| matcher.matches(n)) {
                return Err(ClearanceError::NoMover(pattern.clone(), names));
            }
        }
        if self.plans.iter().all(|p| p.movers.is_empty()) {
            let mut why: Vec<String> = Vec::new();
            for left in self
                .left_out
                .iter()
                .filter(|l| l.why != WhyLeftOut::SameBody)
            {
                let words = format!("{} ({})", left.part, left.why);
                if !why.contains(&words) {
                    why.push(words);
                }
            }
            return Err(ClearanceError::NothingMoves(if why.is_empty() {
                "every other part is on the same body".to_owned()
            } else {
                why.join("; ")
            }));
        }
        let moving = self.plans.iter().filter(|plan| !plan.movers.is_empty());
        for travel in moving.map(|plan| &self.travels[plan.travel]) {
            if !travel.free.region.holds_free() {
                return Err(ClearanceError::NoFreeTravel {
                    side: travel.corner.side.name(),
                    setup: travel.setup.clone().map_or_else(
                        || "the truck as measured".to_owned(),
                        |name| format!("the setup `{name}`"),
                    ),
                });
            }
        }
        Ok(())
    }

    /// The stages of some plans' movers.
    pub(super) fn movers_of<'s>(
        &'s self,
        plans: &[Plan],
        options: &ClearanceOptions,
    ) -> Movers<'s> {
        let stages = plans
            .iter()
            .map(|plan| {
                let travel = &self.travels[plan.travel];
                let parts = plan.movers.iter().map(|(i, _)| *i);
                let motion = self.body.motion();
                Stage {
                    setup: travel.setup.clone(),
                    side: plan.side,
                    tree: PoseTree::with_bound_factor(
                        travel.corner,
                        &travel.free.region,
                        motion,
                        parts,
                        self.bound_factor,
                    ),
                    // What is nearer than the tolerance can't be told from touching.
                    required_mm: plan
                        .movers
                        .iter()
                        .map(|(_, mm)| mm.max(options.tolerance_mm))
                        .collect(),
                    rotation: plan.rotation,
                    offset: plan.offset,
                }
            })
            .collect();
        Movers {
            stages,
            tolerance_mm: options.tolerance_mm,
            cutoff_mm: options.cutoff_mm,
            part_error_mm: self.surface.facet_error_mm,
        }
    }

    /// The same plan with only some of its movers.
    pub(super) fn keep(plan: &Plan, kept: impl Fn(usize) -> bool) -> Plan {
        let movers = plan.movers.iter().enumerate();
        Plan {
            travel: plan.travel,
            side: plan.side,
            rotation: plan.rotation,
            offset: plan.offset,
            movers: movers.filter(|(n, _)| kept(*n)).map(|(_, m)| *m).collect(),
        }
    }

    /// Where a free travel ends at nothing that is meant to end it; each corner and cause once.
    pub(super) fn open_ends(&self) -> Vec<OpenEnd> {
        let mut out: Vec<OpenEnd> = Vec::new();
        for travel in &self.travels {
            for end in &travel.free.open_ends {
                if !out.iter().any(|e| (e.side, &e.by) == (end.side, &end.by)) {
                    out.push(end.clone());
                }
            }
        }
        out
    }

    /// Who a plan's mover is.
    pub(super) fn name(&self, plan: &Plan, mover: usize) -> MoverName {
        let travel = &self.travels[plan.travel];
        let (part, required_mm) = plan.movers[mover];
        MoverName {
            part: travel.corner.parts[part].name.clone(),
            side: plan.side,
            setup: travel.setup.clone(),
            required_mm,
            at_rest: travel.corner.parts[part].body.motion() == self.body.motion(),
        }
    }
}

/// The stops that one part makes.
fn stops_of(corner: &Corner, part: &str) -> Vec<StopId> {
    let number = part_number(corner, part);
    corner
        .pairs
        .iter()
        .enumerate()
        .filter(|(_, pair)| number == Some(pair.a) || number == Some(pair.b))
        .flat_map(|(i, _)| [StopKind::Tight(i), StopKind::Contact(i)])
        .map(|stop| stop_id(corner, stop))
        .collect()
}

/// How two parts are drawn into each other.
enum Overlap {
    /// Their surfaces meet, or the mapped part lies inside the other.
    Crosses,
    /// The other part lies inside the mapped one, their surfaces apart: no face of the map would show it.
    IsHeld,
}

/// Whether a mapped part touches one of a corner, or one holds the other, at the measured position; the corner's as it
/// stands on a side.
fn overlap_as_drawn(mapped: &Part, corner: &Corner, other: usize, side: Side) -> Option<Overlap> {
    let linkage = corner.positioner.place(0.0, 0.0).linkage;
    let part = &corner.parts[other];
    let stands = linkage.placement(part.body.motion());
    let across = (side != corner.side).then(|| (part.surface.mirrored(), stands.mirrored()));
    let (moving, stands) = match &across {
        Some((surface, stands)) => (surface, stands),
        None => (&*part.surface, &stands),
    };
    let f = placement(mapped, &linkage);
    let relative = Relative {
        rotation: f.rotation.tr_mul(&(stands.rotation * moving.rotation)),
        offset: f
            .rotation
            .tr_mul(&(stands.point(&moving.origin) - f.origin)),
    };
    let own = &*mapped.surface;
    let walk = PairWalk { fixed: own, moving };
    if walk.gap(&relative, 0.0, TOUCH_MM, None).gap_mm <= TOUCH_MM {
        return Some(Overlap::Crosses);
    }
    let is_held = moving.pieces.iter().any(|p| {
        let corner = moving.vertices[*p as usize];
        is_inside(own, &relative.point(&corner))
    });
    if is_held {
        return Some(Overlap::IsHeld);
    }
    walk.contains(&relative).then_some(Overlap::Crosses)
}
