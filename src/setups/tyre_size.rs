//! Tyre sizes as written on the sidewall, and a tyre part scaled from one size to another.

use super::components::EachSide;
use super::{Result, listed, part_names};
use crate::scene::{Problem, Scene, ShapeEntry, Tyre, TyreSize};
use crate::suspension::Body;

/// A tyre's measures, unloaded, in millimetres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TyreMeasures {
    /// Outer diameter.
    pub diameter_mm: f64,
    /// Section width.
    pub width_mm: f64,
    /// Rim diameter.
    pub rim_diameter_mm: f64,
}

impl TyreMeasures {
    /// From the rim's diameter to the tread, in radius.
    pub fn section_height_mm(&self) -> f64 {
        0.5 * (self.diameter_mm - self.rim_diameter_mm)
    }
}

const INCH_MM: f64 = 25.4;

/// The outline of a tyre that is drawn by its size, shares of section width and height. Common practice, no source: fuller
/// than most tyres of a size, so that what clears it clears them. Beads are pinched to the rim's width, the bulge begins
/// low, and mud-terrain shoulders are square.
const BEAD_SHARE: f64 = 0.84;
const BULGE_FROM: f64 = 0.3;
const SHOULDER_SHARE: f64 = 0.2;
const TREAD_SHARE: f64 = 0.8;

/// The outline (along, radius) of the tyre that the scene's size makes, mm, `along` from its middle. `tread_width` and
/// `shoulder_drop` are those of [`ShapeEntry::Tyre`].
///
/// # Errors
/// A scene without a tyre, or numbers that make none.
pub fn tyre_outline(
    scene: &Scene,
    tread_width: Option<f64>,
    shoulder_drop: Option<f64>,
    path: &str,
) -> Result<Vec<[f64; 2]>> {
    let scale = scene.units.in_mm();
    let size = measures(&fitted(scene, path)?.size, scale, "tyre.size")?;
    let (width, height) = (size.width_mm, size.section_height_mm());
    let within = |given: Option<f64>, share: f64, most: f64, field: &str, whole: &str| {
        let Some(value) = given else {
            return Ok(share);
        };
        if value.is_finite() && value > 0.0 && value * scale <= most {
            return Ok(value * scale);
        }
        Err(Problem::at(
            format!("{path}.{field}"),
            format!("{value} doesn't fit this tyre"),
            format!("it is above zero and at most {most:.0} mm, {whole}"),
        ))
    };
    let tread = within(
        tread_width,
        TREAD_SHARE * width,
        width,
        "tread_width",
        "the section width",
    )?;
    let drop = within(
        shoulder_drop,
        SHOULDER_SHARE * height,
        (1.0 - BULGE_FROM) * height,
        "shoulder_drop",
        "from the tread to where its sides are widest",
    )?;
    let (rim, most) = (0.5 * size.rim_diameter_mm, 0.5 * size.diameter_mm);
    let right = [
        [0.5 * BEAD_SHARE * width, rim],
        [0.5 * width, rim + BULGE_FROM * height],
        [0.5 * width, most - drop],
        [0.5 * tread, most],
    ];
    let left = right.iter().rev().map(|[along, r]| [-along, *r]);
    Ok(right.iter().copied().chain(left).collect())
}

/// Reads a size code. Metric: width in mm, aspect ratio in percent, rim in inches, diameter = 25.4 rim + 2
/// width aspect / 100 (the ISO metric marking of ISO 4000-1 and UN Regulation No. 30, 2.17; the rounded tables
/// of UN Regulation No. 54 may differ by 3 mm). Inch sizes give the diameter itself. A leading `LT` or `P` and
/// load or speed marks behind are allowed.
pub fn tyre_measures(code: &str) -> Option<TyreMeasures> {
    let text = code.trim().to_ascii_uppercase();
    let text = text.strip_prefix("LT").unwrap_or(&text);
    let text = text.strip_prefix('P').unwrap_or(text).trim();
    // `285/70R17 121S`: what follows a blank is load and speed.
    let text = text.split_whitespace().next()?;
    let rim_at = text.find(['R', 'D', '-', 'B'])?;
    let (front, rim) = (&text[..rim_at], text[rim_at + 1..].trim_end_matches("LT"));
    let plain = |t: &str| -> Option<f64> {
        let digits = !t.is_empty() && t.chars().all(|c| c.is_ascii_digit() || c == '.');
        digits.then(|| t.parse().ok()).flatten()
    };
    let rim_mm = plain(rim).filter(|r| (8.0..=30.0).contains(r))? * INCH_MM;
    let (diameter_mm, width_mm) = if let Some((width, aspect)) = front.split_once('/') {
        let width = plain(width).filter(|w| (100.0..=500.0).contains(w))?;
        let aspect = plain(aspect).filter(|a| (20.0..=110.0).contains(a))?;
        (rim_mm + 2.0 * width * aspect / 100.0, width)
    } else {
        let (diameter, width) = front.split_once('X')?;
        let diameter = plain(diameter).filter(|d| (20.0..=60.0).contains(d))?;
        let width = plain(width).filter(|w| (5.0..=25.0).contains(w))?;
        (diameter * INCH_MM, width * INCH_MM)
    };
    (diameter_mm > rim_mm).then_some(TyreMeasures {
        diameter_mm,
        width_mm,
        rim_diameter_mm: rim_mm,
    })
}

