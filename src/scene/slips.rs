//! What was likely meant where a text is no RON: decimal commas, quotes of a word processor, comments with `#`.
//!
//! RON's reader says what it expected in its own terms, a place or two after the slip. Reads: the text and that place.
//! Produces: the slip's own place, and what to write instead. A text that reads is never looked at here: `(1,2,3)` is a
//! point. Next: [`super::read`], which shows it.

use super::length::WrittenLength;
use std::ops::Range;

/// A likely slip.
pub(super) struct Slip {
    /// What is wrong.
    pub what: String,
    /// What to write.
    pub help: String,
    /// Where.
    pub range: Range<usize>,
}

/// Quotes that word processors and some phones type, and the straight single one.
const QUOTES: [char; 12] = ['“', '”', '„', '‟', '«', '»', '‘', '’', '‚', '‛', '\'', '`'];

/// The likely slip for a text that stopped being RON at `at`; `expected` is what its reader expected there.
pub(super) fn slip(text: &str, at: usize, expected: &ron::Error) -> Option<Slip> {
    let pieces = pieces(text);
    if pieces.iter().all(|p| p.kind == Kind::Comment) {
        return Some(empty(text, !pieces.is_empty()));
    }
    hash(text, at, &pieces)
        .or_else(|| curly_quote(text, at, &pieces))
        .or_else(|| decimal_comma(text, at, &pieces))
        .or_else(|| too_many(text, at, &pieces, expected))
        .or_else(|| quoted_word(text, at, expected))
        .or_else(|| inch_mark(text, at, &pieces))
        .or_else(|| bare_fraction(text, at, &pieces))
        .or_else(|| open_bracket(text, at, expected))
}

/// `"25 1/8""` and `18.5"`: a mark for inches that ends or begins a text.
fn inch_mark(text: &str, at: usize, pieces: &[Piece]) -> Option<Slip> {
    let before = text[..at].trim_end_matches(' ');
    // The reader may stop at the mark, or behind it where a text seems to begin.
    if !text[at..].starts_with('"') {
        return None;
    }
    let start = match pieces
        .iter()
        .find(|p| p.range.end == before.len() && p.kind == Kind::String)
    {
        Some(quoted) => quoted.range.start,
        None => {
            let is_number = |c: char| c.is_ascii_digit() || " ./-".contains(c);
            before.len() - (before.len() - before.trim_end_matches(is_number).len())
        }
    };
    let number = before[start..].trim_matches(['"', ' ']);
    number.parse::<WrittenLength>().ok()?;
    let start = start + (before[start..].len() - before[start..].trim_start().len());
    Some(Slip {
        what: "a mark for inches ends or begins a text here".to_owned(),
        help: format!(
            "write the number and its unit in quotes without the mark, `\"{number} in\"`"
        ),
        range: start..at + 1,
    })
}

/// `6 3/4` without quotes.
fn bare_fraction(text: &str, at: usize, pieces: &[Piece]) -> Option<Slip> {
    /// How far from where the reader stopped its line is looked at, bytes.
    const NEAR: usize = 8;
    let line = text[..at].rfind('\n').map_or(0, |n| n + 1);
    let end = text[at..].find('\n').map_or(text.len(), |n| at + n);
    let is_code = |i: usize| {
        let holds = |p: &&Piece| p.range.contains(&i);
        pieces
            .iter()
            .find(holds)
            .is_some_and(|p| p.kind == Kind::Other)
    };
    let digit = |c: &char| c.is_ascii_digit();
    let bars = text[line..end].match_indices('/').map(|(i, _)| line + i);
    let bar = bars
        .filter(|i| i.abs_diff(at) <= NEAR && is_code(*i))
        .find(|i| {
            text[..*i].ends_with(|c| digit(&c)) && text[i + 1..].starts_with(|c| digit(&c))
        })?;
    let below = text[bar + 1..].chars().take_while(digit).count();
    let before = text[line..bar].trim_end_matches(|c: char| c.is_ascii_digit() || " -".contains(c));
    let start = line + before.len();
    let start = start + (text[start..bar].len() - text[start..bar].trim_start().len());
    let written = &text[start..bar + 1 + below];
    written.parse::<WrittenLength>().ok()?;
    Some(Slip {
        what: format!("a fraction stands in quotes: `\"{written}\"`"),
        help: "a length or an angle is a plain number, or a text in quotes as a tape shows it"
            .to_owned(),
        range: start..bar + 1 + below,
    })
}

