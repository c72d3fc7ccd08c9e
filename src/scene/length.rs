//! A length as a person writes it, in a scene or on the command line: `3.5`, `90mm`, `3.5in`, `3.5"`, `3 1/2`,
//! `3-1/2in`, `1/8`.
//!
//! The idea: what is written says an amount and perhaps its unit. Without a unit it is in the scene's, so it can't be
//! turned into millimetres before the scene is known; [`WrittenLength::in_mm`] asks for it.
//!
//! Reads: text. Produces: a [`WrittenLength`], or why it is none. Next: a scene's numbers, and the commands' arguments.

use super::types::{LengthUnit, Point};
use serde::de::{Deserialize, Deserializer, Error, MapAccess, SeqAccess, Visitor};
use std::cell::Cell;
use std::fmt;
use std::str::FromStr;

/// A length as written: an amount, and its unit where one is written.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WrittenLength {
    amount: f64,
    unit: Option<LengthUnit>,
}

/// Why a text is no length.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum NoLength {
    /// Not a number at all.
    #[error(
        "`{0}` is no length: expected a plain number, such as -80 or 12.5, a fraction such as 3 1/2 or 3-1/2, with mm \
         or in behind it where it isn't the scene's unit"
    )]
    NotANumber(String),
    /// `nan`, `inf`.
    #[error("this is not a finite number")]
    NotFinite,
    /// Out of all reason.
    #[error("expected a number of no more than {MOST_WRITTEN}")]
    TooLarge,
    /// `1,5`.
    #[error("`{0}` has a comma in it: write a plain number, such as 12.5, with a point")]
    Comma(String),
    /// A unit that isn't taken.
    #[error(
        "`{0}` is no unit of a length here: expected a plain number, such as 12.5, or one in mm or in"
    )]
    Unit(String),
    /// `341/8`: a tape's fraction whose space is missing, or an improper one.
    #[error(
        "`{written}` lacks a space, or is {amount}: did you mean {mixed}? If not, write {amount}"
    )]
    NoSpace {
        /// As written.
        written: String,
        /// What a tape would show.
        mixed: String,
        /// What it comes to as one fraction.
        amount: f64,
    },
    /// `1/0`.
    #[error(
        "a fraction of so many nothings: write the parts of an inch below the line, such as 1/8"
    )]
    ZeroBelow,
}

/// A number further from zero is no length of anything here, in any unit.
pub const MOST_WRITTEN: f64 = 1.0e6;

/// What may stand behind the number.
const UNIT_WORDS: [(&str, LengthUnit); 9] = [
    ("mm", LengthUnit::Mm),
    ("millimetres", LengthUnit::Mm),
    ("inches", LengthUnit::Inch),
    ("inch", LengthUnit::Inch),
    ("in.", LengthUnit::Inch),
    ("in", LengthUnit::Inch),
    ("\"", LengthUnit::Inch),
    ("\u{2033}", LengthUnit::Inch),
    ("\u{201d}", LengthUnit::Inch),
];

impl WrittenLength {
    /// An amount in the scene's unit.
    pub fn of_scene(amount: f64) -> WrittenLength {
        WrittenLength { amount, unit: None }
    }

    /// In millimetres; `scene` is the unit where none is written.
    pub fn in_mm(self, scene: LengthUnit) -> f64 {
        self.amount * self.unit.unwrap_or(scene).in_mm()
    }

    /// In the scene's unit.
    pub fn in_unit(self, scene: LengthUnit) -> f64 {
        match self.unit {
            Some(unit) if unit != scene => self.amount * unit.in_mm() / scene.in_mm(),
            _ => self.amount,
        }
    }

    /// The unit that is written.
    pub fn unit(self) -> Option<LengthUnit> {
        self.unit
    }
}

impl FromStr for WrittenLength {
    type Err = NoLength;

