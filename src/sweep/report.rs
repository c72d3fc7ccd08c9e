//! A corner swept and put into words: the one call that command line and viewer make.

use super::first_contact::{FirstTouch, Witness, first_touch};
use super::free_travel::Region;
use super::line::{Crossing, Line, TRAVEL_TOLERANCE_MM, first_crossing};
use super::rate_atlas::Atlas;
use super::stop_order::{LineStops, named, stops_on_line};
use super::stops::{Guard, StopKind, is_intended, stop_name};
use super::tightest_gaps::tightest_gaps;
use crate::findings::{
    CAUTIONS, CornerFindings, Extreme, FirstContact, FreeMap, FreeSteer, FreeTravel, GapFound,
    GuardReport, LimitState, PositionFindings, Status, StopOrder, SweepFindings, TightGap,
    TravelDirection,
};
use crate::kinematics::{Position, wheel_angles};
use crate::numbers::{Dual, Real};
use crate::suspension::Side;
use crate::truck::{Corner, Truck};
use nalgebra::Vector3;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// What to sweep.
#[derive(Clone, Debug)]
pub struct SweepOptions {
    /// Rack positions from lock to lock at which the stop order is listed, at least 3, odd.
    pub rack_positions: usize,
    /// Whether the map's cells are kept in the findings.
    pub with_map_cells: bool,
    /// Stops taken off, by name, as if their part were unbolted. See
    /// [`removable_stops`](super::removable_stops).
    pub without: Vec<String>,
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
    let count = truck.corners.len() as f64;
    let mut corners: Vec<CornerFindings> = truck
        .corners
        .iter()
        .enumerate()
        .map(|(i, corner)| {
            sweep_corner(corner, options, &|step, share| {
                progress(step, (i as f64 + share) / count)
            })
        })
        .collect();
    // The worse side binds before the maker's stops; else it droops less where it droops least; the
    // described one if equal.
    let least = |c: &CornerFindings| {
        c.free_travel
            .iter()
            .map(|f| f.droop_mm)
            .fold(f64::INFINITY, f64::min)
    };
    if let [first, second] = &corners[..] {
        let worse = match (first.bind_before_intended, second.bind_before_intended) {
            (false, true) => true,
            (true, false) => false,
            _ => least(second) < least(first),
        };
        if worse {
            corners.swap(0, 1);
        }
    }
    let mut warnings = truck.warnings.clone();
    if !options.without.is_empty() {
        warnings.push(format!(
            "taken off, as if unbolted: {}",
            options.without.join(", ")
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
        warnings,
        cautions: CAUTIONS.to_vec(),
    }
}

/// Exit status of a sweep.
pub fn status(findings: &SweepFindings) -> Status {
    let other = findings.other.as_ref().map(corner_status);
    corner_status(&findings.worse).max(other.unwrap_or(Status::Clear))
}

/// The same of one corner.
pub fn corner_status(found: &CornerFindings) -> Status {
    if !found.undecided.is_empty() {
        Status::NotChecked
    } else if found.bind_before_intended {
        Status::Found
    } else {
        Status::Clear
    }
}

/// Rack positions to list: both locks, straight ahead, and evenly between.
fn rack_positions(corner: &Corner, count: usize) -> Vec<f64> {
    let half = (count.max(3) - 1) / 2;
    // The lock itself is taken as it is: rounding must not put it outside the rectangle.
    let step = |lock: f64, i: usize| {
        if i == half {
            lock
        } else {
            lock * i as f64 / half as f64
        }
    };
    let right = (1..=half).rev().map(|i| step(corner.rack_mm[0], i));
    let left = (1..=half).map(|i| step(corner.rack_mm[1], i));
    right.chain([0.0]).chain(left).collect()
}

/// What the searches of one corner found.
struct Found {
    /// Stops in droop and in bump, one pair a rack position.
    lines: Vec<[LineStops; 2]>,
    region: Region,
    /// First touches in droop and in bump.
    touches: [FirstTouch; 2],
    tightest_gaps: Vec<TightGap>,
}

impl Found {
    fn search(guard: &Guard, rack_positions: &[f64], progress: &dyn Fn(&str, f64)) -> Found {
        let lines: Vec<[LineStops; 2]> = rack_positions
            .iter()
            .map(|rack| TravelDirection::BOTH.map(|way| stops_on_line(guard, *rack, way)))
            .collect();
        progress("stops found", 0.4);
        let region = Region::map(guard);
        progress("free region mapped", 0.6);
        let all: Vec<&LineStops> = lines.iter().flatten().collect();
        let (droop, bump) = rayon::join(
            || first_touch(guard, TravelDirection::Droop, &all),
            || first_touch(guard, TravelDirection::Bump, &all),
        );
        progress("first contact found", 0.8);
        let ends: Vec<(f64, f64)> = all.iter().map(|l| (l.free_to(), l.rack_mm)).collect();
        let tightest_gaps = tightest_gaps(guard, &region, &ends);
        progress("tightest gaps found", 0.95);
        Found {
            lines,
            region,
            touches: [droop, bump],
            tightest_gaps,
        }
    }
}

/// Sweeps one corner.
pub fn sweep_corner(
    corner: &Corner,
    options: &SweepOptions,
    progress: &dyn Fn(&str, f64),
) -> CornerFindings {
    let atlas = Atlas::build(corner);
    let guard = Guard::new(corner, &atlas, options.bound_factor).without(&options.without);
    progress("rates enclosed", 0.1);
    let racks = rack_positions(corner, options.rack_positions);
    let Found {
        lines,
        region,
        touches,
        mut tightest_gaps,
    } = Found::search(&guard, &racks, progress);
    let straight = &lines[lines.len() / 2];

    let stop_order: Vec<StopOrder> = lines.iter().flatten().map(|l| named(&guard, l)).collect();
    let mut undecided = undecided_stops(corner, options, &stop_order);
    let mut first_contacts = Vec::new();
    let mut no_contact_to_mm = [None; 2];
    for (i, way) in TravelDirection::BOTH.into_iter().enumerate() {
        match touched(&guard, &touches[i], way, &mut undecided) {
            Ok(contact) => first_contacts.extend(contact),
            Err(searched_mm) => no_contact_to_mm[i] = Some(searched_mm),
        }
    }
    let first_contact = first_contacts
        .iter()
        .min_by(|a, b| a.travel_mm.abs().total_cmp(&b.travel_mm.abs()))
        .cloned();
    let map = region.findings(corner, options.with_map_cells);
    if !map.gap_missing && map.gaps_unsettled.is_empty() {
        // The map proved every required gap over the whole free region.
        for gap in &mut tightest_gaps {
            gap.at_least_mm = gap.at_least_mm.max(gap.required_mm.min(gap.gap_mm));
        }
    }
    let past_at_ride_height = past_at_ride_height(corner, &guard);
    let bind_before_intended = lines.iter().flatten().any(|l| binds_first(corner, l))
        || map.edge.iter().any(|e| !e.intended)
        || map.gap_missing
        || !corner.overlaps.is_empty()
        || !past_at_ride_height.is_empty();
    if !bind_before_intended {
        // Where something is found anyway, cells along its edge always stay unsettled.
        undecided.extend(map.gaps_unsettled.iter().map(|gap| {
            format!(
                "{}: near travel {:.2} mm, rack {:.1} mm it comes within the map's thinnest cell of what is \
                 required, neither shown to be kept nor seen to be missing",
                gap.name, gap.travel_mm, gap.rack_mm
            )
        }));
    }
    let told = [0, lines.len() / 2, lines.len() - 1];
    CornerFindings {
        side: corner.side,
        ride_height_mm: corner.ride_height_mm,
        locks: corner.locks(),
        bump_stop_touched_mm: bump_stop_touched(corner, straight),
        stop_order,
        free_travel: lines.iter().map(|pair| free_travel(corner, pair)).collect(),
        free_steer: free_steer(&guard, straight),
        first_contact,
        first_contacts,
        no_contact_to_mm,
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
        map,
        undecided,
        joined: corner
            .joined
            .iter()
            .map(|j| [j.a.clone(), j.b.clone(), j.why.clone()])
            .collect(),
        overlaps: corner
            .overlaps
            .iter()
            .map(|o| [o.a.clone(), o.b.clone()])
            .collect(),
        past_at_ride_height,
        bind_before_intended,
    }
}

/// What the stop order leaves open, in words.
fn undecided_stops(corner: &Corner, options: &SweepOptions, orders: &[StopOrder]) -> Vec<String> {
    let mut undecided = Vec::new();
    for order in orders {
        for (name, travel) in &order.undecided {
            undecided.push(format!(
                "{name} at rack {:.1} mm: kept to travel {travel:.2} mm, unknown beyond",
                order.rack_mm
            ));
        }
    }
    if corner.pairs.is_empty() && corner.overlaps.is_empty() {
        undecided.push("no pair is watched: contact and gaps were not checked".to_owned());
    }
    // With a maker's stop taken off on purpose, coming to none says nothing.
    let unbolted = corner
        .limits
        .iter()
        .any(|limit| limit.intended && options.without.contains(&limit.name));
    let comes_to_one = |order: &StopOrder| {
        let mut stops = order.stops.iter();
        stops.any(|s| s.intended || s.name == "end of reach")
    };
    for order in orders.iter().filter(|o| !unbolted && !comes_to_one(o)) {
        undecided.push(format!(
            "{} at rack {:.1} mm: the search ended at travel {:.1} mm before any of the maker's stops; \
             widen `search`",
            order.direction.name(),
            order.rack_mm,
            order.searched_to_mm
        ));
    }
    undecided
}

/// The first contact in one direction, if there is a witness; `Err` with how far was searched where nothing
/// touches. What the search left open is told in `undecided`.
fn touched(
    guard: &Guard,
    touch: &FirstTouch,
    way: TravelDirection,
    undecided: &mut Vec<String>,
) -> Result<Option<FirstContact>, f64> {
    let (witness, proved_mm) = match touch {
        FirstTouch::Clear { searched_mm } => return Err(*searched_mm),
        FirstTouch::Touch { witness, proved_mm } => (Some(*witness), *proved_mm),
        FirstTouch::Undecided { witness, proved_mm } => {
            undecided.push(format!(
                "first contact in {}: nothing touches up to travel {proved_mm:.2} mm at any rack position; \
                 beyond that the work limit was reached",
                way.name()
            ));
            (*witness, *proved_mm)
        }
    };
    Ok(witness.map(|witness| {
        let before = stops_before(guard, &witness, way);
        contact_record(guard.corner, &witness, proved_mm, way, before)
    }))
}

/// Whether anything that isn't intended comes before the first of the maker's stops.
fn binds_first(corner: &Corner, line: &LineStops) -> bool {
    let intended = line.met.iter().position(|m| is_intended(corner, m.stop));
    line.met[..intended.unwrap_or(line.met.len())]
        .iter()
        .any(|m| m.stop != StopKind::EndOfReach || intended.is_none())
}

/// Stops that ride height itself is past, in words: straight ahead and at both locks.
fn past_at_ride_height(corner: &Corner, guard: &Guard) -> Vec<String> {
    let locks = corner.locks();
    let mut out = Vec::new();
    for rack_mm in [0.0, locks.left_mm, locks.right_mm] {
        let at = locks.at(rack_mm).name();
        let Ok(position) = corner.position(corner.ride_height_mm, rack_mm) else {
            out.push(format!("end of reach {at}"));
            continue;
        };
        for stop in guard.stops.iter().filter(|s| s.blocks()) {
            if guard.violated_at(*stop, position.alpha, rack_mm, None) {
                out.push(format!("{} {at}", stop_name(corner, *stop)));
            }
        }
    }
    out
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
    let contact = corner.bump_contact_mm?;
    let end = straight[1].free_to();
    let left = |alpha: f64| corner.positioner.place(alpha, 0.0).linkage.damper_mm - contact;
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
    let travel = |line: &LineStops| corner.positioner.place(line.free_to(), rack_mm).travel_mm;
    let stop = |line: &LineStops| line.first_blocking().map(|m| m.stop);
    let name = |line: &LineStops| stop(line).map(|s| stop_name(corner, s));
    let intended = |line: &LineStops| stop(line).is_some_and(|s| is_intended(corner, s));
    let [droop, bump] = pair;
    FreeTravel {
        rack_mm,
        toe_deg: angles.map_or(0.0, |a| a.toe_deg),
        steer_deg: angles.map_or(0.0, |a| a.steer_deg),
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
        ("ride height", corner.ride_height_mm),
        ("full droop", travel(droop.free_to()) + STEER_BACK_OFF_MM),
        ("full bump", travel(bump.free_to()) - STEER_BACK_OFF_MM),
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
                (reached, by) = (free_to, Some(stop_name(corner, *stop)));
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
    ["full droop", "full bump"]
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
) -> Vec<(String, bool)> {
    let line = stops_on_line(guard, witness.rack_mm, direction);
    line.met_before(witness.alpha)
        .filter(|m| m.stop != StopKind::Contact(witness.pair))
        .map(|m| {
            (
                stop_name(guard.corner, m.stop),
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
    before: Vec<(String, bool)>,
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
        tape_a: tape(corner, pair.a, &own_a),
        tape_b: tape(corner, pair.b, &own_b),
        normal: normal.into(),
        intended_stop_before: before.iter().any(|(_, intended)| *intended),
        stops_before: before.into_iter().map(|(name, _)| name).collect(),
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

/// A point on a part in words that a tape can follow: distances to two hardpoints of its body.
pub fn tape(corner: &Corner, part: usize, own: &Vector3<f64>) -> String {
    use crate::suspension::Body;
    let h = &corner.positioner.linkage.hardpoints;
    let marks: [(&str, Vector3<f64>); 2] = match corner.parts[part].body {
        Body::Halfshaft => [
            ("inner joint", h.inner_joint),
            ("outer joint", h.outer_joint),
        ],
        Body::LowerArm => [
            ("lower ball joint", h.lower_ball),
            ("lower front pivot", h.lower_front),
        ],
        Body::UpperArm => [
            ("upper ball joint", h.upper_ball),
            ("upper front pivot", h.upper_front),
        ],
        Body::Knuckle | Body::OuterJointHousing | Body::Wheel => [
            ("wheel centre", h.wheel_centre),
            ("upper ball joint", h.upper_ball),
        ],
        Body::TieRod => [
            ("tie rod outer end", h.tie_rod_outer),
            ("tie rod inner end", h.tie_rod_inner),
        ],
        Body::Rack => [
            ("tie rod inner end", h.tie_rod_inner),
            ("inner joint", h.inner_joint),
        ],
        Body::DamperUpper | Body::DamperLower => [
            ("damper upper eye", h.damper_upper),
            ("damper lower eye", h.damper_lower),
        ],
        Body::InnerJointHousing | Body::Differential => [
            ("inner joint", h.inner_joint),
            ("lower front pivot", h.lower_front),
        ],
        Body::Frame => [
            ("lower front pivot", h.lower_front),
            ("upper front pivot", h.upper_front),
        ],
    };
    let [(a, p), (b, q)] = marks;
    format!(
        "{:.0} mm from the {a}, {:.0} mm from the {b}",
        (own - p).norm(),
        (own - q).norm()
    )
}

fn limit_states(corner: &Corner, position: &Position) -> Vec<LimitState> {
    corner
        .limits
        .iter()
        .map(|limit| {
            let r = limit.reading(&position.linkage);
            LimitState {
                name: limit.name.clone(),
                value: r.value,
                limit: r.limit,
                unit: r.unit.name(),
                margin: r.margin,
                intended: limit.intended,
            }
        })
        .collect()
}

/// Everything about one position.
pub fn position_findings(truck: &Truck, corner: &Corner, position: &Position) -> PositionFindings {
    PositionFindings {
        gaps: gaps_found(corner, position),
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
            let gap = corner.gap(pair, linkage, None);
            let swell = corner.swell_mm(pair, linkage);
            let [a, b] = pair.points(&corner.parts, linkage, &gap, swell);
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
        ("upper_ball_joint", linkage.upper_ball.into()),
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
        side: corner.side,
        travel_mm: position.travel_mm,
        rack_mm: position.rack_mm,
        points_mm,
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
    }
}
