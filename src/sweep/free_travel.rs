//! The free region of travel and rack: cells proved free, proved stopped, or undecided at the finest.
//!
//! The idea in five lines. A cell is free when every stop that blocks is proved kept over it (a missing gap alone blocks
//! nothing), stopped when any one is proved violated
//! over it, and is halved otherwise, down to a stated thinness. A stop once proved kept over a cell need not be asked again
//! inside it. The free region is what can be reached from the measured position through free cells, so a stretch that is
//! free but cut off is told apart, and steering that is blocked between two free stretches is found. What lies across its
//! edge is what stops the wheel there.
//!
//! Source: J.-C. Latombe, "Robot Motion Planning", Kluwer 1991, chapter 6 (approximate cell decomposition); the proofs per
//! cell are [`super::stops`]'s.

use super::near_reach::ReachedPoses;
use super::rate_atlas::{Atlas, Cell, CellRates, NodeId};
use super::stops::{CellState, Guard, OpenStop, Proof, StopKind, all_stops, is_intended, stop_id};
use crate::findings::{
    AreaShares, BlockedSteering, EdgeStop, FreeMap, MapCell, MapState, OutlinePoint, StopId,
};
use crate::truck::Corner;
use rayon::prelude::*;

/// Halvings of each quarter of the rectangle: arm angle, rack.
const DEPTH: [u32; 2] = [8, 7];
/// Halvings done before the work is shared between threads.
const SHARED_DEPTH: u32 = 2;

/// Longest piece of the outline along the rack, grid squares: travel bends by far less than a cell over it.
const OUTLINE_SQUARES: usize = 4;
/// How far around a cell a reached square is looked for, squares: an edge's thin cells are one or two wide.
const NEAR_SQUARES: usize = 2;

/// What was decided about a leaf.
#[derive(Clone, Copy, Debug, PartialEq)]
enum LeafState {
    Free,
    Stopped(StopKind),
    /// Too thin: the stop that could not be excluded.
    Undecided(StopKind),
}

#[derive(Clone, Debug)]
struct Leaf {
    /// Grid squares from, to (exclusive), both axes.
    squares: [[usize; 2]; 2],
    state: LeafState,
    /// A pair whose required gap is missing here: proved over the cell, or seen at its middle.
    tight: Option<StopKind>,
    /// Every stop that isn't proved kept over the cell; of a stopped one, that which is violated.
    open: Vec<OpenStop>,
    /// A node of the atlas that holds it.
    node: NodeId,
}

/// A cell that the wheel may be in and over which something isn't proved kept.
pub(super) struct OpenCell<'r> {
    /// The cell.
    pub cell: Cell,
    /// A node of the atlas that holds it.
    pub node: NodeId,
    /// What isn't proved kept.
    pub open: &'r [OpenStop],
    /// Whether all of it is proved free and reachable.
    pub is_reached: bool,
    /// Squares about it, from and to (exclusive), both axes.
    squares: [[usize; 2]; 2],
}

/// The map in grid squares: the thinnest cells, both axes from the rectangle's low ends.
pub struct Region {
    size: [usize; 2],
    /// Leaf number of each square.
    leaf_of: Vec<u32>,
    leaves: Vec<Leaf>,
    /// Whether a square is free and connected to the measured position.
    reached: Vec<bool>,
    domain: Cell,
}

/// Which squares a wheel may be in, by sums over the rectangles that begin at the first square: a rectangle's count is four
/// of them. Source: F. C. Crow, "Summed-area tables for texture mapping", SIGGRAPH 1984.
pub(super) struct CoveredSquares {
    size: [usize; 2],
    domain: Cell,
    sums: Vec<u32>,
}

impl CoveredSquares {
    /// Whether a wheel may be somewhere in a cell of the map's rectangle, its edges included.
    pub fn any_in(&self, cell: &Cell) -> bool {
        let [n, m] = self.size;
        let rows = cell.alpha.map(|a| square_at(a, self.domain.alpha, n));
        let columns = cell.rack.map(|r| square_at(r, self.domain.rack, m));
        let sum = |i: usize, j: usize| self.sums[i * (m + 1) + j];
        sum(rows[1] + 1, columns[1] + 1) + sum(rows[0], columns[0])
            > sum(rows[0], columns[1] + 1) + sum(rows[1] + 1, columns[0])
    }
}

