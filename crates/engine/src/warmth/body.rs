//! Heat conduction from core to skin, stepped through time.

use super::{Air, Around, DoughThermal, Shape, Vessel, geometry};
use crate::numerics::Tridiagonal;
use crate::numerics::lanes::{Event, Lanes, Mask};
use quantity::{Celsius, Grams, Hours};

/// Nodes from core to skin.
const N: usize = 16;
/// Crowding of the nodes towards the skin: 1 is even.
const CROWDING: f64 = 1.4;
/// Share of the step width carried between neighbours: 1/12 lifts even grids to fourth order.
const CARRY: f64 = 1.0 / 12.0;
/// 1 − 1/√2: makes the two-stage method second order and L-stable.
const GAMMA: f64 = 1.0 - std::f64::consts::FRAC_1_SQRT_2;
/// Longest step taken at once, h; longer ones are cut.
const STEP_H_MAX: f64 = 0.2;
/// Longest step right after the air has jumped, h: the cooled layer is thin then.
const STEP_H_MAX_AFTER_JUMP: f64 = 1.0 / 60.0;
/// It may grow with this share of the time since the jump.
const STEP_GROWTH: f64 = 0.25;
/// A hundred years: no step is longer.
const LONGEST_H: f64 = 1e6;
/// What counts as a jump, K.
const JUMP_K: f64 = 1.0;

/// A piece of dough with its temperature from core to skin, or several alike side by side.
///
/// ```text
/// ρ cp ∂T/∂t = r^−m ∂(r^m k ∂T/∂r)/∂r + ρ q      −k ∂T/∂r = U (T_s − T_air) at the skin
/// ```
///
/// Plain data, no heap: copy it to try something out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Body<L = f64> {
    /// Temperatures, °C, core first.
    t: [L; N],
    mass: Grams,
    vessel: Vessel,
    shape: Shape,
    air: Air,
    thermal: DoughThermal,
    /// Core to skin, m.
    r: f64,
    /// 0 slab, 1 cylinder, 2 sphere.
    m: f64,
    /// Skin to air, W/(m² K).
    u: f64,
    /// Factor on that by lane: one bowl insulates better than another.
    insulates: L,
    /// Volume of each node's share over the whole.
    share: [f64; N],
    /// Exchange with the node further out, times the share it acts on, 1/s.
    rate: [f64; N],
    /// As `rate`, for the skin to the air.
    rate_skin: L,
    /// Mass carried over from node to node by the fourth-order correction.
    carry: [f64; N],
    /// Factored matrix and the step it belongs to, s.
    matrix: Tridiagonal<N, L>,
    dt_s: L,
    /// Air at the end of the last step, °C; NaN when nothing before counts.
    air_before: L,
    /// Time since the air last jumped, h.
    calm_h: L,
}

impl Body {
    /// Dough of a mass in a vessel, at one temperature all through, in still air.
    ///
    /// Nonsense (no mass, NaN) is held to the nearest sensible value.
    pub fn new(
        mass: Grams,
        vessel: Vessel,
        shape: Shape,
        start: Celsius,
        thermal: DoughThermal,
    ) -> Self {
        Self::lanes(mass, vessel, shape, start.0, thermal, 1.0)
    }

    /// Sets one temperature all through: just mixed, folded, kneaded.
    pub fn set_uniform(&mut self, t: Celsius) {
        self.level(t.0);
    }

    /// Moves on by `dt`, with the air `around` during it and `heat_w_per_kg` set free inside.
    ///
    /// Implicit, two stages, second order and L-stable: no step is too long to be stable.
    /// Steps over 12 min are cut; after the air has jumped by more than 1 K they are cut to a
    /// minute, then to a quarter of the time since. Core and mean stay within 0.02 °C of the
    /// exact solution for 0.5 to 5 kg at 7.5 min. Does nothing for a `dt` that is not positive.
    pub fn step(&mut self, dt: Hours, around: impl Into<Around>, heat_w_per_kg: f64) {
        self.advance(dt.0, &around.into(), heat_w_per_kg);
    }
}

