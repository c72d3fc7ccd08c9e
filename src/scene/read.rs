//! Reading a scene file, and errors that show the place.

use super::locate::Places;
use super::missing::Missing;
use super::slips::slip;
use super::types::{LengthUnit, Scene};
use miette::{Diagnostic, LabeledSpan, NamedSource, SourceSpan};
use std::io::Read;
use std::ops::Range;
use std::path::Path;

/// Something in a scene that can't be used: where (a field's path), what, and what to do.
#[derive(Clone, Debug, PartialEq)]
pub struct Problem {
    /// Path of the field: `lower_arm.ball_joint`, `parts[3].shape`.
    pub path: String,
    /// What is wrong.
    pub what: String,
    /// What was expected, and what to do.
    pub help: String,
    /// Path of the field that this one is at odds with: the first of two of one name.
    pub first: Option<String>,
}

impl Problem {
    /// A problem at a field.
    pub fn at(
        path: impl Into<String>,
        what: impl Into<String>,
        help: impl Into<String>,
    ) -> Problem {
        Problem {
            path: path.into(),
            what: what.into(),
            help: help.into(),
            first: None,
        }
    }

    /// A problem with a field that comes second: the message says where the first is.
    pub fn second_of(self, first: impl Into<String>) -> Problem {
        Problem {
            first: Some(first.into()),
            ..self
        }
    }
}

/// A scene that can't be used, with its place in the file.
#[derive(Debug, thiserror::Error)]
#[error("{message}")]
pub struct SceneError {
    message: String,
    help: String,
    label: String,
    source_text: Option<NamedSource<String>>,
    span: Option<SourceSpan>,
    place: Option<(usize, usize)>,
}

impl SceneError {
    /// Line and column, both from 1, where the file says it.
    pub fn line_and_column(&self) -> Option<(usize, usize)> {
        self.place
    }

    /// Shows a problem in the scene's text.
    pub fn from_problem(problem: &Problem, path: &Path, text: &str) -> SceneError {
        // The first line of what is wrong is enough: a long list would push the message off the screen.
        let places = Places::of(text);
        let range = places.find(&problem.path).map(|r| {
            let line = text[r.clone()].find('\n').map_or(r.end, |n| r.start + n);
            r.start..line
        });
        // Whoever reads this has measured in the scene's unit.
        let unit = super::format::unit_of(text).unwrap_or(LengthUnit::Mm);
        let message = unit.reworded(&format!("{}: {}", problem.path, problem.what));
        let problems_help = unit.reworded(&problem.help);
        let first = problem.first.as_ref().and_then(|path| places.find(path));
        let problems_help = match entry_name(&problem.path, &places, text) {
            Some((entry, name)) if !message.contains(&name) => {
                format!("{problems_help} (`{entry}` is `{name}`)")
            }
            _ => problems_help,
        };
        let help = match first.map(|r| line_and_column(text, r.start)) {
            Some((line, column)) => {
                format!("the first is in line {line}, column {column}; {problems_help}")
            }
            None => problems_help,
        };
        SceneError::at(message, &help, path, text, range)
    }

    /// A message at a place in the text.
    fn at(
        message: String,
        help: &str,
        path: &Path,
        text: &str,
        range: Option<Range<usize>>,
    ) -> SceneError {
        let place = range.as_ref().map(|r| line_and_column(text, r.start));
        let shown = range.as_ref().is_none_or(|r| can_be_shown(text, r));
        let message = match place {
            Some((line, column)) if !shown => {
                format!("{}:{line}:{column}: {message}", path.display())
            }
            _ => message,
        };
        SceneError {
            message,
            help: help.to_owned(),
            label: "here".to_owned(),
            span: range.filter(|_| shown).map(SourceSpan::from),
            source_text: shown
                .then(|| NamedSource::new(path.display().to_string(), text.to_owned())),
            place,
        }
    }
}

