//! The ground and the obstacle as they are drawn: the profile that is checked, as wide as the truck and as long as
//! the drive needs it, with a cut face at both sides.

use super::drive::Setting;
use super::palette;
use crate::ground::Terrain;
use nalgebra::{Rotation3, Vector3};

type Triangles = Vec<[Vector3<f64>; 3]>;

/// Ground drawn beyond both ends of the drive, mm: more than the picture shows.
const BEYOND_MM: f64 = 9_000.0;
/// Ground drawn beside the tyres, mm.
const BESIDE_MM: f64 = 350.0;
/// Thickness of the drawn ground below its lowest place, mm.
const THICK_MM: f64 = 260.0;

/// Colour and triangles of each piece, ground coordinates.
pub fn pieces(setting: &Setting) -> Vec<([u8; 3], Triangles)> {
    let (vehicle, stance) = &setting.level;
    let half_width = (0..4)
        .map(|i| stance.posture.wheels[i].y.abs() + 0.5 * vehicle.widths[i])
        .fold(0.0, f64::max)
        + BESIDE_MM;
    let whole = [-half_width, half_width];
    let [start, end] = setting.ends();
    let [from, to] = [start - BEYOND_MM, end + BEYOND_MM];
    let Some(Terrain {
        profile,
        across,
        solids,
        side_slope,
        length_mm,
        ..
    }) = setting.course.as_ref().map(|c| &c.terrain)
    else {
        let level = slab(&[[from, 0.0], [to, 0.0]], whole, -THICK_MM);
        return vec![(palette::GROUND, level)];
    };
    let below = profile.iter().map(|p| p[1]).fold(0.0, f64::min) - THICK_MM;
    let level = |from: f64, to: f64| slab(&[[from, 0.0], [to, 0.0]], whole, below);
    // Ends far away are level: what is between them is the obstacle, and what stays up behind it.
    let mut line = inner(profile).to_vec();
    let (Some(first), Some(last)) = (line.first().copied(), line.last().copied()) else {
        let mut out = vec![(palette::GROUND, level(from, to))];
        let names = |name: &str| {
            setting
                .course
                .as_ref()
                .is_some_and(|c| c.obstacle() == name)
        };
        // A boulder lies on it; a side slope is the ground itself.
        for (_, solid) in solids.iter().filter(|s| *side_slope == 0.0 && names(&s.0)) {
            let mut boulder = solid.triangles_in_body();
            for p in boulder.iter_mut().flatten() {
                p.z = p.z.max(-0.5 * THICK_MM);
            }
            out.push((palette::EARTH, boulder));
        }
        let turn = Rotation3::from_axis_angle(&Vector3::x_axis(), *side_slope);
        for (_, triangles) in &mut out {
            for p in triangles.iter_mut().flatten() {
                *p = turn * *p;
            }
        }
        return out;
    };
    let stays_up = profile.last().map_or(0.0, |p| p[1]);
    let end = if stays_up == 0.0 {
        last[0].max(*length_mm)
    } else {
        to
    };
    if end > last[0] {
        line.push([end, stays_up]);
    }
    let own = across.map_or(whole, |[right, left]| {
        [right.max(whole[0]), left.min(whole[1])]
    });
    if line.iter().all(|p| p[1] >= 0.0) {
        // It lies on the ground.
        return vec![
            (palette::GROUND, level(from, to)),
            (palette::EARTH, slab(&line, own, 0.0)),
        ];
    }
    // It is dug into it.
    vec![
        (palette::GROUND, level(from, first[0])),
        (palette::EARTH, slab(&line, own, below)),
        (palette::GROUND, level(end, to)),
    ]
}

/// A profile without its far ends.
fn inner(profile: &[[f64; 2]]) -> &[[f64; 2]] {
    match profile {
        [_, inner @ .., _] => inner,
        _ => &[],
    }
}

/// A slab below a line, between two places across the track.
fn slab(line: &[[f64; 2]], [right, left]: [f64; 2], below: f64) -> Triangles {
    let mut out = Vec::new();
    let at = |p: &[f64; 2], y: f64| Vector3::new(p[0], y, p[1]);
    let foot = |p: &[f64; 2], y: f64| Vector3::new(p[0], y, below);
    let mut quad = |a, b, c, d| out.extend([[a, b, c], [a, c, d]]);
    for pair in line.windows(2) {
        let [a, b] = [&pair[0], &pair[1]];
        // Top seen from above, the two cut faces from their sides.
        quad(at(a, right), at(b, right), at(b, left), at(a, left));
        quad(foot(a, right), foot(b, right), at(b, right), at(a, right));
        quad(at(a, left), at(b, left), foot(b, left), foot(a, left));
    }
    if let (Some(a), Some(b)) = (line.first(), line.last()) {
        quad(at(a, right), at(a, left), foot(a, left), foot(a, right));
        quad(at(b, right), foot(b, right), foot(b, left), at(b, left));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::slab;

    #[test]
    fn a_slab_is_as_large_as_its_profile_and_faces_outward_but_for_its_open_foot() {
        // A ledge: 100 long and 50 over its foot, then 200 long and 80 over it.
        let triangles = slab(
            &[[0.0, 0.0], [100.0, 0.0], [100.0, 30.0], [300.0, 30.0]],
            [-20.0, 20.0],
            -50.0,
        );
        let volume: f64 = triangles
            .iter()
            .map(|[a, b, c]| {
                // About a point of the foot's plane the missing foot adds nothing.
                let foot = nalgebra::Vector3::new(0.0, 0.0, -50.0);
                (a - foot).dot(&(b - foot).cross(&(c - foot))) / 6.0
            })
            .sum();
        let expected = 40.0 * (100.0 * 50.0 + 200.0 * 80.0);
        assert!((volume - expected).abs() < 1.0e-6 * expected, "{volume}");
    }
}
