"""What is refused says which field was wrong and what would be right, in google.rpc details, and writes nothing."""

import datetime

import grpc
import pytest
from google.rpc import error_details_pb2
from grpc_status import rpc_status
from rungwise.v1 import episode_service_pb2 as episodes
from rungwise.v1 import fact_pb2 as facts
from rungwise.v1 import reading_pb2 as readings
from rungwise.v1 import rule_pack_service_pb2 as packs

from clinic import CALL_S_MAX, Clinic, day, request_id


@pytest.fixture(scope="module")
def clinic(channel):
    """One connection for all."""
    return Clinic(channel)


@pytest.fixture
def episode(clinic):
    """An episode with its screening answered, as (name, sequence)."""
    name = clinic.open(day(0)).name
    return name, clinic.record(name, clinic.answered_screening(day(0))).sequence


def refusal(call):
    """The status code, the reason and the details of a call that must be refused."""
    with pytest.raises(grpc.RpcError) as raised:
        call()
    status = rpc_status.from_call(raised.value)
    assert status, f"no details came with {raised.value.code()}"
    found = {}
    for detail in status.details:
        for kind in (
            error_details_pb2.ErrorInfo,
            error_details_pb2.BadRequest,
            error_details_pb2.ResourceInfo,
            error_details_pb2.RetryInfo,
            error_details_pb2.PreconditionFailure,
        ):
            if detail.Is(kind.DESCRIPTOR):
                message = kind()
                detail.Unpack(message)
                found[kind.DESCRIPTOR.name] = message
    assert found["ErrorInfo"].domain == "rungwise"
    return raised.value.code(), found["ErrorInfo"].reason, found


def sequence_of(clinic, name):
    """Where the episode's stream stands."""
    return clinic.episodes.GetEpisode(episodes.GetEpisodeRequest(name=name), timeout=CALL_S_MAX).episode.sequence


def assessment(*values, date=None):
    """An assessment of these values."""
    return facts.Fact(
        date=date or day(0),
        reported_by=facts.REPORTED_BY_CLINICIAN,
        assessment=facts.Assessment(readings=values),
    )


def test_an_unknown_measure(clinic, episode):
    """The field is named by its path."""
    name, before = episode
    wrong = assessment(readings.Reading(measure="moon phase", number="1", unit="1"))
    code, reason, details = refusal(lambda: clinic.record(name, wrong))
    assert (code, reason) == (grpc.StatusCode.INVALID_ARGUMENT, "UNKNOWN_MEASURE")
    fields = [violation.field for violation in details["BadRequest"].field_violations]
    assert fields and all(field.startswith("facts[0].assessment.readings[0]") for field in fields)
    assert all(violation.description for violation in details["BadRequest"].field_violations)
    assert sequence_of(clinic, name) == before


def test_a_wrong_unit(clinic, episode):
    """The description says which unit would be right, and the sound fact beside it is not recorded either."""
    name, before = episode
    measure = next(
        measure for measure in clinic.pack.measures if measure.carrier == packs.CARRIER_ASSESSMENT and not measure.choices
    )
    wrong_unit = "kg" if measure.unit != "kg" else "deg"
    wrong = assessment(readings.Reading(measure=measure.name, number=measure.min, unit=wrong_unit))
    code, reason, details = refusal(lambda: clinic.record(name, clinic.answered_screening(day(0)), wrong))
    assert (code, reason) == (grpc.StatusCode.INVALID_ARGUMENT, "WRONG_UNIT")
    violation = details["BadRequest"].field_violations[0]
    assert violation.field == "facts[1].assessment.readings[0].unit"
    assert measure.unit in violation.description
    assert sequence_of(clinic, name) == before


def test_a_date_in_the_future(clinic, episode):
    """Nothing is dated more than a day ahead."""
    name, before = episode
    ahead = (datetime.date.today() + datetime.timedelta(days=30)).isoformat()
    code, reason, details = refusal(lambda: clinic.record(name, clinic.answered_screening(ahead)))
    assert (code, reason) == (grpc.StatusCode.INVALID_ARGUMENT, "IN_THE_FUTURE")
    assert details["BadRequest"].field_violations[0].field == "facts[0].date"
    assert sequence_of(clinic, name) == before


def test_a_request_id_used_for_something_else(clinic, episode):
    """The same id with the same request answers as the first time; with another it is refused."""
    name, _ = episode
    used = request_id()
    first = clinic.record(name, clinic.answered_screening(day(1)), request_id=used)
    again = clinic.record(name, clinic.answered_screening(day(1)), request_id=used)
    assert list(again.facts) == list(first.facts)
    code, reason, details = refusal(lambda: clinic.record(name, clinic.answered_screening(day(2)), request_id=used))
    assert (code, reason) == (grpc.StatusCode.ALREADY_EXISTS, "REQUEST_ID_REUSED")
    assert "ResourceInfo" in details
    assert sequence_of(clinic, name) == first.sequence


def test_a_stale_sequence(clinic, episode):
    """Whoever did not see the last fact is told to read again."""
    name, before = episode
    code, reason, details = refusal(
        lambda: clinic.record(name, clinic.answered_screening(day(1)), expected_sequence=before - 1)
    )
    assert (code, reason) == (grpc.StatusCode.ABORTED, "SEQUENCE_STALE")
    assert "RetryInfo" in details
    assert sequence_of(clinic, name) == before


def test_an_episode_that_is_not_there(clinic):
    """A name that nothing has."""
    code, reason, details = refusal(
        lambda: clinic.next("clinics/demo/episodes/00000000-0000-4000-8000-000000000000", day(0))
    )
    assert (code, reason) == (grpc.StatusCode.NOT_FOUND, "EPISODE_NOT_FOUND")
    assert "ResourceInfo" in details
