//! Findings made into what a person or another program reads: one file per format.
//!
//! * [`sweep_text`] and [`pose_text`]: plain text for a screen, at most [`TEXT_WIDTH`] columns wide.
//! * [`json`]: the findings exactly as their types serialise.
//! * [`csv`]: one table a file, for a spreadsheet.
//! * [`stl`]: the parts as they stand, for CAD; [`solid`]: a solid of our own making.
//! * [`glb`]: binary glTF, piece by piece; [`animation_glb`]: the suspension in motion.
//! * [`ply`] and [`clearance_glb`]: a clearance map in the colours of [`clearance_colours`]; [`dxf`] and [`trim_sheets`]: its trim marks, flat.
//! * [`Units`]: how lengths are printed. Files are always in millimetres and degrees.
//!
//! Reads: [`findings`](crate::findings). Produces: text and files; nothing here computes, and no file
//! is left half-written. Next room: the commands, or the viewer.

pub mod animation_glb;
pub mod clearance_colours;
pub mod clearance_glb;
pub mod csv;
mod csv_compare;
pub mod dxf;
pub mod glb;
pub mod json;
mod lengths;
pub mod map_picture;
pub mod ply;
pub mod solid;
pub mod stl;
mod text_animation;
mod text_clearance;
mod text_compare;
mod text_damper;
mod text_ground;
mod text_keep_out;
mod text_pose;
mod text_sweep;
mod threemf;
pub mod trim_sheets;

pub use csv_compare::write_comparison;
pub use lengths::{Units, degrees, signed_degrees};
pub use text_animation::animation_text;
pub use text_clearance::{clearance_text, clearance_verdict, patch_state};
pub use text_compare::compare_text;
pub use text_damper::damper_text;
pub use text_ground::{drive_text, ground_text};
pub use text_keep_out::keep_out_text;
pub use text_pose::{PoseText, pose_text};
pub use text_sweep::{Datum, SweepText, sweep_text, verdict_text};

use comfy_table::{CellAlignment, ContentArrangement, LineStyle, Table, TableStyle};
use std::io;
use std::path::{Path, PathBuf};

/// Text is at most this many columns wide. The five leading lines of a sweep are longer when they
/// are not wrapped, so that they stay five lines.
pub const TEXT_WIDTH: usize = 100;

/// A table without borders: a rule under the header, numbers to the right.
///
/// `columns` are the headings, each with whether it holds numbers.
pub fn table(columns: &[(&str, bool)]) -> Table {
    let mut table = Table::new();
    let rule = LineStyle::none().fill('-').junction('-');
    table
        .load_style(TableStyle::new().header_separator(rule))
        .set_content_arrangement(ContentArrangement::Dynamic)
        .set_width(TEXT_WIDTH as u16)
        .set_header(columns.iter().map(|(name, _)| *name).collect::<Vec<_>>());
    for (column, (_, numbers)) in table.column_iter_mut().zip(columns) {
        column.set_padding((0, 1));
        if *numbers {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
    table
}

/// Breaks a text into lines of at most `width` columns; lines after the first start with `indent`.
pub fn wrap(text: &str, width: usize, indent: &str) -> String {
    let mut out = String::new();
    let mut used = 0;
    for word in text.split_whitespace() {
        let length = word.chars().count();
        if out.is_empty() {
            out.push_str(word);
            used = length;
        } else if used + 1 + length > width {
            out.push('\n');
            out.push_str(indent);
            out.push_str(word);
            used = indent.chars().count() + length;
        } else {
            out.push(' ');
            out.push_str(word);
            used += 1 + length;
        }
    }
    out
}

/// A paragraph that starts with `- ` and ends with a line break.
pub(crate) fn bullet(text: &str) -> String {
    format!("- {}\n", wrap(text, TEXT_WIDTH - 2, "  "))
}

/// Writes a file under another name beside it and renames it when all is written, so that nothing
/// half-written is left under its own name.
///
/// # Errors
/// What `write` or the file system answers; the unfinished file is removed.
pub fn replace_file(path: &Path, write: impl FnOnce(&Path) -> io::Result<()>) -> io::Result<()> {
    let name = path
        .file_name()
        .ok_or_else(|| io::Error::new(io::ErrorKind::InvalidInput, "this is not a file name"))?;
    if path.is_dir() {
        return Err(io::Error::new(
            io::ErrorKind::IsADirectory,
            "this is a folder",
        ));
    }
    let mut unfinished = std::ffi::OsString::from(".");
    unfinished.push(name);
    unfinished.push(format!(".{}.unfinished", std::process::id()));
    let unfinished: PathBuf = path.with_file_name(unfinished);
    let written = write(&unfinished)
        // On the disk before it takes the name: else a power cut could leave an empty file.
        .and_then(|()| std::fs::File::open(&unfinished)?.sync_all())
        .and_then(|()| std::fs::rename(&unfinished, path));
    if written.is_err() {
        // The first error is the one that matters.
        let _ = std::fs::remove_file(&unfinished);
    }
    written
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wrapped_lines_keep_to_the_width() {
        let text = "one two three four five six seven";
        let wrapped = wrap(text, 12, "  ");
        assert!(
            wrapped.lines().all(|l| l.chars().count() <= 12),
            "{wrapped}"
        );
        assert_eq!(
            wrapped.split_whitespace().collect::<Vec<_>>().join(" "),
            text
        );
    }

    #[test]
    fn a_failed_write_leaves_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("out.json");
        std::fs::write(&path, "old").unwrap();
        let failed = replace_file(&path, |unfinished| {
            std::fs::write(unfinished, "half")?;
            Err(io::Error::other("disk full"))
        });
        assert!(failed.is_err());
        assert_eq!(std::fs::read_to_string(&path).unwrap(), "old");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
        replace_file(&path, |unfinished| std::fs::write(unfinished, "new")).unwrap();
        assert_eq!(std::fs::read_to_string(&path).unwrap(), "new");
    }
}
