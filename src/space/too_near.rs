//! What of a part lies too near to something, as material: how deep it reaches, and what to cut so that it is gone.
//!
//! The idea in five lines. The part's room is halved as an octree. A cube stays where it holds some of the part and where
//! some position brings a part nearer than it must to some place in it; everything else is proved to be far enough away, as
//! a map's faces are. What is left holds all that has to go and little more. Cubes that touch are one piece; a patch of the
//! map has the pieces that its faces lie in. How deep a piece reaches below a side is bounded by the lowest of its cubes,
//! which are halved on until that is known well.
//!
//! Why it is enough: whatever has to go lies in some cube. So once all cubes of a piece are gone, by a side that goes back
//! as far as the lowest of them lies or by a cut around their shadow on a sheet, down to the lowest, nothing of that piece
//! is left. The depth of a single corner of the part in what comes near says less: no more than what must remain and the
//! mover's own radius, however far its axis has passed the corner.
//!
//! A part that isn't closed has no inside, and a moving one that isn't has none either: then only surfaces count, and what
//! is found may not be enough, which is said.
//!
//! Source: whether a triangle meets a box by the axes along which they could be parted, after T. Akenine-Moller, "Fast 3D
//! triangle-box overlap testing", J. Graphics Tools 6(1), 2001, 29-33. The rest is derived here.

use super::least_gap::{Candidate, Movers};
use super::nearest::winding_along_rays;
use super::part_mesh::{PartMesh, TreeMesh};
use super::patches::Union;
use nalgebra::{Matrix3, Vector3};
use rayon::prelude::*;
use std::cmp::Ordering;
use std::collections::{BinaryHeap, HashMap};

type V = Vector3<f64>;

/// The smallest step, mm: cubes that tell how deep a piece reaches are halved down to it.
const STEP_MM: f64 = 0.0625;
/// Cubes are halved down to this many steps all over: half a millimetre, finer than a hand cuts.
const LEAF_STEPS: i32 = 8;
/// All cubes of a size are halved while there are no more than this: then they stay larger, and what is cut is more.
const MOST_CUBES: usize = 12_000;
/// Cubes halved to tell how deep a piece reaches below one side: then the bound found so far is taken.
const MOST_DEEPER: usize = 4_000;
/// A cut that takes the part's whole depth goes on for this much, mm: it ends in the air.
const BEYOND_MM: f64 = 1.0;
/// Larger cubes are never needed: a part of some kilometres fits into one.
const MOST_STEPS: i32 = 1 << 26;

/// A cube that holds something that is too near: its low corner and the length of its edges, in steps.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) struct Cube {
    low: [i32; 3],
    edge: i32,
}

/// The coordinates that cubes are counted in.
#[derive(Clone, Copy, Debug)]
struct Grid {
    /// The part's coordinates from the grid's: `rotation * p + origin`.
    rotation: Matrix3<f64>,
    origin: V,
    /// Where the steps are counted from, in the grid's coordinates.
    low: V,
}

impl Grid {
    /// A cube's middle, in the part's coordinates.
    fn middle(&self, cube: Cube) -> V {
        self.origin + self.rotation * self.own_middle(cube)
    }

    /// The same in the grid's coordinates.
    fn own_middle(&self, cube: Cube) -> V {
        let half = 0.5 * f64::from(cube.edge);
        self.low + V::from(cube.low.map(|l| (f64::from(l) + half) * STEP_MM))
    }

    /// How far a cube reaches from its middle along a unit direction of the part, mm.
    fn reach_mm(&self, cube: Cube, along: &V) -> f64 {
        let own = self.rotation.tr_mul(along);
        0.5 * STEP_MM * f64::from(cube.edge) * own.abs().sum()
    }
}

/// Everything of a part that lies too near, and a little more: pieces of cubes.
#[derive(Clone, Debug)]
pub(super) struct TooNear {
    grid: Grid,
    cubes: Vec<Cube>,
    /// The piece that each belongs to.
    pieces: Vec<u32>,
    /// Edge of the cubes that aren't wholly too near, mm.
    edge_mm: f64,
    /// Whether there may be more of it: some part has no inside that is known.
    pub is_at_least: bool,
}

