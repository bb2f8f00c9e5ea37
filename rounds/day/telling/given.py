"""What was given and taken in a span of time: feed, doses, the dead, skipped steps."""

from __future__ import annotations

from collections.abc import Iterable

from rounds.day.fold.state import FedAt
from rounds.day.readings.judgement import in_words
from rounds.day.telling.changes import Span
from rounds.units import Amount


def feeds(span: Span) -> Iterable[str]:
    """Tell what was fed in a span, place by place, and each meal that was not as advised."""
    for place in span.site.places.values():
        meals = [fed for fed in span.farm.fed(place.code, span.since) if span.holds(fed.at)]
        if not meals:
            continue
        if given := [fed for fed in meals if fed.amount_g > 0]:
            grams = span.said(Amount(sum(fed.amount_g for fed in given), "g"), ".0f")
            count, last = len(given), given[-1]
            yield (
                f"{place.code}: {grams} in {count} meal{'s' * (count > 1)}, the last "
                f"{span.who(last.by, last.at)}"
            )
        yield from (_changed_meal(span, fed) for fed in meals if _differs(fed))


def _differs(fed: FedAt) -> bool:
    return bool(fed.why) or bool(fed.left_g) or fed.amount_g != (fed.advised_g or fed.amount_g)


def _changed_meal(span: Span, fed: FedAt) -> str:
    given = f": {fed.amount_g:g} g" if fed.amount_g > 0 else " withheld"
    parts = [f"{fed.place} meal {fed.meal}{given}"]
    if fed.advised_g is not None and fed.advised_g != fed.amount_g:
        parts.append(f"{fed.advised_g:g} g advised")
    if fed.left_g:
        parts.append(f"{fed.left_g:g} g left")
    said = ", ".join(parts) + (f": {fed.why}" if fed.why else "")
    return f"{said} {span.who(fed.by, fed.at)}"


def doses(span: Span) -> tuple[str, ...]:
    """Tell the doses and the water given in a span, in the order of time."""
    found = []
    for loop in span.site.loops.values():
        for dose in span.farm.dosed(loop.code, span.since):
            if not span.holds(dose.at):
                continue
            product = span.site.products.get(dose.product)
            advice = "" if dose.advised_g is None else ", as advised"
            if dose.advised_g is not None and dose.advised_g != dose.amount_g:
                advice = f", {dose.advised_g:g} g advised"
            why = f": {dose.why}" if dose.why else ""
            name = product.name if product else dose.product
            found.append(
                (
                    dose.at,
                    f"Loop {loop.code}: {dose.amount_g:g} g {name}{advice}{why} "
                    f"{span.who(dose.by, dose.at)}",
                )
            )
        for change in span.farm.exchanged(loop.code, span.since):
            if span.holds(change.at):
                out, new = (
                    span.said(Amount(volume, "m^3"), ".2f")
                    for volume in (change.volume_out_m3, change.volume_in_m3)
                )
                how = f"{out} out, {new} in" if change.volume_out_m3 else f"topped up with {new}"
                found.append(
                    (change.at, f"Loop {loop.code}: {how} {span.who(change.by, change.at)}")
                )
    return tuple(text for _, text in sorted(found))


def deaths(span: Span) -> tuple[str, ...]:
    """Tell the dead fish counted in a span, place by place."""
    return tuple(
        f"{place}: {dead.count} dead{f' of {dead.lot}' if dead.lot else ''}"
        f"{f', {dead.cause}' if dead.cause else ''} {span.who(dead.by, dead.at)}"
        for place in span.site.places
        for dead in span.farm.dead(place, span.since)
        if dead.count and span.holds(dead.at)
    )


def skipped(span: Span) -> tuple[str, ...]:
    """Tell the steps skipped in a span, with the reason."""
    asks = {
        step.code: in_words(step.measure) if step.measure else step.ask
        for checklist in span.site.checklists.values()
        for step in checklist.steps
    }
    return tuple(
        f"{skip.place} {asks.get(skip.step, skip.step)}: {skip.reason} {span.who(skip.by, skip.at)}"
        for skip in span.farm.skips(span.since)
        if span.holds(skip.at)
    )
