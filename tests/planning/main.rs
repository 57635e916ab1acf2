//! The whole planner, by rule: any shop that can be drawn, tiny ones against all their queues, real ones against
//! common sense.

#[path = "../common/exhaustive/mod.rs"]
mod exhaustive;
#[path = "../common/hall.rs"]
mod hall;
#[path = "../common/shops/mod.rs"]
mod shops;

#[path = "../common/moment/mod.rs"]
mod moment;
#[allow(dead_code, unused_imports, reason = "other tests use the rest of it")]
#[path = "../common/tide_clock/mod.rs"]
mod tide_clock;

mod again;
mod alike;
mod anything;
mod apart;
mod attended;
mod belts;
mod calm;
mod critical;
mod drawn;
mod exact;
mod floats;
mod gone;
mod idle;
mod measured;
mod moves;
mod optimum;
mod outlines;
mod processors;
mod reasons;
mod reserves;
mod spares;
mod supply;
mod support;
mod watched;