    fn from_str(text: &str) -> Result<WrittenLength, NoLength> {
        let plain_fractions = with_plain_fractions(text);
        let written = plain_fractions.trim();
        if let Some(length) = feet(written) {
            return Ok(length);
        }
        let typed = UNIT_WORDS
            .iter()
            .find_map(|(word, unit)| Some((written.strip_suffix(word)?, *unit)));
        let (number, unit) = match typed {
            Some((number, unit)) => (number.trim_end(), Some(unit)),
            None => (written, None),
        };
        let (sign, size) = match number.strip_prefix(['-', '\u{2212}']) {
            Some(rest) => (-1.0, rest),
            None => (1.0, number.strip_prefix('+').unwrap_or(number)),
        };
        let size = size.trim_start();
        if size.is_empty() {
            return Err(NoLength::NotANumber(written.to_owned()));
        }
        let amount = match fraction(size)? {
            Some(amount) => amount,
            None => plain(size).map_err(|unread| match unread {
                NoLength::NotANumber(_) if unit.is_none() => no_number(written, size),
                NoLength::NotANumber(_) => NoLength::NotANumber(written.to_owned()),
                other => other,
            })?,
        };
        if amount > MOST_WRITTEN {
            return Err(NoLength::TooLarge);
        }
        Ok(WrittenLength {
            amount: sign * amount,
            unit,
        })
    }
}

/// Fractions that are one character, as `1/8`.
const FRACTIONS: [(char, &str); 12] = [
    ('\u{bd}', "1/2"),
    ('\u{bc}', "1/4"),
    ('\u{be}', "3/4"),
    ('\u{215b}', "1/8"),
    ('\u{215c}', "3/8"),
    ('\u{215d}', "5/8"),
    ('\u{215e}', "7/8"),
    ('\u{2153}', "1/3"),
    ('\u{2154}', "2/3"),
    ('\u{2155}', "1/5"),
    ('\u{2159}', "1/6"),
    ('\u{2151}', "1/9"),
];

/// A text with each of them written out, a space before it where a number's digit stands there.
fn with_plain_fractions(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match FRACTIONS.iter().find(|(one, _)| *one == c) {
            Some((_, written)) => {
                if out.ends_with(|c: char| c.is_ascii_digit()) {
                    out.push(' ');
                }
                out.push_str(written);
            }
            None => out.push(c),
        }
    }
    out
}

/// Feet, and inches behind them: `12' 1/2"`, `6'`, `-1' 3`. None where it isn't that.
fn feet(written: &str) -> Option<WrittenLength> {
    const INCHES: f64 = 12.0;
    let (feet, inches) = written.split_once(['\'', '\u{2032}', '\u{2019}'])?;
    let (sign, feet) = match feet.strip_prefix(['-', '\u{2212}']) {
        Some(rest) => (-1.0, rest),
        None => (1.0, feet),
    };
    let feet = plain(feet.trim()).ok()?;
    let inches = inches.trim().trim_start_matches('-').trim_start();
    let inches = match inches {
        "" => 0.0,
        _ if !inches.starts_with(|c: char| c.is_ascii_digit() || c == '.') => return None,
        _ => match inches.parse::<WrittenLength>().ok()? {
            WrittenLength {
                amount,
                unit: None | Some(LengthUnit::Inch),
            } => amount,
            _ => return None,
        },
    };
    let amount = sign * (feet * INCHES + inches);
    (inches < INCHES && amount.abs() <= MOST_WRITTEN).then_some(WrittenLength {
        amount,
        unit: Some(LengthUnit::Inch),
    })
}

/// Why something isn't a number.
fn no_number(written: &str, size: &str) -> NoLength {
    if size.contains(',') {
        return NoLength::Comma(written.to_owned());
    }
    let from = size.find(char::is_alphabetic).unwrap_or(size.len());
    let (number, word) = size.split_at(from);
    if plain(number.trim_end()).is_ok() && word.chars().all(char::is_alphabetic) {
        return NoLength::Unit(word.to_owned());
    }
    NoLength::NotANumber(written.to_owned())
}

/// A number without a sign of its own: `12.5`, `1e-3`.
fn plain(text: &str) -> Result<f64, NoLength> {
    let none = || NoLength::NotANumber(text.to_owned());
    let value: f64 = text.parse().map_err(|_| none())?;
    if !value.is_finite() && text.starts_with(char::is_alphabetic) {
        return Err(NoLength::NotFinite);
    }
    if !text.starts_with(|c: char| c.is_ascii_digit() || c == '.') {
        return Err(none());
    }
    Ok(value)
}

