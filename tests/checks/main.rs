//! Values published outside this project, each with its source, that the program must reproduce.

mod beams;
mod bins;
mod clocks;
mod critical_path;
mod failures;
mod machines;
mod meshes;
mod plastic;
mod rectangles;
mod strips;
