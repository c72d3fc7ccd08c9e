//! A part loaded from a mesh file: chosen in a dialog or dropped on the window, looked at, named, and written into the
//! scene's text.
//!
//! The file is read off the main thread. Where it says no unit, one is guessed from its size and asked about; the part
//! stands where its file has it until it is placed.

use super::background::Wake;
use super::document::Document;
use super::file_dialog::OpenDialog;
use super::shown::{Page, Shown};
use super::suspension::PartChoice;
use crate::scene::{MeshUnit, NewPart, string_fields};
use crate::shapes::{MeshError, read_mesh};
use crate::suspension::Body;
use bevy::prelude::*;
use std::path::{Component, Path, PathBuf};
use std::sync::Mutex;
use std::sync::mpsc::{Receiver, TryRecvError, channel};

/// A mesh that may become a part.
#[derive(Clone, Debug, PartialEq)]
pub struct Offer {
    /// Its file.
    pub file: PathBuf,
    /// The part's name to be.
    pub name: String,
    /// The file's unit; none: what the file says.
    pub unit: Option<MeshUnit>,
    /// Millimetres in the unit that the file says, if it says one.
    pub stated_mm: Option<f64>,
    /// The body that is to carry it.
    pub on: Body,
    /// Extent along x, y and z, in the file's own numbers.
    pub size: [f64; 3],
    /// Triangles.
    pub triangles: usize,
}

/// A part that is smaller than this across in its file's numbers was drawn in inches: a bracket of less than 30 mm is
/// rare, one of more than 30 inches rarer.
const INCHES_BELOW: f64 = 30.0;
/// Smaller than this in metres: a bracket of less than an inch is rare.
const METRES_BELOW: f64 = 1.0;

/// The unit of a file that says none, by its greatest extent in its own numbers.
fn guessed(across: f64) -> MeshUnit {
    match across {
        a if a < METRES_BELOW => MeshUnit::M,
        a if a < INCHES_BELOW => MeshUnit::Inch,
        _ => MeshUnit::Mm,
    }
}

impl Offer {
    /// Reads a mesh file.
    ///
    /// # Errors
    /// What is wrong with it and what to do, in words.
    pub fn read(file: &Path) -> Result<Offer, String> {
        let read = |unit: Option<MeshUnit>| read_mesh(file, unit.map(MeshUnit::in_mm));
        let own = read(None);
        let says_none = matches!(own, Err(MeshError::NoUnit { .. }));
        let made = match own {
            // As millimetres first: the numbers then tell what they are.
            Err(MeshError::NoUnit { .. }) => match read(Some(MeshUnit::Mm)) {
                Err(MeshError::Size { extent_mm }) => read(Some(guessed(extent_mm))),
                made => made,
            },
            made => made,
        };
        let mesh =
            made.map_err(|error| format!("{}: {error}\n{}", file.display(), error.help()))?;
        let report = mesh.report;
        let size = report.size_mm.map(|s| s / report.unit_mm);
        let name = file.file_stem().unwrap_or_default().to_string_lossy();
        Ok(Offer {
            file: file.to_owned(),
            name: name.replace('_', " "),
            unit: says_none.then(|| guessed(size.into_iter().fold(0.0, f64::max))),
            stated_mm: (!says_none).then_some(report.unit_mm),
            on: Body::Frame,
            size,
            triangles: report.triangles,
        })
    }

    /// Its extent in the unit chosen, mm.
    pub fn size_mm(&self) -> [f64; 3] {
        let unit_mm = self.unit.map(MeshUnit::in_mm).or(self.stated_mm);
        self.size.map(|s| s * unit_mm.unwrap_or(1.0))
    }

    /// The part as the scene's text has it.
    pub fn part(&self, scene: &Path) -> NewPart {
        NewPart {
            name: self.name.trim().to_owned(),
            on: self.on,
            file: relative(&self.file, scene.parent().unwrap_or(Path::new("."))),
            unit: self.unit,
        }
    }
}

/// A file as seen from a folder, with strokes as every system reads them.
fn relative(file: &Path, folder: &Path) -> String {
    let whole = |path: &Path| std::fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    // A scene beside the working folder has no folder in its name.
    let folder = if folder == Path::new("") {
        Path::new(".")
    } else {
        folder
    };
    let (file, folder) = (whole(file), whole(folder));
    let (to, from): (Vec<Component>, Vec<Component>) =
        (file.components().collect(), folder.components().collect());
    let shared = to.iter().zip(&from).take_while(|(a, b)| a == b).count();
    // On another disk nothing is shared: only the whole path leads there.
    if shared == 0 {
        return file.display().to_string();
    }
    let up = from[shared..].iter().map(|_| "..".to_owned());
    let down = to[shared..]
        .iter()
        .map(|c| c.as_os_str().to_string_lossy().into_owned());
    up.chain(down).collect::<Vec<_>>().join("/")
}

/// Endings of mesh files, for the dialog.
const ENDINGS: [&str; 6] = ["stl", "obj", "ply", "3mf", "gltf", "glb"];

