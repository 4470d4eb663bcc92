//! Water, sugar and fat of common ingredients, from the bundled table.

use quantity::Percent;

/// USDA SR28 rows; the file's head says how to read it.
const TABLE: &str = include_str!("../../../data/ingredients.csv");

/// What an ingredient brings besides its weight.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Inside {
    /// Water.
    pub water: Percent,
    /// Sugar yeast can eat.
    pub sugar: Percent,
    /// Fat.
    pub fat: Percent,
}

/// Milk sugar is lactose, which neither yeast nor the lactobacilli of sourdough eat.
fn is_dairy(key: &str) -> bool {
    ["milk", "butter", "yogurt", "cream", "cheese"].iter().any(|d| key.contains(d))
}

fn rows() -> impl Iterator<Item = (&'static str, [f64; 3])> {
    TABLE.lines().filter(|l| !l.starts_with('#')).skip(1).filter_map(|line| {
        let cells: Vec<&str> = line.split(',').collect();
        let number = |i: usize| cells.get(i).and_then(|c| c.parse().ok()).unwrap_or(0.0);
        Some((*cells.get(1)?, [number(2), number(6), number(4)]))
    })
}

/// Protein (N × the grain's own factor) and moisture of a row of the table, both as is; for flours.
pub fn protein_and_moisture(key: &str) -> Option<(Percent, Percent)> {
    let line = TABLE.lines().find(|l| l.split(',').nth(1) == Some(key))?;
    let cells: Vec<&str> = line.split(',').collect();
    let number = |i: usize| cells.get(i).and_then(|c| c.parse().ok()).map(Percent);
    Some((number(3)?, number(2)?))
}

/// Keys of the table.
pub fn keys() -> impl Iterator<Item = &'static str> {
    rows().map(|(key, _)| key)
}

/// USDA's food number of a key.
pub fn number(key: &str) -> Option<u32> {
    numbers().find(|(_, k)| *k == key).map(|(n, _)| n)
}

/// Food numbers of the table with their keys.
pub fn numbers() -> impl Iterator<Item = (u32, &'static str)> {
    TABLE.lines().filter(|l| !l.starts_with('#')).skip(1).filter_map(|line| {
        let (number, rest) = line.split_once(',')?;
        Some((number.parse().ok()?, rest.split(',').next()?))
    })
}

/// Looks an ingredient up by its key. Lactose is not counted as sugar yeast can eat.
pub fn inside(key: &str) -> Option<Inside> {
    rows().find(|(k, _)| *k == key).map(|(_, [water, sugar, fat])| Inside {
        water: Percent(water),
        sugar: Percent(if is_dairy(key) { 0.0 } else { sugar }),
        fat: Percent(fat),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_has_what_bakers_add() {
        let honey = inside("honey").unwrap();
        assert_eq!((honey.water, honey.sugar), (Percent(17.1), Percent(82.12)));
        assert_eq!(inside("milk-whole-unfortified").unwrap().sugar, Percent(0.0));
        assert!(keys().count() > 100);
        assert!(inside("unobtainium").is_none());
        let bread_flour = protein_and_moisture("bread-flour-enriched");
        assert_eq!(bread_flour, Some((Percent(11.98), Percent(13.36))));
    }
}
