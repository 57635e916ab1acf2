//! Whatever a file holds, reading it ends in a scenario or in complaints: never in a panic, nor in memory without end.

use std::path::Path;

use beamyard::scenario::{self, Complaints};
use proptest::prelude::*;

const EXAMPLE: &str = include_str!("scenarios/quayside-crane.yaml");

fn refused(text: &str) -> Complaints {
    let complaints = scenario::read_text("hostile.yaml", text, Path::new("")).unwrap_err();
    assert!(!complaints.errors().is_empty());
    // Both ways of showing them must bear the text, too.
    assert!(!complaints.render(true).is_empty() && !complaints.to_string().is_empty());
    complaints
}

/// The rule of the only complaint.
fn only_rule(complaints: &Complaints) -> &str {
    assert_eq!(complaints.errors().len(), 1, "{complaints}");
    &complaints.errors()[0].rule
}

/// The rule of the only complaint of a file with these bytes.
fn rule_of_file(bytes: &[u8]) -> String {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("hostile.yaml");
    std::fs::write(&path, bytes).unwrap();
    only_rule(&scenario::read(&path).unwrap_err()).to_owned()
}

#[test]
fn a_file_that_is_not_there_or_is_a_folder_is_refused() {
    let missing = scenario::read(Path::new("tests/scenarios/none.yaml")).unwrap_err();
    assert_eq!(only_rule(&missing), "there is no such file");
    let folder = scenario::read(Path::new("tests")).unwrap_err();
    assert_eq!(only_rule(&folder), "this is a directory, not a file");
}

#[test]
fn a_file_that_is_no_text_is_refused() {
    let every_byte: Vec<u8> = (0..=255).collect();
    assert_eq!(rule_of_file(&every_byte), "this is a binary file");
    assert!(rule_of_file(b"build: {name: bl\xe5}").contains("byte 0xe5 on line 1, column 17"));
    assert_eq!(rule_of_file(b"build: \0"), "this is a binary file");
    // UTF-16 with its byte-order mark.
    assert!(rule_of_file(b"\xff\xfea\0:\0 \0b\0").contains("not UTF-8"));
}

#[test]
fn a_file_without_end_is_not_read_to_its_end() {
    let large = "a: 1\n".repeat(10_000_000);
    assert_eq!(
        rule_of_file(large.as_bytes()),
        "the file is larger than 2 MiB"
    );
    assert_eq!(only_rule(&refused(&large)), "the file is larger than 2 MiB");
}

#[test]
fn a_file_that_says_nothing_is_refused() {
    for text in ["", "\n\n", "# only a comment\n", "\u{feff}", "---\n...\n"] {
        let complaints = refused(text);
        let rule = &complaints.errors()[0].rule;
        assert!(
            rule == "the file says nothing" || rule.contains("must be fields"),
            "{text:?}: {rule}"
        );
    }
    for text in ["hello", "[]", "5", "~"] {
        assert!(
            only_rule(&refused(text)).contains("must be fields"),
            "{text}"
        );
    }
}

#[test]
fn anchors_that_unfold_without_end_are_refused() {
    // Each line holds the one before nine times: 9 to the 14th values, from 700 bytes.
    let mut text = "a: &a [x, x, x, x, x, x, x, x, x]\n".to_owned();
    for (before, name) in ('a'..='m').zip('b'..='n') {
        let nine = vec![format!("*{before}"); 9].join(", ");
        text.push_str(&format!("{name}: &{name} [{nine}]\n"));
    }
    assert!(only_rule(&refused(&text)).contains("at most 400000 values"));
    assert!(only_rule(&refused("a: &a [*a]")).contains("anchor is not complete"));
    refused("a: *nowhere");
}

#[test]
fn brackets_that_nest_without_end_are_refused() {
    for opening in [
        "[", "{", "- ", "? ", "a: [", "{a: ", "&a [", "'", "\"", "|\n ",
    ] {
        refused(&opening.repeat(100_000));
    }
    let indented: String = (0..1000).map(|depth| " ".repeat(depth) + "a:\n").collect();
    assert!(only_rule(&refused(&indented)).contains("32 deep"));
}

#[test]
fn very_many_mistakes_are_counted_and_not_all_listed() {
    let text: String = (0..20_000).map(|at| format!("field-{at}: 1\n")).collect();
    let complaints = refused(&text);
    // 20,000 unknown fields, and four sections missing.
    assert_eq!(complaints.errors().len() + complaints.unlisted(), 20_004);
    assert_eq!(complaints.errors().len(), 500);
}

