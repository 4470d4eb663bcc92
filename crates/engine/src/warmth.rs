//! Dough temperature before the oven: the tub in the fridge, the bowl by the stove.
//!
//! [`Body`] conducts heat along one coordinate, from the core to the skin, between a slab
//! and a sphere; [`Lumped`] is the one-number form for previews. [`Surroundings`] say how
//! warm it is around the dough. Coefficients are handbook estimates: no measured cooling
//! curve of dough in a home fridge was found to hold them to, so treat an hour's lag as
//! ±20 %.
//!
//! Left out: latent heat of drying skin, condensation on cold dough, convection inside very
//! liquid starters, the fridge's thermostat cycle (the dough filters it: use the mean).

mod body;
pub mod series;
mod surroundings;
mod vessel;

#[cfg(test)]
mod tests;

use crate::numerics::lanes::Lanes;
pub use crate::properties::DoughThermal;
pub use body::{Body, Lumped};
pub use surroundings::{Around, Profile, ProfileError, Surroundings};
pub use vessel::{Air, Shape, Vessel, geometry};

/// Heat set free per mole of CO2 that yeast and heterofermentative lactic acid bacteria make, J.
///
/// About 100 kJ per mole of glucose fermented to two of ethanol and two of CO2, half kept
/// by the cells or not released. *From memory*, rounded, ±20 %.
pub const FERMENTATION_HEAT_PER_MOL_CO2: f64 = 50e3;

/// Heat of fermentation in W per kg of dough, from the rate of CO2 in mmol/(kg h).
///
/// About 0.57 W/kg at one litre of gas per kg and hour: 0.7 K/h if none escaped. Negative
/// or unknown rates give none.
#[inline(always)]
pub fn heat_of_fermentation<L: Lanes>(co2_mmol_per_kg_h: L) -> L {
    co2_mmol_per_kg_h.at_least(0.0) * (1e-3 * FERMENTATION_HEAT_PER_MOL_CO2 / 3600.0)
}
