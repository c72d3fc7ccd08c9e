//! The travel map: steer across, travel up, the free region coloured by the least gap that remains, its
//! edge named by what stops the wheel there; the free travel of the setup compared with as a dashed line.
//! Click or drag, and the suspension goes there.

use super::background::Found;
use super::document::Document;
use super::drive::suspension_is_shown;
use super::ghost::Ghost;
use super::motion::Motion;
use super::palette;
use super::panels::{self, PanelEdge, PanelOrder, PictureArea};
use super::shown::Shown;
use super::trace::{Trace, Widget};
use crate::findings::{FreeMap, MapState, RemainingGap};
use crate::kinematics::wheel_angles;
use crate::output::{Units, signed_degrees};
use crate::space::play_path;
use crate::truck::Corner;
use bevy::prelude::*;
use bevy_egui::egui::{self, Align2, Color32, ColorImage, RichText, TextureHandle, TextureOptions};
use bevy_egui::{EguiContexts, EguiPrimaryContextPass};
use egui_plot::{
    AxisHints, GridInput, Line, LineStyle, Plot, PlotImage, PlotPoint, PlotPoints, PlotUi, Points,
    Text, uniform_grid_spacer,
};
use std::sync::Arc;

/// The map's panel.
pub struct TravelMapPlugin;

impl Plugin for TravelMapPlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<MapPicture>().add_systems(
            EguiPrimaryContextPass,
            show.in_set(PanelOrder::Sides).run_if(suspension_is_shown),
        );
    }
}

/// The map drawn as an image, kept until the map changes.
#[derive(Resource, Default)]
struct MapPicture {
    of: Option<(Arc<FreeMap>, bool)>,
    texture: Option<TextureHandle>,
    span: Span,
    /// The gap that the brightest colour stands for, mm.
    most_mm: f64,
}

/// What an image of the map covers: rack and travel, mm.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Span {
    /// Least and greatest rack.
    pub rack_mm: [f64; 2],
    /// Least and greatest travel.
    pub travel_mm: [f64; 2],
}

impl Span {
    /// Of a map's cells.
    pub fn of(map: &FreeMap) -> Span {
        let fold = |of: &dyn Fn(&crate::findings::MapCell) -> [f64; 2]| {
            map.cells
                .iter()
                .map(of)
                .fold([f64::INFINITY, f64::NEG_INFINITY], |[l, h], [a, b]| {
                    [l.min(a), h.max(b)]
                })
        };
        Span {
            rack_mm: fold(&|c| c.rack_mm),
            travel_mm: fold(&|c| c.travel_mm),
        }
    }
}

/// Distances between grid lines: about six with numbers across the plot, at 1, 2 or 5 times a power of ten.
pub(super) fn grid_steps(input: GridInput) -> [f64; 3] {
    const WANTED: f64 = 6.0;
    let raw = ((input.bounds.1 - input.bounds.0).abs() / WANTED).max(1.0e-6);
    let power = 10.0_f64.powf(raw.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|k| k * power)
        .find(|step| *step >= raw)
        .unwrap_or(10.0 * power);
    [step, step * 5.0, step * 10.0]
}

/// Numbers along an axis: shown from the first distance between them on, in full strength from the second,
/// points.
pub(super) const LABELS_APART: std::ops::RangeInclusive<f32> = 16.0..=22.0;
/// Pixels of the image, both ways.
const PIXELS: usize = 384;

