"""Rendered photos, made once a session and shared by all its processes."""

import hashlib
import os
import pickle
from functools import cache
from pathlib import Path

import pytest
from render import render


@pytest.fixture(scope="session")
def kept(tmp_path_factory):
    """Makes a thing unless it was made before in this run of the tests, by any of its processes."""
    folder = tmp_path_factory.getbasetemp()
    folder = folder.parent if "PYTEST_XDIST_WORKER" in os.environ else folder

    def keep(make, *given, **named):
        told = repr((make.__module__, make.__qualname__, given, sorted(named.items())))
        file = folder / f"{hashlib.sha256(told.encode()).hexdigest()}.pickle"
        if not file.exists():
            # two processes may both make it, but none reads half of it
            own = Path(f"{file}-{os.getpid()}")
            own.write_bytes(pickle.dumps(make(*given, **named)))
            own.replace(file)
        return pickle.loads(file.read_bytes())

    return keep


@pytest.fixture(scope="session")
def rendered(kept):
    """The scene that ``render`` makes of some settings; not to be changed."""

    @cache
    def scene(**made):
        return kept(render, **made)

    return scene
