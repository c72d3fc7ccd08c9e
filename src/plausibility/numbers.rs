//! Numbers that are no points of the suspension: angles, radii, lengths, gaps, and where hoses and parts are drawn.

use super::corner::{CornerNumbers, Key, V};
use super::{Implausible, Slip, Unit, Unusual, scale, short};
use crate::scene::{ConeEntry, End, Place, Point, Scene, ShapeEntry, Spindle, TyreSize};
use crate::suspension::Body;

/// A number that is looked at by itself.
struct Number<'a> {
    path: String,
    /// As written.
    raw: f64,
    name: &'a str,
    unit: Unit,
    range: [f64; 2],
    reason: &'static str,
    /// The slips that are tried on it.
    slips: &'a [Slip],
}

/// Slips of an angle, and of sizes that may be taken for their half or double.
const ANGLE: &[Slip] = &[Slip::Radians];
const SIZE: &[Slip] = &[Slip::DiameterForRadius, Slip::RadiusForDiameter];

struct Numbers {
    /// Millimetres in the scene's unit.
    scale: f64,
    /// Whether places are judged by the suspension's points.
    with_places: bool,
    out: Vec<Implausible>,
}

impl Numbers {
    /// A number, or what follows from it by `value`.
    fn look(&mut self, n: &Number, value: impl Fn(f64) -> f64) {
        let [low, high] = n.range;
        let is_usual = |raw: f64| (low..=high).contains(&value(raw));
        if is_usual(n.raw) {
            return;
        }
        let other_unit = if self.scale == 1.0 { 25.4 } else { 1.0 / 25.4 };
        let in_other_unit = Slip::Unit {
            axis: None,
            in_inches: self.scale == 1.0,
        };
        let tries = n
            .slips
            .iter()
            .cloned()
            .chain((n.unit != Unit::Deg).then_some(in_other_unit));
        let likely = tries
            .map(|slip| {
                let meant = match &slip {
                    Slip::Radians => n.raw.to_degrees(),
                    Slip::DiameterForRadius => 0.5 * n.raw,
                    Slip::RadiusForDiameter => 2.0 * n.raw,
                    Slip::NumberSign => -n.raw,
                    _ => n.raw * other_unit,
                };
                (slip, meant)
            })
            .find(|(_, meant)| is_usual(*meant));
        self.out.push(Implausible {
            path: n.path.clone(),
            line: None,
            written: short(n.raw),
            shows: vec![Unusual {
                name: n.name.to_owned(),
                unit: n.unit,
                value: value(n.raw),
                range: n.range,
                reason: n.reason,
            }],
            is_whole: likely.is_some(),
            alternative: None,
            likely: likely.map(|(slip, meant)| (slip, short(meant))),
        });
    }

    fn angle(&mut self, path: String, name: &str, deg: f64, range: [f64; 2], reason: &'static str) {
        let n = Number {
            path,
            raw: deg,
            name,
            unit: Unit::Deg,
            range,
            reason,
            slips: ANGLE,
        };
        self.look(&n, |deg| deg);
    }

    fn length(
        &mut self,
        path: String,
        name: &str,
        raw: f64,
        range_mm: [f64; 2],
        reason: &'static str,
        slips: &[Slip],
    ) {
        let scale = self.scale;
        let n = Number {
            path,
            raw,
            name,
            unit: Unit::Mm,
            range: range_mm,
            reason,
            slips,
        };
        self.look(&n, |raw| raw * scale);
    }

    /// Something that follows from a point, told at the point; another unit of it, or of one of its numbers, is tried.
    fn at_point(
        &mut self,
        path: String,
        p: &Point,
        name: String,
        value_mm: impl Fn(&Point) -> f64,
        range: [f64; 2],
        reason: &'static str,
    ) {
        let is_usual = |p: &Point| (range[0]..=range[1]).contains(&value_mm(p));
        if is_usual(p) {
            return;
        }
        // The one after which it lies nearest; where several do alike, the one that changes least.
        let of = |[x, y, z]: [f64; 3]| Point(x, y, z);
        let likely = super::mends::in_other_unit([p.0, p.1, p.2], self.scale)
            .into_iter()
            .rev()
            .filter(|(_, meant)| is_usual(&of(*meant)))
            .min_by(|(_, a), (_, b)| {
                let off_mm = |meant: &[f64; 3]| value_mm(&of(*meant)).abs();
                off_mm(a).total_cmp(&off_mm(b))
            });
        let value_mm = value_mm(p);
        self.out.push(Implausible {
            path,
            line: None,
            written: super::written([p.0, p.1, p.2]),
            shows: vec![Unusual {
                name,
                unit: Unit::Mm,
                value: value_mm,
                range,
                reason,
            }],
            is_whole: likely.is_some(),
            alternative: None,
            likely: likely.map(|(slip, meant)| (slip, super::written(meant))),
        });
    }
}

