//! Every reader of untrusted files against changed files, for as long as one likes: no panic, no runaway
//! memory or time.
//!
//! `MESH_FUZZ_SECONDS=600 cargo test --release --test mesh_fuzz -- --ignored --nocapture` (default 10 seconds a
//! reader). The folder `fuzz` has the same targets for cargo-fuzz, which sees which branches a file reaches.

mod dice;
mod mesh_bytes;

use bindpoint::scene::scene_from_text;
use bindpoint::shapes::{MeshFormat, read_mesh_bytes};
use dice::Dice;
use std::path::Path;
use std::time::{Duration, Instant};

/// No small file may take longer than this: the machine may be busy.
const LONGEST: Duration = Duration::from_secs(20);

/// Words that the formats know, put where they may hurt.
const WORDS: [&[u8]; 34] = [
    b"solid ",
    b"endsolid",
    b"vertex ",
    b"endfacet\n",
    b"v 0 0 0\n",
    b"f 1 2 3\n",
    b"f -1 -1 -1 ",
    b"\\\n",
    b"property list int int a\n",
    b"element vertex 3000000000\n",
    b"end_header\n",
    b"<object id=\"1\"/>",
    b"<component objectid=\"1\"/>",
    b"<item objectid=\"1\"/>",
    b"</",
    b"<!--",
    b"-->",
    b"<![CDATA[",
    b"\"/>",
    b"transform=\"1 0 0 0 1 0 0 0 1 0 0 0\"",
    b"\"children\":[0],",
    b"\"matrix\":[",
    b"\"byteStride\":",
    b"\"sparse\":{",
    b"18446744073709551615",
    b"-1",
    b"1e308",
    b"nan",
    b"inf",
    b"0",
    b"[",
    b"{",
    b"\"",
    b"999",
];

fn changed(dice: &mut Dice, samples: &[Vec<u8>]) -> Vec<u8> {
    let mut bytes = samples[dice.below(samples.len())].clone();
    for _ in 0..1 + dice.below(6) {
        let n = bytes.len();
        let at = dice.below(n + 1);
        match dice.below(9) {
            0 if n > 0 => bytes[at.min(n - 1)] = dice.below(256) as u8,
            1 if n > 0 => bytes[at.min(n - 1)] ^= 1 << dice.below(8),
            2 => bytes.truncate(at),
            3 => {
                let end = (at + dice.below(40)).min(n);
                bytes.drain(at..end);
            }
            4 => {
                let word = WORDS[dice.below(WORDS.len())];
                bytes.splice(at..at, word.iter().copied());
            }
            5 => {
                // A piece once more, elsewhere.
                let end = (at + dice.below(60)).min(n);
                let piece = bytes[at..end].to_vec();
                let to = dice.below(n + 1);
                bytes.splice(to..to, piece);
            }
            6 => {
                // A piece of another file.
                let other = &samples[dice.below(samples.len())];
                let from = dice.below(other.len() + 1);
                let end = (from + dice.below(200)).min(other.len());
                bytes.splice(at..at, other[from..end].iter().copied());
            }
            7 => {
                for byte in bytes.iter_mut().skip(at).take(4) {
                    *byte = [0, 0xff, 0x7f, 0x80][dice.below(4)];
                }
            }
            _ => {
                // A digit becomes another one.
                if let Some(digit) = bytes.iter_mut().skip(at).find(|b| b.is_ascii_digit()) {
                    *digit = b'0' + dice.below(10) as u8;
                }
            }
        }
    }
    bytes
}

fn try_for_a_while(name: &str, samples: &[Vec<u8>], read: impl Fn(&[u8]) -> bool) {
    let seconds = std::env::var("MESH_FUZZ_SECONDS")
        .ok()
        .and_then(|s| s.parse().ok())
        .unwrap_or(10);
    let end = Instant::now() + Duration::from_secs(seconds);
    let mut dice = Dice::new(20_260_701 + name.len() as u64);
    let (mut tried, mut usable) = (0_u64, 0_u64);
    let mut slowest = Duration::ZERO;
    while Instant::now() < end {
        let bytes = changed(&mut dice, samples);
        let start = Instant::now();
        let read = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| read(&bytes)));
        let took = start.elapsed();
        slowest = slowest.max(took);
        let Ok(fine) = read else {
            let path = std::env::temp_dir().join(format!("mesh_fuzz_{name}"));
            std::fs::write(&path, &bytes).expect("kept");
            panic!("{name}: a panic; the file is {}", path.display());
        };
        assert!(took < LONGEST, "{name}: {took:?}");
        tried += 1;
        usable += u64::from(fine);
    }
    println!("{name}: {tried} files, {usable} of them usable, slowest {slowest:?}");
    assert!(tried > 100, "{name}: only {tried} files tried");
    assert!(
        usable > 0 && usable < tried,
        "{name}: {usable} of {tried} usable"
    );
}

