//! One column of bread from core to surface: heat comes in, the evaporation front moves in.
//!
//! Finite volumes, backward Euler, one unknown temperature a cell; moisture follows it on the
//! drying curve. Newton's correction is made in heat, not in temperature, so that the kink at
//! boiling does no harm. What a step leaves unbalanced is put on the account of the next, so
//! heat is conserved even where the iteration stops early. No allocation.

use super::drying::{Drying, Wet};
use super::{BakeParameters, Depth};
use crate::numerics::Tridiagonal;
use crate::properties::{
    LIQUID_WATER_CP, VAPOUR_GAS_CONSTANT, ZERO_CELSIUS_K, crumb_enthalpy, latent_heat,
    vapour_enthalpy, water_activity, water_saturation, water_saturation_slope,
};
use quantity::{Celsius, Millimetres};

/// Stefan and Boltzmann's constant, W/(m² K⁴); exact since 2019.
const STEFAN_BOLTZMANN: f64 = 5.670_374_419e-8;
/// Crowding of the cells towards the surface: 1 is even.
const CROWDING: f64 = 1.4;
/// Iterations at most; four to five are usual.
const ITERATIONS: usize = 25;
/// Temperature that stays unbalanced at most, K; carried to the next step.
const TOLERANCE_K: f64 = 1e-3;
/// Heat capacity by which that is judged, J/(kg K) per solids.
const TOLERANCE_CP: f64 = 2000.0;
/// Heat and mass go through the same film of air: Le^(2/3), and its ρ c as 1.05 · 353/T · 1010.
/// *From memory*.
const LEWIS: f64 = 0.91;
/// More than this is not owed to the next step, J per kg solids: some 50 K.
const OWED_MOST: f64 = 1e5;
/// Drying of the skin cools it by this much in a step at most, K; heat from outside makes up
/// for it in the same step.
const SKIN_COOLS_K: f64 = 40.0;
/// Below this moisture a cell counts as dry skin: it gives nothing away below boiling.
const SKIN_DRY_W: f64 = 0.10;

/// What stands around a column during one step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Boundary {
    /// Air, °C.
    pub(crate) air: f64,
    /// Walls, °C.
    pub(crate) wall: f64,
    /// Convection, W/(m² K).
    pub(crate) convection: f64,
    /// Emissivity seen, 0 to 1.
    pub(crate) emissivity: f64,
    /// Vapour in the air, Pa.
    pub(crate) vapour_pa: f64,
    /// Share of the surface that lies on the hearth.
    pub(crate) contact: f64,
    /// Conductance to the hearth, W/(m² K).
    pub(crate) contact_h: f64,
    /// Top of the hearth, °C.
    pub(crate) plate: f64,
    /// Share of the surface that takes heat but holds vapour back.
    pub(crate) held: f64,
}

/// The running accounts of a column, per m² of its surface.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Ledger {
    /// Heat conducted in, J.
    pub(crate) heat_in: f64,
    /// Carried off by vapour, J.
    pub(crate) heat_out: f64,
    /// Heat that flowed in either direction, J: what errors are measured against.
    pub(crate) turned_over: f64,
    /// Vapour that left the bread, kg.
    pub(crate) vapour: f64,
    /// Steam that condensed on it, kg.
    pub(crate) condensed: f64,
}

/// A column of N cells, core first. Masses are kg of dry solids per m² of outer surface.
#[derive(Debug, Clone)]
pub(crate) struct Column<const N: usize> {
    /// Temperatures, °C.
    pub(crate) t: [f64; N],
    /// Moistures, kg per kg solids.
    pub(crate) w: [f64; N],
    /// Surface, °C.
    pub(crate) surface: f64,
    /// Film of condensed steam, kg/m².
    pub(crate) film: f64,
    /// Accounts.
    pub(crate) ledger: Ledger,
    /// Moisture at the start.
    w0: f64,
    /// Solids.
    mass: [f64; N],
    /// Area of the inner face over the distances to it from both sides, and the distances, m.
    area: [f64; N],
    /// From the centre of the cell before to the inner face.
    before: [f64; N],
    /// From the inner face to the centre.
    after: [f64; N],
    /// Centres, m from the core.
    centre: [f64; N],
    /// From the last centre to the surface, m.
    skin: f64,
    /// Radius, m.
    radius: f64,
    /// Heat owed from the last step, J per kg solids.
    owed: [f64; N],
    /// Guesses of the knot in the drying table.
    near: [usize; N],
    /// Vapour held back in the last step, kg, and its heat, J.
    held: (f64, f64),
    /// Share of the held surface that may hold: the inside has room for condensing.
    room: f64,
    solids: f64,
    heat_start: f64,
}

