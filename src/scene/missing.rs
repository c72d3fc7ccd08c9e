//! Every field that a scene lacks, all at once: serde stops at the first.
//!
//! The idea: which fields there are, and which may be left out, stands in the pages that [`super::field_reference`]
//! prints, the source of the types themselves. A text is walked beside them, by the paths of [`Places`]; what must be
//! there and isn't is told with its page's words, and an example from the scene that `bindpoint new` writes.
//!
//! Reads: text. Produces: what is [`missing`]. Next: [`super::read`].

use super::locate::Places;
use super::new_scene::{FrontEnd, new_scene};
use super::types::LengthUnit;
use std::collections::BTreeMap;

/// The pages: every type that a scene is made of.
pub(super) const PAGES: [&str; 3] = [
    include_str!("types.rs"),
    include_str!("ground.rs"),
    include_str!("changes.rs"),
];

/// A field that isn't there and must be.
pub(super) struct Missing {
    /// Its path.
    pub path: String,
    /// Its own name.
    pub field: String,
    /// What it means.
    pub meaning: String,
    /// How it may be written, name and value.
    pub example: String,
    /// Where it belongs: before this place in the text.
    pub before: usize,
}

/// A field as its page has it.
pub(super) struct Field {
    pub name: &'static str,
    of: &'static str,
    pub may_be_left_out: bool,
    meaning: String,
}

/// What a variant holds.
pub(super) enum Holds {
    Nothing,
    One(&'static str),
    Fields(Vec<Field>),
}

/// A type with fields, as its page has it.
pub(super) enum Type {
    Struct(Vec<Field>),
    Enum(BTreeMap<&'static str, Holds>),
}

pub(super) type Types = BTreeMap<&'static str, Type>;

/// What a text lacks, in the order of the places where it belongs. `text` is whole RON or, if not `is_whole`, as much of
/// it as is: what isn't closed there may go on.
pub(super) fn missing(text: &str, is_whole: bool, unit: Option<LengthUnit>) -> Vec<Missing> {
    let model = new_scene("example", unit.unwrap_or(LengthUnit::Mm), FrontEnd::Arms);
    let walk = Walk {
        types: types(),
        is_whole,
        scene: Written::of(text),
        model: Written::of(&model),
    };
    let mut found = Vec::new();
    walk.value("", "Scene", &mut found);
    found.sort_by_key(|missing| missing.before);
    found
}

/// A text and where its values stand.
struct Written<'t> {
    text: &'t str,
    places: Places,
}

impl<'t> Written<'t> {
    fn of(text: &'t str) -> Written<'t> {
        Written {
            text,
            places: Places::of(text),
        }
    }

    fn at(&self, path: &str) -> Option<&'t str> {
        Some(&self.text[self.places.exact(path)?])
    }
}

struct Walk<'w> {
    types: Types,
    is_whole: bool,
    scene: Written<'w>,
    /// A scene that has most fields.
    model: Written<'w>,
}