impl<L: Lanes> Body<L> {
    /// As [`new`](Body::new), °C, with a factor on the transfer through vessel and air.
    pub(crate) fn lanes(
        mass: Grams,
        vessel: Vessel,
        shape: Shape,
        start: L,
        thermal: DoughThermal,
        insulates: L,
    ) -> Self {
        let zero = L::splat(0.0);
        let (none, one) = ([zero; N], [L::splat(1.0); N]);
        let mut body = Self {
            t: [held(start); N],
            mass,
            vessel,
            shape,
            air: Air::default(),
            thermal,
            r: 0.0,
            m: 0.0,
            u: 0.0,
            insulates,
            share: [0.0; N],
            rate: [0.0; N],
            rate_skin: zero,
            carry: [0.0; N],
            matrix: Tridiagonal::factor(&none, &one, &none),
            dt_s: L::splat(f64::NAN),
            air_before: L::splat(f64::NAN),
            calm_h: zero,
        };
        body.lay_out();
        body
    }

    /// Grid, shares and rates for the present mass, shape, dough and air.
    fn lay_out(&mut self) {
        let sound = |x: f64, lo: f64, hi: f64| if x >= lo { x.min(hi) } else { lo };
        self.thermal = DoughThermal {
            k: sound(self.thermal.k, 0.01, 10.0),
            rho: sound(self.thermal.rho, 50.0, 3000.0),
            cp: sound(self.thermal.cp, 500.0, 6000.0),
        };
        let mass_kg = sound(self.mass.0, 1.0, 1e6) / 1000.0;
        (self.r, self.m) = geometry(mass_kg / self.thermal.rho, self.shape);
        self.u = self.vessel.transfer(self.air);
        let m = self.m;
        // positions over R
        let node = |i: usize| 1.0 - libm::pow(1.0 - i as f64 / (N - 1) as f64, CROWDING);
        let alpha = self.thermal.diffusivity() / (self.r * self.r);
        let mut inner = 0.0; // volume up to the last face, whole = 1
        for i in 0..N {
            if i + 1 < N {
                let (here, next) = (node(i), node(i + 1));
                let face = 0.5 * (here + next);
                let power = libm::pow(face, m);
                let outer = power * face;
                self.share[i] = outer - inner;
                inner = outer;
                self.rate[i] = alpha * (m + 1.0) * power / (next - here);
                self.carry[i] = CARRY * (m + 1.0) * power * (next - here);
            } else {
                self.share[i] = 1.0 - inner;
            }
        }
        let skin = (m + 1.0) * self.u / (self.thermal.rho * self.thermal.cp * self.r);
        self.rate_skin = L::splat(skin) / self.insulates;
        self.dt_s = L::splat(f64::NAN); // the factored matrix is stale
    }

    /// Moves the dough to other air: on the bench, into the fan's draught.
    pub fn move_to(&mut self, air: Air) {
        if air != self.air {
            self.air = air;
            self.air_before = L::splat(f64::NAN);
            self.lay_out();
        }
    }

    /// Divides, joins or reshapes: new mass, vessel and shape.
    ///
    /// Handling mixes: the dough is at its mean temperature all through afterwards. Heat is kept
    /// per kg, so dividing loses none.
    pub fn resize(&mut self, mass: Grams, vessel: Vessel, shape: Shape) {
        self.level(self.mean_deg_c());
        (self.mass, self.vessel, self.shape) = (mass, vessel, shape);
        self.lay_out();
    }

    /// Gives the dough other properties as it fills with gas; temperatures stay where they are
    /// between core and skin.
    pub fn set_thermal(&mut self, thermal: DoughThermal) {
        if thermal != self.thermal {
            self.thermal = thermal;
            self.lay_out();
        }
    }

    /// As [`set_uniform`](Body::set_uniform), °C.
    #[inline(always)]
    pub(crate) fn level(&mut self, t: L) {
        self.t = [held(t); N];
        self.air_before = L::splat(f64::NAN);
    }

    /// Goes back to where `before` stood in the lanes of the mask; both are of one size.
    #[inline(always)]
    pub(crate) fn keep(&mut self, mask: L::Mask, before: &Self) {
        for i in 0..N {
            self.t[i] = L::select(mask, before.t[i], self.t[i]);
        }
        self.air_before = L::select(mask, before.air_before, self.air_before);
        self.calm_h = L::select(mask, before.calm_h, self.calm_h);
    }

