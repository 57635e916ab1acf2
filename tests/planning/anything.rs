//! Whatever has happened since a plan was accepted, there is a plan of the rest: no deed ends in none.

use beamyard::planning::{NoPlan, Options, again};
use beamyard::progress::{Progress, Spool};
use beamyard::scenario::{Hands, MachineIndex, PartIndex, Scenario};
use beamyard::search::portfolio::Limit;
use beamyard::units::{Grams, Minutes};
use chrono::TimeDelta;
use proptest::prelude::*;
use proptest::sample::select;

use crate::moment::{accepted, later};
use crate::shops::small_shops;
use crate::support::{cases, planned};

/// A spool: which filament, grams, minutes until it arrives, the machine that it is on.
type AnySpool = (usize, f64, Option<i64>, Option<usize>);

/// What happens between two plannings.
#[derive(Clone, Debug)]
struct News {
    /// One run in so many is scrapped, drawn by its name with this.
    fate: u64,
    failing: u64,
    /// All spools that there are, if they are others than was thought.
    spools: Option<Vec<AnySpool>>,
    /// A machine, and for how many minutes it is down.
    down: Option<(usize, i64)>,
    /// A part that is wanted no longer, or one copy less.
    cut: Option<(usize, bool)>,
    /// Whether trials that are printed are rejected.
    rejected: bool,
    /// A part that turns out to weigh so many times what it should.
    heavier: Option<(usize, f64)>,
    /// Something is known by which another plan may be cheaper.
    news: bool,
    /// Nothing that was to begin in the last so many minutes was begun.
    idle: i64,
}

fn news() -> impl Strategy<Value = News> {
    let grams = prop_oneof![Just(0.0), Just(5.0), 0.0..400.0f64, 0.0..1500.0f64];
    let spool = (
        0..3usize,
        grams,
        prop::option::weighted(0.3, 0..6000i64),
        prop::option::weighted(0.4, 0..3usize),
    );
    (
        (any::<u64>(), select(vec![2u64, 8, 1000])),
        prop::option::weighted(0.8, prop::collection::vec(spool, 0..7)),
        prop::option::weighted(0.3, (0..3usize, 1..4000i64)),
        prop::option::weighted(0.25, (0..8usize, any::<bool>())),
        any::<bool>(),
        prop::option::weighted(0.25, (0..8usize, 0.5..3.0f64)),
        any::<bool>(),
        prop_oneof![3 => Just(0i64), 1 => 1..600i64],
    )
        .prop_map(
            |((fate, failing), spools, down, cut, rejected, heavier, news, idle)| News {
                fate,
                failing,
                spools,
                down,
                cut,
                rejected,
                heavier,
                news,
                idle,
            },
        )
}

impl News {
    /// What has been done by then, and what the scenario says then.
    fn happen(&self, shop: &mut Scenario, then: &mut Progress) {
        then.orders_from = Some(then.now);
        if let Some(previous) = &mut then.previous {
            previous.news = self.news;
        }
        if self.rejected {
            for part in 0..shop.parts.len() {
                let trial = shop.parts[part].trial;
                if trial == 0 {
                    continue;
                }
                let before = then.made.len();
                then.made
                    .retain(|made| made.piece.part != PartIndex(part) || made.piece.number > trial);
                if then.made.len() < before {
                    then.trials[part].approved = None;
                    then.trials[part].rejected += 1;
                }
            }
        }
        if let Some((machine, minutes)) = self.down {
            let machine = machine % shop.machines.len();
            then.machines[machine].down_until = Some(then.now + TimeDelta::minutes(minutes));
        }
        if let Some(spools) = &self.spools {
            for list in &mut then.spools {
                list.clear();
            }
            for (n, &(filament, grams, arrives, on)) in spools.iter().enumerate() {
                let on = on.map(|on| MachineIndex(on % shop.machines.len()));
                let on = on.filter(|on| then.machines[on.0].loaded.is_some());
                let on = on.filter(|on| {
                    then.spools
                        .iter()
                        .flatten()
                        .all(|spool: &Spool| spool.on != Some(*on))
                });
                let filament = match on {
                    Some(on) => then.machines[on.0].loaded.map_or(0, |loaded| loaded.0),
                    None => filament % shop.filaments.len(),
                };
                let arrives = arrives.filter(|_| on.is_none());
                then.spools[filament].push(Spool {
                    id: format!("spool-{n}"),
                    grams: Grams(grams),
                    on,
                    arrives: arrives.map(|minutes| then.now + TimeDelta::minutes(minutes)),
                });
            }
        }
        if let Some((part, whole)) = self.cut {
            let part = part % shop.parts.len();
            let takes: u32 = shop
                .assemblies
                .iter()
                .flat_map(|a| &a.parts)
                .filter(|p| p.0.0 == part)
                .map(|p| p.1)
                .sum();
            if whole {
                shop.parts[part].quantity = 0;
                shop.parts[part].spares = 0;
                shop.parts[part].trial = 0;
                for assembly in &mut shop.assemblies {
                    assembly.parts.retain(|(p, _)| p.0 != part);
                }
            } else if shop.parts[part].quantity > takes.max(1) {
                shop.parts[part].quantity -= 1;
                shop.parts[part].trial = shop.parts[part].trial.min(shop.parts[part].quantity);
            }
        }
        if let Some((part, times)) = self.heavier {
            let part = part % shop.parts.len();
            let part = &mut shop.parts[part];
            part.grams = part.grams.map(|grams| Grams(grams.0 * times));
            for minutes in part.minutes.iter_mut().flatten() {
                *minutes *= times;
            }
            part.finishing = beamyard::units::Seconds(part.finishing.0 * times);
        }
    }
}

proptest! {
    #![proptest_config(cases(200))]

    #[test]
    fn whatever_has_happened_there_is_a_plan_of_the_rest(
        shop in small_shops(),
        share in 0.0..0.9f64,
        happened in prop::collection::vec(news(), 1..3),
        firm in prop_oneof![2 => Just(None), 1 => (0..6000i64).prop_map(Some)],
        lead in 0..6000i64,
        hands in prop::option::weighted(0.3, 1..3u32),
    ) {
        let mut shop = shop;
        shop.build.firm = firm.map(Minutes);
        for filament in &mut shop.filaments {
            filament.lead = Minutes(lead);
        }
        if let Some(hands) = hands {
            shop.bench.hands = Hands::Count(hands);
        }
        let Ok(first) = planned(&shop, 1, 300) else { return Ok(()) };
        let mut plan = first.plan;
        let mut before = Progress::none(&shop);
        for news in &happened {
            let from = before.now;
            let whole = (plan.finish.max(from) - from).num_minutes() as f64;
            let now = from + TimeDelta::minutes((whole * share) as i64);
            let good = |id: &str| {
                let drawn = id.bytes().fold(news.fate, |sum, byte| {
                    (sum ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
                });
                !drawn.is_multiple_of(news.failing)
            };
            let seen = (now - TimeDelta::minutes(news.idle)).max(from);
            let mut then = later(&shop, &plan, &before, seen, good);
            then.now = now;
            then.previous = Some(accepted(&plan, seen));
            news.happen(&mut shop, &mut then);
            let options = Options { limit: Some(Limit::Moves(200)), ..Options::default() };
            match again(&shop, &then, &options) {
                Ok(made) => plan = made.plan,
                Err(NoPlan::NoTime(_) | NoPlan::NoRoute(_)) => break,
                Err(none) => prop_assert!(false, "{none:?}"),
            }
            before = then;
        }
    }
}
