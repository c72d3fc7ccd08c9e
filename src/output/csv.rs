//! A sweep as CSV files for a spreadsheet: millimetres, degrees, travel from the measured position with
//! bump positive, as the columns' names say. A text that a spreadsheet would take for a formula (`=..`, `@..`, `-..`) has
//! a `'` in front, which makes it text there; numbers stay numbers.

use super::replace_file;
use crate::findings::{CornerFindings, MapState, StopId, SweepFindings};
use std::borrow::Cow;
use std::io;
use std::path::{Path, PathBuf};

/// The files that [`write_sweep`] writes.
pub const FILES: [&str; 6] = [
    "stop_order.csv",
    "free_travel.csv",
    "tightest_gaps.csv",
    "first_contact.csv",
    "limits.csv",
    "map.csv",
];

/// A table: column names, then rows.
type Rows = (Vec<&'static str>, Vec<Vec<String>>);

/// Writes the sweep's tables to [`FILES`] in `folder`, which is made if it isn't there. `map.csv` holds
/// the map's cells only if the sweep kept them.
///
/// # Errors
/// The file that could not be written, with what the file system answered; nothing half-written is
/// left.
pub fn write_sweep(folder: &Path, findings: &SweepFindings) -> Result<(), (PathBuf, io::Error)> {
    std::fs::create_dir_all(folder).map_err(|e| (folder.to_owned(), e))?;
    let corners: Vec<&CornerFindings> = std::iter::once(&findings.worse)
        .chain(&findings.other)
        .collect();
    let tables = [
        stop_order(&corners),
        free_travel(&corners),
        tightest_gaps(&corners),
        first_contact(&corners),
        limits(&corners),
        map(&corners),
    ];
    for (name, (columns, rows)) in FILES.into_iter().zip(tables) {
        let path = folder.join(name);
        let write = |unfinished: &Path| {
            let mut writer = ::csv::Writer::from_path(unfinished).map_err(io_error)?;
            write_row(&mut writer, &columns)?;
            for row in &rows {
                write_row(&mut writer, row)?;
            }
            writer.flush()
        };
        replace_file(&path, write).map_err(|e| (path, e))?;
    }
    Ok(())
}

/// Writes a row, each cell as it is safe in a spreadsheet.
pub(super) fn write_row<W: io::Write>(
    writer: &mut ::csv::Writer<W>,
    cells: &[impl AsRef<str>],
) -> io::Result<()> {
    let cells = cells.iter().map(|cell| no_formula(cell.as_ref()));
    let cells = cells.map(|cell| cell.into_owned());
    writer.write_record(cells).map_err(io_error)
}

/// A cell that a spreadsheet would take for a formula, as text. What it takes for one: OWASP, "CSV Injection".
fn no_formula(cell: &str) -> Cow<'_, str> {
    let begins = cell.starts_with(['=', '+', '-', '@', '\t', '\r']);
    if begins && cell.parse::<f64>().is_err() {
        Cow::Owned(format!("'{cell}"))
    } else {
        Cow::Borrowed(cell)
    }
}

/// What the file system answered, where it did: a full disk is told from other trouble by its kind.
pub(super) fn io_error(error: ::csv::Error) -> io::Error {
    if !error.is_io_error() {
        return io::Error::other(error);
    }
    match error.into_kind() {
        ::csv::ErrorKind::Io(error) => error,
        other => io::Error::other(format!("{other:?}")),
    }
}

/// A number with every digit that it has, as in JSON: what is rounded could say that a gap is kept which isn't.
pub(super) fn number(value: f64) -> String {
    // Adding zero turns a negative zero into zero.
    (value + 0.0).to_string()
}

fn numbers(values: &[f64]) -> impl Iterator<Item = String> + '_ {
    values.iter().map(|v| number(*v))
}

fn stop_order(corners: &[&CornerFindings]) -> Rows {
    let columns = vec![
        "side",
        "rack_mm",
        "direction",
        "order",
        "stop",
        "travel_mm",
        "violated_at_mm",
        "intended",
        "blocks",
        "graze",
        "decided",
    ];
    let mut rows = Vec::new();
    for corner in corners {
        for order in &corner.stop_order {
            let head = [
                corner.side.name().to_owned(),
                number(order.rack_mm),
                order.direction.name().to_owned(),
            ];
            for (i, stop) in order.stops.iter().enumerate() {
                let mut row = head.to_vec();
                row.extend([(i + 1).to_string(), stop.stop.name()]);
                // A graze was seen violated nowhere.
                let violated = (!stop.graze).then(|| number(stop.travel_interval_mm[1]));
                row.extend([number(stop.travel_mm), violated.unwrap_or_default()]);
                row.extend([stop.intended, stop.blocks, stop.graze, true].map(|b| b.to_string()));
                rows.push(row);
            }
            for (stop, kept_to) in &order.undecided {
                let mut row = head.to_vec();
                row.extend([String::new(), stop.name(), number(*kept_to)]);
                row.extend(["", "", "", "", "false"].map(str::to_owned));
                rows.push(row);
            }
        }
    }
    (columns, rows)
}

fn free_travel(corners: &[&CornerFindings]) -> Rows {
    let columns = vec![
        "side",
        "rack_mm",
        "steer_deg",
        "toe_deg",
        "droop_mm",
        "droop_stop",
        "droop_stop_intended",
        "bump_mm",
        "bump_stop",
        "bump_stop_intended",
    ];
    let mut rows = Vec::new();
    for corner in corners {
        for free in &corner.free_travel {
            let mut row = vec![corner.side.name().to_owned()];
            let angle = |deg: Option<f64>| deg.map(number).unwrap_or_default();
            row.extend([
                number(free.rack_mm),
                angle(free.steer_deg),
                angle(free.toe_deg),
                number(free.droop_mm),
            ]);
            row.extend([
                free.droop_stop
                    .as_ref()
                    .map(StopId::name)
                    .unwrap_or_default(),
                free.intended[0].to_string(),
            ]);
            row.push(number(free.bump_mm));
            row.extend([
                free.bump_stop
                    .as_ref()
                    .map(StopId::name)
                    .unwrap_or_default(),
                free.intended[1].to_string(),
            ]);
            rows.push(row);
        }
    }
    (columns, rows)
}

