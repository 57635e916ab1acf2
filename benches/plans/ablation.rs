//! What each part of the search is worth: the same number of moves without it.
//!
//! Knows: names of moves as the search tells them. Must not know: what a move does.
//! Promises: every move that the search made on an instance, with any seed, has a row; ratios are within one seed, then their median.

use crate::instance::Instance;
use crate::table::{decimals, median, table};
use crate::trial::{Budget, Outcome, Trial, measure};

/// Moves that can stand in for each other, so that only leaving all of them out shows their worth.
const FAMILIES: [(&str, &[&str]); 3] = [
    ("all moves of whole runs", &["relocate", "exchange"]),
    ("all moves of pieces", &["shift pieces", "trade pieces"]),
    ("all changes of plates", &["merge plates", "divide a plate"]),
];

/// What is to be measured.
pub struct Ablation<'a> {
    /// Which instances.
    pub sizes: &'a [Instance],
    /// Which seeds of each.
    pub seeds: &'a [u64],
    /// Moves of every search.
    pub effort: u64,
}

/// A search that lacks something.
struct Variant {
    name: String,
    without: Vec<String>,
    joins: bool,
    apart: bool,
}

/// Measures, telling on standard error how far it is, and writes the section.
pub fn section(ablation: &Ablation) -> String {
    let tables: String = ablation
        .sizes
        .iter()
        .map(|&size| of_instance(ablation, size))
        .collect();
    format!(
        "## Ablations\n\n\
         Each search makes {} moves, those of the left-out kind replaced by others. Ratios are of decided costs \
         and of seconds of search, against the full search of the same seed: above 1, the plan is dearer, or takes longer, \
         without it.\n\n{tables}",
        ablation.effort
    )
}

fn of_instance(ablation: &Ablation, instance: Instance) -> String {
    let run = |seed: u64, variant: &Variant| -> Option<Outcome> {
        let outcome = measure(&Trial {
            instance,
            seed,
            budget: Budget::Moves(ablation.effort),
            prove: 0.0,
            without: variant.without.clone(),
            joins: variant.joins,
            apart: variant.apart,
        });
        match outcome {
            Ok(outcome) => {
                eprintln!(
                    "{instance} seed {seed}, without {}: {:.2}",
                    variant.name, outcome.decided
                );
                Some(outcome)
            }
            Err(reason) => {
                eprintln!("{instance} seed {seed}, without {}: {reason}", variant.name);
                None
            }
        }
    };
    let full = Variant {
        name: "nothing".into(),
        without: Vec::new(),
        joins: true,
        apart: true,
    };
    let whole: Vec<(u64, Outcome)> = ablation
        .seeds
        .iter()
        .filter_map(|&seed| Some((seed, run(seed, &full)?)))
        .collect();
    if whole.is_empty() {
        return format!("{instance}: no plan.\n\n");
    }
    let mut moves: Vec<String> = Vec::new();
    for name in whole.iter().flat_map(|(_, outcome)| &outcome.moves_by_name) {
        if !moves.contains(name) {
            moves.push(name.clone());
        }
    }
    let rows: Vec<[String; 6]> = variants(instance, &moves)
        .iter()
        .map(|variant| {
            let pairs: Vec<(&Outcome, Outcome)> = whole
                .iter()
                .filter_map(|(seed, whole)| Some((whole, run(*seed, variant)?)))
                .collect();
            let costs = || {
                pairs
                    .iter()
                    .map(|(whole, part)| part.decided / whole.decided)
            };
            let times = pairs
                .iter()
                .map(|(whole, part)| part.search_seconds / whole.search_seconds.max(1e-6));
            [
                variant.name.clone(),
                decimals(median(costs()), 3),
                decimals(costs().reduce(f64::min), 3),
                decimals(costs().reduce(f64::max), 3),
                decimals(median(times), 2),
                format!("{} of {}", pairs.len(), ablation.seeds.len()),
            ]
        })
        .collect();
    let of = |value: fn(&Outcome) -> f64| decimals(median(whole.iter().map(|(_, o)| value(o))), 2);
    format!(
        "### {instance}\n\n\
         Medians of the full search: decided cost {} after {} s; joining sheets saved {}.\n\n{}\n",
        of(|o| o.decided),
        of(|o| o.search_seconds),
        of(|o| o.joined),
        table(
            [
                "without",
                "cost ratio",
                "least",
                "most",
                "time ratio",
                "seeds"
            ],
            &rows
        )
    )
}

/// The master, farms taken apart where there are several, each family whose moves were all made, and each move by itself.
fn variants(instance: Instance, moves: &[String]) -> Vec<Variant> {
    let master = Variant {
        name: "the master".into(),
        without: Vec::new(),
        joins: false,
        apart: true,
    };
    let apart = Variant {
        name: "taking farms apart".into(),
        without: Vec::new(),
        joins: true,
        apart: false,
    };
    let without = |name: &str, without: Vec<String>| Variant {
        name: name.to_owned(),
        without,
        joins: true,
        apart: true,
    };
    let families = FAMILIES.iter().map(|(name, members)| {
        without(
            name,
            members.iter().map(|&member| member.to_owned()).collect(),
        )
    });
    let families =
        families.filter(|family| family.without.iter().all(|member| moves.contains(member)));
    let single = moves.iter().map(|name| without(name, vec![name.clone()]));
    let several = matches!(instance, Instance::Farms(..));
    std::iter::once(master)
        .chain(several.then_some(apart))
        .chain(families)
        .chain(single)
        .collect()
}
