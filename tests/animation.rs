//! The animated file, read back: what is in it, and that it moves as the linkage does.
//!
//! The exact pose comes from the corner's own position at the travel and rack that a key frame's time stands for; what a
//! viewer draws between key frames is made here from the file alone, as glTF 2.0 says (3.11 and appendix C): places on a
//! straight line, turns by spherical interpolation.

use assert_cmd::Command;
use bindpoint::findings::FreeMap;
use bindpoint::space::{Animation, AnimationError, AnimationOptions, PlayPath, animate};
use bindpoint::suspension::{Motion, Side};
use bindpoint::sweep::free_map;
use bindpoint::sweep::rate_atlas::Atlas;
use bindpoint::sweep::stops::Guard;
use bindpoint::truck::{Truck, load};
use gltf::animation::util::ReadOutputs;
use nalgebra::{Isometry3, Point3, Quaternion, UnitQuaternion, Vector3};
use std::collections::HashSet;
use std::path::{Path, PathBuf};

/// What the command promises, mm.
const MISS_MM: f64 = 0.2;

const NAMES: [&str; 5] = [
    "bump and droop, straight ahead",
    "bump and droop, left lock",
    "bump and droop, right lock",
    "lock to lock at full droop",
    "around the limit",
];

fn scene(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenes");
    folder.join(format!("{name}.ron"))
}

fn maps(truck: &Truck) -> Vec<FreeMap> {
    let map = |corner| free_map(&Guard::new(corner, &Atlas::build(corner), 1.0));
    truck.corners.iter().map(map).collect()
}

fn options() -> AnimationOptions {
    AnimationOptions {
        side: None,
        paths: PlayPath::ALL.to_vec(),
        seconds: None,
        miss_mm: MISS_MM,
    }
}

/// A .glb file, read by the crate that reads glTF, checks of the format included.
struct Read {
    document: gltf::Document,
    bytes: Vec<u8>,
}

impl Read {
    fn open(path: &Path) -> Read {
        let file = gltf::Gltf::from_slice(&std::fs::read(path).unwrap()).expect("valid glTF");
        Read {
            document: file.document,
            bytes: file.blob.expect("a binary part"),
        }
    }

    fn names(&self) -> Vec<String> {
        let name = |n: gltf::Node| n.name().expect("named").to_owned();
        self.document.nodes().map(name).collect()
    }

    fn node(&self, name: &str) -> gltf::Node<'_> {
        let mut nodes = self.document.nodes();
        nodes
            .find(|n| n.name() == Some(name))
            .unwrap_or_else(|| panic!("no node {name}"))
    }

    /// Corners of what hangs below a node, from the node, in the file's metres and axes.
    fn points_below(&self, node: &gltf::Node) -> Vec<Vector3<f64>> {
        let mut out = Vec::new();
        for child in node.children() {
            let as_its_parent = rest(&child);
            assert_eq!(as_its_parent.place, Vector3::zeros());
            assert_eq!(as_its_parent.turn, Quaternion::identity());
            for primitive in child.mesh().expect("a part").primitives() {
                let reader = primitive.reader(|_| Some(&self.bytes));
                let positions = reader.read_positions().expect("positions");
                out.extend(positions.map(|p| Vector3::from(p.map(f64::from))));
            }
        }
        out
    }

    /// Times and stands of a node in an animation; what has no channel stays at the node's own.
    fn keys(&self, animation: &gltf::Animation, node: &gltf::Node) -> (Vec<f64>, Vec<Stand>) {
        let rest = rest(node);
        let mut times = Vec::new();
        let (mut places, mut turns) = (Vec::new(), Vec::new());
        for channel in animation.channels() {
            let reader = channel.reader(|_| Some(&self.bytes));
            times = reader.read_inputs().unwrap().map(f64::from).collect();
            if channel.target().node().index() != node.index() {
                continue;
            }
            match reader.read_outputs().unwrap() {
                ReadOutputs::Translations(values) => {
                    places = values.map(|v| Vector3::from(v.map(f64::from))).collect();
                }
                ReadOutputs::Rotations(values) => turns = values.into_f32().map(turn).collect(),
                _ => panic!("neither a place nor a turn"),
            }
        }
        let stands = (0..times.len()).map(|i| Stand {
            place: places.get(i).copied().unwrap_or(rest.place),
            turn: turns.get(i).copied().unwrap_or(rest.turn),
        });
        (times.clone(), stands.collect())
    }
}

