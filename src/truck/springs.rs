//! Coil springs around the damper: the room of the coil between both seats, and where it binds.
//!
//! The idea: at every length of the damper the coil fills the tube from seat to seat, and the tube is made of equal slices, each
//! a rigid body of its own. The first stands on the upper seat, the last on the lower one, and those between follow both
//! halves of the damper by their share. With n slices of the length l, the seats L apart and the share a = k / (n - 1), slice
//! k reaches from a (L - l) to a (L - l) + l. So none passes a seat where L is at least l, and each meets the next where
//! (L - l) / (n - 1) is at most l, that is where L is at most n l: from l to n l their union is the tube, no more and no less.
//! n l is the seats' greatest distance, at the damper's `extended` length or wherever else it is looked at; l is less than
//! their least, at its `compressed` length or the coil's solid height. How many slices there are changes what each is, and
//! not their union: no answer hangs on how far `search` goes. Every proof over cells holds for them as for any part.
//!
//! Reads: a part's numbers. Produces: lathes with what holds them, and a [`CoilBind`] for [`super::limits`].

use super::assemble::{Fitting, Reader, looked_at};
use super::own_side::SidePoints;
use super::parts::{Chosen, entries, spaced_mm};
use crate::kinematics::Position;
use crate::scene::{Fitted, Problem, Scene, ShapeEntry, SpacerEffect};
use crate::shapes::Shape;
use crate::suspension::{Body, CoilSlice, Mechanism, slice_name};
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

/// Most slices of a coil.
const MOST_SLICES: usize = 24;
/// Most springs of a corner: each slice between the first and the last is a body with a number of its own.
const MOST_SPRINGS: usize = 4;

/// A slice of a coil's room.
pub(super) struct Slice {
    /// The part that it is of.
    pub spring: String,
    /// Its number, from the upper seat.
    pub number: usize,
    /// What holds it.
    pub held: Held,
    /// Its room, in the drawing of what carries it.
    pub shape: Shape,
}

/// What holds a slice.
pub(super) enum Held {
    /// A seat, on this half of the damper.
    BySeat(Body),
    /// Both halves of the damper.
    ByBoth(CoilSlice),
}

impl Slice {
    /// The name of its part: the first is called as the spring is.
    pub fn name(&self) -> String {
        slice_name(&self.spring, self.number)
    }

