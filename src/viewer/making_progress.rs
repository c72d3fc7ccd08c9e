//! How far a solid or a map is that a worker makes: the page's bar reads it, and Stop ends it.

use super::background::Wake;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

/// The window is woken to show it no more often than this.
const TOLD_APART: Duration = Duration::from_millis(100);

/// How far a making is, and whether it is to go on.
#[derive(Debug, Default)]
pub(super) struct Progress {
    /// Thousandths.
    share: AtomicU32,
    stop: AtomicBool,
}

impl Progress {
    /// The share done.
    pub(super) fn share(&self) -> f64 {
        f64::from(self.share.load(Ordering::Relaxed)) / 1000.0
    }

    /// Notes the share done; false where it isn't to go on.
    fn tell(&self, share: f64) -> bool {
        self.share.store((share * 1000.0) as u32, Ordering::Relaxed);
        !self.stop.load(Ordering::Relaxed)
    }

    /// What the work calls with its share done: notes it, and now and then wakes the window to show it.
    pub(super) fn teller<'p>(&'p self, wake: &'p Wake) -> impl Fn(f64) -> bool + Sync + use<'p> {
        let told = Mutex::new(Instant::now());
        move |share| {
            let mut told = told.lock().unwrap_or_else(PoisonError::into_inner);
            if told.elapsed() >= TOLD_APART {
                *told = Instant::now();
                (wake.0)();
            }
            self.tell(share)
        }
    }

    /// Has it end soon.
    pub(super) fn stop(&self) {
        self.stop.store(true, Ordering::Relaxed);
    }
}
