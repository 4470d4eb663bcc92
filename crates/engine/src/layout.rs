//! How large a piece is, and how pieces lie on a hearth.
//!
//! Sizes follow from weight and density; densities are the trade's. Pieces lie in straight
//! rows, long sides together, all turned the same way.

use crate::numerics::root;
use crate::recipe::PieceShape;
use quantity::{Grams, Millimetres};
use std::f64::consts::PI;

/// Space between pieces on a hearth. *Common practice*: 4 to 5 cm.
pub const GAP: Millimetres = Millimetres(45.0);
/// Bare rim of a hearth, both ends together. *Common practice*.
pub const RIM: Millimetres = Millimetres(20.0);
/// Pieces beyond this are not laid out: no oven is so large.
const MOST: u32 = 10_000;

/// Mass of dough per baked volume, g/mL. *Common practice*, ±15 %: baguette and batard 0.27 to
/// 0.29, round 0.30, tin 0.32 to 0.34.
pub fn baked_density_g_per_ml(shape: PieceShape) -> f64 {
    match shape {
        PieceShape::Baguette => 0.27,
        PieceShape::Batard => 0.28,
        PieceShape::Boule | PieceShape::Roll => 0.30,
        PieceShape::Pan => 0.33,
    }
}

/// Thickness of a long piece with flat ends: V = π D² L/4.
///
/// Zero when a measure is not positive.
pub fn flat_ended_diameter(mass: Grams, length: Millimetres, density_g_per_ml: f64) -> Millimetres {
    let volume_mm3 = 1000.0 * mass.0 / density_g_per_ml;
    let square = 4.0 * volume_mm3 / (PI * length.0);
    Millimetres(if square > 0.0 && square.is_finite() { square.sqrt() } else { 0.0 })
}

/// Thickness of a long piece with round ends: V = π D²/4 (L − D) + π D³/6.
///
/// A piece heavier than a ball of that length is a ball, wider than long; zero when a measure
/// is not positive.
pub fn round_ended_diameter(
    mass: Grams,
    length: Millimetres,
    density_g_per_ml: f64,
) -> Millimetres {
    let volume = 1000.0 * mass.0 / density_g_per_ml;
    if !(volume > 0.0 && volume.is_finite() && length.0 > 0.0 && length.0.is_finite()) {
        return Millimetres(0.0);
    }
    let gap = |d: f64| PI / 4.0 * d * d * (length.0 - d) + PI / 6.0 * d * d * d - volume;
    let ball = libm::cbrt(6.0 * volume / PI);
    Millimetres(root(gap, 0.0, length.0, 1e-6).unwrap_or(ball))
}

/// Height of a round loaf of this width, as a flattened ball: V = π Ø² H/6.
///
/// Zero when a measure is not positive; never above the width.
pub fn boule_height(mass: Grams, width: Millimetres, density_g_per_ml: f64) -> Millimetres {
    let volume = 1000.0 * mass.0 / density_g_per_ml;
    let height = 6.0 * volume / (PI * width.0 * width.0);
    Millimetres(if height > 0.0 && width.0 > 0.0 { height.min(width.0) } else { 0.0 })
}

/// Weight of dough per length, g/cm; zero without a length.
pub fn linear_density_g_per_cm(mass: Grams, length: Millimetres) -> f64 {
    let g_per_cm = 10.0 * mass.0 / length.0;
    if g_per_cm > 0.0 && g_per_cm.is_finite() { g_per_cm } else { 0.0 }
}

/// What the trade calls a long piece, with its weight per length, g/cm: *common practice*.
///
/// Ficelle 150 to 180 g on 50 to 55 cm, baguette 335 to 350 g on 55 to 60, demi the same
/// halved, batard 500 to 700 g on 30.
const LONG: [(&str, f64, f64); 3] =
    [("ficelle", 2.7, 3.6), ("baguette", 5.5, 6.5), ("batard", 16.0, 24.0)];
/// Dough in a roll, g. *Common practice*, wide.
const ROLL_G: std::ops::RangeInclusive<f64> = 40.0..=130.0;
/// How far from its name a piece may lie before it is worth a word.
const TOLERANCE: f64 = 0.15;

