//! Whether two parts are one: of the same shape, at the same place.
//!
//! Corners alone don't say: a ball has one whatever its radius, and the same corners may be joined to a bar or to a tube.
//! So what they are joined to counts too: element by element where both are drawn in one order, else by area, volume and
//! their first moments, which are the same however flat faces are cut into triangles.

use super::{ElementKind, Surface};
use crate::suspension::Placement;
use nalgebra::{Matrix3, Vector3};
use std::collections::HashMap;

/// Points of two parts within this are at the same place, mm: half of the last digit that is printed.
pub const SAME_PLACE_MM: f64 = 0.05;

/// Vehicle from shape coordinates.
fn placed(surface: &Surface, at: &Placement<f64>) -> (Matrix3<f64>, Vector3<f64>) {
    (at.rotation * surface.rotation, at.point(&surface.origin))
}

/// Whether a part stands in one place under two placements of its body.
pub fn moved_alike(surface: &Surface, a: &Placement<f64>, b: &Placement<f64>) -> bool {
    let ((turn_a, a), (turn_b, b)) = (placed(surface, a), placed(surface, b));
    let (turn, shift) = (turn_a - turn_b, a - b);
    let near = |v: &Vector3<f64>| (turn * v + shift).norm() <= SAME_PLACE_MM;
    // Between the corners of its box no point is shifted further than at one of them.
    let bounds = surface.bounds();
    let corners = (0..8).map(|i| {
        let sign = |k: usize| if i >> k & 1 == 0 { -1.0 } else { 1.0 };
        let half = Vector3::new(sign(0), sign(1), sign(2)).component_mul(&bounds.half);
        bounds.middle + half
    });
    corners.into_iter().all(|c| near(&c)) || surface.vertices.iter().all(near)
}

/// Whether two placed parts are one: all corners within [`SAME_PLACE_MM`], in whatever order.
pub fn in_same_place(
    a: &Surface,
    at_a: &Placement<f64>,
    b: &Surface,
    at_b: &Placement<f64>,
) -> bool {
    in_place_within((a, at_a), (b, at_b), SAME_PLACE_MM)
}

/// Whether two placed parts are one solid: all corners within a distance, in whatever order, and joined to the same.
pub fn in_place_within(
    (a, at_a): (&Surface, &Placement<f64>),
    (b, at_b): (&Surface, &Placement<f64>),
    within_mm: f64,
) -> bool {
    if a.kind != b.kind
        || a.vertices.len() != b.vertices.len()
        || a.elements.len() != b.elements.len()
        || a.closed != b.closed
        || (a.radius_mm - b.radius_mm).abs() > within_mm
        || (a.facet_error_mm - b.facet_error_mm).abs() > within_mm
    {
        return false;
    }
    let ((turn_a, from_a), (turn_b, from_b)) = (placed(a, at_a), placed(b, at_b));
    let in_order = a
        .vertices
        .iter()
        .zip(&b.vertices)
        .all(|(a, b)| (turn_a * a + from_a - turn_b * b - from_b).norm() <= within_mm);
    if in_order && joined_alike(a, b) {
        return true;
    }
    // A mirrored lathe has its corners the other way round.
    let placed_a: Vec<_> = a.vertices.iter().map(|v| turn_a * v + from_a).collect();
    let placed_b: Vec<_> = b.vertices.iter().map(|v| turn_b * v + from_b).collect();
    if !in_order && !near_each_other(&placed_a, &placed_b, within_mm) {
        return false;
    }
    match a.kind {
        ElementKind::Point => true,
        // A bar's corners are joined in one way; more of them may be joined in several.
        ElementKind::Segment => a.elements.len() == 1,
        ElementKind::Triangle => {
            let middle = placed_a.iter().sum::<Vector3<f64>>() / placed_a.len().max(1) as f64;
            let of_a = Moments::of(a, &placed_a, &middle);
            of_a.is_near(&Moments::of(b, &placed_b, &middle), within_mm)
        }
    }
}

/// Whether two surfaces join corners of the same numbers, whichever way their elements are put into order.
pub fn joined_alike(a: &Surface, b: &Surface) -> bool {
    a.elements == b.elements || {
        // A triangle's corners run round from any of them.
        let sorted = |surface: &Surface| {
            let mut all: Vec<[u32; 3]> = surface.elements.clone();
            for element in &mut all {
                let least = (0..3).min_by_key(|i| element[*i]).unwrap_or(0);
                element.rotate_left(least);
            }
            all.sort_unstable();
            all
        };
        sorted(a) == sorted(b)
    }
}

/// Area, volume, and the first moments of both about a point near the surface.
struct Moments {
    area: f64,
    of_area: Vector3<f64>,
    volume: f64,
    of_volume: Vector3<f64>,
    /// No corner is further from the point, mm.
    size: f64,
}

