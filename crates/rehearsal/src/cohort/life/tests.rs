//! What a person trains by is the engine's prescription, on every day.

use super::*;
use crate::cohort::model::Model;
use crate::cohort::tests::packs;
use rungwise_engine::prescription::prescription;

#[test]
fn a_person_trains_by_what_the_engine_prescribes() {
    let model =
        Model::read("warning_signs_permille_a_year = 4000\naccepted_after_days = 4\n").unwrap();
    let mut seen = 0;
    for pack in &packs() {
        let ready = Ready::new(pack, &model, 26);
        for index in 0..6 {
            let person = Person::new(&model, 11, index);
            let mut living = Living::new(&ready, &person);
            for day in 0..182 {
                living.lives(day);
                if living.life.ended.is_some() {
                    break;
                }
                let history = living.player.history();
                let items = prescription(pack, history, living.today).items;
                let told = items
                    .iter()
                    .map(|item| (&item.exercise, as_prescribed(&item.dose)));
                let ours = living
                    .prescribed
                    .iter()
                    .map(|one| (&one.key, one.sets.clone()));
                assert!(told.eq(ours), "{} {index} on day {day}", pack.id);
                seen += items.len();
            }
        }
    }
    assert!(seen > 5_000, "{seen}");
}
