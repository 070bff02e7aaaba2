"""What a sheet must say of itself: its phase, what it leaves out, where the site goes on."""

from __future__ import annotations

import drawn_site
import numpy as np
import pytest
from shapely.geometry import Point

from canvas.base.errors import BadData
from canvas.drawing.entries import Layer, Lines, Raster, Text
from canvas.drawing.look import Look
from canvas.paint.export import page_image
from canvas.sheets.plan_sheet import SheetOptions, plan_sheet
from canvas.site.elements import access, vegetation
from canvas.site.facts import Phase, Picture
from canvas.site.records import changed

LOOK = Look(year=8, findings=False)


def words_of(pages):
    words = " ".join(e.words for page in pages for e in page.furniture if isinstance(e, Text))
    return words.replace("\u202f", " ").replace("\u00a0", " ")


@pytest.fixture(scope="module")
def staged(bare):
    """A site built in three phases, their places in the order not simply 1, 2, 3."""
    phases = [
        Phase(id="water", name="Water first", place=5, starts="2027-02-01"),
        Phase(id="way", name="The way in", place=20),
        Phase(id="trees", name="Planting", place=30),
    ]
    plan = bare.plan
    spot = plan.element("tank").geometry.centroid
    items = [
        changed(plan.element("tank"), phase="water", status="proposed", name="Rain tank"),
        access.Track(id="way1", name="Spur", phase="way", status="proposed",
                     geometry=drawn_site.LineString(drawn_site.at((60, 60), (160, 80)))),
        *(vegetation.Tree(id=f"t{k}", phase="trees", species="Quercus ilex",
                          geometry=Point(spot.x + 8 * k, spot.y + 15)) for k in range(1, 4)),
    ]  # fmt: skip
    return bare.moved(plan.with_(*phases, *items))


def test_a_phase_sheet_says_so_in_its_title_and_names_what_is_left_out(staged):
    pages = plan_sheet(staged.at_phase("way"), SheetOptions(paper="A2", title="Ways", look=LOOK))
    words = words_of(pages)
    assert "Ways, as built up to phase 2 (The way in)" in words
    assert "Not drawn here, still to be built: phase 3 (Planting)." in words
    assert "Read first" in words
    assert any("phase 3 (Planting)" in note for note in pages[0].notes)
    assert "Planting (not on this sheet)" in words
    assert "Quercus" not in words
    assert "Spur · proposed, phase 2" in words
    whole = plan_sheet(staged, SheetOptions(paper="A2", title="Ways", look=LOOK))
    assert "the whole plan, all 3 phases" in words_of(whole)
    assert "Quercus ilex" in words_of(whole)
    assert "Read first" not in words_of(whole)
    assert whole[0].notes == ()


def test_phases_stand_in_their_order_with_what_each_builds(staged):
    words = words_of(plan_sheet(staged, SheetOptions(paper="A1", look=LOOK)))
    order = [words.index(name) for name in ("Water first", "The way in", "Planting")]
    assert order == sorted(order)
    assert "2027-02-01" in words
    assert "1 tank" in words
    assert "3 trees" in words
    assert "Rain tank · proposed, phase 1" in words


def test_hidden_kinds_and_phases_are_named(staged):
    look = Look(findings=False, hidden_kinds=frozenset({"well", "zone"}),
                hidden_phases=frozenset({"water"}))  # fmt: skip
    pages = plan_sheet(staged, SheetOptions(paper="A2", look=look))
    notes = " ".join(pages[0].notes)
    assert "phase 1 (Water first)" in notes
    # Zones are not named: this plan has none.
    assert "though on the plan: wells" in notes
    assert "zones" not in notes
    assert notes in words_of(pages)


@pytest.mark.parametrize(
    ("centre", "scale", "sides"),
    [
        (None, 100.0, "to the north, east, south and west."),
        # The site spans about 310 by 300 m; at 1:1000 an A3 map is about 310 by 270 m.
        ((drawn_site.EAST + 155, drawn_site.NORTH + 400), 1250.0, "to the south."),
    ],
)
def test_a_map_too_small_for_the_site_says_where_it_goes_on(bare, centre, scale, sides):
    pages = plan_sheet(bare, SheetOptions(paper="A3", scale=scale, centre=centre, look=LOOK))
    assert pages[0].notes == (f"The site continues beyond this sheet, {sides}",)
    words = words_of(pages)
    assert "The site continues beyond this sheet" in words
    assert words.count("site continues beyond this sheet") == 1 + sides.count(",") + (
        2 if " and " in sides else 1
    )


def test_rules_that_could_not_be_checked_are_told():
    blind = drawn_site.study(0, ground=False)
    (told,) = blind.unchecked()
    pages = plan_sheet(blind, SheetOptions(paper="A1", look=LOOK))
    assert told in pages[0].notes
    assert told in words_of(pages)


