//! A sweep as text: five lines that answer, then the tables behind them.

use super::lengths::{
    Units, degrees, degrees_against, degrees_at_most, signed_degrees, signed_degrees_free_to,
};
use super::{bullet, table, text_width, verdict_words, warnings_text, wrap};
use crate::findings::{
    ContactClass, CornerFindings, FirstContact, FreeTravel, LimitState, NotAskedWhy, RestingGap,
    SecondLook, Status, StopFound, StopId, SweepFindings, TightGap, TravelDirection, TravelEnd,
    Undecided, WeakerBy,
};
use crate::limits::Unit;
use crate::numbers::Toward;
use crate::suspension::{Lock, Side, Steered};
use crate::sweep::line::TRAVEL_TOLERANCE_MM;
use crate::truck::TOUCH_MM;
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// From where droop and bump are counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Datum {
    /// The measured position.
    Measured,
    /// Ride height.
    RideHeight,
}

/// How a sweep is printed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SweepText {
    /// Unit of lengths.
    pub units: Units,
    /// From where droop and bump are counted.
    pub datum: Datum,
    /// The sweep's status.
    pub status: Status,
    /// The corner whose tables are printed, where the sides differ: none for the weaker one's.
    pub tables_of: Option<Side>,
    /// Whether the five leading lines are broken at [`text_width`] columns, for a screen; otherwise
    /// each stays one line.
    pub wrap_leading_lines: bool,
}

/// Gaps listed when all keep what they must.
const GAPS_LISTED: usize = 8;
/// Pairs at rest listed when all keep what they must.
const RESTING_LISTED: usize = 3;
/// Edges of the free region, blocked stretches and undecided places listed.
const PLACES_LISTED: usize = 6;
/// Racks closer than this are one position, mm; what is printed has one decimal.
const SAME_RACK_MM: f64 = 0.05;
/// Free droop that differs by less than this is equal on both sides, mm.
const SAME_DROOP_MM: f64 = 0.05;

/// A sweep's verdict in one sentence.
pub fn verdict_text(status: Status) -> &'static str {
    match status {
        Status::Clear => {
            "CLEAR. The maker's stops come first everywhere, with every required gap kept."
        }
        Status::Found => {
            "FOUND. A bind, a contact or a missing gap comes before the maker's stops."
        }
        Status::NotChecked => "NOT FULLY CHECKED. Something stayed undecided; it is listed below.",
    }
}

/// The whole page. Lengths in the wanted unit, angles in degrees, travel from the wanted datum.
pub fn sweep_text(findings: &SweepFindings, style: &SweepText) -> String {
    let mut out = String::new();
    let page = Page::of(&findings.worse, style);
    page.leading(&mut out, &page.leading_lines(&which_side(findings, style)));
    if let Some(other) = &findings.other {
        let other_page = Page::of(other, style);
        let head = format!("Other side, {}:", other.side.name());
        out.push('\n');
        other_page.leading(&mut out, &other_page.leading_lines(&head));
    }
    let verdict = verdict_text(style.status);
    let title = format!("{}: {verdict}{}", findings.truck, found_where(findings));
    let _ = writeln!(out, "\n{}", wrap(&title, text_width(), ""));
    for corner in std::iter::once(&findings.worse).chain(&findings.other) {
        if !corner.past_at_ride_height.is_empty() {
            let text = format!(
                "On the {} corner ride height itself is past: {}.",
                corner.side.name(),
                corner
                    .past_at_ride_height
                    .iter()
                    .map(verdict_words::past_at_ride_height)
                    .collect::<Vec<_>>()
                    .join(", ")
            );
            let _ = writeln!(out, "{}", wrap(&text, text_width(), ""));
        }
    }
    let is_wanted = |c: &&CornerFindings| style.tables_of == Some(c.side);
    let (shown, beside) = match &findings.other {
        Some(other) if is_wanted(&other) => (other, Some(&findings.worse)),
        other => (&findings.worse, other.as_ref()),
    };
    if let Some(beside) = beside {
        let text = format!(
            "The tables are the {} corner's; `--side {}` prints the other's.",
            shown.side.name(),
            beside.side.name()
        );
        let _ = writeln!(out, "{}", wrap(&text, text_width(), ""));
    }
    let page = Page::of(shown, style);
    page.tables(&mut out);
    if let Some(other) = beside {
        let page = Page::of(other, style);
        page.violations(&mut out);
        page.undecided(&mut out);
        page.edges(&mut out);
        if other.tightest_gaps.iter().any(is_short) {
            let _ = writeln!(out, "\n{} corner:", other.side.name());
            page.gaps(&mut out);
        }
    }

    out.push('\n');
    page.guard(&mut out);
    exclusions(&mut out, findings);
    held_rods(&mut out, findings);
    out.push_str(&warnings_text(&findings.warnings, style.units));
    out.push_str("\nCautions\n");
    for caution in &findings.cautions {
        out.push_str(&bullet(caution));
    }
    out
}

