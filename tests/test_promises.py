"""What DEVELOPERS.md promises where something fails: every line names its test; two that no other folder holds."""

import hashlib
import re
import subprocess
import sys
import textwrap
from pathlib import Path

from planted import write_job

from nesting.files import job as files

TESTS = Path(__file__).parent
ROWS = re.findall(r"^\| .+ \| .+ \| (`test_.+`) \|$", (TESTS.parent / "DEVELOPERS.md").read_text(), re.M)


def test_every_promise_names_tests_that_are_there():
    names = {name for row in ROWS for name in re.findall(r"`(test_\w+)`", row)}
    there = {
        name for path in TESTS.rglob("test_*.py") for name in re.findall(r"^def (test_\w+)", path.read_text(), re.M)
    }
    assert len(ROWS) >= 15 and names <= there, names - there


def test_a_job_has_the_hashes_of_what_was_read_though_files_change_meanwhile(tmp_path, monkeypatch):
    week = write_job(tmp_path / "week")
    before = {
        path.relative_to(week).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in week.rglob("*")
        if path.is_file()
    }
    read = files.read_orders

    def changing(path, names):
        (week / "workshop.toml").write_text("# another\n")
        return read(path, names)

    monkeypatch.setattr(files, "read_orders", changing)
    assert files.read_job(week).made_from == before
    assert (week / "workshop.toml").read_text() == "# another\n"


WRITER = textwrap.dedent("""
    import sys
    from pathlib import Path
    from nesting.atomic import written_anew

    out, name = Path(sys.argv[1]), sys.argv[2]
    for number in range(15):
        with written_anew(out, ("layout.json", "report.html")) as new:
            for file in ("layout.json", "report.html"):
                (new.path / file).write_text(f"{name} {number}")
""")


def test_two_at_once_leave_the_run_of_one_of_them_whole(tmp_path):
    out = tmp_path / "out"
    runs = [
        subprocess.Popen([sys.executable, "-c", WRITER, out, name], stderr=subprocess.PIPE, text=True)
        for name in ("one", "other")
    ]
    told = [run.communicate(timeout=60)[1] for run in runs]
    assert [run.returncode for run in runs] == [0, 0], told
    written = {(out / name).read_text() for name in ("layout.json", "report.html")}
    assert len(written) == 1 and written <= {"one 14", "other 14"}
