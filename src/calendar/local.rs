//! The one place where a local wall-clock time becomes a moment.
//!
//! Knows: IANA time zones and the two days a year on which a wall clock skips or repeats. Must not know: the bench.
//! Promises: every local time has an answer, by the policy written at [`to_utc`]; nothing panics.

use chrono::offset::LocalResult;
use chrono::{DateTime, NaiveDateTime, Offset, TimeZone, Utc};
use chrono_tz::{GapInfo, Tz};

/// Which end of a span a local time is; decides between the two moments of a time that comes twice.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Edge {
    /// The span begins here: the earlier moment.
    Opening,
    /// The span ends here: the later moment.
    Closing,
}

/// The moment of a local time.
///
/// A time that the clock skips means the first minute after the gap. A time that comes twice means the earlier moment
/// when something opens and the later when it closes: so a span written in local time covers every minute that shows
/// a time inside it, and a change of the clock never takes any of them away.
pub fn to_utc(zone: Tz, local: NaiveDateTime, edge: Edge) -> DateTime<Utc> {
    match zone.from_local_datetime(&local) {
        LocalResult::Single(moment) => moment.to_utc(),
        LocalResult::Ambiguous(one, other) => match edge {
            Edge::Opening => one.min(other).to_utc(),
            Edge::Closing => one.max(other).to_utc(),
        },
        LocalResult::None => match GapInfo::new(&local, &zone).and_then(|gap| gap.end) {
            Some(end) => end.to_utc(),
            // A gap lies between two known offsets, so it has an end; should a zone table ever lack it, the offset
            // in force at that hour of UTC is at most a day's change away.
            None => {
                let offset = zone.offset_from_utc_datetime(&local).fix();
                local
                    .checked_sub_offset(offset)
                    .map_or(DateTime::<Utc>::MAX_UTC, |utc| utc.and_utc())
            }
        },
    }
}

#[cfg(test)]
mod tests {
    use chrono::NaiveDate;
    use chrono_tz::{America, Europe, Pacific};

    use super::*;

    fn local(year: i32, month: u32, day: u32, hour: u32, minute: u32) -> NaiveDateTime {
        NaiveDate::from_ymd_opt(year, month, day)
            .and_then(|date| date.and_hms_opt(hour, minute, 0))
            .expect("a test writes dates that exist")
    }

    fn shown(moment: DateTime<Utc>) -> String {
        moment.format("%Y-%m-%d %H:%M").to_string()
    }

    #[test]
    fn an_ordinary_time_has_one_moment_at_either_edge() {
        // Oslo is one hour ahead of UTC in January.
        for edge in [Edge::Opening, Edge::Closing] {
            let moment = to_utc(Europe::Oslo, local(2027, 1, 11, 7, 0), edge);
            assert_eq!(shown(moment), "2027-01-11 06:00");
        }
    }

    #[test]
    fn a_skipped_time_means_the_first_minute_after_the_gap() {
        // 28 March 2027: at 02:00 (01:00 UTC) Oslo's clocks go to 03:00, so 02:30 does not exist.
        for edge in [Edge::Opening, Edge::Closing] {
            let moment = to_utc(Europe::Oslo, local(2027, 3, 28, 2, 30), edge);
            assert_eq!(shown(moment), "2027-03-28 01:00");
        }
        // 14 March 2027: at 02:00 (07:00 UTC) New York's clocks go to 03:00.
        let moment = to_utc(America::New_York, local(2027, 3, 14, 2, 0), Edge::Opening);
        assert_eq!(shown(moment), "2027-03-14 07:00");
    }

    #[test]
    fn a_doubled_time_opens_at_its_earlier_and_closes_at_its_later_moment() {
        // 31 October 2027: 02:30 in Oslo comes at 00:30 UTC (summer time) and again at 01:30 UTC.
        let doubled = local(2027, 10, 31, 2, 30);
        assert_eq!(
            shown(to_utc(Europe::Oslo, doubled, Edge::Opening)),
            "2027-10-31 00:30"
        );
        assert_eq!(
            shown(to_utc(Europe::Oslo, doubled, Edge::Closing)),
            "2027-10-31 01:30"
        );
    }

    #[test]
    fn a_skipped_day_means_the_midnight_after_it() {
        // Samoa crossed the date line: 30 December 2011 was left out; the 31st began at 10:00 UTC on the 30th (UTC+14).
        let moment = to_utc(Pacific::Apia, local(2011, 12, 30, 12, 0), Edge::Opening);
        assert_eq!(shown(moment), "2011-12-30 10:00");
    }
}