/// A plain sentence when a long piece is much heavier or lighter for its length than its name
/// says, with the weight that would fit; or when a roll is none. Round and tin loaves have all
/// weights.
///
/// ```
/// use engine::layout::weight_note;
/// use engine::recipe::PieceShape;
/// use quantity::{Grams, Millimetres};
/// let note = weight_note(PieceShape::Baguette, Grams(350.0), Millimetres(330.0));
/// assert_eq!(
///     note.as_deref(),
///     Some("350 g on 33 cm is 10.6 g/cm: a baguette has 5.5 to 6.5, here 180 to 215 g")
/// );
/// assert_eq!(weight_note(PieceShape::Baguette, Grams(350.0), Millimetres(560.0)), None);
/// ```
pub fn weight_note(shape: PieceShape, mass: Grams, length: Millimetres) -> Option<String> {
    let name = match shape {
        PieceShape::Baguette => "baguette",
        PieceShape::Batard => "batard",
        PieceShape::Roll if mass.0 > 0.0 && !ROLL_G.contains(&mass.0) => {
            let (lo, hi) = (ROLL_G.start(), ROLL_G.end());
            return Some(format!("{:.0} g: a roll has {lo} to {hi} g of dough", mass.0));
        }
        PieceShape::Boule | PieceShape::Pan | PieceShape::Roll => return None,
    };
    let here = linear_density_g_per_cm(mass, length);
    let (_, lo, hi) = LONG.into_iter().find(|(n, _, _)| *n == name)?;
    if here == 0.0 || (lo * (1.0 - TOLERANCE)..=hi * (1.0 + TOLERANCE)).contains(&here) {
        return None;
    }
    let cm = length.0 / 10.0;
    let to_five = |g: f64| 5.0 * libm::round(g / 5.0);
    let other = LONG
        .into_iter()
        .find(|(n, lo, hi)| *n != name && (*lo..=*hi).contains(&here))
        .map_or(String::new(), |(n, _, _)| format!("; by weight it is a {n}"));
    Some(format!(
        "{:.0} g on {cm:.0} cm is {here:.1} g/cm: a {name} has {lo} to {hi}, here {:.0} to {:.0} g{other}",
        mass.0,
        to_five(lo * cm),
        to_five(hi * cm),
    ))
}

/// Length and width of one baked piece from above.
pub fn footprint(
    shape: PieceShape,
    mass: Grams,
    length: Option<Millimetres>,
    diameter: Option<Millimetres>,
) -> (Millimetres, Millimetres) {
    let density = baked_density_g_per_ml(shape);
    let given = |x: Option<Millimetres>| x.filter(|l| l.0 > 0.0);
    match (shape, given(length), given(diameter)) {
        (PieceShape::Pan, Some(l), Some(w)) => (l, w),
        (PieceShape::Boule | PieceShape::Roll, _, Some(d)) => (d, d),
        (_, Some(l), _) => (l, flat_ended_diameter(mass, l, density)),
        _ => {
            // a round loaf about half as high as wide: V = π D³/12
            let d = libm::cbrt((12.0 * 1000.0 * mass.0 / density / PI).max(0.0));
            (Millimetres(d), Millimetres(d))
        }
    }
}

/// A piece on the hearth, by its corner nearest the left front.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// From the left edge.
    pub x: Millimetres,
    /// From the front edge.
    pub y: Millimetres,
    /// Extent from left to right.
    pub across: Millimetres,
    /// Extent from front to back.
    pub deep: Millimetres,
}

/// How one load lies on a hearth.
#[derive(Debug, Clone, PartialEq)]
pub struct Layout {
    /// Pieces from the left front, row by row; empty when not one fits.
    pub places: Vec<Place>,
}

