//! What is told of a scenario that is not what it was when its plan was accepted.

use super::*;
use crate::progress::{Gone, Progress};
use crate::scenario::AssemblyIndex;

/// The plan accepted as one of a scenario.
fn accepted(scenario: &Scenario) -> Bench {
    let mut bench = Bench::empty();
    follow(&mut bench, scenario, "11 07:00");
    bench
}

fn follow(bench: &mut Bench, scenario: &Scenario, moment: &str) {
    let event = Event::PlanAccepted {
        plan: plan(),
        basis: Some(basis(scenario)),
    };
    bench.note(event, moment);
}

/// What the log says under a scenario.
fn under(bench: &Bench, scenario: &Scenario) -> (Progress, Vec<String>) {
    let log = Log::read(&bench.path(), scenario)
        .expect("a log")
        .expect("it");
    let (state, differences) = progress(scenario, &log, at("13 00:00"));
    (state, differences.iter().map(ToString::to_string).collect())
}

fn told(bench: &Bench, changes: &[(&str, &str)]) -> Vec<String> {
    under(bench, &shop_with(changes)).1
}

#[test]
fn all_that_is_otherwise_is_told_each_by_its_name() {
    let bench = accepted(&shop());
    assert_eq!(told(&bench, &[]), [""; 0]);
    assert_eq!(
        told(
            &bench,
            &[
                ("pin, quantity: 3", "pin, quantity: 4"),
                ("size: [40, 40, 20]", "size: [40, 40, 22]"),
                (
                    "id: chord, quantity: 1",
                    "id: chord, finishing: 2 min, quantity: 1"
                ),
                ("\"07:00-22:00\"", "\"07:00-21:00\""),
                ("2027-01-20 18:00", "2027-01-21 18:00"),
                ("purge: 10", "purge: 12"),
                (
                    "filaments:\n",
                    "  - {id: two, kind: bed, bed: [300, 300], height: 300, materials: [PLA]}\nfilaments:\n"
                ),
            ]
        ),
        [
            "part pin: 4 copies are wanted, 3 were planned",
            "part cap is of another size than when the plan was accepted; what is printed of it counts",
            "assembly boom is due Thu 21 Jan 18:00, and was Wed 20 Jan 18:00",
            "machine two is new",
            "part chord is otherwise than when the plan was accepted",
            "machine tall is otherwise than when the plan was accepted",
            "the bench (hours, hands or prices) is otherwise than when the plan was accepted",
        ]
    );
    assert_eq!(
        told(
            &bench,
            &[
                ("layer: 0.3", "layer: 0.2"),
                ("cure: 1 h, grams: 2", "cure: 2 h, grams: 2")
            ]
        ),
        [
            "settings light are otherwise than when the plan was accepted",
            "joint dowel is otherwise than when the plan was accepted",
        ]
    );
    assert_eq!(
        told(
            &bench,
            &[(
                "start: 2027-01-11 07:00",
                "start: 2027-01-11 07:00, churn: 3"
            )]
        ),
        ["the build (start, prices or rules) is otherwise than when the plan was accepted"]
    );
}

#[test]
fn what_is_called_otherwise_is_no_difference_and_a_new_thing_makes_no_other_one_differ() {
    let bench = accepted(&shop());
    // A part, an assembly and a filament written before all others: none of the others differs.
    assert_eq!(
        told(
            &bench,
            &[
                (
                    "parts:\n",
                    "parts:\n  - {id: base, size: [20, 20, 20], filament: blue, settings: light}\n"
                ),
                (
                    "assemblies:\n",
                    "assemblies:\n  - {id: foot, parts: {base: 1}}\n"
                ),
                (
                    "filaments:\n",
                    "filaments:\n  - {id: blue, material: PLA}\n"
                ),
            ]
        ),
        [
            "part base is new: 1 to print",
            "filament blue is new",
            "assembly foot is new"
        ]
    );
    assert_eq!(
        told(
            &bench,
            &[("name: Footbridge", "name: Other"), ("#b0302a", "#c0302a")]
        ),
        [""; 0]
    );
}

#[test]
fn of_an_old_log_that_has_no_digest_of_each_thing_it_is_said_that_something_is_otherwise() {
    let mut bench = Bench::empty();
    let event = Event::PlanAccepted {
        plan: plan(),
        basis: Some(basis(&shop()).whole.into()),
    };
    bench.note(event, "11 07:00");
    assert_eq!(told(&bench, &[]), [""; 0]);
    assert_eq!(
        told(&bench, &[("purge: 10", "purge: 12")]),
        ["hours, machines, prices or parts are otherwise than when the plan was accepted"]
    );
}

#[test]
fn a_quantity_of_a_part_whose_spares_are_counted_is_told_without_them() {
    let auto = [("pin, quantity: 3", "pin, quantity: 3, spares: auto")];
    let bench = accepted(&shop_with(&auto));
    assert_eq!(told(&bench, &auto), [""; 0]);
    assert_eq!(
        told(
            &bench,
            &[
                ("pin, quantity: 3", "pin, quantity: 2, spares: auto"),
                ("pin: 2", "pin: 1")
            ]
        ),
        [
            "part pin: 2 copies are wanted, 3 were planned",
            "assembly boom is otherwise than when the plan was accepted"
        ]
    );
}

