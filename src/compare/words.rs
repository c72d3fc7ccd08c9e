//! What got better, what got worse and what no longer fits, in words.

use super::columns::{SweptSetup, corners};
use crate::findings::{
    Better, CornerFindings, Measure, MeasureGroup, Measured, Quantity, Requirement, StopId,
};
use crate::limits::LimitId;
use crate::numbers::Toward;
use crate::scene::{ArmChange, BumpStopOn, Change, Hung, Scene, TyreSize, Wheels};
use crate::setups::body_gains;
use crate::suspension::Side;

/// Decimals that a quantity is printed with.
pub(crate) fn decimals_of(quantity: Quantity) -> usize {
    match quantity {
        Quantity::Mm | Quantity::Deg => 1,
        Quantity::Percent | Quantity::Ratio => 2,
        Quantity::MmPerSecond => 0,
    }
}

/// Which way a measure's numbers may err as printed: of what there should be much of, no more than there is; of what
/// there should be little of, no less. Only lengths and angles are built to.
pub(crate) fn toward(measure: &Measure) -> Toward {
    match (measure.quantity, measure.better) {
        (Quantity::Mm | Quantity::Deg, Better::More) => Toward::Less,
        (Quantity::Mm | Quantity::Deg, Better::Less) => Toward::More,
        _ => Toward::Nearest,
    }
}

/// A measure's value as it is printed, as a whole number of its last decimal.
fn printed(measure: &Measure, value: f64) -> f64 {
    let step = 0.1_f64.powi(decimals_of(measure.quantity) as i32);
    toward(measure).steps(value, step)
}

/// The least that a value can be: what is proved of it, or the value itself where that is exact.
fn least(measured: &Measured) -> f64 {
    measured.at_least.unwrap_or(measured.value)
}

/// Whether two values read the same as printed in millimetres and degrees, what is proved of them included.
pub(crate) fn prints_alike(measure: &Measure, a: &Measured, b: &Measured) -> bool {
    let both = |m: &Measured| [m.value, least(m)].map(|v| printed(measure, v));
    both(a) == both(b)
}

/// Whether two values differ as printed in millimetres and degrees, and if one way is better, whether the second
/// is. A value that is only known to lie between what is proved and what was found differs where those ranges do:
/// none where they leave it open.
pub(crate) fn judged(measure: &Measure, first: &Measured, then: &Measured) -> Option<Verdict> {
    let print = |value: f64| printed(measure, value);
    let more = print(least(then)) > print(first.value);
    let less = print(then.value) < print(least(first));
    if !more && !less {
        return None;
    }
    Some(match measure.better {
        Better::More if more => Verdict::Better,
        Better::Less if !more => Verdict::Better,
        Better::NearZero if print(then.value).abs() == print(first.value).abs() => {
            Verdict::Different
        }
        Better::NearZero if then.value.abs() < first.value.abs() => Verdict::Better,
        Better::Neither => Verdict::Different,
        Better::More | Better::Less | Better::NearZero => Verdict::Worse,
    })
}

/// A margin or gap above this is room enough not to be spoken of: it stands in the table. Degrees, mm.
const ROOM_ENOUGH: f64 = 5.0;

/// Whether a measure is worth a sentence: margins and gaps only where little is left on either hand.
fn worth_saying(measure: &Measure, first: &Measured, then: &Measured) -> bool {
    let scarce = matches!(measure.group, MeasureGroup::Margins | MeasureGroup::Gaps);
    !scarce || least(first).min(least(then)) < ROOM_ENOUGH
}

/// How a value compares with the first column's.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Verdict {
    /// Better.
    Better,
    /// Worse.
    Worse,
    /// Different, neither better nor worse.
    Different,
}

/// A value as it is said; `length` says lengths that may err one way.
fn said(
    measure: &Measure,
    value: &Measured,
    by: Option<&str>,
    length: &dyn Fn(f64, Toward) -> String,
) -> String {
    let places = decimals_of(measure.quantity);
    let unit = match measure.quantity {
        Quantity::Mm => "",
        Quantity::Deg => " deg",
        Quantity::Ratio => "",
        Quantity::Percent => " %",
        Quantity::MmPerSecond => " mm/s",
    };
    let number = |value: f64, toward: Toward| match measure.quantity {
        Quantity::Mm => length(value, toward),
        _ => format!("{}{unit}", toward.decimals(value, places)),
    };
    let proved = value
        .at_least
        .map(|at_least| format!("{} proved", number(at_least, Toward::Less)));
    let notes: Vec<String> = proved.into_iter().chain(by.map(str::to_owned)).collect();
    if notes.is_empty() {
        number(value.value, toward(measure))
    } else {
        format!(
            "{} ({})",
            number(value.value, toward(measure)),
            notes.join(", ")
        )
    }
}

