//! The full revolution that a turning part sweeps.
//!
//! The idea in five lines. A part that turns with its shaft or wheel stands at any roll angle, so the space it takes
//! is its shape turned about the axis: what counts of each point is how far along the axis it lies and how far from
//! it. That half plane is cut into narrow columns. A triangle cut to a column is a flat convex polygon, so the radii
//! that it takes there are one interval, from the polygon's nearest point to its furthest corner, in closed form.
//! Along a long triangle both ends of it are convex functions, which a chord bounds from above and a plane through
//! the nearest point from below: few pieces do, whatever the triangle's area. The columns' intervals and the pockets
//! they close off, as an outline turned about the axis, contain the part at every roll angle and exceed it by no more
//! than [`REVOLVED_EXCESS_MM`].

use super::ShapeError;
use super::lathe::{crosses_itself, frame_along, segments_for, turn_outline};
use super::revolve_outline::{EXTENDED_MM, FILLED_MM, outlines, solid_runs};
use super::surface::{ElementKind, Round, Surface};
use nalgebra::{Vector2, Vector3};
use rustc_hash::FxHashSet;

/// What the full revolution of a turning part may exceed the room that the part really sweeps by, mm, the facets'
/// error that gaps subtract counted. It is the sum of a square's diagonal, the length of a round bar's pieces, what
/// the outline's stairs are filled and its corners extended by, the rounding of bands, and twice the facet error (facets of a bore stand
/// into it, and gaps subtract the error again).
pub const REVOLVED_EXCESS_MM: f64 = 0.5;

/// Side of a square in the half plane, mm; a power of two, so that places on the grid are exact. An eighth: two of
/// them and the outline's tolerances stay below [`REVOLVED_EXCESS_MM`].
pub(super) const STEP_MM: f64 = 0.125;
/// Most squares of the half plane that a turning part is drawn on, a bit each: two metres along the axis by two from
/// it, where a large tyre takes a quarter of a metre by half a metre.
const MOST_SQUARES: f64 = 256.0e6;
/// Facet error of the solid that is made, mm.
const FACET_MM: f64 = 0.03;
/// How far straight bounds of the radius may lie off it along a piece of a long triangle, mm: less than a tenth of a
/// square.
const BEND_MM: f64 = 0.01;
/// Length of a round bar's pieces along the axis, in squares.
const BAR_STEPS: f64 = 0.25;
/// Over this many columns or fewer, each is asked by itself: that costs no more than straight bounds.
const FEW_COLUMNS: usize = 4;
/// Bands are rounded outward to multiples of this, mm: little beside a square, and coarse enough that
/// facets around a wheel give few different ones.
const FINE_MM: f64 = STEP_MM / 8.0;
/// Squares are marked this much further, mm: far more than rounding in coordinates of metres, and what a polygon too
/// thin to tell whether the axis runs through it may be off by.
const ROUNDING_MM: f64 = 1.0e-4;
/// A piece shorter along the axis than this isn't cut there, mm: the place of a cut would be noise.
const SHORT_MM: f64 = 1.0e-3;

/// What a revolution took: its cost, whatever the machine.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Work {
    /// Pieces of elements whose radii were bounded.
    pub pieces: u64,
    /// Columns of the half plane that were marked, each time.
    pub columns: u64,
}

/// Part of the half plane between two straight lines, in [`FINE_MM`]: where it begins and ends along the axis, least
/// and greatest radius by the lines at either end, and least and greatest radius anywhere.
#[derive(Clone, Copy, PartialEq, Eq, Hash)]
struct Band<T> {
    ends: [T; 2],
    bounds: [[T; 2]; 2],
    limits: [T; 2],
}

impl Band<f64> {
    fn whole(&self) -> Band<i32> {
        Band {
            ends: self.ends.map(|v| v as i32),
            bounds: self.bounds.map(|b| b.map(|v| v as i32)),
            limits: self.limits.map(|v| v as i32),
        }
    }
}

/// The half plane's columns, a bit a square.
struct HalfPlane {
    /// Where the first column begins along the axis, mm.
    first: f64,
    columns: usize,
    rows: usize,
    words: usize,
    marked: Vec<u64>,
    /// Bands that are marked already.
    seen: FxHashSet<Band<i32>>,
    work: Work,
}

/// A triangle's section square to the axis: a segment seen along the axis.
#[derive(Clone, Copy)]
struct Section {
    along: f64,
    ends: [Vector2<f64>; 2],
}

impl Section {
    fn between(&self, other: &Section, share: f64) -> [Vector2<f64>; 2] {
        [0, 1].map(|i| self.ends[i].lerp(&other.ends[i], share))
    }

    fn greatest(&self) -> f64 {
        self.ends[0].norm().max(self.ends[1].norm())
    }
}

