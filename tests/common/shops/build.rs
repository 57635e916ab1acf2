//! What is to be built: parts of every shape that asks for another route, and the assemblies that take them.

use beamyard::scenario::{Axis, JointIndex, Part, Shape, Split, Turns};
use beamyard::units::{Grams, Millimetres, Seconds};
use chrono::{DateTime, TimeDelta, Utc};
use proptest::collection::vec;
use proptest::option::weighted;
use proptest::prelude::*;
use proptest::sample::{select, subsequence};

use super::prism;

/// A part whose filament, setting and takers are still bare numbers.
#[derive(Clone, Debug)]
pub struct DrawnPart {
    pub size: [f64; 3],
    pub solid: f64,
    /// A flat mesh and how it may be turned; it lies as drawn, and is not split.
    pub form: Option<(Form, Turns)>,
    pub filament: u8,
    pub settings: u8,
    pub lie: Vec<Axis>,
    /// Fewest and most lengths.
    pub split: Option<(u32, u32)>,
    pub belt: bool,
    /// Seconds for each piece.
    pub finishing: f64,
    pub spares: u32,
    pub trial: u32,
    pub alone: bool,
    /// Minutes from the build's start.
    pub ready: Option<i64>,
    /// Measured minutes by machine.
    pub minutes: [Option<f64>; 3],
    pub grams: Option<f64>,
    /// Which machines may make it; none named: all.
    pub only: [bool; 3],
    /// For each copy, which assembly takes it.
    pub takers: Vec<u8>,
}

/// What an outline looks like, within its part's box.
#[derive(Clone, Copy, Debug)]
pub enum Form {
    /// Two arms, a third as wide as the shorter side.
    Bracket,
    /// Half the box.
    Wedge,
    /// A bar with two prongs.
    Fork,
}

impl Form {
    fn corners(self, [x, y, _]: [f64; 3]) -> Vec<[f64; 2]> {
        let wide = x.min(y) / 3.0;
        match self {
            Self::Bracket => vec![
                [0.0, 0.0],
                [x, 0.0],
                [x, wide],
                [wide, wide],
                [wide, y],
                [0.0, y],
            ],
            Self::Wedge => vec![[0.0, 0.0], [x, 0.0], [0.0, y]],
            Self::Fork => vec![
                [0.0, 0.0],
                [x, 0.0],
                [x, y],
                [0.75 * x, y],
                [0.75 * x, y / 3.0],
                [0.25 * x, y / 3.0],
                [0.25 * x, y],
                [0.0, y],
            ],
        }
    }
}

fn form() -> impl Strategy<Value = (Form, Turns)> {
    (
        select(vec![Form::Bracket, Form::Wedge, Form::Fork]),
        select(vec![
            Turns::USUAL,
            Turns::Every(45),
            Turns::Every(30),
            Turns::Never,
        ]),
    )
}

/// How many there are of what a part names.
#[derive(Clone, Copy, Debug)]
pub struct Fields {
    pub machines: usize,
    pub filaments: usize,
    pub settings: usize,
}

/// Boxes that ask for different routes on the drawn beds.
fn size() -> impl Strategy<Value = [f64; 3]> {
    prop_oneof![
        // Many to a plate, or a few.
        12 => (10.0..90.0f64, 10.0..90.0f64, 4.0..50.0f64).prop_map(|(x, y, z)| [x, y, z]),
        // Most of a bed, flat.
        2 => select(vec![[150.0, 120.0, 8.0], [110.0, 110.0, 20.0], [195.0, 100.0, 5.0]]),
        // Along a side on one bed, across the corners of another.
        2 => select(vec![[245.0, 16.0, 12.0], [150.0, 14.0, 14.0], [330.0, 12.0, 10.0]]),
        // On a belt or in lengths.
        2 => select(vec![[420.0, 30.0, 24.0], [700.0, 40.0, 30.0], [30.0, 360.0, 24.0]]),
        // Taller than some machines.
        1 => Just([40.0, 35.0, 130.0]),
    ]
    .prop_map(|size: [f64; 3]| size.map(|side| (side * 10.0).round() / 10.0))
}

