//! The clearance map read off: what comes near under the pointer, and the tightest places marked in the picture. A click
//! on the map, or on a patch in the list, takes the suspension there.

use super::clearance_map::{MadeMap, MapColoured, Marked, Probed, ShownMap, body, position_words};
use super::document::Document;
use super::drive::suspension_is_shown;
use super::frame;
use super::labels::{Label, Labels, OverPicture};
use super::look::{Look, OverLines};
use super::motion::{Motion, MotionSet};
use super::palette;
use super::panels::PictureArea;
use super::placing::Placing;
use super::pointer::{Pointed, PointerRead};
use super::shown::{Page, Shown};
use crate::findings::TightPatch;
use crate::output::clearance_colours::{TOUCHING, UNDER_GAP};
use crate::output::{Units, clearance_verdict, patch_state};
use crate::suspension::Side;
use crate::truck::touches;
use bevy::prelude::*;
use bevy_egui::egui::{self, RichText};
use bevy_egui::{EguiContexts, EguiPrimaryContextPass};

/// Marks the tightest places.
pub struct ClearanceMarksPlugin;

impl Plugin for ClearanceMarksPlugin {
    fn build(&self, app: &mut App) {
        app.add_systems(
            Update,
            mark.after(MotionSet)
                .after(MapColoured)
                .run_if(suspension_is_shown.and_then(|look: Res<Look>| look.marks)),
        );
    }
}

/// Reads the map off under the pointer; for a window.
pub struct ClearanceProbePlugin;

impl Plugin for ClearanceProbePlugin {
    fn build(&self, app: &mut App) {
        app.add_systems(
            Update,
            probe
                .after(PointerRead)
                .after(MapColoured)
                .run_if(suspension_is_shown),
        )
        .add_systems(
            EguiPrimaryContextPass,
            tell.in_set(OverPicture).run_if(suspension_is_shown),
        );
    }
}

fn probe(
    document: Res<Document>,
    placing: Res<Placing>,
    pointed: Res<Pointed>,
    mut shown: ResMut<Shown>,
    mut motion: ResMut<Motion>,
    mut map: ResMut<ShownMap>,
) {
    let found = map
        .current(&document, &placing)
        .cloned()
        .and_then(|made| probed(&made, &document, &motion, &pointed).map(|p| (made, p)));
    if let Some((made, probed)) = &found
        && pointed.clicked
        && shown.page == Page::Room
        && placing.under_pointer.is_none()
        && placing.held().is_none()
        && let Some(to) = &probed.to
    {
        let text = probed.words(made, shown.units)[0].clone();
        map.marked = Some(Marked {
            at: probed.at,
            text,
        });
        let spot = probed.spot;
        go_to(
            [spot.travel_mm, spot.rack_mm],
            to.side,
            &document,
            &mut motion,
            &mut shown,
        );
    }
    let probed = found.map(|(_, probed)| probed);
    // A look alone is no change.
    if map.probed != probed {
        map.probed = probed;
    }
}

fn probed(
    made: &MadeMap,
    document: &Document,
    motion: &Motion,
    pointed: &Pointed,
) -> Option<Probed> {
    let hit = pointed.hit?;
    let part = document.corner().parts.get(hit.part)?;
    if part.name != made.map.part {
        return None;
    }
    let placement = motion.position().linkage.placement(body(made).motion());
    let at = placement.point_in_body(&frame::vehicle(hit.at));
    made.probe(document.truck(), hit.triangle?, at)
}

/// Goes where something comes near. Only the corner looked at is drawn: a note says so where it is the other one's wheel.
fn go_to(
    [travel_mm, rack_mm]: [f64; 2],
    side: Side,
    document: &Document,
    motion: &mut Motion,
    shown: &mut Shown,
) {
    motion.play = None;
    motion.go_to(document.corner(), travel_mm, rack_mm);
    shown.note = (side != document.corner().side).then(|| {
        format!(
            "It is the {} wheel that comes near there; drawn is the {} one.",
            side.name(),
            document.corner().side.name()
        )
    });
}

/// Goes to where a patch is tightest, and marks the place.
pub fn go_to_patch(
    patch: &TightPatch,
    document: &Document,
    map: &mut ShownMap,
    motion: &mut Motion,
    shown: &mut Shown,
) {
    let spot = &patch.tightest;
    map.marked = Some(Marked {
        at: frame::vector(spot.at_mm),
        text: patch_words(patch, shown.units),
    });
    go_to(
        [spot.travel_mm, spot.rack_mm],
        spot.side,
        document,
        motion,
        shown,
    );
}

/// How near, to what, in a line.
pub fn patch_words(patch: &TightPatch, units: Units) -> String {
    let spot = &patch.tightest;
    let name = format!("the {} ({})", spot.to, spot.side.name());
    if touches(spot.gap_mm) {
        return format!("TOUCHED by {name}");
    }
    let gap = units.at_most_with_unit(spot.gap_mm);
    match patch_state(patch) {
        // Touched elsewhere in the patch: nothing there says how deep.
        state @ ("TOUCHED" | "SHORT") => format!("{state}: {gap} from {name}"),
        _ => format!("{gap} from {name}"),
    }
}

