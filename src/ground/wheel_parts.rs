//! What of a wheel's parts the ground is asked about beside the tyre's rolling circle.
//!
//! The idea in five lines. A tyre rolls as a circle of its static loaded radius with its width, so what lies within both is kept
//! off the ground by that circle. A part with anything outside them is asked whole, as the full revolution that it
//! sweeps. One that reaches past the circle within the width is what rolls: load presses its tread flat, which the circle stands
//! for. Of that one only what stands beside the width is asked, from as far inside the circle as its tread reaches past it: so
//! much of a sidewall gives way above the ground.
//!
//! Reads: a corner's part. Produces: surfaces in the part's body. Next: [`super::vehicle`].

use crate::shapes::{Shape, Surface};
use nalgebra::Vector3;

/// The circle that rolls, and where it is.
pub(super) struct RollingCircle {
    /// The wheel's centre as measured.
    pub centre: Vector3<f64>,
    /// The spindle, unit.
    pub axis: Vector3<f64>,
    /// The static loaded radius, mm.
    pub radius_mm: f64,
    /// Half of the tyre's width, mm.
    pub half_width_mm: f64,
}

/// What is drawn flush with the tyre's side, or with its circle, isn't beside it, mm: a facet's error.
const FLUSH_MM: f64 = 0.05;
/// An outline of less than this is none, square mm: a hair along the tyre's side.
const LEAST_AREA_MM2: f64 = 1.0e-3;

/// A corner of an outline: along the spindle from the wheel's centre, and off it, mm.
type Corner = [f64; 2];

impl RollingCircle {
    /// The surfaces of a wheel's part that the circle doesn't stand for.
    pub(super) fn beside(&self, surface: &Surface) -> Vec<Surface> {
        let (corners, reach) = self.corners(surface);
        let beside = self.half_width_mm + FLUSH_MM;
        let is_within = |[along, off]: &Corner| {
            along.abs() + reach <= beside && off + reach <= self.radius_mm + FLUSH_MM
        };
        if corners.iter().all(is_within) {
            return Vec::new();
        }
        let whole = || vec![surface.clone()];
        if surface.round.is_none() {
            return whole();
        }
        let within = kept(&kept(&corners, |c| beside - c[0]), |c| beside + c[0]);
        let tread_mm = widest(&within) + reach;
        if tread_mm <= self.radius_mm + FLUSH_MM {
            return whole();
        }
        let mut out = Vec::new();
        for side in [-1.0, 1.0] {
            let mut outline = kept(&corners, |c| side * c[0] - beside);
            // Wider beside the tyre than the tread itself, it is no sidewall.
            if widest(&outline) + reach <= tread_mm {
                let gives_from = 2.0 * self.radius_mm - tread_mm;
                outline = kept(&outline, |c| gives_from - c[1]);
            }
            if area(&outline) < LEAST_AREA_MM2 {
                continue;
            }
            let shape = Shape::Lathe {
                from: self.centre,
                axis: self.axis,
                profile: outline,
            };
            match shape.surface(None) {
                Ok(piece) => {
                    let error_mm = piece.facet_error_mm + reach;
                    out.push(piece.facetted(error_mm));
                }
                Err(_) => return whole(),
            }
        }
        out
    }

    /// A part's corners about the spindle, its outline's where it has one, and how far it may reach beyond them.
    fn corners(&self, surface: &Surface) -> (Vec<Corner>, f64) {
        let place = |p: &Vector3<f64>| {
            let from = surface.rotation * p + surface.origin - self.centre;
            let along = from.dot(&self.axis);
            [along, (from - self.axis * along).norm()]
        };
        match &surface.round {
            Some(round) => {
                let on_axis = |z: f64| place(&Vector3::new(0.0, 0.0, z))[0];
                let outline = round.outline.iter();
                let corners = outline.map(|[z, off]| [on_axis(*z), *off]).collect();
                (corners, surface.radius_mm + round.error_mm)
            }
            None => (
                surface.vertices.iter().map(place).collect(),
                surface.reach_mm(),
            ),
        }
    }
}