/// One side of a patch.
#[derive(Clone, Debug, PartialEq)]
pub struct PatchSide {
    /// Its faces.
    pub faces: Vec<u32>,
    /// Mean direction out of the part there.
    pub out: V,
    /// How far it must go back, square to itself, mm.
    pub cut_mm: f64,
    /// Down to where to cut, along `out`, mm: as low as the lowest place that has to go lies, or beyond the part.
    pub lowest_mm: f64,
    /// Whether that is as far as the part reaches: then nothing of it is left behind this side.
    pub is_through: bool,
}

/// How much of the part a cube holds.
#[derive(Clone)]
enum Holds {
    /// These triangles, by number.
    Surface(Vec<u32>),
    /// Nothing but its inside.
    Inside,
}

struct Open<'n> {
    cube: Cube,
    holds: Holds,
    candidates: Vec<Candidate<'n>>,
    /// Whether all of it is too near.
    is_all: bool,
}

impl Open<'_> {
    /// Whether halving it would show nothing.
    fn is_settled(&self) -> bool {
        self.is_all && matches!(self.holds, Holds::Inside)
    }
}

/// Finds what is too near, with what tells how deep each piece reaches.
pub(super) struct Search<'n, 'a> {
    movers: &'n Movers<'a>,
    drawn: &'n TreeMesh,
    /// Triangles in the grid's coordinates.
    points: Vec<V>,
    has_inside: bool,
    grid: Grid,
    leaves: Vec<Open<'n>>,
    /// What was found.
    pub found: TooNear,
}

impl<'n, 'a> Search<'n, 'a> {
    /// Of a part whose mesh is closed or isn't. `go_on` answers whether to; what is found when it doesn't is of no use.
    pub fn new(
        movers: &'n Movers<'a>,
        drawn: &'n TreeMesh,
        is_closed: bool,
        go_on: &(dyn Fn() -> bool + Sync),
    ) -> Search<'n, 'a> {
        let bounds = &drawn.tree.nodes[0].bounds;
        let to_grid = |p: &V| drawn.rotation.tr_mul(&(p - drawn.origin));
        let points: Vec<V> = drawn.mesh.points.iter().map(to_grid).collect();
        // A step more on every side, so that a face on the bounds lies inside.
        let longest = 2.0 * bounds.half.max() / STEP_MM + 2.0;
        let edge = (longest.ceil() as i32)
            .clamp(LEAF_STEPS, MOST_STEPS)
            .cast_unsigned()
            .next_power_of_two()
            .cast_signed();
        let grid = Grid {
            rotation: drawn.rotation,
            origin: drawn.origin,
            low: bounds.middle - bounds.half - V::repeat(STEP_MM),
        };
        let mut search = Search {
            movers,
            drawn,
            points,
            has_inside: is_closed,
            grid,
            leaves: Vec::new(),
            found: TooNear {
                grid,
                cubes: Vec::new(),
                pieces: Vec::new(),
                edge_mm: 0.0,
                is_at_least: !is_closed,
            },
        };
        let root = Open {
            cube: Cube { low: [0; 3], edge },
            holds: Holds::Surface((0..drawn.mesh.triangles.len() as u32).collect()),
            candidates: movers.roots(),
            is_all: false,
        };
        let mut level = vec![root];
        while level
            .first()
            .is_some_and(|open| open.cube.edge > LEAF_STEPS)
            && level.len() <= MOST_CUBES
            && go_on()
        {
            let halved: Vec<Open> = level
                .into_par_iter()
                .flat_map_iter(|open| search.eighths(&open))
                .collect();
            level = Vec::new();
            for open in halved {
                if open.is_settled() {
                    search.leaves.push(open);
                } else {
                    level.push(open);
                }
            }
        }
        search.found.edge_mm = level
            .first()
            .map_or(0.0, |open| f64::from(open.cube.edge) * STEP_MM);
        search.leaves.append(&mut level);
        search.found.cubes = search.leaves.iter().map(|open| open.cube).collect();
        search.found.pieces = pieces(&search.found.cubes);
        search.found.is_at_least |= search.leaves.iter().any(|open| {
            let surface = |c: &Candidate| movers.has_inside(*c);
            !open.candidates.iter().all(surface)
        });
        search
    }

