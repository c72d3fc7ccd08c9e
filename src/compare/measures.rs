//! What is asked of every setup: one corner's readings, in the order of the table.

use super::clearance_over_front_tyre;
use super::duties::{Wear, wear};
use crate::findings::{
    Better, ContactClass, CornerFindings, FreeTravel, MeasureGroup, PositionFindings, Quantity,
    StopId, TightGap, TravelDirection,
};
use crate::ground::running_clearance;
use crate::kinematics::{WheelAngles, wheel_angles};
use crate::limits::Unit;
use crate::scene::Duty;
use crate::suspension::Side;
use crate::sweep::position_without_gaps;
use crate::truck::{Corner, Truck};

/// One answer about one corner of one setup.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Reading {
    pub key: String,
    pub group: MeasureGroup,
    pub label: String,
    pub quantity: Quantity,
    pub better: Better,
    pub detail: bool,
    pub value: f64,
    pub at_least: Option<f64>,
    pub by: Option<String>,
}

/// Rows of the sampled change of alignment over the free travel.
const ALIGNMENT_ROWS: usize = 41;
/// Pairs whose least gap is in the printed table.
const PAIRS_PRINTED: usize = 6;

struct Sheet {
    group: MeasureGroup,
    rows: Vec<Reading>,
}

impl Sheet {
    fn add(
        &mut self,
        key: impl Into<String>,
        label: impl Into<String>,
        quantity: Quantity,
        better: Better,
        value: f64,
    ) -> &mut Reading {
        self.rows.push(Reading {
            key: key.into(),
            group: self.group,
            label: label.into(),
            quantity,
            better,
            detail: false,
            value,
            at_least: None,
            by: None,
        });
        let last = self.rows.len() - 1;
        &mut self.rows[last]
    }
}

/// A name as a key: `upper ball joint` as `upper_ball_joint`.
fn key_of(name: &str) -> String {
    name.chars()
        .map(|c| {
            if c.is_alphanumeric() {
                c.to_ascii_lowercase()
            } else {
                '_'
            }
        })
        .collect()
}

/// Everything about the corner on `side`; `corner` may be the other one where both mirror each other. `scale` is the scene's
/// unit in mm, for the duties.
pub(super) fn corner_readings(
    truck: &Truck,
    side: Side,
    corner: &Corner,
    found: &CornerFindings,
    duties: &[Duty],
    scale: f64,
) -> Vec<Reading> {
    let mut sheet = Sheet {
        group: MeasureGroup::Travel,
        rows: Vec::new(),
    };
    travel(&mut sheet, side, corner, found);
    let at = |travel_mm: f64, rack_mm: f64| {
        let position = corner.position(travel_mm, rack_mm).ok()?;
        Some(position_without_gaps(truck, corner, &position))
    };
    let ride = at(corner.ride_height_mm, 0.0);
    joints(&mut sheet, corner, found, ride.as_ref(), &at);
    gaps(&mut sheet, corner, found);
    alignment(&mut sheet, corner, found, ride.as_ref());
    differential(&mut sheet, truck, corner);
    clearance(&mut sheet, truck, corner);
    wear_rows(&mut sheet, corner, found, duties, scale);
    sheet.rows
}

/// Running clearance as `ground` has it; where the truck has no rear axle to stand on, a simpler figure by its own name.
fn clearance(sheet: &mut Sheet, truck: &Truck, corner: &Corner) {
    sheet.group = MeasureGroup::Clearance;
    let figure = if truck.whole.is_some() {
        let lowest = running_clearance(truck).ok().flatten();
        let name = ("running_clearance_mm", "running clearance");
        lowest.map(|t| (name, t.value, t.part))
    } else {
        let lowest = clearance_over_front_tyre(corner);
        let name = (
            "clearance_over_front_tyre_mm",
            "lowest part over front tyre's ground",
        );
        lowest.map(|l| (name, l.clearance_mm, l.part))
    };
    if let Some(((key, label), mm, part)) = figure {
        sheet.add(key, label, Quantity::Mm, Better::More, mm).by = Some(part);
    }
}

fn straight(found: &CornerFindings) -> Option<&FreeTravel> {
    let rows = found.free_travel.iter();
    rows.min_by(|a, b| a.rack_mm.abs().total_cmp(&b.rack_mm.abs()))
}

fn locks(found: &CornerFindings) -> impl Iterator<Item = &FreeTravel> {
    found
        .free_travel
        .first()
        .into_iter()
        .chain(found.free_travel.last())
}

