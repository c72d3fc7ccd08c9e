//! Reported gaps, contacts and bracket ends asked again of parry3d, as many as their share of the work allows.
//!
//! The guard and parry are two ways to one number that share little (see [`second_gap`]). What is reported is
//! collected as rows: a pair, a position and what is said of the gap there. parry looks no further than just beyond
//! what is said. A row that parry contradicts is undecided, whoever is right.
//!
//! Rows of shafts, joint housings, ball joints and skid plates are always asked. The others take their turn in a fixed
//! order until all took a tenth of the sweep's work, counted in steps and not by a clock, so that the same rows are
//! asked with any number of threads.
//!
//! Measured on one thread (`tests/second_look.rs`, `share_of_the_sweep`), everything asked, parry's trees made too:
//! 1.9 % of the sweep of `crake.ron` (126 rows), 5.1 % of `tarnwood.ron` (342), 0.9 % of `hollin.ron` (372), so
//! nothing is left out there; the largest difference is 2e-11 mm.

use super::first_contact::FirstTouch;
use super::stop_order::LineStops;
use super::stops::{Guard, StopKind};
use crate::clearance::{Part, SecondGap, WatchedPair, second_gap};
use crate::findings::{
    Disagreement, GapFound, NotAskedAgain, NotAskedWhy, Reported, SaidOfGap, SecondLook, TightGap,
};
use crate::kinematics::Position;
use crate::suspension::Body;
use crate::truck::{Corner, TOUCH_MM};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// A reported number that can be asked again.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Row {
    /// The pair's number: of a swept one, or of one at rest on from the last of those.
    pub pair: usize,
    /// Arm angle.
    pub alpha: f64,
    /// Rack, mm.
    pub rack_mm: f64,
    /// What is said of the gap.
    pub said: SaidOfGap,
    /// Where.
    pub reported: Reported,
}

/// How much may be asked.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Effort {
    /// Everything.
    Everything,
    /// Rows that aren't always asked, until all rows together took so many tests of two boxes.
    UpTo(u64),
}

/// Both ways may differ by this without being at odds, mm: each is good to about 1e-9, and positions found
/// again from a travel to about 1e-9 too. A thousandth of the touch tolerance.
pub const ALLOWED_MM: f64 = 1.0e-6;
/// How far beyond what is said parry looks, mm: the touch tolerance. Beyond it the difference is looked for
/// without a limit.
const LOOK_BEYOND_MM: f64 = TOUCH_MM;
/// A gap that parry knows no closer than this isn't confirmed by it, mm: a tenth of the touch tolerance,
/// and of a distance the share that its search stops at.
const SETTLED_MM: f64 = 0.2 * TOUCH_MM;
/// See `SETTLED_MM`.
const SETTLED_SHARE: f64 = 1.0e-6;
/// Rows asked at a time, between two looks at the work done.
const BATCH: usize = 64;
/// A tenth of what a sweep takes for each of the guard's distance queries, in tests of two boxes: of the demos
/// `tarnwood.ron` has the cheapest queries, a sweep of 25 microseconds for each where a test takes 13 nanoseconds.
const WORK_A_QUERY: u64 = 180;

/// How a row ended.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Outcome {
    /// By so much, mm, if a gap was given.
    Agrees(f64),
    Disagrees(SecondGap, f64),
    NotAsked(NotAskedWhy),
}

/// The second look at everything that a sweep reports of pairs.
pub(super) fn of_sweep(
    guard: &Guard,
    lines: &[[LineStops; 2]],
    touches: &[[FirstTouch; 2]; 2],
    tightest: &[TightGap],
) -> SecondLook {
    let mut rows = sweep_rows(guard, lines, touches, tightest);
    rows.extend(resting_rows(guard.corner));
    let effort = Effort::UpTo(guard.distance_queries() * WORK_A_QUERY);
    second_look(guard.corner, &rows, effort)
}

/// The second look at every pair's gap at one position.
pub(super) fn of_position(corner: &Corner, position: &Position, gaps: &[GapFound]) -> SecondLook {
    // A position has the gaps of all pairs, in order.
    let rows = gaps.iter().enumerate().map(|(pair, gap)| Row {
        pair,
        alpha: position.alpha,
        rack_mm: position.rack_mm,
        said: SaidOfGap::Is(gap.gap_mm),
        reported: Reported::Gap,
    });
    second_look(corner, &rows.collect::<Vec<Row>>(), Effort::Everything)
}

