//! Triangle meshes in parry's trees: how far from a convex shape, how far from each other, and what is inside.
//!
//! parry's own mesh against mesh walks one tree only and starts from an endless distance. Here both of its trees
//! are walked (`leaf_pairs`) with the greatest distance that is asked about, so that most of both is never opened;
//! nodes are parted by their boxes and along the best pair's own direction. A pair of leaves is asked of parry's
//! search with its certificate ([`super::convex`]), so the result has a lower bound that holds for every pair:
//! the least of what the leaves' certificates, the boxes and the greatest distance say.

use super::convex::{Span, distance};
use parry3d::bounding_volume::Aabb;
use parry3d::math::{Pose, Vector};
use parry3d::partitioning::BvhNode;
use parry3d::query::{Ray, RayCast};
use parry3d::shape::{SupportMap, TriMesh, Triangle};
use std::cell::Cell;

/// Taken off what boxes say, mm: far more than their rounding a few metres from the origin.
const BOX_ROUNDING_MM: f64 = 1.0e-9;

/// What a walk has found so far, and what it did.
struct Walk {
    /// The least upper bound, or the greatest distance asked about; nodes further apart are skipped.
    nearest: Cell<f64>,
    /// Whether a pair of leaves gave it.
    found: Cell<bool>,
    /// The least lower bound of the leaves looked at.
    least: Cell<f64>,
    /// Unit direction, first frame, of the nearest pair.
    along: Cell<Vector>,
    searches: Cell<u64>,
    boxes: Cell<u64>,
}

impl Walk {
    fn new(greatest: f64) -> Walk {
        Walk {
            nearest: Cell::new(greatest),
            found: Cell::new(false),
            least: Cell::new(f64::INFINITY),
            along: Cell::new(Vector::ZERO),
            searches: Cell::new(0),
            boxes: Cell::new(0),
        }
    }

    /// Takes a pair of leaves in.
    fn take(&self, leaves: &Span) {
        self.searches.set(self.searches.get() + leaves.searches);
        self.least.set(self.least.get().min(leaves.lower));
        if leaves.upper < self.nearest.get() {
            self.nearest.set(leaves.upper);
            self.found.set(true);
            self.along.set(leaves.along);
        }
    }

    fn count_box(&self) {
        self.boxes.set(self.boxes.get() + 1);
    }

    fn end(self) -> (Span, u64) {
        let nearest = self.nearest.get();
        let span = Span {
            lower: self.least.get().min(nearest),
            upper: if self.found.get() {
                nearest
            } else {
                f64::INFINITY
            },
            along: self.along.get(),
            searches: self.searches.get(),
        };
        (span, self.boxes.get())
    }
}

/// Middle and half size of a box.
type Middle = (Vector, Vector);

fn middle(node: &BvhNode) -> Middle {
    let (low, high) = (node.mins(), node.maxs());
    ((low + high) * 0.5, (high - low) * 0.5)
}

/// Length of what is left of a distance between middles once both half sizes are taken off.
fn between(apart: Vector, halves: Vector) -> f64 {
    (apart.abs() - halves).max(Vector::ZERO).length() - BOX_ROUNDING_MM
}

/// Where a search between two shapes may begin: from the second's middle toward the first's.
fn toward(from: Vector, to: Vector) -> Vector {
    (to - from).try_normalize().unwrap_or(Vector::X)
}

/// A mesh and a convex shape at `pos12` in the mesh's frame, up to `greatest`. With it the number of boxes tested.
pub(super) fn mesh_to_convex(
    pos12: &Pose,
    mesh: &TriMesh,
    convex: &impl SupportMap,
    greatest: f64,
) -> (Span, u64) {
    let walk = Walk::new(greatest);
    let reach = |n: Vector| convex.support_point(pos12, n);
    let high = Vector::new(reach(Vector::X).x, reach(Vector::Y).y, reach(Vector::Z).z);
    let low = Vector::new(
        reach(-Vector::X).x,
        reach(-Vector::Y).y,
        reach(-Vector::Z).z,
    );
    let own: Middle = ((low + high) * 0.5, (high - low) * 0.5);
    // The convex shape's near end along the nearest pair's direction, found once for each new direction.
    let near_end = Cell::new(0.0);
    let apart = |node: &BvhNode, _: f64| {
        walk.count_box();
        let (c, h) = middle(node);
        let by_boxes = between(own.0 - c, own.1 + h);
        let n = walk.along.get();
        let by_line = near_end.get() - c.dot(n) - h.dot(n.abs()) - BOX_ROUNDING_MM;
        let apart = by_boxes.max(by_line);
        // parry skips what doesn't come nearer than the best that it knows; the walk knows better.
        if apart >= walk.nearest.get() {
            f64::MAX
        } else {
            apart
        }
    };
    let leaf = |i: u32, _: f64| -> Option<f64> {
        let triangle = mesh.triangle(i);
        let start = toward(own.0, triangle.center());
        let span = distance(pos12, &triangle, convex, walk.nearest.get(), start);
        walk.take(&span);
        near_end.set(reach(-walk.along.get()).dot(walk.along.get()));
        span.upper.is_finite().then_some(span.upper)
    };
    mesh.bvh().find_best(greatest, apart, leaf);
    walk.end()
}

