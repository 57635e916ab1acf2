//! Which names a scenario gives to its machines, filaments, settings, joints, parts and assemblies.
//!
//! Knows: names and their positions. Must not know: what the named things are.
//! Promises: a name leads to the first thing that bears it.

use std::collections::HashMap;

use super::collector::{At, Collector, shortened};

/// The names of one section.
pub struct Names {
    /// What they name, for messages.
    pub what: &'static str,
    order: Vec<String>,
    positions: HashMap<String, usize>,
}

impl Names {
    /// Takes the names in, in their order; an unreadable name keeps its position.
    pub fn new<'a>(
        what: &'static str,
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
            order,
            positions,
        }
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
        if self.find(&name.value).is_some() {
            return;
        }
        let known = || {
            self.order
                .iter()
                .map(String::as_str)
                .filter(|name| !name.is_empty())
        };
        let nearest = if collector.is_full() {
            None
        } else {
            nearest(&name.value, known())
        };
        let fix = match nearest {
            Some(nearest) => format!("did you mean `{nearest}`?"),
            None if self.order.is_empty() => format!("describe the {} first", self.what),
            None => {
                let some: Vec<&str> = known().take(12).collect();
                let more = if self.order.len() > some.len() {
                    ", …"
                } else {
                    ""
                };
                format!("take one of {}{more}", some.join(", "))
            }
        };
        collector.error(
            name.spot,
            field,
            format!("there is no {} of this name", self.what),
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
