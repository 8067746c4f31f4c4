"""The bench file: what it says of itself, and a sentence for everything that is wrong with one."""

from __future__ import annotations

import csv
import io
import json
from typing import Any

import pytest
from hypothesis import given, settings

from tests.setups.bench_files import any_bench, bench, entry, instrument, moment, sent, setup, taken, version
from tests.setups.journals import MORNING, the_trade
from webapp.setups.bench_file import faults as bench_file_check
from webapp.setups.bench_file.faults import (
    NOT_JSON,
    NOT_OURS,
    UNREADABLE,
    BadBenchFile,
    why_unfit,
)
from webapp.setups.bench_file.schema import LAST, BenchFile, schema
from webapp.setups.bench_file.tables import tables
from webapp.setups.case import Case
from webapp.setups.states import Assessment


def faults(raw: object) -> tuple[str, ...]:
    with pytest.raises(BadBenchFile) as bad:
        taken(raw if isinstance(raw, bytes) else sent(raw))
    return bad.value.sentences


def test_a_whole_file_is_read() -> None:
    file = taken(b"\xef\xbb\xbf" + sent(bench(instrument())))
    (one,) = file.instruments
    assert one.name == NAME
    assert [e.typed for e in one.entries] == ["0.3", "0.25"]
    assert one.entries[0].at.isoformat() == "2024-05-01T09:01:00+00:00"


@settings(max_examples=30, deadline=None)
@given(any_bench())
def test_what_is_written_is_read_again(file: BenchFile) -> None:
    assert taken(file.as_text().encode(), LAST) == file


@pytest.mark.parametrize(
    ("raw", "sentence"),
    [
        (b"", NOT_JSON),
        (b"\x89PNG\r\n", NOT_JSON),
        (b"\xff\xfe{", NOT_JSON),
        (b"{", NOT_JSON),
        (b"[]", NOT_OURS),
        ({"format": "other"}, NOT_OURS),
        (b"[" * 200_000, "This file is nested too deeply"),
        (bench() | {"version": 2}, "This file was made by a newer Benchside: it is version 2"),
        (bench() | {"version": "1.5"}, "Version: "),
        (bench(colour="red"), "Colour: this word is not known here."),
    ],
)
def test_what_is_no_bench_file_gets_a_sentence(raw: object, sentence: str) -> None:
    assert faults(raw)[0].startswith(sentence)


def broken(**fields: Any) -> dict[str, Any]:
    """A file whose second instrument has a broken third entry."""
    wrong = entry("e3", 3) | fields
    return bench(instrument("i0"), instrument(entries=[entry("e1", 1), entry("e2", 2), wrong]))


NAME = instrument()["versions"][0]["spec"]["name"]


@pytest.mark.parametrize(
    ("fields", "place", "words"),
    [
        ({"value": "much"}, ", value", "this should be a number."),
        ({"value": None}, "", "a reading needs a value"),
        ({"at": "2024-02-31T09:00:00Z"}, ", at", "a time with its zone, such as"),
        ({"at": "2024-02-20T09:00:00"}, ", at", "a time with its zone, such as"),
        ({"at": "1887-02-20T09:00:00Z"}, ", at", "between 1990 and 2100"),
        ({"kind": "guess"}, ", kind", "'reading'"),
        ({"slot": "x" * 65}, ", slot", "64 characters"),
        ({"typed": "a\0b"}, ", typed", "no null"),
        ({"detail": {"gap": "seven"}}, "", "gap"),
        ({"detail": {"note": "\ud800"}}, ", detail, note", "whole characters"),
        ({"kind": "adjustment", "detail": {"part": "bow"}}, "", "part"),
        ({"kind": "adjustment", "detail": {"part": "rod", "eighths": 1.5}}, "", "eighths"),
        ({"kind": "void"}, "", "must name it"),
        ({"extra": 1}, ", extra", "not known here"),
    ],
)
def test_a_broken_entry_is_named_with_its_place(fields: dict[str, Any], place: str, words: str) -> None:
    first = faults(broken(**fields))[0]
    assert first.startswith(f"Instrument 2 ({NAME}), entry 3{place}: "), first
    assert words in first


def test_a_number_that_is_none_is_refused() -> None:
    text = sent(broken()).replace(b'"value": 0.3', b'"value": NaN')
    assert "value: this should be a number" in faults(text)[0]
    text = sent(broken(detail={"mass": 1})).replace(b'"mass": 1', b'"mass": Infinity')
    assert "detail" in faults(text)[0]


@pytest.mark.parametrize(
    ("file", "words"),
    [
        (bench(instrument(), instrument()), "the same instrument stands in it twice"),
        (bench(instrument("a"), instrument("b", id="id-a")), "the same id"),
        (bench(instrument(entries=[entry("e1", 1), entry("e1", 2)])), "the same entry"),
        (bench(instrument(setups=[setup(), setup()])), "the same setup"),
        (bench(instrument(versions=[version(2), version(1)])), "numbered upwards"),
        (bench(instrument(versions=[])), "at least 1 item"),
        (bench(instrument(setups=[setup("s9")])), "entry 1 belongs to a setup that is not in the file"),
        (bench(instrument(setups=[setup(finished_at=moment(9), finished_version=7)])), "no description 7"),
        (bench(instrument(setups=[setup(finished_at=moment(9))])), "both a time and a description"),
        (
            bench(instrument(entries=[entry("e1", 1, voids={"origin": "e2"}), entry("e2", 2)])),
            "entry 1 strikes out an entry that is not before it",
        ),
        (bench(air=[{"day": "2024-05-01", "source": "guess"}]), "day of air 1, source"),
    ],
)
def test_what_does_not_fit_together_is_refused(file: dict[str, Any], words: str) -> None:
    assert words in " ".join(faults(file)).lower()


