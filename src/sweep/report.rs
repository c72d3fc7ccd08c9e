//! A corner swept, as findings: the one call that command line and viewer make.

use super::first_contact::{FirstTouch, Witness, first_touch};
use super::free_travel::Region;
use super::line::{Crossing, Line, TRAVEL_TOLERANCE_MM, first_crossing};
use super::rate_atlas::Atlas;
use super::reached_locks::reached_locks_mm;
use super::second_look;
use super::stop_order::{LineStops, named, stops_on_line};
use super::stops::{Guard, StopKind, all_stops, is_intended, stop_id};
use super::tape::tape;
use super::tightest_gaps::tightest_gaps;
use super::verdict::{obligations_at, past_at_ride_height, place, verdict};
use super::weaker_side::weaker_side;
use crate::findings::{
    ContactClass, CornerFindings, Extreme, FirstContact, FreeMap, FreeSteer, FreeTravel, GapFound,
    GuardReport, LimitState, Obligation, Outcome, PastAtRideHeight, Place, PositionFindings,
    Requirement, RestingGap, SecondLook, Status, StopId, StopOrder, SweepFindings, TightGap,
    TravelDirection, TravelEnd, Undecided, Verdict, cautions,
};
use crate::kinematics::{Position, wheel_angles};
use crate::numbers::{Dual, Real};
use crate::suspension::{Locks, Side};
use crate::truck::{Corner, Truck};
use nalgebra::Vector3;
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::sync::{Mutex, PoisonError};

/// What to sweep.
#[derive(Clone, Debug)]
pub struct SweepOptions {
    /// Rack positions from lock to lock at which the stop order is listed, at least 3, odd.
    pub rack_positions: usize,
    /// Whether the map's cells are kept in the findings.
    pub with_map_cells: bool,
    /// Stops taken off, by name, as if their part were unbolted. See
    /// [`removable_stops`](super::removable_stops).
    pub without: Vec<StopId>,
    /// Motion bounds are multiplied by this. Leave it at 1: a test sets it lower to show that a bound
    /// that is too small is caught.
    pub bound_factor: f64,
}

impl Default for SweepOptions {
    fn default() -> Self {
        SweepOptions {
            rack_positions: 9,
            with_map_cells: false,
            without: Vec::new(),
            bound_factor: 1.0,
        }
    }
}

/// Sweeps every corner of a truck. `progress` is told each finished step and its share of the whole.
pub fn sweep(
    truck: &Truck,
    options: &SweepOptions,
    progress: &(dyn Fn(&str, f64) + Sync),
) -> SweepFindings {
    // Both corners are swept at the same time: what is done of them is counted together.
    let done = Mutex::new(vec![0.0; truck.corners.len()]);
    let mut corners: Vec<CornerFindings> = truck
        .corners
        .par_iter()
        .enumerate()
        .map(|(i, corner)| {
            sweep_corner(corner, options, &|step, share| {
                let mut done = done.lock().unwrap_or_else(PoisonError::into_inner);
                done[i] = share;
                progress(step, done.iter().sum::<f64>() / done.len() as f64);
            })
        })
        .collect();
    let mut weaker_by = None;
    if let [first, second] = &corners[..]
        && let Some((by, is_second)) = weaker_side(first, second, truck.scene_unit)
    {
        weaker_by = Some(by);
        if is_second {
            corners.swap(0, 1);
        }
    }
    let mut warnings = truck.warnings.clone();
    if !options.without.is_empty() {
        warnings.push(format!(
            "taken off, as if unbolted: {}",
            options
                .without
                .iter()
                .map(StopId::name)
                .collect::<Vec<_>>()
                .join(", ")
        ));
    }
    let mut corners = corners.into_iter();
    let worse = corners
        .next()
        .unwrap_or_else(|| unreachable!("a truck has a corner"));
    SweepFindings {
        truck: truck.name.clone(),
        worse,
        other: corners.next(),
        weaker_by,
        needs: truck.needs.clone(),
        warnings,
        cautions: cautions(),
    }
}

/// Exit status of a sweep.
pub fn status(findings: &SweepFindings) -> Status {
    let other = findings.other.as_ref().map(corner_status);
    corner_status(&findings.worse).max(other.unwrap_or(Status::Clear))
}

/// The same of one corner: what its verdict says.
pub fn corner_status(found: &CornerFindings) -> Status {
    found.verdict.status()
}

