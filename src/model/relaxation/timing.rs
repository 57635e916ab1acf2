//! When parts can be ready at the earliest, machines and hands being what they are: the rows that know dates.
//!
//! Knows: pools, classes of demand, promises, supply. Must not know: money but that of days.
//! Promises: every plan's dates, counted as here, are a point of these rows; the proof of each row stands above it.
//!
//! A *class* is what one assembly takes of one pool. Dates are the deadlines that follow, by the real calendar, from supposing that a
//! promise is complete by one of a few dates; a piece printed between two deadlines of its class counts at the later.
//! Machine time, hands and amounts are in days.

use std::collections::{BTreeMap, BTreeSet};

use crate::calendar::Minute;
use crate::model::linear::{LinearProgram, Sense, Variable};

use super::DAY;
use super::costs::Choice;
use super::dates::Build;
use super::pools::Pool;
use super::presence::Presence;
use super::promises::Promise;
use super::shop::Shop;
use super::supply::Supply;
use super::waits;

/// What an assembly takes of a pool.
pub(super) struct Class {
    pub(super) assembly: usize,
    pub(super) pool: usize,
    /// Days that it takes on the fastest group of each part.
    pub(super) amount: f64,
    /// By group: the first minute by which a piece of it can be printed there; `None`: not there.
    pub(super) first: Vec<Option<Minute>>,
}

/// What the rows are made from.
pub(super) struct Timing<'a> {
    pub(super) shop: &'a Shop<'a>,
    pub(super) presence: &'a Presence,
    pub(super) build: &'a Build<'a>,
    pub(super) pools: &'a [Pool],
    pub(super) classes: &'a [Class],
    pub(super) promises: &'a [Promise],
    /// By promise: the dates on which it is asked whether it is complete, rising, all after [`Promise::from`].
    pub(super) dates: &'a [Vec<Minute>],
    /// The supplies' shape matters as far as this date.
    pub(super) until: Minute,
    /// Deadlines are rounded up to a multiple of so many minutes, to have fewer of them.
    pub(super) grain: Minute,
    /// What the hands can do by a date; `None`: no limit.
    pub(super) hands: Option<&'a Supply>,
}

/// What is due when, for every promise and date.
pub(super) struct Deadlines {
    /// By class: by when it must be ready, for which promise and position of its date.
    classes: Vec<BTreeMap<Minute, Vec<(usize, usize)>>>,
    /// By assembly: by when its hands' work must be done, likewise.
    works: Vec<BTreeMap<Minute, Vec<(usize, usize)>>>,
    /// Promise and position of a date that no plan meets.
    impossible: BTreeSet<(usize, usize)>,
}

