//! How a rule speaks: it hands in a claim or a fact with the words to say, and gets a case written.

use crate::rule::Rule;
use bench::Bench;
use finding::{Finding, Harm, Remedy, Severity, Span, Trust};
use std::sync::Arc;
use worked::{Claim, Deciding, Effort, Input, Origin, Outcome, Stand, Verdict, Worked};

/// How a rule ended for one subject.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Standing {
    /// Proven over all tolerances, or the fact is as it should be.
    Holds,
    /// It does not hold, at least at a corner.
    Fails,
    /// A datum is missing, or the bounds straddle the limit.
    Undecided,
}

/// One rule asked of one subject.
#[derive(Clone, Debug)]
pub struct Case {
    /// Id of the rule.
    pub rule: &'static str,
    /// What it was asked of: `axes.left`.
    pub subject: String,
    /// How it ended.
    pub standing: Standing,
    /// What a failure weighs.
    pub severity: Severity,
    /// Whom a failure harms.
    pub harm: Harm,
    /// The claim behind it; facts have none.
    pub claim: Option<Claim>,
    /// The verdict on the claim.
    pub verdict: Option<Verdict>,
    /// What is said where it does not hold or cannot be decided.
    pub finding: Option<Finding>,
}

/// Takes down what one rule says of a bench.
pub struct Ruling<'a> {
    rule: &'static Rule,
    bench: &'a Bench,
    cases: &'a mut Vec<Case>,
}

/// A case being put into words. Nothing is written until [`Draft::done`].
#[must_use = "a case counts only once `done` is called"]
pub struct Draft<'r, 'a> {
    ruling: &'r mut Ruling<'a>,
    subject: String,
    kind: Kind,
    severity: Severity,
    harm: Harm,
    message: String,
    at: Option<String>,
    related: Vec<(String, String)>,
    notes: Vec<String>,
    figures: Vec<Worked>,
    remedies: Vec<Remedy>,
}

enum Kind {
    Claim(Claim, Box<Verdict>),
    Fact(bool),
    Missing(Vec<String>),
}

impl<'a> Ruling<'a> {
    pub(crate) fn new(rule: &'static Rule, bench: &'a Bench, cases: &'a mut Vec<Case>) -> Self {
        Self { rule, bench, cases }
    }

    /// Judges a claim about a subject, such as `axes.left`. A weakness that harms function, unless said otherwise.
    pub fn judge<'r>(&'r mut self, subject: &str, claim: Claim) -> Draft<'r, 'a> {
        let verdict = Box::new(claim.judge());
        self.draft(subject, Kind::Claim(claim, verdict))
    }

    /// Takes down a fact that is as it should be (`holds`) or not.
    pub fn fact<'r>(&'r mut self, subject: &str, holds: bool) -> Draft<'r, 'a> {
        self.draft(subject, Kind::Fact(holds))
    }

    /// Says that the rule cannot be decided without these data, each named by its instance path.
    pub fn missing<'r>(&'r mut self, subject: &str, data: &[&str]) -> Draft<'r, 'a> {
        self.draft(subject, Kind::Missing(data.iter().map(|d| (*d).to_owned()).collect()))
    }

    fn draft<'r>(&'r mut self, subject: &str, kind: Kind) -> Draft<'r, 'a> {
        Draft {
            ruling: self,
            subject: subject.to_owned(),
            kind,
            severity: Severity::Weakness,
            harm: Harm::Function,
            message: String::new(),
            at: None,
            related: Vec::new(),
            notes: Vec::new(),
            figures: Vec::new(),
            remedies: Vec::new(),
        }
    }
}

impl Draft<'_, '_> {
    /// Whether something has to be said: words that are dear to work out are worth it only then.
    pub fn is_open(&self) -> bool {
        match &self.kind {
            Kind::Claim(_, verdict) => !verdict.holds(),
            Kind::Fact(holds) => !holds,
            Kind::Missing(_) => true,
        }
    }

