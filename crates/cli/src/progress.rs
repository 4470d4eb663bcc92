//! How far a long run is, on one line of the terminal; nothing where nobody watches.

use std::io::{IsTerminal, Write};
use std::time::{Duration, Instant};

/// Runs shorter than this say nothing.
const PATIENCE: Duration = Duration::from_millis(500);

/// One line that comes and goes.
pub(crate) struct Progress {
    what: &'static str,
    began: Instant,
    /// Percent last shown.
    shown: Option<u32>,
    watched: bool,
}

impl Progress {
    #[expect(clippy::disallowed_methods, reason = "how long a person has waited, nothing else")]
    pub(crate) fn new(what: &'static str) -> Self {
        let watched = std::io::stderr().is_terminal();
        Self { what, began: Instant::now(), shown: None, watched }
    }

    /// Shows a share of the work, 0 to 1. Writing to the terminal may fail: then it is not seen.
    pub(crate) fn at(&mut self, share: f64) {
        let percent = (100.0 * share.clamp(0.0, 1.0)) as u32;
        if !self.watched || self.began.elapsed() < PATIENCE || self.shown >= Some(percent) {
            return;
        }
        self.shown = Some(percent);
        let full = percent as usize / 5;
        let bar = format!("{}{}", "━".repeat(full), "─".repeat(20 - full));
        let mut to = std::io::stderr().lock();
        let _ = write!(to, "\r{} {bar} {percent:>3} %", self.what);
        let _ = to.flush();
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        if self.shown.is_some() {
            let mut to = std::io::stderr().lock();
            let _ = write!(to, "\r{}\r", " ".repeat(self.what.chars().count() + 28));
            let _ = to.flush();
        }
    }
}
