//! Reads the committed tables of `tests/tables` by column name.

// Each test file uses its own part of this module.
#![allow(dead_code)]

use nalgebra::Vector3;
use std::collections::HashMap;
use std::path::PathBuf;

/// A table: lines that begin with `#` are its head and are left out.
pub struct Table {
    name: String,
    columns: HashMap<String, usize>,
    rows: Vec<csv::StringRecord>,
}

/// One row, with its place for messages.
#[derive(Clone, Copy)]
pub struct Row<'t> {
    table: &'t Table,
    record: &'t csv::StringRecord,
}

impl Table {
    /// Reads `tests/tables/NAME` and fails unless it has exactly the rows it should.
    pub fn read(name: &str, expected_rows: usize) -> Table {
        let path = PathBuf::from(env!("CARGO_MANIFEST_DIR"))
            .join("tests/tables")
            .join(name);
        let mut reader = csv::ReaderBuilder::new()
            .comment(Some(b'#'))
            .from_path(&path)
            .unwrap_or_else(|e| panic!("{}: {e}", path.display()));
        let columns = reader
            .headers()
            .unwrap_or_else(|e| panic!("{name}: {e}"))
            .iter()
            .enumerate()
            .map(|(i, c)| (c.to_owned(), i))
            .collect();
        let rows: Vec<_> = reader
            .records()
            .map(|r| r.unwrap_or_else(|e| panic!("{name}: {e}")))
            .collect();
        assert!(!rows.is_empty(), "{name} has no rows");
        assert_eq!(rows.len(), expected_rows, "rows of {name}");
        Table {
            name: name.to_owned(),
            columns,
            rows,
        }
    }

    /// Every row.
    pub fn rows(&self) -> impl Iterator<Item = Row<'_>> {
        self.rows.iter().map(|record| Row {
            table: self,
            record,
        })
    }
}

impl<'t> Row<'t> {
    /// A column as text.
    pub fn text(&self, column: &str) -> &'t str {
        let index = self.table.columns.get(column);
        let index = *index.unwrap_or_else(|| panic!("{}: no column {column}", self.table.name));
        &self.record[index]
    }

    /// A column as a number.
    pub fn number(&self, column: &str) -> f64 {
        let text = self.text(column);
        text.parse()
            .unwrap_or_else(|_| panic!("{}: {column} is {text:?}", self.place()))
    }

    /// The columns `NAME_x`, `NAME_y`, `NAME_z`.
    pub fn vector(&self, name: &str) -> Vector3<f64> {
        let at = |axis: &str| self.number(&format!("{name}_{axis}"));
        Vector3::new(at("x"), at("y"), at("z"))
    }

    /// File and line, for messages.
    pub fn place(&self) -> String {
        let line = self.record.position().map_or(0, csv::Position::line);
        format!("{} line {line}", self.table.name)
    }
}