    /// It can hurt, destroy, or will not work.
    pub fn blocker(mut self, harm: Harm) -> Self {
        (self.severity, self.harm) = (Severity::Blocker, harm);
        self
    }

    /// It works badly.
    pub fn weakness(mut self, harm: Harm) -> Self {
        (self.severity, self.harm) = (Severity::Weakness, harm);
        self
    }

    /// It is worth knowing.
    pub fn note(mut self, harm: Harm) -> Self {
        (self.severity, self.harm) = (Severity::Note, harm);
        self
    }

    /// What is said where it does not hold, in one sentence without a full stop. `{value}` and `{limit}` become
    /// both sides at the worst corner, `{nominal}` the nominal value, `{margin}` what is left there.
    pub fn says(mut self, message: impl Into<String>) -> Self {
        self.message = message.into();
        self
    }

    /// Instance path of the figure to mark: `axes.left.duty_limit`. Without it the deciding input is marked.
    pub fn at(mut self, path: impl Into<String>) -> Self {
        self.at = Some(path.into());
        self
    }

    /// Another line that explains it, by instance path.
    pub fn see(mut self, path: impl Into<String>, why: impl Into<String>) -> Self {
        self.related.push((path.into(), why.into()));
        self
    }

    /// A further sentence: why it matters, what happens then.
    pub fn because(mut self, note: impl Into<String>) -> Self {
        self.notes.push(note.into());
        self
    }

    /// A further worked number to show.
    pub fn with(mut self, figure: Worked) -> Self {
        self.figures.push(figure);
        self
    }

    /// Something to do that is no change of a setting. Settings are found by themselves.
    pub fn or_do(mut self, text: impl Into<String>) -> Self {
        self.remedies.push(Remedy { text: text.into(), edit: None, trust: Trust::Manual });
        self
    }

    /// Writes the case.
    pub fn done(self) {
        let Self { ruling, subject, kind, severity, harm, message, at, related, notes, figures, remedies } =
            self;
        let mut case = Case {
            rule: ruling.rule.id,
            subject: subject.clone(),
            standing: Standing::Holds,
            severity,
            harm,
            claim: None,
            verdict: None,
            finding: None,
        };
        let mut finding = Finding {
            id: ruling.rule.id.to_owned(),
            severity,
            harm,
            subject,
            message,
            at: at.as_deref().and_then(|path| ruling.bench.span_of(path)),
            related: Vec::new(),
            notes,
            figures: Vec::new(),
            remedies,
            accepted: None,
            decided: true,
        };
        for (path, why) in related {
            finding.related.extend(ruling.bench.span_of(&path).map(|span| (span, why)));
        }
        match kind {
            Kind::Fact(holds) => case.standing = if holds { Standing::Holds } else { Standing::Fails },
            Kind::Missing(paths) => {
                case.standing = Standing::Undecided;
                cannot_decide(&mut finding, &paths, ruling.bench);
            }
            Kind::Claim(claim, verdict) => {
                case.standing = speak(&mut finding, &claim, &verdict, ruling.bench);
                case.verdict = Some(*verdict);
                case.claim = Some(claim);
            }
        }
        if case.standing != Standing::Holds {
            finding.figures.extend(figures.iter().map(|f| f.figure(Effort::FirstOrder)));
            case.finding = Some(finding);
        }
        ruling.cases.push(case);
    }
}

