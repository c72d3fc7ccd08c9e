//! One position as text: hardpoints, wheel, joints, limits and gaps.

use super::lengths::{Units, degrees, signed_degrees, signed_fine_degrees};
use super::text_sweep::{limit_margin, limit_name, limit_reading, second_look};
use super::{bullet, table, text_width, wrap};
use crate::findings::{CAUTIONS, GapFound, PositionFindings, Status};
use crate::truck::{TOUCH_MM, touches};
use std::fmt::Write as _;

/// How a position is printed.
#[derive(Clone, Debug, PartialEq)]
pub struct PoseText {
    /// Unit of lengths.
    pub units: Units,
    /// Travel of ride height from the measured position, mm.
    pub ride_height_mm: f64,
    /// The position's status.
    pub status: Status,
    /// What a person should know before trusting the result.
    pub notes: Vec<String>,
}

/// Gaps listed when all keep what they must.
const GAPS_LISTED: usize = 20;

/// The whole page. Lengths in the wanted unit, angles in degrees, travel from the measured position.
pub fn pose_text(findings: &PositionFindings, style: &PoseText) -> String {
    let f = findings;
    let units = style.units;
    let mut out = String::new();
    let from_ride = if style.ride_height_mm == 0.0 {
        "ride height (as measured)".to_owned()
    } else {
        let from_ride = units.signed(f.travel_mm - style.ride_height_mm);
        format!("the measured position ({from_ride} from ride height)")
    };
    let head = format!(
        "{}, {} corner: travel {} from {from_ride}, rack {}. Lengths in {}. Travel: bump +, droop -; rack \
         and steer: left +.",
        f.truck,
        f.side.name(),
        units.signed(f.travel_mm),
        units.signed(f.rack_mm),
        units.long_name(),
    );
    let _ = writeln!(out, "{}", wrap(&head, text_width(), "    "));
    verdict(&mut out, f, style.status);

    wheel(&mut out, f, units);
    limits(&mut out, f, units);
    gaps(&mut out, f, units);
    hardpoints(&mut out, f, units);

    if !style.notes.is_empty() {
        out.push_str("\nNotes\n");
        for note in &style.notes {
            out.push_str(&bullet(note));
        }
    }
    out.push_str("\nCautions\n");
    for caution in CAUTIONS {
        out.push_str(&bullet(caution));
    }
    out
}

fn short(gap: &GapFound) -> bool {
    touches(gap.gap_mm) || gap.gap_mm < gap.required_mm
}

fn verdict(out: &mut String, f: &PositionFindings, status: Status) {
    let exceeded: Vec<&str> = f
        .stops
        .iter()
        .filter(|s| s.margin < 0.0)
        .map(|s| s.name.as_str())
        .collect();
    let pairs = |keep: &dyn Fn(&GapFound) -> bool| -> Vec<String> {
        f.gaps
            .iter()
            .filter(|g| keep(g))
            .map(|g| format!("{} - {}", g.a, g.b))
            .collect()
    };
    let touching = pairs(&|g| touches(g.gap_mm));
    let close = pairs(&|g| short(g) && !touches(g.gap_mm));
    let mut found = Vec::new();
    if !exceeded.is_empty() {
        found.push(format!("past its limit: {}", exceeded.join(", ")));
    }
    if !touching.is_empty() {
        found.push(format!("touching: {}", touching.join(", ")));
    }
    if !close.is_empty() {
        found.push(format!("gap too small: {}", close.join(", ")));
    }
    let text = match (found.is_empty(), status) {
        (false, Status::NotChecked) => format!(
            "NOT FULLY CHECKED, see the notes. FOUND {}.",
            found.join("; ")
        ),
        (false, _) => format!("FOUND {}.", found.join("; ")),
        (true, Status::Clear) => {
            "CLEAR. Every limit and every required gap is kept here.".to_owned()
        }
        (true, Status::Found) => "FOUND what is wrong at every position, see the notes.".to_owned(),
        (true, Status::NotChecked) => "NOT FULLY CHECKED, see the notes.".to_owned(),
    };
    let _ = writeln!(out, "{}", wrap(&text, text_width(), "    "));
}

