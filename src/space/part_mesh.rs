//! A part's triangles, split where a map needs them finer.
//!
//! Whether an edge is split is decided by the edge alone, so both triangles beside it see the same corners and no crack
//! opens; a triangle is then cut by which of its edges were split. No corner moves, so the surface stays what it was.

use crate::shapes::{ElementKind, Surface, Tree};
use nalgebra::{Matrix3, Vector3};
use std::collections::{HashMap, HashSet};

type V = Vector3<f64>;

/// An edge by its corners, lower number first.
pub type Edge = (u32, u32);

/// The edge between two corners.
pub fn edge(a: u32, b: u32) -> Edge {
    (a.min(b), a.max(b))
}

/// A triangle's three edges, in order round it.
pub fn edges([a, b, c]: [u32; 3]) -> [Edge; 3] {
    [edge(a, b), edge(b, c), edge(c, a)]
}

/// Corners and triangles, with a number for each triangle that its pieces keep.
#[derive(Clone, Debug, Default)]
pub struct PartMesh {
    /// Corners, mm.
    pub points: Vec<V>,
    /// Triangles.
    pub triangles: Vec<[u32; 3]>,
    /// Of each triangle.
    pub group: Vec<u32>,
}

/// A mesh with a tree over its triangles.
pub struct TreeMesh {
    /// The triangles, in the tree's order.
    pub mesh: PartMesh,
    /// Boxes over them, in a frame of their own.
    pub tree: Tree,
    /// The mesh's coordinates from that frame.
    pub rotation: Matrix3<f64>,
    /// See `rotation`.
    pub origin: V,
}

/// Longer edges are split before anything is asked, mm: groups of triangles stay small.
const LONGEST_MM: f64 = 40.0;

impl PartMesh {
    /// A part's triangles in its body's coordinates. Balls and capsules are facetted around their true surface.
    pub fn of(surface: &Surface) -> TreeMesh {
        let mut mesh = PartMesh::default();
        if surface.kind == ElementKind::Triangle {
            let count = surface.vertices.len();
            mesh.points = (0..count).map(|i| surface.vertex_in_body(i)).collect();
            mesh.triangles.clone_from(&surface.elements);
        } else {
            let mut numbers: HashMap<[u64; 3], u32> = HashMap::new();
            for triangle in surface.triangles_in_body() {
                mesh.triangles.push(triangle.map(|p| {
                    // Minus zero and zero are one place.
                    let key = [p.x, p.y, p.z].map(|c| (c + 0.0).to_bits());
                    *numbers.entry(key).or_insert_with(|| {
                        mesh.points.push(p);
                        mesh.points.len() as u32 - 1
                    })
                }));
            }
            mesh.triangles
                .retain(|[a, b, c]| a != b && b != c && c != a);
        }
        mesh.group = vec![0; mesh.triangles.len()];
        let mut split = surface.kind != ElementKind::Triangle;
        loop {
            let marked = mesh.unique_edges(|(a, b), _| mesh.length(*a, *b) > LONGEST_MM);
            if marked.is_empty() {
                break;
            }
            split = true;
            mesh.split(&marked);
        }
        if split {
            let tree = Tree::build(&mesh.points, &mut mesh.triangles);
            return TreeMesh {
                mesh,
                tree,
                rotation: Matrix3::identity(),
                origin: V::zeros(),
            };
        }
        TreeMesh {
            mesh,
            tree: surface.tree.clone(),
            rotation: surface.rotation,
            origin: surface.origin,
        }
    }

    /// A triangle's corners.
    pub fn corners(&self, triangle: usize) -> [V; 3] {
        self.triangles[triangle].map(|i| self.points[i as usize])
    }

    /// An edge's length, mm.
    pub fn length(&self, a: u32, b: u32) -> f64 {
        (self.points[a as usize] - self.points[b as usize]).norm()
    }

    /// The middle of an edge.
    pub fn middle(&self, (a, b): Edge) -> V {
        0.5 * (self.points[a as usize] + self.points[b as usize])
    }

