//! One column of bread from core to surface: heat comes in, the evaporation front moves in.
//!
//! Finite volumes, backward Euler, one unknown temperature a cell; moisture follows it on the
//! drying curve. Newton's correction is made in heat, not in temperature, so that the kink at
//! boiling does no harm. What a step leaves unbalanced is put on the account of the next, so
//! heat is conserved even where the iteration stops early. No allocation.

use super::drying::{Drying, Line, Wet};
use super::{BakeParameters, Depth, Start};
use crate::numerics::Tridiagonal;
use crate::numerics::lanes::{Kernel, Lanes, Mask, exp, pow};
use crate::properties::{
    CrumbConductivity, LIQUID_WATER_CP, VAPOUR_GAS_CONSTANT, ZERO_CELSIUS_K, activity,
    crumb_j_per_kg, latent_j_per_kg, saturation_and_slope_kpa, saturation_kpa, vapour_j_per_kg,
};
use quantity::{Celsius, Millimetres};

/// Stefan and Boltzmann's constant, W/(m² K⁴); exact since 2019.
const STEFAN_BOLTZMANN: f64 = 5.670_374_419e-8;
/// Crowding of the cells towards the surface: 1 is even.
const CROWDING: f64 = 1.4;
/// Iterations at most; four to five are usual.
const ITERATIONS: usize = 25;
/// Heat capacity by which an imbalance is judged, J/(kg K) per solids.
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
pub(crate) struct Boundary<L = f64> {
    /// Air, °C.
    pub(crate) air: L,
    /// Walls, °C.
    pub(crate) wall: L,
    /// Convection, W/(m² K).
    pub(crate) convection: L,
    /// Emissivity seen, 0 to 1.
    pub(crate) emissivity: L,
    /// Vapour in the air, Pa.
    pub(crate) vapour_pa: L,
    /// Share of the surface that lies on the hearth.
    pub(crate) contact: L,
    /// Conductance to the hearth, W/(m² K).
    pub(crate) contact_h: f64,
    /// Top of the hearth, °C.
    pub(crate) plate: L,
    /// Share of the surface that takes heat but holds vapour back.
    pub(crate) held: L,
}

/// What a column is made of and how closely it is worked out.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Crumb<'a, L = f64> {
    pub(crate) parameters: &'a BakeParameters,
    pub(crate) drying: &'a Drying,
    /// Multiplies the conductivity of crumb, not of crust.
    pub(crate) conductivity: L,
    /// Temperature that stays unbalanced at most, K; carried to the next step.
    pub(crate) tolerance_k: f64,
    /// A cell that dries is dry outside and wet inside, one behind the other: where it is thick,
    /// its conductivity falls faster than its moisture. Ours, against the fine grid.
    pub(crate) thick_cells: bool,
}

/// The running accounts of a column, per m² of its surface.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Ledger<L = f64> {
    /// Heat conducted in, J.
    pub(crate) heat_in: L,
    /// Carried off by vapour, J.
    pub(crate) heat_out: L,
    /// Heat that flowed in either direction, J: what errors are measured against.
    pub(crate) turned_over: L,
    /// Vapour that left the bread, kg.
    pub(crate) vapour: L,
    /// Steam that condensed on it, kg.
    pub(crate) condensed: L,
}

/// A column of N cells, core first, or one in each lane. Masses are kg of dry solids per m² of
/// outer surface.
#[derive(Debug, Clone)]
pub(crate) struct Column<const N: usize, L = f64> {
    /// Temperatures, °C.
    pub(crate) t: [L; N],
    /// Moistures, kg per kg solids.
    pub(crate) w: [L; N],
    /// Surface, °C.
    pub(crate) surface: L,
    /// Film of condensed steam, kg/m².
    pub(crate) film: L,
    /// Accounts.
    pub(crate) ledger: Ledger<L>,
    /// Moisture at the start.
    w0: L,
    /// Solids, and one over them.
    mass: [L; N],
    per_mass: [L; N],
    /// Area of the inner face over the distances to it from both sides, and the distances, m.
    area: [L; N],
    /// From the centre of the cell before to the inner face.
    before: [L; N],
    /// From the inner face to the centre.
    after: [L; N],
    /// Centres, m from the core.
    centre: [L; N],
    /// From the last centre to the surface, m.
    skin: L,
    /// Radius, m.
    radius: L,
    /// Heat owed from the last step, J per kg solids.
    owed: [L; N],
    /// Guesses of the knot in the drying table.
    near: [L; N],
    /// Vapour held back in the last step, kg, and its heat, J.
    held: (L, L),
    /// Share of the held surface that may hold: the inside has room for condensing.
    room: L,
    solids: L,
    heat_start: L,
}

