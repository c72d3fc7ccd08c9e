//! The truck driven over an obstacle: what meets it first, and after that.
//!
//! The idea in five lines. The drive is one line, the front axle's place along the track. Over a stretch of it the
//! truck's stance is enclosed (see [`super::stance`]), so no point of a part can be further from its place in the middle
//! than a bound; a part further than that from everything on the ground is clear over the stretch. Stretches that
//! can't be shown clear are halved, the nearest first, down to a hundredth of a millimetre of the front axle's path:
//! there the part touches, or comes so near that no difference could be told. Each part's first contact is kept.
//!
//! Assumed: rigid tyres rolling as upright circles of the static loaded radius, with their widths; of what turns with a wheel
//! what lies outside both is asked as the full revolution that it sweeps (see [`super::wheel_parts`]). Suspension held at ride
//! height or following without friction, no speed, no slip. Source of the scheme: F. Schwarzer, M. Saha, J.-C. Latombe, IEEE Trans. Robotics 21(3), 2005.

use super::course::{Course, DriveError};
use super::sideways::Sideways;
use super::stance::Stance;
use crate::findings::{
    CAUTIONS, DriveContact, DriveFindings, DriveRow, SizeDriven, SizeOutcome, SizesDriven,
    WheelPastStop,
};
use crate::truck::TOUCH_MM;
use nalgebra::Vector3;
use rayon::prelude::*;

/// Width of a contact's bracket along the front axle's path, mm.
const TOLERANCE_MM: f64 = 0.01;
/// A stretch this share of the tolerance that still can't be shown clear is a contact within tolerance.
const GRAZE_SHARE: f64 = 1.0 / 32.0;
/// Where the stance can't be enclosed over a stretch as short as this it isn't settled by the front axle's place, mm.
const STEEP_MM: f64 = 1.0e-6;
/// Stretches looked at before giving up: tests drive the demo scenes without coming to it.
const MOST_STRETCHES: usize = 50_000;
/// Rows of the sampled curve.
const CURVE_ROWS: usize = 240;
/// Lowest places of the curve that are looked at closer.
const REFINED_PLACES: usize = 3;
/// Steps to either side of such a place, and how often they are made smaller by as much: to a 512th of a row's step.
const REFINED_STEPS: i32 = 8;
const REFINEMENTS: usize = 3;
/// Clearance beyond this isn't measured for the curve, mm.
const CURVE_CUTOFF_MM: f64 = 2_000.0;

/// What is assumed, as printed.
const TYRES: &str = "Tyres are rigid upright circles at their static loaded radius, with square edges. What turns with a wheel and lies \
     within that circle and the tyre's width goes with it; what stands beside the tyre is asked. No speed, no slip. A real \
     tyre gives: keep a margin.";
const HELD: &str = "The suspension is held at ride height. A real one moves: give `wheel_springs` for it to follow. Nothing is said of \
     sliding or rolling over.";
const FOLLOWS: &str = "Each wheel follows the ground as four springs share the weight, from full droop to the first stop in bump straight \
     ahead; weight stays where it is on the level; no anti-roll bar, no friction, stops that don't give. Nothing \
     is said of sliding or rolling over.";
const WALKING_PACE: &str =
    "A driver's eye, a spotter and a test at walking pace come before any ledge.";

/// That nothing touches where the drive begins.
fn check_start(course: &Course, start: f64) -> Result<(), DriveError> {
    let first = course.stand(start, None).ok_or(DriveError::CannotStand)?;
    for i in 0..2 {
        if course.paths[i].climbs(start) {
            return Err(DriveError::TouchesAtStart {
                part: "a front tyre".to_owned(),
                against: course.obstacle().to_owned(),
            });
        }
    }
    for part in 0..course.vehicle.parts.len() {
        if let Some(solid) = course.entered(&first, part) {
            return Err(DriveError::TouchesAtStart {
                part: course.vehicle.parts[part].name.clone(),
                against: course.terrain.solids[solid].0.clone(),
            });
        }
    }
    Ok(())
}

