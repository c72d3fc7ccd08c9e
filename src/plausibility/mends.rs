//! Which one number, or two exchanged, would make a corner plausible.
//!
//! Every slip that people make is tried backwards on every point, and the corner judged again by everything that follows from
//! its points. The mend that leaves nothing unusual is the likely one; among several the one after which the truck lies
//! nearest the middle of the trade's ranges, so that a point that many values hang on is found by all of them together.

use super::corner::{CornerNumbers, KEY_COUNT, Key, Points};
use super::drawn::{self, DrawnPart};
use super::ranges::{ROWS, Row, Unit};
use std::sync::Arc;

/// A slip in a point.
#[derive(Clone, Debug, PartialEq)]
pub enum Slip {
    /// Two of a point's three numbers exchanged: 0 is x.
    Exchanged(usize, usize),
    /// A number with the wrong sign.
    Sign(usize),
    /// A number that is no coordinate has the other sign.
    NumberSign,
    /// The whole point, or one of its numbers, in inches where the scene is in millimetres, or the other way round.
    Unit {
        /// The number; none: all three.
        axis: Option<usize>,
        /// Whether it was written in inches.
        in_inches: bool,
    },
    /// A decimal point misplaced in a number.
    DecimalPoint(usize),
    /// A number off by this, in the scene's unit.
    Off {
        /// The number.
        axis: usize,
        /// What was added.
        by: f64,
    },
    /// Written in another point's place, and that one here.
    PointsExchanged(String),
    /// Angle in radians.
    Radians,
    /// A diameter where a radius is meant.
    DiameterForRadius,
    /// A radius where a diameter is meant.
    RadiusForDiameter,
}

/// What is changed by a mend.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Place {
    Point(Key),
    /// A part and one of its ends.
    End(usize, usize),
}

/// A corner with the drawn parts that go with it.
#[derive(Clone)]
pub(super) struct State {
    pub corner: CornerNumbers,
    pub parts: Arc<Vec<DrawnPart>>,
    /// Names of what isn't looked at: it follows from a point that was measured and is right.
    pub silenced: Arc<Vec<String>>,
}

/// Something unusual about a corner.
#[derive(Clone)]
pub(super) struct Finding {
    pub name: String,
    pub unit: Unit,
    pub value: f64,
    pub range: [f64; 2],
    pub reason: &'static str,
    pub of: Vec<Key>,
    /// The part that is meant, where it isn't a point.
    pub part: Option<usize>,
}

/// A corner judged.
pub(super) struct Judged {
    pub findings: Vec<Finding>,
    /// How far all values together lie from the middle of their ranges.
    unease: f64,
}

/// One value's share of the unease ends here: no point of weighing what is impossible already.
const MOST_UNEASE: f64 = 30.0;
/// What a part's end on a point takes off the unease: two writings that agree are seldom both wrong.
const COINCIDENCE: f64 = 1.5;

impl State {
    pub(super) fn judge(&self) -> Judged {
        self.judge_within(usize::MAX)
            .unwrap_or_else(|| unreachable!("no corner has that many findings"))
    }

    /// The same; none where there are more than `most` findings, which is mostly seen before the wheel has been moved.
    fn judge_within(&self, most: usize) -> Option<Judged> {
        let is_silenced = |name: &str| self.silenced.iter().any(|silenced| silenced == name);
        let mut places = self.of_places();
        places.retain(|found| !is_silenced(&found.name));
        let points = self.corner.points();
        let is_out = |row: &&Row| match row.value(&points) {
            _ if is_silenced(row.name) => false,
            // Whether it goes together isn't known yet.
            _ if row.unit == Unit::YesNo => false,
            None => false,
            Some(value) => !(row.range[0]..=row.range[1]).contains(&value),
        };
        if places.len() > most || places.len() + ROWS.iter().filter(is_out).count() > most {
            return None;
        }
        let points = self.corner.moved(points);
        let mut findings = Vec::new();
        let mut unease = 0.0;
        for row in ROWS.iter().filter(|row| !is_silenced(row.name)) {
            let Some(value) = row.value(&points) else {
                continue;
            };
            let [low, high] = row.range;
            let t = (value - 0.5 * (low + high)) / (0.5 * (high - low)).max(1.0e-9);
            unease += if t.is_nan() {
                MOST_UNEASE
            } else {
                (t * t).min(MOST_UNEASE)
            };
            if !(low..=high).contains(&value) {
                findings.push(finding(row, &points, value));
            }
        }
        findings.extend(places);
        unease -= COINCIDENCE * drawn::coincidences(&self.corner, &self.parts) as f64;
        (findings.len() <= most).then_some(Judged { findings, unease })
    }

