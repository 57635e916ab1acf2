//! The master problem: one dated run sheet for each machine, so that together they make every part and the build costs least.
//!
//! Knows: run sheets, routes, assemblies and windows as plain numbers. Must not know: how a sheet was found, what is on a plate.
//! Promises: the model is the one written in `program`, no more; a recombination is never worse than the incumbent by
//! [`MasterProblem::cost_of`], which computes the model's objective without a solver.
//!
//! A run sheet is dated by the real calendar, so colour changes, nights and changes of the clock are exact inside it; the
//! master only joins machines. It dates assemblies by their least elapsed work, so its objective does not exceed the cost of the
//! plan that the sheets make.

mod program;
mod recombine;
mod relax;

pub use program::Master;
pub use recombine::{Effort, Incumbent, Recombined, recombine};
pub use relax::{Prices, Relaxed, relax};

use crate::calendar::Minute;

/// Minutes in a day; the program counts dates in days, so that its numbers are of one size.
pub(crate) const DAY: f64 = 1440.0;

/// A dated run sheet of one machine.
#[derive(Clone, Debug, PartialEq)]
pub struct Column {
    /// Position of the machine in [`MasterProblem::machines`].
    pub machine: usize,
    /// What the sheet costs by itself: printing, setups, purge, plastic.
    pub cost: f64,
    /// Kinds of piece that it yields, with their numbers.
    pub yields: Vec<(usize, u32)>,
    /// For each assembly that it prints for: the minute when the last of these pieces can be used.
    pub last: Vec<(usize, Minute)>,
    /// Minutes of one pair of hands that it takes in each window.
    pub setups: Vec<(usize, Minute)>,
}

impl Column {
    /// The sheet of a machine that stands still.
    pub fn empty(machine: usize) -> Self {
        Self {
            machine,
            cost: 0.0,
            yields: Vec::new(),
            last: Vec::new(),
            setups: Vec::new(),
        }
    }
}

/// A way to make a part from pieces.
#[derive(Clone, Debug, PartialEq)]
pub struct Route {
    /// Position of the part in [`MasterProblem::parts`].
    pub part: usize,
    /// What one copy costs beside its printing: hardware, gluing.
    pub cost: f64,
    /// Kinds of piece that one copy takes, with their numbers.
    pub pieces: Vec<(usize, u32)>,
}

/// A part with the copies wanted.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// For people.
    pub name: String,
    /// Copies wanted.
    pub copies: u32,
}

/// A node of the build graph.
#[derive(Clone, Debug, PartialEq)]
pub struct Assembly {
    /// For people.
    pub name: String,
    /// Assemblies that must be complete first.
    pub needs: Vec<usize>,
    /// Elapsed minutes that its bench work and cure take at least.
    pub work: Minute,
    /// Minutes of one pair of hands that it takes.
    pub bench: Minute,
    /// When it should be complete.
    pub due: Option<Minute>,
    /// Money per day late.
    pub late_per_day: f64,
}

/// Everything the master joins.
#[derive(Clone, Debug, Default)]
pub struct MasterProblem {
    /// Names of machines; each takes exactly one column.
    pub machines: Vec<String>,
    /// Names of kinds of piece: what counts as alike for the demand, one name for each part, length and machine-independent shape.
    pub kinds: Vec<String>,
    /// What is wanted.
    pub parts: Vec<Part>,
    /// How it can be made.
    pub routes: Vec<Route>,
    /// The build graph, without cycles.
    pub assemblies: Vec<Assembly>,
    /// Money per day until the last assembly is complete.
    pub each_day: f64,
    /// Minutes of hands in each bench window (its length × hands); `None`: never a limit.
    pub windows: Vec<Option<Minute>>,
    /// The pool of run sheets.
    pub columns: Vec<Column>,
}

