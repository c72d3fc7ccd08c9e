//! A comparison as one CSV file: a row a measure, a column a setup; millimetres and degrees.

use super::csv::{io_error, number, write_row};
use super::replace_file;
use crate::findings::Comparison;
use std::io;
use std::path::Path;

/// Writes the comparison's measures, details included.
///
/// # Errors
/// What the file system answers; nothing half-written is left.
pub fn write_comparison(path: &Path, comparison: &Comparison) -> io::Result<()> {
    let mut head: Vec<String> = ["measure", "group", "side", "unit"]
        .map(str::to_owned)
        .into();
    for column in &comparison.columns {
        head.push(column.name.clone());
        head.push(format!("{}: proved at least", column.name));
        head.push(format!("{}: by", column.name));
    }
    replace_file(path, |unfinished| {
        let mut writer = ::csv::Writer::from_path(unfinished).map_err(io_error)?;
        write_row(&mut writer, &head)?;
        for measure in &comparison.measures {
            let unit = match measure.quantity {
                crate::findings::Quantity::Mm => "mm",
                crate::findings::Quantity::Deg => "deg",
                crate::findings::Quantity::Ratio => "",
                crate::findings::Quantity::Percent => "%",
                crate::findings::Quantity::MmPerSecond => "mm/s",
            };
            let mut row = vec![
                measure.key.clone(),
                measure.group.name().to_owned(),
                measure.side.map_or("", |s| s.name()).to_owned(),
                unit.to_owned(),
            ];
            for value in &measure.values {
                let found = value.as_ref().map(|v| number(v.value));
                row.push(found.unwrap_or_default());
                let proved = value.as_ref().and_then(|v| v.at_least);
                row.push(proved.map_or(String::new(), number));
                row.push(
                    value
                        .as_ref()
                        .and_then(|v| v.by.clone())
                        .unwrap_or_default(),
                );
            }
            write_row(&mut writer, &row)?;
        }
        writer.flush()
    })
}
