//! Slips in a scene: what can be read and put together, but isn't what anyone would have measured.
//!
//! Reads: a [`Scene`]. Produces: an [`Implausible`] for each number or point that doesn't fit the rest, judged by what
//! follows from it against the trade's ranges (`ranges.rs`, one table), with the slip that would explain it. Not a proof:
//! a truck may be unusual, and a slip may hit on something usual. Next: [`crate::truck`], which carries the warnings, and
//! names the likely slip where a scene can't be put together.

mod changes;
mod corner;
mod drawn;
mod mends;
mod numbers;
mod ranges;

pub(crate) use changes::of_setups;
pub use mends::Slip;
pub use ranges::Unit;

use crate::scene::{LengthUnit, Scene, ShapeEntry, place_of};
use corner::{CornerNumbers, Key};
use drawn::DrawnPart;
use mends::{Finding, Judged, Mend, Place, State};
use std::fmt;

/// A value that is out of the trade's range, and what follows from it.
#[derive(Clone, Debug, PartialEq)]
pub struct Unusual {
    /// What it is, as printed.
    pub name: String,
    /// What it is counted in.
    pub unit: Unit,
    /// The value.
    pub value: f64,
    /// What is usual, from and to.
    pub range: [f64; 2],
    /// Why the range lies there.
    pub reason: &'static str,
}

/// A point or number that is likely wrong.
#[derive(Clone, Debug, PartialEq)]
pub struct Implausible {
    /// Its path: `lower_arm.ball_joint`.
    pub path: String,
    /// Its line in the file, from 1, once it is known: see [`Implausible::in_text`].
    pub line: Option<usize>,
    /// What is written there, as in the file.
    pub written: String,
    /// What is unusual about the truck because of it, the worst first.
    pub shows: Vec<Unusual>,
    /// The slip that would explain it, and what would have been meant.
    pub likely: Option<(Slip, String)>,
    /// Whether everything is usual once it is mended.
    pub is_whole: bool,
    /// Another point that may be the wrong one as well as this.
    pub alternative: Option<Alternative>,
}

/// Another point with a slip that would explain the same.
#[derive(Clone, Debug, PartialEq)]
pub struct Alternative {
    /// Its path.
    pub path: String,
    /// What is written there.
    pub written: String,
    /// The slip.
    pub slip: Slip,
    /// What would have been meant.
    pub meant: String,
}

impl Implausible {
    /// The same with its line in a scene's text.
    pub fn in_text(mut self, text: &str) -> Implausible {
        self.line = place_of(text, &self.path).map(|(line, _)| line);
        self
    }

    /// What is unusual, in words.
    pub fn what(&self) -> String {
        // Three say enough.
        let all: Vec<String> = self.shows.iter().take(3).map(Unusual::to_string).collect();
        all.join("; ")
    }

    /// The likely mend, in words.
    pub fn help(&self) -> String {
        let likely = match &self.likely {
            // Nobody measures it.
            None if self.path.ends_with(".gap") => {
                "give the room that must remain between the two, as little as does".to_owned()
            }
            None => "measure it again".to_owned(),
            Some((slip, meant)) => format!("{} {meant} would be usual", slip.in_words()),
        };
        match &self.alternative {
            None => likely,
            Some(a) => format!(
                "{likely}. As well it may be {} {}: {} {} would be usual",
                a.path,
                a.written,
                a.slip.in_words(),
                a.meant
            ),
        }
    }
}

impl fmt::Display for Implausible {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        if let Some(line) = self.line {
            write!(f, "line {line}, ")?;
        }
        write!(
            f,
            "{} {} looks wrong: {}; {}",
            self.path,
            self.written,
            self.what(),
            self.help()
        )
    }
}

impl fmt::Display for Unusual {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        let [low, high] = self.range;
        let name = &self.name;
        match self.unit {
            Unit::YesNo => write!(f, "{name} can't be"),
            _ if self.value.is_nan() => write!(f, "{name} can't be worked out"),
            // Each number stands before its unit, so that both are printed in the scene's.
            Unit::Mm => {
                // What was typed in inches is no whole number of millimetres, and is told in inches again.
                let is_whole = (self.value - self.value.round()).abs() < WHOLE_MM;
                let places = self.places(usize::from(!is_whole));
                write!(
                    f,
                    "{name} is {:.places$} mm where {low:.places$} mm to {high:.places$} mm is usual",
                    self.value
                )
            }
            Unit::Deg => write!(
                f,
                "{name} is {:.*} degrees where {low} to {high} is usual",
                self.places(1),
                self.value
            ),
            Unit::Ratio => write!(
                f,
                "{name} is {:.*} where {low} to {high} is usual",
                self.places(2),
                self.value
            ),
        }
    }
}

