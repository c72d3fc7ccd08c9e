//! The scene's numbers: drag or type one, and everything follows; undo, redo, save as.

use super::document::{Document, SaveError};
use super::file_dialog::OpenDialog;
use super::shown::Shown;
use super::trace::{Trace, Widget};
use crate::output::Units;
use crate::scene::{NumberField, number_fields, string_fields};
use bevy::prelude::*;
use bevy_egui::egui::{CollapsingHeader, DragValue, RichText, TextEdit, Ui};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Where to save.
#[derive(Resource, Default)]
pub struct Saving {
    /// The file's path as typed.
    pub path: String,
    /// Set where a file of that name exists: asks before it is replaced.
    pub asks: Option<PathBuf>,
    /// The system's file dialog, while it is open.
    dialog: Option<OpenDialog>,
    /// The fields of a text, kept until it changes.
    fields: Option<(String, Vec<Row>)>,
}

/// Numbers of one field: a plain one, or the three of a point.
#[derive(Clone, Debug, PartialEq)]
struct Row {
    group: String,
    name: String,
    is_angle: bool,
    fields: Vec<NumberField>,
}

/// Words for the groups of the file.
const GROUPS: [(&str, &str); 16] = [
    ("lower_arm", "Lower control arm"),
    ("upper_arm", "Upper control arm"),
    ("knuckle", "Knuckle and wheel"),
    ("rack", "Rack"),
    ("damper", "Damper"),
    ("halfshaft", "Halfshaft"),
    ("differential", "Differential"),
    ("front_driveshaft", "Front driveshaft"),
    ("ball_joints", "Ball joints"),
    ("hoses", "Hoses"),
    ("parts", "Parts"),
    ("watch", "Watched gaps"),
    ("search", "Search"),
    ("ride_height", "Ride height"),
    ("other_side", "Other side"),
    ("setups", "Setups"),
];

/// Splits a path at its first name: `lower_arm.ball_joint[2]` into `lower_arm` and `ball_joint[2]`.
fn split(path: &str) -> (&str, &str) {
    match path.find(['.', '[']) {
        Some(at) => (&path[..at], path[at..].trim_start_matches('.')),
        None => (path, ""),
    }
}

/// Rows by group, points gathered.
fn rows(text: &str) -> Vec<Row> {
    let strings = string_fields(text);
    let mut out: Vec<Row> = Vec::new();
    for field in number_fields(text) {
        let (group, rest) = split(&field.path);
        // `parts[3].shape.radius` goes under the part's own name.
        let (group, rest) = match rest.strip_prefix('[').and_then(|r| r.split_once(']')) {
            Some((number, rest)) => {
                let entry = format!("{group}[{number}]");
                let title = ["name", "a"]
                    .iter()
                    .find_map(|key| strings.get(&format!("{entry}.{key}")).cloned())
                    .unwrap_or_else(|| number.to_owned());
                let with = strings
                    .get(&format!("{entry}.b"))
                    .map(|b| format!(" - {b}"))
                    .unwrap_or_default();
                (
                    format!("{group}/{title}{with}"),
                    rest.trim_start_matches('.'),
                )
            }
            None => (group.to_owned(), rest),
        };
        // The last number of a point's path is its axis.
        let name = rest
            .strip_suffix(']')
            .and_then(|r| r.rsplit_once('['))
            .map_or(rest, |(name, _)| name)
            .replace('_', " ")
            .replace('.', ", ");
        // The degree sign stands beside the number.
        let name = name.strip_suffix(" deg").unwrap_or(&name).to_owned();
        let is_angle = field.path.ends_with("_deg") || field.path.contains("_deg[");
        let same_point = field.path.ends_with(']')
            && out.last().is_some_and(|row| {
                row.group == group
                    && row.name == name
                    && row.fields.len() < 3
                    && row.fields[0].path.ends_with(']')
                    && parent(&row.fields[0].path) == parent(&field.path)
            });
        if same_point && let Some(row) = out.last_mut() {
            row.fields.push(field);
        } else {
            out.push(Row {
                group,
                name,
                is_angle,
                fields: vec![field],
            });
        }
    }
    out
}