impl Moments {
    fn of(surface: &Surface, corners: &[Vector3<f64>], about: &Vector3<f64>) -> Moments {
        let mut out = Moments {
            area: 0.0,
            of_area: Vector3::zeros(),
            volume: 0.0,
            of_volume: Vector3::zeros(),
            size: 0.0,
        };
        for element in &surface.elements {
            let [a, b, c] = element.map(|i| corners[i as usize] - about);
            let area = 0.5 * (b - a).cross(&(c - a)).norm();
            let volume = a.dot(&b.cross(&c)) / 6.0;
            let sum = a + b + c;
            out.area += area;
            out.of_area += sum * (area / 3.0);
            out.volume += volume;
            out.of_volume += sum * (0.25 * volume);
            out.size = out.size.max(a.norm()).max(b.norm()).max(c.norm());
        }
        out
    }

    /// Whether the difference is no more than corners moved by `within_mm` can make: a triangle of corners within `size`
    /// gains at most its sides' lengths times that in area (each below twice the size), a solid its area times that in
    /// volume; the first moments as much times the size.
    fn is_near(&self, other: &Moments, within_mm: f64) -> bool {
        let size = self.size.max(other.size);
        let area = self.area.max(other.area);
        // Rounding of the sums, as a share: a million triangles of full digits.
        let rounding = 1.0e-9 * area;
        let area_mm2 = 4.0 * within_mm * (area.sqrt() + size) + rounding;
        let volume_mm3 = within_mm * area + rounding * size;
        (self.area - other.area).abs() <= area_mm2
            && (self.of_area - other.of_area).norm() <= 2.0 * size * area_mm2
            && (self.volume - other.volume).abs() <= volume_mm3
            && (self.of_volume - other.of_volume).norm() <= 2.0 * size * volume_mm3
    }
}

/// Whether each point of either list has one of the other within a distance.
fn near_each_other(a: &[Vector3<f64>], b: &[Vector3<f64>], within_mm: f64) -> bool {
    let bounds = |points: &[Vector3<f64>]| {
        let far = Vector3::repeat(f64::INFINITY);
        let grow =
            |(low, high): (Vector3<f64>, Vector3<f64>), p: &Vector3<f64>| (low.inf(p), high.sup(p));
        points.iter().fold((far, -far), grow)
    };
    // Most parts that differ are told by this, in every frame that is drawn.
    let ((low_a, high_a), (low_b, high_b)) = (bounds(a), bounds(b));
    if (low_a - low_b).amax().max((high_a - high_b).amax()) > within_mm {
        return false;
    }
    let cell = |p: &Vector3<f64>| [p.x, p.y, p.z].map(|c| (c / within_mm).floor() as i64);
    let all_near = |points: &[Vector3<f64>], to: &[Vector3<f64>]| {
        let mut cells: HashMap<[i64; 3], Vec<&Vector3<f64>>> = HashMap::new();
        for p in to {
            cells.entry(cell(p)).or_default().push(p);
        }
        points.iter().all(|p| {
            let [x, y, z] = cell(p);
            (0..27).any(|k| {
                let near = [x + k % 3 - 1, y + k / 3 % 3 - 1, z + k / 9 - 1];
                let there = cells.get(&near);
                there.is_some_and(|list| list.iter().any(|q| (p - *q).norm() <= within_mm))
            })
        })
    };
    all_near(a, b) && all_near(b, a)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shapes::Shape;

    fn bar(to_x: f64) -> Surface {
        let shape = Shape::Cone {
            from: Vector3::new(0.0, 300.0, 40.0),
            to: Vector3::new(to_x, 700.0, 90.0),
            radius_from: 12.0,
            radius_to: 12.0,
        };
        shape.surface(None).expect("a cone has a surface")
    }

    fn shifted(by: f64) -> Placement<f64> {
        Placement {
            anchor: Vector3::new(0.0, 0.0, by),
            ..Placement::identity()
        }
    }

    #[test]
    fn a_part_is_the_same_within_the_tolerance_and_not_beyond() {
        let rest = Placement::identity();
        let part = bar(20.0);
        for (by, same) in [(0.0, true), (0.049, true), (0.051, false), (25.0, false)] {
            assert_eq!(moved_alike(&part, &rest, &shifted(by)), same, "{by}");
            assert_eq!(in_same_place(&part, &rest, &bar(20.0), &shifted(by)), same);
        }
        // Its own shape counts too, and where it is compared to another number of corners.
        assert!(in_same_place(&part, &rest, &bar(20.04), &rest));
        assert!(!in_same_place(&part, &rest, &bar(21.0), &rest));
    }

    #[test]
    fn a_round_part_mirrored_is_found_the_same_though_its_corners_run_the_other_way() {
        let across = |y: f64| {
            let shape = Shape::Cone {
                from: Vector3::new(5.0, y, 40.0),
                to: Vector3::new(5.0, 2.0 * y, 40.0),
                radius_from: 30.0,
                radius_to: 20.0,
            };
            shape.surface(None).expect("a cone has a surface")
        };
        let rest = Placement::identity();
        let mirror = across(300.0).mirrored();
        assert!(in_same_place(&mirror, &rest, &across(-300.0), &rest));
        assert!(!in_same_place(&mirror, &rest, &across(-301.0), &rest));
    }
}
