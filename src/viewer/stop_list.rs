//! What stops the wheel at the present steer angle, nearest first, with what is left of each as a gauge.
//! Click one to go to it; switch one off and see the next.

use super::background::{Found, SwitchedOff};
use super::motion::Motion;
use super::palette::{self, GapState};
use super::shown::Shown;
use super::trace::{Trace, Widget};
use crate::findings::{LimitState, StopFound, StopId, StopOrder, TravelDirection};
use crate::limits::Unit;
use crate::output::{
    Units, limit_margin, limit_reading, signed_degrees, verdict_text, verdict_words,
};
use crate::sweep::corner_status;
use crate::truck::Corner;
use bevy_egui::egui::{self, ProgressBar, RichText, Ui};

/// Shows both orders, what is switched off, and every limit's margin.
pub fn show(
    ui: &mut Ui,
    found: &Found,
    corner: &Corner,
    motion: &mut Motion,
    off: &mut SwitchedOff,
    shown: &Shown,
    trace: &mut Trace,
) {
    let units = shown.units;
    verdict(ui, found, off, units);
    if let Some(orders) = &found.stops {
        let steer = found
            .position
            .as_ref()
            .map(|p| format!(", steer {}\u{b0}", signed_degrees(p.steer_deg)))
            .unwrap_or_default();
        ui.label(format!(
            "At rack {} {}{steer}. Before a stop: wheel travel left to it from here, below zero when passed. \
             Behind it: where it is, from the measured position. Bold: not meant to stop the wheel.",
            units.signed(orders[0].rack_mm),
            units.name()
        ));
        for order in orders {
            let way = match order.direction {
                TravelDirection::Droop => "Down (droop)",
                TravelDirection::Bump => "Up (bump)",
            };
            ui.add_space(6.0);
            ui.label(RichText::new(way).strong());
            one_order(ui, order, corner, motion, off, units, trace);
        }
    } else {
        ui.label("finding the stops...");
    }
    if let Some(position) = &found.position {
        ui.add_space(8.0);
        ui.label(RichText::new("Limits here").strong());
        for limit in &position.stops {
            gauge(ui, limit, units);
        }
    }
    if let Some(sweep) = &found.sweep {
        for contact in &sweep.first_contacts {
            ui.add_space(8.0);
            let way = contact.direction.name();
            let class = verdict_words::contact_class(contact.class);
            ui.label(RichText::new(format!("First {class} in {way}, any steer")).strong());
            ui.label(format!(
                "{} - {} at travel {}, rack {} {} ({})",
                contact.a,
                contact.b,
                units.signed_free_to(contact.travel_mm, contact.direction.sign()),
                units.signed(contact.rack_mm),
                units.name(),
                sweep.locks.at(contact.rack_mm).name()
            ));
            if ui.button("Go there").clicked() {
                motion.play = None;
                motion.go_to(corner, contact.travel_mm, contact.rack_mm);
            }
        }
        for why in &sweep.undecided {
            let line = verdict_words::undecided(why, units, 0.0);
            ui.label(RichText::new(format!("Undecided: {line}")).small());
        }
    }
}

fn one_order(
    ui: &mut Ui,
    order: &StopOrder,
    corner: &Corner,
    motion: &mut Motion,
    off: &mut SwitchedOff,
    units: Units,
    trace: &mut Trace,
) {
    if order.stops.is_empty() {
        ui.label(format!(
            "none up to where the search ends, {} {}",
            units.signed_free_to(order.searched_to_mm, order.direction.sign()),
            units.name()
        ));
    }
    // What is left to each stop, against the whole way to the last one listed.
    let longest = order
        .stops
        .iter()
        .map(|s| s.travel_mm.abs())
        .fold(1.0, f64::max);
    // Stops that are switched off stay where they stood.
    let mut waiting: Vec<(StopId, f64)> = off
        .0
        .iter()
        .filter(|(_, (direction, _))| *direction == order.direction)
        .map(|(stop, (_, travel))| (stop.clone(), *travel))
        .collect();
    waiting.sort_by(|a, b| b.1.abs().total_cmp(&a.1.abs()));
    for (number, stop) in order.stops.iter().enumerate() {
        while let Some((waits, _)) = waiting.pop_if(|(_, at)| at.abs() <= stop.travel_mm.abs()) {
            if off_row(ui, &waits.name()) {
                off.0.remove(&waits);
            }
        }
        if off.0.contains_key(&stop.stop) {
            // Its answer is on the way.
            continue;
        }
        ui.horizontal(|ui| {
            let mut on = true;
            let removable = stop.stop != StopId::EndOfReach;
            if ui
                .add_enabled(removable, egui::Checkbox::without_text(&mut on))
                .on_hover_text("take this stop off, as if it were unbolted, and see the next")
                .changed()
            {
                off.0
                    .insert(stop.stop.clone(), (order.direction, stop.travel_mm));
            }
            let left = match order.direction {
                TravelDirection::Droop => motion.travel_mm() - stop.travel_mm,
                TravelDirection::Bump => stop.travel_mm - motion.travel_mm(),
            };
            let share = (left / longest).clamp(0.0, 1.0) as f32;
            bar(ui, share, stop_rgb(stop, left));
            ui.add_sized(
                [38.0, 14.0],
                egui::Label::new(RichText::new(units.at_most(left)).small()),
            )
            .on_hover_text("wheel travel left to it");
            let at = units.signed_free_to(stop.travel_mm, order.direction.sign());
            let text = format!("{} (at {at})", stop.stop.name());
            let text = if stop.intended || !stop.blocks {
                RichText::new(text)
            } else {
                RichText::new(text).strong()
            };
            let response = ui
                .add(egui::Button::selectable(left.abs() < 0.02, text).wrap())
                .on_hover_text(format!(
                    "{} at travel {at} {}; {}",
                    stop.stop.name(),
                    units.name(),
                    hint(stop)
                ));
            if number == 0 {
                trace.widget(Widget::FirstStop(order.direction), response.rect, ui.ctx());
            }
            if response.clicked() {
                motion.play = None;
                let rack = motion.rack_mm();
                motion.go_to(corner, shows_at(stop), rack);
            }
        });
    }
    for (stop, _) in waiting.into_iter().rev() {
        if off_row(ui, &stop.name()) {
            off.0.remove(&stop);
        }
    }
    for (stop, kept_to) in &order.undecided {
        ui.label(format!(
            "undecided beyond {}: {}",
            units.signed_free_to(*kept_to, order.direction.sign()),
            stop.name()
        ));
    }
}

