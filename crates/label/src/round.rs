//! How amounts are rounded on a label.
//!
//! United States: 21 CFR 101.9(c) with (d)(7)(ii) and (c)(8)(iii), read in FDA's inspection guide
//! (NLEA, attachment 7) and in Appendix H of its Food Labeling Guide. European Union: no law, but
//! the Commission's guidance on tolerances of December 2012 (macronutrients read in two summaries;
//! minerals from memory). A half goes up in both.

/// Rules of 21 CFR 101.9.
pub mod us {
    use crate::Decimal;

    const fn k(thousandths: i64) -> Decimal {
        Decimal::thousandths(thousandths)
    }
    const fn n(whole: i64) -> Decimal {
        Decimal::whole(whole)
    }

    /// What may be declared.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    pub enum Declared {
        /// So much.
        Amount(Decimal),
        /// Less than so much, in those words.
        LessThan(Decimal),
    }

    impl Declared {
        /// With its unit.
        pub fn words(self, unit: &str) -> String {
            match self {
                Self::Amount(x) => format!("{x}{unit}"),
                Self::LessThan(x) => format!("less than {x}{unit}"),
            }
        }
    }

    /// Calories, kcal (c)(1): below 5 none, to 50 by fives, above by tens.
    pub fn calories(kcal: Decimal) -> Declared {
        Declared::Amount(if kcal < n(5) {
            Decimal::ZERO
        } else if kcal <= n(50) {
            kcal.to_step(n(5))
        } else {
            kcal.to_step(n(10))
        })
    }

    /// Total, saturated, *trans*, mono- and polyunsaturated fat, g (c)(2): below 0.5 none, below 5
    /// by halves, above by ones.
    pub fn fat(g: Decimal) -> Declared {
        Declared::Amount(if g < k(500) {
            Decimal::ZERO
        } else if g < n(5) {
            g.to_step(k(500))
        } else {
            g.to_step(n(1))
        })
    }

    /// Cholesterol, mg (c)(3): below 2 none, to 5 "less than 5 mg", above by fives.
    pub fn cholesterol(mg: Decimal) -> Declared {
        if mg < n(2) {
            Declared::Amount(Decimal::ZERO)
        } else if mg <= n(5) {
            Declared::LessThan(n(5))
        } else {
            Declared::Amount(mg.to_step(n(5)))
        }
    }

    /// Sodium, mg (c)(4): below 5 none, to 140 by fives, above by tens.
    pub fn sodium(mg: Decimal) -> Declared {
        Declared::Amount(if mg < n(5) {
            Decimal::ZERO
        } else if mg <= n(140) {
            mg.to_step(n(5))
        } else {
            mg.to_step(n(10))
        })
    }

    /// Carbohydrate, fibre, sugars (c)(6), protein (c)(7), g: below 0.5 none, below 1 "less than
    /// 1 g", above by ones.
    pub fn grams(g: Decimal) -> Declared {
        if g < k(500) {
            Declared::Amount(Decimal::ZERO)
        } else if g < n(1) {
            Declared::LessThan(n(1))
        } else {
            Declared::Amount(g.to_step(n(1)))
        }
    }

    /// Percent of a daily reference value (d)(7)(ii): by ones.
    pub fn percent(share: Decimal) -> Decimal {
        share.to_step(n(1))
    }

    /// Percent of a daily intake of a vitamin or mineral (c)(8)(iii): below 2 none (ours of what
    /// may be written), to 10 by twos, to 50 by fives, above by tens.
    pub fn percent_of_mineral(share: Decimal) -> Decimal {
        if share < n(2) {
            Decimal::ZERO
        } else if share <= n(10) {
            share.to_step(n(2))
        } else if share <= n(50) {
            share.to_step(n(5))
        } else {
            share.to_step(n(10))
        }
    }

    /// Amount of a vitamin or mineral by its daily intake, in the intake's unit: below 25 by
    /// tenths, below 250 by ones, above by tens (FDA guidance of December 2019; tens from memory).
    /// None where its percent is none.
    pub fn mineral(amount: Decimal, daily: Decimal) -> Declared {
        let share = (amount * n(100)).over(daily).unwrap_or(Decimal::ZERO);
        if percent_of_mineral(share).is_zero() {
            return Declared::Amount(Decimal::ZERO);
        }
        Declared::Amount(amount.to_step(if daily < n(25) {
            k(100)
        } else if daily < n(250) {
            n(1)
        } else {
            n(10)
        }))
    }
}

/// The Commission's guidance of December 2012.
pub mod eu {
    use crate::Decimal;

    const fn n(whole: i64) -> Decimal {
        Decimal::whole(whole)
    }

    /// Energy, kJ or kcal: by ones.
    pub fn energy(x: Decimal) -> String {
        x.to_step(n(1)).to_string()
    }

    /// By tenths below ten, by ones from there; a value that comes to ten by rounding is written
    /// without its nought (common practice).
    fn tenths(g: Decimal) -> String {
        let near = g.to_step(Decimal::thousandths(100));
        if near >= n(10) { g.to_step(n(1)).to_string() } else { near.show(1) }
    }

    fn traces(g: Decimal, least: &str) -> String {
        if g.is_zero() { "0".into() } else { format!("<{least}") }
    }

    /// Fat, carbohydrate, sugars, fibre, protein, g: to 0.5 "<0.5" ("0" for none at all).
    pub fn grams(g: Decimal) -> String {
        if g <= Decimal::thousandths(500) { traces(g, "0.5") } else { tenths(g) }
    }

    /// Saturates, g: to 0.1 "<0.1".
    pub fn saturates(g: Decimal) -> String {
        if g <= Decimal::thousandths(100) { traces(g, "0.1") } else { tenths(g) }
    }

    /// Salt, g: to 0.0125 "<0.01", below 1 by hundredths, from there by tenths.
    pub fn salt(g: Decimal) -> String {
        let least = Decimal::of(0.0125).unwrap_or_default();
        if g <= least {
            return traces(g, "0.01");
        }
        let near = g.to_step(Decimal::thousandths(10));
        if near < n(1) { near.show(2) } else { g.to_step(Decimal::thousandths(100)).show(1) }
    }
}
