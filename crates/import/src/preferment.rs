//! Preferments out of lines: a section of its own ("for the levain: …"), or ripe starter weighed
//! straight into the dough.

use crate::heading::Part;
use crate::item::{Group, Item, rounded};
use crate::pantry::{FlourKind, Meaning};
use crate::told::{Field, Notes};
use engine::formula::{Preferment, PrefermentKind, Seed, YeastForm};
use quantity::{Grams, Percent};

/// Hydration of a starter nobody describes, %. Common practice, no source: equal weights.
const USUAL_HYDRATION: f64 = 100.0;
/// Seed of a levain nobody describes, % of its fresh flour. Common practice, no source.
const USUAL_SEED: f64 = 20.0;
/// Hydrations a recipe file takes, %.
const HYDRATIONS: std::ops::RangeInclusive<f64> = 30.0..=400.0;

/// A preferment in grams, all of it that goes into the dough.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Ripe {
    pub(crate) name: String,
    pub(crate) kind: PrefermentKind,
    /// Flours by name, with their kind; those of the seed counted in.
    pub(crate) flours: Vec<(String, FlourKind, Grams)>,
    pub(crate) water: Grams,
    pub(crate) salt: Grams,
    /// As fresh yeast.
    pub(crate) yeast: Grams,
    pub(crate) seed: Option<Seed>,
}

impl Ripe {
    pub(crate) fn flour(&self) -> Grams {
        self.flours.iter().map(|f| f.2).sum()
    }

    pub(crate) fn total(&self) -> Grams {
        self.flour() + self.water + self.salt + self.yeast
    }

    /// The same, more or less of it.
    pub(crate) fn scale(&mut self, k: f64) {
        self.flours.iter_mut().for_each(|f| f.2 = f.2 * k);
        self.water = self.water * k;
        self.salt = self.salt * k;
        self.yeast = self.yeast * k;
    }

    /// In percent, for a total flour and a form of yeast.
    pub(crate) fn preferment(&self, total_flour: Grams, form: YeastForm) -> Preferment {
        let flour = self.flour();
        let share = |g: Grams| Percent::share(g, flour);
        Preferment {
            name: self.name.clone(),
            kind: self.kind,
            prefermented_flour: Percent::share(flour, total_flour),
            hydration: share(self.water),
            salt: share(self.salt),
            yeast: share(form.for_fresh(self.yeast)),
            flours: self.flours.iter().map(|(n, _, g)| (n.clone(), share(*g))).collect(),
            seed: self.seed,
            builds: Vec::new(),
        }
    }
}

/// Hydration of the ripe starter of a line, assumed and told where the line does not say.
fn hydration_of(item: &Item, field: &Field, notes: &mut Notes) -> f64 {
    match item.line.hydration {
        Some(h) if HYDRATIONS.contains(&h.0) => return h.0,
        Some(h) => {
            let said = format!(
                "a hydration of {} % is outside {} to {} %; 100 % is taken",
                h.0,
                HYDRATIONS.start(),
                HYDRATIONS.end()
            );
            notes.assume(Some(&item.place), field.clone(), 30.0, said);
        }
        None => {
            let said = "the hydration of the starter is not said; 100 % is taken, equal weights of flour and water";
            notes.assume(Some(&item.place), field.clone(), 70.0, said);
        }
    }
    USUAL_HYDRATION
}

/// Ripe starter, poolish or biga weighed into the dough, with no section of its own. `main` is the
/// flour it is taken to be made of.
pub(crate) fn from_line(
    item: &Item,
    name: String,
    main: &(String, FlourKind),
    notes: &mut Notes,
) -> Ripe {
    let Meaning::Preferment(kind) = item.meaning else { return nothing(name) };
    let of = |key| Field::Preferment(name.clone(), key);
    item.tell(notes, &of("prefermented_flour"));
    let place = Some(&item.place);
    let percent = match kind {
        PrefermentKind::Levain => hydration_of(item, &of("hydration"), notes),
        PrefermentKind::Poolish => 100.0,
        PrefermentKind::Biga => 50.0,
        PrefermentKind::OldDough => 65.0,
    };
    let (salt, yeast) = match kind {
        PrefermentKind::Levain => (0.0, 0.0),
        PrefermentKind::Poolish => (0.0, 0.3),
        PrefermentKind::Biga => (0.0, 0.6),
        PrefermentKind::OldDough => (2.0, 1.0),
    };
    // common practice, no source
    if kind == PrefermentKind::Levain {
        let said = format!("it is taken to be flour and water alone, of {}", main.0);
        notes.assume(place, of("flour"), 65.0, said);
        let said = format!(
            "how it was fed is not said; seed of {USUAL_SEED} % of the fresh flour is taken, of the same hydration"
        );
        notes.assume(place, of("seed"), 40.0, said);
    } else {
        let said = format!(
            "what is in it is not said; {} with {percent} % water, {salt} % salt and {yeast} % fresh yeast is taken",
            main.0
        );
        notes.assume(place, of("flour"), 35.0, said);
        notes.assume(place, of("hydration"), 60.0, format!("{percent} % is taken"));
    }
    let whole = 100.0 + percent + salt + yeast;
    let part = |p: f64| item.weight() * (p / whole);
    Ripe {
        name: name.clone(),
        kind,
        flours: vec![(main.0.clone(), main.1, part(100.0))],
        water: part(percent),
        salt: part(salt),
        yeast: part(yeast),
        seed: (kind == PrefermentKind::Levain).then_some(Seed {
            inoculation: Percent(USUAL_SEED),
            hydration: Percent(percent),
            counted: true,
        }),
    }
}

