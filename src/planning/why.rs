//! How each part is made in a plan, and the reason in words.
//!
//! Knows: routes with their prices, finished runs. Must not know: the search.
//! Promises: every number in a reason is computed from the scenario, none is a phrase.

use std::collections::{BTreeMap, BTreeSet};

use crate::plan::{RouteUse, Run};
use crate::routes::{Form, PartRoutes, RouteKind, RunLimits, TooLong, Way};
use crate::scenario::{MachineIndex, PartIndex, Scenario};
use crate::units::{Minutes, Money};

use super::finish::Ground;

/// A price in hundredths, as it is shown: what is said of two prices is said of these, so that they add up on the page.
fn hundredths(price: Money) -> i64 {
    (price.0 * 100.0).round() as i64 // no price comes near what this does not hold
}

/// `6.00`.
fn shown(hundredths: i64) -> String {
    format!("{}.{:02}", hundredths / 100, hundredths % 100)
}

/// How all parts are made, by part; the ways that make more copies first.
pub fn routes(ground: &Ground, runs: &[Run]) -> Vec<RouteUse> {
    let limits = &ground.shop.run_limits();
    // Copies are counted, not pieces: of some only the missing lengths are printed.
    let mut copies: BTreeMap<(PartIndex, RouteKind, u32), BTreeSet<u32>> = BTreeMap::new();
    // For each part, kind and number of lengths: pieces by machine.
    let mut counts: BTreeMap<(PartIndex, RouteKind, u32), BTreeMap<MachineIndex, u32>> =
        BTreeMap::new();
    for run in runs {
        for piece in &run.pieces {
            let key = (piece.part, piece.route, piece.of);
            copies.entry(key).or_default().insert(piece.number);
            *counts
                .entry((piece.part, piece.route, piece.of))
                .or_default()
                .entry(run.machine)
                .or_default() += 1;
        }
    }
    let mut uses: Vec<RouteUse> = counts
        .into_iter()
        .filter_map(|((part, route, pieces), by_machine)| {
            let quantity = copies.get(&(part, route, pieces)).map_or(0, BTreeSet::len);
            // The first of those that make most.
            let machine = by_machine
                .iter()
                .max_by_key(|&(machine, n)| (n, std::cmp::Reverse(machine)))
                .map(|(&machine, _)| machine)?;
            let routes = &ground.routes[part.0];
            let form = routes.forms.iter().find(|f| f.lengths == pieces)?;
            let cheaper = cheaper_elsewhere(ground.scenario, routes, limits, form, machine);
            Some(RouteUse {
                part,
                quantity: quantity as u32,
                route,
                pieces,
                machine,
                joint: form.joint,
                long: is_long(ground.scenario, form, route, machine),
                dearer: cheaper.is_some(),
                why: cheaper
                    .unwrap_or_else(|| why(ground.scenario, routes, limits, form, route, machine)),
            })
        })
        .collect();
    uses.sort_by_key(|u| (u.part, std::cmp::Reverse(u.quantity), u.route));
    uses
}

/// Whether the form's pieces lie square on the bed of a machine.
fn square(form: &Form, machine: MachineIndex) -> bool {
    let here = form.ways.iter().filter(|way| way.machine == machine);
    here.into_iter().any(|way| way.straight || way.turned)
}

/// Whether a copy is made so because it is too long for a bed; see [`RouteUse::long`].
fn is_long(scenario: &Scenario, form: &Form, route: RouteKind, machine: MachineIndex) -> bool {
    let on_bed = || {
        form.ways
            .iter()
            .any(|way| !scenario.machines[way.machine.0].is_belt())
    };
    match route {
        RouteKind::Split => true,
        RouteKind::Belt => !on_bed(),
        RouteKind::Diagonal => !square(form, machine),
        RouteKind::Whole | RouteKind::Turned => false,
    }
}

fn why(
    scenario: &Scenario,
    routes: &PartRoutes,
    limits: &RunLimits,
    form: &Form,
    route: RouteKind,
    machine: MachineIndex,
) -> String {
    let part = &scenario.parts[routes.part.0];
    let longest = part.size.iter().map(|s| s.0).fold(0.0, f64::max);
    match route {
        RouteKind::Whole => "lies as drawn".to_owned(),
        RouteKind::Turned => {
            let straight = form
                .ways
                .iter()
                .any(|way| way.machine == machine && way.straight);
            if straight {
                "turned by 90° to share the plate".to_owned()
            } else {
                "fits only when turned by 90°".to_owned()
            }
        }
        RouteKind::Diagonal if square(form, machine) => "at an angle to share the plate".to_owned(),
        RouteKind::Diagonal => format!(
            "{longest:.0} mm do not lie along the sides of {}; at an angle they do",
            scenario.machines[machine.0].id
        ),
        RouteKind::Belt => against_beds(scenario, routes, limits, machine, longest),
        RouteKind::Split => {
            against_fewer_joints(scenario, routes, limits, form.lengths, machine, longest)
        }
    }
}

