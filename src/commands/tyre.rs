//! `bindpoint tyre`: the largest tyre that clears.

use super::UnitsArgument;
use super::length_argument::{LengthArgument, asked};
use bindpoint::compare::{LargestTyre, TyreTried, largest_tyre};
use bindpoint::findings::{Status, TyreSurroundings, status_of};
use bindpoint::output::verdict_words::{self, open_end};
use bindpoint::output::{Units, text_width, wrap};
use bindpoint::scene::{SceneError, read_scene};
use bindpoint::truck::MeshStore;
use miette::{Report, Result, miette};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

#[derive(Debug, clap::Args)]
#[command(after_help = AFTER)]
pub(super) struct Arguments {
    #[command(flatten)]
    scene: super::SceneArguments,
    /// Section width [default: the fitted tyre's]: in the scene's unit, or as typed: `90mm`, `3.5in`, `"3 1/2"`, `3-1/2in`.
    #[arg(long, value_name = "W", allow_hyphen_values = true)]
    width: Option<LengthArgument>,
    /// Write everything found as JSON, in mm; `-` prints it instead of the text.
    #[arg(long, value_name = "FILE|-")]
    json: Option<PathBuf>,
    /// Unit of printed lengths [default: the scene's].
    #[arg(long, value_enum)]
    units: Option<UnitsArgument>,
}

const AFTER: &str = "The fitted tyre's outline is scaled to the width and diameter; every required gap of the tyre has to \
                     be kept over the whole free travel, both locks. Exit status: 0 the fitted diameter clears at \
                     this width; 1 it doesn't; 2 it could not be checked. The answer holds \
                     for what the scene draws: where nothing is drawn around the tyre the text and the JSON say so.";

/// Section widths that are made, mm.
const WIDTHS_MM: std::ops::RangeInclusive<f64> = 100.0..=500.0;

pub(super) fn run(arguments: &Arguments) -> Result<Status> {
    let path = &arguments.scene.scene;
    super::check_targets(path, arguments.json.as_deref())?;
    let (scene, text) = read_scene(path).map_err(Report::new)?;
    let width_mm = arguments.width.as_ref().map(|w| w.in_mm(scene.units));
    if let (Some(typed), Some(_)) = (
        &arguments.width,
        width_mm.filter(|w| !WIDTHS_MM.contains(w)),
    ) {
        return Err(miette!(
            help = "give the section width with its unit, such as 285mm or 11.2in",
            "no tyre is {} wide",
            typed.told(scene.units)
        ));
    }
    let folder = path.parent().unwrap_or(Path::new("."));
    let setup = arguments.scene.setup.as_deref();
    let progress = super::progress::Progress::new("tyres tried");
    let mut found = largest_tyre(&scene, setup, width_mm, &MeshStore::new(folder))
        .map_err(|problem| Report::new(SceneError::from_problem(&problem, path, &text)))?;
    progress.finish();
    let told = super::implausible_of(&scene, &text);
    super::locate(&mut found.warnings, &told);
    if let Some(target) = &arguments.json {
        super::write_json(target, &found)?;
    }
    if !arguments.json.as_deref().is_some_and(super::is_stdout) {
        let units = super::units(arguments.units, scene.units);
        let asked = asked(scene.units, [("width", arguments.width.as_ref())]);
        super::print(&format!(
            "{}{asked}{}{}",
            super::implausible(&told, units),
            page(&found, units),
            bindpoint::output::warnings_text(&super::further(&found.warnings, &told), units)
        ))?;
    }
    Ok(if !found.fitted_clears() {
        Status::Found
    } else if !found.open_ends.is_empty() || status_of(&found.standing) != Status::Clear {
        Status::NotChecked
    } else {
        Status::Clear
    })
}