/// `3 1/2`, `3-1/2`, `7/16`; nothing where no line of a fraction is in it.
fn fraction(text: &str) -> Result<Option<f64>, NoLength> {
    let Some((above, below)) = text.split_once('/') else {
        return Ok(None);
    };
    let none = || NoLength::NotANumber(text.to_owned());
    let count = |digits: &str| -> Result<f64, NoLength> {
        if digits.is_empty() || !digits.bytes().all(|b| b.is_ascii_digit()) {
            return Err(none());
        }
        digits.parse().map_err(|_| none())
    };
    let below = count(below)?;
    if below == 0.0 {
        return Err(NoLength::ZeroBelow);
    }
    let (whole, top) = match above.rsplit_once([' ', '-']) {
        Some((whole, top)) => (count(whole.trim_end_matches([' ', '-']))?, count(top)?),
        None => (0.0, count(above)?),
    };
    if let Some(mixed) = missing_space(above, below) {
        return Err(NoLength::NoSpace {
            written: text.to_owned(),
            mixed,
            amount: top / below,
        });
    }
    Ok(Some(whole + top / below))
}

/// The parts that an inch is divided into on a tape.
const TAPE: [f64; 6] = [2.0, 4.0, 8.0, 16.0, 32.0, 64.0];

/// `341` above `8` as a tape shows it, `34 1/8`, where the inches and the parts above the line may have run together: both
/// are read as lengths, and they differ by inches.
fn missing_space(above: &str, below: f64) -> Option<String> {
    if !TAPE.contains(&below) || !above.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    let parts = |at: usize| -> Option<String> {
        let (whole, top) = above.split_at(at);
        let known: f64 = top.parse().ok()?;
        let is_proper = !top.starts_with('0') && known < below && !whole.starts_with('0');
        is_proper.then(|| format!("`{whole} {top}/{below}`"))
    };
    // Less than one inch stands as a tape shows it.
    if above.parse::<f64>().is_ok_and(|top| top < below) {
        return None;
    }
    let found: Vec<String> = (1..above.len()).filter_map(parts).collect();
    (!found.is_empty()).then(|| found.join(" or "))
}

impl LengthUnit {
    /// Every `NUMBER mm` and `NUMBER to NUMBER mm` in a message, in this unit: a tenth of a millimetre becomes a
    /// hundredth of an inch. Messages are made in millimetres, as everything is inside; who reads one has measured in
    /// the scene's unit.
    pub fn reworded(self, text: &str) -> String {
        match self {
            LengthUnit::Mm => text.to_owned(),
            LengthUnit::Inch => reworded(text, "in", &|mm, places| {
                let inches = mm / LengthUnit::Inch.in_mm();
                // What isn't nothing isn't told as nothing.
                let first = if inches == 0.0 {
                    0.0
                } else {
                    -inches.abs().log10().floor()
                };
                let places = (places + 1).max(2).max(first.max(0.0) as usize).min(12);
                format!("{inches:.places$}")
            }),
        }
    }
}

/// A text with each `NUMBER mm` and `NUMBER to NUMBER mm` told in another unit; `tell` gets the millimetres and the
/// decimals that they were told with.
pub fn reworded(text: &str, unit: &str, tell: &dyn Fn(f64, usize) -> String) -> String {
    const BEHIND: [char; 6] = [',', '.', ';', ':', ')', '?'];
    const BEFORE: [char; 1] = ['('];
    let told = |word: &str| -> Option<String> {
        let bare = word.trim_start_matches(BEFORE);
        let starts = |c: char| c.is_ascii_digit() || "+-.".contains(c);
        let mm = bare
            .starts_with(starts)
            .then(|| bare.parse::<f64>().ok())??;
        let places = bare
            .split_once('.')
            .map_or(0, |(_, decimals)| decimals.len());
        let before = &word[..word.len() - bare.len()];
        Some(format!("{before}{}", tell(mm, places)))
    };
    let words: Vec<&str> = text.split(' ').collect();
    let is_unit = |word: Option<&&str>| word.is_some_and(|w| w.trim_end_matches(BEHIND) == "mm");
    let mut out: Vec<String> = words.iter().map(|w| (*w).to_owned()).collect();
    for (i, word) in words.iter().enumerate().skip(1) {
        let Some(number) = told(words[i - 1]).filter(|_| is_unit(Some(word))) else {
            continue;
        };
        out[i] = word.replacen("mm", unit, 1);
        out[i - 1] = number;
        if i >= 3
            && words[i - 2] == "to"
            && let Some(from) = told(words[i - 3])
        {
            out[i - 3] = from;
        }
    }
    out.join(" ")
}

thread_local! {
    /// The unit of the scene that is being read. serde reads a field without knowing those around it, and a written
    /// `90 mm` becomes a number of the scene's unit; set by [`reading_in`] alone.
    static SCENE_UNIT: Cell<Option<LengthUnit>> = const { Cell::new(None) };
}

