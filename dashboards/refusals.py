"""How a refusal of the shop's rules is shown on the form that asked: where, and with what status.

Everything typed stays, since the form that is shown again is the one that was sent.
"""

from __future__ import annotations

from collections.abc import Callable

from django import forms

from dashboards.figures.lengths import SHOWN
from qc.errors import ChangedMeanwhile, NotAllowed, NotThere, ShopError

UNSOUND = 422
STATUSES: dict[type[ShopError], int] = {NotAllowed: 403, NotThere: 404, ChangedMeanwhile: 409}


def status_of(error: ShopError) -> int:
    return next((code for kind, code in STATUSES.items() if isinstance(error, kind)), UNSOUND)


def refuse(form: forms.Form, error: ShopError) -> None:
    """Put the refusal on the first field it names, and mark the others without repeating it.

    Its lengths are told in the unit the form is read in.
    """
    named = [name for name in error.fields if name in form.fields]
    words = error.told(length=SHOWN[str(getattr(form, "unit", "mm"))].text)
    form.add_error(named[0] if named else None, forms.ValidationError(words, code=error.code))
    for name in named[1:]:
        form.fields[name].widget.attrs["aria-invalid"] = "true"


def saved(form: forms.Form, save: Callable[[], object]) -> bool:
    """Whether the form was sent, was sound, and the rules took it; any refusal is on the form."""
    if not form.is_bound or not form.is_valid():
        return False
    try:
        save()
    except ShopError as error:
        refuse(form, error)
        form.refusal = error  # type: ignore[attr-defined]
        return False
    return True


def status_for(form: forms.Form) -> int:
    """200 for a fresh form, 422 for a sent one that is unsound, the rule's own for a refusal."""
    refusal = getattr(form, "refusal", None)
    if refusal is not None:
        return status_of(refusal)
    return UNSOUND if form.is_bound and form.errors else 200


def refusal_of(form: forms.Form) -> str:
    """Why a sent form was not saved, in one line; for a page that shows another form."""
    return " ".join(str(line) for lines in form.errors.values() for line in lines)