/// A bracket begins where a field's name is expected: it is one too many, or one before it is still open.
fn open_bracket(text: &str, at: usize, expected: &ron::Error) -> Option<Slip> {
    let is_name_expected = matches!(expected, ron::Error::ExpectedIdentifier);
    if !is_name_expected || !text[at..].starts_with('(') {
        return None;
    }
    if text[..at].trim_end().ends_with('(') {
        return Some(Slip {
            what: "a field's name is expected here, not another bracket".to_owned(),
            help: "fields stand here by their names: one bracket too many, or a name left out before it, as in `AddPart(part: \
                   (..))`; `bindpoint schema` has the names"
                .to_owned(),
            range: at..at + 1,
        });
    }
    Some(Slip {
        what: "a bracket before this one isn't closed: a field's name is expected here".to_owned(),
        help: "close the entry before it: each `(` needs its `)`, most likely at the end of the line above".to_owned(),
        range: at..at + 1,
    })
}

fn empty(text: &str, comments: bool) -> Slip {
    let what = if comments {
        "the file holds nothing but comments"
    } else {
        "the file is empty"
    };
    Slip {
        what: what.to_owned(),
        help: "a scene is one bracket of fields, `(name: \"..\", units: mm, ..)`: `bindpoint schema` lists them"
            .to_owned(),
        range: text.len()..text.len(),
    }
}

/// A `#` that begins a comment elsewhere: where the reader stopped, or before that on its line.
fn hash(text: &str, at: usize, pieces: &[Piece]) -> Option<Slip> {
    let line = text[..at].rfind('\n').map_or(0, |n| n + 1);
    let end = at + text[at..].chars().next().map_or(0, char::len_utf8);
    let start = pieces
        .iter()
        .filter(|p| p.kind == Kind::Other && (line..end).contains(&p.range.start))
        .find(|p| {
            text[p.range.clone()].starts_with('#') && !text[p.range.start..].starts_with("#![")
        })?
        .range
        .start;
    Some(Slip {
        what: "a `#` begins no comment here".to_owned(),
        help: "begin comments with `//`".to_owned(),
        range: start..start + 1,
    })
}

/// A quote that isn't the straight double one: where the reader stopped, or in a string before that which runs on over its
/// line's end, as one does that ends in such a quote.
fn curly_quote(text: &str, at: usize, pieces: &[Piece]) -> Option<Slip> {
    let here = text[at..].chars().next().filter(|c| QUOTES.contains(c));
    let (start, quote) = match here {
        Some(quote) => (at, quote),
        None => pieces
            .iter()
            .take_while(|p| p.range.start <= at)
            .filter(|p| p.kind == Kind::String)
            .find_map(|p| {
                let line = text[p.range.clone()].split('\n').next()?;
                let runs_on = line.len() < p.range.len();
                let mut found = line.char_indices().filter(|(_, c)| is_curly(*c));
                let (within, quote) = found.next_back().filter(|_| runs_on)?;
                Some((p.range.start + within, quote))
            })?,
    };
    Some(Slip {
        what: format!("`{quote}` is no quote here"),
        help: "put names between straight double quotes, `\"`; a word processor turns them into others, a plain text \
               editor doesn't"
            .to_owned(),
        range: start..start + quote.len_utf8(),
    })
}

fn is_curly(c: char) -> bool {
    QUOTES.contains(&c) && !c.is_ascii()
}

/// `517,05` for one number, and `(180,5, 335, 345)` for a point.
fn decimal_comma(text: &str, at: usize, pieces: &[Piece]) -> Option<Slip> {
    let in_code = |i: usize| {
        let holds = |p: &&Piece| p.range.contains(&i);
        pieces
            .iter()
            .find(holds)
            .is_some_and(|p| p.kind == Kind::Other)
    };
    // As one number: a field's name must follow the comma.
    if let Some(pair) = pair_around(text, at).filter(|pair| in_code(pair.start)) {
        return Some(comma_slip(text, pair, None));
    }
    // As a point's, a size's, a corner's of an outline: the reader stopped within a bracket of more numbers than it takes.
    let (inside, count) = numbers_around(text, at, pieces).or_else(|| {
        // In square brackets the reader stops before the first; three in them may be a point.
        let in_square = text[at..].starts_with('[');
        let held = in_square.then(|| numbers_around(text, at + 1, pieces))??;
        (held.1 > 3).then_some(held)
    })?;
    let commas = text[inside.clone()].match_indices(',');
    let comma = commas
        .map(|(i, _)| inside.start + i + 1)
        .filter(|after| in_code(after - 1))
        .find_map(|after| pair_around(text, after))?;
    Some(comma_slip(text, comma, Some(count)))
}

