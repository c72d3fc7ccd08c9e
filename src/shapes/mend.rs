//! Mends what is safe to mend in a mesh as files have them, and counts what is left.
//!
//! Safe is what leaves the surface where it is: gaps measured on the mended mesh are gaps to the mesh as it
//! was read, within [`WELD_MM`]. So corners in one place are merged; corners on open edges are welded over that
//! distance, and no others are moved; triangles without area and repeated triangles go; triangles are turned
//! over where a closed piece tells which way is out. Never is a triangle dropped because it fits badly: a
//! dropped triangle is a contact missed. Holes are not filled: what would be there is not known.

use super::Bounds;
use super::mesh_edges::{Edges, balance};
use super::surface::Element;
use nalgebra::Vector3;
use std::collections::HashMap;

/// Corners on open edges that lie this close are welded, mm. A tenth of the brackets that sweeps give; more
/// than what single precision makes of a part ten metres from its origin.
pub const WELD_MM: f64 = 0.001;

/// Passes over triangles without area: each pass mends one of a row of them along an edge.
const SLIVER_PASSES: usize = 16;

/// Most comparisons of pieces' boxes when it is asked which pieces lie inside others; beyond it (a scan in
/// thousands of crumbs) pieces stay as they are turned.
const MOST_BOX_TESTS: usize = 10_000_000;

/// A mended mesh with the counts of what was done and of what is left.
#[derive(Default)]
pub struct Mended {
    /// Corners, mm; each is used.
    pub vertices: Vec<Vector3<f64>>,
    /// Corner numbers of each triangle.
    pub triangles: Vec<Element>,
    /// Triangles before.
    pub read: usize,
    /// Corners that were listed again in the same place.
    pub merged: usize,
    /// Corners on open edges welded to one nearby.
    pub welded: usize,
    /// Triangles without area that were taken out.
    pub without_area: usize,
    /// Triangles that were there already and were dropped.
    pub repeated: usize,
    /// Triangles turned over.
    pub turned: usize,
    /// Edges used by one triangle.
    pub open_edges: usize,
    /// Edges used by more than two.
    pub crowded_edges: usize,
    /// Edges along which their two triangles run the same way.
    pub clashing_edges: usize,
    /// Whether every edge is used as often one way as the other.
    pub closed: bool,
    /// Pieces that hang together by their corners.
    pub pieces: usize,
    /// Signed volume about the middle of the box, where closed, mm^3.
    pub volume_mm3: Option<f64>,
}

/// Mends a mesh; `merged` is how many corners the reader merged.
pub fn mend(vertices: Vec<Vector3<f64>>, triangles: Vec<Element>, merged: usize) -> Mended {
    let mut out = Mended {
        read: triangles.len(),
        vertices,
        triangles,
        merged,
        ..Mended::default()
    };
    out.drop_collapsed();
    // Before anything is measured: a scanner's corners of no triangle needn't be numbers.
    out.drop_unused_corners();
    let mut edges = Edges::of(&out.triangles);
    if out.weld(&edges) {
        out.drop_collapsed();
        edges = Edges::of(&out.triangles);
    }
    if out.drop_repeated(&edges) {
        edges = Edges::of(&out.triangles);
    }
    if out.drop_back_sides(&edges) {
        edges = Edges::of(&out.triangles);
    }
    if out.drop_slivers(&mut edges) {
        edges = Edges::of(&out.triangles);
    }
    if out.turn_outward(&edges) {
        edges = Edges::of(&out.triangles);
    }
    out.count(&edges);
    out.drop_unused_corners();
    out
}

impl Mended {
    fn corners(&self, triangle: &Element) -> [Vector3<f64>; 3] {
        triangle.map(|i| self.vertices[i as usize])
    }

    fn has_area(&self, triangle: &Element) -> bool {
        let [a, b, c] = self.corners(triangle);
        (b - a).cross(&(c - a)).norm() > 0.0
    }

    /// Drops triangles with fewer than three corners.
    fn drop_collapsed(&mut self) {
        let before = self.triangles.len();
        self.triangles
            .retain(|[a, b, c]| a != b && b != c && c != a);
        self.without_area += before - self.triangles.len();
    }