/// Which corner the finding is on, where only one of two has it.
fn found_where(findings: &SweepFindings) -> String {
    let Some(other) = &findings.other else {
        return String::new();
    };
    let worse = &findings.worse;
    match (worse.bind_before_intended, other.bind_before_intended) {
        (true, false) => format!(" It is on the {} corner.", worse.side.name()),
        (false, true) => format!(" It is on the {} corner.", other.side.name()),
        (true, true) => " It is on both corners.".to_owned(),
        (false, false) => String::new(),
    }
}

fn is_short(gap: &TightGap) -> bool {
    gap.gap_mm < gap.required_mm
}

/// The first line: which side, the datum, the signs.
fn which_side(findings: &SweepFindings, style: &SweepText) -> String {
    let units = style.units;
    let worse = &findings.worse;
    let side = worse.side.name();
    let both = std::iter::once(worse).chain(&findings.other);
    let is_as_measured = both.clone().all(|c| c.ride_height_mm == 0.0);
    let alike = both
        .clone()
        .all(|c| c.ride_height_mm == worse.ride_height_mm);
    // Where one stands from the other, of both sides where they differ.
    let at = |sign: f64| {
        let place = |c: &CornerFindings| units.signed(sign * c.ride_height_mm);
        if alike {
            return format!(" at {}", place(worse));
        }
        let places = both
            .clone()
            .map(|c| format!("{} {}", c.side.name(), place(c)));
        format!(": {}", places.collect::<Vec<_>>().join(", "))
    };
    let datum = match style.datum {
        _ if is_as_measured => "ride height (as measured)".to_owned(),
        Datum::Measured => format!("the measured position (ride height{})", at(1.0)),
        Datum::RideHeight => format!("ride height (measured position{})", at(-1.0)),
    };
    let from = match style.datum {
        Datum::Measured if !is_as_measured => " from ride height",
        Datum::Measured | Datum::RideHeight => "",
    };
    let which = match &findings.other {
        None => format!("Both sides are alike, {side} shown."),
        Some(other) => match &findings.weaker_by {
            None => {
                format!("Both sides are alike but for where the parts are, {side} shown first.")
            }
            Some(by) if reads_alike(by, units) => {
                format!("Both sides are alike to the last digit printed, {side} shown first.")
            }
            Some(by) => format!(
                "{} side is weaker: {}.",
                side.to_uppercase(),
                weaker_by(by, other.side.name(), from, units)
            ),
        },
    };
    format!(
        "{which} Amounts in {} from {datum}. Travel: bump +, droop -; rack and steer: left +.",
        units.long_name()
    )
}

/// Whether what one side is weaker by reads the same on both, in the unit that is printed.
fn reads_alike(by: &WeakerBy, units: Units) -> bool {
    figures(by, units).is_some_and(|[weaker, other]| weaker == other)
}

/// What one side is weaker by, as printed of both, the weaker first; none where it is no figure.
fn figures(by: &WeakerBy, units: Units) -> Option<[String; 2]> {
    Some(match by {
        WeakerBy::Verdict => return None,
        WeakerBy::Droop {
            weaker_mm,
            other_mm,
        }
        | WeakerBy::Bump {
            weaker_mm,
            other_mm,
        } => [*weaker_mm, *other_mm].map(|mm| units.at_most(mm)),
        WeakerBy::Steer {
            weaker_deg,
            other_deg,
        } => [*weaker_deg, *other_deg].map(degrees_at_most),
        WeakerBy::Margin {
            unit,
            weaker,
            other,
            ..
        } => [*weaker, *other].map(|v| match unit {
            Unit::Millimetre => units.at_most(v),
            Unit::Degree => degrees_at_most(v),
        }),
        WeakerBy::Gap {
            weaker_mm,
            other_mm,
            ..
        } => [*weaker_mm, *other_mm].map(|mm| units.at_most(mm)),
    })
}

