//! The left panel: the setup at its head; below, stops, parts and gaps, or the scene's numbers.

use super::background::{Found, SwitchedOff};
use super::document::Document;
use super::ghost::Ghost;
use super::motion::Motion;
use super::panels::{self, Edge, PanelOrder, PanelRoom};
use super::shown::{Page, Shown};
use super::suspension::PartChoice;
use super::trace::Trace;
use super::{editor, parts_list, setup_choice, stop_list};
use bevy::prelude::*;
use bevy_egui::egui::{self, ScrollArea};
use bevy_egui::{EguiContexts, EguiPrimaryContextPass};

/// The left panel.
pub struct LeftPanelPlugin;

impl Plugin for LeftPanelPlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<editor::Saving>()
            .add_systems(EguiPrimaryContextPass, show.in_set(PanelOrder::Sides));
    }
}

fn show(
    mut contexts: EguiContexts,
    mut room: ResMut<PanelRoom>,
    mut shown: ResMut<Shown>,
    mut motion: ResMut<Motion>,
    mut off: ResMut<SwitchedOff>,
    mut choice: ResMut<PartChoice>,
    mut document: ResMut<Document>,
    mut ghost: ResMut<Ghost>,
    mut saving: ResMut<editor::Saving>,
    mut trace: ResMut<Trace>,
    found: Res<Found>,
) -> Result {
    let context = contexts.ctx_mut()?.clone();
    let width = (context.viewport_rect().width() * 0.23).clamp(260.0, 460.0);
    let adjust = |p: egui::Panel| {
        p.default_size(width)
            .size_range(200.0..=2.0 * width)
            .resizable(true)
    };
    panels::show(&context, &mut room, Edge::Left, "left", adjust, |ui| {
        ui.add_space(2.0);
        setup_choice::show(ui, &mut document, &mut ghost, &mut shown, &mut trace);
        ui.separator();
        ui.horizontal(|ui| {
            for page in Page::ALL {
                ui.selectable_value(&mut shown.page, page, page.name());
            }
        });
        ui.separator();
        ScrollArea::vertical()
            .auto_shrink([false, false])
            .show(ui, |ui| match shown.page {
                Page::Stops => {
                    let corner = document.corner();
                    stop_list::show(
                        ui,
                        &found,
                        corner,
                        &mut motion,
                        &mut off,
                        &shown,
                        &mut trace,
                    );
                }
                Page::Parts => {
                    parts_list::show(ui, &found, &document, &motion, &mut choice, &mut shown);
                }
                Page::Edit => editor::show(ui, &mut document, &mut saving, &mut shown, &mut trace),
            });
    });
    Ok(())
}