impl<const N: usize> Column<N> {
    /// A column of radius `r` m and curvature `m`, baked density `rho` kg/m³, moisture `w0`;
    /// `start` gives the temperature at a part (0 core to 1 skin) of the way out.
    pub(crate) fn new(r: f64, m: f64, rho: f64, w0: f64, start: impl Fn(f64, f64) -> f64) -> Self {
        let face = |i: usize| r * (1.0 - libm::pow(1.0 - i as f64 / N as f64, CROWDING));
        let outer = libm::pow(r, m);
        let solids_density = rho / (1.0 + w0);
        let mut column = Self {
            t: [0.0; N],
            w: [w0; N],
            surface: 0.0,
            film: 0.0,
            ledger: Ledger::default(),
            w0,
            mass: [0.0; N],
            area: [0.0; N],
            before: [0.0; N],
            after: [0.0; N],
            centre: [0.0; N],
            skin: 0.0,
            radius: r,
            owed: [0.0; N],
            near: [0; N],
            held: (0.0, 0.0),
            room: 1.0,
            solids: 0.0,
            heat_start: 0.0,
        };
        for i in 0..N {
            let (a, b) = (face(i), face(i + 1));
            let volume = (libm::pow(b, m + 1.0) - libm::pow(a, m + 1.0)) / (m + 1.0);
            column.mass[i] = solids_density * volume / outer;
            column.centre[i] = 0.5 * (a + b);
            column.t[i] = start(a / r, b / r);
            if i > 0 {
                column.area[i] = libm::pow(a, m) / outer;
                column.before[i] = a - column.centre[i - 1];
                column.after[i] = column.centre[i] - a;
            }
            column.heat_start += column.mass[i] * crumb_enthalpy(Celsius(column.t[i]), w0);
        }
        column.skin = r - column.centre[N - 1];
        column.surface = column.t[N - 1];
        column.solids = column.mass.iter().sum();
        column
    }

