//! The numbers of the bread: as first specified, and as mended.

use crate::properties::CrumbConductivity;

/// The numbers of the bread, as opposed to the oven's.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BakeParameters {
    /// Conductivity of crumb and crust.
    pub conductivity: CrumbConductivity,
    /// Drying of a moist skin below boiling, kg/(Pa m² s).
    pub skin_drying: f64,
    /// Dry crust over a moist layer at which that drying has halved, mm; infinite: never.
    pub skin_depth_mm: f64,
    /// Temperature at which the conductivity by vapour is half its full value, °C.
    pub vapour_half_deg_c: f64,
    /// How steeply it rises there, 1/K.
    pub vapour_slope_per_k: f64,
    /// Share of the conductivity by vapour that is lost once pores open, 0 to 1.
    pub vapour_escapes: f64,
    /// Share of the conductivity by vapour that moves its water along, 0 to 1.
    pub vapour_moves_water: f64,
    /// Share of the vapour made at a base on stone, steel or in a tin that stays inside, 0 to 1.
    pub held: f64,
    /// The same on paper or a mat, which lie tight.
    pub held_by_paper: f64,
    /// Whether the core's column touches the hearth, 0 or 1.
    pub contact: f64,
    /// Conductance from hearth to base: dry, and what wet dough adds at first, W/(m² K).
    pub contact_h: (f64, f64),
    /// Speed of browning; a baker's own calibration multiplies it.
    pub browning: f64,
    /// Lightness L* that browning tends to: 0 in the rate law as published.
    pub darkest: f64,
    /// Share of browning that a fully glossy skin lacks.
    pub gloss_pales: f64,
}

impl BakeParameters {
    /// As first specified.
    pub const FIRST: Self = Self {
        conductivity: CrumbConductivity::DEFAULT,
        skin_drying: 5e-9,
        skin_depth_mm: f64::INFINITY,
        vapour_half_deg_c: 80.0,
        vapour_slope_per_k: 0.1,
        vapour_escapes: 0.0,
        vapour_moves_water: 0.0,
        held: 0.0,
        held_by_paper: 0.0,
        contact: 0.0,
        contact_h: (100.0, 200.0),
        browning: 1.0,
        darkest: 0.0,
        gloss_pales: 0.0,
    };
    /// In use: one set for every loaf, *calibrated* together with the totals and roofs of
    /// [`Oven::HOME`](crate::hearth::Oven::HOME) and [`Oven::DECK`](crate::hearth::Oven::DECK) on
    /// two measured series (free round loaf, doi 10.14311/TPFM.2025.015; small cylinder, doi
    /// 10.1002/aic.10518), Balland's loaf, and the weight, times and colour of the trade's loaves.
    ///
    /// Vapour carries heat through closed pores, from about 40 °C on: on average 56 % of it from
    /// 30 to 71 °C. From where pores open (71 to 81 °C) two thirds of that are lost, because
    /// vapour flows off instead of going back and forth; hot open crumb has 62 % left. Foods 14
    /// (2025) 1649 gives 60 % while closed and those temperatures (*published*). In open pores
    /// six tenths of the vapour take their water along. Contact with the hearth: an aluminium
    /// block gives 50 to 115 (Front. Chem. 8 (2020) 511012, derived). Of the vapour made at a
    /// base some condenses inside, all of it on paper. Skin dries below boiling until crust
    /// lies over it. Browning tends to L* 27 (the darkest crust of one measured series has 25) at
    /// 1.1 times the published rate; a fully glossy skin browns a tenth slower (direction
    /// *published*, Altamirano-Fortoul 2012, size ours).
    pub const MENDED: Self = Self {
        conductivity: CrumbConductivity { k_dry: 0.105, k_cold: 0.18, k_vapour: 0.93 },
        skin_drying: 8.3e-09,
        skin_depth_mm: 0.5,
        vapour_half_deg_c: 60.0,
        vapour_slope_per_k: 0.094,
        vapour_escapes: 0.68,
        vapour_moves_water: 0.6,
        held: 0.4,
        held_by_paper: 1.0,
        contact: 1.0,
        contact_h: (98.0, 135.0),
        browning: 1.1,
        darkest: 27.0,
        gloss_pales: 0.11,
    };

    /// A set by name: `first` or `mended`.
    pub fn named(name: &str) -> Option<&'static Self> {
        match name {
            "first" => Some(&Self::FIRST),
            "mended" => Some(&Self::MENDED),
            _ => None,
        }
    }

    pub(super) fn sound(&self) -> Self {
        let within =
            |x: f64, lo: f64, hi: f64, or: f64| if x.is_nan() { or } else { x.clamp(lo, hi) };
        let first = &Self::FIRST;
        let k = &self.conductivity;
        Self {
            conductivity: CrumbConductivity {
                k_dry: within(k.k_dry, 0.01, 5.0, 0.12),
                k_cold: within(k.k_cold, 0.01, 5.0, 0.2),
                k_vapour: within(k.k_vapour, 0.0, 5.0, 0.8),
            },
            skin_drying: within(self.skin_drying, 0.0, 1e-6, 0.0),
            skin_depth_mm: within(self.skin_depth_mm, 0.01, f64::INFINITY, f64::INFINITY),
            vapour_half_deg_c: within(self.vapour_half_deg_c, 0.0, 200.0, 80.0),
            vapour_slope_per_k: within(self.vapour_slope_per_k, 0.0, 1.0, 0.1),
            vapour_escapes: within(self.vapour_escapes, 0.0, 1.0, 0.0),
            vapour_moves_water: within(self.vapour_moves_water, 0.0, 1.0, 0.0),
            held: within(self.held, 0.0, 1.0, 0.0),
            held_by_paper: within(self.held_by_paper, 0.0, 1.0, 0.0),
            contact: within(self.contact, 0.0, 1.0, 0.0),
            contact_h: (
                within(self.contact_h.0, 0.0, 2000.0, first.contact_h.0),
                within(self.contact_h.1, 0.0, 2000.0, first.contact_h.1),
            ),
            browning: within(self.browning, 0.0, 20.0, 1.0),
            darkest: within(self.darkest, 0.0, 60.0, 0.0),
            gloss_pales: within(self.gloss_pales, 0.0, 1.0, 0.0),
        }
    }
}
