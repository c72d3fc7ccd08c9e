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
    "Tyres are rigid upright circles at their static loaded radius, with square edges; the suspension is held at ride \
     height; no speed, no slip. A real tyre gives, a real suspension moves: keep a margin.",
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
    let mut contacts = contacts(&course, start, stop, &mut undecided);
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

/// Each part's first contact, in order of the drive.
fn contacts(
    course: &Course,
    start: f64,
    end: f64,
    undecided: &mut Vec<String>,
) -> Vec<(usize, DriveContact)> {
    let solids = course.terrain.solids.len();
    let mut found: Vec<(usize, DriveContact)> = Vec::new();
    let mut done = vec![false; course.vehicle.parts.len()];
    let all: Vec<(usize, Warm)> = (0..done.len()).map(|p| (p, vec![None; solids])).collect();
    let mut stack: Vec<([f64; 2], Vec<(usize, Warm)>, Option<Stance>)> =
        vec![([start, end], all, None)];
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
            if splits {
                halve(&mut stack, parts, from);
            } else {
                undecided.push(format!("the truck's stance at {a:.3} mm of the front axle"));
            }
            continue;
        };
        let open: Vec<(usize, Warm)> = parts
            .into_par_iter()
            .filter_map(|(part, mut warm)| {
                let reach = bounds.displacement_mm(course.arms[part]) + TOUCH_MM;
                let mut clear = true;
                for solid in 0..solids {
                    let (gap, _) = course.gap(&bounds.middle, part, solid, reach, warm[solid]);
                    if gap.gap_mm <= reach {
                        warm[solid] = Some(gap.elements);
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
    let front = [0, 1].map(|i| at.point(&course.vehicle, &course.vehicle.wheels[i]).x);
    DriveContact {
        part: course.vehicle.parts[part].name.clone(),
        against: course.terrain.solids[solid].0.clone(),
        front_axle_mm: [a, b],
        driven_mm: b - start,
        point_on_part_mm: own.into(),
        point_on_ground_mm: on_ground.into(),
        pitch_deg: at.pitch.to_degrees(),
        roll_deg: at.roll.to_degrees(),
        tyre_climbing: (0..2).any(|i| course.paths[i].climbs(front[i])),
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
    Some(deepest)
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
        let found = contacts(&course, start, end, &mut undecided);
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