#[derive(Clone, Copy)]
struct Stand {
    place: Vector3<f64>,
    turn: Quaternion<f64>,
}

fn turn([x, y, z, w]: [f32; 4]) -> Quaternion<f64> {
    Quaternion::new(w.into(), x.into(), y.into(), z.into())
}

fn rest(node: &gltf::Node) -> Stand {
    let (place, rotation, scale) = node.transform().decomposed();
    assert_eq!(scale, [1.0; 3]);
    Stand {
        place: Vector3::from(place.map(f64::from)),
        turn: turn(rotation),
    }
}

impl Stand {
    /// As glTF's appendix C has it, without looking for the shorter way: key frames must lie on it.
    fn between(&self, to: &Stand, share: f64) -> Stand {
        let (a, b) = (self.turn.normalize(), to.turn.normalize());
        let dot = a.coords.dot(&b.coords);
        assert!(dot > 0.0, "neighbouring turns lie on one side");
        let angle = dot.min(1.0).acos();
        let turn = if angle < 1.0e-6 {
            a.lerp(&b, share)
        } else {
            a * (((1.0 - share) * angle).sin() / angle.sin())
                + b * ((share * angle).sin() / angle.sin())
        };
        Stand {
            place: self.place.lerp(&to.place, share),
            turn,
        }
    }

    fn point(&self, p: &Vector3<f64>) -> Vector3<f64> {
        let turn = UnitQuaternion::from_quaternion(self.turn);
        let stand = Isometry3::from_parts(self.place.into(), turn);
        stand.transform_point(&Point3::from(*p)).coords
    }
}

/// Millimetres and vehicle axes from the file's.
fn vehicle(p: &Vector3<f64>) -> Vector3<f64> {
    Vector3::new(p.z, p.x, p.y) * 1.0e3
}

/// Where a body has a point given at another position of its wheel, vehicle coordinates; on the other side of a truck
/// whose corners mirror each other, seen in the mirror.
fn carried(
    truck: &Truck,
    side: Side,
    motion: Motion,
    [from, to]: [[f64; 2]; 2],
    point: &Vector3<f64>,
) -> Vector3<f64> {
    let (corner, mirror) = match truck.corner(side) {
        Some(corner) => (corner, 1.0),
        None => (&truck.corners[0], -1.0),
    };
    let at = |[travel, rack]: [f64; 2]| {
        let position = corner
            .position(travel, mirror * rack)
            .expect("within reach");
        position.linkage.placement(motion)
    };
    let own = Vector3::new(point.x, mirror * point.y, point.z);
    let moved = at(to).point(&at(from).point_in_body(&own));
    Vector3::new(moved.x, mirror * moved.y, moved.z)
}

fn body_node(side: Option<Side>, motion: Motion) -> String {
    let name = match motion {
        Motion::Frame => "frame",
        Motion::Rack => "rack",
        Motion::LowerArm => "lower arm",
        Motion::UpperArm => "upper arm",
        Motion::Knuckle => "knuckle and wheel",
        Motion::TieRod => "tie rod",
        Motion::DamperUpper => "damper, upper half",
        Motion::DamperLower => "damper, lower half",
        Motion::Halfshaft => "halfshaft",
        Motion::Link(_) => "link",
    };
    match side {
        Some(side) => format!("{} {name} (body)", side.name()),
        None => format!("{name} (body)"),
    }
}