/// Rack positions to list beside straight ahead, from the rack toward -y to the rack toward +y: from the one lock evenly inward, and evenly
/// outward to the other.
fn rack_positions(locks_mm: [f64; 2], count: usize) -> (Vec<f64>, Vec<f64>) {
    let half = (count.max(3) - 1) / 2;
    // The lock itself is taken as it is: rounding must not put it outside the rectangle.
    let step = |lock: f64, i: usize| {
        if i == half {
            lock
        } else {
            lock * i as f64 / half as f64
        }
    };
    let right = (1..=half).rev().map(|i| step(locks_mm[0], i));
    let left = (1..=half).map(|i| step(locks_mm[1], i));
    (right.collect(), left.collect())
}

/// What the searches of one corner found.
struct Found {
    /// Rack at the locks that are reached, mm.
    locks_mm: [f64; 2],
    /// Stops in droop and in bump, one pair a rack position.
    lines: Vec<[LineStops; 2]>,
    region: Region,
    /// First touches of each kind, in droop and in bump.
    touches: [[FirstTouch; 2]; 2],
    tightest_gaps: Vec<TightGap>,
}

impl Found {
    fn search(guard: &Guard, rack_count: usize, progress: &dyn Fn(&str, f64)) -> Found {
        let stops_at = |rack: f64| TravelDirection::BOTH.map(|way| stops_on_line(guard, rack, way));
        let straight = stops_at(0.0);
        let locks_mm = reached_locks_mm(guard, &straight);
        let (right, left) = rack_positions(locks_mm, rack_count);
        let lines: Vec<[LineStops; 2]> = (right.into_iter().map(stops_at))
            .chain([straight])
            .chain(left.into_iter().map(stops_at))
            .collect();
        progress("stops found", 0.4);
        let region = Region::map(guard);
        progress("free region mapped", 0.6);
        let all: Vec<&LineStops> = lines.iter().flatten().collect();
        let touches = ContactClass::BOTH.map(|class| {
            let (droop, bump) = rayon::join(
                || first_touch(guard, class, TravelDirection::Droop, &all),
                || first_touch(guard, class, TravelDirection::Bump, &all),
            );
            [droop, bump]
        });
        progress("first contact found", 0.8);
        // Where ride height itself is past an intended stop, no wheel is there.
        let is_past = |(alpha, rack_mm): &(f64, f64)| {
            let mut intended = (guard.stops.iter()).filter(|s| is_intended(guard.corner, **s));
            intended.any(|stop| guard.violated_at(*stop, *alpha, *rack_mm, None))
        };
        let mut ends: Vec<(f64, f64)> = all.iter().map(|l| (l.free_to(), l.rack_mm)).collect();
        ends.retain(|end| !is_past(end));
        let tightest_gaps = tightest_gaps(guard, &region, &ends);
        progress("tightest gaps found", 0.9);
        Found {
            locks_mm,
            lines,
            region,
            touches,
            tightest_gaps,
        }
    }
}

/// First contacts as findings, and what the searches left open.
#[derive(Default)]
struct Contacts {
    first: Vec<FirstContact>,
    /// Travel up to which nothing touches, by kind, in droop and in bump.
    none_to_mm: [[Option<f64>; 2]; 2],
    /// What the searches left open. They go on beyond the intended stops, where no wheel gets: what stays open there says
    /// nothing against a verdict over what it reaches.
    undecided: Vec<Undecided>,
}

impl Contacts {
    fn of(guard: &Guard, touches: &[[FirstTouch; 2]; 2]) -> Contacts {
        let mut out = Contacts::default();
        for (k, class) in ContactClass::BOTH.into_iter().enumerate() {
            for (i, direction) in TravelDirection::BOTH.into_iter().enumerate() {
                let (witness, proved_mm) = match &touches[k][i] {
                    FirstTouch::Clear { searched_mm } => {
                        out.none_to_mm[k][i] = Some(*searched_mm);
                        (None, *searched_mm)
                    }
                    FirstTouch::Touch { witness, proved_mm } => (Some(*witness), *proved_mm),
                    FirstTouch::Undecided { witness, proved_mm } => {
                        out.undecided.push(Undecided::FirstContact {
                            direction,
                            class,
                            proved_to_mm: *proved_mm,
                            touches_at_mm: witness.map(|witness| witness.travel_mm),
                        });
                        (*witness, *proved_mm)
                    }
                };
                out.first.extend(witness.map(|witness| {
                    let before = stops_before(guard, &witness, direction);
                    let mut contact =
                        contact_record(guard.corner, &witness, proved_mm, direction, before);
                    contact.class = class;
                    contact
                }));
            }
        }
        out
    }

