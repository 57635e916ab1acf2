//! What lies on one plate: a run of the plan, or one that was printing when the rest was planned.
//!
//! Knows: both kinds of run. Must not know: how a plate is drawn.
//! Promises: what a drawing needs of either is said in the same words.

use crate::plan::{Off, Piece, Plan, Run, Standing};
use crate::scenario::{FilamentIndex, MachineIndex};

/// A plate and what is on it.
#[derive(Clone, Copy)]
pub(in crate::report) struct Plate<'a> {
    /// The run's name.
    pub id: &'a str,
    pub machine: MachineIndex,
    /// `None`: one that the scenario has no more.
    pub filament: Option<FilamentIndex>,
    /// In the order of their numbers on the map.
    pub pieces: &'a [Piece],
    /// Whether its machine stands, from a moment that depends on when somebody comes, before it ends.
    pub stops: bool,
}

impl<'a> Plate<'a> {
    /// What comes off a machine; it must be one of the plan's.
    pub fn of(plan: &'a Plan, off: Off) -> Self {
        match off {
            Off::Standing(at) => (&plan.standing()[at]).into(),
            Off::Run(at) => (&plan.runs[at]).into(),
        }
    }
}

impl<'a> From<&'a Run> for Plate<'a> {
    fn from(run: &'a Run) -> Self {
        Self {
            id: &run.id,
            machine: run.machine,
            filament: Some(run.filament),
            pieces: &run.pieces,
            stops: run.stops(),
        }
    }
}

impl<'a> From<&'a Standing> for Plate<'a> {
    fn from(run: &'a Standing) -> Self {
        Self {
            id: &run.id,
            machine: run.machine,
            filament: run.filament,
            pieces: &run.pieces,
            // How long it stands is in its end.
            stops: false,
        }
    }
}
