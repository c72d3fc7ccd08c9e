//! The truck driven over an obstacle: what meets it first, and after that.
//!
//! The idea in five lines. The drive is one line, the front axle's place along the track. Over a stretch of it the
//! truck's stance is enclosed (see [`super::stance`]), so no point of a part can be further from its place in the middle
//! than a bound; a part further than that from everything on the ground is clear over the stretch. Stretches that
//! can't be shown clear are halved, the nearest first, down to a hundredth of a millimetre of the front axle's path:
//! there the part touches, or comes so near that no difference could be told. Each part's first contact is kept.
//!
//! Assumed: rigid tyres rolling as upright circles of the static loaded radius, suspension held at ride height, no
//! speed, no slip. Source of the scheme: F. Schwarzer, M. Saha, J.-C. Latombe, IEEE Trans. Robotics 21(3), 2005.

use super::stance::{Stance, StanceBounds, stand};
use super::terrain::Terrain;
use super::tyre_path::TyrePath;
use super::vehicle::{Vehicle, VehicleError};
use crate::clearance::{Gap, PairWalk, Relative};
use crate::findings::{CAUTIONS, DriveContact, DriveFindings, DriveRow};
use crate::truck::{TOUCH_MM, Truck, TruckObstacle};
use nalgebra::Vector3;
use rayon::prelude::*;

/// Why a drive can't be made.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum DriveError {
    /// The truck can't stand on the ground.
    #[error(transparent)]
    Vehicle(#[from] VehicleError),
    /// No obstacle has that name.
    #[error("no obstacle is named `{0}`")]
    Unknown(String),
    /// Its sizes make no solid.
    #[error("the obstacle `{0}` makes no solid: {1}")]
    Shape(String, String),
    /// Something touches before the drive begins.
    #[error("at the start `{part}` already touches {against}")]
    TouchesAtStart {
        /// The part, or the tyre.
        part: String,
        /// What it touches.
        against: String,
    },
}

/// Width of a contact's bracket along the front axle's path, mm.
const TOLERANCE_MM: f64 = 0.01;
/// A stretch this share of the tolerance that still can't be shown clear is a contact within tolerance.
const GRAZE_SHARE: f64 = 1.0 / 32.0;
/// Where the stance can't be enclosed over a stretch as short as this it isn't settled by the front axle's place, mm.
const STEEP_MM: f64 = 1.0e-6;
/// Stretches looked at before giving up: tests drive the demo scenes without coming to it.
const MOST_STRETCHES: usize = 400_000;
/// Rows of the sampled curve.
const CURVE_ROWS: usize = 240;
/// Room at both ends of the drive, mm.
const RUN_UP_MM: f64 = 50.0;
/// Steps of the look for a wall that a tyre can't climb, mm of the front axle.
const WALL_STEP_MM: f64 = 4.0;
/// A wheel that rises by more than this within a millionth of a millimetre meets a wall, mm.
const WALL_MM: f64 = 1.0;
/// Clearance beyond this isn't measured for the curve, mm.
const CURVE_CUTOFF_MM: f64 = 2_000.0;

/// What is assumed, as printed.
const ASSUMED: [&str; 2] = [
    "Tyres are rigid upright circles at their static loaded radius, with square edges, and what turns with a wheel is \
     taken as inside them; the suspension is held at ride height; no speed, no slip. A real tyre gives, a real \
     suspension moves: keep a margin.",
    "A driver's eye, a spotter and a test at walking pace come before any ledge.",
];

struct Course<'t> {
    vehicle: Vehicle,
    terrain: Terrain,
    paths: [TyrePath; 4],
    /// Greatest distance of each part's points from the middle of the front wheel centres, mm.
    arms: Vec<f64>,
    obstacle: &'t TruckObstacle,
}

fn course<'t>(truck: &'t Truck, name: &str, scale: f64) -> Result<Course<'t>, DriveError> {
    let vehicle = Vehicle::new(truck, [0.0; 4])?;
    let obstacle = truck
        .whole
        .iter()
        .flat_map(|w| &w.obstacles)
        .find(|o| o.entry.name == name)
        .ok_or_else(|| DriveError::Unknown(name.to_owned()))?;
    let terrain = Terrain::of(obstacle, scale)
        .map_err(|e| DriveError::Shape(name.to_owned(), e.to_string()))?;
    let paths = [0, 1, 2, 3].map(|i| {
        TyrePath::new(
            &terrain,
            vehicle.radii[i],
            vehicle.widths[i],
            vehicle.wheels[i].y,
        )
    });
    let front = vehicle.front();
    let arms = vehicle
        .parts
        .iter()
        .map(|part| {
            let surface = &part.surface;
            let corners = (0..surface.vertices.len()).map(|i| surface.vertex_in_body(i));
            corners.map(|v| (v - front).norm()).fold(0.0, f64::max) + surface.reach_mm()
        })
        .collect();
    Ok(Course {
        vehicle,
        terrain,
        paths,
        arms,
        obstacle,
    })
}

