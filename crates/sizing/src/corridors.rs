//! How far each setting of a motion may be turned: the range in which every question holds, each over all its other
//! tolerances.

use crate::question::Question;
use std::sync::Arc;
use worked::{Bounds, Claim, Input, corridor, format};

/// What one setting may be.
#[derive(Clone, Debug)]
pub struct Corridor {
    /// The setting.
    pub input: Arc<Input>,
    /// Lowest and highest value for which every question holds, SI; `None` where there is none.
    pub range: Option<(f64, f64)>,
    /// The question that fixes its lower end; `None` where that is the end of what can be set.
    pub low_from: Option<&'static str>,
    /// The question that fixes its upper end.
    pub high_from: Option<&'static str>,
    /// How many questions it takes part in.
    pub questions: usize,
}

/// The settings of the motion that questions take part in, in the order in which these meet them. None where a datum is missing:
/// what is not known holds nowhere, and no setting would seem to help.
pub(crate) fn of(questions: &[Question]) -> Vec<Corridor> {
    if questions.iter().any(|question| !question.missing.is_empty()) {
        return Vec::new();
    }
    let asked = questions.iter().filter(|q| q.bounds != Bounds::Sampled && !q.recommended);
    let asked: Vec<(&'static str, &Claim)> =
        asked.filter_map(|q| Some((q.id, q.judged.as_ref().map(|(claim, _)| claim)?))).collect();
    let claims: Vec<Claim> = asked.iter().map(|(_, claim)| (*claim).clone()).collect();
    let mut settings: Vec<Arc<Input>> = Vec::new();
    for input in claims.iter().flat_map(Claim::inputs) {
        let known = settings.iter().any(|known| known.path == input.path);
        if !known && input.setting.is_some() && input.path.starts_with("motions.") {
            settings.push(input);
        }
    }
    let each = |input: Arc<Input>| {
        let found = corridor(&claims, &input.path)?;
        let from = |end: Option<usize>| end.map(|index| asked[index].0);
        let (low_from, high_from) = (from(found.low_from), from(found.high_from));
        let questions = claims.iter().filter(|claim| claim.uses(&input.path)).count();
        Some(Corridor { input, range: found.range, low_from, high_from, questions })
    };
    settings.into_iter().filter_map(each).collect()
}

impl Corridor {
    /// In a sentence; nothing where no question limits it.
    pub(crate) fn said(&self) -> Option<String> {
        let input = &self.input;
        let ids: Vec<&str> = [self.low_from, self.high_from].into_iter().flatten().collect();
        let by = ids.first().map_or_else(String::new, |first| match ids.last() {
            Some(last) if last != first => format!(" ({first}, {last})"),
            _ => format!(" ({first})"),
        });
        let plain = |si: f64| format::plain(si, &input.unit);
        let now = input.value.map_or_else(String::new, |now| format!("; it is {} now", plain(now)));
        Some(match (self.range, self.low_from, self.high_from) {
            (None, ..) => format!("no value of `{}` alone lets all of them hold{by}", input.path),
            (Some(_), None, None) => return None,
            (Some((_, high)), None, Some(_)) => format!("`{}` up to {}{by}{now}", input.path, plain(high)),
            (Some((low, _)), Some(_), None) => format!("`{}` from {} on{by}{now}", input.path, plain(low)),
            (Some((low, high)), Some(_), Some(_)) => {
                format!("`{}` from {} to {}{by}{now}", input.path, plain(low), plain(high))
            }
        })
    }
}
