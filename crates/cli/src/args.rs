//! What can be typed. Help, completions and the manual come from here.

use clap::{Args as ClapArgs, Parser, Subcommand, ValueEnum};
use engine::belief::Season;
use import::Spoons;
use quantity::{Celsius, Grams, Minutes, Percent, Units};
use std::path::PathBuf;

/// Plan, simulate and bake naturally leavened hearth bread on purpose.
#[derive(Parser)]
#[command(name = "grigne", version, max_term_width = 100, arg_required_else_help = true)]
pub(crate) struct Args {
    #[command(subcommand)]
    pub(crate) command: Command,
}

#[derive(Subcommand)]
pub(crate) enum Command {
    /// Weights in the trade's layout: total formula, preferments, final dough
    Formula(FormulaArgs),
    /// Water temperature and ice for the wanted dough temperature
    Water(WaterArgs),
    /// Simulate the dough up to the oven: temperature, rise, acidity, readiness
    Ferment(FermentArgs),
    /// Simulate the oven: core, crust, colour, loss, when it is done; loads for the hearth
    Bake(BakeArgs),
    /// A timeline that fits the dough, your hours and the time you want bread
    Plan(PlanArgs),
    /// Thousands of readers' kitchens follow the recipe, by its times and by its cues
    Travel(TravelArgs),
    /// What a bread holds: nutrition panels, ingredients and allergens for the US and the EU
    Label(LabelArgs),
    /// What a batch costs: ingredients, oven, work; a loaf and 100 g
    Cost(CostArgs),
    /// What to buy for one bread or several, in whole packages, less what is there
    Shop(ShopArgs),
    /// Ingredient lines or a saved page to a recipe file, saying what was assumed
    Import(ImportArgs),
    /// The workbench in a browser, with the notebook
    Serve(ServeArgs),
    /// The notebook into a folder and back; backups; a look for damage
    Notebook(NotebookArgs),
    /// Completions for a shell, to its standard place or sourced
    Completions {
        /// Which shell
        shell: clap_complete::Shell,
    },
    /// The manual, in troff
    Man,
}

/// The recipe and how much of it.
#[derive(ClapArgs)]
pub(crate) struct RecipeArgs {
    /// Recipe file; - reads standard input
    pub(crate) recipe: PathBuf,
    #[command(flatten)]
    pub(crate) batch: BatchArgs,
}

/// How much of a recipe, and where.
#[derive(ClapArgs)]
pub(crate) struct BatchArgs {
    /// Make this many pieces
    #[arg(long, value_name = "N", group = "scale", value_parser = clap::value_parser!(u32).range(1..=10_000))]
    pub(crate) pieces: Option<u32>,
    /// Use this much flour in all, such as "1 kg"
    #[arg(long, value_name = "MASS", group = "scale")]
    pub(crate) flour: Option<Grams>,
    /// Make this much dough
    #[arg(long, value_name = "MASS", group = "scale")]
    pub(crate) dough: Option<Grams>,
    /// Use up this much ripe starter as seed
    #[arg(long, value_name = "MASS", group = "scale")]
    pub(crate) starter: Option<Grams>,
    /// Fill the kitchen's hearth once
    #[arg(long, group = "scale")]
    pub(crate) fill_hearth: bool,
    /// Kitchen file; an ordinary kitchen when none is given
    #[arg(short, long, value_name = "FILE")]
    pub(crate) kitchen: Option<PathBuf>,
}