    /// Moves on by `dt` seconds.
    pub(crate) fn step(
        &mut self,
        dt: f64,
        around: &Boundary,
        parameters: &BakeParameters,
        drying: &Drying,
    ) {
        let mut k = [0.0; N];
        let open = self.t.map(openness);
        let mut by_vapour = [0.0; N]; // share of k that is vapour crossing pores
        let inverse_w0 = 1.0 / self.w0;
        let crumb = &parameters.conductivity;
        for i in 0..N {
            let s = (self.w[i] * inverse_w0).min(1.0);
            let vapour = crumb.k_vapour
                / (1.0
                    + libm::exp(
                        -parameters.vapour_slope_per_k * (self.t[i] - parameters.vapour_half_deg_c),
                    ))
                * (1.0 - parameters.vapour_escapes * open[i]);
            k[i] = crumb.k_dry + (crumb.k_cold + vapour - crumb.k_dry) * s;
            by_vapour[i] = vapour * s / k[i];
        }
        let mut g = [0.0; N];
        for i in 1..N {
            g[i] = self.area[i] / (self.before[i] / k[i - 1] + self.after[i] / k[i]);
        }
        let g_skin = k[N - 1] / self.skin;

        // start of the step: old heat, what is owed, water moved by vapour, skin drying
        let mut wet = [Wet { w: 0.0, e: 0.0, boils: 0.0 }; N];
        for (i, cell) in wet.iter_mut().enumerate() {
            cell.w = self.w[i];
            cell.e = crumb_enthalpy(Celsius(self.t[i]), self.w[i]) - self.owed[i];
        }
        let fraction: [f64; N] =
            std::array::from_fn(|i| parameters.vapour_moves_water * open[i] * by_vapour[i]);
        self.shuttle(dt, &g, &fraction, &mut wet);
        self.condense_held(drying, &open, &mut wet);
        let skin_vapour = self.dry_skin(dt, around, parameters, drying, &mut wet);
        let lowest = drying.lowest();
        for (i, cell) in wet.iter_mut().enumerate() {
            // a cell far below boiling needs no boiling point of its own
            cell.boils = if self.t[i] < lowest - 30.0 {
                lowest
            } else {
                drying.boils(cell.w, &mut self.near[i])
            };
        }

        let film = Film::new(around, self.surface, self.film, dt);
        let held = around.held * self.room;
        let through = 1.0 - held;
        let mut t = self.t;
        let mut w = self.w;
        let mut surface = self.surface;
        let inverse_dt = 1.0 / dt;
        let (mut q, mut condensed, mut made, mut made_heat): (f64, f64, f64, f64);
        let mut round = 0;
        loop {
            let mut slope = 0.0;
            for _ in 0..2 {
                let (flux, d) = film.flux(around, surface);
                slope = d;
                let f = flux - g_skin * (surface - t[N - 1]);
                surface = (surface - f / (d - g_skin)).clamp(-150.0, 600.0);
            }
            condensed = film.condensed(surface).0;
            let effective = -slope * g_skin / (g_skin - slope);
            q = g_skin * (surface - t[N - 1]);

            let (mut lower, mut diagonal, mut upper) = ([0.0; N], [0.0; N], [0.0; N]);
            let mut change = [0.0; N];
            let (mut heats, mut slopes) = ([0.0; N], [0.0; N]);
            let mut worst: f64 = 0.0;
            let mut stream = 0.0; // vapour from the cells further in, kg/(m² s)
            made = 0.0;
            made_heat = 0.0;
            for i in 0..N {
                let trial = drying.trial(t[i], &wet[i], &mut self.near[i]);
                w[i] = trial.w;
                heats[i] = trial.heat;
                slopes[i] = trial.slope;
                let inner = if i > 0 { g[i] * (t[i - 1] - t[i]) } else { 0.0 };
                let (outer, outer_g) = if i + 1 < N {
                    (g[i + 1] * (t[i + 1] - t[i]), g[i + 1])
                } else {
                    (q, effective)
                };
                let rate = self.mass[i] * inverse_dt;
                let mut residual = rate * trial.heat - inner - outer;
                let mut carried = 0.0;
                if stream > 0.0 {
                    // vapour warms or cools to the cell it passes: d h_v/dT
                    carried = stream * (LIQUID_WATER_CP - 2440.0);
                    residual += carried * (t[i] - t[i - 1]);
                }
                diagonal[i] = rate * trial.slope + g[i] + outer_g + carried;
                lower[i] = -g[i] - carried;
                upper[i] = if i + 1 < N { -g[i + 1] } else { 0.0 };
                change[i] = -residual;
                self.owed[i] = (residual / rate).clamp(-OWED_MOST, OWED_MOST);
                worst = worst.max(self.owed[i].abs());
                let vapour = rate * (wet[i].w - trial.w);
                made += vapour;
                made_heat += vapour * vapour_enthalpy(Celsius(t[i]));
                stream += through * vapour;
            }
            round += 1;
            if worst <= TOLERANCE_K * TOLERANCE_CP || round >= ITERATIONS {
                break;
            }
            Tridiagonal::factor(&lower, &diagonal, &upper).solve(&mut change);
            for i in 0..N {
                if t[i].max(t[i] + change[i]) < lowest - 30.0 {
                    t[i] += change[i];
                } else {
                    if wet[i].boils <= lowest {
                        wet[i].boils = drying.boils(wet[i].w, &mut self.near[i]);
                    }
                    let target = heats[i] + slopes[i] * change[i];
                    t[i] = drying.temperature(target, &wet[i], &mut self.near[i]);
                }
            }
        }

        let vapour = through * made * dt;
        self.held = (held * made * dt, held * made_heat * dt);
        // the stream leaves at the temperature of the outermost cell
        let leaving = vapour_enthalpy(Celsius(t[N - 1]));
        self.ledger.heat_in += q * dt;
        self.ledger.turned_over += q.abs() * dt;
        self.ledger.heat_out += vapour * leaving + skin_vapour.1;
        self.ledger.vapour += vapour + skin_vapour.0;
        self.ledger.condensed += condensed.max(0.0) * dt;
        self.film = (self.film + condensed * dt).max(0.0);
        if self.film < 1e-9 {
            self.film = 0.0;
        }
        self.t = t;
        self.w = w;
        self.surface = surface;
        if around.held > 0.0 {
            self.make_room(lowest);
        }
    }

    /// Water that vapour carries down the temperature gradient through open pores.
    ///
    /// In closed pores it goes back through the films. The heat it brings is in the conductivity already; here the water follows, with its
    /// sensible heat.
    fn shuttle(&self, dt: f64, g: &[f64; N], fraction: &[f64; N], wet: &mut [Wet; N]) {
        for (i, &g) in g.iter().enumerate().skip(1) {
            let drop = self.t[i] - self.t[i - 1];
            let (from, to) = if drop > 0.0 { (i, i - 1) } else { (i - 1, i) };
            if fraction[from] <= 0.0 {
                continue;
            }
            let flow = fraction[from] * g * drop / latent_heat(Celsius(self.t[from])) * dt;
            // never more than a tenth of what the cell has
            let flow = flow.abs().min(0.1 * self.mass[from] * self.w[from]);
            let heat = flow * LIQUID_WATER_CP * self.t[from];
            wet[from].w -= flow / self.mass[from];
            wet[from].e -= heat / self.mass[from];
            wet[to].w += flow / self.mass[to];
            wet[to].e += heat / self.mass[to];
        }
    }

