//! Colours at every corner of a part, such as its clearance map's, in place of the one colour by its gaps; and what they
//! mean.
//!
//! Whoever finds colours gives them to [`ColouredParts`] with their legend, and takes them off where they hold no more:
//! when the part is moved, or the truck changes. The triangles may be finer than the part's own, and are drawn instead
//! of them; they lie where the part was measured, so that they go with its body.

use super::controls::swatch;
use super::document::Document;
use super::palette;
use super::surface_mesh;
use super::suspension::{PartView, PartsBuilt, place};
use bevy::prelude::*;
use bevy_egui::egui::{FontId, RichText, Ui};
use nalgebra::Vector3;
use std::collections::BTreeMap;
use std::sync::Arc;

/// Colours of one part.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PartColours {
    /// Triangles where the part was measured, mm.
    pub triangles: Vec<[Vector3<f64>; 3]>,
    /// Of the corners of each, sRGB.
    pub colours: Vec<[[u8; 3]; 3]>,
    /// What they mean.
    pub legend: Vec<([u8; 3], String)>,
}

/// Parts that have colours, by name.
#[derive(Resource, Debug, Default)]
pub struct ColouredParts(pub BTreeMap<String, Arc<PartColours>>);

/// Colours parts.
pub struct PartColoursPlugin;

impl Plugin for PartColoursPlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<ColouredParts>().add_systems(
            PostUpdate,
            colour
                .in_set(PartsBuilt)
                .after(place)
                .before(TransformSystems::Propagate),
        );
    }
}

/// A part that shows colours, and its own triangles.
#[derive(Component)]
struct Coloured {
    colours: Arc<PartColours>,
    own: Handle<Mesh>,
}

fn colour(
    mut commands: Commands,
    coloured: Res<ColouredParts>,
    document: Res<Document>,
    views: Query<(Entity, &PartView, &Mesh3d, Option<&Coloured>)>,
    mut meshes: ResMut<Assets<Mesh>>,
) {
    let parts = &document.corner().parts;
    for (entity, view, mesh, shows) in &views {
        let wanted = view.part.and_then(|i| coloured.0.get(&parts.get(i)?.name));
        match (wanted, shows) {
            (Some(wanted), Some(shows)) if Arc::ptr_eq(wanted, &shows.colours) => {}
            (Some(wanted), _) => {
                let own = shows.map_or(&mesh.0, |shows| &shows.own).clone();
                let colours = Arc::clone(wanted);
                let drawn = surface_mesh::coloured_mesh(&wanted.triangles, &wanted.colours);
                commands
                    .entity(entity)
                    .insert((Mesh3d(meshes.add(drawn)), Coloured { colours, own }));
            }
            (None, Some(shows)) => {
                commands
                    .entity(entity)
                    .insert(Mesh3d(shows.own.clone()))
                    .remove::<Coloured>();
            }
            (None, None) => {}
        }
    }
}

/// Width of a swatch, points.
const SWATCH: f32 = 12.0;

/// What the colours mean, a line for each part.
pub fn legend(ui: &mut Ui, coloured: &ColouredParts, font: &FontId) {
    for (name, part) in &coloured.0 {
        legend_line(ui, name, &part.legend, font);
    }
}

/// What one part's colours mean.
pub fn legend_line(ui: &mut Ui, name: &str, legend: &[([u8; 3], String)], font: &FontId) {
    let ink = palette::color32(palette::INK);
    ui.horizontal_wrapped(|ui| {
        ui.label(
            RichText::new(format!("{name}:"))
                .font(font.clone())
                .color(ink),
        );
        for (rgb, words) in legend {
            let galley = ui
                .painter()
                .layout_no_wrap(words.clone(), font.clone(), ink);
            // A colour stays with its words.
            let spacing = ui.spacing().item_spacing.x;
            if ui.available_size_before_wrap().x < SWATCH + spacing + galley.size().x {
                ui.end_row();
            }
            swatch(ui, *rgb);
            ui.label(galley);
        }
    });
}

#[cfg(test)]
mod tests {
    use super::*;
    use bevy::mesh::VertexAttributeValues;
    use std::path::Path;

    #[test]
    fn a_part_shows_its_colours_and_then_its_own_again() {
        let scene = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenes/tarnwood.ron");
        let document = Document::open(&scene).expect("a demo scene");
        let part = 0;
        let name = document.corner().parts[part].name.clone();
        let body = document.corner().parts[part].body;
        let mut app = App::new();
        app.add_plugins(MinimalPlugins)
            .insert_resource(document)
            .init_resource::<Assets<Mesh>>()
            .init_resource::<ColouredParts>()
            .add_systems(Update, colour);
        let own = app
            .world_mut()
            .resource_mut::<Assets<Mesh>>()
            .add(surface_mesh::mesh(&[]));
        let view = PartView {
            part: Some(part),
            carried: body.motion(),
            body,
        };
        let entity = app.world_mut().spawn((view, Mesh3d(own.clone()))).id();
        let (x, y, z) = (Vector3::x(), Vector3::y(), Vector3::z());
        let colours = PartColours {
            // The second has no area.
            triangles: vec![[x, y, z], [x, x, y], [z, y, x]],
            colours: vec![[[255, 0, 0]; 3], [[0; 3]; 3], [[0, 0, 255]; 3]],
            legend: vec![([255, 0, 0], "tight".to_owned())],
        };
        let give = |app: &mut App, colours: Option<PartColours>| {
            let mut coloured = app.world_mut().resource_mut::<ColouredParts>();
            coloured.0.clear();
            if let Some(colours) = colours {
                coloured.0.insert(name.clone(), Arc::new(colours));
            }
            app.update();
            app.world().get::<Mesh3d>(entity).expect("drawn").0.clone()
        };
        let drawn = give(&mut app, Some(colours.clone()));
        let meshes = app.world().resource::<Assets<Mesh>>();
        let mesh = meshes.get(&drawn).expect("a mesh");
        let Some(VertexAttributeValues::Float32x4(values)) = mesh.attribute(Mesh::ATTRIBUTE_COLOR)
        else {
            panic!("corners have colours");
        };
        let [red, blue] = [[1.0, 0.0, 0.0, 1.0], [0.0, 0.0, 1.0, 1.0]];
        assert_eq!(values[..], [red, red, red, blue, blue, blue]);
        assert_eq!(mesh.count_vertices(), 6);
        assert_ne!(
            give(&mut app, Some(colours)),
            own,
            "others take their place"
        );
        assert_eq!(give(&mut app, None), own);
    }
}
