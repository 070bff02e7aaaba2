"""The section view: both grounds along a line, and the editor of a track's design profile."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtWidgets import QApplication, QHBoxLayout, QLabel, QVBoxLayout, QWidget
from shapely import LineString, Polygon

from canvas.base.errors import BadData
from canvas.base.quantity import show
from canvas.desk.drawer import Page
from canvas.desk.parts import button, quiet, scrolling
from canvas.desk.profilepanel import ProfilePanel
from canvas.desk.sectionview import SectionView
from canvas.desk.wording import called
from canvas.drawing.furniture import nice_step
from canvas.drawing.profile import SectionPicture
from canvas.site.edits import put
from canvas.site.elements.access import Track
from canvas.site.records import changed
from canvas.tools.profile import ProfileHand

if TYPE_CHECKING:
    from canvas.base.progress import Progress
    from canvas.desk.window import DeskWindow
    from canvas.ground.gradeline import GradeLine
    from canvas.ground.profile import Section
    from canvas.study.longsection import TrackProfile, TwoGrounds
    from canvas.study.study import Study


class SectionPage(Page):
    """Follows the drawn line, or else the selected one; a selected track's profile is edited."""

    key = "section"
    title = "Section"
    icon = "section"
    about = "The ground along a drawn or selected line, and the design profile of a track"
    place = "beside"

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__()
        self._desk = desk
        bench = desk.bench
        self.chart = SectionView(bench)
        self.panel = ProfilePanel()
        self.words: QLabel = quiet()
        self._cut: Section | None = None
        self._designed: Section | None = None
        self._track: Track | None = None
        #: Whose profile the chart shows.
        self._shown_id = ""
        #: The record whose profile has been handed over and isn't in the study yet.
        self._given: Track | None = None
        self._lane = bench.jobs.lane("What would be", quiet=True, patient=True)
        self._search = bench.jobs.lane("Least earth", quiet=False)
        self._draw = button("Draw a line…", desk.actions_["measure.section"].trigger)
        self._follow = button("Follow the selection", desk.section_of_selection)
        self._copy_it = button("Copy figures", self._copy)
        self._shape = button("Shape this track", self._shape_it,
                             tip="Cut and fill it along a design profile")  # fmt: skip
        self._side = scrolling(self.panel)
        self._side.setFixedWidth(self.panel.width() + 14)
        line = QHBoxLayout()
        line.setSpacing(8)
        line.addWidget(self.chart, 1)
        line.addWidget(self._side)
        box = QVBoxLayout(self)
        box.setContentsMargins(12, 4, 4, 6)
        box.setSpacing(2)
        box.addWidget(self.words)
        box.addLayout(line, 1)
        self._connect()

    def _connect(self) -> None:
        chart, panel = self.chart, self.panel
        chart.pointed.connect(self._pointed)
        chart.chosen.connect(self._show_point)
        chart.dragged.connect(self._dragged)
        chart.dropped.connect(self._dropped)
        chart.refused.connect(self._refuse)
        chart.typing.connect(panel.begin_typing)
        panel.refused.connect(self._refuse)
        panel.typed.connect(self._typed)
        panel.add.connect(lambda: chart.add(None))
        panel.take_out.connect(chart.take_out)
        panel.to_ground.connect(chart.to_ground)
        panel.follow.connect(self._follow_ground)
        panel.least.connect(self._least_earth)

    def tools(self) -> Sequence[QWidget]:
        """Offer a line to be drawn or followed, and a track to be shaped."""
        return self._draw, self._follow, self._copy_it, self._shape

    # -- what it shows ------------------------------------------------------------------------

    def _line(self) -> tuple[LineString, str] | None:
        if self._desk.section_line is not None:
            return self._desk.section_line, "The drawn line"
        for item in self._desk.bench.selected():
            if isinstance(item.geometry, LineString):
                return item.geometry, called(item)
            if isinstance(item.geometry, Polygon):
                return LineString(item.geometry.exterior.coords), f"Around {called(item)}"
        return None

    def _selected_track(self) -> Track | None:
        if self._desk.section_line is not None:
            return None
        found = self._desk.bench.selected()
        return found[0] if len(found) == 1 and isinstance(found[0], Track) else None

    def refresh(self) -> None:
        """Cut the ground again along the line; a profile in hand, or on its way, stays."""
        bench, study = self._desk.bench, self._desk.bench.study
        track = self._selected_track()
        if self.chart.busy or (track is not None and self._waits(track, study)):
            return
        self._track, self._given = track, None
        readonly = bench.session is None or bench.session.readonly
        can = track is not None and study is not None and study.land.grid is not None
        self._shape.setVisible(
            can and not readonly and track is not None and track.forming == "none"
        )
        profile = self._profile(study, track)
        if profile is not None and study is not None:
            self._show_profile(profile, readonly)
        else:
            self._show_line(study)

    def _waits(self, track: Track, study: Study | None) -> bool:
        """Return whether the study has yet to see the track as it was last handed over."""
        if self._given is None or study is None or self._given.id != track.id:
            return False
        return study.plan.get(track.id) is not track

    def _profile(self, study: Study | None, track: Track | None) -> TrackProfile | None:
        from canvas.study.longsection import track_profile

        if study is None or track is None or study.plan.get(track.id) is None:
            return None
        return track_profile(study, track.id)

    def _show_profile(self, profile: TrackProfile, readonly: bool) -> None:
        ground = profile.ground
        self._cut, self._designed = ground, None
        old = self.chart.hand
        hand = ProfileHand(profile.line, ground, profile.item.curve_m or 0.0)
        if old is not None and self._same_track(profile) and old.chosen is not None:
            hand.chosen = min(old.chosen, len(profile.line.knees) - 1)
        self._shown_id = profile.item.id
        picture = SectionPicture(ground.distance_m, ground.z_m, profile.design_m(), profile.line)
        self.chart.setVisible(True)
        self.chart.show_section(picture, [], hand)
        self._side.setVisible(not readonly)
        if readonly:
            self.chart.hand = None
        self._say(profile)
        self._show_point()

    def _same_track(self, profile: TrackProfile) -> bool:
        return self._shown_id == profile.item.id

    def _show_line(self, study: Study | None) -> None:
        from canvas.study.longsection import two_grounds
        from canvas.study.tables import stretches

        chosen = self._line()
        both = two_grounds(study, chosen[0]) if study is not None and chosen is not None else None
        self._side.hide()
        self._cut = both.existing if both is not None else None
        self._designed = both.designed if both is not None else None
        self.chart.setVisible(both is not None)
        if both is None or chosen is None or study is None:
            if study is not None and study.land.grid is None:
                self.words.setText("The site has no ground yet: bring in a terrain model.")
            else:
                self.words.setText("Draw a line across the land, or select one.")
            return
        cut = both.designed or both.existing
        run = float(cut.distance_m[-1])
        parts = stretches(cut, nice_step(run / 16))
        designed = both.designed.z_m if both.designed is not None else None
        picture = SectionPicture(both.existing.distance_m, both.existing.z_m, designed)
        self.chart.show_section(picture, parts, None)
        self.words.setText(self._line_words(study, chosen[1], both))

    def _line_words(self, study: Study, name: str, both: TwoGrounds) -> str:
        from canvas.study.tables import stretches

        units = self._desk.bench.units
        cut = both.designed or both.existing
        run = float(cut.distance_m[-1])
        known = [p for p in stretches(cut, nice_step(run / 16)) if p.grade == p.grade]
        words = f"{name}: {show(run, 'm', units, 1)} on the grid"
        if known:
            worst = max(known, key=lambda p: abs(p.grade))
            words += f", steepest stretch {show(abs(worst.grade), '%', decimals=0)}"
        if both.designed is not None:
            dug, filled = both.cut_fill_m2()
            words += f", cut {show(dug, 'm2', units, 1)} and fill {show(filled, 'm2', units, 1)}"
        if cut.known_share < 1:
            words += f"; {show(1 - cut.known_share, '%', decimals=0)} of it has no ground"
        if study.terrain.accuracy_m:
            words += f"; heights ± {show(study.terrain.accuracy_m, 'm', units)}"
        trouble = self._trouble(study)
        return f"{words}. {trouble}" if trouble else f"{words}."

    def _trouble(self, study: Study) -> str:
        """Return why the selected element can't be built as drawn; "" when it can."""
        for item in self._desk.bench.selected()[:1]:
            work = study.work(item.id) if self._desk.section_line is None else None
            if work is not None and work.trouble:
                return f"Cannot be built so: {work.trouble}"
        return ""

    def _say(self, profile: TrackProfile) -> None:
        """Say what the profile moves, and how steep it is."""
        units = self._desk.bench.units
        words = f"{called(profile.item)}: {show(profile.length_m, 'm', units, 1)}, steepest"
        words += f" {show(abs(profile.line.steepest), '%', decimals=1)}"
        earth, left = profile.earth, profile.left_over_m3
        if earth is None:
            why = profile.trouble.replace("\n", ". ")
            self.words.setText(f"{words}. Cannot be built so: {why}")
            return
        spare = "left over" if left >= 0 else "lacking"
        self.words.setText(
            f"{words}; cut {show(earth.cut_m3, 'm3', units, 0)},"
            f" fill {show(earth.fill_m3, 'm3', units, 0)},"
            f" {show(abs(left), 'm3', units, 0)} {spare};"
            f" deepest cut {show(earth.deepest_cut_m, 'm', units)},"
            f" highest fill {show(earth.highest_fill_m, 'm', units)}"
            + ("." if profile.typed else "; follows the ground.")
        )

    def _show_point(self) -> None:
        if self.chart.hand is not None and self._track is not None:
            self.panel.show_point(self.chart.hand, self._track.design_grade, self._desk.bench.units)

    # -- what is done to it -------------------------------------------------------------------

    def _dragged(self) -> None:
        """Ask what the profile in hand would move; the latest asking wins."""
        study, track, hand = self._desk.bench.study, self._track, self.chart.hand
        if study is None or track is None or hand is None:
            return
        line = hand.line

        def work(progress: Progress) -> TrackProfile | None:
            from canvas.study.longsection import track_profile, with_profile

            would_be = study.preview(study.plan.with_(with_profile(track, line)))
            return track_profile(would_be, track.id)

        self._lane.ask(work, lambda got: self._say(got) if got is not None else None)

    def _dropped(self, words: str) -> None:
        """Hand the profile over as one edit."""
        if self.chart.hand is not None:
            self._give(self.chart.hand.line, words)

    def _give(self, line: GradeLine | None, words: str) -> None:
        from canvas.study.longsection import with_profile

        track = self._track
        if track is None:
            return
        after = with_profile(track, line)
        edit = put(words, [(track, after)])
        if not edit.changes:
            return
        # Before it is applied: the page is asked to refresh while that goes on.
        self._given = self._track = after
        if self._desk.bench.apply(edit) is None:
            self._given, self._track = None, track
            self.refresh()

    def _typed(self, what: str, value: float) -> None:
        hand = self.chart.hand
        if hand is None:
            return
        try:
            hand.put(what, value)
        except BadData as trouble:
            self._refuse(trouble.text())
            self._show_point()
            return
        self.chart.update()
        self._show_point()
        self._dropped("Type a profile point")

    def _follow_ground(self) -> None:
        if self._track is not None:
            self._give(None, "Let the profile follow the ground")

    def _least_earth(self, steepest: float) -> None:
        study, track = self._desk.bench.study, self._track
        if study is None or track is None:
            return

        def work(progress: Progress) -> GradeLine:
            from canvas.study.longsection import suggested

            return suggested(study, track, steepest)

        def then(line: GradeLine) -> None:
            if self._track is track:
                self._give(line, "Least earth within the grade")

        def failed(fault: Exception) -> None:
            if isinstance(fault, BadData):
                self._refuse(fault.text())
            else:
                self._desk.bench.troubled.emit(fault)

        self._search.ask(work, then, failed)

    def _shape_it(self) -> None:
        track = self._track
        if track is not None:
            self._desk.bench.apply(put("Shape a track", [(track, changed(track, forming="out"))]))

    def _refuse(self, words: str) -> None:
        self._desk.bench.tell("warning", words)

    def _pointed(self, along_m: float) -> None:
        """Show on the map where the pointer is on the section."""
        if self._cut is None or along_m < 0:
            self._desk.spot.show_at(None)
            return
        x = float(np.interp(along_m, self._cut.distance_m, self._cut.x_m))
        y = float(np.interp(along_m, self._cut.distance_m, self._cut.y_m))
        self._desk.spot.show_at((x, y))

    def closed(self) -> None:
        """Take the spot off the map and forget the drawn line."""
        self._desk.section_line = None
        self._desk.spot.show_at(None)

    def _copy(self) -> None:
        if self._cut is None:
            return
        cut, hand = self._cut, self.chart.hand
        designed = self._designed.z_m if self._designed is not None else None
        if hand is not None:
            designed = hand.line.level_m(cut.distance_m)
        head = "distance_m\teast_m\tnorth_m\theight_m"
        columns = [cut.distance_m, cut.x_m, cut.y_m, cut.z_m]
        if designed is not None:
            head += "\tdesigned_m"
            columns.append(designed)
        rows = zip(*columns, strict=True)
        lines = [head, *("\t".join(f"{value:.3f}" for value in row) for row in rows)]
        QApplication.clipboard().setText("\n".join(lines))
        self._desk.bench.tell("note", "Copied the section’s figures")
