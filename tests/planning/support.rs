//! What all of these tests plan with.

use beamyard::plan::Plan;
use beamyard::plan::audit::recount_cost;
use beamyard::planning::{NoPlan, Options, Planned, again, plan};
use beamyard::progress::Progress;
use beamyard::scenario::Scenario;
use beamyard::search::portfolio::Limit;
use proptest::test_runner::{Config, RngSeed};

/// Costs closer than this are equal: sums of a few hundred terms.
pub const SAME: f64 = 1e-6;

/// Plans with so many moves. A plan that comes out has passed its audit and costs what its runs and its work say.
pub fn planned(shop: &Scenario, seed: u64, moves: u64) -> Result<Planned, NoPlan> {
    let made = plan(
        shop,
        &Options {
            limit: Some(Limit::Moves(moves)),
            seed,
            ..Options::default()
        },
    );
    match &made {
        Ok(Planned { plan, .. }) => {
            let (said, recounted) = (plan.cost.total().0, recount_cost(shop, plan).total().0);
            assert!(
                (said - recounted).abs() < SAME,
                "{said} is said, {recounted} adds up"
            );
        }
        Err(NoPlan::Unsound(faults)) => panic!("a plan fails its audit: {faults:#?}"),
        Err(NoPlan::Lost) => panic!("a queue cannot be laid out again"),
        Err(NoPlan::NoRoute(_) | NoPlan::NoTime(_)) => {}
    }
    made
}

/// So many drawn cases, always the same ones. `PROPTEST_CASES` asks for another number, `PROPTEST_RNG_SEED` for others.
pub fn cases(usual: u32) -> Config {
    let asked = |name: &str| std::env::var(name).ok()?.parse::<u64>().ok();
    Config {
        cases: asked("PROPTEST_CASES").map_or(usual, |n| n as u32),
        rng_seed: RngSeed::Fixed(asked("PROPTEST_RNG_SEED").unwrap_or(1)),
        ..Config::default()
    }
}

/// A plan of what is left, after some thousand moves; it has passed its audit.
pub fn the_rest(shop: &Scenario, progress: &Progress) -> Plan {
    let options = Options {
        limit: Some(Limit::Moves(2_000)),
        ..Options::default()
    };
    match again(shop, progress, &options) {
        Ok(made) => made.plan,
        Err(none) => panic!("{none:?}"),
    }
}
