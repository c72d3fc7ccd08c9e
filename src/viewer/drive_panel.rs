//! Around the whole truck: what is driven over, what hits in which order, the clearance curve with the truck's place
//! on it, and play. Click or drag along the curve, and the truck goes there.

use super::document::Document;
use super::drive::{Drive, SPEEDS_MM_S, Setting, Subject, truck_is_shown};
use super::drive_words;
use super::labels::LabelFreeArea;
use super::look::Look;
use super::palette::{self, GapState};
use super::panels::{self, PanelEdge, PanelOrder, PictureArea};
use super::shown::Shown;
use super::trace::{Trace, Widget};
use super::travel_map::{LABELS_APART, grid_steps};
use crate::findings::{DriveFindings, GroundFindings};
use crate::ground::Suspension;
use crate::output::{Units, degrees_at_most};
use bevy::prelude::*;
use bevy_egui::egui::{self, Align2, ComboBox, Grid, RichText, Slider, Ui};
use bevy_egui::{EguiContexts, EguiPrimaryContextPass};
use egui_plot::{
    AxisHints, HLine, Line, LineStyle, Plot, PlotPoint, PlotPoints, Points, Text, VLine,
    uniform_grid_spacer,
};

/// The curve's panel, the bar to play with, and the headline.
pub struct DrivePanelPlugin;

impl Plugin for DrivePanelPlugin {
    fn build(&self, app: &mut App) {
        app.add_systems(
            EguiPrimaryContextPass,
            (
                bottom_bar.in_set(PanelOrder::Bars),
                curve.in_set(PanelOrder::Under),
                headline_over_picture.in_set(PanelOrder::Last),
            )
                .run_if(truck_is_shown),
        );
    }
}

/// Shows the choice of what the picture shows, and of what the suspension does on a drive.
pub fn choose(
    ui: &mut Ui,
    document: &Document,
    drive: &mut Drive,
    look: &mut Look,
    trace: &mut Trace,
) {
    let obstacles: Vec<String> = document
        .truck()
        .whole
        .iter()
        .flat_map(|w| &w.obstacles)
        .map(|o| o.entry.name.clone())
        .collect();
    let stands = document.truck().whole.is_some();
    let mut subject = drive.subject().clone();
    let mut suspension = drive.suspension();
    Grid::new("subject choice")
        .num_columns(2)
        .spacing([8.0, 4.0])
        .show(ui, |ui| {
            ui.label("Drive over");
            let none = "nothing: the suspension";
            let now = match &subject {
                Subject::Suspension => none.to_owned(),
                other => other.name().to_owned(),
            };
            let place = ui
                .add_enabled_ui(stands, |ui| {
                    ComboBox::from_id_salt("subject")
                        .selected_text(now)
                        .width(ui.available_width())
                        .height(400.0)
                        .truncate()
                        .show_ui(ui, |ui| {
                            for (of, name) in [
                                (Subject::Suspension, none),
                                (Subject::LevelGround, Subject::LevelGround.name()),
                            ] {
                                ui.selectable_value(&mut subject, of, name);
                            }
                            for name in &obstacles {
                                let over = Subject::Over(name.clone());
                                ui.selectable_value(&mut subject, over, name);
                            }
                        })
                        .response
                        .on_disabled_hover_text("the scene has no rear axle to stand on")
                })
                .inner;
            trace.widget(Widget::Subject, place.rect, ui.ctx());
            ui.end_row();
            if subject.obstacle().is_some() {
                ui.label("Suspension");
                ui.horizontal(|ui| {
                    let usual = Suspension::usual(document.truck());
                    let mut follows = suspension.unwrap_or(usual);
                    let springs = usual == Suspension::Follows;
                    ui.add_enabled_ui(springs, |ui| {
                        ui.selectable_value(&mut follows, Suspension::Follows, "follows")
                            .on_disabled_hover_text("the scene has no `wheel_springs`");
                    });
                    ui.selectable_value(&mut follows, Suspension::Held, "held");
                    if follows != suspension.unwrap_or(usual) {
                        suspension = Some(follows);
                    }
                });
                ui.end_row();
            }
        });
    show_subject(drive, look, subject);
    drive.choose_suspension(suspension);
}

/// Shows another subject, the truck from the side and the suspension from where it was looked at last.
pub fn show_subject(drive: &mut Drive, look: &mut Look, subject: Subject) {
    if *drive.subject() == subject {
        return;
    }
    if drive.shows_suspension() != (subject == Subject::Suspension) {
        std::mem::swap(&mut look.view, &mut look.other_view);
    }
    look.go = true;
    drive.choose(subject);
}