    /// The one at the least travel, either way.
    fn first_of(&self, class: ContactClass) -> Option<FirstContact> {
        let own = self.first.iter().filter(|c| c.class == class);
        own.min_by(|a, b| a.travel_mm.abs().total_cmp(&b.travel_mm.abs()))
            .cloned()
    }
}

/// Sweeps one corner.
pub fn sweep_corner(
    corner: &Corner,
    options: &SweepOptions,
    progress: &(dyn Fn(&str, f64) + Sync),
) -> CornerFindings {
    let atlas = Atlas::build(corner);
    let guard = Guard::new(corner, &atlas, options.bound_factor).without(&options.without);
    progress("rates enclosed", 0.1);
    let Found {
        locks_mm,
        lines,
        mut region,
        touches,
        mut tightest_gaps,
    } = Found::search(&guard, options.rack_positions, progress);
    let straight = &lines[lines.len() / 2];

    let past = past_at_ride_height(&guard);
    let mut verdict = verdict(&guard, &region, &past);
    progress("verdict derived", 0.95);
    let contacts = Contacts::of(&guard, &touches);
    add_contradictions(&guard, &mut verdict, &lines, &contacts.first);

    raise_gap_bounds(&verdict, &mut tightest_gaps);
    region.settle(corner, proved_stops(corner, &verdict));
    let map = region.findings(corner, options.with_map_cells);
    let second_look = second_look::of_sweep(&guard, &lines, &touches, &tightest_gaps);
    verdict
        .obligations
        .push(second_look_obligation(&second_look));
    let mut undecided: Vec<Undecided> = verdict.undecided().cloned().collect();
    undecided.extend(contacts.undecided.iter().cloned());
    let others = second_look.disagreements.iter().skip(1).cloned();
    undecided.extend(others.map(|by| Undecided::SecondLook { by }));
    undecided.extend(undecided_on_lines(&guard, &lines));
    let told = [0, lines.len() / 2, lines.len() - 1];
    CornerFindings {
        side: corner.side,
        ride_height_mm: corner.ride_height_mm,
        locks: Locks::of(&corner.positioner.linkage, corner.side, locks_mm),
        bump_stop_touched_mm: bump_stop_touched(corner, straight),
        stop_order: lines.iter().flatten().map(|l| named(&guard, l)).collect(),
        free_travel: lines.iter().map(|pair| free_travel(corner, pair)).collect(),
        free_steer: free_steer(&guard, straight),
        first_contact: contacts.first_of(ContactClass::Metal),
        first_tyre_rub: contacts.first_of(ContactClass::TyreRub),
        no_contact_to_mm: contacts.none_to_mm[0],
        no_tyre_rub_to_mm: contacts.none_to_mm[1],
        first_contacts: contacts.first,
        resting_gaps: resting_gaps(corner),
        extremes: told
            .iter()
            .flat_map(|i| extremes(corner, &lines[*i]))
            .collect(),
        tightest_gaps,
        guard: GuardReport {
            travel_tolerance_mm: TRAVEL_TOLERANCE_MM,
            undecided_share: map.shares.undecided,
            distance_queries: guard.distance_queries(),
        },
        second_look,
        map,
        undecided,
        joined: corner
            .joined
            .iter()
            .map(|j| [j.a.clone(), j.b.clone(), j.why.clone()])
            .collect(),
        roll_held: corner
            .roll_held
            .iter()
            .map(|r| [r.name.to_owned(), r.why.clone()])
            .collect(),
        overlaps: corner
            .overlaps
            .iter()
            .map(|o| [o.a.clone(), o.b.clone()])
            .collect(),
        past_at_ride_height: past
            .into_iter()
            .map(|(stop, at)| past_found(corner, stop, at))
            .collect(),
        bind_before_intended: verdict.is_violated(),
        verdict,
    }
}

