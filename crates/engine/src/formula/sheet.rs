//! From percentages to weights, and back to the figures a baker reads.

use super::warn::warnings;
use super::{Formula, FormulaError, Preferment, Warning};
use quantity::{Grams, Percent};
use serde::Serialize;
use std::ops::{AddAssign, SubAssign};

/// Weights of each ingredient; flours and others in the order of the formula.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Amounts {
    /// One per flour.
    pub flours: Vec<Grams>,
    /// Water.
    pub water: Grams,
    /// Salt.
    pub salt: Grams,
    /// Baker's yeast, in the formula's form.
    pub yeast: Grams,
    /// One per other ingredient.
    pub others: Vec<Grams>,
}

impl Amounts {
    fn none(formula: &Formula) -> Self {
        Self {
            flours: vec![Grams(0.0); formula.flours.len()],
            water: Grams(0.0),
            salt: Grams(0.0),
            yeast: Grams(0.0),
            others: vec![Grams(0.0); formula.others.len()],
        }
    }
    /// All flour.
    pub fn flour(&self) -> Grams {
        self.flours.iter().copied().sum()
    }
    /// Everything.
    pub fn total(&self) -> Grams {
        self.flour()
            + self.water
            + self.salt
            + self.yeast
            + self.others.iter().copied().sum::<Grams>()
    }
    fn each(&mut self) -> impl Iterator<Item = &mut Grams> {
        self.flours
            .iter_mut()
            .chain([&mut self.water, &mut self.salt, &mut self.yeast])
            .chain(self.others.iter_mut())
    }
    fn list(&self) -> impl Iterator<Item = Grams> {
        self.flours
            .iter()
            .copied()
            .chain([self.water, self.salt, self.yeast])
            .chain(self.others.iter().copied())
    }
}
impl AddAssign<&Amounts> for Amounts {
    fn add_assign(&mut self, other: &Amounts) {
        for (a, b) in self.each().zip(other.list()) {
            *a += b;
        }
    }
}
impl SubAssign<&Amounts> for Amounts {
    fn sub_assign(&mut self, other: &Amounts) {
        for (a, b) in self.each().zip(other.list()) {
            *a -= b;
        }
    }
}

/// One feeding of a preferment.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BuildSheet {
    /// Ripe culture in (first build), else 0.
    pub seed: Grams,
    /// What the build before left (later builds), else 0.
    pub previous: Grams,
    /// What is weighed in fresh.
    pub fresh: Amounts,
}

impl BuildSheet {
    /// Everything in the jar after this build.
    pub fn total(&self) -> Grams {
        self.seed + self.previous + self.fresh.total()
    }
}

/// A preferment's column.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PrefermentSheet {
    /// Its name.
    pub name: String,
    /// What it brings into the dough, seed opened up.
    pub contents: Amounts,
    /// Feedings, first to last.
    pub builds: Vec<BuildSheet>,
    /// Taken out again when ripe (perpetual seed), else 0.
    pub kept_back: Grams,
}

/// A soaker's column.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SoakerSheet {
    /// Its name.
    pub name: String,
    /// What goes in.
    pub contents: Amounts,
}

/// Figures a baker reads off a formula.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Figures {
    /// Sum of all percentages.
    pub total_percent: Percent,
    /// Water poured, of total flour.
    pub hydration: Percent,
    /// With the water inside milk, eggs, honey and the rest.
    pub effective_hydration: Percent,
    /// Flour in preferments, of total flour.
    pub prefermented_flour: Percent,
    /// Ripe levain (all preferments), of total flour.
    pub levain_of_total_flour: Percent,
    /// Ripe levain (all preferments), of the flour weighed at mixing; zero when all flour is prefermented.
    pub levain_of_final_flour: Percent,
    /// Salt, of total flour.
    pub salt: Percent,
    /// Salt, of salt and all water in the dough, flour moisture included.
    pub salt_in_water: Percent,
    /// Sugar added with other ingredients, of total flour.
    pub added_sugar: Percent,
    /// Fat added with other ingredients, of total flour.
    pub added_fat: Percent,
    /// Blend protein, as is.
    pub protein: Percent,
    /// Blend ash, on dry matter.
    pub ash: Percent,
    /// Blend moisture, as is.
    pub moisture: Percent,
}

