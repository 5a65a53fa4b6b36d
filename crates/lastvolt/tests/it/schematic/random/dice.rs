//! Numbers that look random and are the same on every run.

/// A xorshift generator with a multiplied output (Vigna, "An experimental exploration of Marsaglia's
/// xorshift generators, scrambled", 2016, the generator xorshift64*).
pub(super) struct Dice(u64);

impl Dice {
    /// Begins with a number.
    pub(super) fn new(seed: usize) -> Self {
        let seed = u64::try_from(seed).expect("small");
        let mut dice = Self(0x9e37_79b9_7f4a_7c15 ^ (seed + 1).wrapping_mul(0x2545_f491_4f6c_dd1d));
        for _ in 0..8 {
            dice.next();
        }
        dice
    }

    fn next(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_f491_4f6c_dd1d) >> 16
    }

    /// A number from 0 to below `n`.
    pub(super) fn below(&mut self, n: usize) -> usize {
        let n = u64::try_from(n.max(1)).expect("small");
        usize::try_from(self.next() % n).expect("small")
    }

    /// Whether something of this many percent happens.
    pub(super) fn chance(&mut self, percent: usize) -> bool {
        self.below(100) < percent
    }

    /// One of these.
    pub(super) fn pick<'t>(&mut self, of: &[&'t str]) -> &'t str {
        of[self.below(of.len())]
    }
}
