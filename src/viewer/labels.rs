//! Letters over the picture, at points of the truck.

use super::look::{Look, TruckCamera};
use super::palette;
use bevy::prelude::*;
use bevy_egui::egui::{self, Align2, Color32, FontId, Rect, Vec2 as Size};
use bevy_egui::{EguiContexts, EguiPrimaryContextPass};

/// One label.
#[derive(Clone, Debug)]
pub struct Label {
    /// What it points at, world coordinates.
    pub at: Vec3,
    /// What it says.
    pub text: String,
    /// Colour of its edge.
    pub rgb: [u8; 3],
    /// Larger ones are placed first.
    pub weight: u8,
}

/// The labels of this frame.
#[derive(Resource, Default, Debug)]
pub struct Labels(pub Vec<Label>);

/// Where no label of this frame may stand: something else does.
#[derive(Resource, Default, Debug)]
pub struct LabelFreeArea(pub Vec<Rect>);

/// Draws the labels.
pub struct LabelsPlugin;

/// Order of what is drawn over the picture.
#[derive(SystemSet, Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct OverPicture;

impl Plugin for LabelsPlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<Labels>()
            .init_resource::<LabelFreeArea>()
            .add_systems(First, clear)
            .add_systems(EguiPrimaryContextPass, draw.in_set(OverPicture));
    }
}

fn clear(mut labels: ResMut<Labels>, mut free: ResMut<LabelFreeArea>) {
    labels.0.clear();
    free.0.clear();
}

fn draw(
    mut contexts: EguiContexts,
    labels: Res<Labels>,
    free: Res<LabelFreeArea>,
    look: Res<Look>,
    cameras: Query<(&Camera, &GlobalTransform), With<TruckCamera>>,
) -> Result {
    let context = contexts.ctx_mut()?;
    let Ok((camera, eye)) = cameras.single() else {
        return Ok(());
    };
    if !look.labels {
        return Ok(());
    }
    let points = context.pixels_per_point();
    let Some(viewport) = camera.physical_viewport_rect() else {
        return Ok(());
    };
    let to_points = |v: UVec2| egui::pos2(v.x as f32 / points, v.y as f32 / points);
    let area = Rect::from_min_max(to_points(viewport.min), to_points(viewport.max));
    let scale = camera.target_scaling_factor().unwrap_or(1.0) / points;
    let painter = context
        .layer_painter(egui::LayerId::new(
            egui::Order::Background,
            egui::Id::new("labels"),
        ))
        .with_clip_rect(area);
    let mut taken: Vec<Rect> = free.0.clone();
    let mut order: Vec<&Label> = labels.0.iter().collect();
    order.sort_by_key(|label| std::cmp::Reverse(label.weight));
    for label in order {
        let Ok(at) = camera.world_to_viewport(eye, label.at) else {
            continue;
        };
        // The camera counts logical pixels of the whole window; panels count points.
        let at = egui::pos2(at.x * scale, at.y * scale);
        let font = FontId::proportional(13.0);
        let ink = palette::color32(palette::INK);
        let galley = painter.layout_no_wrap(label.text.clone(), font, ink);
        let size = galley.size() + Size::new(8.0, 4.0);
        let Some(place) = free_place(at, size, area, &taken) else {
            continue;
        };
        let edge = palette::color32(label.rgb);
        let near = egui::pos2(
            at.x.clamp(place.min.x, place.max.x),
            at.y.clamp(place.min.y, place.max.y),
        );
        painter.line_segment([at, near], (1.2, edge));
        painter.circle_filled(at, 2.5, edge);
        painter.rect(
            place,
            3.0,
            Color32::from_rgba_unmultiplied(255, 255, 255, 225),
            (1.2, edge),
            egui::StrokeKind::Outside,
        );
        painter.galley(
            Align2::CENTER_CENTER
                .anchor_size(place.center(), galley.size())
                .min,
            galley,
            ink,
        );
        taken.push(place);
    }
    Ok(())
}

/// A place near the point that hides no other label.
fn free_place(at: egui::Pos2, size: Size, area: Rect, taken: &[Rect]) -> Option<Rect> {
    if !area.contains(at) {
        return None;
    }
    let away = 16.0;
    let mut fallback = None;
    for ring in 1..=9 {
        let reach = away * ring as f32;
        for (x, y) in [
            (1.0, -1.0),
            (-1.0, -1.0),
            (1.0, 1.0),
            (-1.0, 1.0),
            (0.0, -1.3),
            (0.0, 1.3),
        ] {
            let middle = at + Size::new(x * (reach + 0.5 * size.x), y * (reach + 0.5 * size.y));
            let place = Rect::from_center_size(middle, size);
            if !area.shrink(2.0).contains_rect(place) {
                continue;
            }
            if taken.iter().all(|t| !t.expand(2.0).intersects(place)) {
                return Some(place);
            }
            fallback = fallback.or(Some(place));
        }
    }
    fallback
}
