//! Keys and moments: what a row is called and when it was.

use jiff::Timestamp;
use jiff::fmt::temporal::DateTimePrinter;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use sha2::{Digest, Sha256};
use std::fmt;
use std::str::FromStr;

/// Key of an entry: a UUID, version 7 when made here, so that keys sort by when they were made.
///
/// Whoever makes an entry makes its key, so that a phone can send the same entry twice and it
/// is kept once.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Id(u128);

impl Id {
    /// A key made `at` a moment, from random bits of the caller's. 74 of them are used.
    pub fn new(at: Moment, random: u128) -> Self {
        let ms = u128::from(at.0.max(0).unsigned_abs()) & 0xffff_ffff_ffff;
        let a = random >> 116;
        let b = random & 0x3fff_ffff_ffff_ffff;
        Self(ms << 80 | 7 << 76 | a << 64 | 2 << 62 | b)
    }
}

impl fmt::Display for Id {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let x = self.0;
        write!(
            f,
            "{:08x}-{:04x}-{:04x}-{:04x}-{:012x}",
            x >> 96,
            x >> 80 & 0xffff,
            x >> 64 & 0xffff,
            x >> 48 & 0xffff,
            x & 0xffff_ffff_ffff
        )
    }
}

/// Not a key, hash or moment.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{given}\" is not {wanted}")]
pub struct NoKey {
    given: String,
    wanted: &'static str,
}

fn no_key(given: &str, wanted: &'static str) -> NoKey {
    NoKey { given: given.chars().take(60).collect(), wanted }
}

impl FromStr for Id {
    type Err = NoKey;

    fn from_str(text: &str) -> Result<Self, NoKey> {
        let wrong = || no_key(text, "a key such as 01939f2e-5c00-7a2b-8c1d-0f2e3d4c5b6a");
        let bytes = text.as_bytes();
        let dashes = [8, 13, 18, 23];
        if bytes.len() != 36 || dashes.iter().any(|&i| bytes[i] != b'-') {
            return Err(wrong());
        }
        let mut x = 0_u128;
        for (_, &b) in bytes.iter().enumerate().filter(|(i, _)| !dashes.contains(i)) {
            let digit = char::from(b).to_digit(16).ok_or_else(wrong)?;
            x = x << 4 | u128::from(digit);
        }
        Ok(Self(x))
    }
}

/// A moment: milliseconds since 1970 UTC, from the year 0 to 9999.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Moment(pub i64);

/// First and last millisecond a notebook keeps: the years 0 to 9999.
const MOMENTS: std::ops::RangeInclusive<i64> = -62_167_219_200_000..=253_402_127_999_999;

impl Moment {
    /// Whether a calendar can show it.
    pub(crate) fn is_sound(self) -> bool {
        MOMENTS.contains(&self.0)
    }
}

/// As `2026-11-28T17:00:00.000Z`.
impl fmt::Display for Moment {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let clamped = self.0.clamp(*MOMENTS.start(), *MOMENTS.end());
        let shown = Timestamp::from_millisecond(clamped).unwrap_or(Timestamp::UNIX_EPOCH);
        f.write_str(&DateTimePrinter::new().precision(Some(3)).timestamp_to_string(&shown))
    }
}

impl FromStr for Moment {
    type Err = NoKey;

    fn from_str(text: &str) -> Result<Self, NoKey> {
        let read: Result<Timestamp, _> = text.parse();
        let moment = read.ok().map(|t| Self(t.as_millisecond()));
        moment
            .filter(|m| m.is_sound())
            .ok_or_else(|| no_key(text, "a moment such as 2026-11-28T17:00:00.000Z"))
    }
}

/// SHA-256 of a photo's bytes: what a photo is called.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Hash([u8; 32]);

impl Hash {
    /// The hash of some bytes.
    pub fn of(bytes: &[u8]) -> Self {
        Self(Sha256::digest(bytes).into())
    }
}

impl fmt::Display for Hash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|b| write!(f, "{b:02x}"))
    }
}

impl FromStr for Hash {
    type Err = NoKey;

    fn from_str(text: &str) -> Result<Self, NoKey> {
        let wrong = || no_key(text, "a photo's hash: 64 digits from 0 to f");
        let mut out = [0; 32];
        if text.len() != 64 || !text.bytes().all(|b| b.is_ascii_hexdigit()) {
            return Err(wrong());
        }
        for (byte, pair) in out.iter_mut().zip(text.as_bytes().chunks(2)) {
            let digit = |b: u8| char::from(b).to_digit(16).unwrap_or_default();
            *byte = (digit(pair[0]) << 4 | digit(pair[1])) as u8;
        }
        Ok(Self(out))
    }
}

/// As text in JSON too.
macro_rules! as_text {
    ($($name:ident),*) => {$(
        impl Serialize for $name {
            fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
                s.collect_str(self)
            }
        }
        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
                String::deserialize(d)?.parse().map_err(serde::de::Error::custom)
            }
        }
    )*};
}
as_text!(Id, Hash);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_sort_by_their_time_and_read_back() {
        let a = Id::new(Moment(1_764_000_000_000), u128::MAX);
        let b = Id::new(Moment(1_764_000_000_001), 0);
        assert!(a < b && a.to_string() < b.to_string());
        assert_eq!(a.to_string(), "019ab697-e800-7fff-bfff-ffffffffffff");
        assert_eq!(a.to_string().parse(), Ok(a));
        assert!("019ab697-e800-7fff-bfff-fffffffffffg".parse::<Id>().is_err());
        assert!("".parse::<Id>().is_err());
        assert!("é19ab6c3-f800-7fff-bfff-ffffffffffé".parse::<Id>().is_err());
    }

    #[test]
    fn moments_and_hashes_read_back() {
        for ms in [0, 1, -1, 1_764_000_000_123, *MOMENTS.start(), *MOMENTS.end()] {
            let shown = Moment(ms).to_string();
            assert_eq!(shown.parse(), Ok(Moment(ms)), "{shown}");
        }
        assert_eq!(Moment(1_764_000_000_120).to_string(), "2025-11-24T16:00:00.120Z");
        let hash = Hash::of(b"crumb");
        assert_eq!(hash.to_string().parse(), Ok(hash));
    }
}