/// Whether parry3d confirms what is reported; the first contradiction stands for all.
fn second_look_obligation(look: &SecondLook) -> Obligation {
    Obligation {
        requirement: Requirement::SecondLook,
        outcome: match look.disagreements.first() {
            None => Outcome::Proved,
            Some(first) => Outcome::Undecided {
                why: Undecided::SecondLook { by: first.clone() },
            },
        },
    }
}

/// Pairs at rest to each other, least room first.
fn resting_gaps(corner: &Corner) -> Vec<RestingGap> {
    let mut out: Vec<RestingGap> = corner
        .resting
        .iter()
        .map(|resting| RestingGap {
            a: corner.parts[resting.pair.a].name.clone(),
            b: corner.parts[resting.pair.b].name.clone(),
            gap_mm: resting.gap_mm,
            depth_mm: resting.depth_mm,
            required_mm: resting.pair.required_mm,
            kept: resting.keeps_gap(),
            point_a_mm: resting.points_mm[0].into(),
            point_b_mm: resting.points_mm[1].into(),
        })
        .collect();
    let room = |gap: &RestingGap| gap.gap_mm - gap.required_mm - gap.depth_mm.unwrap_or(0.0);
    out.sort_by(|a, b| {
        room(a)
            .total_cmp(&room(b))
            .then_with(|| (&a.a, &a.b).cmp(&(&b.a, &b.b)))
    });
    out
}

/// Where a pair's requirement is proved, its least gap is at least what is required.
fn raise_gap_bounds(verdict: &Verdict, gaps: &mut [TightGap]) {
    for gap in gaps {
        let is_own = |r: &Requirement| matches!(r, Requirement::Gap { a, b, at_rest: false, .. } if *a == gap.a && *b == gap.b);
        let own = verdict.obligations.iter().find(|o| is_own(&o.requirement));
        if own.is_some_and(|o| o.outcome == Outcome::Proved) {
            gap.at_least_mm = gap.at_least_mm.max(gap.required_mm.min(gap.gap_mm));
        }
    }
}

/// Which stops the verdict has proved kept at every position that is reached.
fn proved_stops(corner: &Corner, verdict: &Verdict) -> impl Fn(StopKind) -> bool {
    let proved: Vec<&Requirement> = verdict
        .obligations
        .iter()
        .filter(|o| o.outcome == Outcome::Proved)
        .map(|o| &o.requirement)
        .collect();
    let is_proved = |stop: StopKind| {
        let stop = stop_id(corner, stop);
        proved.iter().any(|requirement| match requirement {
            Requirement::Gap { a, b, at_rest, .. } => !at_rest && stop.pair() == Some((a, b)),
            Requirement::Limit { id } => stop.is_limit(id),
            Requirement::Reach => stop == StopId::EndOfReach,
            Requirement::IntendedStop { .. }
            | Requirement::BumpStopFirst
            | Requirement::RideHeight
            | Requirement::SecondLook
            | Requirement::OwnSide
            | Requirement::SomethingWatched => false,
        })
    };
    let kept: Vec<StopKind> = all_stops(corner)
        .into_iter()
        .filter(|stop| is_proved(*stop))
        .collect();
    move |stop| kept.contains(&stop)
}

