//! The solid that moving parts sweep over the whole free travel, grown by a margin.
//!
//! The idea in five lines. Space is halved as an octree, positions as a tree of cells ([`super::PoseTree`]); a cube keeps
//! only the cells in which a part may come near it. Cubes that are outside, or filled by a single position, are done
//! with; the rest is halved down to blocks of two by two by two grid cubes, so that cost grows with surface. Values, the
//! least distances to any position, are found by branch and bound to a stated error: in blocks' middles, and at corners
//! whose side those leave open or whose neighbours lie on the other; the surface is put together between from tetrahedra.
//!
//! Why it holds everything: let D be the true least distance at a point, h the grid's spacing, s the error, so that a
//! corner's value v has D <= v <= D + s. In a tetrahedron the value is the mean of its corners', with weights w; D changes
//! by no more than the way between two points, and every point of a cube is on average, with those weights, within
//! (sqrt(3) / 2) h of the corners of its tetrahedron. (Below `deep` and beyond `far` a value needn't be that near to D; no
//! such corner belongs to a cube that the surface passes through, whose corners lie within a diagonal of a place on it.)
//! The surface is put where the value is c. Outside it the mean is above c, so D > c - s - (sqrt(3) / 2) h, which is the
//! margin for c = margin + s + (sqrt(3) / 2) h. Inside it, D <= c + (sqrt(3) / 2) h: the excess is at most
//! sqrt(3) h + s. Corners of the surface are kept a thousandth of an edge off its ends, which is allowed for both ways.
//! With h = 1.9 r and s = 0.7 r for a resolution r the excess is below 4 r. Facet errors and what the tripod's orbit adds
//! are counted as part of the parts. Closed hollows are filled.
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

use super::marching::{Grid, OFF_ENDS, march};
use super::nearest::NearestPlace;
use super::poses::{PoseNode, PoseTree};
use crate::findings::OpenEnd;
use crate::suspension::Body;
use nalgebra::Vector3;
use rayon::prelude::*;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering::Relaxed};

/// What to make.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct KeepOutOptions {
    /// How much room to leave around every position, mm.
    pub margin_mm: f64,
    /// The solid exceeds the swept region by no more than four times this, mm.
    pub resolution_mm: f64,
}

/// Bodies that a solid can be seen from.
pub const SEEN_FROM: [Body; 9] = [
    Body::Frame,
    Body::Differential,
    Body::Rack,
    Body::LowerArm,
    Body::UpperArm,
    Body::Knuckle,
    Body::TieRod,
    Body::DamperUpper,
    Body::DamperLower,
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
    /// The most that the solid can exceed the grown swept region by, mm; but closed hollows are filled.
    pub most_excess_mm: f64,
    /// Cells of the free travel that couldn't be proved: their positions are covered but for these.
    pub unproved_cells: usize,
    /// Where the free travel that it was made of ends because the search did.
    pub open_ends: Vec<OpenEnd>,
}

/// Why there is no solid.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum KeepOutError {
    /// None of the parts is there.
    #[error("nothing is swept: no part was named")]
    NoParts,
    /// The size asked for doesn't fit.
    #[error(
        "at a resolution of {resolution_mm} mm the solid needs more than {} million cubes",
        MOST_CUBES_MILLIONS
    )]
    TooFine {
        /// As asked, mm.
        resolution_mm: f64,
        /// One that fits, as far as can be told, mm; none: no resolution that is taken does.
        enough_mm: Option<f64>,
    },
    /// A margin below zero, a resolution at or below it, or not a number.
    #[error("{0} must be {1}")]
    BadOption(&'static str, &'static str),
    /// Stopped from outside.
    #[error("stopped")]
    Cancelled,
    /// Stops lie so near on every side of the measured position that nothing around it could be proved free.
    #[error(
        "there is no free travel to be swept: stops leave the wheel no way to move from where the truck was measured, so \
         give it some first"
    )]
    NoFreeTravel,
    /// There is free travel, but the motion couldn't be bounded anywhere in it.
    #[error("the suspension's motion can't be bounded over its free travel")]
    Unbounded,
}

