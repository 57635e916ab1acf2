//! Cross-sections of rods and tubes: `M8`, `rod 8`, `tube 12 x 1`, `square 15 x 1`.
//!
//! Knows: the notation. Must not know: what they are made of.
//! Promises: a section comes out only if it can be: a wall is thinner than half the outside.

use super::numbers::number;
use super::{Ask, Kind, text};
use crate::scenario::profile::Profile;
use crate::scenario::tree::Node;

/// Largest outside, mm.
const LARGEST: f64 = 200.0;
/// Least outside or wall, mm.
const LEAST: f64 = 0.1;

/// A cross-section.
pub struct Profiles;

fn profile(written: &str) -> Option<Profile> {
    if let Some(diameter) = written.strip_prefix(['M', 'm']) {
        return Profile::thread(diameter.trim().parse().ok()?);
    }
    let (word, rest) = written.split_once(' ')?;
    let length = |text: &str| number(text.trim()).filter(|mm| (LEAST..=LARGEST).contains(mm));
    if word == "rod" {
        return Some(Profile::Rod {
            diameter: length(rest)?,
        });
    }
    let (outside, wall) = rest.split_once(['x', '×'])?;
    let (outside, wall) = (length(outside)?, length(wall)?);
    match word {
        _ if 2.0 * wall >= outside => None,
        "tube" => Some(Profile::Tube { outside, wall }),
        "square" => Some(Profile::Square {
            side: outside,
            wall,
        }),
        _ => None,
    }
}

impl Kind for Profiles {
    type Out = Profile;

    fn read(&self, node: &Node, ask: &mut Ask<'_>) -> Option<Profile> {
        let written = text(self, node, ask)?;
        match profile(written) {
            Some(profile) => Some(profile),
            None => ask.refuse(node, format!("must be {}", self.rule())),
        }
    }

    fn rule(&self) -> String {
        format!(
            "M3 to M24 (coarse thread), rod 8 (diameter), tube 12 x 1 (outside, wall) or square 15 x 1 (side, wall), at most \
             {LARGEST} mm"
        )
    }

    #[cfg(test)]
    fn outside(&self) -> Vec<String> {
        [
            "M7",
            "M2",
            "M27",
            "rod",
            "rod 0",
            "rod 201",
            "tube 12",
            "tube 12 x 6",
            "square 15 x 0",
            "bar 5 x 1",
            "8",
            "[8]",
            "rod .nan",
        ]
        .map(str::to_owned)
        .to_vec()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sections_are_written_as_a_shop_names_them() {
        let pitch = 1.25;
        assert_eq!(profile("M8"), Some(Profile::Thread { diameter: 8, pitch }));
        assert_eq!(profile("rod 6.5"), Some(Profile::Rod { diameter: 6.5 }));
        let tube = Some(Profile::Tube {
            outside: 12.0,
            wall: 1.0,
        });
        for written in ["tube 12 x 1", "tube 12x1", "tube 12 × 1"] {
            assert_eq!(profile(written), tube, "{written}");
        }
        let square = Profile::Square {
            side: 15.0,
            wall: 1.0,
        };
        assert_eq!(profile("square 15 x 1"), Some(square));
    }
}
