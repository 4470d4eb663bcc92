//! From a belief to kitchens that differ from the one written down.

use super::STEP_MIN;
use crate::belief::{Draws, Uncertain};
use crate::kitchen::Kitchen;
use crate::run::Draw;

/// Kitchens drawn from a belief, against the one a setting has.
#[derive(Debug, Clone, Copy)]
pub struct Kitchens<'d> {
    /// The draws.
    pub draws: &'d Draws,
    /// Room of the setting's kitchen, °C: what a drawn temperature is compared with.
    pub room: f64,
    /// Its fridge, °C.
    pub fridge: f64,
}

impl<'d> Kitchens<'d> {
    /// Kitchens around one that is written down. A belief that holds a room or a fridge by its
    /// temperature takes the place of the written one; its daily rise and fall stays.
    pub fn around(kitchen: &Kitchen, draws: &'d Draws) -> Self {
        let hours = kitchen.room.len().max(1) as f64;
        let room = kitchen.room.iter().map(|(_, t)| t.0).sum::<f64>() / hours;
        Self { draws, room, fridge: kitchen.fridge.air.0 }
    }

    /// Room of one kitchen, °C.
    pub fn room_of(&self, lane: u32) -> f64 {
        let what = Uncertain::Room;
        let absolute = self.draws.belief().get(what).is_some_and(|q| q.unit.neutral().is_none());
        match self.draws.value(what, lane) {
            Some(x) if absolute => x,
            x => self.room + x.unwrap_or(0.0),
        }
    }

    /// One kitchen.
    pub fn draw(&self, lane: usize) -> Draw {
        self.draw_with(|what| self.draws.probability(what, lane as u32))
    }

    /// A kitchen by the probability at which each quantity stands.
    pub fn draw_with(&self, probability: impl Fn(Uncertain) -> f64) -> Draw {
        let mut d = Draw { longest_min: STEP_MIN, ..Draw::as_written() };
        for q in &self.draws.belief().quantities {
            let x = q.at(probability(q.what));
            let absolute = q.unit.neutral().is_none();
            match q.what {
                Uncertain::YeastVigour => d.yeast_vigour = x,
                Uncertain::LabVigour => d.lab_vigour = x,
                Uncertain::StarterRipeness => d.starter_ripeness = x,
                Uncertain::StarterLag => d.starter_lag = x,
                Uncertain::Room => d.room = if absolute { x - self.room } else { x },
                Uncertain::Fridge => d.fridge += if absolute { x - self.fridge } else { x },
                Uncertain::FridgeSpot => d.fridge += x,
                Uncertain::DoughAtMix => d.dough_at_mix += x,
                // who trusts a thermometer that shows too much mixes too cold
                Uncertain::Thermometer => {
                    d.thermometer = x;
                    d.dough_at_mix -= x;
                }
                Uncertain::Scale => d.scale = x,
                Uncertain::Vessel => d.vessel = x,
                Uncertain::OvenKnob => d.oven_knob = x,
                Uncertain::OvenTransfer => d.oven_transfer = x,
                Uncertain::CrumbConduction => d.crumb_conduction = x,
                Uncertain::Browning => d.browning = x,
                Uncertain::FlourAmylase => d.flour_amylase = x,
                Uncertain::FlourBuffer => d.flour_buffer = x,
                Uncertain::FlourRetention => d.flour_retention = x,
                Uncertain::HydrationError => d.water = x,
                Uncertain::Judgement => d.judgement = x,
            }
        }
        d
    }
}
