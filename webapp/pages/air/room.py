"""The air in the room: the last thirty days, and today's reading typed by hand."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.drawings.over_time.chart import ChartPoint, line_chart
from webapp.drawings.shapes import Drawing
from webapp.pages.air.fields import AirFields, RoomAir, air_fields, keep_air, read_air, today
from webapp.pages.visit.answering import answer
from webapp.pages.visit.forms import FormReader, Posted
from webapp.pages.visit.visit import Visit, Visiting, see
from webapp.physics.numbers import Unit, say_count, say_number
from webapp.setups.bench_file.schema import AirDay
from webapp.setups.dates import short_date
from webapp.store.air_log import days as air
from webapp.store.air_log import imports
from webapp.store.air_log.days import LOGGED
from webapp.store.tables import ImportJob

IMPORT_PATH = "/air/import"


@dataclass(frozen=True)
class AirLine:
    """One day in words."""

    day: str
    temperature: str
    humidity: str
    source: str
    readings: str


def air_line(one: AirDay, imperial: bool) -> AirLine:
    """A day's mean, in Fahrenheit too for a player who likes inches."""
    temperature = f"{say_number(one.temperature_c, 1)} °C"
    if imperial:
        temperature += f" ({say_number(one.temperature_c * 9 / 5 + 32, 0)} °F)"
    readings = "1 reading" if one.rows == 1 else f"{say_count(one.rows)} readings"
    humidity = f"{say_number(one.humidity_percent, 0)} %"
    if one.source == LOGGED:
        return AirLine(short_date(one.day), temperature, humidity, "logger", readings)
    return AirLine(short_date(one.day), temperature, humidity, "typed", "")


def job_path(job_id: str) -> str:
    """One import's page."""
    return f"{IMPORT_PATH}/{job_id}"


router = APIRouter()

PATH = "/air"
SHOWN_DAYS = 30


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
    air: AirFields
    action: str = PATH
    import_path: str = IMPORT_PATH


@router.get(PATH)
def show(visit: Visiting) -> Response:
    """The last thirty days."""
    return _show(visit, FormReader({}))


@router.post(PATH)
def send(visit: Visiting, form: Posted) -> Response:
    """Keep what the player reads off the hygrometer today."""

    def keep(read: RoomAir) -> Response:
        with visit.writing() as session:
            keep_air(session, visit, read)
        return see(PATH)

    return answer(form, read_air(form), keep, lambda status: _show(visit, form, status))


def _show(visit: Visit, form: FormReader, status: int = 200) -> Response:
    now = today(visit)
    with visit.reading() as session:
        days = air.days(session, visit.bench_id, now - timedelta(days=SHOWN_DAYS - 1))
        kept = imports.list_kept(session, visit.bench_id)
        running = imports.underway(session, visit.bench_id)
    imperial = visit.unit is not Unit.mm
    lines = tuple(air_line(one, imperial) for one in reversed(days))
    last = days[-1] if days else None
    page = AirPage(
        newest=lines[0] if lines else None,
        is_today=last is not None and last.day == now,
        today_logged=last is not None and last.day == now and last.source == LOGGED,
        lines=lines,
        chart=_chart(days) if len(days) > 1 else None,
        imports=tuple(map(_import_line, kept)),
        underway=job_path(running.id) if running else "",
        form=form,
        air=air_fields(visit, form),
    )
    return visit.render("pages/air/room.html", page, status)


def _chart(days: list[AirDay]) -> Drawing:
    points = [ChartPoint(_noon(one.day), one.humidity_percent, "") for one in days]
    return line_chart(points, None, None, "% humidity", "Humidity over the last 30 days", places=0)


def _noon(day: date) -> datetime:
    return datetime.combine(day, time(12)).astimezone()


def _import_line(job: ImportJob) -> ImportLine:
    assert job.first_day is not None and job.last_day is not None
    span = f"{short_date(job.first_day)} to {short_date(job.last_day)}"
    return ImportLine(job.file_name, f"{span}, {say_count(job.rows_new)} readings", job_path(job.id))
