"""What happened to fish, water or a machine: a form, one question after another, then its entry."""

from __future__ import annotations

from typing import ClassVar

from textual.binding import BindingType
from textual.content import Content

from rounds.day.recording.asking import Field as Question
from rounds.day.recording.asking import Form, answer
from rounds.day.recording.forms import FORMS, draft
from rounds.day.recording.matters import MATTER, SETTLED
from rounds.day.recording.mistake import MISTAKE
from rounds.day.recording.words import words
from rounds.day.slips import Unsure
from rounds.screens.ask import Ask
from rounds.screens.choose import option_rows
from rounds.screens.field import NUMBER, Field
from rounds.screens.ink import BOLD, QUIET, ink, paragraph, row
from rounds.screens.keys import bind, digits

ON_HANDOFF = (MATTER, SETTLED)
"""Asked by the hand-off, which offers what is to watch to pick from."""


class _Code(Field):
    """A code being typed; a digit that would begin it picks from the list instead."""

    def press(self, key: str, character: str | None) -> bool:
        """Take a key, but not a first digit."""
        begins = not self.text or self.fresh
        if begins and character is not None and character.isdigit():
            return False
        return super().press(key, character)


class RecordPage(Ask, inherit_bindings=False):
    """Asks a form; the result is what was kept, in words, or None when left."""

    BINDINGS: ClassVar[list[BindingType]] = [
        *digits("pick", "pick"),
        bind("enter", "answer", "next"),
        bind("up", "move(-1)", "up", show=False),
        bind("down", "move(1)", "mark the next"),
        bind("u", "take_back", "take back"),
        bind("escape", "close", "back"),
    ]
    about = (
        "Record what happened to fish, water or a machine. A digit picks, or type the code. Esc "
        "goes back one question, and what was answered stays. Nothing is kept before the last page."
        " U takes back what was recorded by mistake: it asks which, and why."
    )

    def __init__(self, form: Form | None = None, place: str = "") -> None:
        super().__init__("RECORD", "What happened?")
        self.form = form
        self._place = place
        self.at = 0
        self.answers: dict[str, str] = {}
        self.last = form
        self.chosen: int | None = None
        self.sure = False
        self._open()

    @property
    def asked(self) -> Question | None:
        """The question being asked; None on the first page and the last."""
        return self._fields[self.at] if self.at < len(self._fields) else None

    @property
    def _fields(self) -> tuple[Question, ...]:
        if self.form is None:
            return ()
        return self.form.asks(self.desk.farm, self.answers, self.desk.now())

    @property
    def options(self) -> tuple[str, ...]:
        """What can be picked now."""
        if self.form is None:
            return tuple(form.title for form in FORMS.values() if form not in ON_HANDOFF)
        asked = self.asked
        if asked is None or asked.kind != "choice":
            return ()
        return asked.offers(self.desk.farm, self._before)

    @property
    def _before(self) -> dict[str, str]:
        names = [one.name for one in self._fields[: self.at]]
        return {name: self.answers[name] for name in names if self.answers.get(name)}

    def _open(self) -> None:
        """Turn to the question at hand, with what was answered to it before."""
        asked, self.chosen, self.sure = self.asked, None, False
        self.field, self.unit = None, ""
        if asked is None:
            self.question = self.form.title if self.form else "What happened?"
            return
        self.question = f"{self.form.title if self.form else ''}: {asked.ask}"
        if asked.kind in ("number", "count"):
            self.unit = asked.unit_for(self.desk.farm)
            self.field = self.line = Field(NUMBER)
        else:
            self.unit = None  # every letter belongs to the line
            self.field = self.line = _Code() if asked.kind == "choice" else Field()
        said = self.answers.get(asked.name, "")
        self.line.set(said.partition(" ")[0] if asked.unit else said, fresh=True)
        self.chosen = self._likely(asked) if not said else None

    def _likely(self, asked: Question) -> int | None:
        """Return the option Enter takes: the only one, or that of the place at hand."""
        options = () if asked.optional else self.options
        if len(options) == 1:
            return 0
        of = {"place": self._place, "from": self._place}.get(asked.name, "")
        held = {stock.lot for stock in self.desk.farm.stocks.get(self._place, ())}
        if asked.name == "lot" and len(held) == 1:
            (of,) = held
        return options.index(of) if of in options else None

    def show(self) -> None:
        """Show the options and the line, or the entry that will be kept."""
        lines, asked, width = [Content("")], self.asked, self.width
        if self.form is not None and asked is None:
            self.body.show([*lines, *self._entry_rows(self.form)])
            return
        options = self.options
        listed, marked = option_rows(options, self.chosen, width)
        lines += listed
        chosen = 1 + marked
        if asked is not None and self.form is not None:
            if asked.kind == "choice" and not options:
                lines += paragraph(self.form.none, width - 2, indent=2)
            room = 18 if asked.unit or asked.kind == "count" else min(width - 6, 40)
            left = "Enter leaves it out" if asked.optional and not self.line.text else ""
            lines += [
                *([Content("")] if options else []),
                row("  ", self.line.draw(room), "  ", ink(self.unit or ""), "  ", ink(left, QUIET)),
            ]
            if asked.needed is not None:
                why = asked.needed(self.desk.farm, self.answers, self.desk.now())
                lines += paragraph(f"{why}.", width - 2, indent=2) if why else []
            known = asked.offers(self.desk.farm, {}) if asked.kind == "text" else ()
            if known:
                lines += paragraph(f"On record: {', '.join(known)}", width - 2, indent=2)
            chosen = chosen if self.chosen is not None else len(lines) - 1
        self.body.show(lines, chosen)

    def _entry_rows(self, form: Form) -> list[Content]:
        desk = self.desk
        try:
            entry = draft(form, self.answers, desk.farm, desk.now(), confirmed=True, by=desk.by)
            says = words(entry, desk.farm)
        except ValueError as error:
            return paragraph(f"{error}. Esc goes back.", self.width - 2, indent=2, style=BOLD)
        return [
            *paragraph(says, self.width - 2, indent=2, style=BOLD),
            Content(""), ink("  Enter keeps it", QUIET),
        ]  # fmt: skip

    def typed(self) -> None:
        """Forget the mark: what is typed counts."""
        self.chosen = None
        super().typed()

    # -- keys ------------------------------------------------------------------------------------

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer only digits that stand on the list, and marks where there is one."""
        if action == "pick":
            return int(str(parameters[0])) <= len(self.options)
        if action == "take_back":
            return self.form is None
        return action != "move" or bool(self.options)

    def action_move(self, by: int) -> None:
        """Move the mark."""
        start = self.chosen if self.chosen is not None else (-1 if by > 0 else 0)
        self.chosen = (start + by) % len(self.options)
        self.tell()
        self.paint()

    def action_take_back(self) -> None:
        """Ask which entry was a mistake."""
        self._answer(MISTAKE.title)

    def action_pick(self, digit: int) -> None:
        """Answer with the option of this digit."""
        self._answer(self.options[digit - 1])

    async def action_answer(self) -> None:
        """Answer with the mark or the line; on the last page, keep the entry."""
        if self.form is not None and self.asked is None:
            await self._keep(self.form)
        elif self.chosen is not None:
            self._answer(self.options[self.chosen])
        elif self.form is None:
            self.tell("Press the digit, or Down marks one", "watch")
        else:
            self._answer(self.line.text)

    def _answer(self, text: str) -> None:
        asked = self.asked
        if self.form is None:
            form = next(one for one in FORMS.values() if one.title == text)
            if form is not self.last:
                self.answers.clear()
            self.form = self.last = form
            self.at = 0
        elif asked is not None:
            try:
                said = answer(self.form, asked, text, self.desk.farm, self._before)
            except ValueError as error:
                self.tell(str(error), "watch")
                return
            self.answers[asked.name] = said
            self.at += 1
        self._open()
        self.tell()
        self.paint()

    async def _keep(self, form: Form) -> None:
        desk = self.desk
        try:
            entry = draft(
                form, self.answers, desk.farm, desk.now(), confirmed=self.sure, by=desk.by
            )
        except Unsure as doubt:
            self.sure = True
            self.tell(f"{doubt} Enter again keeps it", "watch")
        except ValueError as error:
            self.tell(str(error), "watch")
        else:
            if await self.keep(entry) is not None:
                self.dismiss(words(entry, desk.farm))

    def action_close(self) -> None:
        """Go back one question; what was answered, or half typed, stays."""
        if self.form is None:
            self.dismiss(None)
            return
        if self.asked is not None and self.field is not None:
            self.answers[self.asked.name] = self.line.text
        if self.at:
            self.at -= 1
        else:
            self.form = None
        self._open()
        self.tell()
        self.paint()
