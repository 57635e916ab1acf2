//! The bench: work in its hours, one pair of hands for each job, no more jobs than hands.
//!
//! Knows: setups and stretches of work as spans of minutes, bench hours. Must not know: what is worked on.
//! Promises: one sweep over all spans in time.

use super::Faults;
use super::evidence::{Evidence, span};
use super::presence::{Minute, Presence, Span, minute};
use super::rule::Rule;
use crate::scenario::Hands;

pub(super) fn check(evidence: &Evidence, presence: &Presence, faults: &mut Faults) {
    let mut busy: Vec<Span> = evidence
        .plan
        .runs
        .iter()
        .filter_map(|run| {
            run.setup.map(|setup| Span {
                from: minute(setup),
                to: minute(run.start),
            })
        })
        .collect();
    for (job, work) in evidence.jobs() {
        check_job(evidence, presence, &job, work, faults);
        busy.extend(work.iter().map(span));
    }
    if let Hands::Count(hands) = evidence.scenario.bench.hands {
        check_hands(evidence, i64::from(hands), &busy, faults);
    }
}

/// [`Rule::BenchHours`] and [`Rule::OnePairOfHands`].
fn check_job(
    evidence: &Evidence,
    presence: &Presence,
    job: &str,
    work: &[crate::plan::Work],
    faults: &mut Faults,
) {
    let mut free = Minute::MIN;
    for stretch in work.iter().map(span) {
        let words = |rule: &str| {
            format!(
                "{job} from {} to {} {rule}",
                evidence.shown_minute(stretch.from),
                evidence.shown_minute(stretch.to)
            )
        };
        // A stretch written backwards is the next rule's fault.
        let attended =
            stretch.minutes() <= 0 || presence.holding(stretch.from, stretch.to).is_some();
        faults.require(attended, Rule::BenchHours, || {
            words("is in no bench window")
        });
        let single = stretch.minutes() > 0 && stretch.from >= free;
        faults.require(single, Rule::OnePairOfHands, || {
            words("is empty, or begins before the stretch ahead of it has ended")
        });
        free = free.max(stretch.to);
    }
}

/// [`Rule::Hands`]: the first minute of every stretch of time in which too much is done at once.
fn check_hands(evidence: &Evidence, hands: i64, busy: &[Span], faults: &mut Faults) {
    let mut events: Vec<(Minute, i64)> = busy
        .iter()
        .filter(|span| span.minutes() > 0)
        .flat_map(|span| [(span.from, 1), (span.to, -1)])
        .collect();
    // At one minute what ends comes before what begins: spans are half-open.
    events.sort_unstable();
    let mut at_once = 0;
    let mut too_many = false;
    for (at, change) in events {
        at_once += change;
        if at_once > hands && !too_many {
            faults.report(
                Rule::Hands,
                format!(
                    "{at_once} things are done at {} by {hands} pairs of hands",
                    evidence.shown_minute(at)
                ),
            );
        }
        too_many = at_once > hands;
    }
}
