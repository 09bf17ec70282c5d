import subprocess
import sys

WARM = "from nesting.engine import warm_up; warm_up()"


def pytest_sessionstart(session):
    """Compile the engine once before the processes of a run begin, all of which would otherwise do so at once."""
    if getattr(session.config.option, "numprocesses", None) and not hasattr(session.config, "workerinput"):
        subprocess.run([sys.executable, "-c", WARM])
