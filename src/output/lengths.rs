//! Lengths and angles as printed: one decimal of a millimetre, inches with two decimals or in
//! sixteenths, one decimal of a degree.

use crate::scene::LengthUnit;

/// The unit in which lengths are printed. Everything inside stays in millimetres.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Units {
    /// Millimetres, one decimal.
    Mm,
    /// Inches, two decimals.
    Inch,
    /// Inches and sixteenths, as a tape shows them: `3 5/16`.
    Sixteenths,
}

/// Millimetres in an inch.
const INCH_MM: f64 = 25.4;

/// Printed for a value that isn't a number.
const NO_NUMBER: &str = "?";

impl Units {
    /// The unit a scene was written in.
    pub fn of_scene(unit: LengthUnit) -> Units {
        match unit {
            LengthUnit::Mm => Units::Mm,
            LengthUnit::Inch => Units::Inch,
        }
    }

    /// As printed beside a number.
    pub fn name(self) -> &'static str {
        match self {
            Units::Mm => "mm",
            Units::Inch | Units::Sixteenths => "in",
        }
    }

    /// As printed in a sentence.
    pub fn long_name(self) -> &'static str {
        match self {
            Units::Mm => "mm",
            Units::Inch | Units::Sixteenths => "inches",
        }
    }

    /// Millimetres in one unit.
    pub fn in_mm(self) -> f64 {
        match self {
            Units::Mm => 1.0,
            Units::Inch | Units::Sixteenths => INCH_MM,
        }
    }

    /// A length in mm, as a number without its unit.
    pub fn length(self, mm: f64) -> String {
        if !mm.is_finite() {
            return NO_NUMBER.to_owned();
        }
        match self {
            Units::Mm => decimals(mm, 1),
            Units::Inch => decimals(mm / INCH_MM, 2),
            Units::Sixteenths => sixteenths(mm / INCH_MM),
        }
    }

    /// The last printed digit, mm.
    fn digit_mm(self) -> f64 {
        match self {
            Units::Mm => 0.1,
            Units::Inch => 0.01 * INCH_MM,
            Units::Sixteenths => INCH_MM / 16.0,
        }
    }

    /// A length in mm that may be no longer, cut off behind the last printed digit.
    pub fn at_most(self, mm: f64) -> String {
        // What is a whole number of digits up to rounding stays.
        let digits = mm / self.digit_mm();
        self.length((digits + 1.0e-6).floor() * self.digit_mm())
    }

    /// A length in mm that may be no shorter, rounded up.
    pub fn at_least(self, mm: f64) -> String {
        let digits = mm / self.digit_mm();
        self.length((digits - 1.0e-6).ceil() * self.digit_mm())
    }

    /// A length in mm with its sign always shown, zero excepted.
    pub fn signed(self, mm: f64) -> String {
        with_sign(self.length(mm))
    }

    /// A length in mm with its unit.
    pub fn with_unit(self, mm: f64) -> String {
        format!("{} {}", self.length(mm), self.name())
    }

    /// A length as typed, in mm: `-3 5/16`, `3.3`, `1/2`, with or without the unit behind it; `None` for
    /// anything else.
    pub fn typed(self, text: &str) -> Option<f64> {
        let text = text.trim();
        let text = ["mm", "inches", "in", "\""]
            .iter()
            .find_map(|unit| text.strip_suffix(unit))
            .unwrap_or(text)
            .trim();
        let (sign, text) = match text.strip_prefix(['-', '\u{2212}']) {
            Some(rest) => (-1.0, rest),
            None => (1.0, text.strip_prefix('+').unwrap_or(text)),
        };
        let plain = |t: &str| -> Option<f64> {
            let digits = t.chars().all(|c| c.is_ascii_digit() || c == '.');
            (digits && !t.is_empty()).then(|| t.parse().ok()).flatten()
        };
        let fraction = |t: &str| -> Option<f64> {
            let (top, bottom) = t.split_once('/')?;
            let bottom = plain(bottom).filter(|b| *b > 0.0)?;
            Some(plain(top)? / bottom)
        };
        let words: Vec<&str> = text.split_whitespace().collect();
        let value = match words[..] {
            [one] => plain(one).or_else(|| fraction(one))?,
            [whole, rest] => plain(whole)? + fraction(rest)?,
            _ => return None,
        };
        Some(sign * value * self.in_mm())
    }

    /// A point in mm: `(x, y, z)`.
    pub fn point(self, point_mm: [f64; 3]) -> String {
        let [x, y, z] = point_mm.map(|c| self.length(c));
        format!("({x}, {y}, {z})")
    }

    /// Every `NUMBER mm` in a text, such as tape distances, in this unit.
    pub fn reworded(self, text: &str) -> String {
        if self == Units::Mm {
            return text.to_owned();
        }
        let words: Vec<&str> = text.split(' ').collect();
        let mut out: Vec<String> = Vec::with_capacity(words.len());
        for (i, word) in words.iter().enumerate() {
            let number = words
                .get(i + 1)
                .filter(|unit| unit.trim_end_matches([',', '.']) == "mm");
            if let (Some(_), Ok(mm)) = (number, word.parse::<f64>()) {
                out.push(self.length(mm));
            } else if word.trim_end_matches([',', '.']) == "mm" {
                out.push(word.replace("mm", self.name()));
            } else {
                out.push((*word).to_owned());
            }
        }
        out.join(" ")
    }
}

