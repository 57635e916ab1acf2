//! What making all parts costs, wherever and whenever: the rows of the relaxation that know no dates.
//!
//! Knows: copies, what pieces take, groups of machines. Must not know: dates, assemblies.
//! Promises: every plan's counts, valued as here, are a point of these rows that costs no more than the plan does for money without
//! lateness and standing; the proof of each row stands above it.

use std::collections::BTreeMap;

use crate::model::linear::{LinearProgram, Sense, Variable};
use crate::scenario::{FilamentIndex, Scenario};

use super::pieces::{Company, Take};
use super::shop::Shop;

/// Copies of a part made on a group of machines in one way.
pub(super) struct Choice {
    pub(super) group: usize,
    pub(super) copies: Variable,
    take: Take,
}

/// What the rows are about.
pub(super) struct Costed {
    /// By part.
    pub(super) choices: Vec<Vec<Choice>>,
    /// By group: minutes that it works for copies that some assembly takes; runs, layers and changes of filament included.
    pub(super) busy: Vec<Vec<(Variable, f64)>>,
    /// Prices of the first rows that prove a bound without any solver: a copy is worth its cheapest choice, nothing else is worth anything.
    pub(super) cheapest: Vec<f64>,
}

/// Writes the rows into an empty program; more than `single_rows` for single parts are put together.
pub(super) fn write(shop: &Shop, program: &mut LinearProgram, single_rows: usize) -> Costed {
    let (choices, cheapest) = every_copy_is_made(shop, program);
    let mut costs = Costs {
        shop,
        program,
        choices: &choices,
        single: shop.takes.len() * shop.groups.len() <= single_rows,
        all_taken: all_taken(shop.scenario),
        busy: vec![Vec::new(); shop.groups.len()],
    };
    costs.copies_keep_busy();
    costs.runs_of_companies();
    costs.filaments_arrive();
    let busy = costs.busy;
    Costed {
        choices,
        busy,
        cheapest,
    }
}

/// By part: whether assemblies take all its copies.
fn all_taken(scenario: &Scenario) -> Vec<bool> {
    let mut taken = vec![0; scenario.parts.len()];
    for (part, copies) in scenario
        .assemblies
        .iter()
        .flat_map(|assembly| &assembly.parts)
    {
        taken[part.0] += u64::from(*copies);
    }
    scenario
        .parts
        .iter()
        .zip(taken)
        .map(|(part, taken)| taken >= u64::from(part.copies()))
        .collect()
}

/// `Σ x_p = copies_p` for every part p that is wanted and can be made at all.
fn every_copy_is_made(shop: &Shop, program: &mut LinearProgram) -> (Vec<Vec<Choice>>, Vec<f64>) {
    let mut choices = Vec::with_capacity(shop.takes.len());
    let mut cheapest = Vec::with_capacity(shop.takes.len());
    for (part, takes) in shop.scenario.parts.iter().zip(&shop.takes) {
        let wanted = f64::from(part.copies());
        let money = |take: &Take| take.money * take.lengths;
        let takes = if part.copies() > 0 { &takes[..] } else { &[] };
        let of_part: Vec<Choice> = takes
            .iter()
            .map(|&(group, take)| Choice {
                group,
                copies: program.variable_known_below(money(&take), wanted),
                take,
            })
            .collect();
        if !of_part.is_empty() {
            let terms = of_part.iter().map(|choice| (choice.copies, 1.0)).collect();
            program.row(format!("made[{}]", part.id), terms, Sense::Equal, wanted);
            cheapest.push(
                takes
                    .iter()
                    .map(|(_, take)| money(take))
                    .fold(f64::INFINITY, f64::min),
            );
        }
        choices.push(of_part);
    }
    (choices, cheapest)
}

struct Costs<'a> {
    shop: &'a Shop<'a>,
    program: &'a mut LinearProgram,
    choices: &'a [Vec<Choice>],
    /// Whether each part has rows of its own.
    single: bool,
    /// By part: whether all its copies go into assemblies, so that whatever they take is taken before the build's end.
    all_taken: Vec<bool>,
    busy: Vec<Vec<(Variable, f64)>>,
}

/// Choices of one company (or filament) on one group, each with its part's position.
type Together<'a> = Vec<(usize, &'a Choice)>;

