"""What can go wrong when something is kept or looked up."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    # A command that reads no journal starts quicker without.
    from webapp.setups.journal import Entry


class StoreError(Exception):
    """Anything the store refuses."""


class NotFound(StoreError):
    """There is no such thing on this bench (another bench's things are not there either)."""


class AlreadyRecorded(StoreError):
    """The same form arrived before; `recorded_id` is what it made then."""

    def __init__(self, recorded_id: str | int) -> None:
        super().__init__(f"already recorded as {recorded_id}")
        self.recorded_id = recorded_id


class Stale(StoreError):
    """Something newer was saved since the form was shown; `newest` is that entry, where it is one."""

    def __init__(self, newest: Entry | None = None) -> None:
        super().__init__("something newer was saved meanwhile")
        self.newest = newest


class Finished(StoreError):
    """The setup is finished: its journal is closed."""


class Damaged(StoreError):
    """What is kept is not what was recorded: in which table, if that is known; of entries, in which setup."""

    def __init__(self, table: str = "", setup_id: str = "") -> None:
        super().__init__(f"what is kept is not what was recorded: {table or 'a moment'} {setup_id}".strip())
        self.table, self.setup_id = table, setup_id


class Unusable(StoreError):
    """The database cannot be opened as ours; the message is one sentence for the player."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


class InUse(Unusable):
    """A Benchside that runs has the data; a second one must not."""