/// What is being loaded.
#[derive(Resource, Default)]
pub struct PartLoading {
    /// Read, and waiting for a person's word.
    pub offer: Option<Offer>,
    problem: Option<String>,
    dialog: Option<OpenDialog>,
    reading: Option<Mutex<Receiver<Result<Offer, String>>>>,
}

impl PartLoading {
    /// Opens the system's dialog.
    pub fn choose_file(&mut self, document: &Document) {
        self.problem = None;
        if self.dialog.is_none() {
            self.dialog = Some(OpenDialog::beside(document.path(), |dialog| {
                dialog.add_filter("mesh", &ENDINGS).pick_file()
            }));
        }
    }

    /// Begins to read a file.
    pub fn read(&mut self, file: PathBuf, wake: &Wake) {
        self.problem = None;
        self.offer = None;
        let (sender, receiver) = channel();
        let wake = wake.clone();
        std::thread::spawn(move || {
            // Another file may have been chosen since: then nobody waits.
            let _ = sender.send(Offer::read(&file));
            (wake.0)();
        });
        self.reading = Some(Mutex::new(receiver));
    }

    /// Whether a file is being read.
    pub fn is_reading(&self) -> bool {
        self.reading.is_some()
    }

    /// Why the last file can't be loaded.
    pub fn problem(&self) -> Option<&str> {
        self.problem.as_deref()
    }

    /// The problem was read.
    pub fn dismiss(&mut self) {
        self.problem = None;
    }

    fn receive(&mut self, read: Result<Offer, String>, document: &Document) {
        self.reading = None;
        match read {
            Ok(offer) => {
                let name = unused(&offer.name, document.text());
                self.offer = Some(Offer { name, ..offer });
            }
            Err(problem) => self.problem = Some(problem),
        }
    }

    /// Writes what is offered into the scene's text.
    pub fn add(&mut self, document: &mut Document, choice: &mut PartChoice) {
        if let Some(offer) = self.offer.take() {
            let part = offer.part(document.path());
            document.add_part(&part);
            choice.picked = Some(part.name);
        }
    }
}

/// A name that no part of a scene has: with a number after it where needed.
fn unused(name: &str, text: &str) -> String {
    let strings = string_fields(text);
    let taken = |name: &str| {
        strings
            .iter()
            .any(|(path, value)| path.ends_with(".name") && value == name)
    };
    let numbered = (2..).map(|i| format!("{name} {i}"));
    std::iter::once(name.to_owned())
        .chain(numbered)
        .find(|name| !taken(name))
        .unwrap_or_default()
}

/// Takes dropped files, and the dialog's.
pub struct PartLoadingPlugin;

impl Plugin for PartLoadingPlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<PartLoading>()
            .init_resource::<Wake>()
            .add_message::<FileDragAndDrop>()
            .add_systems(Update, (take_dropped, take_answers).chain());
    }
}

fn take_dropped(
    mut dropped: MessageReader<FileDragAndDrop>,
    mut loading: ResMut<PartLoading>,
    mut shown: ResMut<Shown>,
    wake: Res<Wake>,
) {
    for message in dropped.read() {
        if let FileDragAndDrop::DroppedFile { path_buf, .. } = message {
            shown.page = Page::Room;
            loading.read(path_buf.clone(), &wake);
        }
    }
}

fn take_answers(mut loading: ResMut<PartLoading>, document: Res<Document>, wake: Res<Wake>) {
    // A look alone is no change.
    if let Some(chosen) = loading.dialog.as_ref().and_then(OpenDialog::answer) {
        loading.dialog = None;
        if let Some(file) = chosen {
            loading.read(file, &wake);
        }
    }
    let read = loading
        .reading
        .as_ref()
        .and_then(|reading| match reading.lock().ok()?.try_recv() {
            Ok(read) => Some(read),
            Err(TryRecvError::Disconnected) => Some(Err("the file could not be read".to_owned())),
            Err(TryRecvError::Empty) => None,
        });
    if let Some(read) = read {
        loading.receive(read, &document);
    }
}

#[cfg(test)]
mod tests {
    use super::{relative, unused};

    #[test]
    fn files_are_named_as_seen_from_the_scene() {
        let folder = tempfile::tempdir().expect("a folder");
        let at = |path: &str| folder.path().join(path);
        for place in ["scenes", "meshes/own"] {
            std::fs::create_dir_all(at(place)).expect("made");
        }
        for (file, seen) in [
            ("scenes/a.stl", "a.stl"),
            ("meshes/own/b.stl", "../meshes/own/b.stl"),
        ] {
            std::fs::write(at(file), "").expect("written");
            assert_eq!(relative(&at(file), &at("scenes")), seen);
        }
    }

    #[test]
    fn a_name_that_is_taken_gets_a_number() {
        let text = "(parts: [(name: \"rail\"), (name: \"rail 2\")])";
        assert_eq!(unused("rail", text), "rail 3");
        assert_eq!(unused("tab", text), "tab");
    }
}
