//! How near a point is to a part: exact, by the part's own kind.
//!
//! A ball and a capsule are their points and lines with a radius; a round part is its outline turned about its axis, so
//! its distance is that of a point of the half plane to the outline, below zero inside; anything else is its
//! triangles, found through its tree, where inside can't be told from outside.

use crate::clearance::{closest_elements, is_inside};
use crate::shapes::{ElementKind, Surface, Tree};
use nalgebra::Vector3;

/// Corners of a part of triangles that are worth asking whether they lie behind a plane.
const FEW_CORNERS: usize = 40;
/// How far a corner may stand before a plane that it belongs to, by rounding, mm.
const ON_PLANE_MM: f64 = 1.0e-9;

/// A part's nearest place to a point: whether it supports the part is only looked at when asked.
pub struct NearestPlace<'s> {
    surface: &'s Surface,
    /// From the point to the part's solid, mm: below zero inside where that can be known.
    pub distance_mm: f64,
    own: Vector3<f64>,
    at: At,
}

enum At {
    /// On a round part's outline: the way from its nearest point to the point in the half plane, if it isn't inside.
    Outline(Option<[f64; 2]>),
    /// On an element, shape frame.
    Element(Vector3<f64>),
}

impl NearestPlace<'_> {
    /// To a point of the part's body. Beyond `cutoff_mm` any distance above it may be answered.
    pub fn find<'s>(
        surface: &'s Surface,
        point: &Vector3<f64>,
        cutoff_mm: f64,
    ) -> NearestPlace<'s> {
        let own = surface.rotation.tr_mul(&(point - surface.origin));
        let off = surface.reach_mm();
        let (distance, at) = if let Some(round) = &surface.round {
            let radius = (own.x * own.x + own.y * own.y).sqrt();
            let off = surface.radius_mm + round.error_mm;
            let (distance, away) = to_outline(&round.outline, own.z, radius);
            (distance - off, At::Outline(away))
        } else if surface.elements.len() == 1 {
            let element = surface.corners(0);
            let pair = closest_elements(ElementKind::Point, &[own; 3], surface.kind, &element);
            (pair.distance - off, At::Element(pair.b))
        } else {
            let (distance, at) = to_elements(surface, &own, cutoff_mm + off);
            (distance - off, At::Element(at))
        };
        NearestPlace {
            surface,
            distance_mm: distance,
            own,
            at,
        }
    }

    /// Unit, from the part to the point, body coordinates, where the whole part lies behind the plane through its nearest
    /// point: from there on the distance grows at least as the way along it, as it would for a convex part.
    pub fn supporting(&self) -> Option<Vector3<f64>> {
        let (surface, own) = (self.surface, &self.own);
        let normal = match &self.at {
            At::Outline(away) => {
                let round = surface.round.as_ref()?;
                let radius = (own.x * own.x + own.y * own.y).sqrt();
                let [along, outward] = supports_outline(&round.outline, own.z, radius, (*away)?)?;
                // On the axis any way outward is as good.
                let out = if radius > 0.0 {
                    [own.x / radius, own.y / radius]
                } else {
                    [1.0, 0.0]
                };
                Vector3::new(outward * out[0], outward * out[1], along)
            }
            At::Element(at) => {
                let away = own - at;
                let distance = away.norm();
                if !(distance.is_finite() && distance > 0.0) {
                    return None;
                }
                let n = away / distance;
                let vertices = &surface.vertices;
                let behind = match surface.kind {
                    ElementKind::Point | ElementKind::Segment => surface.elements.len() == 1,
                    ElementKind::Triangle => {
                        vertices.len() <= FEW_CORNERS
                            && vertices.iter().all(|v| n.dot(&(v - at)) <= ON_PLANE_MM)
                    }
                };
                behind.then_some(n)?
            }
        };
        Some(surface.rotation * normal)
    }
}

