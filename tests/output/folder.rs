//! The folder of a plan is written whole or not at all.

use std::fs;
use std::path::Path;

use beamyard::report::{FolderError, write_folder};
use tempfile::tempdir;

fn files() -> [(&'static str, String); 2] {
    [("plan.json", "{}\n".into()), ("plan.txt", "text\n".into())]
}

fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(folder)
        .expect("the folder is there")
        .map(|entry| entry.expect("readable").file_name().display().to_string())
        .collect();
    names.sort();
    names
}

#[test]
fn a_new_folder_holds_the_files_and_nothing_is_left_beside_it() {
    let above = tempdir().expect("a temporary folder");
    let out = above.path().join("out");
    write_folder(&out, &files()).expect("nothing is in the way");
    assert_eq!(names(&out), [".beamyard", "plan.json", "plan.txt"]);
    assert_eq!(
        fs::read_to_string(out.join("plan.txt")).expect("text"),
        "text\n"
    );
    assert_eq!(names(above.path()), ["out"]);
}

#[test]
fn an_earlier_plan_is_replaced_with_all_its_files() {
    let above = tempdir().expect("a temporary folder");
    let out = above.path().join("out");
    write_folder(&out, &files()).expect("nothing is in the way");
    write_folder(&out, &[("plan.json", "[]\n".into())]).expect("it is ours");
    assert_eq!(names(&out), [".beamyard", "plan.json"]);
    assert_eq!(
        fs::read_to_string(out.join("plan.json")).expect("text"),
        "[]\n"
    );
    assert_eq!(names(above.path()), ["out"]);
}

/// Where folders can change places in one step; a kill in any moment between two would leave none.
#[cfg(any(target_os = "linux", target_vendor = "apple"))]
#[test]
fn there_is_no_moment_without_a_folder_while_one_is_replaced() {
    use std::sync::atomic::{AtomicBool, Ordering};
    let above = tempfile::tempdir().expect("a temporary folder");
    let folder = above.path().join("plan");
    write_folder(&folder, &files()).expect("nothing is in the way");
    let done = AtomicBool::new(false);
    std::thread::scope(|scope| {
        let looking = scope.spawn(|| {
            let mut looks = 0_u64;
            while !done.load(Ordering::Relaxed) {
                assert!(folder.exists(), "after {looks} looks");
                looks += 1;
            }
        });
        for _ in 0..100 {
            write_folder(&folder, &files()).expect("it is ours");
        }
        done.store(true, Ordering::Relaxed);
        looking.join().expect("it was there at every look");
    });
}

#[test]
fn a_folder_that_somebody_else_made_is_left_alone() {
    let above = tempdir().expect("a temporary folder");
    let out = above.path().join("out");
    fs::create_dir(&out).expect("a folder");
    fs::write(out.join("thesis.txt"), "years of work").expect("a file");
    let refused = write_folder(&out, &files());
    assert!(
        matches!(refused, Err(FolderError::Foreign { .. })),
        "{refused:?}"
    );
    assert_eq!(names(&out), ["thesis.txt"]);
    assert_eq!(names(above.path()), ["out"]);
}

#[test]
fn a_file_that_a_user_put_into_our_folder_is_not_lost() {
    let above = tempdir().expect("a temporary folder");
    let out = above.path().join("out");
    write_folder(&out, &files()).expect("nothing is in the way");
    fs::write(out.join("notes.txt"), "tall needs a new nozzle").expect("a file");
    let refused = write_folder(&out, &files()).expect_err("the notes would be lost");
    assert!(refused.to_string().contains("`notes.txt`"), "{refused}");
    assert!(out.join("notes.txt").exists());
}

#[test]
fn a_file_in_the_way_is_left_alone() {
    let above = tempdir().expect("a temporary folder");
    let out = above.path().join("out");
    fs::write(&out, "not a folder").expect("a file");
    assert!(matches!(
        write_folder(&out, &files()),
        Err(FolderError::Foreign { .. })
    ));
    assert_eq!(fs::read_to_string(&out).expect("text"), "not a folder");
}

#[test]
fn without_the_folder_above_nothing_is_written() {
    let above = tempdir().expect("a temporary folder");
    let out = above.path().join("missing").join("out");
    assert!(matches!(
        write_folder(&out, &files()),
        Err(FolderError::Io { .. })
    ));
    assert_eq!(names(above.path()), Vec::<String>::new());
}

#[test]
fn a_path_that_names_no_folder_is_refused() {
    let refused = write_folder(Path::new("/"), &files());
    assert!(
        matches!(refused, Err(FolderError::NoName(_))),
        "{refused:?}"
    );
    let refused = write_folder(Path::new(""), &files());
    assert!(
        matches!(refused, Err(FolderError::NoName(_))),
        "{refused:?}"
    );
}