impl Unusual {
    /// Decimals with which the value is seen to lie out of the range: in a length's case when it is told in inches too.
    fn places(&self, least: usize) -> usize {
        /// A value that isn't seen to with so many is as good as the range's end.
        const MOST: usize = 6;
        let [low, high] = self.range;
        let told = |value: f64, places: usize| -> f64 {
            format!("{value:.places$}").parse().unwrap_or(value)
        };
        // As `LengthUnit::reworded` tells what is told in mm.
        let in_inches = |mm: f64, places: usize| {
            told(
                told(mm, places) / LengthUnit::Inch.in_mm(),
                (places + 1).max(2),
            )
        };
        let is_seen = |places: &usize| {
            let is_out = |tell: &dyn Fn(f64) -> f64| {
                let value = tell(self.value);
                value < tell(low) || value > tell(high)
            };
            let in_inches = self.unit != Unit::Mm || is_out(&|mm| in_inches(mm, *places));
            is_out(&|v| told(v, *places)) && in_inches
        };
        (least..MOST).find(is_seen).unwrap_or(least)
    }
}

impl Slip {
    /// The question that it asks.
    pub fn in_words(&self) -> String {
        let axis = |i: usize| ["x", "y", "z"][i.min(2)];
        match self {
            Slip::Exchanged(a, b) => format!("are {} and {} exchanged?", axis(*a), axis(*b)),
            Slip::Sign(a) => format!("has {} the wrong sign?", axis(*a)),
            Slip::NumberSign => "has it the wrong sign?".to_owned(),
            Slip::Unit { axis: a, in_inches } => {
                let of = a.map_or("it".to_owned(), |a| axis(a).to_owned());
                let unit = if *in_inches { "inches" } else { "millimetres" };
                format!("is {of} in {unit}?")
            }
            Slip::DecimalPoint(_) => "is a decimal point misplaced?".to_owned(),
            Slip::Off { axis: a, by } => format!("is {} off by {}?", axis(*a), short(*by)),
            Slip::PointsExchanged(other) => format!("is it exchanged with {other}?"),
            Slip::Radians => "is it in radians?".to_owned(),
            Slip::DiameterForRadius => "is it a diameter where the radius is meant?".to_owned(),
            Slip::RadiusForDiameter => "is it a radius where the diameter is meant?".to_owned(),
        }
    }
}

/// A value this near a whole millimetre is told as one.
const WHOLE_MM: f64 = 0.05;

/// A number as people write it.
fn short(value: f64) -> String {
    format!("{}", (value * 1.0e4).round() / 1.0e4 + 0.0)
}

fn written(p: [f64; 3]) -> String {
    format!("({})", p.map(short).join(", "))
}

const DAMPER_LENGTHS: [&str; 2] = ["damper.extended", "damper.compressed"];
/// The rear one is judged by the front one.
const LOADED_RADII: [&str; 2] = ["knuckle.loaded_radius", "rear.loaded_radius"];

/// Of more slips than this in one corner, the first are told.
const MOST_SLIPS: usize = 3;

/// What a scene's numbers come to.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Judgement {
    /// Everything that is likely wrong, the points first.
    pub implausible: Vec<Implausible>,
    /// What is unusual too, at fields that the scene's `measured` says are right.
    pub silenced: Vec<Implausible>,
}

impl Judgement {
    fn add(&mut self, found: Implausible, scene: &Scene) {
        if is_measured(scene, &found.path) {
            self.silenced.push(found);
        } else {
            self.implausible.push(found);
        }
    }

    /// How many warnings the scene silences, and at which fields: they are not lost. None where there are none.
    pub fn silenced_sentence(&self) -> Option<String> {
        let mut paths: Vec<&str> = Vec::new();
        for silenced in &self.silenced {
            // Both sides of a truck may show the same point.
            if !paths.contains(&silenced.path.as_str()) {
                paths.push(&silenced.path);
            }
        }
        let (count, verb) = match paths.len() {
            0 => return None,
            1 => ("1 warning".to_owned(), "is"),
            n => (format!("{n} warnings"), "are"),
        };
        let named = paths.join("`, `");
        Some(format!(
            "{count} of unusual values {verb} silenced by the scene's `measured`: `{named}`"
        ))
    }
}

