//! How long a damper may be, as text.

use super::lengths::{Units, signed_degrees};
use super::{bullet, table, text_width, verdict_words, warnings_text, wrap};
use crate::findings::{
    BodyToOrder, CornerDamper, DamperFindings, DroopEnd, LengthFound, Status, StopId,
    TravelDirection,
};
use std::fmt::Write as _;

/// The whole page.
pub fn damper_text(findings: &DamperFindings, units: Units, status: Status) -> String {
    let mut out = String::new();
    let margin = units.at_least_with_unit(findings.margin_mm);
    let verdict = match status {
        Status::Clear => "CLEAR. What is fitted keeps the margin.",
        Status::Found => {
            "FOUND. What is fitted doesn't keep the margin, or the body bottoms first."
        }
        Status::NotChecked => "NOT FULLY CHECKED. Something stayed undecided; it is listed below.",
    };
    let head = format!(
        "{}: {verdict} Margin {margin} of wheel travel before anything else stops the wheel, at every steering \
         angle from lock to lock. Lengths are eye to eye, spacers included.",
        findings.truck
    );
    let _ = writeln!(out, "{}", wrap(&head, text_width(), ""));
    let corners = std::iter::once(&findings.worse).chain(&findings.other);
    for corner in corners {
        side(&mut out, corner, units);
    }
    out.push_str(&warnings_text(&findings.warnings, units));
    let guard = format!(
        "Proved for rigid parts as drawn, between the steering angles too; each length is bracketed within {} \
         mm. A tape is not that good: choose the margin for what it got wrong.",
        findings.tolerance_mm
    );
    let guard = units.reworded(&guard);
    let _ = writeln!(out, "\n{}", wrap(&guard, text_width(), ""));
    out.push_str("\nCautions\n");
    for caution in &findings.cautions {
        out.push_str(&bullet(caution));
    }
    out
}

fn side(out: &mut String, corner: &CornerDamper, units: Units) {
    let name = corner.side.name().to_uppercase();
    let longest = match corner.damper.safe_mm {
        Some(mm) => format!(
            "the damper may be {} {} long{}",
            units.at_most(mm),
            units.name(),
            if corner.damper.stop.is_none() {
                ", as far as was looked"
            } else {
                ""
            }
        ),
        None if corner.undecided.is_empty() => format!(
            "no damper is safe: {} is past its limit at the measured height already at rack {}",
            corner
                .damper
                .stop
                .as_ref()
                .map_or("a stop".to_owned(), StopId::name),
            corner
                .damper
                .rack_mm
                .map_or("?".to_owned(), |r| units.signed(r))
        ),
        None => "no damper length could be shown to be safe".to_owned(),
    };
    let droop = corner.droop_at_safe_mm.map_or(String::new(), |mm| {
        format!(
            ", which droops the wheel to {} from the measured position straight ahead",
            units.signed_free_to(mm, TravelDirection::Droop.sign())
        )
    });
    let _ = writeln!(
        out,
        "\n{}",
        wrap(&format!("{name}: {longest}{droop}."), text_width(), "  ")
    );
    let mut t = table(&[
        ("", false),
        ("safe", true),
        ("fitted", true),
        ("spare", true),
        ("what forbids more", false),
    ]);
    let optional = |mm: Option<f64>| mm.map_or("-".to_owned(), |mm| units.length(mm));
    let mut row = |name: &str, length: &LengthFound| {
        let least = name.ends_with("at least");
        let safe = length.safe_mm.map_or("none".to_owned(), |mm| {
            if least {
                units.at_least(mm)
            } else {
                units.at_most(mm)
            }
        });
        t.add_row([
            format!("{name}, {}", units.name()),
            safe,
            optional(length.fitted_mm),
            length
                .spare_mm
                .map_or("-".to_owned(), |mm| units.signed_at_most(mm)),
            reason(length, units),
        ]);
    };
    row("damper extended, at most", &corner.damper);
    if let Some(strap) = &corner.strap {
        row("limit strap, at most", strap);
    }
    row("damper crushed, at least", &corner.crush.shortest);
    if let Some(pad) = &corner.crush.pad {
        row("bump stop crushed, at least", pad);
    }
    let _ = writeln!(out, "{}", t.trim_fmt());
    if let Some(text) = droop_end(corner, units) {
        let _ = writeln!(out, "{}", wrap(&text, text_width(), ""));
    }
    if let Some(body) = &corner.body {
        let _ = writeln!(
            out,
            "{}",
            wrap(&to_order(corner, body, units), text_width(), "")
        );
    }

    let crush = &corner.crush;
    let beside = if crush.pad.is_some() {
        " beside the damper, with the damper"
    } else {
        ""
    };
    let text = match (crush.bump_stop_crushed_mm, crush.spare_mm) {
        (Some(crushed), Some(spare)) if spare >= 0.0 => format!(
            "The bump stop is fully crushed{beside} at {}: the damper body must close shorter than that, and the one fitted \
             does, at {}, with {} to spare.",
            units.with_unit(crushed),
            units.length(crush.closed_mm),
            units.at_most(spare)
        ),
        (Some(crushed), Some(spare)) => format!(
            "The bump stop would be fully crushed{beside} at {}, but the damper body is closed at {} already: it bottoms \
             {} before. Fit a longer bump stop or a body that closes shorter.",
            units.with_unit(crushed),
            units.length(crush.closed_mm),
            units.at_least(-spare)
        ),
        _ if crush.pad.is_some() => format!(
            "The bump stop isn't crushed as far as was looked; the body is closed at {}.",
            units.with_unit(crush.closed_mm)
        ),
        _ => format!(
            "No bump stop is given: the body itself ends the bump travel, closed at {}.",
            units.with_unit(crush.closed_mm)
        ),
    };
    let _ = writeln!(out, "{}", wrap(&text, text_width(), ""));
    if !corner.gains.is_empty() {
        out.push_str("To gain more droop\n");
    }
    let mut before: Option<&StopId> = corner.damper.stop.as_ref();
    for gain in &corner.gains {
        let then = gain.next_stop.as_ref().map_or_else(
            || "nothing else stops it as far as was looked".to_owned(),
            |stop| format!("then {}", stop.name()),
        );
        let change = format!(
            "change what makes `{}`",
            before.map_or("?".to_owned(), StopId::name)
        );
        let text = match (gain.safe_mm, gain.longer_mm, gain.travel_mm) {
            (_, Some(longer), Some(travel)) => format!(
                "{change}: {} more damper, {} more wheel travel straight ahead; {then}",
                units.at_most_with_unit(longer),
                units.at_most_with_unit(travel),
            ),
            (Some(safe), _, _) => format!(
                "{change}: the damper may then be {} {} long; {then}",
                units.at_most(safe),
                units.name()
            ),
            _ => format!("{change}: still no length is safe; {then}"),
        };
        out.push_str(&bullet(&text));
        before = gain.next_stop.as_ref();
    }
    for text in &corner.undecided {
        out.push_str(&bullet(&format!("UNDECIDED {}", units.reworded(text))));
    }
    for text in verdict_words::standing(&corner.standing, units, 0.0) {
        out.push_str(&bullet(&format!("Whatever its length: {text}")));
    }
}

