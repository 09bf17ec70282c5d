"""The tables of a stock book, version by version: an older book is brought up to date by the versions it lacks."""

from __future__ import annotations

from collections.abc import Sequence

APPLICATION = 0x4E535442
"""Stands in the header of the file (SQLite's application_id): "NSTB"."""

TRACKED = ("hides", "orders", "layouts", "loads", "parts", "settings")
"""Tables whose every change is noted, so that steps can be taken back."""

_FIRST = (
    "CREATE TABLE facts (name TEXT PRIMARY KEY, value TEXT NOT NULL)",
    """CREATE TABLE steps (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        at TEXT NOT NULL,
        kind TEXT NOT NULL,
        words TEXT NOT NULL,
        undone TEXT)""",
    "CREATE TABLE present (one INTEGER PRIMARY KEY CHECK (one = 1), step INTEGER REFERENCES steps (id))",
    "INSERT INTO present VALUES (1, NULL)",
    """CREATE TABLE changes (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        step INTEGER NOT NULL REFERENCES steps (id),
        thing TEXT NOT NULL,
        row INTEGER NOT NULL,
        was TEXT)""",
    "CREATE INDEX changes_by_step ON changes (step)",
    "CREATE TABLE contents (sha TEXT PRIMARY KEY, data BLOB NOT NULL)",
    """CREATE TABLE writes (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        step INTEGER NOT NULL REFERENCES steps (id),
        path TEXT NOT NULL,
        before TEXT REFERENCES contents (sha),
        after TEXT REFERENCES contents (sha),
        done INTEGER NOT NULL)""",
    "CREATE INDEX writes_to_do ON writes (done) WHERE done = 0",
    "CREATE INDEX writes_by_step ON writes (step)",
    "CREATE TABLE seen (path TEXT PRIMARY KEY, size INTEGER NOT NULL, changed INTEGER NOT NULL)",
    """CREATE TABLE hides (
        id INTEGER PRIMARY KEY,
        name TEXT NOT NULL COLLATE NOCASE UNIQUE,
        code TEXT NOT NULL UNIQUE,
        parent INTEGER REFERENCES hides (id),
        load INTEGER REFERENCES loads (id),
        state TEXT NOT NULL CHECK (state IN ('shelf', 'opened', 'cut', 'retired')),
        file TEXT NOT NULL,
        area_mm2 REAL NOT NULL,
        wide_mm REAL NOT NULL,
        high_mm REAL NOT NULL,
        supplier TEXT NOT NULL,
        bought_mm2 REAL,
        price INTEGER,
        tannage TEXT NOT NULL,
        leather TEXT NOT NULL,
        colour TEXT NOT NULL,
        finish TEXT NOT NULL,
        lot TEXT NOT NULL,
        thickness_mm REAL,
        photo TEXT NOT NULL,
        traced TEXT NOT NULL,
        added TEXT NOT NULL,
        gone TEXT,
        why TEXT NOT NULL)""",
    "CREATE INDEX hides_by_state ON hides (state)",
    "CREATE INDEX hides_by_parent ON hides (parent)",
    """CREATE TABLE orders (
        id INTEGER PRIMARY KEY,
        name TEXT NOT NULL,
        product TEXT NOT NULL,
        quantity INTEGER NOT NULL CHECK (quantity > 0),
        due TEXT,
        priority INTEGER NOT NULL,
        thread TEXT NOT NULL,
        note TEXT NOT NULL,
        leather TEXT NOT NULL,
        colour TEXT NOT NULL,
        finish TEXT NOT NULL,
        tannage TEXT NOT NULL,
        state TEXT NOT NULL CHECK (state IN ('wanted', 'planned', 'cut', 'spoiled', 'done')),
        taken TEXT NOT NULL,
        done TEXT,
        price INTEGER,
        parts_each INTEGER,
        planned INTEGER NOT NULL,
        made INTEGER NOT NULL,
        spoiled INTEGER NOT NULL,
        UNIQUE (name, product))""",
    "CREATE INDEX orders_by_state ON orders (state)",
    """CREATE TABLE layouts (
        id INTEGER PRIMARY KEY,
        mark TEXT NOT NULL UNIQUE,
        made TEXT NOT NULL,
        current INTEGER NOT NULL,
        wanted INTEGER NOT NULL,
        placed INTEGER NOT NULL)""",
    "CREATE INDEX layouts_current ON layouts (current) WHERE current = 1",
    """CREATE TABLE loads (
        id INTEGER PRIMARY KEY,
        layout INTEGER NOT NULL REFERENCES layouts (id),
        hide INTEGER NOT NULL REFERENCES hides (id),
        panel TEXT NOT NULL,
        print TEXT NOT NULL,
        state TEXT NOT NULL CHECK (state IN ('planned', 'cut', 'rest')),
        at TEXT,
        count INTEGER NOT NULL,
        panel_mm2 REAL NOT NULL,
        parts_mm2 REAL NOT NULL,
        kerf_mm2 REAL NOT NULL,
        scrap_mm2 REAL NOT NULL,
        offcuts_mm2 REAL NOT NULL)""",
    "CREATE INDEX loads_by_hide ON loads (hide, state)",
    "CREATE INDEX loads_by_layout ON loads (layout)",
    "CREATE INDEX loads_by_time ON loads (at)",
    """CREATE TABLE parts (
        id INTEGER PRIMARY KEY,
        load INTEGER NOT NULL REFERENCES loads (id),
        line INTEGER NOT NULL REFERENCES orders (id),
        part TEXT NOT NULL,
        piece INTEGER NOT NULL,
        copy INTEGER NOT NULL,
        mirrored INTEGER NOT NULL,
        state TEXT NOT NULL CHECK (state IN ('cut', 'spoiled')),
        x REAL NOT NULL,
        y REAL NOT NULL,
        angle REAL NOT NULL,
        area_mm2 REAL NOT NULL,
        leather INTEGER NOT NULL,
        masking INTEGER NOT NULL,
        machine INTEGER NOT NULL,
        labour INTEGER NOT NULL)""",
    "CREATE INDEX parts_by_load ON parts (load)",
    "CREATE INDEX parts_by_line ON parts (line)",
)