/// A scene's tyre size, in millimetres.
fn measures(size: &TyreSize, scale: f64, path: &str) -> Result<TyreMeasures> {
    match size {
        TyreSize::Code(code) => tyre_measures(code).ok_or_else(|| {
            Problem::at(
                path,
                format!("`{code}` is not a tyre size"),
                "write it as on the sidewall: 285/70R17, or in inches 33x12.50R17",
            )
        }),
        TyreSize::Measured {
            diameter,
            width,
            rim_diameter,
        } => {
            let sound = [diameter, width, rim_diameter]
                .iter()
                .all(|v| v.is_finite() && **v > 0.0)
                && diameter > rim_diameter;
            if !sound {
                return Err(Problem::at(
                    path,
                    "these measures make no tyre",
                    "give diameter, width and rim_diameter above zero, the rim smaller than the tyre",
                ));
            }
            Ok(TyreMeasures {
                diameter_mm: diameter * scale,
                width_mm: width * scale,
                rim_diameter_mm: rim_diameter * scale,
            })
        }
    }
}

/// The tyre that a scene has; `path` is where it is asked for.
fn fitted<'s>(scene: &'s Scene, path: &str) -> Result<&'s Tyre> {
    scene.tyre.as_ref().ok_or_else(|| {
        Problem::at(
            path,
            "the scene doesn't say which tyre is fitted",
            "add `tyre: (size: Code(\"265/70R17\"))` to the scene",
        )
    })
}

/// The measures of the tyre that is fitted.
///
/// # Errors
/// A scene without a tyre, or with a size that makes none.
pub fn fitted_measures(scene: &Scene) -> Result<TyreMeasures> {
    measures(
        &fitted(scene, "tyre")?.size,
        scene.units.in_mm(),
        "tyre.size",
    )
}

/// Fits another tyre: its part scaled as the sizes are to each other, its loaded radius set.
pub(super) fn fit(
    scene: &mut Scene,
    size: &TyreSize,
    loaded_radius: Option<f64>,
    path: &str,
) -> Result<()> {
    fit_scaled(scene, size, loaded_radius, path, |old, _| *old)
}

/// The same tyres on the rear wheels: as much larger and wider as in front. Asked before those are changed.
pub(super) fn fit_rear(scene: &mut Scene, size: &TyreSize, path: &str) -> Result<()> {
    let scale = scene.units.in_mm();
    let old = measures(&fitted(scene, path)?.size, scale, "tyre.size")?;
    let new = measures(size, scale, &format!("{path}.size"))?;
    if let Some(rear) = &mut scene.rear {
        rear.loaded_radius += 0.5 * (new.diameter_mm - old.diameter_mm) / scale;
        rear.tyre_width *= new.width_mm / old.width_mm;
    }
    Ok(())
}

