//! Links that hang between two bodies, each held by both of its ends.
//!
//! The idea: a link is drawn straight between its two ends at the measured position. At any other it hangs on its first
//! end and points at its second one, as a damper's half does; [`crate::suspension::TwoPointLink`] places it. It keeps its
//! length. Where the ends come nearer or go further apart, something else gives (bushings, an anti-roll bar's arm), and
//! [`warnings`] says by how much.

use super::assemble::Fitting;
use super::common_parts::{Drawing, bar};
use super::own_side::{SidePoints, follow};
use super::parts::{Chosen, entries};
use crate::kinematics::Positioner;
use crate::numbers::length_squared;
use crate::scene::{Fitted, LinkEnd, Place, Problem, Scene, ShapeEntry};
use crate::shapes::Shape;
use crate::suspension::{Body, TwoPointLink};
use nalgebra::{Isometry3, Vector3};

type Result<T> = std::result::Result<T, Problem>;

/// Most links of a corner: each is a body of its own.
const MOST_LINKS: usize = 64;
/// Ends nearer than this have no direction, mm: a tape reads no finer.
const LEAST_LENGTH_MM: f64 = 1.0;

/// A link with its part.
pub(super) struct Link {
    /// How it hangs.
    pub hangs: TwoPointLink,
    /// Its bar, in its own drawing.
    pub shape: Shape,
    /// Its name.
    pub name: String,
    /// Where its shape stands in the scene.
    pub path: String,
}

/// Every link of a corner, in the order of its parts.
pub(super) fn links(scene: &Scene, fitting: &Fitting) -> Result<Vec<Link>> {
    let source = &fitting.source;
    let is_link = |c: &Chosen| matches!(c.entry.shape, ShapeEntry::Link { .. });
    let all: Vec<Chosen> = entries(scene, source.side)?
        .into_iter()
        .filter(is_link)
        .collect();
    if all.is_empty() {
        return Ok(Vec::new());
    }
    if all.len() > MOST_LINKS {
        return Err(Problem::at(
            all[MOST_LINKS].path.clone(),
            format!("with this one the corner has more than {MOST_LINKS} links"),
            "leave out links that come near nothing",
        ));
    }
    let own = SidePoints::of(fitting)?;
    let drawn = SidePoints::described(scene, fitting)?;
    let mirrored = drawn.mirrored();
    let mut out = Vec::new();
    for chosen in all {
        let is_once = chosen.entry.fitted == Fitted::Once && source.side != scene.side;
        let points = if is_once { &drawn } else { &own };
        let moved = |body: Body| match chosen.reader.mirrored {
            true => follow(&mirrored, &own, body).motion,
            false => Isometry3::identity(),
        };
        out.push(link(&chosen, scene, points, &moved, fitting)?);
    }
    Ok(out)
}

fn link(
    chosen: &Chosen,
    scene: &Scene,
    points: &SidePoints,
    moved: &dyn Fn(Body) -> Isometry3<f64>,
    fitting: &Fitting,
) -> Result<Link> {
    let (entry, r) = (chosen.entry, chosen.reader);
    let path = format!("{}.shape", chosen.path);
    let ShapeEntry::Link {
        from,
        to: LinkEnd { on, at },
        diameter,
        short_from,
        short_to,
    } = &entry.shape
    else {
        unreachable!("only links were chosen");
    };
    check_body(entry.on, &format!("{}.on", chosen.path))?;
    check_body(*on, &format!("{path}.to.on"))?;
    if entry.on.motion() == on.motion() {
        return Err(Problem::at(
            format!("{path}.to.on"),
            format!(
                "both ends are on the {}, or move with it: this link never swings",
                on.name()
            ),
            "check which body each end is on, or draw it as a Bar",
        ));
    }
    if entry.fitted == Fitted::Once && !(entry.on.is_both_sides() && on.is_both_sides()) {
        return Err(Problem::at(
            format!("{}.fitted", chosen.path),
            "a link fitted once hangs on what there is one of for both sides",
            "say `left` or `right`, or leave `fitted` out",
        ));
    }
    let place = |place: &Place, body: Body, field: &str| -> Result<Vector3<f64>> {
        let own_side = moved(body);
        let drawing = Drawing {
            scene,
            body,
            reader: r,
            own_side: &own_side,
            points,
            path: &path,
        };
        drawing.place(place, field)
    };
    let ends = [place(from, entry.on, "from")?, place(at, *on, "to.at")?];
    let length_mm = (ends[1] - ends[0]).norm();
    if length_mm < LEAST_LENGTH_MM {
        return Err(Problem::at(
            path,
            format!("both ends of this link are within {length_mm:.2} mm"),
            "give two points that lie apart",
        ));
    }
    let shape = bar(ends, *diameter, [*short_from, *short_to], r, &path)?;
    // A lowered differential takes its end along, and so do drop brackets; the link is as long as before.
    let placed = |p: Vector3<f64>, body: Body| -> Result<Vector3<f64>> {
        Ok(match body.is_on_differential() {
            true => fitting.housing.point(&p),
            false => p + fitting.source.lowered_drawing(body)?,
        })
    };
    Ok(Link {
        hangs: TwoPointLink {
            from: (entry.on.motion(), placed(ends[0], entry.on)?),
            to: (on.motion(), placed(ends[1], *on)?),
            drawn_from: ends[0],
            direction: (ends[1] - ends[0]) / length_mm,
            length_mm,
        },
        shape,
        name: entry.name.clone(),
        path: format!("{}.shape", chosen.path),
    })
}