/// Weights in the trade's layout.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sheet {
    /// Everything, preferments opened up.
    pub total: Amounts,
    /// Preferments, in the order of the formula.
    pub preferments: Vec<PrefermentSheet>,
    /// Soakers, in the order of the formula.
    pub soakers: Vec<SoakerSheet>,
    /// What is weighed at mixing besides preferments and soakers; bassinage included.
    pub final_dough: Amounts,
    /// Part of the final dough's water that goes in late.
    pub bassinage: Grams,
    /// Figures.
    pub figures: Figures,
    /// What is unusual, in plain words.
    #[serde(skip)]
    pub warnings: Vec<Warning>,
}

impl Sheet {
    /// Weight of the mixed dough.
    pub fn dough(&self) -> Grams {
        self.total.total()
    }

    /// Weights a scale can show, so that every column and the total still add up.
    ///
    /// What is weighed (fresh amounts of each build, soakers, final dough) is rounded;
    /// columns and totals are sums of what was rounded. Inside a column the remainders
    /// go to the largest ones, so a column stays within half a step of its exact
    /// weight. `fine` is for salt and yeast.
    #[must_use]
    pub fn rounded(&self, step: Grams, fine: Grams) -> Self {
        let mut out = self.clone();
        for p in &mut out.preferments {
            let mut previous = Grams(0.0);
            let mut contents: Option<Amounts> = None;
            for b in &mut p.builds {
                b.previous = previous;
                b.seed = Grams(nearest(b.seed.0, step.0));
                round_column(&mut b.fresh, step, fine);
                previous = b.total();
                match &mut contents {
                    None => contents = Some(b.fresh.clone()),
                    Some(c) => *c += &b.fresh,
                }
            }
            p.kept_back = Grams(nearest(p.kept_back.0, step.0));
            if let (Some(mut fresh), Some(first)) = (contents, p.builds.first()) {
                // open the seed (or what is left of it) up into the column's flour and water
                let seed = first.seed - p.kept_back;
                let exact_seed = self.seed_water_share(&p.name);
                let water = Grams(nearest(seed.0 * exact_seed, step.0));
                fresh.water += water;
                let mut parts: Vec<f64> = p.contents.flours.iter().map(|g| g.0).collect();
                let whole: f64 = parts.iter().sum();
                for x in &mut parts {
                    *x *= (seed - water).0 / whole.max(f64::MIN_POSITIVE);
                }
                share_out(&mut parts, (seed - water).0, step.0);
                for (f, x) in fresh.flours.iter_mut().zip(parts) {
                    *f += Grams(x);
                }
                p.contents = fresh;
            }
        }
        for s in &mut out.soakers {
            round_column(&mut s.contents, step, fine);
        }
        round_column(&mut out.final_dough, step, fine);
        out.bassinage = Grams(nearest(out.bassinage.0, step.0)).min(out.final_dough.water);
        let mut total = out.final_dough.clone();
        for p in &out.preferments {
            total += &p.contents;
        }
        for s in &out.soakers {
            total += &s.contents;
        }
        out.total = total;
        out
    }

    /// Water in the seed of a preferment, as a fraction of the seed.
    fn seed_water_share(&self, name: &str) -> f64 {
        let Some(p) = self.preferments.iter().find(|p| p.name == name) else { return 0.5 };
        let net = p.builds.first().map_or(0.0, |b| b.seed.0) - p.kept_back.0;
        let fresh: f64 = p.builds.iter().map(|b| b.fresh.water.0).sum();
        if net.abs() < 1e-12 { 0.5 } else { (p.contents.water.0 - fresh) / net }
    }
}

fn nearest(x: f64, step: f64) -> f64 {
    if step > 0.0 {
        // via whole steps, so that 0.1 g prints as 0.1 g
        let steps = (x / step).round();
        if step < 1.0 { steps / (1.0 / step).round() } else { steps * step }
    } else {
        x
    }
}

