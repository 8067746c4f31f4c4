from tests.pages.conftest import client, make_app, player, shelf, trade

__all__ = ["client", "make_app", "player", "shelf", "trade"]
