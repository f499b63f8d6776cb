"""A small clinic program, written as an integrator would write it: from the proto files and their comments alone."""

import datetime
import uuid

from rungwise.v1 import audit_service_pb2_grpc as audit_grpc
from rungwise.v1 import episode_service_pb2 as episodes
from rungwise.v1 import episode_service_pb2_grpc as episodes_grpc
from rungwise.v1 import fact_pb2 as facts
from rungwise.v1 import prescription_service_pb2 as prescriptions
from rungwise.v1 import prescription_service_pb2_grpc as prescriptions_grpc
from rungwise.v1 import reading_pb2 as readings
from rungwise.v1 import rule_pack_service_pb2 as packs
from rungwise.v1 import rule_pack_service_pb2_grpc as packs_grpc

CLINIC = "clinics/demo"
CALL_S_MAX = 20


def request_id():
    """A new request id."""
    return str(uuid.uuid4())


def day(number):
    """The civil date of a day of this course, day 0 about two months ago, so that nothing lies in the future."""
    return (datetime.date.today() - datetime.timedelta(days=60 - number)).isoformat()


class Clinic:
    """Stubs, the pack as the server describes it, and the few calls that a course of care needs."""

    def __init__(self, channel):
        self.episodes = episodes_grpc.EpisodeServiceStub(channel)
        self.prescriptions = prescriptions_grpc.PrescriptionServiceStub(channel)
        self.audit = audit_grpc.AuditServiceStub(channel)
        self.packs = packs_grpc.RulePackServiceStub(channel)
        listed = self.packs.ListPacks(packs.ListPacksRequest(parent=CLINIC), timeout=CALL_S_MAX).packs
        self.pack_id = next(pack.id for pack in listed if pack.in_force)
        self.pack = self.packs.GetPack(
            packs.GetPackRequest(name=f"{CLINIC}/packs/{self.pack_id}"), timeout=CALL_S_MAX
        )

    def open(self, opened_on):
        """Opens an episode of an invented person."""
        return self.episodes.OpenEpisode(
            episodes.OpenEpisodeRequest(
                parent=CLINIC,
                request_id=request_id(),
                episode=episodes.Episode(
                    person=f"invented-{uuid.uuid4()}",
                    side=episodes.SIDE_LEFT,
                    pack=self.pack_id,
                    opened_on=opened_on,
                    born_on="1980-05-17",
                ),
            ),
            timeout=CALL_S_MAX,
        ).episode

    def record(self, episode, *reported, **options):
        """Records facts, all or none."""
        return self.episodes.RecordFacts(
            episodes.RecordFactsRequest(
                episode=episode, request_id=options.pop("request_id", request_id()), facts=reported, **options
            ),
            timeout=CALL_S_MAX,
        )

    def next(self, episode, as_of):
        """Asks for the next prescription."""
        return self.prescriptions.Next(
            prescriptions.NextRequest(episode=episode, request_id=request_id(), as_of=as_of), timeout=CALL_S_MAX
        )

    def best(self, carrier):
        """The best value of every measure that a fact of this kind is expected to carry."""
        return [self._best(measure) for measure in self.pack.measures if measure.carrier == carrier and measure.expected]

    @staticmethod
    def _best(measure):
        if measure.choices:
            return readings.Reading(measure=measure.name, choice=measure.choices[0])
        number = measure.max if measure.worse == packs.WORSE_LOWER else measure.min
        return readings.Reading(measure=measure.name, number=number, unit=measure.unit)

    def answered_screening(self, date):
        """Every screening question answered as well as can be."""
        return facts.Fact(
            date=date,
            reported_by=facts.REPORTED_BY_CLINICIAN,
            screening=facts.Screening(readings=self.best(packs.CARRIER_SCREENING)),
        )

    def good_assessment(self, date):
        """An assessment with nothing to complain of."""
        return facts.Fact(
            date=date,
            reported_by=facts.REPORTED_BY_CLINICIAN,
            assessment=facts.Assessment(readings=self.best(packs.CARRIER_ASSESSMENT)),
        )

    def good_session(self, date, prescription):
        """Every prescribed set done as prescribed, and nothing hurt."""
        reports = []
        for exercise in prescription.exercises:
            dose = {facts_name(value.variable): value.number for value in exercise.dose}
            done = facts.SetDone()
            if "REPS" in dose:
                done.reps = int(dose["REPS"])
            if "HOLD_TIME" in dose:
                done.hold_s = int(dose["HOLD_TIME"])
            reports.append(
                facts.ExerciseReport(
                    exercise=exercise.exercise,
                    done=facts.DONE_DONE,
                    sets=[done] * int(dose.get("SETS", "1")),
                    readings=self.best(packs.CARRIER_EXERCISE),
                )
            )
        return facts.Fact(
            date=date,
            reported_by=facts.REPORTED_BY_PATIENT,
            session=facts.Session(readings=self.best(packs.CARRIER_SESSION), exercises=reports),
        )

    def good_morning(self, date):
        """The morning after, with nothing to complain of."""
        return facts.Fact(
            date=date,
            reported_by=facts.REPORTED_BY_PATIENT,
            morning_after=facts.MorningAfter(readings=self.best(packs.CARRIER_MORNING_AFTER)),
        )


def facts_name(variable):
    """The word of a dose's variable, such as `REPS`."""
    from rungwise.v1 import dose_pb2

    return dose_pb2.Variable.Name(variable).removeprefix("VARIABLE_")
