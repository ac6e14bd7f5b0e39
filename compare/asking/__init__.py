"""The conversation of `ask`: which number next, what was answered, what it changed."""