impl MasterProblem {
    /// The model's objective for one column of each machine and so many copies by each route; `None` where they break a row.
    ///
    /// Dates follow by going through the build graph once: they are the least that the rows allow.
    pub fn cost_of(&self, columns: &[usize], routes: &[u32]) -> Option<f64> {
        let sheets: Vec<&Column> = columns
            .iter()
            .map(|&c| self.columns.get(c))
            .collect::<Option<_>>()?;
        if !self.one_sheet_each(&sheets)
            || !self.pieces_suffice(&sheets, routes)
            || !self.hands_suffice(&sheets)
        {
            return None;
        }
        let mut printed = vec![0; self.assemblies.len()];
        for &(assembly, minute) in sheets.iter().flat_map(|sheet| &sheet.last) {
            let latest = printed.get_mut(assembly)?;
            *latest = minute.max(*latest);
        }
        let complete = self.completions(&printed)?;
        let late: f64 = self
            .assemblies
            .iter()
            .zip(&complete)
            .filter_map(|(assembly, &done)| {
                let days = f64::from((done - assembly.due?).max(0)) / DAY;
                Some(assembly.late_per_day * days)
            })
            .sum();
        let end = complete.iter().copied().max().unwrap_or(0);
        let sheets: f64 = sheets.iter().map(|sheet| sheet.cost).sum();
        let copies: f64 = self
            .routes
            .iter()
            .zip(routes)
            .map(|(r, &n)| r.cost * f64::from(n))
            .sum();
        Some(sheets + copies + late + self.each_day * f64::from(end) / DAY)
    }

    fn one_sheet_each(&self, sheets: &[&Column]) -> bool {
        let mut machines: Vec<usize> = sheets.iter().map(|sheet| sheet.machine).collect();
        machines.sort_unstable();
        machines.into_iter().eq(0..self.machines.len())
    }

    fn pieces_suffice(&self, sheets: &[&Column], routes: &[u32]) -> bool {
        if routes.len() != self.routes.len() {
            return false;
        }
        let mut copies = vec![0u64; self.parts.len()];
        let mut spare = vec![0i64; self.kinds.len()];
        for &(kind, number) in sheets.iter().flat_map(|sheet| &sheet.yields) {
            spare[kind] += i64::from(number);
        }
        for (route, &number) in self.routes.iter().zip(routes) {
            copies[route.part] += u64::from(number);
            for &(kind, each) in &route.pieces {
                spare[kind] -= i64::from(each) * i64::from(number);
            }
        }
        let wanted = self.parts.iter().map(|part| u64::from(part.copies));
        spare.iter().all(|&left| left >= 0) && wanted.eq(copies)
    }

    fn hands_suffice(&self, sheets: &[&Column]) -> bool {
        let mut taken = vec![0i64; self.windows.len()];
        for &(window, minutes) in sheets.iter().flat_map(|sheet| &sheet.setups) {
            taken[window] += i64::from(minutes);
        }
        let mut left = 0;
        for (limit, taken) in self.windows.iter().zip(taken) {
            match limit {
                None => return true,
                Some(limit) if taken > i64::from(*limit) => return false,
                Some(limit) => left += i64::from(*limit) - taken,
            }
        }
        self.windows.is_empty() || left >= self.bench_minutes()
    }

    /// Minutes that all assemblies take of one pair of hands.
    fn bench_minutes(&self) -> i64 {
        self.assemblies
            .iter()
            .map(|assembly| i64::from(assembly.bench))
            .sum()
    }

