//! The suspension in motion as a .glb file: a node a body that moves, a node a part below it, an animation a path.
//!
//! Bodies at rest have no channels; one that never leaves a point or a turn has none for it. Parts that differ between
//! the sides carry their side's name. Colours tell bodies apart; a wheel is grey as rubber.

use super::glb::{Drawn, GlbFile, Look, MaterialId, Track};
use crate::shapes::weld;
use crate::space::{Animation, Clip, DrawnBody, DrawnPart, Stand};
use crate::suspension::{Body, Motion, Side};
use nalgebra::{UnitQuaternion, Vector3};
use serde_json::json;
use std::collections::HashMap;
use std::io;
use std::path::Path;

/// A body that stays within this distance and turn of where it rests needs no channel, mm and radians: below what single
/// precision keeps of a metre.
const STILL: f64 = 1.0e-6;

/// Writes an animation.
///
/// # Errors
/// Whatever the file system answers; nothing is left half-written.
pub fn write_animation(path: &Path, animation: &Animation) -> io::Result<()> {
    let miss_mm = animation.clips.iter().map(|c| c.miss_mm);
    let mut file = GlbFile::new(
        &animation.truck,
        &json!({
            "position": "at ride height, straight ahead, where nothing plays",
            "greatest_miss_between_key_frames_mm": miss_mm.fold(0.0, f64::max),
        }),
    );
    let mut materials = HashMap::new();
    let mut nodes = Vec::with_capacity(animation.bodies.len());
    for body in &animation.bodies {
        let node = file.add_node(&body_name(body), None, None, Some(&body.rest));
        for part in &body.parts {
            let material = material(&mut file, &mut materials, part);
            let triangles: Vec<[Vector3<f64>; 3]> = part
                .surface
                .triangles_in_body()
                .iter()
                .map(|t| t.map(|v| v - body.origin))
                .collect();
            let (points, triangles) = weld(&triangles);
            let drawn = Drawn::Triangles {
                points: &points,
                triangles: &triangles,
                colours: None,
            };
            let name = with_side(part.side, &part.name);
            let mesh = file.add_mesh(&name, &[(drawn, material)]);
            file.add_node(&name, Some(node), mesh, None);
        }
        nodes.push(node);
    }
    let moves: Vec<[bool; 2]> = (0..nodes.len()).map(|i| moves(animation, i)).collect();
    for clip in &animation.clips {
        let places: Vec<Places> = clip
            .stands
            .iter()
            .map(|stands| Places::of(stands))
            .collect();
        let tracks: Vec<Track> = nodes
            .iter()
            .zip(&places)
            .zip(&moves)
            .map(|((node, places), [shifts, turns])| Track {
                node: *node,
                translations: shifts.then_some(&places.translations),
                rotations: turns.then_some(&places.rotations),
            })
            .collect();
        file.add_animation(clip.name(), &said(clip), &clip.seconds, &tracks);
    }
    file.write(path)
}

/// Where a body stands at each key frame, place and turn apart.
struct Places {
    translations: Vec<Vector3<f64>>,
    rotations: Vec<UnitQuaternion<f64>>,
}

impl Places {
    fn of(stands: &[Stand]) -> Places {
        Places {
            translations: stands.iter().map(|s| s.translation.vector).collect(),
            rotations: stands.iter().map(|s| s.rotation).collect(),
        }
    }
}

/// What an animation says about itself.
fn said(clip: &Clip) -> serde_json::Value {
    let ends = |values: &[f64]| {
        let least = values.iter().copied().fold(f64::INFINITY, f64::min);
        let greatest = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        json!([least, greatest])
    };
    let travel: Vec<serde_json::Value> = clip.travel_mm.iter().map(|t| ends(t)).collect();
    json!({
        "wheel_travel_mm_from_measured": travel,
        "rack_mm_toward_left_positive": ends(&clip.rack_mm),
        "miss_between_key_frames_mm": clip.miss_mm,
    })
}

/// Whether a body leaves the place and the turn it rests in, in any of the animations: then all of them must say where
/// it is.
fn moves(animation: &Animation, body: usize) -> [bool; 2] {
    let rest = &animation.bodies[body].rest;
    let stands = || animation.clips.iter().flat_map(|c| &c.stands[body]);
    [
        stands().any(|s| (s.translation.vector - rest.translation.vector).norm() > STILL),
        stands().any(|s| s.rotation.angle_to(&rest.rotation) > STILL),
    ]
}

fn with_side(side: Option<Side>, name: &str) -> String {
    match side {
        Some(side) => format!("{} {name}", side.name()),
        None => name.to_owned(),
    }
}

/// A moving body's node is told from its parts', one of which may be called as the body is.
fn body_name(body: &DrawnBody) -> String {
    let name = match body.motion {
        Motion::Frame => "frame",
        Motion::Rack => "rack",
        Motion::LowerArm => "lower arm",
        Motion::UpperArm => "upper arm",
        Motion::Knuckle => "knuckle and wheel",
        Motion::TieRod => "tie rod",
        Motion::DamperUpper => "damper, upper half",
        Motion::DamperLower => "damper, lower half",
        Motion::Halfshaft => "halfshaft",
        Motion::Link(number) => {
            return format!(
                "{} (body)",
                with_side(body.side, &format!("link {}", number + 1))
            );
        }
    };
    format!("{} (body)", with_side(body.side, name))
}

/// A body's colour, sRGB, and how metallic it is.
fn colour(body: Body) -> ([u8; 3], f32) {
    match body {
        Body::Frame => ([96, 100, 106], 0.2),
        Body::Differential => ([140, 143, 148], 0.5),
        Body::Rack => ([170, 150, 110], 0.5),
        Body::LowerArm => ([0, 114, 178], 0.2),
        Body::UpperArm => ([86, 180, 233], 0.2),
        Body::Knuckle => ([158, 160, 155], 0.5),
        Body::TieRod | Body::Link(_) => ([204, 121, 167], 0.3),
        Body::DamperUpper => ([230, 159, 0], 0.2),
        Body::DamperLower => ([190, 190, 195], 0.7),
        Body::Halfshaft | Body::FrontDriveshaft => ([0, 158, 115], 0.4),
        Body::InnerJointHousing | Body::OuterJointHousing => ([213, 94, 0], 0.3),
        Body::Wheel => ([52, 54, 58], 0.0),
    }
}

/// The material of a part: one for all of a body that are closed, one for those that are open.
fn material(
    file: &mut GlbFile,
    known: &mut HashMap<(Body, bool), MaterialId>,
    part: &DrawnPart,
) -> MaterialId {
    let open = !part.surface.closed;
    *known.entry((part.body, open)).or_insert_with(|| {
        let (rgb, metallic) = colour(part.body);
        let name = part.body.name().replace('_', " ");
        file.add_material(&Look {
            name: &if open { format!("{name}, open") } else { name },
            rgb,
            metallic,
            roughness: if part.body == Body::Wheel { 0.9 } else { 0.5 },
            double_sided: open,
            ..Look::default()
        })
    })
}
