//! Construction and improvement of run sheets.
//!
//! Knows: the shop as numbers. Must not know: files, text, the linear program.
//! Promises: whatever comes out is dated by the calendar's rules and costed exactly; the same seed and the same effort
//! give the same queue on any number of processors.

pub mod anneal;
pub mod apart;
pub mod bench_work;
pub mod calm;
mod completion;
pub mod construct;
pub mod dating;
pub mod edit;
mod explore;
mod facts;
pub mod fitter;
mod hands;
pub mod holds;
mod idle;
pub mod moves;
pub mod plate;
pub mod portfolio;
pub mod repair;
mod rounds;
mod severally;
pub mod shop;
pub mod snapshot;
pub mod spares;
pub mod state;
pub mod supply;
mod tidy;
