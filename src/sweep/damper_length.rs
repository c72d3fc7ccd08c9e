//! The damper asked about as a fabricator does: how long, how short, what to change to gain more.

use super::free_travel::Region;
use super::line::TRAVEL_TOLERANCE_MM;
use super::own_side::{first_across, first_across_anywhere};
use super::rate_atlas::Atlas;
use super::safe_length::{LengthRates, SafeLength, safe_length};
use super::stops::{Guard, StopKind, removable_stops, stop_id};
use super::verdict::{own_side, past_at_ride_height, ride_height, standing_obligations};
use crate::findings::{
    BodyAgainstStop, BodyToOrder, CornerDamper, Crush, DamperFindings, DroopEnd, Gain, LengthFound,
    Obligation, Requirement, Status, StopId, TravelDirection, cautions, status_of,
};
use crate::kinematics::wheel_angles;
use crate::limits::{Bound, Limit, LimitId, LimitKind, Span};
use crate::setups::body_gains;
use crate::truck::{Corner, Truck};
use rayon::prelude::*;

/// How many stops further a fabricator looks.
const GAINS: usize = 3;

/// Longest safe damper and strap, shortest safe crush, for every corner. `margin_mm` is wheel travel.
pub fn damper_findings(truck: &Truck, margin_mm: f64) -> DamperFindings {
    let mut corners: Vec<CornerDamper> = truck
        .corners
        .par_iter()
        .map(|corner| corner_damper(corner, margin_mm))
        .collect();
    // What isn't known is worst.
    let safe = |c: &CornerDamper| c.damper.safe_mm.unwrap_or(f64::NEG_INFINITY);
    corners.sort_by(|a, b| safe(a).total_cmp(&safe(b)));
    let mut corners = corners.into_iter();
    let worse = corners
        .next()
        .unwrap_or_else(|| unreachable!("a truck has a corner"));
    DamperFindings {
        truck: truck.name.clone(),
        margin_mm,
        tolerance_mm: TRAVEL_TOLERANCE_MM,
        worse,
        other: corners.next(),
        warnings: truck.warnings.clone(),
        cautions: cautions(),
    }
}

/// Exit status: found where what is fitted is beyond what is safe, or the body bottoms before its bump stop is
/// crushed. What is told to order is told so that it doesn't.
pub fn damper_status(findings: &DamperFindings) -> Status {
    let corner = |c: &CornerDamper| {
        let beyond = |spare: Option<f64>| spare.is_some_and(|s| s < 0.0);
        let never = |f: &crate::findings::LengthFound| f.safe_mm.is_none();
        // What is wrong at every position no length mends; that the truck can't stand as it should, some length may.
        let (at_ride_height, others): (Vec<Obligation>, Vec<Obligation>) =
            (c.standing.iter().cloned()).partition(|o| o.requirement == Requirement::RideHeight);
        if !c.undecided.is_empty() || status_of(&others) != Status::Clear {
            Status::NotChecked
        } else if never(&c.damper)
            || never(&c.crush.shortest)
            || c.ends_droop() == DroopEnd::Neither
            || beyond(c.crush.spare_mm)
            || is_crushed_too_far(&c.crush)
        {
            Status::Found
        } else if status_of(&at_ride_height) == Status::Clear {
            Status::Clear
        } else {
            Status::NotChecked
        }
    };
    let other = findings.other.as_ref().map(corner);
    corner(&findings.worse).max(other.unwrap_or(Status::Clear))
}

/// Whether the bump goes on beyond what is safe: neither the stop nor the closed body ends it before, at every
/// steering angle.
fn is_crushed_too_far(crush: &Crush) -> bool {
    let beyond = |spare: Option<f64>| spare.is_some_and(|s| s < 0.0);
    match &crush.pad {
        None => beyond(crush.shortest.spare_mm),
        Some(pad) => {
            let closes_before = crush
                .shortest
                .safe_mm
                .is_some_and(|safe| crush.closed_mm >= safe);
            pad.safe_mm.is_none() || beyond(pad.spare_mm) && !closes_before
        }
    }
}

