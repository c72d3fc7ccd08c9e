//! How near a point is to a part: exact, by the part's own kind.
//!
//! A ball and a capsule are their points and lines with a radius; a round part is its outline turned about its axis, so
//! its distance is that of a point of the half plane to the outline, below zero inside; anything else is its
//! triangles, found through its tree, where inside can't be told from outside.

use crate::clearance::{closest_elements, is_inside};
use crate::shapes::{ElementKind, Surface};
use nalgebra::Vector3;

/// Distance from a point of the part's body to the part's solid, mm: below zero inside where that can be known. Beyond
/// `cutoff_mm` any value above it may be answered.
pub fn distance_mm(surface: &Surface, point: &Vector3<f64>, cutoff_mm: f64) -> f64 {
    let own = surface.rotation.tr_mul(&(point - surface.origin));
    if let Some(round) = &surface.round {
        let distance = to_outline(&round.outline, own.z, own.x.hypot(own.y));
        return distance - surface.radius_mm - round.error_mm;
    }
    let off = surface.reach_mm();
    let nodes = &surface.tree.nodes;
    let corners = [own; 3];
    let mut best = cutoff_mm + off;
    let to_box = |n: u32| {
        let bounds = &nodes[n as usize].bounds;
        ((own - bounds.middle).abs() - bounds.half)
            .sup(&Vector3::zeros())
            .norm()
    };
    let mut stack = [(0.0, 0_u32); 96];
    stack[0] = (to_box(0), 0);
    let mut top = 1;
    let mut found = f64::INFINITY;
    while top > 0 {
        top -= 1;
        let (bound, n) = stack[top];
        if bound >= best {
            continue;
        }
        let node = &nodes[n as usize];
        if node.count > 0 {
            for i in node.first..node.first + node.count {
                let element = surface.corners(i as usize);
                let pair = closest_elements(ElementKind::Point, &corners, surface.kind, &element);
                found = found.min(pair.distance);
            }
            best = best.min(found);
            continue;
        }
        let (a, b) = (node.first, node.first + 1);
        let (x, y) = ((to_box(a), a), (to_box(b), b));
        let (near, far) = if x.0 < y.0 { (x, y) } else { (y, x) };
        stack[top] = far;
        stack[top + 1] = near;
        top += 2;
    }
    if found.is_finite() {
        found - off
    } else {
        f64::INFINITY
    }
}

/// Parts of more triangles than this aren't asked whether they hold a point: it takes a look at each.
const MOST_TRIANGLES_ASKED: usize = 4_096;

/// The same, below zero inside a mesh too; none where a mesh has no inside, or too many triangles to be asked.
pub fn signed_distance_mm(surface: &Surface, point: &Vector3<f64>, cutoff_mm: f64) -> Option<f64> {
    let distance = distance_mm(surface, point, cutoff_mm);
    if surface.round.is_some() || surface.kind != ElementKind::Triangle {
        return Some(distance);
    }
    if !surface.closed || surface.elements.len() > MOST_TRIANGLES_ASKED {
        return None;
    }
    let own = surface.rotation.tr_mul(&(point - surface.origin));
    Some(if is_inside(surface, &own) {
        -distance.abs()
    } else {
        distance
    })
}

/// Distance of a point of the half plane to a closed outline, below zero inside.
fn to_outline(outline: &[[f64; 2]], along: f64, radius: f64) -> f64 {
    let mut nearest = f64::INFINITY;
    let mut inside = false;
    let mut a = outline[outline.len() - 1];
    for b in outline {
        let (d, p) = ([b[0] - a[0], b[1] - a[1]], [along - a[0], radius - a[1]]);
        let length2 = d[0] * d[0] + d[1] * d[1];
        let share = if length2 > 0.0 {
            ((p[0] * d[0] + p[1] * d[1]) / length2).clamp(0.0, 1.0)
        } else {
            0.0
        };
        let off = [p[0] - share * d[0], p[1] - share * d[1]];
        // A piece on the axis bounds nothing.
        if a[1] > 0.0 || b[1] > 0.0 {
            nearest = nearest.min(off[0] * off[0] + off[1] * off[1]);
        }
        // Crossings of the ray along +axis from the point.
        if (a[1] > radius) != (b[1] > radius)
            && along < a[0] + (radius - a[1]) / (b[1] - a[1]) * d[0]
        {
            inside = !inside;
        }
        a = *b;
    }
    let distance = nearest.sqrt();
    if inside { -distance } else { distance }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shapes::Shape;

    /// The facets of a round part are inscribed: its exact distance differs by no more than its facet error.
    #[test]
    fn a_round_parts_distance_is_that_of_its_facets_but_for_their_error() {
        let cup = Shape::Lathe {
            from: Vector3::new(3.0, -20.0, 5.0),
            axis: Vector3::new(0.2, 1.0, -0.1),
            profile: vec![
                [0.0, 0.0],
                [0.0, 46.0],
                [60.0, 46.0],
                [60.0, 37.0],
                [20.0, 30.0],
                [20.0, 0.0],
            ],
        };
        let round = cup.surface(None).expect("a cup");
        assert!(round.round.is_some());
        let mut facets = round.clone();
        facets.round = None;
        for i in 0..2_000 {
            let t = f64::from(i);
            let p = Vector3::new(
                90.0 * (t * 0.37).sin(),
                90.0 * (t * 0.73).sin() + 20.0,
                90.0 * (t * 1.13).cos(),
            );
            let (exact, by_facets) = (
                distance_mm(&round, &p, f64::INFINITY),
                distance_mm(&facets, &p, f64::INFINITY),
            );
            let off = exact.abs() - (by_facets + facets.facet_error_mm);
            assert!(
                off.abs() <= 1.01 * facets.facet_error_mm + 1.0e-9,
                "{p:?}: {exact} {by_facets}"
            );
        }
    }

    #[test]
    fn a_capsule_is_a_line_with_a_radius() {
        let bar = Shape::Capsule {
            from: Vector3::zeros(),
            to: Vector3::new(100.0, 0.0, 0.0),
            radius: 10.0,
        };
        let bar = bar.surface(None).expect("a bar");
        assert!((distance_mm(&bar, &Vector3::new(50.0, 30.0, 40.0), 1.0e9) - 40.0).abs() < 1.0e-12);
        assert!((distance_mm(&bar, &Vector3::new(-3.0, 0.0, 4.0), 1.0e9) + 5.0).abs() < 1.0e-12);
    }
}
