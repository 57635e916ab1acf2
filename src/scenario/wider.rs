//! What a scenario may say beyond what a plan needs: the original, what spans, where things are, how they are lifted.
//!
//! Knows: the words of forecasts, sag and lifting. Must not know: YAML, files, what is reckoned from them.
//! Promises: what was settled here is within the limits of the table of fields; lengths are at print scale but for the
//! original's.

use super::model::{AssemblyIndex, Axis, PartIndex};
use super::profile::Profile;
use crate::units::{Grams, Megapascals, Millimetres};

/// What a build enlarges, as far as it is known; before `scale`.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Original {
    /// Length, width and height.
    pub size: Option<[Millimetres; 3]>,
    /// Mass.
    pub mass: Option<Grams>,
}

/// An earlier build: what its original weighed, and what its print did.
#[derive(Clone, Debug, PartialEq)]
pub struct Earlier {
    /// Its name.
    pub name: String,
    /// Original to print.
    pub scale: f64,
    /// Mass of its original.
    pub original: Grams,
    /// Mass of its print, weighed.
    pub printed: Grams,
}

/// What a rod or tube is across, and how stiff its material.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stiffener {
    /// Its section.
    pub profile: Profile,
    /// Modulus of elasticity along it.
    pub modulus: Megapascals,
}

/// How a beam is held.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ends {
    /// On two supports, free to turn.
    Simple,
    /// At one end, which cannot turn; the other is free.
    Cantilever,
    /// At both ends, which cannot turn.
    Clamped,
}

/// What a part has to span.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Span {
    /// Between the supports, or to the free end; `None`: the part's longest side.
    pub length: Option<Millimetres>,
    /// What it carries besides itself, in the worst place.
    pub load: Grams,
    /// How it is held.
    pub ends: Ends,
    /// It may sag so much; `None`: the usual share of the span.
    pub limit: Option<Millimetres>,
    /// The axis along which it sags; `None`: whichever it sags more along.
    pub down: Option<Axis>,
}

/// Where things are in an assembly's own frame, at print scale.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Places {
    /// Centres of the boxes of a part's copies: as many as the assembly takes.
    pub parts: Vec<(PartIndex, Vec<[Millimetres; 3]>)>,
    /// Where the origin of a needed assembly's frame is; the frames are not turned.
    pub needs: Vec<(AssemblyIndex, [Millimetres; 3])>,
}

/// How well hands hold something.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Grip {
    /// Handles or cut-outs of good size.
    Good,
    /// Something to hold, not made for it.
    Fair,
    /// Slippery, sagging, sharp-edged or without anything to hold.
    Poor,
}

/// One lift by one person, with both hands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Handling {
    /// From the ankles to the hands, level; cm.
    pub reach: f64,
    /// Height of the hands over the floor at the start; cm.
    pub from: f64,
    /// And at the end; cm.
    pub to: f64,
    /// How far the body turns; degrees.
    pub turn: f64,
    /// How well it is held.
    pub grip: Grip,
}
