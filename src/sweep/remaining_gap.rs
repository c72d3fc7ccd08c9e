//! How much room is left: the least gap of all watched pairs, sampled over the free region to colour a map.
//!
//! Sampled, not guarded: what is proved about gaps is in the map's cells (`gaps_kept`) and in
//! [`super::tightest_gaps`]. Each row is walked with the last position's tightest pair asked first, so that
//! most pairs are dismissed by their boxes.

use crate::findings::{FreeMap, MapState, RemainingGap};
use crate::kinematics::Position;
use crate::truck::Corner;
use rayon::prelude::*;

/// Samples a grid of `size` (columns of rack, rows of travel) over the map's free cells.
pub fn remaining_gap(corner: &Corner, map: &FreeMap, size: [usize; 2]) -> RemainingGap {
    let free: Vec<_> = map
        .cells
        .iter()
        .filter(|cell| cell.state == MapState::Free)
        .collect();
    let span = |of: &dyn Fn(&crate::findings::MapCell) -> [f64; 2]| {
        free.iter().fold([0.0_f64, 0.0], |[low, high], cell| {
            let [a, b] = of(cell);
            [low.min(a), high.max(b)]
        })
    };
    let even = |[low, high]: [f64; 2], n: usize| -> Vec<f64> {
        (0..n)
            .map(|i| low + (high - low) * (i as f64 + 0.5) / n as f64)
            .collect()
    };
    let rack_mm = even(span(&|c| c.rack_mm), size[0]);
    let travel_mm = even(span(&|c| c.travel_mm), size[1]);
    // Cells of each column, so that "is this position free?" looks at few.
    let columns: Vec<Vec<[f64; 2]>> = rack_mm
        .iter()
        .map(|rack| {
            free.iter()
                .filter(|c| (c.rack_mm[0]..=c.rack_mm[1]).contains(rack))
                .map(|c| c.travel_mm)
                .collect()
        })
        .collect();
    let gap_mm = travel_mm
        .par_iter()
        .flat_map_iter(|travel| {
            let mut order = Vec::new();
            rack_mm
                .iter()
                .zip(&columns)
                .map(|(rack, cells)| {
                    cells
                        .iter()
                        .any(|[low, high]| (low..=high).contains(&travel))
                        .then(|| corner.position(*travel, *rack).ok())
                        .flatten()
                        .and_then(|position| least_gap(corner, &position, &mut order))
                })
                .collect::<Vec<_>>()
        })
        .collect();
    RemainingGap {
        rack_mm,
        travel_mm,
        gap_mm,
    }
}

/// The least gap of all pairs at a position, mm. `order` keeps the pairs, tightest at the last position
/// first, between calls.
pub(super) fn least_gap(
    corner: &Corner,
    position: &Position,
    order: &mut Vec<usize>,
) -> Option<f64> {
    if order.len() != corner.pairs.len() {
        *order = (0..corner.pairs.len()).collect();
    }
    let mut least: Option<f64> = None;
    let mut tightest = 0;
    for (place, i) in order.iter().enumerate() {
        let pair = &corner.pairs[*i];
        let swell = corner.swell_mm(pair, &position.linkage);
        let relative = pair.relative(&corner.parts, &position.linkage);
        let cutoff = least.unwrap_or(f64::INFINITY);
        let gap = pair
            .walk(&corner.parts)
            .gap(&relative, swell, cutoff, None)
            .gap_mm;
        if gap < cutoff {
            (least, tightest) = (Some(gap), place);
        }
    }
    if least.is_some() {
        order[..=tightest].rotate_right(1);
    }
    least
}
