"""What can be typed after `benchside`, and what it means."""

from __future__ import annotations

import argparse
import os
import socket
from collections.abc import Sequence
from dataclasses import replace
from ipaddress import ip_network
from pathlib import Path

from webapp.web.settings import DEFAULT_HOST, DEFAULT_PORT, Settings, default_data_dir

NO_COMMAND = "open"


def read_command(arguments: Sequence[str]) -> argparse.Namespace:
    """What is to be done: `do` names it, `settings` says with what data, the rest is the command's own.

    Says what was wrong, and leaves with 2, where nothing can be made of it.
    """
    given = _parser().parse_args(arguments)
    given.settings = {"serve": _hosted, NO_COMMAND: _at_home}.get(given.do, _beside)(given)
    return given


def read_arguments(arguments: Sequence[str]) -> Settings:
    """The same for whoever only wants the settings."""
    settings: Settings = read_command(arguments).settings
    return settings


def _parser() -> argparse.ArgumentParser:
    kept, port, demo, served = _kept(), _at_port(), _demo(), _names_and_certificate()
    whole = argparse.ArgumentParser(
        prog="benchside",
        description="A full setup of your bass or guitar, step by step, at the workbench.",
        # Of their own: what is set below would count for the commands' too.
        parents=[_kept(), _at_port(), _demo(), _names_and_certificate()],
    )
    # Others on a computer can see what was typed to start a program, but not what such a variable holds.
    database = os.environ.get("BENCHSIDE_DATABASE", "")
    whole.set_defaults(do=NO_COMMAND, parser=whole, data=None, database=database, port=None, demo=False)
    whole.set_defaults(name=[], tls_cert=None, tls_key=None)
    whole.add_argument("--host", help=f"address to listen on; default {DEFAULT_HOST}, this computer only")
    whole.add_argument(
        "--phone", action="store_true", help="listen on the home network, and show a code for your phone"
    )
    whole.add_argument(
        "--phone-address", default="", metavar="ADDRESS", help="the phone's way here, if the guess is wrong"
    )
    whole.add_argument("--no-browser", action="store_true", help="do not open the browser")
    more = whole.add_subparsers(
        title="further commands", metavar="COMMAND", description="Each of them explains itself with --help."
    )

    def add(
        name: str, short: str, description: str, *parents: argparse.ArgumentParser
    ) -> argparse.ArgumentParser:
        one = more.add_parser(name, help=short, description=description, parents=list(parents))
        one.set_defaults(do=name, parser=one)
        return one

    _add_serve(add("serve", "the hosted form, behind a reverse proxy", SERVE, kept, port, served))
    _add_link(add("link", "print a fresh link into the bench", LINK, kept, port, demo))
    _add_keys(add("keys", "list the devices that hold a key, and take keys back", KEYS, kept, demo))
    _add_bench(add("bench", "make a bench on a hosted Benchside, and print the link", BENCH, kept, port))
    copied = add("backup", "copy the data to a file", BACKUP, kept)
    copied.add_argument("file", type=Path, metavar="FILE", help="where to; it must not be there yet")
    copy = add("restore", "put such a copy back", RESTORE, kept)
    copy.add_argument("file", type=Path, metavar="FILE", help="a copy that Benchside made")
    add("doctor", "look whether the data is sound, and say what there is to do", DOCTOR, kept)
    moved = add("move", "copy the data from a file to PostgreSQL, or back", MOVE)
    place = "a file, or postgresql+psycopg://name@host/database"
    moved.add_argument("--from", dest="source", required=True, metavar="PLACE", help=place)
    moved.add_argument("--to", dest="target", required=True, metavar="PLACE", help=place)
    return whole


SERVE = (
    "The hosted form: for several people, over https, behind a reverse proxy. "
    "It makes no bench by itself; `benchside bench new` does."
)
LINK = "Prints a fresh link into the bench. It works once, within an hour."
KEYS = (
    "Lists the devices that hold a key to a bench, also while Benchside runs. What is taken "
    "back opens nothing from its next request on."
)
BENCH = "Makes a bench on a hosted Benchside and prints the link into it."
BACKUP = "Copies the data to a file, whole and checked, also while Benchside runs."
RESTORE = "Puts a copy in the data's place. What is there now is kept aside, not thrown away."
DOCTOR = (
    "Looks whether the data is sound and safe, and says what there is to do. "
    "Changes nothing. Ends with 1 where there is something to do."
)
MOVE = (
    "Copies everything from a file to a database on a PostgreSQL server, or back, and "
    "compares every row. The place it goes to must be empty; where it comes from stays as it is."
)