/// Largest remainder: whole steps that sum to the nearest step of `total`.
fn share_out(parts: &mut [f64], total: f64, step: f64) {
    if step <= 0.0 || parts.is_empty() {
        return;
    }
    let floors: Vec<f64> = parts.iter().map(|x| (x / step + 1e-9).floor()).collect();
    let mut left = (total / step).round() - floors.iter().sum::<f64>();
    let mut order: Vec<usize> = (0..parts.len()).collect();
    let rest = |i: usize| parts[i] / step - floors[i];
    order.sort_by(|&a, &b| rest(b).total_cmp(&rest(a)).then(a.cmp(&b)));
    let mut steps = floors.clone();
    for i in order {
        if left >= 1.0 {
            steps[i] += 1.0;
            left -= 1.0;
        }
    }
    for (x, n) in parts.iter_mut().zip(steps) {
        *x = nearest(n * step, step);
    }
}

fn round_column(a: &mut Amounts, step: Grams, fine: Grams) {
    // a pinch too small for the scale is told finer rather than rounded away
    let small = |g: Grams| {
        let step = if g < fine * 5.0 { fine.0 / 10.0 } else { fine.0 };
        Grams(nearest(g.0, step))
    };
    a.salt = small(a.salt);
    a.yeast = small(a.yeast);
    let mut parts: Vec<f64> =
        a.flours.iter().chain([&a.water]).chain(&a.others).map(|g| g.0).collect();
    let sum = parts.iter().sum();
    share_out(&mut parts, sum, step.0);
    let n = a.flours.len();
    for (f, x) in a.flours.iter_mut().zip(&parts) {
        *f = Grams(*x);
    }
    a.water = Grams(parts[n]);
    for (o, x) in a.others.iter_mut().zip(&parts[n + 1..]) {
        *o = Grams(*x);
    }
}

fn check(what: &str, x: f64) -> Result<(), FormulaError> {
    if x.is_finite() && x >= 0.0 {
        Ok(())
    } else {
        Err(FormulaError::BadNumber { what: what.to_owned() })
    }
}

fn hundred(of: &str, sum: f64) -> Result<(), FormulaError> {
    if (sum - 100.0).abs() <= 0.01 {
        Ok(())
    } else {
        Err(FormulaError::NotAHundred { of: of.to_owned(), sum: Percent(sum) })
    }
}

