//! A joint's boot: the room that it takes between cup and shaft, and how far it stretches and folds.
//!
//! The idea: a boot's material lies between two circles, on the cup and on the shaft. It is cut into slices; each hangs
//! between housing and shaft with its share of both motions (see [`BootRing`]) and is a short round solid that holds its
//! slice at every position that is looked at. Where a slice's edges stand at those positions is found by looking; so many
//! are looked at that what lies between them adds less than what is added for it.

use super::assemble::{Fitting, looked_at};
use super::parts::{Chosen, entries};
use crate::kinematics::Position;
use crate::limits::{BootSide, HalfshaftJoint, Limit, LimitId, LimitKind};
use crate::scene::{Fitted, Problem, Scene, ShapeEntry};
use crate::shapes::Shape;
use crate::suspension::{Body, BootRing, Mechanism, slice_name};
use nalgebra::{Rotation3, Unit, Vector3};

type Result<T> = std::result::Result<T, Problem>;

/// Slices of a boot. Each may take more room than its own material by what its edges move against its middle.
const SLICES: usize = 6;
/// Most boots of a corner: it has two joints, and a number for each slice.
const MOST_BOOTS: usize = 16;
/// Added to a slice for what its edges move between the positions looked at, mm: fifty times what they do.
const BETWEEN_MM: f64 = 1.0;
/// Places round a rim where its edges are looked at. On the rim between them a slice reaches further by less than a
/// cosine of half their angle says, which is added.
const ROUND: usize = 24;

/// A slice of a boot: how it hangs, and its room.
pub(super) struct Slice {
    /// The part that it is of.
    pub boot: String,
    /// Its number, from the cup.
    pub number: usize,
    /// How it hangs.
    pub hangs: BootRing,
    /// Its room, in its own drawing.
    pub shape: Shape,
}

impl Slice {
    /// The name of its part: the first is called as the boot is.
    pub fn name(&self) -> String {
        slice_name(&self.boot, self.number)
    }
}

/// A boot's numbers, mm.
struct Boot {
    joint: HalfshaftJoint,
    cup_at: f64,
    cup_radius: f64,
    shaft_at: f64,
    shaft_radius: f64,
    longest: Option<f64>,
    shortest: Option<f64>,
}

fn numbers(chosen: &Chosen) -> Result<Boot> {
    let r = chosen.reader;
    let at = |field: &str| format!("{}.shape.{field}", chosen.path);
    let ShapeEntry::Boot {
        cup_at,
        cup_diameter,
        shaft_at,
        shaft_diameter,
        longest,
        shortest,
    } = &chosen.entry.shape
    else {
        unreachable!("only boots were chosen");
    };
    let joint = match chosen.entry.on {
        Body::InnerJointHousing => HalfshaftJoint::Inner,
        Body::OuterJointHousing => HalfshaftJoint::Outer,
        other => {
            return Err(Problem::at(
                format!("{}.on", chosen.path),
                format!("a joint's boot on the {}", other.name()),
                "put it on inner_joint_housing or outer_joint_housing: it reaches from there to the shaft",
            ));
        }
    };
    if chosen.entry.fitted == Fitted::Once {
        return Err(Problem::at(
            format!("{}.fitted", chosen.path),
            "each side has a halfshaft of its own, and its boots",
            "say `left` or `right`, or leave `fitted` out",
        ));
    }
    let size = |v: &Option<f64>, field: &str| v.map(|v| r.positive(v, &at(field))).transpose();
    let boot = Boot {
        joint,
        cup_at: r.length(*cup_at, &at("cup_at"))?,
        cup_radius: 0.5 * r.positive(*cup_diameter, &at("cup_diameter"))?,
        shaft_at: r.positive(*shaft_at, &at("shaft_at"))?,
        shaft_radius: 0.5 * r.positive(*shaft_diameter, &at("shaft_diameter"))?,
        longest: size(longest, "longest")?,
        shortest: size(shortest, "shortest")?,
    };
    if boot.shaft_at <= boot.cup_at {
        return Err(Problem::at(
            at("shaft_at"),
            format!(
                "the boot ends on the shaft {:.1} mm from the joint, and on the cup {:.1} mm from it",
                boot.shaft_at, boot.cup_at
            ),
            "both count from the joint's centre toward the shaft: the shaft's end lies further out",
        ));
    }
    Ok(boot)
}

fn chosen_boots<'s>(scene: &'s Scene, fitting: &Fitting) -> Result<Vec<Chosen<'s>>> {
    let all = entries(scene, fitting.source.side)?;
    let is_boot = |c: &Chosen| matches!(c.entry.shape, ShapeEntry::Boot { .. });
    let boots: Vec<Chosen> = all.into_iter().filter(is_boot).collect();
    if let Some(one_more) = boots.get(MOST_BOOTS) {
        return Err(Problem::at(
            one_more.path.clone(),
            format!("with this one the corner has more than {MOST_BOOTS} boots"),
            "a corner has two joints: leave the rest out",
        ));
    }
    Ok(boots)
}

