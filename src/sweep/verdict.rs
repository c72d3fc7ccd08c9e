//! The verdict of one corner: everything that must hold, each with how it ended.
//!
//! The idea in five lines. The map covers what the wheel can reach with cells, and every cell knows what isn't proved kept
//! over it. So each requirement comes with the list of cells that still say something about it, and is settled there by
//! itself: the cells are halved until it is proved kept, or an intended stop is proved passed; until a position is seen at
//! which it is violated with every intended stop kept, and from which a path leads back to proved free travel; or until
//! they are as small as a bracket. What is then left is undecided. No cell is left out for being thin.
//!
//! Guarantee: *proved* holds at every position that is connected with the measured one by positions at which nothing
//! blocks; *violated* has a witness position before any intended stop, or holds at every position. Not guaranteed: that each undecided requirement is
//! one that a smaller cell couldn't settle.

use super::free_travel::{OpenCell, Region};
use super::line::{Crossing, Line, TRAVEL_TOLERANCE_MM, end_of_reach, first_crossing};
use super::own_side::{first_across, first_across_at};
use super::rate_atlas::{Atlas, Cell, NodeId};
use super::stops::{Guard, OpenStop, Proof, StopKind, all_stops, is_intended, stop_id};
use crate::clearance::WatchedPair;
use crate::findings::{
    EndedBy, Exclusion, Obligation, OpenEnd, Outcome, PairSums, Place, Requirement, StopId,
    TravelDirection, Undecided, Verdict,
};
use crate::limits::{Bound, Length, LimitId, LimitKind, Span};
use crate::suspension::Linkage;
use crate::truck::Corner;
use rayon::prelude::*;
use std::collections::VecDeque;

/// Cells looked at for one requirement before what is left of it is undecided. The demos and the random trucks of the
/// tests take a few hundred at most; a stop that runs along another's edge for a hundred millimetres takes as many as this.
const MOST_CELLS: usize = 20_000;

/// Cells without proved rates looked at for one requirement: next to the end of reach each takes an enclosure of the whole
/// linkage, a thousand times the work of another, and halving them rarely settles anything but the end of reach itself.
const MOST_UNBOUNDED_CELLS: usize = 200;

/// Beside the end of reach a piece is asked for rates of its own below this share of the map's cell.
const LARGE_SHARE: f64 = 1.0 / 16.0;

/// One requirement about stops of the corner: any of these violated violates it.
struct Asked {
    requirement: Requirement,
    /// The stops that are looked at; those taken off are not.
    stops: Vec<StopKind>,
    /// Whether one of its stops was taken off.
    is_taken_off: bool,
}

/// Derives the verdict from the map of what is reachable. Stops that were taken off are the guard's.
pub(super) fn verdict(
    guard: &Guard,
    region: &Region,
    past_ride_height: &[(StopKind, Place)],
) -> Verdict {
    let corner = guard.corner;
    let covered = region.covered();
    let cells = region.open_cells(&covered);
    let mut obligations: Vec<Obligation> = asked(guard)
        .into_par_iter()
        .map(|asked| settle(guard, region, &cells, asked))
        .collect();
    obligations.extend(bump_stop_first(guard, region, &cells));
    obligations.extend(standing_obligations(corner));
    obligations.extend(TravelDirection::BOTH.map(|way| search_end(guard, region, &covered, way)));
    obligations.push(ride_height(corner, past_ride_height));
    obligations.push(own_side(
        corner,
        first_across(corner, region, corner.greatest_gap_mm()),
    ));
    let count = &corner.pair_count;
    let pairs = PairSums::of(&obligations, count.matched, count.one_body);
    Verdict { obligations, pairs }
}

/// Whether the truck can stand at ride height: what is passed there.
pub(super) fn ride_height(corner: &Corner, past: &[(StopKind, Place)]) -> Obligation {
    Obligation {
        requirement: Requirement::RideHeight,
        outcome: match past.first() {
            None => Outcome::Proved,
            Some((stop, place)) => Outcome::Violated {
                stop: stop_id(corner, *stop),
                at: Some(*place),
            },
        },
    }
}

