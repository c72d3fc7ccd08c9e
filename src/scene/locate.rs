//! Where in the file a field stands.
//!
//! RON's reader knows positions only while it reads, and a wrong *meaning* (an arm without length) shows
//! later. This small scanner walks the text once and notes where each value starts, by path:
//! `lower_arm.ball_joint`, `parts[3].shape`. It trusts that the text has been read before, so it
//! needs to understand no more than brackets, names, strings and comments.

use std::collections::HashMap;
use std::ops::Range;

/// Byte ranges of values by path.
pub struct Places(HashMap<String, Range<usize>>);

impl Places {
    /// Scans a RON text.
    pub fn of(text: &str) -> Places {
        let mut scanner = Scanner {
            text: text.as_bytes(),
            at: 0,
            places: HashMap::new(),
        };
        scanner.skip_header();
        scanner.value(String::new());
        Places(scanner.places)
    }

    /// Every value's path and range, in the order of the file.
    pub fn in_order(&self) -> Vec<(&str, Range<usize>)> {
        let mut all: Vec<_> = self
            .0
            .iter()
            .map(|(p, r)| (p.as_str(), r.clone()))
            .collect();
        all.sort_by_key(|(_, range)| (range.start, std::cmp::Reverse(range.end)));
        all
    }

    /// The range of the value at exactly `path`.
    pub fn exact(&self, path: &str) -> Option<Range<usize>> {
        self.0.get(path).cloned()
    }

    /// The range of the value at `path`, or of the nearest enclosing value that the file has.
    pub fn find(&self, path: &str) -> Option<Range<usize>> {
        let mut path = path;
        loop {
            if let Some(range) = self.0.get(path) {
                return Some(range.clone());
            }
            let cut = path.rfind(['.', '['])?;
            path = &path[..cut];
        }
    }
}

/// Line and column, both from 1, of the value at `path` in a scene's text, or of the nearest enclosing value that it has.
pub fn place_of(text: &str, path: &str) -> Option<(usize, usize)> {
    let before = &text[..Places::of(text).find(path)?.start];
    let line_start = before.rfind('\n').map_or(0, |n| n + 1);
    let line = before.matches('\n').count() + 1;
    Some((line, before[line_start..].chars().count() + 1))
}

/// The range of a field of the outermost group, as [`Places::exact`] has it. What stands in the other fields is stepped
/// over, however deep: it costs one pass of the text, which may be anything.
pub fn outermost(text: &str, field: &str) -> Option<Range<usize>> {
    let mut scanner = Scanner {
        text: text.as_bytes(),
        at: 0,
        places: HashMap::new(),
    };
    scanner.skip_header();
    scanner.skip_space();
    scanner.word();
    scanner.skip_space();
    if scanner.peek() != Some(b'(') {
        return None;
    }
    scanner.at += 1;
    loop {
        scanner.skip_space();
        if matches!(scanner.peek(), None | Some(b')')) {
            return None;
        }
        let start = scanner.at;
        let is_wanted = scanner.word() == field;
        scanner.skip_space();
        if scanner.peek() == Some(b':') {
            scanner.at += 1;
            let found = scanner.step_over();
            if is_wanted {
                return Some(found);
            }
        } else {
            scanner.at = start;
            scanner.step_over();
            // What is no value is stepped over too, so that the scan always ends.
            scanner.at = scanner.at.max(start + 1);
        }
    }
}

/// Whether a comma comes after `at`, before anything but space and comments.
pub fn comma_follows(text: &str, at: usize) -> bool {
    let mut scanner = Scanner {
        text: text.as_bytes(),
        at,
        places: HashMap::new(),
    };
    while let Some(byte) = scanner.peek() {
        if byte.is_ascii_whitespace() {
            scanner.at += 1;
        } else if !scanner.skip_comment() {
            return byte == b',';
        }
    }
    false
}

struct Scanner<'a> {
    text: &'a [u8],
    at: usize,
    places: HashMap<String, Range<usize>>,
}