    /// How it hangs, where both halves hold it.
    pub fn hangs(&self) -> Option<&CoilSlice> {
        match &self.held {
            Held::BySeat(_) => None,
            Held::ByBoth(hangs) => Some(hangs),
        }
    }
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

/// The slices of every spring of a corner, in the order of its parts.
pub(super) fn slices(scene: &Scene, fitting: &Fitting, linkage: &Mechanism) -> Result<Vec<Slice>> {
    let source = &fitting.source;
    let is_spring = |c: &Chosen| matches!(c.entry.shape, ShapeEntry::Spring { .. });
    let all = entries(scene, source.side)?;
    let springs: Vec<Chosen> = all.into_iter().filter(is_spring).collect();
    if springs.is_empty() {
        return Ok(Vec::new());
    }
    if let Some(one_more) = springs.get(MOST_SPRINGS) {
        return Err(Problem::at(
            one_more.path.clone(),
            format!("with this one the corner has more than {MOST_SPRINGS} coil springs"),
            "leave out the inner ones of springs that stand in each other",
        ));
    }
    let points = SidePoints::of(fitting)?;
    let positions = looked_at(scene, source, linkage)?;
    let (damper, r) = (source.damper.entry, source.damper.reader);
    let added = source.spacers_mm(|adds| adds == SpacerEffect::TotalLength);
    let length = |written: f64, field: &str| -> Result<f64> {
        Ok(r.positive(written, &format!("{}.{field}", source.damper.path))? + added)
    };
    let span = [
        length(damper.compressed, "compressed")?,
        length(damper.extended, "extended")?.max(longest_damper_mm(&positions)),
    ];
    let mut out = Vec::new();
    for chosen in springs {
        out.extend(sliced(&chosen, fitting, &points, span)?);
    }
    Ok(out)
}

/// One spring's slices; `damper_mm` are the least and the greatest length of the damper.
fn sliced(
    chosen: &Chosen,
    fitting: &Fitting,
    points: &SidePoints,
    damper_mm: [f64; 2],
) -> Result<Vec<Slice>> {
    let spring = numbers(chosen, fitting.source.reader)?;
    let along = points.along_damper();
    let Some([upper, lower]) = points.ends(Body::DamperUpper) else {
        unreachable!("a damper has two ends");
    };
    // A spacer on the damper's end moves the upper seat down its drawing.
    let beside_mm = spring.beside_mm() + spaced_mm(fitting);
    let measured_mm = (lower - upper).norm();
    let drawn_mm = measured_mm - beside_mm;
    if drawn_mm <= 0.0 {
        // Eyes that are nearer to each other than the damper closes say more than the seats do.
        if measured_mm < damper_mm[0] {
            let [least_mm, most_mm] = damper_mm;
            return Err(Problem::at(
                format!("{}.upper_mount", fitting.source.damper.path),
                format!(
                    "the damper's eyes are {measured_mm:.1} mm apart as measured, and it is {least_mm:.1} mm long closed \
                     and {most_mm:.1} mm open"
                ),
                "one of the eyes, or one of its lengths, is wrong: measure them again",
            ));
        }
        return Err(Problem::at(
            format!("{}.shape.upper_seat", chosen.path),
            format!(
                "the seats are {beside_mm:.1} mm from the eyes together, and the damper is {measured_mm:.1} mm long as \
                 measured"
            ),
            "measure each seat from the eye at its own end, along the damper",
        ));
    }
    let longest_mm = (damper_mm[1] - beside_mm).max(drawn_mm);
    let least_mm = (damper_mm[0] - beside_mm).max(spring.solid_mm());
    let Some(count) = slice_count(least_mm, longest_mm) else {
        return Err(Problem::at(
            format!("{}.shape.turns", chosen.path),
            format!(
                "the seats come as near as {least_mm:.1} mm and go {longest_mm:.1} mm apart: no coil is pushed together to \
                 so little of its length"
            ),
            "check wire, turns and both seats, and the damper's lengths",
        ));
    };
    let slice_mm = longest_mm / count as f64;
    let [inner, outer] = [-0.5, 0.5].map(|side| 0.5 * spring.mean_diameter + side * spring.wire);
    let tube = |from: Vector3<f64>| Shape::Lathe {
        from,
        axis: along,
        profile: vec![
            [0.0, inner],
            [0.0, outer],
            [slice_mm, outer],
            [slice_mm, inner],
        ],
    };
    let seats = [
        upper + along * (spring.upper_seat + spaced_mm(fitting)),
        lower - along * spring.lower_seat,
    ];
    let slice = |number: usize| {
        let share = number as f64 / (count - 1) as f64;
        let drawn_at = seats[0] + (seats[1] - seats[0]) * share;
        let held = match number {
            0 => Held::BySeat(Body::DamperUpper),
            _ if number + 1 == count => Held::BySeat(Body::DamperLower),
            _ => Held::ByBoth(CoilSlice {
                seats,
                share,
                drawn_at,
            }),
        };
        Slice {
            spring: chosen.entry.name.clone(),
            number,
            held,
            shape: tube(drawn_at - along * (share * slice_mm)),
        }
    };
    Ok((0..count).map(slice).collect())
}

/// How many slices a coil is cut into whose seats are from `least_mm` to `longest_mm` apart; none where that takes too many.
///
/// Any number n with longest / n <= least does. With the seats as near as they come, the second slice is
/// (least - longest / n) / (n - 1) from the upper seat, and the last but one from the lower: what lies on a seat shall not seem
/// nearer to the coil's middle than it need, so the n with the greatest such distance is taken.
fn slice_count(least_mm: f64, longest_mm: f64) -> Option<usize> {
    let off_seat = |n: usize| (least_mm - longest_mm / n as f64) / (n - 1) as f64;
    let fits = |n: &usize| longest_mm / *n as f64 <= least_mm;
    let counts = (2..=MOST_SLICES).filter(fits);
    counts.max_by(|a, b| off_seat(*a).total_cmp(&off_seat(*b)))
}

/// What is added to the longest of the positions looked at for what lies between them, mm: fifty times what that is.
const BETWEEN_MM: f64 = 1.0;

/// The longest that the damper is at these positions and between them, mm.
fn longest_damper_mm(positions: &[Position]) -> f64 {
    let lengths = positions.iter().map(|p| p.linkage.damper_mm);
    lengths.fold(0.0, f64::max) + BETWEEN_MM
}