    /// What is unusual about where parts are drawn.
    fn of_places(&self) -> Vec<Finding> {
        let mut findings = Vec::new();
        for m in drawn::mismatches(&self.corner, &self.parts) {
            let (point, end) = (
                self.corner.raw[m.key as usize],
                self.parts[m.part].ends[m.end].raw,
            );
            let apart = (0..3)
                .map(|i| (point[i] - end[i]).powi(2))
                .sum::<f64>()
                .sqrt();
            findings.push(Finding {
                name: format!(
                    "the distance of {} from {} of {}, alike but for one slip,",
                    self.corner.path(m.key),
                    self.parts[m.part].ends[m.end].path,
                    self.parts[m.part].name
                ),
                unit: Unit::Mm,
                value: apart * self.corner.scale,
                range: [0.0, 40.0],
                reason: "parts are drawn from the points that they join",
                of: vec![m.key],
                part: Some(m.part),
            });
        }
        for (part, off_mm) in drawn::off_the_damper(&self.corner, &self.parts) {
            findings.push(Finding {
                name: format!(
                    "the distance of {} from the line between the damper's eyes",
                    self.parts[part].name
                ),
                unit: Unit::Mm,
                value: off_mm,
                range: [0.0, 35.0],
                reason: "a damper's tube and spring stand on that line",
                of: vec![Key::DamperUpper, Key::DamperLower],
                part: Some(part),
            });
        }
        findings
    }

    pub(super) fn raw(&self, place: Place) -> [f64; 3] {
        match place {
            Place::Point(key) => self.corner.raw[key as usize],
            Place::End(part, end) => self.parts[part].ends[end].raw,
        }
    }

    pub(super) fn path(&self, place: Place) -> String {
        match place {
            Place::Point(key) => self.corner.path(key),
            Place::End(part, end) => self.parts[part].ends[end].path.clone(),
        }
    }

    /// Every point, and every end of a drawn part.
    pub(super) fn places(&self) -> Vec<Place> {
        let ends = self.parts.iter().enumerate();
        let ends =
            ends.flat_map(|(part, p)| (0..p.ends.len()).map(move |end| Place::End(part, end)));
        Key::ALL.into_iter().map(Place::Point).chain(ends).collect()
    }

    /// The same without looking at what has these names.
    pub(super) fn without(&self, names: impl Iterator<Item = String>) -> State {
        let silenced = self.silenced.iter().cloned().chain(names).collect();
        State {
            silenced: Arc::new(silenced),
            ..self.clone()
        }
    }

    fn with(&self, place: Place, raw: [f64; 3]) -> State {
        let mut out = self.clone();
        match place {
            Place::Point(key) => out.corner.raw[key as usize] = raw,
            Place::End(part, end) => Arc::make_mut(&mut out.parts)[part].ends[end].raw = raw,
        }
        out
    }
}

fn finding(row: &Row, points: &Points, value: f64) -> Finding {
    Finding {
        name: row.name.to_owned(),
        unit: row.unit,
        value,
        range: row.range,
        reason: row.reason,
        of: row.points(points),
        part: None,
    }
}

/// A mend that was tried.
pub(super) struct Mend {
    pub place: Place,
    /// The slip that it undoes; none where a point has to move but no slip that people make explains by how much.
    pub slip: Option<Slip>,
    /// The numbers that it puts there.
    pub raw: [f64; 3],
    /// The corner after it.
    pub state: State,
    pub judged: Judged,
    /// A slip in another point, and the numbers that undo it, that explains as much nearly as well.
    pub alternative: Option<(Place, Slip, [f64; 3])>,
}

