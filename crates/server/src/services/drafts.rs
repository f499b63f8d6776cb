//! Drafts of packs: checked from every side, and compared with what is kept. Nothing is written.
//!
//! Leaves to others: what is found (`rungwise-pack`, `rungwise-rehearsal`), proposing (`super::proposals`).

use crate::clinic::{Clinic, KeptPack};
use crate::limits::{DIFFERENCES_MAX, DRAFT_BYTES_MAX};
use crate::refusal::Refusal;
use crate::service::{Service, clinic_field, name_refusal};
use rungwise_api::name::{hex, pack_from_name, pack_name, proposal_from_name};
use rungwise_api::to_wire::outcome_to_wire;
use rungwise_api::v1::{self, Reason};
use rungwise_pack::compare::{Change, Effect};
use rungwise_pack::diagnostic::{Diagnostic, Severity};
use rungwise_pack::model::CheckedPack;
use rungwise_pack::source::{FILES_MAX, SourceFiles};
use rungwise_rehearsal::readiness::{Readiness, Rehearsed, readiness};
use rungwise_rehearsal::versions::{Bolder, compared};
use std::sync::Arc;

impl Service {
    /// Does what takes long away from the calls that do not, one at a time.
    async fn apart<T: Send + 'static>(
        &self,
        work: impl FnOnce() -> T + Send + 'static,
    ) -> Result<T, Refusal> {
        let permit = self.checks.clone().try_acquire_owned();
        let permit = permit.map_err(|_| Refusal::Busy(Reason::TooManyChecks))?;
        let done = tokio::task::spawn_blocking(move || {
            let done = work();
            drop(permit);
            done
        });
        done.await
            .map_err(|error| Refusal::Fault(error.to_string()))
    }

    /// What is found of a draft.
    pub(super) async fn readiness(&self, files: SourceFiles) -> Result<Readiness, Refusal> {
        self.apart(move || readiness(&files)).await
    }

    pub(super) async fn check_pack(
        &self,
        given: &v1::CheckPackRequest,
    ) -> Result<v1::CheckPackResponse, Refusal> {
        let clinic = self.clinic(&clinic_field("parent", &given.parent)?)?;
        let _entered = clinic.enter()?;
        let found = self
            .readiness(draft("draft", given.draft.as_ref())?)
            .await?;
        let pack = found.pack.as_ref();
        let told = |text: Option<String>| text.unwrap_or_default();
        Ok(v1::CheckPackResponse {
            ready: found.is_ready(),
            id: told(pack.map(|pack| pack.id.to_string())),
            version: told(pack.map(|pack| pack.version.to_string())),
            name: told(pack.map(|pack| pack_name(clinic.id.as_str(), &pack.digest))),
            findings: found.findings.iter().map(finding_to_wire).collect(),
            diaries: found.diaries.iter().map(diary_to_wire).collect(),
        })
    }

    pub(super) async fn compare_packs(
        &self,
        given: &v1::ComparePacksRequest,
    ) -> Result<v1::ComparePacksResponse, Refusal> {
        let clinic = self.clinic(&clinic_field("parent", &given.parent)?)?;
        let _entered = clinic.enter()?;
        let newer = draft_of(self, &clinic, given.draft.as_ref(), &given.newer)?;
        let older = self.older(&clinic, given, &newer.pack)?;
        let older_name = pack_name(clinic.id.as_str(), &older.pack.digest);
        let compared = move || {
            let (older, newer) = ((&older.pack, &older.files), (&newer.pack, &newer.files));
            compared(older, newer)
        };
        let (comparison, searched) = self.apart(compared).await?;
        Ok(v1::ComparePacksResponse {
            older: older_name,
            changes: comparison.changes.iter().map(change_to_wire).collect(),
            never_bolder: comparison.is_never_bolder(),
            bolder: searched.bolder.as_ref().map(bolder_to_wire),
            courses: u32::try_from(searched.courses).unwrap_or(u32::MAX),
        })
    }

    fn older(
        &self,
        clinic: &Clinic,
        given: &v1::ComparePacksRequest,
        newer: &CheckedPack,
    ) -> Result<Arc<KeptPack>, Refusal> {
        if !given.older.is_empty() {
            return self.kept("older", clinic, &given.older);
        }
        let in_force = clinic.for_new(&newer.id, self.clock.today());
        in_force.ok_or_else(|| no_pack(&pack_of_id(clinic, &newer.id)))
    }

    /// The pack kept under a pack's or a proposal's name.
    pub(super) fn kept(
        &self,
        field: &str,
        clinic: &Clinic,
        name: &str,
    ) -> Result<Arc<KeptPack>, Refusal> {
        let own = clinic.id.as_str();
        if let Some((of, position)) = proposal_from_name(name).filter(|(of, _)| of == own) {
            let found = clinic.in_stream(|stream| {
                let proposal = stream.proposals.get(&position)?;
                Some(proposal.pack.clone())
            });
            return found.ok_or_else(|| super::proposals::no_proposal(&of, position));
        }
        let Some((_, wanted)) = pack_from_name(name).filter(|(of, _)| of == own) else {
            let pattern = format!("clinics/{own}/packs/{{digest or id}}");
            return Err(name_refusal(field, name, &pattern));
        };
        let packs = clinic.packs(self.clock.today());
        let found = packs.into_iter().find(|(kept, is_in_force)| {
            hex(&kept.pack.digest) == wanted || (*is_in_force && *kept.pack.id == *wanted)
        });
        found.map(|(kept, _)| kept).ok_or_else(|| no_pack(name))
    }
}