pub(super) fn compute(formula: &Formula, total_flour: Grams) -> Result<Sheet, FormulaError> {
    if formula.flours.is_empty() {
        return Err(FormulaError::NoFlour);
    }
    check("the total flour", total_flour.0)?;
    if total_flour.0 == 0.0 {
        return Err(FormulaError::NoFlour);
    }
    for f in &formula.flours {
        check(&format!("the share of {}", f.flour.name), f.share.0)?;
    }
    hundred("the flours", formula.flours.iter().map(|f| f.share.0).sum())?;
    for (what, p) in [
        ("the water", formula.water),
        ("the salt", formula.salt),
        ("the yeast", formula.yeast),
        ("the bassinage", formula.bassinage),
    ] {
        check(what, p.0)?;
    }
    let mut total = Amounts::none(formula);
    for (g, f) in total.flours.iter_mut().zip(&formula.flours) {
        *g = f.share.of(total_flour);
    }
    total.water = formula.water.of(total_flour);
    total.salt = formula.salt.of(total_flour);
    for (g, o) in total.others.iter_mut().zip(&formula.others) {
        check(&o.name, o.share.0)?;
        *g = o.share.of(total_flour);
    }

    let mut final_dough = total.clone();
    final_dough.yeast = formula.yeast.of(total_flour);
    total.yeast = final_dough.yeast;

    let mut preferments = Vec::new();
    for p in &formula.preferments {
        let column = preferment(formula, p, total_flour)?;
        total.yeast += column.contents.yeast;
        let mut without_yeast = column.contents.clone();
        without_yeast.yeast = Grams(0.0);
        final_dough -= &without_yeast;
        preferments.push(column);
    }
    let mut soakers = Vec::new();
    for s in &formula.soakers {
        check(&format!("the water of the {}", s.name), s.water.0)?;
        let mut contents = Amounts::none(formula);
        for name in &s.soaks {
            let i = formula.others.iter().position(|o| o.name == *name).ok_or_else(|| {
                FormulaError::UnknownSoaked { soaker: s.name.clone(), name: name.clone() }
            })?;
            contents.others[i] = total.others[i];
        }
        contents.water = s.water.of(contents.others.iter().copied().sum());
        final_dough -= &contents;
        soakers.push(SoakerSheet { name: s.name.clone(), contents });
    }

    // What is left for the final dough must not be negative (a hair of rounding is zero).
    let hair = 1e-9 * total_flour.0;
    for ((g, f), whole) in final_dough.flours.iter_mut().zip(&formula.flours).zip(&total.flours) {
        if g.0 < -hair {
            return Err(FormulaError::TooMuchFlour {
                flour: f.flour.name.clone(),
                used: *whole - *g,
                has: *whole,
            });
        }
        *g = g.max(Grams(0.0));
    }
    if final_dough.water.0 < -hair {
        return Err(FormulaError::TooMuchWater {
            used: total.water - final_dough.water,
            has: total.water,
        });
    }
    final_dough.water = final_dough.water.max(Grams(0.0));
    if final_dough.salt.0 < -hair {
        return Err(FormulaError::TooMuchSalt {
            used: total.salt - final_dough.salt,
            has: total.salt,
        });
    }
    final_dough.salt = final_dough.salt.max(Grams(0.0));
    for (g, o) in final_dough.others.iter_mut().zip(&formula.others) {
        if g.0 < -hair {
            return Err(FormulaError::SoakedTwice { name: o.name.clone() });
        }
        *g = g.max(Grams(0.0));
    }
    let bassinage = formula.bassinage.of(total_flour);
    if bassinage.0 > final_dough.water.0 + hair {
        return Err(FormulaError::TooMuchBassinage);
    }

    let figures = figures(formula, &total, &preferments, &final_dough);
    let mut sheet = Sheet {
        total,
        preferments,
        soakers,
        final_dough,
        bassinage,
        figures,
        warnings: Vec::new(),
    };
    sheet.warnings = warnings(formula, &sheet);
    Ok(sheet)
}