/// The lines of single rack positions and the search for the first contact ask about the same stops by other ways. Where
/// the verdict is clear and one of them saw a bind, a contact or a missing gap before the intended stops, one of the two is
/// wrong: the answer is undecided then, never clear.
fn add_contradictions(
    guard: &Guard,
    verdict: &mut Verdict,
    lines: &[[LineStops; 2]],
    contacts: &[FirstContact],
) {
    if verdict.status() != Status::Clear {
        return;
    }
    let corner = guard.corner;
    let intended_kept = |alpha: f64, rack_mm: f64| {
        guard
            .stops
            .iter()
            .filter(|s| is_intended(corner, **s))
            .all(|s| !guard.violated_at(*s, alpha, rack_mm, None))
    };
    let mut seen: Vec<(StopId, Place)> = Vec::new();
    for line in lines.iter().flatten() {
        let bind = line.met.iter().find(|m| {
            !is_intended(corner, m.stop) && !m.graze && intended_kept(m.stopped_at, line.rack_mm)
        });
        // An intended stop that ends before this one may let the wheel pass again behind it.
        let first = bind.filter(|bind| {
            let mut before = line.met_before(bind.stopped_at);
            before.all(|m| !is_intended(corner, m.stop))
        });
        if let Some(met) = first {
            let at = place(corner, (met.stopped_at, line.rack_mm));
            seen.push((stop_id(corner, met.stop), at));
        }
    }
    // With an intended stop taken off there may be none before.
    let is_whole = (0..corner.limits.len())
        .map(StopKind::Limit)
        .all(|s| !(is_intended(corner, s) && guard.is_taken_off(s)));
    for contact in contacts
        .iter()
        .filter(|c| is_whole && !c.intended_stop_before)
    {
        let (a, b) = (contact.a.clone(), contact.b.clone());
        let at = Place {
            travel_mm: Some(contact.travel_mm),
            rack_mm: contact.rack_mm,
        };
        seen.push((StopId::Contact { a, b }, at));
    }
    for (stop, at) in seen {
        let requirement = match &stop {
            StopId::EndOfReach => Requirement::Reach,
            StopId::Limit { id } => Requirement::Limit { id: id.clone() },
            StopId::Gap { a, b } | StopId::Contact { a, b } => {
                let is_own = |o: &&Obligation| matches!(&o.requirement, Requirement::Gap { a: c, b: d, at_rest: false, .. } if c == a && d == b);
                let own = verdict.obligations.iter().find(is_own);
                let Some(own) = own else { continue };
                own.requirement.clone()
            }
        };
        let own = |o: &&mut Obligation| o.requirement == requirement;
        if let Some(obligation) = verdict.obligations.iter_mut().find(own)
            && obligation.outcome == Outcome::Proved
        {
            obligation.outcome = Outcome::Undecided {
                why: Undecided::Contradiction { stop, at },
            };
        }
    }
    verdict.pairs = crate::findings::PairSums::of(
        &verdict.obligations,
        verdict.pairs.matched,
        verdict.pairs.one_body,
    );
}

/// Stops that a line's search left open by its work limit.
fn undecided_on_lines(guard: &Guard, lines: &[[LineStops; 2]]) -> Vec<Undecided> {
    let corner = guard.corner;
    let mut out = Vec::new();
    for line in lines.iter().flatten() {
        for (stop, alpha) in &line.undecided {
            out.push(Undecided::WorkLimit {
                stop: stop_id(corner, *stop),
                at: place(corner, (*alpha, line.rack_mm)),
            });
        }
    }
    out
}

fn past_found(corner: &Corner, stop: StopKind, at: Place) -> PastAtRideHeight {
    PastAtRideHeight {
        stop: stop_id(corner, stop),
        rack_mm: at.rack_mm,
        steered: corner.locks().at(at.rack_mm),
    }
}

/// Every stop in droop and in bump at one rack position, nearest first.
pub fn stops_at(guard: &Guard, rack_mm: f64) -> [StopOrder; 2] {
    let (droop, bump) = rayon::join(
        || stops_on_line(guard, rack_mm, TravelDirection::Droop),
        || stops_on_line(guard, rack_mm, TravelDirection::Bump),
    );
    [droop, bump].map(|line| named(guard, &line))
}

/// The free-travel map alone, with its cells and outline.
pub fn free_map(guard: &Guard) -> FreeMap {
    Region::map(guard).findings(guard.corner, true)
}

/// Where the bump stop is first touched on the way up, straight ahead: an information, not a stop, so it
/// is looked for by steps and not guarded.
fn bump_stop_touched(corner: &Corner, straight: &[LineStops; 2]) -> Option<f64> {
    const STEPS: i32 = 400;
    let contact = corner.bump_contact.as_ref()?;
    let end = straight[1].free_to();
    let left = |alpha: f64| {
        let position = corner.positioner.place(alpha, 0.0);
        contact.reading(&position.linkage).margin
    };
    let at = |i: i32| end * f64::from(i) / f64::from(STEPS);
    let step = (0..STEPS).find(|i| left(at(i + 1)) <= 0.0)?;
    let (mut low, mut high) = (at(step), at(step + 1));
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if left(middle) > 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(corner.positioner.place(high, 0.0).travel_mm)
}

