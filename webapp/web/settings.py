"""What the start was told, and where things are."""

from __future__ import annotations

import os
import time
from dataclasses import dataclass
from hashlib import blake2b
from ipaddress import ip_address
from pathlib import Path

from platformdirs import user_data_path

from webapp.web.network import home_addresses

DEFAULT_HOST = "127.0.0.1"
DEFAULT_PORT = 8765


@dataclass(frozen=True)
class Settings:
    """One start of the app.

    `extra_hosts` are further names by which a browser may call it; `hosted` is the form behind a reverse
    proxy (or with a certificate), where the names are the only ones, and no bench is made by itself.
    `database_url` is for a database on a PostgreSQL server; without one the data is a file in the folder.
    """

    data_dir: Path
    host: str = DEFAULT_HOST
    port: int = DEFAULT_PORT
    demo: bool = False
    open_browser: bool = True
    extra_hosts: tuple[str, ...] = ()
    phone: bool = False
    phone_address: str = ""
    hosted: bool = False
    proxies: tuple[str, ...] = ()
    tls_cert: Path | None = None
    tls_key: Path | None = None
    database_url: str = ""
    workers: int = 1

    @property
    def folder(self) -> Path:
        """The folder in use: the demo bench lives in one of its own, apart from the player's data."""
        return self.data_dir / "demo" if self.demo else self.data_dir

    @property
    def database(self) -> Path:
        return self.folder / ("demo.sqlite3" if self.demo else "bench.sqlite3")

    @property
    def is_loopback(self) -> bool:
        """Whether only this computer can reach the app."""
        try:
            return ip_address(self.host).is_loopback
        except ValueError:
            return self.host.lower() == "localhost"

    @property
    def any_address(self) -> bool:
        """Whether it listens on all of this computer's addresses."""
        return self.host in ("0.0.0.0", "::")

    @property
    def secure(self) -> bool:
        """Whether browsers reach it over https."""
        return self.hosted or self.tls_cert is not None

    @property
    def scheme(self) -> str:
        return "https" if self.secure else "http"

    @property
    def address(self) -> str:
        """What to type into a browser: on this computer, or anywhere where it is hosted."""
        if self.hosted:
            return self._address_at(self.extra_hosts[0], 443 if self.proxies else self.port)
        name = {"0.0.0.0": DEFAULT_HOST, "::": "::1"}.get(self.host, self.host)
        return f"{self.scheme}://{bracketed(name)}:{self.port}/"

    def phone_addresses(self) -> tuple[str, ...]:
        """What to type into a browser on another device, the likeliest first; none when none can reach it."""
        if self.hosted:
            return (self.address,)
        if self.is_loopback and not self.phone_address:
            return ()
        names = [self.phone_address] if self.phone_address else [self.host]
        if self.any_address and not self.phone_address:
            names = list(home_addresses())
        return tuple(f"{self.scheme}://{bracketed(name)}:{self.port}/" for name in names)

    def _address_at(self, name: str, port: int) -> str:
        return f"{self.scheme}://{name}{'' if port == 443 or ':' in name else f':{port}'}/"


@dataclass(frozen=True)
class Assets:
    """The folders that are not code."""

    templates: Path
    static: Path
    content: Path


def assets() -> Assets:
    """A checkout's own folders where we run from one, else those that were installed beside the code."""
    package = Path(__file__).resolve().parents[1]
    top = package.parent
    root = top if (top / "pyproject.toml").is_file() and (top / "content").is_dir() else package / "assets"
    return Assets(root / "templates", root / "static", root / "content")


def build_of(folders: Assets) -> str:
    """Names this very code, content and zone of time: what was worked out by another is worked out anew."""
    package = Path(__file__).resolve().parents[1]
    found = [*time.tzname]
    for folder in (package, folders.content):
        for here, _, names in os.walk(folder):
            files = (os.stat(os.path.join(here, name)) for name in sorted(names) if not name.endswith(".pyc"))
            found += [f"{one.st_size} {one.st_mtime_ns}" for one in files]
    return blake2b("\n".join(found).encode(), digest_size=8).hexdigest()


def default_data_dir() -> Path:
    """The platform's folder for a user's data."""
    return user_data_path("benchside", appauthor=False)


def bracketed(host: str) -> str:
    """An IPv6 address in brackets, as addresses on the web write it; anything else as it is."""
    return f"[{host}]" if ":" in host else host