/// Two mends whose unease differs by less than this explain what is unusual alike: less than what tells a common slip from a
/// rare one.
const ALIKE: f64 = 1.0;

/// What a less common slip has to be better by: a sign is more often wrong than a number by just an inch.
fn rarity(slip: &Slip) -> f64 {
    match slip {
        Slip::Exchanged(..) | Slip::Sign(_) | Slip::NumberSign | Slip::PointsExchanged(_) => 0.0,
        Slip::Unit { axis: None, .. } => 0.0,
        Slip::Unit { .. } | Slip::DecimalPoint(_) => 1.0,
        Slip::Off { .. } => 1.0,
        Slip::Radians | Slip::DiameterForRadius | Slip::RadiusForDiameter => 1.0,
    }
}

/// A shift without a slip that explains it has to be better than one with by this.
const UNEXPLAINED: f64 = 3.0;
/// Shifts tried without a slip that explains them, mm: coarse, since only the point is asked for.
const SHIFTS_MM: [f64; 14] = [
    -400.0, -250.0, -160.0, -120.0, -80.0, -60.0, -40.0, 40.0, 60.0, 80.0, 120.0, 160.0, 250.0,
    400.0,
];

/// The point with all its numbers, or one of them, read in the other unit.
pub(super) fn in_other_unit(p: [f64; 3], scale: f64) -> Vec<(Slip, [f64; 3])> {
    let in_inches = scale == 1.0;
    let k = if in_inches { 25.4 } else { 1.0 / 25.4 };
    let of = |axis| Slip::Unit { axis, in_inches };
    let one = |axis: usize| {
        let mut q = p;
        q[axis] *= k;
        (of(Some(axis)), q)
    };
    vec![(of(None), p.map(|c| c * k)), one(0), one(1), one(2)]
}

/// The point with one slip undone, each way it may have been made.
pub(super) fn undone(p: [f64; 3], scale: f64) -> Vec<(Option<Slip>, [f64; 3])> {
    let mut out = Vec::new();
    let with = |axis: usize, value: f64| {
        let mut q = p;
        q[axis] = value;
        q
    };
    for (a, b) in [(0, 1), (0, 2), (1, 2)] {
        let mut q = p;
        q.swap(a, b);
        out.push((Some(Slip::Exchanged(a, b)), q));
    }
    let in_inches = scale == 1.0;
    let k = if in_inches { 25.4 } else { 1.0 / 25.4 };
    out.push((
        Some(Slip::Unit {
            axis: None,
            in_inches,
        }),
        p.map(|c| c * k),
    ));
    for (axis, value) in p.into_iter().enumerate() {
        out.push((Some(Slip::Sign(axis)), with(axis, -value)));
        let slip = Slip::Unit {
            axis: Some(axis),
            in_inches,
        };
        out.push((Some(slip), with(axis, value * k)));
        for k in [10.0, 0.1] {
            out.push((Some(Slip::DecimalPoint(axis)), with(axis, value * k)));
        }
        // Round figures of the scene's unit: a digit misread, an inch or a hundred counted twice.
        let figures: &[f64] = if in_inches {
            &[100.0, 25.4, 254.0, 1000.0]
        } else {
            &[4.0, 1.0, 10.0, 40.0, 2.0, 3.0, 6.0]
        };
        for by in figures.iter().copied() {
            if by * scale >= 20.0 {
                for by in [by, -by] {
                    out.push((Some(Slip::Off { axis, by }), with(axis, value - by)));
                }
            }
        }
        for shift in SHIFTS_MM {
            out.push((None, with(axis, value + shift / scale)));
        }
    }
    out
}

