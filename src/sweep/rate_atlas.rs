//! Proved rates of everything, over every part of the rectangle of arm angle and rack.
//!
//! The idea in five lines. The sweep asks the same question of thousands of cells: how fast can this
//! limit or this pair's gap change here? The rectangle is cut once into patches; over each, the linkage
//! is evaluated with enclosures, which bounds all rates at once. A cell of any size inside a patch may
//! use the patch's rates, so a small cell costs one plain position and no enclosure. Larger cells use
//! the hull of their patches, which is valid too and stays sharp. Where the linkage can't be enclosed,
//! near its end of reach, patches are split further; what is left is unproved and treated as such.
//! Of the pairs' relative motions a patch works out only those that are asked, each once.

use crate::kinematics::{EnclosedLinkage, RateField};
use crate::numbers::{Enclosure, Interval};
use crate::suspension::{Motion, Placement};
use crate::truck::{Corner, FieldKey};
use rayon::prelude::*;
use std::sync::{Arc, OnceLock};

/// A rectangle of lower-arm angle (radians) and rack position (mm); a line where one side is zero.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cell {
    /// From, to: radians, from below to.
    pub alpha: [f64; 2],
    /// From, to: mm.
    pub rack: [f64; 2],
}

impl Cell {
    /// Centre: (arm angle, rack).
    pub fn centre(&self) -> (f64, f64) {
        (
            0.5 * (self.alpha[0] + self.alpha[1]),
            0.5 * (self.rack[0] + self.rack[1]),
        )
    }

    /// Half-sizes, rounded up so that the cell lies within centre plus and minus half.
    pub fn half(&self) -> [f64; 2] {
        let (a, r) = self.centre();
        let reach = |middle: f64, ends: [f64; 2]| {
            let h = (ends[1] - middle).max(middle - ends[0]);
            if h > 0.0 {
                h * (1.0 + 1.0e-14) + 1.0e-18
            } else {
                0.0
            }
        };
        [reach(a, self.alpha), reach(r, self.rack)]
    }

    /// Whether `inner` lies inside.
    pub fn holds(&self, inner: &Cell) -> bool {
        self.alpha[0] <= inner.alpha[0]
            && inner.alpha[1] <= self.alpha[1]
            && self.rack[0] <= inner.rack[0]
            && inner.rack[1] <= self.rack[1]
    }

    /// The two halves across an axis: 0 arm angle, 1 rack.
    pub fn halves(&self, axis: usize) -> [Cell; 2] {
        let (a, r) = self.centre();
        let (mut low, mut high) = (*self, *self);
        if axis == 0 {
            low.alpha[1] = a;
            high.alpha[0] = a;
        } else {
            low.rack[1] = r;
            high.rack[0] = r;
        }
        [low, high]
    }

    /// The axis along which the wheel moves further, where no rates are known: as at half a metre from the arm's
    /// pivots.
    pub fn longer_axis(&self) -> usize {
        const ARM_MM: f64 = 500.0;
        let half = self.half();
        usize::from(half[0] * ARM_MM < half[1])
    }

    fn quarters(&self) -> [Cell; 4] {
        let [low, high] = self.halves(0);
        let ([a, b], [c, d]) = (low.halves(1), high.halves(1));
        [a, b, c, d]
    }
}

/// Second-derivative bounds over one patch, per radian and millimetre: by arm angle twice, by both, by
/// rack twice; and the first derivatives of travel.
#[derive(Debug)]
pub struct CellRates {
    /// First derivatives of wheel travel, mm.
    pub travel: [Interval; 2],
    /// Bending of wheel travel.
    pub travel_bend: [f64; 3],
    /// Bending of each limit's pieces, in the order of the corner's limits.
    pub limits: Vec<[f64; 3]>,
    /// Bending of the tripod's orbit, mm.
    pub orbit: [f64; 3],
    /// One for each of the corner's [`FieldKey`]s, once it is asked for.
    fields: Vec<OnceLock<RateField>>,
    /// What they are worked out from.
    source: Source,
}

/// What a cell's relative motions are worked out from.
#[derive(Debug)]
enum Source {
    /// The linkage enclosed over the cell.
    Linkage(Arc<EnclosedLinkage>),
    /// Patches that hold the cell together: what holds over each of them.
    Patches(Vec<Arc<CellRates>>),
}

/// How enclosing a cell ended.
enum Enclosed {
    Rates(Box<CellRates>),
    /// All of it is proved to lie beyond the end of reach.
    Beyond,
    /// Near the end of reach, or too large a cell.
    Unknown,
}

