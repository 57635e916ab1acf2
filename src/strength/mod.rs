//! Whether a long part carries itself and its load: its sag at once, bare and with each rod or tube there is.
//!
//! Knows: parts that say that they span, print settings, moduli, hardware. Must not know: routes, dates, plans.
//! Promises: a guide for choosing a rod, never a proof: one beam of one section at its best, without creep, without the
//! weakness of a glued joint; more load, more length and less modulus never sag less.

mod beam;
mod span;

pub use beam::{GRAVITY, moment, sag_even, sag_point, weight};
pub use span::{Reinforced, Span, Verdict, spans};
