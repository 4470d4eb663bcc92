//! How warm it is around the dough.

use crate::numerics::hermite;
use crate::numerics::lanes::{Lanes, exp};
use quantity::{Celsius, Hours, TempRise};
use std::fmt;

/// Air temperature over one step, °C: at its start, middle and end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Around<L = f64> {
    /// At the start.
    pub start: L,
    /// Half-way.
    pub mid: L,
    /// At the end.
    pub end: L,
}

impl<L: Lanes> Around<L> {
    /// At a part of the step, 0 to 1, on the parabola through the three.
    #[inline(always)]
    pub(crate) fn at(&self, part: L) -> L {
        let s = -part + 1.0;
        self.start * s * (s - part) + self.mid * s * part * 4.0 + self.end * part * (part - s)
    }

    /// The same throughout.
    #[inline(always)]
    fn steady(t: f64) -> Self {
        let t = L::splat(t);
        Self { start: t, mid: t, end: t }
    }

    /// `off` from `far` at first, falling to 37 % of that in `settles` hours.
    #[inline(always)]
    fn fading(far: f64, off: f64, settles: f64, since: L, dt: L) -> Self {
        if settles <= 0.0 {
            return Self::steady(far);
        }
        let start = exp(-(since.at_least(0.0) / settles)) * off;
        // the middle and the end by one more exponential: it falls evenly
        let by_half = exp(dt * (-0.5 / settles));
        let mid = start * by_half;
        Self { start: start + far, mid: mid + far, end: mid * by_half + far }
    }

    /// Its first and second half.
    #[inline(always)]
    pub(crate) fn halves(&self) -> (Self, Self) {
        let (first, second) = (self.at(L::splat(0.25)), self.at(L::splat(0.75)));
        (
            Self { start: self.start, mid: first, end: self.mid },
            Self { start: self.mid, mid: second, end: self.end },
        )
    }
}

impl From<Celsius> for Around {
    fn from(t: Celsius) -> Self {
        Self { start: t.0, mid: t.0, end: t.0 }
    }
}

impl From<(Celsius, Celsius, Celsius)> for Around {
    fn from((start, mid, end): (Celsius, Celsius, Celsius)) -> Self {
        Self { start: start.0, mid: mid.0, end: end.0 }
    }
}

/// A room's temperature over the day, repeated daily.
///
/// Smooth between the points given, never beyond them: cubics whose slopes are held down so
/// that the coldest and warmest moments are points of the list (Fritsch and Butland 1984).
#[derive(Debug, Clone, PartialEq)]
pub struct Profile {
    /// Hour of the day, 0 to below 24, rising; °C; slope in °C/h.
    points: Vec<(f64, f64, f64)>,
}

/// Why a list of hours and temperatures is no day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ProfileError {
    /// No point at all.
    Empty,
    /// An hour outside 0 to below 24, or not after the one before.
    Hour(f64),
    /// A temperature outside −20 to 60 °C.
    Temperature(Celsius),
}

impl fmt::Display for ProfileError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Empty => write!(f, "the room has no temperature: give at least one"),
            Self::Hour(h) => write!(
                f,
                "hour {h} is out of order: hours rise through one day, from 0 to below 24"
            ),
            Self::Temperature(t) => {
                write!(f, "{} °C is no kitchen: rooms lie between −20 and 60 °C", t.0)
            }
        }
    }
}
impl std::error::Error for ProfileError {}

impl Profile {
    /// A room by hours of the day.
    ///
    /// # Errors
    /// [`ProfileError`] when hours do not rise within one day or a temperature is no room's.
    pub fn new(points: &[(f64, Celsius)]) -> Result<Self, ProfileError> {
        if points.is_empty() {
            return Err(ProfileError::Empty);
        }
        let mut last = -1.0;
        for &(hour, t) in points {
            if !(0.0..24.0).contains(&hour) || hour <= last {
                return Err(ProfileError::Hour(hour));
            }
            if !(-20.0..=60.0).contains(&t.0) {
                return Err(ProfileError::Temperature(t));
            }
            last = hour;
        }
        let n = points.len();
        let gap = |i: usize| {
            // from point i to the next, around midnight
            let ((h0, t0), (h1, t1)) = (points[i % n], points[(i + 1) % n]);
            let hours = if i % n + 1 == n { h1 + 24.0 - h0 } else { h1 - h0 };
            (hours, (t1 - t0).0 / hours)
        };
        let points = (0..n)
            .map(|i| {
                let ((before, down), (after, up)) = (gap(i + n - 1), gap(i));
                let slope = if down * up > 0.0 {
                    // weighted harmonic mean of the neighbouring slopes
                    let w = (before + 2.0 * after) / (3.0 * (before + after));
                    down * up / (w * up + (1.0 - w) * down)
                } else {
                    0.0
                };
                (points[i].0, points[i].1.0, slope)
            })
            .collect();
        Ok(Self { points })
    }

