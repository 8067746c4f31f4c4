"""What every page stands on: the guard before them, settings, state, templates, static files, the log.

Pages and the app import from here; of ours it imports the store, setups, drawings and trade, never a page.
"""
