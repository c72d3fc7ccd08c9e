//! What a tyre rolls on of a mesh: the top of what lies within its width, as seen from its side, edge by edge.
//!
//! The idea in five lines. A tyre is a cylinder across the track, so only heights along the track count: each triangle
//! is cut to the tyre's width and seen from the side. Of what is seen only the edges of the cut pieces can be topmost,
//! and a circle rolls over a straight edge in closed form: nothing is sampled, however long an edge is. What lies
//! below other edges all along is left out, strip by strip of the track, since a mesh has far more edges than a tyre can
//! meet.

use nalgebra::Vector3;

/// A straight edge (x, z) to (x, z), x not falling.
pub(super) type Edge = [[f64; 2]; 2];

/// Most strips of the track, and their least width, mm: a long mesh is told apart less finely, never less exactly.
const MOST_STRIPS: f64 = 4_096.0;
/// See [`MOST_STRIPS`].
const LEAST_STRIP_MM: f64 = 3.0;

/// The edges that a tyre between two places across the track may ride on.
pub(super) fn topmost_edges(facets: &[[Vector3<f64>; 3]], across: [f64; 2]) -> Vec<Edge> {
    let mut edges: Vec<Edge> = Vec::new();
    for facet in facets {
        let cut = within(facet, across);
        for i in 0..cut.len() {
            let [a, b] = [cut[i], cut[(i + 1) % cut.len()]].map(|p| [p.x, p.z]);
            // What is below the level ground is never met.
            if a[1].max(b[1]) > 0.0 {
                edges.push(if a[0] <= b[0] { [a, b] } else { [b, a] });
            }
        }
    }
    // Most edges are those of two triangles.
    edges.sort_by(|a, b| {
        let order = |i: usize, k: usize| a[i][k].total_cmp(&b[i][k]);
        let [x, z] = [0, 1].map(|k| order(0, k));
        x.then(z).then(order(1, 0)).then(order(1, 1))
    });
    edges.dedup();
    drop_covered(edges)
}

/// A triangle's part between two places across the track: its corners in order.
fn within(facet: &[Vector3<f64>; 3], [low, high]: [f64; 2]) -> Vec<Vector3<f64>> {
    let mut corners = facet.to_vec();
    // How far a point lies inside of each bound.
    for (bound, sign) in [(low, 1.0), (high, -1.0)] {
        let inside = |p: &Vector3<f64>| sign * (p.y - bound);
        let mut kept = Vec::with_capacity(corners.len() + 1);
        for i in 0..corners.len() {
            let (a, b) = (corners[i], corners[(i + 1) % corners.len()]);
            let (da, db) = (inside(&a), inside(&b));
            if da >= 0.0 {
                kept.push(a);
            }
            if (da < 0.0) != (db < 0.0) {
                kept.push(a + (b - a) * (da / (da - db)));
            }
        }
        corners = kept;
    }
    corners
}

/// An edge's height at a place along the track between its ends; the higher end of an upright one.
fn height_at([a, b]: &Edge, x: f64) -> f64 {
    if b[0] > a[0] {
        a[1] + (b[1] - a[1]) * ((x - a[0]) / (b[0] - a[0])).clamp(0.0, 1.0)
    } else {
        a[1].max(b[1])
    }
}

/// Leaves out what lies below other edges, strip by strip: of each edge the stretch stays from the first strip in which
/// it may be topmost to the last.
fn drop_covered(edges: Vec<Edge>) -> Vec<Edge> {
    let ends = edges
        .iter()
        .fold([f64::INFINITY, f64::NEG_INFINITY], |e, edge| {
            [e[0].min(edge[0][0]), e[1].max(edge[1][0])]
        });
    if edges.is_empty() {
        return edges;
    }
    let width = ((ends[1] - ends[0]) / MOST_STRIPS).max(LEAST_STRIP_MM);
    let strips = ((ends[1] - ends[0]) / width).floor() as usize + 1;
    let from = |strip: usize| ends[0] + strip as f64 * width;
    let strip_of = |x: f64| (((x - ends[0]) / width).floor() as usize).min(strips - 1);
    // In each strip the height that some edge keeps all through it.
    let mut floor = vec![0.0_f64; strips];
    for edge in &edges {
        let (first, last) = (strip_of(edge[0][0]), strip_of(edge[1][0]));
        for (strip, kept) in floor.iter_mut().enumerate().take(last + 1).skip(first) {
            let (a, b) = (from(strip), from(strip + 1));
            if edge[0][0] <= a && b <= edge[1][0] {
                *kept = kept.max(height_at(edge, a).min(height_at(edge, b)));
            }
        }
    }
    let rises = |edge: &Edge, strip: usize| {
        let a = from(strip).max(edge[0][0]);
        let b = from(strip + 1).min(edge[1][0]);
        height_at(edge, a).max(height_at(edge, b)) >= floor[strip]
    };
    let kept = edges.iter().filter_map(|edge| {
        let own = strip_of(edge[0][0])..=strip_of(edge[1][0]);
        let first = own.clone().find(|strip| rises(edge, *strip))?;
        let last = own.rev().find(|strip| rises(edge, *strip))?;
        let cut = |x: f64| [x, height_at(edge, x)];
        let start = if from(first) > edge[0][0] {
            cut(from(first))
        } else {
            edge[0]
        };
        let end = if from(last + 1) < edge[1][0] {
            cut(from(last + 1))
        } else {
            edge[1]
        };
        Some([start, end])
    });
    kept.collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_triangle_is_cut_to_the_tyres_width() {
        let facet = [
            Vector3::new(0.0, -100.0, 50.0),
            Vector3::new(200.0, 100.0, 50.0),
            Vector3::new(0.0, 100.0, 50.0),
        ];
        let cut = within(&facet, [-20.0, 30.0]);
        assert_eq!(cut.len(), 4);
        for p in &cut {
            assert!((-20.0..=30.0).contains(&p.y), "{p}");
        }
        // The slanted side is at x = y + 100 inside the width.
        let furthest = cut.iter().map(|p| p.x).fold(0.0, f64::max);
        assert!((furthest - 130.0).abs() < 1.0e-12, "{furthest}");
        assert!(within(&facet, [101.0, 120.0]).is_empty());
    }

    /// Leaving out what lies below changes no height anywhere.
    #[test]
    fn what_is_left_out_is_nowhere_topmost() {
        let mut seed: u64 = 0x2545_f491_4f6c_dd1d;
        let mut unit = || {
            seed ^= seed << 13;
            seed ^= seed >> 7;
            seed ^= seed << 17;
            (seed >> 11) as f64 / (1_u64 << 53) as f64
        };
        let mut edges: Vec<Edge> = Vec::new();
        for _ in 0..400 {
            let (x, long) = (1_000.0 * unit(), 120.0 * unit() * unit());
            edges.push([[x, 200.0 * unit()], [x + long, 200.0 * unit()]]);
        }
        let top = |edges: &[Edge], x: f64| {
            let over = edges.iter().filter(|e| e[0][0] <= x && x <= e[1][0]);
            over.map(|e| height_at(e, x)).fold(0.0, f64::max)
        };
        let kept = drop_covered(edges.clone());
        let length = |edges: &[Edge]| edges.iter().map(|e| e[1][0] - e[0][0]).sum::<f64>();
        assert!(length(&kept) < 0.6 * length(&edges));
        for i in 0..20_000 {
            let x = 1_100.0 * f64::from(i) / 20_000.0;
            assert!((top(&edges, x) - top(&kept, x)).abs() < 1.0e-9, "{x}");
        }
    }
}
