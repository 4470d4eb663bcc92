//! Questions in JSON, answers in JSON: what a page or a server asks the engine.
//!
//! `docs/json.md` says what may be asked. A question that cannot be answered gives
//! `{ "problem": … }`; nothing here panics.

mod fields;
mod label;
mod shift;

use crate::bake::{BakeAsked, bake};
use crate::ferment::ferment;
use crate::plan::{self, Table, Telling, Together, Ways};
use crate::travel::Told;
use crate::{
    Much, Place, Problem, chosen, document, fits_the_oven, formula, import, parameters,
    total_flour, water,
};
use ::import::Spoons;
use engine::belief::{Belief, Season};
use engine::file::{
    read_half_done, read_kitchen, read_oven_log, read_recipe, write_kitchen, write_recipe,
};
use engine::fit::{Bread, Order};
use engine::formula::Scale;
use engine::hours::Calendar;
use engine::kitchen::Kitchen;
use engine::method::Path;
use engine::parameters::ParameterSet;
use engine::plan::{Happened, Pin, Request};
use engine::progress::Part;
use engine::recipe::Recipe;
use engine::run::Setting;
use engine::travel::Question;
use fields::Fields;
use jiff::civil::DateTime;
use quantity::{Celsius, Grams, Percent, Units};
use serde_json::{Value, json};

/// What can be asked.
const ASKS: [&str; 13] = [
    "formula", "water", "ferment", "bake", "plan", "travel", "label", "cost", "shop", "move",
    "import", "check", "write",
];
/// Furthest elapsed minute a question may name: 60 days.
const FURTHEST: f64 = 60.0 * 1440.0;

/// Answers a question that comes as text.
pub fn answer(question: &str) -> String {
    let answer = match serde_json::from_str::<Value>(question) {
        Ok(question) => ask(&question),
        Err(e) => told(Problem::unread(
            format!("this is not JSON: {e}"),
            Some("ask with an object such as { \"ask\": \"formula\", \"recipe\": \"…\" }".into()),
        )),
    };
    answer.to_string()
}

/// Answers a question: the document, or `{ "problem": … }`.
pub fn ask(question: &Value) -> Value {
    ask_telling(question, Part::UNTOLD)
}

/// As [`ask`], telling on the way how much is done: plans and readers take seconds.
pub fn ask_telling(question: &Value, part: Part<'_>) -> Value {
    answered(question, part).unwrap_or_else(told)
}

#[expect(clippy::needless_pass_by_value, reason = "the end of its way")]
fn told(problem: Problem) -> Value {
    json!({ "problem": problem })
}

fn answered(question: &Value, part: Part<'_>) -> Result<Value, Problem> {
    let q = Fields::of(question, String::new())?;
    let verb = q.needed_text("ask", "\"formula\"")?;
    let answer = match verb {
        "formula" => asked_formula(&q)?,
        "water" => asked_water(&q)?,
        "ferment" => asked_ferment(&q)?,
        "bake" => asked_bake(&q)?,
        "plan" => asked_plan(&q, part)?,
        "travel" => asked_travel(&q, part)?,
        "label" => label::asked(&q)?,
        "cost" => label::asked_cost(&q)?,
        "shop" => label::asked_shop(&q)?,
        "move" => shift::asked(&q)?,
        "import" => asked_import(&q)?,
        "check" => asked_check(&q)?,
        "write" => asked_write(&q)?,
        other => return Err(fields::unknown(other, "ask", &ASKS)),
    };
    Ok(answer)
}

fn units(q: &Fields<'_>) -> Result<Units, Problem> {
    match q.text("units")? {
        None | Some("metric") => Ok(Units::Metric),
        Some("us") => Ok(Units::Us),
        Some(other) => Err(fields::unknown(other, "units", &["metric", "us"])),
    }
}

fn recipe_text(q: &Fields<'_>, key: &'static str) -> Result<Recipe, Problem> {
    let text = q.needed_text(key, "\"title = …\", a recipe file")?;
    read_recipe(text).map_err(|p| Problem::file("recipe", text, &p).at(&q.path(key)))
}

