//! Usual cautions, each where it belongs: a bake with steam gets the word on steam, one without
//! does not.
//!
//! They inform; the makers' manuals decide. No figure is given for what a dark crust holds: the
//! model does not know it. What is said of heat and water is common practice, no source.

use crate::hearth::Steam;
use crate::kitchen::{Material, PotMaterial, TinKind};
use crate::method::{Liner, Path, Verb};
use crate::recipe::PieceShape;
use crate::run::Setting;
use quantity::{Celsius, Units};

/// Lightness L* of a crust from which it counts as dark: "deep golden brown" begins here. Ours.
const DARK: f64 = 55.0;

/// A usual caution.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Caution {
    /// Raw flour and dough.
    RawDough,
    /// Steam, from a tray, a deck oven or a lifted lid.
    Steam,
    /// Water near hot glass, stone and enamel.
    Water,
    /// A pot, plate or hearth of cast iron.
    CastIron,
    /// A pot of earthenware.
    Earthenware,
    /// A tin of glass.
    GlassTin,
    /// A lid and its knob.
    Lid,
    /// Paper or mat in the oven.
    Liner {
        /// Which.
        liner: Liner,
        /// What its maker gives, if it was looked up.
        rated: Option<Celsius>,
    },
    /// A dark crust.
    DarkCrust,
}

impl Caution {
    /// The step it belongs to.
    pub fn at(self) -> Verb {
        match self {
            Self::RawDough => Verb::Mix,
            Self::Lid | Self::Earthenware => Verb::Preheat,
            Self::Steam | Self::Water | Self::CastIron | Self::GlassTin | Self::Liner { .. } => {
                Verb::Load
            }
            Self::DarkCrust => Verb::Bake,
        }
    }

    /// In words.
    pub fn words(self, units: Units) -> String {
        match self {
            Self::RawDough => {
                "Raw flour and dough are not ready to eat: wash hands, bench and tools.".into()
            }
            Self::Steam => "Steam burns and cannot be seen: face and forearms away from door and lid, dry gloves.".into(),
            Self::Water => "Water goes into a metal tray heated with the oven, never onto hot glass, stone, enamel or the lamp: they crack.".into(),
            Self::CastIron => "Hot cast iron cracks under cold water, and stays hot long after the bake.".into(),
            Self::Earthenware => "Earthenware cracks when heated or cooled at once: let it warm and cool with the oven, keep it dry.".into(),
            Self::GlassTin => "A glass tin cracks when heated or cooled at once: never from the fridge into the hot oven, never onto a wet or cold bench.".into(),
            Self::Lid => "Lids and their knobs have a rated maximum: look it up before you heat the pot.".into(),
            Self::Liner { liner, rated } => {
                let name = match liner {
                    Liner::Paper => "Baking paper",
                    Liner::Mat => "A baking mat",
                };
                let rated = match rated {
                    Some(t) => format!("its maker gives {} for yours", t.show(units)),
                    None => format!(
                        "often {} to {}, look on the pack",
                        Celsius(220.0).show(units),
                        Celsius(230.0).show(units)
                    ),
                };
                format!("{name} has a rated maximum, {rated}; let nothing hang over or touch the heater.")
            }
            Self::DarkCrust => "The darker a crust, the more acrylamide it holds: golden is enough.".into(),
        }
    }
}

/// What comes last, wherever a caution stands.
pub const MANUALS: &str =
    "Cautions are the usual ones; your oven's manual, and those of pot, tin and paper, decide.";