fn free_travel(corner: &Corner, pair: &[LineStops; 2]) -> FreeTravel {
    let rack_mm = pair[0].rack_mm;
    let here = corner.position(0.0, rack_mm).ok();
    let angles = here.map(|p| {
        wheel_angles(
            &corner.positioner.linkage,
            &p,
            corner.side,
            corner.loaded_radius_mm,
        )
    });
    let known = |deg: Option<f64>| deg.filter(|deg| deg.is_finite());
    let travel = |line: &LineStops| corner.positioner.place(line.free_to(), rack_mm).travel_mm;
    let stop = |line: &LineStops| line.first_blocking().map(|m| m.stop);
    let name = |line: &LineStops| stop(line).map(|s| stop_id(corner, s));
    let intended = |line: &LineStops| stop(line).is_some_and(|s| is_intended(corner, s));
    let [droop, bump] = pair;
    FreeTravel {
        rack_mm,
        toe_deg: known(angles.map(|a| a.toe_deg)),
        steer_deg: known(angles.map(|a| a.steer_deg)),
        droop_mm: (-travel(droop)).max(0.0),
        bump_mm: travel(bump).max(0.0),
        droop_stop: name(droop),
        bump_stop: name(bump),
        intended: [intended(droop), intended(bump)],
    }
}

/// Backed off from the end of the free travel, mm, so that the stop found there doesn't also count as
/// what blocks the steering.
const STEER_BACK_OFF_MM: f64 = 0.05;

fn free_steer(guard: &Guard, straight: &[LineStops; 2]) -> Vec<FreeSteer> {
    let corner = guard.corner;
    let travel = |alpha: f64| corner.positioner.place(alpha, 0.0).travel_mm;
    let [droop, bump] = straight;
    [
        (TravelEnd::RideHeight, corner.ride_height_mm),
        (
            TravelEnd::FullDroop,
            travel(droop.free_to()) + STEER_BACK_OFF_MM,
        ),
        (
            TravelEnd::FullBump,
            travel(bump.free_to()) - STEER_BACK_OFF_MM,
        ),
    ]
    .into_iter()
    .filter_map(|(at, travel_mm)| {
        let alpha = corner.position(travel_mm, 0.0).ok()?.alpha;
        let line = Line::AlongRack { alpha };
        let blocking: Vec<StopKind> = guard.stops.iter().copied().filter(|s| s.blocks()).collect();
        let side = |lock: f64| {
            let mut reached = lock;
            let mut by = None;
            for stop in &blocking {
                let free_to = match first_crossing(guard, line, *stop, 0.0, reached) {
                    Crossing::Clear => continue,
                    Crossing::Stopped { free_to, .. } | Crossing::Undecided { free_to } => free_to,
                };
                (reached, by) = (free_to, Some(stop_id(corner, *stop)));
            }
            (reached, by)
        };
        let (right, left) = rayon::join(|| side(corner.rack_mm[0]), || side(corner.rack_mm[1]));
        let steer = |rack: f64| {
            let position = corner.positioner.place(alpha, rack);
            let radius = corner.loaded_radius_mm;
            wheel_angles(&corner.positioner.linkage, &position, corner.side, radius).steer_deg
        };
        Some(FreeSteer {
            at,
            travel_mm,
            rack_mm: [right.0, left.0],
            steer_deg: [steer(right.0), steer(left.0)],
            stops: [right.1, left.1],
        })
    })
    .collect()
}

fn extremes(corner: &Corner, pair: &[LineStops; 2]) -> Vec<Extreme> {
    [TravelEnd::FullDroop, TravelEnd::FullBump]
        .into_iter()
        .zip(pair)
        .map(|(at, line)| {
            let position = corner.positioner.place(line.free_to(), line.rack_mm);
            Extreme {
                at,
                rack_mm: line.rack_mm,
                travel_mm: position.travel_mm,
                stops: limit_states(corner, &position),
            }
        })
        .collect()
}

/// Stops met before the witness at its own rack position, nearest first.
fn stops_before(
    guard: &Guard,
    witness: &Witness,
    direction: TravelDirection,
) -> Vec<(StopId, bool)> {
    let line = stops_on_line(guard, witness.rack_mm, direction);
    // A stop whose bracket holds the witness comes before it where it is violated there.
    let is_past = |stop: StopKind| guard.violated_at(stop, witness.alpha, witness.rack_mm, None);
    let before = line.met_before(witness.alpha).count();
    line.met
        .iter()
        .enumerate()
        .filter(|(i, m)| *i < before || (is_intended(guard.corner, m.stop) && is_past(m.stop)))
        .map(|(_, m)| m)
        .filter(|m| m.stop != StopKind::Contact(witness.pair))
        .map(|m| {
            (
                stop_id(guard.corner, m.stop),
                is_intended(guard.corner, m.stop),
            )
        })
        .collect()
}

