//! Marks over the whole truck: where it touches, on both bodies, and the lines of its approach, breakover and
//! departure angles with its running clearance.
//!
//! The lines are those of the truck at ride height on level ground, where the angles are defined; on a drive they go
//! with the truck, each as long as the wheels that it touches stand at ride height.

use super::document::Document;
use super::drive::{Drive, Setting, truck_is_shown};
use super::frame;
use super::labels::{Label, Labels};
use super::look::{Look, OverLines};
use super::palette;
use super::shown::Shown;
use crate::findings::{DriveContact, Touching};
use crate::ground::{Stance, Vehicle};
use crate::output::{Units, degrees_at_most};
use bevy::prelude::*;
use nalgebra::Vector3;

/// Draws the marks.
pub struct DriveMarksPlugin;

impl Plugin for DriveMarksPlugin {
    fn build(&self, app: &mut App) {
        app.add_systems(
            Update,
            (draw_angles, draw_contacts)
                .after(super::motion::MotionSet)
                .run_if(truck_is_shown.and_then(|look: Res<Look>| look.marks)),
        );
    }
}

/// Radius of a mark, metres: a few pixels of a picture of the whole truck.
const BALL_M: f32 = 0.022;
/// Further apart than this, mm, a contact's two bodies have a label each.
const APART_MM: f64 = 120.0;
/// Further away than this along the track, mm, a contact's marks are left out: they would be outside the picture.
const AHEAD_MM: f64 = 6_000.0;

/// Where a contact's marks are: on the part as the truck stands, and on the ground.
pub fn contact_marks(
    setting: &Setting,
    stance: &Stance,
    contact: &DriveContact,
) -> Option<[Vector3<f64>; 2]> {
    let vehicle = setting.vehicle();
    let part = vehicle.parts.iter().find(|p| p.name == contact.part)?;
    let (rotation, offset) = stance.place(vehicle, part.carrier);
    Some([
        rotation * frame::vector(contact.point_on_part_mm) + offset,
        frame::vector(contact.point_on_ground_mm),
    ])
}

fn draw_contacts(
    drive: Res<Drive>,
    document: Res<Document>,
    shown: Res<Shown>,
    mut gizmos: Gizmos<OverLines>,
    mut labels: ResMut<Labels>,
) {
    let (Some(setting), Some(stance), Some(found)) =
        (drive.setting(), drive.stance(), drive.found())
    else {
        return;
    };
    // Another truck's contacts would mislead.
    if drive.is_outdated(&document) {
        return;
    }
    let units = shown.units;
    for (i, contact) in found.contacts.iter().enumerate() {
        let Some([on_part, on_ground]) = contact_marks(setting, stance, contact) else {
            continue;
        };
        let first = i == 0;
        let apart = (on_part - on_ground).norm();
        if apart > AHEAD_MM {
            continue;
        }
        let [a, b] = [on_part, on_ground].map(|p| frame::world(&drive.seen(&p)));
        let colour = palette::color(palette::CONTACT);
        let size = if first { BALL_M } else { 0.6 * BALL_M };
        for at in [a, b] {
            gizmos.sphere(at, size, colour).resolution(16);
        }
        if first {
            gizmos.line(a, b, colour);
            for at in [a, b] {
                gizmos.sphere(at, 0.5 * size, colour).resolution(12);
                gizmos.cross(at, 2.5 * size, colour);
            }
        }
        let number = i + 1;
        let mut label = |at: Vec3, text: String| {
            labels.0.push(Label {
                at,
                text,
                rgb: palette::CONTACT,
                weight: if first { 9 } else { 3 },
            });
        };
        if first && apart > APART_MM {
            label(a, format!("{number}: {}", contact.part));
            let text = format!("touched with the {}", place(contact, units));
            label(b, text);
        } else if first {
            label(
                a,
                format!("{number}: {} meets {}", contact.part, contact.against),
            );
        } else if apart < APART_MM {
            label(a, format!("{number}: {}", contact.part));
        }
    }
}

fn place(contact: &DriveContact, units: Units) -> String {
    format!(
        "front axle {}",
        super::drive_words::place(contact.front_axle_mm[1], units)
    )
}

/// An angle of the truck on level ground: its lines, the arc between them, and where it touches; level ground
/// coordinates.
struct AngleLines {
    name: &'static str,
    found: Touching,
    /// Wheels whose arcs it touches.
    wheels: &'static [usize],
    lines: Vec<[Vector3<f64>; 2]>,
    /// The ground that it is measured from; none for an angle between two lines.
    ground: Option<[Vector3<f64>; 2]>,
    /// Where its label points.
    label: Vector3<f64>,
    arc: Vec<Vector3<f64>>,
    touches: Vector3<f64>,
}

