//! Lists of numbers with a meaning by position, and ranges.
//!
//! Knows: `[300, 300]`, `2..6`. Must not know: which fields there are.
//! Promises: as many numbers as were asked for, each within its limits.

use std::ops::RangeInclusive;

use super::{Ask, Kind, Number, entries, text};
use crate::scenario::model::Turns;
use crate::scenario::tree::{Node, Value};

/// A fixed number of lengths.
pub struct Sides<const N: usize> {
    /// The limits of each.
    pub each: Number,
    /// What each of them is.
    pub meaning: &'static str,
    /// The field in which a further number belongs, if there is one.
    pub further: Option<&'static str>,
}

/// Any number of numbers; a single one counts as a list of one.
pub struct Numbers {
    /// The limits of each.
    pub each: Number,
    /// The most entries.
    pub most: usize,
}

/// Points in space: `[[0, 0, 40], [0, 0, -40]]`; a single one counts as a list of one.
pub struct Points {
    /// The limits of each coordinate.
    pub each: Number,
    /// The most points.
    pub most: usize,
}

/// Whole degrees that go into a full turn, `any` or `none`.
pub struct TurnStep;

/// Degrees between turns where any is allowed.
const FINEST: u32 = 1;

/// `2..6`, both ends included, or one number for just that.
pub struct Range {
    /// Least value allowed.
    pub least: u32,
    /// Greatest value allowed.
    pub most: u32,
}

impl<const N: usize> Kind for Sides<N> {
    type Out = [f64; N];

    fn read(&self, node: &Node, ask: &mut Ask<'_>) -> Option<Self::Out> {
        let Value::List(items) = &node.value else {
            return ask.refuse(node, format!("must be {}", self.rule()));
        };
        if items.len() != N {
            let rule = format!("must be {}", self.rule());
            if let (Some(further), [.., last]) = (self.further, &items[..])
                && items.len() == N + 1
            {
                let fix = format!(
                    "write `{}`, and beside it `{further}: {}`",
                    ask.example,
                    last.shown()
                );
                return ask.refuse_with(node, rule, fix);
            }
            return match other_count(items, N) {
                Some(fix) => ask.refuse_with(node, rule, fix),
                None => ask.refuse(node, rule),
            };
        }
        let mut sides = [0.0; N];
        let mut whole = true;
        for (side, item) in sides.iter_mut().zip(items) {
            match self.each.read(item, ask) {
                Some(number) => *side = number,
                None => whole = false,
            }
        }
        whole.then_some(sides)
    }

    fn rule(&self) -> String {
        format!("{N} numbers: {}; each {}", self.meaning, self.each.rule())
    }

    #[cfg(test)]
    fn outside(&self) -> Vec<String> {
        let right = format!("{}", self.each.most);
        let mut outside: Vec<String> = self
            .each
            .outside()
            .into_iter()
            .map(|wrong| {
                let mut all = vec![right.clone(); N];
                all[N - 1] = wrong;
                format!("[{}]", all.join(", "))
            })
            .collect();
        outside.push(right.clone());
        outside.push("[]".to_owned());
        outside.push(format!("[{}]", vec![right; N + 1].join(", ")));
        outside
    }
}

/// What is most probably meant by too many or too few numbers: a decimal point for a comma, or a comma between.
fn other_count(items: &[Node], wanted: usize) -> Option<String> {
    let words: Vec<&str> = items
        .iter()
        .map(|item| match &item.value {
            Value::Text(text) => Some(text.trim()),
            _ => None,
        })
        .collect::<Option<_>>()?;
    let apart: Vec<&str> = words.iter().flat_map(|w| w.split_whitespace()).collect();
    if words.len() < wanted && apart.len() == wanted {
        return Some(format!("write commas between: `[{}]`", apart.join(", ")));
    }
    if words.len() <= wanted || !words.iter().all(|word| super::number(word).is_some()) {
        return None;
    }
    // A comma without a blank after it, where others have one, stands for a point.
    let mut meant: Vec<String> = Vec::new();
    for (at, word) in words.iter().enumerate() {
        let before = at.checked_sub(1).map(|before| items[before].spot);
        let here = items[at].spot;
        let tight = before.is_some_and(|before| {
            (before.line, before.column + before.length + 1) == (here.line, here.column)
        });
        match meant.last_mut() {
            Some(last) if tight && !last.contains('.') => last.push_str(&format!(".{word}")),
            _ => meant.push((*word).to_owned()),
        }
    }
    let count = words.len();
    Some(if meant.len() == wanted {
        format!(
            "these are {count} numbers; a decimal point is a point: `[{}]`",
            meant.join(", ")
        )
    } else {
        format!("these are {count} numbers; write {wanted}, with a point as decimal point, `1.2`")
    })
}

impl Kind for Numbers {
    type Out = Vec<f64>;

    fn read(&self, node: &Node, ask: &mut Ask<'_>) -> Option<Self::Out> {
        let items = entries(node);
        if items.len() > self.most {
            return ask.refuse(node, format!("must be {}", self.rule()));
        }
        let numbers: Vec<_> = items.iter().map(|item| self.each.read(item, ask)).collect();
        numbers.into_iter().collect()
    }

    fn rule(&self) -> String {
        format!(
            "a list of at most {} numbers, each {}",
            self.most,
            self.each.rule()
        )
    }