def test_a_fitted_map_goes_on_nowhere(bare):
    pages = plan_sheet(bare, SheetOptions(paper="A3", look=LOOK))
    assert pages[0].notes == ()
    assert "continues beyond" not in words_of(pages)


@pytest.mark.parametrize("content", [b"", b"II*\0 not a picture", None])
def test_a_picture_that_cannot_be_read_is_named_once(bare, tmp_path, content):
    if content is not None:
        (tmp_path / "aerial.tif").write_bytes(content)
    study = bare.moved(bare.plan.with_(Picture(name="Spring flight", file="aerial.tif")))
    pages = plan_sheet(study, SheetOptions(paper="A3", look=LOOK), folder=tmp_path)
    (note,) = pages[0].notes
    assert note.startswith("The picture “Spring flight” is left out: ")
    assert words_of(pages).count("Spring flight") == 1
    off = Look(findings=False, hidden_layers=frozenset({"pictures"}))
    assert plan_sheet(study, SheetOptions(look=off), folder=tmp_path)[0].notes == ()


def test_contours_come_at_the_interval_asked_for(bare):
    def heights(metres):
        pages = plan_sheet(bare, SheetOptions(paper="A3", contours_m=metres, look=LOOK))
        found = [la for la in pages[0].frames[0].layers if la.key == "contours"]
        count = sum(len(e.paths) for e in found[0].entries if isinstance(e, Lines)) if found else 0
        return count, words_of(pages)

    fine, words = heights(0.7)
    assert "Contours every 0.7 m" in words
    coarse, words = heights(7.0)
    assert "Contours every 7 m" in words
    # Ten times the interval, a tenth of the lines (closed rings and edges make it rough).
    assert 5 < fine / coarse < 20
    none, words = heights(0.0)
    assert none == 0
    assert "Contours every" not in words
    for wrong in (1e-4, -1.0, float("nan")):
        with pytest.raises(BadData, match="contours every"):
            heights(wrong)


@pytest.mark.parametrize(
    ("name", "hidden"),
    [("A1", ()), ("A2", ()), ("A3", ("vegetation", "garden_bed")), ("A3", ("zone", "fence"))],
)
def test_the_legend_is_not_torn_where_it_fits_closer_together(judged, name, hidden):
    look = Look(year=8, hidden_kinds=frozenset(("vegetation", "garden_bed", *hidden)))
    pages = plan_sheet(judged, SheetOptions(paper=name, look=look))
    assert "Legend (continued)" not in words_of(pages)
    assert "Legend" in {e.words for e in pages[0].furniture if isinstance(e, Text)}


@pytest.mark.parametrize("name", ["A4", "A3", "ANSI A", "A1"])
@pytest.mark.parametrize("landscape", [True, False])
def test_what_stands_on_sheet_2_is_said_in_full(judged, name, landscape):
    pages = plan_sheet(judged, SheetOptions(paper=name, landscape=landscape, look=Look(year=8)))
    if len(pages) == 1:
        return
    bold = [e.words for e in pages[0].furniture if isinstance(e, Text) and e.bold]
    told = " ".join(bold)
    at = told.index("sheet 2")
    assert not any(words.endswith("…") for words in bold), bold
    assert told[at:].split("Kestrel")[0].count(".") >= 1


def test_columns_of_the_last_sheet_are_evenly_full(judged):
    page = plan_sheet(judged, SheetOptions(paper="A4", look=Look(year=8)))[-1]
    lows = {}
    for e in page.furniture:
        if isinstance(e, Text) and e.x < page.width_mm / 2:
            column = round(e.x // (page.width_mm / 3))
            lows[column] = min(lows.get(column, page.height_mm), e.y)
    assert max(lows.values()) - min(lows.values()) < page.height_mm * 0.5


def test_aerial_is_grey_on_a_mono_sheet(bare, tmp_path):
    import rasterio

    data = np.zeros((3, 40, 40), np.uint8)
    data[0], data[2] = 220, 40
    place = rasterio.Affine(10, 0, drawn_site.EAST - 50, 0, -10, drawn_site.NORTH + 350)
    with rasterio.open(
        tmp_path / "a.tif", "w", driver="GTiff", width=40, height=40, count=3, dtype="uint8",
        crs="EPSG:7854", transform=place,
    ) as out:  # fmt: skip
        out.write(data)
    study = bare.moved(bare.plan.with_(Picture(file="a.tif")))
    for palette, grey in (("mono", True), ("paper", False)):
        options = SheetOptions(paper="A4", palette=palette, look=Look(findings=False))
        page = plan_sheet(study, options, folder=tmp_path)[0]
        layers: tuple[Layer, ...] = page.frames[0].layers
        assert isinstance(layers[0].entries[0], Raster)
        image = page_image(page, 40.0, palette=palette)
        rows = np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), -1, 4)
        spread = np.ptp(rows[..., :3].astype(int), axis=2)
        assert bool(spread.max() == 0) == grey
