//! Beamyard against published values; each stands here with its source.

mod bins;
