//! Verdict, requirements and what stayed undecided, in words.

use super::lengths::{Units, signed_degrees};
use crate::findings::{
    ContactClass, Outcome, PairSums, PastAtRideHeight, Place, Requirement, RestingGap, Undecided,
    Verdict,
};

/// A kind of contact, as a sentence begins with it.
pub fn contact_class(class: ContactClass) -> &'static str {
    match class {
        ContactClass::Metal => "metal contact",
        ContactClass::TyreRub => "tyre rub",
    }
}

/// Why something is undecided. Travel counts from the datum.
pub fn undecided(why: &Undecided, units: Units, datum_mm: f64) -> String {
    let at = |place: &Place| {
        format!(
            "travel {}, rack {} {}",
            units.signed(place.travel_mm - datum_mm),
            units.signed(place.rack_mm),
            units.name()
        )
    };
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
            "{}: kept up to {}, unknown beyond: the work limit was reached",
            stop.name(),
            at(place)
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
        } => format!(
            "first {} in {}: nothing touches up to travel {} {} at any rack position; beyond that the work limit \
             was reached",
            contact_class(*class),
            direction.name(),
            units.signed(proved_to_mm - datum_mm),
            units.name()
        ),
        Undecided::NothingWatched => {
            "no pair is watched: contact and gaps were not checked".to_owned()
        }
        Undecided::Contradiction { stop, at: place } => format!(
            "{}: two searches contradict each other at {}; this is a defect of the program, please report it",
            stop.name(),
            at(place)
        ),
    }
}

/// What ride height is past, with where.
pub fn past_at_ride_height(past: &PastAtRideHeight, units: Units) -> String {
    if past.rack_mm == 0.0 {
        return format!("{} straight ahead", past.stop.name());
    }
    let lock = match past.steer_deg {
        Some(deg) if deg >= 0.0 => format!("full left (steer {})", signed_degrees(deg)),
        Some(deg) => format!("full right (steer {})", signed_degrees(deg)),
        None => format!("rack {} {}", units.signed(past.rack_mm), units.name()),
    };
    format!("{} {lock}", past.stop.name())
}

/// Each violation in a line.
pub fn violations(verdict: &Verdict, units: Units, datum_mm: f64) -> Vec<String> {
    let line = |requirement: &Requirement, stop: &crate::findings::StopId, at: Option<Place>| {
        let at_rest = matches!(requirement, Requirement::Gap { at_rest: true, .. });
        let place = match (at, at_rest) {
            (Some(at), _) => format!(
                "at travel {}, rack {}",
                units.signed(at.travel_mm - datum_mm),
                units.signed(at.rack_mm)
            ),
            (None, true) => "as drawn; the two don't move against each other".to_owned(),
            (None, false) => "as measured".to_owned(),
        };
        let required = match requirement {
            Requirement::Gap { required_mm, .. } if !stop.blocks() => {
                format!(", below {}", units.with_unit(*required_mm))
            }
            Requirement::RideHeight => ", which ride height is past".to_owned(),
            _ => String::new(),
        };
        format!("{}{required}: {place}", stop.name())
    };
    verdict
        .violations()
        .map(|(requirement, stop, at)| line(requirement, stop, at))
        .collect()
}

/// A pair at rest in a line.
pub fn resting_gap(gap: &RestingGap, units: Units) -> String {
    let room = match gap.depth_mm {
        Some(depth) => format!("overlap, about {} deep", units.with_unit(depth)),
        None if gap.gap_mm == 0.0 => "touch or overlap".to_owned(),
        None => format!("gap {}", units.with_unit(gap.gap_mm)),
    };
    format!(
        "{} - {}: {room}, required {}",
        gap.a,
        gap.b,
        units.with_unit(gap.required_mm)
    )
}

/// What became of the pairs, and of all that was asked.
pub fn sums(verdict: &Verdict) -> String {
    let PairSums {
        matched,
        moving_proved,
        moving_violated,
        moving_undecided,
        resting_checked,
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
    format!(
        "Pairs: {matched} watched = {moving_proved} moving and proved + {moving_violated} violated + \
         {moving_undecided} undecided + {resting_checked} at rest and checked once + {excluded} left out by name + \
         {one_body} of one body. Limits and the rest: {kept} of {asked} kept."
    )
}
