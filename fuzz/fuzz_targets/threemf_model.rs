//! 3MF models, packed after they were changed: in a changed archive they seldom survive its checks.
#![no_main]

use bindpoint::shapes::{MeshFormat, read_mesh_bytes};
use libfuzzer_sys::fuzz_target;
use std::io::{Cursor, Write};

fuzz_target!(|bytes: &[u8]| {
    let stored =
        zip::write::SimpleFileOptions::default().compression_method(zip::CompressionMethod::Stored);
    let mut archive = zip::ZipWriter::new(Cursor::new(Vec::new()));
    archive
        .start_file("3D/3dmodel.model", stored)
        .expect("a part begins");
    archive.write_all(bytes).expect("a part is written");
    let archive = archive.finish().expect("the archive ends").into_inner();
    let _ = read_mesh_bytes(&archive, MeshFormat::ThreeMf, Some(1.0));
});