/// What a sweep reports of pairs, as rows.
pub fn sweep_rows(
    guard: &Guard,
    lines: &[[LineStops; 2]],
    touches: &[[FirstTouch; 2]; 2],
    tightest: &[TightGap],
) -> Vec<Row> {
    let corner = guard.corner;
    let first = touches.iter().flatten().filter_map(|touch| match touch {
        FirstTouch::Clear { .. } => None,
        FirstTouch::Touch { witness, .. } => Some(*witness),
        FirstTouch::Undecided { witness, .. } => *witness,
    });
    let mut rows: Vec<Row> = first
        .map(|witness| Row {
            pair: witness.pair,
            alpha: witness.alpha,
            rack_mm: witness.rack_mm,
            said: SaidOfGap::NoMoreThan(TOUCH_MM),
            reported: Reported::FirstContact,
        })
        .collect();
    for line in lines.iter().flatten() {
        for met in &line.met {
            let (pair, level_mm) = match met.stop {
                StopKind::Tight(pair) => (pair, corner.pairs[pair].required_mm),
                StopKind::Contact(pair) => (pair, TOUCH_MM),
                StopKind::EndOfReach | StopKind::Limit(_) => continue,
            };
            let row = |alpha: f64, said: SaidOfGap, reported: Reported| Row {
                pair,
                alpha,
                rack_mm: line.rack_mm,
                said,
                reported,
            };
            // Where a line begins beyond a stop nothing is kept.
            if met.free_to != met.stopped_at {
                let kept = SaidOfGap::NoLessThan(level_mm);
                rows.push(row(met.free_to, kept, Reported::StopKept));
            }
            // A graze has no witness.
            if !met.graze {
                let missing = SaidOfGap::NoMoreThan(level_mm);
                rows.push(row(met.stopped_at, missing, Reported::StopMet));
            }
        }
    }
    let number: BTreeMap<(&str, &str), usize> = (0..corner.pairs.len())
        .map(|i| (names(corner, i), i))
        .collect();
    rows.extend(tightest.iter().filter_map(|gap| {
        let pair = *number.get(&(gap.a.as_str(), gap.b.as_str()))?;
        // A travel beyond reach can't have been measured at.
        let position = corner.position(gap.travel_mm, gap.rack_mm).ok();
        Some(Row {
            pair,
            alpha: position.map_or(f64::NAN, |p| p.alpha),
            rack_mm: gap.rack_mm,
            said: SaidOfGap::Is(gap.gap_mm),
            reported: Reported::TightestGap,
        })
    }));
    rows
}

/// A pair by its row's number: the swept ones first, then those at rest.
fn pair_of(corner: &Corner, number: usize) -> &WatchedPair {
    let swept = corner.pairs.len();
    match number.checked_sub(swept) {
        None => &corner.pairs[number],
        Some(i) => &corner.resting[i].pair,
    }
}

/// What is reported of pairs at rest to each other, as rows.
fn resting_rows(corner: &Corner) -> impl Iterator<Item = Row> {
    corner.resting.iter().enumerate().map(|(i, resting)| Row {
        pair: corner.pairs.len() + i,
        alpha: 0.0,
        rack_mm: 0.0,
        said: if resting.is_overlap {
            SaidOfGap::NoMoreThan(TOUCH_MM)
        } else if resting.is_measured_out() {
            SaidOfGap::Is(resting.gap_mm)
        } else {
            SaidOfGap::NoLessThan(resting.gap_mm)
        },
        reported: Reported::AtRest,
    })
}

fn names(corner: &Corner, pair: usize) -> (&str, &str) {
    let pair = pair_of(corner, pair);
    (&corner.parts[pair.a].name, &corner.parts[pair.b].name)
}

/// Whether a part is one whose rows are always asked: a shaft, a joint housing, a ball joint, a skid plate. The first
/// two are bodies; the scene has no word for the others but their names.
fn is_always_asked(part: &Part) -> bool {
    match part.body {
        Body::Halfshaft
        | Body::InnerJointHousing
        | Body::OuterJointHousing
        | Body::FrontDriveshaft => true,
        _ => {
            let name = part.name.to_lowercase();
            ["ball joint", "skid", "shaft"]
                .iter()
                .any(|word| name.contains(word))
        }
    }
}

