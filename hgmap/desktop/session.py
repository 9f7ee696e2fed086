"""The open survey: its files, the way back through every edit, and what is known of it.

It holds no arithmetic: the core reads, judges and maps, in work beside the window.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from PySide6.QtCore import QObject, Signal
from PySide6.QtGui import QUndoStack

from hgmap.desktop import pipeline
from hgmap.desktop.choices import Choices, what_is_there
from hgmap.desktop.edit_step import EditStep
from hgmap.desktop.hands import Haste
from hgmap.desktop.late_edits import LateEdits
from hgmap.desktop.mapping import Drafted, Mapper, map_in_steps
from hgmap.desktop.pipeline import Mapped
from hgmap.desktop.window_words import in_one_line
from hgmap.desktop.words import tr
from hgmap.desktop.work import Jobs
from hgmap.editing.save import ChangedOnDisk, changed_on_disk, save
from hgmap.editing.save_elsewhere import save_elsewhere
from hgmap.editing.site_files import SiteFiles, changed, read_site_files, site_of
from hgmap.errors import HgmapError

if TYPE_CHECKING:
    from hgmap.clearance import ClearanceRun
    from hgmap.desktop.pipeline import Judged
    from hgmap.floor_map import FloorMap
    from hgmap.site.building import Floor
    from hgmap.site.model import Site

SETTLE_MS: Final = 15
"""Edits that follow each other as quickly (a key held down) are read once."""

JUDGE_MS: Final = 250
"""What stands against the site is said after the map has had its start."""

GOES_ON: Final = (
    "site", "judge", "readings table", "instrument log", "names", "scene", "key", "picture",
)  # fmt: skip
"""Work that Stop leaves alone: what was entered is read, and what is known is shown. A picture of
before, under the answers of a map that is there, would be taken for its own.
"""


class Session(QObject):
    """One open site."""

    opened = Signal()
    files_changed = Signal()
    site_changed = Signal()
    judged_changed = Signal()
    choices_changed = Signal()
    map_changed = Signal()
    draft_changed = Signal()
    behind_changed = Signal()
    """Whether the map on the screen is of before the last change."""
    clearance_changed = Signal()
    questions_changed = Signal()
    saved = Signal()
    not_saved = Signal(str)
    """Why the files could not be written."""
    disk_changed = Signal(tuple)
    said = Signal(str)
    trouble = Signal(str)

    def __init__(self, jobs: Jobs, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.jobs = jobs
        self.undo_stack = QUndoStack(self)
        self.late = LateEdits(self)
        self.choices = Choices()
        self.files: SiteFiles | None = None
        self.base: SiteFiles | None = None
        self.site: Site | None = None
        self.judged: Judged | None = None
        self.mapped: Mapped | None = None
        self.maps: dict[str, FloorMap] = {}
        """Of the floors looked at so far, all by the same choices on the same site."""
        self.draft: Drafted | None = None
        self.clearance: ClearanceRun | None = None
        self.why_no_site = ""
        self.why_no_map = ""
        self.behind = False
        self._mapper: Mapper | None = None
        self._read_from: SiteFiles | None = None

    # -- opening and saving

    def open(self, folder: Path) -> None:
        """Open a site folder.

        Raises
        ------
        SiteError
            If there is no such folder, or no site.toml in it.
        """
        files = read_site_files(folder)
        self.take(files, files)

    def take(self, base: SiteFiles, files: SiteFiles) -> None:
        """Open files that were read (or recovered: then ``files`` are not what is on disk)."""
        self._let_go()
        self.base, self.files = base, files
        try:
            self.site, self.why_no_site, self._read_from = site_of(files), "", files
        except HgmapError as error:
            self.why_no_site = in_one_line(error)
        self.choices = what_is_there(self.site, self.choices)
        self.opened.emit()
        self.choices_changed.emit()
        if self.site is not None:
            self._take_site(self.site, judge_ms=0)
        else:
            self.site_changed.emit()
            self.questions_changed.emit()

    def close(self) -> None:
        """Let go of the site: nothing that was done to it is left, nor can be taken back."""
        self._let_go()
        for told in (self.opened, self.choices_changed, self.site_changed, self.judged_changed,
                     self.map_changed, self.clearance_changed, self.questions_changed):  # fmt: skip
            told.emit()

    def _let_go(self) -> None:
        self.jobs.drop_all()
        self.late.clear()
        self.undo_stack.clear()
        self.base = self.files = None
        self.site = self.judged = self.mapped = self.draft = self.clearance = None
        self.why_no_site, self.why_no_map, self._mapper, self._read_from = "", "", None, None
        self._be_behind(False)
        self.maps = {}
        self.choices = Choices()

    @property
    def unsaved(self) -> bool:
        """Whether anything differs from what was opened or saved last."""
        if self.late.busy:
            return True
        if self.files is None or self.base is None or self.files is self.base:
            return False
        return bool(changed(self.base, self.files))

    def save(self) -> bool:
        """Write what changed; tell whether that was done. What cannot be written is said."""
        self.late.settle()
        if self.files is None or self.base is None:
            return False
        try:
            self.base = save(self.files, self.base)
        except ChangedOnDisk as error:
            self.disk_changed.emit(error.names)
            return False
        except HgmapError as error:
            self.not_saved.emit(in_one_line(error))
            return False
        self._now_saved(tr("Saved."))
        return True

    def save_elsewhere(self, folder: Path) -> bool:
        """Write everything into a new folder and go on there; tell whether that was done."""
        self.late.settle()
        if self.files is None:
            return False
        try:
            self.base = save_elsewhere(self.files, folder)
        except HgmapError as error:
            self.not_saved.emit(in_one_line(error))
            return False
        self.put(self.base)
        self._now_saved(tr("Saved in {folder}.", folder=folder))
        return True

    def _now_saved(self, words: str) -> None:
        self.undo_stack.setClean()
        self.saved.emit()
        self.said.emit(words)

    def look_at_disk(self) -> None:
        """Tell the window which files another program changed."""
        if self.base is None:
            return
        try:
            names = changed_on_disk(self.base)
        except HgmapError as error:
            self.trouble.emit(in_one_line(error))
            return
        if names:
            self.disk_changed.emit(tuple(names))

    # -- editing

    def edit(self, text: str, make: Callable[[SiteFiles], SiteFiles]) -> bool:
        """Change the files by a function of the core; one step back undoes it.

        What the core refuses is said in one line, and nothing changes.
        """
        if self.files is None:
            return False
        try:
            after = make(self.files)
        except HgmapError as error:
            self.trouble.emit(in_one_line(error))
            return False
        if after is not self.files and changed(self.files, after):
            self.undo_stack.push(EditStep(self, text, self.files, after))
        return True

    def put(self, files: SiteFiles) -> None:
        """Let these be the files; those of a step back belong into the folder of now."""
        if self.base is not None and files.folder != self.base.folder:
            files = replace(files, folder=self.base.folder)
        self.files = files
        # what is being worked out of the files before must not come back as though it were of these
        self.jobs.drop("map")
        self._forget_rulings()
        self._be_behind(True)
        self.files_changed.emit()
        self._read_site(files, SETTLE_MS)

    @property
    def current(self) -> bool:
        """Whether the site is that of the files as they are now."""
        return self.site is not None and self._read_from is self.files

    def _read_site(self, files: SiteFiles, wait_ms: int = 0) -> None:
        def done(site: Site) -> None:
            self._read_from = files
            self._take_site(site)

        self.jobs.start(
            "site", lambda progress, cancelled: site_of(files), done, self._no_site,
            wait_ms=wait_ms,
        )  # fmt: skip

    def choose(self, **what: Any) -> None:
        """Choose what to look at; see :class:`Choices`."""
        new = replace(self.choices, **what)
        if new == self.choices:
            return
        again = new.level != self.choices.level
        only_views = replace(new, views=self.choices.views) == self.choices
        floor = replace(new, views=self.choices.views, floor=self.choices.floor) == self.choices
        if not floor:  # the rooms of the whole round were ruled on, whichever floor is shown
            self.maps = {}
            self._forget_rulings()
        if new.floor != self.choices.floor and self.mapped is not None and not self.mapped.whole:
            # its places to measure are not known: none is not their number
            self.maps.pop(self.mapped.floor_map.floor.name, None)
        self.choices = new
        self.choices_changed.emit()
        if only_views:
            return
        self._map()
        if again:
            self._judge(0)

    # -- what is known

    @property
    def floor(self) -> Floor | None:
        """The chosen floor, as the site has it; None where its plan cannot be used."""
        return self.site.floor(self.choices.floor) if self.site else None

    @property
    def round_name(self) -> str:
        """The chosen round; empty where there is none."""
        return self.choices.round

    def _take_site(self, site: Site, judge_ms: int = JUDGE_MS) -> None:
        self.site, self.why_no_site = site, ""
        before = self.choices
        self.choices = what_is_there(self.site, self.choices)
        self.maps = {}
        self._forget_rulings()
        if self.choices != before:
            self.choices_changed.emit()
        self.site_changed.emit()
        self._map()
        self._judge(judge_ms)

    def _judge(self, wait_ms: int) -> None:
        files, site, choices, before = self.files, self.site, self.choices, self.judged
        if files is None or site is None:
            return
        self.jobs.start(
            "judge", lambda progress, cancelled: pipeline.judge(files, site, choices, before),
            self._take_judged, self._no_site, wait_ms=wait_ms, haste=Haste.LATER,
        )  # fmt: skip

    def _take_judged(self, judged: Judged) -> None:
        self.judged = judged
        self.judged_changed.emit()
        self.questions_changed.emit()

    def _no_site(self, error: Exception) -> None:
        self.why_no_site = in_one_line(error)
        self.jobs.drop("judge")
        self.judged = None
        self.site_changed.emit()
        self.questions_changed.emit()
        self.trouble.emit(self.why_no_site)

    def _map(self) -> None:
        if self.files is not None and not self.current:
            self._be_behind(True)  # a map of the site before the last change would look like one
            if not self.jobs.awaits("site"):
                self._read_site(self.files)
            return
        if self.site is None or self.floor is None:
            self._no_map(
                HgmapError(
                    tr("this floor has no plan that can be mapped yet: draw its rooms, or mend it")
                )
            )
            return
        if self._mapper is None:
            self._mapper = Mapper()
        self._be_behind(True)
        map_in_steps(
            self.jobs, self._mapper, self.site, self.choices, drafted=self._take_draft,
            mapped=self._take_map, failed=self._no_map,
        )  # fmt: skip

    def _take_draft(self, draft: Drafted) -> None:
        self.draft = draft
        self.draft_changed.emit()

    def _take_map(self, mapped: Mapped) -> None:
        self.draft = None
        self.mapped, self.why_no_map = mapped, ""
        self.maps[mapped.floor_map.floor.name] = mapped.floor_map
        self._be_behind(False)
        self.map_changed.emit()
        self.questions_changed.emit()

    def _no_map(self, error: Exception) -> None:
        self.mapped, self.draft, self.why_no_map = None, None, in_one_line(error)
        self.maps.pop(self.choices.floor, None)
        self._be_behind(False)
        self.map_changed.emit()
        self.questions_changed.emit()

    def _forget_rulings(self) -> None:
        """Let what was ruled on the rooms, or is being ruled, be of before."""
        self.jobs.drop("release")
        if self.clearance is not None:
            self.clearance = None
            self.clearance_changed.emit()

    def _be_behind(self, behind: bool) -> None:
        if behind != self.behind:
            self.behind = behind
            self.behind_changed.emit()

    def map_again(self) -> None:
        """Make the map anew, where it was stopped."""
        self._map()

    def stop_work(self) -> None:
        """Stop what is being worked out; what was entered, and what is known, is still shown."""
        self.jobs.drop_all(but=GOES_ON)

    def rule_on_rooms(self, rule: str | None = None, *, with_map: bool = False) -> None:
        """Ask whether the round's rooms can be released, by every rule unless one is named."""
        if self.site is None or not self.current:
            return
        site, choices = self.site, self.choices

        def done(run: ClearanceRun) -> None:
            self.clearance = run
            self.clearance_changed.emit()
            self.questions_changed.emit()

        self.jobs.start(
            "release",
            lambda progress, cancelled: pipeline.clearance_of(
                site, choices, progress, rule, with_map
            ),
            done,
            lambda error: self.trouble.emit(in_one_line(error)),
        )
