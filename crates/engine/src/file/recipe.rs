//! The recipe file.

use super::{Base, Problem, Section, Text, parse, put, quoted, shorten};
use crate::crust::DoneWhen;
use crate::flour::{Flour, Grain};
use crate::formula::{
    Build, FlourShare, Formula, Other, Preferment, PrefermentKind, Seed, Soaker, YeastForm,
};
use crate::hearth::Door;
use crate::ingredients;
use crate::leeway::{Leeway, Range};
use crate::method::{Choice, Cue, End, Liner, Method, Place, Step, Verb, Window};
use crate::recipe::{PieceShape, Recipe, Yield};
use crate::warmth::Vessel;
use quantity::{Celsius, Grams, Minutes, Percent, Ph};
use std::fmt::Write as _;
use std::ops::RangeInclusive;
use toml::de::DeValue;

const SHARE: std::ops::RangeInclusive<f64> = 0.0..=100.0;
const BAKERS: std::ops::RangeInclusive<f64> = 0.0..=500.0;
const STEP_MIN: std::ops::RangeInclusive<f64> = 0.0..=10_080.0; // a week

/// Colours a bread may be baked to, with the lightness L* at which the word begins: ours.
const COLOURS: [(&str, f64); 4] =
    [("light gold", 75.0), ("golden", 65.0), ("deep golden brown", 55.0), ("dark", 45.0)];

/// How the door may stand during a bake.
const DOORS: [(&str, Door); 2] = [("shut", Door::Shut), ("ajar", Door::Ajar)];
/// Where later loads may wait.
const WAITS: [(&str, Place); 2] = [("room", Place::Room), ("fridge", Place::Fridge)];

/// Reads a recipe.
///
/// # Errors
/// All problems found, in the order of the text.
pub fn read_recipe(text: &str) -> Result<Recipe, Vec<Problem>> {
    parse(text, |root| {
        let title = root.needed_words("title", "\"My bread\"");
        let words = root.words("words");
        let yields = root.needed_section("yield").map(|s| {
            let y = read_yield(&s);
            s.finish();
            y
        });
        let formula = read_formula(root);
        let method = read_method(root, formula.as_ref());
        let yields = yields.flatten();
        let pan = yields.as_ref().is_some_and(|y| y.shape == PieceShape::Pan);
        let usual = if pan { DoneWhen::TIN } else { DoneWhen::LEAN };
        let leeway = root.section("leeway").map_or_else(Leeway::default, |s| read_leeway(&s));
        let done_when = root.section("done").map_or(usual, |s| {
            let d = DoneWhen {
                core: s.quantity("core", 70.0..=105.0).or(usual.core),
                lightness: s.choice("colour", &COLOURS),
                loss: s.quantity("loss", 1.0..=40.0),
            };
            s.finish();
            d
        });
        let recipe = Recipe {
            title: title?,
            words,
            yields: yields?,
            formula: formula?,
            method: method?,
            done_when,
            leeway,
        };
        // the formula must give a sheet; say where it does not, unless that has been said
        if !root.problems.borrow().is_empty() {
            return None;
        }
        if let Err(e) = recipe.formula.sheet(Grams(1000.0)) {
            let span = root.get("formula").map_or(0..0, toml::Spanned::span);
            root.problem(span, "formula".into(), e.to_string(), Some(e.hint().into()));
            return None;
        }
        Some(recipe)
    })
}

fn read_leeway(s: &Section<'_, '_>) -> Leeway {
    let leeway = Leeway {
        prefermented_flour: read_range(s, "prefermented_flour", SHARE, "\"12 % to 20 %\""),
        seed: read_range(s, "seed", 0.1..=1000.0, "\"15 % to 60 %\""),
        dough: read_range(s, "dough", 5.0..=40.0, "\"23 °C to 26 °C\""),
        levain: read_range(s, "levain", 5.0..=40.0, "\"22 °C to 28 °C\""),
        hold: s.quantity("hold", 30.0..=2880.0),
        two_builds: s.flag("two_builds", false),
    };
    s.finish();
    leeway
}

