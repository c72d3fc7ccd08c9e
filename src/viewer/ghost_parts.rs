//! The ghost's parts over the truck: what another setup has elsewhere or otherwise, see-through, in a colour of
//! its own. They throw no shadow and can't be picked.

use super::frame;
use super::ghost::{Ghost, GhostPart};
use super::part_material::PartMaterial;
use super::surface_mesh;
use super::suspension::{PartChoice, PartsBuilt, VehicleRoot, same_surface};
use super::{palette, suspension};
use crate::shapes::{ElementKind, Surface};
use bevy::light::NotShadowCaster;
use bevy::prelude::*;
use std::sync::Arc;

/// Draws the ghost.
pub struct GhostPartsPlugin;

impl Plugin for GhostPartsPlugin {
    fn build(&self, app: &mut App) {
        app.add_systems(
            PostUpdate,
            draw.in_set(PartsBuilt).before(TransformSystems::Propagate),
        );
    }
}

/// A part of the ghost, drawn.
#[derive(Component)]
struct GhostView;

/// How much of a ghost's face is seen; its rim stands out.
const OPACITY: f32 = 0.30;

struct Drawn {
    entity: Entity,
    surface: Arc<Surface>,
}

/// Draws what differs. A part's mesh is made when it is first seen to differ, and kept.
fn draw(
    mut commands: Commands,
    ghost: Res<Ghost>,
    choice: Res<PartChoice>,
    root: Query<Entity, With<VehicleRoot>>,
    mut views: Query<
        (
            &mut Transform,
            &mut Visibility,
            &MeshMaterial3d<PartMaterial>,
        ),
        With<GhostView>,
    >,
    mut meshes: ResMut<Assets<Mesh>>,
    mut materials: ResMut<Assets<PartMaterial>>,
    mut pairing: Local<u64>,
    mut drawn: Local<Vec<Option<Drawn>>>,
) {
    let Ok(root) = root.single() else {
        return;
    };
    if *pairing != ghost.pairing() {
        *pairing = ghost.pairing();
        let mut last: Vec<Drawn> = drawn.drain(..).flatten().collect();
        for part in ghost.parts() {
            let kept = last
                .iter()
                .position(|d| same_surface(&d.surface, &part.surface));
            drawn.push(kept.map(|i| last.swap_remove(i)));
        }
        for gone in last {
            commands.entity(gone.entity).despawn();
        }
    }
    let stands = ghost.differing().next().is_some();
    for (part, drawn) in ghost.parts().iter().zip(drawn.iter_mut()) {
        let shown = stands && part.differs && choice.shows(&part.name);
        let colour = colour(part, &choice);
        let transform = frame::transform(&part.placement);
        if let Some(drawn) = drawn {
            let Ok((mut at, mut visibility, material)) = views.get_mut(drawn.entity) else {
                continue;
            };
            at.set_if_neq(transform);
            visibility.set_if_neq(suspension::visible(shown));
            let same = materials
                .get(&material.0)
                .is_some_and(|m| m.colour == colour);
            if !same && let Some(mut material) = materials.get_mut(&material.0) {
                material.colour = colour;
            }
        } else if shown {
            let mesh = surface_mesh::mesh(&part.surface.triangles_in_body());
            let entity = commands
                .spawn((
                    GhostView,
                    Mesh3d(meshes.add(mesh)),
                    MeshMaterial3d(materials.add(material(part, colour))),
                    transform,
                    Visibility::default(),
                    NotShadowCaster,
                ))
                .id();
            commands.entity(root).add_child(entity);
            *drawn = Some(Drawn {
                entity,
                surface: Arc::clone(&part.surface),
            });
        }
    }
}

fn colour(part: &GhostPart, choice: &PartChoice) -> Color {
    let opacity = if choice.sees_through_what_is(part.body, part.is_bodywork) {
        suspension::SEE_THROUGH
    } else {
        OPACITY
    };
    palette::color(palette::GHOST).with_alpha(opacity)
}

fn material(part: &GhostPart, colour: Color) -> PartMaterial {
    PartMaterial {
        colour,
        closed: part.surface.closed || part.surface.kind != ElementKind::Triangle,
        ghost: true,
        ..default()
    }
}