/// Fields that the scene's `measured` names though nothing is unusual about them; none while something else is told, since not
/// everything is looked at then.
pub fn needlessly_measured(scene: &Scene) -> Vec<&str> {
    if scene.measured.is_empty() {
        return Vec::new();
    }
    let judged = judge(scene);
    // Whether a link's ends keep their distance is asked of the truck, not of the scene.
    let is_link = |name: &str| {
        let all = scene.parts.iter().enumerate();
        let mut links = all.filter(|(_, p)| matches!(p.shape, ShapeEntry::Link { .. }));
        links.any(|(i, _)| name == format!("parts[{i}].shape"))
    };
    let is_idle =
        |name: &&String| judged.silenced.iter().all(|s| s.path != **name) && !is_link(name);
    let all = scene.measured.iter().filter(is_idle);
    let all = all.filter(|_| judged.implausible.is_empty());
    all.map(String::as_str).collect()
}

/// Whether the scene says that what stands at a path was measured and is right.
pub(crate) fn is_measured(scene: &Scene, path: &str) -> bool {
    scene.measured.iter().any(|measured| measured == path)
}

/// Everything in a scene that is likely wrong, the points first, but for what it says was measured.
pub fn implausible(scene: &Scene) -> Vec<Implausible> {
    judge(scene).implausible
}

/// Everything unusual in a scene: what is told, and what it silences itself.
pub fn judge(scene: &Scene) -> Judgement {
    let mut out = of_points(scene);
    // Where hoses and parts hang is judged by the points, so not where one of these is wrong.
    let with_places = out.implausible.is_empty();
    for found in numbers::implausible(scene, with_places) {
        // One slip in a damper's length shows in its stroke too, and one in a front tyre's radius beside the rear one.
        let is_told = |o: &Implausible| {
            o.path == found.path
                || [DAMPER_LENGTHS, LOADED_RADII].iter().any(|two| {
                    [&o.path, &found.path]
                        .iter()
                        .all(|p| two.contains(&p.as_str()))
                })
        };
        if !out.implausible.iter().chain(&out.silenced).any(is_told) {
            out.add(found, scene);
        }
    }
    for found in of_setups(scene, None) {
        out.add(found, scene);
    }
    out
}

/// The point that is most likely wrong in a scene that can't be put together: the one that makes it possible and usual when a
/// slip in it is undone. Where the points are usual, the first other number that isn't, if it belongs to what can't be put
/// together, which is at `path`. None where no single field explains it.
pub fn most_likely_wrong(scene: &Scene, path: &str) -> Option<Implausible> {
    let all = implausible(scene);
    let group = |path: &str| path.split(['.', '[']).next().map(str::to_owned);
    // Whether the tyres have room between the axles follows from the front one's radius too.
    let is_of = |found: &Implausible| {
        group(&found.path) == group(path)
            || (path == "rear.wheelbase" && found.path == "knuckle.loaded_radius")
    };
    match of_points(scene).implausible.as_slice() {
        [] => all.into_iter().find(is_of),
        [found] if found.is_whole => Some(found.clone()),
        _ => None,
    }
}

/// Findings at which the unit of the whole scene is doubted, not one point.
const UNIT_IN_DOUBT: usize = 8;

/// The scene's unit, where the other one makes everything usual.
fn wrong_unit(scene: &Scene, judged: &Judged) -> Option<Implausible> {
    if judged.findings.len() < UNIT_IN_DOUBT {
        return None;
    }
    let other = match scene.units {
        LengthUnit::Mm => LengthUnit::Inch,
        LengthUnit::Inch => LengthUnit::Mm,
    };
    let as_if = Scene {
        units: other,
        ..scene.clone()
    };
    let state = State {
        corner: CornerNumbers::of(&as_if, false),
        parts: DrawnPart::all(&as_if).into(),
        silenced: Default::default(),
    };
    if !state.judge().findings.is_empty() {
        return None;
    }
    let slip = Slip::Unit {
        axis: None,
        in_inches: other == LengthUnit::Inch,
    };
    Some(Implausible {
        path: "units".to_owned(),
        line: None,
        written: scene.units.name().to_owned(),
        shows: worst_first(judged.findings.iter()),
        likely: Some((slip, other.name().to_owned())),
        is_whole: true,
        alternative: None,
    })
}

