//! Text made fit for a terminal: what can't be seen, or would change how the rest is seen, is spelled out.
//!
//! Names, reasons and paths come from scenes and mesh files that others made. ESC and the C1 controls command the
//! terminal; a right-to-left override shows `nor.ecnes` for `scene.ron`. Both are shown as `\u{1b}`, as a scene can write
//! them. Reads: any text that is to be printed. Produces: the same text, visible. Next: the commands print it. Source: The
//! Unicode Standard 16.0 (2024), sections 23.1 to 23.9: control codes, format characters, tags.

use std::borrow::Cow;

/// Whether a character is a command or unseen: control codes, directional formatting, invisible and deprecated format
/// characters, line separators. Joiners (U+200C, U+200D) stay: scripts are written with them.
pub fn is_hidden(c: char) -> bool {
    c.is_control()
        || matches!(
            c,
            '\u{ad}'
                | '\u{61c}'
                | '\u{180e}'
                | '\u{200b}'
                | '\u{200e}'..='\u{200f}'
                | '\u{2028}'..='\u{202e}'
                | '\u{2060}'..='\u{206f}'
                | '\u{feff}'
                | '\u{fff9}'..='\u{fffb}'
                | '\u{e0000}'..='\u{e007f}'
        )
}

/// A text of one or more lines with every hidden character spelled out; line breaks stay.
pub fn visible(text: &str) -> Cow<'_, str> {
    if !text.chars().any(|c| c != '\n' && is_hidden(c)) {
        return Cow::Borrowed(text);
    }
    Cow::Owned(spelled_out(text, &['\n'], []).0)
}

/// A source text likewise: tabs stay, which it is indented with, and line ends of either kind. Returns where the given
/// byte offsets went too; none for one that is within a character.
pub fn visible_source<const N: usize>(
    text: &str,
    offsets: [usize; N],
) -> (String, [Option<usize>; N]) {
    spelled_out(text, &['\n', '\t'], offsets)
}

fn spelled_out<const N: usize>(
    text: &str,
    kept: &[char],
    offsets: [usize; N],
) -> (String, [Option<usize>; N]) {
    let mut out = String::with_capacity(text.len());
    let mut moved = offsets.map(|offset| (offset == text.len()).then_some(usize::MAX));
    for (at, c) in text.char_indices() {
        for (offset, moved) in offsets.iter().zip(&mut moved) {
            if *offset == at {
                *moved = Some(out.len());
            }
        }
        let ends_line = c == '\r' && kept.contains(&'\t') && text[at + 1..].starts_with('\n');
        if kept.contains(&c) || ends_line || !is_hidden(c) {
            out.push(c);
        } else {
            out.extend(c.escape_default());
        }
    }
    let length = out.len();
    (out, moved.map(|moved| moved.map(|at| at.min(length))))
}

/// JSON with every hidden character of its strings written as `\u202e`, which reads back as the same.
pub(super) fn visible_json(json: &str) -> Cow<'_, str> {
    let hidden = |c: char| c != '\n' && is_hidden(c);
    if !json.chars().any(hidden) {
        return Cow::Borrowed(json);
    }
    let mut out = String::with_capacity(json.len());
    for c in json.chars() {
        if hidden(c) {
            for unit in c.encode_utf16(&mut [0; 2]) {
                out += &format!("\\u{unit:04x}");
            }
        } else {
            out.push(c);
        }
    }
    Cow::Owned(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_commands_a_terminal_or_turns_text_round_is_spelled_out() {
        for (hostile, shown) in [
            ("a\u{1b}[2Jb", "a\\u{1b}[2Jb"),
            ("bell\u{7}", "bell\\u{7}"),
            ("\u{9b}31m", "\\u{9b}31m"),
            ("x\u{202e}nor\u{2066}", "x\\u{202e}nor\\u{2066}"),
            ("a\rb\tc", "a\\rb\\tc"),
            ("\u{e0041}\u{7f}", "\\u{e0041}\\u{7f}"),
        ] {
            assert_eq!(visible(hostile), shown);
        }
        // Nothing else is touched.
        for plain in ["Bremsschlauch größer\nzweite Zeile", "میله‌ای", "│ ─ ✓"] {
            assert!(matches!(visible(plain), Cow::Borrowed(text) if text == plain));
        }
    }

    #[test]
    fn a_place_in_a_source_text_is_the_same_place_once_it_is_spelled_out() {
        let text = "\tä\u{1b}b\r\nc\rd";
        let find = |c: char| text.find(c).unwrap();
        let (shown, moved) = visible_source(text, [find('b'), find('d'), text.len(), 2]);
        assert_eq!(shown, "\tä\\u{1b}b\r\nc\\rd");
        assert_eq!(moved[0], shown.find("b\r"));
        assert_eq!(moved[1], shown.find('d'));
        assert_eq!(moved[2], Some(shown.len()));
        assert_eq!(moved[3], None, "within a character");
    }

    #[test]
    fn json_reads_back_as_it_was() {
        let name = "a\u{9b}b\u{202e}c\u{e0041}\u{1b}\n";
        let json = serde_json::to_string(name).unwrap();
        let shown = visible_json(&json);
        assert!(!shown.chars().any(is_hidden), "{shown}");
        assert_eq!(serde_json::from_str::<String>(&shown).unwrap(), name);
    }
}