fn contact_record(
    corner: &Corner,
    witness: &Witness,
    proved_mm: f64,
    direction: TravelDirection,
    before: Vec<(StopId, bool)>,
) -> FirstContact {
    let pair = &corner.pairs[witness.pair];
    // Point and normal from just before the touch, where the two surfaces are still apart.
    let apart_mm = 2.0 * TRAVEL_TOLERANCE_MM * proved_mm.signum();
    let apart = corner
        .position(witness.travel_mm - apart_mm, witness.rack_mm)
        .unwrap_or_else(|_| corner.positioner.place(witness.alpha, witness.rack_mm));
    let gap = corner.gap(pair, &apart.linkage, None);
    let swell = corner.swell_mm(pair, &apart.linkage);
    let [on_a, on_b] = pair.points(&corner.parts, &apart.linkage, &gap, swell);
    let normal = core_normal(corner, pair, &apart, &gap);
    let point = (on_a + on_b) * 0.5;
    let position = corner.positioner.place(witness.alpha, witness.rack_mm);
    let angles = wheel_angles(
        &corner.positioner.linkage,
        &position,
        corner.side,
        corner.loaded_radius_mm,
    );
    let body_point = |part: usize| {
        let motion = corner.parts[part].body.motion();
        apart.linkage.placement(motion).point_in_body(&point)
    };
    let (own_a, own_b) = (body_point(pair.a), body_point(pair.b));
    FirstContact {
        class: ContactClass::Metal,
        direction,
        a: corner.parts[pair.a].name.clone(),
        b: corner.parts[pair.b].name.clone(),
        travel_mm: witness.travel_mm,
        travel_interval_mm: [proved_mm, witness.travel_mm],
        rack_mm: witness.rack_mm,
        steer_deg: angles.steer_deg,
        inner_joint_deg: angle_deg(position.linkage.inner_cos),
        outer_joint_deg: angle_deg(position.linkage.outer_cos),
        plunge_mm: position.linkage.plunge_mm,
        point_mm: point.into(),
        point_on_a_mm: own_a.into(),
        point_on_b_mm: own_b.into(),
        tape_a: tape(corner, &apart.linkage, pair.a, &point),
        tape_b: tape(corner, &apart.linkage, pair.b, &point),
        normal: normal.into(),
        intended_stop_before: before.iter().any(|(_, intended)| *intended),
        stops_before: before.into_iter().map(|(stop, _)| stop).collect(),
    }
}

/// Unit vector from the first part to the second, vehicle coordinates; zeros where they overlap.
fn core_normal(
    corner: &Corner,
    pair: &crate::clearance::WatchedPair,
    position: &Position,
    gap: &crate::clearance::Gap,
) -> Vector3<f64> {
    if gap.core_mm <= 0.0 {
        return Vector3::zeros();
    }
    let (fixed, _) = pair.roles();
    let frame = crate::clearance::placement(&corner.parts[fixed], &position.linkage);
    let n = frame.rotation * (gap.moving_point - gap.fixed_point) / gap.core_mm;
    if pair.a_is_fixed { n } else { -n }
}

pub(super) fn angle_deg(cos: f64) -> f64 {
    cos.clamp(-1.0, 1.0).acos().to_degrees()
}

fn limit_states(corner: &Corner, position: &Position) -> Vec<LimitState> {
    corner
        .limits
        .iter()
        .map(|limit| {
            let r = limit.reading(&position.linkage);
            LimitState {
                name: limit.name(),
                value: r.value,
                limit: r.limit,
                unit: r.unit,
                margin: r.margin,
                intended: limit.intended,
            }
        })
        .collect()
}

/// Everything about one position.
pub fn position_findings(truck: &Truck, corner: &Corner, position: &Position) -> PositionFindings {
    let gaps = gaps_found(corner, position);
    let second_look = second_look::of_position(corner, position, &gaps);
    PositionFindings {
        gaps,
        second_look,
        standing: obligations_at(corner, &position.linkage),
        ..position_without_gaps(truck, corner, position)
    }
}