/// The square of `n` that holds a value of one axis. Each half of the axis is divided evenly on its own.
fn square_at(value: f64, ends: [f64; 2], n: usize) -> usize {
    let half = (n / 2) as f64;
    let share = if value < 0.0 {
        -value / ends[0]
    } else {
        value / ends[1]
    };
    ((half + share * half).floor().max(0.0) as usize).min(n - 1)
}

struct Work {
    squares: [[usize; 2]; 2],
    node: NodeId,
    active: Active,
}

impl Region {
    /// Maps the free travel of a corner, with the named stops taken off.
    pub fn of(corner: &Corner, without: &[StopId]) -> Region {
        let atlas = Atlas::build(corner);
        Region::map(&Guard::new(corner, &atlas, 1.0).without(without))
    }

    /// Grid line `i` of an axis. Each half of it is divided evenly on its own, since zero must be a
    /// boundary.
    fn place(ends: [f64; 2], n: usize, i: usize) -> f64 {
        let half = n / 2;
        if i <= half {
            ends[0] * (1.0 - i as f64 / half as f64)
        } else {
            ends[1] * ((i - half) as f64 / half as f64)
        }
    }

    fn cell_of(domain: &Cell, size: [usize; 2], squares: [[usize; 2]; 2]) -> Cell {
        let at =
            |axis: usize, ends: [f64; 2]| squares[axis].map(|i| Region::place(ends, size[axis], i));
        Cell {
            alpha: at(0, domain.alpha),
            rack: at(1, domain.rack),
        }
    }

    /// Decides the whole rectangle.
    pub fn map(guard: &Guard) -> Region {
        let domain = guard.atlas.domain;
        let size = DEPTH.map(|d| 2 << d);
        let parts = 1_usize << SHARED_DEPTH;
        let active: Vec<_> = guard.stops.iter().map(|s| (*s, None)).collect();
        let mut work = Vec::new();
        for i in 0..2 * parts {
            for j in 0..2 * parts {
                let step = size.map(|n| n / (2 * parts));
                let squares = [
                    [i * step[0], (i + 1) * step[0]],
                    [j * step[1], (j + 1) * step[1]],
                ];
                let cell = Region::cell_of(&domain, size, squares);
                let node = guard.atlas.quarter(&cell);
                work.push(Work {
                    squares,
                    node,
                    active: active.clone(),
                });
            }
        }
        let leaves: Vec<Leaf> = work
            .into_par_iter()
            .flat_map_iter(|w| {
                let mut leaves = Vec::new();
                decide(guard, &domain, size, w, &mut leaves);
                leaves
            })
            .collect();
        let mut leaf_of = vec![u32::MAX; size[0] * size[1]];
        for (n, leaf) in leaves.iter().enumerate() {
            for i in leaf.squares[0][0]..leaf.squares[0][1] {
                for j in leaf.squares[1][0]..leaf.squares[1][1] {
                    leaf_of[i * size[1] + j] = n as u32;
                }
            }
        }
        let mut region = Region {
            size,
            leaf_of,
            leaves,
            reached: vec![false; size[0] * size[1]],
            domain,
        };
        region.flood();
        region.settle_cut_off(guard);
        region
    }

    fn is_free(&self, i: usize, j: usize) -> bool {
        self.leaves[self.leaf_of[i * self.size[1] + j] as usize].state == LeafState::Free
    }

    /// The four squares that meet at the measured position.
    fn about_measured(&self) -> [(usize, usize); 4] {
        let [i, j] = self.size.map(|n| n / 2);
        [(i - 1, j - 1), (i - 1, j), (i, j - 1), (i, j)]
    }

    /// Marks what can be reached from the measured position.
    fn flood(&mut self) {
        let [n, m] = self.size;
        let mut work: Vec<(usize, usize)> = self
            .about_measured()
            .into_iter()
            .filter(|(i, j)| self.is_free(*i, *j))
            .collect();
        for (i, j) in &work {
            self.reached[i * m + j] = true;
        }
        while let Some((i, j)) = work.pop() {
            for (a, b) in neighbours(i, j, n, m) {
                if !self.reached[a * m + b] && self.is_free(a, b) {
                    self.reached[a * m + b] = true;
                    work.push((a, b));
                }
            }
        }
    }

