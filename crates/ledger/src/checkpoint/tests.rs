//! Checkpoints: their text, and what is refused.
#![allow(clippy::unwrap_used, reason = "a failing set-up should stop the test")]

use super::*;
use crate::tree::empty_root;

fn signer() -> NoteSigner {
    NoteSigner::new("clinic.example/ledger/north", &[3; 32]).unwrap()
}

#[test]
fn a_checkpoint_is_three_lines_and_reads_back() {
    let head = Head {
        size: 42,
        root: empty_root(),
    };
    let text = checkpoint_text("clinic.example/ledger/north", &head);
    assert_eq!(
        text,
        "clinic.example/ledger/north\n42\n47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU=\n"
    );
    let note = sign_checkpoint(&signer(), &head).unwrap();
    assert!(note.starts_with(&text));
    assert_eq!(open_checkpoint(&note, signer().verifier()), Ok(head));
    let altered = note.replace("\n42\n", "\n43\n");
    assert!(matches!(
        open_checkpoint(&altered, signer().verifier()),
        Err(CheckpointError::Note(_))
    ));
}

#[test]
fn other_origins_and_forms_are_refused() {
    let check = |text: &str| open_checkpoint(&signer().sign(text).unwrap(), signer().verifier());
    let root = "47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU=";
    let origin = "clinic.example/ledger/north";
    assert!(check(&format!("{origin}\n0\n{root}\n")).is_ok());
    assert!(check(&format!("{origin}\n7\n{root}\nan extension\n")).is_ok());
    assert_eq!(
        check(&format!("clinic.example/ledger/south\n7\n{root}\n")),
        Err(CheckpointError::Origin(
            "clinic.example/ledger/south".to_string()
        ))
    );
    for (size, root) in [
        ("07", root),
        ("+7", root),
        ("", root),
        ("7", "AAAA"),
        ("7", ""),
        ("99999999999999999999", root),
    ] {
        assert_eq!(
            check(&format!("{origin}\n{size}\n{root}\n")),
            Err(CheckpointError::Malformed),
            "{size} {root}"
        );
    }
    assert_eq!(
        check(&format!("{origin}\n7\n")),
        Err(CheckpointError::Malformed)
    );
}
