//! Threshold mutation: every number of a pack moved by one step each way, and whether some diary's decision notices.
//!
//! A moved number is an edit of the pack's own text, checked anew: what the checker refuses is no pack and counts
//! neither way, nor does a need that asks less than its climb rule. A diary notices a step when a decision is not the one
//! that it expects, so that whoever makes this edit by mistake is told by a rehearsal. What a diary does not name it does not notice. Diaries are played until one of them
//! notices; those in which no decision reads the number's sentence cannot, and are passed over.
//!
//! Moved are the numbers of sentences (amounts, percentages, counts of windows and quantifiers, places on a ladder) and
//! of the lay-off table; not ladders themselves, start doses, or bounds on how many lines move.
//!
//! Leaves to others: on how many cores the numbers are tried; where they stand (`rungwise_pack::places`).

use crate::coverage::repeating;
use crate::diary::Diary;
use crate::play::{Difference, Player, Went, go};
use rungwise_engine::evaluate::{Verdicts, Watch};
use rungwise_pack::model::{CheckedPack, Pack, Relation, SentenceIx, Window};
use rungwise_pack::places::{Number, NumberOf, Places};
use rungwise_pack::quantity::Milli;
use rungwise_pack::source::SourceFiles;

/// A number moved by one step.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Nudge<'n> {
    /// The number.
    pub number: &'n Number,
    /// What stands in its place.
    pub to: Milli,
}

/// What became of a nudge.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Fate {
    /// The checker refuses a pack with it.
    Refused,
    /// No decision can tell: it asks less of a need that asks no more than the climb rule before it.
    Moot,
    /// Some diary is no longer as expected.
    Noticed {
        /// Which.
        diary: String,
        /// On which of its lines first.
        line: usize,
    },
    /// Every diary goes as before.
    Unnoticed,
}

/// A number with what became of its steps.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Tried<'n> {
    /// The number.
    pub number: &'n Number,
    /// What stood in its place, and what became of it.
    pub steps: Vec<(Milli, Fate)>,
}

impl Tried<'_> {
    /// Whether any step of it counts: one that the checker takes and that a decision could tell.
    #[must_use]
    pub fn is_movable(&self) -> bool {
        let mut steps = self.steps.iter();
        steps.any(|(_, fate)| !matches!(fate, Fate::Refused | Fate::Moot))
    }

    /// Whether it can be moved, and every step that counts is noticed.
    #[must_use]
    pub fn is_pinned(&self) -> bool {
        self.is_movable() && self.unnoticed().next().is_none()
    }

    /// The steps that nobody notices.
    pub fn unnoticed(&self) -> impl Iterator<Item = Milli> + '_ {
        let steps = self.steps.iter();
        steps
            .filter(|(_, fate)| *fate == Fate::Unnoticed)
            .map(|(to, _)| *to)
    }
}

/// The fates of every nudge, in the order of [`nudges`], by number. Numbers without a step are in it too.
#[must_use]
pub fn by_number<'n>(places: &'n Places, fates: impl IntoIterator<Item = Fate>) -> Vec<Tried<'n>> {
    let mut fates = fates.into_iter();
    let numbers = places.numbers.iter();
    numbers
        .map(|number| {
            let ways = [number.lower, number.higher].into_iter().flatten();
            Tried {
                number,
                steps: ways.zip(fates.by_ref()).collect(),
            }
        })
        .collect()
}

/// A pack with its diaries and how they go.
#[derive(Debug)]
pub struct Trial<'d> {
    files: SourceFiles,
    courses: Vec<Course<'d>>,
    /// Needs that repeat their climb rule and whose only number is in how many sessions each they are met.
    one_number: Vec<SentenceIx>,
}

/// A diary as it goes on the pack as it is.
#[derive(Debug)]
struct Course<'d> {
    diary: &'d Diary,
    heard: Vec<Heard>,
    /// By sentence, in their order: the verdicts that decisions gave it.
    seen: Vec<Verdicts>,
}

impl Course<'_> {
    /// Whether another number there could change how it goes.
    fn reads(&self, of: NumberOf) -> bool {
        match of {
            NumberOf::Sentence(ix) => self.seen.get(ix.at()) != Some(&Verdicts::default()),
            NumberOf::LayOff(_) => true,
        }
    }

    /// Whether it sees the number's sentence both met and not met, and so likely notices.
    fn tries(&self, of: NumberOf) -> bool {
        match of {
            NumberOf::Sentence(ix) => {
                let seen = self.seen.get(ix.at());
                seen.is_some_and(|seen| seen.met && seen.not_met)
            }
            NumberOf::LayOff(_) => false,
        }
    }
}