fn kitchen(q: &Fields<'_>) -> Result<Kitchen, Problem> {
    let log = q.text("oven_log")?;
    let Some(text) = q.text("kitchen")? else { return Ok(Kitchen::unknown()) };
    let mut kitchen = read_kitchen(text).map_err(|p| Problem::file("kitchen", text, &p))?;
    if let Some(file) = &kitchen.oven.log.file {
        let text = log.ok_or_else(|| {
            Problem::unread(
                format!("the oven's log is in another file, {file}"),
                Some("send its text as oven_log".into()),
            )
            .at("oven_log")
        })?;
        kitchen.oven.log.points =
            read_oven_log(text).map_err(|p| Problem::file("oven_log", text, &p))?;
    }
    Ok(kitchen)
}

fn much(q: &Fields<'_>) -> Result<Much, Problem> {
    let Some(s) = q.object("scale")? else { return Ok(Much::Written) };
    let mass = |key| s.quantity::<Grams>(key);
    let pieces = s.whole("pieces", 1, 10_000)?.map(|n| Much::Scale(Scale::Pieces(n as u32)));
    let hearth = s.flag("fill_hearth")?.then_some(Much::Hearth);
    let all = [
        pieces,
        mass("flour")?.map(|g| Much::Scale(Scale::Flour(g))),
        mass("dough")?.map(|g| Much::Scale(Scale::Dough(g))),
        mass("starter")?.map(|g| Much::Scale(Scale::Starter(g))),
        hearth,
    ];
    s.finish()?;
    let mut all = all.into_iter().flatten();
    match (all.next(), all.next()) {
        (None, _) => Ok(Much::Written),
        (Some(one), None) => Ok(one),
        _ => Err(Problem::unread(
            "two amounts are asked for",
            Some("name one of pieces, flour, dough, starter, fill_hearth".into()),
        )
        .at(&q.path("scale"))),
    }
}

fn set(q: &Fields<'_>) -> Result<&'static ParameterSet, Problem> {
    parameters(q.text("parameters")?.unwrap_or("mended")).map_err(|p| p.at("parameters"))
}

fn local(text: &str, field: &str) -> Result<DateTime, Problem> {
    text.parse::<DateTime>().map_err(|_| {
        Problem::unread(
            format!("\"{}\" is not a moment", fields::shorten(text)),
            Some("write it as 2026-11-26T18:00".into()),
        )
        .at(field)
    })
}

/// The clock of a question: local time at elapsed minute 0, its changes, the name of its zone.
fn calendar<'v>(q: &Fields<'v>) -> Result<(Calendar, Option<&'v str>), Problem> {
    let start = local(q.needed_text("now", "\"2026-11-26T18:00\"")?, "now")?;
    let zone = q.text("zone")?;
    let mut shifts: Vec<(i64, i64)> = Vec::new();
    for (k, pair) in q.list("shifts")?.iter().enumerate() {
        let numbers = pair.as_array().map(|p| p.iter().map(Value::as_i64).collect::<Vec<_>>());
        let shift = match numbers.as_deref() {
            Some([Some(at), Some(by)]) if at.abs() < 1 << 40 && by.abs() <= 1440 => (*at, *by),
            _ => {
                return Err(Problem::unread(
                    "a clock change is two whole numbers: from which elapsed minute on, and how many minutes ahead",
                    Some("write it as [300, -60]".into()),
                )
                .at(&format!("shifts {}", k + 1)));
            }
        };
        if shifts.last().is_some_and(|last| last.0 >= shift.0) {
            return Err(Problem::unread("clock changes come in order", None).at("shifts"));
        }
        shifts.push(shift);
    }
    Ok((Calendar { start, shifts }, zone))
}

/// Elapsed minutes: a number, or a local date and time.
fn moment(q: &Fields<'_>, key: &'static str, calendar: &Calendar) -> Result<Option<f64>, Problem> {
    match q.get(key) {
        Some(Value::String(text)) => {
            let at = calendar.elapsed(local(text, &q.path(key))?) as f64;
            if at.abs() > FURTHEST {
                let hint = Some("name a moment within two months".into());
                let far = format!("\"{}\" is too far away", fields::shorten(text));
                return Err(Problem::unread(far, hint).at(&q.path(key)));
            }
            Ok(Some(at))
        }
        _ => q.number(key, -FURTHEST, FURTHEST),
    }
}

