//! Colours of a clearance map, the same in every file and in the window.
//!
//! Clear faces run from dark blue (no room to spare) to near white (at the cutoff), evenly in lightness; a missing gap is
//! yellow and a contact vermilion, which no kind of colour vision takes for blue. Sources: lightness by B. Ottosson,
//! "A perceptual color space for image processing", 2020 (Oklab); yellow and vermilion after M. Okabe, K. Ito, "Color
//! universal design", 2008, as in the window.

use super::Units;
use crate::space::{ClearanceMap, Spot};
use crate::truck::touches;

/// Touching: vermilion.
pub const TOUCHING: [u8; 3] = [213, 94, 0];
/// The required gap is missing: yellow.
pub const UNDER_GAP: [u8; 3] = [240, 228, 66];
/// Beyond the cutoff: grey.
pub const BEYOND: [u8; 3] = [205, 205, 205];
/// Lines to trim by.
pub const TRIM_LINE: [u8; 3] = [25, 30, 38];

/// Oklab lightness and the two colour axes of the scale's ends: sRGB (8, 29, 88) and (214, 234, 248).
const SCALE: [[f64; 3]; 2] = [[0.260, -0.010, -0.109], [0.926, -0.015, -0.024]];

/// The colour of a place.
pub fn colour(map: &ClearanceMap, spot: &Spot) -> [u8; 3] {
    colour_within(map.options.cutoff_mm, spot)
}

/// The same from the gap beyond which none are told apart, mm.
pub fn colour_within(cutoff_mm: f64, spot: &Spot) -> [u8; 3] {
    if spot.to.is_none() {
        BEYOND
    } else if touches(spot.gap_mm) {
        TOUCHING
    } else if spot.room_mm < 0.0 {
        UNDER_GAP
    } else {
        scale(spot.room_mm / cutoff_mm)
    }
}

/// From no room (0) to the most that is told apart (1).
fn scale(share: f64) -> [u8; 3] {
    let share = share.clamp(0.0, 1.0);
    let [l, a, b] = [0, 1, 2].map(|i| SCALE[0][i] + (SCALE[1][i] - SCALE[0][i]) * share);
    let cone = |x: f64, y: f64| (l + x * a + y * b).powi(3);
    let (l, m, s) = (
        cone(0.3963377774, 0.2158037573),
        cone(-0.1055613458, -0.0638541728),
        cone(-0.0894841775, -1.2914855480),
    );
    [
        4.0767416621 * l - 3.3077115913 * m + 0.2309699292 * s,
        -1.2684380046 * l + 2.6097574011 * m - 0.3413193965 * s,
        -0.0041960863 * l - 0.7034186147 * m + 1.7076147010 * s,
    ]
    .map(|linear| {
        let light = linear.clamp(0.0, 1.0);
        let encoded = if light <= 0.003_130_8 {
            12.92 * light
        } else {
            1.055 * light.powf(1.0 / 2.4) - 0.055
        };
        (255.0 * encoded).round() as u8
    })
}

/// What the colours of a map mean, tightest first.
pub fn legend(cutoff_mm: f64, units: Units) -> Vec<([u8; 3], String)> {
    let spare = |share: f64| (scale(share), units.with_unit(share * cutoff_mm));
    let [none, half, all] = [0.0, 0.5, 1.0].map(spare);
    vec![
        (TOUCHING, "touched".to_owned()),
        (UNDER_GAP, "required gap missing".to_owned()),
        (none.0, "no room to spare".to_owned()),
        (half.0, half.1),
        (all.0, format!("{} to spare", all.1)),
        (
            BEYOND,
            format!("nothing within {}", units.at_most_with_unit(cutoff_mm)),
        ),
    ]
}

#[cfg(test)]
mod tests {
    use super::super::glb::linear;
    use super::*;

    #[test]
    fn the_scale_grows_lighter_and_stays_blue() {
        let luminance = |c: [u8; 3]| {
            let [r, g, b] = c.map(|v| f64::from(linear(v)));
            0.2126 * r + 0.7152 * g + 0.0722 * b
        };
        let mut before = -1.0;
        for i in 0..=20 {
            let c = scale(f64::from(i) / 20.0);
            assert!(luminance(c) > before && c[2] >= c[0], "{c:?}");
            before = luminance(c);
        }
    }
}
