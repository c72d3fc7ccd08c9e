//! Setups side by side, as text: what changed in words, then one table.

use super::lengths::Units;
use super::verdict_words;
use super::{bullet, table, text_width, wrap};
use crate::compare::{Verdict, better_and_worse, decimals_of, judged, prints_alike, toward};
use crate::findings::{Comparison, Measure, Measured, Quantity, SetupColumn, Status};
use std::fmt::Write as _;

/// Width of what is measured and of a setup's numbers, as most of them are: 7 setups beside the first on a page of 100.
const LABEL_WIDTH: usize = 28;
const NUMBER_WIDTH: usize = 9;

/// Setups beside the first that fit the page.
fn columns_that_fit() -> usize {
    let for_numbers = text_width().saturating_sub(LABEL_WIDTH);
    (for_numbers / NUMBER_WIDTH).saturating_sub(1).max(1)
}

/// Sentences of each kind listed for a setup.
const SENTENCES: usize = 8;

/// The whole page.
pub fn compare_text(comparison: &Comparison, units: Units) -> String {
    let mut out = String::new();
    let first = &comparison.columns[0].name;
    let side = comparison.leading_side.name();
    let sides = if comparison.sides_differ {
        format!("The {side} corner leads: the worse one in A.")
    } else {
        "Both sides are alike.".to_owned()
    };
    let head = format!(
        "{}: {} compared with A, {first}. {sides} Travel is counted from ride height, lengths in {}, \
         angles in degrees.",
        comparison.truck,
        match comparison.columns.len() - 1 {
            1 => "1 setup".to_owned(),
            n => format!("{n} setups"),
        },
        units.long_name()
    );
    let _ = writeln!(out, "{}", wrap(&head, text_width(), ""));
    for (i, column) in comparison.columns.iter().enumerate() {
        setup(&mut out, comparison, i, column, units);
    }
    let others = comparison.columns.len().saturating_sub(1).max(1);
    let most = columns_that_fit();
    for block in 0..others.div_ceil(most) {
        let from = 1 + block * most;
        let to = (from + most).min(comparison.columns.len());
        let columns: Vec<usize> = std::iter::once(0).chain(from..to).collect();
        page_table(&mut out, comparison, &columns, units);
    }
    out.push_str("\nWear\n");
    for note in &comparison.wear_notes {
        out.push_str(&bullet(note));
    }
    if !comparison.warnings.is_empty() {
        out.push_str("\nWarnings\n");
        for warning in &comparison.warnings {
            out.push_str(&bullet(&units.reworded(warning)));
        }
    }
    out.push_str("\nCautions\n");
    for caution in &comparison.cautions {
        out.push_str(&bullet(caution));
    }
    out
}

/// A column's letter, as the table heads it.
fn letter(i: usize) -> String {
    let alphabet = b'A'..=b'Z';
    let count = alphabet.clone().count();
    let own = char::from(b'A' + (i % count) as u8);
    if i < count {
        own.to_string()
    } else {
        format!("{own}{}", i / count)
    }
}

fn setup(out: &mut String, comparison: &Comparison, i: usize, column: &SetupColumn, units: Units) {
    // In the unit that is printed; the columns' own sentences are in millimetres.
    let length = |mm: f64, toward| format!("{} {}", units.toward(mm, toward), units.name());
    let [better, worse] = if i == 0 {
        [Vec::new(), Vec::new()]
    } else {
        better_and_worse(&comparison.measures, i, comparison.leading_side, &length)
    };
    let changes = if column.changes.is_empty() {
        "no changes".to_owned()
    } else {
        column.changes.join("; ")
    };
    let verdict = match column.verdict {
        Some(Status::Clear) => "CLEAR",
        Some(Status::Found) => "FOUND a bind, contact or missing gap before the maker's stops",
        Some(Status::NotChecked) => "NOT FULLY CHECKED",
        None => "CANNOT BE BUILT",
    };
    let head = format!("{} {}: {changes}. {verdict}.", letter(i), column.name);
    let _ = writeln!(out, "\n{}", wrap(&head, text_width(), "  "));
    if let Some(why) = &column.cannot_be_built {
        out.push_str(&bullet(&units.reworded(why)));
    }
    let undecided: Vec<String> = column
        .undecided
        .iter()
        .map(|(side, why)| {
            format!(
                "{}: {}",
                side.name(),
                verdict_words::undecided(why, units, 0.0)
            )
        })
        .collect();
    let lists = [
        ("no longer fits", &column.no_longer_fits),
        ("better", &better),
        ("worse", &worse),
        ("undecided", &undecided),
    ];
    for (name, list) in lists {
        if list.is_empty() {
            continue;
        }
        let mut told: Vec<String> = list.iter().take(SENTENCES).cloned().collect();
        if list.len() > SENTENCES {
            told.push(format!("{} more in the table", list.len() - SENTENCES));
        }
        out.push_str(&bullet(&format!("{name}: {}", told.join("; "))));
    }
}