fn needed_moment(q: &Fields<'_>, key: &'static str, calendar: &Calendar) -> Result<f64, Problem> {
    moment(q, key, calendar)?.ok_or_else(|| q.missing(key, "\"2026-11-28T18:00\""))
}

/// The way through the method: its words, or the two choices; all at room temperature otherwise.
fn path(q: &Fields<'_>) -> Result<Path, Problem> {
    let all = [(false, false), (true, false), (false, true), (true, true)]
        .map(|(cold_bulk, cold_proof)| Path { cold_bulk, cold_proof });
    if let Some(Value::String(words)) = q.get("path") {
        let names = all.map(Path::words);
        let found = all.into_iter().find(|p| p.words() == words);
        return found.ok_or_else(|| fields::unknown(words, "path", &names));
    }
    let Some(p) = q.object("path")? else { return Ok(all[0]) };
    let path = Path { cold_bulk: p.flag("cold_bulk")?, cold_proof: p.flag("cold_proof")? };
    p.finish()?;
    Ok(path)
}

/// What every question of a batch has.
struct Batch {
    recipe: Recipe,
    kitchen: Kitchen,
    flour: Grams,
    units: Units,
}

fn batch(q: &Fields<'_>) -> Result<Batch, Problem> {
    let recipe = recipe_text(q, "recipe")?;
    let (kitchen, units) = (kitchen(q)?, units(q)?);
    let flour = total_flour(much(q)?, &recipe, &kitchen).map_err(|p| p.at("scale"))?;
    Ok(Batch { recipe, kitchen, flour, units })
}

impl Batch {
    fn setting(
        &self,
        set: &'static ParameterSet,
        calendar: Calendar,
    ) -> Result<Setting<'_>, Problem> {
        Setting::new(&self.recipe, &self.kitchen, set, self.flour, calendar).map_err(Problem::plain)
    }
}

fn asked_formula(q: &Fields<'_>) -> Result<Value, Problem> {
    let blend = q.quantity::<Percent>("blend_protein")?;
    let other = q.get("diff").is_some().then(|| recipe_text(q, "diff")).transpose()?;
    let exactly = q.flag("exact")?;
    let mut recipe = recipe_text(q, "recipe")?;
    let kitchen = kitchen(q)?;
    units(q)?;
    let much = much(q)?;
    q.finish()?;
    if let Some(target) = blend {
        formula::blend(&mut recipe, target).map_err(|p| p.at("blend_protein"))?;
    }
    let flour = total_flour(much, &recipe, &kitchen).map_err(|p| p.at("scale"))?;
    let (exact, rounded) = formula::sheets(&recipe, &kitchen, flour)?;
    let changes = other.map(|other| engine::diff::changes(&other, &recipe));
    let sheet = if exactly { exact } else { rounded };
    Ok(formula::json(&recipe, &sheet, changes.as_deref()))
}

fn asked_water(q: &Fields<'_>) -> Result<Value, Problem> {
    let Batch { recipe, mut kitchen, flour, units } = batch(q)?;
    let celsius = |key| q.quantity::<Celsius>(key);
    let measured = match q.object("measured")? {
        None => None,
        Some(m) => {
            let water = m.quantity::<Celsius>("water")?;
            let dough = m.quantity::<Celsius>("dough")?;
            m.finish()?;
            let water = water.ok_or_else(|| m.missing("water", "24.0"))?;
            Some((water, dough.ok_or_else(|| m.missing("dough", "25.0"))?))
        }
    };
    let asked = water::Asked {
        wanted: celsius("wanted")?,
        room: celsius("room")?,
        flour: celsius("flour_temperature")?,
        preferment: celsius("preferment_temperature")?,
        measured,
    };
    q.finish()?;
    Ok(water::water(&recipe, &mut kitchen, flour, &asked, units)?.json(&recipe))
}

fn asked_ferment(q: &Fields<'_>) -> Result<Value, Problem> {
    let (batch, set) = (batch(q)?, set(q)?);
    let (calendar, zone) = calendar(q)?;
    let start = moment(q, "start", &calendar)?.unwrap_or(0.0);
    let path = path(q)?;
    q.finish()?;
    let setting = batch.setting(set, calendar)?;
    Ok(ferment(&setting, path, start, true)?.json(&setting, zone, batch.units))
}

