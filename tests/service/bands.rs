//! The band catalogue as clinic software keeps it: rolls measured, measured anew, withdrawn, and found again. Rolls are
//! invented.

use super::clinic::{CLINIC, Clinic, correcting, importing, recording, request_id};
use super::facts::{DAY, assessed, choice, day, directive, fact, number, score};
use super::server::Server;
use super::streams::{one, watch};
use super::writing::must_be;
use rungwise_api::v1;
use rungwise_api::v1::Reason;
use rungwise_api::v1::fact::Kind;
use rungwise_api::v1::watch_response::Recorded;
use tonic::{Code, Status};

/// A point of this elongation in percent and this force in newtons.
pub(crate) fn point(elongation: &str, force: &str) -> v1::BandPoint {
    v1::BandPoint {
        elongation: elongation.to_owned(),
        force: force.to_owned(),
    }
}

/// A roll of this label, measured at three elongations.
pub(crate) fn roll(label: &str) -> v1::Roll {
    v1::Roll {
        label: label.to_owned(),
        rest_length_mm: 300,
        points: vec![
            point("50", "9"),
            point("100", "14.5"),
            point("200", "23.25"),
        ],
        elongation_max: "150".to_owned(),
        measured_on: DAY.to_owned(),
        measured_by: "invented-clinician-1".to_owned(),
        ..Default::default()
    }
}

pub(crate) fn measuring(roll: v1::Roll) -> v1::RecordRollRequest {
    v1::RecordRollRequest {
        parent: CLINIC.to_owned(),
        request_id: request_id(),
        roll: Some(roll),
    }
}

pub(crate) fn withdrawing(name: &str) -> v1::WithdrawRollRequest {
    v1::WithdrawRollRequest {
        name: name.to_owned(),
        request_id: request_id(),
        date: day(1),
        who: "invented-clinician-2".to_owned(),
        why: "the scale was not at zero".to_owned(),
    }
}

/// A band that was measured by itself.
pub(crate) fn measured(label: &str) -> v1::MeasuredBand {
    let roll = roll(label);
    v1::MeasuredBand {
        label: roll.label,
        rest_length_mm: 1500,
        points: roll.points,
        elongation_max: roll.elongation_max,
        ..Default::default()
    }
}

/// A band of this length cut from a roll.
pub(crate) fn cut(roll: &str, rest_length_mm: i32) -> v1::MeasuredBand {
    v1::MeasuredBand {
        roll: roll.to_owned(),
        rest_length_mm,
        ..Default::default()
    }
}

/// That these bands are owned.
pub(crate) fn owning(date: &str, bands: Vec<v1::MeasuredBand>) -> v1::Fact {
    let equipment = v1::Equipment {
        bands,
        ..Default::default()
    };
    fact(date, v1::ReportedBy::Clinician, Kind::Equipment(equipment))
}

/// The bands of a fact recorded.
fn bands_of(fact: &v1::RecordedFact) -> Vec<v1::MeasuredBand> {
    match fact.fact.as_ref().and_then(|fact| fact.kind.as_ref()) {
        Some(Kind::Equipment(equipment)) => equipment.bands.clone(),
        Some(Kind::Correction(correction)) => {
            let replacement = correction.replacement.as_ref().expect("a replacement");
            match &replacement.kind {
                Some(Kind::Equipment(equipment)) => equipment.bands.clone(),
                other => panic!("no equipment: {other:?}"),
            }
        }
        other => panic!("no equipment: {other:?}"),
    }
}

impl Clinic {
    pub(crate) async fn measure(&self, request: v1::RecordRollRequest) -> Result<v1::Roll, Status> {
        let answer = self.bands.clone().record_roll(request).await?;
        Ok(answer.into_inner().roll.expect("a roll"))
    }

    pub(crate) async fn roll(&self, name: &str) -> Result<v1::Roll, Status> {
        let request = v1::GetRollRequest {
            name: name.to_owned(),
        };
        let answer = self.bands.clone().get_roll(request).await?;
        Ok(answer.into_inner().roll.expect("a roll"))
    }

