//! Values published outside this project, each with its source, that the program must reproduce.

mod clocks;
mod critical_path;
mod plastic;
mod rectangles;
