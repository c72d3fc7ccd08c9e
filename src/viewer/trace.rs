//! What the window shows, written down for a test that drives it from outside: state as JSON lines, with the
//! places of the widgets on screen.

use super::background::Found;
use super::clearance_map::ShownMap;
use super::document::Document;
use super::drive::Drive;
use super::ghost::{Ghost, GhostOf};
use super::keep_out::KeepOutSolid;
use super::motion::Motion;
use super::placing::Placing;
use super::shown::{Page, Shown};
use super::suspension::PartChoice;
use crate::findings::TravelDirection;
use bevy::prelude::*;
use bevy_egui::egui::{Context, Rect};
use egui_plot::{PlotPoint, PlotTransform};
use serde::Serialize;
use std::collections::BTreeMap;
use std::fs::File;
use std::io::Write;

/// A widget whose place is written down.
#[derive(Clone, Debug, PartialEq)]
pub enum Widget {
    /// The travel slider.
    Travel,
    /// The rack slider.
    Rack,
    /// The map's plot.
    Map,
    /// The first stop of a direction in the stop list.
    FirstStop(TravelDirection),
    /// The setup that the truck stands in.
    Setup,
    /// The setup that it is compared with.
    Ghost,
    /// What is driven over.
    Subject,
    /// The button that plays the drive.
    PlayDrive,
    /// The slider along the drive.
    FrontAxle,
    /// The clearance curve's plot.
    Clearance,
    /// A number of the editor or of a part's place, by its path.
    Field(String),
    /// A page's name in the left panel.
    Page(Page),
    /// A moving part that the keep-out solid may be made of.
    KeepOutPart(String),
    /// The button that makes it.
    MakeKeepOut,
    /// The button that adds a part that was loaded.
    AddPart,
    /// The switch of the clearance map.
    ClearanceMap,
    /// A patch in its list.
    Patch(usize),
}

impl Widget {
    fn key(&self) -> String {
        match self {
            Widget::Travel => "travel".to_owned(),
            Widget::Rack => "rack".to_owned(),
            Widget::Map => "map".to_owned(),
            Widget::FirstStop(TravelDirection::Droop) => "first droop stop".to_owned(),
            Widget::FirstStop(TravelDirection::Bump) => "first bump stop".to_owned(),
            Widget::Setup => "setup".to_owned(),
            Widget::Ghost => "compare with".to_owned(),
            Widget::Subject => "drive over".to_owned(),
            Widget::PlayDrive => "play drive".to_owned(),
            Widget::FrontAxle => "front axle".to_owned(),
            Widget::Clearance => "clearance".to_owned(),
            Widget::Field(path) => path.clone(),
            Widget::Page(page) => format!("page {}", page.name()),
            Widget::KeepOutPart(name) => format!("keep out {name}"),
            Widget::MakeKeepOut => "make keep-out".to_owned(),
            Widget::AddPart => "add part".to_owned(),
            Widget::ClearanceMap => "clearance map".to_owned(),
            Widget::Patch(n) => format!("patch {}", n + 1),
        }
    }
}

/// Where the state is written, if anywhere.
#[derive(Resource, Default)]
pub struct Trace {
    file: Option<File>,
    widgets: BTreeMap<String, [f32; 4]>,
    map: Option<MapPlace>,
    last: String,
}

/// Pixels of the map: where rack and travel are zero, and pixels a millimetre right and up.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
struct MapPlace {
    zero: [f32; 2],
    right: f32,
    up: f32,
}

#[derive(Serialize)]
struct State<'a> {
    travel_mm: f64,
    rack_mm: f64,
    playing: bool,
    generation: u64,
    page: &'static str,
    picked: Option<&'a str>,
    /// The setup that the truck shown stands in.
    setup: Option<&'a str>,
    /// What it is compared with, and how many parts differ.
    ghost: Option<&'a str>,
    differing: usize,
    problem: Option<&'a str>,
    /// What the picture shows, where the front axle is, whether it drives, and what hit first.
    subject: &'a str,
    front_axle_mm: f64,
    driving: bool,
    ends_mm: [f64; 2],
    driven: bool,
    hits_first: Option<&'a str>,
    map: bool,
    gaps_at: Option<[f64; 2]>,
    swept: bool,
    /// Left, top, right, bottom, pixels of the window.
    widgets: &'a BTreeMap<String, [f32; 4]>,
    map_place: Option<MapPlace>,
    /// Litres of the keep-out solid, if there is one.
    keep_out_litres: Option<f64>,
    /// Whether the pointer is on a handle of the picked part.
    on_handle: bool,
    /// The part whose clearance map is shown.
    mapped: Option<&'a str>,
    /// The gap that is told under the pointer, mm.
    probed_mm: Option<f64>,
}