fn bound_of<'c>(corner: &'c Corner, id: &LimitId) -> Option<(&'c Span, f64)> {
    let limit: &Limit = corner.limits.iter().find(|l| l.id == *id)?;
    match &limit.kind {
        LimitKind::Length(length) => Some((
            &length.span,
            match length.bound {
                Bound::AtMost(mm) | Bound::AtLeast(mm) => mm,
            },
        )),
        _ => None,
    }
}

fn corner_damper(corner: &Corner, margin_mm: f64) -> CornerDamper {
    let atlas = Atlas::build(corner);
    let mut undecided = Vec::new();
    let mut standing = standing_obligations(corner);
    let margin = corner.greatest_gap_mm();
    // Over all that is searched it is soon seen; only where something comes to the middle is it asked where the wheel gets.
    let across = first_across_anywhere(corner, &atlas.domain, margin).and_then(|_| {
        let stops = removable_stops(corner);
        let travel_ends: Vec<StopId> = stops.into_iter().filter(ends_travel).collect();
        first_across(corner, &Region::of(corner, &travel_ends), margin)
    });
    standing.push(own_side(corner, across));
    let droop = TravelDirection::Droop;
    let guard = Guard::new(corner, &atlas, 1.0);
    standing.push(ride_height(corner, &past_at_ride_height(&guard)));
    let mut guard = guard
        .without(&[LimitId::DamperExtended, LimitId::LimitStrap].map(|id| StopId::Limit { id }));
    let rates = LengthRates::enclose(corner, &atlas.domain, &Span::Damper);
    let first = safe_length(&guard, &Span::Damper, &rates, droop, margin_mm);
    let fitted = bound_of(corner, &LimitId::DamperExtended).map(|(_, mm)| mm);
    let spare = |safe: Option<f64>, fitted: Option<f64>| Some(safe? - fitted?);
    let mut damper = found(corner, &first, "damper", &mut undecided);
    damper.fitted_mm = fitted;
    damper.spare_mm = spare(damper.safe_mm, fitted);
    // A length that only the search ends is no limit of what is fitted.
    let searched_less = settle(&first, &mut damper, "damper", &mut undecided);

    let strap = bound_of(corner, &LimitId::LimitStrap).map(|(span, fitted)| {
        let rates = LengthRates::enclose(corner, &atlas.domain, span);
        let result = safe_length(&guard, span, &rates, droop, margin_mm);
        let mut strap = found(corner, &result, "limit strap", &mut undecided);
        strap.fitted_mm = Some(fitted);
        strap.spare_mm = spare(strap.safe_mm, Some(fitted));
        settle(&result, &mut strap, "limit strap", &mut undecided);
        strap
    });

    let hangs = |length_mm: f64| corner.positioner.travel_at_damper_length(length_mm, 0.0);
    let mut gains: Vec<Gain> = Vec::new();
    let mut now = first;
    let mut without: Vec<StopId> = Vec::new();
    while gains.len() < GAINS {
        let (safe_mm, by) = match now {
            SafeLength::Limited { safe_mm, by } => (Some(safe_mm), by),
            SafeLength::Never { by } => (None, by),
            SafeLength::Unlimited { .. } | SafeLength::Undecided { .. } => break,
        };
        if by.stop == StopKind::EndOfReach {
            break;
        }
        // Changing a part takes away both its missing gap and its contact.
        let stops = match by.stop {
            StopKind::Tight(i) | StopKind::Contact(i) => {
                vec![StopKind::Contact(i), StopKind::Tight(i)]
            }
            other => vec![other],
        };
        let stops: Vec<StopId> = stops.iter().map(|s| stop_id(corner, *s)).collect();
        guard = guard.without(&stops);
        without.push(stop_id(corner, by.stop));
        let next = safe_length(&guard, &Span::Damper, &rates, droop, margin_mm);
        let then = next.proved_mm();
        let both = safe_mm.zip(then);
        gains.push(Gain {
            without: without.clone(),
            safe_mm: then,
            longer_mm: both.map(|(before, after)| after - before),
            travel_mm: both.and_then(|(before, after)| Some(hangs(before)? - hangs(after)?)),
            next_stop: match next {
                SafeLength::Limited { by, .. } | SafeLength::Never { by } => {
                    Some(stop_id(corner, by.stop))
                }
                _ => None,
            },
        });
        now = next;
    }

    let off = [LimitId::DamperCompressed, LimitId::BumpStopCrushed].map(|id| StopId::Limit { id });
    let guard = Guard::new(corner, &atlas, 1.0).without(&off);
    let bump = safe_length(
        &guard,
        &Span::Damper,
        &rates,
        TravelDirection::Bump,
        margin_mm,
    );
    let closed_mm = bound_of(corner, &LimitId::DamperCompressed).map_or(0.0, |(_, mm)| mm);
    let mut shortest = found(corner, &bump, "damper crushed", &mut undecided);
    let (crushed, pad) = match bound_of(corner, &LimitId::BumpStopCrushed) {
        None => (None, None),
        Some((Span::Damper, mm)) => (Some(mm), None),
        Some((span, mm)) => {
            let rates = LengthRates::enclose(corner, &atlas.domain, span);
            let bump = TravelDirection::Bump;
            let result = safe_length(&guard, span, &rates, bump, margin_mm);
            let mut pad = found(corner, &result, "bump stop crushed", &mut undecided);
            pad.fitted_mm = Some(mm);
            pad.spare_mm = spare(Some(mm), pad.safe_mm);
            settle(&result, &mut pad, "bump stop crushed", &mut undecided);
            let crushed = damper_where(corner, span, mm);
            // The damper's length there is looked at by steps; that the body isn't closed before is proved.
            let mut others = removable_stops(corner);
            others.retain(|stop| !stop.is_limit(&LimitId::DamperCompressed));
            let body = Guard::new(corner, &atlas, 1.0).without(&others);
            let closes_at = safe_length(&body, span, &rates, bump, 0.0).proved_mm();
            let is_proved = closes_at.is_some_and(|closes_at| mm >= closes_at);
            if !is_proved && crushed.is_none_or(|crushed| crushed >= closed_mm) {
                undecided.push(
                    "bump stop: whether the damper's body closes before it is crushed".to_owned(),
                );
            }
            (crushed, Some(pad))
        }
    };
    // Whichever comes first on the way up ends the motion.
    let ends_at = crushed.map_or(closed_mm, |mm| mm.max(closed_mm));
    shortest.fitted_mm = Some(ends_at);
    shortest.spare_mm = shortest.safe_mm.map(|safe| ends_at - safe);
    settle(&bump, &mut shortest, "damper crushed", &mut undecided);
    let body = (damper.safe_mm.zip(fitted))
        .filter(|_| !searched_less)
        .map(|(safe, fitted)| body_to_order(corner, [safe, fitted], closed_mm, crushed));
    CornerDamper {
        side: corner.side,
        droop_at_safe_mm: damper.safe_mm.and_then(hangs),
        body,
        damper,
        gains,
        strap,
        crush: Crush {
            bump_stop_crushed_mm: crushed,
            closed_mm,
            spare_mm: crushed.map(|mm| mm - closed_mm),
            shortest,
            pad,
        },
        undecided,
        standing,
    }
}