    #[cfg(test)]
    fn outside(&self) -> Vec<String> {
        let mut outside: Vec<String> = self
            .each
            .outside()
            .into_iter()
            .map(|wrong| format!("[{}, {wrong}]", self.each.most))
            .collect();
        let most = format!("{}", self.each.most);
        outside.push(format!("[{}]", vec![most; self.most + 1].join(", ")));
        outside
    }
}

impl Kind for Points {
    type Out = Vec<[f64; 3]>;

    fn read(&self, node: &Node, ask: &mut Ask<'_>) -> Option<Self::Out> {
        let Value::List(items) = &node.value else {
            return ask.refuse(node, format!("must be {}", self.rule()));
        };
        let is_list = |item: &Node| matches!(item.value, Value::List(_));
        let points = if items.iter().all(is_list) {
            items.as_slice()
        } else {
            std::slice::from_ref(node)
        };
        if points.is_empty() || points.len() > self.most {
            return ask.refuse(node, format!("must be {}", self.rule()));
        }
        let points: Vec<_> = points.iter().map(|point| self.point(point, ask)).collect();
        points.into_iter().collect()
    }

    fn rule(&self) -> String {
        format!(
            "a point of 3 numbers, or a list of at most {} such points; each number {}",
            self.most,
            self.each.rule()
        )
    }

    #[cfg(test)]
    fn outside(&self) -> Vec<String> {
        let mut outside: Vec<String> = self
            .each
            .outside()
            .into_iter()
            .map(|wrong| format!("[[0, 0, {wrong}]]"))
            .collect();
        outside.extend(
            [
                "[]",
                "[[]]",
                "[0, 0]",
                "[[0, 0, 0, 0]]",
                "[[0, 0, 0], 0]",
                "0",
            ]
            .map(str::to_owned),
        );
        outside.push(format!("[{}]", vec!["[0, 0, 0]"; self.most + 1].join(", ")));
        outside
    }
}

impl Points {
    fn point(&self, node: &Node, ask: &mut Ask<'_>) -> Option<[f64; 3]> {
        let Value::List(items) = &node.value else {
            return ask.refuse(node, format!("must be {}", self.rule()));
        };
        let numbers: Vec<_> = items.iter().map(|item| self.each.read(item, ask)).collect();
        let numbers: Option<Vec<f64>> = numbers.into_iter().collect();
        match <[f64; 3]>::try_from(numbers?) {
            Ok(point) => Some(point),
            Err(_) => ask.refuse(node, format!("must be {}", self.rule())),
        }
    }
}

impl Kind for TurnStep {
    type Out = Turns;

    fn read(&self, node: &Node, ask: &mut Ask<'_>) -> Option<Turns> {
        match text(self, node, ask)? {
            "none" => Some(Turns::Never),
            "any" => Some(Turns::Every(FINEST)),
            written => match written.parse::<u32>() {
                Ok(step) if step > 0 && 360 % step == 0 => Some(Turns::Every(step)),
                Ok(step) if (1..=360).contains(&step) => {
                    // The next smaller part of 360; 1 is one.
                    let next = (1..step).rev().find(|part| 360 % part == 0).unwrap_or(1);
                    ask.refuse_with(
                        node,
                        format!("must be {}", self.rule()),
                        format!("write for example `turn: {next}`"),
                    )
                }
                _ => ask.refuse(node, format!("must be {}", self.rule())),
            },
        }
    }

    fn rule(&self) -> String {
        format!("whole degrees that go into 360, any (every {FINEST}°) or none")
    }

    #[cfg(test)]
    fn outside(&self) -> Vec<String> {
        ["0", "-90", "100", "361", "45.5", "some", "[90]"]
            .map(String::from)
            .to_vec()
    }
}

impl Kind for Range {
    type Out = RangeInclusive<u32>;

    fn read(&self, node: &Node, ask: &mut Ask<'_>) -> Option<Self::Out> {
        let written = text(self, node, ask)?;
        let (first, last) = written.split_once("..").unwrap_or((written, written));
        let end = |text: &str| -> Option<u32> { text.trim().parse().ok() };
        let (Some(first), Some(last)) = (end(first), end(last)) else {
            // Other dashes between two numbers can only be meant as this.
            let meant = written.split_once(['-', '–', '—', ':']);
            let meant = meant.and_then(|(first, last)| Some((end(first)?, end(last)?)));
            return match meant {
                Some((first, last)) => ask.refuse_with(
                    node,
                    format!("must be {}", self.rule()),
                    format!("write `{first}..{last}`"),
                ),
                None => ask.refuse(node, format!("must be {}", self.rule())),
            };
        };
        let within = self.least..=self.most;
        if !within.contains(&first) || !within.contains(&last) {
            return ask.refuse(node, format!("must be {}", self.rule()));
        }
        if first > last {
            return ask.refuse_with(
                node,
                "must not run backward",
                format!("write `{last}..{first}`"),
            );
        }
        Some(first..=last)
    }

    fn rule(&self) -> String {
        format!(
            "a range such as {}..{}, within {0} to {1}",
            self.least, self.most
        )
    }

    #[cfg(test)]
    fn outside(&self) -> Vec<String> {
        vec![
            format!("{}..{}", self.least - 1, self.most),
            format!("{}..{}", self.least, self.most + 1),
            format!("{}..{}", self.least + 1, self.least),
            format!("{}..", self.least),
            "..".to_owned(),
            format!("{}", self.least - 1),
        ]
    }
}