/// A path as a person says it: `lower_arm.ball_joint[1]` is "lower arm, ball joint y".
pub fn readable(path: &str) -> String {
    let words = path.replace('_', " ").replace('.', ", ");
    for (number, axis) in [("[0]", " x"), ("[1]", " y"), ("[2]", " z")] {
        if let Some(point) = words.strip_suffix(number) {
            return format!("{point}{axis}");
        }
    }
    words
}

fn parent(path: &str) -> &str {
    path.rsplit_once('[').map_or(path, |(parent, _)| parent)
}

/// Shows every number of the scene.
pub fn show(
    ui: &mut Ui,
    document: &mut Document,
    saving: &mut Saving,
    shown: &mut Shown,
    trace: &mut Trace,
) {
    save_row(ui, document, saving, shown);
    let unit_mm = document.truck().scene_unit.in_mm();
    let unit = Units::of_scene(document.truck().scene_unit).long_name();
    ui.label(
        RichText::new(format!(
            "Lengths in {unit} as the file has them, angles in degrees. Drag a number to change it, \
             click to type."
        ))
        .small(),
    );
    if saving
        .fields
        .as_ref()
        .is_none_or(|(text, _)| text != document.text())
    {
        saving.fields = Some((document.text().to_owned(), rows(document.text())));
    }
    let Some((_, rows)) = &saving.fields else {
        return;
    };
    let mut groups: BTreeMap<usize, Vec<&Row>> = BTreeMap::new();
    for row in rows {
        let group = row.group.split('/').next().unwrap_or("");
        let order = GROUPS
            .iter()
            .position(|(key, _)| *key == group)
            .unwrap_or(GROUPS.len());
        groups.entry(order).or_default().push(row);
    }
    let mut change = None;
    let mut ended = false;
    for (order, rows) in groups {
        let title = GROUPS.get(order).map_or("Other", |(_, title)| title);
        CollapsingHeader::new(title)
            .default_open(order == 0)
            .show(ui, |ui| {
                let mut entries: Vec<(&str, Vec<&Row>)> = Vec::new();
                for row in rows {
                    let entry = row.group.split_once('/').map_or("", |(_, entry)| entry);
                    match entries.last_mut() {
                        Some((last, list)) if *last == entry => list.push(row),
                        _ => entries.push((entry, vec![row])),
                    }
                }
                for (number, (entry, rows)) in entries.into_iter().enumerate() {
                    let list = |ui: &mut Ui| {
                        for row in rows {
                            one_row(ui, row, &mut change, &mut ended, unit_mm, trace);
                        }
                    };
                    if entry.is_empty() {
                        list(ui);
                    } else {
                        CollapsingHeader::new(entry)
                            .id_salt((title, number))
                            .show(ui, list);
                    }
                }
            });
    }
    if let Some((path, value)) = change {
        shown.note = None;
        document.change_number(&path, value);
    }
    if ended {
        document.end_change();
    }
}

fn one_row(
    ui: &mut Ui,
    row: &Row,
    change: &mut Option<(String, f64)>,
    ended: &mut bool,
    unit_mm: f64,
    trace: &mut Trace,
) {
    ui.horizontal(|ui| {
        let axes = ["x ", "y ", "z "];
        let point = row.fields.len() == 3;
        for (i, field) in row.fields.iter().enumerate() {
            let mut value = field.value;
            // A pixel is a tenth of a millimetre, or of a degree.
            let drag = DragValue::new(&mut value)
                .speed(if row.is_angle { 0.1 } else { 0.1 / unit_mm })
                .max_decimals(6)
                .update_while_editing(false)
                .prefix(if point { axes[i] } else { "" })
                .suffix(if row.is_angle { "\u{b0}" } else { "" });
            let response = ui.add(drag).on_hover_text(readable(&field.path));
            trace.widget(Widget::Field(field.path.clone()), response.rect, ui.ctx());
            // The widget rounds what it shows: only what a person did is a change.
            let touched = response.dragged() || response.has_focus() || response.lost_focus();
            let moved = (value - field.value).abs() > 0.5e-6;
            if touched && response.changed() && moved {
                *change = Some((field.path.clone(), value));
            }
            if response.drag_stopped() {
                // The keyboard moves the suspension again.
                response.surrender_focus();
            }
            *ended |= response.drag_stopped() || response.lost_focus();
        }
        ui.label(if row.name.is_empty() {
            "value"
        } else {
            &row.name
        });
    });
}

