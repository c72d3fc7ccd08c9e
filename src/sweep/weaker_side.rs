//! Which of two sides is the weaker one, and by what.
//!
//! Asked in the order in which a person would mind: a bind, contact or missing gap; what stayed undecided; less droop, less
//! bump, each from the side's own ride height; less steer; then the least of what is left of a joint's angle, plunge or hose, as a share of what is allowed; then
//! the tightest gap. The first that differs by more than is printed decides.

use crate::findings::{CornerFindings, LimitState, Status, WeakerBy};
use crate::limits::Unit;
use crate::scene::LengthUnit;

/// Lengths that differ by no more than this are one, mm: the last digit that is printed in the scene's unit, a tenth of a
/// millimetre or a hundredth of an inch, so that two that differ by more can't be printed alike, whichever way they are
/// rounded. Half of that would tell sides apart by what reads as the same number.
fn same_mm(unit: LengthUnit) -> f64 {
    match unit {
        LengthUnit::Mm => 0.1,
        LengthUnit::Inch => 0.254,
    }
}
/// The same for angles, degrees.
const SAME_DEG: f64 = 0.1;

/// By what the weaker of two sides is weaker, and whether that is the second; none where they are alike.
pub(super) fn weaker_side(
    first: &CornerFindings,
    second: &CornerFindings,
    unit: LengthUnit,
) -> Option<(WeakerBy, bool)> {
    let same_mm = same_mm(unit);
    let both = [first, second];
    // Found before undecided before clear.
    let rank = |c: &CornerFindings| match c.verdict.status() {
        Status::Found => 2,
        Status::NotChecked => 1,
        Status::Clear => 0,
    };
    if rank(first) != rank(second) {
        return Some((WeakerBy::Verdict, rank(second) > rank(first)));
    }
    let less = |of: &dyn Fn(&CornerFindings) -> f64, same: f64| {
        let [a, b] = both.map(of);
        let differ = (a - b).abs() > same;
        differ.then(|| ([a.min(b), a.max(b)], b < a))
    };
    // From its own ride height: a spacer on one side raises the truck there, and takes that side's droop.
    let least_droop =
        |c: &CornerFindings| least(c.free_travel.iter().map(|f| f.droop_mm)) + c.ride_height_mm;
    let least_bump =
        |c: &CornerFindings| least(c.free_travel.iter().map(|f| f.bump_mm)) - c.ride_height_mm;
    // At ride height, the first row.
    let steer = |c: &CornerFindings| {
        let row = c.free_steer.first();
        row.map_or(0.0, |s| (s.steer_deg[1] - s.steer_deg[0]).abs())
    };
    if let Some(([weaker_mm, other_mm], is_second)) = less(&least_droop, same_mm) {
        return Some((
            WeakerBy::Droop {
                weaker_mm,
                other_mm,
            },
            is_second,
        ));
    }
    if let Some(([weaker_mm, other_mm], is_second)) = less(&least_bump, same_mm) {
        return Some((
            WeakerBy::Bump {
                weaker_mm,
                other_mm,
            },
            is_second,
        ));
    }
    if let Some(([weaker_deg, other_deg], is_second)) = less(&steer, SAME_DEG) {
        return Some((
            WeakerBy::Steer {
                weaker_deg,
                other_deg,
            },
            is_second,
        ));
    }
    by_margin(first, second, same_mm).or_else(|| by_gap(first, second, same_mm))
}

fn least(values: impl Iterator<Item = f64>) -> f64 {
    values.fold(f64::INFINITY, f64::min)
}

/// The state of a limit at the end of the free travel where least of it is left.
fn tightest<'c>(corner: &'c CornerFindings, name: &str) -> Option<&'c LimitState> {
    let states = corner.extremes.iter().flat_map(|e| &e.stops);
    states
        .filter(|s| s.name == name)
        .min_by(|a, b| a.margin.total_cmp(&b.margin))
}

