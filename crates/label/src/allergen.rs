//! Allergens that must be named: fourteen groups in the European Union (Regulation (EU)
//! 1169/2011, Annex II), nine in the United States (section 403(w) of the Food, Drug, and Cosmetic
//! Act with the FASTER Act of 2021). Rye, barley and oats are of the first list only.
//!
//! Written `group` or `group:member`: `milk`, `gluten:rye`, `nuts:walnut`.

/// Groups of the EU with their words.
pub const EU: [(&str, &str); 14] = [
    ("gluten", "cereals containing gluten"),
    ("crustaceans", "crustaceans"),
    ("eggs", "eggs"),
    ("fish", "fish"),
    ("peanuts", "peanuts"),
    ("soybeans", "soybeans"),
    ("milk", "milk"),
    ("nuts", "nuts"),
    ("celery", "celery"),
    ("mustard", "mustard"),
    ("sesame", "sesame"),
    ("sulphites", "sulphur dioxide and sulphites"),
    ("lupin", "lupin"),
    ("molluscs", "molluscs"),
];
/// Cereals containing gluten.
pub const CEREALS: [&str; 6] = ["wheat", "spelt", "khorasan", "rye", "barley", "oats"];

/// Group and member.
fn parts(allergen: &str) -> (&str, &str) {
    allergen.split_once(':').unwrap_or((allergen, ""))
}

/// Whether it is one of the EU's; cereals and nuts name their member.
pub fn known(allergen: &str) -> bool {
    let (group, member) = parts(allergen);
    match group {
        "gluten" => CEREALS.contains(&member),
        "nuts" => !member.is_empty(),
        _ => member.is_empty() && EU.iter().any(|(g, _)| *g == group),
    }
}

/// The same as a major allergen of the United States; none where it is not one.
pub fn us_of(allergen: &str) -> Option<String> {
    let (group, member) = parts(allergen);
    match (group, member) {
        // any wheat, spelt and khorasan among them (from memory)
        ("gluten", "wheat" | "spelt" | "khorasan") => Some("wheat".into()),
        ("crustaceans", _) => Some("crustacean shellfish".into()),
        ("nuts", nut) => Some(format!("tree nuts:{nut}")),
        ("eggs" | "fish" | "peanuts" | "soybeans" | "milk" | "sesame", _) => Some(group.into()),
        _ => None,
    }
}

/// In words: `wheat`, `tree nuts (walnut)`, `cereals containing gluten (rye)`.
pub fn words(allergen: &str) -> String {
    let (group, member) = parts(allergen);
    let group = EU.iter().find(|(g, _)| *g == group).map_or(group, |(_, w)| *w);
    if member.is_empty() { group.to_owned() } else { format!("{group} ({member})") }
}

/// Whether it is a cereal with gluten.
pub fn is_gluten(allergen: &str) -> bool {
    parts(allergen).0 == "gluten"
}