/// So many lengths on one machine, and what a copy costs so.
struct Offer<'a> {
    lengths: u32,
    machine: MachineIndex,
    price: Money,
    id: &'a str,
    belt: bool,
    /// No bench hours are long enough for it.
    too_long: Option<TooLong>,
}

impl Offer<'_> {
    /// `on belt in one piece`, `on big in 3 lengths`.
    fn way(&self) -> String {
        match self.lengths {
            1 => format!("on {} in one piece", self.id),
            lengths => format!("on {} in {lengths} lengths", self.id),
        }
    }
}

/// Every number of lengths on every machine that can make them.
fn offers<'a>(scenario: &'a Scenario, routes: &PartRoutes, limits: &RunLimits) -> Vec<Offer<'a>> {
    let mut offers = Vec::new();
    for form in &routes.forms {
        let machines: BTreeSet<MachineIndex> = form.ways.iter().map(|way| way.machine).collect();
        offers.extend(machines.into_iter().map(|machine| Offer {
            lengths: form.lengths,
            machine,
            price: copy_price(scenario, routes.part, form, machine),
            id: &scenario.machines[machine.0].id,
            belt: scenario.machines[machine.0].is_belt(),
            too_long: limits.too_long_on(routes, form, machine),
        }));
    }
    offers
}

/// The cheapest of some offers; one that bench hours do not hold only where there is no other.
fn cheapest<'a>(offers: &'a [Offer<'a>], wanted: impl Fn(&Offer) -> bool) -> Option<&'a Offer<'a>> {
    offers.iter().filter(|offer| wanted(offer)).min_by(|a, b| {
        let possible = a.too_long.is_some().cmp(&b.too_long.is_some());
        possible.then(a.price.0.total_cmp(&b.price.0))
    })
}

/// A copy on the belt beside the cheapest that beds could make.
fn against_beds(
    scenario: &Scenario,
    routes: &PartRoutes,
    limits: &RunLimits,
    machine: MachineIndex,
    longest: f64,
) -> String {
    let offers = offers(scenario, routes, limits);
    let this = cheapest(&offers, |offer| {
        offer.lengths == 1 && offer.machine == machine
    });
    let beds = cheapest(&offers, |offer| !offer.belt);
    match (this, beds) {
        (Some(this), Some(beds)) => compared(scenario, this, beds),
        _ if scenario.parts[routes.part.0].split.is_none() => {
            format!("{longest:.0} mm: no bed takes it, and it may not be split")
        }
        _ => format!("{longest:.0} mm: no bed takes it, nor the lengths that it may be split into"),
    }
}

/// Of a copy in one piece on a belt that a bed makes for less in one piece, or the other way round: the two beside each other.
fn cheaper_elsewhere(
    scenario: &Scenario,
    routes: &PartRoutes,
    limits: &RunLimits,
    form: &Form,
    machine: MachineIndex,
) -> Option<String> {
    let offers = offers(scenario, routes, limits);
    let whole = |offer: &&Offer| offer.lengths == 1 && form.lengths == 1;
    let this = (offers.iter().filter(whole)).find(|offer| offer.machine == machine)?;
    let other = cheapest(&offers, |offer| {
        whole(&offer) && offer.belt != this.belt && offer.too_long.is_none()
    })?;
    let dearer = hundredths(this.price) > hundredths(other.price);
    dearer.then(|| compared(scenario, this, other))
}

/// A copy in lengths beside the cheapest in one piece; where no machine makes it so, in another number of lengths.
fn against_fewer_joints(
    scenario: &Scenario,
    routes: &PartRoutes,
    limits: &RunLimits,
    lengths: u32,
    machine: MachineIndex,
    longest: f64,
) -> String {
    let offers = offers(scenario, routes, limits);
    let this = cheapest(&offers, |offer| {
        offer.lengths == lengths && offer.machine == machine
    });
    let rival = cheapest(&offers, |offer| offer.lengths == 1)
        .or_else(|| cheapest(&offers, |offer| offer.lengths != lengths));
    match (this, rival) {
        (Some(this), Some(rival)) => compared(scenario, this, rival),
        _ => format!("{longest:.0} mm: no machine takes it in one piece or in other lengths"),
    }
}

