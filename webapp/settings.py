"""What the start was told, and where things are."""

from __future__ import annotations

from dataclasses import dataclass
from ipaddress import ip_address
from pathlib import Path

from platformdirs import user_data_path

DEFAULT_HOST = "127.0.0.1"
DEFAULT_PORT = 8765


@dataclass(frozen=True)
class Settings:
    """One start of the app. `extra_hosts` are further names (no port) by which a browser may call it."""

    data_dir: Path
    host: str = DEFAULT_HOST
    port: int = DEFAULT_PORT
    demo: bool = False
    open_browser: bool = True
    extra_hosts: tuple[str, ...] = ()

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
    def address(self) -> str:
        """What to type into a browser on this computer."""
        name = {"0.0.0.0": DEFAULT_HOST, "::": "::1"}.get(self.host, self.host)
        return f"http://{bracketed(name)}:{self.port}/"


@dataclass(frozen=True)
class Assets:
    """The folders that are not code."""

    templates: Path
    static: Path
    content: Path


def assets() -> Assets:
    """A checkout's own folders where we run from one, else those that were installed beside the code."""
    package = Path(__file__).resolve().parent
    top = package.parent
    root = top if (top / "pyproject.toml").is_file() and (top / "content").is_dir() else package / "assets"
    return Assets(root / "templates", root / "static", root / "content")


def default_data_dir() -> Path:
    """The platform's folder for a user's data."""
    return user_data_path("benchside", appauthor=False)


def bracketed(host: str) -> str:
    """An IPv6 address in brackets, as addresses on the web write it; anything else as it is."""
    return f"[{host}]" if ":" in host else host
