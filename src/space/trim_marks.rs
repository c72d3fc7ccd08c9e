//! Trim marks: where on a part the required gap is missing, as outlines to scribe.
//!
//! The line on which the gap is just kept crosses edges at known points; in each face two of them are joined, and the
//! pieces are chained. A patch that goes round a sharp edge is drawn on a sheet for each smooth side, as it is scribed: each
//! sheet is the plane that fits that side, seen from outside, with the side's own edges as a reference to lay it on by.

use super::clearance_map::ClearanceMap;
use super::part_mesh::{Edge, edge, edges};
use super::patches::{Patch, smooth_regions};
use nalgebra::Vector3;
use std::collections::{BTreeMap, HashMap};

type V = Vector3<f64>;

/// A polyline on the part, vehicle coordinates as measured, mm.
#[derive(Clone, Debug, PartialEq)]
pub struct Outline {
    /// Its points.
    pub points: Vec<V>,
    /// Whether the last is joined to the first.
    pub closed: bool,
}

/// A plane with its axes: what lies on it is drawn as seen from outside the part.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sheet {
    /// A point of it.
    pub origin: V,
    /// To the right as seen from outside.
    pub right: V,
    /// Upward on the sheet.
    pub up: V,
    /// Out of the part.
    pub out: V,
}

/// The outlines of one smooth side of a patch.
#[derive(Clone, Debug, PartialEq)]
pub struct TrimMark {
    /// Number of the patch.
    pub patch: usize,
    /// Where to cut.
    pub outlines: Vec<Outline>,
    /// Short strokes from the outlines into what goes: an outline that ends at the part's edge has no inside.
    pub waste: Vec<[V; 2]>,
    /// Edges of the part around that side.
    pub part_edges: Vec<Outline>,
    /// The plane that fits.
    pub sheet: Sheet,
    /// How far the outlines lie off that plane, mm.
    pub off_plane_mm: f64,
}

/// Faces that turn by less than this are one side, degrees.
const MOST_TURN_DEG: f64 = 30.0;
/// A patch in more pieces than this (a rough scan) is drawn on one sheet, without the part's edges.
const MOST_SIDES: usize = 24;
/// Points that lie this near the straight line between their neighbours are left out, mm.
const STRAIGHT_MM: f64 = 0.01;
/// Strokes into what goes: how far apart at least, and how long, mm.
const STROKES_APART_MM: f64 = 6.0;
const STROKE_MM: f64 = 2.5;
/// A direction is drawn as up where at least this much of it lies in the sheet.
const LIES_IN_SHEET: f64 = 0.3;

impl Outline {
    /// Its length, mm.
    pub fn length_mm(&self) -> f64 {
        let closing = self
            .closed
            .then(|| (self.points[self.points.len() - 1], self.points[0]));
        let pairs = self.points.windows(2).map(|w| (w[0], w[1]));
        pairs.chain(closing).map(|(a, b)| (b - a).norm()).sum()
    }
}

impl TrimMark {
    /// Length of its outlines, mm.
    pub fn length_mm(&self) -> f64 {
        self.outlines.iter().map(Outline::length_mm).sum()
    }
}

impl Sheet {
    /// A point as drawn: right, up.
    pub fn flat(&self, p: &V) -> [f64; 2] {
        let d = p - self.origin;
        [d.dot(&self.right), d.dot(&self.up)]
    }

    /// Through a point, square to a direction; up on the sheet is up, or forward where the sheet lies flat.
    fn square_to(out: V, origin: V) -> Sheet {
        let in_sheet = |d: V| d - out * d.dot(&out);
        let up = [V::z(), V::x()]
            .map(in_sheet)
            .into_iter()
            .find(|d| d.norm() > LIES_IN_SHEET)
            .unwrap_or_else(|| in_sheet(V::y()))
            .normalize();
        Sheet {
            origin,
            right: up.cross(&out),
            up,
            out,
        }
    }
}

