"""That this process is told to stop: what takes long, and can be begun again, looks here in between."""

from __future__ import annotations

import threading

STOPPING = threading.Event()
