//! A part's surface as the distance code sees it.

use super::known_sides::KnownSides;
use super::tree::{Bounds, Tree};
use crate::suspension::Placement;
use nalgebra::{Matrix3, Vector3};

/// Corner numbers of a point (three times the same), a segment (the last one twice) or a triangle.
pub type Element = [u32; 3];

/// What a surface's elements are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ElementKind {
    /// Single points: a ball's centre.
    Point,
    /// Segments: a capsule's axis.
    Segment,
    /// Triangles.
    Triangle,
}

impl ElementKind {
    /// Corners of an element: 1, 2 or 3.
    #[inline]
    pub fn corners(self) -> usize {
        match self {
            ElementKind::Point => 1,
            ElementKind::Segment => 2,
            ElementKind::Triangle => 3,
        }
    }
}

/// Points, segments or triangles, thickened by a radius, in a frame of their own on a body.
#[derive(Clone, Debug)]
pub struct Surface {
    /// Body from shape.
    pub rotation: Matrix3<f64>,
    /// The shape frame's origin in body coordinates.
    pub origin: Vector3<f64>,
    /// Corners, shape frame.
    pub vertices: Vec<Vector3<f64>>,
    /// Elements in tree order.
    pub elements: Vec<Element>,
    /// What they are.
    pub kind: ElementKind,
    /// Rounding: the solid reaches this far beyond its elements, mm.
    pub radius_mm: f64,
    /// The true round surface lies within this distance of the facets, mm.
    pub facet_error_mm: f64,
    /// Whether the elements close off an inside.
    pub closed: bool,
    /// Of a round part: the outline that its triangles are facets of.
    pub round: Option<Round>,
    /// One corner of each connected piece.
    pub pieces: Vec<u32>,
    /// Boxes over the elements.
    pub tree: Tree,
    /// Which balls are known to lie inside or outside.
    pub sides: KnownSides,
}

/// A round part's true surface: an outline turned about the shape frame's z axis.
#[derive(Clone, Debug, PartialEq)]
pub struct Round {
    /// Corners (along z, distance from it), in order, closed.
    pub outline: Vec<[f64; 2]>,
    /// The solid may reach this far beyond it, mm.
    pub error_mm: f64,
}

/// One corner of each connected piece of a surface.
pub(super) fn pieces(vertices: usize, elements: &[Element]) -> Vec<u32> {
    // Union-find with path halving; the least corner number stands for its piece.
    fn root(of: &mut [u32], mut i: u32) -> u32 {
        while of[i as usize] != i {
            of[i as usize] = of[of[i as usize] as usize];
            i = of[i as usize];
        }
        i
    }
    let mut of: Vec<u32> = (0..vertices as u32).collect();
    for [a, b, c] in elements {
        for other in [b, c] {
            let (x, y) = (root(&mut of, *a), root(&mut of, *other));
            of[x.max(y) as usize] = x.min(y);
        }
    }
    let mut out: Vec<u32> = elements.iter().map(|e| root(&mut of, e[0])).collect();
    out.sort_unstable();
    out.dedup();
    out
}

impl Surface {
    /// A surface from its parts; `vertices` in the shape frame.
    pub fn new(
        rotation: Matrix3<f64>,
        origin: Vector3<f64>,
        vertices: Vec<Vector3<f64>>,
        mut elements: Vec<Element>,
        kind: ElementKind,
        closed: bool,
    ) -> Surface {
        let pieces = pieces(vertices.len(), &elements);
        let tree = Tree::build(&vertices, &mut elements);
        Surface {
            rotation,
            origin,
            vertices,
            elements,
            kind,
            radius_mm: 0.0,
            facet_error_mm: 0.0,
            closed,
            round: None,
            pieces,
            tree,
            sides: KnownSides::default(),
        }
    }

    /// Whether another surface is this one again: every gap to it is the same.
    pub fn is_same_solid(&self, other: &Surface) -> bool {
        self.kind == other.kind
            && self.closed == other.closed
            && self.radius_mm == other.radius_mm
            && self.facet_error_mm == other.facet_error_mm
            && self.origin == other.origin
            && self.rotation == other.rotation
            && self.round == other.round
            && self.elements == other.elements
            && self.vertices == other.vertices
    }

    /// Remembers what its triangles are facets of.
    pub fn rounded(mut self, round: Option<Round>) -> Surface {
        self.round = round;
        self
    }

    /// Sets the rounding radius.
    pub fn thickened(mut self, radius_mm: f64) -> Surface {
        self.radius_mm = radius_mm;
        self
    }

    /// Sets the facet error.
    pub fn facetted(mut self, facet_error_mm: f64) -> Surface {
        self.facet_error_mm = facet_error_mm;
        self
    }

