//! A simulation for machines. Days count from 0, the first; shares are counts beside the people they are of.
//!
//! Leaves to others: the same for people (`super::tables`, `super::page`).

use super::{CAUTION, Side, Simulation, lists, tables};
use crate::rules::hex;
use rungwise_engine::decision::Move;
use rungwise_pack::model::Outcome;
use rungwise_rehearsal::cohort::{Arrivals, Differences, Model, PARAMETERS, Paired};
use serde_json::{Map, Value, json};

/// Everything.
pub(super) fn simulation(simulation: &Simulation<'_>) -> Value {
    let args = simulation.args;
    let mut document = json!({
        "caution": CAUTION,
        "people": args.people,
        "weeks": args.weeks,
        "seed": args.seed,
        "model": model(&simulation.model),
        "packs": simulation.sides().map(side).collect::<Vec<_>>(),
    });
    if let Some((_, differences)) = &simulation.second
        && let Some(document) = document.as_object_mut()
    {
        document.insert("differences".to_owned(), paired(differences));
    }
    document
}

/// The model's numbers.
pub(super) fn model(model: &Model) -> Value {
    let parameters = PARAMETERS.iter().map(|one| {
        let value = model.value(one);
        let told = json!({
            "least": value.low,
            "greatest": value.high,
            "unit": one.unit,
            "allowed": [one.least, one.most],
            "drawn": one.drawn,
            "stands_for": one.says,
        });
        (one.key.to_owned(), told)
    });
    let measures = model.measures.iter().map(|(name, one)| {
        let told = json!({
            "recovered_permille": one.recovered_permille,
            "worst_permille": one.worst_permille,
        });
        (name.clone(), told)
    });
    json!({
        "parameters": parameters.collect::<Map<_, _>>(),
        "flare_up_event": model.flare_up_event,
        "events_at_start": model.events_at_start,
        "measures": measures.collect::<Map<_, _>>(),
    })
}

fn side(side: &Side) -> Value {
    let (pack, cohort) = (&side.pack, &side.cohort);
    let phases = pack.phases.iter().zip(&cohort.phases);
    let stuck_in = pack.phases.iter().zip(&cohort.stuck_in);
    let counted = |list: Vec<(String, String, [u64; 2])>, counts: [&str; 2]| {
        let told = list.into_iter().map(|(of, text, count)| {
            let mut told = json!({ "of": of, "text": text });
            if let Some(told) = told.as_object_mut() {
                for (name, count) in counts.iter().zip(count) {
                    told.insert((*name).to_owned(), count.into());
                }
            }
            told
        });
        told.collect::<Vec<_>>()
    };
    json!({
        "folder": side.called,
        "pack": &*pack.id,
        "version": &*pack.version,
        "digest": hex(&pack.digest),
        "events_at_start": side.events,
        "began": arrivals(&cohort.began),
        "phases": phases.map(|(phase, came)| json!({
            "phase": &*phase.key,
            "came": arrivals(came),
        })).collect::<Vec<_>>(),
        "discharged": arrivals(&cohort.ended),
        "stuck": {
            "people": cohort.stuck,
            "in": stuck_in.map(|(phase, count)| (phase.key.to_string(), (*count).into()))
                .collect::<Map<_, _>>(),
            "lacked": counted(lists::stuck_lacked(side), ["people", "lacked_people"]),
            "held": counted(lists::stuck_held(side), ["people", "held_people"]),
        },
        "held": counted(lists::held(side), ["decisions", "people"]),
        "in_doubt": counted(lists::doubted(side), ["decisions", "people"]),
        "lacked": counted(lists::lacked(side), ["decisions", "people"]),
        "over": cohort.over.iter().map(|(limit, count)| json!({
            "limit": limit.as_deref(),
            "lines": count,
        })).collect::<Vec<_>>(),
        "outcomes": Outcome::ALL.iter().zip(cohort.outcomes)
            .map(|(outcome, count)| (outcome.word().to_owned(), count.into()))
            .collect::<Map<_, _>>(),
        "moves": Move::ALL.iter().zip(cohort.moves)
            .map(|(mv, count)| (mv.word().to_owned(), count.into()))
            .collect::<Map<_, _>>(),
        "decisions": cohort.decisions,
        "days": cohort.days,
        "days_without": cohort.days_without,
        "sessions": cohort.sessions,
        "flare_ups": cohort.flare_ups,
        "flare_up_people": cohort.flare_up_people,
        "regressed_people": cohort.regressed_people,
        "referrals": cohort.referrals,
        "referred_people": cohort.referred_people,
    })
}

fn arrivals(arrivals: &Arrivals) -> Value {
    let days = tables::SHARES_PERMILLE.iter().map(|permille| {
        let day = arrivals.day_of(*permille);
        (format!("{permille}"), day.into())
    });
    json!({
        "people": arrivals.came(),
        "day_by_permille_of_all": days.collect::<Map<String, Value>>(),
        "by_day": arrivals.by_day(),
    })
}

fn paired(paired: &Paired) -> Value {
    let phases = paired.phases.iter();
    json!({
        "days_to_phase": phases.map(|(key, one)| (key.to_string(), differences(one)))
            .collect::<Map<_, _>>(),
        "days_to_discharge": differences(&paired.ended),
        "discharged": differences(&paired.discharged),
        "stuck": differences(&paired.stuck),
        "regressed": differences(&paired.regressed),
        "flare_ups": differences(&paired.flare_ups),
        "referred": differences(&paired.referred),
        "days_without": differences(&paired.days_without),
        "decisions": differences(&paired.decisions),
    })
}

fn differences(one: &Differences) -> Value {
    json!({
        "less": one.less,
        "same": one.same,
        "more": one.more,
        "mean_milli": one.mean_milli(),
        "half_width_95_pct_milli": one.half_width_milli(),
        "seen_from_milli": one.seen_from_milli(),
    })
}
