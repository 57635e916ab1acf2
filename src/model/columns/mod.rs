//! A lower bound for runs as packed, by column generation over dated run sheets, and a proof of optimality by branching.
//!
//! Knows: the packed shop. Must not know: scenarios, pieces, files, screens.
//! Promises: see [`prove`].

mod ascent;
mod branch;
mod dating;
mod domain;
mod frame;
mod goals;
mod ladder;
mod master;
mod node;
mod pricing;
mod prove;

#[cfg(test)]
mod tests;

pub use prove::{Known, Progress, Proof, prove};
