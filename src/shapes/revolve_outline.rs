//! From the marked squares of a half plane to the outline of what is turned about its axis.
//!
//! Marked squares and the pockets they close off are the solid. Its boundary runs in stairs; a facetted solid of
//! revolution with a ring a stair would be slow to ask. So the outline is made of few corners, outward only: stairs
//! are filled where the chord over them stays within a tolerance, and short sides are cut off by extending their
//! neighbours until those meet. Each step adds a triangle to the solid and takes nothing away.

use super::revolve::STEP_MM;
use std::collections::BTreeMap;

/// How far a chord over filled stairs may stand off them, mm. Less than a square's diagonal would leave the stairs of
/// a slant: its chord stands off by up to that.
pub(super) const FILLED_MM: f64 = 1.42 * STEP_MM;
/// How far a corner made by extending two sides may stand off the side that it replaces, mm.
pub(super) const EXTENDED_MM: f64 = 0.03;

/// Rows `from..to` of a column.
type Run = [usize; 2];

/// The solid rows of each column: marked ones, and those from which no way leads out without crossing a marked one.
/// The axis is no way out.
pub(super) fn solid_runs(marked: &[u64], words: usize, rows: usize) -> Vec<Vec<Run>> {
    let columns: Vec<Vec<Run>> = marked
        .chunks(words)
        .map(|column| free_runs(column, rows))
        .collect();
    let mut open: Vec<Vec<bool>> = columns.iter().map(|runs| vec![false; runs.len()]).collect();
    let mut work = Vec::new();
    for (c, runs) in columns.iter().enumerate() {
        for (i, run) in runs.iter().enumerate() {
            if c == 0 || c + 1 == columns.len() || run[1] == rows {
                open[c][i] = true;
                work.push((c, i));
            }
        }
    }
    while let Some((c, i)) = work.pop() {
        let [from, to] = columns[c][i];
        for n in [c.wrapping_sub(1), c + 1] {
            let Some(runs) = columns.get(n) else { continue };
            let begin = runs.partition_point(|r| r[1] <= from);
            for (j, _) in runs
                .iter()
                .enumerate()
                .skip(begin)
                .take_while(|(_, r)| r[0] < to)
            {
                if !open[n][j] {
                    open[n][j] = true;
                    work.push((n, j));
                }
            }
        }
    }
    columns
        .iter()
        .zip(&open)
        .map(|(runs, open)| {
            let mut solid = Vec::new();
            let mut from = 0;
            for (run, _) in runs.iter().zip(open).filter(|(_, open)| **open) {
                if run[0] > from {
                    solid.push([from, run[0]]);
                }
                from = run[1];
            }
            if from < rows {
                solid.push([from, rows]);
            }
            solid
        })
        .collect()
}

/// The unmarked rows of a column.
fn free_runs(column: &[u64], rows: usize) -> Vec<Run> {
    let mut runs = Vec::new();
    let mut row = 0;
    // The next row from `row` on whose bit is as asked, or `rows`.
    let next = |row: usize, marked: bool| {
        let flip = if marked { 0 } else { !0_u64 };
        let mut word = row / 64;
        let mut bits = column
            .get(word)
            .map_or(0, |b| (b ^ flip) & (!0 << (row % 64)));
        while bits == 0 {
            word += 1;
            match column.get(word) {
                Some(b) => bits = b ^ flip,
                None => return rows,
            }
        }
        (word * 64 + bits.trailing_zeros() as usize).min(rows)
    };
    while row < rows {
        let from = next(row, false);
        let to = next(from, true);
        if from < to {
            runs.push([from, to]);
        }
        row = to;
    }
    runs
}

/// A corner of the grid: column and row.
type Corner = (usize, usize);

/// The outlines of the solid, corners (along, radius) in mm, the solid on their left; the first column begins at
/// `first`.
pub(super) fn outlines(runs: &[Vec<Run>], first: f64) -> Vec<Vec<[f64; 2]>> {
    let place = |(c, r): &Corner| [first + *c as f64 * STEP_MM, *r as f64 * STEP_MM];
    stairs(runs)
        .iter()
        .map(|stairs| {
            let corners: Vec<[f64; 2]> = stairs.iter().map(place).collect();
            extended(filled(&corners))
        })
        .collect()
}

