//! The solid that moving parts sweep over the whole free travel, grown by a margin.
//!
//! The idea in five lines. Space is halved as an octree, positions as a tree of cells (see [`super::PoseTree`]); each
//! cube keeps only the cells in which a part may come near it. A cube that nothing can come near is outside, one that
//! a single position already fills is inside, the rest is halved down to the grid: cost grows with surface, not
//! volume. At the corners of what is left the least distance to any position is found by branch and bound to a stated
//! error, and the surface at margin plus that error plus what a grid can miss is put together from tetrahedra.
//!
//! Why it holds everything: let D be the true least distance at a point, h the grid's spacing, s the error, so that a
//! corner's value v has D <= v <= D + s. In a tetrahedron the value is the mean of its corners', with weights w; D changes
//! by no more than the way between two points, and every point of a cube is on average, with those weights, within
//! (sqrt(3) / 2) h of the corners of its tetrahedron. Outside the surface the mean is above the level c, so D > c - s -
//! (sqrt(3) / 2) h, which is the margin for c = margin + s + (sqrt(3) / 2) h. Inside it, D <= c + (sqrt(3) / 2) h: the
//! excess is at most sqrt(3) h + s. With h = 1.6 r and s = r for a resolution r that is below 3.8 r. Facet errors and
//! what the tripod's orbit adds are counted as part of the parts.
//!
//! Mean distance to the corners: its square is at most the mean of squares, sum over pairs of w_i w_j l_ij^2, where the
//! edges of a tetrahedron about the diagonal have l_ij^2 = |i - j| h^2 in order along it; that is greatest for half
//! the weight at either end, 3/4 h^2.
//!
//! Over a cell of positions the least distance is bounded by how far the part's point that lies at the place in
//! question can be displaced; where all of the part lies behind a plane at its nearest point, only by the share along
//! the plane's normal and by its turn (distance to a convex set is convex), which is second order near the least.
//!
//! Sources: the bounds are derived here; cells of positions against octree cubes after the backward formulation of swept
//! volumes by S. Sellan, N. Aigerman, A. Jacobson, "Swept Volumes via Spacetime Numerical Continuation", ACM TOG
//! 40(4), 2021, section 3 (from memory; its continuation method is not used).

use super::marching::{Grid, march};
use super::nearest::nearest;
use super::poses::{PoseNode, PoseTree};
use crate::suspension::Body;
use nalgebra::Vector3;
use rayon::prelude::*;

/// What to make.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct KeepOutOptions {
    /// How much room to leave around every position, mm.
    pub margin_mm: f64,
    /// The solid exceeds the swept region by no more than four times this, mm.
    pub resolution_mm: f64,
}

/// Bodies that a solid can be seen from.
pub const SEEN_FROM: [Body; 10] = [
    Body::Frame,
    Body::Differential,
    Body::Rack,
    Body::LowerArm,
    Body::UpperArm,
    Body::Knuckle,
    Body::TieRod,
    Body::DamperUpper,
    Body::DamperLower,
    Body::Halfshaft,
];

/// A closed, oriented surface of triangles, mm, in the coordinates of the body it is seen from.
#[derive(Clone, Debug, Default)]
pub struct KeepOut {
    /// Corners.
    pub vertices: Vec<Vector3<f64>>,
    /// Triangles, outward.
    pub triangles: Vec<[u32; 3]>,
    /// Enclosed volume, mm^3.
    pub volume_mm3: f64,
    /// Closed pieces.
    pub pieces: usize,
    /// Closed hollows inside, filled.
    pub hollows_filled: usize,
    /// Grid spacing, mm.
    pub spacing_mm: f64,
    /// The most that the solid can exceed the grown swept region by, mm.
    pub most_excess_mm: f64,
    /// Cells of the free travel that couldn't be proved: their positions are covered but for these.
    pub unproved_cells: usize,
    /// Cubes looked at, for the record.
    pub cubes: usize,
}