/// Where a stop can be seen: a limit where it is reached, a contact or gap where it is there.
fn shows_at(stop: &StopFound) -> f64 {
    let is_pair = stop.stop.pair().is_some();
    stop.travel_interval_mm[usize::from(is_pair)]
}

fn hint(stop: &StopFound) -> &'static str {
    match (stop.intended, stop.blocks) {
        (true, _) => "a maker means the wheel to stop here",
        (false, true) => "not meant to stop the wheel: a bind",
        (false, false) => "doesn't stop the wheel: a gap gets smaller than required",
    }
}

fn stop_rgb(stop: &StopFound, left_mm: f64) -> [u8; 3] {
    if left_mm <= 0.0 {
        GapState::Touching.rgb()
    } else if stop.intended {
        palette::INTENDED
    } else if stop.blocks {
        [225, 140, 80]
    } else {
        GapState::UnderGap.rgb()
    }
}

/// A row of a stop that is switched off: it keeps its place, to be ticked again.
fn off_row(ui: &mut Ui, name: &str) -> bool {
    ui.horizontal(|ui| {
        let mut on = false;
        let ticked = ui.checkbox(&mut on, "").changed();
        ui.weak(format!("{name} (switched off)"));
        ticked
    })
    .inner
}

/// What the whole sweep says, in the words of the command line, and the free travel in three lines.
fn verdict(ui: &mut Ui, found: &Found, off: &mut SwitchedOff, units: Units) {
    if !off.0.is_empty() {
        ui.horizontal_wrapped(|ui| {
            ui.label(RichText::new(format!("{} switched off", off.0.len())).strong());
            if ui.button("All back on").clicked() {
                off.0.clear();
            }
        });
    }
    let Some(sweep) = &found.sweep else {
        ui.label("sweeping...");
        return;
    };
    ui.label(RichText::new(verdict_text(corner_status(sweep))).strong());
    let n = sweep.free_travel.len();
    for i in [n / 2, 0, n.saturating_sub(1)] {
        let Some(free) = sweep.free_travel.get(i) else {
            continue;
        };
        let name = |stop: &Option<StopId>| stop.as_ref().map_or("no stop".to_owned(), StopId::name);
        ui.label(
            RichText::new(format!(
                "Rack {} ({}), steer {}\u{b0}: droop {} to {}, bump {} to {}",
                units.signed(free.rack_mm),
                sweep.locks.at(free.rack_mm).name(),
                free.steer_deg.map_or("-".to_owned(), signed_degrees),
                units.at_most(free.droop_mm),
                name(&free.droop_stop),
                units.at_most(free.bump_mm),
                name(&free.bump_stop),
            ))
            .small(),
        );
    }
    ui.separator();
}

/// A gauge without letters: they stand beside it, where they can be read.
fn bar(ui: &mut Ui, share: f32, rgb: [u8; 3]) {
    ui.add(
        ProgressBar::new(share)
            .desired_width(36.0)
            .desired_height(10.0)
            .corner_radius(2.0)
            .fill(palette::color32(rgb)),
    );
}

/// A limit's value against what is allowed.
fn gauge(ui: &mut Ui, limit: &LimitState, units: Units) {
    let sign = match limit.unit {
        Unit::Millimetre => "",
        Unit::Degree => "\u{b0}",
    };
    let [is, may] = limit_reading(units, limit).map(|v| format!("{v}{sign}"));
    let left_over = format!("{}{sign}", limit_margin(units, limit));
    // What is left of the whole, as in the list above: empty at the limit.
    let whole = (limit.value.abs() + limit.margin.abs()).max(1.0e-9);
    let left = (limit.margin / whole).clamp(0.0, 1.0);
    let rgb = if limit.margin <= 0.0 {
        GapState::Touching.rgb()
    } else if limit.intended {
        palette::INTENDED
    } else {
        GapState::Clear.rgb()
    };
    ui.horizontal(|ui| {
        bar(ui, left as f32, rgb);
        ui.add_sized(
            [38.0, 14.0],
            egui::Label::new(RichText::new(left_over).small()),
        )
        .on_hover_text("what is left");
        let line = format!("{}: {is} of {may}", limit.name);
        ui.add(egui::Label::new(line).wrap());
    });
}