/// Asks rows again of parry3d and holds its answers against what is said.
pub fn second_look(corner: &Corner, rows: &[Row], effort: Effort) -> SecondLook {
    let always = |row: &Row| {
        let pair = pair_of(corner, row.pair);
        is_always_asked(&corner.parts[pair.a]) || is_always_asked(&corner.parts[pair.b])
    };
    let (mut first, mut then): (Vec<Row>, Vec<Row>) = distinct(rows).into_iter().partition(always);
    if effort == Effort::Everything {
        first.append(&mut then);
    }
    let mut work = Work {
        corner,
        made: vec![false; corner.parts.len()],
        done: 0,
    };
    let mut ended = work.ask(&first);
    for batch in then.chunks(BATCH) {
        let (fit, left): (Vec<Row>, Vec<Row>) = match effort {
            Effort::Everything => (batch.to_vec(), Vec::new()),
            Effort::UpTo(most) => work.chosen(batch, most),
        };
        ended.extend(work.ask(&fit));
        let too_much = Outcome::NotAsked(NotAskedWhy::TooMuchWork);
        ended.extend(left.into_iter().map(|row| (row, too_much)));
    }
    told(corner, &ended)
}

/// Each row once, in order: the first contact is a stop met, too.
fn distinct(rows: &[Row]) -> Vec<Row> {
    let mut seen = std::collections::BTreeSet::new();
    rows.iter()
        .copied()
        .filter(|row| {
            let (kind, mm) = match row.said {
                SaidOfGap::Is(mm) => (0, mm),
                SaidOfGap::NoMoreThan(mm) => (1, mm),
                SaidOfGap::NoLessThan(mm) => (2, mm),
            };
            let place = [row.alpha, row.rack_mm, mm].map(f64::to_bits);
            seen.insert((row.pair, place, kind))
        })
        .collect()
}

/// What was done so far, in tests of two boxes.
struct Work<'a> {
    corner: &'a Corner,
    /// Which parts have been counted as made. A part made by an earlier look counts again, so that the count is the same
    /// whatever was asked before.
    made: Vec<bool>,
    done: u64,
}

impl Work<'_> {
    /// What making a row's parts for parry takes, those that are `made` left out. Marks them as made.
    fn making(&self, row: &Row, made: &mut [bool]) -> u64 {
        let pair = pair_of(self.corner, row.pair);
        let parts = [pair.a, pair.b].into_iter();
        parts
            .filter(|part| !std::mem::replace(&mut made[*part], true))
            .map(|part| self.corner.parts[part].making_work())
            .sum()
    }

    /// Rows that may be asked within a limit, as far as can be told beforehand, and those that may not: a large scan
    /// that parry has yet to be given doesn't keep the others from being asked.
    fn chosen(&self, rows: &[Row], most: u64) -> (Vec<Row>, Vec<Row>) {
        let mut made = self.made.clone();
        let mut planned = self.done;
        rows.iter().copied().partition(|row| {
            let mut with = made.clone();
            let wanted = planned.saturating_add(self.making(row, &mut with));
            let fits = wanted <= most;
            if fits {
                (made, planned) = (with, wanted);
            }
            fits
        })
    }

    fn ask(&mut self, rows: &[Row]) -> Vec<(Row, Outcome)> {
        let mut made = std::mem::take(&mut self.made);
        for row in rows {
            self.done += self.making(row, &mut made);
        }
        self.made = made;
        let ended: Vec<(Row, Outcome, u64)> = rows
            .par_iter()
            .map(|row| {
                let (outcome, work) = ask(self.corner, row);
                (*row, outcome, work)
            })
            .collect();
        self.done += ended.iter().map(|e| e.2).sum::<u64>();
        ended.into_iter().map(|(row, o, _)| (row, o)).collect()
    }
}