/// Stops that ride height itself is past, straight ahead and at both locks. Where an intended stop is among those at a lock,
/// it ended the way there: whatever else is past beyond it, or before it, is the verdict's to find along that way.
pub(super) fn past_at_ride_height(guard: &Guard) -> Vec<(StopKind, Place)> {
    let corner = guard.corner;
    let travel_mm = corner.ride_height_mm;
    let [right, left] = corner.rack_mm;
    let mut out = Vec::new();
    for rack_mm in [0.0, left, right] {
        let place = Place {
            travel_mm: Some(travel_mm),
            rack_mm,
        };
        let Ok(position) = corner.position(travel_mm, rack_mm) else {
            if rack_mm == 0.0 || !corner.has_steering_stop() {
                out.push((StopKind::EndOfReach, place));
            }
            continue;
        };
        let blocking = guard.stops.iter().copied().filter(|s| s.blocks());
        let past: Vec<StopKind> = blocking
            .filter(|stop| guard.violated_at(*stop, position.alpha, rack_mm, None))
            .collect();
        let ends_before = past.iter().any(|stop| is_intended(corner, *stop));
        if rack_mm == 0.0 || !ends_before {
            out.extend(past.into_iter().map(|stop| (stop, place)));
        }
    }
    out
}

/// Positions that a wheel reaches whatever size its part has: see [`first_unkept`].
pub type Reached = Vec<(f64, f64)>;

/// The first requirement of a part's pairs that isn't proved over the whole free travel that all else leaves, with a place
/// where there is one; none where every one is. Other pairs' missing gaps don't count, their contacts do: they end the free
/// travel.
///
/// `reached` are positions (arm angle, rack) of that free travel from an earlier question about the same corner with the part
/// in another size, none before the first; a gap that is missing at one of them needs no map.
pub fn first_unkept(
    corner: &Corner,
    part: &str,
    reached: &mut Reached,
) -> Option<(StopId, Option<Place>)> {
    let is_own = |i: usize| corner.parts[i].name == part;
    let of_part = |pair: &WatchedPair| is_own(pair.a) || is_own(pair.b);
    let atlas = Atlas::build(corner);
    let mut guard = Guard::new(corner, &atlas, 1.0);
    // Where the part touches, its gap is missing, and before that on the way there: what it touches needn't end the travel.
    let has_gap: Vec<bool> = (0..corner.pairs.len())
        .map(|i| guard.stops.contains(&StopKind::Tight(i)))
        .collect();
    guard.stops.retain(|stop| match stop {
        StopKind::Tight(i) => of_part(&corner.pairs[*i]),
        StopKind::Contact(i) => !(of_part(&corner.pairs[*i]) && has_gap[*i]),
        StopKind::EndOfReach | StopKind::Limit(_) => true,
    });
    let own_gaps = guard
        .stops
        .iter()
        .filter(|s| matches!(s, StopKind::Tight(_)));
    for (alpha, rack_mm) in reached.iter().copied() {
        let is_missing = |stop: &&StopKind| {
            !guard.is_screened(**stop, [alpha, alpha])
                && guard.violated_at(**stop, alpha, rack_mm, None)
        };
        if let Some(stop) = own_gaps.clone().find(is_missing) {
            let place = place(corner, (alpha, rack_mm));
            return Some((stop_id(corner, *stop), Some(place)));
        }
    }
    let region = Region::map(&guard);
    if reached.is_empty() {
        *reached = region.samples();
    }
    let all = verdict(&guard, &region, &[]).obligations;
    all.into_iter().find_map(|obligation| {
        match &obligation.requirement {
            Requirement::Gap { a, b, .. } if a == part || b == part => {}
            _ => return None,
        }
        not_kept(obligation.outcome)
    })
}

/// The stop that isn't proved kept, with a place where there is one; none where it is.
fn not_kept(outcome: Outcome) -> Option<(StopId, Option<Place>)> {
    match outcome {
        Outcome::Proved | Outcome::Excluded { .. } => None,
        Outcome::Violated { stop, at } => Some((stop, at)),
        Outcome::Undecided { why } => match why {
            Undecided::NotSettled { stop, at }
            | Undecided::NotShownReachable { stop, at }
            | Undecided::WorkLimit { stop, at }
            | Undecided::Contradiction { stop, at } => Some((stop, Some(at))),
            Undecided::SearchEnded { .. }
            | Undecided::SecondLook { .. }
            | Undecided::FirstContact { .. }
            | Undecided::AcrossMiddle { .. }
            | Undecided::NothingWatched => Some((StopId::EndOfReach, None)),
        },
    }
}

