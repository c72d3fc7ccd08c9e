//! The system's file dialog, off the main thread: the picture goes on while it is open.

use rfd::FileDialog;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::sync::mpsc::{Receiver, TryRecvError, channel};

/// A dialog that is open.
#[derive(Debug)]
pub struct OpenDialog(Mutex<Receiver<Option<PathBuf>>>);

impl OpenDialog {
    /// Opens a dialog in the folder of the open scene; `choose` says for what.
    pub fn beside(
        scene: &Path,
        choose: impl FnOnce(FileDialog) -> Option<PathBuf> + Send + 'static,
    ) -> OpenDialog {
        let (sender, receiver) = channel();
        let folder = scene.parent().map(Path::to_owned).unwrap_or_default();
        std::thread::spawn(move || {
            let mut dialog = FileDialog::new();
            if let Ok(folder) = folder.canonicalize() {
                dialog = dialog.set_directory(folder);
            }
            // Where the window has gone nobody waits for the answer.
            let _ = sender.send(choose(dialog));
        });
        OpenDialog(Mutex::new(receiver))
    }

    /// The file, once one was chosen; nothing inside where none was.
    pub fn answer(&self) -> Option<Option<PathBuf>> {
        match self.0.lock().ok()?.try_recv() {
            Ok(answer) => Some(answer),
            // A dialog that failed chose nothing.
            Err(TryRecvError::Disconnected) => Some(None),
            Err(TryRecvError::Empty) => None,
        }
    }
}