/// Every number that is likely wrong; `with_places` asks for what is drawn far from its body's points too.
pub(super) fn implausible(scene: &Scene, with_places: bool) -> Vec<Implausible> {
    let mut n = Numbers {
        scale: scale(scene.units),
        with_places,
        out: Vec::new(),
    };
    wheel(scene, &mut n);
    shaft(scene, &mut n);
    joints(scene, &mut n);
    stops(scene, &mut n);
    parts(scene, &mut n);
    whole(scene, &mut n);
    n.out
}

/// A damper's length, or what a spacer adds to both, that doesn't go with the rest and with the eyes as measured, where another
/// unit or a decimal point explains it: then the eyes are not to be judged by it.
pub(super) fn damper_length(scene: &Scene) -> Option<Implausible> {
    let d = &scene.damper;
    let n = Numbers {
        scale: scale(scene.units),
        with_places: false,
        out: Vec::new(),
    };
    let is_in_line =
        |spacer: &&crate::scene::Spacer| spacer.adds == crate::scene::SpacerEffect::TotalLength;
    let spacers: f64 = (d.spacers.iter().filter(is_in_line))
        .map(|s| s.thickness)
        .sum();
    let now =
        (place(&d.upper_mount, scene, n.scale) - place(&d.lower_mount, scene, n.scale)).norm();
    let goes_together = |compressed: f64, extended: f64, spacers: f64| {
        let [low, high] = [compressed, extended].map(|l| (l + spacers) * n.scale);
        (STROKE_MM[0]..=STROKE_MM[1]).contains(&(high - low))
            && (CLOSED_OF_OPEN[0]..=CLOSED_OF_OPEN[1]).contains(&(compressed / extended))
            && low - 5.0 <= now
            && now <= high + 5.0
    };
    if goes_together(d.compressed, d.extended, spacers) {
        return None;
    }
    let in_inches = n.scale == 1.0;
    let other_unit = if in_inches { 25.4 } else { 1.0 / 25.4 };
    let unit = Slip::Unit {
        axis: None,
        in_inches,
    };
    let tries = [
        (unit, other_unit),
        (Slip::DecimalPoint(0), 10.0),
        (Slip::DecimalPoint(0), 0.1),
    ];
    let stroke = Unusual {
        name: "the damper's stroke".to_owned(),
        unit: Unit::Mm,
        value: (d.extended - d.compressed) * n.scale,
        range: STROKE_MM,
        reason: "90 to 300",
    };
    tries.into_iter().find_map(|(slip, k)| {
        let (path, raw, shows) = if goes_together(d.compressed, k * d.extended, spacers) {
            ("damper.extended".to_owned(), d.extended, stroke.clone())
        } else if goes_together(k * d.compressed, d.extended, spacers) {
            ("damper.compressed".to_owned(), d.compressed, stroke.clone())
        } else {
            let by_spacer = |spacer: &crate::scene::Spacer| {
                let others = spacers - spacer.thickness;
                goes_together(d.compressed, d.extended, others + k * spacer.thickness)
            };
            let mut all = d.spacers.iter().enumerate().filter(|(_, s)| is_in_line(s));
            let (i, spacer) = all.find(|(_, s)| by_spacer(s))?;
            let shows = Unusual {
                name: SPACER.to_owned(),
                unit: Unit::Mm,
                value: spacer.thickness * n.scale,
                range: SPACER_MM,
                reason: SPACER_REASON,
            };
            (
                format!("damper.spacers[{i}].thickness"),
                spacer.thickness,
                shows,
            )
        };
        Some(Implausible {
            path,
            line: None,
            written: short(raw),
            shows: vec![shows],
            likely: Some((slip, short(k * raw))),
            is_whole: true,
            alternative: None,
        })
    })
}

/// Compressed length of the extended one: a damper closes by one stroke and opens by another from its dead length
/// (derived), so never to less than half; a little is left for what is measured between other points.
const CLOSED_OF_OPEN: [f64; 2] = [0.48, 0.95];

/// A spacer's thickness: what it is called, mm, and why.
const SPACER: &str = "a spacer";
const SPACER_MM: [f64; 2] = [0.0, 110.0];
const SPACER_REASON: &str = "up to 75";

/// Toe and camber of a wheel as it stands, degrees.
const TOE_DEG: [f64; 2] = [-2.0, 2.0];
const CAMBER_DEG: [f64; 2] = [-5.0, 4.0];