/// Coarsest resolution that is taken, mm: the solid may exceed what it holds by four times that.
const COARSEST_RESOLUTION_MM: f64 = 100.0;
/// Grid spacing for a resolution.
const SPACING: f64 = 1.9;
/// No part of a suspension moves as far as this over a piece of its travel, mm. A bound that says so is loose, as that of a
/// short link or boot may be by any factor over a large piece, and the piece is halved.
const LOOSE_MM: f64 = 500.0;
/// Error of a corner's value for a resolution.
const VALUE_ERROR: f64 = 0.7;
/// Half of a cube's diagonal, for its edge.
const HALF_DIAGONAL: f64 = 0.866_025_403_784_438_7;
/// A cell of positions isn't halved for a cube once its parts move by no more than half the cube's diagonal over it, nor
/// once they move by no more than this, in grid steps: from there on a value's search halves it, where it must.
const CELL_MOTION_STEPS: f64 = 3.0;
/// Blocks of grid cubes that are kept. A demo truck's tyre at 1 mm has 420 thousand and takes 1.0 GB in all, so that these
/// are some 2.4 GB.
const MOST_BLOCKS: usize = 1_000_000;
/// A solid is refused before its cubes are opened where more than this many times [`MOST_BLOCKS`] are foreseen. There are
/// four times as many cubes across a surface at half their size; with parts of the demo trucks at 8 to 0.25 mm the number
/// that this foretells from the first few hundred cubes was 0.6 to 1.8 times the true one. For threads and specks thinner
/// than those cubes it foretells more, so it is taken with a wide margin: a little too fine is found out by counting.
const HOPELESS: f64 = 5.0;
/// The resolution that is recommended then leaves this much for what was foreseen too low.
const LEFT_OVER: f64 = 2.0;
/// Grid cubes along a block: its middle and its corners are corners of the grid.
const BLOCK: i32 = 2;
/// [`MOST_BLOCKS`] in grid cubes, millions, for a person.
const MOST_CUBES_MILLIONS: usize = MOST_BLOCKS * 8 / 1_000_000;
/// The work is shared once there are more cubes than this.
const SHARED_CUBES: usize = 512;
/// Cubes looked at from one question whether to go on to the next: some milliseconds of work.
const ASKED_EVERY: usize = 16;

/// A mover over a cell.
#[derive(Clone, Copy)]
struct MoverCell<'n> {
    node: &'n PoseNode,
    tree: u16,
    mover: u16,
    /// It comes no nearer than this to the middle of the cube that it was last weighed for, mm.
    bound: f32,
}

impl<'n> MoverCell<'n> {
    fn over(self, node: &'n PoseNode) -> Self {
        MoverCell { node, ..self }
    }
}

/// A cube of the octree: its low corner and the length of its edges, in grid steps.
struct Cube<'n> {
    low: [i32; 3],
    edge: i32,
    candidates: Vec<MoverCell<'n>>,
}

/// A block that the surface may pass through, with the value in its middle.
struct Block<'n> {
    low: [i32; 3],
    middle_value: f64,
    candidates: Vec<MoverCell<'n>>,
}

/// What one place's search leaves to the next one's, a step away.
#[derive(Default)]
struct Search<'n> {
    stack: Vec<(f64, MoverCell<'n>)>,
    /// What was nearest.
    warm: Option<MoverCell<'n>>,
}

struct Work<'t, 'a> {
    trees: &'t [PoseTree<'a>],
    /// The grid's low corner.
    origin: Vector3<f64>,
    /// Between the grid's corners, mm.
    spacing_mm: f64,
    /// The distance from the nearest position at which the surface is put, mm: a value below it is inside.
    surface_mm: f64,
    /// A value is no more than this above the least distance, mm.
    error_mm: f64,
}