impl<const N: usize, L: Lanes> Column<N, L> {
    /// A column of radius `r` m and curvature `m`, baked density `rho` kg/m³, moisture `w0`;
    /// `start` are its temperatures.
    #[inline(always)]
    pub(crate) fn new(r: L, m: L, rho: L, w0: L, start: &Start<'_, L>) -> Self {
        let part = |i: usize| 1.0 - libm::pow(1.0 - i as f64 / N as f64, CROWDING);
        let outer = pow(r, m);
        let solids_density = rho / (w0 + 1.0);
        let (zero, none) = (L::splat(0.0), [L::splat(0.0); N]);
        let mut column = Self {
            t: none,
            w: [w0; N],
            surface: zero,
            film: zero,
            ledger: Ledger::default(),
            w0,
            mass: none,
            per_mass: none,
            area: none,
            before: none,
            after: none,
            centre: none,
            skin: zero,
            radius: r,
            owed: none,
            near: none,
            held: (zero, zero),
            room: L::splat(1.0),
            solids: zero,
            heat_start: zero,
        };
        for i in 0..N {
            let (a, b) = (r * part(i), r * part(i + 1));
            let volume = (pow(b, m + 1.0) - pow(a, m + 1.0)) / (m + 1.0);
            column.mass[i] = solids_density * volume / outer;
            column.per_mass[i] = L::splat(1.0) / column.mass[i];
            column.centre[i] = (a + b) * 0.5;
            column.t[i] = start.between(part(i), part(i + 1));
            if i > 0 {
                column.area[i] = pow(a, m) / outer;
                column.before[i] = a - column.centre[i - 1];
                column.after[i] = column.centre[i] - a;
            }
            column.solids += column.mass[i];
            column.heat_start += column.mass[i] * crumb_j_per_kg(column.t[i], w0);
        }
        column.skin = r - column.centre[N - 1];
        column.surface = column.t[N - 1];
        column
    }

    /// Moves on by `dt` seconds.
    pub(crate) fn step(&mut self, dt: f64, around: &Boundary<L>, crumb: &Crumb<'_, L>) {
        L::compute(Step { column: self, dt, around, crumb });
    }

