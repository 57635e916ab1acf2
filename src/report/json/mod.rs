//! The plan for other programs.
//!
//! Knows: the keys and units that other programs may rely on, version 1. Must not know: how the plan was found.
//! Promises: these keys, in this order, no more and no fewer; dates are RFC 3339 in the build's zone with the offset
//! of their moment; money is rounded as in the table, so that the parts add up to the total; `bound` is rounded down.
//!
//! Where a value may be missing: `setup` is `null` for a belt run that follows another without one; `swap_from` is
//! `null` where the setup changes no filament and `""` where the machine was empty (an id is never empty, so the
//! change stays visible); `assembly` is `null` for a spare, `joint` for a part in one piece, `due` for an assembly
//! without a date, `order_by` where nothing is to be ordered. `orders` has a row for every filament of the scenario.

mod bench;
mod runs;

use serde::Serialize;

use crate::plan::{Change, Order, Plan, RouteUse};
use crate::scenario::{JointIndex, Scenario};
use crate::strength::{Span, Verdict};

use super::local::Local;
use super::money::{Hundredths, Shown, gap};
use super::words;
use bench::{AssemblyFile, GluingFile, LinkFile, SpareWorkFile, TrialFile};
use runs::{PrintingFile, RunFile};

/// The format's version; another number means that a key went or changed its meaning.
const VERSION: u32 = 1;

#[derive(Serialize)]
struct PlanFile<'a> {
    version: u32,
    build: &'a str,
    currency: &'a str,
    seed: u64,
    cost: CostFile,
    bound: f64,
    gap: f64,
    finish: String,
    runs: Vec<RunFile<'a>>,
    routes: Vec<RouteFile<'a>>,
    assemblies: Vec<AssemblyFile<'a>>,
    orders: Vec<OrderFile<'a>>,
    spares: Vec<SpareFile<'a>>,
    failures: Vec<FailingFile<'a>>,
    spans: Vec<SpanFile<'a>>,
    /// From when on it plans.
    begins: String,
    trials: Vec<TrialFile<'a>>,
    gluings: Vec<GluingFile<'a>>,
    spare_work: Vec<SpareWorkFile<'a>>,
    /// What the end waits for; there is none without an assembly.
    critical_path: Option<Vec<LinkFile<'a>>>,
    idle: Vec<IdleFile<'a>>,
    cautions: &'a [String],
    /// Whether somebody ended the search before its own end.
    stopped: bool,
    /// What was started before; only of the rest of a build.
    #[serde(skip_serializing_if = "Option::is_none")]
    printing: Option<Vec<PrintingFile<'a>>>,
    /// What is done otherwise than in the accepted plan; only of the rest of a build.
    #[serde(skip_serializing_if = "Option::is_none")]
    changes: Option<Vec<ChangeFile<'a>>>,
    /// Where the scenario is otherwise than when that was accepted, in words; the same.
    #[serde(skip_serializing_if = "Option::is_none")]
    differences: Option<&'a [String]>,
    /// What the rest would cost in the accepted order; the same, and only where that can be kept.
    #[serde(skip_serializing_if = "Option::is_none")]
    kept: Option<CostFile>,
}

#[derive(Serialize)]
struct ChangeFile<'a> {
    run: &'a str,
    was: Option<&'a str>,
    from: Option<PlaceFile<'a>>,
    to: Option<PlaceFile<'a>>,
    why: &'a str,
    /// `null`: the machine that it was on is gone.
    money: Option<f64>,
}

#[derive(Serialize)]
struct PlaceFile<'a> {
    machine: &'a str,
    start: String,
}

#[derive(Serialize)]
pub(super) struct CostFile {
    total: f64,
    late: f64,
    standing: f64,
    machine: f64,
    energy: f64,
    bench: f64,
    purge: f64,
    plastic: f64,
    hardware: f64,
    /// There is none without an accepted plan.
    #[serde(skip_serializing_if = "Option::is_none")]
    calm: Option<f64>,
}

#[derive(Serialize)]
struct RouteFile<'a> {
    part: &'a str,
    quantity: u32,
    route: &'a str,
    pieces: u32,
    machine: &'a str,
    joint: Option<&'a str>,
    why: &'a str,
}

#[derive(Serialize)]
struct OrderFile<'a> {
    filament: &'a str,
    grams: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    range: Option<[f64; 2]>,
    on_hand: f64,
    spools: u32,
    order_by: Option<String>,
    price: f64,
}

