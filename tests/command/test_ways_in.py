"""The command again: the links it prints, the phone's, the hosted form, and https."""

from __future__ import annotations

import json
import re
import signal
import ssl
import time
from pathlib import Path

import httpx
import pytest

import webapp
from tests.command.typed import refused, running, said_by
from tests.forked import PATIENCE_S, free_port, stop
from webapp.command.arguments import read_arguments, read_command

TOP = Path(webapp.__file__).parent.parent
CERT, KEY = TOP / "tests" / "tls" / "cert.pem", TOP / "tests" / "tls" / "key.pem"
NAME = "bench.example.org"


def comes_in(link: str, **options: object) -> int:
    """Press the button of an entry link, and ask for the bench."""
    origin = re.sub(r"^(https?://[^/]+)/.*", r"\1", link)
    browser = httpx.Client(headers={"Origin": origin}, timeout=PATIENCE_S, follow_redirects=True, **options)  # type: ignore[arg-type]
    with browser:
        assert browser.get(origin).status_code == 401
        return browser.post(link).status_code


def test_the_printed_link_opens_the_bench_once_and_another_can_be_had(tmp_path: Path) -> None:
    port = free_port()
    with running("--no-browser", "--data", tmp_path, "--port", port) as (_, said, _errors):
        (link,) = (line.removeprefix("Come in: ") for line in said if line.startswith("Come in: "))
        assert link.startswith(f"http://127.0.0.1:{port}/enter/")
        assert [comes_in(link), comes_in(link)] == [200, 410]
        fresh = said_by("link", "--data", tmp_path)
        assert fresh.startswith(f"http://127.0.0.1:{port}/enter/")
        assert comes_in(fresh) == 200
    # For a stopped app too; it is good once the app runs again.
    kept = said_by("link", "--data", tmp_path)
    with running("--no-browser", "--data", tmp_path, "--port", port):
        assert comes_in(kept) == 200


def test_a_link_before_the_first_start_and_to_another_address(tmp_path: Path) -> None:
    assert said_by("link", "--data", tmp_path).startswith("http://127.0.0.1:8765/enter/")
    assert said_by("link", "--data", tmp_path, "--port", 9001).startswith("http://127.0.0.1:9001/enter/")
    elsewhere = said_by("link", "--data", tmp_path, "--host", "192.0.2.7", "--port", 9001)
    assert elsewhere.startswith("http://192.0.2.7:9001/enter/")
    assert "demo" not in said_by("link", "--data", tmp_path, "--demo")
    assert (tmp_path / "demo" / "demo.sqlite3").is_file()


def test_the_phones_link_and_square_are_printed(tmp_path: Path) -> None:
    port = free_port()
    with running(
        "--no-browser", "--phone", "--phone-address", "127.0.0.2", "--data", tmp_path, "--port", port
    ) as (_, said, _errors):
        (line,) = (line for line in said if line.startswith("On your phone"))
        link = line.split()[-1]
        assert re.fullmatch(rf"http://127\.0\.0\.2:{port}/pair/\w{{4}}-\w{{4}}-\w{{4}}", link)
        assert sum("█" in line for line in said) > 10
        with httpx.Client(headers={"Origin": f"http://127.0.0.2:{port}"}, follow_redirects=True) as phone:
            data = {"code": link.rpartition("/")[2], "device_name": "Phone"}
            assert phone.post(f"http://127.0.0.2:{port}/pair", data=data).status_code == 200


def test_https_with_a_certificate_of_ones_own(tmp_path: Path) -> None:
    port = free_port()
    with running(
        "--no-browser", "--data", tmp_path, "--port", port, "--tls-cert", CERT, "--tls-key", KEY
    ) as (_, said, _errors):
        (link,) = (line.removeprefix("Come in: ") for line in said if line.startswith("Come in: "))
        assert link.startswith(f"https://127.0.0.1:{port}/enter/")
        trusted = ssl.create_default_context(cafile=str(CERT))
        assert comes_in(link, verify=trusted) == 200
        for old in (ssl.TLSVersion.TLSv1, ssl.TLSVersion.TLSv1_1):
            outdated = ssl.create_default_context(cafile=str(CERT))
            with pytest.warns(DeprecationWarning):
                outdated.minimum_version = outdated.maximum_version = old
            with pytest.raises(httpx.ConnectError):
                httpx.get(f"https://127.0.0.1:{port}/", verify=outdated)


