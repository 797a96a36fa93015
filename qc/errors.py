"""Every way the shop's rules can refuse a request, each with a code that bench tools branch on.

A message says what is wrong and what to do about it. Nothing here knows of HTTP or of pages:
`api/errors.py` and `dashboards/refusals.py` say how each one is shown.
"""

from __future__ import annotations

from qc.sentences import Spell, worded


class ShopError(Exception):
    """A request the shop's rules refuse.

    `fields` names the inputs at fault, so that a form can mark them; `facts` fill the message.
    """

    code = "shop_error"
    message = "The request could not be carried out."
    fields: tuple[str, ...] = ()
    is_doubt = False

    def __init__(self, *, fields: tuple[str, ...] | None = None, **facts: object) -> None:
        super().__init__(worded(self.message, facts))
        self.facts = facts
        if fields is not None:
            self.fields = fields

    def __reduce__(self) -> tuple[object, ...]:
        """Celery sends what a task raised between processes, and logs one it knows in a line."""
        return _again, (type(self), self.facts, self.fields)

    def told(self, *, length: Spell) -> str:
        """The message with its lengths, the facts that end in _mm, as `length` spells them."""
        return worded(self.message, self.facts, length=length)


def _again(kind: type[ShopError], facts: dict[str, object], fields: tuple[str, ...]) -> ShopError:
    return kind(fields=fields, **facts)


class BadInput(ShopError):
    """A value that can never be right, whatever the state of the shop."""

    code, message = "bad_input", "{why}"


class NotFinite(BadInput):
    code = "not_finite"
    message = "{what} must be a finite number; got {got}. Read it again and type the digits."


class NegativeLength(BadInput):
    code = "negative_length"
    message = (
        "{what} cannot be negative; got {got_mm}. Gaps are measured from zero up: check the sign."
    )


class LengthTooLarge(BadInput):
    code = "length_too_large"
    message = "{what} of {got_mm} is beyond {limit_mm}. Check the unit and the decimal point."


class NotALength(BadInput):
    code = "not_a_length"
    message = 'Could not read "{got}" as a length. Write it like 1.02 mm, 0.040 in or 40 thou.'


class CommaUnclear(BadInput):
    code = "comma_unclear"
    message = "{got} could mean two things. Write the decimal with a point."


class TooManyPlaces(BadInput):
    code = "too_many_places"
    message = "{got} is finer than {finest}, the finest this record keeps. Round it and try again."


class TooFewReadings(BadInput):
    code, message = "too_few_readings", "Need at least {needed} readings, got {got}."


class AnglesDoNotSpan(BadInput):
    code = "angles_do_not_span"
    message = (
        "A tilt needs three or more positions with no gap over 180 degrees between neighbours; "
        "got {got}. Measure at 0, 90, 180 and 270."
    )


class RodTooShort(BadInput):
    code = "rod_too_short"
    message = "A rod of {rod_mm} cannot turn a crank of {stroke_mm} stroke. Check both."


class OutOfReach(BadInput):
    code = "out_of_reach"
    message = "{what} of {got} is outside {lowest} to {highest}. Check the geometry."


class LengthOutOfReach(OutOfReach):
    code = "length_out_of_reach"
    message = "{what} of {got_mm} is outside {lowest_mm} to {highest_mm}. Check the geometry."


class PassesDoNotFit(BadInput):
    code = "passes_do_not_fit"
    message = (
        "A finishing pass of {finish_mm} must lie between the smallest chip of {chip_mm} and the "
        "deepest pass of {deepest_mm}, which must hold two such chips."
    )


class GapWiderThanSolder(BadInput):
    code = "gap_wider_than_solder"
    message = (
        "A reading of {gap_mm} is not thinner than the solder of {solder_mm}, so nothing was "
        "crushed. Use thicker solder and take it again."
    )


class Doubtful(ShopError):
    """What may be right, but looks like a slip: taken when sent again and confirmed."""

    is_doubt = True


class DoubtfulUnit(Doubtful):
    code = "unit_doubtful"
    message = (
        "{got} is far off: about {expected_mm} was expected. A slip of the decimal point, or "
        "another unit (inch, thou or mm)? Correct it, or confirm that it is right."
    )


class DoubtfulFixture(Doubtful):
    code = "fixture_doubtful"
    message = (
        "{fixture} has held other engines, and no {family} yet. Does it fit a bore of {bore_mm}? "
        "Choose another, or confirm that it does."
    )
    fields = ("fixture",)


class DoubtfulDial(Doubtful):
    code = "dial_doubtful"
    message = (
        "{got} at {at} degrees stands {off_mm} off the circle through the other readings, which "
        "leave {explained_mm} over. A slip of the decimal point, another unit, or a burr under the "
        "dial? Read it again: correct it, or confirm that it is right."
    )


class DoubtfulLimits(Doubtful):
    code = "limits_doubtful"
    message = (
        "Far from what this family is held to ({target_mm}, +{tol_plus_mm} −{tol_minus_mm}): "
        "{got}. A slip of the decimal point, or another unit? Correct it, or confirm that it is "
        "meant."
    )