fn travel(sheet: &mut Sheet, side: Side, corner: &Corner, found: &CornerFindings) {
    let ride = corner.ride_height_mm;
    // A ride height that lies outside has no free travel at all.
    let outside = |f: &FreeTravel| f.droop_mm + ride < 0.0 || f.bump_mm - ride < 0.0;
    let free = |f: &FreeTravel, amount: f64, stop: &Option<StopId>| {
        if outside(f) {
            (0.0, Some("ride height itself isn't free".to_owned()))
        } else {
            (amount, stop.as_ref().map(StopId::name))
        }
    };
    let droop = |f: &FreeTravel| free(f, f.droop_mm + ride, &f.droop_stop);
    let bump = |f: &FreeTravel| free(f, f.bump_mm - ride, &f.bump_stop);
    let worst = |of: &dyn Fn(&FreeTravel) -> (f64, Option<String>)| {
        locks(found).map(of).min_by(|a, b| a.0.total_cmp(&b.0))
    };
    let straight = straight(found);
    for (key, label, row) in [
        (
            "free_droop_straight_mm",
            "free droop, straight ahead",
            straight.map(droop),
        ),
        (
            "free_droop_worst_lock_mm",
            "free droop, worst lock",
            worst(&droop),
        ),
        (
            "free_bump_straight_mm",
            "free bump, straight ahead",
            straight.map(bump),
        ),
        (
            "free_bump_worst_lock_mm",
            "free bump, worst lock",
            worst(&bump),
        ),
    ] {
        if let Some((value, by)) = row {
            sheet.add(key, label, Quantity::Mm, Better::More, value).by = by;
        }
    }
    free_steer(sheet, side, corner, found);
    sheet.add(
        "ride_height_mm",
        "ride height, as wheel travel",
        Quantity::Mm,
        Better::Neither,
        ride,
    );
    for contact in &found.first_contacts {
        let (key, label) = match (contact.class, contact.direction) {
            (ContactClass::Metal, TravelDirection::Droop) => {
                ("first_contact_droop_mm", "first metal contact in droop")
            }
            (ContactClass::Metal, TravelDirection::Bump) => {
                ("first_contact_bump_mm", "first metal contact in bump")
            }
            (ContactClass::TyreRub, TravelDirection::Droop) => {
                ("first_tyre_rub_droop_mm", "first tyre rub in droop")
            }
            (ContactClass::TyreRub, TravelDirection::Bump) => {
                ("first_tyre_rub_bump_mm", "first tyre rub in bump")
            }
        };
        let sign = contact.direction.sign();
        let row = sheet.add(
            key,
            label,
            Quantity::Mm,
            Better::More,
            sign * (contact.travel_mm - ride),
        );
        row.by = Some(format!("{} - {}", contact.a, contact.b));
    }
}

/// Free steer at ride height to both sides. Of a corner that stands for its mirror image left is right.
fn free_steer(sheet: &mut Sheet, side: Side, corner: &Corner, found: &CornerFindings) {
    let Some(steer) = found.free_steer.first() else {
        return;
    };
    // Which end is the furthest left depends on whether the rack sits ahead of the axle.
    let left = usize::from(steer.steer_deg[1] > steer.steer_deg[0]);
    let is_mirrored = side != corner.side;
    for (key, label, to_left) in [
        ("free_steer_left_deg", "free steer to the left", true),
        ("free_steer_right_deg", "free steer to the right", false),
    ] {
        let (end, sign) = if to_left != is_mirrored {
            (left, 1.0)
        } else {
            (1 - left, -1.0)
        };
        let stop = steer.stops[end].clone();
        let by = stop.map(|s| if is_mirrored { s.mirrored() } else { s });
        let amount_deg = sign * steer.steer_deg[end];
        let row = sheet.add(key, label, Quantity::Deg, Better::More, amount_deg);
        row.by = Some(by.map_or("lock".to_owned(), |stop| stop.name()));
    }
}