#[test]
fn a_file_may_stand_in_a_folder_of_its_own_and_goes_with_the_rest() {
    let above = tempdir().expect("a temporary folder");
    let out = above.path().join("out");
    let files = [
        ("plan.json", "{}\n".to_owned()),
        ("plates/tall-001.svg", "<svg/>\n".to_owned()),
    ];
    write_folder(&out, &files).expect("nothing is in the way");
    assert_eq!(names(&out), [".beamyard", "plan.json", "plates"]);
    assert_eq!(names(&out.join("plates")), ["tall-001.svg"]);
    write_folder(&out, &[("plan.json", "[]\n".to_owned())]).expect("all of it is ours");
    assert_eq!(names(&out), [".beamyard", "plan.json"]);
}

#[test]
fn a_file_that_a_user_put_beside_our_plates_is_not_lost() {
    let above = tempdir().expect("a temporary folder");
    let out = above.path().join("out");
    let files = [("plates/tall-001.svg", "<svg/>\n".to_owned())];
    write_folder(&out, &files).expect("nothing is in the way");
    fs::write(out.join("plates/template.svg"), "cut by hand").expect("a file");
    let refused = write_folder(&out, &files).expect_err("the template would be lost");
    assert!(
        refused.to_string().contains("`plates/template.svg`"),
        "{refused}"
    );
    fs::remove_file(out.join("plates/template.svg")).expect("it is there");
    fs::create_dir(out.join("plates/old")).expect("a folder");
    let refused = write_folder(&out, &files).expect_err("the folder would be lost");
    assert!(refused.to_string().contains("`plates/old`"), "{refused}");
}

/// A temporary folder as a writer leaves it that is killed: its file, and some of the new ones.
fn left_behind(above: &Path, name: &str) -> std::path::PathBuf {
    let folder = above.join(name);
    fs::create_dir_all(folder.join("new")).expect("a folder");
    fs::write(folder.join("new/plan.json"), "{").expect("a file");
    let said = "beamyard writes here as long as this file is locked\n";
    fs::write(folder.join("writer"), said).expect("a file");
    folder
}

#[test]
fn what_a_killed_writer_left_is_gone_after_the_next_and_what_another_writes_stays() {
    let above = tempdir().expect("a temporary folder");
    let out = above.path().join("out");
    left_behind(above.path(), ".beamyard-dead");
    // Another process writes here: it holds the lock.
    let writes = left_behind(above.path(), ".beamyard-lives");
    let lock = fs::File::options()
        .write(true)
        .open(writes.join("writer"))
        .expect("the file");
    lock.lock().expect("nobody else has it");
    // In this one are earlier files that could not go back; in this one something of the user's; this one is not ours, by its name; of
    // this one nobody can tell.
    let earlier = left_behind(above.path(), ".beamyard-old");
    fs::create_dir(earlier.join("old")).expect("a folder");
    let other = left_behind(above.path(), ".beamyard-other");
    fs::write(other.join("writer"), "something else").expect("a file");
    left_behind(above.path(), "beamyard-mine");
    fs::create_dir(above.path().join(".beamyard-new")).expect("a folder");

    write_folder(&out, &files()).expect("nothing is in the way");
    let stays = [
        ".beamyard-lives",
        ".beamyard-new",
        ".beamyard-old",
        ".beamyard-other",
        "beamyard-mine",
        "out",
    ];
    assert_eq!(names(above.path()), stays);
    assert_eq!(names(&writes), ["new", "writer"]);
    // Once its writer is gone, that one goes too.
    drop(lock);
    write_folder(&out, &files()).expect("it is ours");
    assert!(!writes.exists());
}

#[test]
fn what_a_writer_left_that_was_killed_before_it_held_its_folder_goes_when_it_is_old() {
    let above = tempdir().expect("a temporary folder");
    let out = above.path().join("out");
    // What its file says so far, and whether it was made two hours ago or just now.
    let said = "beamyard writes here as long as this file is locked\n";
    let old = std::time::SystemTime::now() - std::time::Duration::from_secs(7200);
    for (name, text, is_old) in [
        (".beamyard-empty", None, true),
        (".beamyard-half", Some(&said[..20]), true),
        (".beamyard-whole", Some(said), true),
        (".beamyard-fresh", Some(said), false),
        (".beamyard-other", Some("something else"), true),
    ] {
        let folder = above.path().join(name);
        fs::create_dir(&folder).expect("a folder");
        if let Some(text) = text {
            fs::write(folder.join("writer.new"), text).expect("a file");
        }
        if is_old {
            let opened = fs::File::open(&folder).expect("it is there");
            opened.set_modified(old).expect("it is ours");
        }
    }
    write_folder(&out, &files()).expect("nothing is in the way");
    assert_eq!(
        names(above.path()),
        [".beamyard-fresh", ".beamyard-other", "out"]
    );
}

#[test]
fn a_folder_that_is_being_written_is_held_by_its_writer() {
    // Many writers at once, each of which tidies up: none takes another's folder away.
    let above = tempdir().expect("a temporary folder");
    std::thread::scope(|scope| {
        for writer in 0..4 {
            let out = above.path().join(format!("out-{writer}"));
            scope.spawn(move || {
                for _ in 0..40 {
                    write_folder(&out, &files()).expect("nothing is in the way");
                }
            });
        }
    });
    assert_eq!(names(above.path()), ["out-0", "out-1", "out-2", "out-3"]);
}
