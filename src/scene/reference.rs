//! The field reference that `bindpoint schema` prints, taken from the doc comments of `types.rs`,
//! `ground.rs` and `changes.rs`, so that it can't differ from what is read.

use super::missing::{Field, Holds, Type, Types};
use std::collections::BTreeMap;

/// The pages as plain text: each type, its fields, what they mean and which may be left out.
pub fn field_reference() -> String {
    let mut out = String::from(
        "Scene file, RON. Points are (x, y, z): x forward, y left, z up, at the measured position.\n\
         Fields marked * may be left out.\n\
         Each line ends with what stands in the file, in square brackets: of a field its value, of one of several kinds how it \
         is written. A group is written `(field: value, field: value)`, a list `[.., ..]`, a text in quotation marks. The \
         names of groups, such as Spacer, head their fields here and aren't written; the names of kinds are: \
         `Free`, `Damper(longer: 25.4)`. Where a kind holds a group both have their brackets: `BumpStop((contact: 450, crushed: \
         425))`.\n",
    );
    let types = super::missing::types();
    // The enumeration whose kinds are listed.
    let mut kinds: Option<&BTreeMap<&'static str, Holds>> = None;
    // What a number is, by its attribute.
    let mut is_length = false;
    let mut comment: Vec<&str> = Vec::new();
    let mut optional = false;
    let mut inside = false;
    // Enumerations whose words are written in lower case.
    let mut snake = false;
    let mut snake_next = false;
    for line in super::missing::PAGES.iter().flat_map(|page| page.lines()) {
        let text = line.trim();
        if let Some(words) = text.strip_prefix("/// ") {
            comment.push(words);
        } else if text.starts_with("#[serde(default)]") {
            optional = true;
        } else if text.starts_with("#[serde(rename_all") {
            snake_next = true;
        } else if let Some(how) = text.strip_prefix("#[serde(deserialize_with = \"") {
            is_length = how.contains("length\"") && !how.starts_with("no_length");
        } else if text.starts_with("#[") {
            // Derives and renames say nothing to a reader.
        } else if let Some(rest) = text
            .strip_prefix("pub struct ")
            .or(text.strip_prefix("pub enum "))
        {
            let name = rest.trim_end_matches(|c: char| c != '_' && !c.is_alphanumeric());
            let name = name.split('(').next().unwrap_or(name);
            kinds = match types.get(name) {
                Some(Type::Enum(kinds)) => Some(kinds),
                _ => None,
            };
            inside = text.ends_with('{');
            snake = snake_next;
            snake_next = false;
            out += &format!("\n{name}: {}\n", comment.join(" "));
            comment.clear();
            optional = false;
        } else if text.starts_with("impl ") {
            inside = false;
            comment.clear();
        } else if inside && !comment.is_empty() {
            let indent = line.len() - line.trim_start().len();
            let field = text
                .trim_start_matches("pub ")
                .trim_end_matches([',', '{', ' ']);
            let field = field.split(':').next().unwrap_or(field);
            let star = if optional { "*" } else { "" };
            let field = if snake {
                snake_case(field)
            } else {
                field.to_owned()
            };
            let kind = kinds.filter(|_| indent == KIND_INDENT);
            let written = match (kind, text.trim_start_matches("pub ").split_once(": ")) {
                (Some(kinds), _) => kinds
                    .iter()
                    .find(|(name, _)| {
                        text.trim_end_matches([',', '{', ' ']).split('(').next() == Some(**name)
                    })
                    .and_then(|(name, holds)| kind_written(name, holds, &types)),
                (None, Some((_, of))) => Some(value_written(of.trim_end_matches(','), is_length)),
                (None, None) => None,
            };
            let written = written.map_or(String::new(), |written| format!(" [{written}]"));
            let field = field.split('(').next().unwrap_or(&field);
            out += &format!(
                "{:indent$}{field}{star}: {}{written}\n",
                "",
                comment.join(" ")
            );
            comment.clear();
            optional = false;
            is_length = false;
        } else {
            comment.clear();
            optional = false;
        }
    }
    out
}

/// How far the kinds of an enumeration are indented in the pages.
const KIND_INDENT: usize = 4;

/// How a kind is written that holds something: with the fields that it can't do without.
fn kind_written(name: &str, holds: &Holds, types: &Types) -> Option<String> {
    let needed = |fields: &[Field]| {
        let all = fields.iter().filter(|field| !field.may_be_left_out);
        let mut all: Vec<String> = all.map(|field| format!("{}: ..", field.name)).collect();
        if fields.iter().any(|field| field.may_be_left_out) {
            all.push("..".to_owned());
        }
        all.join(", ")
    };
    match holds {
        Holds::Nothing => None,
        Holds::Fields(fields) => Some(format!("{name}({})", needed(fields))),
        Holds::One(of) => Some(match types.get(of) {
            Some(Type::Struct(fields)) => format!("{name}(({})), see {of}", needed(fields)),
            _ => format!("{name}({})", bare(of)),
        }),
    }
}

/// A field's value in words, by its type.
fn value_written(of: &str, is_length: bool) -> String {
    match (
        of,
        of.strip_prefix("Option<").and_then(|t| t.strip_suffix('>')),
    ) {
        (_, Some(inner)) => value_written(inner, is_length),
        ("f64", _) if is_length => "a length".to_owned(),
        ("f64", _) => "a number".to_owned(),
        ("u32" | "u64" | "usize", _) => "a whole number".to_owned(),
        ("bool", _) => "true or false".to_owned(),
        ("String", _) => "a text".to_owned(),
        _ => bare(of),
    }
}

/// A value as it stands in the file.
fn bare(of: &str) -> String {
    if let Some(inner) = of.strip_prefix("Vec<").and_then(|t| t.strip_suffix('>')) {
        return format!("a list: [{}, ..]", bare(inner));
    }
    if let Some(both) = of.strip_prefix('(').and_then(|t| t.strip_suffix(')')) {
        let both: Vec<String> = both.split(", ").map(bare).collect();
        return format!("({})", both.join(", "));
    }
    match of {
        "Point" => "(x, y, z)".to_owned(),
        "String" => "\"..\"".to_owned(),
        "f64" => "..".to_owned(),
        "Side" => "left or right".to_owned(),
        "Body" => "a body's name, see PartEntry".to_owned(),
        other => other.to_owned(),
    }
}

/// `EachSide` as a scene writes it: `each_side`.
fn snake_case(name: &str) -> String {
    let mut out = String::new();
    for (i, letter) in name.chars().enumerate() {
        if letter.is_uppercase() && i > 0 {
            out.push('_');
        }
        out.extend(letter.to_lowercase());
    }
    out
}