/// Whether the static toe and camber are such as no truck stands with: then points are not to be judged by where the wheel
/// points.
pub(super) fn is_spindle_off(scene: &Scene) -> bool {
    let is_off = |deg: f64, [low, high]: [f64; 2]| !(low..=high).contains(&deg);
    match scene.knuckle.spindle {
        Spindle::Static {
            toe_deg,
            camber_deg,
        } => is_off(toe_deg, TOE_DEG) || is_off(camber_deg, CAMBER_DEG),
        Spindle::Axis(_) => false,
    }
}

/// A damper's stroke, mm.
const STROKE_MM: [f64; 2] = [50.0, 420.0];

/// The tyre's free diameter by its size, mm.
fn by_size_mm(scene: &Scene) -> Option<f64> {
    match &scene.tyre.as_ref()?.size {
        TyreSize::Measured { diameter, .. } => Some(diameter * scale(scene.units)),
        TyreSize::Code(_) => Some(crate::setups::fitted_measures(scene).ok()?.diameter_mm),
    }
}

/// The drawn tyre's greatest radius, mm, and the number of the part.
fn drawn_tyre(scene: &Scene) -> Option<(usize, f64)> {
    let name = scene.tyre.as_ref().map_or("tyre", |t| t.part.as_str());
    let mut parts = scene.parts.iter().enumerate();
    parts.find_map(|(i, part)| match &part.shape {
        ShapeEntry::Lathe { profile, .. } if part.name == name && part.on == Body::Wheel => {
            let most = profile.iter().map(|(_, r)| *r).fold(0.0, f64::max);
            Some((i, most * scale(scene.units)))
        }
        // As large as its size says.
        ShapeEntry::Tyre { .. } if part.name == name && part.on == Body::Wheel => {
            by_size_mm(scene).map(|diameter_mm| (i, 0.5 * diameter_mm))
        }
        _ => None,
    })
}

/// The tyre's free radius by its size or as drawn, mm.
fn free_radius_mm(scene: &Scene) -> Option<f64> {
    by_size_mm(scene)
        .map(|d| 0.5 * d)
        .or(drawn_tyre(scene).map(|d| d.1))
}

/// Loaded radius of the free radius.
const LOADED_OF_FREE: [f64; 2] = [0.87, 1.0];

/// What the loaded radius would be by the tyre, mm, where the one that is written can't be: then the kingpin is not to be
/// judged by that.
pub(super) fn loaded_by_tyre_mm(scene: &Scene) -> Option<f64> {
    let free_mm = free_radius_mm(scene)?;
    let written = scene.knuckle.loaded_radius * scale(scene.units) / free_mm;
    let [low, high] = LOADED_OF_FREE;
    (!(low..=high).contains(&written)).then_some(free_mm * 0.5 * (low + high))
}