fn page(found: &LargestTyre, units: Units) -> String {
    let mut out = String::new();
    let width = units.with_unit(found.width_mm);
    let text = match (found.clears_diameter_mm, found.not_proved_diameter_mm) {
        (Some(clears), Some(refuted)) => format!(
            "{}: the largest tyre {width} wide that clears is {} in diameter; one of {} isn't proved to. Fitted: {}.",
            found.truck,
            units.at_most_with_unit(clears),
            units.at_least(refuted),
            units.length(found.fitted_diameter_mm)
        ),
        (Some(clears), None) => format!(
            "{}: every tyre {width} wide that was looked at clears, up to {} in diameter. Fitted: {}.",
            found.truck,
            units.at_most_with_unit(clears),
            units.length(found.fitted_diameter_mm)
        ),
        (None, _) => format!(
            "{}: no tyre {width} wide that was looked at clears. Fitted: {} in diameter.",
            found.truck,
            units.with_unit(found.fitted_diameter_mm)
        ),
    };
    let not_fitted = match found.clears_diameter_mm {
        Some(clears) if clears > found.fitted_diameter_mm && !found.fitted_clears() => {
            " The fitted diameter isn't proved to clear: a smaller tyre's sidewall may come nearer to what lies beside it."
        }
        _ => "",
    };
    let text = text + not_fitted;
    let _ = writeln!(out, "{}", wrap(&text, text_width(), ""));
    let mut looked_at = Vec::new();
    for (clears, after) in [(true, "clear"), (false, "aren't proved to")] {
        let sizes = found.sizes.iter().filter(|size| size.clears == clears);
        // A size that clears is told no larger than it is, one that isn't proved to no smaller.
        let told = |size: &TyreTried| match clears {
            true => units.at_most(size.diameter_mm),
            false => units.at_least(size.diameter_mm),
        };
        let sizes: Vec<&TyreTried> = sizes.collect();
        let mut texts: Vec<String> = sizes.iter().map(|size| told(size)).collect();
        texts.dedup();
        let listed = match &texts[..] {
            [] => continue,
            [first, second, .., last] if texts.len() > MOST_LISTED && are_even(&sizes) => {
                format!("{first}, {second} and so on to {last}")
            }
            all => all.join(", "),
        };
        looked_at.push(format!("{listed} {after}"));
    }
    let text = format!(
        "Looked at, in {} of diameter: {}.",
        units.long_name(),
        looked_at.join("; ")
    );
    let _ = writeln!(out, "{}", wrap(&text, text_width(), ""));
    for limit in &found.limits {
        let text = format!(
            "- {}: one of {} comes to {}, near travel {} (bump +), rack {} (left +)",
            limit.side.name(),
            units.at_least(found.limits_diameter_mm.unwrap_or(found.fitted_diameter_mm)),
            limit.stop,
            units.signed(limit.travel_mm),
            units.signed(limit.rack_mm)
        );
        let _ = writeln!(out, "{}", wrap(&text, text_width(), "  "));
    }
    for end in &found.open_ends {
        let text = format!("- NOT FULLY CHECKED {}", open_end(end, units, 0.0));
        let _ = writeln!(out, "{}", wrap(&text, text_width(), "  "));
    }
    for text in verdict_words::standing(&found.standing, units, 0.0) {
        let _ = writeln!(out, "{}", wrap(&format!("- {text}"), text_width(), "  "));
    }
    if let Some(surroundings) = &found.surroundings {
        not_known(&mut out, surroundings, units);
    }
    let _ = writeln!(
        out,
        "{}",
        wrap(
            "Sizes were asked every half inch outward from the fitted one until one failed; where the fitted one fails, larger \
             ones first, up to half its section height, then smaller ones: between the sizes listed nothing is known. Proved for a rigid \
             tyre of the fitted one's shape, scaled, over the free travel that all else leaves. \
             Tyres grow with speed and bulge under load, and sizes differ by make: leave room, and cycle the \
             real one by hand.",
            text_width(),
            ""
        )
    );
    out
}

/// More sizes than this aren't listed one by one where they are evenly apart.
const MOST_LISTED: usize = 12;

/// Whether sizes, the smallest first, are evenly apart.
fn are_even(sizes: &[&TyreTried]) -> bool {
    const SAME_MM: f64 = 0.01;
    let mut steps = sizes
        .windows(2)
        .map(|two| two[1].diameter_mm - two[0].diameter_mm);
    let first = steps.clone().next().unwrap_or_default();
    steps.all(|step| (step - first).abs() < SAME_MM)
}

/// Where nothing is drawn around the tyre, and what to draw.
fn not_known(out: &mut String, surroundings: &TyreSurroundings, units: Units) {
    if !surroundings.nothing_there.is_empty() {
        let at: Vec<String> = (surroundings.nothing_there.iter())
            .map(|n| format!("{} {}", n.side.name(), n.sector.name()))
            .collect();
        let text = format!(
            "Nothing is drawn there, and nothing is, as the scene's `tyre.nothing_there` says: {}.",
            at.join(", ")
        );
        let _ = writeln!(out, "{}", wrap(&text, text_width(), ""));
    }
    if surroundings.nothing_drawn.is_empty() {
        return;
    }
    let head = format!(
        "NOT KNOWN in some directions: nothing that the tyre is watched against is drawn there, within {} of the wheel's \
         centre or {} of the tyre's faces, so what the truck has there may be hit by any of these tyres. Ahead, above and \
         behind only parts on the frame count. Where the truck has nothing, name the direction in the scene's tyre, \
         `nothing_there: [outboard]`.",
        units.at_most_with_unit(surroundings.within_mm),
        units.at_most_with_unit(surroundings.beside_mm)
    );
    let _ = writeln!(out, "{}", wrap(&head, text_width(), ""));
    for nothing in &surroundings.nothing_drawn {
        let places: Vec<String> = nothing.at.iter().map(|place| place.name()).collect();
        let at = if nothing.at == surroundings.places {
            "at every place looked at".to_owned()
        } else {
            places.join("; ")
        };
        let text = format!(
            "- {}, {} ({at}): draw {}",
            nothing.side.name(),
            nothing.sector.name(),
            nothing.draw
        );
        let _ = writeln!(out, "{}", wrap(&text, text_width(), "  "));
    }
}
