//! A scene to fill in: an invented truck with a comment for each number that says what to measure, from where.
//!
//! Reads: a name and a unit. Produces: the text of a scene that works as it is. Next: a person with a tape.

use super::types::LengthUnit;

/// What holds the knuckle's upper end in a new scene.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FrontEnd {
    /// An upper control arm.
    Arms,
    /// A strut.
    Strut,
}

impl FrontEnd {
    /// What begins a line of the template that only this front end has.
    fn mark(self) -> &'static str {
        match self {
            FrontEnd::Arms => "arms|",
            FrontEnd::Strut => "strut|",
        }
    }

    /// The template's lines of this front end.
    fn lines(self) -> String {
        let own = |line: &'static str| match line.strip_prefix(self.mark()) {
            Some(own) => Some(own),
            None => {
                let of_another = [FrontEnd::Arms, FrontEnd::Strut]
                    .iter()
                    .any(|other| line.starts_with(other.mark()));
                (!of_another).then_some(line)
            }
        };
        TEMPLATE.split_inclusive('\n').filter_map(own).collect()
    }
}

/// The scene with its lengths in millimetres, each between braces; what one front end alone has is marked.
const TEMPLATE: &str = include_str!("new_scene.ron.txt");

/// The text of a new scene: an invented truck, left corner, to be replaced number by number. It reads and can be swept
/// as it is.
pub fn new_scene(name: &str, unit: LengthUnit, front_end: FrontEnd) -> String {
    let lines = front_end.lines();
    let mut out = String::with_capacity(lines.len());
    let mut rest = lines.as_str();
    while let Some((before, after)) = rest.split_once('{') {
        let Some((inner, after)) = after.split_once('}') else {
            break;
        };
        out.push_str(before);
        match inner.parse::<f64>() {
            Ok(mm) => out.push_str(&length(mm, unit)),
            Err(_) => out.push_str(&word(inner, name, unit)),
        }
        rest = after;
    }
    out.push_str(rest);
    out
}

/// What a word between braces stands for.
fn word(inner: &str, name: &str, unit: LengthUnit) -> String {
    let [mm, inch] = match inner {
        // A text of a scene is written as RON has it, with quotes and escapes.
        "name" => return ron::to_string(name).unwrap_or_default(),
        "format" => return super::format::FORMAT.to_string(),
        "unit" => return unit.name().to_owned(),
        "lengths" => [
            "Lengths are in millimetres: plain numbers, or texts with another unit, \"3 1/2 in\".",
            "Lengths are in inches: plain numbers, or texts with a fraction or another unit, \"3 1/2\", \"90 mm\".",
        ],
        "spacer" => ["25 mm", "1 in"],
        "tyre" => ["265/70R17", "32x10.50R17"],
        _ => [inner, inner],
    };
    match unit {
        LengthUnit::Mm => mm.to_owned(),
        LengthUnit::Inch => inch.to_owned(),
    }
}

/// Parts of an inch that a tape shows.
const PARTS_OF_AN_INCH: f64 = 16.0;

/// A length of the template as a tape of the unit shows it: whole millimetres as they are, inches to the nearest
/// sixteenth, as a text where that is a fraction.
fn length(mm: f64, unit: LengthUnit) -> String {
    match unit {
        LengthUnit::Mm => format!("{mm}"),
        LengthUnit::Inch => {
            let parts = (mm / unit.in_mm() * PARTS_OF_AN_INCH).round();
            let whole = (parts / PARTS_OF_AN_INCH).trunc();
            let (mut top, mut below) = (parts.abs() % PARTS_OF_AN_INCH, PARTS_OF_AN_INCH);
            if top == 0.0 {
                return format!("{}", whole + 0.0);
            }
            while top % 2.0 == 0.0 {
                (top, below) = (0.5 * top, 0.5 * below);
            }
            let sign = if parts < 0.0 { "-" } else { "" };
            if whole == 0.0 {
                format!("\"{sign}{top}/{below}\"")
            } else {
                format!("\"{sign}{} {top}/{below}\"", whole.abs())
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_written_as_a_tape_shows_them() {
        for (mm, text) in [
            (25.4, "1"),
            (-50.8, "-2"),
            (0.0, "0"),
            (0.5, "0"),
            (3.0, "\"1/8\""),
            (-3.0, "\"-1/8\""),
            (88.9, "\"3 1/2\""),
            (-90.0, "\"-3 9/16\""),
        ] {
            assert_eq!(length(mm, LengthUnit::Inch), text);
        }
        assert_eq!(length(-90.0, LengthUnit::Mm), "-90");
    }
}