    pub(crate) async fn withdraw(
        &self,
        request: v1::WithdrawRollRequest,
    ) -> Result<v1::Roll, Status> {
        let answer = self.bands.clone().withdraw_roll(request).await?;
        Ok(answer.into_inner().roll.expect("a roll"))
    }

    /// Every roll that the request asks for, two a page.
    async fn rolls(&self, request: v1::ListRollsRequest) -> Vec<v1::Roll> {
        let mut found = Vec::new();
        let mut page_token = String::new();
        loop {
            let request = v1::ListRollsRequest {
                parent: CLINIC.to_owned(),
                page_size: 2,
                page_token,
                ..request.clone()
            };
            let page = self.bands.clone().list_rolls(request).await;
            let page = page.expect("a page").into_inner();
            assert!(page.rolls.len() <= 2, "a page is longer than was asked");
            found.extend(page.rolls);
            page_token = page.next_page_token;
            if page_token.is_empty() {
                return found;
            }
        }
    }
}

#[tokio::test]
async fn a_roll_reads_as_it_was_measured_through_a_loss_of_power() {
    let server = Server::start();
    let clinic = Clinic::connect(&server).await;
    let given = roll("roll 3");
    let recorded = clinic.measure(measuring(given.clone())).await.unwrap();
    assert!(recorded.name.starts_with("clinics/demo/rolls/") && recorded.recorded_at.is_some());
    let as_given = v1::Roll {
        name: String::new(),
        recorded_at: None,
        ..recorded.clone()
    };
    assert_eq!(as_given, given);
    let size = clinic.verified().await.size;

    let server = server.restart();
    let clinic = Clinic::connect(&server).await;
    assert_eq!(clinic.roll(&recorded.name).await.unwrap(), recorded);
    assert_eq!(clinic.verified().await.size, size);
    assert_eq!(
        clinic.rolls(v1::ListRollsRequest::default()).await,
        [recorded]
    );
}

#[tokio::test]
async fn a_roll_measured_anew_leaves_the_earlier_one_as_it_was() {
    let server = Server::start();
    let clinic = Clinic::connect(&server).await;
    let first = clinic.measure(measuring(roll("a"))).await.unwrap();
    let other = clinic.measure(measuring(roll("b"))).await.unwrap();
    let mut harder = roll("a");
    harder.points = vec![point("150", "30")];
    let second = clinic.measure(measuring(harder.clone())).await.unwrap();
    let third = clinic.measure(measuring(harder)).await.unwrap();

    let again = clinic.roll(&first.name).await.unwrap();
    assert_eq!(again.measured_anew, third.name);
    assert_eq!(again.points, first.points);
    assert!(
        clinic
            .roll(&other.name)
            .await
            .unwrap()
            .measured_anew
            .is_empty()
    );

    let names =
        |rolls: Vec<v1::Roll>| -> Vec<String> { rolls.into_iter().map(|roll| roll.name).collect() };
    let every = names(clinic.rolls(v1::ListRollsRequest::default()).await);
    let all = [&first.name, &other.name, &second.name, &third.name];
    assert_eq!(every.iter().collect::<Vec<_>>(), all);
    let of_label = v1::ListRollsRequest {
        label: "a".to_owned(),
        ..Default::default()
    };
    let of_label = names(clinic.rolls(of_label).await);
    assert_eq!(
        of_label.iter().collect::<Vec<_>>(),
        [all[0], all[2], all[3]]
    );
}

