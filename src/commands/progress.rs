//! A bar on stderr, once a command has taken long enough to need one.

use super::terminal;
use bindpoint::output::visible;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::time::{Duration, Instant};

pub(super) struct Progress {
    bar: ProgressBar,
    started: Instant,
    wanted: bool,
}

/// A command that takes no longer shows no bar.
const QUIET_FOR: Duration = Duration::from_secs(1);

impl Progress {
    pub(super) fn new() -> Progress {
        let bar = ProgressBar::with_draw_target(Some(100), ProgressDrawTarget::hidden());
        if let Ok(style) = ProgressStyle::with_template("{bar:30} {percent:>3} % {msg}") {
            bar.set_style(style);
        }
        Progress {
            bar,
            started: Instant::now(),
            wanted: terminal::shows_progress(),
        }
    }

    pub(super) fn show(&self, step: &str, share: f64) {
        if self.wanted && self.bar.is_hidden() && self.started.elapsed() >= QUIET_FOR {
            self.bar.set_draw_target(terminal::progress_target());
        }
        self.bar.set_message(visible(step).into_owned());
        self.bar
            .set_position((100.0 * share.clamp(0.0, 1.0)) as u64);
    }

    pub(super) fn finish(&self) {
        self.bar.finish_and_clear();
    }
}
