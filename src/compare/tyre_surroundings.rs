//! Where nothing is drawn around the tyre, so that nothing is known about it there.
//!
//! The idea in five lines. At a few places of the wheel (as measured and at full bump, straight ahead and at both locks)
//! space around the tyre is divided into five sectors as its plane is seen from its side, within its width, and into a
//! slab beside each face. Each element of each part that the tyre is watched against is cut to a sector, and what is left
//! of it is in reach or isn't. Ahead, above and behind only what stands still in the frame counts: fender, liner and
//! body mount are what a larger tyre rubs on, and an arm that reaches there doesn't stand for them. Where nothing is, the
//! truck has something all the same, and the scene doesn't say what.

use crate::clearance::Part;
use crate::findings::{
    NothingDrawn, TravelDirection, TyrePlace, TyreSteer, TyreSurroundings, TyreTravel,
};
use crate::kinematics::Position;
use crate::suspension::{Body, Lock, Motion, Steered, TyreSector};
use crate::sweep::rate_atlas::Atlas;
use crate::sweep::stop_order::stops_on_line;
use crate::sweep::stops::Guard;
use crate::truck::{Corner, Truck};
use nalgebra::Vector3;

/// In the wheel's plane it is looked this many tyre radii from its centre: fender and bumper are nearer than a radius
/// from the tread on any truck.
const RADII_AROUND: f64 = 2.0;
/// Beside a face it is looked this many tyre radii.
const RADII_BESIDE: f64 = 1.0;
/// What is beside a face counts from this share of the tyre's radius on: nearer to the axis are rim, hub and shaft.
const SIDEWALL_FROM: f64 = 0.5;

/// What is drawn around the tyre on every corner that was built. None where no part of that name is on a wheel.
///
/// Directions that the scene says are empty (`said_empty`) are kept apart.
pub(super) fn tyre_surroundings(
    truck: &Truck,
    tyre: &str,
    said_empty: &[TyreSector],
) -> Option<TyreSurroundings> {
    let mut out: Option<TyreSurroundings> = None;
    for corner in &truck.corners {
        let mut found = around(corner, tyre)?;
        let is_said = |n: &NothingDrawn| said_empty.contains(&n.sector);
        let (said, left) = found.nothing_drawn.into_iter().partition(is_said);
        (found.nothing_there, found.nothing_drawn) = (said, left);
        match &mut out {
            Some(out) => {
                out.nothing_drawn.extend(found.nothing_drawn);
                out.nothing_there.extend(found.nothing_there);
            }
            None => out = Some(found),
        }
    }
    out
}

/// The tyre as it was measured, about the wheel's centre: along the axle outward, and off the axle.
struct Size {
    faces: [f64; 2],
    radius: f64,
}

/// A wheel's own frame at a place: forward and up in its plane, outward along the axle.
struct WheelFrame {
    centre: Vector3<f64>,
    forward: Vector3<f64>,
    up: Vector3<f64>,
    outward: Vector3<f64>,
}

impl WheelFrame {
    fn new(centre: Vector3<f64>, axle: Vector3<f64>) -> WheelFrame {
        // The axle points away from the truck's middle.
        let outward = if axle.y * centre.y < 0.0 { -axle } else { axle };
        let up = (Vector3::z() - outward * outward.z).normalize();
        let across = up.cross(&outward);
        let forward = if across.x < 0.0 { -across } else { across };
        WheelFrame {
            centre,
            forward,
            up,
            outward,
        }
    }

    /// Forward, up, outward of the wheel's centre.
    fn own(&self, p: &Vector3<f64>) -> Vector3<f64> {
        let d = p - self.centre;
        Vector3::new(d.dot(&self.forward), d.dot(&self.up), d.dot(&self.outward))
    }
}

/// The space of a sector about a wheel's centre, in the wheel's frame.
struct Space {
    /// Half spaces that bound it: what lies inside has a product of no less than the number.
    bounds: Vec<(Vector3<f64>, f64)>,
    /// Least and greatest distance from the axle.
    off_axle: [f64; 2],
}