fn joints(
    sheet: &mut Sheet,
    corner: &Corner,
    found: &CornerFindings,
    ride: Option<&PositionFindings>,
    at: &dyn Fn(f64, f64) -> Option<PositionFindings>,
) {
    sheet.group = MeasureGroup::Halfshaft;
    let droop = straight(found).and_then(|f| at(-f.droop_mm, 0.0));
    type Joint = fn(&PositionFindings) -> f64;
    let outer: Joint = |p| p.outer_joint_deg;
    let inner: Joint = |p| p.inner_joint_deg;
    let joints = [("inner", inner), ("outer", outer)];
    for (name, angle) in joints {
        for (where_, key, position) in [
            ("at ride height", "ride", ride),
            ("at full droop", "full_droop", droop.as_ref()),
        ] {
            if let Some(position) = position {
                sheet.add(
                    format!("{name}_joint_{key}_deg"),
                    format!("{name} joint {where_}"),
                    Quantity::Deg,
                    Better::Less,
                    angle(position),
                );
            }
        }
    }
    let worst = locks(found)
        .filter_map(|f| at(-f.droop_mm, f.rack_mm))
        .max_by(|a, b| a.outer_joint_deg.total_cmp(&b.outer_joint_deg));
    if let Some(position) = worst {
        sheet.add(
            "outer_joint_full_droop_worst_lock_deg",
            "outer joint at full droop, worst lock",
            Quantity::Deg,
            Better::Less,
            position.outer_joint_deg,
        );
    }
    if let Some(position) = &droop {
        sheet.add(
            "plunge_full_droop_mm",
            "plunge at full droop",
            Quantity::Mm,
            Better::NearZero,
            position.plunge_mm,
        );
    }
    // Least margins over the ends of the free travel, straight ahead and at both locks.
    sheet.group = MeasureGroup::Margins;
    for limit in &corner.limits {
        if limit.intended {
            continue;
        }
        let least = found
            .extremes
            .iter()
            .flat_map(|e| e.stops.iter().filter(|s| s.name == limit.name()))
            .min_by(|a, b| a.margin.total_cmp(&b.margin));
        if let Some(state) = least {
            let unit = state.unit.name();
            let quantity = match state.unit {
                Unit::Millimetre => Quantity::Mm,
                Unit::Degree => Quantity::Deg,
            };
            sheet.add(
                format!("margin_{}_{unit}", key_of(&limit.name())),
                limit.name(),
                quantity,
                Better::More,
                state.margin,
            );
        }
    }
}

fn gaps(sheet: &mut Sheet, corner: &Corner, found: &CornerFindings) {
    sheet.group = MeasureGroup::Gaps;
    // A spring or a boot is one part to who drew it.
    let of_parts = TightGap::between_drawn_parts(&found.tightest_gaps);
    for (i, gap) in of_parts.iter().enumerate() {
        let row = sheet.add(
            format!("gap_{}_to_{}_mm", key_of(&gap.a), key_of(&gap.b)),
            format!("{} - {}", gap.a, gap.b),
            Quantity::Mm,
            Better::More,
            gap.gap_mm,
        );
        row.at_least = Some(gap.at_least_mm);
        row.detail = i >= PAIRS_PRINTED;
        if gap.gap_mm < gap.required_mm {
            row.by = Some("below the required gap".to_owned());
        } else if gap.at_least_mm < gap.required_mm {
            row.by = Some("the required gap isn't proved".to_owned());
        }
    }
    for overlap in &corner.overlaps {
        let row = sheet.add(
            format!("gap_{}_to_{}_mm", key_of(&overlap.a), key_of(&overlap.b)),
            format!("{} - {}", overlap.a, overlap.b),
            Quantity::Mm,
            Better::More,
            0.0,
        );
        row.by = Some("they overlap".to_owned());
    }
}

fn alignment(
    sheet: &mut Sheet,
    corner: &Corner,
    found: &CornerFindings,
    ride: Option<&PositionFindings>,
) {
    let Some(ride) = ride else {
        return;
    };
    sheet.group = MeasureGroup::Alignment;
    for (key, label, value) in [
        ("camber_ride_deg", "camber", ride.camber_deg),
        ("caster_ride_deg", "caster", ride.caster_deg),
        ("toe_ride_deg", "toe-in", ride.toe_deg),
    ] {
        sheet.add(key, label, Quantity::Deg, Better::Neither, value);
    }
    sheet.group = MeasureGroup::AlignmentChange;
    if let Some(free) = straight(found) {
        let last = (ALIGNMENT_ROWS - 1) as f64;
        let rows: Vec<WheelAngles> = (0..ALIGNMENT_ROWS)
            .map(|i| -free.droop_mm + (free.droop_mm + free.bump_mm) * i as f64 / last)
            .filter_map(|travel_mm| corner.position(travel_mm, 0.0).ok())
            .map(|position| {
                let radius = corner.loaded_radius_mm;
                wheel_angles(&corner.positioner.linkage, &position, corner.side, radius)
            })
            .collect();
        let spread = |of: fn(&WheelAngles) -> f64| {
            let ends = rows
                .iter()
                .map(of)
                .fold([f64::INFINITY, f64::NEG_INFINITY], |e, v| {
                    [e[0].min(v), e[1].max(v)]
                });
            ends[1] - ends[0]
        };
        for (key, label, value) in [
            (
                "camber_change_deg",
                "camber change",
                spread(|r| r.camber_deg),
            ),
            (
                "caster_change_deg",
                "caster change",
                spread(|r| r.caster_deg),
            ),
            ("toe_change_deg", "toe change", spread(|r| r.toe_deg)),
        ] {
            if value.is_finite() {
                sheet.add(key, label, Quantity::Deg, Better::Less, value);
            }
        }
    }
    sheet.group = MeasureGroup::Alignment;
    sheet.add(
        "motion_ratio_ride",
        "motion ratio, damper/wheel",
        Quantity::Ratio,
        Better::Neither,
        ride.motion_ratio,
    );
    for (key, label, quantity, value) in [
        (
            "kingpin_inclination_ride_deg",
            "kingpin inclination",
            Quantity::Deg,
            ride.kingpin_inclination_deg,
        ),
        (
            "scrub_radius_ride_mm",
            "scrub radius",
            Quantity::Mm,
            ride.scrub_radius_mm,
        ),
        (
            "caster_trail_ride_mm",
            "caster trail",
            Quantity::Mm,
            ride.caster_trail_mm,
        ),
    ] {
        sheet.add(key, label, quantity, Better::Neither, value);
    }
}

