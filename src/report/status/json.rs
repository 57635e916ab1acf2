//! How the shop stands, for other programs.
//!
//! Knows: a [`Status`], the build's zone. Must not know: the log, how anything was found, what a screen holds.
//! Promises: `version` changes when a key goes.

use chrono::{DateTime, Utc};
use serde::Serialize;

use crate::report::json::decimals;
use crate::report::local::Local;
use crate::scenario::Scenario;
use crate::shoplog::{Next, Stand, Status, Task};

/// The format's version.
const VERSION: u32 = 1;

#[derive(Serialize)]
struct StatusFile<'a> {
    version: u32,
    now: String,
    planned: bool,
    printed: usize,
    to_print: usize,
    lost: u32,
    printing: Vec<PrintingFile<'a>>,
    idle: Vec<IdleFile<'a>>,
    next: Vec<NextFile<'a>>,
    stages: Vec<StageFile<'a>>,
    low: Vec<LowFile<'a>>,
    in_no_run: Vec<PiecesFile<'a>>,
    differences: &'a [String],
    machines: Vec<MachineFile<'a>>,
    spools: Vec<SpoolFile<'a>>,
    orders: Vec<OrderFile<'a>>,
    gluings: Vec<GluingFile<'a>>,
    parts: Vec<PartFile<'a>>,
    assemblies: Vec<AssemblyFile<'a>>,
}

#[derive(Serialize)]
struct MachineFile<'a> {
    machine: &'a str,
    loaded: Option<&'a str>,
    spool: Option<&'a str>,
    runs: u32,
    failed: f64,
    share: Option<f64>,
}

#[derive(Serialize)]
struct SpoolFile<'a> {
    spool: &'a str,
    filament: &'a str,
    grams: f64,
    machine: Option<&'a str>,
    arrives: Option<String>,
}

#[derive(Serialize)]
struct OrderFile<'a> {
    filament: &'a str,
    spools: u32,
    order_by: Option<String>,
}

#[derive(Serialize)]
struct GluingFile<'a> {
    part: &'a str,
    number: u32,
    planned: Option<String>,
}

#[derive(Serialize)]
struct PartFile<'a> {
    part: &'a str,
    needed: u32,
    printed: u32,
    pieces: u32,
    joined: u32,
    lost: u32,
    /// There is none for a part without trial copies.
    trial: Option<TrialFile<'a>>,
}

#[derive(Serialize)]
struct TrialFile<'a> {
    approved: Option<String>,
    variants: &'a [String],
    variant: Option<&'a str>,
    rejected: u32,
}

#[derive(Serialize)]
struct AssemblyFile<'a> {
    assembly: &'a str,
    stand: &'static str,
    started: Option<String>,
    completed: Option<String>,
    expected: Option<String>,
    due: Option<String>,
}

#[derive(Serialize)]
struct PrintingFile<'a> {
    machine: &'a str,
    run: &'a str,
    started: String,
    until: String,
    spool_ends: Option<String>,
    stops: bool,
    spool_change: Option<String>,
    next_spool: Option<&'a str>,
    pieces: Vec<PiecesFile<'a>>,
}

#[derive(Serialize)]
struct PiecesFile<'a> {
    part: &'a str,
    pieces: usize,
}

#[derive(Serialize)]
struct IdleFile<'a> {
    machine: &'a str,
    down_since: Option<String>,
    down_until: Option<String>,
    offline_until: Option<String>,
    why: Option<&'a str>,
}

#[derive(Serialize)]
struct NextFile<'a> {
    at: String,
    task: &'static str,
    run: Option<&'a str>,
    machine: Option<&'a str>,
    filament: Option<&'a str>,
    spool: Option<&'a str>,
    filament_comes: Option<String>,
    /// Whether another filament is in the machine before; of a setup only.
    change: Option<bool>,
    /// The part whose trial is to be approved before.
    trial: Option<&'a str>,
    part: Option<&'a str>,
    number: Option<u32>,
    assembly: Option<&'a str>,
    /// To be chosen from.
    #[serde(skip_serializing_if = "<[String]>::is_empty")]
    variants: &'a [String],
}

#[derive(Serialize)]
struct StageFile<'a> {
    assembly: &'a str,
    due: String,
    planned: String,
    expected: String,
    complete: bool,
}

#[derive(Serialize)]
struct LowFile<'a> {
    filament: &'a str,
    needed: f64,
    here: f64,
    coming: f64,
}

