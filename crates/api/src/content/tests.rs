//! Whatever can be said is stored and read back the same, from every variant of every type.

#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test fails by panicking"
)]

mod bands;
mod steps;

use super::*;
use bands::{binds, equipment, roll, setting};
use proptest::collection::vec;
use proptest::option;
use proptest::prelude::*;
use rungwise_engine::decision::*;
use rungwise_engine::fact::*;
use rungwise_pack::model::{Outcome, Reporter, RowValue, RuleIx, SentenceIx};
use rungwise_pack::quantity::{Milli, Variable};

fn key() -> impl Strategy<Value = Key> {
    "[a-z][a-z ü-]{0,11}".prop_map(Key::from)
}

fn date() -> impl Strategy<Value = Date> {
    (1850i16..2300, 1i8..13, 1i8..32).prop_map(|(year, month, day)| {
        let first = Date::new(year, month, 1).unwrap();
        Date::new(year, month, day.min(first.days_in_month())).unwrap()
    })
}

fn number() -> impl Strategy<Value = DecisionNo> {
    any::<u32>().prop_map(DecisionNo)
}

fn position() -> impl Strategy<Value = Position> {
    any::<u64>().prop_map(Position)
}

fn reporter() -> impl Strategy<Value = Reporter> {
    use Reporter::{Carer, Clinician, Device, Patient};
    prop::sample::select(vec![Patient, Carer, Clinician, Device])
}

fn variable() -> impl Strategy<Value = Variable> {
    prop::sample::select(Variable::ALL.to_vec())
}

fn row_value() -> impl Strategy<Value = RowValue> {
    prop_oneof![
        any::<i64>().prop_map(|milli| RowValue::Number(Milli(milli))),
        key().prop_map(RowValue::Label)
    ]
}

fn dose() -> impl Strategy<Value = Vec<(Variable, RowValue)>> {
    vec((variable(), row_value()), 0..4)
}

fn readings() -> impl Strategy<Value = Vec<Reading>> {
    let value = prop_oneof![
        any::<i64>().prop_map(|milli| Value::Number(Milli(milli))),
        key().prop_map(Value::Choice),
        Just(Value::CouldNot)
    ];
    vec(
        (key(), value).prop_map(|(measure, value)| Reading { measure, value }),
        0..4,
    )
}

fn session() -> impl Strategy<Value = Session> {
    let done = prop::sample::select(vec![
        Done::Done,
        Done::SkippedForPain,
        Done::SkippedOtherwise,
    ]);
    let set = (option::of(any::<u16>()), option::of(any::<u16>()))
        .prop_map(|(reps, hold_s)| SetDone { reps, hold_s });
    let report =
        (key(), done, vec(set, 0..4), readings()).prop_map(|(exercise, done, sets, readings)| {
            ExerciseReport {
                exercise,
                done,
                sets,
                readings,
            }
        });
    (
        any::<u8>(),
        option::of(number()),
        readings(),
        vec(report, 0..3),
    )
        .prop_map(|(number, followed, readings, exercises)| Session {
            number,
            followed,
            readings,
            exercises,
        })
}

fn order() -> impl Strategy<Value = Order> {
    prop_oneof![
        Just(Order::Hold),
        (option::of(key()), variable(), row_value()).prop_map(|(exercise, variable, at_most)| {
            Order::Cap {
                exercise,
                variable,
                at_most,
            }
        }),
        key().prop_map(|exercise| Order::LeaveOut { exercise }),
        key().prop_map(|exercise| Order::Add { exercise }),
        (key(), dose()).prop_map(|(exercise, dose)| Order::SetDose { exercise, dose }),
        (key(), vec((key(), dose()), 0..3))
            .prop_map(|(phase, places)| Order::Place { phase, places }),
        Just(Order::NewBaseline),
        vec(key(), 0..3).prop_map(|rules| Order::Clear { rules }),
        Just(Order::Pause),
        Just(Order::Discharge),
        Just(Order::Reopen),
        Just(Order::Confirm),
        position().prop_map(|directive| Order::Withdraw { directive }),
    ]
}