fn save_row(ui: &mut Ui, document: &mut Document, saving: &mut Saving, shown: &mut Shown) {
    let [can_undo, can_redo] = document.can_undo_redo();
    ui.horizontal(|ui| {
        if ui
            .add_enabled(can_undo, bevy_egui::egui::Button::new("Undo"))
            .clicked()
        {
            let path = document.undo();
            shown.note = path.map(|p| format!("taken back: {}", readable(&p)));
        }
        if ui
            .add_enabled(can_redo, bevy_egui::egui::Button::new("Redo"))
            .clicked()
        {
            let path = document.redo();
            shown.note = path.map(|p| format!("made again: {}", readable(&p)));
        }
        if ui.button("Choose a file...").clicked() && saving.dialog.is_none() {
            let name = proposed(document.path());
            saving.dialog = Some(OpenDialog::beside(document.path(), move |dialog| {
                let dialog = dialog.add_filter("scene", &["ron"]);
                let name = name.file_name().unwrap_or_default().to_string_lossy();
                dialog.set_file_name(name).save_file()
            }));
        }
    });
    if let Some(answer) = saving.dialog.as_ref().and_then(OpenDialog::answer) {
        saving.dialog = None;
        if let Some(path) = answer {
            saving.path = path.display().to_string();
        }
    }
    if saving.path.is_empty() {
        saving.path = proposed(document.path()).display().to_string();
    }
    ui.horizontal(|ui| {
        if ui.button("Save as").clicked() {
            save(document, saving, shown, false);
        }
        ui.add(TextEdit::singleline(&mut saving.path).desired_width(f32::INFINITY));
    });
    if let Some(path) = saving.asks.clone() {
        ui.horizontal_wrapped(|ui| {
            ui.label(format!("{} exists. Replace it?", path.display()));
            if ui.button("Replace").clicked() {
                save(document, saving, shown, true);
            }
            if ui.button("Keep it").clicked() {
                saving.asks = None;
            }
        });
    }
    ui.separator();
}

fn save(document: &mut Document, saving: &mut Saving, shown: &mut Shown, replace: bool) {
    let path = match (replace, saving.asks.take()) {
        (true, Some(path)) => path,
        _ => PathBuf::from(saving.path.trim()),
    };
    match document.save_as(&path, replace) {
        Ok(()) => {
            shown.note = Some(format!("saved {}", document.path().display()));
            saving.path = document.path().display().to_string();
        }
        Err(SaveError::Exists(path)) => saving.asks = Some(path),
        Err(error) => shown.note = Some(error.to_string()),
    }
}

/// A name beside the open file that no file has yet.
fn proposed(open: &Path) -> PathBuf {
    let stem = open
        .file_stem()
        .map_or_else(|| "scene".to_owned(), |s| s.to_string_lossy().into_owned());
    (1..)
        .map(|i| open.with_file_name(format!("{stem}_changed{i}.ron")))
        .find(|path| !path.exists())
        .unwrap_or_else(|| open.with_extension("changed.ron"))
}

#[cfg(test)]
mod tests {
    use super::rows;

    #[test]
    fn points_take_one_row_and_parts_go_by_their_names() {
        let text = "(lower_arm: (ball_joint: (1, 2, 3), droop_stop_deg: 20), \
                    parts: [(name: \"rail\", shape: Capsule(from: (0, 0, 0), to: (1, 1, 1), radius: 7))], \
                    watch: [(a: \"x\", b: \"*\", gap: 3)])";
        let found: Vec<_> = rows(text)
            .into_iter()
            .map(|r| (r.group, r.name, r.fields.len(), r.is_angle))
            .collect();
        let row = |g: &str, n: &str, c, a| (g.to_owned(), n.to_owned(), c, a);
        assert_eq!(
            found,
            [
                row("lower_arm", "ball joint", 3, false),
                row("lower_arm", "droop stop", 1, true),
                row("parts/rail", "shape, from", 3, false),
                row("parts/rail", "shape, to", 3, false),
                row("parts/rail", "shape, radius", 1, false),
                row("watch/x - *", "gap", 1, false),
            ]
        );
    }
}