/// The same with the part scaled from measures that may depend on its outline, scene units.
fn fit_scaled(
    scene: &mut Scene,
    size: &TyreSize,
    loaded_radius: Option<f64>,
    path: &str,
    from: impl Fn(&TyreMeasures, &[(f64, f64)]) -> TyreMeasures,
) -> Result<()> {
    let scale = scene.units.in_mm();
    let tyre = fitted(scene, path)?.clone();
    let old = measures(&tyre.size, scale, "tyre.size")?;
    let new = measures(size, scale, &format!("{path}.size"))?;
    let gain = 0.5 * (new.diameter_mm - old.diameter_mm) / scale;
    let loaded_path = format!("{path}.loaded_radius");
    if let Some(radius) = loaded_radius
        && !(radius.is_finite() && radius > 0.0 && radius * scale <= 0.5 * new.diameter_mm)
    {
        return Err(Problem::at(
            loaded_path,
            format!("{radius} is no loaded radius of this tyre"),
            "it is above zero and at most half of the tyre's diameter",
        ));
    }
    scene.each_knuckle(|knuckle, _| {
        knuckle.loaded_radius = loaded_radius.unwrap_or(knuckle.loaded_radius + gain);
    });
    let mut found = false;
    let parts = scene.parts.iter_mut().chain(&mut scene.other_side.parts);
    for part in parts.filter(|p| p.name == tyre.part) {
        found = true;
        if matches!(part.shape, ShapeEntry::Tyre { .. }) {
            continue;
        }
        let ShapeEntry::Lathe { profile, .. } = &mut part.shape else {
            return Err(Problem::at(
                path,
                format!(
                    "the part `{}` is no lathe, so it can't be scaled",
                    tyre.part
                ),
                "draw the tyre as a Lathe about the spindle, or use ReplacePart",
            ));
        };
        let drawn = from(&old, profile);
        scale_profile(profile, &drawn, &new, scale);
    }
    if !found {
        return Err(Problem::at(
            "tyre.part",
            format!("no part is named `{}`", tyre.part),
            format!("the parts are: {}", listed(part_names(scene))),
        ));
    }
    // Those drawn by their size follow it; what is given of them grows as a drawn outline does.
    let parts = scene.parts.iter_mut().chain(&mut scene.other_side.parts);
    for part in parts {
        if let ShapeEntry::Tyre {
            tread_width,
            shoulder_drop,
        } = &mut part.shape
        {
            tread_width
                .iter_mut()
                .for_each(|w| *w *= new.width_mm / old.width_mm);
            shoulder_drop
                .iter_mut()
                .for_each(|d| *d *= new.section_height_mm() / old.section_height_mm());
        }
    }
    if new.rim_diameter_mm != old.rim_diameter_mm {
        scale_rim(scene, &tyre.part, [&old, &new], path)?;
    }
    if let Some(tyre) = &mut scene.tyre {
        tyre.size = size.clone();
    }
    Ok(())
}

/// Another rim: what is drawn on the wheel beside the tyre is as much larger or smaller in radius.
fn scale_rim(scene: &mut Scene, tyre: &str, sizes: [&TyreMeasures; 2], path: &str) -> Result<()> {
    let [old, new] = sizes.map(|size| size.rim_diameter_mm);
    let parts = scene.parts.iter_mut().chain(&mut scene.other_side.parts);
    let is_by_size = |shape: &ShapeEntry| matches!(shape, ShapeEntry::Tyre { .. });
    for part in parts.filter(|p| p.on == Body::Wheel && p.name != tyre && !is_by_size(&p.shape)) {
        let ShapeEntry::Lathe { profile, .. } = &mut part.shape else {
            return Err(Problem::at(
                format!("{path}.size"),
                format!(
                    "this tyre is for a rim of {:.0} inches, and `{}`, drawn for {:.0}, is no lathe that could be scaled",
                    new / INCH_MM,
                    part.name,
                    old / INCH_MM
                ),
                "take it off with `RemovePart` before the tyre, and give the new one with `AddPart` after it",
            ));
        };
        for (_, radius) in profile {
            *radius *= new / old;
        }
    }
    Ok(())
}

/// How far the drawn tyre's outside may be from what its size says, mm: makes differ.
const DRAWN_TYRE_MM: f64 = 12.0;

/// Refuses a tyre that is drawn smaller than its size: scaled from that, every size would clear too well.
///
/// # Errors
/// [`Problem`] at the tyre's part.
pub fn check_drawn_tyre(scene: &Scene) -> Result<()> {
    if let Some(other) = &scene.other_corner {
        check_drawn_tyre(other)?;
    }
    let size = fitted_measures(scene)?;
    let scale = scene.units.in_mm();
    let tyre = fitted(scene, "tyre")?;
    let lists = [
        ("parts", &scene.parts),
        ("other_side.parts", &scene.other_side.parts),
    ];
    let drawn = lists.iter().flat_map(|(list, parts)| {
        let own = parts
            .iter()
            .enumerate()
            .filter(|(_, p)| p.name == tyre.part);
        own.map(move |(i, part)| (format!("{list}[{i}].shape"), &part.shape))
    });
    for (path, shape) in drawn {
        let ShapeEntry::Lathe { profile, .. } = shape else {
            continue;
        };
        let drawn_mm = 2.0 * outside(profile) * scale;
        if drawn_mm < size.diameter_mm - 2.0 * DRAWN_TYRE_MM {
            return Err(Problem::at(
                path,
                format!(
                    "the tyre is drawn {drawn_mm:.0} mm in diameter, and its size says {:.0}",
                    size.diameter_mm
                ),
                "draw it as large as its size, or give the size as `Measured(..)` by what it measures",
            ));
        }
    }
    Ok(())
}