fn of_points(scene: &Scene) -> Judgement {
    let mut out = Judgement::default();
    let is_spindle_off = numbers::is_spindle_off(scene);
    let corner_of = |of_other: bool| {
        let corner = CornerNumbers::of(scene, of_other);
        match is_spindle_off {
            true => corner.with_plain_spindle(),
            false => corner,
        }
    };
    let mut corner = corner_of(false);
    let damper_length = numbers::damper_length(scene);
    if damper_length.is_some() {
        corner = corner.without_damper_lengths();
    }
    let by_tyre_mm = numbers::loaded_by_tyre_mm(scene);
    if let Some(mm) = by_tyre_mm.filter(|_| !is_measured(scene, "knuckle.loaded_radius")) {
        corner = corner.with_loaded_mm(mm);
    }
    let described = State {
        corner,
        parts: DrawnPart::all(scene).into(),
        silenced: Default::default(),
    };
    let judged = described.judge();
    if let Some(unit) = wrong_unit(scene, &judged) {
        out.add(unit, scene);
        if !out.implausible.is_empty() {
            return out;
        }
    }
    slips(described.clone(), |_| true, scene, &mut out);
    if let Some(found) = damper_length {
        out.add(found, scene);
    }
    // The other side's own points are judged beside a described side that is usual.
    if !out.implausible.is_empty() || scene.other_side == Default::default() {
        return out;
    }
    let other = State {
        corner: corner_of(true),
        parts: Vec::new().into(),
        silenced: Default::default(),
    };
    let is_other = other.corner.is_other;
    let of_other = |place| matches!(place, Place::Point(key) if is_other[key as usize]);
    slips(other.clone(), of_other, scene, &mut out);
    if !out.implausible.is_empty() {
        return out;
    }
    for found in both_sides(&described.corner, &other.corner) {
        out.add(found, scene);
    }
    out
}

/// A corner without what its points show that the scene says were measured: that is taken as it is, and no other point is
/// blamed for it.
fn without_measured(mut state: State, scene: &Scene, out: &mut Judgement) -> (State, Judged) {
    let mut judged = state.judge();
    // A point of the described side stands in the other one's corner too.
    for place in state.places() {
        if !is_measured(scene, &state.path(place)) {
            continue;
        }
        // More than one of its numbers may be unusual.
        while let Some(mend) = mends::likely(&state, &judged, |p| p == place) {
            let mut found = explained(&state, &judged, &mend);
            // A point that was measured is no excuse for a truck that can't stand: then another one is wrong.
            found.shows.retain(|unusual| unusual.unit != Unit::YesNo);
            if found.shows.is_empty() {
                break;
            }
            state = state.without(found.shows.iter().map(|unusual| unusual.name.clone()));
            judged = state.judge();
            out.silenced.push(found);
        }
    }
    (state, judged)
}

/// The slips of one corner: each time the likeliest is undone, and the rest judged again.
fn slips(state: State, is_free: impl Fn(Place) -> bool + Copy, scene: &Scene, out: &mut Judgement) {
    let is_right = |state: &State, place| is_measured(scene, &state.path(place));
    let (mut state, mut judged) = without_measured(state, scene, out);
    let mut told = 0;
    while !judged.findings.is_empty() && told < MOST_SLIPS {
        let is_blamed = |place| is_free(place) && !is_right(&state, place);
        let Some(mend) = mends::likely(&state, &judged, is_blamed) else {
            let rest = unexplained(&state, &judged, |key| is_free(Place::Point(key)));
            match rest {
                Some(rest) if is_measured(scene, &rest.path) => {
                    let shown = rest.shows.iter();
                    let shown = shown.filter(|unusual| unusual.unit != Unit::YesNo);
                    let names: Vec<String> = shown.map(|unusual| unusual.name.clone()).collect();
                    if names.is_empty() {
                        break;
                    }
                    state = state.without(names.into_iter());
                    judged = state.judge();
                    out.silenced.push(rest);
                    continue;
                }
                Some(rest) if out.implausible.iter().all(|o| o.path != rest.path) => {
                    out.implausible.push(rest);
                }
                Some(_) | None => {}
            }
            break;
        };
        told += 1;
        let mut found = explained(&state, &judged, &mend);
        (state, judged) = (mend.state, mend.judged);
        // With the slip undone a measured point may show more.
        if !judged.findings.is_empty() && !scene.measured.is_empty() {
            (state, judged) = without_measured(state, scene, out);
            found.is_whole = judged.findings.is_empty();
        }
        out.implausible.push(found);
    }
}

