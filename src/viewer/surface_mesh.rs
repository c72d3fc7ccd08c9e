//! Triangles made ready to be drawn: normals smooth over round faces, sharp over edges, as in files.

use super::palette;
use crate::shapes::{join, shade};
use bevy::asset::RenderAssetUsages;
use bevy::color::ColorToComponents;
use bevy::mesh::{Mesh, PrimitiveTopology};
use nalgebra::Vector3;

/// A mesh of triangles, in their own coordinates. Triangles without area are left out.
pub fn mesh(triangles: &[[Vector3<f64>; 3]]) -> Mesh {
    let drawn: Vec<_> = triangles.iter().copied().filter(has_area).collect();
    let (vertices, joined) = join(&drawn);
    let shaded = shade(&vertices, &joined);
    let number = |c: &f64| *c as f32;
    let positions: Vec<[f32; 3]> = drawn
        .iter()
        .flatten()
        .map(|p| [p.x, p.y, p.z].each_ref().map(number))
        .collect();
    let normals: Vec<[f32; 3]> = shaded
        .triangles
        .iter()
        .flatten()
        .map(|corner| shaded.normals[*corner as usize])
        .collect();
    Mesh::new(
        PrimitiveTopology::TriangleList,
        RenderAssetUsages::default(),
    )
    .with_inserted_attribute(Mesh::ATTRIBUTE_POSITION, positions)
    .with_inserted_attribute(Mesh::ATTRIBUTE_NORMAL, normals)
}

fn has_area([a, b, c]: &[Vector3<f64>; 3]) -> bool {
    (b - a).cross(&(c - a)).norm() > 0.0
}

/// The same with a colour at every corner, sRGB.
pub fn coloured_mesh(triangles: &[[Vector3<f64>; 3]], colours: &[[[u8; 3]; 3]]) -> Mesh {
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
