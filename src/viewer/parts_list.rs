//! Parts by the room they have left, and the picked one's own gaps; hide, isolate, copy a point.

use super::background::Found;
use super::contacts::{by_room, contact_marks, is_looked_at, tape_words};
use super::controls::swatch;
use super::document::Document;
use super::frame;
use super::motion::Motion;
use super::palette::GapState;
use super::shown::Shown;
use super::suspension::{PartChoice, part_states};
use crate::findings::{FirstContact, GapFound};
use crate::kinematics::Position;
use crate::output::Units;
use crate::truck::Corner;
use bevy_egui::egui::{RichText, Ui};
use nalgebra::Vector3;

/// Gaps listed at once.
const MOST_GAPS: usize = 12;

/// Shows parts, gaps and contact points.
pub fn show(
    ui: &mut Ui,
    found: &Found,
    document: &Document,
    motion: &Motion,
    choice: &mut PartChoice,
    shown: &mut Shown,
) {
    let corner = document.corner();
    let Some(position) = &found.position else {
        ui.label("measuring the gaps...");
        return;
    };
    if let Some(sweep) = &found.sweep {
        for contact in &sweep.first_contacts {
            let at = sweep.locks.at(contact.rack_mm).name();
            contact_points(ui, corner, motion, contact, at, shown);
        }
    }
    let gaps = by_room(position);
    let (heading, listed): (String, Vec<&&GapFound>) = match &choice.picked {
        Some(picked) => (
            format!("Gaps of {picked}"),
            gaps.iter()
                .filter(|g| g.a == *picked || g.b == *picked)
                .collect(),
        ),
        None => ("Tightest gaps here".to_owned(), gaps.iter().collect()),
    };
    ui.label(RichText::new(heading).strong());
    if let Some(picked) = choice.picked.clone() {
        ui.horizontal(|ui| {
            if ui.button("Show it alone").clicked() {
                choice.isolated = [picked.clone()].into();
            }
            if ui.button("Hide it").clicked() {
                choice.hidden.insert(picked);
            }
            if ui.button("Deselect").clicked() {
                choice.picked = None;
            }
        });
        if listed.is_empty() {
            ui.label("no gap of it is watched");
        }
    }
    // The gaps' points belong to the position at which they were measured.
    let Ok(measured_at) = corner.position(position.travel_mm, position.rack_mm) else {
        return;
    };
    for gap in listed.into_iter().take(MOST_GAPS) {
        gap_row(ui, corner, &measured_at, gap, shown);
    }
    ui.add_space(8.0);
    ui.horizontal(|ui| {
        ui.label(RichText::new("Parts").strong());
        if (!choice.hidden.is_empty() || !choice.isolated.is_empty())
            && ui.button("Show all").clicked()
        {
            choice.hidden.clear();
            choice.isolated.clear();
        }
    });
    let states = part_states(corner, position);
    for (part, state) in corner.parts.iter().zip(states) {
        ui.horizontal(|ui| {
            let mut seen = !choice.hidden.contains(&part.name);
            if ui
                .checkbox(&mut seen, "")
                .on_hover_text("draw it")
                .changed()
            {
                if seen {
                    choice.hidden.remove(&part.name);
                } else {
                    choice.hidden.insert(part.name.clone());
                }
            }
            swatch(ui, state.rgb());
            let picked = choice.picked.as_deref() == Some(&part.name);
            let label = format!("{} (on {})", part.name, part.body.name().replace('_', " "));
            if ui.selectable_label(picked, label).clicked() {
                choice.picked = (!picked).then(|| part.name.clone());
            }
        });
    }
}

fn gap_row(ui: &mut Ui, corner: &Corner, at: &Position, gap: &GapFound, shown: &mut Shown) {
    let units = shown.units;
    ui.horizontal(|ui| {
        swatch(ui, GapState::of(gap).rgb());
        let ([there], required) = units.against([gap.gap_mm], gap.required_mm);
        let distance = if GapState::of(gap) == GapState::Touching {
            "touches".to_owned()
        } else {
            format!("{there} {}", units.name())
        };
        ui.label(format!("{} - {}: {distance}", gap.a, gap.b))
            .on_hover_text(format!("required {required} {}", units.name()));
        ui.menu_button("copy", |ui| {
            for (name, point) in [(&gap.a, gap.point_a_mm), (&gap.b, gap.point_b_mm)] {
                copy_choices(ui, corner, at, name, frame::vector(point), shown);
            }
        });
    });
    if GapState::of(gap) == GapState::Touching
        && let Some([on_a, on_b]) = tape_words(corner, at, gap)
    {
        tape_lines(ui, [&gap.a, &gap.b], [&on_a, &on_b], units);
    }
}

/// Offers a point of a part in vehicle coordinates and in the part's own (as measured).
fn copy_choices(
    ui: &mut Ui,
    corner: &Corner,
    at: &Position,
    name: &str,
    point: Vector3<f64>,
    shown: &mut Shown,
) {
    let units = shown.units;
    let mut offer = |ui: &mut Ui, label: String, point: Vector3<f64>| {
        if ui.button(label).clicked() {
            let text = coordinates(point, units);
            shown.note = Some(format!("copied {text} {}", units.name()));
            ui.ctx().copy_text(text);
            ui.close();
        }
    };
    offer(ui, format!("on {name}, vehicle coordinates now"), point);
    if let Some(part) = corner.parts.iter().find(|p| p.name == name) {
        let placement = at.linkage.placement(part.body.motion());
        offer(
            ui,
            format!("on {name}, as measured (part coordinates)"),
            placement.point_in_body(&point),
        );
    }
}

/// A point to be pasted: three decimals of a millimetre, four of an inch, no unit.
pub fn coordinates(point_mm: Vector3<f64>, units: Units) -> String {
    let decimals = if units == Units::Mm { 3 } else { 4 };
    let [x, y, z] = [0, 1, 2].map(|i| point_mm[i] / units.in_mm());
    format!("{x:.decimals$}, {y:.decimals$}, {z:.decimals$}")
}

/// Where to measure on both parts.
fn tape_lines(ui: &mut Ui, parts: [&String; 2], tapes: [&String; 2], units: Units) {
    for (part, tape) in parts.into_iter().zip(tapes) {
        let text = format!("{part}: {}", units.reworded(tape));
        ui.label(RichText::new(text).small());
    }
}

fn contact_points(
    ui: &mut Ui,
    corner: &Corner,
    motion: &Motion,
    contact: &FirstContact,
    at_lock: &str,
    shown: &mut Shown,
) {
    let Some([on_a, on_b, _]) = contact_marks(corner, motion, contact) else {
        return;
    };
    ui.horizontal_wrapped(|ui| {
        let way = contact.direction.name();
        ui.label(format!(
            "First contact in {way}, {at_lock}: {} - {}:",
            contact.a, contact.b
        ));
        ui.menu_button("copy its point", |ui| {
            let at = frame::vector(contact.point_mm);
            if ui.button("vehicle coordinates at the contact").clicked() {
                let text = coordinates(at, shown.units);
                shown.note = Some(format!("copied {text} {}", shown.units.name()));
                ui.ctx().copy_text(text);
                ui.close();
            }
            for (name, point) in [(&contact.a, on_a), (&contact.b, on_b)] {
                copy_choices(ui, corner, motion.position(), name, point, shown);
            }
        });
    });
    // Elsewhere these distances would read as those of what touches here.
    if is_looked_at(corner, motion, contact) {
        tape_lines(
            ui,
            [&contact.a, &contact.b],
            [&contact.tape_a, &contact.tape_b],
            shown.units,
        );
    }
    ui.add_space(6.0);
}