impl Course<'_> {
    /// Start and end of the drive: nothing of the truck is over the obstacle.
    fn ends(&self) -> [f64; 2] {
        let front = self.vehicle.front();
        let radius = self.vehicle.radii.iter().copied().fold(0.0, f64::max);
        let (mut ahead, mut behind) = (radius, radius + front.x - self.vehicle.wheels[2].x);
        for part in &self.vehicle.parts {
            for i in 0..part.surface.vertices.len() {
                let x = part.surface.vertex_in_body(i).x - front.x;
                ahead = ahead.max(x + part.surface.reach_mm());
                behind = behind.max(-x + part.surface.reach_mm());
            }
        }
        let start = self.obstacle.entry.ahead.map_or(-ahead - RUN_UP_MM, |a| -a);
        [start, self.terrain.length_mm + behind + RUN_UP_MM]
    }

    fn stand(&self, x: f64, from: Option<&Stance>) -> Stance {
        stand(&self.vehicle, &self.paths, self.terrain.side_slope, x, from)
    }

    /// Gap of a part to one solid, mm, and how it lies; no further than `cutoff_mm`.
    fn gap(
        &self,
        stance: &Stance,
        part: usize,
        solid: usize,
        cutoff_mm: f64,
        warm: Option<(u32, u32)>,
    ) -> (Gap, Relative) {
        let (moving, fixed) = (
            &self.vehicle.parts[part].surface,
            &self.terrain.solids[solid].1,
        );
        let rotation = stance.rotation();
        let origin = stance.point(&self.vehicle, &moving.origin);
        let relative = Relative {
            rotation: fixed.rotation.tr_mul(&(rotation * moving.rotation)),
            offset: fixed.rotation.tr_mul(&(origin - fixed.origin)),
        };
        let walk = PairWalk { fixed, moving };
        (walk.gap(&relative, 0.0, cutoff_mm, warm), relative)
    }

    /// The solid that a part touches at a stance.
    fn touched(&self, stance: &Stance, part: usize) -> Option<usize> {
        (0..self.terrain.solids.len())
            .find(|s| self.gap(stance, part, *s, TOUCH_MM, None).0.gap_mm <= TOUCH_MM)
    }

    /// Where a tyre meets a wall that it can't climb, if it does.
    fn wall(&self, [from, to]: [f64; 2]) -> Option<f64> {
        let heights = |x: f64| {
            let stance = self.stand(x, None);
            [0, 1, 2, 3].map(|i| {
                let at = stance.point(&self.vehicle, &self.vehicle.wheels[i]);
                self.paths[i].height(at.x)
            })
        };
        let jump =
            |a: &[f64; 4], b: &[f64; 4]| a.iter().zip(b).map(|(a, b)| b - a).fold(0.0, f64::max);
        let mut near = (from, heights(from));
        while near.0 < to {
            let far = (near.0 + WALL_STEP_MM).min(to);
            let there = heights(far);
            if jump(&near.1, &there) > WALL_STEP_MM {
                let (mut a, mut b) = (near, (far, there));
                while b.0 - a.0 > 1.0e-6 {
                    let middle = 0.5 * (a.0 + b.0);
                    let here = heights(middle);
                    // The half in which it rises more.
                    if jump(&a.1, &here) > jump(&here, &b.1) {
                        b = (middle, here);
                    } else {
                        a = (middle, here);
                    }
                }
                if jump(&a.1, &b.1) > WALL_MM {
                    return Some(a.0);
                }
            }
            near = (far, there);
        }
        None
    }
}

