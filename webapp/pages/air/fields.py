"""The two fields of the room's air, on whatever page they are asked for, and what is kept of them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from webapp.pages.visit.forms import FormReader, LineField, Options
from webapp.pages.visit.visit import Visit
from webapp.physics.numbers import Unit, write_number
from webapp.setups.air_log.csv_reading import humidity_percent, temperature_c
from webapp.setups.air_log.dates import DateTrouble
from webapp.setups.bench_file.schema import AirDay
from webapp.store.air_log import days as air
from webapp.store.engine import Session

DEGREES = (("c", "°C"), ("f", "°F"))


class RoomAir(NamedTuple):
    """Degrees Celsius, and percent of relative humidity."""

    temperature_c: float
    humidity_percent: float


@dataclass(frozen=True, kw_only=True)
class AirField(LineField):
    """One of the two; `of` reads its text, `missing` is the sentence for an empty one."""

    keys = "decimal"
    width = "short"
    missing: str
    of: Callable[[FormReader, str], float]

    def read(self, form: FormReader, options: Options = ()) -> float | None:
        text = form.raw(self.name).strip()
        if not text:
            form.fault(self.name, self.missing)
            return None
        try:
            return self.of(form, text)
        except DateTrouble as trouble:
            form.fault(self.name, str(trouble))
            return None


def _celsius(form: FormReader, text: str) -> float:
    """A unit that was typed counts before the one that was chosen."""
    unit = text[-1:].lower() if text[-1:].lower() in ("c", "f") else form.raw("temperature_unit", "c")
    return temperature_c(text, unit == "f")


TEMPERATURE = AirField(
    "temperature",
    "",
    "Temperature",
    missing="Type the temperature in the room, such as 21 or 70 °F.",
    of=_celsius,
)
HUMIDITY = AirField(
    "humidity",
    "",
    "Humidity",
    suffix="%",
    missing="Type the humidity that the hygrometer shows, such as 45.",
    of=lambda form, text: humidity_percent(text),
)
FIELDS = {field.name: field for field in (TEMPERATURE, HUMIDITY)}


def read_air(form: FormReader, required: bool = True) -> RoomAir | None:
    """Both, or (where they may be left out) neither: a humidity means little without its temperature."""
    if not required and not any(form.raw(name).strip() for name in FIELDS):
        return None
    temperature, humidity = (field.read(form) for field in FIELDS.values())
    return None if temperature is None or humidity is None else RoomAir(temperature, humidity)


@dataclass(frozen=True)
class AirFields:
    """What the fields show: as typed, else as today's air is known."""

    form: FormReader
    known: AirDay | None
    imperial: bool
    temperature: AirField = TEMPERATURE
    humidity: AirField = HUMIDITY
    degrees: tuple[tuple[str, str], ...] = DEGREES

    @property
    def unit(self) -> str:
        return self.form.raw("temperature_unit", "f" if self.imperial else "c")

    def value(self, name: str) -> str:
        return self.form.raw(name, self._known.get(name, ""))

    @property
    def _known(self) -> Mapping[str, str]:
        if self.known is None:
            return {}
        celsius = self.known.temperature_c
        shown = celsius * 9 / 5 + 32 if self.unit == "f" else celsius
        return {
            "temperature": write_number(round(shown, 1)),
            "humidity": write_number(round(self.known.humidity_percent)),
        }

    @property
    def said(self) -> str:
        """What is known, in short: '46 %, 21 °C'."""
        known, degrees = self._known, dict(DEGREES)[self.unit]
        return f"{known['humidity']} %, {known['temperature']} {degrees}" if known else ""

    @property
    def faulty(self) -> bool:
        return any(self.form.error(name) for name in FIELDS)

    @property
    def is_as_known(self) -> bool:
        """Whether what was typed is only what was shown."""
        return bool(self._known) and all(self.form.raw(name) == text for name, text in self._known.items())


def air_fields(visit: Visit, form: FormReader, known: AirDay | None = None) -> AirFields:
    """In the degrees that go with the bench's unit, until others are chosen."""
    return AirFields(form, known, visit.unit is not Unit.mm)


def today(visit: Visit) -> date:
    return visit.now.astimezone().date()


def air_of_today(visit: Visit) -> AirDay | None:
    """What is known of today's air, typed anywhere or logged."""
    with visit.reading() as session:
        found = air.days(session, visit.bench_id, today(visit))
    return next((one for one in found if one.day == today(visit)), None)


def keep_air(session: Session, visit: Visit, typed: RoomAir) -> None:
    """Typed once, it is known everywhere."""
    air.type_day(session, visit.bench_id, today(visit), *typed)