/// "a to b", low to high, one measure.
fn read_range<T: Base + PartialOrd>(
    s: &Section<'_, '_>,
    key: &'static str,
    limits: RangeInclusive<f64>,
    example: &str,
) -> Option<Range<T>> {
    let t = s.text(key)?;
    let part = |text| Text { value: text, span: t.span.clone(), field: t.field.clone() };
    let range = match t.value.split_once(" to ") {
        Some((a, b)) => {
            let (a, b) = (s.read::<T>(&part(a), limits.clone())?, s.read::<T>(&part(b), limits)?);
            (a <= b).then_some((a, b))
        }
        None => None,
    };
    if range.is_none() {
        s.problem(
            t.span.clone(),
            t.field.clone(),
            format!("\"{}\" is not a range", shorten(t.value)),
            Some(format!("write {example}, low to high")),
        );
    }
    range
}

fn read_yield(s: &Section<'_, '_>) -> Option<Yield> {
    if s.get("pieces").is_none() {
        s.missing("pieces", "2");
    }
    let pieces = s.whole("pieces", 1..=1000);
    let piece = s.needed::<Grams>("piece", 5.0..=20_000.0, "800 g");
    let shape = s.needed_choice("shape", PieceShape::NAMES);
    let length = s.quantity("length", 20.0..=1500.0);
    let diameter = s.quantity("diameter", 20.0..=600.0);
    let process_loss = s.quantity("process_loss", 0.0..=20.0).unwrap_or(Percent(0.0));
    let bake_loss = s.quantity("bake_loss", 0.0..=40.0).unwrap_or(Percent(14.0));
    Some(Yield {
        pieces: pieces? as u32,
        piece: piece?,
        shape: shape?,
        length,
        diameter,
        process_loss,
        bake_loss,
    })
}

fn read_formula(root: &Section<'_, '_>) -> Option<Formula> {
    let s = root.needed_section("formula")?;
    let mut flours = Vec::new();
    for f in s.sections("flour") {
        let name = f.needed_words("name", "\"bread flour\"");
        let share = f.needed::<Percent>("share", SHARE, "100 %");
        let grain = f.choice("grain", Grain::NAMES).unwrap_or(Grain::Wheat);
        let plain = Flour::white("");
        let flour = Flour {
            name: name.clone().unwrap_or_default(),
            grain,
            protein: f.quantity("protein", 0.0..=90.0).unwrap_or(plain.protein),
            ash: f.quantity("ash", 0.0..=5.0).unwrap_or(plain.ash),
            moisture: f.quantity("moisture", 0.0..=20.0).unwrap_or(plain.moisture),
            falling_number_s: f
                .decimal("falling_number", 60.0..=600.0)
                .unwrap_or(plain.falling_number_s),
            usda: read_usda(&f),
        };
        f.finish();
        if let (Some(name), Some(share)) = (name, share) {
            if flours.iter().any(|x: &FlourShare| x.flour.name == name) {
                f.problem(
                    f.span.clone(),
                    f.field("name"),
                    format!("\"{}\" stands twice", shorten(&name)),
                    Some("give each flour a name of its own".into()),
                );
            }
            flours.push(FlourShare { flour, share });
        }
    }
    if s.get("flour").is_none() {
        s.problem(
            s.span.clone(),
            "formula, flour".into(),
            "there is no flour in the formula".into(),
            Some("add a [[formula.flour]] with name and share".into()),
        );
    }
    let water = s.needed::<Percent>("water", BAKERS, "75 %");
    let salt = s.needed::<Percent>("salt", 0.0..=20.0, "2 %");
    let yeast = s.quantity("yeast", 0.0..=20.0).unwrap_or(Percent(0.0));
    let yeast_form = s.choice("yeast_form", YeastForm::NAMES).unwrap_or_default();
    let bassinage = s.quantity("bassinage", BAKERS).unwrap_or(Percent(0.0));
    let others: Vec<Other> = s.sections("other").iter().filter_map(read_other).collect();
    for (i, o) in others.iter().enumerate() {
        if others[..i].iter().any(|x| x.name == o.name) {
            s.problem(
                s.span.clone(),
                "formula, other".into(),
                format!("\"{}\" stands twice", shorten(&o.name)),
                Some("give each ingredient a name of its own".into()),
            );
        }
    }
    s.finish();
    let preferments: Vec<Preferment> =
        root.sections("preferment").iter().filter_map(|p| read_preferment(p, &flours)).collect();
    let soakers: Vec<Soaker> = root
        .sections("soaker")
        .iter()
        .filter_map(|k| {
            let name = k.needed_words("name", "\"soaker\"");
            let soaks = k.texts("soaks").iter().map(|t| t.value.to_owned()).collect();
            let water = k.needed::<Percent>("water", BAKERS, "125 %");
            let scalded = k.flag("scalded", false);
            k.finish();
            Some(Soaker { name: name?, soaks, water: water?, scalded })
        })
        .collect();
    let named = preferments.iter().map(|p| &p.name).chain(soakers.iter().map(|k| &k.name));
    let names: Vec<&String> = named.collect();
    for (i, name) in names.iter().enumerate() {
        if names[..i].contains(name) {
            root.problem(
                root.get("preferment").or(root.get("soaker")).map_or(0..0, toml::Spanned::span),
                "preferment".into(),
                format!("two preferments or soakers are called \"{}\"", shorten(name)),
                Some("give each a name of its own; steps find them by it".into()),
            );
        }
    }
    Some(Formula {
        flours,
        water: water?,
        salt: salt?,
        yeast,
        yeast_form,
        bassinage,
        others,
        preferments,
        soakers,
    })
}

