//! Trim marks: what to cut off a part so that every required gap is kept, as outlines to scribe.
//!
//! The faces of a patch alone don't tell: in a plate thicker than what comes near, more has to go in the middle than either
//! face shows. So an outline is drawn around the shadow of all the material that lies too near (see [`super::too_near`]),
//! as it falls square on a sheet, and the sheet says how deep to cut. A patch that goes round a sharp edge has a sheet for
//! each smooth side, as it is scribed: the plane that fits that side, seen from outside, with the side's own edges as a
//! reference to lay it on by. A cut along any one sheet is enough for its patch.
//!
//! Outlines hold the shadow whole: squares of a raster that a cube's shadow meets count as dark, an outline keeps 0.35 of a
//! square away from them, and it is smoothed by no more than that.

use super::clearance_map::ClearanceMap;
use super::part_mesh::{Edge, edge, edges};
use super::patches::{Patch, smooth_regions};
use super::too_near::{PatchSide, TooNear};
use nalgebra::{Vector2, Vector3};
use std::collections::BTreeMap;

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
    /// Where to cut, on the sheet.
    pub outlines: Vec<Outline>,
    /// How deep to cut, from the sheet and square to it, mm.
    pub depth_mm: f64,
    /// Whether it may have to be deeper.
    pub depth_is_at_least: bool,
    /// Whether the cut goes through all of the part below this side.
    pub is_through: bool,
    /// The outlines reach no further than this beyond what has to go, as seen on the sheet, mm.
    pub most_excess_mm: f64,
    /// Short strokes from the outlines into what goes.
    pub waste: Vec<[V; 2]>,
    /// Edges of the part around that side.
    pub part_edges: Vec<Outline>,
    /// The plane that fits.
    pub sheet: Sheet,
    /// How far that side lies off that plane where it is too near, mm.
    pub off_plane_mm: f64,
}

/// Faces that turn by less than this are one side, degrees.
pub(super) const MOST_TURN_DEG: f64 = 30.0;
/// A patch in more pieces than this (a rough scan) is drawn on one sheet, without the part's edges.
const MOST_SIDES: usize = 24;
/// Points that lie this near the straight line between their neighbours are left out, mm.
const STRAIGHT_MM: f64 = 0.01;
/// Squares of the raster for a cube's edge.
const SQUARES_FOR_CUBE: f64 = 2.0;
/// Squares along a sheet, at most.
const MOST_SQUARES: f64 = 2_000.0;
/// An outline as it is made runs between a dark square's corner and the next one, at the half: it comes no nearer to the
/// square than this share of its edge, where it is cut across a corner. Smoothing may take all of it.
const CLEAR_OF_SQUARES: f64 = 0.35;
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

/// The smooth sides of a patch, each with its faces; all of them as one where they are too many.
pub(super) fn smooth_sides(patch: &Patch, regions: &[u32]) -> Vec<Vec<u32>> {
    let mut sides: BTreeMap<u32, Vec<u32>> = BTreeMap::new();
    for t in &patch.faces {
        sides.entry(regions[*t as usize]).or_default().push(*t);
    }
    if sides.len() > MOST_SIDES {
        return vec![patch.faces.clone()];
    }
    sides.into_values().collect()
}

/// The mean direction out of the part of some faces of a patch.
pub(super) fn way_out(map: &ClearanceMap, faces: &[u32], tightest: u32) -> V {
    let normal: V = faces
        .iter()
        .map(|t| map.mesh.area_normal(*t as usize))
        .sum();
    // A rough patch may face every way: its tightest face says which is out.
    let fallback = || {
        let own = map.mesh.area_normal(tightest as usize);
        own.try_normalize(0.0).unwrap_or_else(V::z)
    };
    normal.try_normalize(1.0e-9).unwrap_or_else(fallback)
}

