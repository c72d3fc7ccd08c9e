//! Part meshes: every format reads as written, dirty meshes are mended and reported on, and no file, however
//! bad, does more than get its message.

mod mesh_bytes;

use bindpoint::shapes::{Mesh, MeshError, MeshFormat, Shape, read_mesh, read_mesh_bytes};
use mesh_bytes::*;
use proptest::prelude::*;
use std::path::Path;
use std::sync::Arc;

const ALL: [MeshFormat; 5] = [
    MeshFormat::Stl,
    MeshFormat::Obj,
    MeshFormat::Ply,
    MeshFormat::ThreeMf,
    MeshFormat::Gltf,
];

fn format(ending: &str) -> MeshFormat {
    MeshFormat::of_name(Path::new(&format!("part.{ending}"))).expect("a format that is read")
}

fn in_mm(bytes: impl AsRef<[u8]>, ending: &str) -> Mesh {
    read(bytes, ending, Some(1.0)).unwrap_or_else(|e| panic!("{ending}: {e}"))
}

fn read(bytes: impl AsRef<[u8]>, ending: &str, unit: Option<f64>) -> Result<Mesh, MeshError> {
    read_mesh_bytes(bytes.as_ref(), format(ending), unit)
}

/// Message and help of a file that can't be used, both without "panic" words and not too long.
fn refused(bytes: impl AsRef<[u8]>, ending: &str) -> String {
    let error = read(bytes, ending, Some(1.0)).expect_err("a file that can't be used");
    let text = format!("{error} ({})", error.help());
    assert!(text.len() < 400, "{text}");
    text
}

#[track_caller]
fn says(text: &str, words: &[&str]) {
    for word in words {
        assert!(text.contains(word), "no `{word}` in: {text}");
    }
}

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1.0e-9 * (1.0 + b.abs())
}

/// Whether a mesh is the closed cube of 20 at the origin.
#[track_caller]
fn is_the_cube(mesh: &Mesh, scale: f64) {
    let r = &mesh.report;
    assert_eq!((r.triangles_read, r.triangles, r.corners), (12, 12, 8));
    assert_eq!((r.open_edges, r.crowded_edges, r.clashing_edges), (0, 0, 0));
    assert_eq!((r.pieces, r.turned), (1, 0));
    assert!(r.inside_known && r.inside_unknown_since.is_none());
    for k in 0..3 {
        assert!((r.low_mm[k]).abs() < 1.0e-6, "{:?}", r.low_mm);
        assert!(
            (r.size_mm[k] - 20.0 * scale).abs() < 1.0e-5 * scale,
            "{:?}",
            r.size_mm
        );
    }
    let volume = r.volume_mm3.expect("closed");
    assert!(
        (volume / (8000.0 * scale.powi(3)) - 1.0).abs() < 1.0e-6,
        "{volume}"
    );
    assert_eq!(r.remarks(), r.notes);
    let surface = Shape::Mesh {
        vertices: Arc::new(mesh.vertices.clone()),
        triangles: Arc::new(mesh.triangles.clone()),
    }
    .surface(None)
    .expect("a surface");
    assert!(surface.closed);
}

// ---------------------------------------------------------------- formats

#[test]
fn every_format_reads_as_written() {
    for (ending, bytes) in samples() {
        let unit = if format(ending) == MeshFormat::Gltf {
            None
        } else {
            Some(1.0)
        };
        let mesh = read(bytes, ending, unit).unwrap_or_else(|e| panic!("{ending}: {e}"));
        is_the_cube(&mesh, 1.0);
        assert_eq!(mesh.report.format, format(ending));
    }
}

#[test]
fn every_demo_mesh_is_closed_and_untouched() {
    let mut found = 0;
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("assets");
    for entry in std::fs::read_dir(folder).expect("assets") {
        let path = entry.expect("an entry").path();
        if path.extension().is_none_or(|e| e != "stl") {
            continue;
        }
        found += 1;
        let r = read_mesh(&path, Some(1.0)).expect("a demo mesh").report;
        assert_eq!(r.remarks(), Vec::<String>::new(), "{}", path.display());
        assert!(r.inside_known && r.volume_mm3.is_some_and(|v| v > 0.0));
    }
    assert!(found >= 3, "{found} demo meshes");
}

#[test]
fn stl_of_either_kind_whatever_its_head_says() {
    let soup = cube().soup();
    let mut solid = stl_binary(&soup);
    solid[..6].copy_from_slice(b"solid ");
    is_the_cube(&in_mm(&solid, "stl"), 1.0);
    // Bytes after the last triangle, as some writers leave.
    let mut longer = stl_binary(&soup);
    longer.extend([0; 7]);
    is_the_cube(&in_mm(&longer, "stl"), 1.0);
    // Nameless, indented, upper case, line ends of another system.
    let text = stl_text("", &soup).to_uppercase().replace("SOLID", "solid");
    is_the_cube(&in_mm(text.replace('\n', "\r\n"), "stl"), 1.0);
    // Several solids are one part.
    let two = stl_text(" a", &soup[..5]) + &stl_text(" b", &soup[5..]);
    is_the_cube(&in_mm(two, "stl"), 1.0);
}

