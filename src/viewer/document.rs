//! The scene being looked at: its text, the truck made from it, undo and redo, saving and reloading.
//!
//! Every change is a change of the text, which is then read like any scene file, or another of its setups.
//! Where the text can't be used, its message is kept and the last good truck stays. Nothing here knows of
//! windows.

use crate::output::replace_file;
use crate::scene::{
    NewPart, Scene, SceneError, scene_from_text, with_number, with_part, with_placement,
};
use crate::setups::setup_names;
use crate::truck::{Corner, MeshStore, Truck, assemble_setup};
use bevy::prelude::Resource;
use miette::Diagnostic;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// What a text was before a change, and which field the change was to.
#[derive(Clone, Debug)]
struct Step {
    text: String,
    path: Option<String>,
}

/// One scene file, open.
#[derive(Resource, Debug)]
pub struct Document {
    path: PathBuf,
    text: String,
    saved: String,
    undo: Vec<Step>,
    redo: Vec<Step>,
    truck: Arc<Truck>,
    /// The setup asked for; none: as measured.
    setup: Option<String>,
    /// The names of the setups that the last good text has.
    setups: Vec<String>,
    /// What a person should be told, once.
    notice: Option<String>,
    corner: usize,
    problem: Option<String>,
    /// Why the file could not be read again.
    unread: Option<String>,
    generation: u64,
    /// Grows with every new text and every other setup; `made_from` is the one that `truck` or `problem` came
    /// from.
    revision: u64,
    /// Grows with every new text.
    text_revision: u64,
    made_from: u64,
    in_background: bool,
    /// Whether the next change of the same field joins the last one: a value being dragged.
    scrubbing: Option<String>,
}

/// Changes that can be taken back.
const MOST_UNDO: usize = 200;

/// A truck made from a text, and what the text offers beside it.
#[derive(Debug)]
pub struct Made {
    /// The truck.
    pub truck: Truck,
    /// The names of the text's setups, in its order.
    pub setups: Vec<String>,
    /// The setup asked for, where the text has none of that name: the truck is then as measured.
    pub lost: Option<String>,
}

/// What a truck is to be made from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Wanted {
    /// For [`Document::receive`].
    pub revision: u64,
    /// Grows with the text alone.
    pub text_revision: u64,
    /// The scene's text.
    pub text: String,
    /// Its file.
    pub path: PathBuf,
    /// Which of its setups; none: as measured.
    pub setup: Option<String>,
}

impl Document {
    /// Opens a scene file, as measured.
    ///
    /// # Errors
    /// As [`crate::truck::load`].
    pub fn open(path: &Path) -> Result<Document, SceneError> {
        Document::open_setup(path, None)
    }

    /// Opens a scene file with one of its setups.
    ///
    /// # Errors
    /// As [`crate::truck::load_setup`].
    pub fn open_setup(path: &Path, setup: Option<&str>) -> Result<Document, SceneError> {
        let (_, text) = crate::scene::read_scene(path)?;
        let made = truck_of(&text, path, setup)?;
        Ok(Document {
            path: path.to_owned(),
            saved: text.clone(),
            text,
            undo: Vec::new(),
            redo: Vec::new(),
            truck: Arc::new(made.truck),
            setup: setup.map(str::to_owned),
            setups: made.setups,
            notice: None,
            corner: 0,
            problem: None,
            unread: None,
            generation: 0,
            revision: 0,
            text_revision: 0,
            made_from: 0,
            in_background: false,
            scrubbing: None,
        })
    }

    /// The file.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The file's name without its folder.
    pub fn file_name(&self) -> String {
        let name = self.path.file_name().unwrap_or(self.path.as_os_str());
        name.to_string_lossy().into_owned()
    }

    /// The text as changed.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The last truck that could be made from the text.
    pub fn truck(&self) -> &Arc<Truck> {
        &self.truck
    }

    /// The setup asked for; none: as measured. The last truck that could be made knows its own.
    pub fn setup(&self) -> Option<&str> {
        self.setup.as_deref()
    }

    /// The names of the scene's setups, in its order.
    pub fn setups(&self) -> &[String] {
        &self.setups
    }

    /// Puts the truck into another setup, or back as measured. That is no change of the text: undo leaves it.
    pub fn choose_setup(&mut self, setup: Option<&str>) {
        if self.setup.as_deref() != setup {
            self.setup = setup.map(str::to_owned);
            self.make_anew();
        }
    }

    /// What a person should be told, if anything, once.
    pub fn take_notice(&mut self) -> Option<String> {
        self.notice.take()
    }

    /// The corner being looked at.
    pub fn corner(&self) -> &Corner {
        &self.truck.corners[self.corner]
    }

    /// Its number among the truck's.
    pub fn corner_number(&self) -> usize {
        self.corner
    }

    /// Looks at another corner of a truck whose sides differ.
    pub fn look_at_corner(&mut self, corner: usize) {
        if corner != self.corner && corner < self.truck.corners.len() {
            self.corner = corner;
            self.generation += 1;
        }
    }

