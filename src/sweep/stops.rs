//! The stops of a corner, and what can be proved about each over a cell.

use super::near_reach::ReachedPoses;
use super::rate_atlas::{Atlas, Cell, CellRates, NodeId};
use crate::clearance::{CellProof, GapOverCell, Trend, WatchedPair};
use crate::findings::{ContactClass, StopId};
use crate::kinematics::{CellField, Position, bending};
use crate::numbers::Dual;
use crate::suspension::{Body, Linkage};
use crate::truck::{Corner, TOUCH_MM};
use nalgebra::Vector3;
use std::sync::atomic::{AtomicU64, Ordering};

/// What kind of stop.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum StopKind {
    /// The arms, tie rod or halfshaft cannot reach further.
    EndOfReach,
    /// A limit of the corner, by number.
    Limit(usize),
    /// A watched pair, by number: its gap falls below the required one. The wheel goes on.
    Tight(usize),
    /// A watched pair, by number: it touches.
    Contact(usize),
}

impl StopKind {
    /// Whether the wheel can't pass. A gap below the required one doesn't stop it.
    pub fn blocks(self) -> bool {
        !matches!(self, StopKind::Tight(_))
    }

    /// The watched pair's number, if it is one's stop.
    pub fn pair(self) -> Option<usize> {
        match self {
            StopKind::Tight(pair) | StopKind::Contact(pair) => Some(pair),
            StopKind::EndOfReach | StopKind::Limit(_) => None,
        }
    }
}

/// Every stop of a corner, in a fixed order.
pub fn all_stops(corner: &Corner) -> Vec<StopKind> {
    let limits = (0..corner.limits.len()).map(StopKind::Limit);
    let pairs = (0..corner.pairs.len()).flat_map(|i| {
        let tight = (corner.pairs[i].required_mm > TOUCH_MM).then_some(StopKind::Tight(i));
        tight.into_iter().chain([StopKind::Contact(i)])
    });
    std::iter::once(StopKind::EndOfReach)
        .chain(limits)
        .chain(pairs)
        .collect()
}

/// What a stop is, as findings say it.
pub fn stop_id(corner: &Corner, stop: StopKind) -> StopId {
    let names = |pair: usize| {
        let pair = &corner.pairs[pair];
        [pair.a, pair.b].map(|part| corner.parts[part].name.clone())
    };
    match stop {
        StopKind::EndOfReach => StopId::EndOfReach,
        StopKind::Limit(i) => StopId::Limit {
            id: corner.limits[i].id.clone(),
        },
        StopKind::Tight(i) => {
            let [a, b] = names(i);
            StopId::Gap { a, b }
        }
        StopKind::Contact(i) => {
            let [a, b] = names(i);
            StopId::Contact { a, b }
        }
    }
}

/// As printed.
pub fn stop_name(corner: &Corner, stop: StopKind) -> String {
    stop_id(corner, stop).name()
}

/// The stops that can be taken off: all but the end of reach, which is the linkage's own.
pub fn removable_stops(corner: &Corner) -> Vec<StopId> {
    all_stops(corner)
        .into_iter()
        .filter(|stop| *stop != StopKind::EndOfReach)
        .map(|stop| stop_id(corner, stop))
        .collect()
}

/// Whether a maker means the wheel to stop here.
pub fn is_intended(corner: &Corner, stop: StopKind) -> bool {
    matches!(stop, StopKind::Limit(i) if corner.limits[i].intended)
}

/// What is known about a stop over a cell.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Proof {
    /// Kept over the whole cell.
    Free,
    /// Violated over the whole cell.
    Stopped,
    /// Neither could be shown; the elements in the way, for the next try.
    Open(Option<(u32, u32)>),
}

/// A stop not yet proved kept over a cell, with the elements in the way last time.
pub(super) type OpenStop = (StopKind, Option<(u32, u32)>);

/// Rounding allowance on a limit's reserve (mm, or cosine).
const RESERVE_SLACK: f64 = 1.0e-9;