/// Outlines of every violated patch.
pub fn trim_marks(map: &ClearanceMap) -> Vec<TrimMark> {
    if !map.patches.iter().any(|p| p.violated) {
        return Vec::new();
    }
    let regions = smooth_regions(map, MOST_TURN_DEG);
    let violated = map.patches.iter().enumerate().filter(|(_, p)| p.violated);
    violated
        .flat_map(|(n, patch)| patch.sides.iter().map(move |side| (n, patch, side)))
        .map(|(n, patch, side)| {
            let first = regions[side.faces[0] as usize];
            let is_smooth = side.faces.iter().all(|t| regions[*t as usize] == first);
            mark(map, n, patch, side, is_smooth.then_some((&*regions, first)))
        })
        .collect()
}

/// One side's mark.
fn mark(
    map: &ClearanceMap,
    number: usize,
    patch: &Patch,
    side: &PatchSide,
    region: Option<(&[u32], u32)>,
) -> TrimMark {
    let part_edges = region.map_or(Vec::new(), |(regions, region)| {
        let borders: Vec<(u32, u32)> = border(map, regions, region);
        chained(&borders)
            .into_iter()
            .map(|(chain, closed)| {
                let points = chain.iter().map(|i| map.mesh.points[*i as usize]);
                straightened(points.collect(), closed)
            })
            .collect()
    });
    let faces = side.faces.iter();
    let points: Vec<V> = faces.flat_map(|t| map.short_part(*t)).collect();
    let middle = points.iter().sum::<V>() / points.len().max(1) as f64;
    let sheet = Sheet::square_to(side.out, middle);
    let off_plane_mm = points
        .iter()
        .map(|p| (p - sheet.origin).dot(&sheet.out).abs())
        .fold(0.0, f64::max);
    let shadow = Shadow::of(&map.too_near, &patch.pieces, &sheet);
    let in_space = |p: &Vector2<f64>| sheet.origin + sheet.right * p.x + sheet.up * p.y;
    let loops = shadow.outlines();
    TrimMark {
        patch: number,
        outlines: loops
            .iter()
            .map(|points| Outline {
                points: points.iter().map(in_space).collect(),
                closed: true,
            })
            .collect(),
        depth_mm: (sheet.origin.dot(&sheet.out) - side.lowest_mm).max(0.0),
        depth_is_at_least: patch.cut_is_at_least,
        is_through: side.is_through,
        most_excess_mm: map.too_near.most_excess_mm() + shadow.most_excess_mm(),
        off_plane_mm,
        waste: shadow
            .strokes(&loops)
            .iter()
            .map(|stroke| stroke.map(|p| in_space(&p)))
            .collect(),
        part_edges,
        sheet,
    }
}

/// The shadow of what is too near, square on a sheet, as dark squares of a raster.
struct Shadow {
    /// The raster's low corner, right and up on the sheet.
    low: Vector2<f64>,
    square_mm: f64,
    /// Squares along each axis; the outermost are light.
    size: [usize; 2],
    dark: Vec<bool>,
}

impl Shadow {
    fn of(too_near: &TooNear, pieces: &[u32], sheet: &Sheet) -> Shadow {
        let on_sheet = |d: &V| Vector2::new(d.dot(&sheet.right), d.dot(&sheet.up));
        let axes = too_near.axes().map(|a| on_sheet(&a));
        let cubes: Vec<(Vector2<f64>, f64)> = too_near
            .of_pieces(pieces)
            .map(|(middle, half)| (on_sheet(&(middle - sheet.origin)), half))
            .collect();
        let mut ends = [
            Vector2::repeat(f64::INFINITY),
            Vector2::repeat(f64::NEG_INFINITY),
        ];
        let mut finest = f64::INFINITY;
        let reach = axes[0].abs() + axes[1].abs() + axes[2].abs();
        for (middle, half) in &cubes {
            ends = [
                ends[0].inf(&(middle - reach * *half)),
                ends[1].sup(&(middle + reach * *half)),
            ];
            finest = finest.min(2.0 * half);
        }
        if cubes.is_empty() {
            return Shadow {
                low: Vector2::zeros(),
                square_mm: 1.0,
                size: [0; 2],
                dark: Vec::new(),
            };
        }
        let extent = ends[1] - ends[0];
        let square_mm = (finest / SQUARES_FOR_CUBE).max(extent.max() / MOST_SQUARES);
        let low = ends[0].add_scalar(-2.0 * square_mm);
        let size = [0, 1].map(|k| (extent[k] / square_mm).ceil() as usize + 4);
        let mut shadow = Shadow {
            low,
            square_mm,
            size,
            dark: vec![false; size[0] * size[1]],
        };
        for (middle, half) in cubes {
            shadow.darken(&middle, &axes.map(|a| a * half));
        }
        shadow
    }