/// Travel of each wheel and the rack at a time of a motion that goes to its far end and back in equal times, along a
/// cosine: between the key frames of the way there travel is straight in the rack.
fn there_and_back(clip: &bindpoint::space::Clip, wheel: usize, time: f64) -> [f64; 2] {
    let end = clip.seconds[clip.seconds.len() - 1];
    let half = clip.seconds.iter().position(|t| *t >= 0.5 * end - 1.0e-9);
    let half = half.expect("a middle");
    let phase = 2.0 * time / end;
    let share = 0.5 * (1.0 - (std::f64::consts::PI * phase).cos());
    let (travel, rack) = (&clip.travel_mm[wheel][..=half], &clip.rack_mm[..=half]);
    let to = |list: &[f64]| list[0] + (list[half] - list[0]) * share;
    let rack_now = to(rack);
    if rack[0] == rack[half] {
        return [to(travel), rack_now];
    }
    let toward = (rack[half] - rack[0]).signum();
    let after = rack.iter().position(|r| (r - rack_now) * toward >= 0.0);
    let after = after.unwrap_or(half).max(1);
    let part = (rack_now - rack[after - 1]) / (rack[after] - rack[after - 1]);
    let travel_now = travel[after - 1] + (travel[after] - travel[after - 1]) * part;
    [travel_now, rack_now]
}

/// The worst miss of any point of any part between key frames, in the four motions that go there and back.
fn worst_miss_mm(truck: &Truck, animation: &Animation, read: &Read) -> f64 {
    let straight = &animation.clips[0];
    let mut worst = 0.0_f64;
    let mut moved = 0.0_f64;
    for body in &animation.bodies {
        let node = read.node(&body_node(body.side, body.motion));
        let points = read.points_below(&node);
        assert!(!points.is_empty());
        let side = body.side.unwrap_or(Side::Left);
        let wheel = usize::from(side == Side::Right);
        let corner = truck.corner(side).unwrap_or(&truck.corners[0]);
        let ends = straight.travel_mm[wheel].iter().copied();
        let (bump, droop) = (
            ends.clone().fold(f64::MIN, f64::max),
            ends.fold(f64::MAX, f64::min),
        );
        let at_rest = [corner.ride_height_mm.clamp(droop, bump), 0.0];
        let stand = rest(&node);
        // A few dozen points of each body, the outermost ones among them as likely as not.
        let step = points.len().div_ceil(40);
        let measured: Vec<(Vector3<f64>, Vector3<f64>)> = points
            .iter()
            .step_by(step)
            .map(|p| (*p, vehicle(&stand.point(p))))
            .collect();
        for (clip, animation) in animation
            .clips
            .iter()
            .zip(read.document.animations())
            .take(4)
        {
            let (times, stands) = read.keys(&animation, &node);
            assert_eq!(times.len(), clip.seconds.len());
            for i in 1..times.len() {
                for share in [0.0, 0.13, 0.31, 0.5, 0.62, 0.87] {
                    let time = times[i - 1] + (times[i] - times[i - 1]) * share;
                    let drawn = stands[i - 1].between(&stands[i], share);
                    let to = there_and_back(clip, wheel, time);
                    for (local, at) in &measured {
                        let exact = carried(truck, side, body.motion, [at_rest, to], at);
                        let off = (vehicle(&drawn.point(local)) - exact).norm();
                        worst = worst.max(off);
                        moved = moved.max((exact - at).norm());
                    }
                }
            }
        }
    }
    assert!(moved > 50.0, "something moves: {moved}");
    worst
}

#[test]
fn the_file_moves_as_the_linkage_does_on_both_sides() {
    // Crake has one corner and its mirror image, Tarnwood two of their own.
    for (name, corners) in [("crake", 1), ("tarnwood", 2)] {
        let truck = load(&scene(name)).unwrap();
        assert_eq!(truck.corners.len(), corners);
        let animation = animate(&truck, &maps(&truck), &options()).unwrap();
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("moving.glb");
        bindpoint::output::animation_glb::write_animation(&path, &animation).unwrap();
        let read = Read::open(&path);
        let worst = worst_miss_mm(&truck, &animation, &read);
        assert!(worst < MISS_MM, "{name}: off by {worst} mm");
        for clip in &animation.clips {
            assert!(
                clip.miss_mm <= MISS_MM,
                "{name}, {}: {}",
                clip.name(),
                clip.miss_mm
            );
        }

        // A tenth of the miss asked for needs more key frames, and is kept too.
        let finer = AnimationOptions {
            miss_mm: 0.1 * MISS_MM,
            paths: vec![PlayPath::DroopStraight],
            ..options()
        };
        let finer = animate(&truck, &maps(&truck), &finer).unwrap();
        assert!(finer.clips[0].miss_mm <= 0.1 * MISS_MM);
        assert!(finer.clips[0].seconds.len() > 2 * animation.clips[0].seconds.len());
    }
}