/// By what the leading side is weaker, the other's figure beside its own; `from` says from where travel counts where that
/// isn't the page's datum.
fn weaker_by(by: &WeakerBy, other: &str, from: &str, units: Units) -> String {
    let [weaker, others] = figures(by, units).unwrap_or_default();
    match by {
        WeakerBy::Verdict => format!("what the {other} one keeps isn't kept on it"),
        WeakerBy::Droop { .. } => {
            format!("droops {weaker} at least{from}, the {other} one {others}")
        }
        WeakerBy::Bump { .. } => {
            format!("droops alike, bumps {weaker} at least{from}, the {other} one {others}")
        }
        WeakerBy::Steer { .. } => {
            format!("travels alike, steers {weaker} deg from end to end, the {other} one {others}")
        }
        WeakerBy::Margin { limit, unit, .. } => {
            let unit = unit_name(units, *unit);
            format!("travels alike, {limit} has {weaker} {unit} left, on the {other} one {others}")
        }
        WeakerBy::Gap { pair: [a, b], .. } => format!(
            "travels alike, {a} - {b} has {weaker} {} beyond what is required, the {other} side's least {others}",
            units.name(),
        ),
    }
}

/// One corner, ready to be put into words.
struct Page<'f> {
    corner: &'f CornerFindings,
    units: Units,
    datum_mm: f64,
    wrapped: bool,
}

impl<'f> Page<'f> {
    fn of(corner: &'f CornerFindings, style: &SweepText) -> Page<'f> {
        let datum_mm = match style.datum {
            Datum::Measured => 0.0,
            Datum::RideHeight => corner.ride_height_mm,
        };
        Page {
            corner,
            units: style.units,
            datum_mm,
            wrapped: style.wrap_leading_lines,
        }
    }

    /// A travel, signed, from the datum.
    fn travel(&self, travel_mm: f64) -> String {
        self.units.signed(travel_mm - self.datum_mm)
    }

    /// A travel that is free up to there, signed, from the datum.
    fn free_travel_to(&self, travel_mm: f64) -> String {
        let from_datum = travel_mm - self.datum_mm;
        self.units.signed_free_to(from_datum, from_datum)
    }

    /// A travel that is free up to there, as an amount of droop or bump from the datum.
    fn amount(&self, direction: TravelDirection, travel_mm: f64) -> String {
        let amount = (travel_mm - self.datum_mm) * direction.sign();
        format!("{} {}", direction.name(), self.units.at_most(amount))
    }

    /// A range, rounded outward, so that what is inside stays inside.
    fn range(&self, from_mm: f64, to_mm: f64) -> String {
        format!(
            "{} to {}",
            self.units.signed_at_most(from_mm),
            self.units.signed_at_least(to_mm)
        )
    }

    /// Rack positions that lead: straight ahead, then full lock left and right.
    fn leading_racks(&self) -> Vec<(String, &'f FreeTravel)> {
        let rows = &self.corner.free_travel;
        let straight = rows
            .iter()
            .min_by(|a, b| a.rack_mm.abs().total_cmp(&b.rack_mm.abs()));
        let mut out: Vec<_> = straight
            .map(|s| ("Straight ahead".to_owned(), s))
            .into_iter()
            .collect();
        for lock in Lock::BOTH {
            let is_there =
                |row: &&FreeTravel| self.corner.locks.at(row.rack_mm) == Steered::Full(lock);
            let name = match lock {
                Lock::Left => "Full left",
                Lock::Right => "Full right",
            };
            out.extend(rows.iter().find(is_there).map(|row| {
                let rack = self.units.signed(row.rack_mm);
                let steer = steer_words(row.steer_deg);
                (format!("{name} (rack {rack}, steer {steer})"), row)
            }));
        }
        out
    }

    /// A rack position in words.
    fn lock_name(&self, rack_mm: f64) -> &'static str {
        self.corner.locks.at(rack_mm).name()
    }

    /// The five lines.
    fn leading_lines(&self, head: &str) -> Vec<String> {
        let mut lines = vec![head.to_owned()];
        for (name, row) in self.leading_racks() {
            lines.push(format!("{name}: {}", self.droop_sentence(row)));
        }
        lines.push(self.first_contact_sentence());
        lines
    }

    fn leading(&self, out: &mut String, lines: &[String]) {
        for line in lines {
            let line = if self.wrapped {
                wrap(line, text_width(), "    ")
            } else {
                line.clone()
            };
            out.push_str(&line);
            out.push('\n');
        }
    }