/// Puts a verdict into words.
fn speak(finding: &mut Finding, claim: &Claim, verdict: &Verdict, bench: &Bench) -> Standing {
    match &verdict.outcome {
        Outcome::Always => return Standing::Holds,
        Outcome::Missing(inputs) => {
            let paths: Vec<String> = inputs.iter().map(|i| i.path.to_string()).collect();
            cannot_decide(finding, &paths, bench);
            return Standing::Undecided;
        }
        Outcome::Undefined(formula) => {
            finding.decided = false;
            finding.message = format!(
                "cannot be decided: `{formula}` has no value for some of the tolerances; narrow them or check the figures"
            );
            return Standing::Undecided;
        }
        Outcome::Broken(fault) => {
            finding.decided = false;
            finding.message = format!(
                "cannot be decided for a mistake in this program: {} ({})",
                fault.message, fault.place
            );
            return Standing::Undecided;
        }
        Outcome::NotEverywhere | Outcome::NotAsStated | Outcome::Never | Outcome::Unproven => {}
    }
    finding.message = filled(&finding.message, claim, verdict);
    if finding.at.is_none() {
        finding.at = verdict.deciding.iter().find_map(|d| bench.span_of(&d.input.path));
    }
    if let Some(note) = corner_note(verdict) {
        finding.notes.push(note);
    }
    finding.figures.push(claim.value.figure(Effort::FirstOrder));
    finding.figures.push(claim.limit.figure(Effort::FirstOrder));
    if verdict.outcome == Outcome::Unproven {
        finding.decided = false;
        finding.message = format!("cannot be proven: {}", finding.message);
        return Standing::Undecided;
    }
    let sensible = claim.changes().into_iter().filter(within_reach);
    let found: Vec<Remedy> = sensible.map(|change| setting_remedy(&change, bench)).collect();
    finding.remedies.splice(0..0, found);
    Standing::Fails
}

fn filled(message: &str, claim: &Claim, verdict: &Verdict) -> String {
    message
        .replace("{value}", &claim.value.text_of(verdict.value_there))
        .replace("{limit}", &claim.value.text_of(verdict.limit_there))
        .replace("{nominal}", &claim.value.text())
        .replace("{margin}", &worked::format::difference(verdict.worst_margin, &claim.value.unit(), None))
}

/// `worst where the supply is high (24.0 → 25.2 V), which decides 80 % of it, and …`
fn corner_note(verdict: &Verdict) -> Option<String> {
    let parts: Vec<String> = verdict.deciding.iter().take(3).map(deciding_words).collect();
    let lead = match (&verdict.outcome, verdict.exact) {
        (Outcome::NotEverywhere, _) => "the nominal values fit; it fails at the corner where",
        (_, true) => "worst at the corner where",
        (_, false) => "worst met where",
    };
    (!parts.is_empty()).then(|| format!("{lead} {}", parts.join("; ")))
}

fn deciding_words(deciding: &Deciding) -> String {
    let input = &deciding.input;
    let stand = match deciding.stand {
        Stand::Low => "low",
        Stand::High => "high",
        Stand::Inside => "between its limits",
    };
    let value = Worked::from(Input::clone(input)).text_of(deciding.value);
    format!("{} ({}) is {stand}, {value}: {:.0} %", input.name, input.path, 100.0 * deciding.share)
}

/// Whether anybody would turn a setting that far: no setting tenfold, and no cable is made longer as a resistor.
fn within_reach(change: &worked::Change) -> bool {
    let from = change.input.value.unwrap_or(change.to).abs();
    let to = change.to.abs();
    let longer_cable = change.input.path.starts_with("cables.") && to > from;
    !longer_cable && to <= 10.0 * from && 10.0 * to >= from
}

fn setting_remedy(change: &worked::Change, bench: &Bench) -> Remedy {
    let input = &change.input;
    let from = Worked::from(Input::clone(input)).text();
    let to = change.to_text();
    let edit = bench.span_of(&input.path).and_then(|span| rewritten(&span, input, &to, bench));
    let text = match (&input.origin, input.path.rsplit_once('.')) {
        // A setting that the bench does not declare yet has no line to change.
        (Origin::Assumed(_) | Origin::CommonPractice(_), Some((table, key))) => {
            format!("declare `{key} = {}` for {table}", quoted(&to))
        }
        _ => format!("{} the {} ({}) from {from} to {to}", change.verb(), input.name, input.path),
    };
    Remedy { text, edit, trust: Trust::Ask }
}