#[test]
fn around_the_limit_both_wheels_keep_to_the_edge_of_their_free_travel() {
    let truck = load(&scene("tarnwood")).unwrap();
    let maps = maps(&truck);
    let animation = animate(&truck, &maps, &options()).unwrap();
    let clip = &animation.clips[4];
    let last = clip.seconds.len() - 1;
    let [low, high] = truck.corners[0].rack_mm;
    for list in [&clip.rack_mm, &clip.travel_mm[0], &clip.travel_mm[1]] {
        assert!(
            (list[0] - list[last]).abs() < 1.0e-9,
            "it ends where it began"
        );
    }
    let mut on_the_edge = [0; 2];
    for i in 0..=last {
        let rack = clip.rack_mm[i];
        assert!((low..=high).contains(&rack));
        for (wheel, side) in [Side::Left, Side::Right].into_iter().enumerate() {
            let number = truck.corners.iter().position(|c| c.side == side).unwrap();
            let map = &maps[number];
            let [droop, bump] =
                bindpoint::space::play_path::free_travel_at(map, rack).expect("free");
            let travel = clip.travel_mm[wheel][i];
            // The map's own stairs, and what the linkage bends between two steps of the rack.
            let stairs = 2.0 * map.cell_mm[0];
            assert!(
                travel > droop - stairs && travel < bump + stairs,
                "{rack} {travel}"
            );
            let off = (travel - droop).abs().min((travel - bump).abs());
            on_the_edge[wheel] += usize::from(off < stairs);
        }
    }
    assert!(on_the_edge.iter().all(|n| *n > 2 * 64), "{on_the_edge:?}");
}

#[test]
fn the_command_writes_every_part_by_name_and_every_motion() {
    for (name, expected) in [
        (
            "crake",
            vec![
                "left tyre",
                "right tyre",
                "left lower arm",
                "right frame rail",
            ],
        ),
        (
            "tarnwood",
            vec![
                "left knuckle",
                "right knuckle",
                "crossmember",
                "differential housing",
                "left frame rail",
            ],
        ),
        (
            "hollin",
            vec![
                "left tyre",
                "right inner joint housing",
                "differential housing",
                "skid plate",
            ],
        ),
    ] {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("moving.GLB");
        let run = Command::cargo_bin("bindpoint")
            .unwrap()
            .args([
                "animate".as_ref(),
                scene(name).as_os_str(),
                "--out".as_ref(),
                path.as_os_str(),
            ])
            .assert()
            .success();
        let text = String::from_utf8(run.get_output().stdout.clone()).unwrap();
        let read = Read::open(&path);
        let names = read.names();
        for part in expected {
            assert!(
                names.iter().any(|n| n == part),
                "{name} has no {part}: {names:?}"
            );
        }
        let different: HashSet<&String> = names.iter().collect();
        assert_eq!(different.len(), names.len(), "{names:?}");
        // Every part of the scene is there, on its own or once a side.
        let truck = load(&scene(name)).unwrap();
        for part in truck.corners.iter().flat_map(|c| &c.parts) {
            let sides = [Side::Left, Side::Right].map(|s| format!("{} {}", s.name(), part.name));
            assert!(names.contains(&part.name) || sides.iter().any(|n| names.contains(n)));
        }

        let motions: Vec<_> = read.document.animations().collect();
        assert_eq!(
            motions
                .iter()
                .map(|a| a.name().unwrap())
                .collect::<Vec<_>>(),
            NAMES
        );
        for motion in &motions {
            assert!(text.contains(motion.name().unwrap()), "{text}");
            assert!(motion.channels().count() > 8);
            let mut targets = HashSet::new();
            for channel in motion.channels() {
                let node = channel.target().node();
                let node_name = node.name().unwrap();
                assert_ne!(node_name, "frame (body)", "the frame is at rest");
                assert!(node_name.ends_with("(body)") && node.mesh().is_none());
                assert!(targets.insert((node.index(), channel.target().property() as u32)));
                let reader = channel.reader(|_| Some(&read.bytes));
                let times: Vec<f32> = reader.read_inputs().unwrap().collect();
                assert_eq!(times[0], 0.0);
                assert!(times.windows(2).all(|t| t[0] < t[1]), "times rise");
            }
        }
        for accessor in read.document.accessors() {
            assert!(accessor.min().is_some() && accessor.max().is_some());
        }
        // A mesh, a material, unit normals; outward ones see the part from outside.
        for mesh in read.document.meshes() {
            for primitive in mesh.primitives() {
                assert!(primitive.material().index().is_some());
                let reader = primitive.reader(|_| Some(&read.bytes));
                for [x, y, z] in reader.read_normals().expect("normals") {
                    assert!((x.hypot(y).hypot(z) - 1.0).abs() < 1.0e-4);
                }
            }
        }
        let extras = read
            .document
            .as_json()
            .asset
            .extras
            .as_ref()
            .expect("extras");
        assert!(extras.get().contains("ISO 8855"), "{extras}");
    }
}