#[test]
fn obj_as_programs_write_it() {
    let mut text = String::from("mtllib a b.mtl\ng caf\u{e9}\n");
    for [x, y, z] in cube().corners {
        text += &format!("v {x} {y} {z} 0.5 0.5 0.5\nvn 0 0 1\n");
    }
    // Quads, texture and normal numbers, numbers counted back, a continued line.
    text += "usemtl m\nf 1//1 3//1 4//1 2//1\nf -4 -3 -1 -2\nf 1/9 2/9 6/9 5/9\nf 3 7 8 4\nf 1 5 \\\n7 3\n\
             f 2 4 8 6\nl 1 2\np 1\n";
    let mut bytes = text.clone().into_bytes();
    // The same name in another coding: not UTF-8.
    let e = bytes.iter().position(|b| *b == 0xc3).expect("an e");
    bytes.splice(e..e + 2, [0xe9]);
    for file in [text.into_bytes(), bytes] {
        let mesh = in_mm(file, "obj");
        assert!(mesh.report.notes[0].starts_with("6 faces have more than three corners"));
        is_the_cube(&mesh, 1.0);
    }
}

#[test]
fn ply_with_more_than_it_needs() {
    let cube = cube();
    let head = "ply\r\nformat ascii 1.0\r\nobj_info x\r\nelement camera 1\r\nproperty list int double m\r\n\
                element vertex 9\r\nproperty double z\r\nproperty uchar red\r\nproperty double y\r\n\
                property double x\r\nelement face 12\r\nproperty uchar flag\r\n\
                property list uint8 uint32 vertex_index\r\nend_header\r\n";
    let mut text = head.replace("uint8", "uchar").replace("uint32", "uint") + "2 1 2\r\n";
    for [x, y, z] in &cube.corners {
        text += &format!("{z} 7 {y} {x}\r\n");
    }
    // A scanner's corner where it saw nothing: no face uses it.
    text += "nan 0 nan nan\r\n";
    for [a, b, c] in &cube.triangles {
        text += &format!("1 3 {a} {b} {c}\r\n");
    }
    is_the_cube(&in_mm(&text, "ply"), 1.0);
    says(
        &refused(text.replace("1 3 0 2 3", "1 3 0 2 8"), "ply"),
        &["triangle 1 has a coordinate that is not a number"],
    );
}

#[test]
fn units_of_the_file_and_of_the_scene() {
    let cube = cube();
    for (unit, mm) in [
        ("millimeter", 1.0),
        ("centimeter", 10.0),
        ("inch", 25.4),
        ("micron", 0.001),
        ("foot", 304.8),
        ("meter", 1000.0),
    ] {
        match read(threemf(&cube, unit), "3mf", None) {
            Ok(mesh) => {
                is_the_cube(&mesh, mm);
                assert!(mesh.report.notes.is_empty());
            }
            Err(e) => {
                says(
                    &format!("{e} ({})", e.help()),
                    &["mm across", "is the mesh's `unit` right?"],
                );
                assert!(!(0.01..=300.0).contains(&mm), "{unit}");
            }
        }
    }
    // Asked for, the scene's unit counts, and the report says so.
    let mesh = read(threemf(&cube, "inch"), "3mf", Some(2.0)).expect("read");
    is_the_cube(&mesh, 2.0);
    says(&mesh.report.notes[0], &["25.4 mm", "2 mm is taken"]);
    for (ending, bytes) in samples().into_iter().take(6) {
        let error = read(bytes, ending, None).expect_err("no unit");
        says(
            &format!("{error} ({})", error.help()),
            &["no unit is given", "mm, cm, m, inch or foot"],
        );
    }
    let inches = read(stl_binary(&cube.soup()), "stl", Some(25.4)).expect("read");
    is_the_cube(&inches, 25.4);
}

#[test]
fn threemf_places_items_and_components() {
    let small = cuboid([0.0; 3], [1.0, 2.0, 4.0]);
    // Object 2 holds object 1 twice, once mirrored in x; the build places it turned about z and shifted.
    let objects = format!(
        "<object id=\"1\">{}</object><object id=\"2\"><components><component objectid=\"1\"/>\
         <component objectid=\"1\" transform=\"-1 0 0 0 1 0 0 0 1 10 0 0\"/></components></object>",
        threemf_mesh(&small)
    );
    let build = "<item objectid=\"2\" transform=\"0 1 0 -1 0 0 0 0 1 100 0 0\"/>";
    let file = threemf_file(&threemf_model("", &objects, build));
    let r = in_mm(file, "3mf").report;
    assert_eq!((r.triangles, r.pieces, r.turned), (24, 2, 0));
    // x to y, y to minus x: y from 0 to 10 along, x from 98 to 100.
    assert_eq!(r.low_mm, [98.0, 0.0, 0.0]);
    assert_eq!(r.size_mm, [2.0, 10.0, 4.0]);
    assert!(near(r.volume_mm3.expect("closed"), 16.0));
}

#[test]
fn threemf_in_several_models() {
    let inner = threemf_model(
        "unit=\"millimeter\"",
        &format!("<object id=\"7\">{}</object>", threemf_mesh(&cube())),
        "",
    );
    let outer = threemf_model(
        "unit=\"millimeter\" requiredextensions=\"p\" xmlns:p=\"http://schemas.microsoft.com/3dmanufacturing/production/2015/06\"",
        "<object id=\"1\"><components><component p:path=\"/3D/Objects/a.model\" objectid=\"7\"/></components></object>",
        "<item objectid=\"1\"/>",
    );
    let parts: [(&str, &[u8]); 3] = [
        ("_rels/.rels", RELATIONS.as_bytes()),
        ("3D/part.model", outer.as_bytes()),
        ("3D/Objects/a.model", inner.as_bytes()),
    ];
    is_the_cube(&in_mm(zip(&parts), "3mf"), 1.0);
    let lost = zip(&parts[..2]);
    says(&refused(lost, "3mf"), &["3D/Objects/a.model"]);
    let other = outer.replace("production", "beamlattice");
    says(
        &refused(threemf_file(&other), "3mf"),
        &["the extension `p`", "which is not read"],
    );
}