def test_many_faults_are_counted_and_some_are_told() -> None:
    with pytest.raises(BadBenchFile) as bad:
        taken(sent(bench(instrument(entries=[entry(f"e{n}", n, value="x") for n in range(50)]))))
    assert len(bad.value.sentences) == 5 and bad.value.count == 50


def test_the_schema_names_every_part_and_is_strict() -> None:
    made = json.loads(json.dumps(schema()))
    assert made["properties"]["format"]["const"] == "benchside-bench"
    assert made["properties"]["version"]["const"] == 1
    entries = made["$defs"]["FileEntry"]
    assert entries["additionalProperties"] is False
    assert {"setup", "origin", "at", "kind", "value", "typed", "voids"} <= set(entries["properties"])


# whether this Benchside can live with it


def unfit(**fields: Any) -> str:
    file = taken(sent(bench(instrument(**fields))))
    return why_unfit(file.instruments[0], the_trade(), MORNING)


def test_an_ordinary_instrument_is_fit() -> None:
    assert unfit() == ""


def test_an_unknown_kind_is_named() -> None:
    assert unfit(versions=[version(kind="lute")]) == "Its kind, “lute”, is not known to this Benchside."


def test_a_pickup_that_its_kind_never_has_is_unfit() -> None:
    pickup = {"position": "neck", "type": "single", "adjust": "ring"}
    assert "pickup" in unfit(versions=[version(kind="classical_6", pickups=[pickup])])


def test_a_journal_that_would_break_the_pages_is_unfit(monkeypatch: pytest.MonkeyPatch) -> None:
    def fall(case: Case) -> Assessment:
        raise KeyError(case.journal.entries[0].slot)

    monkeypatch.setattr(bench_file_check, "assess_case", fall)
    assert unfit() == UNREADABLE


# tables


def test_the_tables_hold_everything_and_no_formula() -> None:
    evil = "=HYPERLINK(1)"
    made = tables(
        taken(
            sent(
                bench(
                    instrument(
                        versions=[version(name=evil)],
                        entries=[
                            entry("e1", 1, typed="-3"),
                            entry("e2", 2, typed="@now", voids={"origin": "e1"}),
                        ],
                    ),
                    air=[
                        {
                            "day": "2024-05-01",
                            "source": "typed",
                            "temperature_c": 20.5,
                            "humidity_percent": 40.0,
                        }
                    ],
                )
            )
        )
    )
    assert set(made) == {"read me.txt", "instruments.csv", "setups.csv", "entries.csv", "air.csv"}
    rows = {name: list(csv.DictReader(io.StringIO(text.lstrip("\ufeff")))) for name, text in made.items()}
    assert rows["instruments.csv"][0]["name"] == f"'{evil}"
    first, second = rows["entries.csv"]
    assert (first["typed"], first["value"], first["value_unit"], first["struck_out"]) == (
        "-3",
        "0.3",
        "mm",
        "yes",
    )
    assert (second["typed"], second["struck_out"]) == ("'@now", "")
    assert first["at"] == "2024-05-01T09:01:00Z"
    assert rows["air.csv"][0]["temperature_c"] == "20.5"


# what no instrument can have shown, and no name can be


@pytest.mark.parametrize(
    ("file", "place"),
    [
        (
            broken(value=1_000_000.0),
            "Instrument 2 (" + NAME + "), entry 3, value: this should be at most 100 mm",
        ),
        (broken(value=-1_000_000.0), "entry 3, value: this should be at most 100 mm"),
        (broken(value=5000.0, unit="cents"), "entry 3, value: this should be at most 1200 cents"),
        (broken(at="2099-01-01T00:00:00Z"), "entry 3, at: this lies more than a year in the future"),
        (
            bench(instrument(setups=[setup(started_at="2099-01-01T00:00:00Z")])),
            "setup 1, started_at: this lies",
        ),
        (bench(instrument(created_at="2099-01-01T00:00:00Z")), "created_at: this lies more than a year"),
        (
            bench(instrument(versions=[version() | {"created_at": "2099-01-01T00:00:00Z"}])),
            "description 1, created_at: this lies more than",
        ),
        (
            bench(air=[{"day": "2099-01-01", "temperature_c": 20, "humidity_percent": 40}]),
            "Day of air 1, day: this lies more than a year in the future",
        ),
        (bench(instrument(versions=[version(name="a\nb")])), "spec, name: a name must stand on one line"),
        (bench(instrument(versions=[version(name="a\u2028b")])), "spec, name: a name must stand on one line"),
        (
            bench(instrument(versions=[version(name="a\x00b")])),
            "spec, name: a text must hold whole characters",
        ),
        (
            bench(instrument(versions=[version(name="a\ud800b")])),
            "spec, name: a text must hold whole characters",
        ),
        (
            bench(instrument(versions=[version(typed={"scale": "\ud800"})])),
            "spec, typed, scale: a text must hold whole characters",
        ),
        (
            bench(instrument(versions=[version(typed={"\udfff": "34"})])),
            "spec, typed: a text must hold whole characters",
        ),
        (broken(typed="\ud800"), "entry 3, typed: a text must hold whole characters"),
        (broken(detail={"method": "\ud800"}), "entry 3, detail, method: a text must hold whole characters"),
    ],
)
def test_what_cannot_be_is_refused_with_its_place(file: dict[str, Any], place: str) -> None:
    (told,) = faults(json.dumps(file).encode())
    assert place in told


def test_whole_characters_that_are_escaped_come_in() -> None:
    data = json.dumps(bench(instrument(versions=[version(name="  Bass \U0001f3b8 ")]))).encode()
    assert b"\\ud83c" in data
    assert taken(data).instruments[0].name == "Bass \U0001f3b8"