/// An outline's greatest radius.
fn outside(profile: &[(f64, f64)]) -> f64 {
    profile.iter().map(|p| p.1).fold(0.0, f64::max)
}

/// Measures no larger than what is drawn: an outline scaled from these is as wide and as high as the new size at least. Where
/// the rim's size leaves the drawn sidewall no height, its diameter stays what the size says.
fn as_drawn(size: &TyreMeasures, profile: &[(f64, f64)], scale: f64) -> TyreMeasures {
    let along = profile.iter().map(|p| p.0);
    let ends = along.fold([f64::INFINITY, f64::NEG_INFINITY], |e, x| {
        [e[0].min(x), e[1].max(x)]
    });
    let drawn_mm = 2.0 * outside(profile) * scale;
    TyreMeasures {
        width_mm: size.width_mm.min((ends[1] - ends[0]) * scale),
        diameter_mm: if drawn_mm > size.rim_diameter_mm {
            size.diameter_mm.min(drawn_mm)
        } else {
            size.diameter_mm
        },
        ..*size
    }
}

/// A scene with a tyre of other measures, for looking for the largest that fits; the loaded radius gains half
/// of what the diameter gains. The part is no smaller than the measures, however it was drawn.
///
/// # Errors
/// As for a setup's `Tyre` change.
pub fn resized(scene: &Scene, diameter_mm: f64, width_mm: f64) -> Result<Scene> {
    let scale = scene.units.in_mm();
    let size = TyreSize::Measured {
        diameter: diameter_mm / scale,
        width: width_mm / scale,
        rim_diameter: fitted_measures(scene)?.rim_diameter_mm / scale,
    };
    let mut out = scene.clone();
    fit_scaled(&mut out, &size, None, "tyre", |old, profile| {
        as_drawn(old, profile, scale)
    })?;
    if let Some(other) = &mut out.other_corner {
        fit_scaled(other, &size, None, "tyre", |old, profile| {
            as_drawn(old, profile, scale)
        })?;
    }
    Ok(out)
}

/// Scales a tyre's outline: across by the section widths, outward from the rim by the section heights.
fn scale_profile(profile: &mut [(f64, f64)], old: &TyreMeasures, new: &TyreMeasures, scale: f64) {
    let ends = profile
        .iter()
        .fold([f64::INFINITY, -f64::INFINITY], |e, p| {
            [e[0].min(p.0), e[1].max(p.0)]
        });
    let middle = 0.5 * (ends[0] + ends[1]);
    let wider = new.width_mm / old.width_mm;
    let rims = [old, new].map(|t| 0.5 * t.rim_diameter_mm / scale);
    let higher = (new.diameter_mm - new.rim_diameter_mm) / (old.diameter_mm - old.rim_diameter_mm);
    for (along, radius) in profile {
        *along = middle + (*along - middle) * wider;
        *radius = if *radius > rims[0] {
            rims[1] + (*radius - rims[0]) * higher
        } else {
            *radius * rims[1] / rims[0]
        };
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Diameter = 25.4 rim + 2 width aspect/100: formula published in many places, values derived from it.
    #[test]
    fn size_codes_give_their_diameters() {
        for (code, diameter_mm) in [
            ("265/70R17", 802.8),
            ("285/70R17", 830.8),
            ("315/70R17", 872.8),
            ("265/75R16", 803.9),
            ("285/75R16", 833.9),
            ("235/85R16", 805.9),
            ("LT285/70R17 121/118S", 830.8),
            ("33x12.50R17LT", 838.2),
            ("35X12.5-17", 889.0),
        ] {
            let found = tyre_measures(code).unwrap_or_else(|| panic!("{code}"));
            assert!(
                (found.diameter_mm - diameter_mm).abs() < 0.0501,
                "{code}: {found:?}"
            );
        }
        for junk in [
            "",
            "285/70",
            "285R17",
            "a/bRc",
            "285/70R99",
            "9x9R17",
            "285/7000R17",
            "\u{e9}R17",
        ] {
            assert_eq!(tyre_measures(junk), None, "{junk:?}");
        }
    }
}
