//! A solid as a 3MF file: vehicle coordinates, millimetres.
//!
//! A 3MF file is a zip of three texts: what kinds of file are inside, where the model is, and the model. The model is
//! written as it is made and packed on the way, so that a solid of millions of triangles needs no memory of its own.
//! Coordinates are rounded to single precision, as in the other formats. They may be below zero: the solid must come in
//! at its place on the truck.
//!
//! Source: 3MF Consortium, "3D Manufacturing Format Core Specification", version 1.3, sections 2, 3 and 4.

use super::replace_file;
use nalgebra::Vector3;
use std::fs::File;
use std::io::{self, BufWriter, Write};
use std::path::Path;
use zip::write::{SimpleFileOptions, ZipWriter};

const CONTENT_TYPES: &str = r#"<?xml version="1.0" encoding="UTF-8"?>
<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">
<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>
<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/>
</Types>
"#;
const RELATIONSHIPS: &str = r#"<?xml version="1.0" encoding="UTF-8"?>
<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">
<Relationship Target="/3D/3dmodel.model" Id="rel0" Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/>
</Relationships>
"#;

/// Packing: quick. The best takes many times as long for a tenth less.
const LEVEL: i64 = 3;
/// Text of a vertex or triangle is no longer than this, bytes.
const LONGEST_LINE: usize = 80;

/// Writes a closed surface.
///
/// # Errors
/// Whatever the file system answers; nothing is left half-written.
pub(super) fn write(
    path: &Path,
    name: &str,
    vertices: &[Vector3<f64>],
    triangles: &[[u32; 3]],
) -> io::Result<()> {
    replace_file(path, |unfinished| {
        let mut zip = ZipWriter::new(BufWriter::new(File::create(unfinished)?));
        let plain = SimpleFileOptions::default().compression_level(Some(LEVEL));
        zip.start_file("[Content_Types].xml", plain)?;
        zip.write_all(CONTENT_TYPES.as_bytes())?;
        zip.start_file("_rels/.rels", plain)?;
        zip.write_all(RELATIONSHIPS.as_bytes())?;
        let longest = (vertices.len() + triangles.len()) * LONGEST_LINE;
        let huge = u32::try_from(longest).is_err();
        zip.start_file("3D/3dmodel.model", plain.large_file(huge))?;
        let mut text = BufWriter::with_capacity(1 << 16, &mut zip);
        model(&mut text, name, vertices, triangles)?;
        text.flush()?;
        drop(text);
        zip.finish()?.flush()
    })
}

fn model(
    out: &mut impl Write,
    name: &str,
    vertices: &[Vector3<f64>],
    triangles: &[[u32; 3]],
) -> io::Result<()> {
    let name = escaped(name);
    write!(
        out,
        r#"<?xml version="1.0" encoding="UTF-8"?>
<model unit="millimeter" xml:lang="en-US" xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02">
<metadata name="Title">{name}</metadata>
<metadata name="Description">Vehicle coordinates: x forward, y left, z up.</metadata>
<metadata name="Application">{} {}</metadata>
<resources>
<object id="1" type="model" name="{name}">
<mesh>
<vertices>
"#,
        env!("CARGO_PKG_NAME"),
        env!("CARGO_PKG_VERSION")
    )?;
    for v in vertices {
        let [x, y, z] = [v.x as f32, v.y as f32, v.z as f32];
        writeln!(out, r#"<vertex x="{x}" y="{y}" z="{z}"/>"#)?;
    }
    out.write_all(b"</vertices>\n<triangles>\n")?;
    for [a, b, c] in triangles {
        writeln!(out, r#"<triangle v1="{a}" v2="{b}" v3="{c}"/>"#)?;
    }
    out.write_all(
        b"</triangles>\n</mesh>\n</object>\n</resources>\n<build>\n<item objectid=\"1\"/>\n</build>\n</model>\n",
    )
}

/// Text as it may stand between tags and in quotes.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out
}
