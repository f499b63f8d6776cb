//! Steps of leads for the tests of stored content.

use super::super::{
    Approval, ClinicDirective, Content, PackFor, Proposal, ProposalWithdrawal, Signed,
};
use super::{date, fact, key};
use proptest::prelude::*;
use rungwise_engine::fact::FactKind;

fn signed() -> impl Strategy<Value = Signed> {
    let texts = (".{0,20}", "[a-z0-9-]{1,12}", ".{0,40}");
    (key(), texts).prop_map(|(who, (why, request_id, signature))| Signed {
        who,
        why,
        request_id,
        signature,
    })
}

/// Terms of a proposal.
pub(super) fn proposal() -> impl Strategy<Value = Proposal> {
    let which = prop::sample::select(vec![PackFor::All, PackFor::NextPhase, PackFor::New]);
    let parts = (signed(), any::<[u8; 32]>(), prop::option::of(date()), which);
    parts.prop_map(|(signed, digest, from, for_episodes)| Proposal {
        signed,
        digest,
        from,
        for_episodes,
    })
}

/// Every other step.
pub(super) fn content() -> impl Strategy<Value = Content> {
    let step = || (signed(), any::<u64>());
    let directed = (signed(), prop::option::of(key()), date(), fact());
    let directed = directed.prop_filter_map("a directive", |(signed, pack, date, fact)| {
        let FactKind::Directive(directive) = fact.kind else {
            return None;
        };
        Some(Content::ClinicDirective(ClinicDirective {
            signed,
            pack,
            date,
            directive,
        }))
    });
    prop_oneof![
        prop::collection::vec("[a-z0-9+/=-]{1,60}", 0..4).prop_map(Content::Leads),
        step().prop_map(|(signed, proposal)| Content::Approval(Approval { signed, proposal })),
        step().prop_map(|(signed, proposal)| {
            Content::ProposalWithdrawal(ProposalWithdrawal { signed, proposal })
        }),
        directed
    ]
}