fn read_other(o: &Section<'_, '_>) -> Option<Other> {
    let name = o.needed_words("name", "\"honey\"");
    let share = o.needed::<Percent>("share", BAKERS, "4 %");
    let mut known = ingredients::Inside::default();
    let mut usda = read_usda(o);
    if let Some(like) = o.text("like") {
        if let Some(found) = ingredients::inside(like.value) {
            known = found;
            usda = usda.or(ingredients::number(like.value));
        } else {
            let near = super::nearest(like.value, ingredients::keys());
            o.problem(
                like.span,
                like.field,
                format!("\"{}\" is not in the ingredient table", shorten(like.value)),
                Some(near.map_or_else(
                    || "say water, sugar and fat instead; the table is data/ingredients.csv".into(),
                    |n| format!("did you mean \"{n}\"?"),
                )),
            );
        }
    }
    let water = o.quantity("water", SHARE).unwrap_or(known.water);
    let sugar = o.quantity("sugar", SHARE).unwrap_or(known.sugar);
    let fat = o.quantity("fat", SHARE).unwrap_or(known.fat);
    let late = o.flag("late", false);
    o.finish();
    Some(Other { name: name?, share: share?, water, sugar, fat, late, usda })
}

/// USDA's food number: a whole number, or a text where it begins with 0.
fn read_usda(s: &Section<'_, '_>) -> Option<u32> {
    let value = s.get("usda")?;
    let digits = match value.get_ref() {
        DeValue::String(text) => text.trim().to_owned(),
        DeValue::Integer(i) => i.as_str().to_owned(),
        _ => String::new(),
    };
    let plain = (1..=5).contains(&digits.len()) && digits.bytes().all(|b| b.is_ascii_digit());
    let number = digits.parse().ok().filter(|_| plain);
    if let Some(n) = number.filter(|n| ingredients::numbers().any(|(known, _)| known == *n)) {
        return Some(n);
    }
    let message = match number {
        Some(n) => format!("food {n:05} is not in the ingredient table"),
        None => "is not a food number".to_owned(),
    };
    let hint = "write a number of data/ingredients.csv, such as usda = \"20080\"; or leave it out and give the packet with --packet";
    s.problem(value.span(), s.field("usda"), message, Some(hint.into()));
    None
}