/// The inside of the bracket that the reader stopped in, where it holds three numbers or more and nothing else, and how many:
/// plain ones, or lengths in quotes.
fn numbers_around(text: &str, at: usize, pieces: &[Piece]) -> Option<(Range<usize>, usize)> {
    let code = pieces.iter().filter(|p| p.kind == Kind::Other);
    let is_bracket = |p: &&Piece| "()[]".contains(&text[p.range.clone()]);
    let before = code
        .clone()
        .filter(is_bracket)
        .filter(|p| p.range.start < at);
    let mut before = before;
    let open = before
        .next_back()
        .filter(|p| "([".contains(&text[p.range.clone()]))?;
    let close = code
        .clone()
        .filter(is_bracket)
        .find(|p| p.range.start >= at)?;
    if !")]".contains(&text[close.range.clone()]) {
        return None;
    }
    let inside = open.range.end..close.range.start;
    // Comments are none of it.
    let held = pieces
        .iter()
        .filter(|p| p.kind != Kind::Comment && inside.contains(&p.range.start));
    let bare: String = held.map(|p| &text[p.range.clone()]).collect();
    let is_number = |word: &str| {
        let in_quotes = word.strip_prefix('"').and_then(|w| w.strip_suffix('"'));
        word.parse::<f64>().is_ok() || in_quotes.is_some_and(|w| w.parse::<WrittenLength>().is_ok())
    };
    let words: Vec<&str> = bare.trim_end_matches(',').split(',').collect();
    (words.len() >= 3 && words.iter().all(|w| is_number(w))).then_some((inside, words.len()))
}

/// More numbers in a bracket than it takes, though no comma stands within a number.
fn too_many(text: &str, at: usize, pieces: &[Piece], expected: &ron::Error) -> Option<Slip> {
    if !matches!(expected, ron::Error::ExpectedStructLikeEnd) {
        return None;
    }
    let (inside, count) = numbers_around(text, at, pieces)?;
    Some(Slip {
        what: format!("{count} numbers in one bracket are too many"),
        help: "a point or a size has three numbers, a corner of an outline or a range two; write decimals with a point, 31.625, \
               and a fraction in quotes, \"31 5/8\""
            .to_owned(),
        range: inside,
    })
}

/// Digits, a comma and digits with nothing between, where the later digits begin at `after`.
fn pair_around(text: &str, after: usize) -> Option<Range<usize>> {
    let whole = text[..after].strip_suffix(',')?;
    let start = whole.trim_end_matches(|c: char| c.is_ascii_digit()).len();
    let decimals = &text[after..];
    let end = decimals.trim_start_matches(|c: char| c.is_ascii_digit());
    let length = decimals.len() - end.len();
    if start == whole.len() || length == 0 {
        return None;
    }
    let signed = text[..start].ends_with('-');
    Some(start - usize::from(signed)..after + length)
}

fn comma_slip(text: &str, pair: Range<usize>, numbers: Option<usize>) -> Slip {
    let pair_text = &text[pair.clone()];
    let with_point = pair_text.replace(',', ".");
    let what = match numbers {
        None => format!("`{pair_text}` are two values: a comma ends a number"),
        Some(n) => format!("{n} numbers in one bracket are too many: `{pair_text}` counts as two"),
    };
    Slip {
        what,
        help: format!("write decimals with a point: {with_point}"),
        range: pair,
    }
}

/// `units: "mm"`: a word or a number in quotes.
fn quoted_word(text: &str, at: usize, expected: &ron::Error) -> Option<Slip> {
    let kind = match expected {
        ron::Error::ExpectedIdentifier => "a plain word",
        ron::Error::ExpectedFloat | ron::Error::ExpectedInteger => "a number",
        ron::Error::ExpectedBoolean => "`true` or `false`",
        _ => return None,
    };
    let word = text[at..].strip_prefix('"')?.split(['"', '\n']).next()?;
    Some(Slip {
        what: format!("`\"{word}\"` is a text, but {kind} is expected"),
        help: format!("write it without quotes: {word}"),
        range: at..at + word.len() + 2,
    })
}

#[derive(Clone, Copy, PartialEq)]
enum Kind {
    Comment,
    String,
    Other,
}

/// A comment, a string, or a character of anything else. Blanks are none.
struct Piece {
    kind: Kind,
    range: Range<usize>,
}

/// The text in pieces, as far as strings and comments go; nothing else has to be right.
fn pieces(text: &str) -> Vec<Piece> {
    let mut out = Vec::new();
    let mut at = 0;
    while let Some(c) = text[at..].chars().next() {
        let rest = &text[at..];
        let (kind, length) = if rest.starts_with("//") {
            (Kind::Comment, rest.find('\n').unwrap_or(rest.len()))
        } else if rest.starts_with("/*") {
            (Kind::Comment, rest.find("*/").map_or(rest.len(), |n| n + 2))
        } else if c == '"' {
            (Kind::String, string_length(rest))
        } else {
            (Kind::Other, c.len_utf8())
        };
        if !c.is_whitespace() && c != '\u{feff}' {
            out.push(Piece {
                kind,
                range: at..at + length,
            });
        }
        at += length;
    }
    out
}

/// How long a string is that begins here, its quotes counted.
fn string_length(text: &str) -> usize {
    let mut escaped = false;
    for (i, c) in text.char_indices().skip(1) {
        match c {
            '"' if !escaped => return i + 1,
            '\\' => escaped = !escaped,
            _ => escaped = false,
        }
    }
    text.len()
}