/// Distance to the elements and the nearest point on them, shape frame; infinite beyond the cutoff.
fn to_elements(surface: &Surface, own: &Vector3<f64>, cutoff: f64) -> (f64, Vector3<f64>) {
    let nodes = &surface.tree.nodes;
    let corners = [*own; 3];
    let to_box = |n: u32| {
        let bounds = &nodes[n as usize].bounds;
        ((own - bounds.middle).abs() - bounds.half)
            .sup(&Vector3::zeros())
            .norm()
    };
    let mut stack = [(0.0, 0_u32); 96];
    stack[0] = (to_box(0), 0);
    let mut top = 1;
    let mut found = (f64::INFINITY, *own);
    while top > 0 {
        top -= 1;
        let (bound, n) = stack[top];
        if bound >= found.0.min(cutoff) {
            continue;
        }
        let node = &nodes[n as usize];
        if node.count > 0 {
            for i in node.first..node.first + node.count {
                let element = surface.corners(i as usize);
                let pair = closest_elements(ElementKind::Point, &corners, surface.kind, &element);
                if pair.distance < found.0 {
                    found = (pair.distance, pair.b);
                }
            }
            continue;
        }
        let (a, b) = (node.first, node.first + 1);
        let (x, y) = ((to_box(a), a), (to_box(b), b));
        let (near, far) = if x.0 < y.0 { (x, y) } else { (y, x) };
        stack[top] = far;
        stack[top + 1] = near;
        top += 2;
    }
    found
}

/// A point's distance from a part, below zero inside a mesh too; none where a mesh has no inside.
pub fn signed_distance_mm(surface: &Surface, point: &Vector3<f64>, cutoff_mm: f64) -> Option<f64> {
    let distance = NearestPlace::find(surface, point, cutoff_mm).distance_mm;
    if surface.round.is_some() || surface.kind != ElementKind::Triangle {
        return Some(distance);
    }
    let own = surface.rotation.tr_mul(&(point - surface.origin));
    Some(if holds(surface, &own)? {
        -distance.abs()
    } else {
        distance
    })
}

/// Whether a part's solid holds a point (shape frame); none where that can't be known: a mesh that isn't closed. What is
/// made of points and lines has no inside but its radius.
pub(super) fn holds(surface: &Surface, own: &Vector3<f64>) -> Option<bool> {
    if let Some(round) = &surface.round {
        let radius = (own.x * own.x + own.y * own.y).sqrt();
        return Some(to_outline(&round.outline, own.z, radius).0 < 0.0);
    }
    if surface.kind != ElementKind::Triangle {
        return Some(false);
    }
    let bounds = surface.bounds();
    if !surface.closed {
        return None;
    }
    if ((own - bounds.middle).abs() - bounds.half).max() > 0.0 {
        return Some(false);
    }
    let corners = |e: u32| surface.corners(e as usize);
    Some(match winding_along_rays(&surface.tree, &corners, own) {
        Some(winding) => winding != 0,
        None => is_inside(surface, own),
    })
}

/// Directions of rays: none is along an edge or a face that a person would draw.
const RAYS: [[f64; 3]; 4] = [
    [0.537_12, 0.621_73, 0.570_03],
    [-0.703_31, 0.291_87, 0.648_21],
    [0.187_53, -0.881_47, 0.433_31],
    [-0.414_93, -0.539_17, -0.732_87],
];
/// A ray that passes a triangle's edge, or the plane of one that it runs along, by less than this share of the triangle
/// isn't counted on: another is taken.
const CLEAR_OF_EDGES: f64 = 1.0e-7;

/// How often a closed surface winds about a point: how often a ray from it leaves the surface, less how often it enters.
/// None where every ray comes too near an edge.
pub(super) fn winding_along_rays(
    tree: &Tree,
    corners: &dyn Fn(u32) -> [Vector3<f64>; 3],
    own: &Vector3<f64>,
) -> Option<i32> {
    RAYS.iter()
        .find_map(|way| winding_along(tree, corners, own, &Vector3::from(*way)))
}

