//! Trim marks as a DXF file: every sheet flat and at full size, side by side, in mm (release 12, the plain text kind that
//! every program reads; it has no field for the unit, which a comment and the scale bar give).
//!
//! Source: Autodesk, "DXF Reference", release 12 (group codes of POLYLINE, VERTEX, LINE and TEXT; from memory).

use super::replace_file;
use super::trim_sheets::{BAR_MM, Layout, TEXT_MM};
use std::fmt::Write as _;
use std::io;
use std::path::Path;

/// Layers with their colours (the format's numbers: 1 red, 8 grey, 7 black or white).
const LAYERS: [(&str, i32); 4] = [("TRIM", 1), ("WASTE", 1), ("PART_EDGE", 8), ("NOTES", 7)];

/// Writes the sheets.
///
/// # Errors
/// Whatever the file system answers; nothing is left half-written.
pub fn write_dxf(path: &Path, layout: &Layout) -> io::Result<()> {
    let text = text(layout);
    replace_file(path, |unfinished| std::fs::write(unfinished, text))
}

fn text(layout: &Layout) -> String {
    let mut out = String::new();
    let mut put = |code: i32, value: &dyn std::fmt::Display| {
        let _ = writeln!(out, "{code:>3}\n{value}");
    };
    put(999, &"millimetres, full size");
    put(0, &"SECTION");
    put(2, &"HEADER");
    put(9, &"$ACADVER");
    put(1, &"AC1009");
    put(0, &"ENDSEC");
    put(0, &"SECTION");
    put(2, &"TABLES");
    put(0, &"TABLE");
    put(2, &"LAYER");
    put(70, &LAYERS.len());
    for (name, colour) in LAYERS {
        put(0, &"LAYER");
        put(2, &name);
        put(70, &0);
        put(62, &colour);
        put(6, &"CONTINUOUS");
    }
    put(0, &"ENDTAB");
    put(0, &"ENDSEC");
    put(0, &"SECTION");
    put(2, &"ENTITIES");
    for sheet in &layout.sheets {
        let lines = [
            ("PART_EDGE", &sheet.part_edges),
            ("TRIM", &sheet.outlines),
            ("WASTE", &sheet.waste),
        ];
        for (layer, polylines) in lines {
            for line in polylines {
                put(0, &"POLYLINE");
                put(8, &layer);
                put(66, &1);
                put(70, &i32::from(line.closed));
                for [x, y] in &line.points {
                    put(0, &"VERTEX");
                    put(8, &layer);
                    put(10, &format_args!("{x:.4}"));
                    put(20, &format_args!("{y:.4}"));
                }
                put(0, &"SEQEND");
                put(8, &layer);
            }
        }
        let mut note = |x: f64, y: f64, words: &str| {
            put(0, &"TEXT");
            put(8, &"NOTES");
            put(10, &format_args!("{x:.4}"));
            put(20, &format_args!("{y:.4}"));
            put(40, &TEXT_MM);
            put(1, &ascii(words));
        };
        for (i, words) in sheet.notes.iter().enumerate() {
            let [x, y] = sheet.note_at(i);
            note(x, y, words);
        }
        let [x, y] = sheet.bar_at;
        put(0, &"LINE");
        put(8, &"NOTES");
        for (code, value) in [(10, x), (20, y), (11, x + BAR_MM), (21, y)] {
            put(code, &format_args!("{value:.4}"));
        }
    }
    put(0, &"ENDSEC");
    put(0, &"EOF");
    out
}

/// The format's text has no other letters and no line breaks.
fn ascii(words: &str) -> String {
    let plain = |c: char| if (' '..='~').contains(&c) { c } else { '_' };
    words.chars().map(plain).collect()
}