fn read_preferment(p: &Section<'_, '_>, flours: &[FlourShare]) -> Option<Preferment> {
    let name = p.needed_words("name", "\"levain\"");
    let kind = p.needed_choice("kind", PrefermentKind::NAMES);
    let prefermented_flour = p.needed::<Percent>("prefermented_flour", SHARE, "20 %");
    let hydration = p.needed::<Percent>("hydration", 30.0..=400.0, "100 %");
    let salt = p.quantity("salt", 0.0..=20.0).unwrap_or(Percent(0.0));
    let yeast = p.quantity("yeast", 0.0..=20.0).unwrap_or(Percent(0.0));
    let mut shares: Vec<(String, Percent)> = Vec::new();
    for f in p.sections("flour") {
        let name = f.needed_words("name", "\"bread flour\"");
        let share = f.needed::<Percent>("share", SHARE, "100 %");
        f.finish();
        if let (Some(name), Some(share)) = (name, share) {
            if !flours.iter().any(|x| x.flour.name == name) {
                let near = super::nearest(&name, flours.iter().map(|x| x.flour.name.as_str()))
                    .map_or_else(
                        || "name it exactly as in [[formula.flour]]".to_owned(),
                        |n| format!("did you mean \"{n}\"?"),
                    );
                f.problem(
                    f.span.clone(),
                    f.field("name"),
                    format!("\"{}\" is not among the formula's flours", shorten(&name)),
                    Some(near),
                );
            }
            shares.push((name, share));
        }
    }
    if shares.is_empty() {
        // the first flour, when nothing else is said
        if let Some(first) = flours.first() {
            shares.push((first.flour.name.clone(), Percent(100.0)));
        }
    }
    let seed = p.section("seed").map(|s| {
        let inoculation = s.needed::<Percent>("inoculation", 0.1..=1000.0, "20 %");
        let hydration = s.quantity("hydration", 30.0..=400.0).unwrap_or(Percent(100.0));
        let counted = s.flag("counted", true);
        s.finish();
        inoculation.map(|inoculation| Seed { inoculation, hydration, counted })
    });
    let builds = p
        .sections("build")
        .iter()
        .filter_map(|b| {
            let flour = b.needed::<Percent>("flour", SHARE, "30 %");
            let hydration = b.needed::<Percent>("hydration", 30.0..=400.0, "100 %");
            b.finish();
            Some(Build { flour: flour?, hydration: hydration? })
        })
        .collect();
    p.finish();
    if kind == Some(PrefermentKind::Levain) && seed.is_none() {
        p.problem(
            p.span.clone(),
            p.field("seed"),
            "a levain needs a seed".into(),
            Some("add seed = { inoculation = \"20 %\" } to it".into()),
        );
    }
    Some(Preferment {
        name: name?,
        kind: kind?,
        prefermented_flour: prefermented_flour?,
        hydration: hydration?,
        salt,
        yeast,
        flours: shares,
        seed: seed.flatten(),
        builds,
    })
}

fn read_method(root: &Section<'_, '_>, formula: Option<&Formula>) -> Option<Method> {
    let sections = root.sections("step");
    if root.get("step").is_none() {
        root.problem(
            0..0,
            "step".into(),
            "the recipe has no method".into(),
            Some("add [[step]] tables; do = \"mix\" is the least".into()),
        );
        return None;
    }
    let mut steps = Vec::new();
    for s in &sections {
        let step = read_step(s, formula);
        s.finish();
        steps.extend(step);
    }
    if steps.len() < sections.len() {
        return None;
    }
    let method = Method { steps };
    whole_method(root, &sections, &method, formula);
    Some(method)
}

fn read_step(s: &Section<'_, '_>, formula: Option<&Formula>) -> Option<Step> {
    s.knows(&[
        "do",
        "what",
        "place",
        "vessel",
        "hands_on",
        "time",
        "least",
        "usual",
        "most",
        "until",
        "good",
        "temperature",
        "steam",
        "lid",
        "fan",
        "door",
        "liner",
        "wait",
        "when",
        "note",
    ]);
    let verb = s.needed_choice("do", Verb::NAMES)?;
    let what = s.text("what").map(|t| {
        if let Some(f) = formula {
            let known = || {
                f.preferments
                    .iter()
                    .map(|p| p.name.as_str())
                    .chain(f.soakers.iter().map(|k| k.name.as_str()))
            };
            if !known().any(|n| n == t.value) {
                let hint = super::nearest(t.value, known()).map_or_else(
                    || "name a [[preferment]] or [[soaker]]".to_owned(),
                    |n| format!("did you mean \"{n}\"?"),
                );
                s.problem(
                    t.span.clone(),
                    t.field.clone(),
                    format!("\"{}\" is neither a preferment nor a soaker", shorten(t.value)),
                    Some(hint),
                );
            }
        }
        t.value.to_owned()
    });
    if matches!(verb, Verb::Build | Verb::Soak) && what.is_none() {
        s.missing("what", "\"levain\"");
        return None;
    }
    let place = s.choice("place", Place::NAMES).unwrap_or(verb.usual_place());
    let vessel = s.choice("vessel", &Vessel::NAMES);
    let hands_on = s.quantity("hands_on", 0.0..=600.0).unwrap_or_else(|| verb.usual_hands_on());
    let temperature = s.quantity::<Celsius>("temperature", -5.0..=500.0);
    for (key, home) in [
        ("steam", Verb::Bake),
        ("lid", Verb::Bake),
        ("fan", Verb::Bake),
        ("door", Verb::Bake),
        ("liner", Verb::Load),
        ("wait", Verb::Load),
    ] {
        if verb != home
            && let Some(value) = s.get(key)
        {
            s.problem(
                value.span(),
                s.field(key),
                format!("says nothing at a {} step", verb.name()),
                Some(format!("move it to the step with do = \"{}\"", home.name())),
            );
        }
    }
    let steam = s.flag("steam", false);
    let lid = s.flag("lid", false);
    let fan = s.get("fan").is_some().then(|| s.flag("fan", false));
    let door = s.choice("door", &DOORS);
    let liner = s.choice("liner", Liner::NAMES);
    let wait = s.choice("wait", &WAITS);
    let when = s.choice("when", Choice::NAMES);
    let note = s.words("note");
    let good = s.text("good").and_then(|t| read_window(s, &t));
    let end = read_end(s, verb, hands_on)?;
    let cue = match end {
        End::Cue { cue, .. } => Some(cue),
        _ => None,
    };
    if let (Some(cue), Some(window)) = (cue, good)
        && !window.holds(cue)
    {
        s.problem(
            s.span.clone(),
            s.field("good"),
            format!("waiting until {cue} never ends in {window}"),
            Some("let the cue lie inside its window, both of one measure".into()),
        );
    }
    let good = good.or(cue.and_then(Cue::usual_window));
    Some(Step {
        verb,
        what,
        place,
        vessel,
        hands_on,
        end,
        good,
        temperature,
        steam,
        lid,
        fan,
        door,
        liner,
        wait,
        when,
        note,
    })
}

