"""Every kind of element, each declared once."""
