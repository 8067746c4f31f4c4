"""One router per place on the site."""

from fastapi import APIRouter

from webapp.pages import (
    adjustments,
    bench,
    clearance,
    drawings,
    history,
    instruments,
    journal,
    log,
    questions,
    readings,
    report,
    setups,
)

routers: list[APIRouter] = [
    bench.router,
    instruments.router,
    setups.router,
    readings.router,
    adjustments.router,
    questions.router,
    log.router,
    journal.router,
    report.router,
    history.router,
    drawings.router,
    clearance.router,
]
