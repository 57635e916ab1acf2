//! How long planning the crane again takes after one event, and how much of the plan changes:
//! `cargo run --release --example replan`.
//!
//! Knows: the crane's scenario. Must not know: how plans are made.
//! Promises: a row for each run that is scrapped in its turn; its time, and the runs that are otherwise than accepted.

#[path = "../tests/common/moment/mod.rs"]
mod moment;

use std::error::Error;
use std::path::Path;
use std::time::Instant;

use beamyard::planning::{Options, again, plan};
use beamyard::progress::Progress;
use beamyard::scenario;

use moment::{accepted, later};

fn main() -> Result<(), Box<dyn Error>> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/quayside-crane.yaml");
    let shop = scenario::read(&path)
        .map_err(|e| format!("{e:?}"))?
        .scenario;
    let begun = Instant::now();
    let first = plan(&shop, &Options::default())
        .map_err(|e| format!("{e:?}"))?
        .plan;
    println!(
        "first: {} runs, {:.2} in {:.2} s",
        first.runs.len(),
        first.cost.total().0,
        begun.elapsed().as_secs_f64()
    );
    let mut runs: Vec<_> = first.runs.iter().collect();
    runs.sort_by_key(|run| run.end);
    for scrapped in [None].into_iter().chain(
        runs.iter()
            .step_by(runs.len().div_ceil(8).max(1))
            .map(|run| Some(*run)),
    ) {
        let now = scrapped.unwrap_or(runs[runs.len() / 3]).end;
        let lost = |id: &str| scrapped.is_none_or(|run| run.id != id);
        let mut then = later(&shop, &first, &Progress::none(&shop), now, lost);
        then.previous = Some(accepted(&first, now));
        let begun = Instant::now();
        let made = again(&shop, &then, &Options::default()).map_err(|e| format!("{e:?}"))?;
        let seconds = begun.elapsed().as_secs_f64();
        let since = made.plan.since.as_ref().ok_or("the rest")?;
        let others = first.runs.iter().filter(|run| run.start > now).count();
        let moved = since
            .changes
            .iter()
            .filter(|change| change.from.is_some())
            .count();
        println!(
            "{}: {seconds:.2} s, {} moves, {moved} of {others} other runs changed, {:.2} (kept: {:?})",
            scrapped.map_or("no news", |run| run.id.as_str()),
            made.moves,
            made.plan.cost.total().0,
            since.kept.map(|kept| kept.total().0),
        );
    }
    Ok(())
}