impl Layout {
    /// As many pieces of this length and width as the hearth takes, in straight rows, either
    /// way round, spread evenly.
    pub fn of(piece: (Millimetres, Millimetres), width: Millimetres, depth: Millimetres) -> Self {
        let (length, breadth) = piece;
        let (a, b) = (width - RIM, depth - RIM);
        let straight = (fit(a, breadth), fit(b, length));
        let turned = (fit(a, length), fit(b, breadth));
        let ((columns, rows), (across, deep)) =
            if turned.0.saturating_mul(turned.1) > straight.0.saturating_mul(straight.1) {
                (turned, (length, breadth))
            } else {
                (straight, (breadth, length))
            };
        // free space shared out: the same at the edges and between
        let space = |whole: Millimetres, n: u32, piece: Millimetres| {
            (whole - piece * f64::from(n)) / (f64::from(n) + 1.0)
        };
        let (gap_x, gap_y) = (space(width, columns, across), space(depth, rows, deep));
        let places = (0..rows)
            .flat_map(|row| (0..columns).map(move |column| (row, column)))
            .take(MOST as usize)
            .map(|(row, column)| Place {
                x: gap_x + (across + gap_x) * f64::from(column),
                y: gap_y + (deep + gap_y) * f64::from(row),
                across,
                deep,
            })
            .collect();
        Self { places }
    }
}

/// Widest and highest picture of a hearth, characters inside its edge.
const PICTURE: (f64, f64) = (30.0, 10.0);

impl Layout {
    /// The hearth from above in characters, about twice as high as wide, the door below; empty
    /// for a hearth that has no size.
    ///
    /// ```
    /// use engine::layout::Layout;
    /// use quantity::Millimetres;
    /// let (w, d) = (Millimetres(300.0), Millimetres(200.0));
    /// let load = Layout::of((Millimetres(150.0), Millimetres(100.0)), w, d);
    /// assert!(load.picture(w, d).iter().any(|row| row.contains('▒')));
    /// ```
    pub fn picture(&self, width: Millimetres, depth: Millimetres) -> Vec<String> {
        let fair = |m: Millimetres| m.0 > 0.0 && m.0.is_finite();
        if !(fair(width) && fair(depth)) {
            return Vec::new();
        }
        let cell = (width.0 / PICTURE.0).max(depth.0 / PICTURE.1 / 2.0);
        let columns = libm::round(width.0 / cell).max(1.0) as usize;
        let rows = libm::round(depth.0 / cell / 2.0).max(1.0) as usize;
        let (cell_x, cell_y) = (width.0 / columns as f64, depth.0 / rows as f64);
        // on a piece whose ends are round: within its breadth of the line along its middle
        let covers = |p: &Place, x: f64, y: f64| {
            let r = p.across.0.min(p.deep.0) / 2.0;
            // not `clamp`: of a round piece the two ends are one point, but for rounding
            let near = |at: f64, from: f64, long: f64| at - at.max(from + r).min(from + long - r);
            let (dx, dy) = (near(x, p.x.0, p.across.0), near(y, p.y.0, p.deep.0));
            dx * dx + dy * dy <= r * r
        };
        let mut out = vec![format!("┌{}┐", "─".repeat(columns))];
        for row in (0..rows).rev() {
            let y = (row as f64 + 0.5) * cell_y;
            let cells = (0..columns).map(|column| {
                let x = (column as f64 + 0.5) * cell_x;
                if self.places.iter().any(|p| covers(p, x, y)) { '▒' } else { ' ' }
            });
            out.push(format!("│{}│", cells.collect::<String>()));
        }
        out.push(format!("└{}┘", "─".repeat(columns)));
        out
    }
}

/// How many pieces lie side by side in some room.
fn fit(room: Millimetres, piece: Millimetres) -> u32 {
    if !(piece.0 > 0.0 && room.0 + 1e-9 >= piece.0) {
        return 0;
    }
    (((room + GAP) / (piece + GAP)).floor() as u32).min(MOST)
}

/// How many pieces one load holds, in straight rows, either way round.
pub fn pieces_per_load(
    piece: (Millimetres, Millimetres),
    width: Millimetres,
    depth: Millimetres,
) -> u32 {
    let (length, breadth) = piece;
    let (a, b) = (width - RIM, depth - RIM);
    let straight = fit(a, breadth).saturating_mul(fit(b, length));
    straight.max(fit(a, length).saturating_mul(fit(b, breadth)))
}