    /// The halves of a cube along each axis that hold something that is too near.
    fn eighths(&self, open: &Open<'n>) -> Vec<Open<'n>> {
        let edge = open.cube.edge / 2;
        let mut out = Vec::new();
        for i in 0..8 {
            let low = [0, 1, 2].map(|k| open.cube.low[k] + if i >> k & 1 == 1 { edge } else { 0 });
            let cube = Cube { low, edge };
            let Some(holds) = self.holds(cube, &open.holds) else {
                continue;
            };
            let radius = f64::from(edge) * STEP_MM * HALF_DIAGONAL;
            let near = if open.is_all {
                Some((true, open.candidates.clone()))
            } else {
                let middle = self.grid.middle(cube);
                self.movers.too_near(&middle, radius, &open.candidates)
            };
            if let Some((is_all, candidates)) = near {
                out.push(Open {
                    cube,
                    holds,
                    candidates,
                    is_all,
                });
            }
        }
        out
    }

    /// What a cube holds of the part, from what a larger one around it does; none where it is nothing.
    fn holds(&self, cube: Cube, around: &Holds) -> Option<Holds> {
        let Holds::Surface(triangles) = around else {
            return Some(Holds::Inside);
        };
        let middle = self.grid.own_middle(cube);
        let half = 0.5 * STEP_MM * f64::from(cube.edge);
        let meets: Vec<u32> = triangles
            .iter()
            .copied()
            .filter(|t| meets_cube(self.corners(*t), &middle, half))
            .collect();
        if !meets.is_empty() {
            return Some(Holds::Surface(meets));
        }
        let corners = |t: u32| self.corners(t);
        let is_inside = self.has_inside
            && match winding_along_rays(&self.drawn.tree, &corners, &middle) {
                Some(winding) => winding != 0,
                // No ray tells: it counts as the part.
                None => true,
            };
        is_inside.then_some(Holds::Inside)
    }

    fn corners(&self, triangle: u32) -> [V; 3] {
        self.drawn.mesh.triangles[triangle as usize].map(|i| self.points[i as usize])
    }

    /// A side of a patch that has some pieces: its faces, its direction out of the part, and how far its highest place lies
    /// along that, mm.
    pub fn side(&self, pieces: &[u32], faces: Vec<u32>, out: V, top_mm: f64) -> PatchSide {
        let points = self.drawn.mesh.points.iter();
        let of_part = points.map(|p| p.dot(&out)).fold(f64::INFINITY, f64::min);
        let lowest = self.lowest_mm(pieces, &out).min(top_mm);
        // What would be left is thinner than a cube.
        let is_through = lowest <= of_part + self.found.edge_mm;
        PatchSide {
            faces,
            out,
            cut_mm: top_mm - if is_through { of_part } else { lowest },
            lowest_mm: if is_through {
                of_part - BEYOND_MM
            } else {
                lowest
            },
            is_through,
        }
    }

    /// How low some pieces reach at most along a direction out of the part, mm: the least product of any of their places
    /// with it.
    fn lowest_mm(&self, pieces: &[u32], out: &V) -> f64 {
        let low =
            |open: &Open| self.grid.middle(open.cube).dot(out) - self.grid.reach_mm(open.cube, out);
        let mut heap: BinaryHeap<Lowest> = BinaryHeap::new();
        let mut order = 0_u32;
        let mut made: Vec<Open> = Vec::new();
        for (open, piece) in self.leaves.iter().zip(&self.found.pieces) {
            if pieces.contains(piece) {
                heap.push(Lowest {
                    low: low(open),
                    order,
                    at: At::Leaf(order as usize),
                });
            }
            order += 1;
        }
        let mut looked = 0;
        while let Some(next) = heap.pop() {
            let open = match next.at {
                At::Leaf(i) => &self.leaves[i],
                At::Made(i) => &made[i],
            };
            if open.cube.edge == 1 || looked == MOST_DEEPER {
                return next.low;
            }
            looked += 1;
            for half in self.eighths(open) {
                heap.push(Lowest {
                    low: low(&half).max(next.low),
                    order,
                    at: At::Made(made.len()),
                });
                order += 1;
                made.push(half);
            }
        }
        f64::INFINITY
    }
}

/// Half of a cube's diagonal, for its edge.
const HALF_DIAGONAL: f64 = 0.866_025_403_784_438_7;

enum At {
    Leaf(usize),
    Made(usize),
}

/// A cube by how low it reaches, lowest first; ties by when it was met, so that the search is the same each time.
struct Lowest {
    low: f64,
    order: u32,
    at: At,
}

impl PartialEq for Lowest {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other).is_eq()
    }
}
impl Eq for Lowest {}
impl PartialOrd for Lowest {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
impl Ord for Lowest {
    fn cmp(&self, other: &Self) -> Ordering {
        let lower = other.low.total_cmp(&self.low);
        lower.then(other.order.cmp(&self.order))
    }
}

/// Numbers for cubes so that those that touch, at a corner too, have the same.
fn pieces(cubes: &[Cube]) -> Vec<u32> {
    let number: HashMap<Cube, u32> = cubes.iter().zip(0..).map(|(c, n)| (*c, n)).collect();
    let mut edges: Vec<i32> = cubes.iter().map(|c| c.edge).collect();
    edges.sort_unstable();
    edges.dedup();
    let mut union = Union::new(cubes.len());
    for (n, cube) in cubes.iter().enumerate() {
        for step in 0..27 {
            let way = [step % 3 - 1, step / 3 % 3 - 1, step / 9 - 1];
            if way == [0; 3] {
                continue;
            }
            let beside = [0, 1, 2].map(|k| cube.low[k] + way[k] * cube.edge);
            // The smaller of two neighbours finds the larger one.
            for edge in edges.iter().filter(|e| **e >= cube.edge) {
                let low = beside.map(|l| l.div_euclid(*edge) * edge);
                if let Some(other) = number.get(&Cube { low, edge: *edge }) {
                    union.join(n as u32, *other);
                    break;
                }
            }
        }
    }
    (0..cubes.len() as u32).map(|n| union.root(n)).collect()
}

impl TooNear {
    /// Nothing.
    pub fn none() -> TooNear {
        TooNear {
            grid: Grid {
                rotation: Matrix3::identity(),
                origin: V::zeros(),
                low: V::zeros(),
            },
            cubes: Vec::new(),
            pieces: Vec::new(),
            edge_mm: 0.0,
            is_at_least: false,
        }
    }

