//! What is shared as rows: moments at which breads together need no more than there is.
//!
//! Of all minutes only those count at which as many stretches as possible lie over one another:
//! the latest beginning before the first end. Two stretches meet exactly when they share such a
//! moment, and a fridge is fullest at one. A moment at which the breads cannot need too much,
//! whatever is chosen, is left out.

use super::{Candidate, Overlap, Resource, Shared, Stretch};

/// Units of cost: thousand-millionths.
pub(super) const COST: f64 = 1e9;
/// Costs are kept below this, so that sums stay whole numbers.
const COST_MAX: f64 = 1e6;

/// A bread's need of rows `from..to`, at each of them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Part {
    pub(super) from: u32,
    pub(super) to: u32,
    pub(super) amount: i64,
}

impl Part {
    pub(super) fn rows(self) -> std::ops::Range<usize> {
        self.from as usize..self.to as usize
    }
}

/// A candidate: its cost and what it needs. Its parts do not share rows.
#[derive(Debug, Clone)]
pub(super) struct Column {
    /// Place in the caller's list.
    pub(super) index: usize,
    pub(super) cost: i64,
    pub(super) parts: Vec<Part>,
}

/// The candidates of a bread that may be chosen.
#[derive(Debug, Clone)]
pub(super) struct Bread {
    pub(super) columns: Vec<Column>,
    /// The first bread with the very same candidates.
    pub(super) like: usize,
}

/// One column of each bread, at least cost, within every row.
#[derive(Debug, Clone)]
pub(super) struct Problem {
    pub(super) breads: Vec<Bread>,
    /// What there is, row by row.
    pub(super) caps: Vec<i64>,
    /// The greatest need of one column, row by row; at least 1.
    pub(super) scale: Vec<i64>,
}

/// Needs of one resource over time: from, up to, amount.
type Need = (i32, i32, i64);

/// Thousandths, whole; nothing for what is not a number.
fn thousandths(x: f64) -> i64 {
    // an amount beyond this is more than any kitchen holds
    (x * 1000.0).round().clamp(0.0, 1e12) as i64
}

/// A limit; none when it is not finite.
fn limit(x: Option<f64>) -> Option<i64> {
    x.filter(|x| x.is_finite()).map(thousandths)
}

/// How much of a resource there is; none without limit.
fn there_is(shared: &Shared, resource: Resource) -> Option<i64> {
    match resource {
        Resource::Hands | Resource::Oven => Some(1),
        Resource::Fridge => limit(shared.fridge_litres),
        Resource::Bannetons => limit(shared.bannetons.map(f64::from)),
        Resource::Starter => limit(shared.starter.as_ref().map(|s| s.grams)),
    }
}

/// What a candidate needs of a resource, not overlapping, ascending.
fn needs(c: &Candidate, shared: &Shared, resource: Resource) -> Vec<Need> {
    let raw: Vec<Need> = match resource {
        Resource::Hands => c.hands.iter().map(|h| (h.0, h.1, 1)).collect(),
        Resource::Oven => c.oven.iter().map(|o| (o.from(), o.until, 1)).collect(),
        Resource::Fridge => c.fridge.iter().map(|f| (f.0, f.1, thousandths(f.2))).collect(),
        Resource::Bannetons => {
            c.bannetons.iter().map(|b| (b.0, b.1, i64::from(b.2) * 1000)).collect()
        }
        Resource::Starter => {
            let stock = shared.starter.as_ref();
            let period = |minute: i32| {
                stock.map_or(0, |s| s.rebuilt.iter().filter(|r| **r <= minute).count() as i32)
            };
            let takings = c.starter.iter();
            takings.map(|s| (period(s.0), period(s.0) + 1, thousandths(s.1))).collect()
        }
    };
    let mut needs = levels(&raw);
    if matches!(resource, Resource::Hands | Resource::Oven) {
        for n in &mut needs {
            n.2 = 1;
        }
    }
    needs
}

/// What stretches over one another sum to, in stretches that do not overlap.
fn levels(raw: &[Need]) -> Vec<Need> {
    let raw: Vec<&Need> = raw.iter().filter(|n| n.0 < n.1 && n.2 > 0).collect();
    let mut times: Vec<i32> = raw.iter().flat_map(|n| [n.0, n.1]).collect();
    times.sort_unstable();
    times.dedup();
    let mut out: Vec<Need> = Vec::new();
    for w in times.windows(2) {
        let amount: i64 = raw.iter().filter(|n| n.0 <= w[0] && w[1] <= n.1).map(|n| n.2).sum();
        match out.last_mut() {
            Some(last) if last.1 == w[0] && last.2 == amount => last.1 = w[1],
            _ if amount > 0 => out.push((w[0], w[1], amount)),
            _ => {}
        }
    }
    out
}