/// How to print.
#[derive(ClapArgs)]
pub(crate) struct OutArgs {
    /// Units to show
    #[arg(long, value_enum, default_value_t = UnitsArg::Metric)]
    pub(crate) units: UnitsArg,
    /// JSON instead of text; its shape is in docs/json.md
    #[arg(long, group = "format")]
    pub(crate) json: bool,
    /// Write to this file instead of the terminal
    #[arg(short, long, value_name = "FILE")]
    pub(crate) out: Option<PathBuf>,
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum UnitsArg {
    /// Grams and °C
    Metric,
    /// Ounces and °F
    Us,
}

impl From<UnitsArg> for Units {
    fn from(u: UnitsArg) -> Self {
        match u {
            UnitsArg::Metric => Self::Metric,
            UnitsArg::Us => Self::Us,
        }
    }
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum SeasonArg {
    /// Rooms are heated
    Cold,
    /// Rooms are warm by themselves
    Warm,
    /// Half of each
    Any,
}

impl From<SeasonArg> for Season {
    fn from(s: SeasonArg) -> Self {
        match s {
            SeasonArg::Cold => Self::Cold,
            SeasonArg::Warm => Self::Warm,
            SeasonArg::Any => Self::Any,
        }
    }
}

/// Which clock to go by.
#[derive(ClapArgs)]
pub(crate) struct ClockArgs {
    /// Take this as the present, such as "2026-11-26 18:00"; the computer's clock otherwise
    #[arg(long, value_name = "TIME")]
    pub(crate) now: Option<String>,
    /// Time zone, such as Europe/Lisbon; the kitchen's otherwise
    #[arg(long, value_name = "ZONE")]
    pub(crate) zone: Option<String>,
    /// Parameter set of the dough model: first (as specified) or mended
    #[arg(long, value_name = "NAME", default_value = "mended")]
    pub(crate) parameters: String,
}

#[derive(ClapArgs)]
pub(crate) struct FormulaArgs {
    #[command(flatten)]
    pub(crate) recipe: RecipeArgs,
    /// Show what changed against this other version
    #[arg(long, value_name = "RECIPE")]
    pub(crate) diff: Option<PathBuf>,
    /// Reshare the first two flours so that the blend has this protein, such as "12.5 %"
    #[arg(long, value_name = "PERCENT")]
    pub(crate) blend_protein: Option<Percent>,
    /// Show exact weights instead of the scale's steps
    #[arg(long)]
    pub(crate) exact: bool,
    /// Write the recipe file anew, every default filled in
    #[arg(long, group = "format")]
    pub(crate) write: bool,
    #[command(flatten)]
    pub(crate) out: OutArgs,
}

#[derive(ClapArgs)]
pub(crate) struct WaterArgs {
    #[command(flatten)]
    pub(crate) recipe: RecipeArgs,
    /// Dough temperature wanted; the recipe's otherwise
    #[arg(long, value_name = "TEMP")]
    pub(crate) wanted: Option<Celsius>,
    /// Room temperature now
    #[arg(long, value_name = "TEMP")]
    pub(crate) room: Option<Celsius>,
    /// Flour temperature now; the room's otherwise
    #[arg(long, value_name = "TEMP")]
    pub(crate) flour_temp: Option<Celsius>,
    /// Preferment temperature now; the room's otherwise
    #[arg(long, value_name = "TEMP")]
    pub(crate) preferment_temp: Option<Celsius>,
    /// Temperature of the water of a batch you measured: gives your friction and mixing heat
    #[arg(long, value_name = "TEMP", requires = "measured_dough")]
    pub(crate) measured_water: Option<Celsius>,
    /// Temperature of the dough of that batch
    #[arg(long, value_name = "TEMP", requires = "measured_water")]
    pub(crate) measured_dough: Option<Celsius>,
    #[command(flatten)]
    pub(crate) out: OutArgs,
}

/// When a forecast begins, and by which way through the method.
#[derive(ClapArgs)]
pub(crate) struct WayArgs {
    /// When the first build is mixed, such as "Fri 20:00"; now otherwise
    #[arg(long, value_name = "TIME")]
    pub(crate) start: Option<String>,
    /// Bulk through the fridge
    #[arg(long)]
    pub(crate) cold_bulk: bool,
    /// Proof in the fridge: the loaf goes cold into the oven
    #[arg(long)]
    pub(crate) cold_proof: bool,
}

#[derive(ClapArgs)]
pub(crate) struct FermentArgs {
    #[command(flatten)]
    pub(crate) recipe: RecipeArgs,
    #[command(flatten)]
    pub(crate) way: WayArgs,
    /// Every sample as CSV
    #[arg(long, group = "format")]
    pub(crate) csv: bool,
    /// A plot as SVG
    #[arg(long, group = "format")]
    pub(crate) svg: bool,
    #[command(flatten)]
    pub(crate) clock: ClockArgs,
    #[command(flatten)]
    pub(crate) out: OutArgs,
}

#[derive(ClapArgs)]
pub(crate) struct BakeArgs {
    #[command(flatten)]
    pub(crate) recipe: RecipeArgs,
    #[command(flatten)]
    pub(crate) way: WayArgs,
    /// Suggest set points and a time for core and colour both, and what is traded
    #[arg(long)]
    pub(crate) suggest: bool,
    /// Every minute as CSV
    #[arg(long, group = "format")]
    pub(crate) csv: bool,
    /// A plot as SVG
    #[arg(long, group = "format")]
    pub(crate) svg: bool,
    #[command(flatten)]
    pub(crate) clock: ClockArgs,
    #[command(flatten)]
    pub(crate) out: OutArgs,
}

#[derive(ClapArgs)]
#[expect(clippy::struct_excessive_bools, reason = "switches of a command line")]
pub(crate) struct PlanArgs {
    /// Recipe files, up to six for one kitchen; a recipe twice is two batches; - reads standard
    /// input
    #[arg(required = true, value_name = "RECIPE")]
    pub(crate) recipes: Vec<PathBuf>,
    #[command(flatten)]
    pub(crate) batch: BatchArgs,
    /// When the bread should be cooled, such as "Sat 18:00" (the next one); of several breads once
    /// for all or once for each, in order
    #[arg(long, value_name = "TIME", required = true)]
    pub(crate) ready: Vec<String>,
    /// Show every answer in full, not only the safest
    #[arg(long)]
    pub(crate) all: bool,
    /// Go on from a half-done bake: what was begun and measured so far
    #[arg(long, value_name = "FILE", conflicts_with = "as_written")]
    pub(crate) from: Option<PathBuf>,
    /// A step begins then, such as "divide=Sat 9:00"; of several breads with the place of the bread
    /// before it, "2:divide=Sat 9:00"; as often as needed
    #[arg(long = "pin", value_name = "STEP=TIME", value_parser = pair)]
    pub(crate) pins: Vec<(String, String)>,
    /// What weighs how much, such as calls=0.5; as often as needed
    #[arg(long = "weigh", value_name = "NAME=NUMBER", value_parser = pair)]
    pub(crate) weights: Vec<(String, String)>,
    /// How much sooner than asked the bread may be ready; 3 h otherwise, and 2 h more for each
    /// further bread asked for the same time
    #[arg(long, value_name = "DURATION")]
    pub(crate) early: Option<Minutes>,
    /// Take preheat, bake and cooling times from the recipe instead of this kitchen's oven
    #[arg(long)]
    pub(crate) as_written: bool,
    /// Every sample of the best plan as CSV; of one bread
    #[arg(long, group = "format")]
    pub(crate) csv: bool,
    /// The best plan as a plot, SVG
    #[arg(long, group = "format")]
    pub(crate) svg: bool,
    /// The best plan as a calendar (iCalendar)
    #[arg(long, group = "format")]
    pub(crate) ics: bool,
    #[command(flatten)]
    pub(crate) clock: ClockArgs,
    #[command(flatten)]
    pub(crate) out: OutArgs,
}

#[derive(ClapArgs)]
pub(crate) struct TravelArgs {
    #[command(flatten)]
    pub(crate) recipe: RecipeArgs,
    #[command(flatten)]
    pub(crate) way: WayArgs,
    /// How many readers
    #[arg(long, value_name = "N", default_value_t = 10_000, value_parser = clap::value_parser!(u32).range(1..=10_000_000))]
    pub(crate) readers: u32,
    /// Seed of the draws: the same seed draws the same readers
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub(crate) seed: u64,
    /// When the readers bake: cold (rooms are heated; the usual), warm, or any
    #[arg(long, value_enum)]
    pub(crate) season: Option<SeasonArg>,
    /// What is believed of the readers: readers, own-kitchen, or a file
    #[arg(long, value_name = "BELIEF", default_value = "readers")]
    pub(crate) belief: PathBuf,
    /// Kitchens from which to find what decides, each run once for every uncertain quantity; 0
    /// leaves it out
    #[arg(long, value_name = "N", default_value_t = 256, value_parser = clap::value_parser!(u32).range(0..=65_536))]
    pub(crate) sensitivity: u32,
    /// A picture besides, to this SVG file
    #[arg(long, value_name = "FILE")]
    pub(crate) svg: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) clock: ClockArgs,
    #[command(flatten)]
    pub(crate) out: OutArgs,
}

/// How much weight is lost in the oven; from the kitchen's oven, or the recipe's, otherwise.
#[derive(ClapArgs)]
pub(crate) struct LossArgs {
    /// Weight lost from dough to cool bread, such as "14 %"
    #[arg(long, value_name = "PERCENT", conflicts_with_all = ["dough_weight", "baked_weight"])]
    pub(crate) loss: Option<Percent>,
    /// Dough of a bake you weighed, before loading
    #[arg(long, value_name = "MASS", requires = "baked_weight")]
    pub(crate) dough_weight: Option<Grams>,
    /// The same, baked and cool
    #[arg(long, value_name = "MASS", requires = "dough_weight")]
    pub(crate) baked_weight: Option<Grams>,
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum SystemArg {
    /// United States
    Us,
    /// European Union
    Eu,
    /// Both
    Both,
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum LevainArg {
    /// Its flour and water are added to the others
    Opened,
    /// One ingredient, with what it is made of in brackets
    Compound,
}

#[derive(ClapArgs)]
pub(crate) struct LabelArgs {
    #[command(flatten)]
    pub(crate) recipe: RecipeArgs,
    #[command(flatten)]
    pub(crate) loss: LossArgs,
    /// Ingredients as their packets print them; as often as needed
    #[arg(long = "packet", value_name = "FILE")]
    pub(crate) packets: Vec<PathBuf>,
    /// Whose label
    #[arg(long = "for", value_name = "PLACE", value_enum, default_value_t = SystemArg::Both)]
    pub(crate) system: SystemArg,
    /// How the levain stands in the list of ingredients
    #[arg(long, value_enum, default_value_t = LevainArg::Opened)]
    pub(crate) levain: LevainArg,
    /// What it is by the US reference amounts: bread, bagel, muffin, croissant, sweet roll,
    /// crouton, pizza crust
    #[arg(long, value_name = "FOOD", default_value = "bread")]
    pub(crate) food: String,
    /// Sold in slices of this weight
    #[arg(long, value_name = "MASS")]
    pub(crate) slice: Option<Grams>,
    /// Pieces in a package
    #[arg(long, value_name = "N", default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..=1000))]
    pub(crate) pack: u32,
    /// EU panel with protein by the factor of each food, not nitrogen × 6.25
    #[arg(long)]
    pub(crate) usda_protein: bool,
    #[command(flatten)]
    pub(crate) out: OutArgs,
}

#[derive(ClapArgs)]
pub(crate) struct CostArgs {
    #[command(flatten)]
    pub(crate) recipe: RecipeArgs,
    /// Prices file
    #[arg(long, value_name = "FILE")]
    pub(crate) prices: PathBuf,
    /// Ripe starter thrown away for the batch; the prices file's otherwise
    #[arg(long, value_name = "MASS")]
    pub(crate) discard: Option<Grams>,
    #[command(flatten)]
    pub(crate) loss: LossArgs,
    #[command(flatten)]
    pub(crate) out: OutArgs,
}

#[derive(ClapArgs)]
pub(crate) struct ShopArgs {
    /// Recipe files; a recipe twice is two batches; - reads standard input
    #[arg(required = true, value_name = "RECIPE")]
    pub(crate) recipes: Vec<PathBuf>,
    #[command(flatten)]
    pub(crate) batch: BatchArgs,
    /// Prices file
    #[arg(long, value_name = "FILE")]
    pub(crate) prices: PathBuf,
    /// What is in the cupboard; the stock of the prices file otherwise
    #[arg(long, value_name = "FILE")]
    pub(crate) stock: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) out: OutArgs,
}

#[derive(ClapArgs)]
pub(crate) struct ImportArgs {
    /// Ingredient lines, a schema.org Recipe (JSON-LD), or a saved page; - reads standard input
    pub(crate) file: PathBuf,
    /// Whose cups and spoons; US customary otherwise, and told as an assumption
    #[arg(long, value_enum, value_name = "WHOSE")]
    pub(crate) spoons: Option<SpoonsArg>,
    /// JSON instead of a recipe file; its shape is in docs/json.md
    #[arg(long)]
    pub(crate) json: bool,
    /// Write to this file, and tell what was assumed on the terminal
    #[arg(short, long, value_name = "FILE")]
    pub(crate) out: Option<PathBuf>,
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum SpoonsArg {
    /// Cup 237 mL, tablespoon 14.8, teaspoon 4.9
    Us,
    /// Cup 250 mL, tablespoon 15, teaspoon 5
    Metric,
    /// As metric, tablespoon 20 mL
    Au,
}

impl From<SpoonsArg> for Spoons {
    fn from(s: SpoonsArg) -> Self {
        match s {
            SpoonsArg::Us => Self::Us,
            SpoonsArg::Metric => Self::Metric,
            SpoonsArg::Au => Self::Au,
        }
    }
}

#[derive(ClapArgs)]
pub(crate) struct ServeArgs {
    /// Notebook: a file, or the address of a PostgreSQL database (postgres://…); a file in your
    /// data folder otherwise
    #[arg(long, value_name = "FILE|URL", env = "GRIGNE_NOTEBOOK", hide_env_values = true)]
    pub(crate) notebook: Option<String>,
    /// Port; 0 takes any free one
    #[arg(long, value_name = "N", default_value_t = 4747)]
    pub(crate) port: u16,
    /// Let other devices of the house pair with a code
    #[arg(long)]
    pub(crate) lan: bool,
    /// Leave a new notebook empty, without the example bakery
    #[arg(long)]
    pub(crate) empty: bool,
}

#[derive(ClapArgs)]
pub(crate) struct NotebookArgs {
    #[command(subcommand)]
    pub(crate) verb: NotebookVerb,
    /// Notebook: a file, or the address of a PostgreSQL database (postgres://…); a file in your
    /// data folder otherwise
    #[arg(
        long,
        value_name = "FILE|URL",
        env = "GRIGNE_NOTEBOOK",
        hide_env_values = true,
        global = true
    )]
    pub(crate) notebook: Option<String>,
}

#[derive(Subcommand)]
pub(crate) enum NotebookVerb {
    /// Write everything into a folder of TOML, CSV and photos, for people and for git
    Export {
        /// The folder; a former export is brought up to date
        folder: PathBuf,
    },
    /// Take in such a folder, as one change that can be undone
    Import {
        /// The folder
        folder: PathBuf,
    },
    /// Set the whole notebook aside, beside it
    BackUp,
    /// Look through everything for damage
    Check,
}

/// Two words with an equals sign between them.
fn pair(text: &str) -> Result<(String, String), String> {
    match text.split_once('=') {
        Some((a, b)) if !a.trim().is_empty() && !b.trim().is_empty() => {
            Ok((a.trim().to_owned(), b.trim().to_owned()))
        }
        _ => Err("write it with an equals sign between the two".into()),
    }
}

#[cfg(test)]
mod tests {
    #[test]
    fn the_definitions_hold_together() {
        use clap::CommandFactory;
        super::Args::command().debug_assert();
    }
}
