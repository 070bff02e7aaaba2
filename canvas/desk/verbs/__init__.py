"""What each action does, family by family."""
