//! The least gap of each watched pair over the free region: found for all, proved for the tightest.
//!
//! The idea in five lines. Every pair is measured on a coarse grid and at the ends of the free travel. For the tightest,
//! branch and bound: over each block of the map that touches the free region, "does the gap stay above the best so far less
//! the tolerance?" is a threshold question; blocks that pass are dropped, others are halved and their middle is measured.
//! Where the work limit ends that, the same is asked of lower levels.
//!
//! A square on the region's edge that isn't proved free is asked too: the wheel may be in it, up to the stop itself.
//!
//! Guarantee: no gap in the free region is below a pair's `at_least_mm`, which may be zero. Not guaranteed: that the gap
//! found is the least one of a pair beyond the tightest; its requirement is proved or not by the verdict.

use super::free_travel::{CoveredSquares, Region};
use super::rate_atlas::{Cell, NodeId};
use super::stops::{Guard, Proof, StopKind, is_intended};
use crate::clearance::Gap;
use crate::findings::TightGap;
use crate::kinematics::Position;
use rayon::prelude::*;

/// The least gap is proved to within this, mm.
const GAP_TOLERANCE_MM: f64 = 0.05;
/// Far pairs hold flat minima that nobody asks for: their tolerance grows to this share of the gap, and the first look at
/// every pair measures no closer.
const GAP_TOLERANCE_SHARE: f64 = 0.05;
/// Blocks looked at per pair and level before a lower level is tried.
const MOST_BLOCKS: usize = 250;
/// Rounds of the walk downhill.
const POLISH_HALVINGS: usize = 14;
/// Positions of the coarse look along each axis.
const COARSE: usize = 6;
/// The same at first, and for pairs that aren't among the tightest: nothing hangs on how near they come.
const COARSE_FAR: usize = 3;

/// The tightest pairs whose least gap is bounded one by one; others too, unless proved clear everywhere.
const PROVED_PAIRS: usize = 12;
/// The tightest pairs at the first look that are looked at again closely: those to be bounded are among them.
const CLOSE_PAIRS: usize = 3 * PROVED_PAIRS;

#[derive(Clone)]
struct Best {
    gap: Gap,
    position: Position,
}

/// Least gaps of all pairs, tightest first. `ends` are positions (arm angle, rack) at the ends of the
/// free travel, which the map's squares only come near.
pub fn tightest_gaps(guard: &Guard, region: &Region, ends: &[(f64, f64)]) -> Vec<TightGap> {
    let pairs = &guard.corner.pairs;
    let far = on_grid(guard, region, COARSE_FAR);
    let ends: Vec<Position> = ends.iter().map(|at| place(guard, *at)).collect();
    let mut looks: Vec<(usize, Best)> = (0..pairs.len())
        .into_par_iter()
        .map(|pair| (pair, first_look(guard, &far, &ends, pair)))
        .collect();
    let tightest_first = |a: &(usize, Best), b: &(usize, Best)| {
        let room = |x: &(usize, Best)| x.1.gap.gap_mm - pairs[x.0].required_mm;
        room(a).total_cmp(&room(b)).then(a.0.cmp(&b.0))
    };
    looks.sort_by(tightest_first);
    let close = looks.len().min(CLOSE_PAIRS);
    let near = on_grid(guard, region, COARSE);
    looks[..close].par_iter_mut().for_each(|(pair, best)| {
        measure_out(guard, *pair, best);
        // Most gaps are least at an end, a little nearer at one rack position than at the next.
        for position in near.iter().chain(&ends) {
            look(guard, *pair, best, position, 0.0);
        }
    });
    looks.sort_by(tightest_first);
    // Other pairs are listed as measured, with the required gap as the bound where they are proved clear everywhere; what
    // the verdict proves of them is added to it.
    let mut out: Vec<TightGap> = looks
        .into_par_iter()
        .enumerate()
        .map(|(rank, (pair, mut best))| {
            let required = pairs[pair].required_mm;
            if rank < PROVED_PAIRS {
                return tightest_gap(guard, region, pair, best);
            }
            if rank >= close {
                measure_out(guard, pair, &mut best);
            }
            let kept = guard.always_clear(pair);
            found(guard, pair, best, if kept { required } else { 0.0 })
        })
        .collect();
    out.sort_by(|a, b| {
        (a.gap_mm - a.required_mm)
            .total_cmp(&(b.gap_mm - b.required_mm))
            .then_with(|| (&a.a, &a.b).cmp(&(&b.a, &b.b)))
    });
    out
}

fn place(guard: &Guard, (alpha, rack_mm): (f64, f64)) -> Position {
    guard.corner.positioner.place(alpha, rack_mm)
}