fn asked_bake(q: &Fields<'_>) -> Result<Value, Problem> {
    let (batch, set) = (batch(q)?, set(q)?);
    let (calendar, _) = calendar(q)?;
    let start = moment(q, "start", &calendar)?.unwrap_or(0.0);
    let (path, suggest) = (path(q)?, q.flag("suggest")?);
    q.finish()?;
    let setting = batch.setting(set, calendar)?;
    let asked = BakeAsked { path, start, suggest, over_time: true };
    Ok(bake(&setting, &asked, batch.units)?.json(&setting, batch.units))
}

/// One bread of a plan as it was asked.
struct Asked {
    recipe: Recipe,
    much: Much,
    ready: f64,
    pins: Vec<Pin>,
    happened: Option<Happened>,
}

fn bread(q: &Fields<'_>, of: &Fields<'_>, calendar: &Calendar) -> Result<Asked, Problem> {
    let recipe = recipe_text(q, "recipe")?;
    let much = if q.get("scale").is_some() { much(q)? } else { much(of)? };
    let ready = match moment(q, "ready", calendar)? {
        Some(ready) => ready,
        None => needed_moment(of, "ready", calendar)?,
    };
    let mut pins = Vec::new();
    for pin in q.objects("pins")? {
        pins.push(Pin { step: step(&pin, &recipe)?, at: needed_moment(&pin, "at", calendar)? });
        pin.finish()?;
    }
    let happened = match q.text("from")? {
        None => None,
        Some(text) => {
            let elapsed = |t: &str| t.parse().ok().map(|at| calendar.elapsed(at) as f64);
            let read = read_half_done(text, &recipe, &elapsed);
            Some(read.map_err(|p| Problem::file("half-done bake", text, &p).at("from"))?)
        }
    };
    Ok(Asked { recipe, much, ready, pins, happened })
}

/// A step by its number, from 1, or its words.
fn step(q: &Fields<'_>, recipe: &Recipe) -> Result<usize, Problem> {
    let words = match q.get("step") {
        Some(Value::Number(n)) => n.to_string(),
        _ => q.needed_text("step", "4, or \"bulk\"")?.to_owned(),
    };
    recipe
        .method
        .step_named(&words)
        .map_err(|e| Problem::unread(e.to_string(), Some(e.hint())).at(&q.path("step")))
}

fn asked_plan(q: &Fields<'_>, part: Part<'_>) -> Result<Value, Problem> {
    let (kitchen, units, set) = (kitchen(q)?, units(q)?, set(q)?);
    let (calendar, zone) = calendar(q)?;
    let mut breads = Vec::new();
    for b in q.objects("recipes")? {
        breads.push(bread(&b, q, &calendar)?);
        b.finish()?;
    }
    if breads.is_empty() {
        breads.push(bread(q, q, &calendar)?);
    } else {
        q.knows(&["ready", "scale"]);
    }
    let n = breads.len();
    plan::together(n).map_err(|p| p.at("recipes"))?;
    let one_time = breads.iter().all(|b| b.ready == breads[0].ready);
    let early = q.duration("early")?.unwrap_or(plan::early(n, one_time));
    let as_written = q.flag("as_written")?;
    let mut usual = Request::by(0.0);
    usual.early = early;
    if let Some(kitchens) = q.whole("kitchens", 2, 1024)? {
        usual.kitchens = kitchens as u32;
    }
    for (name, weight) in q.object("weights")?.iter().flat_map(Fields::entries) {
        plan::weigh(&mut usual.weights, name, &weight.to_string())
            .map_err(|p| p.at(&format!("weights, {name}")))?;
    }
    q.finish()?;
    let telling = Telling { zone, units, recipes: true };
    let mut orders = Vec::new();
    for b in &breads {
        let total_flour = total_flour(b.much, &b.recipe, &kitchen).map_err(|p| p.at("scale"))?;
        let (recipe, kitchen) = (&b.recipe, &kitchen);
        let order = Order { recipe, kitchen, set, total_flour, calendar: calendar.clone() };
        let request = Request { ready: b.ready, pins: b.pins.clone(), ..usual.clone() };
        orders.push(Bread { order, request });
    }
    if let ([one], [asked]) = (orders.as_slice(), breads.as_slice()) {
        let happened = asked.happened.as_ref();
        let (fitted, outcome) = plan::seek(&one.order, &one.request, happened, as_written, part)?;
        let ways = Ways::new(&one.order, &fitted)?;
        return plan::json(&one.order, &one.request, &ways, &outcome, telling);
    }
    if as_written || breads.iter().any(|b| b.happened.is_some()) {
        return Err(Problem::wish(
            "as_written and from are for one bread",
            "plan each bread by itself for that",
        ));
    }
    let baking = plan::plan_together(&orders, part)?;
    let table = Table::new(&orders, &baking, early, units)?;
    let told = Together { kitchen: &kitchen, parameters: &set.name, outcome: &baking.outcome };
    table.json(told, telling)
}

