//! Names, texts, and words out of a fixed choice.
//!
//! Knows: which characters a name may have. Must not know: which names there are.
//! Promises: a name can stand in a table, a path and a message without quotes.

use std::collections::BTreeSet;

use super::{Ask, Kind, entries, text};
use crate::scenario::collector::At;
use crate::scenario::model::{Axis, Hands};
use crate::scenario::names::nearest;
use crate::scenario::tree::Node;

/// Longest name.
const LONGEST_ID: usize = 60;
/// Names that mean something else where a name may stand.
const RESERVED: [&str; 4] = ["none", "any", "never", "unlimited"];

/// A name: letters, digits, `-`, `_` and `.`.
pub struct Id;

/// A name, or `none`.
pub struct IdOrNone;

/// One line of text for people.
pub struct Line {
    /// Most characters allowed.
    pub longest: usize,
}

/// Names in a list.
pub struct Ids;

/// Names of materials in a list; upper case comes out.
pub struct Materials;

/// `#rrggbb`; lower case comes out.
pub struct Colour;

/// Axes out of `x`, `y`, `z`, or `any`.
pub struct Lie;

/// A number of people, or `unlimited`.
pub struct Hand {
    /// Most people.
    pub most: u32,
}

/// A number of spares, or `auto`.
pub struct Extra {
    /// Most spares.
    pub most: u32,
}

/// Spares as written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Spares {
    /// So many.
    Count(u32),
    /// As many as suffice.
    Auto,
}

impl Spares {
    /// The number, if one is written.
    pub fn count(self) -> Option<u32> {
        match self {
            Self::Count(count) => Some(count),
            Self::Auto => None,
        }
    }
}

