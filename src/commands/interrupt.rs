//! Ctrl-C: what is half-written is removed, the line of progress goes, and the program ends with status 130.

use super::terminal;

/// The status of a program that was stopped from the keyboard, as shells tell it: 128 and the signal's number.
const INTERRUPTED: i32 = 130;

/// Has Ctrl-C end the program cleanly from now on. Where that can't be set up the system ends it as it ends any other: the
/// old files are whole then too, and a hidden unfinished one may stay.
pub(super) fn ends_cleanly() {
    let _ = ctrlc::set_handler(|| {
        bindpoint::output::abandon_unfinished();
        terminal::clear_line();
        std::process::exit(INTERRUPTED);
    });
}