fn reported() -> impl Strategy<Value = FactKind> {
    prop_oneof![
        session().prop_map(FactKind::Session),
        (date(), option::of(any::<u8>()), readings()).prop_map(
            |(session_date, session_number, readings)| FactKind::MorningAfter(MorningAfter {
                session_date,
                session_number,
                readings
            })
        ),
        (readings(), readings(), any::<bool>()).prop_map(
            |(readings, other_side, other_side_sound)| FactKind::Assessment(Assessment {
                readings,
                other_side,
                other_side_sound
            })
        ),
        readings().prop_map(FactKind::Screening),
        key().prop_map(FactKind::Event),
        date().prop_map(|until| FactKind::Away { until }),
        equipment().prop_map(FactKind::Equipment),
        (key(), ".{0,20}", option::of(date()), any::<bool>(), order()).prop_map(
            |(who, why, until, clinic_wide, order)| FactKind::Directive(Directive {
                who,
                why,
                until,
                clinic_wide,
                order
            })
        ),
        (number(), any::<bool>(), key()).prop_map(|(decision, accepted, who)| {
            FactKind::SignOff {
                decision,
                accepted,
                who,
            }
        }),
        key().prop_map(|rule| FactKind::PersonRefer { rule }),
    ]
}

fn fact() -> impl Strategy<Value = Fact> {
    let plain = (date(), reporter(), reported())
        .prop_map(|(date, by, kind)| Fact { date, by, kind })
        .boxed();
    let corrected = (
        date(),
        reporter(),
        position(),
        key(),
        ".{0,20}",
        option::of(plain.clone()),
    )
        .prop_map(|(date, by, of, who, why, replacement)| Fact {
            date,
            by,
            kind: FactKind::Correction(Correction {
                of,
                who,
                why,
                replacement: replacement.map(Box::new),
            }),
        });
    prop_oneof![4 => plain, 1 => corrected]
}

fn cause() -> impl Strategy<Value = Cause> {
    let over = || (option::of(key()), (date(), any::<u8>()));
    let plain = prop::sample::select(vec![
        Cause::NothingLeft,
        Cause::NoCountedSession,
        Cause::RungNotReached,
        Cause::AtTop,
        Cause::NoSlot,
        Cause::Withdrawn,
        Cause::ScreeningUnanswered,
        Cause::Outcome,
        Cause::Discharged,
        Cause::Comfortable,
        Cause::LineEnds,
        Cause::NothingNew,
        Cause::LoadUnmeasured,
    ]);
    prop_oneof![
        plain,
        key().prop_map(Cause::Met),
        key().prop_map(Cause::Doubt),
        key().prop_map(Cause::MetBefore),
        key().prop_map(Cause::Latched),
        key().prop_map(Cause::NotMet),
        over().prop_map(|(limit, session)| Cause::OverLimit { limit, session }),
        over().prop_map(|(limit, session)| Cause::OverLimitTwice { limit, session }),
        any::<u32>().prop_map(|days| Cause::LayOff { days }),
        position().prop_map(Cause::Directive),
        position().prop_map(Cause::Corrected),
        key().prop_map(Cause::LimitValueMissing),
        variable().prop_map(Cause::Needs),
        key().prop_map(Cause::Unmapped),
        binds().prop_map(Cause::NoBandFits),
    ]
}

fn causes() -> impl Strategy<Value = Vec<Cause>> {
    vec(cause(), 0..4)
}