/// The map as an image of `PIXELS` squared, top row first: free cells by the least gap, others plain.
/// `most_mm` is the gap of the brightest colour.
pub fn image(map: &FreeMap, gaps: Option<&RemainingGap>, span: Span, most_mm: f64) -> ColorImage {
    let n = PIXELS;
    let mut kind = vec![None; n * n];
    let share = |v: f64, [low, high]: [f64; 2]| (v - low) / (high - low).max(1.0e-9) * n as f64;
    for cell in &map.cells {
        let columns = cell.rack_mm.map(|r| share(r, span.rack_mm));
        let rows = cell.travel_mm.map(|t| share(t, span.travel_mm));
        let clamp = |v: f64| (v.round().max(0.0) as usize).min(n);
        for row in clamp(rows[0])..clamp(rows[1]) {
            for column in clamp(columns[0])..clamp(columns[1]) {
                kind[row * n + column] = Some((cell.state, cell.gaps_kept));
            }
        }
    }
    fill_seams(&mut kind, n);
    let mut pixels = vec![Color32::TRANSPARENT; n * n];
    for row in 0..n {
        for column in 0..n {
            let Some((state, kept)) = kind[row * n + column] else {
                continue;
            };
            let at =
                |i: usize, [low, high]: [f64; 2]| low + (high - low) * (i as f64 + 0.5) / n as f64;
            let colour = match state {
                MapState::Free => {
                    let gap = gaps
                        .and_then(|g| sample(g, at(column, span.rack_mm), at(row, span.travel_mm)));
                    match gap {
                        Some(mm) => palette::color32(palette::gap_scale(mm / most_mm.max(1.0e-9))),
                        None => Color32::from_rgb(196, 205, 214),
                    }
                }
                MapState::CutOff => Color32::from_rgb(206, 200, 190),
                MapState::Stopped => Color32::from_rgb(244, 240, 236),
                MapState::Undecided => Color32::from_rgb(120, 120, 120),
            };
            // The line of the required gap: free cells whose gaps are kept next to free ones whose aren't.
            let edge = state == MapState::Free
                && [(row + 1, column), (row, column + 1)]
                    .into_iter()
                    .filter(|(r, c)| *r < n && *c < n)
                    .filter_map(|(r, c)| kind[r * n + c])
                    .any(|(s, k)| s == MapState::Free && k != kept);
            let colour = if edge {
                palette::color32(palette::GAP_LINE)
            } else if state == MapState::Free && !kept && (row + column) % 12 < 2 {
                // Hatched where a required gap is missing.
                palette::color32(palette::GAP_LINE)
            } else {
                colour
            };
            pixels[(n - 1 - row) * n + column] = colour;
        }
    }
    ColorImage::new([n, n], pixels)
}

/// Cells are drawn at the travel of their middle; between two that stand side by side a pixel may stay open.
/// It takes what lies above or below, if both are there.
fn fill_seams<T: Copy>(kind: &mut [Option<T>], n: usize) {
    const WIDEST: usize = 3;
    for column in 0..n {
        for row in 0..n {
            if kind[row * n + column].is_some() {
                continue;
            }
            let below = (1..=WIDEST.min(row)).find_map(|k| kind[(row - k) * n + column]);
            let above = (1..=WIDEST)
                .filter(|k| row + k < n)
                .find_map(|k| kind[(row + k) * n + column]);
            if above.is_some() {
                kind[row * n + column] = below;
            }
        }
    }
}

/// The nearest sample's gap, blended between the four around where all are known.
fn sample(gaps: &RemainingGap, rack_mm: f64, travel_mm: f64) -> Option<f64> {
    let place = |axis: &[f64], v: f64| {
        let step = (axis.last()? - axis.first()?) / (axis.len() - 1).max(1) as f64;
        let at = ((v - axis.first()?) / step).clamp(0.0, (axis.len() - 1) as f64);
        let low = (at.floor() as usize).min(axis.len().saturating_sub(2));
        Some((low, at - low as f64))
    };
    let (j, u) = place(&gaps.rack_mm, rack_mm)?;
    let (i, v) = place(&gaps.travel_mm, travel_mm)?;
    let m = gaps.rack_mm.len();
    let mut sum = 0.0;
    let mut weight = 0.0;
    for (di, wi) in [(0, 1.0 - v), (1, v)] {
        for (dj, wj) in [(0, 1.0 - u), (1, u)] {
            if let Some(Some(gap)) = gaps.gap_mm.get((i + di) * m + j + dj) {
                let w = wi * wj + 1.0e-6;
                sum += gap * w;
                weight += w;
            }
        }
    }
    (weight > 0.0).then(|| sum / weight)
}

/// The gap of the brightest colour: the greatest that remains anywhere, at least a millimetre.
pub fn greatest_gap(gaps: Option<&RemainingGap>) -> f64 {
    gaps.map_or(1.0, |g| {
        g.gap_mm.iter().flatten().fold(1.0, |m: f64, v| m.max(*v))
    })
}

/// A stretch of the outline with one stop across it: name, whether a maker means it, its corners.
pub struct EdgeRun {
    /// What stops the wheel; a lock or the end of the search where nothing does.
    pub name: String,
    /// Whether a maker means it.
    pub intended: bool,
    /// Its corners as (rack, travel), mm.
    pub corners: Vec<[f64; 2]>,
}