    /// Welds corners on open edges. Each goes to the first listed one within reach, so that none moves
    /// further than [`WELD_MM`]. Returns whether any did.
    fn weld(&mut self, edges: &Edges) -> bool {
        let mut loose: Vec<u32> = edges
            .iter()
            .filter(|uses| uses.len() == 1)
            .flat_map(|uses| uses[0].corners())
            .collect();
        loose.sort_unstable();
        loose.dedup();
        // Cells as wide as the reach: what is within reach is in one of the 27 about it.
        let cell = |p: &Vector3<f64>| p.map(|c| (c / WELD_MM).floor() as i64);
        let mut kept: HashMap<Vector3<i64>, Vec<u32>> = HashMap::new();
        let mut goes_to: HashMap<u32, u32> = HashMap::new();
        for corner in loose {
            let at = self.vertices[corner as usize];
            let own = cell(&at);
            let near = |i: &u32| (self.vertices[*i as usize] - at).norm() <= WELD_MM;
            let found = (0..27).find_map(|i| {
                let step = Vector3::new(i % 3, i / 3 % 3, i / 9).map(|s| s - 1);
                let there = own.zip_map(&step, i64::saturating_add);
                kept.get(&there)?.iter().copied().find(near)
            });
            match found {
                Some(other) => _ = goes_to.insert(corner, other),
                None => kept.entry(own).or_default().push(corner),
            }
        }
        self.welded = goes_to.len();
        if !goes_to.is_empty() {
            for corner in self.triangles.iter_mut().flatten() {
                *corner = goes_to.get(corner).copied().unwrap_or(*corner);
            }
        }
        self.welded > 0
    }

    /// Drops triangles that are there already. One that is there the other way round is dropped only if its
    /// edges have one too many that way: two sides of a sheet stay. Returns whether any was dropped.
    fn drop_repeated(&mut self, edges: &Edges) -> bool {
        // Corners in order, then whether they were in that order, then the triangle.
        let mut sorted: Vec<(Element, bool, u32)> = self
            .triangles
            .iter()
            .enumerate()
            .map(|(i, t)| {
                let mut ordered = *t;
                ordered.sort_unstable();
                let even = (0..3).any(|k| [t[k], t[(k + 1) % 3], t[(k + 2) % 3]] == ordered);
                (ordered, even, i as u32)
            })
            .collect();
        sorted.sort_unstable();
        let mut dropped = vec![false; self.triangles.len()];
        for same_corners in sorted.chunk_by(|a, b| a.0 == b.0) {
            if same_corners.len() == 1 {
                continue;
            }
            for same in same_corners.chunk_by(|a, b| a.1 == b.1) {
                for (_, _, i) in &same[1..] {
                    dropped[*i as usize] = true;
                }
            }
        }
        // The balance of an edge without the dropped ones.
        let left = |a: u32, b: u32, dropped: &[bool]| -> i64 {
            let uses = edges.between(a, b).iter();
            uses.filter(|u| !dropped[u.triangle()])
                .map(|u| if u.forward() { 1 } else { -1 })
                .sum()
        };
        for same_corners in sorted.chunk_by(|a, b| a.0 == b.0) {
            let kept: Vec<u32> = same_corners
                .iter()
                .map(|s| s.2)
                .filter(|i| !dropped[*i as usize])
                .collect();
            let [one, other] = kept[..] else { continue };
            let surplus = [one, other].into_iter().find(|i| {
                let t = self.triangles[*i as usize];
                (0..3).all(|k| {
                    let (a, b) = (t[k], t[(k + 1) % 3]);
                    let own = if a < b { 1 } else { -1 };
                    left(a, b, &dropped) * own > 0
                })
            });
            if let Some(i) = surplus {
                dropped[i as usize] = true;
            }
        }
        let count = dropped.iter().filter(|d| **d).count();
        if count > 0 {
            let mut at = dropped.into_iter();
            self.triangles.retain(|_| at.next() == Some(false));
        }
        self.repeated = count;
        count > 0
    }