/// The entry of a list that a path is in, and the name that it has in the text: `parts[18]` and `tie rod`.
fn entry_name(path: &str, places: &Places, text: &str) -> Option<(String, String)> {
    let end = path.find(']')? + 1;
    let entry = &path[..end];
    let at = places.exact(&format!("{entry}.name"))?;
    let name = text[at].trim().trim_matches('"');
    (!name.is_empty()).then(|| (entry.to_owned(), name.to_owned()))
}

/// A line longer than this is told by its number, not shown, bytes: it would fill the screen, and columns are
/// drawn in 16 bits.
const LONGEST_SHOWN: usize = 1000;

/// Whether the lines that a message shows can be looked at: those of the place, and one on each side.
fn can_be_shown(text: &str, range: &Range<usize>) -> bool {
    let before = text[..range.start].rmatch_indices('\n').nth(1);
    let after = text[range.end..].match_indices('\n').nth(1);
    let from = before.map_or(0, |(at, _)| at + 1);
    let to = after.map_or(text.len(), |(at, _)| range.end + at);
    text[from..to]
        .split('\n')
        .all(|line| line.len() <= LONGEST_SHOWN)
}

fn line_and_column(text: &str, offset: usize) -> (usize, usize) {
    let before = &text[..offset];
    let line = before.matches('\n').count() + 1;
    let column = before
        .rsplit('\n')
        .next()
        .map_or(1, |l| l.chars().count() + 1);
    (line, column)
}

impl Diagnostic for SceneError {
    fn help<'a>(&'a self) -> Option<Box<dyn std::fmt::Display + 'a>> {
        Some(Box::new(&self.help))
    }
    fn source_code(&self) -> Option<&dyn miette::SourceCode> {
        self.source_text
            .as_ref()
            .map(|s| s as &dyn miette::SourceCode)
    }
    fn labels(&self) -> Option<Box<dyn Iterator<Item = LabeledSpan> + '_>> {
        let span = self.span?;
        let label = LabeledSpan::new_with_span(Some(self.label.clone()), span);
        Some(Box::new(std::iter::once(label)))
    }
}

/// Longest scene file that is read. The demo scenes are under 20 kB, and messages about a scene take a
/// hundred times its length in memory.
const LONGEST_FILE: u64 = 4 * 1024 * 1024;

/// Where no file is at a path, the scenes beside it whose names are like it, as a question.
fn nearest_scene(path: &Path) -> String {
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let Some(wanted) = path.file_name().and_then(|name| name.to_str()) else {
        return String::new();
    };
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
    let scenes: Vec<String> = entries
        .filter_map(|entry| entry.file_name().into_string().ok())
        .filter(|name| name.ends_with(".ron"))
        .collect();
    super::did_you_mean(wanted, scenes.iter().map(String::as_str))
}

