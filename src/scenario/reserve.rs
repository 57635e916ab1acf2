//! Spares that the program counts: `spares: auto`.
//!
//! Knows: parts, machines, what is known of failures. Must not know: routes, plates, what was printed.
//! Promises: only parts with `spares: auto` are changed; a reserve is never below what it is with fewer failures.
//!
//! Which machine makes a copy and what lies with it is decided later, so both are taken at their worst: the machine that fails
//! most often (by expectation) of those that may make the part, print its material and hold it; and runs filled in any way up to
//! the number of copies that may share one, since a whole run fails together.

use crate::chance::{Extras, Share, extras};

use super::fields::MOST_COPIES;
use super::model::{Machine, MachineKind, Part, Scenario};

/// What one machine has printed.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Experience {
    /// Runs that have ended, well or not.
    pub runs: u32,
    /// Those of them that failed; of one that failed in part, the share of its pieces that are lost.
    pub failed: f64,
}

/// What is known of the share of a machine's runs that fail: its `scrap`, and what happened.
pub fn failing(machine: &Machine, experience: Experience) -> Share {
    Share::stated(machine.scrap).after(experience.runs, experience.failed)
}

impl Scenario {
    /// Sets the spares of every part with `spares: auto`, and how many of its copies may share a run for them to be enough. `experience` is by machine, and `made` the good copies that there
    /// are of each part; what is left out of either is none. Copies that are made already are never taken back.
    ///
    /// # Errors
    /// The positions of parts for which no number of spares that can be planned suffices; they keep what they had.
    pub fn reserve(&mut self, experience: &[Experience], made: &[u32]) -> Result<(), Vec<usize>> {
        let mut without = Vec::new();
        for at in 0..self.parts.len() {
            if !self.parts[at].reserve {
                continue;
            }
            let made = made.get(at).copied().unwrap_or(0);
            match self.reserve_of(&self.parts[at], experience, made) {
                Some(extras) => {
                    self.parts[at].spares = extras.copies;
                    self.parts[at].together = extras.together;
                }
                None => without.push(at),
            }
        }
        if without.is_empty() {
            Ok(())
        } else {
            Err(without)
        }
    }

    fn reserve_of(&self, part: &Part, experience: &[Experience], made: u32) -> Option<Extras> {
        let wanted = part.quantity.saturating_sub(made);
        let beyond = made.saturating_sub(part.quantity);
        let makers: Vec<(usize, u32)> = self
            .machines
            .iter()
            .enumerate()
            .filter(|(at, machine)| self.may_make(part, *at, machine))
            .map(|(at, machine)| (at, held(part, machine, 1)))
            .collect();
        // Whole where any machine holds it so, else in the fewest lengths that one of them holds.
        let whole = makers.iter().any(|(_, held)| *held > 0);
        let lengths = match &part.split {
            Some(split) if !whole => split
                .into
                .clone()
                .find(|&lengths| {
                    let holds =
                        |(at, _): &(usize, u32)| held(part, &self.machines[*at], lengths) > 0;
                    makers.iter().any(holds)
                })
                .unwrap_or(*split.into.start()),
            _ => 1,
        };
        let holding = |(at, _): &&(usize, u32)| held(part, &self.machines[*at], lengths) > 0;
        let share = makers
            .iter()
            .filter(holding)
            .map(|(at, _)| {
                let experience = experience.get(*at).copied().unwrap_or_default();
                failing(&self.machines[*at], experience)
            })
            .max_by(|a, b| a.mean().total_cmp(&b.mean()));
        // What no machine holds is refused when its routes are looked for.
        let Some(share) = share else {
            return Some(Extras {
                copies: beyond,
                together: None,
            });
        };
        let together = if part.alone {
            1
        } else {
            makers.iter().map(|(_, held)| *held).max().unwrap_or(1)
        };
        let most = MOST_COPIES as u32; // far below the largest number that it holds
        extras(
            share,
            wanted,
            together,
            lengths,
            self.build.confidence,
            most,
        )
        .map(|extras| Extras {
            copies: extras.copies.max(beyond),
            ..extras
        })
    }

    fn may_make(&self, part: &Part, at: usize, machine: &Machine) -> bool {
        let material = &self.filaments[part.filament.0].material;
        let belt = !machine.is_belt() || part.belt;
        part.only[at] && belt && machine.materials.contains(material)
    }
}

/// How many copies, or single lengths of them, a machine holds in one run, by the area of their boxes: never fewer than it does.
fn held(part: &Part, machine: &Machine, lengths: u32) -> u32 {
    let size = part.size.map(|side| side.0);
    let longest = (0..3).fold(0, |longest, side| {
        if size[side] > size[longest] {
            side
        } else {
            longest
        }
    });
    let mut size = size;
    size[longest] /= f64::from(lengths);
    let (room, height) = match machine.kind {
        MachineKind::Bed { bed, height } => {
            let inside = |side: f64| side - 2.0 * machine.margin.0;
            ([inside(bed[0].0), inside(bed[1].0)], height.0)
        }
        MachineKind::Belt {
            section, longest, ..
        } => (
            [section[0].0 - 2.0 * machine.margin.0, longest.0],
            section[1].0,
        ),
    };
    let diagonal = room[0].hypot(room[1]);
    let ways = part.lie.iter().filter_map(|axis| {
        let upright = axis.index();
        let (a, b) = (size[(upright + 1) % 3], size[(upright + 2) % 3]);
        // Whatever lies on a bed at any angle is no longer than its diagonal, and no wider than its narrower side.
        let fits =
            size[upright] <= height && a.max(b) <= diagonal && a.min(b) <= room[0].min(room[1]);
        let gap = machine.spacing.0;
        // Each takes its box and the spacing along two sides, of a bed that is as much larger.
        let area = (room[0] + gap) * (room[1] + gap) / ((a + gap) * (b + gap));
        // A number that is not finite or too large becomes the largest one.
        fits.then_some((area + 1e-9).floor().max(1.0) as u32)
    });
    ways.max().unwrap_or(0)
}
