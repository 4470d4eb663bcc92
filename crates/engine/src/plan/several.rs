//! Several breads in one kitchen: each searched on its own, then chosen together.
//!
//! Every bread is searched roughly, and one schedule of each is chosen so that hands, oven,
//! fridge, bannetons and starter are enough for all ([`together`]). Near that
//! choice each is searched finely, and it is chosen again. The answer is the best there is among
//! the schedules that were found.

use super::together::{
    Candidate, Choice, Clash, OvenUse, Patience, Shared, Stock, Together, cheapest, choose,
};
use super::{
    AIMS, Aim, Burden, FINE_KITCHENS, Found, Hands, KEPT, Moves, NEAR, Nothing, Plan, PlanError,
    Quest, ROUGH_KEPT, Request, finish, limits, remedy,
};
use crate::method::{Path, Place, Verb};
use crate::progress::Part;
use crate::run::{RunError, Schedule, Setting};
use quantity::Minutes;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// One bread: its ways through the method, and what is asked of it.
pub(crate) struct One<'s, 'a> {
    pub(crate) ways: Vec<(Path, &'s Setting<'a>)>,
    pub(crate) request: &'s Request,
    /// Minutes the oven needs before loading after another bread, for each way.
    pub(crate) reheat: Vec<Minutes>,
}

impl One<'_, '_> {
    /// Whether another bread is the same one: same recipe, amount and time.
    fn alike(&self, other: &Self) -> bool {
        let same = |(a, b): (&(Path, &Setting<'_>), &(Path, &Setting<'_>))| {
            a.0 == b.0 && a.1.recipe == b.1.recipe && a.1.sheet == b.1.sheet
        };
        self.request == other.request
            && self.reheat == other.reheat
            && self.ways.len() == other.ways.len()
            && self.ways.iter().zip(&other.ways).all(same)
    }
}

/// One plan for each bread, all of which can be kept.
#[derive(Debug, Clone)]
pub struct Joint {
    /// What it is best at.
    pub aims: Vec<Aim>,
    /// Of each bread.
    pub plans: Vec<Plan>,
    /// Sum of their costs for the first aim.
    pub cost: f64,
    /// What each would cost by itself for that aim, as far as was searched.
    pub alone: Vec<f64>,
    /// How much less another choice among the schedules found might cost, at most; 0 when none.
    pub gap: f64,
}

impl Joint {
    /// What all of it asks of doughs and baker.
    pub fn burden(&self) -> Burden {
        let mut sum = Burden::default();
        self.plans.iter().for_each(|p| sum += p.burden);
        sum
    }
}

/// A change of what is asked that would do.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum WayOut {
    /// All may be ready so much sooner than now allowed.
    Sooner(Minutes),
    /// One bread, by its place, may be ready so much later.
    Later(usize, Minutes),
}

/// The answer.
#[derive(Debug, Clone)]
pub enum Several {
    /// One joint plan per aim, fewer when one is best at several.
    Plans(Vec<Joint>),
    /// One bread cannot be had even by itself.
    Alone(usize, Nothing),
    /// Each can be had, not all of them together.
    Apart(Clash, Vec<WayOut>),
}

/// Nodes of one search for a choice: about a fifth of a second at most.
const PATIENCE: Patience = Patience { nodes: 500_000 };
const SAFEST: usize = Aim::Safest as usize;
/// Schedules of one bread that a choice is made among.
const MOST: usize = 400;
/// Minutes by which the rough grid is shifted when they cannot be had together at first.
const SHIFTS: [f64; 2] = [10.0, 20.0];
/// How much sooner or later is tried when they cannot be had together, hours.
const TRIED: [f64; 4] = [1.0, 2.0, 4.0, 8.0];

/// A bread while it is planned.
struct Sought<'q, 's, 'a> {
    quest: &'q Quest<'s, 'a>,
    reheat: &'q [Minutes],
    hands: Hands,
}

impl Sought<'_, '_, '_> {
    fn candidate(&self, (way, found): &(usize, Found), aim: usize) -> Candidate {
        let cost = found.costs[aim];
        let setting = self.quest.ways[*way].1;
        Candidate { cost, ..needs(setting, &found.schedule, self.reheat[*way]) }
    }
}