/// Reads a scene file. Returns the scene with its text, which later messages point into.
///
/// # Errors
/// [`SceneError`] when the file can't be read, isn't RON, or has a missing, unknown or mistyped field.
pub fn read_scene(path: &Path) -> Result<(Scene, String), SceneError> {
    let unreadable = |what: String, help: &str| SceneError {
        message: what,
        help: help.to_owned(),
        label: String::new(),
        source_text: None,
        span: None,
        place: None,
    };
    let name = path.display();
    let not_opened = |e: std::io::Error| {
        unreadable(
            format!("cannot open {name}: {e}"),
            &format!(
                "{}give the path of a scene file (.ron)",
                nearest_scene(path)
            ),
        )
    };
    let known = std::fs::metadata(path).map_err(not_opened)?;
    if known.is_dir() {
        return Err(unreadable(
            format!("cannot read {name}: it is a folder"),
            "a scene file is plain UTF-8 text: give the path of one (.ron)",
        ));
    }
    // Asked before it is opened: opening a pipe of that kind would wait for someone to write into it.
    if !known.is_file() && !is_open_pipe(path, &known) {
        return Err(unreadable(
            format!("cannot read {name}: it is a pipe or a device, not a file"),
            "give the path of a scene file (.ron); what another program writes can be piped to /dev/stdin",
        ));
    }
    // A pipe's length isn't known before it is read.
    let file = std::fs::File::open(path).map_err(not_opened)?;
    let mut bytes = Vec::new();
    let read = file.take(LONGEST_FILE + 1).read_to_end(&mut bytes);
    let not_read = |e: String| {
        unreadable(
            format!("cannot read {name}: {e}"),
            "a scene file is plain UTF-8 text",
        )
    };
    read.map_err(|e| not_read(e.to_string()))?;
    if bytes.len() as u64 > LONGEST_FILE {
        let size = if known.is_file() {
            format!("is {} bytes long", known.len())
        } else {
            "goes on".to_owned()
        };
        return Err(unreadable(
            format!("{name} {size}, more than the {LONGEST_FILE} bytes that are read of a scene"),
            "meshes belong in files of their own, named in the scene",
        ));
    }
    let text = String::from_utf8(bytes).map_err(|e| not_read(format!("{}", e.utf8_error())))?;
    // Some editors begin a file with a byte-order mark.
    let text = text
        .strip_prefix('\u{feff}')
        .map(str::to_owned)
        .unwrap_or(text);
    let scene = scene_from_text(&text, path)?;
    Ok((scene, text))
}

/// Whether it is a pipe that was opened for this program when it was started: someone writes into it.
#[cfg(unix)]
fn is_open_pipe(path: &Path, known: &std::fs::Metadata) -> bool {
    use std::os::unix::fs::FileTypeExt;
    let opened = ["/dev/stdin", "/dev/fd", "/proc/self/fd"];
    known.file_type().is_fifo() && opened.iter().any(|place| path.starts_with(place))
}

#[cfg(not(unix))]
fn is_open_pipe(_: &Path, _: &std::fs::Metadata) -> bool {
    false
}

/// Reads a scene from text; `path` is for messages.
///
/// # Errors
/// As [`read_scene`].
pub fn scene_from_text(text: &str, path: &Path) -> Result<Scene, SceneError> {
    let options =
        ron::Options::default().with_default_extension(ron::extensions::Extensions::IMPLICIT_SOME);
    // The part of the text that may be walked: what comes after may nest too deep.
    let sound = || super::format::sound(text, &options);
    super::format::check(text).map_err(|p| SceneError::from_problem(&p, path, sound()))?;
    let unit = super::format::unit_of(text);
    let read = super::length::reading_in(unit, || options.from_str(text));
    let scene = read.map_err(|error| {
        if let ron::Error::MissingStructField { .. } = error.code {
            let sound = sound();
            let missing = super::missing::missing(sound, sound.len() == text.len(), unit);
            if !missing.is_empty() {
                return lacking(&missing, path, text);
            }
        }
        let position = error.span.start;
        let end = offset_of(text, error.span.end.line, error.span.end.col);
        let start = offset_of(text, position.line, position.col).min(end);
        // The reader may stop just before the blank in front of what it didn't expect.
        let blank = text[start..].len() - text[start..].trim_start_matches(' ').len();
        let start = if start + blank < text.len() {
            start + blank
        } else {
            start
        };
        if let Some(slip) = slip(text, start, &error.code) {
            return SceneError::at(slip.what, &slip.help, path, text, Some(slip.range));
        }
        let message = if text[start..].trim().is_empty() {
            "unexpected end of the file: a bracket is still open".to_owned()
        } else {
            in_plain_words(&error.code).unwrap_or_else(|| error.code.to_string())
        };
        let asked = match &error.code {
            ron::Error::NoSuchEnumVariant { expected, found, .. }
            | ron::Error::NoSuchStructField { expected, found, .. } => {
                super::did_you_mean(found, expected.iter().copied())
            }
            _ => String::new(),
        };
        let help = "every field is listed by `bindpoint schema`; lengths are numbers, or in quotes as a tape shows them, points \
                    are (x, y, z)";
        let help = match &error.code {
            ron::Error::ExpectedArray => {
                "a list stands here, in square brackets even with one entry: `[..]`; `bindpoint schema` says of what"
            }
            ron::Error::ExpectedStructLike | ron::Error::ExpectedStructLikeEnd => {
                "fields stand here, in round brackets: `(name: value, ..)`; `bindpoint schema` lists them"
            }
            ron::Error::ExpectedDifferentStructName { .. } => {
                "fields or numbers stand in brackets of their own here: `((..))` where a change holds one entry, `((x, y, z), \
                 (x, y, z))` for two points; `bindpoint schema` says which"
            }
            ron::Error::NoSuchStructField { found, outer, .. } => {
                let of_both = (outer.as_deref())
                    .filter(|_| found == "side")
                    .and_then(super::changes::why_both_sides);
                of_both
                    .or_else(|| super::format::instead_of(found))
                    .unwrap_or(help)
            }
            _ => help,
        };
        let help = &format!("{asked}{help}");
        SceneError::at(message, help, path, text, Some(start..end.max(start)))
    })?;
    super::contents::check(&scene)
        .and_then(|()| super::measured::check(&scene, text))
        .map_err(|p| SceneError::from_problem(&p, path, text))?;
    Ok(scene)
}

