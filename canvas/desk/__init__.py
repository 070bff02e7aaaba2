"""The window: map view, stages, cards, dialogs, jobs."""
