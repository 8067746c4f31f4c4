"""Importing a logger's file: upload it, choose its columns, watch it come in."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from webapp.pages.air import import_work as air_work
from webapp.pages.air.room import IMPORT_PATH, job_path
from webapp.pages.visit.answering import NotKept, answer
from webapp.pages.visit.forms import FormReader, Posted
from webapp.pages.visit.uploads import NO_ROOM, Sent, read_sent, spool
from webapp.pages.visit.visit import Visit, Visiting, see
from webapp.setups.air_log.columns import DELIMITERS, HEAD_BYTES, PREVIEW, BadFile, Sheet, look
from webapp.setups.air_log.csv_reading import Plan
from webapp.setups.air_log.dates import DateOrder, DateTrouble, is_local, moment, orders, shown
from webapp.setups.dates import short_date
from webapp.store.air_log import imports
from webapp.store.air_log.imports import STOPPED, Busy, JobOver
from webapp.store.tables import ImportJob, JobState

Options = tuple[tuple[str, str], ...]
SAME_COLUMN = "It is in the same column"
NOT_CHOSEN = "Choose a column"
DELIMITER_WORDS = {"comma": "Commas", "semicolon": "Semicolons", "tab": "Tabs", "bar": "Upright bars"}
_FIELDS = ("time", "temperature", "humidity")


@dataclass(frozen=True)
class ColumnsPage:
    """`orders` is empty where dates can be read in one way only; `twin` says when the file came before."""

    job: ImportJob
    sheet: Sheet
    form: FormReader
    columns: Options
    orders: Options
    delimiter: str
    twin: str

    @property
    def action(self) -> str:
        return job_path(self.job.id)

    @property
    def preview(self) -> tuple[tuple[str, ...], ...]:
        width = len(self.sheet.columns)
        return tuple((*row, *[""] * width)[:width] for row in self.sheet.sample[:PREVIEW])

    @property
    def delimiters(self) -> Options:
        return tuple(DELIMITER_WORDS.items())

    @property
    def column_choices(self) -> Options:
        return (("", NOT_CHOSEN), *self.columns)

    @property
    def clock_choices(self) -> Options:
        return (("", SAME_COLUMN), *self.columns)


def columns_page(job: ImportJob, sheet: Sheet, form: FormReader, twin: ImportJob | None) -> ColumnsPage:
    """The page's context; `form` holds the choice so far, or what `guessed` says."""
    delimiter = next(key for key, sign in DELIMITERS.items() if sign == sheet.delimiter)
    came = "" if twin is None else short_date(twin.started_at.astimezone().date())
    return ColumnsPage(job, sheet, form, _columns(sheet), _orders(sheet, form.raw("time")), delimiter, came)


def guessed(sheet: Sheet) -> dict[str, str]:
    """The form as it is first shown."""
    guess = sheet.guess
    found = {"time": guess.time, "clock": guess.clock}
    found |= {"temperature": guess.temperature, "humidity": guess.humidity}
    chosen = {name: "" if column is None else str(column) for name, column in found.items()}
    possible = orders(sheet.cells(guess.time)) if guess.time is not None else ()
    chosen["degrees"] = "f" if guess.fahrenheit else "c"
    chosen["order"] = possible[0].value if len(possible) == 1 else ""
    return chosen


def read_plan(sheet: Sheet, form: FormReader) -> Plan | None:
    """The plan that the player chose; None, with sentences in the form, where it cannot be one."""
    keys = [key for key, _ in _columns(sheet)]
    chosen = {
        "time": form.choice("time", keys, "the column that holds the date"),
        "temperature": form.choice("temperature", keys, "the column that holds the temperature"),
        "humidity": form.choice("humidity", keys, "the column that holds the humidity"),
    }
    clock = form.choice("clock", ["", *keys], "where the time of day is")
    degrees = form.choice("degrees", ("c", "f"), "Celsius or Fahrenheit")
    order = _order(sheet, form)
    _refuse_twice(form, chosen | {"clock": clock or None})
    time, temperature, humidity = (chosen[name] for name in _FIELDS)
    if not form.ok or time is None or temperature is None or humidity is None:
        return None
    return Plan(
        sheet.encoding,
        sheet.delimiter,
        sheet.skip,
        int(time),
        int(clock) if clock else None,
        int(temperature),
        int(humidity),
        degrees == "f",
        order,
    )