/// What a schedule needs of what breads share; without its cost.
pub fn needs(setting: &Setting<'_>, schedule: &Schedule, reheat: Minutes) -> Candidate {
    let steps = &setting.recipe.method.steps;
    let minute = |t: f64| t.round() as i32;
    let mut out = Candidate::default();
    let mut loads: Vec<(f64, f64)> = Vec::new();
    let (mut basket, mut loaded) = (None, false);
    let litres = limits::fridge_room(setting).0 / 1000.0;
    let mut spans = schedule.spans.clone();
    spans.sort_by(|a, b| a.from.total_cmp(&b.from).then(a.step.cmp(&b.step)));
    for s in &spans {
        let step = &steps[s.step];
        if step.hands_on.0 > 0.0 {
            // at least a minute, as the hours count it
            let until = (s.from + step.hands_on.0).ceil() as i32;
            out.hands.push((s.from.floor() as i32, until.max(s.from.floor() as i32 + 1)));
        }
        match step.verb {
            Verb::Shape if step.what.is_none() => basket = basket.or(Some(s.from)),
            Verb::Load => {
                loaded = true;
                // of several loads the last empties the baskets
                if let (Some(from), true) = (basket, setting.kitchen.bannetons.is_some()) {
                    out.bannetons = vec![(minute(from), minute(s.from), setting.pieces())];
                }
                if step.wait == Some(Place::Fridge)
                    && let Some(last) = spans.iter().rfind(|x| steps[x.step].verb == Verb::Load)
                {
                    out.fridge.push((minute(s.from), minute(last.from), litres));
                }
                loads.push((s.from, s.to));
            }
            Verb::Cool | Verb::Preheat => {}
            // reheating and baking follow a load
            _ if loaded => {
                if let Some(l) = loads.last_mut() {
                    l.1 = s.to;
                }
            }
            _ if matches!(step.place, Place::Oven | Place::OvenOff) => {
                let (load, until) = (minute(s.from), minute(s.to));
                out.oven.push(OvenUse { reheat: 0, load, until });
            }
            _ if step.place == Place::Fridge && step.what.is_none() => {
                out.fridge.push((minute(s.from), minute(s.to), litres));
            }
            _ => {}
        }
    }
    // one bread's loads follow one another: nothing goes in between
    if let (Some(first), Some(last)) = (loads.first(), loads.last()) {
        let (load, until) = (minute(first.0), last.1.ceil() as i32);
        out.oven.push(OvenUse { reheat: reheat.0.ceil() as i32, load, until });
    }
    for (p, sheet) in setting.recipe.formula.preferments.iter().zip(&setting.sheet.preferments) {
        let line = setting.recipe.method.side_line(&p.name);
        let begins = line.first().and_then(|&i| schedule.of(i));
        if let (Some(span), Some(build)) = (begins, sheet.builds.first()) {
            out.starter.push((minute(span.from), build.seed.0));
        }
    }
    out
}

fn shared(setting: &Setting<'_>) -> Shared {
    let kitchen = setting.kitchen;
    Shared {
        fridge_litres: kitchen.fridge.space.map(|s| s.0 / 1000.0),
        fridge_taken: Vec::new(),
        bannetons: kitchen.bannetons,
        starter: kitchen.culture.stock.map(|s| Stock { grams: s.0, rebuilt: Vec::new() }),
    }
}

/// Why it went wrong, and with which bread.
pub(crate) type Wrong = (usize, PlanError);

