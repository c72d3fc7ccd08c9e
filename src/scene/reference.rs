//! The field reference that `bindpoint schema` prints, taken from the doc comments of `types.rs`,
//! `ground.rs` and `changes.rs`, so that it can't differ from what is read.

/// The pages as plain text: each type, its fields, what they mean and which may be left out.
pub fn field_reference() -> String {
    let mut out = String::from(
        "Scene file, RON. Points are (x, y, z): x forward, y left, z up, at the measured position.\n\
         Fields marked * may be left out.\n",
    );
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
        } else if text.starts_with("#[") {
            // Derives and renames say nothing to a reader.
        } else if let Some(rest) = text
            .strip_prefix("pub struct ")
            .or(text.strip_prefix("pub enum "))
        {
            let name = rest.trim_end_matches(|c: char| c != '_' && !c.is_alphanumeric());
            let name = name.split('(').next().unwrap_or(name);
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
            out += &format!("{:indent$}{field}{star}: {}\n", "", comment.join(" "));
            comment.clear();
            optional = false;
        } else {
            comment.clear();
            optional = false;
        }
    }
    out
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
