"""`rounds record`: fish in, moved, out or counted, water isolated or drained, a fault."""

from __future__ import annotations

import argparse

from msgspec.structs import asdict

from rounds.cli.failure import Failure
from rounds.cli.opened import Opened, opened
from rounds.cli.out import say
from rounds.day.recording.asking import Field, Form
from rounds.day.recording.forms import FORMS, draft
from rounds.day.recording.mistake import MISTAKE
from rounds.day.recording.signing import ROLES, SIGNED, in_lines, who_may
from rounds.day.recording.words import words
from rounds.day.slips import Unsure

_BEGINS = len("25 Nov 09:21:33")


def run(asked: argparse.Namespace) -> int:
    """List the forms, or keep the entry of one."""
    as_json = asked.json
    if asked.form is None:
        with opened(asked, writes=False) as farm:
            _list(farm, as_json=as_json)
        return 0
    if asked.form == SIGNED.key and not asked.answers:
        with opened(asked, writes=False) as farm:
            _who_may(farm, as_json=as_json)
        return 0
    if asked.form == MISTAKE.key and not asked.answers:
        with opened(asked, writes=False) as farm:
            _mistakes(farm, as_json=as_json)
        return 0
    form = FORMS.get(asked.form)
    if form is None:
        raise Failure(f"there is no form {asked.form}: {', '.join(FORMS)}")
    answers = _answers(form, asked.answers)
    with opened(asked, writes=True) as farm:
        try:
            entry = draft(form, answers, farm.farm, farm.now, confirmed=asked.confirm, by=farm.by)
        except Unsure as doubt:
            raise Failure(f"{doubt} If it is right, add --confirm") from None
        kept = farm.write(entry)
        says = words(kept, farm.farm)
        if as_json:
            row = {"kept": True, "form": form.key, "id": kept.id, "says": says}
            farm.emit("record", [row])
        else:
            say(f"Kept: {says}.", hang=2)
    return 0


def _who_may(farm: Opened, *, as_json: bool) -> None:
    found = who_may(farm.farm, farm.now)
    if as_json:
        farm.emit("record", list(found))
    elif found:
        for line in in_lines(found):
            say(line, hang=4)
    else:
        say(f"Nobody is learning, and nobody is signed off: give somebody the {ROLES}.")


def _mistakes(farm: Opened, *, as_json: bool) -> None:
    """List what can be taken back, the newest first."""
    found = MISTAKE.fields[0].offers(farm.farm, {})
    if as_json:
        farm.emit("record", [{"entry": one} for one in found])
        return
    for one in found:
        say(one, hang=4)
    how = f"rounds record {MISTAKE.key} entry='{found[0][:_BEGINS]}' why=..." if found else ""
    say(*(("", f"Take one back: {how}") if found else (f"N{MISTAKE.none[1:]}.",)))


def _answers(form: Form, typed: list[str]) -> dict[str, str]:
    found: dict[str, str] = {}
    for one in typed:
        key, given, text = one.partition("=")
        if not given:
            raise Failure(f"{one} is not key=value: {_keys(form)}")
        if key in found:
            raise Failure(f"{key} is given twice")
        found[key] = text
    return found


def _list(farm: Opened, *, as_json: bool) -> None:
    if as_json:
        rows = [
            {
                "form": form.key, "title": form.title,
                "keys": [_key(one, farm) for one in form.fields],
            }
            for form in FORMS.values()
        ]  # fmt: skip
        farm.emit("record", rows)
        return
    for form in FORMS.values():
        say(f"{form.key}: {form.title}")
        for one in form.fields:
            unit = f", in {one.unit_for(farm.farm)} or with its unit" if one.unit else ""
            known = one.offers(farm.farm, {}) if one.kind == "choice" else ()
            offered = "" if one is MISTAKE.fields[0] else ", ".join(known)
            left = " (may be left out)" if one.optional else ""
            left = " (of sick fish and in quarantine)" if one.needed else left
            says = f"{one.ask}{unit}{f': {offered}' if offered else ''}{left}"
            say(f"  {f'{one.name}=':<11}{says}", hang=11)


def _key(one: Field, farm: Opened) -> dict[str, object]:
    told = asdict(one)
    del told["of"], told["needed"]
    told["optional"] = one.optional or one.needed is not None
    return {**told, "unit": one.unit_for(farm.farm), "offers": one.offers(farm.farm, {})}


def _keys(form: Form) -> str:
    return " ".join(
        f"[{one.name}=]" if one.optional or one.needed else f"{one.name}=" for one in form.fields
    )