/// Why there is no solid.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum KeepOutError {
    /// None of the parts is there.
    #[error("nothing is swept: no part was named")]
    NoParts,
    /// The size asked for doesn't fit.
    #[error("at a resolution of {0} mm the solid needs more than {1} million cubes")]
    TooFine(f64, usize),
    /// A margin below zero, a resolution at or below it, or not a number.
    #[error("{0} must be {1}")]
    BadOption(&'static str, &'static str),
    /// Stopped from outside.
    #[error("stopped")]
    Cancelled,
    /// The motion couldn't be bounded anywhere.
    #[error("the suspension's motion can't be bounded over its free travel")]
    Unbounded,
}

/// Grid spacing for a resolution.
const SPACING: f64 = 1.6;
/// Error of a corner's value for a resolution.
const VALUE_ERROR: f64 = 1.0;
/// Half of a cube's diagonal, for its side.
const HALF_DIAGONAL: f64 = 0.866_025_403_784_438_7;
/// Cubes of the finest size that are kept: half a gigabyte of values and cells.
const MOST_CUBES: usize = 6_000_000;
/// Levels of the octree done before the work is shared.
const SHARED_CUBES: usize = 512;

/// A mover over a cell.
#[derive(Clone, Copy)]
struct Candidate<'n> {
    node: &'n PoseNode,
    mover: u16,
    /// It comes no nearer than this to the middle of the cube that it was last weighed for, mm.
    bound: f32,
}

impl<'n> Candidate<'n> {
    fn over(self, node: &'n PoseNode) -> Self {
        Candidate { node, ..self }
    }
}

/// A cube of the octree: its low corner in grid steps and its side.
struct Cube<'n> {
    low: [i32; 3],
    side: i32,
    candidates: Vec<Candidate<'n>>,
}

struct Work<'t, 'a> {
    tree: &'t PoseTree<'a>,
    origin: Vector3<f64>,
    spacing: f64,
    level: f64,
    error: f64,
}

/// Makes the solid that a tree's movers sweep. `progress` is told the share done and answers whether to go on.
///
/// # Errors
/// [`KeepOutError`].
pub fn keep_out(
    tree: &PoseTree,
    options: KeepOutOptions,
    progress: &(dyn Fn(f64) -> bool + Sync),
) -> Result<KeepOut, KeepOutError> {
    let KeepOutOptions {
        margin_mm,
        resolution_mm,
    } = options;
    if !(margin_mm.is_finite() && margin_mm >= 0.0) {
        return Err(KeepOutError::BadOption("the margin", "zero or more"));
    }
    if !(resolution_mm.is_finite() && resolution_mm > 0.0) {
        return Err(KeepOutError::BadOption("the resolution", "above zero"));
    }
    if tree.movers.is_empty() {
        return Err(KeepOutError::NoParts);
    }
    let spacing = SPACING * resolution_mm;
    let error = VALUE_ERROR * resolution_mm;
    let level = margin_mm + error + HALF_DIAGONAL * spacing;
    let [low, high] = bounds(tree).ok_or(KeepOutError::Unbounded)?;
    let reach = level + 2.0 * spacing;
    let (low, high) = (low.add_scalar(-reach), high.add_scalar(reach));
    let steps = ((high - low).max() / spacing).ceil();
    if steps > f64::from(1 << 20) {
        return Err(KeepOutError::TooFine(resolution_mm, MOST_CUBES / 1_000_000));
    }
    let side = (steps as u32).next_power_of_two() as i32;
    let work = Work {
        tree,
        origin: low,
        spacing,
        level,
        error,
    };
    let movers = 0..tree.movers.len() as u16;
    let all = movers.flat_map(|mover| {
        tree.roots.iter().map(move |node| Candidate {
            node,
            mover,
            bound: f32::NEG_INFINITY,
        })
    });
    let leaves = work.leaves(
        Cube {
            low: [0; 3],
            side,
            candidates: all.collect(),
        },
        resolution_mm,
        &|share| progress(0.5 * share),
    )?;
    let cubes = leaves.len();
    let grid = work.values(leaves, &|share| progress(0.5 + 0.45 * share))?;
    let mut out = march(&grid, level);
    out.spacing_mm = spacing;
    out.most_excess_mm = 2.0 * HALF_DIAGONAL * spacing + error;
    out.unproved_cells = tree.unproved();
    out.cubes = cubes;
    if !progress(1.0) {
        return Err(KeepOutError::Cancelled);
    }
    Ok(out)
}