/// Joins pieces at their ends into polylines: numbers of their ends in order, and whether they close.
fn chained(pieces: &[(u32, u32)]) -> Vec<(Vec<u32>, bool)> {
    let mut at: BTreeMap<u32, Vec<usize>> = BTreeMap::new();
    for (n, (a, b)) in pieces.iter().enumerate() {
        at.entry(*a).or_default().push(n);
        at.entry(*b).or_default().push(n);
    }
    let mut used = vec![false; pieces.len()];
    let mut out = Vec::new();
    // From loose ends first, so that what is left is closed.
    let loose = at.iter().filter(|(_, p)| p.len() % 2 == 1).map(|(k, _)| *k);
    let starts: Vec<u32> = loose.chain(at.keys().copied()).collect();
    for start in starts {
        let next = |from: u32, used: &[bool]| at[&from].iter().copied().find(|p| !used[*p]);
        let mut points = vec![start];
        let mut here = start;
        while let Some(piece) = next(here, &used) {
            used[piece] = true;
            let (a, b) = pieces[piece];
            here = if a == here { b } else { a };
            if here == start {
                break;
            }
            points.push(here);
        }
        if points.len() > 1 {
            let closed = here == start;
            out.push((points, closed));
        }
    }
    out
}

/// Leaves out points on straight stretches.
fn straightened(points: Vec<V>, closed: bool) -> Outline {
    let count = points.len();
    let mut kept: Vec<V> = Vec::with_capacity(count);
    for i in 0..count {
        let ends = i == 0 || i + 1 == count;
        if let (false, Some(before)) = (ends, kept.last()) {
            let (way, own) = (points[i + 1] - before, points[i] - before);
            let along = way.norm();
            let ahead = own.dot(&way) > 0.0;
            if along > 0.0 && ahead && own.cross(&way).norm() < STRAIGHT_MM * along {
                continue;
            }
        }
        kept.push(points[i]);
    }
    Outline {
        points: kept,
        closed,
    }
}

/// The pieces of the line in some faces, as ends on edges.
fn line_pieces(map: &ClearanceMap, faces: &[u32]) -> Vec<(Edge, Edge)> {
    let mut out = Vec::new();
    for t in faces {
        let own = edges(map.mesh.triangles[*t as usize]);
        let crossed: Vec<Edge> = own
            .into_iter()
            .filter(|e| map.line.contains_key(e))
            .collect();
        if let [a, b] = crossed[..] {
            out.push((a, b));
        }
    }
    out
}

/// Strokes into what goes, in faces that the line crosses: square to it, toward the corners where the gap is missing.
fn strokes(map: &ClearanceMap, faces: &[u32]) -> Vec<[V; 2]> {
    let mut out: Vec<[V; 2]> = Vec::new();
    for t in faces {
        let corners = map.mesh.triangles[*t as usize];
        let ends: Vec<V> = edges(corners)
            .iter()
            .filter_map(|e| map.line.get(e).copied())
            .collect();
        let [a, b] = ends[..] else { continue };
        let middle = (a + b) / 2.0;
        let missing = corners.iter().filter(|c| {
            let spot = &map.at_point[**c as usize];
            spot.to.is_some() && spot.room_mm < 0.0
        });
        let Some(toward) = missing
            .map(|c| map.mesh.points[*c as usize] - middle)
            .next()
        else {
            continue;
        };
        let along = (b - a).try_normalize(0.0);
        let square = along.map(|n| toward - n * n.dot(&toward));
        let Some(way) = square.and_then(|v| v.try_normalize(1.0e-9)) else {
            continue;
        };
        if out
            .iter()
            .all(|s| (s[0] - middle).norm() >= STROKES_APART_MM)
        {
            out.push([middle, middle + way * STROKE_MM]);
        }
    }
    out
}

/// Outlines of every violated patch.
pub fn trim_marks(map: &ClearanceMap) -> Vec<TrimMark> {
    if map.line.is_empty() {
        return Vec::new();
    }
    let regions = smooth_regions(map, MOST_TURN_DEG);
    let mut marks = Vec::new();
    for (n, patch) in map.patches.iter().enumerate().filter(|(_, p)| p.violated) {
        let mut sides: BTreeMap<u32, Vec<u32>> = BTreeMap::new();
        for t in &patch.faces {
            sides.entry(regions[*t as usize]).or_default().push(*t);
        }
        if sides.len() > MOST_SIDES {
            marks.extend(mark(map, n, patch, &patch.faces, None));
            continue;
        }
        for (region, faces) in &sides {
            marks.extend(mark(map, n, patch, faces, Some((&regions, *region))));
        }
    }
    marks
}