/// Every requirement about stops: each swept pair, each limit that isn't meant as a stop, the linkage's reach.
fn asked(guard: &Guard) -> Vec<Asked> {
    let corner = guard.corner;
    // Stops that the guard doesn't list are proved kept everywhere, or were taken off by name.
    let of = |requirement: Requirement, stops: Vec<StopKind>| Asked {
        requirement,
        is_taken_off: stops.iter().any(|stop| guard.is_taken_off(*stop)),
        stops: stops
            .into_iter()
            .filter(|stop| guard.stops.contains(stop))
            .collect(),
    };
    let pairs = (0..corner.pairs.len()).map(|i| {
        let pair = &corner.pairs[i];
        let name = |part: usize| corner.parts[part].name.clone();
        let requirement = Requirement::Gap {
            a: name(pair.a),
            b: name(pair.b),
            required_mm: pair.required_mm,
            at_rest: false,
        };
        let own = all_stops(corner)
            .into_iter()
            .filter(|s| s.pair() == Some(i));
        of(requirement, own.collect())
    });
    let limits = corner
        .limits
        .iter()
        .enumerate()
        .filter(|(_, limit)| !limit.intended);
    let limits = limits.map(|(i, limit)| {
        let id = limit.id.clone();
        of(Requirement::Limit { id }, vec![StopKind::Limit(i)])
    });
    let reach = of(Requirement::Reach, vec![StopKind::EndOfReach]);
    pairs.chain(limits).chain([reach]).collect()
}

/// Pairs that overlap as measured.
fn overlaps(corner: &Corner) -> impl Iterator<Item = Obligation> {
    corner.overlaps.iter().map(|overlap| {
        let (a, b) = (overlap.a.clone(), overlap.b.clone());
        Obligation {
            requirement: Requirement::Gap {
                a: a.clone(),
                b: b.clone(),
                required_mm: overlap.required_mm,
                at_rest: false,
            },
            outcome: Outcome::Violated {
                stop: StopId::Contact { a, b },
                at: None,
            },
        }
    })
}

/// Pairs that don't move against each other.
fn resting(corner: &Corner) -> impl Iterator<Item = Obligation> {
    corner.resting.iter().map(|resting| {
        let name = |part: usize| corner.parts[part].name.clone();
        let (a, b) = (name(resting.pair.a), name(resting.pair.b));
        let outcome = if resting.keeps_gap() {
            Outcome::Proved
        } else {
            let (a, b) = (a.clone(), b.clone());
            let stop = if resting.is_overlap {
                StopId::Contact { a, b }
            } else {
                StopId::Gap { a, b }
            };
            Outcome::Violated { stop, at: None }
        };
        Obligation {
            requirement: Requirement::Gap {
                a,
                b,
                required_mm: resting.pair.required_mm,
                at_rest: true,
            },
            outcome,
        }
    })
}

/// What is the same at every position: pairs that overlap as measured, that don't move against each other or that are left
/// out by name, limits of what stands, and whether anything is watched at all. Every answer about a corner has
/// these terms, whatever else it asks.
pub fn standing_obligations(corner: &Corner) -> Vec<Obligation> {
    let something = Obligation {
        requirement: Requirement::SomethingWatched,
        outcome: if corner.watches_something() {
            Outcome::Proved
        } else {
            Outcome::Undecided {
                why: Undecided::NothingWatched,
            }
        },
    };
    overlaps(corner)
        .chain(resting(corner))
        .chain(joined(corner))
        .chain(standing_limits(corner))
        .chain([something])
        .collect()
}

/// The same, and that every part of the side alone stands on its side, with the wheel at one position.
pub fn obligations_at(corner: &Corner, linkage: &Linkage<f64>) -> Vec<Obligation> {
    let across = first_across_at(corner, linkage, corner.greatest_gap_mm());
    let mut out = standing_obligations(corner);
    out.extend(bump_stop_first_at(corner, linkage));
    out.push(own_side(corner, across));
    out
}

/// Numbers of the limits of the closed body and of the crushed bump stop, where there is one.
fn body_and_bump_stop(corner: &Corner) -> Option<[usize; 2]> {
    let of = |id: LimitId| corner.limits.iter().position(|limit| limit.id == id);
    Some([
        of(LimitId::DamperCompressed)?,
        of(LimitId::BumpStopCrushed)?,
    ])
}