fn state() -> impl Strategy<Value = State> {
    let on_rung = (dose(), vec(variable(), 0..3));
    let place = (key(), key(), on_rung, number(), option::of(setting())).prop_map(
        |(line, exercise, (rung, relief), set_anew, setting)| Place {
            line,
            exercise,
            rung,
            relief,
            set_anew,
            setting,
        },
    );
    let last = (key(), dose(), vec(variable(), 0..3), option::of(setting())).prop_map(
        |(exercise, rung, relief, setting)| LastPlace {
            exercise,
            rung,
            relief,
            setting,
        },
    );
    let withdrawal = (key(), number()).prop_map(|(exercise, by)| Withdrawal { exercise, by });
    let times = (
        option::of(key()),
        option::of((number(), date())),
        option::of(date()),
        option::of(number()),
        any::<bool>(),
    );
    let lists = (
        vec(place, 0..3),
        vec(last, 0..3),
        vec(withdrawal, 0..3),
        vec((key(), number()), 0..3),
        vec(key(), 0..3),
        vec((date(), any::<u16>()), 0..3),
        vec(key(), 0..3),
    );
    (times, lists).prop_map(
        |((phase, stay, began, introduced, discharged), lists)| State {
            phase,
            stay,
            began,
            introduced,
            places: lists.0,
            last_places: lists.1,
            withdrawals: lists.2,
            run_from: lists.3,
            latched: lists.4,
            lay_offs: lists.5,
            climbed_last: lists.6,
            discharged,
        },
    )
}

fn verdict() -> impl Strategy<Value = Verdict> {
    use Verdict::{Met, NotMet, NotYetFull, Unknown};
    prop::sample::select(vec![Met, NotMet, Unknown, NotYetFull])
}

fn sentence() -> impl Strategy<Value = SentenceIx> {
    any::<u16>().prop_map(SentenceIx)
}

fn finding() -> impl Strategy<Value = Finding> {
    let verdicts = vec![RuleVerdict::Met, RuleVerdict::NotMet, RuleVerdict::InDoubt];
    (
        any::<u16>(),
        prop::sample::select(verdicts),
        vec((sentence(), verdict()), 0..4),
    )
        .prop_map(|(rule, verdict, sentences)| Finding {
            rule: RuleIx(rule),
            verdict,
            sentences: sentences.into(),
        })
}

fn missing() -> impl Strategy<Value = Missing> {
    let distance = option::of((any::<i64>(), any::<i64>()));
    (
        key(),
        sentence(),
        verdict(),
        option::of(any::<u16>()),
        distance,
    )
        .prop_map(
            |(rule, sentence, verdict, sessions_more, distance)| Missing {
                rule,
                sentence,
                verdict,
                sessions_more,
                distance: distance.map(|(now, wanted)| (Milli(now), Milli(wanted))),
            },
        )
}

fn ask() -> impl Strategy<Value = Ask> {
    let what = prop_oneof![
        key().prop_map(Wanted::Measure),
        (date(), any::<u8>()).prop_map(|(date, number)| Wanted::MorningAfter(date, number)),
        Just(Wanted::Session),
        Just(Wanted::Review),
        key().prop_map(Wanted::Clearance),
        Just(Wanted::SignOff),
        position().prop_map(Wanted::Confirmation),
        key().prop_map(Wanted::Placement),
        key().prop_map(Wanted::Band),
    ];
    (what, reporter(), date(), option::of(key())).prop_map(|(what, of, by, rule)| Ask {
        what,
        of,
        by,
        rule,
    })
}

fn decision() -> impl Strategy<Value = Decision> {
    let line = (
        key(),
        prop::sample::select(Move::ALL.to_vec()),
        option::of(key()),
        option::of(key()),
        causes(),
    )
        .prop_map(|(line, mv, from, to, because)| LineMove {
            line,
            mv,
            from,
            to,
            because,
        });
    let head = (
        date(),
        any::<u32>(),
        any::<[u8; 32]>(),
        prop::sample::select(Outcome::ALL.to_vec()),
    );
    let flags = (any::<bool>(), any::<bool>(), date());
    let states = (state(), option::of(state()));
    let lists = (
        vec(line, 0..3),
        vec(finding(), 0..4),
        causes(),
        vec(missing(), 0..3),
        vec(ask(), 0..3),
    );
    (head, flags, states, lists).prop_map(
        |((as_of, semantics, pack, outcome), flags, (state, if_accepted), lists)| Decision {
            as_of,
            semantics,
            pack,
            outcome,
            proposed: flags.0,
            prescribes: flags.1,
            moves: lists.0,
            state,
            if_accepted,
            findings: lists.1,
            because: lists.2,
            to_progress: lists.3,
            asks: lists.4,
            next_review: flags.2,
        },
    )
}