    /// As [`step`](Body::step), h and W/kg; lanes whose step is not positive stand still.
    #[inline(always)]
    pub(crate) fn advance(&mut self, hours: L, around: &Around<L>, heat_w_per_kg: L) {
        let (zero, one) = (L::splat(0.0), L::splat(1.0));
        let going = hours.above(zero) & hours.below(L::splat(f64::INFINITY));
        if !going.any() {
            return;
        }
        let hours = L::select(going, hours.at_most(LONGEST_H), one);
        let jump = (held(around.at(zero)) - self.air_before).size();
        let steady = jump.upto(L::splat(JUMP_K));
        let calm = L::select(steady, self.calm_h, zero);
        let longest = (calm * STEP_GROWTH).within(STEP_H_MAX_AFTER_JUMP, STEP_H_MAX);
        let cuts = (hours / longest - 1e-9).ceiling().within(1.0, 10_000.0);
        let dt_s = hours * 3600.0 / cuts;
        if !dt_s.same(self.dt_s).all() {
            self.factor(dt_s);
        }
        let heat = bounded(heat_w_per_kg) / self.thermal.cp;
        let mut active = going;
        let mut done = 0.0;
        while active.any() {
            let air_first = held(around.at(L::splat(done + GAMMA) / cuts));
            let air_last = held(around.at(L::splat(done + 1.0) / cuts));
            let next = self.next(dt_s, air_first, air_last, heat);
            if active.all() {
                self.t = next;
            } else {
                for (t, next) in self.t.iter_mut().zip(next) {
                    *t = L::select(active, next, *t);
                }
            }
            done += 1.0;
            active = active & L::splat(done).below(cuts);
        }
        self.air_before = L::select(going, held(around.at(one)), self.air_before);
        self.calm_h = L::select(going, calm + hours, self.calm_h);
    }

    /// One factorisation serves both stages and all steps of the same length.
    #[inline(always)]
    fn factor(&mut self, dt_s: L) {
        let h = dt_s * GAMMA;
        let zero = [L::splat(0.0); N];
        let (mut lower, mut diagonal, mut upper) = (zero, self.share.map(L::splat), zero);
        for i in 0..N - 1 {
            let exchange = h * self.rate[i] - self.carry[i];
            upper[i] = -exchange;
            lower[i + 1] = -exchange;
            diagonal[i] += exchange;
            diagonal[i + 1] += exchange;
        }
        diagonal[N - 1] += h * self.rate_skin;
        self.matrix = Tridiagonal::factor(&lower, &diagonal, &upper);
        self.dt_s = dt_s;
    }

    #[inline(always)]
    fn next(&self, dt_s: L, air_first: L, air_last: L, heat_k_per_s: L) -> [L; N] {
        L::happens(Event::Warmth);
        let h = dt_s * GAMMA;
        let warm = h * heat_k_per_s;
        let by_skin = h * self.rate_skin;
        let first = self.stage(&self.t, warm, by_skin * air_first);
        let mut from = self.t;
        for i in 0..N {
            // (1 − γ)/γ = 1 + √2 of the first stage's change
            from[i] += (first[i] - self.t[i]) * (1.0 + std::f64::consts::SQRT_2);
        }
        self.stage(&from, warm, by_skin * air_last)
    }

    /// One implicit stage: `warm` gained everywhere, `skin` at the skin.
    #[inline(always)]
    fn stage(&self, from: &[L; N], warm: L, skin: L) -> [L; N] {
        let mut x = [L::splat(0.0); N];
        let mut passed = L::splat(0.0); // carried in from the node further in
        for i in 0..N {
            let kept = (from[i] + warm) * self.share[i] - passed;
            if i + 1 < N {
                passed = (from[i + 1] - from[i]) * self.carry[i];
                x[i] = kept + passed;
            } else {
                x[i] = kept + skin;
            }
        }
        self.matrix.solve(&mut x);
        x
    }

    /// As [`core`](Body::core), °C.
    #[inline(always)]
    pub(crate) fn core_deg_c(&self) -> L {
        self.t[0]
    }

    /// As [`mean`](Body::mean), °C.
    #[inline(always)]
    pub(crate) fn mean_deg_c(&self) -> L {
        let mut sum = L::splat(0.0);
        for i in 0..N {
            sum += self.t[i] * self.share[i];
        }
        sum
    }

    /// As [`profile`](Body::profile), °C.
    pub(crate) fn profile_deg_c(&self) -> impl Iterator<Item = (L, f64)> + '_ {
        self.t.iter().zip(&self.share).map(|(&t, &s)| (t, s))
    }

    /// Mass.
    pub fn mass(&self) -> Grams {
        self.mass
    }

    /// What holds it.
    pub fn vessel(&self) -> Vessel {
        self.vessel
    }

    /// Its shape.
    pub fn shape(&self) -> Shape {
        self.shape
    }
}