/// A link's end is on what neither turns with shaft or wheel nor may roll.
fn check_body(body: Body, path: &str) -> Result<()> {
    match body {
        Body::Frame
        | Body::Differential
        | Body::Rack
        | Body::LowerArm
        | Body::UpperArm
        | Body::Knuckle => Ok(()),
        Body::TieRod
        | Body::DamperUpper
        | Body::DamperLower
        | Body::Halfshaft
        | Body::InnerJointHousing
        | Body::OuterJointHousing
        | Body::Wheel
        | Body::FrontDriveshaft
        | Body::Link(_) => Err(Problem::at(
            path,
            format!(
                "a link's end on the {}, which turns or may roll",
                body.name()
            ),
            "its ends are on frame, differential, rack, lower_arm, upper_arm or knuckle",
        )),
    }
}

/// What a link's ends may come nearer or go further apart before somebody has to be told, mm: what bushings give.
const BUSHINGS_MM: f64 = 3.0;

/// Links whose ends don't keep their distance over the travel that is looked at, a sentence each; those that the scene's
/// `measured` names are told in one short sentence.
pub(super) fn warnings(
    links: &[Link],
    positioner: &Positioner,
    search_mm: [f64; 2],
    rack_mm: [f64; 2],
    measured: &[String],
) -> Vec<String> {
    /// Travels looked at: a length changes evenly with travel, and its ends are among them.
    const STEPS: usize = 24;
    let (mut out, mut silenced) = (Vec::new(), Vec::new());
    for (i, link) in links.iter().enumerate() {
        let (mut least, mut most) = (link.hangs.length_mm, link.hangs.length_mm);
        for rack in [rack_mm[0], 0.0, rack_mm[1]] {
            for step in 0..=STEPS {
                let share = step as f64 / STEPS as f64;
                let travel = -search_mm[0] + (search_mm[0] + search_mm[1]) * share;
                let Ok(position) = positioner.position(travel, rack) else {
                    continue;
                };
                if let Some([from, to]) = position.linkage.link_ends(i) {
                    let apart = length_squared(&(to - from)).sqrt();
                    (least, most) = (least.min(apart), most.max(apart));
                }
            }
        }
        let (nearer, further) = (link.hangs.length_mm - least, most - link.hangs.length_mm);
        if nearer.max(further) <= BUSHINGS_MM {
            continue;
        }
        if measured.contains(&link.path) {
            silenced.push(format!("`{}`", link.name));
        } else {
            out.push(format!(
                "`{}` is drawn as long as it is where measured, and over the travel that is looked at its ends come \
                 {nearer:.0} mm nearer and go {further:.0} mm further apart: it hangs on its `from` end and points at \
                 the other, where something has to give as much, as an anti-roll bar's arm does; where that is so, name it in \
                 `measured: [\"{}\"]`",
                link.name, link.path
            ));
        }
    }
    if !silenced.is_empty() {
        out.push(format!(
            "links whose ends don't keep their distance, as the scene's `measured` says: {}",
            silenced.join(", ")
        ));
    }
    out
}
