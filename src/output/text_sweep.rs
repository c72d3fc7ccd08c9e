//! A sweep as text: five lines that answer, then the tables behind them.

use super::lengths::{Units, degrees, signed_degrees};
use super::{TEXT_WIDTH, bullet, table, verdict_words, wrap};
use crate::findings::{
    ContactClass, CornerFindings, FirstContact, FreeTravel, LimitState, RestingGap, Status, StopFound,
    SweepFindings, TightGap, TravelDirection, Undecided,
};
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
    /// Whether the five leading lines are broken at [`TEXT_WIDTH`] columns, for a screen; otherwise
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
    let _ = writeln!(out, "\n{}", wrap(&title, TEXT_WIDTH, ""));
    for corner in std::iter::once(&findings.worse).chain(&findings.other) {
        if !corner.past_at_ride_height.is_empty() {
            let text = format!(
                "On the {} corner ride height itself is past: {}.",
                corner.side.name(),
                corner
                    .past_at_ride_height
                    .iter()
                    .map(|past| verdict_words::past_at_ride_height(past, style.units))
                    .collect::<Vec<_>>()
                    .join(", ")
            );
            let _ = writeln!(out, "{}", wrap(&text, TEXT_WIDTH, ""));
        }
    }
    if findings.other.is_some() {
        let _ = writeln!(
            out,
            "The tables are the {} corner's.",
            findings.worse.side.name()
        );
    }
    page.tables(&mut out);
    if let Some(other) = &findings.other {
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
    if !findings.warnings.is_empty() {
        out.push_str("\nWarnings\n");
        for warning in &findings.warnings {
            out.push_str(&bullet(&style.units.reworded(warning)));
        }
    }
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
    let datum = match style.datum {
        _ if worse.ride_height_mm == 0.0 => "ride height (as measured)".to_owned(),
        Datum::Measured => format!(
            "the measured position (ride height at {})",
            units.signed(worse.ride_height_mm)
        ),
        Datum::RideHeight => format!(
            "ride height (measured position at {})",
            units.signed(-worse.ride_height_mm)
        ),
    };
    let which = match &findings.other {
        None => format!("Both sides are alike, {side} shown."),
        Some(other) => {
            let [here, there] = [worse, other].map(|c| Page::of(c, style).least_droop_mm());
            if (here - there).abs() < SAME_DROOP_MM {
                format!("Both sides droop alike, {side} shown first.")
            } else {
                format!(
                    "{} side is worse: droops {} at least, the {} one {}.",
                    side.to_uppercase(),
                    units.length(here),
                    other.side.name(),
                    units.length(there)
                )
            }
        }
    };
    format!(
        "{which} Amounts in {} from {datum}. Travel: bump +, droop -; rack and steer: left +.",
        units.long_name()
    )
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

    fn least_droop_mm(&self) -> f64 {
        let droop = self
            .corner
            .free_travel
            .iter()
            .map(|f| f.droop_mm + self.datum_mm);
        droop.fold(f64::INFINITY, f64::min)
    }

    /// A travel, signed, from the datum.
    fn travel(&self, travel_mm: f64) -> String {
        self.units.signed(travel_mm - self.datum_mm)
    }

    /// A travel as an amount of droop or bump from the datum.
    fn amount(&self, direction: TravelDirection, travel_mm: f64) -> String {
        let from_datum = travel_mm - self.datum_mm;
        match direction {
            TravelDirection::Droop => format!("droop {}", self.units.length(-from_datum)),
            TravelDirection::Bump => format!("bump {}", self.units.length(from_datum)),
        }
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
        let mut locks: Vec<&FreeTravel> = rows.first().into_iter().chain(rows.last()).collect();
        locks.sort_by(|a, b| b.steer_deg.total_cmp(&a.steer_deg));
        for lock in locks {
            let name = if lock.steer_deg >= 0.0 {
                "Full left"
            } else {
                "Full right"
            };
            out.push((
                format!(
                    "{name} (rack {}, steer {})",
                    self.units.signed(lock.rack_mm),
                    signed_degrees(lock.steer_deg)
                ),
                lock,
            ));
        }
        out
    }

    /// A rack position in words.
    fn lock_name(&self, rack_mm: f64) -> &'static str {
        let rows = &self.corner.free_travel;
        let at = |row: Option<&FreeTravel>| {
            row.filter(|r| (r.rack_mm - rack_mm).abs() <= SAME_RACK_MM)
                .map(|r| r.steer_deg)
        };
        if rack_mm.abs() <= SAME_RACK_MM {
            "straight"
        } else {
            match at(rows.first()).or(at(rows.last())) {
                Some(steer) if steer >= 0.0 => "full left",
                Some(_) => "full right",
                None => "between the locks",
            }
        }
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
                wrap(line, TEXT_WIDTH, "    ")
            } else {
                line.clone()
            };
            out.push_str(&line);
            out.push('\n');
        }
    }

    /// Free droop, what ends it, and the next two stops with the travel each gives.
    fn droop_sentence(&self, row: &FreeTravel) -> String {
        let free = self.units.length(row.droop_mm + self.datum_mm);
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
                stop_in_words(first),
                self.amount(TravelDirection::Droop, first.travel_mm)
            ),
            Some(first) => format!("free droop {free} to {}", stop_in_words(first)),
        };
        let mut before = blocking.first().map_or(0.0, |s| s.travel_mm);
        let mut next = Vec::new();
        for stop in blocking.iter().skip(1).take(2) {
            let more = (stop.travel_mm - before).abs();
            next.push(format!(
                "{} more to {}",
                self.units.length(more),
                stop_in_words(stop)
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
        if let Some((name, kept)) = order.undecided.first() {
            let kept = self.amount(TravelDirection::Droop, *kept);
            let _ = write!(text, "; UNDECIDED: {name} beyond {kept}");
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
            None => match self
                .corner
                .undecided
                .iter()
                .find(|u| matches!(u, Undecided::FirstContact { class: ContactClass::Metal, .. }))
            {
                Some(_) => format!("{head}: UNDECIDED, see below."),
                None if self.corner.undecided.contains(&Undecided::NothingWatched) => {
                    format!("{head}: not looked for, since no pair is watched.")
                }
                None => {
                    let mut reach = String::new();
                    let words = ["droop", "bump"];
                    for (word, searched) in words.iter().zip(self.corner.no_contact_to_mm) {
                        if let Some(travel) = searched {
                            let amount = self.units.length((travel - self.datum_mm).abs());
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
            self.amount(c.direction, c.travel_mm),
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
                let _ = writeln!(out, "\n{}", wrap(&text, TEXT_WIDTH, "    "));
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
            let ends = |stop: &Option<String>, intended: bool| match stop {
                None => "nothing found".to_owned(),
                Some(name) if intended => name.clone(),
                Some(name) => stop_with_kind(name, false),
            };
            t.add_row([
                self.units.signed(row.rack_mm),
                signed_degrees(row.steer_deg),
                self.units.length(row.droop_mm + self.datum_mm),
                ends(&row.droop_stop, row.intended[0]),
                self.units.length(row.bump_mm - self.datum_mm),
                ends(&row.bump_stop, row.intended[1]),
            ]);
        }
        let _ = writeln!(
            out,
            "\nFree travel by rack position, to maker's stops unless marked\n{}",
            t.trim_fmt()
        );
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
        let ends = |stop: &Option<String>| stop.clone().unwrap_or_else(|| "lock".to_owned());
        for free in &self.corner.free_steer {
            t.add_row([
                free.at.to_owned(),
                self.travel(free.travel_mm),
                self.units.signed(free.rack_mm[0]),
                signed_degrees(free.steer_deg[0]),
                ends(&free.stops[0]),
                self.units.signed(free.rack_mm[1]),
                signed_degrees(free.steer_deg[1]),
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
            ), TEXT_WIDTH, "  "));
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
                    "{}: travel {} to {}, rack {} to {}",
                    edge.name,
                    self.travel(edge.travel_mm[0]),
                    self.travel(edge.travel_mm[1]),
                    self.units.signed(edge.rack_mm[0]),
                    self.units.signed(edge.rack_mm[1]),
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
                    "at travel {}: rack {} to {}, by {}",
                    self.travel(blocked.travel_mm),
                    self.units.signed(blocked.rack_mm[0]),
                    self.units.signed(blocked.rack_mm[1]),
                    blocked.stop,
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
        let at = |name: &str| {
            self.corner
                .extremes
                .iter()
                .find(|e| e.at == name && e.rack_mm.abs() <= straight + SAME_RACK_MM)
        };
        let (Some(droop), Some(bump)) = (at("full droop"), at("full bump")) else {
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
            let (margin, place) = match least {
                Some((e, s)) => (
                    value(self.units, s, s.margin),
                    format!(
                        "{}, {}",
                        e.at.trim_start_matches("full "),
                        self.lock_name(e.rack_mm).trim_start_matches("full ")
                    ),
                ),
                None => (String::new(), String::new()),
            };
            t.add_row([
                limit_name(self.units, low),
                value(self.units, low, low.value),
                value(self.units, low, low.limit),
                value(self.units, low, low.margin),
                value(self.units, high, high.value),
                value(self.units, high, high.limit),
                value(self.units, high, high.margin),
                margin,
                place,
            ]);
        }
        let title = format!(
            "Limits straight ahead at full droop {} and full bump {}, and the least margin there and at \
             both locks",
            self.units.length(self.datum_mm - droop.travel_mm),
            self.units.length(bump.travel_mm - self.datum_mm),
        );
        let _ = writeln!(
            out,
            "\n{}\n{}",
            wrap(&title, TEXT_WIDTH, "  "),
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
        let listed = gaps
            .iter()
            .enumerate()
            .filter(|(i, g)| *i < GAPS_LISTED || is_short(g));
        let mut count = 0;
        for (_, gap) in listed {
            count += 1;
            t.add_row([
                format!("{} - {}", gap.a, gap.b),
                self.units.length(gap.gap_mm),
                self.units.length(gap.at_least_mm),
                self.units.length(gap.required_mm),
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
        if gaps.len() > count {
            let _ = writeln!(
                out,
                "{} wider ones are in the JSON and CSV",
                gaps.len() - count
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
            "Guard: each stop is bracketed to {} mm of travel. Of the swept area {:.1} % is proved free, \
             {:.1} % free but cut off, {:.1} % proved stopped, {:.1} % undecided (cells along the \
             edges, {} of travel by {} of rack). {} distance queries.",
            guard.travel_tolerance_mm,
            100.0 * shares.free,
            100.0 * shares.cut_off,
            100.0 * shares.stopped,
            100.0 * guard.undecided_share,
            self.units.with_unit(self.corner.map.cell_mm[0]),
            self.units.with_unit(self.corner.map.cell_mm[1]),
            guard.distance_queries,
        );
        let _ = writeln!(out, "{}", wrap(&text, TEXT_WIDTH, "  "));
        let sums = verdict_words::sums(&self.corner.verdict);
        let _ = writeln!(out, "{}", wrap(&sums, TEXT_WIDTH, "  "));
    }
}

/// Pairs left out by name, one line a reason; the other side's only where they differ.
fn exclusions(out: &mut String, findings: &SweepFindings) {
    let mut reasons: Vec<(&str, Vec<String>)> = Vec::new();
    for corner in std::iter::once(&findings.worse).chain(&findings.other) {
        for [a, b, why] in &corner.joined {
            let pair = format!("{a} - {b}");
            match reasons
                .iter_mut()
                .find(|(reason, _)| *reason == why.as_str())
            {
                Some((_, pairs)) if pairs.contains(&pair) => {}
                Some((_, pairs)) => pairs.push(pair),
                None => reasons.push((why, vec![pair])),
            }
        }
    }
    if reasons.is_empty() {
        return;
    }
    out.push_str("\nNot checked against each other, by name\n");
    for (why, pairs) in reasons {
        out.push_str(&bullet(&format!("{}: {why}", pairs.join(", "))));
    }
}

/// A stop's name with what it is, if the name doesn't say.
fn stop_with_kind(name: &str, intended: bool) -> String {
    if intended {
        format!("{name} (maker's)")
    } else if name.starts_with("contact ") || name.starts_with("end of ") {
        name.to_owned()
    } else {
        format!("{name} (bind)")
    }
}

fn stop_in_words(stop: &StopFound) -> String {
    let mut text = stop_with_kind(&stop.name, stop.intended);
    if stop.graze {
        text.push_str(" (a graze, within the tolerance)");
    }
    text
}

/// A limit's name with its unit.
pub(super) fn limit_name(units: Units, limit: &LimitState) -> String {
    let unit = if limit.unit == "mm" {
        units.name()
    } else {
        limit.unit
    };
    format!("{}, {unit}", limit.name)
}

/// A number of a limit, in the limit's own unit.
pub(super) fn value(units: Units, limit: &LimitState, value: f64) -> String {
    if limit.unit == "mm" {
        units.length(value)
    } else {
        degrees(value)
    }
}
