//! Filament that is short until more can come: how much of it runs may take by when, and how much they take.
//!
//! Knows: filaments by number, masses, minutes. Must not know: spools, orders, prices, other reasons to wait.
//! Promises: of a run that is let in by [`Drawn::release`], and of all that were let in before it, whichever begin later, no
//! filament is taken before it is there. Masses are whole milligrams, so that what was added and taken out again leaves nothing.
//!
//! A run takes what it needs when its setup begins: its spool is to be at hand then. Where nothing is short there is no
//! [`Supply`], and nothing is counted.

use crate::calendar::Minute;

/// Whole milligrams of so many grams.
pub fn milligrams(grams: f64) -> i64 {
    (grams * 1000.0).round() as i64
}

/// What can be had of one filament, in all, by runs that begin before the next step.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Steps {
    /// From when on, and milligrams; both rise, and the first is the beginning.
    pub steps: Vec<(Minute, i64)>,
    /// From when on there is no limit.
    pub unlimited: Minute,
}

/// What can be had of the filaments that are short.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Supply {
    /// By filament; `None`: never short.
    pub filaments: Vec<Option<Steps>>,
    /// By machine: milligrams lost in a colour change.
    pub purge: Vec<i64>,
}

impl Supply {
    /// The steps of a filament that is short.
    pub fn steps(&self, filament: u32) -> Option<&Steps> {
        self.filaments.get(filament as usize)?.as_ref()
    }

    /// What a run of so much takes on a machine, with what is lost where its setup changes the filament. However little it is, a spool has to
    /// be there.
    pub fn takes(&self, machine: usize, milligrams: i64, changes: bool) -> i64 {
        (milligrams + if changes { self.purge[machine] } else { 0 }).max(1)
    }
}

/// What one run takes of a filament that is short.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Draw {
    /// Position of the run on its sheet.
    pub run: u32,
    /// Which filament.
    pub filament: u32,
    /// When its setup begins.
    pub at: Minute,
    /// How much.
    pub milligrams: i64,
}

/// What dated runs take of the filaments that are short, by step.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Drawn {
    by_filament: Vec<Vec<i64>>,
}

impl Drawn {
    /// Nothing is taken yet.
    pub fn new(supply: Option<&Supply>) -> Self {
        let filaments = supply.into_iter().flat_map(|supply| &supply.filaments);
        let steps = |steps: &Option<Steps>| {
            let steps = steps.as_ref().map_or(0, |steps| steps.steps.len());
            vec![0; steps]
        };
        Self {
            by_filament: filaments.map(steps).collect(),
        }
    }

    /// The first minute at which so much more of a filament may be taken: all that is taken later, too, is still there then.
    pub fn release(&self, supply: &Supply, filament: u32, milligrams: i64) -> Minute {
        let Some(steps) = supply.steps(filament) else {
            return 0;
        };
        let mut taken = milligrams;
        let mut release = 0;
        for (at, &(_, there)) in steps.steps.iter().enumerate() {
            taken += self.by_filament[filament as usize][at];
            if taken > there {
                let next = steps.steps.get(at + 1);
                release = next.map_or(steps.unlimited, |next| next.0);
            }
        }
        release
    }

    /// Counts a run; `false` where it need not be, since its filament is not short then.
    pub fn add(&mut self, supply: &Supply, draw: Draw) -> bool {
        self.change(supply, draw, 1)
    }

    /// Takes a counted run out.
    pub fn remove(&mut self, supply: &Supply, draw: Draw) {
        self.change(supply, draw, -1);
    }

    fn change(&mut self, supply: &Supply, draw: Draw, sign: i64) -> bool {
        let steps = supply.steps(draw.filament);
        let Some(steps) = steps.filter(|steps| draw.at < steps.unlimited) else {
            return false;
        };
        let after = steps.steps.partition_point(|step| step.0 <= draw.at);
        // The first step is the beginning, before which nothing is dated.
        let step = after.saturating_sub(1);
        self.by_filament[draw.filament as usize][step] += sign * draw.milligrams;
        true
    }

    /// Forgets every run.
    pub fn clear(&mut self) {
        self.by_filament.iter_mut().for_each(|steps| steps.fill(0));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 500 mg at once, 300 more from minute 100, all that is wanted from minute 1000.
    fn supply() -> Supply {
        let steps = Steps {
            steps: vec![(0, 500), (100, 800)],
            unlimited: 1000,
        };
        Supply {
            filaments: vec![None, Some(steps)],
            purge: vec![0],
        }
    }

    fn draw(at: Minute, milligrams: i64) -> Draw {
        Draw {
            run: 0,
            filament: 1,
            at,
            milligrams,
        }
    }

    #[test]
    fn a_run_waits_for_the_step_from_which_on_it_is_there() {
        let (supply, mut drawn) = (supply(), Drawn::new(Some(&supply())));
        assert_eq!(drawn.release(&supply, 1, 500), 0);
        assert_eq!(drawn.release(&supply, 1, 501), 100);
        assert_eq!(drawn.release(&supply, 1, 801), 1000);
        // 400 are taken: 100 are left, 400 from minute 100 on.
        assert!(drawn.add(&supply, draw(0, 400)));
        assert_eq!(drawn.release(&supply, 1, 100), 0);
        assert_eq!(drawn.release(&supply, 1, 400), 100);
        assert_eq!(drawn.release(&supply, 1, 401), 1000);
    }

    #[test]
    fn what_a_later_run_takes_is_left_for_it() {
        // 700 mg are taken from minute 100 on: of the 800 there are then, 100 may go before, and no more.
        let (supply, mut drawn) = (supply(), Drawn::new(Some(&supply())));
        drawn.add(&supply, draw(150, 700));
        assert_eq!(drawn.release(&supply, 1, 100), 0);
        assert_eq!(drawn.release(&supply, 1, 101), 1000);
    }

    #[test]
    fn what_is_never_short_or_no_longer_is_not_counted() {
        let (supply, mut drawn) = (supply(), Drawn::new(Some(&supply())));
        assert!(!drawn.add(&supply, draw(1000, 900)));
        let other = Draw {
            filament: 0,
            ..draw(0, 900)
        };
        assert!(!drawn.add(&supply, other));
        assert_eq!(drawn.release(&supply, 0, 10_000), 0);
        assert_eq!(drawn, Drawn::new(Some(&supply)));
    }

    #[test]
    fn a_run_taken_out_leaves_nothing() {
        let (supply, mut drawn) = (supply(), Drawn::new(Some(&supply())));
        drawn.add(&supply, draw(99, 123));
        drawn.add(&supply, draw(100, 77));
        drawn.remove(&supply, draw(99, 123));
        drawn.remove(&supply, draw(100, 77));
        assert_eq!(drawn, Drawn::new(Some(&supply)));
    }
}