/// The point of a segment that lies nearest to the origin.
fn nearest_of(a: &Vector2<f64>, b: &Vector2<f64>) -> Vector2<f64> {
    let d = b - a;
    let length2 = d.norm_squared();
    if length2 <= 0.0 {
        return *a;
    }
    a + d * (-a.dot(&d) / length2).clamp(0.0, 1.0)
}

/// Least and greatest distance of a convex four-corner polygon from the origin.
fn radii(corners: [Vector2<f64>; 4]) -> [f64; 2] {
    let [mut least, mut greatest, mut twice_area, mut longest] = [f64::INFINITY, 0.0, 0.0, 1.0e-2];
    let (mut left, mut right) = (true, true);
    for (i, a) in corners.iter().enumerate() {
        let b = &corners[(i + 1) % 4];
        least = f64::min(least, nearest_of(a, b).norm());
        greatest = f64::max(greatest, a.norm());
        longest = f64::max(longest, (b - a).norm());
        let turn = a.perp(b);
        twice_area += turn.abs();
        left &= turn >= 0.0;
        right &= turn <= 0.0;
    }
    // Around the origin, and wide enough to tell: a thinner one's sides are as near as its inside.
    if (left || right) && twice_area > 1.0e-6 * longest {
        least = 0.0;
    }
    [least, greatest]
}

impl HalfPlane {
    fn column(&self, along: f64) -> usize {
        let place = ((along - self.first) / STEP_MM).floor().max(0.0) as usize;
        place.min(self.columns - 1)
    }

    /// Where a column begins.
    fn start(&self, column: usize) -> f64 {
        self.first + column as f64 * STEP_MM
    }

    /// Marks the squares of a column that an interval of radii touches.
    fn mark(&mut self, column: usize, least: f64, greatest: f64) {
        self.work.columns += 1;
        let row = |radius: f64| ((radius / STEP_MM).floor().max(0.0) as usize).min(self.rows - 1);
        let (low, high) = (row(least - ROUNDING_MM), row(greatest + ROUNDING_MM));
        // A band of no height may have its two bounds crossed by rounding: what lies between is marked all the same.
        let (low, high) = (low.min(high), low.max(high));
        let words = &mut self.marked[column * self.words..][..self.words];
        let (from, to) = (low / 64, high / 64);
        let (head, tail) = (!0_u64 << (low % 64), !0_u64 >> (63 - high % 64));
        if from == to {
            words[from] |= head & tail;
        } else {
            words[from] |= head;
            words[to] |= tail;
            words[from + 1..to].fill(!0);
        }
    }

    /// A ball.
    fn ball(&mut self, along: f64, radius: f64, reach: f64) {
        self.work.pieces += 1;
        let (from, to) = (
            self.column(along - reach - ROUNDING_MM),
            self.column(along + reach + ROUNDING_MM),
        );
        for c in from..=to {
            let start = self.start(c);
            let off = (start - along).max(along - start - STEP_MM).max(0.0);
            let half = (reach * reach - off * off).max(0.0).sqrt();
            self.mark(c, radius - half, radius + half);
        }
    }

    /// A round bar: a segment with a radius, in short pieces along the axis.
    fn bar(&mut self, a: &Vector3<f64>, b: &Vector3<f64>, reach: f64) {
        let pieces = ((b.z - a.z).abs() / (BAR_STEPS * STEP_MM)).ceil().max(1.0) as usize;
        for i in 0..pieces {
            self.work.pieces += 1;
            let [from, to] = [i, i + 1].map(|i| a.lerp(b, i as f64 / pieces as f64));
            let least = nearest_of(&from.xy(), &to.xy()).norm();
            let greatest = from.xy().norm().max(to.xy().norm());
            let (low, high) = (from.z.min(to.z), from.z.max(to.z));
            let (first, last) = (
                self.column(low - reach - ROUNDING_MM),
                self.column(high + reach + ROUNDING_MM),
            );
            for c in first..=last {
                let start = self.start(c);
                let off = (start - high).max(low - start - STEP_MM).max(0.0);
                let half = (reach * reach - off * off).max(0.0).sqrt();
                self.mark(c, least - half, greatest + half);
            }
        }
    }

    /// A triangle, its corners as (across, across, along).
    fn triangle(&mut self, mut corners: [Vector3<f64>; 3], reach: f64) {
        corners.sort_by(|a, b| a.z.total_cmp(&b.z));
        let [low, middle, high] = corners;
        let point = |p: Vector3<f64>| Section {
            along: p.z,
            ends: [p.xy(); 2],
        };
        if high.z - low.z <= SHORT_MM {
            let face = Section {
                along: low.z,
                ends: [low.xy(), middle.xy()],
            };
            self.piece(face, point(high), reach);
            return;
        }
        let opposite = low.lerp(&high, (middle.z - low.z) / (high.z - low.z));
        let cut = Section {
            along: middle.z,
            ends: [middle.xy(), opposite.xy()],
        };
        self.piece(point(low), cut, reach);
        self.piece(cut, point(high), reach);
    }