/// The pack of a request that gives a draft or names one kept.
pub(super) fn draft_of(
    service: &Service,
    clinic: &Clinic,
    given: Option<&v1::PackDraft>,
    newer: &str,
) -> Result<Arc<KeptPack>, Refusal> {
    match (given, newer) {
        (Some(_), "") => {
            let files = draft("draft", given)?;
            let checked = rungwise_pack::check(&files);
            let pack = checked
                .pack
                .ok_or_else(|| not_ready("draft", &checked.diagnostics, &[]))?;
            Ok(Arc::new(KeptPack {
                pack,
                files,
                recorded_at_ms: 0,
            }))
        }
        (None, name) if !name.is_empty() => service.kept("newer", clinic, name),
        _ => Err(one_of("draft", "newer")),
    }
}

fn pack_of_id(clinic: &Clinic, id: &str) -> String {
    format!("clinics/{}/packs/{id}", clinic.id)
}

fn no_pack(name: &str) -> Refusal {
    Refusal::NotFound {
        reason: Reason::PackNotFound,
        kind: "pack",
        name: name.to_owned(),
    }
}

/// Refuses a request that gives both of two fields, or neither.
pub(super) fn one_of(one: &str, other: &str) -> Refusal {
    let wrong = format!("this and `{other}` are both given, or neither is");
    let right = format!("give `{one}` or `{other}`");
    Refusal::field(one, Reason::FieldMissing, wrong, right)
}

/// The files of a draft.
pub(super) fn draft(field: &str, given: Option<&v1::PackDraft>) -> Result<SourceFiles, Refusal> {
    let path = format!("{field}.files");
    let files = given
        .map(|draft| draft.files.as_slice())
        .unwrap_or_default();
    if files.is_empty() {
        let right = "give the pack's files";
        return Err(Refusal::field(
            &path,
            Reason::FieldMissing,
            "it is required",
            right,
        ));
    }
    if files.len() > FILES_MAX {
        let wrong = format!("{} files are too many", files.len());
        let right = format!("at most {FILES_MAX}");
        return Err(Refusal::field(&path, Reason::TooMany, wrong, right));
    }
    let bytes: usize = files
        .iter()
        .map(|file| file.path.len().saturating_add(file.text.len()))
        .fold(0, usize::saturating_add);
    if bytes > DRAFT_BYTES_MAX {
        let wrong = format!("{bytes} bytes are too many");
        let right = format!("at most {DRAFT_BYTES_MAX} bytes of names and texts together");
        return Err(Refusal::field(&path, Reason::TextTooLong, wrong, right));
    }
    let files = files
        .iter()
        .map(|file| (file.path.clone(), file.text.clone()));
    Ok(SourceFiles::new(files.collect()))
}

/// Refuses a draft that may not come into force, with what keeps it from that.
pub(super) fn not_ready(field: &str, findings: &[Diagnostic], diaries: &[Rehearsed]) -> Refusal {
    let path = |file: &str| format!("{field}.files[{file}]");
    let right = "CheckPack says everything that was found";
    let errors = findings
        .iter()
        .filter(|one| one.severity == Severity::Error);
    let errors = errors.map(|one| {
        let (line, column, code) = (one.line, one.column, one.code.id());
        let wrong = format!("{line}:{column}: {code}: {}", one.message);
        (path(&one.file), wrong)
    });
    let differing = diaries.iter().flat_map(|diary| {
        let file = path(&diary.file);
        let differences = diary.differences.iter();
        differences.map(move |one| (file.clone(), one.clone()))
    });
    let mut wrong: Vec<(String, String)> = errors.chain(differing).take(DIFFERENCES_MAX).collect();
    if wrong.is_empty() {
        wrong.push((
            format!("{field}.files"),
            "no diary is among them".to_owned(),
        ));
    }
    let violation = |(path, wrong): (String, String)| {
        rungwise_api::Violation::new(path, Reason::PackNotReady, wrong, right)
    };
    Refusal::Fields(wrong.into_iter().map(violation).collect())
}

fn finding_to_wire(found: &Diagnostic) -> v1::PackFinding {
    let severity = match found.severity {
        Severity::Error => v1::Severity::Error,
        Severity::Warning => v1::Severity::Warning,
    };
    let count = |number: usize| u32::try_from(number).unwrap_or(u32::MAX);
    v1::PackFinding {
        code: found.code.id().to_owned(),
        severity: severity.into(),
        message: found.message.clone(),
        path: found.file.clone(),
        line: count(found.line),
        column: count(found.column),
        label: found.label.clone(),
        help: found.help.clone().unwrap_or_default(),
    }
}

fn diary_to_wire(played: &Rehearsed) -> v1::DiaryPlayed {
    let differences = played.differences.iter().take(DIFFERENCES_MAX);
    v1::DiaryPlayed {
        path: played.file.clone(),
        decisions: u32::try_from(played.decisions).unwrap_or(u32::MAX),
        agrees: played.differences.is_empty(),
        differences: differences.cloned().collect(),
    }
}

fn change_to_wire(change: &Change) -> v1::PackChange {
    let effect = match change.effect {
        Effect::Loosens => v1::ChangeEffect::Loosens,
        Effect::Unclear => v1::ChangeEffect::Unclear,
        Effect::Tightens => v1::ChangeEffect::Tightens,
        Effect::Neither => v1::ChangeEffect::Neither,
    };
    v1::PackChange {
        effect: effect.into(),
        of: change.of.clone(),
        before: change.before.clone().unwrap_or_default(),
        after: change.after.clone().unwrap_or_default(),
    }
}

fn bolder_to_wire(found: &Bolder) -> v1::BolderCourse {
    v1::BolderCourse {
        course: found.course.clone(),
        diary: found.diary.clone().unwrap_or_default(),
        date: found.date.to_string(),
        older: outcome_to_wire(found.old).into(),
        newer: outcome_to_wire(found.new).into(),
        why: found.why.clone(),
    }
}
