//! What is known already of which pieces share a plate.
//!
//! Knows: names of areas and of kinds of rectangle, as numbers. Must not know: lengths.
//! Promises: bounded memory; an answer depends on the questions asked before only if they are the same question.

use std::collections::HashMap;

/// Whether the same pieces were found to fit the same area, for the questions asked last.
///
/// Use one memo for each [`Effort`](super::Effort): what a quick look does not find, a thorough one may.
#[derive(Clone, Debug)]
pub struct PlateMemo {
    capacity: usize,
    recent: HashMap<Box<[u32]>, bool>,
    /// Dropped as a whole when `recent` is full and takes its place: no order of use needs to be kept.
    older: HashMap<Box<[u32]>, bool>,
    /// The question in hand: the area, then each kind with its count, by kind.
    question: Vec<u32>,
    kinds: Vec<u32>,
}

impl PlateMemo {
    /// A memo that holds at most `capacity` answers, and at least the latest half of that.
    pub fn new(capacity: usize) -> Self {
        Self {
            capacity,
            recent: HashMap::new(),
            older: HashMap::new(),
            question: vec![],
            kinds: vec![],
        }
    }

    /// The answer to whether rectangles of these `kinds` (in any order, each as often as it is there) fit `area`:
    /// the known one, or that of `decide`.
    pub fn fits(&mut self, area: u32, kinds: &[u32], decide: impl FnOnce() -> bool) -> bool {
        self.ask(area, kinds);
        if let Some(&known) = self.recent.get(self.question.as_slice()) {
            return known;
        }
        let answer = self
            .older
            .remove(self.question.as_slice())
            .unwrap_or_else(decide);
        self.keep(answer);
        answer
    }

    fn ask(&mut self, area: u32, kinds: &[u32]) {
        self.kinds.clear();
        self.kinds.extend_from_slice(kinds);
        self.kinds.sort_unstable();
        self.question.clear();
        self.question.push(area);
        for alike in self.kinds.chunk_by(|a, b| a == b) {
            self.question.extend([alike[0], alike.len() as u32]);
        }
    }

    fn keep(&mut self, answer: bool) {
        let half = self.capacity / 2;
        if half == 0 {
            return;
        }
        if self.recent.len() >= half {
            self.older = std::mem::take(&mut self.recent);
        }
        self.recent.insert(self.question.as_slice().into(), answer);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Asks, and says whether the memo had to have it decided.
    fn asked(memo: &mut PlateMemo, area: u32, kinds: &[u32]) -> bool {
        let mut decided = false;
        memo.fits(area, kinds, || {
            decided = true;
            true
        });
        decided
    }

    #[test]
    fn a_question_is_decided_once_whatever_its_order() {
        let mut memo = PlateMemo::new(100);
        assert!(!memo.fits(0, &[3, 1, 3], || false));
        assert!(!memo.fits(0, &[3, 3, 1], || unreachable!()));
        // Another count, another area, another kind are other questions.
        assert!(asked(&mut memo, 0, &[3, 1, 1]));
        assert!(asked(&mut memo, 1, &[3, 3, 1]));
        assert!(asked(&mut memo, 0, &[3, 3]));
        assert!(asked(&mut memo, 0, &[]));
    }

    #[test]
    fn the_oldest_answers_go_when_it_is_full() {
        // Halves of two: 0 and 1 are in one half, 2 and 3 in the next, and 4 drops the first half.
        let mut memo = PlateMemo::new(4);
        for kind in 0..5 {
            assert!(asked(&mut memo, 0, &[kind]));
        }
        assert!(!asked(&mut memo, 0, &[4]));
        assert!(!asked(&mut memo, 0, &[3]));
        assert!(asked(&mut memo, 0, &[0]));
        assert!(memo.recent.len() + memo.older.len() <= 4);
    }

    #[test]
    fn a_memo_without_room_decides_every_time() {
        let mut memo = PlateMemo::new(0);
        assert!(asked(&mut memo, 0, &[1]));
        assert!(asked(&mut memo, 0, &[1]));
    }
}
