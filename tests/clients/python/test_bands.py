"""The band catalogue over the wire: a roll measured, found again, and what is wrong with one said by field."""

import grpc
import pytest
from google.rpc import error_details_pb2
from grpc_status import rpc_status
from rungwise.v1 import band_service_pb2 as rolls
from rungwise.v1 import band_service_pb2_grpc as bands_grpc
from rungwise.v1 import episode_service_pb2 as episodes
from rungwise.v1 import fact_pb2 as facts

from clinic import CALL_S_MAX, CLINIC, Clinic, day, request_id


def point(elongation, force):
    """A point measured, in percent and newtons."""
    return facts.BandPoint(elongation=elongation, force=force)


def measured(*points):
    """A request that records an invented roll."""
    return rolls.RecordRollRequest(
        parent=CLINIC,
        request_id=request_id(),
        roll=rolls.Roll(
            label="an invented roll",
            rest_length_mm=300,
            points=points,
            elongation_max="150",
            measured_on=day(0),
            measured_by="invented clinician",
        ),
    )


def test_a_roll_is_found_again_as_it_was_measured(channel):
    """What was measured is listed and read by name."""
    stub = bands_grpc.BandServiceStub(channel)
    roll = stub.RecordRoll(measured(point("50", "9"), point("200", "23.25")), timeout=CALL_S_MAX).roll
    assert roll.name.startswith(f"{CLINIC}/rolls/")
    assert stub.GetRoll(rolls.GetRollRequest(name=roll.name), timeout=CALL_S_MAX).roll == roll
    listed = stub.ListRolls(rolls.ListRollsRequest(parent=CLINIC, label=roll.label), timeout=CALL_S_MAX).rolls
    assert roll.name in [one.name for one in listed]


def test_a_band_cut_from_a_roll_is_recorded_with_its_readings(channel):
    """Equipment names the roll and how long the band was cut; the fact holds what the roll says."""
    clinic = Clinic(channel)
    stub = bands_grpc.BandServiceStub(channel)
    roll = stub.RecordRoll(measured(point("50", "9"), point("200", "23.25")), timeout=CALL_S_MAX).roll
    episode = clinic.open(day(0)).name
    cut = facts.MeasuredBand(roll=roll.name, rest_length_mm=1500)
    clinic.record(
        episode,
        facts.Fact(
            date=day(0), reported_by=facts.REPORTED_BY_CLINICIAN, equipment=facts.Equipment(bands=[cut], room_mm=3000)
        ),
    )
    listed = clinic.episodes.ListFacts(episodes.ListFactsRequest(parent=episode), timeout=CALL_S_MAX).facts
    band = listed[-1].fact.equipment.bands[0]
    assert (band.label, band.rest_length_mm) == (roll.label, 1500)
    assert list(band.points) == list(roll.points)


def test_a_roll_that_makes_no_curve_is_refused_by_field(channel):
    """Force that falls is refused with the force that would be allowed."""
    stub = bands_grpc.BandServiceStub(channel)
    with pytest.raises(grpc.RpcError) as refused:
        stub.RecordRoll(measured(point("50", "9"), point("200", "8")), timeout=CALL_S_MAX)
    assert refused.value.code() == grpc.StatusCode.INVALID_ARGUMENT
    status = rpc_status.from_call(refused.value)
    bad = error_details_pb2.BadRequest()
    assert any(detail.Unpack(bad) for detail in status.details)
    assert [violation.field for violation in bad.field_violations] == ["roll.points[1].force"]
    assert "above 9 N" in bad.field_violations[0].description
