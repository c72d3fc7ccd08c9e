//! Normals that make a mesh look like what it stands for: smooth over round faces, sharp over edges.
//!
//! The idea in three lines. A face's corner takes the mean normal of the faces around it that meet its own at less than
//! the crease angle, weighted by area, so that long thin triangles weigh little. Corners of one vertex that come to the
//! same normal stay one; the others are split. So plates keep their edges and lathes look round.

use nalgebra::Vector3;
use std::collections::HashMap;

/// Faces that meet at less than this are drawn as one round surface, cosine of 40 degrees: facets of lathes
/// and balls meet well below it, edges of plates above.
const CREASE_COS: f64 = 0.766;
/// Corners closer than this are one, mm.
const SAME_MM: f64 = 1.0e-4;

/// A mesh with a normal at each corner.
#[derive(Clone, Debug, Default)]
pub struct Shaded {
    /// The vertex that each corner is at, by number.
    pub vertex_of: Vec<u32>,
    /// Unit normal of each corner.
    pub normals: Vec<[f32; 3]>,
    /// Corner numbers of each triangle, in the order of the triangles given.
    pub triangles: Vec<[u32; 3]>,
}

/// Joins the equal corners of loose triangles; those that have no three corners then are left out.
pub fn weld(triangles: &[[Vector3<f64>; 3]]) -> (Vec<Vector3<f64>>, Vec<[u32; 3]>) {
    let (vertices, mut out) = join(triangles);
    out.retain(|[a, b, c]| a != b && b != c && c != a);
    (vertices, out)
}

/// Joins the equal corners of loose triangles, and keeps every triangle in its place.
pub fn join(triangles: &[[Vector3<f64>; 3]]) -> (Vec<Vector3<f64>>, Vec<[u32; 3]>) {
    let mut numbers: HashMap<[i64; 3], u32> = HashMap::new();
    let mut vertices = Vec::new();
    let joined = triangles.iter().map(|triangle| {
        triangle.map(|p| {
            let key = [p.x, p.y, p.z].map(|c| (c / SAME_MM).round() as i64);
            *numbers.entry(key).or_insert_with(|| {
                vertices.push(p);
                vertices.len() as u32 - 1
            })
        })
    });
    let joined = joined.collect();
    (vertices, joined)
}

/// Gives each corner its normal.
pub fn shade(vertices: &[Vector3<f64>], triangles: &[[u32; 3]]) -> Shaded {
    // A face's normal, as long as twice its area.
    let faces: Vec<Vector3<f64>> = triangles
        .iter()
        .map(|t| {
            let [a, b, c] = t.map(|i| vertices[i as usize]);
            (b - a).cross(&(c - a))
        })
        .collect();
    // Faces around each vertex, one list after the other.
    let mut first = vec![0_u32; vertices.len() + 1];
    for vertex in triangles.iter().flatten() {
        first[*vertex as usize + 1] += 1;
    }
    for i in 0..vertices.len() {
        first[i + 1] += first[i];
    }
    let mut next = first.clone();
    let mut around = vec![0_u32; 3 * triangles.len()];
    for (face, triangle) in triangles.iter().enumerate() {
        for vertex in triangle {
            let at = &mut next[*vertex as usize];
            around[*at as usize] = face as u32;
            *at += 1;
        }
    }
    let mut out = Shaded {
        triangles: triangles.to_vec(),
        ..Shaded::default()
    };
    for vertex in 0..vertices.len() {
        let faces_here = &around[first[vertex] as usize..first[vertex + 1] as usize];
        let first_corner = out.normals.len();
        for face in faces_here {
            let own = faces[*face as usize];
            let sum: Vector3<f64> = faces_here
                .iter()
                .map(|other| faces[*other as usize])
                .filter(|n| n.dot(&own) >= CREASE_COS * n.norm() * own.norm())
                .sum();
            // A face without area takes what is around it; if there is nothing, any direction does.
            let normal = sum.try_normalize(0.0).unwrap_or_else(Vector3::z);
            let normal = [normal.x as f32, normal.y as f32, normal.z as f32];
            // The same faces in the same order: equal to the last bit.
            let known = out.normals[first_corner..]
                .iter()
                .position(|n| *n == normal);
            let corner = known.map_or(out.normals.len(), |i| first_corner + i);
            if known.is_none() {
                out.normals.push(normal);
                out.vertex_of.push(vertex as u32);
            }
            for (to, from) in out.triangles[*face as usize]
                .iter_mut()
                .zip(triangles[*face as usize])
            {
                if from == vertex as u32 {
                    *to = corner as u32;
                }
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shapes::Shape;

    #[test]
    fn a_box_keeps_its_edges_and_a_ball_is_smooth() {
        let cube = Shape::Box {
            centre: Vector3::zeros(),
            size: Vector3::new(10.0, 20.0, 30.0),
            turned: Vector3::zeros(),
        };
        let (vertices, triangles) = weld(&cube.surface(None).unwrap().triangles_in_body());
        let shaded = shade(&vertices, &triangles);
        assert_eq!((vertices.len(), triangles.len()), (8, 12));
        assert_eq!(shaded.normals.len(), 24, "three normals at each corner");
        for normal in &shaded.normals {
            assert_eq!(normal.iter().filter(|c| c.abs() == 1.0).count(), 1);
        }

        let ball = Shape::Ball {
            centre: Vector3::zeros(),
            radius: 40.0,
        };
        let (vertices, triangles) = weld(&ball.surface(None).unwrap().triangles_in_body());
        let shaded = shade(&vertices, &triangles);
        assert_eq!(shaded.normals.len(), vertices.len());
        for (vertex, normal) in shaded.vertex_of.iter().zip(&shaded.normals) {
            let outward = vertices[*vertex as usize].normalize();
            let normal = Vector3::from(normal.map(f64::from));
            assert!(normal.dot(&outward) > 0.99, "{normal} at {outward}");
        }
        for (corners, own) in shaded.triangles.iter().zip(&triangles) {
            assert_eq!(corners.map(|c| shaded.vertex_of[c as usize]), *own);
        }
    }
}
