//! Every position of the free travel at once: a tree of cells with a pose and a motion bound each.
//!
//! The idea in five lines. Questions about the whole motion ("how near does anything ever come to this point?") are
//! answered by halving the rectangle of arm angle and rack where it matters. Each cell knows where the moving parts
//! stand in its middle, seen from the body that is asked about, and how far any of their points can be from there
//! anywhere in the cell (see [`crate::kinematics`]). Cells that hold nothing of the free travel are left out; cells in
//! which the sweep could not decide count as free. Cells are made when they are first asked for, and kept.

use crate::kinematics::{CellField, LEAST_HALF, RateField, RelativeBend, bending};
use crate::numbers::{Dual, Enclosure};
use crate::suspension::{Linkage, Motion, Placement};
use crate::sweep::free_travel::Region;
use crate::sweep::rate_atlas::Cell;
use crate::truck::Corner;
use nalgebra::{Matrix3, Vector3};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, OnceLock};

/// A part that moves as seen from the body asked about.
#[derive(Clone, Debug)]
pub struct Mover {
    /// Its number among the corner's parts.
    pub part: usize,
    motion: Motion,
    /// Amid the part, in its body's coordinates.
    reference: Vector3<f64>,
    orbits: bool,
    /// It shares the motion of the body asked about: it never moves as seen from there, though it may turn on the spot,
    /// which its surface holds already.
    rests: bool,
}

/// Where a mover stands in the middle of a cell, and how far it can be from there.
#[derive(Clone, Debug)]
pub struct Pose {
    /// `on = rotation * body + offset`, both bodies' coordinates as measured, mm.
    pub rotation: Matrix3<f64>,
    /// See `rotation`.
    pub offset: Vector3<f64>,
    /// Displacement of the mover's points over the cell.
    pub field: CellField,
    /// How much the tripod's orbit widens it in the middle, mm.
    pub swell_mm: f64,
    /// The most it widens it anywhere in the cell, mm.
    pub most_swell_mm: f64,
}

impl Pose {
    /// A point of the body asked about, in the mover's body.
    #[inline]
    pub fn in_mover(&self, p: &Vector3<f64>) -> Vector3<f64> {
        self.rotation.tr_mul(&(p - self.offset))
    }
}

/// Bending that holds over a patch, for every mover.
#[derive(Debug)]
struct PatchBending {
    fields: Vec<RateField>,
    orbit: [f64; 3],
}

/// A cell of the free travel.
#[derive(Debug)]
pub struct PoseNode {
    /// Arm angle and rack in its middle.
    pub middle: (f64, f64),
    /// Whether the free travel holds the middle: in a cell on its edge the middle may lie beyond.
    pub is_middle_covered: bool,
    /// Wheel travel in its middle, mm; not a number where there are no poses.
    pub travel_mm: f64,
    /// One for each mover; none where nothing could be proved about so large a cell.
    pub poses: Option<Vec<Pose>>,
    cell: Cell,
    squares: [[usize; 2]; 2],
    depth: u32,
    patch: Option<Arc<PatchBending>>,
    children: OnceLock<Vec<PoseNode>>,
}

/// The tree.
pub struct PoseTree<'a> {
    /// The corner.
    pub corner: &'a Corner,
    /// The body asked about.
    pub on: Motion,
    /// What moves.
    pub movers: Vec<Mover>,
    /// The four quarters of the rectangle that hold something of the free travel.
    pub roots: Vec<PoseNode>,
    region: &'a Region,
    /// Numbers of covered squares left of and below each grid corner.
    covered_below: Vec<u32>,
    unproved: AtomicUsize,
    /// Test hook: motion bounds are multiplied by this. One, except where a test shows that a smaller bound is caught.
    bound_factor: f64,
}

/// Patches are made anew down to this many halvings; below, cells use their patch's bending. A smaller patch has a tighter
/// bound and takes long to make. Processor time of three keep-out solids and a clearance map of the demo scenes: 7 to 10
/// can't be told apart, 6 takes 1.1 times as long, 4 and 16 1.4 times, none 2.4 times.
const PATCH_DEPTH: u32 = 8;
/// Cells are not halved further. Seventeen halvings along each axis leave cells over which an arm's end moves by about
/// 0.001 mm, the least tolerance that a clearance map takes: what isn't proved there is too close to be told.
const MOST_DEPTH: u32 = 34;

