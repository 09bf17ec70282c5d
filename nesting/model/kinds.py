"""Which leather a part is to be cut from, and whether a hide is such leather."""

from __future__ import annotations

from dataclasses import dataclass, fields

from ..errors import ModelError
from .hides import SAFE_TANNAGE, TANNAGES, Hide


@dataclass(frozen=True, kw_only=True)
class Asking:
    """What is asked of leather by its name in the setting book, colour, finish and tannage; empty where any will do.

    Capitals and blanks around a word do not count.
    """

    leather: str = ""
    colour: str = ""
    finish: str = ""
    tannage: str = ""

    def __post_init__(self) -> None:
        if _plain(self.tannage) not in ("", *TANNAGES):
            raise ModelError("tannage", self.tannage, f"give one of {', '.join(TANNAGES)}, or nothing")


@dataclass(frozen=True)
class Kind:
    """The leather a part is to be cut from: empty text where any will do.

    ``burn`` asks for leather that may be burnt. Capitals and blanks around a word do not count.
    """

    leather: str = ""
    colour: str = ""
    finish: str = ""
    tannage: str = ""
    burn: bool = False

    def __str__(self) -> str:
        """Words for people, such as ``cognac, vegetable``."""
        words = [word.strip() for word in (self.leather, self.colour, self.finish, self.tannage)]
        if self.burn and _plain(self.tannage) != SAFE_TANNAGE:
            words.append("may be burnt")
        return ", ".join(filter(None, words)) or "any"

    @classmethod
    def asked(cls, *askings: Asking, burn: bool = False) -> Kind:
        """What several ask for together; of each thing the first that names one counts."""
        named = {
            entry.name: next(filter(None, (getattr(asking, entry.name).strip() for asking in askings)), "")
            for entry in fields(Asking)
        }
        return cls(**named, burn=burn)

    @classmethod
    def of(cls, hide: Hide) -> Kind:
        """What a hide is."""
        return cls(hide.leather, hide.colour, hide.finish, hide.tannage, hide.laser_safe)

    def allows(self, hide: Hide) -> bool:
        """Whether a hide is leather of this kind; what a hide does not say of itself it is not."""
        named = all(
            not _plain(getattr(self, entry.name))
            or _plain(getattr(self, entry.name)) == _plain(getattr(hide, entry.name))
            for entry in fields(Asking)
        )
        return named and (hide.laser_safe or not self.burn)


ANY_KIND = Kind()
"""Nothing is asked."""


def _plain(text: str) -> str:
    return text.strip().casefold()