    /// Edges that a test picks, each once, with the number of the first triangle beside it that the test picks it for.
    pub fn unique_edges(&self, pick: impl Fn(&Edge, u32) -> bool) -> Vec<(Edge, u32)> {
        let mut seen = HashSet::new();
        let mut out = Vec::new();
        for (triangle, group) in self.triangles.iter().zip(&self.group) {
            for e in edges(*triangle) {
                if pick(&e, *group) && seen.insert(e) {
                    out.push((e, *group));
                }
            }
        }
        out
    }

    /// Splits edges in their middles; new corners come in the order of `marked`.
    pub fn split(&mut self, marked: &[(Edge, u32)]) {
        let mut middle_of: HashMap<Edge, u32> = HashMap::with_capacity(marked.len());
        for (e, _) in marked {
            middle_of.insert(*e, self.points.len() as u32);
            self.points.push(self.middle(*e));
        }
        let count = self.triangles.len();
        let mut pieces: Vec<[u32; 3]> = Vec::new();
        for t in 0..count {
            let [a, b, c] = self.triangles[t];
            let middles = edges([a, b, c]).map(|e| middle_of.get(&e).copied());
            pieces.clear();
            // Turned so that the split edges come first.
            match middles {
                [None, None, None] => continue,
                [Some(ab), Some(bc), Some(ca)] => {
                    pieces.extend([[a, ab, ca], [ab, b, bc], [ca, bc, c], [ab, bc, ca]]);
                }
                [Some(ab), None, None] => pieces.extend([[a, ab, c], [ab, b, c]]),
                [None, Some(bc), None] => pieces.extend([[b, bc, a], [bc, c, a]]),
                [None, None, Some(ca)] => pieces.extend([[c, ca, b], [ca, a, b]]),
                [Some(ab), Some(bc), None] => self.cut_corner([a, b, c], ab, bc, &mut pieces),
                [None, Some(bc), Some(ca)] => self.cut_corner([b, c, a], bc, ca, &mut pieces),
                [Some(ab), None, Some(ca)] => self.cut_corner([c, a, b], ca, ab, &mut pieces),
            }
            self.triangles[t] = pieces[0];
            for piece in &pieces[1..] {
                self.triangles.push(*piece);
                self.group.push(self.group[t]);
            }
        }
    }

    /// Edges a-b and b-c are split at `ab` and `bc`: corner b comes off, the rest is cut along its shorter diagonal.
    fn cut_corner(&self, [a, b, c]: [u32; 3], ab: u32, bc: u32, out: &mut Vec<[u32; 3]>) {
        out.push([ab, b, bc]);
        if self.length(a, bc) <= self.length(ab, c) {
            out.extend([[a, ab, bc], [a, bc, c]]);
        } else {
            out.extend([[a, ab, c], [ab, bc, c]]);
        }
    }

    /// A triangle's area times its normal, mm^2.
    pub fn area_normal(&self, triangle: usize) -> V {
        let [a, b, c] = self.corners(triangle);
        0.5 * (b - a).cross(&(c - a))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shapes::Shape;

    /// Split at any set of edges, a box keeps its area and stays closed: each edge lies between two triangles.
    #[test]
    fn splitting_opens_no_crack() {
        let block = Shape::Box {
            centre: V::new(3.0, -2.0, 1.0),
            size: V::new(100.0, 30.0, 7.0),
            turned: V::zeros(),
        };
        let surface = block.surface(None).expect("a box");
        let mut mesh = PartMesh::of(&surface).mesh;
        for round in 1..5 {
            let all = mesh.unique_edges(|_, _| true);
            let marked: Vec<(Edge, u32)> = all.into_iter().step_by(round + 1).collect();
            mesh.split(&marked);
        }
        let area: f64 = (0..mesh.triangles.len())
            .map(|t| mesh.area_normal(t).norm())
            .sum();
        assert!(
            (area - 2.0 * (3000.0 + 700.0 + 210.0)).abs() < 1.0e-6,
            "{area}"
        );
        let mut beside: HashMap<Edge, usize> = HashMap::new();
        for triangle in &mesh.triangles {
            for e in edges(*triangle) {
                *beside.entry(e).or_default() += 1;
            }
        }
        assert!(beside.values().all(|n| *n == 2));
        assert_eq!(mesh.group.len(), mesh.triangles.len());
    }
}
