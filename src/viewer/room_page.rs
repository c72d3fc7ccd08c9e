//! The page Room: what a bracket has to keep clear of, the part itself, where it stands, and how near everything comes to
//! it there.

use super::background::Wake;
use super::clearance_list;
use super::clearance_map::ShownMap;
use super::controls::swatch;
use super::document::Document;
use super::file_dialog::OpenDialog;
use super::keep_out::{KeepOutSolid, MadeSolid, moving_parts};
use super::motion::Motion;
use super::palette;
use super::part_loading::PartLoading;
use super::placing::{PlacedPart, Placing};
use super::shown::Shown;
use super::suspension::PartChoice;
use super::trace::{Trace, Widget};
use crate::output::{Units, hollows_filled};
use crate::scene::MeshUnit;
use crate::space::SEEN_FROM;
use crate::suspension::Body;
use bevy::ecs::system::SystemParam;
use bevy::prelude::*;
use bevy_egui::egui::{
    self, Button, CollapsingHeader, ComboBox, DragValue, ProgressBar, RichText, TextEdit, Ui,
};
use std::path::PathBuf;

/// What the page shows and changes.
#[derive(SystemParam)]
pub struct Room<'w, 's> {
    keep_out: ResMut<'w, KeepOutSolid>,
    loading: ResMut<'w, PartLoading>,
    placing: ResMut<'w, Placing>,
    map: ResMut<'w, ShownMap>,
    saving: Local<'s, Option<OpenDialog>>,
}

/// What the page needs.
pub struct RoomPagePlugin;

impl Plugin for RoomPagePlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<KeepOutSolid>()
            .init_resource::<Placing>()
            .init_resource::<ShownMap>()
            .init_resource::<Wake>()
            .add_plugins(super::part_loading::PartLoadingPlugin);
    }
}

/// Shows the page.
pub fn show(
    ui: &mut Ui,
    room: &mut Room,
    document: &mut Document,
    choice: &mut PartChoice,
    motion: &mut Motion,
    shown: &mut Shown,
    trace: &mut Trace,
) {
    CollapsingHeader::new("Clearance map")
        .default_open(true)
        .show(ui, |ui| {
            let (map, placing) = (&mut room.map, &room.placing);
            clearance_list::show(ui, map, document, placing, motion, shown, trace);
        });
    CollapsingHeader::new("Keep-out solid")
        .default_open(true)
        .show(ui, |ui| {
            choose(ui, &mut room.keep_out, document, shown.units, trace);
            made(ui, &mut room.keep_out, &mut room.saving, document, shown);
        });
    CollapsingHeader::new("Load a part")
        .default_open(true)
        .show(ui, |ui| {
            load(ui, &mut room.loading, document, choice, shown.units, trace)
        });
    CollapsingHeader::new("Place a part")
        .default_open(true)
        .show(ui, |ui| {
            room.placing.look_at(document);
            place(ui, &room.placing, document, choice, trace);
        });
}

fn body_name(body: Body) -> String {
    body.name().replace('_', " ")
}

fn choose(
    ui: &mut Ui,
    keep_out: &mut KeepOutSolid,
    document: &Document,
    units: Units,
    trace: &mut Trace,
) {
    ui.label(
        RichText::new(
            "The space that these parts take over the whole free travel, at every steering angle.",
        )
        .small(),
    );
    ui.horizontal(|ui| {
        ui.label("seen from");
        ComboBox::from_id_salt("seen from")
            .selected_text(body_name(keep_out.choice.on))
            .show_ui(ui, |ui| {
                // A bracket on what may turn goes round with it: no solid of one roll holds all that comes near.
                let all = SEEN_FROM.into_iter();
                for body in all.filter(|body| !document.corner().may_turn(*body)) {
                    ui.selectable_value(&mut keep_out.choice.on, body, body_name(body));
                }
            });
    });
    let corner = document.corner();
    let names: Vec<&str> = moving_parts(corner, keep_out.choice.on)
        .map(|i| corner.parts[i].name.as_str())
        .collect();
    CollapsingHeader::new(format!(
        "{} of {} moving parts",
        names
            .iter()
            .filter(|name| keep_out.choice.parts.contains(**name))
            .count(),
        names.len()
    ))
    .id_salt("moving parts")
    .default_open(true)
    .show(ui, |ui| {
        for name in &names {
            let mut chosen = keep_out.choice.parts.contains(*name);
            let response = ui.checkbox(&mut chosen, *name);
            trace.widget(
                Widget::KeepOutPart((*name).to_owned()),
                response.rect,
                ui.ctx(),
            );
            if response.changed() && chosen {
                keep_out.choice.parts.insert((*name).to_owned());
            } else if response.changed() {
                keep_out.choice.parts.remove(*name);
            }
        }
    });
    ui.horizontal(|ui| {
        let options = &mut keep_out.choice.options;
        length(ui, "margin", &mut options.margin_mm, 0.0, units);
        length(
            ui,
            "resolution",
            &mut options.resolution_mm,
            FINEST_MM,
            units,
        );
    });
    // What isn't there any more, or no longer moves, is left out of it.
    let any = names
        .iter()
        .any(|name| keep_out.choice.parts.contains(*name));
    ui.horizontal(|ui| match keep_out.progress() {
        Some(share) => {
            if ui.button("Stop").clicked() {
                keep_out.stop();
            }
            ui.add(ProgressBar::new(share as f32).show_percentage());
        }
        None => {
            let response = ui.add_enabled(any, Button::new("Make the solid"));
            trace.widget(Widget::MakeKeepOut, response.rect, ui.ctx());
            if response.clicked() {
                keep_out.make(document);
            }
        }
    });
    if let Some(problem) = keep_out.problem() {
        ui.label(RichText::new(problem).color(super::controls::WARNING));
    }
}

