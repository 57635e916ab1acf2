//! Lists of numbers with a meaning by position, and ranges.
//!
//! Knows: `[300, 300]`, `2..6`. Must not know: which fields there are.
//! Promises: as many numbers as were asked for, each within its limits.

use std::ops::RangeInclusive;

use super::{Ask, Kind, Number, entries, text};
use crate::scenario::tree::{Node, Value};

/// A fixed number of lengths.
pub struct Sides<const N: usize> {
    /// The limits of each.
    pub each: Number,
    /// What each of them is.
    pub meaning: &'static str,
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
            return ask.refuse(node, format!("must be {}", self.rule()));
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
        outside.push(format!("[{}]", vec!["1"; self.most + 1].join(", ")));
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
