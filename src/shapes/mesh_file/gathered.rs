//! Triangles as they are read: equal corners merged on the way, counts bounded, numbers checked.

use super::{MOST_CORNERS, MOST_LISTED, MOST_TRIANGLES, MeshError};
use nalgebra::Vector3;
use std::collections::HashMap;

/// What a format's reader gathers, in the file's unit.
#[derive(Default)]
pub(super) struct Gathered {
    /// Corners, no two equal.
    pub vertices: Vec<Vector3<f64>>,
    /// Corner numbers.
    pub triangles: Vec<[u32; 3]>,
    /// Corners that were listed again and merged. Formats without shared corners list each about six
    /// times.
    pub merged: usize,
    /// What one unit of the file is in mm, where it says so.
    pub unit_mm: Option<f64>,
    /// What a person should know about how the file was read.
    pub notes: Vec<String>,
    /// Numbers of the corners by their coordinates' bits. The standard library's hashing: a file can't be
    /// made so that all its corners fall together.
    numbers: HashMap<[u64; 3], u32>,
}

impl Gathered {
    /// The number of a corner. One that isn't finite is kept, and refused once a triangle uses it: scanners
    /// write such corners where they saw nothing.
    pub fn corner(&mut self, point: Vector3<f64>) -> Result<u32, MeshError> {
        if self.vertices.len() + self.merged == MOST_LISTED {
            return Err(MeshError::TooMuch {
                what: "listed corners",
                most: MOST_LISTED as u64,
            });
        }
        // Minus zero and zero are one corner.
        let key = [point.x, point.y, point.z].map(|c| (c + 0.0).to_bits());
        if let Some(number) = self.numbers.get(&key) {
            self.merged += 1;
            return Ok(*number);
        }
        if self.vertices.len() == MOST_CORNERS {
            return Err(MeshError::TooMuch {
                what: "corners",
                most: MOST_CORNERS as u64,
            });
        }
        let number = self.vertices.len() as u32;
        self.vertices.push(point);
        self.numbers.insert(key, number);
        Ok(number)
    }

    /// A triangle of numbers that [`corner`](Self::corner) gave.
    pub fn triangle(&mut self, corners: [u32; 3]) -> Result<(), MeshError> {
        if self.triangles.len() == MOST_TRIANGLES {
            return Err(too_many_triangles());
        }
        let finite = |i: u32| self.vertices[i as usize].iter().all(|c| c.is_finite());
        if !corners.into_iter().all(finite) {
            return Err(MeshError::NotFinite {
                triangle: self.triangles.len() + 1,
            });
        }
        self.triangles.push(corners);
        Ok(())
    }

    /// A polygon as a fan about its first corner; `listed` are the numbers of the file's corners.
    pub fn polygon(&mut self, corners: &[u32], listed: &[u32]) -> Result<(), MeshError> {
        let number = |i: u32| {
            listed
                .get(i as usize)
                .copied()
                .ok_or(MeshError::NoSuchCorner {
                    triangle: self.triangles.len() + 1,
                    corner: u64::from(i),
                    corners: listed.len(),
                })
        };
        let own: Vec<u32> = corners
            .iter()
            .map(|i| number(*i))
            .collect::<Result<_, MeshError>>()?;
        for i in 2..own.len() {
            self.triangle([own[0], own[i - 1], own[i]])?;
        }
        Ok(())
    }

    /// Notes that faces with more than three corners became fans.
    pub fn note_fans(&mut self, faces: usize) {
        if faces > 0 {
            self.notes.push(format!(
                "{faces} faces have more than three corners and were cut into triangles from their first \
                 corner: right where they are flat and nowhere hollow"
            ));
        }
    }
}

pub(super) fn too_many_triangles() -> MeshError {
    MeshError::TooMuch {
        what: "triangles",
        most: MOST_TRIANGLES as u64,
    }
}

/// Bytes or a line of a file as a message can show it.
pub(super) fn shown(bytes: &[u8]) -> String {
    /// Long enough to find the line again.
    const LONGEST: usize = 60;
    let text = String::from_utf8_lossy(&bytes[..bytes.len().min(4 * LONGEST)]);
    let mut out: String = text
        .trim()
        .chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .take(LONGEST)
        .collect();
    if text.trim().chars().count() > LONGEST {
        out.push_str("...");
    }
    out
}
