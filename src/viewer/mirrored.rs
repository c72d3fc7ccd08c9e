//! The other side of a truck of which one side is built: surfaces and placements mirrored, y to -y.

use crate::shapes::Surface;
use crate::suspension::Placement;
use nalgebra::{Matrix3, Vector3};

/// A point of the one side, on the other.
pub fn point(p: &Vector3<f64>) -> Vector3<f64> {
    Vector3::new(p.x, -p.y, p.z)
}

/// A surface of the one side as the other side has it.
pub fn surface(of: &Surface) -> Surface {
    // Mirrored, a face runs round the other way.
    let elements = of.elements.iter().map(|[a, b, c]| [*a, *c, *b]).collect();
    Surface::new(
        rotation(&of.rotation),
        point(&of.origin),
        of.vertices.iter().map(point).collect(),
        elements,
        of.kind,
        of.closed,
    )
    .thickened(of.radius_mm)
    .facetted(of.facet_error_mm)
}

/// Where a body of the other side stands when its twin stands at `of`.
pub fn placement(of: &Placement<f64>) -> Placement<f64> {
    Placement {
        rotation: rotation(&of.rotation),
        anchor_in_body: point(&of.anchor_in_body),
        anchor: point(&of.anchor),
    }
}

/// Mirrored twice, a turn is a turn again.
fn rotation(of: &Matrix3<f64>) -> Matrix3<f64> {
    let mirror = Matrix3::from_diagonal(&Vector3::new(1.0, -1.0, 1.0));
    mirror * of * mirror
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
        let (other, there) = (surface(&own), placement(&at));
        assert!((there.rotation.determinant() - 1.0).abs() < 1.0e-12);
        assert_eq!(other.radius_mm, own.radius_mm);
        for i in 0..own.vertices.len() {
            let seen = point(&at.point(&own.vertex_in_body(i)));
            let stands = there.point(&other.vertex_in_body(i));
            assert!((seen - stands).norm() < 1.0e-9);
        }
    }
}