/// The outline cut where what stops the wheel changes.
pub fn edge_runs(corner: &Corner, map: &FreeMap) -> Vec<EdgeRun> {
    let n = map.outline.len();
    let mut runs: Vec<(Option<usize>, bool, EdgeRun)> = Vec::new();
    for i in 0..n {
        let (a, b) = (&map.outline[i], &map.outline[(i + 1) % n]);
        // The two locks and the two ends of the search are told apart by which way the side runs.
        let upright = (a.rack_mm - b.rack_mm).abs() < 1.0e-6;
        let [from, to] = [a, b].map(|p| [p.rack_mm, p.travel_mm]);
        match runs.last_mut() {
            Some((stop, side, run)) if *stop == a.stop && (stop.is_some() || *side == upright) => {
                run.corners.push(to);
            }
            _ => {
                let name = match a.stop {
                    Some(stop) => map.stops[stop].name(),
                    None if upright => RACK_LOCK.to_owned(),
                    None => "end of the search".to_owned(),
                };
                let intended = match a.stop {
                    Some(stop) => corner
                        .limits
                        .iter()
                        .any(|l| l.intended && map.stops[stop].is_limit(&l.id)),
                    None => upright,
                };
                runs.push((
                    a.stop,
                    upright,
                    EdgeRun {
                        name,
                        intended,
                        corners: vec![from, to],
                    },
                ));
            }
        }
    }
    // The walk may have begun in the middle of a run.
    if runs.len() > 1 {
        let same = {
            let (first, last) = (&runs[0], &runs[runs.len() - 1]);
            first.0 == last.0 && (first.0.is_some() || first.1 == last.1)
        };
        if same && let Some((_, _, mut last)) = runs.pop() {
            last.corners.extend_from_slice(&runs[0].2.corners[1..]);
            runs[0].2.corners = last.corners;
        }
    }
    runs.into_iter().map(|(_, _, run)| run).collect()
}

fn show(
    mut contexts: EguiContexts,
    mut area: ResMut<PictureArea>,
    mut picture: ResMut<MapPicture>,
    mut motion: ResMut<Motion>,
    mut trace: ResMut<Trace>,
    document: Res<Document>,
    found: Res<Found>,
    ghost: Res<Ghost>,
    shown: Res<Shown>,
) -> Result {
    let context = contexts.ctx_mut()?.clone();
    let whole = context.viewport_rect();
    let width = (whole.width() * 0.28).clamp(300.0, 620.0);
    let adjust = |p: egui::Panel| p.default_size(width).resizable(true);
    panels::show(&context, &mut area, PanelEdge::Right, "map", adjust, |ui| {
        let Some(map) = &found.map else {
            ui.label("finding the free travel...");
            ui.allocate_space(ui.available_size());
            return;
        };
        let coloured = found.remaining.is_some();
        let fresh = picture
            .of
            .as_ref()
            .is_some_and(|(of, with)| Arc::ptr_eq(of, map) && *with == coloured);
        if !fresh {
            picture.span = Span::of(map);
            picture.most_mm = greatest_gap(found.remaining.as_deref());
            let drawn = image(
                map,
                found.remaining.as_deref(),
                picture.span,
                picture.most_mm,
            );
            picture.texture = Some(context.load_texture("map", drawn, TextureOptions::LINEAR));
            picture.of = Some((Arc::clone(map), coloured));
        }
        let height = (ui.available_height() * 0.5).max(200.0);
        ui.horizontal(|ui| {
            ui.label(RichText::new("Free travel").strong());
            legend(ui, picture.most_mm, shown.units);
            if found.outdated {
                ui.label(RichText::new("of the last truck...").italics());
            }
        });
        draw_map(
            ui,
            height,
            map,
            &picture,
            &mut motion,
            &mut trace,
            &document,
            &ghost,
            &shown,
        );
        super::curves::show(ui, &found, &document, &mut motion, &shown);
    });
    Ok(())
}

fn legend(ui: &mut egui::Ui, most_mm: f64, units: Units) {
    let (rect, _) = ui.allocate_exact_size(egui::vec2(70.0, 10.0), egui::Sense::hover());
    for i in 0..35 {
        let x = rect.min.x + rect.width() * i as f32 / 35.0;
        ui.painter().rect_filled(
            egui::Rect::from_min_size(egui::pos2(x, rect.min.y), egui::vec2(2.1, rect.height())),
            0.0,
            palette::color32(palette::gap_scale(f64::from(i) / 34.0)),
        );
    }
    ui.label(RichText::new(format!("least gap 0 to {}", units.with_unit(most_mm))).small());
}

