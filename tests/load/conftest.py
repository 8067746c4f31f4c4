from tests.pages.conftest import client, player, trade

__all__ = ["client", "player", "trade"]
