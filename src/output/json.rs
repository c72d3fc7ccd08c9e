//! Findings as JSON, exactly as their types serialise: millimetres, degrees, travel from the measured
//! position.

use super::replace_file;
use super::visible::visible_json;
use serde::Serialize;
use std::io;
use std::path::Path;

/// Findings as indented JSON text, ending with a line break. It may go to a terminal: characters that command one or
/// can't be seen are written as escapes.
///
/// # Errors
/// When a value can't be serialised.
pub fn to_text<T: Serialize>(findings: &T) -> io::Result<String> {
    let text = serde_json::to_string_pretty(findings)?;
    Ok(format!("{}\n", visible_json(&text)))
}

/// Writes findings to a JSON file.
///
/// # Errors
/// What the file system answers; nothing half-written is left.
pub fn write<T: Serialize>(path: &Path, findings: &T) -> io::Result<()> {
    let text = to_text(findings)?;
    replace_file(path, |unfinished| std::fs::write(unfinished, text))
}