/// One word out of a few.
pub struct Choice<T: 'static>(pub &'static [(&'static str, T)]);

/// Whether a text can be a name, or why not.
pub(super) fn id_trouble(text: &str) -> Option<&'static str> {
    let allowed = |c: char| c.is_alphanumeric() || matches!(c, '-' | '_' | '.');
    if text.is_empty() {
        Some("must not be empty")
    } else if !text.starts_with(char::is_alphanumeric) || !text.chars().all(allowed) {
        Some(
            "must be made of letters, digits, `-`, `_` and `.` only, and begin with a letter or digit",
        )
    } else if text.chars().count() > LONGEST_ID {
        Some("must have at most 60 characters")
    } else if RESERVED.contains(&text) {
        Some("must not be one of the words none, any, never, unlimited")
    } else {
        None
    }
}

/// A name made of what was written, as a proposal.
fn proposal(text: &str) -> Option<String> {
    let words: Vec<&str> = text
        .split(|c: char| !c.is_alphanumeric())
        .filter(|word| !word.is_empty())
        .collect();
    let id: String = words.join("-").chars().take(LONGEST_ID).collect();
    id_trouble(&id).is_none().then_some(id)
}

impl Kind for Id {
    type Out = String;

    fn read(&self, node: &Node, ask: &mut Ask<'_>) -> Option<String> {
        let written = text(self, node, ask)?;
        match id_trouble(written) {
            None => Some(written.to_owned()),
            Some(rule) => match proposal(written) {
                Some(id) => ask.refuse_with(node, rule, format!("write for example `{id}`")),
                None => ask.refuse(node, rule),
            },
        }
    }

    fn rule(&self) -> String {
        "a name".to_owned()
    }

    #[cfg(test)]
    fn outside(&self) -> Vec<String> {
        vec![
            "\"\"".to_owned(),
            "two words".to_owned(),
            "none".to_owned(),
            "a/b".to_owned(),
            "x".repeat(LONGEST_ID + 1),
            "[a]".to_owned(),
        ]
    }
}

impl Kind for IdOrNone {
    type Out = Option<String>;

    fn read(&self, node: &Node, ask: &mut Ask<'_>) -> Option<Option<String>> {
        match text(self, node, ask)? {
            "none" => Some(None),
            _ => Id.read(node, ask).map(Some),
        }
    }

    fn rule(&self) -> String {
        "a name, or none".to_owned()
    }

    #[cfg(test)]
    fn outside(&self) -> Vec<String> {
        vec!["two words".to_owned(), "any".to_owned()]
    }
}

impl Kind for Line {
    type Out = String;

    fn read(&self, node: &Node, ask: &mut Ask<'_>) -> Option<String> {
        let written = text(self, node, ask)?;
        let length = written.chars().count();
        if length == 0 || length > self.longest || written.chars().any(char::is_control) {
            return ask.refuse(node, format!("must be {}", self.rule()));
        }
        Some(written.to_owned())
    }

    fn rule(&self) -> String {
        format!("a line of 1 to {} characters", self.longest)
    }

    #[cfg(test)]
    fn outside(&self) -> Vec<String> {
        vec![
            "\"\"".to_owned(),
            "x".repeat(self.longest + 1),
            "\"a\\nb\"".to_owned(),
        ]
    }
}

impl Kind for Ids {
    type Out = Vec<At<String>>;

    fn read(&self, node: &Node, ask: &mut Ask<'_>) -> Option<Self::Out> {
        let ids: Vec<_> = entries(node)
            .iter()
            .map(|node| {
                Id.read(node, ask).map(|value| At {
                    value,
                    spot: node.spot,
                })
            })
            .collect();
        ids.into_iter().collect()
    }

    fn rule(&self) -> String {
        "a list of names".to_owned()
    }

    #[cfg(test)]
    fn outside(&self) -> Vec<String> {
        vec!["[two words]".to_owned(), "[[a]]".to_owned()]
    }
}

impl Kind for Materials {
    type Out = BTreeSet<String>;

    fn read(&self, node: &Node, ask: &mut Ask<'_>) -> Option<Self::Out> {
        let names: BTreeSet<String> = Ids
            .read(node, ask)?
            .into_iter()
            .map(|name| name.value.to_uppercase())
            .collect();
        if names.is_empty() {
            return ask.refuse(node, format!("must be {}", self.rule()));
        }
        Some(names)
    }

    fn rule(&self) -> String {
        "a list of at least one material".to_owned()
    }

    #[cfg(test)]
    fn outside(&self) -> Vec<String> {
        vec!["[]".to_owned(), "[two words]".to_owned()]
    }
}

impl Kind for Colour {
    type Out = String;

    fn read(&self, node: &Node, ask: &mut Ask<'_>) -> Option<String> {
        let written = text(self, node, ask)?;
        let hex = written
            .strip_prefix('#')
            .filter(|hex| hex.len() == 6 && hex.chars().all(|c| c.is_ascii_hexdigit()));
        match hex {
            Some(hex) => Some(format!("#{}", hex.to_ascii_lowercase())),
            None => ask.refuse(node, format!("must be {}", self.rule())),
        }
    }

    fn rule(&self) -> String {
        "a colour: `#` and six hexadecimal digits (red, green, blue), in quotes".to_owned()
    }

    #[cfg(test)]
    fn outside(&self) -> Vec<String> {
        vec![
            "yellow".to_owned(),
            "\"#fff\"".to_owned(),
            "\"#gggggg\"".to_owned(),
            "#e8b10a".to_owned(),
        ]
    }
}

impl Kind for Lie {
    type Out = Vec<Axis>;

    fn read(&self, node: &Node, ask: &mut Ask<'_>) -> Option<Self::Out> {
        let mut axes = BTreeSet::new();
        for entry in entries(node) {
            match text(self, entry, ask)? {
                "any" => axes.extend(Axis::ALL),
                "x" => {
                    axes.insert(Axis::X);
                }
                "y" => {
                    axes.insert(Axis::Y);
                }
                "z" => {
                    axes.insert(Axis::Z);
                }
                _ => return ask.refuse(entry, format!("must be {}", self.rule())),
            }
        }
        if axes.is_empty() {
            return ask.refuse(node, format!("must be {}", self.rule()));
        }
        Some(axes.into_iter().collect())
    }

    fn rule(&self) -> String {
        "any, or some of x, y and z (the axes of `size` that may stand upright)".to_owned()
    }

    #[cfg(test)]
    fn outside(&self) -> Vec<String> {
        vec!["[]".to_owned(), "[w]".to_owned(), "up".to_owned()]
    }
}

impl Hand {
    fn number(&self) -> super::Whole {
        super::Whole {
            unit: "",
            least: 1,
            most: self.most,
        }
    }
}

impl Extra {
    fn number(&self) -> super::Whole {
        super::Whole {
            unit: "",
            least: 0,
            most: self.most,
        }
    }
}

impl Kind for Extra {
    type Out = Spares;

    fn read(&self, node: &Node, ask: &mut Ask<'_>) -> Option<Spares> {
        match text(self, node, ask)? {
            "auto" => Some(Spares::Auto),
            _ => self.number().read(node, ask).map(Spares::Count),
        }
    }

    fn rule(&self) -> String {
        format!("{}, or auto", self.number().rule())
    }

    #[cfg(test)]
    fn outside(&self) -> Vec<String> {
        let mut outside = self.number().outside();
        outside.push("some".to_owned());
        outside
    }
}

impl Kind for Hand {
    type Out = Hands;

    fn read(&self, node: &Node, ask: &mut Ask<'_>) -> Option<Hands> {
        match text(self, node, ask)? {
            "unlimited" => Some(Hands::Unlimited),
            written => match self.number().within(written) {
                Some(count) => Some(Hands::Count(count)),
                None => ask.refuse(node, format!("must be {}", self.rule())),
            },
        }
    }

    fn rule(&self) -> String {
        format!("{}, or unlimited", self.number().rule())
    }

    #[cfg(test)]
    fn outside(&self) -> Vec<String> {
        let mut outside = self.number().outside();
        outside.push("many".to_owned());
        outside
    }
}

impl<T> Choice<T> {
    /// The word that another one stands for: one of the many for yes and no, or a misspelt one.
    fn meant(&self, written: &str) -> Option<&'static str> {
        let lower = written.to_lowercase();
        // Of two words the first permits.
        if let [(yes @ ("true" | "allowed"), _), (no, _)] = self.0 {
            match lower.as_str() {
                "yes" | "y" | "on" | "true" | "1" | "always" | "allow" | "ok" => return Some(yes),
                "no" | "n" | "off" | "false" | "0" | "never" | "none" | "not" | "forbidden" => {
                    return Some(no);
                }
                _ => {}
            }
        }
        nearest(&lower, self.0.iter().map(|(word, _)| *word))
    }
}

impl<T: Copy> Kind for Choice<T> {
    type Out = T;

    fn read(&self, node: &Node, ask: &mut Ask<'_>) -> Option<T> {
        let written = text(self, node, ask)?;
        let found = self
            .0
            .iter()
            .find(|(word, _)| word.eq_ignore_ascii_case(written));
        match found {
            Some((_, value)) => Some(*value),
            None => match self.meant(written) {
                Some(word) => {
                    let key = ask.example.split(':').next().unwrap_or_default();
                    let fix = format!("write `{key}: {word}`");
                    ask.refuse_with(node, format!("must be {}", self.rule()), fix)
                }
                None => ask.refuse(node, format!("must be {}", self.rule())),
            },
        }
    }

    fn rule(&self) -> String {
        let words: Vec<&str> = self.0.iter().map(|(word, _)| *word).collect();
        words.join(" or ")
    }

    #[cfg(test)]
    fn outside(&self) -> Vec<String> {
        vec!["neither".to_owned(), "[]".to_owned()]
    }
}