    /// How far the solid may reach beyond its elements: rounding and facet error, mm.
    pub fn reach_mm(&self) -> f64 {
        self.radius_mm + self.facet_error_mm
    }

    /// The elements' corners.
    #[inline]
    pub fn corners(&self, element: usize) -> [Vector3<f64>; 3] {
        self.elements[element].map(|i| self.vertices[i as usize])
    }

    /// Box around the elements (not the rounding), shape frame.
    pub fn bounds(&self) -> Bounds {
        self.tree.nodes[0].bounds
    }

    /// A vertex in body coordinates.
    pub fn vertex_in_body(&self, vertex: usize) -> Vector3<f64> {
        self.origin + self.rotation * self.vertices[vertex]
    }

    /// The same surface on the other side of the truck: y to -y.
    pub fn mirrored(&self) -> Surface {
        let flip = Matrix3::from_diagonal(&Vector3::new(1.0, -1.0, 1.0));
        // Mirrored, a face runs round the other way.
        let elements = self.elements.iter().map(|[a, b, c]| [*a, *c, *b]).collect();
        Surface::new(
            flip * self.rotation * flip,
            flip * self.origin,
            self.vertices.iter().map(|v| flip * v).collect(),
            elements,
            self.kind,
            self.closed,
        )
        .thickened(self.radius_mm)
        .facetted(self.facet_error_mm)
        .rounded(self.round.clone())
    }

    /// Whether the other surface is the same solid in the same place of its body, its corners within a distance.
    pub fn lies_on(&self, other: &Surface, within_mm: f64) -> bool {
        let at_rest = Placement::identity();
        super::in_place_within((self, &at_rest), (other, &at_rest), within_mm)
    }

    /// How many times the surface winds about a point of the shape frame: 1 inside, 0 outside a
    /// closed, outward-facing surface; near a half on an open edge.
    ///
    /// Source: A. Van Oosterom, J. Strackee, "The solid angle of a plane triangle", IEEE Trans.
    /// Biomed. Eng. 30(2), 1983.
    pub fn winding(&self, point: &Vector3<f64>) -> f64 {
        if self.kind != ElementKind::Triangle {
            return 0.0;
        }
        let mut sum = 0.0;
        for element in 0..self.elements.len() {
            let [a, b, c] = self.corners(element).map(|v| v - point);
            let (la, lb, lc) = (a.norm(), b.norm(), c.norm());
            let volume = a.dot(&b.cross(&c));
            let denominator = la * lb * lc + a.dot(&b) * lc + b.dot(&c) * la + c.dot(&a) * lb;
            sum += 2.0 * volume.atan2(denominator);
        }
        sum / (4.0 * std::f64::consts::PI)
    }

    /// Triangles of the thickened solid for export, body coordinates. Balls and capsules are facetted here with corners on
    /// the true surface: facets lie inside it by up to `EXPORT_FACET_MM`, on rounded ends by up to twice that.
    pub fn triangles_in_body(&self) -> Vec<[Vector3<f64>; 3]> {
        let to_body = |v: &Vector3<f64>| self.origin + self.rotation * v;
        match self.kind {
            ElementKind::Triangle => (0..self.elements.len())
                .map(|e| self.corners(e).map(|v| to_body(&v)))
                .collect(),
            ElementKind::Point | ElementKind::Segment => {
                let mut out = Vec::new();
                for e in 0..self.elements.len() {
                    let [a, b, _] = self.corners(e);
                    out.extend(super::lathe::capsule_triangles(
                        to_body(&a),
                        to_body(&b),
                        self.radius_mm,
                    ));
                }
                out
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shapes::Shape;
    use nalgebra::Rotation3;

    #[test]
    fn a_mirrored_part_stands_where_the_mirror_shows_it() {
        let bar = Shape::Capsule {
            from: Vector3::new(10.0, 300.0, 40.0),
            to: Vector3::new(-5.0, 700.0, 90.0),
            radius: 12.0,
        };
        let own = bar.surface(None).expect("a capsule has a surface");
        let turn = Rotation3::from_euler_angles(0.2, -0.3, 0.5);
        let at = Placement {
            rotation: turn.into_inner(),
            anchor_in_body: Vector3::new(1.0, 2.0, 3.0),
            anchor: Vector3::new(-4.0, 50.0, 6.0),
        };
        let (other, there) = (own.mirrored(), at.mirrored());
        let point = |p: &Vector3<f64>| Vector3::new(p.x, -p.y, p.z);
        assert!((there.rotation.determinant() - 1.0).abs() < 1.0e-12);
        assert_eq!(other.radius_mm, own.radius_mm);
        for i in 0..own.vertices.len() {
            let seen = point(&at.point(&own.vertex_in_body(i)));
            let stands = there.point(&other.vertex_in_body(i));
            assert!((seen - stands).norm() < 1.0e-9);
        }
    }
}