/// Drives the truck over an obstacle whose size is scaled by `scale` (1: as written).
///
/// # Errors
/// [`DriveError`].
pub fn drive(truck: &Truck, name: &str, scale: f64) -> Result<DriveFindings, DriveError> {
    let course = course(truck, name, scale)?;
    let [start, end] = course.ends();
    let first = course.stand(start, None);
    for i in 0..2 {
        if course.paths[i].climbs(start) {
            return Err(DriveError::TouchesAtStart {
                part: "a front tyre".to_owned(),
                against: name.to_owned(),
            });
        }
    }
    for part in 0..course.vehicle.parts.len() {
        if let Some(solid) = course.touched(&first, part) {
            return Err(DriveError::TouchesAtStart {
                part: course.vehicle.parts[part].name.clone(),
                against: course.terrain.solids[solid].0.clone(),
            });
        }
    }
    let wall = course.wall([start, end]);
    let stop = wall.unwrap_or(end);
    let mut undecided = Vec::new();
    let mut contacts = contacts(&course, start, stop, false, &mut undecided);
    let depths: Vec<Option<f64>> = contacts
        .par_iter()
        .map(|c| depth(&course, c.0, c.1.front_axle_mm[1], stop))
        .collect();
    for (contact, depth) in contacts.iter_mut().zip(depths) {
        contact.1.depth_mm = depth;
    }
    let (curve, off) = curve(&course, start, stop);
    let mut notes = ASSUMED.to_vec();
    notes.extend(CAUTIONS);
    Ok(DriveFindings {
        truck: truck.name.clone(),
        obstacle: name.to_owned(),
        scale,
        from_to_mm: [start, stop],
        contacts: contacts.into_iter().map(|c| c.1).collect(),
        tyres_stop_at_mm: wall,
        curve,
        wheel_off_ground_mm: off,
        undecided,
        notes,
    })
}

/// The elements that stood in the way last, by solid.
type Warm = Vec<Option<(u32, u32)>>;

/// A stretch of the front axle's path, the parts not yet shown clear over it, and a stance near it.
type Stretch = ([f64; 2], Vec<(usize, Warm)>, Option<Stance>);

/// Each part's first contact, in order of the drive; with `first_only`, no more than the first.
fn contacts(
    course: &Course,
    start: f64,
    end: f64,
    first_only: bool,
    undecided: &mut Vec<String>,
) -> Vec<(usize, DriveContact)> {
    let solids = course.terrain.solids.len();
    let mut found: Vec<(usize, DriveContact)> = Vec::new();
    let mut done = vec![false; course.vehicle.parts.len()];
    let all: Vec<(usize, Warm)> = (0..done.len()).map(|p| (p, vec![None; solids])).collect();
    let mut stack: Vec<Stretch> = vec![([start, end], all, None)];
    let mut stretches = 0;
    while let Some(([a, b], parts, from)) = stack.pop() {
        stretches += 1;
        if stretches > MOST_STRETCHES {
            undecided.push(format!(
                "nothing but what is listed touches up to {a:.1} mm of the front axle; beyond that the work \
                 limit was reached"
            ));
            break;
        }
        let parts: Vec<(usize, Warm)> = parts.into_iter().filter(|p| !done[p.0]).collect();
        if parts.is_empty() {
            continue;
        }
        if first_only && !found.is_empty() {
            break;
        }
        let middle = 0.5 * (a + b);
        let splits = middle > a && middle < b;
        let slope = course.terrain.side_slope;
        let bounds =
            StanceBounds::over(&course.vehicle, &course.paths, slope, [a, b], from.as_ref());
        let halve = |stack: &mut Vec<_>, open: Vec<(usize, Warm)>, near: Option<Stance>| {
            stack.push(([middle, b], open.clone(), near));
            stack.push(([a, middle], open, near));
        };
        let Some(bounds) = bounds else {
            if splits && b - a > STEEP_MM {
                halve(&mut stack, parts, from);
                continue;
            }
            undecided.push(format!(
                "with the front axle at {a:.1} mm a tyre climbs so steeply that the front axle's place doesn't \
                 settle how the truck stands; nothing is known beyond"
            ));
            break;
        };
        let open: Vec<(usize, Warm)> = parts
            .into_par_iter()
            .filter_map(|(part, mut warm)| {
                let reach = bounds.displacement_mm(course.arms[part]) + TOUCH_MM;
                let mut clear = true;
                for (solid, warm) in warm.iter_mut().enumerate() {
                    let (gap, _) = course.gap(&bounds.middle, part, solid, reach, *warm);
                    if gap.gap_mm <= reach {
                        *warm = Some(gap.elements);
                        clear = false;
                    }
                }
                (!clear).then_some((part, warm))
            })
            .collect();
        if open.is_empty() {
            continue;
        }
        let path = 2.0 * bounds.forward_mm.hypot(bounds.height_mm);
        if path > TOLERANCE_MM && splits {
            halve(&mut stack, open, Some(bounds.middle));
            continue;
        }
        // As short as the tolerance: what touches at its end is a contact; what doesn't is halved on a little.
        let there = course.stand(b, Some(&bounds.middle));
        let mut waiting = Vec::new();
        for (part, warm) in open {
            let solid = course.touched(&there, part);
            let graze = path <= TOLERANCE_MM * GRAZE_SHARE || !splits;
            match solid {
                Some(solid) => {
                    done[part] = true;
                    found.push((part, record(course, part, solid, [a, b], start)));
                }
                None if graze => {
                    done[part] = true;
                    let nearest = (0..solids)
                        .min_by(|x, y| {
                            let gap = |s: &usize| {
                                course.gap(&there, part, *s, f64::INFINITY, None).0.gap_mm
                            };
                            gap(x).total_cmp(&gap(y))
                        })
                        .unwrap_or(0);
                    found.push((part, record(course, part, nearest, [a, b], start)));
                }
                None => waiting.push((part, warm)),
            }
        }
        if !waiting.is_empty() {
            halve(&mut stack, waiting, Some(bounds.middle));
        }
    }
    found.sort_by(|x, y| {
        let place = |c: &(usize, DriveContact)| c.1.front_axle_mm[1];
        place(x).total_cmp(&place(y)).then(x.0.cmp(&y.0))
    });
    found
}

