//! Random suspensions near the mid-size demo one, with random parts, and the same parts as parry knows them: distances of
//! another origin (parry's GJK on convex pieces), so that a shared distance bug can't hide a miss.

// Each test file uses its own part of this module.
#![allow(dead_code)]

use super::dice::Dice;
use bindpoint::scene::{
    Fitted, MeshUnit, PartEntry, Point, Scene, ShapeEntry, Watch, scene_from_text,
};
use bindpoint::suspension::{Body, Linkage};
use bindpoint::truck::{Corner, assemble};
use nalgebra::{Matrix3, Vector3};
use parry3d::math::{Pose, Vector};
use parry3d::shape::{ConvexPolyhedron, SharedShape};
use std::collections::BTreeMap;
use std::path::Path;

/// The mid-size demo scene.
pub fn base() -> Scene {
    let path = Path::new("scenes/tarnwood.ron");
    let text = std::fs::read_to_string(path).expect("demo scene");
    let mut scene = scene_from_text(&text, path).expect("demo scene reads");
    // The truck's body has meshes in another folder, and no part in what is asked here.
    scene.underbody.clear();
    scene
}

fn jitter(p: &mut Point, dice: &mut Dice, by: f64) {
    for c in [&mut p.0, &mut p.1, &mut p.2] {
        *c += dice.between(-by, by);
    }
}

/// A random suspension and its parts as parry knows them.
pub struct Random {
    /// The corner.
    pub corner: Corner,
    /// For each part its convex pieces, body coordinates; `None` for what parry can't do.
    pub oracles: Vec<Option<Vec<SharedShape>>>,
}

/// A random suspension near the demo one, with random convex parts and, where there is a folder to write them to, meshes
/// of two convex pieces; `None` where it can't be built.
pub fn random_corner(dice: &mut Dice, pairs: usize, meshes: Option<&Path>) -> Option<Random> {
    let mut scene = base();
    let Some(upper) = &mut scene.upper_arm else {
        panic!("the demo has an upper arm");
    };
    for p in [
        &mut scene.lower_arm.front_pivot,
        &mut scene.lower_arm.rear_pivot,
        &mut scene.lower_arm.ball_joint,
        &mut upper.front_pivot,
        &mut upper.rear_pivot,
        &mut upper.ball_joint,
        &mut scene.knuckle.tie_rod_outer,
        &mut scene.rack.tie_rod_inner,
        &mut scene.halfshaft.inner_joint,
        &mut scene.halfshaft.outer_joint,
    ] {
        jitter(p, dice, 25.0);
    }
    scene.rack.travel.left = 40.0;
    scene.rack.travel.right = 40.0;
    scene.search = Some(bindpoint::scene::Search {
        droop: 120.0,
        bump: 80.0,
    });
    // The oracle knows parts as they are drawn.
    let as_drawn = || bindpoint::scene::Roll::HeldBy("this test".to_owned());
    (scene.rack.roll, scene.damper.roll) = (as_drawn(), as_drawn());
    scene.ball_joints = Default::default();
    scene.hoses.clear();
    scene.joined.clear();
    scene.parts.clear();
    scene.watch.clear();
    let bodies = [
        Body::Frame,
        Body::LowerArm,
        Body::UpperArm,
        Body::Knuckle,
        Body::TieRod,
        Body::Halfshaft,
        Body::DamperLower,
    ];
    let mut pieces: BTreeMap<String, Vec<Vec<Vector>>> = BTreeMap::new();
    for i in 0..pairs {
        let mut place = [
            dice.between(-150.0, 150.0),
            dice.between(350.0, 750.0),
            dice.between(280.0, 650.0),
        ];
        let first = pick(dice, &bodies);
        let second = loop {
            let body = pick(dice, &bodies);
            if body.motion() != first.motion() {
                break body;
            }
        };
        for (name, body) in [("a", first), ("b", second)] {
            let part = format!("{name}{i}");
            let shape = match meshes {
                Some(folder) if body != Body::Halfshaft && dice.below(4) == 0 => {
                    random_mesh(dice, place, folder, &part, &mut pieces)
                }
                _ => random_shape(dice, place, body),
            };
            scene.parts.push(PartEntry {
                name: part,
                on: body,
                shape,
                fitted: Fitted::EachSide,
                hangs_from: Default::default(),
            });
            let away = dice.between(30.0, 110.0);
            place[dice.below(3)] += pick(dice, &[-away, away]);
        }
        scene.watch.push(Watch {
            a: format!("a{i}"),
            b: format!("b{i}"),
            gap: 0.0,
            came_with: None,
        });
    }
    let truck = assemble(&scene, meshes.unwrap_or(Path::new("scenes"))).ok()?;
    let corner = truck.corners.into_iter().next()?;
    if corner.pairs.is_empty() {
        return None;
    }
    let oracles = (0..corner.parts.len())
        .map(|part| match pieces.get(&corner.parts[part].name) {
            Some(pieces) => pieces.iter().map(|p| SharedShape::convex_hull(p)).collect(),
            None => oracle(&corner, part).map(|shape| vec![shape]),
        })
        .collect();
    Some(Random { corner, oracles })
}