    /// Drops one side of each solid that was written with both: every triangle once each way round. The surface would
    /// wind about nothing, so that what lies inside it would seem outside. Of a sheet, which holds nothing, both sides
    /// stay. Returns whether any was dropped.
    fn drop_back_sides(&mut self, edges: &Edges) -> bool {
        let mut by_corners: HashMap<Element, Vec<u32>> = HashMap::new();
        for (i, t) in self.triangles.iter().enumerate() {
            let mut ordered = *t;
            ordered.sort_unstable();
            by_corners.entry(ordered).or_default().push(i as u32);
        }
        // Of two, the one that comes later; repeated ones that run the same way are gone by now.
        let mut is_back = vec![false; self.triangles.len()];
        let mut has_back = vec![false; self.triangles.len()];
        for same in by_corners.values().filter(|same| same.len() == 2) {
            is_back[same[1] as usize] = true;
            same.iter().for_each(|i| has_back[*i as usize] = true);
        }
        let mut joined = Turns::new(self.triangles.len());
        for uses in edges.iter() {
            for pair in uses.windows(2) {
                joined.join(pair[0].triangle(), pair[1].triangle(), false);
            }
            // Without the back sides each edge of a solid has two triangles.
            let is_whole = uses.iter().all(|u| has_back[u.triangle()]) && uses.len() == 4;
            if !is_whole {
                uses.iter().for_each(|u| joined.spoil(u.triangle()));
            }
        }
        let dropped: Vec<bool> = (0..self.triangles.len())
            .map(|i| {
                let (piece, _) = joined.root(i);
                is_back[i] && !joined.spoiled[piece]
            })
            .collect();
        let count = dropped.iter().filter(|d| **d).count();
        if count > 0 {
            let mut at = dropped.into_iter();
            self.triangles.retain(|_| at.next() == Some(false));
        }
        self.repeated += count;
        count > 0
    }

    /// Takes out triangles whose corners lie on one line. A closed surface has a neighbour along the longest
    /// side, which takes in the corner that lies on it, so that the surface stays closed. Returns whether
    /// the list was changed since `edges` was made.
    fn drop_slivers(&mut self, edges: &mut Edges) -> bool {
        let mut changed = false;
        for _ in 0..SLIVER_PASSES {
            let slivers: Vec<usize> = (0..self.triangles.len())
                .filter(|i| !self.has_area(&self.triangles[*i]))
                .collect();
            if slivers.is_empty() {
                return changed;
            }
            if changed {
                *edges = Edges::of(&self.triangles);
            }
            let mut touched = vec![false; self.triangles.len()];
            let mut mended = 0;
            for i in slivers {
                if let Some(neighbour) = self.neighbour_along_sliver(i, edges, &touched) {
                    let (sliver, other, opposite) = neighbour;
                    touched[i] = true;
                    touched[other] = true;
                    let [a, b, c] = sliver;
                    self.triangles[i] = [b, c, opposite];
                    self.triangles[other] = [c, a, opposite];
                    mended += 1;
                }
            }
            self.without_area += mended;
            changed |= mended > 0;
            if mended == 0 {
                break;
            }
        }
        let before = self.triangles.len();
        let keep: Vec<bool> = self.triangles.iter().map(|t| self.has_area(t)).collect();
        let mut at = keep.into_iter();
        self.triangles.retain(|_| at.next() == Some(true));
        self.without_area += before - self.triangles.len();
        changed || before != self.triangles.len()
    }

    /// A sliver turned so that its longest side comes first, the triangle on that side's other side, and
    /// that triangle's corner off it; if there is exactly one, untouched, and both new triangles have area.
    fn neighbour_along_sliver(
        &self,
        i: usize,
        edges: &Edges,
        touched: &[bool],
    ) -> Option<(Element, usize, u32)> {
        if touched[i] {
            return None;
        }
        let t = self.triangles[i];
        let p = self.corners(&t);
        let side = |k: usize| (p[(k + 1) % 3] - p[k]).norm_squared();
        let k = (0..3).max_by(|x, y| side(*x).total_cmp(&side(*y)))?;
        let [a, b, c] = [t[k], t[(k + 1) % 3], t[(k + 2) % 3]];
        let uses = edges.between(a, b);
        let other = uses.iter().find(|u| u.triangle() != i)?;
        if uses.len() != 2 || balance(uses) != 0 || touched[other.triangle()] {
            return None;
        }
        let opposite = self.triangles[other.triangle()][(other.place() + 2) % 3];
        let whole =
            opposite != c && self.has_area(&[b, c, opposite]) && self.has_area(&[c, a, opposite]);
        whole.then_some(([a, b, c], other.triangle(), opposite))
    }