/// Finer than this nobody waits for a solid, mm.
const FINEST_MM: f64 = 0.2;

pub(super) fn length(ui: &mut Ui, name: &str, mm: &mut f64, least_mm: f64, units: Units) {
    let unit = units.in_mm();
    let mut value = *mm / unit;
    ui.label(name);
    let drag = DragValue::new(&mut value)
        .speed(0.1 / unit)
        .range(least_mm / unit..=f64::INFINITY)
        .max_decimals(4)
        .update_while_editing(false)
        .suffix(format!(" {}", units.name()));
    let response = ui.add(drag);
    // The widget rounds what it shows: only what a person did is a change.
    let touched = response.dragged() || response.has_focus() || response.lost_focus();
    if touched && response.changed() {
        *mm = value * unit;
    }
    if response.drag_stopped() {
        response.surrender_focus();
    }
}

fn made(
    ui: &mut Ui,
    keep_out: &mut KeepOutSolid,
    saving: &mut Option<OpenDialog>,
    document: &Document,
    shown: &mut Shown,
) {
    let Some(made) = keep_out.made().cloned() else {
        return;
    };
    ui.horizontal(|ui| {
        swatch(ui, palette::KEEP_OUT);
        ui.checkbox(&mut keep_out.shown, "show it");
        if ui.button("Save as...").clicked() && saving.is_none() {
            *saving = Some(OpenDialog::beside(document.path(), |dialog| {
                let dialog = dialog.add_filter("solid", &["stl"]);
                dialog.set_file_name("keep_out.stl").save_file()
            }));
        }
    });
    ui.label(RichText::new(described(&made, shown.units)).small());
    if keep_out.is_outdated(document) {
        let text = "Made before the last change: make it again.";
        ui.label(RichText::new(text).color(super::controls::WARNING));
    }
    if let Some(answer) = saving.as_ref().and_then(OpenDialog::answer) {
        *saving = None;
        if let Some(path) = answer {
            shown.note = Some(save(&made, path));
        }
    }
}

fn described(made: &MadeSolid, units: Units) -> String {
    let solid = &made.solid;
    let unproved = match solid.unproved_cells {
        0 => String::new(),
        n => format!(
            " UNDECIDED: {n} cells of the travel couldn't be proved; positions in them may reach out."
        ),
    };
    format!(
        "Holds every position and {} around it, and reaches no more than {} further; {:.1} litres.{} Rigid parts as \
         drawn.{unproved}",
        units.at_most_with_unit(made.choice.options.margin_mm),
        units.at_least_with_unit(solid.most_excess_mm),
        solid.volume_mm3 * 1.0e-6,
        hollows_filled(solid),
    )
}

fn save(made: &MadeSolid, path: PathBuf) -> String {
    let path = if path.extension().is_none() {
        path.with_extension("stl")
    } else {
        path
    };
    match made.save(&path) {
        Ok(()) => format!("saved {}", path.display()),
        Err(problem) => problem,
    }
}

/// The unit that a file says itself.
const AS_STATED: &str = "as the file says";