/// The corner being swept, with its proved rates and a count of distance queries.
pub struct Guard<'a> {
    /// The corner.
    pub corner: &'a Corner,
    /// Its rates.
    pub atlas: &'a Atlas<'a>,
    /// Of each pair.
    queries: Vec<AtomicU64>,
    pieces: Vec<usize>,
    /// Stops that are asked for: pairs proved clear everywhere are left out.
    pub stops: Vec<StopKind>,
    /// For each pair, the arm angles (droop, bump) up to which it is proved clear at every rack.
    pub clear_to: Vec<[f64; 2]>,
    /// Test hook: motion bounds are multiplied by this. One, except where a test shows that a halved
    /// bound is caught.
    bound_factor: f64,
    /// Stops taken off by name.
    taken_off: Vec<StopKind>,
}

/// A cell with everything that proofs about it share.
pub struct CellState<'a> {
    /// Pose at the centre.
    pub position: Position,
    /// The same with derivatives.
    pub duals: Linkage<Dual>,
    /// Half-sizes.
    pub half: [f64; 2],
    /// Rates valid over the cell.
    pub rates: &'a CellRates,
}

impl CellState<'_> {
    /// Greatest change of a quantity from its value at the centre.
    pub fn swing(&self, centre: &Dual, bend: &[f64; 3]) -> f64 {
        centre.rate[0].abs() * self.half[0]
            + centre.rate[1].abs() * self.half[1]
            + bending(bend, self.half)
    }
}

impl<'a> Guard<'a> {
    /// Ready to prove.
    pub fn new(corner: &'a Corner, atlas: &'a Atlas<'a>, bound_factor: f64) -> Self {
        let mut pieces = Vec::with_capacity(corner.limits.len());
        let mut next = 0;
        for limit in &corner.limits {
            pieces.push(next);
            next += limit.pieces();
        }
        let mut guard = Guard {
            corner,
            atlas,
            queries: corner.pairs.iter().map(|_| AtomicU64::new(0)).collect(),
            pieces,
            stops: Vec::new(),
            clear_to: vec![[0.0; 2]; corner.pairs.len()],
            bound_factor,
            taken_off: Vec::new(),
        };
        guard.clear_to = super::screen::clear_to(&guard);
        guard.stops = all_stops(corner);
        guard.stops.retain(|stop| match stop {
            StopKind::Tight(i) | StopKind::Contact(i) => guard.clear_to[*i] != atlas.domain.alpha,
            StopKind::EndOfReach | StopKind::Limit(_) => true,
        });
        guard
    }

    /// The same with some stops taken off: what the wheel would do with the damper unbolted.
    #[must_use]
    pub fn without(mut self, stops: &[StopId]) -> Self {
        let corner = self.corner;
        let is_named = |stop: &StopKind| stops.contains(&stop_id(corner, *stop));
        self.taken_off = all_stops(corner).into_iter().filter(is_named).collect();
        self.stops.retain(|stop| !is_named(stop));
        self
    }

    /// Whether a stop was taken off by name.
    pub fn is_taken_off(&self, stop: StopKind) -> bool {
        self.taken_off.contains(&stop)
    }

    /// The kind of contact that a pair makes.
    pub fn class_of(&self, pair: usize) -> ContactClass {
        let pair = &self.corner.pairs[pair];
        let on_wheel = |part: usize| self.corner.parts[part].body == Body::Wheel;
        if on_wheel(pair.a) || on_wheel(pair.b) {
            ContactClass::TyreRub
        } else {
            ContactClass::Metal
        }
    }

    /// Whether a pair is proved to keep its required gap over the whole rectangle.
    pub fn always_clear(&self, pair: usize) -> bool {
        self.clear_to[pair] == self.atlas.domain.alpha
    }

    /// Whether a stop is proved kept over a range of arm angles at every rack position.
    pub fn is_screened(&self, stop: StopKind, alpha: [f64; 2]) -> bool {
        stop.pair().is_some_and(|pair| {
            let [low, high] = self.clear_to[pair];
            low <= alpha[0] && alpha[1] <= high
        })
    }

