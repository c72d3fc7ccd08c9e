//! An animation, in words.

use super::lengths::Units;
use super::{bullet, table, text_width, wrap};
use crate::findings::CAUTIONS;
use crate::numbers::Toward;
use crate::space::Animation;
use std::fmt::Write as _;

/// What was written, how exact it is, and what it leaves out.
pub fn animation_text(animation: &Animation, units: Units) -> String {
    let mut out = String::new();
    let parts: usize = animation.bodies.iter().map(|b| b.parts.len()).sum();
    let head = format!(
        "{}: {parts} parts on {} bodies, {} animation{}. The file's axes: y up, z forward; metres. It rests at ride height.",
        animation.truck,
        animation.bodies.len(),
        animation.clips.len(),
        if animation.clips.len() == 1 { "" } else { "s" },
    );
    let _ = writeln!(out, "{}\n", wrap(&head, text_width(), ""));
    let unit = units.name();
    let ends = |values: &mut dyn Iterator<Item = f64>| {
        let (least, greatest) = values.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), v| {
            (a.min(v), b.max(v))
        });
        format!("{} to {}", units.signed(least), units.signed(greatest))
    };
    let travel = format!("travel, {unit}");
    let rack = format!("rack, {unit}");
    let miss = format!("off by, {unit}");
    let mut list = table(&[
        ("animation", false),
        ("seconds", true),
        ("key frames", true),
        (&travel, true),
        (&rack, true),
        (&miss, true),
    ]);
    for clip in &animation.clips {
        list.add_row(vec![
            clip.name().to_owned(),
            format!("{:.1}", clip.seconds.last().unwrap_or(&0.0)),
            clip.seconds.len().to_string(),
            ends(&mut clip.travel_mm.iter().flatten().copied()),
            ends(&mut clip.rack_mm.iter().copied()),
            Toward::More.decimals(clip.miss_mm / units.in_mm(), 3),
        ]);
    }
    let _ = writeln!(out, "{list}\n");
    let text = "Travel counts from the measured position, bump positive, the rack toward the left. Between key frames \
                viewers draw straight lines: no point of a part was seen to be off by more than the last column.";
    let _ = writeln!(out, "{}", wrap(text, text_width(), ""));
    let [right, left] = animation.racks_mm;
    for (short, rack_mm, way) in [
        (animation.short_of_lock[0], right, "right"),
        (animation.short_of_lock[1], left, "left"),
    ] {
        if short {
            out.push_str(&bullet(&format!(
                "Steered {way}, it goes to rack {} only: beyond, a wheel drawn isn't free at the measured height.",
                units.signed(rack_mm)
            )));
        }
    }
    out.push_str("\nAssumed, and cautions\n");
    out.push_str(&bullet(
        "Full droop and full bump are the free travel's edge as the sweep has it, joined between steps of the rack. Parts \
         that turn with shaft or wheel are drawn as what they sweep.",
    ));
    for note in CAUTIONS {
        out.push_str(&bullet(note));
    }
    out
}