impl Walk<'_> {
    /// What is missing in the value at `path`, which is of the type `of`.
    fn value(&self, path: &str, of: &str, found: &mut Vec<Missing>) {
        let Some(range) = self.scene.places.exact(path) else {
            return;
        };
        let written = &self.scene.text[range.clone()];
        if let Some(inner) = inside(of, "Option<") {
            let explicit = written.starts_with("Some");
            let at = if explicit {
                format!("{path}[0]")
            } else {
                path.to_owned()
            };
            return self.value(&at, inner, found);
        }
        if let Some(inner) = inside(of, "Vec<") {
            for entry in (0..).map(|i| format!("{path}[{i}]")) {
                if self.scene.places.exact(&entry).is_none() {
                    return;
                }
                self.value(&entry, inner, found);
            }
        }
        if let Some((a, b)) = pair(of) {
            self.value(&format!("{path}[0]"), a, found);
            return self.value(&format!("{path}[1]"), b, found);
        }
        let Some((word, _)) = written.split_once('(') else {
            return;
        };
        // A group that isn't closed may hold anything yet.
        let is_closed = self.is_whole || range.end < self.scene.text.len();
        let fields = match self.types.get(of) {
            Some(Type::Struct(fields)) => fields,
            Some(Type::Enum(variants)) => match variants.get(word.trim()) {
                Some(Holds::Fields(fields)) => fields,
                Some(Holds::One(inner)) => {
                    return self.value(&format!("{path}[0]"), inner, found);
                }
                Some(Holds::Nothing) | None => return,
            },
            None => return,
        };
        for field in fields {
            let at = joined(path, field.name);
            if self.scene.places.exact(&at).is_some() {
                self.value(&at, field.of, found);
            } else if is_closed && (!field.may_be_left_out || self.is_wanted(of, field.name)) {
                found.push(Missing {
                    example: format!("{}: {}", field.name, self.example(&at, field.of)),
                    path: at,
                    field: field.name.to_owned(),
                    meaning: first_sentence(&field.meaning),
                    before: range.end - 1,
                });
            }
        }
    }

    /// Whether what may be left out elsewhere is wanted here: an upper arm, where no strut holds the knuckle.
    fn is_wanted(&self, of: &str, field: &str) -> bool {
        let is_on_strut = self.scene.at("damper.lower_mount_on") == Some("strut");
        (of, field) == ("Scene", "upper_arm") && !is_on_strut
    }

    /// How a value may be written: as in the model, what may be left out left out.
    fn example(&self, path: &str, of: &str) -> String {
        // The model has one entry of each list.
        let path = &first_entries(path);
        if let Some(inner) = inside(of, "Option<") {
            return self.example(path, inner);
        }
        if let Some(inner) = inside(of, "Vec<") {
            return format!("[{}]", self.example(&format!("{path}[0]"), inner));
        }
        if let Some((a, b)) = pair(of) {
            let [a, b] = [(a, 0), (b, 1)].map(|(of, i)| self.example(&format!("{path}[{i}]"), of));
            return format!("({a}, {b})");
        }
        if let Some(Type::Struct(fields)) = self.types.get(of) {
            let fields: Vec<String> = fields
                .iter()
                .filter(|field| !field.may_be_left_out)
                .map(|field| {
                    let at = joined(path, field.name);
                    format!("{}: {}", field.name, self.example(&at, field.of))
                })
                .collect();
            return format!("({})", fields.join(", "));
        }
        // A field of another shape than the model's first is written like the next of that name.
        let written = self.model.at(path).or_else(|| {
            let ending = &path[path.rfind('.')?..];
            let all = self.model.places.in_order();
            let alike = all.into_iter().find(|(path, _)| path.ends_with(ending));
            alike.map(|(_, range)| &self.model.text[range])
        });
        match (written, of) {
            (Some(written), _) => written.split_whitespace().collect::<Vec<_>>().join(" "),
            (None, "Point") => "(x, y, z)".to_owned(),
            (None, "String") => "\"..\"".to_owned(),
            (None, _) => "..".to_owned(),
        }
    }
}

fn joined(path: &str, field: &str) -> String {
    if path.is_empty() {
        field.to_owned()
    } else {
        format!("{path}.{field}")
    }
}

/// `parts[7].shape` as `parts[0].shape`; a pair's second stays what it is.
fn first_entries(path: &str) -> String {
    let mut out = String::with_capacity(path.len());
    for piece in path.split_inclusive(']') {
        match piece.rsplit_once('[') {
            Some((before, "1]")) if before.ends_with("ends") => out.push_str(piece),
            Some((before, _)) => {
                out.push_str(before);
                out.push_str("[0]");
            }
            None => out.push_str(piece),
        }
    }
    out
}

/// What stands between `before` and the closing `>`.
fn inside<'t>(of: &'t str, before: &str) -> Option<&'t str> {
    of.strip_prefix(before)?.strip_suffix('>')
}

/// The two types of a pair.
fn pair(of: &str) -> Option<(&str, &str)> {
    of.strip_prefix('(')?.strip_suffix(')')?.split_once(", ")
}

fn first_sentence(text: &str) -> String {
    match text.split_once(". ") {
        Some((first, _)) => format!("{first}."),
        None => text.to_owned(),
    }
}

/// Every type of the pages.
pub(super) fn types() -> Types {
    let mut out = Types::new();
    for page in PAGES {
        let mut lines = page.lines();
        while let Some(line) = lines.next() {
            let Some(head) = line.strip_suffix(" {") else {
                continue;
            };
            let own = lines.by_ref().take_while(|line| *line != "}");
            if let Some(name) = head.strip_prefix("pub struct ") {
                let held = Type::Struct(fields(own));
                out.insert(name, held);
            } else if let Some(name) = head.strip_prefix("pub enum ") {
                let held = Type::Enum(variants(own));
                out.insert(name, held);
            } else {
                own.for_each(drop);
            }
        }
    }
    out
}

