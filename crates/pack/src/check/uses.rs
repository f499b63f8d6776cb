//! Every place in a pack where sentences are used, with what the place makes of them.

use crate::model::{Criterion, ExerciseIx, Limit, Origin, Pack, Polarity, RuleKind, SentenceIx};

/// One use of a criterion.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Use<'p> {
    pub(crate) criterion: &'p Criterion,
    pub(crate) polarity: Polarity,
    /// The exercise whose rule it is.
    pub(crate) exercise: Option<ExerciseIx>,
    /// What it is, for messages: `an enter rule`.
    pub(crate) what: &'static str,
}

/// Every use of a criterion: rules, a row value's needs, limits' conditions, defined measures.
pub(crate) fn uses(pack: &Pack) -> Vec<Use<'_>> {
    let mut uses = Vec::new();
    for measure in &pack.measures {
        if let Origin::Defined(defined) = &measure.origin {
            // A defined measure is the worst feature that is met: being met means caution.
            uses.extend(defined.features.iter().map(|(_, criterion)| Use {
                criterion,
                polarity: Polarity::Cautious,
                exercise: None,
                what: "the definition of a measure",
            }));
        }
    }
    uses.extend(pack.rules.iter().map(|rule| Use {
        criterion: &rule.when,
        polarity: rule.kind.polarity(),
        exercise: rule.exercise,
        what: what(rule.kind),
    }));
    for limits in std::iter::once(&pack.limits).chain(pack.phases.iter().map(|phase| &phase.limits))
    {
        uses.extend(condition_uses(limits, None));
    }
    for (exercise, index) in pack.exercises.iter().zip(0..) {
        let own = Some(ExerciseIx(index));
        uses.extend(condition_uses(&exercise.limits, own));
        // The values of a sequence share what they need.
        let steps = exercise.rows.iter().flat_map(|row| {
            let most = if row.is_sequence { 2 } else { usize::MAX };
            row.values.iter().take(most)
        });
        uses.extend(
            steps
                .filter_map(|step| step.needs.as_ref())
                .map(|criterion| Use {
                    criterion,
                    polarity: Polarity::Upward,
                    exercise: own,
                    what: "what a value needs",
                }),
        );
    }
    uses
}

fn condition_uses(limits: &[Limit], exercise: Option<ExerciseIx>) -> impl Iterator<Item = Use<'_>> {
    let conditions = limits.iter().filter_map(|limit| limit.condition.as_ref());
    conditions.map(move |criterion| Use {
        criterion,
        polarity: Polarity::Cautious,
        exercise,
        what: "a limit's condition",
    })
}

const fn what(kind: RuleKind) -> &'static str {
    match kind {
        RuleKind::Refer { .. } => "a refer rule",
        RuleKind::Regress => "a regress rule",
        RuleKind::Hold => "a hold rule",
        RuleKind::Ease => "an ease rule",
        RuleKind::Review => "a review rule",
        RuleKind::Enter => "an enter rule",
        RuleKind::Start => "a start rule",
        RuleKind::Discharge => "a discharge rule",
        RuleKind::Climb => "a climb rule",
        RuleKind::BringBack => "a bring-back rule",
    }
}

/// Every sentence of a criterion, with whether an odd number of `none` stands above it.
pub(crate) fn leaves(criterion: &Criterion) -> Vec<(SentenceIx, bool)> {
    let mut leaves = Vec::new();
    gather(criterion, false, &mut leaves);
    leaves
}

fn gather(criterion: &Criterion, negated: bool, leaves: &mut Vec<(SentenceIx, bool)>) {
    let (parts, negated) = match criterion {
        Criterion::Sentence(sentence) => return leaves.push((*sentence, negated)),
        Criterion::All(parts) | Criterion::Any(parts) => (parts, negated),
        Criterion::None(parts) => (parts, !negated),
    };
    for part in parts {
        gather(part, negated, leaves);
    }
}