fn record(
    course: &Course,
    part: usize,
    solid: usize,
    [a, b]: [f64; 2],
    start: f64,
) -> DriveContact {
    // Points from just before the touch, where both surfaces are still apart.
    let stance = course.stand(a - 2.0 * TOLERANCE_MM, None);
    let (gap, _) = course.gap(&stance, part, solid, f64::INFINITY, None);
    let fixed = &course.terrain.solids[solid].1;
    let on_ground: Vector3<f64> = fixed.origin + fixed.rotation * gap.fixed_point;
    let at = course.stand(b, Some(&stance));
    let own = at.rotation().tr_mul(&(on_ground - stance.position)) + course.vehicle.front();
    let wheels = course
        .vehicle
        .wheels
        .map(|w| at.point(&course.vehicle, &w).x);
    DriveContact {
        part: course.vehicle.parts[part].name.clone(),
        against: course.terrain.solids[solid].0.clone(),
        front_axle_mm: [a, b],
        driven_mm: b - start,
        point_on_part_mm: own.into(),
        point_on_ground_mm: on_ground.into(),
        pitch_deg: at.pitch.to_degrees(),
        roll_deg: at.roll.to_degrees(),
        tyre_climbing: (0..4).any(|i| course.paths[i].climbs(wheels[i])),
        depth_mm: None,
    }
}

/// How deep a part would go into what stands on the ground, driven on from its contact: sampled, by the height of the
/// ground under its corners.
fn depth(course: &Course, part: usize, from: f64, to: f64) -> Option<f64> {
    const STEP_MM: f64 = 10.0;
    const CORNERS: usize = 1_500;
    let surface = &course.vehicle.parts[part].surface;
    let every = surface.vertices.len().div_ceil(CORNERS);
    let corners: Vec<_> = (0..surface.vertices.len())
        .step_by(every)
        .map(|i| surface.vertex_in_body(i))
        .collect();
    let mut deepest: f64 = 0.0;
    let mut x = from;
    let mut stance = course.stand(x, None);
    while x <= to {
        stance = course.stand(x, Some(&stance));
        for corner in &corners {
            let p = stance.point(&course.vehicle, corner);
            let ground = course.terrain.height(p.x, p.y)?;
            deepest = deepest.max(ground - p.z + surface.radius_mm);
        }
        x += STEP_MM;
    }
    // Where a flat face lies on an edge, no corner of the part is in it: how deep isn't known.
    (deepest > TOUCH_MM).then_some(deepest)
}

