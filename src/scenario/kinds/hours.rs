//! Bench hours by weekday.
//!
//! Knows: `{mon-fri: ["07:00-08:30"], sat: ["09:00-24:00"]}`. Must not know: dates, zones.
//! Promises: every span opens before it closes; whether two of them overlap is for others to say.

use super::dates::minute_of_day;
use super::{Ask, Kind, entries};
use crate::scenario::collector::Spot;
use crate::scenario::entry::without_repeated;
use crate::scenario::model::DaySpan;
use crate::scenario::tree::{Key, Node, Value};

/// Names of the days, Monday first.
const DAYS: [&str; 7] = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"];
/// Most spans in one day; more are a mistake.
const MOST_SPANS: usize = 48;

/// Spans by weekday.
pub struct Hours;

/// A span as written, on one weekday.
#[derive(Clone, Copy, Debug)]
pub struct WrittenSpan {
    /// 0 is Monday.
    pub day: usize,
    /// When.
    pub span: DaySpan,
    /// Where it is written.
    pub spot: Spot,
}

/// The days of `wed`, `mon-fri`, `sat-mon`, `mon, wed, fri`.
fn days(text: &str) -> Option<Vec<usize>> {
    let day = |text: &str| DAYS.iter().position(|day| *day == text.trim());
    let mut days = Vec::new();
    for entry in text.split(',') {
        match entry.split_once('-') {
            None => days.push(day(entry)?),
            Some((first, last)) => {
                let (first, last) = (day(first)?, day(last)?);
                let count = (last + 7 - first) % 7;
                days.extend((0..=count).map(|step| (first + step) % 7));
            }
        }
    }
    Some(days)
}

fn span(node: &Node, ask: &mut Ask<'_>) -> Option<DaySpan> {
    let shape = "must be a span of one day such as \"07:00-08:30\"";
    let Value::Text(text) = &node.value else {
        return ask.refuse(node, shape);
    };
    let ends = text.split_once('-').and_then(|(open, close)| {
        Some((minute_of_day(open.trim())?, minute_of_day(close.trim())?))
    });
    let Some((open, close)) = ends else {
        return match impossible(text) {
            Some((rule, Some(fix))) => ask.refuse_with(node, rule, fix),
            Some((rule, None)) => ask.refuse(node, rule),
            None => ask.refuse(node, shape),
        };
    };
    if open == close {
        return ask.refuse_with(
            node,
            "a span must not be empty",
            "leave it out, or let it close later; a whole day is \"00:00-24:00\"",
        );
    }
    if open > close {
        return ask.refuse_with(node, "a span must not run backward", two_spans(open, close));
    }
    Some(DaySpan { open, close })
}

fn two_spans(open: u32, close: u32) -> String {
    format!(
        "over midnight write two spans: \"{}-24:00\" on that day and \"00:00-{}\" on the next",
        clock(open),
        clock(close)
    )
}

/// What is wrong with a span of which one end is written like a time and is none, and, if that is clear, what is meant.
fn impossible(text: &str) -> Option<(String, Option<String>)> {
    let (open, close) = text.split_once('-')?;
    let (open, close) = (open.trim(), close.trim());
    let wrong = [open, close]
        .into_iter()
        .find(|end| minute_of_day(end).is_none())?;
    let (hour, minute) = wrong.split_once(':')?;
    let (hour, minute): (u32, u32) = (hour.parse().ok()?, minute.parse().ok()?);
    if minute >= 60 {
        let rule = format!("there is no time {wrong}: an hour has 60 minutes");
        return Some((rule, None));
    }
    let rule = format!("there is no time {wrong}: a day ends at 24:00");
    let meant = (wrong == close && (24..48).contains(&hour))
        .then(|| Some(two_spans(minute_of_day(open)?, (hour - 24) * 60 + minute)));
    Some((rule, meant.flatten()))
}

/// `hh:mm` of a minute of the day.
pub fn clock(minute: u32) -> String {
    format!("{:02}:{:02}", minute / 60, minute % 60)
}

fn of_key(key: &Key, node: &Node, ask: &mut Ask<'_>) -> Option<Vec<WrittenSpan>> {
    let Some(days) = days(&key.name) else {
        return ask.refuse_at(
            key.spot,
            &key.name,
            "days must be among mon, tue, wed, thu, fri, sat, sun",
            "write `mon`, `mon-fri`, or several in quotes: `\"mon, wed\"`",
        );
    };
    let items = entries(node);
    if items.len() > MOST_SPANS {
        return ask.refuse(node, format!("a day has at most {MOST_SPANS} spans"));
    }
    let spans = items
        .iter()
        .filter_map(|item| span(item, ask).map(|span| (span, item.spot)));
    Some(
        spans
            .flat_map(|(span, spot)| days.iter().map(move |&day| WrittenSpan { day, span, spot }))
            .collect(),
    )
}

impl Kind for Hours {
    type Out = Vec<WrittenSpan>;

    fn read(&self, node: &Node, ask: &mut Ask<'_>) -> Option<Self::Out> {
        let Value::Map(pairs) = &node.value else {
            return ask.refuse(node, format!("must be {}", self.rule()));
        };
        let before = ask.collector.count();
        let pairs = without_repeated(pairs, ask.field, ask.collector);
        // What can be read is handed on although the rest has been complained of, so that overlaps are found too.
        let spans: Vec<WrittenSpan> = pairs
            .iter()
            .filter_map(|(key, node)| of_key(key, node, ask))
            .flatten()
            .collect();
        let complained = ask.collector.count() > before;
        (!complained || !spans.is_empty()).then_some(spans)
    }

    fn rule(&self) -> String {
        "spans by weekday".to_owned()
    }

    #[cfg(test)]
    fn outside(&self) -> Vec<String> {
        [
            "[]",
            "\"07:00-08:00\"",
            "{mon: [\"22:00-06:00\"]}",
            "{mon: [\"07:00-07:00\"]}",
            "{mon: [\"07:00-24:01\"]}",
            "{mon: [\"seven\"]}",
            "{mon: [[]]}",
            "{monday: [\"07:00-08:00\"]}",
            "{mon-: [\"07:00-08:00\"]}",
        ]
        .map(str::to_owned)
        .to_vec()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_are_single_spanned_or_listed_and_may_run_over_sunday() {
        assert_eq!(days("wed"), Some(vec![2]));
        assert_eq!(days("mon-fri"), Some(vec![0, 1, 2, 3, 4]));
        assert_eq!(days("sat-mon"), Some(vec![5, 6, 0]));
        assert_eq!(days("mon, wed,fri"), Some(vec![0, 2, 4]));
        assert_eq!(days("mon-fri, sun"), Some(vec![0, 1, 2, 3, 4, 6]));
        assert_eq!(days("mon-"), None);
        assert_eq!(days(""), None);
        assert_eq!(days("mon-wed-fri"), None);
    }
}
