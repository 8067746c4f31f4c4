"""All that the command loads and compiles at a start: a forked process (tests/forked.py) finds it done."""

import webapp.app
import webapp.command.cli
import webapp.command.demo
import webapp.command.server
import webapp.pages
from webapp.web.settings import assets
from webapp.web.templating import templates_of

__all__ = ["webapp"]

_environment = templates_of(assets()).env
for _name in _environment.list_templates():
    _environment.get_template(_name)