/// A machine without work.
#[derive(Serialize)]
struct IdleFile<'a> {
    machine: &'a str,
    from: Option<String>,
    why: String,
}

/// What is known of a machine's runs.
#[derive(Serialize)]
struct FailingFile<'a> {
    machine: &'a str,
    runs: u32,
    failed: f64,
    share: f64,
}

#[derive(Serialize)]
struct SpareFile<'a> {
    part: &'a str,
    quantity: u32,
    spares: u32,
    /// With which probability they are to suffice; `null`: their number is the user's.
    confidence: Option<f64>,
    /// With which they do on these runs; `null` likewise.
    certainty: Option<f64>,
    /// Whether it is just that, else it is at least that; `null` likewise.
    exact: Option<bool>,
    /// How many copies may share a run for that; `null`: any number.
    together: Option<u32>,
}

#[derive(Serialize)]
struct SpanFile<'a> {
    part: &'a str,
    mm: f64,
    load_g: f64,
    sag: f64,
    sag_limit: f64,
    stress: f64,
    enough: Option<&'a str>,
    lightest: Option<&'a str>,
    rods: Vec<RodFile<'a>>,
}

#[derive(Serialize)]
struct RodFile<'a> {
    joint: &'a str,
    sag: f64,
    grams: f64,
    price: f64,
    fits: bool,
}

/// The whole plan as JSON, indented, ending with a line break.
pub fn json(scenario: &Scenario, plan: &Plan) -> String {
    let local = Local(scenario.build.zone);
    let file = PlanFile {
        version: VERSION,
        build: &scenario.build.name,
        currency: &scenario.currency,
        seed: plan.seed,
        cost: cost(&Shown::new(&plan.cost)),
        bound: Hundredths::down(plan.bound).number(),
        gap: decimals(gap(plan.decided, plan.bound), 6),
        finish: local.rfc3339(plan.finish),
        runs: plan
            .runs
            .iter()
            .map(|r| runs::run(scenario, plan, local, r))
            .collect(),
        routes: plan.routes.iter().map(|r| route(scenario, r)).collect(),
        assemblies: plan
            .assemblies
            .iter()
            .map(|dates| bench::assembly(scenario, local, plan, dates))
            .collect(),
        orders: plan.orders.iter().map(|o| order(scenario, o)).collect(),
        spares: spares(scenario, plan),
        failures: failures(scenario, plan),
        spans: plan.spans.iter().map(|s| span(scenario, s)).collect(),
        begins: local.rfc3339(plan.begins(scenario)),
        trials: each(&plan.trials, |trial| bench::trial(scenario, local, trial)),
        gluings: each(&plan.gluings, |gluing| {
            bench::gluing(scenario, local, gluing)
        }),
        spare_work: each(&plan.spare_work, |spares| {
            bench::spares(scenario, local, spares)
        }),
        critical_path: (plan.critical.as_ref())
            .map(|path| bench::critical_path(scenario, local, plan, path)),
        idle: each(&plan.idle, |idle| IdleFile {
            machine: &scenario.machines[idle.machine.0].id,
            from: idle.from.map(|from| local.rfc3339(from)),
            why: words::idle(scenario, local, idle),
        }),
        cautions: &plan.cautions,
        stopped: plan.stopped,
        printing: plan.since.as_ref().map(|since| {
            let running = since.running.iter();
            running
                .map(|r| runs::printing(scenario, local, r))
                .collect()
        }),
        changes: plan.since.as_ref().map(|since| {
            let changes = since.changes.iter();
            changes.map(|c| change(scenario, local, c)).collect()
        }),
        differences: plan.since.as_ref().map(|since| &since.differences[..]),
        kept: plan
            .since
            .as_ref()
            .and_then(|since| since.kept.as_ref())
            .map(|kept| cost(&Shown::new(kept))),
    };
    let mut text = serde_json::to_string_pretty(&file)
        .expect("text, numbers and lists with text for keys: none of them fails to be written");
    text.push('\n');
    text
}

fn each<'a, T, F>(all: &'a [T], of: impl Fn(&'a T) -> F) -> Vec<F> {
    all.iter().map(of).collect()
}

fn change<'a>(scenario: &'a Scenario, local: Local, change: &'a Change) -> ChangeFile<'a> {
    let place = |machine: &'a str, start| PlaceFile {
        machine,
        start: local.rfc3339(start),
    };
    let to = change.to.as_ref();
    ChangeFile {
        run: &change.run,
        was: change.was.as_deref(),
        from: (change.from.as_ref()).map(|(machine, start)| place(machine, *start)),
        to: to.map(|(machine, start)| place(&scenario.machines[machine.0].id, *start)),
        why: &change.why,
        money: (change.money).map(|money| Hundredths::nearest(money).number()),
    }
}

