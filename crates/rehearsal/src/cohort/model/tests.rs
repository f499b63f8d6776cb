//! The table is sound, and a file that changes it is read or refused by key.

use super::{MeasureModel, Model, PARAMETERS, Spread};

#[test]
fn the_table_is_sound_and_each_key_ends_in_its_unit() {
    for (at, one) in PARAMETERS.iter().enumerate() {
        let Spread { low, high } = one.usual;
        assert!(
            one.least <= low && low <= high && high <= one.most,
            "{}",
            one.key
        );
        assert!(one.drawn || low == high, "{}", one.key);
        assert!(
            !PARAMETERS[..at].iter().any(|other| other.key == one.key),
            "{}",
            one.key
        );
        let unit = match one.unit {
            "‰" => "permille",
            "‰ a week" => "permille_a_week",
            "‰ a year" => "permille_a_year",
            "sessions a week" => "week_sessions",
            unit => unit,
        };
        assert!(one.key.ends_with(unit), "{} is in {}", one.key, one.unit);
    }
}

#[test]
fn a_file_changes_what_it_names_and_nothing_else() {
    let model = Model::read(
        "recovery_permille_a_week = [10, 20]\nasked_every_days = 7\nkept_permille = 800\n\
         events_at_start = [\"fall\"]\n[measure.\"reach\"]\nrecovered_permille = 1\nworst_permille = 2\n",
    )
    .unwrap();
    let mut changed = Vec::new();
    for one in PARAMETERS {
        if model.value(one) != one.usual {
            changed.push(format!("{} {}", one.key, model.value(one)));
        }
    }
    assert_eq!(
        changed,
        [
            "recovery_permille_a_week 10 to 20",
            "kept_permille 800",
            "asked_every_days 7"
        ]
    );
    assert_eq!(model.events_at_start, Some(vec!["fall".to_owned()]));
    let reach = MeasureModel {
        recovered_permille: 1,
        worst_permille: 2,
    };
    assert_eq!(model.measures.get("reach"), Some(&reach));
    assert_eq!(Model::read("").unwrap(), Model::default());
}

/// What is said of a file that is refused, a line each.
fn refused(text: &str) -> String {
    let errors = Model::read(text).unwrap_err();
    let lines: Vec<String> = errors.iter().map(ToString::to_string).collect();
    lines.join("\n")
}

#[test]
fn what_is_wrong_is_said_at_once_each_with_its_key() {
    let said = refused(
        "start_permile = 3\nkept_permille = [900, 100]\nasked_every_days = [1, 2]\nlasting_permille = 0.5\n\
         stuck_weeks = 0\nflare_up_event = 3\nevents_at_start = [1]\n[measure.reach]\nworst_permille = 1001\n\
         [measure.pain]\nworse = 1\n",
    );
    assert_eq!(
        said,
        "`asked_every_days` is `[1, 2]`; a whole number from 1 to 28 is allowed\n\
         `events_at_start` is `[1]`; a list of names of events is allowed\n\
         `flare_up_event` is `3`; the name of an event in quotes is allowed\n\
         `kept_permille` is `[900, 100]`; a whole number from 0 to 1000, or `[least, greatest]` of two, is allowed\n\
         `lasting_permille` is `0.5`; a whole number from 0 to 1000 is allowed\n\
         `measure.\"pain\".worse` is no parameter of the model; `--assumptions` lists them all\n\
         `measure.\"reach\".recovered_permille` is not there; a whole number from 0 to 1000 is allowed\n\
         `start_permile` is no parameter of the model; did you mean `start_permille`; `--assumptions` lists them all\n\
         `stuck_weeks` is `0`; a whole number from 1 to 52 is allowed"
    );
    assert!(refused("start_permille = ").starts_with("it is not TOML: "));
    assert!(refused("measure = 3").starts_with("`measure` is `3`"));
}