/// A value as it stands in a file: plain numbers bare, quantities in quotes.
fn quoted(value: &str) -> String {
    if value.parse::<f64>().is_ok() { value.to_owned() } else { format!("\"{value}\"") }
}

/// The edit that puts a new value into the file and leaves the tolerance as it is written.
fn rewritten(span: &Span, input: &Arc<Input>, to: &str, bench: &Bench) -> Option<finding::Edit> {
    let text = bench.sources().text(&span.file)?.get(span.start..span.end)?;
    let inner = text.strip_prefix('"')?.strip_suffix('"')?;
    if *inner != *input.written {
        return None;
    }
    let rest = inner.find(['±', '+']).map_or("", |at| &inner[at..]);
    let joint = if rest.is_empty() { "" } else { " " };
    Some(finding::Edit { span: span.clone(), text: format!("\"{to}{joint}{rest}\"") })
}

fn cannot_decide(finding: &mut Finding, paths: &[String], bench: &Bench) {
    finding.decided = false;
    let mut paths: Vec<&String> = paths.iter().collect();
    paths.dedup_by_key(|path| place_of(path, bench));
    let places: Vec<String> = paths.iter().map(|path| place_of(path, bench)).collect();
    finding.message = format!("cannot be decided without {}", places.join(", "));
    finding.remedies.clear();
    for (path, place) in paths.iter().zip(&places) {
        finding.remedies.push(encoder_cable(path, bench).unwrap_or_else(|| Remedy {
            text: format!("give {place}"),
            edit: None,
            trust: Trust::Manual,
        }));
    }
}

/// How to describe the cable to an encoder, where the bench has none: a table that can be pasted as it is.
fn encoder_cable(path: &str, bench: &Bench) -> Option<Remedy> {
    let axis = bench.axes().iter().find(|axis| path == format!("cables.{}-encoder", axis.name))?;
    let from = match &axis.encoder_at {
        Some((board, channel)) => format!("{}.{channel}", board.name),
        None => "controller".to_owned(),
    };
    // A name that takes quotation marks is left to its owner.
    let bare = |c: char| c.is_ascii_alphanumeric() || "-_.".contains(c);
    if !(path.chars().all(bare) && from.chars().all(bare)) {
        return None;
    }
    let to = format!("{}.encoder", axis.name);
    let file = bench.file().span().file;
    let end = bench.sources().text(&file)?.len();
    let text = format!(
        "\n[{path}]\npart = \"builtin:cable-4x0.14\"\nfrom = \"{from}\"\nto = \"{to}\"\nlength = \"0.6 m\"\n"
    );
    Some(Remedy {
        text: format!("describe the cable that goes from `{from}` to `{to}`, in a table of its own"),
        edit: Some(finding::Edit { span: Span { file, start: end, end }, text }),
        trust: Trust::Ask,
    })
}

/// A datum and where it goes: `` `resistance` (axes.left.motor) in parts/motor-24.toml ``.
fn place_of(path: &str, bench: &Bench) -> String {
    // Both ends of a window are given by one key: `ambient = "8 .. 35 °C"`.
    let path = path.strip_suffix(".low").or(path.strip_suffix(".high")).unwrap_or(path);
    if encoder_cable(path, bench).is_some() {
        return format!("a table `[{path}]`, the cable to that encoder");
    }
    let Some((home, key)) = bench.home_of(path).filter(|(_, key)| !key.is_empty()) else {
        return format!("`{path}`");
    };
    let device = path.strip_suffix(&key).map_or("", |p| p.trim_end_matches('.'));
    let table = if home.table.is_empty() { String::new() } else { format!(", table `{}`", home.table) };
    let of = if device.is_empty() { String::new() } else { format!(" of {device}") };
    format!("`{key}`{of} ({}{table})", home.span.file)
}
