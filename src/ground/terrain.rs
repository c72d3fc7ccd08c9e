//! An obstacle on level ground: heights that tyres roll on, and surfaces that parts meet.
//!
//! Ground coordinates: x forward along the drive with the obstacle's front at zero, y left, z up from the level
//! ground. What runs across the track is a height profile; a boulder is an ellipsoid, drawn as a mesh for parts; a mesh is
//! its triangles.

use crate::scene::ObstacleShape;
use crate::shapes::{Shape, ShapeError, Surface};
use crate::truck::TruckObstacle;
use nalgebra::Vector3;
use std::sync::Arc;

/// What a truck drives over.
#[derive(Clone, Debug)]
pub struct Terrain {
    /// Heights across the whole track, or across `across`: (x, z) with x rising; level before and after.
    pub profile: Vec<[f64; 2]>,
    /// Where the profile lies across the track; level ground elsewhere.
    pub across: Option<[f64; 2]>,
    /// The same with finer facets: what tyres roll on.
    pub rolled: Vec<[f64; 2]>,
    /// A mesh's triangles.
    pub facets: Vec<[Vector3<f64>; 3]>,
    /// Solids for contact: name and surface.
    pub solids: Vec<(String, Surface)>,
    /// The ground's side slope, radians, left side higher positive.
    pub side_slope: f64,
    /// Where the obstacle ends along x.
    pub length_mm: f64,
    /// A drawn boulder's middle and half axes.
    pub boulder: Option<[Vector3<f64>; 2]>,
}

/// Rounded edges, logs and humps are drawn with facets that miss the true curve by less than this, mm. Corners lie on
/// the curve, so a bulge stands this far outside its facets at most; gaps take it off.
const FACET_MM: f64 = 0.02;
/// The same for what tyres roll on: no tyre sinks deeper into a curve, a tenth of the drive's tolerance.
pub(super) const ROLLED_FACET_MM: f64 = 1.0e-3;
/// The ground is drawn this far out before an obstacle and behind it, mm.
const FAR_MM: f64 = 60_000.0;
/// Half of the drawn ground's width, mm.
pub(super) const HALF_WIDTH_MM: f64 = 4_000.0;
/// Depth of the solid below its lowest place, mm: deeper than anything reaches.
const BELOW_MM: f64 = 3_000.0;
/// An upright wall of a solid leans by this, mm: a tenth of the drive's tolerance.
const LEAN_MM: f64 = 1.0e-3;
/// A boulder's mesh is fine enough to miss the ellipsoid by less than this, mm, within [`BOULDER_RINGS`]; what it
/// misses it by is taken off gaps.
const BOULDER_FACET_MM: f64 = 0.1;
/// Least and most rings of a boulder's mesh from pole to pole: the most keeps it below 150,000 triangles.
const BOULDER_RINGS: [f64; 2] = [24.0, 192.0];

/// No obstacle is higher, deeper or thicker than this, mm: a truck climbs a tenth of it.
const LARGEST_MM: f64 = 20_000.0;
/// No ramp, hump, ditch or profile is longer, mm.
const LONGEST_MM: f64 = 200_000.0;

fn within(size_mm: f64, most_mm: f64) -> Result<(), ShapeError> {
    if size_mm <= most_mm {
        Ok(())
    } else {
        Err(ShapeError::LargerThan(most_mm / 1000.0))
    }
}

/// Whether an obstacle's size, scaled as in [`Terrain::of`], is one that can be driven over. A mesh's is known
/// from its file.
fn check_size(shape: &ObstacleShape, scale: f64) -> Result<(), ShapeError> {
    let (size_mm, length_mm) = match shape {
        ObstacleShape::Ledge { height, .. } => (*height, 0.0),
        ObstacleShape::Ramp { height, length } | ObstacleShape::Hump { height, length } => {
            (*height, *length)
        }
        ObstacleShape::Log { diameter } => (*diameter, 0.0),
        ObstacleShape::Boulder { size, .. } => (size.0.max(size.1).max(size.2), 0.0),
        ObstacleShape::Ditch { depth, width } => (*depth, *width),
        ObstacleShape::Profile { points } => (
            points.iter().map(|p| p.1.abs()).fold(0.0, f64::max),
            points.last().map_or(0.0, |p| p.0),
        ),
        ObstacleShape::Mesh { .. } | ObstacleShape::SideSlope { .. } => (0.0, 0.0),
    };
    within(size_mm * scale, LARGEST_MM)?;
    within(length_mm, LONGEST_MM)
}

