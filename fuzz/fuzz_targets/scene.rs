//! Scene files, whatever their text.
#![no_main]

use bindpoint::scene::scene_from_text;
use libfuzzer_sys::fuzz_target;
use std::path::Path;

fuzz_target!(|text: &str| {
    let _ = scene_from_text(text, Path::new("a.ron"));
});
