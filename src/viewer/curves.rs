//! Curves against travel at the present rack position, with limits as lines and a cursor where the wheel
//! is.

use super::background::Found;
use super::document::Document;
use super::motion::Motion;
use super::palette;
use super::shown::Shown;
use super::travel_map::{LABELS_APART, grid_steps};
use crate::findings::CurveRow;
use crate::limits::{Bound, LimitKind, PlungeEnd, Span};
use crate::output::Units;
use crate::truck::Corner;
use bevy_egui::egui::{Align2, RichText, ScrollArea, Ui};
use egui_plot::{
    AxisHints, HLine, Line, LineStyle, Plot, PlotPoint, PlotPoints, Text, VLine,
    uniform_grid_spacer,
};

/// A quantity of a row.
type Of = fn(&CurveRow) -> Option<f64>;

/// One plot: its name, its unit, its lines.
struct Curve {
    name: &'static str,
    is_length: bool,
    lines: &'static [(&'static str, Of, [u8; 3])],
}

const FIRST: [u8; 3] = [0, 90, 150];
const SECOND: [u8; 3] = [190, 110, 0];
const THIRD: [u8; 3] = [120, 60, 140];

const CURVES: [Curve; 5] = [
    Curve {
        name: "joint angles",
        is_length: false,
        lines: &[
            ("inner joint", |r| Some(r.inner_joint_deg), FIRST),
            ("outer joint", |r| Some(r.outer_joint_deg), SECOND),
        ],
    },
    Curve {
        name: "plunge",
        is_length: true,
        lines: &[("plunge", |r| Some(r.plunge_mm), FIRST)],
    },
    Curve {
        name: "wheel angles",
        is_length: false,
        lines: &[
            ("camber", |r| Some(r.camber_deg), FIRST),
            ("toe", |r| Some(r.toe_deg), SECOND),
            ("caster", |r| Some(r.caster_deg), THIRD),
        ],
    },
    Curve {
        name: "damper length",
        is_length: true,
        lines: &[("damper", |r| Some(r.damper_mm), FIRST)],
    },
    Curve {
        name: "least gap",
        is_length: true,
        lines: &[("least gap", |r| r.least_gap_mm, FIRST)],
    },
];

/// Limits that belong to a plot, by its name: name and value, mm or degrees.
fn limits(corner: &Corner, curve: &str) -> Vec<(String, f64)> {
    let mut out = Vec::new();
    for limit in &corner.limits {
        let (of, value) = match &limit.kind {
            LimitKind::JointAngle(j) => (CURVES[0].name, j.limit.to_degrees()),
            LimitKind::PlungeEnd(PlungeEnd::Inner(v) | PlungeEnd::Outer(v)) => (CURVES[1].name, *v),
            LimitKind::Length(l) if matches!(l.span, Span::Damper) => match l.bound {
                Bound::AtMost(v) | Bound::AtLeast(v) => (CURVES[3].name, v),
            },
            _ => continue,
        };
        if of == curve {
            out.push((limit.name(), value));
        }
    }
    out
}

/// Shows the curves below the map. A click in one goes to that travel.
pub fn show(ui: &mut Ui, found: &Found, document: &Document, motion: &mut Motion, shown: &Shown) {
    let Some((rack_mm, rows)) = &found.curves else {
        return;
    };
    let units = shown.units;
    ui.label(
        RichText::new(format!(
            "Against travel, rack {} {}",
            units.signed(*rack_mm),
            units.name()
        ))
        .strong(),
    );
    ScrollArea::vertical().show(ui, |ui| {
        for curve in &CURVES {
            let goes_to = plot(
                ui,
                curve,
                rows,
                document.corner(),
                motion.travel_mm(),
                units,
            );
            if let Some(travel_mm) = goes_to {
                motion.play = None;
                let rack = motion.rack_mm();
                motion.go_to(document.corner(), travel_mm, rack);
            }
        }
    });
}

/// Height of one plot, points.
const HEIGHT: f32 = 118.0;

fn plot(
    ui: &mut Ui,
    curve: &Curve,
    rows: &[CurveRow],
    corner: &Corner,
    travel_mm: f64,
    units: Units,
) -> Option<f64> {
    let mm = units.in_mm();
    let scale = if curve.is_length { mm } else { 1.0 };
    ui.horizontal_wrapped(|ui| {
        for (name, _, rgb) in curve.lines {
            ui.label(
                RichText::new(*name)
                    .small()
                    .strong()
                    .color(palette::color32(*rgb)),
            );
        }
        let unit = if curve.is_length {
            units.name()
        } else {
            "\u{b0}"
        };
        ui.label(RichText::new(unit).small());
    });
    let lines: Vec<(&str, PlotPoints<'static>, [u8; 3])> = curve
        .lines
        .iter()
        .map(|(name, of, rgb)| {
            let points: PlotPoints = rows
                .iter()
                .filter_map(|r| Some([r.travel_mm / mm, of(r)? / scale]))
                .collect();
            (*name, points, *rgb)
        })
        .collect();
    let limits = limits(corner, curve.name);
    let left = rows.first().map_or(0.0, |r| r.travel_mm / mm);
    let plot = Plot::new(curve.name)
        .height(HEIGHT)
        .allow_drag(false)
        .allow_scroll(false)
        .allow_boxed_zoom(false)
        .x_grid_spacer(uniform_grid_spacer(grid_steps))
        .custom_x_axes(vec![AxisHints::new_x().label_spacing(LABELS_APART)])
        .custom_y_axes(vec![AxisHints::new_y().label_spacing(LABELS_APART)])
        .show_x(true)
        .show_y(true);
    let shown = plot.show(ui, |plot| {
        for (name, value) in limits {
            plot.text(
                Text::new(
                    "limit",
                    PlotPoint::new(left, value / scale),
                    RichText::new(&name)
                        .size(10.0)
                        .color(palette::color32(palette::BIND)),
                )
                .anchor(if value > 0.0 {
                    Align2::LEFT_TOP
                } else {
                    Align2::LEFT_BOTTOM
                })
                .allow_hover(false),
            );
            plot.hline(
                HLine::new(name, value / scale)
                    .color(palette::color32(palette::BIND))
                    .style(LineStyle::dashed_loose())
                    .width(1.2),
            );
        }
        for (name, points, rgb) in lines {
            plot.line(
                Line::new(name, points)
                    .color(palette::color32(rgb))
                    .width(2.0),
            );
        }
        plot.vline(
            VLine::new("here", travel_mm / mm)
                .color(palette::color32(palette::HERE))
                .width(1.5)
                .allow_hover(false),
        );
        plot.pointer_coordinate()
    });
    let pressed = shown.response.is_pointer_button_down_on() || shown.response.clicked();
    pressed
        .then_some(shown.inner)
        .flatten()
        .map(|at: egui_plot::PlotPoint| at.x * mm)
}