#[tokio::test]
async fn a_roll_withdrawn_stays_readable_and_is_not_withdrawn_again() {
    let server = Server::start();
    let clinic = Clinic::connect(&server).await;
    let first = clinic.measure(measuring(roll("a"))).await.unwrap();
    let second = clinic.measure(measuring(roll("a"))).await.unwrap();
    let withdrawn = clinic.withdraw(withdrawing(&second.name)).await.unwrap();
    let withdrawal = withdrawn.withdrawal.clone().expect("it is withdrawn");
    assert_eq!(
        (withdrawal.date, withdrawal.who, withdrawal.why),
        (
            day(1),
            "invented-clinician-2".to_owned(),
            "the scale was not at zero".to_owned()
        )
    );
    assert_eq!(withdrawn.points, second.points);

    let size = clinic.verified().await.size;
    let status = clinic
        .withdraw(withdrawing(&second.name))
        .await
        .expect_err("it is withdrawn");
    must_be(&status, Code::FailedPrecondition, Reason::AlreadyWithdrawn);
    assert!(status.message().contains(&day(1)), "{status}");
    assert_eq!(clinic.verified().await.size, size, "nothing was written");

    let server = server.restart();
    let clinic = Clinic::connect(&server).await;
    assert_eq!(clinic.roll(&second.name).await.unwrap(), withdrawn);
    let first = clinic.roll(&first.name).await.unwrap();
    assert!(first.measured_anew.is_empty());
    let standing = v1::ListRollsRequest::default();
    assert_eq!(
        clinic.rolls(standing.clone()).await,
        std::slice::from_ref(&first)
    );
    let every = v1::ListRollsRequest {
        include_withdrawn: true,
        ..standing
    };
    assert_eq!(clinic.rolls(every).await, [first, withdrawn]);
}

#[tokio::test]
async fn a_request_asked_again_is_answered_and_writes_nothing() {
    let server = Server::start();
    let clinic = Clinic::connect(&server).await;
    let request = measuring(roll("a"));
    let first = clinic.measure(request.clone()).await.unwrap();
    let withdrawing = withdrawing(&first.name);
    let withdrawn = clinic.withdraw(withdrawing.clone()).await.unwrap();
    let size = clinic.verified().await.size;

    let server = server.restart();
    let clinic = Clinic::connect(&server).await;
    assert_eq!(clinic.measure(request.clone()).await.unwrap(), withdrawn);
    assert_eq!(clinic.withdraw(withdrawing).await.unwrap(), withdrawn);
    let other = v1::RecordRollRequest {
        roll: Some(roll("b")),
        ..request
    };
    let status = clinic.measure(other).await.expect_err("another request");
    must_be(&status, Code::AlreadyExists, Reason::RequestIdReused);
    assert_eq!(clinic.verified().await.size, size);
}

/// Each of many at once is recorded, or told to try again and not recorded.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn many_measure_at_once() {
    const CALLERS: usize = 8;
    let server = Server::start();
    let clinic = Clinic::connect(&server).await;
    let calls = (0..CALLERS).map(|caller| {
        let clinic = clinic.clone();
        tokio::spawn(async move {
            clinic
                .measure(measuring(roll(&format!("roll {caller}"))))
                .await
        })
    });
    let mut told = Vec::new();
    for call in calls.collect::<Vec<_>>() {
        match call.await.expect("it does not panic") {
            Ok(roll) => told.push(roll.name),
            Err(status) => must_be(&status, Code::Aborted, Reason::Contended),
        }
    }
    told.sort();
    let mut found: Vec<String> = clinic
        .rolls(v1::ListRollsRequest::default())
        .await
        .into_iter()
        .map(|roll| roll.name)
        .collect();
    found.sort();
    assert!(!told.is_empty());
    assert_eq!(found, told);
    clinic.verified().await;
}

#[tokio::test]
async fn a_watch_of_the_clinic_tells_of_rolls() {
    let server = Server::start();
    let clinic = Clinic::connect(&server).await;
    let size = clinic.verified().await.size;
    let mut told = watch(&clinic, CLINIC, size).await;
    let recorded = clinic.measure(measuring(roll("a"))).await.unwrap();
    let withdrawn = clinic.withdraw(withdrawing(&recorded.name)).await.unwrap();
    let first = one(&mut told).await;
    assert_eq!(
        first.recorded,
        Some(Recorded::RollRecorded(recorded.clone()))
    );
    assert!(first.episode.is_empty());
    let wanted = v1::RollWithdrawn {
        roll: recorded.name,
        withdrawal: withdrawn.withdrawal,
    };
    let second = one(&mut told).await;
    assert_eq!(second.recorded, Some(Recorded::RollWithdrawn(wanted)));
}

