//! The bars: what to look at above; travel, steer and play below; and the keyboard for all of it.

use super::background::Found;
use super::document::Document;
use super::framing::View;
use super::labels::OverPicture;
use super::look::Look;
use super::motion::{Motion, PlayPath, next_stop};
use super::palette::{self, GapState};
use super::panels::{self, Edge, PanelOrder, PanelRoom, PointerOverPicture};
use super::section::{CutAcross, CutAt, Section};
use super::shown::Shown;
use super::suspension::PartChoice;
use super::trace::{Trace, Widget};
use crate::findings::{CAUTIONS, TravelDirection};
use crate::output::{Units, degrees, signed_degrees};
use bevy::prelude::*;
use bevy_egui::egui::{self, DragValue, RichText, Slider, Ui};
use bevy_egui::{EguiContexts, EguiPrimaryContextPass};
use bevy_panorbit_camera::PanOrbitCamera;

/// The bars and the keyboard.
pub struct ControlsPlugin;

impl Plugin for ControlsPlugin {
    fn build(&self, app: &mut App) {
        app.add_systems(
            EguiPrimaryContextPass,
            (
                (top_bar, bottom_bar).chain().in_set(PanelOrder::Bars),
                keyboard.in_set(OverPicture),
            ),
        )
        .add_systems(PreUpdate, let_the_mouse_orbit);
    }
}

/// Keys, as shown under "Keys".
const KEYS: [(&str, &str); 15] = [
    ("Up, Down", "wheel up, down (with Shift: a tenth)"),
    ("Left, Right", "steer (with Shift: a tenth)"),
    ("Page Up, Page Down", "next stop above, below"),
    ("Home", "measured position"),
    ("Space", "play, pause"),
    ("Comma, Full stop", "previous, next path to play"),
    ("Minus, Equals", "slower, faster"),
    ("L", "play again at the end, or not"),
    ("1 to 6", "front, rear, side, top, bottom, three-quarter"),
    ("W", "see through the wheel"),
    ("J, M, N, G", "joints, gaps and contacts, labels, ground"),
    ("C", "cut open, or not"),
    ("U", "millimetres, inches, sixteenths"),
    ("H, I, A", "hide the picked part, show it alone, show all"),
    ("Ctrl+Z, Ctrl+Y", "undo, redo"),
];

fn top_bar(
    mut contexts: EguiContexts,
    mut room: ResMut<PanelRoom>,
    mut look: ResMut<Look>,
    mut shown: ResMut<Shown>,
    mut choice: ResMut<PartChoice>,
    mut section: ResMut<Section>,
    mut document: ResMut<Document>,
    found: Res<Found>,
) -> Result {
    let context = contexts.ctx_mut()?.clone();
    panels::show(
        &context,
        &mut room,
        Edge::Top,
        "top",
        |p| p,
        |ui| {
            ui.horizontal_wrapped(|ui| {
                ui.label(RichText::new(&document.truck().name).strong());
                let changed = if document.is_changed() {
                    " (changed)"
                } else {
                    ""
                };
                ui.label(format!("{}{changed}", document.file_name()));
                if document.truck().corners.len() > 1 {
                    let corners: Vec<_> = document.truck().corners.iter().map(|c| c.side).collect();
                    for (i, side) in corners.into_iter().enumerate() {
                        if ui
                            .selectable_label(document.corner_number() == i, side.name())
                            .clicked()
                        {
                            document.look_at_corner(i);
                            look.go = true;
                        }
                    }
                } else {
                    ui.label(format!("{} corner", document.corner().side.name()));
                }
                ui.separator();
                for view in View::ALL {
                    if ui
                        .selectable_label(look.view == view, view.name())
                        .clicked()
                    {
                        (look.view, look.go) = (view, true);
                    }
                }
                ui.separator();
                ui.checkbox(&mut choice.see_through_wheel, "see through wheel");
                ui.checkbox(&mut look.joints, "joints");
                ui.checkbox(&mut look.marks, "gaps and contacts");
                ui.checkbox(&mut look.labels, "labels");
                ui.checkbox(&mut look.grid, "ground");
                ui.checkbox(&mut section.on, "cut open");
                if section.on {
                    section_choice(ui, &mut section, shown.units);
                }
                ui.separator();
                units_choice(ui, &mut shown.units);
                ui.menu_button("Keys", |ui| {
                    egui::Grid::new("keys").striped(true).show(ui, |ui| {
                        for (key, does) in KEYS {
                            ui.label(RichText::new(key).strong());
                            ui.label(does);
                            ui.end_row();
                        }
                    });
                });
                ui.menu_button("Cautions", |ui| {
                    ui.set_max_width(420.0);
                    for caution in CAUTIONS {
                        ui.label(caution);
                        ui.add_space(4.0);
                    }
                });
                if found.sweeping {
                    ui.label(RichText::new("sweeping...").italics());
                }
            });
            if let Some(problem) = document.problem() {
                ui.colored_label(
                    palette::color32([160, 50, 0]),
                    format!("Not usable as it stands, so the last good truck is shown.\n{problem}"),
                );
            }
            if let Some(note) = &shown.note {
                ui.label(note);
            }
        },
    );
    Ok(())
}

