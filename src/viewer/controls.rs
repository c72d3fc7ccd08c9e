//! The bars: what to look at above; travel, steer and play below; and the keyboard for all of it.

use super::background::{Found, SwitchedOff};
use super::clearance_map::ShownMap;
use super::document::Document;
use super::drive::{Drive, SPEEDS_MM_S, suspension_is_shown};
use super::editor::readable;
use super::framing::View;
use super::ghost::Ghost;
use super::labels::OverPicture;
use super::look::Look;
use super::motion::{Motion, next_stop};
use super::palette::{self, GapState};
use super::panels::{self, PanelEdge, PanelOrder, PictureArea, PointerOverPicture};
use super::part_colours::{self, ColouredParts};
use super::part_loading::PartLoading;
use super::placing::Placing;
use super::room_page;
use super::section::{CutAcross, CutAt, Section};
use super::shown::Shown;
use super::suspension::PartChoice;
use super::trace::{Trace, Widget};
use crate::findings::{CAUTIONS, StopId, TravelDirection};
use crate::limits::Unit;
use crate::output::{Units, degrees, degrees_at_least, signed_degrees};
use crate::space::{PlayPath, play_path};
use crate::truck::Corner;
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
                (top_bar, bottom_bar.run_if(suspension_is_shown))
                    .chain()
                    .in_set(PanelOrder::Bars),
                keyboard.in_set(OverPicture),
            ),
        )
        .add_systems(PreUpdate, let_the_mouse_orbit);
    }
}

/// Keys, as shown under "Keys".
const KEYS: [(&str, &str); 16] = [
    ("Up, Down", "wheel up, down (with Shift: a tenth)"),
    ("Left, Right", "steer (with Shift: a tenth)"),
    ("Page Up, Page Down", "next stop above, below"),
    ("Home", "measured position"),
    ("Space", "play, pause"),
    ("Comma, Full stop", "previous, next path to play"),
    ("Minus, Equals", "slower, faster"),
    ("L", "play again at the end, or not"),
    ("1 to 6", "front, rear, side, top, bottom, three-quarter"),
    ("W", "see through wheel and body"),
    ("J, M, N, G", "joints, gaps and contacts, labels, ground"),
    ("C", "cut open, or not"),
    ("U", "millimetres, inches, sixteenths"),
    ("H, I, A", "hide the picked part, show it alone, show all"),
    ("Ctrl+Z, Ctrl+Y", "undo, redo"),
    (
        "On a drive",
        "Left, Right move the truck; Page Up, Page Down go to the next contact, the one before; Home to the start",
    ),
];