#[test]
fn a_long_line_is_not_shown() {
    let complaints = refused(&format!("{EXAMPLE}remarks: {}\n", "x".repeat(100_000)));
    assert_eq!(only_rule(&complaints), "there is no such field");
    assert!(complaints.render(false).len() < 1000);
}

#[test]
fn tags_documents_and_keys_that_are_no_words_are_refused() {
    for (text, rule) in [
        ("a: !!python/object x", "tags"),
        ("a: !secret x", "tags"),
        ("a: 1\n---\nb: 2\n", "one YAML document"),
        ("{[a]: 1}", "a key is a word"),
        ("{{a: 1}: 1}", "a key is a word"),
        ("build:\n\tname: x", "not YAML"),
        ("build: {name: \"x\n", "not YAML"),
    ] {
        let complaints = refused(text);
        assert!(only_rule(&complaints).contains(rule), "{complaints}");
    }
}

/// Complaints about a table with these bytes.
fn table(bytes: &[u8]) -> Complaints {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("parts.csv"), bytes).unwrap();
    let text = "build: {start: 2027-01-11}\n\
        machines: [{id: tall, kind: bed, bed: [300, 300], height: 400}]\n\
        filaments: [{id: yellow, material: PLA}]\n\
        parts_from: parts.csv\n\
        assemblies: [{id: all, parts: {rung: 1}}]\n";
    let complaints = scenario::read_text("crane.yaml", text, folder.path()).unwrap_err();
    assert!(!complaints.render(true).is_empty());
    complaints
}

#[test]
fn a_table_that_is_no_table_is_refused_with_one_complaint() {
    for (bytes, rule) in [
        (&b""[..], "the table has no parts"),
        (b"id,size\n\n", "the table has no parts"),
        (b"id,size\nbl\xe5,1\n", "not UTF-8"),
        (b"id\n\0\n", "binary"),
        (b"id;size\nrung;1\n", "separated by commas"),
        (b"id\tsize\nrung\t1\n", "separated by commas"),
        (b"id|size\nrung|1\n", "separated by commas"),
        // The mark that is not closed takes the next row in: of the rung that is there then nothing is said.
        (
            b"id,size,settings\nplank,\"[1, 1, 1],\nrung,\"[1, 1, 1]\",\n",
            "a quotation mark is opened and not closed on its line",
        ),
        (b"id,size\nrung,\"[1, 1, 1]\nplank,2\n", "never closed"),
        (b"id,size\nrung,[1,1,1]\n", "opened and not closed"),
        (b"id,size\nrung,\"[1, 1, 1]\",x\n", "column without a name"),
        (b"id,size,id\nrung,\"[1, 1, 1]\"\n", "the same name"),
    ] {
        let complaints = table(bytes);
        assert!(only_rule(&complaints).contains(rule), "{complaints}");
    }
}

#[test]
fn a_table_that_cannot_be_had_is_complained_of_in_the_scenario() {
    for (name, rule) in [("none.csv", "there is no such file"), (".", "a directory")] {
        let text = EXAMPLE.replace("\nparts:\n", &format!("\nparts_from: {name}\nparts:\n"));
        let complaints = scenario::read_text("crane.yaml", &text, Path::new("tests")).unwrap_err();
        assert!(only_rule(&complaints).contains(rule), "{complaints}");
        assert_eq!(complaints.errors()[0].file, "crane.yaml");
    }
}

#[test]
fn a_table_without_end_is_not_read_to_its_end() {
    let rows = format!("id,size\n{}", "rung,\"[1, 1, 1]\"\n".repeat(100_000));
    let complaints = table(rows.as_bytes());
    assert!(
        complaints
            .errors()
            .iter()
            .any(|c| c.rule.contains("second one of this name"))
    );
    let cells = format!("id,size\nrung,\"[1, 1, 1]\"{}\n", ",x".repeat(500_000));
    assert!(only_rule(&table(cells.as_bytes())).contains("column without a name"));
    let brackets = format!("id,size\nrung,\"{}\"\n", "[".repeat(100_000));
    assert!(only_rule(&table(brackets.as_bytes())).contains("opened and not closed"));
}

