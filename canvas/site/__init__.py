"""The plan: records, elements, edits, history and the always-saved store."""
