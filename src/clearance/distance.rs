//! Closest points between points, segments and triangles.
//!
//! Triangles by nine edge pairs and six corner-to-face pairs; the search stops as soon as the slab
//! between the two planes through the closest points, square to the line between them, is empty of
//! both triangles: then no closer pair exists. If none of the fifteen certifies, the triangles cross
//! or the numbers are at the end of their accuracy; a crossing test decides.
//!
//! Sources: E. Larsen, S. Gottschalk, M. Lin, D. Manocha, "Fast proximity queries with swept sphere
//! volumes", TR99-018, UNC 1999 (edge pairs with early acceptance); C. Ericson, "Real-Time Collision
//! Detection", 2005, 5.1 (closest points of segments and triangles). The slab test on all corners as
//! the sole acceptance rule is ours.

use crate::shapes::ElementKind;
use nalgebra::Vector3;

type V = Vector3<f64>;

/// Closest points of two elements; the distance is zero where they cross.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Closest {
    /// Distance.
    pub distance: f64,
    /// On the first element.
    pub a: V,
    /// On the second.
    pub b: V,
}

impl Closest {
    fn of(a: V, b: V) -> Closest {
        Closest {
            distance: (b - a).norm(),
            a,
            b,
        }
    }
    fn nearer(self, o: Closest) -> Closest {
        if o.distance < self.distance { o } else { self }
    }
}

/// Width of the slab square to unit `n` that parts `b` (ahead) from `a` (behind); negative if none.
/// This is a lower bound of the distance whatever `n` is.
#[inline]
pub fn slab_width(a: &[V], b: &[V], n: &V) -> f64 {
    let ahead = b.iter().map(|p| n.dot(p)).fold(f64::INFINITY, f64::min);
    let behind = a.iter().map(|p| n.dot(p)).fold(f64::NEG_INFINITY, f64::max);
    ahead - behind
}

/// Closest points of two elements given by their corners.
#[inline]
pub fn closest_elements(
    kind_a: ElementKind,
    a: &[V; 3],
    kind_b: ElementKind,
    b: &[V; 3],
) -> Closest {
    use ElementKind::{Point, Segment, Triangle};
    match (kind_a, kind_b) {
        (Point, Point) => Closest::of(a[0], b[0]),
        (Point, Segment) => Closest::of(a[0], on_segment(&a[0], &b[0], &b[1])),
        (Segment, Point) => Closest::of(on_segment(&b[0], &a[0], &a[1]), b[0]),
        (Segment, Segment) => closest_segments(&a[0], &a[1], &b[0], &b[1]),
        (Point, Triangle) => Closest::of(a[0], on_triangle(&a[0], b)),
        (Triangle, Point) => Closest::of(on_triangle(&b[0], a), b[0]),
        (Segment, Triangle) | (Triangle, Segment) | (Triangle, Triangle) => {
            by_features(&a[..kind_a.corners()], &b[..kind_b.corners()])
        }
    }
}

/// The point of a segment nearest to `p`.
#[inline]
fn on_segment(p: &V, from: &V, to: &V) -> V {
    let d = to - from;
    let length2 = d.norm_squared();
    if length2 <= 0.0 {
        return *from;
    }
    from + d * ((p - from).dot(&d) / length2).clamp(0.0, 1.0)
}

/// Closest points of two segments. Near-parallel ones are settled at their ends, which is exact for
/// parallel ones and within rounding for the rest.
///
/// The squared distance is convex in the two parameters, so from any point of the square that they may
/// range over it falls toward its free minimum: the least of the square lies on a side that this minimum
/// lies beyond. Only those ends, at most two of the four, are weighed.
#[inline]
pub fn closest_segments(p0: &V, p1: &V, q0: &V, q1: &V) -> Closest {
    let (d, e, r) = (p1 - p0, q1 - q0, p0 - q0);
    let (a, c, b) = (d.norm_squared(), e.norm_squared(), d.dot(&e));
    let (f, g) = (d.dot(&r), e.dot(&r));
    let determinant = a * c - b * b;
    let (s, t) = ((b * g - c * f) / determinant, (a * g - b * f) / determinant);
    let inside = |u: f64| (0.0..=1.0).contains(&u);
    let square = determinant / (a * c);
    if square > LEAST_SQUARE && inside(s) && inside(t) {
        // Interior of both segments: the common perpendicular.
        return Closest::of(p0 + d * s, q0 + e * t);
    }
    let any = square.is_nan() || square < SURE_SQUARE;
    let mut least = f64::INFINITY;
    let mut best = (*p0, *q0);
    let mut weigh = |p: V, q: V| {
        let square = (q - p).norm_squared();
        if square < least {
            (least, best) = (square, (p, q));
        }
    };
    if any || s < 0.0 {
        weigh(*p0, on_segment(p0, q0, q1));
    }
    if any || s > 1.0 {
        weigh(*p1, on_segment(p1, q0, q1));
    }
    if any || t < 0.0 {
        weigh(on_segment(q0, p0, p1), *q0);
    }
    if any || t > 1.0 {
        weigh(on_segment(q1, p0, p1), *q1);
    }
    Closest::of(best.0, best.1)
}

