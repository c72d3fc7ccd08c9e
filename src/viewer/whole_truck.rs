//! The whole truck on the ground: its parts and tyres where the stance has them, and what it drives over.
//!
//! Tyres are drawn as they are checked: upright circles of the loaded radius. The truck stays in the picture; the
//! ground passes below it.

use super::document::Document;
use super::drive::{Drive, Setting};
use super::frame::{self, world_from_vehicle};
use super::look::Look;
use super::palette::{self, GapState};
use super::part_material::PartMaterial;
use super::suspension::{VehicleRoot, visible};
use super::{ground_mesh, surface_mesh, tyre};
use crate::ground::{Carrier, Vehicle};
use crate::shapes::{ElementKind, Shape};
use bevy::prelude::*;
use nalgebra::{Matrix3, Rotation3, Vector3};
use std::sync::Arc;

/// Draws the whole truck.
pub struct WholeTruckPlugin;

impl Plugin for WholeTruckPlugin {
    fn build(&self, app: &mut App) {
        app.add_systems(Startup, plant_root).add_systems(
            PostUpdate,
            (show_one, build, place, colour)
                .chain()
                .before(TransformSystems::Propagate),
        );
    }
}

/// The root of everything in ground coordinates.
#[derive(Component)]
struct GroundRoot;

/// A piece of the picture of the whole truck: a section plane of the suspension doesn't cut it.
#[derive(Component, Clone, Copy, Debug, PartialEq)]
pub enum TruckPiece {
    /// A part, by its number in the vehicle.
    Part(usize),
    /// A tyre, or the rim in it.
    Wheel(usize),
    /// The ground, or the obstacle.
    Terrain,
}

fn plant_root(mut commands: Commands) {
    commands.spawn((GroundRoot, world_from_vehicle(), Visibility::Hidden));
}

/// Either the suspension is seen or the whole truck.
fn show_one(
    drive: Res<Drive>,
    mut ground: Query<&mut Visibility, (With<GroundRoot>, Without<VehicleRoot>)>,
    mut vehicle: Query<&mut Visibility, (With<VehicleRoot>, Without<GroundRoot>)>,
) {
    for mut visibility in &mut ground {
        visibility.set_if_neq(visible(!drive.shows_suspension()));
    }
    for mut visibility in &mut vehicle {
        visibility.set_if_neq(visible(drive.shows_suspension()));
    }
}

/// Makes the pieces of a new setting.
fn build(
    mut commands: Commands,
    drive: Res<Drive>,
    root: Query<Entity, With<GroundRoot>>,
    mut meshes: ResMut<Assets<Mesh>>,
    mut materials: ResMut<Assets<PartMaterial>>,
    mut drawn: Local<Option<Arc<Setting>>>,
    pieces: Query<Entity, With<TruckPiece>>,
) {
    let same = match (&*drawn, drive.setting()) {
        (Some(drawn), Some(setting)) => Arc::ptr_eq(drawn, setting),
        (None, None) => true,
        _ => false,
    };
    let Ok(root) = root.single() else {
        return;
    };
    if same {
        return;
    }
    *drawn = drive.setting().cloned();
    for piece in &pieces {
        commands.entity(piece).despawn();
    }
    let Some(setting) = drive.setting() else {
        return;
    };
    let mut spawn = |piece: TruckPiece, triangles: &[[Vector3<f64>; 3]], look: PartMaterial| {
        let entity = commands
            .spawn((
                piece,
                Mesh3d(meshes.add(surface_mesh::mesh(triangles))),
                MeshMaterial3d(materials.add(look)),
                Transform::default(),
                Visibility::default(),
            ))
            .id();
        commands.entity(root).add_child(entity);
    };
    let vehicle = setting.vehicle();
    for (i, part) in vehicle.parts.iter().enumerate() {
        let surface = &part.surface;
        let look = PartMaterial {
            colour: part_colour(part.carrier),
            gloss: 0.15,
            closed: surface.closed || surface.kind != ElementKind::Triangle,
            ..default()
        };
        spawn(TruckPiece::Part(i), &surface.triangles_in_body(), look);
    }
    for i in 0..4 {
        let (rubber, rim) = wheel(vehicle, i);
        let look = |rgb, gloss| PartMaterial {
            colour: palette::color(rgb),
            gloss,
            ..default()
        };
        spawn(TruckPiece::Wheel(i), &rubber, look(palette::RUBBER, 0.0));
        spawn(TruckPiece::Wheel(i), &rim, look(RIM, 0.3));
    }
    for (rgb, triangles) in ground_mesh::pieces(setting) {
        let look = PartMaterial {
            colour: palette::color(rgb),
            // From ahead the eye may stand within the ground: its far end is then what is seen of it.
            closed: rgb != palette::GROUND,
            ..default()
        };
        spawn(TruckPiece::Terrain, &triangles, look);
    }
}

/// What carries a part is told by its colour: frame, front suspension, rear axle.
fn part_colour(carrier: Carrier) -> Color {
    palette::color(match carrier {
        Carrier::Frame => palette::FRAME,
        Carrier::Front(..) => GapState::Clear.rgb(),
        Carrier::RearAxle => palette::AXLE,
    })
}