fn read_end(s: &Section<'_, '_>, verb: Verb, hands_on: Minutes) -> Option<End> {
    let has = |key| s.get(key).is_some();
    let read = |key| s.quantity::<Minutes>(key, STEP_MIN);
    let (time, least, usual, most) = (read("time"), read("least"), read("usual"), read("most"));
    let cue = s.text("until").and_then(|t| read_cue(s, &t));
    // what failed to read has been reported: do not pile on
    let keys = ["time", "until", "least", "usual", "most"];
    let given = keys.iter().filter(|k| has(k)).count();
    let read = [time, least, usual, most].iter().flatten().count() + usize::from(cue.is_some());
    if read < given {
        return None;
    }
    let complain = |key, message: &str, hint: &str| {
        s.problem(s.span.clone(), s.field(key), message.into(), Some(hint.into()));
    };
    let end = match (cue, time, least, usual, most) {
        (None, Some(t), None, None, None) => End::After(t),
        (Some(cue), None, least, None, Some(most)) => {
            End::Cue { cue, least: least.unwrap_or(Minutes(0.0)), most }
        }
        (None, None, Some(least), usual, Some(most)) => {
            let middle = usual.unwrap_or(Minutes(f64::midpoint(least.0, most.0)));
            End::Between { least, usual: middle, most }
        }
        (None, None, None, None, None) if verb_needs_end(verb) => {
            complain(
                "time",
                &format!("nothing says when the {} is over", verb.name()),
                "add time = \"30 min\", or least and most, or until = \"rise 50 %\" with most",
            );
            return None;
        }
        // as long as the work takes
        (None, None, None, None, None) => End::After(hands_on),
        (_, Some(_), ..) => {
            complain(
                "time",
                "a fixed time leaves nothing to least, usual, most or until",
                "drop either time or the others",
            );
            return None;
        }
        (Some(_), None, _, _, None) => {
            complain(
                "most",
                "a cue without a longest time could wait for ever",
                "add most = \"8 h\"",
            );
            return None;
        }
        (Some(_), None, _, Some(_), Some(_)) => {
            complain("usual", "a cue decides by itself, it has no usual time", "drop usual");
            return None;
        }
        (None, None, _, _, None) => {
            complain("most", "is missing", "a range needs least and most");
            return None;
        }
        (None, None, None, _, Some(_)) => {
            complain("least", "is missing", "a range needs least and most; a cue needs until");
            return None;
        }
    };
    let usual_inside = match end {
        End::Between { least, usual, most } => least <= usual && usual <= most,
        _ => true,
    };
    if end.least() > end.most() || !usual_inside {
        s.problem(
            s.span.clone(),
            s.field("most"),
            format!(
                "least {}, most {}: the step can never end rightly",
                end.least().show(),
                end.most().show()
            ),
            Some("least must not be above most, and usual lies between".into()),
        );
        return None;
    }
    if hands_on > end.most() {
        s.problem(
            s.span.clone(),
            s.field("hands_on"),
            format!("{} of work does not fit into {}", hands_on.show(), end.most().show()),
            Some("make the step as long as its work".into()),
        );
        return None;
    }
    Some(end)
}