fn wheel(scene: &Scene, n: &mut Numbers) {
    let k = &scene.knuckle;
    let scale = n.scale;
    let drawn = drawn_tyre(scene);
    let size_mm = by_size_mm(scene);
    n.length(
        "knuckle.loaded_radius".to_owned(),
        "the loaded radius",
        k.loaded_radius,
        [270.0, 560.0],
        "tyres of 24 to 44 inches",
        SIZE,
    );
    let told = n.out.len();
    if let Some(free_mm) = free_radius_mm(scene).filter(|_| told == 0) {
        let loaded = Number {
            path: "knuckle.loaded_radius".to_owned(),
            raw: k.loaded_radius,
            name: "the loaded radius of the tyre's free radius",
            unit: Unit::Ratio,
            range: LOADED_OF_FREE,
            reason: "a tyre carries its load by giving way: 2 to 6 %, aired down up to 12 %, and it never grows",
            slips: SIZE,
        };
        n.look(&loaded, |raw| raw * scale / free_mm);
    }
    if let (Some(size_mm), Some((i, drawn_mm))) = (size_mm, drawn) {
        let drawn = Number {
            path: format!("parts[{i}].shape"),
            raw: drawn_mm / scale,
            name: "the drawn tyre's radius of that by its size",
            unit: Unit::Ratio,
            range: [0.93, 1.06],
            reason: "makers' tyres of one size differ by 2 to 3 %, worn ones by 2",
            slips: SIZE,
        };
        n.look(&drawn, |raw| raw * scale / (0.5 * size_mm));
    }
    match &k.spindle {
        Spindle::Static {
            toe_deg,
            camber_deg,
        } => {
            let path = |field: &str| format!("knuckle.spindle.{field}");
            let why = "alignments lie within half a degree of toe and two of camber";
            n.angle(path("toe_deg"), "static toe", *toe_deg, TOE_DEG, why);
            n.angle(
                path("camber_deg"),
                "static camber",
                *camber_deg,
                CAMBER_DEG,
                why,
            );
        }
        Spindle::Axis(axis) => {
            let [x, y, z] = [axis.0, axis.1, axis.2];
            let off = x.hypot(z).atan2(y.abs()).to_degrees();
            n.angle(
                "knuckle.spindle".to_owned(),
                "the spindle's angle from straight out",
                off,
                [0.0, 6.0],
                "toe and camber are a few degrees",
            );
        }
    }
    if let Some(stop) = k.steering_stop_deg {
        for (side, deg) in [("left", stop.left), ("right", stop.right)] {
            n.angle(
                format!("knuckle.steering_stop_deg.{side}"),
                "the steering stop",
                deg,
                [15.0, 60.0],
                "wheels steer 28 to 42 degrees",
            );
        }
    }
    for (side, raw) in [
        ("left", scene.rack.travel.left),
        ("right", scene.rack.travel.right),
    ] {
        n.length(
            format!("rack.travel.{side}"),
            "the rack's travel to one lock",
            raw,
            [30.0, 140.0],
            "60 to 95 to each side",
            SIZE,
        );
    }
    let level = |raw: f64| raw * scale;
    for (path, raw, range) in [
        ("ride_height", scene.ride_height, [-160.0, 160.0]),
        (
            "search.droop",
            scene.search.map_or(200.0 / scale, |s| s.droop),
            [30.0, 700.0],
        ),
        (
            "search.bump",
            scene.search.map_or(200.0 / scale, |s| s.bump),
            [30.0, 700.0],
        ),
    ] {
        let number = Number {
            path: path.to_owned(),
            raw,
            name: "wheel travel",
            unit: Unit::Mm,
            range,
            reason: "suspensions of this kind have 150 to 400 in all",
            slips: &[],
        };
        n.look(&number, level);
    }
}

fn shaft(scene: &Scene, n: &mut Numbers) {
    let all = [
        ("halfshaft", Some(&scene.halfshaft)),
        ("other_side.halfshaft", scene.other_side.halfshaft.as_ref()),
    ];
    for (path, shaft) in all.into_iter().filter_map(|(p, s)| Some((p, s?))) {
        let at = |field: &str| format!("{path}.{field}");
        n.length(
            at("diameter"),
            "the halfshaft's diameter",
            shaft.diameter,
            [17.0, 48.0],
            "22 to 38",
            SIZE,
        );
        n.angle(
            at("inner_limit_deg"),
            "the inner joint's limit",
            shaft.inner_limit_deg,
            [10.0, 40.0],
            "tripods 23 to 26, others up to 35",
        );
        n.angle(
            at("outer_limit_deg"),
            "the outer joint's limit",
            shaft.outer_limit_deg,
            [25.0, 60.0],
            "fixed joints 42 to 50",
        );
        n.length(
            at("plunge.inner"),
            "the plunge inward",
            shaft.plunge.inner,
            [-90.0, 0.5],
            "15 to 30, below zero",
            &[Slip::NumberSign],
        );
        n.length(
            at("plunge.outer"),
            "the plunge outward",
            shaft.plunge.outer,
            [-0.5, 90.0],
            "15 to 30, above zero",
            &[Slip::NumberSign],
        );
        n.length(
            at("plunge.outer"),
            "the plunge from end to end",
            shaft.plunge.outer - shaft.plunge.inner,
            [12.0, 130.0],
            "35 to 60",
            &[],
        );
        if let Some(raw) = shaft.track_pitch_radius {
            n.length(
                at("track_pitch_radius"),
                "the track pitch radius",
                raw,
                [13.0, 42.0],
                "20 to 30",
                SIZE,
            );
        }
        if let Some(raw) = shaft.ball_pitch_radius {
            n.length(
                at("ball_pitch_radius"),
                "the balls' pitch radius",
                raw,
                [17.0, 50.0],
                "25 to 38",
                SIZE,
            );
        }
    }
}

