//! The left panel: setup and what is driven over at its head; below, stops or contacts, parts and gaps, the scene's
//! numbers, or room for a bracket.

use super::background::{Found, SwitchedOff};
use super::document::Document;
use super::drive::Drive;
use super::ghost::Ghost;
use super::look::Look;
use super::motion::Motion;
use super::panels::{self, PanelEdge, PanelOrder, PictureArea};
use super::shown::{Page, Shown};
use super::suspension::PartChoice;
use super::trace::{Trace, Widget};
use super::{drive_panel, editor, parts_list, room_page, setup_choice, stop_list};
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
    mut area: ResMut<PictureArea>,
    mut shown: ResMut<Shown>,
    mut motion: ResMut<Motion>,
    mut off: ResMut<SwitchedOff>,
    mut choice: ResMut<PartChoice>,
    mut document: ResMut<Document>,
    mut ghost: ResMut<Ghost>,
    mut saving: ResMut<editor::Saving>,
    mut trace: ResMut<Trace>,
    mut drive: ResMut<Drive>,
    mut look: ResMut<Look>,
    mut bracket: room_page::Room,
    found: Res<Found>,
) -> Result {
    let context = contexts.ctx_mut()?.clone();
    let width = (context.viewport_rect().width() * 0.23).clamp(260.0, 460.0);
    let adjust = |p: egui::Panel| {
        p.default_size(width)
            .size_range(200.0..=2.0 * width)
            .resizable(true)
    };
    panels::show(&context, &mut area, PanelEdge::Left, "left", adjust, |ui| {
        ui.add_space(2.0);
        setup_choice::show(ui, &mut document, &mut ghost, &mut shown, &mut trace);
        drive_panel::choose(ui, &document, &mut drive, &mut look, &mut trace);
        ui.separator();
        let on_ground = !drive.shows_suspension();
        // Gaps are between parts of a suspension, and room is what those leave.
        if on_ground && matches!(shown.page, Page::Parts | Page::Room) {
            shown.page = Page::Stops;
        }
        ui.horizontal(|ui| {
            for page in Page::ALL {
                let name = match page {
                    Page::Parts | Page::Room if on_ground => continue,
                    Page::Stops if on_ground => "On the ground",
                    page => page.name(),
                };
                let tab = ui.selectable_value(&mut shown.page, page, name);
                trace.widget(Widget::Page(page), tab.rect, ui.ctx());
            }
        });
        ui.separator();
        ScrollArea::vertical()
            .auto_shrink([false, false])
            .show(ui, |ui| match shown.page {
                Page::Stops if on_ground => {
                    drive_panel::list(ui, &mut drive, &document, shown.units);
                }
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
                Page::Room => room_page::show(
                    ui,
                    &mut bracket,
                    &mut document,
                    &mut choice,
                    &mut motion,
                    &mut shown,
                    &mut trace,
                ),
            });
    });
    Ok(())
}
