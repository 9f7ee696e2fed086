"""The plan that is being drawn: the chosen floor's draft, what of it is chosen, how it changes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QObject, Signal

from hgmap.errors import HgmapError

if TYPE_CHECKING:
    from hgmap.desktop.session import Session
    from hgmap.editing.plan_draft import PlanDraft, PlanFeature
    from hgmap.editing.site_files import SiteFiles
    from hgmap.site.schema import FloorTable, SiteTable


KEPT_DRAFTS: Final = 24


class DrawingBoard(QObject):
    """Keeps the draft in step with the files; every change of it is one step of the session."""

    changed = Signal()
    """Another plan, or the same one edited."""
    chosen_changed = Signal()

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self.session = session
        self.draft: PlanDraft | None = None
        self.entry: FloorTable | None = None
        self.why = ""
        self.chosen: tuple[str, ...] = ()
        self.corner: int | None = None
        """Number of the chosen corner of the first chosen feature."""
        self._table: tuple[bytes, SiteTable] | None = None
        self._read: dict[tuple[bytes, bool], PlanDraft] = {}
        self._seen: tuple[str, FloorTable | None, PlanDraft | None] = ("", None, None)
        session.opened.connect(self.refresh)
        session.files_changed.connect(self.refresh)
        session.choices_changed.connect(self.refresh)

    @property
    def floor(self) -> str:
        """Name of the floor that is drawn."""
        return self.session.choices.floor

    @property
    def table(self) -> SiteTable | None:
        """What site.toml says; None where it cannot be used."""
        return self._table[1] if self._table else None

    @property
    def plan_bytes(self) -> bytes | None:
        """The file of the plan as it is now; None where there is none."""
        files = self.session.files
        return files.contents.get(self.entry.plan) if files and self.entry else None

    def refresh(self) -> None:
        """Look at the files again."""
        self.entry, self.draft, self.why = None, None, ""
        files = self.session.files
        if files is None:
            self._table = None
        else:
            try:
                self.entry, self.draft = self._read_files(files)
            except HgmapError as error:
                self.why = str(error)
        now = (self.floor, self.entry, self.draft)
        if now[0] == self._seen[0] and now[1] is self._seen[1] and now[2] is self._seen[2]:
            return
        other_floor = now[0] != self._seen[0]
        self._seen = now
        before = self.chosen, self.corner
        draft = now[2]
        there = () if draft is None or other_floor else draft.by_key
        self.chosen = tuple(key for key in self.chosen if key in there)
        if not self.chosen:
            self.corner = None
        self.changed.emit()
        if before != (self.chosen, self.corner):
            self.chosen_changed.emit()

    def _read_files(self, files: SiteFiles) -> tuple[FloorTable, PlanDraft | None]:
        from hgmap.editing.plan_draft import read_plan_draft
        from hgmap.editing.plan_of_floor import floor_entry, is_region
        from hgmap.editing.toml_edit import table_of

        data = files.data("site.toml")
        if self._table is None or self._table[0] != data:
            self._table = None
            self._table = (data, table_of(files))
        table = self._table[1]
        entry = floor_entry(table, self.floor)
        try:
            plan, region = files.data(entry.plan), is_region(table)
        except HgmapError as error:
            self.why = str(error)
            return entry, None
        draft = self._read.get((plan, region))
        if draft is None:
            try:
                draft = read_plan_draft(plan, where=entry.plan, region=region)
            except HgmapError as error:
                self.why = str(error)
                return entry, None
            self._keep(plan, draft)
        return entry, draft

    def _keep(self, plan: bytes, draft: PlanDraft) -> None:
        """Remember drafts of late: a step back, or an edit, has nothing to read again."""
        self._read[plan, draft.region] = draft
        while len(self._read) > KEPT_DRAFTS:
            del self._read[next(iter(self._read))]

    def edit(self, text: str, make: Callable[[PlanDraft], PlanDraft]) -> bool:
        """Change the plan by a function of the core; tell whether that was done."""
        if self.draft is None:
            self.session.trouble.emit(self.why or "this floor has no plan to draw on")
            return False
        draft, floor = self.draft, self.floor

        def on_files(files: SiteFiles) -> SiteFiles:
            from hgmap.editing.plan_of_floor import with_plan

            after = make(draft)
            if after is draft:
                return files
            made = with_plan(files, floor, after)
            if self.entry is not None:
                self._keep(made.data(self.entry.plan), after)
            return made

        return self.session.edit(text, on_files)

    def choose(self, keys: Sequence[str], corner: int | None = None) -> None:
        """Choose features of the plan, or a corner of one."""
        there = self.draft.by_key if self.draft else {}
        chosen = tuple(dict.fromkeys(key for key in keys if key in there))
        if (chosen, corner) != (self.chosen, self.corner):
            self.chosen, self.corner = chosen, corner if chosen else None
            self.chosen_changed.emit()

    def also_choose(self, key: str) -> None:
        """Add a feature to those that are chosen, or take it from them."""
        if key in self.chosen:
            self.choose([one for one in self.chosen if one != key])
        else:
            self.choose([*self.chosen, key])

    def features(self, kind: str = "") -> list[PlanFeature]:
        """Return the chosen features, of one kind if asked."""
        if self.draft is None:
            return []
        found = [self.draft.by_key[key] for key in self.chosen if key in self.draft.by_key]
        return [one for one in found if not kind or one.kind == kind]
