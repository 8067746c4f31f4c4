"""A logger's file: what is read from it, and what is said of what cannot be read."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from webapp.setups.air_log.columns import (
    DELIMITERS,
    EMPTY,
    HEAD_BYTES,
    LONGEST_LINE,
    NO_READINGS,
    NO_TEXT,
    UNKNOWN,
    BadFile,
    Sheet,
    lines_of,
    look,
)
from webapp.setups.air_log.csv_reading import BadRow, Gathered, LoggedRow, Plan, number, rows
from webapp.setups.air_log.dates import DateOrder, DateTrouble, moment, orders

BERLIN = ZoneInfo("Europe/Berlin")
NOW = datetime(2026, 6, 1, 12, 0, tzinfo=UTC)
PLAIN = b"Time,Temperature (\xc2\xb0C),Humidity (%)\n2026-01-01 10:00,21.5,45.2\n2026-01-01 10:10,21.4,45\n"


def sheet_of(raw: bytes) -> Sheet:
    return look(raw[:HEAD_BYTES], complete=len(raw) <= HEAD_BYTES)


def plan_of(sheet: Sheet, order: DateOrder = DateOrder.DAY) -> Plan:
    """The plan that a player accepts who changes nothing of what is guessed."""
    guess = sheet.guess
    assert guess.time is not None and guess.temperature is not None and guess.humidity is not None
    return Plan(
        sheet.encoding,
        sheet.delimiter,
        sheet.skip,
        guess.time,
        guess.clock,
        guess.temperature,
        guess.humidity,
        guess.fahrenheit,
        order,
    )


def read(raw: bytes, order: DateOrder = DateOrder.DAY, now: datetime = NOW) -> list[LoggedRow | BadRow]:
    plan = plan_of(sheet_of(raw), order)
    return list(rows(lines_of([raw], plan.encoding), plan, now, BERLIN))


def good(found: Iterable[LoggedRow | BadRow]) -> list[tuple[datetime, float, float]]:
    assert all(isinstance(one, LoggedRow) for one in found), found
    read = [one for one in found if isinstance(one, LoggedRow)]
    return [(one.at, round(one.temperature_c, 6), one.humidity_percent) for one in read]


def test_a_plain_file() -> None:
    assert good(read(PLAIN)) == [
        (datetime(2026, 1, 1, 10, 0), 21.5, 45.2),
        (datetime(2026, 1, 1, 10, 10), 21.4, 45.0),
    ]


@pytest.mark.parametrize(
    "raw",
    [
        "Zeit;Temp (°C);Feuchte (%)\r\n01.02.2026 10:00;21,5;45,2\r\n02.02.2026 11:00;−1,5;50\r\n".encode(),
        "Zeit;Temp (°C);Feuchte (%)\n01.02.2026 10:00;21,5;45,2\n02.02.2026 11:00;-1,5;50".encode("latin-1"),
        "\ufeffZeit;Temperatur;Feuchte\n01.02.2026 10:00;21,5;45,2\n02.02.2026 11:00;-1,5;50\n".encode(),
        "Zeit\tTemp\tFeuchte\n01.02.2026 10:00\t21,5\t45,2\n02.02.2026 11:00\t-1,5\t50\n".encode("utf-16"),
        "Zeit|Temperatur|Feuchte\n01/02/26 10:00|21.5|45.2\n02/02/26 11:00|-1.5|50\n".encode("utf-16-le"),
        "Zeit|Temperatur|Feuchte\n01/02/26 10:00|21.5|45.2\n02/02/26 11:00|-1.5|50\n".encode("utf-16-be"),
        b'Time,Temp,RH\n1-2-2026 10:00,"21,5","45,2"\n2-2-2026 11:00,"-1,5","50"\n',
        b"Serial;4711\nInterval;10 min\n\n;Time;Temp;Hum\n;;C;%\n"
        b"1;1.2.2026 10:00;21,5;45,2\n2;2.2.2026 11:00;-1,5;50",
        b"sep=;\nDate;Clock;Temp;Hum\n1.2.2026;10:00:00;21,5 C;45,2 %\n2.2.2026;11:00;-1,5 C;50 %rF\n;;;\n",
        b"Time,Temp,Hum\n1 Feb 2026 10:00 am,21.5,45.2\nFeb 2 2026 11:00,-1.5,50\n",
        b"2026-02-01T10:00+01:00,21.5,45.2\n2026-02-02T10:00Z,-1.5,50\n",
        b"Stamp,Temp,Hum\n1769936400,21.5,45.2\n1770026400000,-1.5,50\n",
        b"Time,Temp F,Hum\n1.2.2026 10:00 AM,70.7,45.2\n2.2.2026 11:00 AM,29.3,50\n",
        b"Time,Dew point (C),Temp (C),Hum\n1.2.2026 10:00,9,21.5,45.2\n2.2.2026 11:00,-3,-1.5,50\n",
    ],
)
def test_the_same_two_readings_however_they_are_written(raw: bytes) -> None:
    assert good(read(raw)) == [
        (datetime(2026, 2, 1, 10, 0), 21.5, 45.2),
        (datetime(2026, 2, 2, 11, 0), -1.5, 50.0),
    ]


@pytest.mark.parametrize(
    "raw, sentence",
    [
        (b"", EMPTY),
        (b"\xef\xbb\xbf", NO_READINGS),
        (b"\n \r\n\t\n", EMPTY),
        (b"\x00" * 300, NO_TEXT),
        (bytes(range(256)) * 40, NO_TEXT),
        (bytes(range(128, 256)) * 40, UNKNOWN),
        (("Time,Temp,Hum\n2026-01-01 10:00,21,45\n" * 9).encode("utf-32"), UNKNOWN),
        (("Time,Temp,Hum\n2026-01-01 10:00,21,45\n" * 9).encode("cp037"), UNKNOWN),
        (b"PK\x03\x04more", "spreadsheet"),
        (b"\xd0\xcf\x11\xe0more", "spreadsheet"),
        (b"\x1f\x8bmore", "packed"),
        (b"%PDF-1.7", "PDF"),
        (b"Dear reader,\nthis is a letter, not a table.\n", NO_READINGS),
        (b"Time,Temp,Hum\n", NO_READINGS),
        (b"Time;Temp\n2026-01-01 10:00;21,5\n", "A column is missing: this file has only 2."),
    ],
)
def test_a_file_that_cannot_be_used_is_refused_with_its_sentence(raw: bytes, sentence: str) -> None:
    with pytest.raises(BadFile) as refused:
        sheet_of(raw)
    assert sentence in refused.value.sentence


@pytest.mark.parametrize(
    "line, reason",
    [
        ("31/02/2026 10:00,21,45", "“31/02/2026 10:00” is not a day of the calendar with the day first."),
        ("02/25/2026 10:00,21,45", "“02/25/2026 10:00” is not a day of the calendar with the day first."),
        ("2026-02-31 10:00,21,45", "“2026-02-31 10:00” is not a day of the calendar."),
        ("soon,21,45", "“soon” is not a date that can be read."),
        ("1/2/026 10:00,21,45", "“1/2/026 10:00” is not a date that can be read."),
        ("12345,21,45", "“12345” is not a date that can be read."),
        ("1/2/2026 25:00,21,45", "“25:00” is not a time of day."),
        ("1/2/2026 13:00 PM,21,45", "“13:00 PM” is not a time of day."),
        (",21,45", "The time is missing."),
        ("1/2/2027 10:00,21,45", "“1/2/2027 10:00” is in the future."),
        ("1/1/2000 00:10,21,45", "“1/1/2000 00:10” is before 2001: the logger’s clock was perhaps not set."),
        ("1/2/2026 10:00,,45", "The temperature is missing."),
        ("1/2/2026 10:00,--,45", "“--” is not a temperature."),
        ("1/2/2026 10:00,nan,45", "“nan” is not a temperature."),
        ("1/2/2026 10:00,60.1,45", "60.1 °C cannot be right; −40 to 60 °C can be kept."),
        ("1/2/2026 10:00,-41,45", "−41 °C cannot be right; −40 to 60 °C can be kept."),
        ("1/2/2026 10:00,21,", "The humidity is missing."),
        ("1/2/2026 10:00,21,dry", "“dry” is not a humidity."),
        ("1/2/2026 10:00,21,100.5", "100.5 % cannot be right; humidity goes from 0 to 100 %."),
        ("1/2/2026 10:00,21,-1", "−1 % cannot be right; humidity goes from 0 to 100 %."),
        ("1/2/2026 10:00,21", "A column is missing: there are only 2 columns here."),
        ("stopped", "A column is missing: there are only 1 column here."),
        ("1/2/2026 10:00," + "2" * LONGEST_LINE, "This line is too long to be a reading."),
    ],
)
def test_a_bad_line_is_listed_with_its_number_and_reason(line: str, reason: str) -> None:
    raw = f"Time,Temp,Hum\n1/2/2026 09:00,20,40\n\n{line}\n3/2/2026 11:00,22,50\n".encode()
    first, bad, last = read(raw)
    assert isinstance(first, LoggedRow) and isinstance(last, LoggedRow) and (first.line, last.line) == (2, 5)
    assert bad == BadRow(4, reason)


def test_fahrenheit_out_of_range_is_said_in_both() -> None:
    _, bad = read(b"Time,Temp (F),Hum\n1/2/2026 9:00,70,40\n1/2/2026 9:10,150,40\n")
    assert bad == BadRow(3, "150 °F (65.6 °C) cannot be right; −40 to 60 °C can be kept.")


def test_a_clock_may_be_a_little_ahead_but_not_more() -> None:
    raw = b"Time,Temp,Hum\n2026-06-01T12:59:59Z,21,45\n2026-06-01T13:00:01Z,21,45\n"
    near, far = read(raw)
    assert isinstance(near, LoggedRow) and isinstance(far, BadRow)


@pytest.mark.parametrize(
    "stamp, day",
    [
        ("2026-03-28T22:59:59Z", date(2026, 3, 28)),
        ("2026-03-28T23:00:00Z", date(2026, 3, 29)),
        ("2026-03-29T21:59:59Z", date(2026, 3, 29)),  # this day has 23 hours
        ("2026-03-29T22:00:00Z", date(2026, 3, 30)),
        ("2025-10-25T22:00:00Z", date(2025, 10, 26)),
        ("2025-10-26T22:59:59Z", date(2025, 10, 26)),  # and this one 25
        ("2025-10-26T23:00:00Z", date(2025, 10, 27)),
        ("2026-03-29 02:30", date(2026, 3, 29)),  # a moment that the clock skips
    ],
)
def test_days_begin_at_midnight_on_the_local_clock(stamp: str, day: date) -> None:
    assert moment(stamp, DateOrder.DAY, BERLIN).date() == day


def test_the_hour_that_comes_twice_is_two_hours() -> None:
    raw = b"Time,Temp,Hum\n2025-10-26T00:30:00Z,21,45\n2025-10-26T01:30:00Z,21,45\n"
    gathered = Gathered()
    for one in read(raw):
        gathered.add(one)
    (day,) = gathered.days.values()
    assert len(set(day.moment_ms)) == 2


@pytest.mark.parametrize(
    "dates, possible",
    [
        (["01/02/2026", "13/02/2026"], (DateOrder.DAY,)),
        (["01/02/2026", "02/13/2026"], (DateOrder.MONTH,)),
        (["01/02/2026", "02/12/2026"], tuple(DateOrder)),
        (["2026-02-13"], tuple(DateOrder)),
    ],
)
def test_which_comes_first_is_known_only_where_a_day_is_above_twelve(
    dates: list[str], possible: tuple[DateOrder, ...]
) -> None:
    assert orders(dates) == possible


def test_month_first_is_read_as_chosen() -> None:
    raw = b"Time,Temp,Hum\n03/04/2026 2:05 PM,21,45\n"
    assert good(read(raw, DateOrder.MONTH)) == [(datetime(2026, 3, 4, 14, 5), 21.0, 45.0)]


@pytest.mark.parametrize(
    "text, value", [("21", 21), ("21,5", 21.5), ("−3.25 °C", -3.25), (".5", 0.5), ("2.1e1", 21)]
)
def test_numbers(text: str, value: float) -> None:
    assert number(text) == value


@pytest.mark.parametrize("text", ["", "nan", "inf", "1_0", "1.234,5", "21 C 5", "0x10", "٣", "--5"])
def test_no_numbers(text: str) -> None:
    assert number(text) is None


def test_a_quote_never_swallows_the_lines_after_it() -> None:
    raw = PLAIN + b'2026-01-01 10:20,"21.3,44\n2026-01-01 10:30,21.2,44\n'
    found = read(raw)
    assert [isinstance(one, BadRow) for one in found] == [False, False, True, False]


def test_a_line_without_an_end_stays_small_in_memory() -> None:
    longest = max(len(rest) for rest in lines_of((b"7" * 65_536 for _ in range(300)), "utf-8"))
    assert longest <= LONGEST_LINE + 65_536


def test_letters_and_line_ends_that_are_cut_between_pieces_are_whole() -> None:
    raw = "Zeit;°C\r\n1;2\r3;4\n€;5".encode()
    bytewise = (raw[n : n + 1] for n in range(len(raw)))
    assert list(lines_of(bytewise, "utf-8")) == ["Zeit;°C", "1;2", "3;4", "€;5"]


def test_only_the_first_hundred_bad_lines_are_kept_and_all_are_counted() -> None:
    gathered = Gathered()
    for line in range(250):
        gathered.add(BadRow(line, "no"))
    assert (gathered.bad, gathered.rows) == (250, 250)
    assert [one.line for one in gathered.bad_rows] == list(range(100))


@dataclass(frozen=True)
class Writing:
    """One way to write a table: everything that loggers do differently."""

    delimiter: str
    comma: bool
    date: str
    encoding: str
    newline: str
    fahrenheit: bool
    columns: tuple[int, int, int]
    extra: int
    preamble: bool
    quoted: bool

    def number(self, value: float) -> str:
        text = f"{value:.2f}"
        return text.replace(".", ",") if self.comma else text

    def cell(self, text: str) -> str:
        return f'"{text}"' if self.quoted or self.delimiter in text else text

    def line(self, cells: dict[int, str]) -> str:
        return self.delimiter.join(self.cell(cells.get(n, "x")) for n in range(3 + self.extra))

    def table(self, readings: list[tuple[datetime, float, float]]) -> bytes:
        time, temperature, humidity = self.columns
        lines = ["Logger in the workshop", ""] if self.preamble else []
        lines.append(self.line({time: "When", temperature: "Warm", humidity: "Damp"}))
        for at, warm, damp in readings:
            shown = warm * 9 / 5 + 32 if self.fahrenheit else warm
            lines.append(
                self.line(
                    {
                        time: at.strftime(self.date),
                        temperature: self.number(shown),
                        humidity: self.number(damp),
                    }
                )
            )
        return (self.newline.join(lines) + self.newline).encode(self.encoding)


LOCAL = {
    "%d/%m/%Y %H:%M:%S": DateOrder.DAY,
    "%d.%m.%y, %H:%M:%S": DateOrder.DAY,
    "%m/%d/%Y %I:%M:%S %p": DateOrder.MONTH,
    "%m-%d-%Y %H:%M:%S": DateOrder.MONTH,
}
ISO = ("%Y-%m-%d %H:%M:%S", "%Y-%m-%dT%H:%M:%S", "%Y/%m/%d %H:%M:%S", "%d %b %Y %H:%M:%S")
WRITINGS = st.builds(
    Writing,
    delimiter=st.sampled_from(list(DELIMITERS.values())),
    comma=st.booleans(),
    date=st.sampled_from([*LOCAL, *ISO]),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "latin-1"]),
    newline=st.sampled_from(["\n", "\r\n", "\r"]),
    fahrenheit=st.booleans(),
    columns=st.permutations([0, 1, 2]).map(lambda order: (order[0], order[1], order[2])),
    extra=st.integers(0, 2),
    preamble=st.booleans(),
    quoted=st.booleans(),
)
READINGS = st.lists(
    st.tuples(
        st.datetimes(datetime(2002, 1, 1), datetime(2026, 5, 31)).map(lambda at: at.replace(microsecond=0)),
        st.integers(-3900, 5900).map(lambda n: n / 100),
        st.integers(0, 10_000).map(lambda n: n / 100),
    ),
    min_size=1,
    max_size=30,
)


@given(WRITINGS, READINGS)
def test_any_table_comes_back_as_it_was(how: Writing, readings: list[tuple[datetime, float, float]]) -> None:
    raw = how.table(readings)
    sheet = look(raw[:HEAD_BYTES], complete=True, delimiter=how.delimiter)
    assert [sheet.columns[n] for n in how.columns] == ["When", "Warm", "Damp"]
    time, temperature, humidity = how.columns
    order = LOCAL.get(how.date, DateOrder.DAY)
    plan = Plan(
        sheet.encoding, how.delimiter, sheet.skip, time, None, temperature, humidity, how.fahrenheit, order
    )
    found = list(rows(lines_of([raw], sheet.encoding), plan, NOW, BERLIN))
    assert [one.at for one in found if isinstance(one, LoggedRow)] == [at for at, _, _ in readings]
    for one, (_, warm, damp) in zip(found, readings, strict=True):
        assert isinstance(one, LoggedRow)
        assert one.temperature_c == pytest.approx(warm, abs=0.003 if how.fahrenheit else 1e-9)
        assert one.humidity_percent == pytest.approx(damp, abs=1e-9)


@given(WRITINGS)
def test_the_way_the_columns_are_divided_is_found(how: Writing) -> None:
    start = datetime(2026, 1, 20)
    raw = how.table([(start + timedelta(minutes=10 * n), 20 + n / 10, 40 + n / 7) for n in range(12)])
    assert sheet_of(raw).delimiter == how.delimiter


@given(st.binary(max_size=400) | st.text(max_size=300).map(str.encode))
def test_whatever_is_uploaded_is_read_or_refused(raw: bytes) -> None:
    try:
        sheet = sheet_of(raw)
    except BadFile as refused:
        assert refused.sentence.endswith(".")
        return
    plan = Plan(sheet.encoding, sheet.delimiter, sheet.skip, 0, None, 1, 2, False, DateOrder.DAY)
    for one in rows(lines_of([raw], sheet.encoding), plan, NOW, BERLIN):
        assert isinstance(one, LoggedRow | BadRow)


@given(st.text(max_size=40) | st.from_regex(r"[0-9]{1,14}|[0-9:./ TZ+-]{4,25}", fullmatch=True))
def test_any_text_is_a_moment_or_trouble(text: str) -> None:
    for order in DateOrder:
        try:
            assert moment(text, order, BERLIN).tzinfo is None
        except DateTrouble as trouble:
            assert str(trouble).endswith(".")
