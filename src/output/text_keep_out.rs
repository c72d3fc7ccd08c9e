//! A keep-out solid, in words.

use super::lengths::Units;
use super::verdict_words::open_end;
use super::{bullet, text_width, wrap};
use crate::findings::CAUTIONS;
use crate::space::{KeepOut, KeepOutOptions};
use crate::suspension::{Body, Side};
use std::fmt::Write as _;

/// What was written, how exact it is, and what it leaves out. Parts by name: those in the solid, and those that were named
/// too but are on the bracket's own body.
pub fn keep_out_text(
    truck: &str,
    side: Side,
    [parts, left_out]: [&[String]; 2],
    on: Body,
    options: KeepOutOptions,
    solid: &KeepOut,
    units: Units,
) -> String {
    let mut out = String::new();
    let head = format!(
        "{truck}: the space that {} of the {} corner take{} over the whole free travel, at every steering angle, seen \
         from the {}.",
        parts.join(", "),
        side.name(),
        if parts.len() == 1 { "s" } else { "" },
        on.name().replace('_', " "),
    );
    let _ = writeln!(out, "{}", wrap(&head, text_width(), ""));
    let text = format!(
        "It holds every position and {} around it, and reaches no more than {} further (grid {}). {} triangles, {} \
         closed piece{}, {}; the file is in mm.{}",
        units.at_most_with_unit(options.margin_mm),
        units.at_least_with_unit(solid.most_excess_mm),
        units.with_unit(solid.spacing_mm),
        solid.triangles.len(),
        solid.pieces,
        if solid.pieces == 1 { "" } else { "s" },
        units.volume(solid.volume_mm3),
        hollows_filled(solid)
    );
    let _ = writeln!(out, "{}", wrap(&text, text_width(), ""));
    if solid.unproved_cells > 0 {
        let text = format!(
            "UNDECIDED {} cells of the travel, as small as they get, could not be proved: positions in them may reach out.",
            solid.unproved_cells
        );
        out.push_str(&bullet(&text));
    }
    for end in &solid.open_ends {
        out.push_str(&bullet(&format!("UNDECIDED {}", open_end(end, units, 0.0))));
    }
    if !left_out.is_empty() {
        out.push_str("\nNot in the solid\n");
        let text = format!(
            "{}: on the {} itself, so rigidly one with what is bolted to it",
            left_out.join(", "),
            on.name().replace('_', " ")
        );
        out.push_str(&bullet(&text));
    }
    out.push_str("\nAssumed, and cautions\n");
    out.push_str(&bullet(
        "Rigid parts as drawn, the stops as the sweep has them: bushings, flex and wear need a margin of their own.",
    ));
    for note in CAUTIONS {
        out.push_str(&bullet(note));
    }
    out
}

/// A sentence on the hollows that were filled, with a blank before it; nothing where there were none.
pub(crate) fn hollows_filled(solid: &KeepOut) -> String {
    match solid.hollows_filled {
        0 => String::new(),
        1 => " A closed hollow inside was filled.".to_owned(),
        n => format!(" {n} closed hollows inside were filled."),
    }
}