/// Length of a line beyond the point that it touches, mm.
const BEYOND_MM: f64 = 260.0;
/// Radius of an angle's arc, mm.
const ARC_MM: f64 = 420.0;
/// Steps of an arc.
const ARC_STEPS: usize = 20;

/// A tyre's arc in side view: its middle, its radius, and which way is away from the other axle.
struct TyreArc {
    middle: Vector3<f64>,
    radius: f64,
    outward: f64,
}

impl TyreArc {
    fn of(vehicle: &Vehicle, stance: &Stance, [a, b]: [usize; 2], outward: f64) -> TyreArc {
        let [p, q] = [a, b].map(|i| stance.point(vehicle, &stance.posture.wheels[i]));
        TyreArc {
            middle: 0.5 * (p + q),
            radius: 0.5 * (vehicle.radii[a] + vehicle.radii[b]),
            outward,
        }
    }

    /// The line tangent to the arc that touches a point with a rounding, on its side `way` (1 forward): where it
    /// leaves the ground, its angle over the ground, and where it touches.
    fn tangent(
        &self,
        point: &Vector3<f64>,
        reach: f64,
        way: f64,
    ) -> (Vector3<f64>, f64, Vector3<f64>) {
        let (ahead, rise) = (way * (point.x - self.middle.x), point.z - self.middle.z);
        let distance = ahead.hypot(rise);
        let angle = rise.atan2(ahead) + ((self.radius - reach) / distance).clamp(-1.0, 1.0).asin();
        let ground = self.middle.z - self.radius;
        let foot = Vector3::new(
            self.middle.x + way * self.radius * (0.5 * angle).tan(),
            point.y,
            ground,
        );
        let toward_ground = Vector3::new(way * angle.sin(), 0.0, -angle.cos());
        (foot, angle, point + toward_ground * reach)
    }
}

fn along(way: f64, angle: f64) -> Vector3<f64> {
    Vector3::new(way * angle.cos(), 0.0, angle.sin())
}

fn arc(middle: &Vector3<f64>, way: f64, [from, to]: [f64; 2], radius: f64) -> Vec<Vector3<f64>> {
    let at = |i: usize| from + (to - from) * i as f64 / ARC_STEPS as f64;
    (0..=ARC_STEPS)
        .map(|i| middle + along(way, at(i)) * radius)
        .collect()
}

fn angle_lines(setting: &Setting) -> Vec<AngleLines> {
    let (vehicle, stance) = &setting.level;
    let found = &setting.angles;
    let front = TyreArc::of(vehicle, stance, [0, 1], 1.0);
    let rear = TyreArc::of(vehicle, stance, [2, 3], -1.0);
    let point = |t: &Touching| stance.point(vehicle, &frame::vector(t.point_mm));
    let reach = |t: &Touching| {
        let part = vehicle.parts.iter().find(|p| p.name == t.part);
        part.map_or(0.0, |p| p.surface.reach_mm())
    };
    let mut out = Vec::new();
    for (name, found, tyre, wheels) in [
        ("approach", &found.approach_deg, &front, &[0, 1]),
        ("departure", &found.departure_deg, &rear, &[2, 3]),
    ] {
        let Some(found) = found else {
            continue;
        };
        let way = tyre.outward;
        let (foot, angle, touches) = tyre.tangent(&point(found), reach(found), way);
        let length = (touches - foot).dot(&along(way, angle)) + BEYOND_MM;
        out.push(AngleLines {
            name,
            found: found.clone(),
            wheels,
            lines: vec![[foot, foot + along(way, angle) * length]],
            ground: Some([foot, foot + along(way, 0.0) * length]),
            label: foot + along(way, angle) * length,
            arc: arc(&foot, way, [0.0, angle], ARC_MM),
            touches,
        });
    }
    if let Some(found) = &found.breakover_deg {
        let p = point(found);
        let (front_foot, front_angle, _) = front.tangent(&p, reach(found), -1.0);
        let (rear_foot, rear_angle, touches) = rear.tangent(&p, reach(found), 1.0);
        // Where the two lines meet: at a corner, or a little below a rounding.
        let run = front_foot.x - rear_foot.x;
        let (tan_f, tan_r) = (front_angle.tan(), rear_angle.tan());
        let rise = run * tan_f * tan_r / (tan_f + tan_r);
        let apex = rear_foot + Vector3::new(rise / tan_r, 0.0, rise);
        let beyond = along(-1.0, front_angle) * (ARC_MM + BEYOND_MM);
        out.push(AngleLines {
            name: "breakover",
            found: found.clone(),
            wheels: &[0, 1, 2, 3],
            lines: vec![[front_foot, apex + beyond], [apex, rear_foot]],
            ground: None,
            label: apex + along(-1.0, 0.5 * (front_angle - rear_angle)) * ARC_MM,
            arc: arc(&apex, -1.0, [-rear_angle, front_angle], ARC_MM),
            touches,
        });
    }
    out
}