    /// The same all day.
    pub fn constant(t: Celsius) -> Self {
        Self { points: vec![(0.0, t.0, 0.0)] }
    }

    /// Its temperature when it is the same all day.
    fn steady(&self) -> Option<Celsius> {
        match self.points[..] {
            [(_, t, _)] => Some(Celsius(t)),
            _ => None,
        }
    }

    /// At an hour of the day; other hours wrap around midnight.
    pub fn at(&self, hour_of_day: f64) -> Celsius {
        let hour = hour_of_day - 24.0 * libm::floor(hour_of_day / 24.0);
        let after = self.points.iter().position(|p| p.0 > hour).unwrap_or(self.points.len());
        let n = self.points.len();
        let mut left = self.points[(after + n - 1) % n];
        let mut right = self.points[after % n];
        if after == 0 {
            left.0 -= 24.0;
        }
        if after == n {
            right.0 += 24.0;
        }
        Celsius(if hour.is_finite() { hermite(hour, left, right) } else { left.1 })
    }
}

/// Where the dough stands.
#[derive(Debug, Clone, PartialEq)]
pub enum Surroundings {
    /// A room that follows the hour of the day.
    Room(Profile),
    /// A fridge. The thermostat's swing is filtered by the dough: give its mean.
    Fridge {
        /// Mean air temperature.
        mean: Celsius,
        /// How much the load warms it at first; a small fridge with 1 kg of warm dough 1 to 3 K.
        warms_by: TempRise,
        /// Time in which that falls to 37 %.
        settles: Hours,
    },
    /// A proofer that holds its temperature.
    Proofer(Celsius),
    /// An oven that is off, warmed once, falling back to the room.
    OvenOff {
        /// Air when the dough goes in.
        start: Celsius,
        /// What it falls to.
        room: Celsius,
        /// Time in which the difference falls to 37 %; a home oven takes 1 to 2 h.
        settles: Hours,
    },
}

impl Surroundings {
    /// Air temperature at an hour of the day, `since` after the dough was put there.
    pub fn at(&self, hour_of_day: f64, since: Hours) -> Celsius {
        let left = |settles: &Hours| {
            if settles.0 > 0.0 { libm::exp(-since.0.max(0.0) / settles.0) } else { 0.0 }
        };
        match self {
            Self::Room(profile) => profile.at(hour_of_day),
            Self::Fridge { mean, warms_by, settles } => *mean + *warms_by * left(settles),
            Self::Proofer(t) => *t,
            Self::OvenOff { start, room, settles } => *room + (*start - *room) * left(settles),
        }
    }

    /// Over a step of `dt` that starts then.
    pub fn over(&self, hour_of_day: f64, since: Hours, dt: Hours) -> Around {
        let at = |part: f64| self.at(hour_of_day + part * dt.0, since + dt * part).0;
        Around { start: at(0.0), mid: at(0.5), end: at(1.0) }
    }

    /// As [`over`](Self::over) for several doughs, h: the hour of the day is asked only where it
    /// matters.
    #[inline(always)]
    pub(crate) fn around<L: Lanes>(
        &self,
        hour_of_day: impl FnOnce() -> L,
        since: L,
        dt: L,
    ) -> Around<L> {
        match self {
            Self::Room(profile) => {
                if let Some(t) = profile.steady() {
                    return Around::steady(t.0);
                }
                let hour = hour_of_day();
                let [start, mid, end] = [hour, hour + dt * 0.5, hour + dt];
                Around {
                    start: start.map(|h| profile.at(h).0),
                    mid: mid.map(|h| profile.at(h).0),
                    end: end.map(|h| profile.at(h).0),
                }
            }
            Self::Fridge { mean, warms_by, settles } => {
                Around::fading(mean.0, warms_by.0, settles.0, since, dt)
            }
            Self::Proofer(t) => Around::steady(t.0),
            Self::OvenOff { start, room, settles } => {
                Around::fading(room.0, (*start - *room).0, settles.0, since, dt)
            }
        }
    }
}