/// Two meshes, the second at `pos12` in the first's frame, up to `greatest`. With it the number of boxes tested.
pub(super) fn mesh_to_mesh(
    pos12: &Pose,
    first: &TriMesh,
    second: &TriMesh,
    greatest: f64,
) -> (Span, u64) {
    let walk = Walk::new(greatest);
    let axes = [Vector::X, Vector::Y, Vector::Z].map(|axis| pos12.rotation * axis);
    // A half size of the second's frame as a box of the first's; and the other way round.
    let outward = |h: Vector| axes[0].abs() * h.x + axes[1].abs() * h.y + axes[2].abs() * h.z;
    let inward = |h: Vector| {
        Vector::new(
            axes[0].abs().dot(h),
            axes[1].abs().dot(h),
            axes[2].abs().dot(h),
        )
    };
    let turned = |v: Vector| Vector::new(axes[0].dot(v), axes[1].dot(v), axes[2].dot(v));
    let may_be_near = |a: &BvhNode, b: &BvhNode| {
        walk.count_box();
        let nearest = walk.nearest.get();
        let ((c1, h1), (c2, h2)) = (middle(a), middle(b));
        let apart = pos12.transform_point(c2) - c1;
        if between(apart, h1 + outward(h2)) >= nearest {
            return false;
        }
        let n = walk.along.get();
        let own = turned(n);
        let by_line = apart.dot(n) - h1.dot(n.abs()) - h2.dot(own.abs()) - BOX_ROUNDING_MM;
        by_line < nearest && between(turned(apart), h2 + inward(h1)) < nearest
    };
    for (i, j) in first.bvh().leaf_pairs(second.bvh(), may_be_near) {
        let a = first.triangle(i);
        let b = second.triangle(j).transformed(pos12);
        // The walk tests nodes when it comes to their parents: the nearest may have come nearer since.
        let start = toward(b.center(), a.center());
        if triangles_apart(&a, &b, walk.along.get()) >= walk.nearest.get() {
            continue;
        }
        let span = distance(&Pose::IDENTITY, &a, &b, walk.nearest.get(), start);
        walk.take(&span);
    }
    walk.end()
}

/// Width of the slab between two triangles square to `n`.
fn triangles_apart(a: &Triangle, b: &Triangle, n: Vector) -> f64 {
    super::convex::slab(&Pose::IDENTITY, a, b, n) - BOX_ROUNDING_MM
}

/// Pairs of opposite rays that are counted.
const RAY_PAIRS: u32 = 16;

/// Whether a mesh holds a point inside. parry's meshes are shells, and its search sees nothing inside them: rays are
/// cast from the point, and what they pass going out less what they pass coming in is how often the mesh winds
/// about it, whichever way its triangles are turned. More than half of the rays must say so: one may pass a hole or
/// graze an edge, and beside an open sheet one ray of each pair of opposite ones misses it.
pub(super) fn holds(mesh: &TriMesh, point: Vector) -> bool {
    let bounds: Aabb = mesh.local_aabb();
    if !bounds.contains_local_point(point) {
        return false;
    }
    let inside: u32 = (0..RAY_PAIRS)
        .map(|pair| {
            // Evenly over half a sphere along a spiral: in no symmetry with anything drawn along axes.
            let up = (f64::from(pair) + 0.5) / f64::from(RAY_PAIRS);
            let (sin, cos) =
                (f64::from(pair) * std::f64::consts::PI * (3.0 - 5.0_f64.sqrt())).sin_cos();
            let outward = (1.0 - up * up).sqrt();
            let direction = Vector::new(outward * cos, outward * sin, up);
            let winds = |direction: Vector| winding_along(mesh, point, direction) != 0;
            u32::from(winds(direction)) + u32::from(winds(-direction))
        })
        .sum();
    inside > RAY_PAIRS
}

/// How often a ray leaves a mesh less how often it enters.
fn winding_along(mesh: &TriMesh, point: Vector, direction: Vector) -> i32 {
    let ray = Ray::new(point, direction);
    let on_the_way = |node: &BvhNode| node.cast_ray(&ray, f64::MAX) < f64::MAX;
    mesh.bvh()
        .leaves(on_the_way)
        .filter_map(|i| {
            let triangle = mesh.triangle(i);
            triangle.cast_local_ray(&ray, f64::MAX, false)?;
            let outward = triangle.scaled_normal().dot(ray.dir);
            Some(if outward > 0.0 { 1 } else { -1 })
        })
        .sum()
}
