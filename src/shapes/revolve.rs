//! The full revolution that a spinning part sweeps.
//!
//! The idea in five lines. A part that turns with its shaft or wheel stands at any roll angle, so the
//! space it takes is its shape turned about the axis. Every element is cut into pieces no larger than
//! the grid step, each piece falls on a patch of the half plane (along the axis, distance from it),
//! and the grid squares it may touch are marked. Marked squares and the pockets they close off,
//! turned about the axis, contain the part at every roll angle and exceed it by about one step.

use super::ShapeError;
use super::lathe::frame_along;
use super::surface::{ElementKind, Surface};
use nalgebra::Vector3;

/// Grid step in the half plane, mm: what the swept solid may exceed the true one by, per side.
const STEP_MM: f64 = 0.5;
/// Most squares of the half plane that a turning part is drawn on, a byte each: two metres along the axis and
/// two from it, where a large tyre takes a quarter of a metre by half a metre.
const MOST_SQUARES: f64 = 16.0e6;
/// Segments of a full turn. Corners stand outside the true circles, so nothing is cut off.
const TURN_SEGMENTS: usize = 96;

struct HalfPlane {
    first: f64,
    columns: usize,
    rows: usize,
    marked: Vec<bool>,
}

impl HalfPlane {
    fn mark(&mut self, along: f64, radius: f64, reach: f64) {
        let low = |v: f64| ((v - reach) / STEP_MM).floor().max(0.0) as usize;
        let high =
            |v: f64, n: usize| (((v + reach) / STEP_MM).floor().max(0.0) as usize).min(n - 1);
        let along = along - self.first;
        for c in low(along)..=high(along, self.columns) {
            for r in low(radius)..=high(radius, self.rows) {
                // Nearest point of the square to the piece.
                let nearest = |v: f64, i: usize| {
                    let start = i as f64 * STEP_MM;
                    (start - v).max(v - start - STEP_MM).max(0.0)
                };
                if nearest(along, c).hypot(nearest(radius, r)) <= reach {
                    self.marked[c * self.rows + r] = true;
                }
            }
        }
    }

    /// Marks every square that can't be reached from outside without crossing a marked one.
    fn fill_pockets(&mut self) {
        let (columns, rows) = (self.columns, self.rows);
        let mut open = vec![false; columns * rows];
        let mut work = Vec::new();
        for c in 0..columns {
            for r in 0..rows {
                let edge = c == 0 || c == columns - 1 || r == rows - 1;
                if edge && !self.marked[c * rows + r] {
                    open[c * rows + r] = true;
                    work.push((c, r));
                }
            }
        }
        while let Some((c, r)) = work.pop() {
            let neighbours = [
                (c.wrapping_sub(1), r),
                (c + 1, r),
                (c, r.wrapping_sub(1)),
                (c, r + 1),
            ];
            for (nc, nr) in neighbours {
                if nc < columns && nr < rows {
                    let place = nc * rows + nr;
                    if !open[place] && !self.marked[place] {
                        open[place] = true;
                        work.push((nc, nr));
                    }
                }
            }
        }
        for (marked, open) in self.marked.iter_mut().zip(&open) {
            *marked = !open;
        }
    }

    fn is_marked(&self, column: isize, row: isize) -> bool {
        column >= 0
            && row >= 0
            && (column as usize) < self.columns
            && (row as usize) < self.rows
            && self.marked[column as usize * self.rows + row as usize]
    }
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
    let in_half_plane = |v: &Vector3<f64>| {
        let d = surface.origin + surface.rotation * v - point;
        let along = d.dot(&axis);
        (along, (d - axis * along).norm())
    };
    let reach = surface.reach_mm();
    let mut first = f64::INFINITY;
    let mut last = f64::NEG_INFINITY;
    let mut widest: f64 = 0.0;
    for vertex in &surface.vertices {
        let (along, radius) = in_half_plane(vertex);
        first = first.min(along);
        last = last.max(along);
        widest = widest.max(radius);
    }
    // Room for the rounding and for one empty square on each open side.
    let first = first - reach - 2.0 * STEP_MM;
    let (length_mm, radius_mm) = (last + reach + 2.0 * STEP_MM - first, widest + reach);
    let squares = (length_mm / STEP_MM + 2.0) * (radius_mm / STEP_MM + 4.0);
    if squares.is_nan() || squares > MOST_SQUARES {
        return Err(ShapeError::TooLargeToTurn);
    }
    let columns = (length_mm / STEP_MM).ceil() as usize + 1;
    let rows = (radius_mm / STEP_MM).ceil() as usize + 3;
    let mut plane = HalfPlane {
        first,
        columns,
        rows,
        marked: vec![false; columns * rows],
    };

