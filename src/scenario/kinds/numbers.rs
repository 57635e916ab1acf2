//! Numbers with a unit, counts, shares and durations.
//!
//! Knows: YAML's numbers, `5%`, `1 h 30 min`. Must not know: which fields there are.
//! Promises: finite and within the limits.

use super::{Ask, Kind, text};
use crate::scenario::tree::Node;

/// A finite number in a unit that the field's name implies.
pub struct Number {
    /// The unit, for messages; empty for a bare number.
    pub unit: &'static str,
    /// Least value allowed.
    pub least: f64,
    /// Greatest value allowed.
    pub most: f64,
}

/// A whole number.
pub struct Whole {
    /// What is counted, for messages.
    pub unit: &'static str,
    /// Least value allowed.
    pub least: u32,
    /// Greatest value allowed.
    pub most: u32,
}

/// A share of a whole: `5%` or `0.05`.
pub struct Share {
    /// Least value allowed.
    pub least: f64,
    /// Greatest value allowed.
    pub most: f64,
}

/// A duration with units, in seconds: `12 min`, `6 h`, `1 h 30 min`.
pub struct Duration {
    /// Greatest value allowed, as written; the least is none at all.
    pub most: &'static str,
}

/// Minutes as a bare number, or a duration with units.
pub struct Minute {
    /// Least value allowed.
    pub least: f64,
    /// Greatest value allowed.
    pub most: f64,
}

/// A number as YAML writes it. Infinite and undefined ones are no numbers here.
pub fn number(text: &str) -> Option<f64> {
    let number: serde_yaml::Number = text.parse().ok()?;
    number.as_f64().filter(|number| number.is_finite())
}

/// Whether this is how a number is written that is too large to be one, infinite, or undefined.
fn is_endless(text: &str) -> bool {
    text.parse::<f64>().is_ok() || text.parse::<serde_yaml::Number>().is_ok()
}

fn with_unit(number: f64, unit: &str) -> String {
    match unit {
        "" => format!("{number}"),
        _ => format!("{number} {unit}"),
    }
}

impl Number {
    /// In grams, what was written in kilograms: of a mass too small for its field that is right a thousand times over.
    fn grams(&self, number: f64) -> Option<f64> {
        // No spool weighs more; what is left on one may well be a dozen grams.
        const MOST: f64 = 10_000.0;
        let grams = (number * 1000.0).round();
        let fits =
            number < self.least && grams <= MOST && (self.least..=self.most).contains(&grams);
        (self.unit == "g" && fits).then_some(grams)
    }

    fn unit_phrase(&self) -> String {
        match self.unit {
            "" => String::new(),
            unit => format!(" in {unit}, without the unit"),
        }
    }
}

impl Kind for Number {
    type Out = f64;

    fn read(&self, node: &Node, ask: &mut Ask<'_>) -> Option<f64> {
        let written = text(self, node, ask)?;
        match number(written) {
            Some(number) if (self.least..=self.most).contains(&number) => Some(number),
            Some(number) => match self.grams(number) {
                Some(grams) => ask.refuse_with(
                    node,
                    format!("must be {}", self.rule()),
                    format!("write {grams} for {number} kg"),
                ),
                None => ask.refuse(node, format!("must be {}", self.rule())),
            },
            None if is_endless(written) => ask.refuse(node, format!("must be {}", self.rule())),
            None if written.contains(',') && number(&written.replace(',', ".")).is_some() => ask
                .refuse_with(
                    node,
                    "a decimal point is a point, not a comma",
                    format!("write {}", written.replace(',', ".")),
                ),
            None => ask.refuse(node, format!("must be a number{}", self.unit_phrase())),
        }
    }

    fn rule(&self) -> String {
        format!("{} to {}", self.least, with_unit(self.most, self.unit))
    }

    #[cfg(test)]
    fn outside(&self) -> Vec<String> {
        vec![
            format!("{}", self.least - 0.001),
            format!("{}", self.most * 1.001),
            ".nan".to_owned(),
            ".inf".to_owned(),
        ]
    }
}

impl Whole {
    /// The number, if it is whole and within the limits.
    pub(super) fn within(&self, written: &str) -> Option<u32> {
        let number = number(written).filter(|n| n.fract() == 0.0)?;
        let limits = f64::from(self.least)..=f64::from(self.most);
        // The limits are those of u32, so nothing is lost.
        limits.contains(&number).then_some(number as u32)
    }
}

impl Kind for Whole {
    type Out = u32;

    fn read(&self, node: &Node, ask: &mut Ask<'_>) -> Option<u32> {
        let written = text(self, node, ask)?;
        match self.within(written) {
            Some(number) => Some(number),
            None => ask.refuse(node, format!("must be {}", self.rule())),
        }
    }

    fn rule(&self) -> String {
        let number = format!("a whole number, {} to {}", self.least, self.most);
        match self.unit {
            "" => number,
            unit => format!("{number} {unit}"),
        }
    }

    #[cfg(test)]
    fn outside(&self) -> Vec<String> {
        vec![
            format!("{}", i64::from(self.least) - 1),
            format!("{}", u64::from(self.most) + 1),
            format!("{}.5", self.least),
        ]
    }
}

/// A share as written, unchecked.
fn share(text: &str) -> Option<f64> {
    match text.strip_suffix('%') {
        Some(percent) => number(percent.trim_end()).map(|percent| percent / 100.0),
        None => number(text),
    }
}

