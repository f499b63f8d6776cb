"""A course of care over the wire, by a client that shares no code with the server."""

import pytest
from rungwise.v1 import audit_service_pb2 as audit
from rungwise.v1 import decision_pb2 as decisions
from rungwise.v1 import episode_service_pb2 as episodes
from rungwise.v1 import prescription_service_pb2 as prescriptions

from clinic import CALL_S_MAX, CLINIC, Clinic, day, request_id


@pytest.fixture(scope="module")
def clinic(channel):
    """One connection for all."""
    return Clinic(channel)


def begin(clinic):
    """An episode with its first prescription in force."""
    episode = clinic.open(day(0)).name
    clinic.record(episode, clinic.answered_screening(day(0)), clinic.good_assessment(day(0)))
    first = clinic.next(episode, day(0))
    assert first.decision.outcome == decisions.OUTCOME_BEGIN
    assert first.recorded
    if not first.decision.proposed:
        return episode, first.prescription
    assert not first.prescription.exercises, "a first prescription that waits for a sign-off is not in force"
    assert first.if_accepted.exercises
    answered = clinic.prescriptions.SignOff(
        prescriptions.SignOffRequest(
            decision=first.decision.name,
            request_id=request_id(),
            expected_sequence=first.sequence,
            date=day(0),
            who="invented clinician",
            answer=prescriptions.ANSWER_ACCEPT,
        ),
        timeout=CALL_S_MAX,
    )
    return episode, answered.prescription


def test_nothing_is_prescribed_before_the_screening(clinic):
    """Asked too early, the server says what it waits for."""
    episode = clinic.open(day(0)).name
    answer = clinic.next(episode, day(0))
    assert answer.decision.outcome == decisions.OUTCOME_AWAIT
    assert not answer.decision.prescribes
    assert not answer.prescription.exercises
    wanted = clinic.prescriptions.Wanted(
        prescriptions.WantedRequest(episode=episode, as_of=day(0)), timeout=CALL_S_MAX
    )
    assert wanted.questions and all(question.wording for question in wanted.questions)


def test_sessions_in_and_a_harder_prescription_out(clinic):
    """Good sessions with their mornings after raise a dose; the decision says why and can be made again."""
    episode, prescription = begin(clinic)
    assert prescription.exercises and prescription.cautions
    climbed = None
    for number in range(1, 13):
        clinic.record(episode, clinic.good_session(day(number), prescription))
        clinic.record(episode, clinic.good_morning(day(number + 1)))
        answer = clinic.next(episode, day(number + 1))
        assert answer.decision.outcome in (decisions.OUTCOME_CONTINUE, decisions.OUTCOME_PROGRESS)
        if any(move.move == decisions.MOVE_CLIMB for move in answer.decision.moves):
            climbed = answer
            break
        prescription = answer.prescription
    assert climbed, "twelve perfect sessions raised nothing"
    line = next(move for move in climbed.decision.moves if move.move == decisions.MOVE_CLIMB)
    before = {exercise.line: list(exercise.dose) for exercise in prescription.exercises}
    after = {exercise.line: list(exercise.dose) for exercise in climbed.prescription.exercises}
    assert before[line.line] != after[line.line]

    why = clinic.audit.ExplainDecision(
        audit.ExplainDecisionRequest(name=climbed.decision.name), timeout=CALL_S_MAX
    )
    assert line.line in why.text or line.after in why.text or why.text
    again = clinic.audit.RecomputeDecision(
        audit.RecomputeDecisionRequest(name=climbed.decision.name), timeout=CALL_S_MAX
    )
    assert again.recomputation == audit.RECOMPUTATION_SAME

    sheet = clinic.prescriptions.Render(
        prescriptions.RenderRequest(episode=episode, as_of=climbed.decision.as_of), timeout=CALL_S_MAX
    )
    for exercise in climbed.prescription.exercises:
        assert exercise.name in sheet.sheet
    for caution in climbed.prescription.cautions:
        assert caution


def test_the_same_question_gets_the_same_answer(clinic):
    """Asked again with nothing new, the server returns the same decision and records nothing."""
    episode, _ = begin(clinic)
    clinic.next(episode, day(1))
    first = clinic.next(episode, day(1))
    second = clinic.next(episode, day(1))
    assert not second.recorded
    assert second.decision == first.decision
    assert second.sequence == first.sequence


def test_the_ledger_is_sound(clinic):
    """Every entry agrees with the root, and the episode lists what was reported."""
    episode, _ = begin(clinic)
    listed = clinic.episodes.ListFacts(episodes.ListFactsRequest(parent=episode), timeout=CALL_S_MAX)
    assert len(listed.facts) >= 2
    verified = clinic.audit.VerifyLedger(audit.VerifyLedgerRequest(parent=CLINIC), timeout=CALL_S_MAX)
    assert verified.sound, list(verified.faults)
    assert verified.size > 0