    /// The stops among `open` that aren't proved kept over a cell.
    pub(super) fn still_open(
        &self,
        cell: &Cell,
        state: &CellState,
        open: &[OpenStop],
    ) -> Vec<OpenStop> {
        let open = open.iter().filter(|o| !self.is_screened(o.0, cell.alpha));
        open.filter_map(|(stop, warm)| match self.prove(*stop, state, *warm) {
            Proof::Free => None,
            Proof::Stopped => Some((*stop, *warm)),
            Proof::Open(elements) => Some((*stop, elements.or(*warm))),
        })
        .collect()
    }

    /// Distance queries so far: walks of a pair's two trees. Cells settled by the two elements that stood in the way last
    /// time aren't counted; what was remembered counts as if it had been asked.
    pub fn distance_queries(&self) -> u64 {
        (0..self.queries.len())
            .map(|pair| self.queries_of(pair))
            .sum()
    }

    /// Those of one pair.
    pub(super) fn queries_of(&self, pair: usize) -> u64 {
        self.queries[pair].load(Ordering::Relaxed)
    }

    /// Counts queries of a pair.
    pub(super) fn count_queries(&self, pair: usize, count: u64) {
        self.queries[pair].fetch_add(count, Ordering::Relaxed);
    }

    /// Runs `f` on a cell below `node`; `None` where its rates are unproved or its centre is out of
    /// reach.
    pub fn on_cell<R>(
        &self,
        node: NodeId,
        cell: &Cell,
        f: impl FnOnce(&CellState) -> R,
    ) -> (NodeId, Option<R>) {
        let node = self.atlas.descend(node, cell);
        let rates = self.atlas.rates(node, cell);
        let Some(rates) = rates.get() else {
            return (node, None);
        };
        let (alpha, rack) = cell.centre();
        let position = self.corner.positioner.place(alpha, rack);
        if position.linkage.out_of_reach().is_some() {
            return (node, None);
        }
        let half = cell.half().map(|h| h * self.bound_factor);
        let duals = self
            .corner
            .positioner
            .linkage
            .solve(Dual::variable(alpha, 0), Dual::variable(rack, 1));
        (
            node,
            Some(f(&CellState {
                position,
                duals,
                half,
                rates,
            })),
        )
    }

    /// What can be shown about a stop over a cell.
    pub fn prove(&self, stop: StopKind, state: &CellState, warm: Option<(u32, u32)>) -> Proof {
        let corner = self.corner;
        match stop {
            StopKind::EndOfReach => {
                // Enclosed, so every root is real; and the wheel rises with the arm.
                if state.rates.travel[0].lo > 0.0 {
                    Proof::Free
                } else {
                    Proof::Open(None)
                }
            }
            StopKind::Limit(i) => {
                let limit = &corner.limits[i];
                let mut free = true;
                for piece in 0..limit.pieces() {
                    let reserve = limit.reserve(piece, &state.duals);
                    let bend = &state.rates.limits[self.pieces[i] + piece];
                    let bound = state.swing(&reserve, bend) + RESERVE_SLACK;
                    let reserve = reserve.value;
                    if reserve < -bound {
                        return Proof::Stopped;
                    }
                    // Spelled so that NaN is not free.
                    free &= reserve > bound;
                }
                if free { Proof::Free } else { Proof::Open(None) }
            }
            StopKind::Tight(i) | StopKind::Contact(i) => {
                self.prove_pair(i, self.level_mm(stop, i), state, warm)
            }
        }
    }

    /// What can be shown about a pair's gap against a level over a cell.
    pub fn prove_pair(
        &self,
        pair: usize,
        level_mm: f64,
        state: &CellState,
        warm: Option<(u32, u32)>,
    ) -> Proof {
        match self.over_cell(pair, level_mm, state, |gap| self.ask(pair, gap, warm)) {
            CellProof::Above => Proof::Free,
            CellProof::Below => Proof::Stopped,
            CellProof::Open(i, j) => Proof::Open(Some((i, j))),
        }
    }

    /// Asks something of a pair's gap against a level over a cell.
    fn over_cell<R>(
        &self,
        pair: usize,
        level_mm: f64,
        state: &CellState,
        ask: impl FnOnce(&GapOverCell) -> R,
    ) -> R {
        let corner = self.corner;
        let watched = &corner.pairs[pair];
        let swell_mm = if watched.orbits {
            let orbit = corner.orbit_mm(&state.duals);
            let swing = state.swing(&orbit, &state.rates.orbit);
            ((orbit.value - swing).max(0.0), orbit.value + swing)
        } else {
            (0.0, 0.0)
        };
        let relative = watched.relative(&corner.parts, &state.position.linkage);
        let field = self.cell_field(watched, state);
        let walk = watched.walk(&corner.parts);
        ask(&walk.over_cell(&relative, &field, level_mm, swell_mm))
    }

