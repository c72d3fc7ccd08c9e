//! Writes interval_inari.csv: interval operations by the crate inari (IEEE 1788), for
//! `tests/enclosures.rs`. inari 2.0 builds only with AVX2 compiled in, which this project doesn't ask
//! of its users, so its answers are committed instead.
//!
//! Run outside the project: a Cargo package with the single dependency
//! `inari = { version = "=2.0.0", default-features = false }` and this file as src/main.rs, then
//! `RUSTFLAGS="-C target-cpu=haswell" cargo run > interval_inari.csv`.
//! Seed: 1788, splitmix64.

use inari::{Interval, const_interval, interval};

struct Dice(u64);

impl Dice {
    fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }
    fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }
    /// Points, thin and wide intervals, of either sign or around zero, over many sizes.
    fn interval(&mut self) -> Interval {
        let size = 10_f64.powf(self.unit() * 12.0 - 6.0);
        let middle = (self.unit() * 2.0 - 1.0) * size;
        let half = match self.bits() % 5 {
            0 => 0.0,
            1 => size * 1.0e-12 * self.unit(),
            2 => size * 1.0e-3 * self.unit(),
            _ => size * self.unit(),
        };
        let middle = if self.bits() % 23 == 0 { 0.0 } else { middle };
        interval!(middle - half, middle + half).unwrap()
    }
}

fn point(x: f64) -> Interval {
    interval!(x, x).unwrap()
}

/// Sine and cosine of one number with |x| <= 4, by their series with the remainder enclosed.
fn series(x: f64, first: u32) -> Interval {
    let square = point(x) * point(x);
    let mut term = if first == 1 { point(x) } else { const_interval!(1.0, 1.0) };
    let mut terms = Vec::new();
    let mut k = first;
    // 4^41 / 41! is 1e-25; alternating terms shrink from there on, so the rest is below the last.
    while k < 41 {
        terms.push(term);
        term = -(term * square) / point(f64::from((k + 1) * (k + 2)));
        k += 2;
    }
    let rest = term.mag();
    let mut sum = interval!(-rest, rest).unwrap();
    for t in terms.iter().rev() {
        sum = sum + *t;
    }
    sum
}

fn main() {
    println!("# Interval operations by another library; numbers are exact binary64 in decimal");
    println!("# generator: make_interval_inari.rs; inari 2.0.0; seed 1788");
    println!("# add, sub, mul, div, square, sqrt: out is the tightest interval (inari rounds outward once);");
    println!("#   div: b never holds zero; sqrt: a is above zero");
    println!("# sin, cos: a is the argument, b a point of it (twice), out encloses the function at b, from its");
    println!("#   series in inari's arithmetic with the remainder added");
    println!("# suggested use: the result under test must hold all of out");
    println!("op,a_lo,a_hi,b_lo,b_hi,out_lo,out_hi");
    let mut dice = Dice(1788);
    let row = |op: &str, a: Interval, b: Interval, out: Interval| {
        println!(
            "{op},{:?},{:?},{:?},{:?},{:?},{:?}",
            a.inf(), a.sup(), b.inf(), b.sup(), out.inf(), out.sup()
        );
    };
    for _ in 0..250 {
        let (a, b) = (dice.interval(), dice.interval());
        row("add", a, b, a + b);
        row("sub", a, b, a - b);
        row("mul", a, b, a * b);
        row("square", a, b, a.sqr());
        if !b.contains(0.0) {
            row("div", a, b, a / b);
        }
        if a.inf() > 0.0 {
            row("sqrt", a, b, a.sqrt());
        }
        let middle = dice.unit() * 6.0 - 3.0;
        let half = if dice.bits() % 3 == 0 { 0.0 } else { dice.unit() * 10_f64.powf(-6.0 * dice.unit()) };
        let a = interval!(middle - half, middle + half).unwrap();
        let x = (a.inf() + (a.sup() - a.inf()) * dice.unit()).clamp(a.inf(), a.sup());
        row("sin", a, point(x), series(x, 1));
        row("cos", a, point(x), series(x, 0));
    }
}