    #[inline(always)]
    fn step_in_lanes(&mut self, dt: f64, around: &Boundary<L>, crumb: &Crumb<'_, L>) {
        let (zero, none) = (L::splat(0.0), [L::splat(0.0); N]);
        let (parameters, drying) = (crumb.parameters, crumb.drying);
        let mut per_k = none;
        let mut open = self.t;
        for open in &mut open {
            *open = openness(*open);
        }
        let mut by_vapour = none; // share of k that is vapour crossing pores
        let inverse_w0 = L::splat(1.0) / self.w0;
        let CrumbConductivity { k_dry, k_cold, k_vapour } = parameters.conductivity;
        for i in 0..N {
            let s = (self.w[i] * inverse_w0).at_most(1.0);
            let conducts = if crumb.thick_cells { s * s.root() } else { s };
            let over = self.t[i] - parameters.vapour_half_deg_c;
            let hot = exp(over * -parameters.vapour_slope_per_k) + 1.0;
            let stays = L::splat(1.0) - open[i] * parameters.vapour_escapes;
            let vapour = crumb.conductivity * k_vapour / hot * stays;
            let k = (crumb.conductivity * k_cold + vapour - k_dry) * conducts + k_dry;
            per_k[i] = L::splat(1.0) / k;
            by_vapour[i] = vapour * s * per_k[i];
        }
        let mut g = none;
        for i in 1..N {
            g[i] = self.area[i] / (self.before[i] * per_k[i - 1] + self.after[i] * per_k[i]);
        }
        let g_skin = L::splat(1.0) / (self.skin * per_k[N - 1]);

        // start of the step: old heat, what is owed, water moved by vapour, skin drying
        let mut wet = [Wet { w: zero, e: zero, boils: zero }; N];
        for (i, cell) in wet.iter_mut().enumerate() {
            cell.w = self.w[i];
            cell.e = crumb_j_per_kg(self.t[i], self.w[i]) - self.owed[i];
        }
        if parameters.vapour_moves_water > 0.0 {
            let mut fraction = none;
            for i in 0..N {
                fraction[i] = open[i] * by_vapour[i] * parameters.vapour_moves_water;
            }
            self.shuttle(dt, &g, &fraction, &mut wet);
        }
        self.condense_held(drying, &open, &mut wet);
        let skin_vapour = self.dry_skin(dt, around, parameters, drying, &mut wet);
        let lowest = L::splat(drying.lowest());
        // a cell far below boiling needs no boiling point of its own
        let warm = lowest - 30.0;
        let mut line = [Line::none(); N];
        for i in 0..N {
            let cold = self.t[i].below(warm);
            wet[i].boils = lowest;
            if !cold.all() {
                let boils = drying.boils(wet[i].w, &mut self.near[i]);
                wet[i].boils = L::select(cold, lowest, boils);
                if self.t[i].above(wet[i].boils).any() {
                    line[i] = drying.line(self.t[i]);
                }
            }
        }

        let film = Film::new(around, self.surface, self.film, dt);
        let held = around.held * self.room;
        let through = L::splat(1.0) - held;
        let mut t = self.t;
        let mut surface = self.surface;
        let mut lanes = L::Mask::splat(true); // those still out of balance
        let (mut lower, mut diagonal, mut upper, mut change) = (none, none, none, none);
        let (mut heats, mut slopes) = (none, none);
        let mut q;
        let per_dt = 1.0 / dt;
        let mut round = 0;
        loop {
            let mut slope = zero;
            let mut moved = surface;
            for _ in 0..2 {
                let (flux, d) = film.flux(around, moved);
                slope = d;
                let f = flux - g_skin * (moved - t[N - 1]);
                moved = (moved - f / (d - g_skin)).within(-150.0, 600.0);
            }
            surface = L::select(lanes, moved, surface);
            let effective = -slope * g_skin / (g_skin - slope);
            q = g_skin * (surface - t[N - 1]);

            let mut worst = zero;
            let mut stream = zero; // vapour from the cells further in, kg/(m² s)
            let mut inner = zero;
            for i in 0..N {
                let trial = Drying::trial(t[i], &wet[i], &line[i]);
                self.w[i] = trial.w;
                heats[i] = trial.heat;
                slopes[i] = trial.slope;
                let (outer, outer_g) = if i + 1 < N {
                    (g[i + 1] * (t[i + 1] - t[i]), g[i + 1])
                } else {
                    (q, effective)
                };
                let rate = self.mass[i] * per_dt;
                let mut residual = rate * trial.heat + inner - outer;
                inner = outer;
                let mut carried = zero;
                let streams = stream.above(zero);
                if streams.any() {
                    // vapour warms or cools to the cell it passes: d h_v/dT
                    let carries = stream * (LIQUID_WATER_CP - 2440.0);
                    carried = L::select(streams, carries, zero);
                    residual += carried * (t[i] - t[i.saturating_sub(1)]);
                }
                diagonal[i] = rate * trial.slope + g[i] + outer_g + carried;
                lower[i] = -g[i] - carried;
                upper[i] = if i + 1 < N { -g[i + 1] } else { zero };
                change[i] = -residual;
                self.owed[i] = (residual * self.per_mass[i] * dt).within(-OWED_MOST, OWED_MOST);
                worst = worst.larger(self.owed[i].size());
                stream += through * rate * (wet[i].w - trial.w);
            }
            round += 1;
            lanes = lanes & worst.above(L::splat(crumb.tolerance_k * TOLERANCE_CP));
            if !lanes.any() || round >= ITERATIONS {
                break;
            }
            Tridiagonal::factor(&lower, &diagonal, &upper).solve(&mut change);
            for i in 0..N {
                let next = t[i] + change[i];
                let cold = t[i].larger(next).below(warm);
                let mut moved = next;
                if !cold.all() {
                    let unknown = !cold & wet[i].boils.upto(lowest);
                    if unknown.any() {
                        let boils = drying.boils(wet[i].w, &mut self.near[i]);
                        wet[i].boils = L::select(unknown, boils, wet[i].boils);
                    }
                    let target = heats[i] + slopes[i] * change[i];
                    let (near, line) = (&mut self.near[i], &mut line[i]);
                    let warmed = drying.temperature(lanes & !cold, target, &wet[i], near, line);
                    moved = L::select(cold, next, warmed);
                }
                t[i] = L::select(lanes, moved, t[i]);
            }
        }

        let condensed = film.condensed(surface);
        let (mut made, mut made_heat) = (zero, zero);
        for i in 0..N {
            let vapour = self.mass[i] * (wet[i].w - self.w[i]);
            made += vapour;
            made_heat += vapour * vapour_j_per_kg(t[i]);
        }
        let vapour = through * made;
        self.held = (held * made, held * made_heat);
        // the stream leaves at the temperature of the outermost cell
        let leaving = vapour_j_per_kg(t[N - 1]);
        self.ledger.heat_in += q * dt;
        self.ledger.turned_over += q.size() * dt;
        self.ledger.heat_out += vapour * leaving + skin_vapour.1;
        self.ledger.vapour += vapour + skin_vapour.0;
        self.ledger.condensed += condensed.at_least(0.0) * dt;
        let water = (self.film + condensed * dt).at_least(0.0);
        self.film = L::select(water.below(L::splat(1e-9)), zero, water);
        self.t = t;
        self.surface = surface;
        if around.held.above(zero).any() {
            self.make_room(lowest);
        }
    }

