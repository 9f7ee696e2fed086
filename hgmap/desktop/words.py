"""Every visible word goes through ``tr``: English as it stands, or another language's.

A catalogue is a GNU gettext file, ``locale/<language>/LC_MESSAGES/hgmap.mo``, beside this file.
``qps`` is a language that nobody speaks: longer words between brackets, for tests. A word on the
screen without brackets was not put through ``tr``.
"""

from __future__ import annotations

import gettext
from collections.abc import Callable
from pathlib import Path
from typing import Final

PSEUDO: Final = "qps"
_LONGER: Final = str.maketrans("aeiouyAEIOUY", "àéîöüÿÀÉÎÖÜŸ")
_LOCALE: Final = Path(__file__).parent / "locale"


class _Pseudo(gettext.NullTranslations):
    """Words a third longer, between brackets; what stands in braces is left alone."""

    def gettext(self, message: str) -> str:
        parts = message.replace("{", "\0{").replace("}", "}\0").split("\0")
        changed = [one if one.startswith("{") else one.translate(_LONGER) for one in parts]
        return f"[{''.join(changed)}{'·' * (len(message) // 3)}]"


class _Speaker:
    """Holds the language that the window speaks; one window has one."""

    def __init__(self) -> None:
        self.translations: gettext.NullTranslations = gettext.NullTranslations()
        self.name = ""

    def speak(self, language: str) -> None:
        """Change the language of everything that is said from now on."""
        self.name = language
        if language == PSEUDO:
            self.translations = _Pseudo()
        else:
            self.translations = gettext.translation("hgmap", _LOCALE, [language], fallback=True)

    def tr(self, message: str, **values: object) -> str:
        """Return a message in the window's language, its braces filled in."""
        said = self.translations.gettext(message)
        return said.format(**values) if values else said

    def count(self, one: str, several: str, n: int, **values: object) -> str:
        """Return the message for one or for several, ``{n}`` filled in."""
        said = self.translations.ngettext(one, several, n)
        if isinstance(self.translations, _Pseudo):
            said = self.translations.gettext(one if n == 1 else several)
        return said.format(n=n, **values)


_SPEAKER: Final = _Speaker()
speak: Callable[[str], None] = _SPEAKER.speak
tr = _SPEAKER.tr
tr_count = _SPEAKER.count


def language() -> str:
    """Return the language that was asked for last."""
    return _SPEAKER.name
