//! The list of reference files and of the modules that compute ours.

use crate::Values;

#[path = "oven.rs"]
mod oven;

/// Reference files, in the order of the page.
pub(crate) const FILES: &[(&str, &str)] = &[
    ("bake-reference.toml", include_str!("../../../data/checks/bake-reference.toml")),
    ("bake-grid.toml", include_str!("../../../data/checks/bake-grid.toml")),
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
];

/// Ours, by id, under a parameter set (`first` or `mended`).
pub(crate) fn values(set: &str) -> Values {
    let mut out = Values::new();
    oven::values(set, &mut out);
    out
}