    /// How what is left of a stop changes over a cell that it couldn't be proved over: of a gap between the two
    /// elements in the way, of a limit the piece that is nearest to running out.
    pub fn trend(
        &self,
        stop: StopKind,
        state: &CellState,
        elements: Option<(u32, u32)>,
    ) -> Option<Trend> {
        match stop {
            StopKind::EndOfReach => None,
            StopKind::Limit(i) => {
                let limit = &self.corner.limits[i];
                let trends = (0..limit.pieces()).map(|piece| {
                    let reserve = limit.reserve(piece, &state.duals);
                    Trend {
                        room: reserve.value,
                        growth: [0, 1].map(|axis| reserve.rate[axis] * state.half[axis]),
                        bend: bending(&state.rates.limits[self.pieces[i] + piece], state.half),
                    }
                });
                let left = |t: &Trend| t.room - t.growth[0].abs() - t.growth[1].abs() - t.bend;
                trends.min_by(|a, b| left(a).total_cmp(&left(b)))
            }
            StopKind::Tight(pair) | StopKind::Contact(pair) => {
                let (i, j) = elements?;
                let level_mm = self.level_mm(stop, pair);
                self.over_cell(pair, level_mm, state, |gap| gap.trend(i, j))
            }
        }
    }

    /// By how much motion bounds are multiplied: one, but for tests of the guard.
    pub(super) fn bound_factor(&self) -> f64 {
        self.bound_factor
    }

    /// Whether a gap is proved above its level over a cell; else the elements in the way.
    pub(super) fn is_gap_above(
        &self,
        pair: usize,
        gap: &GapOverCell,
        warm: Option<(u32, u32)>,
    ) -> (bool, Option<(u32, u32)>) {
        match self.ask(pair, gap, warm) {
            CellProof::Above => (true, None),
            CellProof::Below => (false, warm),
            CellProof::Open(i, j) => (false, Some((i, j))),
        }
    }

    /// The elements in the way last time often still are, and settle it without the trees.
    fn ask(&self, pair: usize, gap: &GapOverCell, warm: Option<(u32, u32)>) -> CellProof {
        let settled = warm.and_then(|(i, j)| gap.by_elements(i, j));
        settled.unwrap_or_else(|| {
            self.count_queries(pair, 1);
            gap.by_trees()
        })
    }

    /// Every pose over the reachable part of a cell in `node`, where that is a smallest patch without rates: there rates
    /// of the cell's own are expensive, and this may settle it.
    pub(super) fn reached_poses(&self, node: NodeId, cell: &Cell) -> Option<ReachedPoses> {
        self.atlas
            .is_unproved_leaf(node)
            .then(|| ReachedPoses::over(self.corner, cell))
    }

    /// Gap at or below which a pair's stop is met, mm.
    pub(super) fn level_mm(&self, stop: StopKind, pair: usize) -> f64 {
        match stop {
            StopKind::Tight(_) => self.corner.pairs[pair].required_mm,
            _ => TOUCH_MM,
        }
    }

    /// Whether a pair is proved to overlap over a whole cell; asked where two elements cross at its
    /// centre.
    pub fn overlaps_throughout(
        &self,
        pair: usize,
        state: &CellState,
        crossing: (u32, u32),
    ) -> bool {
        let watched = &self.corner.pairs[pair];
        let relative = watched.relative(&self.corner.parts, &state.position.linkage);
        let walk = watched.walk(&self.corner.parts);
        walk.elements_cross(&relative, crossing)
            && walk.overlaps_throughout(&relative, &self.cell_field(watched, state))
    }

