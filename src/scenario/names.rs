//! Which names a scenario gives to its machines, filaments, settings, joints, parts and assemblies.
//!
//! Knows: names and their positions. Must not know: what the named things are.
//! Promises: a name leads to the first thing that bears it.

use std::collections::HashMap;

use super::collector::{At, Collector, shortened};

/// More names than this are not listed in a message.
const MOST_SHOWN: usize = 12;

/// The names of one section.
pub struct Names {
    /// What they name, for messages.
    pub what: &'static str,
    complete: bool,
    order: Vec<String>,
    positions: HashMap<String, usize>,
}

impl Names {
    /// Takes the names in, in their order; an unreadable name keeps its position. Unless the section is `complete`,
    /// that is, could be read as a whole, a name that is not in it may still be right.
    pub fn new<'a>(
        what: &'static str,
        complete: bool,
        names: impl Iterator<Item = Option<&'a At<String>>>,
    ) -> Self {
        let order: Vec<String> = names
            .map(|name| name.map_or(String::new(), |name| name.value.clone()))
            .collect();
        let mut positions = HashMap::new();
        for (position, name) in order.iter().enumerate() {
            positions.entry(name.clone()).or_insert(position);
        }
        Self {
            what,
            complete,
            order,
            positions,
        }
    }

    /// Whether there is more than one.
    pub fn several(&self) -> bool {
        self.order.len() > 1
    }

    /// What they name, as many.
    pub fn plural(&self) -> String {
        if self.many() {
            self.what.to_owned()
        } else {
            format!("{}s", self.what)
        }
    }

    /// Whether one of them is spoken of as many, as the settings of a print are.
    fn many(&self) -> bool {
        self.what.ends_with('s')
    }

    /// The names, or the first of many.
    pub fn listed(&self) -> String {
        let some: Vec<&str> = self.known().take(MOST_SHOWN).collect();
        let more = if self.known().nth(MOST_SHOWN).is_some() {
            ", …"
        } else {
            ""
        };
        format!("{}{more}", some.join(", "))
    }

    /// Each name once.
    fn known(&self) -> impl Iterator<Item = &str> {
        let names = self.order.iter().map(String::as_str).enumerate();
        let firsts = names.filter(|(at, name)| self.find(name) == Some(*at));
        firsts.map(|(_, name)| name).filter(|name| !name.is_empty())
    }

    /// The position of the only thing there is.
    pub fn only(&self) -> Option<usize> {
        (self.order.len() == 1).then_some(0)
    }

    /// The position of a name.
    pub fn find(&self, name: &str) -> Option<usize> {
        self.positions.get(name).copied()
    }

    /// Complains of a name that nothing bears.
    pub fn refuse_unknown(&self, name: &At<String>, field: &str, collector: &mut Collector) {
        if self.find(&name.value).is_some() || !self.complete {
            return;
        }
        // Of a section that is there under a wrong name nothing has been read.
        if self.order.is_empty() && collector.is_corrected(&self.plural()) {
            return;
        }
        let nearest = if collector.is_full() {
            None
        } else {
            nearest(&name.value, self.known())
        };
        // It may be the one that could not be read.
        if nearest.is_none() && self.order.iter().any(String::is_empty) {
            return;
        }
        let fix = match nearest {
            Some(nearest) => format!("did you mean `{nearest}`?"),
            None if self.order.is_empty() => format!("describe the {} first", self.what),
            None => format!("take one of {}", self.listed()),
        };
        let are = if self.many() { "are" } else { "is" };
        collector.error(
            name.spot,
            field,
            format!("there {are} no {} of this name", self.what),
            &shortened(&name.value),
            fix,
        );
    }
}

/// The known word that a misspelt one most probably meant.
///
/// At most a third of the letters may differ (swapped neighbours count once), else it is a guess and not advice.
pub fn nearest<'a>(word: &str, known: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    let length = word.chars().count();
    if length > 80 {
        return None;
    }
    let most = (length / 3).max(1);
    known
        .filter(|known| known.chars().count().abs_diff(length) <= most)
        .map(|known| (strsim::osa_distance(word, known), known))
        .filter(|(distance, _)| *distance <= most)
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, known)| known)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn advice_is_given_only_for_a_near_word() {
        let known = || ["yellow", "black", "grey"].into_iter();
        // One letter of six is missing; two neighbours are swapped; `red` is three letters from `grey`.
        assert_eq!(nearest("yelow", known()), Some("yellow"));
        assert_eq!(nearest("balck", known()), Some("black"));
        assert_eq!(nearest("red", known()), None);
        assert_eq!(nearest("", known()), None);
    }
}