impl Terrain {
    /// From an obstacle whose size is scaled by `scale`: heights, diameters and boulders as a whole; lengths of
    /// ramps and humps and widths of ditches stay.
    ///
    /// # Errors
    /// [`ShapeError`] where the sizes make no solid.
    pub fn of(obstacle: &TruckObstacle, scale: f64) -> Result<Terrain, ShapeError> {
        let entry = &obstacle.entry;
        check_size(&entry.shape, scale)?;
        let (profile, facet_mm) = heights(&entry.shape, scale, FACET_MM);
        let (rolled, _) = heights(&entry.shape, scale, ROLLED_FACET_MM);
        let mut facets = Vec::new();
        let mut solids = Vec::new();
        let mut side_slope = 0.0_f64;
        let mut boulder = None;
        // A boulder and a mesh are as long as they are.
        let mut length_mm = match &entry.shape {
            ObstacleShape::Ramp { length, .. } | ObstacleShape::Hump { length, .. } => *length,
            ObstacleShape::Log { diameter } => diameter * scale,
            ObstacleShape::Ditch { width, .. } => *width,
            ObstacleShape::Profile { points } => points.last().map_or(0.0, |p| p.0),
            ObstacleShape::Ledge { .. }
            | ObstacleShape::SideSlope { .. }
            | ObstacleShape::Boulder { .. }
            | ObstacleShape::Mesh { .. } => 0.0,
        };
        match &entry.shape {
            ObstacleShape::Ledge { .. }
            | ObstacleShape::Ramp { .. }
            | ObstacleShape::Hump { .. }
            | ObstacleShape::Log { .. }
            | ObstacleShape::Ditch { .. }
            | ObstacleShape::Profile { .. } => {}
            ObstacleShape::SideSlope { deg } => side_slope = deg.to_radians(),
            ObstacleShape::Boulder { size, middle_y } => {
                let half = Vector3::new(0.5 * size.0, 0.5 * size.1, size.2) * scale;
                let middle = Vector3::new(half.x, *middle_y, 0.0);
                boulder = Some([middle, half]);
                let (vertices, triangles, facet_mm) = ellipsoid(&middle, &half);
                let surface = solid(vertices, triangles)?.facetted(facet_mm);
                solids.push((entry.name.clone(), surface));
                length_mm = 2.0 * half.x;
            }
            ObstacleShape::Mesh { middle_y, sunk, .. } => {
                if let Some((vertices, triangles)) = &obstacle.mesh {
                    let ends = |axis: usize| {
                        vertices
                            .iter()
                            .fold([f64::INFINITY, f64::NEG_INFINITY], |e, v| {
                                [e[0].min(v[axis]), e[1].max(v[axis])]
                            })
                    };
                    let ([x0, x1], [y0, y1], [z0, z1]) = (ends(0), ends(1), ends(2));
                    let longest = (x1 - x0).max(y1 - y0).max(z1 - z0);
                    within(longest * scale, LARGEST_MM)?;
                    let from = Vector3::new(x0, 0.5 * (y0 + y1), z0);
                    let to = Vector3::new(0.0, *middle_y, -sunk * scale);
                    let placed: Vec<_> = vertices.iter().map(|v| (v - from) * scale + to).collect();
                    let corners = |t: &[u32; 3]| t.map(|i| placed[i as usize]);
                    facets = triangles.iter().map(corners).collect();
                    length_mm = (x1 - x0) * scale;
                    solids.push((entry.name.clone(), solid(placed, triangles.to_vec())?));
                }
            }
        }
        let across = entry.across.map(|(a, b)| [a, b]);
        let level = [[-FAR_MM, 0.0], [length_mm + FAR_MM, 0.0]];
        let mut whole = Terrain {
            profile: on_the_level(&profile),
            rolled: on_the_level(&rolled),
            across,
            facets,
            solids,
            side_slope,
            length_mm,
            boulder,
        };
        // Level ground lies beside a profile of some width, not under it: it may go below zero.
        let beside = match across {
            _ if profile.is_empty() => vec![[-HALF_WIDTH_MM, HALF_WIDTH_MM]],
            Some([a, b]) => vec![[-HALF_WIDTH_MM, a], [b, HALF_WIDTH_MM]],
            None => Vec::new(),
        };
        for width in beside.into_iter().filter(|[a, b]| a < b) {
            let ground = prism(&level, width, 0.0)?;
            whole.solids.push(("the ground".to_owned(), ground));
        }
        if !profile.is_empty() {
            let width = across.unwrap_or([-HALF_WIDTH_MM, HALF_WIDTH_MM]);
            let solid = prism(&whole.profile, width, facet_mm)?;
            whole.solids.push((entry.name.clone(), solid));
        }
        if side_slope != 0.0 {
            let turn = nalgebra::Rotation3::from_axis_angle(&Vector3::x_axis(), side_slope);
            for (_, solid) in &mut whole.solids {
                solid.rotation = turn.into_inner() * solid.rotation;
                solid.origin = turn * solid.origin;
            }
        }
        Ok(whole)
    }