impl Costs<'_> {
    fn copies(&self, part: usize) -> f64 {
        f64::from(self.shop.scenario.parts[part].copies())
    }

    /// Own minutes of copies that are all taken by assemblies.
    fn copies_keep_busy(&mut self) {
        for (choices, _) in self
            .choices
            .iter()
            .zip(&self.all_taken)
            .filter(|(_, all)| **all)
        {
            for choice in choices {
                self.busy[choice.group]
                    .push((choice.copies, choice.take.own * choice.take.lengths));
            }
        }
    }

    /// What `of` names of each choice, over copies.
    fn terms(choices: &Together, of: impl Fn(&Take) -> f64) -> Vec<(Variable, f64)> {
        let terms = choices
            .iter()
            .map(|(_, choice)| (choice.copies, of(&choice.take)));
        terms.filter(|(_, factor)| *factor != 0.0).collect()
    }

    /// `v ≥ Σ_ω n(x_pω) / copies_p` for every part p among the choices: what must be at least n if any copy of p is there.
    ///
    /// Proof: Σ_ω x_pω ≤ copies_p, so the right side is a mean of n over the ways that p takes, with 0 for copies made elsewhere; v is not
    /// below the greatest of these.
    fn at_least_for_any(
        &mut self,
        name: &str,
        v: Variable,
        choices: &Together,
        of: impl Fn(&Take) -> f64,
    ) {
        let mut parts: BTreeMap<usize, Vec<(Variable, f64)>> = BTreeMap::new();
        for (part, choice) in choices {
            let share = of(&choice.take) / self.copies(*part);
            parts
                .entry(*part)
                .or_default()
                .push((choice.copies, -share));
        }
        if self.single {
            for (part, mut terms) in parts {
                terms.push((v, 1.0));
                let id = &self.shop.scenario.parts[part].id;
                self.program
                    .row(format!("{name}[{id}]"), terms, Sense::AtLeast, 0.0);
            }
        } else {
            // The mean of these rows.
            let count = parts.len() as f64;
            let mut terms: Vec<(Variable, f64)> = parts
                .into_values()
                .flatten()
                .map(|(x, share)| (x, share / count))
                .collect();
            terms.push((v, 1.0));
            self.program.row(name, terms, Sense::AtLeast, 0.0);
        }
    }

    /// Runs that several pieces may share, by group and company: R, and the minutes lost at their layers: L.
    fn runs_of_companies(&mut self) {
        let mut shared: BTreeMap<Company, BTreeMap<usize, Together>> = BTreeMap::new();
        for (part, choices) in self.choices.iter().enumerate() {
            for choice in choices.iter().filter(|choice| !choice.take.solitary) {
                let company = shared.entry(self.shop.companies[part]).or_default();
                company
                    .entry(choice.group)
                    .or_default()
                    .push((part, choice));
            }
        }
        for (company, groups) in shared {
            let runs = groups
                .into_iter()
                .map(|(group, choices)| self.runs_on(group, company, &choices))
                .collect();
            self.runs_in_all(company, runs);
        }
    }

    fn name(&self, group: usize, (filament, settings): Company) -> String {
        let scenario = self.shop.scenario;
        let (filament, settings) = (
            &scenario.filaments[filament.0].id,
            &scenario.settings[settings.0].id,
        );
        format!("{},{filament},{settings}", self.shop.groups[group].name)
    }

    /// R and L of one group and company; returns R.
    fn runs_on(&mut self, group: usize, company: Company, choices: &Together) -> Variable {
        let name = self.name(group, company);
        let site = &self.shop.groups[group];
        let bench = self.shop.scenario.bench.bench_hour.value() / 60.0;
        let minute = site.minute;
        // As many runs as pieces, at most: no run is empty.
        let pieces: f64 = choices
            .iter()
            .map(|&(part, choice)| self.copies(part) * choice.take.lengths)
            .sum();
        let runs = self
            .program
            .variable_known_below(minute * site.warm_up + bench * site.turnaround, pieces);

        // A run of parts that are all taken is there for assemblies.
        let taken = choices.iter().all(|&(part, _)| self.all_taken[part]);
        if taken {
            let setup = site.warm_up + site.turnaround;
            self.busy[group].push((runs, setup));
        }

        // R ≥ Σ share·pieces: the shares of the pieces of one run add up to at most 1, in each of the ways to count them.
        for way in 0..3 {
            let mut terms = Self::terms(choices, |take| -take.shares[way] * take.lengths);
            if !terms.is_empty() {
                terms.push((runs, 1.0));
                self.program
                    .row(format!("runs{way}[{name}]"), terms, Sense::AtLeast, 0.0);
            }
        }
        // R ≥ 1 if any copy of p is made here.
        self.at_least_for_any(&format!("any-run[{name}]"), runs, choices, |_| 1.0);

        let most = choices
            .iter()
            .map(|(_, choice)| choice.take.layers)
            .fold(0.0, f64::max);
        let fewest = choices
            .iter()
            .map(|(_, choice)| choice.take.layers)
            .fold(f64::INFINITY, f64::min);
        if most > 0.0 && minute > 0.0 {
            let layers = self.program.variable_known_below(minute, pieces * most);
            if taken {
                self.busy[group].push((layers, 1.0));
            }
            // L ≥ Σ share·layers·pieces: a run loses at least the mean that the shares weigh, since they add up to at most 1.
            let mut terms =
                Self::terms(choices, |take| -take.shares[0] * take.layers * take.lengths);
            terms.push((layers, 1.0));
            self.program
                .row(format!("layers[{name}]"), terms, Sense::AtLeast, 0.0);
            // L is at least the layers of any one piece.
            self.at_least_for_any(&format!("any-layers[{name}]"), layers, choices, |take| {
                take.layers
            });
            // Every run loses at least the layers of the lowest piece.
            let terms = vec![(layers, 1.0), (runs, -fewest)];
            self.program.row(
                format!("layers-of-runs[{name}]"),
                terms,
                Sense::AtLeast,
                0.0,
            );
        }
        runs
    }

    /// `Σ_M R_M ≥ ⌈Σ_p least share·pieces⌉`, and at least 1 if some part of the company must share: runs are whole.
    ///
    /// Proof: by the rows above the runs of all groups together are not fewer than the sum of shares, each at least its part's
    /// least; and they are a whole number. A part that may be solitary has the least share 0.
    fn runs_in_all(&mut self, (filament, settings): Company, runs: Vec<Variable>) {
        let company = (filament, settings);
        let parts = || {
            (0..self.choices.len()).filter(|&part| {
                self.shop.companies[part] == company && !self.choices[part].is_empty()
            })
        };
        let least = |part: usize, way: usize| {
            let shares = self.choices[part]
                .iter()
                .map(|choice| choice.take.shares[way] * choice.take.lengths);
            self.copies(part) * shares.fold(f64::INFINITY, f64::min)
        };
        let must = parts().any(|part| {
            self.choices[part]
                .iter()
                .all(|choice| !choice.take.solitary)
        });
        let counted = (0..3).map(|way| parts().map(|part| least(part, way)).sum::<f64>());
        // A billionth of a run may be rounding.
        let whole = counted
            .map(|sum| (sum - 1e-9).ceil())
            .fold(f64::from(u8::from(must)), f64::max);
        if whole > 0.0 {
            let scenario = self.shop.scenario;
            let name = format!(
                "runs[{},{}]",
                scenario.filaments[filament.0].id, scenario.settings[settings.0].id
            );
            let terms = runs.into_iter().map(|run| (run, 1.0)).collect();
            self.program.row(name, terms, Sense::AtLeast, whole);
        }
    }

    /// Filaments brought onto groups: A_Mf ≥ 1 if any copy of f is made on M, and `Σ_M A_Mf ≥ 1`: f must be somewhere.
    ///
    /// What an arrival costs is [`Shop::arrival`]'s to prove; where it costs nothing there is no variable, and f may be there for nothing.
    fn filaments_arrive(&mut self) {
        let mut used: BTreeMap<FilamentIndex, BTreeMap<usize, Together>> = BTreeMap::new();
        for (part, choices) in self.choices.iter().enumerate() {
            for choice in choices {
                let filament = used.entry(self.shop.companies[part].0).or_default();
                filament
                    .entry(choice.group)
                    .or_default()
                    .push((part, choice));
            }
        }
        for (filament, groups) in used {
            let id = &self.shop.scenario.filaments[filament.0].id;
            let count = groups.len();
            let mut arrivals = Vec::new();
            for (group, choices) in groups {
                let (cost, minutes) = self.shop.arrival(group, filament);
                if cost > 0.0 {
                    let arrival = self.program.variable_known_below(cost, 1.0);
                    if choices.iter().all(|&(part, _)| self.all_taken[part]) {
                        self.busy[group].push((arrival, minutes));
                    }
                    let name = format!("arrives[{},{id}]", self.shop.groups[group].name);
                    self.at_least_for_any(&name, arrival, &choices, |_| 1.0);
                    arrivals.push((arrival, 1.0));
                }
            }
            if arrivals.len() == count {
                self.program
                    .row(format!("arrives[{id}]"), arrivals, Sense::AtLeast, 1.0);
            }
        }
    }
}