/// Drives the truck over its obstacle.
///
/// # Errors
/// [`DriveError::TouchesAtStart`].
pub fn drive(course: &Course) -> Result<DriveFindings, DriveError> {
    let [start, end] = course.ends();
    let name = course.obstacle();
    let follows = course.vehicle.suspension.is_some();
    course.check_begins_before()?;
    check_start(course, start)?;
    let wall = course.wall([start, end]);
    let stop = wall.unwrap_or(end);
    let mut undecided = None;
    let sideways = Sideways::on(course, [start, stop]);
    let mut contacts = contacts(course, [start, stop], &[0.0; 4], false, &mut undecided);
    if contacts.is_empty() && undecided.is_none() {
        undecided = near_for_sideways(course, [start, stop], &sideways);
    }
    let depths: Vec<Option<f64>> = contacts
        .par_iter()
        .map(|c| depth(course, c.0, c.1.front_axle_mm[1], stop))
        .collect();
    for (contact, depth) in contacts.iter_mut().zip(depths) {
        contact.1.depth_mm = depth;
    }
    let (curve, off) = curve(course, start, stop);
    let past = course.driven.past_stops.iter().map(|past| {
        let WheelPastStop { wheel, stop } = past;
        format!(
            "held at ride height the {wheel} wheel is past {stop}: the truck can't be driven so"
        )
    });
    let mut notes = vec![TYRES, if follows { FOLLOWS } else { HELD }, WALKING_PACE];
    notes.extend(CAUTIONS);
    let mut notes: Vec<std::borrow::Cow<'static, str>> =
        notes.into_iter().map(Into::into).collect();
    if sideways.height_mm() > TOLERANCE_MM {
        notes.insert(1, sideways_note(&sideways).into());
    }
    Ok(DriveFindings {
        truck: course.driven.truck.clone(),
        setup: course.driven.setup.clone(),
        obstacle: name.to_owned(),
        scale: course.scale,
        suspension_follows: follows,
        from_to_mm: [start, stop],
        contacts: contacts.into_iter().map(|c| c.1).collect(),
        tyres_stop_at_mm: wall,
        curve,
        wheel_off_ground_mm: off,
        decided_to_mm: undecided.as_ref().map_or(stop, |u| u.from_mm),
        undecided: undecided
            .map(|u| u.why)
            .into_iter()
            .chain(course.not_looked_at())
            .chain(past)
            .collect(),
        sizes: None,
        notes,
        warnings: course.driven.warnings.clone(),
    })
}

/// The elements that stood in the way last, by solid.
type Warm = Vec<Option<(u32, u32)>>;

/// A stretch of the front axle's path, the parts not yet shown clear over it, and a stance near it.
type Stretch = ([f64; 2], Vec<(usize, Warm)>, Option<Stance>);

/// Where nothing more is known of a drive.
struct Undecided {
    /// The front axle's place up to which everything is decided.
    from_mm: f64,
    why: String,
}

