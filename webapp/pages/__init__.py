"""One router per place on the site."""

from fastapi import APIRouter

from webapp.pages.air import importing as air_import
from webapp.pages.air import room as air
from webapp.pages.data import bench_file
from webapp.pages.door import come_back, devices, entering
from webapp.pages.history import history, season
from webapp.pages.instrument import bench, due, instrument, strings
from webapp.pages.instrument import instrument as instruments
from webapp.pages.lessons import class_sheet, lesson_link, lessons, student
from webapp.pages.listening import asking as listening
from webapp.pages.listening import taken
from webapp.pages.setup import adjustments, at_hand, journal, questions, quick, readings, report
from webapp.pages.setup import setup as setups
from webapp.pages.sharing import share_making as shares
from webapp.pages.sharing import share_view as shared
from webapp.pages.tryout import buzz_finder, clearance, what_if
from webapp.pages.tryout import how_low as low
from webapp.pages.tryout import intonation_split as intonation
from webapp.pages.tryout import touch_test as touch

routers: list[APIRouter] = [
    bench.router,
    instruments.router,
    setups.router,
    readings.router,
    adjustments.router,
    questions.router,
    at_hand.router,
    listening.router,
    taken.router,
    buzz_finder.router,
    quick.router,
    intonation.router,
    journal.router,
    report.router,
    history.router,
    instrument.router,
    clearance.router,
    strings.router,
    touch.router,
    low.router,
    what_if.router,
    air.router,
    air_import.router,
    entering.router,
    devices.router,
    due.router,
    season.router,
    bench_file.router,
    shares.router,
    shared.router,
    lessons.router,
    class_sheet.router,
    lesson_link.router,
    student.router,
    come_back.router,
]
