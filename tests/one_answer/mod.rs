//! One answer, told in many places: exit status, verdict, violations, first contacts, the map's edges, text and JSON may
//! not contradict each other.

// Each test file uses its own part of this module.
#![allow(dead_code)]

use bindpoint::findings::{CornerFindings, Outcome, Status, SweepFindings};
use bindpoint::output::{Datum, SweepText, Units, sweep_text, verdict_text};
use bindpoint::sweep::{corner_status, status};
use serde_json::Value;

/// The text of a sweep as the command prints it.
pub fn text_of(found: &SweepFindings) -> String {
    let style = SweepText {
        units: Units::Mm,
        datum: Datum::Measured,
        status: status(found),
        tables_of: None,
        wrap_leading_lines: false,
    };
    sweep_text(found, &style)
}

/// What contradicts what, in words; empty where nothing does. For sweeps with no stop taken off.
pub fn contradictions(found: &SweepFindings) -> Vec<String> {
    let mut out = Vec::new();
    let corners: Vec<&CornerFindings> = std::iter::once(&found.worse).chain(&found.other).collect();
    let whole = status(found);
    let worst = corners.iter().map(|c| corner_status(c)).max();
    if worst != Some(whole) {
        out.push(format!(
            "the truck is {whole:?}, its worst corner {worst:?}"
        ));
    }
    // A line may be broken anywhere.
    let text = text_of(found);
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    for other in [Status::Clear, Status::Found, Status::NotChecked] {
        if text.contains(verdict_text(other)) != (other == whole) {
            out.push(format!(
                "{whole:?}, and the text says or lacks: {}",
                verdict_text(other)
            ));
        }
    }
    for corner in &corners {
        of_corner(corner, &text, &mut out);
    }
    if whole == Status::Clear {
        for words in ["NO maker's stop comes before it", "TOO SMALL", "UNDECIDED"] {
            if text.contains(words) {
                out.push(format!("CLEAR, and the text says: {words}"));
            }
        }
    }
    let json = serde_json::to_value(found).expect("findings are JSON");
    of_json(&json, &found.worse, &mut out);
    if let Some(other) = &found.other {
        of_json(&json["other"], other, &mut out);
    }
    out
}

fn of_corner(corner: &CornerFindings, text: &str, out: &mut Vec<String>) {
    let status = corner_status(corner);
    let side = corner.side.name();
    let mut say = |what: String| out.push(format!("{side} corner {status:?}: {what}"));
    let verdict = &corner.verdict;
    if !verdict.pairs.add_up() {
        say(format!("the pairs don't add up: {:?}", verdict.pairs));
    }
    for (i, one) in verdict.obligations.iter().enumerate() {
        let is_same = |o: &bindpoint::findings::Obligation| o.requirement == one.requirement;
        if verdict.obligations[..i].iter().any(is_same) {
            say(format!("twice: {:?}", one.requirement));
        }
    }
    let violated = verdict.violations().count();
    // Where two ways to one number contradict each other, violations are listed but nothing is said to be found.
    let is_told = match status {
        Status::Found => violated > 0,
        Status::Clear => violated == 0,
        Status::NotChecked => true,
    };
    if !is_told {
        say(format!("{violated} violations"));
    }
    if corner.bind_before_intended != (violated > 0) {
        say(format!(
            "bind before intended {}",
            corner.bind_before_intended
        ));
    }
    let head = format!("missing gaps before the maker's stops, {side} corner");
    if text.contains(&head) != (violated > 0) {
        say(format!(
            "{violated} violations, and the text lists them or not"
        ));
    }
    if (status == Status::NotChecked) && corner.undecided.is_empty() && verdict.pairs.add_up() {
        say("nothing is listed as undecided".to_owned());
    }
    if status != Status::Clear {
        return;
    }
    // A contact behind the stops may stay undecided; what the verdict rests on may not.
    if verdict.undecided().count() > 0 {
        say(format!("undecided {:?}", corner.undecided));
    }
    for contact in corner
        .first_contacts
        .iter()
        .filter(|c| !c.intended_stop_before)
    {
        say(format!(
            "{} - {} touch at {} {} with no maker's stop before",
            contact.a, contact.b, contact.travel_mm, contact.rack_mm
        ));
    }
    for edge in corner.map.edge.iter().filter(|e| !e.intended) {
        say(format!(
            "on the map's edge: {} at {:?} {:?}",
            edge.stop.name(),
            edge.travel_mm,
            edge.rack_mm
        ));
    }
    if corner.map.gap_missing {
        say("the map says that a gap is missing".to_owned());
    }
    for gap in corner
        .tightest_gaps
        .iter()
        .filter(|g| g.gap_mm < g.required_mm)
    {
        say(format!(
            "{} - {} {} of {} at {} {}",
            gap.a, gap.b, gap.gap_mm, gap.required_mm, gap.travel_mm, gap.rack_mm
        ));
    }
    for gap in corner.resting_gaps.iter().filter(|g| !g.kept) {
        say(format!(
            "at rest {} - {} {} of {}",
            gap.a, gap.b, gap.gap_mm, gap.required_mm
        ));
    }
    for row in &corner.free_travel {
        let stops = [&row.droop_stop, &row.bump_stop];
        for (stop, intended) in stops.into_iter().zip(row.intended) {
            if let Some(stop) = stop.as_ref().filter(|_| !intended) {
                let name = stop.name();
                say(format!(
                    "free travel at rack {} ends at {name}",
                    row.rack_mm
                ));
            }
        }
    }
}

/// What a reader of the JSON alone would make of it.
fn of_json(json: &Value, corner: &CornerFindings, out: &mut Vec<String>) {
    let side = corner.side.name();
    let list = json["verdict"]["obligations"].as_array();
    let Some(list) = list else {
        return out.push(format!("{side} corner: no obligations in the JSON"));
    };
    let count = |outcome: &str| list.iter().filter(|o| o["outcome"] == outcome).count();
    let own = |is: fn(&Outcome) -> bool| {
        let all = corner.verdict.obligations.iter();
        all.filter(|o| is(&o.outcome)).count()
    };
    let same = [
        ("proved", own(|o| matches!(o, Outcome::Proved))),
        ("violated", own(|o| matches!(o, Outcome::Violated { .. }))),
        ("undecided", own(|o| matches!(o, Outcome::Undecided { .. }))),
        ("excluded", own(|o| matches!(o, Outcome::Excluded { .. }))),
    ];
    for (outcome, expected) in same {
        if count(outcome) != expected {
            out.push(format!(
                "{side} corner: {} {outcome} in the JSON, not {expected}",
                count(outcome)
            ));
        }
    }
    let found = count("violated") > 0;
    if json["bind_before_intended"] != found {
        out.push(format!(
            "{side} corner: bind before intended in the JSON {}",
            json["bind_before_intended"]
        ));
    }
    let sums = &json["verdict"]["pairs"];
    let number = |key: &str| sums[key].as_u64().unwrap_or(u64::MAX / 8);
    let parts = [
        "moving_proved",
        "moving_violated",
        "moving_undecided",
        "resting_checked",
        "excluded",
        "one_body",
    ];
    if number("matched") != parts.iter().map(|p| number(p)).sum::<u64>() {
        out.push(format!(
            "{side} corner: the JSON's pairs don't add up: {sums}"
        ));
    }
}
