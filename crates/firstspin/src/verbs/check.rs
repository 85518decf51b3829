//! `firstspin check`: findings over the whole bench, worst case included.

use crate::args::Format;
use crate::bench_choice::{self, Chosen};
use crate::env::Env;
use crate::failure::{Failure, Outcome};
use crate::text;
use bench::Bench;
use check::{Judgement, Summary};
use finding::words::count;
use finding::{Finding, Severity};
use serde_json::{Value, json};
use std::path::Path;

pub(super) fn run(
    named: Option<&Path>,
    format: Format,
    brief: bool,
    env: &mut Env,
) -> Result<Outcome, Failure> {
    let mut chosen = bench_choice::read(named, env)?;
    chosen.settle_ports();
    let judged = Judged::of(&chosen);
    judged.tell(&chosen, format, brief, env)?;
    Ok(judged.outcome())
}

/// A bench with what was found in its files and by the rules.
pub(super) struct Judged {
    /// Everything found, in the order in which to read it.
    pub(super) findings: Vec<Finding>,
    /// What the rules say; `None` where the files could not be used.
    pub(super) judgement: Option<Judgement>,
    /// The bench describes no axis and no servo, so that hardly anything can be asked.
    nothing_moves: bool,
}

impl Judged {
    pub(super) fn of(chosen: &Chosen) -> Self {
        let mut findings = chosen.loaded.checked.findings.clone();
        let judgement = chosen.loaded.checked.value.as_ref().and_then(|bench| {
            let checked = check::check(bench);
            findings.extend(checked.findings);
            checked.value
        });
        if judgement.is_some() {
            check::rank(&mut findings);
        }
        let still = |bench: &Bench| bench.axes().is_empty() && bench.servos().is_empty();
        let nothing_moves = chosen.loaded.checked.value.as_ref().is_some_and(still);
        Self { findings, judgement, nothing_moves }
    }

    pub(super) fn outcome(&self) -> Outcome {
        let open = |f: &Finding| f.severity == Severity::Blocker && f.accepted.is_none();
        match &self.judgement {
            None => Outcome::Unusable,
            Some(_) if self.findings.iter().any(open) => Outcome::Blocked,
            Some(_) => Outcome::Clear,
        }
    }

    pub(super) fn json(&self, chosen: &Chosen) -> Value {
        let sources = &chosen.loaded.sources;
        json!({
            "notice": chosen.notice(),
            "is_example": chosen.is_example,
            "bench": chosen.loaded.checked.value.as_ref().map(|b| b.name()),
            "usable": self.judgement.is_some(),
            "verdict": self.verdict(),
            "summary": self.judgement.as_ref().map(|j| &j.summary),
            "findings": self.findings.iter().map(|f| report::json::finding(f, sources)).collect::<Vec<_>>(),
            "cases": self.judgement.as_ref().map(|j| j.cases.iter().map(case).collect::<Vec<_>>()),
        })
    }

    /// Says all of it, in the form that is asked for.
    pub(super) fn tell(
        &self,
        chosen: &Chosen,
        format: Format,
        brief: bool,
        env: &mut Env,
    ) -> Result<(), Failure> {
        match format {
            Format::Json => Ok(writeln!(env.out, "{:#}", self.json(chosen))?),
            Format::Text => self.print(chosen, brief, env),
        }
    }

    fn print(&self, chosen: &Chosen, brief: bool, env: &mut Env) -> Result<(), Failure> {
        let (width, sources) = (env.width, &chosen.loaded.sources);
        if let Some(notice) = chosen.notice() {
            text::paragraph(&notice, width, &mut env.out)?;
            writeln!(env.out)?;
        }
        for finding in &self.findings {
            if brief {
                text::brief(finding, sources, width, env.terminal, &mut env.out)?;
            } else {
                text::finding(finding, sources, width, &mut env.out)?;
                writeln!(env.out)?;
            }
        }
        if let Some(bench) = &chosen.loaded.checked.value {
            text::paragraph(&bench.name(), width, &mut env.out)?;
        }
        for line in self.verdict() {
            text::paragraph(&line, width, &mut env.out)?;
        }
        Ok(())
    }

