//! Numbers of so many digits that err to a chosen side.

/// Which way a number may err when it loses digits. A person cuts metal by what is printed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Toward {
    /// Either way: where something is.
    Nearest,
    /// Less than it is: what is there, such as a gap, a travel left or a margin.
    Less,
    /// More than it is: what is needed, such as a required gap or a cut.
    More,
}

/// A number that misses a digit by no more than this is that digit, mm or degrees: positions are solved to a
/// thousandth of it, lengths come from a few operations on them, and no tape shows it.
const ROUNDING: f64 = 1.0e-7;

/// Printed for a value that isn't a number.
pub const NO_NUMBER: &str = "?";

impl Toward {
    /// A value as a whole number of steps.
    pub fn steps(self, value: f64, step: f64) -> f64 {
        let rounding = ROUNDING / step;
        match self {
            Toward::Nearest => (value / step).round(),
            Toward::Less => (value / step + rounding).floor(),
            Toward::More => (value / step - rounding).ceil(),
        }
    }

    /// With so many decimals.
    pub fn decimals(self, value: f64, places: usize) -> String {
        if !value.is_finite() {
            return NO_NUMBER.to_owned();
        }
        match self {
            // What is halfway goes as the number's own digits say.
            Toward::Nearest => decimals(value, places),
            Toward::Less | Toward::More => {
                let step = 0.1_f64.powi(places as i32);
                decimals(self.steps(value, step) * step, places)
            }
        }
    }
}

/// A number with so many decimals; never minus zero.
pub fn decimals(value: f64, places: usize) -> String {
    let text = format!("{value:.places$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|c| c == '0' || c == '.') => rest.to_owned(),
        _ => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_err_to_the_side_asked_for() {
        assert_eq!(Toward::Less.decimals(102.39, 1), "102.3");
        assert_eq!(Toward::More.decimals(102.31, 1), "102.4");
        assert_eq!(Toward::Less.decimals(-24.254, 1), "-24.3");
        assert_eq!(Toward::More.decimals(-0.04, 1), "0.0");
        assert_eq!(Toward::Nearest.decimals(-0.04, 1), "0.0");
        assert_eq!(Toward::Less.decimals(f64::NAN, 1), "?");
        // Rounding of the calculation's own is none.
        assert_eq!(Toward::Less.decimals(3.0 * 0.1, 1), "0.3");
        assert_eq!(Toward::More.decimals(3.0 * 0.1, 1), "0.3");
        assert_eq!(Toward::Less.steps(427.999_999_999, 0.1), 4280.0);
    }
}
