//! The linear programs: what no plan can beat, and how sheets of several plans join best.
//!
//! Knows: numbers (`packed`). Must not know: files, screens. The only place that names good_lp.

pub mod columns;
mod lp;
pub mod packed;