#[test]
fn gltf_places_nodes() {
    let small = cuboid([0.0; 3], [0.01, 0.02, 0.04]);
    // A mirrored child of a node turned by 90 degrees about z and shifted, and the mesh itself by a matrix.
    let half = 0.5_f64.sqrt();
    let nodes = format!(
        r#"{{"rotation":[0,0,{half},{half}],"translation":[1,0,0],"children":[1]}},
        {{"mesh":0,"scale":[-1,1,1]}},
        {{"mesh":0,"matrix":[1,0,0,0,0,1,0,0,0,0,1,0,0,0,0.5,1]}}"#
    );
    let text = gltf_text(&small, &nodes, "0,2", None);
    let mesh = read(glb(&text, &gltf_buffer(&small)), "glb", None).expect("read");
    let r = mesh.report;
    assert_eq!((r.triangles, r.pieces, r.turned), (24, 2, 0));
    let close = |a: [f64; 3], b: [f64; 3]| (0..3).all(|k| (a[k] - b[k]).abs() < 1.0e-3);
    assert!(close(r.low_mm, [0.0, -10.0, 0.0]), "{:?}", r.low_mm);
    assert!(close(r.size_mm, [1000.0, 30.0, 540.0]), "{:?}", r.size_mm);
    assert!((r.volume_mm3.expect("closed") - 16000.0).abs() < 0.1);
}

#[test]
fn gltf_strips_fans_and_buffers_beside_it() {
    let folder = tempfile::tempdir().expect("a folder");
    let cube = cube();
    let node = r#"{"mesh":0,"scale":[0.001,0.001,0.001]}"#;
    let path = folder.path().join("part.gltf");
    let text = |uri: &str| gltf_text(&cube, node, "0", Some(uri));
    std::fs::write(folder.path().join("my part.bin"), gltf_buffer(&cube)).expect("written");
    std::fs::write(&path, text("my%20part.bin")).expect("written");
    is_the_cube(&read_mesh(&path, None).expect("read"), 1.0);
    let away = [
        "../x.bin",
        "/etc/hostname",
        "file:///etc/hostname",
        "http://x/y",
        "%2e%2e/x",
        "",
    ];
    for uri in away {
        std::fs::write(&path, text(uri)).expect("written");
        let error = read_mesh(&path, None).expect_err("an address elsewhere");
        says(&error.to_string(), &["buffer 0", "no file beside it"]);
    }
    std::fs::write(&path, text("none.bin")).expect("written");
    says(
        &read_mesh(&path, None).expect_err("not there").to_string(),
        &["none.bin", "can't be opened"],
    );
    // A square as a strip and as a fan.
    let square = |mode: u32, order: [u16; 4]| {
        let mut bytes = Vec::new();
        for c in [[0, 0], [20, 0], [0, 20], [20, 20]] {
            for c in [c[0] as f32, c[1] as f32, 0.0] {
                bytes.extend(c.to_le_bytes());
            }
        }
        bytes.extend(order.iter().flat_map(|i| i.to_le_bytes()));
        let solid = Solid {
            corners: vec![[0.0; 3]; 4],
            triangles: vec![],
        };
        let text = gltf_text(&solid, node, "0", None)
            .replace("\"count\":0", "\"count\":4")
            .replace("\"byteLength\":0", "\"byteLength\":8")
            .replace("\"byteLength\":48}]", "\"byteLength\":56}]")
            .replace("\"indices\":1", &format!("\"indices\":1,\"mode\":{mode}"));
        read(glb(&text, &bytes), "glb", None)
    };
    for (mode, order) in [(5, [0, 1, 2, 3]), (6, [0, 1, 3, 2])] {
        let r = square(mode, order).expect("read").report;
        assert_eq!(
            (r.triangles, r.open_edges, r.clashing_edges),
            (2, 4, 0),
            "{mode}"
        );
    }
    says(
        &square(1, [0, 1, 2, 3]).expect_err("lines").to_string(),
        &["no triangles"],
    );
}

// ---------------------------------------------------------------- dirty meshes

#[test]
fn an_open_cube_keeps_its_gaps_and_says_what_is_unknown() {
    let mut open = cube();
    open.triangles.truncate(10);
    let mesh = in_mm(obj(&open), "obj");
    let r = &mesh.report;
    assert_eq!((r.triangles, r.open_edges, r.pieces), (10, 4, 1));
    assert!(!r.inside_known && r.volume_mm3.is_none());
    says(
        &r.remarks()[0],
        &["gaps to it are right", "can't be known", "4 edges open"],
    );
}

#[test]
fn one_flipped_face_is_turned_back() {
    let mut solid = cube();
    solid.triangles[7].swap(0, 1);
    let r = in_mm(obj(&solid), "obj").report;
    assert_eq!((r.turned, r.clashing_edges), (1, 0));
    assert!(near(r.volume_mm3.expect("closed"), 8000.0));
    // On an open piece nothing tells which way is out.
    solid.triangles.remove(0);
    let r = in_mm(obj(&solid), "obj").report;
    assert_eq!((r.turned, r.clashing_edges, r.open_edges), (0, 2, 3));
    says(
        &r.remarks()[0],
        &["3 edges open, 2 edges between triangles turned against each other"],
    );
}