fn winding_along(
    tree: &Tree,
    corners: &dyn Fn(u32) -> [Vector3<f64>; 3],
    own: &Vector3<f64>,
    way: &Vector3<f64>,
) -> Option<i32> {
    let mut winding = 0;
    let mut stack = vec![0_u32];
    while let Some(n) = stack.pop() {
        let node = &tree.nodes[n as usize];
        let [mut enters, mut leaves] = [0.0_f64, f64::INFINITY];
        for k in 0..3 {
            let to = node.bounds.middle[k] - own[k];
            let half = node.bounds.half[k] + ON_PLANE_MM;
            let [a, b] = [(to - half) / way[k], (to + half) / way[k]];
            enters = enters.max(a.min(b));
            leaves = leaves.min(a.max(b));
        }
        if enters > leaves {
            continue;
        }
        if node.count == 0 {
            stack.extend([node.first, node.first + 1]);
            continue;
        }
        for e in node.first..node.first + node.count {
            let [a, b, c] = corners(e).map(|p| p - own);
            // Six times the volumes that the ray makes with the edges: all of one sign where it passes inside.
            let parts = [b.cross(&c), c.cross(&a), a.cross(&b)].map(|n| n.dot(way));
            let size = parts.iter().map(|p| p.abs()).sum::<f64>();
            let least = CLEAR_OF_EDGES * size;
            if size == 0.0 {
                // It lies in a plane with the ray, or has no area: its neighbours tell.
                let apart = (b - a).cross(&(c - a)).norm() > 0.0;
                if apart {
                    return None;
                }
                continue;
            }
            if parts.iter().any(|p| *p > least) && parts.iter().any(|p| *p < -least) {
                continue;
            }
            let ahead = a.dot(&(b - a).cross(&(c - a)));
            let sum: f64 = parts.iter().sum();
            if parts.iter().any(|p| p.abs() <= least) {
                // It passes an edge, perhaps behind.
                if sum == 0.0 || ahead / sum >= 0.0 {
                    return None;
                }
                continue;
            }
            if ahead / sum > 0.0 {
                winding += if sum > 0.0 { 1 } else { -1 };
            }
        }
    }
    Some(winding)
}

/// Distance of a point of the half plane to a closed outline, below zero inside, and outside the way from its nearest
/// point.
fn to_outline(outline: &[[f64; 2]], along: f64, radius: f64) -> (f64, Option<[f64; 2]>) {
    let mut nearest = (f64::INFINITY, [0.0; 2]);
    let mut inside = false;
    let mut a = outline[outline.len() - 1];
    for b in outline {
        let (d, p) = ([b[0] - a[0], b[1] - a[1]], [along - a[0], radius - a[1]]);
        let length2 = d[0] * d[0] + d[1] * d[1];
        let reach = p[0] * d[0] + p[1] * d[1];
        let share = if reach <= 0.0 {
            0.0
        } else if reach >= length2 {
            1.0
        } else {
            reach / length2
        };
        let off = [p[0] - share * d[0], p[1] - share * d[1]];
        let square = off[0] * off[0] + off[1] * off[1];
        // A piece on the axis bounds nothing.
        if square < nearest.0 && (a[1] > 0.0 || b[1] > 0.0) {
            nearest = (square, off);
        }
        // Crossings of the ray along +axis from the point.
        if (a[1] > radius) != (b[1] > radius) && (p[0] * d[1] < p[1] * d[0]) == (d[1] > 0.0) {
            inside = !inside;
        }
        a = *b;
    }
    let distance = nearest.0.sqrt();
    if inside {
        (-distance, None)
    } else {
        (distance, Some(nearest.1))
    }
}