/// Lengths in millimetres, one decimal.
pub(super) fn in_mm(mm: f64, toward: Toward) -> String {
    format!("{} mm", toward.decimals(mm, 1))
}

/// What is better and what is worse in a column than in the first, in the table's order; `length` says lengths.
pub fn better_and_worse(
    measures: &[Measure],
    i: usize,
    leading: Side,
    length: &dyn Fn(f64, Toward) -> String,
) -> [Vec<String>; 2] {
    let [mut better, mut worse] = [Vec::new(), Vec::new()];
    for measure in measures.iter().filter(|m| !m.detail) {
        let (Some(first), Some(then)) = (&measure.values[0], &measure.values[i]) else {
            continue;
        };
        // The other side is heard where it says something of its own.
        if measure.side != Some(leading) {
            let twin = measures
                .iter()
                .find(|m| m.key == measure.key && m.side == Some(leading));
            let alike = twin.is_some_and(|twin| {
                [0, i]
                    .iter()
                    .all(|k| match (&twin.values[*k], &measure.values[*k]) {
                        (Some(a), Some(b)) => prints_alike(measure, a, b),
                        (None, None) => true,
                        _ => false,
                    })
            });
            if alike {
                continue;
            }
        }
        let side = match measure.side {
            Some(side) if side != leading => format!("{} side: ", side.name()),
            _ => String::new(),
        };
        let group = match measure.group {
            MeasureGroup::Margins => "margin, ",
            MeasureGroup::Gaps => "gap ",
            MeasureGroup::Wear => "wear, ",
            _ => "",
        };
        if !worth_saying(measure, first, then) {
            continue;
        }
        // What reads the same in the unit that is printed is no change to who reads it.
        if said(measure, first, None, length) == said(measure, then, None, length) {
            continue;
        }
        // What goes with both is said once.
        let same = first.by == then.by;
        let text = format!(
            "{side}{group}{}: {} -> {}",
            measure.label,
            said(
                measure,
                first,
                first.by.as_deref().filter(|_| !same),
                length
            ),
            said(measure, then, then.by.as_deref(), length)
        );
        match judged(measure, first, then) {
            Some(Verdict::Better) => better.push(text),
            Some(Verdict::Worse) => worse.push(text),
            Some(Verdict::Different) | None => {}
        }
    }
    [better, worse]
}

/// What doesn't fit in a setup, in words without numbers, so that two setups' can be compared. Nothing is known of one that
/// can't be built.
#[derive(Default)]
pub(super) struct Misfits {
    /// On each corner that was built.
    corners: Vec<(Side, Vec<String>)>,
}

impl Misfits {
    /// Whether a side has it; a corner that isn't built is the other one's mirror image.
    fn has(&self, side: Side, text: &String) -> bool {
        let own = self.corners.iter().find(|(s, _)| *s == side);
        own.or(self.corners.first())
            .is_some_and(|(_, texts)| texts.contains(text))
    }

    /// What doesn't fit here and does before: by side where only one of both has it anew.
    pub(super) fn beyond(&self, before: &Misfits) -> Vec<String> {
        let new: Vec<(Side, Vec<&String>)> = self
            .corners
            .iter()
            .map(|(side, own)| {
                let new = own.iter().filter(|text| !before.has(*side, text));
                (*side, new.collect())
            })
            .collect();
        let mut out: Vec<String> = Vec::new();
        for (side, own) in &new {
            for text in own {
                let sided = if new.iter().all(|(_, other)| other.contains(text)) {
                    (*text).clone()
                } else {
                    format!("{} side: {text}", side.name())
                };
                if !out.contains(&sided) {
                    out.push(sided);
                }
            }
        }
        out
    }
}

/// What doesn't fit in a setup.
pub(super) fn misfits(setup: &SweptSetup) -> Misfits {
    let corners: Vec<(Side, Vec<String>)> = corners(&setup.findings)
        .map(|found| (found.side, corner_misfits(found)))
        .collect();
    Misfits { corners }
}

fn corner_misfits(found: &CornerFindings) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    out.extend(found.verdict.violations().map(|(requirement, stop, at)| {
        match (requirement, stop, at) {
            (_, StopId::Contact { a, b }, None) => format!("{a} and {b} overlap"),
            (_, StopId::Gap { a, b }, None) => {
                format!("{a} and {b} stand nearer than required")
            }
            (Requirement::RideHeight, stop, _) => {
                format!("ride height itself is past {}", stop.name())
            }
            (Requirement::BumpStopFirst, ..) => {
                "the damper body bottoms before the bump stop is crushed".to_owned()
            }
            (requirement, stop, _) => standing_words(requirement).map_or_else(
                || format!("{} comes before the maker's stops", stop.name()),
                str::to_owned,
            ),
        }
    }));
    let mut seen = Vec::new();
    out.retain(|text| {
        let new = !seen.contains(text);
        seen.push(text.clone());
        new
    });
    out
}

