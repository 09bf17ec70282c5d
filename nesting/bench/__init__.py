"""The bench page: the whole job in the browser, beside the laser.

It calls the actions of `nesting.app` and computes nothing of its own.
"""
