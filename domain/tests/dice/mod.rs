//! Chance for the histories that tests make up: SplitMix64 (Steele, Lea & Flood 2014), the same for the same seed
//! everywhere. Must not be used for anything that has to be secret.

#![allow(dead_code, reason = "each test takes what it needs")]

use std::ops::Range;

/// A stream of chance.
pub struct Dice(u64);

impl Dice {
    /// The same throws for the same seed.
    pub fn of(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ 0x5851_f42d_4c95_7f2d)
    }

    /// 64 bits.
    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A number of a range that is not empty.
    pub fn of_range(&mut self, range: Range<i64>) -> i64 {
        let width = u64::try_from(range.end - range.start).expect("not empty");
        range.start + i64::try_from(self.bits() % width).expect("narrow")
    }

    /// Below a bound.
    pub fn below(&mut self, bound: usize) -> usize {
        usize::try_from(self.bits() % u64::try_from(bound).expect("a bound")).expect("narrow")
    }

    /// So often in a hundred.
    pub fn percent(&mut self, share: u64) -> bool {
        self.bits() % 100 < share
    }

    /// One of these.
    pub fn pick<T: Clone>(&mut self, from: &[T]) -> T {
        from[self.below(from.len())].clone()
    }

    /// In another order.
    pub fn shuffle<T>(&mut self, items: &mut [T]) {
        for i in (1..items.len()).rev() {
            items.swap(i, self.below(i + 1));
        }
    }
}

/// How many cases to try: so many, or as many times more as `TARN_FUZZ` says.
pub fn cases(normally: u64) -> u64 {
    let more = std::env::var("TARN_FUZZ").ok().and_then(|times| times.parse().ok()).unwrap_or(1);
    normally * more
}