fn draw_map(
    ui: &mut egui::Ui,
    height: f32,
    map: &FreeMap,
    picture: &MapPicture,
    motion: &mut Motion,
    trace: &mut Trace,
    document: &Document,
    ghost: &Ghost,
    shown: &Shown,
) {
    let mm = shown.units.in_mm();
    let corner = document.corner();
    let runs = edge_runs(corner, map);
    let marks = edge_marks(&runs);
    let other = ghost.outline(corner.side);
    let here = [motion.rack_mm(), motion.travel_mm()];
    let plotted = empty_plot(height, corner, shown.units).show(ui, |plot| {
        draw_cells(plot, picture, mm);
        draw_edge(plot, &runs, mm);
        if !other.is_empty() {
            draw_other_edge(plot, &other, mm);
        }
        draw_measured_position(plot, picture.span, mm);
        draw_marks(plot, &marks, mm);
        plot.points(
            Points::new("here", PlotPoints::from(vec![here.map(|v| v / mm)]))
                .color(palette::color32(palette::HERE))
                .radius(5.0)
                .allow_hover(false),
        );
        plot.pointer_coordinate()
    });
    let response = &plotted.response;
    trace.widget(Widget::Map, response.rect, ui.ctx());
    trace.map(&plotted.transform, mm, ui.ctx());
    let pressed = response.is_pointer_button_down_on() || response.clicked();
    if pressed && let Some(to) = plotted.inner {
        motion.play = None;
        motion.go_to(corner, to.y * mm, to.x * mm);
    }
    if let Some(of) = ghost.of().filter(|_| !other.is_empty()) {
        ui.horizontal(|ui| super::setup_choice::map_legend(ui, of));
    }
    list_marks(ui, &marks, corner, motion);
    let missing = if map.gap_missing {
        "Hatched: a required gap is missing. "
    } else {
        ""
    };
    ui.label(
        RichText::new(format!(
            "{missing}{:.1} % of the swept rectangle is free, {:.2} % undecided.",
            100.0 * map.shares.free,
            100.0 * map.shares.undecided
        ))
        .small(),
    );
}

/// The map's axes: rack across, with what the locks steer, and travel up.
fn empty_plot<'p>(height: f32, corner: &Corner, units: Units) -> Plot<'p> {
    let locks = corner.rack_mm.map(|rack| {
        corner.position(0.0, rack).map_or(f64::NAN, |position| {
            let design = &corner.positioner.linkage;
            wheel_angles(design, &position, corner.side, corner.loaded_radius_mm).steer_deg
        })
    });
    let across = format!(
        "rack, {}: {} steers {}\u{b0}, {} steers {}\u{b0}",
        units.name(),
        units.signed(corner.rack_mm[0]),
        signed_degrees(locks[0]),
        units.signed(corner.rack_mm[1]),
        signed_degrees(locks[1]),
    );
    let up = format!("travel, {}", units.name());
    Plot::new("travel map")
        .height(height)
        .allow_drag(false)
        .allow_boxed_zoom(false)
        .allow_scroll(false)
        .show_x(false)
        .show_y(false)
        .x_grid_spacer(uniform_grid_spacer(grid_steps))
        .y_grid_spacer(uniform_grid_spacer(grid_steps))
        .custom_x_axes(vec![
            AxisHints::new_x().label_spacing(LABELS_APART).label(across),
        ])
        .custom_y_axes(vec![
            AxisHints::new_y().label_spacing(LABELS_APART).label(up),
        ])
        .set_margin_fraction(egui::vec2(0.04, 0.06))
}

/// Length of a span, in units of `mm` millimetres.
fn length_in([low, high]: [f64; 2], mm: f64) -> f32 {
    ((high - low) / mm) as f32
}

fn draw_cells(plot: &mut PlotUi, picture: &MapPicture, mm: f64) {
    let Some(texture) = &picture.texture else {
        return;
    };
    let Span { rack_mm, travel_mm } = picture.span;
    let middle = |[low, high]: [f64; 2]| 0.5 * (low + high) / mm;
    plot.image(
        PlotImage::new(
            "free",
            texture.id(),
            PlotPoint::new(middle(rack_mm), middle(travel_mm)),
            [length_in(rack_mm, mm), length_in(travel_mm, mm)],
        )
        .allow_hover(false),
    );
}

fn draw_edge(plot: &mut PlotUi, runs: &[EdgeRun], mm: f64) {
    for run in runs {
        plot.line(
            Line::new(run.name.clone(), plot_points(&run.corners, mm))
                .color(palette::color32(edge_rgb(run.intended)))
                .width(3.0)
                .allow_hover(false),
        );
    }
}