    /// Free droop, what ends it, and the next two stops with the travel each gives.
    fn droop_sentence(&self, row: &FreeTravel) -> String {
        let free = self.units.at_most(row.droop_mm + self.datum_mm);
        let Some(order) = self.corner.stop_order.iter().find(|o| {
            o.direction == TravelDirection::Droop && (o.rack_mm - row.rack_mm).abs() <= SAME_RACK_MM
        }) else {
            return format!("free droop {free}");
        };
        let blocking: Vec<&StopFound> = order.stops.iter().filter(|s| s.blocks).collect();
        let mut text = match blocking.first() {
            None if order.undecided.is_empty() => format!(
                "free droop {free}, nothing stops it; searched to {}",
                self.amount(TravelDirection::Droop, order.searched_to_mm)
            ),
            None => format!("free droop {free}, what stops it is undecided"),
            Some(first) if (first.travel_mm + row.droop_mm).abs() > SAME_DROOP_MM => format!(
                "free droop {free} proved, what stops it there is undecided; {} at {}",
                self.units.reworded(&stop_in_words(first)),
                self.amount(TravelDirection::Droop, first.travel_mm)
            ),
            Some(first) => format!(
                "free droop {free} to {}",
                self.units.reworded(&stop_in_words(first))
            ),
        };
        let mut before = blocking.first().map_or(0.0, |s| s.travel_mm);
        let mut next = Vec::new();
        for stop in blocking.iter().skip(1).take(2) {
            let more = (stop.travel_mm - before).abs();
            next.push(format!(
                "{} more to {}",
                self.units.at_most(more),
                self.units.reworded(&stop_in_words(stop))
            ));
            before = stop.travel_mm;
        }
        if next.len() < 2 && !blocking.is_empty() {
            let end = self.amount(TravelDirection::Droop, order.searched_to_mm);
            next.push(format!("nothing more up to {end}"));
        }
        if !next.is_empty() {
            let _ = write!(text, "; then {}", next.join(", "));
        }
        if let Some((stop, kept)) = order.undecided.first() {
            let kept = self.amount(TravelDirection::Droop, *kept);
            let _ = write!(text, "; UNDECIDED: {} beyond {kept}", stop.name());
            if order.undecided.len() > 1 {
                let _ = write!(text, " and {} more", order.undecided.len() - 1);
            }
        }
        text
    }

    fn first_contact_sentence(&self) -> String {
        let head = "First metal contact, maker's stops off";
        match &self.corner.first_contact {
            Some(contact) => format!("{head}: {}", self.contact_in_words(contact)),
            None => match self.corner.undecided.iter().find(|u| {
                matches!(
                    u,
                    Undecided::FirstContact {
                        class: ContactClass::Metal,
                        ..
                    }
                )
            }) {
                Some(_) => format!("{head}: UNDECIDED, see below."),
                None if self.corner.undecided.contains(&Undecided::NothingWatched) => {
                    format!("{head}: not looked for, since no pair is watched.")
                }
                None => {
                    let mut reach = String::new();
                    let words = ["droop", "bump"];
                    for (word, searched) in words.iter().zip(self.corner.no_contact_to_mm) {
                        if let Some(travel) = searched {
                            let amount = self.units.at_most((travel - self.datum_mm).abs());
                            let _ = write!(reach, " {word} {amount}");
                        }
                    }
                    format!("{head}: none, searched at every rack position to{reach}.")
                }
            },
        }
    }

    fn contact_in_words(&self, c: &FirstContact) -> String {
        let before = match (c.intended_stop_before, c.stops_before.first()) {
            (true, _) => "A maker's stop comes before it.",
            (false, _) => "NO maker's stop comes before it.",
        };
        format!(
            "{} - {} at {}, rack {} ({}, steer {}), inner joint {} deg, outer joint {} deg. On {}: \
             {}. On {}: {}. {before}",
            c.a,
            c.b,
            self.amount(c.direction, free_before(c)),
            self.units.signed(c.rack_mm),
            self.lock_name(c.rack_mm),
            signed_degrees(c.steer_deg),
            degrees(c.inner_joint_deg),
            degrees(c.outer_joint_deg),
            c.a,
            self.units.reworded(&c.tape_a),
            c.b,
            self.units.reworded(&c.tape_b),
        )
    }