#[test]
fn what_was_accepted_is_a_difference_no_more() {
    // Pins are cut to one after a run of three was scrapped; the plan that is accepted then still has them on a run, as few as it may.
    let cut: [(&str, &str); 2] = [
        ("pin, quantity: 3", "pin, quantity: 2"),
        ("pin: 2", "pin: 1"),
    ];
    let mut bench = accepted(&shop());
    bench.start("tall-001", "11 08:00");
    bench.finish("tall-001", "11 14:00");
    bench.start("tall-002", "12 08:00");
    bench.note(scrapped("tall-002", None), "12 09:00");
    assert!(told(&bench, &cut)[0].starts_with("part pin: 2 copies are wanted, 3"));
    follow(&mut bench, &shop_with(&cut), "12 10:00");
    assert_eq!(told(&bench, &cut), [""; 0]);
    // Nor after something else is changed.
    assert_eq!(
        told(&bench, &[cut[0], cut[1], ("purge: 10", "purge: 12")]),
        ["machine tall is otherwise than when the plan was accepted"]
    );
    // Also in a log without digests: what was lost and is on no run that is planned is wanted no more.
    let mut old = Bench::planned();
    old.start("wide-001", "11 08:00");
    old.note(scrapped("wide-001", None), "11 09:00");
    let without = plan().replace("wide-001", "wide-003");
    let piece = piece("cap", 1, 1, 1, "boom");
    assert!(without.contains(&piece));
    let without = without.replace(&piece, "");
    old.note(
        Event::PlanAccepted {
            plan: without,
            basis: None,
        },
        "11 10:00",
    );
    let one = [
        ("cap, quantity: 2", "cap, quantity: 1"),
        ("cap: 2", "cap: 1"),
    ];
    assert_eq!(told(&old, &one), [""; 0]);
}

#[test]
fn a_run_that_prints_in_another_filament_than_is_planned_is_no_difference_once_that_is_accepted() {
    let mut bench = Bench::planned();
    bench.start("wide-001", "11 08:00");
    let red = [(
        "size: [40, 40, 20], filament: grey",
        "size: [40, 40, 20], filament: red",
    )];
    let said = "part cap is to be red, and was planned in grey; what is printed counts";
    assert_eq!(told(&bench, &red), [said]);
    bench.note(
        Event::PlanAccepted {
            plan: plan().replace("\"filament\":\"grey\"", "\"filament\":\"red\""),
            basis: None,
        },
        "11 09:00",
    );
    assert_eq!(told(&bench, &red), [""; 0]);
}

/// All that is grey is silver.
const SILVER: [(&str, &str); 2] = [
    ("id: grey", "id: silver"),
    ("filament: grey", "filament: silver"),
];

#[test]
fn a_run_whose_filament_is_gone_keeps_its_machine_and_its_pieces_and_is_told() {
    let mut bench = accepted(&shop());
    bench.start("wide-001", "11 08:00");
    let (state, said) = under(&bench, &shop_with(&SILVER));
    let [running] = &state.running[..] else {
        panic!("one run prints: {:?}", state.running)
    };
    assert_eq!((running.id.as_str(), running.filament), ("wide-001", None));
    assert_eq!(running.pieces.len(), 1);
    assert_eq!(running.pieces[0].assembly, Some(AssemblyIndex(1)));
    assert!(
        said.contains(
            &"filament grey is gone from the scenario, and wide-001 prints with it".to_owned()
        ),
        "{said:?}"
    );
    // With the plan of that scenario accepted it is told for as long as it prints.
    follow(&mut bench, &shop_with(&SILVER), "11 09:00");
    assert_eq!(
        under(&bench, &shop_with(&SILVER)).1,
        ["filament grey is gone from the scenario, and wide-001 prints with it"]
    );
}

#[test]
fn runs_of_what_is_gone_are_handed_on_by_name() {
    let bench = accepted(&shop());
    let gone = |changes: &[(&str, &str)]| {
        let previous = under(&bench, &shop_with(changes)).0.previous;
        let previous = previous.expect("a plan was accepted");
        let runs = previous.gone.iter();
        let runs = runs.map(|run| (run.id.clone(), run.why.clone(), run.pieces.len()));
        (runs.collect::<Vec<_>>(), previous.runs)
    };
    let (machine, _) = gone(&[("id: wide", "id: broad")]);
    assert_eq!(
        machine,
        [
            ("wide-001".to_owned(), Gone::Machine, 1),
            ("wide-002".to_owned(), Gone::Machine, 1)
        ]
    );
    let (filament, _) = gone(&SILVER);
    assert_eq!(filament[0].1, Gone::Filament("grey".to_owned()));
    let (parts, _) = gone(&[("id: cap,", "id: hat,"), ("cap: 2", "hat: 2")]);
    assert_eq!(parts[0].1, Gone::Parts(vec!["cap".to_owned()]));
    assert_eq!(parts[0].2, 0);
    // A run that loses some of its parts is one still, and says which.
    let mixed = plan().replace(
        &piece("pin", 3, 1, 1, "boom"),
        &piece("peg", 1, 1, 1, "boom"),
    );
    let mut bench = Bench::empty();
    let event = Event::PlanAccepted {
        plan: mixed,
        basis: None,
    };
    bench.note(event, "11 07:00");
    let previous = under(&bench, &shop()).0.previous.expect("a plan");
    let run = previous.runs.iter().find(|run| run.id == "tall-002");
    let run = run.expect("two of its pins are wanted");
    assert_eq!(run.without, ["peg"]);
    assert!(!run.is_whole() && run.pieces.len() == 2);
}
