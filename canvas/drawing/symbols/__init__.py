"""One symbol for every kind of element; a completeness test walks them."""
