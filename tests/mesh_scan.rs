//! A scan of a million triangles loads within seconds and in little memory, clean or dirty.

mod mesh_bytes;

use bindpoint::shapes::{Shape, read_mesh};
use std::sync::Arc;
use std::time::{Duration, Instant};

/// Rings and points a ring: 2 * 500 * 999 triangles and the caps.
const RINGS: usize = 500;
const AROUND: usize = 1000;

/// A dented sphere of about 800 mm, as triangles in single precision.
fn dented_sphere() -> Vec<[[f64; 3]; 3]> {
    let point = |ring: usize, i: usize| -> [f64; 3] {
        let polar = std::f64::consts::PI * ring as f64 / RINGS as f64;
        let round = std::f64::consts::TAU * (i % AROUND) as f64 / AROUND as f64;
        // The poles are one point each.
        let ends = polar.sin();
        let radius = 400.0 + 15.0 * ends * (9.0 * polar).sin() * (14.0 * round).cos();
        let ring_radius = if ring == 0 || ring == RINGS {
            0.0
        } else {
            radius * ends
        };
        [
            ring_radius * round.cos() + 2000.0,
            ring_radius * round.sin(),
            radius * polar.cos(),
        ]
    };
    let mut out = Vec::with_capacity(2 * RINGS * AROUND);
    for ring in 0..RINGS {
        for i in 0..AROUND {
            let [a, b] = [point(ring, i), point(ring, i + 1)];
            let [c, d] = [point(ring + 1, i), point(ring + 1, i + 1)];
            if ring > 0 {
                out.push([a, c, b]);
            }
            if ring + 1 < RINGS {
                out.push([b, c, d]);
            }
        }
    }
    out
}

/// Most memory that the process ever held, bytes; where the system says.
fn peak_bytes() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find_map(|l| l.strip_prefix("VmHWM:"))?;
    let kib: u64 = line.trim().trim_end_matches("kB").trim().parse().ok()?;
    Some(kib * 1024)
}

#[test]
fn a_million_triangles() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut soup = dented_sphere();
    assert!(soup.len() > 990_000);
    // As scans are: a hole, a thousand faces twice, a thousand the wrong way, a thousand without area.
    let (clean, dirty) = (
        folder.path().join("clean.stl"),
        folder.path().join("dirty.stl"),
    );
    std::fs::write(&clean, mesh_bytes::stl_binary(&soup)).expect("written");
    let whole = soup.len();
    soup.drain(300_000..301_000);
    soup.extend_from_within(400_000..401_000);
    soup[600_000..601_000].iter_mut().for_each(|t| t.swap(0, 1));
    let corner = soup[7][0];
    soup.extend((0..1000).map(|_| [corner; 3]));
    std::fs::write(&dirty, mesh_bytes::stl_binary(&soup)).expect("written");
    drop(soup);
    for (path, closed) in [(clean, true), (dirty, false)] {
        let start = Instant::now();
        let mesh = read_mesh(&path, Some(1.0)).expect("a scan");
        let read = start.elapsed();
        let r = mesh.report;
        let shape = Shape::Mesh {
            vertices: Arc::new(mesh.vertices),
            triangles: Arc::new(mesh.triangles),
        };
        let surface = shape.surface(None).expect("a surface");
        let took = start.elapsed();
        println!(
            "{} triangles read and mended in {read:?}, with the tree {took:?}; peak {:?} MiB",
            r.triangles_read,
            peak_bytes().map(|b| b / 1024 / 1024)
        );
        assert_eq!((r.inside_known, surface.closed), (closed, closed));
        if closed {
            assert_eq!(r.remarks(), Vec::<String>::new());
            assert_eq!((r.triangles, r.pieces), (whole, 1));
            let sphere = 4.0 / 3.0 * std::f64::consts::PI * 400.0_f64.powi(3);
            assert!((r.volume_mm3.expect("closed") / sphere - 1.0).abs() < 0.01);
        } else {
            assert_eq!(
                (r.triangles, r.repeated, r.without_area),
                (whole - 1000, 1000, 1000)
            );
            assert!(r.open_edges >= 1000 && r.clashing_edges >= 1000 && r.volume_mm3.is_none());
        }
        // A few seconds on an idle machine; the machine may be busy.
        assert!(took < Duration::from_secs(20), "{took:?}");
    }
    // The files' bytes were made here too.
    if let Some(peak) = peak_bytes() {
        assert!(peak < 1024 * 1024 * 1024, "{peak} bytes");
    }
}
