//! Edges of a triangle mesh and who uses them: what tells a closed surface from an open one.
//!
//! One sorted list, three entries a triangle, so that a million triangles cost a sort and no tables.

use super::surface::Element;
use rayon::prelude::*;

/// Every triangle's three edges, sorted so that the uses of an edge stand together.
pub struct Edges(Vec<Use>);

/// One triangle's use of an edge.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Use {
    /// Its corners, the smaller number first.
    edge: (u32, u32),
    /// Three times the triangle's number, plus the edge's place in it.
    half_edge: u32,
    /// Whether the triangle runs from the smaller to the larger number.
    forward: bool,
}

impl Use {
    /// The triangle.
    pub fn triangle(self) -> usize {
        self.half_edge as usize / 3
    }

    /// The edge's first corner is this one of the triangle.
    pub fn place(self) -> usize {
        self.half_edge as usize % 3
    }

    /// Whether the triangle runs from the smaller to the larger number.
    pub fn forward(self) -> bool {
        self.forward
    }

    /// Both corners, the smaller number first.
    pub fn corners(self) -> [u32; 2] {
        [self.edge.0, self.edge.1]
    }
}

impl Edges {
    /// The edges of triangles.
    pub fn of(triangles: &[Element]) -> Edges {
        let mut uses: Vec<Use> = Vec::with_capacity(3 * triangles.len());
        for (t, corners) in triangles.iter().enumerate() {
            for place in 0..3 {
                let (a, b) = (corners[place], corners[(place + 1) % 3]);
                uses.push(Use {
                    edge: (a.min(b), a.max(b)),
                    half_edge: (3 * t + place) as u32,
                    forward: a < b,
                });
            }
        }
        uses.par_sort_unstable();
        Edges(uses)
    }

    /// The uses of each edge.
    pub fn iter(&self) -> impl Iterator<Item = &[Use]> {
        self.0.chunk_by(|a, b| a.edge == b.edge)
    }

    /// The uses of the edge between two corners.
    pub fn between(&self, a: u32, b: u32) -> &[Use] {
        let edge = (a.min(b), a.max(b));
        let from = self.0.partition_point(|u| u.edge < edge);
        let to = from + self.0[from..].partition_point(|u| u.edge == edge);
        &self.0[from..to]
    }

    /// Whether every edge is used as often one way as the other: then the surface winds a whole number of
    /// times about any point off it, and inside and outside mean something.
    pub fn closed(&self) -> bool {
        self.iter().all(|uses| balance(uses) == 0)
    }
}

/// How many more triangles run along an edge forward than backward.
pub fn balance(uses: &[Use]) -> i64 {
    uses.iter().map(|u| if u.forward { 1 } else { -1 }).sum()
}