/// Asks one row. With it the work done.
fn ask(corner: &Corner, row: &Row) -> (Outcome, u64) {
    let pair = pair_of(corner, row.pair);
    let position = corner.positioner.place(row.alpha, row.rack_mm);
    let linkage = &position.linkage;
    // Spelled so that NaN is out of reach.
    if linkage.out_of_reach().is_some() || !position.travel_mm.is_finite() {
        return (Outcome::NotAsked(NotAskedWhy::OutOfReach), 0);
    }
    let swell = corner.swell_mm(pair, linkage);
    let gap = |greatest_mm: f64| {
        let (a, b) = (&corner.parts[pair.a], &corner.parts[pair.b]);
        second_gap(a, b, linkage, swell, greatest_mm)
    };
    let (SaidOfGap::Is(said) | SaidOfGap::NoMoreThan(said) | SaidOfGap::NoLessThan(said)) =
        row.said;
    let facets: f64 = [pair.a, pair.b]
        .map(|i| corner.parts[i].surface.facet_error_mm)
        .iter()
        .sum();
    let Some(first) = gap(said + facets + LOOK_BEYOND_MM) else {
        return (Outcome::NotAsked(NotAskedWhy::NoShape), 0);
    };
    let outcome = compare(row.said, &first);
    let (Outcome::Disagrees(..), true) = (outcome, first.upper_mm.is_infinite()) else {
        return (outcome, first.work);
    };
    // Further apart than parry was asked to look: how far?
    match gap(f64::INFINITY) {
        Some(far) => (compare(row.said, &far), first.work + far.work),
        None => (outcome, first.work),
    }
}

/// Holds what is said against what parry found.
fn compare(said: SaidOfGap, theirs: &SecondGap) -> Outcome {
    // Ours may be less by the facets that parry doesn't share.
    let (lower, upper) = (theirs.lower_mm - theirs.facets_mm, theirs.upper_mm);
    let settled = |value: f64| SETTLED_MM + SETTLED_SHARE * value;
    let (outside, confirmed) = match said {
        SaidOfGap::Is(ours) => (
            beyond(ours, [lower, upper]),
            upper - theirs.lower_mm <= settled(upper),
        ),
        SaidOfGap::NoMoreThan(level) => (
            beyond(level, [lower, f64::INFINITY]),
            upper <= level + theirs.facets_mm + settled(level),
        ),
        SaidOfGap::NoLessThan(level) => (
            beyond(level, [f64::NEG_INFINITY, upper]),
            theirs.lower_mm >= level - settled(level),
        ),
    };
    match (outside <= ALLOWED_MM, confirmed) {
        (false, _) => Outcome::Disagrees(*theirs, outside),
        (true, true) => Outcome::Agrees(outside),
        (true, false) => Outcome::NotAsked(NotAskedWhy::NotSettled),
    }
}

/// How far a number lies outside a range; what is no number, endlessly.
fn beyond(number: f64, [low, high]: [f64; 2]) -> f64 {
    if number < low {
        low - number
    } else if number > high {
        number - high
    } else if number.is_nan() {
        f64::INFINITY
    } else {
        0.0
    }
}

/// How all rows ended, as findings.
fn told(corner: &Corner, ended: &[(Row, Outcome)]) -> SecondLook {
    let mut look = SecondLook::default();
    let mut left_out: BTreeMap<(usize, NotAskedWhy), u64> = BTreeMap::new();
    for (row, outcome) in ended {
        match outcome {
            Outcome::NotAsked(why) => {
                *left_out.entry((row.pair, *why)).or_default() += 1;
                continue;
            }
            Outcome::Agrees(difference) => {
                look.largest_difference_mm = look.largest_difference_mm.max(*difference);
            }
            Outcome::Disagrees(theirs, difference) => {
                look.largest_difference_mm = look.largest_difference_mm.max(*difference);
                let (a, b) = names(corner, row.pair);
                let upper = theirs.upper_mm;
                look.disagreements.push(Disagreement {
                    a: a.to_owned(),
                    b: b.to_owned(),
                    reported: row.reported,
                    travel_mm: corner.positioner.place(row.alpha, row.rack_mm).travel_mm,
                    rack_mm: row.rack_mm,
                    ours: row.said,
                    theirs_mm: (theirs.lower_mm, upper.is_finite().then_some(upper)),
                    difference_mm: *difference,
                });
            }
        }
        look.asked += 1;
    }
    look.left_out = left_out
        .into_iter()
        .map(|((pair, why), count)| {
            let (a, b) = names(corner, pair);
            NotAskedAgain {
                a: a.to_owned(),
                b: b.to_owned(),
                why,
                count,
            }
        })
        .collect();
    look
}
