//! Noting from a checkpoint on: it must come to what all entries add up to, whatever the checkpoint says.

use proptest::prelude::*;

use super::lines::{another_scenario, event, long_log};
use super::*;
use crate::shoplog::checkpoint::VERSION;

/// All that noting asks of a state; the plan that is followed aside, which is read from its entry.
fn told(state: &State) -> String {
    let checkpoint = Checkpoint::of(state, 1, String::new(), None).text();
    checkpoint.expect("what is kept can be written")
}

fn noting(bench: &Bench) -> Noting {
    Noting::open_as(0, &bench.path(), &shop()).expect("the log")
}

fn whole(bench: &Bench) -> Log {
    let log = Log::read(&bench.path(), &shop()).expect("a log");
    log.expect("it")
}

/// Whether noting begins at a checkpoint.
fn resumes(noting: &Noting) -> bool {
    !noting.0.ledger.is_whole()
}

fn kept(bench: &Bench) -> String {
    let kept = bench.log.store.checkpoint().expect("the log");
    kept.expect("a checkpoint")
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn noting_stands_where_the_whole_log_stands(
        events in prop::collection::vec(
            (event(), 0..600i64, prop::option::of(0..60usize), any::<bool>()), 1..40),
    ) {
        let mut bench = Bench::planned();
        for (event, minutes, undo, keep) in events {
            let moment = at("11 08:00") + chrono::TimeDelta::minutes(minutes);
            // Where no checkpoint is known of, one is kept with the next entry.
            if keep {
                bench.log.kept = 0;
            }
            let _ = bench.log.note(event.clone(), moment, later());
            if let Some(entry) = undo.and_then(|undo| bench.log.entries().get(undo)) {
                let id = entry.id;
                let _ = bench.log.note(Event::Undone { id }, moment, later());
            }
            let noting = noting(&bench);
            prop_assert_eq!(noting.count(), bench.log.entries().len());
            prop_assert_eq!(told(noting.state()), told(bench.log.state()));
            prop_assert_eq!(noting.state().open_runs(), bench.log.state().open_runs());
            // What one refuses the other refuses in the same words.
            let again = |log: &Log| log.ledger.check(&event, moment, later()).map_err(|r| r.to_string());
            prop_assert_eq!(again(&noting.0), again(&bench.log));
        }
    }
}

#[test]
fn a_checkpoint_is_kept_with_a_plan_and_after_a_hundred_entries() {
    let mut bench = Bench::planned();
    assert!(resumes(&noting(&bench)));
    let first = kept(&bench);
    let note = || Event::Note {
        text: "a bearing squeaks".to_owned(),
    };
    for _ in 1..CHECKPOINT {
        bench.note(note(), "11 08:00");
    }
    assert_eq!(kept(&bench), first);
    let mut noting = noting(&bench);
    noting.note(note(), at("11 08:00"), later()).expect("noted");
    assert!(kept(&bench) != first);
    assert_eq!(noting.count(), CHECKPOINT + 1);
    // Not even for that one were all entries read.
    assert!(resumes(&noting));
}

#[test]
fn a_checkpoint_may_be_made_of_another_and_one_that_is_wrong_is_gone_once_all_entries_are_read() {
    let bench = Bench::planned();
    let right = kept(&bench);
    drop(whole(&bench));
    assert_eq!(kept(&bench), right);
    // Whole, of the same entries, and not what they add up to: 200 g on red-1 in place of 300.
    let bits = |grams: f64| grams.to_bits().to_string();
    let wrong = sealed(&right[64..].replace(&bits(300.0), &bits(200.0)));
    assert!(bench.log.store.keep(&wrong));
    let mut noting = noting(&bench);
    for _ in 0..CHECKPOINT {
        let note = Event::Note {
            text: "a bearing squeaks".to_owned(),
        };
        noting.note(note, at("11 08:00"), later()).expect("noted");
    }
    // Another was kept, of that one and what followed: nothing tells by itself that it is wrong.
    assert!(kept(&bench) != wrong);
    let again = self::noting(&bench);
    assert!(resumes(&again));
    assert_eq!(again.state().spools["red-1"].grams, 200.0);
    // Whoever reads all entries sees it, whether to look or to add.
    assert_eq!(whole(&bench).state().spools["red-1"].grams, 300.0);
    assert_eq!(bench.log.store.checkpoint().expect("the log"), None);
    let again = self::noting(&bench);
    assert!(!resumes(&again));
    assert_eq!(again.state().spools["red-1"].grams, 300.0);
}

