//! A clearance map, in words.

use super::lengths::{Units, signed_degrees};
use super::verdict_words::open_end;
use super::{bullet, table, text_width, wrap};
use crate::findings::{ClearanceFindings, TightPatch, TightSpot, WhyLeftOut};
use crate::truck::{TOUCH_MM, touches};
use std::fmt::Write as _;

/// Moving parts listed, nearest first.
const MOVERS_LISTED: usize = 16;

/// What was found, the tight patches, every part's least gap, and what was left out.
pub fn clearance_text(found: &ClearanceFindings, units: Units) -> String {
    let mut out = String::new();
    let verdict = clearance_verdict(found);
    let sides: Vec<&str> = found.sides.iter().map(|s| s.name()).collect();
    let over = match found.setups.len() {
        0 => String::new(),
        1 => format!(", setup {}", found.setups[0]),
        n => format!(", over {n} setups ({})", found.setups.join("; ")),
    };
    let head = format!(
        "{}, {}{over}: {verdict}. Whole free travel of the {} wheel{}, both locks.",
        found.truck,
        found.part,
        sides.join(" and "),
        if sides.len() == 1 { "" } else { "s" },
    );
    let _ = writeln!(out, "{}", wrap(&head, text_width(), ""));
    if let Some(spot) = &found.tightest {
        let text = format!("Tightest: {}.", said(spot, units));
        let _ = writeln!(out, "{}", wrap(&text, text_width(), ""));
    }
    let text = format!(
        "{} faces drawn, mapped as {} faces and {} corners. The true least gap of each is no lower than reported by \
         more than {} mm, between positions too. Parts touch where the gap between them is {TOUCH_MM} mm or less. Gaps \
         beyond {} are not told apart.",
        found.faces_drawn,
        found.faces,
        found.vertices,
        found.tolerance_mm,
        units.at_most_with_unit(found.cutoff_mm),
    );
    let text = units.reworded(&text);
    let _ = writeln!(out, "{}", wrap(&text, text_width(), ""));
    if found.unproved_cells > 0 {
        let text = format!(
            "UNDECIDED {} cells of the travel, as small as they get, could not be proved: nothing is known of them.",
            found.unproved_cells
        );
        out.push_str(&bullet(&text));
    }
    for end in &found.open_ends {
        out.push_str(&bullet(&format!("UNDECIDED {}", open_end(end, units, 0.0))));
    }
    for across in &found.across_middle {
        out.push_str(&bullet(&format!(
            "UNDECIDED {} of the {} side comes to the truck's middle{}, nearer than the greatest gap required: what the other \
             side moves there is not looked at",
            across.part,
            across.side.name(),
            across.setup.as_ref().map_or(String::new(), |setup| format!(" in `{setup}`")),
        )));
    }
    for mover in found.within_tolerance() {
        out.push_str(&bullet(&format!(
            "UNDECIDED {} ({}): its gap is no less than required as found, and may be less by up to the tolerance of {}: ask \
             again with a smaller `--tolerance`",
            mover.part,
            mover.side.name(),
            units.at_least_with_unit(found.tolerance_mm),
        )));
    }
    patches(&mut out, found, units);
    movers(&mut out, found, units);
    left_out(&mut out, found);
    out.push_str("\nAssumed, and cautions\n");
    out.push_str(&bullet(
        "The free travel is that of the truck without this part's own stops: where the part is in the way it is shown, not \
         gone round.",
    ));
    for note in found
        .notes
        .iter()
        .map(String::as_str)
        .chain(found.cautions.iter().map(AsRef::as_ref))
    {
        out.push_str(&bullet(&units.reworded(note)));
    }
    out
}

