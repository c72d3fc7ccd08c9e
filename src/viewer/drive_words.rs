//! What a drive found, in the few words that stand over its picture.

use crate::findings::{DriveContact, DriveFindings, DriveRow, GroundFindings, Touching};
use crate::output::{Units, degrees, degrees_at_most};

/// The drive in one sentence: what hits first and where, or how much room is left.
pub fn headline(found: &DriveFindings, units: Units) -> String {
    if !found.undecided.is_empty() {
        return "Not fully checked: see `bindpoint drive`".to_owned();
    }
    let wall = found.tyres_stop_at_mm;
    match (found.contacts.first(), wall) {
        (Some(first), _) => format!(
            "{} {}first: front axle {}, {}",
            capital(&hitting(found)),
            against(first, &found.obstacle),
            place(first.front_axle_mm[1], units),
            pitch(first.pitch_deg)
        ),
        (None, Some(at)) => format!(
            "The tyres can't climb it: they stop with the front axle {}",
            place(at, units)
        ),
        (None, None) => {
            let least = found
                .curve
                .iter()
                .min_by(|a, b| a.clearance_mm.total_cmp(&b.clearance_mm));
            match least {
                // The curve is sampled; that nothing touches is proved.
                Some(row) => format!(
                    "Clears with about {} to spare: {}, front axle {}",
                    units.at_most_with_unit(row.clearance_mm),
                    row.part,
                    place(row.front_axle_mm, units)
                ),
                None => "Clears".to_owned(),
            }
        }
    }
}

/// The truck on level ground in one sentence.
pub fn level_headline(found: &GroundFindings, units: Units) -> String {
    let angle = |name: &str, t: &Option<Touching>| match t {
        Some(t) => format!("{name} {}\u{b0}", degrees_at_most(t.value)),
        None => format!("{name}: nothing to touch"),
    };
    let mut said = vec![
        angle("Approach", &found.approach_deg),
        angle("breakover", &found.breakover_deg),
        angle("departure", &found.departure_deg),
    ];
    if let Some(running) = &found.running_clearance_mm {
        said.push(format!(
            "running clearance {}",
            units.at_most_with_unit(running.value)
        ));
    }
    said.join(", ")
}

/// One contact of the list: where, and how the truck stands there.
pub fn contact(contact: &DriveContact, obstacle: &str, units: Units) -> String {
    let depth = contact.depth_mm.map_or(String::new(), |d| {
        format!("; driven on, {} deep", units.at_least_with_unit(d))
    });
    let on = match against(contact, obstacle) {
        "" => String::new(),
        other => format!("on {}; ", other.trim()),
    };
    format!(
        "{on}front axle {}, {}{depth}",
        place(contact.front_axle_mm[1], units),
        pitch(contact.pitch_deg)
    )
}

/// Where the truck is and how it stands there.
///
/// `touching` are the parts that touch there, `row` is the row of the curve that is nearest.
pub fn here(
    front_axle_mm: f64,
    touching: &[String],
    row: Option<&DriveRow>,
    stance_deg: [f64; 2],
    units: Units,
) -> String {
    let [pitch_deg, roll_deg] = stance_deg;
    let roll = if roll_deg.abs() < SETTLED_DEG {
        String::new()
    } else {
        let up = if roll_deg > 0.0 { "left" } else { "right" };
        format!(", {up} side up {}\u{b0}", degrees(roll_deg.abs()))
    };
    let clearance = match row {
        _ if !touching.is_empty() => format!("; touching: {}", touching.join(", ")),
        Some(row) => format!(
            "; least clearance about {}, {}",
            units.at_most_with_unit(row.clearance_mm),
            row.part
        ),
        None => String::new(),
    };
    format!(
        "Front axle {}, {}{roll}{clearance}",
        place(front_axle_mm, units),
        pitch(pitch_deg)
    )
}

/// Angles that print as zero.
const SETTLED_DEG: f64 = 0.05;

/// What hits first, all that do so at one place: with its verb.
fn hitting(found: &DriveFindings) -> String {
    /// Contacts this close along the track are at one place, mm: they are known to a hundredth.
    const SAME_MM: f64 = 0.02;
    let place = |c: &DriveContact| c.front_axle_mm[1];
    let first = found.contacts.first().map_or(f64::NAN, place);
    let names: Vec<&str> = found
        .contacts
        .iter()
        .take_while(|c| place(c) - first <= SAME_MM)
        .map(|c| c.part.as_str())
        .collect();
    match names.split_last() {
        Some((last, [])) => format!("{last} hits"),
        Some((last, others)) => format!("{} and {last} hit", others.join(", ")),
        None => String::new(),
    }
}

/// What it meets, where that isn't the obstacle itself; with a space behind it.
fn against<'a>(contact: &'a DriveContact, obstacle: &str) -> &'a str {
    if contact.against == obstacle {
        ""
    } else {
        // The only other thing on a drive.
        "the ground "
    }
}

/// A place of the front axle, counted from the obstacle's front edge.
pub fn place(front_axle_mm: f64, units: Units) -> String {
    let far = units.with_unit(front_axle_mm.abs());
    if front_axle_mm < 0.0 {
        format!("{far} before the edge")
    } else {
        format!("{far} past the edge")
    }
}

/// A pitch.
pub fn pitch(deg: f64) -> String {
    if deg.abs() < SETTLED_DEG {
        "level".to_owned()
    } else if deg > 0.0 {
        format!("nose up {}\u{b0}", degrees(deg))
    } else {
        format!("nose down {}\u{b0}", degrees(-deg))
    }
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    match letters.next() {
        Some(first) => first.to_uppercase().chain(letters).collect(),
        None => String::new(),
    }
}