    /// Turns the triangles of closed pieces so that they run the same way and face outward. Returns whether
    /// any was turned.
    ///
    /// A piece is closed where each of its edges has two triangles. A piece inside another's box may be a
    /// hollow, which faces inward: it is turned only together with all others.
    fn turn_outward(&mut self, edges: &Edges) -> bool {
        let mut joined = Turns::new(self.triangles.len());
        let mut clashes = false;
        for uses in edges.iter() {
            match uses {
                [a, b] => {
                    let same_way = a.forward() == b.forward();
                    clashes |= same_way;
                    joined.join(a.triangle(), b.triangle(), same_way);
                }
                _ => uses.iter().for_each(|u| joined.spoil(u.triangle())),
            }
        }
        let mut pieces = self.closed_pieces(&mut joined);
        let inward = pieces.iter().filter(|p| p.volume < 0.0).count();
        if inward == 0 && !clashes {
            return false;
        }
        let nested = Nested::of(&pieces);
        let all_inward = (0..pieces.len())
            .filter(|i| !nested.inside(*i))
            .all(|i| pieces[i].volume < 0.0)
            && nested.known;
        let mut turned = 0;
        for (i, piece) in pieces.iter_mut().enumerate() {
            let alone = nested.known && !nested.inside(i) && !nested.around(i);
            let over = if all_inward {
                true
            } else {
                alone && piece.volume < 0.0
            };
            for (triangle, flipped) in &piece.triangles {
                if *flipped != over {
                    self.triangles[*triangle as usize].swap(1, 2);
                    turned += 1;
                }
            }
        }
        self.turned = turned;
        turned > 0
    }

    /// The closed pieces that can be turned one way throughout.
    fn closed_pieces(&self, joined: &mut Turns) -> Vec<Piece> {
        let middle = Bounds::of(self.vertices.iter().copied()).middle;
        let mut number: HashMap<usize, usize> = HashMap::new();
        let mut pieces: Vec<Piece> = Vec::new();
        for (i, t) in self.triangles.iter().enumerate() {
            let (root, flipped) = joined.root(i);
            if joined.spoiled[root] {
                continue;
            }
            let piece = *number.entry(root).or_insert_with(|| {
                pieces.push(Piece::default());
                pieces.len() - 1
            });
            let piece = &mut pieces[piece];
            let corners = self.corners(t);
            let sign = if flipped { -1.0 } else { 1.0 };
            piece.volume += sign * signed_volume(&corners, &middle);
            for p in corners {
                piece.low = piece.low.inf(&p);
                piece.high = piece.high.sup(&p);
            }
            piece.flipped += usize::from(flipped);
            piece.triangles.push((i as u32, flipped));
        }
        // As drawn is how most of a piece's triangles run.
        for piece in &mut pieces {
            if 2 * piece.flipped > piece.triangles.len() {
                piece.volume = -piece.volume;
                for (_, flipped) in &mut piece.triangles {
                    *flipped = !*flipped;
                }
            }
        }
        pieces
    }

    fn count(&mut self, edges: &Edges) {
        for uses in edges.iter() {
            match uses.len() {
                1 => self.open_edges += 1,
                2 => self.clashing_edges += usize::from(balance(uses) != 0),
                _ => self.crowded_edges += 1,
            }
        }
        self.closed = edges.closed();
        self.pieces = super::surface::pieces(self.vertices.len(), &self.triangles).len();
        if self.closed {
            let middle = Bounds::of(self.vertices.iter().copied()).middle;
            let parts = self.triangles.iter();
            self.volume_mm3 = Some(
                parts
                    .map(|t| signed_volume(&self.corners(t), &middle))
                    .sum(),
            );
        }
    }