impl CellRates {
    /// The linkage over a cell.
    fn linkage(corner: &Corner, cell: &Cell) -> EnclosedLinkage {
        EnclosedLinkage::over(&corner.positioner.linkage, cell.centre(), cell.half())
    }

    /// Range of wheel travel over a cell, mm; everything where it can't be enclosed.
    pub fn travel_range(corner: &Corner, cell: &Cell) -> Interval {
        let height = CellRates::linkage(corner, cell)
            .linkage
            .wheel_centre
            .z
            .range;
        height - Interval::point(corner.positioner.linkage.own.wheel_height_mm)
    }

    /// Whether a whole cell is proved to lie within reach.
    pub fn is_within_reach(corner: &Corner, cell: &Cell) -> bool {
        CellRates::linkage(corner, cell).linkage.is_within_reach()
    }

    /// Whether a whole cell is proved to lie beyond the end of reach.
    pub fn is_beyond_reach(corner: &Corner, cell: &Cell) -> bool {
        CellRates::linkage(corner, cell).linkage.is_beyond_reach()
    }

    /// Encloses all rates over a cell. `None` where the linkage can't be enclosed: near the end of
    /// reach, or because the cell is too large.
    pub fn enclose(corner: &Corner, cell: &Cell) -> Option<CellRates> {
        match CellRates::enclosed(corner, Arc::new(CellRates::linkage(corner, cell))) {
            Enclosed::Rates(rates) => Some(*rates),
            Enclosed::Beyond | Enclosed::Unknown => None,
        }
    }

    /// The same, telling cells beyond the end of reach from those of which nothing is known.
    fn enclosed(corner: &Corner, over: Arc<EnclosedLinkage>) -> Enclosed {
        let EnclosedLinkage { linkage, half, .. } = &*over;
        if linkage.is_beyond_reach() {
            return Enclosed::Beyond;
        }
        let bend = |e: &Enclosure| {
            let unit = [half[0] * half[0], half[0] * half[1], half[1] * half[1]];
            [0, 1, 2].map(|k| e.bend[k].scale(1.0 / unit[k]).magnitude())
        };
        let height = &linkage.wheel_centre.z;
        let travel = [0, 1].map(|i| height.rate[i].scale(1.0 / half[i]));
        let travel_bend = bend(height);
        let mut limits = Vec::new();
        for limit in &corner.limits {
            for piece in 0..limit.pieces() {
                limits.push(bend(&limit.reserve(piece, linkage)));
            }
        }
        let orbit = bend(&corner.orbit_mm(linkage));
        // Where every motion's second derivatives are bounded, those of one seen from another are too.
        let fields = corner.fields.iter();
        let mut motions: Vec<Motion> = fields.flat_map(|f| [f.fixed, f.moving]).collect();
        motions.sort_unstable();
        motions.dedup();
        let are_bounded = motions
            .iter()
            .all(|motion| is_bounded(&linkage.placement(*motion)));
        // A wheel that rises with the arm at a rate known to within half: else the rectangle is too
        // large for sharp bounds, or near a dead point.
        let rises = travel[0].lo > 0.5 * travel[0].middle();
        let bounded = rises
            && travel.iter().all(|i| i.is_bounded())
            && limits
                .iter()
                .flatten()
                .chain(&orbit)
                .chain(&travel_bend)
                .all(|r| r.is_finite())
            && are_bounded;
        if !bounded {
            return Enclosed::Unknown;
        }
        Enclosed::Rates(Box::new(CellRates {
            travel,
            travel_bend,
            limits,
            orbit,
            fields: corner.fields.iter().map(|_| OnceLock::new()).collect(),
            source: Source::Linkage(over),
        }))
    }

    /// Rates that hold over each of some patches.
    fn hull(patches: Vec<Arc<CellRates>>) -> Option<CellRates> {
        let greater = |a: &[f64; 3], b: &[f64; 3]| [a[0].max(b[0]), a[1].max(b[1]), a[2].max(b[2])];
        let (first, others) = patches.split_first()?;
        let mut out = CellRates {
            travel: first.travel,
            travel_bend: first.travel_bend,
            limits: first.limits.clone(),
            orbit: first.orbit,
            fields: first.fields.iter().map(|_| OnceLock::new()).collect(),
            source: Source::Patches(Vec::new()),
        };
        for other in others {
            out.travel = [0, 1].map(|i| out.travel[i].hull(other.travel[i]));
            out.travel_bend = greater(&out.travel_bend, &other.travel_bend);
            for (own, other) in out.limits.iter_mut().zip(&other.limits) {
                *own = greater(own, other);
            }
            out.orbit = greater(&out.orbit, &other.orbit);
        }
        out.source = Source::Patches(patches);
        Some(out)
    }

