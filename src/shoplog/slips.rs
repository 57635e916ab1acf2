//! What is wrong with a line that was to be taken in: which field, what it says, what would be right.
//!
//! Knows: JSON, the words of the log. Must not know: what an entry means, files.
//! Promises: every line that is refused is told by its field where it has one; never panics.

use serde::de::DeserializeOwned;
use serde_json::Value;

use crate::scenario::nearest;

/// How an entry is written.
const ENTRY: &str = r#"write it as `{"at": "2027-05-03T18:40:00+02:00", "event": {"finished": {"run": "tall-001"}}}`"#;

/// A longer value is not shown whole.
const SHOWN: usize = 60;

/// Reads one line.
///
/// # Errors
/// What is wrong with it, and what would be right.
pub(super) fn read<T: DeserializeOwned>(line: &str) -> Result<T, String> {
    match serde_json::from_str(line) {
        Ok(entry) => Ok(entry),
        Err(error) => Err(told::<T>(line, &error)),
    }
}

fn told<T: DeserializeOwned>(line: &str, error: &serde_json::Error) -> String {
    let value: Value = match serde_json::from_str(line) {
        Ok(value) => value,
        Err(error) => {
            let column = error.column();
            let what = error.to_string();
            let what = what.split(" at line ").next().unwrap_or_default();
            return format!("this is no JSON ({what}, at column {column}); {ENTRY}");
        }
    };
    if !value.is_object() {
        return format!("{} is no entry; {ENTRY}", shown(&value));
    }
    // Once it is JSON, errors are told without their place.
    let error = match serde_json::from_value::<T>(value.clone()) {
        Ok(_) => {
            // What is refused of text only: a field that stands there twice.
            let twice = error.to_string();
            let twice = twice.split('`').nth(1).unwrap_or_default();
            return format!(
                "`{}` stands there twice; write each field once",
                short(twice)
            );
        }
        Err(error) => error.to_string(),
    };
    if let Some(Value::Object(events)) = value.get("event")
        && events.len() > 1
    {
        let names: Vec<&str> = events.keys().map(String::as_str).collect();
        return format!(
            "`event` has {} events: {}; write a line for each",
            names.len(),
            short(&names.join(", "))
        );
    }
    if let Some(lacks) = error.strip_prefix("missing field `") {
        let lacks = lacks.split('`').next().unwrap_or_default();
        let at = place(&lacking::<T>(&value, lacks).unwrap_or_default());
        return format!("{at} lacks `{lacks}`; {}", example(lacks));
    }
    let (path, found) = culprit::<T>(&value, &error);
    let at = place(&path);
    let own = path.last().map_or("", String::as_str);
    let mut names = error.split('`').skip(1).step_by(2);
    if error.starts_with("unknown field") || error.starts_with("unknown variant") {
        let what = if error.starts_with("unknown field") {
            "field"
        } else {
            "event"
        };
        let unknown = names.next().unwrap_or_default();
        let known: Vec<&str> = names.collect();
        let fix = match nearest(unknown, known.iter().copied()) {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("take one of {}", known.join(", ")),
        };
        return format!("{at}: there is no {what} `{}`; {fix}", short(unknown));
    }
    if path == ["event"] {
        return format!("{at} is {}; {ENTRY}", shown(found));
    }
    if found.is_null() {
        return format!(
            "{at} is `null`; write what it is, or leave it out where it need not be said"
        );
    }
    let fix = match (own, found) {
        ("at" | "noted" | "until" | "arrives", _) => example(own),
        ("id", _) => "write a UUID, or leave it out".to_owned(),
        (_, Value::String(text)) if is_number(&error) => match number(text) {
            Some(number) => format!("write `{number}`, a number without quotes"),
            None => "write a number without quotes, such as `27.5`".to_owned(),
        },
        (_, _) if is_number(&error) => "write a number, such as `3`".to_owned(),
        (_, Value::Number(_) | Value::Bool(_)) if error.ends_with("expected a string") => {
            format!("write `\"{found}\"`, in quotes")
        }
        _ => format!("it cannot be read ({error})"),
    };
    format!("{at} is {}; {fix}", shown(found))
}

/// A place in a line, as it is told.
fn place(path: &[String]) -> String {
    match path {
        [] => "the entry".to_owned(),
        path => format!("`{}`", path.join(".")),
    }
}

