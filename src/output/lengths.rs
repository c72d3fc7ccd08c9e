//! Lengths and angles as printed: one decimal of a millimetre, inches with two decimals or in
//! sixteenths, one decimal of a degree.
//!
//! Printed numbers err to the safe side, so a caller says which side that is. What is there (a gap, a
//! travel, a margin, an angle left) is printed `at_most` as it is; what is needed (a required gap, a
//! longest length that does not do, a cut) `at_least`; only where something is (a point, a travel, a
//! reading) goes to the nearest digit. Two numbers of which one must keep to the other are printed
//! `against` each other: as printed they compare as they are.

use crate::numbers::{NO_NUMBER, Toward, decimals};
use crate::scene::{LengthUnit, WrittenLength, reworded};

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

    /// Where something is, mm: the nearest, as a number without its unit. Not for what is left or needed.
    pub fn length(self, mm: f64) -> String {
        self.toward(mm, Toward::Nearest)
    }

    /// What is there, mm: a gap, a free travel, a margin. Never printed greater than it is; below zero
    /// never printed nearer to zero.
    pub fn at_most(self, mm: f64) -> String {
        self.toward(mm, Toward::Less)
    }

    /// What is needed, mm: a required gap, a cut, a depth. Never printed smaller than it is.
    pub fn at_least(self, mm: f64) -> String {
        self.toward(mm, Toward::More)
    }

    /// Where something is, with its sign always shown, zero excepted.
    pub fn signed(self, mm: f64) -> String {
        with_sign(self.length(mm))
    }

    /// [`Units::at_most`] with its sign always shown, zero excepted.
    pub fn signed_at_most(self, mm: f64) -> String {
        with_sign(self.at_most(mm))
    }

    /// [`Units::at_least`] with its sign always shown, zero excepted.
    pub fn signed_at_least(self, mm: f64) -> String {
        with_sign(self.at_least(mm))
    }

    /// A place, mm, up to which something is free, going `outward` (above zero up, below zero down):
    /// never printed further out than it is. A droop free to -80.16 reads -80.1.
    pub fn signed_free_to(self, mm: f64, outward: f64) -> String {
        if outward < 0.0 {
            self.signed_at_least(mm)
        } else {
            self.signed_at_most(mm)
        }
    }

    /// The head of a column of areas, with their unit.
    pub fn area_head(self) -> &'static str {
        match self {
            Units::Mm => "area, cm2",
            Units::Inch | Units::Sixteenths => "area, in2",
        }
    }

    /// An area in mm2, in the unit of [`Units::area_head`].
    pub fn area(self, mm2: f64) -> String {
        match self {
            Units::Mm => format!("{:.1}", mm2 * 1.0e-2),
            Units::Inch | Units::Sixteenths => format!("{:.2}", mm2 / (INCH_MM * INCH_MM)),
        }
    }

    /// A volume in mm3 with its unit.
    pub fn volume(self, mm3: f64) -> String {
        match self {
            Units::Mm => format!("{:.1} litres", mm3 * 1.0e-6),
            Units::Inch | Units::Sixteenths => {
                format!("{:.0} cubic inches", mm3 / INCH_MM.powi(3))
            }
        }
    }

    /// A length in mm with its unit, to the nearest.
    pub fn with_unit(self, mm: f64) -> String {
        format!("{} {}", self.length(mm), self.name())
    }

    /// [`Units::at_most`] with its unit.
    pub fn at_most_with_unit(self, mm: f64) -> String {
        format!("{} {}", self.at_most(mm), self.name())
    }

    /// [`Units::at_least`] with its unit.
    pub fn at_least_with_unit(self, mm: f64) -> String {
        format!("{} {}", self.at_least(mm), self.name())
    }

    /// What is there, mm, beside what is needed. As printed each of the first is below the second if and only
    /// if it is: where the usual digits would say otherwise all have more of them, and where even those can't
    /// tell it is said in words.
    pub fn against<const N: usize>(
        self,
        there_mm: [f64; N],
        needed_mm: f64,
    ) -> ([String; N], String) {
        against(Scale::Length(self), there_mm, needed_mm)
    }

    /// A length in mm that may err one way, without its unit.
    pub fn toward(self, mm: f64, toward: Toward) -> String {
        let scale = Scale::Length(self);
        scale.text(scale.digits(mm, toward, 0), 0)
    }

    /// A length as typed, in mm: `-3 5/16`, `3.3`, `1/2` in this unit, or with one behind it, `90 mm`; `None` for
    /// anything else.
    pub fn typed(self, text: &str) -> Option<f64> {
        let unit = match self {
            Units::Mm => LengthUnit::Mm,
            Units::Inch | Units::Sixteenths => LengthUnit::Inch,
        };
        Some(text.parse::<WrittenLength>().ok()?.in_mm(unit))
    }

    /// A point in mm: `(x, y, z)`.
    pub fn point(self, point_mm: [f64; 3]) -> String {
        let [x, y, z] = point_mm.map(|c| self.length(c));
        format!("({x}, {y}, {z})")
    }

    /// Every `NUMBER mm` in a text, such as tape distances, in this unit.
    pub fn reworded(self, text: &str) -> String {
        let text = &*self.with_depths(text);
        match self {
            Units::Mm => text.to_owned(),
            Units::Inch => LengthUnit::Inch.reworded(text),
            // What is less than a tape shows isn't told as nothing.
            Units::Sixteenths if text.contains("mm") => reworded(text, self.name(), &|mm, _| {
                let inches = mm / INCH_MM;
                match self.length(mm) {
                    none if none == "0" && inches != 0.0 => format!("{inches:.4}"),
                    tape => tape,
                }
            }),
            Units::Sixteenths => text.to_owned(),
        }
    }

    /// The depths of overlaps in a message, as everywhere else: what has to go, never printed less than it is.
    fn with_depths(self, text: &str) -> String {
        const BEFORE: &str = "about ";
        const BEHIND: &str = " mm deep";
        let mut out = String::with_capacity(text.len());
        let mut rest = text;
        while let Some(end) = rest.find(BEHIND) {
            let (head, tail) = (&rest[..end], &rest[end + BEHIND.len()..]);
            let number = head.rfind(BEFORE).map(|at| at + BEFORE.len());
            match number.and_then(|at| Some((at, head[at..].parse::<f64>().ok()?))) {
                Some((at, mm)) => {
                    out.push_str(&head[..at]);
                    out.push_str(&self.at_least_with_unit(mm));
                    out.push_str(" deep");
                }
                None => out.push_str(&rest[..end + BEHIND.len()]),
            }
            rest = tail;
        }
        out.push_str(rest);
        out
    }
}

