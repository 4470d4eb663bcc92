//! From weighed lines to a recipe: grams added up, percentages out of them, and the rest (yield,
//! shape, method) assumed and told.

use crate::heading::{self, Part};
use crate::item::{Group, Item};
use crate::pantry::{self, FlourKind, Meaning};
use crate::preferment::{self, Ripe, add_flour};
use crate::source::Source;
use crate::told::{Field, Notes};
use crate::usual;
use crate::yields;
use engine::formula::{FlourShare, Formula, Other, Soaker, YeastForm};
use engine::ingredients::Inside;
use engine::leeway::Leeway;
use engine::recipe::Recipe;
use quantity::{Grams, Percent};

/// Everything but flour, water, salt and yeast, in grams.
#[derive(Debug, Clone, PartialEq)]
struct Extra {
    name: String,
    inside: Inside,
    late: bool,
    grams: Grams,
}

/// Grams of the whole dough, preferments opened up.
#[derive(Debug, Default)]
struct Dough {
    flours: Vec<(String, FlourKind, Grams)>,
    water: Grams,
    salt: Grams,
    /// As fresh yeast, of the final dough alone.
    yeast: Grams,
    form: Option<YeastForm>,
    extras: Vec<Extra>,
    preferments: Vec<Ripe>,
    soakers: Vec<Soaker>,
}

/// Puts the parts together; none when there is no flour in it.
pub(crate) fn recipe(source: &Source, groups: &[Group], notes: &mut Notes) -> Option<Recipe> {
    let mut dough = Dough::default();
    sections(groups, &mut dough, notes);
    for group in groups {
        match group.part {
            Part::Soaker { scalded } => soaker(group, scalded, &mut dough, notes),
            _ if preferment::kind(group).is_some() => {}
            _ => group.items.iter().for_each(|i| weigh_in(i, &mut dough, notes)),
        }
    }
    starters(groups, &mut dough, notes);
    if dough.preferments.is_empty() && dough.yeast.0 <= 0.0 {
        let said = "nothing in it makes it rise: no starter, levain or yeast was found; add a preferment to the file";
        notes.assume(None, Field::Formula("yeast"), 30.0, said);
    }
    let formula = dough.formula(notes)?;
    let total = dough.total();
    let title = title(source, notes);
    let words = words(source, notes);
    let yields = yields::yields(source, total, notes);
    let said = "the method is the trade's plain one (mix, bulk by rise, shape, proof by the poke, bake); the instructions are listed as suggestions only";
    notes.assume(None, Field::Steps, 40.0, said);
    let said = "done by core temperature as usual for its shape; say yours under [done]";
    notes.assume(None, Field::Done, 60.0, said);
    Some(Recipe {
        title,
        words,
        method: usual::method(&formula, yields.shape, yields.piece),
        done_when: usual::done(yields.shape),
        yields,
        formula,
        leeway: Leeway::default(),
    })
}

fn title(source: &Source, notes: &mut Notes) -> String {
    let text = source.title.as_ref().map(|p| p.text.chars().take(120).collect::<String>());
    if let (Some(text), Some(place)) = (text.filter(|t| !t.trim().is_empty()), &source.title) {
        notes.read(place, Field::Title, text.clone(), None);
        return text;
    }
    notes.assume(None, Field::Title, 20.0, "no title was found");
    "Imported bread".to_owned()
}

fn words(source: &Source, notes: &mut Notes) -> String {
    let Some(place) = source.words.as_ref().filter(|p| !p.text.is_empty()) else {
        return String::new();
    };
    notes.read(place, Field::Words, place.text.clone(), None);
    place.text.clone()
}

/// A name no preferment or soaker has yet.
fn free_name(wanted: &str, dough: &Dough) -> String {
    let taken = |n: &str| {
        dough.preferments.iter().any(|p| p.name == n) || dough.soakers.iter().any(|k| k.name == n)
    };
    let mut name = wanted.to_owned();
    let mut k = 2;
    while taken(&name) {
        name = format!("{wanted} {k}");
        k += 1;
    }
    name
}