/// Rims.
const RIM: [u8; 3] = [196, 202, 208];
/// The rim's radius as a share of the tyre's.
const RIM_SHARE: f64 = 0.58;
/// Spokes of a rim: few, so that it is seen to turn.
const SPOKES: usize = 5;

type Triangles = Vec<[Vector3<f64>; 3]>;

/// A tyre with a tread and the rim in it, about the origin, axis along y.
fn wheel(vehicle: &Vehicle, i: usize) -> (Triangles, Triangles) {
    let (radius, half) = (vehicle.radii[i], 0.5 * vehicle.widths[i]);
    let inner = RIM_SHARE * radius;
    let outline = [
        (-half, inner),
        (half, inner),
        (half, radius),
        (-half, radius),
    ];
    let rubber = tyre::triangles(&outline);
    let mut rim = Vec::new();
    let mut add = |shape: Shape, turn: f64| {
        if let Ok(surface) = shape.surface(None) {
            let turn = Rotation3::from_axis_angle(&Vector3::y_axis(), turn);
            let triangles = surface.triangles_in_body().into_iter();
            rim.extend(triangles.map(|t| t.map(|p| turn * p)));
        }
    };
    let across = |share: f64| Vector3::new(0.0, share * half, 0.0);
    add(
        Shape::Cone {
            from: across(-0.8),
            to: across(0.8),
            radius_from: 0.3 * inner,
            radius_to: 0.3 * inner,
        },
        0.0,
    );
    for spoke in 0..SPOKES {
        let turn = std::f64::consts::TAU * spoke as f64 / SPOKES as f64;
        for side in [-0.6, 0.6] {
            add(
                Shape::Capsule {
                    from: across(side),
                    to: across(side) + Vector3::new(0.0, 0.0, 0.98 * inner),
                    radius: 0.11 * inner,
                },
                turn,
            );
        }
    }
    (rubber, rim)
}

/// Puts every piece where the stance has it.
fn place(
    drive: Res<Drive>,
    look: Res<Look>,
    mut root: Query<&mut Transform, (With<GroundRoot>, Without<TruckPiece>)>,
    mut pieces: Query<(&TruckPiece, &mut Transform, &mut Visibility), Without<GroundRoot>>,
) {
    let (Some(setting), Some(stance)) = (drive.setting(), drive.stance()) else {
        return;
    };
    for mut transform in &mut root {
        let origin = drive.seen(&Vector3::zeros());
        let wanted = Transform {
            translation: frame::world(&origin),
            ..world_from_vehicle()
        };
        transform.set_if_neq(wanted);
    }
    let vehicle = setting.vehicle();
    let side_slope = setting
        .course
        .as_ref()
        .map_or(0.0, |c| c.terrain.side_slope);
    let lean = Rotation3::from_axis_angle(&Vector3::x_axis(), side_slope);
    let turns = drive.wheel_turn();
    for (piece, mut transform, mut visibility) in &mut pieces {
        match *piece {
            TruckPiece::Part(i) => {
                let Some(part) = vehicle.parts.get(i) else {
                    continue;
                };
                let (rotation, offset) = stance.place(vehicle, part.carrier);
                transform.set_if_neq(placed(&rotation, &offset));
            }
            TruckPiece::Wheel(i) => {
                let centre = stance.point(vehicle, &stance.posture.wheels[i]);
                let turn = lean * Rotation3::from_axis_angle(&Vector3::y_axis(), turns[i]);
                transform.set_if_neq(placed(turn.matrix(), &centre));
            }
            TruckPiece::Terrain => {
                visibility.set_if_neq(visible(look.grid));
            }
        }
    }
}

fn placed(rotation: &Matrix3<f64>, offset: &Vector3<f64>) -> Transform {
    let columns = [0, 1, 2].map(|i| frame::vec3(&rotation.column(i).into_owned()));
    Transform {
        translation: frame::vec3(offset),
        rotation: Quat::from_mat3(&Mat3::from_cols(columns[0], columns[1], columns[2])),
        scale: Vec3::ONE,
    }
}

/// Parts that touch where the truck is stand out.
fn colour(
    drive: Res<Drive>,
    document: Res<Document>,
    pieces: Query<(&TruckPiece, &MeshMaterial3d<PartMaterial>)>,
    mut materials: ResMut<Assets<PartMaterial>>,
) {
    let Some(setting) = drive.setting() else {
        return;
    };
    let known = !drive.is_outdated(&document);
    for (piece, handle) in &pieces {
        let TruckPiece::Part(i) = *piece else {
            continue;
        };
        let Some(part) = setting.vehicle().parts.get(i) else {
            continue;
        };
        let colour = if known && drive.touching().contains(&part.name) {
            palette::color(GapState::Touching.rgb())
        } else {
            part_colour(part.carrier)
        };
        let differs = materials.get(&handle.0).is_some_and(|m| m.colour != colour);
        if differs && let Some(mut material) = materials.get_mut(&handle.0) {
            material.colour = colour;
        }
    }
}