fn by_margin(
    first: &CornerFindings,
    second: &CornerFindings,
    same_mm: f64,
) -> Option<(WeakerBy, bool)> {
    let names = first.extremes.first()?.stops.iter();
    let share = |s: &LimitState| s.margin / s.limit.abs().max(1.0);
    let differing = names.filter(|s| !s.intended).filter_map(|s| {
        let (a, b) = (tightest(first, &s.name)?, tightest(second, &s.name)?);
        let same = match a.unit {
            Unit::Millimetre => same_mm,
            Unit::Degree => SAME_DEG,
        };
        ((a.margin - b.margin).abs() > same).then_some((a, b))
    });
    let (a, b) = differing.min_by(|x, y| {
        let of = |p: &(&LimitState, &LimitState)| share(p.0).min(share(p.1));
        of(x).total_cmp(&of(y))
    })?;
    let is_second = b.margin < a.margin;
    let (weaker, other) = if is_second { (b, a) } else { (a, b) };
    let by = WeakerBy::Margin {
        limit: weaker.name.clone(),
        unit: weaker.unit,
        weaker: weaker.margin,
        other: other.margin,
    };
    Some((by, is_second))
}

fn by_gap(
    first: &CornerFindings,
    second: &CornerFindings,
    same_mm: f64,
) -> Option<(WeakerBy, bool)> {
    // What is proved to remain beyond the required gap; the list's first is the tightest.
    let room = |c: &CornerFindings| {
        let gaps = c.tightest_gaps.iter();
        gaps.map(|g| (g.gap_mm - g.required_mm, [g.a.clone(), g.b.clone()]))
            .min_by(|a, b| a.0.total_cmp(&b.0))
    };
    let (a, b) = (room(first)?, room(second)?);
    let is_second = b.0 < a.0;
    let (weaker, other) = if is_second { (b, a) } else { (a, b) };
    ((other.0 - weaker.0) > same_mm).then(|| {
        let by = WeakerBy::Gap {
            pair: weaker.1,
            weaker_mm: weaker.0,
            other_mm: other.0,
        };
        (by, is_second)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sweep::{SweepOptions, sweep};
    use crate::truck::load;
    use std::path::Path;

    /// A spacer lifts the second side by 20: from where it then stands it droops 20 less, and bumps 20 more.
    #[test]
    fn a_side_that_stands_higher_is_weaker_by_the_droop_that_it_has_left() {
        let truck = load(Path::new("scenes/tarnwood.ron")).expect("a demo truck");
        let options = SweepOptions {
            rack_positions: 3,
            ..SweepOptions::default()
        };
        let first = sweep(&truck, &options, &|_, _| {}).worse;
        let mut second = first.clone();
        second.ride_height_mm -= 20.0;
        for free in &mut second.free_travel {
            free.droop_mm += 1.0;
        }
        let Some((
            WeakerBy::Droop {
                weaker_mm,
                other_mm,
            },
            true,
        )) = weaker_side(&first, &second, LengthUnit::Mm)
        else {
            panic!("the higher side is weaker");
        };
        assert!(
            (other_mm - weaker_mm - 19.0).abs() < 1.0e-9,
            "{weaker_mm} {other_mm}"
        );
    }

    /// One side's findings against the same with droop less by some hundredths everywhere.
    #[test]
    fn sides_that_print_alike_are_not_told_apart() {
        let truck = load(Path::new("scenes/tarnwood.ron")).expect("a demo truck");
        let options = SweepOptions {
            rack_positions: 3,
            ..SweepOptions::default()
        };
        let first = sweep(&truck, &options, &|_, _| {}).worse;
        let with_less = |mm: f64| {
            let mut second = first.clone();
            for free in &mut second.free_travel {
                free.droop_mm -= mm;
            }
            second
        };
        // 80.09 and 80.01 read 80.0 both.
        for mm in [0.0, 0.04, 0.08] {
            let told = weaker_side(&first, &with_less(mm), LengthUnit::Mm);
            assert_eq!(told, None, "{mm}");
        }
        let told = weaker_side(&first, &with_less(0.12), LengthUnit::Mm);
        // A hundredth of an inch is more than that.
        let in_inches = |mm| weaker_side(&first, &with_less(mm), LengthUnit::Inch);
        assert_eq!(in_inches(0.2), None);
        assert!(in_inches(0.3).is_some());
        assert!(
            matches!(told, Some((WeakerBy::Droop { .. }, true))),
            "{told:?}"
        );
    }
}