/// Moments at which the most stretches lie over one another.
fn moments<'n>(all: impl Iterator<Item = &'n Need>) -> Vec<i32> {
    // an end before a beginning at the same minute: stretches are half open
    let mut events: Vec<(i32, bool)> = all.flat_map(|n| [(n.0, true), (n.1, false)]).collect();
    events.sort_unstable();
    events.dedup();
    let mut out = Vec::new();
    let mut begun = None;
    for (minute, begins) in events {
        if begins {
            begun = Some(minute);
        } else {
            out.extend(begun.take());
        }
    }
    out
}

/// What stands there at a moment whatever is chosen.
fn taken_at(taken: &[Need], minute: i32) -> i64 {
    taken.iter().filter(|t| t.0 <= minute && minute < t.1).map(|t| t.2).sum()
}

/// Moments of `of` inside a stretch.
fn inside(moments: &[i32], need: &Need) -> std::ops::Range<usize> {
    let at = |minute: i32| moments.partition_point(|m| *m < minute);
    at(need.0)..at(need.1)
}

impl Problem {
    /// The choice among these lists, without limit on some resources.
    pub(super) fn new(lists: &[&[Candidate]], shared: &Shared, free: &[Resource]) -> Self {
        let cost = |c: &Candidate| (c.cost * COST).round() as i64;
        let may = |c: &Candidate| c.cost.abs() <= COST_MAX; // NaN may not
        let mut breads: Vec<Vec<Column>> = lists
            .iter()
            .map(|list| {
                let listed = list.iter().enumerate().filter(|(_, c)| may(c));
                listed
                    .map(|(index, c)| Column { index, cost: cost(c), parts: Vec::new() })
                    .collect()
            })
            .collect();
        let mut caps: Vec<i64> = Vec::new();
        for resource in Resource::ALL.into_iter().filter(|r| !free.contains(r)) {
            if let Some(there_is) = there_is(shared, resource) {
                add(&mut breads, lists, shared, resource, there_is, &mut caps);
            }
        }
        let mut scale = vec![1; caps.len()];
        for part in breads.iter().flatten().flat_map(|c| &c.parts) {
            for s in &mut scale[part.rows()] {
                *s = part.amount.max(*s);
            }
        }
        let breads: Vec<Vec<Column>> = breads.into_iter().map(undominated).collect();
        let same = |a: &[Column], b: &[Column]| {
            a.len() == b.len()
                && a.iter().zip(b).all(|(a, b)| a.cost == b.cost && a.parts == b.parts)
        };
        let like: Vec<usize> = (0..breads.len())
            .map(|i| (0..i).find(|&j| same(&breads[i], &breads[j])).unwrap_or(i))
            .collect();
        let breads =
            breads.into_iter().zip(like).map(|(columns, like)| Bread { columns, like }).collect();
        Self { breads, caps, scale }
    }
}

/// Adds the rows of one resource, and takes out what alone needs too much of it.
fn add(
    breads: &mut [Vec<Column>],
    lists: &[&[Candidate]],
    shared: &Shared,
    resource: Resource,
    there_is: i64,
    caps: &mut Vec<i64>,
) {
    let taken: Vec<Need> = if resource == Resource::Fridge {
        shared.fridge_taken.iter().map(|f| (f.0, f.1, thousandths(f.2))).collect()
    } else {
        Vec::new()
    };
    let taken: Vec<Need> = taken.into_iter().filter(|n| n.0 < n.1 && n.2 > 0).collect();
    let all: Vec<Vec<Vec<Need>>> = breads
        .iter()
        .zip(lists)
        .map(|(b, list)| b.iter().map(|c| needs(&list[c.index], shared, resource)).collect())
        .collect();
    let moments = moments(all.iter().flatten().flatten().chain(&taken));
    let there: Vec<i64> = moments.iter().map(|m| there_is - taken_at(&taken, *m)).collect();

    // what breads may come to need, each at its greatest
    let mut most = vec![0_i64; moments.len()];
    let mut kept: Vec<Vec<Vec<Need>>> = Vec::new();
    for (columns, needs) in breads.iter_mut().zip(all) {
        let mut of_bread = vec![0_i64; moments.len()];
        let mut needs_kept = Vec::new();
        let mut needs = needs.into_iter();
        columns.retain(|_| {
            let needs = needs.next().unwrap_or_default();
            let fits = needs.iter().all(|n| inside(&moments, n).all(|r| n.2 <= there[r]));
            if fits {
                for n in &needs {
                    for m in &mut of_bread[inside(&moments, n)] {
                        *m = n.2.max(*m);
                    }
                }
                needs_kept.push(needs);
            }
            fits
        });
        most.iter_mut().zip(of_bread).for_each(|(m, b)| *m += b);
        kept.push(needs_kept);
    }
    // a moment at which there is none left has nobody who needs any
    let scarce: Vec<usize> = (0..moments.len()).filter(|&r| most[r] > there[r].max(0)).collect();
    let first = caps.len() as u32;
    caps.extend(scarce.iter().map(|&r| there[r]));
    let moments: Vec<i32> = scarce.iter().map(|&r| moments[r]).collect();
    for (columns, needs) in breads.iter_mut().zip(kept) {
        for (column, needs) in columns.iter_mut().zip(needs) {
            for n in needs {
                let rows = inside(&moments, &n);
                if !rows.is_empty() {
                    let (from, to) = (first + rows.start as u32, first + rows.end as u32);
                    column.parts.push(Part { from, to, amount: n.2 });
                }
            }
        }
    }
}