    /// What lies between two sections of a triangle, thickened by a small reach.
    fn piece(&mut self, a: Section, b: Section, reach: f64) {
        self.work.pieces += 1;
        let far = reach + ROUNDING_MM;
        let (first, last) = (self.column(a.along - far), self.column(b.along + far));
        let length = b.along - a.along;
        // Which shares of the piece lie in a column or so near that they reach into it.
        let shares = |this: &Self, c: usize| {
            if length <= SHORT_MM {
                return [0.0, 1.0];
            }
            let start = this.start(c);
            [start - far, start + STEP_MM + far].map(|x| ((x - a.along) / length).clamp(0.0, 1.0))
        };
        // What is short itself reaches over more columns by its thickness only: cutting it would never end.
        if last - first < FEW_COLUMNS || length <= STEP_MM {
            for c in first..=last {
                let [[p, q], [r, s]] = shares(self, c).map(|share| a.between(&b, share));
                let [least, greatest] = radii([p, q, s, r]);
                self.mark(c, least - reach, greatest + reach);
            }
            return;
        }
        let middle = Section {
            along: 0.5 * (a.along + b.along),
            ends: a.between(&b, 0.5),
        };
        let greatest = [a.greatest(), b.greatest()];
        // The chord's error is concave along the piece: nowhere more than twice that in the middle.
        let bend = 2.0 * (0.5 * (greatest[0] + greatest[1]) - middle.greatest());
        let near = nearest_of(&middle.ends[0], &middle.ends[1]);
        let normal = near.try_normalize(ROUNDING_MM).unwrap_or_default();
        // Every point lies at least as far from the axis as its part along the normal.
        let behind = [a, b].map(|s| s.ends.map(|p| normal.dot(&p)));
        let loose = [a, b].into_iter().zip(behind).any(|(s, [p, q])| {
            nearest_of(&s.ends[0], &s.ends[1]).norm() - p.min(q).max(0.0) > BEND_MM
        });
        let least = behind.map(|[p, q]| p.min(q));
        // The bound from below is the lesser of two straight lines; its own chord is less.
        let sag = near.norm() - 0.5 * (least[0] + least[1]);
        if bend > BEND_MM || sag > BEND_MM || loose {
            self.piece(a, middle, reach);
            self.piece(middle, b, reach);
            return;
        }
        let slope = |[from, to]: [f64; 2]| (to - from) / length;
        let (low, high) = (slope(least), slope(greatest));
        let ends = [
            ((a.along - far - self.first) / FINE_MM).floor(),
            ((b.along + far - self.first) / FINE_MM).ceil(),
        ];
        let at = ends.map(|end| self.first + end * FINE_MM - a.along);
        // Thickened, what lies between slanting lines reaches further square to the axis than across the line, and
        // nowhere further than its own least and greatest radius do.
        let thick = |slope: f64| far * slope.hypot(1.0);
        let down = |v: f64| (v / FINE_MM).floor();
        let up = |v: f64| (v / FINE_MM).ceil();
        let bounds = at.map(|x| {
            [
                down(least[0] + low * x - thick(low)),
                up(greatest[0] + high * x + thick(high)),
            ]
        });
        let limits = [
            down(least[0].min(least[1]) - far),
            up(greatest[0].max(greatest[1]) + far),
        ];
        let band = Band {
            ends,
            bounds,
            limits,
        };
        self.band(band.whole());
    }

    /// A straight band of the half plane. Facets round a wheel give the same one again and again: each is marked once.
    fn band(&mut self, band: Band<i32>) {
        if !self.seen.insert(band) {
            return;
        }
        let ends = band.ends.map(|v| f64::from(v) * FINE_MM);
        let bounds = band.bounds.map(|b| b.map(|v| f64::from(v) * FINE_MM));
        let limits = band.limits.map(|v| f64::from(v) * FINE_MM);
        let slope = |i: usize| (bounds[1][i] - bounds[0][i]) / (ends[1] - ends[0]);
        let (low, high) = (slope(0), slope(1));
        let column = |v: f64| ((v / STEP_MM).floor().max(0.0) as usize).min(self.columns - 1);
        for c in column(ends[0])..=column(ends[1]) {
            let start = c as f64 * STEP_MM;
            let from = start.max(ends[0]) - ends[0];
            let to = (start + STEP_MM).min(ends[1]) - ends[0];
            let least = bounds[0][0] + (low * from).min(low * to);
            let greatest = bounds[0][1] + (high * from).max(high * to);
            self.mark(c, least.max(limits[0]), greatest.min(limits[1]));
        }
    }
}

