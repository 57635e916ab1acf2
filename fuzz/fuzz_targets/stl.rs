//! Any bytes, and any triangles in a sound binary file: a mesh that can be measured, or words.
#![no_main]

use beamyard::scenario::meshes::{Split, measure};

libfuzzer_sys::fuzz_target!(|data: &[u8]| {
    let split = Split { into: 2..=3, shortest: 0.1 };
    let check = |bytes: Vec<u8>| {
        if let Ok(shape) = measure(bytes, 1.5, Some(&split)) {
            assert!(shape.whole.volume > 0.0 && shape.whole.volume.is_finite());
        }
    };
    check(data.to_vec());
    let count = data.len() / 50;
    let mut whole = vec![0; 80];
    whole.extend((count as u32).to_le_bytes());
    whole.extend(&data[..count * 50]);
    check(whole);
});