pub fn part() -> impl Strategy<Value = DrawnPart> {
    let looks = (size(), select(vec![0.3, 1.0]), 0..3u8, 0..2u8);
    let lie = prop_oneof![
        Just(vec![Axis::Z]),
        Just(Axis::ALL.to_vec()),
        subsequence(Axis::ALL.to_vec(), 1..=3),
    ];
    let ways = (
        lie,
        weighted(
            0.8,
            (2..4u32, 0..3u32).prop_map(|(least, more)| (least, least + more)),
        ),
        prop::bool::weighted(0.7),
    );
    let wishes = (
        select(vec![0.0, 45.0, 240.0]),
        prop_oneof![3 => Just(0u32), 1 => 1..=2u32],
        prop_oneof![3 => Just(0u32), 1 => 1..=2u32],
        prop::bool::weighted(0.15),
        weighted(0.2, 0..4000i64),
    );
    let measured = (
        [
            weighted(0.15, 5.0..400.0f64),
            weighted(0.15, 5.0..400.0f64),
            weighted(0.15, 5.0..400.0f64),
        ],
        weighted(0.2, 2.0..300.0f64),
        prop_oneof![9 => Just([true; 3]), 1 => any::<[bool; 3]>()],
    );
    let looks = (looks, weighted(0.3, form()));
    (looks, ways, wishes, measured, vec(any::<u8>(), 1..=6)).prop_map(
        |((looks, form), ways, wishes, measured, takers)| {
            let (size, solid, filament, settings) = looks;
            let (mut lie, mut split, belt) = ways;
            if form.is_some() {
                (lie, split) = (vec![Axis::Z], None);
            }
            let (finishing, spares, trial, alone, ready) = wishes;
            let (minutes, grams, only) = measured;
            DrawnPart {
                size,
                solid,
                form,
                filament,
                settings,
                lie,
                split,
                belt,
                finishing,
                spares,
                trial,
                alone,
                ready,
                minutes,
                grams,
                only,
                takers,
            }
        },
    )
}

impl DrawnPart {
    pub fn part(&self, at: usize, start: DateTime<Utc>, fields: Fields) -> Part {
        let mut only = self.only[..fields.machines].to_vec();
        if !only.contains(&true) {
            only.fill(true);
        }
        let mesh = self
            .form
            .map(|(form, _)| prism::measured(&form.corners(self.size), self.size[2]));
        Part {
            id: format!("part-{at}"),
            quantity: self.takers.len() as u32,
            size: mesh
                .as_ref()
                .map_or(self.size, |mesh| mesh.whole.size())
                .map(Millimetres),
            turns: self.form.map_or(Turns::USUAL, |(_, turns)| turns),
            shape: match mesh {
                Some(mesh) => Shape::Mesh(mesh),
                None => Shape::Box { solid: self.solid },
            },
            filament: super::filament(self.filament, fields.filaments),
            settings: super::setting(self.settings, fields.settings),
            lie: self.lie.clone(),
            split: self.split.map(|(least, most)| Split {
                joint: JointIndex(0),
                into: least..=most,
            }),
            belt: self.belt,
            finishing: Seconds(self.finishing),
            spares: self.spares,
            reserve: false,
            together: None,
            variants: Vec::new(),
            trial: self.trial.min(self.takers.len() as u32),
            alone: self.alone,
            ready: self
                .ready
                .map(|minutes| start + TimeDelta::minutes(minutes)),
            minutes: self.minutes[..fields.machines].to_vec(),
            only,
            span: None,
            grams: self.grams.map(Grams),
            toolpaths: Vec::new(),
        }
    }
}

/// An assembly that names what it needs by a bit for each assembly before it.
#[derive(Clone, Debug)]
pub struct DrawnAssembly {
    pub needs: u8,
    pub bench: i64,
    pub cure: i64,
    /// Minutes from the build's start.
    pub due: Option<i64>,
    /// Money per day.
    pub late: f64,
}

pub fn assembly() -> impl Strategy<Value = DrawnAssembly> {
    (
        any::<u8>(),
        select(vec![0, 30, 200]),
        select(vec![0, 240, 1440]),
        weighted(0.6, 600..15_000i64),
        select(vec![0.0, 10.0, 40.0]),
    )
        .prop_map(|(needs, bench, cure, due, late)| DrawnAssembly {
            needs,
            bench,
            cure,
            due,
            late,
        })
}