/// Reads a scene whose lengths are in `unit`.
pub(super) fn reading_in<T>(unit: Option<LengthUnit>, read: impl FnOnce() -> T) -> T {
    /// Puts back what was there, whichever way the reading ends.
    struct Before(Option<LengthUnit>);
    impl Drop for Before {
        fn drop(&mut self) {
            SCENE_UNIT.set(self.0);
        }
    }
    let _before = Before(SCENE_UNIT.replace(unit));
    read()
}

/// A length of a scene: a plain number, or a text such as `"3 1/2"` or `"90 mm"`.
struct Length(f64);

impl<'de> Deserialize<'de> for Length {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Length, D::Error> {
        struct Reader;
        impl Visitor<'_> for Reader {
            type Value = Length;
            fn expecting(&self, f: &mut fmt::Formatter) -> fmt::Result {
                f.write_str("a plain number, or a text such as \"3 1/2\" or \"90 mm\"")
            }
            fn visit_f64<E: Error>(self, value: f64) -> Result<Length, E> {
                Ok(Length(value))
            }
            fn visit_i64<E: Error>(self, value: i64) -> Result<Length, E> {
                Ok(Length(value as f64))
            }
            fn visit_u64<E: Error>(self, value: u64) -> Result<Length, E> {
                Ok(Length(value as f64))
            }
            fn visit_i128<E: Error>(self, value: i128) -> Result<Length, E> {
                Ok(Length(value as f64))
            }
            fn visit_u128<E: Error>(self, value: u128) -> Result<Length, E> {
                Ok(Length(value as f64))
            }
            fn visit_str<E: Error>(self, text: &str) -> Result<Length, E> {
                let written: WrittenLength = text.parse().map_err(E::custom)?;
                match (written.unit, SCENE_UNIT.get()) {
                    (None, _) => Ok(Length(written.amount)),
                    (Some(_), Some(scene)) => Ok(Length(written.in_unit(scene))),
                    (Some(_), None) => Err(E::custom(format!(
                        "`{text}` names a unit of length where none can be: write a plain number"
                    ))),
                }
            }
        }
        deserializer.deserialize_any(Reader)
    }
}

/// A length.
pub(super) fn length<'de, D: Deserializer<'de>>(deserializer: D) -> Result<f64, D::Error> {
    Length::deserialize(deserializer).map(|l| l.0)
}

/// A length that may be left out.
pub(super) fn optional_length<'de, D: Deserializer<'de>>(
    deserializer: D,
) -> Result<Option<f64>, D::Error> {
    Ok(Option::<Length>::deserialize(deserializer)?.map(|l| l.0))
}

/// An angle in degrees: a plain number, or a text such as "1/16" or "-0.25 deg".
struct Degrees(f64);

impl<'de> Deserialize<'de> for Degrees {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Degrees, D::Error> {
        struct Reader;
        impl Visitor<'_> for Reader {
            type Value = Degrees;
            fn expecting(&self, f: &mut fmt::Formatter) -> fmt::Result {
                f.write_str("a plain number of degrees, or a text such as \"1/16\"")
            }
            fn visit_f64<E: Error>(self, value: f64) -> Result<Degrees, E> {
                Ok(Degrees(value))
            }
            fn visit_i64<E: Error>(self, value: i64) -> Result<Degrees, E> {
                Ok(Degrees(value as f64))
            }
            fn visit_u64<E: Error>(self, value: u64) -> Result<Degrees, E> {
                Ok(Degrees(value as f64))
            }
            fn visit_i128<E: Error>(self, value: i128) -> Result<Degrees, E> {
                Ok(Degrees(value as f64))
            }
            fn visit_u128<E: Error>(self, value: u128) -> Result<Degrees, E> {
                Ok(Degrees(value as f64))
            }
            fn visit_str<E: Error>(self, text: &str) -> Result<Degrees, E> {
                let bare = text.trim();
                let bare = ["degrees", "degree", "deg", "\u{b0}"]
                    .iter()
                    .find_map(|word| bare.strip_suffix(word))
                    .unwrap_or(bare);
                match bare.parse::<WrittenLength>() {
                    Ok(WrittenLength { amount, unit: None }) => Ok(Degrees(amount)),
                    _ => Err(E::custom(format!(
                        "`{text}` is no angle: write degrees, such as 0.0625 or \"1/16\""
                    ))),
                }
            }
        }
        deserializer.deserialize_any(Reader)
    }
}