    /// The pieces that some faces of a map lie in.
    pub fn pieces_of(&self, mesh: &PartMesh, faces: &[u32]) -> Vec<u32> {
        let mut edges: Vec<i32> = self.cubes.iter().map(|c| c.edge).collect();
        edges.sort_unstable();
        edges.dedup();
        let number: HashMap<Cube, u32> = self
            .cubes
            .iter()
            .zip(&self.pieces)
            .map(|(c, p)| (*c, *p))
            .collect();
        let mut out: Vec<u32> = Vec::new();
        for face in faces {
            let corners = mesh.corners(*face as usize).map(|p| {
                let own = self.grid.rotation.tr_mul(&(p - self.grid.origin));
                (own - self.grid.low) / STEP_MM
            });
            let low = corners[0].inf(&corners[1]).inf(&corners[2]);
            let high = corners[0].sup(&corners[1]).sup(&corners[2]);
            for edge in &edges {
                let [from, to] = [&low, &high]
                    .map(|p| [0, 1, 2].map(|k| (p[k] / f64::from(*edge)).floor() as i32));
                for i in from[0]..=to[0] {
                    for j in from[1]..=to[1] {
                        for k in from[2]..=to[2] {
                            let low = [i, j, k].map(|n| n * edge);
                            let Some(piece) = number.get(&Cube { low, edge: *edge }) else {
                                continue;
                            };
                            if out.contains(piece) {
                                continue;
                            }
                            let half = 0.5 * f64::from(*edge);
                            let middle = V::from(low.map(|l| f64::from(l) + half));
                            if meets_cube(corners, &middle, half) {
                                out.push(*piece);
                            }
                        }
                    }
                }
            }
        }
        out.sort_unstable();
        out
    }