/// The least gap at some positions, to within a share: at the measured one, on a grid, and, where the pair may come near, at
/// the ends of the free travel.
fn first_look(guard: &Guard, grid: &[Position], ends: &[Position], pair: usize) -> Best {
    let corner = guard.corner;
    let watched = &corner.pairs[pair];
    let measured = place(guard, (0.0, 0.0));
    let cutoff = f64::INFINITY;
    let gap = corner.gap_within(
        GAP_TOLERANCE_SHARE,
        watched,
        &measured.linkage,
        cutoff,
        None,
    );
    let mut best = Best {
        gap,
        position: measured,
    };
    let ends = if guard.always_clear(pair) { &[] } else { ends };
    for position in grid.iter().chain(ends) {
        look(guard, pair, &mut best, position, GAP_TOLERANCE_SHARE);
    }
    best
}

/// Free positions on a grid, as many along each axis.
fn on_grid(guard: &Guard, region: &Region, coarse: usize) -> Vec<Position> {
    let size = region.size();
    let square =
        |k: usize, n: usize| ((2 * k + 1) as f64 / (2 * coarse) as f64 * n as f64) as usize;
    let all = (0..coarse).flat_map(|i| (0..coarse).map(move |j| [i, j]));
    all.map(|[i, j]| [square(i, size[0]), square(j, size[1])].map(|k| [k, k + 1]))
        .filter(|block| region.touches_free(*block))
        .map(|block| place(guard, region.cell(block).centre()))
        .collect()
}

/// The exact gap at the position of the best.
fn measure_out(guard: &Guard, pair: usize, best: &mut Best) {
    let watched = &guard.corner.pairs[pair];
    let warm = Some(best.gap.elements);
    best.gap = guard.corner.gap(watched, &best.position.linkage, warm);
}

/// Walks downhill from the best position in ever smaller steps, inside the free region and up to both
/// locks.
fn polish(guard: &Guard, region: &Region, pair: usize, best: &mut Best) {
    let domain = guard.atlas.domain;
    let mut step = [
        (domain.alpha[1] - domain.alpha[0]) / 16.0,
        (domain.rack[1] - domain.rack[0]) / 16.0,
    ];
    for _ in 0..POLISH_HALVINGS {
        let (alpha, rack) = (best.position.alpha, best.position.rack_mm);
        let before = best.gap.gap_mm;
        for (u, v) in [
            (1.0, 0.0),
            (-1.0, 0.0),
            (0.0, 1.0),
            (0.0, -1.0),
            (1.0, 1.0),
            (-1.0, -1.0),
            (1.0, -1.0),
            (-1.0, 1.0),
        ] {
            let a = (alpha + u * step[0]).clamp(domain.alpha[0], domain.alpha[1]);
            let r = (rack + v * step[1]).clamp(domain.rack[0], domain.rack[1]);
            if region.is_free_at(a, r) {
                look(guard, pair, best, &place(guard, (a, r)), 0.0);
            }
        }
        if best.gap.gap_mm >= before {
            step = step.map(|s| 0.5 * s);
        }
    }
}

/// Measures the gap at a position, no further than to see that it is no less than the best, or not by more than a share.
fn look(guard: &Guard, pair: usize, best: &mut Best, position: &Position, share: f64) {
    let corner = guard.corner;
    let watched = &corner.pairs[pair];
    let (cutoff, warm) = (best.gap.gap_mm, Some(best.gap.elements));
    let gap = corner.gap_within(share, watched, &position.linkage, cutoff, warm);
    if gap.gap_mm < best.gap.gap_mm {
        let position = position.clone();
        *best = Best { gap, position };
    }
}

/// Improves the best and proves a bound: the finest of a few levels that the work limit allows.
fn tightest_gap(guard: &Guard, region: &Region, pair: usize, mut best: Best) -> TightGap {
    polish(guard, region, pair, &mut best);
    let tolerance = |gap: f64| GAP_TOLERANCE_MM.max(GAP_TOLERANCE_SHARE * gap);
    let close = |gap: f64| (gap - tolerance(gap)).max(0.0);
    let mut search = Search::new(guard, region, pair);
    let mut at_least = 0.0;
    for share in [1.0, 0.8, 0.5, 0.25] {
        // What was proved above a higher level stays proved; the search finds better positions too.
        if search.run(&mut best, &|gap| close(gap) * share) {
            at_least = close(best.gap.gap_mm) * share;
            break;
        }
    }
    measure_out(guard, pair, &mut best);
    found(guard, pair, best, at_least)
}

struct Block {
    squares: [[usize; 2]; 2],
    cell: Cell,
    node: NodeId,
}

/// Blocks of the free region over which a pair's gap isn't yet proved above the level.
struct Search<'a> {
    guard: &'a Guard<'a>,
    region: &'a Region,
    pair: usize,
    covered: CoveredSquares,
    /// What is meant to end the travel.
    intended: Vec<StopKind>,
    left: Vec<Block>,
}