/// The unit normal in the half plane, if the whole outline lies behind it at its point nearest to one that is `away`
/// from there.
fn supports_outline(
    outline: &[[f64; 2]],
    along: f64,
    radius: f64,
    away: [f64; 2],
) -> Option<[f64; 2]> {
    let distance = (away[0] * away[0] + away[1] * away[1]).sqrt();
    if distance <= 0.0 {
        return None;
    }
    let n = away.map(|v| v / distance);
    // The far side of a ring lies behind a plane only if it leans outward.
    let touches = [along - away[0], radius - away[1]];
    let behind = n[1] >= 0.0
        && outline
            .iter()
            .all(|c| n[0] * (c[0] - touches[0]) + n[1] * (c[1] - touches[1]) <= ON_PLANE_MM);
    behind.then_some(n)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shapes::Shape;

    /// Rays say what the winding number says, at points all about a ring with a bore and in its material, and at points in
    /// line with corners and edges of a box.
    #[test]
    fn rays_tell_inside_from_outside_as_the_winding_number_does() {
        let ring = Shape::Lathe {
            from: Vector3::new(3.0, -20.0, 5.0),
            axis: Vector3::new(0.2, 1.0, -0.1),
            profile: vec![[0.0, 20.0], [0.0, 46.0], [60.0, 46.0], [60.0, 30.0]],
        };
        let block = Shape::Box {
            centre: Vector3::zeros(),
            size: Vector3::new(20.0, 40.0, 60.0),
            turned: Vector3::zeros(),
        };
        let (mut inside, mut asked) = (0, 0);
        for shape in [ring, block] {
            let mut surface = shape.surface(None).expect("a surface");
            surface.round = None;
            for i in 0..4_000 {
                let t = f64::from(i);
                let p = if i % 2 == 0 {
                    Vector3::new(
                        70.0 * (t * 0.37).sin(),
                        70.0 * (t * 0.73).sin(),
                        70.0 * (t * 1.13).cos(),
                    )
                } else {
                    // In line with the box's corners and middles.
                    Vector3::new(
                        f64::from(i % 9 - 4) * 5.1,
                        f64::from(i / 9 % 9 - 4) * 10.1,
                        f64::from(i / 81 % 9 - 4) * 15.1,
                    )
                };
                // On a face it is neither.
                if to_elements(&surface, &p, f64::INFINITY).0 < 1.0e-9 {
                    continue;
                }
                let expected = is_inside(&surface, &p);
                assert_eq!(holds(&surface, &p), Some(expected), "{p:?}");
                inside += usize::from(expected);
                asked += 1;
            }
        }
        assert!(inside > 400 && asked - inside > 400, "{inside} of {asked}");
    }

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
                NearestPlace::find(&round, &p, f64::INFINITY).distance_mm,
                NearestPlace::find(&facets, &p, f64::INFINITY).distance_mm,
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
        assert!(
            (NearestPlace::find(&bar, &Vector3::new(50.0, 30.0, 40.0), 1.0e9).distance_mm - 40.0)
                .abs()
                < 1.0e-12
        );
        assert!(
            (NearestPlace::find(&bar, &Vector3::new(-3.0, 0.0, 4.0), 1.0e9).distance_mm + 5.0)
                .abs()
                < 1.0e-12
        );
    }

    /// Where a normal is given, distances from elsewhere grow at least as it says.
    #[test]
    fn a_supporting_normal_bounds_the_distance_from_anywhere() {
        let shapes = [
            Shape::Lathe {
                from: Vector3::new(1.0, 2.0, 3.0),
                axis: Vector3::new(0.1, 1.0, 0.3),
                profile: vec![
                    [-40.0, 60.0],
                    [40.0, 60.0],
                    [45.0, 80.0],
                    [30.0, 100.0],
                    [-30.0, 100.0],
                    [-45.0, 80.0],
                ],
            },
            Shape::Box {
                centre: Vector3::new(5.0, -5.0, 0.0),
                size: Vector3::new(60.0, 40.0, 90.0),
                turned: Vector3::new(0.2, 0.4, -0.3),
            },
            Shape::Capsule {
                from: Vector3::zeros(),
                to: Vector3::new(50.0, 20.0, 0.0),
                radius: 12.0,
            },
        ];
        for shape in shapes {
            let surface = shape.surface(None).expect("a shape");
            let place = |i: i32| {
                let t = f64::from(i);
                Vector3::new((t * 0.91).sin(), (t * 0.37).sin(), (t * 0.59).cos()) * 170.0
            };
            let mut supported = 0;
            for i in 0..200 {
                let p = place(i);
                let here = NearestPlace::find(&surface, &p, f64::INFINITY);
                let Some(n) = here.supporting() else { continue };
                supported += 1;
                for j in 0..200 {
                    let q = place(7 * j + 3);
                    let there = NearestPlace::find(&surface, &q, f64::INFINITY).distance_mm;
                    let least = here.distance_mm + n.dot(&(q - p));
                    assert!(
                        there.max(0.0) >= least - 1.0e-6,
                        "{shape:?}: {there} {least}"
                    );
                }
            }
            assert!(supported > 20, "{supported}");
        }
    }
}
