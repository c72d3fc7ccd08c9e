//! Verdict, requirements and what stayed undecided, in words.

use super::lengths::Units;
use crate::findings::{
    ContactClass, Disagreement, EndedBy, Exclusion, Obligation, OpenEnd, Outcome, PairSums,
    PastAtRideHeight, Place, Requirement, RestingGap, SaidOfGap, StopId, Undecided, Verdict,
};
use crate::suspension::drawn_part;
use crate::truck::touches;

/// A kind of contact, as a sentence begins with it.
pub fn contact_class(class: ContactClass) -> &'static str {
    match class {
        ContactClass::Metal => "metal contact",
        ContactClass::TyreRub => "tyre rub",
    }
}

/// A position. Travel counts from the datum.
fn place_words(place: &Place, units: Units, datum_mm: f64) -> String {
    let rack = format!("rack {} {}", units.signed(place.rack_mm), units.name());
    match place.travel_mm {
        Some(travel_mm) => format!("travel {}, {rack}", units.signed(travel_mm - datum_mm)),
        None => format!("{rack}, out of reach"),
    }
}

/// A position up to which something is kept: its travel is told no further out than it is.
fn kept_to_words(place: &Place, units: Units, datum_mm: f64) -> String {
    let rack = format!("rack {} {}", units.signed(place.rack_mm), units.name());
    match place.travel_mm {
        Some(travel_mm) => format!(
            "travel {}, {rack}",
            units.signed_free_to(travel_mm - datum_mm, travel_mm)
        ),
        None => format!("{rack}, out of reach"),
    }
}

/// Where a free travel ends at nothing that is meant to end it, and what to do. Travel counts from the datum.
pub fn open_end(end: &OpenEnd, units: Units, datum_mm: f64) -> String {
    let side = end.side.name();
    let at = (end.at).map_or_else(
        || "every position".to_owned(),
        |at| place_words(&at, units, datum_mm),
    );
    match &end.by {
        EndedBy::Search { direction } => format!(
            "{side}: the search ended in {} at {at} before any intended stop, so nothing is known beyond; widen `search`",
            direction.name(),
        ),
        EndedBy::RideHeight { stop } => format!(
            "{side}: ride height is past {}, at {at}, so the truck doesn't stand where the scene says; mend that first, as \
             `sweep` shows",
            stop.name(),
        ),
        EndedBy::Stop { stop } => format!(
            "{side}: {} ends the travel at {at} before any intended stop, so nothing is known beyond; mend it first, as `sweep` \
             shows",
            stop.name(),
        ),
    }
}

/// Why something is undecided. Travel counts from the datum.
pub fn undecided(why: &Undecided, units: Units, datum_mm: f64) -> String {
    let at = |place: &Place| place_words(place, units, datum_mm);
    match why {
        Undecided::NotSettled { stop, at: place } => format!(
            "{}: neither shown to be kept nor seen to be violated near {}",
            stop.name(),
            at(place)
        ),
        Undecided::NotShownReachable { stop, at: place } => format!(
            "{}: violated at {}, which the wheel may or may not reach",
            stop.name(),
            at(place)
        ),
        Undecided::WorkLimit { stop, at: place } => format!(
            "{}: kept up to {}, not decided beyond",
            stop.name(),
            kept_to_words(place, units, datum_mm)
        ),
        Undecided::SearchEnded {
            direction,
            at: place,
        } => format!(
            "the search ended in {} at {} before any intended stop; widen `search`",
            direction.name(),
            at(place)
        ),
        Undecided::FirstContact {
            direction,
            class,
            proved_to_mm,
            touches_at_mm,
        } => {
            let beyond = match touches_at_mm {
                None => "beyond that it was not decided: a wider `search` may settle it".to_owned(),
                Some(at) => format!(
                    "something touches at travel {}, and whether anything does between the two was not decided",
                    units.signed(at - datum_mm)
                ),
            };
            format!(
                "first {} in {}: nothing touches up to travel {} {} at any rack position; {beyond}",
                contact_class(*class),
                direction.name(),
                units.signed_free_to(proved_to_mm - datum_mm, direction.sign()),
                units.name()
            )
        }
        Undecided::AcrossMiddle { part } => format!(
            "{part} comes to the truck's middle or across it, nearer than the greatest gap required, and what the other side moves there is not looked at"
        ),
        Undecided::NothingWatched => {
            "no pair is watched: contact and gaps were not checked".to_owned()
        }
        Undecided::SecondLook { by } => disagreement(by, units, datum_mm),
        Undecided::Contradiction { stop, at: place } => format!(
            "{}: two searches contradict each other at {}; this is a defect of the program, please report it",
            stop.name(),
            at(place)
        ),
    }
}

/// What parry3d contradicts. Gaps are in mm to four decimals, whatever the unit: both ways differ by less than a tape shows.
pub fn disagreement(by: &Disagreement, units: Units, datum_mm: f64) -> String {
    let ours = match by.ours {
        SaidOfGap::Is(mm) => format!("{mm:.4} mm"),
        SaidOfGap::NoMoreThan(mm) => format!("no more than {mm:.4} mm"),
        SaidOfGap::NoLessThan(mm) => format!("no less than {mm:.4} mm"),
    };
    let theirs = match by.theirs_mm {
        (lower, Some(upper)) => format!("{lower:.4} to {upper:.4} mm"),
        (lower, None) => format!("no less than {lower:.4} mm"),
    };
    format!(
        "{} - {}, {} at travel {}, rack {} {}: the gap is {ours} by one way and {theirs} by parry3d, at least {:.6} \
         mm apart",
        by.a,
        by.b,
        by.reported.name(),
        units.signed(by.travel_mm - datum_mm),
        units.signed(by.rack_mm),
        units.name(),
        by.difference_mm
    )
}