/// Least clearance along the drive, and how far a wheel is off its height at most.
fn curve(course: &Course, start: f64, end: f64) -> (Vec<DriveRow>, f64) {
    let rows: Vec<(DriveRow, f64)> = (0..=CURVE_ROWS)
        .into_par_iter()
        .map(|i| {
            let x = start + (end - start) * i as f64 / CURVE_ROWS as f64;
            let stance = course.stand(x, None);
            let mut least = (CURVE_CUTOFF_MM, 0);
            for part in 0..course.vehicle.parts.len() {
                for solid in 0..course.terrain.solids.len() {
                    let gap = course.gap(&stance, part, solid, least.0, None).0.gap_mm;
                    if gap < least.0 {
                        least = (gap, part);
                    }
                }
            }
            let off = stance.misses_mm.iter().map(|m| m.abs()).fold(0.0, f64::max);
            let row = DriveRow {
                front_axle_mm: x,
                clearance_mm: least.0,
                part: course.vehicle.parts[least.1].name.clone(),
                pitch_deg: stance.pitch.to_degrees(),
                roll_deg: stance.roll.to_degrees(),
            };
            (row, off)
        })
        .collect();
    let off = rows.iter().map(|r| r.1).fold(0.0, f64::max);
    (rows.into_iter().map(|r| r.0).collect(), off)
}

/// Scales tried at most and at least, against the size written.
const SCALES: [f64; 2] = [1.0 / 64.0, 8.0];
/// Width of the bracket of scales, as a share.
const SCALE_TOLERANCE: f64 = 0.002;