def _shared() -> argparse.ArgumentParser:
    """Options that several commands take; what was not given there leaves alone what stood before it."""
    return argparse.ArgumentParser(add_help=False, argument_default=argparse.SUPPRESS)


def _kept() -> argparse.ArgumentParser:
    parser = _shared()
    parser.add_argument("--data", type=Path, metavar="FOLDER", help="where to keep the data")
    parser.add_argument(
        "--database",
        metavar="ADDRESS",
        help="keep the data on a PostgreSQL server: postgresql+psycopg://name@host/database "
        "(with a password, better in the variable BENCHSIDE_DATABASE)",
    )
    return parser


def _at_port() -> argparse.ArgumentParser:
    parser = _shared()
    parser.add_argument("--port", type=_port, help=f"default {DEFAULT_PORT}")
    return parser


def _demo() -> argparse.ArgumentParser:
    parser = _shared()
    parser.add_argument("--demo", action="store_true", help="a filled demo bench of its own")
    return parser


def _names_and_certificate() -> argparse.ArgumentParser:
    parser = _shared()
    parser.add_argument(
        "--name", action="append", type=_name, metavar="HOST", help="a name by which it is called"
    )
    parser.add_argument("--tls-cert", type=Path, metavar="FILE", help="serve https with this certificate")
    parser.add_argument("--tls-key", type=Path, metavar="FILE", help="and this key")
    return parser


def _add_serve(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--host", help=f"address to listen on; default {DEFAULT_HOST}")
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


def _add_link(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--host", help="the address in the link, if not the one that was served last")
    parser.add_argument("--bench", default="", metavar="ID", help="on a hosted Benchside: the bench")


def _add_keys(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--bench", default="", metavar="ID", help="on a hosted Benchside: the bench")
    back = parser.add_mutually_exclusive_group()
    back.add_argument("--revoke", type=_key_id, metavar="KEY", help="take this key back")
    back.add_argument(
        "--revoke-all", action="store_true", help="take all keys back, and every code not used yet"
    )


def _add_bench(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("what", choices=["new"])
    parser.add_argument(
        "--name",
        dest="called",
        default="",
        metavar="HOST",
        help="the name for the link, if it was never served",
    )


def _at_home(given: argparse.Namespace) -> Settings:
    """The app on the player's own computer."""
    host = (given.host or ("0.0.0.0" if given.phone else DEFAULT_HOST)).strip("[]")
    own = _own_names() if host in ("0.0.0.0", "::") else ()
    shown = (given.phone_address,) if given.phone_address else ()
    settings = replace(
        _beside(given),
        host=host,
        open_browser=not given.no_browser,
        extra_hosts=(*given.name, *own, *shown),
        phone=given.phone,
        phone_address=given.phone_address,
    )
    return _certified(settings, given)


def _hosted(given: argparse.Namespace) -> Settings:
    """The app for several people, behind a proxy."""
    if given.workers > 1 and not given.database:
        given.parser.error("several workers need a database on a server: --database postgresql+psycopg://...")
    if not given.name:
        given.parser.error("say by which name it is served: --name bench.example.org")
    if bool(given.proxy) == bool(given.tls_cert):
        given.parser.error(
            "say which proxy stands before it (--proxy 127.0.0.1), or give it --tls-cert and --tls-key"
        )
    settings = replace(
        _beside(given),
        open_browser=False,
        extra_hosts=tuple(given.name),
        hosted=True,
        proxies=tuple(given.proxy),
        workers=given.workers,
    )
    return _certified(settings, given)


def _beside(given: argparse.Namespace) -> Settings:
    """Where the data is, and by which address it is or was served."""
    if given.database and given.demo:
        given.parser.error("the demo bench is kept in a file of its own; leave --database out")
    return Settings(
        data_dir=_folder(given.data),
        host=(given.host or DEFAULT_HOST).strip("[]"),
        port=given.port or DEFAULT_PORT,
        demo=given.demo,
        database_url=given.database,
    )


def _certified(settings: Settings, given: argparse.Namespace) -> Settings:
    if (given.tls_cert is None) != (given.tls_key is None):
        given.parser.error("--tls-cert and --tls-key go together")
    if given.tls_cert is None:
        return settings
    return replace(settings, tls_cert=given.tls_cert, tls_key=given.tls_key)


def _key_id(text: str) -> str:
    if not text:
        raise argparse.ArgumentTypeError("say which key; `benchside keys` lists them")
    return text


def _workers(text: str) -> int:
    if not text.isascii() or not text.isdigit() or not 1 <= int(text) <= 64:
        raise argparse.ArgumentTypeError(f"{text!r} is not a number of workers: use one from 1 to 64")
    return int(text)


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
