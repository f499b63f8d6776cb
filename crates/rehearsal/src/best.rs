//! The best course: does a person who does everything, reports everything and is as well as can be come through every
//! phase, and does their care end?
//!
//! Caution is monotone, so nobody gets further than the best reported values do: a phase that this course never comes
//! to is one that nobody comes to, but for values of measures without a better end, of which one is tried. It is a
//! search over a few courses and a bounded number of days: coming through is shown by the course itself; not coming
//! through is shown for these courses, one of which is given as a diary.
//!
//! Leaves to others: what the sentences alone prove (`rungwise_pack::prove`).

use crate::course::{Course, Plan};
use rungwise_engine::explain::{View, explain};
use rungwise_pack::model::{CheckedPack, PhaseIx};
use rungwise_pack::quantity::Key;

/// Longest course looked at.
pub const DAYS_MAX: u32 = 730;

/// What the best courses came to.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Best {
    /// By [`PhaseIx`]: the day, from 0, on which some course first came to the phase.
    pub reached: Vec<Option<u32>>,
    /// The day on which the first of them ended with DISCHARGE.
    pub ended: Option<u32>,
    /// Where the one that came furthest stopped, unless it ended.
    pub stuck: Option<Stuck>,
}

/// Where a best course stops.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Stuck {
    /// The phase, unless care never began.
    pub phase: Option<PhaseIx>,
    /// What was still missing on the last day, in the words of the explanation.
    pub missing: Vec<String>,
    /// The rules and limits that decided on the last day, by name.
    pub because: Vec<String>,
    /// The course as a diary that can be rehearsed.
    pub diary: String,
}

impl Best {
    /// Phases that no course came to, in order of care.
    #[must_use]
    pub fn unreached(&self) -> Vec<PhaseIx> {
        let reached = (0_u16..).map(PhaseIx).zip(&self.reached);
        reached
            .filter(|(_, day)| day.is_none())
            .map(|(phase, _)| phase)
            .collect()
    }
}

/// Plays the best courses that a pack allows.
#[must_use]
pub fn best_course(pack: &CheckedPack) -> Best {
    let mut best = Best {
        reached: vec![None; pack.phases.len()],
        ended: None,
        stuck: None,
    };
    let mut furthest = None;
    for plans in Plan::best(pack).chunks(2) {
        // What the pack lets begin and end needs no other history.
        if best.ended.is_some() && best.unreached().is_empty() {
            break;
        }
        for plan in plans {
            let course = Course::new(pack, plan.clone()).run(DAYS_MAX, &mut |_, _| {});
            for (so_far, day) in best.reached.iter_mut().zip(course.reached()) {
                *so_far = earliest(*so_far, *day);
            }
            best.ended = earliest(best.ended, course.ended());
            let far = course.reached().iter().rposition(Option::is_some);
            if course.ended().is_none() && furthest.is_none_or(|most| far > most) {
                furthest = Some(far);
                best.stuck = Some(stuck(pack, &course));
            }
        }
    }
    if best.ended.is_some() {
        best.stuck = None;
    }
    best
}

/// What must have happened on the first day for a best course to end: the first such set of events that the pack counts
/// from, the empty one before all. None where no course ends.
pub(crate) fn events_of_a_course_that_ends(pack: &CheckedPack) -> Option<Vec<Key>> {
    let plans = Plan::best(pack).into_iter();
    let mut plans = plans.map(|plan| {
        let course = Course::new(pack, plan.clone()).run(DAYS_MAX, &mut |_, _| {});
        course.ended().map(|_| plan.events)
    });
    plans.find_map(|ended| ended)
}

fn earliest(one: Option<u32>, other: Option<u32>) -> Option<u32> {
    one.into_iter().chain(other).min()
}

fn stuck(pack: &CheckedPack, course: &Course<'_>) -> Stuck {
    let explained = course
        .last()
        .and_then(|(number, history)| explain(pack, history, number, View::Basic).ok());
    let (missing, because) = explained.map_or_else(Default::default, |told| {
        let causes = told.because.into_iter().map(|(_, text)| text);
        (told.to_progress, causes.collect())
    });
    Stuck {
        phase: course.phase(),
        missing,
        because,
        diary: course.diary().to_owned(),
    }
}