/// Whether the bump stop is crushed before the damper's body closes, wherever the wheel gets; nothing without a bump stop.
fn bump_stop_first(guard: &Guard, region: &Region, cells: &[OpenCell]) -> Option<Obligation> {
    let corner = guard.corner;
    let [body, stop] = body_and_bump_stop(corner)?;
    let lengths = [body, stop].map(|i| match &corner.limits[i].kind {
        LimitKind::Length(Length {
            span: Span::Damper,
            bound: Bound::AtLeast(mm),
        }) => Some(*mm),
        _ => None,
    });
    let body = StopKind::Limit(body);
    let taken_off = [body, StopKind::Limit(stop)]
        .into_iter()
        .any(|stop| guard.is_taken_off(stop));
    let asked = Asked {
        requirement: Requirement::BumpStopFirst,
        is_taken_off: taken_off,
        stops: match lengths {
            // Lengths of one damper: the longer comes first wherever the wheel is.
            [Some(closed), Some(crushed)] if crushed >= closed => Vec::new(),
            _ if taken_off || !guard.stops.contains(&body) => Vec::new(),
            _ => vec![body],
        },
    };
    Some(settle(guard, region, cells, asked))
}

/// The same at one position: there the body isn't closed while the stop isn't crushed.
fn bump_stop_first_at(corner: &Corner, linkage: &Linkage<f64>) -> Option<Obligation> {
    let [body, stop] = body_and_bump_stop(corner)?;
    let is_kept = |i: usize| corner.limits[i].reading(linkage).margin >= 0.0;
    Some(Obligation {
        requirement: Requirement::BumpStopFirst,
        outcome: if is_kept(body) || !is_kept(stop) {
            Outcome::Proved
        } else {
            let id = LimitId::DamperCompressed;
            Outcome::Violated {
                stop: StopId::Limit { id },
                at: None,
            }
        },
    })
}

/// Whether a part of this side alone comes near to the truck's middle: what the other side moves there isn't known here.
pub fn own_side(corner: &Corner, first_across: Option<usize>) -> Obligation {
    Obligation {
        requirement: Requirement::OwnSide,
        outcome: match first_across {
            None => Outcome::Proved,
            Some(part) => Outcome::Undecided {
                why: Undecided::AcrossMiddle {
                    part: corner.parts[part].name.clone(),
                },
            },
        },
    }
}

/// Limits of what is the same whatever the wheel does.
fn standing_limits(corner: &Corner) -> impl Iterator<Item = Obligation> {
    corner.standing_limits.iter().map(|limit| {
        let id = limit.id.clone();
        Obligation {
            requirement: Requirement::Limit { id: id.clone() },
            outcome: if limit.is_kept() {
                Outcome::Proved
            } else {
                let stop = StopId::Limit { id };
                Outcome::Violated { stop, at: None }
            },
        }
    })
}

/// Pairs that the scene leaves out by name.
fn joined(corner: &Corner) -> impl Iterator<Item = Obligation> {
    corner.joined.iter().map(|joined| Obligation {
        requirement: Requirement::Gap {
            a: joined.a.clone(),
            b: joined.b.clone(),
            required_mm: 0.0,
            at_rest: false,
        },
        outcome: Outcome::Excluded {
            by: Exclusion::Joined {
                why: joined.why.clone(),
            },
        },
    })
}

/// A corner's free travel, with where it ends at nothing that is meant to end it, or doesn't hold ride height.
pub struct MappedTravel {
    /// The free travel.
    pub region: Region,
    /// Its open ends.
    pub open_ends: Vec<OpenEnd>,
}

/// Maps a corner's free travel with some stops taken off.
pub fn mapped(corner: &Corner, without: &[StopId]) -> MappedTravel {
    let atlas = Atlas::build(corner);
    let guard = Guard::new(corner, &atlas, 1.0).without(without);
    let region = Region::map(&guard);
    let open_ends = open_ends(guard, &region);
    MappedTravel { region, open_ends }
}

fn open_ends(mut guard: Guard, region: &Region) -> Vec<OpenEnd> {
    let corner = guard.corner;
    // A gap that is missing ends nothing.
    guard
        .stops
        .retain(|stop| !matches!(stop, StopKind::Tight(_)));
    let covered = region.covered();
    let cells = region.open_cells(&covered);
    let searched = search_ends(corner, region);
    let stops: Vec<OpenEnd> = asked(&guard)
        .into_par_iter()
        .filter_map(|asked| {
            let outcome = settle(&guard, region, &cells, asked).outcome;
            let (stop, at) = not_kept(outcome)?;
            Some(OpenEnd {
                side: corner.side,
                by: EndedBy::Stop { stop },
                at,
            })
        })
        .collect();
    let past = past_at_ride_height(&guard).into_iter().next();
    let stands = past.map(|(stop, at)| OpenEnd {
        side: corner.side,
        by: EndedBy::RideHeight {
            stop: stop_id(corner, stop),
        },
        at: Some(at),
    });
    searched.into_iter().chain(stops).chain(stands).collect()
}

