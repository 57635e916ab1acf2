//! The parts of a scenario that span, one by one.
//!
//! Knows: how a part's walls come from its settings, which rods and tubes there are. Must not know: the formulas' insides.
//! Promises: of the ways a part may lie when printed, and of the ways it may be turned in use, the one that sags most is
//! taken, unless the part says which way is down.

use crate::estimate;
use crate::geometry::{Walls, full_box, hollow_box, inside};
use crate::scenario::{
    Axis, Ends, Hardware, JointIndex, Part, PartIndex, Scenario, Settings, Stiffener,
};
use crate::units::{Grams, Megapascals, Millimetres, Money};

use super::beam::{GRAVITY, moment, sag_even, sag_point, weight};

/// One part that spans, with all that may be laid into it.
#[derive(Clone, Debug, PartialEq)]
pub struct Span {
    /// The part.
    pub part: PartIndex,
    /// Between the supports, or from the support to the free end.
    pub length: Millimetres,
    /// Its load, in the worst place.
    pub load: Grams,
    /// How it is held.
    pub ends: Ends,
    /// It may sag so much.
    pub limit: Millimetres,
    /// Its section: across and along the way it sags.
    pub section: [Millimetres; 2],
    /// Sag as printed, at once.
    pub sag: Millimetres,
    /// The greatest bending stress at once, as printed.
    pub stress: Megapascals,
    /// With each rod or tube over the full length, in the order of the joints.
    pub reinforced: Vec<Reinforced>,
    /// What is enough.
    pub verdict: Verdict,
    /// Whether it may be made in lengths, so that something has to lie in its joints.
    pub may_be_split: bool,
    /// The lightest rod or tube with which it keeps its limit, needed or not: its position in `reinforced`.
    pub lightest: Option<usize>,
}

/// A span with a rod or tube bonded into it, centred, over its full length.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reinforced {
    /// The joint whose hardware it is.
    pub joint: JointIndex,
    /// Sag at once.
    pub sag: Millimetres,
    /// Mass of the rod or tube.
    pub mass: Grams,
    /// Its price.
    pub price: Money,
    /// Whether there is room for it between the walls.
    pub fits: bool,
}

/// What keeps the sag within its limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// The print alone.
    Bare,
    /// The lightest rod or tube that does: its position in [`Span::reinforced`].
    With(usize),
    /// Nothing there is.
    Nothing,
}

/// Every part that says that it spans, in the scenario's order.
pub fn spans(scenario: &Scenario) -> Vec<Span> {
    let parts = (0..scenario.parts.len()).map(PartIndex);
    parts.filter_map(|part| span(scenario, part)).collect()
}

/// A beam as printed and turned one way.
#[derive(Clone, Copy, Debug)]
struct Beam {
    /// Across and along the way it sags.
    outside: [f64; 2],
    /// Room between its walls, likewise.
    room: [f64; 2],
    /// From the neutral axis to the outermost fibre, mm.
    edge: f64,
    /// Flexural rigidity, N·mm².
    rigidity: f64,
    grams_per_mm: f64,
}

fn span(scenario: &Scenario, index: PartIndex) -> Option<Span> {
    let part = &scenario.parts[index.0];
    let asked = part.span?;
    let modulus = scenario.filaments[part.filament.0].modulus?; // a rule asks for it where something spans
    let along = longest(part.size);
    let length = asked.length.unwrap_or(part.size[along]);
    let (l, load) = (length.value(), asked.load.value() * GRAVITY / 1000.0);
    let sag = |beam: &Beam, rigidity: f64, further: f64| {
        let own = weight(beam.grams_per_mm + further);
        sag_even(asked.ends, own, l, rigidity) + sag_point(asked.ends, load, l, rigidity)
    };
    let beams = uprights(part, along).into_iter().flat_map(|upright| {
        let downs = Axis::ALL.into_iter().filter(move |&down| {
            down.index() != along && asked.down.is_none_or(|asked| asked == down)
        });
        downs.map(move |down| beam(scenario, part, along, upright, down, modulus))
    });
    let beam = beams.max_by(|a, b| sag(a, a.rigidity, 0.0).total_cmp(&sag(b, b.rigidity, 0.0)))?;
    let limit = asked.limit.unwrap_or(length * (1.0 / USUAL_LIMIT));
    let reinforced: Vec<Reinforced> = scenario
        .joints
        .iter()
        .enumerate()
        .filter_map(|(joint, it)| {
            let hardware = it.hardware.as_ref()?;
            let stiffener = hardware.stiffener?;
            let own = hardware.grams_per_mm;
            let rigidity = beam.rigidity + bending(&stiffener);
            Some(Reinforced {
                joint: JointIndex(joint),
                sag: Millimetres(sag(&beam, rigidity, own)),
                mass: Grams(own * l),
                price: price(hardware, l),
                fits: beam
                    .room
                    .iter()
                    .all(|&room| room + 1e-9 >= stiffener.profile.outside()),
            })
        })
        .collect();
    let lightest = lightest(limit, &reinforced);
    let bare = Millimetres(sag(&beam, beam.rigidity, 0.0));
    let own = weight(beam.grams_per_mm);
    // M·z/I, where E·I is what the beam has in all.
    let stress = moment(asked.ends, own, load, l) * beam.edge * modulus.value() / beam.rigidity;
    Some(Span {
        part: index,
        length,
        load: asked.load,
        ends: asked.ends,
        limit,
        section: beam.outside.map(Millimetres),
        sag: bare,
        stress: Megapascals(stress),
        verdict: match lightest {
            _ if bare <= limit => Verdict::Bare,
            Some(at) => Verdict::With(at),
            None => Verdict::Nothing,
        },
        may_be_split: part.split.is_some(),
        lightest,
        reinforced,
    })
}

