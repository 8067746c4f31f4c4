from tests.pages.conftest import client, player, shelf, trade

__all__ = ["client", "player", "shelf", "trade"]