/// A model with components, as text.
fn threemf_model() -> Vec<u8> {
    let object = format!(
        "<object id=\"1\">{}</object><object id=\"2\"><components><component objectid=\"1\" \
         transform=\"-1 0 0 0 1 0 0 0 1 10 0 0\"/></components></object>",
        mesh_bytes::threemf_mesh(&mesh_bytes::cube())
    );
    let build = "<item objectid=\"1\"/><item objectid=\"2\"/>";
    mesh_bytes::threemf_model("unit=\"millimeter\"", &object, build).into_bytes()
}

fn scene_texts() -> Vec<Vec<u8>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenes");
    std::fs::read_dir(folder)
        .expect("scenes")
        .map(|entry| std::fs::read(entry.expect("an entry").path()).expect("a scene"))
        .collect()
}

/// Writes the valid files where cargo-fuzz starts from.
#[test]
#[ignore = "writes into fuzz/corpus"]
fn write_seeds() {
    let corpus = Path::new(env!("CARGO_MANIFEST_DIR")).join("fuzz/corpus");
    let write = |target: &str, i: usize, bytes: &[u8]| {
        let folder = corpus.join(target);
        std::fs::create_dir_all(&folder).expect("a folder");
        std::fs::write(folder.join(format!("seed_{i}")), bytes).expect("a seed");
    };
    for (i, (ending, bytes)) in mesh_bytes::samples().iter().enumerate() {
        let target = match *ending {
            "3mf" => "threemf",
            "glb" => "gltf",
            other => other,
        };
        write(target, i, bytes);
    }
    write("threemf_model", 0, &threemf_model());
    for (i, text) in scene_texts().iter().enumerate() {
        write("scene", i, text);
    }
}

fn mesh(ending: &str) {
    let format = MeshFormat::of_name(Path::new(&format!("a.{ending}"))).expect("known");
    let samples: Vec<Vec<u8>> = mesh_bytes::samples()
        .into_iter()
        .filter(|(e, _)| *e == ending)
        .map(|(_, bytes)| bytes)
        .collect();
    try_for_a_while(ending, &samples, |bytes| {
        read_mesh_bytes(bytes, format, Some(1.0)).is_ok()
            || read_mesh_bytes(bytes, format, Some(1000.0)).is_ok()
    });
}

#[test]
#[ignore = "takes as long as it is told to"]
fn stl() {
    mesh("stl");
}

#[test]
#[ignore = "takes as long as it is told to"]
fn obj() {
    mesh("obj");
}

#[test]
#[ignore = "takes as long as it is told to"]
fn ply() {
    mesh("ply");
}

#[test]
#[ignore = "takes as long as it is told to"]
fn glb() {
    mesh("glb");
}

#[test]
#[ignore = "takes as long as it is told to"]
fn gltf() {
    mesh("gltf");
}

#[test]
#[ignore = "takes as long as it is told to"]
fn threemf_archives() {
    mesh("3mf");
}

/// Models changed before they are packed: in a changed archive they seldom survive its checks.
#[test]
#[ignore = "takes as long as it is told to"]
fn threemf_models() {
    try_for_a_while("3mf models", &[threemf_model()], |bytes| {
        let file = mesh_bytes::zip(&[("3D/3dmodel.model", bytes)]);
        read_mesh_bytes(&file, MeshFormat::ThreeMf, Some(1.0)).is_ok()
    });
}

#[test]
#[ignore = "takes as long as it is told to"]
fn scenes() {
    try_for_a_while("scenes", &scene_texts(), |bytes| {
        let text = String::from_utf8_lossy(bytes);
        scene_from_text(&text, Path::new("a.ron")).is_ok()
    });
}