/// Where the search ended on a corner before any intended stop.
pub fn search_ends(corner: &Corner, region: &Region) -> Vec<OpenEnd> {
    let covered = region.covered();
    let ends = TravelDirection::BOTH.into_iter().filter_map(|direction| {
        let at = region.search_end(&covered, direction == TravelDirection::Bump)?;
        Some(OpenEnd {
            side: corner.side,
            by: EndedBy::Search { direction },
            at: Some(place(corner, at)),
        })
    });
    ends.collect()
}

/// Whether an intended stop ends the travel before the search does.
fn search_end(
    guard: &Guard,
    region: &Region,
    covered: &[bool],
    direction: TravelDirection,
) -> Obligation {
    let corner = guard.corner;
    let outcome = match region.search_end(covered, direction == TravelDirection::Bump) {
        None => Outcome::Proved,
        Some(at) => Outcome::Undecided {
            why: Undecided::SearchEnded {
                direction,
                at: place(corner, at),
            },
        },
    };
    Obligation {
        requirement: Requirement::IntendedStop { direction },
        outcome,
    }
}

/// A position as findings give it.
pub(super) fn place(corner: &Corner, (alpha, rack_mm): (f64, f64)) -> Place {
    let travel_mm = corner.positioner.place(alpha, rack_mm).travel_mm;
    Place {
        travel_mm: Some(travel_mm).filter(|mm| mm.is_finite()),
        rack_mm,
    }
}

/// Where a violation is reported: of the end of reach, the last place before it that is reached.
fn witness_place(guard: &Guard, stop: StopKind, (alpha, rack_mm): (f64, f64)) -> Place {
    let line = Line::AlongTravel { rack_mm };
    let start = guard.corner.position(0.0, rack_mm).map(|p| p.alpha);
    let last = match (stop, start) {
        (StopKind::EndOfReach, Ok(start)) => end_of_reach(guard, line, start, alpha),
        _ => None,
    };
    let alpha = last.map_or(alpha, |[last, _]| last);
    place(guard.corner, (alpha, rack_mm))
}

/// Settles one requirement over the cells that leave it open.
fn settle(guard: &Guard, region: &Region, cells: &[OpenCell], asked: Asked) -> Obligation {
    let mut settling = Settling {
        guard,
        region,
        cells_left: MOST_CELLS,
        unbounded_left: MOST_UNBOUNDED_CELLS,
        ways_left: MOST_WITNESSES,
        undecided: None,
    };
    let mut violated = None;
    for stop in &asked.stops {
        violated = settling.violation(cells, *stop);
        if violated.is_some() {
            break;
        }
    }
    let outcome = match (violated, settling.undecided) {
        (Some((stop, at)), _) => Outcome::Violated {
            stop: stop_id(guard.corner, stop),
            at: Some(witness_place(guard, stop, at)),
        },
        (None, Some(why)) => Outcome::Undecided { why },
        (None, None) if asked.is_taken_off => Outcome::Excluded {
            by: Exclusion::TakenOff,
        },
        (None, None) => Outcome::Proved,
    };
    Obligation {
        requirement: asked.requirement,
        outcome,
    }
}

/// The search for a violation of one requirement.
struct Settling<'g> {
    guard: &'g Guard<'g>,
    region: &'g Region,
    cells_left: usize,
    unbounded_left: usize,
    /// Violations to which a way is still looked for.
    ways_left: usize,
    /// The first thing that was left open.
    undecided: Option<Undecided>,
}

/// A part of an open cell.
struct Piece {
    cell: Cell,
    node: NodeId,
    /// Number of the open cell.
    open: usize,
    /// The elements last in the way.
    warm: Option<(u32, u32)>,
}

/// What comes of a piece.
enum Weighed {
    /// The stop is violated at its centre, which is reachable.
    Violated,
    /// Nothing is left to ask of it.
    Done,
    /// It is as small as a bracket and still open.
    Small,
    /// To be halved.
    Halve {
        /// Across this axis.
        axis: usize,
        /// A node of the atlas that holds it.
        node: NodeId,
    },
}