/// How far the surface must recede in a patch; nothing where no gap is missing.
pub fn patch_cut(patch: &TightPatch, units: Units) -> String {
    let least = if patch.cut_is_at_least {
        "at least "
    } else {
        ""
    };
    if patch.violated {
        let cut = units.at_least(patch.cut_mm);
        format!("cut {least}{cut} {}, ", units.name())
    } else {
        String::new()
    }
}

/// The patches that are marked, in a picture that has no list beside it.
pub fn picture_legend(ui: &mut egui::Ui, map: &ShownMap, units: Units, font: &egui::FontId) {
    let Some(made) = map.made() else {
        return;
    };
    let ink = palette::color32(palette::INK);
    let line = |text: String| RichText::new(text).font(font.clone()).color(ink);
    let text = format!("{}: {}", made.map.part, clearance_verdict(&made.findings));
    ui.label(line(text).strong());
    for (n, patch) in marked_patches(made) {
        ui.label(line(format!(
            "{}  {}, {}{}",
            n + 1,
            patch_words(patch, units),
            patch_cut(patch, units),
            patch_position(patch, units),
        )));
    }
}

/// When.
pub fn patch_position(patch: &TightPatch, units: Units) -> String {
    let spot = &patch.tightest;
    position_words(spot.travel_mm, spot.rack_mm, Some(spot.steer_deg), units)
}

/// Patches marked in the picture: those whose required gap is missing, or the one with the least room.
const MOST_MARKED: usize = 3;

fn marked_patches(made: &MadeMap) -> impl Iterator<Item = (usize, &TightPatch)> {
    let patches = made.findings.patches.iter().enumerate();
    let tight = patches.filter(|(n, patch)| *n == 0 || patch.violated);
    tight.take(MOST_MARKED)
}

fn mark(
    map: Res<ShownMap>,
    document: Res<Document>,
    placing: Res<Placing>,
    motion: Res<Motion>,
    mut gizmos: Gizmos<OverLines>,
    mut labels: ResMut<Labels>,
) {
    let Some(made) = map.current(&document, &placing) else {
        return;
    };
    let placement = motion.position().linkage.placement(body(made).motion());
    let world = |at| frame::world(&placement.point(&at));
    for (n, patch) in marked_patches(made) {
        let at = frame::vector(patch.tightest.at_mm);
        // The place gone to is marked below.
        if map.marked.as_ref().is_some_and(|m| m.at == at) {
            continue;
        }
        let rgb = if patch.touched {
            TOUCHING
        } else if patch.violated {
            UNDER_GAP
        } else {
            palette::INK
        };
        let at = world(at);
        gizmos
            .sphere(at, 0.0025, palette::color(palette::INK))
            .resolution(8);
        labels.0.push(Label {
            at,
            text: format!("{}", n + 1),
            rgb,
            weight: 7 - n as u8,
        });
    }
    if let Some(marked) = &map.marked {
        let at = world(marked.at);
        let colour = palette::color(palette::HERE);
        gizmos.sphere(at, 0.004, colour).resolution(12);
        gizmos.cross(at, 0.012, colour);
        labels.0.push(Label {
            at,
            text: marked.text.clone(),
            rgb: palette::HERE,
            weight: 9,
        });
    }
}

/// From the pointer to what is said, points.
const BESIDE: egui::Vec2 = egui::vec2(16.0, 14.0);

/// Says beside the pointer what comes near there.
fn tell(
    mut contexts: EguiContexts,
    map: Res<ShownMap>,
    document: Res<Document>,
    placing: Res<Placing>,
    area: Res<PictureArea>,
    shown: Res<Shown>,
) -> Result {
    let context = contexts.ctx_mut()?;
    let (Some(made), Some(probed), Some(pointer)) = (
        map.current(&document, &placing),
        &map.probed,
        context.input(|i| i.pointer.hover_pos()),
    ) else {
        return Ok(());
    };
    egui::Area::new(egui::Id::new("clearance probe"))
        .order(egui::Order::Tooltip)
        .fixed_pos(pointer + BESIDE)
        .constrain_to(area.0)
        .interactable(false)
        .show(context, |ui| {
            egui::Frame::popup(ui.style()).show(ui, |ui| {
                // One line each: a tooltip that wraps by the window's edge jumps.
                ui.style_mut().wrap_mode = Some(egui::TextWrapMode::Extend);
                for (n, line) in probed.words(made, shown.units).into_iter().enumerate() {
                    let text = RichText::new(line);
                    ui.label(if n == 0 { text.strong() } else { text });
                }
            });
        });
    Ok(())
}
