"""Your data is yours: the whole bench as one file, as tables, and such a file taken in again."""

from __future__ import annotations

import io
import json
import secrets
import zipfile
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import timedelta
from pathlib import Path
from typing import Annotated, Any

from fastapi import APIRouter, Depends, HTTPException, Request
from fastapi.responses import Response
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile

from webapp.pages.visit.forms import FormReader
from webapp.pages.visit.visit import Visit, Visiting, see
from webapp.setups import dates
from webapp.setups.bench_file.faults import BadBenchFile, read_bench_file, why_unfit
from webapp.setups.bench_file.schema import BenchFile, schema
from webapp.setups.bench_file.tables import tables
from webapp.store.bench_file import merge as bench_merge
from webapp.store.bench_file import whole as bench_file
from webapp.store.bench_file.merge import Came
from webapp.web.guard import UPLOADS
from webapp.web.turns import Waits, beside_pages

router = APIRouter()

PATH, IMPORT_PATH = "/data", "/data/import"
MOST_BYTES, TOO_LARGE = UPLOADS[IMPORT_PATH]
MINE_COMES = "A file of this bench is being taken in already. Wait until it is done, then send this one."
ROW_FULL = "Many files are being taken in just now. Wait a minute, then send this one again."
NO_FILE = "Choose the .json file that “Keep a copy” made."
NOT_WHOLE = "The file did not arrive whole. Choose it again."
KEPT_FOR = timedelta(days=1)
MOST_REPORTS = 200
SHOWN = 30
SORTS = ("instruments", "descriptions", "setups", "entries", "air")
NAMES = {"descriptions": "Descriptions of them", "air": "Days of air"}


@dataclass(frozen=True)
class DataPage:
    """What there is to take along."""

    counts: tuple[tuple[str, int], ...]
    import_path: str = IMPORT_PATH


@dataclass(frozen=True)
class ImportPage:
    """Which file to take in."""

    form: FormReader
    more: int = 0
    action: str = IMPORT_PATH


@dataclass(frozen=True)
class CamePage:
    """What an import did. Each row: what, how many came in, were there already, were left out."""

    file_name: str
    rows: tuple[tuple[str, int, int, int], ...]
    reasons: tuple[str, ...]
    more: int

    @property
    def added(self) -> int:
        return sum(row[1] for row in self.rows)

    @property
    def refused(self) -> int:
        return sum(row[3] for row in self.rows)


@router.get(PATH)
def show(visit: Visiting) -> Response:
    """What is on the bench, and the ways to take it along."""
    with visit.reading() as session:
        size = bench_file.size(session, visit.bench_id)
    counts = (
        ("instruments", size.instruments),
        ("setups and quick checks", size.setups),
        ("entries", size.entries),
        ("days of air", size.days_of_air),
    )
    return visit.render("pages/data/bench_file.html", DataPage(counts))


@router.get(f"{PATH}/bench.json")
def as_json(visit: Visiting) -> Response:
    """The whole bench as one file."""
    return _attached(_bench(visit).as_text(), "application/json", f"benchside-{_today(visit)}.json")


@router.get(f"{PATH}/schema.json")
def as_schema(visit: Visiting) -> Response:
    """How that file is built, as a JSON schema."""
    visit.needs_a_key()
    text = json.dumps(schema(), indent=1, ensure_ascii=False)
    return _attached(text, "application/schema+json", "benchside-bench-1.schema.json")