/// Preferments that have a section of their own.
fn sections(groups: &[Group], dough: &mut Dough, notes: &mut Notes) {
    for group in groups {
        let Some(kind) = preferment::kind(group) else { continue };
        let name = free_name(kind.name(), dough);
        if let Some(place) = &group.heading {
            let field = Field::Preferment(name.clone(), "name");
            if heading::marked(&place.text) {
                notes.read(place, field, name.clone(), None);
            } else {
                let said = format!("the lines below it are taken as the build of the {name}");
                notes.assume(Some(place), field, 85.0, said);
            }
        }
        let (ripe, rest) = preferment::from_section(group, kind, &name, notes);
        if dough.preferments.iter().any(|p| p.kind == kind) {
            let said = format!(
                "a second {} is built from lines of its own; the two are taken side by side, not one out of the other",
                kind.name()
            );
            notes.assume(None, Field::Preferment(name, "name"), 35.0, said);
        }
        if ripe.yeast.0 > 0.0 {
            let form = form_in(group, notes);
            dough.form.get_or_insert(form);
        }
        dough.preferments.push(ripe);
        for item in rest {
            let field = Field::Other(item.name.clone(), "share");
            let said = "it stands in a preferment; it is weighed into the dough instead";
            notes.assume(Some(&item.place), field, 50.0, said);
            weigh_in(&item, dough, notes);
        }
    }
}

/// The form of the first yeast of a section; fresh when it had to be assumed.
fn form_in(group: &Group, notes: &mut Notes) -> YeastForm {
    let of = |i: &'_ Item| match i.meaning {
        Meaning::Yeast { form, sure } => Some((form, sure)),
        _ => None,
    };
    let Some((item, (form, sure))) = group.items.iter().find_map(|i| of(i).map(|y| (i, y))) else {
        return YeastForm::default();
    };
    tell_form(item, form, sure, notes);
    form
}

fn tell_form(item: &Item, form: YeastForm, sure: f64, notes: &mut Notes) {
    let field = Field::Formula("yeast_form");
    if sure < 90.0 {
        let said = format!("which yeast is not said; {} is taken", form.name());
        notes.assume(Some(&item.place), field, sure, said);
    } else {
        notes.read(&item.place, field, form.name(), None);
    }
}

/// Adds a line to the dough; starters wait until the flours are known.
fn weigh_in(item: &Item, dough: &mut Dough, notes: &mut Notes) {
    let g = item.weight();
    match &item.meaning {
        Meaning::Flour { kind, .. } => {
            item.tell(notes, &Field::Flour(item.name.clone(), "share"));
            add_flour(&mut dough.flours, &item.name, *kind, g);
        }
        Meaning::Water => {
            item.tell(notes, &Field::Formula("water"));
            dough.water += g;
        }
        Meaning::Salt => {
            item.tell(notes, &Field::Formula("salt"));
            dough.salt += g;
        }
        Meaning::Yeast { form, sure } => {
            let field = Field::Formula("yeast");
            item.tell(notes, &field);
            tell_form(item, *form, *sure, notes);
            let whole = *dough.form.get_or_insert(*form);
            if whole != *form {
                let said = format!(
                    "counted as {} yeast by the trade's rule, as the rest of it",
                    whole.name()
                );
                notes.assume(Some(&item.place), field, 70.0, said);
            }
            dough.yeast += form.as_fresh(g);
        }
        Meaning::Known { .. } | Meaning::Unknown => extra(item, dough, notes),
        Meaning::Preferment(_) => {}
    }
}