    /// Whether it is the same all across the track, but for a side slope.
    pub(super) fn is_same_across(&self) -> bool {
        self.across.is_none() && self.facets.is_empty() && self.boulder.is_none()
    }

    /// Height of the ground at a place, for how deep a part is in it; none on a mesh.
    pub fn height(&self, x: f64, y: f64) -> Option<f64> {
        if let Some([middle, half]) = &self.boulder {
            let (u, v) = ((x - middle.x) / half.x, (y - middle.y) / half.y);
            return Some(half.z * (1.0 - u * u - v * v).max(0.0).sqrt());
        }
        if !self.facets.is_empty() {
            return None;
        }
        if self.across.is_some_and(|[a, b]| y < a || y > b) {
            return Some(0.0);
        }
        let after = self.profile.partition_point(|p| p[0] <= x);
        if after == 0 || after == self.profile.len() {
            return Some(0.0);
        }
        let ([x0, z0], [x1, z1]) = (self.profile[after - 1], self.profile[after]);
        Some(if x1 > x0 {
            z0 + (z1 - z0) * (x - x0) / (x1 - x0)
        } else {
            z0.max(z1)
        })
    }
}

/// A profile with the level ground before and behind it.
fn on_the_level(profile: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let [length, end] = profile.last().copied().unwrap_or_default();
    let mut out = vec![[-FAR_MM, 0.0]];
    out.extend(profile);
    out.push([length + FAR_MM, end]);
    out
}

/// Heights of what runs across the track, curves drawn by facets that miss them by no more than `facet_mm`; and how far the
/// true curve stands off the straight pieces between the corners. Nothing for what doesn't.
fn heights(shape: &ObstacleShape, scale: f64, facet_mm: f64) -> (Vec<[f64; 2]>, f64) {
    let mut profile: Vec<[f64; 2]> = Vec::new();
    let mut off_mm = 0.0;
    match shape {
        ObstacleShape::Ledge {
            height,
            edge_radius,
        } => {
            let (h, r) = (height * scale, edge_radius.min(height * scale));
            profile.push([0.0, 0.0]);
            profile.push([0.0, h - r]);
            off_mm = if r > 0.0 { facet_mm } else { 0.0 };
            for a in arc(r, std::f64::consts::FRAC_PI_2, facet_mm) {
                profile.push([r * (1.0 - a.cos()), h - r + r * a.sin()]);
            }
        }
        ObstacleShape::Ramp { height, length } => {
            profile.extend([[0.0, 0.0], [*length, height * scale]]);
        }
        ObstacleShape::Hump { height, length } => {
            let h = height * scale;
            // Sagitta of a wave's facet: bend times step squared over eight.
            let bend = 0.5 * h * (std::f64::consts::TAU / length).powi(2);
            let n =
                ((bend * length * length / (8.0 * facet_mm)).sqrt().ceil()).clamp(16.0, 9_000.0);
            off_mm = bend * (length / n).powi(2) / 8.0;
            for i in 0..=n as usize {
                let x = length * i as f64 / n;
                let wave = 1.0 - (std::f64::consts::TAU * i as f64 / n).cos();
                profile.push([x, 0.5 * h * wave]);
            }
        }
        ObstacleShape::Log { diameter } => {
            let r = 0.5 * diameter * scale;
            off_mm = facet_mm;
            // Below its middle a log hangs over; nothing rolls or reaches under there.
            profile.push([0.0, 0.0]);
            for a in arc(r, std::f64::consts::PI, facet_mm) {
                profile.push([r * (1.0 - a.cos()), r + r * a.sin()]);
            }
            profile.push([2.0 * r, 0.0]);
        }
        ObstacleShape::Ditch { depth, width } => {
            let d = depth * scale;
            profile.extend([[0.0, 0.0], [0.0, -d], [*width, -d], [*width, 0.0]]);
        }
        ObstacleShape::Profile { points } => {
            profile.push([points[0].0, 0.0]);
            profile.extend(points.iter().map(|p| [p.0, p.1 * scale]));
        }
        ObstacleShape::SideSlope { .. }
        | ObstacleShape::Boulder { .. }
        | ObstacleShape::Mesh { .. } => {}
    }
    (profile, off_mm)
}

