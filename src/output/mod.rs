//! Findings made into what a person or another program reads: one file per format.
//!
//! * [`sweep_text`] and [`pose_text`]: plain text for a screen, at most [`text_width`] columns wide.
//! * [`visible`]: any text made fit for a terminal, whoever wrote the names in it.
//! * [`json`]: the findings exactly as their types serialise.
//! * [`csv`]: one table a file, for a spreadsheet.
//! * [`stl`]: the parts as they stand, for CAD; [`solid`]: a solid of our own making.
//! * [`glb`]: binary glTF, piece by piece; [`animation_glb`]: the suspension in motion.
//! * [`ply`] and [`clearance_glb`]: a clearance map in the colours of [`clearance_colours`]; [`dxf`] and [`trim_sheets`]: its trim marks, flat.
//! * [`Units`]: how lengths are printed. Files are always in millimetres and degrees.
//!
//! Reads: [`findings`](crate::findings). Produces: text and files; nothing here computes, and no file
//! is left half-written. Next: the commands, or the viewer.

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
pub mod verdict_words;
mod visible;

pub use csv_compare::write_comparison;
pub use lengths::{
    Units, degrees, degrees_against, degrees_at_least, degrees_at_most, signed_degrees,
    signed_degrees_free_to,
};
pub use text_animation::animation_text;
pub use text_clearance::{clearance_text, clearance_verdict, is_wrong, patch_state};
pub use text_compare::compare_text;
pub use text_damper::damper_text;
pub use text_ground::{drive_text, ground_text};
#[cfg(feature = "viewer")]
pub(crate) use text_keep_out::hollows_filled;
pub use text_keep_out::keep_out_text;
pub use text_pose::{PoseText, pose_text};
pub use text_sweep::{Datum, SweepText, limit_margin, limit_reading, sweep_text, verdict_text};
pub use visible::{is_hidden, visible, visible_source};

use comfy_table::{CellAlignment, ContentArrangement, LineStyle, Table, TableStyle};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Mutex, OnceLock, PoisonError};
use std::time::Duration;

/// Text is at most this many columns wide where no terminal says otherwise. The five leading lines of a sweep are longer
/// when they are not wrapped, so that they stay five lines.
pub const TEXT_WIDTH: usize = 100;
/// Text follows a terminal's width within these. A table's columns keep no whole word in less; in more, a line's end is
/// too far from the next one's start to be read, and the tables need no more.
pub const TEXT_WIDTHS: std::ops::RangeInclusive<usize> = 40..=160;

/// The terminal's width, once it is known.
static TERMINAL_WIDTH: OnceLock<usize> = OnceLock::new();

/// Says how wide the terminal is that texts go to, for the whole program. The first call counts: a text's parts have one
/// width.
pub fn set_text_width(columns: usize) {
    let within = columns.clamp(*TEXT_WIDTHS.start(), *TEXT_WIDTHS.end());
    let _ = TERMINAL_WIDTH.set(within);
}

/// How many columns wide text may be: the terminal's width within [`TEXT_WIDTHS`], else [`TEXT_WIDTH`].
pub fn text_width() -> usize {
    TERMINAL_WIDTH.get().copied().unwrap_or(TEXT_WIDTH)
}

