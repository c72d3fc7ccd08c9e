//! Mesh files made byte by byte, so that no reader is tested with its own writer.

#![allow(dead_code)]

use base64::Engine as _;
use std::io::Write as _;

pub type Point = [f64; 3];

/// Corners and triangles, counter-clockwise seen from outside.
#[derive(Clone, Debug)]
pub struct Solid {
    pub corners: Vec<Point>,
    pub triangles: Vec<[u32; 3]>,
}

impl Solid {
    pub fn soup(&self) -> Vec<[Point; 3]> {
        let corner = |i: u32| self.corners[i as usize];
        self.triangles.iter().map(|t| t.map(corner)).collect()
    }

    pub fn and(mut self, other: &Solid) -> Solid {
        let n = self.corners.len() as u32;
        self.corners.extend(&other.corners);
        self.triangles
            .extend(other.triangles.iter().map(|t| t.map(|i| i + n)));
        self
    }

    pub fn inside_out(mut self) -> Solid {
        self.triangles.iter_mut().for_each(|t| t.swap(1, 2));
        self
    }
}

/// A box from its least corner.
pub fn cuboid([x, y, z]: Point, [a, b, c]: Point) -> Solid {
    let corners = (0..8)
        .map(|i| {
            let step = |bit: u32, length: f64| if i & bit == 0 { 0.0 } else { length };
            [x + step(1, a), y + step(2, b), z + step(4, c)]
        })
        .collect();
    let faces: [[u32; 4]; 6] = [
        [0, 2, 3, 1],
        [4, 5, 7, 6],
        [0, 1, 5, 4],
        [2, 6, 7, 3],
        [0, 4, 6, 2],
        [1, 3, 7, 5],
    ];
    let triangles = faces
        .iter()
        .flat_map(|[a, b, c, d]| [[*a, *b, *c], [*a, *c, *d]])
        .collect();
    Solid { corners, triangles }
}

/// A cube of 20 with its least corner at the origin.
pub fn cube() -> Solid {
    cuboid([0.0; 3], [20.0; 3])
}

pub fn stl_binary(soup: &[[Point; 3]]) -> Vec<u8> {
    let mut out = vec![b' '; 80];
    out.extend((soup.len() as u32).to_le_bytes());
    for triangle in soup {
        out.extend([0; 12]);
        for c in triangle.iter().flatten() {
            out.extend((*c as f32).to_le_bytes());
        }
        out.extend([0, 0]);
    }
    out
}

pub fn stl_text(name: &str, soup: &[[Point; 3]]) -> String {
    let mut out = format!("solid{name}\n");
    for t in soup {
        out += " facet normal 0 0 1\n  outer loop\n";
        for [x, y, z] in t {
            out += &format!("   vertex {x:e} {y:e} {z:e}\n");
        }
        out += "  endloop\n endfacet\n";
    }
    out + &format!("endsolid{name}\n")
}

pub fn obj(solid: &Solid) -> String {
    let mut out = String::from("# made by hand\no part\n");
    for [x, y, z] in &solid.corners {
        out += &format!("v {x} {y} {z}\n");
    }
    for t in &solid.triangles {
        let [a, b, c] = t.map(|i| i + 1);
        out += &format!("f {a} {b} {c}\n");
    }
    out
}

pub fn ply_head(format: &str, vertices: usize, faces: usize) -> String {
    format!(
        "ply\nformat {format} 1.0\ncomment made by hand\nelement vertex {vertices}\nproperty float x\n\
         property float y\nproperty float z\nelement face {faces}\n\
         property list uchar int vertex_indices\nend_header\n"
    )
}

pub fn ply_text(solid: &Solid) -> String {
    let mut out = ply_head("ascii", solid.corners.len(), solid.triangles.len());
    for [x, y, z] in &solid.corners {
        out += &format!("{x} {y} {z}\n");
    }
    for [a, b, c] in &solid.triangles {
        out += &format!("3 {a} {b} {c}\n");
    }
    out
}

pub fn ply_binary(solid: &Solid, big: bool) -> Vec<u8> {
    let name = if big {
        "binary_big_endian"
    } else {
        "binary_little_endian"
    };
    let mut out = ply_head(name, solid.corners.len(), solid.triangles.len()).into_bytes();
    for c in solid.corners.iter().flatten() {
        let c = *c as f32;
        out.extend(if big {
            c.to_be_bytes()
        } else {
            c.to_le_bytes()
        });
    }
    for t in &solid.triangles {
        out.push(3);
        for i in t {
            out.extend(if big {
                i.to_be_bytes()
            } else {
                i.to_le_bytes()
            });
        }
    }
    out
}

/// An archive of parts.
pub fn zip(parts: &[(&str, &[u8])]) -> Vec<u8> {
    let mut out = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    let deflated = zip::write::SimpleFileOptions::default()
        .compression_method(zip::CompressionMethod::Deflated);
    for (name, bytes) in parts {
        out.start_file(*name, deflated).expect("a part begins");
        out.write_all(bytes).expect("a part is written");
    }
    out.finish().expect("the archive ends").into_inner()
}

pub const RELATIONS: &str = "<?xml version=\"1.0\"?><Relationships>\
    <Relationship Target=\"/3D/part.model\" Id=\"r\" \
    Type=\"http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel\"/></Relationships>";