#[test]
fn inside_out_pieces_face_outward_and_hollows_inward() {
    let whole = in_mm(obj(&cube().inside_out()), "obj").report;
    assert_eq!(whole.turned, 12);
    assert!(near(whole.volume_mm3.expect("closed"), 8000.0));
    let hollow = cuboid([5.0; 3], [10.0; 3]).inside_out();
    let far = cuboid([50.0, 0.0, 0.0], [10.0; 3]);
    // A hollow stays one.
    let drawn_right = cube().and(&hollow);
    let r = in_mm(obj(&drawn_right), "obj").report;
    assert_eq!((r.turned, r.pieces), (0, 2));
    assert!(near(r.volume_mm3.expect("closed"), 7000.0));
    // Everything inside out: hollow and shell are turned together.
    let r = in_mm(obj(&drawn_right.clone().inside_out()), "obj").report;
    assert_eq!(r.turned, 24);
    assert!(near(r.volume_mm3.expect("closed"), 7000.0));
    // One piece of its own inside out beside a shell with its hollow.
    let r = in_mm(obj(&drawn_right.and(&far.inside_out())), "obj").report;
    assert_eq!(r.turned, 12);
    assert!(near(r.volume_mm3.expect("closed"), 8000.0));
}

#[test]
fn repeated_faces_go_and_two_sided_sheets_stay() {
    let mut solid = cube();
    solid.triangles.push([2, 3, 0]);
    solid.triangles.push(solid.triangles[4]);
    let [a, b, c] = solid.triangles[9];
    solid.triangles.push([c, b, a]);
    let r = in_mm(obj(&solid), "obj").report;
    assert_eq!((r.triangles_read, r.triangles, r.repeated), (15, 12, 3));
    assert!(near(r.volume_mm3.expect("closed"), 8000.0));
    let sheet = Solid {
        corners: vec![
            [0.0; 3],
            [30.0, 0.0, 0.0],
            [30.0, 30.0, 0.0],
            [0.0, 30.0, 0.0],
        ],
        triangles: vec![[0, 1, 2], [0, 2, 3], [0, 2, 1], [0, 3, 2]],
    };
    let r = in_mm(obj(&sheet), "obj").report;
    assert_eq!((r.triangles, r.repeated, r.crowded_edges), (4, 0, 1));
    assert!(r.inside_known && near(r.volume_mm3.expect("closed"), 0.0));
}

/// Written with every facet once each way round, a solid winds about nothing, and what lies inside it would seem outside.
#[test]
fn a_solid_written_with_both_sides_of_each_facet_holds_what_lies_inside_it() {
    for far_side_first in [false, true] {
        let (front, back) = (cube(), cube().inside_out());
        let mut both = if far_side_first {
            back.clone()
        } else {
            front.clone()
        };
        let other = if far_side_first { front } else { back };
        both.triangles.extend(other.triangles);
        // The one side's facets among the other's.
        both.triangles.swap(3, 17);
        let mesh = in_mm(obj(&both), "obj");
        let r = &mesh.report;
        assert_eq!((r.triangles_read, r.triangles, r.repeated), (24, 12, 12));
        assert!(r.inside_known && near(r.volume_mm3.expect("closed"), 8000.0));
    }
}

#[test]
fn corners_a_hair_apart_are_welded_on_open_edges_only() {
    let mut soup = cube().soup();
    for (i, triangle) in soup.iter_mut().enumerate() {
        for c in triangle.iter_mut() {
            c[0] += if i % 2 == 0 { 0.0 } else { 4.0e-4 };
        }
    }
    let r = in_mm(stl_binary(&soup), "stl").report;
    assert_eq!((r.corners, r.open_edges), (8, 0));
    assert!(r.corners_welded > 0 && r.inside_known);
    // Ten times as far they are left alone.
    for (i, triangle) in soup.iter_mut().enumerate() {
        for c in triangle.iter_mut() {
            c[0] += if i % 2 == 0 { 0.0 } else { 1.0e-2 };
        }
    }
    let r = in_mm(stl_binary(&soup), "stl").report;
    assert_eq!(r.corners_welded, 0);
    assert!(r.open_edges > 0 && !r.inside_known);
    // A closed piece with corners a hair apart keeps every corner where it is.
    let thin = cuboid([0.0; 3], [20.0, 20.0, 5.0e-4]);
    let mesh = in_mm(obj(&thin), "obj");
    assert_eq!((mesh.report.corners, mesh.report.corners_welded), (8, 0));
}

#[test]
fn triangles_without_area() {
    // Twice the same corner, and three on a line that close nothing.
    let mut solid = cube();
    solid.triangles.push([0, 0, 3]);
    solid.corners.push([10.0, 0.0, 0.0]);
    let r = in_mm(obj(&solid), "obj").report;
    assert_eq!((r.triangles, r.without_area), (12, 1));
    assert!(r.inside_known);
    // A sliver between a face's edge and a corner on it, as CAD writes them: the cube stays closed.
    let edge = [0, 1];
    let mut with_sliver = solid.clone();
    with_sliver.triangles.pop();
    let n = with_sliver.corners.len() as u32 - 1;
    let at = |t: &[u32; 3]| (0..3).any(|k| [t[k], t[(k + 1) % 3]] == edge);
    let i = with_sliver.triangles.iter().position(at).expect("an edge");
    let mut t = with_sliver.triangles[i];
    while t[0] != 0 || t[1] != 1 {
        t.rotate_left(1);
    }
    with_sliver.triangles[i] = [0, n, t[2]];
    with_sliver.triangles.push([n, 1, t[2]]);
    with_sliver.triangles.push([0, 1, n]);
    let r = in_mm(obj(&with_sliver), "obj").report;
    assert_eq!((r.triangles_read, r.triangles, r.without_area), (14, 14, 1));
    assert!(r.inside_known && near(r.volume_mm3.expect("closed"), 8000.0));
    // Without it the corner on the edge is a gap in the mesh, though no gap in the surface.
    with_sliver.triangles.pop();
    let r = in_mm(obj(&with_sliver), "obj").report;
    assert_eq!((r.open_edges, r.inside_known), (3, false));
}

