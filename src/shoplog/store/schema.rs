//! The tables of a log, and what brings a file of before to them.
//!
//! Knows: SQL. Must not know: what an entry means.
//! Promises: rows of entries, and of what vouches for them, can be neither changed nor taken out.

/// What brings a file from each version to the next; `user_version` says how many were done.
pub(super) const MIGRATIONS: [&str; 3] = [
    "
    CREATE TABLE events (
        sequence INTEGER PRIMARY KEY,
        id TEXT NOT NULL UNIQUE,
        entry TEXT NOT NULL
    ) STRICT;
    CREATE TRIGGER events_are_not_changed BEFORE UPDATE ON events
    BEGIN SELECT RAISE(ABORT, 'entries are never changed: undo them by another'); END;
    CREATE TRIGGER events_are_not_taken_out BEFORE DELETE ON events
    BEGIN SELECT RAISE(ABORT, 'entries are never taken out: undo them by another'); END;
    CREATE TRIGGER events_are_not_replaced BEFORE INSERT ON events
    WHEN EXISTS (SELECT 1 FROM events WHERE id = NEW.id OR sequence = NEW.sequence)
    BEGIN SELECT RAISE(ABORT, 'entries are never replaced: undo them by another'); END;
",
    // What the entries add up to, derived from them; it may be taken out at any time.
    "
    CREATE TABLE checkpoint (
        one INTEGER PRIMARY KEY CHECK (one = 1),
        state TEXT NOT NULL
    ) STRICT;
",
    // What vouches for each entry and all before it. Apart from the entries, so that neither is lost with the other's last page.
    "
    CREATE TABLE digests (
        sequence INTEGER PRIMARY KEY,
        digest BLOB NOT NULL
    ) STRICT;
    CREATE TRIGGER digests_are_not_changed BEFORE UPDATE ON digests
    BEGIN SELECT RAISE(ABORT, 'entries are never changed: undo them by another'); END;
    CREATE TRIGGER digests_are_not_taken_out BEFORE DELETE ON digests
    BEGIN SELECT RAISE(ABORT, 'entries are never taken out: undo them by another'); END;
    CREATE TRIGGER digests_are_not_replaced BEFORE INSERT ON digests
    WHEN EXISTS (SELECT 1 FROM digests WHERE sequence = NEW.sequence)
    BEGIN SELECT RAISE(ABORT, 'entries are never replaced: undo them by another'); END;
",
];

/// From this version on a file has room for a checkpoint.
pub(super) const WITH_CHECKPOINT: usize = 2;

/// From this version on there is a digest of each entry.
pub(super) const WITH_DIGESTS: usize = 3;