@router.get(f"{PATH}/tables.zip")
def as_tables(visit: Visiting) -> Response:
    """The whole bench as CSV tables."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, text in tables(_bench(visit)).items():
            packed.writestr(name, text)
    return _attached(out.getvalue(), "application/zip", f"benchside-{_today(visit)}-tables.zip")


def _bench(visit: Visit) -> BenchFile:
    with visit.reading() as session:
        return bench_file.dump(session, visit.bench_id)


def _attached(content: str | bytes, media_type: str, name: str) -> Response:
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    return Response(content, media_type=media_type, headers=headers)


def _today(visit: Visit) -> str:
    return visit.now.astimezone().date().isoformat()


@dataclass(frozen=True)
class SentBench:
    """The file that came with the form, or why it did not come."""

    file: UploadFile | None = None
    name: str = ""
    fault: str = ""
    status: int = 422


async def read_upload(request: Request) -> SentBench:
    """The dependency that takes the file in; the guard has refused a larger one before it is read."""
    try:
        form = await request.form(max_files=1, max_fields=10)
    except HTTPException as refusal:
        if refusal.status_code == 413:
            return SentBench(fault=TOO_LARGE, status=413)
        return SentBench(fault=NOT_WHOLE)
    file = form.get("file")
    if not isinstance(file, UploadFile) or not file.filename:
        return SentBench(fault=NO_FILE)
    # On disk until its turn comes: those who wait need no memory.
    return SentBench(file, file.filename.replace("\\", "/").rpartition("/")[2][-120:])


@router.get(IMPORT_PATH)
def ask(visit: Visiting) -> Response:
    """Which file?"""
    return visit.render("pages/data/bench_file_import.html", ImportPage(FormReader({})))


@router.post(IMPORT_PATH)
async def take_in(visit: Visiting, sent: Annotated[SentBench, Depends(read_upload)]) -> Response:
    """Take in what is not here yet, all in one go; one file at a time, with room for the pages beside it."""
    if sent.file is None:
        return await run_in_threadpool(_refuse, visit, [sent.fault], 1, sent.status)
    try:
        async with visit.app.turns.of(visit.bench_id):
            return await run_in_threadpool(_take_in, visit, sent)
    except Waits as waits:
        fault, status = (MINE_COMES, 409) if waits.mine else (ROW_FULL, 503)
        return await run_in_threadpool(_refuse, visit, [fault], 1, status)


def _take_in(visit: Visit, sent: SentBench) -> Response:
    with beside_pages() as rest:
        return _taken(visit, sent, rest)


def _taken(visit: Visit, sent: SentBench, rest: Callable[[], None]) -> Response:
    assert sent.file is not None
    try:
        file = read_bench_file(sent.file.file.read(), visit.now, rest)
    except BadBenchFile as bad:
        return _refuse(visit, bad.sentences, bad.count)
    unfit = {
        one.origin: why for one in file.instruments if (why := why_unfit(one, visit.trade, visit.now, rest))
    }
    fit = file.model_copy(
        update={"instruments": tuple(one for one in file.instruments if one.origin not in unfit)}
    )
    with visit.writing() as session:
        came = bench_merge.load(session, visit.bench_id, fit)
    return see(f"{IMPORT_PATH}/{_keep_report(visit, _told(file, came, unfit, sent.name))}")


def _refuse(visit: Visit, sentences: list[str] | tuple[str, ...], count: int, status: int = 422) -> Response:
    form = FormReader({})
    for sentence in sentences:
        form.fault("file", sentence)
    return visit.render("pages/data/bench_file_import.html", ImportPage(form, count - len(sentences)), status)


def _told(file: BenchFile, came: Came, unfit: dict[str, str], file_name: str) -> CamePage:
    """The counts, with what was left out whole counted too, and the reasons, each said once."""
    left = [one for one in file.instruments if one.origin in unfit]
    more = Counter(instruments=len(left))
    for one in left:
        more.update(descriptions=len(one.versions), setups=len(one.setups), entries=len(one.entries))
    rows = []
    for sort in SORTS:
        count = getattr(came, sort)
        name = NAMES.get(sort, sort.capitalize())
        rows.append((name, count.added, count.there, count.refused + more[sort]))
    names = {one.origin: one.name for one in file.instruments}
    reasons = [f"{names[origin]}: {why}" for origin, why in unfit.items()]
    # Ten entries of one evening that differ are one reason.
    told = dict.fromkeys((one.origin, dates.day(one.at), one.why) for one in came.refusals)
    reasons += [f"{names[origin]}, {on}: {why}" for origin, on, why in told]
    return CamePage(file_name, tuple(rows), tuple(reasons[:SHOWN]), max(0, len(reasons) - SHOWN))


def _keep_report(visit: Visit, page: CamePage) -> str:
    """Keeps the report for a day, so that it has an address of its own."""
    folder = _folder(visit)
    folder.mkdir(mode=0o700, exist_ok=True)
    kept = sorted(folder.glob("*.came"), key=lambda one: one.stat().st_mtime, reverse=True)
    for number, old in enumerate(kept):
        if (
            number >= MOST_REPORTS
            or abs(visit.now.timestamp() - old.stat().st_mtime) > KEPT_FOR.total_seconds()
        ):
            old.unlink(missing_ok=True)
    token = secrets.token_urlsafe(9)
    told = {"bench": visit.bench_id, **vars(page)}
    (folder / f"{token}.came").write_text(json.dumps(told), encoding="utf-8")
    return token


def _folder(visit: Visit) -> Path:
    return visit.app.settings.folder / "imports"


@router.get(f"{IMPORT_PATH}/{{token}}")
def came_in(token: str, visit: Visiting) -> Response:
    """What the import did."""
    if not token.replace("-", "").replace("_", "").isalnum():
        raise HTTPException(404)
    try:
        kept: dict[str, Any] = json.loads((_folder(visit) / f"{token}.came").read_text(encoding="utf-8"))
    except OSError:
        raise HTTPException(404) from None
    if kept.pop("bench") != visit.bench_id:
        raise HTTPException(404)
    rows = tuple((str(name), int(a), int(b), int(c)) for name, a, b, c in kept["rows"])
    page = CamePage(**kept)
    return visit.render(
        "pages/data/bench_file_came.html", replace(page, rows=rows, reasons=tuple(kept["reasons"]))
    )
