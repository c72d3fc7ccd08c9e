//! A surface at one level of a sparse grid, by marching tetrahedra.
//!
//! The idea in five lines. Every cube is cut into the six tetrahedra about its main diagonal, the same way in every
//! cube, so neighbours share their faces' cuts. A tetrahedron whose corners differ is cut by one triangle or two, with
//! corners on its edges; an edge's corner is one and the same wherever it is met. Each triangle's edge lies in a face
//! of a tetrahedron and is shared with just one more triangle: the surface is closed and manifold by construction, as
//! long as every cube that it passes through is in the grid.
//!
//! Source: A. Doi, A. Koide, "An efficient method of triangulating equi-valued surfaces by using tetrahedral cells",
//! IEICE Transactions E74(1), 1991 (from memory); the six tetrahedra are those of H. W. Kuhn's subdivision.

use super::keep_out::KeepOut;
use nalgebra::Vector3;
use rustc_hash::FxHashMap;

/// Values at the corners of cubes.
pub(super) struct Grid {
    pub(super) origin: Vector3<f64>,
    pub(super) spacing: f64,
    /// Low corners of the cubes, in steps, and the numbers of their corners (bits: x, y, z).
    pub(super) cubes: Vec<([i32; 3], [u32; 8])>,
    /// Values, by the corners' numbers.
    pub(super) values: Vec<f32>,
}

/// Bits of a key for each axis.
const BITS: u32 = 21;

impl Grid {
    pub(super) fn key(at: [i32; 3]) -> u64 {
        let [x, y, z] = at.map(|v| v as u64);
        x << (2 * BITS) | y << BITS | z
    }

    pub(super) fn steps(key: u64) -> [i32; 3] {
        let mask = (1 << BITS) - 1;
        [
            (key >> (2 * BITS)) as i32,
            (key >> BITS & mask) as i32,
            (key & mask) as i32,
        ]
    }
}

/// Corners of a cube (bits: x, y, z) on the six ways along edges from 0 to 7.
const TETRAHEDRA: [[usize; 4]; 6] = [
    [0, 1, 3, 7],
    [0, 3, 2, 7],
    [0, 2, 6, 7],
    [0, 6, 4, 7],
    [0, 4, 5, 7],
    [0, 5, 1, 7],
];
/// A surface corner keeps this share of an edge from both its ends, so that no two meet.
pub(super) const OFF_ENDS: f64 = 1.0e-3;

