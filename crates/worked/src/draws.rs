//! Random numbers that depend on a seed, a name and a run index alone: the same on any number of threads.
//!
//! Philox4x32-10, a counter-based generator. Source: J. K. Salmon, M. A. Moraes, R. O. Dror, D. E. Shaw,
//! Parallel random numbers: as easy as 1, 2, 3, SC 2011.

use crate::expression::Fnv;
use std::f64::consts::TAU;
use std::hash::Hasher;

/// A stream of draws that belongs to one name under one seed.
#[derive(Clone, Copy, Debug)]
pub struct Stream {
    key: [u32; 2],
}

impl Stream {
    /// The stream of `name` under `seed`.
    pub fn new(seed: u64, name: &str) -> Self {
        let mut hash = Fnv(0xcbf2_9ce4_8422_2325 ^ seed);
        hash.write(name.as_bytes());
        let key = hash.finish();
        Self { key: [key as u32, (key >> 32) as u32] }
    }

    /// Two independent uniform draws of a run, each in the open interval 0 … 1.
    pub fn uniform_pair(&self, run: u64) -> [f64; 2] {
        let [a, b, c, d] = philox([run as u32, (run >> 32) as u32, 0, 0], self.key);
        [unit(a, b), unit(c, d)]
    }

    /// A uniform draw of a run in 0 … 1.
    pub fn uniform(&self, run: u64) -> f64 {
        self.uniform_pair(run)[0]
    }

    /// A draw of the normal distribution with mean 0 and standard deviation 1 (Box and Muller).
    pub fn normal(&self, run: u64) -> f64 {
        let [u, v] = self.uniform_pair(run);
        (-2.0 * libm::log(u)).sqrt() * libm::cos(TAU * v)
    }

    /// A draw of Student's t. Source: R. W. Bailey, Math. Comp. 62 (1994) 779 (from memory).
    pub fn student(&self, run: u64, degrees_of_freedom: f64) -> f64 {
        if !degrees_of_freedom.is_finite() {
            return self.normal(run);
        }
        let [u, v] = self.uniform_pair(run);
        let n = degrees_of_freedom;
        (n * (libm::pow(u, -2.0 / n) - 1.0)).sqrt() * libm::cos(TAU * v)
    }
}

/// 52 bits and a half, so that neither 0 nor 1 comes out.
fn unit(high: u32, low: u32) -> f64 {
    let bits = (u64::from(high) << 20) | u64::from(low >> 12);
    (bits as f64 + 0.5) / (1u64 << 52) as f64
}

fn philox(mut counter: [u32; 4], mut key: [u32; 2]) -> [u32; 4] {
    for _ in 0..10 {
        let a = u64::from(counter[0]) * 0xD251_1F53;
        let b = u64::from(counter[2]) * 0xCD9E_8D57;
        counter = [
            (b >> 32) as u32 ^ counter[1] ^ key[0],
            b as u32,
            (a >> 32) as u32 ^ counter[3] ^ key[1],
            a as u32,
        ];
        key = [key[0].wrapping_add(0x9E37_79B9), key[1].wrapping_add(0xBB67_AE85)];
    }
    counter
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Known answers that the authors publish with their code (from memory).
    #[test]
    fn known_answers() {
        assert_eq!(philox([0; 4], [0; 2]), [0x6627_e8d5, 0xe169_c58d, 0xbc57_ac4c, 0x9b00_dbd8]);
        assert_eq!(
            philox([u32::MAX; 4], [u32::MAX; 2]),
            [0x408f_276d, 0x41c8_3b0e, 0xa20b_c7c6, 0x6d54_51fd]
        );
        assert_eq!(
            philox([0x243f_6a88, 0x85a3_08d3, 0x1319_8a2e, 0x0370_7344], [0xa409_3822, 0x299f_31d0]),
            [0xd16c_fe09, 0x94fd_cceb, 0x5001_e420, 0x2412_6ea1]
        );
    }

    #[test]
    fn moments_are_those_of_the_distributions() {
        let stream = Stream::new(7, "axes.left.motor.resistance");
        let n = 200_000u64;
        let moment = |f: &dyn Fn(u64) -> f64, p: i32| {
            (0..n).map(|k| crate::number::power(f(k), p)).sum::<f64>() / n as f64
        };
        assert!((moment(&|k| stream.uniform(k), 1) - 0.5).abs() < 3e-3);
        assert!((moment(&|k| stream.uniform(k), 2) - 1.0 / 3.0).abs() < 3e-3);
        assert!(moment(&|k| stream.normal(k), 1).abs() < 1e-2);
        assert!((moment(&|k| stream.normal(k), 2) - 1.0).abs() < 2e-2);
        // Variance of t is n/(n − 2).
        assert!((moment(&|k| stream.student(k, 10.0), 2) - 1.25).abs() < 3e-2);
    }

    #[test]
    fn streams_differ_by_name_and_by_seed() {
        let a = Stream::new(1, "a").uniform(0);
        assert!(a != Stream::new(1, "b").uniform(0) && a != Stream::new(2, "a").uniform(0));
    }
}