fn page_table(out: &mut String, comparison: &Comparison, columns: &[usize], units: Units) {
    let leading = comparison.leading_side;
    let heads: Vec<String> = columns.iter().map(|i| letter(*i)).collect();
    let mut notes: Vec<String> = Vec::new();
    let titles: Vec<(&str, bool)> = std::iter::once(("", false))
        .chain(heads.iter().map(|h| (h.as_str(), true)))
        .collect();
    let mut t = table(&titles);
    let mut group = None;
    let printed = comparison.measures.iter().filter(|m| !m.detail);
    let mut other_side = false;
    for measure in printed {
        let mine = measure.side == Some(leading);
        if !mine && repeats(comparison, measure, columns) {
            continue;
        }
        if !mine && !other_side {
            other_side = true;
            group = None;
            let mut row = vec![format!(
                "{} CORNER, where it differs",
                leading.opposite().name().to_uppercase()
            )];
            row.resize(columns.len() + 1, String::new());
            t.add_row(row);
        }
        if group != Some(measure.group) {
            group = Some(measure.group);
            let mut row = vec![measure.group.name().to_uppercase()];
            row.resize(columns.len() + 1, String::new());
            t.add_row(row);
        }
        let mut row = vec![format!(
            "{}{}",
            measure.label,
            unit(measure.quantity, units)
        )];
        for i in columns {
            row.push(cell(measure, *i, units));
        }
        t.add_row(row);
        let proved = |i: usize| measure.values[i].as_ref().and_then(|v| v.at_least);
        if columns.iter().any(|i| proved(*i).is_some()) {
            let mut row = vec!["  proved".to_owned()];
            let said =
                |at_least: Option<f64>| at_least.map_or("-".to_owned(), |v| units.at_most(v));
            row.extend(columns.iter().map(|i| said(proved(*i))));
            t.add_row(row);
        }
        let by: Vec<Option<&String>> = columns
            .iter()
            .map(|i| measure.values[*i].as_ref().and_then(|v| v.by.as_ref()))
            .collect();
        if by.iter().any(Option::is_some) {
            let mut row = vec!["  by".to_owned()];
            row.extend(
                by.iter()
                    .map(|by| by.map_or(String::new(), |by| note(by, &mut notes))),
            );
            t.add_row(row);
        }
    }
    let _ = writeln!(out, "\n{}", t.trim_fmt());
    let _ = writeln!(
        out,
        "{}",
        wrap(
            "Beside a number: + better than A, ! worse, ~ different; - in place of one: no such thing, or not \
             reached. Marks compare in mm and degrees, to the decimals shown there, and what reads alike here has none. A \
             least gap is the least that was \
             found; the true one is no less than what is proved below it, and a mark stands only where found and \
             proved leave no doubt which is larger.",
            text_width(),
            ""
        )
    );
    for (i, note) in notes.iter().enumerate() {
        let _ = writeln!(
            out,
            "{}",
            wrap(&format!("{}) {note}", i + 1), text_width(), "   ")
        );
    }
}

/// Whether the other side's row says what the leading side's does.
fn repeats(comparison: &Comparison, measure: &Measure, columns: &[usize]) -> bool {
    let twin = comparison
        .measures
        .iter()
        .find(|m| m.key == measure.key && m.side == Some(comparison.leading_side));
    twin.is_some_and(|twin| {
        columns
            .iter()
            .all(|i| match (&twin.values[*i], &measure.values[*i]) {
                (Some(a), Some(b)) => prints_alike(measure, a, b) && a.by == b.by,
                (None, None) => true,
                _ => false,
            })
    })
}

fn unit(quantity: Quantity, units: Units) -> String {
    match quantity {
        Quantity::Mm => format!(", {}", units.name()),
        Quantity::Deg => ", deg".to_owned(),
        Quantity::Ratio => String::new(),
        Quantity::Percent => ", %".to_owned(),
        Quantity::MmPerSecond => ", mm/s".to_owned(),
    }
}

/// A number with its mark.
fn cell(measure: &Measure, i: usize, units: Units) -> String {
    let Some(value) = &measure.values[i] else {
        return "-".to_owned();
    };
    let mark = match measure.values[0].as_ref().filter(|_| i > 0) {
        None => "",
        // No mark between numbers that read the same in this unit.
        Some(first) if reads_alike(measure, first, value, units) => "",
        Some(first) => match judged(measure, first, value) {
            Some(Verdict::Better) => "+",
            Some(Verdict::Worse) => "!",
            Some(Verdict::Different) => "~",
            None => "",
        },
    };
    format!("{}{mark}", number(measure, value, units))
}

/// The number under which a text stands below the table.
fn note(text: &String, notes: &mut Vec<String>) -> String {
    let known = notes.iter().position(|n| n == text);
    let number = known.unwrap_or_else(|| {
        notes.push(text.clone());
        notes.len() - 1
    });
    format!("{})", number + 1)
}

/// Whether two values read the same as printed, what is proved of them included.
fn reads_alike(measure: &Measure, a: &Measured, b: &Measured, units: Units) -> bool {
    let proved = |value: &Measured| value.at_least.map(|mm| units.at_most(mm));
    number(measure, a, units) == number(measure, b, units) && proved(a) == proved(b)
}

fn number(measure: &Measure, value: &Measured, units: Units) -> String {
    match measure.quantity {
        Quantity::Mm => units.toward(value.value, toward(measure)),
        other => toward(measure).decimals(value.value, decimals_of(other)),
    }
}
