//! What to take care of: fire, air, lifting, spans, glue, scrap, late orders.
//!
//! Knows: which runs, parts and assemblies give cause. Must not know: how a caution is shown.
//! Promises: each subject at most once a plan, only where the plan gives cause; each leaves the last word to local
//! rules and qualified people; none says that anything is without danger.

use std::collections::BTreeSet;

use crate::lifting::{Lift, heaviest_lift, lifts};
use crate::plan::{Failing, Gluing, Mass, Order, Reserve, Run, Standing};
use crate::routes::{PartRoutes, RouteKind, Way};
use crate::scenario::{MachineIndex, PartIndex, Scenario};
use crate::units::{Grams, Millimetres};

/// From this mass on: a second person or a trolley.
///
/// EN 1005-2 takes 15 kg as the reference mass for most of the adult public (from memory); HSE's filter INDG143 calls
/// for a closer look from 16 kg for women. The threshold itself is common practice, no source.
const SECOND_PERSON: Grams = Grams(15_000.0);

/// From this mass on: not one person.
///
/// ISO 11228-1:2021 and EN 1005-2 name 25 kg as the reference mass in the best posture (from memory); HSE's INDG143 filter
/// likewise. The lifting equation of NIOSH (94-110, rev. 9/2021) starts from 23 kg and only takes off from there.
const NOT_ALONE: Grams = Grams(25_000.0);

/// Longer parts and assemblies get a word about length whatever they weigh. Common practice, no source.
const LONG_TO_CARRY: Millimetres = Millimetres(2000.0);

/// Joined or belt-made parts from this length on are looked at as spans. Common practice, no source.
const SPAN: Millimetres = Millimetres(1000.0);

/// A caution names no more things; the longest or heaviest stand for the rest.
const MOST_NAMES: usize = 6;

/// What of a finished plan gives cause for a caution.
#[derive(Clone, Copy, Debug)]
pub struct Facts<'a> {
    /// All runs.
    pub runs: &'a [Run],
    /// What is known of each machine's runs, in the scenario's order.
    pub failures: &'a [Failing],
    /// With what certainty enough copies come of the runs, where spares are counted.
    pub reserves: &'a [Reserve],
    /// Gluing of split copies.
    pub gluings: &'a [Gluing],
    /// Filament to order.
    pub orders: &'a [Order],
    /// Mass of one finished copy of each part, joints included; see [`copy_grams`].
    pub copy_grams: &'a [Grams],
    /// Support that one copy of each part takes at least, however it lies.
    pub least_support: &'a [Grams],
}