    /// Whether two elements of a pair touch at a position.
    pub(super) fn elements_touch_at(
        &self,
        pair: usize,
        elements: (u32, u32),
        alpha: f64,
        rack_mm: f64,
    ) -> bool {
        let corner = self.corner;
        let watched = &corner.pairs[pair];
        let position = corner.positioner.place(alpha, rack_mm);
        let linkage = &position.linkage;
        let swell_mm = corner.swell_mm(watched, linkage);
        let relative = watched.relative(&corner.parts, linkage);
        let walk = watched.walk(&corner.parts);
        linkage.out_of_reach().is_none()
            && walk.gap_of_elements(&relative, swell_mm, elements).gap_mm <= TOUCH_MM
    }

    /// Whether one part of a pair lies wholly inside the other at a position.
    pub fn contains_at(&self, pair: usize, alpha: f64, rack_mm: f64) -> bool {
        let watched = &self.corner.pairs[pair];
        let position = self.corner.positioner.place(alpha, rack_mm);
        let relative = watched.relative(&self.corner.parts, &position.linkage);
        watched.walk(&self.corner.parts).contains(&relative)
    }

    /// Whether a stop is the contact, or the missing gap, of a pair of which one part lies wholly inside the other at
    /// a position (arm angle, rack). Not so at the measured position, where such pairs are told as overlaps and not
    /// watched, nor in the strip about it over which the pair is proved clear.
    pub fn is_inside_at(&self, stop: StopKind, (alpha, rack_mm): (f64, f64)) -> bool {
        stop.pair().is_some_and(|pair| {
            let [low, high] = self.clear_to[pair];
            let is_clear = low < high && low <= alpha && alpha <= high;
            !is_clear && (alpha, rack_mm) != (0.0, 0.0) && self.contains_at(pair, alpha, rack_mm)
        })
    }

    /// Displacement bounds of a pair's relative motion over a cell.
    pub fn cell_field(&self, pair: &WatchedPair, state: &CellState) -> CellField {
        let key = &self.corner.fields[pair.field];
        CellField::new(
            state.rates.field(pair.field, key),
            &state.duals.placement(key.fixed),
            &state.duals.placement(key.moving),
            state.half,
        )
    }

    /// How much of a pair's relative motion over a cell comes from the arm's angle and from the rack, mm: of the moving part's
    /// box. Its far end feels a turn that its middle doesn't.
    pub(super) fn motion_shares(&self, pair: usize, state: &CellState) -> [f64; 2] {
        let watched = &self.corner.pairs[pair];
        let (_, moving) = watched.roles();
        let surface = &self.corner.parts[moving].surface;
        let in_body = |p: &Vector3<f64>| surface.origin + surface.rotation * p;
        let bounds = surface.bounds();
        let field = self.cell_field(watched, state);
        let corners = bounds
            .corners()
            .map(|corner| field.shares(&in_body(&corner)));
        let key = &self.corner.fields[watched.field];
        let bends = state.rates.field(watched.field, key);
        let bends = bends.shares(&in_body(&bounds.middle), state.half);
        [0, 1].map(|i| corners.iter().map(|c| c[i]).fold(0.0, f64::max) + bends[i])
    }

    /// Whether a stop is violated at one position: the witness at a bracket's far end.
    pub fn violated_at(
        &self,
        stop: StopKind,
        alpha: f64,
        rack_mm: f64,
        warm: Option<(u32, u32)>,
    ) -> bool {
        let corner = self.corner;
        let position = corner.positioner.place(alpha, rack_mm);
        let linkage = &position.linkage;
        if linkage.out_of_reach().is_some() {
            return stop == StopKind::EndOfReach;
        }
        match stop {
            StopKind::EndOfReach => corner.positioner.rates(alpha, rack_mm).rate[0] <= 0.0,
            StopKind::Limit(i) => {
                let limit = &corner.limits[i];
                (0..limit.pieces()).any(|piece| limit.reserve(piece, linkage) <= 0.0)
            }
            StopKind::Tight(i) | StopKind::Contact(i) => {
                self.count_queries(i, 1);
                let pair = &corner.pairs[i];
                let level = self.level_mm(stop, i);
                let relative = pair.relative(&corner.parts, linkage);
                let swell = corner.swell_mm(pair, linkage);
                let walk = pair.walk(&corner.parts);
                walk.is_within(&relative, swell, level, warm)
            }
        }
    }
}