impl Space {
    /// A sector's, everything drawn out by `reach`.
    fn of(sector: TyreSector, size: &Size, reach: f64) -> Space {
        let outward = Vector3::z();
        let between = |low: f64, high: f64| vec![(outward, low - reach), (-outward, -high - reach)];
        let [inner, outer] = size.faces;
        let wedge = |from_deg: f64, to_deg: f64| {
            let [from, to] = [from_deg, to_deg].map(f64::to_radians);
            let mut bounds = between(inner, outer);
            // Counter-clockwise from the one side, clockwise from the other.
            bounds.push((Vector3::new(-from.sin(), from.cos(), 0.0), -reach));
            bounds.push((Vector3::new(to.sin(), -to.cos(), 0.0), -reach));
            Space {
                bounds,
                off_axle: [0.0, RADII_AROUND * size.radius + reach],
            }
        };
        let beside = |low: f64, high: f64| Space {
            bounds: between(low, high),
            off_axle: [SIDEWALL_FROM * size.radius - reach, size.radius + reach],
        };
        let far = RADII_BESIDE * size.radius;
        match sector {
            TyreSector::Ahead => wedge(-45.0, 22.5),
            TyreSector::AboveAhead => wedge(22.5, 67.5),
            TyreSector::Above => wedge(67.5, 112.5),
            TyreSector::AboveBehind => wedge(112.5, 157.5),
            TyreSector::Behind => wedge(157.5, 225.0),
            TyreSector::Inboard => beside(inner - far, inner),
            TyreSector::Outboard => beside(outer, outer + far),
        }
    }

    /// Whether any of an element is in it. `corners` are one, two or three, in the wheel's frame.
    fn holds_some_of(&self, corners: &[Vector3<f64>]) -> bool {
        let mut cut = corners.to_vec();
        for (normal, least) in &self.bounds {
            let inside = |p: &Vector3<f64>| normal.dot(p) - least;
            let mut kept = Vec::with_capacity(cut.len() + 1);
            for i in 0..cut.len() {
                let (a, b) = (cut[i], cut[(i + 1) % cut.len()]);
                let (da, db) = (inside(&a), inside(&b));
                if da >= 0.0 {
                    kept.push(a);
                }
                if (da < 0.0) != (db < 0.0) {
                    kept.push(a + (b - a) * (da / (da - db)));
                }
            }
            cut = kept;
        }
        if cut.is_empty() {
            return false;
        }
        let off = |p: &Vector3<f64>| p.x.hypot(p.y);
        let furthest = cut.iter().map(off).fold(0.0, f64::max);
        let sides = (0..cut.len()).map(|i| off_segment(&cut[i], &cut[(i + 1) % cut.len()]));
        // A flat piece around the axle has no side near it: then it is on it.
        let nearest = if surrounds_axle(&cut) {
            0.0
        } else {
            sides.fold(f64::INFINITY, f64::min)
        };
        nearest <= self.off_axle[1] && furthest >= self.off_axle[0]
    }
}

/// Least distance of a segment from the axle, seen along it.
fn off_segment(a: &Vector3<f64>, b: &Vector3<f64>) -> f64 {
    let (along, from) = ((b - a).xy(), a.xy());
    let long = along.norm_squared();
    let share = if long > 0.0 {
        (-from.dot(&along) / long).clamp(0.0, 1.0)
    } else {
        0.0
    };
    (from + along * share).norm()
}

/// Whether a convex piece, seen along the axle, has it inside.
fn surrounds_axle(piece: &[Vector3<f64>]) -> bool {
    let turns = (0..piece.len()).map(|i| {
        let (a, b) = (piece[i], piece[(i + 1) % piece.len()]);
        a.x * b.y - a.y * b.x
    });
    let (mut left, mut right) = (true, true);
    for turn in turns {
        left &= turn > 0.0;
        right &= turn < 0.0;
    }
    left || right
}

/// Whether a part can stand for what is on the truck in a sector.
fn counts(part: &Part, sector: TyreSector) -> bool {
    match sector {
        TyreSector::Inboard | TyreSector::Outboard => part.body != Body::Wheel,
        TyreSector::Ahead
        | TyreSector::AboveAhead
        | TyreSector::Above
        | TyreSector::AboveBehind
        | TyreSector::Behind => part.body.motion() == Motion::Frame,
    }
}