    /// How one of the corner's relative motions bends, by its number and key.
    pub fn field(&self, number: usize, key: &FieldKey) -> &RateField {
        self.fields[number].get_or_init(|| match &self.source {
            Source::Linkage(over) => {
                let bend = over.between(key.fixed, key.moving);
                RateField::about(key.reference, &bend, over.half)
            }
            Source::Patches(patches) => {
                let mut fields = patches.iter().map(|patch| patch.field(number, key));
                let first = fields.next().cloned();
                let first =
                    first.unwrap_or_else(|| unreachable!("a hull is of one patch at least"));
                fields.fold(first, |hull, field| hull.hull(field))
            }
        })
    }
}

/// Whether no second derivative of a placement is unbounded.
fn is_bounded(placement: &Placement<Enclosure>) -> bool {
    let all = placement.rotation.iter().chain(placement.anchor.iter());
    all.flat_map(|e| e.bend.iter().chain(&e.rate).chain([&e.range]))
        .all(|i| i.is_bounded())
}

/// A rectangle of the atlas: a patch, or four of them.
struct Node {
    cell: Cell,
    /// Halvings of both axes down from a quarter.
    depth: u32,
    /// What it is, once it was looked at.
    made: OnceLock<Made>,
    /// Rates that hold over all its patches, once they were asked for.
    hull: OnceLock<Option<Arc<CellRates>>>,
}

/// What a node turned out to be.
enum Made {
    /// A patch with its rates.
    Patch(Arc<CellRates>),
    /// Proved to lie beyond the end of reach.
    Beyond,
    /// Cut into its quarters.
    Split,
    /// As small as patches are, and unproved.
    Unproved,
}

/// The atlas: four quarters that meet at the measured position (droop or bump, rack to either side),
/// each a tree of patches. Patches next to the end of reach are cut and enclosed when they are asked for: most of them lie
/// beyond what is meant to end the travel, and never are.
pub struct Atlas<'c> {
    /// The whole rectangle.
    pub domain: Cell,
    corner: &'c Corner,
    /// The quarters, then for each node in turn its own four, down to the smallest there may be.
    nodes: Vec<Node>,
}

/// A node's number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NodeId(u32);

#[cfg(test)]
impl NodeId {
    /// Any node: for tests that ask nothing of it.
    pub const FIRST: NodeId = NodeId(0);
}

/// Rates for a cell: the atlas's own, made for the cell alone, or none.
pub enum Rates<'a> {
    /// From a patch that holds the cell.
    Patch(&'a CellRates),
    /// Enclosed for this cell, where no patch could be, or for several patches that it lies across.
    Own(Box<CellRates>),
    /// Unproved.
    None,
}

impl Rates<'_> {
    /// The rates, if proved.
    pub fn get(&self) -> Option<&CellRates> {
        match self {
            Rates::Patch(rates) => Some(rates),
            Rates::Own(rates) => Some(rates),
            Rates::None => None,
        }
    }
}

/// Patches per quarter and axis: 2 to this power. More of them bound rates more tightly and cost more to
/// build, which already is about a third of a sweep of each demo scene.
const PATCH_DEPTH: u32 = 2;
/// How much further an unproved patch is split.
const EXTRA_DEPTH: u32 = 4;

