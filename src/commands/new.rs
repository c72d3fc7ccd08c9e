//! `bindpoint new`: a scene to fill in.

use bindpoint::findings::Status;
use bindpoint::output::write_new_file;
use bindpoint::scene::{FrontEnd, LengthUnit, new_scene, scene_from_text};
use clap::ValueEnum;
use miette::{Result, miette};
use std::io;
use std::path::{Path, PathBuf};

#[derive(Debug, clap::Args)]
#[command(after_help = AFTER)]
pub(super) struct Arguments {
    /// The truck's name; the scene is written to NAME.ron. With a folder in front it is written there.
    name: PathBuf,
    /// The unit of every length in it, as your tape shows them.
    #[arg(long, value_enum, default_value_t = SceneUnit::Mm)]
    units: SceneUnit,
    /// What holds the knuckle's upper end.
    #[arg(long, value_enum, default_value_t = HeldBy::Arms)]
    front_end: HeldBy,
}

const AFTER: &str = "The scene is an invented truck that works as it is: replace its numbers by yours, one by one. Its \
                     comments say what to measure from where. Exit status: 0 written; 2 it could not be.";

/// What holds the knuckle, as typed.
#[derive(Clone, Copy, Debug, ValueEnum)]
enum HeldBy {
    /// Two control arms.
    Arms,
    /// A lower control arm and a strut.
    Strut,
}

/// The unit of a scene's lengths, as typed.
#[derive(Clone, Copy, Debug, ValueEnum)]
enum SceneUnit {
    /// Millimetres.
    Mm,
    /// Inches, with fractions.
    Inch,
}

pub(super) fn run(arguments: &Arguments) -> Result<Status> {
    let (file, name) = file_and_name(&arguments.name)?;
    let unit = match arguments.units {
        SceneUnit::Mm => LengthUnit::Mm,
        SceneUnit::Inch => LengthUnit::Inch,
    };
    let front_end = match arguments.front_end {
        HeldBy::Arms => FrontEnd::Arms,
        HeldBy::Strut => FrontEnd::Strut,
    };
    let text = new_scene(&name, unit, front_end);
    // The numbers are sound; a name may be too long, or one that can't be printed.
    scene_from_text(&text, &file).map_err(|error| {
        miette!(
            help = "give a short name on one line, such as `my truck`",
            "this can't be a truck's name: {error}"
        )
    })?;
    write_new_file(&file, |unfinished| std::fs::write(unfinished, &text)).map_err(|error| {
        if error.kind() == io::ErrorKind::AlreadyExists {
            return miette!(
                help = "give another name, or move that file out of the way",
                "{} is there already, and stays as it is",
                file.display()
            );
        }
        super::unwritten(&file, &error)
    })?;
    super::print(&format!(
        "{}: written, lengths in {}. It is an invented truck: replace its numbers by yours, and run `bindpoint check` on \
         it after every few.\n",
        file.display(),
        match unit {
            LengthUnit::Mm => "millimetres",
            LengthUnit::Inch => "inches",
        }
    ))?;
    Ok(Status::Clear)
}

/// The file to write, and the truck's name.
fn file_and_name(typed: &Path) -> Result<(PathBuf, String)> {
    let unnamed = || {
        miette!(
            help = "give the truck's name: `bindpoint new \"my truck\"` writes my truck.ron",
            "`{}` names no file",
            typed.display()
        )
    };
    let own = typed.file_name().ok_or_else(unnamed)?.to_string_lossy();
    let ending = own
        .rsplit_once('.')
        .filter(|(_, e)| e.eq_ignore_ascii_case("ron"));
    let (file, name) = match ending {
        Some((name, _)) => (typed.to_owned(), name.to_owned()),
        None => (typed.with_file_name(format!("{own}.ron")), own.to_string()),
    };
    if name.trim().is_empty() {
        return Err(unnamed());
    }
    Ok((file, name))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_file_is_named_as_the_truck() {
        for (typed, file, name) in [
            ("my truck", "my truck.ron", "my truck"),
            ("trucks/Fell 1.5", "trucks/Fell 1.5.ron", "Fell 1.5"),
            ("a.ron", "a.ron", "a"),
            ("b.RON", "b.RON", "b"),
        ] {
            let (found, called) = file_and_name(Path::new(typed)).expect(typed);
            assert_eq!((found, called.as_str()), (PathBuf::from(file), name));
        }
        for typed in ["", "..", "/", ".ron", " "] {
            assert!(file_and_name(Path::new(typed)).is_err(), "{typed}");
        }
    }
}