class LeftFarOver(Doubtful):
    code = "left_far_over"
    message = (
        "As left, {left_mm} is far over the shop's limit of {limit_mm}. A slip of the decimal "
        "point, or another unit (inch, thou or mm)? Correct it, or confirm that it is right."
    )
    fields = ("as_left_mm",)


class LeftWorse(Doubtful):
    code = "left_worse"
    message = (
        "As left, {left_mm} is more than as found, {found_mm}. A slip of the decimal point, "
        "another unit (inch, thou or mm), or the two changed over? Correct it, or confirm that it "
        "is right."
    )
    fields = ("as_left_mm",)


class MissingPosition(ShopError):
    code = "position_missing"
    message = "No reading at {missing} degrees. Take it, or say why there are fewer positions."


class ReasonNeeded(ShopError):
    code, message = "reason_needed", "{what} needs a reason: write one line saying why."
    fields = ("why",)


class GaugeOverdue(ShopError):
    code = "gauge_overdue"
    message = (
        "Gauge {gauge} was due for calibration on {due}. Use another, or record its calibration."
    )
    fields = ("gauge",)


class Retired(ShopError):
    code = "retired"
    message = "{what} {name} is retired and cannot be used. Choose another."


class ServiceOfRetired(Retired):
    message = "{what} {name} is retired: no service of it is recorded any more."


class AlreadyThere(ShopError):
    code = "already_there"
    message = "{what} {name} exists already. Choose another name."


class KnownHere(AlreadyThere):
    """`key` is of the one the shop knows."""

    message = (
        "{what} {name} is known here already. Choose it from the list instead of describing it "
        "as a new one."
    )


class NotThere(ShopError):
    code, message = "not_found", "No such {what}, or it is not yours to see."


class NotAllowed(ShopError):
    code = "not_allowed"
    message = "The role {role} may not {what}. Ask a lead."


class NotYourReport(NotAllowed):
    code = "not_your_report"
    message = "{who} reported that, and alone may correct it or take it back. A lead sets it aside."


class WrongState(ShopError):
    code = "wrong_state"
    message = "Job {job} is {state}; this step needs it to be {needed}."


class AlreadyCut(WrongState):
    code = "already_cut"
    message = "Job {job} is past its first cut: {what}."


class ChangedMeanwhile(ShopError):
    code = "changed_meanwhile"
    message = (
        "Someone else saved {what} while you were typing (you saw version {seen}, it is now "
        "{now}). Nothing of yours was saved: look at what changed, then save again."
    )


class StepMissing(ShopError):
    code = "step_missing"
    message = "{missing} is not recorded. Record it, or skip it with a reason."


class TargetUnderFloor(ShopError):
    code = "target_under_floor"
    message = (
        "The target of {target_mm} is under the floor of {floor_mm}. Raise the target; never cut "
        "below the maker's limit."
    )
    fields = ("target",)


class DeeperThanPlanned(ShopError):
    code = "deeper_than_planned"
    message = (
        "The dial at {dial} would be {over_mm} deeper than planned. Read it again; if it is right, "
        "confirm it."
    )
    fields = ("dial",)


class StudyClosed(ShopError):
    code = "study_closed"
    message = "The study {study} is closed: nothing more goes into it. A lead may open another."


class NotItsTurn(ShopError):
    code = "not_its_turn"
    message = (
        "Turn {got} is not next. {next} Record that one, or leave it out with a reason: the order "
        "was drawn so that nobody's habit hides in it."
    )
    fields = ("turn",)


class NoResultToTake(ShopError):
    code = "no_result_to_take"
    message = "The study {study} has no result to take: {why}"


class BeforeTouchOff(BadInput):
    code = "before_touch_off"
    message = (
        "The dial reads {dial}, before touch-off at {touched_mm} and its paper: no metal would "
        "come off. The dial counts up with depth."
    )


class DeeperThanTheGap(BadInput):
    code = "deeper_than_the_gap"
    message = (
        "The dial reads {dial}, which would be {depth_mm} deep: more than the whole as-found gap "
        "of {gap_mm}. Inch, thou or mm? Correct the dial reading."
    )


class LeftOverLimit(ShopError):
    code = "left_over_limit"
    message = (
        "As left, {left_mm} is over the shop's limit of {limit_mm}, and recording it would clear "
        "the fixture's open flag. Indicate it again; or confirm it, with a note saying why."
    )
    fields = ("as_left_mm",)


class CylinderAtWork(ShopError):
    code = "cylinder_at_work"
    message = (
        "{cylinder} has job {job} open. Go on with that job; or confirm that another is meant on "
        "the same cylinder."
    )
    fields = ("cylinder",)


class NothingToVoid(ShopError):
    code, message = "already_void", "That reading is void already."


class AsFoundNeededAgain(ShopError):
    code = "as_found_needed_again"
    message = "Piston, rod, head or crankcase changed since as-found. Take as-found again first."


class WeakPassword(ShopError):
    code, message = "weak_password", "{why}"
    fields = ("password",)


class NotDelivered(ShopError):
    """Nobody took a message."""

    code, message = "not_delivered", "{why}"
