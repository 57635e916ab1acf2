//! Plans that make no sense at all: the audit says so and never panics.

use beamyard::plan::audit::{audit, recount_cost};
use beamyard::plan::{Plan, SpoolEnd, Work};
use beamyard::scenario::{
    AssemblyIndex, FilamentIndex, JointIndex, MachineIndex, PartIndex, SettingsIndex,
};
use beamyard::units::{Grams, Millimetres, Minutes, Money};
use chrono::{DateTime, NaiveDate, Utc};
use proptest::prelude::*;
use proptest::sample::select;

use crate::tide_clock::{at, plan, shop};

/// Moments at and beyond every edge.
fn moment() -> impl Strategy<Value = DateTime<Utc>> {
    select(vec![
        DateTime::<Utc>::MIN_UTC,
        DateTime::<Utc>::MAX_UTC,
        DateTime::<Utc>::UNIX_EPOCH,
        at("11 08:00"),
        at("11 16:05"),
        at("12 09:00"),
        at("31 23:59"),
    ])
}

fn number() -> impl Strategy<Value = f64> {
    select(vec![
        0.0,
        -1.0,
        45.0,
        90.0,
        1e-300,
        -1e300,
        f64::MAX,
        f64::INFINITY,
        f64::NAN,
    ])
}

fn count() -> impl Strategy<Value = u32> {
    select(vec![0, 1, 2, 3, 1000, u32::MAX])
}

/// One field of a plan, chosen and set at random.
#[derive(Clone, Debug)]
struct Spoil {
    field: usize,
    at: usize,
    index: usize,
    count: u32,
    number: f64,
    moments: (DateTime<Utc>, DateTime<Utc>),
}

fn spoil() -> impl Strategy<Value = Spoil> {
    let index = select(vec![0_usize, 1, 2, 3, usize::MAX]);
    let moments = (moment(), moment());
    (0..FIELDS, 0..7_usize, index, count(), number(), moments).prop_map(
        |(field, at, index, count, number, moments)| Spoil {
            field,
            at,
            index,
            count,
            number,
            moments,
        },
    )
}

/// Kinds of field that [`apply`] can spoil.
const FIELDS: usize = 34;

fn apply(plan: &mut Plan, spoil: &Spoil) {
    let Spoil {
        field,
        at,
        index,
        count,
        number,
        moments: (one, other),
    } = *spoil;
    let work = vec![
        Work {
            from: one,
            to: other,
        };
        2
    ];
    let runs = plan.runs.len();
    let run = &mut plan.runs[at % runs];
    let gluing = &mut plan.gluings[at % 2];
    let dates = &mut plan.assemblies[at % 2];
    let order = &mut plan.orders[at % 2];
    let route = &mut plan.routes[at % 6];
    let end = |attended| SpoolEnd {
        at: one,
        attended,
        left: Grams::ZERO,
        next: Grams(number),
        next_name: (!attended).then(|| "red-1".into()),
        next_from: (!attended).then_some(MachineIndex(index)),
    };
    match field {
        0 => run.machine = MachineIndex(index),
        1 => run.filament = FilamentIndex(index),
        2 => run.settings = SettingsIndex(index),
        3 => run.swap_from = Some(Some(FilamentIndex(index))),
        4 => run.setup = Some(one),
        5 => run.setup = None,
        6 => run.start = one,
        7 => run.end = one,
        8 => run.minutes = Minutes(i64::MIN),
        9 => run.grams = Grams(number),
        10 => run.pieces.clear(),
        11 => run.spool.ends = vec![end(true)],
        12 => run.spool.ends = vec![end(false)],
        13 => run.id = String::new(),
        14..=21 => {
            for piece in &mut run.pieces {
                match field {
                    14 => piece.part = PartIndex(index),
                    15 => piece.number = count,
                    16 => piece.length = count,
                    17 => piece.of = count,
                    18 => piece.assembly = Some(AssemblyIndex(index)),
                    19 => piece.x = Millimetres(number),
                    20 => piece.turn = number,
                    _ => piece.size = [Millimetres(number); 3],
                }
            }
        }
        22 => gluing.work = work,
        23 => (gluing.printed, gluing.ready) = (one, other),
        24 => (gluing.part, gluing.joint) = (PartIndex(index), JointIndex(index)),
        25 => gluing.number = count,
        26 => dates.work = work,
        27 => (dates.start, dates.complete) = (one, other),
        28 => dates.assembly = AssemblyIndex(index),
        29 => plan.finish = one,
        30 => (order.spools, order.order_by) = (count, Some(NaiveDate::MAX)),
        31 => (route.pieces, route.quantity) = (count, count),
        32 => plan.bound = Money(number),
        _ => plan.spare_work[0].work = work,
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]
    #[test]
    fn no_plan_makes_the_audit_panic(spoils in prop::collection::vec(spoil(), 1..8)) {
        let (shop, mut plan) = (shop(), plan());
        for spoil in &spoils {
            apply(&mut plan, spoil);
        }
        recount_cost(&shop, &plan);
        for fault in audit(&shop, &plan) {
            prop_assert!(!fault.to_string().is_empty());
        }
    }
}

#[test]
fn an_empty_plan_lacks_everything() {
    let (shop, mut plan) = (shop(), plan());
    plan.runs.clear();
    plan.gluings.clear();
    plan.assemblies.clear();
    plan.spare_work.clear();
    plan.orders.clear();
    plan.routes.clear();
    assert!(!audit(&shop, &plan).is_empty());
}

#[test]
fn a_plan_for_the_end_of_time_is_refused() {
    let (shop, mut plan) = (shop(), plan());
    for run in &mut plan.runs {
        (run.setup, run.start) = (Some(DateTime::<Utc>::MIN_UTC), DateTime::<Utc>::MAX_UTC);
        run.end = DateTime::<Utc>::MAX_UTC;
    }
    assert!(!audit(&shop, &plan).is_empty());
}
