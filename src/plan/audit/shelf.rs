//! The spools of one filament while they are followed: which there are, where, and how much is left on each.
//!
//! Knows: names, grams, minutes. Must not know: runs, how spools are chosen.
//! Promises: a spool is taken once, from where it is, by its name or, where it is only ordered, by its grams.

use std::fmt;

use super::presence::Minute;
use super::rule::Rule;

/// Grams that rounding may lose, and the share of a large sum.
pub(super) const GRAMS: f64 = 0.02;
pub(super) const SHARE: f64 = 1e-6;

/// Masses closer than this are the same, g.
const ALIKE: f64 = 1e-4;

/// What is left on a spool, from when, and the machine that it is still on.
pub(super) struct Held<'a> {
    /// `None`: it is to be ordered.
    pub(super) name: Option<&'a str>,
    pub(super) grams: f64,
    pub(super) from: Minute,
    pub(super) on: Option<usize>,
}

/// The spools of one filament.
pub(super) struct Stock<'a> {
    pub(super) held: Vec<Held<'a>>,
    /// Ordered spools that nobody has taken.
    pub(super) new: u32,
    /// When they can be there, if not by the build's start.
    pub(super) comes: Option<Minute>,
    /// What a new one holds.
    pub(super) full: f64,
}

impl<'a> Stock<'a> {
    /// Takes the spool of a name with so many grams that is on the other machine `from` or on the shelf; without a name an ordered one, which
    /// may be new; whether there is one.
    pub(super) fn take(&mut self, said: Said, now: Minute, from: Option<usize>) -> bool {
        let Said { name, grams } = said;
        let near = |is: f64| (is - grams).abs() <= GRAMS + SHARE * grams;
        let there = self.held.iter().enumerate();
        let found = there
            .filter(|(_, held)| held.name == name && near(held.grams))
            .filter(|(_, held)| held.on == from && held.from <= now)
            .min_by_key(|(_, held)| {
                // Of ends that are nearly alike it is the one with that mass, or another run would miss it.
                let off = ((held.grams - grams).abs() / ALIKE) as u64;
                (off, held.from)
            })
            .map(|(at, _)| at);
        let ordered = name.is_none()
            && from.is_none()
            && self.new > 0
            && near(self.full)
            && self.comes.is_none_or(|at| at <= now);
        match found {
            Some(at) => {
                self.held.swap_remove(at);
                true
            }
            None if ordered => {
                self.new -= 1;
                true
            }
            None => false,
        }
    }

    /// Whether a spool with so many grams can be had for a setup, that nobody prints from then.
    pub(super) fn has(&self, grams: f64, now: Minute) -> bool {
        let mut there = self.held.iter().filter(|held| held.from <= now);
        there.any(|held| held.grams >= grams)
    }

    /// Takes what is still on a machine.
    pub(super) fn on(&mut self, machine: usize) -> Option<Held<'a>> {
        let at = self.held.iter().position(|held| held.on == Some(machine))?;
        Some(self.held.swap_remove(at))
    }
}

/// A spool as a plan says that it goes on.
#[derive(Clone, Copy)]
pub(super) struct Said<'a> {
    pub(super) name: Option<&'a str>,
    pub(super) grams: f64,
}

impl Said<'_> {
    /// The rule that is broken where there is no such spool.
    pub(super) fn rule(self) -> Rule {
        match self.name {
            Some(_) => Rule::SpoolNamed,
            None => Rule::SpoolAllotted,
        }
    }
}

impl fmt::Display for Said<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.name {
            Some(name) => write!(f, "spool {name} of {} g", self.grams),
            None => write!(f, "ordered spool of {} g", self.grams),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ordered(grams: f64) -> Said<'static> {
        Said { name: None, grams }
    }

    #[test]
    fn of_spools_nearly_alike_the_one_of_that_mass_is_taken() {
        let held = |grams, from| Held {
            name: None,
            grams,
            from,
            on: None,
        };
        let mut stock = Stock {
            held: vec![held(10.0343, 0), held(10.0450, 5)],
            new: 0,
            comes: None,
            full: 1000.0,
        };
        // The other has lain there longer, and is within what rounding may lose.
        assert!(stock.take(ordered(10.0450), 10, None));
        assert!(stock.take(ordered(10.0343), 10, None));
        assert!(!stock.take(ordered(10.0343), 10, None));
    }

    #[test]
    fn a_spool_is_taken_from_where_it_is_said_to_be() {
        let mut stock = Stock {
            held: vec![Held {
                name: Some("grey-1"),
                grams: 999.999,
                from: 0,
                on: Some(0),
            }],
            new: 1,
            comes: None,
            full: 1000.0,
        };
        // What is on a machine is not on the shelf, where the new one is; nor on another machine.
        let first = Said {
            name: Some("grey-1"),
            grams: 1000.0,
        };
        assert!(!stock.take(first, 10, Some(1)));
        assert!(!stock.take(first, 10, None));
        assert!(stock.take(ordered(1000.0), 10, None));
        assert_eq!((stock.new, stock.held.len()), (0, 1));
        assert!(!stock.take(ordered(1000.0), 10, None));
        // What has a name is not ordered, and has no other.
        assert!(!stock.take(ordered(1000.0), 10, Some(0)));
        let second = Said {
            name: Some("grey-2"),
            ..first
        };
        assert!(!stock.take(second, 10, Some(0)));
        assert!(stock.take(first, 10, Some(0)));
        assert!(stock.held.is_empty());
    }
}