/// Squared sine of the angle between two segments below which their common perpendicular is noise.
const LEAST_SQUARE: f64 = 1.0e-14;
/// The same below which the parameters of the free minimum, good to about 1e-16 over this square, don't
/// tell the sides either.
const SURE_SQUARE: f64 = 1.0e-6;

/// The point of a triangle nearest to `p`. Source: Ericson 2005, 5.1.5 (Voronoi regions by
/// barycentric coordinates).
fn on_triangle(p: &V, t: &[V; 3]) -> V {
    let [a, b, c] = t;
    let (ab, ac, ap) = (b - a, c - a, p - a);
    let (d1, d2) = (ab.dot(&ap), ac.dot(&ap));
    if d1 <= 0.0 && d2 <= 0.0 {
        return *a;
    }
    let bp = p - b;
    let (d3, d4) = (ab.dot(&bp), ac.dot(&bp));
    if d3 >= 0.0 && d4 <= d3 {
        return *b;
    }
    let cp = p - c;
    let (d5, d6) = (ab.dot(&cp), ac.dot(&cp));
    if d6 >= 0.0 && d5 <= d6 {
        return *c;
    }
    let vc = d1 * d4 - d3 * d2;
    let vb = d5 * d2 - d1 * d6;
    let va = d3 * d6 - d5 * d4;
    let sum = va + vb + vc;
    if vc > 0.0 && vb > 0.0 && va > 0.0 && sum > 0.0 {
        return a + ab * (vb / sum) + ac * (vc / sum);
    }
    // On an edge, or a triangle without area: the nearest of the three edges.
    let on = [
        on_segment(p, a, b),
        on_segment(p, b, c),
        on_segment(p, c, a),
    ];
    let mut best = on[0];
    for q in &on[1..] {
        if (q - p).norm_squared() < (best - p).norm_squared() {
            best = *q;
        }
    }
    best
}

/// Share of the distance by which a slab may fall short and still count as closed: rounding.
const SLAB_SLACK: f64 = 1.0e-12;

/// Segments and triangles in any mix, by edges and faces.
fn by_features(a: &[V], b: &[V]) -> Closest {
    let edges = |n: usize| if n == 2 { 1 } else { 3 };
    let mut best = Closest {
        distance: f64::INFINITY,
        a: a[0],
        b: b[0],
    };
    // Accepts a pair as the closest of all when its slab is empty.
    let certified = |pair: &Closest| {
        pair.distance > 0.0
            && slab_width(a, b, &((pair.b - pair.a) / pair.distance))
                >= pair.distance * (1.0 - SLAB_SLACK)
    };
    for i in 0..edges(a.len()) {
        for j in 0..edges(b.len()) {
            let pair = closest_segments(&a[i], &a[(i + 1) % a.len()], &b[j], &b[(j + 1) % b.len()]);
            if pair.distance < best.distance {
                best = pair;
                if certified(&best) {
                    return best;
                }
            }
        }
    }
    if let [b0, b1, b2] = *b {
        for p in a {
            best = best.nearer(Closest::of(*p, on_triangle(p, &[b0, b1, b2])));
        }
    }
    if let [a0, a1, a2] = *a {
        for p in b {
            best = best.nearer(Closest::of(on_triangle(p, &[a0, a1, a2]), *p));
        }
    }
    if certified(&best) {
        return best;
    }
    // Not parted by the closest features: do they cross?
    let crossing = |edge_of: &[V], face_of: &[V]| -> Option<V> {
        let [f0, f1, f2] = *face_of else { return None };
        (0..edges(edge_of.len())).find_map(|i| {
            pierces(
                &edge_of[i],
                &edge_of[(i + 1) % edge_of.len()],
                &[f0, f1, f2],
            )
        })
    };
    match crossing(a, b).or_else(|| crossing(b, a)) {
        Some(point) => Closest {
            distance: 0.0,
            a: point,
            b: point,
        },
        None => best,
    }
}

