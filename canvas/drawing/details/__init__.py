"""Details: sections with dimensions and curves of single elements, as drawing lists."""
