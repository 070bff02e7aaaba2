"""Rule data, relations and the checker. Pure."""
