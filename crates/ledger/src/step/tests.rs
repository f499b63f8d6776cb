//! What a lead signs says each value on a line of its own, and holds for nothing else.

use super::{Step, check, sign, text};
use crate::note::{NoteError, NoteSigner};
use alloc::string::String;

const PROPOSE: Step<'static> = Step::Propose {
    pack: ("our-pack", "1.3.0"),
    digest: &[0xab; 32],
    from: Some("2026-05-01"),
    for_episodes: "next-phase",
};

fn written(step: &Step<'_>) -> String {
    text("invented", "r-1", step, "less at first").expect("a sound text")
}

#[test]
fn a_text_says_every_value_in_a_fixed_order() {
    let digest = "ab".repeat(32);
    assert_eq!(
        written(&PROPOSE),
        alloc::format!(
            "rungwise/step/v1\nclinic: invented\nrequest: r-1\nstep: propose\npack: our-pack 1.3.0\ndigest: {digest}\n\
             from: 2026-05-01\nfor: next-phase\nwhy: less at first\n"
        )
    );
    let approve = Step::Approve {
        proposal: 7,
        digest: &[0xab; 32],
    };
    assert!(written(&approve).contains(&alloc::format!(
        "step: approve\nproposal: 7\ndigest: {digest}\n"
    )));
    let direct = Step::Direct {
        pack: None,
        date: "2026-05-01",
        until: None,
        order: "hold",
    };
    assert!(written(&direct).contains(
        "step: direct\npack: every\ndate: 2026-05-01\nuntil: lifted\norder: hold\nwhy: "
    ));
    let lift = Step::Lift {
        directive: 9,
        date: "2026-05-02",
    };
    assert!(written(&lift).contains("step: lift\ndirective: 9\ndate: 2026-05-02\nwhy: "));
}

#[test]
fn a_value_cannot_add_a_line() {
    let forged = text("invented", "r-1", &PROPOSE, "less\nstep: approve");
    assert_eq!(forged, Err(NoteError::Text));
}

#[test]
fn a_signature_holds_for_its_key_and_its_text_alone() {
    let one = NoteSigner::new("lead-one", &[1; 32]).expect("a name");
    let other = NoteSigner::new("lead-other", &[2; 32]).expect("a name");
    let same_name = NoteSigner::new("lead-one", &[3; 32]).expect("a name");
    let text = written(&PROPOSE);
    let signature = sign(&one, &text).expect("a sound text");
    assert!(signature.starts_with("\u{2014} lead-one "));
    assert_eq!(check(&text, &signature, one.verifier()), Ok(()));
    for not in [other.verifier(), same_name.verifier()] {
        assert_eq!(check(&text, &signature, not), Err(NoteError::Unsigned));
    }
    let another = text.replace("1.3.0", "1.4.0");
    assert_eq!(
        check(&another, &signature, one.verifier()),
        Err(NoteError::Signature("lead-one".into()))
    );
    let two = alloc::format!("{signature}\n{signature}");
    assert_eq!(
        check(&text, &two, one.verifier()),
        Err(NoteError::Malformed)
    );
}