/// The body of the longest safe damper, beside one that is fitted: total lengths, extended. `crushed` is the damper's where the
/// bump stop is crushed.
fn body_to_order(
    corner: &Corner,
    [safe, fitted]: [f64; 2],
    closed_mm: f64,
    crushed: Option<f64>,
) -> BodyToOrder {
    let spacers_mm = corner.damper_spacers_mm;
    let gained_mm = body_gains(safe - fitted, None);
    let closed_now_mm = closed_mm + gained_mm;
    let bump_stop = crushed.map(|crushed| {
        // A stop on the rod goes with the body, so its room stays.
        let crushed_then = if corner.bump_stop_on_rod {
            crushed + gained_mm
        } else {
            crushed
        };
        let room_mm = crushed - closed_mm;
        let most_mm = if corner.bump_stop_on_rod {
            f64::INFINITY
        } else {
            fitted + room_mm / body_gains(1.0, None)
        };
        BodyAgainstStop {
            spare_mm: crushed_then - closed_now_mm,
            closed_at_most_mm: crushed_then - spacers_mm,
            extended_at_most_mm: most_mm.min(safe) - spacers_mm,
        }
    });
    BodyToOrder {
        spacers_mm,
        extended_mm: safe - spacers_mm,
        closed_mm: closed_now_mm - spacers_mm,
        bump_stop,
    }
}