fn pick<T: Copy>(dice: &mut Dice, of: &[T]) -> T {
    of[dice.below(of.len())]
}

/// Two overlapping hulls in one file: neither convex nor, as a surface, free of crossings.
fn random_mesh(
    dice: &mut Dice,
    at: [f64; 3],
    folder: &Path,
    name: &str,
    pieces: &mut BTreeMap<String, Vec<Vec<Vector>>>,
) -> ShapeEntry {
    let mut text = String::new();
    let mut before = 1;
    let own = pieces.entry(name.to_owned()).or_default();
    for _ in 0..2 {
        let points: Vec<Vector> = (0..6)
            .map(|_| Vector::from_array(at.map(|c| c + dice.between(-35.0, 35.0))))
            .collect();
        let Some(hull) = ConvexPolyhedron::from_convex_hull(&points) else {
            continue;
        };
        let (corners, triangles) = hull.to_trimesh();
        for p in &corners {
            text += &format!("v {} {} {}\n", p.x, p.y, p.z);
        }
        for t in &triangles {
            let [a, b, c] = t.map(|i| i + before);
            text += &format!("f {a} {b} {c}\n");
        }
        before += corners.len() as u32;
        own.push(corners);
    }
    let file = format!("{name}.obj");
    std::fs::write(folder.join(&file), text).expect("a mesh is written");
    ShapeEntry::Mesh {
        file,
        unit: Some(MeshUnit::Mm),
        at: None,
        turned_deg: None,
        holes: None,
    }
}

fn random_shape(dice: &mut Dice, at: [f64; 3], body: Body) -> ShapeEntry {
    let mut near = |by: f64| {
        Point(
            at[0] + dice.between(-by, by),
            at[1] + dice.between(-by, by),
            at[2] + dice.between(-by, by),
        )
    };
    let (p, q, r, s) = (near(25.0), near(40.0), near(40.0), near(40.0));
    let (t, u) = (near(40.0), near(40.0));
    // Parts on the halfshaft that aren't round about it become their full revolution, which parry
    // doesn't have; there only a ball on the axis keeps its shape.
    let kinds = if body == Body::Halfshaft { 1 } else { 4 };
    match dice.below(kinds) {
        0 if body == Body::Halfshaft => {
            // On the axis between the joints only by luck: elsewhere it is left out (see `oracle`).
            ShapeEntry::Ball {
                centre: p,
                radius: dice.between(4.0, 20.0),
            }
        }
        0 => ShapeEntry::Ball {
            centre: p,
            radius: dice.between(4.0, 25.0),
        },
        1 => ShapeEntry::Capsule {
            from: p,
            to: q,
            radius: dice.between(3.0, 15.0),
        },
        2 => ShapeEntry::Box {
            centre: p,
            size: Point(
                dice.between(2.0, 50.0),
                dice.between(2.0, 50.0),
                dice.between(2.0, 50.0),
            ),
            turned_deg: Some(Point(dice.between(0.0, 90.0), dice.between(0.0, 90.0), 0.0)),
        },
        _ => ShapeEntry::Hull {
            points: vec![p, q, r, s, t, u],
        },
    }
}

/// The same part as parry knows it; `None` for what parry can't do.
fn oracle(corner: &Corner, part: usize) -> Option<SharedShape> {
    let part = &corner.parts[part];
    if part.revolved {
        return None;
    }
    let s = &part.surface;
    let points: Vec<Vector> = (0..s.vertices.len())
        .map(|i| Vector::from_array(s.vertex_in_body(i).into()))
        .collect();
    match points.as_slice() {
        [centre] => Some(SharedShape::compound(vec![(
            Pose::from_translation(*centre),
            SharedShape::ball(s.radius_mm),
        )])),
        [from, to] => Some(SharedShape::capsule(*from, *to, s.radius_mm)),
        _ => SharedShape::convex_hull(&points),
    }
}

