"""The sun: where it stands and what a slope receives."""
