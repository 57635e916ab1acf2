//! Which setups take a pair of hands when: a profile by bench window.
//!
//! Knows: windows and how many hands there are. Must not know: machines, plates, prices.
//! Promises: never more setups at one minute than there are hands.

use crate::calendar::{Minute, Window};

/// Setups in each window, sorted by start.
#[derive(Clone, Debug)]
pub struct HandsProfile {
    /// `None`: never a limit, and nothing is recorded.
    hands: Option<u32>,
    busy: Vec<Vec<Window>>,
}

impl HandsProfile {
    /// An empty profile over so many windows.
    pub fn new(hands: Option<u32>, windows: usize) -> Self {
        Self {
            hands,
            busy: if hands.is_some() {
                vec![Vec::new(); windows]
            } else {
                Vec::new()
            },
        }
    }

    /// Whether hands are limited, so that setups must be recorded.
    pub fn limited(&self) -> bool {
        self.hands.is_some()
    }

    /// Setups recorded in a window.
    pub fn busy(&self, window: usize) -> &[Window] {
        self.busy.get(window).map_or(&[], Vec::as_slice)
    }

    /// First minute from `from` on at which `length` minutes in a row have a free pair of hands, as far as the setups
    /// of this window say; the caller checks the window's end.
    pub fn earliest(&self, window: usize, from: Minute, length: Minute) -> Minute {
        let Some(hands) = self.hands else { return from };
        let busy = &self.busy[window];
        let mut at = from;
        if hands == 1 {
            for span in busy {
                if span.close <= at {
                    continue;
                }
                if span.open >= at + length {
                    break;
                }
                at = span.close;
            }
            return at;
        }
        // The number of setups under way changes only at starts; so either `at` will do, or the earliest end of a
        // setup in the way is the next candidate.
        loop {
            let mut next = Minute::MAX;
            let mut worst = 0;
            for span in busy {
                if span.open >= at + length {
                    break;
                }
                if span.close <= at {
                    continue;
                }
                let peak = span.open.max(at);
                let together = busy
                    .iter()
                    .take_while(|other| other.open <= peak)
                    .filter(|other| other.close > peak)
                    .count() as u32;
                if together >= hands {
                    worst = worst.max(together);
                }
                next = next.min(span.close);
            }
            if worst < hands {
                return at;
            }
            at = next;
        }
    }

    /// Records a setup.
    pub fn add(&mut self, window: usize, span: Window) {
        if self.hands.is_none() {
            return;
        }
        let busy = &mut self.busy[window];
        let at = busy.partition_point(|other| *other < span);
        busy.insert(at, span);
    }

    /// Takes a recorded setup out.
    pub fn remove(&mut self, window: usize, span: Window) {
        if self.hands.is_none() {
            return;
        }
        let busy = &mut self.busy[window];
        let at = busy.partition_point(|other| *other < span);
        debug_assert!(busy.get(at) == Some(&span), "a setup is removed once");
        if busy.get(at) == Some(&span) {
            busy.remove(at);
        }
    }

    /// Forgets every setup.
    pub fn clear(&mut self) {
        self.busy.iter_mut().for_each(Vec::clear);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn span(open: Minute, close: Minute) -> Window {
        Window { open, close }
    }

    #[test]
    fn one_pair_of_hands_takes_setups_one_after_another() {
        let mut hands = HandsProfile::new(Some(1), 1);
        hands.add(0, span(10, 20));
        hands.add(0, span(25, 40));
        // Five minutes fit between 20 and 25, six do not.
        assert_eq!(hands.earliest(0, 12, 5), 20);
        assert_eq!(hands.earliest(0, 12, 6), 40);
        assert_eq!(hands.earliest(0, 0, 10), 0);
        hands.remove(0, span(25, 40));
        assert_eq!(hands.earliest(0, 12, 6), 20);
    }

    #[test]
    fn a_third_setup_waits_for_the_first_of_two_pairs_of_hands() {
        let mut hands = HandsProfile::new(Some(2), 1);
        hands.add(0, span(0, 30));
        hands.add(0, span(5, 12));
        assert_eq!(hands.earliest(0, 5, 10), 12);
        // From 0 it could start, but at minute 5 both pairs are busy.
        assert_eq!(hands.earliest(0, 0, 10), 12);
        assert_eq!(hands.earliest(0, 0, 5), 0);
    }

    #[test]
    fn unlimited_hands_never_wait() {
        let mut hands = HandsProfile::new(None, 1);
        hands.add(0, span(0, 30));
        assert_eq!(hands.earliest(0, 5, 10), 5);
    }
}