/// What is said of a limit that is passed at every position.
fn standing_words(requirement: &Requirement) -> Option<&'static str> {
    let Requirement::Limit { id } = requirement else {
        return None;
    };
    match id {
        LimitId::FrontDriveshaftCaseJoint => {
            Some("front driveshaft: the joint at the transfer case is past its limit")
        }
        LimitId::FrontDriveshaftPinionJoint => {
            Some("front driveshaft: the joint at the pinion is past its limit")
        }
        LimitId::FrontDriveshaftFluctuation => {
            Some("front driveshaft: the pinion turns more unevenly than its limit")
        }
        _ => None,
    }
}

/// A setup's changes in words, with those that it is made on.
pub(super) fn changes(scene: &Scene, setup: Option<&str>) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    let mut wanted = setup;
    let mut seen: Vec<&str> = Vec::new();
    while let Some(name) = wanted {
        let Some(setup) = scene.setups.iter().find(|s| s.name == name) else {
            break;
        };
        if seen.contains(&name) {
            break;
        }
        seen.push(name);
        let unit = scene.units.name();
        let own = setup.changes.iter().map(|c| change(c, unit));
        out.splice(0..0, own);
        wanted = setup.on.as_deref();
    }
    out
}

/// A change with what it changes in brackets.
fn named(name: &str, what: &[String]) -> String {
    if what.is_empty() {
        name.to_owned()
    } else {
        format!("{name} ({})", what.join(", "))
    }
}

/// What another arm changes.
fn arm_parts(arm: &ArmChange) -> Vec<String> {
    [
        (
            arm.front_pivot.is_some() || arm.rear_pivot.is_some(),
            "pivots",
        ),
        (arm.ball_joint.is_some(), "ball joint"),
        (arm.cone.is_some(), "ball-joint cone"),
        (arm.droop_stop_deg.is_some(), "droop stop"),
        (!arm.parts.is_empty(), "its parts"),
    ]
    .into_iter()
    .filter(|(changed, _)| *changed)
    .map(|(_, what)| what.to_owned())
    .collect()
}

fn hung_name(hung: Hung) -> &'static str {
    match hung {
        Hung::LowerArm => "lower arm",
        Hung::UpperArm => "upper arm",
        Hung::Rack => "rack",
        Hung::Differential => "differential",
        Hung::Damper => "damper",
    }
}

/// A signed amount as its size and which way it goes.
fn amount<'w>(value: f64, more: &'w str, less: &'w str) -> (f64, &'w str) {
    (value.abs(), if value < 0.0 { less } else { more })
}

/// A change in words, the side that it holds for first.
fn change(change: &Change, unit: &str) -> String {
    let words = both_sides(change, unit);
    match change.side() {
        None => words,
        Some(side) => format!("{} side: {words}", side.name()),
    }
}