    fn tables(&self, out: &mut String) {
        self.violations(out);
        self.undecided(out);
        for contact in &self.corner.first_contacts {
            if self.corner.first_contact.as_ref() != Some(contact) {
                let way = contact.direction.name();
                let class = verdict_words::contact_class(contact.class);
                let text = format!("First {class} in {way}: {}", self.contact_in_words(contact));
                let _ = writeln!(out, "\n{}", wrap(&text, text_width(), "    "));
            }
        }
        self.free_travel(out);
        self.free_steer(out);
        self.edges(out);
        self.limits(out);
        self.gaps(out);
        self.resting(out);
    }

    /// What the verdict found, each with where.
    fn violations(&self, out: &mut String) {
        let lines = verdict_words::violations(&self.corner.verdict, self.units, self.datum_mm);
        if lines.is_empty() {
            return;
        }
        let side = self.corner.side.name();
        let _ = writeln!(
            out,
            "\nBinds, contacts and missing gaps before the maker's stops, {side} corner, each with one place of it"
        );
        for line in lines.iter().take(PLACES_LISTED) {
            out.push_str(&bullet(line));
        }
        if lines.len() > PLACES_LISTED {
            let more = lines.len() - PLACES_LISTED;
            let _ = writeln!(out, "- and {more} more, in the JSON");
        }
    }

    fn undecided(&self, out: &mut String) {
        let undecided = &self.corner.undecided;
        if undecided.is_empty() {
            return;
        }
        let _ = writeln!(out, "\nUndecided, {} corner", self.corner.side.name());
        for why in undecided.iter().take(PLACES_LISTED) {
            let text = verdict_words::undecided(why, self.units, self.datum_mm);
            out.push_str(&bullet(&text));
        }
        if undecided.len() > PLACES_LISTED {
            let _ = writeln!(
                out,
                "- and {} more, in the JSON",
                undecided.len() - PLACES_LISTED
            );
        }
    }

    fn free_travel(&self, out: &mut String) {
        let mut t = table(&[
            ("rack", true),
            ("steer deg", true),
            ("free droop", true),
            ("ends at", false),
            ("free bump", true),
            ("ends at", false),
        ]);
        for row in &self.corner.free_travel {
            let ends = |stop: &Option<StopId>, intended: bool| match stop {
                None => "nothing found".to_owned(),
                Some(stop) if intended => stop.name(),
                Some(stop) => stop_with_kind(stop, false),
            };
            t.add_row([
                self.units.signed(row.rack_mm),
                steer_words(row.steer_deg),
                self.units.at_most(row.droop_mm + self.datum_mm),
                ends(&row.droop_stop, row.intended[0]),
                self.units.at_most(row.bump_mm - self.datum_mm),
                ends(&row.bump_stop, row.intended[1]),
            ]);
        }
        let _ = writeln!(
            out,
            "\nFree travel by rack position, to maker's stops unless marked\n{}",
            t.trim_fmt()
        );
    }

    /// How far the rack goes. A lock is where it is, and reads so everywhere; what is free up to a stop is rounded down.
    fn rack_free_to(&self, rack_mm: f64, way: f64, stop: Option<&StopId>) -> String {
        match stop {
            None => self.units.signed(rack_mm),
            Some(_) => self.units.signed_free_to(rack_mm, way),
        }
    }

    fn free_steer(&self, out: &mut String) {
        let mut t = table(&[
            ("free steer at", false),
            ("travel", true),
            ("rack to", true),
            ("steer deg", true),
            ("ends at", false),
            ("rack to", true),
            ("steer deg", true),
            ("ends at", false),
        ]);
        let ends = |stop: &Option<StopId>| stop.as_ref().map_or("lock".to_owned(), StopId::name);
        for free in &self.corner.free_steer {
            t.add_row([
                free.at.name().to_owned(),
                self.free_travel_to(free.travel_mm),
                self.rack_free_to(free.rack_mm[0], -1.0, free.stops[0].as_ref()),
                signed_degrees_free_to(free.steer_deg[0]),
                ends(&free.stops[0]),
                self.rack_free_to(free.rack_mm[1], 1.0, free.stops[1].as_ref()),
                signed_degrees_free_to(free.steer_deg[1]),
                ends(&free.stops[1]),
            ]);
        }
        let _ = writeln!(out, "\n{}", t.trim_fmt());
        out.push_str(
            "The arm is held where it stands straight ahead, as on a lift; the wheel rises or falls a \
             little as\nit is steered.\n",
        );
        if let Some(touched) = self.corner.bump_stop_touched_mm {
            out.push_str(&wrap(
                &format!(
                "The bump stop is first touched at travel {} straight ahead and crushed at the end of \
                 the bump.",
                self.travel(touched)
            ), text_width(), "  "));
            out.push('\n');
        }
    }

