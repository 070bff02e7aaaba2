"""What stands on a plan sheet, that nothing overlaps, and what its files are like."""

from __future__ import annotations

import itertools
import shutil
import subprocess

import drawn_site
import numpy as np
import pdf_ink
import pikepdf
import pytest
from PySide6.QtGui import QImage
from shapely import LineString

from canvas.base import resources
from canvas.base.errors import BadData, StoreTrouble
from canvas.base.quantity import UnitSystem
from canvas.drawing.entries import Anchor, Raster, Text
from canvas.drawing.look import Look
from canvas.drawing.typeface import DESCENT, width_mm
from canvas.paint.export import write_pdf, write_png, write_sheet
from canvas.sheets.blocks import table
from canvas.sheets.cautions import cautions
from canvas.sheets.flow import Type
from canvas.sheets.papers import PAPERS, best_scale, paper
from canvas.sheets.plan_sheet import SheetOptions, plan_sheet
from canvas.site.elements.access import Track
from canvas.site.elements.crossings import Ford
from canvas.site.facts import Picture
from canvas.site.records import element_kinds
from canvas.study.book import Column, Line

LOOK = Look(year=8)


@pytest.fixture(scope="module")
def pages(judged):
    return plan_sheet(judged, SheetOptions(paper="A1", title="Site plan", date="2026-03-31"))


def words_of(pages):
    return [e.words for page in pages for e in page.furniture if isinstance(e, Text)]


def joined(pages):
    return " ".join(words_of(pages)).replace("\u202f", " ").replace("\u00a0", " ")


def text_box(t):
    width = width_mm(t.words, t.size_mm, t.bold, t.italic)
    left = t.x - {Anchor.LEFT: 0.0, Anchor.CENTRE: width / 2, Anchor.RIGHT: width}[t.anchor]
    return left, t.y - t.size_mm / 2 - t.size_mm * DESCENT, left + width, t.y + t.size_mm / 2


@pytest.mark.parametrize("name", list(PAPERS))
@pytest.mark.parametrize("landscape", [True, False])
def test_nothing_written_overlaps_or_leaves_the_paper(judged, name, landscape):
    made = plan_sheet(judged, SheetOptions(paper=name, landscape=landscape, look=LOOK))
    for page in made:
        texts = [e for e in page.furniture if isinstance(e, Text) and not e.turn_deg]
        boxes = [text_box(t) for t in texts]
        for t, (west, south, east, north) in zip(texts, boxes, strict=True):
            inside = west >= 4 and south >= 4 and east <= page.width_mm - 4
            assert inside and north <= page.height_mm - 4, (name, t.words)  # noqa: PT018
        order = sorted(range(len(boxes)), key=lambda i: boxes[i][1])
        for i, j in itertools.combinations(order, 2):
            a, b = boxes[i], boxes[j]
            if b[1] >= a[3]:
                continue
            slack = 0.05
            apart = a[2] <= b[0] + slack or b[2] <= a[0] + slack or a[3] <= b[1] + slack
            assert apart or b[3] <= a[1] + slack, (name, texts[i].words, texts[j].words)


def test_panel_keeps_off_the_map(judged):
    for name, landscape in itertools.product(("A4", "A2", "A0"), (True, False)):
        page = plan_sheet(judged, SheetOptions(paper=name, landscape=landscape))[0]
        frame = page.frames[0]
        right, top = frame.left_mm + frame.width_mm, frame.bottom_mm + frame.height_mm
        for t in page.furniture:
            if isinstance(t, Text) and not t.turn_deg:
                west, south, east, north = text_box(t)
                assert east <= frame.left_mm or west >= right or north <= frame.bottom_mm or (
                    south >= top
                ), t.words  # fmt: skip


def test_sheet_holds_everything_a_reader_needs(pages):
    words = joined(pages)
    for needed in (
        "Made Hill", "Site plan", "2026-03-31", "EPSG:7854", "GDA2020 / MGA zone 54", "AHD",
        "A. Owner", "Made-up lidar", "2024-03-01", "0.15 m", "bare earth", "1 of ", "1:750",
        "Arrow: grid north", "True north", "Legend", "Cautions", "Notes", "Open findings: 3",
        "Zones", "Buildings", "Plants", "Survey marks", "combined factor", "level on site",
        "Unconfirmed", "Good practice",
    ):  # fmt: skip
        assert needed in words, needed


def test_waived_findings_stand_with_their_reasons(pages):
    assert "Findings waived, with reasons" in words_of(pages)
    assert "Waived: Sealed, agreed in writing" in joined(pages)


def test_schedules_say_what_the_study_says(judged, pages):
    words = joined(pages)
    for zone in judged.plan.of_kind("zone"):
        fact = next(f for f in judged.facts(zone.id) if f.key == "area_m2")
        assert fact.shown().replace("\u202f", " ").replace("\u00a0", " ") in words
    drive = next(t for t in judged.plan.of_kind("track") if t.name == "Drive")
    grade = next(f.value for f in judged.facts(drive.id) if f.key == "sustained_grade")
    assert f"{grade * 100:.1f} %" in words