impl<'a> PoseTree<'a> {
    /// All positions of `parts` (numbers among the corner's) over a region, seen from a body.
    pub fn new(
        corner: &'a Corner,
        region: &'a Region,
        on: Motion,
        parts: impl IntoIterator<Item = usize>,
    ) -> PoseTree<'a> {
        PoseTree::with_bound_factor(corner, region, on, parts, 1.0)
    }

    /// The same with its motion bounds multiplied: a test's way to show that too small a bound is caught.
    pub fn with_bound_factor(
        corner: &'a Corner,
        region: &'a Region,
        on: Motion,
        parts: impl IntoIterator<Item = usize>,
        bound_factor: f64,
    ) -> PoseTree<'a> {
        let is_seen_from_orbit = corner
            .parts
            .iter()
            .any(|part| part.orbits && part.body.motion() == on);
        let movers = parts
            .into_iter()
            .map(|part| {
                let own = &corner.parts[part];
                let surface = &own.surface;
                let motion = own.body.motion();
                let rests = motion == on;
                Mover {
                    part,
                    motion,
                    reference: surface.origin + surface.rotation * surface.bounds().middle,
                    // Seen from the shaft it is the others that circle.
                    orbits: !rests && (own.orbits || is_seen_from_orbit),
                    rests,
                }
            })
            .collect();
        let size = region.size();
        let covered = region.covered();
        let mut below = vec![0_u32; (size[0] + 1) * (size[1] + 1)];
        let at = |i: usize, j: usize| i * (size[1] + 1) + j;
        for i in 0..size[0] {
            for j in 0..size[1] {
                below[at(i + 1, j + 1)] = below[at(i, j + 1)] + below[at(i + 1, j)]
                    - below[at(i, j)]
                    + u32::from(covered[i * size[1] + j]);
            }
        }
        let mut tree = PoseTree {
            corner,
            on,
            movers,
            roots: Vec::new(),
            region,
            covered_below: below,
            unproved: AtomicUsize::new(0),
            bound_factor,
        };
        if tree.is_at_rest() {
            tree.roots.push(tree.resting_root());
            return tree;
        }
        let middle = size.map(|n| n / 2);
        for i in [[0, middle[0]], [middle[0], size[0]]] {
            for j in [[0, middle[1]], [middle[1], size[1]]] {
                let cell = region.cell([i, j]);
                let node = tree.node(cell, [i, j], 0, None);
                tree.roots.extend(node);
            }
        }
        tree
    }

    /// A tree for each motion that the parts have, in order of its first part: where only some of them turn with the rack,
    /// one tree of all would be halved along the rack for the others too.
    pub fn by_motion(
        corner: &'a Corner,
        region: &'a Region,
        on: Motion,
        parts: impl IntoIterator<Item = usize>,
    ) -> Vec<PoseTree<'a>> {
        let mut groups: Vec<(Motion, Vec<usize>)> = Vec::new();
        for part in parts {
            let motion = corner.parts[part].body.motion();
            match groups.iter_mut().find(|group| group.0 == motion) {
                Some(group) => group.1.push(part),
                None => groups.push((motion, vec![part])),
            }
        }
        let tree = |(_, parts)| PoseTree::new(corner, region, on, parts);
        groups.into_iter().map(tree).collect()
    }

    /// Whether nothing in it moves as seen from the body asked about: then one position stands for all of them.
    pub fn is_at_rest(&self) -> bool {
        !self.movers.is_empty() && self.movers.iter().all(|mover| mover.rests)
    }

    /// The measured position, where all movers are at rest. It has no halves.
    fn resting_root(&self) -> PoseNode {
        let field = Self::resting_field();
        let still = Placement::identity();
        let pose = Pose {
            rotation: Matrix3::identity(),
            offset: Vector3::zeros(),
            field: CellField::new(&field, &still, &still, LEAST_HALF),
            swell_mm: 0.0,
            most_swell_mm: 0.0,
        };
        let squares = self.region.size().map(|n| [0, n]);
        PoseNode {
            middle: (0.0, 0.0),
            is_middle_covered: true,
            travel_mm: 0.0,
            poses: Some(vec![pose; self.movers.len()]),
            cell: self.region.cell(squares),
            squares,
            depth: 0,
            patch: None,
            children: OnceLock::from(Vec::new()),
        }
    }

    /// How points of a body at rest are displaced: not at all.
    fn resting_field() -> RateField {
        let still = Placement::identity();
        let bend = RelativeBend::between(&still, &still, true);
        RateField::about(Vector3::zeros(), &bend, LEAST_HALF)
    }

    /// Cells as small as they get that could not be proved: what is said of the motion holds but for them.
    pub fn unproved(&self) -> usize {
        self.unproved.load(Ordering::Relaxed)
    }

    /// Along which a cell is halved: where the movers move more; but down to one square of a block that isn't all covered,
    /// its other side, so that what is covered and what isn't are told apart whether it moves anything or not.
    fn halved_axis(&self, node: &PoseNode) -> usize {
        let axis = node.longer_axis(self);
        let [own, other] = [axis, 1 - axis].map(|i| node.squares[i][1] - node.squares[i][0]);
        if own == 1 && other > 1 && self.covered(node.squares) < other as u32 {
            1 - axis
        } else {
            axis
        }
    }

    /// Whether a square at the block's middle is covered. A block of several squares has an even number of them along
    /// each side that is halved, so its middle is a corner of the two or four squares looked at.
    fn middle_is_covered(&self, squares: [[usize; 2]; 2]) -> bool {
        self.holds_covered(squares.map(|[a, b]| {
            let middle = (a + b) / 2;
            if b - a > 1 {
                [middle - 1, middle + 1]
            } else {
                [a, b]
            }
        }))
    }

    /// Covered squares in a block.
    fn covered(&self, [[i0, i1], [j0, j1]]: [[usize; 2]; 2]) -> u32 {
        let columns = self.region.size()[1] + 1;
        let at = |i: usize, j: usize| self.covered_below[i * columns + j];
        at(i1, j1) + at(i0, j0) - at(i0, j1) - at(i1, j0)
    }

    /// Whether there is any free travel, or nothing that needs any.
    pub(super) fn has_free_travel(&self) -> bool {
        self.is_at_rest() || self.region.holds_free()
    }

    fn holds_covered(&self, squares: [[usize; 2]; 2]) -> bool {
        self.covered(squares) > 0
    }

    /// None where the cell holds nothing of the free travel, or lies beyond reach.
    fn node(
        &self,
        cell: Cell,
        squares: [[usize; 2]; 2],
        depth: u32,
        parent: Option<&Arc<PatchBending>>,
    ) -> Option<PoseNode> {
        if !self.holds_covered(squares) {
            return None;
        }
        let middle = cell.centre();
        let half = cell.half();
        let patch = match parent {
            Some(patch) if depth > PATCH_DEPTH => Some(Arc::clone(patch)),
            _ => match self.patch_bending(&cell, half) {
                Ok(patch) => patch.map(Arc::new).or_else(|| parent.cloned()),
                Err(BeyondReach) => return None,
            },
        };
        let placed = patch.as_ref().map(|patch| self.poses(patch, middle, half));
        let (travel_mm, poses) = placed.map_or((f64::NAN, None), |(t, poses)| (t, Some(poses)));
        Some(PoseNode {
            middle,
            is_middle_covered: self.middle_is_covered(squares),
            travel_mm,
            poses,
            cell,
            squares,
            depth,
            patch,
            children: OnceLock::new(),
        })
    }

    /// None where it can't be bounded.
    fn patch_bending(
        &self,
        cell: &Cell,
        half: [f64; 2],
    ) -> Result<Option<PatchBending>, BeyondReach> {
        let (alpha, rack) = cell.centre();
        let half = [half[0].max(LEAST_HALF[0]), half[1].max(LEAST_HALF[1])];
        let linkage: Linkage<Enclosure> = self.corner.positioner.linkage.solve(
            Enclosure::variable(alpha, half[0], 0),
            Enclosure::variable(rack, half[1], 1),
        );
        if linkage.is_beyond_reach() {
            return Err(BeyondReach);
        }
        if !linkage.is_within_reach() {
            return Ok(None);
        }
        let fixed = linkage.placement(self.on);
        let rests = self.on == Motion::Frame;
        let fields: Vec<RateField> = self
            .movers
            .iter()
            .map(|mover| {
                if mover.rests {
                    return Self::resting_field();
                }
                let moving = linkage.placement(mover.motion);
                let bend = RelativeBend::between(&fixed, &moving, rests);
                RateField::about(mover.reference, &bend, half)
            })
            .collect();
        let orbit = self.corner.orbit_mm(&linkage);
        let unit = [half[0] * half[0], half[0] * half[1], half[1] * half[1]];
        let orbit = [0, 1, 2].map(|k| orbit.bend[k].scale(1.0 / unit[k]).magnitude());
        let bounded =
            fields.iter().all(RateField::is_bounded) && orbit.iter().all(|b| b.is_finite());
        Ok(bounded.then_some(PatchBending { fields, orbit }))
    }

    /// Wheel travel, and every mover's pose.
    fn poses(
        &self,
        patch: &PatchBending,
        (alpha, rack): (f64, f64),
        half: [f64; 2],
    ) -> (f64, Vec<Pose>) {
        let duals: Linkage<Dual> = self
            .corner
            .positioner
            .linkage
            .solve(Dual::variable(alpha, 0), Dual::variable(rack, 1));
        let fixed = duals.placement(self.on);
        let orbit = self.corner.orbit_mm(&duals);
        let most = orbit.value
            + orbit.rate[0].abs() * half[0]
            + orbit.rate[1].abs() * half[1]
            + bending(&patch.orbit, half);
        let seen_from = self::plain(&fixed);
        let bounded = half.map(|h| h * self.bound_factor);
        let travel_mm =
            duals.wheel_centre.z.value - self.corner.positioner.linkage.own.wheel_height_mm;
        let poses = self
            .movers
            .iter()
            .zip(&patch.fields)
            .map(|(mover, field)| {
                let still = Placement::identity();
                let (plain, fixed, moving) = if mover.rests {
                    (self::plain(&still), still, still)
                } else {
                    (seen_from, fixed, duals.placement(mover.motion))
                };
                let (rotation, offset) = between(&plain, &self::plain(&moving));
                let swell = |mm: f64| if mover.orbits { mm } else { 0.0 };
                Pose {
                    rotation,
                    offset,
                    field: CellField::new(field, &fixed, &moving, bounded),
                    swell_mm: swell(orbit.value),
                    most_swell_mm: swell(most),
                }
            })
            .collect();
        (travel_mm, poses)
    }

    /// A cell's halves, made on the first call. Empty where it is too small to be halved: then what could not be
    /// proved of it is counted.
    pub fn halves<'n>(&self, node: &'n PoseNode) -> &'n [PoseNode] {
        node.children.get_or_init(|| {
            if node.depth >= MOST_DEPTH {
                self.unproved.fetch_add(1, Ordering::Relaxed);
                return Vec::new();
            }
            let axis = self.halved_axis(node);
            let [a, b] = node.squares[axis];
            node.cell
                .halves(axis)
                .into_iter()
                .enumerate()
                .filter_map(|(half, cell)| {
                    let mut squares = node.squares;
                    // Below one square the cell goes on being halved inside it.
                    if b - a > 1 {
                        squares[axis][1 - half] = (a + b) / 2;
                    }
                    self.node(cell, squares, node.depth + 1, node.patch.as_ref())
                })
                .collect()
        })
    }
}