    /// The verdict, a sentence or two each: what comes out, what it rests on, what to measure next.
    pub(super) fn verdict(&self) -> Vec<String> {
        let Some(judgement) = &self.judgement else {
            let n = self.findings.len();
            return vec![format!("The files cannot be used: {}.", count(n, "problem", "problems"))];
        };
        let summary = &judgement.summary;
        let mut lines = vec![self.answer(), rests_on(summary)];
        if self.nothing_moves {
            lines.push(
                "The bench describes nothing that moves yet: with an axis or a servo there is more to ask."
                    .to_owned(),
            );
        }
        lines.extend(summary.corridors.iter().map(corridor));
        if let Some(next) = summary.measure_next.first() {
            lines.push(format!(
                "{} `{}` next ({}): it takes part in {} and weighs most there.",
                next.by.verb(),
                next.path,
                next.name,
                count(next.verdicts, "open verdict", "open verdicts")
            ));
        }
        lines.push(
            "This is no safety assessment: no program can see the bench. Follow local codes, the makers' instructions and qualified persons."
                .to_owned(),
        );
        lines
    }

    fn answer(&self) -> String {
        let open = |f: &&Finding| f.severity == Severity::Blocker && f.accepted.is_none();
        let blockers = self.findings.iter().filter(open).filter(|f| f.decided).count();
        let undecided = self.findings.iter().filter(open).filter(|f| !f.decided).count();
        match (blockers, undecided) {
            (0, 0) => "No blocker was found.".to_owned(),
            (0, n) => format!(
                "No blocker was found, but {} could hide one.",
                count(n, "undecided rule", "undecided rules")
            ),
            (n, 0) => format!("It does not fit together: {}.", count(n, "blocker", "blockers")),
            (n, m) => format!(
                "It does not fit together: {}, and {} could hide more.",
                count(n, "blocker", "blockers"),
                count(m, "undecided rule", "undecided rules")
            ),
        }
    }
}

/// Questions, of which several alike make one finding.
fn rests_on(s: &Summary) -> String {
    let open = s.blockers + s.weaknesses + s.notes;
    let blocking = if s.blockers > 0 { format!(" ({} of them block)", s.blockers) } else { String::new() };
    format!(
        "{} asked {}: {} hold over all tolerances, {open} do not{blocking}, {} are accepted, {} could not be decided. Like \
         questions make one finding.",
        count(s.rules, "rule", "rules"),
        count(s.cases, "question", "questions"),
        s.hold,
        s.accepted,
        s.undecided
    )
}

fn corridor(line: &check::CorridorLine) -> String {
    let ends = [&line.low_from, &line.high_from];
    let by: Vec<&str> = ends.iter().filter_map(|rule| rule.as_deref()).collect();
    let from = if by.is_empty() { String::new() } else { format!(" ({})", by.join(", ")) };
    match &line.range {
        Some(range) => format!(
            "Over all {} rules that it touches, `{}` can lie in {range}{from}; it is {} now.",
            line.rules, line.path, line.now
        ),
        None => {
            format!("No value of `{}` satisfies all {} rules that it touches{from}.", line.path, line.rules)
        }
    }
}

fn case(case: &check::Case) -> Value {
    let verdict = case.verdict.as_ref();
    let text = |si: fn(&worked::Verdict) -> f64| {
        let (claim, verdict) = (case.claim.as_ref()?, verdict?);
        si(verdict).is_finite().then(|| claim.value.text_of(si(verdict)))
    };
    json!({
        "rule": case.rule,
        "subject": case.subject,
        "standing": format!("{:?}", case.standing).to_lowercase(),
        "severity": case.severity,
        "harm": case.harm,
        "value_at_worst": text(|v| v.value_there),
        "limit_at_worst": text(|v| v.limit_there),
        "margin_at_worst": text(|v| v.worst_margin),
        "bounds": verdict.map(|v| if v.exact { "exact" } else { "enclosed" }),
    })
}