/// Which of damper and strap ends the droop in time, where one of them alone does.
fn droop_end(corner: &CornerDamper, units: Units) -> Option<String> {
    let too_long = |length: &LengthFound| {
        let spare = length.spare_mm.filter(|spare| *spare < 0.0)?;
        Some(units.at_least_with_unit(-spare))
    };
    let strap = corner.strap.as_ref()?;
    match corner.ends_droop() {
        DroopEnd::Damper => too_long(strap).map(|by| {
            format!(
                "The limit strap is {by} longer than it may be by itself: the damper, extended, ends the droop in time without it."
            )
        }),
        DroopEnd::Strap => too_long(&corner.damper).map(|by| {
            format!(
                "The damper is {by} longer than it may be by itself: the limit strap alone ends the droop in time. Nothing else \
                 does where it is off, torn or stretched."
            )
        }),
        DroopEnd::Either | DroopEnd::Neither => None,
    }
}

/// The body to order. One that would bottom before the bump stop is crushed isn't told without saying where it has to close.
fn to_order(corner: &CornerDamper, body: &BodyToOrder, units: Units) -> String {
    let against = body.bump_stop.filter(|_| body.bottoms_first());
    let closing = against.map_or(String::new(), |against| {
        format!(
            " that closes at {} or shorter",
            units.at_most_with_unit(against.closed_at_most_mm)
        )
    });
    let spacers = if body.spacers_mm > 0.0 {
        format!("since spacers add {}", units.with_unit(body.spacers_mm))
    } else {
        "no spacer adding to it".to_owned()
    };
    // What must be shorter than the one fitted spares less than nothing.
    let way = if corner.damper.spare_mm.is_some_and(|spare| spare < 0.0) {
        "shorter"
    } else {
        "longer"
    };
    let text = format!(
        "To order: a body of at most {} {} extended by itself{closing}, {spacers}; if body and rod share what it is {way} \
         than the one fitted, it closes at {}",
        units.at_most(body.extended_mm),
        units.name(),
        units.with_unit(body.closed_mm)
    );
    match against {
        None => format!("{text}."),
        Some(against) => format!(
            "{text} and BOTTOMS {} before the bump stop is crushed: of that kind order no more than {} extended, or fit a \
             longer bump stop.",
            units.at_least_with_unit(-against.spare_mm),
            units.at_most_with_unit(against.extended_at_most_mm),
        ),
    }
}

/// What forbids more, and where.
fn reason(length: &LengthFound, units: Units) -> String {
    match (&length.stop, length.travel_mm, length.rack_mm) {
        (Some(stop), Some(travel), Some(rack)) => format!(
            "{} at travel {}, rack {}{}",
            stop.name(),
            units.signed(travel),
            units.signed(rack),
            length
                .steer_deg
                .map_or(String::new(), |s| format!(", steer {}", signed_degrees(s)))
        ),
        _ => "nothing as far as was looked".to_owned(),
    }
}