fn around(corner: &Corner, tyre: &str) -> Option<TyreSurroundings> {
    let own = |part: &Part| part.name == tyre && part.body == Body::Wheel;
    let part = corner.parts.iter().find(|p| own(p))?;
    let watched: Vec<&Part> = watched_against(corner, tyre);
    let size = size(corner, part)?;
    let places = places(corner);
    let missing = |sector: TyreSector| -> Vec<TyrePlace> {
        let open = places.iter().filter(|(_, position)| {
            let frame = wheel_frame(corner, position);
            !watched
                .iter()
                .filter(|p| counts(p, sector))
                .any(|p| reaches_into(p, position, &frame, sector, &size))
        });
        open.map(|(place, _)| *place).collect()
    };
    let nothing_drawn = TyreSector::ALL.into_iter().filter_map(|sector| {
        let at = missing(sector);
        (!at.is_empty()).then(|| NothingDrawn {
            side: corner.side,
            sector,
            at,
            draw: sector.to_draw().into(),
        })
    });
    Some(TyreSurroundings {
        within_mm: RADII_AROUND * size.radius,
        beside_mm: RADII_BESIDE * size.radius,
        nothing_drawn: nothing_drawn.collect(),
        nothing_there: Vec::new(),
        places: places.into_iter().map(|(place, _)| place).collect(),
    })
}

/// Parts whose gap to the tyre is asked for.
fn watched_against<'c>(corner: &'c Corner, tyre: &str) -> Vec<&'c Part> {
    let own = |part: &Part| part.name == tyre && part.body == Body::Wheel;
    let parts = corner.parts.iter().enumerate();
    let watched = parts.filter(|(i, part)| {
        let paired = corner.pairs.iter().any(|pair| {
            (pair.a == *i && own(&corner.parts[pair.b]))
                || (pair.b == *i && own(&corner.parts[pair.a]))
        });
        let overlapping = corner
            .overlaps
            .iter()
            .any(|o| (o.a == part.name && o.b == tyre) || (o.b == part.name && o.a == tyre));
        paired || overlapping
    });
    watched.map(|(_, part)| part).collect()
}

fn wheel_frame(corner: &Corner, position: &Position) -> WheelFrame {
    let axle = &corner.positioner.linkage.hardpoints.spindle_axis;
    WheelFrame::new(
        position.linkage.wheel_centre,
        position.linkage.knuckle.direction(axle),
    )
}

/// The tyre's size; none where it can't stand as measured.
fn size(corner: &Corner, tyre: &Part) -> Option<Size> {
    let measured = corner.position(0.0, 0.0).ok()?;
    let frame = wheel_frame(corner, &measured);
    let placement = measured.linkage.placement(tyre.body.motion());
    let (rotation, offset) = (placement.rotation, placement.offset());
    let reach = tyre.surface.reach_mm();
    let mut size = Size {
        faces: [f64::INFINITY, f64::NEG_INFINITY],
        radius: 0.0,
    };
    for i in 0..tyre.surface.vertices.len() {
        let p = frame.own(&(rotation * tyre.surface.vertex_in_body(i) + offset));
        size.faces[0] = size.faces[0].min(p.z - reach);
        size.faces[1] = size.faces[1].max(p.z + reach);
        size.radius = size.radius.max(p.x.hypot(p.y) + reach);
    }
    (size.radius > 0.0).then_some(size)
}

