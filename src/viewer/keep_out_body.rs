//! The keep-out solid in the picture: a see-through body in a colour of its own, which goes with the body it is seen
//! from and is cut open like the parts. It throws no shadow and can't be picked.

use super::document::Document;
use super::frame;
use super::keep_out::{KeepOutSolid, MadeSolid};
use super::motion::Motion;
use super::palette;
use super::part_material::PartMaterial;
use super::suspension::{PartsBuilt, VehicleRoot, visible};
use crate::output::Units;
use bevy::light::NotShadowCaster;
use bevy::prelude::*;
use bevy_egui::egui::{FontId, RichText, Ui};
use std::sync::Arc;

/// Draws the solid.
pub struct KeepOutBodyPlugin;

impl Plugin for KeepOutBodyPlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<KeepOutSolid>().add_systems(
            PostUpdate,
            draw.in_set(PartsBuilt).before(TransformSystems::Propagate),
        );
    }
}

/// The solid, drawn.
#[derive(Component)]
struct KeepOutBody;

/// How much of it is seen: parts inside must be told apart.
const OPACITY: f32 = 0.38;

fn draw(
    mut commands: Commands,
    keep_out: Res<KeepOutSolid>,
    document: Res<Document>,
    motion: Res<Motion>,
    root: Query<Entity, With<VehicleRoot>>,
    mut bodies: Query<(&mut Transform, &mut Visibility), With<KeepOutBody>>,
    mut meshes: ResMut<Assets<Mesh>>,
    mut materials: ResMut<Assets<PartMaterial>>,
    mut drawn: Local<Option<(Entity, Arc<MadeSolid>)>>,
) {
    let Ok(root) = root.single() else {
        return;
    };
    let made = keep_out.made();
    let same = match (&*drawn, made) {
        (Some((_, drawn)), Some(made)) => Arc::ptr_eq(drawn, made),
        (None, None) => true,
        _ => false,
    };
    if !same && let Some((gone, _)) = drawn.take() {
        commands.entity(gone).despawn();
    }
    let Some(made) = made else {
        return;
    };
    let placement = motion.position().linkage.placement(made.choice.on.motion());
    let at = frame::transform(&placement);
    let shows = visible(keep_out.shown && made.side == document.corner().side);
    if let Some((entity, _)) = &*drawn {
        if let Ok((mut transform, mut visibility)) = bodies.get_mut(*entity) {
            transform.set_if_neq(at);
            visibility.set_if_neq(shows);
        }
        return;
    }
    let colour = palette::color(palette::KEEP_OUT).with_alpha(OPACITY);
    let entity = commands
        .spawn((
            KeepOutBody,
            Mesh3d(meshes.add(made.mesh.clone())),
            MeshMaterial3d(materials.add(PartMaterial {
                colour,
                ..default()
            })),
            at,
            shows,
            NotShadowCaster,
        ))
        .id();
    commands.entity(root).add_child(entity);
    *drawn = Some((entity, Arc::clone(made)));
}

/// What the solid's colour means, where it is drawn.
pub fn legend(ui: &mut Ui, keep_out: &KeepOutSolid, units: Units, font: &FontId) {
    let Some(made) = keep_out.made().filter(|_| keep_out.shown) else {
        return;
    };
    ui.horizontal(|ui| {
        super::controls::swatch(ui, palette::KEEP_OUT);
        let text = format!(
            "keep-out solid of {}, margin {}",
            listed(&made.choice.parts),
            units.at_most_with_unit(made.choice.options.margin_mm)
        );
        ui.label(RichText::new(text).font(font.clone()));
    });
}

/// Parts named in a line.
const MOST_NAMED: usize = 3;

fn listed(parts: &std::collections::BTreeSet<String>) -> String {
    let mut named: Vec<&str> = parts.iter().map(String::as_str).collect();
    if named.len() <= MOST_NAMED {
        return named.join(", ");
    }
    let more = named.split_off(MOST_NAMED - 1).len();
    format!("{} and {more} more", named.join(", "))
}