    /// Free stretches that are cut off may be positions in which one part lies wholly inside another:
    /// apart, but not free. Asked once a stretch, since containment can't end without a contact.
    fn settle_cut_off(&mut self, guard: &Guard) {
        let [n, m] = self.size;
        let mut seen = self.reached.clone();
        for start in 0..n * m {
            if seen[start] || !self.is_free(start / m, start % m) {
                continue;
            }
            let mut stretch = Vec::new();
            let mut work = vec![(start / m, start % m)];
            seen[start] = true;
            while let Some((i, j)) = work.pop() {
                stretch.push(self.leaf_of[i * m + j] as usize);
                for (a, b) in neighbours(i, j, n, m) {
                    if !seen[a * m + b] && self.is_free(a, b) {
                        seen[a * m + b] = true;
                        work.push((a, b));
                    }
                }
            }
            let (alpha, rack) = self
                .cell([[start / m, start / m + 1], [start % m, start % m + 1]])
                .centre();
            let holds =
                |pair: &usize| !guard.always_clear(*pair) && guard.contains_at(*pair, alpha, rack);
            if let Some(pair) = (0..guard.corner.pairs.len()).find(holds) {
                for leaf in stretch {
                    self.leaves[leaf].state = LeafState::Stopped(StopKind::Contact(pair));
                }
            }
        }
    }

    /// Takes what the verdict has proved kept, at every position that is reached, off the thin cells: where nothing is left
    /// to stop the wheel in one, it is free, and what it leads to is looked at again.
    pub(super) fn settle(&mut self, corner: &Corner, is_kept: impl Fn(StopKind) -> bool) {
        let mut is_changed = false;
        for leaf in &mut self.leaves {
            let LeafState::Undecided(named) = leaf.state else {
                continue;
            };
            leaf.open.retain(|(stop, _)| !is_kept(*stop));
            if !is_kept(named) {
                continue;
            }
            is_changed = true;
            let blocking = || leaf.open.iter().map(|(s, _)| *s).filter(|s| s.blocks());
            let intended = blocking().find(|s| is_intended(corner, *s));
            leaf.state = intended
                .or_else(|| blocking().next())
                .map_or(LeafState::Free, LeafState::Undecided);
        }
        if is_changed {
            self.flood();
        }
    }

    /// Whether any square of a cell's rectangle is free and connected.
    pub fn touches_free(&self, squares: [[usize; 2]; 2]) -> bool {
        (squares[0][0]..squares[0][1])
            .any(|i| (squares[1][0]..squares[1][1]).any(|j| self.reached[i * self.size[1] + j]))
    }

    /// Whether any square is proved free, so that the wheel can move at all.
    pub fn holds_free(&self) -> bool {
        self.reached.contains(&true)
    }

    /// Which squares a wheel may be in: free and connected, or to be reached from there without crossing a square that is
    /// proved stopped. What couldn't be decided counts, and so does free travel behind it; the squares about the measured
    /// position count whatever was proved of them, so that nothing there is lost where no square could be proved free. Row
    /// by row of arm angle.
    pub fn covered(&self) -> Vec<bool> {
        let [n, m] = self.size;
        let mut out = self.reached.clone();
        for (i, j) in self.about_measured() {
            out[i * m + j] = true;
        }
        let mut edge: Vec<usize> = (0..n * m).filter(|square| out[*square]).collect();
        while let Some(square) = edge.pop() {
            let (i, j) = (square / m, square % m);
            for i in i.saturating_sub(1)..(i + 2).min(n) {
                for j in j.saturating_sub(1)..(j + 2).min(m) {
                    let next = i * m + j;
                    let state = self.leaves[self.leaf_of[next] as usize].state;
                    if !out[next] && !matches!(state, LeafState::Stopped(_)) {
                        out[next] = true;
                        edge.push(next);
                    }
                }
            }
        }
        out
    }

