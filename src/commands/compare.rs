//! `bindpoint compare`: setups side by side.

use super::UnitsArgument;
use bindpoint::compare::compare;
use bindpoint::findings::{Comparison, Status};
use bindpoint::output::{self, compare_text};
use bindpoint::scene::{SceneError, read_scene};
use bindpoint::setups::AS_MEASURED;
use bindpoint::truck::MeshStore;
use miette::{Report, Result, miette};
use std::path::{Path, PathBuf};

#[derive(Debug, clap::Args)]
#[command(after_help = AFTER)]
pub(super) struct Arguments {
    /// The scene file (.ron).
    scene: PathBuf,
    /// Setups to compare, the first with the others; `as-measured` is the truck without any. With none: the
    /// truck as measured with every setup of the scene; with one: the truck as measured with that.
    #[arg(value_name = "SETUP")]
    setups: Vec<String>,
    /// Write everything found as JSON, in mm and degrees; `-` prints it instead of the text.
    #[arg(long, value_name = "FILE|-")]
    json: Option<PathBuf>,
    /// Write every measure to this CSV file, in mm and degrees.
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// Draw the free-travel maps, each over the first one's, into this picture (.svg or .png).
    #[arg(long, value_name = "FILE")]
    picture: Option<PathBuf>,
    /// Unit of printed lengths [default: the scene's].
    #[arg(long, value_enum)]
    units: Option<UnitsArgument>,
}

const AFTER: &str = "Exit status: 0 nothing that fitted in the first column is missing in another; 1 something no \
                     longer fits; 2 it could not be checked.";

pub(super) fn run(arguments: &Arguments) -> Result<Status> {
    let targets = [&arguments.csv, &arguments.picture, &arguments.json];
    super::check_targets(
        &arguments.scene,
        targets.into_iter().flatten().map(PathBuf::as_path),
    )?;
    let (scene, text) = read_scene(&arguments.scene).map_err(Report::new)?;
    let folder = arguments.scene.parent().unwrap_or(Path::new("."));
    let mut setups: Vec<Option<String>> = arguments
        .setups
        .iter()
        .map(|name| (name != AS_MEASURED).then(|| name.clone()))
        .collect();
    if setups.len() == 1 {
        setups.insert(0, None);
    }
    if setups.is_empty() && scene.setups.is_empty() {
        return Err(miette!(
            help = "add `setups: [(name: \"long damper\", changes: [Damper(longer: 25)])]` to it, see `bindpoint \
                    schema`",
            "the scene has no setups to compare"
        ));
    }
    if let Some(file) = &arguments.picture
        && !output::map_picture::is_picture_name(file)
    {
        return Err(miette!(
            help = "name a picture that ends in .svg or .png",
            "{} is no picture's name",
            file.display()
        ));
    }
    let progress = super::progress::Progress::new("setups swept");
    let mut compared = compare(
        &scene,
        &setups,
        &MeshStore::new(folder),
        arguments.picture.is_some(),
        &|share| progress.show("setups swept", share),
    )
    .map_err(|problem| Report::new(SceneError::from_problem(&problem, &arguments.scene, &text)))?;
    progress.finish();
    let told = super::implausible_of(&scene, &text);
    super::locate(&mut compared.comparison.warnings, &told);
    let comparison = &compared.comparison;
    let units = super::units(arguments.units, scene.units);
    if let Some(file) = &arguments.csv {
        output::write_comparison(file, comparison).map_err(|e| super::unwritten(file, &e))?;
    }
    if let Some(file) = &arguments.picture {
        let picture = output::map_picture::MapPicture::of(&compared, units);
        output::map_picture::write(file, &picture).map_err(|e| super::unwritten(file, &e))?;
    }
    if let Some(target) = &arguments.json {
        super::write_json(target, comparison)?;
    }
    if !arguments.json.as_deref().is_some_and(super::is_stdout) {
        let shown = Comparison {
            warnings: super::further(&comparison.warnings, &told),
            ..comparison.clone()
        };
        super::print(&format!(
            "{}{}",
            super::implausible(&told, units),
            compare_text(&shown, units)
        ))?;
    }
    let columns = comparison.columns.iter();
    Ok(columns
        .map(|c| {
            if c.cannot_be_built.is_some() || !c.no_longer_fits.is_empty() {
                Status::Found
            } else if !c.undecided.is_empty() {
                Status::NotChecked
            } else {
                Status::Clear
            }
        })
        .max()
        .unwrap_or(Status::Clear))
}