    /// `C_a = max(F_a, C_b for each b that a needs) + work_a`; `None` on a cycle.
    fn completions(&self, printed: &[Minute]) -> Option<Vec<Minute>> {
        let mut complete: Vec<Option<Minute>> = vec![None; self.assemblies.len()];
        let mut left = self.assemblies.len();
        while left > 0 {
            let before = left;
            for (index, assembly) in self.assemblies.iter().enumerate() {
                let needed: Option<Vec<Minute>> =
                    assembly.needs.iter().map(|&need| complete[need]).collect();
                if let (None, Some(needed)) = (complete[index], needed) {
                    let start = needed.into_iter().fold(printed[index], Minute::max);
                    complete[index] = Some(start.saturating_add(assembly.work));
                    left -= 1;
                }
            }
            if left == before {
                return None;
            }
        }
        complete.into_iter().collect()
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;

    fn sheet(
        machine: usize,
        cost: f64,
        yields: &[(usize, u32)],
        last: &[(usize, Minute)],
    ) -> Column {
        Column {
            machine,
            cost,
            yields: yields.to_vec(),
            last: last.to_vec(),
            setups: Vec::new(),
        }
    }

    /// Two machines, chord (2 copies) and foot (1 copy); a chord is one piece (kind 0) or two lengths (kind 1) with a
    /// joint of 3; a foot is kind 2. The jib takes both, needs half a day and is due on day 2 at 10 a day; 1 a day until the end.
    ///
    /// | column | machine | cost | yields | ready on day |
    /// |---|---|---|---|---|
    /// | 0, 1 | 0, 1 | 0 | nothing | |
    /// | 2 | 0 | 6 | 2 chords whole | 3 |
    /// | 3 | 0 | 4 | 1 chord whole | 1 |
    /// | 4 | 1 | 2 | foot | 1 |
    /// | 5 | 1 | 4 | 2 lengths, foot | 1.5 |
    /// | 6 | 0 | 5 | 1 chord whole, 2 lengths | 2 |
    pub(crate) fn jib() -> MasterProblem {
        let day = |days: f64| (days * DAY) as Minute;
        MasterProblem {
            machines: vec!["tall".into(), "wide".into()],
            kinds: vec!["chord".into(), "chord/2".into(), "foot".into()],
            parts: vec![
                Part {
                    name: "chord".into(),
                    copies: 2,
                },
                Part {
                    name: "foot".into(),
                    copies: 1,
                },
            ],
            routes: vec![
                Route {
                    part: 0,
                    cost: 0.0,
                    pieces: vec![(0, 1)],
                },
                Route {
                    part: 0,
                    cost: 3.0,
                    pieces: vec![(1, 2)],
                },
                Route {
                    part: 1,
                    cost: 0.0,
                    pieces: vec![(2, 1)],
                },
            ],
            assemblies: vec![Assembly {
                name: "jib".into(),
                needs: vec![],
                work: day(0.5),
                bench: 60,
                due: Some(day(2.0)),
                late_per_day: 10.0,
            }],
            each_day: 1.0,
            windows: vec![Some(120)],
            columns: vec![
                Column::empty(0),
                Column::empty(1),
                sheet(0, 6.0, &[(0, 2)], &[(0, day(3.0))]),
                sheet(0, 4.0, &[(0, 1)], &[(0, day(1.0))]),
                sheet(1, 2.0, &[(2, 1)], &[(0, day(1.0))]),
                sheet(1, 4.0, &[(1, 2), (2, 1)], &[(0, day(1.5))]),
                sheet(0, 5.0, &[(0, 1), (1, 2)], &[(0, day(2.0))]),
            ],
        }
    }

    #[test]
    fn the_cost_of_a_choice_adds_sheets_routes_lateness_and_the_days_until_the_end() {
        // Whole chords: 6 + 2, complete on day 3.5: 1.5 days late at 10, 3.5 days at 1: 26.5.
        assert_eq!(jib().cost_of(&[2, 4], &[2, 0, 1]), Some(26.5));
        // One split: 4 + 4 + 3, complete on day 2, in time: 11 + 2 = 13.
        assert_eq!(jib().cost_of(&[3, 5], &[1, 1, 1]), Some(13.0));
    }

    #[test]
    fn a_choice_that_breaks_a_row_has_no_cost() {
        let problem = jib();
        // One chord short; two sheets on one machine; a part too many; an index that is none.
        assert_eq!(problem.cost_of(&[3, 4], &[2, 0, 1]), None);
        assert_eq!(problem.cost_of(&[2, 3], &[2, 0, 1]), None);
        assert_eq!(problem.cost_of(&[2, 4], &[2, 0, 2]), None);
        assert_eq!(problem.cost_of(&[2, 99], &[2, 0, 1]), None);
    }

    #[test]
    fn setups_and_assembly_share_the_hands_of_the_windows() {
        // 120 minutes of hands, 60 for the jib: 60 minutes of setups are in time, 61 are not, without limit they are.
        let mut problem = jib();
        problem.columns[3].setups = vec![(0, 60)];
        assert!(problem.cost_of(&[3, 5], &[1, 1, 1]).is_some());
        problem.columns[3].setups = vec![(0, 61)];
        assert!(problem.cost_of(&[3, 5], &[1, 1, 1]).is_none());
        problem.windows = vec![None];
        assert!(problem.cost_of(&[3, 5], &[1, 1, 1]).is_some());
    }

    #[test]
    fn an_assembly_waits_for_all_that_it_needs() {
        // Pivot printed on day 1, takes 2 days; the jib, printed on day 1.5, needs it: complete on 3 + 0.5; 15 late, 3.5 days.
        let mut problem = jib();
        problem.assemblies[0].needs = vec![1];
        problem.assemblies.push(Assembly {
            name: "pivot".into(),
            needs: vec![],
            work: 2 * 1440,
            bench: 0,
            due: None,
            late_per_day: 0.0,
        });
        problem.columns[3].last = vec![(1, 1440)];
        assert_eq!(
            problem.cost_of(&[3, 5], &[1, 1, 1]),
            Some(4.0 + 4.0 + 3.0 + 15.0 + 3.5)
        );
    }
}