impl<'a> Search<'a> {
    fn new(guard: &'a Guard<'a>, region: &'a Region, pair: usize) -> Self {
        let size = region.size();
        let middle = size.map(|n| n / 2);
        let stops = guard.stops.iter().copied();
        let intended = stops.filter(|s| is_intended(guard.corner, *s)).collect();
        let mut left = Vec::new();
        for i in [[0, middle[0]], [middle[0], size[0]]] {
            for j in [[0, middle[1]], [middle[1], size[1]]] {
                let cell = region.cell([i, j]);
                left.push(Block {
                    squares: [i, j],
                    cell,
                    node: guard.atlas.quarter(&cell),
                });
            }
        }
        Search {
            guard,
            region,
            pair,
            covered: region.covered_squares(&region.covered()),
            intended,
            left,
        }
    }

    /// Works until the gap is proved above `level` of the best over all that is left, or the work limit
    /// is reached. Improves the best on the way. Whether it was proved.
    fn run(&mut self, best: &mut Best, level: &dyn Fn(f64) -> f64) -> bool {
        let Search {
            guard,
            region,
            pair,
            covered,
            intended,
            left,
        } = self;
        let mut blocks = 0;
        while let Some(Block {
            squares,
            cell,
            node,
        }) = left.pop()
        {
            // The wheel may be in a square that isn't proved free: along the edge, up to the stop itself.
            if !covered.any_in(&cell) {
                continue;
            }
            blocks += 1;
            let level_mm = level(best.gap.gap_mm);
            if blocks > MOST_BLOCKS || level_mm <= 0.0 {
                left.push(Block {
                    squares,
                    cell,
                    node,
                });
                return false;
            }
            let warm = Some(best.gap.elements);
            let node = guard.atlas.descend(node, &cell);
            if let Some(poses) = guard.reached_poses(node, &cell)
                && (poses.are_none() || poses.keep_gap(guard, *pair, level_mm, warm).0)
            {
                continue;
            }
            let (node, seen) = guard.on_cell(node, &cell, |state| {
                let [by_arm, by_rack] = guard.motion_shares(*pair, state);
                let axis = usize::from(by_rack > by_arm);
                let proof = match guard.prove_pair(*pair, level_mm, state, warm) {
                    Proof::Free => Proof::Free,
                    // Past what is meant to end the travel no wheel gets.
                    _ if intended
                        .iter()
                        .any(|s| guard.prove(*s, state, None) == Proof::Stopped) =>
                    {
                        Proof::Free
                    }
                    other => other,
                };
                (proof, axis)
            });
            let axis = match seen {
                Some((Proof::Free, _)) => continue,
                Some((_, axis)) => axis,
                None => 0,
            };
            let (alpha, rack) = cell.centre();
            let [i, j] = squares.map(|[a, b]| (a + b) / 2);
            let is_free = region.touches_free([[i, i + 1], [j, j + 1]]);
            let mut found = best.clone();
            look(guard, *pair, &mut found, &place(guard, (alpha, rack)), 0.0);
            if found.gap.gap_mm < best.gap.gap_mm && (is_free || is_kept_at(guard, alpha, rack)) {
                *best = found;
            }
            for (half, cell) in cell.halves(axis).into_iter().enumerate() {
                let mut squares = squares;
                let [a, b] = squares[axis];
                // Below one square the cell goes on being halved inside it.
                if b - a > 1 {
                    squares[axis][1 - half] = (a + b) / 2;
                }
                left.push(Block {
                    squares,
                    cell,
                    node,
                });
            }
        }
        true
    }
}

/// Whether nothing that blocks is violated at a position, and no part stands wholly inside another there: surfaces alone
/// are apart then.
fn is_kept_at(guard: &Guard, alpha: f64, rack_mm: f64) -> bool {
    let mut blocking = guard.stops.iter().filter(|stop| stop.blocks());
    !blocking.any(|stop| {
        guard.violated_at(*stop, alpha, rack_mm, None)
            || guard.is_inside_at(*stop, (alpha, rack_mm))
    })
}

fn found(guard: &Guard, pair: usize, best: Best, at_least: f64) -> TightGap {
    let corner = guard.corner;
    let watched = &corner.pairs[pair];
    let linkage = &best.position.linkage;
    let swell = corner.swell_mm(watched, linkage);
    let [a, b] = watched.points(&corner.parts, linkage, &best.gap, swell);
    let gap_mm = best.gap.gap_mm;
    TightGap {
        a: corner.parts[watched.a].name.clone(),
        b: corner.parts[watched.b].name.clone(),
        gap_mm,
        at_least_mm: at_least.max(0.0),
        required_mm: watched.required_mm,
        travel_mm: best.position.travel_mm,
        rack_mm: best.position.rack_mm,
        point_a_mm: a.into(),
        point_b_mm: b.into(),
    }
}
