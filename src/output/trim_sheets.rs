//! Trim marks laid out flat, at full size, side by side; and as an SVG drawing.

use super::replace_file;
use crate::numbers::Toward;
use crate::space::{ClearanceMap, Outline, Sheet, TrimMark};
use nalgebra::Vector3;
use std::fmt::Write as _;
use std::io;
use std::path::Path;

/// The scale bar, mm.
pub(super) const BAR_MM: f64 = 100.0;
/// Height of letters, mm.
pub(super) const TEXT_MM: f64 = 4.0;
/// From one line of text to the next, mm.
const LINE_MM: f64 = 6.5;
/// Between sheets and around them, mm.
const MARGIN_MM: f64 = 20.0;
/// Width of a letter for its height, so that notes don't run into the next sheet.
const LETTER: f64 = 0.62;
/// A sheet whose outlines lie further off it than this says so, mm.
const FLAT_MM: f64 = 0.5;

/// A polyline as drawn, mm.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct FlatLine {
    pub(super) points: Vec<[f64; 2]>,
    pub(super) closed: bool,
}

/// One sheet as drawn: y upward.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct FlatSheet {
    pub(super) outlines: Vec<FlatLine>,
    pub(super) waste: Vec<FlatLine>,
    pub(super) part_edges: Vec<FlatLine>,
    pub(super) notes: Vec<String>,
    pub(super) bar_at: [f64; 2],
}

impl FlatSheet {
    /// Where a line of text starts: below the bar.
    pub(super) fn note_at(&self, line: usize) -> [f64; 2] {
        let [x, y] = self.bar_at;
        [x, y - LINE_MM * (line + 1) as f64]
    }
}

/// All sheets.
#[derive(Clone, Debug, PartialEq)]
pub struct Layout {
    pub(super) sheets: Vec<FlatSheet>,
    /// Width and height, mm: from (0, 0).
    size: [f64; 2],
}

/// The vehicle direction nearest to one.
fn named(d: &Vector3<f64>) -> &'static str {
    let names = [["rearward", "forward"], ["right", "left"], ["down", "up"]];
    let axis = d.iamax();
    names[axis][usize::from(d[axis] > 0.0)]
}

impl Layout {
    /// Lays out the marks of a map.
    pub fn new(truck: &str, map: &ClearanceMap, marks: &[TrimMark]) -> Layout {
        let mut x = MARGIN_MM;
        let mut height: f64 = 0.0;
        let mut sheets = Vec::new();
        for (n, mark) in marks.iter().enumerate() {
            let flat = |lines: &[Outline], sheet: &Sheet| -> Vec<FlatLine> {
                let flat = |o: &Outline| FlatLine {
                    points: o.points.iter().map(|p| sheet.flat(p)).collect(),
                    closed: o.closed,
                };
                lines.iter().map(flat).collect()
            };
            let mut outlines = flat(&mark.outlines, &mark.sheet);
            let stroke = |ends: &[Vector3<f64>; 2]| FlatLine {
                points: ends.iter().map(|p| mark.sheet.flat(p)).collect(),
                closed: false,
            };
            let mut waste: Vec<FlatLine> = mark.waste.iter().map(stroke).collect();
            let mut part_edges = flat(&mark.part_edges, &mark.sheet);
            let notes = notes(truck, map, mark, n, marks.len());
            let below = LINE_MM * (notes.len() + 1) as f64 + MARGIN_MM;
            let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
            let drawn = outlines.iter().chain(&waste).chain(&part_edges);
            for p in drawn.flat_map(|l| &l.points) {
                for i in 0..2 {
                    low[i] = low[i].min(p[i]);
                    high[i] = high[i].max(p[i]);
                }
            }
            for p in outlines
                .iter_mut()
                .chain(&mut waste)
                .chain(&mut part_edges)
                .flat_map(|l| &mut l.points)
            {
                *p = [p[0] - low[0] + x, p[1] - low[1] + below];
            }
            let letters = notes.iter().map(|n| n.chars().count()).max().unwrap_or(0);
            let words = letters as f64 * LETTER * TEXT_MM;
            sheets.push(FlatSheet {
                outlines,
                waste,
                part_edges,
                notes,
                bar_at: [x, below - LINE_MM],
            });
            x += (high[0] - low[0]).max(words).max(BAR_MM) + MARGIN_MM;
            height = height.max(below + high[1] - low[1] + MARGIN_MM);
        }
        if sheets.is_empty() {
            // A drawing without height can't be opened, and an empty sheet leaves open whether something went wrong.
            let notes = vec![format!(
                "{truck}: {}, nothing to cut: every required gap is kept",
                map.part
            )];
            let words = notes[0].chars().count() as f64 * LETTER * TEXT_MM;
            let bar_at = [MARGIN_MM, MARGIN_MM + LINE_MM];
            x += words.max(BAR_MM) + MARGIN_MM;
            height = bar_at[1] + MARGIN_MM;
            sheets.push(FlatSheet {
                outlines: Vec::new(),
                waste: Vec::new(),
                part_edges: Vec::new(),
                notes,
                bar_at,
            });
        }
        Layout {
            sheets,
            size: [x, height],
        }
    }
}

