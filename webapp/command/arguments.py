"""What can be typed after `benchside`, and what it means."""

from __future__ import annotations

import argparse
import os
import socket
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from ipaddress import ip_network
from pathlib import Path

from webapp.web.settings import DEFAULT_HOST, DEFAULT_PORT, Settings, default_data_dir

MORE = """further commands:
  benchside link        print a fresh link into the bench, for an app that runs or is stopped
  benchside serve       the hosted form, behind a reverse proxy
  benchside keys        list the devices that hold a key to a bench, and take keys back
  benchside bench new   make a bench on a hosted Benchside and print the link into it
  benchside backup      copy the data to a file
  benchside restore     put such a copy back
  benchside doctor      look whether the data is sound, and say what there is to do
  benchside move        copy the data from a file to PostgreSQL, or back

Each of them explains itself with --help."""


@dataclass(frozen=True)
class Link:
    """Print a fresh link. `address` is empty for "where it was last served"; `bench` for the player's own."""

    settings: Settings
    address: str
    bench: str


@dataclass(frozen=True)
class Keys:
    """List a bench's keys, or take one or all of them back. `bench` is empty for the player's own."""

    settings: Settings
    bench: str
    revoke: str = ""
    revoke_all: bool = False


@dataclass(frozen=True)
class NewBench:
    """Make a bench and print the link into it."""

    settings: Settings
    address: str


@dataclass(frozen=True)
class Backup:
    """Copy the data to a file."""

    settings: Settings
    file: Path


@dataclass(frozen=True)
class Restore:
    """Put a copy in the data's place."""

    settings: Settings
    file: Path


@dataclass(frozen=True)
class Doctor:
    """Look at the data."""

    settings: Settings


@dataclass(frozen=True)
class Move:
    """Copy everything from one place to another; each is a file or an address."""

    source: str
    target: str


Command = Settings | Link | Keys | NewBench | Backup | Restore | Doctor | Move


def read_command(arguments: Sequence[str]) -> Command:
    """What is to be done. Says what was wrong, and leaves with 2, where nothing can be made of it."""
    readers: dict[str, Callable[[Sequence[str]], Command]] = {
        "serve": _hosted,
        "link": _link,
        "keys": _keys,
        "bench": _new_bench,
        "backup": _backup,
        "restore": _restore,
        "doctor": _doctor,
        "move": _move,
    }
    if arguments and arguments[0] in readers:
        return readers[arguments[0]](arguments[1:])
    return read_arguments(arguments)


