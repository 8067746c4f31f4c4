"""Several processes that answer on one address: started, watched, replaced, stopped."""

from __future__ import annotations

import logging
import multiprocessing
import signal
import socket
import threading
from multiprocessing.connection import wait
from multiprocessing.context import SpawnProcess

from webapp.app import create_app
from webapp.command import memory
from webapp.command.server import Server
from webapp.command.serving import listen_for_each
from webapp.command.stopping import was_asked
from webapp.store.engine import connect
from webapp.store.postgres import read_url
from webapp.trade.content import load_trade
from webapp.web.log import start_log
from webapp.web.settings import Settings, assets

LOG = logging.getLogger("benchside")
# A worker that cannot even start must not be started over and over as fast as the computer can.
PAUSE_S = 1.0
STOP_WITHIN_S = 8.0


class Workers:
    """The processes of one start. Nothing is shared between them but the address and the database."""

    def __init__(self, listening: socket.socket, settings: Settings) -> None:
        # Held here too: what waits for a process that died waits for the one in its place.
        self._listening = listen_for_each(listening, settings.workers)
        self._settings = settings
        # Not forked: threads and connections must not come along half alive.
        self._spawn = multiprocessing.get_context("spawn")
        self._stop = threading.Event()

    def run(self) -> None:
        """Serves until told to stop; a process that dies is replaced."""
        for sign in (signal.SIGINT, signal.SIGTERM):
            signal.signal(sign, lambda *_: self._stop.set())
        if was_asked():
            self._stop.set()
        processes = [self._started(one) for one in self._listening]
        while not self._stop.is_set():
            dead = wait([process.sentinel for process in processes], timeout=0.5)
            for process in [one for one in processes if one.sentinel in dead and not self._stop.is_set()]:
                LOG.error("a worker died", extra={"status": process.exitcode})
                self._stop.wait(PAUSE_S)
                number = processes.index(process)
                processes[number] = self._started(self._listening[number])
        for process in processes:
            process.terminate()
        for process in processes:
            process.join(STOP_WITHIN_S)
            process.kill()

    def _started(self, listening: socket.socket) -> SpawnProcess:
        process = self._spawn.Process(target=work, args=(listening, self._settings), daemon=True)
        process.start()
        return process


def work(listening: socket.socket, settings: Settings) -> None:
    """One worker, from its start to its end; it ends, too, when the process that started it is gone."""
    memory.settle()
    start_log()
    engine = connect(read_url(settings.database_url))
    app = create_app(settings, load_trade(assets().content), engine)
    server = Server(app, settings)
    threading.Thread(target=_end_with_parent, args=(server,), daemon=True, name="parent").start()
    # Ctrl+C reaches every process of a terminal; the one that started them tells them when.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    server.run(sockets=[listening])
    engine.dispose()


def _end_with_parent(server: Server) -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        server.should_exit = True
