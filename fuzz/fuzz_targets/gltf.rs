//! glTF files, whatever their bytes.
#![no_main]

use bindpoint::shapes::{MeshFormat, read_mesh_bytes};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let _ = read_mesh_bytes(bytes, MeshFormat::Gltf, Some(1.0));
});