impl Body {
    /// Temperature in the middle.
    pub fn core(&self) -> Celsius {
        Celsius(self.t[0])
    }

    /// Temperature the dough would have if it were mixed.
    pub fn mean(&self) -> Celsius {
        Celsius(self.mean_deg_c())
    }

    /// Temperature of the skin, against the vessel's wall.
    pub fn surface(&self) -> Celsius {
        Celsius(self.t[N - 1])
    }

    /// Temperatures from core to skin with their shares of the volume, for a picture or for what
    /// ferments at each depth.
    pub fn profile(&self) -> impl Iterator<Item = (Celsius, f64)> + '_ {
        self.t.iter().zip(&self.share).map(|(&t, &s)| (Celsius(t), s))
    }

    /// The air around it.
    pub fn air(&self) -> Air {
        self.air
    }

    /// Its properties.
    pub fn thermal(&self) -> DoughThermal {
        self.thermal
    }

    /// Core to skin in m, and the curvature (0 slab, 1 cylinder, 2 sphere).
    pub fn geometry(&self) -> (f64, f64) {
        (self.r, self.m)
    }

    /// Skin to air, W/(m² K).
    pub fn transfer(&self) -> f64 {
        self.u
    }

    /// Resistance inside over resistance outside, Bi = U R/k: below 0.1 the dough is one
    /// temperature, above 1 the core lags.
    pub fn biot(&self) -> f64 {
        self.u * self.r / self.thermal.k
    }

    /// Time in which a temperature difference falls to 37 %, h.
    ///
    /// τ = ρ cp R/((m + 1) U′), 1/U′ = 1/U + R/(β k), β = 3 + m: the share of the inside added
    /// to the outside. Within 3.5 % of the slowest term of the series up to 2 kg, 5.5 % at 5 kg.
    pub fn lumped_hours(&self) -> f64 {
        let inside = self.r / ((3.0 + self.m) * self.thermal.k);
        self.plain_lumped_hours() * (1.0 + self.u * inside)
    }

    /// As [`lumped_hours`](Self::lumped_hours) without the inside: too fast by 13 to 34 %.
    pub fn plain_lumped_hours(&self) -> f64 {
        self.thermal.rho * self.thermal.cp * self.r / ((self.m + 1.0) * self.u) / 3600.0
    }

    /// The one-number form at the present mean.
    pub fn lumped(&self) -> Lumped {
        Lumped { t: self.mean(), tau_h: self.lumped_hours(), cp: self.thermal.cp }
    }
}

/// Held to −50..=400 °C, and 20 °C for NaN: nothing outside is dough.
#[inline(always)]
fn held<L: Lanes>(t: L) -> L {
    L::select(t.same(t), t.within(-50.0, 400.0), L::splat(20.0))
}

/// Heat of its own held to ±1 kW/kg, none for NaN: far beyond any yeast.
#[inline(always)]
fn bounded<L: Lanes>(heat_w_per_kg: L) -> L {
    L::select(heat_w_per_kg.same(heat_w_per_kg), heat_w_per_kg.within(-1e3, 1e3), L::splat(0.0))
}

/// Dough of one temperature: for live previews.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lumped {
    /// Its temperature.
    t: Celsius,
    /// Time constant, h.
    tau_h: f64,
    /// J/(kg K).
    cp: f64,
}

impl Lumped {
    /// As [`Body::step`], exact for air that changes evenly between start and end.
    pub fn step(&mut self, dt: Hours, around: impl Into<Around>, heat_w_per_kg: f64) {
        if !(dt.0 > 0.0 && dt.0.is_finite()) {
            return;
        }
        let dt = dt.min(Hours(LONGEST_H));
        let around = around.into();
        let (a, b) = (held(around.at(0.0)), held(around.at(1.0)));
        let heat = bounded(heat_w_per_kg) * 3600.0 / self.cp;
        // the temperature it drifts towards follows the air with a lag
        let lead = heat * self.tau_h - (b - a) / dt.0 * self.tau_h;
        let fade = libm::exp(-dt.0 / self.tau_h);
        self.t = Celsius(b + lead + (self.t.0 - a - lead) * fade);
    }

    /// Its temperature; the core lags behind this, the skin runs ahead.
    pub fn mean(&self) -> Celsius {
        self.t
    }

    /// Sets its temperature.
    pub fn set_uniform(&mut self, t: Celsius) {
        self.t = Celsius(held(t.0));
    }
}