/// Shows the contacts in order, or the angles on level ground. A click goes to a contact.
pub fn list(ui: &mut Ui, drive: &mut Drive, document: &Document, units: Units) {
    if let Some(problem) = drive.problem() {
        ui.label(RichText::new(problem.to_string()).color(WARNING));
        return;
    }
    let Some(setting) = drive.setting().cloned() else {
        ui.label("putting the truck on the ground...");
        return;
    };
    if setting.course.is_none() {
        angles(ui, &setting.angles, units);
        return;
    }
    if drive.is_outdated(document) {
        ui.label(RichText::new("driving...").italics());
        return;
    }
    let Some(found) = drive.found().cloned() else {
        return;
    };
    ui.label(RichText::new("Contacts in order").strong());
    if found.contacts.is_empty() {
        ui.label("Nothing but the treads touches.");
    }
    for (i, contact) in found.contacts.iter().enumerate() {
        let here = drive.touching().contains(&contact.part);
        let title = RichText::new(format!("{}  {}", i + 1, contact.part)).strong();
        let row = ui
            .selectable_label(here, title)
            .on_hover_text("go to this contact");
        ui.label(RichText::new(drive_words::contact(contact, &found.obstacle, units)).small());
        if row.clicked() {
            drive.playing = false;
            drive.go_to(contact.front_axle_mm[1]);
        }
    }
    if let Some(at) = found.tyres_stop_at_mm {
        ui.label(format!(
            "The tyres can't climb on: front axle {}.",
            drive_words::place(at, units)
        ));
    }
    for text in &found.undecided {
        ui.label(RichText::new(format!("Undecided: {}", units.reworded(text))).color(WARNING));
    }
    ui.add_space(6.0);
    ui.collapsing("Assumed, and cautions", |ui| {
        for note in &found.notes {
            ui.label(RichText::new(note.as_ref()).small());
            ui.add_space(3.0);
        }
    });
}

/// Colour of what a person must not miss.
const WARNING: egui::Color32 = egui::Color32::from_rgb(160, 50, 0);

fn angles(ui: &mut Ui, found: &GroundFindings, units: Units) {
    let lengths = [&found.running_clearance_mm, &found.axle_clearance_mm];
    let rows = [
        ("approach", &found.approach_deg),
        ("breakover", &found.breakover_deg),
        ("departure", &found.departure_deg),
        ("running clearance", lengths[0]),
        ("axle clearance", lengths[1]),
    ];
    for (i, (name, touching)) in rows.into_iter().enumerate() {
        let said = match touching {
            Some(t) if i < 3 => format!("{name} {}\u{b0}", degrees_at_most(t.value)),
            Some(t) => format!("{name} {}", units.at_most_with_unit(t.value)),
            None => format!("{name}: nothing to touch"),
        };
        ui.label(RichText::new(said).strong());
        if let Some(t) = touching {
            ui.label(RichText::new(&t.part).small());
        }
    }
    ui.add_space(6.0);
    let verdict = if found.four_of_five {
        "Four of the five thresholds of 49 CFR 523.5(b)(2) are met."
    } else {
        "Four of the five thresholds of 49 CFR 523.5(b)(2) are not met."
    };
    ui.label(verdict);
}

fn bottom_bar(
    mut contexts: EguiContexts,
    mut area: ResMut<PictureArea>,
    mut drive: ResMut<Drive>,
    mut trace: ResMut<Trace>,
    document: Res<Document>,
    shown: Res<Shown>,
) -> Result {
    let context = contexts.ctx_mut()?.clone();
    panels::show(
        &context,
        &mut area,
        PanelEdge::Bottom,
        "drive bar",
        |p| p,
        |ui| {
            ui.add_space(2.0);
            if drive.subject().obstacle().is_some() {
                ui.horizontal(|ui| play_controls(ui, &mut drive, &mut trace, shown.units));
            }
            ui.horizontal_wrapped(|ui| {
                for (rgb, name) in [
                    (palette::FRAME, "on the frame"),
                    (GapState::Clear.rgb(), "front suspension"),
                    (palette::AXLE, "rear axle"),
                    (GapState::Touching.rgb(), "touching"),
                ] {
                    super::controls::swatch(ui, rgb);
                    ui.label(name);
                }
                ui.separator();
                ui.label(RichText::new(CAUTION).small());
                if let Some(note) = shown.note.as_ref().filter(|_| document.problem().is_none()) {
                    ui.separator();
                    ui.label(RichText::new(note).small());
                }
            });
            ui.add_space(2.0);
        },
    );
    Ok(())
}

/// What a person should keep in mind, in a line.
pub const CAUTION: &str =
    "Rigid upright tyres at their loaded radius, no speed, no slip: keep a margin.";

