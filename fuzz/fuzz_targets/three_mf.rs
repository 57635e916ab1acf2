//! Any bytes as an archive, and any model in a sound archive: a mesh that can be measured, or words.
#![no_main]

use std::io::Write;

use beamyard::scenario::meshes::measure;

const RELATIONSHIPS: &[u8] = br#"<Relationships><Relationship Target="/3D/3dmodel.model" Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>"#;

libfuzzer_sys::fuzz_target!(|data: &[u8]| {
    let check = |bytes: Vec<u8>| {
        if let Ok(shape) = measure(bytes, 1.5, None) {
            assert!(shape.whole.volume > 0.0 && shape.whole.volume.is_finite());
        }
    };
    let mut archive = data.to_vec();
    archive.splice(..archive.len().min(4), *b"PK\x03\x04");
    check(archive);
    let mut sound = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    let stored = zip::write::SimpleFileOptions::default()
        .compression_method(zip::CompressionMethod::Stored);
    for (name, bytes) in [("_rels/.rels", RELATIONSHIPS), ("3D/3dmodel.model", data)] {
        if sound.start_file(name, stored).is_err() || sound.write_all(bytes).is_err() {
            return;
        }
    }
    if let Ok(sound) = sound.finish() {
        check(sound.into_inner());
    }
});
