//! A small generator whose numbers never change: splitmix64 (Steele, Lea and Flood 2014; public domain algorithm).

pub mod benches;
pub mod judge;
pub mod minded;

/// Where the sequence stands.
pub struct Random(pub u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Between 0 and 1.
    #[allow(clippy::cast_precision_loss, reason = "53 bits fit")]
    pub fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Evenly between two numbers.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// One of the first `count` whole numbers.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, clippy::cast_precision_loss, reason = "small counts")]
    pub fn below(&mut self, count: usize) -> usize {
        (self.unit() * count as f64) as usize
    }

    /// True in this share of the draws.
    pub fn chance(&mut self, share: f64) -> bool {
        self.unit() < share
    }

    /// Some of a list, each once.
    pub fn some<T: Copy>(&mut self, of: &[T], count: usize) -> Vec<T> {
        let mut left = of.to_vec();
        (0..count.min(of.len())).map(|_| left.remove(self.below(left.len()))).collect()
    }
}