#[test]
fn edges_of_many_faces() {
    // Two cubes along one edge: four faces there, and still an inside.
    let two = cube().and(&cuboid([20.0, 20.0, 0.0], [20.0; 3]));
    let r = in_mm(stl_binary(&two.soup()), "stl").report;
    assert_eq!((r.crowded_edges, r.open_edges, r.pieces), (1, 0, 1));
    assert!(r.inside_known && near(r.volume_mm3.expect("closed"), 16000.0));
    // A fin on an edge: three faces there.
    let mut fin = cube();
    fin.corners.push([-10.0, -10.0, 0.0]);
    fin.triangles.push([0, 4, 8]);
    let r = in_mm(obj(&fin), "obj").report;
    assert_eq!(
        (r.crowded_edges, r.open_edges, r.inside_known),
        (1, 2, false)
    );
}

// ---------------------------------------------------------------- files that can't be used

#[test]
fn truncated_files() {
    for (ending, bytes) in samples() {
        for part in [0.02, 0.3, 0.6, 0.9, 0.98] {
            let cut = &bytes[..(bytes.len() as f64 * part) as usize];
            // An OBJ cut between two lines is a smaller OBJ.
            if let Err(error) = read(cut, ending, Some(1000.0)) {
                let text = format!("{error} ({})", error.help());
                assert!(text.len() < 400, "{text}");
                assert!(!text.contains('\n'), "{text}");
            } else {
                assert_eq!(ending, "obj", "cut at {part}");
            }
        }
    }
}

