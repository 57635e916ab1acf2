//! The log for other programs: what was noted, what there is, what was refused; a line each.
//!
//! Knows: entries, their numbers. Must not know: where the log is kept, what may be noted.
//! Promises: an entry stands there as it is exported, with more keys; what is refused has what is wrong and what would be right apart.

use serde::Serialize;

use crate::shoplog::{Entry, Log, Noting, Trouble};

#[derive(Serialize)]
struct EntryFile<'a> {
    number: usize,
    #[serde(flatten)]
    entry: &'a Entry,
    #[serde(skip_serializing_if = "Option::is_none")]
    undone: Option<bool>,
    #[serde(skip_serializing_if = "Option::is_none")]
    warnings: Option<&'a [String]>,
}

#[derive(Default, Serialize)]
struct TroubleFile<'a> {
    #[serde(skip_serializing_if = "Option::is_none")]
    refused: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    failed: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    line: Option<usize>,
    fix: Option<&'a str>,
}

fn line<T: Serialize>(file: &T) -> String {
    let text = serde_json::to_string(file)
        .expect("text, numbers and lists with text for keys: none of them fails to be written");
    text + "\n"
}

/// What was noted last, and what is odd about it.
pub fn noted_json(log: &Noting, entry: &Entry, odd: &[String]) -> String {
    // A screen breaks no line in a moment; other programs have no use for that.
    let odd: Vec<String> = odd.iter().map(|odd| odd.replace('\u{a0}', " ")).collect();
    line(&EntryFile {
        number: log.count(),
        entry,
        undone: None,
        warnings: Some(&odd),
    })
}

/// All entries, the last so many where `last` says so.
pub fn shown_log_json(log: &Log, last: Option<usize>) -> String {
    let entries = log.entries();
    let from = last.map_or(0, |last| entries.len().saturating_sub(last));
    let shown = (1..).zip(entries).skip(from);
    let lines = shown.map(|(number, entry)| {
        line(&EntryFile {
            number,
            entry,
            undone: Some(log.is_undone(entry)),
            warnings: None,
        })
    });
    lines.collect()
}

/// What the log will not have, and what would be right.
pub fn trouble_json(trouble: &Trouble) -> String {
    let file = TroubleFile::default();
    let told = trouble.to_string();
    line(&match trouble {
        Trouble::Refused(refusal) => TroubleFile {
            refused: Some(&refusal.what),
            fix: Some(&refusal.fix),
            ..file
        },
        Trouble::Line { line, what } => TroubleFile {
            refused: Some(what),
            line: Some(*line),
            ..file
        },
        Trouble::Damaged { .. } => {
            let (what, fix) = told
                .split_once("; it was left as it is: ")
                .unwrap_or((&told, ""));
            TroubleFile {
                failed: Some(what),
                fix: Some(fix),
                ..file
            }
        }
        Trouble::NotOurs { fix, .. } | Trouble::Storage { fix, .. } => TroubleFile {
            failed: Some(
                told.trim_end_matches(fix.as_str())
                    .trim_end_matches([' ', ';', ':']),
            ),
            fix: Some(fix),
            ..file
        },
    })
}

/// Why nothing came of it for another reason.
pub fn failed_json(why: &str) -> String {
    line(&TroubleFile {
        failed: Some(why.trim_end()),
        ..TroubleFile::default()
    })
}
