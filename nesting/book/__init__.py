"""The stock book: hides and offcuts, orders, layouts and what was cut from what, in one file beside the job's own.

``opening`` (open, bring up to date, refuse), ``store`` (steps, plain files, undo), ``tables`` and ``versions``,
``leather`` (what remains as hides of their own), ``shelf``, ``orders``, ``cutting``, and ``book``, the face of it all.
"""