    /// The cells among `covered` squares over which something isn't proved kept, in a fixed order.
    pub(super) fn open_cells(&self, covered: &[bool]) -> Vec<OpenCell<'_>> {
        let m = self.size[1];
        let squares_of = |leaf: &Leaf| {
            let [rows, columns] = leaf.squares;
            (rows[0]..rows[1]).flat_map(move |i| (columns[0]..columns[1]).map(move |j| i * m + j))
        };
        let leaves = self.leaves.iter().filter(|leaf| !leaf.open.is_empty());
        leaves
            .filter(|leaf| squares_of(leaf).any(|square| covered[square]))
            .map(|leaf| OpenCell {
                cell: self.cell(leaf.squares),
                node: leaf.node,
                open: &leaf.open,
                is_reached: leaf.state == LeafState::Free
                    && squares_of(leaf).all(|square| self.reached[square]),
                squares: leaf.squares,
            })
            .collect()
    }

    /// Middles (arm angle, rack) of the reached squares in and around a cell, the nearest to a point first. Empty where
    /// nothing was proved free there.
    pub(super) fn reached_near(
        &self,
        cell: &OpenCell,
        (alpha, rack_mm): (f64, f64),
    ) -> Vec<(f64, f64)> {
        let [n, m] = self.size;
        let around = |[from, to]: [usize; 2], end: usize| {
            from.saturating_sub(NEAR_SQUARES)..(to + NEAR_SQUARES).min(end)
        };
        let [rows, columns] = cell.squares;
        let one = self.cell([[0, 1], [0, 1]]);
        let side = [one.alpha[1] - one.alpha[0], one.rack[1] - one.rack[0]];
        let away = |at: &(f64, f64)| {
            ((at.0 - alpha) / side[0]).powi(2) + ((at.1 - rack_mm) / side[1]).powi(2)
        };
        let mut out: Vec<(f64, f64)> = around(rows, n)
            .flat_map(|i| around(columns, m).map(move |j| (i, j)))
            .filter(|(i, j)| self.reached[i * m + j])
            .map(|(i, j)| self.cell([[i, i + 1], [j, j + 1]]).centre())
            .collect();
        out.sort_by(|a, b| away(a).total_cmp(&away(b)));
        out
    }

    /// The covered squares, to be asked of rectangles.
    pub(super) fn covered_squares(&self, covered: &[bool]) -> CoveredSquares {
        let [n, m] = self.size;
        let mut sums = vec![0; (n + 1) * (m + 1)];
        for i in 0..n {
            for j in 0..m {
                let (above, beside) = (i * (m + 1) + j + 1, (i + 1) * (m + 1) + j);
                sums[beside + 1] =
                    u32::from(covered[i * m + j]) + sums[above] + sums[beside] - sums[above - 1];
            }
        }
        CoveredSquares {
            size: self.size,
            domain: self.domain,
            sums,
        }
    }

    /// Where a covered square lies at the end of the search in one direction (arm angle, rack), if one does.
    pub(super) fn search_end(&self, covered: &[bool], is_bump: bool) -> Option<(f64, f64)> {
        let [n, m] = self.size;
        let i = if is_bump { n - 1 } else { 0 };
        let j = (0..m).find(|j| covered[i * m + j])?;
        let (_, rack_mm) = self.cell([[i, i + 1], [j, j + 1]]).centre();
        Some((self.domain.alpha[usize::from(is_bump)], rack_mm))
    }

    /// Whether a position lies in a square that is free and connected.
    pub fn is_free_at(&self, alpha: f64, rack_mm: f64) -> bool {
        let i = square_at(alpha, self.domain.alpha, self.size[0]);
        let j = square_at(rack_mm, self.domain.rack, self.size[1]);
        self.reached[i * self.size[1] + j]
    }

    /// Positions (arm angle, rack) spread over what is reached and along its edge: middles of squares.
    pub(super) fn samples(&self) -> Vec<(f64, f64)> {
        /// Squares from one to the next: along the edge, and within.
        const APART: [usize; 2] = [4, 32];
        let [n, m] = self.size;
        let is_reached = |(i, j): (usize, usize)| self.reached[i * m + j];
        let squares = (0..n).flat_map(|i| (0..m).map(move |j| (i, j)));
        let squares = squares.filter(|square| is_reached(*square));
        // At the locks and the search's ends a square has fewer neighbours.
        let (within, edge): (Vec<_>, Vec<_>) = squares
            .partition(|(i, j)| neighbours(*i, *j, n, m).filter(|s| is_reached(*s)).count() == 4);
        let within = within
            .into_iter()
            .filter(|(i, j)| i % APART[1] == 0 && j % APART[1] == 0);
        let edge = edge.into_iter().step_by(APART[0]);
        edge.chain(within)
            .map(|(i, j)| self.cell([[i, i + 1], [j, j + 1]]).centre())
            .collect()
    }

    /// The grid's size.
    pub fn size(&self) -> [usize; 2] {
        self.size
    }

    /// All of it: arm angle and rack.
    pub(super) fn domain(&self) -> Cell {
        self.domain
    }

    /// The rectangle of a block of squares.
    pub fn cell(&self, squares: [[usize; 2]; 2]) -> Cell {
        Region::cell_of(&self.domain, self.size, squares)
    }

    /// Puts travels and names to the map.
    pub fn findings(&self, corner: &Corner, with_cells: bool) -> FreeMap {
        let stops = all_stops(corner);
        let number = |stop: StopKind| stops.iter().position(|s| *s == stop);
        let travel = |alpha: f64, rack: f64| corner.positioner.place(alpha, rack).travel_mm;
        let m = self.size[1];
        let mut shares = AreaShares::default();
        let mut total = 0.0;
        let mut cells = Vec::new();
        let mut gap_missing = false;
        for leaf in &self.leaves {
            let cell = self.cell(leaf.squares);
            let rack = cell.centre().1;
            let span = [travel(cell.alpha[0], rack), travel(cell.alpha[1], rack)];
            // Out of reach there is no travel, and so no area.
            let area = (span[1] - span[0]).abs() * (cell.rack[1] - cell.rack[0]);
            if area.is_nan() {
                continue;
            }
            total += area;
            let reached = self.reached[leaf.squares[0][0] * m + leaf.squares[1][0]];
            let (state, share) = match (leaf.state, reached) {
                (LeafState::Free, true) => (MapState::Free, &mut shares.free),
                (LeafState::Free, false) => (MapState::CutOff, &mut shares.cut_off),
                (LeafState::Stopped(_), _) => (MapState::Stopped, &mut shares.stopped),
                (LeafState::Undecided(_), _) => (MapState::Undecided, &mut shares.undecided),
            };
            *share += area;
            gap_missing |= state == MapState::Free && leaf.tight.is_some();
            if with_cells {
                let stop = match leaf.state {
                    LeafState::Free => None,
                    LeafState::Stopped(s) | LeafState::Undecided(s) => number(s),
                };
                cells.push(MapCell {
                    rack_mm: cell.rack,
                    travel_mm: span,
                    arm_deg: cell.alpha.map(f64::to_degrees),
                    state,
                    stop,
                    gaps_kept: leaf.tight.is_none() && leaf.open.iter().all(|(s, _)| s.blocks()),
                });
            }
        }
        if total > 0.0 {
            for share in [
                &mut shares.free,
                &mut shares.cut_off,
                &mut shares.stopped,
                &mut shares.undecided,
            ] {
                *share /= total;
            }
        }
        let middle = self.size.map(|n| n / 2);
        let one = self.cell([[middle[0] - 1, middle[0]], [middle[1], middle[1] + 1]]);
        let cell_mm = [
            (travel(one.alpha[1], 0.0) - travel(one.alpha[0], 0.0)).abs(),
            one.rack[1] - one.rack[0],
        ];
        FreeMap {
            stops: stops.iter().map(|s| stop_id(corner, *s)).collect(),
            cells,
            outline: if with_cells {
                self.outline(corner, &stops)
            } else {
                Vec::new()
            },
            cell_mm,
            shares,
            edge: self.edge(corner, &travel),
            blocked_steering: self.blocked_steering(corner, &travel),
            gap_missing,
        }
    }

    /// Walks round the connected free squares, keeping them on the left: with rack across and travel up
    /// that is anticlockwise. Holes inside are not walked.
    fn outline(&self, corner: &Corner, stops: &[StopKind]) -> Vec<OutlinePoint> {
        let [n, m] = self.size;
        let inside = |i: i64, j: i64| {
            (0..n as i64).contains(&i)
                && (0..m as i64).contains(&j)
                && self.reached[i as usize * m + j as usize]
        };
        // Start below the lowest free square of the first column that has one.
        let Some((i, j)) = (0..m)
            .flat_map(|j| (0..n).map(move |i| (i, j)))
            .find(|(i, j)| self.reached[i * m + j])
        else {
            return Vec::new();
        };
        // A step goes along one side of a square, from grid corner to grid corner: +rack, +travel,
        // -rack, -travel. Left and right squares of each, relative to the corner it leaves.
        const STEP: [(i64, i64); 4] = [(0, 1), (1, 0), (0, -1), (-1, 0)];
        const LEFT: [(i64, i64); 4] = [(0, 0), (0, -1), (-1, -1), (-1, 0)];
        const RIGHT: [(i64, i64); 4] = [(-1, 0), (0, 0), (0, -1), (-1, -1)];
        let start = (i as i64, j as i64);
        let (mut at, mut heading) = (start, 0);
        let mut out: Vec<(OutlinePoint, usize, (i64, i64))> = Vec::new();
        loop {
            let across = (at.0 + RIGHT[heading].0, at.1 + RIGHT[heading].1);
            let stop = (0..n as i64)
                .contains(&across.0)
                .then_some(across)
                .filter(|(_, j)| (0..m as i64).contains(j))
                .and_then(|(i, j)| self.stop_at(i as usize, j as usize))
                .and_then(|stop| stops.iter().position(|s| *s == stop));
            // A straight run with one stop across it is one side; along the rack it bends a little in travel,
            // so it is given in pieces.
            let squares_on = |from: (i64, i64)| (at.1 - from.1).unsigned_abs() as usize;
            if out.last().is_none_or(|(p, h, from)| {
                *h != heading || p.stop != stop || squares_on(*from) >= OUTLINE_SQUARES
            }) {
                let [alpha, rack] = [
                    Region::place(self.domain.alpha, n, at.0 as usize),
                    Region::place(self.domain.rack, m, at.1 as usize),
                ];
                out.push((
                    OutlinePoint {
                        rack_mm: rack,
                        travel_mm: corner.positioner.place(alpha, rack).travel_mm,
                        stop,
                    },
                    heading,
                    at,
                ));
            }
            at = (at.0 + STEP[heading].0, at.1 + STEP[heading].1);
            if at == start {
                return out.into_iter().map(|(p, _, _)| p).collect();
            }
            // Turn left before going on and before turning right: squares that meet at a corner alone then
            // stay apart, since squares connect by their sides.
            let free_at =
                |offset: [(i64, i64); 4], h: usize| inside(at.0 + offset[h].0, at.1 + offset[h].1);
            heading = [(heading + 1) % 4, heading, (heading + 3) % 4]
                .into_iter()
                .find(|h| free_at(LEFT, *h) && !free_at(RIGHT, *h))
                .unwrap_or((heading + 2) % 4);
        }
    }

    fn stop_at(&self, i: usize, j: usize) -> Option<StopKind> {
        match self.leaves[self.leaf_of[i * self.size[1] + j] as usize].state {
            LeafState::Free => None,
            LeafState::Stopped(s) | LeafState::Undecided(s) => Some(s),
        }
    }

    /// Stops across the free region's edge, with where.
    fn edge(&self, corner: &Corner, travel: &dyn Fn(f64, f64) -> f64) -> Vec<EdgeStop> {
        let [n, m] = self.size;
        let mut out: Vec<(StopKind, EdgeStop)> = Vec::new();
        for i in 0..n {
            for j in 0..m {
                if !self.reached[i * m + j] {
                    continue;
                }
                for (a, b) in neighbours(i, j, n, m) {
                    let Some(stop) = self.stop_at(a, b) else {
                        continue;
                    };
                    let (alpha, rack) = self.cell([[i, i + 1], [j, j + 1]]).centre();
                    let t = travel(alpha, rack);
                    match out.iter_mut().find(|(s, _)| *s == stop) {
                        Some((_, e)) => {
                            e.travel_mm = [e.travel_mm[0].min(t), e.travel_mm[1].max(t)];
                            e.rack_mm = [e.rack_mm[0].min(rack), e.rack_mm[1].max(rack)];
                        }
                        None => out.push((
                            stop,
                            EdgeStop {
                                stop: stop_id(corner, stop),
                                intended: is_intended(corner, stop),
                                travel_mm: [t, t],
                                rack_mm: [rack, rack],
                            },
                        )),
                    }
                }
            }
        }
        out.into_iter().map(|(_, e)| e).collect()
    }

    /// Rows of the map on which something blocked lies between two free, connected stretches; one entry
    /// per stop and place, at its worst row. The gap between the stretches must be wider than thin
    /// cells alone.
    fn blocked_steering(
        &self,
        corner: &Corner,
        travel: &dyn Fn(f64, f64) -> f64,
    ) -> Vec<BlockedSteering> {
        let [n, m] = self.size;
        let mut out: Vec<BlockedSteering> = Vec::new();
        for i in 0..n {
            let row: Vec<usize> = (0..m).filter(|j| self.reached[i * m + j]).collect();
            for pair in row.windows(2) {
                let (a, b) = (pair[0], pair[1]);
                if b - a < 2 {
                    continue;
                }
                let middle = (a + b) / 2;
                let Some(stop) = self.stop_at(i, middle) else {
                    continue;
                };
                let low = self.cell([[i, i + 1], [a, a + 1]]);
                let high = self.cell([[i, i + 1], [b, b + 1]]);
                let found = BlockedSteering {
                    travel_mm: travel(low.centre().0, 0.0),
                    rack_mm: [low.rack[1], high.rack[0]],
                    stop: stop_id(corner, stop),
                };
                let width = |b: &BlockedSteering| b.rack_mm[1] - b.rack_mm[0];
                match out.iter_mut().find(|o| {
                    o.stop == found.stop
                        && o.rack_mm[0] < found.rack_mm[1]
                        && found.rack_mm[0] < o.rack_mm[1]
                }) {
                    Some(o) if width(o) < width(&found) => *o = found,
                    Some(_) => {}
                    None => out.push(found),
                }
            }
        }
        out
    }
}