/// A reading in degrees: the nearest decimal. Not for what is left or needed.
pub fn degrees(deg: f64) -> String {
    degrees_rounded(deg, Toward::Nearest)
}

/// An angle that is there, in degrees: a margin, an approach angle. Never printed greater than it is.
pub fn degrees_at_most(deg: f64) -> String {
    degrees_rounded(deg, Toward::Less)
}

/// An angle that is needed, in degrees. Never printed smaller than it is.
pub fn degrees_at_least(deg: f64) -> String {
    degrees_rounded(deg, Toward::More)
}

/// A reading in degrees with its sign always shown, zero excepted.
pub fn signed_degrees(deg: f64) -> String {
    with_sign(degrees(deg))
}

/// Toe and camber in degrees, to a hundredth, with their sign always shown, zero excepted: an alignment sheet has two digits.
pub fn signed_fine_degrees(deg: f64) -> String {
    let text = format!("{:.2}", deg);
    // What rounds to nothing has no sign.
    let is_zero = text.chars().all(|c| "-0.".contains(c));
    with_sign(if is_zero { "0.00".to_owned() } else { text })
}

/// An angle up to which something is free, with its sign: never printed further from zero than it is.
pub fn signed_degrees_free_to(deg: f64) -> String {
    with_sign(if deg < 0.0 {
        degrees_at_least(deg)
    } else {
        degrees_at_most(deg)
    })
}

/// [`Units::against`] for angles.
pub fn degrees_against<const N: usize>(
    there_deg: [f64; N],
    needed_deg: f64,
) -> ([String; N], String) {
    against(Scale::Degrees, there_deg, needed_deg)
}

fn degrees_rounded(deg: f64, toward: Toward) -> String {
    Scale::Degrees.text(Scale::Degrees.digits(deg, toward, 0), 0)
}

/// What is printed in steps, which can be made finer.
#[derive(Clone, Copy)]
enum Scale {
    Length(Units),
    Degrees,
}

/// The most often that two numbers' digits are made finer to tell them apart: a ten-thousandth of a
/// millimetre, a 128th of an inch.
const MOST_FINER: i32 = 3;

impl Scale {
    /// One digit, in mm or degrees, made finer so often.
    fn step(self, finer: i32) -> f64 {
        match self {
            Scale::Length(Units::Mm) | Scale::Degrees => 0.1_f64.powi(1 + finer),
            Scale::Length(Units::Inch) => INCH_MM * 0.1_f64.powi(2 + finer),
            Scale::Length(Units::Sixteenths) => INCH_MM / f64::from(16 << finer),
        }
    }

    fn digits(self, value: f64, toward: Toward, finer: i32) -> f64 {
        toward.steps(value, self.step(finer))
    }

    fn text(self, digits: f64, finer: i32) -> String {
        if !digits.is_finite() {
            return NO_NUMBER.to_owned();
        }
        let tenths = |places: i32| decimals(digits * 0.1_f64.powi(places), places as usize);
        match self {
            Scale::Length(Units::Mm) | Scale::Degrees => tenths(1 + finer),
            Scale::Length(Units::Inch) => tenths(2 + finer),
            Scale::Length(Units::Sixteenths) => fraction(digits, 16 << finer),
        }
    }
}

