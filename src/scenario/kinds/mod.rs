//! How single values are written: numbers, durations, shares, words, dates, hours, sizes.
//!
//! Knows: the user's notation and the limits that a row of the table gives. Must not know: which fields there are.
//! Promises: a value comes out only within its limits; otherwise one complaint says the limit.

mod dates;
mod hours;
mod numbers;
mod profile;
mod shapes;
mod words;

pub use dates::{Dates, Moment, Zone, minute_of_day, moment};
pub use hours::{Hours, WrittenSpan, clock};
pub use numbers::{Duration, Minute, Number, Share, Whole, number, seconds};
pub use profile::Profiles;
pub use shapes::{Numbers, Points, Range, Sides, TurnStep};
pub use words::{Choice, Colour, Extra, Hand, Id, IdOrNone, Ids, Lie, Line, Materials, Spares};

use super::collector::{Collector, Spot, shortened};
use super::tree::{Node, Value};

/// One way to write a value, with its limits.
pub trait Kind {
    /// What comes out.
    type Out;

    /// Reads a value; `None` after a complaint.
    fn read(&self, node: &Node, ask: &mut Ask<'_>) -> Option<Self::Out>;

    /// The limit in words, to follow "must be".
    fn rule(&self) -> String;

    /// Values just outside the limits, as written in a scenario.
    #[cfg(test)]
    fn outside(&self) -> Vec<String>;
}

/// What a kind needs to complain: where to, about which field, with which example.
pub struct Ask<'c> {
    /// Where complaints go.
    pub collector: &'c mut Collector,
    /// The field's path.
    pub field: &'c str,
    /// The field, rightly written.
    pub example: &'c str,
}

impl Ask<'_> {
    /// Complains of a value, with the field's example as the fix.
    pub fn refuse<T>(&mut self, node: &Node, rule: impl Into<String>) -> Option<T> {
        let fix = format!("write for example `{}`", self.example);
        self.refuse_with(node, rule, fix)
    }

    /// Complains of a value, with a fix of its own.
    pub fn refuse_with<T>(
        &mut self,
        node: &Node,
        rule: impl Into<String>,
        fix: impl Into<String>,
    ) -> Option<T> {
        self.refuse_at(node.spot, &node.shown(), rule, fix)
    }

    /// Complains of something at a place.
    pub fn refuse_at<T>(
        &mut self,
        spot: Spot,
        found: &str,
        rule: impl Into<String>,
        fix: impl Into<String>,
    ) -> Option<T> {
        self.collector
            .error(spot, self.field, rule, &shortened(found), fix);
        None
    }
}

/// The text of a value that is neither list nor map; `None` after a complaint.
fn text<'n, K: Kind>(kind: &K, node: &'n Node, ask: &mut Ask<'_>) -> Option<&'n str> {
    match &node.value {
        Value::Text(text) => Some(text.trim()),
        _ => ask.refuse(node, format!("must be {}", kind.rule())),
    }
}

/// A list's entries; a single value counts as a list of one.
fn entries(node: &Node) -> &[Node] {
    match &node.value {
        Value::List(items) => items,
        _ => std::slice::from_ref(node),
    }
}
