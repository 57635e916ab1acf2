//! The master as a linear program, one function for each family of rows.
//!
//! Knows: [`MasterProblem`]. Must not know: which solver reads it, whether columns must be whole.
//! Promises: every row is named; a variable's upper bound loses no optimum, so that a safe bound can be computed.
//!
//! ```text
//! min  Σ c_s x_s + Σ g_r y_r + Σ late_a T_a + each_day·Z
//! ```
//! over shares `x_s` of run sheets, copies `y_r` by route, days `F_a` (last piece), `C_a` (complete), `T_a` (lateness), `Z` (end).

use std::collections::BTreeMap;

use super::{DAY, Incumbent, MasterProblem};
use crate::model::linear::{LinearProgram, Row, Sense, Variable};

/// The program with the handles that its readers need.
#[derive(Clone, Debug)]
pub struct Master<'a> {
    problem: &'a MasterProblem,
    /// The columns of the pool that are in it.
    pub(super) columns: Vec<usize>,
    pub(super) program: LinearProgram,
    pub(super) shares: Vec<Variable>,
    pub(super) copies: Vec<Variable>,
    printed: Vec<Variable>,
    complete: Vec<Variable>,
    /// By assembly whose lateness costs.
    late: BTreeMap<usize, Variable>,
    end: Variable,
    /// By window that is a limit: days of hands given to assemblies.
    assembling: BTreeMap<usize, Variable>,
    pub(super) rows: Rows,
}

/// Rows by family.
#[derive(Clone, Debug, Default)]
pub(super) struct Rows {
    pub(super) demand: Vec<Row>,
    pub(super) kinds: Vec<Row>,
    pub(super) machines: Vec<Row>,
    /// By machine and assembly, where some sheet of the machine prints for it.
    pub(super) printed: BTreeMap<(usize, usize), Row>,
    /// By window that is a limit.
    pub(super) windows: BTreeMap<usize, Row>,
}

impl<'a> Master<'a> {
    /// The program over some columns of the pool.
    pub fn new(problem: &'a MasterProblem, columns: Vec<usize>) -> Self {
        let mut program = LinearProgram::new();
        // Beyond this day nothing need ever be dated: the last piece of all, then all assemblies one after another.
        let last = columns
            .iter()
            .flat_map(|&c| &problem.columns[c].last)
            .map(|&(_, minute)| f64::from(minute));
        let work: f64 = problem
            .assemblies
            .iter()
            .map(|assembly| f64::from(assembly.work))
            .sum();
        let horizon = (last.fold(0.0, f64::max) + work) / DAY;

        let shares = columns
            .iter()
            .map(|&c| program.variable_known_below(problem.columns[c].cost, 1.0))
            .collect();
        let copies = problem
            .routes
            .iter()
            .map(|r| program.variable_known_below(r.cost, f64::from(problem.parts[r.part].copies)))
            .collect();
        let mut dates = || -> Vec<Variable> {
            problem
                .assemblies
                .iter()
                .map(|_| program.variable_known_below(0.0, horizon))
                .collect()
        };
        let (printed, complete) = (dates(), dates());
        let end = program.variable_known_below(problem.each_day, horizon);
        let mut master = Self {
            problem,
            columns,
            program,
            shares,
            copies,
            printed,
            complete,
            late: BTreeMap::new(),
            end,
            assembling: BTreeMap::new(),
            rows: Rows::default(),
        };
        master.every_part_is_made();
        master.pieces_are_printed();
        master.one_sheet_for_each_machine();
        master.pieces_come_before_assembly();
        master.assembly_takes_its_time();
        master.lateness(horizon);
        master.end_of_the_build();
        master.hands();
        master
    }

    /// The program itself.
    pub fn program(&self) -> &LinearProgram {
        &self.program
    }

    /// `Σ_r∈R(p) y_r = copies_p` for every part p.
    fn every_part_is_made(&mut self) {
        for (p, part) in self.problem.parts.iter().enumerate() {
            let routes = self
                .problem
                .routes
                .iter()
                .zip(&self.copies)
                .filter(|(route, _)| route.part == p);
            let terms = routes.map(|(_, &y)| (y, 1.0)).collect();
            let name = format!("demand[{}]", part.name);
            let row = self
                .program
                .row(name, terms, Sense::Equal, f64::from(part.copies));
            self.rows.demand.push(row);
        }
    }