    /// Why the text can't be used, if it can't.
    pub fn problem(&self) -> Option<&str> {
        self.unread.as_deref().or(self.problem.as_deref())
    }

    /// Grows with every new truck: results of an older one are out of date.
    pub fn generation(&self) -> u64 {
        self.generation
    }

    /// Counts as a new truck, so that everything about it is found anew: for measuring.
    pub fn begin_again(&mut self) {
        self.generation += 1;
    }

    /// Whether there are changes that no file holds. Not named `is_changed`: a resource has a method of that
    /// name from Bevy, which would be called instead.
    pub fn is_unsaved(&self) -> bool {
        self.text != self.saved
    }

    /// Changes the number at `path`. While a value is dragged, its changes are one step of undo.
    pub fn change_number(&mut self, path: &str, value: f64) {
        if let Some(text) = with_number(&self.text, path, value) {
            self.change(path, text);
        }
    }

    /// Places a mesh: `shape` is its path, such as `parts[3].shape`, `at` in the scene's unit. While it is moved, its
    /// changes are one step of undo.
    pub fn place(&mut self, shape: &str, at: [f64; 3], turned_deg: [f64; 3]) {
        if let Some(text) = with_placement(&self.text, shape, at, turned_deg) {
            self.change(shape, text);
        }
    }

    /// Adds a mesh to the parts. Nothing where the text is no scene.
    pub fn add_part(&mut self, part: &NewPart) {
        if let Some((text, path)) = with_part(&self.text, part) {
            self.change(&path, text);
            self.end_change();
        }
    }

    fn change(&mut self, path: &str, text: String) {
        if text == self.text {
            return;
        }
        if self.scrubbing.as_deref() != Some(path) {
            self.remember(Some(path.to_owned()));
            self.scrubbing = Some(path.to_owned());
        }
        self.redo.clear();
        self.take(text);
    }

    /// Ends a drag: the next change is a step of its own.
    pub fn end_change(&mut self) {
        self.scrubbing = None;
    }

    /// Takes the last change back. Returns the field it was to.
    pub fn undo(&mut self) -> Option<String> {
        self.scrubbing = None;
        let step = self.undo.pop()?;
        self.redo.push(Step {
            text: self.text.clone(),
            path: step.path.clone(),
        });
        self.take(step.text);
        step.path
    }

    /// Makes the last change that was taken back again.
    pub fn redo(&mut self) -> Option<String> {
        self.scrubbing = None;
        let step = self.redo.pop()?;
        self.undo.push(Step {
            text: self.text.clone(),
            path: step.path.clone(),
        });
        self.take(step.text);
        step.path
    }

    /// Whether something can be taken back, and made again.
    pub fn can_undo_redo(&self) -> [bool; 2] {
        [!self.undo.is_empty(), !self.redo.is_empty()]
    }

    /// Reads the file again after it was changed elsewhere. What was changed here can be had back by undo.
    /// Returns whether anything is new.
    pub fn reload(&mut self) -> bool {
        let text = match std::fs::read_to_string(&self.path) {
            Ok(text) => text,
            Err(error) => {
                self.unread = Some(format!("cannot read {}: {error}", self.path.display()));
                return true;
            }
        };
        self.unread = None;
        // Some editors begin a file with a byte-order mark.
        let text = text
            .strip_prefix('\u{feff}')
            .map(str::to_owned)
            .unwrap_or(text);
        // An empty file is one that is being written: the rest is told of too. One that holds what it held
        // takes nothing that was changed here.
        if text.is_empty() || text == self.saved {
            return false;
        }
        if text == self.text {
            // The file now holds what is shown: saved here, or changed back there.
            self.saved = text;
            return false;
        }
        self.scrubbing = None;
        self.remember(None);
        self.redo.clear();
        self.saved = text.clone();
        self.take(text);
        true
    }

    /// Saves the text as another scene file, which is then the one being looked at.
    ///
    /// # Errors
    /// [`SaveError`]: when the file exists and `replace` is false, when the text can't be used as it
    /// stands, when meshes named relative to the old folder would be lost, or what the file system says.
    pub fn save_as(&mut self, path: &Path, replace: bool) -> Result<(), SaveError> {
        let path = if path.extension().is_none() {
            path.with_extension("ron")
        } else {
            path.to_owned()
        };
        if let Some(folder) = path.parent().filter(|f| *f != Path::new("") && !f.is_dir()) {
            let error = std::io::Error::other(format!("there is no folder {}", folder.display()));
            return Err(SaveError::System { path, error });
        }
        if path.exists() && !replace {
            return Err(SaveError::Exists(path));
        }
        // Meshes are found relative to the scene's folder: make sure that they will be, those of setups too. A
        // setup that can't be built where it is now is no worse elsewhere.
        for setup in [None].into_iter().chain(self.setups.iter().map(Some)) {
            let setup = setup.map(String::as_str);
            if let Err(error) = truck_of(&self.text, &path, setup)
                && (setup.is_none() || truck_of(&self.text, &self.path, setup).is_ok())
            {
                return Err(SaveError::Unusable(described(&error)));
            }
        }
        replace_file(&path, |new| std::fs::write(new, &self.text)).map_err(|error| {
            SaveError::System {
                path: path.clone(),
                error,
            }
        })?;
        self.saved = self.text.clone();
        self.path = path;
        Ok(())
    }