fn tightest_gaps(corners: &[&CornerFindings]) -> Rows {
    let columns = vec![
        "side",
        "a",
        "b",
        "gap_mm",
        "at_least_mm",
        "required_mm",
        "travel_mm",
        "rack_mm",
        "a_x_mm",
        "a_y_mm",
        "a_z_mm",
        "b_x_mm",
        "b_y_mm",
        "b_z_mm",
    ];
    let mut rows = Vec::new();
    for corner in corners {
        for gap in &corner.tightest_gaps {
            let mut row = vec![corner.side.name().to_owned(), gap.a.clone(), gap.b.clone()];
            row.extend(numbers(&[gap.gap_mm, gap.at_least_mm, gap.required_mm]));
            row.extend(numbers(&[gap.travel_mm, gap.rack_mm]));
            row.extend(numbers(&gap.point_a_mm));
            row.extend(numbers(&gap.point_b_mm));
            rows.push(row);
        }
    }
    (columns, rows)
}

fn first_contact(corners: &[&CornerFindings]) -> Rows {
    let columns = vec![
        "side",
        "direction",
        "a",
        "b",
        "free_to_mm",
        "touches_at_mm",
        "rack_mm",
        "steer_deg",
        "inner_joint_deg",
        "outer_joint_deg",
        "plunge_mm",
        "x_mm",
        "y_mm",
        "z_mm",
        "on_a_x_mm",
        "on_a_y_mm",
        "on_a_z_mm",
        "on_b_x_mm",
        "on_b_y_mm",
        "on_b_z_mm",
        "tape_a",
        "tape_b",
        "stops_before",
        "intended_stop_before",
    ];
    let mut rows = Vec::new();
    for corner in corners {
        for contact in &corner.first_contacts {
            let mut row = vec![
                corner.side.name().to_owned(),
                contact.direction.name().to_owned(),
                contact.a.clone(),
                contact.b.clone(),
            ];
            row.extend(numbers(&contact.travel_interval_mm));
            row.extend(numbers(&[contact.rack_mm, contact.steer_deg]));
            row.extend(numbers(&[contact.inner_joint_deg, contact.outer_joint_deg]));
            row.push(number(contact.plunge_mm));
            row.extend(numbers(&contact.point_mm));
            row.extend(numbers(&contact.point_on_a_mm));
            row.extend(numbers(&contact.point_on_b_mm));
            row.extend([contact.tape_a.clone(), contact.tape_b.clone()]);
            row.extend([
                contact
                    .stops_before
                    .iter()
                    .map(StopId::name)
                    .collect::<Vec<_>>()
                    .join("; "),
                contact.intended_stop_before.to_string(),
            ]);
            rows.push(row);
        }
    }
    (columns, rows)
}

fn limits(corners: &[&CornerFindings]) -> Rows {
    let columns = vec![
        "side",
        "at",
        "rack_mm",
        "travel_mm",
        "limit_name",
        "value",
        "limit",
        "margin",
        "unit",
        "intended",
    ];
    let mut rows = Vec::new();
    for corner in corners {
        for extreme in &corner.extremes {
            for state in &extreme.stops {
                let mut row = vec![corner.side.name().to_owned(), extreme.at.name().to_owned()];
                row.extend(numbers(&[extreme.rack_mm, extreme.travel_mm]));
                row.push(state.name.clone());
                row.extend(numbers(&[state.value, state.limit, state.margin]));
                row.extend([state.unit.name().to_owned(), state.intended.to_string()]);
                rows.push(row);
            }
        }
    }
    (columns, rows)
}

fn map(corners: &[&CornerFindings]) -> Rows {
    let columns = vec![
        "side",
        "rack_from_mm",
        "rack_to_mm",
        "travel_from_mm",
        "travel_to_mm",
        "arm_from_deg",
        "arm_to_deg",
        "state",
        "stop",
        "gaps_kept",
    ];
    let mut rows = Vec::new();
    for corner in corners {
        for cell in &corner.map.cells {
            let mut row = vec![corner.side.name().to_owned()];
            row.extend(numbers(&cell.rack_mm));
            row.extend(numbers(&cell.travel_mm));
            row.extend(numbers(&cell.arm_deg));
            let state = match cell.state {
                MapState::Free => "free",
                MapState::CutOff => "cut_off",
                MapState::Stopped => "stopped",
                MapState::Undecided => "undecided",
            };
            let stop = cell.stop.and_then(|i| corner.map.stops.get(i));
            row.extend([
                state.to_owned(),
                stop.map(StopId::name).unwrap_or_default(),
                cell.gaps_kept.to_string(),
            ]);
            rows.push(row);
        }
    }
    (columns, rows)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_spreadsheet_would_run_is_text_and_numbers_stay_numbers() {
        for formula in [
            "=HYPERLINK(\"http://x\")",
            "+1+1",
            "-2+3",
            "@SUM(A1)",
            "\t=1",
            "-",
            "-3 in",
        ] {
            assert_eq!(no_formula(formula), format!("'{formula}"));
        }
        for kept in [
            "-3.5",
            "+2",
            "1e-7",
            "-1.5e3",
            "",
            "tie rod",
            "a=b",
            &number(-0.25),
        ] {
            assert_eq!(no_formula(kept), kept);
        }
    }
}