/// Makes the solid that the trees' movers sweep. `progress` is told the share done and answers whether to go on.
///
/// # Errors
/// [`KeepOutError`].
pub fn keep_out(
    trees: &[PoseTree],
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
    if resolution_mm > COARSEST_RESOLUTION_MM {
        return Err(KeepOutError::BadOption(
            "the resolution",
            "no more than 100 mm: the solid would be larger than the truck",
        ));
    }
    if trees.iter().all(|tree| tree.movers.is_empty()) {
        return Err(KeepOutError::NoParts);
    }
    // What rests needs no travel to take its room; what moves has none without.
    let with_movers = || trees.iter().filter(|tree| !tree.movers.is_empty());
    if !with_movers().all(PoseTree::has_free_travel) {
        return Err(KeepOutError::NoFreeTravel);
    }
    let spacing_mm = SPACING * resolution_mm;
    let error_mm = VALUE_ERROR * resolution_mm;
    // A corner of the surface that is kept off an edge's end is shifted by no more than this, in terms of the values.
    let kept_off = OFF_ENDS * (2.0 * HALF_DIAGONAL * spacing_mm + error_mm);
    let surface_mm = margin_mm + error_mm + HALF_DIAGONAL * spacing_mm + kept_off;
    let [low, high] = bounds(trees).ok_or(KeepOutError::Unbounded)?;
    let reach = surface_mm + 2.0 * spacing_mm;
    let (low, high) = (low.add_scalar(-reach), high.add_scalar(reach));
    let steps = ((high - low).max() / spacing_mm).ceil();
    if steps > f64::from(1 << 20) {
        return Err(KeepOutError::TooFine {
            resolution_mm,
            enough_mm: None,
        });
    }
    let edge = ((steps as u32).next_power_of_two() as i32).max(BLOCK);
    let work = Work {
        trees,
        origin: low,
        spacing_mm,
        surface_mm,
        error_mm,
    };
    let mut all = Vec::new();
    for (number, tree) in trees.iter().enumerate() {
        for mover in 0..tree.movers.len() {
            all.extend(tree.roots.iter().map(|node| MoverCell {
                node,
                tree: number as u16,
                mover: mover as u16,
                bound: f32::NEG_INFINITY,
            }));
        }
    }
    let root = Cube {
        low: [0; 3],
        edge,
        candidates: all,
    };
    let blocks = work.blocks(root, resolution_mm, &|share| progress(0.6 * share))?;
    let grid = work.values(&blocks, &|share| progress(0.6 + 0.35 * share))?;
    drop(blocks);
    let mut out = march(&grid, 0.0);
    out.spacing_mm = spacing_mm;
    out.most_excess_mm = 2.0 * HALF_DIAGONAL * spacing_mm + error_mm + 2.0 * kept_off;
    out.unproved_cells = trees.iter().map(PoseTree::unproved).sum();
    if !progress(1.0) {
        return Err(KeepOutError::Cancelled);
    }
    Ok(out)
}

/// A box that holds every position of every mover.
fn bounds(trees: &[PoseTree]) -> Option<[Vector3<f64>; 2]> {
    let mut ends = [
        Vector3::repeat(f64::INFINITY),
        Vector3::repeat(f64::NEG_INFINITY),
    ];
    let mut stack: Vec<(&PoseTree, &PoseNode)> = trees
        .iter()
        .flat_map(|tree| tree.roots.iter().map(move |node| (tree, node)))
        .collect();
    while let Some((tree, node)) = stack.pop() {
        let Some(poses) = &node.poses else {
            stack.extend(tree.halves(node).iter().map(|half| (tree, half)));
            continue;
        };
        let mut box_of_node = ends;
        let mut most_mm = 0.0_f64;
        for (mover, pose) in tree.movers.iter().zip(poses) {
            let surface = &tree.corner.parts[mover.part].surface;
            let bounds = surface.bounds();
            let radius = bounds.half.norm();
            let middle = surface.origin + surface.rotation * bounds.middle;
            let displacement_mm = pose.field.displacement_of_ball(&middle, radius);
            most_mm = most_mm.max(displacement_mm);
            let reach = radius + surface.reach_mm() + pose.most_swell_mm + displacement_mm;
            let at = pose.rotation * middle + pose.offset;
            box_of_node = [
                box_of_node[0].inf(&at.add_scalar(-reach)),
                box_of_node[1].sup(&at.add_scalar(reach)),
            ];
        }
        let halves = match most_mm > LOOSE_MM {
            true => tree.halves(node),
            false => &[],
        };
        if halves.is_empty() {
            ends = box_of_node;
        } else {
            stack.extend(halves.iter().map(|half| (tree, half)));
        }
    }
    ends[0].iter().all(|v| v.is_finite()).then_some(ends)
}

