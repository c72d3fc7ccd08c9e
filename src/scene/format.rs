//! Which format a scene is written in, before anything else of it is read: its unit, its `format`, and the fields that
//! older scenes have.
//!
//! Reads: text. Produces: the part of it that is whole RON, and a [`Problem`] for a format that isn't known here. Next:
//! `read.rs`.

use super::locate::outermost;
use super::read::Problem;
use super::types::LengthUnit;
use serde::de::IgnoredAny;

/// The format that is written and read now. Raise it when a field changes its meaning, and read the older one as it
/// was meant in `read.rs`.
pub const FORMAT: u32 = 1;

/// Fields that scenes once had, and what to write now.
const OLDER_FIELDS: [(&str, &str); 3] = [
    (
        "wheel_rates",
        "write `wheel_springs: (front: (load: .., rate: ..), rear: (load: .., rate: ..))` instead: with each wheel's rate its \
         load at ride height",
    ),
    (
        "tie_rod_longer",
        "write a setup with `TieRodEnd(longer: ..)` instead: it draws the rod longer too",
    ),
    (
        "longer",
        "write a setup with `Halfshaft(longer: ..)` instead: it draws the shaft longer too",
    ),
];

/// What to write for a field that older scenes had.
pub(super) fn instead_of(field: &str) -> Option<&'static str> {
    let known = OLDER_FIELDS.iter().find(|(older, _)| *older == field);
    known.map(|(_, now)| *now)
}

/// As much of a text, from its start, as is whole RON. What comes after may nest as deep as it likes; up to there the
/// reader's own limit holds, so that [`Places`](super::locate::Places) can walk it.
pub(super) fn sound<'t>(text: &'t str, options: &ron::Options) -> &'t str {
    match options.from_str::<IgnoredAny>(text) {
        Ok(_) => text,
        Err(error) => {
            let at = error.span.end;
            &text[..super::read::offset_of(text, at.line, at.col)]
        }
    }
}

/// The unit of a scene's lengths, where it says one.
pub(super) fn unit_of(text: &str) -> Option<LengthUnit> {
    let range = outermost(text, "units")?;
    [LengthUnit::Mm, LengthUnit::Inch]
        .into_iter()
        .find(|unit| unit.name() == &text[range.clone()])
}

/// Whether the scene is of a format that is read here.
///
/// # Errors
/// [`Problem`] for another one.
pub(super) fn check(text: &str) -> Result<(), Problem> {
    let Some(range) = outermost(text, "format") else {
        return Ok(());
    };
    // What is no number is told by the reader, as for any other field.
    let Ok(format) = text[range].parse::<u64>() else {
        return Ok(());
    };
    if format == u64::from(FORMAT) {
        return Ok(());
    }
    Err(if format > u64::from(FORMAT) {
        Problem::at(
            "format",
            format!("the scene is of format {format}, and this program reads format {FORMAT}"),
            "it was written for a newer bindpoint: get that one (`bindpoint --version` says which you have); what a \
             newer format means can't be guessed",
        )
    } else {
        Problem::at(
            "format",
            "there is no format 0",
            format!("write `format: {FORMAT}`, or leave it out"),
        )
    })
}