    /// Water that vapour carries down the temperature gradient through open pores.
    ///
    /// In closed pores it goes back through the films. The heat it brings is in the conductivity
    /// already; here the water follows, with its sensible heat.
    #[inline(always)]
    fn shuttle(&self, dt: f64, g: &[L; N], fraction: &[L; N], wet: &mut [Wet<L>; N]) {
        for i in 1..N {
            let drop = self.t[i] - self.t[i - 1];
            let inward = drop.above(L::splat(0.0));
            let t = L::select(inward, self.t[i], self.t[i - 1]);
            let fraction = L::select(inward, fraction[i], fraction[i - 1]);
            let flow = fraction * g[i] * drop / latent_j_per_kg(t) * dt;
            // never more than a tenth of what the cell has
            let (out, inn) = (self.mass[i] * self.w[i], self.mass[i - 1] * self.w[i - 1]);
            let flow = flow.size().smaller(L::select(inward, out, inn) * 0.1);
            let flow = L::select(inward, flow, -flow);
            let heat = flow * LIQUID_WATER_CP * t;
            wet[i].w -= flow * self.per_mass[i];
            wet[i].e -= heat * self.per_mass[i];
            wet[i - 1].w += flow * self.per_mass[i - 1];
            wet[i - 1].e += heat * self.per_mass[i - 1];
        }
    }

    /// Vapour held back in the last step condenses in open crumb that is below boiling.
    #[inline(always)]
    fn condense_held(&mut self, drying: &Drying, open: &[L; N], wet: &mut [Wet<L>; N]) {
        let zero = L::splat(0.0);
        let (water, heat) = self.held;
        self.held = (zero, zero);
        let some = water.above(zero);
        if !some.any() {
            return;
        }
        let mut weight = [zero; N];
        let mut sum = zero;
        for (i, weight) in weight.iter_mut().enumerate() {
            let room = (L::splat(drying.lowest()) - self.t[i]).at_least(0.0);
            *weight = self.mass[i] * open[i] * room;
            sum += *weight;
        }
        // nowhere to go: it stays where it was made, outermost
        let nowhere = sum.upto(zero);
        weight[N - 1] = L::select(nowhere, L::splat(1.0), weight[N - 1]);
        let per_sum = L::splat(1.0) / L::select(nowhere, L::splat(1.0), sum);
        for (i, cell) in wet.iter_mut().enumerate() {
            let part = weight[i] * per_sum * self.per_mass[i];
            let part = L::select(some, part, zero);
            cell.w += water * part;
            cell.e += heat * part;
        }
    }

    /// How much of the held surface may hold in the next step: all while the crumb is on
    /// average 3 K below boiling, none when it boils.
    #[inline(always)]
    fn make_room(&mut self, lowest: L) {
        let mut cold = L::splat(0.0);
        for (t, m) in self.t.iter().zip(&self.mass) {
            cold += *m * (lowest - *t).at_least(0.0);
        }
        self.room = (cold / self.solids / 3.0).at_most(1.0);
    }