/// One side's mark; none where the line doesn't cross it.
fn mark(
    map: &ClearanceMap,
    number: usize,
    patch: &Patch,
    faces: &[u32],
    side: Option<(&[u32], u32)>,
) -> Option<TrimMark> {
    let pieces = line_pieces(map, faces);
    if pieces.is_empty() {
        return None;
    }
    let mut number_of: HashMap<Edge, u32> = HashMap::new();
    let mut ends: Vec<V> = Vec::new();
    let numbered: Vec<(u32, u32)> = pieces
        .iter()
        .map(|(a, b)| {
            let mut number = |e: &Edge| {
                *number_of.entry(*e).or_insert_with(|| {
                    ends.push(map.line[e]);
                    ends.len() as u32 - 1
                })
            };
            (number(a), number(b))
        })
        .collect();
    let outlines: Vec<Outline> = chained(&numbered)
        .into_iter()
        .map(|(chain, closed)| {
            straightened(chain.iter().map(|i| ends[*i as usize]).collect(), closed)
        })
        .collect();
    let part_edges = side.map_or(Vec::new(), |(regions, region)| {
        let borders: Vec<(u32, u32)> = border(map, regions, region);
        chained(&borders)
            .into_iter()
            .map(|(chain, closed)| {
                let points = chain.iter().map(|i| map.mesh.points[*i as usize]);
                straightened(points.collect(), closed)
            })
            .collect()
    });
    let normal: V = faces
        .iter()
        .map(|t| map.mesh.area_normal(*t as usize))
        .sum();
    // A rough patch may face every way: its tightest face says which is out.
    let fallback = || {
        let own = map.mesh.area_normal(patch.tightest_face as usize);
        own.try_normalize(0.0).unwrap_or_else(V::z)
    };
    let out = normal.try_normalize(1.0e-9).unwrap_or_else(fallback);
    let points = || outlines.iter().flat_map(|o| &o.points);
    let count = points().count() as f64;
    let sheet = Sheet::square_to(out, points().sum::<V>() / count);
    let off_plane_mm = points()
        .map(|p| (p - sheet.origin).dot(&out).abs())
        .fold(0.0, f64::max);
    Some(TrimMark {
        patch: number,
        off_plane_mm,
        outlines,
        waste: strokes(map, faces),
        part_edges,
        sheet,
    })
}

/// Edges of a smooth side beyond which the part turns away or ends.
fn border(map: &ClearanceMap, regions: &[u32], region: u32) -> Vec<(u32, u32)> {
    let mut beside: BTreeMap<Edge, u32> = BTreeMap::new();
    for (triangle, own) in map.mesh.triangles.iter().zip(regions) {
        if *own == region {
            for e in edges(*triangle) {
                *beside.entry(e).or_default() += 1;
            }
        }
    }
    beside.retain(|_, n| *n == 1);
    beside.into_keys().map(|(a, b)| edge(a, b)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pieces_are_chained_open_and_closed() {
        let open = chained(&[(3, 4), (1, 2), (2, 3)]);
        assert_eq!(open, [(vec![1, 2, 3, 4], false)]);
        let closed = chained(&[(7, 5), (5, 6), (6, 7)]);
        assert_eq!(closed.len(), 1);
        assert!(closed[0].1 && closed[0].0.len() == 3);
    }

    #[test]
    fn a_sheet_is_seen_from_outside() {
        let bottom = Sheet::square_to(-V::z(), V::zeros());
        assert_eq!((bottom.up, bottom.right), (V::x(), V::y()));
        let left = Sheet::square_to(V::y(), V::zeros());
        assert_eq!((left.up, left.right), (V::z(), -V::x()));
    }
}