/// Reads whatever it is; only a panic is wrong. Both ways of showing what comes out are tried.
fn survives(text: &str, folder: &Path) {
    match scenario::read_text("mutant.yaml", text, folder) {
        Ok(reading) => {
            for warning in &reading.warnings {
                assert!(!warning.render(false).is_empty());
            }
        }
        Err(complaints) => {
            assert!(!complaints.errors().is_empty());
            assert!(!complaints.render(false).is_empty());
            let all = complaints.to_string();
            assert!(!all.contains("no rule says why"), "{text}\n{all}");
        }
    }
}

/// What is put in somewhere: single characters with a meaning, and values at the edge of one.
fn splinter() -> impl Strategy<Value = String> {
    prop_oneof![
        any::<char>().prop_map(String::from),
        "[\\[\\]{}:,#&*!|>'\"%@`\\- \\t\\n0-9.~?]{1,3}",
        prop::sample::select(vec![
            "-1",
            "0",
            ".nan",
            "1e308",
            "99999999999999999999",
            "2..",
            "..",
            "24:00",
            "-0:00",
            "2100-12-31 24:00",
            "1e3 h",
            "9999999 d",
            "1000%",
            "[]",
            "{}",
            "~",
            "*a",
            "&a",
            "\r",
            "\u{2028}",
            "\u{feff}",
            "é",
            "😀",
        ])
        .prop_map(str::to_owned),
    ]
}

/// A text with a few places changed: something put in, some characters taken out, a line doubled, two swapped.
fn mutated(text: &'static str) -> impl Strategy<Value = String> {
    let change = (
        any::<prop::sample::Index>(),
        any::<prop::sample::Index>(),
        splinter(),
        0..4u8,
    );
    prop::collection::vec(change, 1..6).prop_map(move |changes| {
        let mut text = text.to_owned();
        for (one, other, splinter, kind) in changes {
            let places: Vec<usize> = text.char_indices().map(|(place, _)| place).collect();
            if places.is_empty() {
                break;
            }
            let place = places[one.index(places.len())];
            match kind {
                0 => text.insert_str(place, &splinter),
                1 => {
                    let end = (place + other.index(12)).min(text.len());
                    let end = (end..=text.len())
                        .find(|end| text.is_char_boundary(*end))
                        .unwrap();
                    text.replace_range(place..end, &splinter);
                }
                _ => {
                    let mut lines: Vec<&str> = text.split('\n').collect();
                    let (a, b) = (one.index(lines.len()), other.index(lines.len()));
                    if kind == 2 {
                        lines.swap(a, b);
                    } else {
                        lines.insert(a, lines[b]);
                    }
                    text = lines.join("\n");
                }
            }
        }
        text
    })
}

const TABLE: &str = "id,quantity,size,lie,split,minutes,ready\n\
    rung,3,\"[60, 10, 5]\",\"[x, y]\",\"{joint: steel-rod, into: 2..6}\",{tall: 340},2027-01-13\n\
    \"plank\",1,\"[600, 10, 5]\",any,never,,\n";

proptest! {
    #[test]
    fn no_change_to_a_scenario_makes_the_reader_panic(text in mutated(EXAMPLE)) {
        survives(&text, Path::new("tests/scenarios"));
    }

    #[test]
    fn no_change_to_a_table_makes_the_reader_panic(table in mutated(TABLE)) {
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join("parts.csv"), table).unwrap();
        let text = EXAMPLE.replace("\nparts:\n", "\nparts_from: parts.csv\nparts:\n");
        survives(&text, folder.path());
    }

    #[test]
    fn no_text_at_all_makes_the_reader_panic(text in "\\PC{0,300}") {
        survives(&text, Path::new(""));
    }
}

#[test]
fn a_byte_that_is_no_text_is_told_by_line_and_column() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let file = folder.path().join("build.yaml");
    // `ü` is two bytes and one column.
    std::fs::write(&file, b"build:\n  name: T\xc3\xbcr \xff\n").expect("a file");
    let refused = scenario::read(&file).expect_err("no text");
    let rule = &refused.errors()[0].rule;
    assert!(rule.contains("byte 0xff on line 2, column 13"), "{rule}");
}

#[test]
fn a_table_that_is_no_utf8_is_told_by_its_own_file_and_line() {
    let complaints = table(b"id,size\nbl\xe5,1\n");
    let shown = complaints.render(false);
    assert!(shown.contains("parts.csv:2:3"), "{shown}");
}
