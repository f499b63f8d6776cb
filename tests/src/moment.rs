//! A moment in a generated history: what was recorded before one asking, and the date asked for.
//!
//! Leaves to others: what is proved of it.

use crate::generate::Dice;
use crate::generate::history::Step;
use crate::generate::pack::{Wish, checked};
use crate::generate::report::story;
use crate::play::{Played, told};
use jiff::civil::Date;
use rungwise_engine::decide::decide;
use rungwise_engine::decision::Decision;
use rungwise_engine::fact::{Body, Episode, Record};
use rungwise_engine::history::History;
use rungwise_pack::model::CheckedPack;

/// A history up to one asking: the records before it, and the date asked for.
pub struct Moment {
    /// The pack asked with.
    pub pack: CheckedPack,
    /// The episode.
    pub episode: Episode,
    /// Everything recorded before the asking.
    pub records: Vec<Record>,
    /// The date asked for.
    pub as_of: Date,
    /// The history in words, for reports.
    pub story: String,
}

impl Moment {
    /// A moment in the history of this number; none where nobody asks anything new.
    #[must_use]
    pub fn of(seed: u64, wish: Wish) -> Option<Self> {
        let pack = checked(seed / 20, wish);
        let (episode, steps) = told(&pack, seed);
        let asks: Vec<usize> = (0..steps.len())
            .filter(|at| matches!(steps[*at].1, Step::Ask(_)))
            .collect();
        let ask = *Dice::new(seed ^ 0x5eed).pick(&asks);
        let mut played = Played::new(&pack, episode.clone());
        let mut today = episode.opened_on;
        for (position, step) in &steps[..ask] {
            match step {
                Step::Record(fact) => {
                    today = today.max(fact.date);
                    played.record(*position, today, Body::Fact(fact.clone()));
                }
                Step::Ask(date) => {
                    today = today.max(*date);
                    played.ask(*position, *date);
                }
            }
        }
        let Step::Ask(as_of) = steps[ask].1 else {
            return None;
        };
        if played.is_answered(as_of) {
            return None;
        }
        let records = played.records().to_vec();
        let story = story(&steps[..=ask], &played.decided);
        drop(played);
        Some(Self {
            pack,
            episode,
            records,
            as_of,
            story,
        })
    }

    /// The decision on these records.
    #[must_use]
    pub fn decide(&self, records: &[Record]) -> Decision {
        self.decide_on(records, self.as_of)
    }

    /// The decision on these records, asked for another date.
    #[must_use]
    pub fn decide_on(&self, records: &[Record], as_of: Date) -> Decision {
        Self::decide_with(&self.pack, self.episode.clone(), records, as_of)
    }

    /// The decision of another pack on the same records.
    #[must_use]
    pub fn decide_by(&self, pack: &CheckedPack) -> Decision {
        Self::decide_with(pack, self.episode.clone(), &self.records, self.as_of)
    }

    fn decide_with(
        pack: &CheckedPack,
        episode: Episode,
        records: &[Record],
        as_of: Date,
    ) -> Decision {
        let history = History::of(pack, episode, records.to_vec());
        decide(pack, &history, as_of)
    }
}

/// A decision's outcome, moves and causes, for reports.
#[must_use]
pub fn told_moves(decision: &Decision) -> String {
    let moves: Vec<String> = decision
        .moves
        .iter()
        .map(|one| format!("{} {} > {:?}", one.line, one.mv.word(), one.to))
        .collect();
    format!(
        "{} {} {:?}",
        decision.outcome.word(),
        moves.join(", "),
        decision.because
    )
}
