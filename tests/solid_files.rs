//! Solids, and the other things that a .glb file can hold, written and read back.

use assert_cmd::Command;
use bindpoint::output::glb::{Drawn, GlbFile, Look};
use bindpoint::output::solid::{SolidFormat, SolidFormatError, write_solid};
use nalgebra::{Isometry3, Vector3};
use std::io::Read as _;
use std::path::{Path, PathBuf};

/// A ring, closed: points in mm around the z axis at a place on the truck, with a name that needs care in XML.
fn ring(around: u32, across: u32) -> (Vec<Vector3<f64>>, Vec<[u32; 3]>) {
    let turn = |i: u32, n: u32| std::f64::consts::TAU * f64::from(i) / f64::from(n);
    let mut points = Vec::new();
    let mut triangles = Vec::new();
    for i in 0..around {
        for j in 0..across {
            let (a, b) = (turn(i, around), turn(j, across));
            let out = 100.0 + 30.0 * b.cos();
            points.push(Vector3::new(
                out * a.cos() - 300.0,
                out * a.sin() + 700.0,
                30.0 * b.sin(),
            ));
            let at = |i: u32, j: u32| i % around * across + j % across;
            let [p, q, r, s] = [at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)];
            triangles.extend([[p, q, r], [p, r, s]]);
        }
    }
    (points, triangles)
}

const NAME: &str = "keep-out <\"A\" & B>";

fn volume_mm3(points: &[Vector3<f64>], triangles: &[[u32; 3]]) -> f64 {
    let sixth = |t: &[u32; 3]| {
        let [a, b, c] = t.map(|i| points[i as usize]);
        a.dot(&b.cross(&c)) / 6.0
    };
    triangles.iter().map(sixth).sum()
}

fn gltf_of(path: &Path) -> (gltf::Document, Vec<u8>) {
    let file = gltf::Gltf::from_slice(&std::fs::read(path).unwrap()).expect("valid glTF");
    (file.document, file.blob.expect("a binary part"))
}

fn text_in_zip(path: &Path, name: &str) -> String {
    let mut zip = zip::ZipArchive::new(std::fs::File::open(path).unwrap()).expect("a zip");
    let mut text = String::new();
    zip.by_name(name)
        .expect(name)
        .read_to_string(&mut text)
        .unwrap();
    text
}

/// The value of an attribute in a tag.
fn attribute<T: std::str::FromStr>(tag: &str, name: &str) -> Option<T> {
    let from = tag.find(&format!(" {name}=\""))? + name.len() + 3;
    tag[from..].split('"').next()?.parse().ok()
}

#[test]
fn a_solid_comes_back_from_3mf_as_it_was() {
    let (points, triangles) = ring(48, 24);
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("solid.3mf");
    write_solid(&path, SolidFormat::ThreeMf, NAME, &points, &triangles).unwrap();
    let kinds = text_in_zip(&path, "[Content_Types].xml");
    assert!(kinds.contains("3dmanufacturing-3dmodel+xml") && kinds.contains("relationships+xml"));
    assert!(text_in_zip(&path, "_rels/.rels").contains("Target=\"/3D/3dmodel.model\""));
    let model = text_in_zip(&path, "3D/3dmodel.model");
    assert!(model.contains("unit=\"millimeter\""));
    assert!(model.contains("name=\"keep-out &lt;&quot;A&quot; &amp; B&gt;\""));
    let mut read_points = Vec::new();
    let mut read_triangles: Vec<[u32; 3]> = Vec::new();
    let mut open: Vec<&str> = Vec::new();
    for tag in model
        .split('<')
        .skip(2)
        .map(|t| t.split('>').next().unwrap())
    {
        if let Some(name) = tag.strip_prefix('/') {
            assert_eq!(open.pop(), Some(name), "tags close in order");
        } else if !tag.ends_with('/') {
            open.push(tag.split(' ').next().unwrap());
        } else if tag.starts_with("vertex ") {
            assert_eq!(open.last(), Some(&"vertices"));
            let c = ["x", "y", "z"].map(|a| attribute::<f64>(tag, a).expect("a coordinate"));
            read_points.push(Vector3::from(c));
        } else if tag.starts_with("triangle ") {
            assert_eq!(open.last(), Some(&"triangles"));
            read_triangles.push(["v1", "v2", "v3"].map(|a| attribute(tag, a).expect("a number")));
        }
    }
    assert!(open.is_empty(), "{open:?}");
    assert_eq!(read_triangles, triangles);
    assert_eq!(read_points.len(), points.len());
    for (read, own) in read_points.iter().zip(&points) {
        assert!((read - own).norm() < 1.0e-4);
    }
    assert!(
        volume_mm3(&read_points, &read_triangles) > 0.0,
        "faces look outward"
    );
}

