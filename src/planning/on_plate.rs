//! What is on a run that prints when the rest is planned, as a plan shows its own runs.
//!
//! Knows: where its pieces were noted to lie, the scenario's routes, what its pieces are used for now. Must not know: the search.
//! Promises: as many pieces as were noted, in the same order, each in its place.

use chrono::{DateTime, Utc};

use crate::plan::{Given, Piece};
use crate::progress::{Placed, Running};
use crate::routes::{PartRoutes, Way, kind_of};
use crate::scenario::{MachineIndex, Scenario};

/// By how much a size may differ that was written with nine places, mm.
const NEAR: f64 = 1e-6;

/// The pieces of a run that ends then; `given` is all that exists or prints, with what it is for.
pub(super) fn pieces(
    scenario: &Scenario,
    routes: &[PartRoutes],
    run: &Running,
    end: DateTime<Utc>,
    given: &[Given],
) -> Vec<Piece> {
    let on_belt = scenario.machines[run.machine.0].is_belt();
    let pieces = run.pieces.iter().map(|placed| {
        let name = placed.piece;
        let known = given.iter().find(|one| {
            let key = (one.part, one.number, one.length, one.of);
            // One that is there already, of the same name, serves instead of it.
            key == (name.part, name.number, name.length, name.of) && one.printed == end
        });
        Piece {
            part: name.part,
            number: name.number,
            length: name.length,
            of: name.of,
            assembly: known.and_then(|one| one.assembly),
            route: kind_of(name.of, on_belt, placed.turn),
            x: placed.at[0],
            y: placed.at[1],
            turn: placed.turn,
            size: placed.size,
            upright: placed.upright,
            over: placed.over,
            outline: way(routes, run.machine, placed).and_then(|way| way.outline.clone()),
        }
    });
    pieces.collect()
}

/// The way in which a piece lies, if it is still made so.
fn way<'a>(routes: &'a [PartRoutes], machine: MachineIndex, placed: &Placed) -> Option<&'a Way> {
    let forms = routes.get(placed.piece.part.0)?.forms.iter();
    let mut ways = forms
        .filter(|form| form.lengths == placed.piece.of)
        .flat_map(|form| &form.ways);
    ways.find(|way| {
        let sizes = way.size.iter().zip(&placed.size);
        way.machine == machine
            && (way.upright, way.over) == (placed.upright, placed.over)
            && sizes.into_iter().all(|(a, b)| (a.0 - b.0).abs() <= NEAR)
    })
}