#[test]
fn a_checkpoint_of_more_entries_than_there_are_proves_that_some_were_lost() {
    let mut bench = Bench::planned();
    bench.log.kept = 0;
    bench.note(weighed_spool("red-2", 950.0), "11 08:10");
    let text = kept(&bench)[64..].replace("\"entries\":2", "\"entries\":4");
    assert!(bench.log.store.keep(&sealed(&text)));
    let to_note = Noting::open_as(0, &bench.path(), &shop()).err();
    let to_add = Log::open(&bench.path(), &shop()).err();
    let to_read = Log::read(&bench.path(), &shop()).err();
    for trouble in [to_note, to_add, to_read] {
        let why = trouble.expect("two are missing").to_string();
        assert!(
            why.contains("4 entries were noted, and 2 are there"),
            "{why}"
        );
    }
}

#[test]
fn after_an_undo_whose_checkpoint_was_not_kept_the_next_entry_has_one() {
    let mut bench = Bench::planned();
    let weighed = bench.note(weighed_spool("red-2", 950.0), "11 08:10");
    let before = kept(&bench);
    bench.note(Event::Undone { id: weighed.id }, "11 08:20");
    assert!(bench.log.store.keep(&before));
    let mut noting = noting(&bench);
    assert!(!resumes(&noting));
    noting
        .note(weighed_spool("red-2", 940.0), at("11 08:30"), later())
        .expect("noted");
    let again = self::noting(&bench);
    assert!(resumes(&again));
    assert_eq!(told(again.state()), told(whole(&bench).state()));
}

#[test]
fn of_a_short_log_none_is_kept() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("shop.log.sqlite");
    let mut log = Log::open(&path, &shop()).expect("a new log");
    let plan = Event::PlanAccepted {
        plan: plan(),
        basis: None,
    };
    log.note(plan, at("11 07:00"), later()).expect("noted");
    assert_eq!(log.store.checkpoint().expect("the log"), None);
}

#[test]
fn noting_from_a_checkpoint_reads_no_plan_but_the_one_that_is_followed() {
    // A plan of 200 runs before the one that is followed is known by its names, and by the run of it that prints.
    let mut bench = Bench::planned();
    bench.start("wide-001", "11 08:00");
    let other = plan().replace("-00", "-01");
    let accepted = Event::PlanAccepted {
        plan: other,
        basis: None,
    };
    bench.note(accepted, "11 09:00");
    let mut noting = noting(&bench);
    assert!(resumes(&noting));
    assert_eq!(noting.0.ledger.entries, []);
    let past = &noting.state().past;
    assert_eq!(past.started.len(), 1);
    assert_eq!(past.machines["tall"], 2);
    // The run of the plan before still ends, and names of that plan are told apart from those that never were.
    let refused =
        |noting: &mut Noting, run| match noting.note(started(run), at("11 14:00"), later()) {
            Err(Trouble::Refused(refusal)) => refusal.to_string(),
            other => panic!("{other:?}"),
        };
    let why = refused(&mut noting, "tall-001");
    assert!(why.contains("a run of an earlier plan"), "{why}");
    let why = refused(&mut noting, "tall-099");
    assert!(why.contains("there is no run `tall-099`"), "{why}");
    let finished = finished("wide-001", &[]);
    noting
        .note(finished, at("11 14:00"), later())
        .expect("it printed");
    let whole = whole(&bench);
    assert_eq!(told(noting.state()), told(whole.state()));
}

/// A text as it is kept, with its digest.
fn sealed(text: &str) -> String {
    blake3::hash(text.as_bytes()).to_hex().to_string() + text
}

