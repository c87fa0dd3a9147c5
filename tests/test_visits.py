from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from typing import Any

import pytest
from icalendar import Calendar

from analyzer.visits import Visit, to_ics, visits

START = date(2026, 3, 2)
NOW = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)


def planned(**more: Any) -> tuple[Visit, ...]:
    its: dict[str, Any] = {"passes_n": 5, "checkpoint_n": 1, "gentle": False, "new_strings": (), "slack": True}
    return visits(START, **(its | more))


def gaps(found: tuple[Visit, ...]) -> list[int]:
    days = [v.day for v in found if v.kind == "retune"]
    return [(b - a).days for a, b in pairwise(days)]


def test_the_passes_to_the_stop_then_look_and_record() -> None:
    found = planned(passes_n=5, checkpoint_n=2)
    assert [(v.kind, (v.day - START).days) for v in found[:3]] == [("pass", 0), ("pass", 1), ("record", 2)]
    assert "About 3 more passes" in found[2].what
    gentle = planned(passes_n=5, checkpoint_n=2, gentle=True)
    assert [(v.day - START).days for v in gentle if v.kind == "pass"] == [0, 3]


def test_nothing_is_ordered_that_hangs_on_passes_only_foreseen() -> None:
    foreseen = [v for v in planned(passes_n=10, checkpoint_n=1) if v.kind == "retune"]
    assert foreseen
    for visit in foreseen:
        assert visit.title == "Harp: tune again if it is at pitch"
        assert visit.what.startswith("Only if the last plan says that all strings are at pitch")
    for visit in planned(passes_n=1, checkpoint_n=1):
        assert "if" not in visit.title.split()


def test_one_more_pass_follows_in_the_singular() -> None:
    assert "About 1 more pass follows;" in planned(passes_n=2, checkpoint_n=1)[1].what


@pytest.mark.parametrize("new", [(), ("A3", "F6")])
def test_retunings_thin_out_until_weekly(new: tuple[str, ...]) -> None:
    found = gaps(planned(new_strings=new))
    assert found == sorted(found)
    assert found[-1] == 7


def test_new_strings_are_tuned_more_often_and_over_longer() -> None:
    # holds after about a fortnight (common practice, no source); new harps daily (harp retailers' advice)
    new, slack = planned(new_strings=("A3",)), planned()
    assert sum(v.kind == "retune" for v in new) > sum(v.kind == "retune" for v in slack)
    assert any("A3" in v.what for v in new)
    assert len(planned(slack=False)) < len(slack)


def test_a_measured_drift_sets_the_first_visit() -> None:
    slow, fast = planned(cents_per_day=0.4), planned(cents_per_day=2.5)
    last = START + timedelta(days=4)
    # 5 cents at 2.5 cents a day are lost in 2 days; at 0.4 in 12, and weekly is the least
    assert min(v.day for v in fast if v.kind == "retune") == last + timedelta(days=2)
    assert min(v.day for v in slow if v.kind == "retune") == last + timedelta(days=7)
    assert gaps(fast)[:3] == [4, 7, 7]


def test_the_calendar_is_read_back_by_a_library_and_follows_rfc_5545() -> None:
    found = planned(new_strings=("A3",))
    data = to_ics(found, title="Söme hårp, the one; from the attic " * 4, made_at=NOW)
    # RFC 5545, 3.1: CRLF line ends, no line above 75 octets
    assert data.endswith(b"\r\n")
    assert b"\n" not in data.replace(b"\r\n", b"")
    assert max(map(len, data.split(b"\r\n"))) <= 75
    calendar = Calendar.from_ical(data)
    # 3.6 and 3.6.1: PRODID and VERSION once, UID and DTSTAMP in every event
    assert (calendar["VERSION"], str(calendar["PRODID"])) == ("2.0", "-//harp-string-survey//harp-survey//EN")
    events = list(calendar.walk("VEVENT"))
    assert [e["DTSTART"].dt for e in events] == [v.day for v in found]
    assert all(e["DTEND"].dt - e["DTSTART"].dt == timedelta(days=1) for e in events)
    assert len({str(e["UID"]) for e in events}) == len(found)
    assert {e["DTSTAMP"].dt for e in events} == {NOW}
    assert [str(e["DESCRIPTION"]) for e in events] == [v.what for v in found]
    assert data == to_ics(found, title="Söme hårp, the one; from the attic " * 4, made_at=NOW)


def test_a_title_cannot_add_events() -> None:
    data = to_ics(planned(), title="x\r\nEND:VEVENT\r\nBEGIN:VEVENT\r\nSUMMARY:y", made_at=NOW)
    assert len(list(Calendar.from_ical(data).walk("VEVENT"))) == len(planned())
