//! Several breads for one oven: each fitted to it, then planned together.

use super::{Both, Celsius, Fitted, Minutes, Order, Way, fitted_twice};
use crate::hearth::recovery;
use crate::method::Path;
use crate::plan::{One, PlanError, Request, Several, Wrong, seek_several};
use crate::progress::Part;
use crate::run::{RunError, Setting};
use quantity::TempRise;
use rayon::prelude::*;

/// One bread and what is asked of it.
#[derive(Debug, Clone)]
pub struct Bread<'a> {
    /// What, how much, where; kitchen and calendar are the same for all breads.
    pub order: Order<'a>,
    /// By when.
    pub request: Request,
}

/// Several breads as this kitchen needs them, and how they can be had together.
#[derive(Debug, Clone)]
pub struct Baking {
    /// Of each bread.
    pub fitted: Vec<Fitted>,
    /// The plans; their ways are places in the fitted recipe of their bread.
    pub outcome: Several,
}

/// A hearth counts as ready again within this of the oven, K; as between loads.
const READY_WITHIN: TempRise = TempRise(10.0);
/// Shortest wait between two breads.
const LEAST: Minutes = Minutes(5.0);

/// Fits every bread to the oven and seeks one plan for each, so that hands, oven, fridge,
/// bannetons and starter are enough for all.
///
/// # Errors
/// The place of the bread, and [`PlanError`] when there is nothing to seek for it.
pub fn plan_several(breads: &[Bread<'_>], part: Part<'_>) -> Result<Baking, (usize, PlanError)> {
    let wrong = |b: usize| move |e: PlanError| -> Wrong { (b, e) };
    // batches of one recipe are fitted once
    let same = |b: usize| (0..b).find(|&o| breads[o].alike(&breads[b])).unwrap_or(b);
    let pieces = part.within(0.0, 0.4).pieces(breads.len());
    let fitted: Vec<Fitted> = (0..breads.len())
        .into_par_iter()
        .map(|b| {
            let fitted = if same(b) == b { fitted(&breads[b]).map_err(wrong(b)) } else { Ok(NONE) };
            pieces.one();
            fitted
        })
        .collect::<Result<_, Wrong>>()?;
    let fitted: Vec<Fitted> = (0..breads.len()).map(|b| fitted[same(b)].clone()).collect();
    let settings: Vec<Vec<(Path, Setting<'_>)>> = breads
        .iter()
        .zip(&fitted)
        .enumerate()
        .map(|(b, (bread, fitted))| {
            let set = |w| -> Result<(Path, Setting<'_>), RunError> {
                let way: &Way = w;
                Ok((way.path, bread.order.setting(&way.recipe)?))
            };
            let all: Result<Vec<_>, RunError> = fitted.ways.iter().map(set).collect();
            all.map_err(|e| wrong(b)(e.into()))
        })
        .collect::<Result<_, Wrong>>()?;
    let ones: Vec<One<'_, '_>> = settings
        .iter()
        .zip(breads)
        .enumerate()
        .map(|(b, (settings, bread))| {
            let left = fitted.iter().enumerate().filter(|(o, _)| *o != b);
            let left: Vec<Celsius> =
                left.flat_map(|(_, f)| &f.ways).filter_map(|w| w.leaves).collect();
            One {
                ways: settings.iter().map(|(p, s)| (*p, s)).collect(),
                request: &bread.request,
                reheat: settings.iter().map(|(p, s)| reheat(s, *p, &left)).collect(),
            }
        })
        .collect();
    let outcome = seek_several(&ones, part.within(0.4, 1.0))?;
    Ok(Baking { fitted, outcome })
}

/// No way at all.
const NONE: Fitted = Fitted { ways: Vec::new() };

/// A bread in its oven, for the dough of the plans it would have by itself.
fn fitted(bread: &Bread<'_>) -> Result<Fitted, PlanError> {
    // few hours around the asked time show which dough is baked
    let near = bread.request.early.min(Request::by(0.0).early);
    for early in [near, bread.request.early] {
        let request = Request { early, ..bread.request.clone() };
        let Both { again, first } = fitted_twice(&bread.order, &request, None, Part::UNTOLD)?;
        if !again.ways.is_empty() {
            return Ok(again);
        }
        if early == bread.request.early {
            return Ok(first);
        }
    }
    Ok(NONE)
}

impl Bread<'_> {
    /// Whether another is the same bread once more.
    fn alike(&self, other: &Self) -> bool {
        self.request == other.request
            && self.order.recipe == other.order.recipe
            && self.order.total_flour == other.order.total_flour
    }
}

/// How long the hearth heats for this bread after the one that leaves it coolest.
fn reheat(setting: &Setting<'_>, path: Path, left: &[Celsius]) -> Minutes {
    let kept = &setting.kitchen.oven;
    let knob = setting.loading_knob(path);
    let coolest = left.iter().copied().reduce(|a, b| if a < b { a } else { b });
    let slab = setting.kitchen.hearth.filter(|h| h.heated).map(|h| h.slab());
    let (Some(slab), Some(left)) = (slab, coolest) else { return LEAST };
    // knob and oven differ by the same for every bread
    let oven = knob + kept.knob_error;
    let sag = TempRise((oven - left).0.max(0.0));
    let wait = recovery(&slab, oven, sag, READY_WITHIN);
    wait.map_or(LEAST, |t| Minutes((5.0 * (t.0 / 5.0).ceil()).max(LEAST.0)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::file::{read_kitchen, read_recipe};
    use crate::formula::Scale;
    use crate::hours::Calendar;
    use crate::kitchen::Kitchen;
    use crate::parameters::ParameterSet;
    use crate::plan::{Joint, WayOut};
    use crate::recipe::Recipe;
    use jiff::civil::datetime;
    use quantity::Millilitres;

    const BATARD: &str =
        include_str!("../../../../examples/ferry-lane/recipes/tidewater-batard.toml");
    const BOULE: &str =
        include_str!("../../../../examples/ferry-lane/recipes/reedbed-seeded-boule.toml");
    const MILK: &str =
        include_str!("../../../../examples/ferry-lane/recipes/millpond-milk-loaf.toml");
    const FLAT: &str = include_str!("../../../../examples/ferry-lane/kitchens/cold-flat.toml");
    /// Saturday 18:00 from Thursday 18:00.
    const SATURDAY_SIX: f64 = 48.0 * 60.0;

    fn asked<'a>(recipes: &'a [Recipe], kitchen: &'a Kitchen, early: f64) -> Vec<Bread<'a>> {
        let one = |recipe: &'a Recipe| {
            let scale = Scale::Pieces(recipe.yields.pieces);
            let total_flour = scale.total_flour(&recipe.formula, &recipe.yields).unwrap();
            let calendar = Calendar::plain(datetime(2026, 11, 26, 18, 0, 0, 0));
            let set = ParameterSet::default_set();
            let order = Order { recipe, kitchen, set, total_flour, calendar };
            let request =
                Request { early: Minutes(early * 60.0), kitchens: 64, ..Request::by(SATURDAY_SIX) };
            Bread { order, request }
        };
        recipes.iter().map(one).collect()
    }

    /// What each bread needs, and that all of it can be had, minute by minute.
    fn can_be_had(breads: &[Bread<'_>], baking: &Baking, joint: &Joint) {
        let minutes = SATURDAY_SIX as i64;
        let (mut hands, mut oven) = (vec![None; 3000], vec![None; 3000]);
        let mut fridge = vec![0.0; 3000];
        for (b, plan) in joint.plans.iter().enumerate() {
            let way = &baking.fitted[b].ways[plan.way];
            let setting = breads[b].order.setting(&way.recipe).unwrap();
            assert!(plan.schedule.ready() <= SATURDAY_SIX);
            let early = breads[b].request.early.0;
            assert!(plan.schedule.ready() >= SATURDAY_SIX - early - 1.0);
            let steps = &way.recipe.method.steps;
            let mut spans = plan.schedule.spans.clone();
            spans.sort_by(|x, y| x.from.total_cmp(&y.from));
            let load = spans.iter().find(|s| steps[s.step].verb == crate::method::Verb::Load);
            let out = spans.iter().rfind(|s| steps[s.step].verb == crate::method::Verb::Bake);
            for m in 0..minutes as usize {
                let at = m as f64 + 0.5;
                let works =
                    spans.iter().any(|s| s.from <= at && at < s.from + steps[s.step].hands_on.0);
                if works {
                    assert!(hands[m].is_none_or(|o| o == b), "hands at {m}: {b} {:?}", hands[m]);
                    hands[m] = Some(b);
                    let local = setting.calendar.local(m as i64);
                    assert_eq!(setting.kitchen.hours.blocked(local), None, "{local}");
                }
                if load.unwrap().from <= at && at < out.unwrap().to {
                    assert!(oven[m].is_none_or(|o| o == b), "oven at {m}: {b} {:?}", oven[m]);
                    oven[m] = Some(b);
                }
                let cold = |s: &&crate::run::Span| {
                    let step = &steps[s.step];
                    step.what.is_none() && step.place == crate::method::Place::Fridge
                };
                if spans.iter().filter(cold).any(|s| s.from <= at && at < s.to) {
                    fridge[m] += setting.sheet.dough().0 * 2.5 / 1000.0;
                }
            }
            for (step, from, to) in &plan.slack {
                let at = plan.schedule.of(*step).unwrap().from;
                assert!(*from <= at && at <= *to);
            }
        }
        // between two breads the hearth is heated again
        let mut last: Option<(usize, usize)> = None;
        for (m, o) in oven.iter().enumerate().filter_map(|(m, o)| Some((m, (*o)?))) {
            if let Some((before, at)) = last
                && before != o
            {
                assert!(m - at > 5, "no time to heat up at {m}");
            }
            last = Some((o, m));
        }
        let litres = breads[0].order.kitchen.fridge.space.map_or(f64::INFINITY, |s| s.0 / 1000.0);
        assert!(fridge.iter().all(|l| *l <= litres + 1e-6));
    }

    #[test]
    fn several_breads_share_hands_oven_and_fridge() {
        let recipes = [BATARD, BOULE, MILK].map(|t| read_recipe(t).unwrap());
        let mut kitchen = read_kitchen(FLAT).unwrap();
        kitchen.fridge.space = Some(Millilitres(9000.0));
        let breads = asked(&recipes, &kitchen, 7.0);
        let baking = plan_several(&breads, Part::UNTOLD).unwrap();
        let Several::Plans(joints) = &baking.outcome else { panic!("{:?}", baking.outcome) };
        for joint in joints {
            can_be_had(&breads, &baking, joint);
            // together is never cheaper than each by itself, among what was found
            for (plan, alone) in joint.plans.iter().zip(&joint.alone) {
                assert!(plan.cost > alone - 0.3, "{} {alone}", plan.cost);
            }
        }
        // the same question, the same answer
        let again = plan_several(&breads, Part::UNTOLD).unwrap();
        let Several::Plans(twice) = &again.outcome else { panic!("not again") };
        for (x, y) in joints.iter().flat_map(|j| &j.plans).zip(twice.iter().flat_map(|j| &j.plans))
        {
            assert_eq!((&x.schedule, x.cost.to_bits()), (&y.schedule, y.cost.to_bits()));
        }
    }

    /// Two batches that must come out at one time cannot share an oven; with more hours they can.
    #[test]
    fn what_cannot_be_had_together_says_what_would_do() {
        let recipes = [BATARD, BATARD].map(|t| read_recipe(t).unwrap());
        let kitchen = read_kitchen(FLAT).unwrap();
        let breads = asked(&recipes, &kitchen, 0.5);
        let baking = plan_several(&breads, Part::UNTOLD).unwrap();
        let Several::Apart(clash, outs) = &baking.outcome else { panic!("{:?}", baking.outcome) };
        assert_eq!(clash.breads, [0, 1]);
        assert!(clash.reliefs.iter().any(|r| r.of == [crate::plan::together::Resource::Oven]));
        let sooner = outs.iter().find_map(|o| match o {
            WayOut::Sooner(by) => Some(by.0 / 60.0),
            WayOut::Later(..) => None,
        });
        let breads = asked(&recipes, &kitchen, 0.5 + sooner.unwrap());
        let baking = plan_several(&breads, Part::UNTOLD).unwrap();
        let Several::Plans(joints) = &baking.outcome else { panic!("{:?}", baking.outcome) };
        can_be_had(&breads, &baking, &joints[0]);
    }

    /// Breads that never meet are planned as each would be by itself.
    #[test]
    fn breads_of_different_days_do_not_give_way() {
        let recipes = [BATARD, MILK].map(|t| read_recipe(t).unwrap());
        let kitchen = read_kitchen(FLAT).unwrap();
        let mut breads = asked(&recipes, &kitchen, 3.0);
        breads[1].request.ready += 24.0 * 60.0;
        let baking = plan_several(&breads, Part::UNTOLD).unwrap();
        let Several::Plans(joints) = &baking.outcome else { panic!("{:?}", baking.outcome) };
        let joint = &joints[0];
        for (plan, alone) in joint.plans.iter().zip(&joint.alone) {
            assert!((plan.cost - alone).abs() < 0.25, "{} {alone}", plan.cost);
        }
        assert_eq!(joint.gap, 0.0);
    }
}
