"""Your data is yours: the whole bench as one file, as tables, and such a file taken in again."""

from __future__ import annotations

import io
import json
import zipfile
from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Depends, HTTPException, Request
from fastapi.responses import Response

from webapp.pages.data.import_work import Import, Imports, Waits
from webapp.pages.visit.answering import NotKept, answer
from webapp.pages.visit.forms import FormReader
from webapp.pages.visit.uploads import NO_ROOM, Sent, read_sent
from webapp.pages.visit.visit import Visit, Visiting, see
from webapp.setups.bench_file.schema import BenchFile, schema
from webapp.setups.bench_file.tables import tables
from webapp.store.bench_file import whole as bench_file
from webapp.web.guard import UPLOADS

router = APIRouter()

PATH, IMPORT_PATH = "/data", "/data/import"
MOST_BYTES, TOO_LARGE = UPLOADS[IMPORT_PATH]
MINE_COMES = "Another file of this bench is being taken in. Wait until it is done, then send this one."
ROW_FULL = "Many files are being taken in just now. Wait a minute, then send this one again."
NO_FILE = "Choose the .json file that “Keep a copy” made."


@dataclass(frozen=True)
class DataPage:
    """What there is to take along."""

    counts: tuple[tuple[str, int], ...]
    import_path: str = IMPORT_PATH


@dataclass(frozen=True)
class ImportPage:
    """Which file to take in; `running` leads to the one that is being taken in, if any."""

    form: FormReader
    running: str = ""
    action: str = IMPORT_PATH


@dataclass(frozen=True)
class CamePage:
    """A file that is being taken in, or what came of it."""

    token: str
    job: Import

    @property
    def action(self) -> str:
        return _path(self.token)

    @property
    def percent(self) -> int:
        return min(99, 100 * self.job.done // max(1, self.job.of))

    @property
    def added(self) -> int:
        return sum(row[1] for row in self.job.rows)

    @property
    def refused(self) -> int:
        return sum(row[3] for row in self.job.rows)

    @property
    def more_faults(self) -> int:
        return self.job.count - len(self.job.faults)


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


async def read_upload(request: Request) -> Sent:
    """The dependency that takes the file in."""
    return await read_sent(request, NO_FILE, TOO_LARGE)


@router.get(IMPORT_PATH)
def ask(visit: Visiting) -> Response:
    """Which file?"""
    return _ask(visit, FormReader({}), 200)


def _ask(visit: Visit, form: FormReader, status: int) -> Response:
    mine = Imports(visit.app).of_bench(visit.bench_id)
    page = ImportPage(form, _path(mine) if mine else "")
    return visit.render("pages/data/bench_file_import.html", page, status)


@router.post(IMPORT_PATH)
def take_in(visit: Visiting, sent: Annotated[Sent, Depends(read_upload)]) -> Response:
    """Take in what is not here yet, all in one go; beside the pages, one file at a time."""
    form = FormReader({})
    return answer(form, sent, lambda sent: _begin(visit, sent), lambda status: _ask(visit, form, status))


def _begin(visit: Visit, sent: Sent) -> Response:
    visit.needs_a_key()
    if sent.file is None:
        raise NotKept(sent.fault, "file", sent.status)
    try:
        return see(_path(Imports(visit.app).keep(visit.bench_id, sent.name, sent.file.file)))
    except Waits as waits:
        raise (NotKept(MINE_COMES, "file") if waits.mine else NotKept(ROW_FULL, "file", 503)) from waits
    except OSError as full:
        raise NotKept(NO_ROOM, "file", 507) from full
    finally:
        sent.file.file.close()


@router.get(f"{IMPORT_PATH}/{{token}}")
def came_in(token: str, visit: Visiting) -> Response:
    """How far it is, then what came in."""
    return visit.render("pages/data/bench_file_came.html", _page(token, visit))


@router.get(f"{IMPORT_PATH}/{{token}}/progress")
def progress(token: str, visit: Visiting) -> Response:
    """The part of the page that is fetched again and again while the file is taken in."""
    return visit.render("parts/data/came.html", _page(token, visit))


def _page(token: str, visit: Visit) -> CamePage:
    found = Imports(visit.app).find(visit.bench_id, token)
    if found is None:
        raise HTTPException(404)
    return CamePage(token, found)


def _path(token: str) -> str:
    return f"{IMPORT_PATH}/{token}"