fn verb_needs_end(verb: Verb) -> bool {
    matches!(
        verb,
        Verb::Build
            | Verb::Soak
            | Verb::Autolyse
            | Verb::Rest
            | Verb::Bulk
            | Verb::Retard
            | Verb::WarmUp
            | Verb::BenchRest
            | Verb::Proof
            | Verb::Bake
            | Verb::Cool
            | Verb::Preheat
    )
}

fn read_cue(s: &Section<'_, '_>, t: &Text<'_>) -> Option<Cue> {
    let part = |text| Text { value: text, span: t.span.clone(), field: t.field.clone() };
    let trimmed = t.value.trim();
    if let Some(rest) = trimmed.strip_prefix("rise ") {
        s.read::<Percent>(&part(rest), 1.0..=400.0).map(Cue::Rise)
    } else if trimmed.starts_with("pH") {
        s.read::<Ph>(&part(trimmed), 3.0..=7.0).map(Cue::Acid)
    } else if let Some(rest) = trimmed.strip_prefix("core ") {
        s.read::<Celsius>(&part(rest), -2.0..=45.0).map(Cue::Core)
    } else if trimmed == "ripe" {
        Some(Cue::Ripe)
    } else if trimmed == "poke" {
        Some(Cue::Poke)
    } else {
        s.problem(
            t.span.clone(),
            t.field.clone(),
            format!("\"{}\" is not a cue", shorten(t.value)),
            Some("write \"rise 55 %\", \"pH 4.3\", \"core 16 °C\", \"ripe\" or \"poke\"".into()),
        );
        None
    }
}

fn read_window(s: &Section<'_, '_>, t: &Text<'_>) -> Option<Window> {
    let part = |text| Text { value: text, span: t.span.clone(), field: t.field.clone() };
    let trimmed = t.value.trim();
    let halves = trimmed.split_once(" to ");
    let window = match halves {
        Some((a, b)) if a.starts_with("rise ") => {
            let a = s.read::<Percent>(&part(&a[5..]), -50.0..=400.0)?;
            let b = s.read::<Percent>(&part(b), -50.0..=400.0)?;
            (a <= b).then_some(Window::Rise(a, b))
        }
        Some((a, b)) if a.starts_with("pH") => {
            let (a, b) = (s.read::<Ph>(&part(a), 3.0..=7.0)?, s.read::<Ph>(&part(b), 3.0..=7.0)?);
            (a <= b).then_some(Window::Acid(a, b))
        }
        Some((a, b)) if a.starts_with("core ") => {
            let a = s.read::<Celsius>(&part(&a[5..]), -2.0..=45.0)?;
            let b = s.read::<Celsius>(&part(b), -2.0..=45.0)?;
            (a <= b).then_some(Window::Core(a, b))
        }
        _ => None,
    };
    if window.is_none() {
        s.problem(
            t.span.clone(),
            t.field.clone(),
            format!("\"{}\" is not a window", shorten(t.value)),
            Some("write \"rise 45 % to 70 %\", \"pH 4.0 to 4.4\" or \"core 10 °C to 18 °C\", low to high".into()),
        );
    }
    window
}

