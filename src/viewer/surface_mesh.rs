//! Triangles made ready to be drawn: normals smooth over round faces, sharp over edges.

use super::palette;
use bevy::asset::RenderAssetUsages;
use bevy::color::ColorToComponents;
use bevy::mesh::{Mesh, PrimitiveTopology};
use nalgebra::Vector3;
use std::collections::HashMap;

/// Faces that meet at less than this are drawn as one round surface, cosine of 40 degrees: facets of lathes
/// and balls meet well below it, edges of plates above.
const CREASE_COS: f64 = 0.766;
/// Corners closer than this are one, mm.
const SAME_MM: f64 = 1.0e-4;

/// A mesh of triangles, in their own coordinates.
pub fn mesh(triangles: &[[Vector3<f64>; 3]]) -> Mesh {
    let mut positions = Vec::with_capacity(triangles.len() * 3);
    let mut normals = Vec::with_capacity(triangles.len() * 3);
    // Face normals scaled by area: long thin triangles weigh little.
    let faces: Vec<Vector3<f64>> = triangles
        .iter()
        .map(|[a, b, c]| (b - a).cross(&(c - a)))
        .collect();
    let key = |p: &Vector3<f64>| [p.x, p.y, p.z].map(|c| (c / SAME_MM).round() as i64);
    let mut at_corner: HashMap<[i64; 3], Vec<usize>> = HashMap::new();
    for (face, corners) in triangles.iter().enumerate() {
        for corner in corners {
            at_corner.entry(key(corner)).or_default().push(face);
        }
    }
    for (face, corners) in triangles.iter().enumerate() {
        let own = faces[face];
        if own.norm() == 0.0 {
            continue;
        }
        for corner in corners {
            let mut normal = Vector3::zeros();
            for other in &at_corner[&key(corner)] {
                let n = faces[*other];
                if n.dot(&own) >= CREASE_COS * n.norm() * own.norm() {
                    normal += n;
                }
            }
            let normal = normal.try_normalize(0.0).unwrap_or_else(|| own.normalize());
            positions.push([corner.x as f32, corner.y as f32, corner.z as f32]);
            normals.push([normal.x as f32, normal.y as f32, normal.z as f32]);
        }
    }
    Mesh::new(
        PrimitiveTopology::TriangleList,
        RenderAssetUsages::default(),
    )
    .with_inserted_attribute(Mesh::ATTRIBUTE_POSITION, positions)
    .with_inserted_attribute(Mesh::ATTRIBUTE_NORMAL, normals)
}

/// The same with a colour at every corner, sRGB.
pub fn coloured_mesh(triangles: &[[Vector3<f64>; 3]], colours: &[[[u8; 3]; 3]]) -> Mesh {
    // Triangles without area aren't drawn.
    let has_area = |[a, b, c]: &[Vector3<f64>; 3]| (b - a).cross(&(c - a)).norm() > 0.0;
    let (drawn, colours): (Vec<_>, Vec<&[[u8; 3]; 3]>) = triangles
        .iter()
        .copied()
        .zip(colours)
        .filter(|(triangle, _)| has_area(triangle))
        .unzip();
    let colours: Vec<[f32; 4]> = colours
        .into_iter()
        .flatten()
        .map(|rgb| palette::color(*rgb).to_linear().to_f32_array())
        .collect();
    mesh(&drawn).with_inserted_attribute(Mesh::ATTRIBUTE_COLOR, colours)
}

#[cfg(test)]
mod tests {
    use super::*;
    use bevy::mesh::VertexAttributeValues;

    fn normals(triangles: &[[Vector3<f64>; 3]]) -> Vec<Vector3<f64>> {
        let mesh = mesh(triangles);
        let Some(VertexAttributeValues::Float32x3(values)) = mesh.attribute(Mesh::ATTRIBUTE_NORMAL)
        else {
            panic!("a mesh has normals");
        };
        values
            .iter()
            .map(|n| Vector3::new(n[0].into(), n[1].into(), n[2].into()))
            .collect()
    }

    #[test]
    fn a_square_edge_stays_sharp_and_a_shallow_one_is_rounded() {
        let fold = |rise: f64| {
            let (a, b) = (Vector3::zeros(), Vector3::new(0.0, 10.0, 0.0));
            let (c, d) = (Vector3::new(10.0, 0.0, 0.0), Vector3::new(-10.0, 0.0, rise));
            [[a, c, b], [a, b, d]]
        };
        let sharp = normals(&fold(100.0));
        assert!((sharp[0] - Vector3::z()).norm() < 1.0e-6);
        let round = normals(&fold(1.0));
        assert!(
            (round[0] - round[3]).norm() < 1.0e-6,
            "one normal along the fold"
        );
        assert!((round[0] - Vector3::z()).norm() > 0.01);
        assert!(
            (round[1] - Vector3::z()).norm() < 1.0e-6,
            "its own away from it"
        );
    }
}