fn notes(truck: &str, map: &ClearanceMap, mark: &TrimMark, n: usize, of: usize) -> Vec<String> {
    let sheet = &mark.sheet;
    let m = sheet.origin;
    let mut notes = vec![
        format!(
            "{truck}: {}, patch {}, sheet {} of {of}",
            map.part,
            mark.patch + 1,
            n + 1
        ),
        format!(
            "bar: {BAR_MM} mm; full size; cut along the red line, strokes point into what goes"
        ),
        format!(
            "square to this sheet, {}; one sheet of a patch is enough",
            match (mark.is_through, mark.depth_is_at_least) {
                (true, _) => "right through".to_owned(),
                (false, true) =>
                    format!("at least {:.1} mm deep from it", rounded_up(mark.depth_mm)),
                (false, false) => format!("{:.1} mm deep from it", rounded_up(mark.depth_mm)),
            }
        ),
        format!(
            "seen from outside, from {}: up is {}, right is {}",
            match named(&sheet.out) {
                "up" => "above",
                "down" => "below",
                "forward" => "the front",
                "rearward" => "the rear",
                side => side,
            },
            named(&sheet.up),
            named(&sheet.right)
        ),
        format!("middle at x {:.1}, y {:.1}, z {:.1} mm", m.x, m.y, m.z),
    ];
    if mark.off_plane_mm > FLAT_MM {
        let off = mark.off_plane_mm;
        notes.push(format!(
            "NOT FLAT: the part lies up to {} mm off this sheet where it is too near",
            Toward::More.decimals(off, 1)
        ));
    }
    notes
}

/// A depth as printed, to a tenth: never less than it is.
fn rounded_up(depth_mm: f64) -> f64 {
    (depth_mm * 10.0).ceil() / 10.0
}

/// Writes the sheets as a drawing in mm.
///
/// # Errors
/// Whatever the file system answers; nothing is left half-written.
pub fn write_svg(path: &Path, layout: &Layout) -> io::Result<()> {
    let text = svg(layout);
    replace_file(path, |unfinished| std::fs::write(unfinished, text))
}

fn svg(layout: &Layout) -> String {
    let [width, height] = layout.size;
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width:.3}mm\" height=\"{height:.3}mm\" \
         viewBox=\"0 0 {width:.3} {height:.3}\">\n\
         <rect width=\"100%\" height=\"100%\" fill=\"white\"/>\n"
    );
    // The drawing's y points down.
    let down = |y: f64| height - y;
    for sheet in &layout.sheets {
        let lines = [
            ("part-edge", "#969696", 0.25, &sheet.part_edges),
            ("trim", "#d55e00", 0.35, &sheet.outlines),
            ("waste", "#d55e00", 0.25, &sheet.waste),
        ];
        for (class, colour, width, polylines) in lines {
            for line in polylines {
                let points: Vec<String> = line
                    .points
                    .iter()
                    .map(|[x, y]| format!("{x:.3},{:.3}", down(*y)))
                    .collect();
                let kind = if line.closed { "polygon" } else { "polyline" };
                let _ = writeln!(
                    out,
                    "<{kind} class=\"{class}\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"{width}\" points=\"{}\"/>",
                    points.join(" ")
                );
            }
        }
        let [x, y] = sheet.bar_at;
        let (end, y) = (x + BAR_MM, down(y));
        let _ = writeln!(
            out,
            "<path class=\"scale-bar\" fill=\"none\" stroke=\"black\" stroke-width=\"0.5\" \
             d=\"M{x:.3},{:.3}V{:.3}M{x:.3},{y:.3}H{end:.3}M{end:.3},{:.3}V{:.3}\"/>",
            y - 2.0,
            y + 2.0,
            y - 2.0,
            y + 2.0
        );
        for (i, words) in sheet.notes.iter().enumerate() {
            let [x, y] = sheet.note_at(i);
            let _ = writeln!(
                out,
                "<text x=\"{x:.3}\" y=\"{:.3}\" font-family=\"sans-serif\" font-size=\"{TEXT_MM}\">{}</text>",
                down(y),
                escaped(words)
            );
        }
    }
    out.push_str("</svg>\n");
    out
}

fn escaped(words: &str) -> String {
    let words = words
        .replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;");
    words.replace(|c: char| c.is_control(), " ")
}