fn neighbours(i: usize, j: usize, n: usize, m: usize) -> impl Iterator<Item = (usize, usize)> {
    [
        (i.wrapping_sub(1), j),
        (i + 1, j),
        (i, j.wrapping_sub(1)),
        (i, j + 1),
    ]
    .into_iter()
    .filter(move |(a, b)| *a < n && *b < m)
}

/// Stops not yet proved kept.
type Active = Vec<OpenStop>;

/// What is left to decide about a cell in which no stop is proved violated.
struct Undecided {
    active: Active,
    /// A gap proved missing over the whole cell.
    tight: Option<StopKind>,
    /// How much travel and rack it spans, mm.
    spans_mm: [f64; 2],
}

/// Proves what can be proved over a cell. `Err` with the stop that is violated over all of it.
fn weigh(
    guard: &Guard,
    cell: &Cell,
    state: &CellState,
    active: &[OpenStop],
) -> Result<Undecided, StopKind> {
    let mut left = Undecided {
        active: Vec::new(),
        tight: None,
        spans_mm: [
            state.rates.travel[0].magnitude() * state.half[0],
            state.half[1],
        ],
    };
    // A pair that keeps its required gap doesn't touch: its contact, which follows, needs no proof of its own.
    let mut kept = None;
    for (stop, warm) in active {
        let is_kept = matches!(stop, StopKind::Contact(pair) if kept == Some(*pair));
        if is_kept || guard.is_screened(*stop, cell.alpha) {
            continue;
        }
        match guard.prove(*stop, state, *warm) {
            Proof::Free => kept = stop.pair(),
            Proof::Stopped if stop.blocks() => return Err(*stop),
            Proof::Stopped => {
                left.tight = Some(*stop);
                left.active.push((*stop, *warm));
            }
            Proof::Open(elements) => {
                if let (StopKind::Contact(pair), Some(crossing)) = (*stop, elements)
                    && guard.overlaps_throughout(pair, state, crossing)
                {
                    return Err(*stop);
                }
                left.active.push((*stop, elements.or(*warm)));
            }
        }
    }
    Ok(left)
}