fn joints(scene: &Scene, n: &mut Numbers) {
    let why = "studs swing 20 to 35 degrees, rod ends and bushed eyes 8 to 45";
    for (root, j) in [
        ("ball_joints", Some(&scene.ball_joints)),
        (
            "other_side.ball_joints",
            scene.other_side.ball_joints.as_ref(),
        ),
    ] {
        let Some(j) = j else { continue };
        let mut half = |field: &str, deg: f64| {
            n.angle(
                format!("{root}.{field}.half_angle_deg"),
                "the half angle",
                deg,
                [4.0, 75.0],
                why,
            );
        };
        let cones: [(&str, Option<ConeEntry>); 2] = [("upper", j.upper), ("lower", j.lower)];
        for (field, cone) in cones {
            if let Some(cone) = cone {
                half(field, cone.half_angle_deg);
            }
        }
        for (field, pin) in [
            ("tie_rod_outer", j.tie_rod_outer),
            ("damper_upper", j.damper_upper),
            ("damper_lower", j.damper_lower),
        ] {
            if let Some(pin) = pin {
                half(field, pin.half_angle_deg);
            }
        }
        if let Some(inner) = j.tie_rod_inner {
            half("tie_rod_inner", inner.half_angle_deg);
        }
    }
}

fn place(p: &Point, scene: &Scene, scale: f64) -> V {
    V::new(p.0, p.1 * scene.side.outboard(), p.2) * scale
}

fn stops(scene: &Scene, n: &mut Numbers) {
    let d = &scene.damper;
    let scale = n.scale;
    let stroke = Number {
        path: "damper.extended".to_owned(),
        raw: d.extended,
        name: "the damper's stroke",
        unit: Unit::Mm,
        range: STROKE_MM,
        reason: "90 to 300",
        slips: &[],
    };
    n.look(&stroke, |raw| (raw - d.compressed) * scale);
    for (i, spacer) in d.spacers.iter().enumerate() {
        n.length(
            format!("damper.spacers[{i}].thickness"),
            SPACER,
            spacer.thickness,
            SPACER_MM,
            SPACER_REASON,
            &[],
        );
    }
    let measured =
        (place(&d.upper_mount, scene, scale) - place(&d.lower_mount, scene, scale)).norm();
    if let Some(stop) = &d.bump_stop {
        let path = |field: &str| format!("damper.bump_stop.{field}");
        let name = "the room above the bump stop as measured";
        let why = "0 to 120; on some trucks the wheel rests on it";
        match &stop.ends {
            Some(ends) => {
                let room = Between {
                    path: path("contact"),
                    length: stop.contact,
                    sign: -1.0,
                    name,
                    range: [-30.0, 200.0],
                    reason: why,
                };
                between(scene, n, &path("ends"), ends, &room);
            }
            None => {
                let room = Number {
                    path: path("contact"),
                    raw: stop.contact,
                    name,
                    unit: Unit::Mm,
                    range: [-30.0, 200.0],
                    reason: why,
                    slips: &[],
                };
                n.look(&room, |raw| measured - raw * scale);
            }
        }
        let crush = Number {
            path: path("crushed"),
            raw: stop.crushed,
            name: "the bump stop's crush",
            unit: Unit::Mm,
            range: [0.0, 110.0],
            reason: "10 to 60",
            slips: &[],
        };
        // A contact that is wrong shows in the crush too.
        if n.out.iter().all(|told| told.path != path("contact")) {
            n.look(&crush, |raw| (stop.contact - raw) * scale);
        }
    }
    let why = "it is no shorter than where it was measured, and longer by what droop takes";
    if let Some(strap) = &d.strap {
        let slack = Between {
            path: "damper.strap.length".to_owned(),
            length: strap.length,
            sign: 1.0,
            name: "the strap's slack as measured",
            range: SLACK_MM,
            reason: why,
        };
        between(scene, n, "damper.strap.ends", &strap.ends, &slack);
    }
    for (i, hose) in scene.hoses.iter().enumerate() {
        let slack = Between {
            path: format!("hoses[{i}].longest"),
            length: hose.longest,
            sign: 1.0,
            name: "the hose's slack as measured",
            range: SLACK_MM,
            reason: why,
        };
        between(scene, n, &format!("hoses[{i}].ends"), &hose.ends, &slack);
    }
    for (i, watch) in scene.watch.iter().enumerate() {
        n.length(
            format!("watch[{i}].gap"),
            "the gap to be kept",
            watch.gap,
            [0.0, 90.0],
            "2 to 30; 90 is asked of tyres at most",
            &[],
        );
    }
}

/// A hose's or strap's slack, mm.
const SLACK_MM: [f64; 2] = [-3.0, 260.0];

/// A length that goes with two ends: what is left of it beyond their distance, or the other way round.
struct Between<'a> {
    path: String,
    /// As written.
    length: f64,
    /// +1 where the length is the greater.
    sign: f64,
    name: &'a str,
    range: [f64; 2],
    reason: &'static str,
}

