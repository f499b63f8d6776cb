//! Notes against the published check value, and what must be refused.
#![allow(clippy::unwrap_used, reason = "a failing set-up should stop the test")]

use super::*;

/// Source: `golang.org/x/mod/sumdb/note`, the example of its tests; also in <https://c2sp.org/signed-note>'s references.
const VERIFIER: &str = "PeterNeumann+c74f20a3+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW";
const TEXT: &str = "If you think cryptography is the answer to your problem,\nthen you don't know what your problem is.\n";
const LINE: &str = "\u{2014} PeterNeumann \
    x08go/ZJkuBS9UG/SffcvIAQxVBtiFupLLr8pAcElZInNIuGUgYN1FFYC2pZSNXgKvqfqdngotpRZb6KE6RyyBwJnAM=\n";

fn published() -> String {
    format!("{TEXT}\n{LINE}")
}

#[test]
fn the_published_note_opens_and_altered_ones_do_not() {
    let verifier = VerifierKey::parse(VERIFIER).unwrap();
    assert_eq!(verifier.to_string(), VERIFIER);
    assert_eq!(open_note(&published(), &[&verifier]), Ok(TEXT));
    let altered = published().replace("problem,", "problem;");
    assert_eq!(
        open_note(&altered, &[&verifier]),
        Err(NoteError::Signature("PeterNeumann".to_string()))
    );
    assert_eq!(open_note(&published(), &[]), Err(NoteError::Unsigned));
}

#[test]
fn unknown_signatures_are_passed_over_and_a_known_bad_one_is_not() {
    let verifier = VerifierKey::parse(VERIFIER).unwrap();
    let signer = NoteSigner::new("other", &[7; 32]).unwrap();
    let other = signer.sign(TEXT).unwrap();
    let line = other.strip_prefix(TEXT).unwrap().trim_start();
    let both = format!("{}{line}", published());
    assert_eq!(open_note(&both, &[&verifier]), Ok(TEXT));
    assert_eq!(open_note(&both, &[&verifier, signer.verifier()]), Ok(TEXT));
    let wrong = format!(
        "{}{}",
        published(),
        NoteSigner::new("other", &[7; 32])
            .unwrap()
            .sign("else\n")
            .unwrap()
            .strip_prefix("else\n")
            .unwrap()
            .trim_start()
    );
    assert_eq!(
        open_note(&wrong, &[&verifier, signer.verifier()]),
        Err(NoteError::Signature("other".to_string()))
    );
    let many = format!("{TEXT}\n{}", LINE.repeat(16));
    assert_eq!(
        open_note(&many, &[&verifier]),
        Ok(TEXT),
        "16 signatures must be taken"
    );
    let too_many = format!("{TEXT}\n{}", LINE.repeat(SIGNATURES_MAX + 1));
    assert_eq!(
        open_note(&too_many, &[&verifier]),
        Err(NoteError::Malformed)
    );
}

#[test]
fn a_signer_reads_back_and_its_key_as_text_too() {
    let signer = NoteSigner::new("clinic.example/ledger/north", &[3; 32]).unwrap();
    let verifier = VerifierKey::parse(&signer.verifier().to_string()).unwrap();
    assert_eq!(&verifier, signer.verifier());
    assert_eq!(
        open_note(&signer.sign("text\n\nmore\n").unwrap(), &[&verifier]),
        Ok("text\n\nmore\n")
    );
    assert!(!format!("{signer:?}").contains("SigningKey"));
}

#[test]
fn malformed_notes_keys_names_and_texts_are_refused() {
    let verifier = VerifierKey::parse(VERIFIER).unwrap();
    for note in [
        "",
        "\n",
        "\n\n",
        TEXT,
        "text\n\n",
        "text\n\n\u{2014} x\n",
        "text\n\n- PeterNeumann AAAA\n",
    ] {
        assert_eq!(
            open_note(note, &[&verifier]),
            Err(NoteError::Malformed),
            "{note:?}"
        );
    }
    assert_eq!(
        open_note("a\tb\n\n\u{2014} x AAAAAAAA\n", &[&verifier]),
        Err(NoteError::Text)
    );
    for key in [
        "",
        "a+b",
        "PeterNeumann+c74f20a4+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW",
        "n+00000000+AA==",
    ] {
        assert!(VerifierKey::parse(key).is_err(), "{key:?}");
    }
    for name in ["", "a b", "a+b", "a\nb"] {
        assert!(NoteSigner::new(name, &[1; 32]).is_err(), "{name:?}");
    }
    let signer = NoteSigner::new("n", &[1; 32]).unwrap();
    assert_eq!(signer.sign("no line end"), Err(NoteError::Text));
    assert_eq!(signer.sign("bell\u{7}\n"), Err(NoteError::Text));
}

/// The signing key beside [`VERIFIER`] in the documentation of the Go package `golang.org/x/mod/sumdb/note`.
const SIGNING: &str =
    "PRIVATE+KEY+PeterNeumann+c74f20a3+AYEKFALVFGyNhPJEMzD1QIDr+Y7hfZx09iUvxdXHKDFz";

#[test]
fn a_signing_key_is_read_as_the_go_package_writes_it() {
    let signer = NoteSigner::parse(SIGNING).expect("a signing key");
    assert_eq!(signer.verifier().to_string(), VERIFIER);
    assert_eq!(signer.secret_text().as_str(), SIGNING);
    for broken in [
        VERIFIER,
        "PRIVATE+KEY+PeterNeumann+c74f20a3",
        "PRIVATE+KEY+PeterNeumann+c74f20a4+AYEKFALVFGyNhPJEMzD1QIDr+Y7hfZx09iUvxdXHKDFz",
        "PRIVATE+KEY+Another+c74f20a3+AYEKFALVFGyNhPJEMzD1QIDr+Y7hfZx09iUvxdXHKDFz",
        "PRIVATE+KEY+PeterNeumann+c74f20a3+AYEKFALVFGyNhPJEMzD1QA==",
    ] {
        let refused = NoteSigner::parse(broken).map(|_| ());
        assert_eq!(refused, Err(NoteError::SigningKey), "{broken}");
    }
}