fn preferment(
    formula: &Formula,
    p: &Preferment,
    total_flour: Grams,
) -> Result<PrefermentSheet, FormulaError> {
    for (what, x) in [
        ("prefermented flour", p.prefermented_flour),
        ("hydration", p.hydration),
        ("salt", p.salt),
        ("yeast", p.yeast),
    ] {
        check(&format!("the {what} of the {}", p.name), x.0)?;
    }
    let mut shares = vec![0.0; formula.flours.len()];
    for (name, share) in &p.flours {
        check(&format!("the share of {name} in the {}", p.name), share.0)?;
        let i = formula.flour_index(name).ok_or_else(|| FormulaError::UnknownFlour {
            preferment: p.name.clone(),
            flour: name.clone(),
        })?;
        shares[i] += share.fraction();
    }
    hundred(&format!("the flours of the {}", p.name), 100.0 * shares.iter().sum::<f64>())?;
    let flour = p.prefermented_flour.of(total_flour);
    let hydration = p.hydration.fraction();
    let blend = |whole: Grams| -> Vec<Grams> { shares.iter().map(|s| whole * *s).collect() };

    let mut contents = Amounts::none(formula);
    contents.flours = blend(flour);
    contents.water = flour * hydration;
    contents.salt = p.salt.of(flour);
    contents.yeast = p.yeast.of(flour);

    // Stages; one that holds everything when none are named.
    let single = [super::Build { flour: Percent(100.0), hydration: p.hydration }];
    let stages: &[super::Build] = if p.builds.is_empty() { &single } else { &p.builds };
    for b in stages {
        check(&format!("a build of the {}", p.name), b.flour.0)?;
        check(&format!("a build's hydration in the {}", p.name), b.hydration.0)?;
    }
    hundred(&format!("the builds of the {}", p.name), stages.iter().map(|b| b.flour.0).sum())?;
    let first_share = stages.first().map_or(1.0, |b| b.flour.fraction());

    // Fresh flour F and seed s = inoculation × first_share × F; the seed's flour is s/(1+h_s).
    // Counted: F + s/(1+h_s) = flour. Perpetual: the ripe levain has the final hydration when
    // the seed is taken out again, so F + s/(1+h_s) = flour + s/(1+h).
    let (seed_per_fresh, seed_flour_share) = match p.seed {
        None => (0.0, 0.0),
        Some(s) => {
            check(&format!("the seed of the {}", p.name), s.inoculation.0)?;
            check(&format!("the seed hydration of the {}", p.name), s.hydration.0)?;
            (s.inoculation.fraction() * first_share, 1.0 / (1.0 + s.hydration.fraction()))
        }
    };
    let counted = p.seed.is_none_or(|s| s.counted);
    let out_flour_share = if counted { 0.0 } else { 1.0 / (1.0 + hydration) };
    let per_fresh = 1.0 + seed_per_fresh * (seed_flour_share - out_flour_share);
    if per_fresh <= 0.0 {
        return Err(FormulaError::BadNumber { what: format!("the seed of the {}", p.name) });
    }
    let fresh = flour / per_fresh;
    let seed = fresh * seed_per_fresh;
    let kept_back = if counted { Grams(0.0) } else { seed };

    let mut builds = Vec::new();
    let mut in_jar_flour = seed * seed_flour_share;
    let mut in_jar_water = seed - in_jar_flour;
    let mut previous = Grams(0.0);
    let last = stages.len().saturating_sub(1);
    for (i, b) in stages.iter().enumerate() {
        let add = b.flour.of(fresh);
        // the last stage must end at the preferment's own hydration
        let h = if i == last { hydration } else { b.hydration.fraction() };
        let water = (in_jar_flour + add) * h - in_jar_water;
        if water.0 < -1e-9 * total_flour.0 {
            return Err(FormulaError::DryBuild { preferment: p.name.clone(), build: i + 1 });
        }
        let water = water.max(Grams(0.0));
        let mut amounts = Amounts::none(formula);
        amounts.flours = blend(add);
        amounts.water = water;
        if i == 0 {
            amounts.yeast = contents.yeast;
            amounts.salt = contents.salt;
        }
        let sheet =
            BuildSheet { seed: if i == 0 { seed } else { Grams(0.0) }, previous, fresh: amounts };
        previous = sheet.total();
        builds.push(sheet);
        in_jar_flour += add;
        in_jar_water += water;
    }
    Ok(PrefermentSheet { name: p.name.clone(), contents, builds, kept_back })
}

fn figures(
    formula: &Formula,
    total: &Amounts,
    preferments: &[PrefermentSheet],
    final_dough: &Amounts,
) -> Figures {
    let flour = total.flour();
    let inside = |of: fn(&super::Other) -> Percent| -> Grams {
        formula.others.iter().zip(&total.others).map(|(o, g)| of(o).of(*g)).sum()
    };
    let others_water = inside(|o| o.water);
    let moisture = formula.blend(|f| f.moisture);
    let ripe: Grams = preferments.iter().map(|p| p.contents.total()).sum();
    let all_water = total.water + others_water + moisture.of(flour);
    Figures {
        total_percent: Percent::share(total.total(), flour),
        hydration: Percent::share(total.water, flour),
        effective_hydration: Percent::share(total.water + others_water, flour),
        prefermented_flour: Percent::share(
            preferments.iter().map(|p| p.contents.flour()).sum(),
            flour,
        ),
        levain_of_total_flour: Percent::share(ripe, flour),
        levain_of_final_flour: Percent::share(ripe, final_dough.flour()),
        salt: Percent::share(total.salt, flour),
        salt_in_water: Percent::share(total.salt, total.salt + all_water),
        added_sugar: Percent::share(inside(|o| o.sugar), flour),
        added_fat: Percent::share(inside(|o| o.fat), flour),
        protein: formula.blend(|f| f.protein),
        ash: formula.blend(|f| f.ash),
        moisture,
    }
}
