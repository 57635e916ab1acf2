//! Lengths that are alike stand for each other.

use super::*;

fn length(number: u32, length: u32) -> PieceId {
    PieceId {
        part: "chord".to_owned(),
        number,
        length,
        of: 2,
    }
}

/// Two chords in two lengths, each on a run of its own, in the order 1:1, 1:2, 2:1, 2:2.
fn plan() -> String {
    let runs: Vec<String> = [(1, 1), (1, 2), (2, 1), (2, 2)]
        .into_iter()
        .zip(1..)
        .map(|((number, of_copy), at)| {
            let piece = piece("chord", number, of_copy, 2, "mast");
            run(&format!("tall-00{at}"), "red", 10 + at, 100.0, &[piece])
        })
        .collect();
    format!(
        r#"{{"version":1,"build":"Footbridge","cost":{{"total":1}},"finish":"2027-01-15T10:00:00Z","runs":[{}]}}"#,
        runs.join(",")
    )
}

/// The first length of the first chord was lost, its second one and the first of the second chord are there.
fn two_halves() -> Bench {
    let mut bench = Bench::empty();
    let accepted = Event::PlanAccepted {
        plan: plan(),
        basis: None,
    };
    bench.note(accepted, "11 07:00");
    bench.start("tall-001", "11 08:00");
    bench.note(scrapped("tall-001", None), "11 14:00");
    bench.start("tall-002", "12 08:00");
    bench.finish("tall-002", "12 14:00");
    bench.start("tall-003", "13 08:00");
    bench.finish("tall-003", "13 14:00");
    bench
}

fn made(bench: &Bench) -> Vec<PieceId> {
    bench.log.state().made.keys().cloned().collect()
}

#[test]
fn two_halves_of_different_copies_make_one() {
    let mut bench = two_halves();
    assert_eq!(made(&bench), [length(1, 1), length(1, 2)]);
    // What was lost is the first length of the other copy now.
    let lost: Vec<_> = bench.log.state().lost.keys().cloned().collect();
    assert_eq!(lost, [length(2, 1)]);
    bench.note(
        Event::Joined {
            part: "chord".into(),
            number: 1,
        },
        "13 15:00",
    );
    // The run that was to print the lost one prints what is missing now.
    bench.start("tall-001", "13 16:00");
    bench.finish("tall-001", "13 22:00");
    assert_eq!(made(&bench), [length(1, 1), length(1, 2), length(2, 1)]);
    bench.start("tall-004", "14 08:00");
    bench.finish("tall-004", "14 14:00");
    assert_eq!(made(&bench).len(), 4);
    assert_eq!(bench.log.state().open_runs(), []);
}

#[test]
fn what_is_to_be_planned_again_is_exactly_the_length_that_is_missing() {
    let bench = two_halves();
    let (progress, _) = progress(&shop(), &bench.log, at("13 15:00"));
    let there: Vec<_> = progress.made.iter().map(|made| made.piece).collect();
    assert_eq!(there.len(), 2);
    assert!(there.iter().all(|piece| piece.number == 1));
    // Of the plan two runs are open, and each is what it is to print now.
    let open = progress.previous.expect("a plan was accepted").runs;
    let pieces: Vec<_> = open
        .iter()
        .flat_map(|run| run.pieces.iter().map(|placed| placed.piece))
        .map(|piece| (piece.number, piece.length))
        .collect();
    assert_eq!(pieces, [(2, 1), (2, 2)]);
    let now = status(&shop(), bench.log.state(), at("13 15:00"));
    assert_eq!(now.in_no_run.len(), 0);
    let join = Task::Join {
        part: "chord".into(),
        number: 1,
    };
    assert!(now.next.iter().any(|next| next.what == join));
}

#[test]
fn without_a_loss_each_copy_keeps_its_own_lengths() {
    // The halves of different copies are there, and what is missing of each is still to come by the plan.
    let mut bench = Bench::empty();
    let accepted = Event::PlanAccepted {
        plan: plan(),
        basis: None,
    };
    bench.note(accepted, "11 07:00");
    for (run, day) in [("tall-002", 12), ("tall-003", 13)] {
        bench.start(run, &format!("{day} 08:00"));
        bench.finish(run, &format!("{day} 14:00"));
    }
    assert_eq!(made(&bench), [length(1, 2), length(2, 1)]);
}