#[test]
fn a_checkpoint_that_is_wrong_never_wins_over_the_entries() {
    let mut bench = Bench::planned();
    bench.start("tall-001", "11 08:00");
    bench.log.kept = 0;
    bench.note(weighed_spool("red-2", 950.0), "11 08:10");
    let right = kept(&bench);
    let text = &right[64..];
    let version = |number: u32| format!("\"version\":{number}");
    let before_last = {
        let mut other = Bench::planned();
        other.log.kept = 0;
        other.note(weighed_spool("red-2", 10.0), "11 08:10");
        kept(&other)
    };
    let elsewhere = {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let path = folder.path().join("shop.log.sqlite");
        let mut log = Log::open(&path, &another_scenario()).expect("a new log");
        log.short_up_to = 0;
        log.import(&bench.log.export(), later()).expect("entries");
        let kept = log.store.checkpoint().expect("the log");
        kept.expect("a checkpoint")
    };
    let wrong = [
        String::new(),
        "rubbish".to_owned(),
        "ä".repeat(40),
        right[..right.len() - 1].to_owned(),
        right.replace("\"red-1\"", "\"red-2\""),
        // As a file may be put right by hand: of another version, of other entries, of a run that no plan has.
        sealed(&text.replace(&version(VERSION), &version(VERSION - 1))),
        sealed(&text.replace("\"entries\":3", "\"entries\":0")),
        sealed(&text.replace("[0,0]", "[0,9]")),
        sealed(&text.replace("\"plan\":[1,0]", "\"plan\":[2,0]")),
        sealed(&text.replace("\"plan\":[1,0]", "\"plan\":null")),
        sealed("{}"),
        before_last,
        elsewhere,
    ];
    for wrong in wrong {
        assert!(wrong != right, "{wrong}");
        assert!(bench.log.store.keep(&wrong));
        let mut noting = noting(&bench);
        assert!(!resumes(&noting), "{wrong}");
        assert_eq!(told(noting.state()), told(bench.log.state()), "{wrong}");
        // With the next entry there is a right one again.
        let note = Event::Note {
            text: "a bearing squeaks".to_owned(),
        };
        noting.note(note, at("11 09:00"), later()).expect("noted");
        let again = self::noting(&bench);
        assert!(resumes(&again));
        assert_eq!(told(again.state()), told(whole(&bench).state()));
        bench.log = Log::open(&bench.path(), &shop()).expect("the log");
    }
}

#[test]
fn what_another_program_undoes_meanwhile_is_undone_for_noting() {
    let mut bench = Bench::planned();
    let started = bench.note(started("tall-001"), "11 08:00");
    bench.log.kept = 0;
    bench.note(weighed_spool("red-2", 950.0), "11 08:10");
    let mut noting = noting(&bench);
    assert!(resumes(&noting));
    let undone = Event::Undone { id: started.id };
    bench.note(undone, "11 08:20");
    let refused = noting.note(finished("tall-001", &[]), at("11 14:00"), later());
    assert!(matches!(refused, Err(Trouble::Refused(_))), "{refused:?}");
    assert_eq!(told(noting.state()), told(bench.log.state()));
    // And noting itself can undo what was before the checkpoint.
    let mut noting = self::noting(&bench);
    let weighed = noting.whole().expect("the log").entries()[2].id;
    let undone = Event::Undone { id: weighed };
    noting.note(undone, at("11 15:00"), later()).expect("noted");
    assert_eq!(noting.state().spools["red-2"].grams, 1000.0);
    assert_eq!(noting.numbered(&weighed).map(|(number, _)| number), Some(3));
}

#[test]
fn whoever_changes_what_entries_add_up_to_raises_the_version_of_checkpoints() {
    // If this fails, raise `VERSION` in `checkpoint.rs`, so that checkpoints of programs before are not gone on from, and put here what
    // it is now.
    let told = told(long_log().log.state());
    assert_eq!(&told[..16], "f22cd32065ef8ec7");
}
