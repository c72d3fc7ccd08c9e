//! A flat tree of boxes over a surface's elements, in the shape's own frame.
//!
//! Built top down, splitting the box's longest side at the middle element; boxes are stored as middle
//! and half-size, which is what the pair walk needs. Flat, so a walk touches little memory.
//!
//! A piece of a smooth surface is thinner the smaller it is, by the square of its size, but its box is not, unless it
//! happens to lie square to the axes. So small nodes have a flat disc around them too: along a direction it reaches hardly
//! further than the surface does. Source of the thought: S. Gottschalk, M. C. Lin, D. Manocha, "OBBTree: A hierarchical
//! structure for rapid interference detection", SIGGRAPH 1996, section 6 (boxes turned to the surface, for the same
//! reason). A disc needs no turning of one frame into the other's, only three products.

use super::surface::Element;
use nalgebra::Vector3;

/// Most elements in a leaf: few enough that a leaf that is reached costs about what its boxes cost.
const LEAF_ELEMENTS: usize = 3;

/// Nodes with more elements than this have a ball for a disc, which never helps beyond the box: most are too round for a
/// flat one to help, and it takes time to make. Least distances of two meshes of 200,000 triangles, from scratch: as quick as with discs for all, where 64 takes
/// 1.3 times and 16 twice as long. Sweeping a mesh of 1.3 million triangles then takes 1.15 times what it takes without
/// discs, with discs for all 1.4 times.
const DISC_ELEMENTS: usize = 256;

/// An axis-aligned box.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bounds {
    /// Middle.
    pub middle: Vector3<f64>,
    /// Half the edge lengths.
    pub half: Vector3<f64>,
}

impl Bounds {
    /// The smallest box around points.
    pub fn of(points: impl Iterator<Item = Vector3<f64>>) -> Bounds {
        let mut low = Vector3::repeat(f64::INFINITY);
        let mut high = Vector3::repeat(f64::NEG_INFINITY);
        for p in points {
            low = low.inf(&p);
            high = high.sup(&p);
        }
        let middle = (low + high) * 0.5;
        // Measured from the rounded middle, so that no point is lost to rounding.
        Bounds {
            middle,
            half: (high - middle).sup(&(middle - low)),
        }
    }

    /// The eight corners.
    pub fn corners(&self) -> [Vector3<f64>; 8] {
        std::array::from_fn(|i| {
            let sign = |bit: usize| if i & bit == 0 { -1.0 } else { 1.0 };
            self.middle
                + Vector3::new(
                    self.half.x * sign(1),
                    self.half.y * sign(2),
                    self.half.z * sign(4),
                )
        })
    }
}

/// A flat round disc, in the shape's frame, mm.
#[derive(Clone, Copy, Debug)]
pub struct Disc {
    middle: Vector3<f64>,
    normal: Vector3<f64>,
    half_thickness: f64,
    radius: f64,
}

impl Disc {
    /// One that holds a ball.
    fn like_ball(middle: Vector3<f64>, radius: f64) -> Disc {
        Disc {
            middle,
            normal: Vector3::x(),
            half_thickness: radius,
            radius,
        }
    }

    /// The disc square to a unit normal around points, with its axis through a given point.
    fn around(
        points: impl Iterator<Item = Vector3<f64>>,
        normal: Vector3<f64>,
        axis_through: &Vector3<f64>,
    ) -> Disc {
        let [mut low, mut high, mut most] = [f64::INFINITY, f64::NEG_INFINITY, 0.0_f64];
        for p in points {
            let from = p - axis_through;
            let along = from.dot(&normal);
            low = low.min(along);
            high = high.max(along);
            // Not by Pythagoras: that would lose half the digits of a point near the axis.
            most = most.max(from.cross(&normal).norm_squared());
        }
        Disc {
            middle: axis_through + normal * (0.5 * (low + high)),
            normal,
            half_thickness: 0.5 * (high - low),
            radius: most.sqrt(),
        }
    }

    /// How far it reaches along a unit direction: least and most, mm.
    #[inline]
    pub fn extent_along(&self, direction: &Vector3<f64>) -> [f64; 2] {
        let at = self.middle.dot(direction);
        let reach = self.half_thickness * self.normal.dot(direction).abs()
            + self.radius * self.normal.cross(direction).norm();
        [at - reach, at + reach]
    }
}

