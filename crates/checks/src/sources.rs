//! The list of reference files and of the modules that compute ours.

use crate::{Values, belief, exhaustive, ferment, label, oven, properties, warmth, water, weekend};

/// Reference files, in the order of the page.
pub(crate) const FILES: &[(&str, &str)] = &[
    ("choi-okos1986.toml", include_str!("../../../data/checks/choi-okos1986.toml")),
    ("maxwell-eucken.toml", include_str!("../../../data/checks/maxwell-eucken.toml")),
    (
        "fbp2008-dough-conductivity.toml",
        include_str!("../../../data/checks/fbp2008-dough-conductivity.toml"),
    ),
    (
        "zanoni1995-diffusivity.toml",
        include_str!("../../../data/checks/zanoni1995-diffusivity.toml"),
    ),
    ("oswin-sorption.toml", include_str!("../../../data/checks/oswin-sorption.toml")),
    ("wagner-pruss2002.toml", include_str!("../../../data/checks/wagner-pruss2002.toml")),
    ("iso2533.toml", include_str!("../../../data/checks/iso2533.toml")),
    ("trade-water.toml", include_str!("../../../data/checks/trade-water.toml")),
    ("heat-balance.toml", include_str!("../../../data/checks/heat-balance.toml")),
    ("conduction-series.toml", include_str!("../../../data/checks/conduction-series.toml")),
    ("warmth-reference.toml", include_str!("../../../data/checks/warmth-reference.toml")),
    ("ganzle1998.toml", include_str!("../../../data/checks/ganzle1998.toml")),
    ("remembered-rates.toml", include_str!("../../../data/checks/remembered-rates.toml")),
    ("nutrients2019.toml", include_str!("../../../data/checks/nutrients2019.toml")),
    ("saunders1972.toml", include_str!("../../../data/checks/saunders1972.toml")),
    ("practice-starters.toml", include_str!("../../../data/checks/practice-starters.toml")),
    ("practice-doughs.toml", include_str!("../../../data/checks/practice-doughs.toml")),
    ("handbook-yeast.toml", include_str!("../../../data/checks/handbook-yeast.toml")),
    ("cjfs2017.toml", include_str!("../../../data/checks/cjfs2017.toml")),
    ("brandt2004.toml", include_str!("../../../data/checks/brandt2004.toml")),
    ("martinez-anaya1994.toml", include_str!("../../../data/checks/martinez-anaya1994.toml")),
    ("trade-guide.toml", include_str!("../../../data/checks/trade-guide.toml")),
    ("conservation.toml", include_str!("../../../data/checks/conservation.toml")),
    ("kline1970.toml", include_str!("../../../data/checks/kline1970.toml")),
    ("food-biochemistry.toml", include_str!("../../../data/checks/food-biochemistry.toml")),
    ("pyler.toml", include_str!("../../../data/checks/pyler.toml")),
    ("aem2012.toml", include_str!("../../../data/checks/aem2012.toml")),
    ("kjfp2025.toml", include_str!("../../../data/checks/kjfp2025.toml")),
    ("jfq2018.toml", include_str!("../../../data/checks/jfq2018.toml")),
    ("freilich1949.toml", include_str!("../../../data/checks/freilich1949.toml")),
    ("foods2023.toml", include_str!("../../../data/checks/foods2023.toml")),
    ("meignen2001.toml", include_str!("../../../data/checks/meignen2001.toml")),
    ("landis2021.toml", include_str!("../../../data/checks/landis2021.toml")),
    ("bake-reference.toml", include_str!("../../../data/checks/bake-reference.toml")),
    ("bake-grid.toml", include_str!("../../../data/checks/bake-grid.toml")),
    ("bake-sensitivity.toml", include_str!("../../../data/checks/bake-sensitivity.toml")),
    ("crust-rates.toml", include_str!("../../../data/checks/crust-rates.toml")),
    ("hearth-reference.toml", include_str!("../../../data/checks/hearth-reference.toml")),
    ("bake-practice.toml", include_str!("../../../data/checks/bake-practice.toml")),
    (
        "bake-sosland-dictionary.toml",
        include_str!("../../../data/checks/bake-sosland-dictionary.toml"),
    ),
    ("bake-uct2025.toml", include_str!("../../../data/checks/bake-uct2025.toml")),
    ("bake-zhang2005.toml", include_str!("../../../data/checks/bake-zhang2005.toml")),
    ("bake-bocevska.toml", include_str!("../../../data/checks/bake-bocevska.toml")),
    ("bake-boutroux1897.toml", include_str!("../../../data/checks/bake-boutroux1897.toml")),
    ("bake-single-numbers.toml", include_str!("../../../data/checks/bake-single-numbers.toml")),
    ("crust-jusoh2009.toml", include_str!("../../../data/checks/crust-jusoh2009.toml")),
    ("home-temperatures.toml", include_str!("../../../data/checks/home-temperatures.toml")),
    ("exhaustive.toml", include_str!("../../../data/checks/exhaustive.toml")),
    ("weekends.toml", include_str!("../../../data/checks/weekends.toml")),
    ("label-loaf.toml", include_str!("../../../data/checks/label-loaf.toml")),
    ("label-sr28-breads.toml", include_str!("../../../data/checks/label-sr28-breads.toml")),
];

/// Ours, by id, under a parameter set (`first` or `mended`).
pub(crate) fn values(set: &str) -> Values {
    let mut out = Values::new();
    properties::values(&mut out);
    water::values(&mut out);
    warmth::values(&mut out);
    if let Some(set) = engine::parameters::ParameterSet::named(set)
        && let Ok(ours) = ferment::values(set)
    {
        out.extend(ours);
    }
    oven::values(set, &mut out);
    belief::values(&mut out);
    exhaustive::values(&mut out);
    weekend::values(&mut out);
    label::values(&mut out);
    out
}