/// Whether a stop is one that another damper, strap or bump stop moves.
fn ends_travel(stop: &StopId) -> bool {
    [
        LimitId::DamperExtended,
        LimitId::DamperCompressed,
        LimitId::LimitStrap,
        LimitId::BumpStopTouched,
        LimitId::BumpStopCrushed,
    ]
    .iter()
    .any(|id| stop.is_limit(id))
}

/// Rack positions from lock to lock at which the damper's length is looked at where a bump stop is crushed.
const CRUSH_RACKS: i32 = 8;

/// The damper's least length where the distance of a span on the way up is `distance_mm`. Where neither depends on
/// steering it is the same at every rack position.
fn damper_where(corner: &Corner, span: &Span, distance_mm: f64) -> Option<f64> {
    const STEPS: i32 = 400;
    let [low, high] = corner.rack_mm;
    let at_rack = |i: i32| {
        let rack_mm = low + (high - low) * f64::from(i) / f64::from(CRUSH_RACKS);
        let left = |travel_mm: f64| {
            let position = corner.position(travel_mm, rack_mm).ok()?;
            let linkage = &position.linkage;
            Some((span.length(linkage) - distance_mm, linkage.damper_mm))
        };
        let at = |i: i32| corner.search_mm[1] * f64::from(i) / f64::from(STEPS);
        let step = (0..STEPS).find(|i| left(at(i + 1)).is_some_and(|(left, _)| left <= 0.0))?;
        let (mut low, mut high) = (at(step), at(step + 1));
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if left(middle)?.0 <= 0.0 {
                high = middle;
            } else {
                low = middle;
            }
        }
        left(high).map(|(_, damper_mm)| damper_mm)
    };
    // None where the search ends before it is crushed, at one of them.
    (0..=CRUSH_RACKS).try_fold(f64::INFINITY, |least, i| Some(least.min(at_rack(i)?)))
}

/// Whether the search ended before what is fitted does, nothing else in the way till there: then nothing is known of what is
/// fitted, and nothing is spared.
fn settle(
    result: &SafeLength,
    length: &mut LengthFound,
    what: &str,
    undecided: &mut Vec<String>,
) -> bool {
    let SafeLength::Unlimited { searched_mm } = result else {
        return false;
    };
    let Some(fitted) = length
        .fitted_mm
        .filter(|_| length.spare_mm.is_some_and(|s| s < 0.0))
    else {
        return false;
    };
    length.spare_mm = None;
    undecided.push(format!(
        "{what}: nothing else stops the wheel up to {searched_mm:.1} mm, where the search ends, and what is fitted goes to \
         {fitted:.1} mm: widen `search`"
    ));
    true
}

fn found(
    corner: &Corner,
    result: &SafeLength,
    what: &str,
    undecided: &mut Vec<String>,
) -> LengthFound {
    let by = match result {
        SafeLength::Unlimited { .. } => None,
        SafeLength::Limited { by, .. } | SafeLength::Never { by } => Some(*by),
        SafeLength::Undecided { safe_mm, by } => {
            undecided.push(match safe_mm {
                Some(mm) => format!("{what}: safe to {mm:.2} mm, unknown beyond"),
                None => format!("{what}: no length could be shown to be safe"),
            });
            *by
        }
    };
    let steer = by.map(|by| {
        let position = corner.positioner.place(by.alpha, by.rack_mm);
        let radius = corner.loaded_radius_mm;
        wheel_angles(&corner.positioner.linkage, &position, corner.side, radius).steer_deg
    });
    LengthFound {
        safe_mm: result.proved_mm(),
        refuted_mm: by.map(|by| by.length_mm),
        stop: by.map(|by| stop_id(corner, by.stop)),
        travel_mm: by.map(|by| by.travel_mm),
        rack_mm: by.map(|by| by.rack_mm),
        steer_deg: steer.filter(|s| s.is_finite()),
        fitted_mm: None,
        spare_mm: None,
    }
}