/// The top of an ellipsoid between two places across the track, as seen from the side: its cut at the place nearest to its
/// middle is highest all along, an ellipse, drawn by facets that miss it by no more than [`ROLLED_FACET_MM`].
pub(super) fn boulder_outline(
    [middle, half]: &[Vector3<f64>; 2],
    [low, high]: [f64; 2],
) -> Vec<[f64; 2]> {
    let off = (middle.y.clamp(low, high) - middle.y) / half.y;
    if off.abs() >= 1.0 {
        return Vec::new();
    }
    let share = (1.0 - off * off).sqrt();
    let (long, high) = (half.x * share, half.z * share);
    // A facet's sagitta: no more than the longer half axis times the step of the angle squared over eight.
    let step = (8.0 * ROLLED_FACET_MM / long.max(high)).sqrt();
    let n = (std::f64::consts::PI / step).ceil().max(8.0) as usize;
    (0..=n)
        .map(|i| std::f64::consts::PI * i as f64 / n as f64)
        .map(|a| [middle.x - long * a.cos(), high * a.sin()])
        .collect()
}

/// Angles from zero to `end` of an arc's facets, both ends included.
fn arc(radius: f64, end: f64, facet_mm: f64) -> Vec<f64> {
    if radius <= 0.0 {
        return vec![end];
    }
    let step = 2.0 * (1.0 - (facet_mm / radius).min(0.5)).acos();
    let n = (end / step).ceil().max(2.0) as usize;
    (0..=n).map(|i| end * i as f64 / n as f64).collect()
}

fn solid(vertices: Vec<Vector3<f64>>, triangles: Vec<[u32; 3]>) -> Result<Surface, ShapeError> {
    Shape::Mesh {
        vertices: Arc::new(vertices),
        triangles: Arc::new(triangles),
    }
    .surface(None)
}

/// The solid below a profile between two places across the track; the true curve stands off the profile by no more
/// than `facet_mm`.
fn prism(profile: &[[f64; 2]], across: [f64; 2], facet_mm: f64) -> Result<Surface, ShapeError> {
    let mut line: Vec<[f64; 2]> = profile.to_vec();
    line.dedup();
    // Upright walls lean by a micron, so that every strip of the solid has a width. A front wall leans back: what it
    // gives away counts as facet error.
    let mut leant_mm: f64 = 0.0;
    for i in 1..line.len() {
        let x = line[i][0].max(line[i - 1][0] + LEAN_MM);
        leant_mm = leant_mm.max(x - line[i][0]);
        line[i][0] = x;
    }
    let n = line.len();
    let lowest = line.iter().map(|p| p[1]).fold(0.0, f64::min);
    let mut vertices = Vec::new();
    for y in across {
        vertices.extend(line.iter().map(|p| Vector3::new(p[0], y, p[1])));
        vertices.extend(
            line.iter()
                .map(|p| Vector3::new(p[0], y, lowest - BELOW_MM)),
        );
    }
    let at =
        |side: usize, below: bool, i: usize| (side * 2 * n + usize::from(below) * n + i) as u32;
    let mut triangles = Vec::new();
    let mut quad = |a: u32, b: u32, c: u32, d: u32| triangles.extend([[a, b, c], [a, c, d]]);
    for i in 0..n - 1 {
        // Top, seen from above; bottom, from below; the two sides.
        quad(
            at(0, false, i),
            at(0, false, i + 1),
            at(1, false, i + 1),
            at(1, false, i),
        );
        quad(
            at(0, true, i + 1),
            at(0, true, i),
            at(1, true, i),
            at(1, true, i + 1),
        );
        quad(
            at(0, true, i),
            at(0, true, i + 1),
            at(0, false, i + 1),
            at(0, false, i),
        );
        quad(
            at(1, true, i + 1),
            at(1, true, i),
            at(1, false, i),
            at(1, false, i + 1),
        );
    }
    let last = n - 1;
    quad(
        at(0, true, 0),
        at(0, false, 0),
        at(1, false, 0),
        at(1, true, 0),
    );
    quad(
        at(0, false, last),
        at(0, true, last),
        at(1, true, last),
        at(1, false, last),
    );
    Ok(solid(vertices, triangles)?.facetted(facet_mm + leant_mm))
}