#[test]
fn counts_beyond_the_file() {
    let mut stl = stl_binary(&cube().soup());
    stl[80..84].copy_from_slice(&u32::MAX.to_le_bytes());
    says(
        &refused(stl, "stl"),
        &["promises 4294967295 triangles", "684 bytes"],
    );
    for format in ["ascii", "binary_little_endian"] {
        let ply = ply_head(format, 4_000_000_000_000_000_000, 1);
        says(
            &refused(ply, "ply"),
            &["promises 4000000000000000000 `vertex`"],
        );
    }
    let none = "ply\nformat ascii 1.0\nelement vertex 99999999999\nend_header\n";
    says(&refused(none, "ply"), &["`vertex` has no properties"]);
    let mut list = ply_head("binary_little_endian", 1, 1)
        .replace("uchar int", "uint int")
        .into_bytes();
    list.extend([0; 12]);
    list.extend(u32::MAX.to_le_bytes());
    says(&refused(list, "ply"), &["face 1 of 1"]);
    let mut long = ply_head("binary_little_endian", 1, 1)
        .replace("uchar int", "uint uchar")
        .into_bytes();
    long.extend([0; 12]);
    long.extend(9_000_000_u32.to_le_bytes());
    long.resize(long.len() + 9_000_000, 0);
    says(&refused(long, "ply"), &["more than 8000000 triangles"]);
    let cube = cube();
    let text = gltf_text(&cube, r#"{"mesh":0}"#, "0", None);
    for (was, is) in [
        ("\"count\":8", "\"count\":18446744073709551615"),
        ("\"count\":8", "\"count\":40000000"),
        ("\"count\":36", "\"count\":37"),
        ("\"byteLength\":96}", "\"byteLength\":18446744073709551615}"),
        ("\"byteOffset\":96", "\"byteOffset\":18446744073709551615"),
        ("\"bufferView\":0", "\"bufferView\":9"),
        ("\"POSITION\":0", "\"POSITION\":4000000000"),
        ("\"indices\":1", "\"indices\":7"),
        ("\"buffer\":0", "\"buffer\":7"),
        ("\"mesh\":0", "\"mesh\":7"),
        ("\"nodes\":[0]", "\"nodes\":[7]"),
        ("\"scene\":0", "\"scene\":7"),
        ("5126", "5125"),
        ("5123", "5126"),
        ("\"VEC3\"", "\"VEC9\""),
        ("\"version\":\"2.0\"", "\"version\":\"1.0\""),
        (
            "\"asset\"",
            "\"extensionsRequired\":[\"KHR_draco_mesh_compression\"],\"asset\"",
        ),
        (
            "\"asset\"",
            "\"extensionsUsed\":[\"EXT_mesh_gpu_instancing\"],\"asset\"",
        ),
    ] {
        let changed = text.replace(was, is);
        assert_ne!(changed, text, "{was}");
        let error = read(glb(&changed, &gltf_buffer(&cube)), "glb", None);
        // Whole numbers for positions are allowed, and are far too large here.
        error.expect_err(is);
    }
}

#[test]
fn stated_lengths_of_a_glb() {
    let cube = cube();
    let whole = glb(
        &gltf_text(&cube, r#"{"mesh":0}"#, "0", None),
        &gltf_buffer(&cube),
    );
    for at in [4, 8, 12, 16] {
        for value in [0, 3, 11, 0x7fff_ffff, u32::MAX] {
            let mut bytes = whole.clone();
            bytes[at..at + 4].copy_from_slice(&value.to_le_bytes());
            let _ = read(&bytes, "glb", Some(1.0));
        }
    }
    for length in 0..40 {
        assert!(read(&whole[..length], "glb", Some(1.0)).is_err());
    }
}

#[test]
fn coordinates_that_are_no_numbers() {
    let cube = cube();
    let mut soup = cube.soup();
    soup[4][1][2] = f64::NAN;
    soup[9][0][0] = f64::INFINITY;
    for text in [
        refused(stl_binary(&soup), "stl"),
        refused(stl_text(" x", &soup), "stl"),
    ] {
        says(&text, &["triangle 5 has a coordinate that is not a number"]);
    }
    let mut bad = cube.clone();
    bad.corners[7][0] = f64::NEG_INFINITY;
    let nodes = r#"{"mesh":0}"#;
    let files = [
        ("obj", obj(&bad).into_bytes()),
        ("ply", ply_text(&bad).into_bytes()),
        ("ply", ply_binary(&bad, true)),
        ("3mf", threemf(&bad, "millimeter")),
        (
            "glb",
            glb(&gltf_text(&bad, nodes, "0", None), &gltf_buffer(&bad)),
        ),
    ];
    for (ending, bytes) in files {
        says(
            &refused(bytes, ending),
            &["has a coordinate that is not a number"],
        );
    }
    // Finite as written, infinite once placed or in millimetres.
    let huge = threemf_model(
        "",
        &format!("<object id=\"1\">{}</object>", threemf_mesh(&cube)),
        "<item objectid=\"1\" transform=\"1e300 0 0 0 1e300 0 0 0 1e300 1e308 1e308 1e308\"/>",
    );
    refused(threemf_file(&huge), "3mf");
    let mut far = cube.clone();
    far.corners.iter_mut().flatten().for_each(|c| *c *= 1.0e307);
    let error = read(obj(&far), "obj", Some(1000.0)).expect_err("beyond all numbers");
    assert!(matches!(
        error,
        MeshError::Size { .. } | MeshError::NotFinite { .. } | MeshError::NoArea
    ));
}

#[test]
fn sizes_that_no_part_has() {
    for (scale, size) in [(0.1, "2.00"), (1000.0, "20000.00")] {
        let error = read(stl_binary(&cube().soup()), "stl", Some(scale)).expect_err("no part");
        says(
            &format!("{error} ({})", error.help()),
            &[
                size,
                "mm across",
                "expected 5 to 6000 mm: is the mesh's `unit` right?",
            ],
        );
    }
}

#[test]
fn files_with_nothing_in_them() {
    for ending in ["stl", "obj", "ply", "3mf", "gltf", "glb"] {
        for bytes in [
            &b""[..],
            b"\n",
            b"\0",
            b"solid\nendsolid\n",
            b"a letter\na letter\n",
        ] {
            let _ = refused(bytes, ending);
        }
    }
    says(&refused(stl_binary(&[]), "stl"), &["no triangles"]);
    says(&refused("solid x\nendsolid x\n", "stl"), &["no triangles"]);
    says(&refused("v 0 0 0\n", "obj"), &["no triangles"]);
    says(&refused(ply_head("ascii", 0, 0), "ply"), &["no triangles"]);
    says(
        &refused(threemf_file(&threemf_model("", "", "")), "3mf"),
        &["no triangles"],
    );
    says(
        &refused(r#"{"asset":{"version":"2.0"}}"#, "gltf"),
        &["no triangles"],
    );
    let flat = [[[0.0; 3], [20.0, 0.0, 0.0], [40.0, 0.0, 0.0]]; 3];
    says(
        &refused(stl_binary(&flat), "stl"),
        &["every triangle of the mesh has zero area"],
    );
}

#[test]
fn names_and_contents_that_differ() {
    let samples = samples();
    for (name, bytes) in &samples {
        for other in ["stl", "obj", "ply", "3mf", "gltf"] {
            if format(other) != format(name) {
                let text = refused(bytes, other);
                if *name != "stl" || bytes.starts_with(b"solid") {
                    says(
                        &text,
                        &["not a readable", &format!("{} file", format(other))],
                    );
                }
            }
        }
    }
    says(
        &refused(&samples[6].1, "stl"),
        &["its content looks like 3MF", "name the file as a 3MF file"],
    );
    let folder = tempfile::tempdir().expect("a folder");
    for (name, words) in [
        (
            "part.step",
            &["not an STL, OBJ, PLY, 3MF or glTF file", "STEP"][..],
        ),
        ("part", &["not an STL, OBJ, PLY, 3MF or glTF file"]),
        ("none.ply", &["cannot open the mesh file"]),
    ] {
        let error = read_mesh(&folder.path().join(name), Some(1.0)).expect_err(name);
        says(&format!("{error} ({})", error.help()), words);
    }
    let inside = folder.path().join("folder.stl");
    std::fs::create_dir(&inside).expect("made");
    says(
        &read_mesh(&inside, Some(1.0))
            .expect_err("a folder")
            .to_string(),
        &["not a plain file"],
    );
}

#[test]
fn lines_that_are_wrong_are_named() {
    for (text, words) in [
        (
            "v 0 0 0\nv 1 0\n",
            &["line 2, `v 1 0`", "three numbers"][..],
        ),
        (
            "v 0 0 0\nf 1 1 2\n",
            &["line 2, `f 1 1 2`", "`2` names none of the 1 corners"],
        ),
        ("v 0 0 0\nf 1 1 0\n", &["`0` names none"]),
        ("v 0 0 0\nf 1 -2 1\n", &["`-2` names none"]),
        ("v 0 0 0\nf 1 1 -9223372036854775808\n", &["names none"]),
        (
            "v 0 0 0\nf 1 1/9223372036854775807 1 x\n",
            &["`x` names none"],
        ),
        ("v 0 0 0\nf 1 1\n", &["at least three corners"]),
        ("v 0 0 0\nsurf 0 1 0 1 1 2 3\n", &["free-form", "not read"]),
    ] {
        says(&refused(text, "obj"), words);
    }
    for (text, words) in [
        (
            "solid\nfacet\nvertex 1 2\n",
            &["line 3, `vertex 1 2`", "three numbers"][..],
        ),
        (
            "solid\nfacet\nvertex 1 2 3\nendfacet\n",
            &["line 4", "fewer than three"],
        ),
        ("solid\nhello\n", &["line 2, `hello`"]),
        ("solid\nfacet\n", &["before `endsolid`"]),
    ] {
        says(&refused(text, "stl"), words);
    }
    let ply = ply_text(&cube()).replace("20 20 20\n", "20 twenty 20\n");
    says(
        &refused(ply, "ply"),
        &["line 18, `20 twenty 20`", "promises for `vertex`"],
    );
    let strip = "ply\nformat ascii 1.0\nelement tristrips 1\nproperty list int int vertex_indices\nend_header\n3 0 1 2\n";
    says(&refused(strip, "ply"), &["triangle strips", "not read"]);
}

#[test]
fn circles_and_depths() {
    let cube = cube();
    let circle = [
        (r#"{"mesh":0,"children":[0]}"#, "0"),
        (r#"{"children":[1]},{"mesh":0,"children":[0]}"#, "0"),
        (r#"{"children":[1,1]},{"mesh":0}"#, "0"),
        (r#"{"mesh":0}"#, "0,0"),
    ];
    for (nodes, roots) in circle {
        let text = gltf_text(&cube, nodes, roots, None);
        says(
            &refused(glb(&text, &gltf_buffer(&cube)), "glb"),
            &["hangs below two nodes, or below itself"],
        );
    }
    let chain: Vec<String> = (1..200)
        .map(|i| format!(r#"{{"children":[{i}]}}"#))
        .collect();
    let text = gltf_text(
        &cube,
        &format!(r#"{},{{"mesh":0}}"#, chain.join(",")),
        "0",
        None,
    );
    says(
        &refused(glb(&text, &gltf_buffer(&cube)), "glb"),
        &["more than 64 nodes inside each other"],
    );
    refused("[".repeat(100_000), "gltf");
    refused("{\"a\":".repeat(100_000), "gltf");
    says(
        &refused(
            format!("{{\"nodes\":[{}]}}", "{},".repeat(2_000_001)),
            "gltf",
        ),
        &["more than 2000000 entries in its text"],
    );
    let components = |inner: &str| {
        let objects = format!("<object id=\"1\"><components>{inner}</components></object>");
        threemf_file(&threemf_model("", &objects, "<item objectid=\"1\"/>"))
    };
    says(
        &refused(components("<component objectid=\"1\"/>"), "3mf"),
        &["64 deep", "in a circle"],
    );
    says(
        &refused(components("<component objectid=\"2\"/>"), "3mf"),
        &["object 2 is placed"],
    );
    // Forty objects, each holding the one before twice: a million million instances of nothing.
    let mut doubling = String::from("<object id=\"1\"><mesh/></object>");
    for i in 2..=40 {
        let below = format!("<component objectid=\"{}\"/>", i - 1);
        doubling += &format!("<object id=\"{i}\"><components>{below}{below}</components></object>");
    }
    let file = threemf_file(&threemf_model("", &doubling, "<item objectid=\"40\"/>"));
    says(
        &refused(file, "3mf"),
        &["more than 100000 objects and components"],
    );
    let deep = "<a>".repeat(100_000);
    says(
        &refused(threemf_file(&deep), "3mf"),
        &["more than 64 XML elements inside each other"],
    );
}

#[test]
fn archives_that_expand_without_end() {
    let blanks = " ".repeat(20 * 1024 * 1024);
    let long_text = threemf_model("", &blanks, "");
    says(
        &refused(threemf_file(&long_text), "3mf"),
        &["more than 16777216 bytes in one XML element"],
    );
    // A little over a gibibyte of comments, a few megabytes on disk.
    let comment = format!("<!--{}-->", "-a".repeat(512 * 1024));
    let mut file = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    let deflated = zip::write::SimpleFileOptions::default()
        .compression_method(zip::CompressionMethod::Deflated)
        .compression_level(Some(1));
    file.start_file("3D/3dmodel.model", deflated)
        .expect("begun");
    for _ in 0..1030 {
        std::io::Write::write_all(&mut file, comment.as_bytes()).expect("written");
    }
    let bomb = file.finish().expect("ended").into_inner();
    assert!(bomb.len() < 16 * 1024 * 1024, "{}", bomb.len());
    let packed = bomb.len();
    says(
        &refused(bomb, "3mf"),
        &[
            &format!(
                "its archive of {packed} bytes unpacks to more than {}",
                60 * packed
            ),
            "someone you trust",
        ],
    );
}

#[test]
fn models_that_are_wrong() {
    let mesh = threemf_mesh(&cube());
    for (model, words) in [
        (
            threemf_model("unit=\"furlong\"", "", ""),
            &["`furlong`"][..],
        ),
        (
            threemf_model("", "<object id=\"1\"/><object id=\"1\"/>", ""),
            &["a second object of number 1"],
        ),
        (threemf_model("", &mesh, ""), &["outside of any object"]),
        (
            threemf_model("", &format!("<object id=\"1\">{mesh}</object>"), ""),
            &["build list is empty"],
        ),
        (
            threemf_model(
                "",
                "<object id=\"1\"/>",
                "<item objectid=\"1\" transform=\"1 2 3\"/>",
            ),
            &["a transform has twelve numbers", "3D/part.model, byte"],
        ),
        (
            threemf_model(
                "",
                "<object id=\"1\"><vertex x=\"1\" y=\"2\"/></object>",
                "",
            ),
            &["`vertex` has no number in `z`"],
        ),
        (
            threemf_model(
                "",
                "<object id=\"1\"><vertex x=\"1\" y=\"2\" z=\"3\"/><triangle v1=\"0\" v2=\"0\" v3=\"5\"/></object>",
                "<item objectid=\"1\"/>",
            ),
            &["triangle 1 names corner 5, but there are 1"],
        ),
        ("<model><resources>".to_owned(), &["ends in the middle"]),
        ("<model></resources>".to_owned(), &["3D/part.model"]),
    ] {
        says(&refused(threemf_file(&model), "3mf"), words);
    }
    says(
        &refused(zip(&[("a.txt", b"x")]), "3mf"),
        &["3D/3dmodel.model"],
    );
}

// ---------------------------------------------------------------- in a scene

/// A demo scene with its skid plate's file and unit replaced, checked.
fn check(file: &str, bytes: &[u8], unit: &str) -> (Option<i32>, String) {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let scene = std::fs::read_to_string(root.join("scenes/tarnwood.ron")).expect("a demo scene");
    let was = "\"../assets/tarnwood_skid_plate.stl\", unit: mm";
    assert!(scene.contains(was));
    let scene = scene.replace(was, &format!("\"{file}\"{unit}")).replace(
        "../assets",
        &root.join("assets").display().to_string().replace('\\', "/"),
    );
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join(file), bytes).expect("written");
    let path = folder.path().join("scene.ron");
    std::fs::write(&path, scene).expect("written");
    let output = assert_cmd::Command::cargo_bin("bindpoint")
        .expect("the program")
        .arg("check")
        .arg(path)
        .output()
        .expect("it runs");
    let said = [output.stdout, output.stderr].concat();
    // Without the frame that a long message is wrapped in.
    let said = String::from_utf8_lossy(&said).replace('\u{2502}', " ");
    let words: Vec<&str> = said.split_whitespace().collect();
    (output.status.code(), words.join(" "))
}

#[test]
fn scenes_name_meshes_of_any_format() {
    let plate = cuboid([-200.0, -150.0, -280.0], [400.0, 300.0, 3.0]);
    let in_metres = |mut solid: Solid| {
        solid.corners.iter_mut().flatten().for_each(|c| *c *= 0.001);
        solid
    };
    let metres = in_metres(plate.clone());
    let text = gltf_text(&metres, r#"{"mesh":0}"#, "0", None);
    let mut open = plate.clone();
    open.triangles.pop();
    let row = "12 1 0 400.0 x 300.0 x 3.0 360.0";
    for (file, bytes, unit, words) in [
        ("plate.obj", obj(&metres).into_bytes(), ", unit: m", row),
        ("plate.ply", ply_binary(&plate, true), ", unit: mm", row),
        ("plate.3mf", threemf(&plate, "millimeter"), "", row),
        ("plate.glb", glb(&text, &gltf_buffer(&metres)), "", row),
        (
            "plate.stl",
            stl_binary(&open.soup()),
            ", unit: mm",
            "11 1 3 400.0 x 300.0 x 3.0 unknown",
        ),
    ] {
        let (status, said) = check(file, &bytes, unit);
        says(&said, &[&format!("{file} {words}")]);
        // Whether this plate fits the truck is another question.
        assert!(matches!(status, Some(0 | 1)), "{said}");
    }
    let (_, said) = check("open.stl", &stl_binary(&open.soup()), ", unit: mm");
    says(
        &said,
        &["whether something lies inside it can't be known: 3 edges open"],
    );
    let (status, said) = check("plate.stl", &stl_binary(&plate.soup()), "");
    assert_eq!(status, Some(2));
    says(
        &said,
        &[
            "no unit is given, and STL files state none",
            "say the file's `unit`",
        ],
    );
}

// ---------------------------------------------------------------- whatever comes

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn random_bytes_never_panic(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
        for format in ALL {
            let _ = read_mesh_bytes(&bytes, format, Some(1.0));
        }
    }

    #[test]
    fn changed_files_never_panic(
        which in 0_usize..9,
        changes in proptest::collection::vec((any::<prop::sample::Index>(), any::<u8>(), 0_u8..4), 1..8),
    ) {
        let (ending, mut bytes) = samples().swap_remove(which);
        for (at, value, kind) in changes {
            let i = at.index(bytes.len());
            match kind {
                0 => bytes[i] = value,
                1 => bytes.insert(i, value),
                2 if bytes.len() > 1 => _ = bytes.remove(i),
                _ => bytes[i] ^= 1 << (value % 8),
            }
        }
        if let Ok(mesh) = read(&bytes, ending, Some(1.0)) {
            // What is read makes a surface.
            let count = mesh.vertices.len() as u32;
            prop_assert!(mesh.triangles.iter().flatten().all(|i| *i < count));
            prop_assert!(mesh.vertices.iter().flatten().all(|c| c.is_finite()));
        }
    }
}