    /// Drying of a moist skin below boiling; gives vapour kg and its heat J.
    #[inline(always)]
    fn dry_skin(
        &self,
        dt: f64,
        around: &Boundary<L>,
        parameters: &BakeParameters,
        drying: &Drying,
        wet: &mut [Wet<L>; N],
    ) -> (L, L) {
        let zero = L::splat(0.0);
        let bare = self.film.upto(zero);
        if parameters.skin_drying <= 0.0 || !bare.any() {
            return (zero, zero);
        }
        // the outermost moist cell
        let mut found = L::Mask::splat(false);
        let (mut cell, mut t, mut w, mut wetness) = (zero, zero, zero, zero);
        let (mut mass, mut centre, mut near) = (zero, zero, zero);
        let mut innermost = N;
        for i in (0..N).rev() {
            let here = !found & self.w[i].above(L::splat(SKIN_DRY_W));
            if here.any() {
                innermost = i;
                cell = L::select(here, L::splat(i as f64), cell);
                t = L::select(here, self.t[i], t);
                w = L::select(here, self.w[i], w);
                wetness = L::select(here, wet[i].w, wetness);
                mass = L::select(here, self.mass[i], mass);
                centre = L::select(here, self.centre[i], centre);
                near = L::select(here, self.near[i], near);
                found = found | here;
                if found.all() {
                    break;
                }
            }
        }
        let lanes = bare & found & t.below(L::splat(drying.lowest() + 40.0));
        if !lanes.any() {
            return (zero, zero);
        }
        let closeness = ((drying.boils(w, &mut near) - t) / 5.0).within(0.0, 1.0);
        let pull = activity(t, w) * saturation_kpa(t) * 1000.0 - around.vapour_pa;
        let lanes = lanes & closeness.above(zero) & pull.above(zero);
        if !lanes.any() {
            return (zero, zero);
        }
        // dry crust above it is in the vapour's way
        let crust = (self.radius - centre - self.skin) * 1000.0;
        let open = (L::splat(1.0) - around.contact.larger(around.held))
            / (crust / parameters.skin_depth_mm + 1.0);
        let evaporates = vapour_j_per_kg(t);
        let cools = (wetness * LIQUID_WATER_CP + 1391.0) * SKIN_COOLS_K / evaporates;
        let flow = (open * parameters.skin_drying * pull * closeness * dt)
            .smaller(mass * 0.5 * (w - 0.5 * SKIN_DRY_W))
            .smaller(mass * 0.5 * wetness)
            .smaller(mass * cools);
        let flow = L::select(lanes, flow, zero);
        let heat = flow * evaporates;
        for (i, wet) in wet.iter_mut().enumerate().skip(innermost) {
            let here = cell.same(L::splat(i as f64));
            wet.w -= L::select(here, flow * self.per_mass[i], zero);
            wet.e -= L::select(here, heat * self.per_mass[i], zero);
        }
        (flow, heat)
    }

    /// All water in it, kg per m².
    #[inline(always)]
    fn water(&self) -> L {
        let mut water = L::splat(0.0);
        for (m, w) in self.mass.iter().zip(&self.w) {
            water += *m * *w;
        }
        water
    }

    /// Water lost over the dough's mass, film counted as not lost.
    #[inline(always)]
    pub(crate) fn loss(&self) -> L {
        let all = self.solids * self.w0;
        (all - self.water() - self.held.0 - self.film) / (self.solids * (self.w0 + 1.0))
    }

    /// Depth to which moisture has fallen below 0.2, m.
    #[inline(always)]
    pub(crate) fn dry_zone(&self) -> L {
        const DRY: f64 = 0.2;
        let dry = L::splat(DRY);
        let mut depth = L::select(self.w[0].below(dry), self.radius, L::splat(0.0));
        for i in 1..N {
            let (inner, outer) = (self.w[i - 1], self.w[i]);
            let edge = outer.below(dry) & dry.upto(inner);
            if edge.any() {
                let part = (inner - DRY) / (inner - outer);
                let x = self.centre[i - 1] + part * (self.centre[i] - self.centre[i - 1]);
                depth = L::select(edge, self.radius - x, depth);
            }
        }
        depth
    }
}

impl<const N: usize> Column<N> {
    /// Mean over the solids, °C.
    pub(crate) fn mean(&self) -> f64 {
        self.t.iter().zip(&self.mass).map(|(t, m)| t * m).sum::<f64>() / self.solids
    }

