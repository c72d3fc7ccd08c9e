//! Changing a scene's numbers in its text and adding parts to it, so that comments and layout stay as their author
//! left them.
//!
//! The idea: a field is a path and a byte range of the text. To change a value is to replace its range, to add one is to
//! write it last in what holds it; the new text is then read like any other scene, with the same checks and messages.

use super::locate::{Places, comma_follows};
use super::types::MeshUnit;
use crate::suspension::Body;
use std::collections::BTreeMap;
use std::ops::Range;

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
    Some(replaced(text, range, &number(value)))
}

/// A mesh as a new part of a scene.
#[derive(Clone, Debug, PartialEq)]
pub struct NewPart {
    /// Its name.
    pub name: String,
    /// The body that carries it.
    pub on: Body,
    /// The mesh file, relative to the scene file.
    pub file: String,
    /// The file's unit; none: what the file says.
    pub unit: Option<MeshUnit>,
}

/// The text with a part added last in `parts`, and its path; `None` where the text is no scene. The part stands where its
/// file has it, with numbers to move it by.
pub fn with_part(text: &str, part: &NewPart) -> Option<(String, String)> {
    let unit = part.unit.map(|unit| format!("unit: {}, ", unit.name()));
    let entry = format!(
        "(name: {}, on: {}, shape: Mesh(file: {}, {}at: (0, 0, 0), turned_deg: (0, 0, 0)))",
        ron::to_string(&part.name).ok()?,
        part.on.name(),
        ron::to_string(&part.file).ok()?,
        unit.unwrap_or_default(),
    );
    let places = Places::of(text);
    let text = match places.exact("parts") {
        Some(list) => appended(text, list, &entry, &places)?,
        None => appended(
            text,
            places.exact("")?,
            &format!("parts: [{entry}]"),
            &places,
        )?,
    };
    // What was written can be found again: the last of the list.
    let places = Places::of(&text);
    let path = (0..)
        .map(|i| format!("parts[{i}]"))
        .take_while(|path| places.exact(path).is_some())
        .last()?;
    Some((text, path))
}

/// The text with a mesh placed: `shape` is its path, such as `parts[3].shape`, `at` in the scene's unit. `None` where
/// there is no such shape.
pub fn with_placement(
    text: &str,
    shape: &str,
    at: [f64; 3],
    turned_deg: [f64; 3],
) -> Option<String> {
    let mut text = text.to_owned();
    for (field, values) in [("at", at), ("turned_deg", turned_deg)] {
        text = with_point(&text, shape, field, values)?;
    }
    Some(text)
}

/// The text with a point of a shape changed, or added where the shape has none and the point isn't zero.
fn with_point(text: &str, shape: &str, field: &str, values: [f64; 3]) -> Option<String> {
    let path = format!("{shape}.{field}");
    let places = Places::of(text);
    let point = format!("({})", values.map(number).join(", "));
    let Some(whole) = places.exact(&path) else {
        let shape = places.exact(shape)?;
        if values.map(number) == [0.0; 3].map(number) {
            return Some(text.to_owned());
        }
        return appended(text, shape, &format!("{field}: {point}"), &places);
    };
    // Number by number, so that what stands between them stays.
    let mut changed = text.to_owned();
    for (axis, value) in values.into_iter().enumerate() {
        match with_number(&changed, &format!("{path}[{axis}]"), value) {
            Some(text) => changed = text,
            None => return Some(replaced(text, whole, &point)),
        }
    }
    Some(changed)
}

/// A number as it is written.
fn number(value: f64) -> String {
    let rounded = (value * 1.0e6).round() / 1.0e6;
    // Adding zero turns a negative zero into zero.
    format!("{}", rounded + 0.0)
}

fn replaced(text: &str, range: Range<usize>, with: &str) -> String {
    [&text[..range.start], with, &text[range.end..]].concat()
}