fn top_bar(
    mut contexts: EguiContexts,
    mut area: ResMut<PictureArea>,
    mut look: ResMut<Look>,
    mut shown: ResMut<Shown>,
    mut choice: ResMut<PartChoice>,
    mut section: ResMut<Section>,
    mut document: ResMut<Document>,
    mut loading: ResMut<PartLoading>,
    found: Res<Found>,
    drive: Res<Drive>,
) -> Result {
    let context = contexts.ctx_mut()?.clone();
    panels::show(
        &context,
        &mut area,
        PanelEdge::Top,
        "top",
        |p| p,
        |ui| {
            ui.horizontal_wrapped(|ui| {
                ui.label(RichText::new(&document.truck().name).strong());
                let changed = if document.is_unsaved() {
                    " (changed)"
                } else {
                    ""
                };
                ui.label(format!("{}{changed}", document.file_name()));
                if !drive.shows_suspension() {
                    ui.label("whole truck");
                } else if document.truck().corners.len() > 1 {
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
                if drive.shows_suspension() {
                    ui.checkbox(&mut choice.see_through_wheel, "see through wheel and body");
                    ui.checkbox(&mut look.joints, "joints");
                    ui.checkbox(&mut look.marks, "gaps and contacts");
                } else {
                    ui.checkbox(&mut look.marks, "contacts and angles");
                }
                ui.checkbox(&mut look.labels, "labels");
                ui.checkbox(&mut look.grid, "ground");
                if drive.shows_suspension() {
                    ui.checkbox(&mut section.on, "cut open");
                    if section.on {
                        section_choice(ui, &mut section, shown.units);
                    }
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
        },
    );
    if let Some(problem) = document.problem() {
        over_picture(&context, area.0, "problem", |ui| {
            ui.label(
                RichText::new(format!(
                    "Not usable as it stands, so the last good truck is shown.\n{problem}"
                ))
                .color(WARNING),
            );
        });
    } else {
        room_page::problem(&context, area.0, &mut loading);
    }
    Ok(())
}

/// Words over the picture, so that no panel moves under the hand.
pub(super) fn over_picture(
    context: &egui::Context,
    area: egui::Rect,
    id: &str,
    add: impl FnOnce(&mut Ui),
) {
    egui::Area::new(egui::Id::new(id))
        .fixed_pos(area.min + egui::vec2(0.3 * area.width(), 8.0))
        .show(context, |ui| {
            egui::Frame::popup(ui.style()).show(ui, |ui| {
                ui.set_max_width(0.4 * area.width());
                add(ui);
            });
        });
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
    mut area: ResMut<PictureArea>,
    mut motion: ResMut<Motion>,
    mut trace: ResMut<Trace>,
    document: Res<Document>,
    shown: Res<Shown>,
    found: Res<Found>,
    off: Res<SwitchedOff>,
    ghost: Res<Ghost>,
    coloured: Res<ColouredParts>,
    map: Res<ShownMap>,
) -> Result {
    let context = contexts.ctx_mut()?.clone();
    panels::show(
        &context,
        &mut area,
        PanelEdge::Bottom,
        "bottom",
        |p| p,
        |ui| {
            ui.add_space(2.0);
            ui.horizontal(|ui| {
                sliders(ui, &mut motion, &mut trace, document.corner(), shown.units);
            });
            ui.horizontal_wrapped(|ui| {
                play_controls(ui, &mut motion, &document, &found);
                ui.separator();
                position_line(ui, &motion, &found, shown.units);
            });
            ui.horizontal_wrapped(|ui| verdict_here(ui, &found, &off, shown.units));
            ui.horizontal_wrapped(|ui| {
                ui.label("Gaps:");
                for state in GapState::ALL {
                    swatch(ui, state.rgb());
                    ui.label(state.name());
                }
                super::setup_choice::legend(ui, &ghost);
                ui.separator();
                ui.label(
                    RichText::new("Rigid parts only; cycle it by hand before driving.").small(),
                );
                // Notes have a place of their own: nothing moves when one comes.
                if let Some(note) = shown.note.as_ref().filter(|_| document.problem().is_none()) {
                    ui.separator();
                    ui.label(RichText::new(note).small());
                }
            });
            // The line stays while colours go and come: nothing moves under the hand.
            let font = egui::FontId::proportional(12.0);
            match map.legend(&document, shown.units) {
                Some((name, legend)) => part_colours::legend_line(ui, &name, &legend, &font),
                None => part_colours::legend(ui, &coloured, &font),
            }
            ui.add_space(2.0);
        },
    );
    Ok(())
}

fn sliders(ui: &mut Ui, motion: &mut Motion, trace: &mut Trace, corner: &Corner, units: Units) {
    let mm = units.in_mm();
    ui.spacing_mut().slider_width = (ui.available_width() * 0.5 - 240.0).max(120.0);
    let width = ui.spacing().slider_width;
    // The rail alone: the number beside it belongs to the widget too.
    let rail = |r: egui::Rect| r.with_max_x(r.min.x + width);
    let (mut travel, mut rack) = (motion.travel_mm() / mm, motion.rack_mm() / mm);
    let mut slider = |ui: &mut Ui, value: &mut f64, [low, high]: [f64; 2], widget: Widget| {
        let response = ui.add(
            Slider::new(value, low / mm..=high / mm)
                .custom_formatter(|v, _| units.signed(v * mm))
                .custom_parser(|text| units.typed(text).map(|v| v / mm))
                .update_while_editing(false)
                .suffix(format!(" {}", units.name())),
        );
        trace.widget(widget, rail(response.rect), ui.ctx());
        if response.drag_stopped() {
            // The keyboard moves the suspension again.
            response.surrender_focus();
        }
        // The widget rounds what it is given: only what a person did moves the wheel.
        response.changed() && (response.dragged() || response.has_focus() || response.lost_focus())
    };
    ui.label("travel");
    let range = [-corner.search_mm[0], corner.search_mm[1]];
    let up_down = slider(ui, &mut travel, range, Widget::Travel);
    ui.label(if play_path::rack_to_left(corner) > 0.0 {
        "rack, + steers left"
    } else {
        "rack, + steers right"
    });
    let steer = slider(ui, &mut rack, corner.rack_mm, Widget::Rack);
    if up_down || steer {
        motion.play = None;
        motion.go_to(corner, travel * mm, rack * mm);
    }
}

/// Colour of what a person must not miss.
pub(super) const WARNING: egui::Color32 = egui::Color32::from_rgb(160, 50, 0);

/// In words what the colours say of gaps, and what they don't: limits that are exceeded here.
fn verdict_here(ui: &mut Ui, found: &Found, off: &SwitchedOff, units: Units) {
    let Some(position) = &found.position else {
        ui.label("measuring...");
        return;
    };
    let past: Vec<String> = position
        .stops
        .iter()
        .filter(|s| s.margin < 0.0)
        .map(|s| {
            let by = match s.unit {
                Unit::Millimetre => units.at_least_with_unit(-s.margin),
                Unit::Degree => format!("{}\u{b0}", degrees_at_least(-s.margin)),
            };
            format!("{} by {by}", s.name)
        })
        .collect();
    let pairs = |state: GapState| -> Vec<String> {
        position
            .gaps
            .iter()
            .filter(|g| GapState::of(g) == state)
            .map(|g| format!("{} - {}", g.a, g.b))
            .collect()
    };
    let mut said = false;
    for (what, list) in [
        ("Past its limit", past),
        ("Touching", pairs(GapState::Touching)),
        ("Under the required gap", pairs(GapState::UnderGap)),
    ] {
        if list.is_empty() {
            continue;
        }
        said = true;
        let named = list.len().min(MOST_NAMED);
        let mut text = format!("{what}: {}", list[..named].join(", "));
        if list.len() > named {
            text.push_str(&format!(" and {} more", list.len() - named));
        }
        ui.label(RichText::new(text).strong().color(WARNING));
    }
    if !said {
        ui.label("Within every limit here, with every required gap kept.");
    }
    if !off.0.is_empty() {
        let names: Vec<String> = off.0.keys().map(StopId::name).collect();
        ui.label(
            RichText::new(format!("Switched off: {}", names.join(", ")))
                .strong()
                .color(WARNING),
        );
    }
}

/// Limits or pairs named in one line.
const MOST_NAMED: usize = 3;

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
    ui.checkbox(&mut motion.repeat, "repeat");
    for (label, direction) in [
        ("Stop below", TravelDirection::Droop),
        ("Stop above", TravelDirection::Bump),
    ] {
        if ui.button(label).clicked() {
            step_to_stop(motion, document, found, direction);
        }
    }
    if ui
        .button("To measured")
        .on_hover_text("back to the measured position, straight ahead")
        .clicked()
    {
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
    if let Some(map) = found.map.as_ref().filter(|_| !found.outdated) {
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
                units.signed_free_to(error.reached_mm, error.reached_mm)
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
    mut drive: ResMut<Drive>,
) -> Result {
    let context = contexts.ctx_mut()?;
    // Letters belong to whatever has the keyboard; undo belongs to text while it is typed.
    let [typing, held] = [
        context.text_edit_focused(),
        context.egui_wants_keyboard_input(),
    ];
    if typing {
        return Ok(());
    }
    for (key, modifiers) in keys_pressed(context) {
        let shift = modifiers.shift;
        if modifiers.command {
            undo_key(key, shift, &mut document, &mut shown);
            continue;
        }
        let is_taken = held
            || (!drive.shows_suspension() && drive_key(key, shift, &mut drive))
            || motion_key(key, shift, &mut motion, &document, &found);
        if !is_taken {
            look_key(key, &mut look, &mut shown, &mut section);
            part_key(key, &mut choice);
        }
    }
    Ok(())
}

/// Keys that went down, in order, with what was held beside them.
fn keys_pressed(context: &egui::Context) -> Vec<(egui::Key, egui::Modifiers)> {
    context.input(|input| {
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
    })
}

/// Undo and redo, with Ctrl or Command held.
fn undo_key(key: egui::Key, shift: bool, document: &mut Document, shown: &mut Shown) {
    use egui::Key;
    match key {
        Key::Z if !shift => {
            let path = document.undo();
            shown.note = path.map(|p| format!("taken back: {}", readable(&p)));
        }
        Key::Z | Key::Y => {
            let path = document.redo();
            shown.note = path.map(|p| format!("made again: {}", readable(&p)));
        }
        _ => {}
    }
}

/// Moves the suspension, or plays. Returns whether the key is one for that.
fn motion_key(
    key: egui::Key,
    fine: bool,
    motion: &mut Motion,
    document: &Document,
    found: &Found,
) -> bool {
    use egui::Key;
    let step_mm = if fine { 0.5 } else { 5.0 };
    let corner = document.corner();
    let mut nudge = |travel: f64, rack: f64| {
        motion.play = None;
        let to = (motion.travel_mm() + travel, motion.rack_mm() + rack);
        motion.go_to(corner, to.0, to.1);
    };
    match key {
        Key::ArrowUp => nudge(step_mm, 0.0),
        Key::ArrowDown => nudge(-step_mm, 0.0),
        Key::ArrowLeft => nudge(0.0, step_mm * play_path::rack_to_left(corner)),
        Key::ArrowRight => nudge(0.0, -step_mm * play_path::rack_to_left(corner)),
        Key::PageUp => step_to_stop(motion, document, found, TravelDirection::Bump),
        Key::PageDown => step_to_stop(motion, document, found, TravelDirection::Droop),
        Key::Home => {
            motion.play = None;
            motion.go_to(corner, 0.0, 0.0);
        }
        Key::Space => play_or_pause(motion, document, found),
        Key::Comma | Key::Period => {
            let all = PlayPath::ALL;
            let now = all.iter().position(|p| *p == motion.chosen).unwrap_or(0);
            let step = if key == Key::Period { 1 } else { all.len() - 1 };
            motion.chosen = all[(now + step) % all.len()];
            if motion.play.take().is_some() {
                play_or_pause(motion, document, found);
            }
        }
        Key::Minus => motion.speed_mm_s = (motion.speed_mm_s / 1.5).max(SLOWEST_MM_S),
        Key::Equals | Key::Plus => {
            motion.speed_mm_s = (motion.speed_mm_s * 1.5).min(FASTEST_MM_S);
        }
        Key::L => motion.repeat = !motion.repeat,
        _ => return false,
    }
    true
}

/// Changes what the picture shows, from where, and in which unit.
fn look_key(key: egui::Key, look: &mut Look, shown: &mut Shown, section: &mut Section) {
    use egui::Key;
    match key {
        Key::J => look.joints = !look.joints,
        Key::M => look.marks = !look.marks,
        Key::N => look.labels = !look.labels,
        Key::G => look.grid = !look.grid,
        Key::C => section.on = !section.on,
        Key::U => {
            let now = UNITS.iter().position(|(u, _)| *u == shown.units);
            shown.units = UNITS[(now.unwrap_or(0) + 1) % UNITS.len()].0;
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

/// Hides parts, shows them alone, or sees through the wheel.
fn part_key(key: egui::Key, choice: &mut PartChoice) {
    use egui::Key;
    match key {
        Key::W => choice.see_through_wheel = !choice.see_through_wheel,
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
        _ => {}
    }
}

/// What a key does to the whole truck. Returns whether the key belongs to it alone: the suspension isn't shown.
fn drive_key(key: egui::Key, fine: bool, drive: &mut Drive) -> bool {
    use egui::Key;
    let mut nudge = |by: f64| {
        let step_mm = if fine { 1.0 } else { 20.0 };
        drive.playing = false;
        drive.go_to(drive.front_axle_mm() + by * step_mm);
    };
    match key {
        Key::ArrowRight => nudge(1.0),
        Key::ArrowLeft => nudge(-1.0),
        Key::PageUp => drive.step_to_contact(true),
        Key::PageDown => drive.step_to_contact(false),
        Key::Home => {
            drive.playing = false;
            drive.go_to(drive.ends()[0]);
        }
        Key::Space => drive.play_or_pause(),
        Key::Minus => drive.speed_mm_s = (drive.speed_mm_s / 1.5).max(*SPEEDS_MM_S.start()),
        Key::Equals | Key::Plus => {
            drive.speed_mm_s = (drive.speed_mm_s * 1.5).min(*SPEEDS_MM_S.end());
        }
        Key::L => drive.repeat = !drive.repeat,
        Key::M | Key::N | Key::G | Key::U => return false,
        Key::Num1 | Key::Num2 | Key::Num3 | Key::Num4 | Key::Num5 | Key::Num6 => return false,
        _ => {}
    }
    true
}

/// The mouse orbits over the picture alone; a drag begun there may leave it.
fn let_the_mouse_orbit(
    over: Res<PointerOverPicture>,
    buttons: Res<ButtonInput<MouseButton>>,
    placing: Res<Placing>,
    mut cameras: Query<&mut PanOrbitCamera>,
) {
    // A hand on a part's handle moves the part.
    let orbits = over.0 && placing.under_pointer.is_none();
    for mut camera in &mut cameras {
        let held =
            buttons.any_pressed([MouseButton::Left, MouseButton::Middle, MouseButton::Right]);
        if !held && camera.enabled != orbits {
            camera.enabled = orbits;
        }
    }
}
