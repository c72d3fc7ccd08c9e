//! The truck on the ground and on a drive, as text.

use super::lengths::{Units, degrees_against, degrees_at_most, signed_degrees};
use super::{bullet, table, text_width, wrap};
use crate::findings::{
    DriveContact, DriveFindings, DriveRow, GroundFindings, SizeDriven, SizeOutcome, SizesDriven,
    Touching,
};
use std::fmt::Write as _;

/// Parts listed by their clearance.
const PARTS_LISTED: usize = 14;
/// The four wheels, as columns.
const WHEELS: [&str; 4] = ["FL", "FR", "RL", "RR"];
/// Rows of the clearance curve printed.
const CURVE_PRINTED: usize = 12;

/// What the truck clears. `others` are the same of other setups, with their names.
pub fn ground_text(
    first: &GroundFindings,
    others: &[(String, GroundFindings)],
    units: Units,
) -> String {
    let mut out = String::new();
    standing_verdict(&mut out, first, units);
    five_measures(&mut out, first, units);
    if !others.is_empty() {
        clearances_of_setups(&mut out, first, others, units);
    }
    lowest_parts(&mut out, first, units);
    out.push_str("\nCautions\n");
    for caution in &first.cautions {
        out.push_str(&bullet(caution));
    }
    out
}

/// Whether four of the five thresholds are met, and what stands where.
fn standing_verdict(out: &mut String, first: &GroundFindings, units: Units) {
    let head = format!(
        "{}: {} the thresholds of 49 CFR 523.5(b)(2), four of five. Level ground, static loaded radii; pitch {} deg \
         (nose up +), roll {} deg (left up +). Lengths in {}.",
        first.truck,
        if first.four_of_five {
            "MEETS"
        } else {
            "MISSES"
        },
        signed_degrees(first.pitch_deg),
        signed_degrees(first.roll_deg),
        units.long_name()
    );
    let _ = writeln!(out, "{}", wrap(&head, text_width(), ""));
    past_stops(out, None, first);
}

/// Wheels that are held where they can't stand.
fn past_stops(out: &mut String, setup: Option<&str>, found: &GroundFindings) {
    let within = setup.map_or(String::new(), |name| format!(" in {name}"));
    for past in &found.past_stops {
        let text = format!(
            "THE TRUCK CAN'T STAND SO{within}: the {} wheel is past {}.",
            past.wheel, past.stop
        );
        let _ = writeln!(out, "{}", wrap(&text, text_width(), ""));
    }
}

/// The five angles and clearances, each with what it wants and what sets it.
fn five_measures(out: &mut String, first: &GroundFindings, units: Units) {
    let mut t = table(&[
        ("", false),
        ("", true),
        ("wanted", true),
        ("", false),
        ("set by", false),
        ("at (x, y, z)", false),
    ]);
    let rows: [(&str, &Option<Touching>, bool); 5] = [
        ("approach angle, deg", &first.approach_deg, false),
        ("breakover angle, deg", &first.breakover_deg, false),
        ("departure angle, deg", &first.departure_deg, false),
        ("running clearance", &first.running_clearance_mm, true),
        ("axle clearance", &first.axle_clearance_mm, true),
    ];
    for ((name, found, is_length), threshold) in rows.into_iter().zip(&first.thresholds) {
        let there = found.as_ref().map_or(f64::NAN, |t| t.value);
        let ([value], wanted) = if is_length {
            units.against([there], threshold.at_least)
        } else {
            degrees_against([there], threshold.at_least)
        };
        let (value, part, at) = match found {
            Some(t) => (value, t.part.clone(), units.point(t.point_mm)),
            None => (
                "none".to_owned(),
                "nothing to touch".to_owned(),
                String::new(),
            ),
        };
        t.add_row([
            if is_length {
                format!("{name}, {}", units.name())
            } else {
                name.to_owned()
            },
            value,
            wanted,
            if threshold.met {
                "met".to_owned()
            } else {
                "MISSED".to_owned()
            },
            part,
            at,
        ]);
    }
    let _ = writeln!(out, "\n{}", t.trim_fmt());
    let note = "Angles are tangent to the loaded-radius arcs and touch the real shapes (49 CFR 523.2); breakover by the \
                two arcs, which reads a little more than the popular formula from the contact points.";
    let _ = writeln!(out, "{}", wrap(note, text_width(), ""));
}