    /// `Σ_s n_si x_s − Σ_r q_ri y_r ≥ 0` for every kind of piece i.
    fn pieces_are_printed(&mut self) {
        let mut terms = vec![Vec::new(); self.problem.kinds.len()];
        for (&c, &x) in self.columns.iter().zip(&self.shares) {
            for &(kind, number) in &self.problem.columns[c].yields {
                terms[kind].push((x, f64::from(number)));
            }
        }
        for (route, &y) in self.problem.routes.iter().zip(&self.copies) {
            for &(kind, number) in &route.pieces {
                terms[kind].push((y, -f64::from(number)));
            }
        }
        for (name, terms) in self.problem.kinds.iter().zip(terms) {
            let row = self
                .program
                .row(format!("pieces[{name}]"), terms, Sense::AtLeast, 0.0);
            self.rows.kinds.push(row);
        }
    }

    /// `Σ_s∈m x_s = 1` for every machine m; standing still is a sheet too.
    fn one_sheet_for_each_machine(&mut self) {
        let mut terms = vec![Vec::new(); self.problem.machines.len()];
        for (&c, &x) in self.columns.iter().zip(&self.shares) {
            terms[self.problem.columns[c].machine].push((x, 1.0));
        }
        for (name, terms) in self.problem.machines.iter().zip(terms) {
            let row = self
                .program
                .row(format!("sheet[{name}]"), terms, Sense::Equal, 1.0);
            self.rows.machines.push(row);
        }
    }

    /// `F_a − Σ_s∈m f_sa x_s ≥ 0` for every machine m and every assembly a that it may print for.
    fn pieces_come_before_assembly(&mut self) {
        let mut terms: BTreeMap<(usize, usize), Vec<(Variable, f64)>> = BTreeMap::new();
        for (&c, &x) in self.columns.iter().zip(&self.shares) {
            let column = &self.problem.columns[c];
            for &(assembly, minute) in &column.last {
                let row = terms.entry((column.machine, assembly)).or_default();
                row.push((x, -f64::from(minute) / DAY));
            }
        }
        for ((machine, assembly), mut terms) in terms {
            terms.push((self.printed[assembly], 1.0));
            let (machine_name, assembly_name) = (
                &self.problem.machines[machine],
                &self.problem.assemblies[assembly].name,
            );
            let name = format!("printed[{machine_name},{assembly_name}]");
            let row = self.program.row(name, terms, Sense::AtLeast, 0.0);
            self.rows.printed.insert((machine, assembly), row);
        }
    }

    /// `C_a − F_a ≥ work_a`, and `C_a − C_b ≥ work_a` for every b that a needs.
    fn assembly_takes_its_time(&mut self) {
        for (a, assembly) in self.problem.assemblies.iter().enumerate() {
            let work = f64::from(assembly.work) / DAY;
            let mut after = |name: String, before: Variable| {
                let terms = vec![(self.complete[a], 1.0), (before, -1.0)];
                self.program.row(name, terms, Sense::AtLeast, work);
            };
            after(format!("complete[{}]", assembly.name), self.printed[a]);
            for &need in &assembly.needs {
                let name = format!(
                    "needs[{},{}]",
                    assembly.name, self.problem.assemblies[need].name
                );
                after(name, self.complete[need]);
            }
        }
    }

    /// `T_a − C_a ≥ −due_a` for every assembly a with a due date that costs.
    fn lateness(&mut self, horizon: f64) {
        for (a, (assembly, &complete)) in self
            .problem
            .assemblies
            .iter()
            .zip(&self.complete)
            .enumerate()
        {
            if let (Some(due), true) = (assembly.due, assembly.late_per_day > 0.0) {
                let due = f64::from(due) / DAY;
                let late = self
                    .program
                    .variable_known_below(assembly.late_per_day, (horizon - due).max(0.0));
                self.late.insert(a, late);
                let terms = vec![(late, 1.0), (complete, -1.0)];
                self.program.row(
                    format!("late[{}]", assembly.name),
                    terms,
                    Sense::AtLeast,
                    -due,
                );
            }
        }
    }

    /// `Z − C_a ≥ 0` for every assembly a.
    fn end_of_the_build(&mut self) {
        for (assembly, &complete) in self.problem.assemblies.iter().zip(&self.complete) {
            let terms = vec![(self.end, 1.0), (complete, -1.0)];
            self.program.row(
                format!("end[{}]", assembly.name),
                terms,
                Sense::AtLeast,
                0.0,
            );
        }
    }

