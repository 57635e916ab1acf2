//! Pieces that no bench hours are long enough for, where somebody must be there for the run or its setup.
//!
//! Knows: routes, how long runs may be on each machine. Must not know: queues, calendars, words.
//! Promises: what is named can be made, on that machine, in no bench hours that come about once a month or more often.

use crate::scenario::MachineIndex;
use crate::units::Minutes;

use super::{Form, PartRoutes, TooLong, Way};

/// How long a run may be on each machine so that it can be set up again and again.
#[derive(Clone, Debug)]
pub struct RunLimits(Vec<Option<Minutes>>);

impl RunLimits {
    /// By machine, in the scenario's order; `None`: bench hours do not hold the setup.
    pub fn new(most: Vec<Option<Minutes>>) -> Self {
        Self(most)
    }

    fn of(&self, machine: MachineIndex) -> Option<Minutes> {
        self.0.get(machine.0).copied().flatten()
    }

    /// Whether a piece can be made so, alone on its run.
    pub fn holds(&self, way: &Way) -> bool {
        self.of(way.machine).is_some_and(|most| way.alone <= most)
    }

    /// What is lacking to make a piece so.
    fn lacking(&self, part: &PartRoutes, way: &Way) -> TooLong {
        TooLong {
            part: part.part,
            machine: way.machine,
            takes: way.alone,
            most: self.of(way.machine),
        }
    }

    /// Of a part of which each form has a piece that is too long on every machine: the form that comes nearest.
    pub fn too_long(&self, part: &PartRoutes) -> Option<TooLong> {
        let forms = part.forms.iter().map(|form| self.too_long_in(part, form));
        let forms: Option<Vec<TooLong>> = forms.collect();
        forms?.into_iter().min_by_key(short)
    }

    /// What is lacking to make a form, where some of its pieces are too long on every machine.
    pub fn too_long_in(&self, part: &PartRoutes, form: &Form) -> Option<TooLong> {
        let kinds = 0..form.kinds.len();
        let pieces = kinds.filter_map(|kind| self.piece(part, form, |way| way.kind == kind));
        pieces.max_by_key(short)
    }

    /// What is lacking to make a form on a machine, where some of its pieces fit that and are all too long.
    pub fn too_long_on(&self, part: &PartRoutes, form: &Form, on: MachineIndex) -> Option<TooLong> {
        let kinds = 0..form.kinds.len();
        let pieces = kinds.filter_map(|kind| {
            let here = |way: &Way| way.kind == kind && way.machine == on;
            form.ways
                .iter()
                .any(here)
                .then(|| self.piece(part, form, here))?
        });
        pieces.max_by_key(short)
    }

    /// Of some ways to make a piece the one that comes nearest, if it is too long in all of them.
    fn piece(&self, part: &PartRoutes, form: &Form, of: impl Fn(&Way) -> bool) -> Option<TooLong> {
        let ways = form.ways.iter().filter(|way| of(way));
        let all: Option<Vec<TooLong>> = ways
            .map(|way| (!self.holds(way)).then(|| self.lacking(part, way)))
            .collect();
        all?.into_iter().min_by_key(short)
    }
}

fn short(lacking: &TooLong) -> i64 {
    lacking.takes.value() - lacking.most.map_or(0, Minutes::value)
}
