//! Meshes from files: what is read, what is refused, what is remembered, and plans of parts that have them.

mod cache;
mod hostile;
mod made;
mod plans;
mod reading;