/// The way to the object in which a field is missing: with something there the error is another one, and not that there is no such field.
fn lacking<T: DeserializeOwned>(line: &Value, field: &str) -> Option<Vec<String>> {
    let mut open: Vec<Vec<String>> = vec![Vec::new()];
    while let Some(path) = open.pop() {
        let mut with = line.clone();
        let Some(at) = path.iter().try_fold(&mut with, |at, key| child(at, key)) else {
            continue;
        };
        let keys: Vec<String> = match at {
            Value::Object(map) => map.keys().cloned().collect(),
            Value::Array(list) => (0..list.len()).map(|n| n.to_string()).collect(),
            _ => Vec::new(),
        };
        // What stands in `event` are events, one a line.
        if let Value::Object(map) = at
            && path != ["event"]
            && !map.contains_key(field)
        {
            // No field is a list of lists.
            map.insert(
                field.to_owned(),
                Value::from(vec![Value::from(Vec::<Value>::new())]),
            );
            let error = serde_json::from_value::<T>(with)
                .err()
                .map(|error| error.to_string());
            let other = error.is_none_or(|error| {
                let still = format!("missing field `{field}`");
                !error.starts_with("unknown") && !error.starts_with(&still)
            });
            if other {
                return Some(path);
            }
        }
        open.extend(
            keys.into_iter()
                .map(|key| [path.clone(), vec![key]].concat()),
        );
    }
    None
}

/// What lies at a key of a value.
fn child<'a>(at: &'a mut Value, key: &str) -> Option<&'a mut Value> {
    match at {
        Value::Object(map) => map.get_mut(key),
        Value::Array(list) => key.parse().ok().and_then(|n: usize| list.get_mut(n)),
        _ => None,
    }
}

/// The innermost value without which the error is another one, and the way there.
fn culprit<'a, T: DeserializeOwned>(line: &'a Value, error: &str) -> (Vec<String>, &'a Value) {
    let mut path: Vec<String> = Vec::new();
    let mut at = line;
    loop {
        let children: Vec<(String, &Value)> = match at {
            Value::Object(map) => map
                .iter()
                .map(|(key, value)| (key.clone(), value))
                .collect(),
            Value::Array(list) => (0..).map(|n: usize| n.to_string()).zip(list).collect(),
            _ => Vec::new(),
        };
        let guilty = children.into_iter().find(|(key, _)| {
            let mut without = line.clone();
            remove(&mut without, &path, key);
            serde_json::from_value::<T>(without)
                .err()
                .is_none_or(|other| other.to_string() != error)
        });
        // Each turn goes one level deeper.
        match guilty {
            Some((key, value)) => {
                path.push(key);
                at = value;
            }
            None => return (path, at),
        }
    }
}

/// Takes a child out of what lies at the end of a path.
fn remove(line: &mut Value, path: &[String], last: &str) {
    let mut at = line;
    for key in path {
        match child(at, key) {
            Some(next) => at = next,
            None => return,
        }
    }
    match at {
        Value::Object(map) => {
            map.remove(last);
        }
        Value::Array(list) => {
            if let Some(n) = last.parse().ok().filter(|&n: &usize| n < list.len()) {
                list.remove(n);
            }
        }
        _ => {}
    }
}

fn example(field: &str) -> String {
    match field {
        "at" | "noted" | "until" | "arrives" => {
            format!("write `\"{field}\": \"2027-05-03T18:40:00+02:00\"`, with the offset")
        }
        "event" => ENTRY.to_owned(),
        "run" => "write `\"run\": \"tall-001\"`".to_owned(),
        _ => format!("`export` shows how `{field}` is written"),
    }
}

/// Whether a number was expected.
fn is_number(error: &str) -> bool {
    let expected = ["f64", "u32"];
    expected
        .iter()
        .any(|kind| error.ends_with(&format!("expected {kind}")))
}

/// The number that a text means, perhaps with a decimal comma.
fn number(text: &str) -> Option<f64> {
    let number: f64 = text.trim().replace(',', ".").parse().ok()?;
    number.is_finite().then_some(number)
}

fn shown(value: &Value) -> String {
    format!("`{}`", short(&value.to_string()))
}