/// The fields of a struct or a variant, from its lines.
fn fields(lines: impl Iterator<Item = &'static str>) -> Vec<Field> {
    let mut out = Vec::new();
    let (mut meaning, mut may_be_left_out) = (Vec::new(), false);
    for line in lines.map(str::trim) {
        if let Some(words) = line.strip_prefix("/// ") {
            meaning.push(words);
        } else if line.starts_with("#[serde(default") {
            may_be_left_out = true;
        } else if let Some((name, of)) = line
            .strip_suffix(',')
            .and_then(|l| l.trim_start_matches("pub ").split_once(": "))
            .filter(|_| !line.starts_with('#'))
        {
            out.push(Field {
                name,
                of,
                may_be_left_out: std::mem::take(&mut may_be_left_out),
                meaning: std::mem::take(&mut meaning).join(" "),
            });
        }
    }
    out
}

/// The variants of an enumeration, from its lines.
fn variants(mut lines: impl Iterator<Item = &'static str>) -> BTreeMap<&'static str, Holds> {
    let mut out = BTreeMap::new();
    while let Some(line) = lines.next() {
        let text = line.trim();
        if text.starts_with(['/', '#']) {
            continue;
        }
        if let Some(name) = text.strip_suffix(" {") {
            let own = lines.by_ref().take_while(|line| line.trim() != "},");
            let held = Holds::Fields(fields(own));
            out.insert(name, held);
        } else if let Some((name, inner)) = text.strip_suffix("),").and_then(|t| t.split_once('('))
        {
            out.insert(name, Holds::One(inner));
        } else if let Some(name) = text.strip_suffix(',') {
            out.insert(name, Holds::Nothing);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scene::Scene;

    /// The pages are read as the compiler reads them: what they say must be there, serde asks for, and nothing else.
    #[test]
    fn the_pages_say_the_same_as_the_types() {
        let types = types();
        let Some(Type::Struct(fields)) = types.get("Scene") else {
            panic!("no Scene");
        };
        assert_eq!(fields[0].name, "format");
        assert!(fields[0].may_be_left_out && !fields[1].may_be_left_out);
        let Some(Type::Enum(shapes)) = types.get("ShapeEntry") else {
            panic!("no ShapeEntry");
        };
        let Some(Holds::Fields(capsule)) = shapes.get("Capsule") else {
            panic!("no Capsule");
        };
        let names: Vec<&str> = capsule.iter().map(|f| f.name).collect();
        assert_eq!(names, ["from", "to", "radius"]);
        assert!(
            matches!(types.get("TravelAt"), Some(Type::Enum(v)) if matches!(v["FromRide"], Holds::One("f64")))
        );
        // Each field that a whole scene could lack, taken out of one: serde and the walk agree.
        let model = new_scene("model", LengthUnit::Mm, FrontEnd::Arms);
        let places = Places::of(&model);
        let options = ron::Options::default()
            .with_default_extension(ron::extensions::Extensions::IMPLICIT_SOME);
        assert!(missing(&model, true, None).is_empty());
        let mut agreed = 0;
        for (path, range) in places.in_order() {
            let name = path.rsplit(['.', ']']).next().unwrap_or(path);
            if name.is_empty() {
                continue;
            }
            // From its name to its comma.
            let from = model[..range.start].rfind(name).expect("its name");
            let to = range.end + model[range.end..].find([',', ')']).expect("an end");
            let to = to + usize::from(model[to..].starts_with(','));
            let without = [&model[..from], &model[to..]].concat();
            let refused = match options.from_str::<Scene>(&without) {
                Ok(_) => false,
                Err(error) => {
                    let is_missing = matches!(error.code, ron::Error::MissingStructField { .. });
                    assert!(is_missing, "{path}: {error}");
                    true
                }
            };
            let found: Vec<String> = missing(&without, true, None)
                .into_iter()
                .map(|m| m.path)
                .collect();
            // A scene reads without an upper arm, since a truck on struts has none: the others lack it.
            let is_lacking = refused || path == "upper_arm";
            let expected: &[&str] = if is_lacking { &[path] } else { &[] };
            assert_eq!(found, expected, "{path}");
            agreed += 1;
        }
        assert!(agreed > 60, "{agreed}");
    }

    #[test]
    fn half_a_scene_lacks_what_its_closed_groups_lack() {
        // The last group isn't closed: more may come.
        let half = "(name: \"a\", lower_arm: (front_pivot: (1, 2, 3)), rack: (";
        let found = missing(half, false, None);
        let paths: Vec<&str> = found.iter().map(|m| m.path.as_str()).collect();
        assert_eq!(paths, ["lower_arm.rear_pivot", "lower_arm.ball_joint"]);
        assert!(
            found[1].example.starts_with("ball_joint: ("),
            "{}",
            found[1].example
        );
        assert_eq!(found[1].meaning, "Centre of the ball joint.");
    }
}