/// Labels, forces and names stand nowhere in the store in clear.
#[tokio::test]
async fn a_roll_is_sealed() {
    let server = Server::start();
    let clinic = Clinic::connect(&server).await;
    clinic
        .measure(measuring(roll("the invented roll of the wall")))
        .await
        .unwrap();
    let clear = |bytes: &[u8]| {
        let label = b"the invented roll of the wall";
        bytes.windows(label.len()).any(|part| part == label)
    };
    assert!(!server.stored().iter().any(|file| clear(file)));
    assert!(!server.log().contains("the invented roll"));
}

/// What a roll says is in the fact from then on: a roll measured anew, a withdrawal and a restart leave it as it is.
#[tokio::test]
async fn a_band_cut_from_a_roll_is_recorded_with_what_the_roll_says() {
    let server = Server::start();
    let clinic = Clinic::connect(&server).await;
    let begun = clinic.begin("invented-1", v1::Side::Left).await;
    let recorded = clinic.measure(measuring(roll("roll 3"))).await.unwrap();
    let named = v1::MeasuredBand {
        label: "the long one".to_owned(),
        may_be_doubled: true,
        ..cut(&recorded.name, 1800)
    };
    let bands = vec![cut(&recorded.name, 1500), named, measured("light")];
    let request = recording(&begun.episode, vec![owning(&day(2), bands)]);
    let mut episodes = clinic.episodes.clone();
    let first = episodes
        .record_facts(request.clone())
        .await
        .unwrap()
        .into_inner();

    let as_measured = measured("roll 3");
    let wanted = [
        as_measured.clone(),
        v1::MeasuredBand {
            label: "the long one".to_owned(),
            rest_length_mm: 1800,
            may_be_doubled: true,
            ..as_measured
        },
        measured("light"),
    ];
    let last = |facts: Vec<v1::RecordedFact>| bands_of(facts.last().expect("a fact"));
    assert_eq!(last(clinic.facts(&begun.episode).await), wanted);

    let mut anew = roll("roll 3");
    anew.points = vec![point("200", "50")];
    clinic.measure(measuring(anew)).await.unwrap();
    clinic.withdraw(withdrawing(&recorded.name)).await.unwrap();
    // The same request is answered as the first time; a new one is refused, and so is a correction.
    let again = episodes.record_facts(request.clone()).await.unwrap();
    assert_eq!(again.into_inner(), first);
    let fact = request.facts.into_iter().next().unwrap();
    let status = clinic.record(&begun.episode, vec![fact.clone()]).await;
    let status = status.expect_err("the roll is withdrawn");
    must_be(&status, Code::InvalidArgument, Reason::UnknownRoll);
    assert!(
        status
            .message()
            .contains(&format!("withdrawn on {}", day(1))),
        "{status}"
    );
    let correction = correcting(&first.facts[0], first.sequence, fact);
    let status = episodes.correct_fact(correction).await;
    let status = status.expect_err("the roll is withdrawn");
    must_be(&status, Code::InvalidArgument, Reason::UnknownRoll);
    assert!(
        status
            .message()
            .starts_with("`replacement.equipment.bands[0].roll`"),
        "{status}"
    );

    let server = server.restart();
    let clinic = Clinic::connect(&server).await;
    assert_eq!(last(clinic.facts(&begun.episode).await), wanted);
    let decided = clinic.next(&begun.episode, &day(2)).await;
    decided.expect("the episode goes on");
}

