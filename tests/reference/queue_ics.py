"""Holds Beamyard's calendars against the icalendar library.

    python tests/reference/queue_ics.py FOLDER...

Each FOLDER was written by `beamyard plan --out`. Needs icalendar from PyPI (`requirements.txt` beside this file). The library
must find no fault in `queue.ics`; every setup, run, change of a spool, stage and order of `plan.json` must be in it at the same
moment, whatever the clocks do in between, and everything that is glued, assembled, deburred and approved by `plan.json` and by the
lines of `day-sheets.html`; nothing else may be in it but what is cancelled, and what an earlier calendar had and began before the
plan does.
"""

import datetime
import html.parser
import json
import pathlib
import sys
import zoneinfo

import icalendar

moment = datetime.datetime.fromisoformat


class Sheets(html.parser.HTMLParser):
    """The lines of the day sheets: date, time by the clock, words."""

    def __init__(self):
        super().__init__()
        self.lines, self.date, self.within = [], None, None

    def handle_starttag(self, tag, attributes):
        attributes = dict(attributes)
        if tag == "section":
            self.date = (attributes.get("aria-labelledby") or "")[1:]
        elif tag == "li":
            self.lines.append([self.date, "", ""])
        elif tag == "span" and attributes.get("class") in ("at", "do"):
            self.within = ("at", "do").index(attributes["class"]) + 1

    def handle_endtag(self, tag):
        if tag == "li":
            self.within = None

    def handle_data(self, data):
        if self.within:
            self.lines[-1][self.within] += data


def by_hand(folder):
    """What the day sheets say of gluing, assembly, deburring and approvals: when each begins."""
    sheets = Sheets()
    sheets.feed((folder / "day-sheets.html").read_text(encoding="utf-8"))
    words = ("Glue ", "Go on with ", "Deburr ", "Try and approve ")
    lines = [line for line in sheets.lines if line[2].startswith(words)]
    return sorted((f"{date} {clock}", next(word for word in words if what.startswith(word))) for date, clock, what in lines)