/// Travel from ride height within which a line still touches its tyres, mm.
const AT_RIDE_MM: f64 = 1.0;

fn draw_angles(
    drive: Res<Drive>,
    shown: Res<Shown>,
    mut gizmos: Gizmos<OverLines>,
    mut labels: ResMut<Labels>,
) {
    let (Some(setting), Some(stance)) = (drive.setting(), drive.stance()) else {
        return;
    };
    let (level_vehicle, level) = &setting.level;
    let vehicle = setting.vehicle();
    // From level ground into the truck, and out to where it stands now.
    let into = level.rotation().transpose();
    let seen = |p: &Vector3<f64>| {
        let own = into * (p - level.position) + level_vehicle.front();
        frame::world(&drive.seen(&stance.point(vehicle, &own)))
    };
    let on_level = setting.course.is_none();
    let colour = palette::color(palette::ANGLE);
    for angle in angle_lines(setting) {
        let at_ride = angle
            .wheels
            .iter()
            .all(|i| stance.posture.travel_mm[*i].abs() < AT_RIDE_MM);
        if !at_ride {
            continue;
        }
        for [from, to] in &angle.lines {
            gizmos.line(seen(from), seen(to), colour);
        }
        // What is measured from the ground holds on level ground alone.
        if let Some([from, to]) = angle.ground.as_ref().filter(|_| on_level) {
            gizmos.line(seen(from), seen(to), colour);
        }
        if on_level || angle.ground.is_none() {
            gizmos.linestrip(angle.arc.iter().map(seen), colour);
        }
        gizmos
            .sphere(seen(&angle.touches), 0.6 * BALL_M, colour)
            .resolution(12);
        let value = format!(
            "{} {}\u{b0}",
            angle.name,
            degrees_at_most(angle.found.value)
        );
        // On a drive the contacts are what is told.
        let text = if on_level {
            format!("{value}: {}", angle.found.part)
        } else {
            value
        };
        labels.0.push(Label {
            at: seen(&angle.label),
            text,
            rgb: palette::ANGLE,
            weight: if on_level { 7 } else { 2 },
        });
    }
    if let Some(running) = setting
        .angles
        .running_clearance_mm
        .as_ref()
        .filter(|_| on_level)
    {
        let part = vehicle.parts.iter().find(|p| p.name == running.part);
        let reach = part.map_or(0.0, |p| p.surface.reach_mm());
        let point = level.point(level_vehicle, &frame::vector(running.point_mm));
        let lowest = point - Vector3::z() * reach;
        let ground = Vector3::new(lowest.x, lowest.y, lowest.z - running.value);
        let colour = palette::color(palette::HERE);
        let (a, b) = (seen(&lowest), seen(&ground));
        gizmos.line(a, b, colour);
        for end in [a, b] {
            let half = frame::world_direction(&Vector3::x()) * 0.06;
            gizmos.line(end - half, end + half, colour);
        }
        labels.0.push(Label {
            // From below: above it are parts.
            at: b,
            text: format!(
                "running clearance {}: {}",
                shown.units.at_most_with_unit(running.value),
                running.part
            ),
            rgb: palette::HERE,
            weight: 8,
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_is_tangent_to_the_arc_and_touches_the_point_at_the_angle_stated() {
        // r = 400, d = 900, h = 500 gives 32.55426 degrees: atan2(h - r, d) + asin(r / distance).
        let tyre = TyreArc {
            middle: Vector3::new(10.0, 0.0, 400.0),
            radius: 400.0,
            outward: 1.0,
        };
        for way in [1.0, -1.0] {
            let point = Vector3::new(10.0 + way * 900.0, 50.0, 500.0);
            let (foot, angle, touches) = tyre.tangent(&point, 0.0, way);
            assert!((angle.to_degrees() - 32.554_26).abs() < 1.0e-5);
            assert!((touches - point).norm() < 1.0e-9);
            assert!(foot.z.abs() < 1.0e-9);
            // From the foot the line runs through the point, a radius from the tyre's middle.
            let off = |p: &Vector3<f64>| {
                let (d, u) = (p - foot, along(way, angle));
                (d.x * u.z - d.z * u.x).abs()
            };
            assert!(off(&point) < 1.0e-9);
            assert!((off(&tyre.middle) - 400.0).abs() < 1.0e-9);
        }
    }
}
