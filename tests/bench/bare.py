"""The smallest Textual app: what a start costs before anything of ours is in it."""

from __future__ import annotations

from textual.app import App, ComposeResult
from textual.widgets import Static


class Bare(App[None]):
    """One line of text."""

    def compose(self) -> ComposeResult:
        """Show the marker."""
        yield Static("BARE READY")


if __name__ == "__main__":
    Bare().run()
