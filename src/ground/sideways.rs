//! How far tyres move across the track on a drive, with travel and roll, and what the ground's height changes by there.
//!
//! Heights under a tyre are those of its place across the track at ride height. A wheel comes inward as it droops, and with
//! the body as it rolls; on ground that isn't the same all across it then stands a little higher or lower. How far it moves is
//! looked at by steps along the way; how much that can change a height, between the ground under a tyre wider by it on both
//! sides and one narrower by it. Bounds of the truck's stance are widened by that.
//!
//! Not guaranteed: that a wheel moves no further between two steps than a tenth more than at any of them.

use super::course::Course;
use super::tyre_path::TyrePath;
use rayon::prelude::*;

/// The wheels are looked at every so many mm along the way: a tyre's centre is at its highest over a stretch that is longer, and
/// over so little it is lower by less than a tenth of a millimetre there.
const STEP_MM: f64 = 15.0;
/// By how much further a wheel is taken to move than was seen: a share, and so many mm.
const FURTHER: f64 = 1.1;
const FURTHER_MM: f64 = 0.05;
/// Heights are compared every so many mm along the track.
const HEIGHT_STEP_MM: f64 = 1.0;
/// A narrowed tyre keeps this share of its width.
const LEAST_SHARE: f64 = 0.1;

/// What is known of it.
pub(super) struct Sideways {
    /// How far a tyre moves across the track at most, mm; not looked at where the ground is the same all across.
    pub shift_mm: f64,
    /// By how much each wheel may stand higher or lower for it, mm.
    pub heights_mm: [f64; 4],
}

impl Sideways {
    /// Over a way of the front axle.
    pub fn on(course: &Course, [start, end]: [f64; 2]) -> Sideways {
        if course.terrain.is_same_across() {
            return Sideways {
                shift_mm: 0.0,
                heights_mm: [0.0; 4],
            };
        }
        let vehicle = &course.vehicle;
        let steps = ((end - start) / STEP_MM).ceil().max(1.0) as usize;
        let step = (end - start) / steps as f64;
        let places: Vec<[[f64; 2]; 4]> = (0..=steps)
            .into_par_iter()
            .filter_map(|i| {
                let x = start + step * i as f64;
                let stance = course.stand(x, None)?;
                Some(stance.posture.wheels.map(|wheel| {
                    let at = stance.point(vehicle, &wheel);
                    [at.x, at.y]
                }))
            })
            .collect();
        let shift = |wheel: usize| {
            let off = places
                .iter()
                .map(|at| (at[wheel][1] - course.across_mm[wheel]).abs());
            FURTHER * off.fold(0.0, f64::max) + FURTHER_MM
        };
        let shifts = [0, 1, 2, 3].map(shift);
        let heights_mm = [0, 1, 2, 3].map(|wheel| {
            let own = places.iter().map(|at| at[wheel][0]);
            let ends = own.fold([f64::INFINITY, f64::NEG_INFINITY], |e, x| {
                [e[0].min(x), e[1].max(x)]
            });
            let ends = [ends[0] - step, ends[1] + step];
            height_change(course, wheel, shifts[wheel], ends)
        });
        Sideways {
            shift_mm: shifts.into_iter().fold(0.0, f64::max),
            heights_mm,
        }
    }

    /// The greatest of its heights, mm.
    pub fn height_mm(&self) -> f64 {
        self.heights_mm.into_iter().fold(0.0, f64::max)
    }
}

/// By how much a wheel may stand higher or lower than on the ground of its own place, where it moves by no more than `shift`.
fn height_change(course: &Course, wheel: usize, shift: f64, [from, to]: [f64; 2]) -> f64 {
    let vehicle = &course.vehicle;
    let (radius, width) = (vehicle.radii[wheel], vehicle.widths[wheel]);
    let of_width = |width: f64| {
        let y = course.across_mm[wheel];
        TyrePath::new(&course.terrain, radius, width, y)
    };
    let narrow = (width - 2.0 * shift).max(LEAST_SHARE * width);
    let [narrow, wide] = [narrow, width + 2.0 * shift].map(of_width);
    if narrow.is_same(&wide) {
        return 0.0;
    }
    // Beside the obstacle both stand on level ground.
    let from = from.max(-radius);
    let to = to.min(course.terrain.length_mm + radius);
    let steps = ((to - from) / HEIGHT_STEP_MM).ceil().max(0.0) as usize;
    (0..=steps)
        .into_par_iter()
        .map(|i| from + HEIGHT_STEP_MM * i as f64)
        .map(|x| wide.height(x) - narrow.height(x))
        .reduce(|| 0.0, f64::max)
}
