"""The reference form of a Textual app: a text, a table, a verdict, a number field, a key line."""

from __future__ import annotations

from textual.app import App, ComposeResult
from textual.widgets import DataTable, Footer, Input, Static

ROWS, COLUMNS = 24, 6


class Form(App[None]):
    """What a first version of a walk would be, of widgets as they come."""

    BINDINGS = [("ctrl+s", "save", "Save"), ("ctrl+b", "back", "Back")]  # noqa: RUF012

    def compose(self) -> ComposeResult:
        """Lay the widgets."""
        yield Static("Step 3 of 8: dissolved oxygen, expected 5.5 to 9.0 mg/L")
        yield DataTable()
        yield Static(id="verdict")
        yield Input(type="number")
        yield Footer()

    def on_mount(self) -> None:
        """Fill the table, and give the field the keys."""
        table = self.query_one(DataTable)
        table.add_columns(*(f"Column {n}" for n in range(COLUMNS)))
        for n in range(ROWS):
            table.add_row(*(f"{n}.{m}" for m in range(COLUMNS)))
        self.query_one(Input).focus()
        self.query_one("#verdict", Static).update("FORM READY")

    def on_input_changed(self, event: Input.Changed) -> None:
        """Judge what was typed."""
        value = float(event.value) if event.value else None
        says = "Type a value" if value is None else f"{event.value}: in its band"
        if value is not None and not 5.5 <= value <= 9.0:
            says = f"ACT NOW {event.value} is out of its band"
        self.query_one("#verdict", Static).update(says)


if __name__ == "__main__":
    Form().run()
