"""What other people's libraries read in the calendar and the table of a cycle: icalendar, and Python's own csv.

    cargo run -- cycle --bench tests/oracle/calendar.toml --start 2027-12-20 \
        --stamp 2026-11-25 --calendar FOLDER/plan.ics --csv FOLDER/plan.csv
    pip install "icalendar==7.3.2"
    python3 tests/oracle/check_calendar.py FOLDER/plan.ics FOLDER/plan.csv > tests/oracle/calendar.json

The texts themselves stand in the JSON beside what was read in them, so the Rust test compares both.
"""

import csv
import io
import json
import pathlib
import sys

import icalendar

calendar_path, table_path = sys.argv[1:]
calendar_text = pathlib.Path(calendar_path).read_bytes()
table_text = pathlib.Path(table_path).read_bytes()

calendar = icalendar.Calendar.from_ical(calendar_text)
assert not calendar.errors, calendar.errors
assert calendar["VERSION"] == "2.0" and calendar["PRODID"]
events = []
for event in calendar.walk("VEVENT"):
    assert not event.errors, event.errors
    start, end = event["DTSTART"], event["DTEND"]
    assert start.params["VALUE"] == end.params["VALUE"] == "DATE"
    events.append({
        "uid": str(event["UID"]),
        "stamp": event["DTSTAMP"].dt.isoformat(),
        "start": start.dt.isoformat(),
        "end": end.dt.isoformat(),
        "summary": str(event["SUMMARY"]),
        "description": str(event["DESCRIPTION"]),
    })

# icalendar writes what it has read; read again it says the same
again = icalendar.Calendar.from_ical(calendar.to_ical())
assert [str(e["SUMMARY"]) for e in again.walk("VEVENT")] == [e["summary"] for e in events]

rows = list(csv.reader(io.StringIO(table_text.decode(), newline=""), strict=True))
json.dump(
    {
        "made_by": f"icalendar {icalendar.__version__}, Python csv",
        "calendar": calendar_text.decode(),
        "events": events,
        "table": table_text.decode(),
        "rows": rows,
    },
    sys.stdout,
    ensure_ascii=False,
    indent=1,
)
print()
