//! The one place through which the program writes to stdout and stderr: nothing reaches a terminal unless it is visible.
//!
//! Texts come from scenes, meshes and paths that others made, so that each is made [`visible`] here, once it is whole.
//! `tests/architecture.rs` sees to it that no other file of the program prints. A report's colours and frame are added
//! after its words were made visible.

use bindpoint::output::{is_hidden, set_text_width, text_width, visible, visible_source, wrap};
use clap::Parser;
use indicatif::ProgressDrawTarget;
use miette::{
    Diagnostic, LabeledSpan, NamedSource, Report, Result, SourceCode, SourceSpan, miette,
};
use std::fmt::{self, Display};
use std::io::{self, IsTerminal, Write};
use std::process::ExitCode;

/// Whether stdout is a screen that someone reads.
pub(super) fn is_screen() -> bool {
    io::stdout().is_terminal()
}

/// Whether stderr is a screen: progress is shown only there.
pub(super) fn shows_progress() -> bool {
    io::stderr().is_terminal()
}

/// Where progress is drawn. Its words go through [`visible`] too.
pub(super) fn progress_target() -> ProgressDrawTarget {
    ProgressDrawTarget::stderr()
}

/// Takes a line of progress off the screen, in a program that is about to end.
pub(super) fn clear_line() {
    if shows_progress() {
        // Back to its beginning, and what is on it erased.
        let _ = io::stderr().write_all(b"\r\x1b[2K");
    }
}

/// Lets text be as wide as the terminal is that it is printed to.
pub(super) fn follow_width() {
    let size = is_screen().then(terminal_size::terminal_size).flatten();
    if let Some((terminal_size::Width(columns), _)) = size {
        set_text_width(columns.into());
    }
}

/// The command line, or the status to end with once its mistake, its help or its version was told.
pub(crate) fn parse<T: Parser>() -> std::result::Result<T, ExitCode> {
    T::try_parse().map_err(|error| {
        let hidden = |argument: std::ffi::OsString| {
            let text = argument.to_string_lossy();
            text.chars().any(is_hidden)
        };
        // An argument may be a file's name that a shell filled in. Plain words then: colours are escapes too.
        if std::env::args_os().any(hidden) {
            let text = error.render().to_string();
            let _ = io::stderr().lock().write_all(visible(&text).as_bytes());
        } else {
            // Nobody is left to be told when it can't be written.
            let _ = error.print();
        }
        ExitCode::from(u8::try_from(error.exit_code()).unwrap_or(u8::MAX))
    })
}

/// Prints text to stdout, on a screen no wider than that is.
pub(super) fn print(text: &str) -> Result<()> {
    if is_screen() {
        print_as_it_is(&folded(&visible(text), text_width()))
    } else {
        print_as_it_is(text)
    }
}

/// Breaks lines that are wider than the screen, such as headings of one length: most text was made to its width.
fn folded(text: &str, width: usize) -> String {
    let mut out = String::with_capacity(text.len());
    for line in text.split_inclusive('\n') {
        let bare = line.trim_end();
        if bare.chars().count() <= width {
            out.push_str(line);
            continue;
        }
        let words = bare.trim_start();
        let lead = &bare[..bare.len() - words.len()];
        out.push_str(lead);
        out.push_str(&wrap(
            words,
            width - lead.len().min(width),
            &format!("{lead}  "),
        ));
        out.push('\n');
    }
    out
}

/// Prints to stdout what another program may read. A reader that has gone away (`| head`) has read enough: that is no
/// error.
pub(super) fn print_as_it_is(text: &str) -> Result<()> {
    let mut out = io::stdout().lock();
    match out
        .write_all(visible(text).as_bytes())
        .and_then(|()| out.flush())
    {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
            Err(miette!("cannot write to standard output: {error}"))
        }
        _ => Ok(()),
    }
}

/// Shows on stderr why something could not be checked.
pub(crate) fn show(report: &Report) {
    let shown = Report::new(Visible::of(report));
    // Nobody is left to be told when stderr is gone too.
    let _ = writeln!(io::stderr().lock(), "{shown:?}");
}

/// A report with every text of it made visible: its words, its causes, the source that it points into.
#[derive(Debug)]
struct Visible {
    message: String,
    help: Option<String>,
    source_text: Option<NamedSource<String>>,
    labels: Vec<LabeledSpan>,
    cause: Option<Box<Visible>>,
}

impl Visible {
    fn of(report: &Report) -> Visible {
        let mut causes: Vec<String> = report.chain().skip(1).map(visible_words).collect();
        let mut cause = None;
        while let Some(message) = causes.pop() {
            cause = Some(Box::new(Visible {
                message,
                help: None,
                source_text: None,
                labels: Vec::new(),
                cause,
            }));
        }
        let mut out = Visible {
            message: visible_words(report),
            help: report.help().map(visible_words),
            source_text: None,
            labels: Vec::new(),
            cause,
        };
        // The whole text: labels count from its start.
        let source = report.source_code();
        let whole = source.and_then(|s| s.read_span(&(0, 0).into(), 0, usize::MAX).ok());
        let Some(whole) = whole else {
            return out;
        };
        let text = String::from_utf8_lossy(whole.data());
        let labels: Vec<LabeledSpan> = report.labels().into_iter().flatten().collect();
        out.labels = labels.iter().filter_map(|l| moved(&text, l)).collect();
        let (text, []) = visible_source(&text, []);
        let name = visible(whole.name().unwrap_or_default()).into_owned();
        out.source_text = Some(NamedSource::new(name, text));
        out
    }
}

fn visible_words(words: impl Display) -> String {
    visible(&words.to_string()).into_owned()
}

/// A label at its place in the text as it is shown.
fn moved(text: &str, label: &LabeledSpan) -> Option<LabeledSpan> {
    let ends = [label.offset(), label.offset() + label.len()];
    let (_, [Some(from), Some(to)]) = visible_source(text, ends) else {
        return None;
    };
    let words = label.label().map(visible_words);
    Some(LabeledSpan::new_with_span(
        words,
        SourceSpan::from(from..to),
    ))
}

impl Display for Visible {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)
    }
}

impl std::error::Error for Visible {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        let cause = self.cause.as_deref()?;
        Some(cause)
    }
}

impl Diagnostic for Visible {
    fn help<'a>(&'a self) -> Option<Box<dyn Display + 'a>> {
        let help = self.help.as_ref()?;
        Some(Box::new(help))
    }
    fn source_code(&self) -> Option<&dyn SourceCode> {
        let text = self.source_text.as_ref()?;
        Some(text)
    }
    fn labels(&self) -> Option<Box<dyn Iterator<Item = LabeledSpan> + '_>> {
        if self.labels.is_empty() {
            return None;
        }
        Some(Box::new(self.labels.iter().cloned()))
    }
}
