"""Importing a logger's file: upload it, choose its columns, watch it come in."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException

from webapp.pages.air import import_work as air_work
from webapp.pages.air.columns import columns_page, guessed, read_plan
from webapp.pages.air.words import IMPORT_PATH, date_words, job_path
from webapp.pages.visit.answering import NotKept, answer
from webapp.pages.visit.forms import FormReader, Posted
from webapp.pages.visit.visit import Visit, Visiting, see
from webapp.setups.air_log.columns import DELIMITERS, HEAD_BYTES, Sheet, look
from webapp.setups.air_log.csv_reading import Plan
from webapp.setups.air_log.lines import BadFile
from webapp.store.air_log import imports
from webapp.store.air_log.imports import STOPPED, Busy, JobOver
from webapp.store.tables import ImportJob, JobState

router = APIRouter()

NO_FILE = "Choose the CSV file that the logger made."
TOO_LARGE = "This file is larger than 64 MB. Export a shorter time from the logger, and import it in parts."
NOT_WHOLE = "The file did not arrive whole. Choose it again."
NO_ROOM = "The file could not be kept: is the disk of this computer full?"
FILE_LOST = "The uploaded file is no longer kept. Choose it again."
BUSY = "Another file is being imported. Wait until it is done, then start this one."
OVER = "This import has moved on since the page was shown."


@dataclass(frozen=True)
class SentLog:
    """What came with the upload form, or the sentence about why it did not come."""

    file: UploadFile | None
    fault: str = ""
    status: int = 422


@dataclass(frozen=True)
class UploadPage:
    """Step one."""

    form: FormReader
    action: str = IMPORT_PATH


@dataclass(frozen=True)
class JobPage:
    """An import that runs or has ended."""

    job: ImportJob
    form: FormReader

    @property
    def action(self) -> str:
        return job_path(self.job.id)

    @property
    def percent(self) -> int:
        return min(99, 100 * self.job.bytes_done // max(1, self.job.bytes_all))

    @property
    def good(self) -> int:
        return self.job.rows_done - self.job.bad

    @property
    def there_already(self) -> int:
        return self.good - self.job.rows_new

    @property
    def span(self) -> str:
        first, last = self.job.first_day, self.job.last_day
        if first is None or last is None:
            return ""
        return date_words(first) if first == last else f"{date_words(first)} to {date_words(last)}"

    @property
    def can_retry(self) -> bool:
        return self.job.state in STOPPED


async def read_upload(request: Request) -> SentLog:
    """The dependency that takes the file in, piece by piece, onto the disk."""
    try:
        form = await request.form(max_files=1, max_fields=10)
    except HTTPException as refusal:
        return SentLog(None, TOO_LARGE, 413) if refusal.status_code == 413 else SentLog(None, NOT_WHOLE)
    file = form.get("file")
    if not isinstance(file, UploadFile) or not file.filename:
        return SentLog(None, NO_FILE)
    return SentLog(file)


@router.get(IMPORT_PATH)
def ask(visit: Visiting) -> Response:
    """Step one: which file."""
    return visit.render("pages/air/upload.html", UploadPage(FormReader({})))


@router.post(IMPORT_PATH)
def upload(visit: Visiting, sent: Annotated[SentLog, Depends(read_upload)]) -> Response:
    """Keep the file and look at its beginning."""
    form = FormReader({})
    return answer(
        form,
        sent,
        lambda sent: _begin(visit, sent),
        lambda status: visit.render("pages/air/upload.html", UploadPage(form), status),
    )


def _begin(visit: Visit, sent: SentLog) -> Response:
    if sent.file is None:
        raise NotKept(sent.fault, "file", sent.status)
    try:
        spooled = air_work.spool(visit.app, sent.file.file, HEAD_BYTES)
    except OSError as full:
        raise NotKept(NO_ROOM, "file", 507) from full
    finally:
        sent.file.file.close()
    try:
        look(spooled.head, complete=spooled.size == len(spooled.head))
        name = (sent.file.filename or "").replace("\\", "/").rpartition("/")[2][-120:]
        with visit.writing() as session:
            job_id = imports.create(session, visit.bench_id, name, spooled.digest, spooled.size, visit.now)
            spooled.path.rename(air_work.kept_file(visit.app, job_id))
    except BadFile as bad:
        raise NotKept(bad.sentence, "file", 422) from bad
    finally:
        spooled.path.unlink(missing_ok=True)
    return see(job_path(job_id))


def _lost(visit: Visit) -> Response:
    form = FormReader({})
    form.fault("file", FILE_LOST)
    return visit.render("pages/air/upload.html", UploadPage(form), 410)


@router.get(f"{IMPORT_PATH}/{{job_id}}")
def show(job_id: str, visit: Visiting, delimiter: str = "") -> Response:
    """Step two while the columns are to be chosen, then how far it is, then what came of it."""
    job = _job(visit, job_id)
    if job.state is not JobState.MAPPING:
        return visit.render("pages/air/importing.html", JobPage(job, FormReader({})))
    sheet = _sheet(visit, job, delimiter)
    if sheet is None:
        return _lost(visit)
    chosen = guessed(sheet)
    before = {} if delimiter else json.loads(job.plan)
    return _show_columns(visit, job, sheet, FormReader(chosen | before))


@router.get(f"{IMPORT_PATH}/{{job_id}}/progress")
def progress(job_id: str, visit: Visiting) -> Response:
    """The part of the page that is fetched again and again while the import runs."""
    return visit.render("parts/air/job.html", JobPage(_job(visit, job_id), FormReader({})))


@router.post(f"{IMPORT_PATH}/{{job_id}}")
def act(job_id: str, visit: Visiting, form: Posted) -> Response:
    """Start it, cancel it, go back to the columns, or take it out again."""
    job = _job(visit, job_id)
    deeds = {"cancel": imports.cancel, "again": imports.again, "take_out": imports.take_out}
    wish = form.choice("do", ("start", *deeds), "what to do")
    if wish == "start" and job.state is JobState.MAPPING:
        return _start(visit, job, form)

    def keep(wish: str) -> Response:
        if wish not in deeds:
            raise NotKept(OVER)
        try:
            with visit.writing() as session:
                deeds[wish](session, visit.bench_id, job_id)
        except JobOver as over:
            raise NotKept(OVER) from over
        return see(job_path(job_id))

    def shown(status: int) -> Response:
        return visit.render("pages/air/importing.html", JobPage(_job(visit, job_id), form), status)

    return answer(form, wish, keep, shown)


def _start(visit: Visit, job: ImportJob, form: FormReader) -> Response:
    sheet = _sheet(visit, job, form.raw("delimiter"))
    if sheet is None:
        return _lost(visit)
    names = ("time", "clock", "temperature", "humidity", "degrees", "order", "delimiter")

    def keep(plan: Plan) -> Response:
        try:
            with visit.writing() as session:
                kept = json.dumps({name: form.raw(name) for name in names})
                imports.begin(session, visit.bench_id, job.id, kept, visit.now)
        except Busy as busy:
            raise NotKept(BUSY) from busy
        except JobOver:
            return see(job_path(job.id))  # the form came twice
        air_work.start(visit.app, visit.bench_id, job.id, plan)
        return see(job_path(job.id))

    def shown(status: int) -> Response:
        return _show_columns(visit, job, sheet, form, status)

    return answer(form, read_plan(sheet, form), keep, shown)


def _show_columns(
    visit: Visit, job: ImportJob, sheet: Sheet, form: FormReader, status: int = 200
) -> Response:
    with visit.reading() as session:
        kept = imports.list_kept(session, visit.bench_id)
    twin = next((one for one in kept if one.digest == job.digest), None)
    return visit.render("pages/air/columns.html", columns_page(job, sheet, form, twin), status)


def _job(visit: Visit, job_id: str) -> ImportJob:
    """The job; one that was killed is said to be cut off from the first look on."""
    with visit.reading() as session:
        job = imports.get(session, visit.bench_id, job_id)
    if not imports.is_silent(job, visit.now):
        return job
    with visit.writing() as session:
        imports.bury_silent(session, visit.bench_id, visit.now)
        return imports.get(session, visit.bench_id, job_id)


def _sheet(visit: Visit, job: ImportJob, delimiter: str) -> Sheet | None:
    """The beginning of the job's file; None where the file is gone."""
    wanted = delimiter or json.loads(job.plan).get("delimiter", "")
    try:
        head = air_work.head_of(visit.app, job.id, HEAD_BYTES)
    except OSError:
        return None
    complete = len(head) == job.bytes_all
    try:
        return look(head, complete=complete, delimiter=DELIMITERS.get(wanted))
    except BadFile:
        return look(head, complete=complete)