def test_only_what_is_on_the_sheet_is_listed(judged):
    bore = judged.plan.element("bore").geometry
    made = plan_sheet(
        judged, SheetOptions(paper="A3", scale=100, centre=(bore.x + 5, bore.y - 5), look=LOOK)
    )
    words = joined(made)
    assert "Bore" in words
    assert "Neighbour" not in words
    assert "Olea europaea" not in words
    assert "Open findings: none" in words or "Open findings: 1" in words


def test_what_finds_no_room_goes_to_further_sheets(judged):
    small = plan_sheet(judged, SheetOptions(paper="A4", look=LOOK))
    large = plan_sheet(judged, SheetOptions(paper="A0", look=LOOK))
    assert len(small) > 1
    assert len(large) == 1
    assert "Read the cautions on sheet 2 first" in joined(small[:1])
    everything = joined(small)
    for line in ("Olea europaea", "Keep spoil"):
        assert (line in everything) == (line in joined(large))
    assert f"{len(small)} of {len(small)}" in everything


def test_best_fit_is_the_largest_round_scale_that_holds_the_site(judged):
    page = plan_sheet(judged, SheetOptions(paper="A3"))[0]
    frame = page.frames[0]
    wide, high = 310.0, 300.0
    assert wide * 1000 / frame.scale <= frame.width_mm
    assert high * 1000 / frame.scale <= frame.height_mm
    # By hand: 300 m over 272 mm of height is 1:1103, so 1:1250 is the first that holds it.
    assert frame.scale == 1250.0


@pytest.mark.parametrize(
    ("size_m", "room_mm", "units", "scale"),
    [
        (100.0, 250.0, "metric", 400.0),
        (100.0, 200.0, "metric", 500.0),
        (100.1, 200.0, "metric", 750.0),
        (9.0, 200.0, "metric", 100.0),
        (30.48, 254.0, "us", 120.0),
        (31.0, 254.0, "us", 240.0),
        (3e6, 200.0, "metric", 2e7),
    ],
)
def test_best_scale_by_hand(size_m, room_mm, units, scale):
    assert best_scale(size_m, size_m, room_mm, room_mm, UnitSystem(units)) == scale


def test_a_shaped_track_and_a_crossing_bring_their_cautions():
    way = LineString([(0, 0), (10, 0)])
    plain, shaped = (Track(geometry=way, forming=each) for each in ("none", "out"))
    ford = Ford(geometry=way)
    told = [
        [p.heading for p in cautions(shown, None)]
        for shown in ({"track": [plain]}, {"track": [shaped]}, {"ford": [ford]})
    ]
    assert ["Tracks cut into the hill" in each for each in told] == [False, True, False]
    assert ["Water over tracks" in each for each in told] == [False, False, True]


def test_cautions_follow_what_is_on_the_sheet():
    always = [p.heading for p in cautions({}, None)]
    assert always == ["Before work starts"]
    steep = [p.heading for p in cautions({}, 0.4)]
    assert "Steep ground" in steep
    whole = drawn_site.study(5)
    kinds = {key: whole.plan.of_kind(key) for key in element_kinds()}
    heads = {p.heading for p in cautions(kinds, None)}
    assert {"Buried services", "Overhead lines", "Waste water", "Fire", "Felling"} <= heads
    known = set(element_kinds())
    for row in resources.toml("cautions.toml").values():
        assert set(row["kinds"]) | set(row.get("status", {})) <= known
        assert row["mark"] == "common practice"


def test_pdf_is_vector_with_its_fonts_and_words(pages, tmp_path):
    path = tmp_path / "plan.pdf"
    write_pdf(pages, path)
    embedded = pdf_ink.fonts(path)
    assert embedded
    assert all(embedded.values())
    assert all("Lato" in name for name in embedded)
    assert pdf_ink.pictures(path) == 0
    with pikepdf.open(path) as pdf:
        assert str(pdf.docinfo["/Title"]) == "Made Hill: Site plan"
        assert all("/ToUnicode" in f for p in pdf.pages for f in p.Resources.Font.values())


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="poppler-utils not here")
def test_words_can_be_searched(judged, tmp_path):
    path = tmp_path / "plan.pdf"
    notes = ("Officina: fio, finé, Łąka, Ελιά, ± 0.5 m², 12° 30′",)
    write_pdf(plan_sheet(judged, SheetOptions(paper="A1", notes=notes)), path)
    out = subprocess.run(["pdftotext", "-raw", path, "-"], capture_output=True, check=True)
    # The font draws the minute mark and the modifier prime with one glyph, which a PDF names once.
    found = " ".join(out.stdout.decode().replace("\u02b9", "′").split())
    for needed in ("Made Hill", "Officina: fio, finé, Łąka, Ελιά, ± 0.5 m², 12° 30′", "Wattle Road",
                   "House", "Dry Creek", "F1", "Olea europaea", "1:750"):  # fmt: skip
        assert needed in found, needed


