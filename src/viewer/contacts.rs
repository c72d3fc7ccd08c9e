//! Where it is tight and where it touches: the tightest gap's line, the first contact's marker, parts
//! picked by a click.

use super::background::Found;
use super::document::Document;
use super::drive::suspension_is_shown;
use super::frame;
use super::labels::{Label, Labels};
use super::look::{Look, OverLines};
use super::motion::Motion;
use super::palette::{self, GapState};
use super::part_colours::ColouredParts;
use super::placing::Placing;
use super::pointer::{Pointed, PointerPlugin, PointerRead};
use super::shown::{Page, Shown};
use super::suspension::PartChoice;
use crate::findings::{FirstContact, GapFound, PositionFindings};
use crate::kinematics::Position;
use crate::output::Units;
use crate::sweep::tape;
use crate::truck::Corner;
use bevy::prelude::*;
use nalgebra::Vector3;

/// Draws gaps and contacts.
pub struct ContactsPlugin;

impl Plugin for ContactsPlugin {
    fn build(&self, app: &mut App) {
        app.add_systems(
            Update,
            (draw_gaps, draw_first_contact)
                .after(super::motion::MotionSet)
                .run_if(suspension_is_shown.and_then(|look: Res<Look>| look.marks)),
        );
    }
}

/// Picks parts by mouse; for a window.
pub struct PickingPlugin;

impl Plugin for PickingPlugin {
    fn build(&self, app: &mut App) {
        // A click on a handle is for the part that has it.
        let on_no_handle =
            |placing: Res<Placing>| placing.under_pointer.is_none() && placing.held().is_none();
        app.init_resource::<Placing>()
            .add_plugins(PointerPlugin)
            .add_systems(
                Update,
                pick.after(PointerRead)
                    .run_if(suspension_is_shown.and_then(on_no_handle)),
            );
    }
}

/// Gaps by the room they leave: what touches first, then the gap less the one required.
pub fn by_room(position: &PositionFindings) -> Vec<&GapFound> {
    let mut gaps: Vec<&GapFound> = position.gaps.iter().collect();
    let apart = |gap: &GapFound| GapState::of(gap) != GapState::Touching;
    gaps.sort_by(|a, b| {
        (apart(a).cmp(&apart(b)))
            .then((a.gap_mm - a.required_mm).total_cmp(&(b.gap_mm - b.required_mm)))
    });
    gaps
}

/// Touching pairs labelled at once.
const MOST_TOUCHING: usize = 3;

fn draw_gaps(
    found: Res<Found>,
    choice: Res<PartChoice>,
    motion: Res<Motion>,
    shown: Res<Shown>,
    mut gizmos: Gizmos<OverLines>,
    mut labels: ResMut<Labels>,
) {
    let Some(position) = &found.position else {
        return;
    };
    // Points of a position that has been left would float beside the parts.
    let moved = (position.travel_mm - motion.travel_mm()).abs() > 0.5
        || (position.rack_mm - motion.rack_mm()).abs() > 0.5;
    if moved {
        return;
    }
    let gaps = by_room(position);
    let of_choice = |gap: &GapFound| {
        let names = [&gap.a, &gap.b];
        match &choice.picked {
            Some(picked) => names.contains(&picked),
            None => {
                choice.isolated.is_empty() || names.iter().any(|n| choice.isolated.contains(*n))
            }
        }
    };
    // The tightest of all gaps, or of the picked part's; and whatever touches.
    let touching = gaps
        .iter()
        .filter(|gap| GapState::of(gap) == GapState::Touching)
        .take(MOST_TOUCHING);
    let mut drawn: Vec<&GapFound> = touching.copied().collect();
    if let Some(gap) = gaps.iter().find(|gap| of_choice(gap))
        && !drawn.contains(gap)
    {
        drawn.push(gap);
    }
    for gap in drawn {
        draw_gap(gap, shown.units, &mut gizmos, &mut labels);
    }
}

fn draw_gap(gap: &GapFound, units: Units, gizmos: &mut Gizmos<OverLines>, labels: &mut Labels) {
    let [a, b] = [gap.point_a_mm, gap.point_b_mm].map(|p| frame::world(&frame::vector(p)));
    let state = GapState::of(gap);
    let rgb = if state == GapState::Clear {
        [0, 90, 150]
    } else {
        state.rgb()
    };
    let colour = palette::color(rgb);
    gizmos.line(a, b, colour);
    for end in [a, b] {
        gizmos.sphere(end, 0.004, colour).resolution(10);
    }
    let distance = if state == GapState::Touching {
        "touches".to_owned()
    } else {
        let ([there], _) = units.against([gap.gap_mm], gap.required_mm);
        format!("{there} {}", units.name())
    };
    for (at, name) in [(a, &gap.a), (b, &gap.b)] {
        labels.0.push(Label {
            at,
            text: format!("{name}: {distance}"),
            rgb,
            weight: 8,
        });
    }
}