impl Kind for Share {
    type Out = f64;

    fn read(&self, node: &Node, ask: &mut Ask<'_>) -> Option<f64> {
        let written = text(self, node, ask)?;
        match share(written) {
            Some(share) if (self.least..=self.most).contains(&share) => Some(share),
            Some(share) if !written.ends_with('%') && share > 1.0 && share <= 100.0 => ask
                .refuse_with(
                    node,
                    format!("must be {}", self.rule()),
                    format!("write `{share}%` or `{}`", share / 100.0),
                ),
            _ => ask.refuse(node, format!("must be {}", self.rule())),
        }
    }

    fn rule(&self) -> String {
        format!("a share, {}% to {}%", self.least * 100.0, self.most * 100.0)
    }

    #[cfg(test)]
    fn outside(&self) -> Vec<String> {
        vec![
            format!("{}", self.least - 0.001),
            format!("{}%", self.most * 100.0 + 0.1),
            ".nan".to_owned(),
            "%".to_owned(),
        ]
    }
}

/// Seconds of a duration as written, unchecked: one or more numbers, each with `s`, `min`, `h` or `d`.
pub fn seconds(text: &str) -> Option<f64> {
    if number(text) == Some(0.0) {
        return Some(0.0);
    }
    let mut rest = text.trim();
    let mut sum = 0.0;
    while !rest.is_empty() {
        let digits = rest
            .find(|c: char| !(c.is_ascii_digit() || c == '.'))
            .unwrap_or(rest.len());
        let (amount, after) = rest.split_at(digits);
        let after = after.trim_start();
        let letters = after
            .find(|c: char| !c.is_ascii_alphabetic())
            .unwrap_or(after.len());
        let (unit, after) = after.split_at(letters);
        let factor = match unit {
            "s" => 1.0,
            "min" => 60.0,
            "h" => 3600.0,
            "d" => 86400.0,
            _ => return None,
        };
        sum += number(amount)? * factor;
        rest = after.trim_start();
    }
    (!text.trim().is_empty()).then_some(sum)
}

impl Kind for Duration {
    type Out = f64;

    fn read(&self, node: &Node, ask: &mut Ask<'_>) -> Option<f64> {
        let written = text(self, node, ask)?;
        let most = seconds(self.most).unwrap_or(f64::INFINITY);
        match seconds(written) {
            Some(seconds) if (0.0..=most).contains(&seconds) => Some(seconds),
            None if number(written).is_some_and(|number| number > 0.0) => ask.refuse_with(
                node,
                "a duration needs a unit: s, min, h or d",
                format!("write for example `{written} min`"),
            ),
            _ => ask.refuse(node, format!("must be {}", self.rule())),
        }
    }

    fn rule(&self) -> String {
        format!("a duration, 0 min to {}, in s, min, h or d", self.most)
    }

    #[cfg(test)]
    fn outside(&self) -> Vec<String> {
        vec![
            format!("{} 1 s", self.most),
            "-1 min".to_owned(),
            "5".to_owned(),
            "5 m".to_owned(),
        ]
    }
}

impl Kind for Minute {
    type Out = f64;

    fn read(&self, node: &Node, ask: &mut Ask<'_>) -> Option<f64> {
        let written = text(self, node, ask)?;
        let minutes = number(written).or_else(|| seconds(written).map(|s| s / 60.0));
        match minutes {
            Some(minutes) if (self.least..=self.most).contains(&minutes) => Some(minutes),
            _ => ask.refuse(node, format!("must be {}", self.rule())),
        }
    }

    fn rule(&self) -> String {
        format!("{} to {} minutes", self.least, self.most)
    }

    #[cfg(test)]
    fn outside(&self) -> Vec<String> {
        vec![
            format!("{}", self.least - 0.001),
            format!("{}", self.most + 1.0),
            ".nan".to_owned(),
        ]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_duration_adds_up_its_units() {
        assert_eq!(seconds("12 min"), Some(720.0));
        assert_eq!(seconds("1 h 30 min"), Some(5400.0));
        assert_eq!(seconds("1h30min"), Some(5400.0));
        assert_eq!(seconds("2 d"), Some(172_800.0));
        assert_eq!(seconds("1.5 h"), Some(5400.0));
        assert_eq!(seconds("30 s"), Some(30.0));
        assert_eq!(seconds("0"), Some(0.0));
    }

    #[test]
    fn what_is_no_duration_is_refused() {
        for text in [
            "", " ", "12", "min", "12 m", "12 minn", "-3 h", "1 h 30", "h 1", "1..5 h", "∞ h",
            "1e3 h", "1 h,",
        ] {
            assert_eq!(seconds(text), None, "{text:?}");
        }
    }

    #[test]
    fn a_share_is_a_percentage_or_a_fraction() {
        assert_eq!(share("5%"), Some(0.05));
        assert_eq!(share("5 %"), Some(0.05));
        assert_eq!(share("0.8"), Some(0.8));
        assert_eq!(share("%"), None);
        assert_eq!(share("five"), None);
    }

    #[test]
    fn infinite_and_undefined_numbers_are_no_numbers() {
        for text in [
            ".nan", ".NaN", ".inf", "-.inf", "nan", "inf", "infinity", "1e999",
        ] {
            assert_eq!(number(text), None, "{text}");
        }
        assert_eq!(number("-4.5e1"), Some(-45.0));
    }
}
