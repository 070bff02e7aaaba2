"""The site file's migrations, oldest first. A released one is never edited again."""

from canvas.site.store.steps import m001_first, m002_foreign

ALL = (m001_first, m002_foreign)