fn section_choice(ui: &mut Ui, section: &mut Section, units: Units) {
    egui::ComboBox::from_id_salt("cut at")
        .selected_text(section.at.name())
        .show_ui(ui, |ui| {
            for at in CutAt::ALL {
                ui.selectable_value(&mut section.at, at, at.name());
            }
        });
    for across in CutAcross::ALL {
        ui.selectable_value(&mut section.across, across, across.name());
    }
    let mut offset = section.offset_mm / units.in_mm();
    if ui
        .add(
            DragValue::new(&mut offset)
                .speed(0.5)
                .suffix(format!(" {}", units.name())),
        )
        .changed()
    {
        section.offset_mm = offset * units.in_mm();
    }
}

fn units_choice(ui: &mut Ui, units: &mut Units) {
    for (unit, name) in UNITS {
        ui.selectable_value(units, unit, name);
    }
}

const UNITS: [(Units, &str); 3] = [
    (Units::Mm, "mm"),
    (Units::Inch, "in"),
    (Units::Sixteenths, "1/16 in"),
];

fn bottom_bar(
    mut contexts: EguiContexts,
    mut room: ResMut<PanelRoom>,
    mut motion: ResMut<Motion>,
    mut trace: ResMut<Trace>,
    document: Res<Document>,
    shown: Res<Shown>,
    found: Res<Found>,
) -> Result {
    let context = contexts.ctx_mut()?.clone();
    let corner = document.corner();
    let units = shown.units;
    let mm = units.in_mm();
    panels::show(
        &context,
        &mut room,
        Edge::Bottom,
        "bottom",
        |p| p,
        |ui| {
            ui.add_space(2.0);
            ui.horizontal(|ui| {
                ui.spacing_mut().slider_width = (ui.available_width() * 0.5 - 190.0).max(120.0);
                let (mut travel, mut rack) = (motion.travel_mm() / mm, motion.rack_mm() / mm);
                let name = |what: &str| format!("{what} {}", units.name());
                ui.label("travel");
                let up_down = ui.add(
                    Slider::new(
                        &mut travel,
                        -corner.search_mm[0] / mm..=corner.search_mm[1] / mm,
                    )
                    .custom_formatter(|v, _| units.signed(v * mm))
                    .suffix(name("")),
                );
                // The rail alone: the number beside it belongs to the widget too.
                let width = ui.spacing().slider_width;
                let rail = |r: egui::Rect| r.with_max_x(r.min.x + width);
                trace.widget(Widget::Travel, rail(up_down.rect), &context);
                ui.label("rack");
                let steer = ui.add(
                    Slider::new(&mut rack, corner.rack_mm[0] / mm..=corner.rack_mm[1] / mm)
                        .custom_formatter(|v, _| units.signed(v * mm))
                        .suffix(name("")),
                );
                trace.widget(Widget::Rack, rail(steer.rect), &context);
                if up_down.changed() || steer.changed() {
                    motion.play = None;
                    motion.go_to(corner, travel * mm, rack * mm);
                }
            });
            ui.horizontal_wrapped(|ui| {
                play_controls(ui, &mut motion, &document, &found);
                ui.separator();
                position_line(ui, &motion, &found, units);
            });
            ui.horizontal_wrapped(|ui| {
                for state in GapState::ALL {
                    swatch(ui, state.rgb());
                    ui.label(state.name());
                }
                ui.separator();
                ui.label(
                    RichText::new("Rigid parts only; cycle it by hand before driving.").small(),
                );
            });
            ui.add_space(2.0);
        },
    );
    Ok(())
}