/// An angle in degrees, one decimal.
pub fn degrees(deg: f64) -> String {
    if deg.is_finite() {
        decimals(deg, 1)
    } else {
        NO_NUMBER.to_owned()
    }
}

/// An angle in degrees with its sign always shown, zero excepted.
pub fn signed_degrees(deg: f64) -> String {
    with_sign(degrees(deg))
}

/// A number with so many decimals; never minus zero.
pub(super) fn decimals(value: f64, places: usize) -> String {
    let text = format!("{value:.places$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|c| c == '0' || c == '.') => rest.to_owned(),
        _ => text,
    }
}

fn with_sign(text: String) -> String {
    let zero = text.chars().all(|c| c == '0' || c == '.');
    if zero || text.starts_with('-') || text == NO_NUMBER {
        text
    } else {
        format!("+{text}")
    }
}

/// Inches to the nearest sixteenth, the fraction in lowest terms.
fn sixteenths(inches: f64) -> String {
    let count = (inches.abs() * 16.0).round() as u64;
    if count == 0 {
        return "0".to_owned();
    }
    let sign = if inches < 0.0 { "-" } else { "" };
    let (whole, rest) = (count / 16, count % 16);
    if rest == 0 {
        return format!("{sign}{whole}");
    }
    let mut top = rest;
    let mut bottom = 16;
    while top % 2 == 0 {
        top /= 2;
        bottom /= 2;
    }
    if whole == 0 {
        format!("{sign}{top}/{bottom}")
    } else {
        format!("{sign}{whole} {top}/{bottom}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn millimetres_have_one_decimal_and_no_minus_zero() {
        assert_eq!(Units::Mm.length(38.593), "38.6");
        assert_eq!(Units::Mm.length(-0.04), "0.0");
        assert_eq!(Units::Mm.length(-0.06), "-0.1");
        assert_eq!(Units::Mm.signed(0.01), "0.0");
        assert_eq!(Units::Mm.signed(75.0), "+75.0");
        assert_eq!(Units::Mm.signed(-75.0), "-75.0");
        assert_eq!(Units::Mm.length(f64::NAN), "?");
        assert_eq!(Units::Mm.signed(f64::INFINITY), "?");
    }

    #[test]
    fn a_longest_length_is_never_printed_longer_nor_a_shortest_shorter() {
        assert_eq!(Units::Mm.at_most(535.858), "535.8");
        assert_eq!(Units::Mm.at_least(425.51), "425.6");
        assert_eq!(Units::Mm.at_most(428.0), "428.0");
        assert_eq!(Units::Mm.at_least(428.0), "428.0");
        assert_eq!(Units::Sixteenths.at_most(541.302), "21 1/4");
        assert_eq!(Units::Sixteenths.at_least(425.6), "16 13/16");
        assert_eq!(Units::Inch.at_most(541.302), "21.31");
    }

    #[test]
    fn inches_have_two_decimals() {
        assert_eq!(Units::Inch.length(25.4), "1.00");
        assert_eq!(Units::Inch.length(84.1375), "3.31");
        assert_eq!(Units::Inch.with_unit(-12.7), "-0.50 in");
        assert_eq!(Units::Inch.length(-0.1), "0.00");
    }

    #[test]
    fn sixteenths_read_like_a_tape() {
        for (inches, text) in [
            (3.3125, "3 5/16"),
            (0.5, "1/2"),
            (0.0, "0"),
            (-0.02, "0"),
            (2.0, "2"),
            (1.999, "2"),
            (-3.3125, "-3 5/16"),
            (-0.75, "-3/4"),
            (0.0625, "1/16"),
            (10.875, "10 7/8"),
        ] {
            assert_eq!(Units::Sixteenths.length(inches * 25.4), text, "{inches} in");
        }
        assert_eq!(Units::Sixteenths.signed(84.1375), "+3 5/16");
        assert_eq!(Units::Sixteenths.with_unit(84.1375), "3 5/16 in");
    }

    #[test]
    fn what_is_printed_can_be_typed() {
        for (text, inches) in [
            ("-3 3/16", -3.1875),
            ("3 5/16 in", 3.3125),
            ("1/2", 0.5),
            ("-0.75", -0.75),
            ("+2\"", 2.0),
        ] {
            let typed = Units::Sixteenths.typed(text).expect(text);
            assert!((typed - inches * 25.4).abs() < 1.0e-9, "{text}");
        }
        assert_eq!(Units::Mm.typed("-80.1 mm"), Some(-80.1));
        for junk in ["", "-", "3 3", "3/0", "1 2 3/4", "a-60", "3 /4", "nan"] {
            assert_eq!(Units::Sixteenths.typed(junk), None, "{junk:?}");
        }
    }

    #[test]
    fn points_and_tape_distances_follow_the_unit() {
        assert_eq!(Units::Mm.point([1.0, -2.04, 0.0]), "(1.0, -2.0, 0.0)");
        assert_eq!(Units::Inch.point([25.4, -50.8, 0.0]), "(1.00, -2.00, 0.00)");
        let tape = "33 mm from the upper ball joint, 254 mm from the upper front pivot";
        assert_eq!(Units::Mm.reworded(tape), tape);
        assert_eq!(
            Units::Sixteenths.reworded(tape),
            "1 5/16 in from the upper ball joint, 10 in from the upper front pivot"
        );
    }

    #[test]
    fn angles_have_one_decimal() {
        assert_eq!(degrees(-0.02), "0.0");
        assert_eq!(signed_degrees(5.44), "+5.4");
        assert_eq!(signed_degrees(f64::NAN), "?");
    }
}