/// A table without borders: a rule under the header, numbers to the right.
///
/// `columns` are the headings, each with whether it holds numbers.
pub fn table(columns: &[(&str, bool)]) -> Table {
    let mut table = Table::new();
    let rule = LineStyle::none().fill('-').junction('-');
    table
        .load_style(TableStyle::new().header_separator(rule))
        .set_content_arrangement(ContentArrangement::Dynamic)
        .set_width(text_width() as u16)
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

/// The section of warnings at an answer's end; nothing where there are none.
pub fn warnings_text(warnings: &[String], units: Units) -> String {
    let mut out = String::new();
    if !warnings.is_empty() {
        out.push_str("\nWarnings\n");
    }
    for warning in warnings {
        out.push_str(&bullet(&units.reworded(warning)));
    }
    out
}

/// A paragraph that starts with `- ` and ends with a line break.
pub(crate) fn bullet(text: &str) -> String {
    format!("- {}\n", wrap(text, text_width() - 2, "  "))
}

/// Writes a file under another name beside it and renames it when all is written, so that nothing
/// half-written is left under its own name: whenever the program is killed or the power goes, the name holds
/// the whole old file or the whole new one.
///
/// A link is followed, and what it points to is replaced. A device or a pipe (`/dev/stdout`) has no old
/// content to keep and is written straight into: taking its name away would break it for everyone.
///
/// # Errors
/// What `write` or the file system answers, and that the old file is read-only; the unfinished file is
/// removed.
pub fn replace_file(path: &Path, write: impl FnOnce(&Path) -> io::Result<()>) -> io::Result<()> {
    let name = path
        .file_name()
        .ok_or_else(|| io::Error::new(io::ErrorKind::InvalidInput, "this is not a file name"))?;
    let old = std::fs::metadata(path).ok();
    match &old {
        Some(known) if known.is_dir() => {
            return Err(io::Error::new(
                io::ErrorKind::IsADirectory,
                "this is a folder",
            ));
        }
        Some(known) if !known.is_file() => return write(path),
        Some(known) if known.permissions().readonly() => {
            // The rename would get past that: it asks only whether the folder may be changed.
            return Err(io::Error::new(
                io::ErrorKind::PermissionDenied,
                "the file that is there is read-only",
            ));
        }
        _ => {}
    }
    let path = std::fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    let unfinished = path.with_file_name(unfinished_name(&name.to_string_lossy()));
    let _listed = Unfinished::listed(&unfinished);
    // One that a killed run of the same number left, or a link that someone laid there.
    let _ = std::fs::remove_file(&unfinished);
    let written = write(&unfinished)
        // On the disk before it takes the name: else a power cut could leave an empty file. Whether the
        // new name itself is on the disk by then doesn't matter: without it the old file is still there.
        .and_then(|()| {
            let file = std::fs::OpenOptions::new().write(true).open(&unfinished)?;
            file.sync_all()
        })
        // Who could not read the old file can't read the new one.
        .and_then(|()| match &old {
            Some(known) => std::fs::set_permissions(&unfinished, known.permissions()),
            None => Ok(()),
        })
        .and_then(|()| std::fs::rename(&unfinished, &path));
    if written.is_err() {
        // The first error is the one that matters.
        let _ = std::fs::remove_file(&unfinished);
    }
    written
}

/// Writes a file that isn't there yet, whole or not at all: what has the name already stays, whatever it is.
///
/// # Errors
/// What `write` or the file system answers; `AlreadyExists` where the name is taken.
pub fn write_new_file(path: &Path, write: impl FnOnce(&Path) -> io::Result<()>) -> io::Result<()> {
    let name = path
        .file_name()
        .ok_or_else(|| io::Error::new(io::ErrorKind::InvalidInput, "this is not a file name"))?;
    // Whatever has the name, be it a link to nowhere.
    if std::fs::symlink_metadata(path).is_ok() {
        return Err(io::ErrorKind::AlreadyExists.into());
    }
    let unfinished = path.with_file_name(unfinished_name(&name.to_string_lossy()));
    let _listed = Unfinished::listed(&unfinished);
    let _ = std::fs::remove_file(&unfinished);
    let written = write(&unfinished)
        .and_then(|()| {
            let file = std::fs::OpenOptions::new().write(true).open(&unfinished)?;
            file.sync_all()
        })
        // A second name for the file is refused where the name is taken; a rename would take it.
        .and_then(|()| match std::fs::hard_link(&unfinished, path) {
            Err(error) if error.kind() != io::ErrorKind::AlreadyExists => {
                // A file system without second names: the name is taken first, empty, and then filled.
                std::fs::File::create_new(path)?;
                std::fs::rename(&unfinished, path)
            }
            linked => linked,
        });
    // Gone where it was renamed.
    let _ = std::fs::remove_file(&unfinished);
    written
}

/// The files that are being written, under their hidden names.
static UNFINISHED: Mutex<Vec<PathBuf>> = Mutex::new(Vec::new());

/// A file that is being written: listed until it is dropped.
struct Unfinished<'p>(&'p Path);

impl Unfinished<'_> {
    fn listed(path: &Path) -> Unfinished<'_> {
        let mut all = UNFINISHED.lock().unwrap_or_else(PoisonError::into_inner);
        all.push(path.to_owned());
        Unfinished(path)
    }
}

