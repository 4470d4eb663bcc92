//! When the baker's hands are free.

use crate::hours::Blocked;
use crate::run::Setting;
use quantity::Minutes;

/// The baker's minutes: which are blocked, and why; which are busy.
pub(crate) struct Hands {
    blocked: Vec<Option<Blocked>>,
    blocked_before: Vec<u32>,
    busy_before: Vec<u32>,
    busy_most: Minutes,
}

impl Hands {
    /// Over a horizon from now on, leaving out what was let go.
    pub(super) fn new(setting: &Setting<'_>, horizon_min: f64, free: &[Blocked]) -> Self {
        let n = horizon_min.ceil().max(1.0) as i64 + 1;
        let hours = &setting.kitchen.hours;
        let at = |m: i64| setting.calendar.local(m);
        let blocked: Vec<Option<Blocked>> =
            (0..n).map(|m| hours.blocked(at(m)).filter(|b| !free.contains(b))).collect();
        let busy_counts = !hours.busy.is_empty() && !free.contains(&Blocked::Busy);
        let busy = (0..n).map(|m| busy_counts && hours.busy(at(m)));
        Self {
            blocked_before: sums(blocked.iter().map(Option::is_some)),
            busy_before: sums(busy),
            blocked,
            busy_most: hours.busy_most,
        }
    }

    /// Hands that are always free.
    pub(super) fn always() -> Self {
        let none = || vec![0];
        Self {
            blocked: Vec::new(),
            blocked_before: none(),
            busy_before: none(),
            busy_most: Minutes(0.0),
        }
    }

    /// The same hands when some minutes are taken by other work.
    pub(super) fn without(&self, taken: impl Iterator<Item = (i32, i32)>) -> Self {
        let mut barred: Vec<bool> = self.blocked.iter().map(Option::is_some).collect();
        for (from, to) in taken {
            let clip = |m: i32| (m.max(0) as usize).min(barred.len());
            let (from, to) = (clip(from), clip(to));
            barred[from..to.max(from)].fill(true);
        }
        Self {
            blocked: self.blocked.clone(),
            blocked_before: sums(barred.into_iter()),
            busy_before: self.busy_before.clone(),
            busy_most: self.busy_most,
        }
    }

    /// Minutes of a span of work that cannot be worked; beyond the horizon all can.
    pub(super) fn blocked_in(&self, from: f64, minutes: Minutes) -> u32 {
        let blocked = count(&self.blocked_before, from, minutes);
        if minutes > self.busy_most { blocked + self.busy_in(from, minutes) } else { blocked }
    }

    /// Busy minutes in a span of work.
    pub(super) fn busy_in(&self, from: f64, minutes: Minutes) -> u32 {
        count(&self.busy_before, from, minutes)
    }

    /// Why a span cannot be worked.
    pub(super) fn why(&self, from: f64, minutes: Minutes) -> Option<Blocked> {
        let a = from.floor().max(0.0) as usize;
        let n = minutes.0.ceil().max(1.0) as usize;
        let barred = self.blocked.iter().skip(a).take(n).flatten().copied().next();
        barred.or((self.blocked_in(from, minutes) > 0).then_some(Blocked::Busy))
    }

    /// From now on, the spans in which so much work may begin; without end past the horizon.
    pub(super) fn stretches(&self, work: Minutes) -> Vec<(f64, f64)> {
        let minutes = self.blocked_before.len() - 1;
        if work.0 <= 0.0 || minutes == 0 {
            return vec![(0.0, f64::INFINITY)];
        }
        let barred = |m: usize| {
            let of = |sums: &[u32]| sums[m + 1] > sums[m];
            of(&self.blocked_before)
                || (work > self.busy_most
                    && m + 1 < self.busy_before.len()
                    && of(&self.busy_before))
        };
        let mut out = Vec::new();
        let mut since = None;
        for m in 0..minutes {
            match (barred(m), since) {
                (false, None) => since = Some(m as f64),
                (true, Some(a)) => {
                    out.push((a, m as f64 - work.0));
                    since = None;
                }
                _ => {}
            }
        }
        out.push((since.unwrap_or(minutes as f64), f64::INFINITY));
        out.retain(|s| s.0 <= s.1);
        out
    }

    /// Whether any minute of a horizon can be worked.
    pub(super) fn ever_free(&self) -> bool {
        self.blocked.iter().any(Option::is_none)
    }
}

fn sums(yes: impl Iterator<Item = bool>) -> Vec<u32> {
    let mut sum = 0;
    std::iter::once(0)
        .chain(yes.map(|y| {
            sum += u32::from(y);
            sum
        }))
        .collect()
}

fn count(before: &[u32], from: f64, minutes: Minutes) -> u32 {
    if minutes.0 <= 0.0 {
        return 0;
    }
    let last = before.len().saturating_sub(1);
    let clip = |m: f64| (m.max(0.0) as usize).min(last);
    before[clip((from + minutes.0).ceil())] - before[clip(from.floor())]
}