def test_png_has_the_size_and_dots_asked_for(pages, tmp_path):
    path = tmp_path / "plan.png"
    write_png(pages[0], path, 60)
    image = QImage(str(path))
    assert image.width() == round(841 / 25.4 * 60)
    assert image.height() == round(594 / 25.4 * 60)
    assert image.dotsPerMeterX() == pytest.approx(60 / 0.0254, abs=1)


def test_further_pages_of_a_png_go_beside_it(judged, tmp_path):
    made = plan_sheet(judged, SheetOptions(paper="A4", look=LOOK))
    written = write_sheet(made, tmp_path / "plan.png", dpi=40)
    assert [p.name for p in written[:2]] == ["plan.png", "plan-2.png"]
    assert all(p.exists() for p in written)


def test_a_photograph_is_the_only_raster(judged, tmp_path):
    import rasterio

    data = np.full((3, 64, 64), 120, np.uint8)
    place = rasterio.Affine(5, 0, drawn_site.EAST, 0, -5, drawn_site.NORTH + 320)
    with rasterio.open(
        tmp_path / "aerial.tif", "w", driver="GTiff", width=64, height=64, count=3, dtype="uint8",
        crs="EPSG:7854", transform=place,
    ) as out:  # fmt: skip
        out.write(data)
    with_photo = judged.moved(judged.plan.with_(Picture(file="aerial.tif")))
    made = plan_sheet(with_photo, SheetOptions(paper="A3", look=LOOK), folder=tmp_path)
    first = made[0].frames[0].layers[0].entries[0]
    assert isinstance(first, Raster)
    write_pdf(made, tmp_path / "photo.pdf")
    assert pdf_ink.pictures(tmp_path / "photo.pdf") >= 1
    hidden = Look(year=8, hidden_layers=frozenset({"pictures"}))
    none = plan_sheet(with_photo, SheetOptions(paper="A3", look=hidden), folder=tmp_path)
    write_pdf(none, tmp_path / "plain.pdf")
    assert pdf_ink.pictures(tmp_path / "plain.pdf") == 0


def test_a_site_without_ground_or_elements_still_prints(tmp_path):
    empty = drawn_site.study(0, ground=False)
    gone = [e.id for e in empty.plan.elements()]
    bare = empty.moved(empty.plan.without(*gone))
    made = plan_sheet(bare, SheetOptions(paper="A4"))
    write_pdf(made, tmp_path / "empty.pdf")
    assert "No survey of the ground" in joined(made)


@pytest.mark.parametrize("name", ["A3", "a3", "ansi d", "ANSI-D", "archE1", "letter", "Tabloid"])
def test_paper_names_as_people_type_them(name):
    assert paper(name).name in PAPERS


def test_mistakes_are_explained(judged, tmp_path):
    with pytest.raises(BadData, match="A9"):
        plan_sheet(judged, SheetOptions(paper="A9"))
    with pytest.raises(BadData, match="scale"):
        plan_sheet(judged, SheetOptions(scale=0.0))
    made = plan_sheet(judged, SheetOptions(paper="A4"))
    with pytest.raises(BadData, match=r"\.pdf or \.png"):
        write_sheet(made, tmp_path / "plan.docx")
    with pytest.raises(BadData):
        write_pdf((), tmp_path / "plan.pdf")
    with pytest.raises(BadData, match="dots per inch"):
        write_png(made[0], tmp_path / "plan.png", 20_000)


def test_an_old_sheet_stays_when_the_new_one_cannot_be_written(judged, tmp_path):
    made = plan_sheet(judged, SheetOptions(paper="A4"))
    folder = tmp_path / "gone"
    with pytest.raises(StoreTrouble):
        write_pdf(made, folder / "plan.pdf")
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("width", [58.0, 66.0, 78.0])
def test_a_date_is_never_cut_short_where_words_beside_it_can_wrap(width):
    columns = (
        Column("No.", 0.22), Column("Phase", 0.85, wraps=True), Column("Starts", 0.55),
        Column("Builds", 1.0, wraps=True),
    )  # fmt: skip
    words = "1 track, 1 path, 1 building, 1 fence, 1 tank, 1 septic tank, 2 septic fields"
    line = Line(("2", "Second dry season: house and yard", "2027-11-01", words))
    rows = table("Phases", columns, [line]).make(width, Type(2.0, 1.65, 3.0))
    written = [e.words for e in rows[1].draw(0.0, 0.0) if isinstance(e, Text)]
    assert "2027-11-01" in written
    assert set(" ".join(written).split()) == set(" ".join(line.cells).split())
    assert max(e.x + width_mm(e.words, e.size_mm) for e in rows[1].draw(0.0, 0.0)
               if isinstance(e, Text)) <= width  # fmt: skip
