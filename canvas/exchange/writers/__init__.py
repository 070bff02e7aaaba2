"""Writers of open formats."""