/// Parts that were not looked at, by reason.
fn left_out(out: &mut String, found: &ClearanceFindings) {
    if found.left_out.is_empty() {
        return;
    }
    out.push_str("\nNot looked at\n");
    let mut done: Vec<&WhyLeftOut> = Vec::new();
    for left in &found.left_out {
        if done.contains(&&left.why) {
            continue;
        }
        done.push(&left.why);
        let mut parts: Vec<(&str, Vec<&str>)> = Vec::new();
        for other in found.left_out.iter().filter(|o| o.why == left.why) {
            match parts.iter_mut().find(|(name, _)| *name == other.part) {
                Some((_, sides)) => sides.push(other.side.name()),
                None => parts.push((&other.part, vec![other.side.name()])),
            }
        }
        let parts: Vec<String> = parts
            .iter()
            .map(|(name, sides)| format!("{name} ({})", sides.join(", ")))
            .collect();
        let why = match &left.why {
            WhyLeftOut::SameBody => format!(
                "on the {} as this part is, rigidly one with it",
                found.on.name().replace('_', " ")
            ),
            WhyLeftOut::Joined(_) => left.why.to_string(),
            WhyLeftOut::OverlapsAsDrawn => {
                "UNDECIDED they overlap this part as drawn, and the scene doesn't say that they \
                                            are joined: --with-overlaps looks at them"
                    .to_owned()
            }
        };
        out.push_str(&bullet(&format!("{}: {why}", parts.join(", "))));
    }
}

/// Whether required gaps are kept, in a few words.
pub fn clearance_verdict(found: &ClearanceFindings) -> String {
    let violated = found.patches.iter().filter(|p| is_wrong(p)).count();
    if violated > 0 {
        let touched = found.patches.iter().any(|p| p.touched);
        format!(
            "{} in {violated} patch{}",
            if touched {
                "TOUCHED"
            } else {
                "A REQUIRED GAP IS MISSING"
            },
            if violated == 1 { "" } else { "es" }
        )
    } else if found.unproved_cells > 0 {
        "UNDECIDED: no gap is missing as far as could be proved".to_owned()
    } else if found.is_undecided() {
        "UNDECIDED: no gap is missing to what was looked at, but not all of it is known".to_owned()
    } else {
        "every required gap is kept".to_owned()
    }
}

/// Whether a patch is touched, or a required gap is missing in it. Where none is required, a touch is wrong all the same.
pub fn is_wrong(patch: &TightPatch) -> bool {
    patch.touched || patch.violated
}

/// What is wrong in a patch, in a word.
pub fn patch_state(patch: &TightPatch) -> &'static str {
    if patch.touched {
        "TOUCHED"
    } else if patch.violated {
        "SHORT"
    } else {
        "kept"
    }
}

/// To what, how near, when.
fn said(spot: &TightSpot, units: Units) -> String {
    let ([there], required) = units.against([spot.gap_mm], spot.required_mm);
    let gap = if touches(spot.gap_mm) {
        "touches".to_owned()
    } else {
        format!("{there} {} from", units.name())
    };
    let setup = spot.setup.as_ref();
    let when = if spot.at_rest {
        "at every position".to_owned()
    } else {
        format!(
            "travel {}, rack {}, steer {} deg",
            units.signed(spot.travel_mm),
            units.signed(spot.rack_mm),
            signed_degrees(spot.steer_deg)
        )
    };
    format!(
        "{gap} the {} ({} side) at {}, {when}{} (required {required} {})",
        spot.to,
        spot.side.name(),
        units.point(spot.at_mm),
        setup.map_or(String::new(), |s| format!(", setup {s}")),
        units.name(),
    )
}

/// A number of a position; for parts that rest against each other any is as good.
fn unless_at_rest(spot: &TightSpot, number: String) -> String {
    if spot.at_rest {
        "any".to_owned()
    } else {
        number
    }
}

