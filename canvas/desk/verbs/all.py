"""The one table of actions, in menu order."""

from canvas.desk.actions import Record
from canvas.desk.verbs import draw, edit, help_, plan, site, view, ways

TABLE: tuple[Record, ...] = (
    *site.RECORDS,
    *edit.RECORDS,
    *view.RECORDS,
    *draw.RECORDS,
    *ways.RECORDS,
    *plan.RECORDS,
    *help_.RECORDS,
)
