//! Good pieces that are lost later, and the choice among variants, for which one may have to be given up.

use super::*;

fn piece_of(part: &str, number: u32, length: u32, of: u32) -> PieceId {
    PieceId {
        part: part.to_owned(),
        number,
        length,
        of,
    }
}

fn lost(pieces: &[PieceId]) -> Event {
    Event::Lost {
        pieces: pieces.to_vec(),
        why: "cracked".to_owned(),
    }
}

fn chosen(variant: Option<&str>) -> Event {
    Event::Approved {
        part: "cap".to_owned(),
        variant: variant.map(str::to_owned),
    }
}

#[test]
fn a_good_piece_that_is_lost_is_made_no_more_and_counts_as_lost() {
    let mut bench = Bench::all_printed();
    let pin = piece_of("pin", 2, 1, 1);
    bench.note(lost(std::slice::from_ref(&pin)), "12 16:00");
    let state = bench.log.state();
    assert!(!state.made.contains_key(&pin));
    assert_eq!(state.lost[&pin], 1);
    // What was good when the run ended says nothing against the machine.
    assert_eq!(state.machines["tall"].failed, 0.0);
    let status = status(&shop(), state, at("12 17:00"));
    assert_eq!(status.in_no_run.get("pin"), Some(&1));
    let progress = progress(&shop(), &bench.log, at("12 17:00")).0;
    assert_eq!(
        progress
            .made
            .iter()
            .filter(|made| made.piece.part.0 == 2)
            .count(),
        2
    );
    // Written and read again it is the same.
    let mut again = Bench::empty();
    again
        .log
        .import(&bench.log.export(), later())
        .expect("entries");
    assert_eq!(again.log.state().made, bench.log.state().made);
    // And it can be undone.
    let last = bench.log.entries().last().expect("it").id;
    bench.note(Event::Undone { id: last }, "12 18:00");
    assert!(bench.log.state().made.contains_key(&pin));
}

#[test]
fn with_a_length_of_a_joined_copy_the_whole_copy_is_lost() {
    let mut bench = Bench::all_printed();
    let length = piece_of("chord", 1, 2, 2);
    bench.note(lost(&[length]), "12 16:00");
    let state = bench.log.state();
    assert!(state.made.keys().all(|piece| piece.part != "chord"));
    assert_eq!(state.lost.values().sum::<u32>(), 2);
}

#[test]
fn a_piece_that_is_not_there_or_is_built_in_cannot_be_lost() {
    let mut bench = Bench::planned();
    let pin = piece_of("pin", 1, 1, 1);
    let why = bench.refused(lost(std::slice::from_ref(&pin)), "12 16:00");
    assert!(
        why.contains("pin:1 is not among what is printed and good"),
        "{why}"
    );
    let mut bench = Bench::all_printed();
    let why = bench.refused(lost(&[]), "12 16:00");
    assert!(why.contains("no piece is named"), "{why}");
    let why = bench.refused(lost(&[pin.clone(), pin.clone()]), "12 16:00");
    assert!(why.contains("pin:1 is named twice"), "{why}");
    let why = bench.refused(lost(std::slice::from_ref(&pin)), "12 13:00");
    assert!(why.contains("pin:1 was printed only"), "{why}");
    bench.note(assembly("mast", false), "12 16:30");
    let why = bench.refused(lost(&[pin]), "12 17:00");
    assert!(
        why.contains("pin:1 is in mast, which has been begun"),
        "{why}"
    );
    // Of the other two, which are for the boom, both may go.
    let others = [piece_of("pin", 2, 1, 1), piece_of("pin", 3, 1, 1)];
    bench.note(lost(&others), "12 17:00");
    // An assembly that takes what is lost cannot have been begun before, nor can that be undone under it.
    let why = bench.refused(assembly("boom", false), "12 18:00");
    assert!(why.contains("boom needs"), "{why}");
}