/// Leaves out candidates that cost as much as another of their bread or more and need all it
/// needs or more.
fn undominated(mut columns: Vec<Column>) -> Vec<Column> {
    columns.sort_by_key(|c| c.cost); // stable: of equals the first stays
    // rows folded into one word: most comparisons end here
    let mark = |c: &Column| {
        c.parts.iter().flat_map(|p| p.rows()).fold(0_u64, |word, row| word | 1 << (row % 64))
    };
    let mut kept: Vec<(u64, Column)> = Vec::new();
    for column in columns {
        let of = mark(&column);
        if !kept.iter().any(|(word, k)| word & !of == 0 && within(&k.parts, &column.parts)) {
            kept.push((of, column));
        }
    }
    kept.into_iter().map(|k| k.1).collect()
}

/// Whether some needs are nowhere more than others. Both ascend.
fn within(few: &[Part], many: &[Part]) -> bool {
    let mut k = 0;
    few.iter().all(|part| {
        part.rows().all(|row| {
            while many.get(k).is_some_and(|m| m.to as usize <= row) {
                k += 1;
            }
            many.get(k).is_some_and(|m| m.rows().contains(&row) && m.amount >= part.amount)
        })
    })
}

/// Where chosen candidates meet in one resource.
pub(super) fn overlaps(
    chosen: &[(usize, &Candidate)],
    shared: &Shared,
    resource: Resource,
    out: &mut Vec<Overlap>,
) {
    let Some(there_is) = there_is(shared, resource) else { return };
    let taken: Vec<Need> = if resource == Resource::Fridge {
        shared.fridge_taken.iter().map(|f| (f.0, f.1, thousandths(f.2))).collect()
    } else {
        Vec::new()
    };
    let all: Vec<(usize, Vec<Need>)> =
        chosen.iter().map(|&(b, c)| (b, needs(c, shared, resource))).collect();
    let mut times: Vec<i32> =
        all.iter().flat_map(|(_, n)| n).chain(&taken).flat_map(|n| [n.0, n.1]).collect();
    times.sort_unstable();
    times.dedup();
    let first = out.len();
    for w in times.windows(2) {
        let over = |n: &&Need| n.0 <= w[0] && w[0] < n.1;
        let here: Vec<(usize, i64)> =
            all.iter().filter_map(|(b, needs)| Some((*b, needs.iter().find(over)?.2))).collect();
        let sum: i64 = here.iter().map(|h| h.1).sum();
        if here.is_empty() || sum + taken_at(&taken, w[0]) <= there_is {
            continue;
        }
        let breads: Vec<usize> = here.iter().map(|h| h.0).collect();
        let mut at: Stretch = (w[0], w[1]);
        if resource == Resource::Starter {
            at = takings(chosen, shared, at.0);
        }
        match out[first..].last_mut() {
            Some(last) if last.at.1 == at.0 && last.breads == breads => last.at.1 = at.1,
            _ => out.push(Overlap { resource, breads, at }),
        }
    }
}

/// From the first to the last taking in one period of the starter.
fn takings(chosen: &[(usize, &Candidate)], shared: &Shared, period: i32) -> Stretch {
    let rebuilt = shared.starter.as_ref().map_or(&[][..], |s| &s.rebuilt);
    let minutes = chosen.iter().flat_map(|(_, c)| &c.starter).map(|s| s.0);
    let mine = minutes.filter(|m| rebuilt.iter().filter(|r| *r <= m).count() as i32 == period);
    mine.fold((i32::MAX, i32::MIN), |at, m| (at.0.min(m), at.1.max(m)))
}