/// What can only be seen with all steps in hand.
fn whole_method(
    root: &Section<'_, '_>,
    sections: &[Section<'_, '_>],
    method: &Method,
    formula: Option<&Formula>,
) {
    let complain = |i: Option<usize>, message: String, hint: &str| {
        let (span, field) = match i.and_then(|i| sections.get(i)) {
            Some(s) => (s.span.clone(), s.path.clone()),
            None => (sections.last().map_or(0..0, |s| s.span.clone()), "step".to_owned()),
        };
        root.problem(span, field, message, Some(hint.to_owned()));
    };
    let first = |verb: Verb| method.steps.iter().position(|s| s.verb == verb);
    for (verb, needed) in [(Verb::Mix, "mixed"), (Verb::Load, "loaded"), (Verb::Bake, "baked")] {
        if first(verb).is_none() {
            complain(
                None,
                format!("the dough is never {needed}"),
                &format!("add a [[step]] with do = \"{}\"", verb.name()),
            );
        }
    }
    for path in method.paths() {
        let heats = |s: &&Step| s.verb == Verb::Preheat && path.takes(s);
        if method.steps.iter().filter(heats).count() > 1 {
            let last = method.steps.iter().rposition(|s| s.verb == Verb::Preheat);
            complain(last, "the oven is heated twice".into(), "keep one preheat step");
            break;
        }
        let line = method.main_line(path);
        let at = |verb: Verb| line.iter().position(|&i| method.steps[i].verb == verb);
        if let (Some(mix), Some(load)) = (at(Verb::Mix), at(Verb::Load)) {
            if mix > load {
                complain(
                    Some(line[mix]),
                    "the dough is mixed after it is loaded".into(),
                    "mind the order",
                );
            }
            for (k, &i) in line.iter().enumerate() {
                let step = &method.steps[i];
                if k < mix && !matches!(step.verb, Verb::Autolyse | Verb::Rest) {
                    complain(
                        Some(i),
                        format!("{} comes before the dough is mixed", step.verb.name()),
                        "only autolyse and rest may stand before mix",
                    );
                }
                if k > load && !step.verb.in_oven() {
                    complain(
                        Some(i),
                        format!("{} comes after loading", step.verb.name()),
                        "only bake, vent, turn, reheat and cool may follow load",
                    );
                }
            }
        }
    }
    let Some(formula) = formula else { return };
    for p in &formula.preferments {
        let steps: Vec<usize> = method
            .side_line(&p.name)
            .into_iter()
            .filter(|&i| method.steps[i].verb == Verb::Build)
            .collect();
        let wanted = p.builds.len().max(1);
        if steps.len() != wanted {
            complain(
                steps.last().copied(),
                format!("the {} has {} build steps, it needs {wanted}", p.name, steps.len()),
                &format!(
                    "have one [[step]] with do = \"build\", what = {} for each of its builds",
                    quoted(&p.name)
                ),
            );
        }
    }
    for k in &formula.soakers {
        if method.side_line(&k.name).is_empty() {
            complain(
                None,
                format!("no step makes the {}", k.name),
                &format!("add a [[step]] with do = \"soak\", what = {}", quoted(&k.name)),
            );
        }
    }
}

fn put_usda(out: &mut String, usda: Option<u32>) {
    if let Some(n) = usda {
        put(out, "usda", &format!("{n:05}"));
    }
}

