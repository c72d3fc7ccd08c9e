//! The clearance map on the page Room: which part, which gap; its tightest patches, and what is under the pointer.

use super::clearance_map::ShownMap;
use super::clearance_probe::{go_to_patch, patch_cut, patch_position, patch_words};
use super::controls::{WARNING, swatch};
use super::document::Document;
use super::motion::Motion;
use super::palette;
use super::placing::Placing;
use super::room_page::length;
use super::shown::Shown;
use super::trace::{Trace, Widget};
use crate::findings::{LeftOut, TightPatch, WhyLeftOut};
use crate::output::clearance_colours::{TOUCHING, UNDER_GAP};
use crate::output::{Units, clearance_verdict, is_wrong};
use bevy_egui::egui::{Button, ComboBox, ProgressBar, RichText, Ui};

/// Shows the section.
pub(super) fn show(
    ui: &mut Ui,
    map: &mut ShownMap,
    document: &Document,
    placing: &Placing,
    motion: &mut Motion,
    shown: &mut Shown,
    trace: &mut Trace,
) {
    ui.horizontal(|ui| {
        let response = ui.checkbox(&mut map.choice.on, "colour");
        trace.widget(Widget::ClearanceMap, response.rect, ui.ctx());
        let now = map.choice.part.clone();
        ComboBox::from_id_salt("mapped part")
            .width((ui.available_width() - 8.0).max(40.0))
            .selected_text(now.as_deref().unwrap_or("a part: choose, or click it"))
            .show_ui(ui, |ui| {
                for part in &document.corner().parts {
                    let chosen = now.as_ref() == Some(&part.name);
                    if ui.selectable_label(chosen, &part.name).clicked() {
                        map.choice.part = Some(part.name.clone());
                        map.choice.on = true;
                    }
                }
            });
    });
    if !map.choice.on {
        return;
    }
    let units = shown.units;
    ui.horizontal(|ui| {
        let mut own = map.choice.required_mm.is_some();
        if ui.checkbox(&mut own, "required gap").changed() {
            map.choice.required_mm = own.then_some(OWN_GAP_MM);
        }
        match &mut map.choice.required_mm {
            Some(mm) => length(ui, "", mm, 0.0, units),
            None => {
                ui.label("as the scene asks");
            }
        }
    });
    ui.horizontal(|ui| {
        let least = map.choice.required_mm.unwrap_or(0.0) + LEAST_RANGE_MM;
        length(
            ui,
            "tell gaps apart up to",
            &mut map.choice.cutoff_mm,
            least,
            units,
        );
        // The gap may have been raised above it.
        map.choice.cutoff_mm = map.choice.cutoff_mm.max(least);
    });
    if let Some(share) = map.progress() {
        ui.add(ProgressBar::new(share as f32).text("finding the map"));
    }
    if let Some(problem) = map.problem() {
        ui.label(RichText::new(problem).color(WARNING));
    }
    match map.current(document, placing).cloned() {
        Some(made) => {
            let found = &made.findings;
            let verdict =
                RichText::new(format!("{}.", sentence(&clearance_verdict(found)))).strong();
            let bad = found.unproved_cells > 0 || found.patches.iter().any(is_wrong);
            ui.label(if bad { verdict.color(WARNING) } else { verdict });
            if found.unproved_cells > 0 {
                let text = format!(
                    "UNDECIDED: {} cells of the travel couldn't be proved.",
                    found.unproved_cells
                );
                ui.label(RichText::new(text).small().color(WARNING));
            }
            for (n, patch) in found.patches.iter().enumerate() {
                if row(ui, n, patch, units, trace) {
                    go_to_patch(patch, document, map, motion, shown);
                }
            }
            if found.patches_not_listed > 0 {
                ui.label(format!(
                    "and {} more where the gap is kept.",
                    found.patches_not_listed
                ));
            }
            let words = match &map.probed {
                Some(probed) => probed.words(&made, units).join("\n"),
                None => "Point at the part to read the map, click to go there.".to_owned(),
            };
            ui.label(RichText::new(words).small());
            let same_body = |l: &&LeftOut| l.why == WhyLeftOut::SameBody;
            let of_other_bodies = found.left_out.iter().filter(|l| !same_body(l)).count();
            ui.label(
                RichText::new(format!(
                    "Whole free travel, both locks, without this part's own stops. No true gap is lower than shown by more \
                     than {} mm; rigid parts as drawn.{}",
                    found.tolerance_mm,
                    left_out(of_other_bodies),
                ))
                .small(),
            );
        }
        None if map.progress().is_none() && map.problem().is_none() => {
            let words = match &map.choice.part {
                None => "Choose a part.",
                Some(name) if document.corner().parts.iter().all(|p| p.name != *name) => {
                    "This corner has no such part now."
                }
                Some(_) => "The part is moved: its map comes when it is let go.",
            };
            ui.label(RichText::new(words).small());
        }
        None => {}
    }
}

/// The required gap to start from, mm: what a rigid bracket is commonly kept off moving parts.
const OWN_GAP_MM: f64 = 5.0;
/// The map tells at least so much room apart, mm: more than its tolerance.
const LEAST_RANGE_MM: f64 = 1.0;

fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().map(|c| c.to_uppercase().to_string());
    first.unwrap_or_default() + letters.as_str()
}

fn left_out(count: usize) -> String {
    match count {
        0 => String::new(),
        1 => " One part is not looked at: it is joined, or overlaps as drawn.".to_owned(),
        n => format!(" {n} parts are not looked at: they are joined, or overlap as drawn."),
    }
}

/// A patch; whether it was clicked.
fn row(ui: &mut Ui, n: usize, patch: &TightPatch, units: Units, trace: &mut Trace) -> bool {
    let text = format!(
        "{} {}\n{}{:.1} cm\u{b2} at {}\n{}",
        n + 1,
        patch_words(patch, units),
        patch_cut(patch, units),
        patch.area_mm2 * 1.0e-2,
        units.point(patch.middle_mm),
        patch_position(patch, units),
    );
    ui.horizontal(|ui| {
        swatch(
            ui,
            match patch {
                p if p.touched => TOUCHING,
                p if p.violated => UNDER_GAP,
                _ => palette::GapState::Clear.rgb(),
            },
        );
        let response = ui.add(Button::new(RichText::new(text).small()).wrap().frame(false));
        trace.widget(Widget::Patch(n), response.rect, ui.ctx());
        response
            .on_hover_text("Click: the suspension goes there")
            .clicked()
    })
    .inner
}
