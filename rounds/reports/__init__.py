"""Documents as text and Markdown: the hand-off and the day's sheet."""