/// What ride height is past, with where.
pub fn past_at_ride_height(past: &PastAtRideHeight) -> String {
    format!("{} {}", past.stop.name(), past.steered.name())
}

/// Each violation in a line.
pub fn violations(verdict: &Verdict, units: Units, datum_mm: f64) -> Vec<String> {
    let mut told: Vec<StopId> = Vec::new();
    verdict
        .violations()
        // Of a spring's or a boot's slices the first stands for all.
        .filter(|(_, stop, _)| {
            let drawn = stop.of_drawn_parts();
            let is_new = !told.contains(&drawn);
            told.push(drawn);
            is_new
        })
        .map(|(requirement, stop, at)| violation(requirement, stop, at, units, datum_mm))
        .collect()
}

fn violation(
    requirement: &Requirement,
    stop: &StopId,
    at: Option<Place>,
    units: Units,
    datum_mm: f64,
) -> String {
    let at_rest = matches!(requirement, Requirement::Gap { at_rest: true, .. });
    let place = match (at, at_rest) {
        (Some(at), _) => format!("at {}", place_words(&at, units, datum_mm)),
        (None, _) if matches!(requirement, Requirement::Limit { .. }) => {
            "at every position".to_owned()
        }
        (None, _) if *requirement == Requirement::BumpStopFirst => "here".to_owned(),
        (None, true) => "as drawn; the two don't move against each other".to_owned(),
        (None, false) => "as measured".to_owned(),
    };
    let required = match requirement {
        Requirement::Gap { required_mm, .. } if !stop.blocks() => {
            format!(", below {}", units.at_least_with_unit(*required_mm))
        }
        Requirement::RideHeight => ", which ride height is past".to_owned(),
        Requirement::BumpStopFirst => ", before the bump stop is crushed".to_owned(),
        _ => String::new(),
    };
    format!("{}{required}: {place}", stop.name())
}

/// Pairs that are left out by name, each with its reason: one text a reason, all that have it together.
pub fn by_reason<'p>(pairs: impl Iterator<Item = [&'p str; 3]>) -> Vec<String> {
    let mut reasons: Vec<(&str, Vec<String>)> = Vec::new();
    for [a, b, why] in pairs {
        // A spring or a boot is one part to who drew it.
        let pair = format!("{} - {}", drawn_part(a), drawn_part(b));
        match reasons.iter_mut().find(|(reason, _)| *reason == why) {
            Some((_, pairs)) if pairs.contains(&pair) => {}
            Some((_, pairs)) => pairs.push(pair),
            None => reasons.push((why, vec![pair])),
        }
    }
    let texts = reasons.iter();
    texts
        .map(|(why, pairs)| format!("{}: {why}", pairs.join(", ")))
        .collect()
}

/// What is the same at every position and not simply kept, a line each: what is violated and what is undecided. What is left
/// out by name comes last, all of it in one line.
pub fn standing(obligations: &[Obligation], units: Units, datum_mm: f64) -> Vec<String> {
    let line = |obligation: &Obligation| match &obligation.outcome {
        Outcome::Proved => None,
        Outcome::Violated { stop, at } => Some(violation(
            &obligation.requirement,
            stop,
            *at,
            units,
            datum_mm,
        )),
        Outcome::Undecided { why } => Some(undecided(why, units, datum_mm)),
        // Together, below.
        Outcome::Excluded { .. } => None,
    };
    let mut lines: Vec<String> = obligations.iter().filter_map(line).collect();
    let named = obligations
        .iter()
        .filter_map(|o| match (&o.requirement, &o.outcome) {
            (
                Requirement::Gap { a, b, .. },
                Outcome::Excluded {
                    by: Exclusion::Joined { why },
                },
            ) => Some([a.as_str(), b, why]),
            _ => None,
        });
    let count = named.clone().count();
    if count > 0 {
        let pairs = if count == 1 { "pair is" } else { "pairs are" };
        let listed = by_reason(named).join("; ");
        lines.push(format!(
            "{count} {pairs} left out by name, not checked: {listed}"
        ));
    }
    lines
}

/// A pair at rest in a line.
pub fn resting_gap(gap: &RestingGap, units: Units) -> String {
    let ([there], required) = units.against([gap.gap_mm], gap.required_mm);
    let unit = units.name();
    let room = match gap.depth_mm {
        Some(depth) => format!("overlap, about {} deep", units.at_least_with_unit(depth)),
        None if touches(gap.gap_mm) => "touch or overlap".to_owned(),
        None => format!("gap {there} {unit}"),
    };
    format!("{} - {}: {room}, required {required} {unit}", gap.a, gap.b)
}

/// What became of the pairs, and of all that was asked.
pub fn sums(verdict: &Verdict) -> String {
    let PairSums {
        matched,
        moving_proved,
        moving_violated,
        moving_undecided,
        resting_checked,
        resting_violated,
        excluded,
        one_body,
    } = verdict.pairs;
    let others = verdict
        .obligations
        .iter()
        .filter(|o| !matches!(o.requirement, Requirement::Gap { .. }));
    let (mut asked, mut kept) = (0, 0);
    for other in others {
        asked += 1;
        kept += usize::from(matches!(
            other.outcome,
            Outcome::Proved | Outcome::Excluded { .. }
        ));
    }
    let at_rest = match resting_violated {
        0 => "at rest and checked once".to_owned(),
        n => format!("at rest and checked once, {n} of them violated,"),
    };
    format!(
        "Pairs: {matched} watched = {moving_proved} moving and proved + {moving_violated} violated + \
         {moving_undecided} undecided + {resting_checked} {at_rest} + {excluded} left out by name + \
         {one_body} of one body. Limits and the rest: {kept} of {asked} kept."
    )
}