struct BeyondReach;

impl PoseNode {
    /// Along which the movers move more over the cell; 0 arm angle, 1 rack.
    fn longer_axis(&self, tree: &PoseTree) -> usize {
        let Some(poses) = &self.poses else {
            let [rows, columns] = self.squares.map(|[a, b]| b - a);
            return usize::from(columns > rows);
        };
        let mut most = [0.0_f64; 2];
        for (mover, pose) in tree.movers.iter().zip(poses) {
            let bounds = tree.corner.parts[mover.part].surface.bounds();
            // The part's far end feels a turn that its middle doesn't.
            for corner in bounds.corners() {
                let surface = &tree.corner.parts[mover.part].surface;
                let point = surface.origin + surface.rotation * corner;
                let shares = pose.field.shares(&point);
                most = [most[0].max(shares[0]), most[1].max(shares[1])];
            }
        }
        usize::from(most[1] > most[0])
    }
}

/// A placement's values: vehicle from body, as rotation and offset.
fn plain(p: &Placement<Dual>) -> (Matrix3<f64>, Vector3<f64>) {
    let rotation = p.rotation.map(|d: Dual| d.value);
    let anchor = p.anchor.map(|d: Dual| d.value);
    (rotation, anchor - rotation * p.anchor_in_body)
}

/// Fixed from moving, both given as vehicle from body.
fn between(
    fixed: &(Matrix3<f64>, Vector3<f64>),
    moving: &(Matrix3<f64>, Vector3<f64>),
) -> (Matrix3<f64>, Vector3<f64>) {
    (
        fixed.0.tr_mul(&moving.0),
        fixed.0.tr_mul(&(moving.1 - fixed.1)),
    )
}