/// Where a first contact's marks are now, vehicle coordinates: on the first part, on the second, and the
/// normal as the first part carries it.
pub fn contact_marks(
    corner: &Corner,
    motion: &Motion,
    contact: &FirstContact,
) -> Option<[Vector3<f64>; 3]> {
    let body = |name: &str| {
        let part = corner.parts.iter().find(|p| p.name == name)?;
        Some(part.body.motion())
    };
    let linkage = &motion.position().linkage;
    let (a, b) = (body(&contact.a)?, body(&contact.b)?);
    let (on_first, on_second) = (linkage.placement(a), linkage.placement(b));
    // The normal is given at the contact: turned into the first part there, and back out here.
    let there = corner
        .position(contact.travel_mm, contact.rack_mm)
        .ok()?
        .linkage
        .placement(a);
    let normal = there.rotation.tr_mul(&frame::vector(contact.normal));
    Some([
        on_first.point(&frame::vector(contact.point_on_a_mm)),
        on_second.point(&frame::vector(contact.point_on_b_mm)),
        on_first.direction(&normal),
    ])
}

/// Whether a first contact is looked at with the rack where it is: steered near to where it happens. What touches at one
/// lock is no contact at the other, so its marks and tape distances stand near their own lock only.
pub fn is_looked_at(corner: &Corner, motion: &Motion, contact: &FirstContact) -> bool {
    corner.locks().are_near(motion.rack_mm(), contact.rack_mm)
}

/// Where a gap's nearest points are on their parts, in words that a tape can follow: on the first, on the second.
pub fn tape_words(corner: &Corner, at: &Position, gap: &GapFound) -> Option<[String; 2]> {
    let on = |name: &str, point: [f64; 3]| {
        let part = corner.parts.iter().position(|p| p.name == name)?;
        Some(tape(corner, &at.linkage, part, &frame::vector(point)))
    };
    Some([on(&gap.a, gap.point_a_mm)?, on(&gap.b, gap.point_b_mm)?])
}

/// Wheel travel from a first contact within which it is named in the picture, mm.
const NEAR_MM: f64 = 40.0;
/// Length of the normal's arrow, mm.
const ARROW_MM: f64 = 45.0;

fn draw_first_contact(
    document: Res<Document>,
    found: Res<Found>,
    motion: Res<Motion>,
    shown: Res<Shown>,
    coloured: Res<ColouredParts>,
    mut gizmos: Gizmos<OverLines>,
    mut labels: ResMut<Labels>,
) {
    // A map tells more of the same, for the part that is looked at.
    let Some(sweep) = found.sweep.as_ref().filter(|_| coloured.0.is_empty()) else {
        return;
    };
    let corner = document.corner();
    let looked_at = |c: &&FirstContact| is_looked_at(corner, &motion, c);
    for contact in sweep.first_contacts.iter().filter(looked_at) {
        let Some([on_a, on_b, normal]) = contact_marks(corner, &motion, contact) else {
            continue;
        };
        let colour = palette::color(palette::BIND);
        for at in [on_a, on_b] {
            let at = frame::world(&at);
            gizmos.sphere(at, 0.005, colour).resolution(12);
            gizmos.cross(at, 0.012, colour);
        }
        gizmos.arrow(
            frame::world(&on_a),
            frame::world(&(on_a + normal * ARROW_MM)),
            colour,
        );
        let way = contact.direction.name();
        // Far from it the marks alone stay: a label would read as a contact now.
        if (motion.travel_mm() - contact.travel_mm).abs() > NEAR_MM {
            continue;
        }
        labels.0.push(Label {
            at: frame::world(&on_a),
            text: format!(
                "first contact in {way}, {}: {} - {} at {} {}",
                sweep.locks.at(contact.rack_mm).name(),
                contact.a,
                contact.b,
                shown
                    .units
                    .signed_free_to(contact.travel_mm, contact.direction.sign()),
                shown.units.name()
            ),
            rgb: palette::BIND,
            weight: 5,
        });
    }
}

fn pick(
    pointed: Res<Pointed>,
    document: Res<Document>,
    mut choice: ResMut<PartChoice>,
    mut shown: ResMut<Shown>,
) {
    if !pointed.clicked {
        return;
    }
    let picked = pointed
        .hit
        .and_then(|hit| document.corner().parts.get(hit.part))
        .map(|part| part.name.clone());
    // Where a part is being placed, another is picked to be placed.
    if picked.is_some() && shown.page != Page::Room {
        shown.page = Page::Parts;
    }
    choice.picked = picked;
}
