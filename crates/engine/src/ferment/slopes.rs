//! The rates of change for whoever integrates them in another way.

use super::rates::Kernel;
use super::{Dough, State};
use quantity::Celsius;

/// The right-hand side of the model, for one dough between two mixings.
///
/// ```
/// use engine::{culture::ripe_starter, flour::Flour, parameters::ParameterSet};
/// use quantity::{Celsius, Kilopascal, Percent};
/// let flours = [(Flour::white("white"), Percent(100.0))];
/// let set = ParameterSet::default_set();
/// let starter = ripe_starter(&flours, Percent(100.0), Kilopascal(101.325), set).unwrap();
/// let mut ph = 4.0;
/// let slopes = starter.slopes().at(&starter.state, Celsius(25.0), &mut ph);
/// assert!(slopes.co2_made > 0.0 && slopes.starch < 0.0);
/// ```
pub struct Slopes<'d> {
    kernel: Kernel<'d, f64>,
}

impl Dough {
    /// How fast its state changes, as a function of state and temperature.
    pub fn slopes(&self) -> Slopes<'_> {
        Slopes { kernel: Kernel::new(self) }
    }
}

impl Slopes<'_> {
    /// Change of every state variable, 1/h. `ph` is where the search for the pH starts, and its
    /// result.
    pub fn at(&self, state: &State, temp: Celsius, ph: &mut f64) -> State {
        self.kernel.rates(state, &self.kernel.warmth(temp.0), ph).change
    }
}