/// Which side of the surface a place lies on.
#[derive(Clone, Copy, PartialEq)]
enum Lies {
    Inside,
    Outside,
}

/// What is known of a whole cube.
enum CubeLies {
    Inside,
    Outside,
    /// Neither is shown.
    Unsettled,
}

/// What the threads that open cubes look at before each: whether to go on.
struct Opening<'p> {
    progress: &'p (dyn Fn(f64) -> bool + Sync),
    /// Cubes looked at, of any size.
    cubes: AtomicUsize,
    /// Blocks kept.
    blocks: AtomicUsize,
    /// Cubes that were shared out; none yet: zero.
    shared_cubes: usize,
    /// Those of them that are done.
    done: AtomicUsize,
    cancelled: AtomicBool,
}

impl<'p> Opening<'p> {
    fn new(progress: &'p (dyn Fn(f64) -> bool + Sync)) -> Self {
        Opening {
            progress,
            cubes: AtomicUsize::new(0),
            blocks: AtomicUsize::new(0),
            shared_cubes: 0,
            done: AtomicUsize::new(0),
            cancelled: AtomicBool::new(false),
        }
    }

    /// False once the person asked doesn't want it any more, or there are too many blocks.
    fn goes_on(&self) -> bool {
        if self.cubes.fetch_add(1, Relaxed).is_multiple_of(ASKED_EVERY) {
            let share = self.done.load(Relaxed) as f64 / self.shared_cubes.max(1) as f64;
            if !(self.progress)(share) {
                self.cancelled.store(true, Relaxed);
            }
        }
        !self.cancelled.load(Relaxed) && self.blocks.load(Relaxed) <= MOST_BLOCKS
    }
}

