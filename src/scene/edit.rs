//! Changing a scene's numbers in its text, so that comments and layout stay as their author left them.
//!
//! The idea: a number field is a path and a byte range of the text. To change a value is to replace its
//! range; the new text is then read like any other scene, with the same checks and messages.

use super::locate::Places;
use std::collections::BTreeMap;

/// A number as it stands in a scene's text.
#[derive(Clone, Debug, PartialEq)]
pub struct NumberField {
    /// Its path: `lower_arm.ball_joint[2]`, `halfshaft.inner_limit_deg`, `parts[3].shape.radius`.
    pub path: String,
    /// Its value, in the scene's unit or in degrees.
    pub value: f64,
}

/// Every number of a scene's text, in the order of the file.
pub fn number_fields(text: &str) -> Vec<NumberField> {
    Places::of(text)
        .in_order()
        .into_iter()
        .filter_map(|(path, range)| {
            let value = text[range].parse::<f64>().ok()?;
            Some(NumberField {
                path: path.to_owned(),
                value,
            })
        })
        .collect()
}

/// The text with the number at `path` replaced; `None` where there is no number at `path`. Values are
/// written to a millionth: finer than anything that is measured, in inches too.
pub fn with_number(text: &str, path: &str, value: f64) -> Option<String> {
    let range = Places::of(text).exact(path)?;
    text[range.clone()].parse::<f64>().ok()?;
    let rounded = (value * 1.0e6).round() / 1.0e6;
    // Adding zero turns a negative zero into zero.
    let number = format!("{}", rounded + 0.0);
    Some([&text[..range.start], &number, &text[range.end..]].concat())
}

/// Every string of a scene's text by its path, as a part's `name`.
pub fn string_fields(text: &str) -> BTreeMap<String, String> {
    Places::of(text)
        .in_order()
        .into_iter()
        .filter_map(|(path, range)| {
            let inner = text[range].strip_prefix('"')?.strip_suffix('"')?;
            Some((path.to_owned(), inner.to_owned()))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::{number_fields, string_fields, with_number};

    const TEXT: &str = "// measured twice\n(name: \"a\", arm: (pivot: (1, -2.5, 3), /* x */ length: 40.0),\n parts: [(name: \"rail\", radius: 7)])";

    #[test]
    fn numbers_are_listed_in_the_order_of_the_file() {
        let found: Vec<_> = number_fields(TEXT)
            .into_iter()
            .map(|f| (f.path, f.value))
            .collect();
        let expected = [
            ("arm.pivot[0]", 1.0),
            ("arm.pivot[1]", -2.5),
            ("arm.pivot[2]", 3.0),
            ("arm.length", 40.0),
            ("parts[0].radius", 7.0),
        ];
        assert_eq!(found, expected.map(|(p, v)| (p.to_owned(), v)));
        let strings = string_fields(TEXT);
        assert_eq!(strings["parts[0].name"], "rail");
    }

    #[test]
    fn a_changed_number_leaves_the_rest_of_the_text_alone() {
        let changed = with_number(TEXT, "arm.pivot[1]", 12.3456).expect("a number");
        assert_eq!(changed, TEXT.replace("-2.5", "12.3456"));
        assert_eq!(with_number(TEXT, "name", 1.0), None);
        assert_eq!(with_number(TEXT, "arm.missing", 1.0), None);
        assert!(with_number(TEXT, "arm.length", -1.0e-9).is_some_and(|t| t.contains("length: 0)")));
    }
}