#[test]
fn the_bench_writes_lost_pieces_as_it_writes_scrapped_ones() {
    let bench = Bench::all_printed();
    let short = Short(bench.log.state());
    let good = |written: &str| short.good(&[written.to_owned()]);
    let told = |written: &str| {
        let pieces = good(written).expect("it is there");
        pieces.iter().map(ToString::to_string).collect::<Vec<_>>()
    };
    assert_eq!(told("pin:2"), ["pin:2"]);
    assert_eq!(told("pin=2"), ["pin:2", "pin:3"]);
    assert_eq!(told("chord:1:2,pin"), ["chord:1:2", "pin:3"]);
    let why = good("pin=4").expect_err("there are three").to_string();
    assert!(
        why.contains("3 of `pin=4` are good and in no assembly, not 4"),
        "{why}"
    );
    let why = good("pni").expect_err("no such part").to_string();
    assert!(why.contains("did you mean `pin`?"), "{why}");
}

/// With two variants of the cap; of both, or of the first only, the trial copy is printed.
fn with_variants(both: bool) -> Bench {
    let text = SHOP.replace(", minutes_: 0", "").replace(
        "settings: light, trial: 1}",
        "settings: light, variants: [{name: tight, offset: -0.1}, {name: loose, offset: 0.1}]}",
    );
    let shop = match scenario::read_text("shop.yaml", &text, Path::new("")) {
        Ok(reading) => reading.scenario,
        Err(complaints) => panic!("{complaints}"),
    };
    let folder = tempfile::tempdir().expect("a temporary folder");
    let log = Log::open(&folder.path().join("shop.log.sqlite"), &shop).expect("a new log");
    let mut bench = Bench { folder, log };
    bench.note(
        Event::PlanAccepted {
            plan: plan(),
            basis: None,
        },
        "11 07:00",
    );
    bench.start("wide-001", "11 08:00");
    bench.finish("wide-001", "11 14:00");
    bench.start("wide-002", "12 08:00");
    let second = piece_of("cap", 2, 1, 1);
    let scrapped: &[PieceId] = if both {
        &[]
    } else {
        std::slice::from_ref(&second)
    };
    bench.note(finished("wide-002", scrapped), "12 14:00");
    bench
}

#[test]
fn the_variant_is_asked_for_and_only_that_one_must_be_printed() {
    let refused = |bench: &mut Bench, event| match bench.log.note(event, at("12 15:00"), later()) {
        Err(Trouble::Refused(refusal)) => refusal.to_string(),
        other => panic!("{other:?}"),
    };
    let mut bench = with_variants(false);
    let why = refused(&mut bench, chosen(None));
    assert!(
        why.contains("cap has several variants: tight, loose"),
        "{why}"
    );
    let why = refused(&mut bench, chosen(Some("loose")));
    assert!(
        why.contains("cap:2, which is loose, is not printed"),
        "{why}"
    );
    // That the other came off no good keeps nobody from choosing.
    bench.note(chosen(Some("tight")), "12 15:00");
    assert_eq!(
        bench.log.state().trials["cap"].chosen.as_deref(),
        Some("tight")
    );
    let why = refused(&mut bench, chosen(Some("tight")));
    assert!(why.contains("cap was approved"), "{why}");
}

#[test]
fn an_approval_that_names_no_variant_is_completed_later() {
    let mut bench = with_variants(true);
    // As an older program noted it.
    bench
        .log
        .import(
            r#"{"id":"6f0f7a3e-5b1c-4a52-9d0e-0d5a3c2b1a90","at":"2027-01-12T15:00:00Z","noted":"2027-01-12T15:00:00Z","event":{"approved":{"part":"cap"}}}"#,
            later(),
        )
        .expect("an entry");
    assert_eq!(bench.log.state().trials["cap"].chosen, None);
    bench.note(chosen(Some("loose")), "12 16:00");
    let trial = &bench.log.state().trials["cap"];
    assert_eq!(trial.chosen.as_deref(), Some("loose"));
    assert_eq!(
        trial.approved,
        Some(at("12 15:00")),
        "the rest could go on since then"
    );
}

#[test]
fn the_status_names_the_variants_to_choose_from() {
    let bench = with_variants(false);
    let state = bench.log.state();
    let next = status(&shop(), state, at("12 15:00")).next;
    let approve = next.iter().find_map(|next| match &next.what {
        Task::Approve { part, variants } => Some((part.as_str(), variants.as_slice())),
        _ => None,
    });
    // Of the loose one nothing good is to come, so it is not waited for.
    assert_eq!(approve, Some(("cap", &["tight".to_owned()][..])));
}