impl Trace {
    /// Writes to a file.
    pub fn to(file: File) -> Trace {
        Trace {
            file: Some(file),
            ..Trace::default()
        }
    }

    /// Notes a widget's place.
    pub fn widget(&mut self, widget: Widget, rect: Rect, context: &Context) {
        if self.file.is_some() {
            let p = context.pixels_per_point();
            let place = [rect.min.x, rect.min.y, rect.max.x, rect.max.y].map(|v| v * p);
            self.widgets.insert(widget.key(), place);
        }
    }

    /// Notes the map's scale; `mm` is how many millimetres one of its units is.
    pub fn map(&mut self, transform: &PlotTransform, mm: f64, context: &Context) {
        if self.file.is_some() {
            let p = context.pixels_per_point();
            let zero = transform.position_from_point(&PlotPoint::new(0.0, 0.0));
            let one = transform.position_from_point(&PlotPoint::new(1.0 / mm, 1.0 / mm));
            self.map = Some(MapPlace {
                zero: [zero.x * p, zero.y * p],
                right: (one.x - zero.x) * p,
                up: (zero.y - one.y) * p,
            });
        }
    }
}

/// Writes the state when it changes.
pub struct TracePlugin;

impl Plugin for TracePlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<Trace>()
            .init_resource::<Placing>()
            .init_resource::<ShownMap>()
            .add_systems(Last, write);
    }
}

fn write(
    mut trace: ResMut<Trace>,
    motion: Res<Motion>,
    document: Res<Document>,
    found: Res<Found>,
    shown: Res<Shown>,
    choice: Res<PartChoice>,
    ghost: Res<Ghost>,
    drive: Res<Drive>,
    keep_out: Res<KeepOutSolid>,
    placing: Res<Placing>,
    map: Res<ShownMap>,
) {
    if trace.file.is_none() {
        return;
    }
    let state = State {
        travel_mm: motion.travel_mm(),
        rack_mm: motion.rack_mm(),
        playing: motion.play.is_some(),
        generation: document.generation(),
        page: shown.page.name(),
        picked: choice.picked.as_deref(),
        setup: document.truck().setup.as_deref(),
        ghost: ghost.of().map(GhostOf::name),
        differing: ghost.differing().count(),
        problem: document.problem(),
        subject: drive.subject().name(),
        front_axle_mm: drive.front_axle_mm(),
        driving: drive.playing,
        ends_mm: drive.ends(),
        driven: drive.found().is_some() && !drive.is_outdated(&document),
        hits_first: drive
            .found()
            .and_then(|f| f.contacts.first())
            .map(|c| c.part.as_str()),
        map: found.map.is_some(),
        gaps_at: found.position.as_ref().map(|p| [p.travel_mm, p.rack_mm]),
        swept: found.sweep.is_some() && !found.sweeping,
        widgets: &trace.widgets,
        map_place: trace.map,
        keep_out_litres: keep_out.made().map(|made| made.solid.volume_mm3 * 1.0e-6),
        on_handle: placing.under_pointer.is_some(),
        mapped: map
            .current(&document, &placing)
            .map(|made| made.map.part.as_str()),
        probed_mm: map.probed.as_ref().map(|p| p.spot.gap_mm),
    };
    let Ok(line) = serde_json::to_string(&state) else {
        return;
    };
    if line != trace.last {
        if let Some(file) = &mut trace.file {
            // A full disk ends the trace, not the viewer.
            let _ = writeln!(file, "{line}");
        }
        trace.last = line;
    }
}