/// Two ends and their length: each end near its body, and the length near their distance. Where that is off and another unit
/// doesn't explain the length, the end is told that one slip undone brings right.
fn between(scene: &Scene, n: &mut Numbers, path: &str, ends: &(End, End), length: &Between) {
    if !n.with_places {
        return;
    }
    let before = n.out.len();
    ends_near(scene, n, path, ends);
    if n.out.len() > before {
        return;
    }
    let scale = n.scale;
    let apart = |a: [f64; 3], b: [f64; 3]| (V::from(a) - V::from(b)).norm();
    let raw = [ends.0.at, ends.1.at].map(|p| [p.0, p.1, p.2]);
    let left = |raw: [[f64; 3]; 2], length_raw: f64| {
        length.sign * (length_raw - apart(raw[0], raw[1])) * scale
    };
    let is_usual = |mm: f64| (length.range[0]..=length.range[1]).contains(&mm);
    let value = left(raw, length.length);
    if is_usual(value) {
        return;
    }
    let number = Number {
        path: length.path.clone(),
        raw: length.length,
        name: length.name,
        unit: Unit::Mm,
        range: length.range,
        reason: length.reason,
        slips: &[],
    };
    n.look(&number, |l| left(raw, l));
    if n.out.last().is_none_or(|found| found.likely.is_some()) {
        return;
    }
    let bodies = [ends.0.on, ends.1.on];
    let mended = (0..2).find_map(|i| {
        let all = super::mends::undone(raw[i], scale);
        let mut known = all.into_iter().filter_map(|(slip, p)| Some((slip?, p)));
        known.find_map(|(slip, p)| {
            let mut with = raw;
            with[i] = p;
            let at = V::new(p[0], p[1] * scene.side.outboard(), p[2]) * scale;
            let is_near =
                from_body(scene, bodies[i], at).is_none_or(|off| off <= end_room_mm(bodies[i]));
            (is_near && is_usual(left(with, length.length))).then_some((i, slip, p))
        })
    });
    if let (Some((i, slip, p)), Some(found)) = (mended, n.out.last_mut()) {
        found.path = format!("{path}[{i}].at");
        found.written = super::written(raw[i]);
        found.likely = Some((slip, super::written(p)));
    }
}

/// The points of a body that a drawn thing on it should be near.
fn keys_near(body: Body) -> &'static [Key] {
    use Key as K;
    match body {
        Body::LowerArm => &[K::LowerFront, K::LowerRear, K::LowerBall],
        Body::UpperArm => &[K::UpperFront, K::UpperRear, K::UpperBall],
        Body::Knuckle => &[K::LowerBall, K::UpperBall, K::RodOuter, K::Wheel],
        Body::Wheel => &[K::Wheel, K::OuterJoint],
        Body::TieRod => &[K::RodInner, K::RodOuter],
        Body::Rack => &[K::RodInner],
        Body::DamperUpper | Body::DamperLower => &[K::DamperUpper, K::DamperLower],
        Body::Halfshaft => &[K::InnerJoint, K::OuterJoint],
        Body::InnerJointHousing => &[K::InnerJoint],
        Body::OuterJointHousing => &[K::OuterJoint, K::Wheel],
        Body::Frame => &[
            K::LowerFront,
            K::LowerRear,
            K::UpperFront,
            K::UpperRear,
            K::DamperUpper,
            K::RodInner,
        ],
        Body::Differential | Body::FrontDriveshaft | Body::Link(_) => &[],
    }
}

/// Distance of a point from the box about its body's points, mm.
fn from_body(scene: &Scene, body: Body, at: V) -> Option<f64> {
    let corner = CornerNumbers::of(scene, false);
    let keys = keys_near(body);
    let first = keys.first()?;
    let point = |k: &Key| corner.place(corner.raw[*k as usize], false);
    let (mut low, mut high) = (point(first), point(first));
    for p in keys.iter().map(point) {
        (low, high) = (low.inf(&p), high.sup(&p));
    }
    Some((at - at.sup(&low).inf(&high)).norm())
}

/// What a hose's or strap's end may stand off the box about its body's points, mm.
fn end_room_mm(body: Body) -> f64 {
    match body {
        Body::Frame => 150.0,
        Body::LowerArm | Body::UpperArm => 75.0,
        _ => 110.0,
    }
}

fn ends_near(scene: &Scene, n: &mut Numbers, path: &str, ends: &(End, End)) {
    for (i, end) in [ends.0, ends.1].iter().enumerate() {
        let scale = n.scale;
        let off = |p: &Point| from_body(scene, end.on, place(p, scene, scale));
        if off(&end.at).is_none() {
            continue;
        }
        n.at_point(
            format!("{path}[{i}].at"),
            &end.at,
            format!("its distance from the {}'s points", end.on.name()),
            |p| off(p).unwrap_or(0.0),
            [0.0, end_room_mm(end.on)],
            "it is bolted to that body",
        );
    }
}

