//! A clearance map and its trim marks as binary glTF.
//!
//! glTF is in metres with y up and z forward, and its x points left: a vehicle point (x, y, z) in mm is written (y, z, x)
//! / 1000. Source: Khronos Group, "glTF 2.0 Specification", 2021, sections 3.4 and 4.4.

use super::clearance_colours::{TRIM_LINE, colour, linear};
use super::replace_file;
use crate::space::{ClearanceMap, TrimMark};
use nalgebra::Vector3;
use serde_json::{Value, json};
use std::io;
use std::path::Path;

const FLOAT: u32 = 5126;
const UNSIGNED_INT: u32 = 5125;
const UNSIGNED_BYTE: u32 = 5121;
const VERTICES: u32 = 34962;
const INDICES: u32 = 34963;
const LINE_LOOP: u32 = 2;
const LINE_STRIP: u32 = 3;

/// Writes the map with its trim marks; without a map, the marks alone.
///
/// # Errors
/// Whatever the file system answers; nothing is left half-written.
pub fn write_glb(
    path: &Path,
    name: &str,
    map: Option<&ClearanceMap>,
    marks: &[TrimMark],
) -> io::Result<()> {
    let mut file = File::default();
    if let Some(map) = map {
        file.map(name, map);
    }
    for (n, mark) in marks.iter().enumerate() {
        file.mark(&format!("trim {}, sheet {}", mark.patch + 1, n + 1), mark);
    }
    let bytes = file.bytes()?;
    replace_file(path, |unfinished| std::fs::write(unfinished, bytes))
}

#[derive(Default)]
struct File {
    data: Vec<u8>,
    views: Vec<Value>,
    accessors: Vec<Value>,
    meshes: Vec<Value>,
    nodes: Vec<Value>,
}

fn metres(p: &Vector3<f64>) -> [f32; 3] {
    [p.y, p.z, p.x].map(|c| (1.0e-3 * c) as f32)
}

impl File {
    /// Adds numbers of four bytes or rows of four bytes; answers the accessor's number.
    fn add(&mut self, bytes: impl Iterator<Item = [u8; 4]>, target: u32, about: Value) -> usize {
        let from = self.data.len();
        self.data.extend(bytes.flatten());
        self.views.push(json!({
            "buffer": 0, "byteOffset": from, "byteLength": self.data.len() - from, "target": target,
        }));
        let mut accessor = about;
        accessor["bufferView"] = json!(self.views.len() - 1);
        self.accessors.push(accessor);
        self.accessors.len() - 1
    }

    fn positions<'p>(&mut self, points: impl Iterator<Item = &'p Vector3<f64>>) -> usize {
        let points: Vec<[f32; 3]> = points.map(metres).collect();
        let end = |pick: fn(f32, f32) -> f32, start: f32| -> [f32; 3] {
            let over = |i: usize| points.iter().map(|p| p[i]).fold(start, pick);
            [over(0), over(1), over(2)]
        };
        let about = json!({
            "componentType": FLOAT, "type": "VEC3", "count": points.len(),
            "min": end(f32::min, f32::INFINITY), "max": end(f32::max, f32::NEG_INFINITY),
        });
        let bytes = points.iter().flatten().map(|c| c.to_le_bytes());
        self.add(bytes, VERTICES, about)
    }

    fn node(&mut self, name: &str, primitives: Vec<Value>) {
        self.meshes
            .push(json!({ "name": name, "primitives": primitives }));
        self.nodes
            .push(json!({ "name": name, "mesh": self.meshes.len() - 1 }));
    }

    fn map(&mut self, name: &str, map: &ClearanceMap) {
        let positions = self.positions(map.mesh.points.iter());
        let colours = map.at_point.iter().map(|spot| {
            let [r, g, b] = colour(map, spot).map(|c| (255.0 * linear(c)).round() as u8);
            [r, g, b, 255]
        });
        let about = json!({
            "componentType": UNSIGNED_BYTE, "normalized": true, "type": "VEC4",
            "count": map.mesh.points.len(),
        });
        let colours = self.add(colours, VERTICES, about);
        let corners = map.mesh.triangles.iter().flatten();
        let about = json!({
            "componentType": UNSIGNED_INT, "type": "SCALAR", "count": 3 * map.mesh.triangles.len(),
        });
        let indices = self.add(corners.map(|c| c.to_le_bytes()), INDICES, about);
        self.node(
            name,
            vec![json!({
                "attributes": { "POSITION": positions, "COLOR_0": colours },
                "indices": indices, "material": 0,
            })],
        );
    }

    fn mark(&mut self, name: &str, mark: &TrimMark) {
        let mut primitives = Vec::new();
        for outline in &mark.outlines {
            let positions = self.positions(outline.points.iter());
            primitives.push(json!({
                "attributes": { "POSITION": positions }, "material": 1,
                "mode": if outline.closed { LINE_LOOP } else { LINE_STRIP },
            }));
        }
        self.node(name, primitives);
    }

    fn bytes(self) -> io::Result<Vec<u8>> {
        let [r, g, b] = TRIM_LINE.map(linear);
        let surface = |colour: [f32; 4]| {
            json!({
                "pbrMetallicRoughness": {
                    "baseColorFactor": colour, "metallicFactor": 0.0, "roughnessFactor": 0.9,
                },
                "doubleSided": true,
            })
        };
        let roots: Vec<usize> = (0..self.nodes.len()).collect();
        let mut document = json!({
            "asset": { "version": "2.0", "generator": env!("CARGO_PKG_NAME") },
            "scene": 0,
            "scenes": [{ "nodes": roots }],
            "materials": [surface([1.0; 4]), surface([r, g, b, 1.0])],
        });
        // The format allows no empty lists.
        let lists = [
            ("nodes", self.nodes),
            ("meshes", self.meshes),
            ("accessors", self.accessors),
            ("bufferViews", self.views),
        ];
        for (key, list) in lists.into_iter().filter(|(_, list)| !list.is_empty()) {
            document[key] = Value::Array(list);
        }
        let mut data = self.data;
        if data.is_empty() {
            document["scenes"] = json!([{}]);
        } else {
            document["buffers"] = json!([{ "byteLength": data.len() }]);
        }
        let mut text = serde_json::to_vec(&document)?;
        text.resize(text.len().next_multiple_of(4), b' ');
        data.resize(data.len().next_multiple_of(4), 0);
        let chunk = |kind: &[u8; 4], bytes: &[u8]| -> io::Result<Vec<u8>> {
            let length = u32::try_from(bytes.len())
                .map_err(|_| io::Error::other("the map is too large for one glTF file"))?;
            Ok([&length.to_le_bytes()[..], kind, bytes].concat())
        };
        let mut chunks = chunk(b"JSON", &text)?;
        if !data.is_empty() {
            chunks.extend(chunk(b"BIN\0", &data)?);
        }
        let length = u32::try_from(12 + chunks.len())
            .map_err(|_| io::Error::other("the map is too large for one glTF file"))?;
        let head = [&b"glTF"[..], &2_u32.to_le_bytes(), &length.to_le_bytes()].concat();
        Ok([head, chunks].concat())
    }
}