/// The limits of a corner's boots, each with its place in the scene.
pub(super) fn limits(scene: &Scene, fitting: &Fitting) -> Result<Vec<(Limit, String)>> {
    let mut out = Vec::new();
    for chosen in chosen_boots(scene, fitting)? {
        let boot = numbers(&chosen)?;
        let name = &chosen.entry.name;
        for (limit, id, field, is_stretch) in [
            (
                boot.longest,
                LimitId::BootStretched(name.clone()),
                "longest",
                true,
            ),
            (
                boot.shortest,
                LimitId::BootFolded(name.clone()),
                "shortest",
                false,
            ),
        ] {
            let Some(limit_mm) = limit else {
                continue;
            };
            let kind = LimitKind::BootSide(BootSide {
                joint: boot.joint,
                cup_at_mm: boot.cup_at,
                cup_radius_mm: boot.cup_radius,
                shaft_at_mm: boot.shaft_at,
                shaft_radius_mm: boot.shaft_radius,
                limit_mm,
                is_stretch,
            });
            let limit = Limit {
                id,
                intended: false,
                kind,
            };
            out.push((limit, format!("{}.shape.{field}", chosen.path)));
        }
    }
    Ok(out)
}

/// Every slice of a corner's boots, in the order of its parts.
pub(super) fn slices(scene: &Scene, fitting: &Fitting, linkage: &Mechanism) -> Result<Vec<Slice>> {
    let boots = chosen_boots(scene, fitting)?;
    if boots.is_empty() {
        return Ok(Vec::new());
    }
    let positions = looked_at(scene, &fitting.source, linkage)?;
    let mut out = Vec::new();
    for chosen in boots {
        let boot = numbers(&chosen)?;
        let ends = Ends::of(&boot, chosen.entry.on, linkage);
        for number in 0..SLICES {
            let (hangs, shape) = ends.slice(number, &positions);
            out.push(Slice {
                boot: chosen.entry.name.clone(),
                number,
                hangs,
                shape,
            });
        }
    }
    Ok(out)
}

/// Both of a boot's circles in the drawings of what carries them: middle, unit axis toward the shaft, radius.
struct Ends {
    housing: Body,
    cup: (Vector3<f64>, Vector3<f64>, f64),
    shaft: (Vector3<f64>, Vector3<f64>, f64),
}

impl Ends {
    fn of(boot: &Boot, housing: Body, linkage: &Mechanism) -> Ends {
        let h = &linkage.hardpoints;
        let [inner, outer] = linkage.own.halfshaft;
        let along = (outer - inner).normalize();
        let (joint, axis, own, way) = match boot.joint {
            HalfshaftJoint::Inner => (h.inner_joint, h.flange_axis, inner, along),
            HalfshaftJoint::Outer => (h.outer_joint, -h.outer_axis, outer, -along),
        };
        Ends {
            housing,
            cup: (joint + axis * boot.cup_at, axis, boot.cup_radius),
            shaft: (own + way * boot.shaft_at, way, boot.shaft_radius),
        }
    }

    fn slice(&self, number: usize, positions: &[Position]) -> (BootRing, Shape) {
        let share = |edge: usize| (number + edge) as f64 / SLICES as f64;
        let middle = 0.5 * (share(0) + share(1));
        let ((cup, axis, big), (ring, way, small)) = (self.cup, self.shaft);
        let (axis_share, way_share) = (axis * ((1.0 - middle) * big), way * (middle * small));
        let hangs = BootRing {
            from: (self.housing.motion(), cup, axis_share),
            to: (Body::Halfshaft.motion(), ring, way_share),
            share: middle,
            drawn_at: cup + (ring - cup) * middle,
            direction: (axis_share + way_share).normalize(),
        };
        let (mut along, mut radius) = ([f64::INFINITY, f64::NEG_INFINITY], 0.0_f64);
        for position in positions {
            let housing = position.linkage.placement(self.housing.motion());
            let shaft = position.linkage.placement(Body::Halfshaft.motion());
            let (a, w) = (housing.direction(&axis), shaft.direction(&way));
            let turn = Rotation3::rotation_between(&a, &w).unwrap_or_else(Rotation3::identity);
            let (c, q) = (housing.point(&cup), shaft.point(&ring));
            let centre = c + (q - c) * middle;
            let n = (a * ((1.0 - middle) * big) + w * (middle * small)).normalize();
            // In the plane of the bend and across it, where there is one.
            let seed = a.cross(&w).try_normalize(1.0e-9);
            let e0 = seed.unwrap_or_else(|| a.cross(&least_axis(&a)).normalize());
            for k in 0..ROUND {
                let angle = std::f64::consts::TAU * k as f64 / ROUND as f64;
                let e = Rotation3::from_axis_angle(&Unit::new_normalize(a), angle) * e0;
                for t in [share(0), share(1)] {
                    let p = (c + e * big) * (1.0 - t) + (q + turn * e * small) * t - centre;
                    let x = p.dot(&n);
                    along = [along[0].min(x), along[1].max(x)];
                    radius = radius.max((p - n * x).norm());
                }
            }
        }
        // Between two of the places looked at round a rim.
        let between = big * (1.0 - (std::f64::consts::PI / ROUND as f64).cos()) + BETWEEN_MM;
        let [from, to] = [along[0] - between, along[1] + between];
        let radius = radius + between;
        let shape = Shape::Lathe {
            from: hangs.drawn_at,
            axis: hangs.direction,
            profile: vec![[from, 0.0], [from, radius], [to, radius], [to, 0.0]],
        };
        (hangs, shape)
    }
}

/// The coordinate axis that a direction lies least along.
fn least_axis(v: &Vector3<f64>) -> Vector3<f64> {
    let mut out = Vector3::zeros();
    out[v.iamin()] = 1.0;
    out
}
