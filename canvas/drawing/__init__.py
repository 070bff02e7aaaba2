"""Elements to drawing lists: symbols, styles, labels, legends. No Qt."""