    for element in 0..surface.elements.len() {
        let [a, b, c] = surface.corners(element);
        match surface.kind {
            ElementKind::Point => {
                let (along, radius) = in_half_plane(&a);
                plane.mark(along, radius, reach);
            }
            ElementKind::Segment => {
                let pieces = ((b - a).norm() / STEP_MM).ceil().max(1.0) as usize;
                let half = 0.5 * (b - a).norm() / pieces as f64;
                for i in 0..pieces {
                    let (along, radius) =
                        in_half_plane(&a.lerp(&b, (i as f64 + 0.5) / pieces as f64));
                    plane.mark(along, radius, reach + half);
                }
            }
            ElementKind::Triangle => {
                let longest = (b - a).norm().max((c - b).norm()).max((a - c).norm());
                let pieces = (longest / STEP_MM).ceil().max(1.0) as usize;
                // Each piece is a scaled copy; its corners lie within two thirds of its longest
                // edge from its centroid.
                let piece_reach = longest / pieces as f64 * (2.0 / 3.0);
                let n = pieces as f64;
                let mut mark = |u: f64, v: f64| {
                    let middle = a + (b - a) * (u / n) + (c - a) * (v / n);
                    let (along, radius) = in_half_plane(&middle);
                    plane.mark(along, radius, reach + piece_reach);
                };
                for i in 0..pieces {
                    for j in 0..pieces - i {
                        let (u, v) = (i as f64, j as f64);
                        mark(u + 1.0 / 3.0, v + 1.0 / 3.0);
                        if i + j + 1 < pieces {
                            mark(u + 2.0 / 3.0, v + 2.0 / 3.0);
                        }
                    }
                }
            }
        }
    }
    plane.fill_pockets();
    Ok(turned(&plane, point, axis))
}

/// Turns the marked squares' outline about the axis.
fn turned(plane: &HalfPlane, point: Vector3<f64>, axis: Vector3<f64>) -> Surface {
    // Outline pieces as ((along, radius), (along, radius)), the marked side on the left; straight
    // runs are merged.
    let mut outline: Vec<([usize; 2], [usize; 2])> = Vec::new();
    let (columns, rows) = (plane.columns as isize, plane.rows as isize);
    for r in 0..=rows {
        // Above row r - 1 and below row r: lines along the axis.
        for (inside, outside, forward) in [(r, r - 1, true), (r - 1, r, false)] {
            let mut c = 0;
            while c < columns {
                let start = c;
                while c < columns && plane.is_marked(c, inside) && !plane.is_marked(c, outside) {
                    c += 1;
                }
                if c > start && r > 0 {
                    let (a, b) = ([start as usize, r as usize], [c as usize, r as usize]);
                    outline.push(if forward { (a, b) } else { (b, a) });
                }
                c += 1;
            }
        }
    }
    for c in 0..=columns {
        for (inside, outside, up) in [(c, c - 1, false), (c - 1, c, true)] {
            let mut r = 0;
            while r < rows {
                let start = r;
                while r < rows && plane.is_marked(inside, r) && !plane.is_marked(outside, r) {
                    r += 1;
                }
                if r > start {
                    let (a, b) = ([c as usize, start as usize], [c as usize, r as usize]);
                    outline.push(if up { (a, b) } else { (b, a) });
                }
                r += 1;
            }
        }
    }
    // Outer corners must stand outside the true circle; inner ones may too, by the same share, since
    // a square's width covers it (0.05 % of the radius).
    let swell = 1.0 / (std::f64::consts::PI / TURN_SEGMENTS as f64).cos();
    let mut vertices = Vec::new();
    let mut elements = Vec::new();
    for (a, b) in outline {
        let first = vertices.len() as u32;
        for [c, r] in [a, b] {
            let along = plane.first + c as f64 * STEP_MM;
            let radius = r as f64 * STEP_MM * swell;
            for i in 0..TURN_SEGMENTS {
                let angle = 2.0 * std::f64::consts::PI * i as f64 / TURN_SEGMENTS as f64;
                vertices.push(Vector3::new(
                    radius * angle.cos(),
                    radius * angle.sin(),
                    along,
                ));
            }
        }
        let n = TURN_SEGMENTS as u32;
        for i in 0..n {
            let j = (i + 1) % n;
            // A ring on the axis is a point and closes with one triangle.
            if a[1] > 0 {
                elements.push([first + i, first + n + i, first + j]);
            }
            if b[1] > 0 {
                elements.push([first + j, first + n + i, first + n + j]);
            }
        }
    }
    // Facets of a bore may stand off the true circle by the swelling; count it as facet error.
    let widest = plane.rows as f64 * STEP_MM;
    Surface::new(
        frame_along(&axis),
        point,
        vertices,
        elements,
        ElementKind::Triangle,
        true,
    )
    .facetted(widest * (swell - 1.0))
}