/// The part of an outline where a reserve that is linear in its corners isn't below zero.
fn kept(outline: &[Corner], reserve: impl Fn(&Corner) -> f64) -> Vec<Corner> {
    let mut out = Vec::new();
    for (i, to) in outline.iter().enumerate() {
        let from = &outline[(i + outline.len() - 1) % outline.len()];
        let (before, after) = (reserve(from), reserve(to));
        if (before < 0.0) != (after < 0.0) {
            let share = before / (before - after);
            out.push([0, 1].map(|k| from[k] + (to[k] - from[k]) * share));
        }
        if after >= 0.0 {
            out.push(*to);
        }
    }
    out
}

fn widest(outline: &[Corner]) -> f64 {
    outline.iter().map(|c| c[1]).fold(0.0, f64::max)
}

fn area(outline: &[Corner]) -> f64 {
    let next = outline.iter().cycle().skip(1);
    let twice: f64 = (outline.iter().zip(next))
        .map(|(a, b)| a[0] * b[1] - b[0] * a[1])
        .sum();
    0.5 * twice.abs()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn circle() -> RollingCircle {
        RollingCircle {
            centre: Vector3::new(10.0, 800.0, 400.0),
            axis: Vector3::y(),
            radius_mm: 380.0,
            half_width_mm: 130.0,
        }
    }

    /// A lathe about the spindle, drawn from another point of it and the other way round.
    fn lathe(profile: &[Corner]) -> Surface {
        let shape = Shape::Lathe {
            from: Vector3::new(10.0, 850.0, 400.0),
            axis: -Vector3::y(),
            profile: profile.iter().map(|[y, r]| [50.0 - y, *r]).collect(),
        };
        shape.surface(None).expect("a lathe")
    }

    /// Least and greatest place along the spindle, and off it.
    fn extents(surface: &Surface) -> [f64; 4] {
        let (corners, _) = circle().corners(surface);
        let along = || corners.iter().map(|c| c[0]);
        let off = || corners.iter().map(|c| c[1]);
        [
            along().fold(f64::INFINITY, f64::min),
            along().fold(f64::NEG_INFINITY, f64::max),
            off().fold(f64::INFINITY, f64::min),
            off().fold(f64::NEG_INFINITY, f64::max),
        ]
    }

    const TYRE: [Corner; 4] = [
        [-130.0, 200.0],
        [130.0, 200.0],
        [130.0, 395.0],
        [-130.0, 395.0],
    ];

    #[test]
    fn a_rim_and_a_tyre_of_its_own_width_are_within_the_circle() {
        let rim = [
            [-100.0, 180.0],
            [100.0, 180.0],
            [130.0, 205.0],
            [-130.0, 205.0],
        ];
        assert!(circle().beside(&lathe(&rim)).is_empty());
        assert!(circle().beside(&lathe(&TYRE)).is_empty());
    }

    #[test]
    fn a_hub_cap_beside_the_tyre_and_a_disc_larger_than_it_are_asked_whole() {
        let cap = lathe(&[[100.0, 0.0], [200.0, 0.0], [200.0, 60.0], [100.0, 60.0]]);
        let disc = lathe(&[
            [-160.0, 0.0],
            [-150.0, 0.0],
            [-150.0, 385.0],
            [-160.0, 385.0],
        ]);
        for part in [cap, disc] {
            let asked = circle().beside(&part);
            assert_eq!(asked.len(), 1);
            assert_eq!(extents(&asked[0]), extents(&part));
        }
    }

    /// The tread, which stands on the ground, is left out, and what stands beside it isn't.
    #[test]
    fn a_hub_cap_drawn_in_one_with_its_tyre_is_asked_beside_the_tyre() {
        let mut both = TYRE.to_vec();
        both.splice(1..3, [[210.0, 10.0], [210.0, 60.0], [134.0, 395.0]]);
        let asked = circle().beside(&lathe(&both));
        assert_eq!(asked.len(), 1, "one side");
        let [least, greatest, _, off] = extents(&asked[0]);
        assert!((least - 130.05).abs() < 1.0e-9 && (greatest - 210.0).abs() < 1.0e-9);
        // As far inside 380 as 395 lies past it.
        assert!((off - 365.0).abs() < 1.0e-9, "{off}");
    }
}