fn both_sides(change: &Change, unit: &str) -> String {
    match change {
        Change::RideHeight { up, by } => {
            let (amount, way) = amount(*up, "higher", "lower");
            format!("body {amount} {unit} {way} by {}", by.name())
        }
        Change::Damper {
            longer: Some(longer),
            body_gains: stated,
            ..
        } => {
            let (closed, closed_way) = amount(body_gains(*longer, *stated), "longer", "shorter");
            let (amount, way) = amount(*longer, "longer", "shorter");
            let why = match stated {
                None => "body and rod share the difference",
                Some(_) => "what its body gains",
            };
            format!("damper {amount} {unit} {way}, closed {closed} {unit} {closed_way} ({why})")
        }
        Change::Damper {
            extended,
            compressed,
            upper_mount,
            lower_mount,
            ..
        } => {
            let mut what = Vec::new();
            if let Some(mm) = extended {
                what.push(format!("{mm} {unit} extended"));
            }
            if let Some(mm) = compressed {
                what.push(format!("{mm} {unit} compressed"));
            }
            if upper_mount.is_some() || lower_mount.is_some() {
                what.push("other mounts".to_owned());
            }
            named("another damper", &what)
        }
        Change::DamperSpacer(spacer) => {
            format!(
                "damper spacer `{}`, {} {unit}",
                spacer.name, spacer.thickness
            )
        }
        Change::BumpStop(stop) => {
            let place = match (stop.ends, stop.on) {
                (Some(_), _) => "between ends of its own",
                (None, Some(BumpStopOn::Rod)) => "on the damper's rod",
                (None, Some(BumpStopOn::Frame) | None) => "on frame or arm",
            };
            format!(
                "bump stop {place} touched at {} and crushed at {} {unit}",
                stop.contact, stop.crushed
            )
        }
        Change::Strap {
            length,
            longer,
            ends,
            ..
        } => {
            let moved = ends.map_or("", |_| " with other ends");
            match (longer, length) {
                (Some(longer), _) => {
                    let (amount, way) = amount(*longer, "longer", "shorter");
                    format!("limit strap {amount} {unit} {way}{moved}")
                }
                (None, Some(length)) => format!("limit strap {length} {unit} long{moved}"),
                (None, None) => format!("the same limit strap{moved}"),
            }
        }
        Change::UpperArm(arm) => named("another upper arm", &arm_parts(arm)),
        Change::LowerArm(arm) => named("another lower arm", &arm_parts(arm)),
        Change::Knuckle { .. } => "another knuckle".to_owned(),
        Change::TieRodEnd {
            outer,
            outer_end,
            inner_end,
            longer: Some(longer),
            ..
        } => {
            let (amount, way) = amount(*longer, "longer", "shorter");
            let is_other_end = outer.is_some() || outer_end.is_some() || inner_end.is_some();
            let end = if is_other_end { ", another end" } else { "" };
            format!("tie rod {amount} {unit} {way}{end}")
        }
        Change::TieRodEnd { longer: None, .. } => "another tie-rod end".to_owned(),
        Change::Halfshaft {
            length,
            longer,
            plunge,
            plunge_polygon,
            ..
        } => {
            let mut what = Vec::new();
            if let Some(length) = length {
                what.push(format!("{length} {unit} long"));
            }
            if let Some(longer) = longer {
                let (amount, way) = amount(*longer, "longer", "shorter");
                what.push(format!("{amount} {unit} {way}"));
            }
            if let Some(plunge) = plunge {
                what.push(format!(
                    "plunge {} to {} {unit}",
                    plunge.inner, plunge.outer
                ));
            } else if !plunge_polygon.is_empty() {
                what.push("another plunge polygon".to_owned());
            }
            named("another halfshaft", &what)
        }
        Change::Hose {
            name,
            longest,
            longer,
            ends,
            ..
        } => {
            let mut what = Vec::new();
            if let Some(longest) = longest {
                what.push(format!("{longest} {unit} at the longest"));
            }
            if let Some(longer) = longer {
                let (amount, way) = amount(*longer, "longer", "shorter");
                what.push(format!("{amount} {unit} {way}"));
            }
            if ends.is_some() {
                what.push("other ends".to_owned());
            }
            named(&format!("another {name}"), &what)
        }
        Change::Rack {
            tie_rod_inner,
            travel,
            ..
        } => {
            let mut what = Vec::new();
            if let Some(travel) = travel {
                what.push(format!(
                    "travel {} left, {} right {unit}",
                    travel.left, travel.right
                ));
            }
            if tie_rod_inner.is_some() {
                what.push("other ends of the tie rods".to_owned());
            }
            named("another rack", &what)
        }
        Change::RackLimiter { left, right } => {
            format!(
                "limiter on the rack: it slides {left} {unit} less to the left, {right} to the right"
            )
        }
        Change::DropBrackets { by, of, .. } => {
            let of = of.as_deref().unwrap_or(&Hung::ALL);
            let names: Vec<&str> = of.iter().map(|hung| hung_name(*hung)).collect();
            let (amount, way) = amount(*by, "lower", "higher");
            format!("drop brackets: {} {amount} {unit} {way}", names.join(", "))
        }
        Change::DifferentialSpacers { thickness } => {
            format!("spacers of {thickness} {unit} under the differential's front mounts")
        }
        Change::DifferentialDrop { by } => format!("differential lowered by {by} {unit}"),
        Change::Tyre { size, wheels, .. } => {
            let size = match size {
                TyreSize::Code(code) => code.clone(),
                TyreSize::Measured {
                    diameter, width, ..
                } => format!("{diameter} x {width} {unit}"),
            };
            match wheels {
                Wheels::All => format!("tyres {size}"),
                Wheels::Front => format!("front tyres {size}"),
            }
        }
        Change::WheelOffset { outboard, .. } => {
            let (amount, way) = amount(*outboard, "outboard", "inboard");
            format!("wheel {amount} {unit} further {way}")
        }
        Change::ReplacePart { name, .. } => format!("another {name}"),
        Change::AddPart { part, .. } => format!("{} added", part.name),
        Change::RemovePart { name, .. } => format!("{name} taken off"),
        Change::MovePart { name, .. } => format!("{name} moved"),
    }
}
