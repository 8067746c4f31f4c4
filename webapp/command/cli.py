"""The command: `benchside`."""

from __future__ import annotations

import argparse
import os
import sys
import threading
from collections.abc import Callable, Sequence
from contextlib import suppress
from datetime import UTC, datetime, timedelta

from webapp.command import keys as keys_command
from webapp.command import memory, upkeep
from webapp.command.arguments import NO_COMMAND, read_arguments, read_command
from webapp.command.opening import beside, place_of, to_serve
from webapp.command.serving import CannotStart, certificate, listen, prepare_folder
from webapp.command.stopping import heard
from webapp.store import benches, ways_in
from webapp.store.engine import Session, name_of, writing
from webapp.store.errors import NotFound, Unusable
from webapp.web.log import start_log
from webapp.web.settings import Settings, assets

__all__ = ["main", "read_arguments"]


def main(arguments: Sequence[str] | None = None) -> int:
    """Does what was asked, or starts the app and serves until it is told to stop. Returns the exit code."""
    given = read_command(sys.argv[1:] if arguments is None else arguments)
    try:
        return _do(given)
    except Unusable as unusable:
        print(f"benchside: {unusable.sentence}", file=sys.stderr)
        return 1
    except CannotStart as reason:
        print(f"benchside: {reason}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("Stopped.", flush=True)
        return 0
    except Exception:
        # A disk that changed what was kept can make anything fail; then that is what there is to say.
        damage = upkeep.why_damaged(place_of(given.settings)) if hasattr(given, "settings") else ""
        if not damage:
            raise
        print(f"benchside: {damage}", file=sys.stderr)
        return 1


def _do(given: argparse.Namespace) -> int:
    if given.do in ("serve", NO_COMMAND):
        with heard():
            serve(given.settings)
        return 0
    does: dict[str, Callable[[argparse.Namespace], int | None]] = {
        "link": print_link,
        "keys": keys_command.look_after,
        "bench": make_bench,
        "backup": upkeep.make_backup,
        "restore": upkeep.put_back,
        "doctor": upkeep.examine,
        "move": upkeep.move_all,
    }
    return does[given.do](given) or 0


def serve(settings: Settings) -> None:
    """Opens everything that can fail first, so that what fails is one sentence, and said soon."""
    memory.settle()
    # Loaded when it is needed: the pages take a second, and what does not start does without them.
    from webapp.trade.content import ContentError, load_trade

    try:
        trade = load_trade(assets().content)
    except ContentError as bad:
        raise CannotStart(str(bad)) from bad
    prepare_folder(settings.folder)
    certificate(settings)
    with listen(settings.host, settings.port) as listening, to_serve(settings) as engine:
        if settings.demo:
            from webapp.command.demo import fill

            fill(engine, trade, datetime.now(UTC))
        if settings.hosted:
            start_log()
        from webapp.app import create_app

        app = create_app(settings, trade, engine)
        with writing(engine, "instance") as session:
            benches.served_at(session, settings.address, settings.hosted)
            link, phone_link = ("", "") if settings.hosted else _own_links(session, settings)
        _announce(settings, link, phone_link)
        if settings.open_browser and _has_browser():
            import webbrowser

            # The socket already listens: the browser's first request waits until the app answers.
            threading.Thread(target=webbrowser.open, args=(link,), daemon=True).start()
        if settings.workers > 1:
            from webapp.command.workers import Workers

            Workers(listening, settings).run()
        else:
            from webapp.command.server import run

            run(app, listening, settings)


def _own_links(session: Session, settings: Settings) -> tuple[str, str]:
    """The links into the player's own bench: for this computer, and for a phone where it can reach us."""
    now = datetime.now(UTC)
    bench = benches.get_or_create_local_bench(session, is_demo=settings.demo)
    link = _entry_link(session, bench.id, settings.address, ways_in.ENTRY_LASTS)
    reached = settings.phone_addresses() if settings.phone else ()
    if not reached:
        return link, ""
    from webapp.pages.door.devices import pairing_link

    return link, pairing_link(reached[0], ways_in.make_pairing(session, bench.id, now).code)


def _announce(settings: Settings, link: str, phone_link: str) -> None:
    _say(f"Benchside{' (demo bench)' if settings.demo else ''}: {settings.address}")
    if link:
        _say(f"Come in: {link}")
        _say("(That link works once, within the hour. `benchside link` prints another.)")
    _say(f"Data: {name_of(place_of(settings))}")
    if settings.phone and not phone_link:
        _say("This computer is in no network just now, so no phone can reach it. Connect it and start again.")
    if phone_link:
        _say(f"\nOn your phone, in the same network: {phone_link}")
        _say("(Once, within ten minutes. For another: 'Use your phone' at the foot of the bench.)")
        from webapp.drawings.qr import qr_text

        _say(qr_text(phone_link))
    _say("Stop with Ctrl+C.")


def print_link(given: argparse.Namespace) -> None:
    """A fresh link, for whoever may read the data on this computer."""
    with beside(given.settings) as session:
        instance = benches.get_or_make(session)
        if instance.hosted and not given.bench:
            raise CannotStart("this Benchside is hosted: say which bench, with --bench=ID.")
        is_demo = given.settings.demo
        bench_id = given.bench or benches.get_or_create_local_bench(session, is_demo=is_demo).id
        asked = given.settings.address if given.host or given.port else ""
        address = asked or instance.address or given.settings.address
        _say(_entry_link(session, bench_id, address, ways_in.ENTRY_LASTS))


def make_bench(given: argparse.Namespace) -> None:
    """A bench for somebody, and the link to send them."""
    with beside(given.settings) as session:
        address = f"https://{given.called}/" if given.called else benches.get_or_make(session).address
        if not address:
            raise CannotStart("it was not served yet, so its address is not known: say it with --name.")
        bench_id = benches.make(session, datetime.now(UTC))
        link = _entry_link(session, bench_id, address, ways_in.INVITATION_LASTS)
        _say(f"Bench: {bench_id}")
        _say(f"Come in: {link}")
        _say(f"(That link works once, within seven days. Another: `benchside link --bench={bench_id}`.)")


def _entry_link(session: Session, bench_id: str, address: str, lasts: timedelta) -> str:
    try:
        return f"{address}enter/{ways_in.make_entry(session, bench_id, datetime.now(UTC), lasts)}"
    except NotFound as missing:
        raise CannotStart(f"there is no bench {bench_id!r} here.") from missing


def _say(words: str) -> None:
    """Prints what the terminal can show: an old one lacks the signs of the square; the page shows it too."""
    with suppress(UnicodeEncodeError):
        print(words, flush=True)


def _has_browser() -> bool:
    """Without a screen, a browser would open in the terminal and take it over."""
    if sys.platform.startswith("linux"):
        return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))
    return True
