//! What a plan of the rest does otherwise than the accepted one, in a line, and what it is worth.
//!
//! Knows: both plans' costs. Must not know: where the words end up.
//! Promises: parts as shown are those of costs as shown.

use crate::plan::{Plan, Since};
use crate::scenario::Scenario;

use super::money::{Hundredths, Shown};
use super::words::count;

/// `the rest costs 812.10 EUR so, 900.00 as it was`.
pub(super) fn in_short(scenario: &Scenario, plan: &Plan, since: &Since) -> String {
    if since.changes.is_empty() {
        return match since.shifted {
            0 => "none; the accepted plan goes on".to_owned(),
            runs => format!(
                "none; the accepted plan goes on, with {} earlier or later by half a day at most",
                count(runs, "run", "runs")
            ),
        };
    }
    let cost = Shown::new(&plan.cost).total();
    let currency = &scenario.currency;
    match &since.kept {
        Some(kept) if is_same(plan, kept) => {
            format!("nothing better was found, the rest costs {cost} {currency}")
        }
        Some(kept) => {
            let kept = Shown::new(kept).total();
            format!("the rest costs {cost} {currency} so, {kept} as it was")
        }
        None => format!("the rest costs {cost} {currency}"),
    }
}

/// `late -277.08, changes +1.00`: by how much it costs more than with the accepted order kept; `None` where nothing differs, or that cannot be.
pub(super) fn by_part(plan: &Plan, since: &Since) -> Option<String> {
    let kept = since.kept.as_ref()?;
    let (now, then) = (Shown::new(&plan.cost), Shown::new(kept));
    let parts = [
        ("late", now.late, then.late),
        ("standing", now.standing, then.standing),
        ("machine", now.machine, then.machine),
        ("energy", now.energy, then.energy),
        ("bench", now.bench, then.bench),
        ("purge", now.purge, then.purge),
        ("plastic", now.plastic, then.plastic),
        ("hardware", now.hardware, then.hardware),
        ("changes", now.calm, then.calm),
    ];
    let parts = parts.map(|(name, now, then)| (name, now.less(then)));
    let parts = parts.iter().filter(|(_, more)| more.number() != 0.0);
    let told: Vec<String> = parts
        .map(|(name, more)| format!("{name} {}", signed(*more)))
        .collect();
    (!told.is_empty()).then(|| told.join(", "))
}

/// With its sign, whichever it is.
fn signed(more: Hundredths) -> String {
    let sign = if more.number() > 0.0 { "+" } else { "" };
    format!("{sign}{more}")
}

/// Whether it costs what keeping the accepted order would.
fn is_same(plan: &Plan, kept: &crate::plan::Cost) -> bool {
    (kept.total() - plan.cost.total()).0.abs() < 0.005
}