/// Seeks one plan for each bread so that all can be kept. All share one kitchen and calendar.
pub(crate) fn seek(ones: &[One<'_, '_>], part: Part<'_>) -> Result<Several, Wrong> {
    let Some(any) = ones.first().and_then(|o| o.ways.first()) else {
        return Ok(Several::Plans(Vec::new()));
    };
    let shared = shared(any.1);
    let quests: Vec<Quest<'_, '_>> = each(ones, |_, o| Quest::new(&o.ways, o.request, None))?;
    let sought: Vec<Sought<'_, '_, '_>> = each(ones, |b, o| {
        let quest = &quests[b];
        let hands = Hands::new(any.1, quest.horizon(), &[]);
        if !hands.ever_free() && any.1.kitchen.hours.never_free() {
            return Err(PlanError::NoHours);
        }
        Ok(Sought { quest, reheat: &o.reheat, hands })
    })?;
    // batches of one recipe have the same schedules
    let same: Vec<usize> =
        (0..ones.len()).map(|b| (0..b).find(|&o| ones[o].alike(&ones[b])).unwrap_or(b)).collect();
    let search = |ask: &(dyn Fn(&Sought<'_, '_, '_>) -> Result<_, PlanError> + Sync)| {
        let all: Vec<Vec<(usize, Found)>> =
            each(&sought, |b, s| if same[b] == b { ask(s) } else { Ok(Vec::new()) })?;
        Ok(same.iter().map(|&b| all[b].clone()).collect::<Vec<_>>())
    };
    let pieces = part.within(0.0, 0.3).pieces(ones.len());
    let mut found = search(&|s| {
        let found = roughly(s)?;
        pieces.one();
        Ok(found)
    })?;
    if let Some(b) = found.iter().position(Vec::is_empty) {
        let none =
            remedy::seek(sought[b].quest, part.within(0.3, 1.0)).map_err(|e| (b, e.into()))?;
        return Ok(Several::Alone(b, none));
    }
    let mut choices = chosen(&sought, &found, &shared);
    for shift in SHIFTS {
        if choices.is_some() {
            break;
        }
        // hands meet less when grids do not
        let more = search(&|s| Ok(s.quest.rough(&s.hands, ROUGH_KEPT, shift)?))?;
        found.iter_mut().zip(more).for_each(|(f, more)| f.extend(more));
        choices = chosen(&sought, &found, &shared);
    }
    let Some(choices) = choices else {
        let clash = clashing(&sought, &found, &shared);
        let outs = ways_out(ones, &sought, &found, &shared, &clash);
        return Ok(Several::Apart(clash, outs));
    };
    let picked = |choices: &[Choice], found: &[Vec<(usize, Found)>], b: usize| {
        let mut picked: Vec<(usize, Schedule)> = Vec::new();
        for c in choices {
            let (way, f) = &found[b][c.picks[b]];
            if !picked.iter().any(|p| p.0 == *way && p.1 == f.schedule) {
                picked.push((*way, f.schedule.clone()));
            }
        }
        picked
    };
    let pieces = part.within(0.3, 0.7).pieces(ones.len());
    let near = each(&sought, |b, s| {
        let near = finely(s, &picked(&choices, &found, b))?;
        pieces.one();
        Ok(near)
    })?;
    let last = part.within(0.7, 1.0);
    // what was chosen roughly is among the fine ones
    let Some(choices) = chosen(&sought, &near, &shared) else {
        return joint(&sought, &found, &choices, &picked, last).map(Several::Plans);
    };
    joint(&sought, &near, &choices, &picked, last).map(Several::Plans)
}

/// Asks every bread the same, and remembers which one could not answer.
fn each<'t, T: Sync, U: Send>(
    all: &'t [T],
    ask: impl Fn(usize, &'t T) -> Result<U, PlanError> + Sync,
) -> Result<Vec<U>, Wrong> {
    let asked = all.par_iter().enumerate();
    asked.map(|(b, one)| ask(b, one).map_err(|e| (b, e))).collect()
}

fn roughly(s: &Sought<'_, '_, '_>) -> Result<Vec<(usize, Found)>, RunError> {
    let rough = s.quest.rough(&s.hands, ROUGH_KEPT, 0.0)?;
    if rough.is_empty() { s.quest.last(&s.hands) } else { Ok(rough) }
}

/// The fine search near what was picked roughly, and the picked themselves.
fn finely(
    s: &Sought<'_, '_, '_>,
    picked: &[(usize, Schedule)],
) -> Result<Vec<(usize, Found)>, PlanError> {
    let quest = s.quest;
    let mut known: Vec<Vec<Schedule>> = vec![Vec::new(); quest.ways.len()];
    for (way, schedule) in picked {
        known[*way].push(schedule.clone());
    }
    let kitchens = (quest.request.kitchens as usize).min(FINE_KITCHENS);
    let grid = quest.request.grid.0;
    let mut out = quest.near(&s.hands, known.clone(), grid, NEAR, KEPT, kitchens)?;
    for f in quest.near(&s.hands, known, grid, 0.0, usize::MAX, kitchens)? {
        if !out.iter().any(|o| o.0 == f.0 && o.1.schedule == f.1.schedule) {
            out.push(f);
        }
    }
    Ok(out)
}

