//! Joints and assemblies that cure.

use super::*;

/// The shop, in which the mast cures for four hours.
fn curing() -> Scenario {
    shop_with(&[(
        "{id: mast, parts: {chord: 1, pin: 1}, bench: 1 h}",
        "{id: mast, parts: {chord: 1, pin: 1}, bench: 1 h, cure: 4 h, due: 2027-01-13 10:00}",
    )])
}

/// All is printed and joined, and the mast noted as complete at a moment; in a log of that shop.
fn mast_complete(moment: &str) -> (TempDir, Log) {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let mut log = Log::open(&folder.path().join("shop.log.sqlite"), &curing()).expect("a new log");
    let planned = Bench::all_printed().log.export().replace(
        r#"\"assemblies\":["#,
        r#"\"assemblies\":[{\"id\":\"mast\",\"complete\":\"2027-01-13T12:00:00Z\",\"due\":\"2027-01-13T10:00:00Z\"},"#,
    );
    log.import(&planned, later()).expect("entries");
    log.note(assembly("mast", true), at(moment), later())
        .expect("all is there");
    (folder, log)
}

#[test]
fn an_assembly_is_complete_when_it_has_cured() {
    let stage = |moment: &str| {
        let (_folder, log) = mast_complete(moment);
        let stages = status(&curing(), log.state(), at("13 18:00")).stages;
        let mast = stages.into_iter().find(|stage| stage.assembly == "mast");
        mast.expect("it has a date")
    };
    // Done at 8:00 as planned, it is complete at 12:00 as planned, two hours late.
    let mast = stage("13 08:00");
    assert!(mast.complete);
    assert_eq!(
        (mast.planned, mast.expected),
        (at("13 12:00"), at("13 12:00"))
    );
    assert!(mast.expected > mast.due);
    // Two hours before it is due at the bench is two hours late; four hours before it is in time.
    assert_eq!(stage("13 06:00").expected, at("13 10:00"));
}

#[test]
fn what_needs_an_assembly_is_to_be_begun_when_that_has_cured() {
    let (_folder, mut log) = mast_complete("13 08:00");
    let boom = |log: &Log, moment: &str| {
        let next = status(&curing(), log.state(), at(moment)).next;
        let boom = Task::Assemble {
            assembly: "boom".into(),
        };
        let boom = next.into_iter().find(|next| next.what == boom);
        boom.expect("all is there").at
    };
    assert_eq!(boom(&log, "13 09:00"), at("13 12:00"));
    assert_eq!(boom(&log, "13 13:00"), at("13 13:00"));
    // Somebody who does not wait is believed.
    let begun = assembly("boom", false);
    let noted = log.note(begun, at("13 09:00"), later());
    assert!(noted.is_ok(), "{noted:?}");
}

#[test]
fn a_split_part_goes_into_an_assembly_once_it_is_joined_and_its_joint_holds() {
    let mut bench = Bench::planned();
    bench.start("tall-001", "11 08:00");
    bench.finish("tall-001", "11 14:00");
    bench.start("tall-002", "12 08:00");
    bench.finish("tall-002", "12 14:00");
    let mast = Task::Assemble {
        assembly: "mast".into(),
    };
    let next = |bench: &Bench, moment: &str| {
        let next = status(&shop(), bench.log.state(), at(moment)).next;
        next.into_iter()
            .find(|next| next.what == mast)
            .map(|next| next.at)
    };
    assert_eq!(next(&bench, "12 15:00"), None);
    for complete in [false, true] {
        assert_eq!(
            bench.refused(assembly("mast", complete), "12 15:00"),
            "chord:1, which goes into mast, was not joined by Tue 12 Jan 2027 15:00; note `joined chord:1` first, with `--at` for when it was"
        );
    }
    bench.note(joined("chord", 1), "12 15:30");
    let why = bench.refused(assembly("mast", false), "12 15:00");
    assert!(why.contains("was not joined by"), "{why}");
    // The joint cures for an hour.
    assert_eq!(next(&bench, "12 15:45"), Some(at("12 16:30")));
    assert_eq!(next(&bench, "12 17:00"), Some(at("12 17:00")));
    let cures = bench.log.state().cures("mast", at("12 16:00"));
    assert_eq!(cures, Some(("chord:1".to_owned(), at("12 16:30"))));
    assert_eq!(bench.log.state().cures("mast", at("12 16:30")), None);
    bench.note(assembly("mast", true), "12 16:00");
}

#[test]
fn a_log_in_which_an_assembly_was_begun_unjoined_is_gone_on_with() {
    let mut bench = Bench::planned();
    bench.start("tall-001", "11 08:00");
    bench.finish("tall-001", "11 14:00");
    bench.start("tall-002", "12 08:00");
    bench.finish("tall-002", "12 14:00");
    let entry = Entry {
        id: Uuid::new_v4(),
        at: at("12 15:00"),
        noted: at("12 15:00"),
        event: assembly("mast", false),
    };
    let exported = bench.log.export() + &entry.line();
    let mut other = Bench::empty();
    other
        .log
        .import(&exported, later())
        .expect("an older program noted it");
    other.note(assembly("mast", true), "12 16:00");
    other.note(joined("chord", 1), "12 16:10");
}

#[test]
fn lengths_that_are_left_of_another_division_are_in_the_way_of_nothing() {
    // Length 2 of 2 is lost; then the part is made in three lengths.
    let thirds: Vec<String> = (1..=3)
        .map(|length| piece("chord", 1, length, 3, "mast"))
        .collect();
    let thirds = run("tall-003", "red", 12, 240.0, &thirds);
    let plan = format!(
        r#"{{"version":1,"build":"Footbridge","cost":{{"total":1}},"finish":"2027-01-13T12:00:00Z","runs":[{thirds}]}}"#
    );
    let half = PieceId {
        part: "chord".into(),
        number: 1,
        length: 2,
        of: 2,
    };
    let mut bench = Bench::planned();
    bench.start("tall-001", "11 08:00");
    bench.note(finished("tall-001", &[half]), "11 14:00");
    let why = bench.refused(joined("chord", 1), "11 15:00");
    assert!(
        why.starts_with("1 of 2 lengths of chord:1 are printed"),
        "{why}"
    );
    bench.note(Event::PlanAccepted { plan, basis: None }, "11 15:00");
    let told = |bench: &Bench, moment: &str| {
        let told = status(&shop(), bench.log.state(), at(moment));
        let join = Task::Join {
            part: "chord".into(),
            number: 1,
        };
        let joins = told.next.iter().filter(|next| next.what == join).count();
        (joins, told.in_no_run)
    };
    bench.start("tall-003", "12 08:00");
    bench.finish("tall-003", "12 14:00");
    assert_eq!(told(&bench, "12 15:00"), (1, BTreeMap::new()));
    bench.note(joined("chord", 1), "12 15:00");
    assert_eq!(told(&bench, "12 16:00"), (0, BTreeMap::new()));
    let made = &bench.log.state().made;
    let is_joined = |of: u32| {
        let lengths = made.iter().filter(|(piece, _)| piece.of == of);
        lengths
            .map(|(_, made)| made.joined.is_some())
            .collect::<Vec<_>>()
    };
    assert_eq!((is_joined(2), is_joined(3)), (vec![false], vec![true; 3]));
    let why = bench.refused(joined("chord", 1), "12 17:00");
    assert!(why.starts_with("chord:1 is joined already"), "{why}");
}
