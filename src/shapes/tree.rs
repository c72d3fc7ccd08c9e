//! A flat tree of boxes over a surface's elements, in the shape's own frame.
//!
//! Built top down, splitting the box's longest side at the middle element; boxes are stored as middle
//! and half-size, which is what the pair walk needs. Flat, so a walk touches little memory.

use super::surface::Element;
use nalgebra::Vector3;

/// Most elements in a leaf: few enough that a leaf that is reached costs about what its boxes cost.
const LEAF_ELEMENTS: usize = 3;

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

/// A node: an inner one has its children at `first` and `first + 1`; a leaf has `count` elements
/// from `first` in the tree's order.
#[derive(Clone, Copy, Debug)]
pub struct Node {
    /// Box around everything below.
    pub bounds: Bounds,
    /// Half of the box's diagonal.
    pub radius: f64,
    /// First child or first element.
    pub first: u32,
    /// Number of elements, zero for an inner node.
    pub count: u32,
}

impl Node {
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
            first: 0,
            count: 0,
        };
        nodes.push(placeholder);
        let mut work = vec![(0_usize, 0_usize, keyed.len())];
        while let Some((node, start, end)) = work.pop() {
            let slice = &mut keyed[start..end];
            let bounds = Bounds::of(
                slice
                    .iter()
                    .flat_map(|(_, e)| e.iter().map(|i| vertices[*i as usize])),
            );
            nodes[node].bounds = bounds;
            nodes[node].radius = bounds.half.norm();
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
