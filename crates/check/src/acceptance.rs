//! Weaknesses that the owner of the bench takes on knowingly, by name and with a reason.
//!
//! A blocker, or anything that harms people, cannot be accepted. An acceptance with a worst value is void once
//! the value gets worse, and one that fits no finding is pointed out: it may hide a spelling slip.

use crate::ruling::{Case, Standing};
use bench::Bench;
use bench::file::Accepted;
use finding::{Finding, Harm, Remedy, Severity, Trust};
use worked::{Quantity, Side};

/// Id of the finding about an acceptance that is not possible.
pub const REFUSED: &str = "acceptance-refused";
/// Id of the finding about an acceptance whose value got worse.
pub const VOID: &str = "acceptance-void";
/// Id of the finding about an acceptance that fits nothing.
pub const UNUSED: &str = "acceptance-unused";

/// Pages of the three, as `explain` prints them.
pub(crate) const PAGES: [(&str, &str); 3] = [
    (REFUSED, include_str!("acceptance-refused.md")),
    (VOID, include_str!("acceptance-void.md")),
    (UNUSED, include_str!("acceptance-unused.md")),
];

/// Marks the findings that are accepted and says what is wrong with acceptances.
pub(crate) fn apply(bench: &Bench, cases: &mut [Case]) -> Vec<Finding> {
    let mut about = Vec::new();
    for accepted in bench.accepted() {
        let Some(id) = accepted.finding() else { continue };
        let place = accepted.r#where();
        let fits = |case: &Case| {
            case.rule == &*id
                && place.as_ref().is_none_or(|p| case.subject == **p)
                && case.standing == Standing::Fails
        };
        let mut used = false;
        for case in cases.iter_mut().filter(|c| fits(c)) {
            used = true;
            about.extend(accept(bench, &accepted, case));
        }
        if !used {
            about.push(remark(
                UNUSED,
                bench,
                &accepted,
                format!("`{}` is accepted, but nothing of that id is found there", id),
                "remove the entry, or correct `finding` and `where`",
            ));
        }
    }
    about
}

fn accept(bench: &Bench, accepted: &Accepted, case: &mut Case) -> Option<Finding> {
    let finding = case.finding.as_mut()?;
    if case.severity == Severity::Blocker || case.harm == Harm::People {
        let why = if case.harm == Harm::People { "it can harm people" } else { "it is a blocker" };
        return Some(remark(
            REFUSED,
            bench,
            accepted,
            format!("`{}` at {} cannot be accepted: {why}", case.rule, case.subject),
            "change the bench instead; see the finding",
        ));
    }
    if let (Some(up_to), Some(claim), Some(verdict)) = (accepted.up_to(), &case.claim, &case.verdict) {
        let worst = verdict.value_there;
        let (said, beyond) = match Quantity::parse(up_to, claim.value.dimension()) {
            Ok(quantity) => {
                let limit = quantity.nominal.or(quantity.high).unwrap_or(f64::NAN);
                let slack = 1e-9 * limit.abs();
                let beyond = match claim.side {
                    Side::Below => worst > limit + slack,
                    Side::Above => worst < limit - slack,
                };
                (claim.value.text_of(worst), beyond || limit.is_nan())
            }
            Err(error) => (error.message, true),
        };
        if beyond {
            return Some(remark(
                VOID,
                bench,
                accepted,
                format!(
                    "the acceptance of `{}` at {} is void: accepted up to {}, now {said}",
                    case.rule, case.subject, up_to
                ),
                "look at it again, then accept the new value or change the bench",
            ));
        }
    }
    let by = accepted.by().map(|b| format!(", by {b}")).unwrap_or_default();
    finding.accepted = Some(format!("{}{by}", accepted.reason().unwrap_or("no reason given")));
    None
}

fn remark(id: &str, bench: &Bench, accepted: &Accepted, message: String, remedy: &str) -> Finding {
    Finding {
        id: id.to_owned(),
        severity: Severity::Note,
        harm: Harm::Function,
        subject: "accepted".to_owned(),
        message,
        at: bench.span_of(&format!("{}.finding", accepted.path())),
        related: Vec::new(),
        notes: Vec::new(),
        figures: Vec::new(),
        remedies: vec![Remedy { text: remedy.to_owned(), edit: None, trust: Trust::Manual }],
        accepted: None,
        decided: true,
    }
}