/// An ellipsoid's mesh, outward, and how far the ellipsoid stands outside of it at most, mm.
fn ellipsoid(
    middle: &Vector3<f64>,
    half: &Vector3<f64>,
) -> (Vec<Vector3<f64>>, Vec<[u32; 3]>, f64) {
    let widest = half.max();
    // On the unit ball a cell of step a is about a^2 / 4 deep.
    let rings = std::f64::consts::FRAC_PI_2 * (widest / BOULDER_FACET_MM).sqrt();
    let rings = rings.ceil().clamp(BOULDER_RINGS[0], BOULDER_RINGS[1]) as usize;
    let round = 2 * rings;
    let mut units = vec![Vector3::z()];
    for i in 1..rings {
        let a = std::f64::consts::PI * i as f64 / rings as f64;
        for j in 0..round {
            let b = std::f64::consts::TAU * j as f64 / round as f64;
            units.push(Vector3::new(a.sin() * b.cos(), a.sin() * b.sin(), a.cos()));
        }
    }
    units.push(-Vector3::z());
    let at = |i: usize, j: usize| (1 + (i - 1) * round + j % round) as u32;
    let last = (units.len() - 1) as u32;
    let mut triangles = Vec::new();
    for j in 0..round {
        triangles.push([0, at(1, j), at(1, j + 1)]);
        for i in 1..rings - 1 {
            triangles.push([at(i, j), at(i + 1, j), at(i + 1, j + 1)]);
            triangles.push([at(i, j), at(i + 1, j + 1), at(i, j + 1)]);
        }
        triangles.push([at(rings - 1, j), last, at(rings - 1, j + 1)]);
    }
    // On the unit ball a point outward of a facet is as deep as the facet's plane is short of the ball, at most. Drawn
    // out to the ellipsoid it moves along its ray, by no more than that share of the longest half axis.
    let deepest = triangles.iter().map(|t| {
        let [a, b, c] = t.map(|i| units[i as usize]);
        1.0 - (b - a).cross(&(c - a)).normalize().dot(&a)
    });
    let facet_mm = widest * deepest.fold(0.0, f64::max);
    let place = |unit: &Vector3<f64>| middle + unit.component_mul(half);
    let vertices = units.iter().map(place).collect();
    (vertices, triangles, facet_mm)
}

#[cfg(test)]
impl Terrain {
    /// A closed mesh as an obstacle, its front moved to zero.
    pub(super) fn of_mesh(
        corners: Vec<Vector3<f64>>,
        triangles: Vec<[u32; 3]>,
        middle_y: f64,
        sunk: f64,
    ) -> Terrain {
        let obstacle = TruckObstacle {
            entry: crate::scene::Obstacle {
                name: "tried".to_owned(),
                shape: ObstacleShape::Mesh {
                    file: "tried.stl".to_owned(),
                    unit: None,
                    middle_y,
                    sunk,
                },
                across: None,
                ahead: None,
            },
            mesh: Some((Arc::new(corners), Arc::new(triangles))),
        };
        Terrain::of(&obstacle, 1.0).expect("a solid")
    }

    /// What tyres roll on of an open mesh, as it lies.
    pub(super) fn of_open_mesh(corners: Vec<Vector3<f64>>, triangles: &[[u32; 3]]) -> Terrain {
        let mut terrain = Terrain::tried(ObstacleShape::SideSlope { deg: 0.0 }, None);
        terrain.facets = triangles
            .iter()
            .map(|t| t.map(|i| corners[i as usize]))
            .collect();
        terrain
    }