fn lowest_parts(out: &mut String, first: &GroundFindings, units: Units) {
    let mut t = table(&[
        ("lowest parts", false),
        ("over the ground", true),
        ("", false),
    ]);
    for part in first.parts.iter().take(PARTS_LISTED) {
        let carried = if part.sprung { "" } else { "unsprung" };
        t.add_row([
            part.part.clone(),
            units.at_most(part.clearance_mm),
            carried.to_owned(),
        ]);
    }
    let _ = writeln!(out, "\n{}", t.trim_fmt());
    if first.parts.len() > PARTS_LISTED {
        let _ = writeln!(out, "{} more in the JSON", first.parts.len() - PARTS_LISTED);
    }
}

/// The same of other setups, a row each.
fn clearances_of_setups(
    out: &mut String,
    first: &GroundFindings,
    others: &[(String, GroundFindings)],
    units: Units,
) {
    let mut t = table(&[
        ("setup", false),
        ("approach", true),
        ("breakover", true),
        ("departure", true),
        ("running", true),
        ("gained", true),
        ("axle", true),
        ("four of five", false),
    ]);
    let angle = |t: &Option<Touching>| {
        t.as_ref()
            .map_or("-".to_owned(), |t| degrees_at_most(t.value))
    };
    let length = |t: &Option<Touching>| {
        t.as_ref()
            .map_or("-".to_owned(), |t| units.at_most(t.value))
    };
    let base = first.running_clearance_mm.as_ref().map(|t| t.value);
    let mut row = |name: &str, f: &GroundFindings| {
        let now = f.running_clearance_mm.as_ref().map(|t| t.value);
        let gained = now
            .zip(base)
            .map_or("-".to_owned(), |(a, b)| units.signed_at_most(a - b));
        t.add_row([
            name.to_owned(),
            angle(&f.approach_deg),
            angle(&f.breakover_deg),
            angle(&f.departure_deg),
            length(&f.running_clearance_mm),
            gained,
            length(&f.axle_clearance_mm),
            if f.four_of_five { "met" } else { "MISSED" }.to_owned(),
        ]);
    };
    row("this one", first);
    for (name, findings) in others {
        row(name, findings);
    }
    let _ = writeln!(out, "\n{}", t.trim_fmt());
    for (name, findings) in others {
        past_stops(out, Some(name), findings);
    }
}

/// A drive over an obstacle. `others` are the same drive of other setups, with their names.
pub fn drive_text(
    found: &DriveFindings,
    others: &[(String, DriveFindings)],
    units: Units,
) -> String {
    let mut out = String::new();
    let mut say = |text: &str| {
        let _ = writeln!(out, "{}", wrap(text, text_width(), ""));
    };
    say(&verdict(found, units));
    if let Some(first) = found.contacts.first() {
        say(&first_contact(first, units));
    }
    if let Some(at) = found.tyres_stop_at_mm {
        say(&format!(
            "With the front axle at {} a tyre meets a wall higher than its own centre: it can't roll up, and the drive \
             ends there.",
            units.signed(at)
        ));
    }
    if let Some(sizes) = &found.sizes {
        say(&sizes_text(sizes, units));
    }
    if !others.is_empty() {
        drives_of_setups(&mut out, found, others, units);
    }
    if !found.contacts.is_empty() {
        contacts(&mut out, &found.contacts, units);
    }
    curve(&mut out, found, units);
    notes(&mut out, found, units);
    out
}

/// What came out, in one sentence, and how the figures are meant.
fn verdict(found: &DriveFindings, units: Units) -> String {
    let head = match (found.contacts.first(), found.tyres_stop_at_mm) {
        (Some(first), _) if !found.undecided.is_empty() => format!(
            "FOUND. {} hits first. What lies further on stayed undecided; it is listed below.",
            first.part
        ),
        _ if !found.undecided.is_empty() => {
            "NOT FULLY CHECKED. Something stayed undecided; it is listed below.".to_owned()
        }
        (None, None) => "CLEAR. Nothing but the treads touches it.".to_owned(),
        (None, Some(_)) => "FOUND. The tyres meet a wall higher than they can climb.".to_owned(),
        (Some(first), _) => format!("FOUND. {} hits first.", first.part),
    };
    format!(
        "{} over {}, suspension {}: {head} Lengths in {}; places count from the obstacle's front, the front axle's \
         middle forward +.",
        found.truck,
        found.obstacle,
        if found.suspension_follows {
            "following"
        } else {
            "held"
        },
        units.long_name()
    )
}