/// Writes a recipe; [`read_recipe`] gives it back unchanged.
pub fn write_recipe(recipe: &Recipe) -> String {
    let mut out = String::new();
    put(&mut out, "title", &recipe.title);
    if !recipe.words.is_empty() {
        put(&mut out, "words", &recipe.words);
    }
    let y = &recipe.yields;
    // infallible below: writing to a String
    let _ = writeln!(out, "\n[yield]\npieces = {}", y.pieces);
    put(&mut out, "piece", &y.piece.write());
    put(&mut out, "shape", y.shape.name());
    if let Some(l) = y.length {
        put(&mut out, "length", &l.write());
    }
    if let Some(d) = y.diameter {
        put(&mut out, "diameter", &d.write());
    }
    put(&mut out, "process_loss", &y.process_loss.write());
    put(&mut out, "bake_loss", &y.bake_loss.write());

    let l = &recipe.leeway;
    if *l != Leeway::default() {
        out.push_str("\n[leeway]\n");
        let range = |a: String, b: String| format!("{a} to {b}");
        for (key, r) in [("prefermented_flour", l.prefermented_flour), ("seed", l.seed)] {
            if let Some((a, b)) = r {
                put(&mut out, key, &range(a.write(), b.write()));
            }
        }
        for (key, r) in [("dough", l.dough), ("levain", l.levain)] {
            if let Some((a, b)) = r {
                put(&mut out, key, &range(a.write(), b.write()));
            }
        }
        if let Some(t) = l.hold {
            put(&mut out, "hold", &t.write());
        }
        if l.two_builds {
            out.push_str("two_builds = true\n");
        }
    }
    let d = &recipe.done_when;
    out.push_str("\n[done]\n");
    if let Some(core) = d.core {
        put(&mut out, "core", &core.write());
    }
    if let Some(word) = COLOURS.iter().find(|(_, l)| Some(*l) == d.lightness) {
        put(&mut out, "colour", word.0);
    }
    if let Some(loss) = d.loss {
        put(&mut out, "loss", &loss.write());
    }

    let f = &recipe.formula;
    out.push_str("\n[formula]\n");
    put(&mut out, "water", &f.water.write());
    put(&mut out, "salt", &f.salt.write());
    if f.yeast.0 > 0.0 {
        put(&mut out, "yeast", &f.yeast.write());
    }
    if f.yeast_form != YeastForm::default() {
        put(&mut out, "yeast_form", f.yeast_form.name());
    }
    if f.bassinage.0 > 0.0 {
        put(&mut out, "bassinage", &f.bassinage.write());
    }
    for FlourShare { flour, share } in &f.flours {
        out.push_str("\n[[formula.flour]]\n");
        put(&mut out, "name", &flour.name);
        put(&mut out, "share", &share.write());
        put(&mut out, "grain", flour.grain.name());
        put(&mut out, "protein", &flour.protein.write());
        put(&mut out, "ash", &flour.ash.write());
        put(&mut out, "moisture", &flour.moisture.write());
        let _ = writeln!(out, "falling_number = {:?}", flour.falling_number_s);
        put_usda(&mut out, flour.usda);
    }
    for o in &f.others {
        out.push_str("\n[[formula.other]]\n");
        put(&mut out, "name", &o.name);
        put(&mut out, "share", &o.share.write());
        put(&mut out, "water", &o.water.write());
        put(&mut out, "sugar", &o.sugar.write());
        put(&mut out, "fat", &o.fat.write());
        let _ = writeln!(out, "late = {}", o.late);
        put_usda(&mut out, o.usda);
    }
    for p in &f.preferments {
        out.push_str("\n[[preferment]]\n");
        put(&mut out, "name", &p.name);
        put(&mut out, "kind", p.kind.name());
        put(&mut out, "prefermented_flour", &p.prefermented_flour.write());
        put(&mut out, "hydration", &p.hydration.write());
        put(&mut out, "salt", &p.salt.write());
        put(&mut out, "yeast", &p.yeast.write());
        if let Some(s) = p.seed {
            let _ = writeln!(
                out,
                "seed = {{ inoculation = {}, hydration = {}, counted = {} }}",
                quoted(&s.inoculation.write()),
                quoted(&s.hydration.write()),
                s.counted
            );
        }
        let list = |rows: Vec<String>| rows.join(", ");
        let flours = p
            .flours
            .iter()
            .map(|(n, share)| {
                format!("{{ name = {}, share = {} }}", quoted(n), quoted(&share.write()))
            })
            .collect();
        let _ = writeln!(out, "flour = [{}]", list(flours));
        if !p.builds.is_empty() {
            let builds = p
                .builds
                .iter()
                .map(|b| {
                    format!(
                        "{{ flour = {}, hydration = {} }}",
                        quoted(&b.flour.write()),
                        quoted(&b.hydration.write())
                    )
                })
                .collect();
            let _ = writeln!(out, "build = [{}]", list(builds));
        }
    }
    for k in &f.soakers {
        out.push_str("\n[[soaker]]\n");
        put(&mut out, "name", &k.name);
        let soaks: Vec<String> = k.soaks.iter().map(|n| quoted(n)).collect();
        let _ = writeln!(out, "soaks = [{}]", soaks.join(", "));
        put(&mut out, "water", &k.water.write());
        let _ = writeln!(out, "scalded = {}", k.scalded);
    }
    for s in &recipe.method.steps {
        out.push_str("\n[[step]]\n");
        put(&mut out, "do", s.verb.name());
        if let Some(what) = &s.what {
            put(&mut out, "what", what);
        }
        put(&mut out, "place", s.place.name());
        if let Some(v) = s.vessel {
            put(&mut out, "vessel", v.name());
        }
        put(&mut out, "hands_on", &s.hands_on.write());
        match s.end {
            End::After(t) => put(&mut out, "time", &t.write()),
            End::Between { least, usual, most } => {
                put(&mut out, "least", &least.write());
                put(&mut out, "usual", &usual.write());
                put(&mut out, "most", &most.write());
            }
            End::Cue { cue, least, most } => {
                put(&mut out, "until", &cue.to_string());
                put(&mut out, "least", &least.write());
                put(&mut out, "most", &most.write());
            }
        }
        if let Some(w) = s.good {
            put(&mut out, "good", &w.to_string());
        }
        if let Some(t) = s.temperature {
            put(&mut out, "temperature", &t.write());
        }
        if s.steam {
            out.push_str("steam = true\n");
        }
        if s.lid {
            out.push_str("lid = true\n");
        }
        if let Some(fan) = s.fan {
            let _ = writeln!(out, "fan = {fan}");
        }
        if let Some(door) = DOORS.iter().find(|d| Some(d.1) == s.door) {
            put(&mut out, "door", door.0);
        }
        if let Some(l) = s.liner {
            put(&mut out, "liner", l.name());
        }
        if let Some(w) = s.wait {
            put(&mut out, "wait", w.name());
        }
        if let Some(c) = s.when {
            put(&mut out, "when", c.name());
        }
        if !s.note.is_empty() {
            put(&mut out, "note", &s.note);
        }
    }
    out
}