/// Decides a block of squares, in smaller blocks where it must.
fn decide(guard: &Guard, domain: &Cell, size: [usize; 2], work: Work, out: &mut Vec<Leaf>) {
    let cell = Region::cell_of(domain, size, work.squares);
    let width = work.squares.map(|[a, b]| b - a);
    let leaf = |state, tight, open, node| Leaf {
        squares: work.squares,
        state,
        tight,
        open,
        node,
    };
    let stopped = |stop, node| leaf(LeafState::Stopped(stop), None, vec![(stop, None)], node);
    let end = StopKind::EndOfReach;
    let below = guard.atlas.descend(work.node, &cell);
    let mut active = work.active;
    let (node, seen) = if let Some(poses) = guard.reached_poses(below, &cell) {
        // Next to the end of reach, where rates are expensive: by the poses that are reached.
        if poses.are_none() || guard.atlas.is_beyond_reach(below, &cell) {
            return out.push(stopped(end, below));
        }
        if let Some(stop) = poses.past(guard, &active) {
            return out.push(stopped(stop, below));
        }
        active = poses.still_open(guard, &active);
        let only_reach = active.iter().all(|(stop, _)| *stop == end);
        if only_reach && CellRates::is_within_reach(guard.corner, &cell) {
            return out.push(leaf(LeafState::Free, None, Vec::new(), below));
        }
        if width == [1, 1] {
            return out.push(leaf(LeafState::Undecided(end), None, active, below));
        }
        (below, None)
    } else {
        let weigh = |state: &CellState| weigh(guard, &cell, state, &active);
        guard.on_cell(below, &cell, weigh)
    };
    let left = match seen {
        Some(Ok(left)) => left,
        Some(Err(stop)) => return out.push(stopped(stop, node)),
        // No rates of so large a cell; what it reaches may all lie past a limit.
        None if !guard.atlas.is_unproved_leaf(node)
            && let poses = ReachedPoses::over(guard.corner, &cell)
            && let Some(stop) = poses.past(guard, &active) =>
        {
            return out.push(stopped(stop, node));
        }
        None if guard.atlas.is_beyond_reach(node, &cell) => {
            return out.push(stopped(end, node));
        }
        None => Undecided {
            active,
            tight: None,
            spans_mm: [1.0, 0.0],
        },
    };
    // Nothing can stop the wheel, and each required gap is either kept or proved missing: done.
    let can_stop = left.active.iter().any(|(s, _)| s.blocks());
    let gap_open = left.active.iter().any(|(s, _)| !s.blocks());
    if !can_stop && (!gap_open || left.tight.is_some()) {
        return out.push(leaf(LeafState::Free, left.tight, left.active, node));
    }
    if width == [1, 1] {
        let (state, tight) = at_middle(guard, &cell, &left);
        return out.push(leaf(state, tight, left.active, node));
    }
    // Split where the travel or the rack moves more, in millimetres of travel against rack.
    let axis = match width {
        [1, _] => 1,
        [_, 1] => 0,
        _ => usize::from(left.spans_mm[1] > left.spans_mm[0]),
    };
    let middle = (work.squares[axis][0] + work.squares[axis][1]) / 2;
    for half in 0..2 {
        let mut squares = work.squares;
        squares[axis][1 - half] = middle;
        let work = Work {
            squares,
            node,
            active: left.active.clone(),
        };
        decide(guard, domain, size, work, out);
    }
}