    /// One obstacle, for tests of what reads a terrain.
    pub(super) fn tried(shape: ObstacleShape, across: Option<(f64, f64)>) -> Terrain {
        let obstacle = TruckObstacle {
            entry: crate::scene::Obstacle {
                name: "tried".to_owned(),
                shape,
                across,
                ahead: None,
            },
            mesh: None,
        };
        Terrain::of(&obstacle, 1.0).expect("a solid")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_solid_is_closed_and_faces_outward() {
        for shape in [
            ObstacleShape::Ledge {
                height: 200.0,
                edge_radius: 20.0,
            },
            ObstacleShape::Ditch {
                depth: 300.0,
                width: 500.0,
            },
            ObstacleShape::Log { diameter: 300.0 },
            ObstacleShape::Boulder {
                size: crate::scene::Point(500.0, 400.0, 300.0),
                middle_y: 0.0,
            },
        ] {
            let narrow = matches!(shape, ObstacleShape::Log { .. }).then_some((-300.0, 300.0));
            for (name, solid) in &Terrain::tried(shape.clone(), narrow).solids {
                assert!(solid.closed, "{shape:?} {name}");
                let middle = solid.origin + solid.rotation * solid.bounds().middle;
                let inside = Vector3::new(100.0, middle.y, -1_000.0);
                let at = if solid.vertices.len() > 1_000 {
                    Vector3::new(250.0, 0.0, 10.0)
                } else {
                    inside
                };
                let own = solid.rotation.transpose() * (at - solid.origin);
                let winding = solid.winding(&own);
                assert!(
                    (winding - 1.0).abs() < 1.0e-6,
                    "{shape:?} {name}: {winding}"
                );
            }
        }
    }

    /// What a mesh misses its obstacle by is told: over the middle of each facet the true surface stands outside by no
    /// more than that, and somewhere by more than half of it.
    #[test]
    fn a_boulders_facets_miss_it_by_no_more_than_is_told() {
        for size in [
            (300.0, 1_500.0, 400.0),
            (40.0, 60.0, 20.0),
            (2e4, 1.5e4, 9e3),
        ] {
            let boulder = Terrain::tried(
                ObstacleShape::Boulder {
                    size: crate::scene::Point(size.0, size.1, size.2),
                    middle_y: 70.0,
                },
                None,
            );
            let half = Vector3::new(0.5 * size.0, 0.5 * size.1, size.2);
            let surface = &boulder.solids[0].1;
            let told = surface.facet_error_mm;
            assert!(told < BOULDER_FACET_MM * 1.01 || half.max() > 1e3, "{told}");
            let mut deepest: f64 = 0.0;
            for element in 0..surface.elements.len() {
                let corners = surface.corners(element);
                let middle = (corners[0] + corners[1] + corners[2]) / 3.0;
                let normal = (corners[1] - corners[0]).cross(&(corners[2] - corners[0]));
                let normal = normal.normalize();
                // Between the facet's plane and the tangent plane that is parallel to it.
                deepest = deepest.max(normal.component_mul(&half).norm() - normal.dot(&middle));
            }
            assert!(
                deepest <= told + 1e-9 && deepest > 0.5 * told,
                "{deepest} {told}"
            );
            // Its outline between two places is the highest that it is there, and its facets miss it by no more than told.
            let ellipsoid = boulder.boulder.expect("a boulder");
            let across = [ellipsoid[0].y + 0.3 * half.y, ellipsoid[0].y + 0.8 * half.y];
            let outline = boulder_outline(&ellipsoid, across);
            for ends in outline.windows(2) {
                let x = 0.5 * (ends[0][0] + ends[1][0]);
                let z = 0.5 * (ends[0][1] + ends[1][1]);
                let highest = (0..=50).map(|k| {
                    let y = across[0] + (across[1] - across[0]) * f64::from(k) / 50.0;
                    boulder.height(x, y).expect("an ellipsoid")
                });
                let highest = highest.fold(0.0, f64::max);
                assert!(z <= highest + 1.0e-9, "{x}: {z} over {highest}");
                // Near its rim it is too steep for heights to say much.
                let is_steep = z < 0.3 * half.z;
                assert!(
                    is_steep || highest - z < 4.0 * ROLLED_FACET_MM,
                    "{x}: {z} {highest}"
                );
            }
        }
    }

    #[test]
    fn heights_are_those_of_the_profile() {
        let ledge = Terrain::tried(
            ObstacleShape::Ledge {
                height: 200.0,
                edge_radius: 0.0,
            },
            Some((0.0, 900.0)),
        );
        assert_eq!(ledge.height(-1.0, 100.0), Some(0.0));
        assert_eq!(ledge.height(1.0, 100.0), Some(200.0));
        assert_eq!(ledge.height(1.0, -100.0), Some(0.0));
    }
}
