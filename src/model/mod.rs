//! Linear programming: what the search cannot see from one machine, and what no plan can beat.
//!
//! Knows: numbers, inequalities, the solver. Must not know: how a plan is searched for, files, screens.
//! Promises: nothing outside this folder names a solver; a solve that was stopped is never called optimal; a bound is
//! computed so that a solver's tolerance cannot lift it above the optimum.
//!
//! - [`linear`]: a linear program in plain numbers, and the lower bound that any prices prove.
//! - [`solver`]: which program solves it, the only place that knows their names.
//! - [`relaxation`]: what no plan can beat, from the scenario alone.
//! - [`master`]: run sheets of all machines joined into one plan.
//! - [`packed`]: the shop with its runs already packed, as numbers.
//! - [`columns`]: what no queue of those runs can beat, by column generation.

pub mod columns;
pub mod linear;
mod lp;
pub mod master;
pub mod packed;
pub mod relaxation;
pub mod solver;
