//! What a misspelt name was likely meant to be.

/// Names told as the nearest: more are no help.
const NEAREST: usize = 3;
/// How alike a misspelt name and the meant one are, of 1: a slip in a short word, two in a long one, or the beginning of a
/// longer name, by Jaro and Winkler's measure.
const ALIKE: f64 = 0.8;

/// Those of the known names that are most like a misspelt one, as a question with a space behind it; nothing when none is
/// like it. What stands for anything in a pattern is left out of it.
pub fn did_you_mean<'a>(name: &str, known: impl IntoIterator<Item = &'a str>) -> String {
    let wanted = name.replace(['*', '?'], " ");
    let wanted = wanted.trim().to_lowercase();
    if wanted.is_empty() {
        return String::new();
    }
    let mut found: Vec<(f64, &str)> = known
        .into_iter()
        .map(|known| {
            let whole = known.to_lowercase();
            let alike = strsim::jaro_winkler(&wanted, &whole);
            let is_part = whole.contains(&wanted);
            (if is_part { alike.max(ALIKE) } else { alike }, known)
        })
        .filter(|(alike, _)| *alike >= ALIKE)
        .collect();
    found.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(b.1)));
    found.dedup();
    found.truncate(NEAREST);
    if found.is_empty() {
        return String::new();
    }
    let names: Vec<String> = found.iter().map(|(_, name)| format!("`{name}`")).collect();
    format!("did you mean {}? ", names.join(" or "))
}

#[cfg(test)]
mod tests {
    use super::*;

    const PARTS: [&str; 4] = [
        "lower arm front leg",
        "lower arm rear leg",
        "tyre",
        "knuckle",
    ];

    #[test]
    fn the_nearest_names_are_asked_for_and_no_others() {
        for (name, said) in [
            ("tire", "did you mean `tyre`? "),
            ("knukle*", "did you mean `knuckle`? "),
            (
                "lower arm frnt leg",
                "did you mean `lower arm front leg` or `lower arm rear leg`? ",
            ),
            ("skid plate", ""),
            ("*", ""),
        ] {
            assert_eq!(did_you_mean(name, PARTS), said, "{name}");
        }
    }
}