fn load(
    ui: &mut Ui,
    loading: &mut PartLoading,
    document: &mut Document,
    choice: &mut PartChoice,
    units: Units,
    trace: &mut Trace,
) {
    ui.horizontal(|ui| {
        if ui.button("Choose a file...").clicked() {
            loading.choose_file(document);
        }
        ui.label(if loading.is_reading() {
            "reading..."
        } else {
            "or drop one on the window"
        });
    });
    let Some(offer) = &mut loading.offer else {
        return;
    };
    ui.label(
        RichText::new(format!(
            "{}, {} triangles",
            offer.file.display(),
            offer.triangles
        ))
        .small(),
    );
    ui.horizontal(|ui| {
        ui.label("name");
        ui.add(TextEdit::singleline(&mut offer.name).desired_width(f32::INFINITY));
    });
    ui.horizontal(|ui| {
        ui.label("unit");
        let stated = offer.stated_mm.is_some();
        ComboBox::from_id_salt("mesh unit")
            .selected_text(offer.unit.map_or(AS_STATED, MeshUnit::name))
            .show_ui(ui, |ui| {
                if stated {
                    ui.selectable_value(&mut offer.unit, None, AS_STATED);
                }
                for unit in MeshUnit::ALL {
                    ui.selectable_value(&mut offer.unit, Some(unit), unit.name());
                }
            });
    });
    let size = offer.size_mm().map(|mm| units.length(mm)).join(" x ");
    ui.label(format!("so it is {size} {}", units.name()));
    ui.horizontal(|ui| {
        ui.label("on the");
        ComboBox::from_id_salt("part on")
            .selected_text(body_name(offer.on))
            .show_ui(ui, |ui| {
                for body in SEEN_FROM.into_iter().chain([Body::Halfshaft]) {
                    ui.selectable_value(&mut offer.on, body, body_name(body));
                }
            });
    });
    let named = !offer.name.trim().is_empty();
    ui.horizontal(|ui| {
        let response = ui.add_enabled(named, Button::new("Add it to the scene"));
        trace.widget(Widget::AddPart, response.rect, ui.ctx());
        if response.clicked() {
            loading.add(document, choice);
        } else if ui.button("Leave it").clicked() {
            loading.offer = None;
        }
    });
}

fn place(
    ui: &mut Ui,
    placing: &Placing,
    document: &mut Document,
    choice: &mut PartChoice,
    trace: &mut Trace,
) {
    if placing.parts().is_empty() {
        ui.label("No part of this corner is a mesh placed by numbers.");
        return;
    }
    let picked = choice.picked.as_deref().and_then(|name| placing.part(name));
    ComboBox::from_id_salt("placed part")
        .width(ui.available_width() - 8.0)
        .selected_text(picked.map_or("choose one, or click it", |part| &part.name))
        .show_ui(ui, |ui| {
            for part in placing.parts() {
                let now = choice.picked.as_ref() == Some(&part.name);
                if ui.selectable_label(now, &part.name).clicked() {
                    choice.picked = Some(part.name.clone());
                }
            }
        });
    let Some(part) = picked else {
        return;
    };
    numbers(ui, placing, part, document, trace);
    let words = if placing.with_handles(&part.name).is_some() {
        "Drag the arrows and rings in the picture, or type: where the file's origin goes, and its turns about x, then \
         y, then z."
    } else {
        "It goes down with the lowered differential: these are its numbers as measured."
    };
    ui.label(RichText::new(words).small());
}

fn numbers(
    ui: &mut Ui,
    placing: &Placing,
    part: &PlacedPart,
    document: &mut Document,
    trace: &mut Trace,
) {
    let (mut at, mut turned) = placing.numbers(part);
    let (mut moved, mut ended) = (false, false);
    let speed = 0.1 / part.unit.in_mm();
    let unit = format!(" {}", Units::of_scene(part.unit).name());
    for (field, values, speed, suffix) in [
        ("at", &mut at, speed, unit.as_str()),
        ("turned_deg", &mut turned, 0.1, "\u{b0}"),
    ] {
        ui.horizontal(|ui| {
            for (axis, value) in values.iter_mut().enumerate() {
                let before = *value;
                let drag = DragValue::new(value)
                    .speed(speed)
                    .max_decimals(4)
                    .update_while_editing(false)
                    .prefix(["x ", "y ", "z "][axis])
                    .suffix(suffix);
                let response = ui.add(drag);
                let path = format!("{}.{field}[{axis}]", part.shape);
                trace.widget(Widget::Field(path), response.rect, ui.ctx());
                // The widget rounds what it shows: only what a person did is a change.
                let touched = response.dragged() || response.has_focus() || response.lost_focus();
                if touched && response.changed() && (*value - before).abs() > 0.5e-6 {
                    moved = true;
                } else {
                    *value = before;
                }
                if response.drag_stopped() {
                    response.surrender_focus();
                }
                ended |= response.drag_stopped() || response.lost_focus();
            }
        });
    }
    if moved && placing.held().is_none() {
        document.place(&part.shape, at, turned);
    }
    if ended {
        document.end_change();
    }
}

/// Why a file wasn't loaded, over the picture like a problem of the scene.
pub fn problem(context: &egui::Context, over: egui::Rect, loading: &mut PartLoading) {
    let Some(problem) = loading.problem().map(str::to_owned) else {
        return;
    };
    super::controls::over_picture(context, over, "loading problem", |ui| {
        let text = format!("Not loaded; the scene is as it was.\n{problem}");
        ui.label(RichText::new(text).color(super::controls::WARNING));
        if ui.button("All right").clicked() {
            loading.dismiss();
        }
    });
}