fn opening() -> impl Strategy<Value = Opening> {
    let side = prop::sample::select(vec![Side::Left, Side::Right, Side::Without]);
    (
        key(),
        side,
        key(),
        date(),
        option::of(date()),
        option::of(key()),
        any::<bool>(),
    )
        .prop_map(
            |(person, side, pack, opened_on, born_on, external_id, imported)| Opening {
                person,
                side,
                pack,
                opened_on,
                born_on,
                external_id,
                imported,
            },
        )
}

fn snapshot() -> impl Strategy<Value = EpisodeSnapshot> {
    let body = prop_oneof![
        fact().prop_map(Body::Fact),
        decision().prop_map(|decision| Body::Decision(Box::new(decision)))
    ];
    let record = (position(), any::<u64>(), body).prop_map(|(position, recorded_at_ms, body)| {
        SnapshotRecord {
            position,
            recorded_at_ms,
            body,
        }
    });
    let names = ("[a-z0-9-]{1,12}", "[a-z0-9-]{1,12}", any::<[u8; 16]>());
    let parts = (names, opening(), position(), vec(record, 0..4));
    parts.prop_map(
        |((clinic, stream, key), opening, opened_at, records)| EpisodeSnapshot {
            clinic,
            stream,
            key,
            opening,
            opened_at,
            records,
        },
    )
}

fn content() -> impl Strategy<Value = Content> {
    let opening = opening().prop_map(Content::Opening);
    let closing = (date(), key(), ".{0,20}")
        .prop_map(|(date, who, why)| Content::Closing(Closing { date, who, why }));
    let decided = decision().prop_map(|decision| Content::Decision(Box::new(decision)));
    let pack = (
        vec((".{1,12}", ".{0,40}"), 0..4),
        any::<bool>(),
        prop::option::of(steps::proposal()),
    );
    let pack = pack.prop_map(|(files, is_last, proposal)| {
        Content::PackPart(PackPart {
            files,
            is_last,
            proposal,
        })
    });
    let withdrawn = (any::<u64>(), date(), key(), ".{0,20}").prop_map(|(roll, date, who, why)| {
        Content::RollWithdrawal(RollWithdrawal {
            roll,
            date,
            who,
            why,
        })
    });
    prop_oneof![
        1 => opening,
        1 => closing,
        8 => fact().prop_map(Content::Fact),
        8 => decided,
        1 => pack,
        2 => roll().prop_map(Content::Roll),
        1 => withdrawn,
        4 => steps::content()
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2_000))]

    #[test]
    fn a_snapshot_is_read_back_the_same(snapshot in snapshot()) {
        prop_assert_eq!(decode_snapshot(&encode_snapshot(&snapshot)), Ok(snapshot));
    }

    #[test]
    fn what_is_stored_is_read_back_the_same(content in content()) {
        let bytes = encode(&content);
        prop_assert_eq!(decode(&bytes), Ok(content.clone()));
        prop_assert_eq!(encode(&decode(&bytes).unwrap()), bytes, "the same value, the same bytes");
    }

    #[test]
    fn broken_bytes_are_refused_and_never_panic(
        content in content(), at in any::<prop::sample::Index>(), bit in 0u8..8
    ) {
        let mut bytes = encode(&content);
        let at = at.index(bytes.len());
        bytes[at] ^= 1 << bit;
        if let Ok(other) = decode(&bytes) {
            prop_assert_eq!(decode(&encode(&other)), Ok(other));
        }
    }
}

#[test]
fn what_is_not_content_says_why() {
    assert_eq!(decode(&[]), Err(DecodeError::Absent("content")));
    assert!(matches!(decode(&[0xff]), Err(DecodeError::Malformed(_))));
    let future = stored::Content {
        what: Some(stored::content::What::Fact(stored::Fact {
            date: 1,
            by: 9,
            kind: Some(stored::fact::Kind::Event("fall".into())),
        })),
    };
    let date = DecodeError::Unknown {
        what: "fact.date",
        value: 1,
    };
    assert_eq!(decode(&future.encode_to_vec()), Err(date));
}