    fn edges(&self, out: &mut String) {
        let map = &self.corner.map;
        let side = self.corner.side.name();
        let binds: Vec<_> = map.edge.iter().filter(|e| !e.intended).collect();
        if !binds.is_empty() {
            let _ = writeln!(
                out,
                "\nBinds and contacts on the edge of the free travel, {side} corner"
            );
            for edge in binds.iter().take(PLACES_LISTED) {
                out.push_str(&bullet(&format!(
                    "{}: travel {}, rack {}",
                    edge.stop.name(),
                    self.range(
                        edge.travel_mm[0] - self.datum_mm,
                        edge.travel_mm[1] - self.datum_mm
                    ),
                    self.range(edge.rack_mm[0], edge.rack_mm[1]),
                )));
            }
            if binds.len() > PLACES_LISTED {
                let _ = writeln!(
                    out,
                    "- and {} more, in the JSON",
                    binds.len() - PLACES_LISTED
                );
            }
        }
        if !map.blocked_steering.is_empty() {
            let _ = writeln!(
                out,
                "\nSteering blocked between two free stretches, {side} corner"
            );
            for blocked in map.blocked_steering.iter().take(PLACES_LISTED) {
                out.push_str(&bullet(&format!(
                    "at travel {}: rack {}, by {}",
                    self.travel(blocked.travel_mm),
                    self.range(blocked.rack_mm[0], blocked.rack_mm[1]),
                    blocked.stop.name(),
                )));
            }
            if map.blocked_steering.len() > PLACES_LISTED {
                let more = map.blocked_steering.len() - PLACES_LISTED;
                let _ = writeln!(out, "- and {more} more, in the JSON");
            }
        }
    }

    /// Every limit straight ahead at full droop and full bump, and its least margin at straight ahead
    /// and both locks.
    fn limits(&self, out: &mut String) {
        let straight = self
            .corner
            .extremes
            .iter()
            .map(|e| e.rack_mm.abs())
            .fold(f64::INFINITY, f64::min);
        let at = |end: TravelEnd| {
            self.corner
                .extremes
                .iter()
                .find(|e| e.at == end && e.rack_mm.abs() <= straight + SAME_RACK_MM)
        };
        let ends = [TravelEnd::FullDroop, TravelEnd::FullBump].map(at);
        let [Some(droop), Some(bump)] = ends else {
            return;
        };
        let mut t = table(&[
            ("limit", false),
            ("droop", true),
            ("allowed", true),
            ("margin", true),
            ("bump", true),
            ("allowed", true),
            ("margin", true),
            ("least", true),
            ("where", false),
        ]);
        for (i, low) in droop.stops.iter().enumerate() {
            let Some(high) = bump.stops.get(i) else {
                continue;
            };
            let least = self
                .corner
                .extremes
                .iter()
                .filter_map(|e| e.stops.get(i).map(|s| (e, s)))
                .min_by(|(_, a), (_, b)| a.margin.total_cmp(&b.margin));
            let (least_margin, place) = match least {
                Some((e, s)) => (
                    limit_margin(self.units, s),
                    format!(
                        "{}, {}",
                        e.at.name().trim_start_matches("full "),
                        self.lock_name(e.rack_mm)
                            .trim_start_matches("full ")
                            .trim_end_matches(" ahead")
                    ),
                ),
                None => (String::new(), String::new()),
            };
            let [low_is, low_may] = limit_reading(self.units, low);
            let [high_is, high_may] = limit_reading(self.units, high);
            t.add_row([
                limit_name(self.units, low),
                low_is,
                low_may,
                limit_margin(self.units, low),
                high_is,
                high_may,
                limit_margin(self.units, high),
                least_margin,
                place,
            ]);
        }
        let title = format!(
            "Limits straight ahead at full droop {} and full bump {}, and the least margin there and at \
             both locks",
            self.units.at_most(self.datum_mm - droop.travel_mm),
            self.units.at_most(bump.travel_mm - self.datum_mm),
        );
        let _ = writeln!(
            out,
            "\n{}\n{}",
            wrap(&title, text_width(), "  "),
            t.trim_fmt()
        );
    }