/// What the reader says of a word or a field that it doesn't know, without the terms of the program's own types.
fn in_plain_words(error: &ron::Error) -> Option<String> {
    let listed = |known: &[&str]| format!("`{}`", known.join("`, `"));
    match error {
        ron::Error::NoSuchEnumVariant {
            expected, found, ..
        } => Some(format!(
            "`{found}` isn't one of the words that can stand here: {}",
            listed(expected)
        )),
        ron::Error::NoSuchStructField {
            expected,
            found,
            outer,
        } => {
            let of = outer
                .as_ref()
                .map_or(String::new(), |outer| format!(" of `{outer}`"));
            Some(match expected {
                [] => format!("Unexpected field `{found}`: there are no fields{of}"),
                _ => format!(
                    "Unexpected field `{found}`: the fields{of} are {}",
                    listed(expected)
                ),
            })
        }
        _ => None,
    }
}

/// Every field that a scene lacks, in one message: each with its line, its meaning and an example.
fn lacking(missing: &[Missing], path: &Path, text: &str) -> SceneError {
    let message = match missing {
        [only] => format!(
            "missing field `{}`: {}: {}",
            only.field, only.path, only.meaning
        ),
        _ => {
            let rows = missing.iter().map(|field| {
                let (line, _) = line_and_column(text, field.before);
                format!(
                    "\n- {} (its bracket closes on line {line}): {}",
                    field.path, field.meaning
                )
            });
            format!(
                "{} missing fields: {}{}",
                missing.len(),
                missing
                    .iter()
                    .map(|m| format!("`{}`", m.field))
                    .collect::<Vec<_>>()
                    .join(", "),
                rows.collect::<String>()
            )
        }
    };
    let examples: Vec<&str> = missing.iter().map(|m| m.example.as_str()).collect();
    let help = format!(
        "write them inside the brackets of what they belong to, with your own numbers. Examples:\n{}\nEvery field is \
         listed by `bindpoint schema`; `bindpoint new` writes a whole scene to fill in.",
        examples.join(",\n")
    );
    let range = missing.first().map(|first| first.before..first.before);
    SceneError::at(message, &help, path, text, range)
}

/// Where a line and a column, both from 1, are in a text.
pub(super) fn offset_of(text: &str, line: usize, column: usize) -> usize {
    let mut offset = 0;
    for (i, l) in text.split_inclusive('\n').enumerate() {
        if i + 1 == line {
            return offset
                + l.char_indices()
                    .nth(column.saturating_sub(1))
                    .map_or(l.len(), |(at, _)| at);
        }
        offset += l.len();
    }
    text.len()
}
