//! A lead's key: made, read, and used to sign one step.
//!
//! Leaves to others: the text that is signed (`rungwise_ledger::step`), the steps themselves.

use super::args::{KeyArgs, StepArgs};
use crate::Answer;
use crate::failure::Failure;
use crate::input;
use crate::screen::Screen;
use rungwise_api::name::hex;
use rungwise_api::v1::rule_pack_service_client::RulePackServiceClient;
use rungwise_ledger::note::NoteSigner;
use rungwise_ledger::step::{self, Step};
use std::fs::OpenOptions;
use std::io::Write as _;
use std::os::unix::fs::OpenOptionsExt as _;
use std::path::Path;
use tonic::transport::Channel;

/// Makes a key.
pub(super) fn make(args: &KeyArgs, screen: &mut Screen) -> Result<Answer, Failure> {
    let signer = NoteSigner::new(&args.name, &random()?).map_err(Failure::LeadName)?;
    let mut secret = signer.secret_text();
    secret.push('\n');
    let written = OpenOptions::new()
        .write(true)
        .create_new(true)
        .mode(0o600)
        .open(&args.file)
        .and_then(|mut file| file.write_all(secret.as_bytes()));
    written.map_err(|cause| Failure::Write {
        path: args.file.clone(),
        cause,
    })?;
    screen.line(&signer.verifier().to_string())?;
    Ok(Answer::Yes)
}

/// A step about to be taken.
pub(super) struct Lead<'a> {
    signer: NoteSigner,
    args: &'a StepArgs,
    /// Names this step alone.
    pub(super) request_id: String,
}

impl<'a> Lead<'a> {
    /// Reads the lead's key.
    pub(super) fn of(args: &'a StepArgs) -> Result<Self, Failure> {
        Ok(Self {
            signer: signer(&args.key)?,
            args,
            request_id: hex(&random::<16>()?),
        })
    }

    /// The signature line of this step.
    pub(super) fn sign(&self, clinic: &str, step: &Step<'_>) -> Result<String, Failure> {
        let text = step::text(clinic, &self.request_id, step, &self.args.why);
        let signed = text.and_then(|text| step::sign(&self.signer, &text));
        signed.map_err(|_| Failure::NotOneLine)
    }

    /// A connection to the server.
    pub(super) async fn connect(&self) -> Result<RulePackServiceClient<Channel>, Failure> {
        client(&self.args.at.server).await
    }
}

/// A connection to a server, for packs with their diaries.
pub(super) async fn client(server: &str) -> Result<RulePackServiceClient<Channel>, Failure> {
    let bytes_max = rungwise_server::limits::MESSAGE_BYTES_MAX;
    let channel = crate::serve::connect(server).await?;
    Ok(RulePackServiceClient::new(channel).max_decoding_message_size(bytes_max))
}

fn signer(path: &Path) -> Result<NoteSigner, Failure> {
    let text = input::text_of(path)?;
    NoteSigner::parse(text.trim_end()).map_err(|_| Failure::NotAKey {
        path: path.to_owned(),
    })
}

fn random<const N: usize>() -> Result<[u8; N], Failure> {
    let mut bytes = [0; N];
    getrandom::fill(&mut bytes).map_err(|cause| Failure::Random(cause.to_string()))?;
    Ok(bytes)
}
