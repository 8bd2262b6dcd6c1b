"""The words of the entry control board, given to the page in the reader's language."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _

from facility.yard.air_board import ALARMS, DOUBTS, REFUSALS


def words() -> dict[str, Any]:
    """Sentences with ``{blanks}`` that the page fills in."""
    return {
        "doubts": {code: _(each) for code, each in DOUBTS.items()},
        "alarms": {code: _(each) for code, each in ALARMS.items()},
        "refusals": {code: _(each) for code, each in REFUSALS.items()},
        "told": {
            "person_in": _("{name} went in, {bar} bar"),
            "person_out": _("{name} came out, {bar} bar"),
            "pressure": _("{name} read {bar} bar"),
            "roll_call": _("roll call, missing: {missing}"),
            "roll_call_all": _("roll call, everybody answered"),
            "air_numbers": _("figures of the board typed"),
        },
        **_of_the_page(),
    }


def _of_the_page() -> dict[str, str]:
    return {
        "within": _("in time"),
        "nobody": _("Nobody is counted in"),
        "inside": _("{count} inside"),
        "cap": _("at most {cap}, {free} more may go in"),
        "no_cap": _("no cap is known for this unit"),
        "first": _("{name} turns round first, in {time}."),
        "first_late": _("{name} should have turned round {time} ago."),
        "called": _("Roll call at {time}."),
        "never_called": _("No roll call yet."),
        "team": _("team {team}"),
        "alone": _("alone"),
        "to_turn": _("to the turnaround"),
        "to_whistle": _("to the whistle: turn round now"),
        "past_whistle": _("past the whistle: out now"),
        "no_time": _("no time can be told"),
        "minutes": _("{minutes} min inside"),
        "read": _("{bar} bar read {minutes} min ago"),
        "reckoned": _("about {bar} bar now, by reckoning"),
        "turn_bar": _("turns at {bar} bar"),
        "whistle_at": _("whistle about {time}"),
        "rate": _("{rate} L/min as planned"),
        "rate_seen": _("{rate} L/min as seen, more than planned"),
        "goes_by": _("goes by {name}, whose air is least"),
        "over_cap": _("{count} are inside and at most {cap} may be"),
        "quiet": _("Quiet for a minute; it is not over."),
        "in_title": _("{name} goes in. Pressure on the gauge?"),
        "in_act": _("In"),
        "out_title": _("{name} comes out. Pressure on the gauge?"),
        "out_act": _("Out"),
        "read_title": _("{name}: pressure on the gauge?"),
        "read_act": _("Read"),
        "correct_title": _("{name}: {bar} bar was told. The right pressure?"),
        "correct_act": _("Correct"),
        "strike": _("Strike out"),
        "strike_sure": _("Tap again to strike out"),
        "not_recorded": _("Not recorded: this tablet could not keep it. Write it down on paper."),
        "bad_code": _("Type a name or a code of up to 40 characters."),
        "bad_figure": _("{label}: {given} was given; {low} to {high} {unit} is allowed, with at most {decimals} decimals."),
        "no_figure": _("Type at least one figure."),
        "stands": _("now {value} {unit}"),
        "not_known": _("not known"),
        "type_it": _("to be typed from the set"),
        "typed_at": _("typed on the board at {time}"),
        "unknown": _("Air cannot be worked out until these are typed: {figures}."),
        "roll_all": _("Everybody answered"),
        "roll_missing": _("{count} missing: record it"),
        "sound_on": _("Sound is on."),
        "sound_off": _("Sound is off. A browser sounds only after a tap: switch it on."),
        "turn_on": _("Switch the sound on"),
        "turn_off": _("Switch it off"),
    }  # fmt: skip