fn short(text: &str) -> String {
    if text.chars().count() > SHOWN {
        let some: String = text.chars().take(SHOWN).collect();
        return format!("{some}…");
    }
    text.to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shoplog::event::Entry;

    /// What is wrong with an event as it was written.
    fn wrong(event: &str) -> String {
        let line = format!(
            r#"{{"id": "00000000-0000-0000-0000-000000000000", "at": "2027-01-11T08:00:00Z", "noted": "2027-01-11T08:00:00Z", "event": {event}}}"#
        );
        read::<Entry>(&line).expect_err("something is wrong with it")
    }

    #[test]
    fn a_slip_is_told_by_field_and_value_with_what_to_write() {
        assert_eq!(
            wrong(r#"{"spool-weighed": {"spool": "red-1", "grams": "27,5"}}"#),
            r#"`event.spool-weighed.grams` is `"27,5"`; write `27.5`, a number without quotes"#
        );
        assert_eq!(
            wrong(
                r#"{"weighed": {"sample": {"part": "pin", "machine": "tall", "pieces": "three"}, "grams": 2}}"#
            ),
            r#"`event.weighed.sample.pieces` is `"three"`; write a number without quotes, such as `27.5`"#
        );
        assert_eq!(
            wrong(
                r#"{"finished": {"run": "tall-001", "scrapped": [{"part": "pin", "number": 1}, {"part": "pin", "number": -1}]}}"#
            ),
            "`event.finished.scrapped.1.number` is `-1`; write a number, such as `3`"
        );
        assert_eq!(
            wrong(r#"{"started": {"run": 7}}"#),
            r#"`event.started.run` is `7`; write `"7"`, in quotes"#
        );
        assert_eq!(
            wrong(r#"{"started": {"runs": "tall-001"}}"#),
            "`event.started.runs`: there is no field `runs`; did you mean `run`?"
        );
        assert_eq!(
            wrong(r#"{"finish": {"run": "tall-001"}}"#),
            "`event.finish`: there is no event `finish`; did you mean `finished`?"
        );
        assert_eq!(
            wrong(r#"{"started": {}}"#),
            "`event.started` lacks `run`; write `\"run\": \"tall-001\"`"
        );
        assert_eq!(
            wrong(r#"{"spool-bought": {"spool": "red-3", "filament": "red"}}"#),
            "`event.spool-bought` lacks `grams`; `export` shows how `grams` is written"
        );
        assert_eq!(
            wrong(r#"{"weighed": {"sample": {"part": "pin", "machine": "tall"}}}"#),
            "`event.weighed` lacks `grams`; `export` shows how `grams` is written"
        );
        assert_eq!(
            wrong(r#"{"weighed": {"sample": {"part": "pin"}, "grams": 3}}"#),
            "`event.weighed.sample` lacks `machine`; `export` shows how `machine` is written"
        );
        assert_eq!(
            wrong(r#"{"finished": {"run": "tall-001", "scrapped": [{"part": "pin"}]}}"#),
            "`event.finished.scrapped.0` lacks `number`; `export` shows how `number` is written"
        );
        assert_eq!(
            wrong(r#"{"up": {"machine": "tall"}, "down": {"machine": "wide"}}"#),
            "`event` has 2 events: down, up; write a line for each"
        );
        assert_eq!(wrong(r#""up""#), format!("`event` is `\"up\"`; {ENTRY}"));
        assert_eq!(wrong("null"), format!("`event` is `null`; {ENTRY}"));
        assert_eq!(
            wrong(r#"{"down": {"machine": null}}"#),
            "`event.down.machine` is `null`; write what it is, or leave it out where it need not be said"
        );
        assert_eq!(
            wrong(r#"{"up": {"machine": "tall", "machine": "wide"}}"#),
            "`machine` stands there twice; write each field once"
        );
        let of = |line: &str| read::<Entry>(line).expect_err("something is wrong with it");
        assert!(of("{\"at\": ").starts_with("this is no JSON (EOF while parsing"));
        assert!(of("[1]").starts_with("`[1]` is no entry; write it as"));
        assert!(of(r#"{"at": "soon"}"#).starts_with("`at` is `\"soon\"`; write `\"at\": \"2027-"));
    }
}