/// What the drives over many sizes say, and no more.
fn sizes_text(sizes: &SizesDriven, units: Units) -> String {
    // Cut off behind the digit, so that no size is called clear that is larger than one driven.
    let percent = |scale: f64| format!("{:.1} %", (1000.0 * scale + 1.0e-6).floor() / 10.0);
    let why = |size: &SizeDriven| match &size.outcome {
        SizeOutcome::Clears => "it clears".to_owned(),
        SizeOutcome::Touches { part, against } => format!("{part} meets {against}"),
        SizeOutcome::TyresStop => "the tyres can't climb it".to_owned(),
        SizeOutcome::Undecided { why } => {
            format!("it could not be decided: {}", units.reworded(why))
        }
    };
    let mut out = format!("{} sizes were driven over. ", sizes.driven.len());
    if let Some(clears) = sizes.clears_to {
        out += &format!(
            "Every size driven up to {} of the size written clears. ",
            percent(clears)
        );
    }
    let first = sizes
        .driven
        .iter()
        .find(|s| Some(s.scale) == sizes.first_not);
    match first {
        Some(first) => {
            out += &format!(
                "The smallest driven that doesn't is {}: {}. ",
                percent(first.scale),
                why(first)
            );
        }
        None => out += "None that was driven doesn't. ",
    }
    let clear_above: Vec<String> = sizes
        .driven
        .iter()
        .filter(|s| first.is_some_and(|f| s.scale > f.scale))
        .filter(|s| s.outcome == SizeOutcome::Clears)
        .map(|s| percent(s.scale))
        .collect();
    if !clear_above.is_empty() {
        out += &format!(
            "Of the larger ones driven {} clears again: it lifts the truck sooner. ",
            clear_above.join(", ")
        );
    }
    out + "Nothing is known of sizes between those driven, which the JSON lists: a larger obstacle may clear where a \
           smaller one is hit."
}

/// The same drive of other setups, a row each.
fn drives_of_setups(
    out: &mut String,
    first: &DriveFindings,
    others: &[(String, DriveFindings)],
    units: Units,
) {
    let mut t = table(&[
        ("setup", false),
        ("", false),
        ("hits first", false),
        ("front axle", true),
        ("least clearance", true),
    ]);
    let mut row = |name: &str, f: &DriveFindings| {
        let first = f.contacts.first();
        let least = f
            .curve
            .iter()
            .map(|r| r.clearance_mm)
            .fold(f64::INFINITY, f64::min);
        let verdict = match (first, f.tyres_stop_at_mm) {
            (Some(_), _) => "FOUND",
            _ if !f.undecided.is_empty() => "NOT FULLY CHECKED",
            (None, None) => "CLEAR",
            (None, Some(_)) => "CAN'T CLIMB",
        };
        t.add_row([
            name.to_owned(),
            verdict.to_owned(),
            first.map_or(String::new(), |c| c.part.clone()),
            first.map_or(String::new(), |c| units.signed(c.front_axle_mm[1])),
            units.at_most(least),
        ]);
    };
    row("this one", first);
    for (name, other) in others {
        row(name, other);
    }
    let _ = writeln!(out, "\n{}", t.trim_fmt());
}

fn contacts(out: &mut String, contacts: &[DriveContact], units: Units) {
    let mut t = table(&[
        ("contacts in order", false),
        ("with", false),
        ("front axle", true),
        ("driven", true),
        ("pitch", true),
        ("roll", true),
        ("depth", true),
    ]);
    for contact in contacts {
        t.add_row([
            contact.part.clone(),
            contact.against.clone(),
            units.signed(contact.front_axle_mm[1]),
            units.at_most(contact.driven_mm),
            signed_degrees(contact.pitch_deg),
            signed_degrees(contact.roll_deg),
            contact
                .depth_mm
                .map_or("unknown".to_owned(), |d| units.at_least(d)),
        ]);
    }
    let _ = writeln!(out, "\n{}", t.trim_fmt());
    if contacts.iter().any(|contact| contact.depth_mm.is_none()) {
        let _ = writeln!(out, "{}", wrap(UNKNOWN_DEPTH, text_width(), "  "));
    }
}