/// Closed lists of corners (along, radius), the solid on their left.
type Outlines = Vec<Vec<[f64; 2]>>;

/// The outline, or outlines, that a surface sweeps about the line through `point` along unit `axis`: closed lists of
/// corners (along, radius), the solid on their left.
fn swept(
    surface: &Surface,
    point: &Vector3<f64>,
    axis: &Vector3<f64>,
) -> Result<(Outlines, Work), ShapeError> {
    let to_axis = frame_along(axis).transpose();
    let (turn, shift) = (
        to_axis * surface.rotation,
        to_axis * (surface.origin - point),
    );
    let corners: Vec<Vector3<f64>> = surface.vertices.iter().map(|v| turn * v + shift).collect();
    let reach = surface.reach_mm();
    let (mut first, mut last, mut widest) = (f64::INFINITY, f64::NEG_INFINITY, 0.0_f64);
    for corner in surface.elements.iter().flatten() {
        let p = &corners[*corner as usize];
        first = first.min(p.z);
        last = last.max(p.z);
        widest = widest.max(p.xy().norm());
    }
    // Room for the rounding and for an empty square on each open side.
    let first = first - reach - 2.0 * STEP_MM;
    let (length_mm, radius_mm) = (last + reach + 2.0 * STEP_MM - first, widest + reach);
    let squares = (length_mm / STEP_MM + 2.0) * (radius_mm / STEP_MM + 4.0);
    let finite = corners.iter().all(|p| p.iter().all(|c| c.is_finite()));
    if !finite || squares.is_nan() || squares > MOST_SQUARES {
        return Err(ShapeError::TooLargeToTurn);
    }
    let columns = (length_mm / STEP_MM).ceil() as usize + 1;
    let rows = (radius_mm / STEP_MM).ceil() as usize + 3;
    let words = rows.div_ceil(64);
    let mut plane = HalfPlane {
        first,
        columns,
        rows,
        words,
        marked: vec![0; columns * words],
        seen: FxHashSet::default(),
        work: Work::default(),
    };
    for element in &surface.elements {
        let [a, b, c] = element.map(|i| corners[i as usize]);
        match surface.kind {
            ElementKind::Point => plane.ball(a.z, a.xy().norm(), reach),
            ElementKind::Segment => plane.bar(&a, &b, reach),
            ElementKind::Triangle => plane.triangle([a, b, c], reach),
        }
    }
    let runs = solid_runs(&plane.marked, plane.words, rows);
    Ok((outlines(&runs, first), plane.work))
}

/// Turns a surface about the line through `point` along unit `axis`, body coordinates.
///
/// # Errors
/// [`ShapeError::TooLargeToTurn`] for a part larger than any that turns with a shaft or a wheel.
pub(super) fn full_revolution(
    surface: &Surface,
    point: Vector3<f64>,
    axis: Vector3<f64>,
) -> Result<Surface, ShapeError> {
    let (outlines, _) = swept(surface, &point, &axis)?;
    let widest = outlines.iter().flatten().map(|c| c[1]).fold(0.0, f64::max);
    let n = segments_for(widest, FACET_MM);
    let (mut vertices, mut elements) = (Vec::new(), Vec::new());
    for outline in &outlines {
        let first = vertices.len() as u32;
        let (corners, facets) = turn_outline(outline, n);
        vertices.extend(corners);
        elements.extend(facets.into_iter().map(|f| f.map(|i| first + i)));
    }
    let round = match outlines.as_slice() {
        [only] if !crosses_itself(only) => Some(Round {
            outline: only.clone(),
            error_mm: 0.0,
        }),
        _ => None,
    };
    let facet_error = widest * (1.0 - (std::f64::consts::PI / n as f64).cos());
    Ok(Surface::new(
        frame_along(&axis),
        point,
        vertices,
        elements,
        ElementKind::Triangle,
        true,
    )
    .facetted(facet_error)
    .rounded(round))
}

// The sum that REVOLVED_EXCESS_MM states: a square's diagonal (below 1.42 steps), a bar's piece, the outline's two
// tolerances, a band's rounding, twice the facet error.
const _: () = assert!(
    1.42 * STEP_MM
        + BAR_STEPS * STEP_MM
        + FILLED_MM
        + EXTENDED_MM
        + 1.42 * FINE_MM
        + 2.0 * FACET_MM
        <= REVOLVED_EXCESS_MM
);

#[cfg(test)]
#[path = "revolve_tests.rs"]
mod tests;