    /// Vapour held back in the last step condenses in open crumb that is below boiling.
    fn condense_held(&mut self, drying: &Drying, open: &[f64; N], wet: &mut [Wet; N]) {
        let (water, heat) = self.held;
        self.held = (0.0, 0.0);
        if water <= 0.0 {
            return;
        }
        let mut weight = [0.0; N];
        let mut sum = 0.0;
        for (i, weight) in weight.iter_mut().enumerate() {
            let room = (drying.lowest() - self.t[i]).max(0.0);
            *weight = self.mass[i] * open[i] * room;
            sum += *weight;
        }
        if sum <= 0.0 {
            // nowhere to go: it stays where it was made, outermost
            weight[N - 1] = 1.0;
            sum = 1.0;
        }
        for (i, cell) in wet.iter_mut().enumerate() {
            let part = weight[i] / sum / self.mass[i];
            cell.w += water * part;
            cell.e += heat * part;
        }
    }

    /// How much of the held surface may hold in the next step: all while the crumb is on
    /// average 3 K below boiling, none when it boils.
    fn make_room(&mut self, lowest: f64) {
        let cold: f64 = self.t.iter().zip(&self.mass).map(|(t, m)| m * (lowest - t).max(0.0)).sum();
        self.room = (cold / self.solids / 3.0).min(1.0);
    }

    /// Drying of a moist skin below boiling; gives vapour kg and its heat J.
    fn dry_skin(
        &self,
        dt: f64,
        around: &Boundary,
        parameters: &BakeParameters,
        drying: &Drying,
        wet: &mut [Wet; N],
    ) -> (f64, f64) {
        if parameters.skin_drying <= 0.0 || self.film > 0.0 {
            return (0.0, 0.0);
        }
        let Some(i) = (0..N).rev().find(|&i| self.w[i] > SKIN_DRY_W) else {
            return (0.0, 0.0);
        };
        let t = self.t[i];
        let lowest = drying.lowest();
        if t >= lowest + 40.0 {
            return (0.0, 0.0);
        }
        let boils = drying.boils(self.w[i], &mut self.near[i].clone());
        let near = ((boils - t) / 5.0).clamp(0.0, 1.0);
        let pull = water_activity(Celsius(t), self.w[i]) * 1000.0 * water_saturation(Celsius(t)).0
            - around.vapour_pa;
        if near <= 0.0 || pull <= 0.0 {
            return (0.0, 0.0);
        }
        // dry crust above it is in the vapour's way
        let crust = 1000.0 * (self.radius - self.centre[i] - self.skin);
        let open =
            (1.0 - around.contact.max(around.held)) / (1.0 + crust / parameters.skin_depth_mm);
        let evaporates = vapour_enthalpy(Celsius(t));
        let flow = (open * parameters.skin_drying * pull * near * dt)
            .min(0.5 * self.mass[i] * (self.w[i] - 0.5 * SKIN_DRY_W))
            .min(0.5 * self.mass[i] * wet[i].w)
            .min(self.mass[i] * (1391.0 + LIQUID_WATER_CP * wet[i].w) * SKIN_COOLS_K / evaporates);
        let heat = flow * evaporates;
        wet[i].w -= flow / self.mass[i];
        wet[i].e -= heat / self.mass[i];
        (flow, heat)
    }

    /// Water lost over the dough's mass, film counted as not lost.
    pub(crate) fn loss(&self) -> f64 {
        let water: f64 = self.mass.iter().zip(&self.w).map(|(m, w)| m * w).sum::<f64>();
        let all = self.solids * self.w0;
        (all - water - self.held.0 - self.film) / (self.solids * (1.0 + self.w0))
    }

    /// Depth to which moisture has fallen below 0.2, m.
    pub(crate) fn dry_zone(&self) -> f64 {
        const DRY: f64 = 0.2;
        for i in (1..N).rev() {
            let (inner, outer) = (self.w[i - 1], self.w[i]);
            if outer < DRY && inner >= DRY {
                let part = (inner - DRY) / (inner - outer);
                let x = self.centre[i - 1] + part * (self.centre[i] - self.centre[i - 1]);
                return self.radius - x;
            }
        }
        if self.w[0] < DRY { self.radius } else { 0.0 }
    }