/// What a part's middle may stand off the box about its body's points, mm: anti-roll bar links and brackets reach out.
const PART_ROOM_MM: f64 = 300.0;

fn parts(scene: &Scene, n: &mut Numbers) {
    for (i, part) in scene.parts.iter().enumerate() {
        let path = format!("parts[{i}].shape");
        let is_moving = !matches!(
            part.on,
            Body::Frame | Body::Differential | Body::FrontDriveshaft | Body::Rack
        );
        let bar = [8.0_f64, 60.0];
        match &part.shape {
            ShapeEntry::Capsule { radius, .. } | ShapeEntry::Cylinder { radius, .. }
                if is_moving =>
            {
                let most = if matches!(
                    part.on,
                    Body::DamperUpper | Body::DamperLower | Body::Knuckle
                ) {
                    120.0
                } else {
                    bar[1]
                };
                if matches!(
                    part.on,
                    Body::LowerArm
                        | Body::UpperArm
                        | Body::TieRod
                        | Body::DamperUpper
                        | Body::DamperLower
                ) {
                    n.length(
                        format!("{path}.radius"),
                        "a bar's radius",
                        *radius,
                        [2.0, most],
                        "tubes of 12 to 60 mm, springs of 130",
                        SIZE,
                    );
                }
            }
            ShapeEntry::Bar { diameter, .. } if is_moving => {
                n.length(
                    format!("{path}.diameter"),
                    "a bar's diameter",
                    *diameter,
                    [4.0, 2.0 * bar[1]],
                    "tubes of 12 to 60 mm, springs of 130",
                    SIZE,
                );
            }
            ShapeEntry::Link { from, to, .. } => {
                for (field, end, on) in [("from", from, part.on), ("to.at", &to.at, to.on)] {
                    let stands = matches!(on, Body::Frame | Body::Differential | Body::Rack);
                    if let (Place::At(p), false) = (end, stands) {
                        part_near(scene, n, on, format!("{path}.{field}"), p);
                    }
                }
            }
            _ => {}
        }
        if is_moving {
            for (path, p) in drawn_points(&part.shape, &path) {
                part_near(scene, n, part.on, path, p);
            }
        } else {
            on_the_truck(scene, n, &part.shape, &path);
        }
    }
    for (i, part) in scene.underbody.iter().enumerate() {
        on_the_truck(scene, n, &part.shape, &format!("underbody[{i}].shape"));
    }
}

/// Points that a shape is drawn from, with their paths.
fn drawn_points<'s>(shape: &'s ShapeEntry, path: &str) -> Vec<(String, &'s Point)> {
    let named = |field: &str, p: &'s Point| (format!("{path}.{field}"), p);
    match shape {
        ShapeEntry::Ball { centre, .. } | ShapeEntry::Box { centre, .. } => {
            vec![named("centre", centre)]
        }
        ShapeEntry::Capsule { from, to, .. } | ShapeEntry::Cylinder { from, to, .. } => {
            vec![named("from", from), named("to", to)]
        }
        ShapeEntry::Bar { from, to, .. } => [("from", from), ("to", to)]
            .into_iter()
            .filter_map(|(field, end)| match end {
                Some(Place::At(p)) => Some(named(field, p)),
                _ => None,
            })
            .collect(),
        ShapeEntry::Hull { points } => (points.iter().enumerate())
            .map(|(k, p)| named(&format!("points[{k}]"), p))
            .collect(),
        ShapeEntry::Lathe {
            from: Some(from), ..
        } => vec![named("from", from)],
        _ => Vec::new(),
    }
}

/// Where a truck is, from the front wheels' centres: forward, to the side from its middle, up, mm.
const TRUCK_FROM_MM: [f64; 3] = [-7000.0, -1500.0, -900.0];
const TRUCK_TO_MM: [f64; 3] = [2500.0, 1500.0, 2800.0];

/// What stands on the truck is drawn on it: a length in millimetres among inches takes it streets away. The first point of a
/// shape that isn't is told.
fn on_the_truck(scene: &Scene, n: &mut Numbers, shape: &ShapeEntry, path: &str) {
    let scale = n.scale;
    let wheel = place(&scene.knuckle.wheel_centre, scene, scale);
    let off = |p: &Point| {
        let at = V::new(p.0, p.1, p.2) * scale - V::new(wheel.x, 0.0, wheel.z);
        (at - at.sup(&V::from(TRUCK_FROM_MM)).inf(&V::from(TRUCK_TO_MM))).norm()
    };
    let points = drawn_points(shape, path);
    if let Some((path, p)) = points.into_iter().find(|(_, p)| off(p) > 0.0) {
        let name = "its distance from the truck".to_owned();
        let reason = "trucks are shorter than 7 m, narrower than 2.6 m and lower than 2.8 m";
        n.at_point(path, p, name, off, [0.0, 0.0], reason);
    }
}