impl Drop for Unfinished<'_> {
    fn drop(&mut self) {
        let mut all = UNFINISHED.lock().unwrap_or_else(PoisonError::into_inner);
        all.retain(|path| path != self.0);
    }
}

/// How long a file whose hidden name is listed may take to be there: its opening follows at once.
const OPENED_WITHIN: Duration = Duration::from_millis(20);

/// Removes every half-written file of the program, which is about to end: no other is begun any more, and what is under its
/// own name already stays.
pub fn abandon_unfinished() {
    let all = UNFINISHED.lock().unwrap_or_else(PoisonError::into_inner);
    if !all.is_empty() {
        std::thread::sleep(OPENED_WITHIN);
    }
    for path in all.iter() {
        // It may have taken its own name by now.
        let _ = std::fs::remove_file(path);
    }
    // Whoever would begin or end another waits for this list until the program has ended.
    std::mem::forget(all);
}

/// Of the file's own name no more is kept than this, in characters: most file systems take 255 bytes.
const OWN_NAME_KEPT: usize = 40;

/// A hidden name that says what it was to become, and no other write in any program has now.
fn unfinished_name(name: &str) -> String {
    static WRITES: AtomicU64 = AtomicU64::new(0);
    let own: String = name.chars().take(OWN_NAME_KEPT).collect();
    format!(
        ".{own}.{}-{}.unfinished",
        std::process::id(),
        WRITES.fetch_add(1, Ordering::Relaxed)
    )
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

    #[test]
    fn a_new_file_takes_no_name_that_is_taken() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.ron");
        let write = |text: &'static str| write_new_file(&path, |at| std::fs::write(at, text));
        write("first").unwrap();
        let refused = write("second").unwrap_err();
        assert_eq!(refused.kind(), io::ErrorKind::AlreadyExists);
        assert_eq!(std::fs::read_to_string(&path).unwrap(), "first");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
        // One that fails half way leaves nothing.
        let other = folder.path().join("b.ron");
        let failed = write_new_file(&other, |at| {
            std::fs::write(at, "half")?;
            Err(io::Error::other("disk full"))
        });
        assert!(failed.is_err());
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[test]
    fn names_as_long_as_the_file_system_takes_can_be_written() {
        let folder = tempfile::tempdir().unwrap();
        for letter in ["n", "é"] {
            let path = folder.path().join(letter.repeat(255 / letter.len()));
            replace_file(&path, |unfinished| std::fs::write(unfinished, "new")).unwrap();
            assert_eq!(std::fs::read_to_string(&path).unwrap(), "new");
        }
    }

    #[test]
    fn a_read_only_file_stays_and_its_message_says_so() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("out.json");
        std::fs::write(&path, "old").unwrap();
        let mut permissions = std::fs::metadata(&path).unwrap().permissions();
        permissions.set_readonly(true);
        std::fs::set_permissions(&path, permissions).unwrap();
        let refused = replace_file(&path, |unfinished| std::fs::write(unfinished, "new"));
        assert!(refused.unwrap_err().to_string().contains("read-only"));
        assert_eq!(std::fs::read_to_string(&path).unwrap(), "old");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[cfg(unix)]
    #[test]
    fn links_devices_and_permissions_stay_what_they_are() {
        use std::os::unix::fs::{FileTypeExt, PermissionsExt, symlink};
        let folder = tempfile::tempdir().unwrap();
        let (path, link) = (folder.path().join("real"), folder.path().join("link"));
        std::fs::write(&path, "old").unwrap();
        std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o600)).unwrap();
        symlink(&path, &link).unwrap();
        replace_file(&link, |unfinished| std::fs::write(unfinished, "new")).unwrap();
        assert_eq!(std::fs::read_to_string(&path).unwrap(), "new");
        assert!(std::fs::symlink_metadata(&link).unwrap().is_symlink());
        let mode = std::fs::metadata(&path).unwrap().permissions().mode();
        assert_eq!(mode & 0o777, 0o600);

        let null = Path::new("/dev/null");
        replace_file(null, |there| std::fs::write(there, "gone")).unwrap();
        let kind = std::fs::metadata(null).unwrap().file_type();
        assert!(kind.is_char_device());
        let full = replace_file(Path::new("/dev/full"), |there| std::fs::write(there, "x"));
        assert_eq!(full.unwrap_err().kind(), io::ErrorKind::StorageFull);
    }
}