/// Every watched pair's gap at one position.
fn gaps_found(corner: &Corner, position: &Position) -> Vec<GapFound> {
    let linkage = &position.linkage;
    corner
        .pairs
        .par_iter()
        .map(|pair| {
            let mut gap = corner.gap(pair, linkage, None);
            let swell = corner.swell_mm(pair, linkage);
            let [a, b] = pair.points(&corner.parts, linkage, &gap, swell);
            // Surfaces apart, but one part inside the other: there is no gap.
            let relative = pair.relative(&corner.parts, linkage);
            if pair.walk(&corner.parts).contains(&relative) {
                gap.gap_mm = 0.0;
            }
            GapFound {
                a: corner.parts[pair.a].name.clone(),
                b: corner.parts[pair.b].name.clone(),
                gap_mm: gap.gap_mm,
                required_mm: pair.required_mm,
                point_a_mm: a.into(),
                point_b_mm: b.into(),
                normal: core_normal(corner, pair, position, &gap).into(),
            }
        })
        .collect()
}

/// Angles, points and limits of one position; its list of gaps is empty.
pub fn position_without_gaps(
    truck: &Truck,
    corner: &Corner,
    position: &Position,
) -> PositionFindings {
    let linkage = &position.linkage;
    let design = &corner.positioner.linkage;
    let radius = corner.loaded_radius_mm;
    let angles = wheel_angles(design, position, corner.side, radius);
    // Rates along travel at this rack: by the arm's angle, over travel by the same.
    let duals = design.solve(
        Dual::variable(position.alpha, 0),
        Dual::constant(position.rack_mm),
    );
    let by_travel = |d: Dual| d.rate[0] / duals.wheel_centre.z.rate[0];
    let spindle = duals.knuckle.direction(&design.hardpoints.spindle_axis);
    let outboard = corner.side.outboard();
    // Heading is atan2(left, forward) of the spindle turned a quarter; its derivative.
    let (forward, left) = (spindle.y.scale(outboard), spindle.x.scale(-outboard));
    let squared = forward.value.powi(2) + left.value.powi(2);
    let heading_rate =
        (by_travel(left) * forward.value - by_travel(forward) * left.value) / squared;
    let points_mm = BTreeMap::from([
        ("lower_ball_joint", linkage.lower_ball.into()),
        (
            match corner.positioner.linkage.hardpoints.upper_arm() {
                Some(_) => "upper_ball_joint",
                None => "top_mount",
            },
            linkage.kingpin_top.into(),
        ),
        ("tie_rod_outer", linkage.tie_rod_outer.into()),
        ("tie_rod_inner", linkage.tie_rod_inner.into()),
        ("wheel_centre", linkage.wheel_centre.into()),
        ("outer_joint", linkage.outer_joint.into()),
        ("inner_joint", linkage.inner_joint.into()),
        ("damper_lower", linkage.damper_lower.anchor.into()),
        ("damper_upper", linkage.damper_upper.anchor.into()),
    ]);
    PositionFindings {
        truck: truck.name.clone(),
        warnings: truck.warnings.clone(),
        side: corner.side,
        travel_mm: position.travel_mm,
        rack_mm: position.rack_mm,
        points_mm: (points_mm.into_iter())
            .map(|(name, point)| (name.into(), point))
            .collect(),
        camber_deg: angles.camber_deg,
        camber_front_view_deg: angles.camber_front_view_deg,
        toe_deg: angles.toe_deg,
        steer_deg: angles.steer_deg,
        caster_deg: angles.caster_deg,
        kingpin_inclination_deg: angles.kingpin_inclination_deg,
        scrub_radius_mm: angles.scrub_radius_mm,
        caster_trail_mm: angles.caster_trail_mm,
        motion_ratio: -by_travel(duals.damper_mm),
        bump_steer_deg_per_mm: match corner.side {
            Side::Left => -heading_rate.to_degrees(),
            Side::Right => heading_rate.to_degrees(),
        },
        inner_joint_deg: angle_deg(linkage.inner_cos),
        outer_joint_deg: angle_deg(linkage.outer_cos),
        plunge_mm: linkage.plunge_mm,
        damper_mm: linkage.damper_mm,
        orbit_mm: corner.orbit_mm(linkage),
        stops: limit_states(corner, position),
        gaps: Vec::new(),
        standing: Vec::new(),
        second_look: SecondLook::default(),
    }
}
