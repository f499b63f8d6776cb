//! Measures that are worked out: none of them by itself. And the lay-off table's order.

use super::resolve::Sites;
use super::uses::leaves;
use crate::diagnostic::{Code, Findings, Note};
use crate::model::{Amount, MeasureIx, Origin, Pack, Relation, Sentence, Subject};

/// Reports every defined measure that is worked out from itself.
pub(super) fn judge(pack: &Pack, sites: &Sites, findings: &mut Findings<'_>) {
    for (measure, index) in pack.measures.iter().zip(0..) {
        let own = MeasureIx(index);
        let mut seen: Vec<MeasureIx> = Vec::new();
        let mut open = reads(pack, own);
        while let Some(next) = open.pop() {
            if next == own {
                if let Some(at) = sites.measures.get(own.at()) {
                    let note = Note::new(
                        Code::Cycle,
                        *at,
                        format!("`{}` is defined by itself", measure.name),
                    );
                    findings.add(note.help("let its criteria read measures that do not read it"));
                }
                break;
            }
            if !seen.contains(&next) {
                seen.push(next);
                open.extend(reads(pack, next));
            }
        }
    }
}

/// The measures that a defined measure reads.
fn reads(pack: &Pack, measure: MeasureIx) -> Vec<MeasureIx> {
    let Some(Origin::Defined(defined)) = pack
        .measures
        .get(measure.at())
        .map(|measure| &measure.origin)
    else {
        return Vec::new();
    };
    let leaves = defined
        .features
        .iter()
        .flat_map(|(_, criterion)| leaves(criterion));
    let sentences = leaves.filter_map(|(index, _)| pack.sentences.get(index.at()));
    sentences.flat_map(measures).collect()
}

/// The measures that a sentence reads.
pub(super) fn measures(sentence: &Sentence) -> Vec<MeasureIx> {
    let Subject::Measure { measure, .. } = &sentence.subject else {
        return Vec::new();
    };
    let of = |amount: &Amount| match amount {
        Amount::Offset(_, other) | Amount::PercentOf(_, other) => Some(*other),
        Amount::Fixed(_) | Amount::PercentOfOtherSide(_) => None,
    };
    let amounts = match &sentence.relation {
        Relation::Compare(_, amount) => [of(amount), None],
        Relation::Between(low, high) => [of(low), of(high)],
        _ => [None, None],
    };
    std::iter::once(*measure)
        .chain(amounts.into_iter().flatten())
        .collect()
}
