//! Measures are remembered by content, and never trusted further than that.

use std::fs;

use beamyard::scenario::meshes::{Cache, Split, measure, read_file};

use super::made::*;

#[test]
fn measures_come_back_to_the_last_bit_and_only_for_the_same_content() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("angle.stl");
    let tilted: Vec<Triangle> = angle()
        .into_iter()
        .map(|t| t.map(|[x, y, z]| [x + 0.1 * z, y - 0.3 * x, z]))
        .collect();
    fs::write(&path, binary(&tilted, b"")).unwrap();
    let kept = folder.path().join("deep/cache");
    let cache = Cache::at(&kept);
    let split = Split {
        into: 2..=3,
        shortest: 1.0,
    };
    let read = |cache: &Cache, scale| read_file(&path, scale, Some(&split), cache).unwrap().0;
    let fresh = read(&Cache::none(), 1.3);
    assert_eq!(read(&cache, 1.3), fresh);
    let files = || fs::read_dir(&kept).unwrap().count();
    assert_eq!(files(), 1);
    assert_eq!(read(&cache, 1.3), fresh);
    assert_eq!(files(), 1);
    // Another scale, another split, another content: each its own.
    assert_ne!(read(&cache, 1.4).whole.volume, fresh.whole.volume);
    read_file(&path, 1.3, None, &cache).unwrap();
    assert_eq!(files(), 3);
    fs::write(&path, binary(&block([1.0; 3]), b"")).unwrap();
    assert!((read(&cache, 1.3).whole.volume - 1.3_f64.powi(3)).abs() < 1e-6);
    assert_eq!(files(), 4);
}

#[test]
fn a_damaged_memory_is_ignored_and_replaced() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("angle.stl");
    fs::write(&path, binary(&angle(), b"")).unwrap();
    let kept = folder.path().join("cache");
    let cache = Cache::at(&kept);
    let read = || read_file(&path, 1.0, None, &cache).unwrap().0;
    let fresh = read();
    let file = fs::read_dir(&kept).unwrap().next().unwrap().unwrap().path();
    let good = fs::read_to_string(&file).unwrap();
    for bad in [
        String::new(),
        "no sum".to_owned(),
        good[..good.len() - 5].to_owned(),
        good.replacen("5000", "9000", 1),
        good.replacen('\n', "\n ", 1),
    ] {
        fs::write(&file, bad).unwrap();
        assert_eq!(read(), fresh);
        assert_eq!(fs::read_to_string(&file).unwrap(), good);
    }
}

#[test]
fn a_folder_that_cannot_be_one_is_no_error() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("angle.stl");
    fs::write(&path, binary(&angle(), b"")).unwrap();
    // A file stands where the folder should be.
    let (shape, warnings) = read_file(&path, 1.0, None, &Cache::at(&path)).unwrap();
    assert!(warnings.is_empty());
    assert_eq!(
        shape.whole,
        measure(binary(&angle(), b""), 1.0, None).unwrap().whole
    );
}

#[test]
fn old_memories_make_room_and_nothing_else_is_touched() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("angle.stl");
    fs::write(&path, binary(&angle(), b"")).unwrap();
    let kept = folder.path().join("cache");
    fs::create_dir(&kept).unwrap();
    for at in 0..1_000 {
        fs::write(kept.join(format!("{at:064x}")), "old").unwrap();
        fs::write(kept.join(format!("holiday-{at}.jpg")), "mine").unwrap();
    }
    read_file(&path, 1.0, None, &Cache::at(&kept)).unwrap();
    let names: Vec<String> = fs::read_dir(&kept)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    assert_eq!(
        names
            .iter()
            .filter(|name| name.starts_with("holiday"))
            .count(),
        1_000
    );
    assert_eq!(names.len(), 1_000 + 500 + 1);
}