    fn drop_unused_corners(&mut self) {
        let mut number = vec![u32::MAX; self.vertices.len()];
        for corner in self.triangles.iter().flatten() {
            number[*corner as usize] = 0;
        }
        for (next, n) in number.iter_mut().filter(|n| **n == 0).enumerate() {
            *n = next as u32;
        }
        let mut at = number.iter();
        self.vertices
            .retain(|_| at.next().is_some_and(|n| *n != u32::MAX));
        for corner in self.triangles.iter_mut().flatten() {
            *corner = number[*corner as usize];
        }
        // What it shrank by was for corners that are gone.
        self.vertices.shrink_to_fit();
        self.triangles.shrink_to_fit();
    }
}

fn signed_volume([a, b, c]: &[Vector3<f64>; 3], about: &Vector3<f64>) -> f64 {
    (a - about).dot(&(b - about).cross(&(c - about))) / 6.0
}

/// A closed piece: its triangles, each with whether it runs against the others.
struct Piece {
    triangles: Vec<(u32, bool)>,
    flipped: usize,
    volume: f64,
    low: Vector3<f64>,
    high: Vector3<f64>,
}

impl Default for Piece {
    fn default() -> Self {
        Piece {
            triangles: Vec::new(),
            flipped: 0,
            volume: 0.0,
            low: Vector3::repeat(f64::INFINITY),
            high: Vector3::repeat(f64::NEG_INFINITY),
        }
    }
}

/// Which pieces' boxes lie inside others'.
struct Nested {
    inside: Vec<bool>,
    around: Vec<bool>,
    /// False where there are too many to ask.
    known: bool,
}

impl Nested {
    fn of(pieces: &[Piece]) -> Nested {
        let n = pieces.len();
        let known = n.saturating_mul(n) <= MOST_BOX_TESTS;
        let (mut inside, mut around) = (vec![false; n], vec![false; n]);
        if known {
            for i in 0..n {
                for j in 0..n {
                    let (x, y) = (&pieces[i], &pieces[j]);
                    let within = (x.low - y.low).min() >= 0.0 && (y.high - x.high).min() >= 0.0;
                    if i != j && within {
                        inside[i] = true;
                        around[j] = true;
                    }
                }
            }
        }
        Nested {
            inside,
            around,
            known,
        }
    }

    fn inside(&self, i: usize) -> bool {
        self.inside[i]
    }

    fn around(&self, i: usize) -> bool {
        self.around[i]
    }
}

/// Triangles joined by edges, each with whether it runs against its piece's first one.
struct Turns {
    parent: Vec<u32>,
    against_parent: Vec<bool>,
    /// Pieces, by their root, that are open or can't run one way.
    spoiled: Vec<bool>,
}

impl Turns {
    fn new(triangles: usize) -> Turns {
        Turns {
            parent: (0..triangles as u32).collect(),
            against_parent: vec![false; triangles],
            spoiled: vec![false; triangles],
        }
    }

    /// A triangle's piece, and whether it runs against the piece's first. Halves the path on the way.
    fn root(&mut self, triangle: usize) -> (usize, bool) {
        let mut i = triangle;
        let mut against = false;
        while self.parent[i] as usize != i {
            let p = self.parent[i] as usize;
            // The parent's own turn leads to the grandparent; a root's is false.
            self.against_parent[i] ^= self.against_parent[p];
            self.parent[i] = self.parent[p];
            against ^= self.against_parent[i];
            i = self.parent[i] as usize;
        }
        (i, against)
    }

    fn join(&mut self, a: usize, b: usize, against: bool) {
        let ((x, x_against), (y, y_against)) = (self.root(a), self.root(b));
        let apart = x_against ^ y_against ^ against;
        if x == y {
            self.spoiled[x] |= apart;
            return;
        }
        let (first, second) = (x.min(y), x.max(y));
        self.parent[second] = first as u32;
        self.against_parent[second] = apart;
        self.spoiled[first] |= self.spoiled[second];
    }

    fn spoil(&mut self, triangle: usize) {
        let (root, _) = self.root(triangle);
        self.spoiled[root] = true;
    }
}