def _order(sheet: Sheet, form: FormReader) -> DateOrder:
    if not _orders(sheet, form.raw("time")):
        return DateOrder.DAY
    return form.word("order", DateOrder, "whether the day or the month comes first") or DateOrder.DAY


def _refuse_twice(form: FormReader, chosen: dict[str, str | None]) -> None:
    seen: set[str] = set()
    for name, column in chosen.items():
        if column is not None and column in seen:
            form.fault(name, "This column is chosen twice. Each of them has its own.")
        elif column is not None:
            seen.add(column)


def _columns(sheet: Sheet) -> Options:
    return tuple((str(n), _column_words(sheet, n)) for n in range(len(sheet.columns)))


def _column_words(sheet: Sheet, column: int) -> str:
    cells = sheet.cells(column)
    return f"{sheet.columns[column]}: {cells[0][:30]}" if cells else f"{sheet.columns[column]}: empty"


def _orders(sheet: Sheet, time: str) -> Options:
    """The two ways to read the dates, with one of them as an example; none where there is only one way."""
    if not time.isdecimal() or int(time) >= len(sheet.columns):
        return ()
    cells = [cell for cell in sheet.cells(int(time)) if is_local(cell)]
    if not cells:
        return ()
    # 01/01/2026 would read the same in both.
    example = next((one for one in cells if len({_reads(one, order) for order in DateOrder}) > 1), cells[0])
    words = {DateOrder.DAY: "Day first", DateOrder.MONTH: "Month first"}
    return tuple((order.value, f"{words[order]}{_reads(example, order)}") for order in DateOrder)


def _reads(cell: str, order: DateOrder) -> str:
    try:
        read: datetime = moment(cell, order, None)
    except DateTrouble:
        return ""
    return f": {shown(cell)} is {short_date(read.date())}"


router = APIRouter()

NO_FILE = "Choose the CSV file that the logger made."
TOO_LARGE = "This file is larger than 64 MB. Export a shorter time from the logger, and import it in parts."
FILE_LOST = "The uploaded file is no longer kept. Choose it again."
BUSY = "Another file is being imported. Wait until it is done, then start this one."
OVER = "This import has moved on since the page was shown."


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
        return short_date(first) if first == last else f"{short_date(first)} to {short_date(last)}"

    @property
    def can_retry(self) -> bool:
        return self.job.state in STOPPED


async def read_upload(request: Request) -> Sent:
    """The dependency that takes the file in."""
    return await read_sent(request, NO_FILE, TOO_LARGE)


@router.get(IMPORT_PATH)
def ask(visit: Visiting) -> Response:
    """Step one: which file."""
    return visit.render("pages/air/upload.html", UploadPage(FormReader({})))


@router.post(IMPORT_PATH)
def upload(visit: Visiting, sent: Annotated[Sent, Depends(read_upload)]) -> Response:
    """Keep the file and look at its beginning."""
    form = FormReader({})
    return answer(
        form,
        sent,
        lambda sent: _begin(visit, sent),
        lambda status: visit.render("pages/air/upload.html", UploadPage(form), status),
    )


def _begin(visit: Visit, sent: Sent) -> Response:
    if sent.file is None:
        raise NotKept(sent.fault, "file", sent.status)
    try:
        spooled = spool(visit.app.settings, sent.file.file, HEAD_BYTES)
    except OSError as full:
        raise NotKept(NO_ROOM, "file", 507) from full
    finally:
        sent.file.file.close()
    try:
        look(spooled.head, complete=spooled.size == len(spooled.head))
        with visit.writing() as session:
            about = sent.name, spooled.digest, spooled.size
            job_id = imports.create(session, visit.bench_id, *about, visit.now)
            spooled.path.rename(air_work.kept_file(visit.app, job_id))
            mine = imports.ids_of(session, visit.bench_id)
        air_work.make_room(visit.app, mine)
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
