//! What one dough costs, counted.

use super::{Ensemble, one_register};
use crate::numerics::lanes::{Counted, Operations};
use crate::run::{Draw, RunError};

impl Ensemble<'_> {
    /// Arithmetic and steps of one whole dough, in the kitchen as drawn.
    ///
    /// # Errors
    /// [`RunError`] when something cannot be mixed.
    pub fn count(&self, draw: impl Fn() -> Draw) -> Result<Operations, RunError> {
        let (done, told) = Counted::while_doing(|| {
            let draw = Draw::gather(|_| draw());
            one_register::<Counted>(self, &draw)
        });
        told.map(|_| done)
    }
}
