//! Angles, lengths and the least gap against travel at one rack position: what the curves show.
//!
//! Sampled, not guarded: between two rows nothing is claimed. Reads a [`Corner`]; rows out of reach are
//! left out.

use super::remaining_gap::least_gap;
use super::report::angle_deg;
use crate::findings::CurveRow;
use crate::kinematics::wheel_angles;
use crate::truck::Corner;
use rayon::prelude::*;

/// Rows at `count` travels from `travel_mm[0]` to `travel_mm[1]` (mm, bump positive) at `rack_mm`.
pub fn along_travel(
    corner: &Corner,
    rack_mm: f64,
    travel_mm: [f64; 2],
    count: usize,
) -> Vec<CurveRow> {
    let [low, high] = travel_mm;
    let last = count.max(2) - 1;
    (0..=last)
        .into_par_iter()
        .filter_map(|i| {
            let share = i as f64 / last as f64;
            let travel_mm = low + (high - low) * share;
            let position = corner.position(travel_mm, rack_mm).ok()?;
            let linkage = &position.linkage;
            let design = &corner.positioner.linkage;
            let angles = wheel_angles(design, &position, corner.side, corner.loaded_radius_mm);
            Some(CurveRow {
                travel_mm,
                inner_joint_deg: angle_deg(linkage.inner_cos),
                outer_joint_deg: angle_deg(linkage.outer_cos),
                plunge_mm: linkage.plunge_mm,
                camber_deg: angles.camber_deg,
                toe_deg: angles.toe_deg,
                caster_deg: angles.caster_deg,
                damper_mm: linkage.damper_mm,
                least_gap_mm: least_gap(corner, &position, &mut Vec::new()),
            })
        })
        .collect()
}