/// What is shown of a cell too thin to split: the stop that is violated at its middle, if one is, and the gap that is
/// missing there. The verdict doesn't rest on it: [`super::verdict`] settles each open stop by itself.
fn at_middle(guard: &Guard, cell: &Cell, left: &Undecided) -> (LeafState, Option<StopKind>) {
    let (alpha, rack) = cell.centre();
    let first_violated = |of: &dyn Fn(StopKind) -> bool| {
        let mut stops = left.active.iter().filter(|(s, _)| of(*s));
        stops
            .find(|(s, warm)| guard.violated_at(*s, alpha, rack, *warm))
            .map(|(s, _)| *s)
    };
    let intended = |s: StopKind| is_intended(guard.corner, s);
    let first = |of: &dyn Fn(StopKind) -> bool| {
        let mut stops = left.active.iter().map(|(s, _)| *s);
        stops.find(|s| of(*s))
    };
    // Where an intended stop is violated too, it may come first: a bind is named where it stands alone.
    let named = first_violated(&intended)
        .or_else(|| first_violated(&|s| s.blocks()))
        .or_else(|| first(&intended))
        .or_else(|| first(&|s| s.blocks()));
    let state = named.map_or(LeafState::Free, LeafState::Undecided);
    let missing = left.tight.or_else(|| first_violated(&|s| !s.blocks()));
    (state, missing)
}
