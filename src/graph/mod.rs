//! What must come before what: order, rings; what waits for hands, and by how much it may slip.
//!
//! Knows: nodes by number, which comes before which, whole spans of one unit of time. Must not know: parts, machines,
//! calendars, prices.
//! Promises: an order lists every node after all that come before it; a ring is named in full; nothing recurses, so a
//! long chain cannot exhaust the stack.

mod hands;
mod network;
mod slips;

pub use hands::{Handwork, left_hands};
pub use network::{Network, Ring, cycle};
pub use slips::{Activity, Hands, floats};
