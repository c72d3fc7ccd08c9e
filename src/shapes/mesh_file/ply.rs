//! PLY: `ply-rs-bw` reads the head and binary rows, one at a time.
//!
//! Before a row is read, the counts that the head states are held against the file's length, since the crate
//! would loop over them. Text rows are split here: the crate's grammar for them knows neither `.5` nor `nan`.

use super::gathered::{Gathered, shown, too_many_triangles};
use super::{MOST_TRIANGLES, MeshError, MeshFormat};
use nalgebra::Vector3;
use ply_rs_bw::parser::{Parser, Reader};
use ply_rs_bw::ply::{
    ElementDef, Encoding, Property, PropertyAccess, PropertyAccessResult, PropertyType, ScalarType,
};
use std::io::Cursor;

/// Longest head: a few lines, and whatever comments a program leaves.
const LONGEST_HEAD: usize = 1024 * 1024;

/// What is wanted of a row, a vertex or a face.
#[derive(Default)]
struct Row {
    at: [Option<f64>; 3],
    corners: Option<Vec<i64>>,
    /// One face with more corners than all faces may have together.
    too_long: bool,
}

impl Row {
    fn set_number(&mut self, name: &str, value: f64) {
        match name {
            "x" => self.at[0] = Some(value),
            "y" => self.at[1] = Some(value),
            "z" => self.at[2] = Some(value),
            _ => {}
        }
    }
}

/// Whether a property lists a face's corners.
fn is_corner_list(name: &str) -> bool {
    matches!(name, "vertex_indices" | "vertex_index")
}

impl PropertyAccess for Row {
    fn new() -> Row {
        Row::default()
    }

    fn set_property(&mut self, name: &str, property: Property) -> PropertyAccessResult {
        let number = match property {
            Property::Char(v) => f64::from(v),
            Property::UChar(v) => f64::from(v),
            Property::Short(v) => f64::from(v),
            Property::UShort(v) => f64::from(v),
            Property::Int(v) => f64::from(v),
            Property::UInt(v) => f64::from(v),
            Property::Float(v) => f64::from(v),
            Property::Double(v) => v,
            list => {
                if is_corner_list(name) {
                    self.too_long = list_length(&list) > MOST_TRIANGLES;
                    if !self.too_long {
                        self.corners = whole_numbers(list);
                    }
                }
                return PropertyAccessResult::Set;
            }
        };
        self.set_number(name, number);
        PropertyAccessResult::Set
    }
}

/// A face's corners, if they are whole numbers.
fn whole_numbers(list: Property) -> Option<Vec<i64>> {
    Some(match list {
        Property::ListChar(l) => l.into_iter().map(i64::from).collect(),
        Property::ListUChar(l) => l.into_iter().map(i64::from).collect(),
        Property::ListShort(l) => l.into_iter().map(i64::from).collect(),
        Property::ListUShort(l) => l.into_iter().map(i64::from).collect(),
        Property::ListInt(l) => l.into_iter().map(i64::from).collect(),
        Property::ListUInt(l) => l.into_iter().map(i64::from).collect(),
        _ => return None,
    })
}

fn list_length(list: &Property) -> usize {
    match list {
        Property::ListChar(l) => l.len(),
        Property::ListUChar(l) => l.len(),
        Property::ListShort(l) => l.len(),
        Property::ListUShort(l) => l.len(),
        Property::ListInt(l) => l.len(),
        Property::ListUInt(l) => l.len(),
        _ => 0,
    }
}

fn damaged(what: impl Into<String>) -> MeshError {
    MeshError::Damaged {
        format: MeshFormat::Ply,
        what: what.into(),
    }
}

/// The first line of a crate's message: the rest repeats the input.
fn first_line(error: &ply_rs_bw::parser::ParseError) -> String {
    let text = error.to_string();
    shown(text.lines().next().unwrap_or("").as_bytes())
}

pub(super) fn read(bytes: &[u8]) -> Result<Gathered, MeshError> {
    let parser = Parser::<Row>::new();
    let mut reader = Reader::new(Cursor::new(&bytes[..bytes.len().min(LONGEST_HEAD)]));
    let header = parser
        .read_header(&mut reader)
        .map_err(|e| damaged(first_line(&e)))?;
    let (head, rest) = bytes.split_at(reader.get_ref().position() as usize);
    let head_lines = head.iter().filter(|b| **b == b'\n').count();
    check_counts(header.elements.values(), header.encoding, rest.len())?;
    let mut rows = Rows {
        parser,
        encoding: header.encoding,
        rest: Cursor::new(rest),
        line: head_lines,
    };
    let mut out = Gathered::default();
    let mut listed: Vec<u32> = Vec::new();
    let mut fans = 0;
    let mut faces: Vec<u32> = Vec::new();
    for element in header.elements.values() {
        if element.name == "tristrips" && element.count > 0 {
            return Err(MeshError::Unsupported {
                format: MeshFormat::Ply,
                what: "triangle strips".to_owned(),
            });
        }
        for i in 0..element.count {
            let row = rows.next(element, i)?;
            match (element.name.as_str(), row) {
                ("vertex", Row { at, .. }) => {
                    let [Some(x), Some(y), Some(z)] = at else {
                        return Err(damaged("its vertices have no x, y and z"));
                    };
                    listed.push(out.corner(Vector3::new(x, y, z))?);
                }
                ("face", Row { too_long: true, .. }) => return Err(too_many_triangles()),
                ("face", Row { corners, .. }) => {
                    let corners = corners.ok_or_else(|| {
                        damaged("its faces have no list of whole numbers `vertex_indices`")
                    })?;
                    faces.clear();
                    for corner in corners {
                        faces.push(u32::try_from(corner).map_err(|_| {
                            damaged(format!("face {} names corner {corner}", i + 1))
                        })?);
                    }
                    fans += usize::from(faces.len() > 3);
                    out.polygon(&faces, &listed)?;
                }
                _ => {}
            }
        }
    }
    out.note_fans(fans);
    Ok(out)
}