/// A square of colour.
pub fn swatch(ui: &mut Ui, rgb: [u8; 3]) {
    let (rect, _) = ui.allocate_exact_size(egui::vec2(12.0, 12.0), egui::Sense::hover());
    ui.painter().rect(
        rect,
        2.0,
        palette::color32(rgb),
        (0.5, palette::color32(palette::INK)),
        egui::StrokeKind::Inside,
    );
}

fn play_controls(ui: &mut Ui, motion: &mut Motion, document: &Document, found: &Found) {
    let playing = motion.play.is_some();
    if ui.button(if playing { "Pause" } else { "Play" }).clicked() {
        play_or_pause(motion, document, found);
    }
    let before = motion.chosen;
    egui::ComboBox::from_id_salt("path")
        .selected_text(motion.chosen.name())
        .width(150.0)
        .show_ui(ui, |ui| {
            for path in PlayPath::ALL {
                ui.selectable_value(&mut motion.chosen, path, path.name());
            }
        });
    if motion.chosen != before && playing {
        motion.play = None;
        play_or_pause(motion, document, found);
    }
    ui.add(
        DragValue::new(&mut motion.speed_mm_s)
            .range(SLOWEST_MM_S..=FASTEST_MM_S)
            .speed(1.0)
            .fixed_decimals(0)
            .suffix(" mm/s"),
    );
    ui.checkbox(&mut motion.repeat, "again");
    for (label, direction) in [
        ("Stop below", TravelDirection::Droop),
        ("Stop above", TravelDirection::Bump),
    ] {
        if ui.button(label).clicked() {
            step_to_stop(motion, document, found, direction);
        }
    }
    if ui.button("Measured").clicked() {
        motion.play = None;
        motion.go_to(document.corner(), 0.0, 0.0);
    }
}

/// Slowest and fastest play, mm of travel or rack a second.
const SLOWEST_MM_S: f64 = 2.0;
const FASTEST_MM_S: f64 = 600.0;

/// Starts the chosen path from its start, or stops what plays.
pub fn play_or_pause(motion: &mut Motion, document: &Document, found: &Found) {
    if motion.play.take().is_some() {
        return;
    }
    if let Some(map) = &found.map {
        let path = motion.chosen;
        motion.start(path, path.corners(document.corner(), map));
    }
}

/// Goes to the next stop at the present rack position.
pub fn step_to_stop(
    motion: &mut Motion,
    document: &Document,
    found: &Found,
    direction: TravelDirection,
) {
    motion.play = None;
    if let Some(stop) = found
        .stops
        .as_ref()
        .and_then(|orders| next_stop(orders, motion.travel_mm(), direction))
    {
        let rack = motion.rack_mm();
        motion.go_to(document.corner(), stop.travel_mm, rack);
    }
}

fn position_line(ui: &mut Ui, motion: &Motion, found: &Found, units: Units) {
    if let Some(error) = motion.unreached() {
        ui.label(
            RichText::new(format!(
                "end of reach ({}) at {}",
                error.limit.name(),
                units.signed(error.reached_mm)
            ))
            .color(palette::color32([160, 50, 0])),
        );
    }
    let Some(p) = &found.position else {
        return;
    };
    ui.label(format!(
        "steer {}\u{b0}  camber {}\u{b0}  toe {}\u{b0}  caster {}\u{b0}  joints {}\u{b0} / {}\u{b0}  \
         plunge {}  damper {} {}",
        signed_degrees(p.steer_deg),
        signed_degrees(p.camber_deg),
        signed_degrees(p.toe_deg),
        degrees(p.caster_deg),
        degrees(p.inner_joint_deg),
        degrees(p.outer_joint_deg),
        units.signed(p.plunge_mm),
        units.length(p.damper_mm),
        units.name(),
    ));
}