fn nothing(name: String) -> Ripe {
    Ripe {
        name,
        kind: PrefermentKind::Levain,
        flours: Vec::new(),
        water: Grams(0.0),
        salt: Grams(0.0),
        yeast: Grams(0.0),
        seed: None,
    }
}

/// What kind of preferment a section makes: what is in it counts for more than its heading.
pub(crate) fn kind(group: &Group) -> Option<PrefermentKind> {
    let heading = match group.part {
        Part::Levain => PrefermentKind::Levain,
        Part::Poolish => PrefermentKind::Poolish,
        Part::Biga => PrefermentKind::Biga,
        _ => return None,
    };
    let has = |f: &dyn Fn(&Meaning) -> bool| group.items.iter().any(|i| f(&i.meaning));
    if !has(&|m| matches!(m, Meaning::Flour { .. })) {
        return None;
    }
    if has(&|m| matches!(m, Meaning::Preferment(_))) {
        return Some(PrefermentKind::Levain);
    }
    if heading == PrefermentKind::Levain && has(&|m| matches!(m, Meaning::Yeast { .. })) {
        return Some(PrefermentKind::Poolish);
    }
    Some(heading)
}

/// A section made into a preferment; what belongs elsewhere is given back.
pub(crate) fn from_section(
    group: &Group,
    kind: PrefermentKind,
    name: &str,
    notes: &mut Notes,
) -> (Ripe, Vec<Item>) {
    let of = |key| Field::Preferment(name.to_owned(), key);
    let mut ripe = Ripe { kind, ..nothing(name.to_owned()) };
    let (mut rest, mut seed, mut seed_flour) = (Vec::new(), Grams(0.0), Grams(0.0));
    for item in &group.items {
        let g = item.weight();
        match &item.meaning {
            Meaning::Flour { kind, .. } => {
                item.tell(notes, &of("prefermented_flour"));
                add_flour(&mut ripe.flours, &item.name, *kind, g);
            }
            Meaning::Water => {
                item.tell(notes, &of("hydration"));
                ripe.water += g;
            }
            Meaning::Salt => {
                item.tell(notes, &of("salt"));
                ripe.salt += g;
            }
            Meaning::Yeast { form, .. } => {
                item.tell(notes, &of("yeast"));
                ripe.yeast += form.as_fresh(g);
            }
            Meaning::Preferment(_) if item.grams.is_some() => {
                item.tell(notes, &of("seed"));
                let h = hydration_of(item, &of("seed"), notes) / 100.0;
                seed += g;
                seed_flour += g / (1.0 + h);
            }
            Meaning::Preferment(_) => {
                notes.unread(&item.place, "no amount in it; write how much, in grams");
            }
            Meaning::Known { .. } | Meaning::Unknown => rest.push(item.clone()),
        }
    }
    let fresh = ripe.flour();
    if kind == PrefermentKind::Levain {
        let (inoculation, hydration) = if seed.0 > 0.0 {
            // the seed is opened up, in the levain's own flours
            let k = 1.0 + seed_flour / fresh;
            ripe.flours.iter_mut().for_each(|f| f.2 = f.2 * k);
            ripe.water += seed - seed_flour;
            notes.assume(
                None,
                of("flour"),
                75.0,
                "the seed is taken to be of the levain's own flours",
            );
            (Percent::share(seed, fresh), Percent(100.0 * ((seed - seed_flour) / seed_flour)))
        } else {
            let said = format!(
                "no ripe starter is named in its build; a seed of {USUAL_SEED} % of its flour at {USUAL_HYDRATION} % hydration is taken, inside the weights given"
            );
            notes.assume(None, of("seed"), 40.0, said);
            (Percent(USUAL_SEED), Percent(USUAL_HYDRATION))
        };
        ripe.seed = Some(Seed { inoculation, hydration, counted: true });
    } else if ripe.yeast.0 <= 0.0 {
        ripe.yeast = fresh * 0.002;
        let said =
            "no yeast is named in it; 0.2 % fresh yeast of its flour is taken, common practice";
        notes.assume(None, of("yeast"), 35.0, said);
    }
    if ripe.water.0 <= 0.0 {
        notes.assume(None, of("hydration"), 30.0, "no water is named in its build; 60 % is taken");
        ripe.water = ripe.flour() * 0.6;
    }
    (ripe, rest)
}

/// Takes as much of a preferment as the dough asks for; what is left over is kept as starter.
pub(crate) fn take(ripe: &mut Ripe, item: &Item, notes: &mut Notes) {
    let field = Field::Preferment(ripe.name.clone(), "prefermented_flour");
    item.tell(notes, &field);
    let (Some(asked), built) = (item.grams, ripe.total()) else { return };
    let k = asked / built;
    if (k - 1.0).abs() < 0.005 {
        return;
    }
    let (sure, said) = if k < 1.0 {
        (
            85.0,
            format!(
                "{} g of the {} g built are taken into the dough; the rest is yours to keep, and the build is scaled to what is used",
                rounded(asked),
                rounded(built)
            ),
        )
    } else {
        (
            60.0,
            format!(
                "the dough takes {} g and the build makes {} g; the build is scaled up",
                rounded(asked),
                rounded(built)
            ),
        )
    };
    notes.assume(Some(&item.place), field, sure, said);
    ripe.scale(k);
}

/// Adds to a list of flours, by name.
pub(crate) fn add_flour(
    flours: &mut Vec<(String, FlourKind, Grams)>,
    name: &str,
    kind: FlourKind,
    grams: Grams,
) {
    match flours.iter_mut().find(|f| f.0.eq_ignore_ascii_case(name)) {
        Some(f) => f.2 += grams,
        None => flours.push((name.to_owned(), kind, grams)),
    }
}
