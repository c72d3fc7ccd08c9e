//! The scene file watched: changed in a text editor, it is read again.

use super::background::Wake;
use super::document::Document;
use super::ghost::Ghost;
use super::shown::Shown;
use bevy::prelude::*;
use notify::{RecommendedWatcher, RecursiveMode, Watcher};
use std::path::PathBuf;
use std::sync::Mutex;
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;

/// Reads the scene again when its file changes.
pub struct ReloadPlugin;

impl Plugin for ReloadPlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<Watched>()
            .add_systems(Update, (reload, tell.after(super::motion::MotionSet)));
    }
}

#[derive(Resource, Default)]
struct Watched {
    path: Option<PathBuf>,
    watcher: Option<RecommendedWatcher>,
    changes: Option<Mutex<Receiver<()>>>,
}

/// Time from the first word of a change until the file is read.
const SETTLE: Duration = Duration::from_millis(50);

fn reload(
    mut document: ResMut<Document>,
    mut watched: ResMut<Watched>,
    mut shown: ResMut<Shown>,
    wake: Res<Wake>,
) {
    if watched.path.as_deref() != Some(document.path()) {
        watched.path = Some(document.path().to_owned());
        let (sender, receiver) = channel();
        let wake = wake.clone();
        let file = document.path().file_name().map(std::ffi::OsStr::to_owned);
        let watcher = notify::recommended_watcher(move |event: notify::Result<notify::Event>| {
            // Editors write beside the file and rename: the folder is watched, the name compared.
            let ours = event.is_ok_and(|e| {
                !e.kind.is_access() && e.paths.iter().any(|p| p.file_name() == file.as_deref())
            });
            if ours {
                // An editor may empty the file before it fills it: let it finish.
                std::thread::sleep(SETTLE);
                if sender.send(()).is_ok() {
                    (wake.0)();
                }
            }
        });
        let folder = match document.path().parent() {
            Some(folder) if folder != std::path::Path::new("") => folder.to_owned(),
            _ => PathBuf::from("."),
        };
        let started = watcher.and_then(|mut w| {
            w.watch(&folder, RecursiveMode::NonRecursive)?;
            Ok(w)
        });
        match started {
            Ok(watcher) => watched.watcher = Some(watcher),
            Err(error) => {
                watched.watcher = None;
                shown.note = Some(format!("changes of the file won't be seen: {error}"));
            }
        }
        watched.changes = Some(Mutex::new(receiver));
    }
    let changed = watched.changes.as_ref().is_some_and(|changes| {
        changes
            .lock()
            .is_ok_and(|changes| changes.try_iter().count() > 0)
    });
    if changed && document.reload() {
        shown.note = Some(format!(
            "{} was changed and read again",
            document.file_name()
        ));
    }
}

/// Says what became of a setup that the text has lost.
fn tell(mut document: ResMut<Document>, mut ghost: ResMut<Ghost>, mut shown: ResMut<Shown>) {
    let told: Vec<String> = document
        .take_notice()
        .into_iter()
        .chain(ghost.take_notice())
        .collect();
    if !told.is_empty() {
        shown.note = Some(told.join("; "));
    }
}