    /// The cubes of some pieces: middles in the part's coordinates, half-edges, mm.
    pub fn of_pieces<'t>(&'t self, pieces: &'t [u32]) -> impl Iterator<Item = (V, f64)> + 't {
        let both = self.cubes.iter().zip(&self.pieces);
        both.filter(|(_, piece)| pieces.contains(piece))
            .map(|(cube, _)| {
                (
                    self.grid.middle(*cube),
                    0.5 * STEP_MM * f64::from(cube.edge),
                )
            })
    }

    /// How far cubes can reach beyond what is too near, mm: each holds some of the part, and in the ball around it some
    /// place is too near.
    pub fn most_excess_mm(&self) -> f64 {
        2.0 * HALF_DIAGONAL * self.edge_mm
    }

    /// The cubes' axes in the part's coordinates.
    pub fn axes(&self) -> [V; 3] {
        [0, 1, 2].map(|k| self.grid.rotation.column(k).into_owned())
    }
}

/// Whether a triangle meets a cube.
fn meets_cube(corners: [V; 3], middle: &V, half: f64) -> bool {
    let [a, b, c] = corners.map(|p| p - middle);
    let parted_along = |axis: &V| {
        let reach = half * axis.abs().sum();
        let [p, q, r] = [a.dot(axis), b.dot(axis), c.dot(axis)];
        // What only just touches meets: rounding doesn't part it.
        let slack = 1.0e-12 * (reach + p.abs().max(q.abs()).max(r.abs()));
        p.min(q).min(r) > reach + slack || p.max(q).max(r) < -reach - slack
    };
    let axes = [V::x(), V::y(), V::z()];
    if axes.iter().any(&parted_along) {
        return false;
    }
    let sides = [b - a, c - b, a - c];
    if parted_along(&sides[0].cross(&sides[1])) {
        return false;
    }
    !sides
        .iter()
        .any(|s| axes.iter().any(|e| parted_along(&e.cross(s))))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cubes_of_different_size_that_touch_are_one_piece() {
        let cube = |low, edge| Cube { low, edge };
        let cubes = [
            cube([0, 0, 0], 8),
            cube([8, 0, 0], 4),
            cube([16, 0, 0], 4),
            cube([12, 4, 4], 4),
        ];
        let pieces = pieces(&cubes);
        // The second touches the first by a face and the fourth at an edge, the third that one at an edge.
        assert!(pieces.iter().all(|p| *p == 0), "{pieces:?}");
        let apart = super::pieces(&[cube([0, 0, 0], 4), cube([8, 0, 0], 4)]);
        assert_eq!(apart, [0, 1]);
    }

    #[test]
    fn a_triangle_that_passes_a_corner_of_a_cube_does_not_meet_it() {
        let at = |s: f64| {
            [
                V::new(s, 0.0, 0.0),
                V::new(0.0, s, 0.0),
                V::new(0.0, 0.0, s),
            ]
        };
        // The plane x + y + z = s touches a cube of half-edge 1 about the origin up to s = 3.
        assert!(meets_cube(at(2.99), &V::zeros(), 1.0));
        assert!(!meets_cube(at(3.01), &V::zeros(), 1.0));
        let inside = at(0.1);
        assert!(meets_cube(inside, &V::zeros(), 1.0));
    }
}