/// How an ask went, or something that was not taken.
#[derive(Clone, PartialEq, Eq, Debug)]
struct Heard {
    line: usize,
    /// Where the decision is not the expected one; none of what was not taken.
    differences: Option<Vec<Difference>>,
}

/// Every nudge of a pack's numbers, in their order, downward first.
pub fn nudges(places: &Places) -> impl Iterator<Item = Nudge<'_>> {
    places.numbers.iter().flat_map(|number| {
        let ways = [number.lower, number.higher];
        ways.into_iter()
            .flatten()
            .map(move |to| Nudge { number, to })
    })
}

impl<'d> Trial<'d> {
    /// Plays every diary on the pack as it is.
    #[must_use]
    pub fn new(
        files: &SourceFiles,
        pack: &CheckedPack,
        diaries: impl IntoIterator<Item = &'d Diary>,
    ) -> Self {
        let played = diaries.into_iter().map(|diary| {
            let mut heard = Vec::new();
            let watch = Watch::new();
            let player = Player::watched(pack, diary.episode.clone(), &watch);
            listen(player, diary, &mut |one| {
                heard.push(one);
                true
            });
            let sentences = (0u16..).map(SentenceIx).zip(&pack.sentences);
            Course {
                diary,
                heard,
                seen: sentences.map(|(ix, _)| watch.of(ix)).collect(),
            }
        });
        let mut courses: Vec<Course<'_>> = played.collect();
        // Which diary notices first is of no account: short ones cost least.
        courses.sort_by_key(|course| course.heard.len());
        Self {
            files: files.without_diaries(),
            courses,
            one_number: one_number(pack),
        }
    }

    /// Whether a need that repeats its climb rule would look at fewer of the same sessions.
    fn is_moot(&self, nudge: &Nudge<'_>) -> bool {
        let NumberOf::Sentence(ix) = nudge.number.of else {
            return false;
        };
        self.one_number.contains(&ix) && nudge.to < nudge.number.value
    }

    /// Plays the diaries on the pack with a number moved.
    #[must_use]
    pub fn fate(&self, nudge: &Nudge<'_>) -> Fate {
        if self.is_moot(nudge) {
            return Fate::Moot;
        }
        let place = &nudge.number.place;
        let bytes = place.start..place.end;
        let edited = self.files.edited(&place.file, bytes, &nudge.to.to_string());
        let Some(pack) = edited.and_then(|files| rungwise_pack::check(&files).pack) else {
            return Fate::Refused;
        };
        let of = nudge.number.of;
        let mut courses: Vec<&Course<'_>> = self.courses.iter().collect();
        courses.retain(|course| course.reads(of));
        courses.sort_by_key(|course| !course.tries(of));
        for course in courses {
            let diary = course.diary;
            let mut rest = course.heard.iter();
            let mut differs = None;
            let player = Player::new(&pack, diary.episode.clone());
            listen(player, diary, &mut |one| {
                let same = rest.next() == Some(&one);
                if !same {
                    differs = Some(one.line);
                }
                same
            });
            if let Some(line) = differs {
                return Fate::Noticed {
                    diary: diary.file.clone(),
                    line,
                };
            }
        }
        Fate::Unnoticed
    }
}

fn one_number(pack: &Pack) -> Vec<SentenceIx> {
    let mut found = repeating(pack);
    found.retain(|ix| {
        pack.sentences.get(ix.at()).is_some_and(|sentence| {
            matches!(sentence.window, Window::EachOfLast(_))
                && matches!(
                    sentence.relation,
                    Relation::Is(_) | Relation::IsNot(_) | Relation::NoWorseThan(_)
                )
        })
    });
    found
}

/// Plays a diary and tells how it goes, until `each` has heard enough.
fn listen(mut player: Player<'_>, diary: &Diary, each: &mut dyn FnMut(Heard) -> bool) {
    go(&mut player, diary, &mut |went| {
        each(match went {
            Went::Asked(asked) => Heard {
                line: asked.line,
                differences: Some(asked.differences),
            },
            Went::Refused(refused) => Heard {
                line: refused.line,
                differences: None,
            },
        })
    });
}

#[cfg(test)]
mod tests;