impl Scanner<'_> {
    fn peek(&self) -> Option<u8> {
        self.text.get(self.at).copied()
    }

    fn starts_with(&self, word: &[u8]) -> bool {
        self.text
            .get(self.at..)
            .is_some_and(|rest| rest.starts_with(word))
    }

    fn skip_space(&mut self) {
        while let Some(byte) = self.peek() {
            if byte.is_ascii_whitespace() || byte == b',' {
                self.at += 1;
            } else if !self.skip_comment() {
                break;
            }
        }
    }

    /// Whether there was one here.
    fn skip_comment(&mut self) -> bool {
        if self.starts_with(b"//") {
            while self.peek().is_some_and(|b| b != b'\n') {
                self.at += 1;
            }
            return true;
        }
        if !self.starts_with(b"/*") {
            return false;
        }
        let mut depth = 0;
        while self.at < self.text.len() {
            if self.starts_with(b"/*") {
                depth += 1;
                self.at += 2;
            } else if self.starts_with(b"*/") {
                depth -= 1;
                self.at += 2;
                if depth == 0 {
                    break;
                }
            } else {
                self.at += 1;
            }
        }
        true
    }

    fn skip_header(&mut self) {
        self.skip_space();
        while self.starts_with(b"#!") {
            while self.peek().is_some_and(|b| b != b']') {
                self.at += 1;
            }
            self.at += 1;
            self.skip_space();
        }
    }

    fn word(&mut self) -> &str {
        let start = self.at;
        while self
            .peek()
            .is_some_and(|b| b.is_ascii_alphanumeric() || b == b'_')
        {
            self.at += 1;
        }
        std::str::from_utf8(&self.text[start..self.at]).unwrap_or("")
    }

    fn string(&mut self) {
        self.at += 1;
        while let Some(byte) = self.peek() {
            self.at += 1;
            match byte {
                b'\\' => self.at += 1,
                b'"' => break,
                _ => {}
            }
        }
    }

    /// Steps over one value, whatever it holds.
    fn step_over(&mut self) -> Range<usize> {
        self.skip_space();
        let (start, mut end, mut depth) = (self.at, self.at, 0usize);
        while let Some(byte) = self.peek() {
            match byte {
                b'"' => self.string(),
                b',' | b')' | b']' | b'}' if depth == 0 => break,
                b'(' | b'[' | b'{' => {
                    depth += 1;
                    self.at += 1;
                }
                b')' | b']' | b'}' => {
                    depth -= 1;
                    self.at += 1;
                }
                _ if byte.is_ascii_whitespace() => {
                    self.at += 1;
                    continue;
                }
                _ if self.skip_comment() => continue,
                _ => self.at += 1,
            }
            end = self.at.min(self.text.len());
        }
        start..end
    }

    fn value(&mut self, path: String) {
        self.skip_space();
        let start = self.at;
        match self.peek() {
            Some(b'"') => self.string(),
            Some(b'(' | b'[' | b'{') => self.group(&path),
            Some(b) if b.is_ascii_alphabetic() || b == b'_' => {
                self.word();
                let end = self.at;
                self.skip_space();
                // `Lathe(..)` goes on; `mm,` ends with its word.
                if self.peek() == Some(b'(') {
                    self.group(&path)
                } else {
                    self.at = end
                }
            }
            Some(_) => {
                while self
                    .peek()
                    .is_some_and(|b| !b",)]}".contains(&b) && !b.is_ascii_whitespace())
                {
                    self.at += 1;
                }
            }
            None => {}
        }
        if self.at == start {
            // Not a value; step over it so that the scan always ends.
            self.at += 1;
        }
        self.places
            .insert(path, start..self.at.min(self.text.len()));
    }

    fn group(&mut self, path: &str) {
        self.at += 1;
        let mut number = 0;
        loop {
            self.skip_space();
            match self.peek() {
                None => return,
                Some(b')' | b']' | b'}') => {
                    self.at += 1;
                    return;
                }
                Some(_) => {}
            }
            let start = self.at;
            let name = self.word().to_owned();
            self.skip_space();
            let inner = if !name.is_empty() && self.peek() == Some(b':') {
                self.at += 1;
                if path.is_empty() {
                    name
                } else {
                    format!("{path}.{name}")
                }
            } else {
                self.at = start;
                format!("{path}[{number}]")
            };
            number += 1;
            self.value(inner);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{Places, outermost};

    #[test]
    fn a_field_of_the_outermost_group_is_found_whatever_the_others_hold() {
        let text = "#![enable(implicit_some)]\n// note: (\nScene(name: \"a, (units: x\", parts: [(units: no), (((/* ) */ \
                    units: no)))], units /* here */: mm /* so */, side: Axis((1, 2)), last: 7)";
        let at = |field: &str| outermost(text, field).map(|range| &text[range]);
        assert_eq!(at("units"), Some("mm"));
        assert_eq!(at("name"), Some("\"a, (units: x\""));
        assert_eq!(at("side"), Some("Axis((1, 2))"));
        assert_eq!(at("last"), Some("7"));
        assert_eq!(at("no"), None);
        for broken in [
            "",
            "(",
            "(a",
            "(a:",
            "(a: \"",
            "((((",
            ")",
            "(,:)",
            "(a: 1)) units: mm",
            "(] units: mm",
        ] {
            let _ = outermost(broken, "units");
        }
        // However deep it nests.
        let deep = format!("(a: {}", "(".repeat(1_000_000));
        assert_eq!(outermost(&deep, "units"), None);
    }

    #[test]
    fn finds_fields_lists_and_falls_back_to_what_encloses_them() {
        let text =
            "// note\n(name: \"a (b)\", arm: (pivot: (1, 2, 3)), parts: [(x: 1), (x: Ball(r: 2))])";
        let places = Places::of(text);
        let at = |path: &str| &text[places.find(path).expect(path)];
        assert_eq!(at("arm.pivot"), "(1, 2, 3)");
        assert_eq!(at("parts[1].x.r"), "2");
        assert_eq!(at("arm.missing"), "(pivot: (1, 2, 3))");
        assert_eq!(at("name"), "\"a (b)\"");
        assert_eq!(super::place_of(text, "arm.pivot"), Some((2, 30)));
    }
}