#[test]
fn one_wheel_alone_for_so_long() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("wheel.glb");
    // The corner that was not built, as the mirror image of the other.
    for side in ["left", "right"] {
        Command::cargo_bin("bindpoint")
            .unwrap()
            .args([
                "animate".as_ref(),
                scene("crake").as_os_str(),
                "--out".as_ref(),
                path.as_os_str(),
            ])
            .args([
                "--side",
                side,
                "--path",
                "locks,droop,locks",
                "--seconds",
                "2.5",
            ])
            .assert()
            .success();
        let read = Read::open(&path);
        let names = read.names();
        assert!(names.iter().any(|n| n == "tyre"), "{names:?}");
        // Parts of the body are drawn for both sides; those of the corner are alone.
        for sided in ["left tyre", "right tyre", "left tie rod", "right tie rod"] {
            assert!(names.iter().all(|n| n != sided), "{names:?}");
        }
        let wheel = rest(&read.node("knuckle and wheel (body)")).place;
        assert_eq!(vehicle(&wheel).y > 0.0, side == "left");
        let motions: Vec<_> = read.document.animations().collect();
        assert_eq!(
            motions
                .iter()
                .map(|a| a.name().unwrap())
                .collect::<Vec<_>>(),
            [NAMES[3], NAMES[0]]
        );
        for motion in motions {
            let (times, _) = read.keys(&motion, &read.node("knuckle and wheel (body)"));
            assert!((times[times.len() - 1] - 2.5).abs() < 1.0e-6);
        }
    }
}

#[test]
fn what_cannot_be_written_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let refused = |out: &Path, more: &[&str], says: &str| {
        let run = Command::cargo_bin("bindpoint")
            .unwrap()
            .args([
                "animate".as_ref(),
                scene("crake").as_os_str(),
                "--out".as_ref(),
                out.as_os_str(),
            ])
            .args(more)
            .assert()
            .code(2);
        let text = String::from_utf8(run.get_output().stderr.clone()).unwrap();
        assert!(text.contains(says), "{text}");
    };
    refused(&folder.path().join("a.gltf"), &[], "ends in .glb");
    refused(&folder.path().join("none/a.glb"), &[], "cannot write");
    refused(folder.path(), &[], "is not a .glb");
    let file = folder.path().join("a.glb");
    refused(&file, &["--seconds", "0"], "above zero");
    refused(&file, &["--seconds", "inf"], "finite");
    refused(&file, &["--path", "sideways"], "sideways");
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);

    let truck = load(&scene("crake")).unwrap();
    let mut nothing_free = maps(&truck);
    nothing_free[0].outline.clear();
    let error = animate(&truck, &nothing_free, &options()).unwrap_err();
    assert!(matches!(error, AnimationError::NotFree(_)), "{error}");
    let sloppy = AnimationOptions {
        miss_mm: f64::NAN,
        ..options()
    };
    let error = animate(&truck, &maps(&truck), &sloppy).unwrap_err();
    assert!(matches!(error, AnimationError::NotPositive(_)), "{error}");
}