impl<'c> Atlas<'c> {
    /// Encloses the corner over its search range and rack travel.
    pub fn build(corner: &'c Corner) -> Atlas<'c> {
        let domain = domain(corner);
        let [alpha, rack] =
            [domain.alpha, domain.rack].map(|[low, high]| [[low, 0.0], [0.0, high]]);
        let quarters = alpha.map(|alpha| rack.map(|rack| Cell { alpha, rack }));
        let mut nodes: Vec<Node> = quarters
            .as_flattened()
            .iter()
            .map(|c| Node::new(*c, 0))
            .collect();
        let mut next = 0;
        while nodes[next].depth < PATCH_DEPTH + EXTRA_DEPTH {
            let (cells, depth) = (nodes[next].cell.quarters(), nodes[next].depth + 1);
            nodes.extend(cells.map(|cell| Node::new(cell, depth)));
            next += 1;
        }
        let atlas = Atlas {
            domain,
            corner,
            nodes,
        };
        let patches = atlas
            .nodes
            .par_iter()
            .filter(|node| node.depth == PATCH_DEPTH);
        patches.for_each(|node| {
            atlas.made(node);
        });
        atlas
    }

    fn node(&self, number: NodeId) -> &Node {
        &self.nodes[number.0 as usize]
    }

    /// What a node is, made now if nobody asked before.
    fn made<'a>(&self, node: &'a Node) -> &'a Made {
        node.made.get_or_init(|| {
            if node.depth < PATCH_DEPTH {
                return Made::Split;
            }
            let (centre, half) = (node.cell.centre(), node.cell.half());
            let over = self.corner.positioner.enclosed_over(centre, half);
            match CellRates::enclosed(self.corner, over) {
                Enclosed::Rates(rates) => Made::Patch(Arc::from(rates)),
                Enclosed::Beyond => Made::Beyond,
                Enclosed::Unknown if node.depth < PATCH_DEPTH + EXTRA_DEPTH => Made::Split,
                Enclosed::Unknown => Made::Unproved,
            }
        })
    }

    /// A node's quarters, where it is cut into them.
    fn children(&self, number: NodeId) -> Option<[NodeId; 4]> {
        let first = 4 * (number.0 + 1);
        matches!(self.made(self.node(number)), Made::Split)
            .then(|| [0, 1, 2, 3].map(|i| NodeId(first + i)))
    }

    /// Rates that hold over all of a node; none where some of it is unproved.
    fn rates_over(&self, number: NodeId) -> Option<&Arc<CellRates>> {
        let node = self.node(number);
        match self.made(node) {
            Made::Patch(rates) => Some(rates),
            Made::Beyond | Made::Unproved => None,
            Made::Split => {
                let hull = || {
                    let children = self.children(number)?.into_iter();
                    let patches: Option<Vec<_>> =
                        children.map(|c| self.rates_over(c).cloned()).collect();
                    CellRates::hull(patches?).map(Arc::new)
                };
                node.hull.get_or_init(hull).as_ref()
            }
        }
    }

    /// The quarter that a cell lies in, by the cell's middle. A cell outside the rectangle gets a
    /// quarter too, but no rates: [`Atlas::rates`] asks whether the node holds the cell.
    pub fn quarter(&self, cell: &Cell) -> NodeId {
        let (alpha, rack) = cell.centre();
        NodeId(2 * u32::from(alpha > 0.0) + u32::from(rack > 0.0))
    }

    /// The smallest node below `from` that holds the cell.
    pub fn descend(&self, from: NodeId, cell: &Cell) -> NodeId {
        let mut node = from;
        while let Some(child) = self.child_holding(node, cell) {
            node = child;
        }
        node
    }

    fn child_holding(&self, node: NodeId, cell: &Cell) -> Option<NodeId> {
        // Children hold no more than their parent does, which need not be made to see that they can't.
        let may_hold = self.node(node).cell.holds(cell);
        let mut children = may_hold.then(|| self.children(node))??.into_iter();
        children.find(|child| self.node(*child).cell.holds(cell))
    }

    /// Whether a cell inside `node` has patch rates, so that asking for them costs nothing.
    pub fn has_patch(&self, node: NodeId) -> bool {
        self.rates_over(node).is_some()
    }

    /// Whether a node is a smallest patch and unproved.
    pub fn is_unproved_leaf(&self, node: NodeId) -> bool {
        matches!(self.made(self.node(node)), Made::Beyond | Made::Unproved)
    }

    /// Rates valid over a cell inside `node`.
    pub fn rates(&self, number: NodeId, cell: &Cell) -> Rates<'_> {
        let node = self.node(number);
        if !node.cell.holds(cell) {
            return Rates::None;
        }
        let own = |rates: Option<CellRates>| match rates {
            Some(rates) => Rates::Own(Box::new(rates)),
            None => Rates::None,
        };
        match self.made(node) {
            Made::Patch(rates) => Rates::Patch(rates),
            Made::Beyond => Rates::None,
            Made::Split => match self.rates_over(number) {
                Some(rates) => Rates::Patch(rates),
                // Part of this node is unproved; the part that the cell lies in need not be.
                None => own(self.hull_over(number, cell)),
            },
            Made::Unproved => own(CellRates::enclose(self.corner, cell)),
        }
    }

    /// How far from `start` toward `end`, at a rack position, the patches' rates reach without
    /// a break: beyond lies the end of reach, or what is too near to it to be enclosed in patches.
    pub fn proved_to(&self, rack_mm: f64, start: f64, end: f64) -> f64 {
        let mut place = start;
        for next in self.breaks(|alpha| (alpha, rack_mm), 0, start, end) {
            let middle = 0.5 * (place + next);
            let point = Cell {
                alpha: [middle, middle],
                rack: [rack_mm, rack_mm],
            };
            let node = self.descend(self.quarter(&point), &point);
            if !self.has_patch(node) || !self.node(node).cell.holds(&point) {
                return place;
            }
            place = next;
        }
        place
    }

    /// Where a line from `start` to `end` crosses from one node with rates at hand to the next, the largest there are,
    /// in order, with `end` last. `at` gives the point (arm angle, rack) of a place; `axis` says which of them varies.
    pub fn breaks(
        &self,
        at: impl Fn(f64) -> (f64, f64),
        axis: usize,
        start: f64,
        end: f64,
    ) -> Vec<f64> {
        let mut out = Vec::new();
        let mut place = start;
        while place != end {
            // A point just beyond the place.
            let (alpha, rack) = at(place + (end - place) * 1.0e-9);
            let point = Cell {
                alpha: [alpha, alpha],
                rack: [rack, rack],
            };
            let mut node = self.quarter(&point);
            while !self.has_patch(node)
                && let Some(child) = self.child_holding(node, &point)
            {
                node = child;
            }
            let cell = &self.node(node).cell;
            let sides = if axis == 0 { cell.alpha } else { cell.rack };
            let far = if end > place {
                sides[1].min(end)
            } else {
                sides[0].max(end)
            };
            // Rounding must not keep the march on one spot.
            place = if (far - place).abs() > 1.0e-12 {
                far
            } else {
                end
            };
            out.push(place);
        }
        out
    }

    /// Whether a cell inside `node` is proved to lie beyond the end of reach.
    pub fn is_beyond_reach(&self, node: NodeId, cell: &Cell) -> bool {
        let node = self.node(node);
        match self.made(node) {
            Made::Beyond if node.cell.holds(cell) => true,
            Made::Beyond | Made::Patch(_) | Made::Unproved => {
                CellRates::is_beyond_reach(self.corner, cell)
            }
            Made::Split => false,
        }
    }

    /// Hull of the rates of all patches below a node that a cell meets; `None` where one of them has none.
    fn hull_over(&self, number: NodeId, cell: &Cell) -> Option<CellRates> {
        let mut patches = Vec::new();
        self.patches_met(number, cell, &mut patches)?;
        CellRates::hull(patches)
    }

    fn patches_met(
        &self,
        number: NodeId,
        cell: &Cell,
        out: &mut Vec<Arc<CellRates>>,
    ) -> Option<()> {
        match self.made(self.node(number)) {
            Made::Patch(rates) => out.push(Arc::clone(rates)),
            Made::Beyond | Made::Unproved => return None,
            Made::Split => {
                let meets = |a: [f64; 2], b: [f64; 2]| a[0] <= b[1] && b[0] <= a[1];
                for child in self.children(number)? {
                    let other = &self.node(child).cell;
                    if meets(other.alpha, cell.alpha) && meets(other.rack, cell.rack) {
                        self.patches_met(child, cell, out)?;
                    }
                }
            }
        }
        Some(())
    }
}