    /// Darkens the squares that the shadow of a cube meets: from its middle as far as the three half-edges reach together,
    /// each to and fro. Whether two convex outlines meet is told by the directions square to their edges.
    fn darken(&mut self, middle: &Vector2<f64>, edges: &[Vector2<f64>; 3]) {
        let half = 0.5 * self.square_mm;
        let reach = edges[0].abs() + edges[1].abs() + edges[2].abs();
        let across = edges.map(|e| Vector2::new(-e.y, e.x));
        let most = across.map(|m| {
            let own: f64 = edges.iter().map(|e| m.dot(e).abs()).sum();
            own + half * (m.x.abs() + m.y.abs())
        });
        let [from, to] = [-1.0, 1.0].map(|sign| {
            let at = (middle + reach * sign - self.low) / self.square_mm;
            [0, 1].map(|k| (at[k].floor().max(0.0) as usize).min(self.size[k] - 1))
        });
        for i in from[0]..=to[0] {
            for j in from[1]..=to[1] {
                let square =
                    self.low + Vector2::new(i as f64 + 0.5, j as f64 + 0.5) * self.square_mm;
                let off = square - middle;
                let meets = across
                    .iter()
                    .zip(&most)
                    .all(|(m, most)| m.dot(&off).abs() <= most * (1.0 + 1.0e-12));
                self.dark[i * self.size[1] + j] |= meets;
            }
        }
    }

    fn is_dark(&self, i: usize, j: usize) -> bool {
        i < self.size[0] && j < self.size[1] && self.dark[i * self.size[1] + j]
    }

    /// Whether a corner of the raster belongs to a dark square.
    fn is_dark_corner(&self, i: usize, j: usize) -> bool {
        [(0, 0), (1, 0), (0, 1), (1, 1)]
            .iter()
            .any(|(a, b)| i >= *a && j >= *b && self.is_dark(i - a, j - b))
    }

    /// How far the outlines can lie beyond the cubes' shadow, mm: a square's diagonal and half an edge, and as much as they
    /// are smoothed.
    fn most_excess_mm(&self) -> f64 {
        (std::f64::consts::SQRT_2 + 0.5 + CLEAR_OF_SQUARES) * self.square_mm
    }

    /// Closed outlines around what is dark, and around the light inside it.
    fn outlines(&self) -> Vec<Vec<Vector2<f64>>> {
        // Middles of the raster's edges by number: 2 n from corner n to the right, 2 n + 1 upward.
        let columns = self.size[1] + 1;
        let number =
            |i: usize, j: usize, upward: bool| (2 * (i * columns + j) + usize::from(upward)) as u32;
        let mut pieces: Vec<(u32, u32)> = Vec::new();
        for i in 0..self.size[0] {
            for j in 0..self.size[1] {
                let corners = [(i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1)];
                let dark = corners.map(|(i, j)| self.is_dark_corner(i, j));
                // Edges in order round the square, from each corner to the next.
                let between = [
                    number(i, j, false),
                    number(i + 1, j, true),
                    number(i, j + 1, false),
                    number(i, j, true),
                ];
                let crossed: Vec<usize> =
                    (0..4).filter(|k| dark[*k] != dark[(k + 1) % 4]).collect();
                match crossed[..] {
                    [a, b] => pieces.push((between[a], between[b])),
                    [_, _, _, _] => {
                        // Dark corners across from each other are joined: a light corner is cut off by itself.
                        let first = usize::from(dark[0]);
                        for light in [first, first + 2] {
                            pieces.push((between[(light + 3) % 4], between[light % 4]));
                        }
                    }
                    _ => {}
                }
            }
        }
        let place = |n: u32| {
            let (corner, upward) = (n as usize / 2, n % 2 == 1);
            let (i, j) = ((corner / columns) as f64, (corner % columns) as f64);
            let at = if upward {
                Vector2::new(i, j + 0.5)
            } else {
                Vector2::new(i + 0.5, j)
            };
            self.low + at * self.square_mm
        };
        chained(&pieces)
            .into_iter()
            .map(|(chain, _)| {
                let points: Vec<Vector2<f64>> = chain.into_iter().map(place).collect();
                smoothed(&points, CLEAR_OF_SQUARES * self.square_mm)
            })
            .collect()
    }