    /// Water that is unaccounted for, over all water.
    pub(crate) fn water_gap(&self) -> f64 {
        let all = self.solids * self.w0;
        (self.water() + self.held.0 + self.ledger.vapour - all) / all
    }

    /// Heat that is unaccounted for, over the heat that flowed.
    pub(crate) fn heat_gap(&self) -> f64 {
        let now: f64 = (0..N).map(|i| self.mass[i] * crumb_j_per_kg(self.t[i], self.w[i])).sum();
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

/// A step of a column, compiled for the register.
struct Step<'a, const N: usize, L> {
    column: &'a mut Column<N, L>,
    dt: f64,
    around: &'a Boundary<L>,
    crumb: &'a Crumb<'a, L>,
}

impl<const N: usize, L: Lanes> Kernel for Step<'_, N, L> {
    type Out = ();
    #[inline(always)]
    fn compute(self) {
        self.column.step_in_lanes(self.dt, self.around, self.crumb);
    }
}

/// How open the pores are, 0 to 1: dough is closed foam, crumb is open.
///
/// A switch 3 K wide at 76 °C. Zhang et al., Foods 14 (2025) 1649: pores open at 71 to 81 °C
/// (*published*); the form is ours.
#[inline(always)]
pub(crate) fn openness<L: Lanes>(t: L) -> L {
    L::splat(1.0) / (exp((t - 76.0) * (-1.0 / 3.0)) + 1.0)
}

/// The film of air and condensed steam at the surface during one step.
struct Film<L> {
    /// Mass transfer, kg/(Pa m² s); zero when there is neither film nor steam to condense.
    transfer: L,
    /// What the film can give, kg/(m² s), as a negative number.
    least: L,
    vapour_pa: L,
    /// Share of the surface in the air.
    open: L,
    wall4: L,
}

impl<L: Lanes> Film<L> {
    #[inline(always)]
    fn new(around: &Boundary<L>, surface: L, film: L, dt: f64) -> Self {
        let kelvin = (around.air + surface) * 0.5 + ZERO_CELSIUS_K;
        let air_heat = L::splat(1.05 * 1010.0 * 353.0 * LEWIS) / kelvin;
        let wall = around.wall + ZERO_CELSIUS_K;
        Self {
            transfer: around.convection / air_heat / (kelvin * VAPOUR_GAS_CONSTANT),
            least: -film / dt,
            vapour_pa: around.vapour_pa,
            open: L::splat(1.0) - around.contact,
            wall4: wall * wall * wall * wall,
        }
    }

    /// Steam that condenses on the air's share of the surface, kg/(m² s), and its slope.
    #[inline(always)]
    fn condensing(&self, surface: L) -> (L, L) {
        let zero = L::splat(0.0);
        // at 105 °C no steam condenses in any kitchen: nothing to work out but the film's end
        let some = surface.upto(L::splat(105.0)) & self.vapour_pa.above(zero);
        if !some.any() {
            return (self.least, zero);
        }
        let (saturation, slope) = saturation_and_slope_kpa(surface);
        let flow = self.transfer * (self.vapour_pa - saturation * 1000.0);
        let free = some & self.least.upto(flow);
        let slope = -self.transfer * 1000.0 * slope;
        (L::select(free, flow, self.least), L::select(free, slope, zero))
    }

    /// As [`condensing`](Self::condensing), per m² of the whole surface.
    #[inline(always)]
    fn condensed(&self, surface: L) -> L {
        self.open * self.condensing(surface).0
    }

    /// Heat into the surface, W/m², and its slope.
    #[inline(always)]
    fn flux(&self, around: &Boundary<L>, surface: L) -> (L, L) {
        let kelvin = surface + ZERO_CELSIUS_K;
        let cube = kelvin * kelvin * kelvin;
        let radiation = around.emissivity * STEFAN_BOLTZMANN;
        let (steam, steam_slope) = self.condensing(surface);
        let latent = latent_j_per_kg(surface);
        let air = around.convection * (around.air - surface)
            + radiation * (self.wall4 - cube * kelvin)
            + steam * latent;
        let air_slope = steam_slope * latent - around.convection - radiation * 4.0 * cube;
        let contact = around.contact * around.contact_h;
        (self.open * air + contact * (around.plate - surface), self.open * air_slope - contact)
    }
}