/// Where a segment passes through a triangle.
fn pierces(from: &V, to: &V, t: &[V; 3]) -> Option<V> {
    let n = (t[1] - t[0]).cross(&(t[2] - t[0]));
    let (above, below) = (n.dot(&(from - t[0])), n.dot(&(to - t[0])));
    if above * below > 0.0 || above == below {
        return None;
    }
    let point = from + (to - from) * (above / (above - below));
    let inside = (0..3).all(|i| {
        let edge = t[(i + 1) % 3] - t[i];
        edge.cross(&(point - t[i])).dot(&n) >= 0.0
    });
    inside.then_some(point)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn v(x: f64, y: f64, z: f64) -> V {
        V::new(x, y, z)
    }

    /// D. Eberly, "Robust computation of distance between line segments" (coordinates from memory):
    /// two nearly parallel segments 1.1575046138574105e-7 apart.
    #[expect(clippy::excessive_precision, reason = "coordinates as published")]
    #[test]
    fn near_parallel_segments_match_eberlys_value() {
        let c = closest_segments(
            &v(-1.0896217473782599, 9.7236145595088601e-7, 0.0),
            &v(0.91220578597858548, -9.4369829432107506e-7, 0.0),
            &v(-0.90010447502136237, 9.0671446351334441e-7, 0.0),
            &v(1.0730877178721130, -9.8185787633992740e-7, 0.0),
        );
        assert!(
            (c.distance - 1.1575046138574105e-7).abs() < 1.0e-15,
            "{}",
            c.distance
        );
    }

    /// The four ends against the other segment, and the common perpendicular: what weighing only the sides that the
    /// free minimum lies beyond must not miss.
    #[test]
    fn segments_are_as_close_as_the_best_of_all_four_ends() {
        let mut state = 7_u64;
        let mut next = || {
            state = state.wrapping_mul(6364136223846793005).wrapping_add(1);
            (state >> 11) as f64 / (1_u64 << 53) as f64 * 20.0 - 10.0
        };
        let (mut inside, mut at_ends) = (0, 0);
        for _ in 0..20_000 {
            let [p0, p1, q0, q1] = [(); 4].map(|()| v(next(), next(), next()));
            let found = closest_segments(&p0, &p1, &q0, &q1);
            let ends = [
                Closest::of(p0, on_segment(&p0, &q0, &q1)),
                Closest::of(p1, on_segment(&p1, &q0, &q1)),
                Closest::of(on_segment(&q0, &p0, &p1), q0),
                Closest::of(on_segment(&q1, &p0, &p1), q1),
            ];
            let least = ends
                .iter()
                .map(|c| c.distance)
                .fold(f64::INFINITY, f64::min);
            let is_perpendicular = |d: V| (found.b - found.a).dot(&d).abs() < 1.0e-9 * d.norm();
            if found.distance < least - 1.0e-12 {
                // Closer than any end: only the common perpendicular is.
                assert!(is_perpendicular(p1 - p0) && is_perpendicular(q1 - q0));
                inside += 1;
            } else {
                assert!(found.distance <= least + 1.0e-12, "{found:?}");
                at_ends += 1;
            }
        }
        assert!(inside > 1_000 && at_ends > 1_000, "{inside} {at_ends}");
    }

    #[test]
    fn a_point_above_a_triangle_is_nearest_to_its_face() {
        let t = [v(0.0, 0.0, 0.0), v(10.0, 0.0, 0.0), v(0.0, 10.0, 0.0)];
        let p = [v(2.0, 2.0, 3.0); 3];
        let c = closest_elements(ElementKind::Point, &p, ElementKind::Triangle, &t);
        assert_eq!((c.distance, c.b), (3.0, v(2.0, 2.0, 0.0)));
    }

    #[test]
    fn crossing_triangles_are_at_distance_zero() {
        let a = [v(0.0, 0.0, 0.0), v(10.0, 0.0, 0.0), v(0.0, 10.0, 0.0)];
        let b = [v(2.0, 2.0, -5.0), v(2.0, 2.0, 5.0), v(3.0, 30.0, 0.0)];
        let c = closest_elements(ElementKind::Triangle, &a, ElementKind::Triangle, &b);
        assert_eq!(c.distance, 0.0);
    }
}
