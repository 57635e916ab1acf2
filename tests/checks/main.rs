//! Values published outside this project, each with its source, that the program must reproduce.

mod clocks;
mod critical_path;
mod plastic;
mod rectangles;
//! Beamyard against published values; each stands here with its source.
mod bins;