/// All cautions that a plan gives cause for, each once.
pub fn cautions(scenario: &Scenario, facts: &Facts) -> Vec<String> {
    [
        unattended(facts),
        fumes(scenario, facts),
        lifting(scenario, facts),
        length(scenario, facts),
        spans(scenario, facts),
        supports(scenario, facts),
        glue(scenario, facts),
        scrap(scenario, facts),
        late_orders(scenario, facts),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// Runs that should have ended and are not noted to have: what is planned behind them begins later if they are not done yet.
pub fn overdue(scenario: &Scenario, standing: &[Standing]) -> Option<String> {
    let late = standing.iter().filter_map(|run| {
        let local = run.overdue?.with_timezone(&scenario.build.zone);
        Some(format!(
            "{} should have ended {}",
            run.id,
            local.format("%a %-d %b %H:%M")
        ))
    });
    let late: Vec<String> = late.collect();
    let (ends, they) = match late.len() {
        0 => return None,
        1 => ("its end is not noted", "it"),
        _ => ("their ends are not noted", "them"),
    };
    Some(format!(
        "Overdue: {}, and {ends}; the plan takes {they} to end now.",
        late.join(", ")
    ))
}

/// Mass of one finished copy of each part as the runs make it: its pieces, hardware and glue. Where copies are made in
/// several ways, the heaviest; nothing for a part that no run makes.
pub fn copy_grams(scenario: &Scenario, routes: &[PartRoutes], runs: &[Run]) -> Vec<Grams> {
    let mut heaviest = vec![Grams::ZERO; scenario.parts.len()];
    let mut by_part = vec![None; scenario.parts.len()];
    for part in routes {
        by_part[part.part.0] = Some(part);
    }
    for (run, piece) in runs
        .iter()
        .flat_map(|run| run.pieces.iter().map(move |p| (run, p)))
    {
        let forms = by_part[piece.part.0].map_or(&[][..], |part| &part.forms);
        let Some(form) = forms.iter().find(|form| form.lengths == piece.of) else {
            continue;
        };
        let lies_so = |size: &[Millimetres; 3]| {
            size.iter()
                .zip(&piece.size)
                .all(|(a, b)| (a.0 - b.0).abs() < 1e-6)
        };
        // Support is taken off before anybody lifts it. One length stands for its copy by the share of it that it is.
        let mesh = scenario.parts[piece.part.0].mesh().is_some();
        let alike = |way: &&Way| {
            way.machine == run.machine
                && lies_so(&way.size)
                // Of a box only its size counts.
                && (!mesh || (way.upright, way.over) == (piece.upright, piece.over))
                && form.kinds[way.kind].positions.contains(&piece.length)
        };
        let grams = form.ways.iter().filter(alike).map(|way| {
            let share = form.kinds.get(way.kind).map_or(1.0, |kind| kind.share);
            (way.grams - way.support) * (1.0 / share) + form.joint_grams
        });
        for copy in grams {
            let heaviest = &mut heaviest[piece.part.0];
            if copy > *heaviest {
                *heaviest = copy;
            }
        }
    }
    heaviest
}

/// The same for parts of which nothing is left to be printed: as their first form's heaviest way has it.
pub fn fill_copy_grams(copy_grams: &mut [Grams], routes: &[PartRoutes]) {
    for part in routes {
        let heaviest = &mut copy_grams[part.part.0];
        if let (true, Some(form)) = (*heaviest == Grams::ZERO, part.forms.first()) {
            for way in &form.ways {
                let share = form.kinds.get(way.kind).map_or(1.0, |kind| kind.share);
                let copy = (way.grams - way.support) * (1.0 / share) + form.joint_grams;
                if copy > *heaviest {
                    *heaviest = copy;
                }
            }
        }
    }
}

/// What each assembly weighs, in the scenario's order; `copy_grams` as of [`copy_grams`].
pub fn masses(scenario: &Scenario, lifts: &[Lift], copy_grams: &[Grams]) -> Vec<Mass> {
    let assemblies = scenario.assemblies.iter().zip(lifts);
    assemblies
        .map(|(assembly, lift)| Mass {
            own: assembly
                .parts
                .iter()
                .map(|(part, count)| copy_grams[part.0] * f64::from(*count))
                .sum(),
            whole: lift.mass,
        })
        .collect()
}

/// Fire officers' concerns: heat, very long runs, what is stored around (A. Verzoni, "3D Printers Go Mainstream", NFPA
/// Journal, Sept/Oct 2018).
fn unattended(facts: &Facts) -> Option<String> {
    let alone = facts.runs.iter().filter(|run| run.alone).count();
    (alone > 0).then(|| {
        format!(
            "Fire: {alone} of {} runs print while nobody is at the bench. They need a working smoke alarm, a \
             non-combustible surface, clear space round the machine, the maker's instructions followed, and nobody \
             asleep beside it. Local fire rules and the insurer's terms come first; where they forbid it, set \
             `unattended: forbidden` and plan again.",
            facts.runs.len()
        )
    })
}

/// Enclosures, local exhaust, distance and lower-emission materials are what helps: NIOSH \[2023\], Approaches to safe 3D
/// printing, Publ. 2024-103, doi 10.26616/NIOSHPUB2024103. ABS gives off more than PLA: HSE RR1146 (2019).
fn fumes(scenario: &Scenario, facts: &Facts) -> Option<String> {
    let strong: BTreeSet<&str> = facts
        .runs
        .iter()
        .map(|run| scenario.filaments[run.filament.0].material.as_str())
        .filter(|material| {
            let base = material.split(|c: char| !c.is_alphanumeric()).next();
            base.is_some_and(|base| {
                base.eq_ignore_ascii_case("ABS") || base.eq_ignore_ascii_case("ASA")
            })
        })
        .collect();
    if facts.runs.is_empty() {
        return None;
    }
    let more = if strong.is_empty() {
        String::new()
    } else {
        let names: Vec<&str> = strong.into_iter().collect();
        format!(
            " {} gives off more than PLA: print it in an enclosure with its own exhaust.",
            names.join(", ")
        )
    };
    Some(format!(
        "Air: hot filament gives off fine particles and vapours. Air the room and stay no closer than you need while \
         machines print.{more} Rules for workplaces and schools come first."
    ))
}

fn lifting(scenario: &Scenario, facts: &Facts) -> Option<String> {
    let lifts = lifts(scenario, facts.copy_grams);
    let mut sorted: Vec<&Lift> = lifts.iter().collect();
    sorted.sort_by(|a, b| b.mass.0.total_cmp(&a.mass.0));
    let id = |lift: &Lift| scenario.assemblies[lift.assembly.0].id.as_str();
    let kilograms = |mass: Grams| format!("{:.1} kg", mass.0 / 1000.0);
    let weighed = |lift: &Lift| format!("{} ({})", id(lift), kilograms(lift.mass));
    let named = |from: Grams, below: Grams| {
        let within = |lift: &&&Lift| lift.mass >= from && lift.mass < below;
        listed(sorted.iter().filter(within).map(|lift| weighed(lift)))
    };
    let heavy = named(NOT_ALONE, Grams(f64::INFINITY));
    let middling = named(SECOND_PERSON, NOT_ALONE);
    let over = sorted.iter().filter_map(|lift| {
        let limit = lift.limit.filter(|&limit| lift.mass > limit)?;
        Some(format!(
            "{}, recommended {}",
            weighed(lift),
            kilograms(limit)
        ))
    });
    let over = listed(over);
    if heavy.is_none() && middling.is_none() && over.is_none() {
        return None;
    }
    let mut text = String::from("Lifting:");
    if let Some(heavy) = heavy {
        text.push_str(&format!(" {heavy} — not one person."));
    }
    if let Some(middling) = middling {
        text.push_str(&format!(" {middling} — get a second person or a trolley."));
    }
    if let Some(over) = over {
        text.push_str(&format!(
            " More than one person should lift as described: {over}."
        ));
    }
    if let Some(heaviest) = heaviest_lift(&lifts).filter(|lift| lift.taken) {
        text.push_str(&format!(
            " Heaviest to be lifted into another: {}.",
            id(heaviest)
        ));
    }
    text.push_str(
        " What is wide or held far from the body is harder to lift than its mass says. Local rules for lifting come \
         first, and the word of whoever is trained in them.",
    );
    Some(text)
}

fn length(scenario: &Scenario, facts: &Facts) -> Option<String> {
    let long = parts(facts, |_| true)
        .into_iter()
        .filter(|part| longest_side(scenario, *part) > LONG_TO_CARRY);
    let parts = with_lengths(scenario, long);
    // An assembly that is long only because of a part is not named besides it.
    let all = (0..scenario.parts.len()).map(PartIndex);
    let longest_part = all.map(|part| longest_side(scenario, part).0);
    let longest_part = longest_part.fold(LONG_TO_CARRY.0, f64::max);
    let lifts = lifts(scenario, facts.copy_grams).into_iter();
    let assemblies = listed(
        lifts
            .filter(|lift| lift.at_least.0 > longest_part)
            .map(|lift| {
                let id = &scenario.assemblies[lift.assembly.0].id;
                format!("{id} (at least {:.0} mm)", lift.at_least.0)
            }),
    );
    let names: Vec<String> = [parts, assemblies].into_iter().flatten().collect();
    if names.is_empty() {
        return None;
    }
    let names = names.join(", ");
    Some(format!(
        "Length: {names} — more than 2 m. Carry it with two people, and before it is built look at the way out: doors, \
         stairs, lamps, lines overhead. Where it stands or hangs among people, local rules and a qualified person decide."
    ))
}

/// Plastic creeps under lasting load well below its softening point: M. Fischbach, K. Weinberg, arXiv:2302.11240.
fn spans(scenario: &Scenario, facts: &Facts) -> Option<String> {
    let long = parts(facts, |route| {
        matches!(route, RouteKind::Split | RouteKind::Belt)
    })
    .into_iter()
    .filter(|part| longest_side(scenario, *part) >= SPAN);
    let names = with_lengths(scenario, long)?;
    Some(format!(
        "Spans: {names} — joined, or with layers across the length. They sag, and go on sagging under a lasting load; a glued \
         joint is not the full section. Try each under its load with props beneath. Nothing that carries people or hangs over \
         them without a qualified person's word and what local rules ask."
    ))
}

/// Parts that no way of lying spares support; hot plastic has nothing under it there. Common practice, no source.
fn supports(scenario: &Scenario, facts: &Facts) -> Option<String> {
    let made: BTreeSet<PartIndex> = facts
        .runs
        .iter()
        .flat_map(|run| run.pieces.iter().map(|piece| piece.part))
        .collect();
    let mut needy: Vec<(Grams, PartIndex)> = made
        .into_iter()
        .filter_map(|part| Some((*facts.least_support.get(part.0)?, part)))
        .filter(|(grams, _)| *grams > Grams::ZERO)
        .collect();
    needy.sort_by(|a, b| b.0.0.total_cmp(&a.0.0));
    let named = needy.iter().map(|(grams, part)| {
        let id = &scenario.parts[part.0].id;
        format!("{id} ({:.1} g a copy)", grams.0)
    });
    let names = listed(named)?;
    Some(format!(
        "Support: {names} — however it lies, some of it hangs over the bed. Its plastic and time are estimates: switch \
         support on where the file is made, look at what it will do there, and watch the first one. It comes off with \
         sharp edges: wear gloves and eye protection."
    ))
}

/// Fixture, handling and full strength are three times: E. M. Petrie, Handbook of Adhesives and Sealants, Table 8.3.
fn glue(scenario: &Scenario, facts: &Facts) -> Option<String> {
    let glued = facts.gluings.iter().any(|gluing| {
        let joint = &scenario.joints[gluing.joint.0];
        joint.grams > Grams::ZERO || joint.cure.value() > 0
    });
    let cures = scenario
        .assemblies
        .iter()
        .any(|assembly| assembly.cure.value() > 0);
    (glued || cures).then(|| {
        "Glue: air the room, keep it off skin and eyes, and follow the maker's sheet and local rules. Set is not cured: \
         leave joints clamped and unloaded for the whole cure, longer in the cold."
            .to_owned()
    })
}

fn scrap(scenario: &Scenario, facts: &Facts) -> Option<String> {
    let machines: BTreeSet<_> = facts.runs.iter().map(|run| run.machine).collect();
    let share = |machine: &MachineIndex| facts.failures.get(machine.0).map_or(0.0, |one| one.share);
    let expected: f64 = facts.runs.iter().map(|run| share(&run.machine)).sum();
    // What the log says of machines that print, each with its own.
    let noted = listed(machines.iter().filter_map(|machine| {
        let one = facts.failures.get(machine.0).filter(|one| one.runs > 0)?;
        Some(format!(
            "{} {} % ({} of {} runs failed)",
            scenario.machines[machine.0].id,
            (one.share * 100.0).round(),
            (one.failed * 10.0).round() / 10.0,
            one.runs
        ))
    }));
    let by = match noted {
        None => "at the machines' own shares".to_owned(),
        Some(noted) => {
            format!("by the machines' own shares and what was noted of their runs, {noted},")
        }
    };
    // Less than a twentieth of a run would be shown as none.
    (expected >= 0.05).then(|| {
        format!(
            "Scrap: {by} about {expected:.1} of {} runs will fail. {}",
            facts.runs.len(),
            reserved(scenario, facts)
        )
    })
}

/// What stands by for runs that fail, in words.
fn reserved(scenario: &Scenario, facts: &Facts) -> String {
    let asked = scenario.build.confidence;
    let per_cent = |share: f64| (share * 1e4).round() / 1e2;
    let enough = |part: usize| {
        let mut reserves = facts.reserves.iter();
        reserves.all(|one| one.part.0 != part || !one.falls_short(asked))
    };
    let with = |auto: bool, suffices: bool| {
        let parts = scenario.parts.iter().enumerate();
        listed(
            parts
                .filter(|(at, part)| {
                    part.reserve == auto && part.spares > 0 && (!auto || enough(*at) == suffices)
                })
                .map(|(_, part)| format!("{} {}", part.spares, part.id)),
        )
    };
    let counted = with(true, true).map(|names| {
        format!(
            "{names}, so that enough of each succeed with a certainty of {} %",
            per_cent(asked)
        )
    });
    let fewer =
        with(true, false).map(|names| format!("{names}, with less certainty than you asked for"));
    let typed = with(false, true).map(|names| format!("{names}, as many as you asked for"));
    let below = facts.reserves.iter().filter(|one| one.falls_short(asked));
    let below = listed(below.map(|one| {
        format!(
            "{} {}{} %",
            scenario.parts[one.part.0].id,
            if one.exact { "" } else { "at least " },
            one.per_cent()
        )
    }));
    let below = below.map_or_else(String::new, |names| {
        format!(
            " Not {} %, as was asked: enough succeed of {names}, since much of it lies on one run, on a run that stands, or on machines that \
             fail more often than was reckoned with.",
            per_cent(asked)
        )
    });
    let reserve: Vec<String> = counted.into_iter().chain(fewer).chain(typed).collect();
    if reserve.is_empty() {
        return format!(
            "Neither time nor filament is reserved for that: set `spares`, a number or `auto`, where a piece fails often, and \
             plan again.{below}"
        );
    }
    format!(
        "Spares are planned for that: {}. For other parts neither time nor filament is reserved.{below}",
        reserve.join("; and ")
    )
}

fn late_orders(scenario: &Scenario, facts: &Facts) -> Option<String> {
    let zone = scenario.build.zone;
    let start = scenario.build.start.with_timezone(&zone).date_naive();
    let late: Vec<String> = facts
        .orders
        .iter()
        .filter_map(|order| {
            let by = order.order_by.filter(|&by| by < start)?;
            Some(format!(
                "{} by {by}",
                scenario.filaments[order.filament.0].id
            ))
        })
        .collect();
    (!late.is_empty()).then(|| {
        format!(
            "Orders: the plan needs new filament sooner than an order on the first day, {start}, would bring it: {}. Order \
             ahead, or start later.",
            late.join(", ")
        )
    })
}

/// Parts that some run makes by a route that counts.
fn parts(facts: &Facts, counts: impl Fn(RouteKind) -> bool) -> BTreeSet<PartIndex> {
    facts
        .runs
        .iter()
        .flat_map(|run| &run.pieces)
        .filter(|piece| counts(piece.route))
        .map(|piece| piece.part)
        .collect()
}

fn longest_side(scenario: &Scenario, part: PartIndex) -> Millimetres {
    let sides = scenario.parts[part.0].size.map(|side| side.0);
    Millimetres(sides.into_iter().fold(0.0, f64::max))
}

/// `boom (2400 mm), jib-chord (1380 mm)`, the longest first; `None` without parts.
fn with_lengths(scenario: &Scenario, parts: impl Iterator<Item = PartIndex>) -> Option<String> {
    let mut parts: Vec<PartIndex> = parts.collect();
    parts.sort_by(|a, b| {
        let (a, b) = (longest_side(scenario, *a), longest_side(scenario, *b));
        b.0.total_cmp(&a.0)
    });
    listed(parts.into_iter().map(|part| {
        let id = &scenario.parts[part.0].id;
        format!("{id} ({:.0} mm)", longest_side(scenario, part).0)
    }))
}

/// Names beside each other, the first few of many; `None` without any.
fn listed(names: impl Iterator<Item = String>) -> Option<String> {
    let names: Vec<String> = names.collect();
    let (first, more) = names.split_at(names.len().min(MOST_NAMES));
    match (first, more.len()) {
        ([], _) => None,
        (first, 0) => Some(first.join(", ")),
        (first, more) => Some(format!("{} and {more} more", first.join(", "))),
    }
}
