"""Ctrl-C in the middle of a command: one line, nothing done, no half file."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from hgmap.cli.app import main

PLAIN = "id,floor,room,height,value,unit\nR1,ground,A,1.5,0.2,ug/m3\n"


@pytest.mark.parametrize(
    ("words", "stopped_in"),
    [
        (("check", "{site}"), "hgmap.site.check.check_site"),
        (("import", "readings", "{file}", "--into", "{site}", "--round", "r"),
         "hgmap.site.intake.import_readings.import_readings"),
    ],
)  # fmt: skip
def test_a_command_that_is_interrupted_says_so(
    words: tuple[str, ...],
    stopped_in: str,
    make_site: Callable[..., Path],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    def stop(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    file = tmp_path / "new.csv"
    file.write_text(PLAIN, encoding="utf-8")
    site = make_site()
    before = sorted((one, one.stat().st_mtime_ns) for one in site.rglob("*"))
    monkeypatch.setattr(stopped_in, stop)
    monkeypatch.setattr(
        sys, "argv", ["hgmap", *(word.format(site=site, file=file) for word in words)]
    )
    with pytest.raises(SystemExit) as end:
        main()
    assert end.value.code == 2
    assert capsys.readouterr().err == "hgmap: stopped; what was written is whole\n"
    assert sorted((one, one.stat().st_mtime_ns) for one in site.rglob("*")) == before