    /// `Σ_s h_sw x_s + b_w ≤ hands·len_w` for every window w, and `Σ_w b_w ≥ Σ_a bench_a`: assemblies find room somewhere.
    ///
    /// One `b_w` for all assemblies together says as much as one for each: nothing else in the model ties an assembly to a window.
    fn hands(&mut self) {
        let problem = self.problem;
        let bench = problem.bench_minutes() as f64 / DAY;
        let mut terms = vec![Vec::new(); problem.windows.len()];
        for (&c, &x) in self.columns.iter().zip(&self.shares) {
            for &(window, minutes) in &problem.columns[c].setups {
                terms[window].push((x, f64::from(minutes) / DAY));
            }
        }
        let unlimited = problem.windows.is_empty() || problem.windows.contains(&None);
        for (w, mut terms) in terms.into_iter().enumerate() {
            if let Some(limit) = problem.windows[w] {
                let limit = f64::from(limit) / DAY;
                if !unlimited {
                    let minutes = self.program.variable_known_below(0.0, limit);
                    terms.push((minutes, 1.0));
                    self.assembling.insert(w, minutes);
                }
                let row = self
                    .program
                    .row(format!("hands[{w}]"), terms, Sense::AtMost, limit);
                self.rows.windows.insert(w, row);
            }
        }
        if !unlimited {
            let work = self
                .assembling
                .values()
                .map(|&minutes| (minutes, 1.0))
                .collect();
            self.program.row("bench", work, Sense::AtLeast, bench);
        }
    }

    /// The point of the program that a choice stands for, dates as early as the rows allow; `None` where a column is not in
    /// the program or `needs` has a cycle.
    pub(super) fn values_of(&self, choice: &Incumbent) -> Option<Vec<f64>> {
        let problem = self.problem;
        let mut values = vec![0.0; self.program.variable_count()];
        let mut printed = vec![0; problem.assemblies.len()];
        let mut free: BTreeMap<usize, f64> = self
            .assembling
            .keys()
            .filter_map(|&w| Some((w, f64::from(problem.windows[w]?) / DAY)))
            .collect();
        for column in &choice.columns {
            values[self.shares[self.columns.binary_search(column).ok()?].0] = 1.0;
            for &(assembly, minute) in &problem.columns[*column].last {
                printed[assembly] = minute.max(printed[assembly]);
            }
            for (window, minutes) in &problem.columns[*column].setups {
                free.entry(*window)
                    .and_modify(|left| *left -= f64::from(*minutes) / DAY);
            }
        }
        for (y, &copies) in self.copies.iter().zip(&choice.routes) {
            values[y.0] = f64::from(copies);
        }
        let complete = problem.completions(&printed)?;
        for (a, &done) in complete.iter().enumerate() {
            values[self.printed[a].0] = f64::from(printed[a]) / DAY;
            values[self.complete[a].0] = f64::from(done) / DAY;
            if let (Some(late), Some(due)) = (self.late.get(&a), problem.assemblies[a].due) {
                values[late.0] = f64::from((done - due).max(0)) / DAY;
            }
        }
        values[self.end.0] = f64::from(complete.into_iter().max().unwrap_or(0)) / DAY;
        for (window, minutes) in &self.assembling {
            values[minutes.0] = free[window];
        }
        Some(values)
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::jib;
    use super::*;

    #[test]
    fn the_model_reads_like_the_mathematics() {
        // x0–x6 sheets, x7–x9 routes, x10 F, x11 C, x12 Z, x13 T, x14 work in window 0 (days).
        let problem = jib();
        let text = Master::new(&problem, (0..7).collect())
            .program()
            .to_string();
        let lines: Vec<&str> = text.lines().collect();
        assert_eq!(
            lines,
            [
                "min 6 x2 + 4 x3 + 2 x4 + 4 x5 + 5 x6 + 3 x8 + 1 x12 + 10 x13",
                "demand[chord]: 1 x7 + 1 x8 = 2",
                "demand[foot]: 1 x9 = 1",
                "pieces[chord]: 2 x2 + 1 x3 + 1 x6 - 1 x7 ≥ 0",
                "pieces[chord/2]: 2 x5 + 2 x6 - 2 x8 ≥ 0",
                "pieces[foot]: 1 x4 + 1 x5 - 1 x9 ≥ 0",
                "sheet[tall]: 1 x0 + 1 x2 + 1 x3 + 1 x6 = 1",
                "sheet[wide]: 1 x1 + 1 x4 + 1 x5 = 1",
                "printed[tall,jib]: -3 x2 - 1 x3 - 2 x6 + 1 x10 ≥ 0",
                "printed[wide,jib]: -1 x4 - 1.5 x5 + 1 x10 ≥ 0",
                "complete[jib]: 1 x11 - 1 x10 ≥ 0.5",
                "late[jib]: 1 x13 - 1 x11 ≥ -2",
                "end[jib]: 1 x12 - 1 x11 ≥ 0",
                "hands[0]: 1 x14 ≤ 0.08333333333333333",
                "bench: 1 x14 ≥ 0.041666666666666664",
            ]
        );
    }
}