/// How many loads some pieces make; none when not one fits.
pub fn loads(pieces: u32, per_load: u32) -> Option<u32> {
    (per_load > 0).then(|| pieces.div_ceil(per_load))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_load_lies_as_a_baker_would_lay_it() {
        // four baguettes of 5.6 cm on 38 cm
        let piece = (Millimetres(330.0), Millimetres(56.0));
        let load = Layout::of(piece, Millimetres(380.0), Millimetres(380.0));
        assert_eq!(load.places.len(), 4);
        assert_eq!(loads(10, 4), Some(3));
        assert_eq!(loads(10, 0), None);
    }

    #[test]
    fn a_name_is_held_to_its_weight() {
        let note = weight_note(PieceShape::Baguette, Grams(160.0), Millimetres(520.0)).unwrap();
        assert!(note.ends_with("by weight it is a ficelle"), "{note}");
        let roll = weight_note(PieceShape::Roll, Grams(400.0), Millimetres(0.0));
        assert_eq!(roll.as_deref(), Some("400 g: a roll has 40 to 130 g of dough"));
        assert_eq!(weight_note(PieceShape::Boule, Grams(1.0), Millimetres(1.0)), None);
        assert_eq!(weight_note(PieceShape::Batard, Grams(600.0), Millimetres(f64::NAN)), None);
    }

    /// Four rolls on a square hearth: four patches, none at the edge, the same left and right.
    #[test]
    fn a_picture_shows_every_piece_apart() {
        let (w, d) = (Millimetres(300.0), Millimetres(300.0));
        let load = Layout::of((Millimetres(90.0), Millimetres(90.0)), w, d);
        assert_eq!(load.places.len(), 4);
        let rows = load.picture(w, d);
        let patches = |row: &String| row.split(|c| c != '▒').filter(|p| !p.is_empty()).count();
        let most: Vec<usize> = rows.iter().map(patches).collect();
        assert_eq!(most.iter().max(), Some(&2), "{rows:#?}");
        let bands = most.split(|n| *n == 0).filter(|b| !b.is_empty()).count();
        assert_eq!(bands, 2, "{rows:#?}");
        for row in &rows[1..rows.len() - 1] {
            let cells: String = row.chars().filter(|c| *c != '│').collect();
            assert_eq!(cells, cells.chars().rev().collect::<String>());
        }
        assert!(
            Layout::of((w, d), Millimetres(f64::NAN), d)
                .picture(Millimetres(f64::NAN), d)
                .is_empty()
        );
    }

    proptest! {
        /// Law: pieces lie inside the hearth, do not touch, and are as many as counted.
        #[test]
        fn nothing_overlaps(
            l in 10.0..700.0f64, b in 10.0..400.0f64, w in 100.0..900.0f64, d in 100.0..900.0f64,
        ) {
            let (piece, w, d) = ((Millimetres(l), Millimetres(b)), Millimetres(w), Millimetres(d));
            let load = Layout::of(piece, w, d);
            prop_assert_eq!(load.places.len() as u32, pieces_per_load(piece, w, d));
            let _ = load.picture(w, d);
            let _ = Layout::of((piece.1, piece.1), w, d).picture(w, d);
            for (i, p) in load.places.iter().enumerate() {
                prop_assert!(p.x.0 >= 0.0 && p.x.0 + p.across.0 <= w.0 + 1e-9);
                prop_assert!(p.y.0 >= 0.0 && p.y.0 + p.deep.0 <= d.0 + 1e-9);
                for q in &load.places[..i] {
                    let apart = p.x.0 >= q.x.0 + q.across.0 || q.x.0 >= p.x.0 + p.across.0
                        || p.y.0 >= q.y.0 + q.deep.0 || q.y.0 >= p.y.0 + p.deep.0;
                    prop_assert!(apart);
                }
            }
        }

        #[test]
        fn any_number_gives_a_size(m in prop::num::f64::ANY, l in prop::num::f64::ANY, d in prop::num::f64::ANY) {
            let (m, l) = (Grams(m), Millimetres(l));
            for x in [flat_ended_diameter(m, l, d), round_ended_diameter(m, l, d), boule_height(m, l, d)] {
                prop_assert!(x.0 >= 0.0);
            }
            prop_assert!(linear_density_g_per_cm(m, l) >= 0.0);
            let _ = weight_note(PieceShape::Batard, m, l);
            let _ = Layout::of((l, Millimetres(d)), Millimetres(d), l).picture(Millimetres(d), l);
        }
    }
}