fn patches(out: &mut String, found: &ClearanceFindings, units: Units) {
    if found.patches.is_empty() {
        return;
    }
    out.push_str("\nTightest patches\n");
    let mut t = table(&[
        ("", true),
        ("", false),
        (units.area_head(), true),
        ("middle (x, y, z)", false),
        ("gap", true),
        ("cut back", true),
        ("outline", true),
        ("against", false),
        ("travel", true),
        ("steer, deg", true),
    ]);
    for (n, patch) in found.patches.iter().enumerate() {
        let state = patch_state(patch);
        let cut = match (patch.violated, patch.cut_is_at_least) {
            (false, _) => "-".to_owned(),
            (true, true) => format!(">= {}", units.at_least(patch.cut_mm)),
            (true, false) => units.at_least(patch.cut_mm),
        };
        let spot = &patch.tightest;
        t.add_row([
            format!("{}", n + 1),
            state.to_owned(),
            units.area(patch.area_mm2),
            units.point(patch.middle_mm),
            units.at_most(spot.gap_mm),
            cut,
            if patch.violated {
                units.at_least(patch.outline_mm)
            } else {
                "-".to_owned()
            },
            format!("{} ({})", patch.against.join(", "), spot.side.name()),
            unless_at_rest(spot, units.signed(spot.travel_mm)),
            unless_at_rest(spot, signed_degrees(spot.steer_deg)),
        ]);
    }
    let _ = writeln!(out, "{t}");
    if found.patches_not_listed > 0 {
        let _ = writeln!(
            out,
            "and {} more where the gap is kept.",
            found.patches_not_listed
        );
    }
    if found.patches.iter().any(|p| !is_wrong(p)) {
        let text = format!(
            "Kept: something comes within {} there, and no required gap is missing.",
            units.at_least_with_unit(found.cutoff_mm)
        );
        let _ = writeln!(out, "{}", wrap(&text, text_width(), ""));
    }
    if found.patches.iter().any(|p| p.violated) {
        let text = "Cut back: by this much any one of the patch's sides may go back, square to itself, and nothing of the part \
                    is too near there any more; not counted is a side that would take all of the part with it. One side may \
                    need less, which its trim sheet says (--trim). Outline: what to scribe on all sheets together; one is enough.";
        let _ = writeln!(out, "{}", wrap(text, text_width(), ""));
    }
}

fn movers(out: &mut String, found: &ClearanceFindings, units: Units) {
    out.push_str("\nLeast gap to each part of another body\n");
    let with_setups = found.movers.iter().any(|m| m.setup.is_some());
    let mut columns = vec![
        ("part", false),
        ("side", false),
        ("gap", true),
        ("required", true),
        ("at (x, y, z)", false),
        ("travel", true),
        ("rack", true),
    ];
    if with_setups {
        columns.push(("setup", false));
    }
    let mut t = table(&columns);
    let near = found.movers.iter().filter(|m| m.nearest.is_some());
    for mover in near.clone().take(MOVERS_LISTED) {
        let Some(spot) = &mover.nearest else {
            continue;
        };
        let ([there], required) = units.against([spot.gap_mm], mover.required_mm);
        let mut row = vec![
            mover.part.clone(),
            mover.side.name().to_owned(),
            there,
            required,
            units.point(spot.at_mm),
            unless_at_rest(spot, units.signed(spot.travel_mm)),
            unless_at_rest(spot, units.signed(spot.rack_mm)),
        ];
        if with_setups {
            row.push(
                mover
                    .setup
                    .clone()
                    .unwrap_or_else(|| "as measured".to_owned()),
            );
        }
        t.add_row(row);
    }
    let listed = near.count();
    if listed > 0 {
        let _ = writeln!(out, "{t}");
    }
    let more = listed.saturating_sub(MOVERS_LISTED);
    let beyond = found.movers.len() - listed;
    let mut rest = Vec::new();
    if more > 0 {
        rest.push(format!(
            "{more} more within {}",
            units.at_least_with_unit(found.cutoff_mm)
        ));
    }
    if beyond > 0 {
        rest.push(format!(
            "{beyond} that stay at least {} away",
            units.at_most_with_unit(found.cutoff_mm)
        ));
    }
    if !rest.is_empty() {
        let _ = writeln!(out, "{}.", rest.join("; "));
    }
}