fn part_near(scene: &Scene, n: &mut Numbers, on: Body, path: String, p: &Point) {
    if !n.with_places {
        return;
    }
    let scale = n.scale;
    let off = |p: &Point| from_body(scene, on, place(p, scene, scale));
    if off(p).is_some() {
        let name = format!("its distance from the {}'s points", on.name());
        n.at_point(
            path,
            p,
            name,
            |p| off(p).unwrap_or(0.0),
            [0.0, PART_ROOM_MM],
            "a part hangs on its body",
        );
    }
}

fn whole(scene: &Scene, n: &mut Numbers) {
    let scale = n.scale;
    let wheel = place(&scene.knuckle.wheel_centre, scene, scale);
    if let Some(d) = &scene.differential {
        let named = |list: &'static str, points: &[Point]| -> Vec<(String, Point)> {
            points
                .iter()
                .enumerate()
                .map(|(i, p)| (format!("differential.{list}[{i}]"), *p))
                .collect()
        };
        let all = named("front_mounts", &d.front_mounts)
            .into_iter()
            .chain(named("rear_mounts", &d.rear_mounts));
        for (path, p) in all {
            type Row = (&'static str, fn(&V) -> f64, [f64; 2], &'static str);
            let rows: [Row; 3] = [
                (
                    "a differential mount ahead of the axle",
                    |off| off.x,
                    [-560.0, 480.0],
                    "it hangs about the axle",
                ),
                (
                    "a differential mount above the wheel centres",
                    |off| off.z,
                    [-160.0, 300.0],
                    "about the axle's height",
                ),
                (
                    "a differential mount from the truck's middle",
                    |off| off.y.abs(),
                    [0.0, 480.0],
                    "between the frame's rails",
                ),
            ];
            // From the axle's line, the wheel centres' height and the truck's middle.
            let off = |p: &Point| place(p, scene, scale) - V::new(wheel.x, 0.0, wheel.z);
            let before = n.out.len();
            for (name, value, range, reason) in rows {
                let value = |p: &Point| value(&off(p));
                n.at_point(path.clone(), &p, name.to_owned(), value, range, reason);
            }
            // Only what brings all three right is likely.
            let is_usual = |p: &Point| {
                let off = off(p);
                let mut rows = rows.iter();
                rows.all(|(_, value, [low, high], _)| (*low..=*high).contains(&value(&off)))
            };
            let mut tries = super::mends::in_other_unit([p.0, p.1, p.2], scale).into_iter();
            let likely = tries.find(|(_, [x, y, z])| is_usual(&Point(*x, *y, *z)));
            for told in &mut n.out[before..] {
                let meant =
                    |(slip, meant): &(Slip, [f64; 3])| (slip.clone(), super::written(*meant));
                told.likely = likely.as_ref().map(meant);
                told.is_whole = likely.is_some();
            }
        }
    }
    if let Some(s) = &scene.front_driveshaft {
        n.angle(
            "front_driveshaft.joint_limit_deg".to_owned(),
            "the driveshaft joints' limit",
            s.joint_limit_deg,
            [5.0, 50.0],
            "15 to 35",
        );
    }
    let Some(rear) = &scene.rear else { return };
    n.length(
        "rear.wheelbase".to_owned(),
        "the wheelbase",
        rear.wheelbase,
        [1800.0, 4700.0],
        "2,000 to 4,400",
        &[],
    );
    let ratio = |path: &str, raw, name, range, reason| Number {
        path: path.to_owned(),
        raw,
        name,
        unit: Unit::Ratio,
        range,
        reason,
        slips: &[],
    };
    let track = ratio(
        "rear.half_track",
        rear.half_track,
        "the rear half track of the front one",
        [0.8, 1.2],
        "within a hand's breadth",
    );
    n.look(&track, |raw| raw * scale / wheel.y);
    let radius = ratio(
        "rear.loaded_radius",
        rear.loaded_radius,
        "the rear loaded radius of the front one",
        [0.85, 1.18],
        "the same tyres or nearly",
    );
    n.look(&radius, |raw| raw / scene.knuckle.loaded_radius);
    n.length(
        "rear.tyre_width".to_owned(),
        "the rear tyres' width",
        rear.tyre_width,
        [150.0, 480.0],
        "185 to 400",
        SIZE,
    );
}
