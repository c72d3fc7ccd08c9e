//! Coil springs around the damper: the room of the coil between both seats, and where it binds.
//!
//! The idea: at every length of the damper the coil fills the tube from seat to seat. That tube is two tubes, one on each
//! half of the damper, each from its own seat toward the other: together half the longest distance that the seats have
//! over the travel that is looked at, and half of it again. So they meet or overlap at every position and their union is
//! the tube between the seats, no more, as long as the spring isn't compressed below half of its longest length. There it
//! reaches past the other seat: more room than the coil has, never less. Both are rigid parts on their bodies, and every
//! proof over cells holds for them as for any part.
//!
//! Reads: a part's numbers. Produces: two lathes, and a [`CoilBind`] for [`super::limits`].

use super::assemble::{Fitting, Reader};
use super::own_side::SidePoints;
use super::parts::{Chosen, entries, spaced_mm};
use crate::kinematics::Position;
use crate::scene::{Fitted, Problem, Scene, ShapeEntry, SpacerEffect};
use crate::shapes::Shape;
use crate::suspension::Body;
use nalgebra::Vector3;

type Result<T> = std::result::Result<T, Problem>;

/// The damper's length at which a spring binds.
pub(super) struct CoilBind {
    /// The spring's name.
    pub spring: String,
    /// Where its turns stand in the scene.
    pub path: String,
    /// The damper's length, eye to eye, mm.
    pub damper_mm: f64,
}

/// What is added to a lower half's name.
const LOWER_HALF: &str = "lower half";

/// The name of a spring's half on the damper's lower half.
pub(super) fn lower_half_name(spring: &str) -> String {
    format!("{spring}, {LOWER_HALF}")
}

/// A spring's numbers, mm.
struct Spring {
    upper_seat: f64,
    lower_seat: f64,
    wire: f64,
    mean_diameter: f64,
    turns: f64,
}

fn numbers(chosen: &Chosen, r: Reader) -> Result<Spring> {
    let path = format!("{}.shape", chosen.path);
    let ShapeEntry::Spring {
        upper_seat,
        lower_seat,
        wire,
        mean_diameter,
        turns,
    } = &chosen.entry.shape
    else {
        unreachable!("only springs were chosen");
    };
    let at = |field: &str| format!("{path}.{field}");
    match chosen.entry.on {
        Body::DamperUpper | Body::DamperLower => {}
        other => {
            return Err(Problem::at(
                format!("{}.on", chosen.path),
                format!("a coil spring around the damper, on the {}", other.name()),
                "put it on damper_upper: both halves of the damper carry it",
            ));
        }
    }
    if chosen.entry.fitted == Fitted::Once {
        return Err(Problem::at(
            format!("{}.fitted", chosen.path),
            "each side has a damper of its own, and its spring",
            "say `left` or `right`, or leave `fitted` out",
        ));
    }
    let spring = Spring {
        upper_seat: r.length(*upper_seat, &at("upper_seat"))?,
        lower_seat: r.length(*lower_seat, &at("lower_seat"))?,
        wire: r.positive(*wire, &at("wire"))?,
        mean_diameter: r.positive(*mean_diameter, &at("mean_diameter"))?,
        turns: *turns,
    };
    if spring.mean_diameter <= spring.wire {
        return Err(Problem::at(
            at("mean_diameter"),
            format!(
                "a coil of {:.1} mm can't be wound of a wire of {:.1} mm",
                spring.mean_diameter, spring.wire
            ),
            "give the coil's diameter from wire centre to wire centre, and the wire's own",
        ));
    }
    if !(spring.turns.is_finite() && spring.turns >= 1.0) {
        return Err(Problem::at(
            at("turns"),
            format!("{} is no number of turns", spring.turns),
            "count all of them, those that lie on the seats too: one or more",
        ));
    }
    Ok(spring)
}

impl Spring {
    /// Length with every turn on the next, mm: turns times wire, as for ends that are ground flat (common practice, no
    /// source). Ends that aren't add up to a wire's thickness.
    fn solid_mm(&self) -> f64 {
        self.turns * self.wire
    }

    /// What the damper has between its eyes beside the spring, mm.
    fn beside_mm(&self) -> f64 {
        self.upper_seat + self.lower_seat
    }
}

/// Where each spring of a corner binds.
pub(super) fn coil_binds(scene: &Scene, fitting: &Fitting) -> Result<Vec<CoilBind>> {
    let source = &fitting.source;
    let mut out = Vec::new();
    for chosen in entries(scene, source.side)? {
        if !matches!(chosen.entry.shape, ShapeEntry::Spring { .. }) {
            continue;
        }
        let spring = numbers(&chosen, source.reader)?;
        // Since it was measured spacers stand beside the spring too: on the damper's end or under a seat.
        let added = spaced_mm(fitting) + preload_mm(fitting);
        out.push(CoilBind {
            spring: chosen.entry.name.clone(),
            path: format!("{}.shape", chosen.path),
            damper_mm: spring.beside_mm() + added + spring.solid_mm(),
        });
    }
    Ok(out)
}

/// What a setup's spacers have put under the spring's seats since the truck was measured, mm.
fn preload_mm(fitting: &Fitting) -> f64 {
    let of = |source: &super::assemble::CornerSource| {
        source.spacers_mm(|adds| adds == SpacerEffect::PreloadOnly)
    };
    let measured = fitting.measured.as_ref();
    measured.map_or(0.0, |(_, measured)| of(&fitting.source) - of(measured))
}

/// Both halves of a spring's room as drawn, each with its body.
pub(super) fn halves(
    chosen: &Chosen,
    fitting: &Fitting,
    points: &SidePoints,
    longest_damper_mm: f64,
) -> Result<[(Body, Shape); 2]> {
    let spring = numbers(chosen, fitting.source.reader)?;
    let along = points.along_damper();
    let Some([upper, lower]) = points.ends(Body::DamperUpper) else {
        unreachable!("a damper has two ends");
    };
    let drawn_mm = (lower - upper).norm() - spring.beside_mm();
    if drawn_mm <= 0.0 {
        return Err(Problem::at(
            format!("{}.shape.upper_seat", chosen.path),
            format!(
                "the seats are {:.1} mm from the eyes together, and the damper is {:.1} mm long as measured",
                spring.beside_mm(),
                (lower - upper).norm()
            ),
            "measure each seat from the eye at its own end, along the damper",
        ));
    }
    let half_mm = 0.5 * (longest_damper_mm - spring.beside_mm()).max(drawn_mm);
    let [inner, outer] = [-0.5, 0.5].map(|side| 0.5 * spring.mean_diameter + side * spring.wire);
    let tube = |from: Vector3<f64>, axis: Vector3<f64>| Shape::Lathe {
        from,
        axis,
        profile: vec![
            [0.0, inner],
            [0.0, outer],
            [half_mm, outer],
            [half_mm, inner],
        ],
    };
    Ok([
        (
            Body::DamperUpper,
            tube(upper + along * spring.upper_seat, along),
        ),
        (
            Body::DamperLower,
            tube(lower - along * spring.lower_seat, -along),
        ),
    ])
}

/// What is added to the longest of the positions looked at for what lies between them, mm: fifty times what that is.
const BETWEEN_MM: f64 = 1.0;

/// The longest that the damper is at these positions and between them, mm.
pub(super) fn longest_damper_mm(positions: &[Position]) -> f64 {
    let lengths = positions.iter().map(|p| p.linkage.damper_mm);
    lengths.fold(0.0, f64::max) + BETWEEN_MM
}