/// A box that holds every position of every mover.
fn bounds(tree: &PoseTree) -> Option<[Vector3<f64>; 2]> {
    let mut ends = [
        Vector3::repeat(f64::INFINITY),
        Vector3::repeat(f64::NEG_INFINITY),
    ];
    let mut stack: Vec<&PoseNode> = tree.roots.iter().collect();
    while let Some(node) = stack.pop() {
        let Some(poses) = &node.poses else {
            stack.extend(tree.halves(node));
            continue;
        };
        for (mover, pose) in tree.movers.iter().zip(poses) {
            let surface = &tree.corner.parts[mover.part].surface;
            let bounds = surface.bounds();
            let radius = bounds.half.norm();
            let middle = surface.origin + surface.rotation * bounds.middle;
            let reach = radius
                + surface.reach_mm()
                + pose.most_swell_mm
                + pose.field.displacement_of_ball(&middle, radius);
            let at = pose.rotation * middle + pose.offset;
            ends = [
                ends[0].inf(&at.add_scalar(-reach)),
                ends[1].sup(&at.add_scalar(reach)),
            ];
        }
    }
    ends[0].iter().all(|v| v.is_finite()).then_some(ends)
}

enum Verdict {
    Inside,
    Outside,
    Mixed,
}

impl<'t> Work<'t, '_> {
    fn point(&self, steps: [f64; 3]) -> Vector3<f64> {
        self.origin + Vector3::from(steps) * self.spacing
    }

    /// Distance of a mover at a cell's middle to a point, with how much less it can be over the cell.
    fn weigh(&self, candidate: Candidate, x: &Vector3<f64>, cutoff: f64) -> Option<(f64, f64)> {
        let mover = usize::from(candidate.mover);
        let pose = &candidate.node.poses.as_ref()?[mover];
        let part = self.tree.movers[mover].part;
        let own = pose.in_mover(x);
        let moves = pose.field.displacement(&own);
        let swell = pose.most_swell_mm - pose.swell_mm;
        let surface = &self.tree.corner.parts[part].surface;
        let found = nearest(surface, &own, cutoff + moves + pose.most_swell_mm);
        let mut off = moves;
        if let Some(n) = found.supporting {
            // Seen from the mover the point goes the other way by the same displacement, turned with the mover;
            // only its share along the normal brings it nearer.
            let along = pose.field.displacement_along(&own, &(pose.rotation * n));
            off = off.min(along + pose.field.greatest_turn() * moves);
        }
        Some((found.distance_mm - pose.swell_mm, off + swell))
    }

    /// Sifts candidates for a cube: what can come near it stays, in cells about as coarse as the cube.
    fn sift(
        &self,
        (low, side): ([i32; 3], i32),
        candidates: &[Candidate<'t>],
        stack: &mut Vec<Candidate<'t>>,
        kept: &mut Vec<Candidate<'t>>,
    ) -> Verdict {
        let half = 0.5 * f64::from(side);
        let x = self.point(low.map(|l| f64::from(l) + half));
        let radius = HALF_DIAGONAL * self.spacing * f64::from(side);
        // Corner values must be right up to where a neighbour in the same finest cube can be inside.
        let near = self.level + 2.0 * HALF_DIAGONAL * self.spacing + radius;
        stack.clear();
        // The middle of the cube that holds this one is half of this one's diagonal away.
        let may = |c: &&Candidate| f64::from(c.bound) - radius <= near;
        stack.extend(candidates.iter().filter(may));
        kept.clear();
        let mut nearest_by_any = f64::INFINITY;
        while let Some(candidate) = stack.pop() {
            let halves = || {
                let halves = self.tree.halves(candidate.node).iter();
                halves.map(|n| candidate.over(n))
            };
            let Some((distance, off)) = self.weigh(candidate, &x, near) else {
                stack.extend(halves());
                continue;
            };
            if distance - off > near {
                continue;
            }
            let stands = candidate.node.is_middle_covered;
            if stands && distance + radius + self.error < self.level {
                return Verdict::Inside;
            }
            if off > radius.max(COARSEST * self.spacing) {
                stack.extend(halves());
            } else {
                nearest_by_any = nearest_by_any.min(distance - off);
                kept.push(Candidate {
                    bound: round_down(distance - off),
                    ..candidate
                });
            }
        }
        // In order of promise, for the values at its corners.
        kept.sort_by(|a, b| a.bound.total_cmp(&b.bound));
        if nearest_by_any > self.level + radius {
            Verdict::Outside
        } else {
            Verdict::Mixed
        }
    }

    /// The finest cubes that the surface may pass through, in order.
    fn leaves(
        &self,
        root: Cube<'t>,
        resolution_mm: f64,
        progress: &(dyn Fn(f64) -> bool + Sync),
    ) -> Result<Vec<Cube<'t>>, KeepOutError> {
        let mut level = vec![root];
        loop {
            let done = level.iter().all(|c| c.side == 1);
            if level.len() > SHARED_CUBES || done || level.is_empty() {
                break;
            }
            level = level
                .into_par_iter()
                .flat_map_iter(|cube| self.eighths(cube))
                .collect();
        }
        let count = level.len();
        let done = std::sync::atomic::AtomicUsize::new(0);
        let made = std::sync::atomic::AtomicUsize::new(0);
        let stop = std::sync::atomic::AtomicBool::new(false);
        let relaxed = std::sync::atomic::Ordering::Relaxed;
        let mut leaves: Vec<Cube> = level
            .into_par_iter()
            .flat_map_iter(|cube| {
                let mut out = Vec::new();
                let mut stack = vec![cube];
                while let Some(cube) = stack.pop() {
                    if stop.load(relaxed) {
                        break;
                    }
                    for eighth in self.eighths(cube) {
                        if eighth.side == 1 {
                            out.push(eighth);
                        } else {
                            stack.push(eighth);
                        }
                    }
                }
                let so_far = made.fetch_add(out.len(), relaxed) + out.len();
                let share = (done.fetch_add(1, relaxed) + 1) as f64 / count as f64;
                if so_far > MOST_CUBES || !progress(share) {
                    stop.store(true, relaxed);
                }
                out
            })
            .collect();
        if made.into_inner() > MOST_CUBES {
            return Err(KeepOutError::TooFine(resolution_mm, MOST_CUBES / 1_000_000));
        }
        if stop.into_inner() {
            return Err(KeepOutError::Cancelled);
        }
        leaves.par_sort_unstable_by_key(|c| c.low);
        Ok(leaves)
    }

    /// A cube's eight halves that are neither in nor out; a cube of the finest size is its own.
    fn eighths(&self, cube: Cube<'t>) -> Vec<Cube<'t>> {
        if cube.side == 1 {
            return vec![cube];
        }
        let side = cube.side / 2;
        let mut out = Vec::new();
        let (mut stack, mut kept) = (Vec::new(), Vec::new());
        for i in 0..8 {
            let low = [0, 1, 2].map(|k| cube.low[k] + if i >> k & 1 == 1 { side } else { 0 });
            let verdict = self.sift((low, side), &cube.candidates, &mut stack, &mut kept);
            if matches!(verdict, Verdict::Mixed) {
                out.push(Cube {
                    low,
                    side,
                    candidates: kept.clone(),
                });
            }
        }
        out
    }

    /// Values at every corner of the finest cubes, each found once.
    fn values(
        &self,
        leaves: Vec<Cube<'t>>,
        progress: &(dyn Fn(f64) -> bool + Sync),
    ) -> Result<Grid, KeepOutError> {
        let mut corners: Vec<(u64, u32)> = Vec::with_capacity(8 * leaves.len());
        for (n, leaf) in leaves.iter().enumerate() {
            for i in 0..8 {
                let at = [0, 1, 2].map(|k| leaf.low[k] + (i >> k & 1));
                corners.push((Grid::key(at), 8 * n as u32 + i as u32));
            }
        }
        corners.par_sort_unstable();
        // Each corner's number, for every cube that it belongs to.
        let mut numbers = vec![[0_u32; 8]; leaves.len()];
        let (mut number, mut last) = (0, corners.first().map(|c| c.0));
        for (key, of) in &corners {
            if Some(*key) != last {
                (number, last) = (number + 1, Some(*key));
            }
            numbers[*of as usize / 8][*of as usize % 8] = number;
        }
        corners.dedup_by_key(|c| c.0);
        let stop = std::sync::atomic::AtomicBool::new(false);
        let done = std::sync::atomic::AtomicUsize::new(0);
        let relaxed = std::sync::atomic::Ordering::Relaxed;
        const CHUNK: usize = 4_096;
        let total = corners.len();
        let values: Vec<f32> = corners
            .par_chunks(CHUNK)
            .flat_map_iter(|chunk| {
                let mut stack = Vec::new();
                let go_on = !stop.load(relaxed);
                let out: Vec<f32> = chunk
                    .iter()
                    .take(if go_on { CHUNK } else { 0 })
                    .map(|(key, of)| {
                        let x = self.point(Grid::steps(*key).map(f64::from));
                        let leaf = &leaves[*of as usize / 8];
                        self.value(&x, &leaf.candidates, &mut stack) as f32
                    })
                    .collect();
                let share = done.fetch_add(chunk.len(), relaxed) as f64 / total as f64;
                if !progress(share) {
                    stop.store(true, relaxed);
                }
                out
            })
            .collect();
        if stop.into_inner() {
            return Err(KeepOutError::Cancelled);
        }
        Ok(Grid {
            origin: self.origin,
            spacing: self.spacing,
            cubes: leaves.into_iter().map(|c| c.low).zip(numbers).collect(),
            values,
        })
    }

    /// A distance that some position has, no more than the stated error above the least of all.
    fn value(
        &self,
        x: &Vector3<f64>,
        candidates: &[Candidate<'t>],
        stack: &mut Vec<(f64, Candidate<'t>)>,
    ) -> f64 {
        // Above this no neighbour in a cube can be inside; below that none can be outside.
        let diagonal = 2.0 * HALF_DIAGONAL * self.spacing;
        let (far, deep) = (self.level + diagonal, self.level - diagonal - self.error);
        let mut least = far;
        stack.clear();
        let offer =
            |candidate: Candidate<'t>, least: &mut f64, stack: &mut Vec<(f64, Candidate<'t>)>| {
                match self.weigh(candidate, x, *least) {
                    None => stack.push((f64::NEG_INFINITY, candidate)),
                    Some((distance, off)) => {
                        if candidate.node.is_middle_covered {
                            *least = least.min(distance);
                        }
                        if distance - off < *least - self.error {
                            stack.push((distance - off, candidate));
                        }
                    }
                }
            };
        let from_middle = HALF_DIAGONAL * self.spacing;
        for candidate in candidates {
            // They are in order: none after this one can do better.
            if f64::from(candidate.bound) - from_middle >= least - self.error {
                break;
            }
            offer(*candidate, &mut least, stack);
        }
        // Most promising last: it is looked at first.
        stack.sort_by(|a, b| b.0.total_cmp(&a.0));
        while let Some((bound, candidate)) = stack.pop() {
            if least < deep {
                break;
            }
            if bound >= least - self.error {
                continue;
            }
            let first = stack.len();
            for half in self.tree.halves(candidate.node) {
                offer(candidate.over(half), &mut least, stack);
            }
            if stack.len() - first == 2 && stack[first].0 < stack[first + 1].0 {
                stack.swap(first, first + 1);
            }
        }
        least
    }
}

/// A number of single precision that is no greater.
fn round_down(value: f64) -> f32 {
    (value - value.abs() * 1.0e-6 - 1.0e-6) as f32
}

/// Cells of positions are kept this coarse with the finest cubes, in grid steps of motion.
const COARSEST: f64 = 4.0;