fn keyboard(
    mut contexts: EguiContexts,
    mut motion: ResMut<Motion>,
    mut look: ResMut<Look>,
    mut shown: ResMut<Shown>,
    mut choice: ResMut<PartChoice>,
    mut section: ResMut<Section>,
    mut document: ResMut<Document>,
    found: Res<Found>,
) -> Result {
    use egui::Key;
    let context = contexts.ctx_mut()?;
    if context.text_edit_focused() {
        return Ok(());
    }
    let keys: Vec<(Key, egui::Modifiers)> = context.input(|input| {
        input
            .events
            .iter()
            .filter_map(|event| match event {
                egui::Event::Key {
                    key,
                    pressed: true,
                    modifiers,
                    ..
                } => Some((*key, *modifiers)),
                _ => None,
            })
            .collect()
    });
    for (key, modifiers) in keys {
        if modifiers.command {
            match key {
                Key::Z if modifiers.shift => _ = document.redo(),
                Key::Z => _ = document.undo(),
                Key::Y => _ = document.redo(),
                _ => {}
            }
            continue;
        }
        let step_mm = if modifiers.shift { 0.5 } else { 5.0 };
        let mut nudge = |travel: f64, rack: f64| {
            motion.play = None;
            let to = (motion.travel_mm() + travel, motion.rack_mm() + rack);
            motion.go_to(document.corner(), to.0, to.1);
        };
        match key {
            Key::ArrowUp => nudge(step_mm, 0.0),
            Key::ArrowDown => nudge(-step_mm, 0.0),
            Key::ArrowLeft => nudge(0.0, step_mm),
            Key::ArrowRight => nudge(0.0, -step_mm),
            Key::PageUp => step_to_stop(&mut motion, &document, &found, TravelDirection::Bump),
            Key::PageDown => step_to_stop(&mut motion, &document, &found, TravelDirection::Droop),
            Key::Home => {
                motion.play = None;
                motion.go_to(document.corner(), 0.0, 0.0);
            }
            Key::Space => play_or_pause(&mut motion, &document, &found),
            Key::Comma | Key::Period => {
                let all = PlayPath::ALL;
                let now = all.iter().position(|p| *p == motion.chosen).unwrap_or(0);
                let step = if key == Key::Period { 1 } else { all.len() - 1 };
                motion.chosen = all[(now + step) % all.len()];
                if motion.play.take().is_some() {
                    play_or_pause(&mut motion, &document, &found);
                }
            }
            Key::Minus => motion.speed_mm_s = (motion.speed_mm_s / 1.5).max(SLOWEST_MM_S),
            Key::Equals | Key::Plus => {
                motion.speed_mm_s = (motion.speed_mm_s * 1.5).min(FASTEST_MM_S);
            }
            Key::L => motion.repeat = !motion.repeat,
            Key::W => choice.see_through_wheel = !choice.see_through_wheel,
            Key::J => look.joints = !look.joints,
            Key::M => look.marks = !look.marks,
            Key::N => look.labels = !look.labels,
            Key::G => look.grid = !look.grid,
            Key::C => section.on = !section.on,
            Key::U => {
                let now = UNITS.iter().position(|(u, _)| *u == shown.units);
                shown.units = UNITS[(now.unwrap_or(0) + 1) % UNITS.len()].0;
            }
            Key::H => {
                if let Some(name) = choice.picked.clone() {
                    choice.hidden.insert(name);
                }
            }
            Key::I => {
                if let Some(name) = choice.picked.clone() {
                    choice.isolated = [name].into();
                }
            }
            Key::A => {
                choice.hidden.clear();
                choice.isolated.clear();
            }
            _ => {
                let digits = [
                    Key::Num1,
                    Key::Num2,
                    Key::Num3,
                    Key::Num4,
                    Key::Num5,
                    Key::Num6,
                ];
                if let Some(i) = digits.iter().position(|d| *d == key) {
                    (look.view, look.go) = (View::ALL[i], true);
                }
            }
        }
    }
    Ok(())
}

/// The mouse orbits over the picture alone; a drag begun there may leave it.
fn let_the_mouse_orbit(
    over: Res<PointerOverPicture>,
    buttons: Res<ButtonInput<MouseButton>>,
    mut cameras: Query<&mut PanOrbitCamera>,
) {
    for mut camera in &mut cameras {
        let held =
            buttons.any_pressed([MouseButton::Left, MouseButton::Middle, MouseButton::Right]);
        if !held && camera.enabled != over.0 {
            camera.enabled = over.0;
        }
    }
}