    fn gaps(&self, out: &mut String) {
        let gaps = &self.corner.tightest_gaps;
        if gaps.is_empty() {
            return;
        }
        let mut t = table(&[
            ("tightest gaps in the free travel", false),
            ("gap", true),
            ("proved", true),
            ("required", true),
            ("travel", true),
            ("rack", true),
            ("", false),
        ]);
        // A spring or a boot is one part to who drew it: its tightest slice stands for it.
        let of_parts = TightGap::between_drawn_parts(gaps);
        let listed = of_parts
            .iter()
            .enumerate()
            .filter(|(i, g)| *i < GAPS_LISTED || is_short(g));
        let mut count = 0;
        for (_, gap) in listed {
            count += 1;
            let ([there, proved], required) = self
                .units
                .against([gap.gap_mm, gap.at_least_mm], gap.required_mm);
            t.add_row([
                format!("{} - {}", gap.a, gap.b),
                there,
                proved,
                required,
                self.travel(gap.travel_mm),
                self.units.signed(gap.rack_mm),
                if is_short(gap) {
                    "TOO SMALL".to_owned()
                } else {
                    String::new()
                },
            ]);
        }
        let _ = writeln!(out, "\n{}", t.trim_fmt());
        if of_parts.len() > count {
            let _ = writeln!(
                out,
                "{} wider ones are in the JSON and CSV",
                of_parts.len() - count
            );
        }
    }

    /// Pairs that don't move against each other, the tightest of them.
    fn resting(&self, out: &mut String) {
        let gaps = &self.corner.resting_gaps;
        if gaps.is_empty() {
            return;
        }
        let _ = writeln!(
            out,
            "\nAt rest to each other, checked once; a turning part as the full revolution that it sweeps"
        );
        let listed = |(i, gap): &(usize, &RestingGap)| *i < RESTING_LISTED || !gap.kept;
        let mut count = 0;
        for (_, gap) in gaps.iter().enumerate().filter(listed) {
            count += 1;
            let mark = if gap.kept { "" } else { " TOO SMALL" };
            let text = verdict_words::resting_gap(gap, self.units);
            out.push_str(&bullet(&format!("{text}{mark}")));
        }
        if gaps.len() > count {
            let more = gaps.len() - count;
            let _ = writeln!(out, "{more} wider ones are in the JSON");
        }
    }

    fn guard(&self, out: &mut String) {
        let guard = &self.corner.guard;
        let shares = &self.corner.map.shares;
        let text = format!(
            "Guard: each stop is bracketed to {} mm of travel, proved kept on the near side and seen violated on the far \
             one unless it says otherwise; parts touch where the gap between them, the error of \
             facets taken off, is {TOUCH_MM} mm or less. Of the swept area {:.1} % is proved free, \
             {:.1} % free but cut off, {:.1} % proved stopped, {:.1} % undecided (cells along the \
             edges, {} of travel by {} of rack). {} distance queries. {}",
            guard.travel_tolerance_mm,
            100.0 * shares.free,
            100.0 * shares.cut_off,
            100.0 * shares.stopped,
            100.0 * guard.undecided_share,
            self.units.at_least_with_unit(self.corner.map.cell_mm[0]),
            self.units.at_least_with_unit(self.corner.map.cell_mm[1]),
            guard.distance_queries,
            second_look(&self.corner.second_look),
        );
        let text = self.units.reworded(&text);
        let _ = writeln!(out, "{}", wrap(&text, text_width(), "  "));
        let sums = verdict_words::sums(&self.corner.verdict);
        let _ = writeln!(out, "{}", wrap(&sums, text_width(), "  "));
    }
}

/// What came of asking parry3d again, in one sentence or two.
pub(super) fn second_look(look: &SecondLook) -> String {
    // Rounded up: a difference is never told smaller than it is.
    let difference = (look.largest_difference_mm * 1.0e6).ceil() / 1.0e6;
    let mut text = format!(
        "{} gaps asked again of parry3d, largest difference {difference:.6} mm",
        look.asked
    );
    if !look.disagreements.is_empty() {
        let _ = write!(text, ", {} in disagreement", look.disagreements.len());
    }
    text.push('.');
    let mut why: BTreeMap<NotAskedWhy, u64> = BTreeMap::new();
    for left in &look.left_out {
        *why.entry(left.why).or_default() += left.count;
    }
    for (why, count) in why {
        let _ = write!(text, " {count} not: {}.", why.name());
    }
    text
}

