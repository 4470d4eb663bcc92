//! What every open page hears: that the notebook changed, and how far long work is.

use tokio::sync::broadcast;

/// One thing heard.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Heard {
    /// The notebook has another revision.
    Changed,
    /// Share of some work that is done, 0 to 1, under the key its asker gave.
    Progress {
        /// The asker's key.
        key: String,
        /// Done, 0 to 1.
        share: f64,
    },
    /// No more.
    Closing,
}

/// Tells all open pages.
#[derive(Debug, Clone)]
pub(crate) struct Live {
    all: broadcast::Sender<Heard>,
    /// Others may write to this notebook: it has to be looked at now and then.
    pub(crate) shared: bool,
}

impl Live {
    pub(crate) fn new(shared: bool) -> Self {
        Self { all: broadcast::Sender::new(256), shared }
    }

    pub(crate) fn tell(&self, heard: Heard) {
        // nobody listens: nobody to tell
        let _ = self.all.send(heard);
    }

    pub(crate) fn listen(&self) -> broadcast::Receiver<Heard> {
        self.all.subscribe()
    }

    pub(crate) fn close(&self) {
        self.tell(Heard::Closing);
    }
}
