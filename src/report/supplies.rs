//! What is to be bought and cut, for a spreadsheet: `orders.csv` and `hardware.csv`.
//!
//! Knows: orders, joints, the parts that they join. Must not know: how either was worked out.
//! Promises: every filament that the plan needs has a row; every piece of hardware is counted once; no text that a user wrote is
//! read as a formula.

use chrono::{DateTime, Utc};

use crate::plan::{Plan, RouteUse};
use crate::scenario::Scenario;
use crate::units::Grams;

use super::csv::{guarded, written};
use super::local::Local;

const ORDERS: [&str; 12] = [
    "filament",
    "material",
    "colour",
    "grams",
    "grams_least",
    "grams_most",
    "on_hand",
    "spools",
    "spool_grams",
    "price",
    "order_by",
    "arrives",
];

/// Filament to order as CSV with CRLF line ends, in the scenario's order. `grams_least` and `grams_most` are between which masses
/// it stays four times in five, empty where nothing was measured; `price` is that of all its spools.
pub fn orders_csv(scenario: &Scenario, plan: &Plan) -> String {
    let local = Local(scenario.build.zone);
    let rows = plan.orders.iter().map(|order| {
        let filament = &scenario.filaments[order.filament.0];
        let grams = |grams: Grams| format!("{:.0}", grams.0);
        let [least, most] = order
            .range
            .map_or_else(Default::default, |range| range.map(grams));
        let price = order.price(scenario);
        let level = plan
            .sheets
            .levels
            .iter()
            .find(|level| level.filament == order.filament);
        let arrives = level.and_then(|level| level.arrives);
        [
            guarded(&filament.id),
            guarded(&filament.material),
            filament.colour.clone(),
            grams(order.grams),
            least,
            most,
            grams(order.on_hand),
            order.spools.to_string(),
            grams(filament.spool),
            format!("{:.2}", price.0),
            order.order_by.map_or_else(String::new, |by| by.to_string()),
            arrives.map_or_else(String::new, |at| local.rfc3339(at)),
        ]
    });
    written(std::iter::once(ORDERS.map(str::to_owned)).chain(rows))
}

const HARDWARE: [&str; 9] = [
    "item",
    "joint",
    "part",
    "length_mm",
    "count",
    "all_mm",
    "grams",
    "price",
    "needed_by",
];

/// Rods, tubes and dowels to cut as CSV with CRLF line ends, by joint and part. `needed_by` is when the first joint of them is
/// glued.
pub fn hardware_csv(scenario: &Scenario, plan: &Plan) -> String {
    let local = Local(scenario.build.zone);
    let rows = cuts(scenario, plan);
    let rows = rows.into_iter().map(|cut| {
        let joint = &scenario.joints[cut.joint];
        let all = cut.length * f64::from(cut.count);
        [
            guarded(cut.item),
            guarded(&joint.id),
            guarded(&scenario.parts[cut.part].id),
            super::html::short(cut.length),
            cut.count.to_string(),
            super::html::short(all),
            format!("{:.0}", all * cut.grams_per_mm),
            format!("{:.2}", all * cut.price_per_mm),
            cut.needed.map_or_else(String::new, |at| local.rfc3339(at)),
        ]
    });
    written(std::iter::once(HARDWARE.map(str::to_owned)).chain(rows))
}

/// Hardware of one length for the joints of one part.
struct Cut<'a> {
    joint: usize,
    part: usize,
    item: &'a str,
    length: f64,
    grams_per_mm: f64,
    price_per_mm: f64,
    count: u32,
    needed: Option<DateTime<Utc>>,
}

fn cuts<'a>(scenario: &'a Scenario, plan: &Plan) -> Vec<Cut<'a>> {
    let mut cuts: Vec<Cut> = Vec::new();
    for used in &plan.routes {
        let Some(joint) = used.joint else { continue };
        let Some(hardware) = &scenario.joints[joint.0].hardware else {
            continue;
        };
        let joints = RouteUse::joints(used);
        let known = cuts
            .iter_mut()
            .find(|cut| (cut.joint, cut.part) == (joint.0, used.part.0));
        if let Some(cut) = known {
            cut.count += joints;
        } else if joints > 0 {
            let gluings = plan
                .gluings
                .iter()
                .filter(|gluing| gluing.part == used.part);
            cuts.push(Cut {
                joint: joint.0,
                part: used.part.0,
                item: &hardware.item,
                length: hardware.length.0,
                grams_per_mm: hardware.grams_per_mm,
                price_per_mm: hardware.price_per_mm.0,
                count: joints,
                needed: gluings
                    .filter_map(|gluing| Some(gluing.work.first()?.from))
                    .min(),
            });
        }
    }
    cuts.sort_by_key(|cut| (cut.joint, cut.part));
    cuts
}