impl Timing<'_> {
    /// What is due when.
    pub(super) fn deadlines(&self) -> Deadlines {
        let mut deadlines = Deadlines {
            classes: vec![BTreeMap::new(); self.classes.len()],
            works: vec![BTreeMap::new(); self.build.assemblies.len()],
            impossible: BTreeSet::new(),
        };
        let mut of_assembly: Vec<Vec<usize>> = vec![Vec::new(); self.build.assemblies.len()];
        for (c, class) in self.classes.iter().enumerate() {
            of_assembly[class.assembly].push(c);
        }
        for (j, (promise, dates)) in self.promises.iter().zip(self.dates).enumerate() {
            for (i, &date) in dates.iter().enumerate() {
                let met = self.build.deadlines(self.presence, &promise.targets, date);
                for deadline in met.iter().flatten() {
                    let worked = self.rounded(deadline.worked);
                    deadlines.works[deadline.assembly]
                        .entry(worked)
                        .or_default()
                        .push((j, i));
                    for &c in &of_assembly[deadline.assembly] {
                        match self.printed_by(&self.classes[c], deadline.there) {
                            Some(by) => deadlines.classes[c].entry(by).or_default().push((j, i)),
                            None => {
                                deadlines.impossible.insert((j, i));
                            }
                        }
                    }
                }
                if met.is_none() {
                    deadlines.impossible.insert((j, i));
                }
            }
        }
        deadlines
    }

    /// By when the pieces of a class must be printed so that its copies are there by a date, the easiest form allowed to each.
    fn printed_by(&self, class: &Class, there: Minute) -> Option<Minute> {
        let joints = &self.pools[class.pool].joints;
        let latest = joints.iter().filter_map(|&(glue, cure)| {
            let glued = there.checked_sub(Minute::try_from(cure).ok()?)?;
            self.presence.latest_start(glued, glue)
        });
        latest
            .max()
            .filter(|&by| by >= 0)
            .map(|by| self.rounded(by))
    }

    fn rounded(&self, minute: Minute) -> Minute {
        minute
            .div_euclid(self.grain)
            .saturating_add(Minute::from(minute.rem_euclid(self.grain) > 0))
            .saturating_mul(self.grain)
    }

    /// Shares by class, group and deadline that the rows will have.
    pub(super) fn shares(&self, deadlines: &Deadlines) -> usize {
        let of_class = |(class, dates): (&Class, &BTreeMap<Minute, _>)| -> usize {
            class
                .first
                .iter()
                .flatten()
                .map(|first| dates.range(first..).count())
                .sum()
        };
        self.classes
            .iter()
            .zip(&deadlines.classes)
            .map(of_class)
            .sum()
    }

    /// Rows that count what a group has done by a date, nearly.
    pub(super) fn counts(&self, deadlines: &Deadlines) -> usize {
        let dates: BTreeSet<&Minute> = deadlines.classes.iter().flat_map(BTreeMap::keys).collect();
        dates.len() * self.shop.groups.len()
    }

    /// Writes the rows.
    pub(super) fn write(
        &self,
        deadlines: &Deadlines,
        choices: &[Vec<Choice>],
        busy: &[Vec<(Variable, f64)>],
        program: &mut LinearProgram,
    ) {
        let late = self.promises_are_late(deadlines, program);
        let mut rows = Rows {
            timing: self,
            program,
            machines: vec![BTreeMap::new(); self.shop.groups.len()],
            hands: BTreeMap::new(),
        };
        let shares = rows.classes_are_ready(&deadlines.classes, &late);
        rows.work_is_done(&deadlines.works, &late);
        rows.machines_suffice();
        rows.hands_suffice();
        rows.shares_are_made(&shares, choices);
        waits::write(self, &shares, &late, busy, program);
    }

    /// T_j, and u_ji = 1 if promise j is not complete by its date i.
    ///
    /// `u_ji ≥ u_j(i+1)`, and `T_j ≥ (from_j − due_j) + Σ_i (date_ji − date_j(i−1))·u_ji` with `date_j0 = from_j`.
    ///
    /// Proof: let C be the completion. No plan has C < from where from > due. The dates before C have u = 1, they come first, and the
    /// sum telescopes to the last of them, which is below C: T = max(0, C − due) is not below it.
    fn promises_are_late(&self, deadlines: &Deadlines, program: &mut LinearProgram) -> Vec<Late> {
        // A plan is dated within the calendar, but for a last run and a cure.
        let horizon = f64::from(self.presence.end()) / DAY + 3650.0;
        let mut all = Vec::with_capacity(self.promises.len());
        for (j, (promise, dates)) in self.promises.iter().zip(self.dates).enumerate() {
            let due = f64::from(promise.due) / DAY;
            let least = f64::from(promise.from()) / DAY - due;
            let days =
                program.variable_known_within(promise.per_day, least, (horizon - due).max(least));
            let mut terms = vec![(days, 1.0)];
            let mut before = promise.from();
            let mut incomplete: Vec<Variable> = Vec::with_capacity(dates.len());
            for (i, &date) in dates.iter().enumerate() {
                let never = f64::from(u8::from(deadlines.impossible.contains(&(j, i))));
                let not_yet = program.variable_known_within(0.0, never, 1.0);
                if let Some(&earlier) = incomplete.last() {
                    let name = format!("once-complete[{},{i}]", promise.name);
                    program.row(
                        name,
                        vec![(earlier, 1.0), (not_yet, -1.0)],
                        Sense::AtLeast,
                        0.0,
                    );
                }
                terms.push((not_yet, -f64::from(date - before) / DAY));
                before = date;
                incomplete.push(not_yet);
            }
            program.row(
                format!("late[{}]", promise.name),
                terms,
                Sense::AtLeast,
                least,
            );
            all.push(Late { days, incomplete });
        }
        all
    }
}

