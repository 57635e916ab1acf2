//! What there is: spools, machines, parts, assemblies, what is to be ordered and joined.

use super::*;

fn tally(log: &Log, moment: &str) -> Tally {
    let since = super::super::bought(log, Some(at(moment)));
    super::super::status(&shop(), log.state(), &since, at(moment)).tally
}

fn part(tally: &Tally, id: &str) -> PartTally {
    let found = tally.parts.iter().find(|part| part.part == id);
    found.expect("every part is there").clone()
}

#[test]
fn what_is_on_spools_flows_while_it_prints() {
    let mut bench = Bench::planned();
    bench.note(opened("red-1", "tall"), "11 07:50");
    bench.start("tall-001", "11 08:00");
    // After an hour and a half of six, a quarter of 240 g is gone from 300 g.
    let there = tally(&bench.log, "11 09:30");
    let spools: Vec<(&str, f64, Option<&str>)> = (there.spools.iter())
        .map(|spool| (spool.spool.as_str(), spool.grams, spool.machine.as_deref()))
        .collect();
    assert_eq!(
        spools,
        [
            ("grey-1", 500.0, None),
            ("red-1", 240.0, Some("tall")),
            ("red-2", 1000.0, None)
        ]
    );
    let tall = MachineTally {
        machine: "tall".to_owned(),
        loaded: Some("red".to_owned()),
        spool: Some("red-1".to_owned()),
        runs: 0,
        failed: 0.0,
        share: Some(crate::scenario::failing(&shop().machines[0], Default::default()).mean()),
    };
    let wide = MachineTally {
        machine: "wide".to_owned(),
        loaded: None,
        spool: None,
        ..tall.clone()
    };
    assert_eq!(there.machines, [tall, wide]);
    // Asking changes nothing.
    assert_eq!(bench.log.state().spools["red-1"].grams, 300.0);
}

#[test]
fn parts_are_counted_by_copies_and_pieces() {
    let mut bench = Bench::planned();
    bench.start("tall-001", "11 08:00");
    let second = PieceId {
        part: "chord".to_owned(),
        number: 1,
        length: 2,
        of: 2,
    };
    bench.note(finished("tall-001", &[second]), "11 14:00");
    // One length of the only chord is there, the other was lost.
    let chord = part(&tally(&bench.log, "11 15:00"), "chord");
    let counts = |part: &PartTally| {
        (
            part.needed,
            part.printed,
            part.pieces,
            part.joined,
            part.lost,
        )
    };
    assert_eq!(counts(&chord), (1, 0, 1, 0, 1));
    assert_eq!(chord.trial, None);

    let bench = Bench::all_printed();
    let there = tally(&bench.log, "13 08:00");
    assert_eq!(counts(&part(&there, "chord")), (1, 1, 2, 1, 0));
    assert_eq!(counts(&part(&there, "pin")), (3, 3, 3, 0, 0));
    let trial = part(&there, "cap").trial.expect("it has a trial copy");
    assert!(trial.approved.is_some());
    assert_eq!((trial.variant, trial.rejected), (None, 0));
}

#[test]
fn assemblies_are_told_with_a_date_or_without() {
    let mut bench = Bench::all_printed();
    bench.note(assembly("mast", false), "13 08:00");
    let stands = |bench: &Bench, moment: &str| -> Vec<(String, Stand)> {
        let all = tally(&bench.log, moment).assemblies.into_iter();
        all.map(|one| (one.assembly, one.stand)).collect()
    };
    let both = |mast, boom| [("mast".to_owned(), mast), ("boom".to_owned(), boom)];
    assert_eq!(stands(&bench, "13 08:30"), both(Stand::AtWork, Stand::Open));
    bench.note(assembly("mast", true), "13 09:00");
    assert_eq!(
        stands(&bench, "13 09:30"),
        both(Stand::Complete, Stand::Open)
    );
    let there = tally(&bench.log, "13 09:30").assemblies;
    assert_eq!(there[0].complete, Some(at("13 09:00")));
    assert_eq!((there[0].due, there[1].due), (None, Some(at("20 18:00"))));
    // The boom is expected as planned.
    assert_eq!(there[1].expected, Some(at("13 10:00")));
}

#[test]
fn orders_and_joints_of_the_plan_are_open_until_they_are_noted() {
    let mut bench = Bench::empty();
    let plan = plan();
    let open = plan.strip_suffix('}').expect("an object");
    let text = format!(
        r#"{open},"orders":[{{"filament":"grey","grams":120,"on_hand":0,"spools":0,"order_by":null}},
            {{"filament":"red","grams":2900,"on_hand":1300,"spools":2,"order_by":"2027-01-13"}}],
            "gluings":[{{"part":"chord","number":1,"assembly":"mast","joint":"dowel","printed":"2027-01-11T14:00:00Z",
            "work":[{{"from":"2027-01-11T17:00:00Z","to":"2027-01-11T17:05:00Z"}}],"ready":"2027-01-11T18:05:00Z"}}]}}"#
    );
    bench.note(
        Event::PlanAccepted {
            plan: text,
            basis: None,
        },
        "11 07:00",
    );
    let open = |bench: &Bench, moment: &str| tally(&bench.log, moment);
    let order = |spools| OrderTally {
        filament: "red".to_owned(),
        spools,
        order_by: Some("2027-01-13".parse().expect("a date")),
    };
    assert_eq!(open(&bench, "11 07:30").orders, [order(2)]);
    let gluing = GluingTally {
        part: "chord".to_owned(),
        number: 1,
        planned: Some(at("11 17:00")),
    };
    assert_eq!(open(&bench, "11 07:30").gluings, [gluing]);

    let coming = |spool: &str| Event::SpoolBought {
        spool: spool.to_owned(),
        filament: "red".to_owned(),
        grams: 1000.0,
        arrives: Some(at("15 10:00")),
    };
    bench.note(coming("red-3"), "11 07:40");
    assert_eq!(open(&bench, "11 07:50").orders, [order(1)]);
    // As it stood before that, two were open.
    assert_eq!(open(&bench, "11 07:35").orders, [order(2)]);
    bench.note(coming("red-4"), "11 07:55");
    let then = open(&bench, "11 08:00");
    assert_eq!(then.orders, []);
    let comes: Vec<Option<DateTime<Utc>>> = then.spools.iter().map(|spool| spool.arrives).collect();
    let coming = Some(at("15 10:00"));
    assert_eq!(comes, [None, None, None, coming, coming]);

    bench.start("tall-001", "11 08:00");
    bench.finish("tall-001", "11 14:00");
    assert_eq!(open(&bench, "11 15:00").gluings.len(), 1);
    let joined = Event::Joined {
        part: "chord".to_owned(),
        number: 1,
    };
    bench.note(joined, "11 17:10");
    assert_eq!(open(&bench, "11 17:30").gluings, []);
}