/// The text of a 3MF's `<mesh>`.
pub fn threemf_mesh(solid: &Solid) -> String {
    let mut out = String::from("<mesh><vertices>");
    for [x, y, z] in &solid.corners {
        out += &format!("<vertex x=\"{x}\" y=\"{y}\" z=\"{z}\"/>");
    }
    out += "</vertices><triangles>";
    for [a, b, c] in &solid.triangles {
        out += &format!("<triangle v1=\"{a}\" v2=\"{b}\" v3=\"{c}\"/>");
    }
    out + "</triangles></mesh>"
}

/// A 3MF model's text: attributes of `<model>`, what is in `<resources>` and in `<build>`.
pub fn threemf_model(attributes: &str, resources: &str, build: &str) -> String {
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<model {attributes} \
         xmlns=\"http://schemas.microsoft.com/3dmanufacturing/core/2015/02\">\
         <resources>{resources}</resources><build>{build}</build></model>"
    )
}

/// A 3MF with one object placed once.
pub fn threemf(solid: &Solid, unit: &str) -> Vec<u8> {
    let object = format!("<object id=\"1\">{}</object>", threemf_mesh(solid));
    threemf_file(&threemf_model(
        &format!("unit=\"{unit}\""),
        &object,
        "<item objectid=\"1\"/>",
    ))
}

pub fn threemf_file(model: &str) -> Vec<u8> {
    zip(&[
        ("_rels/.rels", RELATIONS.as_bytes()),
        ("3D/part.model", model.as_bytes()),
    ])
}

/// A glTF's text about one mesh in one buffer: positions, then corner numbers. `nodes` and the buffer's
/// address are given.
pub fn gltf_text(solid: &Solid, nodes: &str, roots: &str, uri: Option<&str>) -> String {
    let (corners, numbers) = (solid.corners.len(), 3 * solid.triangles.len());
    let positions = 12 * corners;
    let length = positions + 2 * numbers;
    let uri = uri.map_or(String::new(), |uri| format!("\"uri\":\"{uri}\","));
    format!(
        r#"{{"asset":{{"version":"2.0"}},"scene":0,"scenes":[{{"nodes":[{roots}]}}],"nodes":[{nodes}],
"meshes":[{{"primitives":[{{"attributes":{{"POSITION":0}},"indices":1}}]}}],
"accessors":[{{"bufferView":0,"componentType":5126,"count":{corners},"type":"VEC3"}},
{{"bufferView":1,"componentType":5123,"count":{numbers},"type":"SCALAR"}}],
"bufferViews":[{{"buffer":0,"byteLength":{positions}}},
{{"buffer":0,"byteOffset":{positions},"byteLength":{}}}],
"buffers":[{{{uri}"byteLength":{length}}}]}}"#,
        2 * numbers
    )
}

pub fn gltf_buffer(solid: &Solid) -> Vec<u8> {
    let mut out = Vec::new();
    for c in solid.corners.iter().flatten() {
        out.extend((*c as f32).to_le_bytes());
    }
    for i in solid.triangles.iter().flatten() {
        out.extend((*i as u16).to_le_bytes());
    }
    out
}

pub fn data_uri(bytes: &[u8]) -> String {
    let coded = base64::engine::general_purpose::STANDARD.encode(bytes);
    format!("data:application/octet-stream;base64,{coded}")
}

pub fn glb(text: &str, binary: &[u8]) -> Vec<u8> {
    let padded = |bytes: &[u8], with: u8| {
        let mut out = bytes.to_vec();
        out.resize(bytes.len().next_multiple_of(4), with);
        out
    };
    let (text, binary) = (padded(text.as_bytes(), b' '), padded(binary, 0));
    let mut out = b"glTF".to_vec();
    out.extend(2_u32.to_le_bytes());
    out.extend((28 + text.len() as u32 + binary.len() as u32).to_le_bytes());
    for (kind, chunk) in [(b"JSON", text), (b"BIN\0", binary)] {
        out.extend((chunk.len() as u32).to_le_bytes());
        out.extend(kind);
        out.extend(chunk);
    }
    out
}

/// A valid small file of every kind, with the ending of its name.
pub fn samples() -> Vec<(&'static str, Vec<u8>)> {
    let cube = cube();
    let text = gltf_text(
        &cube,
        r#"{"mesh":0,"scale":[0.001,0.001,0.001]}"#,
        "0",
        None,
    );
    let buffer = gltf_buffer(&cube);
    let embedded = gltf_text(
        &cube,
        r#"{"children":[1]},{"mesh":0,"scale":[0.001,0.001,0.001]}"#,
        "0",
        Some(&data_uri(&buffer)),
    );
    vec![
        ("stl", stl_binary(&cube.soup())),
        ("stl", stl_text(" part", &cube.soup()).into_bytes()),
        ("obj", obj(&cube).into_bytes()),
        ("ply", ply_text(&cube).into_bytes()),
        ("ply", ply_binary(&cube, false)),
        ("ply", ply_binary(&cube, true)),
        ("3mf", threemf(&cube, "millimeter")),
        ("glb", glb(&text, &buffer)),
        ("gltf", embedded.into_bytes()),
    ]
}
