"""Looking at a unit part by part: result, note and photograph of each part that was looked at."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from django.utils.translation import gettext as _

from facility.guarded import door_is_open
from facility.people.models import Person
from facility.refusals import refuse_if, text_within
from facility.sites.makeup import make_up_of, named_parts
from facility.sites.models import Unit
from records.audit.door import EntryDraft
from records.inspections.models import Defect, Inspection, Outcome, PartLook
from records.pictures.reading import Photograph
from records.pictures.services import keep_picture

_WORSE = [Outcome.GOOD, Outcome.MONITOR, Outcome.DEFECT, Outcome.UNFIT]


@dataclass(frozen=True, slots=True)
class Look:
    """What was found at one part."""

    result: str
    note: str = ""
    picture: Photograph | None = None

    @property
    def is_fault(self) -> bool:
        return self.result in (Outcome.DEFECT, Outcome.UNFIT)


def check_looks(unit: Unit, looks: Mapping[str, Look], outcome: str) -> dict[str, str]:
    """The name of each part that was looked at; refuses what cannot be.

    Raises
    ------
    WrongValue
        for a part that the unit does not have, a result that is none, and a result of the whole
        that is better than that of a part.
    """
    if not looks:
        return {}
    names = dict(named_parts(make_up_of(unit)))
    for part, look in looks.items():
        refuse_if(part not in names, "part", _("The unit has no such part."))
        refuse_if(
            look.result not in Outcome.values, f"result_{part}", _("Choose one of the results.")
        )
        text_within(f"note_{part}", look.note, 500, needed=False)
    worst = max(looks, key=lambda part: _WORSE.index(Outcome(looks[part].result)))
    refuse_if(
        _WORSE.index(Outcome(outcome)) < _WORSE.index(Outcome(looks[worst].result)),
        "outcome",
        _("{part} is “{worst}”; the result of the whole cannot be “{given}”.").format(
            part=names[worst], worst=Outcome(looks[worst].result).label,
            given=Outcome(outcome).label,
        ),
    )  # fmt: skip
    return {part: names[part] for part in looks}


def keep_looks(
    inspection: Inspection, looks: Mapping[str, Look], names: Mapping[str, str],
    defects: Mapping[str, Defect], *, by: Person, entry: EntryDraft,
) -> None:  # fmt: skip
    """Keep each look with its photograph. Behind an open door."""
    assert door_is_open()
    kept: list[str] = []
    for part, look in looks.items():
        picture = None
        if look.picture is not None:
            picture = keep_picture(inspection.unit.site, look.picture, by=by, at=entry.at)
            kept.append(picture.kept_sha256)
        PartLook(
            inspection=inspection, part=part, name=names[part], result=look.result,
            note=text_within("note", look.note, 500, needed=False), picture=picture,
            defect=defects.get(part),
        ).save()  # fmt: skip
    if looks:
        entry.changed(
            looks=[(names[part], str(look.result), look.note) for part, look in looks.items()]
        )
    if kept:
        entry.changed(picture_sha256=kept)