    fn remember(&mut self, path: Option<String>) {
        self.undo.push(Step {
            text: self.text.clone(),
            path,
        });
        if self.undo.len() > MOST_UNDO {
            self.undo.remove(0);
        }
    }

    fn take(&mut self, text: String) {
        self.text = text;
        self.text_revision += 1;
        self.make_anew();
    }

    fn make_anew(&mut self) {
        self.revision += 1;
        if !self.in_background {
            let made = make_truck(&self.text, &self.path, self.setup.as_deref());
            self.receive(self.revision, made);
        }
    }

    /// From now on trucks are made by someone else, off the main thread: see [`Document::wanted`].
    pub fn make_in_background(&mut self) {
        self.in_background = true;
    }

    /// Whether the truck of the present text and setup is still to come.
    pub fn is_waiting(&self) -> bool {
        self.made_from != self.revision
    }

    /// The present text and setup, whether or not a truck was made from them yet.
    pub fn wanted(&self) -> Wanted {
        Wanted {
            revision: self.revision,
            text_revision: self.text_revision,
            text: self.text.clone(),
            path: self.path.clone(),
            setup: self.setup.clone(),
        }
    }

    /// Grows with every new text and every other setup.
    pub fn revision(&self) -> u64 {
        self.revision
    }

    /// Grows with every new text.
    pub fn text_revision(&self) -> u64 {
        self.text_revision
    }

    /// Takes what was made from the text of a revision: a truck, or why there is none. One that a newer has
    /// overtaken is dropped. Where the text has lost the setup, the truck is as measured from now on.
    pub fn receive(&mut self, revision: u64, made: Result<Made, String>) {
        if revision <= self.made_from {
            return;
        }
        self.made_from = revision;
        match made {
            Ok(made) => {
                let side = self.corner().side;
                self.truck = Arc::new(made.truck);
                // A setup may make the two sides differ, or alike again.
                let same = self.truck.corners.iter().position(|c| c.side == side);
                self.corner = same.unwrap_or(0);
                self.setups = made.setups;
                self.generation += 1;
                self.problem = None;
                if let Some(lost) = made.lost.filter(|_| revision == self.revision) {
                    self.setup = None;
                    self.notice = Some(format!(
                        "{} has no setup `{lost}` any more: the truck is shown as measured",
                        self.file_name()
                    ));
                }
            }
            Err(problem) => self.problem = Some(problem),
        }
    }
}

/// Makes a truck from a text with one of its setups, for [`Document::receive`]. Where the text has no setup of
/// that name, as measured.
///
/// # Errors
/// The message to show beside the picture.
pub fn make_truck(text: &str, path: &Path, setup: Option<&str>) -> Result<Made, String> {
    let made = scene_from_text(text, path).and_then(|scene| {
        let lost = setup.filter(|name| !setup_names(&scene).contains(name));
        let setup = setup.filter(|_| lost.is_none());
        let made = build(&scene, text, path, setup)?;
        Ok(Made {
            lost: lost.map(str::to_owned),
            ..made
        })
    });
    made.map_err(|error| described(&error))
}

/// Why a scene wasn't saved.
#[derive(Debug, thiserror::Error)]
pub enum SaveError {
    /// Another file would be lost.
    #[error("{} exists already", .0.display())]
    Exists(PathBuf),
    /// The text can't be used.
    #[error("not saved: {0}")]
    Unusable(String),
    /// The file system's word.
    #[error("cannot write {}: {error}", path.display())]
    System {
        /// Which file.
        path: PathBuf,
        /// What it says.
        error: std::io::Error,
    },
}

/// Makes a truck from a text with one of its setups; a name that no setup has is an error.
pub(super) fn truck_of(text: &str, path: &Path, setup: Option<&str>) -> Result<Made, SceneError> {
    build(&scene_from_text(text, path)?, text, path, setup)
}

fn build(scene: &Scene, text: &str, path: &Path, setup: Option<&str>) -> Result<Made, SceneError> {
    let folder = path.parent().unwrap_or(Path::new("."));
    let truck = assemble_setup(scene, setup, &MeshStore::new(folder))
        .map_err(|problem| SceneError::from_problem(&problem, path, text))?;
    Ok(Made {
        truck,
        setups: setup_names(scene).into_iter().map(str::to_owned).collect(),
        lost: None,
    })
}

/// A scene error in the three lines that fit beside a picture.
fn described(error: &SceneError) -> String {
    let place = error
        .line_and_column()
        .map(|(line, column)| format!("line {line}, column {column}: "))
        .unwrap_or_default();
    let help = error
        .help()
        .map(|help| format!("\n{help}"))
        .unwrap_or_default();
    format!("{place}{error}{help}")
}
