//! Where panels go: each takes its strip of what the ones before it left; the truck gets the rest.

use super::look::Look;
use bevy::prelude::*;
use bevy_egui::egui::{self, Context, Panel, Rect, Ui, UiBuilder};
use bevy_egui::{EguiContexts, EguiInput, EguiPreUpdateSet, EguiPrimaryContextPass};

/// What the panels shown so far in this frame have left of the window, points: the picture's area once all have.
#[derive(Resource, Debug, Clone, Copy)]
pub struct PictureArea(pub Rect);

impl Default for PictureArea {
    fn default() -> Self {
        PictureArea(Rect::NOTHING)
    }
}

/// Whether the mouse is over the truck's picture and nothing of a panel is over or under it.
#[derive(Resource, Default, Debug, Clone, Copy)]
pub struct PointerOverPicture(pub bool);

/// Panels in the order in which they take their strips.
#[derive(SystemSet, Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum PanelOrder {
    /// The window is measured.
    First,
    /// Top and bottom.
    Bars,
    /// Left and right.
    Sides,
    /// Below the picture, between the sides.
    Under,
    /// The rest goes to the truck.
    Last,
}

/// Where panels go, and the font's size.
pub struct PanelsPlugin;

impl Plugin for PanelsPlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<PictureArea>()
            .init_resource::<PointerOverPicture>()
            .configure_sets(
                EguiPrimaryContextPass,
                (
                    PanelOrder::First,
                    PanelOrder::Bars,
                    PanelOrder::Sides,
                    PanelOrder::Under,
                    PanelOrder::Last,
                    super::labels::OverPicture,
                )
                    .chain(),
            )
            .add_systems(
                PreUpdate,
                drop_repeats
                    .after(EguiPreUpdateSet::ProcessInput)
                    .before(EguiPreUpdateSet::BeginPass),
            )
            .add_systems(
                EguiPrimaryContextPass,
                (
                    measure.in_set(PanelOrder::First),
                    give_the_rest.in_set(PanelOrder::Last),
                ),
            );
    }
}

/// Size of small letters: figures that go to the truck are among them.
const SMALL_POINTS: f32 = 11.5;

/// bevy_egui 0.42 reports the modifier keys in every frame, and egui 0.36 asks for another frame after every
/// event: together they would draw without end. A report that says nothing new is dropped.
fn drop_repeats(mut inputs: Query<&mut EguiInput>, mut last: Local<egui::Modifiers>) {
    for mut input in &mut inputs {
        input.events.retain(|event| match event {
            egui::Event::ModifiersChanged(now) => std::mem::replace(&mut *last, *now) != *now,
            _ => true,
        });
    }
}

/// A window this high, in points, has letters of normal size; a higher one has larger ones.
const NORMAL_HEIGHT: f32 = 1080.0;

fn measure(
    mut contexts: EguiContexts,
    mut area: ResMut<PictureArea>,
    mut first: Local<bool>,
) -> Result {
    let context = contexts.ctx_mut()?;
    if !*first {
        *first = true;
        let ink = super::palette::color32(super::palette::INK);
        context.set_visuals(egui::Visuals {
            override_text_color: Some(ink),
            ..egui::Visuals::light()
        });
        context.all_styles_mut(|style| {
            if let Some(small) = style.text_styles.get_mut(&egui::TextStyle::Small) {
                small.size = SMALL_POINTS;
            }
        });
    }
    let natural = context.viewport_rect().height() * context.zoom_factor();
    let zoom = (natural / NORMAL_HEIGHT).clamp(1.0, 3.0);
    if (zoom - context.zoom_factor()).abs() > 0.01 {
        context.set_zoom_factor(zoom);
    }
    area.0 = context.viewport_rect();
    Ok(())
}

fn give_the_rest(
    mut contexts: EguiContexts,
    area: Res<PictureArea>,
    mut look: ResMut<Look>,
    mut over: ResMut<PointerOverPicture>,
) -> Result {
    let context = contexts.ctx_mut()?;
    let points = context.pixels_per_point();
    let px = |v: f32| (v * points).round().max(0.0) as u32;
    let position = UVec2::new(px(area.0.min.x), px(area.0.min.y));
    let size = UVec2::new(px(area.0.max.x), px(area.0.max.y)).saturating_sub(position);
    if look.picture_px != Some((position, size)) {
        look.picture_px = Some((position, size));
    }
    over.0 = context.input(|i| i.pointer.hover_pos()).is_some_and(|at| {
        let layer = context.layer_id_at(at);
        area.0.contains(at)
            && layer.is_none_or(|l| l.order == egui::Order::Background)
            && !context.egui_is_using_pointer()
    });
    Ok(())
}

/// Which side a panel takes its strip from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PanelEdge {
    /// Above.
    Top,
    /// Below.
    Bottom,
    /// Left.
    Left,
    /// Right.
    Right,
}

/// Shows a panel at an edge of the area that is left, and takes it off.
pub fn show(
    context: &Context,
    area: &mut PictureArea,
    edge: PanelEdge,
    id: &'static str,
    adjust: impl FnOnce(Panel) -> Panel,
    add: impl FnOnce(&mut Ui),
) {
    let builder = UiBuilder::new()
        .layer_id(egui::LayerId::background())
        .max_rect(area.0);
    let mut ui = Ui::new(context.clone(), egui::Id::new((id, "area")), builder);
    let panel = match edge {
        PanelEdge::Top => Panel::top(id),
        PanelEdge::Bottom => Panel::bottom(id),
        PanelEdge::Left => Panel::left(id),
        PanelEdge::Right => Panel::right(id),
    };
    let taken = adjust(panel).show(&mut ui, add).response.rect;
    match edge {
        PanelEdge::Top => area.0.min.y = taken.max.y,
        PanelEdge::Bottom => area.0.max.y = taken.min.y,
        PanelEdge::Left => area.0.min.x = taken.max.x,
        PanelEdge::Right => area.0.max.x = taken.min.x,
    }
}