fn differential(sheet: &mut Sheet, truck: &Truck, corner: &Corner) {
    sheet.group = MeasureGroup::Differential;
    sheet.add(
        "inner_joint_drop_mm",
        "inner joint lowered by",
        Quantity::Mm,
        Better::Neither,
        corner.inner_joint_drop_mm(),
    );
    sheet.add(
        "oil_tilt_deg",
        "differential's oil level tilted by",
        Quantity::Deg,
        Better::Less,
        truck.housing.tilt_deg(),
    );
    let Some(shaft) = &truck.front_driveshaft else {
        return;
    };
    let limit_deg = shaft.joint_limit.to_degrees();
    let [case, pinion] = shaft.joint_angles().map(f64::to_degrees);
    for (key, label, deg) in [
        (
            "driveshaft_case_joint_deg",
            "joint at the transfer case",
            case,
        ),
        ("driveshaft_pinion_joint_deg", "joint at the pinion", pinion),
    ] {
        let row = sheet.add(key, label, Quantity::Deg, Better::Less, deg);
        if deg > limit_deg {
            row.by = Some(format!("above its limit of {limit_deg:.1} deg"));
        }
    }
    let percent = 100.0 * shaft.fluctuation();
    let limit = 100.0 * shaft.fluctuation_limit;
    let row = sheet.add(
        "driveshaft_fluctuation_percent",
        "pinion's speed fluctuation",
        Quantity::Percent,
        Better::Less,
        percent,
    );
    if percent > limit {
        row.by = Some(format!("above its limit of {limit:.2} %"));
    }
    sheet.add(
        "driveshaft_phase_deg",
        "its yokes out of phase by",
        Quantity::Deg,
        Better::Neither,
        shaft.phase.to_degrees(),
    );
    sheet.add(
        "driveshaft_slip_mm",
        "front driveshaft longer by",
        Quantity::Mm,
        Better::NearZero,
        shaft.slip_mm(),
    );
}

fn wear_rows(
    sheet: &mut Sheet,
    corner: &Corner,
    found: &CornerFindings,
    duties: &[Duty],
    scale: f64,
) {
    let droop_mm = straight(found).map_or(0.0, |f| f.droop_mm + corner.ride_height_mm);
    for duty in duties {
        let Some([outer, inner]) = wear(corner, duty, scale, droop_mm) else {
            continue;
        };
        for (joint, wear) in [("outer", outer), ("inner", inner)] {
            let Wear {
                index,
                peak_index,
                speed_mm_s,
            } = wear;
            sheet.group = MeasureGroup::Wear;
            let key = key_of(&duty.name);
            sheet.add(
                format!("wear_{joint}_{key}"),
                format!("{joint} joint, {}", duty.name),
                Quantity::Ratio,
                Better::Less,
                index,
            );
            sheet
                .add(
                    format!("peak_wear_{joint}_{key}"),
                    format!("{joint} joint at its peak, {}", duty.name),
                    Quantity::Ratio,
                    Better::Less,
                    peak_index,
                )
                .detail = true;
            sheet.group = MeasureGroup::SlidingSpeed;
            for (which, speed) in ["peak", "mean"]
                .into_iter()
                .zip(speed_mm_s.into_iter().flatten())
            {
                sheet
                    .add(
                        format!("{which}_sliding_{joint}_{key}_mm_s"),
                        format!("{which} sliding, {joint} joint, {}", duty.name),
                        Quantity::MmPerSecond,
                        Better::Less,
                        speed,
                    )
                    .detail = true;
            }
        }
    }
}