pub(super) fn cost(shown: &Shown) -> CostFile {
    CostFile {
        total: shown.total().number(),
        late: shown.late.number(),
        standing: shown.standing.number(),
        machine: shown.machine.number(),
        energy: shown.energy.number(),
        bench: shown.bench.number(),
        purge: shown.purge.number(),
        plastic: shown.plastic.number(),
        hardware: shown.hardware.number(),
        calm: (shown.calm.number() != 0.0).then(|| shown.calm.number()),
    }
}

/// Parts that have any, or that the program counted for.
fn spares<'a>(scenario: &'a Scenario, plan: &Plan) -> Vec<SpareFile<'a>> {
    let parts = scenario.parts.iter().enumerate();
    parts
        .filter(|(_, part)| part.spares > 0 || part.reserve)
        .map(|(at, part)| {
            let reserve = plan.reserves.iter().find(|one| one.part.0 == at);
            SpareFile {
                part: &part.id,
                quantity: part.quantity,
                spares: part.spares,
                confidence: part.reserve.then_some(scenario.build.confidence),
                certainty: reserve.map(|one| one.certainty),
                exact: reserve.map(|one| one.exact),
                together: part.together,
            }
        })
        .collect()
}

fn failures<'a>(scenario: &'a Scenario, plan: &Plan) -> Vec<FailingFile<'a>> {
    let machines = plan.failures.iter();
    machines
        .map(|one| FailingFile {
            machine: &scenario.machines[one.machine.0].id,
            runs: one.runs,
            failed: one.failed,
            share: one.share,
        })
        .collect()
}

fn route<'a>(scenario: &'a Scenario, used: &'a RouteUse) -> RouteFile<'a> {
    RouteFile {
        part: &scenario.parts[used.part.0].id,
        quantity: used.quantity,
        route: words::route(used.route),
        pieces: used.pieces,
        machine: &scenario.machines[used.machine.0].id,
        joint: used.joint.map(|joint| scenario.joints[joint.0].id.as_str()),
        why: &used.why,
    }
}

fn order<'a>(scenario: &'a Scenario, order: &Order) -> OrderFile<'a> {
    OrderFile {
        filament: &scenario.filaments[order.filament.0].id,
        grams: decimals(order.grams.0, 3),
        range: order.range.map(|range| range.map(|end| decimals(end.0, 3))),
        on_hand: decimals(order.on_hand.0, 3),
        spools: order.spools,
        order_by: order.order_by.map(|date| date.to_string()),
        price: Hundredths::nearest(order.price(scenario)).number(),
    }
}

fn span<'a>(scenario: &'a Scenario, span: &Span) -> SpanFile<'a> {
    let id = |joint: JointIndex| scenario.joints[joint.0].id.as_str();
    SpanFile {
        part: &scenario.parts[span.part.0].id,
        mm: decimals(span.length.0, 3),
        load_g: decimals(span.load.0, 3),
        sag: decimals(span.sag.0, 4),
        sag_limit: decimals(span.limit.0, 4),
        stress: decimals(span.stress.0, 4),
        enough: match span.verdict {
            Verdict::Bare => Some("print"),
            Verdict::With(at) => span.reinforced.get(at).map(|with| id(with.joint)),
            Verdict::Nothing => None,
        },
        lightest: span
            .lightest
            .and_then(|at| span.reinforced.get(at))
            .map(|with| id(with.joint)),
        rods: span
            .reinforced
            .iter()
            .map(|with| RodFile {
                joint: id(with.joint),
                sag: decimals(with.sag.0, 4),
                grams: decimals(with.mass.0, 2),
                price: Hundredths::nearest(with.price).number(),
                fits: with.fits,
            })
            .collect(),
    }
}

/// Rounded to so many decimals.
pub(super) fn decimals(value: f64, places: i32) -> f64 {
    let factor = 10f64.powi(places);
    // Adding nought turns a negative nought into a plain one.
    (value * factor).round() / factor + 0.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rounding_takes_noise_off_and_keeps_the_value() {
        assert_eq!(decimals(150.00000000000003, 9), 150.0);
        assert_eq!(decimals(1.0 / 3.0, 4), 0.3333);
        assert!(decimals(-1e-12, 9).is_sign_positive());
    }
}