impl Node {
    fn new(cell: Cell, depth: u32) -> Node {
        Node {
            cell,
            depth,
            made: OnceLock::new(),
            hull: OnceLock::new(),
        }
    }
}

/// Rack positions, as shares of each lock, at which the arm angle of the search's ends is taken.
const DOMAIN_RACKS: [f64; 3] = [0.0, 0.5, 1.0];

/// The rectangle: rack between the locks; arm angle so that the search travel, or the end of reach, lies
/// within at straight ahead, at both locks and half-way.
fn domain(corner: &Corner) -> Cell {
    let end_at = |travel_mm: f64, rack_mm: f64| {
        match corner.positioner.position(travel_mm, rack_mm) {
            Ok(position) => position.alpha,
            Err(error) => {
                // Past the end of reach, so that the end itself is found as a stop.
                let sign = travel_mm.signum();
                let inside = error.reached_mm - sign * 0.5;
                let reached = corner.positioner.position(inside, rack_mm);
                reached.map_or(0.1 * sign, |p| p.alpha) + sign * 0.1
            }
        }
    };
    let end = |travel_mm: f64| {
        corner
            .rack_mm
            .iter()
            .flat_map(|lock| DOMAIN_RACKS.map(|share| end_at(travel_mm, lock * share)))
            .fold(
                0.0,
                |far: f64, alpha| if alpha.abs() > far.abs() { alpha } else { far },
            )
    };
    Cell {
        alpha: [end(-corner.search_mm[0]), end(corner.search_mm[1])],
        rack: corner.rack_mm,
    }
}