fn extra(item: &Item, dough: &mut Dough, notes: &mut Notes) {
    let of = |key| Field::Other(item.name.clone(), key);
    item.tell(notes, &of("share"));
    let (inside, late) = if let Meaning::Known { key, inside, late, sure } = &item.meaning {
        let said = format!(
            "taken as \"{key}\" of the ingredient table: {} % water, {} % sugar yeast can eat, {} % fat{}",
            inside.water.0,
            inside.sugar.0,
            inside.fat.0,
            if *late { "; worked in after mixing" } else { "" }
        );
        notes.assume(Some(&item.place), of("water"), *sure, said);
        (*inside, *late)
    } else {
        let said = "what is in it is not known: it counts as weight only, without water, sugar or fat of its own; say them in the file";
        notes.assume(Some(&item.place), of("water"), 30.0, said);
        (Inside::default(), false)
    };
    if let Some(e) = dough.extras.iter_mut().find(|e| e.name == item.name) {
        e.grams += item.weight();
    } else {
        let (name, grams) = (item.name.clone(), item.weight());
        dough.extras.push(Extra { name, inside, late, grams });
    }
}

/// Seeds and grains with the water they drink.
fn soaker(group: &Group, scalded: bool, dough: &mut Dough, notes: &mut Notes) {
    let name = free_name("soaker", dough);
    let (mut water, mut soaked, mut names) = (Grams(0.0), Grams(0.0), Vec::new());
    for item in &group.items {
        match &item.meaning {
            // what was soaked already, or stands in the dough too, cannot be soaked apart
            Meaning::Known { .. } | Meaning::Unknown
                if !dough.extras.iter().any(|e| e.name == item.name) =>
            {
                extra(item, dough, notes);
                soaked += item.weight();
                names.push(item.name.clone());
            }
            Meaning::Water => {
                item.tell(notes, &Field::Formula("water"));
                notes.read(&item.place, Field::Soaker(name.clone(), "water"), "water", item.grams);
                water += item.weight();
            }
            _ => {
                let said = "it stands in the soaker; it is weighed into the dough instead";
                notes.assume(Some(&item.place), Field::Soaker(name.clone(), "soaks"), 50.0, said);
                weigh_in(item, dough, notes);
            }
        }
    }
    dough.water += water;
    // a recipe file takes up to 500 % of water
    if soaked.0 > 0.0 && water.0 <= 5.0 * soaked.0 {
        let water = Percent::share(water, soaked);
        dough.soakers.push(Soaker { name, soaks: names, water, scalded });
    }
}

/// Starters and other preferments weighed into the dough: those with a section are taken from it.
fn starters(groups: &[Group], dough: &mut Dough, notes: &mut Notes) {
    let mut taken: Vec<String> = Vec::new();
    let with_lines = groups.iter().filter(|g| preferment::kind(g).is_none());
    for item in with_lines.flat_map(|g| &g.items) {
        let Meaning::Preferment(kind) = item.meaning else { continue };
        let built =
            dough.preferments.iter_mut().find(|p| p.kind == kind && !taken.contains(&p.name));
        if let Some(ripe) = built {
            taken.push(ripe.name.clone());
            preferment::take(ripe, item, notes);
            continue;
        }
        if item.grams.is_none() {
            notes.unread(&item.place, "no amount in it; write how much, in grams");
            continue;
        }
        let name = free_name(kind.name(), dough);
        let Some(main) = flour_of(item, dough) else { continue };
        let ripe = preferment::from_line(item, name.clone(), &main, notes);
        if ripe.yeast.0 > 0.0 && dough.form.is_none() {
            dough.form = Some(YeastForm::Fresh);
            notes.assume(
                Some(&item.place),
                Field::Formula("yeast_form"),
                40.0,
                "fresh yeast is taken",
            );
        }
        taken.push(name);
        dough.preferments.push(ripe);
    }
    for ripe in &dough.preferments {
        if !taken.contains(&ripe.name) {
            let said = format!(
                "all of the {} built is taken into the dough: no line of the dough says how much",
                ripe.name
            );
            let field = Field::Preferment(ripe.name.clone(), "prefermented_flour");
            notes.assume(None, field, 80.0, said);
        }
    }
}

