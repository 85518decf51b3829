//! Which figure does not fit, and what was probably meant.

use super::Sheet;
use super::kind::Kind;
use super::model::{self, Fitted, Hypothesis};
use super::slip::{self, Slip};

/// What does not fit in a sheet.
#[derive(Clone, PartialEq, Debug)]
pub struct Misfit {
    /// Index of the figure that the others contradict most.
    pub figure: usize,
    /// What the other figures make of it, SI; NaN where they say nothing about it.
    pub expected: f64,
    /// By how many standard deviations it misses them.
    pub deviations: f64,
    /// The fit heals once that figure is left out; otherwise more than one is wrong.
    pub alone: bool,
    /// Other figures whose leaving out heals the fit as well.
    pub or: Vec<usize>,
    /// Slips that explain it, the best first; those that follow explain it equally well.
    pub slips: Vec<Slip>,
}

/// Readings whose sums of squares differ by less than this cannot be told apart (two standard deviations).
const ALIKE: f64 = 4.0;
/// A reading explains a sheet where it fits within this of the fit without the figure (three standard deviations).
const EXPLAINS: f64 = 9.0;

/// Finds what does not fit; `None` where the sheet agrees with itself.
pub(super) fn misfit(sheet: &Sheet, fit: &Fitted) -> Option<Misfit> {
    if !fit.is_suspicious() || model::is_feasible(sheet, &Hypothesis::default()) {
        return None;
    }
    let without = |i: usize| {
        let hypothesis = Hypothesis { without: Some(i), ..Hypothesis::default() };
        model::fit(sheet, &hypothesis).map(|rest| Without {
            figure: i,
            heals: heals(sheet, &rest, &hypothesis),
            rest,
        })
    };
    let checked = (0..sheet.figures.len()).filter(|i| fit.standardised(*i).is_some());
    let mut left: Vec<Without> = checked.filter_map(without).collect();
    left.sort_by(|a, b| {
        (!a.heals, a.rest.chi_square())
            .partial_cmp(&(!b.heals, b.rest.chi_square()))
            .unwrap_or(std::cmp::Ordering::Equal)
    });
    let first = left.first()?;
    let least = first.rest.chi_square();
    let equal: Vec<&Without> =
        left.iter().filter(|w| first.heals && w.heals && w.rest.chi_square() < least + ALIKE).collect();
    let slips = slips(sheet, &equal, first);
    // Of figures that could equally be wrong, the one that a known slip explains.
    let named = slips.first().and_then(|s| s.figure);
    let blamed = equal.iter().copied().find(|w| Some(w.figure) == named).unwrap_or(first);
    Some(Misfit {
        figure: blamed.figure,
        expected: blamed.rest.expected(sheet, blamed.figure),
        deviations: (fit.chi_square() - blamed.rest.chi_square()).max(0.0).sqrt(),
        alone: blamed.heals,
        or: equal.iter().map(|w| w.figure).filter(|i| *i != blamed.figure).collect(),
        slips,
    })
}

struct Without {
    figure: usize,
    rest: Fitted,
    heals: bool,
}

fn heals(sheet: &Sheet, rest: &Fitted, hypothesis: &Hypothesis) -> bool {
    !rest.is_suspicious() || model::is_feasible(sheet, hypothesis)
}

/// Slips that fit nearly as well as leaving the figure out, the best and its equals.
fn slips(sheet: &Sheet, suspects: &[&Without], first: &Without) -> Vec<Slip> {
    let mut found: Vec<Slip> = Vec::new();
    for suspect in suspects {
        for (reading, hypothesis) in
            slip::of_figure(sheet, suspect.figure, suspect.rest.expected(sheet, suspect.figure))
        {
            let Some(fit) = model::fit(sheet, &hypothesis) else { continue };
            let chi_square = fit.chi_square();
            if chi_square < suspect.rest.chi_square() + EXPLAINS {
                found.push(Slip { figure: Some(suspect.figure), reading, chi_square });
            }
        }
    }
    let suspected: Vec<Kind> = suspects.iter().map(|s| sheet.figures[s.figure].kind).collect();
    for (reading, hypothesis) in slip::of_several(sheet) {
        // Where one figure alone heals the sheet, a slip of several has to concern that one.
        if first.heals && !slip::concerns(&reading, &suspected) {
            continue;
        }
        let Some(fit) = model::fit(sheet, &hypothesis) else { continue };
        let bar = if first.heals { first.rest.chi_square() + EXPLAINS } else { f64::INFINITY };
        if fit.chi_square() < bar && !fit.is_suspicious() {
            found.push(Slip { figure: None, reading, chi_square: fit.chi_square() });
        }
    }
    let best = found.iter().map(|s| s.chi_square).fold(f64::INFINITY, f64::min);
    found.retain(|s| s.chi_square < best + ALIKE);
    found.sort_by(|a, b| a.chi_square.total_cmp(&b.chi_square));
    found
}
