//! `bindpoint animate`: the suspension in motion, as an animated glTF.

use super::progress::Progress;
use super::{PathArgument, SideArgument, UnitsArgument};
use bindpoint::findings::Status;
use bindpoint::output::animation_glb::write_animation;
use bindpoint::output::animation_text;
use bindpoint::space::{AnimationOptions, PlayPath, animate};
use bindpoint::sweep::free_map;
use bindpoint::sweep::rate_atlas::Atlas;
use bindpoint::sweep::stops::Guard;
use miette::{Result, miette};
use std::path::PathBuf;

#[derive(Debug, clap::Args)]
#[command(after_help = AFTER)]
pub(super) struct Arguments {
    #[command(flatten)]
    scene: super::SceneArguments,
    /// The file (.glb).
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
    /// Which motions, names apart by commas or given again [default: all].
    #[arg(long, value_enum, value_name = "PATH", value_delimiter = ',')]
    path: Vec<PathArgument>,
    /// How long each takes [default: by its length, at 80 mm of travel or rack a second].
    #[arg(long, value_name = "SECONDS", value_parser = super::finite)]
    seconds: Option<f64>,
    /// One wheel alone [default: both].
    #[arg(long, value_enum)]
    side: Option<SideArgument>,
    /// Unit of printed lengths [default: the scene's].
    #[arg(long, value_enum)]
    units: Option<UnitsArgument>,
}

const AFTER: &str = "Metres, y up, z forward, as glTF has it. Both wheels move at once, each to its own full droop and bump. \
                     Exit status: 0 written; 2 it could not be.";

/// No point of a part is off by more between key frames, mm: less than a pixel on any screen.
const MISS_MM: f64 = 0.2;

pub(super) fn run(arguments: &Arguments) -> Result<Status> {
    let ending = arguments.out.extension().unwrap_or_default();
    if !ending.eq_ignore_ascii_case("glb") {
        return Err(miette!(
            help = "animations are written as binary glTF: give a name that ends in .glb",
            "{} is not a .glb",
            arguments.out.display()
        ));
    }
    super::check_targets(&arguments.scene.scene, [arguments.out.as_path()])?;
    let truck = super::load(&arguments.scene)?;
    let units = super::units(arguments.units, truck.scene_unit);
    let mut paths: Vec<PlayPath> = Vec::new();
    for path in arguments.path.iter().map(|p| p.path()) {
        if !paths.contains(&path) {
            paths.push(path);
        }
    }
    if paths.is_empty() {
        paths = PlayPath::ALL.to_vec();
    }
    let progress = Progress::new("free travel");
    let mut maps = Vec::new();
    for (i, corner) in truck.corners.iter().enumerate() {
        progress.show("free travel", i as f64 / truck.corners.len() as f64);
        let atlas = Atlas::build(corner);
        maps.push(free_map(&Guard::new(corner, &atlas, 1.0)));
    }
    progress.show("key frames", 1.0);
    let animation = animate(
        &truck,
        &maps,
        &AnimationOptions {
            side: arguments.side.map(SideArgument::side),
            paths,
            seconds: arguments.seconds,
            miss_mm: MISS_MM,
        },
    )
    .map_err(|error| miette!("{error}"))?;
    write_animation(&arguments.out, &animation)
        .map_err(|error| super::unwritten(&arguments.out, &error))?;
    progress.finish();
    super::print_answer(&truck, units, &animation_text(&animation, units))?;
    Ok(Status::Clear)
}