/// What is seen of a piece.
enum Seen {
    /// It is kept over the piece, or the piece lies beyond an intended stop.
    Done,
    /// Neither is shown; how far it spans in travel, mm, where that is known.
    Open { travel_mm: Option<f64> },
}

impl Settling<'_> {
    /// A reachable position (arm angle, rack) at which a stop is violated, if one is found. Cells are halved in the order
    /// of their coming, all of one size before any smaller: a violation that has some extent is seen while they are large.
    fn violation(&mut self, cells: &[OpenCell], stop: StopKind) -> Option<(StopKind, (f64, f64))> {
        let corner = self.guard.corner;
        let mut pieces: VecDeque<Piece> = VecDeque::new();
        for (number, open) in cells.iter().enumerate() {
            if let Some((_, warm)) = open.open.iter().find(|(s, _)| *s == stop) {
                pieces.push_back(Piece {
                    cell: open.cell,
                    node: open.node,
                    open: number,
                    warm: *warm,
                });
            }
        }
        // The stops that may end the travel in each cell, made when a piece of it first asks.
        let mut intended: Vec<Option<Vec<OpenStop>>> = vec![None; cells.len()];
        while let Some(piece) = pieces.pop_front() {
            let open = &cells[piece.open];
            let intended = intended[piece.open].get_or_insert_with(|| {
                let stops = open.open.iter();
                stops
                    // A stop that is asked about doesn't end the way to itself.
                    .filter(|(s, _)| is_intended(corner, *s) && *s != stop)
                    .copied()
                    .collect()
            });
            let centre = piece.cell.centre();
            if self.cells_left == 0 {
                self.leave_open(stop, centre);
                return None;
            }
            self.cells_left -= 1;
            match self.weigh(&piece, open, stop, intended) {
                Weighed::Violated => return Some((stop, centre)),
                Weighed::Done => {}
                Weighed::Small => self.leave_open(stop, centre),
                Weighed::Halve { axis, node } => {
                    pieces.extend(piece.cell.halves(axis).map(|cell| Piece {
                        cell,
                        node,
                        ..piece
                    }));
                }
            }
        }
        None
    }

    fn weigh(
        &mut self,
        piece: &Piece,
        open: &OpenCell,
        stop: StopKind,
        intended: &[OpenStop],
    ) -> Weighed {
        let guard = self.guard;
        let Piece { cell, warm, .. } = *piece;
        let node = guard.atlas.descend(piece.node, &cell);
        let mut may_enclose = true;
        if guard.atlas.is_unproved_leaf(node) {
            // Beside the end of reach itself the rest stays open.
            if self.unbounded_left == 0 && stop == StopKind::EndOfReach {
                return Weighed::Small;
            }
            // What is large there has no rates, or is settled by the poses that are reached.
            let share = |axis: fn(&Cell) -> [f64; 2]| {
                let width = |[from, to]: [f64; 2]| to - from;
                width(axis(&cell)) / width(axis(&open.cell)).max(f64::MIN_POSITIVE)
            };
            let is_large = share(|c| c.alpha) * share(|c| c.rack) > LARGE_SHARE;
            may_enclose = self.unbounded_left > 0 && (stop == StopKind::EndOfReach || !is_large);
        }
        let seen = self.look(&cell, node, stop, warm, intended, may_enclose);
        let Seen::Open { travel_mm } = seen else {
            return Weighed::Done;
        };
        let centre = cell.centre();
        let is_violated = |s: StopKind, warm| guard.violated_at(s, centre.0, centre.1, warm);
        if is_violated(stop, warm) && !intended.iter().any(|(s, w)| is_violated(*s, *w)) {
            if open.is_reached || self.is_connected(open, stop, centre) {
                return Weighed::Violated;
            }
            self.note(Undecided::NotShownReachable {
                stop: stop_id(guard.corner, stop),
                at: place(guard.corner, centre),
            });
        }
        if travel_mm.is_none() && may_enclose {
            self.unbounded_left = self.unbounded_left.saturating_sub(1);
        }
        // Where no rates are known the end of reach is near; the arm's angle says how small the cell is.
        let half = cell.half();
        let spans_mm = [
            travel_mm.unwrap_or(2.0 * half[0] * LONGEST_ARM_MM),
            2.0 * half[1],
        ];
        if spans_mm.iter().all(|mm| *mm <= TRAVEL_TOLERANCE_MM) {
            return Weighed::Small;
        }
        Weighed::Halve {
            axis: usize::from(spans_mm[1] > spans_mm[0]),
            node,
        }
    }

    fn look(
        &self,
        cell: &Cell,
        node: NodeId,
        stop: StopKind,
        warm: Option<(u32, u32)>,
        intended: &[OpenStop],
        may_enclose: bool,
    ) -> Seen {
        let guard = self.guard;
        if guard.is_screened(stop, cell.alpha) {
            return Seen::Done;
        }
        if stop != StopKind::EndOfReach
            && let Some(poses) = guard.reached_poses(node, cell)
            && (poses.are_none()
                || poses.past(guard, intended).is_some()
                || poses.keep(guard, stop, warm).0)
        {
            return Seen::Done;
        }
        if !may_enclose {
            return Seen::Open { travel_mm: None };
        }
        let (node, seen) = guard.on_cell(node, cell, |state| {
            let is_passed = |(s, w): &OpenStop| guard.prove(*s, state, *w) == Proof::Stopped;
            if intended.iter().any(is_passed) || guard.prove(stop, state, warm) == Proof::Free {
                return Seen::Done;
            }
            Seen::Open {
                travel_mm: Some(2.0 * state.rates.travel[0].magnitude() * state.half[0]),
            }
        });
        match seen {
            Some(seen) => seen,
            // Out of reach the end of reach itself is all that is met.
            None if stop != StopKind::EndOfReach && guard.atlas.is_beyond_reach(node, cell) => {
                Seen::Done
            }
            None => Seen::Open { travel_mm: None },
        }
    }

    /// Whether a position in a cell is connected with proved free travel by a way along which every intended stop is kept:
    /// first along the rack, then along the travel, or the other way round.
    /// Where the stop is the end of reach, as far as the wheel goes.
    fn is_connected(&mut self, open: &OpenCell, stop: StopKind, at: (f64, f64)) -> bool {
        if self.ways_left == 0 {
            return false;
        }
        self.ways_left -= 1;
        let guard = self.guard;
        let kept = |line: Line, from: f64, to: f64| {
            let to = match stop {
                StopKind::EndOfReach => match first_crossing(guard, line, stop, from, to) {
                    Crossing::Stopped { free_to, .. } => free_to,
                    Crossing::Clear => to,
                    Crossing::Undecided { .. } => return false,
                },
                // Past the end of reach the linkage may have poses again, to which no wheel gets.
                StopKind::Limit(_) | StopKind::Tight(_) | StopKind::Contact(_) => {
                    let reach = first_crossing(guard, line, StopKind::EndOfReach, from, to);
                    if reach != Crossing::Clear {
                        return false;
                    }
                    to
                }
            };
            let intended = guard
                .stops
                .iter()
                .filter(|s| is_intended(guard.corner, **s) && **s != stop);
            intended
                .copied()
                .all(|stop| first_crossing(guard, line, stop, from, to) == Crossing::Clear)
        };
        let along_travel = |rack_mm, from, to| kept(Line::AlongTravel { rack_mm }, from, to);
        let along_rack = |alpha, from, to| kept(Line::AlongRack { alpha }, from, to);
        let near = self.region.reached_near(open, at).into_iter();
        // The measured position is reached, whatever lies about it.
        near.take(MOST_WAYS)
            .chain([(0.0, 0.0)])
            .any(|(alpha, rack_mm)| {
                (along_rack(alpha, rack_mm, at.1) && along_travel(at.1, alpha, at.0))
                    || (along_travel(rack_mm, alpha, at.0) && along_rack(at.0, rack_mm, at.1))
            })
    }

    fn leave_open(&mut self, stop: StopKind, at: (f64, f64)) {
        let corner = self.guard.corner;
        self.note(Undecided::NotSettled {
            stop: stop_id(corner, stop),
            at: place(corner, at),
        });
    }

    fn note(&mut self, why: Undecided) {
        self.undecided.get_or_insert(why);
    }
}

/// Violations of one requirement to which a way is looked for. Most are connected at the first.
const MOST_WITNESSES: usize = 40;
/// Free squares near a witness from which a way to it is tried.
const MOST_WAYS: usize = 6;
/// No wheel point is further from the lower arm's pivots than this, mm: the most that a corner may measure.
const LONGEST_ARM_MM: f64 = 1500.0;