fn parry_pose(corner: &Corner, part: usize, linkage: &Linkage<f64>) -> Pose {
    let place = linkage.placement(corner.parts[part].body.motion());
    let rotation: Matrix3<f64> = place.rotation;
    let turned = nalgebra::UnitQuaternion::from_rotation_matrix(
        &nalgebra::Rotation3::from_matrix_unchecked(rotation),
    );
    let q = turned.quaternion();
    let offset = place.anchor - rotation * place.anchor_in_body;
    let mut pose = Pose::from_translation(Vector::from_array(offset.into()));
    pose.rotation.x = q.i;
    pose.rotation.y = q.j;
    pose.rotation.z = q.k;
    pose.rotation.w = q.w;
    pose
}

impl Random {
    /// Gap of a watched pair by parry, mm; `None` where parry can't do one of its parts.
    pub fn gap_mm(&self, pair: usize, linkage: &Linkage<f64>) -> Option<f64> {
        let pair = &self.corner.pairs[pair];
        let (a, b) = (
            self.oracles[pair.a].as_ref()?,
            self.oracles[pair.b].as_ref()?,
        );
        let pose = |part| parry_pose(&self.corner, part, linkage);
        let (at_a, at_b) = (pose(pair.a), pose(pair.b));
        let mut least = f64::INFINITY;
        for a in a {
            for b in b {
                let apart = parry3d::query::distance(&at_a, &**a, &at_b, &**b).ok()?;
                least = least.min(apart.distance);
            }
        }
        Some(least - self.corner.swell_mm(pair, linkage))
    }

    /// Whether parry's own closest points show that a pair is apart by more than `allowed_mm`: for each of their pieces
    /// the slab along that direction is empty of both pieces' corners. parry over-reports by up to 2.3e-5 mm (capsules),
    /// and now and then by millimetres: its distance alone counts for little against a contact.
    pub fn is_apart(&self, pair: usize, linkage: &Linkage<f64>, allowed_mm: f64) -> bool {
        let swell = self.corner.swell_mm(&self.corner.pairs[pair], linkage);
        let pair = &self.corner.pairs[pair];
        let (Some(a), Some(b)) = (&self.oracles[pair.a], &self.oracles[pair.b]) else {
            return false;
        };
        let pieces = a.iter().flat_map(|a| b.iter().map(move |b| (a, b)));
        pieces.into_iter().all(|(a, b)| {
            let pose = |part| parry_pose(&self.corner, part, linkage);
            let (at_a, at_b) = (pose(pair.a), pose(pair.b));
            let closest = parry3d::query::closest_points(&at_a, &**a, &at_b, &**b, 1.0e6);
            let Ok(parry3d::query::ClosestPoints::WithinMargin(p, q)) = closest else {
                return false;
            };
            let n = Vector3::new(q.x - p.x, q.y - p.y, q.z - p.z).normalize();
            let (a, b) = (
                self.corners(pair.a, a, linkage),
                self.corners(pair.b, b, linkage),
            );
            let radius = |part: usize| self.corner.parts[part].surface.radius_mm;
            let width = bindpoint::clearance::slab_width(&a, &b, &n);
            width - radius(pair.a) - radius(pair.b) - swell > allowed_mm
        })
    }

    /// Corners of a part's piece, vehicle coordinates.
    fn corners(
        &self,
        part: usize,
        piece: &SharedShape,
        linkage: &Linkage<f64>,
    ) -> Vec<Vector3<f64>> {
        let part = &self.corner.parts[part];
        let own: Vec<Vector3<f64>> = match piece.as_convex_polyhedron() {
            Some(hull) => {
                let points = hull.points().iter();
                points.map(|p| Vector3::new(p.x, p.y, p.z)).collect()
            }
            None => (0..part.surface.vertices.len())
                .map(|v| part.surface.vertex_in_body(v))
                .collect(),
        };
        let place = linkage.placement(part.body.motion());
        own.iter().map(|p| place.point(p)).collect()
    }
}
