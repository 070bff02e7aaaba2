"""What a pointer gesture means: gestures in, edits out. No Qt."""