/// The direction in which elements are flattest: their mean normal, whichever way each is oriented. Where they have
/// none, the box's thinnest axis.
fn flat_direction(
    vertices: &[Vector3<f64>],
    elements: &[(Vector3<f64>, Element)],
    bounds: &Bounds,
) -> Vector3<f64> {
    let mut sum = Vector3::zeros();
    for (_, [a, b, c]) in elements {
        let [a, b, c] = [a, b, c].map(|i| vertices[*i as usize]);
        let normal = (b - a).cross(&(c - a));
        sum += if normal.dot(&sum) < 0.0 {
            -normal
        } else {
            normal
        };
    }
    let thinnest = || Vector3::ith(bounds.half.imin(), 1.0);
    // Far below that its square, and so its length, would lose digits.
    sum.try_normalize(1.0e-60).unwrap_or_else(thinnest)
}

/// A node: an inner one has its children at `first` and `first + 1`; a leaf has `count` elements
/// from `first` in the tree's order.
#[derive(Clone, Copy, Debug)]
pub struct Node {
    /// Box around everything below.
    pub bounds: Bounds,
    /// Half of the box's diagonal.
    pub radius: f64,
    /// Flat disc around everything below; a ball in large nodes.
    pub disc: Disc,
    /// First child or first element.
    pub first: u32,
    /// Number of elements, zero for an inner node.
    pub count: u32,
}

impl Node {
    /// How far what it holds reaches along a unit direction at most: least and most, mm.
    #[inline]
    pub fn extent_along(&self, direction: &Vector3<f64>) -> [f64; 2] {
        let [low, high] = self.disc.extent_along(direction);
        let at = self.bounds.middle.dot(direction);
        let reach = self.bounds.half.dot(&direction.abs());
        [low.max(at - reach), high.min(at + reach)]
    }

    /// Some element below this node.
    pub fn first_element(&self, nodes: &[Node]) -> u32 {
        let mut node = self;
        while node.count == 0 {
            node = &nodes[node.first as usize];
        }
        node.first
    }
}

/// The tree: nodes with the root first, and elements in tree order.
#[derive(Clone, Debug)]
pub struct Tree {
    /// Nodes; the root is number 0.
    pub nodes: Vec<Node>,
}