/// What an unknown depth is.
const UNKNOWN_DEPTH: &str = "Depth unknown: they touch, but no corner of the part as drawn comes to lie in the ground, as \
    where a flat face meets an edge, and depths are taken at corners. Draw the part finer to have it.";

/// The least clearance along the drive: some rows, the tightest and the last among them.
fn curve(out: &mut String, found: &DriveFindings, units: Units) {
    let mut columns = vec![
        ("front axle", true),
        ("least clearance", true),
        ("part", false),
        ("pitch", true),
        ("roll", true),
    ];
    if found.suspension_follows {
        columns.extend(WHEELS.map(|name| (name, true)));
    }
    let mut t = table(&columns);
    // Beyond what could be decided nothing is known.
    let known = |row: &&DriveRow| row.front_axle_mm <= found.decided_to_mm;
    let rows: Vec<&DriveRow> = found.curve.iter().filter(known).collect();
    let step = rows.len().div_ceil(CURVE_PRINTED).max(1);
    let tightest = (rows.iter()).min_by(|a, b| a.clearance_mm.total_cmp(&b.clearance_mm));
    for (i, row) in rows.iter().enumerate() {
        let is_tightest = tightest.is_some_and(|t| std::ptr::eq(*t, *row));
        if i % step != 0 && !is_tightest && i + 1 != rows.len() {
            continue;
        }
        let mut cells = vec![
            units.signed(row.front_axle_mm),
            units.at_most(row.clearance_mm),
            row.part.clone(),
            signed_degrees(row.pitch_deg),
            signed_degrees(row.roll_deg),
        ];
        if found.suspension_follows {
            cells.extend(row.wheel_travel_mm.map(|t| units.signed(t)));
        }
        t.add_row(cells);
    }
    let _ = writeln!(out, "\n{}", t.trim_fmt());
}

/// What the columns mean, what stayed undecided, and what was assumed.
fn notes(out: &mut String, found: &DriveFindings, units: Units) {
    let text = "Clearances are looked at by steps, closer where they are least, and may be less between them: what touches \
                is proved, how near the rest comes isn't.";
    let _ = writeln!(out, "{}", wrap(text, text_width(), ""));
    if found.suspension_follows {
        let text =
            "FL to RR: travel of the front and rear wheels, left and right, from ride height.";
        let _ = writeln!(out, "{}", wrap(text, text_width(), ""));
    }
    if found.wheel_off_ground_mm > 1.0 {
        let off = units.at_least_with_unit(found.wheel_off_ground_mm);
        let text = if found.suspension_follows {
            format!("At full droop a wheel hangs up to {off} over the ground.")
        } else {
            format!(
                "With the suspension held, a wheel is up to {off} off the ground or into it: a real one would follow."
            )
        };
        let _ = writeln!(out, "{}", wrap(&text, text_width(), ""));
    }
    for text in &found.undecided {
        out.push_str(&bullet(&format!("UNDECIDED {}", units.reworded(text))));
    }
    out.push_str("\nAssumed, and cautions\n");
    for note in &found.notes {
        out.push_str(&bullet(&units.reworded(note)));
    }
}

/// The first contact in words.
fn first_contact(first: &DriveContact, units: Units) -> String {
    format!(
        "First contact: {} meets {} after {} driven, with the front axle at {}, pitch {} deg, roll {} deg; {}. On \
         the part at {}, on the ground at {} from the obstacle's front.{}",
        first.part,
        first.against,
        units.at_most_with_unit(first.driven_mm),
        units.signed(first.front_axle_mm[1]),
        signed_degrees(first.pitch_deg),
        signed_degrees(first.roll_deg),
        if first.tyre_climbing {
            "a tyre had begun to climb"
        } else if first.tyre_climbed {
            "a tyre had been over it before, and none is on it there"
        } else {
            "no tyre had begun to climb"
        },
        units.point(first.point_on_part_mm),
        units.point(first.point_on_ground_mm),
        first
            .depth_mm
            .map_or(" How deep it would go is unknown.".to_owned(), |d| format!(
                " Driven on it would go {} deep.",
                units.at_least_with_unit(d)
            ))
    )
}
