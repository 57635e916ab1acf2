//! Runs and what lies on them, for other programs.
//!
//! Knows: the keys of runs. Must not know: how runs were dated.
//! Promises: a run that was started before has no pieces: they are in the plan that it was started from.

use serde::Serialize;

use super::decimals;
use crate::plan::{Piece, Plan, Run, Standing};
use crate::report::local::Local;
use crate::report::words;
use crate::scenario::{MachineIndex, Scenario};

#[derive(Serialize)]
pub(super) struct RunFile<'a> {
    id: &'a str,
    machine: &'a str,
    filament: &'a str,
    swap_from: Option<&'a str>,
    setup: Option<String>,
    /// Of a run that waits for its filament: when that comes.
    #[serde(skip_serializing_if = "Option::is_none")]
    filament_comes: Option<String>,
    /// Only where it is so.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    put_off: bool,
    /// Grams on the spool that goes on at the setup, if one does.
    spool: Option<f64>,
    /// Its name, where it is one that there is.
    spool_name: Option<&'a str>,
    /// The other machine that this spool is still on.
    #[serde(skip_serializing_if = "Option::is_none")]
    spool_from: Option<&'a str>,
    spool_ends: Vec<SpoolEndFile<'a>>,
    start: String,
    end: String,
    minutes: i64,
    grams: f64,
    pieces: Vec<PieceFile<'a>>,
}

/// A run that was started before the plan was made.
#[derive(Serialize)]
pub(super) struct PrintingFile<'a> {
    id: &'a str,
    machine: &'a str,
    /// `null`: one that the scenario has no more.
    filament: Option<&'a str>,
    start: String,
    end: String,
    /// Only where it stands then, as nobody is there.
    #[serde(skip_serializing_if = "Option::is_none")]
    stops: Option<String>,
}

#[derive(Serialize)]
struct PieceFile<'a> {
    part: &'a str,
    number: u32,
    length: u32,
    of: u32,
    assembly: Option<&'a str>,
    /// Of a trial copy of a part with variants.
    #[serde(skip_serializing_if = "Option::is_none")]
    variant: Option<VariantFile<'a>>,
    x: f64,
    y: f64,
    turn: f64,
    size: [f64; 3],
    /// Of a part with a mesh: the axis that stands upright, with a minus where it stands on its head.
    #[serde(skip_serializing_if = "Option::is_none")]
    upright: Option<&'a str>,
    /// Of a part with a mesh.
    #[serde(skip_serializing_if = "Option::is_none")]
    outline: Option<Vec<[f64; 2]>>,
}

#[derive(Serialize)]
struct SpoolEndFile<'a> {
    at: String,
    attended: bool,
    left: f64,
    next: f64,
    /// Its name, where it is one that there is.
    next_name: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    next_from: Option<&'a str>,
}

#[derive(Serialize)]
struct VariantFile<'a> {
    name: &'a str,
    offset: f64,
}

pub(super) fn printing<'a>(
    scenario: &'a Scenario,
    local: Local,
    run: &'a Standing,
) -> PrintingFile<'a> {
    PrintingFile {
        id: &run.id,
        machine: &scenario.machines[run.machine.0].id,
        filament: run
            .filament
            .map(|filament| scenario.filaments[filament.0].id.as_str()),
        start: local.rfc3339(run.start),
        end: local.rfc3339(run.end),
        stops: run.stops.map(|at| local.rfc3339(at)),
    }
}

pub(super) fn run<'a>(
    scenario: &'a Scenario,
    plan: &Plan,
    local: Local,
    run: &'a Run,
) -> RunFile<'a> {
    let machine = |machine: Option<MachineIndex>| {
        machine.map(|machine| scenario.machines[machine.0].id.as_str())
    };
    RunFile {
        id: &run.id,
        machine: &scenario.machines[run.machine.0].id,
        filament: &scenario.filaments[run.filament.0].id,
        swap_from: words::changed_from(scenario, run),
        setup: run.setup.map(|moment| local.rfc3339(moment)),
        filament_comes: run.waits.map(|moment| local.rfc3339(moment)),
        put_off: run.put_off,
        spool: run.spool.put_on.map(|grams| decimals(grams.0, 3)),
        spool_name: run.spool.name.as_deref(),
        spool_from: machine(run.spool.from),
        spool_ends: run
            .spool
            .ends
            .iter()
            .map(|end| SpoolEndFile {
                at: local.rfc3339(end.at),
                attended: end.attended,
                left: decimals(end.left.0, 3),
                next: decimals(end.next.0, 3),
                next_name: end.next_name.as_deref(),
                next_from: machine(end.next_from),
            })
            .collect(),
        start: local.rfc3339(run.start),
        end: local.rfc3339(run.end),
        minutes: run.minutes.value(),
        grams: decimals(run.grams.0, 3),
        pieces: run
            .pieces
            .iter()
            .map(|p| piece(scenario, plan, p))
            .collect(),
    }
}

fn piece<'a>(scenario: &'a Scenario, plan: &Plan, piece: &Piece) -> PieceFile<'a> {
    // A billionth of a millimetre takes rounding noise off without moving a piece into its neighbour's spacing.
    let mm = |value: f64| decimals(value, 9);
    PieceFile {
        part: &scenario.parts[piece.part.0].id,
        number: piece.number,
        length: piece.length,
        of: piece.of,
        assembly: piece
            .assembly
            .map(|assembly| scenario.assemblies[assembly.0].id.as_str()),
        variant: plan
            .variant(scenario, piece.part, piece.number)
            .map(|variant| VariantFile {
                name: &variant.name,
                offset: variant.offset.0,
            }),
        x: mm(piece.x.0),
        y: mm(piece.y.0),
        turn: mm(piece.turn),
        size: piece.size.map(|side| mm(side.0)),
        upright: scenario.parts[piece.part.0]
            .mesh()
            .map(|_| words::upright(piece.upright, piece.over)),
        outline: piece.outline.as_ref().map(|outline| {
            let corners = outline.corners().iter();
            corners.map(|corner| corner.map(mm)).collect()
        }),
    }
}