def read_arguments(arguments: Sequence[str] | None) -> Settings:
    """The app on the player's own computer."""
    parser = argparse.ArgumentParser(
        prog="benchside",
        description="A full setup of your bass or guitar, step by step, at the workbench.",
        epilog=MORE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    _where(parser, demo=True)
    parser.add_argument("--host", help=f"address to listen on; default {DEFAULT_HOST}, this computer only")
    parser.add_argument(
        "--phone", action="store_true", help="listen on the home network, and show a code for your phone"
    )
    parser.add_argument(
        "--phone-address", default="", metavar="ADDRESS", help="the phone's way here, if the guess is wrong"
    )
    parser.add_argument("--no-browser", action="store_true", help="do not open the browser")
    _names_and_certificate(parser)
    given = parser.parse_args(arguments)
    host = (given.host or ("0.0.0.0" if given.phone else DEFAULT_HOST)).strip("[]")
    own = _own_names() if host in ("0.0.0.0", "::") else ()
    shown = (given.phone_address,) if given.phone_address else ()
    settings = Settings(
        data_dir=_folder(given.data),
        host=host,
        port=given.port or DEFAULT_PORT,
        demo=given.demo,
        open_browser=not given.no_browser,
        extra_hosts=(*given.name, *own, *shown),
        phone=given.phone,
        phone_address=given.phone_address,
        database_url=_database(parser, given),
    )
    return _certified(settings, parser, given)


def _hosted(arguments: Sequence[str]) -> Settings:
    parser = argparse.ArgumentParser(
        prog="benchside serve",
        description="The hosted form: for several people, over https, behind a reverse proxy. "
        "It makes no bench by itself; `benchside bench new` does.",
    )
    _where(parser, demo=False)
    parser.add_argument("--host", default=DEFAULT_HOST, help=f"address to listen on; default {DEFAULT_HOST}")
    parser.add_argument(
        "--proxy",
        action="append",
        default=[],
        type=_network,
        metavar="ADDRESS",
        help="address or network of the proxy; only its X-Forwarded-For and X-Forwarded-Proto are believed",
    )
    parser.add_argument(
        "--workers", type=_workers, default=1, metavar="N", help="processes that answer; needs --database"
    )
    _names_and_certificate(parser)
    given = parser.parse_args(arguments)
    if given.workers > 1 and not given.database:
        parser.error("several workers need a database on a server: --database postgresql+psycopg://...")
    if not given.name:
        parser.error("say by which name it is served: --name bench.example.org")
    if bool(given.proxy) == bool(given.tls_cert):
        parser.error(
            "say which proxy stands before it (--proxy 127.0.0.1), or give it --tls-cert and --tls-key"
        )
    settings = Settings(
        data_dir=_folder(given.data),
        host=given.host.strip("[]"),
        port=given.port or DEFAULT_PORT,
        open_browser=False,
        extra_hosts=tuple(given.name),
        hosted=True,
        proxies=tuple(given.proxy),
        database_url=_database(parser, given),
        workers=given.workers,
    )
    return _certified(settings, parser, given)


def _link(arguments: Sequence[str]) -> Link:
    parser = argparse.ArgumentParser(
        prog="benchside link",
        description="Prints a fresh link into the bench. It works once, within an hour.",
    )
    _where(parser, demo=True)
    parser.add_argument("--host", help="the address in the link, if not the one that was served last")
    parser.add_argument("--bench", default="", metavar="ID", help="on a hosted Benchside: the bench")
    given = parser.parse_args(arguments)
    settings = Settings(
        _folder(given.data), given.host or DEFAULT_HOST, given.port or DEFAULT_PORT, given.demo,
        database_url=_database(parser, given),
    )  # fmt: skip
    return Link(settings, settings.address if given.host or given.port else "", given.bench)


def _keys(arguments: Sequence[str]) -> Keys:
    parser = argparse.ArgumentParser(
        prog="benchside keys",
        description="Lists the devices that hold a key to a bench, also while Benchside runs. What is taken "
        "back opens nothing from its next request on.",
    )
    _kept(parser)
    parser.add_argument("--demo", action="store_true", help="those of the demo bench")
    parser.add_argument("--bench", default="", metavar="ID", help="on a hosted Benchside: the bench")
    back = parser.add_mutually_exclusive_group()
    back.add_argument("--revoke", type=_key_id, metavar="KEY", help="take this key back")
    back.add_argument(
        "--revoke-all", action="store_true", help="take all keys back, and every code not used yet"
    )
    given = parser.parse_args(arguments)
    settings = Settings(_folder(given.data), demo=given.demo, database_url=_database(parser, given))
    return Keys(settings, given.bench, given.revoke or "", given.revoke_all)


def _new_bench(arguments: Sequence[str]) -> NewBench:
    parser = argparse.ArgumentParser(
        prog="benchside bench", description="Makes a bench on a hosted Benchside and prints the link into it."
    )
    parser.add_argument("what", choices=["new"])
    _where(parser, demo=False)
    parser.add_argument(
        "--name", default="", metavar="HOST", help="the name for the link, if it was never served"
    )
    given = parser.parse_args(arguments)
    settings = Settings(
        _folder(given.data), port=given.port or DEFAULT_PORT, database_url=_database(parser, given)
    )
    return NewBench(settings, f"https://{given.name}/" if given.name else "")


def _backup(arguments: Sequence[str]) -> Backup:
    parser = argparse.ArgumentParser(
        prog="benchside backup",
        description="Copies the data to a file, whole and checked, also while Benchside runs.",
    )
    parser.add_argument("file", type=Path, metavar="FILE", help="where to; it must not be there yet")
    _kept(parser)
    given = parser.parse_args(arguments)
    return Backup(Settings(_folder(given.data), database_url=_database(parser, given)), given.file)


def _restore(arguments: Sequence[str]) -> Restore:
    parser = argparse.ArgumentParser(
        prog="benchside restore",
        description="Puts a copy in the data's place. What is there now is kept aside, not thrown away.",
    )
    parser.add_argument("file", type=Path, metavar="FILE", help="a copy that Benchside made")
    _kept(parser)
    given = parser.parse_args(arguments)
    return Restore(Settings(_folder(given.data), database_url=_database(parser, given)), given.file)


def _doctor(arguments: Sequence[str]) -> Doctor:
    parser = argparse.ArgumentParser(
        prog="benchside doctor",
        description="Looks whether the data is sound and safe, and says what there is to do. "
        "Changes nothing. Ends with 1 where there is something to do.",
    )
    _kept(parser)
    given = parser.parse_args(arguments)
    return Doctor(Settings(_folder(given.data), database_url=_database(parser, given)))


def _move(arguments: Sequence[str]) -> Move:
    parser = argparse.ArgumentParser(
        prog="benchside move",
        description="Copies everything from a file to a database on a PostgreSQL server, or back, and "
        "compares every row. The place it goes to must be empty; where it comes from stays as it is.",
    )
    place = "a file, or postgresql+psycopg://name@host/database"
    parser.add_argument("--from", dest="source", required=True, metavar="PLACE", help=place)
    parser.add_argument("--to", dest="target", required=True, metavar="PLACE", help=place)
    given = parser.parse_args(arguments)
    return Move(given.source, given.target)


def _where(parser: argparse.ArgumentParser, *, demo: bool) -> None:
    _kept(parser)
    parser.add_argument("--port", type=_port, help=f"default {DEFAULT_PORT}")
    if demo:
        parser.add_argument("--demo", action="store_true", help="a filled demo bench of its own")


def _kept(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--data", type=Path, metavar="FOLDER", help="where to keep the data")
    # Others on a computer can see what was typed to start a program, but not what such a variable holds.
    parser.add_argument(
        "--database",
        default=os.environ.get("BENCHSIDE_DATABASE", ""),
        metavar="ADDRESS",
        help="keep the data on a PostgreSQL server: postgresql+psycopg://name@host/database "
        "(with a password, better in the variable BENCHSIDE_DATABASE)",
    )


def _database(parser: argparse.ArgumentParser, given: argparse.Namespace) -> str:
    if given.database and getattr(given, "demo", False):
        parser.error("the demo bench is kept in a file of its own; leave --database out")
    return str(given.database)


def _key_id(text: str) -> str:
    if not text:
        raise argparse.ArgumentTypeError("say which key; `benchside keys` lists them")
    return text


def _workers(text: str) -> int:
    if not text.isascii() or not text.isdigit() or not 1 <= int(text) <= 64:
        raise argparse.ArgumentTypeError(f"{text!r} is not a number of workers: use one from 1 to 64")
    return int(text)


def _names_and_certificate(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--name", action="append", default=[], type=_name, metavar="HOST", help="a name by which it is called"
    )
    parser.add_argument("--tls-cert", type=Path, metavar="FILE", help="serve https with this certificate")
    parser.add_argument("--tls-key", type=Path, metavar="FILE", help="and this key")


def _certified(settings: Settings, parser: argparse.ArgumentParser, given: argparse.Namespace) -> Settings:
    if (given.tls_cert is None) != (given.tls_key is None):
        parser.error("--tls-cert and --tls-key go together")
    return (
        settings
        if given.tls_cert is None
        else replace(settings, tls_cert=given.tls_cert, tls_key=given.tls_key)
    )


def _folder(given: Path | None) -> Path:
    return (given or default_data_dir()).expanduser().absolute()


def _port(text: str) -> int:
    if not text.isascii() or not text.isdigit() or not 1 <= int(text) <= 65535:
        raise argparse.ArgumentTypeError(f"{text!r} is not a port: use a whole number from 1 to 65535")
    return int(text)


def _name(text: str) -> str:
    if not text or any(sign in text for sign in "/@ \t*"):
        raise argparse.ArgumentTypeError(f"{text!r} is not a host name: use one such as bench.example.org")
    return text.lower()


def _network(text: str) -> str:
    try:
        ip_network(text)
    except ValueError:
        raise argparse.ArgumentTypeError(
            f"{text!r} is not an address or network: use one such as 127.0.0.1 or 10.0.0.0/24"
        ) from None
    return text


def _own_names() -> tuple[str, ...]:
    name = socket.gethostname().lower()
    return (name, f"{name}.local") if name else ()
