//! Boxes: what fits inside what.
//!
//! Knows: lengths. Must not know: machines, parts, time.