/// The text with an entry written last in a group: on a line of its own where the group ends on one, else beside the
/// last. Comments stay with what they stand by.
fn appended(text: &str, group: Range<usize>, entry: &str, places: &Places) -> Option<String> {
    let close = group.end.checked_sub(1)?;
    let inside = |r: &Range<usize>| group.start < r.start && r.end <= close;
    let entries = places.in_order();
    let last = entries
        .iter()
        .map(|(_, range)| range.clone())
        .filter(inside)
        .max_by_key(|range| (range.end, std::cmp::Reverse(range.start)));
    let comma = last
        .as_ref()
        .filter(|last| !comma_follows(text, last.end))
        .map_or("", |_| ",");
    let end = last.as_ref().map_or(group.start, |last| last.end);
    let line = text[..close].rfind('\n').map_or(0, |n| n + 1);
    let before = &text[end..close];
    if line > end && text[line..close].trim().is_empty() {
        let indent = &text[line..close];
        let (head, tail) = (&text[end..line], &text[line..]);
        return Some(
            [
                &text[..end],
                comma,
                head,
                indent,
                "    ",
                entry,
                ",\n",
                tail,
            ]
            .concat(),
        );
    }
    let (space, after) = match last {
        // A comma that is there already may have a space after it.
        Some(_) => (" ", before.trim_end()),
        None => ("", before),
    };
    Some([&text[..end], comma, after, space, entry, &text[close..]].concat())
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
    use super::{NewPart, number_fields, string_fields, with_number, with_part, with_placement};
    use crate::scene::MeshUnit;
    use crate::suspension::Body;

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

    fn bracket() -> NewPart {
        NewPart {
            name: "bracket".to_owned(),
            on: Body::Frame,
            file: "meshes/a \"b\".stl".to_owned(),
            unit: Some(MeshUnit::Inch),
        }
    }

    const ENTRY: &str = "(name: \"bracket\", on: frame, shape: Mesh(file: \"meshes/a \\\"b\\\".stl\", unit: inch, \
                         at: (0, 0, 0), turned_deg: (0, 0, 0)))";

    #[test]
    fn a_part_is_written_last_and_comments_stay_where_they_are() {
        let added = |text: &str| with_part(text, &bracket()).expect("a scene");
        for (before, after, path) in [
            // On one line, with and without a comma; empty; none at all.
            ("(parts: [(a: 1)])", "(parts: [(a: 1), ENTRY])", "parts[1]"),
            (
                "(parts: [(a: 1),], x: 2)",
                "(parts: [(a: 1), ENTRY], x: 2)",
                "parts[1]",
            ),
            ("(parts: [])", "(parts: [ENTRY])", "parts[0]"),
            ("(x: 1)", "(x: 1, parts: [ENTRY])", "parts[0]"),
            // On lines of its own: a comment after the last entry, with a bracket and a comma in it, stays with it.
            (
                "(\n  parts: [\n    (a: 1), // one, ]\n    (a: 2) // two, ]\n    // end\n  ],\n)",
                "(\n  parts: [\n    (a: 1), // one, ]\n    (a: 2), // two, ]\n    // end\n      ENTRY,\n  ],\n)",
                "parts[2]",
            ),
            (
                "(\n    parts: [\n        (a: 1), /* one */\n    ],\n)",
                "(\n    parts: [\n        (a: 1), /* one */\n        ENTRY,\n    ],\n)",
                "parts[1]",
            ),
            (
                "(\n    parts: [\n        // none\n    ],\n)",
                "(\n    parts: [\n        // none\n        ENTRY,\n    ],\n)",
                "parts[0]",
            ),
            (
                "#![enable(implicit_some)]\n(\n    x: 1, // x\n)\n// end\n",
                "#![enable(implicit_some)]\n(\n    x: 1, // x\n    parts: [ENTRY],\n)\n// end\n",
                "parts[0]",
            ),
        ] {
            let expected = (after.replace("ENTRY", ENTRY), path.to_owned());
            assert_eq!(added(before), expected, "{before}");
        }
        assert_eq!(with_part("", &bracket()), None);
        // A file that says its unit needs none.
        let stated = NewPart {
            unit: None,
            ..bracket()
        };
        let (text, _) = with_part("(x: 1)", &stated).expect("a scene");
        assert!(text.contains(".stl\", at: (0, 0, 0)"), "{text}");
    }

    #[test]
    fn a_placement_changes_its_numbers_alone_and_is_added_where_there_is_none() {
        let placed =
            |text: &str| with_placement(text, "parts[0].shape", [1.5, -2.0, 0.0], [0.0; 3]);
        for (before, after) in [
            (
                "(parts: [(shape: Mesh(at: (1, /* up */ 2, 3), file: \"a\"))])",
                "(parts: [(shape: Mesh(at: (1.5, /* up */ -2, 0), file: \"a\"))])",
            ),
            (
                "(parts: [(shape: Mesh(file: \"a\", unit: mm))])",
                "(parts: [(shape: Mesh(file: \"a\", unit: mm, at: (1.5, -2, 0)))])",
            ),
            (
                "(parts: [(shape: Mesh(file: \"a\", turned_deg: (0, 90, 0), at: Some((1, 2, 3))))])",
                "(parts: [(shape: Mesh(file: \"a\", turned_deg: (0, 0, 0), at: (1.5, -2, 0)))])",
            ),
        ] {
            assert_eq!(placed(before).as_deref(), Some(after));
        }
        assert_eq!(placed("(parts: [])"), None);
    }
}