/// For other programs; moments in the build's zone, masses in grams.
pub fn status_json(scenario: &Scenario, status: &Status, differences: &[String]) -> String {
    let local = Local(scenario.build.zone);
    let moment = |at: Option<DateTime<Utc>>| at.map(|at| local.rfc3339(at));
    let tally = &status.tally;
    let file = StatusFile {
        version: VERSION,
        now: local.rfc3339(status.now),
        planned: status.planned,
        printed: status.printed,
        to_print: status.to_print,
        lost: status.lost,
        printing: status
            .printing
            .iter()
            .map(|printing| PrintingFile {
                machine: &printing.machine,
                run: &printing.run,
                started: local.rfc3339(printing.started),
                until: local.rfc3339(printing.until),
                spool_ends: printing.spool_ends.map(|ends| local.rfc3339(ends)),
                stops: printing.stops,
                spool_change: printing.change.map(|at| local.rfc3339(at)),
                next_spool: printing.next_spool.as_deref(),
                pieces: printing
                    .pieces
                    .iter()
                    .map(|(part, pieces)| PiecesFile {
                        part,
                        pieces: *pieces,
                    })
                    .collect(),
            })
            .collect(),
        idle: status
            .idle
            .iter()
            .map(|idle| IdleFile {
                machine: &idle.machine,
                down_since: idle.down.as_ref().map(|(since, _)| local.rfc3339(*since)),
                down_until: idle.down_until.map(|until| local.rfc3339(until)),
                offline_until: idle
                    .offline
                    .as_ref()
                    .map(|(until, _)| local.rfc3339(*until)),
                why: (idle.down.as_ref().or(idle.offline.as_ref())).map(|(_, why)| why.as_str()),
            })
            .collect(),
        next: status
            .next
            .iter()
            .map(|next| next_file(local, next))
            .collect(),
        stages: status
            .stages
            .iter()
            .map(|stage| StageFile {
                assembly: &stage.assembly,
                due: local.rfc3339(stage.due),
                planned: local.rfc3339(stage.planned),
                expected: local.rfc3339(stage.expected),
                complete: stage.complete,
            })
            .collect(),
        low: status
            .low
            .iter()
            .map(|low| LowFile {
                filament: &low.filament,
                needed: decimals(low.needed, 3),
                here: decimals(low.here, 3),
                coming: decimals(low.coming, 3),
            })
            .collect(),
        in_no_run: status
            .in_no_run
            .iter()
            .map(|(part, &pieces)| PiecesFile { part, pieces })
            .collect(),
        differences,
        machines: (tally.machines.iter())
            .map(|one| MachineFile {
                machine: &one.machine,
                loaded: one.loaded.as_deref(),
                spool: one.spool.as_deref(),
                runs: one.runs,
                failed: decimals(one.failed, 3),
                share: one.share.map(|share| decimals(share, 4)),
            })
            .collect(),
        spools: (tally.spools.iter())
            .map(|one| SpoolFile {
                spool: &one.spool,
                filament: &one.filament,
                grams: decimals(one.grams, 3),
                machine: one.machine.as_deref(),
                arrives: moment(one.arrives),
            })
            .collect(),
        orders: (tally.orders.iter())
            .map(|one| OrderFile {
                filament: &one.filament,
                spools: one.spools,
                order_by: one.order_by.map(|by| by.to_string()),
            })
            .collect(),
        gluings: (tally.gluings.iter())
            .map(|one| GluingFile {
                part: &one.part,
                number: one.number,
                planned: moment(one.planned),
            })
            .collect(),
        parts: (tally.parts.iter())
            .map(|one| PartFile {
                part: &one.part,
                needed: one.needed,
                printed: one.printed,
                pieces: one.pieces,
                joined: one.joined,
                lost: one.lost,
                trial: one.trial.as_ref().map(|trial| TrialFile {
                    approved: moment(trial.approved),
                    variants: &trial.variants,
                    variant: trial.variant.as_deref(),
                    rejected: trial.rejected,
                }),
            })
            .collect(),
        assemblies: (tally.assemblies.iter())
            .map(|one| AssemblyFile {
                assembly: &one.assembly,
                stand: match one.stand {
                    Stand::Open => "open",
                    Stand::AtWork => "at-work",
                    Stand::Complete => "complete",
                },
                started: moment(one.started),
                completed: moment(one.complete),
                expected: moment(one.expected),
                due: moment(one.due),
            })
            .collect(),
    };
    let mut text = serde_json::to_string_pretty(&file)
        .expect("text, numbers and lists with text for keys: none of them fails to be written");
    text.push('\n');
    text
}

fn next_file(local: Local, next: &Next) -> NextFile<'_> {
    let file = NextFile {
        at: local.rfc3339(next.at),
        task: "",
        run: None,
        machine: None,
        filament: None,
        spool: None,
        filament_comes: None,
        change: None,
        trial: None,
        part: None,
        number: None,
        assembly: None,
        variants: &[],
    };
    match &next.what {
        Task::SetUp {
            run,
            machine,
            filament,
            spool,
            waits,
            change,
            trial,
        } => NextFile {
            spool: spool.as_deref(),
            change: Some(*change),
            trial: trial.as_deref(),
            filament_comes: waits.map(|at| local.rfc3339(at)),
            task: "set-up",
            run: Some(run),
            machine: Some(machine),
            filament: Some(filament),
            ..file
        },
        Task::Approve { part, variants } => NextFile {
            task: "approve",
            part: Some(part),
            variants,
            ..file
        },
        Task::Join { part, number } => NextFile {
            task: "join",
            part: Some(part),
            number: Some(*number),
            ..file
        },
        Task::Assemble { assembly } => NextFile {
            task: "assemble",
            assembly: Some(assembly),
            ..file
        },
        Task::Complete { assembly } => NextFile {
            task: "complete",
            assembly: Some(assembly),
            ..file
        },
    }
}