fn explained(state: &State, before: &Judged, mend: &Mend) -> Implausible {
    let is_mended = |f: &&Finding| {
        mend.judged
            .findings
            .iter()
            .all(|after| after.name != f.name)
    };
    let shows = before.findings.iter().filter(is_mended);
    let raw = state.raw(mend.place);
    let likely = mend
        .slip
        .as_ref()
        .map(|slip| (slip.clone(), written(mend.raw)));
    Implausible {
        path: state.path(mend.place),
        line: None,
        written: written(raw),
        shows: worst_first(shows),
        likely,
        is_whole: mend.judged.findings.is_empty(),
        alternative: mend
            .alternative
            .as_ref()
            .map(|(place, slip, raw)| Alternative {
                path: state.path(*place),
                written: written(state.raw(*place)),
                slip: slip.clone(),
                meant: written(*raw),
            }),
    }
}

/// What no single mend explains: at the point that most of it follows from.
fn unexplained(
    state: &State,
    judged: &Judged,
    is_free: impl Fn(Key) -> bool,
) -> Option<Implausible> {
    let count = |key: &Key| {
        judged
            .findings
            .iter()
            .filter(|f| f.of.contains(key))
            .count()
    };
    let free = Key::ALL.into_iter().filter(|k| is_free(*k));
    // The first of those with the most.
    let key = free.rev().max_by_key(count).filter(|k| count(k) > 0);
    match key {
        Some(key) => {
            let place = Place::Point(key);
            let shows = judged.findings.iter().filter(|f| f.of.contains(&key));
            Some(Implausible {
                path: state.path(place),
                line: None,
                written: written(state.raw(place)),
                shows: worst_first(shows),
                likely: None,
                is_whole: false,
                alternative: None,
            })
        }
        None => None,
    }
}

fn worst_first<'a>(findings: impl Iterator<Item = &'a Finding>) -> Vec<Unusual> {
    let mut all: Vec<(f64, Unusual)> = findings
        .map(|f| {
            let [low, high] = f.range;
            let beyond = (low - f.value).max(f.value - high) / (high - low).max(1.0e-9);
            let unusual = Unusual {
                name: f.name.clone(),
                unit: f.unit,
                value: f.value,
                range: f.range,
                reason: f.reason,
            };
            // "It can't be put together" is said last: the others say why.
            let rank = if f.unit == Unit::YesNo || beyond.is_nan() {
                -1.0
            } else {
                beyond
            };
            (rank, unusual)
        })
        .collect();
    all.sort_by(|a, b| b.0.total_cmp(&a.0));
    all.into_iter().map(|(_, u)| u).collect()
}

/// How far points of the two sides may differ from mirror images, mm: welds, bent frames, tape. The differential need not sit
/// in the middle, so the inner joint has its own room across.
const SIDES_DIFFER_MM: f64 = 40.0;
/// The inner joint's room across, mm: the longer shaft of full-size trucks is about this much longer.
const INNER_JOINTS_DIFFER_MM: f64 = 200.0;

/// Points of the two sides that aren't mirror images of each other, where both are usual by themselves.
fn both_sides(one: &CornerNumbers, other: &CornerNumbers) -> Vec<Implausible> {
    let mut out = Vec::new();
    let is_written = |k: &Key| other.has(*k) && other.is_other[*k as usize];
    for key in Key::ALL.into_iter().filter(is_written) {
        let i = key as usize;
        let (a, b) = (
            one.place(one.raw[i], false),
            other.place(other.raw[i], true),
        );
        let d = b - a;
        for axis in 0..3 {
            let most = match (key, axis) {
                (Key::InnerJoint, 1) => INNER_JOINTS_DIFFER_MM,
                _ => SIDES_DIFFER_MM,
            };
            if d[axis].abs() <= most {
                continue;
            }
            let mut meant = other.raw[i];
            meant[axis] = if axis == 1 {
                -one.raw[i][1]
            } else {
                one.raw[i][axis]
            };
            let by = other.raw[i][axis] - meant[axis];
            out.push(Implausible {
                path: other.path(key),
                line: None,
                written: written(other.raw[i]),
                shows: vec![Unusual {
                    name: format!(
                        "its {} beside the other side's mirror image",
                        ["x", "y", "z"][axis]
                    ),
                    unit: Unit::Mm,
                    value: d[axis],
                    range: [-most, most],
                    reason: "both sides of a truck are built alike",
                }],
                likely: Some((Slip::Off { axis, by }, written(meant))),
                is_whole: true,
                alternative: None,
            });
            break;
        }
    }
    out
}

/// Scale of a scene's lengths, mm.
fn scale(unit: LengthUnit) -> f64 {
    unit.in_mm()
}