_SECOND = (
    """CREATE TABLE settings (
        id INTEGER PRIMARY KEY,
        at TEXT NOT NULL,
        name TEXT NOT NULL,
        operation TEXT NOT NULL,
        leather TEXT NOT NULL,
        thickness_mm REAL NOT NULL,
        speed_mm_s REAL NOT NULL,
        power_percent REAL NOT NULL,
        passes INTEGER NOT NULL,
        thinnest_mm REAL,
        thickest_mm REAL,
        swatch TEXT NOT NULL,
        best TEXT NOT NULL,
        clean TEXT NOT NULL)""",
)

_THIRD = ("ALTER TABLE hides ADD COLUMN doubt_mm2 REAL NOT NULL DEFAULT 0",)

VERSIONS: tuple[Sequence[str], ...] = (_FIRST, _SECOND, _THIRD)
"""The statements of each version, from an empty file on."""


def noting(table: str, columns: Sequence[str]) -> list[str]:
    """Triggers that note every change of a table while a step is under way, with what stood there before."""
    was = "json_object(" + ", ".join(f"'{name}', OLD.{name}" for name in columns) + ")"
    step, on = "(SELECT step FROM present)", "WHEN (SELECT step FROM present) IS NOT NULL"
    return [
        *(f"DROP TRIGGER IF EXISTS {table}_{what}" for what in ("added", "changed", "removed")),
        f"CREATE TRIGGER {table}_added AFTER INSERT ON {table} {on} BEGIN "
        f"INSERT INTO changes (step, thing, row, was) VALUES ({step}, '{table}', NEW.id, NULL); END",
        f"CREATE TRIGGER {table}_changed AFTER UPDATE ON {table} {on} BEGIN "
        f"INSERT INTO changes (step, thing, row, was) VALUES ({step}, '{table}', OLD.id, {was}); END",
        f"CREATE TRIGGER {table}_removed AFTER DELETE ON {table} {on} BEGIN "
        f"INSERT INTO changes (step, thing, row, was) VALUES ({step}, '{table}', OLD.id, {was}); END",
    ]