impl<'t> Work<'t, '_> {
    fn point(&self, steps: [f64; 3]) -> Vector3<f64> {
        self.origin + Vector3::from(steps) * self.spacing_mm
    }

    /// Halves of a candidate's cell.
    fn halves(&self, candidate: MoverCell<'t>) -> &'t [PoseNode] {
        self.trees[usize::from(candidate.tree)].halves(candidate.node)
    }

    /// Distance of a mover at a cell's middle to a point, with how much less it can be over the cell.
    fn weigh(&self, candidate: MoverCell, x: &Vector3<f64>, cutoff: f64) -> Option<(f64, f64)> {
        let mover = usize::from(candidate.mover);
        let pose = &candidate.node.poses.as_ref()?[mover];
        let tree = &self.trees[usize::from(candidate.tree)];
        let part = tree.movers[mover].part;
        let own = pose.in_mover(x);
        let moves = pose.field.displacement(&own);
        let swell = pose.most_swell_mm - pose.swell_mm;
        let surface = &tree.corner.parts[part].surface;
        let found = NearestPlace::find(surface, &own, cutoff + moves + pose.most_swell_mm);
        let distance = found.distance_mm - pose.swell_mm;
        let mut off = moves;
        // Where the displacement alone doesn't settle it.
        if distance - off - swell <= cutoff
            && let Some(n) = found.supporting()
        {
            // Only the share along the normal, which turns with the mover, brings the point nearer.
            let normal = pose.rotation * n;
            off = off.min(
                pose.field
                    .displacement_of_resting_along(&own, moves, &normal),
            );
        }
        Some((distance, off + swell))
    }

    /// Sifts candidates for a cube: what can come near it stays, in cells about as coarse as the cube.
    fn sift(
        &self,
        (low, edge): ([i32; 3], i32),
        candidates: &[MoverCell<'t>],
        stack: &mut Vec<MoverCell<'t>>,
        kept: &mut Vec<MoverCell<'t>>,
    ) -> CubeLies {
        let half = 0.5 * f64::from(edge);
        let x = self.point(low.map(|l| f64::from(l) + half));
        let radius = HALF_DIAGONAL * self.spacing_mm * f64::from(edge);
        let near = self.far() + radius;
        stack.clear();
        // The middle of the cube that holds this one is half of this one's diagonal away.
        let may = |c: &&MoverCell| f64::from(c.bound) - radius <= near;
        stack.extend(candidates.iter().filter(may));
        kept.clear();
        let mut nearest_by_any = f64::INFINITY;
        while let Some(candidate) = stack.pop() {
            let halves = || {
                let halves = self.halves(candidate).iter();
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
            if stands && distance + radius + self.error_mm < self.surface_mm {
                return CubeLies::Inside;
            }
            if off > radius.max(CELL_MOTION_STEPS * self.spacing_mm) {
                stack.extend(halves());
            } else {
                nearest_by_any = nearest_by_any.min(distance - off);
                kept.push(MoverCell {
                    bound: round_down(distance - off),
                    ..candidate
                });
            }
        }
        // In order of promise, for the values at its corners.
        kept.sort_by(|a, b| a.bound.total_cmp(&b.bound));
        if nearest_by_any > self.surface_mm + radius {
            CubeLies::Outside
        } else {
            CubeLies::Unsettled
        }
    }

    /// The blocks that the surface may pass through, in order.
    fn blocks(
        &self,
        root: Cube<'t>,
        resolution_mm: f64,
        progress: &(dyn Fn(f64) -> bool + Sync),
    ) -> Result<Vec<Block<'t>>, KeepOutError> {
        let mut opening = Opening::new(progress);
        let mut cubes = vec![root];
        while !cubes.is_empty() && cubes.len() <= SHARED_CUBES && cubes[0].edge > BLOCK {
            cubes = cubes
                .into_par_iter()
                .filter(|_| opening.goes_on())
                .flat_map_iter(|cube| self.eighths(cube))
                .collect();
        }
        opening.shared_cubes = cubes.len();
        let across = cubes
            .first()
            .map_or(0.0, |cube| f64::from(cube.edge / BLOCK));
        let foreseen = cubes.len() as f64 * across * across / MOST_BLOCKS as f64;
        let too_fine = || KeepOutError::TooFine {
            resolution_mm,
            enough_mm: Some(resolution_mm * (LEFT_OVER * foreseen.max(1.0)).sqrt())
                .filter(|mm| *mm <= COARSEST_RESOLUTION_MM),
        };
        if foreseen > HOPELESS {
            return Err(too_fine());
        }
        let mut blocks: Vec<Block> = cubes
            .into_par_iter()
            .flat_map_iter(|cube| {
                let mut out = Vec::new();
                let mut stack = vec![cube];
                let mut search = Search::default();
                while let Some(cube) = stack.pop() {
                    if !opening.goes_on() {
                        break;
                    }
                    if cube.edge > BLOCK {
                        stack.extend(self.eighths(cube));
                    } else if let Some(block) = self.block(cube, &mut search) {
                        opening.blocks.fetch_add(1, Relaxed);
                        out.push(block);
                    }
                }
                opening.done.fetch_add(1, Relaxed);
                out
            })
            .collect();
        if opening.blocks.into_inner() > MOST_BLOCKS {
            return Err(too_fine());
        }
        if opening.cancelled.into_inner() {
            return Err(KeepOutError::Cancelled);
        }
        blocks.par_sort_unstable_by_key(|b| b.low);
        Ok(blocks)
    }

    /// A cube's eight halves that are neither in nor out.
    fn eighths(&self, cube: Cube<'t>) -> Vec<Cube<'t>> {
        let edge = cube.edge / 2;
        let mut out = Vec::new();
        let (mut stack, mut kept) = (Vec::new(), Vec::new());
        for i in 0..8 {
            let low = [0, 1, 2].map(|k| cube.low[k] + if i >> k & 1 == 1 { edge } else { 0 });
            let lies = self.sift((low, edge), &cube.candidates, &mut stack, &mut kept);
            if matches!(lies, CubeLies::Unsettled) {
                out.push(Cube {
                    low,
                    edge,
                    candidates: kept.clone(),
                });
            }
        }
        out
    }

    /// None where the value in the middle shows that all its corners lie on one side.
    fn block(&self, cube: Cube<'t>, search: &mut Search<'t>) -> Option<Block<'t>> {
        let x = self.point(cube.low.map(|l| f64::from(l + 1)));
        let range = [self.deep(), self.far()];
        let middle_value = self.value(&x, 0.0, &cube.candidates, range, search);
        let corner = 2.0 * HALF_DIAGONAL * self.spacing_mm;
        self.lies(middle_value, corner).is_none().then_some(Block {
            low: cube.low,
            middle_value,
            candidates: cube.candidates,
        })
    }

    /// On which side of the surface every place lies that is no further than `away` from one with this value, where
    /// that is known: the true distance D there is no more than the value and no less than it by the error, and changes
    /// by no more than the way; any value found there lies between D and D with the error.
    fn lies(&self, value: f64, away: f64) -> Option<Lies> {
        if value - self.error_mm - away > self.surface_mm {
            Some(Lies::Outside)
        } else if value + away + self.error_mm < self.surface_mm {
            Some(Lies::Inside)
        } else {
            None
        }
    }

    /// Values at the corners of every grid cube that the surface passes through, each found once.
    fn values(
        &self,
        blocks: &[Block<'t>],
        progress: &(dyn Fn(f64) -> bool + Sync),
    ) -> Result<Grid, KeepOutError> {
        let mut corners = self.corners(blocks);
        let mut values = vec![f32::NAN; corners.keys.len()];
        let told = |share| progress(0.5 * share);
        self.settle(&mut corners, blocks, &mut values, &told)?;
        let cubes = corners.cubes_across(blocks);
        let mut missing: Vec<u32> = cubes
            .iter()
            .flat_map(|(_, own)| own.iter().copied())
            .collect();
        missing.sort_unstable();
        missing.dedup();
        // A place where a position was found near enough stays inside, and one where none was stays outside: both are
        // right within the error.
        let whole = |n: u32| {
            let found = f64::from(values[n as usize]);
            let start = if found < 0.0 {
                self.surface_mm + found
            } else {
                self.far()
            };
            [self.deep(), start]
        };
        let told = |share| progress(0.5 + 0.5 * share);
        let found = self.find(&missing, (&corners.keys, blocks), &whole, &told)?;
        for (n, value) in missing.iter().zip(found) {
            values[*n as usize] = if corners.is_inside(*n) {
                value.min(-f32::MIN_POSITIVE)
            } else {
                value.max(0.0)
            };
        }
        Ok(Grid {
            origin: self.origin,
            spacing: self.spacing_mm,
            cubes,
            values,
        })
    }

    /// Every corner of every block, with what the blocks' middles say of it.
    fn corners(&self, blocks: &[Block<'t>]) -> Corners {
        let mut keys: Vec<(u64, u32)> = Vec::with_capacity(CORNERS * blocks.len());
        for (n, block) in blocks.iter().enumerate() {
            for i in 0..CORNERS {
                keys.push((Grid::key(block.corner(i)), (CORNERS * n + i) as u32));
            }
        }
        keys.par_sort_unstable();
        let mut of_block = vec![[0_u32; CORNERS]; blocks.len()];
        let mut lies: Vec<Option<Lies>> = Vec::with_capacity(keys.len() / 4);
        let mut last = None;
        for (key, of) in &keys {
            if last != Some(*key) {
                last = Some(*key);
                lies.push(None);
            }
            let (block, i) = (*of as usize / CORNERS, *of as usize % CORNERS);
            of_block[block][i] = lies.len() as u32 - 1;
            if let Some(known) = lies.last_mut()
                && known.is_none()
            {
                let away = self.spacing_mm * steps_from_middle(i);
                *known = self.lies(blocks[block].middle_value, away);
            }
        }
        keys.dedup_by_key(|c| c.0);
        Corners {
            keys,
            of_block,
            lies,
        }
    }

    /// Finds on which side the corners lie that the middles leave open: whether any position comes nearer than the
    /// surface.
    fn settle(
        &self,
        corners: &mut Corners,
        blocks: &[Block<'t>],
        values: &mut [f32],
        progress: &(dyn Fn(f64) -> bool + Sync),
    ) -> Result<(), KeepOutError> {
        let open: Vec<u32> = (0..corners.keys.len() as u32)
            .filter(|n| corners.lies[*n as usize].is_none())
            .collect();
        let to_surface = |_| [self.surface_mm; 2];
        let found = self.find(&open, (&corners.keys, blocks), &to_surface, progress)?;
        for (n, value) in open.iter().zip(found) {
            values[*n as usize] = value;
            corners.lies[*n as usize] = Some(if value < 0.0 {
                Lies::Inside
            } else {
                Lies::Outside
            });
        }
        Ok(())
    }

    /// Finds how far above the surface's value those of some corners are, each with the candidates of one of its blocks and
    /// within its own range (see [`Self::value`]).
    fn find(
        &self,
        numbers: &[u32],
        (corners, blocks): (&[(u64, u32)], &[Block<'t>]),
        range: &(dyn Fn(u32) -> [f64; 2] + Sync),
        progress: &(dyn Fn(f64) -> bool + Sync),
    ) -> Result<Vec<f32>, KeepOutError> {
        const CHUNK: usize = 4_096;
        let stop = AtomicBool::new(false);
        let done = AtomicUsize::new(0);
        let found: Vec<f32> = numbers
            .par_chunks(CHUNK)
            .flat_map_iter(|chunk| {
                let mut search = Search::default();
                let go_on = !stop.load(Relaxed);
                let out: Vec<f32> = chunk
                    .iter()
                    .take(if go_on { CHUNK } else { 0 })
                    .map(|n| {
                        let (key, of) = corners[*n as usize];
                        let x = self.point(Grid::steps(key).map(f64::from));
                        let candidates = &blocks[of as usize / CORNERS].candidates;
                        let away = self.spacing_mm * steps_from_middle(of as usize % CORNERS);
                        let value = self.value(&x, away, candidates, range(*n), &mut search);
                        (value - self.surface_mm) as f32
                    })
                    .collect();
                let share = done.fetch_add(chunk.len(), Relaxed) as f64 / numbers.len() as f64;
                if !progress(share) {
                    stop.store(true, Relaxed);
                }
                out
            })
            .collect();
        if stop.into_inner() {
            return Err(KeepOutError::Cancelled);
        }
        Ok(found)
    }

    /// Beyond this a value needn't be right: then every place within a block of it is outside.
    fn far(&self) -> f64 {
        self.surface_mm + 2.0 * HALF_DIAGONAL * self.spacing_mm + 2.0 * self.error_mm
    }

    /// Nor below this: then every place within a block of it is inside.
    fn deep(&self) -> f64 {
        self.surface_mm - 2.0 * HALF_DIAGONAL * self.spacing_mm - self.error_mm
    }

    /// A distance that some position has, no more than the stated error above the least of all: found between `enough`,
    /// below which none nearer is looked for, and `start`, which is answered where none is nearer by the error. The
    /// candidates were weighed for a place `away` from here.
    fn value(
        &self,
        x: &Vector3<f64>,
        away: f64,
        candidates: &[MoverCell<'t>],
        [enough, start]: [f64; 2],
        search: &mut Search<'t>,
    ) -> f64 {
        let Search { stack, warm } = search;
        let last = *warm;
        let mut least = start;
        stack.clear();
        // Whether to look at its halves, and how near they can come.
        let mut weigh = |candidate: MoverCell<'t>, least: &mut f64| -> Option<f64> {
            let Some((distance, off)) = self.weigh(candidate, x, *least) else {
                return Some(f64::NEG_INFINITY);
            };
            if candidate.node.is_middle_covered && distance < *least {
                *least = distance;
                *warm = Some(candidate);
            }
            Some(distance - off).filter(|bound| *bound < *least - self.error_mm)
        };
        if let Some(candidate) = last {
            weigh(candidate, &mut least);
        }
        for candidate in candidates {
            // They are in order: none after this one can do better.
            if f64::from(candidate.bound) - away >= least - self.error_mm || least < enough {
                break;
            }
            if let Some(bound) = weigh(*candidate, &mut least) {
                stack.push((bound, *candidate));
            }
        }
        // Most promising last: it is looked at first.
        stack.sort_by(|a, b| b.0.total_cmp(&a.0));
        while let Some((bound, candidate)) = stack.pop() {
            if least < enough {
                break;
            }
            if bound >= least - self.error_mm {
                continue;
            }
            let first = stack.len();
            for half in self.halves(candidate) {
                let half = candidate.over(half);
                if let Some(bound) = weigh(half, &mut least) {
                    stack.push((bound, half));
                }
            }
            if stack.len() - first == 2 && stack[first].0 < stack[first + 1].0 {
                stack.swap(first, first + 1);
            }
        }
        least
    }
}

/// Grid corners of a block: three along each edge.
const CORNERS: usize = 27;

/// The corners of all blocks, each once; its number is its place in order.
struct Corners {
    /// Its key, and where it was met: `CORNERS` times a block's number, and which of the block's corners it is.
    keys: Vec<(u64, u32)>,
    /// For every block the numbers of its corners.
    of_block: Vec<[u32; CORNERS]>,
    /// On which side of the surface each lies, once that is known.
    lies: Vec<Option<Lies>>,
}

impl Corners {
    fn is_inside(&self, n: u32) -> bool {
        self.lies[n as usize] == Some(Lies::Inside)
    }

    /// Grid cubes whose corners are not all on one side, with their low corners and their corners' numbers.
    fn cubes_across(&self, blocks: &[Block]) -> Vec<([i32; 3], [u32; 8])> {
        let mut cubes = Vec::new();
        for (block, numbers) in blocks.iter().zip(&self.of_block) {
            for cube in 0..8 {
                let step = [0, 1, 2].map(|k| cube >> k & 1);
                let own: [u32; 8] = std::array::from_fn(|corner| {
                    let at = [0, 1, 2].map(|k| step[k] + (corner >> k & 1));
                    numbers[at[0] + 3 * at[1] + 9 * at[2]]
                });
                let first = self.is_inside(own[0]);
                if own.iter().any(|n| self.is_inside(*n) != first) {
                    let low = [0, 1, 2].map(|k| block.low[k] + step[k] as i32);
                    cubes.push((low, own));
                }
            }
        }
        cubes
    }
}

impl Block<'_> {
    /// Where one of its corners is, in grid steps.
    fn corner(&self, i: usize) -> [i32; 3] {
        let steps = [i % 3, i / 3 % 3, i / 9];
        [0, 1, 2].map(|k| self.low[k] + steps[k] as i32)
    }
}

/// How far a block's corner is from its middle, in grid steps.
fn steps_from_middle(i: usize) -> f64 {
    let off = [i % 3, i / 3 % 3, i / 9]
        .iter()
        .filter(|s| **s != 1)
        .count();
    (off as f64).sqrt()
}

/// A number of single precision that is no greater.
fn round_down(value: f64) -> f32 {
    (value - value.abs() * 1.0e-6 - 1.0e-6) as f32
}