/// The flour a starter is made of: the one its line names, or the dough's greatest.
fn flour_of(item: &Item, dough: &Dough) -> Option<(String, FlourKind)> {
    let said = format!("{} flour", item.line.name);
    if let Some(kind) = pantry::named_flour(&said).filter(|k| k.words != "flour") {
        let known = dough
            .flours
            .iter()
            .find(|f| f.1.words == kind.words || f.1.grain == kind.grain && kind.ash == f.1.ash);
        return Some(known.map_or_else(
            || (format!("{} flour", kind.words.trim_end_matches(" flour")), kind),
            |f| (f.0.clone(), f.1),
        ));
    }
    let inside = dough.preferments.iter().flat_map(|p| &p.flours);
    let greatest = dough.flours.iter().chain(inside).max_by(|a, b| a.2.0.total_cmp(&b.2.0))?;
    Some((greatest.0.clone(), greatest.1))
}

impl Dough {
    fn total_flours(&self) -> Vec<(String, FlourKind, Grams)> {
        let mut all = self.flours.clone();
        for (name, kind, grams) in self.preferments.iter().flat_map(|p| &p.flours) {
            add_flour(&mut all, name, *kind, *grams);
        }
        all
    }

    fn total(&self) -> Grams {
        let of = |p: &Ripe| p.total();
        self.flours.iter().map(|f| f.2).sum::<Grams>()
            + self.water
            + self.salt
            + self.form.unwrap_or_default().for_fresh(self.yeast)
            + self.extras.iter().map(|e| e.grams).sum::<Grams>()
            + self.preferments.iter().map(of).sum::<Grams>()
    }

    fn formula(&mut self, notes: &mut Notes) -> Option<Formula> {
        let flours = self.total_flours();
        let total: Grams = flours.iter().map(|f| f.2).sum();
        if total.0 <= 0.0 {
            return None;
        }
        // one spelling of a flour everywhere
        for p in &mut self.preferments {
            for f in &mut p.flours {
                if let Some(own) = flours.iter().find(|x| x.0.eq_ignore_ascii_case(&f.0)) {
                    f.0.clone_from(&own.0);
                }
            }
        }
        let share = |g: Grams| Percent::share(g, total);
        let inside = |of: fn(&Ripe) -> Grams| self.preferments.iter().map(of).sum::<Grams>();
        let water = self.water + inside(|p| p.water);
        let salt = self.salt + inside(|p| p.salt);
        for (what, g) in [("water", water), ("salt", salt)] {
            if g.0 <= 0.0 {
                let said = format!("no {what} was found; none is taken");
                notes.assume(None, Field::Formula(what), 30.0, said);
            }
        }
        for (name, kind, _) in &flours {
            let said = format!(
                "{}: \"{}\" is taken as {} with {} % protein, {} % ash, {} % moisture, falling number 250 s",
                name,
                kind.words,
                kind.grain.name(),
                kind.protein,
                kind.ash,
                kind.moisture
            );
            let sure = if matches!(kind.words, "flour" | "spelt" | "rye") { 50.0 } else { 75.0 };
            notes.assume(None, Field::Flour(name.clone(), "protein"), sure, said);
        }
        let form = self.form.unwrap_or_default();
        Some(Formula {
            flours: flours
                .iter()
                .map(|(name, kind, g)| FlourShare { flour: kind.named(name), share: share(*g) })
                .collect(),
            water: share(water),
            salt: share(salt),
            yeast: share(form.for_fresh(self.yeast)),
            yeast_form: form,
            bassinage: Percent(0.0),
            others: self
                .extras
                .iter()
                .map(|e| Other {
                    name: e.name.clone(),
                    share: share(e.grams),
                    water: e.inside.water,
                    sugar: e.inside.sugar,
                    fat: e.inside.fat,
                    late: e.late,
                    usda: None,
                })
                .collect(),
            preferments: self.preferments.iter().map(|p| p.preferment(total, form)).collect(),
            soakers: self.soakers.clone(),
        })
    }
}