/// An angle, degrees.
pub(super) fn degrees<'de, D: Deserializer<'de>>(deserializer: D) -> Result<f64, D::Error> {
    Degrees::deserialize(deserializer).map(|d| d.0)
}

/// An angle that may be left out, degrees.
pub(super) fn optional_degrees<'de, D: Deserializer<'de>>(
    deserializer: D,
) -> Result<Option<f64>, D::Error> {
    Ok(Option::<Degrees>::deserialize(deserializer)?.map(|d| d.0))
}

/// Two lengths, which may be left out.
pub(super) fn optional_two_lengths<'de, D: Deserializer<'de>>(
    deserializer: D,
) -> Result<Option<(f64, f64)>, D::Error> {
    Ok(Option::<(Length, Length)>::deserialize(deserializer)?.map(|(a, b)| (a.0, b.0)))
}

/// Droop and bump of a rear wheel. Older scenes named them, `(droop: 90, bump: 80)`, and meant the same.
pub(super) fn droop_and_bump<'de, D: Deserializer<'de>>(
    deserializer: D,
) -> Result<Option<(f64, f64)>, D::Error> {
    struct Both(f64, f64);
    impl<'de> Deserialize<'de> for Both {
        fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Both, D::Error> {
            deserializer.deserialize_any(Reader)
        }
    }
    struct Reader;
    impl<'de> Visitor<'de> for Reader {
        type Value = Both;
        fn expecting(&self, f: &mut fmt::Formatter) -> fmt::Result {
            f.write_str("two lengths, `(droop, bump)`")
        }
        fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<Both, A::Error> {
            let mut next = |i| -> Result<f64, A::Error> {
                let entry = list.next_element::<Length>()?;
                Ok(entry.ok_or_else(|| Error::invalid_length(i, &self))?.0)
            };
            Ok(Both(next(0)?, next(1)?))
        }
        fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Both, A::Error> {
            const NAMES: [&str; 2] = ["droop", "bump"];
            let mut given = [None; 2];
            while let Some(name) = map.next_key::<String>()? {
                let Some(i) = NAMES.iter().position(|known| *known == name) else {
                    return Err(Error::unknown_field(&name, &NAMES));
                };
                given[i] = Some(map.next_value::<Length>()?.0);
            }
            match given {
                [Some(droop), Some(bump)] => Ok(Both(droop, bump)),
                _ => Err(Error::custom("give both droop and bump, `(droop, bump)`")),
            }
        }
    }
    Ok(Option::<Both>::deserialize(deserializer)?.map(|both| (both.0, both.1)))
}

/// An outline's corners, each two lengths.
pub(super) fn length_pairs<'de, D: Deserializer<'de>>(
    deserializer: D,
) -> Result<Vec<(f64, f64)>, D::Error> {
    let pairs = Vec::<(Length, Length)>::deserialize(deserializer)?;
    Ok(pairs.into_iter().map(|(a, b)| (a.0, b.0)).collect())
}

/// Corners of a length and an angle.
pub(super) fn length_and_angle_pairs<'de, D: Deserializer<'de>>(
    deserializer: D,
) -> Result<Vec<(f64, f64)>, D::Error> {
    let pairs = Vec::<(Length, f64)>::deserialize(deserializer)?;
    Ok(pairs.into_iter().map(|(a, b)| (a.0, b)).collect())
}

/// What is made of the same types as lengths and isn't one, a direction or angles: no unit of length may stand there.
pub(super) fn no_length<'de, D: Deserializer<'de>, T: Deserialize<'de>>(
    deserializer: D,
) -> Result<T, D::Error> {
    reading_in(None, || T::deserialize(deserializer))
}

/// Pairs of a point in a mesh file, in the file's own unit, and a point of the truck.
pub(super) fn mesh_holes<'de, D: Deserializer<'de>>(
    deserializer: D,
) -> Result<Option<Vec<(Point, Point)>>, D::Error> {
    struct InFile(Point);
    impl<'de> Deserialize<'de> for InFile {
        fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<InFile, D::Error> {
            no_length(deserializer).map(InFile)
        }
    }
    let pairs = Option::<Vec<(InFile, Point)>>::deserialize(deserializer)?;
    Ok(pairs.map(|pairs| pairs.into_iter().map(|(a, b)| (a.0, b)).collect()))
}

#[cfg(test)]
mod tests {
    use super::*;

    const MM: LengthUnit = LengthUnit::Mm;
    const INCH: LengthUnit = LengthUnit::Inch;