/// Pairs left out by name, one line a reason; the other side's only where they differ.
fn exclusions(out: &mut String, findings: &SweepFindings) {
    let corners = std::iter::once(&findings.worse).chain(&findings.other);
    let all = corners.flat_map(|corner| &corner.joined);
    let reasons = verdict_words::by_reason(all.map(|[a, b, why]| [a.as_str(), b, why]));
    if reasons.is_empty() {
        return;
    }
    out.push_str("\nNot checked against each other, by name\n");
    for text in reasons {
        out.push_str(&bullet(&text));
    }
}

/// Rods that are checked as drawn, since the scene says what holds them.
fn held_rods(out: &mut String, findings: &SweepFindings) {
    let corners = std::iter::once(&findings.worse).chain(&findings.other);
    let mut held: Vec<&[String; 2]> = corners.flat_map(|c| &c.roll_held).collect();
    held.sort_unstable();
    held.dedup();
    if held.is_empty() {
        return;
    }
    out.push_str("\nNot checked at other roll angles\n");
    for [name, why] in held {
        out.push_str(&bullet(&format!("{name}, held by {why}")));
    }
}

/// A stop's name with what it is, if the name doesn't say.
fn stop_with_kind(stop: &StopId, intended: bool) -> String {
    let name = stop.name();
    match stop {
        StopId::Limit { .. } if intended => format!("{name} (maker's)"),
        StopId::Contact { .. } | StopId::EndOfReach => name,
        StopId::Limit { .. } | StopId::Gap { .. } => format!("{name} (bind)"),
    }
}

fn stop_in_words(stop: &StopFound) -> String {
    let mut text = stop_with_kind(&stop.stop, stop.intended);
    if stop.graze {
        let _ = write!(
            text,
            " (reached within {TRAVEL_TOLERANCE_MM} mm, not seen to be crossed)"
        );
    }
    let [kept, violated] = stop.travel_interval_mm;
    let open = (violated - kept).abs();
    if open > CLOSED_BRACKET_MM {
        let _ = write!(
            text,
            " (or up to {} mm later)",
            Toward::More.decimals(open, 2)
        );
    }
    text
}

/// A limit's name with its unit.
pub(super) fn limit_name(units: Units, limit: &LimitState) -> String {
    format!("{}, {}", limit.name, unit_name(units, limit.unit))
}

/// A limit's unit as it is printed: lengths in the wanted one.
fn unit_name(units: Units, unit: Unit) -> &'static str {
    match unit {
        Unit::Millimetre => units.name(),
        Unit::Degree => unit.name(),
    }
}

/// A limit's value and what is allowed, as readings in the limit's own unit; with more digits where an exceeded limit
/// would print as just reached.
pub fn limit_reading(units: Units, limit: &LimitState) -> [String; 2] {
    let is_length = limit.unit == Unit::Millimetre;
    let say = |v: f64| {
        if is_length {
            units.length(v)
        } else {
            degrees(v)
        }
    };
    let plain = [say(limit.value), say(limit.limit)];
    // To the nearest digit the smaller never prints as the greater.
    if limit.margin >= 0.0 || plain[0] != plain[1] {
        return plain;
    }
    let order = |less: f64, more: f64| {
        let ([less], more) = if is_length {
            units.against([less], more)
        } else {
            degrees_against([less], more)
        };
        [less, more]
    };
    if limit.value <= limit.limit {
        order(limit.value, limit.limit)
    } else {
        let [most, value] = order(limit.limit, limit.value);
        [value, most]
    }
}

/// What a limit leaves, in its own unit.
pub fn limit_margin(units: Units, limit: &LimitState) -> String {
    match limit.unit {
        Unit::Millimetre => units.at_most(limit.margin),
        Unit::Degree => degrees_at_most(limit.margin),
    }
}

/// Brackets wider than this were left open by the search, mm: the tolerance, and a tenth of it for rounding of travels.
const CLOSED_BRACKET_MM: f64 = 1.1 * TRAVEL_TOLERANCE_MM;

/// Travel that is free before a contact: up to the proved end of its bracket, where that is closed.
fn free_before(contact: &FirstContact) -> f64 {
    let [proved, touched] = contact.travel_interval_mm;
    if (touched - proved).abs() <= CLOSED_BRACKET_MM {
        proved
    } else {
        contact.travel_mm
    }
}

/// A steer angle, or `-` where it isn't known.
fn steer_words(deg: Option<f64>) -> String {
    deg.map_or("-".to_owned(), signed_degrees)
}
