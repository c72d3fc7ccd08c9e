//! Random numbers that are the same on every machine and in every run.
//!
//! Source: S. Vigna's public-domain `splitmix64` (G. L. Steele, D. Lea, C. H. Flood, "Fast splittable
//! pseudorandom number generators", OOPSLA 2014).

// Each test file uses its own part of this module.
#![allow(dead_code)]

use nalgebra::{Matrix3, Rotation3, Unit, Vector3};

/// A seeded source.
pub struct Dice(u64);

impl Dice {
    /// A source with a seed.
    pub fn new(seed: u64) -> Dice {
        Dice(seed)
    }

    /// 64 random bits.
    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Evenly between two numbers.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// A whole number below `end`.
    pub fn below(&mut self, end: usize) -> usize {
        (self.bits() % end as u64) as usize
    }

    /// A vector with each component evenly within `size` of zero.
    pub fn vector(&mut self, size: f64) -> Vector3<f64> {
        Vector3::from_fn(|_, _| self.between(-size, size))
    }

    /// A unit vector, every direction alike.
    pub fn direction(&mut self) -> Vector3<f64> {
        loop {
            let v = self.vector(1.0);
            let length = v.norm();
            if (0.1..=1.0).contains(&length) {
                return v / length;
            }
        }
    }

    /// A rotation about a random axis by up to `largest` radians.
    pub fn rotation(&mut self, largest: f64) -> Matrix3<f64> {
        let axis = Unit::new_normalize(self.direction());
        Rotation3::from_axis_angle(&axis, self.between(-largest, largest)).into_inner()
    }
}
