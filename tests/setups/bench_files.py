"""Bench files for tests: small ones to break, and any that hypothesis thinks of."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, timedelta
from typing import Any

from hypothesis import strategies as st

from tests.setups.journals import spec_of
from webapp.setups.bench_file.faults import read_bench_file
from webapp.setups.bench_file.schema import FORMAT, VERSION, BenchFile, FileInstrument

T0 = datetime(2024, 5, 1, 9, 0, tzinfo=UTC)
SPEC = spec_of().model_dump(mode="json")


def moment(minutes: float) -> str:
    return (T0 + timedelta(minutes=minutes)).isoformat()


def entry(origin: str, minutes: float, setup: str = "s1", **fields: Any) -> dict[str, Any]:
    """A relief reading, unless told otherwise."""
    told = {
        "setup": setup, "origin": origin, "part": 0, "at": moment(minutes), "kind": "reading",
        "check": "relief", "slot": "relief", "value": 0.3, "unit": "mm", "typed": "0.3", "tool": "feeler",
        "error": 0.02, "detail": {"method": "feeler", "hold": 1, "press": 13, "gap": 7},
    }  # fmt: skip
    return told | fields


def setup(origin: str = "s1", minutes: float = 0, **fields: Any) -> dict[str, Any]:
    return {"id": f"id-{origin}", "origin": origin, "started_at": moment(minutes)} | fields


def version(number: int = 1, minutes: float = -60, **changes: Any) -> dict[str, Any]:
    return {"number": number, "created_at": moment(minutes), "spec": SPEC | changes}


def instrument(origin: str = "i1", **fields: Any) -> dict[str, Any]:
    told = {
        "id": f"id-{origin}", "origin": origin, "created_at": moment(-60), "versions": [version()],
        "setups": [setup()], "entries": [entry("e1", 1), entry("e2", 2, value=0.25, typed="0.25")],
    }  # fmt: skip
    return told | fields


def bench(*instruments: dict[str, Any], **fields: Any) -> dict[str, Any]:
    return {"format": "benchside-bench", "version": 1, "instruments": list(instruments)} | fields


def sent(raw: object) -> bytes:
    """As it comes out of a file."""
    return json.dumps(raw).encode()


# Any bench. Times may be equal and out of order, texts anything a form takes, corrections of corrections.

_names = st.text("abc é'\"<", min_size=1, max_size=9).map(str.strip).filter(bool)
_texts = st.text(st.characters(blacklist_categories=["Cs"], blacklist_characters="\0"), max_size=20)
_times = st.integers(0, 10**12).map(lambda us: T0 + timedelta(microseconds=us))
_figures = st.floats(-50, 50, allow_nan=False)
_origins = st.text("abcdefghijkXYZ0189_-", min_size=1, max_size=20)
_SPECS = [spec_of(kind) for kind in ("bass_4_34", "electric_6", "classical_6")]


def _details() -> st.SearchStrategy[dict[str, Any]]:
    known = st.fixed_dictionaries(
        {},
        optional={
            "hold": st.integers(0, 3), "humidity_percent": st.floats(1, 100), "typed_by": _texts,
            "heard": st.lists(_texts, max_size=2),
            "cents": st.dictionaries(st.sampled_from("1234"), _figures),
        },
    )  # fmt: skip
    return known


@st.composite
def _entries(draw: st.DrawFn, setups: list[str]) -> list[dict[str, Any]]:
    names = draw(
        st.lists(
            st.tuples(st.sampled_from(setups), _origins, st.integers(0, 3)), unique=True, max_size=10
        )
    )  # fmt: skip
    made: list[dict[str, Any]] = []
    for name in names:
        kind = draw(st.sampled_from(["reading", "observation", "note", "adjustment"]))
        detail = draw(_details()) | ({"part": "rod", "eighths": 2} if kind == "adjustment" else {})
        earlier = [n for n in names[: len(made)] if n[0] == name[0]]
        voided = draw(st.sampled_from([None, *earlier]))
        made.append(
            {
                "setup": name[0], "origin": name[1], "part": name[2], "at": draw(_times), "kind": kind,
                "check": "relief", "slot": draw(st.sampled_from(["relief", "height.3", "log", "elsewhere"])),
                "value": draw(_figures) if kind == "reading" else draw(st.none() | _figures),
                "unit": draw(st.sampled_from(["mm", "in", "cents", ""])), "typed": draw(_texts),
                "tool": "feeler", "error": draw(st.none() | st.floats(0, 1)), "detail": detail,
                "voids": {"origin": voided[1], "part": voided[2]} if voided else None,
            }
        )  # fmt: skip
    return made


@st.composite
def _instruments(draw: st.DrawFn, number: int) -> FileInstrument:
    specs = draw(st.lists(st.sampled_from(_SPECS), min_size=1, max_size=3))
    names = draw(st.lists(_names, min_size=len(specs), max_size=len(specs)))
    versions = [
        {"number": n, "created_at": draw(_times), "spec": spec.model_copy(update={"name": name})}
        for n, (spec, name) in enumerate(zip(specs, names, strict=True), 1)
    ]
    origins = draw(st.lists(_origins, unique=True, max_size=3))
    setups = []
    for n, origin in enumerate(origins):
        done = draw(st.booleans())
        setups.append(
            {
                "id": f"s{number}-{n}", "origin": origin, "started_at": draw(_times),
                "finished_at": draw(_times) if done else None,
                "finished_version": draw(st.integers(1, len(versions))) if done else None,
            }
        )  # fmt: skip
    return FileInstrument.model_validate(
        {
            "id": f"i{number}", "origin": f"o{number}", "created_at": draw(_times),
            "archived_at": draw(st.none() | _times), "versions": versions, "setups": setups,
            "entries": draw(_entries(origins)) if origins else [],
        }
    )  # fmt: skip


@st.composite
def any_bench(draw: st.DrawFn) -> BenchFile:
    """A bench of any shape."""
    count = draw(st.integers(0, 3))
    air = draw(
        st.lists(
            st.tuples(st.dates(date(2024, 1, 1), date(2025, 1, 1)), st.sampled_from(["typed", "logged"])),
            unique=True, max_size=5,
        )
    )  # fmt: skip
    days = [
        {
            "day": day, "source": source, "temperature_c": draw(st.floats(-20, 50)),
            "humidity_percent": draw(st.floats(0, 100)), "rows": draw(st.integers(1, 1440)),
        }
        for day, source in air
    ]  # fmt: skip
    return BenchFile.model_validate(
        {
            "format": FORMAT,
            "version": VERSION,
            "unit": draw(st.sampled_from(["mm", "in", "thou", "64ths"])),
            "tools": draw(st.none() | st.lists(st.sampled_from(["ruler", "card", "tuner"]), unique=True)),
            "instruments": [draw(_instruments(n)) for n in range(count)],
            "air": days,
        }
    )


def taken(data: bytes, now: datetime = datetime(2026, 12, 1, tzinfo=UTC)) -> BenchFile:
    """A file as the page reads it."""
    return read_bench_file(data, now)