fn play_controls(ui: &mut Ui, drive: &mut Drive, trace: &mut Trace, units: Units) {
    let mm = units.in_mm();
    let name = if drive.playing { "Pause" } else { "Play" };
    let button = ui.add_enabled(drive.setting().is_some(), egui::Button::new(name));
    trace.widget(Widget::PlayDrive, button.rect, ui.ctx());
    if button.clicked() {
        drive.play_or_pause();
    }
    for (label, forward) in [("Contact before", false), ("Next contact", true)] {
        if ui.button(label).clicked() {
            drive.step_to_contact(forward);
        }
    }
    let mut speed = drive.speed_mm_s / mm;
    let [slowest, fastest] = [*SPEEDS_MM_S.start() / mm, *SPEEDS_MM_S.end() / mm];
    ui.add(
        egui::DragValue::new(&mut speed)
            .range(slowest..=fastest)
            .speed(10.0 / mm)
            .fixed_decimals(0)
            .suffix(format!(" {}/s", units.name())),
    );
    drive.speed_mm_s = speed * mm;
    ui.checkbox(&mut drive.repeat, "repeat");
    ui.label("front axle");
    ui.spacing_mut().slider_width = (ui.available_width() - 110.0).max(120.0);
    let width = ui.spacing().slider_width;
    let [start, end] = drive.ends();
    let mut x = drive.front_axle_mm() / mm;
    let response = ui.add(
        Slider::new(&mut x, start / mm..=end / mm)
            .custom_formatter(|v, _| units.signed(v * mm))
            .custom_parser(|text| units.typed(text).map(|v| v / mm))
            .update_while_editing(false)
            .suffix(format!(" {}", units.name())),
    );
    let rail = response.rect.with_max_x(response.rect.min.x + width);
    trace.widget(Widget::FrontAxle, rail, ui.ctx());
    // The widget rounds what it is given: only what a person did moves the truck.
    let by_hand = response.dragged() || response.has_focus() || response.lost_focus();
    if response.changed() && by_hand {
        drive.playing = false;
        drive.go_to(x * mm);
    }
    if response.drag_stopped() {
        // The keyboard moves the truck again.
        response.surrender_focus();
    }
}

/// Share of the window's height that the curve takes.
const CURVE_SHARE: f32 = 0.27;

fn curve(
    mut contexts: EguiContexts,
    mut area: ResMut<PictureArea>,
    mut drive: ResMut<Drive>,
    mut trace: ResMut<Trace>,
    document: Res<Document>,
    shown: Res<Shown>,
) -> Result {
    if drive.subject().obstacle().is_none() {
        return Ok(());
    }
    let context = contexts.ctx_mut()?.clone();
    let height = (context.viewport_rect().height() * CURVE_SHARE).clamp(130.0, 420.0);
    let adjust = |p: egui::Panel| p.default_size(height).resizable(true);
    panels::show(
        &context,
        &mut area,
        PanelEdge::Bottom,
        "clearance",
        adjust,
        |ui| {
            let found = drive.found().cloned();
            let Some(found) = found.filter(|_| !drive.is_outdated(&document)) else {
                let words = match drive.problem() {
                    Some(problem) => problem.to_string(),
                    None => "driving over it...".to_owned(),
                };
                ui.label(words);
                ui.allocate_space(ui.available_size());
                return;
            };
            let to = draw_curve(ui, &found, drive.front_axle_mm(), shown.units, &mut trace);
            if let Some(x) = to {
                drive.playing = false;
                drive.go_to(x);
            }
        },
    );
    Ok(())
}