/// The likely mend: the one that leaves fewest findings, then least unease; none where no single one helps.
/// `is_free` says which points and ends may be changed.
pub(super) fn likely(
    state: &State,
    before: &Judged,
    is_free: impl Fn(Place) -> bool,
) -> Option<Mend> {
    let mut places: Vec<Place> = Key::ALL
        .into_iter()
        .filter(|k| is_free(Place::Point(*k)) && before.findings.iter().any(|f| f.of.contains(k)))
        .map(Place::Point)
        .collect();
    for part in before.findings.iter().filter_map(|f| f.part) {
        for end in 0..state.parts[part].ends.len() {
            let place = Place::End(part, end);
            if is_free(place) && !places.contains(&place) {
                places.push(place);
            }
        }
    }
    let mut best: Option<(f64, usize, Mend)> = None;
    // Of each place the best that a slip explains.
    let mut of_places: Vec<(Place, f64, usize, Slip, [f64; 3])> = Vec::new();
    let mut try_one = |place: Place, slip: Option<Slip>, raw: [f64; 3], state: State| {
        let most = best
            .as_ref()
            .map_or(before.findings.len().saturating_sub(1), |(_, count, _)| {
                *count
            });
        let Some(judged) = state.judge_within(most) else {
            return;
        };
        let count = judged.findings.len();
        let unease = judged.unease + slip.as_ref().map_or(UNEXPLAINED, rarity);
        if let Some(slip) = slip
            .as_ref()
            .filter(|s| !matches!(s, Slip::PointsExchanged(_)))
        {
            let now = (place, unease, count, slip.clone(), raw);
            match of_places.iter_mut().find(|of| of.0 == place) {
                Some(of) if (count, unease) < (of.2, of.1) => *of = now,
                Some(_) => {}
                None => of_places.push(now),
            }
        }
        let is_better = best
            .as_ref()
            .is_none_or(|(u, c, _)| (count, unease) < (*c, *u));
        if is_better {
            let mend = Mend {
                place,
                slip,
                raw,
                state,
                judged,
                alternative: None,
            };
            best = Some((unease, count, mend));
        }
    };
    for place in &places {
        for (slip, raw) in undone(state.raw(*place), state.corner.scale) {
            try_one(*place, slip, raw, state.with(*place, raw));
        }
    }
    // Onto what is drawn there, and the other way round.
    for m in drawn::mismatches(&state.corner, &state.parts) {
        let (point, end) = (Place::Point(m.key), Place::End(m.part, m.end));
        for (place, from) in [(point, end), (end, point)] {
            if !is_free(place) {
                continue;
            }
            let (was, raw) = (state.raw(place), state.raw(from));
            let changed: Vec<usize> = (0..3).filter(|i| was[*i] != raw[*i]).collect();
            let slip = match changed[..] {
                [axis] => Some(Slip::Off {
                    axis,
                    by: was[axis] - raw[axis],
                }),
                _ => None,
            };
            try_one(place, slip, raw, state.with(place, raw));
        }
    }
    for a in 0..KEY_COUNT {
        for b in a + 1..KEY_COUNT {
            let (ka, kb) = (Key::ALL[a], Key::ALL[b]);
            let touches = [ka, kb].iter().any(|k| places.contains(&Place::Point(*k)));
            if !touches
                || !is_free(Place::Point(ka))
                || !is_free(Place::Point(kb))
                || ![ka, kb].iter().all(|k| state.corner.has(*k))
                || state.corner.is_other[a] != state.corner.is_other[b]
            {
                continue;
            }
            let (pa, pb) = (state.corner.raw[a], state.corner.raw[b]);
            let swapped = state.with(Place::Point(ka), pb).with(Place::Point(kb), pa);
            let slip = Slip::PointsExchanged(state.corner.path(kb));
            try_one(Place::Point(ka), Some(slip), pb, swapped);
        }
    }
    let (unease, count, mut mend) = best?;
    let others = of_places.into_iter().filter(|of| {
        let is_point = matches!(of.0, Place::Point(_));
        is_point && of.0 != mend.place && of.2 == count && of.1 < unease + ALIKE
    });
    let next = others.min_by(|a, b| a.1.total_cmp(&b.1));
    mend.alternative = next.map(|(place, _, _, slip, raw)| (place, slip, raw));
    Some(mend)
}
