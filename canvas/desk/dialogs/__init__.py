"""The dialogs: each asks for what one step needs, and shows what will happen."""