    /// Mean over the solids, °C.
    pub(crate) fn mean(&self) -> f64 {
        self.t.iter().zip(&self.mass).map(|(t, m)| t * m).sum::<f64>() / self.solids
    }

    /// Water that is unaccounted for, over all water.
    pub(crate) fn water_gap(&self) -> f64 {
        let water: f64 = self.mass.iter().zip(&self.w).map(|(m, w)| m * w).sum();
        (water + self.held.0 + self.ledger.vapour - self.solids * self.w0) / (self.solids * self.w0)
    }

    /// Heat that is unaccounted for, over the heat that flowed.
    pub(crate) fn heat_gap(&self) -> f64 {
        let now: f64 =
            (0..N).map(|i| self.mass[i] * crumb_enthalpy(Celsius(self.t[i]), self.w[i])).sum();
        let gap = now + self.held.1 - self.heat_start - self.ledger.heat_in + self.ledger.heat_out;
        gap / self.ledger.turned_over.max(1.0)
    }

    /// From core to surface.
    pub(crate) fn depths(&self) -> Vec<Depth> {
        (0..N)
            .map(|i| Depth {
                below: Millimetres(1000.0 * (self.radius - self.centre[i])),
                share: self.mass[i] / self.solids,
                temperature: Celsius(self.t[i]),
                water: self.w[i],
            })
            .collect()
    }

    /// Dough per m² of surface, kg.
    pub(crate) fn dough(&self) -> f64 {
        self.solids * (1.0 + self.w0)
    }
}

/// How open the pores are, 0 to 1: dough is closed foam, crumb is open.
///
/// A switch 3 K wide at 76 °C. Zhang et al., Foods 14 (2025) 1649: pores open at 71 to 81 °C
/// (*published*); the form is ours.
pub(crate) fn openness(t: f64) -> f64 {
    1.0 / (1.0 + libm::exp(-(t - 76.0) / 3.0))
}

/// The film of air and condensed steam at the surface during one step.
struct Film {
    /// Mass transfer, kg/(Pa m² s); zero when there is neither film nor steam to condense.
    transfer: f64,
    /// What the film can give, kg/(m² s), as a negative number.
    least: f64,
    vapour_pa: f64,
    /// Share of the surface in the air.
    open: f64,
    wall4: f64,
}

impl Film {
    fn new(around: &Boundary, surface: f64, film: f64, dt: f64) -> Self {
        let kelvin = 0.5 * (around.air + surface) + ZERO_CELSIUS_K;
        let air_heat = 1.05 * 1010.0 * (353.0 / kelvin) * LEWIS;
        let wall = around.wall + ZERO_CELSIUS_K;
        Self {
            transfer: around.convection / air_heat / (VAPOUR_GAS_CONSTANT * kelvin),
            least: -film / dt,
            vapour_pa: around.vapour_pa,
            open: 1.0 - around.contact,
            wall4: wall * wall * wall * wall,
        }
    }

    /// Steam that condenses on the air's share of the surface, kg/(m² s), and its slope.
    fn condensing(&self, surface: f64) -> (f64, f64) {
        // at 105 °C no steam condenses in any kitchen: nothing to work out but the film's end
        if surface > 105.0 || self.vapour_pa <= 0.0 {
            return (self.least, 0.0);
        }
        let t = Celsius(surface);
        let flow = self.transfer * (self.vapour_pa - 1000.0 * water_saturation(t).0);
        if flow < self.least {
            return (self.least, 0.0);
        }
        (flow, -self.transfer * 1000.0 * water_saturation_slope(t))
    }

    /// As [`condensing`](Self::condensing), per m² of the whole surface.
    fn condensed(&self, surface: f64) -> (f64, f64) {
        let (flow, slope) = self.condensing(surface);
        (self.open * flow, self.open * slope)
    }

    /// Heat into the surface, W/m², and its slope.
    fn flux(&self, around: &Boundary, surface: f64) -> (f64, f64) {
        let kelvin = surface + ZERO_CELSIUS_K;
        let cube = kelvin * kelvin * kelvin;
        let radiation = around.emissivity * STEFAN_BOLTZMANN;
        let (steam, steam_slope) = self.condensing(surface);
        let latent = latent_heat(Celsius(surface));
        let air = around.convection * (around.air - surface)
            + radiation * (self.wall4 - cube * kelvin)
            + steam * latent;
        let air_slope = -around.convection - 4.0 * radiation * cube + steam_slope * latent;
        (
            self.open * air + around.contact * around.contact_h * (around.plate - surface),
            self.open * air_slope - around.contact * around.contact_h,
        )
    }
}