impl Tree {
    /// Builds the tree and puts `elements` into its order.
    pub fn build(vertices: &[Vector3<f64>], elements: &mut [Element]) -> Tree {
        let mut nodes = Vec::with_capacity(elements.len());
        let mut keyed: Vec<(Vector3<f64>, Element)> = elements
            .iter()
            .map(|e| {
                let sum: Vector3<f64> = e.iter().map(|i| vertices[*i as usize]).sum();
                (sum / 3.0, *e)
            })
            .collect();
        let placeholder = Node {
            bounds: Bounds {
                middle: Vector3::zeros(),
                half: Vector3::zeros(),
            },
            radius: 0.0,
            disc: Disc::like_ball(Vector3::zeros(), 0.0),
            first: 0,
            count: 0,
        };
        nodes.push(placeholder);
        let mut work = vec![(0_usize, 0_usize, keyed.len())];
        while let Some((node, start, end)) = work.pop() {
            let slice = &mut keyed[start..end];
            let points = || {
                let indices = slice.iter().flat_map(|(_, e)| e.iter());
                indices.map(|i| vertices[*i as usize])
            };
            let bounds = Bounds::of(points());
            nodes[node].bounds = bounds;
            nodes[node].radius = bounds.half.norm();
            nodes[node].disc = if slice.len() <= DISC_ELEMENTS {
                let normal = flat_direction(vertices, slice, &bounds);
                Disc::around(points(), normal, &bounds.middle)
            } else {
                Disc::like_ball(bounds.middle, bounds.half.norm())
            };
            if slice.len() <= LEAF_ELEMENTS {
                nodes[node].first = start as u32;
                nodes[node].count = slice.len() as u32;
                continue;
            }
            let centres = Bounds::of(slice.iter().map(|(c, _)| *c));
            let axis = centres.half.imax();
            let middle = slice.len() / 2;
            slice.select_nth_unstable_by(middle, |a, b| a.0[axis].total_cmp(&b.0[axis]));
            let children = nodes.len();
            nodes[node].first = children as u32;
            nodes.extend([placeholder, placeholder]);
            work.push((children, start, start + middle));
            work.push((children + 1, start + middle, end));
        }
        for (place, (_, element)) in elements.iter_mut().zip(&keyed) {
            *place = *element;
        }
        Tree { nodes }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A bowl of a hundred by a hundred squares, two triangles each, tilted against the axes; radius 100 mm.
    fn bowl() -> (Vec<Vector3<f64>>, Vec<Element>) {
        let turn = nalgebra::Rotation3::from_euler_angles(0.5, 0.7, 0.9);
        let mut vertices = Vec::new();
        for i in 0..=100 {
            for j in 0..=100 {
                let [u, v] = [i, j].map(|k| f64::from(k) - 50.0);
                let up = (1.0e4 - u * u - v * v).sqrt();
                vertices.push(turn * Vector3::new(u, v, up) + Vector3::new(300.0, -200.0, 50.0));
            }
        }
        let mut elements = Vec::new();
        for i in 0..100 {
            for j in 0..100 {
                let at = |i: u32, j: u32| i * 101 + j;
                // Not all turned the same way: a mesh needn't be.
                elements.push([at(i, j), at(i, j + 1), at(i + 1, j + 1)]);
                let ends = [at(i + 1, j + 1), at(i + 1, j)];
                let k = (j % 2) as usize;
                elements.push([at(i, j), ends[k], ends[1 - k]]);
            }
        }
        (vertices, elements)
    }

    fn below(tree: &Tree, node: &Node, elements: &[Element]) -> Vec<Element> {
        if node.count > 0 {
            let first = node.first as usize;
            return elements[first..first + node.count as usize].to_vec();
        }
        let children = [0, 1].map(|c| &tree.nodes[node.first as usize + c]);
        children
            .iter()
            .flat_map(|c| below(tree, c, elements))
            .collect()
    }

    #[test]
    fn nodes_reach_as_far_as_what_they_hold_and_small_ones_hardly_further() {
        let (vertices, mut elements) = bowl();
        let tree = Tree::build(&vertices, &mut elements);
        let directions: Vec<Vector3<f64>> = (0..24)
            .map(|k| {
                let k = f64::from(k);
                Vector3::new((1.7 * k).sin(), (2.3 * k).cos(), (0.9 * k + 1.0).sin()).normalize()
            })
            .collect();
        let mut thin = 0;
        for node in &tree.nodes {
            let held = below(&tree, node, &elements);
            let points = held.iter().flatten().map(|i| vertices[*i as usize]);
            let points: Vec<Vector3<f64>> = points.collect();
            for n in directions.iter().chain([&node.disc.normal]) {
                let [low, high] = node.extent_along(n);
                let along = points.iter().map(|p| p.dot(n));
                let [least, most] = along.fold([f64::INFINITY, f64::NEG_INFINITY], |e, v| {
                    [e[0].min(v), e[1].max(v)]
                });
                // Rounding at coordinates below 1000 mm over a few operations.
                assert!(low <= least + 1.0e-11 && most <= high + 1.0e-11, "{node:?}");
            }
            let [low, high] = node.disc.extent_along(&node.disc.normal);
            if node.count > 0 {
                // A piece of a ball of radius R that lies within r of its middle is no thicker than r * r / R, to first
                // order half of that.
                let r = node.disc.radius;
                assert!(high - low <= r * r / 100.0 + 1.0e-11, "{node:?}");
                thin += 1;
            }
        }
        assert!(thin > 5_000, "{thin}");
    }

    #[test]
    fn a_point_and_a_needle_have_a_disc() {
        let vertices = vec![Vector3::new(1.0, 2.0, 3.0), Vector3::new(1.0, 2.0, 4.0)];
        for element in [[0, 0, 0], [0, 1, 1], [0, 1, 0]] {
            let tree = Tree::build(&vertices, &mut [element]);
            for n in [Vector3::x(), Vector3::z(), Vector3::new(0.6, 0.0, 0.8)] {
                let [low, high] = tree.nodes[0].extent_along(&n);
                for i in element {
                    let along = vertices[i as usize].dot(&n);
                    assert!(low <= along + 1.0e-12 && along <= high + 1.0e-12);
                }
            }
        }
    }
}