def check(folder):
    raw = (folder / "queue.ics").read_bytes()
    assert raw.endswith(b"\r\n") and b"\n" not in raw.replace(b"\r\n", b""), "line ends"
    assert all(len(line) <= 75 for line in raw.split(b"\r\n")), "lines of more than 75 octets"
    calendar = icalendar.Calendar.from_ical(raw)
    plan = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    for component in calendar.walk():
        assert not component.errors, (component.name, component.errors)
    zone = zoneinfo.ZoneInfo(str(calendar["X-WR-TIMEZONE"]))

    live = [one for kind in ("VEVENT", "VTODO") for one in calendar.walk(kind) if one["STATUS"] != "CANCELLED"]
    uids = [str(one["UID"]) for kind in ("VEVENT", "VTODO") for one in calendar.walk(kind)]
    assert len(uids) == len(set(uids)), "a UID comes twice"
    for one in calendar.walk():
        if one.name in ("VEVENT", "VTODO"):
            assert one.decoded("DTSTAMP").utcoffset() == datetime.timedelta(0), "DTSTAMP is not in UTC"

    # The zone that the file defines has, at every moment that it names, the offset that the zone really has.
    defined = next(iter(calendar.walk("VTIMEZONE")))
    assert str(defined["TZID"]) == zone.key
    own = defined.to_tz(lookup_tzid=False)

    def same(value, expected):
        assert value == expected, (value, expected)
        if value.tzinfo is not None and value.utcoffset() != datetime.timedelta(0):
            wall = value.replace(tzinfo=None)
            assert own.utcoffset(wall) == expected.astimezone(zone).utcoffset(), (value, own.utcoffset(wall))

    seen = set()

    def found(one):
        assert str(one["UID"]) not in seen, one["SUMMARY"]
        seen.add(str(one["UID"]))
        return one

    def only(summary):
        all_such = [one for one in live if str(one["SUMMARY"]).find(summary) >= 0]
        assert len(all_such) == 1, (summary, len(all_such))
        return found(all_such[0])

    begins = moment(plan["begins"])

    def is_past(one):
        start = one.decoded("DTSTART") if one.name == "VEVENT" else None
        if type(start) is datetime.date:
            start = datetime.datetime.combine(start, datetime.time(), zone)
        return start is not None and start < begins

    for run in plan["runs"]:
        event = only(f'{run["id"]} prints: ')
        same(event.decoded("DTSTART"), moment(run["start"]))
        same(event.decoded("DTEND"), moment(run["end"]))
        assert str(event["TRANSP"]) == "TRANSPARENT"
        if run["setup"]:
            event = only(f'Set up {run["id"]}: ')
            same(event.decoded("DTSTART"), moment(run["setup"]))
            if run["setup"] != run["start"]:
                same(event.decoded("DTEND"), moment(run["start"]))
            assert str(event["TRANSP"]) == "OPAQUE"
            assert [str(part.name) for part in event.subcomponents] == ["VALARM"], "a setup has one alarm"
        for end in run["spool_ends"]:
            starts = [one for one in live if "spool on" in str(one["SUMMARY"]) and f'While {run["id"]} prints.' in str(one["DESCRIPTION"])]
            event = next(one for one in starts if one.decoded("DTSTART") == moment(end["at"]))
            same(event.decoded("DTSTART"), moment(end["at"]))
            assert len(starts) == len(run["spool_ends"]), run["id"]
            assert [str(part.name) for part in event.subcomponents] == ["VALARM"] * end["attended"], "a bell for who is there"
            assert str(event["SUMMARY"]).startswith("Change ") == end["attended"]
            found(event)
    for run in plan.get("printing", []):
        event = only(f'{run["id"]} prints: ')
        same(event.decoded("DTSTART"), moment(run["start"]))
        same(event.decoded("DTEND"), moment(run["end"]))
        # Changes of its spool go on from the calendar that had them.
        for one in live:
            if "spool on" in str(one["SUMMARY"]) and f'While {run["id"]} prints.' in str(one["DESCRIPTION"]):
                found(one)
    done = []
    for one in [one for one in live if not is_past(one)]:
        kind = next((word for word in ("Glue ", "Go on with ", "Deburr ", "Try and approve ") if str(one["SUMMARY"]).startswith(word)), None)
        if kind:
            first = one.decoded("DUE" if one.name == "VTODO" else "DTSTART")
            same(first, first)
            assert one.name == "VTODO" or str(one["TRANSP"]) == "OPAQUE", "work takes somebody's time"
            done.append((first.astimezone(zone).strftime("%Y-%m-%d %H:%M"), kind))
            found(one)
    assert sorted(done) == by_hand(folder), "the day sheets say otherwise"
    worked = [row["work"] for rows in ("gluings", "assemblies", "spare_work") for row in plan[rows]]
    stretches = [stretch["from"] for work in worked for stretch in work] + [trial["approved"] for trial in plan["trials"]]
    planned = sorted(moment(stretch).strftime("%Y-%m-%d %H:%M") for stretch in stretches)
    assert [when for when, _ in sorted(done)] == planned, "plan.json says otherwise"
    for stage in plan["assemblies"]:
        if stage["due"]:
            event = only(f'{stage["id"]} is due, ')
            day = moment(stage["due"]).date()
            assert event.decoded("DTSTART") == day and event.decoded("DTEND") == day + datetime.timedelta(days=1)
    for order in plan["orders"]:
        if order["order_by"]:
            todo = only(f' {order["filament"]} (')
            assert todo.name == "VTODO" and todo.decoded("DUE") == datetime.date.fromisoformat(order["order_by"])
    past = [one for one in live if str(one["UID"]) not in seen]
    for one in past:
        assert is_past(one), (one["SUMMARY"], "is in no plan")
    print(f"{folder.name}: {len(seen)} entries agree, {len(past)} happened before, {len(uids) - len(live)} are cancelled")


for argument in sys.argv[1:]:
    check(pathlib.Path(argument))