/// The boundary's loops, one corner at each turn, from the outermost.
fn stairs(runs: &[Vec<Run>]) -> Vec<Vec<Corner>> {
    let mut sides: BTreeMap<Corner, Vec<Corner>> = BTreeMap::new();
    let mut side = |from: Corner, to: Corner| sides.entry(from).or_default().push(to);
    let none = Vec::new();
    for c in 0..=runs.len() {
        let left = if c == 0 { &none } else { &runs[c - 1] };
        let right = runs.get(c).unwrap_or(&none);
        for [low, high] in right {
            side((c, *low), (c + 1, *low));
            side((c + 1, *high), (c, *high));
        }
        // Between two rows at which neither column changes both are solid or not.
        let mut rows: Vec<usize> = left.iter().chain(right).flatten().copied().collect();
        rows.sort_unstable();
        rows.dedup();
        let solid = |runs: &[Run], row: usize| {
            let i = runs.partition_point(|r| r[1] <= row);
            runs.get(i).is_some_and(|r| r[0] <= row)
        };
        for pair in rows.windows(2) {
            match (solid(left, pair[0]), solid(right, pair[0])) {
                (true, false) => side((c, pair[0]), (c, pair[1])),
                (false, true) => side((c, pair[1]), (c, pair[0])),
                _ => {}
            }
        }
    }
    let direction = |from: Corner, to: Corner| {
        [
            (to.0 as i64 - from.0 as i64).signum(),
            (to.1 as i64 - from.1 as i64).signum(),
        ]
    };
    let mut loops = Vec::new();
    while let Some((start, _)) = sides.first_key_value() {
        let (start, mut at, mut came) = (*start, *start, None);
        let mut corners = Vec::new();
        while let Some(ways) = sides.get_mut(&at) {
            // Where two squares touch at a corner only, the way round the own one turns left.
            let left = came.and_then(|[x, y]: [i64; 2]| {
                ways.iter().position(|to| direction(at, *to) == [-y, x])
            });
            let to = ways.swap_remove(left.unwrap_or(0));
            if ways.is_empty() {
                sides.remove(&at);
            }
            let goes = direction(at, to);
            if came != Some(goes) {
                corners.push(at);
            }
            (at, came) = (to, Some(goes));
            if at == start {
                break;
            }
        }
        // The loop begins at a corner: the first of all places in order is one.
        let outermost = (0..corners.len()).max_by_key(|i| (corners[*i].1, corners[*i].0));
        corners.rotate_left(outermost.unwrap_or(0));
        loops.push(corners);
    }
    loops
}

/// Above zero where the way from `a` over `b` to `c` turns left.
fn turn(a: &[f64; 2], b: &[f64; 2], c: &[f64; 2]) -> f64 {
    (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])
}

/// How far a point lies from the line through two others.
fn off_line(p: &[f64; 2], a: &[f64; 2], b: &[f64; 2]) -> f64 {
    turn(a, b, p).abs() / (b[0] - a[0]).hypot(b[1] - a[1])
}

/// Fills stairs: leaves out corners at which the outline turns away from the solid, where the chord stays within
/// [`FILLED_MM`] of every corner left out. The first corner has to be an outermost one.
fn filled(corners: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let at = |i: usize| &corners[i % corners.len()];
    let mut kept = vec![0];
    for i in 1..=corners.len() {
        while let [.., a, b] = kept[..] {
            let near = |k: usize| off_line(at(k), at(a), at(i)) <= FILLED_MM;
            if turn(at(a), at(b), at(i)) > 0.0 || !(a + 1..i).all(near) {
                break;
            }
            kept.pop();
        }
        kept.push(i);
    }
    kept.pop();
    kept.into_iter().map(|i| *at(i)).collect()
}

/// Cuts off short sides between two outward corners: their neighbours are extended until they meet, no further than
/// [`EXTENDED_MM`] from the side.
fn extended(corners: Vec<[f64; 2]>) -> Vec<[f64; 2]> {
    // Each corner with how far it may stand off the outline that came in.
    let mut corners: Vec<([f64; 2], f64)> = corners.into_iter().map(|c| (c, 0.0)).collect();
    let mut i = 0;
    let mut since_last = 0;
    while corners.len() > 4 && since_last <= corners.len() {
        let n = corners.len();
        i %= n;
        let [a, b, c, d] = [0, 1, 2, 3].map(|k| &corners[(i + k) % n]);
        match meeting(&a.0, &b.0, &c.0, &d.0) {
            Some((corner, off)) if off + b.1.max(c.1) <= EXTENDED_MM => {
                let new = (corner, off + b.1.max(c.1));
                let (at_b, at_c) = ((i + 1) % n, (i + 2) % n);
                corners[at_b] = new;
                corners.remove(at_c);
                since_last = 0;
            }
            _ => {
                i += 1;
                since_last += 1;
            }
        }
    }
    corners.into_iter().map(|(corner, _)| corner).collect()
}

/// Where the sides `a b` and `d c`, extended, meet beyond the side `b c`, and how far from it. None where they don't,
/// or where it would move a corner on the axis.
fn meeting(a: &[f64; 2], b: &[f64; 2], c: &[f64; 2], d: &[f64; 2]) -> Option<([f64; 2], f64)> {
    if b[1] <= 0.0 || c[1] <= 0.0 || turn(a, b, c) <= 0.0 || turn(b, c, d) <= 0.0 {
        return None;
    }
    let cross = |u: [f64; 2], v: [f64; 2]| u[0] * v[1] - u[1] * v[0];
    let way = |from: &[f64; 2], to: &[f64; 2]| [to[0] - from[0], to[1] - from[1]];
    let (u, w, e) = (way(a, b), way(c, d), way(b, c));
    let spread = cross(u, w);
    // Sides that are nearly parallel meet nowhere near.
    if spread <= 1.0e-9 * u[0].hypot(u[1]) * w[0].hypot(w[1]) {
        return None;
    }
    let share = cross(e, w) / spread;
    let corner = [b[0] + share * u[0], b[1] + share * u[1]];
    (corner[1] > 0.0).then(|| (corner, off_line(&corner, b, c)))
}
