//! Runs that are set up, and no earlier than some minute, though they could begin without a setup or before.
//!
//! Knows: places on sheets, minutes. Must not know: why a run is held, spools.
//! Promises: a run is held by its place on its sheet; whoever puts a run in before it moves the hold along.

use crate::calendar::Minute;

/// Which runs are held, by machine and place on its sheet.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Holds {
    by_machine: Vec<Vec<Option<Minute>>>,
}

impl Holds {
    /// The minute from which on the setup of a run may begin; `None`: it is not held, and on a belt may need no setup.
    pub fn of(&self, machine: usize, run: usize) -> Option<Minute> {
        self.by_machine.get(machine)?.get(run).copied().flatten()
    }

    /// Holds a run until a minute.
    pub fn hold(&mut self, machine: usize, run: usize, until: Minute) {
        if self.by_machine.len() <= machine {
            self.by_machine.resize(machine + 1, Vec::new());
        }
        let sheet = &mut self.by_machine[machine];
        if sheet.len() <= run {
            sheet.resize(run + 1, None);
        }
        sheet[run] = Some(until);
    }

    /// Moves the holds of a machine's runs from this place on one place further.
    pub fn make_room(&mut self, machine: usize, run: usize) {
        if let Some(sheet) = self.by_machine.get_mut(machine)
            && run < sheet.len()
        {
            sheet.insert(run, None);
        }
    }

    /// Whether no run is held.
    pub fn is_empty(&self) -> bool {
        self.by_machine.iter().flatten().all(Option::is_none)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hold_moves_along_with_its_run() {
        let mut holds = Holds::default();
        assert!(holds.is_empty());
        holds.hold(1, 2, 70);
        holds.make_room(1, 3);
        assert_eq!(holds.of(1, 2), Some(70));
        holds.make_room(1, 2);
        assert_eq!(holds.of(1, 2), None);
        assert_eq!(holds.of(1, 3), Some(70));
        assert_eq!(holds.of(0, 3), None);
        assert!(!holds.is_empty());
    }
}
