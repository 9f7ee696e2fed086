"""Opening, closing and keeping sites: nothing that was entered is lost on the way out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QFileSystemWatcher, QObject, QTimer
from PySide6.QtWidgets import QFileDialog, QMessageBox

from hgmap.desktop.places import Places
from hgmap.desktop.plain import plain_tip
from hgmap.desktop.words import tr
from hgmap.editing.new_folder import free_name
from hgmap.editing.recovery import Recovered, RecoveryFolder
from hgmap.editing.save import meet_disk, over_disk
from hgmap.editing.site_files import read_site_files
from hgmap.errors import HgmapError

if TYPE_CHECKING:
    from hgmap.desktop.window import Window

AUTOSAVE_MS: Final = 10_000
"""How often what is unsaved is kept aside."""

DISK_MS: Final = 400
MOST_RECENT: Final = 8


class SiteDoors(QObject):
    """What a window does with sites as wholes."""

    def __init__(
        self, window: Window, *, remembering: bool = True, home: Path | None = None
    ) -> None:
        super().__init__(window)
        self.window, self.remembering = window, remembering
        places = Places.of(home)
        self.places = places
        self.recovery = RecoveryFolder(places.own / "recovery")
        self._kept: object = None
        self._cannot_keep = False
        self._timer = QTimer(self)
        self._timer.setInterval(AUTOSAVE_MS)
        self._timer.timeout.connect(self.keep_aside)
        if remembering:
            self._timer.start()
        self._watcher = QFileSystemWatcher(self)
        self._settle = QTimer(self)
        self._settle.setSingleShot(True)
        self._settle.setInterval(DISK_MS)
        self._settle.timeout.connect(window.session.look_at_disk)
        self._watcher.directoryChanged.connect(lambda _: self._settle.start())
        window.session.disk_changed.connect(self._changed_on_disk)
        window.session.not_saved.connect(self._not_saved)
        window.session.saved.connect(self._saved)

    # -- opening

    def open(self, folder: Path, *, ask: bool = True) -> bool:
        """Open a site; tell whether it is open. What is wrong is said above the plan."""
        session = self.window.session
        try:
            if ask and session.unsaved:
                read_site_files(folder)  # what cannot be opened is no reason to leave
                if not self.may_leave():
                    return False
            session.open(folder)
        except HgmapError as error:
            self.window.notice.say(str(error))
            return False
        self.remember(folder)
        self._watch()
        self.window.show_survey()
        return True

    def ask_and_open(self) -> None:
        """Ask for a folder and open it."""
        folder = QFileDialog.getExistingDirectory(self.window, tr("Open a site"))
        if folder:
            self.open(Path(folder))

    def open_demo(self) -> None:
        """Open a copy of the invented demo, so that the one of the program stays as it is."""
        from hgmap.desktop.demo import demo_copy

        try:
            folder = demo_copy(self.places.own)
        except HgmapError as error:
            self.window.notice.say(str(error))
            return
        self.open(folder)

    def new_site(self) -> None:
        """Begin a new site; what was discarded for it is not there when nothing is begun."""
        session = self.window.session
        if not self.may_leave():
            return
        if session.unsaved and session.base is not None:
            session.take(session.base, session.base)
        self.window.show_new_site()

    def close_site(self) -> None:
        """Close the site and show the start page."""
        if self.may_leave():
            self.window.session.close()
            self._watch()
            self.window.show_start()

    def save_elsewhere(self) -> bool:
        """Write the whole site into a new folder and go on there; tell whether that was done."""
        session = self.window.session
        if session.files is None or session.base is None:
            return False
        old = session.base.folder
        found = QFileDialog.getExistingDirectory(
            self.window, tr("A new folder with the site appears in ..."),
            str(self.places.documents),
        )  # fmt: skip
        if not found or not session.save_elsewhere(free_name(Path(found), old.name)):
            return False
        self.recovery.forget(old)
        self.window.notice.hide()
        self.remember(session.base.folder)
        return True

    # -- leaving

    def may_leave(self) -> bool:
        """Ask about what is unsaved; tell whether the site may be left."""
        session = self.window.session
        if not session.unsaved:
            return True
        Button = QMessageBox.StandardButton  # noqa: N806
        answer = QMessageBox.question(
            self.window,
            tr("Unsaved changes"),
            plain_tip(tr("Save the changes of {name} before it is closed?",
                         name=session.site.name if session.site else tr("this site"))),
            Button.Save | Button.Discard | Button.Cancel,
            Button.Save,
        )  # fmt: skip
        if answer == Button.Save:
            return session.save()
        if answer == Button.Discard:
            self.forget()
            return True
        return False

    # -- keeping aside

    def keep_aside(self) -> None:
        """Keep what is unsaved in the recovery folder; a full disk is said once."""
        session = self.window.session
        if not self.remembering or session.files is None or session.base is None:
            return
        if session.files is self._kept:
            return
        if not session.unsaved:
            self.forget()
            return
        files, base = session.files, session.base
        try:
            self.recovery.keep(files, base)
        except HgmapError as error:
            if not self._cannot_keep:
                self.window.notice.say(tr("Unsaved work is not kept aside: {why}", why=error))
            self._cannot_keep = True
            return  # it is tried again: somebody may have made room
        if self._cannot_keep:
            self.window.desk.say(tr("Unsaved work is kept aside again."))
        self._cannot_keep, self._kept = False, files

    def forget(self) -> None:
        """Take away what was kept of this site."""
        if self.remembering:
            base = self.window.session.base
            if base is not None:
                self.recovery.forget(base.folder)
        self._kept = None

    def offer_recovered(self) -> None:
        """Offer what a window that ended badly had not saved."""
        pending = self.recovery.pending()
        if not pending:
            return
        one = pending[0]
        when = one.kept_at.strftime("%Y-%m-%d %H:%M") if one.kept_at else tr("at an unknown time")
        text = tr(
            "Unsaved changes of {folder} were kept when hgmap ended unexpectedly ({when}).",
            folder=one.folder, when=when,
        )  # fmt: skip
        if one.changed_since:
            text += " " + tr("Its files were changed on the disk since.")
        if one.trouble:
            text += f" {one.trouble}"

        def take_up() -> None:
            self._restore(one)

        def throw_away() -> None:
            self.recovery.drop(one)
            self.offer_recovered()

        answers = [] if one.trouble else [(tr("&Take them up"), take_up)]
        self.window.notice.say(text, (*answers, (tr("Throw them away"), throw_away)))

    def _restore(self, one: Recovered) -> None:
        try:
            base, files = self.recovery.restore(one)
            self.recovery.keep(files, base)
        except HgmapError as error:
            self.window.notice.say(str(error))
            return
        self.window.session.take(base, files)
        self.recovery.drop(one)
        self._watch()
        self.window.show_survey()
        self.window.session.look_at_disk()

    # -- the folder, while it is open

    def _watch(self) -> None:
        old = self._watcher.directories()
        if old:
            self._watcher.removePaths(old)
        files = self.window.session.files
        if files is None:
            return
        folders = {files.folder, *((files.folder / name).parent for name in files.contents)}
        self._watcher.addPaths([str(one) for one in folders if one.is_dir()])

    def _changed_on_disk(self, names: tuple[str, ...]) -> None:
        base = self.window.session.base
        if base is not None and not base.folder.is_dir():
            self._not_saved(tr("The folder of the site is gone: {folder}. The window still has all "
                               "of its files.", folder=base.folder))  # fmt: skip
            return
        listed = ", ".join(names[:3]) + (" ..." if len(names) > 3 else "")
        text = tr("Another program changed or removed: {files}.", files=listed)
        if self.window.session.unsaved:
            text += " " + tr("What you entered is kept, and nothing is saved before you choose.")
        self.window.notice.say(
            text,
            (
                (tr("Read them again"), self._read_again),
                (tr("Keep mine"), self._keep_mine),
            ),
        )

    def _not_saved(self, why: str) -> None:
        """Say why nothing could be written, and offer another place."""
        self.window.notice.say(why, ((tr("Save a copy elsewhere ..."), self.save_elsewhere),))

    def _read_again(self) -> None:
        """Take over what nobody edited here; of what both sides changed, this window's stays."""
        session = self.window.session
        if session.files is None or session.base is None:
            return
        if not session.unsaved:
            self.open(session.files.folder, ask=False)
            return
        try:
            files, base, conflicts = meet_disk(session.files, session.base)
        except HgmapError as error:
            self.window.notice.say(str(error))
            return
        session.base = base
        session.edit(tr("Files taken over from the disk"), lambda _: files)
        if conflicts:
            self.window.notice.say(
                tr("Changed here and on the disk: {files}. Yours is kept in the window.",
                   files=", ".join(conflicts[:3])),
                ((tr("Write over the disk's"), self._keep_mine),),
            )  # fmt: skip

    def _keep_mine(self) -> None:
        """Go on with what is in the window; saving then writes it over what is there."""
        session = self.window.session
        if session.files is None or session.base is None:
            return
        session.base = over_disk(session.files, session.base)
        session.files_changed.emit()

    def _saved(self) -> None:
        self.forget()
        self._watch()

    # -- what was open lately

    def recent(self) -> list[Path]:
        """Return the sites opened lately that are still there, the last first."""
        found = self.places.settings().value("recent", [])
        names = [found] if isinstance(found, str) else list(found or [])  # type: ignore[call-overload]
        return [Path(one) for one in names if (Path(one) / "site.toml").is_file()][:MOST_RECENT]

    def remember(self, folder: Path) -> None:
        """Put a site at the head of the list."""
        if not self.remembering:
            return
        here = folder.absolute()
        rest = [one for one in self.recent() if one != here]
        self.places.settings().setValue("recent", [str(one) for one in (here, *rest)][:MOST_RECENT])