/// Two offers beside each other, and by how much the one taken is dearer, if it is.
fn compared(scenario: &Scenario, this: &Offer, other: &Offer) -> String {
    let currency = &scenario.currency;
    let (own, others) = (hundredths(this.price), hundredths(other.price));
    let line = format!(
        "{} {} {currency} a copy; {} {}",
        this.way(),
        shown(own),
        other.way(),
        shown(others)
    );
    if let Some(lacking) = &other.too_long {
        let hours = |minutes: Minutes| format!("{:.1} h", minutes.hours());
        let (takes, left) = (hours(lacking.takes), lacking.left_by_hours(hours));
        return format!(
            "{line} is not possible: its longest run takes {takes}, bench hours {left}"
        );
    }
    match own - others {
        dearer if dearer > 0 => {
            let dearer = shown(dearer);
            format!("{line}: dearer by {dearer}, but the search found no cheaper queue")
        }
        _ => line,
    }
}

/// What one copy costs in a form on a machine, as it best lies: printing, plastic, hardware, gluing and finishing.
/// Setups and warm-up, which pieces share, are left out.
fn copy_price(scenario: &Scenario, part: PartIndex, form: &Form, machine: MachineIndex) -> Money {
    let p = &scenario.parts[part.0];
    let price = scenario.filaments[p.filament.0].price_kg;
    let price_of = |way: &Way| {
        let machine = &scenario.machines[way.machine.0];
        let minute =
            machine.hourly.0 / 60.0 + machine.watts.0 / 60_000.0 * scenario.bench.energy_kwh.0;
        let seconds = way.own_time.0 + machine.layer_time.0 * f64::from(way.layers);
        (way.grams * price).0 + seconds / 60.0 * minute
    };
    let pieces: f64 = form
        .kinds
        .iter()
        .enumerate()
        .map(|(at, kind)| {
            let prices = form.ways_of(at, machine).map(price_of);
            kind.positions.len() as f64 * prices.fold(f64::INFINITY, f64::min)
        })
        .sum();
    let lengths = f64::from(form.lengths);
    let bench_minutes = form.glue.0 as f64 + lengths * p.finishing.0 / 60.0;
    Money(pieces + form.hardware.0 + bench_minutes * scenario.bench.bench_hour.0 / 60.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::routes::routes;
    use crate::scenario::read_text;

    /// A rod of 600 mm, two hours of printing anywhere, for a bed of 290 mm and a belt at these hourly prices; all else is
    /// free but joints, 6 min at 10 an hour: 1.00.
    fn rod(bed: f64, belt: f64, split: &str) -> (Scenario, PartRoutes) {
        let text = format!(
            r"
build: {{start: 2027-01-11 07:00}}
bench: {{bench_hour: 10, energy_kwh: 0}}
machines:
  - {{id: bed, kind: bed, bed: [300, 300], height: 100, hourly: {bed}, layer_time: 0 s}}
  - {{id: belt, kind: belt, section: [200, 200], longest: 900, hourly: {belt}, layer_time: 0 s}}
filaments: [{{id: grey, material: PLA, price_kg: 0}}]
joints: {{rod: {{shortest: 100, bench: 6 min}}}}
parts: [{{id: rod, size: [600, 20, 20], filament: grey, lie: [y, z], split: {split}, grams: 60, minutes: {{bed: 120, belt: 120}}}}]
"
        );
        let scenario = match read_text("rod.yaml", &text, std::path::Path::new(".")) {
            Ok(reading) => reading.scenario,
            Err(complaints) => panic!("{complaints}"),
        };
        let routes = routes(&scenario).remove(0);
        (scenario, routes)
    }

    fn form(routes: &PartRoutes, lengths: u32) -> &Form {
        let found = routes.forms.iter().find(|form| form.lengths == lengths);
        found.expect("the rod has it")
    }

    /// Any run may be made on bed and belt.
    fn always() -> RunLimits {
        RunLimits::new(vec![Some(Minutes(i64::MAX)); 2])
    }

    #[test]
    fn a_cheaper_way_that_no_bench_hours_hold_is_not_said_to_have_been_open() {
        // Both hours of the belt, and its warm-up, are more than the hour and a half that it may be watched; a third of them is not.
        let (scenario, routes) = rod(4.0, 3.0, "{joint: rod, into: 3}");
        let limits = RunLimits::new(vec![None, Some(Minutes(90))]);
        let form = form(&routes, 3);
        let why = why(&scenario, &routes, &limits, form, RouteKind::Split, BELT);
        assert_eq!(
            why,
            "on belt in 3 lengths 8.00 EUR a copy; on belt in one piece 6.00 is not possible: its longest run takes 2.1 h, \
             bench hours leave 1.5 h after the setup"
        );
        // Hours that the setup fills alone are told in the words of all reports.
        let limits = RunLimits::new(vec![None, None]);
        let told = compared(
            &scenario,
            cheapest(&offers(&scenario, &routes, &always()), |offer| {
                offer.lengths == 3
            })
            .expect("it is split"),
            cheapest(&offers(&scenario, &routes, &limits), |offer| {
                offer.lengths == 1
            })
            .expect("on the belt"),
        );
        assert!(
            told.ends_with("takes 2.1 h, bench hours do not even hold the setup"),
            "{told}"
        );
    }

    const BED: MachineIndex = MachineIndex(0);
    const BELT: MachineIndex = MachineIndex(1);

    #[test]
    fn a_part_on_the_belt_is_compared_with_the_cheapest_that_beds_could_make() {
        // Two hours at 3 on the belt are 6.00; in three lengths, which the belt makes too, 8.00 with two joints. On the bed
        // they are 2 h at 4 and two joints: 10.00.
        let (scenario, routes) = rod(4.0, 3.0, "{joint: rod, into: 3}");
        let why = why(
            &scenario,
            &routes,
            &always(),
            form(&routes, 1),
            RouteKind::Belt,
            BELT,
        );
        assert_eq!(
            why,
            "on belt in one piece 6.00 EUR a copy; on bed in 3 lengths 10.00"
        );
    }

    #[test]
    fn a_dearer_way_says_by_how_much_and_claims_no_reason() {
        // 10.00 as above; on the belt in one piece 2 h at 3.
        let (scenario, routes) = rod(4.0, 3.0, "{joint: rod, into: 3}");
        let why = why(
            &scenario,
            &routes,
            &always(),
            form(&routes, 3),
            RouteKind::Split,
            BED,
        );
        assert_eq!(
            why,
            "on bed in 3 lengths 10.00 EUR a copy; on belt in one piece 6.00: dearer by 4.00, but the search found no \
             cheaper queue"
        );
    }

    #[test]
    fn prices_and_their_difference_add_up_as_they_are_shown() {
        // 10.0051 less 6.0049 is 4.0002; shown are 10.01 and 6.00, and so 4.01 between them.
        let (scenario, _) = rod(4.0, 3.0, "never");
        let offer = |price: f64, id, belt| Offer {
            lengths: 1,
            machine: BED,
            price: Money(price),
            id,
            belt,
            too_long: None,
        };
        let line = |this: f64, other: f64| {
            compared(
                &scenario,
                &offer(this, "bed", false),
                &offer(other, "belt", true),
            )
        };
        assert!(line(10.0051, 6.0049).starts_with(
            "on bed in one piece 10.01 EUR a copy; on belt in one piece 6.00: dearer by 4.01,"
        ));
        // 0.002 apart, but shown a hundredth apart; and 0.009 apart, but shown alike.
        assert!(
            line(2.006, 2.004)
                .contains("2.01 EUR a copy; on belt in one piece 2.00: dearer by 0.01,")
        );
        assert!(line(2.004, 1.996).ends_with("on belt in one piece 2.00"));
    }

    #[test]
    fn a_part_in_one_piece_on_the_dearer_kind_of_machine_is_told_apart() {
        // 280 mm lie on the bed: two hours at 2 are 4.00, on the belt at 3 they are 6.00.
        let told = |bed, belt, machine| {
            let (mut scenario, _) = rod(bed, belt, "never");
            scenario.parts[0].size[0] = crate::units::Millimetres(280.0);
            let routes = routes(&scenario).remove(0);
            cheaper_elsewhere(&scenario, &routes, &always(), form(&routes, 1), machine)
        };
        let line = "on belt in one piece 6.00 EUR a copy; on bed in one piece 4.00: dearer by 2.00, but the search found no \
                    cheaper queue";
        assert_eq!(told(2.0, 3.0, BELT).as_deref(), Some(line));
        assert_eq!(told(2.0, 3.0, BED), None);
        assert!(told(3.0, 2.0, BED).is_some());
        assert_eq!(told(2.0, 2.0, BELT), None);
    }

    #[test]
    fn a_part_on_the_belt_that_no_bed_takes_says_so() {
        let (scenario, routes) = rod(4.0, 3.0, "never");
        let form = form(&routes, 1);
        assert!(is_long(&scenario, form, RouteKind::Belt, BELT));
        let why = why(&scenario, &routes, &always(), form, RouteKind::Belt, BELT);
        assert_eq!(why, "600 mm: no bed takes it, and it may not be split");
    }
}
