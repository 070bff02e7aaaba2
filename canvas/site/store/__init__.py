"""The site's file: an OGC GeoPackage written row by row, with a journal of every edit."""
