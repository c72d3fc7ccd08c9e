//! A tyre that looks like one: grooves and lugs cut *into* the outline that is checked, never beyond it.

use crate::scene::{Fitted, PartEntry, Scene, ShapeEntry};
use crate::setups::tyre_outline;
use crate::shapes::Surface;
use nalgebra::Vector3;

/// Depth of the grooves drawn, mm.
const GROOVE_MM: f64 = 8.0;
/// Lugs round the tyre.
const LUGS: usize = 40;
/// Steps round a lug and its groove: the first third is groove.
const STEPS_A_LUG: usize = 6;
/// Width of a row across the tread, mm.
const ROW_MM: f64 = 16.0;
/// Share of a row or step that a groove's wall takes.
const WALL: f64 = 0.07;
/// The tread is the part of the outline this close to its greatest radius, as a share of the section
/// height.
const TREAD_SHARE: f64 = 0.22;

/// Number of the part that is the tyre: the one on the wheel with the greatest radius about the spindle,
/// if that is about the loaded radius.
pub fn tyre_part(
    parts: &[crate::clearance::Part],
    centre: &Vector3<f64>,
    axis: &Vector3<f64>,
    loaded_radius_mm: f64,
) -> Option<usize> {
    let radius = |surface: &Surface| {
        (0..surface.vertices.len())
            .map(|v| {
                let arm = surface.vertex_in_body(v) - centre;
                (arm - axis * axis.dot(&arm)).norm()
            })
            .fold(0.0, f64::max)
    };
    parts
        .iter()
        .enumerate()
        .filter(|(_, part)| part.body == crate::suspension::Body::Wheel)
        .map(|(i, part)| (i, radius(&part.surface)))
        .filter(|(_, radius)| *radius >= 0.9 * loaded_radius_mm)
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(i, _)| i)
}

/// The outline (along, radius), mm, of a tyre's shape as the scene draws it; `None` for a mesh.
pub fn outline(scene: &Scene, name: &str) -> Option<Vec<(f64, f64)>> {
    let drawn = |entry: &&PartEntry| entry.name == name && entry.fitted == Fitted::EachSide;
    let entry = scene.parts.iter().find(drawn)?;
    let mm = scene.units.in_mm();
    match &entry.shape {
        ShapeEntry::Lathe { profile, .. } => {
            Some(profile.iter().map(|(a, r)| (a * mm, r * mm)).collect())
        }
        ShapeEntry::Cylinder { from, to, radius } => {
            let d = [to.0 - from.0, to.1 - from.1, to.2 - from.2];
            let half = 0.5 * mm * d.iter().map(|c| c * c).sum::<f64>().sqrt();
            let r = radius * mm;
            let rim = 0.57 * r;
            Some(vec![(-half, rim), (half, rim), (half, r), (-half, r)])
        }
        ShapeEntry::Tyre {
            tread_width,
            shoulder_drop,
        } => {
            let drawn = tyre_outline(scene, *tread_width, *shoulder_drop, "tyre").ok()?;
            Some(drawn.into_iter().map(|[a, r]| (a, r)).collect())
        }
        _ => None,
    }
}

/// Triangles of a tyre with tread, about the origin with its axis along y; the outline's `along` is
/// outboard from the middle.
pub fn triangles(outline: &[(f64, f64)]) -> Vec<[Vector3<f64>; 3]> {
    let greatest = outline.iter().map(|p| p.1).fold(0.0, f64::max);
    let least = outline.iter().map(|p| p.1).fold(f64::INFINITY, f64::min);
    let tread_from = greatest - TREAD_SHARE * (greatest - least);
    // Long sides across the tread are divided, so that grooves have somewhere to end. Every place stands
    // twice, once with the depth to each side of it: groove walls are upright.
    let mut line: Vec<(f64, f64, Option<f64>)> = Vec::new();
    let half_width = outline.iter().map(|p| p.0.abs()).fold(0.0, f64::max);
    for (i, a) in outline.iter().enumerate() {
        let b = outline[(i + 1) % outline.len()];
        let on_tread = a.1.min(b.1) >= tread_from;
        let length = (b.0 - a.0).hypot(b.1 - a.1);
        let rows = if on_tread {
            (length / ROW_MM).ceil().max(1.0) as usize
        } else {
            1
        };
        for k in 0..rows {
            let at = |share: f64| (a.0 + (b.0 - a.0) * share, a.1 + (b.1 - a.1) * share);
            let middle = on_tread.then(|| at((k as f64 + 0.5) / rows as f64).0 / half_width);
            for end in [k as f64 + WALL, k as f64 + 1.0 - WALL] {
                let (along, radius) = at(end / rows as f64);
                line.push((along, radius, middle));
            }
        }
    }
    let turns = LUGS * STEPS_A_LUG;
    let ring = |place: usize| -> Vec<Vector3<f64>> {
        let step = place / 2;
        let within = if place.is_multiple_of(2) {
            WALL
        } else {
            1.0 - WALL
        };
        let angle = std::f64::consts::TAU * (step as f64 + within) / turns as f64;
        line.iter()
            .map(|(along, radius, across)| {
                let r = radius - across.map_or(0.0, |across| groove(across, step));
                Vector3::new(r * angle.sin(), *along, r * angle.cos())
            })
            .collect()
    };
    let turns = 2 * turns;
    let rings: Vec<_> = (0..turns).map(ring).collect();
    // Which way round the outline is given decides which way faces look.
    let area: f64 = (0..line.len())
        .map(|i| {
            let (a, b) = (line[i], line[(i + 1) % line.len()]);
            a.0 * b.1 - b.0 * a.1
        })
        .sum();
    let mut out = Vec::with_capacity(turns * line.len() * 2);
    for step in 0..turns {
        let (near, far) = (&rings[step], &rings[(step + 1) % turns]);
        for i in 0..line.len() {
            let j = (i + 1) % line.len();
            let (a, b, c, d) = (near[i], near[j], far[j], far[i]);
            if area > 0.0 {
                out.extend([[a, b, c], [a, c, d]]);
            } else {
                out.extend([[a, c, b], [a, d, c]]);
            }
        }
    }
    out
}

/// Depth of the groove at a place across the tread (-1 to 1) and a step round it.
fn groove(across: f64, step: usize) -> f64 {
    // Cross grooves lean with the distance from the middle, and the two shoulders are set off by half a
    // lug; one groove runs round the middle.
    let lean = (across.abs() * STEPS_A_LUG as f64 * 0.8) as usize;
    let offset = if across < 0.0 { STEPS_A_LUG / 2 } else { 0 };
    let place = (step + lean + offset) % STEPS_A_LUG;
    if across.abs() < 0.12 || place < STEPS_A_LUG / 3 {
        GROOVE_MM
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests {
    use super::triangles;

    #[test]
    fn the_tread_never_reaches_beyond_the_outline_that_is_checked() {
        let outline = [
            (-120.0, 228.0),
            (120.0, 228.0),
            (116.0, 386.0),
            (-116.0, 386.0),
        ];
        let mut greatest = 0.0_f64;
        let mut volume = 0.0;
        for [a, b, c] in triangles(&outline) {
            for p in [a, b, c] {
                let r = p.x.hypot(p.z);
                greatest = greatest.max(r);
                assert!(r <= 386.0 + 1.0e-9 && p.y.abs() <= 120.0 + 1.0e-9);
            }
            volume += a.dot(&b.cross(&c)) / 6.0;
        }
        assert!(greatest > 385.9, "lugs reach the outline");
        assert!(volume > 0.0, "faces look outward");
    }
}