/// Each part's first contact, in order of the drive; with `first_only`, no more than the first. Each wheel's height may be
/// off its path's by so much; where that is more than nothing, what is found may be no contact but as near as that.
fn contacts(
    course: &Course,
    [start, end]: [f64; 2],
    off_mm: &[f64; 4],
    first_only: bool,
    undecided: &mut Option<Undecided>,
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
            let why = format!(
                "nothing but what is listed touches up to {a:.1} mm of the front axle; beyond that the work \
                 limit was reached"
            );
            *undecided = Some(Undecided { from_mm: a, why });
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
        let bounds = course.bounds([a, b], from.as_ref(), off_mm);
        let halve = |stack: &mut Vec<_>, open: Vec<(usize, Warm)>, near: Option<Stance>| {
            stack.push(([middle, b], open.clone(), near.clone()));
            stack.push(([a, middle], open, near));
        };
        let Some(bounds) = bounds else {
            if splits && b - a > STEEP_MM {
                halve(&mut stack, parts, from);
                continue;
            }
            let why = format!(
                "with the front axle at {a:.1} mm, a tyre climbs so steeply that the front axle's place doesn't \
                 settle how the truck stands; nothing is known beyond"
            );
            *undecided = Some(Undecided { from_mm: a, why });
            break;
        };
        let open: Vec<(usize, Warm)> = parts
            .into_par_iter()
            .filter_map(|(part, mut warm)| {
                let own = &course.vehicle.parts[part];
                let reach =
                    TOUCH_MM + bounds.displacement_mm(&course.vehicle, own.carrier, &own.surface);
                let mut clear = true;
                for (solid, warm) in warm.iter_mut().enumerate() {
                    let gap = course.gap(&bounds.middle, part, solid, reach, *warm);
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
        let Some(there) = course.stand(b, Some(&bounds.middle)) else {
            *undecided = Some(Undecided {
                from_mm: a,
                why: no_travel(b),
            });
            break;
        };
        let mut waiting = Vec::new();
        for (part, warm) in open {
            let solid = course.touched(&there, part);
            let graze = path <= TOLERANCE_MM * GRAZE_SHARE || !splits;
            match solid {
                Some(solid) => {
                    done[part] = true;
                    found.extend(record(course, part, solid, [a, b], start).map(|c| (part, c)));
                }
                None if graze => {
                    done[part] = true;
                    let nearest = (0..solids)
                        .min_by(|x, y| {
                            let gap = |s: &usize| {
                                course.gap(&there, part, *s, f64::INFINITY, None).gap_mm
                            };
                            gap(x).total_cmp(&gap(y))
                        })
                        .unwrap_or(0);
                    found.extend(record(course, part, nearest, [a, b], start).map(|c| (part, c)));
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

/// What comes so near on a drive without contacts that a tyre's way across the track may make it one.
fn near_for_sideways(course: &Course, way: [f64; 2], sideways: &Sideways) -> Option<Undecided> {
    if sideways.height_mm() <= TOLERANCE_MM {
        return None;
    }
    let mut open = None;
    let near = contacts(course, way, &sideways.heights_mm, true, &mut open);
    let told = format!(
        "tyres move up to {:.1} mm across the track with travel and roll, where the ground is up to {:.1} mm higher or lower",
        sideways.shift_mm,
        sideways.height_mm()
    );
    match near.first() {
        Some((_, first)) => Some(Undecided {
            from_mm: first.front_axle_mm[0],
            why: format!(
                "{told}: with the front axle at {:.1} mm {} comes so near to {} that it may touch",
                first.front_axle_mm[0], first.part, first.against
            ),
        }),
        None => open.map(|open| Undecided {
            why: format!(
                "{told}: with the front axle at {:.1} mm a tyre may meet what it passes otherwise; nothing is known beyond",
                open.from_mm
            ),
            ..open
        }),
    }
}

fn sideways_note(sideways: &Sideways) -> String {
    format!(
        "Each tyre keeps its place across the track. On this way tyres move up to {:.1} mm sideways with travel and roll, where \
         the ground is up to {:.1} mm higher or lower: places of contacts and clearances are off by about as much. What is said \
         to clear does with that too.",
        sideways.shift_mm,
        sideways.height_mm()
    )
}

fn no_travel(x: f64) -> String {
    format!(
        "with the front axle at {x:.1} mm a wheel can't have the travel that the ground asks for; nothing is known \
         beyond"
    )
}

/// The contact as it is told. None where the truck can't stand there, which the search has told.
fn record(
    course: &Course,
    part: usize,
    solid: usize,
    [a, b]: [f64; 2],
    start: f64,
) -> Option<DriveContact> {
    // Points from just before the touch, where both surfaces are still apart.
    let stance = course.stand(a - 2.0 * TOLERANCE_MM, None)?;
    let gap = course.gap(&stance, part, solid, f64::INFINITY, None);
    let fixed = &course.terrain.solids[solid].1;
    let on_ground: Vector3<f64> = fixed.origin + fixed.rotation * gap.fixed_point;
    let at = course.stand(b, Some(&stance))?;
    let vehicle = &course.vehicle;
    let (rotation, offset) = stance.place(vehicle, vehicle.parts[part].carrier);
    let own = rotation.tr_mul(&(on_ground - offset));
    let wheels = at.posture.wheels.map(|w| at.point(vehicle, &w).x);
    Some(DriveContact {
        part: vehicle.parts[part].name.clone(),
        against: course.terrain.solids[solid].0.clone(),
        front_axle_mm: [a, b],
        driven_mm: b - start,
        point_on_part_mm: own.into(),
        point_on_ground_mm: on_ground.into(),
        pitch_deg: at.pitch.to_degrees(),
        roll_deg: at.roll.to_degrees(),
        tyre_climbing: (0..4).any(|i| course.paths[i].climbs(wheels[i])),
        tyre_climbed: (0..4)
            .any(|i| course.paths[i].climbs_over([wheels[i] - (b - start), wheels[i]])),
        wheel_travel_mm: at.posture.travel_mm,
        depth_mm: None,
    })
}

/// How deep a part would go into what stands on the ground, driven on from its contact: sampled, by the height of the
/// ground under its corners.
fn depth(course: &Course, part: usize, from: f64, to: f64) -> Option<f64> {
    const STEP_MM: f64 = 10.0;
    const CORNERS: usize = 1_500;
    let own = &course.vehicle.parts[part];
    let surface = &own.surface;
    let every = surface.vertices.len().div_ceil(CORNERS);
    let corners: Vec<_> = (0..surface.vertices.len())
        .step_by(every)
        .map(|i| surface.vertex_in_body(i))
        .collect();
    let mut deepest: f64 = 0.0;
    let mut x = from;
    let mut stance = course.stand(x, None)?;
    while x <= to {
        stance = course.stand(x, Some(&stance))?;
        let (rotation, offset) = stance.place(&course.vehicle, own.carrier);
        for corner in &corners {
            let p = rotation * corner + offset;
            let ground = course.terrain.height(p.x, p.y)?;
            deepest = deepest.max(ground - p.z + surface.radius_mm);
        }
        x += STEP_MM;
    }
    // Where a flat face lies on an edge, no corner of the part is in it: how deep isn't known.
    (deepest > TOUCH_MM).then_some(deepest)
}

/// Least clearance along the drive, and how far a wheel is off its height at most: at even steps, and closer about the
/// places where it is least, which a step may jump over: it changes at once where a tyre begins to climb.
fn curve(course: &Course, start: f64, end: f64) -> (Vec<DriveRow>, f64) {
    let step = (end - start) / CURVE_ROWS as f64;
    let at = |x: f64| Some(clearance_row(course, x, &course.stand(x, None)?));
    let even = (0..=CURVE_ROWS).into_par_iter();
    let mut rows: Vec<(DriveRow, f64)> = even.filter_map(|i| at(start + step * i as f64)).collect();
    let low = |row: &(DriveRow, f64)| row.0.clearance_mm;
    let mut lowest: Vec<usize> = (0..rows.len())
        .filter(|i| {
            let beside = [i.wrapping_sub(1), i + 1].into_iter();
            let mut beside = beside.filter_map(|k| rows.get(k));
            beside.all(|row| low(&rows[*i]) <= low(row))
        })
        .collect();
    lowest.sort_by(|a, b| low(&rows[*a]).total_cmp(&low(&rows[*b])));
    lowest.truncate(REFINED_PLACES);
    let closer: Vec<(DriveRow, f64)> = lowest
        .into_par_iter()
        .filter_map(|i| {
            let mut best = rows[i].clone();
            let mut reach = step;
            for _ in 0..REFINEMENTS {
                let middle = best.0.front_axle_mm;
                let looks = (-REFINED_STEPS..=REFINED_STEPS).filter(|k| *k != 0);
                for k in looks {
                    let x = middle + reach * f64::from(k) / f64::from(REFINED_STEPS);
                    let found = Some(x).filter(|x| (start..=end).contains(x)).and_then(at);
                    best = match found {
                        Some(row) if low(&row) < low(&best) => row,
                        _ => best,
                    };
                }
                reach /= f64::from(REFINED_STEPS);
            }
            (best.0.front_axle_mm != rows[i].0.front_axle_mm).then_some(best)
        })
        .collect();
    rows.extend(closer);
    rows.sort_by(|a, b| a.0.front_axle_mm.total_cmp(&b.0.front_axle_mm));
    let off = rows.iter().map(|r| r.1).fold(0.0, f64::max);
    (rows.into_iter().map(|r| r.0).collect(), off)
}

/// The least clearance with the front axle's middle at `x`, and how far a wheel is off its height.
fn clearance_row(course: &Course, x: f64, stance: &Stance) -> (DriveRow, f64) {
    let mut least = (CURVE_CUTOFF_MM, 0);
    for part in 0..course.vehicle.parts.len() {
        for solid in 0..course.terrain.solids.len() {
            let gap = course.gap(stance, part, solid, least.0, None).gap_mm;
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
        wheel_travel_mm: stance.posture.travel_mm,
    };
    (row, off)
}

/// Sizes are driven in steps of this share of the size written, up to that; above it each is larger by this share.
const SCALE_STEP: f64 = 0.05;
/// The largest scale driven, against the size written.
const LARGEST_SCALE: f64 = 8.0;
/// Width of the bracket of scales, as a share.
const SCALE_TOLERANCE: f64 = 0.002;
/// Sizes driven at the same time. Fixed, so that what is driven doesn't hang on the machine.
const SIZES_AT_ONCE: usize = 4;

/// The scales that are walked through, smallest first.
fn scales() -> Vec<f64> {
    let up_to_written = (1.0 / SCALE_STEP).round() as usize;
    let mut out: Vec<f64> = (1..=up_to_written)
        .map(|i| i as f64 / up_to_written as f64)
        .collect();
    let mut scale = 1.0 + SCALE_STEP;
    while scale <= LARGEST_SCALE {
        out.push(scale);
        scale *= 1.0 + SCALE_STEP;
    }
    out
}

/// How the drive over one size ends, as soon as that is known.
fn outcome(course: &Course, scale: f64) -> Result<SizeOutcome, DriveError> {
    let course = course.scaled(scale)?;
    let [start, end] = course.ends();
    if let Err(error) = check_start(&course, start) {
        return match error {
            DriveError::TouchesAtStart { part, against } => {
                Ok(SizeOutcome::Touches { part, against })
            }
            other => Err(other),
        };
    }
    let wall = course.wall([start, end]);
    let mut undecided = None;
    let way = [start, wall.unwrap_or(end)];
    let found = contacts(&course, way, &[0.0; 4], true, &mut undecided);
    if found.is_empty() && undecided.is_none() {
        undecided = near_for_sideways(&course, way, &Sideways::on(&course, way));
    }
    Ok(match (found.into_iter().next(), undecided) {
        (Some((_, contact)), _) => SizeOutcome::Touches {
            part: contact.part,
            against: contact.against,
        },
        (None, Some(undecided)) => SizeOutcome::Undecided { why: undecided.why },
        (None, None) if let Some(why) = course.not_looked_at().into_iter().next() => {
            SizeOutcome::Undecided { why }
        }
        (None, None) if wall.is_some() => SizeOutcome::TyresStop,
        (None, None) => SizeOutcome::Clears,
    })
}

/// The drive over the obstacle in many sizes, smallest first, until one doesn't clear, and then a bracket below that
/// one. Each size is a guarded drive of its own.
///
/// Sizes are walked, not halved from both ends: what clears isn't all that is smaller than some size. A larger
/// obstacle lifts the wheels sooner and higher, so that a part which a smaller one hits may pass over it; that is so for a
/// ledge too. So nothing is said of sizes between those driven.
///
/// # Errors
/// [`DriveError`].
pub fn sizes_driven(course: &Course) -> Result<SizesDriven, DriveError> {
    let at = |scale: f64| outcome(course, scale).map(|outcome| SizeDriven { scale, outcome });
    let clears = |size: &SizeDriven| size.outcome == SizeOutcome::Clears;
    let mut driven: Vec<SizeDriven> = Vec::new();
    'walk: for batch in scales().chunks(SIZES_AT_ONCE) {
        let sizes: Vec<Result<SizeDriven, DriveError>> =
            batch.par_iter().map(|scale| at(*scale)).collect();
        for size in sizes {
            match size {
                Ok(size) => driven.push(size),
                // Larger than what is taken for an obstacle: the walk ends below it.
                Err(DriveError::Shape(..)) if !driven.is_empty() => break 'walk,
                Err(error) => return Err(error),
            }
        }
        if !driven.iter().all(clears) {
            break;
        }
    }
    // Between the first that doesn't clear and the one below it.
    while let Some(first) = driven.iter().position(|size| !clears(size)) {
        let high = driven[first].scale;
        let Some(low) = first.checked_sub(1).map(|below| driven[below].scale) else {
            break;
        };
        if high - low <= SCALE_TOLERANCE * low {
            break;
        }
        driven.insert(first, at(0.5 * (low + high))?);
    }
    let first = driven.iter().position(|size| !clears(size));
    let last = first.unwrap_or(driven.len()).checked_sub(1);
    Ok(SizesDriven {
        clears_to: last.map(|i| driven[i].scale),
        first_not: first.map(|i| driven[i].scale),
        driven,
    })
}

#[cfg(test)]
mod tests {
    use super::super::course::Suspension;
    use super::*;
    use crate::scene::{Obstacle, ObstacleShape, Point, ShapeEntry, scene_from_text};
    use crate::truck::{Truck, assemble};
    use std::path::Path;

    fn truck(change: impl FnOnce(&mut crate::scene::Scene)) -> Truck {
        let path = Path::new("scenes/crake.ron");
        let text = std::fs::read_to_string(path).expect("a demo scene");
        let mut scene = scene_from_text(&text, path).expect("it reads");
        change(&mut scene);
        assemble(&scene, Path::new("scenes")).unwrap_or_else(|p| panic!("{p:?}"))
    }

    fn driven(
        truck: &Truck,
        over: &str,
        scale: f64,
        suspension: Suspension,
    ) -> Result<DriveFindings, DriveError> {
        drive(&Course::new(truck, over, scale, suspension)?)
    }

    fn obstruct(scene: &mut crate::scene::Scene, shape: ObstacleShape, across: Option<(f64, f64)>) {
        scene.obstacles = vec![Obstacle {
            name: "tried".to_owned(),
            shape,
            across,
            ahead: None,
        }];
    }

    fn with_obstacle(shape: ObstacleShape, across: Option<(f64, f64)>) -> Truck {
        truck(|scene| obstruct(scene, shape, across))
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
        let (mut touched, mut undecided) = (0, 0);
        for i in 0..20 {
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
            // Another truck each time: wheelbase, tracks, springs, and a sump somewhere else.
            let mut size = |about: f64| about * (0.85 + 0.3 * unit());
            let (wheelbase, track, stiff) = (size(94.0), size(26.0), size(1.0));
            let sump = Point(size(-20.0), size(10.0) - 10.0, size(12.5));
            let truck = truck(|scene| {
                obstruct(scene, shape, across);
                if let Some(rear) = &mut scene.rear {
                    (rear.wheelbase, rear.half_track) = (wheelbase, track);
                }
                if let Some(springs) = &mut scene.wheel_springs {
                    springs.front.rate *= stiff;
                    springs.rear.rate /= stiff;
                }
                scene.underbody[1].shape = ShapeEntry::Box {
                    centre: sump,
                    size: Point(14.0, 12.0, 3.0),
                    turned_deg: None,
                };
            });
            let suspension = [Suspension::Held, Suspension::Follows][i / 5 % 2];
            let course = Course::new(&truck, "tried", 1.0, suspension).expect("a course");
            let found = drive(&course).expect("a drive");
            // A tyre that meets a log near its own centre's height is told, and ends what is known.
            undecided += found.undecided.len();
            let (start, end) = (found.from_to_mm[0], found.decided_to_mm);
            for (part, own) in course.vehicle.parts.iter().enumerate() {
                let contact = found.contacts.iter().find(|c| c.part == own.name);
                let free_to = contact.map_or(end, |c| c.front_axle_mm[0]);
                let mut x = start;
                while x < free_to {
                    let stance = course.stand(x, None).expect("it stands");
                    assert_eq!(course.touched(&stance, part), None, "{i} {}: {x}", own.name);
                    let near = contact.is_some() && free_to - x < 0.5;
                    x += STEPS_MM[usize::from(near)];
                }
                if let Some(contact) = contact {
                    touched += 1;
                    // Touched at the bracket's end, or within the tolerance of it.
                    let stance = course
                        .stand(contact.front_axle_mm[1], None)
                        .expect("it stands");
                    let gap = (0..course.terrain.solids.len())
                        .map(|s| course.gap(&stance, part, s, 1.0, None).gap_mm)
                        .fold(f64::INFINITY, f64::min);
                    assert!(gap < 2.0 * TOLERANCE_MM, "{i} {}: {gap}", own.name);
                }
            }
        }
        assert!(undecided < 4, "{undecided} of 20");
        assert!(touched > 10, "only {touched} contacts");
    }

    /// Every stretch's bounds hold what stands inside it: body, travel, and the corners of parts on all carriers.
    #[test]
    fn every_stance_in_a_stretch_lies_within_its_bounds() {
        for (across, suspension) in [
            (None, Suspension::Held),
            (None, Suspension::Follows),
            (Some((2.0, 40.0)), Suspension::Held),
            (Some((2.0, 40.0)), Suspension::Follows),
        ] {
            let truck = with_obstacle(
                ObstacleShape::Ledge {
                    height: 7.0,
                    edge_radius: 0.5,
                },
                across,
            );
            let course = Course::new(&truck, "tried", 1.0, suspension).expect("a course");
            let [start, end] = course.ends();
            let mut bounded = 0;
            for (k, width) in [0.01, 1.0, 9.0, 60.0].into_iter().enumerate() {
                for n in 0..40 {
                    let a = start + (end - start) * (f64::from(n) + 0.1 * k as f64) / 40.0;
                    let Some(bounds) = course.bounds([a, a + width], None, &[0.0; 4]) else {
                        continue;
                    };
                    bounded += 1;
                    for j in 0..=6 {
                        let x = a + width * f64::from(j) / 6.0;
                        let there = course.stand(x, Some(&bounds.middle)).expect("it stands");
                        for wheel in 0..4 {
                            let moved = there.posture.travel_mm[wheel]
                                - bounds.middle.posture.travel_mm[wheel];
                            assert!(moved.abs() <= bounds.travel_mm[wheel] + 1.0e-9);
                        }
                        for part in &course.vehicle.parts {
                            let most = bounds.displacement_mm(
                                &course.vehicle,
                                part.carrier,
                                &part.surface,
                            );
                            let [(r0, o0), (r1, o1)] = [&bounds.middle, &there]
                                .map(|s| s.place(&course.vehicle, part.carrier));
                            for v in (0..part.surface.vertices.len()).step_by(17) {
                                let p = part.surface.vertex_in_body(v);
                                let moved = ((r1 * p + o1) - (r0 * p + o0)).norm();
                                assert!(moved <= most + 1.0e-9, "{}: {moved} {most}", part.name);
                            }
                        }
                    }
                }
            }
            assert!(bounded > 100, "{bounded}");
        }
    }

    /// Wheels that follow stay on the ground where a held one hangs; over a small step of one wheel the body moves
    /// less.
    #[test]
    fn a_wheel_that_follows_stays_on_the_ground() {
        let truck = with_obstacle(
            ObstacleShape::Ledge {
                height: 3.0,
                edge_radius: 0.0,
            },
            Some((2.0, 40.0)),
        );
        let [held, follows] = [Suspension::Held, Suspension::Follows]
            .map(|s| driven(&truck, "tried", 1.0, s).expect("a drive"));
        assert!(
            held.wheel_off_ground_mm > 10.0,
            "{}",
            held.wheel_off_ground_mm
        );
        assert!(
            follows.wheel_off_ground_mm < 1.0e-6,
            "{}",
            follows.wheel_off_ground_mm
        );
        let roll = |f: &DriveFindings| f.curve.iter().map(|r| r.roll_deg.abs()).fold(0.0, f64::max);
        assert!(roll(&follows) > 0.5 && roll(&held) > 0.5);
        let travels = |f: &DriveFindings| {
            let all = f.curve.iter().flat_map(|r| r.wheel_travel_mm);
            all.map(f64::abs).fold(0.0, f64::max)
        };
        assert_eq!(travels(&held), 0.0);
        assert!(travels(&follows) > 5.0);
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
        let found = driven(&truck, "tried", 1.0, Suspension::Held).expect("a drive");
        let at = found.tyres_stop_at_mm.expect("it can't be climbed");
        // The tyre's front meets it a radius ahead of the axle.
        assert!((at + radius).abs() < 0.01, "{at}");
        // However little higher than its centre (by 10 mm and by 1.3), and on one side alone.
        for (height, across) in [(12.66, None), (12.66, Some((5.0, 50.0))), (12.32, None)] {
            let truck = with_obstacle(
                ObstacleShape::Ledge {
                    height,
                    edge_radius: 0.0,
                },
                across,
            );
            let found = driven(&truck, "tried", 1.0, Suspension::Held).expect("a drive");
            let at = found.tyres_stop_at_mm.expect("it can't be climbed");
            assert!((at + radius).abs() < 0.01, "{height} {across:?}: {at}");
        }
        let lower = with_obstacle(
            ObstacleShape::Ledge {
                height: 11.5,
                edge_radius: 0.0,
            },
            None,
        );
        let found = driven(&lower, "tried", 1.0, Suspension::Held).expect("a drive");
        assert_eq!(found.tyres_stop_at_mm, None);
    }

    #[test]
    fn what_touches_before_the_start_is_refused() {
        let near = truck(|scene| scene.obstacles[0].ahead = Some(5.0));
        let error =
            driven(&near, "kerb", 1.0, Suspension::Held).expect_err("it is under the bumper");
        assert!(matches!(error, DriveError::BeginsOver { .. }), "{error}");
        // Half an inch into the ground, and wholly below it.
        for z in [0.5, -12.0] {
            let low = truck(|scene| {
                scene.underbody.push(crate::scene::Underbody {
                    name: "plate".to_owned(),
                    on: crate::scene::CarriedBy::Frame,
                    shape: ShapeEntry::Box {
                        centre: Point(-40.0, 0.0, z),
                        size: Point(10.0, 10.0, 2.0),
                        turned_deg: None,
                    },
                    both_sides: false,
                });
            });
            let error = driven(&low, "kerb", 1.0, Suspension::Held).expect_err("it is too low");
            let is_plate =
                matches!(&error, DriveError::TouchesAtStart { part, .. } if part == "plate");
            assert!(is_plate, "{error}");
        }
        let error = driven(&near, "curb", 1.0, Suspension::Held).expect_err("no such thing");
        assert_eq!(error, DriveError::Unknown("curb".to_owned()));
    }

    #[test]
    fn the_largest_that_clears_is_bracketed_by_drives() {
        let truck = truck(|_| {});
        let sizes =
            sizes_driven(&Course::new(&truck, "log", 1.0, Suspension::Held).expect("a course"))
                .expect("drives");
        let clears = sizes.clears_to.expect("some size");
        let doesnt = sizes.first_not.expect("some size");
        assert!(clears < doesnt && doesnt < 1.0025 * clears);
        assert!(
            driven(&truck, "log", clears, Suspension::Held)
                .expect("a drive")
                .contacts
                .is_empty()
        );
        let found = driven(&truck, "log", doesnt, Suspension::Held).expect("a drive");
        assert!(!found.contacts.is_empty() || found.tyres_stop_at_mm.is_some());
    }

    /// A boulder between the rear wheels that the axle hits, while a larger one, no wider than its size as written
    /// makes it, lifts the wheels on its flanks and passes under. Halving from the written size said "102 % clears".
    #[test]
    fn a_larger_boulder_that_clears_does_not_hide_a_smaller_one_that_is_hit() {
        // Inches. The rear tyres' inner sides are 26 - 4.2 from the middle, the axle 10.67 over the ground.
        let truck = truck(|scene| {
            obstruct(
                scene,
                ObstacleShape::Boulder {
                    size: Point(20.0, 44.4, 11.3),
                    middle_y: 0.0,
                },
                None,
            );
            scene.setups.clear();
            scene.watch.clear();
            scene.parts.retain(|p| p.name == "tyre");
            scene.underbody.retain(|p| p.name == "rear axle");
        });
        let outcome = |scale: f64| {
            let found = driven(&truck, "tried", scale, Suspension::Held).expect("a drive");
            assert!(found.undecided.is_empty(), "{scale}: {:?}", found.undecided);
            found.contacts.first().map(|c| c.part.clone())
        };
        assert_eq!(outcome(0.9), None);
        assert_eq!(outcome(0.95).as_deref(), Some("rear axle"));
        assert_eq!(outcome(1.02), None);
        let course = Course::new(&truck, "tried", 1.0, Suspension::Held).expect("a course");
        let sizes = sizes_driven(&course).expect("drives");
        let (clears, doesnt) = (
            sizes.clears_to.expect("small ones do"),
            sizes.first_not.expect("not all do"),
        );
        // The axle's bottom is 10.67 over the ground: (12.9 - 1.6) - (12.9 - 12.27).
        let meets = (11.3 - 0.63) / 11.3;
        assert!(
            clears < meets && meets < doesnt * 1.002,
            "{clears} {doesnt}"
        );
        assert!(doesnt < 0.95);
        // True as it is told: every size up to the one clears, and the next one driven doesn't.
        let next = sizes
            .driven
            .iter()
            .position(|s| s.scale == doesnt)
            .expect("driven");
        assert!(
            sizes.driven[..next]
                .iter()
                .all(|s| s.outcome == SizeOutcome::Clears)
        );
        assert_eq!(sizes.driven[next - 1].scale, clears);
        assert!(sizes.driven.windows(2).all(|w| w[0].scale < w[1].scale));
    }
}
