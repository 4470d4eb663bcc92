//! How far a long search is, for whoever waits for it.

use std::sync::atomic::{AtomicUsize, Ordering};

/// A part of a piece of work. What is done of the whole is told as a share, 0 to 1, from any
/// thread; it may be told late or twice, and changes nothing.
#[derive(Clone, Copy)]
pub struct Part<'p> {
    tell: &'p (dyn Fn(f64) + Sync),
    from: f64,
    to: f64,
}

impl std::fmt::Debug for Part<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Part({} to {})", self.from, self.to)
    }
}

impl<'p> Part<'p> {
    /// Nobody waits.
    pub const UNTOLD: Part<'static> = Part { tell: &|_| {}, from: 0.0, to: 1.0 };

    /// All of the work.
    pub fn whole(tell: &'p (dyn Fn(f64) + Sync)) -> Self {
        Self { tell, from: 0.0, to: 1.0 }
    }

    /// From one share of this part to another.
    pub(crate) fn within(self, from: f64, to: f64) -> Self {
        let at = |share: f64| self.from + (self.to - self.from) * share;
        Self { from: at(from), to: at(to), ..self }
    }

    /// So much of this part is done, 0 to 1.
    pub fn at(self, share: f64) {
        (self.tell)(self.from + (self.to - self.from) * share);
    }

    /// This part is done.
    pub(crate) fn done(self) {
        (self.tell)(self.to);
    }

    /// This part is so many pieces, done in any order.
    pub(crate) fn pieces(self, of: usize) -> Pieces<'p> {
        Pieces { part: self, of, done: AtomicUsize::new(0) }
    }
}

/// A part in pieces.
pub(crate) struct Pieces<'p> {
    part: Part<'p>,
    of: usize,
    done: AtomicUsize,
}

impl Pieces<'_> {
    /// One more is done.
    pub(crate) fn one(&self) {
        let done = self.done.fetch_add(1, Ordering::Relaxed) + 1;
        self.part.within(0.0, (done as f64 / self.of.max(1) as f64).min(1.0)).done();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Mutex;

    #[test]
    fn parts_of_parts_add_up() {
        let heard = Mutex::new(Vec::new());
        let tell = |share: f64| heard.lock().unwrap().push(share);
        let whole = Part::whole(&tell);
        let half = whole.within(0.5, 1.0).pieces(2);
        half.one();
        half.one();
        half.one(); // more than was said
        whole.within(0.0, 0.25).done();
        assert_eq!(*heard.lock().unwrap(), [0.75, 1.0, 1.0, 0.25]);
    }
}
