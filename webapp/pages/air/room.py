"""The air in the room: the last thirty days, and today's reading typed by hand."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.drawings.chart import ChartPoint, line_chart
from webapp.drawings.shapes import Drawing
from webapp.pages.air.words import IMPORT_PATH, AirLine, air_line, date_words, job_path
from webapp.pages.visit.answering import answer
from webapp.pages.visit.forms import FormReader, Posted
from webapp.pages.visit.visit import Visit, Visiting, see
from webapp.physics.lengths import Unit
from webapp.physics.numbers import say_count
from webapp.setups.air_log.csv_reading import humidity_percent, temperature_c
from webapp.setups.air_log.dates import DateTrouble
from webapp.store.air_log import days as air
from webapp.store.air_log import imports
from webapp.store.air_log.days import LOGGED, AirDay
from webapp.store.tables import ImportJob

router = APIRouter()

PATH = "/air"
SHOWN_DAYS = 30
DEGREES = (("c", "°C"), ("f", "°F"))


@dataclass(frozen=True)
class ImportLine:
    """One file whose readings are on the bench."""

    name: str
    words: str
    href: str


@dataclass(frozen=True)
class AirPage:
    """`newest` is the last of the thirty days; `lines` are all of them, newest first."""

    newest: AirLine | None
    is_today: bool
    today_logged: bool
    lines: tuple[AirLine, ...]
    chart: Drawing | None
    imports: tuple[ImportLine, ...]
    underway: str
    form: FormReader
    degrees: str
    action: str = PATH
    import_path: str = IMPORT_PATH
    degree_choices: tuple[tuple[str, str], ...] = DEGREES


@router.get(PATH)
def show(visit: Visiting) -> Response:
    """The last thirty days."""
    return _show(visit, FormReader({}))


@router.post(PATH)
def send(visit: Visiting, form: Posted) -> Response:
    """Keep what the player reads off the hygrometer today."""

    def keep(read: tuple[float, float]) -> Response:
        with visit.writing() as session:
            air.type_day(session, visit.bench_id, _today(visit), *read)
        return see(PATH)

    return answer(form, _read(form), keep, lambda status: _show(visit, form, status))


def _read(form: FormReader) -> tuple[float, float] | None:
    """Degrees Celsius, and percent."""
    temperature, humidity = _temperature(form), _humidity(form)
    return None if temperature is None or humidity is None else (temperature, humidity)


def _temperature(form: FormReader) -> float | None:
    text = form.raw("temperature").strip()
    unit = text[-1:].lower() if text[-1:].lower() in ("c", "f") else form.raw("temperature_unit", "c")
    if not text:
        form.fault("temperature", "Type the temperature in the room, such as 21 or 70 °F.")
        return None
    try:
        return temperature_c(text, unit == "f")
    except DateTrouble as trouble:
        form.fault("temperature", str(trouble))
        return None


def _humidity(form: FormReader) -> float | None:
    text = form.raw("humidity").strip()
    if not text:
        form.fault("humidity", "Type the humidity that the hygrometer shows, such as 45.")
        return None
    try:
        return humidity_percent(text)
    except DateTrouble as trouble:
        form.fault("humidity", str(trouble))
        return None


def _show(visit: Visit, form: FormReader, status: int = 200) -> Response:
    today = _today(visit)
    with visit.reading() as session:
        days = air.days(session, visit.bench_id, today - timedelta(days=SHOWN_DAYS - 1))
        kept = imports.list_kept(session, visit.bench_id)
        running = imports.underway(session, visit.bench_id)
    imperial = visit.unit is not Unit.mm
    lines = tuple(air_line(one, imperial) for one in reversed(days))
    last = days[-1] if days else None
    page = AirPage(
        newest=lines[0] if lines else None,
        is_today=last is not None and last.day == today,
        today_logged=last is not None and last.day == today and last.source == LOGGED,
        lines=lines,
        chart=_chart(days) if len(days) > 1 else None,
        imports=tuple(map(_import_line, kept)),
        underway=job_path(running.id) if running else "",
        form=form,
        degrees=form.raw("temperature_unit", "f" if imperial else "c"),
    )
    return visit.render("pages/air/room.html", page, status)


def _chart(days: list[AirDay]) -> Drawing:
    points = [ChartPoint(_noon(one.day), one.humidity_percent, "") for one in days]
    return line_chart(points, None, None, "% humidity", "Humidity over the last 30 days", places=0)


def _noon(day: date) -> datetime:
    return datetime.combine(day, time(12)).astimezone()


def _import_line(job: ImportJob) -> ImportLine:
    assert job.first_day is not None and job.last_day is not None
    span = f"{date_words(job.first_day)} to {date_words(job.last_day)}"
    return ImportLine(job.file_name, f"{span}, {say_count(job.rows_new)} readings", job_path(job.id))


def _today(visit: Visit) -> date:
    return visit.now.astimezone().date()
