//! What vouches for entries: a digest of each that is also one of all before it.
//!
//! Knows: the text of entries. Must not know: SQLite, files, what an entry means.
//! Promises: as long as the last digest is what it was, no entry before it was changed, left out, added or put in another's place.

/// What goes before the first entry.
const NOTHING: [u8; 32] = [0; 32];

/// Of an entry and all before it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::shoplog) struct Digest([u8; 32]);

impl Digest {
    /// Of no entry.
    pub(super) const START: Self = Self(NOTHING);

    /// Of one more entry: its number, from 1, its id, and what it says.
    pub(super) fn next(self, number: usize, id: &str, text: &str) -> Self {
        // At once: of so little a hasher that is fed takes longer.
        let mut whole = Vec::with_capacity(48 + id.len() + text.len());
        whole.extend_from_slice(&self.0);
        // Of a fixed length each, so that nothing can pass from one to the next.
        whole.extend_from_slice(&(number as u64).to_le_bytes());
        whole.extend_from_slice(&(id.len() as u64).to_le_bytes());
        whole.extend_from_slice(id.as_bytes());
        whole.extend_from_slice(text.as_bytes());
        Self(blake3::hash(&whole).into())
    }

    /// As it is kept.
    pub(super) fn bytes(&self) -> &[u8] {
        &self.0
    }

    /// What was kept, if it is a digest.
    pub(super) fn read(bytes: &[u8]) -> Option<Self> {
        bytes.try_into().ok().map(Self)
    }

    /// In hexadecimal digits.
    pub(in crate::shoplog) fn text(self) -> String {
        blake3::Hash::from_bytes(self.0).to_hex().to_string()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_digest_is_of_the_number_the_id_the_text_and_all_before() {
        let of = |entries: &[(usize, &str, &str)]| {
            let next = |digest: Digest, &(number, id, text): &(usize, &str, &str)| {
                digest.next(number, id, text)
            };
            entries.iter().fold(Digest::START, next)
        };
        let right = of(&[(1, "a", "x"), (2, "b", "y")]);
        assert_eq!(of(&[(1, "a", "x"), (2, "b", "y")]), right);
        for other in [
            of(&[(1, "a", "z"), (2, "b", "y")]),
            of(&[(1, "a", "x"), (2, "b", "z")]),
            of(&[(1, "a", "x"), (2, "by", "")]),
            of(&[(1, "a", "x"), (3, "b", "y")]),
            of(&[(1, "b", "y"), (2, "a", "x")]),
            of(&[(1, "a", "y"), (2, "b", "x")]),
            of(&[(2, "b", "y")]),
            of(&[(1, "a", "x")]),
        ] {
            assert!(other != right);
        }
        assert_eq!(Digest::read(right.bytes()), Some(right));
        assert_eq!(Digest::read(&right.bytes()[1..]), None);
    }
}