    /// Strokes from outlines into what is dark.
    fn strokes(&self, loops: &[Vec<Vector2<f64>>]) -> Vec<[Vector2<f64>; 2]> {
        let mut out: Vec<[Vector2<f64>; 2]> = Vec::new();
        for points in loops {
            for (i, a) in points.iter().enumerate() {
                let b = points[(i + 1) % points.len()];
                let length = (b - a).norm();
                let Some(along) = (b - a).try_normalize(1.0e-9) else {
                    continue;
                };
                let count = (length / STROKES_APART_MM).ceil().max(1.0);
                for k in 0..count as usize {
                    let from = a + along * (length * (k as f64 + 0.5) / count);
                    if out.iter().any(|s| (s[0] - from).norm() < STROKES_APART_MM) {
                        continue;
                    }
                    let across = Vector2::new(-along.y, along.x);
                    // Two squares in from the outline it is dark on the side that goes.
                    let inward = [across, -across].into_iter().find(|way| {
                        let at = (from + way * (2.0 * self.square_mm) - self.low) / self.square_mm;
                        at.min() >= 0.0 && self.is_dark(at.x as usize, at.y as usize)
                    });
                    if let Some(way) = inward {
                        out.push([from, from + way * STROKE_MM]);
                    }
                }
            }
        }
        out
    }
}

/// A closed line with fewer points that lies no further than this from the given one. Source: D. H. Douglas, T. K. Peucker,
/// "Algorithms for the reduction of the number of points required to represent a digitized line or its caricature",
/// Cartographica 10(2), 1973, 112-122.
fn smoothed(points: &[Vector2<f64>], most_mm: f64) -> Vec<Vector2<f64>> {
    let count = points.len();
    let far = (0..count).max_by(|a, b| {
        let off = |i: &usize| (points[*i] - points[0]).norm();
        off(a).total_cmp(&off(b))
    });
    let Some(far) = far.filter(|far| *far > 0) else {
        return points.to_vec();
    };
    let mut kept = vec![false; count];
    (kept[0], kept[far]) = (true, true);
    // Stretches between kept points; the line's first point is its last too.
    let mut stretches = vec![(0, far), (far, count)];
    while let Some((from, to)) = stretches.pop() {
        let (a, b) = (points[from], points[to % count]);
        let off = |i: usize| {
            let way = b - a;
            let length = way.norm_squared();
            let share = if length > 0.0 {
                ((points[i] - a).dot(&way) / length).clamp(0.0, 1.0)
            } else {
                0.0
            };
            (points[i] - a - way * share).norm()
        };
        let furthest = (from + 1..to).max_by(|i, j| off(*i).total_cmp(&off(*j)));
        if let Some(i) = furthest.filter(|i| off(*i) > most_mm) {
            kept[i] = true;
            stretches.extend([(from, i), (i, to)]);
        }
    }
    let both = points.iter().zip(kept);
    both.filter(|(_, k)| *k).map(|(p, _)| *p).collect()
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