/// The places that are looked at, each with the wheel there; those that can't be reached are left out.
fn places(corner: &Corner) -> Vec<(TyrePlace, Position)> {
    let atlas = Atlas::build(corner);
    let guard = Guard::new(corner, &atlas, 1.0);
    let mut out = Vec::new();
    for rack_mm in [0.0, corner.rack_mm[0], corner.rack_mm[1]] {
        let Ok(measured) = corner.position(0.0, rack_mm) else {
            continue;
        };
        let steer = match corner.locks().at(rack_mm) {
            Steered::Straight => TyreSteer::Straight,
            Steered::Full(Lock::Left) | Steered::Toward(Lock::Left) => TyreSteer::FullLeft,
            Steered::Full(Lock::Right) | Steered::Toward(Lock::Right) => TyreSteer::FullRight,
        };
        let bump = stops_on_line(&guard, rack_mm, TravelDirection::Bump).free_to();
        let place = |travel| TyrePlace { steer, travel };
        out.push((place(TyreTravel::Measured), measured));
        out.push((
            place(TyreTravel::FullBump),
            corner.positioner.place(bump, rack_mm),
        ));
    }
    out
}

/// Whether any of a part is in a sector, with the wheel at a place.
fn reaches_into(
    part: &Part,
    position: &Position,
    frame: &WheelFrame,
    sector: TyreSector,
    size: &Size,
) -> bool {
    let surface = &part.surface;
    let space = Space::of(sector, size, surface.reach_mm());
    let placement = position.linkage.placement(part.body.motion());
    let (rotation, offset) = (placement.rotation, placement.offset());
    let own: Vec<Vector3<f64>> = (0..surface.vertices.len())
        .map(|i| frame.own(&(rotation * surface.vertex_in_body(i) + offset)))
        .collect();
    let corners = surface.kind.corners();
    surface.elements.iter().any(|element| {
        let element = element.map(|i| own[i as usize]);
        space.holds_some_of(&element[..corners])
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn size() -> Size {
        Size {
            faces: [-130.0, 130.0],
            radius: 400.0,
        }
    }

    fn sectors_of(corners: &[Vector3<f64>]) -> Vec<TyreSector> {
        let all = TyreSector::ALL.into_iter();
        all.filter(|s| Space::of(*s, &size(), 0.0).holds_some_of(corners))
            .collect()
    }

    #[test]
    fn each_direction_is_in_its_own_sector() {
        use TyreSector::*;
        for (deg, sector) in [
            (0.0, Ahead),
            (-40.0, Ahead),
            (45.0, AboveAhead),
            (90.0, Above),
            (135.0, AboveBehind),
            (180.0, Behind),
            (215.0, Behind),
        ] {
            let at = |r: f64, w: f64| {
                let a = f64::to_radians(deg);
                Vector3::new(r * a.cos(), r * a.sin(), w)
            };
            assert_eq!(sectors_of(&[at(600.0, 0.0)]), [sector], "{deg}");
            assert_eq!(sectors_of(&[at(810.0, 0.0)]), [], "{deg}");
            // Beside the tyre's width it isn't met from there.
            assert_eq!(sectors_of(&[at(600.0, 140.0)]), [], "{deg}");
            assert_eq!(sectors_of(&[at(300.0, -200.0)]), [Inboard], "{deg}");
            assert_eq!(sectors_of(&[at(300.0, 200.0)]), [Outboard], "{deg}");
            assert_eq!(sectors_of(&[at(100.0, 200.0)]), [], "{deg}");
        }
        // Below the wheel is ground.
        assert_eq!(sectors_of(&[Vector3::new(0.0, -500.0, 0.0)]), []);
    }

    #[test]
    fn a_plate_with_no_corner_near_is_seen_where_it_passes() {
        let plate = [
            Vector3::new(-5_000.0, 600.0, -5_000.0),
            Vector3::new(5_000.0, 600.0, -5_000.0),
            Vector3::new(0.0, 600.0, 9_000.0),
        ];
        use TyreSector::*;
        assert_eq!(sectors_of(&plate), [AboveAhead, Above, AboveBehind]);
        let rail = [
            Vector3::new(-5_000.0, 100.0, -300.0),
            Vector3::new(5_000.0, 100.0, -300.0),
        ];
        assert_eq!(sectors_of(&rail), [Inboard]);
        // A disc's facet around the axle, beside the outer face.
        let disc = [
            Vector3::new(-900.0, -900.0, 150.0),
            Vector3::new(900.0, -900.0, 150.0),
            Vector3::new(0.0, 1_800.0, 150.0),
        ];
        assert_eq!(sectors_of(&disc), [Outboard]);
    }
}
