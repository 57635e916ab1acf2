//! The whole planner, by rule: any shop that can be drawn, tiny ones against all their queues, real ones against
//! common sense.

#[path = "../common/exhaustive/mod.rs"]
mod exhaustive;
#[path = "../common/shops/mod.rs"]
mod shops;

mod drawn;
mod measured;
mod optimum;
mod support;
