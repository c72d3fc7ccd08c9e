//! A line on stderr, once a command has taken long enough to need one: what is done, how long it has taken, and how much of
//! it is done where that is known.

use super::terminal;
use bindpoint::output::visible;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::sync::Once;
use std::sync::mpsc::{RecvTimeoutError, Sender, channel};
use std::thread::JoinHandle;
use std::time::Duration;

/// Gone from the screen once it is dropped.
pub(super) struct Progress {
    bar: ProgressBar,
    /// From when on a share is known.
    has_share: Once,
    /// The thread that shows the line when its time has come, and what ends its wait.
    waiting: Option<(Sender<()>, JoinHandle<()>)>,
}

/// A command that takes no longer shows no line.
const QUIET_FOR: Duration = Duration::from_secs(1);
/// How often the line is drawn anew: a second that has passed is seen to have passed.
const TICK: Duration = Duration::from_millis(200);

impl Progress {
    /// Begins to count the time. The line shows by itself, whether or not more is told of the work.
    pub(super) fn new(step: &str) -> Progress {
        let bar = ProgressBar::with_draw_target(Some(100), ProgressDrawTarget::hidden());
        set_style(&bar, "{spinner} {msg}, {elapsed}");
        bar.set_message(visible(step).into_owned());
        let waiting = terminal::shows_progress().then(|| {
            let (alive, until) = channel::<()>();
            let bar = bar.clone();
            let shows = std::thread::spawn(move || {
                if until.recv_timeout(QUIET_FOR) == Err(RecvTimeoutError::Timeout) {
                    bar.set_draw_target(terminal::progress_target());
                    bar.enable_steady_tick(TICK);
                }
            });
            (alive, shows)
        });
        Progress {
            bar,
            has_share: Once::new(),
            waiting,
        }
    }

    /// What is done now, without a share of the whole.
    pub(super) fn step(&self, step: &str) {
        self.bar.set_message(visible(step).into_owned());
    }

    /// What is done now, and how much of the whole is behind.
    pub(super) fn show(&self, step: &str, share: f64) {
        self.has_share
            .call_once(|| set_style(&self.bar, "{bar:30} {percent:>3} % {msg}, {elapsed}"));
        self.step(step);
        self.bar
            .set_position((100.0 * share.clamp(0.0, 1.0)) as u64);
    }

    /// Takes the line off the screen, before anything is printed there.
    pub(super) fn finish(self) {}
}

impl Drop for Progress {
    fn drop(&mut self) {
        if let Some((alive, shows)) = self.waiting.take() {
            drop(alive);
            // One that is about to show the line does so before it is taken off.
            let _ = shows.join();
        }
        self.bar.finish_and_clear();
    }
}

fn set_style(bar: &ProgressBar, template: &str) {
    if let Ok(style) = ProgressStyle::with_template(template) {
        bar.set_style(style);
    }
}