/// The surface where values pass `level`, outward toward larger ones; closed hollows inside are left out.
pub(super) fn march(grid: &Grid, level: f64) -> KeepOut {
    let mut vertices: Vec<Vector3<f64>> = Vec::new();
    let mut triangles: Vec<[u32; 3]> = Vec::new();
    let mut on_edge: FxHashMap<(u32, u32), u32> = FxHashMap::default();
    for (low, numbers) in &grid.cubes {
        let value = |i: usize| f64::from(grid.values[numbers[i] as usize]);
        let inside = |i: usize| value(i) < level;
        let first = inside(0);
        if (1..8).all(|i| inside(i) == first) {
            continue;
        }
        let place = |i: usize| {
            let steps = Vector3::from([0, 1, 2].map(|k| f64::from(low[k] + (i as i32 >> k & 1))));
            grid.origin + steps * grid.spacing
        };
        let mut cut = |a: usize, b: usize| -> u32 {
            // Always from the same end, so that rounding is the same wherever the edge is met.
            let (a, b) = if numbers[a] < numbers[b] {
                (a, b)
            } else {
                (b, a)
            };
            *on_edge.entry((numbers[a], numbers[b])).or_insert_with(|| {
                let share = (level - value(a)) / (value(b) - value(a));
                let share = share.clamp(OFF_ENDS, 1.0 - OFF_ENDS);
                vertices.push(place(a).lerp(&place(b), share));
                (vertices.len() - 1) as u32
            })
        };
        for tetrahedron in TETRAHEDRA {
            let (inner, outer): (Vec<usize>, Vec<usize>) =
                tetrahedron.into_iter().partition(|i| inside(*i));
            let mut add = |corners: [u32; 3], places: [Vector3<f64>; 3]| {
                // Outward: away from what is inside.
                let normal = (places[1] - places[0]).cross(&(places[2] - places[0]));
                let out = place(outer[0]) - place(inner[0]);
                let [a, b, c] = corners;
                triangles.push(if normal.dot(&out) >= 0.0 {
                    [a, b, c]
                } else {
                    [a, c, b]
                });
            };
            // Which way a triangle faces is told by the edges' middles, where rounding can't turn it.
            let middle = |a: usize, b: usize| (place(a) + place(b)) * 0.5;
            match (inner.as_slice(), outer.as_slice()) {
                ([a], [p, q, r]) => add(
                    [cut(*a, *p), cut(*a, *q), cut(*a, *r)],
                    [middle(*a, *p), middle(*a, *q), middle(*a, *r)],
                ),
                ([p, q, r], [a]) => add(
                    [cut(*a, *p), cut(*a, *q), cut(*a, *r)],
                    [middle(*a, *p), middle(*a, *q), middle(*a, *r)],
                ),
                ([a, b], [p, q]) => {
                    let (ap, aq) = (cut(*a, *p), cut(*a, *q));
                    let (bp, bq) = (cut(*b, *p), cut(*b, *q));
                    let (map, maq) = (middle(*a, *p), middle(*a, *q));
                    let (mbp, mbq) = (middle(*b, *p), middle(*b, *q));
                    add([ap, aq, bq], [map, maq, mbq]);
                    add([ap, bq, bp], [map, mbq, mbp]);
                }
                _ => {}
            }
        }
    }
    without_hollows(vertices, triangles)
}

/// Drops closed pieces that face inward: hollows that nothing from outside reaches.
fn without_hollows(vertices: Vec<Vector3<f64>>, triangles: Vec<[u32; 3]>) -> KeepOut {
    let mut parent: Vec<u32> = (0..vertices.len() as u32).collect();
    fn root(parent: &mut [u32], mut i: u32) -> u32 {
        while parent[i as usize] != i {
            parent[i as usize] = parent[parent[i as usize] as usize];
            i = parent[i as usize];
        }
        i
    }
    for [a, b, c] in &triangles {
        for other in [b, c] {
            let (x, y) = (root(&mut parent, *a), root(&mut parent, *other));
            parent[x.max(y) as usize] = x.min(y);
        }
    }
    let mut volumes: FxHashMap<u32, f64> = FxHashMap::default();
    let piece: Vec<u32> = triangles.iter().map(|t| root(&mut parent, t[0])).collect();
    for (t, piece) in triangles.iter().zip(&piece) {
        let [a, b, c] = t.map(|i| vertices[i as usize]);
        *volumes.entry(*piece).or_default() += a.dot(&b.cross(&c)) / 6.0;
    }
    let mut out = KeepOut {
        pieces: volumes.values().filter(|v| **v > 0.0).count(),
        hollows_filled: volumes.values().filter(|v| **v <= 0.0).count(),
        ..KeepOut::default()
    };
    // In the order of triangles, so that the sum is the same from run to run.
    let mut kept: Vec<u32> = vec![u32::MAX; vertices.len()];
    for (t, piece) in triangles.iter().zip(&piece) {
        if volumes[piece] <= 0.0 {
            continue;
        }
        let corners = t.map(|i| {
            if kept[i as usize] == u32::MAX {
                kept[i as usize] = out.vertices.len() as u32;
                out.vertices.push(vertices[i as usize]);
            }
            kept[i as usize]
        });
        let [a, b, c] = t.map(|i| vertices[i as usize]);
        out.volume_mm3 += a.dot(&b.cross(&c)) / 6.0;
        out.triangles.push(corners);
    }
    out
}