/// The cautions of one way through the method in this kitchen's oven. `lightness` is how light
/// the crust comes out (L*), where that is known.
pub fn cautions(setting: &Setting<'_>, path: Path, lightness: Option<f64>) -> Vec<Caution> {
    let kitchen = setting.kitchen;
    let steps = &setting.recipe.method.steps;
    let programme = setting.programme(path, 1);
    let steams = |s: Steam| match s {
        Steam::None => false,
        Steam::Held { .. } => true,
        Steam::Tray(g) | Steam::Ice(g) | Steam::Towels(g) | Steam::Spray(g) => g.0 > 0.0,
    };
    let steam = programme.stages.iter().any(|s| steams(s.steam));
    let water =
        programme.stages.iter().any(|s| steams(s.steam) && !matches!(s.steam, Steam::Held { .. }));
    let lidded = programme.pot.is_some();
    let pan = setting.recipe.yields.shape == PieceShape::Pan;
    let pot = kitchen.pot.filter(|_| lidded).map(|p| p.material);
    let iron_hearth =
        !pan && !lidded && kitchen.hearth.is_some_and(|h| h.material == Material::CastIron);
    let liner = setting.oven_steps(path, 1).into_iter().find_map(|i| steps[i].liner);
    let all = [
        (true, Caution::RawDough),
        (steam || lidded, Caution::Steam),
        (water, Caution::Water),
        (iron_hearth || pot == Some(PotMaterial::CastIron), Caution::CastIron),
        (pot == Some(PotMaterial::Earthenware), Caution::Earthenware),
        (pan && kitchen.tin.kind == TinKind::Glass, Caution::GlassTin),
        (lidded, Caution::Lid),
        (lightness.is_some_and(|l| l <= DARK), Caution::DarkCrust),
    ];
    let mut out: Vec<Caution> = all.into_iter().filter(|c| c.0).map(|c| c.1).collect();
    out.extend(liner.map(|liner| Caution::Liner { liner, rated: kitchen.rated(liner) }));
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::file::{read_kitchen, read_recipe};
    use crate::formula::Scale;
    use crate::hours::Calendar;
    use crate::parameters::ParameterSet;
    use jiff::civil::datetime;

    const BATARD: &str = include_str!("../../../examples/ferry-lane/recipes/tidewater-batard.toml");
    const LOAF: &str = include_str!("../../../examples/ferry-lane/recipes/millpond-milk-loaf.toml");
    const FLAT: &str = include_str!("../../../examples/ferry-lane/kitchens/cold-flat.toml");

    fn said(recipe: &str, kitchen: &str, lightness: f64) -> Vec<Caution> {
        let recipe = read_recipe(recipe).unwrap();
        let kitchen = read_kitchen(kitchen).unwrap();
        let flour = Scale::Pieces(2).total_flour(&recipe.formula, &recipe.yields).unwrap();
        let calendar = Calendar::plain(datetime(2026, 11, 27, 8, 0, 0, 0));
        let set = ParameterSet::default_set();
        let s = Setting::new(&recipe, &kitchen, set, flour, calendar).unwrap();
        cautions(&s, recipe.method.paths()[0], Some(lightness))
    }

    #[test]
    fn each_bake_gets_its_own_cautions_and_no_others() {
        use Caution as C;
        assert_eq!(said(BATARD, FLAT, 65.0), [C::RawDough, C::Steam, C::Water]);
        let deck = FLAT.replace("steam = \"tray\"", "steam = \"own\"");
        assert_eq!(said(BATARD, &deck, 65.0), [C::RawDough, C::Steam]);
        let dry = FLAT.replace("steam = \"tray\"", "steam = \"none\"");
        assert_eq!(said(BATARD, &dry, 65.0), [C::RawDough]);
        assert_eq!(said(BATARD, &dry, 50.0), [C::RawDough, C::DarkCrust]);
        let iron = dry.replace("cordierite", "cast iron");
        assert_eq!(said(BATARD, &iron, 65.0), [C::RawDough, C::CastIron]);
        // a pan loaf stands on no hearth, and bakes without steam
        assert_eq!(said(LOAF, &FLAT.replace("cordierite", "cast iron"), 65.0), [C::RawDough]);
        let glass = format!("{FLAT}\n[tin]\nkind = \"glass\"\n");
        assert_eq!(said(LOAF, &glass, 65.0), [C::RawDough, C::GlassTin]);
        assert_eq!(said(BATARD, &glass, 65.0), said(BATARD, FLAT, 65.0));
    }

    #[test]
    fn pots_and_liners_bring_theirs() {
        use Caution as C;
        let lid = BATARD.replace("steam = true", "lid = true");
        let pot = |m: &str| format!("{FLAT}\n[pot]\nmass = \"5 kg\"\nmaterial = \"{m}\"\n");
        assert_eq!(
            said(&lid, &pot("cast iron"), 65.0),
            [C::RawDough, C::Steam, C::CastIron, C::Lid]
        );
        assert_eq!(
            said(&lid, &pot("earthenware"), 65.0),
            [C::RawDough, C::Steam, C::Earthenware, C::Lid]
        );
        let paper = BATARD.replace("do = \"load\"", "do = \"load\"\nliner = \"paper\"");
        let rated = FLAT.replacen("room =", "paper = \"220 °C\"\nroom =", 1);
        let last = *said(&paper, &rated, 65.0).last().unwrap();
        assert_eq!(last, C::Liner { liner: Liner::Paper, rated: Some(Celsius(220.0)) });
        assert!(last.words(Units::Metric).contains("its maker gives 220"));
        let unknown = C::Liner { liner: Liner::Paper, rated: None }.words(Units::Us);
        assert!(unknown.contains("428") && unknown.contains("look on the pack"), "{unknown}");
    }

    /// Our own rule: no figure for acrylamide, ever.
    #[test]
    fn no_figure_for_what_a_dark_crust_holds() {
        assert!(!Caution::DarkCrust.words(Units::Metric).contains(|c: char| c.is_ascii_digit()));
    }
}