/// One choice per aim; none where they cannot be had together, or it is not settled.
fn chosen(
    sought: &[Sought<'_, '_, '_>],
    found: &[Vec<(usize, Found)>],
    shared: &Shared,
) -> Option<Vec<Choice>> {
    let places: Vec<Vec<usize>> = found.iter().map(|f| listed(f)).collect();
    let choice = |aim| {
        let mut c = cheapest(&lists(sought, found, &places, aim), shared, PATIENCE)?;
        c.picks = c.picks.iter().zip(&places).map(|(&k, place)| place[k]).collect();
        Some(c)
    };
    (0..AIMS).map(choice).collect()
}

/// Which breads cannot be had together, and why.
fn clashing(
    sought: &[Sought<'_, '_, '_>],
    found: &[Vec<(usize, Found)>],
    shared: &Shared,
) -> Clash {
    let places: Vec<Vec<usize>> = found.iter().map(|f| listed(f)).collect();
    match choose(&lists(sought, found, &places, SAFEST), shared, PATIENCE) {
        Together::Nothing(clash) => clash,
        // not settled in time
        _ => Clash { breads: (0..sought.len()).collect(), reliefs: Vec::new() },
    }
}

/// Candidates of every bread with their costs for an aim.
fn lists(
    sought: &[Sought<'_, '_, '_>],
    found: &[Vec<(usize, Found)>],
    places: &[Vec<usize>],
    aim: usize,
) -> Vec<Vec<Candidate>> {
    let all = sought.iter().zip(found).zip(places);
    all.map(|((s, f), places)| places.iter().map(|&i| s.candidate(&f[i], aim)).collect()).collect()
}

/// Places of the schedules of one bread a choice is made among: of every half hour in which it may
/// be ready the best for each aim, as many as [`MOST`] allows.
fn listed(found: &[(usize, Found)]) -> Vec<usize> {
    let half_hour = |i: usize| (found[i].1.schedule.ready() / 30.0).floor() as i64;
    let mut ranks = vec![usize::MAX; found.len()];
    for aim in 0..AIMS {
        let mut order: Vec<usize> = (0..found.len()).collect();
        order.sort_by(|&i, &j| found[i].1.costs[aim].total_cmp(&found[j].1.costs[aim]));
        let mut seen: BTreeMap<i64, usize> = BTreeMap::new();
        for i in order {
            let rank = seen.entry(half_hour(i)).or_default();
            *rank += 1;
            ranks[i] = ranks[i].min(*rank);
        }
    }
    // the first of every half hour, then the second of every, ...
    let mut places: Vec<usize> = (0..found.len()).collect();
    places.sort_by_key(|&i| ranks[i]);
    places.truncate(MOST);
    places
}

type Picked<'f> = dyn Fn(&[Choice], &[Vec<(usize, Found)>], usize) -> Vec<(usize, Schedule)> + 'f;

/// The chosen schedules as plans: in all kitchens, with the room the others leave.
fn joint(
    sought: &[Sought<'_, '_, '_>],
    found: &[Vec<(usize, Found)>],
    choices: &[Choice],
    picked: &Picked<'_>,
    part: Part<'_>,
) -> Result<Vec<Joint>, Wrong> {
    // every picked schedule in every kitchen
    let mut whole: Vec<Vec<(usize, Found)>> = Vec::new();
    for (b, s) in sought.iter().enumerate() {
        let mut known: Vec<Vec<Schedule>> = vec![Vec::new(); s.quest.ways.len()];
        for (way, schedule) in picked(choices, found, b) {
            known[way].push(schedule);
        }
        let kitchens = s.quest.request.kitchens as usize;
        let grid = s.quest.request.grid.0;
        let all = s.quest.near(&s.hands, known, grid, 0.0, usize::MAX, kitchens);
        whole.push(all.map_err(|e| (b, e.into()))?);
    }
    part.within(0.0, 0.5).done();
    let of = |b: usize, c: &Choice| -> (usize, Found) {
        let (way, rough) = &found[b][c.picks[b]];
        let same = |f: &&(usize, Found)| f.0 == *way && f.1.schedule == rough.schedule;
        let one = whole[b].iter().find(same);
        one.map_or_else(|| (*way, rough.clone()), Clone::clone)
    };
    // an aim's choice stands for itself where it gains what the aim is about
    let mut answers: Vec<(Vec<Aim>, &Choice, Burden)> = Vec::new();
    for (aim, choice) in Aim::EACH.into_iter().zip(choices) {
        let mut burden = Burden::default();
        (0..sought.len()).for_each(|b| burden += of(b, choice).1.burden);
        if answers.iter().all(|a| aim.gains(&burden, &a.2)) {
            answers.push((vec![aim], choice, burden));
        } else {
            let sum = |c: &Choice| -> f64 {
                (0..sought.len()).map(|b| of(b, c).1.costs[aim as usize]).sum()
            };
            if let Some(a) = answers.iter_mut().min_by(|x, y| sum(x.1).total_cmp(&sum(y.1))) {
                a.0.push(aim);
            }
        }
    }
    let mut out = Vec::new();
    let pieces = part.within(0.5, 1.0).pieces(answers.len());
    for (aims, choice, _) in answers {
        let aim = aims.first().copied().unwrap_or(Aim::Safest) as usize;
        let picks: Vec<(usize, Found)> = (0..sought.len()).map(|b| of(b, choice)).collect();
        let needs: Vec<Candidate> =
            sought.iter().zip(&picks).map(|(s, p)| s.candidate(p, aim)).collect();
        let plans = each(sought, |b, s| {
            let others: Vec<&Candidate> =
                needs.iter().enumerate().filter(|(o, _)| *o != b).map(|(_, c)| c).collect();
            let taken = others.iter().flat_map(|c| &c.hands).copied();
            let hands = s.hands.without(taken);
            let (way, found) = &picks[b];
            let spare = s.quest.request.ready - found.schedule.ready();
            let room = oven_room(&needs[b], &others);
            let moves = Moves { sooner: room.0, later: room.1.min(spare.max(0.0)) };
            Ok(finish(s.quest, &hands, *way, found, aims.clone(), moves)?)
        })?;
        let alone = found
            .iter()
            .map(|list| list.iter().map(|f| f.1.costs[aim]).fold(f64::INFINITY, f64::min))
            .collect();
        let cost = plans.iter().map(|p| p.cost).sum();
        out.push(Joint { aims, plans, cost, alone, gap: choice.gap() });
        pieces.one();
    }
    Ok(out)
}

/// Minutes a bread's time in the oven may move sooner and later between those of others.
fn oven_room(mine: &Candidate, others: &[&Candidate]) -> (f64, f64) {
    let mut room = (f64::INFINITY, f64::INFINITY);
    for me in &mine.oven {
        for o in others.iter().flat_map(|c| &c.oven) {
            if o.until <= me.from() {
                room.0 = room.0.min(f64::from(me.from() - o.until));
            }
            if o.from() >= me.until {
                room.1 = room.1.min(f64::from(o.from() - me.until));
            }
        }
    }
    room
}

/// What could be asked instead, for breads that clash: the first of each kind that does.
fn ways_out(
    ones: &[One<'_, '_>],
    sought: &[Sought<'_, '_, '_>],
    found: &[Vec<(usize, Found)>],
    shared: &Shared,
    clash: &Clash,
) -> Vec<WayOut> {
    let mut out = Vec::new();
    // the search of one bread with more room in time
    let again = |b: usize, change: &dyn Fn(&mut Request)| -> Option<Vec<(usize, Found)>> {
        let mut request = ones[b].request.clone();
        change(&mut request);
        let quest = Quest::new(&ones[b].ways, &request, None).ok()?;
        let hands = Hands::new(ones[b].ways.first()?.1, quest.horizon(), &[]);
        roughly(&Sought { quest: &quest, reheat: sought[b].reheat, hands }).ok()
    };
    let fits = |found: &[Vec<(usize, Found)>]| {
        let places: Vec<Vec<usize>> = found.iter().map(|f| listed(f)).collect();
        cheapest(&lists(sought, found, &places, SAFEST), shared, PATIENCE).is_some()
    };
    for hours in TRIED {
        let by = Minutes(hours * 60.0);
        if !out.iter().any(|o| matches!(o, WayOut::Sooner(_))) {
            let mut wider = found.to_vec();
            for &b in &clash.breads {
                let sooner = again(b, &|r| r.early += by);
                wider[b].extend(sooner.unwrap_or_default());
            }
            if fits(&wider) {
                out.push(WayOut::Sooner(by));
            }
        }
        for &b in &clash.breads {
            if out.iter().any(|o| matches!(o, WayOut::Later(x, _) if *x == b)) {
                continue;
            }
            let mut wider = found.to_vec();
            wider[b].extend(again(b, &|r| r.ready += by.0).unwrap_or_default());
            if fits(&wider) {
                out.push(WayOut::Later(b, by));
            }
        }
    }
    out
}
