"""The window: assembled from its parts, each of which takes the bench and looks after itself."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path

from PySide6.QtCore import QEvent, QObject, QPoint, QSize, Qt, QTimer
from PySide6.QtGui import QCloseEvent
from PySide6.QtWidgets import (
    QApplication,
    QDialog,
    QMainWindow,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)
from shapely import LineString

from canvas.base.errors import UserError
from canvas.base.fact import Fact
from canvas.desk import icons, places, theme
from canvas.desk.actions import Actions
from canvas.desk.ask import AskBox
from canvas.desk.bench import Bench
from canvas.desk.card import Card
from canvas.desk.drawer import Drawer, Page, Rise, Sheet
from canvas.desk.flood import FloodVeil
from canvas.desk.guide import Guide
from canvas.desk.ledge import Ledge
from canvas.desk.mapkey import MapKey
from canvas.desk.mapview import MapView
from canvas.desk.menus import MapMenu, RecentMenu, dialog_for
from canvas.desk.notices import NoticeBar, Toast, TroubleDialog
from canvas.desk.pages.all import PAGES
from canvas.desk.parts import button, reink
from canvas.desk.prompt import Prompt
from canvas.desk.rainjob import RainJob
from canvas.desk.readout import Readout
from canvas.desk.settings import Settings
from canvas.desk.spot import SpotMark
from canvas.desk.stages import stage
from canvas.desk.standing import Standing
from canvas.desk.strip import StageStrip
from canvas.desk.verbs.all import TABLE
from canvas.desk.welcome import Welcome
from canvas.desk.wording import clock
from canvas.site.session import Session


class DeskWindow(QMainWindow):
    """The hill path with the stage's ledge under it; the map; a sheet of paper from below."""

    bench: Bench
    map: MapView
    ledge: Ledge
    card: Card
    ask: AskBox

    def __init__(self, bench: Bench, settings: Settings, family: str = "") -> None:
        super().__init__()
        self.bench = bench
        self.settings = settings
        self.family = family
        #: Key of the action whose tool is in hand.
        self.held = ""
        #: Key of the finding shown last.
        self.shown_finding = ""
        #: The line the section page shows; None for the selected one.
        self.section_line: LineString | None = None
        #: What was measured last.
        self.measured: tuple[Fact, ...] = ()
        self.setWindowIcon(icons.app_icon())
        self.setMinimumSize(QSize(860, 520))
        self.resize(1280, 800)
        self.actions_ = Actions(self, TABLE)
        self.menus = self.actions_.fill(self.menuBar())
        self.recent = RecentMenu(self)
        self._build()
        self._connect()
        self._dress()
        self._site_changed()
        self.restoreGeometry(settings.blob("geometry"))

    # -- putting it together ------------------------------------------------------------------

    def _build(self) -> None:
        bench = self.bench
        self.room = QWidget()
        self.room.setObjectName("room")
        self.map = MapView(bench)
        self.map.setParent(self.room)
        self.key = MapKey(self, self.room)
        self.ask_button = button(
            "Ask…  Ctrl+Space", self._ask, look="askbox", tip="Type what you want"
        )
        self.standing = Standing(bench, self.ask_button)
        self.strip = StageStrip(bench, self.standing)
        self.readout = Readout(bench, self.room)
        self.ledge = Ledge(bench, self.actions_, self.strip, self.room)
        self.card = Card(self, self.room)
        self.guide = Guide(self, self.room)
        self.prompt = Prompt(bench, self.room, self.ledge)
        self.toast = Toast(bench, self.room)
        self.spot = SpotMark(self)
        self.veil = FloodVeil(self)
        self.rain = RainJob(self)
        self.room.installEventFilter(self)
        makers: dict[str, Callable[[], Page]] = {
            key: partial(cls, self) for key, cls in PAGES.items()
        }
        self.leaf = Drawer(bench, {k: m for k, m in makers.items() if PAGES[k].place == "main"})
        self.second = Drawer(bench, {k: m for k, m in makers.items() if PAGES[k].place == "beside"})
        self.sheet = Sheet(self.leaf, self.second)
        self.rise = Rise(bench, self.room, self.sheet)
        self.welcome = Welcome(self)
        self.middle = QStackedWidget()
        self.middle.addWidget(self.welcome)
        self.middle.addWidget(self.rise)
        self.notice = NoticeBar(bench)
        whole = QWidget()
        column = QVBoxLayout(whole)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        for part in (self.notice, self.strip):
            column.addWidget(part)
        column.addWidget(self.middle, 1)
        self.setCentralWidget(whole)
        self.ask = AskBox(self)

    def _connect(self) -> None:
        bench = self.bench
        self.strip.chosen.connect(self._stop_pressed)
        self.standing.wanted.connect(lambda: self.open_page("findings"))
        self.ledge.moved.connect(self._ledge_moved)
        self.key.moved.connect(self.card.place)
        for signal in (bench.site_changed, bench.study_changed, bench.selection_changed,
                       bench.stage_changed, bench.look_changed, bench.tool_changed):  # fmt: skip
            signal.connect(self.actions_.refresh)
        bench.plan_changed.connect(self._plan_changed)
        bench.site_changed.connect(self._site_changed)
        bench.theme_changed.connect(self._dress)
        bench.troubled.connect(self.tell_trouble)
        self.map.view_changed.connect(self._view_changed)
        self.map.prompt_changed.connect(lambda _words: self.prompt.refresh())
        self.map.opened.connect(lambda _ident: self.card.edit_fields())
        self.map.menu_wanted.connect(self._menu)
        self.map.files_dropped.connect(self._dropped)
        for drawer in (self.leaf, self.second):
            drawer.closed.connect(self.map.setFocus)
        self.actions_.refresh()

    def _ask(self) -> None:
        self.ask.ask()

    def floating(self) -> tuple[Ledge | Readout | MapKey | Prompt | Guide | Card | Toast, ...]:
        """Return what stands over the map, in the order it finds its place."""
        return (
            self.ledge, self.readout, self.key, self.prompt, self.guide, self.card, self.toast
        )  # fmt: skip

    def _dress(self) -> None:
        app = QApplication.instance()
        if isinstance(app, QApplication):
            theme.apply(app, self.bench.theme, family=self.family)
        self.actions_.reink(self.bench.theme)
        reink(self, self.bench.theme)

    def _view_changed(self) -> None:
        self.readout.show_scale(self.map.scale)
        self.card.place()
        self.spot.place()

    def _menu(self, spot: QPoint, ident: str) -> None:
        """Show what can be done here: to the element under the pointer, or to the map."""
        if ident and ident not in self.bench.selection:
            self.bench.select([ident])
        MapMenu(self, spot, over_element=bool(ident))

    def _dropped(self, paths: list[Path]) -> None:
        """Bring in a file let fall on the map."""
        dialog = dialog_for(self, Path(paths[0])) if paths else None
        if dialog is not None:
            self.ask_dialog(dialog)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Let the map fill the room, and what floats over it keep its place."""
        if watched is self.room and event.type() == QEvent.Type.Resize:
            self.map.setGeometry(self.room.rect())
            for part in self.floating():
                part.place()
            self.map.head_px = self.ledge.overhang
        return super().eventFilter(watched, event)

    # -- the site -----------------------------------------------------------------------------

    def open_folder(self, folder: Path) -> bool:
        """Open the site in a folder; trouble is told, and what was open stays open."""
        try:
            session = Session.open(folder)
        except UserError as trouble:
            self.tell_trouble(trouble)
            return False
        self.adopt_session(session)
        return True

    def adopt_session(self, session: Session) -> None:
        """Put a session on the bench."""
        self.bench.open_session(session)
        self.settings.opened(session.folder)

    def close_site(self) -> None:
        """Close the site and go back to the first choice."""
        self.bench.close_session()

    def _plan_changed(self) -> None:
        self.actions_.refresh()
        self._retitle()

    def _site_changed(self) -> None:
        self.leaf.forget()
        self.second.forget()
        self.section_line = None
        self.measured = ()
        is_open = self.bench.session is not None
        self.middle.setCurrentWidget(self.rise if is_open else self.welcome)
        self.strip.setVisible(is_open)
        self._retitle()
        if is_open:
            self.map.setFocus()
            # The map has its true size only once it has been laid out.
            QTimer.singleShot(0, self.map.zoom_all)
        else:
            self.welcome.refresh()

    def _retitle(self) -> None:
        session = self.bench.session
        if session is None:
            self.setWindowTitle("Hillwright")
            return
        name = session.plan.site.name or session.folder.name
        tail = "read-only" if session.readonly else f"saved {clock(session.saved_at)}"
        self.setWindowTitle(f"{name} · {tail} · Hillwright")

    # -- stages and pages ---------------------------------------------------------------------

    def _stop_pressed(self, key: str) -> None:
        """Turn to a stage; pressed again, its stop folds its actions away or shows them."""
        if key == self.bench.stage:
            self.ledge.toggle()
        else:
            self.turn_to(key)

    def _ledge_moved(self) -> None:
        """Let what stands below the ledge follow it."""
        self.map.head_px = self.ledge.overhang
        for part in (self.prompt, self.guide, self.card):
            part.place()
        self.actions_.refresh()

    def turn_to(self, key: str) -> None:
        """Turn to a stage: its shading, its actions and its page."""
        chosen = stage(key)
        self.bench.set_stage(key)
        study = self.bench.study
        look = {"spills": False, **chosen.look}
        if study is None or study.land.grid is None:
            look.pop("shading", None)
        if look:
            self.bench.set_look(**look)
        if self.leaf.key:
            self.open_page(chosen.page)

    def open_page(self, key: str) -> Page:
        """Open a page on the sheet below the map."""
        drawer = self.leaf if PAGES[key].place == "main" else self.second
        if key == "findings":
            self.bench.set_look(finding_places=True)
        return drawer.open(key)

    def shut_page(self) -> None:
        """Close the open page, or else the one beside it."""
        (self.leaf if self.leaf.key else self.second).shut()

    # -- what parts ask of each other ---------------------------------------------------------

    def show_element(self, ident: str) -> None:
        """Select an element and show it on the map."""
        self.bench.select([ident])
        self.show_selection()

    def show_selection(self) -> None:
        """Show what is selected."""
        places.show_selection(self)

    def show_finding(self, key: str) -> None:
        """Select what a finding speaks of and show where."""
        places.show_finding(self, key)

    def step_finding(self, step: int) -> None:
        """Show the next finding, or the one before."""
        places.step_finding(self, step)

    def go_to(self, east_m: float, north_m: float) -> None:
        """Show a grid position."""
        self.map.centre_on(east_m, north_m)

    def go_to_lonlat(self, lon_deg: float, lat_deg: float) -> None:
        """Show a geographic position."""
        places.go_to_lonlat(self, lon_deg, lat_deg)

    def zoom(self, factor: float) -> None:
        """Come closer or step back about the middle of the map."""
        self.map.zoom_by(factor)

    def waive(self, key: str) -> None:
        """Ask for the reason a finding is accepted."""
        from canvas.desk.dialogs.waive import WaiveDialog

        self.ask_dialog(WaiveDialog(self, key))

    def show_section(self, line: LineString) -> None:
        """Show the ground along a drawn line."""
        self.section_line = line
        self.open_page("section")

    def section_of_selection(self) -> None:
        """Show the ground along the selected line."""
        self.section_line = None
        self.open_page("section")

    def show_measured(self, facts: tuple[Fact, ...]) -> None:
        """Keep what was measured, and show it."""
        self.measured = facts
        self.open_page("measured")

    def turn_theme(self) -> None:
        """Turn the desk dark or light, and remember it."""
        self.bench.set_theme("light" if self.bench.theme == "dark" else "dark")
        self.settings.put("theme", self.bench.theme)

    def ask_dialog(self, dialog: QDialog) -> None:
        """Open a dialog over the window, without stopping the rest of the program."""
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.setWindowModality(Qt.WindowModality.WindowModal)
        dialog.finished.connect(self._take_back)
        dialog.open()

    def _take_back(self) -> None:
        """Let the keyboard work here again after a dialog."""
        if self.isVisible():
            self.activateWindow()

    def tell_trouble(self, trouble: object) -> None:
        """Show a `UserError` in full; hand any other exception to the program's fault handler."""
        if isinstance(trouble, UserError):
            self.ask_dialog(TroubleDialog(trouble, self))
        elif isinstance(trouble, Exception):
            raise trouble

    def closeEvent(self, event: QCloseEvent) -> None:
        """Leave: work stops, the site closes; there is nothing to save."""
        self.settings.put("geometry", self.saveGeometry())
        self.bench.close()
        self.map.close_canvas()
        super().closeEvent(event)
