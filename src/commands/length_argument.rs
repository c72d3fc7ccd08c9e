//! Lengths on the command line: in the scene's unit unless one is typed, and told back.
//!
//! The idea: clap reads what is typed before the scene is read, so a [`LengthArgument`] is no number yet. It becomes one
//! with the scene's unit, in [`LengthArgument::in_mm`]: there is no way to take it for millimetres.

use bindpoint::output::{text_width, wrap};
use bindpoint::scene::{LengthUnit, NoLength, WrittenLength};
use std::str::FromStr;

/// A length as typed: `3.5`, `90mm`, `3.5in`, `3.5"`, `3 1/2`, `3-1/2in`, `1/8`.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct LengthArgument {
    written: WrittenLength,
    typed: String,
}

impl FromStr for LengthArgument {
    type Err = NoLength;

    fn from_str(text: &str) -> Result<LengthArgument, NoLength> {
        Ok(LengthArgument {
            written: text.parse()?,
            typed: text.trim().to_owned(),
        })
    }
}

impl LengthArgument {
    /// In millimetres, for a scene in this unit.
    pub(super) fn in_mm(&self, scene: LengthUnit) -> f64 {
        self.written.in_mm(scene)
    }

    /// As asked: in the scene's unit, and as typed where that reads otherwise.
    pub(super) fn told(&self, scene: LengthUnit) -> String {
        let amount = rounded(self.written.in_unit(scene));
        let unit = match scene {
            LengthUnit::Mm => "mm",
            LengthUnit::Inch => "in",
        };
        let bare: String = self.typed.split_whitespace().collect();
        let plain = bare.strip_suffix(unit).unwrap_or(&bare).parse::<f64>();
        if plain.is_ok_and(|number| rounded(number) == amount && !self.has_other_unit(scene)) {
            format!("{amount} {unit}")
        } else {
            format!("{amount} {unit} (typed {})", self.typed)
        }
    }

    /// As typed.
    pub(super) fn typed(&self) -> &str {
        &self.typed
    }

    /// Whether it is below zero.
    pub(super) fn is_negative(&self) -> bool {
        self.written.in_mm(LengthUnit::Mm) < 0.0
    }

    fn has_other_unit(&self, scene: LengthUnit) -> bool {
        self.written.unit().is_some_and(|unit| unit != scene)
    }
}

/// What is typed is told to a ten-thousandth: finer than any tape, and a 64th of an inch is told apart from the next.
fn rounded(amount: f64) -> f64 {
    const FINEST: f64 = 1.0e4;
    let rounded = (amount * FINEST).round() / FINEST;
    // What is less is told as it is: nothing that was asked is told as nothing.
    if rounded == 0.0 && amount != 0.0 {
        return amount;
    }
    // A negative zero reads as zero.
    rounded + 0.0
}

/// What was asked, as every answer begins: `Asked: travel -88.9 mm (typed -3.5in), rack 0 mm.` Nothing where no length
/// was.
pub(super) fn asked<'a>(
    scene: LengthUnit,
    lengths: impl IntoIterator<Item = (&'a str, Option<&'a LengthArgument>)>,
) -> String {
    let told: Vec<String> = lengths
        .into_iter()
        .filter_map(|(name, length)| Some(format!("{name} {}", length?.told(scene))))
        .collect();
    if told.is_empty() {
        return String::new();
    }
    let line = format!("Asked: {}.", told.join(", "));
    format!("{}\n", wrap(&line, text_width(), "  "))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(text: &str, scene: LengthUnit) -> String {
        text.parse::<LengthArgument>().expect(text).told(scene)
    }

    #[test]
    fn what_was_asked_is_told_in_the_scenes_unit_and_as_typed_where_that_differs() {
        use LengthUnit::{Inch, Mm};
        for (typed, scene, expected) in [
            ("-3.5", Inch, "-3.5 in"),
            ("-3.5", Mm, "-3.5 mm"),
            ("-3.50in", Inch, "-3.5 in"),
            ("90 mm", Mm, "90 mm"),
            ("-3.5in", Mm, "-88.9 mm (typed -3.5in)"),
            ("90mm", Inch, "3.5433 in (typed 90mm)"),
            ("0mm", Inch, "0 in (typed 0mm)"),
            ("3 1/2", Inch, "3.5 in (typed 3 1/2)"),
            ("1/64", Inch, "0.0156 in (typed 1/64)"),
            ("3.5\"", Inch, "3.5 in (typed 3.5\")"),
            ("-0", Mm, "0 mm"),
            ("1e-9", Mm, "0.000000001 mm"),
        ] {
            assert_eq!(told(typed, scene), expected, "{typed}");
        }
        let [travel, rack] = ["-3.5in", "0"].map(|t| t.parse::<LengthArgument>().expect(t));
        let lengths = [
            ("travel", Some(&travel)),
            ("rack", Some(&rack)),
            ("gap", None),
        ];
        let line = asked(Mm, lengths);
        assert_eq!(line, "Asked: travel -88.9 mm (typed -3.5in), rack 0 mm.\n");
        assert_eq!(asked(Mm, [("gap", None)]), "");
    }
}