    #[test]
    fn a_length_is_in_the_scenes_unit_unless_its_own_is_written() {
        for (text, in_mm_scene, in_inch_scene) in [
            ("3.5", 3.5, 88.9),
            ("-3.5", -3.5, -88.9),
            ("\u{2212}3.5", -3.5, -88.9),
            ("+3.5", 3.5, 88.9),
            ("90mm", 90.0, 90.0),
            ("90 mm", 90.0, 90.0),
            ("-90mm", -90.0, -90.0),
            ("3.5in", 88.9, 88.9),
            ("3.5 inches", 88.9, 88.9),
            ("3.5\"", 88.9, 88.9),
            ("3 1/2", 3.5, 88.9),
            ("3-1/2", 3.5, 88.9),
            ("3-1/2in", 88.9, 88.9),
            ("-3-1/2in", -88.9, -88.9),
            ("-3 1/2\"", -88.9, -88.9),
            ("1/8", 0.125, 3.175),
            // No space can be missing here: an eighth has one part above the line.
            ("9/8", 1.125, 28.575),
            ("15/16", 0.9375, 23.8125),
            ("34 1/8", 34.125, 866.775),
            ("1 7/16 in", 36.5125, 36.5125),
            ("1e1", 10.0, 254.0),
            (".5in", 12.7, 12.7),
            ("0", 0.0, 0.0),
            ("25 \u{215b}", 25.125, 638.175),
            ("25\u{215b}\"", 638.175, 638.175),
            ("\u{bd}in", 12.7, 12.7),
            ("12' 1/2\"", 3670.3, 3670.3),
            ("-1' 3", -381.0, -381.0),
            ("6'-2 1/4\"", 1885.95, 1885.95),
            ("6\u{2032}", 1828.8, 1828.8),
        ] {
            let written: WrittenLength = text.parse().expect(text);
            for (scene, mm) in [(MM, in_mm_scene), (INCH, in_inch_scene)] {
                let tolerance = 4.0 * f64::EPSILON * f64::abs(mm);
                assert!((written.in_mm(scene) - mm).abs() <= tolerance, "{text}");
                let there = written.in_unit(scene) * scene.in_mm();
                assert!((there - mm).abs() <= tolerance, "{text}");
            }
        }
    }

    #[test]
    fn what_is_no_length_is_refused_with_what_to_write() {
        for (text, why) in [
            ("", "plain number, such as"),
            ("-", "plain number, such as"),
            ("in", "plain number, such as"),
            ("abc", "plain number, such as"),
            ("3 3", "plain number, such as"),
            ("1 2 3/4", "plain number, such as"),
            ("3 /4", "plain number, such as"),
            ("--3", "plain number, such as"),
            ("3/-4", "plain number, such as"),
            ("1.5/2", "plain number, such as"),
            ("1,5", "with a point"),
            ("3/0", "below the line"),
            // A tape's fraction without its space was read as 42.625.
            ("341/8", "did you mean `34 1/8`? If not, write 42.625"),
            ("-341/8in", "`34 1/8`"),
            ("11/8", "did you mean `1 1/8`? If not, write 1.375"),
            ("207/16", "did you mean `20 7/16`?"),
            ("1115/16", "did you mean `11 15/16` or `111 5/16`?"),
            ("nan", "not a finite number"),
            ("inf", "not a finite number"),
            ("-inf", "not a finite number"),
            ("1e300", "no more than 1000000"),
            ("1e999", "no more than 1000000"),
            ("3ft", "`ft` is no unit"),
            ("3 cm", "`cm` is no unit"),
        ] {
            let said = text.parse::<WrittenLength>().expect_err(text).to_string();
            assert!(said.contains(why), "{text}: {said}");
        }
    }

    #[test]
    fn messages_are_told_in_the_scenes_unit() {
        let said = "cannot reach travel -254.00 mm at rack 0.00 mm: the upper arm ends at travel -80.01 mm";
        assert_eq!(MM.reworded(said), said);
        assert_eq!(
            INCH.reworded(said),
            "cannot reach travel -10.000 in at rack 0.000 in: the upper arm ends at travel -3.150 in"
        );
        assert_eq!(
            INCH.reworded("expected 250 to 1500 mm from the middle (25.4 mm), mm apart"),
            "expected 9.84 to 59.06 in from the middle (1.00 in), mm apart"
        );
        assert_eq!(INCH.reworded("at least 0.001 mm"), "at least 0.00004 in");
    }
}
