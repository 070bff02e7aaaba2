"""Places found, looked at one by one on the map."""

from shapely.geometry import LineString

from canvas.site.elements.swales import Swale
from canvas.tools.choosing import ChooseTool


def test_the_number_of_the_place_looked_at_comes_last_where_its_figures_are_told():
    found = [Swale(geometry=LineString([(0, y), (30, y)])) for y in (0, 20, 40)]
    seen = []
    tool = ChooseTool(None, found, seen.append)
    for place in (1, 0, 2):
        tool.choose(place)
        labels = tool.ghost().labels
        assert labels[-1].words == str(place + 1)
        assert {label.words for label in labels} == {"1", "2", "3"}
        assert tool.ghost().elements == (found[place],)
    assert seen == [1, 0, 2]