/// A promise's variables.
pub(super) struct Late {
    pub(super) days: Variable,
    incomplete: Vec<Variable>,
}

/// Shares of a class by group, in all: position of the group and variable.
pub(super) type Shares = Vec<(usize, Variable)>;

struct Rows<'a> {
    timing: &'a Timing<'a>,
    program: &'a mut LinearProgram,
    /// By group and date: what becomes due then, with the days of the group that it takes.
    machines: Vec<BTreeMap<Minute, Vec<(Variable, f64)>>>,
    /// By date: what becomes due then, with the days of hands that it takes.
    hands: BTreeMap<Minute, Vec<(Variable, f64)>>,
}

impl Rows<'_> {
    /// Shares n_cMk of class c printed on group M between its deadlines k−1 and k, and in all, X_cM.
    ///
    /// `Σ_M X_cM = 1`, `X_cM ≥ Σ_k n_cMk`; ready by k: `D_ck ≤ D_c(k−1) + Σ_M n_cMk`, and `D_ck + u_ji ≥ 1` where k follows from date i of
    /// promise j: if j is complete by then, all of c is printed by k. No share before the first piece can be.
    fn classes_are_ready(
        &mut self,
        deadlines: &[BTreeMap<Minute, Vec<(usize, usize)>>],
        late: &[Late],
    ) -> Vec<Shares> {
        let timing = self.timing;
        let mut all = Vec::with_capacity(timing.classes.len());
        for ((c, class), dates) in timing.classes.iter().enumerate().zip(deadlines) {
            let name = format!("{}/{c}", timing.build.assemblies[class.assembly].id);
            let groups: Vec<(usize, Minute)> = class
                .first
                .iter()
                .enumerate()
                .filter_map(|(group, first)| Some((group, (*first)?)))
                .collect();
            let shares: Shares = groups
                .iter()
                .map(|&(group, _)| (group, self.program.variable_known_below(0.0, 1.0)))
                .collect();
            let whole = shares.iter().map(|&(_, share)| (share, 1.0)).collect();
            self.program
                .row(format!("class[{name}]"), whole, Sense::Equal, 1.0);
            let mut by_group: Vec<Vec<(Variable, f64)>> = shares
                .iter()
                .map(|&(_, share)| vec![(share, 1.0)])
                .collect();
            let mut ready_before: Option<Variable> = None;
            for (&date, due_for) in dates {
                let mut printed = Vec::new();
                for (&(group, first), terms) in groups.iter().zip(&mut by_group) {
                    if let (true, Some(rate)) =
                        (first <= date, timing.pools[class.pool].rates[group])
                    {
                        let share = self.program.variable_known_below(0.0, 1.0);
                        terms.push((share, -1.0));
                        printed.push((share, 1.0));
                        self.machines[group]
                            .entry(date)
                            .or_default()
                            .push((share, class.amount * rate.machine));
                        if rate.hands > 0.0 {
                            self.hands
                                .entry(date)
                                .or_default()
                                .push((share, class.amount * rate.hands));
                        }
                    }
                }
                let ready = self.program.variable_known_below(0.0, 1.0);
                printed.extend(ready_before.map(|before| (before, 1.0)));
                printed.push((ready, -1.0));
                self.program.row(
                    format!("ready[{name},{date}]"),
                    printed,
                    Sense::AtLeast,
                    0.0,
                );
                ready_before = Some(ready);
                self.complete_needs(&name, date, ready, due_for, late);
            }
            for (terms, (group, _)) in by_group.into_iter().zip(&groups) {
                if terms.len() > 1 {
                    let name = format!("share[{name},{}]", timing.shop.groups[*group].name);
                    self.program.row(name, terms, Sense::AtLeast, 0.0);
                }
            }
            all.push(shares);
        }
        all
    }

    /// `D + u_ji ≥ 1` for every promise and date that needs all of D.
    fn complete_needs(
        &mut self,
        name: &str,
        date: Minute,
        done: Variable,
        due_for: &[(usize, usize)],
        late: &[Late],
    ) {
        for &(j, i) in due_for {
            let terms = vec![(done, 1.0), (late[j].incomplete[i], 1.0)];
            self.program.row(
                format!("needs[{name},{date},{j},{i}]"),
                terms,
                Sense::AtLeast,
                1.0,
            );
        }
    }

    /// Bench work of assembly b, gluing included, done between its deadlines: δ_bk; done by then: `G_bk ≤ G_b(k−1) + δ_bk`, needed as
    /// pieces are. Only where hands are a limit.
    fn work_is_done(&mut self, deadlines: &[BTreeMap<Minute, Vec<(usize, usize)>>], late: &[Late]) {
        let timing = self.timing;
        if timing.hands.is_none() {
            return;
        }
        for ((assembly, &minutes), dates) in timing
            .build
            .assemblies
            .iter()
            .zip(&timing.build.hands)
            .zip(deadlines)
        {
            if minutes == 0 {
                continue;
            }
            let mut before: Option<Variable> = None;
            for (&date, due_for) in dates {
                let doing = self.program.variable_known_below(0.0, 1.0);
                let done = self.program.variable_known_below(0.0, 1.0);
                let mut terms = vec![(doing, 1.0), (done, -1.0)];
                terms.extend(before.map(|before| (before, 1.0)));
                self.program.row(
                    format!("worked[{},{date}]", assembly.id),
                    terms,
                    Sense::AtLeast,
                    0.0,
                );
                self.hands
                    .entry(date)
                    .or_default()
                    .push((doing, minutes as f64 / DAY));
                before = Some(done);
                self.complete_needs(&assembly.id, date, done, due_for, late);
            }
        }
    }

    /// `W_M(k) ≥ W_M(k−1) + Σ_c minutes_cM·n_cMk` and `W_M(k) ≤ supply_M(k)` for every group M and deadline k.
    ///
    /// Proof: a piece counted by k is printed by k, with the whole run that it is on; these runs and their setups lie within the
    /// time that M can use by k, and they take at least their pieces' minutes, shares of setup, warm-up and layers included.
    fn machines_suffice(&mut self) {
        for (group, dates) in self
            .timing
            .shop
            .groups
            .iter()
            .zip(std::mem::take(&mut self.machines))
        {
            cumulate(
                self.program,
                &format!("minutes[{}]", group.name),
                dates,
                &group.supply,
            );
        }
    }

    /// The same for hands: setups of what is printed, gluing and bench work by k take no more hands than are there by k.
    fn hands_suffice(&mut self) {
        if let Some(supply) = self.timing.hands {
            cumulate(
                self.program,
                "hands",
                std::mem::take(&mut self.hands),
                supply,
            );
        }
    }

    /// `Σ_c amount_c·X_cM ≤ Σ_p units_p·x_pM` for every pool and group: what assemblies take from a group is made there.
    fn shares_are_made(&mut self, shares: &[Shares], choices: &[Vec<Choice>]) {
        let timing = self.timing;
        let mut taken: BTreeMap<(usize, usize), Vec<(Variable, f64)>> = BTreeMap::new();
        for (class, shares) in timing.classes.iter().zip(shares) {
            for &(group, share) in shares {
                taken
                    .entry((class.pool, group))
                    .or_default()
                    .push((share, -class.amount));
            }
        }
        for ((pool, group), mut terms) in taken {
            for &(part, units) in &timing.pools[pool].members {
                let here = choices[part].iter().filter(|choice| choice.group == group);
                terms.extend(here.map(|choice| (choice.copies, units / DAY)));
            }
            let name = format!("made-for[{pool},{}]", timing.shop.groups[group].name);
            self.program.row(name, terms, Sense::AtLeast, 0.0);
        }
    }
}

/// `W(k) ≥ W(k−1) + Σ terms(k)`, `W(k) ≤ supply(k)`.
fn cumulate(
    program: &mut LinearProgram,
    name: &str,
    dates: BTreeMap<Minute, Vec<(Variable, f64)>>,
    supply: &Supply,
) {
    let mut before: Option<Variable> = None;
    for (date, terms) in dates {
        let sum = program.variable(0.0, 0.0, supply.by(date) / DAY);
        let mut terms: Vec<(Variable, f64)> = terms
            .into_iter()
            .map(|(share, days)| (share, -days))
            .collect();
        terms.extend(before.map(|before| (before, -1.0)));
        terms.push((sum, 1.0));
        program.row(format!("{name}[{date}]"), terms, Sense::AtLeast, 0.0);
        before = Some(sum);
    }
}