fn asked_travel(q: &Fields<'_>, part: Part<'_>) -> Result<Value, Problem> {
    let Batch { recipe, kitchen, flour, units } = batch(q)?;
    let (set, (calendar, _)) = (set(q)?, calendar(q)?);
    let path = chosen(&recipe, path(q)?).map_err(|p| p.at("path"))?;
    let belief = match q.text("season")? {
        None => Belief::readers().clone(),
        Some("cold") => Belief::readers_in(Season::Cold),
        Some("warm") => Belief::readers_in(Season::Warm),
        Some("any") => Belief::readers_in(Season::Any),
        Some(other) => return Err(fields::unknown(other, "season", &["cold", "warm", "any"])),
    };
    let readers = q.whole("readers", 1, 100_000)?.map_or(10_000, |n| n as usize);
    let sensitivity = q.whole("sensitivity", 0, 4096)?.map_or(256, |n| n as u32);
    let seed = q.whole("seed", 0, i64::from(u32::MAX))?.map_or(1, |n| n as u64);
    q.finish()?;
    let setting = Setting::new(&recipe, &kitchen, set, flour, calendar.clone());
    let setting = setting.map_err(Problem::plain)?;
    fits_the_oven(&setting, path)?;
    let question = Question {
        recipe: &recipe,
        written_in: &kitchen,
        path,
        flour,
        set,
        belief: &belief,
        readers,
        seed,
        sensitivity,
        calendar: &calendar,
    };
    let report = engine::travel::travel(&question, &mut |share| {
        part.at(share);
        true
    });
    let report = report.map_err(Problem::plain)?.ok_or_else(|| Problem::plain("stopped"))?;
    Ok(Told { question: &question, setting: &setting, report: &report, units }.json())
}

fn asked_import(q: &Fields<'_>) -> Result<Value, Problem> {
    let text =
        q.needed_text("text", "\"500 g bread flour\\n…\", ingredient lines, JSON-LD or a page")?;
    let spoons = match q.text("spoons")? {
        None => None,
        Some(name) => {
            let names = Spoons::NAMES.map(|(n, _)| n);
            let found = Spoons::NAMES.iter().find(|(n, _)| *n == name).map(|(_, s)| *s);
            Some(found.ok_or_else(|| fields::unknown(name, "spoons", &names))?)
        }
    };
    q.finish()?;
    Ok(import::json(&import::read(text, spoons)?))
}

fn asked_check(q: &Fields<'_>) -> Result<Value, Problem> {
    let (text, read) = match (q.text("recipe")?, q.text("kitchen")?) {
        (Some(text), None) => (text, read_recipe(text).err()),
        (None, Some(text)) => (text, read_kitchen(text).err()),
        _ => return Err(q.missing("recipe", "\"…\", or kitchen = \"…\": one of the two")),
    };
    q.finish()?;
    let problems: Vec<Place> = read.iter().flatten().map(|p| Place::of(text, p)).collect();
    Ok(document("check", json!({ "problems": problems })))
}

fn asked_write(q: &Fields<'_>) -> Result<Value, Problem> {
    let body = if q.get("recipe").is_some() {
        json!({ "recipe": write_recipe(&recipe_text(q, "recipe")?) })
    } else {
        let text = q.needed_text("kitchen", "\"…\", or recipe = \"…\"")?;
        let kitchen = read_kitchen(text).map_err(|p| Problem::file("kitchen", text, &p))?;
        json!({ "kitchen": write_kitchen(&kitchen) })
    };
    q.finish()?;
    Ok(document("write", body))
}
