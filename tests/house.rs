//! The house stands as DEVELOPERS.md says: who names whom, who writes, who knows the solvers.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

const GUIDE: &str = include_str!("../DEVELOPERS.md");

/// Every source file, by its path from `src/`, without its comments.
fn sources() -> BTreeMap<String, String> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut found = BTreeMap::new();
    let mut folders: Vec<PathBuf> = vec![root.clone()];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).expect("a folder of sources") {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                folders.push(path);
                continue;
            }
            let text = fs::read_to_string(&path).expect("a source file");
            let code = text
                .lines()
                .filter(|line| !line.trim_start().starts_with("//"));
            let inside = path.strip_prefix(&root).expect("it is inside");
            let name = inside.to_str().expect("a name in UTF-8").replace('\\', "/");
            found.insert(name, code.collect::<Vec<_>>().join("\n"));
        }
    }
    found
}

/// The module of the crate that a file belongs to: its folder, or itself.
fn module(file: &str) -> &str {
    let first = file.split('/').next().unwrap_or(file);
    first.strip_suffix(".rs").unwrap_or(first)
}

/// Modules of the crate that a text names by `crate::`.
fn named(code: &str) -> BTreeSet<&str> {
    let after = code.split("crate::").skip(1);
    after
        .map(|rest| {
            let end = rest.find(|c: char| !c.is_ascii_lowercase() && c != '_');
            &rest[..end.unwrap_or(rest.len())]
        })
        .filter(|name| !name.is_empty())
        .collect()
}

/// What the guide's table lets each module name.
fn allowed() -> BTreeMap<&'static str, BTreeSet<&'static str>> {
    let rows = GUIDE
        .lines()
        .skip_while(|line| !line.starts_with("| module | may name |"))
        .skip(2)
        .take_while(|line| line.starts_with('|'));
    rows.map(|row| {
        let mut cells = row.split('|').skip(1);
        let quoted = |cell: Option<&'static str>| -> BTreeSet<&'static str> {
            let cell = cell.expect("a cell");
            cell.split('`').skip(1).step_by(2).collect()
        };
        let module = quoted(cells.next()).pop_first().expect("a module");
        (module, quoted(cells.next()))
    })
    .collect()
}

#[test]
fn each_module_names_those_that_the_guide_lets_it_name_and_no_others() {
    let allowed = allowed();
    let mut names: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
    let sources = sources();
    for (file, code) in &sources {
        let own = module(file);
        if !["lib", "main"].contains(&own) {
            let others = names.entry(own).or_default();
            others.extend(named(code).into_iter().filter(|other| *other != own));
        }
    }
    assert_eq!(names, allowed);
}

/// Files whose code has one of these words.
fn with<'a>(sources: &'a BTreeMap<String, String>, words: &[&str]) -> BTreeSet<&'a str> {
    let holds = |code: &str| words.iter().any(|word| code.contains(word));
    let found = sources.iter().filter(|(_, code)| holds(code));
    found.map(|(file, _)| file.as_str()).collect()
}

#[test]
fn only_two_files_know_who_solves_linear_programs() {
    let sources = sources();
    let files = with(&sources, &["good_lp", "clarabel", "microlp", "highs"]);
    assert_eq!(files, BTreeSet::from(["model/solver.rs"]));
}

#[test]
fn only_the_store_knows_how_the_log_is_kept() {
    let sources = sources();
    let files = with(&sources, &["rusqlite"]);
    assert!(files.contains("shoplog/store.rs"));
    for file in files {
        assert!(
            file == "shoplog/store.rs" || file.starts_with("shoplog/store/"),
            "{file}"
        );
    }
}

#[test]
fn only_scenario_shoplog_and_report_touch_files() {
    let sources = sources();
    for file in with(&sources, &["std::fs", "File::", "tempfile"]) {
        assert!(
            ["scenario", "shoplog", "report"].contains(&module(file)),
            "{file}"
        );
    }
}

#[test]
fn the_audit_shares_no_code_with_what_it_checks() {
    let allowed = BTreeSet::from(["plan", "progress", "routes", "scenario", "units"]);
    for (file, code) in sources() {
        if file.starts_with("plan/audit/") {
            assert!(named(&code).is_subset(&allowed), "{file}");
            // Of routes only the names of their kinds, of the plan what it is made of.
            for import in code.lines().filter(|line| line.contains("crate::routes::")) {
                assert_eq!(import, "use crate::routes::RouteKind;", "{file}");
            }
            assert!(!code.contains("crate::plan::cost"), "{file}");
        }
    }
}