/// The largest scale of an obstacle at which the drive clears, with the least known not to: `[clears, doesn't]`.
/// Each is a guarded drive. None where not even the smallest tried clears, or the largest does.
///
/// # Errors
/// [`DriveError`].
pub fn largest_clear(truck: &Truck, name: &str) -> Result<[Option<f64>; 2], DriveError> {
    let clears = |scale: f64| -> Result<bool, DriveError> {
        let course = course(truck, name, scale)?;
        let [start, end] = course.ends();
        if course.wall([start, end]).is_some() {
            return Ok(false);
        }
        let mut undecided = Vec::new();
        let found = contacts(&course, start, end, true, &mut undecided);
        Ok(found.is_empty() && undecided.is_empty())
    };
    let (mut low, mut high);
    if clears(1.0)? {
        low = 1.0;
        loop {
            high = low * 1.5;
            if high > SCALES[1] {
                return Ok([Some(low), None]);
            }
            if !clears(high)? {
                break;
            }
            low = high;
        }
    } else {
        high = 1.0;
        loop {
            low = high / 1.5;
            if low < SCALES[0] {
                return Ok([None, Some(high)]);
            }
            if clears(low)? {
                break;
            }
            high = low;
        }
    }
    while high - low > SCALE_TOLERANCE * low {
        let middle = 0.5 * (low + high);
        if clears(middle)? {
            low = middle;
        } else {
            high = middle;
        }
    }
    Ok([Some(low), Some(high)])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scene::{Obstacle, ObstacleShape, Point, scene_from_text};
    use crate::truck::assemble;
    use std::path::Path;

    fn truck(change: impl FnOnce(&mut crate::scene::Scene)) -> Truck {
        let path = Path::new("scenes/crake.ron");
        let text = std::fs::read_to_string(path).expect("a demo scene");
        let mut scene = scene_from_text(&text, path).expect("it reads");
        change(&mut scene);
        assemble(&scene, Path::new("scenes")).unwrap_or_else(|p| panic!("{p:?}"))
    }

    fn with_obstacle(shape: ObstacleShape, across: Option<(f64, f64)>) -> Truck {
        truck(|scene| {
            scene.obstacles = vec![Obstacle {
                name: "tried".to_owned(),
                shape,
                across,
                ahead: None,
            }];
        })
    }

    /// Steps of the brute force before and after a contact, mm: a fiftieth of a stretch of 100 mm far from it, of the
    /// tolerance's fifty near it.
    const STEPS_MM: [f64; 2] = [2.0, 0.01];

    #[test]
    fn brute_force_never_finds_an_earlier_contact() {
        let mut seed: u64 = 0x9e37_79b9_7f4a_7c15;
        let mut unit = || {
            seed ^= seed << 13;
            seed ^= seed >> 7;
            seed ^= seed << 17;
            (seed >> 11) as f64 / (1_u64 << 53) as f64
        };
        let mut touched = 0;
        for i in 0..14 {
            let mut between = |a: f64, b: f64| a + (b - a) * unit();
            let across = (i % 3 == 0).then(|| (between(-40.0, 0.0), between(5.0, 40.0)));
            let (shape, across) = match i % 5 {
                0 => (
                    ObstacleShape::Ledge {
                        height: between(4.0, 8.0),
                        edge_radius: between(0.0, 1.0),
                    },
                    across,
                ),
                1 => (
                    ObstacleShape::Log {
                        diameter: between(8.0, 18.0),
                    },
                    across,
                ),
                2 => (
                    ObstacleShape::Hump {
                        height: between(8.0, 25.0),
                        length: between(60.0, 140.0),
                    },
                    across,
                ),
                3 => (
                    ObstacleShape::Boulder {
                        size: Point(between(10.0, 40.0), between(10.0, 70.0), between(8.0, 18.0)),
                        middle_y: between(-10.0, 10.0),
                    },
                    None,
                ),
                _ => (
                    ObstacleShape::Ramp {
                        height: between(8.0, 25.0),
                        length: between(15.0, 60.0),
                    },
                    across,
                ),
            };
            let truck = with_obstacle(shape, across);
            let course = course(&truck, "tried", 1.0).expect("a course");
            let found = drive(&truck, "tried", 1.0).expect("a drive");
            assert!(found.undecided.is_empty(), "{:?}", found.undecided);
            let [start, end] = found.from_to_mm;
            for (part, own) in course.vehicle.parts.iter().enumerate() {
                let contact = found.contacts.iter().find(|c| c.part == own.name);
                let free_to = contact.map_or(end, |c| c.front_axle_mm[0]);
                let mut x = start;
                while x < free_to {
                    let stance = course.stand(x, None);
                    assert_eq!(course.touched(&stance, part), None, "{i} {}: {x}", own.name);
                    let near = contact.is_some() && free_to - x < 0.5;
                    x += STEPS_MM[usize::from(near)];
                }
                if let Some(contact) = contact {
                    touched += 1;
                    // Touched at the bracket's end, or within the tolerance of it.
                    let stance = course.stand(contact.front_axle_mm[1], None);
                    let gap = (0..course.terrain.solids.len())
                        .map(|s| course.gap(&stance, part, s, 1.0, None).0.gap_mm)
                        .fold(f64::INFINITY, f64::min);
                    assert!(gap < 2.0 * TOLERANCE_MM, "{i} {}: {gap}", own.name);
                }
            }
        }
        assert!(touched > 10, "only {touched} contacts");
    }

    #[test]
    fn a_wall_higher_than_the_tyres_centre_ends_the_drive() {
        let radius = 12.27 * 25.4;
        let truck = with_obstacle(
            ObstacleShape::Ledge {
                height: 13.0,
                edge_radius: 0.0,
            },
            None,
        );
        let found = drive(&truck, "tried", 1.0).expect("a drive");
        let at = found.tyres_stop_at_mm.expect("it can't be climbed");
        // The tyre's front meets it a radius ahead of the axle.
        assert!((at + radius).abs() < 0.01, "{at}");
        let lower = with_obstacle(
            ObstacleShape::Ledge {
                height: 11.5,
                edge_radius: 0.0,
            },
            None,
        );
        let found = drive(&lower, "tried", 1.0).expect("a drive");
        assert_eq!(found.tyres_stop_at_mm, None);
    }

    #[test]
    fn what_touches_before_the_start_is_refused() {
        let near = truck(|scene| scene.obstacles[0].ahead = Some(5.0));
        let error = drive(&near, "kerb", 1.0).expect_err("it is under the bumper");
        assert!(
            matches!(error, DriveError::TouchesAtStart { .. }),
            "{error}"
        );
        let error = drive(&near, "curb", 1.0).expect_err("no such thing");
        assert_eq!(error, DriveError::Unknown("curb".to_owned()));
    }

    #[test]
    fn the_largest_that_clears_is_bracketed_by_drives() {
        let truck = truck(|_| {});
        let [clears, doesnt] = largest_clear(&truck, "log").expect("drives");
        let (clears, doesnt) = (clears.expect("some size"), doesnt.expect("some size"));
        assert!(clears < doesnt && doesnt < 1.0025 * clears);
        assert!(
            drive(&truck, "log", clears)
                .expect("a drive")
                .contacts
                .is_empty()
        );
        let found = drive(&truck, "log", doesnt).expect("a drive");
        assert!(!found.contacts.is_empty() || found.tyres_stop_at_mm.is_some());
    }
}