#[test]
fn a_solid_comes_back_from_glb_in_metres_with_y_up() {
    let (points, triangles) = ring(48, 24);
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("solid.glb");
    write_solid(&path, SolidFormat::Glb, NAME, &points, &triangles).unwrap();
    let (document, bytes) = gltf_of(&path);
    let node = document.nodes().next().expect("a node");
    assert_eq!(node.name(), Some(NAME));
    let primitive = node.mesh().unwrap().primitives().next().unwrap();
    let reader = primitive.reader(|_| Some(&bytes));
    let read: Vec<Vector3<f64>> = reader
        .read_positions()
        .unwrap()
        .map(|[x, y, z]| Vector3::new(z.into(), x.into(), y.into()) * 1.0e3)
        .collect();
    let indices: Vec<u32> = reader.read_indices().unwrap().into_u32().collect();
    let read_triangles: Vec<[u32; 3]> = indices.as_chunks().0.to_vec();
    assert_eq!(read_triangles.len(), triangles.len());
    for (read_triangle, own) in read_triangles.iter().zip(&triangles) {
        for (r, o) in read_triangle.iter().zip(own) {
            assert!((read[*r as usize] - points[*o as usize]).norm() < 1.0e-4);
        }
    }
    let (own, back) = (
        volume_mm3(&points, &triangles),
        volume_mm3(&read, &read_triangles),
    );
    assert!(own > 0.0 && (back - own).abs() < 1.0e-5 * own);
    // Smooth everywhere: as many corners as points, normals away from the ring's middle line.
    assert_eq!(read.len(), points.len());
    for (p, [x, y, z]) in read.iter().zip(reader.read_normals().unwrap()) {
        let normal = Vector3::new(f64::from(z), x.into(), y.into());
        let flat = Vector3::new(p.x + 300.0, p.y - 700.0, 0.0);
        let outward = (p - Vector3::new(-300.0, 700.0, 0.0) - flat.normalize() * 100.0).normalize();
        assert!(normal.dot(&outward) > 0.98);
    }
}

#[test]
fn lines_colours_and_nested_nodes_come_back() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("marks.glb");
    let mut file = GlbFile::new("marks", &serde_json::json!({ "margin_mm": 5 }));
    let plain = file.add_material(&Look {
        opacity: 0.5,
        ..Look::default()
    });
    let (points, triangles) = ring(12, 8);
    let colours: Vec<[u8; 3]> = (0..points.len()).map(|i| [i as u8, 0, 255]).collect();
    let solid = Drawn::Triangles {
        points: &points,
        triangles: &triangles,
        colours: Some(&colours),
    };
    let line = Drawn::Lines {
        points: &points,
        segments: &[[0, 1], [1, 2]],
        colours: None,
    };
    let empty = Drawn::Lines {
        points: &[],
        segments: &[],
        colours: None,
    };
    let mesh = file.add_mesh("both", &[(solid, plain), (line, plain), (empty, plain)]);
    assert!(file.add_mesh("nothing", &[(empty, plain)]).is_none());
    let at = Isometry3::rotation(Vector3::x() * 0.5);
    let top = file.add_node("mark", None, None, Some(&at));
    file.add_node("mark", Some(top), mesh, None);
    file.write(&path).unwrap();

    let (document, bytes) = gltf_of(&path);
    let names: Vec<_> = document
        .nodes()
        .map(|n| n.name().unwrap().to_owned())
        .collect();
    assert_eq!(names, ["mark", "mark 2"], "a name is given once");
    let top = document.default_scene().unwrap().nodes().next().unwrap();
    assert_eq!(top.children().count(), 1);
    // A turn about the truck's forward axis is one about z in the file.
    let (_, [x, y, z, w], _) = top.transform().decomposed();
    assert!(x == 0.0 && y == 0.0 && (z - 0.25_f32.sin()).abs() < 1.0e-6 && w > 0.0);
    let primitives: Vec<_> = document.meshes().next().unwrap().primitives().collect();
    assert_eq!(primitives.len(), 2);
    assert_eq!(primitives[1].mode(), gltf::mesh::Mode::Lines);
    let indices = primitives[1]
        .reader(|_| Some(&bytes))
        .read_indices()
        .unwrap();
    assert_eq!(indices.into_u32().collect::<Vec<_>>(), [0, 1, 1, 2]);
    assert_eq!(
        primitives[0].material().alpha_mode(),
        gltf::material::AlphaMode::Blend
    );
    let read = primitives[0]
        .reader(|_| Some(&bytes))
        .read_colors(0)
        .unwrap();
    let read: Vec<[f32; 4]> = read.into_rgba_f32().collect();
    assert!(
        read.iter()
            .all(|c| c[1] == 0.0 && c[2] == 1.0 && c[3] == 1.0)
    );
    // sRGB 64 is 0.0513 of full light.
    assert!(
        read.iter().any(|c| (c[0] - 0.051_27).abs() < 1.0e-4),
        "{read:?}"
    );
    for accessor in document.accessors() {
        assert!(accessor.min().is_some() && accessor.max().is_some());
    }
}