/// The edge of what is compared with.
fn draw_other_edge(plot: &mut PlotUi, outline: &[[f64; 2]], mm: f64) {
    // On white, so that it is read over every colour of the map.
    let dashes = LineStyle::Dashed { length: 7.0 };
    let ghostly = palette::color32(palette::GHOST);
    for (colour, style, width) in [
        (Color32::WHITE, LineStyle::Solid, 3.0),
        (ghostly, dashes, 2.0),
    ] {
        plot.line(
            Line::new("compared with", plot_points(outline, mm))
                .color(colour)
                .style(style)
                .width(width)
                .allow_hover(false),
        );
    }
}

/// A cross where the truck was measured.
fn draw_measured_position(plot: &mut PlotUi, span: Span, mm: f64) {
    let sizes = [span.rack_mm, span.travel_mm].map(|ends| length_in(ends, mm));
    for way in [-1.0, 1.0] {
        for axis in [0, 1] {
            let mut ends = [[0.0, 0.0]; 2];
            ends[1][axis] = way * 0.02 * f64::from(sizes[axis]);
            plot.line(
                Line::new("measured", PlotPoints::from(ends.to_vec()))
                    .color(palette::color32(palette::INK))
                    .style(LineStyle::Solid)
                    .width(1.0)
                    .allow_hover(false),
            );
        }
    }
}

/// The numbers on the edge.
fn draw_marks(plot: &mut PlotUi, marks: &[EdgeMark], mm: f64) {
    for (number, mark) in marks.iter().enumerate() {
        let at = PlotPoint::new(mark.at[0] / mm, mark.at[1] / mm);
        plot.points(
            Points::new("edge", PlotPoints::from(vec![[at.x, at.y]]))
                .color(palette::color32(edge_rgb(mark.intended)))
                .radius(8.0)
                .allow_hover(false),
        );
        let text = RichText::new((number + 1).to_string())
            .size(11.0)
            .strong()
            .color(Color32::WHITE);
        plot.text(
            Text::new("edge", at, text)
                .anchor(Align2::CENTER_CENTER)
                .allow_hover(false),
        );
    }
}

/// What the numbers on the edge stand for; a click goes there.
fn list_marks(ui: &mut egui::Ui, marks: &[EdgeMark], corner: &Corner, motion: &mut Motion) {
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing.x = 4.0;
        for (number, mark) in marks.iter().enumerate() {
            let colour = palette::color32(edge_rgb(mark.intended));
            ui.label(
                RichText::new(format!(" {} ", number + 1))
                    .strong()
                    .small()
                    .color(Color32::WHITE)
                    .background_color(colour),
            );
            let name = ui.add(
                egui::Label::new(RichText::new(&mark.name).small()).sense(egui::Sense::click()),
            );
            if name.on_hover_text("go to this edge").clicked() {
                motion.play = None;
                motion.go_to(corner, mark.at[1], mark.at[0]);
            }
            ui.add_space(6.0);
        }
    });
}

/// (rack, travel) places, in units of `mm` millimetres.
fn plot_points(places: &[[f64; 2]], mm: f64) -> PlotPoints<'static> {
    places.iter().map(|p| [p[0] / mm, p[1] / mm]).collect()
}

/// Colour of the edge.
fn edge_rgb(intended: bool) -> [u8; 3] {
    if intended {
        palette::INTENDED
    } else {
        palette::BIND
    }
}

/// A numbered mark on the edge.
struct EdgeMark {
    name: String,
    intended: bool,
    /// Rack and travel, mm: the middle of its longest run.
    at: [f64; 2],
    length_mm: f64,
}

/// One mark a stop, on its longest run; locks need none.
fn edge_marks(runs: &[EdgeRun]) -> Vec<EdgeMark> {
    let mut marks: Vec<EdgeMark> = Vec::new();
    for run in runs.iter().filter(|r| r.name != RACK_LOCK) {
        let length_mm = play_path::length_mm(&run.corners);
        let Some(at) = play_path::along(&run.corners, 0.5 * length_mm) else {
            continue;
        };
        match marks.iter_mut().find(|m| m.name == run.name) {
            Some(mark) if mark.length_mm < length_mm => {
                (mark.at, mark.length_mm) = (at, length_mm);
            }
            Some(_) => {}
            None => marks.push(EdgeMark {
                name: run.name.clone(),
                intended: run.intended,
                at,
                length_mm,
            }),
        }
    }
    marks
}

/// What bounds the free region where no stop does: the rack itself.
const RACK_LOCK: &str = "rack lock";