def test_a_certificate_that_cannot_be_used_is_one_sentence(tmp_path: Path) -> None:
    for cert, key in ((CERT, tmp_path / "none"), (KEY, CERT), (TOP / "README.md", KEY)):
        said = refused("--no-browser", "--data", tmp_path / "data", "--tls-cert", cert, "--tls-key", key)
        assert "--tls-cert" in said and str(cert) in said
    assert not (tmp_path / "data" / "bench.sqlite3").exists()


def test_the_hosted_form_makes_no_bench_but_those_it_is_told_to(tmp_path: Path) -> None:
    port = free_port()
    serve = ("serve", "--data", tmp_path, "--port", port, "--name", NAME, "--proxy", "127.0.0.1")
    with running(*serve) as (process, said, errors):
        assert said[0] == f"Benchside: https://{NAME}/"
        assert not any("enter/" in line for line in said)
        told = said_by("bench", "new", "--data", tmp_path)
        bench, link = re.findall(r"(?:Bench|Come in): (\S+)", told)
        assert link.startswith(f"https://{NAME}/enter/")
        assert hosted(port, link) == 200
        again = said_by("link", "--data", tmp_path, f"--bench={bench}")
        assert hosted(port, again) == 200
        assert "--bench" in refused("link", "--data", tmp_path)
        stop(process, signal.SIGINT)
        log = errors.read_text()
    lines = [json.loads(line) for line in log.splitlines()]
    assert {
        "method": "POST",
        "route": "/enter/{code}",
        "status": 303,
        "client": "203.0.113.9",
    }.items() <= next(line for line in lines if line.get("status") == 303).items()
    assert not any(secret.rpartition("/")[2] in log for secret in (link, again))


def hosted(port: int, link: str) -> int:
    """As a proxy passes it on."""
    headers = {
        "Host": NAME,
        "Origin": f"https://{NAME}",
        "X-Forwarded-Proto": "https",
        "X-Forwarded-For": "203.0.113.9",
    }
    path = link.removeprefix(f"https://{NAME}")
    with httpx.Client(base_url=f"http://127.0.0.1:{port}", headers=headers, timeout=PATIENCE_S) as proxy:
        until = time.monotonic() + PATIENCE_S
        assert proxy.get("/").status_code == 401 and time.monotonic() < until
        answer = proxy.post(path)
        assert answer.headers["Strict-Transport-Security"]
        (cookie,) = answer.headers.get_list("Set-Cookie")
        return proxy.get("/", headers={"Cookie": cookie.split(";")[0]}).status_code


@pytest.mark.parametrize(
    "arguments, said",
    [
        (["serve"], "--name"),
        (["serve", "--name", NAME], "--proxy"),
        (["serve", "--name", NAME, "--proxy", "words"], "not an address or network"),
        (["serve", "--name", "https://bench/", "--proxy", "::1"], "not a host name"),
        (["serve", "--name", "*", "--proxy", "::1"], "not a host name"),
        (["serve", "--name", NAME, "--proxy", "::1", "--demo"], "--demo"),
        (["bench"], "what"),
        (["bench", "old"], "old"),
        (["link", "--phone"], "--phone"),
        (["--tls-cert", "x"], "go together"),
    ],
)
def test_what_makes_no_sense_is_said(
    arguments: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        read_command(arguments)
    assert ended.value.code == 2
    assert said in capsys.readouterr().err


def test_a_bench_on_what_was_never_served_needs_a_name(tmp_path: Path) -> None:
    assert "--name" in refused("bench", "new", "--data", tmp_path)
    told = said_by("bench", "new", "--data", tmp_path, "--name", NAME)
    assert f"https://{NAME}/enter/" in told


def test_what_the_commands_mean(tmp_path: Path) -> None:
    assert read_arguments(["--phone"]).host == "0.0.0.0"
    assert read_arguments(["--phone", "--host", "192.168.1.2"]).host == "192.168.1.2"
    assert read_arguments(["--name", "Shed.local"]).extra_hosts == ("shed.local",)
    served = read_arguments(["serve", "--name", NAME, "--proxy", "10.0.0.0/24"])
    assert served.hosted and served.secure and served.host == "127.0.0.1" and not served.open_browser
    assert served.address == f"https://{NAME}/" and served.phone_addresses() == (served.address,)
    direct = read_arguments(
        ["serve", "--name", NAME, "--port", "8443", "--tls-cert", str(CERT), "--tls-key", str(KEY)]
    )
    assert direct.address == f"https://{NAME}:8443/"
    link = read_command(["link", "--data", str(tmp_path), "--bench", "abc"])
    assert (link.do, link.host, link.bench) == ("link", None, "abc")
    new = read_command(["bench", "new", "--name", NAME])
    assert (new.do, new.called) == ("bench", NAME)