#[test]
fn a_solid_with_more_corners_than_two_bytes_count() {
    let (points, triangles) = ring(400, 200);
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("large.glb");
    write_solid(&path, SolidFormat::Glb, "large", &points, &triangles).unwrap();
    let (document, bytes) = gltf_of(&path);
    let primitive = document
        .meshes()
        .next()
        .unwrap()
        .primitives()
        .next()
        .unwrap();
    let reader = primitive.reader(|_| Some(&bytes));
    let greatest = reader.read_indices().unwrap().into_u32().max();
    assert_eq!(greatest, Some(79_999));
    assert_eq!(document.animations().count(), 0);
}

#[test]
fn the_keep_out_command_writes_every_kind() {
    let scene: PathBuf = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenes/whinchat.ron");
    let folder = tempfile::tempdir().unwrap();
    let run = |name: &str| {
        Command::cargo_bin("bindpoint")
            .unwrap()
            .args(["keepout".as_ref(), scene.as_os_str()])
            .args(["--parts", "tie rod", "--resolution", "8mm", "--out"])
            .arg(folder.path().join(name))
            .assert()
    };
    for name in ["a.stl", "a.3mf", "a.glb"] {
        run(name).success();
    }
    let stl = std::fs::read(folder.path().join("a.stl")).unwrap();
    let count = u32::from_le_bytes([stl[80], stl[81], stl[82], stl[83]]) as usize;
    let model = text_in_zip(&folder.path().join("a.3mf"), "3D/3dmodel.model");
    assert_eq!(model.matches("<triangle ").count(), count);
    let (document, _) = gltf_of(&folder.path().join("a.glb"));
    let primitive = document
        .meshes()
        .next()
        .unwrap()
        .primitives()
        .next()
        .unwrap();
    assert_eq!(primitive.indices().unwrap().count(), 3 * count);
    let refused = run("a.step").code(2);
    let text = String::from_utf8(refused.get_output().stderr.clone()).unwrap();
    assert!(text.contains(".step") && text.contains(".3mf"), "{text}");
    let refused = run("none/a.3mf").code(2);
    let text = String::from_utf8(refused.get_output().stderr.clone()).unwrap();
    assert!(text.contains("cannot write"), "{text}");
}

#[test]
fn endings_tell_the_kind() {
    let of = |name: &str| SolidFormat::of(Path::new(name));
    assert_eq!(of("a.STL"), Ok(SolidFormat::Stl));
    assert_eq!(of("a.3mf"), Ok(SolidFormat::ThreeMf));
    assert_eq!(of("a.Glb"), Ok(SolidFormat::Glb));
    assert_eq!(of("a"), Err(SolidFormatError::NoEnding));
    assert_eq!(
        of("a.step"),
        Err(SolidFormatError::Unknown("step".to_owned()))
    );
}