/// A span may sag a so manieth of itself, where it does not say how much: EN 1992-1-1:2004, 7.4.1(4), names span/250 for
/// beams and slabs under lasting loads, for appearance and use (from memory). For printed beams it is common practice, no
/// source.
const USUAL_LIMIT: f64 = 250.0;

/// The position of the lightest that fits and keeps the limit; of equally heavy ones the cheapest.
fn lightest(limit: Millimetres, reinforced: &[Reinforced]) -> Option<usize> {
    let key = |with: &Reinforced| (with.mass.0, with.price.0);
    let holding = reinforced.iter().enumerate();
    let holding = holding.filter(|(_, with)| with.fits && with.sag <= limit);
    holding
        .min_by(|(_, a), (_, b)| {
            let (a, b) = (key(a), key(b));
            a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1))
        })
        .map(|(at, _)| at)
}

/// E·I of a rod or tube about its own axis.
fn bending(stiffener: &Stiffener) -> f64 {
    stiffener.modulus.value() * stiffener.profile.section().inertia
}

fn price(hardware: &Hardware, length: f64) -> Money {
    hardware.price_per_mm * length
}

/// The position in `size` of the longest side, the first of equal ones.
fn longest(size: [Millimetres; 3]) -> usize {
    (0..3).fold(0, |best, at| if size[at] > size[best] { at } else { best })
}

/// The axes that may stand upright in printing: of those across the span any that the part allows, else the one along it.
fn uprights(part: &Part, along: usize) -> Vec<Axis> {
    let across: Vec<Axis> = part
        .lie
        .iter()
        .copied()
        .filter(|axis| axis.index() != along)
        .collect();
    if across.is_empty() {
        part.lie.clone()
    } else {
        across
    }
}

/// A part as a beam: printed with `upright` up, in use with `down` down.
///
/// Its walls are what the settings make: perimeters × line at the sides of the print, top and bottom layers × height above
/// and below; a print that stands has perimeters all round. What is inside counts with the square of the infill's share, as
/// the modulus of an open-cell foam goes with its density (L. Gibson, M. Ashby, Cellular Solids, 2nd ed. 1997, from memory).
/// Where the part fills only a share of its box, so much of the stiffness is taken (common practice, no source).
fn beam(
    scenario: &Scenario,
    part: &Part,
    along: usize,
    upright: Axis,
    down: Axis,
    modulus: Megapascals,
) -> Beam {
    let settings = &scenario.settings[part.settings.0];
    let filament = &scenario.filaments[part.filament.0];
    let across = 3 - along - down.index(); // the three positions add up to 3
    let (width, depth) = (part.size[across].value(), part.size[down.index()].value());
    let walls = walls(settings, along, upright, down);
    let shell = hollow_box(width, depth, walls);
    let room = inside(width, depth, walls);
    let core = full_box(room[0], room[1]).inertia * settings.infill * settings.infill;
    let lying = lying(part.size, upright);
    // Which machine will print it is not known here, so no correction of a machine's.
    let estimated = || estimate::extruded_volume(lying, part.solid(), settings) * filament.density;
    let grams = part.grams.unwrap_or_else(estimated);
    Beam {
        outside: [width, depth],
        room,
        edge: shell.edge,
        rigidity: modulus.value() * part.solid() * (shell.inertia + core),
        grams_per_mm: grams.value() / part.size[along].value(),
    }
}

fn walls(settings: &Settings, along: usize, upright: Axis, down: Axis) -> Walls {
    let sides = f64::from(settings.perimeters) * settings.line.value();
    let layers = |count: u32| f64::from(count) * settings.layer.value();
    let (top, bottom) = (layers(settings.top), layers(settings.bottom));
    if upright.index() == along {
        Walls {
            sides,
            top: sides,
            bottom: sides,
        }
    } else if upright == down {
        Walls { sides, top, bottom }
    } else {
        // On its side: what was above and below in printing stands left and right, at its mean; which is which is all the same
        // to bending about the other axis.
        Walls {
            sides: (top + bottom) / 2.0,
            top: sides,
            bottom: sides,
        }
    }
}

/// A box as it lies with one axis upright.
fn lying([x, y, z]: [Millimetres; 3], upright: Axis) -> [Millimetres; 3] {
    match upright {
        Axis::X => [y, z, x],
        Axis::Y => [x, z, y],
        Axis::Z => [x, y, z],
    }
}