/// Refuses a head whose counts the file is too short for.
fn check_counts<'a>(
    elements: impl Iterator<Item = &'a ElementDef>,
    encoding: Encoding,
    length: usize,
) -> Result<(), MeshError> {
    let mut wanted: u64 = 0;
    for element in elements {
        if element.properties.is_empty() && element.count > 0 {
            return Err(damaged(format!(
                "its element `{}` has no properties",
                element.name
            )));
        }
        let row: u64 = match encoding {
            // A digit and a space or line end each.
            Encoding::Ascii => 2 * element.properties.len() as u64,
            _ => element
                .properties
                .values()
                .map(|p| least_bytes(&p.data_type))
                .sum(),
        };
        wanted = wanted.saturating_add(row.saturating_mul(element.count as u64));
        // The last line may end with the file.
        if wanted > length as u64 + 1 {
            return Err(damaged(format!(
                "it promises {} `{}` ({wanted} bytes or more) but the file ends {length} bytes after its head",
                element.count, element.name
            )));
        }
    }
    Ok(())
}

fn least_bytes(kind: &PropertyType) -> u64 {
    let scalar = match kind {
        PropertyType::Scalar(s) | PropertyType::List(s, _) => s,
    };
    match scalar {
        ScalarType::Char | ScalarType::UChar => 1,
        ScalarType::Short | ScalarType::UShort => 2,
        ScalarType::Int | ScalarType::UInt | ScalarType::Float => 4,
        ScalarType::Double => 8,
    }
}

/// The rows after the head.
struct Rows<'a> {
    parser: Parser<Row>,
    encoding: Encoding,
    rest: Cursor<&'a [u8]>,
    line: usize,
}

impl Rows<'_> {
    fn next(&mut self, element: &ElementDef, row: usize) -> Result<Row, MeshError> {
        let read = match self.encoding {
            Encoding::Ascii => return self.next_line(element, row),
            Encoding::BinaryLittleEndian => self
                .parser
                .read_little_endian_element(&mut self.rest, element),
            Encoding::BinaryBigEndian => {
                self.parser.read_big_endian_element(&mut self.rest, element)
            }
        };
        read.map_err(|e| {
            damaged(format!(
                "{} {} of {}: {}",
                element.name,
                row + 1,
                element.count,
                first_line(&e)
            ))
        })
    }

    fn next_line(&mut self, element: &ElementDef, row: usize) -> Result<Row, MeshError> {
        let line = loop {
            let from = self.rest.position() as usize;
            let after = &self.rest.get_ref()[from..];
            if after.is_empty() {
                return Err(damaged(format!(
                    "it promises {} `{}` and ends after {row}",
                    element.count, element.name
                )));
            }
            let end = after.iter().position(|b| *b == b'\n');
            self.rest
                .set_position((from + end.map_or(after.len(), |e| e + 1)) as u64);
            self.line += 1;
            let line = &after[..end.unwrap_or(after.len())];
            if !line.trim_ascii().is_empty() {
                break line;
            }
        };
        text_row(line, element).ok_or_else(|| {
            damaged(format!(
                "line {}, `{}`: not the numbers that its head promises for `{}`",
                self.line,
                shown(line),
                element.name
            ))
        })
    }
}

fn text_row(line: &[u8], element: &ElementDef) -> Option<Row> {
    let text = std::str::from_utf8(line).ok()?;
    let mut words = text.split_ascii_whitespace();
    let mut row = Row::default();
    for (name, property) in &element.properties {
        match property.data_type {
            PropertyType::Scalar(_) => row.set_number(name, words.next()?.parse().ok()?),
            PropertyType::List(..) => {
                let count: usize = words.next()?.parse().ok()?;
                let list = words.by_ref().take(count);
                if is_corner_list(name) {
                    if count > MOST_TRIANGLES {
                        row.too_long = true;
                        return Some(row);
                    }
                    let corners: Vec<i64> = list.map(|w| w.parse().ok()).collect::<Option<_>>()?;
                    if corners.len() < count {
                        return None;
                    }
                    row.corners = Some(corners);
                } else if list.count() < count {
                    return None;
                }
            }
        }
    }
    Some(row)
}