/// Draws the curve. Returns where a person pressed.
fn draw_curve(
    ui: &mut Ui,
    found: &DriveFindings,
    front_axle_mm: f64,
    units: Units,
    trace: &mut Trace,
) -> Option<f64> {
    let mm = units.in_mm();
    let line: PlotPoints = found
        .curve
        .iter()
        .map(|row| [row.front_axle_mm / mm, row.clearance_mm / mm])
        .collect();
    let axis = |name: &str| format!("{name}, {}", units.name());
    let plot = Plot::new("clearance curve")
        .allow_drag(false)
        .allow_scroll(false)
        .allow_boxed_zoom(false)
        .show_x(false)
        .show_y(false)
        .include_y(0.0)
        .x_grid_spacer(uniform_grid_spacer(grid_steps))
        .y_grid_spacer(uniform_grid_spacer(grid_steps))
        .custom_x_axes(vec![
            AxisHints::new_x()
                .label_spacing(LABELS_APART)
                .label(axis("front axle from the obstacle's front edge")),
        ])
        .custom_y_axes(vec![
            AxisHints::new_y()
                .label_spacing(LABELS_APART)
                .label(axis("least clearance")),
        ])
        .set_margin_fraction(egui::vec2(0.02, 0.10));
    let shown = plot.show(ui, |plot| {
        plot.hline(
            HLine::new("touching", 0.0)
                .color(palette::color32(palette::INK))
                .width(1.0)
                .allow_hover(false),
        );
        plot.line(
            Line::new("least clearance", line)
                .color(palette::color32(CURVE))
                .width(2.5)
                .allow_hover(false),
        );
        // The first on top of others at its place.
        for (i, contact) in found.contacts.iter().enumerate().rev() {
            let at = [contact.front_axle_mm[1] / mm, 0.0];
            if i == 0 {
                plot.vline(
                    VLine::new("first contact", at[0])
                        .color(palette::color32(palette::CONTACT))
                        .style(LineStyle::dashed_loose())
                        .width(1.5)
                        .allow_hover(false),
                );
            }
            plot.points(
                Points::new("contact", PlotPoints::from(vec![at]))
                    .color(palette::color32(palette::CONTACT))
                    .radius(8.0)
                    .allow_hover(false),
            );
            plot.text(
                Text::new(
                    "contact",
                    PlotPoint::new(at[0], at[1]),
                    RichText::new((i + 1).to_string())
                        .size(11.0)
                        .strong()
                        .color(egui::Color32::WHITE),
                )
                .anchor(Align2::CENTER_CENTER)
                .allow_hover(false),
            );
        }
        plot.vline(
            VLine::new("here", front_axle_mm / mm)
                .color(palette::color32(palette::HERE))
                .width(2.0)
                .allow_hover(false),
        );
        plot.pointer_coordinate()
    });
    trace.widget(Widget::Clearance, shown.response.rect, ui.ctx());
    let pressed = shown.response.is_pointer_button_down_on() || shown.response.clicked();
    let to: Option<PlotPoint> = pressed.then_some(shown.inner).flatten();
    to.map(|at| at.x * mm)
}

/// The curve.
const CURVE: [u8; 3] = [0, 90, 150];

/// The sentence over the picture, with where the truck is below it.
pub fn headline(ui: &mut Ui, drive: &Drive, document: &Document, units: Units) {
    let size = |points: f32, words: String| RichText::new(words).size(points);
    let setting: Option<&Setting> = drive.setting().map(AsRef::as_ref);
    let waiting = drive.is_waiting(document);
    let words = match (drive.problem(), drive.found(), setting) {
        (Some(problem), ..) => problem.to_string(),
        _ if waiting => "Driving...".to_owned(),
        (None, Some(found), _) => drive_words::headline(found, units),
        (None, None, Some(setting)) => drive_words::level_headline(&setting.angles, units),
        (None, None, None) => "Putting the truck on the ground...".to_owned(),
    };
    ui.label(size(HEADLINE_POINTS, words).strong());
    let name = &document.truck().name;
    let mut second = match drive.subject().obstacle() {
        Some(obstacle) => format!("{name} over {obstacle}"),
        None => format!("{name} on level ground at ride height"),
    };
    if let (Some(stance), Some(course)) = (drive.stance(), setting.and_then(|s| s.course.as_ref()))
    {
        second.push_str(if course.suspension_follows() {
            ", suspension follows. "
        } else {
            ", suspension held at ride height. "
        });
        let row = drive.row_here().filter(|_| !waiting);
        let angles = [stance.pitch, stance.roll].map(f64::to_degrees);
        second.push_str(&drive_words::here(
            drive.front_axle_mm(),
            drive.touching(),
            row,
            angles,
            units,
        ));
    }
    ui.label(size(SECOND_POINTS, second));
}

/// Behind the headline.
pub const HEADLINE_FILL: egui::Color32 = egui::Color32::from_rgb(246, 248, 249);
/// Size of the headline.
const HEADLINE_POINTS: f32 = 20.0;
/// Size of the line below it.
const SECOND_POINTS: f32 = 13.5;

fn headline_over_picture(
    mut contexts: EguiContexts,
    area: Res<PictureArea>,
    mut kept_free: ResMut<LabelFreeArea>,
    drive: Res<Drive>,
    document: Res<Document>,
    shown: Res<Shown>,
    look: Res<Look>,
) -> Result {
    if !look.labels {
        return Ok(());
    }
    let context = contexts.ctx_mut()?.clone();
    let told = egui::Area::new(egui::Id::new("headline"))
        .fixed_pos(area.0.min + egui::vec2(6.0, 6.0))
        .interactable(false)
        .show(&context, |ui| {
            ui.set_max_width(area.0.width() - 28.0);
            egui::Frame::new()
                .fill(HEADLINE_FILL)
                .inner_margin(6.0)
                .show(ui, |ui| headline(ui, &drive, &document, shown.units));
        });
    kept_free.0.push(told.response.rect);
    Ok(())
}
