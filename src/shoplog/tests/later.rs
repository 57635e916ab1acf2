//! Later plans, later entries, outages that change, the log of another build.

use super::*;

/// The plan with its runs of the tall machine numbered on, as one that has other pieces on them would be.
fn numbered_on() -> String {
    plan()
        .replace("tall-001", "tall-003")
        .replace("tall-002", "tall-004")
}

#[test]
fn a_run_of_an_earlier_plan_keeps_its_name_and_can_be_timed() {
    let mut bench = Bench::planned();
    bench.start("tall-002", "11 08:00");
    bench.finish("tall-002", "11 14:00");
    let plan = numbered_on();
    bench.note(Event::PlanAccepted { plan, basis: None }, "11 15:00");
    // It has pins on it, and no run of the plan that is followed is called so.
    let short = Short(bench.log.state());
    let timed = short.timed("tall-002", &Said::default());
    assert_eq!(timed, Ok(sample("pin", "tall", 3, 1)));
    let why = bench.refused(started("tall-002"), "11 16:00");
    assert!(
        why.starts_with("tall-002 ended Mon 11 Jan 2027 14:00; the plan that is followed now has no run of that name"),
        "{why}"
    );
    let why = bench.refused(started("tall-001"), "11 16:00");
    assert!(
        why.starts_with("tall-001 is a run of an earlier plan; another has taken that one's place"),
        "{why}"
    );
    // Numbers go on from the highest that was ever accepted.
    let then = progress(&shop(), &bench.log, at("11 16:00")).0;
    assert_eq!(then.machines[0].last_number, 4);
    assert_eq!(then.machines[1].last_number, 2);
}

#[test]
fn how_a_shop_stood_leaves_out_what_is_of_later() {
    let mut bench = Bench::planned();
    bench.start("tall-001", "11 08:00");
    let mistake = bench.note(down("wide"), "11 09:00");
    bench.note(Event::Undone { id: mistake.id }, "11 12:00");
    bench.finish("tall-001", "11 14:00");
    bench.start("tall-002", "12 08:00");
    let (then, later) = bench.log.state_at(at("11 13:00"));
    assert_eq!((then.running.len(), later), (1, 2));
    assert!(then.made.is_empty());
    // What was a mistake is known to be one by now.
    assert!(then.machines["wide"].down.is_none());
    assert_eq!(then.latest, at("11 08:00"));
    let (now, later) = bench.log.state_at(at("12 08:00"));
    assert_eq!((now.made.len(), later), (2, 0));
}

#[test]
fn a_machine_that_is_down_can_be_said_to_be_so_for_longer_or_less() {
    let mut bench = Bench::planned();
    let until = |moment: Option<&str>, why: &str| Event::Down {
        machine: "wide".into(),
        why: why.into(),
        until: moment.map(at),
    };
    bench.note(until(None, "fan"), "11 09:00");
    let why = bench.refused(until(None, ""), "11 10:00");
    assert_eq!(
        why,
        "wide is down since Mon 11 Jan 2027 09:00; say with `--until` when it should be up again, or note `up wide` if it is"
    );
    let why = bench.refused(until(Some("12 09:00"), ""), "11 08:00");
    assert!(
        why.starts_with("wide went down only Mon 11 Jan 2027 09:00"),
        "{why}"
    );
    let down = |bench: &Bench| bench.log.state().machines["wide"].down.clone();
    bench.note(until(Some("14 12:00"), ""), "11 10:00");
    assert_eq!(
        down(&bench),
        Some((at("11 09:00"), "fan".into(), Some(at("14 12:00"))))
    );
    let accepted = Event::PlanAccepted {
        plan: plan(),
        basis: None,
    };
    bench.note(accepted, "11 11:00");
    bench.note(until(Some("15 12:00"), "fan and belt"), "12 08:00");
    assert!(!bench.log.state().sooner);
    // It is to be back before the plan reckons with it.
    let sooner = bench.note(until(Some("13 12:00"), ""), "12 09:00");
    assert!(bench.log.state().sooner);
    assert_eq!(
        down(&bench),
        Some((at("11 09:00"), "fan and belt".into(), Some(at("13 12:00"))))
    );
    bench.note(Event::Undone { id: sooner.id }, "12 10:00");
    assert_eq!(down(&bench).and_then(|down| down.2), Some(at("15 12:00")));
}

#[test]
fn the_log_of_another_build_is_told_in_one_line() {
    let mut bench = Bench::planned();
    bench.start("tall-001", "11 08:00");
    let other = |name: &str, parts: [&str; 3]| {
        let mut text = SHOP
            .replace(", minutes_: 0", "")
            .replace("Footbridge", name);
        for (from, to) in ["chord", "cap", "pin"].into_iter().zip(parts) {
            text = text
                .replace(&format!("id: {from},"), &format!("id: {to},"))
                .replace(&format!("{from}: "), &format!("{to}: "));
        }
        match scenario::read_text("shop.yaml", &text, Path::new("")) {
            Ok(reading) => reading.scenario,
            Err(complaints) => panic!("{complaints}"),
        }
    };
    let none = ["beam", "hat", "peg"];
    let lighthouse = other("Lighthouse", none);
    let told = match Log::read(&bench.path(), &lighthouse) {
        Err(trouble) => trouble.to_string(),
        Ok(_) => panic!("it is of another build"),
    };
    assert!(
        told.contains(
            "this is the log of `Footbridge`, not of `Lighthouse`: the scenario has none of the 3 parts in its plan; it was left as it is: move it"
        ),
        "{told}"
    );
    assert!(
        told.ends_with("call that so: `build: {name: Footbridge}`"),
        "{told}"
    );
    // A build that was renamed, or has other parts, is still its own.
    assert!(Log::read(&bench.path(), &other("Lighthouse", ["chord", "hat", "peg"])).is_ok());
    assert!(Log::read(&bench.path(), &other("Footbridge", none)).is_ok());
    // And an export of it is not taken in elsewhere.
    let folder = tempfile::tempdir().expect("a temporary folder");
    let mut elsewhere =
        Log::open(&folder.path().join("other.log.sqlite"), &lighthouse).expect("a new log");
    let refused = elsewhere.import(&bench.log.export(), later());
    let told = refused.expect_err("it is of another build").to_string();
    assert!(
        told.starts_with("line 2: this is the log of `Footbridge`"),
        "{told}"
    );
    assert_eq!(elsewhere.entries(), []);
}