fn wheel(out: &mut String, f: &PositionFindings, units: Units) {
    let per = match units {
        Units::Mm => ("deg per 100 mm", 100.0),
        Units::Inch | Units::Sixteenths => ("deg per inch", 25.4),
    };
    let (inch, deg) = (units.name(), "deg");
    let of_wheel = [
        (
            format!("camber of the wheel plane, {deg}"),
            signed_fine_degrees(f.camber_deg),
            "top out +",
        ),
        (
            format!("camber seen from the front, {deg}"),
            signed_fine_degrees(f.camber_front_view_deg),
            "top out +",
        ),
        (
            format!("toe, {deg}"),
            signed_fine_degrees(f.toe_deg),
            "toe-in +",
        ),
        (
            format!("steer, {deg}"),
            signed_degrees(f.steer_deg),
            "left +",
        ),
        (
            format!("caster, {deg}"),
            signed_degrees(f.caster_deg),
            "top rearward +",
        ),
        (
            format!("kingpin inclination, {deg}"),
            signed_degrees(f.kingpin_inclination_deg),
            "top inward +",
        ),
        (
            format!("scrub radius, {inch}"),
            units.signed(f.scrub_radius_mm),
            "axis inboard +",
        ),
        (
            format!("caster trail, {inch}"),
            units.signed(f.caster_trail_mm),
            "axis ahead +",
        ),
    ];
    let of_joints = [
        (
            format!("inner joint, {deg}"),
            degrees(f.inner_joint_deg),
            "",
        ),
        (
            format!("outer joint, {deg}"),
            degrees(f.outer_joint_deg),
            "",
        ),
        (
            format!("plunge, {inch}"),
            units.signed(f.plunge_mm),
            "outboard +",
        ),
        (
            format!("tripod orbit, {inch}"),
            units.length(f.orbit_mm),
            "",
        ),
        (
            format!("damper, eye to eye, {inch}"),
            units.length(f.damper_mm),
            "",
        ),
        (
            "motion ratio, damper/wheel".to_owned(),
            ratio(f.motion_ratio),
            "",
        ),
        (
            format!("bump steer, {}", per.0),
            ratio(f.bump_steer_deg_per_mm * per.1),
            "toe-in in bump +",
        ),
    ];
    rows(out, "wheel", &of_wheel);
    let note = "Camber is that of the wheel plane. A gauge held square to the truck reads the front \
                view, which differs once the wheel is steered.";
    let _ = writeln!(out, "{}", wrap(note, text_width(), ""));
    rows(out, "joints and damper", &of_joints);
}

/// A table of name, value and the sense of its sign.
fn rows(out: &mut String, title: &str, rows: &[(String, String, &str)]) {
    let mut t = table(&[(title, false), ("", true), ("sign", false)]);
    for (name, number, sign) in rows {
        t.add_row([name.as_str(), number, sign]);
    }
    let _ = writeln!(out, "\n{}", t.trim_fmt());
}

/// A plain number with three decimals.
fn ratio(value: f64) -> String {
    if value.is_finite() {
        crate::numbers::decimals(value, 3)
    } else {
        "?".to_owned()
    }
}

fn limits(out: &mut String, f: &PositionFindings, units: Units) {
    let mut t = table(&[
        ("limit", false),
        ("value", true),
        ("allowed", true),
        ("margin", true),
        ("", false),
    ]);
    for stop in &f.stops {
        let [is, may] = limit_reading(units, stop);
        t.add_row([
            limit_name(units, stop),
            is,
            may,
            limit_margin(units, stop),
            if stop.margin < 0.0 {
                "EXCEEDED".to_owned()
            } else {
                String::new()
            },
        ]);
    }
    let _ = writeln!(out, "\n{}", t.trim_fmt());
}

fn gaps(out: &mut String, f: &PositionFindings, units: Units) {
    if f.gaps.is_empty() {
        return;
    }
    let mut sorted: Vec<&GapFound> = f.gaps.iter().collect();
    sorted.sort_by(|a, b| (a.gap_mm - a.required_mm).total_cmp(&(b.gap_mm - b.required_mm)));
    let mut t = table(&[
        ("gaps, least margin first", false),
        ("gap", true),
        ("required", true),
        ("margin", true),
        ("nearest point of the first", false),
        ("", false),
    ]);
    let mut listed = 0;
    for (i, gap) in sorted.iter().enumerate() {
        if i >= GAPS_LISTED && !short(gap) {
            continue;
        }
        listed += 1;
        let mark = match (touches(gap.gap_mm), short(gap)) {
            (true, _) => "TOUCHES",
            (false, true) => "TOO SMALL",
            (false, false) => "",
        };
        let ([there], required) = units.against([gap.gap_mm], gap.required_mm);
        t.add_row([
            format!("{} - {}", gap.a, gap.b),
            there,
            required,
            units.at_most(gap.gap_mm - gap.required_mm),
            units.point(gap.point_a_mm),
            mark.to_owned(),
        ]);
    }
    let _ = writeln!(out, "\n{}", t.trim_fmt());
    let note = format!(
        "Parts touch where the gap between them, the error of facets taken off, is {TOUCH_MM} mm or less, here as in a \
         sweep."
    );
    let _ = writeln!(out, "{}", wrap(&units.reworded(&note), text_width(), ""));
    if sorted.len() > listed {
        let _ = writeln!(
            out,
            "{} with more room are in the JSON",
            sorted.len() - listed
        );
    }
    let _ = writeln!(
        out,
        "{}",
        wrap(
            &units.reworded(&second_look(&f.second_look)),
            text_width(),
            ""
        )
    );
}

fn hardpoints(out: &mut String, f: &PositionFindings, units: Units) {
    let mut t = table(&[
        ("hardpoint, as moved", false),
        ("x forward", true),
        ("y left", true),
        ("z up", true),
    ]);
    for (name, point) in &f.points_mm {
        let [x, y, z] = point.map(|c| units.length(c));
        t.add_row([name.replace('_', " "), x, y, z]);
    }
    let _ = writeln!(out, "\n{}", t.trim_fmt());
}