#[tokio::test]
async fn a_correction_and_an_import_may_name_a_roll() {
    let server = Server::start();
    let clinic = Clinic::connect(&server).await;
    let begun = clinic.begin("invented-1", v1::Side::Left).await;
    let recorded = clinic.measure(measuring(roll("roll 3"))).await.unwrap();
    let wrong = vec![owning(&day(2), vec![measured("light")])];
    let first = clinic.record(&begun.episode, wrong).await.unwrap();
    let right = owning(&day(2), vec![cut(&recorded.name, 1500)]);
    let correction = correcting(&first.facts[0], first.sequence, right);
    clinic
        .episodes
        .clone()
        .correct_fact(correction)
        .await
        .unwrap();
    let facts = clinic.facts(&begun.episode).await;
    assert_eq!(bands_of(facts.last().unwrap()), [measured("roll 3")]);

    let mut import = importing("invented-2", "isometric", Vec::new());
    import.facts = vec![owning(DAY, vec![cut(&recorded.name, 1500)])];
    let imported = clinic.episodes.clone().import_episode(import).await;
    let episode = imported.unwrap().into_inner().episode.unwrap().name;
    let facts = clinic.facts(&episode).await;
    assert_eq!(bands_of(facts.last().unwrap()), [measured("roll 3")]);
}

/// Somebody who begins with work against bands, and owns these: how the inward turn is held.
async fn inward_turn(
    clinic: &Clinic,
    person: &str,
    bands: Vec<v1::MeasuredBand>,
) -> (String, v1::BandHold) {
    let episode = clinic.open(person, v1::Side::Left).await.name;
    let readings = vec![
        number("standing height", "166", "cm"),
        number("active elevation", "158", "deg"),
        choice("hitch when lifting", "absent"),
        number("manual strength", "4", "{grade}"),
        score("pain at rest", 0),
    ];
    let sound = vec![number("active elevation", "166", "deg")];
    let told = vec![
        clinic.all_clear(DAY).await,
        assessed(DAY, readings, sound),
        owning(DAY, bands),
    ];
    clinic.record(&episode, told).await.expect("recorded");
    let order = v1::directive::Order::Place(v1::PlaceOrder {
        phase: "banded-strengthening".to_owned(),
        places: Vec::new(),
    });
    let word = directive(DAY, "banded work was begun elsewhere", order);
    clinic.order(&episode, word).await.expect("recorded");
    let begun = clinic.next(&episode, DAY).await.expect("a decision");
    let held = hold_of(begun.prescription.expect("a prescription"));
    (episode, held)
}

fn hold_of(prescription: v1::Prescription) -> v1::BandHold {
    let mut exercises = prescription.exercises.into_iter();
    let turn = exercises.find(|one| one.exercise == "ir-band");
    turn.expect("it is prescribed")
        .band
        .expect("against a band")
}

/// What is cut from a roll is held as long as it was cut, and pulls as the roll was measured: like a band of that length that
/// was measured by itself, and unlike a longer piece of the same roll.
#[tokio::test]
async fn a_band_cut_from_a_roll_is_what_the_prescription_says_to_hold() {
    let server = Server::start();
    let clinic = Clinic::connect(&server).await;
    let recorded = clinic.measure(measuring(roll("roll 3"))).await.unwrap();
    let piece = |mm: i32| vec![cut(&recorded.name, mm)];
    let (episode, short) = inward_turn(&clinic, "invented-1", piece(1000)).await;
    assert_eq!(
        (&*short.band, short.measured, short.strands),
        ("roll 3", true, 1)
    );
    assert_eq!(short.working_length_mm, 1000);
    assert!(short.stance_mm > Some(1000), "{short:?}");

    let alone = v1::MeasuredBand {
        rest_length_mm: 1000,
        ..measured("roll 3")
    };
    let (_, by_itself) = inward_turn(&clinic, "invented-2", vec![alone]).await;
    assert_eq!(by_itself, short);

    let (_, long) = inward_turn(&clinic, "invented-3", piece(1500)).await;
    assert_eq!(long.working_length_mm, 1500);
    assert!(long.stance_mm > short.stance_mm, "{long:?} {short:?}");

    // The piece stays what it was when the roll is measured anew, also for a server that starts afresh.
    let mut anew = roll("roll 3");
    anew.points = vec![point("200", "50")];
    clinic.measure(measuring(anew)).await.unwrap();
    let server = server.restart();
    let clinic = Clinic::connect(&server).await;
    let current = clinic.current(&episode, DAY).await;
    assert_eq!(
        hold_of(current.prescription.expect("a prescription")),
        short
    );
}
