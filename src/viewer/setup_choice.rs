//! Which setup the truck stands in, and which one it is compared with.

use super::controls::swatch;
use super::document::Document;
use super::ghost::{Ghost, GhostOf};
use super::palette;
use super::shown::Shown;
use super::trace::{Trace, Widget};
use crate::output::Units;
use bevy_egui::egui::{self, ComboBox, FontId, Grid, Label, RichText, Ui};

/// As shown for the truck without changes.
const AS_MEASURED: &str = "as measured";

/// Shows both choices, and in one line how the two compare.
pub fn show(
    ui: &mut Ui,
    document: &mut Document,
    ghost: &mut Ghost,
    shown: &mut Shown,
    trace: &mut Trace,
) {
    let setups = document.setups().to_vec();
    let mut setup = document.setup().map(str::to_owned);
    let mut of = ghost.of().cloned();
    Grid::new("setup choice")
        .num_columns(2)
        .spacing([8.0, 4.0])
        .show(ui, |ui| {
            let mut choice = |ui: &mut Ui,
                              label: &str,
                              selected: &str,
                              widget: Widget,
                              list: &mut dyn FnMut(&mut Ui)| {
                ui.label(label);
                let place = ui
                    .add_enabled_ui(!setups.is_empty(), |ui| {
                        ComboBox::from_id_salt(label)
                            .selected_text(selected)
                            .width(ui.available_width())
                            .height(400.0)
                            .truncate()
                            .show_ui(ui, |ui| list(ui))
                            .response
                            .on_disabled_hover_text("the scene holds no setups")
                    })
                    .inner;
                trace.widget(widget, place.rect, ui.ctx());
                ui.end_row();
            };
            let now = setup.clone().unwrap_or_else(|| AS_MEASURED.to_owned());
            choice(ui, "Setup", &now, Widget::Setup, &mut |ui| {
                ui.selectable_value(&mut setup, None, AS_MEASURED);
                for name in &setups {
                    ui.selectable_value(&mut setup, Some(name.clone()), name);
                }
            });
            let now = of.as_ref().map_or("none", GhostOf::name).to_owned();
            choice(ui, "Compare with", &now, Widget::Ghost, &mut |ui| {
                ui.selectable_value(&mut of, None, "none");
                ui.selectable_value(&mut of, Some(GhostOf::AsMeasured), AS_MEASURED);
                for name in &setups {
                    let other = GhostOf::Setup(name.clone());
                    ui.selectable_value(&mut of, Some(other), name);
                }
            });
        });
    if document.setup() != setup.as_deref() || ghost.of() != of.as_ref() {
        // What was said of the last choice holds no more.
        shown.note = None;
    }
    document.choose_setup(setup.as_deref());
    ghost.choose(of);
    if let Some(words) = ghost.words(shown.units) {
        ui.horizontal(|ui| {
            swatch(ui, palette::GHOST);
            // One line, whatever it says: nothing below it moves while the truck does.
            ui.add(Label::new(RichText::new(&words).small()).truncate())
                .on_hover_text(words);
        });
    }
}

/// The ghost's colour and name, for the window's legend. The panel's head tells the rest.
pub fn legend(ui: &mut Ui, ghost: &Ghost) {
    if let Some(of) = ghost.of() {
        swatch(ui, palette::GHOST);
        ui.label(format!("{}, where it differs", of.name()));
    }
}

/// The same for a picture that stands alone: with stops of its own that it is past, or why it isn't drawn.
/// Nothing where nothing of it differs.
pub fn picture_legend(ui: &mut Ui, ghost: &Ghost, units: Units, font: &FontId) {
    let words = match ghost.of() {
        Some(of) if ghost.differing().next().is_some() => {
            let past = ghost.past_stops();
            let past = past.map(|p| format!("; {p}")).unwrap_or_default();
            Some(format!("{}, where it differs{past}", of.name()))
        }
        _ => ghost.hidden(units),
    };
    if let Some(words) = words {
        ui.horizontal(|ui| {
            swatch(ui, palette::GHOST);
            ui.label(RichText::new(words).font(font.clone()));
        });
    }
}

/// The ghost's line on the map, for the legend below it.
pub fn map_legend(ui: &mut Ui, of: &GhostOf) {
    let (rect, _) = ui.allocate_exact_size(egui::vec2(30.0, 10.0), egui::Sense::hover());
    let ends = [rect.left_center(), rect.right_center()];
    let dashes = egui::Shape::dashed_line(
        &ends,
        egui::Stroke::new(2.0, palette::color32(palette::GHOST)),
        6.0,
        4.0,
    );
    ui.painter().extend(dashes);
    let text = match of {
        GhostOf::AsMeasured => "free travel as measured".to_owned(),
        GhostOf::Setup(name) => format!("free travel with {name}"),
    };
    ui.label(RichText::new(text).small());
}