fn against<const N: usize>(scale: Scale, there: [f64; N], needed: f64) -> ([String; N], String) {
    let needed_digits = |finer: i32| scale.digits(needed, Toward::More, finer);
    // Whether so fine digits tell it as it is. What is no number compares as nothing and is printed so.
    let tells = |there: f64, finer: i32| {
        let digits = scale.digits(there, Toward::Less, finer);
        (digits >= needed_digits(finer)) == (there >= needed) || (there - needed).is_nan()
    };
    let fine_enough = |there: f64| (0..=MOST_FINER).find(|finer| tells(there, *finer));
    let finer = there
        .iter()
        .filter_map(|t| fine_enough(*t))
        .max()
        .unwrap_or(0);
    let printed_needed = scale.text(needed_digits(finer), finer);
    let printed = there.map(|value| {
        if tells(value, finer) {
            scale.text(scale.digits(value, Toward::Less, finer), finer)
        } else if value >= needed {
            "as required".to_owned()
        } else {
            format!("just below {printed_needed}")
        }
    });
    (printed, printed_needed)
}

fn with_sign(text: String) -> String {
    let zero = text.chars().all(|c| c == '0' || c == '.');
    if zero || text.starts_with('-') || text == NO_NUMBER {
        text
    } else {
        format!("+{text}")
    }
}

/// So many parts of an inch, the fraction in lowest terms.
fn fraction(parts: f64, of: u32) -> String {
    let of = u64::from(of);
    let count = parts.abs() as u64;
    if count == 0 {
        return "0".to_owned();
    }
    let sign = if parts < 0.0 { "-" } else { "" };
    let (whole, mut top) = (count / of, count % of);
    if top == 0 {
        return format!("{sign}{whole}");
    }
    let mut bottom = of;
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
    fn what_is_left_prints_no_more_and_what_is_needed_no_less() {
        // 1/8 in is 3.175 mm: a gap proved at 3.02 mm has only the sixteenth below it.
        assert_eq!(Units::Sixteenths.at_most(3.02), "1/16");
        assert_eq!(Units::Sixteenths.at_least(3.02), "1/8");
        // A gap proved at 1/8 in and a little more is no 3/16.
        assert_eq!(Units::Sixteenths.at_most(0.16 * 25.4), "1/8");
        assert_eq!(Units::Mm.signed_at_most(24.254), "+24.2");
        assert_eq!(Units::Mm.signed_at_most(-24.254), "-24.3");
        assert_eq!(Units::Mm.at_most(-0.001), "-0.1");
        assert_eq!(Units::Mm.at_least(-0.001), "0.0");
        assert_eq!(Units::Mm.signed_free_to(-80.16, -1.0), "-80.1");
        assert_eq!(Units::Mm.signed_free_to(80.16, 1.0), "+80.1");
        assert_eq!(degrees_at_most(4.99), "4.9");
        assert_eq!(degrees_at_most(-0.01), "-0.1");
        assert_eq!(degrees_at_least(4.91), "5.0");
        assert_eq!(signed_degrees_free_to(-35.48), "-35.4");
        assert_eq!(Units::Mm.at_most(f64::NAN), "?");
        assert_eq!(Units::Sixteenths.at_least(f64::INFINITY), "?");
    }

    #[test]
    fn a_gap_and_what_it_must_keep_never_print_alike_unless_it_is_kept() {
        let eighth = 25.4 / 8.0;
        // `gap 1/8, required 1/8, TOO SMALL` as it used to be.
        let ([gap], required) = Units::Sixteenths.against([eighth - 0.05], eighth);
        assert_eq!([gap.as_str(), required.as_str()], ["1/16", "1/8"]);
        let ([gap], required) = Units::Mm.against([4.97], 5.0);
        assert_eq!([gap.as_str(), required.as_str()], ["4.9", "5.0"]);
        let ([gap], required) = Units::Mm.against([5.0], 5.0);
        assert_eq!([gap.as_str(), required.as_str()], ["5.0", "5.0"]);
        // Kept, though both lie between the same sixteenths: told in finer ones.
        let ([gap], required) = Units::Sixteenths.against([5.5], 5.0);
        assert_eq!([gap.as_str(), required.as_str()], ["13/64", "13/64"]);
        // Five millimetres are no fraction of an inch.
        let ([gap], required) = Units::Sixteenths.against([5.0], 5.0);
        assert_eq!([gap.as_str(), required.as_str()], ["as required", "1/4"]);
        let ([gap], required) = Units::Mm.against([5.0 - 1.0e-8], 5.0);
        assert_eq!([gap.as_str(), required.as_str()], ["just below 5.0", "5.0"]);
        let ([gap], required) = Units::Mm.against([f64::NAN], 5.0);
        assert_eq!([gap.as_str(), required.as_str()], ["?", "5.0"]);
        let ([angle], wanted) = degrees_against([27.96], 28.0);
        assert_eq!([angle.as_str(), wanted.as_str()], ["27.9", "28.0"]);
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
        // A unit that is typed counts, whatever the page shows.
        assert_eq!(Units::Inch.typed("90 mm"), Some(90.0));
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
